//! The square code on a label: an extra for a scanner, never the only key.
//!
//! QR Code (ISO/IEC 18004), with a quiet zone of four modules as the standard asks for.

use super::super::print::{Ink, Mark, Outline, POINTS_PER_MM, Run, Squares};
use qrcode::types::Color;
use qrcode::{EcLevel, QrCode, Version};

/// The smallest module that a common printer and a phone get right, in millimetres; from memory, no source.
const LEAST_MODULE_MM: f32 = 0.3;

/// Modules of the blank edge on each side.
const QUIET: usize = 4;

/// Modules along a side of the smallest code with its blank edge; an ear code fits it.
const SMALLEST_SIDE: usize = 21 + 2 * QUIET;

/// Side in points of the smallest square that is drawn, its blank edge included.
pub(super) fn least_side() -> f32 {
    SMALLEST_SIDE as f32 * LEAST_MODULE_MM * POINTS_PER_MM
}

/// Draws a text as a square code of `side` points with its blank edge; none where its modules would be too small.
pub(super) fn mark(text: &str, at: (f32, f32), side: f32) -> Option<Mark> {
    let levels = [EcLevel::Q, EcLevel::M, EcLevel::L];
    // The smallest code, which holds every ear code, at the level that stands the most damage.
    let smallest = levels
        .iter()
        .find_map(|level| QrCode::with_version(text, Version::Normal(1), *level).ok());
    let code = smallest.or_else(|| QrCode::new(text).ok())?;
    let width = code.width();
    let module = side / (width + 2 * QUIET) as f32;
    if module < LEAST_MODULE_MM * POINTS_PER_MM * 0.999 {
        return None;
    }
    let mut runs = Vec::new();
    for (row, modules) in code.to_colors().chunks(width).enumerate() {
        let mut column = 0;
        for stretch in modules.chunk_by(|one, next| one == next) {
            let length = stretch.len();
            if stretch.first() == Some(&Color::Dark) {
                runs.push(Run {
                    row: row as u16,
                    column: column as u16,
                    length: length as u16,
                });
            }
            column += length;
        }
    }
    let quiet = QUIET as f32 * module;
    Some(Mark::Form {
        outline: Outline::Squares(Squares {
            at: (at.0 + quiet, at.1 + quiet),
            side: module,
            runs,
        }),
        fill: Some(Ink::Black),
        edge: None,
    })
}

//! The square code on a label: an extra for a scanner, never the only key.
//!
//! QR Code (ISO/IEC 18004), with a quiet zone of four modules as the standard asks for.

use super::super::print::{Ink, Mark, Outline, POINTS_PER_MM};
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
    let mut boxes = Vec::new();
    for (row, modules) in code.to_colors().chunks(width).enumerate() {
        let top = at.1 + (QUIET + row) as f32 * module;
        let mut column = QUIET;
        for stretch in modules.chunk_by(|one, next| one == next) {
            let length = stretch.len();
            if stretch.first() == Some(&Color::Dark) {
                let left = at.0 + column as f32 * module;
                boxes.push(((left, top), (length as f32 * module, module)));
            }
            column += length;
        }
    }
    Some(Mark::Form {
        outline: Outline::Boxes(boxes),
        fill: Some(Ink::Black),
        edge: None,
    })
}

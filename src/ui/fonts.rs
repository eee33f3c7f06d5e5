//! The fonts of the window: one text face in two weights, whose figures are all equally wide, and one face for signs.

use std::sync::Arc;

use egui::{FontData, FontDefinitions, FontFamily};

/// Name of the family in which bold text is set.
pub const BOLD: &str = "bold";

/// The text face, for those who set type elsewhere (prints).
pub const TEXT_TTF: &[u8] = include_bytes!("../../assets/fonts/NotoSans-Regular.ttf");
/// The bold text face.
pub const BOLD_TTF: &[u8] = include_bytes!("../../assets/fonts/NotoSans-Bold.ttf");
/// The face that has arrows, ticks and geometric shapes.
pub const SYMBOL_TTF: &[u8] = include_bytes!("../../assets/fonts/DejaVuSans.ttf");

/// The family in which bold text is set.
#[must_use]
pub fn bold() -> FontFamily {
    FontFamily::Name(BOLD.into())
}

/// Installs the fonts; call it before the first frame, or widgets keep a width measured without them.
pub fn install(ctx: &egui::Context) {
    ctx.set_fonts(definitions());
}

fn definitions() -> FontDefinitions {
    let mut fonts = FontDefinitions::empty();
    for (name, bytes) in [
        ("text", TEXT_TTF),
        ("text bold", BOLD_TTF),
        ("symbols", SYMBOL_TTF),
    ] {
        fonts
            .font_data
            .insert(name.to_owned(), Arc::new(FontData::from_static(bytes)));
    }
    let family = |first: &str| vec![first.to_owned(), "symbols".to_owned()];
    fonts.families.insert(FontFamily::Proportional, family("text"));
    fonts.families.insert(FontFamily::Monospace, family("text"));
    fonts.families.insert(bold(), family("text bold"));
    fonts
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::FontId;

    #[test]
    fn every_sign_we_draw_has_a_glyph_and_figures_are_equally_wide() {
        let ctx = egui::Context::default();
        install(&ctx);
        ctx.run_ui(egui::RawInput::default(), |_| {})
            .drop_without_applying_deltas();
        ctx.fonts_mut(|fonts| {
            for family in [FontFamily::Proportional, FontFamily::Monospace, bold()] {
                let font = FontId::new(15.0, family);
                assert!(fonts.has_glyphs(&font, "→←↑↓✓✗■▲▼●○◆⚠ℹ☰⋮·•…—–≥≤±×²√°½µ"));
                let zero = fonts.glyph_width(&font, '0');
                for digit in '1'..='9' {
                    let width = fonts.glyph_width(&font, digit);
                    assert!(
                        (width - zero).abs() < 1e-3,
                        "{digit} is {width} wide, 0 is {zero}"
                    );
                }
            }
        });
    }
}

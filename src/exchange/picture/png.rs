//! A picture as PNG, drawn from its SVG by a general library with the fonts of the program.

use std::sync::Arc;

use resvg::tiny_skia::{Pixmap, Transform};
use resvg::usvg::{Options, Tree, fontdb};

use super::super::print::{Fonts, LAID_OUT, PrintFault, Watch, tell};
use super::{DOTS, Picture, write_svg};

/// Draws a picture as a PNG of so many dots; the picture is stretched alike in both directions until it fits, and what
/// is left stays white. No font of the computer is used, so the same picture gives the same bytes.
///
/// # Errors
/// A side that is not in [`DOTS`]; whoever watches says stop.
pub fn write_png(
    fonts: &Fonts,
    picture: &Picture,
    dots: [u32; 2],
    watch: Watch<'_>,
) -> Result<Vec<u8>, PrintFault> {
    check_dots(dots)?;
    let cannot = |error: &dyn std::fmt::Display| PrintFault::Picture(error.to_string());
    let svg = write_svg(fonts, picture);
    tell(watch, LAID_OUT)?;
    let tree = Tree::from_data(&svg, &options()).map_err(|error| cannot(&error))?;
    tell(watch, 0.6)?;
    let mut map = Pixmap::new(dots[0], dots[1]).ok_or_else(|| cannot(&"there is no room for its dots"))?;
    map.fill(resvg::tiny_skia::Color::WHITE);
    let scale = (dots[0] as f32 / tree.size().width()).min(dots[1] as f32 / tree.size().height());
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut map.as_mut());
    tell(watch, 0.9)?;
    map.encode_png().map_err(|error| cannot(&error))
}

/// Refuses a picture that would be too small for its words or too large for the memory.
///
/// # Errors
/// A side that is not in [`DOTS`].
pub fn check_dots(dots: [u32; 2]) -> Result<(), PrintFault> {
    if dots.iter().all(|side| DOTS.contains(side)) {
        return Ok(());
    }
    Err(PrintFault::Picture(format!(
        "{} by {} dots are not possible, choose {} to {} for each side",
        dots[0],
        dots[1],
        DOTS.start(),
        DOTS.end()
    )))
}

fn options() -> Options<'static> {
    let mut known = fontdb::Database::new();
    for file in Fonts::files() {
        known.load_font_source(fontdb::Source::Binary(Arc::new(file)));
    }
    known.set_sans_serif_family("Noto Sans");
    Options {
        font_family: "Noto Sans".to_owned(),
        fontdb: Arc::new(known),
        ..Options::default()
    }
}

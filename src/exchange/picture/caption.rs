//! What stands above and below a picture: its title, sentences about it, and what its figures are not.

use super::super::print::{CAUTION, Fonts, Mark, Weight};
use super::Group;
use super::axes::{SMALL, words};

/// Blank edge of a picture.
pub const MARGIN: f32 = 12.0;
/// Size of the words at the foot.
pub const FOOT: f32 = 8.0;

/// The title and the sentences of a picture, set over so many points of width, and where they end.
pub fn head(fonts: &Fonts, title: &str, about: &str, width: f32) -> (Vec<Mark>, f32) {
    let mut marks = Vec::new();
    let mut y = MARGIN;
    let mut lines = |text: &str, size: f32, weight: Weight| {
        for line in fonts.wrap(text, size, weight, width - 2.0 * MARGIN) {
            y += size * 1.3;
            marks.push(words(MARGIN, y - size * 0.3, size, weight, line));
        }
    };
    lines(title, 15.0, Weight::Bold);
    lines(about, SMALL, Weight::Regular);
    (marks, y)
}

/// Sentences at the lower end of a picture of this size with [`CAUTION`] below them, and where they begin.
pub fn foot(fonts: &Fonts, text: &str, size: (f32, f32)) -> (Group, f32) {
    let mut lines = fonts.wrap(text, FOOT, Weight::Regular, size.0 - 2.0 * MARGIN);
    let caution = format!("{}{}", CAUTION[..1].to_uppercase(), &CAUTION[1..]);
    let mut y = size.1 - MARGIN;
    let mut marks = vec![words(MARGIN, y, FOOT, Weight::Bold, caution)];
    while let Some(line) = lines.pop() {
        y -= 10.5;
        marks.push(words(MARGIN, y, FOOT, Weight::Regular, line));
    }
    (Group::new("foot", "", marks), y - 8.0)
}

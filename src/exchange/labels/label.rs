//! One label: its large number, its lines, its square code.

use super::super::print::{BoxAt, Fonts, Mark, POINTS_PER_MM, Weight};
use super::square;
use std::collections::BTreeMap;

/// Smallest size of the large number, in points: it is read at arm's length.
pub(super) const LEAST_NUMBER: f32 = 14.0;
/// Smallest size of any other text, in points. What is still too long is cut off.
const LEAST_TEXT: f32 = 6.0;
/// Largest size of the lines below the number, in points.
const LARGEST_TEXT: f32 = 12.0;
/// Largest size of the lines beside the number, in points.
const LARGEST_BESIDE: f32 = 24.0;
/// Blank edge within a label, in millimetres: cutters and printers are not exact.
const PAD_MM: f32 = 1.8;
/// Largest side of the square code, in millimetres.
const LARGEST_SQUARE_MM: f32 = 20.0;
/// Height of digits over their size.
const DIGITS: f32 = 0.72;
/// Height of a line over the size of its letters.
const LEADING: f32 = 1.25;

/// One line of text, and what it tells, for the note when it is cut off.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Line {
    pub(super) what: &'static str,
    pub(super) text: String,
}

impl Line {
    pub(super) fn new(what: &'static str, text: impl Into<String>) -> Self {
        let text = text.into();
        Self { what, text }
    }
}

/// What stands on a label.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Label {
    /// The number that is read from afar.
    pub(super) number: String,
    /// Part of the height that the number may take, 0 to 1.
    pub(super) share: f32,
    /// Bold lines beside the number.
    pub(super) beside: Vec<Line>,
    /// Lines below it.
    pub(super) below: Vec<Line>,
    /// The text of the square code.
    pub(super) code: String,
}

/// What did not fit on labels, by what it tells.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Cut {
    /// On how many labels a line was cut off.
    pub(super) lines: BTreeMap<&'static str, usize>,
    /// On how many labels there is no room for a square code that could be read.
    pub(super) squares: usize,
    /// Texts with letters that the fonts lack.
    pub(super) not_set: BTreeMap<&'static str, usize>,
}

/// Draws a label into a box, left top corner and size in points.
pub(super) fn draw(
    fonts: &Fonts,
    label: &Label,
    (at, size): BoxAt,
    with_square: bool,
    cut: &mut Cut,
) -> Vec<Mark> {
    let pad = PAD_MM * POINTS_PER_MM;
    let (left, top) = (at.0 + pad, at.1 + pad);
    let (mut width, height) = (size.0 - 2.0 * pad, size.1 - 2.0 * pad);
    let mut marks = Vec::new();
    if with_square {
        let side = height
            .min(width * 0.3)
            .min(LARGEST_SQUARE_MM * POINTS_PER_MM)
            .max(square::least_side().min(height));
        let corner = (left + width - side, top + (height - side) / 2.0);
        if let Some(square) = square::mark(&label.code, corner, side) {
            width -= side + POINTS_PER_MM;
            marks.push(square);
        } else {
            cut.squares += 1;
        }
    }
    let mut pen = Pen {
        fonts,
        cut,
        marks: &mut marks,
    };
    let of_one_point = fonts.width(&label.number, 1.0, Weight::Bold);
    let number = (height * label.share / DIGITS)
        .min(width * 0.6 / of_one_point)
        .max(LEAST_NUMBER);
    let baseline = top + number * DIGITS;
    pen.text((left, baseline), number, Weight::Bold, &label.number);
    let x = left + of_one_point * number + 2.0 * POINTS_PER_MM;
    let room = left + width - x;
    let pitch = number * DIGITS / label.beside.len().max(1) as f32;
    let largest = pitch.clamp(LEAST_TEXT, LARGEST_BESIDE);
    for (index, line) in label.beside.iter().enumerate() {
        // The last line stands on the baseline of the number.
        let up = (label.beside.len() - 1 - index) as f32 * pitch;
        pen.line((x, baseline - up), largest, Weight::Bold, room, line);
    }
    let begin = baseline + number * 0.16;
    let pitch = (top + height - begin) / label.below.len().max(1) as f32;
    let largest = (pitch / LEADING).clamp(LEAST_TEXT, LARGEST_TEXT);
    let step = pitch.min(largest * LEADING * 1.15);
    for (index, line) in label.below.iter().enumerate() {
        let baseline = begin + step * index as f32 + largest;
        pen.line((left, baseline), largest, Weight::Regular, width, line);
    }
    marks
}

struct Pen<'a> {
    fonts: &'a Fonts,
    cut: &'a mut Cut,
    marks: &'a mut Vec<Mark>,
}

impl Pen<'_> {
    /// Sets a line in the largest size that fits, and cuts it off where it is too long for the smallest.
    fn line(&mut self, at: (f32, f32), largest: f32, weight: Weight, room: f32, line: &Line) {
        let of_one_point = self.fonts.width(&line.text, 1.0, weight);
        let size = largest.min(room / of_one_point).max(LEAST_TEXT);
        let text = if of_one_point * size > room + 0.01 {
            *self.cut.lines.entry(line.what).or_default() += 1;
            self.fonts.shorten(&line.text, size, weight, room)
        } else {
            line.text.clone()
        };
        if !self.fonts.can_set(&line.text) {
            *self.cut.not_set.entry(line.what).or_default() += 1;
        }
        self.text(at, size, weight, &text);
    }

    fn text(&mut self, (x, baseline): (f32, f32), size: f32, weight: Weight, text: &str) {
        self.marks.push(Mark::Text {
            x,
            baseline,
            size,
            weight,
            text: text.to_owned(),
        });
    }
}

//! A tray drawn in black and white, at any scale, whole or a part of it.

use super::super::print::{Fonts, Ink, Mark, Weight};
use super::shape::{Area, SIGNS, Shape};

/// Height of a line over the size of its letters.
pub(super) const LINE: f32 = 1.08;
/// Height of a capital letter over the size.
const CAPITAL: f32 = 0.72;

/// The part of a cell's width that its text takes where there is room enough.
pub(super) const USUAL_WIDTH: f32 = 0.88;

/// One line of the text in a cell.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Line {
    pub text: String,
    pub weight: Weight,
    /// The most of the cell's width that it takes, from 0 to 1.
    pub width: f32,
    /// The most of the cell's height that it takes, from 0 to 1.
    pub share: f32,
    /// The most points that it is set in.
    pub most: f32,
}

/// Draws lengths in millimetres onto a page and leaves away what lies outside a window.
pub(super) struct Canvas<'a> {
    pub fonts: &'a Fonts,
    pub marks: Vec<Mark>,
    /// Where the corner of the tray lies on the page, in points.
    pub corner: (f32, f32),
    /// Points for a millimetre.
    pub scale: f32,
    /// What is drawn, in millimetres.
    pub window: Area,
}

impl Canvas<'_> {
    /// A place on the page, in points.
    pub fn at(&self, x: f32, y: f32) -> (f32, f32) {
        (self.corner.0 + x * self.scale, self.corner.1 + y * self.scale)
    }

    /// A straight rule between two places in millimetres.
    pub fn rule(&mut self, from: (f32, f32), to: (f32, f32), thickness: f32) {
        if let Some((from, to)) = clip_rule(from, to, self.window) {
            let (from, to) = (self.at(from.0, from.1), self.at(to.0, to.1));
            self.marks.push(Mark::Rule { from, to, thickness });
        }
    }

    /// The four sides of an area, `thickness` in points.
    pub fn frame(&mut self, area: Area, thickness: f32) {
        let half = thickness / 2.0 / self.scale;
        for y in [area.top, area.bottom] {
            self.rule((area.left - half, y), (area.right + half, y), thickness);
        }
        for x in [area.left, area.right] {
            self.rule((x, area.top), (x, area.bottom), thickness);
        }
    }

    /// A ring of so many millimetres around a place.
    pub fn ring(&mut self, middle: (f32, f32), radius: f32, thickness: f32) {
        const SIDES: u8 = 24;
        let point = |side: u8| {
            let turn = f32::from(side) / f32::from(SIDES) * std::f32::consts::TAU;
            (middle.0 + radius * turn.cos(), middle.1 + radius * turn.sin())
        };
        for side in 0..SIDES {
            self.rule(point(side), point(side + 1), thickness);
        }
    }

    /// Slanted rules over an area, so many millimetres apart. They go on from one window to the next.
    pub fn hatch(&mut self, area: Area, gap: f32, thickness: f32) {
        let Some(seen) = area.meet(self.window) else {
            return;
        };
        let mut sum = ((seen.left + seen.top) / gap).ceil() * gap;
        while sum < seen.right + seen.bottom {
            let (from, to) = ((sum - seen.top, seen.top), (sum - seen.bottom, seen.bottom));
            if let Some((from, to)) = clip_rule(from, to, seen) {
                self.rule(from, to, thickness);
            }
            sum += gap;
        }
    }

    /// A form filled with black.
    pub fn filled(&mut self, corners: &[(f32, f32)]) {
        let corners = clip_form(corners, self.window);
        if corners.len() > 2 {
            let corners = corners.iter().map(|(x, y)| self.at(*x, *y)).collect();
            self.marks.push(Mark::Filled {
                corners,
                ink: Ink::Black,
            });
        }
    }

    /// The top left corner filled, and an arrow to the top edge beside it in the first cell, inside the second frame
    /// that a check cell has.
    pub fn orientation(&mut self, shape: &Shape) {
        let cell = shape.area(1, 1);
        let least = cell.width().min(cell.height());
        // No larger than half an inch on paper.
        let most = 36.0 / self.scale;
        let leg = (least * SIGNS).min(most);
        self.filled(&[
            (0.0, 0.0),
            (leg.max(cell.left * 0.8), 0.0),
            (0.0, leg.max(cell.top * 0.8)),
        ]);
        let height = leg * 0.85;
        let width = height * 0.4;
        let gap = (least * 0.1).min(most * 0.28);
        let (x, top) = (cell.right - width - gap, cell.top + gap);
        let neck = top + height * 0.5;
        self.filled(&[(x, top), (x + width, neck), (x - width, neck)]);
        let stem = width * 0.35;
        self.filled(&[
            (x - stem, neck),
            (x + stem, neck),
            (x + stem, top + height),
            (x - stem, top + height),
        ]);
    }

    /// Lines of text in the middle of an area, each as large as it may be. `on_white` clears what lies behind them.
    pub fn stack(&mut self, area: Area, lines: &[Line], on_white: bool) {
        let (width, height) = (area.width() * self.scale, area.height() * self.scale);
        let sizes: Vec<f32> = lines
            .iter()
            .map(|line| self.fitting(line, width, height))
            .collect();
        let total: f32 = sizes.iter().map(|size| size * LINE).sum();
        let middle = self.at(
            f32::midpoint(area.left, area.right),
            f32::midpoint(area.top, area.bottom),
        );
        let mut y = middle.1 - total / 2.0;
        if on_white {
            let widths = lines.iter().zip(&sizes);
            let widest = widths
                .map(|(line, size)| self.fonts.width(&line.text, *size, line.weight))
                .fold(0.0, f32::max);
            let side = sizes.iter().copied().fold(0.0, f32::max) * 0.18;
            self.marks.push(Mark::filled_box(
                (middle.0 - widest / 2.0 - side, y - side * 0.5),
                (widest + 2.0 * side, total + side),
                Ink::White,
            ));
        }
        for (line, size) in lines.iter().zip(sizes) {
            let text_width = self.fonts.width(&line.text, size, line.weight);
            self.marks.push(Mark::Text {
                x: middle.0 - text_width / 2.0,
                baseline: y + size * (LINE + CAPITAL) / 2.0,
                size,
                weight: line.weight,
                text: line.text.clone(),
            });
            y += size * LINE;
        }
    }

    /// The size in points in which a line is set in an area of so many points.
    pub fn fitting(&self, line: &Line, width: f32, height: f32) -> f32 {
        let per_point = self.fonts.width(&line.text, 1.0, line.weight).max(0.01);
        (line.width * width / per_point)
            .min(line.share * height / LINE)
            .min(line.most)
    }
}

/// The part of a rule that lies in an area (Liang and Barsky's method).
fn clip_rule(from: (f32, f32), to: (f32, f32), area: Area) -> Option<((f32, f32), (f32, f32))> {
    let step = (to.0 - from.0, to.1 - from.1);
    let (mut begin, mut end) = (0.0_f32, 1.0_f32);
    let sides = [
        (-step.0, from.0 - area.left),
        (step.0, area.right - from.0),
        (-step.1, from.1 - area.top),
        (step.1, area.bottom - from.1),
    ];
    for (towards, room) in sides {
        if towards == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if towards < 0.0 {
            begin = begin.max(room / towards);
        } else {
            end = end.min(room / towards);
        }
    }
    let point = |part: f32| (from.0 + part * step.0, from.1 + part * step.1);
    (begin < end).then(|| (point(begin), point(end)))
}

/// The part of a form without hollows that lies in an area (Sutherland and Hodgman's method).
fn clip_form(corners: &[(f32, f32)], area: Area) -> Vec<(f32, f32)> {
    /// How far a point lies inside one side of an area.
    type Inside = fn((f32, f32), Area) -> f32;
    let sides: [Inside; 4] = [
        |point, area| point.0 - area.left,
        |point, area| area.right - point.0,
        |point, area| point.1 - area.top,
        |point, area| area.bottom - point.1,
    ];
    let mut form = corners.to_vec();
    for side in sides {
        let mut kept = Vec::with_capacity(form.len() + 1);
        for (index, to) in form.iter().enumerate() {
            let from = form[(index + form.len() - 1) % form.len()];
            let (before, now) = (side(from, area), side(*to, area));
            if (before < 0.0) != (now < 0.0) {
                let part = before / (before - now);
                kept.push((from.0 + part * (to.0 - from.0), from.1 + part * (to.1 - from.1)));
            }
            if now >= 0.0 {
                kept.push(*to);
            }
        }
        form = kept;
    }
    form
}

#[cfg(test)]
mod tests {
    use super::*;

    const WINDOW: Area = Area {
        left: 0.0,
        top: 0.0,
        right: 10.0,
        bottom: 10.0,
    };

    #[test]
    fn rules_end_at_the_window() {
        let close = |from, to, begin: (f32, f32), end: (f32, f32)| {
            let (found, last) = clip_rule(from, to, WINDOW).unwrap();
            let off = [
                found.0 - begin.0,
                found.1 - begin.1,
                last.0 - end.0,
                last.1 - end.1,
            ];
            assert!(off.iter().all(|off| off.abs() < 1e-4), "{found:?} {last:?}");
        };
        close((-5.0, 4.0), (20.0, 4.0), (0.0, 4.0), (10.0, 4.0));
        close((-5.0, 0.0), (5.0, 10.0), (0.0, 5.0), (5.0, 10.0));
        assert_eq!(clip_rule((-5.0, 11.0), (20.0, 11.0), WINDOW), None);
        assert_eq!(clip_rule((-5.0, 4.0), (-1.0, 4.0), WINDOW), None);
    }

    #[test]
    fn forms_end_at_the_window() {
        let half = clip_form(&[(5.0, 2.0), (15.0, 2.0), (15.0, 4.0), (5.0, 4.0)], WINDOW);
        let right = half.iter().map(|corner| corner.0).fold(0.0, f32::max);
        assert_eq!((half.len(), right), (4, 10.0));
        assert!(clip_form(&[(11.0, 2.0), (15.0, 2.0), (15.0, 4.0)], WINDOW).is_empty());
        assert!(clip_form(&[], WINDOW).is_empty());
    }
}

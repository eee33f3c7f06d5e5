//! Axes of a picture: a frame with two scales, their ticks, titles and lines.

use super::super::print::{Edge, Fonts, Ink, Mark, Outline, Weight};
use super::Group;
use crate::insight::nice;

/// Text that is read with the picture, on axes and legends, in points.
pub const SMALL: f32 = 9.0;
/// Lines of the frame.
const FRAME: f32 = 0.8;
/// Lines at the ticks across the frame.
const GRID: Edge = Edge::new(Ink::Colour([0xd9, 0xd3, 0xc6]), 0.5);
/// Length of a tick outside of the frame.
const TICK: f32 = 3.0;
/// Height of a capital letter over the size.
pub const CAPITAL: f32 = 0.72;

/// One scale.
#[derive(Debug, Clone, PartialEq)]
pub struct Scale {
    /// What it shows, with its unit; may be empty.
    pub title: String,
    /// Value at the left or lower end and at the right or upper end.
    pub range: [f64; 2],
    /// Ticks lie between these values.
    pub within: [f64; 2],
    /// Least distance between ticks.
    pub least_step: f64,
    /// A tick with a word, where what has no value lies.
    pub named: Option<(f64, &'static str)>,
}

impl Scale {
    /// A scale with ticks over all of its range.
    pub fn new(title: impl Into<String>, range: [f64; 2]) -> Self {
        Self {
            title: title.into(),
            range,
            within: range,
            least_step: 0.0,
            named: None,
        }
    }

    /// How far along the scale a value lies, from 0 to 1.
    fn part(&self, value: f64) -> f32 {
        ((value - self.range[0]) / (self.range[1] - self.range[0])) as f32
    }

    /// Whether a value lies on the part that is shown.
    pub fn holds(&self, value: f64) -> bool {
        (self.range[0]..=self.range[1]).contains(&value)
    }

    /// Multiples of 1, 2 or 5 times a power of ten, no more than so many, with their words.
    fn ticks(&self, most: f32) -> Vec<(f64, String)> {
        let low = self.range[0].max(self.within[0]);
        let high = self.range[1].min(self.within[1]);
        let least = ((high - low) / f64::from(most.max(1.0))).max(self.least_step);
        let mut ticks = Vec::new();
        if least.is_finite() && least > 0.0 {
            let step = nice(least);
            let digits = (-step.log10().floor()).max(0.0) as usize;
            let (first, last) = ((low / step - 1e-9).ceil(), (high / step + 1e-9).floor());
            for i in first as i64..=last as i64 {
                let value = i as f64 * step;
                ticks.push((value, format!("{value:.digits$}")));
            }
        }
        let named = self.named.filter(|(value, _)| self.holds(*value));
        ticks.extend(named.map(|(value, name)| (value, name.to_owned())));
        ticks
    }
}

/// A rectangle with a scale along its lower and one along its left side, in points.
#[derive(Debug, Clone, PartialEq)]
pub struct Frame {
    /// Left end.
    pub left: f32,
    /// Upper end.
    pub top: f32,
    /// Right end.
    pub right: f32,
    /// Lower end.
    pub bottom: f32,
    /// Along the lower side.
    pub x: Scale,
    /// Along the left side.
    pub y: Scale,
}

impl Frame {
    /// Where a place lies in points.
    pub fn at(&self, [x, y]: [f64; 2]) -> (f32, f32) {
        (self.x_at(x), self.y_at(y))
    }

    /// Where a value of the lower scale lies in points.
    pub fn x_at(&self, value: f64) -> f32 {
        self.left + self.x.part(value) * (self.right - self.left)
    }

    /// Where a value of the left scale lies in points.
    pub fn y_at(&self, value: f64) -> f32 {
        self.bottom - self.y.part(value) * (self.bottom - self.top)
    }

    /// Whether a place lies inside.
    pub fn holds(&self, [x, y]: [f64; 2]) -> bool {
        self.x.holds(x) && self.y.holds(y)
    }

    /// The part of an area that lies inside, as an outline; from left to right and from low to high.
    pub fn area(&self, [left, right]: [f64; 2], [low, high]: [f64; 2]) -> Option<Outline> {
        let left = self.x_at(left.max(self.x.range[0]));
        let right = self.x_at(right.min(self.x.range[1]));
        let (bottom, top) = (
            self.y_at(low.max(self.y.range[0])),
            self.y_at(high.min(self.y.range[1])),
        );
        (left < right && top < bottom).then(|| Outline::rectangle((left, top), (right, bottom)))
    }

    /// Lines across the frame at the ticks.
    pub fn grid(&self) -> Group {
        let line = |a, b| Mark::Form {
            outline: Outline::Line(vec![a, b]),
            fill: None,
            edge: Some(GRID),
        };
        let mut marks = Vec::new();
        for (value, _) in self.x_ticks() {
            let x = self.x_at(value);
            marks.push(line((x, self.top), (x, self.bottom)));
        }
        for (value, _) in self.y_ticks() {
            let y = self.y_at(value);
            marks.push(line((self.left, y), (self.right, y)));
        }
        Group::new("grid", "", marks)
    }

    /// The frame, the ticks with their numbers, the titles.
    pub fn axes(&self, fonts: &Fonts) -> Group {
        let mut marks = vec![Mark::Frame {
            at: (self.left, self.top),
            size: (self.right - self.left, self.bottom - self.top),
            thickness: FRAME,
        }];
        let width = |text: &str| fonts.width(text, SMALL, Weight::Regular);
        for (value, text) in self.x_ticks() {
            let x = self.x_at(value);
            let (from, to) = ((x, self.bottom), (x, self.bottom + TICK));
            marks.push(Mark::Rule {
                from,
                to,
                thickness: FRAME,
            });
            marks.push(words(
                x - width(&text) / 2.0,
                to.1 + 2.0 + CAPITAL * SMALL,
                SMALL,
                Weight::Regular,
                text,
            ));
        }
        let mut widest = 0.0_f32;
        for (value, text) in self.y_ticks() {
            let y = self.y_at(value);
            let (from, to) = ((self.left - TICK, y), (self.left, y));
            marks.push(Mark::Rule {
                from,
                to,
                thickness: FRAME,
            });
            let wide = width(&text);
            widest = widest.max(wide);
            marks.push(words(
                from.0 - 3.0 - wide,
                y + CAPITAL * SMALL / 2.0,
                SMALL,
                Weight::Regular,
                text,
            ));
        }
        if !self.x.title.is_empty() {
            let title = fonts.shorten(&self.x.title, SMALL, Weight::Bold, self.right - self.left);
            let wide = fonts.width(&title, SMALL, Weight::Bold);
            let middle = f32::midpoint(self.left, self.right);
            let below = self.bottom + TICK + 2.0 + 2.4 * SMALL;
            marks.push(words(middle - wide / 2.0, below, SMALL, Weight::Bold, title));
        }
        if !self.y.title.is_empty() {
            let title = fonts.shorten(&self.y.title, SMALL, Weight::Bold, self.bottom - self.top);
            let wide = fonts.width(&title, SMALL, Weight::Bold);
            marks.push(Mark::Rising {
                baseline: self.left - TICK - 3.0 - widest - 0.8 * SMALL,
                y: f32::midpoint(self.top, self.bottom) + wide / 2.0,
                size: SMALL,
                weight: Weight::Bold,
                text: title,
            });
        }
        Group::new("axes", "", marks)
    }

    fn x_ticks(&self) -> Vec<(f64, String)> {
        self.x.ticks((self.right - self.left) / 44.0)
    }

    fn y_ticks(&self) -> Vec<(f64, String)> {
        self.y.ticks((self.bottom - self.top) / 28.0)
    }
}

/// One line of text.
pub fn words(x: f32, baseline: f32, size: f32, weight: Weight, text: impl Into<String>) -> Mark {
    Mark::Text {
        x,
        baseline,
        size,
        weight,
        text: text.into(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn numbers(scale: &Scale, most: f32) -> Vec<String> {
        scale.ticks(most).into_iter().map(|(_, text)| text).collect()
    }

    #[test]
    fn ticks_are_round_and_no_more_than_asked() {
        let mut scale = Scale::new("Percent", [-16.0, 105.0]);
        scale.within = [0.0, 100.0];
        scale.named = Some((-10.0, "none"));
        assert_eq!(numbers(&scale, 6.0), ["0", "20", "40", "60", "80", "100", "none"]);
        assert_eq!(
            numbers(&Scale::new("Days", [78.4, 83.0]), 5.0),
            ["79", "80", "81", "82", "83"]
        );
        assert_eq!(
            numbers(&Scale::new("Share", [0.0, 0.02]), 4.0),
            ["0.000", "0.005", "0.010", "0.015", "0.020"]
        );
        assert!(numbers(&Scale::new("Nothing", [3.0, 3.0]), 5.0).is_empty());
    }

    #[test]
    fn places_lie_where_the_scales_say() {
        let frame = Frame {
            left: 10.0,
            top: 20.0,
            right: 110.0,
            bottom: 220.0,
            x: Scale::new("Days", [80.0, 90.0]),
            y: Scale::new("Percent", [0.0, 100.0]),
        };
        assert_eq!(frame.at([80.0, 0.0]), (10.0, 220.0));
        assert_eq!(frame.at([85.0, 75.0]), (60.0, 70.0));
        assert!(frame.holds([90.0, 100.0]) && !frame.holds([90.1, 50.0]));
        assert_eq!(
            frame.area([0.0, 85.0], [90.0, 120.0]),
            Some(Outline::rectangle((10.0, 20.0), (60.0, 40.0)))
        );
        assert_eq!(frame.area([91.0, 95.0], [0.0, 50.0]), None);
    }
}

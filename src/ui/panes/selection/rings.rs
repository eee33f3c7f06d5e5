//! What is drawn about single ears: rings of words and of the chosen, ranges of their percents, their numbers.

use super::marks;
use super::scatter::{Ranges, Scatter};
use crate::insight::{PercentRange, Vertical, place_of};
use crate::ui::tokens::Tokens;
use egui::{Pos2, Rect, Stroke, Vec2, pos2, vec2};
use egui_plot::{Line, PlotPoint, PlotPoints, PlotTransform, PlotUi};

/// Radius of a ring around a mark, in points.
const RING: f32 = 8.0;
/// Of how many chosen ears the ranges are drawn; more would be a thicket.
const MOST_CHOSEN: usize = 24;
/// Of how many ears in view the ranges are drawn at most.
const MOST_RANGES: usize = 400;
/// How many chosen ears are looked at for their numbers.
const MOST_NUMBERS: usize = 200;

impl<'a> Scatter<'a> {
    /// Rings of words, of the chosen and of the hovered ear, and the ranges of the latter two.
    pub(super) fn rings(
        &self,
        painter: &egui::Painter,
        t: &Tokens,
        transform: &PlotTransform,
        hovered: Option<usize>,
    ) {
        for (ear, word) in self.words {
            if let Some(i) = place_of(self.choice, *ear) {
                marks::word_ring(painter, self.at(transform, i), word.kind, t.text);
            }
        }
        let has_ranges = self.ranges != Ranges::None;
        for (nth, ear) in self.chosen.iter().rev().enumerate() {
            let Some(i) = place_of(self.choice, *ear) else {
                continue;
            };
            let at = self.at(transform, i);
            if has_ranges && nth < MOST_CHOSEN {
                self.range(painter, transform, i, Stroke::new(2.0, t.accent));
            }
            painter.circle_stroke(at, RING, Stroke::new(2.5, t.accent));
        }
        if let Some(i) = hovered {
            if has_ranges {
                self.range(painter, transform, i, Stroke::new(1.5, t.text));
            }
            painter.circle_stroke(self.at(transform, i), RING, Stroke::new(1.5, t.text));
        }
    }

    /// The range of an ear's percent that an axis shows; `None` when it shows none or the ear was not scored.
    fn range_on(&self, side: usize, i: usize) -> Option<PercentRange> {
        let vertical = self.field.axes[side].axis.germination()?;
        let estimate = self.choice.standings[i].estimate.as_ref()?;
        Some(match vertical {
            Vertical::Observed => estimate.observed_95,
            Vertical::Likely => estimate.likely_90,
        })
    }

    fn range(&self, painter: &egui::Painter, transform: &PlotTransform, i: usize, stroke: Stroke) {
        let at = self.at(transform, i);
        if let Some(range) = self.range_on(1, i) {
            let ends = [range.high, range.low].map(|value| transform.position_from_point_y(value));
            painter.line_segment(ends.map(|y| pos2(at.x, y)), stroke);
            for y in ends {
                painter.line_segment([pos2(at.x - 5.0, y), pos2(at.x + 5.0, y)], stroke);
            }
        }
        if let Some(range) = self.range_on(0, i) {
            let ends = [range.low, range.high].map(|value| transform.position_from_point_x(value));
            painter.line_segment(ends.map(|x| pos2(x, at.y)), stroke);
            for x in ends {
                painter.line_segment([pos2(x, at.y - 5.0), pos2(x, at.y + 5.0)], stroke);
            }
        }
    }

    /// Thin ranges of all ears that are shown and in view, under the marks. Gives of how many they are drawn and how
    /// many there are, where those are too many.
    pub(super) fn all_ranges(&self, plot: &mut PlotUi<'a>, t: &Tokens) -> Option<[usize; 2]> {
        if self.ranges != Ranges::All {
            return None;
        }
        let bounds = plot.plot_bounds();
        let (least, most) = (bounds.min(), bounds.max());
        let is_in_view =
            |spot: &[f64; 2]| (0..2).all(|side| (least[side]..=most[side]).contains(&spot[side]));
        let colour = t.mark_neutral.gamma_multiply(0.45);
        let mut found = 0;
        for (i, spot) in self.field.spots.iter().enumerate() {
            if !self.is_shown(i) || !is_in_view(spot) {
                continue;
            }
            let ranges = [0, 1].map(|side| self.range_on(side, i));
            found += usize::from(ranges.iter().any(Option::is_some));
            if found > MOST_RANGES {
                continue;
            }
            for (side, range) in ranges.into_iter().enumerate() {
                let Some(range) = range else { continue };
                let ends = [range.low, range.high].map(|value| {
                    let mut end = *spot;
                    end[side] = value;
                    PlotPoint::new(end[0], end[1])
                });
                plot.line(
                    Line::new("range", PlotPoints::Owned(ends.to_vec()))
                        .color(colour)
                        .width(1.0)
                        .allow_hover(false),
                );
            }
        }
        (found > MOST_RANGES).then_some([MOST_RANGES, found])
    }

    /// The numbers of the chosen ears beside their marks. Gives how many in view have no room.
    pub(super) fn numbers(&self, painter: &egui::Painter, t: &Tokens, transform: &PlotTransform) -> usize {
        if !self.has_numbers {
            return 0;
        }
        let frame = *transform.frame();
        let in_view: Vec<(usize, Pos2)> = self
            .chosen
            .iter()
            .filter_map(|ear| place_of(self.choice, *ear))
            .map(|i| (i, self.at(transform, i)))
            .filter(|(_, at)| frame.contains(*at))
            .collect();
        let galleys: Vec<_> = in_view
            .iter()
            .take(MOST_NUMBERS)
            .map(|(i, _)| {
                let standing = &self.choice.standings[*i];
                let number = self.names.ear(standing.ear, standing.number);
                painter.layout_no_wrap(number, t.small_font(), t.text)
            })
            .collect();
        let anchors: Vec<(Pos2, Vec2)> = in_view
            .iter()
            .zip(&galleys)
            .map(|((_, at), galley)| (*at, galley.size()))
            .collect();
        let mut left_out = in_view.len() - anchors.len();
        for (place, galley) in lay(&anchors, frame).into_iter().zip(galleys) {
            match place {
                Some(rect) => {
                    painter.rect_filled(rect.expand2(vec2(2.0, 0.0)), 3.0, t.raised.gamma_multiply(0.85));
                    painter.galley(rect.min, galley, t.text);
                }
                None => left_out += 1,
            }
        }
        left_out
    }
}

/// Where labels of these sizes lie beside their anchors: at the right, the left, above, below, or at a corner, the
/// first place where a label covers no other and no anchor and stays in the frame; `None` where there is none.
fn lay(anchors: &[(Pos2, Vec2)], frame: Rect) -> Vec<Option<Rect>> {
    let marks: Vec<Rect> = anchors
        .iter()
        .map(|(at, _)| Rect::from_center_size(*at, Vec2::splat(2.0 * RING)))
        .collect();
    let mut laid: Vec<Rect> = Vec::new();
    anchors
        .iter()
        .enumerate()
        .map(|(nth, (at, size))| {
            let far = vec2(RING + 4.0 + size.x / 2.0, RING + 1.0 + size.y / 2.0);
            let ways = [
                vec2(1.0, 0.0),
                vec2(-1.0, 0.0),
                vec2(0.0, -1.0),
                vec2(0.0, 1.0),
                vec2(0.8, -0.8),
                vec2(0.8, 0.8),
                vec2(-0.8, -0.8),
                vec2(-0.8, 0.8),
            ];
            let found = ways
                .into_iter()
                .map(|way| Rect::from_center_size(*at + way * far, *size))
                .find(|rect| {
                    let is_free = |other: &Rect| !other.intersects(*rect);
                    frame.contains_rect(*rect)
                        && laid.iter().all(is_free)
                        && marks
                            .iter()
                            .enumerate()
                            .all(|(other, mark)| other == nth || is_free(mark))
                });
            laid.extend(found);
            found
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    const SIZE: Vec2 = vec2(24.0, 14.0);

    fn frame() -> Rect {
        Rect::from_min_max(pos2(0.0, 0.0), pos2(300.0, 200.0))
    }

    #[test]
    fn a_lone_label_lies_at_the_right_and_at_the_edge_elsewhere() {
        let laid = lay(&[(pos2(100.0, 100.0), SIZE)], frame());
        assert!(laid[0].unwrap().left() > 100.0);
        let laid = lay(&[(pos2(295.0, 100.0), SIZE)], frame());
        assert!(laid[0].unwrap().right() < 295.0);
    }

    #[test]
    fn labels_cover_neither_each_other_nor_marks() {
        let anchors: Vec<(Pos2, Vec2)> = (0..40)
            .map(|i| {
                let (column, row) = ((i % 8) as f32, (i / 8) as f32);
                (pos2(40.0 + 11.0 * column, 40.0 + 12.0 * row), SIZE)
            })
            .collect();
        let laid = lay(&anchors, frame());
        let rects: Vec<&Rect> = laid.iter().flatten().collect();
        assert!(rects.len() > 5 && rects.len() < 40, "{}", rects.len());
        for (i, a) in rects.iter().enumerate() {
            assert!(frame().contains_rect(**a));
            assert!(rects[..i].iter().all(|b| !a.intersects(**b)));
            assert!(anchors.iter().all(|(at, _)| !a.contains(*at)));
        }
    }
}

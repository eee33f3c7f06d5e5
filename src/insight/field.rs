//! Where each ear lies in the plot of Selection: geometry in the units of the axes, for the window and for pictures.

use super::axes::span;
use super::{Axis, Choice, Estimates, Standing, Vertical};
use crate::model::{EarId, Project, Stand};
use crate::stats::Cutoff;
use std::collections::BTreeMap;

/// How far neighbours of a pile lie apart while there is room, across and up, as a part of [`AxisRoom::half`].
const PILE_STEP: [f64; 2] = [0.75, 2.0 / 3.6];
/// About how many bars a distribution has where its unit gives no step.
const BARS: f64 = 24.0;

/// What one axis shows, and where.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct AxisRoom {
    /// What it shows.
    pub axis: Axis,
    /// Least and most value of all ears, in the unit of the axis; a range that can be drawn even when none is known.
    pub span: [f64; 2],
    /// Both ends of what the plot shows at first.
    pub shown: [f64; 2],
    /// Beginning, middle and end of the strip of ears without a value, if there are any.
    pub strip: Option<[f64; 3]>,
    /// How many ears lie in it.
    pub without: usize,
    /// Half of the room that ears with equal figures may take.
    pub half: f64,
    /// Width of a bar of the distribution.
    pub bar: f64,
}

impl AxisRoom {
    /// Lays out an axis for these values: `is_across` puts the strip at its end, else it lies at its beginning.
    fn new(project: &Project, axis: Axis, values: &[Option<f64>], is_across: bool) -> Self {
        let known = span(values.iter().copied().flatten());
        let is_whole = axis.is_whole(project);
        let [least, most] = match axis {
            Axis::Germination(_) => [0.0, 100.0],
            Axis::MaturityDays => known.unwrap_or([80.0, 100.0]),
            Axis::Vigor => known.unwrap_or([0.0, 9.0]),
            Axis::Trait(_) | Axis::Kernels | Axis::HeatUnits => known.unwrap_or([0.0, 1.0]),
        };
        let grain = if is_whole {
            1.0
        } else {
            axis.step(project).max(f64::EPSILON * most.abs())
        };
        let most = most.max(least + grain);
        let room = (most - least).max(4.0 * grain);
        // A day is a step that everyone knows, so days keep a whole one as their edge.
        let (edge, half, bar) = match axis {
            Axis::MaturityDays => (1.0, 0.40, 1.0),
            Axis::Germination(_) => (5.0, 3.6, 5.0),
            _ => {
                let half = (0.40 * least_gap(values).unwrap_or(0.0)).clamp(0.008 * room, 0.036 * room);
                let bar = nice(room / BARS);
                (0.05 * room, half, if is_whole { bar.max(1.0) } else { bar })
            }
        };
        let without = values.iter().filter(|value| value.is_none()).count();
        let strip = (without > 0).then(|| {
            let (low, high) = if is_across {
                let low = most + 0.6 * edge + 0.02 * room;
                (low, low + 0.09 * room)
            } else {
                let high = least - 0.8 * edge;
                (high - 0.12 * room, high)
            };
            [low, f64::midpoint(low, high), high]
        });
        let shown = match strip {
            Some([_, _, end]) if is_across => [least - edge, end],
            Some([begin, _, _]) => [begin, most + edge],
            None => [least - edge, most + edge],
        };
        Self {
            axis,
            span: [least, most],
            shown,
            strip,
            without,
            half,
            bar,
        }
    }

    /// Beginning of the first bar's middle, and how many bars there are.
    fn bars(&self) -> (f64, usize) {
        let first = (self.span[0] / self.bar).floor() * self.bar;
        (first, ((self.span[1] - first) / self.bar).round() as usize + 1)
    }

    /// Both ends of where values can be, without the strip.
    pub fn measured(&self) -> [f64; 2] {
        match self.strip {
            Some([low, _, _]) if low > self.span[1] => [f64::NEG_INFINITY, low],
            Some([_, _, high]) => [high, f64::INFINITY],
            None => [f64::NEG_INFINITY, f64::INFINITY],
        }
    }
}

/// The least distance between two different values.
fn least_gap(values: &[Option<f64>]) -> Option<f64> {
    let mut known: Vec<f64> = values.iter().copied().flatten().collect();
    known.sort_unstable_by(f64::total_cmp);
    known.dedup();
    known
        .windows(2)
        .map(|pair| pair[1] - pair[0])
        .min_by(f64::total_cmp)
}

/// The least of 1, 2 and 5 times a power of ten that is not below a positive number.
pub fn nice(least: f64) -> f64 {
    let power = 10_f64.powf(least.log10().floor());
    let found = [1.0, 2.0, 5.0]
        .into_iter()
        .map(|times| times * power)
        .find(|step| *step >= least * (1.0 - 1e-9));
    found.unwrap_or(10.0 * power)
}

/// Where the ears of a season lie; in the order of the standings of their choice.
///
/// Ears with equal figures would hide each other. They are spread a little around the place of their figures, in rows
/// like the eyes of dice, by ear number: by less than half a day, by at most 3.6 percent, else by less than half of
/// the least step that the values have or by a hundredth of the axis. That is only drawn; no figure is changed by it.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// Place of each ear across and up, in the units of the axes.
    pub spots: Vec<[f64; 2]>,
    /// The values of each ear across and up, where they are known.
    pub values: Vec<[Option<f64>; 2]>,
    /// The axes across and up.
    pub axes: [AxisRoom; 2],
}

impl Field {
    /// Lays out the ears of a choice between the axes across and up; the cutoffs do not matter.
    pub fn new(project: &Project, standings: &[Standing], axes: [Axis; 2]) -> Self {
        let column = |axis: Axis| -> Vec<Option<f64>> {
            standings
                .iter()
                .map(|standing| axis.value(project, standing))
                .collect()
        };
        let columns = axes.map(column);
        let axes = [0, 1].map(|side| AxisRoom::new(project, axes[side], &columns[side], side == 0));
        let values: Vec<[Option<f64>; 2]> = columns[0]
            .iter()
            .zip(&columns[1])
            .map(|(x, y)| [*x, *y])
            .collect();
        let place = |values: &[Option<f64>; 2], side: usize| {
            let room = &axes[side];
            values[side].unwrap_or_else(|| room.strip.map_or(room.span[0], |strip| strip[1]))
        };
        let mut piles: BTreeMap<[u64; 2], Vec<usize>> = BTreeMap::new();
        for (i, values) in values.iter().enumerate() {
            let key = [0, 1].map(|side| place(values, side).to_bits());
            piles.entry(key).or_default().push(i);
        }
        let mut spots = vec![[0.0; 2]; standings.len()];
        for pile in piles.values() {
            for (nth, i) in pile.iter().enumerate() {
                let half = [0, 1].map(|side| match (values[*i][side], axes[side].strip) {
                    (None, Some(strip)) => [0.42, 0.30][side] * (strip[2] - strip[0]),
                    _ => axes[side].half,
                });
                let step = [0, 1].map(|side| PILE_STEP[side] * half[side]);
                let by = offset(nth, pile.len(), half, step);
                spots[*i] = [0, 1].map(|side| place(&values[*i], side) + by[side]);
            }
        }
        Self { spots, values, axes }
    }

    /// Left, right, bottom and top of what the plot shows at first.
    pub fn bounds(&self) -> [f64; 4] {
        let [[left, right], [bottom, top]] = self.axes.map(|room| room.shown);
        [left, right, bottom, top]
    }

    /// Finds the ear nearest to a point, within one unit of the scale: `scale` is the length of a unit of each axis
    /// in that unit.
    pub fn nearest(&self, at: [f64; 2], scale: [f64; 2]) -> Option<usize> {
        let mut best: Option<(usize, f64)> = None;
        for (i, spot) in self.spots.iter().enumerate() {
            let (dx, dy) = ((spot[0] - at[0]) * scale[0], (spot[1] - at[1]) * scale[1]);
            let distance = dx.mul_add(dx, dy * dy);
            if distance <= 1.0 && best.is_none_or(|(_, least)| distance < least) {
                best = Some((i, distance));
            }
        }
        best.map(|(i, _)| i)
    }

    /// Finds the ear to go to from an ear: the nearest in a direction, `[1, 0]` to the right and `[0, 1]` up, of those
    /// that `is_shown`. Ears within 45 degrees of the direction come before all others on that side. `scale` is as in
    /// [`Field::nearest`].
    pub fn toward(
        &self,
        from: usize,
        direction: [f64; 2],
        scale: [f64; 2],
        is_shown: impl Fn(usize) -> bool,
    ) -> Option<usize> {
        let at = self.spots.get(from)?;
        let mut best: Option<(usize, (bool, f64))> = None;
        for (i, spot) in self.spots.iter().enumerate() {
            let by = [(spot[0] - at[0]) * scale[0], (spot[1] - at[1]) * scale[1]];
            let along = by[0].mul_add(direction[0], by[1] * direction[1]);
            if i == from || along <= 1e-9 || !is_shown(i) {
                continue;
            }
            let beside = by[0].mul_add(direction[1], -by[1] * direction[0]).abs();
            let rank = (beside > along, along.mul_add(along, 4.0 * beside * beside));
            if best.is_none_or(|(_, least)| rank < least) {
                best = Some((i, rank));
            }
        }
        best.map(|(i, _)| i)
    }

    /// Gives the ears whose marks lie in the rectangle between two corners.
    pub fn inside(&self, a: [f64; 2], b: [f64; 2]) -> impl Iterator<Item = usize> + '_ {
        let within = move |value: f64, i: usize| (a[i].min(b[i])..=a[i].max(b[i])).contains(&value);
        self.spots
            .iter()
            .enumerate()
            .filter(move |(_, spot)| within(spot[0], 0) && within(spot[1], 1))
            .map(|(i, _)| i)
    }

    /// Gives the ears whose marks lie in a closed curve.
    pub fn enclosed<'a>(&'a self, curve: &'a [[f64; 2]]) -> impl Iterator<Item = usize> + 'a {
        self.spots
            .iter()
            .enumerate()
            .filter(|(_, spot)| is_enclosed(**spot, curve))
            .map(|(i, _)| i)
    }
}

/// Says whether a point lies in a closed curve, given by its corners; the last is joined to the first. A curve that
/// crosses itself holds what is inside an odd number of its turns: the even-odd rule, as in SVG 2 (W3C), `fill-rule`.
pub fn is_enclosed(at: [f64; 2], curve: &[[f64; 2]]) -> bool {
    let before = curve.iter().cycle().skip(curve.len().saturating_sub(1));
    let crossings = curve.iter().zip(before).filter(|(a, b)| {
        // Half open, so that a corner at the height of the point counts once.
        let is_across = (a[1] > at[1]) != (b[1] > at[1]);
        is_across && at[0] < (b[0] - a[0]) * (at[1] - a[1]) / (b[1] - a[1]) + a[0]
    });
    crossings.count() % 2 == 1
}

/// The percent of an ear on the vertical axis; `None` when it was not scored.
pub fn percent_of(standing: &Standing, vertical: Vertical) -> Option<f64> {
    standing.estimate.as_ref().map(|estimate| match vertical {
        Vertical::Observed => estimate.observed_percent,
        Vertical::Likely => estimate.likely_percent,
    })
}

/// Where the `nth` of `count` equal ears is drawn, from their common place: rows of a block, the first row at the
/// bottom, each row centred.
fn offset(nth: usize, count: usize, half: [f64; 2], step: [f64; 2]) -> [f64; 2] {
    let columns = (1..=count)
        .find(|columns| columns * columns >= count)
        .unwrap_or(1);
    let rows = count.div_ceil(columns);
    let (row, column) = (nth / columns, nth % columns);
    let in_row = columns.min(count - row * columns);
    let place = |at: usize, of: usize, i: usize| {
        let room = 2.0 * half[i] / (of.max(2) - 1) as f64;
        (at as f64 - (of - 1) as f64 / 2.0) * step[i].min(room)
    };
    // The step across is that of a full row, so that a last, shorter row keeps it.
    let across = step[0].min(2.0 * half[0] / (columns.max(2) - 1) as f64);
    [
        (column as f64 - (in_row - 1) as f64 / 2.0) * across,
        place(row, rows, 1),
    ]
}

/// The place of a stand in [`Stand::ALL`].
pub fn stand_index(stand: Stand) -> usize {
    match stand {
        Stand::Plant => 0,
        Stand::Retest => 1,
        Stand::LeaveOut => 2,
        Stand::NotScored => 3,
    }
}

/// The band in which kernels cannot tell whether an ear reaches the cutoff: between `1 - sureness` and `sureness` of
/// probability, for the number of kernels that most ears have, on the vertical axis that is shown.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// Lower end in percent.
    pub low: f64,
    /// Upper end in percent.
    pub high: f64,
    /// The kernels of an ear that it is drawn for.
    pub kernels: u32,
}

/// Works out the band of the cutoff for an ear in an average tray; `None` when nothing is scored or when every count
/// tells. It reaches halfway to the next count that tells.
pub fn band(estimates: &Estimates, cutoff: Cutoff, sureness: f64, vertical: Vertical) -> Option<Band> {
    let usual = estimates.usual();
    let kernels = usual.len().checked_sub(1).filter(|kernels| *kernels > 0)?;
    let cannot_tell = |k: &usize| {
        let probability = usual[*k].probability_at_least(cutoff);
        probability < sureness && probability > 1.0 - sureness
    };
    let doubtful: Vec<usize> = (0..=kernels).filter(cannot_tell).collect();
    let (first, last) = (*doubtful.first()?, *doubtful.last()?);
    let percent = |k: usize| match vertical {
        Vertical::Observed => 100.0 * k as f64 / kernels as f64,
        Vertical::Likely => 100.0 * usual[k].mean(),
    };
    // Beyond the last possible count the step is as long as the one before it.
    let low = match first.checked_sub(1) {
        Some(before) => 0.5 * (percent(before) + percent(first)),
        None => percent(0) - 0.5 * (percent(1) - percent(0)),
    };
    let high = if last < kernels {
        0.5 * (percent(last) + percent(last + 1))
    } else {
        percent(last) + 0.5 * (percent(last) - percent(last - 1))
    };
    Some(Band {
        low: low.max(0.0),
        high: high.min(100.0),
        kernels: kernels as u32,
    })
}

/// One bar of a distribution.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bar {
    /// Its middle, in the unit of the axis.
    pub at: f64,
    /// All ears and the kept ones.
    pub ears: [u32; 2],
}

/// How many ears have which figures, for the distributions at the plot's edges: across and up. A bar is a day or five
/// percent wide, else a step that gives about two dozen.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Edges(pub [Vec<Bar>; 2]);

impl Edges {
    /// Counts the ears of a choice.
    pub fn new(standings: &[Standing], field: &Field) -> Self {
        Self([0, 1].map(|side| {
            let room = &field.axes[side];
            let (first, count) = room.bars();
            let mut bars: Vec<Bar> = (0..count)
                .map(|i| Bar {
                    at: first + i as f64 * room.bar,
                    ears: [0; 2],
                })
                .collect();
            for (standing, values) in standings.iter().zip(&field.values) {
                let Some(value) = values[side] else {
                    continue;
                };
                let nth = ((value - first) / room.bar).round().max(0.0) as usize;
                let bar = &mut bars[nth.min(count - 1)];
                bar.ears[0] += 1;
                bar.ears[1] += u32::from(standing.stand == Stand::Plant);
            }
            bars
        }))
    }
}

/// The place of an ear in the standings of a choice, which are sorted by number.
pub fn place_of(choice: &Choice, ear: EarId) -> Option<usize> {
    let number = choice.of(ear)?.number;
    choice
        .standings
        .binary_search_by_key(&number, |standing| standing.number)
        .ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::About;

    const HALF: [f64; 2] = [0.40, 3.6];

    fn standing(number: u32, days: Option<u16>) -> Standing {
        Standing {
            ear: EarId(number),
            number,
            row: None,
            stand: Stand::NotScored,
            probability: None,
            estimate: None,
            maturity_days: days,
            kernels: days.map(|days| i64::from(days) * 3),
            why: Vec::new(),
        }
    }

    fn field(ears: &[Standing], axes: [Axis; 2]) -> Field {
        Field::new(&Project::new(About::new("Trial plot", "trial")), ears, axes)
    }

    fn usual(ears: &[Standing]) -> Field {
        field(ears, Axis::USUAL)
    }

    fn assert_at(spot: [f64; 2], expected: [f64; 2]) {
        let is_near = spot.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-9);
        assert!(is_near, "{spot:?} is not {expected:?}");
    }

    #[test]
    fn equal_ears_lie_apart_and_stay_on_their_day() {
        let step = [0, 1].map(|side| PILE_STEP[side] * HALF[side]);
        for count in [1, 2, 3, 5, 7, 12, 40, 1000] {
            let places: Vec<[f64; 2]> = (0..count).map(|nth| offset(nth, count, HALF, step)).collect();
            for (i, a) in places.iter().enumerate() {
                assert!(
                    a[0].abs() <= HALF[0] + 1e-9 && a[1].abs() <= HALF[1] + 1e-9,
                    "{count}: {a:?}"
                );
                for b in &places[..i] {
                    assert!(
                        (a[0] - b[0]).abs() > 1e-6 || (a[1] - b[1]).abs() > 1e-6,
                        "{count}"
                    );
                }
            }
            let mean = places.iter().map(|place| place[0]).sum::<f64>() / count as f64;
            assert!(mean.abs() < 1e-9, "{count} lie to one side by {mean}");
        }
        assert_at(offset(0, 1, HALF, step), [0.0, 0.0]);
    }

    #[test]
    fn every_ear_has_a_place_with_and_without_figures_on_any_axes() {
        let ears = [standing(1, Some(80)), standing(2, Some(90)), standing(3, None)];
        let first = usual(&ears);
        assert_at(first.axes[0].span, [80.0, 90.0]);
        assert_eq!(first.axes[0].without, 1);
        let [left, middle, right] = first.axes[0].strip.unwrap();
        assert!(90.0 < left && left < middle && middle < right);
        assert_at(first.spots[0], [80.0, -10.0]);
        assert_at(first.spots[2], [middle, -10.0]);
        for axes in [
            Axis::USUAL,
            [Axis::Kernels, Axis::MaturityDays],
            [Axis::Germination(Vertical::Likely), Axis::Vigor],
            [Axis::Vigor, Axis::Kernels],
        ] {
            let field = field(&ears, axes);
            let bounds = field.bounds();
            for (spot, values) in field.spots.iter().zip(&field.values) {
                assert!(
                    bounds[0] < spot[0] && spot[0] < bounds[1] && bounds[2] < spot[1] && spot[1] < bounds[3],
                    "{axes:?}: {spot:?} in {bounds:?}"
                );
                for side in [0, 1] {
                    let [begin, end] = field.axes[side].measured();
                    let is_measured = (begin..=end).contains(&spot[side]);
                    assert_eq!(is_measured, values[side].is_some(), "{axes:?}: {spot:?}");
                }
            }
        }
        let none = usual(&[]);
        assert!(none.axes[0].span[0] < none.axes[0].span[1]);
    }

    #[test]
    fn ties_stay_nearer_to_their_own_number_than_to_the_next() {
        let ears: Vec<Standing> = (0..60)
            .map(|i| standing(i + 1, Some(60 + (i % 12) as u16)))
            .collect();
        let field = field(&ears, [Axis::Kernels, Axis::MaturityDays]);
        for (spot, values) in field.spots.iter().zip(&field.values) {
            // Kernels come in steps of three.
            assert!((spot[0] - values[0].unwrap()).abs() < 1.5 && (spot[1] - values[1].unwrap()).abs() < 0.5);
        }
    }

    #[test]
    fn the_bars_hold_every_ear_that_has_a_value() {
        let ears: Vec<Standing> = (0..50)
            .map(|i| standing(i + 1, (i % 7 > 0).then_some(60 + (i * 5 % 31) as u16)))
            .collect();
        let field = field(&ears, [Axis::Kernels, Axis::MaturityDays]);
        let edges = Edges::new(&ears, &field);
        let known = ears.iter().filter(|one| one.maturity_days.is_some()).count();
        for (side, bars) in edges.0.iter().enumerate() {
            let all: u32 = bars.iter().map(|bar| bar.ears[0]).sum();
            assert_eq!(all as usize, known);
            assert!(bars.len() < 60 && bars.iter().all(|bar| bar.ears[1] == 0));
            for values in &field.values {
                let Some(value) = values[side] else { continue };
                let is_held = |bar: &Bar| (value - bar.at).abs() <= field.axes[side].bar / 2.0 + 1e-9;
                assert!(bars.iter().any(|bar| bar.ears[0] > 0 && is_held(bar)), "{value}");
            }
        }
    }

    #[test]
    fn steps_are_nice() {
        for (least, step) in [(0.013, 0.02), (1.0, 1.0), (1.1, 2.0), (4.0, 5.0), (60.0, 100.0)] {
            assert!(
                (nice(least) - step).abs() < 1e-9 * step,
                "{least}: {}",
                nice(least)
            );
        }
    }

    #[test]
    fn the_nearest_mark_is_hit_and_only_when_near() {
        let field = usual(&[standing(1, Some(80)), standing(2, Some(90))]);
        let scale = [1.0, 0.1];
        assert_eq!(field.nearest([80.4, -10.0], scale), Some(0));
        assert_eq!(field.nearest([89.8, -5.0], scale), Some(1));
        assert_eq!(field.nearest([85.0, -10.0], scale), None);
    }

    #[test]
    fn the_way_goes_to_the_nearest_in_the_direction_and_every_mark_is_reached() {
        let mut field = usual(&[1, 2, 3, 4].map(|number| standing(number, Some(80))));
        field.spots = vec![[0.0, 0.0], [10.0, 1.0], [2.0, 9.0], [-3.0, -30.0]];
        let go = |from, direction| field.toward(from, direction, [1.0, 1.0], |_| true);
        assert_eq!(go(0, [1.0, 0.0]), Some(1));
        assert_eq!(go(0, [0.0, 1.0]), Some(2));
        // Nothing lies within 45 degrees to the left, but one ear lies on that side.
        assert_eq!(go(0, [-1.0, 0.0]), Some(3));
        assert_eq!(go(3, [-1.0, 0.0]), None);
        assert_eq!(
            field.toward(0, [1.0, 0.0], [1.0, 1.0], |i| i != 1),
            Some(2),
            "what is hidden is passed over"
        );
        assert_eq!(go(9, [1.0, 0.0]), None);
    }

    #[test]
    fn a_rectangle_holds_what_lies_between_its_corners_from_any_corner() {
        let field = usual(&[
            standing(1, Some(80)),
            standing(2, Some(90)),
            standing(3, Some(100)),
        ]);
        let inside = |a, b| field.inside(a, b).collect::<Vec<_>>();
        assert_eq!(inside([79.0, -12.0], [91.0, 0.0]), [0, 1]);
        assert_eq!(inside([91.0, 0.0], [79.0, -12.0]), [0, 1]);
        assert_eq!(inside([79.0, 0.0], [101.0, 50.0]), Vec::<usize>::new());
    }

    #[test]
    fn a_closed_curve_holds_what_is_inside_an_odd_number_of_turns() {
        let hook = [
            [0.0, 0.0],
            [9.0, 0.0],
            [9.0, 9.0],
            [6.0, 9.0],
            [6.0, 3.0],
            [0.0, 3.0],
        ];
        assert!(is_enclosed([1.0, 1.0], &hook) && is_enclosed([8.0, 8.0], &hook));
        assert!(!is_enclosed([1.0, 8.0], &hook), "the bay is outside");
        assert!(!is_enclosed([-1.0, 3.0], &hook), "level with a corner");
        // The five-pointed star in one stroke: its middle is inside twice.
        let star = [0.0, 144.0, 288.0, 72.0, 216.0].map(|degrees: f64| {
            let turn = degrees.to_radians();
            [turn.sin(), turn.cos()]
        });
        assert!(is_enclosed([0.0, 0.8], &star) && !is_enclosed([0.0, 0.0], &star));
        for empty in [&[][..], &[[1.0, 1.0]], &[[0.0, 0.0], [4.0, 4.0]]] {
            assert!(!is_enclosed([1.0, 1.0], empty), "{empty:?}");
        }
        let field = usual(&[standing(1, Some(80)), standing(2, Some(90))]);
        let around = [[85.0, -20.0], [95.0, -10.0], [85.0, 0.0]];
        assert_eq!(field.enclosed(&around).collect::<Vec<_>>(), [1]);
    }
}

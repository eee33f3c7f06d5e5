//! Where each ear lies in the plot of Selection: geometry in days and percent, for the window and for pictures.

use super::{Choice, Estimates, Standing, Vertical};
use crate::model::{EarId, Stand};
use crate::stats::Cutoff;
use std::collections::BTreeMap;

/// Half of the room that ears with equal figures may take, in days and percent. Days are whole numbers, so less
/// than half a day keeps every ear on its own day.
const PILE_HALF: [f64; 2] = [0.40, 3.6];
/// Distance between neighbours of a pile, in days and percent, while there is room.
const PILE_STEP: [f64; 2] = [0.30, 2.0];
/// Height of the strip of ears that were not scored, and the middle of it, in percent.
const STRIP: [f64; 3] = [-16.0, -10.0, -4.0];

/// Where the ears of a season lie; in the order of the standings of their choice.
///
/// Ears with equal figures would hide each other. They are spread by less than half a day and by at most 3.6
/// percent around the place of their figures, in rows like the eyes of dice, by ear number. That is only drawn; no
/// figure is changed by it.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Field {
    /// Place of each ear, in days and percent.
    pub spots: Vec<[f64; 2]>,
    /// Least and most maturity days of all ears; a range that can be drawn even when no ear has any.
    pub days: [f64; 2],
    /// Left end, middle and right end of the strip of ears without maturity days, if there are any.
    pub side_strip: Option<[f64; 3]>,
    /// How many ears lie in it.
    pub without_days: usize,
    /// Bottom, middle and top of the strip of ears that were not scored, if there are any.
    pub bottom_strip: Option<[f64; 3]>,
}

impl Field {
    /// Lays out the ears of a choice; the cutoffs do not matter.
    pub fn new(standings: &[Standing], vertical: Vertical) -> Self {
        let days = day_range(standings);
        let without_days = standings
            .iter()
            .filter(|standing| standing.maturity_days.is_none())
            .count();
        let room = (days[1] - days[0]).max(4.0);
        let side_strip = (without_days > 0).then(|| {
            let left = days[1] + 0.6 + room * 0.02;
            let right = left + room * 0.09;
            [left, f64::midpoint(left, right), right]
        });
        let bottom_strip = standings
            .iter()
            .any(|standing| standing.estimate.is_none())
            .then_some(STRIP);

        let place = |standing: &Standing| {
            let x = standing
                .maturity_days
                .map_or_else(|| side_strip.map_or(days[1], |strip| strip[1]), f64::from);
            [x, percent_of(standing, vertical).unwrap_or(STRIP[1])]
        };
        let mut piles: BTreeMap<[u64; 2], Vec<usize>> = BTreeMap::new();
        for (i, standing) in standings.iter().enumerate() {
            piles
                .entry(place(standing).map(f64::to_bits))
                .or_default()
                .push(i);
        }
        let mut spots = vec![[0.0; 2]; standings.len()];
        let side_half = side_strip.map_or(PILE_HALF[0], |strip| 0.42 * (strip[2] - strip[0]));
        for pile in piles.values() {
            for (nth, i) in pile.iter().enumerate() {
                let standing = &standings[*i];
                let mut half = PILE_HALF;
                if standing.maturity_days.is_none() {
                    half[0] = side_half;
                }
                let at = place(standing);
                let by = offset(
                    nth,
                    pile.len(),
                    half,
                    [PILE_STEP[0] * half[0] / PILE_HALF[0], PILE_STEP[1]],
                );
                spots[*i] = [at[0] + by[0], at[1] + by[1]];
            }
        }
        Self {
            spots,
            days,
            side_strip,
            without_days,
            bottom_strip,
        }
    }

    /// Left, right, bottom and top of what the plot shows at first.
    pub fn bounds(&self) -> [f64; 4] {
        let right = self.side_strip.map_or(self.days[1] + 1.0, |strip| strip[2]);
        let bottom = self.bottom_strip.map_or(-5.0, |strip| strip[0]);
        [self.days[0] - 1.0, right, bottom, 105.0]
    }

    /// Finds the ear nearest to a point, within one unit of the scale: `scale` is the length of a day and of a
    /// percent in that unit.
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

    /// Gives the ears whose marks lie in the rectangle between two corners.
    pub fn inside(&self, a: [f64; 2], b: [f64; 2]) -> impl Iterator<Item = usize> + '_ {
        let within = move |value: f64, i: usize| (a[i].min(b[i])..=a[i].max(b[i])).contains(&value);
        self.spots
            .iter()
            .enumerate()
            .filter(move |(_, spot)| within(spot[0], 0) && within(spot[1], 1))
            .map(|(i, _)| i)
    }
}

/// The percent of an ear on the vertical axis; `None` when it was not scored.
pub fn percent_of(standing: &Standing, vertical: Vertical) -> Option<f64> {
    standing.estimate.as_ref().map(|estimate| match vertical {
        Vertical::Observed => estimate.observed_percent,
        Vertical::Likely => estimate.likely_percent,
    })
}

fn day_range(standings: &[Standing]) -> [f64; 2] {
    let days = || standings.iter().filter_map(|standing| standing.maturity_days);
    match (days().min(), days().max()) {
        (Some(least), Some(most)) => [f64::from(least), f64::from(most.max(least + 1))],
        _ => [80.0, 100.0],
    }
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

/// How many ears have which figures, for the distributions at the plot's edges.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Edges {
    /// Around each multiple of 5 percent from 0 to 100: all ears and the kept ones.
    pub percents: Vec<[u32; 2]>,
    /// For each day from the least on: all ears and the kept ones.
    pub days: Vec<[u32; 2]>,
}

impl Edges {
    /// Counts the ears of a choice.
    pub fn new(choice: &Choice, field: &Field, vertical: Vertical) -> Self {
        let bins = (field.days[1] - field.days[0]) as usize + 1;
        let mut edges = Self {
            percents: vec![[0; 2]; 21],
            days: vec![[0; 2]; bins],
        };
        for standing in &choice.standings {
            let kept = u32::from(standing.stand == Stand::Plant);
            let count = |bin: &mut [u32; 2]| {
                bin[0] += 1;
                bin[1] += kept;
            };
            if let Some(percent) = percent_of(standing, vertical) {
                count(&mut edges.percents[((percent / 5.0).round() as usize).min(20)]);
            }
            if let Some(days) = standing.maturity_days {
                count(&mut edges.days[(f64::from(days) - field.days[0]) as usize]);
            }
        }
        edges
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

    fn standing(number: u32, days: Option<u16>) -> Standing {
        Standing {
            ear: EarId(number),
            number,
            row: None,
            stand: Stand::NotScored,
            probability: None,
            estimate: None,
            maturity_days: days,
            kernels: None,
            why: Vec::new(),
        }
    }

    fn assert_at(spot: [f64; 2], expected: [f64; 2]) {
        let is_near = spot.iter().zip(expected).all(|(a, b)| (a - b).abs() < 1e-9);
        assert!(is_near, "{spot:?} is not {expected:?}");
    }

    #[test]
    fn equal_ears_lie_apart_and_stay_on_their_day() {
        for count in [1, 2, 3, 5, 7, 12, 40, 1000] {
            let places: Vec<[f64; 2]> = (0..count)
                .map(|nth| offset(nth, count, PILE_HALF, PILE_STEP))
                .collect();
            for (i, a) in places.iter().enumerate() {
                assert!(
                    a[0].abs() <= PILE_HALF[0] + 1e-9 && a[1].abs() <= PILE_HALF[1] + 1e-9,
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
        assert_at(offset(0, 1, PILE_HALF, PILE_STEP), [0.0, 0.0]);
    }

    #[test]
    fn every_ear_has_a_place_with_and_without_figures() {
        let ears = [standing(1, Some(80)), standing(2, Some(90)), standing(3, None)];
        let field = Field::new(&ears, Vertical::Observed);
        assert_at(field.days, [80.0, 90.0]);
        assert_eq!(field.without_days, 1);
        let [left, middle, right] = field.side_strip.unwrap();
        assert!(90.0 < left && left < middle && middle < right);
        assert_at(field.spots[0], [80.0, STRIP[1]]);
        assert_at(field.spots[2], [middle, STRIP[1]]);
        let bounds = field.bounds();
        for spot in &field.spots {
            assert!(bounds[0] < spot[0] && spot[0] < bounds[1] && bounds[2] < spot[1] && spot[1] < bounds[3]);
        }
        let none = Field::new(&[], Vertical::Likely);
        assert!(none.days[0] < none.days[1]);
    }

    #[test]
    fn the_nearest_mark_is_hit_and_only_when_near() {
        let ears = [standing(1, Some(80)), standing(2, Some(90))];
        let field = Field::new(&ears, Vertical::Observed);
        let scale = [1.0, 0.1];
        assert_eq!(field.nearest([80.4, -10.0], scale), Some(0));
        assert_eq!(field.nearest([89.8, -5.0], scale), Some(1));
        assert_eq!(field.nearest([85.0, -10.0], scale), None);
    }

    #[test]
    fn a_rectangle_holds_what_lies_between_its_corners_from_any_corner() {
        let ears = [
            standing(1, Some(80)),
            standing(2, Some(90)),
            standing(3, Some(100)),
        ];
        let field = Field::new(&ears, Vertical::Observed);
        let inside = |a, b| field.inside(a, b).collect::<Vec<_>>();
        assert_eq!(inside([79.0, -12.0], [91.0, 0.0]), [0, 1]);
        assert_eq!(inside([91.0, 0.0], [79.0, -12.0]), [0, 1]);
        assert_eq!(inside([79.0, 0.0], [101.0, 50.0]), Vec::<usize>::new());
    }
}

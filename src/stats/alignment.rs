//! Whether two counts of the places of a tray belong together as they were written down, or fit much better when one
//! of them is moved: by one place, turned, mirrored, or with two places, or two whole trays, changed for each other.
//!
//! A final count tells what the early count of the same place is likely to have been; that of another place tells
//! next to nothing. With `L` the probability of all early counts given the final ones, each way of moving them has a
//! ratio `L(moved) / L(as it stands)`, whose expectation is 1 where nothing is wrong. So has the mean of the ratios
//! over all ways, weighed by what is likely to happen, so it reaches [`ALARM`] in at most one sound tray of `ALARM`
//! (Markov's inequality; an e-value, Vovk and Wang 2021, Ann. Stat. 49:1736, from memory). How often it does in
//! truth is simulated in `tests/stats_alignment.rs`: in less than 1 of 100 sound trays of 30 places with 10 kernels,
//! while 3 of 4 rows shifted by one, and all trays that are turned, are found.

use std::collections::BTreeMap;
use std::ops::Range;

use super::beta_binomial::FEWEST_UNITS;
use super::{Counts, Fit, Prior, WeakReason, fit};

/// The mean ratio from which on a tray is called misread. One sound tray in so many is a bound that is seldom reached:
/// fewer than one in a hundred are called misread where it was simulated.
pub const ALARM: f64 = 5.0;

/// Trays with more places than this are not looked at: no container holds so many.
const MOST_PLACES: usize = 1000;
/// More than so many faults are not looked for in one tray.
const MOST_FAULTS: usize = 8;
/// Of more trays than these no pairs are tried: where so many do not fit themselves, something else is wrong.
const MOST_STRANGERS: usize = 24;
/// Fewer places than this in a row are not called shifted: two that are changed for each other are a swap.
const FEWEST_SHIFTED: usize = 3;
/// The weights of the ways, which add up to one: a whole row or tray moved by one, a part of a row or tray moved by
/// one, a half turn, left for right, top for bottom, two places changed for each other. Common practice, no source.
const WEIGHTS: [f64; 6] = [0.30, 0.25, 0.10, 0.05, 0.05, 0.25];
/// One early count in a hundred does not follow from its final count (a slip, a seedling that rotted away), as well
/// known as from so many places. Common practice, no source.
const SLIPS: [f64; 2] = [0.01, 50.0];
/// So many of these are seedlings that rotted away, one rotten one being three times as likely as one more; in the
/// others every early count is as likely as any other. Common practice, no source.
const ROTTED: [f64; 2] = [0.8, 1.0 / 3.0];
/// How many kernels what is usual in all trays weighs in one of them.
const USUAL_KERNELS: f64 = 20.0;

/// Two counts of one place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Twice {
    /// Its row in the tray, from 1.
    pub row: u32,
    /// Its column in the tray, from 1.
    pub column: u32,
    /// Kernels sown.
    pub sown: u32,
    /// Kernels of the early count.
    pub early: u32,
    /// Kernels of the final count; `None` where it is still to be made.
    pub last: Option<u32>,
}

/// How early counts follow from final ones, in all trays of a test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Habit {
    /// The share of the finally counted kernels that were there early.
    of_last: Prior,
    /// The share of the sown kernels that were there early.
    of_sown: Prior,
    /// The share of places whose early count does not follow from the final one.
    slips: f64,
}

impl Habit {
    /// Learns it from all places; `None` where too few have both counts, or where the early counts tell nothing,
    /// all being none or all.
    pub fn of(places: impl Iterator<Item = Twice>) -> Option<Self> {
        let (mut of_last, mut of_sown) = (Vec::new(), Vec::new());
        let mut above = 0.0;
        for place in places {
            let early = place.early.min(place.sown);
            of_sown.extend(Counts::new(early, place.sown));
            if let Some(last) = place.last {
                above += f64::from(u8::from(place.early > last));
                of_last.extend(Counts::new(place.early.min(last), last));
            }
        }
        let usable = |counts: &[Counts]| match fit(counts) {
            Fit::WeakPrior {
                reason: WeakReason::AllZero | WeakReason::AllFull | WeakReason::NothingObserved,
                ..
            } => None,
            found => Some(found.prior()),
        };
        if of_last.len() < FEWEST_UNITS {
            return None;
        }
        let [share, places] = SLIPS;
        Some(Self {
            of_last: usable(&of_last)?,
            of_sown: usable(&of_sown)?,
            slips: (share * places + above) / (places + of_last.len() as f64),
        })
    }
}

/// How the counts of a tray were moved against each other. Places are indices into the slice that was looked at.
/// Each way says how to mend it: which place's final count belongs to which place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum How {
    /// By one place.
    Shift {
        /// The first place of those that are wrong.
        first: usize,
        /// Where a final count belongs: to the next place, or to the one before.
        to_next: bool,
        /// Whether it reaches to the end of the tray, or only of the row.
        to_end_of_tray: bool,
        /// Whether the one that falls off at one end belongs to the other.
        round: bool,
    },
    /// Turned by half a turn.
    Turn,
    /// Left taken for right.
    MirrorColumns,
    /// Top taken for bottom.
    MirrorRows,
    /// Two places changed for each other.
    Swap(usize, usize),
}

impl How {
    /// Each place whose final count is another one once this is mended, and the place from which it comes; none where
    /// it comes from outside.
    pub fn moves(self, tray: &[Twice], size: [u32; 2]) -> Vec<(usize, Option<usize>)> {
        match self {
            Self::Shift {
                first,
                to_next,
                to_end_of_tray,
                round,
            } => {
                let Some(begin) = tray.get(first) else {
                    return Vec::new();
                };
                let end = (first..tray.len())
                    .find(|place| !to_end_of_tray && tray[*place].row != begin.row)
                    .unwrap_or(tray.len());
                let mut moves = shifted(first..end, to_next);
                let fallen = if to_next { end - 1 } else { first };
                for (_, source) in moves.iter_mut().filter(|_| round) {
                    *source = source.or(Some(fallen));
                }
                moves
            }
            Self::Swap(a, b) => vec![(a, Some(b)), (b, Some(a))],
            Self::Turn | Self::MirrorColumns | Self::MirrorRows => {
                let [rows, columns] = size;
                let place_of: BTreeMap<(u32, u32), usize> = (0..)
                    .zip(tray)
                    .map(|(place, twice)| ((twice.row, twice.column), place))
                    .collect();
                let image = |twice: &Twice| {
                    let row = if self == Self::MirrorColumns {
                        twice.row
                    } else {
                        (rows + 1).saturating_sub(twice.row)
                    };
                    let column = if self == Self::MirrorRows {
                        twice.column
                    } else {
                        (columns + 1).saturating_sub(twice.column)
                    };
                    place_of.get(&(row, column)).copied()
                };
                (0..)
                    .zip(tray)
                    .map(|(place, twice)| (place, image(twice)))
                    .collect()
            }
        }
    }
}

/// The moves of a shift; what falls off at one end is lost.
fn shifted(places: Range<usize>, to_next: bool) -> Vec<(usize, Option<usize>)> {
    let inside = places.clone();
    let source = |place: usize| {
        if to_next {
            place.checked_sub(1)
        } else {
            Some(place + 1)
        }
    };
    places
        .map(|place| (place, source(place).filter(|source| inside.contains(source))))
        .collect()
}

/// A fault that was found.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Misread {
    /// How the counts were moved.
    pub how: How,
    /// How much likelier the early counts are once it is mended: the logarithm of the ratio.
    pub ln_likelier: f64,
    /// The mean ratio over all ways; at least [`ALARM`].
    pub evidence: f64,
}

/// Looks for faults in a tray of so many rows and columns, its places given in reading order. The likeliest fault is
/// taken for mended before the next one is looked for.
pub fn misreads(habit: &Habit, tray: &[Twice], size: [u32; 2]) -> Vec<Misread> {
    let mut found: Vec<Misread> = Vec::new();
    if tray.len() > MOST_PLACES || tray.iter().all(|place| place.last.is_none()) {
        return found;
    }
    let ways = ways(tray, size);
    let mut fitting = Fitting::new(habit, tray);
    while found.len() < MOST_FAULTS {
        let Some(fault) = fitting.likeliest(&ways, tray.len()) else {
            break;
        };
        if fault.evidence.is_nan() || fault.evidence < ALARM || found.iter().any(|one| one.how == fault.how) {
            break;
        }
        fitting.mend(&fault.how.moves(tray, size));
        found.push(fault);
    }
    found
}

/// How much better the early counts of a tray follow from its final ones than from none: the logarithm of the ratio of
/// likelihoods. Below zero the two counts look like those of two different trays.
pub fn belonging(habit: &Habit, tray: &[Twice]) -> f64 {
    let fitting = Fitting::new(habit, tray);
    let places = (0..tray.len()).filter(|place| tray[*place].last.is_some());
    places
        .map(|place| fitting.ln(place, Some(place)) - fitting.ln(place, None))
        .sum()
}

/// Two trays whose final counts look as if each were written down for the other.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SwappedTrays {
    /// The place of the first of them among those looked at.
    pub first: usize,
    /// The place of the second.
    pub second: usize,
    /// How much likelier their early counts are once they are changed for each other: the logarithm of the ratio.
    pub ln_likelier: f64,
    /// The mean ratio over all pairs of trays; at least [`ALARM`].
    pub evidence: f64,
}

/// Looks for pairs of trays that were changed for each other between the two counts. `strangers` are the trays, each
/// with its rows and columns, to which their own counts do not belong ([`belonging`] below zero) of so many `trays` of the
/// test: with the others it is not worth trying, and leaving them out only lowers the mean ratio over all pairs. The
/// likeliest pair is taken out before the next one is looked for. A ring of three trays is not looked for.
pub fn swapped_trays(habit: &Habit, strangers: &[(&[Twice], [u32; 2])], trays: usize) -> Vec<SwappedTrays> {
    let trays = trays.max(strangers.len()) as f64;
    let share = 2.0 / (trays * (trays - 1.0)).max(2.0);
    let mut pairs = Vec::new();
    for (first, (one, size)) in strangers.iter().enumerate().take(MOST_STRANGERS) {
        for (second, (two, other)) in strangers.iter().enumerate().take(MOST_STRANGERS).skip(first + 1) {
            let has_final = |tray: &[Twice]| tray.iter().any(|place| place.last.is_some());
            if size == other && has_final(one) && has_final(two) {
                let both = [*one, *two].concat();
                let gain = Fitting::new(habit, &both).gain(&across(one, two));
                pairs.push((first, second, gain));
            }
        }
    }
    let mut found = Vec::new();
    loop {
        let evidence: f64 = pairs.iter().map(|(.., gain)| share * gain.exp()).sum();
        let best = pairs.iter().copied().max_by(|a, b| a.2.total_cmp(&b.2));
        let Some((first, second, ln_likelier)) = best.filter(|_| evidence >= ALARM) else {
            return found;
        };
        found.push(SwappedTrays {
            first,
            second,
            ln_likelier,
            evidence,
        });
        let is_free = |tray: usize| tray != first && tray != second;
        pairs.retain(|(one, two, _)| is_free(*one) && is_free(*two));
    }
}

/// The moves that change the final counts of two trays for each other, the places of the second behind those of the
/// first.
pub fn across(first: &[Twice], second: &[Twice]) -> Vec<(usize, Option<usize>)> {
    let places_of = |tray: &[Twice], from: usize| -> BTreeMap<(u32, u32), usize> {
        let numbered = (from..).zip(tray);
        numbered
            .map(|(place, twice)| ((twice.row, twice.column), place))
            .collect()
    };
    let (of_first, of_second) = (places_of(first, 0), places_of(second, first.len()));
    let here = first
        .iter()
        .map(|twice| of_second.get(&(twice.row, twice.column)).copied());
    let there = second
        .iter()
        .map(|twice| of_first.get(&(twice.row, twice.column)).copied());
    (0..).zip(here.chain(there)).collect()
}

type Way = (How, Vec<(usize, Option<usize>)>);

/// All ways but the swaps, by their weights.
fn ways(tray: &[Twice], size: [u32; 2]) -> [Vec<Way>; 5] {
    let mut ways: [Vec<How>; 5] = Default::default();
    for (first, place) in tray.iter().enumerate() {
        let begins_row = first == 0 || tray[first - 1].row != place.row;
        for to_end_of_tray in [false, true] {
            // From the last row on both ends are the same.
            if to_end_of_tray && tray[tray.len() - 1].row == place.row {
                continue;
            }
            let is_whole = begins_row && (!to_end_of_tray || first == 0);
            for (to_next, round) in [(false, false), (false, true), (true, false), (true, true)] {
                ways[usize::from(!is_whole)].push(How::Shift {
                    first,
                    to_next,
                    to_end_of_tray,
                    round,
                });
            }
        }
    }
    ways[2].push(How::Turn);
    ways[3].push(How::MirrorColumns);
    ways[4].push(How::MirrorRows);
    ways.map(|ways| {
        let with_moves = ways.into_iter().map(|how| (how, how.moves(tray, size)));
        with_moves
            .filter(|(how, moves)| !matches!(how, How::Shift { .. }) || moves.len() >= FEWEST_SHIFTED)
            .collect()
    })
}

/// How well every early count fits every final count.
struct Fitting {
    /// Kinds of places by their early count and sown kernels, and of each place the kind.
    early: Vec<usize>,
    /// Of each place the kind of its final count; the last kind is none.
    last: Vec<usize>,
    kinds_of_last: usize,
    /// Logarithms of probabilities by kind of early and kind of final count.
    ln: Vec<f64>,
    /// The place whose final count each place has by now.
    at: Vec<Option<usize>>,
}

impl Fitting {
    fn new(habit: &Habit, tray: &[Twice]) -> Self {
        let with_last = || tray.iter().filter_map(|place| Some((place.early, place.last?)));
        let early: f64 = with_last().map(|(early, _)| f64::from(early)).sum();
        let last: f64 = with_last().map(|(_, last)| f64::from(last)).sum();
        // A tray may be as a whole earlier or later than the others.
        let usual = habit.of_last.mean();
        let mean = ((early + USUAL_KERNELS * usual) / (last + USUAL_KERNELS)).clamp(0.01, 0.99);
        let of_last = Prior::around(mean, habit.of_last.strength());
        let mut earlies: Vec<(u32, u32)> = tray.iter().map(|place| (place.early, place.sown)).collect();
        let mut lasts: Vec<u32> = with_last().map(|(_, last)| last).collect();
        earlies.sort_unstable();
        earlies.dedup();
        lasts.sort_unstable();
        lasts.dedup();
        let kinds_of_last = lasts.len() + 1;
        let mut ln = vec![0.0; earlies.len() * kinds_of_last];
        for (kind, last) in lasts.iter().enumerate() {
            let mass = masses(*last, of_last);
            for (row, (early, sown)) in earlies.iter().enumerate() {
                let follows = mass.get(*early as usize).copied().unwrap_or(0.0);
                let slip = slip(*early, *last, *sown);
                ln[row * kinds_of_last + kind] = ((1.0 - habit.slips) * follows + habit.slips * slip).ln();
            }
        }
        for (row, (early, sown)) in earlies.iter().enumerate() {
            let alone = masses((*sown).max(*early), habit.of_sown);
            ln[row * kinds_of_last + lasts.len()] = alone[*early as usize].max(f64::MIN_POSITIVE).ln();
        }
        let kind = |place: &Twice| earlies.binary_search(&(place.early, place.sown)).unwrap_or(0);
        let kind_of_last = |place: &Twice| {
            let known = place.last.and_then(|last| lasts.binary_search(&last).ok());
            known.unwrap_or(lasts.len())
        };
        Self {
            early: tray.iter().map(kind).collect(),
            last: tray.iter().map(kind_of_last).collect(),
            kinds_of_last,
            ln,
            at: (0..tray.len()).map(Some).collect(),
        }
    }

    /// The fit of a place's early count to the final count that a place has by now.
    fn ln(&self, place: usize, source: Option<usize>) -> f64 {
        let source = source.and_then(|source| self.at[source]);
        let kind = source.map_or(self.kinds_of_last - 1, |source| self.last[source]);
        self.ln[self.early[place] * self.kinds_of_last + kind]
    }

    fn gain(&self, moves: &[(usize, Option<usize>)]) -> f64 {
        moves
            .iter()
            .map(|&(place, source)| self.ln(place, source) - self.ln(place, Some(place)))
            .sum()
    }

    fn mend(&mut self, moves: &[(usize, Option<usize>)]) {
        let before = self.at.clone();
        for &(place, source) in moves {
            self.at[place] = source.and_then(|source| before[source]);
        }
    }

    fn likeliest(&self, ways: &[Vec<Way>; 5], places: usize) -> Option<Misread> {
        let mut evidence = 0.0;
        let mut best: Option<(f64, How, f64)> = None;
        let mut weigh = |share: f64, how: How, gain: f64| {
            evidence += share * gain.exp();
            let weighed = share.ln() + gain;
            if best.is_none_or(|(most, ..)| weighed > most) {
                best = Some((weighed, how, gain));
            }
        };
        for (ways, weight) in ways.iter().zip(WEIGHTS) {
            let share = weight / ways.len() as f64;
            for (how, moves) in ways {
                weigh(share, *how, self.gain(moves));
            }
        }
        let pairs = 0.5 * places as f64 * (places as f64 - 1.0);
        for a in 0..places {
            for b in a + 1..places {
                let gain = self.gain(&[(a, Some(b)), (b, Some(a))]);
                weigh(WEIGHTS[5] / pairs, How::Swap(a, b), gain);
            }
        }
        best.map(|(_, how, ln_likelier)| Misread {
            how,
            ln_likelier,
            evidence,
        })
    }
}

/// The probability of an early count that does not follow from the final one.
fn slip(early: u32, last: u32, sown: u32) -> f64 {
    let [rotted, one_more] = ROTTED;
    let any = (1.0 - rotted) / (f64::from(sown.max(early)) + 1.0);
    match early.checked_sub(last) {
        Some(lost) if lost > 0 => any + rotted * (1.0 - one_more) * one_more.powf(f64::from(lost - 1)),
        _ => any,
    }
}

/// The probability of each count of `n` when the rate is a draw from a beta distribution.
fn masses(n: u32, of: Prior) -> Vec<f64> {
    let (alpha, beta) = (of.alpha(), of.beta());
    let none = (0..n)
        .map(|r| {
            let r = f64::from(r);
            ((beta + r) / (alpha + beta + r)).ln()
        })
        .sum::<f64>();
    let mut ln_mass = none;
    let mut found = Vec::with_capacity(n as usize + 1);
    for k in 0..=n {
        found.push(ln_mass.exp());
        let (k, left) = (f64::from(k), f64::from(n - k));
        ln_mass += (left * (alpha + k) / ((k + 1.0) * (beta + left - 1.0))).ln();
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::beta::assert_close;

    #[test]
    fn masses_are_those_of_the_beta_binomial() {
        // Beta(2, 3), 4 trials: C(4, k) B(2 + k, 7 - k) / B(2, 3), by hand: 15, 20, 18, 12, 5 of 70.
        let found = masses(4, Prior::new(2.0, 3.0).unwrap());
        for (found, expected) in found.iter().zip([15.0, 20.0, 18.0, 12.0, 5.0]) {
            assert_close(*found, expected / 70.0, 1e-12);
        }
        assert_eq!(masses(0, Prior::new(2.0, 3.0).unwrap()), [1.0]);
    }

    #[test]
    fn mending_twice_is_mending_the_mended() {
        let place = |column: u32, early: u32, last: u32| Twice {
            row: 1,
            column,
            sown: 10,
            early,
            last: Some(last),
        };
        let tray: Vec<Twice> = (1..=10)
            .map(|at| place(at, at % 7, (at % 7 + 2).min(9)))
            .collect();
        let habit = Habit::of(tray.iter().copied()).unwrap();
        let mut fitting = Fitting::new(&habit, &tray);
        let round = |to_next| How::Shift {
            first: 0,
            to_next,
            to_end_of_tray: false,
            round: true,
        };
        let to_next = round(true).moves(&tray, [1, 10]);
        let back = round(false).moves(&tray, [1, 10]);
        assert_eq!((to_next[0], back[9]), ((0, Some(9)), (9, Some(0))));
        let gain = fitting.gain(&to_next);
        fitting.mend(&to_next);
        assert_close(fitting.gain(&back), -gain, 1e-12);
        fitting.mend(&back);
        assert_eq!(fitting.at, (0..10).map(Some).collect::<Vec<_>>());
    }
}

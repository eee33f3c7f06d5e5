//! Where each ear stands under a set of cutoffs, and what the choice costs and buys.

use super::estimates::{Estimate, Estimates};
use super::sowing::Wanted;
use super::words::{are, percent, plural};
use crate::model::{Cutoffs, EarId, Limits, Project, RowId, SeasonId, Stand, TraitId, Word, WordKind};
use crate::stats::{Cutoff, effective_number};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// What is known of one ear, whatever the cutoffs.
#[derive(Debug)]
pub(super) struct Fact {
    pub(super) ear: EarId,
    pub(super) number: u32,
    row: Option<RowId>,
    pub(super) maturity_days: Option<u16>,
    pub(super) estimate: Option<Estimate>,
    kernels: Option<i64>,
    /// Values of the project's traits.
    pub(super) values: BTreeMap<TraitId, f64>,
}

/// What is known of the ears of a season, by number, and the place of each.
#[derive(Debug)]
pub(super) struct Facts {
    facts: Vec<Fact>,
    places: Arc<BTreeMap<EarId, usize>>,
}

impl Facts {
    /// Gives the ears by number.
    pub(super) fn iter(&self) -> impl Iterator<Item = &Fact> {
        self.facts.iter()
    }
}

/// Collects what is known of the ears of a season.
pub(super) fn facts(project: &Project, season: SeasonId, estimates: &Estimates) -> Facts {
    let facts: Vec<Fact> = project
        .ears_of(season)
        .map(|ear| Fact {
            ear: ear.id,
            number: ear.number,
            row: ear.row,
            maturity_days: project.maturity_days(ear),
            estimate: estimates.of(ear.id).copied(),
            kernels: project.kernels_of(ear.id),
            values: ear.values.clone(),
        })
        .collect();
    let places = facts.iter().enumerate().map(|(place, fact)| (fact.ear, place));
    Facts {
        places: Arc::new(places.collect()),
        facts,
    }
}

/// Why an ear stands where it does.
#[derive(Debug, Clone, PartialEq)]
pub enum Reason {
    /// The grower gave a word about it.
    Word(Word),
    /// It has no final count, or all its kernels were missing.
    NotScored,
    /// It was not scored, but no cutoff asks for it.
    NotAsked,
    /// The probability that it reaches the cold germination cutoff.
    Germination {
        /// Where the probability alone puts it.
        stand: Stand,
        /// The cutoff in percent.
        percent: f64,
        /// The probability, 0 to 1.
        probability: f64,
        /// The sureness asked for, 0.5 to 0.99.
        sureness: f64,
    },
    /// A value is on the wrong side of a limit.
    Beyond {
        /// The limit.
        limit: Limit,
        /// The ear's value.
        value: f64,
    },
    /// A value that a limit asks for is not known.
    Unknown(Limit),
    /// Better ears of its mother row fill the cap.
    Cap {
        /// The most ears of one mother row.
        most: u16,
        /// The mother row.
        row: RowId,
    },
}

/// One plain limit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Limit {
    /// At most so many maturity days.
    MaturityAtMost(f64),
    /// At least such a vigor grade.
    VigorAtLeast(f64),
    /// At least such a value of a trait.
    TraitAtLeast(TraitId, f64),
    /// At most such a value of a trait.
    TraitAtMost(TraitId, f64),
}

impl Limit {
    fn fits(self, value: f64) -> bool {
        match self {
            Self::VigorAtLeast(least) | Self::TraitAtLeast(_, least) => value >= least,
            Self::MaturityAtMost(most) | Self::TraitAtMost(_, most) => value <= most,
        }
    }

    fn value(self, fact: &Fact) -> Option<f64> {
        match self {
            Self::MaturityAtMost(_) => fact.maturity_days.map(f64::from),
            Self::VigorAtLeast(_) => fact.estimate.and_then(|estimate| estimate.vigor),
            Self::TraitAtLeast(id, _) | Self::TraitAtMost(id, _) => fact.values.get(&id).copied(),
        }
    }

    /// Says the limit, such as `maturity at most 95 days`.
    pub fn text(self, project: &Project) -> String {
        let (what, side, bound) = match self {
            Self::MaturityAtMost(most) => return format!("maturity at most {most} days"),
            Self::VigorAtLeast(least) => return format!("vigor at least {least}"),
            Self::TraitAtLeast(id, least) => (id, "least", least),
            Self::TraitAtMost(id, most) => (id, "most", most),
        };
        match project.trait_of(what) {
            Some(known) if known.unit.is_empty() => format!("{} at {side} {bound}", known.name),
            Some(known) => format!("{} at {side} {bound} {}", known.name, known.unit),
            None => format!("trait {what} at {side} {bound}"),
        }
    }

    fn what(self, project: &Project) -> String {
        match self {
            Self::MaturityAtMost(_) => "maturity".to_owned(),
            Self::VigorAtLeast(_) => "vigor".to_owned(),
            Self::TraitAtLeast(id, _) | Self::TraitAtMost(id, _) => project.trait_of(id).map_or_else(
                || format!("value of trait {id}"),
                |known| format!("value of {}", known.name),
            ),
        }
    }
}

impl Reason {
    /// Says the reason in one sentence.
    pub fn sentence(&self, project: &Project) -> String {
        match self {
            Self::Word(word) => format!(
                "You said '{}': {}.",
                word.kind.name(),
                word.reason.trim_end_matches('.')
            ),
            Self::NotScored => "It has no final count.".to_owned(),
            Self::NotAsked => "It was not scored, and no cutoff asks for its cold germination.".to_owned(),
            Self::Germination {
                stand,
                percent: cutoff,
                probability,
                sureness,
            } => {
                let chance = chance(*probability);
                let only = if chance.starts_with("less") { "" } else { "only " };
                let cutoff = percent(*cutoff);
                let (yes, no) = (percent(100.0 * sureness), percent(100.0 * (1.0 - sureness)));
                match stand {
                    Stand::Plant => format!(
                        "Its cold germination is at least {cutoff} with a probability of {chance}; {yes} is enough."
                    ),
                    Stand::LeaveOut => format!(
                        "Its cold germination is at least {cutoff} with a probability of {only}{chance}; up to {no} it is left out."
                    ),
                    Stand::Retest | Stand::NotScored => format!(
                        "Its cold germination is at least {cutoff} with a probability of {chance}, between {no} and {yes}: too few kernels to tell."
                    ),
                }
            }
            Self::Beyond { limit, value } => {
                let value = match limit {
                    Limit::TraitAtLeast(id, _) | Limit::TraitAtMost(id, _) => project
                        .trait_of(*id)
                        .map_or_else(|| value.to_string(), |known| known.format(*value)),
                    Limit::MaturityAtMost(_) => format!("{value} days"),
                    Limit::VigorAtLeast(_) => format!("{value:.1}"),
                };
                format!(
                    "Its {} is {value}; the cutoff is {}.",
                    limit.what(project),
                    limit.text(project)
                )
            }
            Self::Unknown(limit) => format!(
                "Its {} is not known, but the cutoff is {}; note it, for until then the ear is not planted.",
                limit.what(project),
                limit.text(project)
            ),
            Self::Cap { most, row } => {
                let label = project.rows.get(*row).map_or("", |row| row.label.as_str());
                format!(
                    "At most {} of one mother row {} kept, and better ears of row {label} fill the number.",
                    plural(usize::from(*most), "ear"),
                    if *most == 1 { "is" } else { "are" },
                )
            }
        }
    }
}

/// A probability in percent, which rounding must not turn from 'almost' into 'certainly'.
pub fn chance(probability: f64) -> String {
    let text = 100.0 * probability;
    if text > 99.0 && text < 100.0 {
        "more than 99 %".to_owned()
    } else if text > 0.0 && text < 1.0 {
        "less than 1 %".to_owned()
    } else {
        format!("{text:.0} %")
    }
}

/// Where one ear stands, and why.
#[derive(Debug, Clone, PartialEq)]
pub struct Standing {
    /// The ear.
    pub ear: EarId,
    /// Its number.
    pub number: u32,
    /// Its mother row, if known.
    pub row: Option<RowId>,
    /// Where it stands.
    pub stand: Stand,
    /// The probability that its cold germination is at or above the cutoff, 0 to 1; `None` when it was not scored
    /// or no such cutoff is set.
    pub probability: Option<f64>,
    /// Its figures, if it was scored.
    pub estimate: Option<Estimate>,
    /// Days from planting to maturity, if known.
    pub maturity_days: Option<u16>,
    /// Kernels in its packets, if counted.
    pub kernels: Option<i64>,
    /// Why it stands there; the first reason decided.
    pub why: Vec<Reason>,
}

impl Standing {
    /// Says whether a value that a limit asks for is not known.
    pub fn lacks_a_value(&self) -> bool {
        self.why.iter().any(|reason| matches!(reason, Reason::Unknown(_)))
    }
}

/// What one cutoff does when all others are switched off.
#[derive(Debug, Clone, PartialEq)]
pub struct Alone {
    /// The cutoff.
    pub cutoff: CutoffKind,
    /// Ears that it leaves out, by itself.
    pub left_out: usize,
    /// Ears about which it cannot tell: to be tested again, or without the value that it asks for. Ears that were
    /// not scored are in neither number.
    pub undecided: usize,
}

/// A kind of cutoff.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum CutoffKind {
    /// Least cold germination, in percent.
    Germination(f64),
    /// A plain limit.
    Limit(Limit),
    /// Most ears of one mother row.
    Cap(u16),
}

impl CutoffKind {
    /// Says the cutoff, such as `cold germination at least 70 %`.
    pub fn text(self, project: &Project) -> String {
        match self {
            Self::Germination(least) => format!("cold germination at least {}", percent(least)),
            Self::Limit(limit) => limit.text(project),
            Self::Cap(most) => {
                format!("at most {} of one mother row", plural(usize::from(most), "ear"))
            }
        }
    }
}

impl Alone {
    /// Says what the cutoff does, such as `cold germination at least 70 %: leaves out 41 ears, cannot tell for 12`.
    pub fn sentence(&self, project: &Project) -> String {
        let cutoff = self.cutoff.text(project);
        let text = format!("{cutoff}: leaves out {}", plural(self.left_out, "ear"));
        match self.undecided {
            0 => text,
            undecided => format!("{text}, cannot tell for {undecided}"),
        }
    }
}

/// A mean over the kept ears and over all, each over the ears of which the value is known.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct KeptAndAll {
    /// Mean over the kept ears; `None` when it is known of none.
    pub kept: Option<f64>,
    /// Mean over all ears of the season.
    pub all: Option<f64>,
}

impl KeptAndAll {
    /// The mean of the kept less the mean of all.
    pub fn difference(&self) -> Option<f64> {
        Some(self.kept? - self.all?)
    }
}

/// What a choice costs and buys.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Summary {
    /// Ears of the season.
    pub ears: usize,
    /// Ears to plant.
    pub kept: usize,
    /// Ears to test again, or waiting for a value.
    pub retest: usize,
    /// How many of those to test again wait for a value that a limit asks for.
    pub waiting: usize,
    /// Ears left out.
    pub left_out: usize,
    /// Ears not scored.
    pub not_scored: usize,
    /// Mother rows of all ears; ears of unknown mother row are one group.
    pub mothers: usize,
    /// Mother rows of the kept ears; ears of unknown mother row are one group.
    pub mothers_kept: usize,
    /// Kept ears of unknown mother row.
    pub unknown_mother_kept: usize,
    /// `1 / sum(c^2)` over the shares of the mother rows, with equal kernels of every kept ear; 0 when none is kept.
    pub effective_mothers: f64,
    /// Mean observed percent of the ears.
    pub observed_percent: KeptAndAll,
    /// Mean likely percent of the ears.
    pub likely_percent: KeptAndAll,
    /// Mean maturity days.
    pub maturity_days: KeptAndAll,
    /// Ears whose own count reaches the cold germination cutoff, in whole numbers; `None` without that cutoff.
    pub counted_at_or_above: Option<usize>,
    /// How many of the kept are expected to be below the cold germination cutoff in truth: the sum of the
    /// probabilities. `None` without that cutoff.
    pub expected_below: Option<f64>,
    /// Kept ears that were not scored; `expected_below` says nothing of them.
    pub kept_not_scored: usize,
    /// Kernels that are to be planted of all kept ears together, when every packet has enough.
    pub kernels_wanted: u64,
    /// Kernels that can be planted without touching a remnant; ears whose kernels were never counted are left out.
    pub kernels_ready: u64,
    /// Kept ears whose packets hold too few kernels to plant and to keep back the remnant.
    pub short: Vec<EarId>,
    /// Kept ears whose kernels were never counted.
    pub uncounted: Vec<EarId>,
    /// Whether the kernels of each ear are reckoned for a wanted stand; otherwise they are equal or shared out.
    pub for_a_stand: bool,
    /// What each cutoff does by itself.
    pub alone: Vec<Alone>,
}

impl Summary {
    /// Says the choice in one line, such as `62 of 240 ears kept, 19 of 22 mothers`.
    pub fn sentence(&self) -> String {
        format!(
            "{} of {} kept, {} of {}",
            self.kept,
            plural(self.ears, "ear"),
            self.mothers_kept,
            plural(self.mothers, "mother")
        )
    }

    /// Says what must be known beside the figures, a sentence each; empty when nothing must.
    pub fn remarks(&self) -> Vec<String> {
        let mut remarks = Vec::new();
        let mut remark = |count: usize, one: &str, text: &str| {
            if count > 0 {
                remarks.push(format!("{} {text}.", are(count, one)));
            }
        };
        remark(
            self.unknown_mother_kept,
            "kept ear",
            "of unknown mother row; all such ears together count as one mother",
        );
        remark(
            self.waiting,
            "ear",
            "not planted only because a value that a cutoff asks for is missing",
        );
        remark(self.kept_not_scored, "kept ear", "without a final count");
        remark(
            self.short.len(),
            "kept ear",
            "short of kernels to plant and to keep back",
        );
        remark(self.uncounted.len(), "kept ear", "without a number of kernels");
        remarks
    }
}

/// Where all ears of a season stand under a set of cutoffs.
#[derive(Debug, Clone, PartialEq)]
pub struct Choice {
    /// The season.
    pub season: SeasonId,
    /// The cutoffs.
    pub cutoffs: Cutoffs,
    /// All ears of the season by number.
    pub standings: Vec<Standing>,
    /// What the choice costs and buys.
    pub summary: Summary,
    places: Arc<BTreeMap<EarId, usize>>,
}

impl Choice {
    /// Gives the standing of an ear; `None` when it is not of this season.
    pub fn of(&self, ear: EarId) -> Option<&Standing> {
        self.places.get(&ear).map(|place| &self.standings[*place])
    }

    /// Gives the kept ears by number.
    pub fn kept(&self) -> impl Iterator<Item = &Standing> {
        self.standings
            .iter()
            .filter(|standing| standing.stand == Stand::Plant)
    }
}

/// The cutoffs as they are applied. A cold germination outside 0 to 100 % counts as the nearest that is possible;
/// one that is not a number is no cutoff.
struct Rules {
    germination: Option<(Cutoff, f64)>,
    sureness: f64,
    limits: Vec<Limit>,
}

impl Rules {
    fn of(cutoffs: &Cutoffs) -> Self {
        let germination = cutoffs
            .germination_percent
            .and_then(|percent| Cutoff::from_percent(percent.clamp(0.0, 100.0)).ok())
            .map(|cutoff| (cutoff, cutoff.percent()));
        let mut limits = Vec::new();
        limits.extend(cutoffs.maturity_days.map(Limit::MaturityAtMost));
        limits.extend(cutoffs.vigor.map(Limit::VigorAtLeast));
        for (id, Limits { least, most }) in &cutoffs.traits {
            limits.extend(least.map(|least| Limit::TraitAtLeast(*id, least)));
            limits.extend(most.map(|most| Limit::TraitAtMost(*id, most)));
        }
        Self {
            germination,
            sureness: cutoffs.sureness,
            limits,
        }
    }

    fn stand_of(&self, probability: f64) -> Stand {
        if probability >= self.sureness {
            Stand::Plant
        } else if probability <= 1.0 - self.sureness {
            Stand::LeaveOut
        } else {
            Stand::Retest
        }
    }

    /// Says where an ear stands before the cap.
    ///
    /// A word goes above all. Then: an ear beyond a plain limit is left out; one that was not scored while
    /// germination or vigor is asked for is not scored; the probability decides; and an ear that would be planted
    /// but lacks a value that a limit asks for is held for retest, never planted and never dropped unseen.
    fn stand(&self, fact: &Fact, word: Option<&Word>, probability: Option<f64>) -> (Stand, Vec<Reason>) {
        let mut why = Vec::new();
        why.extend(word.cloned().map(Reason::Word));
        let mut beyond = false;
        let mut unknown = false;
        for limit in &self.limits {
            match limit.value(fact) {
                Some(value) if limit.fits(value) => {}
                Some(value) => {
                    beyond = true;
                    why.push(Reason::Beyond { limit: *limit, value });
                }
                None if fact.estimate.is_none() && matches!(limit, Limit::VigorAtLeast(_)) => {}
                None => {
                    unknown = true;
                    why.push(Reason::Unknown(*limit));
                }
            }
        }
        let vigor_asked = || {
            self.limits
                .iter()
                .any(|limit| matches!(limit, Limit::VigorAtLeast(_)))
        };
        let by_germination = match (self.germination, probability) {
            (Some((_, percent)), Some(probability)) => {
                let stand = self.stand_of(probability);
                let reason = Reason::Germination {
                    stand,
                    percent,
                    probability,
                    sureness: self.sureness,
                };
                // What decides comes first.
                let first = usize::from(word.is_some());
                let at = if beyond && stand != Stand::LeaveOut {
                    why.len()
                } else {
                    first
                };
                why.insert(at, reason);
                stand
            }
            _ if fact.estimate.is_some() => Stand::Plant,
            _ if self.germination.is_some() || vigor_asked() => {
                why.push(Reason::NotScored);
                Stand::NotScored
            }
            _ => {
                why.push(Reason::NotAsked);
                Stand::Plant
            }
        };
        let stand = match (word.map(|word| word.kind), by_germination) {
            (Some(WordKind::Always), _) => Stand::Plant,
            (Some(WordKind::Never | WordKind::Reserve), _) => Stand::LeaveOut,
            _ if beyond => Stand::LeaveOut,
            (None, Stand::Plant) if unknown => {
                why.sort_by_key(|reason| !matches!(reason, Reason::Unknown(_)));
                Stand::Retest
            }
            (None, stand) => stand,
        };
        (stand, why)
    }
}

/// What the choice reads beside the facts.
#[derive(Clone, Copy)]
pub(super) struct Given<'a> {
    pub(super) season: SeasonId,
    pub(super) cutoffs: &'a Cutoffs,
    pub(super) words: Option<&'a BTreeMap<EarId, Word>>,
    pub(super) wanted: &'a Wanted,
}

pub(super) fn compute(known: &Facts, estimates: &Estimates, given: &Given<'_>) -> Choice {
    let facts = &known.facts;
    let rules = Rules::of(given.cutoffs);
    // Ears with equal counts share a posterior, so there are far fewer probabilities than ears.
    let probabilities: Vec<Option<f64>> = estimates
        .posteriors
        .iter()
        .map(|posterior| {
            rules
                .germination
                .map(|(cutoff, _)| posterior.probability_at_least(cutoff))
        })
        .collect();
    let mut standings: Vec<Standing> = facts
        .iter()
        .map(|fact| {
            let word = given.words.and_then(|words| words.get(&fact.ear));
            let probability = fact
                .estimate
                .and_then(|estimate| probabilities[estimate.posterior]);
            let (stand, why) = rules.stand(fact, word, probability);
            Standing {
                ear: fact.ear,
                number: fact.number,
                row: fact.row,
                stand,
                probability,
                estimate: fact.estimate,
                maturity_days: fact.maturity_days,
                kernels: fact.kernels,
                why,
            }
        })
        .collect();
    if let Some(most) = given.cutoffs.cap_per_mother {
        cap(&mut standings, most);
    }
    let summary = summarize(facts, &standings, &rules, given);
    Choice {
        season: given.season,
        cutoffs: given.cutoffs.clone(),
        standings,
        summary,
        places: Arc::clone(&known.places),
    }
}

/// The choice as it would be with exactly these ears kept and all others left out.
pub(super) fn with_kept(known: &Facts, choice: &Choice, keep: &BTreeSet<EarId>, given: &Given<'_>) -> Choice {
    let mut standings = choice.standings.clone();
    for standing in &mut standings {
        standing.stand = if keep.contains(&standing.ear) {
            Stand::Plant
        } else {
            Stand::LeaveOut
        };
        standing.why.clear();
    }
    let summary = summarize(&known.facts, &standings, &Rules::of(given.cutoffs), given);
    Choice {
        standings,
        summary,
        ..choice.clone()
    }
}

/// Leaves out the weakest kept ears of each mother row that has more than the cap. Ears that the grower always
/// plants stay, and take their places first. Ears of unknown mother row are not known to be sisters, so no cap
/// applies to them.
fn cap(standings: &mut [Standing], most: u16) {
    let mut rows: BTreeMap<RowId, Vec<usize>> = BTreeMap::new();
    for (place, standing) in standings.iter().enumerate() {
        if let (Stand::Plant, Some(row)) = (standing.stand, standing.row) {
            rows.entry(row).or_default().push(place);
        }
    }
    for (row, mut places) in rows {
        if places.len() <= usize::from(most) {
            continue;
        }
        places.sort_by(|a, b| {
            let (a, b) = (&standings[*a], &standings[*b]);
            let rank = |one: &Standing| {
                let likely = one.estimate.map(|estimate| estimate.likely_percent / 100.0);
                one.probability.or(likely).unwrap_or(-1.0)
            };
            has_word(b)
                .cmp(&has_word(a))
                .then(rank(b).total_cmp(&rank(a)))
                .then(a.number.cmp(&b.number))
        });
        for place in places.drain(usize::from(most)..) {
            let standing = &mut standings[place];
            if !has_word(standing) {
                standing.stand = Stand::LeaveOut;
                standing.why.insert(0, Reason::Cap { most, row });
            }
        }
    }
}

fn has_word(standing: &Standing) -> bool {
    matches!(standing.why.first(), Some(Reason::Word(_)))
}

fn mean(values: impl Iterator<Item = f64>) -> Option<f64> {
    let (sum, count) = values.fold((0.0, 0_u32), |(sum, count), value| (sum + value, count + 1));
    (count > 0).then(|| sum / f64::from(count))
}

fn kept_and_all(standings: &[Standing], value: impl Fn(&Standing) -> Option<f64>) -> KeptAndAll {
    let kept = standings.iter().filter(|standing| standing.stand == Stand::Plant);
    KeptAndAll {
        kept: mean(kept.filter_map(&value)),
        all: mean(standings.iter().filter_map(&value)),
    }
}

fn summarize(facts: &[Fact], standings: &[Standing], rules: &Rules, given: &Given<'_>) -> Summary {
    let count = |stand| standings.iter().filter(|one| one.stand == stand).count();
    let kept = || standings.iter().filter(|one| one.stand == Stand::Plant);
    let mut mothers: BTreeMap<Option<RowId>, u32> = BTreeMap::new();
    for standing in standings {
        *mothers.entry(standing.row).or_default() += u32::from(standing.stand == Stand::Plant);
    }
    let shares: Vec<f64> = mothers.values().map(|ears| f64::from(*ears)).collect();
    let wanted = |one: &Standing| u64::from(given.wanted.of(one.estimate.as_ref()));
    let needed = |one: &Standing| wanted(one) as i64 + i64::from(given.wanted.remnant());
    let ready = |one: &Standing| one.kernels.map(|_| u64::from(given.wanted.room(one).plant));
    let estimate = |value: fn(&Estimate) -> f64| move |one: &Standing| one.estimate.as_ref().map(value);
    Summary {
        ears: standings.len(),
        kept: count(Stand::Plant),
        retest: count(Stand::Retest),
        waiting: standings
            .iter()
            .filter(|one| one.stand == Stand::Retest && one.lacks_a_value())
            .count(),
        left_out: count(Stand::LeaveOut),
        not_scored: count(Stand::NotScored),
        mothers: mothers.len(),
        mothers_kept: mothers.values().filter(|ears| **ears > 0).count(),
        unknown_mother_kept: mothers.get(&None).copied().unwrap_or(0) as usize,
        effective_mothers: effective_number(&shares).unwrap_or(0.0),
        observed_percent: kept_and_all(standings, estimate(|one| one.observed_percent)),
        likely_percent: kept_and_all(standings, estimate(|one| one.likely_percent)),
        maturity_days: kept_and_all(standings, |one| one.maturity_days.map(f64::from)),
        counted_at_or_above: rules.germination.map(|(cutoff, _)| {
            let reaches = |fact: &&Fact| fact.estimate.is_some_and(|estimate| estimate.reaches(cutoff));
            facts.iter().filter(reaches).count()
        }),
        expected_below: rules.germination.map(|_| {
            kept()
                .filter_map(|one| one.probability)
                .map(|sure| 1.0 - sure)
                .sum()
        }),
        kept_not_scored: kept().filter(|one| one.estimate.is_none()).count(),
        kernels_wanted: kept().map(wanted).sum(),
        kernels_ready: kept().filter_map(ready).sum(),
        short: kept()
            .filter(|one| one.kernels.is_some_and(|kernels| kernels < needed(one)))
            .map(|one| one.ear)
            .collect(),
        uncounted: kept()
            .filter(|one| one.kernels.is_none())
            .map(|one| one.ear)
            .collect(),
        for_a_stand: given.wanted.needs().is_some(),
        alone: alone(facts, standings, rules, given.cutoffs.cap_per_mother),
    }
}

fn alone(facts: &[Fact], standings: &[Standing], rules: &Rules, cap: Option<u16>) -> Vec<Alone> {
    let mut found = Vec::new();
    if let Some((_, percent)) = rules.germination {
        let stands = || {
            standings
                .iter()
                .filter_map(|one| one.probability)
                .map(|sure| rules.stand_of(sure))
        };
        found.push(Alone {
            cutoff: CutoffKind::Germination(percent),
            left_out: stands().filter(|stand| *stand == Stand::LeaveOut).count(),
            undecided: stands().filter(|stand| *stand == Stand::Retest).count(),
        });
    }
    for limit in &rules.limits {
        let is_scored = |fact: &&Fact| !matches!(limit, Limit::VigorAtLeast(_)) || fact.estimate.is_some();
        let values = || facts.iter().filter(is_scored).map(|fact| limit.value(fact));
        found.push(Alone {
            cutoff: CutoffKind::Limit(*limit),
            left_out: values().flatten().filter(|value| !limit.fits(*value)).count(),
            undecided: values().filter(Option::is_none).count(),
        });
    }
    if let Some(most) = cap {
        let mut rows: BTreeMap<RowId, usize> = BTreeMap::new();
        for row in facts.iter().filter_map(|fact| fact.row) {
            *rows.entry(row).or_default() += 1;
        }
        found.push(Alone {
            cutoff: CutoffKind::Cap(most),
            left_out: rows
                .values()
                .map(|ears| ears.saturating_sub(usize::from(most)))
                .sum(),
            undecided: 0,
        });
    }
    found
}

/// What stands on the vertical axis of the plot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default)]
pub enum Vertical {
    /// Cold germination as counted.
    #[default]
    Observed,
    /// Cold germination as it is likely to be.
    Likely,
}

/// One ear of the plot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// The ear.
    pub ear: EarId,
    /// Days from planting to maturity.
    pub maturity_days: f64,
    /// Cold germination in percent, as counted or likely.
    pub percent: f64,
    /// Where the ear stands.
    pub stand: Stand,
}

/// The ears of the plot, and those that have no place in it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Points {
    /// Ears with both figures, by number.
    pub points: Vec<Point>,
    /// Scored ears whose maturity is not known, by number, with their percent and stand.
    pub without_maturity: Vec<(EarId, f64, Stand)>,
    /// Ears that were not scored, by number.
    pub not_scored: Vec<EarId>,
}

pub(super) fn points(choice: &Choice, vertical: Vertical) -> Points {
    let mut found = Points::default();
    for standing in &choice.standings {
        let Some(estimate) = &standing.estimate else {
            found.not_scored.push(standing.ear);
            continue;
        };
        let percent = match vertical {
            Vertical::Observed => estimate.observed_percent,
            Vertical::Likely => estimate.likely_percent,
        };
        match standing.maturity_days {
            Some(days) => found.points.push(Point {
                ear: standing.ear,
                maturity_days: f64::from(days),
                percent,
                stand: standing.stand,
            }),
            None => found
                .without_maturity
                .push((standing.ear, percent, standing.stand)),
        }
    }
    found
}

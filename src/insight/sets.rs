//! Sets of cutoffs beside each other, and how the cutoffs were moved.

use super::choice::{self, Choice, Facts, Given};
use super::estimates::Estimates;
use super::price;
use super::words::{plural, tenths};
use crate::genetics::Kinship;
use crate::model::{CutoffMove, Cutoffs, EarId, Project, Selection};
use jiff::civil::DateTime;
use std::collections::BTreeSet;

/// One set of cutoffs and what it comes to with the counts of today.
#[derive(Debug, Clone, PartialEq)]
pub struct SetLine {
    /// The name it is kept under; `None` for the cutoffs that are set.
    pub name: Option<String>,
    /// The grower's note.
    pub note: String,
    /// The cutoffs.
    pub cutoffs: Cutoffs,
    /// The cutoffs in words.
    pub text: String,
    /// Ears to plant.
    pub kept: usize,
    /// Ears to test again.
    pub retest: usize,
    /// Different mother rows of the kept.
    pub mothers_kept: usize,
    /// Mother rows weighed by their shares.
    pub effective_mothers: f64,
    /// Effective size with pollen of unrelated plants, and with that of the kept alone; `None` when none is kept.
    pub effective_size: Option<[f64; 2]>,
    /// Mean likely cold germination of the kept, in percent.
    pub likely_percent: Option<f64>,
    /// Kept ears that are likely below the cutoff.
    pub expected_below: Option<f64>,
    /// By how many days the kept mature later than all ears.
    pub maturity_shift_days: Option<f64>,
    /// Ears that this set keeps and the cutoffs that are set do not, by number.
    pub only_here: Vec<EarId>,
    /// Ears that the cutoffs that are set keep and this set does not, by number.
    pub only_set: Vec<EarId>,
}

impl SetLine {
    /// Says in a sentence what the set comes to.
    pub fn sentence(&self) -> String {
        let name = match &self.name {
            Some(name) => format!("'{name}'"),
            None => "As set now".to_owned(),
        };
        let size = self.effective_size.map_or_else(String::new, |[open, closed]| {
            format!(", effective size {} to {}", tenths(closed), tenths(open))
        });
        let likely = self
            .likely_percent
            .map_or_else(String::new, |percent| format!(", likely {} %", tenths(percent)));
        format!(
            "{name}: {} kept, {} to test again, {}{size}{likely}; {}.",
            plural(self.kept, "ear"),
            self.retest,
            plural(self.mothers_kept, "mother"),
            self.text
        )
    }
}

/// One move of the cutoffs in words.
#[derive(Debug, Clone, PartialEq)]
pub struct MoveLine {
    /// When it began.
    pub at: DateTime,
    /// Who; empty when nobody said.
    pub by: String,
    /// What changed from what to what; says so when nothing did in the end.
    pub text: String,
    /// Ears that were kept before and after it, as far as somebody looked.
    pub kept: [Option<u32>; 2],
    /// Whether the names of the ears were hidden.
    pub names_hidden: bool,
    /// The cutoffs after it.
    pub cutoffs: Cutoffs,
}

impl MoveLine {
    /// Says the move in a sentence.
    pub fn sentence(&self) -> String {
        let who = if self.by.is_empty() { "" } else { &self.by };
        let kept = match self.kept {
            [Some(before), Some(after)] => {
                format!("; {} kept, before {before}", plural(after as usize, "ear"))
            }
            [None, Some(after)] => format!("; {} kept", plural(after as usize, "ear")),
            _ => String::new(),
        };
        let hidden = if self.names_hidden { "; names hidden" } else { "" };
        format!(
            "{} {}: {}{kept}{hidden}.",
            self.at.strftime("%Y-%m-%d %H:%M"),
            if who.is_empty() { "somebody" } else { who },
            self.text
        )
    }
}

/// The sets of a season and its moves.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Sets {
    /// The cutoffs that are set, then the kept ones in the order in which they were kept.
    pub lines: Vec<SetLine>,
    /// The moves, newest first.
    pub moves: Vec<MoveLine>,
}

impl Sets {
    /// Says how often the cutoffs were moved, and how often with the names of ears hidden; `None` when never.
    pub fn moves_sentence(&self) -> Option<String> {
        let hidden = self.moves.iter().filter(|one| one.names_hidden).count();
        moves_text(self.moves.len(), hidden)
    }
}

fn moves_text(moves: usize, hidden: usize) -> Option<String> {
    let names = match hidden {
        0 => "each time with the names of the ears in sight".to_owned(),
        all if all == moves => "each time with the names of the ears hidden".to_owned(),
        some => format!(
            "of that {} with the names of the ears hidden",
            plural(some, "time")
        ),
    };
    (moves > 0).then(|| format!("The cutoffs were moved {}, {names}.", plural(moves, "time")))
}

/// Says how often the cutoffs of a selection were moved; `None` when never.
pub(super) fn moved(selection: &Selection) -> Option<String> {
    let hidden = selection.moves.iter().filter(|one| one.names_hidden).count();
    moves_text(selection.moves.len(), hidden)
}

pub(super) fn compute(
    project: &Project,
    facts: &Facts,
    estimates: &Estimates,
    basis: &price::Basis,
    given: &Given<'_>,
) -> Sets {
    let selection = project.selection_of(given.season);
    let of = |cutoffs: &Cutoffs| {
        let given = Given { cutoffs, ..*given };
        choice::compute(facts, estimates, &given)
    };
    let now = of(given.cutoffs);
    let mut lines = vec![line(project, basis, &now, &now, None)];
    for kept in selection.iter().flat_map(|one| &one.kept) {
        let mut one = line(project, basis, &of(&kept.cutoffs), &now, Some(&kept.name));
        one.note.clone_from(&kept.note);
        lines.push(one);
    }
    let moves = selection.map_or_else(Vec::new, |one| {
        let mut lines: Vec<MoveLine> = one
            .moves
            .iter()
            .enumerate()
            .map(|(nth, made)| move_line(project, one, nth, made))
            .collect();
        lines.reverse();
        lines
    });
    Sets { lines, moves }
}

pub(super) fn line(
    project: &Project,
    basis: &price::Basis,
    choice: &Choice,
    now: &Choice,
    name: Option<&str>,
) -> SetLine {
    let price = price::compute(basis, choice);
    let summary = &choice.summary;
    let kept = |choice: &Choice| choice.kept().map(|one| one.ear).collect::<BTreeSet<_>>();
    let (here, set) = (kept(choice), kept(now));
    let only = |choice: &Choice, other: &BTreeSet<EarId>| {
        let ears = choice.kept().map(|one| one.ear);
        ears.filter(|ear| !other.contains(ear)).collect()
    };
    SetLine {
        name: name.map(str::to_owned),
        note: String::new(),
        cutoffs: choice.cutoffs.clone(),
        text: project.cutoffs_text(&choice.cutoffs),
        kept: summary.kept,
        retest: summary.retest,
        mothers_kept: summary.mothers_kept,
        effective_mothers: summary.effective_mothers,
        effective_size: price.kinship.map(|both| {
            [
                Kinship::effective_size(both.open),
                Kinship::effective_size(both.closed),
            ]
        }),
        likely_percent: summary.likely_percent.kept,
        expected_below: summary.expected_below,
        maturity_shift_days: summary.maturity_days.difference(),
        only_here: only(choice, &set),
        only_set: only(now, &here),
    }
}

fn move_line(project: &Project, selection: &Selection, nth: usize, made: &CutoffMove) -> MoveLine {
    let before = nth.checked_sub(1).and_then(|nth| selection.moves.get(nth));
    MoveLine {
        at: made.at,
        by: made.by.clone(),
        text: changed(project, &selection.before(nth), &made.cutoffs),
        kept: [before.and_then(|before| before.kept), made.kept],
        names_hidden: made.names_hidden,
        cutoffs: made.cutoffs.clone(),
    }
}

/// Says which cutoffs changed from what to what: `cold germination at least 74 %, before 70 %`.
fn changed(project: &Project, before: &Cutoffs, after: &Cutoffs) -> String {
    let named = |cutoffs: &Cutoffs| {
        let mut all = vec![
            (
                "cold germination at least".to_owned(),
                cutoffs.germination_percent,
                " %",
            ),
            ("maturity at most".to_owned(), cutoffs.maturity_days, " days"),
            ("vigor at least".to_owned(), cutoffs.vigor, ""),
            (
                "ears of one mother row at most".to_owned(),
                cutoffs.cap_per_mother.map(f64::from),
                "",
            ),
            ("sureness".to_owned(), Some(100.0 * cutoffs.sureness), " %"),
        ];
        let traits: BTreeSet<_> = before.traits.keys().chain(after.traits.keys()).collect();
        for id in traits {
            let limits = cutoffs.traits.get(id).copied().unwrap_or_default();
            let name = project
                .trait_of(*id)
                .map_or("a trait that was removed", |known| known.name.as_str());
            all.push((format!("{name} at least"), limits.least, ""));
            all.push((format!("{name} at most"), limits.most, ""));
        }
        all
    };
    let said = |value: Option<f64>, unit: &str| {
        value.map_or_else(|| "off".to_owned(), |value| format!("{}{unit}", rounded(value)))
    };
    let both = named(before).into_iter().zip(named(after));
    let changes: Vec<String> = both
        .filter(|((_, before, _), (_, after, _))| before != after)
        .map(|((name, before, unit), (_, after, _))| {
            format!("{name} {}, before {}", said(after, unit), said(before, unit))
        })
        .collect();
    if changes.is_empty() {
        "moved, and moved back".to_owned()
    } else {
        changes.join("; ")
    }
}

/// A number without the digits that arithmetic leaves behind.
fn rounded(value: f64) -> f64 {
    (value * 1e6).round() / 1e6
}

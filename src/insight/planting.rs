//! From a choice to a planting list, and what has changed since one was frozen.

use super::choice::{Choice, Standing};
use super::shares::{self, Shares};
use super::sowing::{Sowings, Wanted};
use super::words::{capital, ears, percent, plural, some_of};
use crate::model::{Cutoffs, Ear, EarId, ListEntry, PlantingList, Project, SeasonId, Stand, Word, WordKind};
use std::collections::{BTreeMap, BTreeSet};

/// A planting list as it would be frozen now.
#[derive(Debug, Clone, PartialEq)]
pub struct ListProposal {
    /// The season.
    pub season: SeasonId,
    /// The cutoffs.
    pub cutoffs: Cutoffs,
    /// The ears by number, each with at least one kernel to plant.
    pub entries: Vec<ListEntry>,
    /// The ears held in reserve, of each as many kernels as could be planted.
    pub reserves: Vec<ListEntry>,
    /// How the kernels to plant are found, a sentence.
    pub way: String,
    /// What is short or should be known, a sentence each.
    pub notes: Vec<String>,
}

/// How the kernels of the ears are found.
#[derive(Debug, Clone, Copy)]
pub(super) struct Kernels<'a> {
    /// What is wanted of each ear, where nothing is shared out.
    pub(super) wanted: &'a Wanted,
    /// The kernels for a wanted stand, where that is the way.
    pub(super) sowings: Option<&'a Sowings>,
    /// The shares, where that is the way.
    pub(super) shares: Option<&'a Shares>,
}

impl Kernels<'_> {
    fn way(&self) -> String {
        if let Some(said) = self.shares.and_then(shares::note) {
            return said;
        }
        match self.sowings.filter(|sowings| sowings.refusal.is_none()) {
            Some(sowings) => sowings.way(),
            None => format!("Equal kernels of each ear: {}.", self.wanted.plant_each()),
        }
    }
}

/// Proposes a list of the kept ears: of each the kernels that are wanted of it, or its share, but never so many that less
/// than the remnant stays in the packet. An ear that has nothing above its remnant is not listed but named in the notes.
pub(super) fn propose(project: &Project, choice: &Choice, kernels: Kernels<'_>) -> ListProposal {
    let Kernels { wanted, shares, .. } = kernels;
    let (plant_each, remnant) = (wanted.plant_each(), wanted.remnant());
    let is_equal = wanted.needs().is_none();
    let words = project
        .selection_of(choice.season)
        .map(|selection| &selection.words);
    let shared = shares.and_then(Shares::kernels_by_ear);
    let mut entries = Vec::new();
    let mut no_share = Vec::new();
    let (mut nothing_left, mut fewer, mut uncounted, mut unscored, mut motherless) =
        (Vec::new(), Vec::new(), Vec::new(), Vec::new(), Vec::new());
    for standing in choice.kept() {
        let Some(ear) = project.ears.get(standing.ear) else {
            continue;
        };
        let room = wanted.room(standing).plant;
        if standing.kernels.is_none() {
            uncounted.push(ear.id);
        } else if room == 0 {
            nothing_left.push(ear.id);
            continue;
        }
        let plant = match &shared {
            Some(shared) => shared.get(&ear.id).copied().unwrap_or_default(),
            None => room,
        };
        if plant == 0 && shared.is_some() {
            no_share.push(ear.id);
            continue;
        }
        if shared.is_none() && is_equal && room < plant_each {
            fewer.push(format!("{} ({room})", ear.number));
        }
        if standing.estimate.is_none() {
            unscored.push(ear.id);
        }
        if ear.row.is_none() {
            motherless.push(ear.id);
        }
        entries.push(entry_of(project, ear, standing, (plant, wanted), words));
    }
    let (reserves, empty) = reserves(project, choice, wanted, words);
    let mut notes = Vec::new();
    if is_equal && plant_each == 0 {
        nothing_left.clear();
        entries.clear();
        notes.push(
            "The season says 0 kernels to plant of each ear; set how many, or nothing is listed.".to_owned(),
        );
    }
    let mut note = |which: &[EarId], text: String| {
        if !which.is_empty() {
            notes.push(format!("{}: {text}", capital(&ears(project, which))));
        }
    };
    note(
        &nothing_left,
        format!(
            "not listed, because {} must be kept back and no more are left.",
            plural(remnant as usize, "kernel")
        ),
    );
    note(
        &empty,
        format!(
            "not named as reserve, because {} must be kept back and no more are left.",
            plural(remnant as usize, "kernel")
        ),
    );
    note(
        &no_share,
        "not listed, because the shares give them no kernels.".to_owned(),
    );
    note(
        &uncounted,
        if is_equal {
            format!(
                "the kernels were never counted, so {plant_each} to plant and {remnant} to keep back may not be there."
            )
        } else {
            "the kernels were never counted, so those to plant and to keep back may not be there.".to_owned()
        },
    );
    note(&unscored, "listed without a final count.".to_owned());
    note(
        &motherless,
        "of unknown mother row; they count as one mother.".to_owned(),
    );
    if !fewer.is_empty() {
        notes.push(format!(
            "Fewer than {plant_each} kernels to plant, so that {remnant} stay in the packet: {} {}.",
            if fewer.len() == 1 { "ear" } else { "ears" },
            some_of(&fewer)
        ));
    }
    if let Some(sowings) = kernels.sowings {
        notes.extend(sowings.shortfall());
        notes.extend(sowings.refusal.clone());
    }
    notes.extend(project.selection_of(choice.season).and_then(super::sets::moved));
    notes.extend(shares.and_then(shares::note));
    notes.extend(shares.and_then(|shares| shares.refusal.clone()));
    ListProposal {
        season: choice.season,
        cutoffs: choice.cutoffs.clone(),
        entries,
        reserves,
        way: kernels.way(),
        notes,
    }
}

/// The ears that the grower holds in reserve, with the kernels of each that could be planted, and those of which none
/// could.
fn reserves(
    project: &Project,
    choice: &Choice,
    wanted: &Wanted,
    words: Option<&BTreeMap<EarId, Word>>,
) -> (Vec<ListEntry>, Vec<EarId>) {
    let is_reserve = |ear: EarId| {
        let word = words.and_then(|words| words.get(&ear));
        word.is_some_and(|word| word.kind == WordKind::Reserve)
    };
    let (mut found, mut empty) = (Vec::new(), Vec::new());
    for standing in choice.standings.iter().filter(|one| is_reserve(one.ear)) {
        let Some(ear) = project.ears.get(standing.ear) else {
            continue;
        };
        match wanted.room(standing).plant {
            0 => empty.push(ear.id),
            plant => found.push(entry_of(project, ear, standing, (plant, wanted), words)),
        }
    }
    (found, empty)
}

fn entry_of(
    project: &Project,
    ear: &Ear,
    standing: &Standing,
    (plant, wanted): (u32, &Wanted),
    words: Option<&BTreeMap<EarId, Word>>,
) -> ListEntry {
    ListEntry {
        ear: ear.id,
        code: ear.code,
        number: ear.number,
        mother: project.mother_label(ear).to_owned(),
        germinated: standing.estimate.map(|one| (one.counts.k(), one.counts.n())),
        likely_percent: standing.estimate.map(|one| one.likely_percent),
        maturity_days: standing.maturity_days.map(f64::from),
        plant,
        keep: wanted.remnant(),
        why: why(words.and_then(|words| words.get(&ear.id))),
        sowing: wanted
            .needs()
            .map(|needs| needs.told(standing.estimate.as_ref(), plant)),
    }
}

fn why(word: Option<&Word>) -> String {
    match word {
        Some(word) if word.kind != WordKind::Never => format!("{}: {}", word.kind.name(), word.reason),
        _ => "cutoffs".to_owned(),
    }
}

/// Says what differs between a planting list and the one that replaces it, a sentence each; empty when nothing
/// that is planted differs.
pub fn revision(old: &PlantingList, new: &PlantingList) -> Vec<String> {
    let by_ear = |list: &PlantingList| -> BTreeMap<EarId, ListEntry> {
        list.entries
            .iter()
            .map(|entry| (entry.ear, entry.clone()))
            .collect()
    };
    let (before, after) = (by_ear(old), by_ear(new));
    let mut found = Vec::new();
    let only = |these: &BTreeMap<EarId, ListEntry>, those: &BTreeMap<EarId, ListEntry>| -> Vec<u32> {
        let missing = these.values().filter(|entry| !those.contains_key(&entry.ear));
        let mut numbers: Vec<u32> = missing.map(|entry| entry.number).collect();
        numbers.sort_unstable();
        numbers
    };
    let mut named = |verb: &str, numbers: &[u32]| {
        if !numbers.is_empty() {
            let kind = if numbers.len() == 1 { "ear" } else { "ears" };
            found.push(format!("{verb}: {kind} {}.", some_of(numbers)));
        }
    };
    named("Added", &only(&after, &before));
    named("Taken off", &only(&before, &after));
    let reserve = |list: &PlantingList| -> BTreeMap<EarId, ListEntry> {
        let reserves = list.reserves.iter();
        reserves.map(|entry| (entry.ear, entry.clone())).collect()
    };
    let (held, holds) = (reserve(old), reserve(new));
    named("Now held in reserve", &only(&holds, &held));
    named("No longer held in reserve", &only(&held, &holds));
    let mut both: Vec<(&ListEntry, &ListEntry)> = before
        .values()
        .filter_map(|entry| Some((entry, after.get(&entry.ear)?)))
        .collect();
    both.sort_by_key(|(_, after)| after.number);
    for (before, after) in both {
        let changes = entry_changes(before, after);
        if !changes.is_empty() {
            found.push(format!("Ear {}: {}.", after.number, changes.join("; ")));
        }
    }
    if old.cutoffs != new.cutoffs {
        found.push(format!(
            "Cutoffs: {}, before: {}.",
            new.cutoffs_text(),
            old.cutoffs_text()
        ));
    }
    found
}

fn entry_changes(before: &ListEntry, after: &ListEntry) -> Vec<String> {
    let mut changes = Vec::new();
    let mut differs = |what: &str, before: String, after: String| {
        if before != after {
            changes.push(format!("{what} {after}, before {before}"));
        }
    };
    let counts = |entry: &ListEntry| {
        entry
            .germinated
            .map_or_else(|| "not scored".to_owned(), |(k, n)| format!("{k} of {n}"))
    };
    let or_unknown = |value: Option<String>| value.unwrap_or_else(|| "unknown".to_owned());
    let likely = |entry: &ListEntry| or_unknown(entry.likely_percent.map(percent));
    let days = |entry: &ListEntry| or_unknown(entry.maturity_days.map(|days| format!("{days:.0}")));
    differs("number", before.number.to_string(), after.number.to_string());
    differs("mother row", mother(&before.mother), mother(&after.mother));
    differs("germinated", counts(before), counts(after));
    differs("likely", likely(before), likely(after));
    differs("maturity days", days(before), days(after));
    differs("plant", before.plant.to_string(), after.plant.to_string());
    differs("keep back", before.keep.to_string(), after.keep.to_string());
    differs("because", before.why.clone(), after.why.clone());
    changes
}

fn mother(label: &str) -> String {
    if label.is_empty() {
        "unknown".to_owned()
    } else {
        label.to_owned()
    }
}

/// Says what has changed in the data since a list was frozen, a sentence each. `now` is the choice under the
/// list's own cutoffs. What is likely of an ear moves a little with every count of every other ear; that alone is
/// not named. An ear to which `shares` give no kernels now is not missed on the list.
pub(super) fn since_frozen(
    project: &Project,
    list: &PlantingList,
    now: &Choice,
    shares: Option<&Shares>,
) -> Vec<String> {
    let mut found = Vec::new();
    for entry in &list.entries {
        let Some(standing) = now.of(entry.ear) else {
            continue;
        };
        let Some(ear) = project.ears.get(entry.ear) else {
            continue;
        };
        let current = ListEntry {
            number: ear.number,
            mother: project.mother_label(ear).to_owned(),
            germinated: standing.estimate.map(|one| (one.counts.k(), one.counts.n())),
            maturity_days: standing.maturity_days.map(f64::from),
            ..entry.clone()
        };
        let mut changes = entry_changes(entry, &current);
        // What was planted from this list has left the packet, and need not be in it.
        let to_plant = if project.is_planted(list, entry) {
            0
        } else {
            entry.plant
        };
        let needed = i64::from(to_plant) + i64::from(entry.keep);
        if let Some(kernels) = standing.kernels
            && kernels < needed
        {
            changes.push(format!(
                "its packet holds {}, but the list needs {needed}",
                plural(kernels.max(0) as usize, "kernel")
            ));
        }
        if !changes.is_empty() {
            found.push(format!("Ear {}: {}.", entry.number, changes.join("; ")));
        }
    }
    let shared = shares.and_then(Shares::kernels_by_ear).unwrap_or_default();
    let listed: BTreeSet<EarId> = list.entries.iter().map(|entry| entry.ear).collect();
    let dropped: Vec<EarId> = list
        .entries
        .iter()
        .map(|entry| entry.ear)
        .filter(|ear| {
            now.of(*ear)
                .is_some_and(|standing| standing.stand != Stand::Plant)
        })
        .collect();
    let remnant = project
        .seasons
        .get(list.season)
        .map_or(0, |season| season.remnant);
    let added: Vec<EarId> = now
        .kept()
        .filter(|standing| !listed.contains(&standing.ear) && shared.get(&standing.ear) != Some(&0))
        .filter(|standing| {
            standing
                .kernels
                .is_none_or(|kernels| kernels > i64::from(remnant))
        })
        .map(|standing| standing.ear)
        .collect();
    let mut note = |which: &[EarId], text: &str| {
        if !which.is_empty() {
            found.push(format!("{} {text}", capital(&ears(project, which))));
        }
    };
    note(
        &dropped,
        "on the list would not be chosen again by the same cutoffs.",
    );
    note(&added, "not on the list would be chosen now by the same cutoffs.");
    if let Some(cutoffs) = project
        .selection_of(list.season)
        .map(|selection| &selection.cutoffs)
        && *cutoffs != list.cutoffs
    {
        found.push("The cutoffs set now are not those of the list.".to_owned());
    }
    found
}

//! The names of ears while the cutoffs are moved: in sight, or hidden so that no favourite is cut for.

use crate::insight::{Reason, Standing};
use crate::model::{EarId, Project, SeasonId};
use std::collections::BTreeMap;

/// What stands for the names of a season's ears.
#[derive(Debug, Clone, Default)]
pub struct Names {
    hidden: Option<Hidden>,
}

#[derive(Debug, Clone)]
struct Hidden {
    season: SeasonId,
    /// From which the numbers are drawn, another one each time, so that nobody learns a favourite's.
    seed: u64,
    /// A number from 1 for each ear, in an order that has nothing to do with the harvest.
    stand_ins: BTreeMap<EarId, u32>,
}

impl Names {
    /// Hides the names.
    pub fn hide(&mut self, project: &Project, season: SeasonId, seed: u64) {
        self.hidden = Some(Hidden {
            season,
            seed,
            stand_ins: stand_ins(project, season, seed),
        });
    }

    /// Lets the stand-ins follow another season, or ears that have come since.
    pub fn follow(&mut self, project: &Project, season: SeasonId) {
        let is_old = |hidden: &Hidden| {
            hidden.season != season || hidden.stand_ins.len() != project.ears_of(season).count()
        };
        if let Some(hidden) = self.hidden.as_ref().filter(|hidden| is_old(hidden)) {
            let seed = hidden.seed;
            self.hide(project, season, seed);
        }
    }

    /// Says whether they are hidden.
    pub fn are_hidden(&self) -> bool {
        self.hidden.is_some()
    }

    /// The ear's number, or what stands for it.
    pub fn ear(&self, ear: EarId, number: u32) -> String {
        match self.stand_in(ear) {
            Some(stand_in) => format!("?{stand_in}"),
            None => number.to_string(),
        }
    }

    /// By what ears are sorted where nothing else tells them apart.
    pub fn place(&self, standing: &Standing) -> u32 {
        self.stand_in(standing.ear).unwrap_or(standing.number)
    }

    /// A reason in words that do not name the mother row of a hidden ear.
    pub fn reason(&self, project: &Project, reason: &Reason) -> String {
        match reason {
            Reason::Cap { .. } if self.are_hidden() => {
                "Better ears of its mother row fill the number that is kept of one.".to_owned()
            }
            Reason::Word(word) if self.are_hidden() => format!("You said '{}'.", word.kind.name()),
            _ => reason.sentence(project),
        }
    }

    fn stand_in(&self, ear: EarId) -> Option<u32> {
        self.hidden.as_ref()?.stand_ins.get(&ear).copied()
    }
}

fn stand_ins(project: &Project, season: SeasonId, seed: u64) -> BTreeMap<EarId, u32> {
    let mut ears: Vec<(u64, EarId)> = project
        .ears_of(season)
        .map(|ear| (mixed(u64::from(ear.id.0) ^ seed), ear.id))
        .collect();
    ears.sort_unstable();
    (1..)
        .zip(ears)
        .map(|(stand_in, (_, ear))| (ear, stand_in))
        .collect()
}

/// Mixes the bits of a number so that neighbours lie far apart: the finisher of SplitMix64. Source: Steele, Lea and
/// Flood 2014, OOPSLA (constants from memory).
fn mixed(number: u64) -> u64 {
    let mut z = number.wrapping_add(0x9e37_79b9_7f4a_7c15);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    z ^ (z >> 31)
}

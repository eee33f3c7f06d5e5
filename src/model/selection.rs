//! Cutoffs and the grower's own word.

use super::change::Stamp;
use super::ids::{EarId, SeasonId, SelectionId, TraitId};
use super::problem::{Fault, Place, check_name, check_number, check_text};
use super::table::Record;
use jiff::civil::{Date, DateTime};
use serde::{Deserialize, Serialize};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt;

/// The limits that the grower sets. A limit that is `None` is switched off.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Cutoffs {
    /// Least cold germination, in percent.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub germination_percent: Option<f64>,
    /// Most maturity days.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub maturity_days: Option<f64>,
    /// Least vigor grade.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub vigor: Option<f64>,
    /// Limits on traits.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub traits: BTreeMap<TraitId, Limits>,
    /// Most ears of one mother row.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub cap_per_mother: Option<u16>,
    /// How sure it must be that an ear reaches the least cold germination, from 0.5 (no retest) to 0.99.
    pub sureness: f64,
}

impl Default for Cutoffs {
    /// At least 70 % cold germination with a sureness of 0.70, nothing else.
    fn default() -> Self {
        Self {
            germination_percent: Some(70.0),
            maturity_days: None,
            vigor: None,
            traits: BTreeMap::new(),
            cap_per_mother: None,
            sureness: 0.70,
        }
    }
}

/// Limits on one trait.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Limits {
    /// The least value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least: Option<f64>,
    /// The greatest value.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub most: Option<f64>,
}

impl Cutoffs {
    /// Refuses cutoffs that are outside what is possible.
    pub fn check(&self) -> Result<(), Fault> {
        if let Some(percent) = self.germination_percent {
            check_number("the cold germination cutoff", percent, 0.0, 100.0)?;
        }
        if let Some(days) = self.maturity_days {
            check_number("the maturity cutoff", days, 0.0, 10_000.0)?;
        }
        if let Some(vigor) = self.vigor {
            check_number("the vigor cutoff", vigor, 0.0, 9.0)?;
        }
        for limit in self
            .traits
            .values()
            .flat_map(|limits| [limits.least, limits.most])
            .flatten()
        {
            check_number("the limit on a trait", limit, f64::MIN, f64::MAX)?;
        }
        check_number("the sureness", self.sureness, 0.5, 0.99)
    }
}

/// Where an ear stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum Stand {
    /// It is to be planted.
    Plant,
    /// Its kernels cannot tell; test it again.
    Retest,
    /// It is left out.
    LeaveOut,
    /// It has not been scored.
    NotScored,
}

impl Stand {
    /// All stands in the order in which they are shown.
    pub const ALL: [Self; 4] = [Self::Plant, Self::Retest, Self::LeaveOut, Self::NotScored];

    /// Names the stand.
    pub fn name(self) -> &'static str {
        match self {
            Self::Plant => "plant",
            Self::Retest => "retest",
            Self::LeaveOut => "leave out",
            Self::NotScored => "not scored",
        }
    }
}

impl fmt::Display for Stand {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(self.name())
    }
}

/// The grower's own word about an ear, which goes above every cutoff.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Word {
    /// What is to happen.
    pub kind: WordKind,
    /// Why.
    pub reason: String,
}

/// The words a grower can give.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
pub enum WordKind {
    /// Plant it whatever the cutoffs say.
    Always,
    /// Leave it out whatever the cutoffs say.
    Never,
    /// Leave it out, and name it on the planting list as seed at hand for a row that fails.
    Reserve,
}

impl WordKind {
    /// All words in the order in which they are offered.
    pub const ALL: [Self; 3] = [Self::Always, Self::Never, Self::Reserve];

    /// Names the word.
    pub fn name(self) -> &'static str {
        match self {
            Self::Always => "always plant",
            Self::Never => "never plant",
            Self::Reserve => "hold in reserve",
        }
    }
}

/// Cutoffs that the grower keeps under a name.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct KeptCutoffs {
    /// The name, different from all others of the selection.
    pub name: String,
    /// The cutoffs.
    pub cutoffs: Cutoffs,
    /// A free note.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
    /// The day on which they were kept.
    pub on: Date,
}

/// What the grower saw while moving a cutoff.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SeenWhileMoving {
    /// Ears that the new cutoffs keep, if somebody looked.
    pub kept: Option<u32>,
    /// Whether the names of the ears were hidden.
    pub names_hidden: bool,
}

/// A move of the cutoffs. Moves of one person that begin within a minute are one, so that a line that is nudged to its
/// place is not a hundred moves.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct CutoffMove {
    /// When it began.
    pub at: DateTime,
    /// Who moved them; empty when nobody said.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub by: String,
    /// The cutoffs after it.
    pub cutoffs: Cutoffs,
    /// Ears that these kept then, if somebody looked.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kept: Option<u32>,
    /// Whether the names of the ears were hidden.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub names_hidden: bool,
}

/// Seconds within which the moves of one person are one.
const ONE_MOVE_SECONDS: f64 = 60.0;

impl CutoffMove {
    /// Says whether a later move belongs to this one.
    fn takes_in(&self, later: &Self) -> bool {
        let gap = later.at.duration_since(self.at).as_secs_f64();
        self.by == later.by
            && self.names_hidden == later.names_hidden
            && (0.0..ONE_MOVE_SECONDS).contains(&gap)
    }
}

/// What an index weighs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub enum IndexTrait {
    /// Cold germination as it is likely to be.
    Germination,
    /// By how much an ear is likely to germinate better than ears that mature as late.
    GerminationForItsMaturity,
    /// Maturity days.
    Maturity,
    /// Vigor grade.
    Vigor,
    /// A trait of the project.
    Trait(TraitId),
}

/// What one standard deviation of a trait is worth in an index.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct IndexWeight {
    /// The trait.
    pub of: IndexTrait,
    /// Its weight; below 0 where less is wanted.
    pub weight: f64,
}

/// Several traits weighed into one number for each ear.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Index {
    /// The traits and their weights, each trait once.
    pub weights: Vec<IndexWeight>,
    /// Whether a value that is not known counts as the mean; otherwise such an ear has no index.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub missing_as_mean: bool,
}

impl Index {
    /// The weight of a trait; `None` while it is not weighed.
    pub fn weight_of(&self, of: IndexTrait) -> Option<f64> {
        let found = self.weights.iter().find(|one| one.of == of);
        found.map(|one| one.weight)
    }

    /// Weighs a trait, or weighs it no longer.
    pub fn weigh(&mut self, of: IndexTrait, weight: Option<f64>) {
        self.weights.retain(|one| one.of != of);
        self.weights
            .extend(weight.map(|weight| IndexWeight { of, weight }));
        self.weights.sort_by_key(|one| one.of);
    }

    fn check(&self) -> Result<(), Fault> {
        let mut known = BTreeSet::new();
        for one in &self.weights {
            check_number("the weight of a trait in the index", one.weight, -1000.0, 1000.0)?;
            if !known.insert(one.of) {
                let text = "the index weighs a trait twice; weigh it once".to_owned();
                return Err(Fault::Mismatch(text));
            }
        }
        Ok(())
    }
}

/// One set of cutoffs and words for a season.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Selection {
    /// The selection's id.
    pub id: SelectionId,
    /// The season whose ears are chosen.
    pub season: SeasonId,
    /// Its name.
    pub name: String,
    /// The cutoffs.
    pub cutoffs: Cutoffs,
    /// The grower's word about single ears.
    #[serde(default, skip_serializing_if = "BTreeMap::is_empty")]
    pub words: BTreeMap<EarId, Word>,
    /// The greatest mean coancestry of the kernels planted, pollen of unrelated plants taken for granted: kernels are then
    /// shared out for the highest mean at this ceiling. None for equal kernels of every ear.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub most_coancestry: Option<f64>,
    /// Whether the kernels of each ear are reckoned for the plants that the season wants of it; never together with a
    /// ceiling.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub for_a_stand: bool,
    /// Cutoffs that were kept under a name, to be compared and set again, in the order in which they were kept.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub kept: Vec<KeptCutoffs>,
    /// How the cutoffs were moved, oldest first.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub moves: Vec<CutoffMove>,
    /// An index, to be compared with the cutoffs; none while nothing is weighed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub index: Option<Index>,
    /// So many mother rows the grower wants on the list at least; freezing fewer has to be acknowledged.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub least_mothers: Option<u16>,
}

/// How many kernels of each chosen ear are planted: one of three ways.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum KernelWay {
    /// Equally many of every ear, as many as the season says.
    #[default]
    Equal,
    /// As many of each ear as give the plants that the season wants of it.
    ForAStand,
    /// Shared out for the highest mean at this ceiling on coancestry, 0 to 1.
    SharedOut(f64),
}

impl Selection {
    /// How many kernels of each chosen ear are planted.
    pub fn kernel_way(&self) -> KernelWay {
        match self.most_coancestry {
            Some(most) => KernelWay::SharedOut(most),
            None if self.for_a_stand => KernelWay::ForAStand,
            None => KernelWay::Equal,
        }
    }

    /// Sets how many kernels of each chosen ear are planted.
    pub(super) fn set_kernel_way(&mut self, way: KernelWay) {
        self.for_a_stand = way == KernelWay::ForAStand;
        self.most_coancestry = match way {
            KernelWay::SharedOut(most) => Some(most),
            KernelWay::Equal | KernelWay::ForAStand => None,
        };
    }

    /// Sets the cutoffs and notes the move; cutoffs that are set already are none.
    pub(super) fn move_cutoffs(&mut self, cutoffs: &Cutoffs, seen: SeenWhileMoving, stamp: &Stamp) {
        if self.cutoffs == *cutoffs {
            return;
        }
        self.cutoffs = cutoffs.clone();
        let mut new = CutoffMove {
            at: stamp.at,
            by: stamp.by.clone(),
            cutoffs: cutoffs.clone(),
            kept: seen.kept,
            names_hidden: seen.names_hidden,
        };
        match self.moves.last_mut() {
            Some(last) if last.takes_in(&new) => {
                new.at = last.at;
                *last = new;
            }
            _ => self.moves.push(new),
        }
    }

    /// The cutoffs before a move; those that a season begins with before the first.
    pub fn before(&self, nth: usize) -> Cutoffs {
        let before = nth.checked_sub(1).and_then(|nth| self.moves.get(nth));
        before.map_or_else(Cutoffs::default, |before| before.cutoffs.clone())
    }

    pub(super) fn check(&self) -> Result<(), Fault> {
        check_name("selection", &self.name)?;
        self.cutoffs.check()?;
        if let Some(most) = self.most_coancestry {
            check_number("the ceiling on coancestry", most, 0.0, 1.0)?;
            if self.for_a_stand {
                let text = "kernels are reckoned for a stand and shared out at a ceiling on coancestry; choose one of both";
                return Err(Fault::Mismatch(text.to_owned()));
            }
        }
        if let Some(index) = &self.index {
            index.check()?;
        }
        let mut names = BTreeSet::new();
        for one in &self.kept {
            check_name("set of cutoffs", &one.name)?;
            check_text("the note", &one.note)?;
            one.cutoffs.check()?;
            if !names.insert(one.name.to_lowercase()) {
                return Err(Fault::DuplicateName {
                    kind: "set of cutoffs",
                    name: one.name.clone(),
                });
            }
        }
        for one in &self.moves {
            check_text("the name of the person", &one.by)?;
            one.cutoffs.check()?;
        }
        for word in self.words.values() {
            check_text("the reason", &word.reason)?;
            if word.reason.trim().is_empty() {
                return Err(Fault::NoReason("go against the cutoffs"));
            }
        }
        Ok(())
    }
}

impl Record for Selection {
    type Id = SelectionId;
    const NAME: &'static str = "selection";

    fn id(&self) -> SelectionId {
        self.id
    }

    fn place(id: SelectionId) -> Place {
        Place::Selection(id)
    }
}

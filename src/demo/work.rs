//! Giving commands at invented dates.

use crate::model::{
    About, Better, CellId, Command, Document, EarDraft, Existing, Pass, Problem, Project, SeasonId, Seen,
    Stamp, Tally, Trait, TraitId,
};
use jiff::civil::Date;
use std::collections::BTreeMap;
use std::sync::Arc;

/// Who does everything in the demos.
pub(super) const GROWER: &str = "Grower A";

/// A project that is being made.
pub(super) struct Work {
    document: Document,
    stamp: Stamp,
}

impl Work {
    /// Begins a project on a day.
    pub(super) fn begin(about: About, on: Date) -> Self {
        Self {
            document: Document::new(Project::new(about)),
            stamp: Stamp {
                at: on.at(18, 0, 0, 0),
                by: GROWER.to_owned(),
            },
        }
    }

    /// Goes on on another day.
    pub(super) fn go_on(&mut self, on: Date) {
        self.stamp.at = on.at(18, 0, 0, 0);
    }

    pub(super) fn project(&self) -> &Project {
        self.document.project()
    }

    pub(super) fn run(&mut self, command: &Command) -> Result<(), Problem> {
        self.document.run(command, &self.stamp).map(drop)
    }

    pub(super) fn add_ears(&mut self, season: SeasonId, drafts: Vec<EarDraft>) -> Result<(), Problem> {
        let existing = Existing::Refuse;
        self.run(&Command::AddEars {
            season,
            drafts,
            existing,
        })
    }

    /// Notes counts on the day of the stamp.
    pub(super) fn record(&mut self, counts: Vec<Seen>, by: &str) -> Result<(), Problem> {
        self.run(&Command::RecordCounts {
            counts,
            on: Some(self.stamp.at.date()),
            by: by.to_owned(),
        })
    }

    /// Gives the project and forgets how it came about.
    pub(super) fn finish(self) -> Project {
        let project = self.document.snapshot();
        drop(self.document);
        Arc::unwrap_or_clone(project)
    }
}

/// A count of the first scorer without mould or note.
pub(super) fn seen(cell: CellId, pass: Pass, tally: Tally, vigor: Option<u8>) -> Seen {
    Seen {
        vigor,
        ..Seen::new(cell, pass, tally)
    }
}

/// A trait to be added.
pub(super) fn a_trait(name: &str, unit: &str, range: (f64, f64), better: Better, decimals: u8) -> Trait {
    Trait {
        id: TraitId(0),
        name: name.to_owned(),
        unit: unit.to_owned(),
        least: Some(range.0),
        most: Some(range.1),
        better,
        decimals,
        anchors: BTreeMap::new(),
    }
}

/// Rounds to some digits after the point, as far as a person would write it down.
pub(super) fn rounded(value: f64, decimals: u8) -> f64 {
    let factor = 10_f64.powi(i32::from(decimals));
    (value * factor).round() / factor
}

//! The ids of another version's records in ours, and by what a record is known again.

use crate::model::count::Count;
use crate::model::ear::{Ear, Trait};
use crate::model::field_plan::FieldPlan;
use crate::model::field_row::{FieldContent, FieldRow};
use crate::model::packet::{LedgerReason, Packet};
use crate::model::photo::Photo;
use crate::model::planting_list::PlantingList;
use crate::model::project::Project;
use crate::model::season::{Row, RowSource, Season};
use crate::model::selection::{Cutoffs, IndexTrait, Selection};
use crate::model::store_place::StorePlace;
use crate::model::table::Record;
use crate::model::temperature_log::TemperatureLog;
use crate::model::test::{Cell, CellContent, Test, Tray};
use crate::model::tray_event::TrayEvent;
use crate::model::weather::WeatherMonth;
use std::cell::Cell as Switch;
use std::collections::{BTreeMap, BTreeSet};

/// What follows the name of a test whose own name is taken.
const OF_THE_OTHER: &str = " of the other version";

/// Our ids for records of the other version.
#[derive(Debug, Default)]
pub(super) struct Ids {
    /// Their id and ours, where the two differ, by the kind of the record.
    ours: BTreeMap<(&'static str, u32), u32>,
    /// Records of the other version that are not taken over.
    left_out: BTreeSet<(&'static str, u32)>,
    /// Whether a record was asked for that is not taken over.
    missed: Switch<bool>,
}

impl Ids {
    /// Gives our id of a record of theirs.
    pub(super) fn get<R: Record>(&self, theirs: R::Id) -> R::Id {
        let key = (R::NAME, theirs.into());
        if self.left_out.contains(&key) {
            self.missed.set(true);
        }
        self.ours.get(&key).map_or(theirs, |ours| R::Id::from(*ours))
    }

    pub(super) fn set<R: Record>(&mut self, theirs: R::Id, ours: R::Id) {
        self.ours.insert((R::NAME, theirs.into()), ours.into());
    }

    pub(super) fn leave_out<R: Record>(&mut self, theirs: R::Id) {
        self.left_out.insert((R::NAME, theirs.into()));
    }

    pub(super) fn is_left_out<R: Record>(&self, theirs: R::Id) -> bool {
        self.left_out.contains(&(R::NAME, theirs.into()))
    }

    /// Gives a record of theirs with our ids; none when it names something that is not taken over.
    pub(super) fn renumbered<R: Versioned>(&self, theirs: &R) -> Option<R> {
        self.missed.set(false);
        let mut record = theirs.clone();
        record.renumber(self);
        record.set_id(self.get::<R>(theirs.id()));
        (!self.missed.get()).then_some(record)
    }
}

/// A record that can be compared with one of another version.
pub(super) trait Versioned: Record {
    /// Whether it can never be changed once it is there.
    const IS_FIXED: bool = false;
    /// Whether its key stays for ever what it was at first.
    const KEEPS_ITS_KEY: bool = false;

    /// Gives it another id.
    fn set_id(&mut self, id: Self::Id);

    /// Puts our ids for theirs wherever it names another record.
    fn renumber(&mut self, ids: &Ids);

    /// By what it is known again where both versions added one: a text that no other record of its kind has.
    fn key(&self) -> String;

    /// Changes a name that another record of ours has.
    fn make_room(&mut self, _here: &Project) {}
}

/// Every record has a field `id` of its own.
macro_rules! own_id {
    () => {
        fn set_id(&mut self, id: Self::Id) {
            self.id = id;
        }
    };
}

/// All that a record says, but for its id: records of a kind without a name are known again by it.
pub(super) fn content<R: Versioned>(record: &R) -> String {
    let mut record = record.clone();
    record.set_id(R::Id::from(0));
    format!("{record:?}")
}

fn renumber_cutoffs(cutoffs: &mut Cutoffs, ids: &Ids) {
    let traits = std::mem::take(&mut cutoffs.traits);
    cutoffs.traits = traits
        .into_iter()
        .map(|(id, limits)| (ids.get::<Trait>(id), limits))
        .collect();
}

impl Versioned for Season {
    own_id!();

    fn renumber(&mut self, ids: &Ids) {
        if let Some(pollen) = &mut self.pollen {
            pollen.rows = pollen.rows.iter().map(|row| ids.get::<Row>(*row)).collect();
        }
    }

    fn key(&self) -> String {
        self.year.to_string()
    }
}

impl Versioned for Row {
    own_id!();

    fn renumber(&mut self, ids: &Ids) {
        self.season = ids.get::<Season>(self.season);
        if let RowSource::Ear(mother) = &mut self.source {
            *mother = ids.get::<Ear>(*mother);
        }
    }

    fn key(&self) -> String {
        format!("{} {}", self.season, self.label)
    }
}

impl Versioned for Trait {
    own_id!();

    fn renumber(&mut self, _ids: &Ids) {}

    fn key(&self) -> String {
        self.name.clone()
    }
}

impl Versioned for StorePlace {
    own_id!();

    fn renumber(&mut self, _ids: &Ids) {}

    fn key(&self) -> String {
        self.name.clone()
    }
}

impl Versioned for Ear {
    const KEEPS_ITS_KEY: bool = true;

    own_id!();

    fn renumber(&mut self, ids: &Ids) {
        self.season = ids.get::<Season>(self.season);
        self.row = self.row.map(|row| ids.get::<Row>(row));
        let values = std::mem::take(&mut self.values);
        self.values = values
            .into_iter()
            .map(|(id, value)| (ids.get::<Trait>(id), value))
            .collect();
    }

    fn key(&self) -> String {
        self.code.to_string()
    }
}

impl Versioned for Packet {
    own_id!();

    fn renumber(&mut self, ids: &Ids) {
        self.ear = ids.get::<Ear>(self.ear);
        self.store = self.store.map(|store| ids.get::<StorePlace>(store));
        for line in &mut self.ledger {
            match &mut line.reason {
                LedgerReason::Test(test) => *test = ids.get::<Test>(*test),
                LedgerReason::PlantedFrom(list) => *list = ids.get::<PlantingList>(*list),
                LedgerReason::Shelled
                | LedgerReason::Brought
                | LedgerReason::Recounted
                | LedgerReason::Planted
                | LedgerReason::Given
                | LedgerReason::Lost => {}
            }
        }
    }

    fn key(&self) -> String {
        format!("{} {}", self.ear, self.location)
    }
}

impl Versioned for Test {
    own_id!();

    fn renumber(&mut self, ids: &Ids) {
        self.season = ids.get::<Season>(self.season);
    }

    fn key(&self) -> String {
        let name = self.name.trim_end_matches(OF_THE_OTHER);
        format!("{} {name} {} {:?}", self.season, self.seed, self.plan)
    }

    fn make_room(&mut self, here: &Project) {
        let is_taken = |one: &Self| {
            here.tests_of(one.season)
                .any(|test| test.id != one.id && test.name == one.name)
        };
        while is_taken(self) {
            self.name.push_str(OF_THE_OTHER);
        }
    }
}

impl Versioned for Tray {
    own_id!();

    fn renumber(&mut self, ids: &Ids) {
        self.test = ids.get::<Test>(self.test);
    }

    fn key(&self) -> String {
        format!("{} {}", self.test, self.number)
    }
}

impl Versioned for Cell {
    own_id!();

    fn renumber(&mut self, ids: &Ids) {
        self.tray = ids.get::<Tray>(self.tray);
        if let CellContent::Ear(ear) = &mut self.content {
            *ear = ids.get::<Ear>(*ear);
        }
    }

    fn key(&self) -> String {
        format!("{} {} {}", self.tray, self.row, self.column)
    }
}

impl Versioned for Count {
    own_id!();

    fn renumber(&mut self, ids: &Ids) {
        self.cell = ids.get::<Cell>(self.cell);
        self.corrects = self.corrects.map(|count| ids.get::<Self>(count));
    }

    fn key(&self) -> String {
        content(self)
    }
}

impl Versioned for TemperatureLog {
    own_id!();

    fn renumber(&mut self, ids: &Ids) {
        self.test = ids.get::<Test>(self.test);
        for span in &mut self.spans {
            for tray in &mut span.trays {
                *tray = ids.get::<Tray>(*tray);
            }
        }
    }

    fn key(&self) -> String {
        format!("{} {}", self.test, self.name)
    }
}

impl Versioned for TrayEvent {
    own_id!();

    fn renumber(&mut self, ids: &Ids) {
        self.test = ids.get::<Test>(self.test);
        for tray in &mut self.trays {
            *tray = ids.get::<Tray>(*tray);
        }
    }

    fn key(&self) -> String {
        content(self)
    }
}

impl Versioned for Photo {
    own_id!();

    fn renumber(&mut self, ids: &Ids) {
        self.tray = ids.get::<Tray>(self.tray);
    }

    fn key(&self) -> String {
        format!("{} {} {:?}", self.tray, self.digest, self.pass)
    }
}

impl Versioned for Selection {
    own_id!();

    fn renumber(&mut self, ids: &Ids) {
        self.season = ids.get::<Season>(self.season);
        let words = std::mem::take(&mut self.words);
        self.words = words
            .into_iter()
            .map(|(id, word)| (ids.get::<Ear>(id), word))
            .collect();
        renumber_cutoffs(&mut self.cutoffs, ids);
        for kept in &mut self.kept {
            renumber_cutoffs(&mut kept.cutoffs, ids);
        }
        for moved in &mut self.moves {
            renumber_cutoffs(&mut moved.cutoffs, ids);
        }
        for weight in self.index.iter_mut().flat_map(|index| &mut index.weights) {
            if let IndexTrait::Trait(id) = &mut weight.of {
                *id = ids.get::<Trait>(*id);
            }
        }
    }

    fn key(&self) -> String {
        format!("{} {}", self.season, self.name)
    }
}

impl Versioned for PlantingList {
    const IS_FIXED: bool = true;

    own_id!();

    fn renumber(&mut self, ids: &Ids) {
        self.season = ids.get::<Season>(self.season);
        renumber_cutoffs(&mut self.cutoffs, ids);
        for entry in self.entries.iter_mut().chain(&mut self.reserves) {
            entry.ear = ids.get::<Ear>(entry.ear);
        }
    }

    fn key(&self) -> String {
        format!("{} {}", self.season, self.version)
    }
}

impl Versioned for FieldPlan {
    own_id!();

    fn renumber(&mut self, ids: &Ids) {
        self.list = ids.get::<PlantingList>(self.list);
    }

    fn key(&self) -> String {
        self.list.to_string()
    }
}

impl Versioned for FieldRow {
    own_id!();

    fn renumber(&mut self, ids: &Ids) {
        self.plan = ids.get::<FieldPlan>(self.plan);
        if let FieldContent::Ear(ear) = &mut self.content {
            *ear = ids.get::<Ear>(*ear);
        }
    }

    fn key(&self) -> String {
        format!("{} {}", self.plan, self.stake)
    }
}

impl Versioned for WeatherMonth {
    own_id!();

    fn renumber(&mut self, _ids: &Ids) {}

    fn key(&self) -> String {
        self.id.to_string()
    }
}

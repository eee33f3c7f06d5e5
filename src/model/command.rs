//! What a grower can do to a project.

use super::bring::{self, Line};
use super::change::{Change, Stamp, Transaction};
use super::count::{Count, Pass, Tally};
use super::ear::{Ear, Trait};
use super::ear_code::EarCode;
use super::entry::{EarField, EarValue};
use super::field_plan::{FieldPlan, FieldShape};
use super::field_row::FieldContent;
use super::field_work::{self, FieldNote};
use super::ids::{
    CellId, CountId, EarId, EventId, FieldRowId, ListId, LogId, PacketId, PhotoId, PlanId, RowId, SeasonId,
    SelectionId, StoreId, TestId, TraitId, TrayId,
};
use super::laying;
use super::next_season;
use super::packet::{LedgerLine, LedgerReason, Packet};
use super::photo::Photo;
use super::planting;
use super::planting_list::{ListEntry, PlantingList};
use super::problem::{Fault, Place, Problem};
use super::project::{About, Project};
use super::repair::{self, Repair};
use super::season::{PollenSource, Row, RowSource, Season};
use super::selection::{Cutoffs, Index, KeptCutoffs, KernelWay, SeenWhileMoving, Selection, Word};
use super::store_place::StorePlace;
use super::storing;
use super::table::{Record, Table};
use super::temperature_log::TemperatureLog;
use super::test::{Cell, CellContent, OtherContainer, Recipe, Spread, Test, Tray, TrayPlan};
use super::tray_event::TrayEvent;
use super::weather::{self, WeatherDay};
use super::words::{capital, plural};
use crate::layout;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// The most ears that one command adds.
const MOST_EARS_AT_ONCE: usize = 200_000;

/// Something that a grower asks for. It becomes a [`Transaction`], which a [`super::Document`] commits.
#[derive(Debug, Clone, PartialEq)]
pub enum Command {
    /// Says what the project is.
    Describe(About),
    /// Begins a season.
    AddSeason {
        /// The year of its harvest.
        year: i16,
        /// When its rows were planted, if known.
        planted: Option<Date>,
    },
    /// Changes a season; its id says which.
    EditSeason(Season),
    /// Says where the pollen over a season's rows came from; none takes it back.
    StatePollen {
        /// The season, which may be closed.
        season: SeasonId,
        /// Where the pollen came from.
        pollen: Option<PollenSource>,
    },
    /// Adds a row to a season.
    AddRow {
        /// The season.
        season: SeasonId,
        /// What stands on its stake.
        label: String,
        /// Where its seed came from.
        source: RowSource,
    },
    /// Changes a row; its id says which.
    EditRow(Row),
    /// Removes a row that no ear comes from.
    RemoveRow(RowId),
    /// Adds a trait; its id is given by the project.
    AddTrait(Trait),
    /// Changes a trait; its id says which.
    EditTrait(Trait),
    /// Removes a trait that no ear has a value of.
    RemoveTrait(TraitId),
    /// Adds ears to a season, or gives new values to those already there.
    AddEars {
        /// The season.
        season: SeasonId,
        /// The ears.
        drafts: Vec<EarDraft>,
        /// What to do with a number that the season already has.
        existing: Existing,
    },
    /// Changes fields of ears.
    EditEars(Vec<EarEdit>),
    /// Adds ears and changes fields of others in one step, as when a block of cells is pasted.
    PasteEars {
        /// The season of the added ears.
        season: SeasonId,
        /// The added ears; a number that the season already has is refused.
        drafts: Vec<EarDraft>,
        /// The changes of ears that are already there.
        edits: Vec<EarEdit>,
    },
    /// Removes ears and their packets when nothing else needs them. Their codes are never given out again.
    RemoveEars(Vec<EarId>),
    /// Designs a test and lays out its trays.
    DesignTest(TestDesign),
    /// Changes a test's name, recipe and check lot, but not its trays.
    EditTest {
        /// The test.
        test: TestId,
        /// Its name.
        name: String,
        /// Temperatures and days.
        recipe: Recipe,
        /// The name of the check lot.
        check_lot: String,
    },
    /// Removes a test of which nothing was laid or counted.
    RemoveTest(TestId),
    /// Notes that all kernels of a test, or of some of its trays, were laid, and takes them out of their packets.
    /// Cells that were laid before stay as they are.
    LayTest {
        /// The test.
        test: TestId,
        /// The trays; empty for all.
        trays: Vec<TrayId>,
        /// The day.
        on: Date,
    },
    /// Notes that kernels were laid in single cells, and takes them out of their packets.
    LayCells {
        /// The cells, each with its kernels.
        cells: Vec<(CellId, u16)>,
        /// The day.
        on: Date,
    },
    /// Notes that cells are empty again, and puts their kernels back into the packets.
    TakeUpCells(Vec<CellId>),
    /// Adds ears to a test whose trays have spare cells; nothing else moves.
    AddToTest {
        /// The test.
        test: TestId,
        /// The ears.
        ears: Vec<EarId>,
        /// The day when they were laid; needed when the test was laid already.
        laid_on: Option<Date>,
    },
    /// Mends what lies where, or what was read where.
    Repair(Repair),
    /// Adds a temperature log; its id is given by the project.
    AddLog(TemperatureLog),
    /// Changes a temperature log; its id says which.
    EditLog(TemperatureLog),
    /// Removes a temperature log.
    RemoveLog(LogId),
    /// Notes what happened to trays; its id is given by the project.
    AddEvent(TrayEvent),
    /// Changes a note of what happened to trays; its id says which.
    EditEvent(TrayEvent),
    /// Removes a note of what happened to trays.
    RemoveEvent(EventId),
    /// Adds a photograph; its id is given by the project.
    AddPhoto(Photo),
    /// Changes a photograph; its id says which.
    EditPhoto(Photo),
    /// Removes a photograph from the project. Its file stays where it is.
    RemovePhoto(PhotoId),
    /// Notes that another number of kernels lies in a cell than the test says. If the test was laid, its line in
    /// the packet's ledger follows. Counts of the cell get corrections in which the difference counts as missing.
    SetLaid {
        /// The cell.
        cell: CellId,
        /// The kernels; none for the number that the test says.
        kernels: Option<u16>,
    },
    /// Notes counts. A cell that already has a count of that pass gets a correction of it.
    RecordCounts {
        /// What was seen, cell by cell.
        counts: Vec<Seen>,
        /// The day, if known.
        on: Option<Date>,
        /// Who counted; empty when nobody said.
        by: String,
    },
    /// Takes counts over from elsewhere, each with its own day and scorer, or withdraws counts. A cell that already has a
    /// count of that pass and scorer gets a correction of it.
    TakeCounts {
        /// The counts.
        counts: Vec<Taken>,
        /// What is done, in the grower's words.
        label: String,
    },
    /// Takes over what another version of the project has, as [`Versions::changes`] gives it.
    ///
    /// [`Versions::changes`]: super::Versions::changes
    TakeVersion {
        /// The changes.
        changes: Vec<Change>,
        /// What is done, in the grower's words.
        label: String,
    },
    /// Sets the cutoffs of a season.
    SetCutoffs {
        /// The season.
        season: SeasonId,
        /// The cutoffs.
        cutoffs: Cutoffs,
        /// What was seen meanwhile, for the history of the cutoffs.
        seen: SeenWhileMoving,
    },
    /// Keeps cutoffs under a name; those that were kept under it before are replaced.
    KeepCutoffs {
        /// The season.
        season: SeasonId,
        /// The name.
        name: String,
        /// The cutoffs.
        cutoffs: Cutoffs,
        /// A free note.
        note: String,
    },
    /// Gives kept cutoffs another name.
    RenameCutoffs {
        /// The season.
        season: SeasonId,
        /// The name now.
        from: String,
        /// The new name.
        to: String,
    },
    /// Keeps cutoffs no longer; those that are set stay as they are.
    DropCutoffs {
        /// The season.
        season: SeasonId,
        /// The name.
        name: String,
    },
    /// Gives, or takes back, the grower's word about ears.
    SetWord {
        /// The season.
        season: SeasonId,
        /// The ears.
        ears: Vec<EarId>,
        /// The word; none to take it back.
        word: Option<Word>,
    },
    /// Says how many kernels of each chosen ear of a season are planted.
    SetKernels {
        /// The season.
        season: SeasonId,
        /// Equally many, as many as a wanted stand takes, or shared out.
        way: KernelWay,
    },
    /// Weighs traits into an index.
    SetIndex {
        /// The season.
        season: SeasonId,
        /// The index; without weights there is none.
        index: Index,
    },
    /// Says how many mother rows are wanted on the list at least.
    SetLeastMothers {
        /// The season.
        season: SeasonId,
        /// How many; none for any number.
        least: Option<u16>,
    },
    /// Freezes a planting list.
    Freeze(ListDraft),
    /// Takes the kernels that a list plants out of the packets.
    Plant {
        /// The list, which is in force.
        list: ListId,
        /// The ears that were planted; empty for all that were not planted yet.
        ears: Vec<EarId>,
        /// The day.
        on: Date,
    },
    /// Begins the season that grows from a list, with a row for each family that is planted, and closes the one before.
    BeginFromList {
        /// The list, which is in force.
        list: ListId,
        /// The year of its harvest.
        year: i16,
        /// When the rows were planted; none for the day on which the list was planted, if known.
        planted: Option<Date>,
    },
    /// Closes a season.
    CloseSeason(SeasonId),
    /// Opens a closed season, so that something in it can be corrected.
    OpenSeason {
        /// The season.
        season: SeasonId,
        /// Why.
        reason: String,
    },
    /// Plans the field of a list, or plans it anew while nothing was noted in it.
    PlanField {
        /// The list.
        list: ListId,
        /// What is asked for.
        shape: FieldShape,
        /// The number from which the order is drawn.
        seed: u64,
    },
    /// Changes what was noted around a field: neighbours, rounds of detasselling, the note. Its id says which; its rows
    /// and its shape stay as they are.
    EditPlan(FieldPlan),
    /// Removes a field plan with its rows, while nothing was noted in them.
    RemovePlan(PlanId),
    /// Swaps what is planted in two rows of a field. What was seen stays with the stake.
    SwapFieldRows(FieldRowId, FieldRowId),
    /// Plants something else in a row of a field.
    SetFieldRow {
        /// The row.
        row: FieldRowId,
        /// What is planted in it.
        content: FieldContent,
        /// The kernels.
        kernels: u32,
        /// Whether its tassels are pulled.
        detasselled: bool,
    },
    /// Notes what was seen in rows of a field.
    NoteFieldRows {
        /// What was seen, as it was typed.
        notes: Vec<FieldNote>,
        /// Today.
        on: Date,
    },
    /// Takes the weather of days, each at most once; days that are there already are replaced.
    TakeWeather(Vec<WeatherDay>),
    /// Removes the weather of a span of days, its first and last one included.
    RemoveWeather {
        /// The first day.
        from: Date,
        /// The last day.
        to: Date,
    },
    /// Brings an ear of another project with its line of mothers.
    BringLine {
        /// The line.
        line: Box<Line>,
        /// Kernels that came with it; none when no packet came.
        kernels: Option<u32>,
    },
    /// Adds a place where packets are kept; its id is given by the project.
    AddStore(StorePlace),
    /// Changes a place where packets are kept; its id says which.
    EditStore(StorePlace),
    /// Removes a place in which no packet lies.
    RemoveStore(StoreId),
    /// Moves packets to a place.
    StorePackets {
        /// The packets.
        packets: Vec<PacketId>,
        /// The place; none when it is not known where they are.
        store: Option<StoreId>,
    },
    /// Notes the moisture of the seed in packets.
    NoteMoisture {
        /// The packets.
        packets: Vec<PacketId>,
        /// In percent of the fresh weight; none to take the note back.
        percent: Option<f64>,
        /// The day on which it was measured, if known.
        on: Option<Date>,
    },
}

/// An ear as it comes from a form, a pasted table or a file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct EarDraft {
    /// Its number; none for the next free one.
    pub number: Option<u32>,
    /// The label of its mother row; a row that does not exist is added.
    pub row: Option<String>,
    /// The day when its plant was planted.
    pub planted: Option<Date>,
    /// The day when it matured.
    pub matured: Option<Date>,
    /// The day when it was picked.
    pub picked: Option<Date>,
    /// Days from planting to maturity.
    pub maturity_days: Option<u16>,
    /// Heat units from planting to maturity, in degrees Celsius times days.
    pub heat_units_c: Option<f64>,
    /// Whether frost reached it.
    pub frosted: Option<bool>,
    /// Kernels shelled into its packet.
    pub kernels: Option<u32>,
    /// Where its packet lies.
    pub location: Option<String>,
    /// The name of the storage place that its packet is kept in.
    pub store: Option<String>,
    /// The batch in which it was dried.
    pub batch: Option<String>,
    /// A free note.
    pub note: Option<String>,
    /// Values of traits.
    pub values: BTreeMap<TraitId, f64>,
}

impl EarDraft {
    /// Puts a value into a field of the draft.
    pub fn set(&mut self, field: EarField, value: EarValue) {
        let whole = |value: &EarValue| {
            if let EarValue::Whole(number) = value {
                Some(*number)
            } else {
                None
            }
        };
        let date = |value: &EarValue| {
            if let EarValue::Date(date) = value {
                Some(*date)
            } else {
                None
            }
        };
        match field {
            EarField::Number => self.number = whole(&value),
            EarField::Planted => self.planted = date(&value),
            EarField::Matured => self.matured = date(&value),
            EarField::Picked => self.picked = date(&value),
            EarField::MaturityDays => {
                // More days than there are become days that are refused, never other days.
                self.maturity_days = whole(&value).map(|days| u16::try_from(days).unwrap_or(u16::MAX));
            }
            EarField::HeatUnits => {
                self.heat_units_c = match value {
                    EarValue::Number(heat) => Some(heat),
                    _ => None,
                };
            }
            EarField::Frosted => {
                self.frosted = match value {
                    EarValue::Flag(flag) => Some(flag),
                    _ => None,
                };
            }
            EarField::Kernels => self.kernels = whole(&value),
            EarField::Row | EarField::Location | EarField::Store | EarField::Batch | EarField::Note => {
                let text = if let EarValue::Text(text) = value {
                    Some(text)
                } else {
                    None
                };
                match field {
                    EarField::Row => self.row = text,
                    EarField::Location => self.location = text,
                    EarField::Store => self.store = text,
                    EarField::Batch => self.batch = text,
                    _ => self.note = text,
                }
            }
            EarField::Trait(id) => match value {
                EarValue::Number(number) => {
                    self.values.insert(id, number);
                }
                _ => {
                    self.values.remove(&id);
                }
            },
        }
    }

    fn fields(&self) -> Vec<(EarField, EarValue)> {
        let text = |field, text: &Option<String>| text.clone().map(|text| (field, EarValue::Text(text)));
        let date = |field, date: Option<Date>| date.map(|date| (field, EarValue::Date(date)));
        let whole = |field, number: Option<u32>| number.map(|number| (field, EarValue::Whole(number)));
        [
            text(EarField::Row, &self.row),
            date(EarField::Planted, self.planted),
            date(EarField::Matured, self.matured),
            date(EarField::Picked, self.picked),
            whole(EarField::MaturityDays, self.maturity_days.map(u32::from)),
            self.heat_units_c
                .map(|heat| (EarField::HeatUnits, EarValue::Number(heat))),
            self.frosted.map(|flag| (EarField::Frosted, EarValue::Flag(flag))),
            whole(EarField::Kernels, self.kernels),
            text(EarField::Location, &self.location),
            text(EarField::Store, &self.store),
            text(EarField::Batch, &self.batch),
            text(EarField::Note, &self.note),
        ]
        .into_iter()
        .flatten()
        .chain(
            self.values
                .iter()
                .map(|(id, value)| (EarField::Trait(*id), EarValue::Number(*value))),
        )
        .collect()
    }
}

/// What to do with an ear number that the season already has.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Existing {
    /// Refuse everything.
    #[default]
    Refuse,
    /// Give the ear the values that the draft has.
    Update,
    /// Leave the ear as it is.
    Skip,
}

/// A new value for one field of one ear.
#[derive(Debug, Clone, PartialEq)]
pub struct EarEdit {
    /// The ear.
    pub ear: EarId,
    /// The field.
    pub field: EarField,
    /// The value.
    pub value: EarValue,
}

/// A test as it is asked for.
#[derive(Debug, Clone, PartialEq)]
pub struct TestDesign {
    /// The season whose ears are tested.
    pub season: SeasonId,
    /// A test that it replaces, of which nothing was laid or counted.
    pub replaces: Option<TestId>,
    /// Its name.
    pub name: String,
    /// The trays.
    pub plan: TrayPlan,
    /// Temperatures and days.
    pub recipe: Recipe,
    /// The name of the check lot.
    pub check_lot: String,
    /// The number from which the layout is drawn.
    pub seed: u64,
    /// The ears; none for all ears of the season.
    pub ears: Option<Vec<EarId>>,
}

/// What was seen in a cell.
#[derive(Debug, Clone, PartialEq)]
pub struct Seen {
    /// The cell.
    pub cell: CellId,
    /// When in the test.
    pub pass: Pass,
    /// Whether it is the count of a second scorer.
    pub second: bool,
    /// The kernels by category.
    pub tally: Tally,
    /// Whether there was mould.
    pub mould: bool,
    /// Grade of growth from 0 to 9.
    pub vigor: Option<u8>,
    /// A free note.
    pub note: String,
    /// Median length of the roots, in millimetres.
    pub root_mm: Option<f64>,
    /// Median length of the shoots, in millimetres.
    pub shoot_mm: Option<f64>,
    /// Why a guard was overruled; empty when none was.
    pub overruled: String,
}

impl Seen {
    /// What the first scorer saw in a cell, with nothing but its kernels.
    pub fn new(cell: CellId, pass: Pass, tally: Tally) -> Self {
        Self {
            cell,
            pass,
            second: false,
            tally,
            mould: false,
            vigor: None,
            note: String::new(),
            root_mm: None,
            shoot_mm: None,
            overruled: String::new(),
        }
    }
}

/// A count that is taken over from elsewhere: a sheet of paper, a table, another copy of the project.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// What was seen.
    pub seen: Seen,
    /// The day, if known.
    pub on: Option<Date>,
    /// Who counted; empty when nobody said.
    pub by: String,
    /// Whether it withdraws the count that stands: nothing is known of this cell in this pass any more. Then only the
    /// note of what was seen is kept.
    pub is_void: bool,
    /// The version of the scheme by which it was counted; none for the one in force.
    pub scheme: Option<u16>,
}

impl Taken {
    /// What was seen on a day that is not known by somebody who is not known.
    pub fn new(seen: Seen) -> Self {
        Self {
            seen,
            on: None,
            by: String::new(),
            is_void: false,
            scheme: None,
        }
    }
}

/// A planting list that is to be frozen.
#[derive(Debug, Clone, PartialEq)]
pub struct ListDraft {
    /// The season.
    pub season: SeasonId,
    /// Who freezes it.
    pub by: String,
    /// Why it replaces the list before it; empty for the first.
    pub reason: String,
    /// The cutoffs in force.
    pub cutoffs: Cutoffs,
    /// The ears.
    pub entries: Vec<ListEntry>,
    /// The ears held in reserve.
    pub reserves: Vec<ListEntry>,
}

impl Command {
    /// Works out what the command changes. Nothing is changed yet.
    pub fn transaction(&self, project: &Project, stamp: &Stamp) -> Result<Transaction, Problem> {
        match self {
            Self::Describe(about) => {
                let mut after = about.clone();
                // A scheme that was changed gets a version of its own, which the counts made by it name.
                let before = &project.about.scheme;
                after.scheme.version = before.version + u16::from(after.scheme.order != before.order);
                let change = Change::replace(&project.about, after);
                Ok(Transaction::new("Describe the project", vec![change]).merging("about"))
            }
            Self::AddSeason { year, planted } => {
                let id = SeasonId(project.seasons.next_number());
                let season = Season {
                    planted: *planted,
                    ..Season::new(id, *year)
                };
                Ok(Transaction::new(
                    format!("Begin season {year}"),
                    vec![Change::add(season)],
                ))
            }
            Self::EditSeason(season) => {
                let before = find(&project.seasons, season.id)?;
                let after = Season {
                    retired_serials: before.retired_serials.clone(),
                    closed: before.closed,
                    openings: before.openings.clone(),
                    ..season.clone()
                };
                let key = format!("season {}", season.id);
                let label = format!("Change season {}", before.year);
                Ok(Transaction::new(label, vec![Change::replace(before, after)]).merging(key))
            }
            Self::StatePollen { season, pollen } => {
                let before = find(&project.seasons, *season)?;
                let after = Season {
                    pollen: pollen.clone(),
                    ..before.clone()
                };
                let label = format!("State the pollen of {}", before.year);
                Ok(Transaction::new(label, vec![Change::replace(before, after)]))
            }
            Self::AddRow {
                season,
                label,
                source,
            } => {
                find(&project.seasons, *season)?;
                let row = new_row(RowId(project.rows.next_number()), *season, label, source.clone());
                Ok(Transaction::new(
                    format!("Add row {}", row.label),
                    vec![Change::add(row)],
                ))
            }
            Self::EditRow(row) => {
                let before = find(&project.rows, row.id)?;
                let label = format!("Change row {}", before.label);
                let after = Row {
                    label: row.label.trim().to_owned(),
                    ..row.clone()
                };
                Ok(Transaction::new(label, vec![Change::replace(before, after)]))
            }
            Self::RemoveRow(row) => {
                let row = find(&project.rows, *row)?;
                Ok(Transaction::new(
                    format!("Remove row {}", row.label),
                    vec![Change::remove(row)],
                ))
            }
            Self::AddTrait(known) => {
                let known = Trait {
                    id: TraitId(project.traits.next_number()),
                    name: known.name.trim().to_owned(),
                    ..known.clone()
                };
                Ok(Transaction::new(
                    format!("Add trait {}", known.name),
                    vec![Change::add(known)],
                ))
            }
            Self::EditTrait(known) => {
                let before = find(&project.traits, known.id)?;
                let label = format!("Change trait {}", before.name);
                let after = Trait {
                    name: known.name.trim().to_owned(),
                    ..known.clone()
                };
                Ok(Transaction::new(label, vec![Change::replace(before, after)]))
            }
            Self::RemoveTrait(known) => {
                let known = find(&project.traits, *known)?;
                Ok(Transaction::new(
                    format!("Remove trait {}", known.name),
                    vec![Change::remove(known)],
                ))
            }
            Self::AddEars {
                season,
                drafts,
                existing,
            } => {
                let mut work = EarWork::new(project, stamp);
                work.add(*season, drafts, *existing)?;
                Ok(work.finish())
            }
            Self::EditEars(edits) => edit_ears(project, stamp, edits),
            Self::PasteEars {
                season,
                drafts,
                edits,
            } => {
                let mut work = EarWork::new(project, stamp);
                work.add(*season, drafts, Existing::Refuse)?;
                work.edit(edits)?;
                Ok(work.finish())
            }
            Self::RemoveEars(ears) => remove_ears(project, ears),
            Self::DesignTest(design) => design_test(project, design),
            Self::EditTest {
                test,
                name,
                recipe,
                check_lot,
            } => {
                let before = find(&project.tests, *test)?;
                let after = Test {
                    name: name.trim().to_owned(),
                    recipe: recipe.clone(),
                    check_lot: check_lot.clone(),
                    ..before.clone()
                };
                let key = format!("test {test}");
                let label = format!("Change test {}", before.name);
                Ok(Transaction::new(label, vec![Change::replace(before, after)]).merging(key))
            }
            Self::RemoveTest(test) => {
                let test = find(&project.tests, *test)?;
                let label = format!("Remove test {}", test.name);
                Ok(Transaction::new(label, test_removal(project, test)?))
            }
            Self::LayTest { test, trays, on } => laying::lay_test(project, *test, trays, *on),
            Self::LayCells { cells, on } => laying::lay_cells(project, cells, *on),
            Self::TakeUpCells(cells) => laying::take_up(project, cells),
            Self::AddToTest { test, ears, laid_on } => laying::add_ears(project, *test, ears, *laid_on),
            Self::SetLaid { cell, kernels } => laying::set_laid(project, *cell, *kernels),
            Self::Repair(repair) => repair::transaction(project, repair),
            Self::AddLog(log) => {
                let id = LogId(project.logs.next_number());
                let log = TemperatureLog { id, ..log.clone() };
                let label = format!("Add temperature log {}", log.name);
                Ok(Transaction::new(label, vec![Change::add(log)]))
            }
            Self::EditLog(log) => {
                let before = find(&project.logs, log.id)?;
                let label = format!("Change temperature log {}", before.name);
                Ok(Transaction::new(
                    label,
                    vec![Change::replace(before, log.clone())],
                ))
            }
            Self::RemoveLog(log) => {
                let log = find(&project.logs, *log)?;
                let label = format!("Remove temperature log {}", log.name);
                Ok(Transaction::new(label, vec![Change::remove(log)]))
            }
            Self::AddEvent(event) => {
                let id = EventId(project.events.next_number());
                let event = TrayEvent { id, ..event.clone() };
                let label = format!("Note trays as {}", event.kind.name());
                Ok(Transaction::new(label, vec![Change::add(event)]))
            }
            Self::EditEvent(event) => {
                let before = find(&project.events, event.id)?;
                let label = format!("Change what was {}", before.kind.name());
                Ok(Transaction::new(
                    label,
                    vec![Change::replace(before, event.clone())],
                ))
            }
            Self::RemoveEvent(event) => {
                let event = find(&project.events, *event)?;
                let label = format!("Remove what was {}", event.kind.name());
                Ok(Transaction::new(label, vec![Change::remove(event)]))
            }
            Self::AddPhoto(photo) => {
                let id = PhotoId(project.photos.next_number());
                let photo = Photo { id, ..photo.clone() };
                let label = format!("Add photograph {}", photo.file);
                Ok(Transaction::new(label, vec![Change::add(photo)]))
            }
            Self::EditPhoto(photo) => {
                let before = find(&project.photos, photo.id)?;
                let label = format!("Change photograph {}", before.file);
                Ok(
                    Transaction::new(label, vec![Change::replace(before, photo.clone())])
                        .merging(format!("photo {}", photo.id)),
                )
            }
            Self::RemovePhoto(photo) => {
                let photo = find(&project.photos, *photo)?;
                let label = format!("Remove photograph {}", photo.file);
                Ok(Transaction::new(label, vec![Change::remove(photo)]))
            }
            Self::RecordCounts { counts, on, by } => record_counts(project, counts, *on, by),
            Self::TakeCounts { counts, label } => {
                Ok(Transaction::new(label.as_str(), new_counts(project, counts)?).taking_over())
            }
            Self::TakeVersion { changes, label } => {
                Ok(Transaction::new(label.as_str(), changes.clone()).taking_over())
            }
            Self::SetCutoffs {
                season,
                cutoffs,
                seen,
            } => {
                find(&project.seasons, *season)?;
                let change = change_selection(project, *season, |selection| {
                    selection.move_cutoffs(cutoffs, *seen, stamp);
                });
                Ok(Transaction::new("Set the cutoffs", vec![change]).merging(format!("cutoffs {season}")))
            }
            Self::KeepCutoffs {
                season,
                name,
                cutoffs,
                note,
            } => {
                find(&project.seasons, *season)?;
                let kept = KeptCutoffs {
                    name: name.trim().to_owned(),
                    cutoffs: cutoffs.clone(),
                    note: note.trim().to_owned(),
                    on: stamp.at.date(),
                };
                let label = format!("Keep the cutoffs as '{}'", kept.name);
                let change = change_selection(project, *season, |selection| {
                    match selection.kept.iter_mut().find(|one| one.name == kept.name) {
                        Some(before) => *before = kept,
                        None => selection.kept.push(kept),
                    }
                });
                Ok(Transaction::new(label, vec![change]))
            }
            Self::RenameCutoffs { season, from, to } => {
                let change = change_kept(project, *season, from, |kept, at| {
                    to.trim().clone_into(&mut kept[at].name);
                })?;
                Ok(Transaction::new(
                    format!("Call the cutoffs '{from}' '{}'", to.trim()),
                    vec![change],
                ))
            }
            Self::DropCutoffs { season, name } => {
                let change = change_kept(project, *season, name, |kept, at| {
                    kept.remove(at);
                })?;
                Ok(Transaction::new(
                    format!("Keep the cutoffs '{name}' no longer"),
                    vec![change],
                ))
            }
            Self::SetWord { season, ears, word } => {
                find(&project.seasons, *season)?;
                let change = change_selection(project, *season, |selection| {
                    for ear in ears {
                        match word {
                            Some(word) => selection.words.insert(*ear, word.clone()),
                            None => selection.words.remove(ear),
                        };
                    }
                });
                let word = word
                    .as_ref()
                    .map_or("Take back the word", |word| word.kind.name());
                let label = format!("{} for {}", capital(word), ears_text(project, ears));
                Ok(Transaction::new(label, vec![change]))
            }
            Self::SetKernels { season, way } => {
                find(&project.seasons, *season)?;
                let change = change_selection(project, *season, |selection| selection.set_kernel_way(*way));
                let label = match way {
                    KernelWay::Equal => "Plant equal kernels of every ear",
                    KernelWay::ForAStand => "Plant as many kernels of each ear as a wanted stand takes",
                    KernelWay::SharedOut(_) => "Share the kernels out at a ceiling on coancestry",
                };
                Ok(Transaction::new(label, vec![change]).merging(format!("kernels {season}")))
            }
            Self::SetIndex { season, index } => {
                find(&project.seasons, *season)?;
                let change = change_selection(project, *season, |selection| {
                    selection.index = (!index.weights.is_empty()).then(|| index.clone());
                });
                Ok(Transaction::new("Weigh the index", vec![change]).merging(format!("index {season}")))
            }
            Self::SetLeastMothers { season, least } => {
                find(&project.seasons, *season)?;
                let change = change_selection(project, *season, |selection| {
                    selection.least_mothers = *least;
                });
                Ok(Transaction::new("Set the least mother rows", vec![change])
                    .merging(format!("least mothers {season}")))
            }
            Self::Freeze(draft) => freeze(project, draft, stamp),
            Self::Plant { list, ears, on } => planting::plant(project, *list, ears, *on),
            Self::BeginFromList { list, year, planted } => {
                next_season::begin(project, *list, *year, *planted, stamp)
            }
            Self::CloseSeason(season) => next_season::close(project, *season, stamp),
            Self::OpenSeason { season, reason } => next_season::open(project, *season, reason, stamp),
            Self::PlanField { list, shape, seed } => field_work::plan(project, *list, shape, *seed),
            Self::EditPlan(plan) => field_work::edit(project, plan),
            Self::RemovePlan(plan) => field_work::remove(project, *plan),
            Self::SwapFieldRows(one, other) => field_work::swap(project, *one, *other),
            Self::SetFieldRow {
                row,
                content,
                kernels,
                detasselled,
            } => field_work::set(project, *row, *content, *kernels, *detasselled),
            Self::NoteFieldRows { notes, on } => field_work::note(project, notes, *on),
            Self::TakeWeather(days) => weather::take(project, days),
            Self::RemoveWeather { from, to } => weather::remove(project, *from, *to),
            Self::BringLine { line, kernels } => {
                bring::bring(project, line, *kernels, stamp).map(|bringing| bringing.transaction)
            }
            Self::AddStore(store) => Ok(storing::add(project, store)),
            Self::EditStore(store) => storing::edit(project, store),
            Self::RemoveStore(store) => storing::remove(project, *store),
            Self::StorePackets { packets, store } => storing::put(project, packets, *store),
            Self::NoteMoisture { packets, percent, on } => {
                storing::note_moisture(project, packets, *percent, *on)
            }
        }
    }
}

pub(super) fn find<R: Record>(table: &Table<R>, id: R::Id) -> Result<&R, Problem> {
    table.get(id).ok_or_else(|| {
        Problem::new(
            R::place(id),
            Fault::Dangling {
                kind: R::NAME,
                id: id.into(),
            },
        )
    })
}

fn ears_text(project: &Project, ears: &[EarId]) -> String {
    match ears {
        [ear] => project
            .ears
            .get(*ear)
            .map_or_else(|| "1 ear".to_owned(), |ear| format!("ear {}", ear.number)),
        _ => plural(ears.len(), "ear"),
    }
}

fn new_row(id: RowId, season: SeasonId, label: &str, source: RowSource) -> Row {
    Row {
        id,
        season,
        label: label.trim().to_owned(),
        source,
        planted: None,
        note: String::new(),
    }
}

fn change_selection(project: &Project, season: SeasonId, change: impl FnOnce(&mut Selection)) -> Change {
    if let Some(before) = project.selection_of(season) {
        let mut after = before.clone();
        change(&mut after);
        return Change::replace(before, after);
    }
    let mut selection = Selection {
        id: SelectionId(project.selections.next_number()),
        season,
        name: "Selection".to_owned(),
        cutoffs: Cutoffs::default(),
        words: BTreeMap::new(),
        most_coancestry: None,
        for_a_stand: false,
        least_mothers: None,
        kept: Vec::new(),
        moves: Vec::new(),
        index: None,
    };
    change(&mut selection);
    Change::add(selection)
}

/// Changes the kept cutoffs of a season, given them and the place of those with a name.
fn change_kept(
    project: &Project,
    season: SeasonId,
    name: &str,
    change: impl FnOnce(&mut Vec<KeptCutoffs>, usize),
) -> Result<Change, Problem> {
    let season = find(&project.seasons, season)?;
    let selection = project.selection_of(season.id);
    let at = selection.and_then(|one| one.kept.iter().position(|kept| kept.name == name));
    let Some(at) = at else {
        let text = format!("no cutoffs are kept as '{name}'; choose among those that are");
        return Err(Problem::new(Place::Season(season.id), Fault::Mismatch(text)));
    };
    Ok(change_selection(project, season.id, |selection| {
        change(&mut selection.kept, at);
    }))
}

// ---- ears ----------------------------------------------------------------------------------------------

/// Ears, packets and rows as they will be, collected before they become changes.
struct EarWork<'a> {
    project: &'a Project,
    today: Date,
    rows: Vec<Row>,
    /// Rows by season and label: those of the project that were asked for, and the new ones.
    labels: BTreeMap<(SeasonId, String), RowId>,
    ears: BTreeMap<EarId, Ear>,
    packets: BTreeMap<EarId, Packet>,
    next_ear: u32,
    next_packet: u32,
    added: usize,
}

impl<'a> EarWork<'a> {
    fn new(project: &'a Project, stamp: &Stamp) -> Self {
        Self {
            project,
            today: stamp.at.date(),
            rows: Vec::new(),
            labels: BTreeMap::new(),
            ears: BTreeMap::new(),
            packets: BTreeMap::new(),
            next_ear: project.ears.next_number(),
            next_packet: project.packets.next_number(),
            added: 0,
        }
    }

    fn add(&mut self, season: SeasonId, drafts: &[EarDraft], existing: Existing) -> Result<(), Problem> {
        let season = find(&self.project.seasons, season)?;
        if drafts.len() > MOST_EARS_AT_ONCE {
            let fault = Fault::TooMany {
                what: plural(drafts.len(), "ear"),
                most: MOST_EARS_AT_ONCE as u32,
            };
            return Err(Problem::new(Place::Season(season.id), fault));
        }
        let mut next_number = self.project.next_ear_number(season.id);
        let code = |serial| EarCode::new(self.project.about.prefix, season.year, serial);
        let year = code(0).year();
        // Codes hold two digits of the year, so seasons a century apart share their numbers.
        let alike = self.project.seasons.iter();
        let alike = alike.filter(|other| other.year.rem_euclid(100) as u8 == year);
        let mut serials: BTreeSet<u32> = alike.flat_map(|other| &other.retired_serials).copied().collect();
        let ears = self.project.ears.iter().map(|ear| ear.code);
        serials.extend(ears.filter(|code| code.year() == year).map(|code| code.serial()));
        let mut free = 1;
        let mut numbers: BTreeMap<u32, EarId> = self
            .project
            .ears_of(season.id)
            .map(|ear| (ear.number, ear.id))
            .collect();
        for draft in drafts {
            let number = draft.number.unwrap_or(next_number);
            if let Some(known) = numbers.get(&number).copied() {
                match existing {
                    Existing::Skip => continue,
                    Existing::Update if self.project.ears.contains(known) => self.fill(known, draft)?,
                    Existing::Refuse | Existing::Update => {
                        let fault = Fault::DuplicateEarNumber {
                            season: season.year,
                            number,
                        };
                        return Err(Problem::new(Place::Ear(known), fault));
                    }
                }
                continue;
            }
            let mut serial = number;
            if serials.contains(&serial) {
                while serials.contains(&free) || numbers.contains_key(&free) {
                    free += 1;
                }
                serial = free;
            }
            serials.insert(serial);
            let id = EarId(self.next_ear);
            self.next_ear += 1;
            self.added += 1;
            numbers.insert(number, id);
            next_number = next_number.max(number.saturating_add(1));
            let ear = Ear {
                id,
                season: season.id,
                number,
                code: code(serial),
                row: None,
                planted: None,
                matured: None,
                picked: None,
                maturity_days: None,
                heat_units_c: None,
                frosted: None,
                values: BTreeMap::new(),
                note: String::new(),
                batch: String::new(),
                brought: None,
            };
            self.ears.insert(id, ear);
            self.fill(id, draft)?;
        }
        Ok(())
    }

    fn edit(&mut self, edits: &[EarEdit]) -> Result<(), Problem> {
        for edit in edits {
            find(&self.project.ears, edit.ear)?;
            self.set(edit.ear, edit.field, edit.value.clone())?;
        }
        Ok(())
    }

    fn fill(&mut self, ear: EarId, draft: &EarDraft) -> Result<(), Problem> {
        draft
            .fields()
            .into_iter()
            .try_for_each(|(field, value)| self.set(ear, field, value))
    }

    fn ear(&mut self, id: EarId) -> Result<&mut Ear, Problem> {
        if let std::collections::btree_map::Entry::Vacant(slot) = self.ears.entry(id) {
            slot.insert(find(&self.project.ears, id)?.clone());
        }
        let missing = Fault::Dangling {
            kind: Ear::NAME,
            id: id.0,
        };
        self.ears
            .get_mut(&id)
            .ok_or(Problem::new(Place::Ear(id), missing))
    }

    fn set(&mut self, id: EarId, field: EarField, value: EarValue) -> Result<(), Problem> {
        let wrong = || {
            let text = "the value does not fit the field; type it again".to_owned();
            Problem::new(Place::Ear(id), Fault::Mismatch(text))
        };
        // The ear is among those worked on even when only its packet changes.
        self.ear(id)?;
        match (field, value) {
            (EarField::Number, EarValue::Whole(number)) => self.ear(id)?.number = number,
            (EarField::Row, EarValue::Empty) => self.ear(id)?.row = None,
            (EarField::Row, EarValue::Text(label)) => {
                let season = self.ear(id)?.season;
                let row = self.row(season, &label);
                self.ear(id)?.row = Some(row);
            }
            (EarField::Planted, EarValue::Empty) => self.ear(id)?.planted = None,
            (EarField::Planted, EarValue::Date(date)) => self.ear(id)?.planted = Some(date),
            (EarField::Matured, EarValue::Empty) => self.ear(id)?.matured = None,
            (EarField::Matured, EarValue::Date(date)) => self.ear(id)?.matured = Some(date),
            (EarField::Picked, EarValue::Empty) => self.ear(id)?.picked = None,
            (EarField::Picked, EarValue::Date(date)) => self.ear(id)?.picked = Some(date),
            (EarField::MaturityDays, EarValue::Empty) => self.ear(id)?.maturity_days = None,
            (EarField::MaturityDays, EarValue::Whole(days)) => {
                self.ear(id)?.maturity_days = Some(u16::try_from(days).ok().ok_or_else(wrong)?);
            }
            (EarField::HeatUnits, EarValue::Empty) => self.ear(id)?.heat_units_c = None,
            (EarField::HeatUnits, EarValue::Number(heat)) => self.ear(id)?.heat_units_c = Some(heat),
            (EarField::Frosted, EarValue::Empty) => self.ear(id)?.frosted = None,
            (EarField::Frosted, EarValue::Flag(flag)) => self.ear(id)?.frosted = Some(flag),
            (EarField::Note, EarValue::Empty) => self.ear(id)?.note = String::new(),
            (EarField::Note, EarValue::Text(note)) => self.ear(id)?.note = note,
            (EarField::Batch, EarValue::Empty) => self.ear(id)?.batch = String::new(),
            (EarField::Batch, EarValue::Text(batch)) => self.ear(id)?.batch = batch,
            (EarField::Kernels, EarValue::Empty) => self.uncount(id)?,
            (EarField::Kernels, EarValue::Whole(kernels)) => self.count(id, kernels),
            (EarField::Location, EarValue::Empty) => {
                if self.has_packet(id) {
                    self.packet(id).location = String::new();
                }
            }
            (EarField::Location, EarValue::Text(place)) => self.packet(id).location = place,
            (EarField::Store, EarValue::Empty) => {
                if self.has_packet(id) {
                    self.packet(id).store = None;
                }
            }
            (EarField::Store, EarValue::Text(name)) => {
                let store = self.project.known_store(&name);
                self.packet(id).store = Some(store.map_err(|fault| Problem::new(Place::Ear(id), fault))?.id);
            }
            (EarField::Trait(known), EarValue::Empty) => {
                self.ear(id)?.values.remove(&known);
            }
            (EarField::Trait(known), EarValue::Number(number)) => {
                find(&self.project.traits, known)?
                    .check_value(number)
                    .map_err(|fault| Problem::new(Place::Ear(id), fault))?;
                self.ear(id)?.values.insert(known, number);
            }
            _ => return Err(wrong()),
        }
        Ok(())
    }

    fn row(&mut self, season: SeasonId, label: &str) -> RowId {
        let key = (season, label.trim().to_owned());
        if let Some(row) = self.labels.get(&key) {
            return *row;
        }
        let known = self.project.row_labelled(season, label).map(|row| row.id);
        let id = known.unwrap_or_else(|| {
            let id = RowId(self.project.rows.next_number() + self.rows.len() as u32);
            self.rows.push(new_row(id, season, label, RowSource::Unknown));
            id
        });
        self.labels.insert(key, id);
        id
    }

    fn packet(&mut self, ear: EarId) -> &mut Packet {
        let (project, next) = (self.project, &mut self.next_packet);
        self.packets.entry(ear).or_insert_with(|| {
            project.packets_of(ear).next().cloned().unwrap_or_else(|| {
                let id = PacketId(*next);
                *next += 1;
                Packet::new(id, ear)
            })
        })
    }

    /// Says how many kernels the packet holds: as shelled while nothing else happened to it, else counted again.
    fn count(&mut self, ear: EarId, kernels: u32) {
        let today = self.today;
        let packet = self.packet(ear);
        // More kernels than there are become a number that is refused, never another number.
        let whole = |kernels: i64| i32::try_from(kernels).unwrap_or(i32::MAX);
        let line = |kernels: i64, reason| LedgerLine {
            on: Some(today),
            kernels: whole(kernels),
            reason,
            note: String::new(),
        };
        match packet.ledger.as_mut_slice() {
            [] => packet
                .ledger
                .push(line(i64::from(kernels), LedgerReason::Shelled)),
            [only] if only.reason == LedgerReason::Shelled => only.kernels = whole(i64::from(kernels)),
            lines => {
                let sum: i64 = lines.iter().map(|line| i64::from(line.kernels)).sum();
                let difference = i64::from(kernels) - sum;
                if difference != 0 || packet.balance().is_none() {
                    packet.ledger.push(line(difference, LedgerReason::Recounted));
                }
            }
        }
    }

    fn has_packet(&self, ear: EarId) -> bool {
        self.packets.contains_key(&ear) || self.project.packets_of(ear).next().is_some()
    }

    fn uncount(&mut self, ear: EarId) -> Result<(), Problem> {
        if !self.has_packet(ear) {
            return Ok(());
        }
        let packet = self.packet(ear);
        if !packet.ledger.iter().any(|line| line.reason.is_a_count()) {
            return Ok(());
        }
        if packet.ledger.len() > 1 {
            let text = "kernels were taken from this packet, so its number cannot be emptied; type 0 if none are left";
            return Err(Problem::new(
                Place::Packet(packet.id),
                Fault::Mismatch(text.to_owned()),
            ));
        }
        packet.ledger.clear();
        Ok(())
    }

    fn finish(self) -> Transaction {
        let project = self.project;
        let mut changes: Vec<Change> = self.rows.into_iter().map(Change::add).collect();
        let changed = self.ears.len();
        let only = if changed == 1 {
            self.ears.values().next().map(|ear| ear.number)
        } else {
            None
        };
        for (id, ear) in self.ears {
            match project.ears.get(id) {
                Some(before) if *before != ear => changes.push(Change::replace(before, ear)),
                Some(_) => {}
                None => changes.push(Change::add(ear)),
            }
        }
        for packet in self.packets.into_values() {
            match project.packets.get(packet.id) {
                Some(before) if *before != packet => changes.push(Change::replace(before, packet)),
                Some(_) => {}
                None => changes.push(Change::add(packet)),
            }
        }
        let label = match (self.added, only) {
            (0, Some(number)) => format!("Change ear {number}"),
            (0, None) => format!("Change {}", plural(changed, "ear")),
            (1, Some(number)) => format!("Add ear {number}"),
            (added, _) if added == changed => format!("Add {}", plural(added, "ear")),
            (added, _) => format!("Add {} and change {}", plural(added, "ear"), changed - added),
        };
        Transaction::new(label, changes)
    }
}

fn edit_ears(project: &Project, stamp: &Stamp, edits: &[EarEdit]) -> Result<Transaction, Problem> {
    let mut work = EarWork::new(project, stamp);
    work.edit(edits)?;
    let mut transaction = work.finish();
    if let [first, rest @ ..] = edits
        && rest.iter().all(|edit| edit.field == first.field)
    {
        let ears: Vec<EarId> = edits.iter().map(|edit| edit.ear).collect();
        let field = first.field.title(project).to_lowercase();
        transaction.label = format!("Set {field} of {}", ears_text(project, &ears));
    }
    Ok(transaction)
}

fn remove_ears(project: &Project, ears: &[EarId]) -> Result<Transaction, Problem> {
    let mut changes = Vec::new();
    let mut seasons: BTreeMap<SeasonId, Season> = BTreeMap::new();
    for id in ears {
        let ear = find(&project.ears, *id)?;
        let season = find(&project.seasons, ear.season)?;
        seasons
            .entry(season.id)
            .or_insert_with(|| season.clone())
            .retired_serials
            .insert(ear.code.serial());
        for packet in project.packets_of(*id) {
            let is_used = packet.ledger.iter().any(|line| !line.reason.is_a_count());
            if is_used {
                let by = "the ledger of its packet".to_owned();
                return Err(Problem::new(Place::Ear(*id), Fault::StillNeeded { by }));
            }
            changes.push(Change::remove(packet));
        }
        changes.push(Change::remove(ear));
    }
    for (id, after) in seasons {
        changes.push(Change::replace(find(&project.seasons, id)?, after));
    }
    Ok(Transaction::new(
        format!("Remove {}", ears_text(project, ears)),
        changes,
    ))
}

// ---- tests ---------------------------------------------------------------------------------------------

fn test_removal(project: &Project, test: &Test) -> Result<Vec<Change>, Problem> {
    let laid = project.cells_of_test(test.id).filter_map(|cell| cell.laid_on);
    if let Some(day) = test.laid.or(laid.min()) {
        let by = format!("the note that its kernels were laid on {day}");
        return Err(Problem::new(Place::Test(test.id), Fault::StillNeeded { by }));
    }
    let mut changes = Vec::new();
    for tray in project.trays_of(test.id) {
        changes.extend(project.cells_of(tray.id).map(Change::remove));
        changes.push(Change::remove(tray));
    }
    changes.push(Change::remove(test));
    Ok(changes)
}

fn design_test(project: &Project, design: &TestDesign) -> Result<Transaction, Problem> {
    let at = |fault| Problem::new(Place::Season(design.season), fault);
    find(&project.seasons, design.season)?;
    let ears: Vec<&Ear> = match &design.ears {
        Some(chosen) => chosen
            .iter()
            .map(|id| find(&project.ears, *id))
            .collect::<Result<_, _>>()?,
        None => project.ears_of(design.season).collect(),
    };
    if ears.is_empty() {
        return Err(at(Fault::NoEars("test")));
    }
    let mut chosen = BTreeSet::new();
    if let Some(twice) = ears.iter().find(|ear| !chosen.insert(ear.id)) {
        let text = format!(
            "ear {} is chosen twice for this test; choose it once and ask for replicates",
            twice.number
        );
        return Err(Problem::new(Place::Ear(twice.id), Fault::Mismatch(text)));
    }
    let layout = lay_out(&design.plan, design.seed, &ears).map_err(at)?;
    let mut changes = Vec::new();
    if let Some(replaced) = design.replaces {
        changes.extend(test_removal(project, find(&project.tests, replaced)?)?);
    }
    let test = Test {
        id: TestId(project.tests.next_number()),
        season: design.season,
        name: design.name.trim().to_owned(),
        plan: design.plan.clone(),
        recipe: design.recipe.clone(),
        seed: design.seed,
        check_lot: design.check_lot.clone(),
        laid: None,
    };
    let label = format!("Design test {}", test.name);
    let (mut tray_id, mut cell_id) = (project.trays.next_number(), project.cells.next_number());
    let test_id = test.id;
    changes.push(Change::add(test));
    for (number, planned) in (1_u16..).zip(&layout.trays) {
        let tray = Tray {
            id: TrayId(tray_id),
            test: test_id,
            number,
            replicate: planned.replicate + 1,
            rows: planned.grid.rows(),
            columns: planned.grid.columns(),
            container: planned.container as u16,
        };
        changes.push(Change::add(tray));
        for (place, content) in planned.cells.iter().enumerate() {
            let content = match content {
                layout::Content::Item(item) => CellContent::Ear(ears[*item].id),
                layout::Content::Check(check) => CellContent::Check(check + 1),
                layout::Content::Landmark => CellContent::Landmark,
                layout::Content::Spare => CellContent::Spare,
            };
            let (row, column) = planned.grid.place(place);
            let cell = Cell {
                id: CellId(cell_id),
                tray: TrayId(tray_id),
                row: row as u16 + 1,
                column: column as u16 + 1,
                content,
                laid: None,
                laid_on: None,
            };
            changes.push(Change::add(cell));
            cell_id += 1;
        }
        tray_id += 1;
    }
    Ok(Transaction::new(label, changes))
}

/// Gives the rows and columns of cells of a tray of the plan's own container.
pub fn grid_of(plan: &TrayPlan) -> Result<layout::Grid, Fault> {
    plan.check()?;
    let size = layout::SizeMm {
        width: plan.width_mm,
        height: plan.height_mm,
    };
    grid_in(plan, size, plan.margin_mm).map_err(|fault| Fault::Layout(fault.to_string()))
}

fn grid_in(
    plan: &TrayPlan,
    container: layout::SizeMm,
    margin_mm: f64,
) -> Result<layout::Grid, layout::LayoutFault> {
    let cell = layout::SizeMm {
        width: plan.cell_width_mm,
        height: plan.cell_height_mm,
    };
    layout::grid_of(container, cell, margin_mm, plan.aisle_mm)
}

/// Gives the trays of the plan's other containers.
fn stock_of(plan: &TrayPlan) -> Result<Vec<layout::Stock>, Fault> {
    let stock = |(number, other): (u16, &OtherContainer)| {
        let size = layout::SizeMm {
            width: other.width_mm,
            height: other.height_mm,
        };
        let grid = grid_in(plan, size, other.margin_mm)
            .map_err(|fault| Fault::Layout(format!("{}: {fault}", other.title(number))))?;
        Ok(layout::Stock {
            grid,
            trays: u32::from(other.trays),
        })
    };
    (1..).zip(&plan.others).map(stock).collect()
}

/// Says what the trays of a plan must hold, with its other containers.
fn trays_of<'a>(plan: &TrayPlan, others: &'a [layout::Stock]) -> Result<layout::Trays<'a>, Fault> {
    Ok(layout::Trays {
        grid: grid_of(plan)?,
        others,
        replicates: plan.replicates,
        spread: match plan.spread {
            Spread::Blocks => layout::Spread::Blocks,
            Spread::Anywhere => layout::Spread::Anywhere,
        },
        checks_per_tray: plan.checks,
        landmarks_per_tray: plan.landmarks,
    })
}

/// Counts the trays that a plan needs for so many ears.
pub fn trays_needed(plan: &TrayPlan, ears: usize) -> Result<u32, Fault> {
    let others = stock_of(plan)?;
    let trays = trays_of(plan, &others)?;
    trays
        .needed(ears)
        .map_err(|fault| Fault::Layout(fault.to_string()))
}

/// Counts the ears that a plan holds where each replicate has one tray: those that are used first.
pub fn ears_of_first_trays(plan: &TrayPlan) -> Result<usize, Fault> {
    let others = stock_of(plan)?;
    let trays = trays_of(plan, &others)?;
    trays
        .first_trays_hold()
        .map_err(|fault| Fault::Layout(fault.to_string()))
}

/// Draws the layout of a plan for ears: the same plan, seed and ears give the same layout for ever.
pub fn lay_out(plan: &TrayPlan, seed: u64, ears: &[&Ear]) -> Result<layout::Layout, Fault> {
    let others = stock_of(plan)?;
    let groups: Vec<u32> = ears.iter().map(|ear| family_of(ear)).collect();
    layout::lay_out(&layout::Request {
        groups: &groups,
        batches: &batches_of(ears),
        trays: trays_of(plan, &others)?,
        seed,
    })
    .map_err(|fault| Fault::Layout(fault.to_string()))
}

/// The number of an ear's mother row. Ears of unknown mother row are spread like one family.
pub(super) fn family_of(ear: &Ear) -> u32 {
    ear.row.map_or(0, |row| row.0)
}

/// Numbers the drying batches of ears. Ears of unknown batch are spread like one batch.
pub(super) fn batches_of(ears: &[&Ear]) -> Vec<u32> {
    let names: BTreeSet<&str> = ears.iter().map(|ear| ear.batch.trim()).collect();
    let numbers: BTreeMap<&str, u32> = names.into_iter().zip(0..).collect();
    ears.iter().map(|ear| numbers[ear.batch.trim()]).collect()
}

/// Works out the counts that are new, each after those before it. One that says again what stands is none.
fn new_counts(project: &Project, taken: &[Taken]) -> Result<Vec<Change>, Problem> {
    let mut new: Vec<Count> = Vec::new();
    let mut latest: BTreeMap<(CellId, Pass, bool), usize> = BTreeMap::new();
    let mut next = project.counts.next_number();
    for one in taken {
        let Taken { seen, is_void, .. } = one;
        let cell = find(&project.cells, seen.cell)?;
        let identity = (cell.id, seen.pass, seen.second);
        let before = latest
            .get(&identity)
            .map(|at| &new[*at])
            .or_else(|| project.standing_count(cell.id, seen.pass, seen.second));
        let stands = before.is_some_and(|count| !count.void);
        let same = before.is_some_and(|count| {
            !count.void
                && count.tally == seen.tally
                && count.mould == seen.mould
                && count.vigor == seen.vigor
                && count.note == seen.note
                && count.root_mm == seen.root_mm
                && count.shoot_mm == seen.shoot_mm
                && count.overruled == seen.overruled
        });
        if (*is_void && !stands) || (!is_void && same) {
            continue;
        }
        let seen = if *is_void {
            Seen {
                second: seen.second,
                note: seen.note.clone(),
                ..Seen::new(cell.id, seen.pass, Tally::default())
            }
        } else {
            seen.clone()
        };
        let corrects = before.map(|count| count.id);
        latest.insert(identity, new.len());
        new.push(Count {
            id: CountId(next),
            cell: cell.id,
            pass: seen.pass,
            on: one.on,
            by: one.by.trim().to_owned(),
            second: seen.second,
            tally: seen.tally,
            mould: seen.mould,
            vigor: seen.vigor,
            note: seen.note,
            corrects,
            void: *is_void,
            root_mm: seen.root_mm,
            shoot_mm: seen.shoot_mm,
            overruled: seen.overruled,
            scheme: one.scheme.unwrap_or(project.about.scheme.version),
        });
        next += 1;
    }
    Ok(new.into_iter().map(Change::add).collect())
}

fn record_counts(
    project: &Project,
    seen: &[Seen],
    on: Option<Date>,
    by: &str,
) -> Result<Transaction, Problem> {
    let taken: Vec<Taken> = seen
        .iter()
        .map(|seen| Taken {
            on,
            by: by.to_owned(),
            ..Taken::new(seen.clone())
        })
        .collect();
    // One sitting sees a cell once; a count and its correction belong to `TakeCounts`.
    let mut once = BTreeSet::new();
    for one in seen {
        if !once.insert((one.cell, one.pass, one.second)) {
            let fault = Fault::CountedTwice {
                pass: one.pass.to_string(),
            };
            return Err(Problem::new(Place::Cell(one.cell), fault));
        }
    }
    let changes = new_counts(project, &taken)?;
    let label = match seen {
        [one] => {
            let tray = project
                .cells
                .get(one.cell)
                .and_then(|cell| project.trays.get(cell.tray));
            let cell = project.cells.get(one.cell).map_or_else(String::new, Cell::name);
            format!("Score tray {} cell {cell}", tray.map_or(0, |tray| tray.number))
        }
        _ => format!("Score {}", plural(seen.len(), "cell")),
    };
    Ok(Transaction::new(label, changes))
}

// ---- planting list -------------------------------------------------------------------------------------

fn freeze(project: &Project, draft: &ListDraft, stamp: &Stamp) -> Result<Transaction, Problem> {
    let season = find(&project.seasons, draft.season)?;
    let at = |fault| Problem::new(Place::Season(season.id), fault);
    let version = project
        .list_in_force(season.id)
        .map_or(1, |list| list.version.saturating_add(1));
    let (mut entries, mut reserves) = (draft.entries.clone(), draft.reserves.clone());
    entries.sort_by_key(|entry| entry.number);
    let mut listed = BTreeSet::new();
    for entry in entries.iter_mut().chain(&mut reserves) {
        let ear = find(&project.ears, entry.ear)?;
        if !listed.insert(ear.id) {
            let text = format!("ear {} is on the list twice; list it once", ear.number);
            return Err(at(Fault::Mismatch(text)));
        }
        if entry.number != ear.number {
            let text = format!(
                "the list calls ear {} by the number {}; look at the selection again and repeat the freeze",
                ear.number, entry.number
            );
            return Err(Problem::new(Place::Ear(ear.id), Fault::Mismatch(text)));
        }
        let wanted = i64::from(entry.plant) + i64::from(entry.keep);
        if let Some(kernels) = project.kernels_of(ear.id)
            && kernels < wanted
        {
            let text = format!(
                "ear {} has {kernels} kernels, but {} to plant and {} to keep back are {wanted}; plant or keep fewer",
                ear.number, entry.plant, entry.keep
            );
            return Err(Problem::new(Place::Ear(ear.id), Fault::Mismatch(text)));
        }
        // The printed figures are what is frozen, so that file, print and digest agree.
        entry.likely_percent = entry
            .likely_percent
            .map(|percent| (percent * 10.0).round() / 10.0);
        entry.maturity_days = entry.maturity_days.map(f64::round);
        if let Some(sowing) = &mut entry.sowing {
            sowing.plants = (sowing.plants * 10.0).round() / 10.0;
            sowing.probability = (sowing.probability * 100.0).round() / 100.0;
        }
    }
    // The likeliest comes first; of equals the lower number.
    reserves.sort_by(|a, b| {
        let likely = |entry: &ListEntry| entry.likely_percent.unwrap_or(-1.0);
        likely(b).total_cmp(&likely(a)).then(a.number.cmp(&b.number))
    });
    let mut list = PlantingList {
        id: ListId(project.lists.next_number()),
        season: season.id,
        year: season.year,
        project: project.about.name.clone(),
        version,
        reason: draft.reason.trim().to_owned(),
        frozen_on: stamp.at.date(),
        frozen_by: draft.by.trim().to_owned(),
        cutoffs: draft.cutoffs.clone(),
        rules: project.cutoffs_text(&draft.cutoffs),
        sowing: entries
            .iter()
            .any(|entry| entry.sowing.is_some())
            .then(|| season.wanted()),
        entries,
        reserves,
        digest: String::new(),
    };
    list.digest = list.compute_digest();
    let label = format!("Freeze planting list {version}");
    Ok(Transaction::new(label, vec![Change::add(list)]))
}

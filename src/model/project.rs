//! A population's whole story, all seasons, with its invariants.

use super::change::{Change, Swap};
use super::count::{Count, Germinated, Pass, Scheme, Tally};
use super::ear::{Ear, Trait};
use super::ear_code::{EarCode, Prefix};
use super::field_plan::FieldPlan;
use super::field_row::FieldRow;
use super::ids::{
    CellId, CountId, EarId, FieldRowId, ListId, PacketId, PlanId, RowId, SeasonId, SelectionId, TestId,
    TraitId, TrayId,
};
use super::packet::{LedgerReason, Packet};
use super::photo::Photo;
use super::planting_list::PlantingList;
use super::problem::{Fault, Place, Problem, check_name, check_number, check_text};
use super::season::{Row, RowSource, Season};
use super::selection::{Cutoffs, IndexTrait, Selection};
use super::store_place::{StorageRules, StorePlace};
use super::table::{Record, Table};
use super::temperature_log::TemperatureLog;
use super::test::{Cell, Test, Tray};
use super::tray_event::TrayEvent;
use super::weather::WeatherMonth;
use super::weather_days::WeatherDays;
use jiff::ToSpan;
use jiff::civil::Date;
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::collections::BTreeSet;
use std::ops::Deref;

/// What the project is.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct About {
    /// The project's name, usually the population's.
    pub name: String,
    /// The letters with which all ear codes begin.
    pub prefix: Prefix,
    /// A text that tells this project from all others; copies of the project share it.
    pub id: String,
    /// What is grown and bred for.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub population: String,
    /// Who grows it.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub grower: String,
    /// Rules that came with the seed, such as a pledge or a contract.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub restrictions: String,
    /// The units shown on screen and in prints; the file always holds millimetres and degrees Celsius.
    #[serde(default)]
    pub units: Units,
    /// Which seedlings count as germinated.
    #[serde(default)]
    pub germinated: Germinated,
    /// By which categories kernels are counted.
    #[serde(default, skip_serializing_if = "Scheme::is_default")]
    pub scheme: Scheme,
    /// When stored seed is tested again or grown anew.
    #[serde(default, skip_serializing_if = "StorageRules::is_common")]
    pub storage: StorageRules,
    /// The low of a day at or below which ears that are still out count as frosted, in degrees Celsius; none for 0 °C.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub frost_c: Option<f64>,
}

/// Units shown on screen.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Units {
    /// The unit of lengths.
    pub length: LengthUnit,
    /// The unit of temperatures.
    pub temperature: TemperatureUnit,
}

/// A unit of length.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum LengthUnit {
    /// Inches.
    #[default]
    Inches,
    /// Centimetres.
    Centimetres,
}

impl LengthUnit {
    /// Gives the unit's sign.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Inches => "in",
            Self::Centimetres => "cm",
        }
    }

    /// Gives the millimetres in one unit.
    pub fn millimetres(self) -> f64 {
        match self {
            Self::Inches => super::test::MM_PER_INCH,
            Self::Centimetres => 10.0,
        }
    }
}

/// A unit of temperature.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
pub enum TemperatureUnit {
    /// Degrees Celsius.
    Celsius,
    /// Degrees Fahrenheit.
    #[default]
    Fahrenheit,
}

impl TemperatureUnit {
    /// Gives the unit's sign.
    pub fn sign(self) -> &'static str {
        match self {
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
        }
    }

    /// Turns degrees Celsius into this unit.
    pub fn of_celsius(self, celsius: f64) -> f64 {
        match self {
            Self::Celsius => celsius,
            Self::Fahrenheit => celsius * 9.0 / 5.0 + 32.0,
        }
    }

    /// Turns a difference in degrees Celsius into this unit.
    pub fn difference_of_celsius(self, celsius: f64) -> f64 {
        match self {
            Self::Celsius => celsius,
            Self::Fahrenheit => celsius * 9.0 / 5.0,
        }
    }

    /// Turns a difference in this unit into degrees Celsius.
    pub fn difference_to_celsius(self, degrees: f64) -> f64 {
        match self {
            Self::Celsius => degrees,
            Self::Fahrenheit => degrees * 5.0 / 9.0,
        }
    }

    /// Turns this unit into degrees Celsius.
    pub fn to_celsius(self, degrees: f64) -> f64 {
        match self {
            Self::Celsius => degrees,
            Self::Fahrenheit => (degrees - 32.0) * 5.0 / 9.0,
        }
    }
}

impl About {
    /// Describes a new project.
    pub fn new(name: &str, id: &str) -> Self {
        Self {
            name: name.to_owned(),
            prefix: Prefix::propose(name),
            id: id.to_owned(),
            population: String::new(),
            grower: String::new(),
            restrictions: String::new(),
            units: Units::default(),
            germinated: Germinated::default(),
            scheme: Scheme::default(),
            storage: StorageRules::default(),
            frost_c: None,
        }
    }

    fn check(&self) -> Result<(), Fault> {
        check_name("project", &self.name)?;
        check_text("the population", &self.population)?;
        check_text("the grower's name", &self.grower)?;
        check_text("the restrictions", &self.restrictions)?;
        check_text("the project's id", &self.id)?;
        self.storage.check()?;
        if let Some(frost) = self.frost_c {
            check_number("the limit of frost in °C", frost, -20.0, 5.0)?;
        }
        self.scheme.check()
    }
}

/// All records of a project.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Records {
    /// What the project is.
    pub about: About,
    /// Seasons.
    #[serde(default)]
    pub seasons: Table<Season>,
    /// Rows.
    #[serde(default)]
    pub rows: Table<Row>,
    /// Traits.
    #[serde(default)]
    pub traits: Table<Trait>,
    /// Ears.
    #[serde(default)]
    pub ears: Table<Ear>,
    /// Packets.
    #[serde(default)]
    pub packets: Table<Packet>,
    /// Tests.
    #[serde(default)]
    pub tests: Table<Test>,
    /// Trays.
    #[serde(default)]
    pub trays: Table<Tray>,
    /// Cells.
    #[serde(default)]
    pub cells: Table<Cell>,
    /// Counts.
    #[serde(default)]
    pub counts: Table<Count>,
    /// Selections.
    #[serde(default)]
    pub selections: Table<Selection>,
    /// Frozen planting lists.
    #[serde(default)]
    pub lists: Table<PlantingList>,
    /// Temperature logs.
    #[serde(default, skip_serializing_if = "Table::is_empty")]
    pub logs: Table<TemperatureLog>,
    /// What happened to trays.
    #[serde(default, skip_serializing_if = "Table::is_empty")]
    pub events: Table<TrayEvent>,
    /// Photographs of trays.
    #[serde(default, skip_serializing_if = "Table::is_empty")]
    pub photos: Table<Photo>,
    /// Plans of fields.
    #[serde(default, skip_serializing_if = "Table::is_empty")]
    pub plans: Table<FieldPlan>,
    /// Rows of the plans of fields.
    #[serde(default, skip_serializing_if = "Table::is_empty")]
    pub field_rows: Table<FieldRow>,
    /// The weather of the grower's place, month by month.
    #[serde(default, skip_serializing_if = "Table::is_empty")]
    pub weather: Table<WeatherMonth>,
    /// Places where packets are kept.
    #[serde(default, skip_serializing_if = "Table::is_empty")]
    pub stores: Table<StorePlace>,
}

/// A project: its records, and an index to find them by what they belong to.
///
/// It can only be read: the one way to change it is through [`super::Document`].
#[derive(Debug, Clone, PartialEq)]
pub struct Project {
    records: Records,
    index: Index,
}

/// Who belongs to whom. It follows from the records and is never written.
#[derive(Debug, Clone, PartialEq, Default)]
struct Index {
    ears: BTreeSet<(SeasonId, u32, EarId)>,
    codes: BTreeSet<(EarCode, EarId)>,
    row_ears: BTreeSet<(RowId, EarId)>,
    packets: BTreeSet<(EarId, PacketId)>,
    trays: BTreeSet<(TestId, u16, TrayId)>,
    cells: BTreeSet<(TrayId, u16, u16, CellId)>,
    ear_cells: BTreeSet<(EarId, CellId)>,
    counts: BTreeSet<(CellId, CountId)>,
    corrections: BTreeSet<(CountId, CountId)>,
    field_rows: BTreeSet<(PlanId, u32, FieldRowId)>,
    ear_field_rows: BTreeSet<(EarId, FieldRowId)>,
    weather: WeatherDays,
}

impl Index {
    fn of(records: &Records) -> Self {
        // Collecting sorted pairs is several times faster than inserting them one by one.
        let ears = records.ears.iter();
        let cells = records.cells.iter();
        Self {
            ears: ears.clone_pairs(|ear| Some((ear.season, ear.number, ear.id))),
            codes: records.ears.iter().clone_pairs(|ear| Some((ear.code, ear.id))),
            row_ears: records
                .ears
                .iter()
                .clone_pairs(|ear| ear.row.map(|row| (row, ear.id))),
            packets: records
                .packets
                .iter()
                .clone_pairs(|packet| Some((packet.ear, packet.id))),
            trays: records
                .trays
                .iter()
                .clone_pairs(|tray| Some((tray.test, tray.number, tray.id))),
            cells: cells.clone_pairs(|cell| Some((cell.tray, cell.row, cell.column, cell.id))),
            ear_cells: records
                .cells
                .iter()
                .clone_pairs(|cell| cell.content.ear().map(|ear| (ear, cell.id))),
            counts: records
                .counts
                .iter()
                .clone_pairs(|count| Some((count.cell, count.id))),
            corrections: records
                .counts
                .iter()
                .clone_pairs(|count| count.corrects.map(|corrected| (corrected, count.id))),
            field_rows: records
                .field_rows
                .iter()
                .clone_pairs(|row| Some((row.plan, row.stake, row.id))),
            ear_field_rows: records
                .field_rows
                .iter()
                .clone_pairs(|row| row.content.ear().map(|ear| (ear, row.id))),
            weather: WeatherDays::of(&records.weather),
        }
    }
}

/// Collects what a function finds in each record.
trait ClonePairs<'a, R: 'a>: Iterator<Item = &'a R> + Sized {
    fn clone_pairs<T: Ord>(self, pair: impl Fn(&R) -> Option<T>) -> BTreeSet<T> {
        self.filter_map(pair).collect()
    }
}

impl<'a, R: 'a, I: Iterator<Item = &'a R>> ClonePairs<'a, R> for I {}

fn set<T: Ord>(index: &mut BTreeSet<T>, before: Option<T>, after: Option<T>) {
    if let Some(before) = before {
        index.remove(&before);
    }
    if let Some(after) = after {
        index.insert(after);
    }
}

impl Deref for Project {
    type Target = Records;

    fn deref(&self) -> &Records {
        &self.records
    }
}

impl Serialize for Project {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        self.records.serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for Project {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        Records::deserialize(deserializer).map(Self::from)
    }
}

impl From<Records> for Project {
    fn from(records: Records) -> Self {
        let index = Index::of(&records);
        Self { records, index }
    }
}

impl Project {
    /// Makes an empty project.
    pub fn new(about: About) -> Self {
        Self::from(Records {
            about,
            seasons: Table::default(),
            rows: Table::default(),
            traits: Table::default(),
            ears: Table::default(),
            packets: Table::default(),
            tests: Table::default(),
            trays: Table::default(),
            cells: Table::default(),
            counts: Table::default(),
            selections: Table::default(),
            lists: Table::default(),
            logs: Table::default(),
            events: Table::default(),
            photos: Table::default(),
            plans: Table::default(),
            field_rows: Table::default(),
            weather: Table::default(),
            stores: Table::default(),
        })
    }

    // ---- finding records -------------------------------------------------------------------------------

    /// Gives the season of a year.
    pub fn season_of_year(&self, year: i16) -> Option<&Season> {
        self.seasons.iter().find(|season| season.year == year)
    }

    /// Gives the season with the latest year.
    pub fn latest_season(&self) -> Option<&Season> {
        self.seasons.iter().max_by_key(|season| season.year)
    }

    /// Gives the rows of a season, in the order in which they were added.
    pub fn rows_of(&self, season: SeasonId) -> impl Iterator<Item = &Row> {
        self.rows.iter().filter(move |row| row.season == season)
    }

    /// Gives the row of a season with this label. A row that stands in several places has all their stakes in its label,
    /// `12/96`, and is found by each of them.
    pub fn row_labelled(&self, season: SeasonId, label: &str) -> Option<&Row> {
        let label = label.trim();
        let own = self.rows_of(season).find(|row| row.label == label);
        let is_part = |row: &&Row| row.label.contains('/') && row.label.split('/').any(|part| part == label);
        own.or_else(|| self.rows_of(season).find(is_part))
    }

    /// Gives the ears of a season by number.
    pub fn ears_of(&self, season: SeasonId) -> impl DoubleEndedIterator<Item = &Ear> {
        self.index
            .ears
            .range((season, 0, EarId(0))..=(season, u32::MAX, EarId(u32::MAX)))
            .filter_map(|(_, _, id)| self.ears.get(*id))
    }

    /// Gives the ears of a row.
    pub fn ears_of_row(&self, row: RowId) -> impl Iterator<Item = &Ear> {
        self.index
            .row_ears
            .range((row, EarId(0))..=(row, EarId(u32::MAX)))
            .filter_map(|(_, id)| self.ears.get(*id))
    }

    /// Gives the ear with this number in a season.
    pub fn ear_numbered(&self, season: SeasonId, number: u32) -> Option<&Ear> {
        self.index
            .ears
            .range((season, number, EarId(0))..=(season, number, EarId(u32::MAX)))
            .find_map(|(_, _, id)| self.ears.get(*id))
    }

    /// Gives the ear with this code.
    pub fn ear_coded(&self, code: EarCode) -> Option<&Ear> {
        self.index
            .codes
            .range((code, EarId(0))..=(code, EarId(u32::MAX)))
            .find_map(|(_, id)| self.ears.get(*id))
    }

    /// Gives the packets of an ear.
    pub fn packets_of(&self, ear: EarId) -> impl Iterator<Item = &Packet> {
        self.index
            .packets
            .range((ear, PacketId(0))..=(ear, PacketId(u32::MAX)))
            .filter_map(|(_, id)| self.packets.get(*id))
    }

    /// Gives the kernels in all packets of an ear; `None` when none of them was ever counted.
    pub fn kernels_of(&self, ear: EarId) -> Option<i64> {
        self.packets_of(ear)
            .filter_map(Packet::balance)
            .reduce(|sum, balance| sum + balance)
    }

    /// Gives the tests of a season.
    pub fn tests_of(&self, season: SeasonId) -> impl DoubleEndedIterator<Item = &Test> {
        self.tests.iter().filter(move |test| test.season == season)
    }

    /// Gives the trays of a test by number.
    pub fn trays_of(&self, test: TestId) -> impl DoubleEndedIterator<Item = &Tray> {
        self.index
            .trays
            .range((test, 0, TrayId(0))..=(test, u16::MAX, TrayId(u32::MAX)))
            .filter_map(|(_, _, id)| self.trays.get(*id))
    }

    /// Gives the cells of a tray, row by row from the top left.
    pub fn cells_of(&self, tray: TrayId) -> impl DoubleEndedIterator<Item = &Cell> {
        self.index
            .cells
            .range((tray, 0, 0, CellId(0))..=(tray, u16::MAX, u16::MAX, CellId(u32::MAX)))
            .filter_map(|(_, _, _, id)| self.cells.get(*id))
    }

    /// Gives the cell of a tray at a row and column, both from 1.
    pub fn cell_at(&self, tray: TrayId, row: u16, column: u16) -> Option<&Cell> {
        self.index
            .cells
            .range((tray, row, column, CellId(0))..=(tray, row, column, CellId(u32::MAX)))
            .find_map(|(_, _, _, id)| self.cells.get(*id))
    }

    /// Gives the cells in which an ear lies, in all tests.
    pub fn cells_of_ear(&self, ear: EarId) -> impl Iterator<Item = &Cell> {
        self.index
            .ear_cells
            .range((ear, CellId(0))..=(ear, CellId(u32::MAX)))
            .filter_map(|(_, id)| self.cells.get(*id))
    }

    /// Gives all counts of a cell, also those that were corrected later, oldest first.
    pub fn counts_of(&self, cell: CellId) -> impl DoubleEndedIterator<Item = &Count> {
        self.index
            .counts
            .range((cell, CountId(0))..=(cell, CountId(u32::MAX)))
            .filter_map(|(_, id)| self.counts.get(*id))
    }

    /// Says whether a count was corrected by a later one.
    pub fn is_corrected(&self, count: CountId) -> bool {
        let range = (count, CountId(0))..=(count, CountId(u32::MAX));
        self.index.corrections.range(range).next().is_some()
    }

    /// Gives the count of a cell in a pass that is in force: made by the first scorer and neither corrected nor
    /// withdrawn.
    pub fn count_in_force(&self, cell: CellId, pass: Pass) -> Option<&Count> {
        self.standing_count(cell, pass, false).filter(|count| !count.void)
    }

    /// Gives the one count of a cell, a pass and a scorer that was not corrected; it may be a withdrawal.
    pub fn standing_count(&self, cell: CellId, pass: Pass, second: bool) -> Option<&Count> {
        self.counts_of(cell)
            .find(|count| count.pass == pass && count.second == second && !self.is_corrected(count.id))
    }

    /// Says whether anything was counted in a cell that was not withdrawn since.
    pub fn is_counted(&self, cell: CellId) -> bool {
        self.counts_of(cell)
            .any(|count| !count.void && !self.is_corrected(count.id))
    }

    /// Gives the cells of a test, tray by tray.
    pub fn cells_of_test(&self, test: TestId) -> impl Iterator<Item = &Cell> {
        self.trays_of(test).flat_map(|tray| self.cells_of(tray.id))
    }

    /// Gives the day when a cell was laid: its own, else that of its test.
    pub fn laid_on(&self, cell: &Cell) -> Option<Date> {
        cell.laid_on
            .or_else(|| self.test_of_tray(cell.tray).and_then(|test| test.laid))
    }

    /// Gives the day when the last cell of a tray was laid; `None` while there is one to lay.
    pub fn tray_laid_on(&self, tray: TrayId) -> Option<Date> {
        let counted = self.cells_of(tray).filter(|cell| cell.content.is_counted());
        let days: Option<Vec<Date>> = counted.map(|cell| self.laid_on(cell)).collect();
        days?.into_iter().max()
    }

    /// Says whether anything of a test was laid.
    pub fn is_begun(&self, test: TestId) -> bool {
        self.tests.get(test).is_some_and(|test| test.laid.is_some())
            || self.cells_of_test(test).any(|cell| cell.laid_on.is_some())
    }

    /// Gives the temperature logs of a test.
    pub fn logs_of(&self, test: TestId) -> impl Iterator<Item = &TemperatureLog> {
        self.logs.iter().filter(move |log| log.test == test)
    }

    /// Gives what happened to the trays of a test, in the order in which it was noted.
    pub fn events_of(&self, test: TestId) -> impl Iterator<Item = &TrayEvent> {
        self.events.iter().filter(move |event| event.test == test)
    }

    /// Gives the photographs of a tray.
    pub fn photos_of(&self, tray: TrayId) -> impl Iterator<Item = &Photo> {
        self.photos.iter().filter(move |photo| photo.tray == tray)
    }

    /// Gives the plan of a list's field.
    pub fn plan_of(&self, list: ListId) -> Option<&FieldPlan> {
        self.plans.iter().find(|plan| plan.list == list)
    }

    /// Gives the rows of a field plan in walking order.
    pub fn field_rows_of(&self, plan: PlanId) -> impl DoubleEndedIterator<Item = &FieldRow> {
        self.index
            .field_rows
            .range((plan, 0, FieldRowId(0))..=(plan, u32::MAX, FieldRowId(u32::MAX)))
            .filter_map(|(_, _, id)| self.field_rows.get(*id))
    }

    /// Gives the weather day by day, with what is summed over spans of days.
    pub fn weather_days(&self) -> &WeatherDays {
        &self.index.weather
    }

    /// Gives the rows of all field plans in which kernels of an ear are planted.
    pub fn field_rows_of_ear(&self, ear: EarId) -> impl Iterator<Item = &FieldRow> {
        self.index
            .ear_field_rows
            .range((ear, FieldRowId(0))..=(ear, FieldRowId(u32::MAX)))
            .filter_map(|(_, id)| self.field_rows.get(*id))
    }

    // ---- what follows from the records -----------------------------------------------------------------

    /// Gives the test of a tray.
    pub fn test_of_tray(&self, tray: TrayId) -> Option<&Test> {
        self.trays.get(tray).and_then(|tray| self.tests.get(tray.test))
    }

    /// Gives the kernels laid in a cell, or that are to be laid.
    pub fn sown(&self, cell: &Cell) -> u16 {
        let planned = || self.test_of_tray(cell.tray).map_or(0, |test| test.plan.kernels);
        cell.laid.unwrap_or_else(planned)
    }

    /// Gives the day when an ear's plant was planted: the ear's own, its row's, or its season's.
    pub fn planted(&self, ear: &Ear) -> Option<Date> {
        ear.planted
            .or_else(|| {
                ear.row
                    .and_then(|row| self.rows.get(row))
                    .and_then(|row| row.planted)
            })
            .or_else(|| self.seasons.get(ear.season).and_then(|season| season.planted))
    }

    /// Gives the days from planting to maturity: as noted, or from the two dates.
    pub fn maturity_days(&self, ear: &Ear) -> Option<u16> {
        if ear.maturity_days.is_some() {
            return ear.maturity_days;
        }
        let days = (ear.matured? - self.planted(ear)?).get_days();
        u16::try_from(days).ok()
    }

    /// Gives the day of an ear's maturity: so many days after planting, where these were noted, else the day that was.
    pub fn matured_on(&self, ear: &Ear) -> Option<Date> {
        let by_days = || {
            let days = i64::from(ear.maturity_days?);
            self.planted(ear)?.checked_add(days.days()).ok()
        };
        by_days().or(ear.matured)
    }

    /// Gives the day on which half of the plants of a row showed silk: the middle of what was noted at its stakes, in the
    /// year of its season.
    pub fn silk_on(&self, row: RowId) -> Option<Date> {
        let row = self.rows.get(row)?;
        let year = self.seasons.get(row.season)?.year;
        let RowSource::Ear(mother) = row.source else {
            return None;
        };
        let noted = self.field_rows_of_ear(mother).filter_map(|row| row.seen.silk_on);
        let mut days: Vec<Date> = noted.filter(|day| day.year() == year).collect();
        days.sort_unstable();
        days.get(days.len().saturating_sub(1) / 2).copied()
    }

    /// Gives the label of an ear's mother row; empty when it is not known.
    pub fn mother_label(&self, ear: &Ear) -> &str {
        ear.row
            .and_then(|row| self.rows.get(row))
            .map_or("", |row| row.label.as_str())
    }

    /// Gives the pooled final tally of an ear over all its cells that have a final count in force.
    pub fn final_tally(&self, ear: EarId) -> Option<Tally> {
        let mut pooled: Option<Tally> = None;
        for cell in self.cells_of_ear(ear) {
            let Some(count) = self.count_in_force(cell.id, Pass::Final) else {
                continue;
            };
            let sum = pooled.get_or_insert_with(Tally::default);
            sum.strong = sum.strong.saturating_add(count.tally.strong);
            sum.weak = sum.weak.saturating_add(count.tally.weak);
            sum.abnormal = sum.abnormal.saturating_add(count.tally.abnormal);
            sum.dead = sum.dead.saturating_add(count.tally.dead);
            sum.fresh = sum.fresh.saturating_add(count.tally.fresh);
            sum.missing = sum.missing.saturating_add(count.tally.missing);
        }
        pooled
    }

    // ---- invariants ------------------------------------------------------------------------------------

    /// Names everything in the project that breaks an invariant; empty for a sound project.
    pub fn validate(&self) -> Vec<Problem> {
        let mut found = Vec::new();
        let mut note = |place, result: Result<(), Fault>| {
            if let Err(fault) = result {
                found.push(Problem::new(place, fault));
            }
        };
        note(Place::Project, self.about.check());
        self.seasons
            .iter()
            .for_each(|season| note(Place::Season(season.id), self.check_season(season)));
        self.rows
            .iter()
            .for_each(|row| note(Place::Row(row.id), self.check_row(row)));
        self.traits
            .iter()
            .for_each(|known| note(Place::Trait(known.id), self.check_trait(known)));
        self.ears
            .iter()
            .for_each(|ear| note(Place::Ear(ear.id), self.check_ear(ear)));
        self.packets
            .iter()
            .for_each(|packet| note(Place::Packet(packet.id), self.check_packet(packet)));
        self.tests
            .iter()
            .for_each(|test| note(Place::Test(test.id), self.check_test(test)));
        self.trays
            .iter()
            .for_each(|tray| note(Place::Tray(tray.id), self.check_tray(tray)));
        self.cells
            .iter()
            .for_each(|cell| note(Place::Cell(cell.id), self.check_cell(cell)));
        self.counts
            .iter()
            .for_each(|count| note(Place::Count(count.id), self.check_count(count)));
        self.selections
            .iter()
            .for_each(|selection| note(Place::Selection(selection.id), self.check_selection(selection)));
        self.lists
            .iter()
            .for_each(|list| note(Place::List(list.id), self.check_list(list)));
        self.logs
            .iter()
            .for_each(|log| note(Place::Log(log.id), self.check_log(log)));
        self.events
            .iter()
            .for_each(|event| note(Place::Event(event.id), self.check_event(event)));
        self.photos
            .iter()
            .for_each(|photo| note(Place::Photo(photo.id), self.check_photo(photo)));
        self.plans
            .iter()
            .for_each(|plan| note(Place::Plan(plan.id), self.check_plan(plan)));
        self.field_rows
            .iter()
            .for_each(|row| note(Place::FieldRow(row.id), self.check_field_row(row)));
        self.weather
            .iter()
            .for_each(|month| note(Place::Weather(month.id), month.check()));
        self.stores
            .iter()
            .for_each(|store| note(Place::Store(store.id), self.check_store(store)));
        found
    }

    /// Checks the records that a change touched, and those whose soundness hangs on them.
    pub(super) fn check_change(&self, change: &Change) -> Result<(), Problem> {
        let at = |place: Place, result: Result<(), Fault>| result.map_err(|fault| Problem::new(place, fault));
        match change {
            Change::About(_) => at(Place::Project, self.about.check()),
            Change::Season(swap) => match &swap.after {
                Some(after) => {
                    at(Place::Season(after.id), self.check_season(after))?;
                    // A season's year decides which of its ears may be mothers of which rows.
                    if swap.before.as_ref().map(|before| before.year) != Some(after.year) {
                        self.rows
                            .iter()
                            .try_for_each(|row| at(Place::Row(row.id), self.check_row(row)))?;
                    }
                    self.ears_of(after.id)
                        .try_for_each(|ear| at(Place::Ear(ear.id), self.check_ear(ear)))
                }
                None => check_unneeded(swap, |season, by| {
                    by(self.rows.iter().any(|row| row.season == season.id), "a row");
                    by(self.ears_of(season.id).next().is_some(), "an ear");
                    by(self.tests_of(season.id).next().is_some(), "a test");
                    by(
                        self.selections.iter().any(|one| one.season == season.id),
                        "a selection",
                    );
                    by(
                        self.lists.iter().any(|list| list.season == season.id),
                        "a planting list",
                    );
                }),
            },
            Change::Row(swap) => match &swap.after {
                Some(after) => {
                    at(Place::Row(after.id), self.check_row(after))?;
                    // A season names the rows that shed its pollen, which are its own.
                    self.seasons
                        .iter()
                        .filter(|season| names_pollen_of(season, after.id))
                        .try_for_each(|season| at(Place::Season(season.id), self.check_season(season)))?;
                    self.ears_of_row(after.id)
                        .try_for_each(|ear| at(Place::Ear(ear.id), self.check_ear(ear)))
                }
                None => check_unneeded(swap, |row, by| {
                    by(self.ears_of_row(row.id).next().is_some(), "an ear");
                    let sheds = self.seasons.iter().any(|season| names_pollen_of(season, row.id));
                    by(sheds, "the pollen of its season");
                }),
            },
            Change::Trait(swap) => match &swap.after {
                Some(after) => {
                    at(Place::Trait(after.id), self.check_trait(after))?;
                    let with = self.ears.iter().filter(|ear| ear.values.contains_key(&after.id));
                    with.into_iter()
                        .try_for_each(|ear| at(Place::Ear(ear.id), self.check_ear(ear)))
                }
                None => check_unneeded(swap, |known, by| {
                    by(
                        self.ears.iter().any(|ear| ear.values.contains_key(&known.id)),
                        "an ear's value",
                    );
                    let limited = |one: &Selection| one.cutoffs.traits.contains_key(&known.id);
                    by(self.selections.iter().any(limited), "a cutoff");
                    let kept = |one: &Selection| {
                        let mut kept = one.kept.iter();
                        kept.any(|kept| kept.cutoffs.traits.contains_key(&known.id))
                    };
                    by(self.selections.iter().any(kept), "a kept set of cutoffs");
                    let weighed = |one: &Selection| {
                        let index = one.index.as_ref();
                        index.is_some_and(|index| index.weight_of(IndexTrait::Trait(known.id)).is_some())
                    };
                    by(self.selections.iter().any(weighed), "the index");
                    let frozen = |list: &PlantingList| list.cutoffs.traits.contains_key(&known.id);
                    by(self.lists.iter().any(frozen), "a frozen planting list");
                }),
            },
            Change::Ear(swap) => match &swap.after {
                Some(after) => at(Place::Ear(after.id), self.check_ear(after)),
                None => check_unneeded(swap, |ear, by| {
                    by(self.packets_of(ear.id).next().is_some(), "a packet");
                    by(self.cells_of_ear(ear.id).next().is_some(), "a cell of a tray");
                    by(
                        self.rows.iter().any(|row| row.source == RowSource::Ear(ear.id)),
                        "a row planted from it",
                    );
                    by(
                        self.selections.iter().any(|one| one.words.contains_key(&ear.id)),
                        "your word about it",
                    );
                    let listed = |list: &PlantingList| list.names(ear.id);
                    by(self.lists.iter().any(listed), "a frozen planting list");
                }),
            },
            Change::Packet(swap) => match &swap.after {
                Some(after) => at(Place::Packet(after.id), self.check_packet(after)),
                None => Ok(()),
            },
            Change::Test(swap) => match &swap.after {
                Some(after) => {
                    at(Place::Test(after.id), self.check_test(after))?;
                    let counts = self
                        .trays_of(after.id)
                        .flat_map(|tray| self.cells_of(tray.id))
                        .flat_map(|cell| self.counts_of(cell.id));
                    counts
                        .into_iter()
                        .try_for_each(|count| at(Place::Count(count.id), self.check_count(count)))
                }
                None => check_unneeded(swap, |test, by| {
                    by(self.trays_of(test.id).next().is_some(), "a tray");
                    let laid = |packet: &Packet| {
                        packet
                            .ledger
                            .iter()
                            .any(|line| line.reason == LedgerReason::Test(test.id))
                    };
                    by(self.packets.iter().any(laid), "a packet's ledger");
                    by(self.logs_of(test.id).next().is_some(), "a temperature log");
                    by(
                        self.events_of(test.id).next().is_some(),
                        "a note of what happened to its trays",
                    );
                }),
            },
            Change::Tray(swap) => match &swap.after {
                Some(after) => {
                    at(Place::Tray(after.id), self.check_tray(after))?;
                    self.cells_of(after.id)
                        .try_for_each(|cell| at(Place::Cell(cell.id), self.check_cell(cell)))
                }
                None => check_unneeded(swap, |tray, by| {
                    by(self.cells_of(tray.id).next().is_some(), "a cell");
                    by(self.photos_of(tray.id).next().is_some(), "a photograph");
                    let stands = self.logs.iter().flat_map(|log| &log.spans);
                    by(
                        stands.into_iter().any(|span| span.trays.contains(&tray.id)),
                        "a temperature log",
                    );
                    by(
                        self.events.iter().any(|event| event.trays.contains(&tray.id)),
                        "a note of what happened to it",
                    );
                }),
            },
            Change::Cell(swap) => match &swap.after {
                Some(after) => {
                    at(Place::Cell(after.id), self.check_cell(after))?;
                    self.counts_of(after.id)
                        .try_for_each(|count| at(Place::Count(count.id), self.check_count(count)))
                }
                None => check_unneeded(swap, |cell, by| {
                    by(self.counts_of(cell.id).next().is_some(), "a count");
                }),
            },
            Change::Count(swap) => match &swap.after {
                Some(after) => at(Place::Count(after.id), self.check_count(after)),
                None => check_unneeded(swap, |count, by| {
                    by(self.is_corrected(count.id), "its correction");
                }),
            },
            Change::Selection(swap) => match &swap.after {
                Some(after) => at(Place::Selection(after.id), self.check_selection(after)),
                None => Ok(()),
            },
            Change::List(swap) => match &swap.after {
                Some(after) => at(Place::List(after.id), self.check_list(after)),
                None => check_unneeded(swap, |list, by| {
                    let later =
                        |other: &PlantingList| other.season == list.season && other.version > list.version;
                    by(self.lists.iter().any(later), "its revision");
                    let planted = |packet: &Packet| {
                        let mut lines = packet.ledger.iter();
                        lines.any(|line| line.reason == LedgerReason::PlantedFrom(list.id))
                    };
                    by(self.packets.iter().any(planted), "a packet's ledger");
                    by(self.plan_of(list.id).is_some(), "its field plan");
                }),
            },
            Change::Log(swap) => match &swap.after {
                Some(after) => at(Place::Log(after.id), self.check_log(after)),
                None => Ok(()),
            },
            Change::Event(swap) => match &swap.after {
                Some(after) => at(Place::Event(after.id), self.check_event(after)),
                None => Ok(()),
            },
            Change::Photo(swap) => match &swap.after {
                Some(after) => at(Place::Photo(after.id), self.check_photo(after)),
                None => Ok(()),
            },
            Change::Plan(swap) => match &swap.after {
                Some(after) => at(Place::Plan(after.id), self.check_plan(after)),
                None => check_unneeded(swap, |plan, by| {
                    by(self.field_rows_of(plan.id).next().is_some(), "a row of the field");
                }),
            },
            Change::FieldRow(swap) => match &swap.after {
                Some(after) => at(Place::FieldRow(after.id), self.check_field_row(after)),
                None => Ok(()),
            },
            Change::Weather(swap) => match &swap.after {
                Some(after) => at(Place::Weather(after.id), after.check()),
                None => Ok(()),
            },
            Change::Store(swap) => match &swap.after {
                Some(after) => at(Place::Store(after.id), self.check_store(after)),
                None => check_unneeded(swap, |store, by| {
                    let kept = |packet: &Packet| packet.store == Some(store.id);
                    by(self.packets.iter().any(kept), "a packet that is kept there");
                }),
            },
        }
    }

    fn check_season(&self, season: &Season) -> Result<(), Fault> {
        season.check()?;
        if self
            .seasons
            .iter()
            .any(|other| other.id != season.id && other.year == season.year)
        {
            return Err(Fault::DuplicateName {
                kind: Season::NAME,
                name: season.year.to_string(),
            });
        }
        for row in season.pollen.iter().flat_map(|pollen| &pollen.rows) {
            let row = exists(&self.rows, *row)?;
            if row.season != season.id {
                let text = format!(
                    "row {} is not of season {} and shed no pollen over it; name rows of that season",
                    row.label, season.year
                );
                return Err(Fault::Mismatch(text));
            }
        }
        Ok(())
    }

    fn check_row(&self, row: &Row) -> Result<(), Fault> {
        row.check()?;
        let season = exists(&self.seasons, row.season)?;
        if let RowSource::Ear(mother) = row.source {
            let mother = exists(&self.ears, mother)?;
            if exists(&self.seasons, mother.season)?.year >= season.year {
                let text = format!(
                    "row {} is of season {} and cannot come from ear {}, which was not harvested before; choose an ear of an earlier season",
                    row.label, season.year, mother.code
                );
                return Err(Fault::Mismatch(text));
            }
        }
        if self
            .rows_of(row.season)
            .any(|other| other.id != row.id && other.label == row.label)
        {
            return Err(Fault::DuplicateName {
                kind: Row::NAME,
                name: row.label.clone(),
            });
        }
        Ok(())
    }

    fn check_trait(&self, known: &Trait) -> Result<(), Fault> {
        known.check()?;
        let same = |other: &Trait| other.id != known.id && other.name.eq_ignore_ascii_case(&known.name);
        if self.traits.iter().any(same) {
            return Err(Fault::DuplicateName {
                kind: Trait::NAME,
                name: known.name.clone(),
            });
        }
        Ok(())
    }

    fn check_ear(&self, ear: &Ear) -> Result<(), Fault> {
        ear.check()?;
        let season = exists(&self.seasons, ear.season)?;
        let same_number = (ear.season, ear.number, EarId(0))..=(ear.season, ear.number, EarId(u32::MAX));
        if self.index.ears.range(same_number).any(|(_, _, id)| *id != ear.id) {
            return Err(Fault::DuplicateEarNumber {
                season: season.year,
                number: ear.number,
            });
        }
        let same_code = (ear.code, EarId(0))..=(ear.code, EarId(u32::MAX));
        if self.index.codes.range(same_code).any(|(_, id)| *id != ear.id) {
            return Err(Fault::DuplicateEarCode(ear.code.to_string()));
        }
        if let Some(row) = ear.row {
            let row = exists(&self.rows, row)?;
            if row.season != ear.season {
                return Err(Fault::WrongSeason {
                    ear: ear.code.to_string(),
                });
            }
        }
        for (id, value) in &ear.values {
            exists(&self.traits, *id)?.check_value(*value)?;
        }
        if let (Some(planted), Some(matured)) = (self.planted(ear), ear.matured)
            && matured < planted
        {
            return Err(Fault::MaturedBeforePlanted { planted, matured });
        }
        if let (Some(planted), Some(picked)) = (self.planted(ear), ear.picked)
            && picked < planted
        {
            let text = format!(
                "it was picked on {picked}, before it was planted on {planted}; correct one of the dates"
            );
            return Err(Fault::Mismatch(text));
        }
        Ok(())
    }

    fn check_packet(&self, packet: &Packet) -> Result<(), Fault> {
        exists(&self.ears, packet.ear)?;
        if let Some(store) = packet.store {
            exists(&self.stores, store)?;
        }
        for line in &packet.ledger {
            match line.reason {
                LedgerReason::Test(test) => exists(&self.tests, test).map(drop)?,
                LedgerReason::PlantedFrom(list) => exists(&self.lists, list).map(drop)?,
                _ => {}
            }
        }
        packet.check()
    }

    fn check_test(&self, test: &Test) -> Result<(), Fault> {
        test.check()?;
        exists(&self.seasons, test.season)?;
        let same = |other: &&Test| other.id != test.id && other.name == test.name;
        if self.tests_of(test.season).any(|other| same(&other)) {
            return Err(Fault::DuplicateName {
                kind: Test::NAME,
                name: test.name.clone(),
            });
        }
        Ok(())
    }

    fn check_tray(&self, tray: &Tray) -> Result<(), Fault> {
        tray.check()?;
        exists(&self.tests, tray.test)?;
        let same = (tray.test, tray.number, TrayId(0))..=(tray.test, tray.number, TrayId(u32::MAX));
        if self.index.trays.range(same).any(|(_, _, id)| *id != tray.id) {
            return Err(Fault::DuplicateName {
                kind: Tray::NAME,
                name: tray.number.to_string(),
            });
        }
        Ok(())
    }

    fn check_trays(&self, test: TestId, trays: &[TrayId]) -> Result<(), Fault> {
        exists(&self.tests, test)?;
        for id in trays {
            let tray = exists(&self.trays, *id)?;
            if tray.test != test {
                let text = format!(
                    "tray {} is of another test; choose a tray of this test",
                    tray.number
                );
                return Err(Fault::Mismatch(text));
            }
        }
        Ok(())
    }

    fn check_log(&self, log: &TemperatureLog) -> Result<(), Fault> {
        log.check()?;
        exists(&self.tests, log.test)?;
        log.spans
            .iter()
            .try_for_each(|span| self.check_trays(log.test, &span.trays))
    }

    fn check_event(&self, event: &TrayEvent) -> Result<(), Fault> {
        event.check()?;
        self.check_trays(event.test, &event.trays)
    }

    fn check_photo(&self, photo: &Photo) -> Result<(), Fault> {
        photo.check()?;
        exists(&self.trays, photo.tray)?;
        let same = |other: &Photo| other.id != photo.id && other.file == photo.file;
        if self.photos.iter().any(same) {
            return Err(Fault::DuplicateName {
                kind: Photo::NAME,
                name: photo.file.clone(),
            });
        }
        Ok(())
    }

    fn check_plan(&self, plan: &FieldPlan) -> Result<(), Fault> {
        plan.check()?;
        let list = exists(&self.lists, plan.list)?;
        if self
            .plans
            .iter()
            .any(|other| other.id != plan.id && other.list == plan.list)
        {
            return Err(Fault::Mismatch(format!(
                "planting list {} has two field plans; remove one of them",
                list.version
            )));
        }
        let mut places = BTreeSet::new();
        for row in self.field_rows_of(plan.id) {
            if !places.insert((row.block, row.across)) {
                return Err(Fault::Mismatch(format!(
                    "stake {} stands where another stake does, in block {} at place {}; give it a place of its own",
                    row.stake, row.block, row.across
                )));
            }
        }
        Ok(())
    }

    fn check_field_row(&self, row: &FieldRow) -> Result<(), Fault> {
        row.check()?;
        let plan = exists(&self.plans, row.plan)?;
        let same = (row.plan, row.stake, FieldRowId(0))..=(row.plan, row.stake, FieldRowId(u32::MAX));
        if self.index.field_rows.range(same).any(|(_, _, id)| *id != row.id) {
            return Err(Fault::DuplicateName {
                kind: "stake",
                name: row.stake.to_string(),
            });
        }
        let Some(ear) = row.content.ear() else {
            return Ok(());
        };
        let ear = exists(&self.ears, ear)?;
        if !exists(&self.lists, plan.list)?.names(ear.id) {
            return Err(Fault::Mismatch(format!(
                "stake {} has ear {}, which is not on the planting list; choose an ear of the list",
                row.stake, ear.number
            )));
        }
        Ok(())
    }

    fn check_store(&self, store: &StorePlace) -> Result<(), Fault> {
        store.check()?;
        let same = |other: &StorePlace| other.id != store.id && other.name.eq_ignore_ascii_case(&store.name);
        if self.stores.iter().any(same) {
            return Err(Fault::DuplicateName {
                kind: StorePlace::NAME,
                name: store.name.clone(),
            });
        }
        Ok(())
    }

    fn check_cell(&self, cell: &Cell) -> Result<(), Fault> {
        cell.check()?;
        let tray = exists(&self.trays, cell.tray)?;
        let inside = (1..=tray.rows).contains(&cell.row) && (1..=tray.columns).contains(&cell.column);
        let same = (cell.tray, cell.row, cell.column, CellId(0))
            ..=(cell.tray, cell.row, cell.column, CellId(u32::MAX));
        if !inside || self.index.cells.range(same).any(|(_, _, _, id)| *id != cell.id) {
            return Err(Fault::CellPlace {
                row: cell.row,
                column: cell.column,
            });
        }
        let Some(ear) = cell.content.ear() else {
            return Ok(());
        };
        let ear = exists(&self.ears, ear)?;
        if self
            .cells_of_ear(ear.id)
            .any(|other| other.id != cell.id && other.tray == cell.tray)
        {
            let text = format!(
                "ear {} lies in two cells of one tray; move one of them",
                ear.number
            );
            return Err(Fault::Mismatch(text));
        }
        let test = exists(&self.tests, tray.test)?;
        if test.season != ear.season {
            return Err(Fault::WrongSeason {
                ear: ear.code.to_string(),
            });
        }
        Ok(())
    }

    fn check_count(&self, count: &Count) -> Result<(), Fault> {
        count.check()?;
        let cell = exists(&self.cells, count.cell)?;
        // A repair may leave a cell empty whose counts were withdrawn; they stay as history.
        let stands = !count.void && !self.is_corrected(count.id);
        if stands && !cell.content.is_counted() {
            return Err(Fault::NothingToCount);
        }
        let (sum, sown) = (count.tally.sum(), self.sown(cell));
        if stands && sum != u32::from(sown) {
            return Err(Fault::SumNotSown { sum, sown });
        }
        if let Some(corrected) = count.corrects {
            let corrected = exists(&self.counts, corrected)?;
            let same = corrected.cell == count.cell
                && corrected.pass == count.pass
                && corrected.second == count.second
                && corrected.id < count.id;
            if !same {
                return Err(Fault::CorrectsAnother);
            }
        }
        let in_force = |other: &&Count| {
            other.pass == count.pass && other.second == count.second && !self.is_corrected(other.id)
        };
        if self.counts_of(count.cell).filter(in_force).count() > 1 {
            return Err(Fault::CountedTwice {
                pass: count.pass.to_string(),
            });
        }
        Ok(())
    }

    fn check_selection(&self, selection: &Selection) -> Result<(), Fault> {
        selection.check()?;
        exists(&self.seasons, selection.season)?;
        for id in selection.words.keys() {
            let ear = exists(&self.ears, *id)?;
            if ear.season != selection.season {
                return Err(Fault::WrongSeason {
                    ear: ear.code.to_string(),
                });
            }
        }
        for one in selection.index.iter().flat_map(|index| &index.weights) {
            if let IndexTrait::Trait(id) = one.of {
                exists(&self.traits, id)?;
            }
        }
        let kept = selection.kept.iter().map(|kept| &kept.cutoffs);
        for cutoffs in kept.chain([&selection.cutoffs]) {
            for id in cutoffs.traits.keys() {
                exists(&self.traits, *id)?;
            }
        }
        Ok(())
    }

    fn check_list(&self, list: &PlantingList) -> Result<(), Fault> {
        list.check()?;
        exists(&self.seasons, list.season)?;
        let earlier = self
            .lists
            .iter()
            .filter(|other| {
                other.season == list.season && other.id != list.id && other.version <= list.version
            })
            .count();
        if earlier != usize::from(list.version) - 1 {
            return Err(Fault::ListVersion(list.version));
        }
        for entry in list.entries.iter().chain(&list.reserves) {
            let ear = exists(&self.ears, entry.ear)?;
            if ear.season != list.season {
                return Err(Fault::WrongSeason {
                    ear: ear.code.to_string(),
                });
            }
            if ear.code != entry.code {
                let text = format!(
                    "planting list {} names ear {} by the code {}, but its code is {}; restore the file from a copy",
                    list.version, ear.number, entry.code, ear.code
                );
                return Err(Fault::Mismatch(text));
            }
        }
        Ok(())
    }

    // ---- the one way to change -------------------------------------------------------------------------

    /// Replaces a record as a change says.
    pub(super) fn apply(&mut self, change: &Change) {
        let index = &mut self.index;
        let records = &mut self.records;
        match change {
            Change::About(swap) => {
                if let Some(about) = &swap.after {
                    records.about = about.clone();
                }
            }
            Change::Season(swap) => swap.apply(&mut records.seasons),
            Change::Row(swap) => swap.apply(&mut records.rows),
            Change::Trait(swap) => swap.apply(&mut records.traits),
            Change::Ear(swap) => {
                let (before, after) = swap.sides();
                let number = |ear: &Ear| (ear.season, ear.number, ear.id);
                let code = |ear: &Ear| (ear.code, ear.id);
                let row = |ear: &Ear| ear.row.map(|row| (row, ear.id));
                set(&mut index.ears, before.map(number), after.map(number));
                set(&mut index.codes, before.map(code), after.map(code));
                set(&mut index.row_ears, before.and_then(row), after.and_then(row));
                swap.apply(&mut records.ears);
            }
            Change::Packet(swap) => {
                let (before, after) = swap.sides();
                let key = |packet: &Packet| (packet.ear, packet.id);
                set(&mut index.packets, before.map(key), after.map(key));
                swap.apply(&mut records.packets);
            }
            Change::Test(swap) => swap.apply(&mut records.tests),
            Change::Tray(swap) => {
                let (before, after) = swap.sides();
                let key = |tray: &Tray| (tray.test, tray.number, tray.id);
                set(&mut index.trays, before.map(key), after.map(key));
                swap.apply(&mut records.trays);
            }
            Change::Cell(swap) => {
                let (before, after) = swap.sides();
                let key = |cell: &Cell| (cell.tray, cell.row, cell.column, cell.id);
                let ear = |cell: &Cell| cell.content.ear().map(|ear| (ear, cell.id));
                set(&mut index.cells, before.map(key), after.map(key));
                set(&mut index.ear_cells, before.and_then(ear), after.and_then(ear));
                swap.apply(&mut records.cells);
            }
            Change::Count(swap) => {
                let (before, after) = swap.sides();
                let key = |count: &Count| (count.cell, count.id);
                let corrects = |count: &Count| count.corrects.map(|corrected| (corrected, count.id));
                set(&mut index.counts, before.map(key), after.map(key));
                set(
                    &mut index.corrections,
                    before.and_then(corrects),
                    after.and_then(corrects),
                );
                swap.apply(&mut records.counts);
            }
            Change::Selection(swap) => swap.apply(&mut records.selections),
            Change::List(swap) => swap.apply(&mut records.lists),
            Change::Log(swap) => swap.apply(&mut records.logs),
            Change::Event(swap) => swap.apply(&mut records.events),
            Change::Photo(swap) => swap.apply(&mut records.photos),
            Change::Plan(swap) => swap.apply(&mut records.plans),
            Change::FieldRow(swap) => {
                let (before, after) = swap.sides();
                let key = |row: &FieldRow| (row.plan, row.stake, row.id);
                let ear = |row: &FieldRow| row.content.ear().map(|ear| (ear, row.id));
                set(&mut index.field_rows, before.map(key), after.map(key));
                set(
                    &mut index.ear_field_rows,
                    before.and_then(ear),
                    after.and_then(ear),
                );
                swap.apply(&mut records.field_rows);
            }
            Change::Weather(swap) => {
                swap.apply(&mut records.weather);
                index.weather = WeatherDays::of(&records.weather);
            }
            Change::Store(swap) => swap.apply(&mut records.stores),
        }
    }

    /// Gives the trays of which a change, already made, touched something. A count whose cell is gone is no tray's any
    /// more: the change of the cell touches the tray.
    pub(super) fn trays_touched(&self, change: &Change) -> impl Iterator<Item = TrayId> {
        let sides = match change {
            Change::Tray(swap) => [swap.before.as_ref(), swap.after.as_ref()].map(|tray| Some(tray?.id)),
            Change::Cell(swap) => [swap.before.as_ref(), swap.after.as_ref()].map(|cell| Some(cell?.tray)),
            Change::Count(swap) => [swap.before.as_ref(), swap.after.as_ref()]
                .map(|count| Some(self.cells.get(count?.cell)?.tray)),
            _ => [None, None],
        };
        sides.into_iter().flatten()
    }

    /// Says whether the record that a change replaces is what the change says it is.
    pub(super) fn is_before(&self, change: &Change) -> bool {
        match change {
            Change::About(swap) => swap.before.as_ref() == Some(&self.about),
            Change::Season(swap) => swap.fits(&self.seasons),
            Change::Row(swap) => swap.fits(&self.rows),
            Change::Trait(swap) => swap.fits(&self.traits),
            Change::Ear(swap) => swap.fits(&self.ears),
            Change::Packet(swap) => swap.fits(&self.packets),
            Change::Test(swap) => swap.fits(&self.tests),
            Change::Tray(swap) => swap.fits(&self.trays),
            Change::Cell(swap) => swap.fits(&self.cells),
            Change::Count(swap) => swap.fits(&self.counts),
            Change::Selection(swap) => swap.fits(&self.selections),
            Change::List(swap) => swap.fits(&self.lists),
            Change::Log(swap) => swap.fits(&self.logs),
            Change::Event(swap) => swap.fits(&self.events),
            Change::Photo(swap) => swap.fits(&self.photos),
            Change::Plan(swap) => swap.fits(&self.plans),
            Change::FieldRow(swap) => swap.fits(&self.field_rows),
            Change::Weather(swap) => swap.fits(&self.weather),
            Change::Store(swap) => swap.fits(&self.stores),
        }
    }
}

/// Refuses to remove a record that others need. `needs` names each that may need it.
fn check_unneeded<R: Record>(
    swap: &Swap<R>,
    needs: impl Fn(&R, &mut dyn FnMut(bool, &str)),
) -> Result<(), Problem> {
    let Some(before) = &swap.before else { return Ok(()) };
    let mut needed = None;
    needs(before, &mut |is_needed, by| {
        if is_needed && needed.is_none() {
            needed = Some(by.to_owned());
        }
    });
    match needed {
        Some(by) => Err(Problem::new(R::place(before.id()), Fault::StillNeeded { by })),
        None => Ok(()),
    }
}

/// Whether a season says that a row shed its pollen.
fn names_pollen_of(season: &Season, row: RowId) -> bool {
    let mut named = season.pollen.iter();
    named.any(|pollen| pollen.rows.contains(&row))
}

fn exists<R: Record>(table: &Table<R>, id: R::Id) -> Result<&R, Fault> {
    table.get(id).ok_or(Fault::Dangling {
        kind: R::NAME,
        id: id.into(),
    })
}

/// Ids that a change to a project needs: the next free ones.
impl Project {
    /// Gives the number that the next ear of a season gets.
    pub fn next_ear_number(&self, season: SeasonId) -> u32 {
        self.ears_of(season)
            .next_back()
            .map_or(1, |ear| ear.number.saturating_add(1))
    }

    /// Gives the planting list of a season that is in force: the one with the highest version.
    pub fn list_in_force(&self, season: SeasonId) -> Option<&PlantingList> {
        self.lists
            .iter()
            .filter(|list| list.season == season)
            .max_by_key(|list| list.version)
    }

    /// Gives the season's selection that was made last.
    pub fn selection_of(&self, season: SeasonId) -> Option<&Selection> {
        self.selections
            .iter()
            .rfind(|selection| selection.season == season)
    }

    /// Gives a list by id.
    pub fn list(&self, id: ListId) -> Option<&PlantingList> {
        self.lists.get(id)
    }

    /// Names a place in the grower's words, such as `ear 14` or `tray 3 B4`.
    pub fn place_name(&self, place: Place) -> String {
        let gone = |kind: &str, id: u32| format!("{kind} with the id {id}");
        let ear_name = |id: EarId| {
            self.ears
                .get(id)
                .map_or_else(|| gone("ear", id.0), |ear| format!("ear {}", ear.number))
        };
        let tray_name = |id: TrayId| {
            self.trays
                .get(id)
                .map_or_else(|| gone("tray", id.0), |tray| format!("tray {}", tray.number))
        };
        let cell_name = |id: CellId| match self.cells.get(id) {
            Some(cell) => format!("{} {}", tray_name(cell.tray), cell.name()),
            None => gone("cell", id.0),
        };
        match place {
            Place::Project => "the project".to_owned(),
            Place::Season(id) => self
                .seasons
                .get(id)
                .map_or_else(|| gone("season", id.0), |one| format!("season {}", one.year)),
            Place::Row(id) => self
                .rows
                .get(id)
                .map_or_else(|| gone("row", id.0), |row| format!("row {}", row.label)),
            Place::Ear(id) => ear_name(id),
            Place::Packet(id) => match self.packets.get(id) {
                Some(packet) => format!("packet of {}", ear_name(packet.ear)),
                None => gone("packet", id.0),
            },
            Place::Trait(id) => self
                .traits
                .get(id)
                .map_or_else(|| gone("trait", id.0), |one| format!("trait {}", one.name)),
            Place::Test(id) => self
                .tests
                .get(id)
                .map_or_else(|| gone("test", id.0), |test| format!("test {}", test.name)),
            Place::Tray(id) => tray_name(id),
            Place::Cell(id) => cell_name(id),
            Place::Count(id) => match self.counts.get(id) {
                Some(count) => format!("{} count of {}", count.pass, cell_name(count.cell)),
                None => gone("count", id.0),
            },
            Place::Selection(id) => match self.selections.get(id) {
                Some(one) => format!("selection {}", one.name),
                None => gone("selection", id.0),
            },
            Place::List(id) => match self.lists.get(id) {
                Some(list) => format!("planting list {}", list.version),
                None => gone("planting list", id.0),
            },
            Place::Log(id) => match self.logs.get(id) {
                Some(log) => format!("temperature log {}", log.name),
                None => gone("temperature log", id.0),
            },
            Place::Event(id) => match self.events.get(id) {
                Some(event) => format!("what was {} at {}", event.kind.name(), event.at),
                None => gone("event", id.0),
            },
            Place::Photo(id) => match self.photos.get(id) {
                Some(photo) => format!("photograph {}", photo.file),
                None => gone("photograph", id.0),
            },
            Place::Plan(id) => match self.plans.get(id).and_then(|plan| self.lists.get(plan.list)) {
                Some(list) => format!("field plan of list {}", list.version),
                None => gone("field plan", id.0),
            },
            Place::FieldRow(id) => match self.field_rows.get(id) {
                Some(row) => format!("stake {}", row.stake),
                None => gone("row of the field", id.0),
            },
            Place::Weather(id) => match self.weather.get(id) {
                Some(month) => format!("weather of {}", month.name()),
                None => gone("month of weather", id.0),
            },
            Place::Store(id) => match self.stores.get(id) {
                Some(store) => format!("storage place {}", store.name),
                None => gone("storage place", id.0),
            },
        }
    }

    /// Says cutoffs in one line, traits by name.
    pub fn cutoffs_text(&self, cutoffs: &Cutoffs) -> String {
        let mut parts = Vec::new();
        if let Some(percent) = cutoffs.germination_percent {
            parts.push(format!("cold germination at least {percent} %"));
        }
        if let Some(days) = cutoffs.maturity_days {
            parts.push(format!("maturity at most {days} days"));
        }
        if let Some(vigor) = cutoffs.vigor {
            parts.push(format!("vigor at least {vigor}"));
        }
        for (id, limits) in &cutoffs.traits {
            let name = self.traits.get(*id).map_or("trait", |known| known.name.as_str());
            parts.extend(limits.least.map(|least| format!("{name} at least {least}")));
            parts.extend(limits.most.map(|most| format!("{name} at most {most}")));
        }
        if let Some(cap) = cutoffs.cap_per_mother {
            parts.push(format!("at most {cap} ears of one mother row"));
        }
        parts.push(format!("sureness {}", cutoffs.sureness));
        parts.join("; ")
    }

    /// Writes heat units, given in degrees Celsius times days, in the project's unit without its name.
    pub fn heat_text(&self, heat_c: f64) -> String {
        let heat = self.about.units.temperature.difference_of_celsius(heat_c);
        ((heat * 10.0).round() / 10.0).to_string()
    }

    /// Gives the trait with this name, whatever its capitals.
    pub fn trait_named(&self, name: &str) -> Option<&Trait> {
        self.traits
            .iter()
            .find(|known| known.name.eq_ignore_ascii_case(name.trim()))
    }

    /// Gives the storage place with this name, whatever its capitals.
    pub fn store_named(&self, name: &str) -> Option<&StorePlace> {
        self.stores
            .iter()
            .find(|known| known.name.eq_ignore_ascii_case(name.trim()))
    }

    /// Gives the storage place with this name, or says that there is none.
    pub(super) fn known_store(&self, name: &str) -> Result<&StorePlace, Fault> {
        check_text("the name of the storage place", name)?;
        self.store_named(name)
            .ok_or_else(|| Fault::NoSuchStore(name.trim().to_owned()))
    }

    /// Gives the storage place of an ear's seed: that of its first packet that has one.
    pub fn store_of(&self, ear: EarId) -> Option<&StorePlace> {
        self.packets_of(ear)
            .find_map(|packet| self.stores.get(packet.store?))
    }

    /// Gives a trait by id.
    pub fn trait_of(&self, id: TraitId) -> Option<&Trait> {
        self.traits.get(id)
    }

    /// Gives a selection by id.
    pub fn selection(&self, id: SelectionId) -> Option<&Selection> {
        self.selections.get(id)
    }
}

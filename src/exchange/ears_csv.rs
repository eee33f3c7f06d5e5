//! The harvest list as delimited text: a header matched to the fields of an ear, rows to ears and problems, and back.
//!
//! Reading goes in three steps, so that a person can look between them: [`super::table_text::read_table`],
//! [`match_columns`] (whose answer the caller may change), [`drafts`]. Nothing touches the project; the drafts go into
//! [`crate::model::Command::AddEars`] when the grower has accepted them.

use std::collections::BTreeMap;

use jiff::civil::Date;

use super::columns::{HeaderName, match_headers, named, plain};
use super::numbers::{DecimalMark, read_number};
use super::table_text::{Row, RowProblem, Table, write_csv};
use crate::insight::{heat_units_c, is_frosted};
use crate::model::{
    DateOrder, Ear, EarDraft, EarField, EarValue, Existing, Fault, Project, SeasonId, Trait, read_date,
    yes_or_no,
};

const NAMES: &[(EarField, &[&str])] = &[
    (
        EarField::Number,
        &["ear", "earnumber", "earno", "earnr", "number", "no"],
    ),
    (
        EarField::Row,
        &["row", "motherrow", "mother", "rownumber", "rowlabel", "family"],
    ),
    (
        EarField::Planted,
        &["planted", "plantedon", "plantingdate", "dateplanted", "planting"],
    ),
    (
        EarField::Matured,
        &["matured", "maturedon", "maturitydate", "datematured", "mature"],
    ),
    (
        EarField::MaturityDays,
        &["maturitydays", "daystomaturity", "maturity", "days"],
    ),
    (
        EarField::HeatUnits,
        &[
            "heatunits",
            "gdd",
            "gdu",
            "growingdegreedays",
            "growingdegreeunits",
        ],
    ),
    (
        EarField::Picked,
        &[
            "picked",
            "pickedon",
            "pickingdate",
            "datepicked",
            "harvested",
            "harvestdate",
        ],
    ),
    (EarField::Frosted, &["frosted", "frost", "frozen"]),
    (
        EarField::Kernels,
        &["kernels", "kernelsinpacket", "kernelcount", "numberofkernels"],
    ),
    (
        EarField::Location,
        &["location", "packetplace", "place", "box", "packetlocation"],
    ),
    (EarField::Store, &["storedin", "store", "storage", "storageplace"]),
    (EarField::Batch, &["dryingbatch", "batch", "dried", "rack"]),
    (
        EarField::Note,
        &["note", "notes", "remark", "remarks", "comment", "comments"],
    ),
];

/// Which column of a file goes into which field of an ear, and how its cells are to be read. The caller may change
/// all of it.
#[derive(Debug, Clone, PartialEq)]
pub struct ColumnMatch {
    /// For each column of the file its field; none is not read.
    pub fields: Vec<Option<EarField>>,
    /// Which number of a date comes first.
    pub dates: DateOrder,
    /// The decimal mark.
    pub decimal: DecimalMark,
    /// What to do with an ear number that the season already has.
    pub existing: Existing,
}

impl ColumnMatch {
    /// The headers of the columns that are not read.
    pub fn unmatched<'a>(&self, table: &'a Table) -> Vec<&'a str> {
        let columns = table.header.iter().zip(&self.fields);
        columns
            .filter(|(_, field)| field.is_none())
            .map(|(header, _)| header.as_str())
            .collect()
    }
}

/// Matches the header of a file to the fields of an ear and the traits of the project, whatever its capitals, spaces
/// and underscores. A unit in brackets must be the trait's unit, otherwise the column stays unmatched; of two columns
/// for one field the first is taken. The order of dates and the decimal mark are taken from the cells where these
/// tell.
pub fn match_columns(table: &Table, project: &Project) -> ColumnMatch {
    let fields = match_headers(&table.header, |header| field_of(header, project));
    let dates = guess_date_order(table, &fields);
    let numbers = columns_where(&fields, |field| {
        matches!(
            field,
            EarField::Trait(_) | EarField::MaturityDays | EarField::HeatUnits
        )
    });
    let decimal = table.guess_decimal(&numbers);
    ColumnMatch {
        fields,
        dates,
        decimal,
        existing: Existing::Refuse,
    }
}

fn field_of(header: &HeaderName, project: &Project) -> Option<EarField> {
    let fits = |known: &Trait| {
        let unit = known.unit.to_lowercase();
        plain(&known.name) == header.name && header.unit_is_one_of(&[unit.trim()])
    };
    if let Some(known) = project.traits.iter().find(|known| fits(known)) {
        return Some(EarField::Trait(known.id));
    }
    let sign = project.about.units.temperature.sign().to_lowercase();
    let heat = [" days", " d", "d", "", "-days"].map(|days| format!("{sign}{days}"));
    let heat = heat.each_ref().map(String::as_str);
    named(NAMES, &header.name).filter(|field| match field {
        EarField::MaturityDays => header.unit_is_one_of(&["days", "day", "d"]),
        EarField::HeatUnits => header.unit_is_one_of(&heat),
        _ => true,
    })
}

fn columns_where(fields: &[Option<EarField>], wanted: impl Fn(EarField) -> bool) -> Vec<usize> {
    let columns = fields.iter().enumerate();
    columns
        .filter(|(_, field)| field.is_some_and(&wanted))
        .map(|(column, _)| column)
        .collect()
}

/// The order that some date of the file proves and none contradicts.
fn guess_date_order(table: &Table, fields: &[Option<EarField>]) -> DateOrder {
    let (mut day_first, mut month_first) = (false, false);
    for column in columns_where(fields, |field| {
        matches!(field, EarField::Planted | EarField::Matured | EarField::Picked)
    }) {
        for cell in table.rows.iter().filter_map(|row| row.cells.get(column)) {
            let reads = |order| read_date(cell, order).is_ok();
            match (reads(DateOrder::DayFirst), reads(DateOrder::MonthFirst)) {
                (true, false) => day_first = true,
                (false, true) => month_first = true,
                _ => {}
            }
        }
    }
    match (day_first, month_first) {
        (true, false) => DateOrder::DayFirst,
        (false, true) => DateOrder::MonthFirst,
        _ => DateOrder::Unknown,
    }
}

/// Reads the rows of a file as ears of a season, each with its line. A row with any problem is left out whole. All
/// problems are returned in the order of their lines, those of the table among them.
///
/// Problems of a row are a cell that its field refuses, an ear number that stands twice in the file or is already in
/// the season (unless `existing` says otherwise), a date that can be read in two ways, and an ear that matured before
/// it was planted. A problem on the header's line means that no row was read.
pub fn drafts(
    table: &Table,
    columns: &ColumnMatch,
    project: &Project,
    season: SeasonId,
) -> (Vec<(usize, EarDraft)>, Vec<RowProblem>) {
    let mut problems = table.problems.clone();
    if let Some(what) = columns_fault(table, columns, project) {
        problems.insert(0, RowProblem::of_line(table.header_line, what));
        return (Vec::new(), problems);
    }
    let mut found = Vec::new();
    let mut reader = Reader::new(table, columns, project, season);
    for row in &table.rows {
        let before = problems.len();
        let draft = reader.draft(row, &mut problems);
        if problems.len() == before {
            found.push((row.line, draft));
        }
    }
    problems.sort_by_key(|problem| problem.line);
    (found, problems)
}

/// What makes the match unusable: nothing matched, or one field in two columns.
fn columns_fault(table: &Table, columns: &ColumnMatch, project: &Project) -> Option<String> {
    let matched: Vec<EarField> = columns.fields.iter().copied().flatten().collect();
    if matched.is_empty() {
        return Some(format!(
            "no column is known here ({}). Head the columns 'ear number', 'mother row', 'planted' and so on, or choose what each holds",
            table.header.join(", ")
        ));
    }
    let twice = (1..matched.len()).find(|at| matched[..*at].contains(&matched[*at]))?;
    Some(format!(
        "two columns hold '{}'. Choose one of them",
        matched[twice].title(project)
    ))
}

struct Reader<'a> {
    table: &'a Table,
    columns: &'a ColumnMatch,
    project: &'a Project,
    season: SeasonId,
    /// The line on which a number of the file stood first.
    seen: BTreeMap<u32, usize>,
    /// The day when each row was planted that has one of its own.
    rows_planted: BTreeMap<&'a str, Date>,
}

impl<'a> Reader<'a> {
    fn new(table: &'a Table, columns: &'a ColumnMatch, project: &'a Project, season: SeasonId) -> Self {
        let rows = project.rows_of(season);
        let rows_planted = rows
            .filter_map(|row| Some((row.label.as_str(), row.planted?)))
            .collect();
        Self {
            table,
            columns,
            project,
            season,
            seen: BTreeMap::new(),
            rows_planted,
        }
    }

    /// Reads one row; what is wrong with it is added to the problems.
    fn draft(&mut self, row: &Row, problems: &mut Vec<RowProblem>) -> EarDraft {
        let mut draft = EarDraft::default();
        let mut number_header = None;
        for ((field, header), cell) in self.columns.fields.iter().zip(&self.table.header).zip(&row.cells) {
            let Some(field) = *field else { continue };
            if field == EarField::Number {
                number_header = Some(header);
            }
            match self.value(field, cell) {
                Ok(value) => draft.set(field, value),
                Err(what) => problems.push(RowProblem::of_column(row.line, header, what)),
            }
        }
        if let (Some(number), Some(header)) = (draft.number, number_header)
            && let Some(what) = self.number_taken(number, row.line)
        {
            problems.push(RowProblem::of_column(row.line, header, what));
        }
        if let Some(fault) = self.dates_fault(&draft) {
            problems.push(RowProblem::of_line(row.line, fault.to_string()));
        }
        draft
    }

    fn value(&self, field: EarField, cell: &str) -> Result<EarValue, String> {
        let text = cell.trim();
        if text.is_empty() {
            return match field {
                EarField::Number => {
                    Err("the ear number is empty. Write it, or do not read this column".to_owned())
                }
                _ => Ok(EarValue::Empty),
            };
        }
        let is_number = matches!(
            field,
            EarField::Number
                | EarField::MaturityDays
                | EarField::HeatUnits
                | EarField::Kernels
                | EarField::Trait(_)
        );
        let read = |text: &str| {
            field
                .read(text, self.columns.dates, self.project)
                .map_err(|fault| fault.to_string())
        };
        if !is_number {
            return read(text);
        }
        // The mark of the whole file decides how a number is meant; the field then decides whether it is possible.
        let number = read_number(text, self.columns.decimal).map_err(|fault| fault.to_string())?;
        read(&number.to_string())
    }

    fn number_taken(&mut self, number: u32, line: usize) -> Option<String> {
        if let Some(first) = self.seen.get(&number) {
            return Some(format!(
                "ear number {number} stands on line {first} already. Correct one of the two lines"
            ));
        }
        self.seen.insert(number, line);
        let taken = self.project.ear_numbered(self.season, number).is_some();
        (taken && self.columns.existing == Existing::Refuse).then(|| {
            format!("this season already has ear {number}. Give it a free number, or choose to update or to skip such ears")
        })
    }

    fn dates_fault(&self, draft: &EarDraft) -> Option<Fault> {
        let matured = draft.matured?;
        let of_row = || {
            draft
                .row
                .as_deref()
                .and_then(|label| self.rows_planted.get(label))
                .copied()
        };
        let of_season = || {
            self.project
                .seasons
                .get(self.season)
                .and_then(|season| season.planted)
        };
        let planted = draft.planted.or_else(of_row).or_else(of_season)?;
        (matured < planted).then_some(Fault::MaturedBeforePlanted { planted, matured })
    }
}

/// Writes the ears of a season as comma-separated text (RFC 4180, see [`write_csv`]): dates as year-month-day, numbers
/// with a decimal point and all their digits. Dates and maturity days are the ear's own, not those of its row or
/// season; kernels are those in all packets of the ear, the place is that of the first. What is read back by
/// [`drafts`] gives the same ears; the code, and what the weather tells, are for people and are not read back.
pub fn ears_csv(project: &Project, season: SeasonId) -> Vec<u8> {
    let fields = EarField::all(project);
    let mut header: Vec<String> = fields.iter().map(|field| field.title(project)).collect();
    header.insert(1, "Ear code".to_owned());
    let weather = !project.weather_days().is_empty();
    if weather {
        let sign = project.about.units.temperature.sign();
        header.push(format!("Heat units by weather ({sign} days)"));
        header.push("Frosted by weather".to_owned());
    }
    let rows = project.ears_of(season).map(|ear| {
        let mut cells: Vec<String> = fields.iter().map(|field| cell_of(*field, ear, project)).collect();
        cells.insert(1, ear.code.to_string());
        if weather {
            // Nobody wrote these down: they are not read back, so that they follow the weather.
            let noted_nothing = Ear {
                heat_units_c: None,
                frosted: None,
                ..ear.clone()
            };
            let heat = heat_units_c(project, &noted_nothing).map(|heat| project.heat_text(heat));
            cells.push(heat.unwrap_or_default());
            cells.push(
                is_frosted(project, &noted_nothing)
                    .map_or("", yes_or_no)
                    .to_owned(),
            );
        }
        cells
    });
    write_csv(&header, rows)
}

fn cell_of(field: EarField, ear: &Ear, project: &Project) -> String {
    let or_empty = |text: Option<String>| text.unwrap_or_default();
    match field {
        EarField::Number => ear.number.to_string(),
        EarField::Row => project.mother_label(ear).to_owned(),
        EarField::Planted => or_empty(ear.planted.map(|day| day.to_string())),
        EarField::Matured => or_empty(ear.matured.map(|day| day.to_string())),
        EarField::Picked => or_empty(ear.picked.map(|day| day.to_string())),
        EarField::MaturityDays => or_empty(ear.maturity_days.map(|days| days.to_string())),
        EarField::HeatUnits => or_empty(ear.heat_units_c.map(|heat| project.heat_text(heat))),
        EarField::Frosted => or_empty(ear.frosted.map(|frosted| yes_or_no(frosted).to_owned())),
        EarField::Kernels => or_empty(project.kernels_of(ear.id).map(|kernels| kernels.to_string())),
        EarField::Location => or_empty(
            project
                .packets_of(ear.id)
                .next()
                .map(|packet| packet.location.clone()),
        ),
        EarField::Store => or_empty(project.store_of(ear.id).map(|store| store.name.clone())),
        EarField::Batch => ear.batch.clone(),
        EarField::Note => ear.note.clone(),
        EarField::Trait(id) => or_empty(ear.values.get(&id).map(f64::to_string)),
    }
}

//! A package back into a project: whole, or a list of what is wrong with it.

use super::sheet::{Form, Sheet};
use super::value::{from_cell, get, put};
use super::{DESCRIPTOR, FORMAT, Files, PackageProblem, SHEETS};
use crate::exchange::table_text::{Row, read_table};
use crate::model::{
    About, Cell, Count, Ear, FieldPlan, FieldRow, Packet, Photo, PlantingList, Problem, Project, Records,
    Row as CornRow, Season, Selection, StorePlace, TemperatureLog, Test, Trait, Tray, TrayEvent,
    WeatherMonth, cut_message, sentence,
};
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};
use std::collections::BTreeMap;

/// The lines of one sheet by their keys: the number of the record, then those of the lists inside it.
type Lines = BTreeMap<Vec<i64>, (usize, Value)>;

/// The header of a column, and what is wrong with its cell.
type Wrong = (String, String);

/// Gives the names of the files that a descriptor names and that are read.
///
/// # Errors
/// A text that is no descriptor of a package of this program, or of a newer one.
pub fn resources(descriptor: &[u8]) -> Result<Vec<String>, PackageProblem> {
    let wrong = |what: String| problem(DESCRIPTOR, None, None, what);
    let text = descriptor.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(descriptor);
    let json: Value = serde_json::from_slice(text).map_err(|error| {
        wrong(format!(
            "This is no JSON ({error}). Take the file of the package as it was written"
        ))
    })?;
    match json["wintercrib"]["format"].as_u64() {
        None => Err(wrong(
            "This is not a data package of this program. Choose the folder that 'Save as a data package' wrote".to_owned(),
        )),
        Some(format) if format > FORMAT => Err(wrong(format!(
            "The package has the form {format}, and this version reads forms up to {FORMAT}. Open it with a newer version"
        ))),
        Some(_) => {
            let paths = json["resources"].as_array().into_iter().flatten();
            let paths = paths.filter_map(|resource| resource["path"].as_str());
            let known = paths.filter(|path| SHEETS.iter().any(|sheet| sheet.file() == *path));
            Ok(known.map(str::to_owned).collect())
        }
    }
}

/// Reads the files of a package.
///
/// # Errors
/// Everything that is wrong with it, in the order of the files and their lines. Then nothing is taken.
pub fn read(files: &Files) -> Result<Project, Vec<PackageProblem>> {
    let Some(descriptor) = files.get(DESCRIPTOR) else {
        let what = "The file is missing. Choose the folder that holds it".to_owned();
        return Err(vec![problem(DESCRIPTOR, None, None, what)]);
    };
    let named = resources(descriptor).map_err(|problem| vec![problem])?;
    let mut problems = Vec::new();
    let mut read = Vec::new();
    for sheet in SHEETS {
        let lines = match files.get(&sheet.file()) {
            Some(bytes) => read_sheet(sheet, bytes, &mut problems),
            None if named.contains(&sheet.file()) => {
                let what = format!("The file is missing, but {DESCRIPTOR} names it. Put it back");
                problems.push(problem(&sheet.file(), None, None, what));
                Lines::new()
            }
            // The package is older than this kind of record.
            None => Lines::new(),
        };
        read.push(lines);
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let lines_of_records: Vec<BTreeMap<i64, usize>> = read
        .iter()
        .map(|lines| {
            lines
                .iter()
                .filter_map(|(keys, (line, _))| keys.first().map(|key| (*key, *line)))
                .collect()
        })
        .collect();
    assemble(read, &lines_of_records)
}

fn problem(file: &str, line: Option<usize>, column: Option<&str>, what: String) -> PackageProblem {
    PackageProblem {
        file: file.to_owned(),
        line,
        column: column.map(cut_message),
        what: cut_message(what),
    }
}

fn read_sheet(sheet: &Sheet, bytes: &[u8], problems: &mut Vec<PackageProblem>) -> Lines {
    let file = sheet.file();
    let table = match read_table(bytes) {
        Ok(table) => table,
        Err(fault) => {
            problems.push(problem(&file, None, None, fault.to_string()));
            return Lines::new();
        }
    };
    let header = sheet.header();
    let mut at = Vec::new();
    let before = problems.len();
    for (index, found) in table.header.iter().enumerate() {
        let known = header.contains(found);
        if !known || table.header[..index].contains(found) {
            let what = if known {
                "The column is there twice. Remove one"
            } else {
                "The column is not known. Remove it, or correct its header"
            };
            problems.push(problem(
                &file,
                Some(table.header_line),
                Some(found),
                what.to_owned(),
            ));
        }
    }
    for name in &header {
        let place = table.header.iter().position(|found| found == name);
        let column = sheet.columns.iter().find(|column| column.name == name);
        if place.is_none() && column.is_none_or(|column| column.required) {
            let what = "The column is missing. Put it back".to_owned();
            problems.push(problem(&file, Some(table.header_line), Some(name), what));
        }
        at.push(place);
    }
    if problems.len() > before {
        // The lines would only say the same again and again.
        return Lines::new();
    }
    let ragged = table.problems.into_iter();
    problems
        .extend(ragged.map(|row| problem(&file, Some(row.line), row.column.as_deref(), sentence(&row.what))));
    let mut lines = Lines::new();
    for row in &table.rows {
        match read_line(sheet, row, &at) {
            Ok((keys, value)) => {
                if let Some((first, _)) = lines.get(&keys) {
                    let what = format!(
                        "The line has the same number as line {first}. Give it another, or remove it"
                    );
                    problems.push(problem(&file, Some(row.line), None, what));
                } else {
                    lines.insert(keys, (row.line, value));
                }
            }
            Err(found) => problems.extend(
                found
                    .into_iter()
                    .map(|(column, what)| problem(&file, Some(row.line), Some(&column), what)),
            ),
        }
    }
    if sheet.section == "about" && sheet.nests.is_empty() && lines.len() != 1 && problems.is_empty() {
        let what = format!(
            "There are {} lines, but a project has one. Leave one line",
            lines.len()
        );
        problems.push(problem(&file, None, None, what));
    }
    lines
}

/// Gives the keys of a line and its record, or each column that is wrong with what is wrong with it.
fn read_line(sheet: &Sheet, row: &Row, at: &[Option<usize>]) -> Result<(Vec<i64>, Value), Vec<Wrong>> {
    let cell = |index: usize| {
        at[index]
            .and_then(|place| row.cells.get(place))
            .map_or("", String::as_str)
    };
    let mut wrong = Vec::new();
    let mut keys = Vec::new();
    let names = sheet.keys();
    for (index, name) in names.iter().enumerate() {
        match cell(index).trim().parse() {
            Ok(key) => keys.push(key),
            Err(error) => wrong.push((
                name.clone(),
                format!(
                    "'{}' is not a whole number ({error}). Write one such as 12",
                    cell(index)
                ),
            )),
        }
    }
    let bare = |path: &str| path == "." || path.starts_with(|first: char| first.is_ascii_digit());
    let mut record = if sheet.columns.iter().any(|column| bare(column.path)) {
        Value::Null
    } else {
        Value::Object(Map::new())
    };
    for part in sheet.parts {
        if put(&mut record, part, Value::Object(Map::new())).is_err() {
            wrong.push(((*part).to_owned(), "The line has no such part".to_owned()));
        }
    }
    for (index, column) in sheet.columns.iter().enumerate() {
        if let Err(what) = from_cell(column, cell(names.len() + index), &mut record) {
            wrong.push((column.name.to_owned(), what));
        }
    }
    if names.is_empty() {
        // The page of the project has no number.
        keys.push(record.get("id").and_then(Value::as_i64).unwrap_or(0));
    }
    if wrong.is_empty() {
        Ok((keys, record))
    } else {
        Err(wrong)
    }
}

/// Puts the lists into their records and the records into a project.
fn assemble(
    mut read: Vec<Lines>,
    lines_of_records: &[BTreeMap<i64, usize>],
) -> Result<Project, Vec<PackageProblem>> {
    let mut problems = Vec::new();
    let mut deepest: Vec<usize> = (0..SHEETS.len())
        .filter(|index| !SHEETS[*index].nests.is_empty())
        .collect();
    deepest.sort_by_key(|index| std::cmp::Reverse(SHEETS[*index].nests.len()));
    for inner in deepest {
        let Some(outer) = SHEETS.iter().position(|sheet| sheet.is_around(&SHEETS[inner])) else {
            continue;
        };
        let lines = std::mem::take(&mut read[inner]);
        attach(
            &SHEETS[inner],
            lines,
            &SHEETS[outer],
            &mut read[outer],
            &mut problems,
        );
    }
    if !problems.is_empty() {
        return Err(problems);
    }
    let mut records = Map::new();
    for (sheet, lines) in SHEETS.iter().zip(&mut read) {
        if !sheet.nests.is_empty() {
            continue;
        }
        let mut values = std::mem::take(lines).into_values().map(|(_, value)| value);
        let value = if sheet.section == "about" {
            values.next().unwrap_or_default()
        } else {
            Value::Array(values.collect())
        };
        records.insert(sheet.section.to_owned(), value);
    }
    let records = Value::Object(records);
    let project = match serde_json::from_value::<Records>(records.clone()) {
        Ok(found) => Project::from(found),
        Err(error) => return Err(misfits(&records, lines_of_records, &error.to_string())),
    };
    let broken = project.validate();
    if broken.is_empty() {
        return Ok(project);
    }
    Err(broken
        .iter()
        .map(|found| located(&project, found, lines_of_records))
        .collect())
}

fn attach(inner: &Sheet, lines: Lines, outer: &Sheet, into: &mut Lines, problems: &mut Vec<PackageProblem>) {
    let Some(nest) = inner.nests.last() else { return };
    for (mut keys, (line, value)) in lines {
        let Some(key) = keys.pop() else { continue };
        let Some((_, record)) = into.get_mut(&keys) else {
            let numbers: Vec<String> = keys.iter().map(i64::to_string).collect();
            let what = format!(
                "There is no line {} in {}. Correct the number, or put that line back",
                numbers.join(", "),
                outer.file()
            );
            problems.push(problem(
                &inner.file(),
                Some(line),
                inner.keys().first().map(String::as_str),
                what,
            ));
            continue;
        };
        let is_new = get(record, nest.path).is_none_or(Value::is_null);
        if is_new {
            let empty = match nest.form {
                Form::List => Value::Array(Vec::new()),
                Form::Map(_) => Value::Object(Map::new()),
            };
            if put(record, nest.path, empty).is_err() {
                continue;
            }
        }
        // Lines come in the order of their keys.
        match get_mut(record, nest.path) {
            Some(Value::Array(list)) => list.push(value),
            Some(Value::Object(map)) => {
                map.insert(key.to_string(), value);
            }
            _ => {}
        }
    }
}

fn get_mut<'a>(record: &'a mut Value, path: &str) -> Option<&'a mut Value> {
    path.split('.')
        .try_fold(record, |value, step| value.get_mut(step))
}

/// Names the records that are not what the model takes, though each of their cells is.
fn misfits(records: &Value, lines: &[BTreeMap<i64, usize>], otherwise: &str) -> Vec<PackageProblem> {
    let mut problems = Vec::new();
    for (sheet, lines) in SHEETS.iter().zip(lines) {
        if !sheet.nests.is_empty() {
            continue;
        }
        let section = &records[sheet.section];
        let single = std::slice::from_ref(section);
        for record in section.as_array().map_or(single, Vec::as_slice) {
            if let Err(why) = check(sheet.section, record) {
                let id = record["id"].as_i64().unwrap_or(0);
                let what =
                    format!("The line does not make sense ({why}). Fill in what is missing, or correct it");
                problems.push(problem(&sheet.file(), lines.get(&id).copied(), None, what));
            }
        }
    }
    if problems.is_empty() {
        let what = format!("The files do not fit together ({otherwise}). Take them as they were written");
        problems.push(problem(DESCRIPTOR, None, None, what));
    }
    problems
}

fn check(section: &str, record: &Value) -> Result<(), String> {
    fn fits<R: DeserializeOwned>(record: &Value) -> Result<(), String> {
        R::deserialize(record)
            .map(drop)
            .map_err(|error| error.to_string())
    }
    match section {
        "about" => fits::<About>(record),
        "seasons" => fits::<Season>(record),
        "rows" => fits::<CornRow>(record),
        "traits" => fits::<Trait>(record),
        "ears" => fits::<Ear>(record),
        "packets" => fits::<Packet>(record),
        "tests" => fits::<Test>(record),
        "trays" => fits::<Tray>(record),
        "cells" => fits::<Cell>(record),
        "counts" => fits::<Count>(record),
        "selections" => fits::<Selection>(record),
        "lists" => fits::<PlantingList>(record),
        "logs" => fits::<TemperatureLog>(record),
        "events" => fits::<TrayEvent>(record),
        "photos" => fits::<Photo>(record),
        "plans" => fits::<FieldPlan>(record),
        "field_rows" => fits::<FieldRow>(record),
        "weather" => fits::<WeatherMonth>(record),
        "stores" => fits::<StorePlace>(record),
        _ => Ok(()),
    }
}

/// Says in which file and line a record stands that breaks a rule.
fn located(project: &Project, broken: &Problem, lines: &[BTreeMap<i64, usize>]) -> PackageProblem {
    let (section, id) = broken.place.section();
    let at = SHEETS
        .iter()
        .position(|sheet| sheet.section == section && sheet.nests.is_empty());
    let file = at.map_or_else(|| DESCRIPTOR.to_owned(), |at| SHEETS[at].file());
    let line = at.and_then(|at| lines[at].get(&i64::from(id)).copied());
    let what = sentence(&format!("{}: {broken}", project.place_name(broken.place)));
    problem(&file, line, None, what)
}

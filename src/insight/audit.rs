//! Who did what when, in words: the events of a journal as lines, each with what it changed.

use crate::model::{
    Change, CountId, Ear, EarId, Event, LedgerLine, Place, Project, RowId, StoreId, Swap, Tally, TraitId,
    Transaction, WeatherMonth, plural,
};
use jiff::civil::DateTime;
use serde::Serialize;
use serde_json::Value;
use std::collections::{BTreeMap, BTreeSet};

/// So many changes of one line are told one by one.
pub const MOST_DETAILS: usize = 12;

/// So many days of a month of weather are told one by one.
const MOST_WEATHER_DETAILS: usize = 3;

/// One line of the log.
#[derive(Debug, Clone, PartialEq)]
pub struct AuditLine {
    /// When, by the clock of the computer.
    pub at: DateTime,
    /// Who; empty when nobody said.
    pub by: String,
    /// What was done, in the grower's words; what was undone or done again says so.
    pub what: String,
    /// What it changed, from what to what; none for what was undone or done again.
    pub details: Vec<String>,
    /// Changes that are not among the details, because there are too many.
    pub left_out: usize,
    /// The ears that it touched, by themselves or by their packets, cells and counts.
    pub ears: BTreeSet<EarId>,
}

/// A step that undo can take back: its label and its ears.
type Step = (String, BTreeSet<EarId>);

/// Puts events into words, oldest first. `project` is the project as it is now, for the names of records.
pub fn audit(project: &Project, events: &[Event]) -> Vec<AuditLine> {
    let mut done: Vec<Step> = Vec::new();
    let mut undone: Vec<Step> = Vec::new();
    let mut lines = Vec::new();
    for event in events {
        lines.push(match event {
            Event::Commit {
                stamp,
                transaction,
                merged,
            } => {
                let ears = ears_of(project, transaction);
                undone.clear();
                match done.last_mut() {
                    Some((label, earlier)) if *merged => {
                        label.clone_from(&transaction.label);
                        earlier.extend(&ears);
                    }
                    _ => done.push((transaction.label.clone(), ears.clone())),
                }
                let (details, left_out) = details(project, transaction);
                AuditLine {
                    at: stamp.at,
                    by: stamp.by.clone(),
                    what: transaction.label.clone(),
                    details,
                    left_out,
                    ears,
                }
            }
            Event::Undo { stamp } => moved(&mut done, &mut undone, stamp.at, &stamp.by, "Undone"),
            Event::Redo { stamp } => moved(&mut undone, &mut done, stamp.at, &stamp.by, "Done again"),
        });
    }
    lines
}

/// Says whether a line has every one of some words, in any case, in what it tells.
pub fn holds(line: &AuditLine, words: &str) -> bool {
    let mut text = format!("{} {} {}", line.at, line.by, line.what).to_lowercase();
    for detail in &line.details {
        text.push(' ');
        text.push_str(&detail.to_lowercase());
    }
    words
        .to_lowercase()
        .split_whitespace()
        .all(|word| text.contains(word))
}

fn moved(from: &mut Vec<Step>, to: &mut Vec<Step>, at: DateTime, by: &str, how: &str) -> AuditLine {
    let (label, ears) = from
        .pop()
        .unwrap_or_else(|| ("a step from before this journal".to_owned(), BTreeSet::new()));
    to.push((label.clone(), ears.clone()));
    AuditLine {
        at,
        by: by.to_owned(),
        what: format!("{how}: {label}"),
        details: Vec::new(),
        left_out: 0,
        ears,
    }
}

fn details(project: &Project, transaction: &Transaction) -> (Vec<String>, usize) {
    let mut details = Vec::new();
    let mut left_out = 0;
    for change in &transaction.changes {
        for detail in of_change(project, change) {
            if details.len() < MOST_DETAILS {
                details.push(detail);
            } else {
                left_out += 1;
            }
        }
    }
    (details, left_out)
}

fn of_change(project: &Project, change: &Change) -> Vec<String> {
    match change {
        Change::Count(swap) => {
            if let (None, Some(count)) = (&swap.before, &swap.after) {
                let cell = project.place_name(Place::Cell(count.cell));
                let seen = if count.void {
                    "withdrawn".to_owned()
                } else {
                    tally_text(&count.tally)
                };
                let corrected = count
                    .corrects
                    .map_or_else(String::new, |old| corrected_text(project, old));
                return vec![format!("{cell}, {} count: {seen}{corrected}", count.pass)];
            }
            compared(project, change.place(), swap)
        }
        Change::List(swap) => match (&swap.before, &swap.after) {
            (None, Some(list)) => vec![format!(
                "planting list {} of {} frozen with {}",
                list.version,
                list.year,
                plural(list.entries.len(), "ear")
            )],
            _ => compared(project, change.place(), swap),
        },
        Change::Ear(swap) => compared_as(project, &ear_name(swap), swap),
        Change::About(swap) => compared(project, change.place(), swap),
        Change::Season(swap) => compared(project, change.place(), swap),
        Change::Row(swap) => compared(project, change.place(), swap),
        Change::Trait(swap) => compared(project, change.place(), swap),
        Change::Packet(swap) => compared(project, change.place(), swap),
        Change::Test(swap) => compared(project, change.place(), swap),
        Change::Tray(swap) => compared(project, change.place(), swap),
        Change::Cell(swap) => compared(project, change.place(), swap),
        Change::Selection(swap) => compared(project, change.place(), swap),
        Change::Log(swap) => compared(project, change.place(), swap),
        Change::Event(swap) => compared(project, change.place(), swap),
        Change::Photo(swap) => compared(project, change.place(), swap),
        Change::Plan(swap) => compared(project, change.place(), swap),
        Change::FieldRow(swap) => compared(project, change.place(), swap),
        Change::Weather(swap) => weather(swap),
        Change::Store(swap) => compared(project, change.place(), swap),
    }
}

/// Tells the days of a month one by one while they are few, else how many there are.
fn weather(swap: &Swap<WeatherMonth>) -> Vec<String> {
    let none = BTreeMap::new();
    let days = |side: &Option<WeatherMonth>| side.as_ref().map_or(none.clone(), |month| month.days.clone());
    let (before, after) = (days(&swap.before), days(&swap.after));
    let Some(month) = swap.after.as_ref().or(swap.before.as_ref()) else {
        return Vec::new();
    };
    let changed: BTreeSet<u8> = before.keys().chain(after.keys()).copied().collect();
    let changed = changed
        .into_iter()
        .filter(|day| before.get(day) != after.get(day));
    let changed: Vec<u8> = changed.collect();
    let day_text = |days: &BTreeMap<u8, (f64, f64)>, day: u8| {
        days.get(&day).map_or_else(
            || "nothing".to_owned(),
            |(high, low)| format!("{high} and {low} °C"),
        )
    };
    let name = month.name();
    if changed.len() > MOST_WEATHER_DETAILS {
        let gone = changed.iter().filter(|day| !after.contains_key(day)).count();
        return match (changed.len() - gone, gone) {
            (set, 0) => vec![format!("weather of {name}: {} set", plural(set, "day"))],
            (0, gone) => vec![format!("weather of {name}: {} removed", plural(gone, "day"))],
            (set, gone) => vec![format!(
                "weather of {name}: {} set, {} removed",
                plural(set, "day"),
                plural(gone, "day")
            )],
        };
    }
    changed
        .into_iter()
        .map(|day| {
            format!(
                "weather of {day} {name}, high and low: {} → {}",
                day_text(&before, day),
                day_text(&after, day)
            )
        })
        .collect()
}

fn tally_text(tally: &Tally) -> String {
    match tally.text() {
        text if text.is_empty() => "no kernels".to_owned(),
        text => text,
    }
}

fn corrected_text(project: &Project, old: CountId) -> String {
    project.counts.get(old).map_or_else(String::new, |old| {
        format!(" (before: {})", tally_text(&old.tally))
    })
}

/// Names an ear by the record itself, as it may be gone.
fn ear_name(swap: &Swap<Ear>) -> String {
    let ear = swap.after.as_ref().or(swap.before.as_ref());
    ear.map_or_else(String::new, |ear| format!("ear {}", ear.number))
}

fn compared<R: Serialize>(project: &Project, place: Place, swap: &Swap<R>) -> Vec<String> {
    compared_as(project, &project.place_name(place), swap)
}

fn compared_as<R: Serialize>(project: &Project, name: &str, swap: &Swap<R>) -> Vec<String> {
    // Records are plain and can always be written; one that could not would show no details.
    let as_value = |record: &Option<R>| {
        let record = record.as_ref()?;
        serde_json::to_value(record).ok()
    };
    match (as_value(&swap.before), as_value(&swap.after)) {
        (None, Some(_)) => vec![format!("{name} added")],
        (Some(_), None) => vec![format!("{name} removed")],
        (Some(before), Some(after)) => {
            let mut found = Vec::new();
            differences(project, &mut Vec::new(), &before, &after, &mut found);
            found.iter().map(|one| format!("{name}, {one}")).collect()
        }
        (None, None) => Vec::new(),
    }
}

fn differences(
    project: &Project,
    path: &mut Vec<String>,
    before: &Value,
    after: &Value,
    found: &mut Vec<String>,
) {
    // A list by numbers is left out of the record while it is empty.
    let empty = Value::Object(serde_json::Map::new());
    let is_by_numbers = matches!(
        path.last().map(String::as_str),
        Some("words" | "values" | "traits")
    );
    let or_empty = |value| {
        if is_by_numbers && Value::is_null(value) {
            &empty
        } else {
            value
        }
    };
    match (or_empty(before), or_empty(after)) {
        (before, after) if before == after => {}
        (Value::Object(old), Value::Object(new)) if !is_kind(old) && !is_kind(new) => {
            let fields: BTreeSet<&String> = old.keys().chain(new.keys()).collect();
            for field in fields {
                path.push(field.clone());
                let side =
                    |fields: &serde_json::Map<String, Value>| fields.get(field).cloned().unwrap_or_default();
                differences(project, path, &side(old), &side(new), found);
                path.pop();
            }
        }
        (Value::Array(_) | Value::Null, Value::Array(new))
            if new.len() > length(before) && new[..length(before)] == *items(before) =>
        {
            for item in &new[length(before)..] {
                found.push(format!(
                    "{}: added {}",
                    title(project, path),
                    said(project, path, item)
                ));
            }
        }
        (before, after) => found.push(format!(
            "{}: {} → {}",
            title(project, path),
            said(project, path, before),
            said(project, path, after)
        )),
    }
}

fn items(value: &Value) -> &[Value] {
    value.as_array().map_or(&[], Vec::as_slice)
}

fn length(value: &Value) -> usize {
    items(value).len()
}

/// Says whether it is a kind of an enum, whose names begin with a capital.
fn is_kind(fields: &serde_json::Map<String, Value>) -> bool {
    fields
        .keys()
        .any(|name| name.starts_with(|letter: char| letter.is_ascii_uppercase()))
}

/// Names a field in words: the trait or the ear where it goes by their numbers.
fn title(project: &Project, path: &[String]) -> String {
    let mut words = Vec::new();
    let mut before = "";
    for step in path {
        let named = match (before, step.parse::<u32>()) {
            ("values" | "traits", Ok(id)) => {
                words.pop();
                project.traits.get(TraitId(id)).map(|known| known.name.clone())
            }
            ("words", Ok(id)) => {
                words.pop();
                Some(format!(
                    "your word about {}",
                    project.place_name(Place::Ear(EarId(id)))
                ))
            }
            _ => None,
        };
        words.push(named.unwrap_or_else(|| step.replace('_', " ")));
        before = step;
    }
    words.join(", ")
}

fn said(project: &Project, path: &[String], value: &Value) -> String {
    let field = path.last().map_or("", String::as_str);
    if field == "ledger"
        && let Ok(line) = serde_json::from_value::<LedgerLine>(value.clone())
    {
        return format!("{} kernels, {}", line.kernels, line.reason.name());
    }
    match value {
        Value::Null => "nothing".to_owned(),
        Value::Bool(true) => "yes".to_owned(),
        Value::Bool(false) => "no".to_owned(),
        Value::Number(number) => {
            let id = number.as_u64().and_then(|id| u32::try_from(id).ok());
            match (field, id) {
                ("row", Some(id)) if path.len() == 1 => project.place_name(Place::Row(RowId(id))),
                ("store", Some(id)) => project.place_name(Place::Store(StoreId(id))),
                _ => number.to_string(),
            }
        }
        Value::String(text) if text.is_empty() => "nothing".to_owned(),
        Value::String(text) => text.clone(),
        Value::Array(list) if list.len() > 6 => plural(list.len(), "value"),
        Value::Array(list) => list
            .iter()
            .map(|one| said(project, &[], one))
            .collect::<Vec<_>>()
            .join(", "),
        Value::Object(fields) => {
            let parts = fields.iter().map(|(name, value)| {
                format!(
                    "{} {}",
                    name.replace('_', " ").to_lowercase(),
                    said(project, &[], value)
                )
            });
            parts.collect::<Vec<_>>().join(", ")
        }
    }
}

fn ears_of(project: &Project, transaction: &Transaction) -> BTreeSet<EarId> {
    let mut ears = BTreeSet::new();
    for change in &transaction.changes {
        match change {
            Change::Ear(swap) => ears.extend(sides(swap).map(|ear| ear.id)),
            Change::Packet(swap) => ears.extend(sides(swap).map(|packet| packet.ear)),
            Change::Cell(swap) => ears.extend(sides(swap).filter_map(|cell| cell.content.ear())),
            Change::Count(swap) => {
                ears.extend(sides(swap).filter_map(|count| project.cells.get(count.cell)?.content.ear()));
            }
            Change::List(swap) => ears.extend(
                sides(swap).flat_map(|list| list.entries.iter().chain(&list.reserves).map(|entry| entry.ear)),
            ),
            Change::FieldRow(swap) => ears.extend(sides(swap).filter_map(|row| row.content.ear())),
            Change::Selection(swap) => {
                let (before, after) = (swap.before.as_ref(), swap.after.as_ref());
                let word = |one: Option<&crate::model::Selection>, ear: &EarId| {
                    one.and_then(|one| one.words.get(ear)).cloned()
                };
                let named = sides(swap).flat_map(|one| one.words.keys().copied());
                ears.extend(named.filter(|ear| word(before, ear) != word(after, ear)));
            }
            _ => {}
        }
    }
    ears
}

fn sides<R>(swap: &Swap<R>) -> impl Iterator<Item = &R> {
    swap.before.iter().chain(&swap.after)
}

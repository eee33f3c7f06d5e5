//! One cell and the value that it stands for.

use super::sheet::{Column, Holds, Kind, Word};
use jiff::civil::{Date, DateTime};
use serde_json::{Map, Number, Value};

/// Gives the value at a place of a record; `None` where nothing is.
pub(super) fn get<'a>(record: &'a Value, path: &str) -> Option<&'a Value> {
    if path == "." {
        return Some(record);
    }
    path.split('.').try_fold(record, |value, step| match value {
        Value::Object(fields) => fields.get(step),
        Value::Array(places) => step.parse::<usize>().ok().and_then(|at| places.get(at)),
        _ => None,
    })
}

/// Puts a value at a place of a record; what is around it is made where it is not there.
///
/// # Errors
/// A place inside a kind of an enum that the record does not have.
pub(super) fn put(record: &mut Value, path: &str, value: Value) -> Result<(), NotThere> {
    let mut at = record;
    if path != "." {
        for step in path.split('.') {
            at = inside(at, step)?;
        }
    }
    *at = value;
    Ok(())
}

/// The record is of another kind than the value belongs to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct NotThere;

fn inside<'a>(value: &'a mut Value, step: &str) -> Result<&'a mut Value, NotThere> {
    if let Ok(number) = step.parse::<usize>() {
        if value.is_null() {
            *value = Value::Array(Vec::new());
        }
        let places = value.as_array_mut().ok_or(NotThere)?;
        if places.len() <= number {
            places.resize(number + 1, Value::Null);
        }
        return places.get_mut(number).ok_or(NotThere);
    }
    let is_kind = is_kind(step);
    if value.is_null() && !is_kind {
        *value = Value::Object(Map::new());
    }
    let fields = value.as_object_mut().ok_or(NotThere)?;
    if is_kind && !fields.contains_key(step) {
        return Err(NotThere);
    }
    Ok(fields.entry(step).or_insert(Value::Null))
}

/// Says whether a step of a path is a kind of an enum.
fn is_kind(step: &str) -> bool {
    step.starts_with(|letter: char| letter.is_ascii_uppercase())
}

/// Writes the cell of a column. `None` for a value that the column has no cell for.
pub(super) fn to_cell(column: &Column, record: &Value) -> Option<String> {
    let Some(value) = get(record, column.path).filter(|value| !value.is_null()) else {
        return Some(column.absent.to_owned());
    };
    Some(match column.kind {
        Kind::Whole => value.as_number().filter(|number| !number.is_f64())?.to_string(),
        Kind::Number => value.as_f64()?.to_string(),
        Kind::Text | Kind::Date | Kind::Time => value.as_str()?.to_owned(),
        Kind::Flag => value.as_bool()?.to_string(),
        Kind::Json => value.to_string(),
        Kind::Word(words) => {
            let known = match value {
                Value::String(name) => name.as_str(),
                Value::Object(kind) => kind.keys().next()?,
                _ => return None,
            };
            words.iter().find(|word| word.known == known)?.cell.to_owned()
        }
    })
}

/// Reads the cell of a column into its record. What is wrong with the cell comes back as one sentence with what to do.
pub(super) fn from_cell(column: &Column, cell: &str, record: &mut Value) -> Result<(), String> {
    let cell = match column.kind {
        Kind::Text => cell,
        _ => cell.trim(),
    };
    if cell.is_empty() {
        return empty(column, record);
    }
    let value = read(column, cell)?;
    if let (Some((least, most)), Some(number)) = (column.range, value.as_f64())
        && !(least..=most).contains(&number)
    {
        return Err(format!(
            "{cell} is not between {least} and {most}. Correct the number"
        ));
    }
    put(record, column.path, value).map_err(|_not_there| {
        format!("'{cell}' does not belong to what the other columns of this line say. Empty this cell or correct those")
    })
}

fn empty(column: &Column, record: &mut Value) -> Result<(), String> {
    if column.required {
        return Err("The cell is empty. Fill it in".to_owned());
    }
    // Nor does an empty text make a part of the record that no other cell of the line speaks of.
    let part = column.path.rsplit_once('.').map_or("", |(part, _)| part);
    let is_there = part.is_empty() || get(record, part).is_some();
    if matches!(column.kind, Kind::Text) && is_there {
        // An empty text is a text. One that belongs to a word that the line does not have is not there at all.
        put(record, column.path, Value::String(String::new())).unwrap_or(());
    }
    Ok(())
}

fn read(column: &Column, cell: &str) -> Result<Value, String> {
    Ok(match column.kind {
        Kind::Whole => whole(cell)
            .map(Value::Number)
            .ok_or_else(|| format!("'{cell}' is not a whole number. Write one such as 12"))?,
        Kind::Number => cell
            .parse()
            .ok()
            .and_then(Number::from_f64)
            .map(Value::Number)
            .ok_or_else(|| format!("'{cell}' is not a number. Write one with a point, such as 12.5"))?,
        Kind::Text => Value::String(cell.to_owned()),
        Kind::Date => cell
            .parse::<Date>()
            .map(|day| Value::String(day.to_string()))
            .map_err(|error| {
                format!("'{cell}' is not a day ({error}). Write year, month and day, such as 2026-02-05")
            })?,
        Kind::Time => cell
            .parse::<DateTime>()
            .map(|time| Value::String(time.to_string()))
            .map_err(|error| format!("'{cell}' is not a time ({error}). Write it as 2026-02-05T18:30:00"))?,
        Kind::Flag => match cell.to_ascii_lowercase().as_str() {
            "true" => Value::Bool(true),
            "false" => Value::Bool(false),
            _ => {
                return Err(format!(
                    "'{cell}' is neither true nor false. Write one of the two"
                ));
            }
        },
        Kind::Json => serde_json::from_str(cell)
            .ok()
            .filter(Value::is_array)
            .ok_or_else(|| format!("'{cell}' is not a list. Write one such as [1, 2]"))?,
        Kind::Word(words) => {
            let found = words.iter().find(|word| word.cell == cell);
            found.map(of_word).ok_or_else(|| {
                let known: Vec<&str> = words.iter().map(|word| word.cell).collect();
                format!("'{cell}' is not known here. Write one of: {}", known.join(", "))
            })?
        }
    })
}

fn whole(cell: &str) -> Option<Number> {
    let unsigned = cell.parse::<u64>().map(Number::from).ok();
    unsigned.or_else(|| cell.parse::<i64>().map(Number::from).ok())
}

fn of_word(word: &Word) -> Value {
    let with = |held: Value| {
        let mut kind = Map::new();
        kind.insert(word.known.to_owned(), held);
        Value::Object(kind)
    };
    match word.holds {
        Holds::Nothing => Value::String(word.known.to_owned()),
        Holds::Value => with(Value::Null),
        Holds::Fields => with(Value::Object(Map::new())),
    }
}

//! A whole project as a Frictionless Data Package (version 1: specs.frictionlessdata.io): `datapackage.json` and one CSV
//! file a kind of record, for spreadsheets and other programs; and back.
//!
//! What is written is read back and compared before it is given out, so a package always holds the whole project.

mod descriptor;
mod read;
mod sheet;
mod sheets;
mod value;

pub use read::{read, resources};
use sheets::SHEETS;

use super::table_text::{MAX_BYTES, write_csv};
use crate::model::Project;
use serde_json::Value;
use sheet::{Form, Nest, Sheet};
use std::collections::BTreeMap;
use std::fmt;
use value::{get, to_cell};

/// The form of the package that this version of the program writes.
pub const FORMAT: u64 = 1;

/// The file that says what the others hold.
pub const DESCRIPTOR: &str = "datapackage.json";

/// The files of a package by their names.
pub type Files = BTreeMap<String, Vec<u8>>;

/// Why a project cannot be written as a package. Each is one sentence on what is wrong, and one on what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum Fault {
    /// Something in the project has no column.
    #[error(
        "The data package has no column for {0}. Nothing was written. Please report this fault of the program"
    )]
    NoColumn(String),
    /// The package would not give the project back.
    #[error(
        "The data package would not give back the same project ({0}). Nothing was written. Correct what 'wintercrib check' lists, or report this fault of the program"
    )]
    NotTheSame(String),
    /// A file would be larger than is read back.
    #[error(
        "{name} would have {bytes} bytes, more than the {MAX_BYTES} that are read back. Nothing was written. Remove temperature logs that are not needed any more"
    )]
    TooLarge {
        /// The file.
        name: String,
        /// Its size.
        bytes: usize,
    },
}

/// One thing that is wrong with a package that was read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PackageProblem {
    /// The file.
    pub file: String,
    /// The line in it, from 1, where one line is to blame.
    pub line: Option<usize>,
    /// The header of the column, where one column is to blame.
    pub column: Option<String>,
    /// What is wrong, and what to do.
    pub what: String,
}

impl fmt::Display for PackageProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.file)?;
        if let Some(line) = self.line {
            write!(f, ", line {line}")?;
        }
        if let Some(column) = &self.column {
            write!(f, ", column '{column}'")?;
        }
        write!(f, ": {}", self.what)
    }
}

/// Writes a project as the files of a package.
///
/// # Errors
/// A project that its package would not give back: one that breaks rules.
pub fn write(project: &Project) -> Result<Files, Fault> {
    let records = serde_json::to_value(project).map_err(|error| Fault::NotTheSame(error.to_string()))?;
    let mut files = Files::new();
    let mut json = serde_json::to_string_pretty(&descriptor::descriptor(project))
        .map_err(|error| Fault::NotTheSame(error.to_string()))?;
    json.push('\n');
    files.insert(DESCRIPTOR.to_owned(), json.into_bytes());
    for sheet in SHEETS {
        let bytes = write_csv(&sheet.header(), lines(sheet, &records)?);
        if bytes.len() > MAX_BYTES {
            return Err(Fault::TooLarge {
                name: sheet.file(),
                bytes: bytes.len(),
            });
        }
        files.insert(sheet.file(), bytes);
    }
    match read(&files) {
        Ok(back) if back == *project => Ok(files),
        Ok(_) => Err(Fault::NotTheSame("something in it has no column".to_owned())),
        Err(problems) => Err(Fault::NotTheSame(
            problems.first().map_or_else(String::new, ToString::to_string),
        )),
    }
}

fn lines(sheet: &Sheet, records: &Value) -> Result<Vec<Vec<String>>, Fault> {
    let empty = Vec::new();
    let section = &records[sheet.section];
    let records = match section {
        Value::Array(records) => records,
        Value::Null => &empty,
        single => std::slice::from_ref(single),
    };
    let mut lines = Vec::new();
    for record in records {
        let id = if sheet.nests.is_empty() {
            Vec::new()
        } else {
            vec![record["id"].to_string()]
        };
        add_lines(sheet, sheet.nests, record, id, &mut lines)?;
    }
    Ok(lines)
}

fn add_lines(
    sheet: &Sheet,
    nests: &[Nest],
    record: &Value,
    keys: Vec<String>,
    lines: &mut Vec<Vec<String>>,
) -> Result<(), Fault> {
    let Some((nest, inner)) = nests.split_first() else {
        let mut line = keys;
        for column in sheet.columns {
            let cell = to_cell(column, record);
            line.push(cell.ok_or_else(|| Fault::NoColumn(format!("{} in {}", column.name, sheet.name)))?);
        }
        lines.push(line);
        return Ok(());
    };
    let inside: Vec<(i64, &Value)> = match (nest.form, get(record, nest.path)) {
        (Form::List, Some(Value::Array(list))) => (1..).zip(list).collect(),
        (Form::Map(_), Some(Value::Object(map))) => {
            let mut by_number: Vec<(i64, &Value)> = map
                .iter()
                .filter_map(|(key, value)| key.parse().ok().map(|key| (key, value)))
                .collect();
            by_number.sort_unstable_by_key(|(key, _)| *key);
            by_number
        }
        _ => Vec::new(),
    };
    for (key, value) in inside {
        let mut keys = keys.clone();
        keys.push(key.to_string());
        add_lines(sheet, inner, value, keys, lines)?;
    }
    Ok(())
}

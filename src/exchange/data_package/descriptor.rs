//! `datapackage.json`: what each sheet and column holds, for programs that know Frictionless Data Packages.
//!
//! Data Package, Tabular Data Resource, Table Schema and CSV Dialect, version 1 (specs.frictionlessdata.io).

use super::sheet::{Column, Form, Kind, Sheet};
use super::{FORMAT, SHEETS};
use crate::model::{Project, capital};
use serde_json::{Map, Value, json};

const GUARD: &str = "Everything that a project file holds, one file a kind of record. Times are by the clock on the wall. \
    A text that begins with =, +, -, @, a tab or a line end and is not a plain number has one apostrophe before it, so \
    that a spreadsheet does not run it; reading takes the apostrophe off. Results are of a home test, not for labelling \
    seed.";

/// Writes the descriptor.
pub(super) fn descriptor(project: &Project) -> Value {
    json!({
        "profile": "tabular-data-package",
        "name": package_name(&project.about.name),
        "title": project.about.name,
        "description": GUARD,
        "wintercrib": { "format": FORMAT, "version": env!("CARGO_PKG_VERSION") },
        "resources": SHEETS.iter().map(resource).collect::<Vec<_>>(),
    })
}

/// A name of small letters, digits and hyphens, as the standard asks for.
fn package_name(name: &str) -> String {
    let plain: String = name
        .to_ascii_lowercase()
        .chars()
        .map(|letter| {
            if letter.is_ascii_alphanumeric() {
                letter
            } else {
                '-'
            }
        })
        .collect();
    let parts: Vec<&str> = plain.split('-').filter(|part| !part.is_empty()).collect();
    if parts.is_empty() {
        "project".to_owned()
    } else {
        parts.join("-")
    }
}

fn resource(sheet: &Sheet) -> Value {
    json!({
        "profile": "tabular-data-resource",
        "name": sheet.name,
        "title": title(sheet.name),
        "description": sheet.about,
        "path": sheet.file(),
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "dialect": {
            "delimiter": ",", "lineTerminator": "\r\n", "quoteChar": "\"", "doubleQuote": true, "header": true,
        },
        "schema": schema(sheet),
    })
}

fn schema(sheet: &Sheet) -> Value {
    let mut fields = Vec::new();
    let mut foreign = Vec::new();
    let mut keys = sheet.keys();
    if let Some((owner, lines)) = keys.split_first() {
        fields.push(key_field(
            owner,
            &format!(
                "The number of the record in {}.",
                title(around(sheet).name).to_lowercase()
            ),
        ));
        for (name, nest) in lines.iter().zip(sheet.nests) {
            fields.push(key_field(name, nest.about));
            if let Form::Map(named) = nest.form
                && !named.is_empty()
            {
                foreign.push(foreign_key(&[name.as_str()], sheet, named, &["id"]));
            }
        }
        let outer: Vec<&str> = keys[..keys.len() - 1].iter().map(String::as_str).collect();
        let around = around(sheet);
        let outer_keys = around.keys();
        let target: Vec<&str> = if outer_keys.is_empty() {
            vec!["id"]
        } else {
            outer_keys.iter().map(String::as_str).collect()
        };
        foreign.push(foreign_key(&outer, sheet, around.name, &target));
    } else if sheet.columns.iter().any(|column| column.name == "id") {
        keys = vec!["id".to_owned()];
    }
    for column in sheet.columns {
        fields.push(field(column));
        if let Some(named) = column.names {
            foreign.push(foreign_key(&[column.name], sheet, named, &["id"]));
        }
    }
    let mut schema = Map::new();
    schema.insert("fields".to_owned(), Value::Array(fields));
    schema.insert("missingValues".to_owned(), json!([""]));
    schema.insert("primaryKey".to_owned(), json!(keys));
    if !foreign.is_empty() {
        schema.insert("foreignKeys".to_owned(), Value::Array(foreign));
    }
    Value::Object(schema)
}

/// The sheet of the lines that a sheet's lists lie in.
fn around(sheet: &Sheet) -> &'static Sheet {
    let found = SHEETS.iter().find(|outer| outer.is_around(sheet));
    found.unwrap_or(&SHEETS[0])
}

fn key_field(name: &str, about: &str) -> Value {
    json!({
        "name": name, "title": title(name), "description": about, "type": "integer",
        "constraints": { "required": true },
    })
}

fn foreign_key(own: &[&str], sheet: &Sheet, named: &str, fields: &[&str]) -> Value {
    // A sheet that names itself does so by an empty name.
    let resource = if named == sheet.name {
        String::new()
    } else {
        named.to_owned()
    };
    let one_or_more = |names: &[&str]| match names {
        [name] => json!(name),
        names => json!(names),
    };
    json!({ "fields": one_or_more(own), "reference": { "resource": resource, "fields": one_or_more(fields) } })
}

fn field(column: &Column) -> Value {
    let kind = match column.kind {
        Kind::Whole => "integer",
        Kind::Number => "number",
        Kind::Text | Kind::Word(_) => "string",
        Kind::Date => "date",
        Kind::Time => "datetime",
        Kind::Flag => "boolean",
        Kind::Json => "array",
    };
    let mut field = Map::new();
    let mut put = |key: &str, value: Value| field.insert(key.to_owned(), value);
    put("name", json!(column.name));
    put("title", json!(title(column.name)));
    put("description", json!(column.about));
    put("type", json!(kind));
    let mut constraints = Map::new();
    if column.required {
        constraints.insert("required".to_owned(), json!(true));
    }
    if column.unique {
        constraints.insert("unique".to_owned(), json!(true));
    }
    if let Kind::Word(words) = column.kind {
        let words: Vec<&str> = words.iter().map(|word| word.cell).collect();
        constraints.insert("enum".to_owned(), json!(words));
    }
    if let Some((least, most)) = column.range {
        // A bound of whole numbers is written as one; beyond 2^53 a number is not exact and no bound at all.
        let bound = |value: f64| {
            if matches!(column.kind, Kind::Whole) {
                json!(value as i64)
            } else {
                json!(value)
            }
        };
        constraints.insert("minimum".to_owned(), bound(least));
        if most < 9e15 {
            constraints.insert("maximum".to_owned(), bound(most));
        }
    }
    if !constraints.is_empty() {
        put("constraints", Value::Object(constraints));
    }
    Value::Object(field)
}

fn title(name: &str) -> String {
    capital(&name.replace('_', " "))
}

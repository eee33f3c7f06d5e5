//! A project goes into a data package and comes back equal; a package that was edited is taken whole or refused by line.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod filled;

use filled::{Seen, Watched, filled, filled_json};
use serde::Deserialize as _;
use std::collections::BTreeSet;
use std::sync::LazyLock;
use wintercrib::demo;
use wintercrib::exchange::data_package::{DESCRIPTOR, Files, read, write};
use wintercrib::model::{About, Project, Records};
use wintercrib::store::format;

fn text(files: &Files, name: &str) -> String {
    String::from_utf8(files[name].clone()).unwrap()
}

/// Says what is wrong with a package after one of its files was edited.
fn refused(project: &Project, name: &str, edit: impl Fn(String) -> String) -> Vec<String> {
    let mut files = write(project).unwrap();
    let edited = edit(text(&files, name));
    assert_ne!(edited, text(&files, name), "nothing was edited");
    files.insert(name.to_owned(), edited.into_bytes());
    let problems = read(&files).unwrap_err();
    problems.iter().map(ToString::to_string).collect()
}

#[test]
fn every_field_of_every_record_is_filled_in_the_filled_project() {
    let (json, seen) = (filled_json(), Seen::default());
    Records::deserialize(Watched(&json, &seen)).unwrap();
    assert_eq!(
        seen.missing(),
        Vec::<String>::new(),
        "fill these in tests/filled/mod.rs"
    );
    for name in [
        "Ear",
        "PlantingList",
        "ListEntry",
        "RowSource",
        "LedgerReason",
        "LogSpan",
        "Word",
        "Sowing",
        "EntrySowing",
    ] {
        assert!(
            seen.types().contains(&name),
            "{name} was not read: {:?}",
            seen.types()
        );
    }
}

/// The watch itself can fail.
#[test]
fn a_field_that_is_not_filled_is_named() {
    let (mut json, seen) = (filled_json(), Seen::default());
    let seasons = json["seasons"].as_array_mut().unwrap();
    seasons[0].as_object_mut().unwrap().remove("pollen_plants");
    for row in json["rows"].as_array_mut().unwrap() {
        row["source"] = "Unknown".into();
    }
    Records::deserialize(Watched(&json, &seen)).unwrap();
    assert_eq!(
        seen.missing(),
        [
            "RowSource.Bulk",
            "RowSource.CheckLot",
            "RowSource.Ear",
            "Season.pollen_plants"
        ]
    );
}

#[test]
fn a_project_with_every_field_comes_back_equal() {
    let project = filled();
    let files = write(&project).unwrap();
    assert!(read(&files).unwrap() == project);
    for (germinated, length, temperature) in [
        ("StrongAndWeak", "Inches", "Celsius"),
        ("StrongOnly", "Centimetres", "Fahrenheit"),
    ] {
        let mut json = filled_json();
        json["about"]["germinated"] = germinated.into();
        json["about"]["units"] = serde_json::json!({ "length": length, "temperature": temperature });
        let project: Project = serde_json::from_value(json).unwrap();
        assert!(read(&write(&project).unwrap()).unwrap() == project);
    }
}

#[test]
fn the_demos_and_an_empty_project_come_back_equal() {
    for name in demo::NAMES {
        let project = demo::make(name).unwrap();
        assert!(read(&write(&project).unwrap()).unwrap() == project, "{name}");
    }
    let sized = demo::sized(60, 3, 5).unwrap();
    assert!(read(&write(&sized).unwrap()).unwrap() == sized);
    let empty = Project::new(About::new("Small Patch", "a-project"));
    assert!(read(&write(&empty).unwrap()).unwrap() == empty);
}

/// What a spreadsheet would run is guarded, and every line ends as RFC 4180 says.
#[test]
fn no_cell_begins_as_a_formula_and_lines_end_with_cr_lf() {
    for (name, bytes) in write(&filled()).unwrap() {
        if name == DESCRIPTOR {
            continue;
        }
        let text = String::from_utf8(bytes).unwrap();
        assert!(
            text.ends_with("\r\n") && text.matches('\n').count() == text.matches("\r\n").count(),
            "{name}"
        );
        let mut reader = csv::Reader::from_reader(text.as_bytes());
        for record in reader.records() {
            for cell in &record.unwrap() {
                let runs = cell.starts_with(['=', '+', '-', '@', '\t', '\r']);
                assert!(!runs || cell.parse::<f64>().is_ok(), "{name}: {cell}");
            }
        }
    }
}

/// Every column has a type and a description, every file that is named is there, and the other way round.
#[test]
fn the_descriptor_names_every_file_and_column() {
    let files = write(&filled()).unwrap();
    let json: serde_json::Value = serde_json::from_slice(&files[DESCRIPTOR]).unwrap();
    let mut named = BTreeSet::from([DESCRIPTOR.to_owned()]);
    for resource in json["resources"].as_array().unwrap() {
        let path = resource["path"].as_str().unwrap();
        named.insert(path.to_owned());
        let fields = resource["schema"]["fields"].as_array().unwrap();
        let names: Vec<&str> = fields
            .iter()
            .map(|field| field["name"].as_str().unwrap())
            .collect();
        assert_eq!(
            text(&files, path).lines().next().unwrap(),
            names.join(","),
            "{path}"
        );
        for field in fields {
            assert!(
                field["type"].is_string() && field["description"].as_str().unwrap().ends_with('.'),
                "{field}"
            );
        }
        // Every file has lines: a column that nothing fills would be tested by nothing.
        assert!(text(&files, path).lines().count() > 1, "{path} is empty");
    }
    assert_eq!(named, files.keys().cloned().collect());
}

#[test]
fn an_edited_package_is_taken() {
    let project = demo::make("pocket-starter").unwrap();
    let mut files = write(&project).unwrap();
    let ears = text(&files, "ears.csv");
    // As a spreadsheet of another country saves it: a mark, semicolons, bare line ends, a column moved and one left out.
    let mut lines: Vec<Vec<String>> = ears
        .lines()
        .map(|line| line.split(',').map(str::to_owned).collect())
        .collect();
    let note = lines[0].iter().position(|name| name == "note").unwrap();
    for line in &mut lines {
        line.remove(note);
        line.rotate_left(1);
    }
    let edited: Vec<String> = lines.iter().map(|line| line.join(";")).collect();
    files.insert(
        "ears.csv".to_owned(),
        format!("\u{feff}{}\n", edited.join("\n")).into_bytes(),
    );
    let back = read(&files).unwrap();
    assert_eq!(back.ears.len(), project.ears.len());
    assert_eq!(
        back.ears.iter().map(|ear| ear.number).collect::<Vec<_>>(),
        project.ears.iter().map(|ear| ear.number).collect::<Vec<_>>()
    );
}

#[test]
fn what_is_wrong_is_named_by_file_line_and_column() {
    let project = demo::make("pocket-starter").unwrap();
    let line_2 = |text: &str, edit: &dyn Fn(&str) -> String| {
        let mut lines: Vec<String> = text.split("\r\n").map(str::to_owned).collect();
        lines[1] = edit(&lines[1]);
        lines.join("\r\n")
    };
    let cell = |text: &str, at: usize, cell: &str| {
        line_2(text, &|line: &str| {
            let mut cells: Vec<&str> = line.split(',').collect();
            cells[at] = cell;
            cells.join(",")
        })
    };
    let said = refused(&project, "ears.csv", |text| cell(&text, 2, "seven"));
    assert_eq!(
        said,
        ["ears.csv, line 2, column 'number': 'seven' is not a whole number. Write one such as 12"]
    );
    let said = refused(&project, "ears.csv", |text| cell(&text, 2, ""));
    assert_eq!(
        said,
        ["ears.csv, line 2, column 'number': The cell is empty. Fill it in"]
    );
    let said = refused(&project, "seasons.csv", |text| cell(&text, 1, "99"));
    assert_eq!(
        said,
        ["seasons.csv, line 2, column 'year': 99 is not between 1800 and 2200. Correct the number"]
    );
    let said = refused(&project, "seasons.csv", |text| cell(&text, 2, "3/4/2026"));
    assert!(
        said[0].starts_with("seasons.csv, line 2, column 'planted': '3/4/2026' is not a day"),
        "{said:?}"
    );
    let said = refused(&project, "cells.csv", |text| cell(&text, 4, "earth"));
    assert!(
        said[0].ends_with("Write one of: ear, check, landmark, spare"),
        "{said:?}"
    );
    let said = refused(&project, "ears.csv", |text| cell(&text, 0, "2"));
    assert_eq!(
        said[0],
        "ears.csv, line 3: The line has the same number as line 2. Give it another, or remove it"
    );
    // Broken rules are named with the line of their record.
    let said = refused(&project, "ears.csv", |text| cell(&text, 1, "9"));
    assert!(
        said.iter().any(
            |one| one.starts_with("ears.csv, line 2: Ear 1: it names the season 9, which does not exist")
        ),
        "{said:?}"
    );
    let said = refused(&project, "ledger.csv", |text| cell(&text, 0, "4000"));
    assert_eq!(
        said,
        [
            "ledger.csv, line 2, column 'packet_id': There is no line 4000 in packets.csv. Correct the number, or put that line back"
        ]
    );
    // A cell that does not belong to what the line says.
    let full = filled();
    let said = refused(&full, "ledger.csv", |text| cell(&text, 5, "1"));
    assert!(
        said[0].starts_with("ledger.csv, line 2, column 'test': '1' does not belong"),
        "{said:?}"
    );
    let said = refused(&full, "seasons.csv", |text| cell(&text, 11, ""));
    assert!(
        said[0].starts_with("seasons.csv, line 2: The line does not make sense (missing field"),
        "{said:?}"
    );
    let said = refused(&project, "traits.csv", |text| {
        text.replacen("decimals", "digits", 1)
    });
    assert_eq!(said.len(), 2, "{said:?}");
    let said = refused(&project, "traits.csv", |_| String::new());
    assert!(said[0].starts_with("traits.csv: The file is empty"), "{said:?}");
}

#[test]
fn a_file_that_is_missing_or_of_something_else_is_refused() {
    let project = demo::make("pocket-starter").unwrap();
    let whole = write(&project).unwrap();
    let said = |files: &Files| read(files).unwrap_err()[0].to_string();
    let mut files = whole.clone();
    files.remove("counts.csv");
    assert_eq!(
        said(&files),
        "counts.csv: The file is missing, but datapackage.json names it. Put it back"
    );
    files.remove(DESCRIPTOR);
    assert!(said(&files).starts_with("datapackage.json: The file is missing"));
    files.insert(DESCRIPTOR.to_owned(), b"{}".to_vec());
    assert!(said(&files).contains("not a data package of this program"));
    files.insert(DESCRIPTOR.to_owned(), br#"{"wintercrib":{"format":2}}"#.to_vec());
    assert!(said(&files).contains("newer version"));
    files.insert(DESCRIPTOR.to_owned(), b"\xff".to_vec());
    assert!(said(&files).contains("This is no JSON"));
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig { failure_persistence: None, cases: 96, ..Default::default() })]
    /// Bytes in any of the files give a project or problems, never a panic.
    #[test]
    fn no_bytes_make_it_panic(bytes in proptest::collection::vec(proptest::prelude::any::<u8>(), 0..120), which in 0..26_usize) {
        static WHOLE: LazyLock<Files> = LazyLock::new(|| write(&demo::make("pocket-starter").unwrap()).unwrap());
        let mut files = WHOLE.clone();
        let name = files.keys().nth(which % files.len()).unwrap().clone();
        files.insert(name, bytes);
        let _outcome = read(&files).is_ok();
    }
}

fn filled_file() -> std::path::PathBuf {
    std::path::PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("tests/data/filled.ron")
}

/// The filled project as a file, for other programs: `cargo test --test data_package -- --ignored` writes it anew.
#[test]
#[ignore = "writes a file of the tests"]
#[expect(
    clippy::disallowed_methods,
    reason = "the file is under version control and needs no copy beside it"
)]
fn write_the_filled_file() {
    std::fs::write(filled_file(), format::write(&filled()).unwrap()).unwrap();
}

#[test]
fn the_filled_file_is_the_filled_project() {
    let text = std::fs::read_to_string(filled_file()).unwrap();
    assert!(
        text == format::write(&filled()).unwrap(),
        "it differs; see the test that writes it"
    );
}

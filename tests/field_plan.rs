//! The field of a frozen list: planned, changed by hand, walked through the year, and compared with the trays.
#![expect(clippy::unwrap_used, reason = "a test stops at what it does not expect")]

mod common;
mod poppler;
mod tray_sample;

use common::{fill, press, says};
use egui::{Key, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use jiff::civil::date;
use std::collections::BTreeSet;
use tray_sample::{LOOKS, harvest, now, stamp, window};
use wintercrib::demo;
use wintercrib::exchange::field_map::{PrintedMap, field_map_pdf};
use wintercrib::exchange::field_sheets::{FieldSheet, field_sheet_pdf};
use wintercrib::exchange::labels::{COMMON_SHEETS, LabelOrder, OnLabels, labels_pdf};
use wintercrib::exchange::print::{Paper, PrintFault, unwatched};
use wintercrib::insight::{FieldView, Insight};
use wintercrib::model::*;
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

const SEASON: SeasonId = SeasonId(1);

/// The demo with its list frozen as it stands.
fn listed() -> Document {
    let mut document = Document::new(demo::make("essel-thaw").unwrap());
    let insight = Insight::default();
    let cutoffs = document.project().selection_of(SEASON).unwrap().cutoffs.clone();
    let draft = insight.list_draft(&document, SEASON, &cutoffs);
    run(
        &mut document,
        &Command::Freeze(ListDraft {
            season: SEASON,
            by: "Grower A".to_owned(),
            reason: String::new(),
            cutoffs,
            entries: draft.entries.clone(),
            reserves: draft.reserves.clone(),
        }),
    );
    document
}

fn run(document: &mut Document, command: &Command) {
    document.run(command, &stamp()).unwrap();
}

fn list(document: &Document) -> &PlantingList {
    document.project().list_in_force(SEASON).unwrap()
}

fn shape() -> FieldShape {
    FieldShape {
        replicates: 2,
        rows_per_block: 24,
        kernels_per_place: 2,
        check_every: Some(10),
        bulk_every: Some(4),
        detassel: Detassel::AllButBulk,
        ..FieldShape::in_inches()
    }
}

/// The demo with its field planned.
fn planned() -> Document {
    let mut document = listed();
    let list = list(&document).id;
    run(
        &mut document,
        &Command::PlanField {
            list,
            shape: shape(),
            seed: 7,
        },
    );
    document
}

fn plan(document: &Document) -> &FieldPlan {
    document.project().plans.iter().next().unwrap()
}

fn view(document: &Document) -> FieldView {
    let view = Insight::default().field_plan(document, plan(document).id);
    view.as_ref().clone().unwrap()
}

fn sentences(document: &Document) -> Vec<String> {
    view(document)
        .findings
        .into_iter()
        .map(|finding| finding.sentence)
        .collect()
}

fn note(document: &mut Document, row: FieldRowId, field: RowField, text: &str) {
    let text = text.to_owned();
    run(
        document,
        &Command::NoteFieldRows {
            notes: vec![FieldNote { row, field, text }],
            on: date(2026, 5, 30),
        },
    );
}

#[test]
fn a_field_holds_the_list_and_its_kernels() {
    let document = planned();
    let view = view(&document);
    let list = list(&document);
    let ears: Vec<EarId> = view.rows.iter().filter_map(|row| row.content.ear()).collect();
    assert_eq!(ears.len(), 2 * list.entries.len());
    for entry in &list.entries {
        let rows: Vec<u32> = view
            .rows
            .iter()
            .filter(|row| row.content.ear() == Some(entry.ear))
            .map(|row| row.kernels)
            .collect();
        assert_eq!(rows.iter().sum::<u32>(), entry.plant);
        assert!(rows[0].abs_diff(rows[1]) <= 1);
    }
    let stakes: Vec<u32> = view.rows.iter().map(|row| row.stake).collect();
    assert_eq!(stakes, (1..=view.rows.len() as u32).collect::<Vec<_>>());
    // Rows of bulk keep their tassels, all others lose them.
    assert!(
        view.rows
            .iter()
            .all(|row| row.detasselled == (row.content != FieldContent::Bulk))
    );
    assert_eq!(sentences(&document), [] as [&str; 0]);
}

#[test]
fn what_is_changed_by_hand_is_said_and_taken_back() {
    let mut document = planned();
    let before = document.project().clone();
    // Two rows side by side are made sisters: the right one takes a sister of the left one.
    let rows = view(&document).rows;
    let project = document.project();
    let mother = |row: &wintercrib::insight::FieldLine| project.ears.get(row.content.ear()?)?.row;
    let (at, sister) = (1..rows.len())
        .find_map(|at| {
            let (left, right) = (&rows[at - 1], &rows[at]);
            let beside = left.block == right.block && left.across.abs_diff(right.across) == 1;
            if !beside || mother(left).is_none() || mother(right).is_none() {
                return None;
            }
            let sister = rows.iter().find(|other| {
                mother(other) == mother(left)
                    && other.content != left.content
                    && other.replicate == left.replicate
            })?;
            Some((at, sister.row))
        })
        .unwrap();
    run(&mut document, &Command::SwapFieldRows(rows[at].row, sister));
    let said = sentences(&document);
    assert!(
        said[0].contains("of sisters stand side by side, at stakes"),
        "{said:?}"
    );
    document.undo(&stamp()).unwrap();
    assert!(*document.project() == before);

    // An ear is planted over by the check lot.
    let ear = rows.iter().find(|row| row.content.ear().is_some()).unwrap();
    let number = ear.name.trim_start_matches("ear ").to_owned();
    run(
        &mut document,
        &Command::SetFieldRow {
            row: ear.row,
            content: FieldContent::Check,
            kernels: 90,
            detasselled: false,
        },
    );
    let said = sentences(&document).join("\n");
    assert!(
        said.contains(&format!(
            "Each ear should have 2 rows. With fewer: ear {number} (1)."
        )),
        "{said}"
    );
    assert!(said.contains("A row has room for 40 kernels"), "{said}");
    assert!(
        said.contains("The check row will shed pollen over the ears."),
        "{said}"
    );
}

#[test]
fn a_field_with_notes_is_not_planned_away() {
    let mut document = planned();
    let (row, id, list) = (
        view(&document).rows[4].row,
        plan(&document).id,
        list(&document).id,
    );
    note(&mut document, row, RowField::Stand, "17");
    let before = document.project().clone();
    let anew = Command::PlanField {
        list,
        shape: shape(),
        seed: 8,
    };
    for refused in [anew, Command::RemovePlan(id)] {
        let problem = document.run(&refused, &stamp()).unwrap_err().to_string();
        assert!(
            problem.contains("the field has notes, the first at stake 5"),
            "{problem}"
        );
    }
    assert!(*document.project() == before);
    let seen = &before.field_rows.get(row).unwrap().seen;
    assert_eq!((seen.stand, seen.stand_on), (Some(17), Some(date(2026, 5, 30))));
    // Taken back, it can go.
    note(&mut document, row, RowField::Stand, "");
    run(&mut document, &Command::RemovePlan(id));
    assert!(document.project().plans.is_empty() && document.project().field_rows.is_empty());
}

#[test]
fn what_cannot_be_noted_is_refused_with_a_sentence() {
    let mut document = planned();
    let row = view(&document).rows[0].row;
    note(&mut document, row, RowField::Stand, "12");
    for (field, text, part) in [
        (RowField::Stand, "twelve", "is not a number"),
        (RowField::ThinnedTo, "13", "thinned to 13 plants and had 12"),
        (RowField::Vigor, "10", "9"),
        (RowField::Flavour, "0", "1"),
        (RowField::SilkOn, "2026-02-30", "is not a date"),
        (RowField::Loss, "mice", "type B for bird"),
        (RowField::PlantHeight, "-3", "0"),
    ] {
        let notes = vec![FieldNote {
            row,
            field,
            text: text.to_owned(),
        }];
        let command = Command::NoteFieldRows {
            notes,
            on: date(2026, 5, 30),
        };
        let problem = document.run(&command, &stamp()).unwrap_err().to_string();
        assert!(problem.contains(part), "{field:?}: {problem}");
    }
    note(&mut document, row, RowField::PlantHeight, "72.5");
    let seen = &document.project().field_rows.get(row).unwrap().seen;
    assert_eq!(seen.plant_height_mm, Some(1841.5));
    assert_eq!(RowField::PlantHeight.text(seen, LengthUnit::Inches), "72.5");
    assert_eq!(
        RowField::PlantHeight.text(seen, LengthUnit::Centimetres),
        "184.15"
    );
}

/// Notes a stand in every row: as many as the trays let expect, times a factor.
fn count_stands(document: &mut Document, factor: f64, most: usize) {
    let likely: std::collections::BTreeMap<EarId, f64> = list(document)
        .entries
        .iter()
        .filter_map(|entry| Some((entry.ear, entry.likely_percent?)))
        .collect();
    let mut counted = BTreeSet::new();
    for row in view(document).rows {
        let Some(ear) = row.content.ear() else { continue };
        if !likely.contains_key(&ear) || (!counted.contains(&ear) && counted.len() == most) {
            continue;
        }
        counted.insert(ear);
        let stand = f64::from(row.kernels) * likely[&ear] / 100.0 * factor;
        note(document, row.row, RowField::Stand, &format!("{stand:.0}"));
    }
}

#[test]
fn field_and_trays_are_compared_from_fifteen_ears_on() {
    let insight = Insight::default();
    for (ears, is_enough) in [(14, false), (15, true)] {
        let mut document = planned();
        count_stands(&mut document, 0.8, ears);
        let against = insight_of(&document);
        assert_eq!(against.ears.len(), ears);
        assert_eq!(against.correlation.is_some(), is_enough);
        let said = against.sentences.join("\n");
        assert_eq!(
            said.contains("Too few to compare: the stand of 14 ears is noted"),
            !is_enough,
            "{said}"
        );
        let factor = against.field_factor.unwrap();
        assert!((factor - 0.8).abs() < 0.02, "{factor}");
        if let Some(found) = against.correlation {
            // Whole plants of 15 kernels are coarse: the trays go through, but not all the way.
            assert!(found.r > 0.5 && found.interval.low > 0.0, "{found:?}");
        }
    }
    let untouched = planned();
    let against = insight.field_against_tray(&untouched, plan(&untouched).id);
    assert!(against.sentences[0].starts_with("No stand is noted yet."));
}

fn insight_of(document: &Document) -> wintercrib::insight::FieldAgainstTray {
    let insight = Insight::default();
    insight
        .field_against_tray(document, plan(document).id)
        .as_ref()
        .clone()
}

#[test]
fn neighbours_that_shed_with_our_silk_are_named() {
    let mut document = planned();
    let rows = view(&document).rows;
    for (row, day) in rows.iter().zip(["2026-07-12", "2026-07-16", "2026-07-14"]) {
        note(&mut document, row.row, RowField::SilkOn, day);
    }
    note(&mut document, rows[0].row, RowField::PollenOn, "2026-07-10");
    let neighbour = |what: &str, from, to| Neighbour {
        what: what.to_owned(),
        distance_m: Some(412.5),
        direction: "north-west".to_owned(),
        sheds_from: from,
        sheds_to: to,
        note: String::new(),
    };
    let with = FieldPlan {
        neighbours: vec![
            neighbour("popcorn", Some(date(2026, 7, 1)), Some(date(2026, 7, 13))),
            neighbour("field corn", Some(date(2026, 7, 20)), Some(date(2026, 7, 29))),
            neighbour("early corn", None, Some(date(2026, 7, 9))),
            neighbour("flour corn", None, None),
        ],
        rounds: vec![DetasselRound {
            on: date(2026, 11, 29),
            pulled: 41,
            shed: 2,
            by: String::new(),
            note: String::new(),
        }],
        ..plan(&document).clone()
    };
    run(&mut document, &Command::EditPlan(with));
    let insight = Insight::default();
    let id = plan(&document).id;
    let said = insight.flowering(&document, id).sentences.join("\n");
    let total = rows.len();
    for part in [
        &format!("Half of the plants showed silk from 2026-07-12 to 2026-07-16, in 3 of {total} rows."),
        "From pollen to silk: 2 days on average, over 1 row.",
        "popcorn, 1353.3 ft away, north-west: sheds from 2026-07-01 to 2026-07-13, an overlap of 2 days with your silk.",
        "field corn, 1353.3 ft away, north-west: sheds from 2026-07-20 to 2026-07-29, no overlap; 4 days apart from your silk.",
        "early corn, 1353.3 ft away, north-west: sheds on 2026-07-09, no overlap; 3 days apart from your silk.",
        "flour corn, 1353.3 ft away, north-west: no day of shedding is noted.",
    ] {
        assert!(said.contains(part), "{part}\n{said}");
    }
    let said = insight.detasselling(&document, id, date(2026, 12, 1)).unwrap();
    let pulled = rows.iter().filter(|row| row.detasselled).count();
    assert_eq!(
        said,
        format!("1 round of {pulled} rows, the last 2 days ago: 41 plants pulled, 2 had shed already.")
    );
}

#[test]
fn a_bulk_takes_the_kernels_of_the_list_in_full_rows() {
    let mut document = listed();
    let (list, kernels) = (list(&document).id, list(&document).kernels());
    let shape = FieldShape {
        way: FieldWay::Bulk,
        ..shape()
    };
    run(&mut document, &Command::PlanField { list, shape, seed: 1 });
    let view = view(&document);
    let sum: u64 = view.rows.iter().map(|row| u64::from(row.kernels)).sum();
    assert_eq!(sum, kernels);
    assert!(
        view.rows[..view.rows.len() - 1]
            .iter()
            .all(|row| row.kernels == 40)
    );
    assert!(
        view.rows
            .iter()
            .all(|row| row.content == FieldContent::Bulk && !row.detasselled)
    );
}

#[test]
fn what_was_counted_in_a_closed_season_is_not_corrected_unseen() {
    let mut document = listed();
    let project = document.project();
    let count = project
        .counts
        .iter()
        .find(|count| count.pass == Pass::Final)
        .unwrap();
    let again = Command::RecordCounts {
        counts: vec![Seen {
            note: "looked at again".to_owned(),
            ..Seen::new(count.cell, Pass::Final, count.tally)
        }],
        on: None,
        by: "Grower A".to_owned(),
    };
    run(&mut document.clone(), &again);
    run(&mut document, &Command::CloseSeason(SEASON));
    let before = document.project().clone();
    let problem = document.run(&again, &stamp()).unwrap_err().to_string();
    assert!(problem.contains("was closed on"), "{problem}");
    assert!(*document.project() == before);
}

#[test]
fn a_stake_is_found_and_leads_to_its_ear_and_back() {
    let mut document = planned();
    let row = view(&document)
        .rows
        .into_iter()
        .find(|row| row.content.ear().is_some())
        .unwrap();
    note(&mut document, row.row, RowField::Stand, "9");
    let insight = Insight::default();
    let found = insight.find(&document, &format!("stake {}", row.stake));
    assert_eq!(found.found.len(), 1);
    assert_eq!(found.found[0].place, Place::FieldRow(row.row));
    assert!(found.found[0].detail.contains(&row.name), "{:?}", found.found[0]);
    let card = insight.ear_card(&document, row.content.ear().unwrap());
    let fields: Vec<String> = card
        .as_ref()
        .as_ref()
        .unwrap()
        .fields
        .iter()
        .map(|row| row.title.clone())
        .collect();
    assert_eq!(fields.len(), 2);
    assert!(
        fields[0].ends_with(&format!("stake {}: 15 kernels, 9 plants stood", row.stake)),
        "{fields:?}"
    );
}

#[test]
fn the_summary_tells_the_field() {
    let mut document = planned();
    count_stands(&mut document, 0.8, 20);
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("p.ron");
    drop(wintercrib::store::project_file::create(&file, document.project().clone(), "test").unwrap());
    let said = |arguments: &[&str]| {
        let program = env!("CARGO_BIN_EXE_wintercrib");
        let output = std::process::Command::new(program)
            .arg("summary")
            .arg(&file)
            .args(arguments)
            .output()
            .unwrap();
        assert!(output.status.success(), "{output:?}");
        String::from_utf8(output.stdout).unwrap()
    };
    let page: serde_json::Value = serde_json::from_str(&said(&["--json"])).unwrap();
    let (field, view) = (&page["field"], view(&document));
    assert_eq!(field["rows"].as_array().unwrap().len(), view.rows.len());
    for (told, row) in field["rows"].as_array().unwrap().iter().zip(&view.rows) {
        assert_eq!(told["stake"], row.stake);
        assert_eq!(told["stand_plants"].as_u64(), row.seen.stand.map(u64::from));
        assert_eq!(told["stand_percent"].as_f64(), row.stand_percent());
    }
    let against = insight_of(&document);
    let r = field["field_and_trays"]["correlation"].as_f64().unwrap();
    assert!((r - against.correlation.unwrap().r).abs() < 1e-12);
    let text = said(&[]);
    for sentence in against.sentences {
        assert!(text.contains(&sentence), "{sentence}\n{text}");
    }
}

// ---- on paper --------------------------------------------------------------------------------------------

fn map(document: &Document, paper: Paper) -> PrintedMap {
    let (project, list, plan) = (document.project(), list(document), plan(document));
    field_map_pdf(project, list, plan, paper, &unwatched).unwrap()
}

#[test]
fn the_map_has_every_stake_and_ear_once_and_goes_over_pages_where_it_must() {
    let small = planned();
    let mut wide = listed();
    let shape = FieldShape {
        rows_per_block: 400,
        end_mm: 600.0,
        borders: 2,
        ..shape()
    };
    let of = list(&wide).id;
    run(
        &mut wide,
        &Command::PlanField {
            list: of,
            shape,
            seed: 3,
        },
    );
    for (name, document, paper) in [
        ("small-letter", &small, Paper::Letter),
        ("small-a4", &small, Paper::A4),
        ("wide-a4", &wide, Paper::A4),
    ] {
        let printed = map(document, paper);
        assert_eq!(printed, map(document, paper));
        let rows = view(document).rows;
        assert_eq!(printed.rows, rows.len());
        for page in 1..=printed.pages.min(3) {
            poppler::look(&format!("print-field-map-{name}-{page}"), &printed.pdf, page);
        }
        let Some(text) = poppler::text_of(&printed.pdf) else {
            return;
        };
        assert_eq!(text.len(), printed.pages);
        let mut words: Vec<String> = text
            .iter()
            .flat_map(|page| page.split_whitespace().map(str::to_owned))
            .collect();
        for row in &rows {
            for wanted in [
                row.stake.to_string(),
                row.name.trim_start_matches("ear ").to_owned(),
            ] {
                let wanted = if wanted == "check lot" {
                    "check".to_owned()
                } else {
                    wanted
                };
                let at = words.iter().position(|word| *word == wanted);
                words.remove(
                    at.unwrap_or_else(|| panic!("{name}: no '{wanted}' left for stake {}", row.stake)),
                );
            }
        }
        assert!(
            text.iter()
                .all(|page| page.contains("home test, not for labelling seed"))
        );
    }
    let stopped = field_map_pdf(small.project(), list(&small), plan(&small), Paper::A4, &|_| false);
    assert_eq!(stopped, Err(PrintFault::Stopped));
}

#[test]
fn sheets_and_stakes_follow_the_field_plan() {
    let document = planned();
    let (project, list) = (document.project(), list(&document));
    let rows = view(&document).rows;
    for sheet in FieldSheet::ALL {
        let printed = field_sheet_pdf(project, list, sheet, Paper::Letter, &unwatched).unwrap();
        poppler::look(
            &format!("print-planned-{}", sheet.name().replace(' ', "-")),
            &printed.pdf,
            1,
        );
        let wanted: Vec<(u32, String)> = rows
            .iter()
            .filter(|row| sheet != FieldSheet::Detassel || row.detasselled)
            .map(|row| {
                let name = row.name.trim_start_matches("ear ").trim_end_matches(" lot");
                (row.stake, name.to_owned())
            })
            .collect();
        assert_eq!(printed.lines, wanted.len());
        let Some(text) = poppler::text_of(&printed.pdf) else {
            return;
        };
        assert!(
            text[0].contains("in walking order, by the field plan"),
            "{}",
            text[0]
        );
        let all = text.concat();
        let found = all.lines().filter_map(|line| {
            let mut words = line.split_whitespace();
            let stake: u32 = words.next()?.parse().ok()?;
            Some((stake, words.next()?.to_owned()))
        });
        assert_eq!(found.collect::<Vec<_>>(), wanted, "{sheet:?}");
    }
    let order = LabelOrder {
        sheet: COMMON_SHEETS[2],
        ..LabelOrder::default()
    };
    let stakes = labels_pdf(project, &OnLabels::Stakes { list: list.id }, &order, &unwatched).unwrap();
    assert_eq!(stakes.labels, 2 * rows.len());
    poppler::look("print-planned-stakes", &stakes.pdf, 1);
    if let Some(text) = poppler::text_of(&stakes.pdf) {
        let all = text.concat();
        assert_eq!(all.matches("START").count(), rows.len());
        let pulled = rows.iter().filter(|row| row.detasselled).count();
        assert_eq!(all.matches("detassel").count(), 2 * pulled);
    }
}

#[test]
fn a_bulk_has_a_sheet_to_tick_off_the_packets() {
    let mut document = listed();
    let id = list(&document).id;
    let shape = FieldShape {
        way: FieldWay::Bulk,
        ..shape()
    };
    run(
        &mut document,
        &Command::PlanField {
            list: id,
            shape,
            seed: 1,
        },
    );
    let list = list(&document);
    let sheet = FieldSheet::Planting;
    let printed = field_sheet_pdf(document.project(), list, sheet, Paper::A4, &unwatched).unwrap();
    assert_eq!(printed.lines, list.entries.len());
    poppler::look("print-bulk-sheet", &printed.pdf, 1);
    let Some(text) = poppler::text_of(&printed.pdf) else {
        return;
    };
    assert!(
        text[0].contains("One bulk: take so many kernels from each packet"),
        "{}",
        text[0]
    );
    let all = text.concat();
    for entry in &list.entries {
        assert!(all.contains(&entry.code.to_string()), "{}", entry.code);
    }
}

// ---- through the window ----------------------------------------------------------------------------------

fn at_planting(document: Document, theme: Theme) -> Harness<'static, App> {
    window(document, Pane::Planting, theme, [1280.0, 900.0], 1.0)
}

fn radio(harness: &mut Harness<'_, App>, label: &str) {
    harness.get_by_role_and_label(Role::RadioButton, label).click();
    harness.run();
}

#[test]
fn a_field_is_planned_and_rows_are_swapped_by_keys() {
    let mut harness = at_planting(listed(), Theme::Light);
    radio(&mut harness, "Field plan");
    press(&mut harness, "Plan the field");
    let document = harness.state().document();
    let before: Vec<FieldContent> = view(document).rows.iter().map(|row| row.content).collect();
    assert_eq!(
        before.iter().filter(|content| content.ear().is_some()).count(),
        list(document).entries.len()
    );
    harness.get_by_role_and_label(Role::Grid, "Field").focus();
    harness.run();
    for key in [Key::Home, Key::S, Key::ArrowRight, Key::ArrowRight, Key::S] {
        harness.key_press(key);
        harness.run();
    }
    let after: Vec<FieldContent> = view(harness.state().document())
        .rows
        .iter()
        .map(|row| row.content)
        .collect();
    assert_eq!((after[0], after[2]), (before[2], before[0]));
    assert!(says(&harness, "Swap what stakes 1 and 3 have"));
    let seed = plan(harness.state().document()).seed;
    press(&mut harness, "The form of the field");
    press(&mut harness, "Another order");
    assert_ne!(plan(harness.state().document()).seed, seed);
}

#[test]
fn silk_is_noted_with_one_key_a_row_and_stands_with_their_number() {
    let mut harness = at_planting(planned(), Theme::Light);
    radio(&mut harness, "Spring to autumn");
    let entry = |harness: &Harness<'_, App>, part: &str| {
        harness.get_all_by_role(Role::TextInput).any(|node| {
            node.accesskit_node()
                .label()
                .is_some_and(|label| label.contains(part))
        })
    };
    assert!(entry(&harness, "Stand at stake 1, "));
    let first = harness
        .get_all_by_role(Role::TextInput)
        .find(|node| {
            node.accesskit_node()
                .label()
                .is_some_and(|label| label.contains("Stand at stake"))
        })
        .unwrap();
    first.focus();
    harness.run();
    for typed in ["17", "19"] {
        harness.event(egui::Event::Text(typed.to_owned()));
        harness.run();
        harness.key_press(Key::Enter);
        harness.run();
        harness.run();
    }
    let seen = |harness: &Harness<'_, App>, at: usize| view(harness.state().document()).rows[at].seen.clone();
    assert_eq!(seen(&harness, 0).stand, Some(17));
    assert_eq!(seen(&harness, 1).stand, Some(19));
    assert!(entry(&harness, "Stand at stake 3, "));
    harness
        .get_by_role_and_label(Role::ComboBox, "What is noted")
        .click();
    harness.run();
    let choice = harness
        .query_all_by_label("Half silk")
        .find(|node| node.accesskit_node().role() != Role::ColumnHeader);
    choice.unwrap().click();
    harness.run();
    let field = harness
        .get_all_by_role(Role::TextInput)
        .find(|node| {
            node.accesskit_node()
                .label()
                .is_some_and(|label| label.contains("Half silk at stake 1,"))
        })
        .unwrap();
    field.focus();
    harness.run();
    for key in [Key::Enter, Key::ArrowDown, Key::Enter] {
        harness.key_press(key);
        harness.run();
        harness.run();
    }
    let days: Vec<_> = (0..4).map(|at| seen(&harness, at).silk_on).collect();
    assert_eq!(days, [Some(now().date()), None, Some(now().date()), None]);
}

#[test]
fn looks() {
    let mut document = planned();
    count_stands(&mut document, 0.75, 40);
    let rows = view(&document).rows;
    note(&mut document, rows[3].row, RowField::Loss, "B");
    note(&mut document, rows[3].row, RowField::SilkOn, "2026-07-12");
    let with = FieldPlan {
        neighbours: vec![Neighbour {
            what: "popcorn".to_owned(),
            distance_m: Some(412.5),
            direction: "north-west".to_owned(),
            sheds_from: Some(date(2026, 7, 1)),
            sheds_to: Some(date(2026, 7, 13)),
            note: String::new(),
        }],
        ..plan(&document).clone()
    };
    run(&mut document, &Command::EditPlan(with));
    let light = LOOKS.map(|(name, size, scale)| (name, Theme::Light, size, scale));
    for (name, theme, size, scale) in light
        .into_iter()
        .chain([("dark", Theme::Dark, [1280.0, 800.0], 1.0)])
    {
        let mut harness = window(document.clone(), Pane::Planting, theme, size, scale);
        for (part, picture) in [
            ("Field plan", "plan"),
            ("Spring to autumn", "rows"),
            ("Flowering and detasselling", "around"),
            ("Field and trays", "trays"),
        ] {
            radio(&mut harness, part);
            common::shot(&mut harness, &format!("field-{picture}-{name}"));
        }
    }
    let mut harness = at_planting(harvest(3), Theme::Light);
    assert!(says(&harness, "No planting list is frozen yet"));
    harness = at_planting(listed(), Theme::Light);
    radio(&mut harness, "Field plan");
    fill(&mut harness, "Rows of each ear", "3");
    common::shot(&mut harness, "field-form");
    radio(&mut harness, "Spring to autumn");
    assert!(says(&harness, "No field is planned yet"));
}

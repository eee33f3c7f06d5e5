//! The pedigree through the window: picking, walking by keys, the list, the pollen, and the pictures looked at.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod common;
mod tray_sample;

use common::{fill, press, says};
use egui::{Key, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use tray_sample::{freeze, harvest, stamp, window};
use wintercrib::demo;
use wintercrib::model::*;
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

/// Twelve ears of rows 1 to 3 of 2026; rows 1 to 4 of 2027 from ears 1, 4, 7 and 10, with two ears of row 1 and one of
/// row 2.
fn two_seasons() -> Document {
    let mut document = harvest(12);
    freeze(&mut document, 3);
    let list = document.project().lists.iter().next().unwrap().id;
    let begin = Command::BeginFromList {
        list,
        year: 2027,
        planted: None,
    };
    document.run(&begin, &stamp()).unwrap();
    let ears = ["1", "1", "2"].map(|row| EarDraft {
        row: Some(row.to_owned()),
        ..EarDraft::default()
    });
    let add = Command::AddEars {
        season: SeasonId(2),
        drafts: ears.to_vec(),
        existing: Existing::Refuse,
    };
    document.run(&add, &stamp()).unwrap();
    document
}

fn shown(document: Document, theme: Theme, size: [f32; 2]) -> Harness<'static, App> {
    let mut harness = window(document, Pane::Seasons, theme, size, 1.0);
    harness.get_by_label("Pedigree").click();
    harness.run();
    harness
}

fn grid<'a>(harness: &'a Harness<'static, App>) -> egui_kittest::Node<'a> {
    harness.get_by_role_and_label(Role::Grid, "Pedigree")
}

fn key(harness: &mut Harness<'static, App>, key: Key) {
    harness.key_press(key);
    harness.run();
}

#[test]
fn keys_walk_from_daughter_to_mother_and_sister_and_enter_opens_the_ear() {
    let mut harness = shown(two_seasons(), Theme::Light, [1280.0, 900.0]);
    assert!(says(&harness, "Pick a family, or choose an ear anywhere"));
    grid(&harness).focus();
    harness.run();
    // The first key picks the first family of the last season.
    key(&mut harness, Key::ArrowDown);
    let said = "Row 1 of 2027, from ear 1 of row 1 of 2026, from seed of which nothing is known.";
    assert!(says(&harness, said));
    assert!(grid(&harness).value().is_some_and(|value| value.contains(said)));
    key(&mut harness, Key::ArrowDown);
    assert!(says(&harness, "Row 2 of 2027, from ear 4 of row 1 of 2026"));
    key(&mut harness, Key::ArrowLeft);
    assert!(says(
        &harness,
        "Row 1 of 2026, from seed of which nothing is known."
    ));
    assert!(says(&harness, "It lives on in 2 families in 2027."));
    key(&mut harness, Key::ArrowRight);
    assert!(says(&harness, "Row 2 of 2027"));
    key(&mut harness, Key::Enter);
    // The ear from which the row was planted.
    assert!(says(&harness, "Open the card of ear 4 of 2026"));
    assert!(harness.query_by_label("Ear 4").is_some());
    key(&mut harness, Key::Escape);
    assert!(says(&harness, "Pick a family, or choose an ear anywhere"));
}

#[test]
fn the_ear_card_shows_its_ear_in_the_pedigree_and_the_list_says_the_same() {
    let mut harness = shown(two_seasons(), Theme::Light, [1280.0, 900.0]);
    grid(&harness).focus();
    harness.run();
    for step in [Key::ArrowDown, Key::ArrowDown, Key::Enter, Key::ArrowUp] {
        key(&mut harness, step);
    }
    assert!(
        says(&harness, "Row 1 of 2027"),
        "walked on while the card is open"
    );
    // The card of ear 4 of 2026, from which row 2 of 2027 was planted.
    press(&mut harness, "Show the pedigree");
    assert!(says(
        &harness,
        "Ear 4 grew here. Row 1 of 2026, from seed of which nothing is known."
    ));
    assert!(says(&harness, "It lives on in 1 family in 2027."));
    harness.get_by_label("List").click();
    harness.run();
    let line = "Row 3 of 2027, from ear 7 of row 2 of 2026, from seed of which nothing is known. 0 ears, 30 kernels planted.";
    harness.get_by_label(line).click();
    harness.run();
    assert!(harness.query_by_label(&format!("◆ {line}")).is_some());
}

#[test]
fn pollen_is_stated_for_a_closed_season_and_a_wrong_row_is_said() {
    let mut harness = shown(two_seasons(), Theme::Light, [1280.0, 1600.0]);
    let pollen = |harness: &Harness<'static, App>, season: u32| {
        let project = harness.state().document().project();
        project.seasons.get(SeasonId(season)).unwrap().pollen.clone()
    };
    assert!(says(&harness, "not stated: somewhere between an open field"));
    harness.get_by_label("State the pollen of 2026").scroll_to_me();
    harness.run();
    press(&mut harness, "State the pollen of 2026");
    harness.get_by_label("Own rows").click();
    harness.run();
    fill(&mut harness, "Rows that shed it, empty for all", "2, 99");
    assert!(says(&harness, "No row of this season is called '99'."));
    fill(&mut harness, "Rows that shed it, empty for all", "2");
    assert!(says(
        &harness,
        "Pollen all of row 2; all other rows were detasselled."
    ));
    press(&mut harness, "State it");
    let stated = pollen(&harness, 1).unwrap();
    assert_eq!(stated.own.to_bits(), 1.0_f64.to_bits());
    assert_eq!(stated.rows.len(), 1);
    assert!(says(&harness, "all of row 2; all other rows were detasselled"));
    // Taken back by saying nothing.
    press(&mut harness, "State the pollen of 2026");
    harness.get_by_label("Not stated").click();
    harness.run();
    press(&mut harness, "State it");
    assert_eq!(pollen(&harness, 1), None);
}

#[test]
fn a_project_without_families_says_what_to_do() {
    let document = Document::new(Project::new(About::new("Small Patch", "patch")));
    let harness = shown(document, Theme::Light, [1280.0, 800.0]);
    assert!(says(&harness, "There is no family yet."));
}

#[test]
fn looks() {
    let mut of_one = shown(harvest(30), Theme::Light, [1280.0, 800.0]);
    common::shot(&mut of_one, "pedigree-1-light");
    let mut stated = Document::new(demo::sized(60, 3, 7).unwrap());
    let rows: Vec<RowId> = stated.project().rows_of(SeasonId(2)).map(|row| row.id).collect();
    for (season, own, rows) in [(1, 0.0, &[][..]), (2, 0.8, &rows[..2])] {
        let pollen = Some(PollenSource {
            own,
            rows: rows.iter().copied().collect(),
        });
        let season = SeasonId(season);
        stated
            .run(&Command::StatePollen { season, pollen }, &stamp())
            .unwrap();
    }
    let mut tall = shown(stated.clone(), Theme::Dark, [1280.0, 2000.0]);
    common::shot(&mut tall, "pedigree-3-tall");
    let mut wide = shown(stated, Theme::Light, [1600.0, 1000.0]);
    wide.get_by_label("List").click();
    wide.run();
    common::shot(&mut wide, "pedigree-3-list");
    wide.get_by_label("State the pollen of 2024").scroll_to_me();
    wide.run();
    press(&mut wide, "State the pollen of 2024");
    common::shot(&mut wide, "pedigree-3-pollen");
    for (name, ears, seasons) in [("3", 60, 3), ("20", 250, 20)] {
        let document = Document::new(demo::sized(ears, seasons, 7).unwrap());
        for (theme, kind) in [(Theme::Light, "light"), (Theme::Dark, "dark")] {
            let mut harness = shown(document.clone(), theme, [1280.0, 800.0]);
            grid(&harness).focus();
            harness.run();
            for step in [Key::ArrowDown, Key::ArrowDown, Key::ArrowLeft] {
                key(&mut harness, step);
            }
            common::shot(&mut harness, &format!("pedigree-{name}-{kind}"));
            press(&mut harness, "Whole");
            common::shot(&mut harness, &format!("pedigree-{name}-whole-{kind}"));
        }
    }
}

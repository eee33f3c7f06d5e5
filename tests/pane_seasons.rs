//! Seasons through the window: the next one from a frozen list, and correcting a closed one.

mod common;
mod tray_sample;

use common::{fill, press, says};
use egui::{Role, Theme};
use egui_kittest::kittest::Queryable as _;
use tray_sample::{LOOKS, freeze, harvest, stamp, window};
use wintercrib::model::*;
use wintercrib::ui::context::Pane;

/// Twelve ears of three mother rows, of which four are on a frozen list.
fn listed() -> Document {
    let mut document = harvest(12);
    freeze(&mut document, 3);
    document
}

#[test]
fn a_season_grows_from_a_list_and_the_one_before_is_opened_with_a_reason() {
    let size = [1280.0, 1000.0];
    let mut harness = window(listed(), Pane::Seasons, Theme::Light, size, 1.0);
    assert!(says(
        &harness,
        "From planting list 1 of 2026 grow 4 rows with known mothers"
    ));
    fill(&mut harness, "Planted on", "2027-05-30");
    press(&mut harness, "Begin season 2027 from planting list 1");
    let project = harness.state().document().project();
    let season = project.season_of_year(2027).unwrap();
    assert_eq!(season.planted, Some(jiff::civil::date(2027, 5, 30)));
    assert_eq!(project.rows_of(season.id).count(), 4);
    assert!(says(&harness, "closed on 2026-12-01"));

    press(&mut harness, "Open…");
    assert!(says(&harness, "Your reason is kept with the season."));
    fill(&mut harness, "What is to be corrected", "ear 3 was weighed wrong");
    press(&mut harness, "Open it");
    let project = harness.state().document().project();
    let first = project.season_of_year(2026).unwrap();
    assert_eq!(first.closed, None);
    assert_eq!(first.openings[0].reason, "ear 3 was weighed wrong");
    assert!(says(&harness, "open: ear 3 was weighed wrong"));
    press(&mut harness, "Close");
    assert!(says(&harness, "closed on 2026-12-01"));
    // A year that is there is refused, and what was typed stays.
    fill(&mut harness, "Year of the harvest", "2026");
    press(&mut harness, "Begin the season");
    assert!(
        says(&harness, "the season '2026' is there twice")
            || says(&harness, "The season '2026' is there twice")
    );
    assert!(
        harness
            .get_by_role_and_label(Role::TextInput, "Year of the harvest")
            .value()
            .is_some()
    );
}

#[test]
fn looks() {
    let mut document = listed();
    let list = document.project().lists.iter().next().unwrap().id;
    for (name, size, scale) in LOOKS {
        let mut harness = window(document.clone(), Pane::Seasons, Theme::Light, size, scale);
        common::shot(&mut harness, &format!("seasons-next-{name}"));
    }
    let begin = Command::BeginFromList {
        list,
        year: 2027,
        planted: None,
    };
    document.run(&begin, &stamp()).unwrap();
    let mut harness = window(document, Pane::Seasons, Theme::Dark, [1280.0, 800.0], 1.0);
    common::shot(&mut harness, "seasons-next-dark");
    press(&mut harness, "Open…");
    common::shot(&mut harness, "seasons-open");
}

#[test]
fn lines_of_mothers_are_followed_over_seasons() {
    let document = Document::new(wintercrib::demo::sized(120, 3, 5).unwrap());
    let lines = wintercrib::insight::Insight::default()
        .lines_of_mothers(&document)
        .as_ref()
        .clone();
    assert_eq!(lines.seasons.len(), 3);
    let founders = document.project().rows_of(lines.seasons[0].0).count();
    assert_eq!(lines.there(0), founders);
    assert!(lines.lines.iter().any(|line| line.lost_after.is_some()));
    for (at, (season, _)) in lines.seasons.iter().enumerate() {
        let rows: usize = lines
            .lines
            .iter()
            .filter_map(|line| line.in_seasons[at])
            .map(|one| one.rows)
            .sum();
        assert_eq!(rows, document.project().rows_of(*season).count());
    }
    for theme in [Theme::Light, Theme::Dark] {
        let mut harness = window(document.clone(), Pane::Seasons, theme, [1280.0, 1200.0], 1.0);
        let part = harness.get_by_role_and_label(Role::RadioButton, "Mothers");
        part.click();
        harness.run();
        assert!(says(&harness, "Lines of mothers"));
        assert!(says(&harness, &lines.sentences()[0]));
        common::shot(&mut harness, &format!("seasons-lines-{theme:?}"));
    }
}

//! The days of a test in its trays, in the window.

mod common;
mod tray_sample;

use egui::{Role, Theme};
use egui_kittest::kittest::Queryable as _;
use tray_sample::window;
use wintercrib::demo;
use wintercrib::model::Document;
use wintercrib::ui::context::Pane;

#[test]
fn the_logs_of_the_demo_are_shown_and_water_is_noted_with_one_click() {
    for (theme, name) in [(Theme::Light, "cold-days-light"), (Theme::Dark, "cold-days-dark")] {
        let document = Document::new(demo::make("essel-thaw").expect("there is such a demo"));
        let mut harness = window(document, Pane::Trays, theme, [1280.0, 900.0], 1.0);
        harness.get_by_role_and_label(Role::Button, "Cold days").click();
        harness.run_steps(8);
        let says = |part: &str| harness.query_all_by_label_contains(part).next().is_some();
        assert!(says(
            "Tray 4 stood at 10.8 °C, 2.2 °C below the others, and germinated"
        ));
        assert!(says("no temperature is known from 2026-02-09 15:00"));
        assert!(says("Shelf logger: all trays") && says("Floor logger: tray 4"));
        common::shot(&mut harness, name);
        let events = harness.state().document().project().events.len();
        harness.get_by_role_and_label(Role::Button, "Watered now").click();
        harness.run_steps(4);
        assert_eq!(harness.state().document().project().events.len(), events + 1);
        harness
            .get_by_role_and_label(Role::Button, "Back to the trays")
            .click();
        harness.run_steps(4);
        assert!(
            harness
                .query_by_role_and_label(Role::Button, "Cold days")
                .is_some()
        );
    }
}

// The sample has more than this file needs; naming the rest keeps it from being called dead code.
const _: () = {
    let _ = (tray_sample::harvest, tray_sample::stamp);
};

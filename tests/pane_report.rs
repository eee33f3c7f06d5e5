//! The report of a season, looked at and printed from Seasons.

mod common;

use common::{harness, press, says, shot};
use egui::Theme;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use jiff::civil::datetime;
use std::path::Path;
use std::time::Duration;
use wintercrib::demo;
use wintercrib::model::{About, Document, Project};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;
use wintercrib::ui::widgets::path_prompt::{PathAnswer, ScriptedPathPrompt};

fn open(document: Document, file: &Path, size: [f32; 2], theme: Theme) -> Harness<'static, App> {
    let answer = PathAnswer::Chosen(file.to_path_buf());
    let mut harness = harness(size, theme).build_eframe(move |_| {
        let now = || datetime(2026, 2, 20, 9, 0, 0, 0);
        let mut app = App::in_memory(document, now).with_prompt(ScriptedPathPrompt::new(vec![answer]));
        app.show(Pane::Seasons);
        app
    });
    harness.run();
    harness
}

/// Runs frames until the thread has given what the window then says.
fn wait_for(harness: &mut Harness<'_, App>, text: &str) {
    for _ in 0..3_000 {
        harness.step();
        if says(harness, text) {
            harness.run();
            return;
        }
        std::thread::sleep(Duration::from_millis(10));
    }
    panic!("the window never says {text}");
}

#[test]
fn the_report_is_looked_at_and_printed() {
    let folder = tempfile::tempdir().expect("there is room");
    for (name, theme, size) in [
        ("light_1280", Theme::Light, [1280.0, 800.0]),
        ("dark_1600", Theme::Dark, [1600.0, 1000.0]),
    ] {
        let file = folder.path().join(format!("{name}.pdf"));
        let document = Document::new(demo::make("essel-thaw").expect("the demo is there"));
        let mut harness = open(document, &file, size, theme);
        shot(&mut harness, &format!("report_seasons_{name}"));
        press(&mut harness, "Report of 2025…");
        wait_for(&mut harness, "Page 1 of ");
        shot(&mut harness, &format!("report_dialog_{name}"));
        for page in 2..=3 {
            press(&mut harness, "Next page");
            assert!(says(&harness, &format!("Page {page} of ")));
        }
        shot(&mut harness, &format!("report_plot_{name}"));
        press(&mut harness, "Page before");
        assert!(says(&harness, "Page 2 of "));
        harness.get_by_label("A4").click();
        harness.step();
        assert!(!says(&harness, "Page 2 of "), "it is laid out anew");
        wait_for(&mut harness, "Page 2 of ");
        press(&mut harness, "Print to a PDF file…");
        wait_for(&mut harness, "Written: ");
        let pdf = std::fs::read(&file).expect("the report is there");
        assert!(pdf.starts_with(b"%PDF-"), "{name}");
        assert!(!says(&harness, "Page 2 of "), "the dialog is closed");
    }
}

#[test]
fn a_project_without_a_season_offers_no_report() {
    let empty = Document::new(Project::new(About::new("Empty", "none")));
    let mut harness = open(empty, Path::new("none.pdf"), [1280.0, 800.0], Theme::Light);
    assert!(harness.query_by_label_contains("Report of").is_none());
    shot(&mut harness, "report_none");
}

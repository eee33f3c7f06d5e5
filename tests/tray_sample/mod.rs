//! An invented harvest and a window on it, for the tests of the trays and of scoring.

use egui::Theme;
use egui_kittest::Harness;
use jiff::civil::{DateTime, date};
use wintercrib::model::{
    About, Command, Cutoffs, Document, EarDraft, Existing, ListDraft, ListEntry, Project, SeasonId, Stamp,
};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

use super::common;

/// The time at which all tests happen.
pub fn now() -> DateTime {
    date(2026, 12, 1).at(10, 0, 0, 0)
}

pub fn stamp() -> Stamp {
    Stamp {
        at: now(),
        by: String::new(),
    }
}

/// A season with so many ears of mother rows of four, each with a packet of 60 kernels.
pub fn harvest(ears: u32) -> Document {
    let mut document = Document::new(Project::new(About::new("Little Tarn", "little-tarn")));
    let mut run = |command: &Command| document.run(command, &stamp()).expect("the sample is sound");
    run(&Command::AddSeason {
        year: 2026,
        planted: None,
    });
    let drafts = (0..ears)
        .map(|ear| EarDraft {
            row: Some((ear / 4 + 1).to_string()),
            kernels: Some(60),
            ..EarDraft::default()
        })
        .collect();
    run(&Command::AddEars {
        season: SeasonId(1),
        drafts,
        existing: Existing::Refuse,
    });
    document
}

/// Freezes a list of every so many ears of the first season, each with 30 kernels to plant and 20 to keep.
pub fn freeze(document: &mut Document, every: usize) {
    let project = document.project();
    let entries = project.ears.iter().step_by(every).map(|ear| ListEntry {
        ear: ear.id,
        code: ear.code,
        number: ear.number,
        mother: project.mother_label(ear).to_owned(),
        germinated: None,
        likely_percent: None,
        maturity_days: None,
        plant: 30,
        keep: 20,
        why: "cutoffs".to_owned(),
        sowing: None,
    });
    let draft = ListDraft {
        season: SeasonId(1),
        by: "Grower A".to_owned(),
        reason: String::new(),
        cutoffs: Cutoffs::default(),
        entries: entries.collect(),
        reserves: Vec::new(),
    };
    document
        .run(&Command::Freeze(draft), &stamp())
        .expect("the sample is sound");
}

/// A window on a document, at a pane; `scale` enlarges all text.
pub fn window(
    document: Document,
    pane: Pane,
    theme: Theme,
    size: [f32; 2],
    scale: f32,
) -> Harness<'static, App> {
    let mut app = App::in_memory(document, now);
    app.show(pane);
    let mut harness = common::harness([size[0] / scale, size[1] / scale], theme)
        .with_pixels_per_point(scale)
        .build_eframe(|_| app);
    harness.run();
    harness
}

/// The sizes at which every pane is looked at: name, pixels, text scale.
pub const LOOKS: [(&str, [f32; 2], f32); 4] = [
    ("1280", [1280.0, 800.0], 1.0),
    ("1920", [1920.0, 1080.0], 1.0),
    ("1280-large", [1280.0, 800.0], 1.5),
    ("1920-large", [1920.0, 1080.0], 1.5),
];

// Each test file uses a part of this module; naming the rest keeps it from being called dead code.
const _: () = {
    let _ = LOOKS;
    let _: fn(&mut Document, usize) = freeze;
    let _: fn(Document, Pane, Theme, [f32; 2], f32) -> Harness<'static, App> = window;
};

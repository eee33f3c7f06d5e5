//! The parts of Selection that are unfolded beside the plot: their figures, their fields, their looks.

#[path = "../common/mod.rs"]
mod common;

mod axes;
mod curve;
mod index;
mod limits;
mod mothers;
mod picture;
mod reserve;
mod sets;
mod shares;
mod stand;

use egui::Theme;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use jiff::civil::datetime;
use wintercrib::demo;
use wintercrib::insight::Insight;
use wintercrib::model::{Cutoffs, Document, SeasonId, Stamp};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

/// The only season of the demos that are used.
const SEASON: SeasonId = SeasonId(1);

fn stamp() -> Stamp {
    Stamp {
        at: datetime(2026, 11, 25, 9, 0, 0, 0),
        by: "Test".to_owned(),
    }
}

fn made(demo: &str) -> Document {
    Document::new(demo::make(demo).expect("the demo is there"))
}

fn essel() -> Document {
    made("essel-thaw")
}

fn cutoffs(document: &Document) -> Cutoffs {
    Insight::default().cutoffs(document, SEASON)
}

/// Selection in a window.
fn open(document: Document, size: [f32; 2], theme: Theme) -> Harness<'static, App> {
    let mut harness = common::harness(size, theme).build_eframe(|_| {
        let mut app = App::in_memory(document, || stamp().at);
        app.show(Pane::Selection);
        app
    });
    harness.run();
    harness
}

/// Selection in a window, with the part unfolded whose switch begins with `switch`.
fn window(document: Document, size: [f32; 2], theme: Theme, switch: &str) -> Harness<'static, App> {
    let mut harness = open(document, size, theme);
    harness.get_by_label_contains(switch).scroll_to_me();
    harness.run();
    harness.get_by_label_contains(switch).click();
    harness.run();
    harness
}

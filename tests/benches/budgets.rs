//! How long the work on a project of 10,000 ears takes, beside what it may take. Run by hand:
//!
//! `cargo bench --bench budgets` (or `cargo bench --bench budgets -- EARS`)
//!
//! It prints the median of many runs and its ratio to the budget, and fails on nothing: a busy machine is no fault.
#![expect(
    clippy::unwrap_used,
    reason = "a benchmark that cannot prepare its project stops by panicking"
)]

use std::hint::black_box;
use std::time::{Duration, Instant};

use eframe::App as _;
use egui::{Context, Pos2, RawInput, Rect, vec2};
use wintercrib::demo;
use wintercrib::insight::{EarColumn, HarvestQuery, Insight, Vertical};
use wintercrib::model::{Command, Cutoffs, Document, EarEdit, EarField, EarValue, Project, SeasonId, Stamp};
use wintercrib::store::{format, project_file};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;
use wintercrib::ui::{fonts, tokens};

/// Frames of a pane that are measured, after those that let it settle.
const FRAMES: usize = 40;
const SETTLING: usize = 5;

fn main() {
    // Cargo passes `--bench` and the words behind `--`.
    let ears = std::env::args()
        .skip(1)
        .find_map(|word| word.parse().ok())
        .unwrap_or(10_000);
    let project = demo::sized(ears, 1, 1).unwrap();
    println!(
        "{ears} ears, {} cells, {} counts",
        project.cells.len(),
        project.counts.len()
    );
    if cfg!(debug_assertions) {
        println!("NOT A MEASUREMENT: this is a debug build");
    }
    println!(
        "{:<44} {:>10} {:>10} {:>8}",
        "", "median ms", "budget ms", "ratio"
    );
    files(&project);
    views(&project);
    edits(&project);
    panes(&project);
}

/// Prints the median of some durations, what they may be in milliseconds, and the ratio of the two.
fn report(what: &str, mut taken: Vec<Duration>, budget: Option<f64>) {
    taken.sort_unstable();
    let median = taken[taken.len() / 2].as_secs_f64() * 1e3;
    match budget {
        Some(budget) => println!(
            "{what:<44} {median:>10.3} {budget:>10.1} {:>8.3}",
            median / budget
        ),
        None => println!("{what:<44} {median:>10.3} {:>10} {:>8}", "-", "-"),
    }
}

/// Measures a piece of work `times` times; each run gets its number.
fn measure<T>(times: usize, mut work: impl FnMut(usize) -> T) -> Vec<Duration> {
    (0..times)
        .map(|run| {
            let begin = Instant::now();
            black_box(work(run));
            begin.elapsed()
        })
        .collect()
}

fn files(project: &Project) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("p.ron");
    drop(project_file::create(&path, project.clone(), "benchmark").unwrap());
    report(
        "open the file",
        measure(15, |_| project_file::read(&path).unwrap()),
        Some(150.0),
    );
    report(
        "  of that, look for broken rules",
        measure(15, |_| project.validate()),
        None,
    );
    report(
        "text of a save",
        measure(15, |_| format::write(project).unwrap()),
        Some(100.0),
    );
    let opened = project_file::open(&path, "benchmark").unwrap();
    let mut document = opened.document;
    let saves = measure(9, |_| opened.file.save_job(&mut document).unwrap().run().unwrap());
    report("whole save, read back, on the worker", saves, None);
}

fn views(project: &Project) {
    let document = Document::new(project.clone());
    let season = season_of(project);
    report(
        "fit and estimates of all ears",
        measure(15, |_| Insight::default().estimates(&document, season)),
        Some(100.0),
    );
    let insight = Insight::default();
    insight.choice(&document, season, &Cutoffs::default());
    let at = |percent: f64| Cutoffs {
        germination_percent: Some(percent),
        ..insight.cutoffs(&document, season)
    };
    report(
        "choice and plot for a moved cutoff",
        measure(40, |run| {
            insight.points(&document, season, &at(50.0 + run as f64), Vertical::Observed)
        }),
        Some(16.0),
    );
    let columns = EarColumn::all(project);
    let sorted = |run: usize| HarvestQuery {
        filter: String::new(),
        sort: Some((columns[run % columns.len()], run >= columns.len())),
    };
    report(
        "harvest table, sorted by another column",
        measure(2 * columns.len(), |run| {
            insight.harvest(&document, season, &sorted(run))
        }),
        Some(16.0),
    );
    let filtered = |run: usize| HarvestQuery {
        filter: run.to_string(),
        sort: None,
    };
    report(
        "harvest table, filtered by another text",
        measure(40, |run| insight.harvest(&document, season, &filtered(run))),
        Some(16.0),
    );
}

fn edits(project: &Project) {
    let mut document = Document::new(project.clone());
    let ear = project.ears_of(season_of(project)).next().unwrap().id;
    let taken = measure(40, |run| {
        let value = EarValue::Text(format!("note {run}"));
        let edit = EarEdit {
            ear,
            field: EarField::Note,
            value,
        };
        document.run(&Command::EditEars(vec![edit]), &stamp()).unwrap();
        document.close_step();
        document.undo(&stamp()).unwrap()
    });
    report("one edit and its undo", taken, Some(1.0));
}

fn panes(project: &Project) {
    for pane in Pane::ALL {
        let mut app = App::in_memory(Document::new(project.clone()), || stamp().at);
        app.show(pane);
        let ctx = Context::default();
        fonts::install(&ctx);
        tokens::apply(&ctx);
        let mut frame = eframe::Frame::_new_kittest();
        let mut pass = |run: usize| {
            let input = RawInput {
                screen_rect: Some(Rect::from_min_size(Pos2::ZERO, vec2(1400.0, 900.0))),
                time: Some(run as f64 / 60.0),
                ..RawInput::default()
            };
            ctx.run_ui(input, |ui| app.ui(ui, &mut frame))
                .drop_without_applying_deltas();
        };
        let first = measure(1, &mut pass);
        measure(SETTLING, |run| pass(1 + run));
        let still = measure(FRAMES, |run| pass(1 + SETTLING + run));
        report(&format!("pass of {}", pane.name()), still, Some(4.0));
        report("  its first pass", first, None);
    }
}

fn season_of(project: &Project) -> SeasonId {
    project.latest_season().unwrap().id
}

fn stamp() -> Stamp {
    Stamp {
        at: jiff::civil::date(2026, 2, 10).at(9, 0, 0, 0),
        by: "benchmark".to_owned(),
    }
}

//! How long the work on a project of 10,000 ears takes, beside what it may take. Run by hand:
//!
//! `cargo bench --bench budgets` (or `cargo bench --bench budgets -- EARS`)
//!
//! It prints the median of many runs and its ratio to the budget, and fails on nothing: a busy machine is no fault.
//! Where Python with scipy is there, `tests/benches/mixed_model_reference.py` fits the main model to the same counts and
//! the ratio to its time is printed too. `PYTHON` names another Python than `python3`.
#![expect(
    clippy::unwrap_used,
    reason = "a benchmark that cannot prepare its project stops by panicking"
)]

use std::fmt::Write as _;
use std::fs::File;
use std::hint::black_box;
use std::io::Write as _;
use std::path::Path;
use std::process::Command as Process;
use std::time::{Duration, Instant};

use eframe::App as _;
use egui::{Context, Pos2, RawInput, Rect, vec2};
use wintercrib::demo;
use wintercrib::exchange::labels::{LabelOrder, OnLabels, PacketLabels, labels_pdf};
use wintercrib::exchange::print::{Paper, unwatched};
use wintercrib::exchange::tray_prints::{TrayPrint, TrayPrintOrder, tray_print};
use wintercrib::genetics::ahead::{Plan, Pollen, Population, Sure, batch, batches, outlook, replicates};
use wintercrib::genetics::pedigree::{Family, Pool, relations};
use wintercrib::genetics::{Candidates, Span, coancestries, frontier, optimum_shares};
use wintercrib::insight::{BeforeQuery, DesignEars, EarColumn, HarvestQuery, Insight, Vertical};
use wintercrib::jobs::{JobContext, spread};
use wintercrib::model::{
    CellId, Change, Command, Cutoffs, Document, Ear, EarEdit, EarField, EarValue, KernelWay, MM_PER_INCH,
    OtherContainer, Pass, Project, SeasonId, Seen, Spread, Stamp, Tally, Transaction, TrayPlan, lay_out,
};
use wintercrib::stats::mixed::{self, Cell, Design, Options, Source};
use wintercrib::stats::{Counts, Cutoff};
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
    fits();
    files(&project);
    views(&project);
    judgements(&project);
    shares();
    pedigrees();
    looks_ahead();
    edits(&project);
    layouts(&project);
    prints(&project);
    panes(&project);
}

/// Prints the median of some durations, what they may be in milliseconds, and the ratio of the two. Gives the median
/// in milliseconds.
fn report(what: &str, mut taken: Vec<Duration>, budget: Option<f64>) -> f64 {
    taken.sort_unstable();
    let median = taken[taken.len() / 2].as_secs_f64() * 1e3;
    match budget {
        Some(budget) => println!(
            "{what:<44} {median:>10.3} {budget:>10.1} {:>8.3}",
            median / budget
        ),
        None => println!("{what:<44} {median:>10.3} {:>10} {:>8}", "-", "-"),
    }
    median
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

/// Ears of one tray in the designs that are fitted: 9 trays hold 250.
const EARS_PER_TRAY: f64 = 250.0 / 9.0;
/// With more ears the library takes minutes.
const MOST_FOR_REFERENCE: usize = 10_000;
/// Kernels of one ear in them.
const KERNELS: u32 = 10;

/// The layout of a test of all ears of a season, plain and with everything that can be asked for.
fn layouts(project: &Project) {
    let season = season_of(project);
    let mut ears: Vec<Ear> = project.ears_of(season).cloned().collect();
    let plain = TrayPlan::default();
    let other = OtherContainer {
        name: String::new(),
        width_mm: 18.0 * MM_PER_INCH,
        height_mm: 12.0 * MM_PER_INCH,
        margin_mm: 0.0,
        trays: 50,
    };
    let sizes = TrayPlan {
        others: vec![other],
        replicates: 3,
        ..plain.clone()
    };
    let anywhere = TrayPlan {
        spread: Spread::Anywhere,
        ..sizes.clone()
    };
    let plans = [
        ("lay out all ears", &plain, 0),
        ("lay out all ears of 9 batches", &plain, 9),
        ("lay out 3 replicates in 2 sizes, 9 batches", &sizes, 9),
        ("lay out 3 cells anywhere, 2 sizes, 9 batches", &anywhere, 9),
    ];
    for (what, plan, batches) in plans {
        for (number, ear) in (0_u32..).zip(&mut ears) {
            ear.batch = number
                .wrapping_mul(2_654_435_761)
                .checked_rem(batches)
                .map_or_else(String::new, |batch| format!("batch {batch}"));
        }
        let ears: Vec<&Ear> = ears.iter().collect();
        report(
            what,
            measure(15, |_| lay_out(plan, 1, &ears).unwrap()),
            Some(200.0),
        );
    }
}

/// The best shares of 300 ears in 27 mother rows, at ceilings over the whole way.
fn shares() {
    let ears = 300;
    let unit = |number: usize, step: u64| ((number as u64 * step) % 1000) as f64 / 1000.0;
    let sisters: Vec<usize> = (0..ears).map(|ear| (27.0 * unit(ear, 619)) as usize).collect();
    let gains: Vec<f64> = (0..ears).map(|ear| 55.0 + 40.0 * unit(ear, 387)).collect();
    let (matrix, most) = (coancestries(&sisters), vec![1.0; ears]);
    let candidates = Candidates {
        gains: &gains,
        coancestry: &matrix,
        most: &most,
    };
    let ends = frontier(candidates, 2).unwrap();
    let taken = measure(20, |run| {
        let part = (run as f64 + 0.5) / 20.0;
        let ceiling = (1.0 - part) * ends[0].coancestry + part * ends[1].coancestry;
        optimum_shares(candidates, ceiling).unwrap()
    });
    report("optimum shares of 300 ears", taken, Some(50.0));
    report(
        "their frontier, 17 points",
        measure(5, |_| frontier(candidates, 17).unwrap()),
        None,
    );
}

/// A pedigree of 20 seasons with 50 rows and 250 ears each, half of the pollen of each from its own rows: rows are
/// families, and ears are related as their rows are. Then one that is drawn.
fn pedigrees() {
    const ROWS: usize = 50;
    const EARS: usize = 250;
    let mut families = Vec::new();
    let mut pools = Vec::new();
    for season in 0..20 {
        let first = families.len();
        families.extend((0..ROWS).map(|row| match season {
            0 => Family::UNKNOWN,
            _ => Family::Of {
                mother: first - ROWS + row * 7 % ROWS,
                season: season - 1,
            },
        }));
        let plants = (first..families.len())
            .map(|row| (row, (EARS / ROWS) as f64))
            .collect();
        pools.push(Pool { plants, own: 0.5 });
    }
    let last = families.len() - ROWS;
    let ears: Vec<(usize, f64)> = (0..EARS).map(|ear| (last + ear % ROWS, 1.0)).collect();
    report(
        "coancestry of 250 ears after 20 seasons",
        measure(10, |_| {
            let known = relations(&families, &pools).unwrap();
            known.mean_of_kernels(&ears, 19).unwrap()
        }),
        Some(100.0),
    );
    let document = Document::new(demo::sized(EARS as u32, 20, 1).unwrap());
    report(
        "  the pedigree drawn, with all its figures",
        measure(3, |_| Insight::default().pedigree(&document)),
        None,
    );
}

/// A look ahead of 10 seasons with 240 ears and 1,000 replicates, as the window and the verb spread it over threads.
fn looks_ahead() {
    let population = Population {
        mean_logit: 0.8,
        deviation_logits: 0.9,
        inherited: Span { low: 0.2, high: 1.0 },
        rows: vec![11.0; 22],
    };
    let plan = Plan {
        ears: 240,
        kernels: 10,
        kept: 60,
        cutoff: Some(Sure {
            cutoff: Cutoff::from_percent(70.0).unwrap(),
            sureness: 0.7,
        }),
        cap: Some(6),
        passing: 0.9,
        plants_each: 30,
        evenness: 0.8,
        pollen: Pollen::AllRows,
        foreign: 0.1,
        seasons: 10,
    };
    let job = JobContext::at_once();
    let run = |what: &str, threads: usize, budget: Option<f64>| {
        let taken = measure(3, |seed| {
            let piece = |piece| replicates(&population, &plan, seed as u64, batch(1_000, piece)).unwrap();
            let found = spread(batches(1_000), threads, &job, piece).unwrap().concat();
            outlook(&found).unwrap()
        });
        report(what, taken, budget);
    };
    run("look 10 seasons ahead, 2 threads", 2, Some(10_000.0));
    run("  on one thread", 1, None);
}

/// The prints of all trays, which are made on the second thread.
fn prints(project: &Project) {
    let test = project.tests_of(season_of(project)).next().unwrap().id;
    for what in TrayPrint::ALL
        .into_iter()
        .filter(|what| *what != TrayPrint::RetestList)
    {
        let order = TrayPrintOrder {
            test,
            tray: None,
            paper: Paper::Letter,
            with_ears: what.shows_ears(),
        };
        let taken = measure(3, |_| tray_print(project, what, order, &[], &unwatched).unwrap());
        report(
            &format!("print the {} of all trays", what.name()),
            taken,
            Some(1_000.0),
        );
    }
    let ears = project.ears_of(season_of(project)).map(|ear| ear.id).collect();
    let kind = PacketLabels::Labels;
    let what = OnLabels::Packets { ears, kind };
    let order = LabelOrder::default();
    let taken = measure(3, |_| labels_pdf(project, &what, &order, &unwatched).unwrap());
    report("print a label of every packet", taken, Some(5_000.0));
}

/// One cell of each ear, the ears at random over the trays. Ears differ by a standard deviation of 1 logit, trays by
/// 0.3, about a mean of 1; the same number of ears gives the same cells.
fn cells(ears: usize) -> Vec<Cell> {
    // Knuth's multiplicative generator (MMIX); its upper bits are the good ones.
    let mut state = 1_u64;
    let mut uniform = move || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    // The sum of twelve has a variance of 1.
    let normal = |uniform: &mut dyn FnMut() -> f64| (0..12).map(|_| uniform()).sum::<f64>() - 6.0;
    let trays = (ears as f64 / EARS_PER_TRAY).ceil() as usize;
    let effects: Vec<f64> = (0..trays).map(|_| 0.3 * normal(&mut uniform)).collect();
    let mut places: Vec<usize> = (0..ears).map(|ear| ear * trays / ears).collect();
    for last in (1..ears).rev() {
        places.swap(last, (uniform() * (last + 1) as f64) as usize);
    }
    (0..ears)
        .map(|ear| {
            let tray = places[ear];
            let rate = 1.0 / (1.0 + (-1.0 - effects[tray] - normal(&mut uniform)).exp());
            let germinated = (0..KERNELS).filter(|_| uniform() < rate).count() as u32;
            Cell {
                counts: Counts::new(germinated, KERNELS).unwrap(),
                source: Source::Unit(ear),
                tray,
            }
        })
        .collect()
}

/// The main model at three sizes, and what a general-purpose library takes for the same.
fn fits() {
    let folder = tempfile::tempdir().unwrap();
    for (ears, budget, runs) in [(250, 10.0, 15), (10_000, 100.0, 9), (100_000, 1000.0, 3)] {
        let cells = cells(ears);
        let trays = cells.iter().map(|cell| cell.tray + 1).max().unwrap();
        let design = Design::new(cells.clone(), ears, trays, 0).unwrap();
        let fit = || mixed::fit(&design, &Options::default());
        let outcome = fit();
        let log_likelihood = outcome.model().unwrap().log_likelihood();
        let what = format!("fit of {ears} ears in {trays} trays");
        let median = report(&what, measure(runs, |_| fit()), Some(budget));
        if ears <= MOST_FOR_REFERENCE {
            let path = folder.path().join("cells.csv");
            write_cells(&path, &cells);
            reference(&path, median, log_likelihood, ears == 250);
        }
    }
}

fn write_cells(path: &Path, cells: &[Cell]) {
    let mut text = "tray,unit,k,n\n".to_owned();
    for (unit, cell) in cells.iter().enumerate() {
        let (k, n) = (cell.counts.k(), cell.counts.n());
        writeln!(text, "{},{unit},{k},{n}", cell.tray).unwrap();
    }
    File::create(path).unwrap().write_all(text.as_bytes()).unwrap();
}

/// Prints what the reference took, or why it is left out.
fn reference(cells: &Path, own_ms: f64, own_log_likelihood: f64, with_variational: bool) {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/benches/mixed_model_reference.py");
    let python = std::env::var_os("PYTHON").unwrap_or_else(|| "python3".into());
    let mut process = Process::new(python);
    process.arg(script).arg(cells);
    if with_variational {
        process.arg("--variational");
    }
    let output = match process.output() {
        Ok(output) => output,
        Err(fault) => {
            println!("  left out: the same by a library, since Python cannot be run ({fault})");
            return;
        }
    };
    for line in String::from_utf8_lossy(&output.stdout).lines() {
        let words: Vec<&str> = line.split_whitespace().collect();
        let number = |at: usize| words[at].parse::<f64>().unwrap();
        let taken = 1e3 * number(1);
        let beside = if number(2).is_nan() {
            "an approximation".to_owned()
        } else {
            format!("log-likelihood {:+.1e} of ours", number(2) - own_log_likelihood)
        };
        println!(
            "  by {:<39} {taken:>10.1} {:>10} {:>8.1} times ours",
            format!("{} ({beside})", words[0]),
            "-",
            taken / own_ms
        );
    }
    if !output.status.success() {
        let said = String::from_utf8_lossy(&output.stderr);
        let why = said.lines().last().unwrap_or("it did not say why");
        println!("  left out: the same by a library, since {why}");
    }
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
        "how figures move with the cutoff, 21 places",
        measure(5, |run| insight.curve(&document, season, &at(50.0 + run as f64))),
        None,
    );
    report(
        "choice and plot for a moved cutoff",
        measure(40, |run| {
            insight.points(&document, season, &at(50.0 + run as f64), Vertical::Observed)
        }),
        Some(16.0),
    );
    let way = KernelWay::ForAStand;
    let mut for_a_stand = document.clone();
    let set = Command::SetKernels { season, way };
    for_a_stand.run(&set, &stamp()).unwrap();
    report(
        "choice for a moved cutoff, kernels for a stand",
        measure(40, |run| {
            insight.choice(&for_a_stand, season, &at(50.0 + run as f64))
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

/// What is judged and foreseen of a test and a choice.
fn judgements(project: &Project) {
    let document = Document::new(project.clone());
    let season = season_of(project);
    let test = project.tests_of(season).next().unwrap();
    let insight = Insight::default();
    let at = |percent: f64| Cutoffs {
        germination_percent: Some(percent),
        ..insight.cutoffs(&document, season)
    };
    insight.price(&document, season, &at(49.0));
    report(
        "price for a moved cutoff",
        measure(40, |run| insight.price(&document, season, &at(50.0 + run as f64))),
        Some(16.0),
    );
    insight.retest(&document, season, &at(49.0));
    report(
        "retest list for a moved cutoff",
        measure(40, |run| {
            insight.retest(&document, season, &at(50.5 + run as f64))
        }),
        Some(16.0),
    );
    let query = |kernels: u16| BeforeQuery {
        ears: DesignEars {
            season,
            like: Some(test.id),
            with_untested: false,
        },
        plan: TrayPlan {
            kernels,
            ..test.plan.clone()
        },
        tell: [70.0, 85.0],
        beside: BeforeQuery::USUAL_PLANS.to_vec(),
    };
    insight.before(&document, &query(4));
    report(
        "before the test, for another plan",
        measure(30, |run| insight.before(&document, &query(5 + run as u16))),
        Some(16.0),
    );
    let sloping = Document::new(with_a_slope(project));
    report(
        "fit and estimates with slopes across trays",
        measure(9, |_| {
            let estimates = Insight::default().estimates(&sloping, season);
            assert!(!estimates.slopes.is_empty());
            estimates
        }),
        Some(100.0),
    );
    report(
        "soundness of a test, all trays finished",
        measure(3, |_| Insight::default().soundness(&document, test.id)),
        None,
    );
}

/// The same project with fewer germinated kernels in the first columns of all trays.
fn with_a_slope(project: &Project) -> Project {
    let mut document = Document::new(project.clone());
    let counts = project.cells.iter().filter_map(|cell| {
        let tally = project.count_in_force(cell.id, Pass::Final)?.tally;
        let lost = (5_u16.saturating_sub(cell.column) / 2).min(tally.strong);
        let tally = Tally {
            strong: tally.strong - lost,
            dead: tally.dead + lost,
            ..tally
        };
        Some(Seen::new(cell.id, Pass::Final, tally))
    });
    let (counts, on, by) = (counts.collect(), None, String::new());
    let record = Command::RecordCounts { counts, on, by };
    document.run(&record, &stamp()).unwrap();
    document.project().clone()
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
    let taken = todo_after_counts(&mut document, &counted_cells(project, 20));
    report("to do after a count of a finished tray", taken, None);
    // As while final counts are made: every tenth tray is finished but for one cell.
    let cells: Vec<CellId> = counted_cells(project, 40);
    let missing: Vec<Change> = cells
        .iter()
        .filter_map(|cell| project.count_in_force(*cell, Pass::Final))
        .map(Change::remove)
        .collect();
    let mut document = Document::new(project.clone());
    document
        .commit(Transaction::new("Leave out", missing), &stamp())
        .unwrap();
    let beside: Vec<CellId> = cells
        .iter()
        .map(|cell| {
            let tray = project.cells.get(*cell).unwrap().tray;
            let mut others = project.cells_of(tray).filter(|cell| cell.content.is_counted());
            others.find(|other| other.id != *cell).unwrap().id
        })
        .collect();
    let taken = todo_after_counts(&mut document, &beside);
    report("to do after a count", taken, Some(4.0));
}

/// So many cells with final counts, each in another tray as far as there are as many.
fn counted_cells(project: &Project, count: usize) -> Vec<CellId> {
    let trays: Vec<_> = project.trays.iter().map(|tray| tray.id).collect();
    let step = (trays.len() / count).max(1);
    let cells = trays.iter().step_by(step).take(count).filter_map(|tray| {
        let mut cells = project.cells_of(*tray).filter(|cell| cell.content.is_counted());
        cells.next_back().map(|cell| cell.id)
    });
    cells.collect()
}

/// What To do takes after a final count of each of these cells.
fn todo_after_counts(document: &mut Document, cells: &[CellId]) -> Vec<Duration> {
    let insight = Insight::default();
    insight.todo(document, stamp().at.date());
    let counts: Vec<(CellId, u16)> = cells
        .iter()
        .map(|cell| {
            let project = document.project();
            (*cell, project.sown(project.cells.get(*cell).unwrap()))
        })
        .collect();
    let taken = counts.iter().zip(0..).map(|((cell, sown), run)| {
        let strong = (run * 7 % 10).min(*sown);
        let tally = Tally {
            strong,
            dead: sown - strong,
            ..Tally::default()
        };
        let counts = vec![Seen::new(*cell, Pass::Final, tally)];
        let (on, by) = (None, String::new());
        let record = Command::RecordCounts { counts, on, by };
        document.run(&record, &stamp()).unwrap();
        let begin = Instant::now();
        black_box(insight.todo(document, stamp().at.date()));
        begin.elapsed()
    });
    taken.collect()
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

//! How fast kernels came up and how strong they grew: what is said of an ear, and what is not because the counts do not
//! tell it.
#![expect(clippy::unwrap_used, reason = "a test's helpers fail the test by panicking")]

mod common;

use egui::{Key, Modifiers, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use jiff::ToSpan as _;
use jiff::civil::{Date, date};
use wintercrib::demo;
use wintercrib::insight::{Insight, Speed, Speeds, Unsaid};
use wintercrib::model::{
    About, CellId, Command, Document, EarDraft, EarId, Existing, Pass, Project, Recipe, SeasonId, Seen,
    Stamp, Tally, TestDesign, TestId, TrayPlan,
};
use wintercrib::ui::app::App;

const LAID: Date = date(2026, 12, 1);
const SEASON: SeasonId = SeasonId(1);
const TEST: TestId = TestId(1);

fn run(document: &mut Document, command: &Command) {
    let stamp = Stamp {
        at: date(2026, 12, 1).at(10, 0, 0, 0),
        by: String::new(),
    };
    document.run(command, &stamp).unwrap();
}

/// Three ears in two cells each of 12 kernels, laid, with an early count on day 7 and a final one on day 21.
fn laid() -> Document {
    let mut document = Document::new(Project::new(About::new("Low Field", "low-field")));
    run(
        &mut document,
        &Command::AddSeason {
            year: 2026,
            planted: None,
        },
    );
    let drafts = (0..3).map(|_| EarDraft {
        row: Some("1".to_owned()),
        kernels: Some(100),
        ..EarDraft::default()
    });
    run(
        &mut document,
        &Command::AddEars {
            season: SEASON,
            drafts: drafts.collect(),
            existing: Existing::Refuse,
        },
    );
    run(
        &mut document,
        &Command::DesignTest(TestDesign {
            season: SEASON,
            replaces: None,
            name: "Cold test".to_owned(),
            plan: TrayPlan {
                kernels: 12,
                replicates: 2,
                ..TrayPlan::default()
            },
            recipe: Recipe {
                early_day: Some(7),
                final_day: 21,
                ..Recipe::default()
            },
            check_lot: String::new(),
            seed: 1,
            ears: None,
        }),
    );
    let trays = Vec::new();
    run(
        &mut document,
        &Command::LayTest {
            test: TEST,
            trays,
            on: LAID,
        },
    );
    document
}

fn cells(document: &Document, ear: u32) -> Vec<CellId> {
    let cells = document.project().cells_of_ear(EarId(ear));
    cells.map(|cell| cell.id).collect()
}

/// Kernels that are up, of 12.
fn up(cell: CellId, pass: Pass, up: u16) -> Seen {
    let tally = Tally {
        strong: up,
        fresh: 12 - up,
        ..Tally::default()
    };
    Seen::new(cell, pass, tally)
}

fn count(document: &mut Document, day: Option<i32>, counts: Vec<Seen>) {
    let on = day.map(|day| LAID + day.days());
    run(
        document,
        &Command::RecordCounts {
            counts,
            on,
            by: String::new(),
        },
    );
}

fn speed(document: &Document, ear: u32) -> Speed {
    let speeds = Insight::default().speeds(document, SEASON);
    speeds.of(EarId(ear)).unwrap().clone()
}

#[track_caller]
fn near(found: f64, wanted: f64, tolerance: f64) {
    assert!((found - wanted).abs() <= tolerance, "{found} is not {wanted}");
}

#[test]
fn four_counts_tell_times_and_a_curve() {
    // 12 kernels of which 1, 4, 3 and 2 more are up by days 7, 10, 14 and 21. Computed with scipy, as the other values
    // of tests/reference/speed.json: mean time 10.85 days by midpoints, half up on day 10.6667, curve b 4.8832,
    // e 10.47586, d 0.861255.
    let mut document = laid();
    let cell = cells(&document, 1)[0];
    for (day, pass, kernels) in [
        (7, Pass::Early, 1),
        (10, Pass::Between(10), 5),
        (14, Pass::Between(14), 8),
        (21, Pass::Final, 10),
    ] {
        count(&mut document, Some(day), vec![up(cell, pass, kernels)]);
    }
    let found = speed(&document, 1);
    let course = found.course.as_ref().unwrap();
    assert_eq!(course.up, [(7.0, 1), (10.0, 5), (14.0, 8), (21.0, 10)]);
    assert_eq!((course.kernels, course.cells, course.other_cells), (12, 1, 0));
    let measures = course.measures().unwrap();
    near(measures.mean_time_midpoint, 10.85, 1e-12);
    near(measures.mean_time, 13.1, 1e-12);
    near(
        measures.speed_index,
        1.0 / 7.0 + 0.4 + 3.0 / 14.0 + 2.0 / 21.0,
        1e-12,
    );
    let curve = course.curve().unwrap();
    near(curve.half_day, 10.475_863_7, 1e-5);
    near(curve.ceiling, 0.861_255_34, 1e-6);
    near(curve.shape, 4.883_206_3, 1e-5);
    let said = found.sentences(None);
    for part in [
        "1 of the 10 that came up were up by day 7: 10 % (95 %: 2 to 40 %).",
        "Half of them were up on day 10.7, by a straight line between day 10 and day 14",
        "Mean time to emerge 10.8 days",
        "half of those that ever come up are up on day 10.5 ±",
        "86 % of all come up in the end.",
    ] {
        assert!(said.iter().any(|one| one.contains(part)), "{part}: {said:#?}");
    }
}

#[test]
fn two_counts_tell_how_many_were_early_and_no_times() {
    let mut document = laid();
    let [a, b] = cells(&document, 1)[..] else { panic!() };
    count(
        &mut document,
        None,
        vec![up(a, Pass::Early, 4), up(b, Pass::Early, 6)],
    );
    count(
        &mut document,
        None,
        vec![up(a, Pass::Final, 8), up(b, Pass::Final, 12)],
    );
    let other = cells(&document, 2)[0];
    count(&mut document, None, vec![up(other, Pass::Early, 10)]);
    count(&mut document, None, vec![up(other, Pass::Final, 10)]);
    let insight = Insight::default();
    let speeds: &Speeds = &insight.speeds(&document, SEASON);
    // Days that are not noted are those of the recipe. Both cells together, and all ears together.
    let found = speeds.of(EarId(1)).unwrap();
    assert_eq!(found.course.as_ref().unwrap().up, [(7.0, 10), (21.0, 20)]);
    assert_eq!(found.early_percent(), Some(50.0));
    near(speeds.early_percent.unwrap(), 100.0 * 20.0 / 30.0, 1e-9);
    let said = found.sentences(speeds.early_percent);
    assert_eq!(
        said,
        [
            "10 of the 20 that came up were up by day 7: 50 % (95 %: 30 to 70 %). Of all ears it is 67 %.",
            "Half of them were up between day 7 and day 21.",
            "Times are not told: 2 counts bound them too loosely; 3 are needed.",
        ]
    );
    let all_early = speeds.of(EarId(2)).unwrap().sentences(None);
    assert_eq!(
        all_early[1],
        "Half of them were up by day 7 at the latest; when is not observed."
    );
}

#[test]
fn what_is_not_observed_says_why() {
    let mut document = laid();
    let speed_of = |document: &Document, ear| speed(document, ear).course.unwrap_err();
    assert_eq!(speed_of(&document, 1), Unsaid::NoFinalCount);
    let [a, b] = cells(&document, 1)[..] else { panic!() };
    count(&mut document, Some(21), vec![up(a, Pass::Final, 8)]);
    assert_eq!(speed_of(&document, 1), Unsaid::OneCount);
    // More were up early: a slip, so the cell says nothing; the other cell still does.
    count(&mut document, Some(7), vec![up(a, Pass::Early, 9)]);
    assert_eq!(speed_of(&document, 1), Unsaid::Falls);
    count(&mut document, Some(7), vec![up(b, Pass::Early, 3)]);
    count(&mut document, Some(21), vec![up(b, Pass::Final, 9)]);
    assert_eq!(speed(&document, 1).course.unwrap().up, [(7.0, 3), (21.0, 9)]);
    // A count before the day of laying.
    let c = cells(&document, 2)[0];
    count(&mut document, Some(0), vec![up(c, Pass::Early, 3)]);
    count(&mut document, Some(21), vec![up(c, Pass::Final, 9)]);
    assert_eq!(speed_of(&document, 2), Unsaid::NoDays);
    // Nothing came up.
    let d = cells(&document, 3)[0];
    count(&mut document, Some(7), vec![up(d, Pass::Early, 0)]);
    count(&mut document, Some(21), vec![up(d, Pass::Final, 0)]);
    let nothing = speed(&document, 3);
    assert_eq!(nothing.early_percent(), None);
    assert_eq!(
        nothing.sentences(None),
        ["None of its kernels came up, so speed is not observed."]
    );
}

#[test]
fn cells_counted_on_other_days_are_left_out_and_named() {
    let mut document = laid();
    let [a, b] = cells(&document, 1)[..] else { panic!() };
    count(&mut document, Some(7), vec![up(a, Pass::Early, 4)]);
    count(&mut document, Some(8), vec![up(b, Pass::Early, 4)]);
    count(
        &mut document,
        Some(21),
        vec![up(a, Pass::Final, 8), up(b, Pass::Final, 8)],
    );
    count(&mut document, Some(12), vec![up(b, Pass::Between(12), 6)]);
    let found = speed(&document, 1);
    let course = found.course.as_ref().unwrap();
    // The cell with more counts tells more.
    assert_eq!(course.up, [(8.0, 4), (12.0, 6), (21.0, 8)]);
    assert_eq!(course.other_cells, 1);
    assert!(
        found
            .sentences(None)
            .contains(&"Without 1 cell, counted on other days.".to_owned())
    );
}

#[test]
fn vigor_has_its_spread_and_lengths_give_the_index() {
    let mut document = laid();
    let [a, b] = cells(&document, 1)[..] else { panic!() };
    let grown = |cell, kernels, vigor, root, shoot| Seen {
        vigor: Some(vigor),
        root_mm: root,
        shoot_mm: shoot,
        ..up(cell, Pass::Final, kernels)
    };
    count(
        &mut document,
        Some(21),
        vec![grown(a, 9, 5, Some(60.0), Some(30.0))],
    );
    let one = speed(&document, 1);
    assert_eq!(one.vigor.unwrap().sentence(), "Vigor 5 in its one graded cell.");
    // 9 of 12 germinated, 90 mm long: 75 times 90.
    near(one.length.unwrap().vigor_index, 6750.0, 1e-9);
    count(
        &mut document,
        Some(21),
        vec![grown(b, 3, 8, Some(40.0), Some(10.0))],
    );
    let two = speed(&document, 1);
    let vigor = two.vigor.unwrap();
    assert_eq!((vigor.mean, vigor.least, vigor.most, vigor.cells), (6.5, 5, 8, 2));
    near(vigor.deviation.unwrap(), 4.5_f64.sqrt(), 1e-12);
    assert_eq!(
        vigor.sentence(),
        "Vigor 6.5 on average over 2 cells, from 5 to 8 (standard deviation 2.1)."
    );
    // 12 of 24 germinated; 9 seedlings of 90 mm and 3 of 50 mm are 80 mm on average.
    let length = two.length.unwrap();
    near(length.mm, 80.0, 1e-9);
    near(length.vigor_index, 4000.0, 1e-9);
    assert_eq!(
        length.sentence(),
        "Seedlings 80 mm long, root and shoot together (2 cells); vigor index 4000 (percent germinated times mm)."
    );
    // A shoot alone is no length.
    let c = cells(&document, 2)[0];
    count(&mut document, Some(21), vec![grown(c, 3, 8, None, Some(10.0))]);
    assert_eq!(speed(&document, 2).length, None);
}

// ---- in the window ---------------------------------------------------------------------------------------------

fn window(document: Document, theme: Theme) -> Harness<'static, App> {
    common::harness([1300.0, 850.0], theme)
        .build_eframe(move |_creation| App::in_memory(document, || date(2026, 2, 16).at(9, 0, 0, 0)))
}

#[test]
fn the_card_of_an_ear_shows_how_fast_it_came_up() {
    let document = Document::new(demo::make("essel-thaw").unwrap());
    let insight = Insight::default();
    let season = document.project().latest_season().unwrap().id;
    let speeds = insight.speeds(&document, season);
    let ear = document.project().ear_numbered(season, 9).unwrap().id;
    let said = speeds.of(ear).unwrap().sentences(speeds.early_percent);
    assert!(said.len() >= 3, "{said:?}");
    for theme in [Theme::Light, Theme::Dark] {
        let mut window = window(document.clone(), theme);
        window.run();
        window.key_press_modifiers(Modifiers::COMMAND, Key::F);
        window.run();
        window
            .get_by_role_and_label(
                Role::TextInput,
                "Ear number or code, packet place, row, or cell such as 3 B4",
            )
            .type_text("9");
        window.run();
        window.key_press(Key::Enter);
        window.run();
        window.get_by_label("Speed and vigor");
        for sentence in &said {
            window.get_by_label(sentence);
        }
        common::shot(&mut window, &format!("speed_card_{theme:?}"));
    }
}

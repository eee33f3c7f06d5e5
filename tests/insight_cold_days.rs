//! What temperature logs say of the trays of a test, against figures worked by hand.
#![expect(clippy::unwrap_used, reason = "helpers of tests fail by panicking")]

use jiff::civil::{Date, DateTime, date};
use jiff::{SignedDuration, ToSpan as _};
use proptest::prelude::*;
use wintercrib::insight::{ColdDays, ColdKind, CountDay, Gap, Insight, Temperatures, TrayDays, places};
use wintercrib::model::{
    About, CellId, Command, Document, EarDraft, EventId, EventKind, Existing, LogId, LogSpan, Pass, Place,
    Project, Recipe, SeasonId, Seen, Stamp, Tally, TemperatureLog, TemperatureUnit, TestDesign, TestId,
    TrayEvent, TrayId, TrayPlan, Units, WarmDays, read_trays, trays_typed,
};

const LAID: Date = date(2026, 2, 3);
const TEST: TestId = TestId(1);
const DAYS: i64 = 12;

struct Bench {
    doc: Document,
    insight: Insight,
}

impl Bench {
    /// Three trays with the ears of one season, laid on [`LAID`] and counted on day 12.
    fn laid(recipe: Recipe) -> Self {
        let mut bench = Self::designed(recipe);
        bench.lay(&[], LAID);
        bench
    }

    fn designed(recipe: Recipe) -> Self {
        let about = About {
            units: Units {
                temperature: TemperatureUnit::Celsius,
                ..Units::default()
            },
            ..About::new("Little Tarn", "little-tarn")
        };
        let mut bench = Self {
            doc: Document::new(Project::new(about)),
            insight: Insight::default(),
        };
        bench.run(&Command::AddSeason {
            year: 2025,
            planted: None,
        });
        let ear = EarDraft {
            kernels: Some(60),
            ..EarDraft::default()
        };
        bench.run(&Command::AddEars {
            season: SeasonId(1),
            drafts: vec![ear; 84],
            existing: Existing::Refuse,
        });
        bench.run(&Command::DesignTest(TestDesign {
            season: SeasonId(1),
            replaces: None,
            name: "Cold".to_owned(),
            plan: TrayPlan::default(),
            recipe,
            check_lot: "Check".to_owned(),
            seed: 1,
            ears: None,
        }));
        assert_eq!(bench.doc.project().trays_of(TEST).count(), 3);
        bench
    }

    fn run(&mut self, command: &Command) {
        let stamp = Stamp {
            at: LAID.at(18, 0, 0, 0),
            by: String::new(),
        };
        if let Err(problem) = self.doc.run(command, &stamp) {
            panic!("{problem}: {command:?}");
        }
    }

    fn lay(&mut self, trays: &[u16], on: Date) {
        let trays = trays.iter().map(|number| self.tray(*number)).collect();
        self.run(&Command::LayTest {
            test: TEST,
            trays,
            on,
        });
    }

    fn tray(&self, number: u16) -> TrayId {
        let mut trays = self.doc.project().trays_of(TEST);
        trays.find(|tray| tray.number == number).unwrap().id
    }

    /// Adds a log with these readings: hours after the evening of laying, and °C.
    fn log(&mut self, readings: &[(f64, f64)], spans: Vec<LogSpan>) {
        let begin = readings[0].0;
        let minutes = |hour: f64| ((hour - begin) * 60.0).round() as u32;
        let number = self.doc.project().logs.len() + 1;
        self.run(&Command::AddLog(TemperatureLog {
            id: LogId(0),
            test: TEST,
            name: format!("logger {number}"),
            start: evening(begin),
            readings: readings.iter().map(|(hour, c)| (minutes(*hour), *c)).collect(),
            spans,
        }));
    }

    /// A reading an hour.
    fn steady(&mut self, hours: std::ops::RangeInclusive<i32>, celsius: f64, spans: Vec<LogSpan>) {
        let readings: Vec<(f64, f64)> = hours.map(|hour| (f64::from(hour), celsius)).collect();
        self.log(&readings, spans);
    }

    fn count(&mut self, number: u16, pass: Pass, on: Date) {
        let cells = self.doc.project().cells_of(self.tray(number));
        let counted: Vec<CellId> = cells
            .filter(|cell| cell.content.is_counted())
            .map(|cell| cell.id)
            .collect();
        let tally = Tally {
            strong: 7,
            dead: 3,
            ..Tally::default()
        };
        self.run(&Command::RecordCounts {
            counts: counted
                .into_iter()
                .map(|cell| Seen::new(cell, pass, tally))
                .collect(),
            on: Some(on),
            by: String::new(),
        });
    }

    fn days(&self) -> std::sync::Arc<ColdDays> {
        self.insight.cold_days(&self.doc, TEST)
    }

    fn of(&self, number: u16) -> TrayDays {
        let days = self.days();
        days.figures
            .trays
            .iter()
            .find(|tray| tray.number == number)
            .unwrap()
            .clone()
    }

    fn figures(&self, number: u16) -> Temperatures {
        self.of(number).figures.unwrap()
    }

    fn sentences(&self, kind: ColdKind) -> Vec<String> {
        let days = self.days();
        let of_kind = days.findings.iter().filter(|one| one.kind == kind);
        of_kind.map(|one| one.sentence.clone()).collect()
    }
}

/// So many hours after the evening of laying.
fn evening(hours: f64) -> DateTime {
    LAID.at(18, 0, 0, 0) + SignedDuration::from_mins((hours * 60.0).round() as i64)
}

fn all_trays() -> Vec<LogSpan> {
    vec![LogSpan::default()]
}

fn of_trays(trays: &[TrayId]) -> Vec<LogSpan> {
    vec![LogSpan {
        trays: trays.to_vec(),
        ..LogSpan::default()
    }]
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-6
}

/// Worked by hand: 12 days at 13 °C are 288 hours and 3 degrees over 10 for 12 days, 36; at 10.8 °C they are 0.8 for 12
/// days, 9.6, all of it below 11.5 °C. The other two trays have 13 °C, so that is 2.2 below them.
#[test]
fn a_tray_on_the_floor_is_colder_and_gathers_less_heat() {
    let mut bench = Bench::laid(Recipe::default());
    bench.steady(-5..=300, 13.0, all_trays());
    let floor = bench.tray(2);
    bench.steady(-5..=300, 10.8, of_trays(&[floor]));
    let shelf = bench.figures(1);
    assert!(close(shelf.known_hours, 288.0) && close(shelf.in_band_hours, 288.0));
    assert!(close(shelf.mean_c, 13.0) && close(shelf.heat_c_days, 36.0));
    assert!(close(shelf.in_band_percent(), 100.0));
    let cold = bench.figures(2);
    assert!(close(cold.below_hours, 288.0) && close(cold.outside_hours(), 288.0));
    assert!(close(cold.mean_c, 10.8) && close(cold.heat_c_days, 9.6));
    assert_eq!(bench.of(2).logs, [LogId(2)]);
    assert!(close(bench.of(2).above_others_c.unwrap(), -2.2));
    // Trays 1 and 3 are above the mean of the others only because of tray 2.
    assert!(close(bench.of(1).above_others_c.unwrap(), 1.1) && !bench.of(1).is_apart && bench.of(2).is_apart);
    assert_eq!(bench.of(1).gaps, []);
    assert_eq!(
        bench.sentences(ColdKind::Apart),
        ["Tray 2 stood at 10.8 °C, 2.2 °C below the others."]
    );
    assert_eq!(
        bench.sentences(ColdKind::Outside),
        ["Tray 2 was outside of 11.5 to 14.5 °C: 288 below and 0 above of 288 known hours."]
    );
    let days = bench.days();
    let lines: Vec<&str> = days
        .figures
        .lines
        .iter()
        .map(|line| line.trays.as_str())
        .collect();
    assert_eq!(lines, ["all trays", "tray 2"]);
}

/// Worked by hand: two days of tray 2 at 10.8 °C between ten at 13 °C: 2 x 0.8 + 10 x 3 = 31.6.
#[test]
fn a_log_stands_for_a_tray_from_one_time_to_another() {
    let mut bench = Bench::laid(Recipe::default());
    bench.steady(0..=288, 13.0, all_trays());
    let moved = vec![LogSpan {
        trays: vec![bench.tray(2)],
        from: Some(evening(48.0)),
        to: Some(evening(96.0)),
    }];
    bench.steady(0..=288, 10.8, moved);
    let figures = bench.figures(2);
    assert!(close(figures.known_hours, 288.0) && close(figures.below_hours, 48.0));
    assert!(close(figures.heat_c_days, 31.6));
    assert!(close(figures.mean_c, (10.0 * 13.0 + 2.0 * 10.8) / 12.0));
    assert!(close(bench.figures(1).heat_c_days, 36.0));
    assert_eq!(bench.of(2).gaps, []);
}

/// A logger that lies in a tray goes before one for all trays even where it has a gap: the other one does not know.
#[test]
fn a_gap_of_the_tray_s_own_log_is_not_filled_by_that_of_all_trays() {
    let mut bench = Bench::laid(Recipe::default());
    bench.steady(0..=288, 13.0, all_trays());
    let readings: Vec<(f64, f64)> = (0..=288)
        .filter(|hour| !(100..=106).contains(hour))
        .map(|hour| (f64::from(hour), 12.0))
        .collect();
    let tray = bench.tray(3);
    bench.log(&readings, of_trays(&[tray]));
    // From 99 to 107 hours nothing is known.
    let gap = Gap {
        from: evening(99.0),
        to: evening(107.0),
    };
    assert_eq!(bench.of(3).gaps, [gap]);
    assert!(close(bench.figures(3).known_hours, 280.0));
    assert_eq!(bench.of(1).gaps, []);
    assert_eq!(
        bench.sentences(ColdKind::Gaps),
        ["Tray 3: no temperature is known from 2026-02-07 21:00 to 2026-02-08 05:00 (8 hours)."]
    );
}

/// Worked by hand: the tray's own log runs from 6 to 150 hours after the evening: 144 hours. Where its end is typed, the
/// log of all trays tells of the 138 hours from there to 288 too; where its beginning is, of the first 6.
#[test]
fn a_log_of_all_trays_fills_in_beside_a_tray_s_own_only_where_a_time_is_typed() {
    let mut bench = Bench::laid(Recipe::default());
    bench.steady(-5..=300, 13.0, all_trays());
    let own = bench.tray(2);
    bench.steady(6..=150, 10.8, of_trays(&[own]));
    bench.count(2, Pass::Final, LAID + DAYS.days());
    let figures = bench.figures(2);
    assert!(
        close(figures.known_hours, 144.0) && close(figures.highest_c, 10.8),
        "{figures:?}"
    );
    // The last count was made in the evening of day 12, of which only the days before it need be covered.
    let gap = Gap {
        from: evening(150.0),
        to: (LAID + DAYS.days()).at(0, 0, 0, 0),
    };
    assert_eq!(bench.of(2).gaps, [gap]);
    let remedy = |bench: &Bench| {
        let days = bench.days();
        let gaps = days.findings.iter().find(|one| one.kind == ColdKind::Gaps);
        gaps.map(|one| one.remedy.clone())
    };
    let said = remedy(&bench).unwrap();
    assert!(
        said.ends_with("The log logger 1 has readings then: where it may stand in, edit the log logger 2 and type from when to when that one stood for the tray."),
        "{said}"
    );
    let log = bench.doc.project().logs.get(LogId(2)).unwrap().clone();
    for (from, to, known) in [
        (None, Some(evening(150.0)), 144.0 + 138.0),
        (Some(evening(6.0)), None, 6.0 + 144.0),
        (Some(evening(6.0)), Some(evening(150.0)), 288.0),
    ] {
        let span = LogSpan {
            trays: vec![own],
            from,
            to,
        };
        bench.run(&Command::EditLog(TemperatureLog {
            spans: vec![span],
            ..log.clone()
        }));
        assert!(close(bench.figures(2).known_hours, known), "{from:?} {to:?}");
    }
    assert_eq!(bench.of(2).gaps, []);
    assert!(close(bench.figures(1).known_hours, 288.0));
}

/// A logger that is read out twice gives two logs of the same trays: neither keeps the other out.
#[test]
fn logs_of_as_many_trays_follow_each_other_and_are_named_where_they_overlap() {
    let mut bench = Bench::laid(Recipe::default());
    bench.steady(0..=140, 13.0, all_trays());
    bench.steady(141..=288, 13.0, all_trays());
    // The hour between the two is told by neither.
    assert!(close(bench.figures(1).known_hours, 287.0));
    assert_eq!(bench.of(1).gaps, []);
    assert_eq!(bench.sentences(ColdKind::Twice), Vec::<String>::new());
    let two = [bench.tray(2), bench.tray(3)];
    bench.steady(100..=120, 11.0, of_trays(&two[..1]));
    assert_eq!(bench.sentences(ColdKind::Twice), Vec::<String>::new());
    bench.steady(110..=130, 12.0, of_trays(&two[..1]));
    assert_eq!(
        bench.sentences(ColdKind::Twice),
        [
            "The logs logger 3 and logger 4 stand for tray 2 at the same time, and where both have readings only those of logger 3 count."
        ]
    );
}

#[test]
fn a_log_is_looked_at_before_it_is_taken() {
    let mut bench = Bench::laid(Recipe::default());
    bench.steady(0..=288, 13.0, all_trays());
    let floor = bench.tray(2);
    let log = |from: f64, hours: u32, spans: Vec<LogSpan>| TemperatureLog {
        id: LogId(0),
        test: TEST,
        name: "floor".to_owned(),
        start: evening(from),
        readings: (0..=hours).map(|hour| (60 * hour, 10.8)).collect(),
        spans,
    };
    let look = |bench: &Bench, log: &TemperatureLog| bench.insight.log_look(&bench.doc, log);
    let before = *bench.doc.revisions();
    let found = look(&bench, &log(24.0, 48, of_trays(&[floor])));
    assert_eq!(*bench.doc.revisions(), before);
    assert_eq!(
        found.facts,
        [
            "49 readings from 2026-02-04 18:00 to 2026-02-06 18:00, one every 60 minutes: 10.8 °C.",
            "The days of tray 2 run from the evening of 2026-02-03 to that of 2026-02-15.",
            "It tells 48 of 288 hours of tray 2.",
            "For tray 2 it goes before the log logger 1, as it stands for fewer trays.",
        ]
    );
    assert_eq!(found.warnings, Vec::<String>::new());
    assert_eq!((found.figures.lines.len(), found.figures.stages.len()), (1, 1));
    // A year early, as a clock that was never set.
    let early = look(&bench, &log(-9000.0, 48, all_trays()));
    assert!(
        early.warnings[0].starts_with("No reading lies in these days."),
        "{early:?}"
    );
    let none = look(&bench, &log(0.0, 48, Vec::new()));
    assert!(none.warnings[0].starts_with("It stands for no tray"), "{none:?}");
    let twin = look(&bench, &log(0.0, 48, all_trays()));
    assert!(
        twin.warnings
            .iter()
            .any(|one| one.contains("logger 1 counts, as it was added first")),
        "{twin:?}"
    );
    let late = LogSpan {
        trays: vec![floor],
        from: Some(evening(100.0)),
        to: None,
    };
    let late = look(&bench, &log(0.0, 48, vec![late]));
    assert!(
        late.warnings
            .contains(&"It stands for tray 2 from 2026-02-07 22:00, but has no reading then.".to_owned()),
        "{late:?}"
    );
    // A log of the project is looked at in place of itself.
    let own = bench.doc.project().logs.get(LogId(1)).unwrap().clone();
    assert_eq!(look(&bench, &own).warnings, Vec::<String>::new());
    // Before anything is laid, and one reading only.
    let unlaid = Bench::designed(Recipe::default());
    let one = TemperatureLog {
        readings: vec![(0, 13.0)],
        ..log(0.0, 0, all_trays())
    };
    let found = look(&unlaid, &one);
    assert_eq!(found.facts[0], "1 reading on 2026-02-03 18:00: 13 °C.");
    assert!(found.facts[1].starts_with("None of its trays is laid yet"));
}

#[test]
fn the_places_of_moves_tell_for_which_trays_a_logger_there_stands() {
    let mut bench = Bench::laid(Recipe::default());
    let trays = [1, 2, 3].map(|number| bench.tray(number));
    let mut moved = |hours: f64, trays: &[TrayId], to: &str| {
        bench.run(&Command::AddEvent(TrayEvent {
            id: EventId(0),
            test: TEST,
            trays: trays.to_vec(),
            at: evening(hours),
            kind: EventKind::Moved { to: to.to_owned() },
            note: String::new(),
        }));
    };
    moved(50.0, &trays[1..2], "the floor ");
    moved(10.0, &trays[..2], "the floor");
    moved(20.0, &trays[..1], "");
    moved(90.0, &[], "the cellar");
    let span = |trays: &[TrayId], from: f64, to: Option<f64>| LogSpan {
        trays: trays.to_vec(),
        from: Some(evening(from)),
        to: to.map(evening),
    };
    assert_eq!(
        places(bench.doc.project(), TEST),
        [
            ("the cellar".to_owned(), vec![span(&trays, 90.0, None)]),
            (
                "the floor".to_owned(),
                vec![
                    span(&trays[..1], 10.0, Some(20.0)),
                    span(&trays[1..2], 10.0, Some(50.0)),
                    span(&trays[1..2], 50.0, Some(90.0)),
                ]
            ),
        ]
    );
}

#[test]
fn numbers_of_trays_are_read_as_they_are_written_and_must_be_there() {
    let bench = Bench::designed(Recipe::default());
    let project = bench.doc.project();
    let tray = |number: u16| bench.tray(number);
    let read = |text: &str| read_trays(project, TEST, text);
    for (text, trays, written) in [
        ("", vec![], ""),
        (" All ", vec![], ""),
        ("2", vec![tray(2)], "2"),
        ("3, 1-2", vec![tray(3), tray(1), tray(2)], "1-3"),
        ("1;3", vec![tray(1), tray(3)], "1, 3"),
        ("1–2 2", vec![tray(1), tray(2)], "1-2"),
    ] {
        let found = read(text).unwrap();
        assert_eq!(found, trays, "{text}");
        assert_eq!(trays_typed(project, &found), written);
    }
    for (text, part) in [
        ("4", "no tray 4; it has 3 trays"),
        ("1-9", "no tray 9"),
        ("0-2", "no tray 0"),
        ("3-1", "type 1-3"),
        ("one", "'one' is not a tray"),
    ] {
        let said = read(text).expect_err(text).to_string();
        assert!(said.contains(part), "{text}: {said}");
    }
}

#[test]
fn three_hours_are_no_gap_and_the_days_of_laying_and_counting_need_not_be_covered() {
    let mut bench = Bench::laid(Recipe::default());
    for number in 1..=3 {
        bench.count(number, Pass::Final, LAID + DAYS.days());
    }
    // From the midnight after laying to the one before the final count, with steps of three hours.
    let readings: Vec<(f64, f64)> = (0..=88).map(|step| (6.0 + 3.0 * f64::from(step), 13.0)).collect();
    assert_eq!(evening(readings[0].0).to_string(), "2026-02-04T00:00:00");
    bench.log(&readings, all_trays());
    assert_eq!(bench.of(1).gaps, []);
    assert!(close(bench.figures(1).known_hours, 264.0));
    // Without the last day there is a gap, and without the first.
    let mut late = Bench::laid(Recipe::default());
    for number in 1..=3 {
        late.count(number, Pass::Final, LAID + DAYS.days());
    }
    late.log(&readings[8..80], all_trays());
    let gaps = late.of(1).gaps;
    assert_eq!(gaps.len(), 2);
    assert!(
        close(gaps[0].hours(), 24.0) && close(gaps[1].hours(), 27.0),
        "{gaps:?}"
    );
    assert_eq!(
        late.sentences(ColdKind::Gaps),
        [
            "Trays 1 to 3: no temperature is known from 2026-02-13 21:00 to 2026-02-15 00:00 (27 hours). This is the longest of 2 gaps."
        ]
    );
}

#[test]
fn what_a_logger_has_not_yet_recorded_is_no_gap_while_the_test_runs() {
    let mut bench = Bench::laid(Recipe::default());
    bench.steady(0..=100, 13.0, all_trays());
    assert_eq!(bench.of(1).gaps, []);
    assert!(close(bench.figures(1).known_hours, 100.0));
    bench.count(1, Pass::Final, LAID + DAYS.days());
    assert_eq!(bench.of(1).gaps.len(), 1);
    assert_eq!(bench.of(2).gaps, []);
}

/// Worked by hand: from day 7 on at 25 °C. The five days from the evening of day 7 give 15 degrees over 10 each; the
/// day of the move counts as neither cold nor warm.
#[test]
fn the_warm_days_have_a_band_of_their_own() {
    let recipe = Recipe {
        warm: Some(WarmDays { c: 25.0, from_day: 7 }),
        ..Recipe::default()
    };
    let mut bench = Bench::laid(recipe);
    let readings: Vec<(f64, f64)> = (0..=288)
        .map(|hour| (f64::from(hour), if hour < 168 { 13.0 } else { 25.0 }))
        .collect();
    bench.log(&readings, all_trays());
    let figures = bench.figures(1);
    assert!(close(figures.in_band_hours, 288.0), "{figures:?}");
    assert!(close(figures.cold_mean_c.unwrap(), 13.0));
    // Seven days less the last hour at 3, the hour of the rise at 9, five days at 15.
    assert!(close(
        figures.heat_c_days,
        (167.0 * 3.0 + 9.0 + 120.0 * 15.0) / 24.0
    ));
    let stages = &bench.days().figures.stages;
    let bands: Vec<(f64, f64)> = stages.iter().map(|stage| (stage.low_c, stage.high_c)).collect();
    assert_eq!(bands, [(11.5, 14.5), (11.5, 26.5), (23.5, 26.5)]);
    assert!(close(stages[1].from_day, 7.0) && close(stages[1].to_day, 8.0));
    // Kept cold for longer than the recipe says.
    let mut forgotten = Bench::laid(Recipe {
        warm: Some(WarmDays { c: 25.0, from_day: 7 }),
        band_c: Some(2.0),
        ..Recipe::default()
    });
    forgotten.steady(0..=288, 13.0, all_trays());
    assert!(close(forgotten.figures(1).below_hours, 4.0 * 24.0 + 18.0));
    let said = forgotten.sentences(ColdKind::Outside);
    assert!(
        said[0].starts_with("Trays 1 to 3 were outside of 11 to 15 °C, later 23 to 27 °C"),
        "{said:?}"
    );
}

/// Worked by hand: a tray laid a day later begins a day later.
#[test]
fn each_tray_has_its_own_evening() {
    let mut bench = Bench::designed(Recipe::default());
    bench.lay(&[1, 2], LAID);
    bench.lay(&[3], LAID.tomorrow().unwrap());
    // A degree warmer each day: 10 at the first evening, 22 at the twelfth.
    let readings: Vec<(f64, f64)> = (0..=312)
        .map(|hour| (f64::from(hour), 10.0 + f64::from(hour) / 24.0))
        .collect();
    bench.log(&readings, all_trays());
    assert!(close(bench.figures(1).mean_c, 16.0) && close(bench.figures(1).heat_c_days, 72.0));
    assert!(close(bench.figures(3).mean_c, 17.0) && close(bench.figures(3).heat_c_days, 84.0));
    assert_eq!(bench.of(3).laid_on, Some(LAID.tomorrow().unwrap()));
}

#[test]
fn without_logs_without_laying_and_without_trays_nothing_is_claimed() {
    let mut bench = Bench::designed(Recipe::default());
    assert!(
        bench
            .days()
            .figures
            .trays
            .iter()
            .all(|tray| tray.figures.is_none() && tray.gaps.is_empty())
    );
    bench.steady(0..=48, 13.0, all_trays());
    assert!(
        bench
            .days()
            .figures
            .trays
            .iter()
            .all(|tray| tray.figures.is_none())
    );
    assert_eq!(bench.days().figures.lines.len(), 1);
    assert_eq!(bench.days().findings, []);
    let mut laid = Bench::laid(Recipe::default());
    assert_eq!(laid.days().findings, []);
    assert!(laid.of(1).figures.is_none() && laid.of(1).gaps.is_empty());
    laid.steady(0..=48, 13.0, Vec::new());
    assert_eq!(laid.days().figures.lines[0].trays, "no tray yet");
    assert!(laid.of(1).figures.is_none());
    let none = laid.insight.cold_days(&laid.doc, TestId(99));
    assert_eq!((none.figures.trays.len(), none.findings.len()), (0, 0));
}

/// By the definition of the scales 2.2 °C are 3.96 °F.
#[test]
fn sentences_have_the_grower_s_unit() {
    let mut bench = Bench::laid(Recipe::default());
    let about = About {
        units: Units::default(),
        ..bench.doc.project().about.clone()
    };
    bench.run(&Command::Describe(about));
    bench.steady(0..=288, 13.0, all_trays());
    let floor = bench.tray(2);
    bench.steady(0..=288, 10.8, of_trays(&[floor]));
    assert!(
        bench.sentences(ColdKind::Apart)[0].starts_with("Tray 2 stood at 51.4 °F, 4 °F below the others")
    );
    assert!(bench.sentences(ColdKind::Outside)[0].starts_with("Tray 2 was outside of 52.7 to 58.1 °F"));
}

#[test]
fn a_logger_that_lay_elsewhere_is_noticed() {
    let mut bench = Bench::laid(Recipe::default());
    let mut readings: Vec<(f64, f64)> = (0..=288).map(|hour| (f64::from(hour), 13.0)).collect();
    readings[40].1 = 52.0;
    bench.log(&readings, all_trays());
    assert_eq!(
        bench.sentences(ColdKind::Unlikely),
        ["The log logger 1 has 1 reading beyond -5 to 45 °C, the first 52 °C on 2026-02-05 10:00."]
    );
}

#[test]
fn what_the_logs_ask_for_is_in_to_do_until_the_list_is_frozen() {
    let mut bench = Bench::laid(Recipe::default());
    bench.steady(0..=288, 10.0, all_trays());
    let todo = bench.insight.todo(&bench.doc, LAID);
    let outside: Vec<_> = todo
        .iter()
        .filter(|one| one.sentence.contains("outside of 11.5 to 14.5 °C"))
        .collect();
    assert_eq!(outside.len(), 1, "{todo:#?}");
    assert_eq!(outside[0].place, Place::Log(LogId(1)));
    assert!(
        outside[0]
            .sentence
            .ends_with("Look at the thermostat and at the place of the trays.")
    );
}

#[test]
fn counts_and_what_was_noted_stand_in_the_order_of_time() {
    let mut bench = Bench::laid(Recipe::default());
    bench.count(1, Pass::Early, LAID + 6.days());
    bench.count(1, Pass::Final, LAID + DAYS.days());
    let note = |hours: f64, trays: Vec<TrayId>, kind: EventKind, note: &str| {
        Command::AddEvent(TrayEvent {
            id: EventId(0),
            test: TEST,
            trays,
            at: evening(hours),
            kind,
            note: note.to_owned(),
        })
    };
    let second = bench.tray(2);
    bench.run(&note(
        72.0,
        vec![second],
        EventKind::Moved {
            to: "the floor".to_owned(),
        },
        "no room",
    ));
    bench.run(&note(48.0, Vec::new(), EventKind::Watered { ml: Some(40.0) }, ""));
    let days = bench.days();
    let said: Vec<(&str, &str)> = days
        .events
        .iter()
        .map(|event| (event.trays.as_str(), event.what.as_str()))
        .collect();
    assert_eq!(
        said,
        [
            ("All trays", "watered, 40 ml each"),
            ("Tray 2", "moved to the floor: no room")
        ]
    );
    let cells = 30;
    assert_eq!(
        days.counts,
        [
            CountDay {
                on: LAID + 6.days(),
                pass: Pass::Early,
                cells
            },
            CountDay {
                on: LAID + DAYS.days(),
                pass: Pass::Final,
                cells
            }
        ]
    );
    assert!(close(days.figures.day_of(evening(48.0)).unwrap(), 2.75));
}

#[test]
fn a_long_log_is_thinned_for_the_picture_and_keeps_its_extremes() {
    let mut bench = Bench::laid(Recipe::default());
    let mut readings: Vec<(f64, f64)> = (0..17_280)
        .map(|minute| (f64::from(minute) / 60.0, 13.0))
        .collect();
    readings[9_001].1 = 19.0;
    readings[12_345].1 = 8.0;
    bench.log(&readings, all_trays());
    let days = bench.days();
    let pieces = &days.figures.lines[0].pieces;
    assert_eq!(pieces.len(), 1);
    assert!(pieces[0].len() <= 4000);
    let values = || pieces[0].iter().map(|point| point[1]);
    assert!(close(values().fold(0.0, f64::max), 19.0) && close(values().fold(99.0, f64::min), 8.0));
    assert!(pieces[0].windows(2).all(|pair| pair[0][0] <= pair[1][0]));
}

/// A reading every five minutes for a year, which is thinned to stretches of hours: that makes no gaps, and the days of
/// the test are thinned apart from the rest of the year.
#[test]
fn a_year_of_readings_is_one_line_that_is_fine_in_the_days_of_the_test() {
    let mut bench = Bench::laid(Recipe::default());
    let mut readings: Vec<(f64, f64)> = (0..100_000).map(|at| (f64::from(at) / 12.0, 13.0)).collect();
    readings[1_025].1 = 15.5;
    readings[90_000].1 = 3.0;
    bench.log(&readings, all_trays());
    let days = bench.days();
    let line = &days.figures.lines[0];
    assert_eq!((line.pieces.len(), line.readings), (1, 100_000));
    assert!(close(line.lowest_c, 3.0) && close(line.highest_c, 15.5));
    let points = &line.pieces[0];
    assert!(points.len() <= 8_100, "{}", points.len());
    assert!(points.windows(2).all(|pair| pair[0][0] <= pair[1][0]));
    assert!(points.iter().any(|point| close(point[1], 3.0)));
    // At 13 °C before and behind it, the peak is over within a quarter of an hour.
    let peak = evening(1_025.0 / 12.0);
    let at = |minutes: i64| {
        line.at(days
            .figures
            .day_of(peak + SignedDuration::from_mins(minutes))
            .unwrap())
    };
    assert!(close(at(0).unwrap(), 15.5));
    assert!(
        close(at(-20).unwrap(), 13.0) && close(at(20).unwrap(), 13.0),
        "{:?}",
        (at(-20), at(20))
    );
    assert_eq!(at(-60 * 24 * 30), None);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]
    #[test]
    fn hours_add_up_whatever_the_logs(
        logs in proptest::collection::vec(
            (-30_i32..200, proptest::collection::vec((1_u32..500, -20.0..40.0_f64), 1..40), 0..3_usize, proptest::option::of((0.0..150.0_f64, 0.0..150.0_f64))),
            1..4),
        warm in any::<bool>(),
    ) {
        let recipe = Recipe { warm: warm.then_some(WarmDays { c: 25.0, from_day: 7 }), ..Recipe::default() };
        let mut bench = Bench::laid(recipe);
        for (start, steps, trays, during) in logs {
            let mut hour = f64::from(start);
            let readings: Vec<(f64, f64)> = steps.iter().map(|(step, c)| { hour += f64::from(*step) / 60.0; (hour, *c) }).collect();
            let trays = (0..trays as u16).map(|number| bench.tray(number + 1)).collect();
            let span = LogSpan {
                trays,
                from: during.map(|(from, _)| evening(from)),
                to: during.map(|(from, length)| evening(from + length)),
            };
            bench.log(&readings, vec![span]);
        }
        for tray in &bench.days().figures.trays {
            let Some(figures) = tray.figures else { continue };
            prop_assert!((figures.in_band_hours + figures.outside_hours() - figures.known_hours).abs() < 1e-6);
            prop_assert!(figures.known_hours <= 288.0 + 1e-6);
            prop_assert!(figures.lowest_c <= figures.mean_c + 1e-9 && figures.mean_c <= figures.highest_c + 1e-9);
            prop_assert!(figures.heat_c_days >= 0.0 && figures.heat_c_days <= 20.0 * 12.0);
            let gaps: f64 = tray.gaps.iter().map(|gap| gap.hours()).sum();
            prop_assert!(gaps + figures.known_hours <= 288.0 + 1e-6, "{tray:?}");
            prop_assert!(tray.gaps.windows(2).all(|pair| pair[0].to < pair[1].from));
        }
    }
}

//! The days of a test: as a view, in To do, as an iCalendar file, and in the window.
#![expect(clippy::unwrap_used, reason = "a test's helpers fail the test by panicking")]

mod common;
mod tray_sample;

use common::{fill, says};
use std::collections::BTreeMap;
use std::io::Write as _;
use std::process::{Command as Process, Stdio};

use egui::{Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use jiff::civil::{Date, date};
use jiff::{Span, Timestamp};
use tray_sample::{LOOKS, harvest, now, stamp, window};
use wintercrib::exchange::calendar_ics::calendar_ics;
use wintercrib::insight::{CalendarItem, Chore, DayStanding, Insight, Pane, Urgency};
use wintercrib::model::{
    CellId, Command, Document, EarDraft, EventId, EventKind, Existing, Pass, Place, Recipe, SeasonId, Seen,
    Tally, TestDesign, TestId, TrayEvent, TrayId, TrayPlan, WarmDays,
};
use wintercrib::ui::app::App;

/// The evening of laying: a Tuesday.
const LAID: Date = date(2026, 12, 1);

fn run(document: &mut Document, command: &Command) {
    document.run(command, &stamp()).unwrap();
}

/// Water every second day, early count on day 6, warm from day 7, final count on day 12.
fn recipe() -> Recipe {
    Recipe {
        cold_c: 13.0,
        early_day: Some(6),
        final_day: 12,
        warm: Some(WarmDays { c: 25.0, from_day: 7 }),
        water_every: Some(2),
        ..Recipe::default()
    }
}

/// 100 ears in 4 trays, designed and not laid.
fn designed() -> Document {
    let mut document = harvest(100);
    run(
        &mut document,
        &Command::DesignTest(TestDesign {
            season: SeasonId(1),
            replaces: None,
            name: "Cold".to_owned(),
            plan: TrayPlan::default(),
            recipe: recipe(),
            check_lot: String::new(),
            seed: 7,
            ears: None,
        }),
    );
    assert_eq!(document.project().trays.len(), 4);
    document
}

fn lay(document: &mut Document, trays: &[u32], on: Date) {
    run(
        document,
        &Command::LayTest {
            test: TestId(1),
            trays: trays.iter().map(|tray| TrayId(*tray)).collect(),
            on,
        },
    );
}

/// All trays on one evening.
fn laid() -> Document {
    let mut document = designed();
    lay(&mut document, &[], LAID);
    document
}

/// Trays 1 and 2 on the first evening, tray 3 and 4 two days later.
fn laid_twice() -> Document {
    let mut document = designed();
    lay(&mut document, &[1, 2], LAID);
    lay(&mut document, &[3, 4], day(2));
    document
}

fn day(number: i64) -> Date {
    LAID.checked_add(Span::new().days(number)).unwrap()
}

fn items(document: &Document) -> Vec<CalendarItem> {
    Insight::default().calendar(document, TestId(1)).items.clone()
}

fn item(document: &Document, key: &str) -> CalendarItem {
    let found = items(document).into_iter().find(|item| item.key == key);
    found.unwrap_or_else(|| panic!("no item {key} in {:#?}", items(document)))
}

fn cells_of(document: &Document, trays: &[u32]) -> Vec<CellId> {
    let project = document.project();
    let cells = trays.iter().flat_map(|tray| project.cells_of(TrayId(*tray)));
    cells
        .filter(|cell| cell.content.is_counted())
        .map(|cell| cell.id)
        .collect()
}

fn count(document: &mut Document, cells: &[CellId], pass: Pass) {
    let tally = Tally {
        strong: 10,
        ..Tally::default()
    };
    let counts = cells.iter().map(|cell| Seen::new(*cell, pass, tally)).collect();
    run(
        document,
        &Command::RecordCounts {
            counts,
            on: None,
            by: String::new(),
        },
    );
}

fn note(document: &mut Document, kind: EventKind, trays: &[u32], on: Date, note: &str) {
    run(
        document,
        &Command::AddEvent(TrayEvent {
            id: EventId(0),
            test: TestId(1),
            trays: trays.iter().map(|tray| TrayId(*tray)).collect(),
            at: on.at(19, 30, 0, 0),
            kind,
            note: note.to_owned(),
        }),
    );
}

const WATER: EventKind = EventKind::Watered { ml: None };

fn todo(document: &Document, today: Date) -> Vec<String> {
    let todo = Insight::default().todo(document, today);
    let of_days = todo.iter().filter(|one| {
        let about = &one.sentence;
        about.contains("test Cold") || about.contains("Test Cold")
    });
    of_days.map(|one| one.sentence.clone()).collect()
}

// ---- the view ----------------------------------------------------------------------------------------------

#[test]
fn the_days_follow_from_the_evening_of_laying() {
    let document = laid();
    let days: Vec<(i8, u16, &str)> = items(&document)
        .iter()
        .map(|item| (item.on.day(), item.day, item.chore.name()))
        .collect();
    // Offsets from the day of laying: water every second day, counts and warm-up as the recipe says, clean-up on the
    // day after the final count. Common practice, no source.
    assert_eq!(
        days,
        [
            (3, 2, "look at the water"),
            (5, 4, "look at the water"),
            (7, 6, "look at the water"),
            (7, 6, "early count"),
            (8, 7, "move to the warm place"),
            (9, 8, "look at the water"),
            (11, 10, "look at the water"),
            (13, 12, "final count"),
            (14, 13, "clean-up and retest"),
        ]
    );
    assert_eq!(
        item(&document, "evening-1.early").title,
        "Early count, trays 1 to 4"
    );
    assert!(items(&document).iter().all(|item| !item.is_done));
}

#[test]
fn a_test_that_is_not_laid_has_no_days_and_says_what_waits() {
    let document = designed();
    assert_eq!(items(&document), []);
    assert_eq!(todo(&document, LAID), ["Test Cold is designed but not laid."]);
    let mut document = document;
    lay(&mut document, &[1, 2, 4], LAID);
    assert_eq!(
        todo(&document, LAID)[0],
        "Test Cold: tray 3 still has cells to lay."
    );
    let calendar = Insight::default().calendar(&document, TestId(1));
    assert_eq!((calendar.evenings, calendar.unlaid.clone()), (1, vec![3]));
    assert_eq!(
        item(&document, "evening-1.final").title,
        "Final count, trays 1, 2 and 4"
    );
}

#[test]
fn each_evening_has_days_of_its_own_and_late_ears_have_only_counts() {
    let mut document = laid_twice();
    assert_eq!(item(&document, "evening-1.early").on, day(6));
    assert_eq!(item(&document, "evening-2.early").on, day(8));
    assert_eq!(
        item(&document, "evening-2.early").title,
        "Early count, trays 3 and 4"
    );
    // An ear that comes late lies in a tray that is watered already; only its own counts are new.
    let ear = |document: &mut Document| {
        run(
            document,
            &Command::AddEars {
                season: SeasonId(1),
                drafts: vec![EarDraft {
                    kernels: Some(60),
                    ..EarDraft::default()
                }],
                existing: Existing::Refuse,
            },
        );
        document.project().ears.iter().last().unwrap().id
    };
    let late = ear(&mut document);
    run(
        &mut document,
        &Command::AddToTest {
            test: TestId(1),
            ears: vec![late],
            laid_on: Some(day(3)),
        },
    );
    let all = items(&document);
    let of_third: Vec<&CalendarItem> = all
        .iter()
        .filter(|item| item.key.starts_with("evening-3"))
        .collect();
    let chores: Vec<Chore> = of_third.iter().map(|item| item.chore).collect();
    assert_eq!(chores, [Chore::Early, Chore::Final, Chore::CleanUp]);
    assert_eq!((of_third[0].on, of_third[0].left), (day(9), 1));
    assert_eq!(of_third[0].trays.len(), 1);
    // The tray in which it lies is cleaned after its count, the other of its evening as before.
    let tray = of_third[0].trays[0];
    let cleaned = |key: &str| item(&document, key).trays.contains(&tray);
    assert!(cleaned("evening-3.clean-up"));
    assert!(!cleaned("evening-1.clean-up") && !cleaned("evening-2.clean-up"));
}

#[test]
fn counts_and_notes_mark_what_is_done() {
    let mut document = laid();
    let all = [1, 2, 3, 4];
    let cells = cells_of(&document, &all);
    let early = |document: &Document| item(document, "evening-1.early");
    assert_eq!(
        (early(&document).left, early(&document).place),
        (cells.len(), Place::Cell(cells[0]))
    );
    count(&mut document, &cells[..5], Pass::Early);
    assert_eq!(
        (early(&document).left, early(&document).place),
        (cells.len() - 5, Place::Cell(cells[5]))
    );
    count(&mut document, &cells[5..], Pass::Early);
    assert!(early(&document).is_done);
    assert_eq!(early(&document).standing(day(20)), DayStanding::Done);

    let done = |document: &Document, key: &str| item(document, &format!("evening-1.{key}")).is_done;
    // Water before the day, or in some of the trays only, is not that look.
    note(&mut document, WATER, &all, day(1), "");
    note(&mut document, WATER, &[1, 2, 3], day(2), "");
    assert!(!done(&document, "water-1"));
    // One day late is still that look, and not the next.
    note(&mut document, WATER, &[4], day(3), "");
    assert!(done(&document, "water-1") && !done(&document, "water-2"));
    // A note without trays is about all of them.
    note(&mut document, WATER, &[], day(4), "");
    assert!(done(&document, "water-2"));

    assert!(!done(&document, "warm"));
    let moved = EventKind::Moved {
        to: "kitchen".to_owned(),
    };
    note(&mut document, moved, &[], day(7), "");
    assert!(done(&document, "warm"));
    count(&mut document, &cells, Pass::Final);
    assert!(done(&document, "final"));
    note(&mut document, EventKind::Note, &[], day(13), "Tray 2 smells");
    assert!(!done(&document, "clean-up"));
    note(&mut document, EventKind::Note, &[], day(13), "Cleaned up");
    assert!(done(&document, "clean-up"));
}

#[test]
fn what_can_no_longer_be_done_is_not_asked_for() {
    let mut document = laid();
    let standing = |document: &Document, key: &str, on: i64| {
        item(document, &format!("evening-1.{key}")).standing(day(on))
    };
    assert_eq!(standing(&document, "water-1", 0), DayStanding::Coming(2));
    assert_eq!(standing(&document, "water-1", 2), DayStanding::Due(0));
    assert_eq!(standing(&document, "water-1", 3), DayStanding::Due(1));
    assert_eq!(standing(&document, "water-1", 4), DayStanding::Passed);
    assert_eq!(standing(&document, "early", 11), DayStanding::Due(5));
    assert_eq!(standing(&document, "early", 12), DayStanding::Passed);
    assert_eq!(
        item(&document, "evening-1.early").state(day(11)),
        "due since 5 days, 108 cells left"
    );
    assert_eq!(
        item(&document, "evening-1.early").state(day(12)),
        "108 cells not counted"
    );
    assert_eq!(item(&document, "evening-1.water-1").state(day(4)), "not noted");
    assert_eq!(item(&document, "evening-1.final").state(day(11)), "tomorrow");
    let cells = cells_of(&document, &[1, 2, 3, 4]);
    // The final count has begun: an early one would come too late.
    count(&mut document, &cells[..1], Pass::Final);
    assert_eq!(standing(&document, "early", 7), DayStanding::Passed);
    assert_eq!(standing(&document, "warm", 9), DayStanding::Due(2));
    count(&mut document, &cells[1..], Pass::Final);
    assert_eq!(standing(&document, "warm", 9), DayStanding::Passed);
    assert_eq!(standing(&document, "clean-up", 13), DayStanding::Due(0));
    assert_eq!(standing(&document, "clean-up", 27), DayStanding::Passed);
}

#[test]
fn a_calendar_is_computed_again_only_when_it_must_be() {
    let mut document = laid();
    let insight = Insight::default();
    let first = insight.calendar(&document, TestId(1));
    run(
        &mut document,
        &Command::AddEars {
            season: SeasonId(1),
            drafts: vec![EarDraft::default()],
            existing: Existing::Refuse,
        },
    );
    assert!(std::sync::Arc::ptr_eq(
        &first,
        &insight.calendar(&document, TestId(1))
    ));
    note(&mut document, WATER, &[], day(2), "");
    assert!(insight.calendar(&document, TestId(1)).items[0].is_done);
}

// ---- To do -------------------------------------------------------------------------------------------------

#[test]
fn to_do_names_what_is_due_and_else_what_comes_next() {
    let mut document = laid();
    assert_eq!(
        todo(&document, LAID),
        ["Next in test Cold: look at the water, in 2 days (Thu 2026-12-03)."]
    );
    // A week ahead and no further.
    assert_eq!(todo(&document, day(-6)).len(), 0);
    assert_eq!(todo(&document, day(-5)).len(), 1);
    assert_eq!(
        todo(&document, day(3)),
        ["A look at the water of test Cold was due yesterday."]
    );
    assert_eq!(
        todo(&document, day(6)),
        [
            "A look at the water of test Cold is due today.",
            "The early count of test Cold is due today: 108 cells are left."
        ]
    );
    note(&mut document, WATER, &[], day(6), "");
    assert_eq!(
        todo(&document, day(8)),
        [
            "The early count of test Cold was due on 2026-12-07, 2 days ago: 108 cells are left.",
            "The move of test Cold to the warm place was due yesterday.",
            "A look at the water of test Cold is due today.",
        ]
    );
    let cells = cells_of(&document, &[1, 2, 3, 4]);
    // While cells wait for the final count, nothing is to be cleaned.
    count(&mut document, &cells[1..], Pass::Final);
    let left = todo(&document, day(14));
    assert!(
        left.contains(
            &"The final count of test Cold was due on 2026-12-13, 2 days ago: 1 cell is left.".to_owned()
        ),
        "{left:#?}"
    );
    assert!(!left.iter().any(|one| one.contains("clean-up")), "{left:#?}");
    count(&mut document, &cells[..1], Pass::Final);
    assert_eq!(
        todo(&document, day(14)),
        ["The clean-up of test Cold was due yesterday."]
    );
    note(&mut document, EventKind::Note, &[], day(14), "Cleaned up");
    assert_eq!(todo(&document, day(14)), [""; 0]);
}

#[test]
fn to_do_has_one_line_for_each_evening_and_leads_to_the_place() {
    let mut document = laid_twice();
    note(&mut document, WATER, &[1, 2], day(6), "");
    note(&mut document, WATER, &[3, 4], day(6), "");
    let todo = Insight::default().todo(&document, day(6));
    let lines: Vec<(Urgency, &str, Pane)> = todo
        .iter()
        .filter(|one| one.sentence.contains("test Cold"))
        .map(|one| (one.urgency, one.sentence.as_str(), one.pane))
        .collect();
    assert_eq!(
        lines,
        [
            (
                Urgency::Due,
                "The early count of test Cold, trays 1 and 2, is due today: 54 cells are left.",
                Pane::Scoring
            ),
            (
                Urgency::Next,
                "Next in test Cold, trays 3 and 4: look at the water, in 2 days (Wed 2026-12-09).",
                Pane::Trays
            ),
        ],
        "{todo:#?}"
    );
    let first = todo.iter().find(|one| one.urgency == Urgency::Due).unwrap();
    assert_eq!(first.place, Place::Cell(cells_of(&document, &[1])[0]));
}

// ---- iCalendar ---------------------------------------------------------------------------------------------

fn stamped() -> Timestamp {
    "2026-12-02T18:05:09Z".parse().unwrap()
}

fn ics_at(document: &Document, stamp: Timestamp) -> Vec<u8> {
    let insight = Insight::default();
    let calendar = insight.calendar(document, TestId(1));
    calendar_ics(document.project(), &[&calendar], stamp).unwrap()
}

fn ics(document: &Document) -> Vec<u8> {
    ics_at(document, stamped())
}

/// One property: its name, its parameters, its value as it is written.
#[derive(Debug, Clone, PartialEq)]
struct Property {
    name: String,
    parameters: Vec<String>,
    value: String,
}

/// Reads a calendar by the rules of RFC 5545: lines end in CRLF (3.1), at most 75 octets each, a line that begins with a
/// space goes on from the one before, a name with parameters and a colon before the value; components nest (3.6).
/// Knows nothing of the writer.
fn read_ics(bytes: &[u8]) -> Vec<Vec<Property>> {
    let text = std::str::from_utf8(bytes).unwrap();
    let physical: Vec<&str> = text.split("\r\n").collect();
    assert_eq!(physical.last(), Some(&""), "the last line ends too");
    let mut lines: Vec<String> = Vec::new();
    for line in &physical[..physical.len() - 1] {
        assert!(!line.contains(['\r', '\n']), "a bare line break in {line:?}");
        assert!(
            !line.is_empty() && line.len() <= 75,
            "{} octets: {line:?}",
            line.len()
        );
        match line.strip_prefix([' ', '\t']) {
            Some(rest) => lines.last_mut().unwrap().push_str(rest),
            None => lines.push((*line).to_owned()),
        }
    }
    let properties: Vec<Property> = lines
        .iter()
        .map(|line| {
            let (head, value) = line.split_once(':').unwrap();
            let mut parts = head.split(';').map(str::to_owned);
            let name = parts.next().unwrap();
            assert!(
                name.chars()
                    .all(|letter| letter.is_ascii_uppercase() || letter == '-'),
                "{line}"
            );
            Property {
                name,
                parameters: parts.collect(),
                value: value.to_owned(),
            }
        })
        .collect();
    let is = |property: &Property, name: &str, value: &str| property.name == name && property.value == value;
    assert!(is(&properties[0], "BEGIN", "VCALENDAR"));
    assert!(is(properties.last().unwrap(), "END", "VCALENDAR"));
    let mut events = Vec::new();
    let mut open: Option<Vec<Property>> = None;
    let mut of_calendar = Vec::new();
    for property in &properties[1..properties.len() - 1] {
        if is(property, "BEGIN", "VEVENT") {
            assert!(open.replace(Vec::new()).is_none(), "an event in an event");
        } else if is(property, "END", "VEVENT") {
            events.push(open.take().unwrap());
        } else if let Some(event) = &mut open {
            event.push(property.clone());
        } else {
            assert!(events.is_empty(), "properties of the calendar come first");
            of_calendar.push(property.clone());
        }
    }
    assert!(open.is_none() && !events.is_empty());
    for (name, value) in [("VERSION", Some("2.0")), ("PRODID", None)] {
        let found: Vec<&Property> = of_calendar.iter().filter(|one| one.name == name).collect();
        assert_eq!(found.len(), 1, "{name} once (3.6)");
        assert!(value.is_none_or(|value| found[0].value == value));
    }
    events
}

fn value<'a>(event: &'a [Property], name: &str) -> &'a str {
    let found: Vec<&Property> = event.iter().filter(|one| one.name == name).collect();
    assert_eq!(found.len(), 1, "{name} once in {event:#?}");
    &found[0].value
}

/// A text as it was before it was escaped (3.3.11).
fn unescaped(text: &str) -> String {
    let mut letters = text.chars();
    let mut read = String::new();
    while let Some(letter) = letters.next() {
        match letter {
            '\\' => match letters.next().unwrap() {
                'n' | 'N' => read.push('\n'),
                other @ ('\\' | ';' | ',') => read.push(other),
                other => panic!("\\{other} means nothing"),
            },
            ';' | ',' => panic!("a bare {letter} in {text}"),
            other => read.push(other),
        }
    }
    read
}

fn date_of(text: &str) -> Date {
    assert_eq!(text.len(), 8, "{text}");
    let number = |range: std::ops::Range<usize>| text[range].parse::<i16>().unwrap();
    date(number(0..4), number(4..6) as i8, number(6..8) as i8)
}

#[test]
fn the_file_obeys_the_rules_of_rfc_5545() {
    let document = laid_twice();
    let bytes = ics(&document);
    let events = read_ics(&bytes);
    let items = items(&document);
    assert_eq!(events.len(), items.len());
    let mut uids = std::collections::BTreeSet::new();
    for (event, item) in events.iter().zip(&items) {
        assert!(uids.insert(value(event, "UID").to_owned()), "a UID twice");
        // Of a whole day, with the end on the day after (3.6.1).
        for name in ["DTSTART", "DTEND"] {
            let property = event.iter().find(|one| one.name == name).unwrap();
            assert_eq!(property.parameters, ["VALUE=DATE"]);
        }
        let start = date_of(value(event, "DTSTART"));
        assert_eq!(start, item.on);
        assert_eq!(date_of(value(event, "DTEND")), start.tomorrow().unwrap());
        assert_eq!(value(event, "DTSTAMP"), "20261202T180509Z");
        let sequence: i32 = value(event, "SEQUENCE").parse().unwrap();
        assert!(sequence >= 0);
        assert_eq!(
            unescaped(value(event, "SUMMARY")),
            format!("Cold: {}", item.title)
        );
        let text = unescaped(value(event, "DESCRIPTION"));
        assert!(
            text.ends_with(&format!("\nDay {} of test Cold, Little Tarn.", item.day)),
            "{text}"
        );
    }
    let warm = items.iter().position(|item| item.chore == Chore::Warm).unwrap();
    let text = unescaped(value(&events[warm], "DESCRIPTION"));
    // 13 °C and 25 °C in the project's unit, by the definition of the scale.
    assert!(
        text.starts_with("Move the trays from 55.4 °F to 77 °F.\n"),
        "{text}"
    );
}

#[test]
fn the_same_input_gives_the_same_bytes() {
    let document = laid_twice();
    assert_eq!(ics(&document), ics(&document));
    assert_eq!(ics(&document), ics(&laid_twice()));
    let later = ics_at(&document, stamped() + jiff::SignedDuration::from_secs(60));
    assert_ne!(ics(&document), later);
}

/// What a calendar program that keeps one event for each UID shows after reading files in turn; of two with the same
/// UID the one with the higher sequence number is kept (RFC 5545, 3.8.7.4).
fn imported(files: &[Vec<u8>]) -> BTreeMap<String, (i64, Date)> {
    let mut shown: BTreeMap<String, (i64, Date)> = BTreeMap::new();
    for file in files {
        for event in read_ics(file) {
            let sequence: i64 = value(&event, "SEQUENCE").parse().unwrap();
            let kept = shown.entry(value(&event, "UID").to_owned()).or_insert((-1, LAID));
            if sequence > kept.0 {
                *kept = (sequence, date_of(value(&event, "DTSTART")));
            }
        }
    }
    shown
}

#[test]
fn reading_a_newer_file_moves_the_days_and_doubles_none() {
    let mut document = laid_twice();
    let before = ics(&document);
    // The second evening was in truth a day later, and a day earlier than noted at last.
    for moved in [3, 1] {
        let cells = cells_of(&document, &[3, 4]);
        run(&mut document, &Command::TakeUpCells(cells));
        lay(&mut document, &[3, 4], day(moved));
        let later = stamped() + jiff::SignedDuration::from_secs(3600 * (10 - moved));
        let after = ics_at(&document, later);
        let shown = imported(&[before.clone(), after.clone()]);
        assert_eq!(shown.len(), read_ics(&before).len(), "none is doubled");
        let fresh = imported(&[after]);
        assert_eq!(shown, fresh, "and all are as in the newer file");
    }
    let second: Vec<Date> = imported(&[ics(&document)])
        .into_iter()
        .filter(|(uid, _)| uid.contains("evening-2.early"))
        .map(|(_, (_, on))| on)
        .collect();
    assert_eq!(second, [day(7)]);
    // Another test of the same project, and the same test of another project, have UIDs of their own.
    let uids = |document: &Document| imported(&[ics(document)]).into_keys().collect::<Vec<_>>();
    let text = ron::to_string(document.project()).unwrap();
    let other = text.replace("id:\"little-tarn\"", "id:\"other\"");
    assert_ne!(text, other);
    let other = Document::new(ron::from_str(&other).unwrap());
    assert!(uids(&document).iter().all(|uid| !uids(&other).contains(uid)));
}

/// A project whose names hold everything that must be escaped or folded.
fn odd_names() -> Document {
    let mut document = laid_twice();
    let mut about = document.project().about.clone();
    about.name = String::from(
        "Mårten's \"flint\"; white, red\\blue: 🌽 of the very long northern valley between both rivers",
    );
    run(&mut document, &Command::Describe(about));
    run(
        &mut document,
        &Command::EditTest {
            test: TestId(1),
            name: "Kälte, Söll; 1".to_owned(),
            recipe: recipe(),
            check_lot: String::new(),
        },
    );
    document
}

#[test]
fn odd_names_come_through_whole() {
    let document = odd_names();
    for event in read_ics(&ics(&document)) {
        let summary = unescaped(value(&event, "SUMMARY"));
        assert!(summary.starts_with("Kälte, Söll; 1: "), "{summary}");
        let text = unescaped(value(&event, "DESCRIPTION"));
        assert!(
            text.ends_with(&format!("{}.", document.project().about.name)),
            "{text}"
        );
    }
}

#[test]
fn nothing_laid_gives_no_file() {
    let document = designed();
    let insight = Insight::default();
    let calendar = insight.calendar(&document, TestId(1));
    assert_eq!(calendar_ics(document.project(), &[&calendar], stamped()), None);
    assert_eq!(calendar_ics(document.project(), &[], stamped()), None);
}

/// Reads a calendar with the `icalendar` library of Python and prints a line for each event.
const READER: &str = "
import sys, json
import icalendar
calendar = icalendar.Calendar.from_ical(sys.stdin.buffer.read())
for event in calendar.walk('VEVENT'):
    errors = getattr(event, 'errors', [])
    print(json.dumps([
        str(event['UID']), event['DTSTART'].dt.isoformat(), event['DTEND'].dt.isoformat(),
        event['DTSTAMP'].dt.isoformat(), int(event['SEQUENCE']), str(event['SUMMARY']),
        str(event['DESCRIPTION']), str(event['TRANSP']), [str(error) for error in errors],
    ]))
";

/// What `icalendar` reads; `None` where no Python here has it.
fn read_outside(bytes: &[u8]) -> Option<Vec<serde_json::Value>> {
    let has_it = |python: &&str| {
        let asked = Process::new(python).args(["-c", "import icalendar"]).output();
        asked.is_ok_and(|asked| asked.status.success())
    };
    let python = ["python3", "/usr/bin/python3"].into_iter().find(has_it)?;
    let mut reader = Process::new(python)
        .args(["-c", READER])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    reader.stdin.take().unwrap().write_all(bytes).unwrap();
    let ended = reader.wait_with_output().unwrap();
    assert!(ended.status.success(), "the library refuses the file");
    let lines = String::from_utf8(ended.stdout).unwrap();
    Some(
        lines
            .lines()
            .map(|line| serde_json::from_str(line).unwrap())
            .collect(),
    )
}

#[test]
fn an_independent_library_reads_the_same() {
    let document = odd_names();
    let Some(read) = read_outside(&ics(&document)) else {
        let text =
            "NOT TESTED HERE: no Python with the library icalendar. Install python3-icalendar to test it.";
        assert!(std::env::var_os("CI").is_none(), "{text}");
        eprintln!("{text}");
        return;
    };
    let project = document.project();
    let items = items(&document);
    assert_eq!(read.len(), items.len());
    for (event, item) in read.iter().zip(&items) {
        let what = item.what(&recipe(), project.about.units);
        let text = format!(
            "{what}\nDay {} of test Kälte, Söll; 1, {}.",
            item.day, project.about.name
        );
        let wanted = serde_json::json!([
            format!("little-tarn.test-1.{}@wintercrib", item.key),
            item.on.to_string(),
            item.on.tomorrow().unwrap().to_string(),
            "2026-12-02T18:05:09+00:00",
            event[4],
            format!("Kälte, Söll; 1: {}", item.title),
            text,
            "TRANSPARENT",
            [],
        ]);
        assert_eq!(*event, wanted);
    }
}

// ---- the window --------------------------------------------------------------------------------------------

fn open(document: Document, size: [f32; 2], theme: Theme, scale: f32) -> Harness<'static, App> {
    let mut harness = window(document, Pane::Trays, theme, size, scale);
    harness.get_by_label_contains("Calendar").click();
    harness.run_steps(20);
    harness
}

/// As the sample's clock says it is 1 December 2026 at ten: laid six days before, so that it is day 6.
fn on_day_6() -> Document {
    let mut document = designed();
    lay(&mut document, &[1, 2], day(-6));
    lay(&mut document, &[3, 4], day(-4));
    note(&mut document, WATER, &[1, 2], day(-4), "");
    assert_eq!(now().date(), LAID);
    document
}

#[test]
fn the_calendar_marks_what_is_done_and_notes_it_by_a_button_that_undo_takes_back() {
    let mut harness = open(on_day_6(), [1280.0, 800.0], Theme::Light, 1.0);
    assert!(says(&harness, "Calendar (3 due)"));
    assert!(says(
        &harness,
        "Fri 2026-11-27, day 2: Look at the water, trays 1 and 2: done"
    ));
    assert!(says(
        &harness,
        "Tue 2026-12-01, day 6: Early count, trays 1 and 2: due today, 54 cells left"
    ));
    let name = "Note as done: Look at the water, trays 1 and 2, 2026-12-01";
    harness.get_by_role_and_label(Role::Button, name).click();
    harness.run();
    let events = |harness: &Harness<'_, App>| harness.state().document().project().events.len();
    assert_eq!(events(&harness), 2);
    assert!(says(
        &harness,
        "Tue 2026-12-01, day 6: Look at the water, trays 1 and 2: done"
    ));
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
    harness.run();
    assert_eq!(events(&harness), 1);
    assert!(says(
        &harness,
        "Tue 2026-12-01, day 6: Look at the water, trays 1 and 2: due today"
    ));
    let count = "Go to the early count, 2026-12-01";
    harness.get_by_role_and_label(Role::Button, count).click();
    harness.run();
    assert!(
        harness.query_by_role_and_label(Role::Grid, "Trays").is_none(),
        "another pane"
    );
    assert!(says(&harness, "Tray 1 of 4"));
}

#[test]
fn before_laying_the_days_are_shown_by_their_number() {
    let harness = open(designed(), [1280.0, 800.0], Theme::Light, 1.0);
    assert!(says(&harness, "If it was laid today"));
    assert!(says(&harness, "Sun 2026-12-13"));
}

#[test]
fn the_calendar_is_looked_at_in_both_themes_and_all_sizes() {
    for theme in [Theme::Light, Theme::Dark] {
        for (name, size, scale) in LOOKS {
            let mut harness = open(on_day_6(), size, theme, scale);
            common::shot(&mut harness, &format!("calendar-{name}-{theme:?}").to_lowercase());
        }
        let mut harness = open(on_day_6(), [800.0, 560.0], theme, 1.0);
        common::shot(&mut harness, &format!("calendar-800-{theme:?}").to_lowercase());
    }
}

#[test]
fn warm_days_water_and_band_are_typed_in_the_form() {
    let mut harness = window(harvest(24), Pane::Trays, Theme::Light, [1280.0, 1000.0], 1.0);
    harness
        .get_by_role_and_label(Role::RadioButton, "Cold, then warm")
        .click();
    harness.run();
    // The usual cold test: 10 °C for 7 days, then 25 °C; the project shows Fahrenheit.
    for (field, text) in [
        ("Temperature", "50"),
        ("Temperature of the warm days", "77"),
        ("First warm day", "7"),
        ("Day of the final count", "14"),
    ] {
        let node = harness.get_by_role_and_label(Role::TextInput, field);
        assert_eq!(node.value().unwrap(), text, "{field}");
    }
    fill(&mut harness, "Days between two looks at the water", "3");
    fill(&mut harness, "Band around the temperature", "1.8");
    fill(&mut harness, "Day of the early count", "9");
    fill(&mut harness, "First warm day", "20");
    assert!(says(
        &harness,
        "'20' cannot be the first warm day; type a whole number from 1 to 14."
    ));
    fill(&mut harness, "First warm day", "6");
    common::shot(&mut harness, "recipe-form");
    harness
        .get_by_role_and_label(Role::Button, "Design the test")
        .click();
    harness.run();
    let project = harness.state().document().project();
    let recipe = project.tests.get(TestId(1)).unwrap().recipe.clone();
    assert_eq!(
        (recipe.early_day, recipe.final_day, recipe.water_every),
        (Some(9), 14, Some(3))
    );
    assert_eq!(recipe.warm, Some(WarmDays { c: 25.0, from_day: 6 }));
    assert!((recipe.cold_c - 10.0).abs() < 1e-9 && (recipe.band_c.unwrap() - 1.0).abs() < 1e-9);
    // A warm test has no warm days after cold ones.
    harness.get_by_role_and_label(Role::RadioButton, "Warm").click();
    harness.run();
    assert!(harness.query_by_label("First warm day").is_none());
    harness
        .get_by_role_and_label(Role::Button, "Keep name and recipe")
        .click();
    harness.run();
    let project = harness.state().document().project();
    let recipe = project.tests.get(TestId(1)).unwrap().recipe.clone();
    assert_eq!((recipe.warm, recipe.final_day), (None, 7));
    assert!((recipe.cold_c - 25.0).abs() < 1e-9);
}

/// Run by hand, since a busy machine is no fault: `cargo test --test calendar ten_thousand -- --ignored --nocapture`.
#[test]
#[ignore = "prints times, which depend on the machine"]
fn ten_thousand_ears_laid_over_five_evenings_are_not_slow() {
    let mut document = harvest(10_000);
    run(
        &mut document,
        &Command::DesignTest(TestDesign {
            season: SeasonId(1),
            replaces: None,
            name: "Cold".to_owned(),
            plan: TrayPlan::default(),
            recipe: recipe(),
            check_lot: "Check".to_owned(),
            seed: 7,
            ears: None,
        }),
    );
    let trays: Vec<u32> = document.project().trays.iter().map(|tray| tray.id.0).collect();
    for (evening, trays) in trays.chunks(trays.len().div_ceil(5)).enumerate() {
        lay(&mut document, trays, day(evening as i64));
    }
    for number in 0..300 {
        note(&mut document, WATER, &[], day(i64::from(number % 12)), "");
    }
    let readings = (0..=288).map(|hour| (60 * hour, 13.0)).collect();
    run(
        &mut document,
        &Command::AddLog(wintercrib::model::TemperatureLog {
            id: wintercrib::model::LogId(0),
            test: TestId(1),
            name: "Shelf".to_owned(),
            start: LAID.at(18, 0, 0, 0),
            readings,
            spans: vec![wintercrib::model::LogSpan::default()],
        }),
    );
    let insight = Insight::default();
    let timed = |what: &str, work: &dyn Fn()| {
        let begun = std::time::Instant::now();
        work();
        println!("{what}: {:?}", begun.elapsed());
    };
    timed("progress", &|| drop(insight.progress(&document, TestId(1))));
    timed("calendar", &|| drop(insight.calendar(&document, TestId(1))));
    timed("calendar again", &|| drop(insight.calendar(&document, TestId(1))));
    let fresh = Insight::default();
    timed("soundness and estimates", &|| {
        drop(fresh.soundness(&document, TestId(1)));
    });
    timed("cold days", &|| drop(fresh.cold_days(&document, TestId(1))));
    timed("cold days again", &|| drop(fresh.cold_days(&document, TestId(1))));
    let project = document.project();
    let calendar = insight.calendar(&document, TestId(1));
    timed("iCalendar file", &|| {
        drop(calendar_ics(project, &[&calendar], Timestamp::UNIX_EPOCH));
    });
    // Water five times, early, warm, final, clean-up, for each evening.
    assert_eq!((calendar.evenings, calendar.items.len()), (5, 45));
    let mut harness = window(
        document,
        wintercrib::ui::context::Pane::Trays,
        Theme::Light,
        [1280.0, 900.0],
        1.0,
    );
    harness.get_by_role_and_label(Role::Button, "Cold days").click();
    harness.run();
    let begun = std::time::Instant::now();
    harness.run_steps(20);
    println!("a frame of the cold days: {:?}", begun.elapsed() / 20);
    common::shot(&mut harness, "cold-days-10000");
}

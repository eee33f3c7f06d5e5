//! The days of a test in its trays, in the window.
#![expect(clippy::unwrap_used, reason = "a test stops at what it does not expect")]

mod common;
mod tray_sample;

use common::{fill, press, says};
use egui::{Key, Modifiers, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use jiff::ToSpan as _;
use jiff::civil::date;
use std::fmt::Write as _;
use std::sync::Arc;
use tray_sample::{harvest, now, stamp, window};
use wintercrib::demo;
use wintercrib::model::{
    Command, Document, EventKind, LogId, LogSpan, Recipe, SeasonId, TemperatureLog, TemperatureUnit,
    TestDesign, TestId, TrayPlan, Units,
};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;
use wintercrib::ui::widgets::path_prompt::{PathAnswer, ScriptedPathPrompt};

const THEMES: [(Theme, &str); 2] = [(Theme::Light, "light"), (Theme::Dark, "dark")];

/// Two trays of 40 ears, laid on the evening of the day on which all tests happen.
fn laid() -> Document {
    let mut document = harvest(40);
    let design = TestDesign {
        season: SeasonId(1),
        replaces: None,
        name: "Cold test".to_owned(),
        plan: TrayPlan::default(),
        recipe: Recipe::default(),
        check_lot: String::new(),
        seed: 3,
        ears: None,
    };
    let about = wintercrib::model::About {
        units: Units {
            temperature: TemperatureUnit::Celsius,
            ..Units::default()
        },
        ..document.project().about.clone()
    };
    for command in [
        Command::Describe(about),
        Command::DesignTest(design),
        Command::LayTest {
            test: TestId(1),
            trays: Vec::new(),
            on: now().date(),
        },
    ] {
        document.run(&command, &stamp()).unwrap();
    }
    assert_eq!(document.project().trays_of(TestId(1)).count(), 2);
    document
}

/// A logger's file with header lines, `;`, decimal commas and the day first: hourly from the evening of laying, 12 days.
fn shelf_file() -> String {
    let mut text =
        "Shelf logger;invented\r\nInterval;60 min\r\n\r\nDate;Time;Temperature °C;Humidity %\r\n".to_owned();
    let start = now().date().at(18, 0, 0, 0);
    for hour in 0..=288 {
        let at = start + hour.hours();
        let celsius = 13.0 + 0.4 * f64::from(hour % 24) / 24.0;
        let line = format!(
            "{:02}/{:02}/{};{:02}:00;{celsius:.1};85.5\r\n",
            at.day(),
            at.month(),
            at.year(),
            at.hour()
        );
        text += &line.replace('.', ",");
    }
    text
}

/// One with commas, decimal points, a clock of twelve hours and the month first, which its one day does not tell, in °F,
/// which it does not tell either.
fn floor_file() -> String {
    let mut text = "Time,Channel 1\n".to_owned();
    for quarter in 0..40 {
        let (hour, minute) = (8 + quarter / 4, 15 * (quarter % 4));
        let (clock, half) = if hour < 12 {
            (hour, "AM")
        } else {
            ((hour - 1) % 12 + 1, "PM")
        };
        writeln!(
            text,
            "12/03/2026 {clock:02}:{minute:02} {half},{:.1}",
            51.0 + 0.1 * f64::from(quarter % 5)
        )
        .unwrap();
    }
    text
}

#[derive(Debug)]
struct OnDisk(&'static str, Vec<u8>);

impl egui::DroppedFile for OnDisk {
    fn path(&self) -> &std::path::Path {
        std::path::Path::new(self.0)
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        Ok(self.1.clone())
    }
}

fn drop_files(harness: &mut Harness<'_, App>, files: Vec<(&'static str, String)>) {
    let files = files.into_iter().map(|(name, text)| {
        let file: Arc<dyn egui::DroppedFile + Send + Sync> = Arc::new(OnDisk(name, text.into_bytes()));
        file
    });
    harness.input_mut().dropped_files = files.collect();
    harness.run();
}

fn cold_days(document: Document, theme: Theme, size: [f32; 2]) -> Harness<'static, App> {
    let mut harness = window(document, Pane::Trays, theme, size, 1.0);
    press(&mut harness, "Cold days");
    harness
}

fn logs(harness: &Harness<'_, App>) -> Vec<TemperatureLog> {
    harness
        .state()
        .document()
        .project()
        .logs
        .iter()
        .cloned()
        .collect()
}

fn is_disabled(harness: &Harness<'_, App>, button: &str) -> bool {
    let button = harness.get_by_role_and_label(Role::Button, button);
    button.accesskit_node().is_disabled()
}

fn choose(harness: &mut Harness<'_, App>, radio: &str) {
    harness.get_by_role_and_label(Role::RadioButton, radio).click();
    harness.run();
}

fn is_chosen(harness: &Harness<'_, App>, radio: &str) -> bool {
    let radio = harness.get_by_role_and_label(Role::RadioButton, radio);
    radio.accesskit_node().toggled() == Some(egui::accesskit::Toggled::True)
}

/// Presses a button by keyboard, wherever the page is scrolled to.
fn by_key(harness: &mut Harness<'_, App>, button: &str) {
    harness.get_by_role_and_label(Role::Button, button).focus();
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
}

fn undo(harness: &mut Harness<'_, App>) {
    harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    harness.run();
}

#[test]
fn the_logs_of_the_demo_are_shown_and_water_is_noted_with_one_click() {
    for (theme, name) in THEMES {
        let document = Document::new(demo::make("essel-thaw").unwrap());
        let mut harness = cold_days(document, theme, [1280.0, 900.0]);
        assert!(says(
            &harness,
            "Tray 4 stood at 10.8 °C, 2.2 °C below the others, and germinated"
        ));
        assert!(says(&harness, "no temperature is known from 2026-02-09 15:00"));
        assert!(says(&harness, "Shelf logger: all trays") && says(&harness, "Floor logger: tray 4"));
        common::shot(&mut harness, &format!("cold-days-{name}"));
        let events = harness.state().document().project().events.len();
        press(&mut harness, "Watered now");
        assert_eq!(harness.state().document().project().events.len(), events + 1);
        press(&mut harness, "Back to the trays");
        assert!(
            harness
                .query_by_role_and_label(Role::Button, "Cold days")
                .is_some()
        );
    }
}

#[test]
fn two_unlike_files_are_taken_one_after_the_other_with_their_questions_answered() {
    for (theme, name) in THEMES {
        let mut harness = cold_days(laid(), theme, [1280.0, 900.0]);
        assert!(says(&harness, "There is no temperature log of this test yet"));
        common::shot(&mut harness, &format!("cold-days-empty-{name}"));
        drop_files(
            &mut harness,
            vec![
                ("/nowhere/shelf.csv", shelf_file()),
                ("/nowhere/floor.csv", floor_file()),
            ],
        );
        // The first has nothing to ask.
        assert!(says(&harness, "Take the temperatures of shelf.csv"));
        assert!(says(&harness, "1 more file after this one."));
        assert!(says(
            &harness,
            "Dates are read day first: other dates would not exist."
        ));
        assert!(says(&harness, "Shelf logger;invented") && says(&harness, "names of the columns"));
        assert!(says(
            &harness,
            "289 readings from 2026-12-01 18:00 to 2026-12-13 18:00, one every 60 minutes: 13 to 13.4 °C."
        ));
        assert!(says(&harness, "It tells 288 of 288 hours of trays 1 and 2."));
        assert!(is_chosen(&harness, "°C") && says(&harness, "as the file says"));
        common::shot(&mut harness, &format!("cold-days-import-{name}"));
        press(&mut harness, "Take 289 readings");
        assert_eq!(logs(&harness).len(), 1);
        // The second tells neither the order of its dates nor its unit.
        assert!(says(&harness, "Take the temperatures of floor.csv"));
        assert!(says(&harness, "2 questions must be answered first."));
        assert!(is_disabled(&harness, "Take the readings"));
        common::shot(&mut harness, &format!("cold-days-questions-{name}"));
        let (day, month) = (
            "day first: 2026-03-12 to 2026-03-12",
            "month first: 2026-12-03 to 2026-12-03",
        );
        choose(&mut harness, day);
        choose(&mut harness, "°F");
        assert!(says(&harness, "No reading lies in these days."));
        // The answer stays in sight and can be changed.
        assert!(is_chosen(&harness, day) && !is_chosen(&harness, month));
        choose(&mut harness, month);
        assert!(!is_chosen(&harness, day) && is_chosen(&harness, month) && is_chosen(&harness, "°F"));
        assert!(!says(&harness, "No reading lies in these days."));
        assert!(says(
            &harness,
            "40 readings from 2026-12-03 08:00 to 2026-12-03 17:45, one every 15 minutes: 10.6 to 10.8 °C."
        ));
        // From when to when it stood for which tray.
        fill(&mut harness, "Name of the log", "Floor logger");
        fill(&mut harness, "Trays of span 1", "7");
        assert!(says(&harness, "This test has no tray 7; it has 2 trays"));
        fill(&mut harness, "Trays of span 1", "2");
        fill(&mut harness, "From, span 1", "2026-12-03 10:00");
        fill(&mut harness, "Until, span 1", "2026-12-03 09:00");
        assert!(says(
            &harness,
            "It stands for trays from 2026-12-03 10:00 until 2026-12-03 09:00, which is earlier"
        ));
        assert!(is_disabled(&harness, "Take 40 readings"));
        fill(&mut harness, "Until, span 1", "2026-12-03 16:00");
        assert!(says(
            &harness,
            "For tray 2 it goes before the log shelf, as it stands for fewer trays."
        ));
        assert!(says(&harness, "It tells 6 of 288 hours of tray 2."));
        // Its clock was an hour slow.
        fill(&mut harness, "Correct its clock by", "1:00");
        assert!(says(
            &harness,
            "40 readings from 2026-12-03 09:00 to 2026-12-03 18:45"
        ));
        common::shot(&mut harness, &format!("cold-days-answered-{name}"));
        press(&mut harness, "Take 40 readings");
        let taken = logs(&harness);
        let project = harness.state().document().project();
        let tray = project.trays_of(TestId(1)).nth(1).unwrap().id;
        let span = LogSpan {
            trays: vec![tray],
            from: Some(date(2026, 12, 3).at(10, 0, 0, 0)),
            to: Some(date(2026, 12, 3).at(16, 0, 0, 0)),
        };
        assert_eq!(taken[1].spans, [span]);
        assert_eq!(
            (taken[1].name.as_str(), taken[1].readings.len()),
            ("Floor logger", 40)
        );
        assert_eq!(taken[1].start, date(2026, 12, 3).at(9, 0, 0, 0));
        // 51 °F are 10.556 °C by the definition of the scales.
        assert!((taken[1].readings[0].1 - (51.0 - 32.0) / 1.8).abs() < 1e-3);
        assert!(says(
            &harness,
            "Floor logger: tray 2 from 2026-12-03 10:00 until 2026-12-03 16:00"
        ));
        common::shot(&mut harness, &format!("cold-days-two-{name}"));
        undo(&mut harness);
        assert_eq!(logs(&harness).len(), 1);
        undo(&mut harness);
        assert_eq!(logs(&harness).len(), 0);
        harness.key_press_modifiers(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z);
        harness.run();
        assert_eq!(logs(&harness), taken[..1]);
        // The same file once more is known.
        drop_files(&mut harness, vec![("/nowhere/again.csv", shelf_file())]);
        assert!(says(
            &harness,
            "These readings are in the test already, as the log shelf."
        ));
        assert!(is_disabled(&harness, "Take 289 readings"));
        press(&mut harness, "Cancel");
        assert_eq!(logs(&harness).len(), 1);
    }
}

/// Goes on with Tab until something of this name has the keyboard.
fn tab_to(harness: &mut Harness<'_, App>, role: Role, name: &str) {
    for _ in 0..60 {
        let has_it = harness
            .query_all_by_role_and_label(role, name)
            .any(|node| node.is_focused());
        if has_it {
            return;
        }
        harness.key_press(Key::Tab);
        harness.run();
    }
    panic!("Tab does not come to {name}");
}

/// Tabs to something and presses a key there; a list that stays open is closed by Escape, which leaves the screen as it is.
fn go(harness: &mut Harness<'_, App>, role: Role, name: &str, key: Key) {
    let was_open = harness.ctx.any_popup_open();
    tab_to(harness, role, name);
    harness.key_press(key);
    harness.run();
    if was_open && harness.ctx.any_popup_open() {
        harness.key_press(Key::Escape);
        harness.run();
        assert!(!harness.ctx.any_popup_open());
    }
}

#[test]
fn a_file_is_opened_answered_and_taken_by_keyboard_alone() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("floor.csv");
    std::io::Write::write_all(
        &mut std::fs::File::create(&path).unwrap(),
        floor_file().as_bytes(),
    )
    .unwrap();
    let mut harness = common::harness([1280.0, 900.0], Theme::Light).build_eframe(move |_creation| {
        let prompt = ScriptedPathPrompt::new([PathAnswer::Chosen(path)]);
        let mut app = App::in_memory(laid(), now).with_prompt(prompt);
        app.show(Pane::Trays);
        app
    });
    harness.run();
    go(&mut harness, Role::Button, "Cold days", Key::Enter);
    go(&mut harness, Role::Button, "Add a temperature log", Key::Enter);
    for _ in 0..500 {
        if says(&harness, "Take the temperatures of floor.csv") {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(10));
        harness.step();
    }
    harness.run();
    // The keyboard is at the first question.
    let first = harness.get_by_role_and_label(Role::RadioButton, "day first: 2026-03-12 to 2026-03-12");
    assert!(first.is_focused());
    go(
        &mut harness,
        Role::RadioButton,
        "month first: 2026-12-03 to 2026-12-03",
        Key::Space,
    );
    go(&mut harness, Role::RadioButton, "°F", Key::Space);
    // A separator that makes no sense is refused, and the file is read as before.
    go(&mut harness, Role::RadioButton, "tab", Key::Space);
    assert!(says(&harness, "Divided by a tab: "));
    assert!(is_chosen(&harness, "comma") && !is_chosen(&harness, "tab"));
    go(
        &mut harness,
        Role::ComboBox,
        "Times of the day are in",
        Key::Enter,
    );
    go(&mut harness, Role::Button, "Channel 1", Key::Enter);
    assert!(says(
        &harness,
        "No line has a time and a temperature in these columns"
    ));
    go(
        &mut harness,
        Role::ComboBox,
        "Times of the day are in",
        Key::Enter,
    );
    go(&mut harness, Role::Button, "the same column", Key::Enter);
    go(&mut harness, Role::Button, "Take 40 readings", Key::Enter);
    assert_eq!(logs(&harness)[0].readings.len(), 40);
}

#[test]
fn lines_that_cannot_be_read_are_named_and_left_out_only_when_the_grower_says_so() {
    for (theme, name) in THEMES {
        let mut harness = window(laid(), Pane::Trays, theme, [1280.0, 900.0], 1.0);
        let mut text = "Time,Temp °C\n".to_owned();
        for hour in 0..40 {
            let line = match hour {
                7 => "2026-12-02 01:00,thirteen".to_owned(),
                9 => "soon,13.0".to_owned(),
                hour => format!("{},13.1", now().date().at(18, 0, 0, 0) + hour.hours()),
            };
            writeln!(text, "{line}").unwrap();
        }
        // A file of a logger opens the cold days by itself.
        drop_files(
            &mut harness,
            vec![
                ("/nowhere/broken.csv", text),
                ("/nowhere/picture.csv", "\u{0}x".to_owned()),
            ],
        );
        assert!(says(
            &harness,
            "Line 9, column 'Temp °C': 'thirteen' is not a temperature."
        ));
        assert!(says(&harness, "Line 11, column 'Time': 'soon' is not a time"));
        assert!(says(
            &harness,
            "2 lines cannot be read: correct the file, or leave them out."
        ));
        assert!(is_disabled(&harness, "Take 38 readings"));
        common::shot(&mut harness, &format!("cold-days-errors-{name}"));
        harness
            .get_by_role_and_label(
                Role::CheckBox,
                "Leave out the 2 lines that cannot be read, and take the others",
            )
            .click();
        harness.run();
        press(&mut harness, "Take 38 readings");
        assert_eq!(logs(&harness)[0].readings.len(), 38);
        // The other file was none at all; the grower is told, and is left with nothing to close.
        assert!(says(&harness, "picture.csv: The file is not text."));
        assert!(says(&harness, "broken: all trays"));
    }
}

#[test]
fn a_log_is_changed_by_keyboard_and_a_slip_is_undone() {
    for (theme, name) in THEMES {
        let mut document = laid();
        let trays: Vec<_> = document
            .project()
            .trays_of(TestId(1))
            .map(|tray| tray.id)
            .collect();
        let log = TemperatureLog {
            id: LogId(0),
            test: TestId(1),
            name: "Shelf".to_owned(),
            start: now().date().at(18, 0, 0, 0),
            readings: (0..=288).map(|hour| (60 * hour, 13.0)).collect(),
            spans: vec![LogSpan::default()],
        };
        document.run(&Command::AddLog(log), &stamp()).unwrap();
        let mut harness = cold_days(document, theme, [1280.0, 900.0]);
        by_key(&mut harness, "Change log Shelf");
        assert!(is_disabled(&harness, "Keep the changes"));
        press(&mut harness, "Add a span");
        fill(&mut harness, "Trays of span 1", "1");
        fill(&mut harness, "Until, span 1", "2026-12-05 12:00");
        fill(&mut harness, "Trays of span 2", "1-2");
        fill(&mut harness, "From, span 2", "5.12.2026 12:00");
        fill(&mut harness, "Correct its clock by", "2026-12-01 17:30");
        assert!(says(
            &harness,
            "289 readings from 2026-12-01 17:30 to 2026-12-13 17:30"
        ));
        common::shot(&mut harness, &format!("cold-days-edit-{name}"));
        // Escape leaves a field first, and the screen only then.
        harness.key_press(Key::Escape);
        harness.run();
        press(&mut harness, "Keep the changes");
        let changed = logs(&harness).remove(0);
        let noon = Some(date(2026, 12, 5).at(12, 0, 0, 0));
        let span = |trays: &[_], from, to| LogSpan {
            trays: trays.to_vec(),
            from,
            to,
        };
        assert_eq!(
            changed.spans,
            [span(&trays[..1], None, noon), span(&trays, noon, None)]
        );
        assert_eq!(changed.start, date(2026, 12, 1).at(17, 30, 0, 0));
        undo(&mut harness);
        assert_eq!(logs(&harness)[0].spans, [LogSpan::default()]);
        by_key(&mut harness, "Change log Shelf");
        press(&mut harness, "Remove span 1");
        assert!(says(
            &harness,
            "It stands for no tray, so no figure comes from it."
        ));
        harness.key_press(Key::Escape);
        harness.run();
        assert!(says(&harness, "Shelf: all trays"));
    }
}

#[test]
fn water_moves_and_turns_are_noted_and_corrected() {
    for (theme, name) in THEMES {
        let mut harness = cold_days(laid(), theme, [1280.0, 900.0]);
        fill(&mut harness, "ml for each", "40");
        press(&mut harness, "Watered now");
        fill(&mut harness, "Of trays", "2");
        fill(&mut harness, "place", "floor");
        press(&mut harness, "Moved now");
        press(&mut harness, "Turned now");
        assert!(says(&harness, "All trays: watered, 40 ml each"));
        assert!(says(&harness, "Tray 2: moved to floor") && says(&harness, "Tray 2: turned round"));
        fill(&mut harness, "ml for each", "much");
        press(&mut harness, "Watered now");
        assert!(says(&harness, "'much' is not a number") || says(&harness, "much"));
        assert_eq!(harness.state().document().project().events.len(), 3);
        press(&mut harness, "Change 2026-12-01 10:00  Tray 2: moved to floor");
        fill(&mut harness, "When", "2026-12-02 24:10");
        assert!(says(&harness, "'2026-12-02 24:10' is not a time that exists"));
        assert!(is_disabled(&harness, "Keep the changes"));
        fill(&mut harness, "When", "2026-12-02 19:10");
        fill(&mut harness, "Trays", "1-2");
        fill(&mut harness, "Moved to", "the cold shelf");
        fill(&mut harness, "Note", "no room");
        common::shot(&mut harness, &format!("cold-days-event-{name}"));
        press(&mut harness, "Keep the changes");
        assert!(says(
            &harness,
            "2026-12-02 19:10  Trays 1 and 2: moved to the cold shelf: no room"
        ));
        let moved = harness.state().document().project().events.iter().nth(1).unwrap();
        assert_eq!(moved.at, date(2026, 12, 2).at(19, 10, 0, 0));
        assert!(matches!(&moved.kind, EventKind::Moved { to } if to == "the cold shelf"));
        undo(&mut harness);
        assert!(says(&harness, "2026-12-01 10:00  Tray 2: moved to floor"));
        press(&mut harness, "Note something…");
        assert!(is_disabled(&harness, "Note it"));
        fill(&mut harness, "Note", "the lamp burnt all night");
        press(&mut harness, "Note it");
        assert!(says(&harness, "Tray 2: the lamp burnt all night"));
        assert_eq!(harness.state().document().project().events.len(), 4);
        // A logger that lay where trays were moved to takes trays and times from the moves.
        drop_files(&mut harness, vec![("/nowhere/shelf.csv", shelf_file())]);
        press(&mut harness, "Trays that were at: floor");
        press(&mut harness, "Take 289 readings");
        let log = logs(&harness).remove(0);
        let tray = harness
            .state()
            .document()
            .project()
            .trays_of(TestId(1))
            .nth(1)
            .unwrap()
            .id;
        assert_eq!(
            log.spans,
            [LogSpan {
                trays: vec![tray],
                from: Some(now()),
                to: None
            }]
        );
    }
}

/// The budget is read, not asserted: the machine is shared and the build is not optimised.
#[test]
fn ten_logs_and_a_hundred_thousand_readings_are_drawn() {
    for (theme, name) in THEMES {
        let mut document = laid();
        for number in 0..10_u32 {
            let many: u32 = if number == 0 { 100_000 } else { 289 };
            let step = if number == 0 { 5 } else { 60 };
            let log = TemperatureLog {
                id: LogId(0),
                test: TestId(1),
                name: format!("Logger {}", number + 1),
                start: now().date().at(18, 0, 0, 0),
                readings: (0..many)
                    .map(|at| {
                        let day = f64::from(step * at) / 1440.0;
                        let spike = if at == 700 { 6.0 } else { 0.0 };
                        (
                            step * at,
                            10.0 + 0.4 * f64::from(number) + 0.3 * (day * 6.3).sin() + spike,
                        )
                    })
                    .collect(),
                spans: vec![LogSpan::default()],
            };
            document.run(&Command::AddLog(log), &stamp()).unwrap();
        }
        let begun = std::time::Instant::now();
        let mut harness = cold_days(document, theme, [1280.0, 900.0]);
        eprintln!("ten logs with 100,000 readings shown: {:?}", begun.elapsed());
        assert!(says(&harness, "Logger 10, all trays") && says(&harness, "100000 readings"));
        // The plot is reached and read by keyboard.
        let plot = "Temperatures over the days. Logger 1, all trays";
        let plot = harness.query_all_by_label_contains(plot).next().unwrap();
        plot.focus();
        harness.run();
        harness.key_press(Key::ArrowRight);
        harness.run();
        harness.key_press(Key::PageDown);
        harness.run();
        assert!(
            says(&harness, "Wed 2026-12-02 18:00: Logger 1 "),
            "the time a day after the first reading"
        );
        common::shot(&mut harness, &format!("cold-days-ten-{name}"));
    }
}

/// Small windows with large text, and °F.
#[test]
fn the_screens_have_room_in_every_window() {
    for (size, [width, height], scale) in tray_sample::LOOKS {
        let document = Document::new(demo::make("essel-thaw").unwrap());
        let mut harness = window(document, Pane::Trays, Theme::Light, [width, height], scale);
        by_key(&mut harness, "Cold days");
        common::shot(&mut harness, &format!("cold-days-{size}"));
        drop_files(&mut harness, vec![("/nowhere/floor.csv", floor_file())]);
        choose(&mut harness, "month first: 2026-12-03 to 2026-12-03");
        common::shot(&mut harness, &format!("cold-days-import-{size}"));
        by_key(&mut harness, "Cancel");
        by_key(&mut harness, "Change log Floor logger");
        common::shot(&mut harness, &format!("cold-days-edit-{size}"));
    }
}

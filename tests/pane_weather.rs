//! The weather of the seasons, in the window.
#![expect(clippy::unwrap_used, reason = "a test stops at what it does not expect")]

mod common;
mod tray_sample;

use common::{fill, press, says};
use egui::{Key, Modifiers, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use jiff::civil::date;
use std::fmt::Write as _;
use std::sync::Arc;
use tray_sample::{harvest, window};
use wintercrib::demo;
use wintercrib::model::{Document, WeatherDay};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

const THEMES: [(Theme, &str); 2] = [(Theme::Light, "light"), (Theme::Dark, "dark")];

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

fn drop_file(harness: &mut Harness<'_, App>, name: &'static str, text: &str) {
    let file: Arc<dyn egui::DroppedFile + Send + Sync> = Arc::new(OnDisk(name, text.into()));
    harness.input_mut().dropped_files = vec![file];
    harness.run();
}

fn choose(harness: &mut Harness<'_, App>, radio: &str) {
    harness.get_by_role_and_label(Role::RadioButton, radio).click();
    harness.run();
}

fn is_chosen(harness: &Harness<'_, App>, radio: &str) -> bool {
    let radio = harness.get_by_role_and_label(Role::RadioButton, radio);
    radio.accesskit_node().toggled() == Some(egui::accesskit::Toggled::True)
}

fn is_disabled(harness: &Harness<'_, App>, button: &str) -> bool {
    let button = harness.get_by_role_and_label(Role::Button, button);
    button.accesskit_node().is_disabled()
}

fn weather(document: Document, theme: Theme, size: [f32; 2]) -> Harness<'static, App> {
    let mut harness = window(document, Pane::Seasons, theme, size, 1.0);
    choose(&mut harness, "Weather");
    harness
}

fn days(harness: &Harness<'_, App>) -> Vec<WeatherDay> {
    harness.state().document().project().weather_days().all().to_vec()
}

/// Twelve days in June that exist in one order of the date only by the steps between them, without a unit.
fn station_file() -> String {
    let mut text = "Station 204;DEMO\r\nDatum;T;Tmax;Tmin\r\n".to_owned();
    for day in 1..=12 {
        write!(text, "06/{day:02}/2026;20,5;2{},5;1{},0\r\n", day % 10, day % 7).unwrap();
    }
    text
}

#[test]
fn a_file_is_taken_after_its_questions_are_answered_and_undo_takes_it_back() {
    for (theme, name) in THEMES {
        let mut harness = weather(harvest(8), theme, [1280.0, 800.0]);
        assert!(says(&harness, "There is no weather yet"));
        common::shot(&mut harness, &format!("weather-empty-{name}"));
        drop_file(&mut harness, "/nowhere/station.csv", &station_file());
        assert!(says(&harness, "Take the weather of station.csv"));
        assert!(says(
            &harness,
            "Dates are read month first: so each line is the day after the one before."
        ));
        // 'T' names neither high nor low; Tmax and Tmin do. Only the unit is open.
        assert!(says(&harness, "1 question must be answered first."));
        assert!(is_disabled(&harness, "Take the days"));
        common::shot(&mut harness, &format!("weather-question-{name}"));
        choose(&mut harness, "°C");
        assert!(says(&harness, "12 days, 2026-06-01 to 2026-06-12."));
        assert!(says(&harness, "New: 12."));
        // The answer stays in sight and can be changed.
        choose(&mut harness, "°F");
        assert!(is_chosen(&harness, "°F") && !is_chosen(&harness, "°C"));
        choose(&mut harness, "°C");
        common::shot(&mut harness, &format!("weather-answered-{name}"));
        press(&mut harness, "Take 12 days");
        assert_eq!(days(&harness).len(), 12);
        assert_eq!((days(&harness)[0].high_c, days(&harness)[0].low_c), (21.5, 11.0));
        assert!(says(
            &harness,
            "12 days of weather are taken; Undo takes them back."
        ));
        harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        harness.run();
        assert_eq!(days(&harness).len(), 0);
    }
}

#[test]
fn lines_that_cannot_be_read_are_named_and_left_out_when_that_is_said() {
    let mut harness = weather(harvest(8), Theme::Light, [1600.0, 1000.0]);
    drop_file(
        &mut harness,
        "/nowhere/w.txt",
        "day,high °C,low °C\n2025-05-12,20,8\n2026-05-13,20,8\n2026-05-14,7,18\n2026-05-16,x,8\n2026-05-17,21,9\n",
    );
    assert!(says(
        &harness,
        "Line 4: the high of 2026-05-14 (7) is below its low (18)"
    ));
    assert!(says(&harness, "'x' is not a temperature"));
    assert!(is_disabled(&harness, "Take 3 days"));
    assert!(says(&harness, "2 lines cannot be read"));
    harness
        .get_by_role_and_label(
            Role::CheckBox,
            "Leave out the 2 lines that cannot be read, and take the others",
        )
        .click();
    harness.run();
    assert!(says(&harness, "The file tells 2 years, 2025 to 2026"));
    choose(&mut harness, "only 2026 (3 days)");
    assert!(says(
        &harness,
        "3 days between the first and the last are missing: 2026-05-14 to 2026-05-16."
    ));
    common::shot(&mut harness, "weather-bad-lines");
    press(&mut harness, "Take 2 days");
    assert_eq!(days(&harness).len(), 2);
    // Once more: nothing of it is new, and Escape leaves.
    drop_file(
        &mut harness,
        "/nowhere/w.txt",
        "day,high °C,low °C\n2026-05-13,20,8\n2026-05-17,20,9\n",
    );
    assert!(says(
        &harness,
        "New: 0. There with other temperatures, and replaced: 1. There already: 1."
    ));
    harness.key_press(Key::Escape);
    harness.run();
    assert!(!says(&harness, "Take the weather of"));
    // What tells no weather is refused with its name.
    drop_file(&mut harness, "/nowhere/mean.csv", "day,mean\n2026-05-13,20\n");
    assert!(says(
        &harness,
        "mean.csv: The file has one temperature for each day"
    ));
    assert!(says(&harness, "Nothing was taken."));
    // A file that is no table is left alone, and the pane stays where it was.
    choose(&mut harness, "Overview");
    drop_file(&mut harness, "/nowhere/photo.jpg", "x");
    assert!(is_chosen(&harness, "Overview"));
}

#[test]
fn the_demo_shows_its_season_with_frost_and_heat() {
    for (theme, name) in THEMES {
        for (size, width) in [([1280.0, 800.0], "1280"), ([1600.0, 1000.0], "1600")] {
            let document = Document::new(demo::make("essel-thaw").unwrap());
            let mut harness = weather(document, theme, size);
            assert!(says(&harness, "Season 2025"));
            assert!(says(&harness, "the first killing one on 2025-09-25"));
            assert!(says(&harness, "Frost reached 6 ears."));
            common::shot(&mut harness, &format!("weather-{name}-{width}"));
        }
    }
    let document = Document::new(demo::make("essel-thaw").unwrap());
    let mut harness = weather(document, Theme::Light, [1280.0, 2000.0]);
    // The picture says in words what it shows, and is read by the arrow keys.
    harness
        .get_by_label_contains("Highs and lows of season 2025.")
        .focus();
    harness.run();
    harness.key_press(Key::ArrowRight);
    harness.run();
    assert!(says(&harness, "2025-04-26: high "));
    harness.key_press(Key::PageDown);
    harness.run();
    assert!(says(&harness, "2025-05-03: high "));
    for _ in 0..21 {
        harness.key_press(Key::PageDown);
        harness.run();
    }
    assert!(says(&harness, "2025-09-27: high "));
    assert!(says(&harness, "days of heat since planting."));
    assert!(says(&harness, "Seasons beside each other"));
    common::shot(&mut harness, "weather-tall");
}

#[test]
fn a_day_is_set_by_hand_days_are_removed_and_the_limit_of_frost_is_moved() {
    let document = Document::new(demo::make("essel-thaw").unwrap());
    let before = document.project().weather_days().all().len();
    let mut harness = weather(document, Theme::Dark, [1280.0, 1700.0]);
    fill(&mut harness, "Day", "2025-05-14");
    fill(&mut harness, "High in °C", "8");
    fill(&mut harness, "Low in °C", "18");
    press(&mut harness, "Set this day");
    assert!(says(&harness, "is below its low"));
    assert_eq!(days(&harness).len(), before);
    fill(&mut harness, "Low in °C", "1,5");
    press(&mut harness, "Set this day");
    assert!(says(
        &harness,
        "The weather of 2025-05-14 is set; Undo takes that back."
    ));
    let known = |harness: &Harness<'_, App>, on| harness.state().document().project().weather_days().on(on);
    let set = known(&harness, date(2025, 5, 14)).unwrap();
    assert_eq!((set.high_c, set.low_c), (8.0, 1.5));
    fill(&mut harness, "Days from", "2025-05-20");
    fill(&mut harness, "to", "2025-05-19");
    press(&mut harness, "Remove these days");
    assert!(says(&harness, "2025-05-19 is before 2025-05-20"));
    fill(&mut harness, "to", "2025-05-21");
    press(&mut harness, "Remove these days");
    assert_eq!(days(&harness).len(), before - 2);
    assert!(says(&harness, "Missing: 2025-05-20 to 2025-05-21."));
    common::shot(&mut harness, "weather-by-hand");
    // What was frost is none when the grower says that only a colder night is.
    fill(
        &mut harness,
        "Ears still out count as frosted at a low of",
        "-3,5",
    );
    harness.key_press(Key::Enter);
    harness.run();
    let project = harness.state().document().project();
    assert_eq!(project.about.frost_c, Some(-3.5));
    assert!(says(&harness, "a low at or below -3.5 °C") && !says(&harness, "Frost reached"));
}

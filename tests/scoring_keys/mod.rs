//! A laid test in the window, and the keys by which it is scored.

use egui::{Event, Key};
use egui_kittest::Harness;
use wintercrib::model::{
    Cell, Command, Document, Project, Recipe, SeasonId, Tally, TestDesign, TestId, TrayPlan,
};
use wintercrib::ui::app::App;

use super::common::says;
use super::tray_sample::{harvest, stamp};

/// A test of so many ears, laid twelve days ago: the final count is due today.
pub fn laid(ears: u32) -> Document {
    laid_on(ears, "2026-11-19")
}

pub fn laid_on(ears: u32, day: &str) -> Document {
    let mut document = harvest(ears);
    let design = Command::DesignTest(TestDesign {
        season: SeasonId(1),
        replaces: None,
        name: "Test 1".to_owned(),
        plan: TrayPlan::default(),
        recipe: Recipe::default(),
        check_lot: "Bulk 2025".to_owned(),
        seed: 7,
        ears: None,
    });
    document.run(&design, &stamp()).expect("the sample is sound");
    let lay = Command::LayTest {
        trays: Vec::new(),
        test: TestId(1),
        on: day.parse().expect("the sample is sound"),
    };
    document.run(&lay, &stamp()).expect("the sample is sound");
    document
}

pub fn project<'a>(harness: &'a Harness<'_, App>) -> &'a Project {
    harness.state().document().project()
}

/// Presses keys as a keyboard does, one a frame: a key and, for a sign, its text. `E` is Enter, `<` Backspace,
/// `T` Tab, `D` Delete, `^` Page Up, `_` Page Down, `{` and `}` the left and the right arrow.
pub fn keys(harness: &mut Harness<'_, App>, text: &str) {
    for letter in text.chars() {
        let key = match letter {
            'E' => Key::Enter,
            '<' => Key::Backspace,
            'T' => Key::Tab,
            '^' => Key::PageUp,
            '_' => Key::PageDown,
            'D' => Key::Delete,
            '{' => Key::ArrowLeft,
            '}' => Key::ArrowRight,
            sign => {
                let key = Key::from_name(&sign.to_string());
                let change = |pressed| {
                    key.map(|key| Event::Key {
                        key,
                        physical_key: None,
                        pressed,
                        repeat: false,
                        modifiers: egui::Modifiers::NONE,
                    })
                };
                let text = Some(Event::Text(sign.to_string()));
                let events = [change(true), text, change(false)];
                harness.input_mut().events.extend(events.into_iter().flatten());
                harness.run();
                continue;
            }
        };
        harness.key_press(key);
        harness.run();
    }
}

/// Types what is typed for a cell, once landmarks are passed and rows read back; gives the keys pressed.
pub fn score(harness: &mut Harness<'_, App>, text: &str) -> usize {
    let mut pressed = answer(harness);
    keys(harness, text);
    pressed += text.chars().count();
    pressed
}

/// Says yes to what is asked between cells; gives the keys pressed.
pub fn answer(harness: &mut Harness<'_, App>) -> usize {
    let mut pressed = 0;
    while says(harness, "Is it blank?") || says(harness, "Read back the last cell") {
        keys(harness, "E");
        pressed += 1;
    }
    pressed
}

/// The cells to count of the first test, in reading order.
pub fn cells(project: &Project) -> Vec<Cell> {
    let trays = project.trays_of(TestId(1));
    let cells = trays.flat_map(|tray| project.cells_of(tray.id));
    cells.filter(|cell| cell.content.is_counted()).cloned().collect()
}

pub fn tally(strong: u16, weak: u16, abnormal: u16, dead: u16) -> Tally {
    Tally {
        strong,
        weak,
        abnormal,
        dead,
        ..Tally::default()
    }
}

// Each test file uses a part of this module; naming the rest keeps it from being called dead code.
const _: () = {
    let _: fn(u32) -> Document = laid;
    let _: fn(&mut Harness<'_, App>, &str) -> usize = score;
    let _: fn(&mut Harness<'_, App>) -> usize = answer;
    let _: fn(u16, u16, u16, u16) -> Tally = tally;
};

//! The whole job through the window, by key and label: a new project, 24 ears, a tray, counts, a cutoff, a frozen list,
//! and everything found again. Buttons are reached by the Tab key, as by someone who has no mouse.

#![expect(clippy::unwrap_used, reason = "a helper fails its test by panicking")]

mod common;

use std::cell::Cell as StdCell;
use std::fmt::Write as _;
use std::path::Path;
use std::process::Command as Process;
use std::rc::Rc;
use std::time::{Duration, Instant};

use egui::accesskit::Role;
use egui::{Event, Key, Modifiers, PointerButton, Pos2, Theme, ViewportEvent, ViewportId, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use jiff::ToSpan as _;
use jiff::civil::{DateTime, date};
use sha2::{Digest as _, Sha256};
use wintercrib::demo;
use wintercrib::insight::Insight;
use wintercrib::model::{
    About, Cell, CellContent, Document, Pass, PlantingList, Project, SeasonId, Stand, Tally, TestId,
};
use wintercrib::ui::app::App;
use wintercrib::ui::widgets::path_prompt::{PathAnswer, ScriptedPathPrompt};

const SEASON: SeasonId = SeasonId(1);
const EARS: u32 = 24;
const MORNING: DateTime = date(2026, 11, 25).at(9, 0, 0, 0);

/// A window at a clock that the test sets; whoever asks for a file gets this one.
fn window(path: &Path, clock: &Rc<StdCell<DateTime>>) -> Harness<'static, App> {
    let (answer, clock) = (PathAnswer::Chosen(path.to_path_buf()), Rc::clone(clock));
    let mut window = common::harness([1280.0, 800.0], Theme::Light).build_eframe(move |_creation| {
        let empty = Document::new(Project::new(About::new("DEMO empty", "none")));
        App::in_memory(empty, move || clock.get()).with_prompt(ScriptedPathPrompt::new(vec![answer]))
    });
    window.run();
    window
}

fn project<'a>(window: &'a Harness<'_, App>) -> &'a Project {
    window.state().document().project()
}

fn ctrl(window: &mut Harness<'_, App>, key: Key) {
    window.key_press_modifiers(Modifiers::COMMAND, key);
    window.run();
}

/// Goes to a button with the Tab key and presses it with Enter.
fn press(window: &mut Harness<'_, App>, button: &str) {
    const MOST_TABS: usize = 80;
    for _ in 0..MOST_TABS {
        window.key_press(Key::Tab);
        window.run();
        let node = window.get_by_role_and_label(Role::Button, button);
        if node.accesskit_node().is_focused() {
            window.key_press(Key::Enter);
            window.run();
            return;
        }
    }
    panic!("the button '{button}' cannot be reached by the Tab key");
}

fn type_into(window: &mut Harness<'_, App>, field: &str, text: &str) {
    window.get_by_role_and_label(Role::TextInput, field).focus();
    window.run();
    window
        .get_by_role_and_label(Role::TextInput, field)
        .type_text(text);
    window.run();
}

fn says(window: &Harness<'_, App>, part: &str) {
    assert!(
        window.query_all_by_label_contains(part).next().is_some(),
        "the window does not say '{part}'; notices: {:?}",
        window.state().notices().shown()
    );
}

/// Runs frames until background work has been shown.
fn settle(window: &mut Harness<'_, App>) {
    let start = Instant::now();
    loop {
        std::thread::sleep(Duration::from_millis(10));
        window.step();
        let is_quiet = start.elapsed() > Duration::from_millis(400) && !window.state().is_busy();
        if is_quiet || start.elapsed() > Duration::from_mins(1) {
            break;
        }
    }
    window.step();
}

/// Types signs as a keyboard does: each is a key and its text.
fn type_keys(window: &mut Harness<'_, App>, signs: &str) {
    for sign in signs.chars() {
        let key = Key::from_name(&sign.to_string());
        let change = |pressed| {
            key.map(|key| Event::Key {
                key,
                physical_key: None,
                pressed,
                repeat: false,
                modifiers: Modifiers::NONE,
            })
        };
        let text = Some(Event::Text(sign.to_string()));
        let events = [change(true), text, change(false)];
        window.input_mut().events.extend(events.into_iter().flatten());
        window.run();
    }
}

/// Presses the pointer at a place, moves it to another one, and lets it go.
fn drag(window: &mut Harness<'_, App>, from: Pos2, to: Pos2) {
    let button = |pos, pressed| Event::PointerButton {
        pos,
        button: PointerButton::Primary,
        pressed,
        modifiers: Modifiers::NONE,
    };
    for event in [
        Event::PointerMoved(from),
        button(from, true),
        Event::PointerMoved(from.lerp(to, 0.5)),
        Event::PointerMoved(to),
        button(to, false),
    ] {
        window.event(event);
        window.run();
    }
}

/// The table as it is copied out of a spreadsheet: eight rows of three ears.
fn harvest_table() -> String {
    let mut table = "Ear number\tMother row\tMaturity days\tKernels\n".to_owned();
    for number in 1..=EARS {
        let (row, days, kernels) = ((number - 1) / 3 + 1, 90 + number * 7 % 20, 120 + number);
        writeln!(table, "{number}\t{row}\t{days}\t{kernels}").unwrap();
    }
    table
}

/// How many of the ten kernels of the ear with this number germinate: some ears well, some badly, most between.
fn germinated(number: u32) -> u16 {
    [9, 4, 8, 10, 7, 2, 8, 6][number as usize % 8]
}

fn strong_in(project: &Project, cell: &Cell) -> u16 {
    match cell.content {
        CellContent::Ear(ear) => germinated(project.ears.get(ear).unwrap().number),
        _ => 8,
    }
}

/// The cells to count, in the order in which the pane goes through them.
fn cells_to_count(project: &Project) -> Vec<Cell> {
    let trays = project.trays_of(TestId(1));
    let cells = trays.flat_map(|tray| project.cells_of(tray.id));
    cells.filter(|cell| cell.content.is_counted()).cloned().collect()
}

fn sha256(text: &str) -> String {
    let digest = Sha256::digest(text.as_bytes());
    digest.iter().fold(String::new(), |mut hex, byte| {
        write!(hex, "{byte:02x}").unwrap();
        hex
    })
}

fn begin(window: &mut Harness<'_, App>) {
    ctrl(window, Key::N);
    type_into(window, "Name of the population", "DEMO Little Tarn");
    press(window, "Choose where it goes…");
    settle(window);
    says(window, "All changes are on disk");
    assert_eq!(project(window).latest_season().unwrap().year, 2026);
}

fn harvest(window: &mut Harness<'_, App>) {
    window.event(Event::Paste(harvest_table()));
    window.run();
    let project = project(window);
    assert_eq!(project.ears_of(SEASON).count(), EARS as usize);
    assert_eq!(project.rows_of(SEASON).count(), 8);
    let ninth = project.ear_numbered(SEASON, 9).unwrap();
    assert_eq!(project.mother_label(ninth), "3");
    assert_eq!(project.maturity_days(ninth), Some(93));
    assert_eq!(project.kernels_of(ninth.id), Some(129));
}

fn lay(window: &mut Harness<'_, App>) {
    ctrl(window, Key::Num2);
    says(window, "Proposal: nothing is recorded");
    press(window, "Design the test");
    assert_eq!(cells_to_count(project(window)).len(), 26, "24 ears and 2 checks");
    press(window, "Lay the trays");
    press(window, "Note as laid");
    let test = project(window).tests.get(TestId(1)).unwrap();
    assert_eq!(test.laid, Some(MORNING.date()));
    let ninth = project(window).ear_numbered(SEASON, 9).unwrap().id;
    assert_eq!(project(window).kernels_of(ninth), Some(119), "ten were laid");
}

/// Says yes to what is asked between cells: landmarks are blank, the last cell of a row is the right one.
fn pass_questions(window: &mut Harness<'_, App>) {
    let is_asked = |window: &Harness<'_, App>| {
        let mut asked = window.query_all_by_label_contains("Is it blank?");
        let mut read = window.query_all_by_label_contains("Read back the last cell");
        asked.next().is_some() || read.next().is_some()
    };
    while is_asked(window) {
        type_keys(window, "+");
    }
}

fn score(window: &mut Harness<'_, App>) {
    ctrl(window, Key::Num3);
    let cells = cells_to_count(project(window));
    for cell in &cells {
        let signs = match strong_in(project(window), cell) {
            10 => "107".to_owned(),
            strong => format!("{strong}*{}", strong / 2 + 2),
        };
        pass_questions(window);
        type_keys(window, &signs);
    }
    pass_questions(window);
    for cell in &cells {
        let strong = strong_in(project(window), cell);
        let wanted = Tally {
            strong,
            dead: 10 - strong,
            ..Tally::default()
        };
        let count = project(window).count_in_force(cell.id, Pass::Final);
        assert_eq!(count.map(|count| count.tally), Some(wanted), "{}", cell.name());
    }
    says(window, "All cells of the final count are counted");
}

/// Drags the cutoff of cold germination from 70 to a lower percent, and gives that.
fn choose(window: &mut Harness<'_, App>) -> f64 {
    ctrl(window, Key::Num4);
    let name = "Least cold germination";
    let line = window.get_by_role_and_label(Role::Slider, name).rect().center();
    let kept = |window: &Harness<'_, App>| {
        let document = window.state().document();
        let insight = Insight::default();
        let cutoffs = insight.cutoffs(document, SEASON);
        let choice = insight.choice(document, SEASON, &cutoffs);
        choice
            .standings
            .iter()
            .filter(|standing| standing.stand == Stand::Plant)
            .count()
    };
    let before = kept(window);
    drag(window, line, line + vec2(0.0, 40.0));
    let cutoffs = Insight::default().cutoffs(window.state().document(), SEASON);
    let percent = cutoffs.germination_percent.unwrap();
    assert!(percent > 30.0 && percent < 70.0, "{percent}");
    let shown = window
        .get_by_role_and_label(Role::Slider, name)
        .accesskit_node()
        .numeric_value();
    assert_eq!(shown, Some(percent));
    assert!(kept(window) > before, "a lower cutoff keeps more: {before}");
    percent
}

fn freeze(window: &mut Harness<'_, App>) -> PlantingList {
    press(window, "Freeze the planting list…");
    type_into(window, "Frozen by", "Grower A");
    press(window, "Freeze");
    says(window, "Planting list 1 is frozen");
    project(window).list_in_force(SEASON).unwrap().clone()
}

fn save_and_close(mut window: Harness<'_, App>) {
    ctrl(&mut window, Key::S);
    settle(&mut window);
    says(&window, "Saved.");
    assert_eq!(window.state().document().unsaved_events(), 0);
    let root = window.input_mut().viewports.entry(ViewportId::ROOT).or_default();
    root.events.push(ViewportEvent::Close);
    window.step();
    assert!(
        window.query_by_label_contains("when the window closes").is_none(),
        "nothing is left to ask"
    );
}

#[test]
fn the_whole_job_from_an_empty_project_to_a_list_found_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("tarn.ron");
    let clock = Rc::new(StdCell::new(MORNING));

    let mut first = window(&path, &clock);
    begin(&mut first);
    harvest(&mut first);
    lay(&mut first);
    clock.set(MORNING.saturating_add(12.days()));
    score(&mut first);
    let percent = choose(&mut first);
    let list = freeze(&mut first);
    assert_eq!(list.frozen_on, date(2026, 12, 7));
    assert_eq!(list.cutoffs.germination_percent, Some(percent));
    let worked_on = project(&first).clone();
    save_and_close(first);

    let mut second = window(&path, &clock);
    ctrl(&mut second, Key::O);
    settle(&mut second);
    assert!(*project(&second) == worked_on, "the project is as it was left");
    assert_eq!(project(&second).validate(), []);
    let found = project(&second).list_in_force(SEASON).unwrap().clone();
    assert_eq!(found, list);
    assert_eq!(sha256(&found.text()), list.digest);
    // What was saved frozen stays, also against undo.
    ctrl(&mut second, Key::Z);
    settle(&mut second);
    assert_eq!(project(&second).list_in_force(SEASON), Some(&list));
    ctrl(&mut second, Key::Num5);
    says(&second, &list.digest);
    common::shot(&mut second, "whole_job_list_found_again");

    let program = |words: &[&str]| {
        Process::new(env!("CARGO_BIN_EXE_wintercrib"))
            .current_dir(folder.path())
            .args(words)
            .output()
            .unwrap()
    };
    let checked = program(&["check", "tarn.ron"]);
    assert_eq!(checked.status.code(), Some(0), "{checked:?}");
    let printed = program(&["print", "tarn.ron", "planting-list", "--out", "list.txt"]);
    assert_eq!(printed.status.code(), Some(0), "{printed:?}");
    let text = std::fs::read_to_string(folder.path().join("list.txt")).unwrap();
    assert_eq!(sha256(&text), list.digest);
}

#[test]
fn the_first_ten_minutes_go_as_the_readme_says() {
    let mut window = common::harness([1280.0, 800.0], Theme::Light).build_eframe(|_creation| {
        let document = Document::new(demo::make("pocket-starter").unwrap());
        App::in_memory(document, || date(2026, 1, 24).at(9, 0, 0, 0))
    });
    window.run();
    ctrl(&mut window, Key::Num3);
    // Four cells follow each other, then the check lot, which is counted, lies between.
    for signs in ["8.7", "8.7", "8.7", "8.7", "n8.7"] {
        pass_questions(&mut window);
        type_keys(&mut window, signs);
    }
    pass_questions(&mut window);
    says(&window, "All cells of the final count are counted");
    let last = Tally {
        strong: 8,
        weak: 2,
        ..Tally::default()
    };
    let counts = project(&window).counts.iter().rev().take(5);
    assert!(counts.into_iter().all(|count| count.tally == last));
    ctrl(&mut window, Key::Num4);
    let line = window.get_by_role_and_label(Role::Slider, "Least cold germination");
    let line = line.rect().center();
    drag(&mut window, line, line - vec2(0.0, 30.0));
    freeze(&mut window);
    assert!(window.query_by_label("Print to a PDF file…").is_some());
}

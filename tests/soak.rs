//! A long evening: very many commands through the document, and many steps through the window. Memory stays level, nothing
//! slows down, the project stays sound, and undo goes back to the first byte.
//!
//! A tenth of it runs with all tests; the whole with
//! `cargo test --test soak -- --ignored --nocapture`.
#![expect(clippy::unwrap_used, reason = "a test's helper fails the test by panicking")]

mod common;
mod dice;

use std::sync::{Mutex, PoisonError};
use std::time::{Duration, Instant};

use dice::Dice;
use egui::{Key, Modifiers, Theme};
use egui_kittest::Harness;
use wintercrib::demo;
use wintercrib::insight::Insight;
use wintercrib::model::*;
use wintercrib::store::format;
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

/// The clock goes on by a minute with every thousand steps.
fn stamp(step: u32) -> Stamp {
    let minutes = step / 1_000;
    Stamp {
        at: jiff::civil::date(2026, 2, 10).at(19 + (minutes / 60) as i8, (minutes % 60) as i8, 0, 0),
        by: "Grower A".to_owned(),
    }
}

fn thaw() -> Document {
    Document::new(demo::make("essel-thaw").unwrap())
}

fn text(document: &Document) -> String {
    format::write(document.project()).unwrap()
}

/// The memory of this process in use, in bytes; none where the system does not tell.
fn memory() -> Option<u64> {
    let text = std::fs::read_to_string("/proc/self/statm").ok()?;
    let pages: u64 = text.split_whitespace().nth(1)?.parse().ok()?;
    Some(pages * 4_096)
}

fn one_of<T: Copy>(dice: &mut Dice, all: &[T]) -> T {
    all[(dice.uniform() * all.len() as f64) as usize]
}

/// What the scripted grower does next: notes, maturity, counts read again, cutoffs, words.
fn command(dice: &mut Dice, project: &Project, step: u32) -> Command {
    let season = project.latest_season().unwrap().id;
    let ears: Vec<EarId> = project.ears_of(season).map(|ear| ear.id).collect();
    let ear = one_of(dice, &ears);
    let edit = |field, value| Command::EditEars(vec![EarEdit { ear, field, value }]);
    match step % 8 {
        0 => edit(EarField::Note, EarValue::Text(format!("note {step}"))),
        1 => edit(
            EarField::MaturityDays,
            EarValue::Whole((70.0 + 30.0 * dice.uniform()) as u32),
        ),
        2..=4 => {
            let cells: Vec<CellId> = project
                .cells
                .iter()
                .filter(|cell| cell.content.is_counted() && project.laid_on(cell).is_some())
                .map(|cell| cell.id)
                .collect();
            let cell = one_of(dice, &cells);
            let sown = project.sown(project.cells.get(cell).unwrap());
            let strong = dice.of(u32::from(sown), 0.7) as u16;
            let tally = Tally {
                strong,
                dead: sown - strong,
                ..Tally::default()
            };
            let seen = Seen {
                overruled: "read again by lamplight".to_owned(),
                ..Seen::new(cell, Pass::Final, tally)
            };
            Command::RecordCounts {
                counts: vec![seen],
                on: Some(jiff::civil::date(2026, 2, 10)),
                by: "Grower A".to_owned(),
            }
        }
        5 | 6 => Command::SetCutoffs {
            season,
            cutoffs: Cutoffs {
                germination_percent: Some((40.0 + 50.0 * dice.uniform()).round()),
                ..Cutoffs::default()
            },
            seen: SeenWhileMoving::default(),
        },
        _ => Command::SetWord {
            season,
            ears: vec![ear],
            word: (step % 16 == 7).then(|| Word {
                kind: WordKind::Always,
                reason: "the only red ear".to_owned(),
            }),
        },
    }
}

/// Runs so many commands; every hundredth is taken back and done again.
fn commands(number: u32) {
    let _alone = ALONE.lock().unwrap_or_else(PoisonError::into_inner);
    let mut document = thaw();
    let start = text(&document);
    let insight = Insight::default();
    let mut dice = Dice(rand_pcg::Pcg64::new(20_261_128, 2));
    let (mut taken, mut times, mut levels) = (0, Vec::new(), Vec::new());
    let part = number / 10;
    let mut begin = Instant::now();
    for step in 1..=number {
        let command = command(&mut dice, document.project(), step);
        match document.run(&command, &stamp(step)) {
            Ok(_) => taken += 1,
            Err(problem) => assert!(problem.to_string().len() > 10),
        }
        document.close_step();
        if step % 100 == 0 {
            document.undo(&stamp(step)).unwrap();
            document.redo(&stamp(step)).unwrap();
            // What the window would show, so that what is remembered is renewed too.
            let season = document.project().latest_season().unwrap().id;
            let cutoffs = insight.cutoffs(&document, season);
            insight.choice(&document, season, &cutoffs);
        }
        // As the journal does.
        document.take_events();
        if step % part == 0 {
            times.push(begin.elapsed());
            levels.extend(memory());
            assert_eq!(document.project().validate(), []);
            begin = Instant::now();
        }
    }
    let end = text(&document);
    let mut undone = 0;
    while document.undo(&stamp(number)).unwrap().is_some() {
        undone += 1;
    }
    document.take_events();
    assert!(text(&document) == start, "undo goes back to the first byte");
    for _ in 0..undone {
        document.redo(&stamp(number)).unwrap().unwrap();
    }
    assert!(text(&document) == end, "and redo to the last");
    println!(
        "{number} commands, {taken} taken, {undone} steps undone to the first byte; each tenth took {times:?}; memory after each {levels:?}"
    );
    assert!(taken > number / 2, "{taken}");
    is_level(&levels, number, 10_000_000);
    is_as_quick(&times);
}

/// The memory of the second half of a run grows by little: by `room` and 500 bytes for each step, which are counts that stay
/// in the project, and what undo needs.
fn is_level(levels: &[u64], steps: u32, room: u64) {
    if let (Some(middle), Some(last)) = (levels.get(levels.len() / 2), levels.last()) {
        let grown = last.saturating_sub(*middle);
        assert!(
            grown < room + 500 * u64::from(steps),
            "grown by {grown}: {levels:?}"
        );
    }
}

/// One run at a time, so that each measures its own memory.
static ALONE: Mutex<()> = Mutex::new(());

/// What the scripted grower does in the window next.
fn step_in(window: &mut Harness<'static, App>, dice: &mut Dice, step: u32) {
    let keys = [
        Key::Tab,
        Key::ArrowDown,
        Key::ArrowRight,
        Key::ArrowUp,
        Key::Enter,
        Key::Space,
        Key::Escape,
        Key::F4,
        Key::F9,
        Key::Num7,
        Key::PageDown,
        Key::C,
        Key::F1,
    ];
    match step % 6 {
        0 => {
            let pane = one_of(dice, &Pane::ALL);
            window.key_press(Key::Escape);
            window.step();
            window.state_mut().show(pane);
        }
        1 if step % 18 == 1 => window.key_press_modifiers(Modifiers::COMMAND, Key::Z),
        2 => {
            let at = egui::pos2(
                1280.0 * dice.uniform() as f32,
                90.0 + 640.0 * dice.uniform() as f32,
            );
            window.hover_at(at);
            window.step();
            for pressed in [true, false] {
                window.event(egui::Event::PointerButton {
                    pos: at,
                    button: egui::PointerButton::Primary,
                    pressed,
                    modifiers: Modifiers::NONE,
                });
                window.step();
            }
        }
        _ => window.key_press(one_of(dice, &keys)),
    }
    window.step();
}

/// Takes so many steps in the window, by key and mouse, wherever they lead.
fn steps(number: u32) {
    let _alone = ALONE.lock().unwrap_or_else(PoisonError::into_inner);
    let app = App::in_memory(thaw(), || jiff::civil::date(2026, 2, 10).at(19, 0, 0, 0));
    let mut window = common::harness([1280.0, 800.0], Theme::Light).build_eframe(|_| app);
    window.run_steps(4);
    let mut dice = Dice(rand_pcg::Pcg64::new(20_261_128, 3));
    let (mut times, mut levels) = (Vec::new(), Vec::new());
    let part = number / 10;
    let mut begin = Instant::now();
    for step in 1..=number {
        step_in(&mut window, &mut dice, step);
        if step % part == 0 {
            times.push(begin.elapsed());
            levels.extend(memory());
            assert_eq!(window.state().document().project().validate(), []);
            begin = Instant::now();
        }
    }
    println!("{number} steps in the window; each tenth took {times:?}; memory after each {levels:?}");
    // The picture of all letters doubles when new ones find no room, once or twice in a run: 32 MB.
    is_level(&levels, number, 70_000_000);
    is_as_quick(&times);
}

/// The second half of a run takes about as long as the first. The selection grows with its moves and words, which each of its
/// steps holds, and other programs have the machine too: four times as long would be another matter.
fn is_as_quick(times: &[Duration]) {
    let (first, second) = times.split_at(times.len() / 2);
    let sum = |times: &[Duration]| times.iter().sum::<Duration>();
    assert!(sum(second) < 4 * sum(first) + Duration::from_secs(5), "{times:?}");
}

#[test]
fn ten_thousand_commands() {
    commands(10_000);
}

#[test]
#[ignore = "minutes; run by hand"]
fn a_hundred_thousand_commands() {
    commands(100_000);
}

#[test]
fn two_hundred_steps_in_the_window() {
    steps(200);
}

#[test]
#[ignore = "minutes; run by hand"]
fn two_thousand_steps_in_the_window() {
    steps(2_000);
}

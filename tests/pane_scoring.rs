//! The scoring pane, driven by the number keys, and looked at.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod common;
mod tray_sample;

use egui::{Event, Key, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use tray_sample::{LOOKS, harvest, stamp, window};
use wintercrib::insight::Insight;
use wintercrib::model::{
    Cell, CellContent, Command, Document, Pass, Place, Project, Recipe, SeasonId, Seen, Tally, TestDesign,
    TestId, TrayPlan,
};
use wintercrib::ui::app::App;
use wintercrib::ui::context::{Pane, PaneCtx};
use wintercrib::ui::panes::scoring::Scoring;

/// A laid test of so many ears.
fn laid(ears: u32) -> Document {
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
    document.run(&design, &stamp()).unwrap();
    // Laid twelve days ago: the final count is due today.
    let lay = Command::LayTest {
        trays: Vec::new(),
        test: TestId(1),
        on: "2026-11-19".parse().unwrap(),
    };
    document.run(&lay, &stamp()).unwrap();
    document
}

fn open(document: Document) -> Harness<'static, App> {
    window(document, Pane::Scoring, Theme::Light, [1280.0, 800.0], 1.0)
}

fn project<'a>(harness: &'a Harness<'_, App>) -> &'a Project {
    harness.state().document().project()
}

/// Presses keys as a keyboard does, one a frame: a key and, for a sign, its text. `E` is Enter, `<` Backspace,
/// `T` Tab, `^` Page Up, `v` Page Down, `r` the right arrow.
fn keys(harness: &mut Harness<'_, App>, text: &str) {
    for letter in text.chars() {
        let key = match letter {
            'E' => Key::Enter,
            '<' => Key::Backspace,
            'T' => Key::Tab,
            '^' => Key::PageUp,
            'v' => Key::PageDown,
            'r' => Key::ArrowRight,
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

fn says(harness: &Harness<'_, App>, part: &str) -> bool {
    harness.query_all_by_label_contains(part).next().is_some()
}

/// The cells to count of the first test, in reading order.
fn cells(project: &Project) -> Vec<Cell> {
    let trays = project.trays_of(TestId(1));
    let cells = trays.flat_map(|tray| project.cells_of(tray.id));
    cells.filter(|cell| cell.content.is_counted()).cloned().collect()
}

fn tally_of(project: &Project, cell: &Cell) -> Option<(Tally, Option<u8>)> {
    let count = project.count_in_force(cell.id, Pass::Final)?;
    Some((count.tally, count.vigor))
}

fn tally(strong: u16, weak: u16, abnormal: u16, dead: u16) -> Tally {
    Tally {
        strong,
        weak,
        abnormal,
        dead,
        ..Tally::default()
    }
}

/// A tray as it may look, with about 75 % germination: what is typed, strong, weak, abnormal, dead, vigor.
const TRAY: [(&str, [u16; 4], Option<u8>); 26] = [
    ("8*7", [8, 0, 0, 2], Some(7)),
    ("81*6", [8, 1, 0, 1], Some(6)),
    ("108", [10, 0, 0, 0], Some(8)),
    ("621*6", [6, 2, 1, 1], Some(6)),
    ("917", [9, 1, 0, 0], Some(7)),
    ("7*7", [7, 0, 0, 3], Some(7)),
    ("72*5", [7, 2, 0, 1], Some(5)),
    ("5*6", [5, 0, 0, 5], Some(6)),
    ("41*4", [4, 1, 0, 5], Some(4)),
    ("9*8", [9, 0, 0, 1], Some(8)),
    ("109", [10, 0, 0, 0], Some(9)),
    ("8.7", [8, 2, 0, 0], Some(7)),
    ("80117", [8, 0, 1, 1], Some(7)),
    ("7215", [7, 2, 1, 0], Some(5)),
    ("6*6", [6, 0, 0, 4], Some(6)),
    ("0*0", [0, 0, 0, 10], Some(0)),
    ("2*2", [2, 0, 0, 8], Some(2)),
    ("9*9", [9, 0, 0, 1], Some(9)),
    ("735", [7, 3, 0, 0], Some(5)),
    ("8+1++1+8", [8, 1, 0, 1], Some(8)),
    ("10E", [10, 0, 0, 0], None),
    ("1+*1", [1, 0, 0, 9], Some(1)),
    ("91E", [9, 1, 0, 0], None),
    ("63*5", [6, 3, 0, 1], Some(5)),
    ("81018", [8, 1, 0, 1], Some(8)),
    ("51*4", [5, 1, 0, 4], Some(4)),
];

#[test]
fn a_whole_tray_is_scored_by_the_number_keys_with_few_of_them() {
    let mut harness = open(laid(24));
    let all = cells(project(&harness));
    assert_eq!(all.len(), TRAY.len());
    let mut pressed = 0;
    for (text, _, _) in TRAY {
        keys(&mut harness, text);
        pressed += text.chars().count();
    }
    for (cell, (_, [strong, weak, abnormal, dead], vigor)) in all.iter().zip(TRAY) {
        let wanted = (tally(strong, weak, abnormal, dead), vigor);
        assert_eq!(tally_of(project(&harness), cell), Some(wanted), "{}", cell.name());
    }
    let average = f64::from(pressed as u32) / all.len() as f64;
    eprintln!("{average:.2} keys a cell");
    assert!(average <= 5.0, "{average} keys a cell");
    assert!(says(
        &harness,
        "Tray 1 is counted. All cells of the final count are counted."
    ));
    assert!(says(&harness, "Tray 26 of 26, test 26 of 26 (100 %)"));
    // Twelve days after laying the final pass is shown without asking; the count bears the day.
    let count = project(&harness).count_in_force(all[0].id, Pass::Final).unwrap();
    assert_eq!(count.on.unwrap().to_string(), "2026-12-01");
}

#[test]
fn at_the_end_of_a_tray_the_next_one_is_named() {
    let mut harness = open(laid(240));
    keys(&mut harness, "v^");
    let first = project(&harness).trays_of(TestId(1)).next().unwrap().id;
    let counted = project(&harness)
        .cells_of(first)
        .filter(|cell| cell.content.is_counted())
        .count();
    for _ in 0..counted {
        keys(&mut harness, "8*7");
    }
    assert!(says(&harness, "Tray 1 is counted. Take tray 2 now."));
    assert!(says(&harness, "Tray 2 of 9"));
    keys(&mut harness, "-");
    assert!(says(&harness, "Tray 1 of 9"));
    keys(&mut harness, "n");
    assert!(says(&harness, "Tray 2 of 9"));
}

#[test]
fn many_keys_in_one_frame_are_taken_in_order() {
    let mut harness = open(laid(24));
    for sign in "8*781*6".chars() {
        harness.event(Event::Text(sign.to_string()));
    }
    harness.run();
    let all = cells(project(&harness));
    assert_eq!(
        tally_of(project(&harness), &all[0]),
        Some((tally(8, 0, 0, 2), Some(7)))
    );
    assert_eq!(
        tally_of(project(&harness), &all[1]),
        Some((tally(8, 1, 0, 1), Some(6)))
    );
}

#[test]
fn a_sum_that_is_not_the_kernels_laid_is_refused_with_the_cell_open() {
    let mut harness = open(laid(24));
    let first = cells(project(&harness))[0].clone();
    keys(&mut harness, "8+0+0+0+1+");
    keys(&mut harness, "E");
    assert!(says(&harness, "The counts add up to 9, but 10 kernels were laid"));
    assert_eq!(project(&harness).counts.len(), 0);
    harness.get_by_label("9 of 10 kernels, 1 to go");
    keys(&mut harness, "17");
    assert!(says(&harness, "Recorded tray 1"));
    let count = project(&harness).count_in_force(first.id, Pass::Final).unwrap();
    assert_eq!((count.tally.fresh, count.tally.missing), (1, 1));
    keys(&mut harness, "9+3+");
    assert!(says(
        &harness,
        "The counts add up to 12, but 10 kernels were laid"
    ));
    harness.get_by_label("12 of 10 kernels, ⚠ 2 too many");
    keys(&mut harness, "<1");
    harness.get_by_label("10 of 10 kernels, ✓ complete");
}

#[test]
fn a_new_entry_is_a_correction_and_the_old_count_stays() {
    let mut harness = open(laid(24));
    let first = cells(project(&harness))[0].clone();
    keys(&mut harness, "8*7-");
    assert!(says(
        &harness,
        "Final count on 2026-12-01: 8 strong, 2 dead, vigor 7. A new entry is a correction of it."
    ));
    keys(&mut harness, "m9*6");
    assert!(says(&harness, "Corrected tray 1"));
    let counts: Vec<_> = project(&harness).counts_of(first.id).collect();
    assert_eq!(counts.len(), 2);
    assert_eq!(counts[1].corrects, Some(counts[0].id));
    let in_force = project(&harness).count_in_force(first.id, Pass::Final).unwrap();
    assert_eq!(
        (in_force.tally, in_force.vigor, in_force.mould),
        (tally(9, 0, 0, 1), Some(6), true)
    );
    // Each count is a step of its own for undo.
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::Z);
    harness.run();
    let in_force = project(&harness).count_in_force(first.id, Pass::Final).unwrap();
    assert_eq!(in_force.tally, tally(8, 0, 0, 2));
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::Z);
    harness.run();
    assert_eq!(project(&harness).counts.len(), 0);
}

#[test]
fn a_first_count_passes_over_counted_cells_and_a_correction_does_not() {
    let mut document = laid(24);
    let counted = cells(document.project());
    let seen = |cell: &Cell| Seen {
        cell: cell.id,
        pass: Pass::Final,
        second: false,
        tally: tally(5, 0, 0, 5),
        mould: false,
        vigor: None,
        note: String::new(),
        root_mm: None,
        shoot_mm: None,
        overruled: String::new(),
    };
    let counts = vec![seen(&counted[1]), seen(&counted[2])];
    document
        .run(
            &Command::RecordCounts {
                counts,
                on: None,
                by: String::new(),
            },
            &stamp(),
        )
        .unwrap();
    let mut harness = open(document);
    let strong = |harness: &Harness<'_, App>, place: usize| {
        project(harness)
            .count_in_force(counted[place].id, Pass::Final)
            .map(|count| count.tally.strong)
    };
    keys(&mut harness, "8*7");
    keys(&mut harness, "9*7");
    let found: Vec<_> = (0..4).map(|place| strong(&harness, place)).collect();
    assert_eq!(found, [Some(8), Some(5), Some(5), Some(9)]);
    // Back to the second cell: a correction goes on to the third.
    keys(&mut harness, "----");
    keys(&mut harness, "r");
    keys(&mut harness, "6*7");
    keys(&mut harness, "7*7");
    let found: Vec<_> = (0..4).map(|place| strong(&harness, place)).collect();
    assert_eq!(found, [Some(8), Some(6), Some(7), Some(9)]);
}

#[test]
fn any_cell_is_reached_by_key_name_or_ear_number() {
    let mut harness = open(laid(240));
    let find = |harness: &Harness<'_, App>, tray: usize, row: u16, column: u16| {
        let project = project(harness);
        let tray = project.trays_of(TestId(1)).nth(tray).unwrap().id;
        project.cell_at(tray, row, column).unwrap().clone()
    };
    keys(&mut harness, "g");
    keys(&mut harness, "3 B4E");
    let cell = find(&harness, 2, 2, 4);
    let CellContent::Ear(ear) = cell.content else {
        panic!("the sample has an ear at tray 3 B4")
    };
    let number = project(&harness).ears.get(ear).unwrap().number;
    harness.get_by_label(&format!("Ear {number}"));
    harness.get_by_label("B4");
    keys(&mut harness, "8*7");
    assert_eq!(
        tally_of(project(&harness), &cell),
        Some((tally(8, 0, 0, 2), Some(7)))
    );
    // By the ear's number, from another tray.
    keys(&mut harness, "^g");
    keys(&mut harness, &format!("{number}E"));
    harness.get_by_label(&format!("Ear {number}"));
    keys(&mut harness, "g");
    keys(&mut harness, "99 B4E");
    assert!(says(&harness, "There is no tray 99 in this test."));
    assert!(
        harness
            .get_by_role_and_label(Role::TextInput, "Go to")
            .is_focused(),
        "the field stays open for repair"
    );
}

#[test]
fn a_link_leads_to_its_cell_and_to_the_pass_of_its_count() {
    let document = laid(240);
    let project = document.project();
    let tray = project.trays_of(TestId(1)).nth(4).unwrap().id;
    let mut inside = project.cells_of(tray).filter(|cell| cell.content.is_counted());
    let (cell, other) = (inside.next().unwrap().clone(), inside.next().unwrap().clone());
    drop(inside);
    let mut pane = Scoring::default();
    pane.go(Place::Cell(cell.id));
    let insight = Insight::default();
    let show = move |ui: &mut egui::Ui, (pane, document): &mut (Scoring, Document)| {
        let mut ctx = PaneCtx {
            document,
            insight: &insight,
            season: Some(SeasonId(1)),
            chosen: &[],
            today: stamp().at.date(),
            now: stamp().at,
            who: "",
            read_only: Some("Another window has this project open"),
            outcomes: &[],
            files: &[],
            dropped: &[],
            actions: &mut Vec::new(),
            last_ticket: &mut 0,
        };
        egui::CentralPanel::default().show(ui, |ui| pane.ui(ui, &mut ctx));
    };
    let mut harness = common::harness([1280.0, 800.0], Theme::Light).build_ui_state(show, (pane, document));
    harness.run();
    harness.get_by_label("Tray 5 of 9");
    harness.get_by_label(&cell.name());
    harness.event(Event::Text("8".to_owned()));
    harness.run();
    assert!(
        harness
            .query_by_label_contains("Another window has this project open")
            .is_some()
    );
    harness.get_by_label("0 of 10 kernels, 10 to go");

    let (_, document) = harness.state_mut();
    let counts = vec![Seen {
        cell: other.id,
        pass: Pass::Early,
        second: false,
        tally: tally(10, 0, 0, 0),
        mould: false,
        vigor: None,
        note: String::new(),
        root_mm: None,
        shoot_mm: None,
        overruled: String::new(),
    }];
    let record = Command::RecordCounts {
        counts,
        on: None,
        by: String::new(),
    };
    document.run(&record, &stamp()).unwrap();
    let count = document.project().counts.iter().next().unwrap().id;
    harness.state_mut().0.go(Place::Count(count));
    harness.run();
    harness.get_by_label(&other.name());
    assert!(
        harness
            .query_by_label_contains("Early count: 10 emerged. A new entry")
            .is_some()
    );
}

#[test]
fn landmarks_are_skipped_and_hold_nothing_to_count() {
    let mut harness = open(laid(24));
    let tray = project(&harness).trays_of(TestId(1)).next().unwrap().id;
    let landmark = project(&harness)
        .cells_of(tray)
        .find(|cell| cell.content == CellContent::Landmark);
    let name = landmark.unwrap().name();
    keys(&mut harness, "g");
    keys(&mut harness, &format!("{name}E"));
    assert!(says(&harness, "Landmark"));
    keys(&mut harness, "8");
    assert!(says(&harness, "there is nothing to count"));
    assert_eq!(project(&harness).counts.len(), 0);
}

#[test]
fn an_early_count_takes_the_emerged_kernels_and_the_rest_is_fresh() {
    let mut harness = open(laid(24));
    harness
        .get_by_role_and_label(Role::RadioButton, "Early, day 6")
        .click();
    harness.run();
    keys(&mut harness, "7E10E0E");
    let all = cells(project(&harness));
    let early = |at: usize| {
        project(&harness)
            .count_in_force(all[at].id, Pass::Early)
            .unwrap()
            .tally
    };
    assert_eq!((early(0).strong, early(0).fresh), (7, 3));
    assert_eq!((early(1).strong, early(1).fresh), (10, 0));
    assert_eq!((early(2).strong, early(2).fresh), (0, 10));
    // Fewer at the final count than at the early one: a tray read one cell off shows itself so.
    harness
        .get_by_role_and_label(Role::RadioButton, "Final, day 12")
        .click();
    harness.run();
    keys(&mut harness, "g");
    keys(&mut harness, &format!("{}E", all[0].name()));
    keys(&mut harness, "5*");
    assert!(says(
        &harness,
        "7 had emerged at the early count, more than now: is this the right cell?"
    ));
}

#[test]
fn another_number_of_kernels_can_be_laid_in_a_cell() {
    let mut harness = open(laid(24));
    let first = cells(project(&harness))[0].clone();
    let field = harness.get_by_role_and_label(Role::TextInput, "Kernels laid here");
    field.focus();
    harness.run();
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::A);
    harness.run();
    harness.event(Event::Text("11".to_owned()));
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
    assert_eq!(project(&harness).cells.get(first.id).unwrap().laid, Some(11));
    keys(&mut harness, "1110");
    // 11 are all kernels; 1 is the vigor of this cell, 0 begins the next one.
    assert_eq!(
        tally_of(project(&harness), &first),
        Some((tally(11, 0, 0, 0), Some(1)))
    );
}

#[test]
fn what_was_typed_is_kept_while_another_pane_is_shown() {
    let mut harness = open(laid(24));
    keys(&mut harness, "81");
    harness.state_mut().show(Pane::Trays);
    harness.run();
    harness.state_mut().show(Pane::Scoring);
    harness.run();
    harness.get_by_label("9 of 10 kernels, 1 to go");
    keys(&mut harness, "*7");
    let first = cells(project(&harness))[0].clone();
    assert_eq!(
        tally_of(project(&harness), &first),
        Some((tally(8, 1, 0, 1), Some(7)))
    );
}

#[test]
fn tab_goes_to_the_next_box_and_the_mouse_chooses_one() {
    let mut harness = open(laid(24));
    keys(&mut harness, "1T1T");
    harness.get_by_role_and_label(Role::Button, "dead").click();
    harness.run();
    keys(&mut harness, "84");
    let first = cells(project(&harness))[0].clone();
    assert_eq!(
        tally_of(project(&harness), &first),
        Some((tally(1, 1, 0, 8), Some(4)))
    );
}

#[test]
fn f6_leaves_the_cells_and_a_shifted_digit_is_the_sign_on_its_key() {
    let mut harness = open(laid(24));
    let has_keys = |harness: &Harness<'_, App>| {
        let cells = harness.get_by_role_and_label(Role::Grid, "Cells of the tray");
        cells.is_focused()
    };
    assert!(has_keys(&harness));
    // Shift and 8 is `*` on many keyboards.
    keys(&mut harness, "8");
    let pressed = |pressed| Event::Key {
        key: Key::Num8,
        physical_key: None,
        pressed,
        repeat: false,
        modifiers: egui::Modifiers::SHIFT,
    };
    let events = [pressed(true), Event::Text("*".to_owned()), pressed(false)];
    harness.input_mut().events.extend(events);
    harness.run();
    harness.get_by_label("10 of 10 kernels, ✓ complete");
    harness.key_press(Key::F6);
    harness.run();
    assert!(!has_keys(&harness), "F6 goes to the switches");
}

#[test]
fn without_a_test_the_pane_says_what_to_do() {
    let mut harness = open(harvest(24));
    assert!(says(&harness, "There is no test to count"));
    harness.get_by_role_and_label(Role::Button, "Go to Trays").click();
    harness.run();
    assert!(says(&harness, "Proposal: nothing is recorded"));
}

#[test]
fn pictures() {
    for theme in [Theme::Light, Theme::Dark] {
        let theme_name = if theme == Theme::Light { "light" } else { "dark" };
        for (name, size, scale) in LOOKS {
            let mut harness = window(laid(240), Pane::Scoring, theme, size, scale);
            keys(&mut harness, "8*781*610891");
            keys(&mut harness, "773E10791E8*7");
            keys(&mut harness, "81");
            common::shot(&mut harness, &format!("scoring-{name}-{theme_name}"));
        }
    }
    let mut harness = open(laid(24));
    keys(&mut harness, "9+3+");
    common::shot(&mut harness, "scoring-refused");
    let mut harness = open(laid(24));
    keys(&mut harness, "8*7-");
    common::shot(&mut harness, "scoring-correction");
    harness
        .get_by_role_and_label(Role::RadioButton, "Early, day 6")
        .click();
    harness.run();
    keys(&mut harness, "9Ev7E8E7");
    common::shot(&mut harness, "scoring-early");
    let tray = project(&harness).trays_of(TestId(1)).next().unwrap().id;
    let landmark = project(&harness)
        .cells_of(tray)
        .find(|cell| cell.content == CellContent::Landmark);
    let name = landmark.unwrap().name();
    keys(&mut harness, "g");
    keys(&mut harness, &format!("{name}E"));
    common::shot(&mut harness, "scoring-landmark");
    let mut harness = open(harvest(24));
    common::shot(&mut harness, "scoring-no-test");
}

#[test]
#[ignore = "prints times; run by hand"]
fn times() {
    let document = laid(10_000);
    for pane in [Pane::Trays, Pane::Scoring] {
        let mut harness = window(document.clone(), pane, Theme::Light, [1280.0, 800.0], 1.0);
        let start = std::time::Instant::now();
        for _ in 0..20 {
            harness.step();
        }
        eprintln!("{pane:?}: {:?} a frame", start.elapsed() / 20);
        if pane == Pane::Scoring {
            let start = std::time::Instant::now();
            keys(&mut harness, "8*7");
            eprintln!("a recorded cell, 3 keys: {:?}", start.elapsed());
        }
    }
}

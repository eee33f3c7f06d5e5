//! The scoring pane, driven by the number keys, and looked at.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod common;
mod scoring_keys;
mod tray_sample;

use common::says;
use egui::{Event, Key, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use scoring_keys::{answer, cells, keys, laid, laid_on, project, score, tally};
use tray_sample::{LOOKS, harvest, stamp, window};
use wintercrib::insight::{Insight, due_passes};
use wintercrib::model::{
    Cell, CellContent, Command, Document, Pass, Place, Project, Recipe, SeasonId, Seen, Tally, TestDesign,
    TestId, TrayId, TrayPlan,
};
use wintercrib::ui::app::App;
use wintercrib::ui::context::{Pane, PaneCtx};
use wintercrib::ui::panes::scoring::Scoring;
use wintercrib::ui::photos::PhotoShelf;

fn open(document: Document) -> Harness<'static, App> {
    window(document, Pane::Scoring, Theme::Light, [1280.0, 800.0], 1.0)
}

fn tally_of(project: &Project, cell: &Cell) -> Option<(Tally, Option<u8>)> {
    let count = project.count_in_force(cell.id, Pass::Final)?;
    Some((count.tally, count.vigor))
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
        pressed += score(&mut harness, text);
    }
    pressed += answer(&mut harness);
    for (cell, (_, [strong, weak, abnormal, dead], vigor)) in all.iter().zip(TRAY) {
        let wanted = (tally(strong, weak, abnormal, dead), vigor);
        assert_eq!(tally_of(project(&harness), cell), Some(wanted), "{}", cell.name());
    }
    let average = f64::from(pressed as u32) / all.len() as f64;
    eprintln!("{average:.2} keys a cell, with two landmarks and four rows read back");
    assert!(average <= 5.0, "{average} keys a cell");
    assert!(says(
        &harness,
        "Tray 1 is counted. All cells of the final count are counted."
    ));
    assert!(says(&harness, "26 of 26 here, 26 of 26 in all (100 %)"));
    // Twelve days after laying the final pass is shown without asking; the count bears the day.
    let count = project(&harness).count_in_force(all[0].id, Pass::Final).unwrap();
    assert_eq!(count.on.unwrap().to_string(), "2026-12-01");
}

#[test]
fn at_the_end_of_a_tray_the_next_one_is_named() {
    let mut harness = open(laid(240));
    keys(&mut harness, "_^");
    let first = project(&harness).trays_of(TestId(1)).next().unwrap().id;
    let counted = project(&harness)
        .cells_of(first)
        .filter(|cell| cell.content.is_counted())
        .count();
    for _ in 0..counted {
        score(&mut harness, "8*7");
    }
    answer(&mut harness);
    assert!(says(
        &harness,
        "Tray 1 is counted. Rest your eyes for five minutes, then take tray 2."
    ));
    assert!(says(&harness, "Tray 2 of 9"));
    // Back takes back the key that recorded the last cell: it is open again, and its count stays.
    keys(&mut harness, "-");
    assert!(says(&harness, "Tray 1 of 9"));
    assert!(says(&harness, "is open again, without its last key"));
    harness.get_by_label("10 of 10 kernels, ✓ complete");
    keys(&mut harness, "n");
    assert!(says(&harness, "Tray 2 of 9"));
    keys(&mut harness, "^n");
    assert!(
        says(&harness, "Tray 2 of 9"),
        "what was opened and not changed is closed again"
    );
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
    keys(&mut harness, "8*7{");
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
    let seen = |cell: &Cell| Seen::new(cell.id, Pass::Final, tally(5, 0, 0, 5));
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
    keys(&mut harness, "{{{{");
    keys(&mut harness, "}");
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
            label_sheets: &wintercrib::ui::label_sheets::LabelSheets::default(),
            photos: &mut PhotoShelf::default(),
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
    let counts = vec![Seen::new(other.id, Pass::Early, tally(10, 0, 0, 0))];
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
fn landmarks_hold_nothing_to_count() {
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
    assert!(says(
        &harness,
        "Then the tray is turned, or it is read one cell off."
    ));
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
    keys(&mut harness, "5*E");
    assert!(says(
        &harness,
        "Then 2 of the 5 dead had sprouted before. Is it so?"
    ));
}

/// A laid test in which all cells had so many kernels emerged early.
fn counted_early(emerged: u16) -> Document {
    let mut document = laid(24);
    let counts = cells(document.project())
        .iter()
        .map(|cell| {
            let tally = Tally {
                strong: emerged,
                fresh: 10 - emerged,
                ..Tally::default()
            };
            Seen::new(cell.id, Pass::Early, tally)
        })
        .collect();
    let record = Command::RecordCounts {
        counts,
        on: Some("2026-11-25".parse().unwrap()),
        by: "I.T.".to_owned(),
    };
    document.run(&record, &stamp()).unwrap();
    document
}

#[test]
fn fewer_seedlings_than_had_emerged_are_asked_about_and_kept_with_the_reason() {
    let mut harness = open(counted_early(7));
    let all = cells(project(&harness));
    // The others may have died: one key says so, and that is kept.
    keys(&mut harness, "5*7");
    assert!(says(&harness, "7 had emerged at the early count"));
    assert!(says(
        &harness,
        "Then 2 of the 5 dead had sprouted before. Is it so?"
    ));
    assert!(project(&harness).count_in_force(all[0].id, Pass::Final).is_none());
    keys(&mut harness, "8");
    assert!(says(
        &harness,
        "That is no answer: Enter they died after sprouting"
    ));
    keys(&mut harness, "E");
    let count = project(&harness).count_in_force(all[0].id, Pass::Final).unwrap();
    assert_eq!((count.tally, count.vigor), (tally(5, 0, 0, 5), Some(7)));
    assert_eq!(count.overruled, "died after sprouting");

    // Not even the dead make up for it: a reason has to be typed, and digits are none.
    keys(&mut harness, "5/7");
    assert!(says(
        &harness,
        "only 5 are seedlings or dead. Both cannot be right."
    ));
    keys(&mut harness, "E");
    keys(&mut harness, "812E");
    assert!(project(&harness).count_in_force(all[1].id, Pass::Final).is_none());
    harness
        .input_mut()
        .events
        .push(Event::Text("mice took two".to_owned()));
    harness.run();
    keys(&mut harness, "E");
    let count = project(&harness).count_in_force(all[1].id, Pass::Final).unwrap();
    assert_eq!(count.overruled, "812mice took two");
    assert!(says(&harness, "Recorded tray 1"));

    // A slip is mended by taking keys back.
    keys(&mut harness, "4/7");
    assert!(says(&harness, "Both cannot be right"));
    keys(&mut harness, "---8*7");
    let count = project(&harness).count_in_force(all[2].id, Pass::Final).unwrap();
    assert_eq!((count.tally, count.overruled.as_str()), (tally(8, 0, 0, 2), ""));
    // What has a reason is not asked for again.
    let todo = Insight::default().todo(harness.state().document(), stamp().at.date());
    let told = todo
        .iter()
        .filter(|item| item.sentence.contains("had emerged early"));
    assert_eq!(told.count(), 0);
}

#[test]
fn a_first_key_that_was_not_pressed_home_is_noticed() {
    let mut harness = open(laid(24));
    let first = cells(project(&harness))[0].clone();
    // Meant was 8*7.
    keys(&mut harness, "*7");
    assert!(says(
        &harness,
        "No seedling is strong, weak or abnormal, but the vigor is 7."
    ));
    keys(&mut harness, "<<8*7");
    assert_eq!(
        tally_of(project(&harness), &first),
        Some((tally(8, 0, 0, 2), Some(7)))
    );
}

#[test]
fn the_walk_asks_whether_landmarks_are_blank() {
    let mut harness = open(laid(24));
    let tray = project(&harness).trays_of(TestId(1)).next().unwrap().id;
    let landmarks: Vec<Cell> = project(&harness)
        .cells_of(tray)
        .filter(|cell| cell.content == CellContent::Landmark)
        .cloned()
        .collect();
    let before = |landmark: &Cell, cell: &Cell| (cell.row, cell.column) < (landmark.row, landmark.column);
    let all = cells(project(&harness));
    let to_first = all.iter().filter(|cell| before(&landmarks[0], cell)).count();
    for _ in 0..to_first {
        keys(&mut harness, "8*7");
    }
    if says(&harness, "Read back") {
        keys(&mut harness, "E");
    }
    let name = landmarks[0].name();
    assert!(says(
        &harness,
        &format!("{name} is a landmark, left empty on purpose. Is it blank?")
    ));
    // Something grows here: the tray is not what the screen shows.
    keys(&mut harness, "8");
    assert!(says(
        &harness,
        "Then the tray is turned, or it is read one cell off. Tray 1 must be blank at"
    ));
    keys(&mut harness, "E");
    assert!(says(&harness, "Is it blank?"));
    keys(&mut harness, "E");
    assert!(!says(&harness, "Is it blank?"));
    keys(&mut harness, "9*8");
    let next = &all[to_first];
    assert_eq!(
        tally_of(project(&harness), next),
        Some((tally(9, 0, 0, 1), Some(8)))
    );
    assert_eq!(project(&harness).counts.len(), to_first + 1);
    // What was seen to be blank is not asked again.
    keys(&mut harness, "g");
    keys(&mut harness, &format!("{name}E"));
    assert!(!says(&harness, "Is it blank?"));
}

#[test]
fn the_last_cell_of_a_row_is_read_back() {
    let mut harness = open(laid(24));
    let all = cells(project(&harness));
    let row: Vec<Cell> = all.iter().filter(|cell| cell.row == 1).cloned().collect();
    for _ in &row {
        keys(&mut harness, "8*7");
    }
    let last = row.last().unwrap();
    let CellContent::Ear(ear) = last.content else {
        panic!("the sample ends its first row with an ear")
    };
    let ear = project(&harness).ears.get(ear).unwrap();
    let check = ear.code.to_string().chars().next_back().unwrap();
    let wanted = format!(
        "Read back the last cell of row A: {} holds ear {}, check character {check}. Is it so?",
        last.name(),
        ear.number
    );
    assert!(says(&harness, &wanted));
    harness.get_by_label(&last.name());
    harness.get_by_label("10 of 10 kernels, ✓ complete");
    // Nothing that is typed now is taken for the next cell.
    keys(&mut harness, "9*8");
    assert_eq!(project(&harness).counts.len(), row.len());
    assert!(
        says(&harness, "Then the tray is turned"),
        "* says that it is not so"
    );
    keys(&mut harness, "<");
    harness.get_by_role_and_label(Role::Grid, "Cells of the tray");
    keys(&mut harness, "n9*8");
    assert_eq!(project(&harness).counts.len(), row.len() + 1);
}

#[test]
fn a_count_outside_of_its_days_shows_its_age() {
    let mut harness = open(laid_on(24, "2026-11-11"));
    assert!(says(
        &harness,
        "Today is day 20, outside of days 11 to 13 of the final count (common practice, no source)."
    ));
    keys(&mut harness, "8*7{");
    assert!(says(
        &harness,
        "Final count on 2026-12-01 (day 20, outside of days 11 to 13): 8 strong"
    ));
    let in_time = open(laid(24));
    assert!(!says(&in_time, "outside of days"));
}

#[test]
fn the_key_that_recorded_is_taken_back_like_any_other() {
    let mut harness = open(laid(24));
    let first = cells(project(&harness))[0].clone();
    keys(&mut harness, "8*8-7");
    assert_eq!(
        tally_of(project(&harness), &first),
        Some((tally(8, 0, 0, 2), Some(7)))
    );
    let counts: Vec<_> = project(&harness).counts_of(first.id).collect();
    assert_eq!(counts.len(), 2, "the first count stays");
    assert_eq!(
        (counts[0].vigor, counts[1].corrects),
        (Some(8), Some(counts[0].id))
    );
    // Recording the same again changes nothing.
    keys(&mut harness, "-7");
    assert_eq!(project(&harness).counts_of(first.id).count(), 2);
}

#[test]
fn the_cell_before_comes_again_by_one_key() {
    let mut harness = open(laid(24));
    let all = cells(project(&harness));
    keys(&mut harness, "+");
    assert!(says(&harness, "there is nothing to repeat"));
    keys(&mut harness, "81*6");
    keys(&mut harness, "+E");
    keys(&mut harness, "++9");
    keys(&mut harness, "+9*5");
    for (at, wanted) in [
        (1, (tally(8, 1, 0, 1), Some(6))),
        (2, (tally(8, 1, 0, 1), Some(9))),
        (3, (tally(9, 0, 0, 1), Some(5))),
    ] {
        assert_eq!(tally_of(project(&harness), &all[at]), Some(wanted), "cell {at}");
    }
}

#[test]
fn mould_and_a_note_have_keys_on_the_number_pad() {
    let mut harness = open(laid(24));
    let all = cells(project(&harness));
    keys(&mut harness, "8**7");
    let count = project(&harness).count_in_force(all[0].id, Pass::Final).unwrap();
    assert_eq!(
        (count.tally, count.mould, count.vigor),
        (tally(8, 0, 0, 2), true, Some(7))
    );
    keys(&mut harness, "8*/");
    harness
        .input_mut()
        .events
        .push(Event::Text("white leaves".to_owned()));
    harness.run();
    keys(&mut harness, "E");
    assert!(says(
        &harness,
        "Note, to be recorded with the count: white leaves"
    ));
    keys(&mut harness, "6");
    let count = project(&harness).count_in_force(all[1].id, Pass::Final).unwrap();
    assert_eq!((count.note.as_str(), count.mould), ("white leaves", false));
    // A note of its own corrects what is recorded, and nothing else of it.
    keys(&mut harness, "{w");
    harness
        .input_mut()
        .events
        .push(Event::Text(" and roots".to_owned()));
    harness.run();
    keys(&mut harness, "E");
    let count = project(&harness).count_in_force(all[1].id, Pass::Final).unwrap();
    assert_eq!(
        (count.note.as_str(), count.vigor),
        ("white leaves and roots", Some(6))
    );
    assert_eq!(project(&harness).counts_of(all[1].id).count(), 2);
}

#[test]
fn a_void_cell_has_its_kernels_missing_and_a_count_can_be_withdrawn() {
    let mut harness = open(laid(24));
    let all = cells(project(&harness));
    keys(&mut harness, "vE");
    let count = project(&harness).count_in_force(all[0].id, Pass::Final).unwrap();
    assert_eq!((count.tally.missing, count.tally.counted()), (10, 0));
    keys(&mut harness, "8*7{D");
    assert!(says(&harness, "is withdrawn; it stays in the history. Type why."));
    keys(&mut harness, "E");
    assert!(
        project(&harness).count_in_force(all[1].id, Pass::Final).is_some(),
        "without a reason"
    );
    harness
        .input_mut()
        .events
        .push(Event::Text("the cell was tipped".to_owned()));
    harness.run();
    keys(&mut harness, "E");
    assert!(project(&harness).count_in_force(all[1].id, Pass::Final).is_none());
    let counts: Vec<_> = project(&harness).counts_of(all[1].id).collect();
    assert_eq!(counts.len(), 2);
    assert_eq!(
        (counts[1].void, counts[1].note.as_str()),
        (true, "the cell was tipped")
    );
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::Z);
    harness.run();
    assert!(project(&harness).count_in_force(all[1].id, Pass::Final).is_some());
    keys(&mut harness, "D");
    assert!(says(&harness, "Type why"));
    harness.key_press(Key::Escape);
    harness.run();
    assert!(!says(&harness, "Type why"));
}

#[test]
fn the_categories_and_their_order_are_a_setting_that_counts_remember() {
    let mut harness = open(laid(24));
    let all = cells(project(&harness));
    keys(&mut harness, "8*7");
    for button in ["Options", "Categories…"] {
        harness.get_by_role_and_label(Role::Button, button).click();
        harness.run();
    }
    for _ in 0..3 {
        harness
            .get_by_role_and_label(Role::Button, "dead earlier")
            .click();
        harness.run();
    }
    harness.get_by_role_and_label(Role::CheckBox, "fresh").click();
    harness.run();
    harness.get_by_role_and_label(Role::Button, "Keep").click();
    harness.run();
    harness.run();
    assert_eq!(project(&harness).about.scheme.version, 1);
    keys(&mut harness, "286");
    keys(&mut harness, "8/");
    assert!(says(&harness, "'fresh' is not counted here"));
    let counts: Vec<_> = project(&harness).counts.iter().collect();
    assert_eq!((counts[0].scheme, counts[1].scheme), (0, 1));
    assert_eq!(
        tally_of(project(&harness), &all[1]),
        Some((tally(8, 0, 0, 2), Some(6)))
    );
}

/// Presses buttons, each by its name.
fn press(harness: &mut Harness<'_, App>, names: &[&str]) {
    for name in names {
        harness.get_by_role_and_label(Role::Button, name).click();
        harness.run();
    }
}

fn tick(harness: &mut Harness<'_, App>, name: &str) {
    press(harness, &["Options"]);
    harness.get_by_role_and_label(Role::CheckBox, name).click();
    harness.run();
}

#[test]
fn one_tray_is_counted_day_by_day_between_the_two_counts() {
    let mut harness = open(laid_on(60, "2026-11-22"));
    press(
        &mut harness,
        &["Options", "Count on another day…", "Begin this count"],
    );
    harness.get_by_role_and_label(Role::RadioButton, "Day 9");
    let tray = project(&harness).trays_of(TestId(1)).next().unwrap().id;
    let inside: Vec<Cell> = cells(project(&harness))
        .into_iter()
        .filter(|cell| cell.tray == tray)
        .collect();
    for _ in &inside {
        score(&mut harness, "7E");
    }
    answer(&mut harness);
    assert!(says(&harness, "Tray 1 is counted. Page Down takes another tray."));
    let counted = format!("{0} of {0} here", inside.len());
    assert!(says(&harness, &counted));
    assert!(says(&harness, "Tray 1 of 3"), "the daily count stays in its tray");
    let count = project(&harness)
        .count_in_force(inside[3].id, Pass::Between(9))
        .unwrap();
    assert_eq!((count.tally.strong, count.tally.fresh), (7, 3));
    // A correction names the count before it.
    keys(&mut harness, "g");
    keys(&mut harness, &format!("{}E6E", inside[1].name()));
    let corrected: Vec<_> = project(&harness).counts_of(inside[1].id).collect();
    assert_eq!(corrected[1].corrects, Some(corrected[0].id));
    // What was seen on one day is held against the next.
    harness
        .get_by_role_and_label(Role::RadioButton, "Final, day 12")
        .click();
    harness.run();
    keys(&mut harness, "g");
    keys(&mut harness, "A1E");
    keys(&mut harness, "5/7");
    assert!(says(&harness, "7 had emerged at the day 9 count"));
}

/// All that can be read on the screen or by a screen reader.
fn everything_said(harness: &Harness<'_, App>) -> Vec<String> {
    fn painted(shape: &egui::Shape, found: &mut Vec<String>) {
        match shape {
            egui::Shape::Text(text) => found.push(text.galley.text().to_owned()),
            egui::Shape::Vec(shapes) => shapes.iter().for_each(|shape| painted(shape, found)),
            _ => {}
        }
    }
    let mut found = Vec::new();
    for shape in &harness.output().shapes {
        painted(&shape.shape, &mut found);
    }
    for node in harness.query_all(egui_kittest::kittest::By::new()) {
        let node = node.accesskit_node();
        found.extend(node.label());
        found.extend(node.value());
        found.extend(node.data().description().map(str::to_owned));
    }
    found
}

#[test]
fn a_blind_scorer_sees_neither_ears_nor_earlier_counts() {
    // Numbers that nothing else on the screen has.
    let mut document = harvest(0);
    let drafts = (0..24)
        .map(|ear| wintercrib::model::EarDraft {
            number: Some(871 + ear),
            row: Some(format!("zeta {}", ear / 4)),
            kernels: Some(600),
            ..Default::default()
        })
        .collect();
    let commands = [
        Command::AddEars {
            season: SeasonId(1),
            drafts,
            existing: wintercrib::model::Existing::Refuse,
        },
        Command::DesignTest(TestDesign {
            season: SeasonId(1),
            replaces: None,
            name: "Test 1".to_owned(),
            plan: TrayPlan {
                kernels: 200,
                ..TrayPlan::default()
            },
            recipe: Recipe::default(),
            check_lot: "omega".to_owned(),
            seed: 7,
            ears: None,
        }),
        Command::LayTest {
            trays: Vec::new(),
            test: TestId(1),
            on: "2026-11-19".parse().unwrap(),
        },
    ];
    for command in &commands {
        document.run(command, &stamp()).unwrap();
    }
    let all = cells(document.project());
    let tally = |strong| Tally {
        strong,
        fresh: 200 - strong,
        ..Tally::default()
    };
    let counts = [(Pass::Early, 183), (Pass::Final, 174)]
        .into_iter()
        .flat_map(|(pass, strong)| {
            all.iter()
                .map(move |cell| Seen::new(cell.id, pass, tally(strong)))
        })
        .collect();
    let record = Command::RecordCounts {
        counts,
        on: None,
        by: "first eye".to_owned(),
    };
    document.run(&record, &stamp()).unwrap();
    let hidden = [
        "87",
        "88",
        "89",
        "LT26",
        "zeta",
        "omega",
        "183",
        "174",
        "first eye",
        "check",
        "Check",
    ];
    let told = |harness: &Harness<'_, App>| -> Vec<String> {
        let said = everything_said(harness);
        let is_hidden = |text: &&String| hidden.iter().any(|part| text.contains(part));
        said.iter().filter(is_hidden).cloned().collect()
    };

    let mut harness = open(document);
    keys(&mut harness, "}");
    assert!(told(&harness).len() > 20, "seen as a rule: {:?}", told(&harness));
    let first_ear = all.iter().find_map(|cell| match cell.content {
        CellContent::Ear(ear) => Some(ear),
        _ => None,
    });
    let code = project(&harness)
        .ears
        .get(first_ear.unwrap())
        .unwrap()
        .code
        .to_string();
    assert!(
        everything_said(&harness)
            .iter()
            .any(|text| text.contains(&code[..6]))
    );
    // With the ear card and what is to be done beside it.
    tick(&mut harness, "Second scorer");
    assert!(says(&harness, "Second scorer, blind"));
    for key in [Key::F4, Key::F9] {
        harness.key_press(key);
        harness.run();
        assert!(says(&harness, "Hidden while scoring is blind"));
        assert_eq!(told(&harness), Vec::<String>::new());
    }
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::F);
    harness.run();
    assert!(says(&harness, "Find is closed while scoring is blind"));
    keys(&mut harness, "g");
    keys(&mut harness, "871E");
    assert!(says(&harness, "while ears are hidden"));
    harness.key_press(Key::Escape);
    harness.run();
    let is_typed = |text: &String| text == "871" || text.contains("'871' is no place");
    assert!(told(&harness).iter().all(is_typed), "{:?}", told(&harness));
    // The whole first row, up to its read-back; a guard tells no numbers of others.
    keys(&mut harness, "g");
    keys(&mut harness, "A1E");
    keys(&mut harness, "150/7");
    assert!(says(
        &harness,
        "do not fit together: more had emerged than are seedlings later."
    ));
    assert_eq!(told(&harness), Vec::<String>::new());
    keys(&mut harness, "E");
    harness
        .input_mut()
        .events
        .push(Event::Text("so it is".to_owned()));
    harness.run();
    keys(&mut harness, "E");
    let count = project(&harness)
        .standing_count(all[0].id, Pass::Final, true)
        .unwrap();
    assert_eq!((count.tally.strong, count.overruled.as_str()), (150, "so it is"));
    assert_eq!(
        project(&harness)
            .count_in_force(all[0].id, Pass::Final)
            .unwrap()
            .tally
            .strong,
        174
    );
    let row = all.iter().filter(|cell| cell.row == 1).count();
    for _ in 1..row {
        keys(&mut harness, "190*5");
        assert_eq!(told(&harness), Vec::<String>::new());
    }
    assert!(says(&harness, "Read back the last cell of row A: A8. Is it so?"));
    common::shot(&mut harness, "scoring-blind");
    keys(&mut harness, "E{");
    assert_eq!(told(&harness), Vec::<String>::new());
    // Switched off, all is there again.
    tick(&mut harness, "Blind");
    assert!(told(&harness).len() > 20);
    keys(&mut harness, "g");
    keys(&mut harness, "A2E");
    assert!(says(&harness, "Final count by first eye"));
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

/// Two trays whose kernels were laid on these days.
fn laid_on_evenings(evenings: [&str; 2]) -> Document {
    let mut document = harvest(50);
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
    let trays: Vec<TrayId> = document
        .project()
        .trays_of(TestId(1))
        .map(|tray| tray.id)
        .collect();
    assert_eq!(trays.len(), 2);
    for (tray, day) in trays.into_iter().zip(evenings) {
        let lay = Command::LayTest {
            trays: vec![tray],
            test: TestId(1),
            on: day.parse().unwrap(),
        };
        document.run(&lay, &stamp()).unwrap();
    }
    document
}

fn is_chosen(harness: &Harness<'_, App>, pass: &str) -> bool {
    let button = harness.get_by_role_and_label(Role::RadioButton, pass);
    button.accesskit_node().toggled() == Some(egui::accesskit::Toggled::True)
}

#[test]
fn each_tray_is_counted_in_the_pass_that_is_due_by_its_own_age() {
    // Day 12 for the first tray, day 6 for the second.
    let mut harness = open(laid_on_evenings(["2026-11-19", "2026-11-25"]));
    assert!(says(&harness, "Tray 1 of 2") && is_chosen(&harness, "Final, day 12"));
    keys(&mut harness, "_");
    assert!(says(&harness, "Tray 2 of 2") && is_chosen(&harness, "Early, day 6"));
    assert!(says(&harness, "In this tray the early count is due."));
    keys(&mut harness, "7E");
    let all = cells(project(&harness));
    let second = all.iter().find(|cell| cell.tray != all[0].tray).unwrap();
    assert!(project(&harness).count_in_force(second.id, Pass::Early).is_some());
    keys(&mut harness, "^8*7");
    assert!(project(&harness).count_in_force(all[0].id, Pass::Final).is_some());
    // At the end of the first tray the walk goes on in the pass of the next one.
    let first = all.iter().filter(|cell| cell.tray == all[0].tray).count();
    for _ in 1..first {
        score(&mut harness, "8*7");
    }
    answer(&mut harness);
    assert!(says(
        &harness,
        "then take tray 2. In this tray the early count is due."
    ));
    score(&mut harness, "6E");
    assert_eq!(
        project(&harness)
            .counts
            .iter()
            .filter(|count| count.pass == Pass::Early)
            .count(),
        2
    );
    // What the scorer chooses holds in all trays.
    harness
        .get_by_role_and_label(Role::RadioButton, "Final, day 12")
        .click();
    harness.run();
    keys(&mut harness, "^_");
    assert!(says(&harness, "Tray 2 of 2") && is_chosen(&harness, "Final, day 12"));
}

#[test]
fn counting_begins_in_a_tray_whose_time_is_now_and_goes_on_with_the_day_that_was_begun() {
    // Day 9 for the first tray, when nothing is due; day 6 for the second.
    let mut harness = open(laid_on_evenings(["2026-11-22", "2026-11-25"]));
    assert!(says(&harness, "Tray 2 of 2") && is_chosen(&harness, "Early, day 6"));
    keys(&mut harness, "^");
    assert!(says(&harness, "Tray 1 of 2") && is_chosen(&harness, "Final, day 12"));
    // A count of this day is begun in the first tray: it is the one that is due there.
    let mut document = harness.state().document().clone();
    let cell = cells(document.project())[0].clone();
    let record = Command::RecordCounts {
        counts: vec![Seen::new(cell.id, Pass::Between(9), tally(5, 0, 0, 5))],
        on: Some("2026-12-01".parse().unwrap()),
        by: String::new(),
    };
    document.run(&record, &stamp()).unwrap();
    let harness = open(document);
    assert!(says(&harness, "Tray 1 of 2") && is_chosen(&harness, "Day 9"));
}

#[test]
fn an_early_count_that_is_finished_gives_way_to_the_final_one() {
    let due = |days_ago: i64, counted: bool| {
        let laid = stamp()
            .at
            .date()
            .checked_sub(jiff::Span::new().days(days_ago))
            .unwrap();
        let mut document = laid_on(24, &laid.to_string());
        if counted {
            let counts = cells(document.project()).into_iter().map(|cell| {
                let tally = Tally {
                    strong: 6,
                    fresh: 4,
                    ..Tally::default()
                };
                Seen::new(cell.id, Pass::Early, tally)
            });
            let counts = counts.collect();
            let record = Command::RecordCounts {
                counts,
                on: None,
                by: String::new(),
            };
            document.run(&record, &stamp()).unwrap();
        }
        let test = document.project().tests.get(TestId(1)).unwrap().clone();
        let progress = Insight::default().progress(&document, TestId(1));
        let due = due_passes(document.project(), &test, &progress, stamp().at.date());
        due.into_values().next().unwrap()
    };
    let pass = |days_ago, counted| {
        let due = due(days_ago, counted);
        (due.pass, due.is_now)
    };
    assert_eq!(pass(2, false), (Pass::Early, false));
    assert_eq!(pass(6, false), (Pass::Early, true));
    assert_eq!(
        pass(7, true),
        (Pass::Early, true),
        "a slip is corrected on the same days"
    );
    assert_eq!(pass(8, false), (Pass::Early, false));
    assert_eq!(pass(8, true), (Pass::Final, false));
    assert_eq!(pass(9, false), (Pass::Final, false));
    assert_eq!(pass(11, false), (Pass::Final, true));
    assert_eq!(pass(20, false), (Pass::Final, true));
}

#[test]
fn another_reason_than_the_usual_one_is_typed_and_others_are_offered() {
    let mut harness = open(counted_early(7));
    let all = cells(project(&harness));
    let why = |harness: &Harness<'_, App>, at: usize| {
        let count = project(harness).count_in_force(all[at].id, Pass::Final);
        count.map(|count| count.overruled.clone())
    };
    // Two of the dead may have sprouted before; but it was the cat.
    keys(&mut harness, "5*7");
    harness.get_by_role_and_label(Role::Button, "They died after sprouting (Enter)");
    keys(&mut harness, "/");
    assert!(says(&harness, "If it is so all the same, say why."));
    harness.event(Event::Text("the cat sat on them".to_owned()));
    harness.run();
    keys(&mut harness, "E");
    assert_eq!(why(&harness, 0).as_deref(), Some("the cat sat on them"));
    // The usual one is still there, as a button.
    keys(&mut harness, "5*7");
    press(&mut harness, &["Another reason… (/)", "Died after sprouting"]);
    assert_eq!(why(&harness, 1).as_deref(), Some("died after sprouting"));
    // What no usual course explains has offers too.
    keys(&mut harness, "5/7");
    press(&mut harness, &["Eaten or lost since"]);
    assert_eq!(why(&harness, 2).as_deref(), Some("eaten or lost since"));
    keys(&mut harness, "+E");
    assert!(
        says(&harness, "Both cannot be right"),
        "the same keys, the same question"
    );
    keys(&mut harness, "/");
    let field = harness.get_by_role_and_label(Role::TextInput, "Another reason");
    assert!(field.is_focused(), "/ leads into the field");
}

#[test]
fn a_file_for_reading_only_says_why_at_every_key_that_would_change_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    let mut document = laid(24);
    let first = cells(document.project())[0].id;
    let record = Command::RecordCounts {
        counts: vec![Seen::new(first, Pass::Final, tally(8, 0, 0, 2))],
        on: None,
        by: String::new(),
    };
    document.run(&record, &stamp()).unwrap();
    let text = wintercrib::store::format::write(document.project()).unwrap();
    std::io::Write::write_all(&mut std::fs::File::create(&path).unwrap(), text.as_bytes()).unwrap();
    let _other = wintercrib::store::project_file::open(&path, "another window").unwrap();
    let mut harness = common::harness([1280.0, 800.0], Theme::Light).build_eframe(|creation| {
        let mut app = App::start(creation, Some(&path), tray_sample::now);
        app.show(Pane::Scoring);
        app
    });
    harness.run_steps(6);
    keys(&mut harness, "gA1E");
    for key in ["8", ".", "*", "/", "m", "v", "r", "E", "w", "D", "k"] {
        // A key that is always free takes the sentence away.
        keys(&mut harness, "}{");
        assert!(
            !says(&harness, "Nothing can be counted or changed here"),
            "before {key}"
        );
        keys(&mut harness, key);
        assert!(says(&harness, "Nothing can be counted or changed here."), "{key}");
    }
    press(&mut harness, &["Options"]);
    harness
        .get_by_role_and_label(Role::Button, "Type a score sheet…")
        .click();
    harness.run();
    assert!(says(&harness, "Nothing can be counted or changed here."));
    assert_eq!(project(&harness).counts.len(), 1);
}

#[test]
fn the_pace_is_said_quietly_and_forgotten_with_the_window() {
    let clock = std::rc::Rc::new(std::cell::Cell::new(tray_sample::now()));
    let hands = std::rc::Rc::clone(&clock);
    let mut app = App::in_memory(laid(24), move || hands.get());
    app.show(Pane::Scoring);
    let mut harness = common::harness([1280.0, 800.0], Theme::Light).build_eframe(|_| app);
    harness.run();
    for seconds in [0, 9, 11, 400, 10, 12] {
        let later = clock
            .get()
            .checked_add(jiff::Span::new().seconds(seconds))
            .unwrap();
        clock.set(later);
        score(&mut harness, "8*7");
    }
    // 9, 11, 10 and 12 seconds; the tea is left out. 20 cells are left.
    let left = cells(project(&harness)).len() - 6;
    assert_eq!(left, 20);
    assert!(says(&harness, "6 cells now, 10 s a cell, 4 min left here"));
    common::shot(&mut harness, "scoring-pace");
    let text = wintercrib::store::format::write(project(&harness)).unwrap();
    assert!(!text.contains("pace"));
}

#[test]
fn a_retest_is_scored_by_the_same_keys_and_both_counts_stay_visible() {
    let mut document = laid(24);
    let counts = cells(document.project()).into_iter().map(|cell| {
        let seen = Seen::new(cell.id, Pass::Final, tally(7, 0, 0, 3));
        Seen {
            vigor: Some(6),
            ..seen
        }
    });
    let counts = counts.collect();
    let record = Command::RecordCounts {
        counts,
        on: None,
        by: String::new(),
    };
    document.run(&record, &stamp()).unwrap();
    let ear = cells(document.project())
        .iter()
        .find_map(|cell| cell.content.ear())
        .unwrap();
    let design = Command::DesignTest(TestDesign {
        season: SeasonId(1),
        replaces: None,
        name: "Retest".to_owned(),
        plan: TrayPlan::default(),
        recipe: Recipe::default(),
        check_lot: "Bulk 2025".to_owned(),
        seed: 8,
        ears: Some(vec![ear]),
    });
    document.run(&design, &stamp()).unwrap();
    let lay = Command::LayTest {
        trays: Vec::new(),
        test: TestId(2),
        on: "2026-11-19".parse().unwrap(),
    };
    document.run(&lay, &stamp()).unwrap();
    let mut harness = open(document);
    assert!(
        is_chosen(&harness, "Retest"),
        "the test that was designed last is shown"
    );
    let cell = project(&harness).cells_of_ear(ear).last().unwrap().clone();
    answer(&mut harness);
    keys(&mut harness, "g");
    keys(&mut harness, &format!("{}E9*8", cell.name()));
    assert_eq!(
        tally_of(project(&harness), &cell),
        Some((tally(9, 0, 0, 1), Some(8)))
    );
    // Ten kernels and ten more are twenty, and the card shows each count.
    let insight = Insight::default();
    let document = harness.state().document();
    let card = insight.ear_card(document, ear);
    let card = Option::as_ref(&card).unwrap();
    let pooled = card.estimate.unwrap().counts;
    assert_eq!((pooled.k(), pooled.n()), (16, 20));
    let told: Vec<(&str, u32)> = card
        .cells
        .iter()
        .flat_map(|cell| {
            cell.counts
                .iter()
                .map(|count| (cell.test_name.as_str(), count.germinated))
        })
        .collect();
    assert_eq!(told, [("Test 1", 7), ("Retest", 9)]);
    // Both are on the screen with the ear card open.
    let number = project(&harness).ears.get(ear).unwrap().number;
    keys(&mut harness, "g");
    keys(&mut harness, &format!("{}E", cell.name()));
    assert!(says(&harness, &format!("Ear {number}")));
    harness.key_press(Key::F4);
    harness.run();
    common::shot(&mut harness, "scoring-retest");
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
            for text in ["8*7", "81*6", "108", "91E", "73E", "107", "91E", "8*7"] {
                score(&mut harness, text);
            }
            keys(&mut harness, "EE");
            keys(&mut harness, "81");
            common::shot(&mut harness, &format!("scoring-{name}-{theme_name}"));
        }
    }
    // A low window: a tray half done, a question with reasons, the categories.
    for theme in [Theme::Light, Theme::Dark] {
        let theme_name = if theme == Theme::Light { "light" } else { "dark" };
        let low = [900.0, 600.0];
        let mut harness = window(laid(240), Pane::Scoring, theme, low, 1.0);
        for text in ["8*7", "81*6", "108", "91E", "73E", "107", "91E", "8*7"] {
            score(&mut harness, text);
        }
        answer(&mut harness);
        keys(&mut harness, "81");
        common::shot(&mut harness, &format!("scoring-900x600-{theme_name}"));
        let mut harness = window(counted_early(7), Pane::Scoring, theme, low, 1.0);
        keys(&mut harness, "5*7");
        common::shot(&mut harness, &format!("scoring-usual-900x600-{theme_name}"));
        keys(&mut harness, "/");
        common::shot(&mut harness, &format!("scoring-reasons-900x600-{theme_name}"));
        harness.key_press(Key::Escape);
        harness.run();
        press(&mut harness, &["Options", "Categories…"]);
        common::shot(&mut harness, &format!("scoring-categories-900x600-{theme_name}"));
    }
    let mut harness = open(laid(24));
    keys(&mut harness, "9+3+");
    common::shot(&mut harness, "scoring-refused");
    let mut harness = open(laid(24));
    keys(&mut harness, "8*7{");
    common::shot(&mut harness, "scoring-correction");
    harness
        .get_by_role_and_label(Role::RadioButton, "Early, day 6")
        .click();
    harness.run();
    keys(&mut harness, "9E_7E8E7");
    common::shot(&mut harness, "scoring-early");
    let tray = project(&harness).trays_of(TestId(1)).next().unwrap().id;
    let landmark = project(&harness)
        .cells_of(tray)
        .find(|cell| cell.content == CellContent::Landmark);
    let name = landmark.unwrap().name();
    keys(&mut harness, "g");
    keys(&mut harness, &format!("{name}E"));
    common::shot(&mut harness, "scoring-landmark");
    keys(&mut harness, "8");
    common::shot(&mut harness, "scoring-astray");
    let mut harness = open(counted_early(7));
    keys(&mut harness, "5/7");
    common::shot(&mut harness, "scoring-guard");
    for button in ["Options", "Categories…"] {
        harness.get_by_role_and_label(Role::Button, button).click();
        harness.run();
    }
    common::shot(&mut harness, "scoring-categories");
    let mut harness = window(laid(240), Pane::Scoring, Theme::Dark, [1280.0, 800.0], 1.5);
    for _ in 0..8 {
        keys(&mut harness, "8*7");
    }
    common::shot(&mut harness, "scoring-read-back");
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

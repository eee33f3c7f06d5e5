//! A table of counts, looked at in the window before anything of it is taken.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod common;
mod scoring_keys;
mod tray_sample;

use common::{fill, press, says};
use egui::{Key, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use scoring_keys::{answer, cells, keys, laid, project, score, tally};
use std::fmt::Write as _;
use std::io::Write as _;
use tray_sample::{now, stamp};
use wintercrib::model::{Cell, CellContent, Command, Document, Pass, Seen, Tally, TestId};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;
use wintercrib::ui::widgets::path_prompt::{PathAnswer, ScriptedPathPrompt};

/// A window that answers every question for a file with a table, and the folder in which that lies.
type Opened = (Harness<'static, App>, tempfile::TempDir);

fn open(document: Document, table: &str) -> Opened {
    open_at(document, table, Theme::Light, [1280.0, 800.0])
}

fn open_at(document: Document, table: &str, theme: Theme, size: [f32; 2]) -> Opened {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("tray.csv");
    std::fs::File::create(&path)
        .unwrap()
        .write_all(table.as_bytes())
        .unwrap();
    let answers = vec![PathAnswer::Chosen(path); 4];
    let mut app = App::in_memory(document, now).with_prompt(ScriptedPathPrompt::new(answers));
    app.show(Pane::Scoring);
    let mut harness = common::harness(size, theme).build_eframe(|_| app);
    harness.run();
    ask(&mut harness);
    (harness, folder)
}

fn ask(harness: &mut Harness<'_, App>) {
    press(harness, "Options");
    press(harness, "Import counts…");
    harness.run_steps(6);
}

fn lines(cells: &[Cell], of: impl Fn(usize) -> Option<[u16; 4]>) -> String {
    let mut text = "Tray;Cell;Strong;Weak;Abnormal;Dead;Vigor;By;Date\n".to_owned();
    for (at, cell) in cells.iter().enumerate() {
        let Some([strong, weak, abnormal, dead]) = of(at) else {
            writeln!(text, "1;{};;;;;;;", cell.name()).unwrap();
            continue;
        };
        let name = cell.name();
        writeln!(
            text,
            "1;{name};{strong};{weak};{abnormal};{dead};7;I.T.;2026-11-30"
        )
        .unwrap();
    }
    text
}

fn can(harness: &Harness<'_, App>, button: &str) -> bool {
    let node = harness.get_by_role_and_label(Role::Button, button);
    !node.accesskit_node().is_disabled()
}

fn final_count(harness: &Harness<'_, App>, cell: &Cell) -> Option<(Tally, String, String)> {
    let count = project(harness).count_in_force(cell.id, Pass::Final)?;
    Some((count.tally, count.by.clone(), count.overruled.clone()))
}

#[test]
fn a_table_of_counts_is_looked_at_before_anything_is_taken() {
    let document = laid(24);
    let all = cells(document.project());
    let text = lines(&all, |at| (at != 3).then_some([8, 0, 0, 2]));
    let (mut harness, _folder) = open(document, &text);
    assert!(says(&harness, "Import tray.csv into Test 1"));
    let chosen = harness.get_by_role_and_label(Role::ComboBox, "Cell");
    assert_eq!(chosen.accesskit_node().value().as_deref(), Some("Cell"));
    let wanted = format!(
        "{} counts new, 1 line passed over. Nothing is taken yet.",
        all.len() - 1
    );
    assert!(says(&harness, &wanted));
    assert_eq!(project(&harness).counts.len(), 0);
    press(&mut harness, &format!("Take {} counts", all.len() - 1));
    harness.run();
    assert_eq!(project(&harness).counts.len(), all.len() - 1);
    assert_eq!(
        final_count(&harness, &all[0]).unwrap(),
        (tally(8, 0, 0, 2), "I.T.".to_owned(), String::new())
    );
    assert!(final_count(&harness, &all[3]).is_none());
    let first = project(&harness).count_in_force(all[0].id, Pass::Final).unwrap();
    assert_eq!(first.on.unwrap().to_string(), "2026-11-30");
    // The same once more says nothing new, and one step takes it back.
    ask(&mut harness);
    assert!(says(
        &harness,
        &format!("0 counts new, {} there already", all.len() - 1)
    ));
    harness.key_press(Key::Escape);
    harness.run_steps(4);
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::Z);
    harness.run();
    assert_eq!(project(&harness).counts.len(), 0);
    // The keys are the pane's again.
    keys(&mut harness, "9*8");
    assert_eq!(final_count(&harness, &all[0]).unwrap().0, tally(9, 0, 0, 1));
}

#[test]
fn every_bad_line_is_named_and_the_good_ones_can_be_taken_alone() {
    let document = laid(24);
    let project_now = document.project();
    let all = cells(project_now);
    let tray = project_now.trays_of(TestId(1)).next().unwrap().id;
    let mut inside = project_now.cells_of(tray);
    let landmark = inside.find(|cell| cell.content == CellContent::Landmark).unwrap();
    let text = format!(
        "tray,cell,strong,dead\n1,{},8,2\n1,{},8,1\n1,{},9,1\n1,Z9,9,1\n1,{},ten,0\n",
        all[0].name(),
        all[1].name(),
        landmark.name(),
        all[2].name(),
    );
    drop(inside);
    let (mut harness, _folder) = open(document, &text);
    for said in [
        "Line 3: tray 1, cell",
        "the counts add up to 9, but 10 kernels were laid",
        "is a landmark, left empty on purpose, so there is nothing to count. Compare with the tray",
        "Line 5, column 'cell': tray 1 has no cell Z9",
        "Line 6, column 'strong'",
        "1 count new, 4 lines with problems. Nothing is taken yet.",
    ] {
        assert!(says(&harness, said), "{said}");
    }
    assert!(!can(&harness, "Take 1 count"));
    common::shot(&mut harness, "counts-import-problems");
    press(&mut harness, "Take the good 1 count, leave out 4 lines");
    harness.run();
    assert_eq!(project(&harness).counts.len(), 1);
    assert_eq!(final_count(&harness, &all[0]).unwrap().0, tally(8, 0, 0, 2));
}

#[test]
fn counts_that_do_not_fit_together_wait_for_a_reason() {
    let mut document = laid(24);
    let all = cells(document.project());
    let early = |at: usize, emerged: u16| {
        let tally = Tally {
            strong: emerged,
            fresh: 10 - emerged,
            ..Tally::default()
        };
        Seen::new(all[at].id, Pass::Early, tally)
    };
    let record = Command::RecordCounts {
        counts: vec![early(0, 7), early(1, 7), early(2, 7)],
        on: None,
        by: String::new(),
    };
    document.run(&record, &stamp()).unwrap();
    // The first fits; in the second some died; in the third both cannot be right. The fourth contradicts itself, and
    // the fifth has its reason with it.
    let text = format!(
        "cell,tray,pass,strong,dead,fresh,vigor,reason\n{0},1,final,8,2,,7,\n{1},1,final,5,5,,7,\n{2},1,final,5,,5,7,\n{3},1,final,,10,,4,\n{4},1,early,9,,1,,\n{4},1,final,2,,8,,mice took some\n",
        all[0].name(),
        all[1].name(),
        all[2].name(),
        all[3].name(),
        all[4].name(),
    );
    let (mut harness, _folder) = open(document.clone(), &text);
    for said in [
        "Line 3: tray 1, cell",
        "7 had emerged at the early count, but at the final count only 5 are seedlings. Then 2 of the 5 dead had sprouted before.",
        "Line 4:",
        "only 5 are seedlings or dead. Both cannot be right.",
        "Line 5:",
        "No seedling is strong, weak or abnormal, but the vigor is 4.",
        "6 counts new, 3 that do not fit together. Nothing is taken yet.",
    ] {
        assert!(says(&harness, said), "{said}");
    }
    assert!(!says(&harness, "Line 6:") && !says(&harness, "Line 7:"));
    assert!(!can(&harness, "Take 6 counts"));
    common::shot(&mut harness, "counts-import-misfits");
    // Without a reason only what fits can be taken.
    press(&mut harness, "Take the good 3 counts, leave out 3 lines");
    harness.run();
    assert!(final_count(&harness, &all[1]).is_none());
    assert_eq!(final_count(&harness, &all[4]).unwrap().2, "mice took some");
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::Z);
    harness.run();
    ask(&mut harness);
    fill(&mut harness, "Why are they so?", "read twice, it is so");
    press(&mut harness, "Take 6 counts");
    harness.run();
    for (at, why) in [
        (0, ""),
        (1, "read twice, it is so"),
        (2, "read twice, it is so"),
        (3, "read twice, it is so"),
        (4, "mice took some"),
    ] {
        assert_eq!(final_count(&harness, &all[at]).unwrap().2, why, "cell {at}");
    }
    // The same table again takes nothing away, and asks nothing.
    ask(&mut harness);
    assert!(says(
        &harness,
        "0 counts new, 6 there already. Nothing is taken yet."
    ));
    assert!(!can(&harness, "Take 0 counts"));
}

#[test]
fn counts_that_are_there_are_corrected_or_left_and_a_file_for_reading_only_is_left_alone() {
    let mut document = laid(24);
    let all = cells(document.project());
    let counts = vec![Seen::new(all[0].id, Pass::Final, tally(5, 0, 0, 5))];
    let record = Command::RecordCounts {
        counts,
        on: None,
        by: String::new(),
    };
    document.run(&record, &stamp()).unwrap();
    let text = lines(&all[..2], |_| Some([8, 0, 0, 2]));
    let (mut harness, _folder) = open(document, &text);
    assert!(says(&harness, "already has another final count"));
    let choose = |harness: &mut Harness<'_, App>, word: &str| {
        harness.get_by_role_and_label(Role::RadioButton, word).click();
        harness.run();
    };
    choose(&mut harness, "Leave them");
    assert!(says(&harness, "1 count new, 1 line passed over."));
    choose(&mut harness, "Correct them");
    assert!(says(&harness, "1 count new, 1 corrected."));
    // Early counts in a file that names no pass.
    choose(&mut harness, "Early");
    assert!(says(&harness, "2 counts new, 1 that do not fit together."));
    choose(&mut harness, "Final");
    press(&mut harness, "Take 2 counts");
    harness.run();
    let counts: Vec<_> = project(&harness).counts_of(all[0].id).collect();
    assert_eq!((counts.len(), counts[1].corrects), (2, Some(counts[0].id)));
}

#[test]
fn a_file_that_is_no_table_is_refused_in_a_sentence() {
    let (mut harness, _folder) = open(laid(24), "");
    assert!(says(&harness, "tray.csv:"));
    assert!(says(&harness, "Nothing was taken."));
    keys(&mut harness, "8*7");
    assert_eq!(project(&harness).counts.len(), 1);
}

#[test]
fn pictures() {
    for theme in [Theme::Light, Theme::Dark] {
        for (name, size) in [("900x600", [900.0, 600.0]), ("1280", [1280.0, 800.0])] {
            let document = laid(60);
            let all = cells(document.project());
            let inside: Vec<Cell> = all
                .iter()
                .filter(|cell| cell.tray == all[0].tray)
                .cloned()
                .collect();
            let text = lines(&inside, |at| {
                Some(if at == 4 { [8, 1, 0, 2] } else { [8, 0, 0, 2] })
            });
            let (mut harness, _folder) = open_at(document, &text, theme, size);
            let theme = if theme == Theme::Light { "light" } else { "dark" };
            common::shot(&mut harness, &format!("counts-import-{name}-{theme}"));
        }
    }
}

const _: () = {
    let _: fn(&mut Harness<'_, App>, &str) -> usize = score;
    let _: fn(&mut Harness<'_, App>) -> usize = answer;
};

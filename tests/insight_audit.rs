//! What a journal keeps is told in words: who did what when, from what to what.

use jiff::civil::date;
use std::collections::BTreeSet;
use wintercrib::demo;
use wintercrib::insight::audit::{MOST_DETAILS, audit, holds};
use wintercrib::model::*;

fn stamp() -> Stamp {
    Stamp {
        at: date(2026, 3, 1).at(9, 30, 0, 0),
        by: "Grower A".to_owned(),
    }
}

#[test]
fn changes_are_told_from_what_to_what_and_by_whom() {
    let mut document = Document::new(demo::make("pocket-starter").unwrap());
    let ear = document.project().ears.iter().nth(2).unwrap().clone();
    let mut run = |command: Command| document.run(&command, &stamp()).map(drop).unwrap();
    run(Command::EditEars(vec![EarEdit {
        ear: ear.id,
        field: EarField::Note,
        value: EarValue::Text("mice".to_owned()),
    }]));
    let selection = document.project().selections.iter().next().unwrap().clone();
    let word = Word {
        kind: WordKind::Always,
        reason: "longest".to_owned(),
    };
    let mut after = selection.clone();
    after.words.insert(ear.id, word);
    after.cutoffs.germination_percent = Some(65.5);
    let transaction = Transaction::new("Both", vec![Change::replace(&selection, after)]);
    document.commit(transaction, &stamp()).unwrap();
    document.undo(&stamp()).unwrap();
    document.redo(&stamp()).unwrap();
    let events = document.take_events();
    let lines = audit(document.project(), &events);
    let number = ear.number;
    assert_eq!(lines[0].details, [format!("ear {number}, note: nothing → mice")]);
    assert_eq!((lines[0].by.as_str(), lines[0].at), ("Grower A", stamp().at));
    let before = selection.cutoffs.germination_percent.unwrap();
    assert!(
        lines[1].details[0].ends_with(&format!("cutoffs, germination percent: {before:.1} → 65.5")),
        "{:?}",
        lines[1].details
    );
    assert!(
        lines[1].details[1].ends_with(&format!(
            "your word about ear {number}: nothing → kind Always, reason longest"
        )),
        "{:?}",
        lines[1].details
    );
    assert_eq!(lines[2].what, "Undone: Both");
    assert_eq!(lines[3].what, "Done again: Both");
    assert!(lines.iter().all(|line| line.ears == BTreeSet::from([ear.id])));
    assert!(holds(&lines[0], "MICE grower") && !holds(&lines[0], "mice none"));
    // A journal that begins later says so.
    assert_eq!(
        audit(document.project(), &events[2..])[0].what,
        "Undone: a step from before this journal"
    );
}

#[test]
fn many_changes_are_cut_short_and_counted() {
    let project = demo::make("essel-thaw").unwrap();
    let mut document = Document::new(project);
    let edits: Vec<EarEdit> = document
        .project()
        .ears
        .iter()
        .take(40)
        .map(|ear| EarEdit {
            ear: ear.id,
            field: EarField::Batch,
            value: EarValue::Text("barn".to_owned()),
        })
        .collect();
    document.run(&Command::EditEars(edits), &stamp()).unwrap();
    let events = document.take_events();
    let lines = audit(document.project(), &events);
    assert_eq!(
        (lines[0].details.len(), lines[0].left_out),
        (MOST_DETAILS, 40 - MOST_DETAILS)
    );
    assert_eq!(lines[0].ears.len(), 40);
}

//! What needs attention in the demo projects: the faults that their generator plants are found, and no others.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use jiff::civil::date;
use wintercrib::demo;
use wintercrib::insight::{Insight, Todo, Urgency};
use wintercrib::model::Document;

fn todo(name: &str, today: jiff::civil::Date) -> Vec<Todo> {
    let doc = Document::new(demo::make(name).unwrap());
    Insight::default().todo(&doc, today).to_vec()
}

fn those(todo: &[Todo], part: &str) -> Vec<String> {
    let fitting = todo.iter().filter(|one| one.sentence.contains(part));
    fitting.map(|one| one.sentence.clone()).collect()
}

#[test]
fn the_planted_faults_of_essel_thaw_are_found() {
    // Laid on 3 February 2026 with the final count on day 12.
    let todo = todo("essel-thaw", date(2026, 2, 15));
    // In row C of tray 5 each final count stands one cell too far.
    let shifted = those(&todo, "read one cell off");
    assert_eq!(shifted.len(), 1, "{todo:#?}");
    assert!(shifted[0].starts_with("Tray 5 row C: cells C"), "{shifted:?}");
    assert_eq!(those(&todo, "had emerged early"), [""; 0]);
    // A second scorer disagrees in three cells; each name, as the tray's, has one digit.
    let cells = |sentence: &String| sentence.matches(|letter: char| letter.is_ascii_digit()).count() - 1;
    let disagreeing = those(&todo, "the two scorers disagree");
    assert_eq!(disagreeing.iter().map(cells).sum::<usize>(), 3, "{disagreeing:?}");
    assert_eq!(those(&todo, "no packet").len(), 1);
    assert!(those(&todo, "no packet")[0].starts_with("2 ears have no packet: ears "));
    // It is in the middle of scoring.
    assert!(those(&todo, "The final count of test")[0].contains("is due today"));
    assert!(todo.is_sorted_by_key(|one| one.urgency));
    assert_eq!(todo[0].urgency, Urgency::Wrong);
}

#[test]
fn pocket_starter_waits_for_its_last_five_cells() {
    let todo = todo("pocket-starter", date(2026, 1, 1));
    let open = those(&todo, "final count");
    assert_eq!(open, ["Tray 1: 5 of 25 cells have no final count."], "{todo:#?}");
    assert_eq!(todo.len(), 1, "{todo:#?}");
}

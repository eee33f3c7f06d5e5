//! Holding an ear in reserve: the word, its stand, its place on the frozen list.

use crate::common::{fill, press, says, shot};
use crate::{SEASON, cutoffs, essel, open};
use egui::{Key, Theme};
use wintercrib::insight::{Insight, revision};
use wintercrib::model::{EarId, Stand, WordKind};

#[test]
fn an_ear_in_reserve_is_not_planted_but_named_on_the_list() {
    let mut harness = open(essel(), [1280.0, 800.0], Theme::Light);
    let set = cutoffs(harness.state().document());
    let choice = Insight::default().choice(harness.state().document(), SEASON, &set);
    let kept = choice.summary.kept;
    let held: Vec<EarId> = choice
        .kept()
        .filter(|one| one.kernels.is_some_and(|kernels| kernels > 60))
        .take(2)
        .map(|one| one.ear)
        .collect();
    for (ear, reason) in held
        .iter()
        .zip(["a second one of its row", "late, for a warm spring"])
    {
        while harness.state().chosen() != [*ear] {
            harness.key_press(Key::N);
            harness.run();
        }
        press(&mut harness, "Hold in reserve…");
        fill(&mut harness, "Reason", reason);
        press(&mut harness, "Hold in reserve");
    }
    let document = harness.state().document();
    let choice = Insight::default().choice(document, SEASON, &set);
    assert_eq!(choice.summary.kept, kept - 2);
    for ear in &held {
        let standing = choice.of(*ear).expect("the ear is of this season");
        assert_eq!(standing.stand, Stand::LeaveOut);
        assert!(
            standing.why[0]
                .sentence(document.project())
                .starts_with("You said 'hold in reserve'")
        );
    }
    shot(&mut harness, "reserve_words");

    press(&mut harness, "Freeze the planting list…");
    assert!(says(&harness, "Held in reserve, and named on the list: 2 ears."));
    fill(&mut harness, "Frozen by", "Grower A");
    press(&mut harness, "Freeze");
    harness.key_press_modifiers(egui::Modifiers::COMMAND, Key::Num5);
    harness.run();
    shot(&mut harness, "reserve_list");
    assert!(says(&harness, "Held in reserve for a row that fails"));
    let project = harness.state().document().project();
    let list = project.list_in_force(SEASON).expect("it is frozen");
    assert_eq!(list.reserves.len(), 2);
    let likely: Vec<f64> = list
        .reserves
        .iter()
        .filter_map(|entry| entry.likely_percent)
        .collect();
    assert!(likely[0] >= likely[1], "the likeliest comes first: {likely:?}");
    assert!(list.entries.iter().all(|entry| !held.contains(&entry.ear)));
    let text = list.text();
    let after = text
        .split("held in reserve: 2\n")
        .nth(1)
        .expect("the text has the section");
    assert_eq!(after.lines().count(), 2);
    assert!(
        after.contains("hold in reserve: a second one of its row"),
        "{after}"
    );
    assert_eq!(list.compute_digest(), list.digest);
    // Kernels in reserve are not spoken for.
    assert!(held.iter().all(|ear| project.stock_of(*ear).reserved == 0));
    let words = &project.selection_of(SEASON).expect("it has cutoffs").words;
    assert!(held.iter().all(|ear| words[ear].kind == WordKind::Reserve));

    let mut without = list.clone();
    without.reserves.pop();
    let difference = revision(list, &without);
    assert!(
        difference[0].starts_with("No longer held in reserve: ear "),
        "{difference:?}"
    );
    without.reserves.clear();
    assert!(
        !without.text().contains("reserve"),
        "a list without reserves says nothing of them"
    );
}

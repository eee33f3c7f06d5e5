//! Limits on traits and what each cutoff leaves out by itself, in Selection.

use crate::common::{fill, says, shot};
use crate::{SEASON, cutoffs, essel, window};
use egui::Theme;
use std::collections::BTreeMap;
use wintercrib::insight::Insight;
use wintercrib::model::{Cutoffs, Stand, sentence};

#[test]
fn a_limit_on_a_trait_is_typed_leaves_ears_out_and_is_taken_off_again() {
    let mut harness = window(essel(), [1400.0, 1000.0], Theme::Light, "All cutoffs");
    let project = harness.state().document().project();
    let one = project.traits.iter().next().expect("the demo has traits").clone();
    // The median value of the kept ears: about half of them lie below it.
    let before = cutoffs(harness.state().document());
    let choice = Insight::default().choice(harness.state().document(), SEASON, &before);
    let mut values: Vec<f64> = choice
        .kept()
        .filter_map(|standing| project.ears.get(standing.ear)?.values.get(&one.id).copied())
        .collect();
    values.sort_unstable_by(f64::total_cmp);
    let least = values[values.len() / 2];
    fill(
        &mut harness,
        &format!("{} at least", one.name),
        &least.to_string(),
    );
    harness.key_press(egui::Key::Enter);
    harness.run();
    let document = harness.state().document();
    let after = cutoffs(document);
    assert_eq!(after.traits[&one.id].least, Some(least));
    let choice_after = Insight::default().choice(document, SEASON, &after);
    assert!(choice_after.summary.kept < choice.summary.kept);
    for standing in choice_after.kept() {
        let value = document
            .project()
            .ears
            .get(standing.ear)
            .and_then(|ear| ear.values.get(&one.id));
        let word = document
            .project()
            .selection_of(SEASON)
            .is_some_and(|all| all.words.contains_key(&standing.ear));
        assert!(
            word || value.is_some_and(|value| *value >= least),
            "ear {}",
            standing.number
        );
    }
    for alone in &choice_after.summary.alone {
        assert!(says(&harness, &sentence(&alone.sentence(document.project()))));
    }
    assert!(says(&harness, "All cutoffs, 1 on traits"));
    fill(&mut harness, &format!("{} at least", one.name), " ");
    harness.key_press(egui::Key::Enter);
    harness.run();
    assert_eq!(cutoffs(harness.state().document()), before);
}

/// What a cutoff leaves out by itself is what is left out when all others are off.
#[test]
fn alone_is_the_choice_with_all_others_off() {
    let (document, insight) = (essel(), Insight::default());
    let set = cutoffs(&document);
    let only = Cutoffs {
        maturity_days: set.maturity_days,
        germination_percent: None,
        vigor: None,
        traits: BTreeMap::default(),
        cap_per_mother: None,
        sureness: set.sureness,
    };
    let choice = insight.choice(&document, SEASON, &set);
    let alone = choice
        .summary
        .alone
        .iter()
        .find(|one| one.sentence(document.project()).starts_with("maturity"))
        .expect("a maturity cutoff");
    let out = insight.choice(&document, SEASON, &only);
    let words = &document
        .project()
        .selection_of(SEASON)
        .expect("a selection")
        .words;
    let by_words = words
        .keys()
        .filter(|ear| out.of(**ear).is_some_and(|one| one.stand == Stand::LeaveOut))
        .count();
    let late = out
        .standings
        .iter()
        .filter(|one| one.maturity_days.map(f64::from) > set.maturity_days);
    assert_eq!(alone.left_out, late.count());
    assert!(out.summary.left_out <= alone.left_out + by_words);
}

#[test]
fn looks() {
    for (name, theme) in [("light", Theme::Light), ("dark", Theme::Dark)] {
        for size in [[1280.0, 800.0], [820.0, 700.0]] {
            let mut harness = window(essel(), size, theme, "All cutoffs");
            shot(&mut harness, &format!("limits_{name}_{}", size[0]));
        }
    }
}

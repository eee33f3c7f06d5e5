//! The index in Selection: its weights, its formula, and its kept set beside that of the cutoffs.

use crate::common::{fill, says, shot};
use crate::{SEASON, cutoffs, essel, stamp, window};
use egui::{Key, Modifiers, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use std::collections::BTreeMap;
use wintercrib::insight::{IndexView, Insight};
use wintercrib::model::{Command, Cutoffs, Document, Index, IndexTrait, Word, WordKind};
use wintercrib::ui::app::App;

fn index(document: &Document) -> IndexView {
    let view = Insight::default().index(document, SEASON, &cutoffs(document));
    IndexView::clone(&view)
}

fn weigh(document: &mut Document, weights: &[(IndexTrait, f64)], missing_as_mean: bool) {
    let mut index = Index {
        missing_as_mean,
        ..Index::default()
    };
    for (of, weight) in weights {
        index.weigh(*of, Some(*weight));
    }
    let command = Command::SetIndex {
        season: SEASON,
        index,
    };
    document.run(&command, &stamp()).expect("the index is weighed");
    document.close_step();
}

fn add(harness: &mut Harness<'_, App>, name: &str) {
    harness
        .get_by_role_and_label(Role::ComboBox, "Weigh another trait")
        .click();
    harness.run();
    harness.get_by_label(name).click();
    harness.run();
}

#[test]
fn an_index_is_weighed_compared_and_undone_in_the_window() {
    for (theme, name) in [(Theme::Light, "index_light"), (Theme::Dark, "index_dark")] {
        let mut harness = window(essel(), [1500.0, 1000.0], theme, "Index");
        add(&mut harness, "likely %");
        add(&mut harness, "maturity days");
        let view = index(harness.state().document());
        let weights: Vec<f64> = view.terms.iter().map(|term| term.weight).collect();
        assert_eq!(weights, [1.0, -1.0], "earlier is what most want");
        fill(&mut harness, "Weight of maturity days", "-0.3");
        harness.key_press(Key::Enter);
        harness.run();
        let view = index(harness.state().document());
        assert!(
            says(&harness, &format!("Index = {}", view.formula())),
            "{}",
            view.formula()
        );
        assert!(
            view.formula()
                .contains("\u{2013} 0.3 \u{d7} (maturity days \u{2013} 102"),
            "{}",
            view.formula()
        );
        for sentence in view.sentences() {
            assert!(says(&harness, &sentence), "{sentence}");
        }
        let line = view.by_index.as_ref().expect("it keeps ears");
        let choose = format!("Choose {} kept only by the index", line.only_here.len());
        harness.get_by_label(&choose).click();
        harness.run();
        assert_eq!(harness.state().chosen(), line.only_here);
        shot(&mut harness, name);
        for _ in 0..3 {
            harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
            harness.run();
        }
        assert_eq!(index(harness.state().document()), IndexView::default());
    }
}

/// The kept set worked out anew from the values: the highest, the cap and the words respected.
#[test]
fn the_index_keeps_as_many_ears_as_the_cutoffs_by_the_same_rules() {
    let mut document = essel();
    let all: Vec<(IndexTrait, f64)> = vec![(IndexTrait::Germination, 0.7), (IndexTrait::Maturity, -0.4)];
    weigh(&mut document, &all, false);
    let view = index(&document);
    let never = view.ears[0].ear;
    let word = Command::SetWord {
        season: SEASON,
        ears: vec![never],
        word: Some(Word {
            kind: WordKind::Never,
            reason: "smut".to_owned(),
        }),
    };
    document.run(&word, &stamp()).expect("the word is given");
    let set = cutoffs(&document);
    let choice = Insight::default().choice(&document, SEASON, &set);
    let view = index(&document);
    let project = document.project();
    let words = &project.selection_of(SEASON).expect("it has cutoffs").words;
    let mut expected = Vec::new();
    let mut of_row = BTreeMap::new();
    let always = words
        .iter()
        .filter(|(_, word)| word.kind == WordKind::Always)
        .map(|(ear, _)| *ear);
    let free = view
        .ears
        .iter()
        .map(|one| one.ear)
        .filter(|ear| !words.contains_key(ear));
    for ear in always.chain(free) {
        let row = project.ears.get(ear).and_then(|ear| ear.row);
        let count: &mut u16 = of_row.entry(row).or_default();
        if expected.len() < choice.summary.kept
            && (words.contains_key(&ear) || *count < set.cap_per_mother.unwrap_or(999))
        {
            *count += 1;
            expected.push(ear);
        }
    }
    expected.sort_unstable();
    let line = view.by_index.as_ref().expect("it keeps ears");
    assert_eq!(line.kept, choice.summary.kept);
    let kept: Vec<_> = choice.kept().map(|one| one.ear).collect();
    let mut found: Vec<_> = kept
        .iter()
        .copied()
        .filter(|ear| !line.only_set.contains(ear))
        .collect();
    found.extend(&line.only_here);
    found.sort_unstable();
    assert_eq!(found, expected);
    assert!(!found.contains(&never), "never planted is never kept");
    assert_eq!(view.both, kept.len() - line.only_set.len());

    // By germination alone, without a cap, it keeps the likeliest ears.
    let free = Cutoffs {
        cap_per_mother: None,
        maturity_days: None,
        ..set
    };
    weigh(&mut document, &[(IndexTrait::Germination, 2.5)], false);
    let insight = Insight::default();
    let view = insight.index(&document, SEASON, &free);
    let choice = insight.choice(&document, SEASON, &free);
    let likely = |ear| {
        choice
            .of(ear)
            .and_then(|one| one.estimate)
            .map(|one| one.likely_percent)
    };
    assert!(
        view.ears
            .windows(2)
            .all(|pair| likely(pair[0].ear) >= likely(pair[1].ear))
    );
}

#[test]
fn a_missing_value_is_named_and_never_counted_silently() {
    let mut document = essel();
    weigh(&mut document, &[(IndexTrait::Germination, 1.0)], false);
    let view = index(&document);
    let scored = Insight::default().estimates(&document, SEASON).scored();
    assert_eq!((view.ears.len(), view.without.len()), (scored, 240 - scored));
    let count = format!(
        "{} ears have no index, because a value is not known.",
        view.without.len()
    );
    assert!(view.sentences().contains(&count), "{:?}", view.sentences());
    // With the switch on, ears of which something is known get one, and their number is said.
    weigh(
        &mut document,
        &[(IndexTrait::Germination, 1.0), (IndexTrait::Maturity, -1.0)],
        true,
    );
    let view = index(&document);
    assert_eq!(view.without.len(), 0);
    assert_eq!(view.filled, 240 - scored);
    let said = format!(
        "{} ears have an index with a missing value counted as the mean.",
        view.filled
    );
    assert!(view.sentences().contains(&said), "{:?}", view.sentences());
}

#[test]
fn germination_apart_from_maturity_does_not_go_with_maturity() {
    let mut document = essel();
    weigh(
        &mut document,
        &[(IndexTrait::GerminationForItsMaturity, 1.0)],
        false,
    );
    let view = index(&document);
    let project = document.project();
    let pairs: Vec<(f64, f64)> = view
        .ears
        .iter()
        .filter_map(|one| {
            Some((
                f64::from(project.maturity_days(project.ears.get(one.ear)?)?),
                one.value,
            ))
        })
        .collect();
    let count = pairs.len() as f64;
    let mean = |of: fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>() / count;
    let (days, value) = (mean(|pair| pair.0), mean(|pair| pair.1));
    let together: f64 = pairs.iter().map(|pair| (pair.0 - days) * (pair.1 - value)).sum();
    assert!(count > 100.0 && (together / count).abs() < 1e-9, "{together}");
}

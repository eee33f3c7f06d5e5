//! How the figures of a choice move with the germination cutoff: the figures, and the plots in Selection.

use crate::common::{says, shot};
use crate::{SEASON, cutoffs, essel, window};
use egui::Theme;
use egui_kittest::kittest::Queryable as _;
use wintercrib::genetics::Kinship;
use wintercrib::insight::Insight;
use wintercrib::model::{About, Cutoffs, Document, Project};

/// Every point is what the choice itself says when the cutoff is set there.
#[test]
fn every_point_is_the_choice_at_that_cutoff() {
    let document = essel();
    let (insight, set) = (Insight::default(), cutoffs(&document));
    let curve = insight.curve(&document, SEASON, &set);
    assert_eq!(curve.points.len(), 21);
    for one in &curve.points {
        let there = Cutoffs {
            germination_percent: Some(one.cutoff_percent),
            ..set.clone()
        };
        let choice = insight.choice(&document, SEASON, &there);
        let price = insight.price(&document, SEASON, &there);
        let summary = &choice.summary;
        assert_eq!((one.kept, one.mothers_kept), (summary.kept, summary.mothers_kept));
        assert_eq!(one.likely_percent, summary.likely_percent.kept);
        assert_eq!(one.maturity_days, summary.maturity_days.kept);
        assert_eq!(one.expected_below, summary.expected_below);
        assert_eq!(one.response, price.response);
        let size = price.kinship.map(|kinship| Kinship::effective_size(kinship.open));
        assert_eq!(one.effective_size, size);
    }
    for two in curve.points.windows(2) {
        assert!(two[1].kept <= two[0].kept);
    }
    let here = curve.here.expect("the demo has a cutoff");
    assert_eq!(Some(curve.points[here].cutoff_percent), set.germination_percent);
}

#[test]
fn a_cutoff_between_the_steps_is_a_point_of_its_own_and_none_is_no_place() {
    let document = essel();
    let with = |germination_percent| {
        let cutoffs = Cutoffs {
            germination_percent,
            ..Cutoffs::default()
        };
        Insight::default().curve(&document, SEASON, &cutoffs)
    };
    let between = with(Some(62.5));
    assert_eq!((between.points.len(), between.here), (22, Some(13)));
    assert_eq!(between.sentences().len(), 2);
    let off = with(None);
    assert_eq!((off.points.len(), off.here), (21, None));
    assert_eq!(off.sentences(), Vec::<String>::new());
    assert_eq!(with(Some(0.0)).sentences().len(), 1);
    // Beyond what is possible a cutoff counts as the nearest, but it is no point.
    assert_eq!(with(Some(250.0)).here, None);
    let empty = Document::new(Project::new(About::new("Empty", "none")));
    let curve = Insight::default().curve(&empty, SEASON, &Cutoffs::default());
    assert!(
        curve
            .points
            .iter()
            .all(|one| one.kept == 0 && one.likely_percent.is_none())
    );
}

#[test]
fn a_click_sets_the_cutoff_and_the_steps_are_told() {
    let mut harness = window(essel(), [1400.0, 900.0], Theme::Light, "How it moves");
    let document = harness.state().document();
    let before = cutoffs(document);
    let curve = Insight::default().curve(document, SEASON, &before);
    for sentence in curve.sentences() {
        assert!(says(&harness, &sentence), "{sentence}");
    }
    let plot = harness
        .get_by_label_contains("Ears kept by the germination cutoff")
        .rect();
    let at = plot.left_center() + egui::vec2(0.9 * plot.width(), 0.0);
    for pressed in [true, false] {
        harness.event(egui::Event::PointerMoved(at));
        harness.event(egui::Event::PointerButton {
            pos: at,
            button: egui::PointerButton::Primary,
            pressed,
            modifiers: egui::Modifiers::NONE,
        });
        // One pass: a longer press is no click.
        harness.step();
    }
    harness.run();
    let after = cutoffs(harness.state().document());
    let percent = after.germination_percent.expect("a cutoff");
    assert!(
        (75.0..98.0).contains(&percent) && percent.fract() == 0.0,
        "{percent}"
    );
    assert_ne!(before, after);
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
    harness.run();
    assert_eq!(cutoffs(harness.state().document()), before);
}

#[test]
fn looks() {
    for (name, theme) in [("light", Theme::Light), ("dark", Theme::Dark)] {
        for size in [[1280.0, 800.0], [1600.0, 1000.0], [820.0, 700.0]] {
            let mut harness = window(essel(), size, theme, "How it moves");
            harness
                .get_by_label_contains("All other cutoffs as they are")
                .scroll_to_me();
            harness.run();
            shot(&mut harness, &format!("curve_{name}_{}", size[0]));
        }
    }
}

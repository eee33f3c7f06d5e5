//! Kernels of each ear, equal or shared out: the figures, the part in Selection, and what is frozen of it.

use crate::common::{fill, says, shot};
use crate::{SEASON, cutoffs, made, stamp, window};
use egui::Theme;
use egui::accesskit::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use std::collections::BTreeMap;
use std::sync::Arc;
use wintercrib::insight::{Insight, Shares};
use wintercrib::model::{Command, Cutoffs, Document, EarEdit, EarField, EarId, EarValue, KernelWay};
use wintercrib::ui::app::App;

fn small() -> Document {
    made("pocket-starter")
}

fn set(document: &mut Document, most_coancestry: Option<f64>) {
    let command = Command::SetKernels {
        season: SEASON,
        way: most_coancestry.map_or(KernelWay::Equal, KernelWay::SharedOut),
    };
    document.run(&command, &stamp()).expect("a ceiling can be set");
}

fn shares(document: &Document) -> Arc<Shares> {
    Insight::default().shares(document, SEASON, &cutoffs(document))
}

fn planted(document: &Document) -> BTreeMap<EarId, u32> {
    let draft = Insight::default().list_draft(document, SEASON, &cutoffs(document));
    draft
        .entries
        .iter()
        .map(|entry| (entry.ear, entry.plant))
        .collect()
}

fn ceiling(harness: &Harness<'_, App>) -> Option<f64> {
    let project = harness.state().document().project();
    project.selection_of(SEASON).and_then(|one| one.most_coancestry)
}

/// What the shares promise, against the packets and the season of the project itself.
#[test]
fn shares_keep_the_kernels_the_remnants_and_the_ceiling_and_gain() {
    let mut document = small();
    let equal = shares(&document);
    let figures = equal.equal.expect("ears are kept");
    assert_eq!((equal.shared, equal.most_coancestry), (None, None));
    let (kept, before) = (equal.ears.len(), planted(&document));
    assert!(kept > 4 && before.len() == kept, "{kept}");
    assert_eq!(before.values().sum::<u32>(), equal.kernels);
    let ends = [equal.frontier.first(), equal.frontier.last()].map(|end| end.expect("a frontier"));
    assert!(ends[0].coancestry <= figures.coancestry && figures.likely_percent < ends[1].likely_percent);

    set(&mut document, Some(figures.coancestry));
    let shared = shares(&document);
    let now = shared.shared.expect("as diverse as equal kernels can be reached");
    assert!(now.coancestry <= figures.coancestry && now.likely_percent > figures.likely_percent);
    assert_eq!(shared.refusal, None);
    let after = planted(&document);
    assert_eq!(after.values().sum::<u32>(), equal.kernels);
    assert!(after.values().all(|kernels| *kernels > 0));
    let project = document.project();
    let season = project.seasons.get(SEASON).expect("the season");
    let choice = Insight::default().choice(&document, SEASON, &cutoffs(&document));
    let mut by_hand = 0.0;
    for (ear, kernels) in &after {
        let standing = choice.of(*ear).expect("a listed ear");
        let held = standing.kernels.expect("the demo's packets are counted");
        assert!(
            held - i64::from(*kernels) >= i64::from(season.remnant),
            "ear {ear}"
        );
        by_hand += f64::from(*kernels) * standing.estimate.expect("scored").likely_percent;
    }
    assert!((by_hand / f64::from(equal.kernels) - now.likely_percent).abs() < 1e-9);

    document.undo(&stamp()).expect("it can be undone");
    assert_eq!(planted(&document), before);
}

/// The ear with most kernels is left with hardly more than the remnant: no share goes beyond it.
#[test]
fn a_nearly_empty_packet_bounds_the_share_of_its_ear() {
    let mut document = small();
    let equal = shares(&document).equal.expect("ears are kept");
    set(&mut document, Some(equal.coancestry));
    let before = shares(&document);
    let top = before
        .ears
        .iter()
        .max_by_key(|one| one.shared)
        .expect("an ear")
        .clone();
    assert!(top.shared > Some(top.equal + 2));
    let remnant = document
        .project()
        .seasons
        .get(SEASON)
        .expect("the season")
        .remnant;
    assert!(remnant > 0);
    let edit = EarEdit {
        ear: top.ear,
        field: EarField::Kernels,
        value: EarValue::Whole(remnant + top.equal + 2),
    };
    document
        .run(&Command::EditEars(vec![edit]), &stamp())
        .expect("kernels are counted again");
    let after = shares(&document);
    let one = after
        .ears
        .iter()
        .find(|one| one.ear == top.ear)
        .expect("it is kept");
    assert_eq!((one.most, one.equal), (top.equal + 2, top.equal));
    assert_eq!(one.shared, Some(one.most));
    assert_eq!(after.kernels, before.kernels);
}

#[test]
fn a_ceiling_that_cannot_be_kept_is_said_and_equal_kernels_are_planted() {
    let mut document = small();
    let before = planted(&document);
    set(&mut document, Some(1e-4));
    let found = shares(&document);
    let refusal = found.refusal.clone().expect("so diverse it cannot be");
    assert!(
        refusal.contains("cannot reach an effective size") && refusal.contains("equal"),
        "{refusal}"
    );
    assert_eq!((found.shared, found.kernels_by_ear()), (None, None));
    assert_eq!(planted(&document), before);
    let draft = Insight::default().list_draft(&document, SEASON, &cutoffs(&document));
    assert!(draft.notes.contains(&refusal));
    let outside = Command::SetKernels {
        season: SEASON,
        way: KernelWay::SharedOut(1.5),
    };
    assert!(document.run(&outside, &stamp()).is_err());
    // Nothing kept, nothing to share out.
    let none = Cutoffs {
        germination_percent: Some(100.0),
        sureness: 0.99,
        ..Cutoffs::default()
    };
    let found = Insight::default().shares(&document, SEASON, &none);
    assert_eq!(
        found.refusal.as_deref(),
        Some("No ear is kept, so there is nothing to share out.")
    );
}

/// The effective size with pollen of N unrelated plants and of so many unrelated ears used equally is
/// 4 Nf Nm / (Nf + Nm) (Wright 1931; Falconer and Mackay 1996, ch. 4, from memory).
#[test]
fn effective_size_and_coancestry_are_each_others_inverse() {
    let found = shares(&small());
    let (mothers, fathers) = (12.0, found.pollen_plants as f64);
    let size = found.effective_size(1.0 / (8.0 * mothers)).expect("a size");
    assert!((size - 4.0 * mothers * fathers / (mothers + fathers)).abs() < 1e-9);
    assert!((found.coancestry(size).expect("a coancestry") - 1.0 / 96.0).abs() < 1e-12);
    assert_eq!(found.coancestry(4.0 * fathers + 1.0), None);
}

#[test]
fn the_window_shares_out_at_the_size_of_equal_kernels_then_at_the_one_typed() {
    let mut harness = window(small(), [1280.0, 900.0], Theme::Light, "Kernels: ");
    let equal = shares(harness.state().document());
    assert!(says(&harness, &equal.sentences()[0]));
    harness
        .get_by_role_and_label(Role::RadioButton, "Shared out")
        .click();
    harness.run();
    assert_eq!(ceiling(&harness), equal.equal.map(|one| one.coancestry));
    let now = shares(harness.state().document());
    for sentence in now.sentences() {
        assert!(says(&harness, &sentence), "{sentence}");
    }
    fill(&mut harness, "Effective size at least", "30");
    harness.key_press(egui::Key::Enter);
    harness.run();
    let typed = ceiling(&harness).expect("a ceiling");
    assert!((now.effective_size(typed).expect("a size") - 30.0).abs() < 1e-9);
    let (before, after) = (
        now.shared.expect("shared"),
        shares(harness.state().document()).shared.expect("shared"),
    );
    assert!(after.likely_percent > before.likely_percent && after.coancestry <= typed);
    // Three steps back: typed, shared out, nothing.
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
    harness.run();
    assert_eq!(ceiling(&harness), now.most_coancestry);
    harness
        .get_by_role_and_label(Role::RadioButton, "Equal kernels")
        .click();
    harness.run();
    assert_eq!(ceiling(&harness), None);
}

#[test]
fn looks() {
    for (name, theme) in [("light", Theme::Light), ("dark", Theme::Dark)] {
        for (demo, size) in [
            ("pocket-starter", [1280.0, 800.0]),
            ("essel-thaw", [1600.0, 1000.0]),
            ("essel-thaw", [820.0, 700.0]),
        ] {
            let mut document = made(demo);
            let equal = shares(&document).equal.expect("ears are kept");
            set(&mut document, Some(equal.coancestry));
            let mut harness = window(document, size, theme, "Kernels: ");
            if size[0] < 880.0 {
                let switch = harness.get_by_role_and_label(Role::RadioButton, "Shared out");
                switch.scroll_to_me();
                harness.run();
            }
            shot(&mut harness, &format!("shares_{name}_{demo}_{}", size[0]));
        }
    }
}

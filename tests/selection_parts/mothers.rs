//! Mother rows by the ears kept of each; a floor under them that has to be acknowledged before a list is frozen.

use crate::common::{fill, press, says, shot};
use crate::{SEASON, cutoffs, essel, stamp, window};
use egui::Theme;
use egui::accesskit::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use wintercrib::insight::Insight;
use wintercrib::model::{Command, Cutoffs, Stand};
use wintercrib::ui::app::App;

fn least(harness: &Harness<'_, App>) -> Option<u16> {
    let project = harness.state().document().project();
    project.selection_of(SEASON).and_then(|one| one.least_mothers)
}

#[test]
fn every_row_is_counted_and_the_lost_ones_are_named() {
    let (document, insight) = (essel(), Insight::default());
    let set = Cutoffs {
        germination_percent: Some(85.0),
        ..cutoffs(&document)
    };
    let mothers = insight.mothers(&document, SEASON, &set);
    let choice = insight.choice(&document, SEASON, &set);
    assert_eq!(mothers.lines.len(), choice.summary.mothers);
    assert_eq!(mothers.kept(), choice.summary.mothers_kept);
    assert!(mothers.lost().count() > 3);
    for line in &mothers.lines {
        let ears = || choice.standings.iter().filter(|one| one.row == line.row);
        let kept: Vec<_> = ears()
            .filter(|one| one.stand == Stand::Plant)
            .map(|one| one.ear)
            .collect();
        assert_eq!((line.ears, &line.kept), (ears().count(), &kept));
        let likely: Vec<f64> = ears()
            .filter_map(|one| Some(one.estimate?.likely_percent))
            .collect();
        let best = likely.iter().copied().reduce(f64::max);
        assert_eq!((line.scored, line.best.map(|best| best.2)), (likely.len(), best));
    }
    let said = mothers.sentences().join(" ");
    let best = mothers
        .lost()
        .filter_map(|line| line.best)
        .max_by(|a, b| a.2.total_cmp(&b.2));
    let number = best.expect("a lost family was scored").1;
    assert!(
        said.contains(&format!(
            "The best ear of a lost family is {number} of mother row "
        )),
        "{said}"
    );
    assert!(said.contains("families are lost: mother rows "), "{said}");
}

#[test]
fn fewer_mothers_than_wanted_must_be_acknowledged_before_freezing() {
    let mut harness = window(essel(), [1400.0, 1000.0], Theme::Light, "Mother rows: ");
    let kept = Insight::default()
        .mothers(
            harness.state().document(),
            SEASON,
            &cutoffs(harness.state().document()),
        )
        .kept();
    assert!(!says(&harness, "fewer than the"));
    fill(
        &mut harness,
        "Mother rows wanted at least",
        &(kept + 1).to_string(),
    );
    harness.key_press(egui::Key::Enter);
    harness.run();
    assert_eq!(least(&harness), Some(kept as u16 + 1));
    assert!(says(&harness, "too few"));
    assert!(says(
        &harness,
        &format!("fewer than the {} that you want", kept + 1)
    ));
    press(&mut harness, "Freeze the planting list…");
    fill(&mut harness, "Frozen by", "Grower A");
    let can = |harness: &Harness<'_, App>| {
        let button = harness.get_by_role_and_label(Role::Button, "Freeze");
        !button.accesskit_node().is_disabled()
    };
    assert!(!can(&harness) && says(&harness, "Tick that you know of the mother rows"));
    shot(&mut harness, "mothers_freeze");
    harness
        .get_by_role_and_label(Role::CheckBox, "I know, and freeze the list all the same")
        .click();
    harness.run();
    assert!(can(&harness));
    press(&mut harness, "Freeze");
    assert!(
        harness
            .state()
            .document()
            .project()
            .list_in_force(SEASON)
            .is_some()
    );
}

#[test]
fn enough_mothers_ask_nothing_and_a_row_chooses_its_ears() {
    let mut document = essel();
    let set = |least| Command::SetLeastMothers {
        season: SEASON,
        least,
    };
    document.run(&set(Some(2)), &stamp()).expect("a floor");
    let mut harness = window(document, [1400.0, 1000.0], Theme::Dark, "Mother rows: ");
    assert!(!says(&harness, "too few"));
    let set = cutoffs(harness.state().document());
    let mothers = Insight::default().mothers(harness.state().document(), SEASON, &set);
    let first = &mothers.lines[0];
    let name = format!("Mother row {}: ", first.label);
    harness.get_by_label_contains(&name).click();
    harness.run();
    assert_eq!(harness.state().chosen(), first.kept);
}

#[test]
fn looks() {
    for (name, theme) in [("light", Theme::Light), ("dark", Theme::Dark)] {
        for size in [[1280.0, 800.0], [820.0, 700.0]] {
            let mut harness = window(essel(), size, theme, "Mother rows: ");
            shot(&mut harness, &format!("mothers_{name}_{}", size[0]));
        }
    }
}

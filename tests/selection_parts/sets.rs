//! Sets of cutoffs that are kept and compared, the history of their moves, and names that are hidden meanwhile.

use crate::common::{fill, press, says, shot};
use crate::{SEASON, cutoffs, essel, open, stamp, window};
use egui::{Key, Modifiers, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use jiff::ToSpan as _;
use wintercrib::insight::Insight;
use wintercrib::model::{Command, Cutoffs, Document, SeenWhileMoving, Selection, Stamp};
use wintercrib::ui::app::App;

fn selection<'a>(harness: &'a Harness<'_, App>) -> &'a Selection {
    let project = harness.state().document().project();
    project.selection_of(SEASON).expect("it has cutoffs")
}

fn click(harness: &mut Harness<'_, App>, button: &str) {
    harness.get_by_role_and_label(Role::Button, button).scroll_to_me();
    harness.run();
    harness.get_by_role_and_label(Role::Button, button).click();
    harness.run();
}

fn type_cutoff(harness: &mut Harness<'_, App>, percent: &str) {
    fill(harness, "Cold germination at least", percent);
    harness.key_press(Key::Enter);
    harness.run();
}

#[test]
fn cutoffs_are_kept_compared_set_again_renamed_and_removed() {
    let mut harness = window(essel(), [1400.0, 1000.0], Theme::Light, "Sets: 0");
    let first = cutoffs(harness.state().document());
    fill(&mut harness, "Keep them as", "usual");
    fill(&mut harness, "Note", "as every year");
    click(&mut harness, "Keep the cutoffs");
    type_cutoff(&mut harness, "60");
    let second = cutoffs(harness.state().document());
    assert_eq!(second.germination_percent, Some(60.0));
    let (kept, sets) = (&selection(&harness).kept, Insight::default());
    assert_eq!(
        (kept[0].name.as_str(), kept[0].note.as_str(), &kept[0].cutoffs),
        ("usual", "as every year", &first)
    );
    let sets = sets.sets(harness.state().document(), SEASON, &second);

    // Each line tells what the choice under its cutoffs tells.
    for (line, cutoffs) in sets.lines.iter().zip([&second, &first]) {
        let (document, insight) = (harness.state().document(), Insight::default());
        let choice = insight.choice(document, SEASON, cutoffs);
        let price = insight.price(document, SEASON, cutoffs);
        let kinship = price.kinship.expect("ears are kept");
        assert_eq!(line.kept, choice.summary.kept);
        assert_eq!(line.retest, choice.summary.retest);
        assert_eq!(line.mothers_kept, choice.summary.mothers_kept);
        assert_eq!(line.likely_percent, choice.summary.likely_percent.kept);
        assert_eq!(line.expected_below, choice.summary.expected_below);
        assert_eq!(
            line.maturity_shift_days,
            choice.summary.maturity_days.difference()
        );
        assert_eq!(
            line.effective_size,
            Some([kinship.open.effective_size(), kinship.closed.effective_size()])
        );
        assert!(says(&harness, &line.sentence()), "{}", line.sentence());
    }
    let usual = &sets.lines[1];
    assert!(usual.only_here.is_empty() && !usual.only_set.is_empty());
    assert_eq!(usual.kept + usual.only_set.len(), sets.lines[0].kept);
    shot(&mut harness, "sets_light");

    click(
        &mut harness,
        &format!("Choose {} not kept here: usual", usual.only_set.len()),
    );
    assert_eq!(harness.state().chosen(), usual.only_set);
    click(&mut harness, "Set these: usual");
    assert_eq!(cutoffs(harness.state().document()), first);
    click(&mut harness, "Rename…: usual");
    fill(&mut harness, "New name", "common");
    click(&mut harness, "Rename");
    assert_eq!(selection(&harness).kept[0].name, "common");
    click(&mut harness, "Remove: common");
    assert!(selection(&harness).kept.is_empty());
    for _ in 0..3 {
        harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        harness.run();
    }
    assert_eq!(selection(&harness).kept[0].name, "usual");
    assert_eq!(
        cutoffs(harness.state().document()),
        second,
        "setting a kept one is a step of its own"
    );
}

#[test]
fn two_sets_have_two_names() {
    let mut document = essel();
    let keep = |name: &str, percent| Command::KeepCutoffs {
        season: SEASON,
        name: name.to_owned(),
        cutoffs: Cutoffs {
            germination_percent: Some(percent),
            ..Cutoffs::default()
        },
        note: String::new(),
    };
    let kept = |document: &Document| {
        let selection = document.project().selection_of(SEASON).expect("it has cutoffs");
        selection
            .kept
            .iter()
            .map(|one| (one.name.clone(), one.cutoffs.germination_percent))
            .collect::<Vec<_>>()
    };
    for command in [keep("strict", 80.0), keep(" mild ", 50.0), keep("strict", 85.0)] {
        document.run(&command, &stamp()).expect("it is kept");
    }
    let both = [("strict".to_owned(), Some(85.0)), ("mild".to_owned(), Some(50.0))];
    assert_eq!(kept(&document), both, "the same name replaces");
    for (command, part) in [
        (keep("Strict", 70.0), "Strict"),
        (keep(" ", 70.0), "name"),
        (keep("hot", 170.0), "170"),
        (
            Command::DropCutoffs {
                season: SEASON,
                name: "cold".to_owned(),
            },
            "no cutoffs are kept as 'cold'",
        ),
        (
            Command::RenameCutoffs {
                season: SEASON,
                from: "mild".to_owned(),
                to: "STRICT".to_owned(),
            },
            "STRICT",
        ),
    ] {
        let problem = document
            .run(&command, &stamp())
            .expect_err("it is refused")
            .to_string();
        assert!(problem.contains(part), "{problem}");
        assert_eq!(kept(&document), both);
    }
}

#[test]
fn moves_of_the_cutoffs_are_kept_with_what_they_changed() {
    let mut document = essel();
    let before = document
        .project()
        .selection_of(SEASON)
        .expect("it has cutoffs")
        .moves
        .len();
    let mut at = stamp();
    let mut moved = |document: &mut Document, seconds: i64, by: &str, percent: f64, names_hidden: bool| {
        at = Stamp {
            at: at.at.saturating_add(seconds.seconds()),
            by: by.to_owned(),
        };
        let cutoffs = Cutoffs {
            germination_percent: Some(percent),
            ..cutoffs(document)
        };
        let kept = Insight::default().choice(document, SEASON, &cutoffs).summary.kept as u32;
        let seen = SeenWhileMoving {
            kept: Some(kept),
            names_hidden,
        };
        let command = Command::SetCutoffs {
            season: SEASON,
            cutoffs,
            seen,
        };
        document.run(&command, &at).expect("it is set");
        document.close_step();
        kept
    };
    // Three within a minute are one move; the same cutoffs are none; another person's are their own.
    moved(&mut document, 0, "Grower A", 72.0, false);
    moved(&mut document, 20, "Grower A", 74.0, false);
    let first = moved(&mut document, 20, "Grower A", 76.0, false);
    moved(&mut document, 90, "Grower A", 76.0, false);
    let second = moved(&mut document, 5, "Helper B", 66.0, false);
    let third = moved(&mut document, 5, "Helper B", 64.0, true);
    let insight = Insight::default();
    let sets = insight.sets(&document, SEASON, &cutoffs(&document));
    assert_eq!(sets.moves.len(), before + 3);
    let said: Vec<String> = sets
        .moves
        .iter()
        .take(3)
        .map(wintercrib::insight::MoveLine::sentence)
        .collect();
    assert_eq!(
        said,
        [
            format!(
                "2026-11-25 09:02 Helper B: cold germination at least 64 %, before 66 %; {third} ears kept, before {second}; names hidden."
            ),
            format!(
                "2026-11-25 09:02 Helper B: cold germination at least 66 %, before 76 %; {second} ears kept, before {first}."
            ),
            format!(
                "2026-11-25 09:00 Grower A: cold germination at least 76 %, before 70 %; {first} ears kept."
            ),
        ]
    );
    let proposal = insight.list_draft(&document, SEASON, &cutoffs(&document));
    let count = format!(
        "The cutoffs were moved {} times, of that 1 time with the names of the ears hidden.",
        before + 3
    );
    assert!(proposal.notes.contains(&count), "{:?}", proposal.notes);
    document.undo(&stamp()).expect("it is undone");
    assert_eq!(
        insight.sets(&document, SEASON, &cutoffs(&document)).moves.len(),
        before + 2
    );
}

#[test]
fn hidden_names_are_nowhere_until_the_freeze() {
    let mut harness = window(essel(), [1400.0, 1000.0], Theme::Dark, "Sets: 0");
    let texts = |harness: &Harness<'_, App>| {
        let nodes = harness.query_all(egui_kittest::kittest::by());
        let said = |node: egui_kittest::Node<'_>| {
            let node = node.accesskit_node();
            [node.label(), node.value()]
        };
        nodes.flat_map(said).flatten().collect::<Vec<String>>()
    };
    let rows = |texts: &[String], part: &str| texts.iter().filter(|text| text.starts_with(part)).count();
    let shown = texts(&harness);
    assert!(rows(&shown, "Row of ear 1:") == 1 && rows(&shown, "Row of ear ?") == 0);
    harness
        .get_by_label("Hide the names of ears while cutting")
        .click();
    harness.run();
    for part in ["Mother rows", "Kernels", "Retest list"] {
        let switch = |harness: &Harness<'_, App>| {
            let buttons = harness.query_all_by_role(Role::Button);
            let labels = buttons.filter_map(|node| node.accesskit_node().label());
            labels
                .into_iter()
                .find(|label| label.starts_with(part))
                .expect("its switch is there")
        };
        let name = switch(&harness);
        click(&mut harness, &name);
    }
    let hidden = texts(&harness);
    assert!(rows(&hidden, "Row of ear ?") > 1);
    assert!(
        hidden
            .iter()
            .filter(|text| text.starts_with("Hidden while the names of ears"))
            .count()
            >= 3
    );
    for text in &hidden {
        assert!(
            !text.starts_with("Row of ear 1") && !text.contains("ET25-"),
            "{text}"
        );
    }
    // The rows are not in the order of the harvest.
    let numbers: Vec<u32> = {
        let insight = Insight::default();
        let choice = insight.choice(
            harness.state().document(),
            SEASON,
            &cutoffs(harness.state().document()),
        );
        harness.key_press(Key::N);
        harness.run();
        let mut found = Vec::new();
        for _ in 0..6 {
            let ear = harness.state().chosen()[0];
            found.push(choice.of(ear).expect("it is of this season").number);
            harness.key_press(Key::N);
            harness.run();
        }
        found
    };
    assert!(!numbers.is_sorted(), "{numbers:?}");
    shot(&mut harness, "sets_hidden_dark");
    // The ear card and Find would tell.
    harness.key_press_modifiers(Modifiers::COMMAND, Key::F);
    harness.run();
    assert!(says(
        &harness,
        "Find is closed while the names of ears are hidden"
    ));
    type_cutoff(&mut harness, "66");
    assert!(
        selection(&harness)
            .moves
            .last()
            .expect("it was moved")
            .names_hidden
    );
    press(&mut harness, "Freeze the planting list…");
    harness.key_press(Key::Escape);
    harness.run();
    assert!(
        rows(&texts(&harness), "Row of ear ?") == 0,
        "a list is read by names"
    );
}

#[test]
fn many_moves_stay_quick_to_show() {
    let mut document = essel();
    for step in 0..600_i64 {
        let cutoffs = Cutoffs {
            germination_percent: Some(40.0 + (step % 50) as f64),
            ..Cutoffs::default()
        };
        let stamp = Stamp {
            at: stamp().at.saturating_add((2 * step).minutes()),
            by: "Test".to_owned(),
        };
        let command = Command::SetCutoffs {
            season: SEASON,
            cutoffs,
            seen: SeenWhileMoving::default(),
        };
        document.run(&command, &stamp).expect("it is set");
        document.close_step();
    }
    let mut harness = open(document, [1280.0, 800.0], Theme::Light);
    harness.get_by_label_contains("moves: 60").click();
    harness.run();
    assert!(says(&harness, "The cutoffs were moved 60"));
}

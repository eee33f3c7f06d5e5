//! Kernels of each ear for a wanted stand: the figures, the part in Selection, what is frozen of it, and what Planting
//! and the ear card say.

use crate::common::{fill, press, says, shot};
use crate::{SEASON, cutoffs, essel, made, stamp, window};
use egui::Theme;
use egui::accesskit::Role;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use wintercrib::demo;
use wintercrib::insight::{EarSowing, Hindrance, Insight, ListProposal, Sowings};
use wintercrib::model::{
    Change, Command, Cutoffs, Document, EarEdit, EarField, EarId, EarValue, FieldNote, FieldShape, KernelWay,
    ListDraft, RowField, Season, SeasonId, Selection, Sowing, Transaction,
};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

fn run(document: &mut Document, command: &Command) {
    document.run(command, &stamp()).expect("it is taken");
}

fn for_a_stand(mut document: Document) -> Document {
    let way = KernelWay::ForAStand;
    run(&mut document, &Command::SetKernels { season: SEASON, way });
    document
}

fn season(document: &Document) -> Season {
    document
        .project()
        .seasons
        .get(SEASON)
        .expect("the season")
        .clone()
}

fn want(document: &mut Document, sowing: Sowing) {
    let sowing = Some(sowing);
    let command = Command::EditSeason(Season {
        sowing,
        ..season(document)
    });
    run(document, &command);
}

fn sowings(document: &Document) -> Sowings {
    let found = Insight::default().sowings(document, SEASON, &cutoffs(document));
    Option::clone(&found).expect("kernels are for a stand")
}

fn of(sowings: &Sowings, ear: EarId) -> EarSowing {
    let found = sowings.ears.iter().find(|one| one.ear == ear);
    found.expect("it is kept").clone()
}

fn draft(document: &Document) -> ListProposal {
    ListProposal::clone(&Insight::default().list_draft(document, SEASON, &cutoffs(document)))
}

/// Freezes what would be frozen now.
fn freeze(document: &mut Document) {
    let proposal = draft(document);
    freeze_as(document, proposal);
}

fn freeze_as(document: &mut Document, proposal: ListProposal) {
    freeze_because(document, proposal, "");
}

fn freeze_because(document: &mut Document, proposal: ListProposal, reason: &str) {
    let command = Command::Freeze(ListDraft {
        season: SEASON,
        by: "Grower A".to_owned(),
        reason: reason.to_owned(),
        cutoffs: cutoffs(document),
        entries: proposal.entries,
        reserves: proposal.reserves,
    });
    run(document, &command);
}

/// Leaves so many kernels in the packet of an ear.
fn leave(document: &mut Document, ear: EarId, kernels: u32) {
    let edit = EarEdit {
        ear,
        field: EarField::Kernels,
        value: EarValue::Whole(kernels),
    };
    run(document, &Command::EditEars(vec![edit]));
}

#[test]
fn each_ear_gets_the_fewest_kernels_that_are_sure_enough_and_a_kernel_less_is_not() {
    let mut document = for_a_stand(essel());
    let found = sowings(&document);
    assert_eq!((found.wanted, found.refusal.as_ref()), (Sowing::COMMON, None));
    let scored = found.ears.iter().filter(|one| one.likely_percent.is_some());
    let likely = |one: &&EarSowing| one.likely_percent.map(|percent| (100.0 * percent) as u32);
    let worst = scored.clone().min_by_key(likely).expect("an ear").clone();
    let best = scored.clone().max_by_key(likely).expect("an ear").clone();
    let needed = |one: &EarSowing| one.told.needed.expect("it can be reached");
    // Fewer than wanted never do, and the ear that is likely to be worse takes more.
    assert!(
        needed(&best) >= 20 && needed(&worst) > needed(&best),
        "{worst:?} {best:?}"
    );
    assert!(best.told.probability >= 0.9 && best.told.sure_plants >= 20);
    assert!(
        (best.told.plants / f64::from(best.plant) - best.likely_percent.expect("scored") / 100.0).abs()
            < 1e-6
    );

    let remnant = season(&document).remnant;
    for one in [&worst, &best] {
        leave(&mut document, one.ear, remnant + needed(one));
        let exact = of(&sowings(&document), one.ear);
        assert_eq!((exact.plant, exact.limited_by()), (needed(one), ""));
        leave(&mut document, one.ear, remnant + needed(one) - 1);
        let short = of(&sowings(&document), one.ear);
        assert_eq!((short.plant, short.limited_by()), (needed(one) - 1, "its packet"));
        assert!(
            short.told.probability < 0.9 && short.told.sure_plants < 20,
            "{short:?}"
        );
        assert_eq!(short.told.needed, one.told.needed);
    }
    let found = sowings(&document);
    let shortfall = found.shortfall().expect("two ears are short");
    for one in [worst, best] {
        assert!(
            shortfall.contains(&format!("ear {} (19 plants as sure, 20 with", one.number)),
            "{shortfall}"
        );
    }
    let proposal = draft(&document);
    assert!(proposal.notes.contains(&shortfall));
    assert_eq!(proposal.way, found.way());
    let plants: Vec<(EarId, u32)> = found.ears.iter().map(|one| (one.ear, one.plant)).collect();
    let listed: Vec<(EarId, u32)> = proposal.entries.iter().map(|one| (one.ear, one.plant)).collect();
    assert_eq!(listed, plants);
    assert!(proposal.entries.iter().all(|one| one.keep == remnant));
    // The ear card says it of every ear, kept or not.
    let card = |document: &Document, ear: EarId| {
        let card = Insight::default().ear_card(document, ear);
        Option::clone(&card).expect("the ear is there").sowing
    };
    let one = &found.ears[0];
    assert_eq!(card(&document, one.ear), Some(one.sentence(&found.wanted)));
    let kept = |ear: EarId| found.ears.iter().any(|one| one.ear == ear);
    let other = document.project().ears.iter().find(|ear| !kept(ear.id));
    let said = card(&document, other.expect("not all are kept").id).expect("it is for a stand");
    assert!(
        said.starts_with("For at least 20 plants with a probability of 90 %: "),
        "{said}"
    );
    assert_eq!(card(&essel(), one.ear), None);
    let summary = &Insight::default()
        .choice(&document, SEASON, &cutoffs(&document))
        .summary;
    let wanted: u64 = found.ears.iter().map(|one| u64::from(needed(one))).sum();
    let counted = found.ears.iter().filter(|one| one.above.is_some());
    let ready: u64 = counted.map(|one| u64::from(one.plant)).sum();
    assert_eq!((summary.kernels_wanted, summary.kernels_ready), (wanted, ready));
    let short: Vec<EarId> = found.short().map(|one| one.ear).collect();
    assert_eq!(summary.short, short);
}

#[test]
fn a_worse_field_more_plants_or_more_sureness_take_more_kernels() {
    let mut document = for_a_stand(essel());
    let before = sowings(&document);
    for harder in [
        Sowing {
            plants: 21,
            ..Sowing::COMMON
        },
        Sowing {
            sureness: 0.99,
            ..Sowing::COMMON
        },
        Sowing {
            field_factor: 0.8,
            ..Sowing::COMMON
        },
    ] {
        want(&mut document, harder);
        let after = sowings(&document);
        assert_eq!(after.wanted, harder);
        for (before, after) in before.ears.iter().zip(&after.ears) {
            assert!(after.told.needed > before.told.needed, "{harder:?} {before:?}");
        }
    }
    for wrong in [
        Sowing {
            plants: 0,
            ..Sowing::COMMON
        },
        Sowing {
            sureness: 1.0,
            ..Sowing::COMMON
        },
        Sowing {
            field_factor: 0.0,
            ..Sowing::COMMON
        },
        Sowing {
            field_factor: f64::NAN,
            ..Sowing::COMMON
        },
    ] {
        let sowing = Some(wrong);
        let command = Command::EditSeason(Season {
            sowing,
            ..season(&document)
        });
        assert!(document.run(&command, &stamp()).is_err(), "{wrong:?}");
    }
}

/// A field in which one kernel of a hundred comes up, and far too many plants wanted of it.
#[test]
fn what_no_packet_could_give_is_limited_by_germination() {
    let mut document = for_a_stand(essel());
    let (plants, field_factor) = (Sowing::MOST_PLANTS, 0.01);
    want(
        &mut document,
        Sowing {
            plants,
            field_factor,
            ..Sowing::COMMON
        },
    );
    let found = sowings(&document);
    for one in &found.ears {
        assert_eq!((one.told.needed, one.limited_by()), (None, "its germination"));
        // All that there is above the remnant; of a packet that was never counted, what the season says.
        assert_eq!(one.plant, one.above.unwrap_or(30));
        assert!((one.told.probability, one.told.sure_plants) < (1e-9, plants));
        let said = one.sentence(&found.wanted);
        assert!(said.contains("more than 1000 kernels"), "{said}");
    }
    assert!(found.ears.iter().any(|one| one.above.is_none()));
    assert_eq!(found.short().count(), found.ears.len());
    let proposal = draft(&document);
    assert!(proposal.entries.iter().all(|entry| entry.plant > 0));
}

/// The switch has one place: no project has two ways at once, and undoing gives back the figures of before.
#[test]
fn kernels_are_found_in_one_way_only() {
    let mut document = essel();
    let before = draft(&document);
    assert_eq!(before.way, "Equal kernels of each ear: 30.");
    assert!(before.entries.iter().all(|entry| entry.sowing.is_none()));
    for way in [
        KernelWay::ForAStand,
        KernelWay::SharedOut(0.01),
        KernelWay::ForAStand,
    ] {
        run(&mut document, &Command::SetKernels { season: SEASON, way });
        let selection = document
            .project()
            .selection_of(SEASON)
            .expect("a selection")
            .clone();
        assert_eq!(selection.kernel_way(), way);
        let both = Selection {
            for_a_stand: true,
            most_coancestry: Some(0.01),
            ..selection.clone()
        };
        let change = Transaction::new("Both", vec![Change::replace(&selection, both)]);
        let refusal = document
            .commit(change, &stamp())
            .expect_err("one of both")
            .to_string();
        assert!(refusal.contains("choose one"), "{refusal}");
    }
    assert_ne!(draft(&document), before);
    document.undo(&stamp()).expect("it can be undone");
    assert_eq!(draft(&document), before);
}

#[test]
fn without_any_count_equal_kernels_are_planted_and_that_is_said() {
    let mut document = made("pocket-starter");
    let none = Cutoffs {
        germination_percent: None,
        ..Cutoffs::default()
    };
    let unscored = Command::AddSeason {
        year: 2031,
        planted: None,
    };
    run(&mut document, &unscored);
    let new = document.project().latest_season().expect("it was added").id;
    let way = KernelWay::ForAStand;
    run(&mut document, &Command::SetKernels { season: new, way });
    let found = Insight::default().sowings(&document, new, &none);
    let refusal = Option::as_ref(&found)
        .and_then(|one| one.refusal.clone())
        .expect("nothing is counted");
    assert!(refusal.contains("Equal kernels are planted"), "{refusal}");
    let draft = Insight::default().list_draft(&document, new, &none);
    assert!(draft.notes.contains(&refusal) && draft.way.starts_with("Equal kernels"));
}

#[test]
fn a_frozen_list_keeps_what_was_wanted_and_what_its_kernels_give() {
    let mut document = for_a_stand(essel());
    freeze(&mut document);
    let list = document
        .project()
        .list_in_force(SEASON)
        .expect("it was frozen")
        .clone();
    assert_eq!(list.sowing, Some(Sowing::COMMON));
    let text = list.text();
    assert!(text.contains("kernels of each ear for: at least 20 plants with a probability of 90 %\n"));
    let entry = &list.entries[0];
    let sowing = entry.sowing.expect("it is for a stand");
    let tail = format!(
        "\t{}\t{}\tcutoffs\t{}\t{:.1}\t{}\t{}\t{:.2}\t{}\n",
        entry.plant,
        entry.keep,
        sowing.needed.expect("it can be reached"),
        sowing.plants,
        sowing.plants_low,
        sowing.plants_high,
        sowing.probability,
        sowing.sure_plants
    );
    assert!(text.contains(&tail), "{tail}\n{text}");
    // What is wanted later leaves the list as it is.
    want(
        &mut document,
        Sowing {
            plants: 40,
            ..Sowing::COMMON
        },
    );
    assert_eq!(document.project().list_in_force(SEASON), Some(&list));
}

/// The first ear of the retest list goes on a list all the same, so that a retest would take five of its kernels.
#[test]
fn a_retest_that_would_take_reserved_kernels_says_so_and_leaves_the_ear_out() {
    let mut document = essel();
    let retest = |document: &Document| Insight::default().retest(document, SEASON, &cutoffs(document));
    let before = retest(&document);
    let one = before.first(1).next().expect("an ear to test again").clone();
    let held = one.left.expect("the packet was counted") as u32;
    let mut proposal = draft(&document);
    let mut entry = proposal.entries[0].clone();
    let ear = document.project().ears.get(one.ear).expect("the ear");
    (entry.ear, entry.code, entry.number) = (ear.id, ear.code, ear.number);
    (entry.plant, entry.keep) = (held - 5, 5);
    proposal.entries.push(entry);
    freeze_as(&mut document, proposal);
    let after = retest(&document);
    let now = after
        .ears
        .iter()
        .find(|now| now.ear == one.ear)
        .expect("it stays listed");
    let missing = before.kernels - 5;
    let expected = Hindrance::Reserved {
        list: 1,
        kernels: held - 5,
        missing,
    };
    assert_eq!(now.hindrance, Some(expected));
    assert!(
        now.sentence()
            .contains(&format!("the test would take {missing} of those"))
    );
    assert!(after.first(usize::MAX).all(|other| other.ear != one.ear));
    // Once it is planted its kernels are gone, and nothing is reserved any more.
    let list = document
        .project()
        .list_in_force(SEASON)
        .expect("it was frozen")
        .id;
    let on = stamp().at.date();
    run(
        &mut document,
        &Command::Plant {
            list,
            ears: vec![one.ear],
            on,
        },
    );
    let planted = retest(&document);
    let now = planted
        .ears
        .iter()
        .find(|now| now.ear == one.ear)
        .expect("it stays listed");
    assert_eq!(now.hindrance, Some(Hindrance::Short));
}

fn way(harness: &Harness<'_, App>) -> KernelWay {
    let project = harness.state().document().project();
    project
        .selection_of(SEASON)
        .map_or(KernelWay::Equal, Selection::kernel_way)
}

/// Clicks the row of an ear in the table.
fn choose(harness: &mut Harness<'_, App>, one: &EarSowing) {
    let wanted = sowings(harness.state().document()).wanted;
    let said = format!("Ear {}. {}", one.number, one.sentence(&wanted));
    for _ in 0..2 {
        harness.get_by_role_and_label(Role::Button, &said).scroll_to_me();
        harness.run();
    }
    harness.get_by_role_and_label(Role::Button, &said).click();
    harness.run();
}

#[test]
fn the_window_switches_to_a_stand_and_takes_what_is_typed() {
    let mut harness = window(essel(), [1600.0, 1000.0], Theme::Light, "Kernels: equal");
    harness
        .get_by_role_and_label(Role::RadioButton, "For a stand")
        .click();
    harness.run();
    assert_eq!(way(&harness), KernelWay::ForAStand);
    let found = sowings(harness.state().document());
    assert!(says(&harness, "Kernels: for 20 plants"));
    for sentence in found.sentences().iter().chain([&found.assumptions()]) {
        assert!(says(&harness, sentence), "{sentence}");
    }
    for (field, text) in [
        ("Plants in each row", "25"),
        ("With a probability of", "95"),
        ("Field factor", "0.8"),
    ] {
        fill(&mut harness, field, text);
        harness.key_press(egui::Key::Enter);
        harness.run();
    }
    let wanted = Sowing {
        plants: 25,
        sureness: 0.95,
        field_factor: 0.8,
    };
    let found = sowings(harness.state().document());
    assert_eq!(found.wanted, wanted);
    assert!(says(&harness, "Kernels: for 25 plants"));
    // A row of the table says all of its ear, and chooses it.
    let first = found
        .short()
        .next()
        .or(found.ears.first())
        .expect("an ear")
        .clone();
    choose(&mut harness, &first);
    harness.key_press(egui::Key::F4);
    harness.run();
    let sentence = first.sentence(&wanted);
    let said = harness.query_all_by_label_contains(&sentence).count();
    assert_eq!(said, 2, "in the row and on the ear card: {sentence}");
    // Each of the three was a step, and the switch before them.
    for _ in 0..4 {
        harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
        harness.run();
    }
    assert_eq!(way(&harness), KernelWay::Equal);
    assert!(says(&harness, "Kernels: equal"));
}

/// Two seasons: so many ears of the first stand in the field with a factor of about 0.8; those of the second are chosen.
fn with_an_earlier_field(ears: usize) -> (Document, SeasonId) {
    let mut document = Document::new(demo::sized(120, 2, 5).expect("it is made"));
    let proposal = draft(&document);
    freeze_because(&mut document, proposal, "with what is likely of each ear");
    let list = document
        .project()
        .list_in_force(SEASON)
        .expect("it was frozen")
        .clone();
    let plan = Command::PlanField {
        list: list.id,
        shape: FieldShape::in_inches(),
        seed: 7,
    };
    run(&mut document, &plan);
    let plan = document.project().plan_of(list.id).expect("it was planned").id;
    let field = Insight::default().field_plan(&document, plan);
    let rows = &Option::as_ref(&field).expect("it was planned").rows;
    let likely = |ear: EarId| {
        let entry = list.entries.iter().find(|entry| entry.ear == ear)?;
        entry.likely_percent
    };
    let notes = rows.iter().filter_map(|row| {
        let stand = 0.8 * f64::from(row.kernels) * likely(row.content.ear()?)? / 100.0;
        Some(FieldNote {
            row: row.row,
            field: RowField::Stand,
            text: format!("{stand:.0}"),
        })
    });
    let notes = notes.take(ears).collect();
    let on = stamp().at.date();
    run(&mut document, &Command::NoteFieldRows { notes, on });
    let season = document.project().latest_season().expect("the second").id;
    let way = KernelWay::ForAStand;
    run(&mut document, &Command::SetKernels { season, way });
    (document, season)
}

#[test]
fn the_factor_of_an_earlier_field_is_offered_from_fifteen_ears_on_and_taken() {
    let (few, season) = with_an_earlier_field(14);
    assert!(Insight::default().earlier_fields(&few, season).is_empty());
    let (document, season) = with_an_earlier_field(15);
    let found = Insight::default().earlier_fields(&document, season);
    let [field] = found[..] else { panic!("{found:?}") };
    let year = document.project().seasons.get(season).expect("it is there").year;
    assert_eq!((field.year, field.ears), (year - 1, 15));
    assert!((field.factor - 0.8).abs() < 0.03, "{}", field.factor);
    // A field says nothing of the season from which it was planted.
    assert!(Insight::default().earlier_fields(&document, SEASON).is_empty());

    let factor = (100.0 * field.factor).round() / 100.0;
    let mut harness = window(document, [1600.0, 1000.0], Theme::Light, "Kernels: for 20 plants");
    assert!(says(&harness, &field.sentence()));
    let button = format!("Take the field factor {factor}");
    harness
        .get_by_role_and_label(Role::Button, &button)
        .scroll_to_me();
    harness.run();
    shot(&mut harness, "stand_earlier_field");
    press(&mut harness, &button);
    let project = harness.state().document().project();
    let wanted = project.seasons.get(season).expect("it is there").wanted();
    let expected = Sowing {
        field_factor: factor,
        ..Sowing::COMMON
    };
    assert_eq!(wanted, expected);
    assert!(harness.query_by_role_and_label(Role::Button, &button).is_none());
}

#[test]
fn harvest_says_that_equal_kernels_are_not_used() {
    let note = "Not used while Selection reckons the kernels of each ear for at least 20 plants";
    for (document, is_said) in [(essel(), false), (for_a_stand(essel()), true)] {
        let mut harness = crate::open(document, [1280.0, 800.0], Theme::Light);
        harness.state_mut().show(Pane::Harvest);
        harness.run();
        assert_eq!(says(&harness, note), is_said);
        if is_said {
            shot(&mut harness, "stand_harvest");
        }
    }
}

#[test]
fn looks() {
    for (name, theme) in [("light", Theme::Light), ("dark", Theme::Dark)] {
        for size in [[1280.0, 800.0], [1600.0, 1000.0]] {
            let mut document = for_a_stand(essel());
            let ears = sowings(&document).ears;
            leave(&mut document, ears[3].ear, 38);
            leave(&mut document, ears[5].ear, 41);
            want(
                &mut document,
                Sowing {
                    field_factor: 0.85,
                    ..Sowing::COMMON
                },
            );
            let mut harness = window(document.clone(), size, theme, "Kernels: ");
            shot(&mut harness, &format!("stand_{name}_{}", size[0]));
            choose(&mut harness, &of(&sowings(&document), ears[3].ear));
            harness.key_press(egui::Key::F4);
            harness.run();
            let sentence = of(&sowings(&document), ears[3].ear).sentence(&sowings(&document).wanted);
            if let Some(card) = harness.query_by_label(&sentence) {
                card.scroll_to_me();
                harness.run();
            }
            shot(&mut harness, &format!("stand_card_{name}_{}", size[0]));
            harness.key_press(egui::Key::F4);
            harness.run();
            press(&mut harness, "Freeze the planting list…");
            shot(&mut harness, &format!("stand_freeze_{name}_{}", size[0]));
            freeze(&mut document);
            let mut harness = crate::open(document, size, theme);
            harness.state_mut().show(Pane::Planting);
            harness.run();
            shot(&mut harness, &format!("stand_planting_{name}_{}", size[0]));
        }
    }
}

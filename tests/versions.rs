//! Two versions of a project that were worked on apart, made one again.
#![expect(clippy::unwrap_used, reason = "a helper fails its test by panicking")]

mod cli_run;
mod common;
mod dice;

use cli_run::Folder;
use common::{press, says};
use dice::Dice;
use egui::Theme;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use jiff::civil::{Date, date};
use wintercrib::demo;
use wintercrib::exchange::data_package;
use wintercrib::model::{
    CellContent, Change, Command, CutoffMove, Cutoffs, Document, Ear, EarDraft, EarEdit, EarField, EarId,
    EarValue, Existing, Happened, LedgerLine, LedgerReason, Pass, Project, Recipe, Record, SeasonId, Seen,
    SeenWhileMoving, Side, Stamp, Swap, Table, Tally, TestDesign, Transaction, TrayPlan, Versions, Word,
    WordKind, compare, compare_versions,
};
use wintercrib::store::{format, project_file};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;
use wintercrib::ui::user_actions::UserAction;
use wintercrib::ui::widgets::path_prompt::{PathAnswer, ScriptedPathPrompt};

const DAY: Date = date(2026, 2, 20);

fn stamp() -> Stamp {
    Stamp {
        at: DAY.at(20, 0, 0, 0),
        by: "Grower A".to_owned(),
    }
}

fn run(document: &mut Document, command: &Command) {
    document.run(command, &stamp()).unwrap();
    document.close_step();
}

fn edit(document: &mut Document, ear: u32, field: EarField, value: EarValue) {
    let ear = EarId(ear);
    run(document, &Command::EditEars(vec![EarEdit { ear, field, value }]));
}

fn note(document: &mut Document, ear: u32, text: &str) {
    edit(document, ear, EarField::Note, EarValue::Text(text.to_owned()));
}

fn note_of(document: &Document, ear: u32) -> &str {
    &document.project().ears.get(EarId(ear)).unwrap().note
}

/// The project that both began from, with some history.
fn shared() -> Document {
    let mut document = Document::new(demo::make("essel-thaw").unwrap());
    note(&mut document, 101, "begun together");
    note(&mut document, 100, "before they parted");
    document
}

fn versions(ours: &Document, theirs: &Document) -> Versions {
    compare_versions(ours, theirs.project()).unwrap()
}

/// Takes over what the other version has, in one step that can be taken back.
fn take(ours: &mut Document, found: &Versions, sides: &[Side]) {
    let before = format::write(ours.project()).unwrap();
    let command = Command::TakeVersion {
        changes: found.changes(sides),
        label: format!("Take over a version: {}", found.summary()),
    };
    let committed = ours.run(&command, &stamp()).unwrap();
    assert_eq!(committed.places.is_empty(), found.changes(sides).is_empty());
    assert_eq!(ours.project().validate(), []);
    if !committed.places.is_empty() {
        ours.undo(&stamp()).unwrap().unwrap();
        assert!(format::write(ours.project()).unwrap() == before);
        ours.redo(&stamp()).unwrap().unwrap();
    }
}

/// The names of the records of which somebody has to say which version stands.
fn open(found: &Versions) -> Vec<&str> {
    let open = found.differences.iter().filter(|one| one.is_open);
    open.map(|one| one.name.as_str()).collect()
}

fn season(document: &Document) -> SeasonId {
    document.project().latest_season().unwrap().id
}

#[test]
fn what_each_changed_alone_is_in_both() {
    let (mut ours, mut theirs) = (shared(), shared());
    note(&mut ours, 3, "ours");
    edit(&mut ours, 4, EarField::MaturityDays, EarValue::Whole(88));
    note(&mut theirs, 5, "theirs");
    // Another field of an ear that ours changed too.
    note(&mut theirs, 4, "tall");
    let year = season(&theirs);
    run(
        &mut theirs,
        &Command::SetWord {
            season: year,
            ears: vec![EarId(6)],
            word: Some(Word {
                kind: WordKind::Always,
                reason: "the only red ear".to_owned(),
            }),
        },
    );
    let found = versions(&ours, &theirs);
    let parting = found.parting.as_ref().unwrap();
    assert_eq!(parting.steps, 2);
    assert_eq!(
        found.parting_sentence(),
        format!(
            "Both were the same until '{}' here, 2 steps ago.",
            parting.label.clone().unwrap()
        )
    );
    assert!(found.differences.iter().all(|one| !one.is_open), "{found:?}");
    assert_eq!(found.summary(), "2 ears changed, 1 selection changed");
    take(&mut ours, &found, &[]);
    assert_eq!((note_of(&ours, 3), note_of(&ours, 5)), ("ours", "theirs"));
    let ear = ours.project().ears.get(EarId(4)).unwrap();
    assert_eq!((ear.maturity_days, ear.note.as_str()), (Some(88), "tall"));
    assert!(versions(&ours, &theirs).is_nothing_new());
    // And the other way round: then both are the same.
    let back = versions(&theirs, &ours);
    take(&mut theirs, &back, &[]);
    assert!(ours.project() == theirs.project());
}

#[test]
fn what_both_changed_is_asked_and_ours_stands_until_then() {
    let (mut ours, mut theirs) = (shared(), shared());
    note(&mut ours, 3, "ours");
    note(&mut theirs, 3, "theirs");
    edit(
        &mut theirs,
        3,
        EarField::Batch,
        EarValue::Text("rack 9".to_owned()),
    );
    let found = versions(&ours, &theirs);
    let [one] = found.differences.as_slice() else {
        panic!("{found:?}")
    };
    assert!(one.is_open && one.happened == Happened::Changed);
    assert_eq!(one.name, "ear 3");
    let open: Vec<_> = one.fields.iter().filter(|field| field.is_open).collect();
    assert_eq!(open.len(), 1);
    assert_eq!(
        (
            open[0].name.as_str(),
            open[0].ours.as_str(),
            open[0].theirs.as_str()
        ),
        ("note", "'ours'", "'theirs'")
    );
    for (sides, expected) in [
        (vec![], "ours"),
        (vec![Side::Ours], "ours"),
        (vec![Side::Theirs], "theirs"),
    ] {
        let mut taken = ours.clone();
        take(&mut taken, &found, &sides);
        assert_eq!(found.done(&sides), "1 ear changed");
        assert_eq!(note_of(&taken, 3), expected);
        assert_eq!(
            taken.project().ears.get(EarId(3)).unwrap().batch,
            "rack 9",
            "what only they changed comes anyway"
        );
    }
}

#[test]
fn work_that_the_other_version_never_saw_is_not_undone_by_it() {
    // The other computer began from an older save, and its file came over our newer one.
    let mut ours = shared();
    let mut theirs = ours.clone();
    for ear in 10..40 {
        note(&mut ours, ear, "weighed");
    }
    let saved = ours.snapshot();
    ours.mark_saved(&saved, ours.unsaved_events());
    note(&mut theirs, 50, "from the shed");
    note(&mut theirs, 12, "from the shed too");
    let found = versions(&ours, &theirs);
    assert_eq!(found.parting.as_ref().map(|parting| parting.steps), Some(30));
    take(&mut ours, &found, &[]);
    for ear in 10..40 {
        assert_eq!(note_of(&ours, ear), "weighed");
    }
    assert_eq!(note_of(&ours, 50), "from the shed");
    assert_eq!(open(&found), ["ear 12"]);
}

#[test]
fn without_a_history_nothing_of_ours_is_changed_or_removed_unasked() {
    let (mut shared, mut theirs) = (shared(), shared());
    note(&mut shared, 3, "ours");
    edit(&mut shared, 4, EarField::MaturityDays, EarValue::Whole(88));
    note(&mut theirs, 3, "theirs");
    note(&mut theirs, 5, "theirs");
    let year = season(&theirs);
    run(&mut theirs, &add_ears(year, &[9_001]));
    // A copy of the file alone: its journal was left behind.
    let mut ours = Document::new(shared.project().clone());
    let found = versions(&ours, &theirs);
    assert_eq!(found.parting, None);
    assert!(
        found
            .parting_sentence()
            .contains("nothing that is here is changed")
    );
    let before = ours.project().clone();
    take(&mut ours, &found, &[]);
    for ear in before.ears.iter() {
        let now = ours.project().ears.get(ear.id).unwrap();
        // An empty note may be filled in; whatever ours says stays.
        assert!(
            now == ear || (ear.note.is_empty() && ear.id == EarId(5)),
            "{ear:?} {now:?}"
        );
    }
    assert_eq!(note_of(&ours, 5), "theirs");
    assert_eq!(ours.project().ears.len(), before.ears.len() + 1);
    assert_eq!(open(&found), ["ear 3"], "who changed it is not known");
}

fn add_ears(season: SeasonId, numbers: &[u32]) -> Command {
    let draft = |number: &u32| EarDraft {
        number: Some(*number),
        row: Some(format!("new {number}")),
        kernels: Some(100),
        ..EarDraft::default()
    };
    Command::AddEars {
        season,
        drafts: numbers.iter().map(draft).collect(),
        existing: Existing::Refuse,
    }
}

#[test]
fn what_both_added_gets_ids_of_its_own_and_keeps_what_hangs_on_it() {
    let (mut ours, mut theirs) = (shared(), shared());
    let year = season(&ours);
    run(&mut ours, &add_ears(year, &[9_001, 9_002]));
    run(&mut theirs, &add_ears(year, &[9_003, 9_001]));
    let ids: Vec<EarId> = ours
        .project()
        .ears_of(year)
        .rev()
        .take(2)
        .map(|ear| ear.id)
        .collect();
    assert!(
        ids.iter().all(|id| theirs.project().ears.contains(*id)),
        "the same ids"
    );
    let found = versions(&ours, &theirs);
    assert_eq!(
        found.summary(),
        "1 row added, 1 ear added, 1 packet added",
        "ear 9001 is one and the same"
    );
    take(&mut ours, &found, &[]);
    for number in [9_001, 9_002, 9_003] {
        let ear = ours.project().ear_numbered(year, number).unwrap();
        assert_eq!(ours.project().kernels_of(ear.id), Some(100));
        assert_eq!(ours.project().mother_label(ear), format!("new {number}"));
    }
    assert_eq!(ours.project().ear_numbered(year, 9_001).unwrap().id, ids[1]);
}

fn design(document: &Document, name: &str, seed: u64) -> Command {
    Command::DesignTest(TestDesign {
        season: season(document),
        replaces: None,
        name: name.to_owned(),
        plan: TrayPlan::default(),
        recipe: Recipe::default(),
        check_lot: String::new(),
        seed,
        ears: Some(
            document
                .project()
                .ears_of(season(document))
                .take(20)
                .map(|ear| ear.id)
                .collect(),
        ),
    })
}

/// Designs a test, lays it and counts some of its cells.
fn test_and_count(document: &mut Document, name: &str, seed: u64, strong: u16) {
    let command = design(document, name, seed);
    run(document, &command);
    let test = document.project().tests.iter().last().unwrap().id;
    run(
        document,
        &Command::LayTest {
            test,
            on: DAY,
            trays: Vec::new(),
        },
    );
    let cells: Vec<_> = document
        .project()
        .cells_of_test(test)
        .filter(|cell| matches!(cell.content, CellContent::Ear(_)))
        .take(5)
        .map(|cell| (cell.id, document.project().sown(cell)))
        .collect();
    let seen = cells.into_iter().map(|(cell, sown)| {
        let tally = Tally {
            strong,
            dead: sown - strong,
            ..Tally::default()
        };
        Seen::new(cell, Pass::Final, tally)
    });
    run(
        document,
        &Command::RecordCounts {
            counts: seen.collect(),
            on: Some(DAY),
            by: "Grower A".to_owned(),
        },
    );
}

#[test]
fn a_test_that_each_designed_comes_with_its_trays_cells_and_counts() {
    let (mut ours, mut theirs) = (shared(), shared());
    test_and_count(&mut ours, "Late winter", 1, 3);
    test_and_count(&mut theirs, "Late winter", 2, 7);
    let counts = ours.project().counts.len();
    let found = versions(&ours, &theirs);
    assert!(found.left_out.is_empty(), "{:?}", found.left_out);
    assert!(found.differences.iter().all(|one| !one.is_open), "{found:?}");
    take(&mut ours, &found, &[]);
    let project = ours.project();
    assert_eq!(project.counts.len(), counts + 5);
    let mut last = project.tests.iter().rev();
    let (second, first) = (last.next().unwrap(), last.next().unwrap());
    assert_eq!(
        (first.name.as_str(), second.name.as_str()),
        ("Late winter", "Late winter of the other version")
    );
    assert_eq!((first.seed, second.seed), (1, 2));
    for (test, strong) in [(first, 3), (second, 7)] {
        let counted: Vec<u16> = project
            .cells_of_test(test.id)
            .filter_map(|cell| project.count_in_force(cell.id, Pass::Final))
            .map(|count| count.tally.strong)
            .collect();
        assert_eq!(counted, [strong; 5]);
    }
    // The kernels of both are off the packets.
    let ear = project.ears_of(season(&ours)).next().unwrap().id;
    let laid = |document: &Document| document.project().kernels_of(ear).unwrap();
    let once = laid(&shared()) - laid(&theirs);
    assert!(once > 0);
    assert_eq!(laid(&shared()) - laid(&ours), 2 * once);
    // Nothing is left for the comparison of counts.
    assert!(compare(ours.project(), theirs.project()).is_ok());
    assert!(
        versions(&ours, &theirs)
            .differences
            .iter()
            .all(|one| one.kind != "count")
    );
}

#[test]
fn cells_that_both_counted_are_left_to_the_comparison_of_counts() {
    let mut start = shared();
    let command = design(&start, "Late winter", 1);
    run(&mut start, &command);
    let test = start.project().tests.iter().last().unwrap().id;
    run(
        &mut start,
        &Command::LayTest {
            test,
            on: DAY,
            trays: Vec::new(),
        },
    );
    let cells: Vec<_> = start
        .project()
        .cells_of_test(test)
        .filter(|cell| matches!(cell.content, CellContent::Ear(_)))
        .map(|cell| (cell.id, start.project().sown(cell)))
        .collect();
    let count = |document: &mut Document, which: &[usize], strong: u16, by: &str| {
        let seen = which.iter().map(|at| {
            let (cell, sown) = cells[*at];
            let tally = Tally {
                strong,
                dead: sown - strong,
                ..Tally::default()
            };
            Seen::new(cell, Pass::Final, tally)
        });
        let command = Command::RecordCounts {
            counts: seen.collect(),
            on: Some(DAY),
            by: by.to_owned(),
        };
        run(document, &command);
    };
    let (mut ours, mut theirs) = (start.clone(), start);
    count(&mut ours, &[0, 1], 3, "Grower A");
    count(&mut theirs, &[1, 2, 3], 4, "Helper B");
    let found = versions(&ours, &theirs);
    assert_eq!(found.summary(), "2 counts added");
    take(&mut ours, &found, &[]);
    let left = compare(ours.project(), theirs.project()).unwrap();
    assert_eq!((left.differing.len(), left.additions.len()), (1, 0));
    assert_eq!(left.shared, standing(&theirs) - 1);
}

/// The counts that stand.
fn standing(document: &Document) -> usize {
    let project = document.project();
    project
        .counts
        .iter()
        .filter(|count| !project.is_corrected(count.id))
        .count()
}

#[test]
fn removed_and_changed_records_are_told_apart() {
    let (mut start, year) = (shared(), SeasonId(1));
    let year = start.project().latest_season().map_or(year, |season| season.id);
    run(&mut start, &add_ears(year, &[9_001, 9_002, 9_003]));
    let id = |number| start.project().ear_numbered(year, number).unwrap().id;
    let (one, two, three) = (id(9_001), id(9_002), id(9_003));
    let (mut ours, mut theirs) = (start.clone(), start);
    run(&mut theirs, &Command::RemoveEars(vec![one, two]));
    note(&mut ours, two.0, "mended the husk");
    run(&mut ours, &Command::RemoveEars(vec![three]));
    note(&mut theirs, three.0, "a twin");
    let found = versions(&ours, &theirs);
    let told: Vec<(&str, Happened, &str, bool)> = found
        .differences
        .iter()
        .filter(|one| one.kind == "ear")
        .map(|one| (one.kind, one.happened, one.name.as_str(), one.is_open))
        .collect();
    assert_eq!(
        told,
        [
            ("ear", Happened::Changed, "ear 9003, which was removed here", true),
            ("ear", Happened::Removed, "ear 9001", false),
            ("ear", Happened::Removed, "ear 9002, which was changed here", true),
        ]
    );
    let mut kept = ours.clone();
    // The packet of the kept ear was removed there, and nobody changed it here: so it goes, and the ear stays.
    take(&mut kept, &found, &[Side::Ours, Side::Ours]);
    assert!(!kept.project().ears.contains(one) && kept.project().ears.contains(two));
    let mut taken = ours.clone();
    take(&mut taken, &found, &[Side::Theirs, Side::Theirs]);
    assert!(!taken.project().ears.contains(two));
    assert_eq!(note_of(&taken, three.0), "a twin");
}

#[test]
fn ledgers_moves_and_words_of_both_are_kept() {
    let (mut ours, mut theirs) = (shared(), shared());
    let packet = ours.project().packets.iter().next().unwrap().clone();
    let line = |document: &mut Document, kernels: i32, reason| {
        let mut after = packet.clone();
        after.ledger.push(LedgerLine {
            on: Some(DAY),
            kernels,
            reason,
            note: String::new(),
        });
        let change = Transaction::new("Note a line", vec![Change::replace(&packet, after)]);
        document.commit(change, &stamp()).unwrap();
        document.close_step();
    };
    line(&mut ours, -5, LedgerReason::Given);
    line(&mut theirs, -3, LedgerReason::Lost);
    for (document, percent) in [(&mut ours, 61.0), (&mut theirs, 73.0)] {
        let command = Command::SetCutoffs {
            season: season(document),
            cutoffs: Cutoffs {
                germination_percent: Some(percent),
                ..Cutoffs::default()
            },
            seen: SeenWhileMoving::default(),
        };
        run(document, &command);
    }
    let found = versions(&ours, &theirs);
    take(&mut ours, &found, &[Side::Theirs]);
    let now = ours.project().packets.get(packet.id).unwrap();
    let added: Vec<i32> = now.ledger[packet.ledger.len()..]
        .iter()
        .map(|line| line.kernels)
        .collect();
    assert_eq!(added, [-5, -3], "both took kernels out of one packet");
    let selection = ours.project().selection_of(season(&ours)).unwrap();
    assert_eq!(selection.cutoffs.germination_percent, Some(73.0));
    let moved = |one: &CutoffMove| one.cutoffs.germination_percent;
    let last: Vec<_> = selection.moves.iter().rev().take(2).map(moved).collect();
    assert!(
        last.contains(&Some(61.0)) && last.contains(&Some(73.0)),
        "{last:?}"
    );
}

#[test]
fn a_version_of_another_project_is_refused() {
    let other = demo::make("pocket-starter").unwrap();
    let fault = compare_versions(&shared(), &other).unwrap_err().to_string();
    assert!(
        fault.starts_with("this is no version of the same project but of 'DEMO"),
        "{fault}"
    );
}

#[test]
fn a_list_that_each_froze_stays_ours_and_the_other_is_named() {
    let mut start = Document::new(demo::make("corvane-flint").unwrap());
    let ear = start.project().ears_of(season(&start)).next().unwrap().id;
    note(&mut start, ear.0, "begun together");
    let list = start.project().lists.iter().last().unwrap().clone();
    let (mut ours, mut theirs) = (start.clone(), start);
    for (document, reason) in [
        (&mut ours, "row 3 was mislabelled"),
        (&mut theirs, "two ears were lost"),
    ] {
        let mut next = list.clone();
        next.id = wintercrib::model::ListId(document.project().lists.next_number());
        next.version = list.version + 1;
        reason.clone_into(&mut next.reason);
        next.digest = next.compute_digest();
        document
            .commit(Transaction::new("Freeze", vec![Change::add(next)]), &stamp())
            .unwrap();
        document.close_step();
    }
    let found = versions(&ours, &theirs);
    assert!(found.is_nothing_new(), "{found:?}");
    assert_eq!(found.left_out.len(), 1);
    assert!(
        found.left_out[0].contains("what is frozen is never changed"),
        "{:?}",
        found.left_out
    );
    // Where only the other one froze a list, it comes.
    let mut behind = ours.clone();
    behind.undo(&stamp()).unwrap().unwrap();
    let found = versions(&behind, &theirs);
    assert_eq!(found.summary(), "1 planting list added");
    take(&mut behind, &found, &[]);
}

// ---- many random histories -----------------------------------------------------------------------------

/// A random edit of one of twelve ears, with one of so many values.
fn random_edit(dice: &mut Dice, document: &Document, fields: &[EarField], values: u32) -> EarEdit {
    let ears: Vec<EarId> = document
        .project()
        .ears_of(season(document))
        .map(|ear| ear.id)
        .collect();
    let at = |dice: &mut Dice, length: usize| (dice.uniform() * length as f64) as usize;
    let ear = ears[at(dice, 12.min(ears.len()))];
    let field = fields[at(dice, fields.len())];
    let number = 60 + at(dice, values as usize) as u32;
    let value = match field {
        EarField::MaturityDays => EarValue::Whole(number),
        _ => EarValue::Text(format!("text {number}")),
    };
    EarEdit { ear, field, value }
}

#[test]
fn edits_of_different_fields_never_ask_and_never_lose_anything() {
    let mut dice = Dice(rand_pcg::Pcg64::new(20_261_128, 5));
    for round in 0..60 {
        let start = shared();
        let (mut ours, mut theirs) = (start.clone(), start.clone());
        for _ in 0..=(dice.uniform() * 20.0) as u32 {
            let mine = random_edit(&mut dice, &ours, &[EarField::Note, EarField::MaturityDays], 40);
            let done = ours.run(&Command::EditEars(vec![mine]), &stamp()).unwrap();
            ours.close_step();
            if !done.places.is_empty() && dice.uniform() < 0.2 {
                ours.undo(&stamp()).unwrap();
            }
            let their = random_edit(&mut dice, &theirs, &[EarField::Batch, EarField::Location], 40);
            theirs.run(&Command::EditEars(vec![their]), &stamp()).unwrap();
            theirs.close_step();
        }
        let found = versions(&ours, &theirs);
        assert!(
            found.differences.iter().all(|one| !one.is_open),
            "round {round}: {found:?}"
        );
        let mut joined = ours.clone();
        take(&mut joined, &found, &[]);
        for ear in joined.project().ears.iter() {
            let (mine, their) = (
                ours.project().ears.get(ear.id).unwrap(),
                theirs.project().ears.get(ear.id).unwrap(),
            );
            assert_eq!(
                (&ear.note, ear.maturity_days),
                (&mine.note, mine.maturity_days),
                "round {round}"
            );
            assert_eq!(ear.batch, their.batch, "round {round}");
        }
        let back = versions(&theirs, &ours);
        take(&mut theirs, &back, &[]);
        let texts = [joined.project(), theirs.project()].map(|one| format::write(one).unwrap());
        let mut lines = texts[0].lines().zip(texts[1].lines());
        assert_eq!(
            lines.find(|(one, two)| one != two),
            None,
            "round {round}: the same from both sides"
        );
    }
}

/// With few ears and few values both often do the same by chance, which says falsely that one knew of the other.
#[test]
fn what_ours_changed_stands_until_somebody_says_otherwise() {
    let fields = [EarField::Note, EarField::MaturityDays];
    let mut dice = Dice(rand_pcg::Pcg64::new(20_261_128, 6));
    let (mut changed_by_both, mut asked, mut by_them, mut taken) = (0, 0, 0, 0);
    for round in 0..150 {
        let start = shared();
        let (mut ours, mut theirs) = (start.clone(), start.clone());
        for _ in 0..=(dice.uniform() * 25.0) as u32 {
            for document in [&mut ours, &mut theirs] {
                if dice.uniform() < 0.5 {
                    let edit = random_edit(&mut dice, document, &fields, 6);
                    document.run(&Command::EditEars(vec![edit]), &stamp()).unwrap();
                    document.close_step();
                }
            }
        }
        let found = versions(&ours, &theirs);
        let to_say = open(&found);
        let mut joined = ours.clone();
        take(&mut joined, &found, &[]);
        for before in start.project().ears.iter() {
            let of = |document: &Document| document.project().ears.get(before.id).unwrap().clone();
            let (mine, their, now) = (of(&ours), of(&theirs), of(&joined));
            let is_open = to_say.contains(&format!("ear {}", mine.number).as_str());
            let all = |ear: &Ear| [ear.note.clone(), format!("{:?}", ear.maturity_days)];
            let values = [all(before), all(&mine), all(&their), all(&now)];
            let [before, mine, their, now] = values;
            for (((before, mine), their), now) in before.iter().zip(&mine).zip(&their).zip(&now) {
                if mine != before && their != before && mine != their {
                    changed_by_both += 1;
                    asked += u32::from(is_open);
                }
                if mine != before {
                    assert_eq!(now, mine, "round {round}: ear {}", before.len());
                } else if their != before {
                    by_them += 1;
                    taken += u32::from(now == their);
                    assert!(now == their || is_open, "round {round}: {their} is lost");
                }
            }
        }
    }
    println!(
        "{changed_by_both} changed by both, {asked} asked; {by_them} by them alone, {taken} taken unasked"
    );
    assert!(changed_by_both > 100 && by_them > 100);
}

/// A project in which every field of every record is filled.
fn filled() -> Project {
    format::read(include_bytes!("data/filled.ron")).unwrap()
}

/// Says whether every record of a table is the same after its fields were taken apart and put together again.
fn comes_back<R: Record>(table: &Table<R>) {
    assert!(!table.is_empty(), "{}", R::NAME);
    for record in table.iter() {
        let value = serde_json::to_value(record).unwrap();
        assert!(value.is_object(), "{}", R::NAME);
        let back: R = serde_json::from_value(value).unwrap();
        assert_eq!(back, *record);
    }
}

#[test]
fn every_field_of_every_record_can_be_taken_apart() {
    let project = filled();
    comes_back(&project.seasons);
    comes_back(&project.rows);
    comes_back(&project.traits);
    comes_back(&project.ears);
    comes_back(&project.packets);
    comes_back(&project.tests);
    comes_back(&project.trays);
    comes_back(&project.cells);
    comes_back(&project.counts);
    comes_back(&project.selections);
    comes_back(&project.lists);
    comes_back(&project.logs);
    comes_back(&project.events);
    comes_back(&project.photos);
    comes_back(&project.plans);
    comes_back(&project.field_rows);
    comes_back(&project.weather);
    comes_back(&project.stores);
}

/// The whole project is new to one that holds nothing but what it is: all of it comes, with every id that records name.
#[test]
fn a_whole_project_is_taken_over_and_says_the_same() {
    for whole in [filled(), demo::make("corvane-flint").unwrap()] {
        let empty = Project::new(whole.about.clone());
        let mut ours = Document::new(empty);
        let found = compare_versions(&ours, &whole).unwrap();
        assert!(found.left_out.is_empty(), "{:?}", found.left_out);
        take(&mut ours, &found, &[]);
        assert!(*ours.project() == whole);
        // Once more where every id is taken by something else: the same tables with other ids.
        let packaged = |project: &Project| data_package::write(project).unwrap();
        assert!(packaged(ours.project()) == packaged(&whole));
    }
}

// ---- without the window --------------------------------------------------------------------------------

/// Two versions with all there is: records that only the other one has, one that both changed, a cell that both counted.
fn apart() -> (Document, Document) {
    let mut start = shared();
    let command = design(&start, "Late winter", 1);
    run(&mut start, &command);
    let test = start.project().tests.iter().last().unwrap().id;
    let lay = Command::LayTest {
        test,
        on: DAY,
        trays: Vec::new(),
    };
    run(&mut start, &lay);
    let (mut ours, mut theirs) = (start.clone(), start);
    note(&mut ours, 3, "sown by the hedge");
    note(&mut theirs, 3, "purple silk, see photograph");
    note(&mut theirs, 5, "a twin ear");
    edit(
        &mut theirs,
        3,
        EarField::Batch,
        EarValue::Text("rack 9".to_owned()),
    );
    let year = season(&theirs);
    run(&mut theirs, &add_ears(year, &[9_001, 9_002]));
    for (document, strong, by) in [(&mut ours, 3, "Grower A"), (&mut theirs, 4, "Helper B")] {
        let project = document.project();
        let cell = project
            .cells_of_test(test)
            .find(|cell| cell.content.is_counted())
            .unwrap();
        let tally = Tally {
            strong,
            dead: project.sown(cell) - strong,
            ..Tally::default()
        };
        let counts = vec![Seen::new(cell.id, Pass::Final, tally)];
        let command = Command::RecordCounts {
            counts,
            on: Some(DAY),
            by: by.to_owned(),
        };
        run(document, &command);
    }
    (ours, theirs)
}

/// Puts a project with its whole history into a folder.
fn save(folder: &Folder, name: &str, document: &Document) {
    let mut opened =
        project_file::create(&folder.path(name), demo::make("essel-thaw").unwrap(), "a test").unwrap();
    let mut steps: Vec<Transaction> = document.steps_back().collect();
    steps.reverse();
    for step in steps {
        opened.document.commit(step, &stamp()).unwrap();
        opened.document.close_step();
    }
    opened.file.flush(&mut opened.document).unwrap();
    let saved = opened.file.save_job(&mut opened.document).unwrap().run().unwrap();
    saved.tell(&mut opened.document);
}

#[test]
fn the_verb_lists_what_both_changed_and_takes_all_in_one_go() {
    let (ours, theirs) = apart();
    let folder = Folder::new();
    save(&folder, "p.ron", &ours);
    save(&folder, "theirs.ron", &theirs);
    let listed = folder
        .run_untouched("import p.ron --all-from theirs.ron")
        .ends_with(1);
    assert!(
        listed
            .said
            .contains("Nothing was taken, because both copies changed 1 record."),
        "{listed:?}"
    );
    let line = "Ear 3, note: ours 'sown by the hedge'; theirs 'purple silk, see photograph'";
    assert!(listed.said.contains(line), "{listed:?}");
    assert!(listed.said.contains("2 steps ago"), "{listed:?}");
    let dry = folder
        .run_untouched("import p.ron --all-from theirs.ron --differences theirs --dry-run")
        .ends_with(0);
    assert!(
        dry.out.contains("without --dry-run: Both were the same until"),
        "{dry:?}"
    );
    let done = folder
        .run("import p.ron --all-from theirs.ron --differences theirs")
        .ends_with(0);
    let told = "2 rows added, 2 ears changed, 2 ears added, 2 packets added: taken over.";
    assert!(done.out.contains(told), "{done:?}");
    assert!(done.out.trim_end().ends_with("1 count taken over."), "{done:?}");
    let again = folder.run("import p.ron --all-from theirs.ron").ends_with(0);
    assert!(
        again
            .out
            .trim_end()
            .ends_with("Nothing is new, and nothing was changed."),
        "{again:?}"
    );
    let merged = project_file::read(&folder.path("p.ron")).unwrap().document;
    assert_eq!(note_of(&merged, 3), "purple silk, see photograph");
    assert!(versions(&merged, &theirs).is_nothing_new());
    // Where the journal was lost, it is said, and what differs is asked.
    std::fs::remove_file(folder.path("p.ron.journal")).unwrap();
    let unknown = folder.run("import p.ron --all-from theirs.ron").ends_with(0);
    assert!(unknown.out.contains("Nothing is new"), "{unknown:?}");
    folder
        .run_untouched("import p.ron --all-from theirs.ron --differences both")
        .refuses(2, &["with --all-from say ours or theirs"]);
    folder.put(
        "other.ron",
        format::write(&demo::make("pocket-starter").unwrap()).unwrap(),
    );
    folder.run_untouched("import p.ron --all-from other.ron").refuses(
        2,
        &["no version of the same project but of 'DEMO Pocket Starter'"],
    );
}

/// Opening reads the newest steps alone; two that parted long before are still known to have parted, by the whole journal.
#[test]
fn versions_that_parted_long_ago_are_known_by_the_journal() {
    let folder = Folder::new();
    let mut ours = shared();
    let mut theirs = ours.clone();
    note(&mut theirs, 50, "from the shed");
    note(&mut theirs, 3, "from the shed too");
    for round in 0..700 {
        note(&mut ours, 3 + round % 40, &format!("weighed {round}"));
    }
    save(&folder, "p.ron", &ours);
    save(&folder, "theirs.ron", &theirs);
    let opened = project_file::read(&folder.path("p.ron")).unwrap().document;
    assert!(
        opened.steps_back().count() < 700,
        "opening reads the newest alone"
    );
    let listed = folder
        .run_untouched("import p.ron --all-from theirs.ron")
        .ends_with(1);
    assert!(listed.said.contains("700 steps ago"), "{listed:?}");
    assert!(listed.said.contains("both copies changed 1 record"), "{listed:?}");
    let done = folder
        .run("import p.ron --all-from theirs.ron --differences ours")
        .ends_with(0);
    assert!(done.out.contains("1 ear changed: taken over"), "{done:?}");
    let merged = project_file::read(&folder.path("p.ron")).unwrap().document;
    assert_eq!(
        (note_of(&merged, 50), note_of(&merged, 3)),
        ("from the shed", note_of(&ours, 3))
    );
    // Without the journal nobody knows.
    std::fs::remove_file(folder.path("p.ron.journal")).unwrap();
    note(&mut theirs, 4, "once more");
    save(&folder, "later.ron", &theirs);
    let listed = folder.run("import p.ron --all-from later.ron").ends_with(1);
    assert!(
        listed.said.contains("It is not known when the two parted"),
        "{listed:?}"
    );
}

// ---- in the window -------------------------------------------------------------------------------------

fn window(ours: Document, answers: Vec<PathAnswer>, theme: Theme) -> Harness<'static, App> {
    let mut window = common::harness([1280.0, 800.0], theme).build_eframe(move |_creation| {
        let mut app = App::in_memory(ours, || DAY.at(21, 0, 0, 0))
            .with_prompt(ScriptedPathPrompt::new(answers))
            .with_person("Grower A");
        app.show(Pane::Harvest);
        app
    });
    window.run();
    window
}

fn act(window: &mut Harness<'_, App>, action: UserAction) {
    let ctx = window.ctx.clone();
    window.state_mut().perform(&ctx, action);
    // The dialog finds its place.
    window.run_steps(8);
}

#[test]
fn all_that_another_copy_has_is_taken_over_in_the_window() {
    for (theme, name) in [(Theme::Light, "versions-light"), (Theme::Dark, "versions-dark")] {
        let (ours, theirs) = apart();
        let before = format::write(ours.project()).unwrap();
        let folder = Folder::with(&format::write(theirs.project()).unwrap());
        let path = PathAnswer::Chosen(folder.path("p.ron"));
        let mut window = window(ours, vec![path.clone(), path], theme);
        act(&mut window, UserAction::MergeCopy);
        assert!(says(
            &window,
            "Both changed these. Say which version stands; 1 to go."
        ));
        assert!(says(&window, "Both were the same until"));
        assert!(says(
            &window,
            "Note: ours 'sown by the hedge'; theirs 'purple silk, see photograph'"
        ));
        common::shot(&mut window, name);
        window
            .get_by_label("What is taken over unasked: 7 records")
            .click();
        window.run_steps(8);
        assert!(says(&window, "Ear 5: note nothing → 'a twin ear'"));
        common::shot(&mut window, &format!("{name}-unasked"));
        press(&mut window, "Take theirs: Ear 3");
        assert!(says(&window, "All that both changed is decided."));
        press(&mut window, "Take over");
        // The cell that both counted is compared now.
        assert!(says(&window, "Say of each difference what is kept; 1 to go."));
        common::shot(&mut window, &format!("{name}-counts"));
        press(&mut window, "Keep ours everywhere");
        press(&mut window, "Merge");
        let project = window.state().document().project().clone();
        assert_eq!(
            project.ears.get(EarId(3)).unwrap().note,
            "purple silk, see photograph"
        );
        assert_eq!(project.ears.get(EarId(3)).unwrap().batch, "rack 9");
        act(&mut window, UserAction::MergeCopy);
        assert!(says(
            &window,
            "The other copy says nothing new. Nothing is changed."
        ));
        press(&mut window, "Close");
        act(&mut window, UserAction::Undo);
        act(&mut window, UserAction::Undo);
        assert!(format::write(window.state().document().project()).unwrap() == before);
    }
}

// ---- every field ---------------------------------------------------------------------------------------

#[test]
fn a_swap_of_nothing_is_no_difference() {
    let ours = shared();
    let found = versions(&ours, &ours.clone());
    assert!(found.is_nothing_new() && found.left_out.is_empty());
    let about = ours.project().about.clone();
    let nothing = Change::from(Swap {
        before: Some(about.clone()),
        after: Some(about),
    });
    assert_eq!(nothing, nothing.inverse());
}

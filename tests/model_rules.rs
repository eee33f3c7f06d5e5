//! The rules of a project, one by one: what is refused, what is kept, what undo reaches.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]
#![expect(
    clippy::needless_pass_by_value,
    reason = "a command is written where it is run"
)]

use jiff::civil::{Date, date};
use sha2::{Digest, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use wintercrib::model::*;
use wintercrib::store::format;

const SEASON: SeasonId = SeasonId(1);

fn stamp() -> Stamp {
    Stamp {
        at: date(2026, 1, 20).at(9, 0, 0, 0),
        by: "Grower A".to_owned(),
    }
}

fn run(document: &mut Document, command: Command) -> Result<Committed, Problem> {
    document.run(&command, &stamp())
}

fn done(document: &mut Document, command: Command) -> Committed {
    run(document, command).unwrap()
}

fn refused(document: &mut Document, command: Command) -> Problem {
    let before = document.project().clone();
    let problem = run(document, command).unwrap_err();
    assert_eq!(*document.project(), before);
    problem
}

fn undo(document: &mut Document) -> Option<Committed> {
    document.undo(&stamp()).unwrap()
}

fn add_ears(count: usize, kernels: Option<u32>) -> Command {
    let draft = |ear: usize| EarDraft {
        row: Some((ear / 4 + 1).to_string()),
        kernels,
        ..EarDraft::default()
    };
    Command::AddEars {
        season: SEASON,
        drafts: (0..count).map(draft).collect(),
        existing: Existing::Refuse,
    }
}

fn add_number(number: u32) -> Command {
    Command::AddEars {
        season: SEASON,
        drafts: vec![EarDraft {
            number: Some(number),
            ..EarDraft::default()
        }],
        existing: Existing::Refuse,
    }
}

fn edit(ear: u32, field: EarField, value: EarValue) -> Command {
    Command::EditEars(vec![EarEdit {
        ear: EarId(ear),
        field,
        value,
    }])
}

fn design() -> TestDesign {
    TestDesign {
        season: SEASON,
        replaces: None,
        name: "Cold".to_owned(),
        plan: TrayPlan::default(),
        recipe: Recipe::default(),
        check_lot: "Check lot 1".to_owned(),
        seed: 7,
        ears: None,
    }
}

/// A season with some ears of 100 kernels.
fn with_ears(count: usize) -> Document {
    let mut document = Document::new(Project::new(About::new("Small Patch", "a-project")));
    let planted = Some(date(2025, 5, 3));
    done(&mut document, Command::AddSeason { year: 2025, planted });
    done(&mut document, add_ears(count, Some(100)));
    document
}

/// Six ears in one tray of a test.
fn with_test() -> Document {
    let mut document = with_ears(6);
    done(&mut document, Command::DesignTest(design()));
    document
}

const LAID_ON: Date = date(2026, 1, 20);

fn lay() -> Command {
    Command::LayTest {
        trays: Vec::new(),
        test: TestId(1),
        on: LAID_ON,
    }
}

fn ear_cell(document: &Document, ear: u32) -> CellId {
    document.project().cells_of_ear(EarId(ear)).next().unwrap().id
}

fn seen(cell: CellId, strong: u16, dead: u16) -> Seen {
    Seen::new(
        cell,
        Pass::Final,
        Tally {
            strong,
            dead,
            ..Tally::default()
        },
    )
}

fn record(one: Seen) -> Command {
    Command::RecordCounts {
        counts: vec![one],
        on: Some(date(2026, 2, 1)),
        by: "Grower A".to_owned(),
    }
}

fn list_of(document: &Document, reason: &str) -> ListDraft {
    let project = document.project();
    let entries = project
        .ears_of(SEASON)
        .take(3)
        .map(|ear| ListEntry {
            ear: ear.id,
            code: ear.code,
            number: ear.number,
            mother: project.mother_label(ear).to_owned(),
            germinated: Some((8, 10)),
            likely_percent: Some(76.25),
            maturity_days: Some(84.4),
            plant: 30,
            keep: 20,
            why: "cutoffs".to_owned(),
            sowing: None,
        })
        .collect();
    ListDraft {
        season: SEASON,
        by: "Grower A".to_owned(),
        reason: reason.to_owned(),
        cutoffs: Cutoffs::default(),
        entries,
        reserves: Vec::new(),
    }
}

fn code_of(document: &Document, number: u32) -> String {
    document
        .project()
        .ear_numbered(SEASON, number)
        .unwrap()
        .code
        .to_string()
}

// ---- steps -----------------------------------------------------------------------------------------------

#[test]
fn keystrokes_are_one_step_until_the_step_is_closed() {
    let mut document = with_ears(1);
    let cutoff = |percent| Command::SetCutoffs {
        season: SEASON,
        cutoffs: Cutoffs {
            germination_percent: Some(percent),
            ..Cutoffs::default()
        },
        seen: SeenWhileMoving::default(),
    };
    let percent = |document: &Document| {
        let selection = document.project().selection_of(SEASON);
        selection.and_then(|one| one.cutoffs.germination_percent)
    };
    for value in [60.0, 61.0, 62.0] {
        done(&mut document, cutoff(value));
    }
    document.close_step();
    for value in [70.0, 71.0] {
        done(&mut document, cutoff(value));
    }
    assert_eq!(percent(&document), Some(71.0));
    undo(&mut document);
    assert_eq!(percent(&document), Some(62.0));
    undo(&mut document);
    assert_eq!(percent(&document), None);
    assert_eq!(document.undo_label(), Some("Add ear 1"));
    document.redo(&stamp()).unwrap();
    document.redo(&stamp()).unwrap();
    assert_eq!(percent(&document), Some(71.0));
    // What was undone and done again is a closed step.
    done(&mut document, cutoff(80.0));
    undo(&mut document);
    assert_eq!(percent(&document), Some(71.0));
    // Another command in between ends the step, too.
    done(&mut document, cutoff(72.0));
    done(&mut document, add_number(50));
    done(&mut document, cutoff(73.0));
    undo(&mut document);
    assert_eq!(percent(&document), Some(72.0));
    // A keystroke after an undo does not join the step that undo left in force.
    undo(&mut document);
    done(&mut document, cutoff(75.0));
    undo(&mut document);
    assert_eq!(percent(&document), Some(72.0));
}

#[test]
fn a_journal_that_takes_back_an_unknown_step_is_refused() {
    let mut document = with_ears(1);
    let mut reopened = Document::new(document.project().clone());
    undo(&mut document);
    let events = document.take_events();
    let problem = reopened.replay(events.last().unwrap().clone()).unwrap_err();
    assert!(problem.to_string().contains("not known"), "{problem}");
    assert!(reopened.replay(Event::Redo { stamp: stamp() }).is_err());
}

// ---- ears ------------------------------------------------------------------------------------------------

#[test]
fn an_ear_code_is_never_given_to_a_second_ear() {
    let mut document = with_ears(3);
    assert!(code_of(&document, 3).starts_with("SP25-0003"));
    let old = code_of(&document, 3);
    done(&mut document, Command::RemoveEars(vec![EarId(3)]));
    done(&mut document, add_number(3));
    assert_ne!(code_of(&document, 3), old);
    assert!(code_of(&document, 3).starts_with("SP25-0004"));
    // Ear 4 finds its number used by the code of the second ear 3.
    done(&mut document, add_number(4));
    assert!(code_of(&document, 4).starts_with("SP25-0005"));
    // A number that is given to another ear leaves the code where it was.
    done(&mut document, edit(1, EarField::Number, EarValue::Whole(40)));
    done(&mut document, add_number(1));
    let codes: BTreeSet<EarCode> = document.project().ears.iter().map(|ear| ear.code).collect();
    assert_eq!(codes.len(), document.project().ears.len());
    // Undo gives the ear back as it was.
    for _ in 0..5 {
        undo(&mut document);
    }
    assert_eq!(code_of(&document, 3), old);
    assert!(
        document
            .project()
            .season_of_year(2025)
            .unwrap()
            .retired_serials
            .is_empty()
    );
}

#[test]
fn seasons_a_century_apart_do_not_share_a_code() {
    let mut document = with_ears(2);
    let old = code_of(&document, 2);
    done(&mut document, Command::RemoveEars(vec![EarId(2)]));
    done(
        &mut document,
        Command::AddSeason {
            year: 2125,
            planted: None,
        },
    );
    let season = SeasonId(2);
    let drafts = vec![EarDraft::default(), EarDraft::default()];
    let existing = Existing::Refuse;
    done(
        &mut document,
        Command::AddEars {
            season,
            drafts,
            existing,
        },
    );
    let codes: Vec<String> = document
        .project()
        .ears_of(season)
        .map(|ear| ear.code.to_string())
        .collect();
    assert!(
        !codes.contains(&old) && !codes.contains(&code_of(&document, 1)),
        "{codes:?}"
    );
}

#[test]
fn existing_numbers_are_refused_skipped_or_updated_as_asked() {
    let mut document = with_ears(2);
    let draft = |number, note: &str| EarDraft {
        number: Some(number),
        note: Some(note.to_owned()),
        kernels: Some(90),
        ..EarDraft::default()
    };
    let add = |existing| Command::AddEars {
        season: SEASON,
        drafts: vec![draft(2, "new"), draft(9, "new")],
        existing,
    };
    let problem = refused(&mut document, add(Existing::Refuse));
    assert_eq!(problem.place, Place::Ear(EarId(2)));
    done(&mut document, add(Existing::Skip));
    let note = |document: &Document, number| {
        document
            .project()
            .ear_numbered(SEASON, number)
            .unwrap()
            .note
            .clone()
    };
    assert_eq!(
        (note(&document, 2), note(&document, 9)),
        (String::new(), "new".to_owned())
    );
    let committed = done(&mut document, add(Existing::Update));
    assert_eq!(committed.label, "Change 2 ears");
    assert_eq!(note(&document, 2), "new");
    assert_eq!(document.project().kernels_of(EarId(2)), Some(90));
    // The same again changes nothing and is no step.
    let label = document.undo_label().map(str::to_owned);
    assert!(done(&mut document, add(Existing::Update)).places.is_empty());
    assert_eq!(document.undo_label().map(str::to_owned), label);
    // Twice the same new number in one go is refused.
    let twice = Command::AddEars {
        season: SEASON,
        drafts: vec![draft(20, ""), draft(20, "")],
        existing: Existing::Update,
    };
    assert!(matches!(
        refused(&mut document, twice).fault,
        Fault::DuplicateEarNumber { number: 20, .. }
    ));
}

#[test]
fn a_number_that_no_code_can_hold_is_refused() {
    let mut document = with_ears(1);
    assert!(matches!(
        refused(&mut document, add_number(10_000_000)).fault,
        Fault::OutOfRange { .. }
    ));
    done(&mut document, add_number(9_999_999));
    let text = format::write(document.project()).unwrap();
    assert_eq!(&format::read(text.as_bytes()).unwrap(), document.project());
}

#[test]
fn numbers_that_are_too_large_do_not_become_others() {
    let mut document = with_ears(1);
    let kernels = edit(1, EarField::Kernels, EarValue::Whole(u32::MAX));
    assert!(matches!(
        refused(&mut document, kernels).fault,
        Fault::OutOfRange { .. }
    ));
    let mut draft = EarDraft::default();
    // 65,636 less 65,536 would be 100 days.
    draft.set(EarField::MaturityDays, EarValue::Whole(65_636));
    let add = Command::AddEars {
        season: SEASON,
        drafts: vec![draft],
        existing: Existing::Refuse,
    };
    assert!(matches!(
        refused(&mut document, add).fault,
        Fault::OutOfRange { .. }
    ));
}

#[test]
fn emptying_a_field_makes_no_packet_and_loses_no_ledger() {
    let mut document = Document::new(Project::new(About::new("Small Patch", "a-project")));
    let planted = None;
    done(&mut document, Command::AddSeason { year: 2025, planted });
    done(&mut document, add_ears(2, None));
    done(&mut document, edit(1, EarField::Location, EarValue::Empty));
    done(&mut document, edit(1, EarField::Kernels, EarValue::Empty));
    assert_eq!(document.project().packets.len(), 0);
    // A packet that nobody counted: the test's kernels are still on its ledger after the empty field is emptied.
    let place = EarValue::Text("box 1".to_owned());
    done(&mut document, edit(2, EarField::Location, place));
    done(&mut document, Command::DesignTest(design()));
    done(&mut document, lay());
    done(&mut document, edit(2, EarField::Kernels, EarValue::Empty));
    let packet = document.project().packets_of(EarId(2)).next().unwrap().clone();
    assert_eq!(packet.ledger.len(), 1);
    assert_eq!(packet.balance(), None);
    // Counted at last, it holds what was counted.
    done(&mut document, edit(2, EarField::Kernels, EarValue::Whole(77)));
    assert_eq!(document.project().kernels_of(EarId(2)), Some(77));
}

#[test]
fn a_change_of_the_packet_is_named_by_its_ear() {
    let mut document = with_ears(2);
    let edits = [
        (EarField::Kernels, EarValue::Whole(50)),
        (EarField::Location, EarValue::Text("box 2".to_owned())),
    ];
    let edits = edits.map(|(field, value)| EarEdit {
        ear: EarId(2),
        field,
        value,
    });
    let committed = done(&mut document, Command::EditEars(edits.to_vec()));
    assert_eq!(committed.label, "Change ear 2");
}

#[test]
fn names_are_trimmed_however_they_come() {
    let mut document = with_ears(1);
    let row = document.project().rows.iter().next().unwrap().clone();
    let label = " 12 ".to_owned();
    done(&mut document, Command::EditRow(Row { label, ..row }));
    assert!(document.project().row_labelled(SEASON, "12").is_some());
    let known = Trait {
        id: TraitId(0),
        name: " Ear length ".to_owned(),
        unit: "in".to_owned(),
        least: Some(0.0),
        most: None,
        better: Better::Higher,
        decimals: 1,
        anchors: BTreeMap::new(),
    };
    done(&mut document, Command::AddTrait(known));
    let known = document.project().trait_named("ear length").unwrap().clone();
    // A range that is open on one side has no figure of three hundred digits.
    let problem = refused(
        &mut document,
        edit(1, EarField::Trait(known.id), EarValue::Number(-3.0)),
    );
    assert_eq!(
        problem.to_string(),
        "Ear length is -3, but must be from 0 to no limit; correct it"
    );
}

#[test]
fn a_row_comes_from_an_ear_of_an_earlier_season() {
    let mut document = with_ears(2);
    let row = |season, label: &str, ear| Command::AddRow {
        season,
        label: label.to_owned(),
        source: RowSource::Ear(EarId(ear)),
    };
    let problem = refused(&mut document, row(SEASON, "20", 1));
    assert!(problem.to_string().contains("an earlier season"), "{problem}");
    let planted = None;
    done(&mut document, Command::AddSeason { year: 2026, planted });
    done(&mut document, row(SeasonId(2), "1", 1));
    // Nor does a season's year turn daughters into mothers.
    let season = document.project().season_of_year(2026).unwrap().clone();
    refused(
        &mut document,
        Command::EditSeason(Season { year: 2024, ..season }),
    );
    let season = document.project().season_of_year(2025).unwrap().clone();
    refused(
        &mut document,
        Command::EditSeason(Season { year: 2030, ..season }),
    );
}

#[test]
fn what_others_need_is_not_removed() {
    let mut document = with_test();
    for command in [Command::RemoveEars(vec![EarId(1)]), Command::RemoveRow(RowId(1))] {
        let problem = refused(&mut document, command);
        assert!(matches!(problem.fault, Fault::StillNeeded { .. }), "{problem}");
    }
}

// ---- tests -----------------------------------------------------------------------------------------------

#[test]
fn laying_takes_the_kernels_out_of_the_packets() {
    let mut document = with_ears(6);
    let mut design = design();
    design.plan.replicates = 3;
    done(&mut document, Command::DesignTest(design));
    done(&mut document, lay());
    assert_eq!(document.project().kernels_of(EarId(4)), Some(70));
    let line = document.project().packets_of(EarId(4)).next().unwrap().ledger[1].clone();
    assert_eq!((line.kernels, line.reason), (-30, LedgerReason::Test(TestId(1))));
    assert_eq!(line.on, Some(LAID_ON));
    let again = refused(&mut document, lay());
    assert!(
        again.to_string().contains("laid on 2026-01-20 already"),
        "{again}"
    );
    undo(&mut document);
    assert_eq!(document.project().kernels_of(EarId(4)), Some(100));
}

#[test]
fn ears_with_too_few_kernels_are_named_and_nothing_is_laid() {
    let mut document = with_test();
    for ear in [2, 5] {
        done(&mut document, edit(ear, EarField::Kernels, EarValue::Whole(9)));
    }
    let problem = refused(&mut document, lay());
    assert!(
        problem
            .to_string()
            .contains("2 ears to lay this test: ears 2, 5;"),
        "{problem}"
    );
}

#[test]
fn another_number_of_kernels_laid_changes_the_ledger_and_the_counts() {
    let mut document = with_test();
    let cell = ear_cell(&document, 1);
    let set = |kernels| Command::SetLaid { cell, kernels };
    done(&mut document, lay());
    done(&mut document, set(Some(11)));
    assert_eq!(document.project().kernels_of(EarId(1)), Some(89));
    done(&mut document, set(None));
    assert_eq!(document.project().kernels_of(EarId(1)), Some(90));
    // Found out only after the count: the eleventh kernel was not counted.
    done(&mut document, record(seen(cell, 7, 3)));
    done(&mut document, set(Some(11)));
    let count = document.project().count_in_force(cell, Pass::Final).unwrap();
    assert_eq!((count.tally.sum(), count.tally.missing), (11, 1));
    done(&mut document, record(seen(cell, 7, 4)));
    // Fewer kernels than were seen cannot have been laid.
    let problem = refused(&mut document, set(Some(9)));
    assert_eq!(problem.fault, Fault::SumNotSown { sum: 11, sown: 9 });
    for _ in 0..3 {
        undo(&mut document);
    }
    assert!(document.project().counts.is_empty());
    let landmark = document
        .project()
        .cells
        .iter()
        .find(|cell| cell.content == CellContent::Landmark);
    let cell = landmark.unwrap().id;
    let problem = refused(
        &mut document,
        Command::SetLaid {
            cell,
            kernels: Some(10),
        },
    );
    assert_eq!(problem.fault, Fault::NothingToCount);
    assert!(
        refused(&mut document, set(Some(0)))
            .to_string()
            .contains("must be from 1 to 400")
    );
}

#[test]
fn a_test_is_replaced_or_removed_only_before_it_was_laid() {
    let mut document = with_test();
    let replaced = TestDesign {
        replaces: Some(TestId(1)),
        seed: 8,
        ..design()
    };
    done(&mut document, Command::DesignTest(replaced));
    assert_eq!(document.project().tests.len(), 1);
    assert_eq!(document.project().trays.len(), 1);
    // No packet names the test, only the test itself knows that it was laid.
    let packets: Vec<u32> = document
        .project()
        .packets
        .iter()
        .map(|packet| packet.ear.0)
        .collect();
    assert_eq!(packets.len(), 6);
    let mut bare = Document::new(Project::new(About::new("Small Patch", "a-project")));
    let planted = None;
    done(&mut bare, Command::AddSeason { year: 2025, planted });
    done(&mut bare, add_ears(2, None));
    done(&mut bare, Command::DesignTest(design()));
    done(&mut bare, lay());
    let problem = refused(&mut bare, Command::RemoveTest(TestId(1)));
    assert!(problem.to_string().contains("laid on 2026-01-20"), "{problem}");
    undo(&mut bare);
    done(&mut bare, Command::RemoveTest(TestId(1)));
    assert!(bare.project().cells.is_empty());
}

#[test]
fn an_ear_is_chosen_once_for_a_test() {
    let mut document = with_ears(2);
    let twice = TestDesign {
        ears: Some(vec![EarId(1), EarId(2), EarId(1)]),
        ..design()
    };
    let problem = refused(&mut document, Command::DesignTest(twice));
    assert!(
        problem.to_string().starts_with("ear 1 is chosen twice"),
        "{problem}"
    );
}

#[test]
fn counts_are_corrected_and_never_changed() {
    let mut document = with_test();
    let cell = ear_cell(&document, 3);
    done(&mut document, record(seen(cell, 7, 3)));
    let label = document.undo_label().map(str::to_owned);
    assert!(done(&mut document, record(seen(cell, 7, 3))).places.is_empty());
    assert_eq!(document.undo_label().map(str::to_owned), label);
    done(&mut document, record(seen(cell, 6, 4)));
    let project = document.project();
    assert_eq!(project.counts.len(), 2);
    assert!(project.is_corrected(CountId(1)));
    let in_force = project.count_in_force(cell, Pass::Final).unwrap();
    assert_eq!((in_force.id, in_force.corrects), (CountId(2), Some(CountId(1))));
    assert_eq!(project.final_tally(EarId(3)).unwrap().strong, 6);
    // A second scorer is kept beside the first and does not decide.
    done(
        &mut document,
        record(Seen {
            second: true,
            ..seen(cell, 9, 1)
        }),
    );
    assert_eq!(document.project().final_tally(EarId(3)).unwrap().strong, 6);
    let problem = refused(&mut document, record(seen(cell, 6, 5)));
    assert_eq!(problem.fault, Fault::SumNotSown { sum: 11, sown: 10 });
    let twice = Command::RecordCounts {
        counts: vec![seen(cell, 5, 5), seen(cell, 4, 6)],
        on: None,
        by: String::new(),
    };
    assert!(matches!(
        refused(&mut document, twice).fault,
        Fault::CountedTwice { .. } | Fault::Mismatch(_)
    ));
    undo(&mut document);
    undo(&mut document);
    assert_eq!(document.project().final_tally(EarId(3)).unwrap().strong, 7);
}

// ---- planting lists --------------------------------------------------------------------------------------

#[test]
fn a_freeze_can_be_undone_until_it_is_saved() {
    let mut document = with_ears(5);
    let freeze = Command::Freeze(list_of(&document, ""));
    done(&mut document, freeze.clone());
    undo(&mut document);
    assert!(document.project().lists.is_empty());
    done(&mut document, freeze);
    let snapshot = document.snapshot();
    document.mark_saved(&snapshot, document.unsaved_events());
    let problem = document.undo(&stamp()).unwrap_err();
    assert_eq!(problem.fault, Fault::Frozen(1));
    assert_eq!(document.project().lists.len(), 1);
    // The same after the program was started again.
    let events = document.take_events();
    let mut reopened = Document::with_history(document.project().clone(), events);
    assert_eq!(reopened.undo_label(), Some("Freeze planting list 1"));
    assert_eq!(reopened.undo(&stamp()).unwrap_err().fault, Fault::Frozen(1));
    // Nothing but a freeze touches a list.
    let list = document.project().lists.iter().next().unwrap().clone();
    let change = Change::replace(
        &list,
        PlantingList {
            frozen_by: "Helper B".to_owned(),
            ..list.clone()
        },
    );
    for change in [change, Change::remove(&list)] {
        let problem = document
            .commit(Transaction::new("Change a list", vec![change]), &stamp())
            .unwrap_err();
        assert_eq!(problem.fault, Fault::Frozen(1));
    }
}

#[test]
fn a_save_seals_the_list_that_it_wrote_and_no_other() {
    let mut document = with_ears(5);
    let first = Command::Freeze(list_of(&document, ""));
    done(&mut document, first);
    // While this snapshot is being written, the freeze is taken back and another list is frozen.
    let snapshot = document.snapshot();
    undo(&mut document);
    let mut other = list_of(&document, "");
    other.by = "Helper B".to_owned();
    done(&mut document, Command::Freeze(other));
    document.mark_saved(&snapshot, 1);
    undo(&mut document);
    assert!(
        document.project().lists.is_empty(),
        "the list that was never written could be taken back"
    );
}

#[test]
fn a_revision_needs_a_reason_and_replaces_the_list_before_it() {
    let mut document = with_ears(5);
    let freeze = |document: &Document, reason| Command::Freeze(list_of(document, reason));
    let first = freeze(&document, "");
    done(&mut document, first);
    let silent = freeze(&document, " ");
    assert_eq!(
        refused(&mut document, silent).fault,
        Fault::NoReason("replace a frozen planting list")
    );
    let revision = freeze(&document, "mice took ear 3");
    done(&mut document, revision);
    let project = document.project();
    assert_eq!(project.list_in_force(SEASON).unwrap().version, 2);
    assert_eq!(project.lists.len(), 2);
    assert_eq!(project.validate(), []);
}

#[test]
fn a_list_that_cannot_be_planted_is_not_frozen() {
    let mut document = with_ears(5);
    let good = list_of(&document, "");
    let changed = |change: &dyn Fn(&mut ListDraft)| {
        let mut draft = good.clone();
        change(&mut draft);
        Command::Freeze(draft)
    };
    let empty = changed(&|draft| draft.entries.clear());
    assert_eq!(refused(&mut document, empty).fault, Fault::NothingChosen);
    let nobody = changed(&|draft| draft.by = "  ".to_owned());
    assert_eq!(refused(&mut document, nobody).fault, Fault::NoPerson);
    let too_many = changed(&|draft| draft.entries[1].plant = 81);
    let problem = refused(&mut document, too_many);
    assert_eq!(problem.place, Place::Ear(EarId(2)));
    assert!(problem.to_string().contains("has 100 kernels"), "{problem}");
    // The same ear twice, with other ears between the two.
    let twice = changed(&|draft| draft.entries.push(draft.entries[0].clone()));
    assert!(
        refused(&mut document, twice)
            .to_string()
            .starts_with("ear 1 is on the list twice")
    );
    let other_number = changed(&|draft| draft.entries[2].number = 5);
    assert!(
        refused(&mut document, other_number)
            .to_string()
            .starts_with("the list calls ear 3")
    );
    let other_code = changed(&|draft| draft.entries[2].code = draft.entries[0].code);
    assert!(matches!(
        refused(&mut document, other_code).fault,
        Fault::Mismatch(_)
    ));
}

#[test]
fn the_digest_is_that_of_the_printed_text() {
    let mut document = with_ears(5);
    let freeze = Command::Freeze(list_of(&document, ""));
    done(&mut document, freeze);
    let list = document.project().lists.iter().next().unwrap();
    let text = list.text();
    let expected = "planting list: Small Patch 2025 version 1\n\
        frozen on: 2026-01-20\n\
        frozen by: Grower A\n\
        cutoffs: cold germination at least 70 %; sureness 0.7\n\
        ears: 3\n\
        mothers: 1\n\
        kernels to plant: 90\n\
        columns: number, code, mother row, germinated, counted, likely percent, maturity days, plant, keep, why\n";
    assert!(text.starts_with(expected), "{text}");
    assert!(text.contains("\t1\t8\t10\t76.3\t84\t30\t20\tcutoffs\n"), "{text}");
    let mut hex = String::new();
    for byte in Sha256::digest(text.as_bytes()) {
        write!(hex, "{byte:02x}").unwrap();
    }
    assert_eq!(list.digest, hex);
    assert_eq!(list.short_digest(), &hex[..12]);
}

// ---- files edited by hand --------------------------------------------------------------------------------

/// A project with one of everything: two seasons, a trait, a test with counts and a correction, a frozen list.
fn with_everything() -> Project {
    let mut document = with_ears(6);
    let planted = None;
    done(&mut document, Command::AddSeason { year: 2026, planted });
    let known = Trait {
        id: TraitId(0),
        name: "Ear length".to_owned(),
        unit: "in".to_owned(),
        least: Some(1.0),
        most: Some(20.0),
        better: Better::Higher,
        decimals: 1,
        anchors: BTreeMap::new(),
    };
    done(&mut document, Command::AddTrait(known));
    let length = EarField::Trait(TraitId(1));
    done(&mut document, edit(2, length, EarValue::Number(7.5)));
    done(
        &mut document,
        edit(5, EarField::Matured, EarValue::Date(date(2025, 8, 1))),
    );
    done(&mut document, Command::DesignTest(design()));
    done(&mut document, lay());
    let cell = ear_cell(&document, 1);
    done(
        &mut document,
        Command::SetLaid {
            cell,
            kernels: Some(11),
        },
    );
    done(&mut document, record(seen(cell, 7, 4)));
    done(&mut document, record(seen(cell, 5, 6)));
    let freeze = Command::Freeze(list_of(&document, ""));
    done(&mut document, freeze);
    let row = Command::AddRow {
        season: SeasonId(2),
        label: "1".to_owned(),
        source: RowSource::Ear(EarId(2)),
    };
    done(&mut document, row);
    document.project().clone()
}

/// Writes the file without needless spaces.
fn written(project: &Project) -> String {
    let text = format::write(project).unwrap();
    text.replace(": ", ":").replace(", ", ",")
}

/// Changes the file's text and gives what is found in it.
fn found_after(text: &str, from: &str, to: &str) -> Result<Vec<Problem>, String> {
    assert_eq!(text.matches(from).count(), 1, "{from} in\n{text}");
    match format::read(text.replace(from, to).as_bytes()) {
        Ok(project) => Ok(project.validate()),
        Err(fault) => Err(fault.to_string()),
    }
}

#[test]
fn every_broken_rule_of_a_file_edited_by_hand_is_named() {
    let project = with_everything();
    assert_eq!(project.validate(), []);
    let text = written(&project);
    let code = |number: usize| project.ears.iter().nth(number - 1).unwrap().code.to_string();
    let ear = |id: u32, number: u32| format!("(id:{id},season:1,number:{number},");
    let cell_id = project.cells_of_ear(EarId(1)).next().unwrap();
    let cell = format!("laid:Some({})", cell_id.laid.unwrap());
    let other = project.cells.iter().find(|cell| cell.id != cell_id.id).unwrap();
    let place = |cell: &Cell| format!("id:{},tray:1,row:{},column:{},", cell.id, cell.row, cell.column);
    let moved = place(cell_id).replace(
        &format!("row:{},column:{}", cell_id.row, cell_id.column),
        &format!("row:{},column:{}", other.row, other.column),
    );
    let cases = [
        (ear(2, 2), ear(2, 3), "season 2025 has the ear number 3 twice"),
        (ear(2, 2), ear(2, 0), "0 is not an ear number"),
        (
            ear(2, 2),
            "(id:2,season:9,number:2,".to_owned(),
            "names the season 9, which does not exist",
        ),
        (
            format!("{}code:\"{}\",row:Some(1)", ear(2, 2), code(2)),
            format!("{}code:\"{}\",row:Some(99)", ear(2, 2), code(2)),
            "names the row 99, which does not exist",
        ),
        (
            format!("{}code:\"{}\",row:Some(2)", ear(6, 6), code(6)),
            format!("{}code:\"{}\",row:Some(3)", ear(6, 6), code(6)),
            "is not of this season",
        ),
        (
            "values:{1:7.5}".to_owned(),
            "values:{4:7.5}".to_owned(),
            "names the trait 4, which does not exist",
        ),
        (
            "values:{1:7.5}".to_owned(),
            "values:{1:70.5}".to_owned(),
            "Ear length is 70.5, but must be from 1 to 20",
        ),
        (
            "values:{1:7.5}".to_owned(),
            "values:{1:inf}".to_owned(),
            "is not a number",
        ),
        (
            "values:{1:7.5}".to_owned(),
            "values:{1:NaN}".to_owned(),
            "is not a number",
        ),
        (
            "matured:Some(\"2025-08-01\")".to_owned(),
            "matured:Some(\"2025-04-01\")".to_owned(),
            "matured on 2025-04-01, before it was planted on 2025-05-03",
        ),
        (
            "kernels:-11".to_owned(),
            "kernels:-101".to_owned(),
            "would hold -1 kernels after 'laid in a test'",
        ),
        (place(cell_id), moved, "is used twice or is not inside the tray"),
        (
            place(cell_id),
            place(cell_id).replace("tray:1", "tray:8"),
            "names the tray 8, which does not exist",
        ),
        (cell.clone(), "laid:Some(0)".to_owned(), "must be from 1 to 400"),
        (
            cell,
            "laid:Some(12)".to_owned(),
            "the counts add up to 11, but 12 kernels were laid",
        ),
        (
            "kernels:10,replicates".to_owned(),
            "kernels:0,replicates".to_owned(),
            "the kernels per cell is 0",
        ),
        (
            ",corrects:Some(1)".to_owned(),
            String::new(),
            "already has a final count",
        ),
        (
            ",corrects:Some(1)".to_owned(),
            ",corrects:Some(2)".to_owned(),
            "corrects a count of another cell",
        ),
        (
            "source:Ear(2)".to_owned(),
            "source:Ear(77)".to_owned(),
            "names the ear 77, which does not exist",
        ),
        (
            "year:2026".to_owned(),
            "year:2025,".replace(',', ""),
            "the season '2025' is there twice",
        ),
        (
            "year:2026".to_owned(),
            "year:2020".to_owned(),
            "an earlier season",
        ),
        (
            "version:1,".to_owned(),
            "version:2,".to_owned(),
            "a reason is needed",
        ),
    ];
    for (from, to, expected) in cases {
        let problems = found_after(&text, &from, &to).unwrap();
        let messages: Vec<String> = problems.iter().map(ToString::to_string).collect();
        assert!(
            messages.iter().any(|message| message.contains(expected)),
            "{from} -> {to}: {messages:?}"
        );
    }
}

#[test]
fn what_is_not_a_record_is_refused_when_the_file_is_read() {
    let project = with_everything();
    let text = written(&project);
    let code = project.ears.get(EarId(2)).unwrap().code.to_string();
    let wrong_check = format!(
        "{}{}",
        &code[..code.len() - 1],
        if code.ends_with('A') { 'B' } else { 'A' }
    );
    let quoted = |code: &str| format!("number:2,code:\"{code}\",row");
    let cases = [
        (
            quoted(&code),
            quoted(&wrong_check),
            "check character does not fit",
        ),
        (
            quoted(&code),
            format!("colour:\"red\",{}", quoted(&code)),
            "colour",
        ),
        (
            "(id:2,season:1,number:2".to_owned(),
            "(id:1,season:1,number:2".to_owned(),
            "two records of the kind 'ear' have the id 1",
        ),
        (
            "(id:2,season:1,number:2".to_owned(),
            "(id:2,season:1,number:-2".to_owned(),
            "line",
        ),
    ];
    for (from, to, expected) in cases {
        let message = found_after(&text, &from, &to).unwrap_err();
        assert!(message.contains(expected), "{message}");
        assert!(message.contains("line"), "{message}");
    }
}

#[test]
fn two_ears_with_one_code_are_named() {
    let project = with_everything();
    let text = format::write(&project).unwrap();
    let code = |id| project.ears.get(EarId(id)).unwrap().code.to_string();
    // Ear 6 is on no list, so its code stands in the file once.
    assert_eq!(text.matches(&code(6)).count(), 1);
    let problems = format::read(text.replace(&code(6), &code(5)).as_bytes())
        .unwrap()
        .validate();
    let places: Vec<Place> = problems.iter().map(|problem| problem.place).collect();
    assert_eq!(places, [Place::Ear(EarId(5)), Place::Ear(EarId(6))]);
    assert!(
        problems
            .iter()
            .all(|one| one.fault == Fault::DuplicateEarCode(code(5)))
    );
}

#[test]
fn a_list_that_was_tampered_with_in_the_file_is_found() {
    let text = written(&with_everything());
    let lists = text.find("lists:").unwrap();
    for (from, to) in [
        ("Some(76.3)", "Some(96.3)"),
        ("frozen_by:\"Grower A\"", "frozen_by:\"Grower B\""),
        ("plant:30", "plant:60"),
        ("mother:\"1\"", "mother:\"2\""),
        ("germinated:Some((8,10))", "germinated:Some((9,10))"),
    ] {
        // The first ear of the list only.
        let place = lists + text[lists..].find(from).unwrap();
        let tampered = format!("{}{to}{}", &text[..place], &text[place + from.len()..]);
        let problems = format::read(tampered.as_bytes()).unwrap().validate();
        assert!(
            matches!(
                problems.as_slice(),
                [Problem {
                    place: Place::List(_),
                    fault: Fault::DigestDiffers { version: 1, .. }
                }]
            ),
            "{from}: {problems:?}"
        );
    }
}

// ---- large projects --------------------------------------------------------------------------------------

#[test]
fn ten_thousand_ears_are_added_tested_and_undone() {
    let mut document = Document::new(Project::new(About::new("Small Patch", "a-project")));
    let planted = None;
    done(&mut document, Command::AddSeason { year: 2025, planted });
    let start = document.project().clone();
    done(&mut document, add_ears(10_000, Some(100)));
    done(&mut document, Command::DesignTest(design()));
    done(&mut document, lay());
    assert_eq!(document.project().validate(), []);
    assert_eq!(document.project().ears.len(), 10_000);
    assert_eq!(document.project().trays.len(), 358);
    for _ in 0..3 {
        undo(&mut document).unwrap();
    }
    assert_eq!(*document.project(), start);
    // Removed and added again, every ear looks for a free number.
    document.redo(&stamp()).unwrap();
    let all: Vec<EarId> = document.project().ears.iter().map(|ear| ear.id).collect();
    done(&mut document, Command::RemoveEars(all));
    done(&mut document, add_ears(10_000, None));
    assert!(code_of(&document, 10_000).starts_with("SP25-20000"));
}

#[test]
fn packets_lie_in_places_that_stay_while_something_is_kept_there() {
    let mut document = with_ears(3);
    let place = |name: &str, humidity| {
        Command::AddStore(StorePlace {
            id: StoreId(0),
            name: name.to_owned(),
            temperature_c: Some(7.0),
            humidity_percent: Some(humidity),
            note: String::new(),
        })
    };
    done(&mut document, place(" Cellar ", 45.0));
    assert_eq!(document.project().stores.get(StoreId(1)).unwrap().name, "Cellar");
    for (command, said) in [
        (place("cellar", 45.0), "the storage place 'cellar' is there twice"),
        (place(" ", 45.0), "the name of the storage place is empty"),
        (place("Attic", 100.5), "the humidity in % is 100.5"),
    ] {
        let problem = refused(&mut document, command).to_string();
        assert!(problem.contains(said), "{problem}");
    }
    let packets: Vec<PacketId> = document.project().packets.iter().map(|one| one.id).collect();
    let put = |store| Command::StorePackets {
        packets: packets.clone(),
        store,
    };
    let committed = done(&mut document, put(Some(StoreId(1))));
    assert_eq!(committed.label, "Move 3 packets to Cellar");
    refused(&mut document, put(Some(StoreId(1))));
    refused(&mut document, put(Some(StoreId(9))));
    let removal = refused(&mut document, Command::RemoveStore(StoreId(1)));
    assert!(removal.to_string().contains("a packet that is kept there"));
    assert_eq!(document.project().store_of(EarId(2)).unwrap().name, "Cellar");
    // By its name in the harvest table, whatever its capitals; an unknown name is refused.
    let by_name = |name: &str| edit(2, EarField::Store, EarValue::Text(name.to_owned()));
    done(&mut document, edit(2, EarField::Store, EarValue::Empty));
    assert_eq!(document.project().store_of(EarId(2)), None);
    done(&mut document, by_name("CELLAR"));
    assert_eq!(document.project().store_of(EarId(2)).unwrap().name, "Cellar");
    assert_eq!(
        refused(&mut document, by_name("Loft")).fault,
        Fault::NoSuchStore("Loft".to_owned())
    );
    let moist = |percent| Command::NoteMoisture {
        packets: packets[..1].to_vec(),
        percent,
        on: Some(date(2026, 1, 3)),
    };
    refused(&mut document, moist(Some(0.5)));
    done(&mut document, moist(Some(11.5)));
    let packet = |document: &Document| document.project().packets.get(packets[0]).unwrap().clone();
    assert_eq!(packet(&document).moisture_percent, Some(11.5));
    // Without a figure no day of it is kept.
    done(&mut document, moist(None));
    assert_eq!(packet(&document).moisture_on, None);
    done(&mut document, put(None));
    done(&mut document, Command::RemoveStore(StoreId(1)));
    assert_eq!(document.project().stores.len(), 0);
}

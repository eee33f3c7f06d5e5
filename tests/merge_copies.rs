//! Two copies of a project that were counted apart, put together again.
#![expect(clippy::unwrap_used, reason = "a helper fails its test by panicking")]

mod cli_run;
mod common;

use cli_run::Folder;
use common::{press, says};
use egui::Theme;
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use jiff::civil::{Date, date};
use wintercrib::demo;
use wintercrib::insight::{Insight, ScorerAgreement};
use wintercrib::model::{
    Cell, CellContent, Command, Comparison, Count, CountId, Document, Fault, Keep, Moved, Pass, Project,
    Repair, RepairKind, Seen, Stamp, Taken, Tally, TestId, compare,
};
use wintercrib::store::{format, project_file};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;
use wintercrib::ui::user_actions::UserAction;
use wintercrib::ui::widgets::path_prompt::{PathAnswer, ScriptedPathPrompt};

const TEST: TestId = TestId(1);
const COUNTED_ON: Date = date(2026, 2, 20);

fn stamp() -> Stamp {
    Stamp {
        at: COUNTED_ON.at(20, 0, 0, 0),
        by: String::new(),
    }
}

fn seen(count: &Count) -> Seen {
    Seen {
        mould: count.mould,
        vigor: count.vigor,
        ..Seen::new(count.cell, count.pass, count.tally)
    }
}

fn record(document: &mut Document, counts: Vec<Seen>, by: &str) {
    let command = Command::RecordCounts {
        counts,
        on: Some(COUNTED_ON),
        by: by.to_owned(),
    };
    document.run(&command, &stamp()).unwrap();
}

/// The counts of the demo's second scorer.
fn seconds(project: &Project) -> Vec<Count> {
    project
        .counts
        .iter()
        .filter(|count| count.second)
        .cloned()
        .collect()
}

/// Two copies of the demo: in ours the grower counted the twelve cells that are counted twice there, in the other one
/// the helper did. Neither knows of the other.
fn copies() -> (Document, Document) {
    let demo = demo::make("essel-thaw").unwrap();
    let twice = seconds(&demo);
    assert_eq!(twice.len(), 12);
    let is_of_them = |count: &Count| {
        let same = |second: &Count| second.cell == count.cell && second.pass == count.pass;
        twice.iter().any(same)
    };
    let gone: Vec<String> = demo
        .counts
        .iter()
        .filter(|count| is_of_them(count))
        .map(|count| format!("(id: {}, cell: {}, ", count.id, count.cell))
        .collect();
    assert_eq!(gone.len(), 24);
    // Each record is a line of the file.
    let text = format::write(&demo).unwrap();
    let lines = text
        .lines()
        .filter(|line| !gone.iter().any(|begin| line.trim_start().starts_with(begin)));
    let text = lines.collect::<Vec<_>>().join("\n");
    let base = format::read(text.as_bytes()).unwrap();
    assert_eq!(base.counts.len(), demo.counts.len() - 24);
    assert_eq!(base.validate(), []);
    let [mut ours, mut theirs] = [base.clone(), base].map(Document::new);
    let firsts = twice
        .iter()
        .map(|second| seen(demo.count_in_force(second.cell, second.pass).unwrap()));
    record(&mut ours, firsts.collect(), "Grower A");
    record(&mut theirs, twice.iter().map(seen).collect(), "Helper B");
    (ours, theirs)
}

fn compared(ours: &Document, theirs: &Document) -> Comparison {
    compare(ours.project(), theirs.project()).unwrap()
}

fn merge(ours: &mut Document, found: &Comparison, keep: Keep) {
    let counts = found.taken(&vec![keep; found.differing.len()]);
    let label = "Merge".to_owned();
    ours.run(&Command::TakeCounts { counts, label }, &stamp())
        .unwrap();
    assert_eq!(ours.project().validate(), []);
}

/// The next cell of the demo that has no final count.
fn uncounted(project: &Project) -> Cell {
    let mut cells = project.cells_of_test(TEST);
    let is_open =
        |cell: &&Cell| cell.content.is_counted() && project.count_in_force(cell.id, Pass::Final).is_none();
    cells.find(is_open).unwrap().clone()
}

fn ten(strong: u16) -> Tally {
    Tally {
        strong,
        dead: 10 - strong,
        ..Tally::default()
    }
}

#[test]
fn the_merge_of_two_copies_lists_exactly_the_three_disagreements() {
    let (ours, theirs) = copies();
    let found = compared(&ours, &theirs);
    assert_eq!((found.agreeing.len(), found.differing.len()), (9, 3));
    assert_eq!((found.additions.len(), found.apart.len()), (0, 0));
    assert_eq!(found.shared, theirs.project().counts.len() - 12);
    for pair in &found.differing {
        assert_ne!(pair.here.tally, pair.there.tally);
        assert_eq!(
            (pair.here.by.as_str(), pair.there.by.as_str()),
            ("Grower A", "Helper B")
        );
        assert!(pair.can_keep_both);
    }
    // The other way round it is the same.
    let back = compared(&theirs, &ours);
    assert_eq!((back.agreeing.len(), back.differing.len()), (9, 3));
}

#[test]
fn merging_is_one_step_and_merging_twice_changes_nothing() {
    for keep in [Keep::Both, Keep::There, Keep::Here] {
        let (mut ours, theirs) = copies();
        let before = ours.project().clone();
        let found = compared(&ours, &theirs);
        merge(&mut ours, &found, keep);
        // Nothing that was there is gone.
        assert!(
            before
                .counts
                .iter()
                .all(|count| ours.project().counts.get(count.id) == Some(count))
        );
        let again = compared(&ours, &theirs);
        assert!(again.is_nothing_new(), "{keep:?}: {again:#?}");
        assert_eq!(again.taken(&[]), []);
        ours.undo(&stamp()).unwrap();
        assert_eq!(*ours.project(), before);
    }
    // Ours stays where that is said; the nine agreeing readings of the helper are kept beside ours.
    let (mut ours, theirs) = copies();
    let found = compared(&ours, &theirs);
    merge(&mut ours, &found, Keep::Here);
    assert_eq!(seconds(ours.project()).len(), 9);
    assert_eq!(
        found.done(&[Keep::Here; 3]),
        "9 counts taken over, ours kept in 3 cells"
    );
    for pair in &found.differing {
        let project = ours.project();
        let stands = project.count_in_force(pair.here.cell, Pass::Final).unwrap();
        assert_eq!(
            (stands.tally, stands.vigor, stands.by.as_str(), stands.on),
            (pair.here.tally, pair.here.vigor, "Grower A", pair.here.on)
        );
        // The decision can be read: ours, theirs, and ours again.
        let told: Vec<(Tally, Option<CountId>)> = project
            .counts_of(pair.here.cell)
            .filter(|count| count.pass == Pass::Final)
            .map(|count| (count.tally, count.corrects))
            .collect();
        let before = |back: usize| {
            let counts = project
                .counts_of(pair.here.cell)
                .filter(|count| count.pass == Pass::Final);
            let ids: Vec<CountId> = counts.map(|count| count.id).collect();
            Some(ids[ids.len() - back])
        };
        assert_eq!(
            told[told.len() - 3..],
            [
                (pair.here.tally, None),
                (pair.there.tally, before(3)),
                (pair.here.tally, before(2))
            ]
        );
    }
    // A new word of theirs about such a cell is asked about again.
    let mut theirs = theirs;
    let cell = found.differing[0].here.cell;
    record(
        &mut theirs,
        vec![Seen::new(cell, Pass::Final, ten(1))],
        "Helper B",
    );
    assert_eq!(compared(&ours, &theirs).differing.len(), 1);
}

#[test]
fn what_is_kept_of_a_difference_is_what_was_said() {
    let (ours, theirs) = copies();
    let found = compared(&ours, &theirs);
    let pair = found.differing[0].clone();
    let first = |document: &Document| {
        document
            .project()
            .count_in_force(pair.here.cell, Pass::Final)
            .cloned()
    };
    let second = |document: &Document| {
        document
            .project()
            .standing_count(pair.here.cell, Pass::Final, true)
            .cloned()
    };

    let mut both = ours.clone();
    merge(&mut both, &found, Keep::Both);
    assert_eq!(first(&both).unwrap(), pair.here);
    assert_eq!(second(&both).unwrap().tally, pair.there.tally);
    assert_eq!(second(&both).unwrap().by, "Helper B");
    // Both readings side by side are what the demo was made with.
    let demo = demo::make("essel-thaw").unwrap();
    let agreement = |document: &Document| -> ScorerAgreement {
        let found = Insight::default().agreement(document, TEST, Pass::Final);
        Option::clone(&found).unwrap()
    };
    let wanted = agreement(&Document::new(demo));
    assert_eq!(agreement(&both), wanted);
    assert_eq!((wanted.cells, wanted.same, wanted.apart.len()), (12, 9, 3));

    let mut theirs_kept = ours.clone();
    merge(&mut theirs_kept, &found, Keep::There);
    let count = first(&theirs_kept).unwrap();
    assert_eq!((count.tally, count.by.as_str()), (pair.there.tally, "Helper B"));
    assert_eq!(
        count.corrects,
        Some(pair.here.id),
        "the correction names ours, which stays"
    );
}

#[test]
fn counts_that_we_lack_are_taken_with_their_day_and_scorer() {
    let (mut ours, mut theirs) = copies();
    let cell = uncounted(theirs.project());
    let early = cell.id;
    record(
        &mut theirs,
        vec![Seen::new(cell.id, Pass::Final, ten(6))],
        "Helper B",
    );
    let found = compared(&ours, &theirs);
    assert_eq!(found.additions.len(), 1);
    merge(&mut ours, &found, Keep::Here);
    let count = ours.project().count_in_force(early, Pass::Final).unwrap();
    assert_eq!(
        (count.tally, count.by.as_str(), count.on, count.second),
        (ten(6), "Helper B", Some(COUNTED_ON), false)
    );
}

#[test]
fn only_what_one_side_does_not_know_counts_as_a_difference() {
    let (ours, theirs) = copies();
    let shared = ours
        .project()
        .counts
        .iter()
        .find(|count| count.pass == Pass::Final && count.tally.sum() == 10)
        .unwrap()
        .clone();
    let correct = |document: &Document, strong| {
        let mut document = document.clone();
        record(
            &mut document,
            vec![Seen::new(shared.cell, Pass::Final, ten(strong))],
            "X",
        );
        document
    };
    let is_listed = |found: &Comparison| found.differing.iter().any(|pair| pair.here.cell == shared.cell);
    let [low, high] = [1, 2];
    // We have corrected a count that both had: the other copy says nothing new about it.
    assert!(!is_listed(&compared(&correct(&ours, low), &theirs)));
    // They have corrected it: that is for the grower to decide.
    assert!(is_listed(&compared(&ours, &correct(&theirs, high))));
    assert!(is_listed(&compared(
        &correct(&ours, low),
        &correct(&theirs, high)
    )));
    assert!(!is_listed(&compared(
        &correct(&ours, low),
        &correct(&theirs, low)
    )));
    // They have withdrawn it.
    let withdraw = |document: &Document| {
        let mut document = document.clone();
        let seen = Seen {
            note: "wrong tray".to_owned(),
            ..Seen::new(shared.cell, Pass::Final, Tally::default())
        };
        let taken = Taken {
            is_void: true,
            ..Taken::new(seen)
        };
        let label = "Withdraw".to_owned();
        let counts = vec![taken];
        document
            .run(&Command::TakeCounts { counts, label }, &stamp())
            .unwrap();
        document
    };
    let found = compared(&ours, &withdraw(&theirs));
    assert!(is_listed(&found));
    let mut merged = ours.clone();
    merge(&mut merged, &found, Keep::There);
    assert!(
        merged
            .project()
            .count_in_force(shared.cell, Pass::Final)
            .is_none()
    );
    assert!(compared(&merged, &withdraw(&theirs)).is_nothing_new());
    assert!(
        !is_listed(&compared(&withdraw(&ours), &theirs)),
        "we have withdrawn it ourselves"
    );
}

#[test]
fn what_is_not_the_same_cell_is_named_and_left_out() {
    let (ours, mut theirs) = copies();
    let cells: Vec<Cell> = theirs
        .project()
        .cells_of_test(TEST)
        .filter(|cell| matches!(cell.content, CellContent::Ear(_)))
        .take(2)
        .cloned()
        .collect();
    let repair = Repair {
        moved: Moved::Laid,
        kind: RepairKind::SwapCells(cells[0].id, cells[1].id),
    };
    theirs.run(&Command::Repair(repair), &stamp()).unwrap();
    let found = compared(&ours, &theirs);
    assert_eq!(found.apart.len(), 2, "{:?}", found.apart);
    assert!(found.apart[0].contains(" here and ear "), "{:?}", found.apart);
    let elsewhere = demo::make("pocket-starter").unwrap();
    let fault = compare(ours.project(), &elsewhere).unwrap_err();
    assert!(
        matches!(&fault, Fault::Mismatch(text) if text.contains("no copy of the same project")),
        "{fault}"
    );
}

// ---- without the window --------------------------------------------------------------------------------

fn put(folder: &Folder, name: &str, document: &Document) {
    folder.put(name, format::write(document.project()).unwrap());
}

#[test]
fn the_verb_lists_differences_and_takes_what_it_is_told() {
    let (ours, theirs) = copies();
    let folder = Folder::with(&format::write(ours.project()).unwrap());
    put(&folder, "theirs.ron", &theirs);
    let listed = folder
        .run_untouched("import p.ron --counts-from theirs.ron")
        .ends_with(1);
    assert!(
        listed.said.contains("Nothing was taken, because 3 counts differ"),
        "{listed:?}"
    );
    assert_eq!(listed.said.matches("; theirs ").count(), 3, "{listed:?}");
    assert!(listed.said.contains("(Helper B, 2026-02-20)"), "{listed:?}");
    let dry = "import p.ron --counts-from theirs.ron --differences both --dry-run";
    let dry = folder.run_untouched(dry).ends_with(0);
    assert!(
        dry.out.starts_with("Nothing was changed; without --dry-run: "),
        "{dry:?}"
    );
    let done = folder
        .run("import p.ron --counts-from theirs.ron --differences both")
        .ends_with(0);
    assert!(
        done.out
            .contains("12 cells read twice, 9 the same in every respect; weighted kappa"),
        "{done:?}"
    );
    assert!(done.out.trim_end().ends_with("12 counts taken over."), "{done:?}");
    let again = folder
        .run_untouched("import p.ron --counts-from theirs.ron")
        .ends_with(0);
    assert!(
        again
            .out
            .trim_end()
            .ends_with("Nothing is new, and nothing was changed."),
        "{again:?}"
    );
    let merged = project_file::read(&folder.path("p.ron")).unwrap().document;
    assert_eq!(seconds(merged.project()).len(), 12);

    folder.put(
        "other.ron",
        format::write(&demo::make("pocket-starter").unwrap()).unwrap(),
    );
    folder
        .run_untouched("import p.ron --counts-from other.ron")
        .refuses(2, &["no copy of the same project but of 'DEMO Pocket Starter'"]);
    folder
        .run_untouched("import p.ron --counts-from theirs.ron --season 2025")
        .refuses(2, &["--season has nothing to do with --counts-from"]);
    folder
        .run_untouched("import p.ron --differences ours --ears x.csv")
        .refuses(2, &["--differences has nothing to do with a table"]);
    folder
        .run_untouched("import p.ron --counts-from nothing.ron")
        .refuses(2, &["nothing.ron"]);
}

// ---- in the window -------------------------------------------------------------------------------------

#[test]
fn a_copy_is_merged_in_the_window_and_undone_in_one_step() {
    let folder = Folder::new();
    let (ours, theirs) = copies();
    put(&folder, "theirs.ron", &theirs);
    let counts = ours.project().counts.len();
    let path = folder.path("theirs.ron");
    let answers = vec![PathAnswer::Chosen(path.clone()), PathAnswer::Chosen(path)];
    let mut window = common::harness([1280.0, 800.0], Theme::Light).build_eframe(move |_creation| {
        let mut app = App::in_memory(ours, || COUNTED_ON.at(21, 0, 0, 0))
            .with_prompt(ScriptedPathPrompt::new(answers))
            .with_person("Grower A");
        app.show(Pane::Scoring);
        app
    });
    window.run();
    let ask = |window: &mut Harness<'_, App>| {
        let ctx = window.ctx.clone();
        window.state_mut().perform(&ctx, UserAction::MergeCopy);
        // The dialog finds its place.
        window.run_steps(8);
    };
    ask(&mut window);
    assert!(says(&window, "Say of each difference what is kept; 3 to go."));
    common::shot(&mut window, "merge-copy");
    window.get_by_label("How well both agree").click();
    window.run_steps(8);
    common::shot(&mut window, "merge-agreement");
    assert!(says(&window, "12 cells read twice, 9 the same in every respect"));
    window.get_by_label("How well both agree").click();
    window.run_steps(8);
    press(&mut window, "Keep both everywhere");
    assert!(says(&window, "All differences are decided."));
    press(&mut window, "Merge");
    let project = |window: &Harness<'_, App>| window.state().document().project().clone();
    assert_eq!(project(&window).counts.len(), counts + 12);
    ask(&mut window);
    assert!(says(
        &window,
        "The other copy says nothing new. Nothing is changed."
    ));
    press(&mut window, "Close");
    for button in ["Options", "Agreement of two scorers…"] {
        press(&mut window, button);
    }
    assert!(says(&window, "weighted kappa"));
    common::shot(&mut window, "scoring-agreement");
    press(&mut window, "Close");
    let ctx = window.ctx.clone();
    window.state_mut().perform(&ctx, UserAction::Undo);
    window.run();
    assert_eq!(project(&window).counts.len(), counts);
}

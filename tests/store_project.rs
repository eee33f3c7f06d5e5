//! Projects on the disk: opening, replaying, saving, and everything that can be wrong with a file.
#![expect(clippy::unwrap_used, reason = "a test's helper fails the test by panicking")]

mod store_sample;

use std::collections::BTreeMap;
use std::fs::{self, File, OpenOptions};
use std::io::Write as _;
use std::path::{Path, PathBuf};

use proptest::prelude::*;
use store_sample::{add_ears, empty, harvest, note, put, stamp};
use wintercrib::model::{
    About, Better, Cell, CellContent, CellId, Command, Committed, Cutoffs, Document, Ear, EarEdit, EarField,
    EarId, EarValue, Limits, ListDraft, ListEntry, Pass, Place, Problem, Project, Recipe, RowSource,
    SeasonId, Seen, SeenWhileMoving, Tally, TestDesign, TestId, Trait, TraitId, TrayPlan, Word, WordKind,
};
use wintercrib::store::format::{self, FormatFault};
use wintercrib::store::project_file::{self, Opened, StoreFault};

const ME: &str = "a test";

fn open(path: &Path) -> Opened {
    project_file::open(path, ME).unwrap()
}

fn refusal(path: &Path) -> String {
    project_file::open(path, ME).unwrap_err().to_string()
}

/// A project of twelve ears, saved and closed.
fn saved_project(folder: &Path) -> PathBuf {
    let path = folder.join("crib.ron");
    let Opened {
        mut document, file, ..
    } = project_file::create(&path, empty(), ME).unwrap();
    harvest(&mut document);
    file.save_job(&mut document)
        .unwrap()
        .run()
        .unwrap()
        .tell(&mut document);
    path
}

/// An edit that becomes one step with those of the same field before it.
fn keystroke(
    document: &mut Document,
    ear: u32,
    field: EarField,
    value: EarValue,
) -> Result<Committed, Problem> {
    let edit = EarEdit {
        ear: EarId(ear),
        field,
        value,
    };
    let transaction = Command::EditEars(vec![edit]).transaction(document.project(), &stamp())?;
    document.commit(transaction.merging(format!("{field:?} of {ear}")), &stamp())
}

fn note_of(document: &Document, ear: u32) -> String {
    document.project().ears.get(EarId(ear)).unwrap().note.clone()
}

fn text_of(project: &Project) -> String {
    format::write(project).unwrap()
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

/// A project with every kind of record: harvested, laid, counted, corrected, chosen, frozen, revised, sown again.
fn whole_job() -> Document {
    let mut document = Document::new(empty());
    harvest(&mut document);
    measure(&mut document);
    count(&mut document);
    choose(&mut document);
    sow(&mut document);
    document
}

fn run_all(document: &mut Document, commands: impl IntoIterator<Item = Command>) {
    for command in commands {
        document.run(&command, &stamp()).unwrap();
    }
}

fn measure(document: &mut Document) {
    let depth = Trait {
        id: TraitId(1),
        name: "Kernel depth".to_owned(),
        unit: "mm".to_owned(),
        least: Some(0.0),
        most: Some(40.0),
        better: Better::Higher,
        decimals: 2,
        anchors: BTreeMap::new(),
    };
    let husk = Trait {
        name: "Husk".to_owned(),
        unit: String::new(),
        better: Better::Neither,
        decimals: 0,
        anchors: BTreeMap::from([(1, "open".to_owned()), (5, "tight".to_owned())]),
        ..depth.clone()
    };
    let value = |ear, of, value| EarEdit {
        ear: EarId(ear),
        field: EarField::Trait(TraitId(of)),
        value: EarValue::Number(value),
    };
    let about = About {
        population: "a mixture, früh and late".to_owned(),
        grower: "nobody".to_owned(),
        ..document.project().about.clone()
    };
    run_all(
        document,
        [
            Command::Describe(about),
            Command::AddTrait(depth),
            Command::AddTrait(husk),
            Command::EditEars(vec![value(1, 1, 11.25), value(2, 1, 0.1 + 0.2), value(2, 2, 5.0)]),
        ],
    );
}

fn count(document: &mut Document) {
    let design = TestDesign {
        season: SeasonId(1),
        replaces: None,
        name: "cold test".to_owned(),
        plan: TrayPlan::default(),
        recipe: Recipe {
            medium: "damp towel".to_owned(),
            ..Recipe::default()
        },
        check_lot: "old bulk".to_owned(),
        seed: 7,
        ears: None,
    };
    let lay = Command::LayTest {
        trays: Vec::new(),
        test: TestId(1),
        on: jiff::civil::date(2026, 11, 26),
    };
    run_all(document, [Command::DesignTest(design), lay]);
    let holds_seed = |cell: &&Cell| matches!(cell.content, CellContent::Ear(_) | CellContent::Check(_));
    let cells: Vec<CellId> = document
        .project()
        .cells
        .iter()
        .filter(holds_seed)
        .map(|cell| cell.id)
        .collect();
    let seen = |cell: CellId, pass, strong| Seen {
        mould: strong == 7 && cell.0.is_multiple_of(3),
        vigor: (pass == Pass::Final).then_some(6),
        ..Seen::new(
            cell,
            pass,
            Tally {
                strong,
                weak: 1,
                dead: 9 - strong,
                ..Tally::default()
            },
        )
    };
    let record = |counts, day| Command::RecordCounts {
        counts,
        on: Some(jiff::civil::date(2026, 12, day)),
        by: "the tester".to_owned(),
    };
    let early = cells.iter().map(|&cell| seen(cell, Pass::Early, 3)).collect();
    let last = cells.iter().map(|&cell| seen(cell, Pass::Final, 7)).collect();
    let correction = Seen {
        note: "counted again".to_owned(),
        ..seen(cells[0], Pass::Final, 8)
    };
    run_all(
        document,
        [record(early, 2), record(last, 8), record(vec![correction], 9)],
    );
}

fn choose(document: &mut Document) {
    let season = SeasonId(1);
    let limits = Limits {
        least: Some(0.25),
        most: None,
    };
    let cutoffs = Cutoffs {
        maturity_days: Some(95.0),
        traits: BTreeMap::from([(TraitId(1), limits)]),
        ..Cutoffs::default()
    };
    let word = Word {
        kind: WordKind::Always,
        reason: "the only one of its colour".to_owned(),
    };
    let entries = |number| {
        document
            .project()
            .ears_of(season)
            .take(number)
            .map(|ear| entry(document.project(), ear))
            .collect()
    };
    let list = |number, reason: &str| {
        Command::Freeze(ListDraft {
            season,
            by: "the tester".to_owned(),
            reason: reason.to_owned(),
            cutoffs: cutoffs.clone(),
            entries: entries(number),
            reserves: Vec::new(),
        })
    };
    let commands = [
        Command::SetCutoffs {
            season,
            cutoffs: cutoffs.clone(),
            seen: SeenWhileMoving::default(),
        },
        Command::SetWord {
            season,
            ears: vec![EarId(3)],
            word: Some(word),
        },
        list(4, ""),
        list(3, "a packet got wet"),
    ];
    run_all(document, commands);
}

fn sow(document: &mut Document) {
    let season = SeasonId(2);
    let row = |label: &str, source| Command::AddRow {
        season,
        label: label.to_owned(),
        source,
    };
    run_all(
        document,
        [
            Command::AddSeason {
                year: 2027,
                planted: None,
            },
            row("1", RowSource::Ear(EarId(1))),
            row("2", RowSource::Bulk("the rest".to_owned())),
            row("3", RowSource::CheckLot("old bulk".to_owned())),
        ],
    );
}

fn entry(project: &Project, ear: &Ear) -> ListEntry {
    ListEntry {
        ear: ear.id,
        code: ear.code,
        number: ear.number,
        mother: project.mother_label(ear).to_owned(),
        germinated: Some((8, 10)),
        likely_percent: Some(77.3),
        maturity_days: ear.maturity_days.map(f64::from),
        plant: 30,
        keep: 20,
        why: "cutoffs".to_owned(),
        sowing: None,
    }
}

// ---- text ----------------------------------------------------------------------------------------------------

#[test]
fn a_project_with_every_kind_of_record_comes_back_equal() {
    let document = whole_job();
    let text = text_of(document.project());
    let again = format::read(text.as_bytes()).unwrap();
    assert_eq!(again, *document.project());
    assert_eq!(text_of(&again), text, "the same project gives the same bytes");
    assert_eq!(again.validate(), []);
}

#[test]
fn a_record_is_a_line_and_lines_are_sorted() {
    let text = text_of(whole_job().project());
    let ears: Vec<&str> = text
        .lines()
        .skip_while(|line| !line.contains("ears: ["))
        .skip(1)
        .take_while(|line| line.contains("(id:"))
        .collect();
    assert_eq!(ears.len(), 12);
    for (index, line) in ears.iter().enumerate() {
        let begin = format!("(id:{}", index + 1);
        assert!(line.trim_start().replace(' ', "").starts_with(&begin), "{line}");
        assert!(line.ends_with("),"), "{line}");
    }
}

/// The files are never edited. While their format is the newest, writing the project again must give the same text.
#[test]
fn the_golden_files_of_format_1_open() {
    let bytes = fs::read("tests/data/format-1.ron").unwrap();
    let project = format::read(&bytes).unwrap();
    let body = |text: &str| text.split_once("project:").unwrap().1.to_owned();
    assert_eq!(
        body(&text_of(&project)),
        body(std::str::from_utf8(&bytes).unwrap())
    );

    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    fs::copy("tests/data/format-1.ron", &path).unwrap();
    fs::copy(
        "tests/data/format-1.ron.journal",
        folder.path().join("crib.ron.journal"),
    )
    .unwrap();
    let Opened {
        mut document,
        file,
        notes,
        problems,
    } = open(&path);
    assert_eq!(
        notes,
        ["4 changes made after the last save were replayed from the journal."]
    );
    assert_eq!((problems, file.read_only()), (vec![], None));
    assert_eq!(
        (document.project().ears.len(), document.project().lists.len()),
        (12, 2)
    );
    assert_eq!(
        (note_of(&document, 5).as_str(), note_of(&document, 6).as_str()),
        ("after the save", "done again")
    );
    document.undo(&stamp()).unwrap();
    assert_eq!(note_of(&document, 6), "");
}

/// The journal of many saves is not held in memory whole, and every file that it knows still opens: those of old saves too,
/// and undo reaches back from each as far as before.
#[test]
fn every_save_of_a_long_journal_opens_with_its_undo() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let Opened {
        mut document, file, ..
    } = open(&path);
    let mut saves = vec![fs::read(&path).unwrap()];
    for round in 0..40 {
        for step in 0..30 {
            let text = format!("round {round}, step {step} {}", "of a long winter ".repeat(10));
            note(&mut document, 1 + step % 12, &text);
        }
        if round % 9 == 8 {
            document.undo(&stamp()).unwrap().unwrap();
        }
        file.flush(&mut document).unwrap();
        let job = file.save_job(&mut document).unwrap();
        job.run().unwrap().tell(&mut document);
        saves.push(fs::read(&path).unwrap());
    }
    // Some that no save has.
    note(&mut document, 3, "after the last save");
    document.undo(&stamp()).unwrap().unwrap();
    note(&mut document, 4, "after the last save");
    file.flush(&mut document).unwrap();
    let last = text_of(document.project());
    drop(file);
    for (number, bytes) in saves.iter().enumerate() {
        put(&path, bytes);
        let Opened {
            mut document,
            notes,
            problems,
            ..
        } = project_file::read(&path).unwrap();
        assert_eq!(problems, []);
        assert_eq!(text_of(document.project()), last, "save {number}: {notes:?}");
        let mut undone = 0;
        while document.undo(&stamp()).unwrap().is_some() {
            undone += 1;
        }
        assert!(undone >= 500, "save {number}: {undone} steps");
    }
}

#[derive(Clone, Debug)]
enum Deed {
    Edit(u32, EarField, EarValue),
    CloseStep,
    Undo,
    Redo,
    Save,
    Reopen,
}

fn deed() -> impl Strategy<Value = Deed> {
    let ear = 1..=3_u32;
    let text = "[ -~é–\u{1F33D}]{0,12}".prop_map(EarValue::Text);
    let days = (1..=366_u32).prop_map(EarValue::Whole);
    prop_oneof![
        4 => (ear.clone(), text).prop_map(|(ear, text)| Deed::Edit(ear, EarField::Note, text)),
        2 => (ear, days).prop_map(|(ear, days)| Deed::Edit(ear, EarField::MaturityDays, days)),
        1 => Just(Deed::CloseStep),
        2 => Just(Deed::Undo),
        1 => Just(Deed::Redo),
        1 => Just(Deed::Save),
        2 => Just(Deed::Reopen),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 32, failure_persistence: None, ..ProptestConfig::default() })]

    /// Whatever is done between, and however often it is closed without saving: what is opened is what was there, and
    /// what is written reads back equal.
    #[test]
    fn what_was_done_is_there_after_opening(deeds in prop::collection::vec(deed(), 1..24)) {
        let folder = tempfile::tempdir().unwrap();
        let path = saved_project(folder.path());
        let Opened { mut document, mut file, .. } = open(&path);
        for deed in deeds {
            match deed {
                Deed::Edit(ear, field, value) => {
                    // Refused when undo has taken the ears away; then nothing has changed.
                    let outcome = keystroke(&mut document, ear, field, value);
                    prop_assert_eq!(outcome.is_ok(), !document.project().ears.is_empty());
                }
                Deed::CloseStep => document.close_step(),
                Deed::Undo => drop(document.undo(&stamp()).unwrap()),
                Deed::Redo => drop(document.redo(&stamp()).unwrap()),
                Deed::Save => file.save_job(&mut document).unwrap().run().unwrap().tell(&mut document),
                Deed::Reopen => {
                    file.flush(&mut document).unwrap();
                    drop(file);
                    let before = text_of(document.project());
                    let undo_label = document.undo_label().map(str::to_owned);
                    let opened = open(&path);
                    (document, file) = (opened.document, opened.file);
                    prop_assert_eq!(text_of(document.project()), before);
                    prop_assert_eq!(document.undo_label().map(str::to_owned), undo_label, "undo reaches as far");
                }
            }
        }
        let text = text_of(document.project());
        prop_assert_eq!(&format::read(text.as_bytes()).unwrap(), document.project());
    }
}

// ---- opening and replaying ---------------------------------------------------------------------------------------

#[test]
fn opening_replays_what_the_last_save_lacks_and_undo_reaches_behind_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let saved = fs::read(&path).unwrap();
    let Opened {
        mut document,
        file,
        notes,
        ..
    } = open(&path);
    assert_eq!(notes, Vec::<String>::new());
    for (ear, text) in [(1, "one"), (2, "two"), (3, "three")] {
        note(&mut document, ear, text);
        file.flush(&mut document).unwrap();
        assert!(file.all_on_disk());
    }
    drop(file);
    let Opened {
        mut document,
        file,
        notes,
        problems,
    } = open(&path);
    assert_eq!(
        notes,
        ["3 changes made after the last save were replayed from the journal."]
    );
    assert_eq!(problems, []);
    assert_eq!(document.unsaved_events(), 3);
    assert_eq!(
        (note_of(&document, 1), note_of(&document, 3)),
        ("one".to_owned(), "three".to_owned())
    );
    assert_eq!(
        fs::read(&path).unwrap(),
        saved,
        "opening does not write the project"
    );
    // Three notes, the ears and the season can be taken back, in this session though they are from two others.
    for _ in 0..5 {
        assert!(document.undo(&stamp()).unwrap().is_some());
    }
    assert!(document.undo(&stamp()).unwrap().is_none());
    file.flush(&mut document).unwrap();
    drop(file);
    let Opened { mut document, .. } = open(&path);
    assert_eq!(document.project().ears.len(), 0);
    document.redo(&stamp()).unwrap();
    document.redo(&stamp()).unwrap();
    assert_eq!(
        document.project().ears.len(),
        12,
        "redo reaches behind the opening too"
    );
}

/// More steps than opening reads back, most of them made of several keystrokes: a step that is known in part only must
/// not be taken back, and an undo that is replayed must take back the whole step.
#[test]
fn a_long_history_is_read_in_part_and_replayed_in_whole() {
    for single_edits in 0..3 {
        let folder = tempfile::tempdir().unwrap();
        let path = saved_project(folder.path());
        let Opened {
            mut document, file, ..
        } = open(&path);
        for step in 0..200 {
            for text in ["a", "ab", "abc"] {
                let value = EarValue::Text(format!("{text}{step}"));
                keystroke(&mut document, 1 + step % 12, EarField::Note, value).unwrap();
            }
        }
        // They shift the place at which the reading stops within the three keystrokes of a step.
        for step in 0..single_edits {
            note(&mut document, 12, &format!("abc-{step}"));
        }
        file.save_job(&mut document)
            .unwrap()
            .run()
            .unwrap()
            .tell(&mut document);
        drop(file);

        let Opened {
            mut document,
            file,
            notes,
            ..
        } = open(&path);
        assert_eq!(notes, Vec::<String>::new());
        let mut undone = 0;
        while document.undo(&stamp()).unwrap().is_some() {
            undone += 1;
            for ear in document.project().ears.iter() {
                assert!(ear.note.starts_with("abc"), "half a step: {}", ear.note);
            }
        }
        assert!((160..=170).contains(&undone), "{undone} steps from 500 events");
        document.redo(&stamp()).unwrap();
        let before = text_of(document.project());
        file.flush(&mut document).unwrap();
        drop(file);
        let Opened { document, notes, .. } = open(&path);
        assert_eq!(
            notes,
            [format!(
                "{} changes made after the last save were replayed from the journal.",
                undone + 1
            )]
        );
        assert_eq!(text_of(document.project()), before);
    }
}

#[test]
fn an_undo_behind_the_save_is_replayed_however_far_it_went() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let Opened {
        mut document, file, ..
    } = open(&path);
    for number in 0..520 {
        note(&mut document, 1, &number.to_string());
    }
    file.save_job(&mut document)
        .unwrap()
        .run()
        .unwrap()
        .tell(&mut document);
    for _ in 0..510 {
        document.undo(&stamp()).unwrap();
    }
    file.flush(&mut document).unwrap();
    drop(file);
    let Opened { document, notes, .. } = open(&path);
    assert_eq!(
        notes,
        ["510 changes made after the last save were replayed from the journal."]
    );
    assert_eq!(note_of(&document, 1), "9");
}

#[test]
fn of_two_saves_with_the_same_content_the_later_one_counts() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let Opened {
        mut document, file, ..
    } = open(&path);
    note(&mut document, 1, "there");
    file.save_job(&mut document).unwrap().run().unwrap();
    document.undo(&stamp()).unwrap();
    file.save_job(&mut document).unwrap().run().unwrap();
    note(&mut document, 2, "new");
    file.flush(&mut document).unwrap();
    drop(file);
    let Opened { document, notes, .. } = open(&path);
    assert_eq!(
        notes,
        ["1 change made after the last save was replayed from the journal."]
    );
    assert_eq!(
        (note_of(&document, 1).as_str(), note_of(&document, 2).as_str()),
        ("", "new")
    );
}

/// Run it as `mount -t tmpfs -o size=200k none DIR; WINTERCRIB_TEST_SMALL_DISK=DIR cargo test --test store_project full
/// -- --ignored`.
#[test]
#[ignore = "needs an empty disk of 200 kB, named in WINTERCRIB_TEST_SMALL_DISK"]
fn a_full_disk_costs_nothing() {
    let disk = std::env::var("WINTERCRIB_TEST_SMALL_DISK").expect("the variable names a small disk");
    let path = saved_project(Path::new(&disk));
    let saved = fs::read(&path).unwrap();
    let Opened {
        mut document, file, ..
    } = open(&path);
    note(&mut document, 1, "before");
    file.flush(&mut document).unwrap();
    let filler = Path::new(&disk).join("filler");
    let mut fill = File::create(&filler).unwrap();
    while fill.write_all(b"x").is_ok() {}
    // The rest of the journal's last block still takes a few.
    let mut number = 0;
    let fault = loop {
        number += 1;
        note(&mut document, 2, &format!("number {number}"));
        if let Err(fault) = file.flush(&mut document) {
            break fault.to_string();
        }
    };
    assert!(fault.contains("The disk is full: free some space"), "{fault}");
    assert!(!file.all_on_disk());
    let fault = file
        .save_job(&mut document)
        .unwrap()
        .run()
        .unwrap_err()
        .to_string();
    assert!(fault.contains("The disk is full: free some space"), "{fault}");
    assert_eq!(fs::read(&path).unwrap(), saved);
    drop(fill);
    fs::remove_file(&filler).unwrap();
    note(&mut document, 3, "after");
    file.flush(&mut document).unwrap();
    drop(file);
    let Opened {
        mut document,
        file,
        notes,
        ..
    } = open(&path);
    assert_eq!(
        notes,
        [format!(
            "{} changes made after the last save were replayed from the journal.",
            number + 2
        )]
    );
    assert_eq!(note_of(&document, 2), format!("number {number}"));
    assert_eq!(note_of(&document, 3), "after");
    file.save_job(&mut document).unwrap().run().unwrap();
}

#[test]
fn a_save_that_ends_after_more_changes_counts_only_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let Opened {
        mut document, file, ..
    } = open(&path);
    note(&mut document, 1, "in the save");
    let job = file.save_job(&mut document).unwrap();
    note(&mut document, 2, "after the snapshot");
    file.flush(&mut document).unwrap();
    job.run().unwrap().tell(&mut document);
    assert_eq!(document.unsaved_events(), 1);
    drop(file);
    let Opened { document, notes, .. } = open(&path);
    assert_eq!(
        notes,
        ["1 change made after the last save was replayed from the journal."]
    );
    assert_eq!(note_of(&document, 2), "after the snapshot");
}

#[test]
fn a_stop_between_the_mark_and_the_replacement_is_harmless() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let old = fs::read(&path).unwrap();
    let Opened {
        mut document, file, ..
    } = open(&path);
    note(&mut document, 1, "new");
    file.save_job(&mut document).unwrap().run().unwrap();
    drop(file);
    // The old file back in place is what a stop after the mark leaves behind. A .bak put back by hand looks the same.
    put(&path, &old);
    let Opened { document, notes, .. } = open(&path);
    assert_eq!(note_of(&document, 1), "new");
    assert_eq!(
        notes,
        ["1 change made after the last save was replayed from the journal."]
    );
}

#[test]
fn a_cut_last_line_costs_one_change_and_is_reported() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let Opened {
        mut document, file, ..
    } = open(&path);
    note(&mut document, 1, "whole");
    note(&mut document, 2, "cut");
    file.flush(&mut document).unwrap();
    drop(file);
    let journal = folder.path().join("crib.ron.journal");
    let length = fs::metadata(&journal).unwrap().len();
    OpenOptions::new()
        .write(true)
        .open(&journal)
        .unwrap()
        .set_len(length - 9)
        .unwrap();
    let Opened {
        mut document,
        file,
        notes,
        ..
    } = open(&path);
    assert_eq!(
        (note_of(&document, 1).as_str(), note_of(&document, 2).as_str()),
        ("whole", "says \"früh\", \\ and so on")
    );
    assert!(
        notes[0].contains("The last line of the journal") && notes[0].contains("has no end"),
        "{notes:?}"
    );
    assert!(notes[1].starts_with("1 change"), "{notes:?}");
    note(&mut document, 3, "goes on");
    file.flush(&mut document).unwrap();
    drop(file);
    let Opened { document, notes, .. } = open(&path);
    assert_eq!(note_of(&document, 3), "goes on");
    assert_eq!(
        notes,
        ["2 changes made after the last save were replayed from the journal."]
    );
}

#[test]
fn damage_in_the_middle_of_the_journal_stops_the_replay_and_keeps_a_copy() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let Opened {
        mut document, file, ..
    } = open(&path);
    for ear in 1..=4 {
        note(&mut document, ear, &format!("note {ear}"));
    }
    file.flush(&mut document).unwrap();
    drop(file);
    let journal = folder.path().join("crib.ron.journal");
    let damaged = fs::read_to_string(&journal).unwrap().replace("note 2", "note X");
    put(&journal, damaged.as_bytes());
    let Opened {
        mut document,
        file,
        notes,
        ..
    } = open(&path);
    assert_eq!(
        (note_of(&document, 1).as_str(), note_of(&document, 3).as_str()),
        ("note 1", "")
    );
    assert!(
        notes[0].contains("is damaged: its checksum does not fit"),
        "{notes:?}"
    );
    assert!(notes[0].contains("nor the 2 lines after it"), "{notes:?}");
    assert_eq!(
        fs::read_to_string(&journal).unwrap(),
        damaged,
        "opening does not touch it"
    );
    note(&mut document, 5, "later");
    file.flush(&mut document).unwrap();
    drop(file);
    assert_eq!(
        fs::read_to_string(folder.path().join("crib.ron.journal.set-aside")).unwrap(),
        damaged
    );
    let Opened { document, .. } = open(&path);
    assert_eq!(
        (note_of(&document, 1).as_str(), note_of(&document, 5).as_str()),
        ("note 1", "later")
    );
}

#[test]
fn a_change_that_does_not_fit_stops_the_replay_and_keeps_a_copy() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let Opened {
        mut document, file, ..
    } = open(&path);
    note(&mut document, 1, "fits");
    file.flush(&mut document).unwrap();
    drop(file);
    let journal = folder.path().join("crib.ron.journal");
    let line = "Did(Commit(nonsense:true))";
    let sum = &wintercrib::store::digest_hex(line.as_bytes())[..8];
    let mut text = fs::read_to_string(&journal).unwrap();
    text = format!("{text}{sum} {line}\n");
    put(&journal, text.as_bytes());
    let Opened {
        mut document,
        file,
        notes,
        ..
    } = open(&path);
    assert_eq!(note_of(&document, 1), "fits");
    assert!(
        notes[1].contains("could not be replayed") && notes[1].contains("`Commit`"),
        "{notes:?}"
    );
    note(&mut document, 2, "later");
    file.flush(&mut document).unwrap();
    drop(file);
    assert_eq!(
        fs::read_to_string(folder.path().join("crib.ron.journal.set-aside")).unwrap(),
        text
    );
    let Opened { document, notes, .. } = open(&path);
    assert_eq!(note_of(&document, 2), "later");
    assert_eq!(
        notes,
        ["2 changes made after the last save were replayed from the journal."]
    );
}

#[test]
fn a_file_edited_by_hand_is_shown_as_it_is_and_the_old_journal_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let Opened {
        mut document, file, ..
    } = open(&path);
    note(&mut document, 1, "only in the journal");
    file.flush(&mut document).unwrap();
    drop(file);
    let edited = fs::read_to_string(&path)
        .unwrap()
        .replace("DEMO small crib", "DEMO other name");
    put(&path, edited.as_bytes());
    let Opened {
        mut document,
        file,
        notes,
        ..
    } = open(&path);
    assert_eq!(document.project().about.name, "DEMO other name");
    assert_eq!(note_of(&document, 1), "");
    assert!(
        notes[0].contains("changed by something else") && notes[0].contains("The 1 change in the journal"),
        "{notes:?}"
    );
    note(&mut document, 2, "new");
    file.flush(&mut document).unwrap();
    drop(file);
    let kept = fs::read_to_string(folder.path().join("crib.ron.journal.set-aside")).unwrap();
    assert!(kept.contains("only in the journal"));
    let Opened { document, notes, .. } = open(&path);
    assert_eq!(note_of(&document, 2), "new");
    assert_eq!(
        notes,
        ["1 change made after the last save was replayed from the journal."]
    );
}

#[test]
fn a_project_without_a_journal_opens_quietly_and_begins_one() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    put(&path, text_of(whole_job().project()).as_bytes());
    let Opened {
        mut document,
        file,
        notes,
        problems,
    } = open(&path);
    assert_eq!((notes, problems), (vec![], vec![]));
    assert_eq!(file.read_only(), None);
    assert!(!names(folder.path()).contains(&"crib.ron.journal".to_owned()));
    note(&mut document, 1, "first");
    file.flush(&mut document).unwrap();
    drop(file);
    assert_eq!(note_of(&open(&path).document, 1), "first");
}

// ---- saving ------------------------------------------------------------------------------------------------------

#[test]
fn saving_keeps_the_previous_file_and_refuses_to_overwrite_a_stranger() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let before = fs::read(&path).unwrap();
    let Opened {
        mut document, file, ..
    } = open(&path);
    note(&mut document, 1, "one");
    let saved = file.save_job(&mut document).unwrap().run().unwrap();
    assert_eq!(fs::read(folder.path().join("crib.ron.bak")).unwrap(), before);
    let now = fs::read(&path).unwrap();
    assert_eq!(
        (saved.bytes, saved.digest),
        (now.len() as u64, wintercrib::store::digest_hex(&now))
    );

    let mut stranger = now.clone();
    stranger.push(b'\n');
    put(&path, &stranger);
    note(&mut document, 2, "two");
    let fault = file.save_job(&mut document).unwrap().run().unwrap_err();
    assert!(matches!(fault, StoreFault::ChangedOutside { .. }), "{fault}");
    assert!(fault.to_string().contains("Save under another name"), "{fault}");
    assert_eq!(fs::read(&path).unwrap(), stranger);

    // Touched, but with the same content: that is no change.
    put(&path, &now);
    file.save_job(&mut document).unwrap().run().unwrap();
    assert_eq!(note_of(&open_for_reading(&path).document, 2), "two");
}

/// Opens a project while this test still holds its lock.
fn open_for_reading(path: &Path) -> Opened {
    let opened = open(path);
    assert!(opened.file.read_only().is_some());
    opened
}

#[test]
fn a_save_that_fails_leaves_the_file_and_keeps_the_changes_in_the_journal() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let before = fs::read(&path).unwrap();
    let Opened {
        mut document, file, ..
    } = open(&path);
    note(&mut document, 1, "kept");
    let job = file.save_job(&mut document).unwrap();
    // A folder in the place of the copy of the previous file makes that step fail, after the mark was written.
    fs::remove_file(folder.path().join("crib.ron.bak")).unwrap();
    fs::create_dir_all(folder.path().join("crib.ron.bak/x")).unwrap();
    let text = job.run().unwrap_err().to_string();
    assert!(
        text.contains("keep the previous file as .bak") && text.contains("unchanged"),
        "{text}"
    );
    assert_eq!(fs::read(&path).unwrap(), before);
    assert_eq!(document.unsaved_events(), 1);
    drop(file);
    let left: Vec<String> = names(folder.path())
        .into_iter()
        .filter(|name| name.contains(".writing-"))
        .collect();
    assert_eq!(left, Vec::<String>::new(), "no temporary file stays");
    assert_eq!(note_of(&open(&path).document, 1), "kept");
}

#[cfg(unix)]
#[test]
fn a_journal_that_cannot_be_written_keeps_the_changes_waiting_in_order() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let journal = folder.path().join("crib.ron.journal");
    let aside = folder.path().join("aside");
    let Opened {
        mut document, file, ..
    } = open(&path);
    fs::rename(&journal, &aside).unwrap();
    fs::create_dir(&journal).unwrap();
    note(&mut document, 1, "first");
    let text = file.flush(&mut document).unwrap_err().to_string();
    assert!(
        text.contains("journal") && text.ends_with("crib.ron.journal"),
        "{text}"
    );
    note(&mut document, 2, "second");
    assert!(file.flush(&mut document).is_err());
    assert!(!file.all_on_disk());
    fs::remove_dir(&journal).unwrap();
    fs::rename(&aside, &journal).unwrap();
    file.flush(&mut document).unwrap();
    assert!(file.all_on_disk());
    drop(file);
    let Opened { document, notes, .. } = open(&path);
    assert_eq!(
        (note_of(&document, 1).as_str(), note_of(&document, 2).as_str()),
        ("first", "second")
    );
    assert_eq!(
        notes,
        ["2 changes made after the last save were replayed from the journal."]
    );
}

#[test]
fn a_copy_under_another_name_takes_the_history_along() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let Opened {
        mut document, file, ..
    } = open(&path);
    note(&mut document, 1, "before the copy");
    file.flush(&mut document).unwrap();
    let copy = folder.path().join("copy.ron");
    let mut notes = Vec::new();
    let second = file.save_as(&copy, &mut document, ME, &mut notes).unwrap();
    assert_eq!(document.unsaved_events(), 0);
    drop(file);
    note(&mut document, 1, "after the copy");
    second.flush(&mut document).unwrap();
    drop(second);
    let Opened {
        mut document, notes, ..
    } = open(&copy);
    assert_eq!(
        notes,
        ["1 change made after the last save was replayed from the journal."]
    );
    for expected in ["after the copy", "before the copy", ""] {
        assert_eq!(note_of(&document, 1), expected);
        document.undo(&stamp()).unwrap();
    }
    assert_eq!(note_of(&open(&path).document, 1), "before the copy");
}

#[test]
fn saving_over_a_project_that_is_open_is_refused() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let Opened {
        mut document, file, ..
    } = open(&path);
    let text = file
        .save_as(&path, &mut document, ME, &mut Vec::new())
        .unwrap_err()
        .to_string();
    assert!(
        text.contains("Cannot save under this name: a test has it open"),
        "{text}"
    );
    let nowhere = folder.path().join("gone/crib.ron");
    let text = file
        .save_as(&nowhere, &mut document, ME, &mut Vec::new())
        .unwrap_err()
        .to_string();
    assert!(text.contains("nothing can be written in its folder"), "{text}");
    let text = project_file::create(&path, empty(), ME).unwrap_err().to_string();
    assert!(text.contains("There is a file of this name already"), "{text}");
}

#[test]
fn a_new_project_sets_aside_the_journal_of_one_that_is_gone() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let old_journal = fs::read(folder.path().join("crib.ron.journal")).unwrap();
    fs::remove_file(&path).unwrap();
    let Opened {
        mut document, file, ..
    } = project_file::create(&path, empty(), ME).unwrap();
    harvest(&mut document);
    document.run(&add_ears([20]), &stamp()).unwrap();
    file.flush(&mut document).unwrap();
    drop(file);
    assert_eq!(
        fs::read(folder.path().join("crib.ron.journal.set-aside")).unwrap(),
        old_journal
    );
    assert_eq!(open(&path).document.project().ears.len(), 13);
}

#[cfg(unix)]
#[test]
fn a_project_opened_through_a_link_is_saved_where_it_lies() {
    let folder = tempfile::tempdir().unwrap();
    let home = folder.path().join("home");
    fs::create_dir(&home).unwrap();
    let path = saved_project(&home);
    let link = folder.path().join("link.ron");
    std::os::unix::fs::symlink(&path, &link).unwrap();
    let Opened {
        mut document, file, ..
    } = open(&link);
    assert!(open(&path).file.read_only().is_some(), "both names have one lock");
    note(&mut document, 1, "through the link");
    file.save_job(&mut document).unwrap().run().unwrap();
    assert!(fs::symlink_metadata(&link).unwrap().is_symlink());
    assert!(fs::read_to_string(&path).unwrap().contains("through the link"));
    assert_eq!(names(folder.path()), ["home", "link.ron"]);
}

// ---- one writer --------------------------------------------------------------------------------------------------

#[test]
fn the_second_window_reads_says_who_has_it_and_writes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let Opened {
        mut document, file, ..
    } = project_file::open(&path, "the kitchen laptop").unwrap();
    note(&mut document, 1, "from the first window");
    file.flush(&mut document).unwrap();
    let all_files = || -> Vec<Vec<u8>> {
        let paths = names(folder.path())
            .into_iter()
            .map(|name| folder.path().join(name));
        paths
            .filter(|path| path.is_file())
            .map(|path| fs::read(path).unwrap())
            .collect()
    };
    let before = all_files();

    let Opened {
        document: mut second,
        file: second_file,
        ..
    } = open(&path);
    assert_eq!(second_file.read_only(), Some("the kitchen laptop has it open"));
    assert_eq!(
        note_of(&second, 1),
        "from the first window",
        "it sees what the first has done"
    );
    note(&mut second, 2, "from the second");
    for text in [
        second_file.flush(&mut second).unwrap_err().to_string(),
        second_file.save_job(&mut second).unwrap_err().to_string(),
    ] {
        assert!(
            text.contains("reading only: the kitchen laptop has it open"),
            "{text}"
        );
    }
    assert_eq!(all_files(), before);

    let copy = folder.path().join("copy.ron");
    let third = second_file
        .save_as(&copy, &mut second, ME, &mut Vec::new())
        .unwrap();
    drop(third);
    assert_eq!(
        note_of(&open(&copy).document, 2),
        "from the second",
        "a copy keeps what was done while reading"
    );
}

#[test]
fn a_file_marked_read_only_is_read_and_not_written() {
    let folder = tempfile::tempdir().unwrap();
    let path = saved_project(folder.path());
    let mut rights = fs::metadata(&path).unwrap().permissions();
    rights.set_readonly(true);
    fs::set_permissions(&path, rights).unwrap();
    let Opened { file, .. } = open(&path);
    assert_eq!(file.read_only(), Some("the file is marked read-only"));
}

#[cfg(unix)]
#[test]
fn a_folder_that_cannot_be_written_opens_for_reading() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = tempfile::tempdir().unwrap();
    let home = folder.path().join("home");
    fs::create_dir(&home).unwrap();
    let path = home.join("crib.ron");
    put(&path, text_of(&empty()).as_bytes());
    fs::set_permissions(&home, fs::Permissions::from_mode(0o555)).unwrap();
    if File::create(home.join("probe")).is_ok() {
        eprintln!(
            "SKIPPED: this user may write into read-only folders (root), so the refusal cannot be seen"
        );
        return;
    }
    let Opened { file, .. } = open(&path);
    let why = file.read_only().unwrap_or_default().to_owned();
    assert!(why.contains("nothing can be written in its folder"), "{why}");
    fs::set_permissions(&home, fs::Permissions::from_mode(0o755)).unwrap();
}

// ---- bad files ---------------------------------------------------------------------------------------------------

#[test]
fn bad_files_give_a_sentence_and_stay_as_they_are() {
    let good = text_of(whole_job().project());
    let utf16: Vec<u8> = good.encode_utf16().flat_map(u16::to_le_bytes).collect();
    let marked_utf16: Vec<u8> = [0xFF, 0xFE].into_iter().chain(utf16.iter().copied()).collect();
    let second_ear_first = good.replacen(
        "(id: 2, season: 1, number: 2,",
        "(id: 1, season: 1, number: 2,",
        1,
    );
    assert_ne!(second_ear_first, good);
    let deep = format!(
        "(format: 1, app: \"0.1.0\", project: {}",
        "(about: ".repeat(100_000)
    );
    let newer = "(format: 2, app: \"9.8.7\", mood: Sunny, project: (pods: [(1)]))".to_owned();
    let cases: Vec<(Vec<u8>, Vec<&str>)> = vec![
        (
            newer.into(),
            vec![
                "format 2",
                "written by version 9.8.7",
                "this is version 0.1.0",
                "untouched",
            ],
        ),
        (
            good.replacen("format: 1", "format: 4000000000", 1).into(),
            vec!["format 4000000000", "version 0.1.0 or newer"],
        ),
        (
            good.replacen("format: 1", "format: 0", 1).into(),
            vec!["format 0, which never was"],
        ),
        (
            good.replacen("format: 1, ", "", 1)
                .replacen("format: 1,", "", 1)
                .into(),
            vec!["format must come before the project"],
        ),
        (
            good.replacen("number: 2,", "nummer: 2,", 1).into(),
            vec!["Line ", "column ", "`nummer`", "The line is: "],
        ),
        (
            good.replacen("number: 2,", "number: \"two\",", 1).into(),
            vec!["Line ", "column ", "\"two\""],
        ),
        (
            good.replacen("number: 2,", "number: -2,", 1).into(),
            vec!["Line ", "column ", "-2"],
        ),
        (
            good.replacen("2026-05-09", "2026-02-30", 1).into(),
            vec!["Line ", "2026-02-30"],
        ),
        (
            second_ear_first.into(),
            vec!["Line ", "two records of the kind 'ear' have the id 1"],
        ),
        (good[..good.len() / 2].into(), vec!["Line ", "The line is: "]),
        (format!("{good}(more)").into(), vec!["Line ", "(more)"]),
        (deep.into(), vec!["Line 1"]),
        (b"".to_vec(), vec!["The file is empty", ".bak"]),
        (b" \n".to_vec(), vec!["The file is empty"]),
        (utf16, vec!["UTF-16"]),
        (marked_utf16, vec!["UTF-16"]),
        (b"\x89PNG\r\n\x1a\n".to_vec(), vec!["not text", "byte 1"]),
        (b"(format: 1, \0".to_vec(), vec!["not text", "byte 13"]),
        (
            b"code,kernels\nA,3\n".to_vec(),
            vec!["does not begin as a project does", "code,kernels"],
        ),
    ];
    for (bytes, words) in cases {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("crib.ron");
        put(&path, &bytes);
        let text = refusal(&path);
        for word in words {
            assert!(text.contains(word), "'{word}' is not in: {text}");
        }
        assert!(text.ends_with("crib.ron"), "{text}");
        assert!(text.len() < 1000, "a sentence, not {} bytes", text.len());
        assert_eq!(fs::read(&path).unwrap(), bytes);
        assert_eq!(
            names(folder.path()),
            ["crib.ron"],
            "nothing is left beside a file that is no project"
        );
    }
}

#[test]
fn a_fault_names_the_very_place() {
    let text = "(format: 1, app: \"0.1.0\", project: (\n  about: (name: \"DEMO\", prefix: \"DE\", id: \"x\"),\n  seasons: [\n    (id: 1, year: 2026, remnant: 20, plant_each: 30, retired: 3),\n  ],\n))";
    let Err(FormatFault::At {
        line, column, text, ..
    }) = format::read(text.as_bytes())
    else {
        panic!("it was read")
    };
    assert_eq!(line, 4);
    assert!((54..=62).contains(&column), "{column}");
    assert!(text.contains("retired: 3"), "{text}");
}

#[test]
fn editors_may_leave_a_mark_and_windows_line_ends() {
    let good = text_of(whole_job().project());
    let edited = format!("\u{FEFF}{}", good.replace('\n', "\r\n"));
    assert_eq!(&format::read(edited.as_bytes()).unwrap(), whole_job().project());
}

#[test]
fn broken_rules_are_named_with_their_line_and_nothing_is_written() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    let good = text_of(whole_job().project());
    let broken = good.replacen(
        "(id: 2, season: 1, number: 2,",
        "(id: 2, season: 9, number: 2,",
        1,
    );
    assert_ne!(broken, good);
    put(&path, broken.as_bytes());
    let Opened {
        mut document,
        file,
        problems,
        ..
    } = open(&path);
    let ear = problems
        .iter()
        .find(|one| one.problem.place == Place::Ear(EarId(2)))
        .unwrap();
    assert!(
        ear.problem.to_string().contains("season 9, which does not exist"),
        "{}",
        ear.problem
    );
    let line = broken.lines().nth(ear.line.unwrap() - 1).unwrap();
    assert!(line.contains("season: 9, number: 2"), "{line}");
    assert!(
        file.read_only().unwrap().contains("breaks"),
        "{:?}",
        file.read_only()
    );
    assert!(matches!(
        file.save_job(&mut document),
        Err(StoreFault::ReadOnly { .. })
    ));
    assert_eq!(fs::read_to_string(&path).unwrap(), broken);
}

#[test]
fn a_frozen_list_that_was_tampered_with_is_named() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    let good = text_of(whole_job().project());
    let broken = good.replacen("plant: 30, keep: 20", "plant: 31, keep: 20", 1);
    assert_ne!(broken, good);
    put(&path, broken.as_bytes());
    let Opened { problems, .. } = open(&path);
    assert!(
        problems[0].problem.to_string().contains("is not what was frozen"),
        "{problems:?}"
    );
    assert!(problems[0].line.is_some());
}

#[test]
fn a_path_that_is_no_file_gives_a_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let text = refusal(&folder.path().join("none.ron"));
    assert!(text.contains("Check that the folder is still there"), "{text}");
    assert!(refusal(folder.path()).contains("this one is a folder"));
}

//! Bringing the line of an ear from another project: whole, once, and undone without a trace.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use jiff::civil::date;
use proptest::prelude::*;
use wintercrib::insight::Insight;
use wintercrib::model::*;
use wintercrib::store::format;

fn stamp() -> Stamp {
    Stamp {
        at: date(2026, 12, 1).at(10, 0, 0, 0),
        by: "Grower A".to_owned(),
    }
}

/// A project with the seasons of some years: three mother rows of four ears each, the rows of a later season grown from the
/// first ears of the season before; the ears of the first season were counted.
fn project(name: &str, id: &str, years: &[i16]) -> Document {
    let mut document = Document::new(Project::new(About {
        restrictions: format!("pledge of {name}: keep it open"),
        ..About::new(name, id)
    }));
    let mut run = |command: Command| document.run(&command, &stamp()).map(drop).unwrap();
    run(Command::AddTrait(Trait {
        id: TraitId(0),
        name: "Ear length".to_owned(),
        unit: "in".to_owned(),
        least: None,
        most: None,
        better: Better::Higher,
        decimals: 1,
        anchors: [].into(),
    }));
    for (at, year) in (0_u32..).zip(years.iter().copied()) {
        let season = SeasonId(at + 1);
        let planted = Some(date(year, 5, 3));
        run(Command::AddSeason { year, planted });
        for row in 1..=3 {
            run(Command::AddRow {
                season,
                label: row.to_string(),
                source: match at {
                    0 => RowSource::Bulk("old crib".to_owned()),
                    _ => RowSource::Ear(EarId(12 * (at - 1) + row)),
                },
            });
        }
        let draft = |ear: u32| EarDraft {
            row: Some((ear / 4 + 1).to_string()),
            matured: Some(date(year, 8, 20)),
            kernels: Some(150),
            values: [(TraitId(1), 7.5 + f64::from(ear))].into(),
            ..EarDraft::default()
        };
        run(Command::AddEars {
            season,
            drafts: (0..12).map(draft).collect(),
            existing: Existing::Refuse,
        });
    }
    run(Command::DesignTest(TestDesign {
        season: SeasonId(1),
        replaces: None,
        name: "Cold".to_owned(),
        plan: TrayPlan {
            checks: 1,
            ..TrayPlan::default()
        },
        recipe: Recipe::default(),
        check_lot: "Old bulk".to_owned(),
        seed: 7,
        ears: None,
    }));
    run(Command::LayTest {
        test: TestId(1),
        trays: Vec::new(),
        on: date(years[0] + 1, 2, 1),
    });
    let project = document.project();
    let counts = project
        .cells_of_test(TestId(1))
        .filter(|cell| cell.content.is_counted())
        .map(|cell| {
            let sown = project.sown(cell);
            let tally = Tally {
                strong: sown - 2,
                weak: 1,
                dead: 1,
                ..Tally::default()
            };
            Seen {
                vigor: Some(6),
                ..Seen::new(cell.id, Pass::Final, tally)
            }
        })
        .collect();
    let count = Command::RecordCounts {
        counts,
        on: Some(date(years[0] + 1, 2, 13)),
        by: "Helper B".to_owned(),
    };
    document.run(&count, &stamp()).unwrap();
    document
}

fn ours() -> Document {
    project("South Field", "south", &[2025, 2026])
}

fn theirs() -> Document {
    project("North Barn", "north", &[2024, 2025, 2026])
}

fn line(there: &Document, ear: u32) -> Line {
    let code = there.project().ears.get(EarId(ear)).unwrap().code;
    line_of(there.project(), code).unwrap()
}

fn command(there: &Document, ear: u32, kernels: Option<u32>) -> Command {
    Command::BringLine {
        line: Box::new(line(there, ear)),
        kernels,
    }
}

#[test]
fn a_line_comes_whole_with_its_mothers_and_its_history() {
    let (mut here, there) = (ours(), theirs());
    let asked = line(&there, 30);
    assert_eq!(asked.ears.len(), 3);
    let found = bring(here.project(), &asked, Some(40), &stamp()).unwrap();
    let before = here.project().clone();
    here.run(&command(&there, 30, Some(40)), &stamp()).unwrap();
    let project = here.project();
    assert_eq!(project.validate(), []);
    let last = project.ear_coded(asked.ears[2].ear.code).unwrap();
    let brought = last.brought.as_ref().unwrap();
    assert_eq!(
        (brought.project.as_str(), brought.number, brought.row.as_str()),
        ("North Barn", 6, "2")
    );
    assert_eq!(brought.restrictions, "pledge of North Barn: keep it open");
    // Ours has an ear 6 of 2026, so it gets the next number; its code stays.
    assert_eq!(
        (last.number, last.code.to_string().as_str()),
        (13, asked.ears[2].ear.code.to_string().as_str())
    );
    assert_eq!(project.kernels_of(last.id), Some(40));
    // Its mother row was taken already by a row of ours, which stays what it was.
    let row = project.rows.get(last.row.unwrap()).unwrap();
    assert_eq!(row.label, "2 NB");
    assert!(
        found
            .sentences
            .iter()
            .any(|said| said.contains("Row 2 of 2026 becomes row 2 NB"))
    );
    let RowSource::Ear(mother) = row.source else {
        panic!("its mother is known: {row:?}");
    };
    let mother = project.ears.get(mother).unwrap();
    assert_eq!(mother.code, asked.ears[1].ear.code);
    assert_eq!(project.kernels_of(mother.id), Some(0));
    assert_eq!(project.maturity_days(mother), Some(109));
    assert_eq!(project.seasons.get(mother.season).unwrap().year, 2025);
    // The founder is of a season that ours never had; it is added closed. What was counted of it is history.
    let RowSource::Ear(founder) = project.rows.get(mother.row.unwrap()).unwrap().source else {
        panic!("the founder is known");
    };
    let founder = project.ears.get(founder).unwrap();
    let season = project.seasons.get(founder.season).unwrap();
    assert_eq!((season.year, season.closed), (2024, Some(date(2026, 12, 1))));
    let counts = &founder.brought.as_ref().unwrap().counts;
    assert_eq!(counts.len(), 1);
    assert!(
        counts[0]
            .text()
            .contains(": final count 9 of 10, 8 strong, 1 weak, 1 dead, vigor 6 (Helper B, 2025-02-13)"),
        "{}",
        counts[0].text()
    );
    assert!(
        counts[0].text().starts_with("Cold of 2024, "),
        "{}",
        counts[0].text()
    );
    assert_eq!(
        project.rows.get(founder.row.unwrap()).unwrap().source,
        RowSource::Bulk("old crib".to_owned())
    );
    // Traits of the same name and unit take their values.
    let theirs = &there.project().ears.get(EarId(1)).unwrap().values;
    assert_eq!(founder.values, *theirs);
    // Nothing of ours is another than before.
    for ear in before.ears.iter() {
        assert_eq!(project.ears.get(ear.id), Some(ear));
    }
    for row in before.rows.iter() {
        assert_eq!(project.rows.get(row.id), Some(row));
    }
    assert_eq!(
        (before.tests.len(), before.cells.len()),
        (project.tests.len(), project.cells.len())
    );
    // The line of mothers is followed to its founder, and nobody counts the history as a test.
    let lines = Insight::default().lines_of_mothers(&here);
    assert!(
        lines
            .lines
            .iter()
            .any(|line| line.founder == "bulk row 1 of 2024")
    );
    let estimates = Insight::default().estimates(&here, founder.season);
    assert_eq!(estimates.scored(), 0);
}

#[test]
fn twice_changes_nothing_and_kernels_come_once() {
    let (mut here, there) = (ours(), theirs());
    here.run(&command(&there, 30, None), &stamp()).unwrap();
    let once = here.project().clone();
    let again = bring(here.project(), &line(&there, 30), None, &stamp()).unwrap();
    assert!(again.is_nothing_new());
    assert!(
        again.sentences[2].ends_with("is here already."),
        "{:?}",
        again.sentences
    );
    here.run(&command(&there, 30, None), &stamp()).unwrap();
    assert_eq!(*here.project(), once);
    // A sister of the same row joins her; only she is new.
    here.run(&command(&there, 31, None), &stamp()).unwrap();
    assert_eq!(here.project().ears.len(), once.ears.len() + 1);
    assert_eq!(here.project().rows.len(), once.rows.len());
    // A packet may come later, but one only.
    here.run(&command(&there, 30, Some(25)), &stamp()).unwrap();
    let ear = here
        .project()
        .ear_coded(line(&there, 30).ears[2].ear.code)
        .unwrap()
        .id;
    assert_eq!(here.project().kernels_of(ear), Some(25));
    let more = bring(here.project(), &line(&there, 30), Some(25), &stamp()).unwrap();
    assert!(more.is_nothing_new());
    assert!(
        more.sentences[2].contains("with 25 kernels that came"),
        "{:?}",
        more.sentences
    );
}

/// The same ear by two ways: from where it grew, and from a project that has it from there.
#[test]
fn an_ear_that_went_through_a_third_project_comes_once() {
    let (mut here, there) = (ours(), theirs());
    let mut between = project("West Terrace", "west", &[2026]);
    between.run(&command(&there, 30, None), &stamp()).unwrap();
    let code = line(&there, 30).ears[2].ear.code;
    let through = || line_of(between.project(), code).unwrap();
    // First from where it grew, then from the third project: nothing is new.
    let mut first = here.clone();
    first.run(&command(&there, 30, None), &stamp()).unwrap();
    let again = bring(first.project(), &through(), None, &stamp()).unwrap();
    assert!(again.is_nothing_new(), "{:?}", again.sentences);
    // The other way round nobody can know, and it is said.
    let bring_through = Command::BringLine {
        line: Box::new(through()),
        kernels: None,
    };
    here.run(&bring_through, &stamp()).unwrap();
    let problem = here.run(&command(&there, 30, None), &stamp()).unwrap_err();
    assert!(
        problem.to_string().contains("which came from 'West Terrace'")
            && problem
                .to_string()
                .contains("if they are one and the same, it is here already"),
        "{problem}"
    );
}

#[test]
fn what_cannot_be_brought_is_refused_with_a_sentence_and_nothing_is_changed() {
    let mut here = ours();
    let before = here.project().clone();
    let copy = project("South Field", "south", &[2024, 2025]);
    let same_letters = project("Sweet Furrow", "furrow", &[2025, 2026]);
    let later = project("North Barn", "north", &[2026, 2027]);
    for (there, ear, said) in [
        (&copy, 1, "another copy of this project"),
        (&same_letters, 20, "the letters of both projects are the same"),
        (&later, 20, "harvested in 2027, and that season is not begun here"),
    ] {
        let problem = here.run(&command(there, ear, None), &stamp()).unwrap_err();
        assert!(problem.to_string().contains(said), "{problem}");
        assert_eq!(*here.project(), before);
    }
    let too_many = here
        .run(&command(&theirs(), 30, Some(u32::MAX)), &stamp())
        .unwrap_err();
    assert!(too_many.to_string().contains("kernels"), "{too_many}");
    assert_eq!(*here.project(), before);
    let missing = "XX26-0001-".to_owned() + &check_character("XX260001").unwrap().to_string();
    let fault = line_of(theirs().project(), missing.parse().unwrap()).unwrap_err();
    assert!(
        fault
            .to_string()
            .contains("'North Barn' has no ear with the code XX26-0001"),
        "{fault}"
    );
    // The code of an ear that was removed here is not given to another.
    here.run(&Command::RemoveEars(vec![EarId(24)]), &stamp()).unwrap();
    let only = project("Sweet Furrow", "furrow", &[2026]);
    let problem = here.run(&command(&only, 12, None), &stamp()).unwrap_err();
    assert!(
        problem.to_string().contains("a code is never used again"),
        "{problem}"
    );
}

#[test]
fn a_closed_season_takes_a_line_and_nothing_else() {
    let (mut here, there) = (ours(), theirs());
    for season in [SeasonId(1), SeasonId(2)] {
        here.run(&Command::CloseSeason(season), &stamp()).unwrap();
    }
    here.run(&command(&there, 30, Some(40)), &stamp()).unwrap();
    let ear = here
        .project()
        .ear_coded(line(&there, 30).ears[2].ear.code)
        .unwrap()
        .id;
    let edit = Command::EditEars(vec![EarEdit {
        ear,
        field: EarField::Note,
        value: EarValue::Text("x".to_owned()),
    }]);
    let problem = here.run(&edit, &stamp()).unwrap_err();
    assert!(problem.to_string().contains("was closed on"), "{problem}");
    let row = Command::AddRow {
        season: SeasonId(1),
        label: "x".to_owned(),
        source: RowSource::Unknown,
    };
    assert!(here.run(&row, &stamp()).is_err());
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 48, failure_persistence: None, ..ProptestConfig::default() })]

    /// Any lines brought in any order are undone to the same bytes, and brought again to the same bytes.
    #[test]
    fn bringing_is_undone_without_a_trace(ears in prop::collection::vec((1..37_u32, prop::option::of(0..300_u32)), 1..6)) {
        let (mut here, there) = (ours(), theirs());
        let start = format::write(here.project()).unwrap();
        let mut steps = 0;
        for (ear, kernels) in ears {
            let committed = here.run(&command(&there, ear, kernels), &stamp()).unwrap();
            steps += usize::from(!committed.places.is_empty());
            prop_assert_eq!(here.project().validate(), []);
        }
        let end = format::write(here.project()).unwrap();
        prop_assert_eq!(&format::read(end.as_bytes()).unwrap(), here.project());
        for _ in 0..steps {
            here.undo(&stamp()).unwrap().unwrap();
        }
        prop_assert_eq!(format::write(here.project()).unwrap(), start);
        while here.redo(&stamp()).unwrap().is_some() {}
        prop_assert_eq!(format::write(here.project()).unwrap(), end);
    }
}

//! Harvest lists and counts as delimited text, taken into a project: all of it, or a problem with its line.

#![expect(clippy::unwrap_used, reason = "a test stops at what it does not expect")]

use jiff::civil::date;
use wintercrib::exchange::counts_csv::{count_drafts, match_count_columns, record_command};
use wintercrib::exchange::ears_csv::{ColumnMatch, drafts, ears_csv, match_columns};
use wintercrib::exchange::numbers::DecimalMark;
use wintercrib::exchange::table_text::{RowProblem, Table, read_table};
use wintercrib::model::{
    About, Better, CellContent, Command, DateOrder, Document, EarDraft, EarField, EarId, Existing, Pass,
    Project, Recipe, SeasonId, Stamp, StoreId, StorePlace, Tally, TestDesign, TestId, Trait, TraitId,
    TrayPlan,
};

const SEASON: SeasonId = SeasonId(1);
const TEST: TestId = TestId(1);

fn stamp() -> Stamp {
    Stamp {
        at: date(2026, 11, 2).at(8, 0, 0, 0),
        by: "I.T.".to_owned(),
    }
}

/// A project with season 2026, planted on 1 May, and the traits 'ear length' in cm and 'Cob colour'.
fn project() -> Document {
    let mut document = Document::new(Project::new(About::new("DEMO Essel thaw", "test")));
    let known = |name: &str, unit: &str| Trait {
        id: TraitId(0),
        name: name.to_owned(),
        unit: unit.to_owned(),
        least: Some(0.0),
        most: Some(60.0),
        better: Better::Higher,
        decimals: 1,
        anchors: std::collections::BTreeMap::new(),
    };
    for command in [
        Command::AddSeason {
            year: 2026,
            planted: Some(date(2026, 5, 1)),
        },
        Command::AddTrait(known("Ear length", "cm")),
        Command::AddTrait(known("Cob colour", "")),
    ] {
        document.run(&command, &stamp()).unwrap();
    }
    document
}

fn read(text: &str, project: &Project) -> (Table, ColumnMatch, Vec<(usize, EarDraft)>, Vec<String>) {
    let table = read_table(text.as_bytes()).unwrap();
    let columns = match_columns(&table, project);
    let (found, problems) = drafts(&table, &columns, project, SEASON);
    (
        table,
        columns,
        found,
        problems.iter().map(RowProblem::to_string).collect(),
    )
}

fn add(document: &mut Document, found: Vec<(usize, EarDraft)>) {
    let drafts = found.into_iter().map(|(_, draft)| draft).collect();
    document
        .run(
            &Command::AddEars {
                season: SEASON,
                drafts,
                existing: Existing::Refuse,
            },
            &stamp(),
        )
        .unwrap();
}

#[test]
fn a_harvest_list_of_any_make_gives_the_same_ears() {
    let document = project();
    let body = [
        "Ear_No;MOTHER ROW;planted;matured;Maturity (days);kernels;packet place;ear length [cm];Note;Weather",
        "1;7;;2026-08-12;;212;B2-14;18,5;\"husk; tight\";dry",
        "2;7;2026-05-03;14/8/2026;101;198;;17;;wet",
    ];
    for (mark, end) in [("", "\n"), ("\u{feff}", "\r\n"), ("", "\r")] {
        let (table, columns, found, problems) =
            read(&(mark.to_owned() + &body.join(end) + end), document.project());
        assert_eq!(problems, [] as [&str; 0]);
        assert_eq!(columns.unmatched(&table), ["Weather"]);
        assert_eq!(
            (columns.dates, columns.decimal),
            (DateOrder::DayFirst, DecimalMark::Comma)
        );
        let (line, first) = &found[0];
        assert_eq!(*line, 2);
        assert_eq!(
            (first.number, first.row.as_deref(), first.kernels),
            (Some(1), Some("7"), Some(212))
        );
        assert_eq!((first.planted, first.matured), (None, Some(date(2026, 8, 12))));
        assert_eq!(
            (first.location.as_deref(), first.note.as_deref()),
            (Some("B2-14"), Some("husk; tight"))
        );
        assert_eq!(first.values.get(&TraitId(1)), Some(&18.5));
        let (line, second) = &found[1];
        assert_eq!(*line, 3);
        assert_eq!(
            (second.matured, second.maturity_days),
            (Some(date(2026, 8, 14)), Some(101))
        );
        assert_eq!((second.location.as_deref(), second.note.as_deref()), (None, None));
    }
}

#[test]
fn every_bad_row_is_named_with_its_line_and_left_out_whole() {
    let mut document = project();
    add(
        &mut document,
        vec![(
            1,
            EarDraft {
                number: Some(50),
                ..EarDraft::default()
            },
        )],
    );
    let text = "ear,row,planted,matured,kernels,ear length,days\n\
        1,7,2026-05-01,2026-08-10,200,18.5,101\n\
        2,7,2026-02-30,,200,18,100\n\
        3,7,,,-5,18,100\n\
        1,7,,,200,18,100\n\
        50,7,,,200,18,100\n\
        4,7,3/4/2026,,200,18,100\n\
        5,7,2026-05-01,2026-04-01,200,18,100\n\
        6,7,,2026-04-30,200,18,100\n\
        ,7,,,200,18,100\n\
        0,7,,,200,18,100\n\
        7,7,,,200,99,100\n\
        8,7,,,2.5,NaN,0\n\
        9,7,,,200\n\
        10,7,,,200,18,100\n";
    let (_, _, found, problems) = read(text, document.project());
    let taken: Vec<(usize, Option<u32>)> = found.iter().map(|(line, draft)| (*line, draft.number)).collect();
    assert_eq!(taken, [(2, Some(1)), (15, Some(10))]);
    for (begin, part) in [
        (
            "line 3, column 'planted': ",
            "'2026-02-30' is not a date that exists",
        ),
        ("line 4, column 'kernels': ", "-5"),
        ("line 5, column 'ear': ", "stands on line 2 already"),
        ("line 6, column 'ear': ", "already has ear 50"),
        ("line 7, column 'planted': ", "can be two dates"),
        ("line 8: ", "before it was planted on 2026-05-01"),
        ("line 9: ", "before it was planted on 2026-05-01"),
        ("line 10, column 'ear': ", "empty"),
        ("line 11, column 'ear': ", "0 is not an ear number"),
        ("line 12, column 'ear length': ", "from 0 to 60"),
        ("line 13, column 'kernels': ", "2.5"),
        ("line 13, column 'ear length': ", "'NaN' is not a number"),
        ("line 13, column 'days': ", "from 1 to"),
        ("line 14: ", "has 5 cells, but the header has 7"),
    ] {
        let fits = |problem: &&String| problem.starts_with(begin) && problem.contains(part);
        assert_eq!(
            problems.iter().filter(fits).count(),
            1,
            "{begin}{part} in {problems:#?}"
        );
    }
    assert_eq!(problems.len(), 14, "{problems:#?}");
}

#[test]
fn the_caller_can_change_what_was_guessed() {
    let mut document = project();
    add(
        &mut document,
        vec![(
            1,
            EarDraft {
                number: Some(1),
                ..EarDraft::default()
            },
        )],
    );
    let table =
        read_table(b"ear;length (in);maturity (heat units);planted\n1;1,234;2100;3/4/2026\n").unwrap();
    let mut columns = match_columns(&table, document.project());
    // Another unit than the trait's, and heat units for days, are not taken silently.
    assert_eq!(
        columns.unmatched(&table),
        ["length (in)", "maturity (heat units)"]
    );
    columns.fields[1] = Some(EarField::Trait(TraitId(1)));
    let (found, problems) = drafts(&table, &columns, document.project(), SEASON);
    assert_eq!((found.len(), problems.len()), (0, 3), "{problems:#?}");
    assert!(
        problems
            .iter()
            .any(|problem| problem.what.contains("1234 or as 1,234")),
        "{problems:#?}"
    );
    columns.dates = DateOrder::MonthFirst;
    columns.decimal = DecimalMark::Comma;
    columns.existing = Existing::Update;
    let (found, problems) = drafts(&table, &columns, document.project(), SEASON);
    assert_eq!(problems, []);
    assert_eq!(found[0].1.planted, Some(date(2026, 3, 4)));
    assert_eq!(found[0].1.values.get(&TraitId(1)), Some(&1.234));
    // One field in two columns, or none at all, is a problem of the header.
    columns.fields[1] = Some(EarField::Number);
    let (found, problems) = drafts(&table, &columns, document.project(), SEASON);
    assert_eq!((found.len(), problems[0].line), (0, 1));
    columns.fields = vec![None; 4];
    assert_eq!(drafts(&table, &columns, document.project(), SEASON).1[0].line, 1);
}

fn add_cellar(document: &mut Document) {
    let cellar = Command::AddStore(StorePlace {
        id: StoreId(0),
        name: "Cellar".to_owned(),
        temperature_c: None,
        humidity_percent: None,
        note: String::new(),
    });
    document.run(&cellar, &stamp()).unwrap();
}

#[test]
fn what_is_written_is_read_back_as_the_same_ears() {
    let mut document = project();
    add_cellar(&mut document);
    let ear = |number, row: &str, note: &str, length: f64| EarDraft {
        number: Some(number),
        row: Some(row.to_owned()),
        planted: Some(date(2026, 5, 3)),
        matured: Some(date(2026, 8, 9)),
        picked: Some(date(2026, 9, 21)),
        maturity_days: Some(98),
        kernels: Some(200 + number),
        location: Some("B1, slot 4".to_owned()),
        note: Some(note.to_owned()),
        values: [(TraitId(1), length)].into(),
        batch: None,
        store: (number == 2).then(|| "Cellar".to_owned()),
        heat_units_c: Some(1_400.0 * 5.0 / 9.0),
        frosted: Some(number % 2 == 0),
    };
    let written = vec![
        ear(1, "7", "=SUM(A1)", 1.234),
        ear(2, "+7", "-x \"tight\"; 2,5", 18.123_456_789),
        ear(9, "'7", "'@quoted", 0.1),
        EarDraft {
            number: Some(12),
            ..EarDraft::default()
        },
    ];
    add(
        &mut document,
        written.iter().cloned().map(|draft| (0, draft)).collect(),
    );
    let bytes = ears_csv(document.project(), SEASON);
    let text = String::from_utf8(bytes.clone()).unwrap();
    assert!(text.contains(",'=SUM(A1),") && text.contains("\r\n"), "{text}");
    let mut again = project();
    // The storage places of a list are not made by reading it.
    let problems = read(&text, again.project()).3;
    assert_eq!(problems.len(), 1, "{problems:?}");
    assert!(problems[0].contains("there is no storage place 'Cellar'"));
    add_cellar(&mut again);
    let (table, columns, found, problems) = read(&text, again.project());
    assert_eq!(problems, [] as [&str; 0]);
    assert_eq!(columns.unmatched(&table), ["Ear code"]);
    assert_eq!(
        found.iter().map(|(_, draft)| draft.clone()).collect::<Vec<_>>(),
        written
    );
    add(&mut again, found);
    assert_eq!(ears_csv(again.project(), SEASON), bytes);
}

#[test]
fn a_hundred_thousand_ears_are_read_with_their_lines() {
    let document = project();
    let lines = (1..=100_000).map(|ear| {
        let matured = if ear == 77_777 { "2026-08-32" } else { "2026-08-10" };
        format!("{ear};{};{matured};212;18,5;\"husk; tight\"\r\n", ear % 40)
    });
    let text = "ear;row;matured;kernels;ear length;note\r\n".to_owned() + &lines.collect::<String>();
    let (_, _, found, problems) = read(&text, document.project());
    assert_eq!(found.len(), 99_999);
    assert_eq!(found[99_998].0, 100_001);
    assert_eq!(problems.len(), 1);
    assert!(
        problems[0].starts_with("line 77778, column 'matured': '2026-08-32' is not a date"),
        "{problems:?}"
    );
}

/// The project with 24 ears in one tray of 4 by 8 cells, 10 kernels each, 2 checks and 2 landmarks.
fn with_tray() -> Document {
    let mut document = project();
    let ears = (1..=24).map(|number| {
        (
            0,
            EarDraft {
                number: Some(number),
                row: Some((number % 5).to_string()),
                ..EarDraft::default()
            },
        )
    });
    add(&mut document, ears.collect());
    let design = TestDesign {
        season: SEASON,
        replaces: None,
        name: "Cold tray".to_owned(),
        plan: TrayPlan::default(),
        recipe: Recipe::default(),
        check_lot: "C".to_owned(),
        seed: 7,
        ears: None,
    };
    document.run(&Command::DesignTest(design), &stamp()).unwrap();
    document
}

fn cell_of(project: &Project, number: u32) -> String {
    let ear = project.ear_numbered(SEASON, number).unwrap();
    project.cells_of_ear(ear.id).next().unwrap().name()
}

fn landmark(project: &Project) -> String {
    project
        .cells
        .iter()
        .find(|cell| cell.content == CellContent::Landmark)
        .unwrap()
        .name()
}

#[test]
fn counts_are_taken_by_cell_by_place_and_by_ear() {
    let mut document = with_tray();
    let project = document.project();
    let [first, second] = [1, 2].map(|number| cell_of(project, number));
    let third = project.cells_of_ear(EarId(3)).next().unwrap();
    let text = format!(
        "Tray;Cell;row;column;Ear;Pass;Date;Strong;Weak;Abnormal;Dead;Fresh;Missing;Mold;Vigour;Scorer;Sheet\r\n\
         T1;{first};;;1;early;2026-01-08;6;1;;;3;;;;I.T.;a\r\n\
         1;{};;;;;2026-01-14;7;1;;2;;;yes;8;I.T.;a\r\n\
         ;;{};{};;final;2026-01-14;9;;;1;;;x;;J.;a\r\n\
         ;;;;{};day 10;2026-01-14;9;;;1;;;0;0;I.T.;a\r\n\
         ;{};;;;;;;;;;;;;;;a\r\n",
        second.to_lowercase(),
        third.row,
        third.column,
        project.ear_numbered(SEASON, 4).unwrap().code,
        landmark(project),
    );
    let table = read_table(text.as_bytes()).unwrap();
    let columns = match_count_columns(&table);
    assert_eq!(columns.unmatched(&table), ["Sheet"]);
    let (found, problems) = count_drafts(&table, &columns, project, TEST);
    assert_eq!(problems, []);
    assert_eq!(found.len(), 4);
    assert_eq!(
        found[1].1.seen.tally,
        Tally {
            strong: 7,
            weak: 1,
            dead: 2,
            ..Tally::default()
        }
    );
    assert_eq!(
        (found[1].1.seen.pass, found[1].1.seen.mould, found[1].1.seen.vigor),
        (Pass::Final, true, Some(8))
    );
    document.run(&record_command(&found), &stamp()).unwrap();
    let project = document.project();
    assert_eq!(project.validate(), []);
    assert_eq!(project.counts.len(), 4);
    assert_eq!(project.final_tally(EarId(2)).unwrap().dead, 2);
    let of_third = project.count_in_force(third_cell(project), Pass::Final).unwrap();
    assert_eq!(
        (of_third.by.as_str(), of_third.on, of_third.mould),
        ("J.", Some(date(2026, 1, 14)), true)
    );
    // The same file again says nothing new.
    let (again, problems) = count_drafts(&table, &columns, project, TEST);
    assert_eq!(problems, []);
    let nothing = document.run(&record_command(&again), &stamp()).unwrap();
    assert!(nothing.places.is_empty());
    // All counts of a table are one step.
    document.undo(&stamp()).unwrap();
    assert_eq!(document.project().counts.len(), 0);
}

fn third_cell(project: &Project) -> wintercrib::model::CellId {
    project.cells_of_ear(EarId(3)).next().unwrap().id
}

#[test]
fn every_bad_count_is_named_with_its_line() {
    let mut document = with_tray();
    let project = document.project();
    let cells: Vec<String> = (1..=24).map(|number| cell_of(project, number)).collect();
    let empty = landmark(project);
    let text = format!(
        "tray,cell,ear,strong,weak,dead,vigor,mould,pass,date\n\
         1,{},1,9,0,1,5,,final,2026-01-14\n\
         1,{},2,9,3,0,5,,final,2026-01-14\n\
         1,{},3,7,0,2,5,,final,2026-01-14\n\
         1,Z9,4,9,0,1,5,,final,2026-01-14\n\
         2,{},4,9,0,1,5,,final,2026-01-14\n\
         1,{},6,9,0,1,5,,final,2026-01-14\n\
         1,{empty},,9,0,1,5,,final,2026-01-14\n\
         1,{},,-1,0,11,5,,final,2026-01-14\n\
         1,{},,9,0,1,12,,final,2026-01-14\n\
         1,{},,9,0,1,5,perhaps,final,2026-01-14\n\
         1,{},,9,0,1,5,,later,2026-01-14\n\
         1,{},,9,0,1,5,,final,2026-02-30\n\
         1,{},1,9,0,1,5,,final,2026-01-14\n\
         1,,999,9,0,1,5,,final,2026-01-14\n\
         1,,DE26-0001-Q1,9,0,1,5,,final,2026-01-14\n\
         1,,,9,0,1,5,,final,2026-01-14\n",
        cells[0],
        cells[1],
        cells[2],
        cells[3],
        cells[4],
        cells[6],
        cells[7],
        cells[8],
        cells[9],
        cells[10],
        cells[0],
    );
    let table = read_table(text.as_bytes()).unwrap();
    let columns = match_count_columns(&table);
    let (found, problems) = count_drafts(&table, &columns, project, TEST);
    assert_eq!(found.iter().map(|(line, _)| *line).collect::<Vec<_>>(), [2]);
    let problems: Vec<String> = problems.iter().map(RowProblem::to_string).collect();
    for (begin, part) in [
        ("line 3: ", "12 kernels grew in tray 1, cell"),
        ("line 4: ", "the counts add up to 9, but 10 kernels were laid"),
        (
            "line 5, column 'cell': ",
            "tray 1 has no cell Z9. It has 4 rows and 8 columns",
        ),
        ("line 6, column 'tray': ", "this test has no tray '2'"),
        ("line 7, column 'ear': ", "may be one cell off"),
        (
            "line 8: ",
            "is a landmark, left empty on purpose, so there is nothing to count",
        ),
        ("line 9, column 'strong': ", "below zero"),
        ("line 10, column 'vigor': ", "'12' is not a vigor grade"),
        ("line 11, column 'mould': ", "'perhaps'"),
        ("line 12, column 'pass': ", "'later' is not a pass"),
        ("line 13, column 'date': ", "2026-02-30"),
        ("line 14: ", "same pass as line 2"),
        ("line 15, column 'ear': ", "there is no ear 999"),
        ("line 16, column 'ear': ", "not an ear code"),
        ("line 17: ", "names no cell"),
    ] {
        let fits = |problem: &&String| problem.starts_with(begin) && problem.contains(part);
        assert_eq!(
            problems.iter().filter(fits).count(),
            1,
            "{begin}{part} in {problems:#?}"
        );
    }
    assert_eq!(problems.len(), 15, "{problems:#?}");

    // A cell that has another count already: refused, skipped, or corrected, as the caller chooses.
    document.run(&record_command(&found), &stamp()).unwrap();
    let table = read_table(format!("tray,cell,strong,dead\n1,{},8,2\n", cells[0]).as_bytes()).unwrap();
    let mut columns = match_count_columns(&table);
    let (found, problems) = count_drafts(&table, &columns, document.project(), TEST);
    assert_eq!((found.len(), problems.len()), (0, 1));
    columns.existing = Existing::Skip;
    assert_eq!(
        count_drafts(&table, &columns, document.project(), TEST),
        (vec![], vec![])
    );
    columns.existing = Existing::Update;
    let (found, _) = count_drafts(&table, &columns, document.project(), TEST);
    document.run(&record_command(&found), &stamp()).unwrap();
    assert_eq!(document.project().final_tally(EarId(1)).unwrap().strong, 8);
    assert_eq!(document.project().validate(), []);
}

#[test]
fn a_second_scorer_lengths_and_withdrawals_are_taken_from_a_table() {
    let mut document = with_tray();
    let cells: Vec<String> = (1..=6)
        .map(|number| cell_of(document.project(), number))
        .collect();
    let read = |document: &Document, text: &str, existing: Existing| {
        let table = read_table(text.as_bytes()).unwrap();
        let mut columns = match_count_columns(&table);
        assert_eq!(columns.unmatched(&table), Vec::<&str>::new());
        columns.existing = existing;
        count_drafts(&table, &columns, document.project(), TEST)
    };
    let text = format!(
        "cell;strong;dead;second;root mm;shoot_mm;void;scorer;note\n\
         {0};8;2;;41,5;18;;I.T.;\n\
         {0};7;3;yes;;;;J.;\n\
         {1};10;;no;40 mm;;;I.T.;\n",
        cells[0], cells[1]
    );
    let (found, problems) = read(&document, &text, Existing::Refuse);
    assert_eq!((found.len(), problems), (3, vec![]));
    document.run(&record_command(&found), &stamp()).unwrap();
    let cell =
        |document: &Document, number| document.project().cells_of_ear(EarId(number)).next().unwrap().id;
    let first = document
        .project()
        .count_in_force(cell(&document, 1), Pass::Final)
        .unwrap();
    assert_eq!(
        (first.root_mm, first.shoot_mm, first.tally.strong),
        (Some(41.5), Some(18.0), 8)
    );
    let second = document
        .project()
        .standing_count(cell(&document, 1), Pass::Final, true)
        .unwrap();
    assert_eq!((second.tally.strong, second.by.as_str()), (7, "J."));

    // A count is withdrawn only on purpose, and keeps its reason.
    let text = format!("cell;strong;void;note\n{};;yes;tipped over\n", cells[1]);
    let (_, problems) = read(&document, &text, Existing::Refuse);
    assert!(
        problems[0]
            .to_string()
            .contains("already has another final count"),
        "{problems:?}"
    );
    let (found, problems) = read(&document, &text, Existing::Update);
    assert_eq!(problems, []);
    document.run(&record_command(&found), &stamp()).unwrap();
    let project = document.project();
    assert!(project.count_in_force(cell(&document, 2), Pass::Final).is_none());
    assert_eq!(
        project.counts_of(cell(&document, 2)).last().unwrap().note,
        "tipped over"
    );
    assert_eq!(project.validate(), []);

    let text = format!(
        "cell;strong;dead;void;root;second\n\
         {};8;2;yes;;\n\
         {};;;yes;;\n\
         {};8;2;;2000;\n\
         {};8;2;;;perhaps\n",
        cells[2], cells[3], cells[4], cells[5]
    );
    let (found, problems) = read(&document, &text, Existing::Update);
    assert_eq!(found, []);
    let problems: Vec<String> = problems.iter().map(RowProblem::to_string).collect();
    for (begin, part) in [
        ("line 2, column 'void': ", "withdraws a count and has kernels too"),
        ("line 3: ", "has no final count that could be withdrawn"),
        ("line 4, column 'root': ", "'2000' is no length of a seedling"),
        (
            "line 5, column 'second': ",
            "'perhaps' does not say whether a second scorer counted",
        ),
    ] {
        let fits = |problem: &&String| problem.starts_with(begin) && problem.contains(part);
        assert_eq!(
            problems.iter().filter(fits).count(),
            1,
            "{begin}{part} in {problems:#?}"
        );
    }
}

#[test]
fn a_file_of_counts_without_cells_or_counts_is_a_problem_of_its_header() {
    let document = with_tray();
    for text in ["tray,strong\n1,9\n", "tray,cell\n1,A1\n", "x\n1\n"] {
        let table = read_table(text.as_bytes()).unwrap();
        let (found, problems) = count_drafts(&table, &match_count_columns(&table), document.project(), TEST);
        assert_eq!((found.len(), problems.len(), problems[0].line), (0, 1, 1));
    }
}

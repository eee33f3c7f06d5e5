//! What the seasons brought, of the demo that was made to show it.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use jiff::civil::date;
use std::sync::Arc;
use wintercrib::demo;
use wintercrib::insight::{Course, Followed, Insight, Response};
use wintercrib::model::{
    Command, Cutoffs, Document, EarDraft, EarId, Existing, Index, IndexTrait, Limits, ListDraft, Pass,
    RowSource, SeasonId, Seen, Stamp, Tally, Test, TestDesign, TraitId,
};
use wintercrib::stats::effective_number;

fn corvane() -> Document {
    Document::new(demo::make("corvane-flint").unwrap())
}

fn response(document: &Document) -> Arc<Response> {
    Insight::default().response(document)
}

fn named<'a>(response: &'a Response, name: &str) -> &'a Course {
    let mut traits = response.traits.iter();
    traits.find(|one| one.name == name).unwrap()
}

#[test]
fn the_demo_says_much_as_counted_and_little_beside_the_check() {
    let response = response(&corvane());
    let years: Vec<i16> = response.seasons.iter().map(|(_, year)| *year).collect();
    assert_eq!(years, [2023, 2024, 2025]);
    let course = &response.germination;
    let counted: Vec<f64> = course.means.iter().map(|mean| mean.unwrap().mean.value).collect();
    let beside: Vec<f64> = (0..3).map(|at| course.adjusted(at).unwrap().value).collect();
    for (found, told) in counted.iter().zip([66.0, 74.0, 80.0]) {
        assert!((found - told).abs() < 1.0, "{counted:?}");
    }
    for (found, told) in beside.iter().zip([66.0, 69.0, 71.0]) {
        assert!((found - told).abs() < 1.0, "{beside:?}");
    }
    let raw = course.raw_change(0, 2).unwrap().value;
    let change = course.change(0, 2).unwrap();
    assert!((raw - 14.0).abs() < 2.0, "{raw}");
    assert!((change.value - 5.0).abs() < 2.0, "{change:?}");
    let said = response.sentences().join("\n");
    assert!(said.contains("from 2023 to 2025 +14."), "{said}");
    assert!(
        said.contains("in the trays of 2023, 2024 and 2025: +5."),
        "{said}"
    );
    // Twelve check cells of ten kernels tell no more than this, and the program says so.
    assert!(
        change.may_be_zero() && said.contains("It may be nothing at all."),
        "{said}"
    );
    assert!(said.contains("are no gain of the population"), "{said}");
    assert!(
        said.contains("it is known to within 14 points, with 4 times as many check cells"),
        "{said}"
    );
}

#[test]
fn the_demo_realised_little_of_its_selection() {
    let response = response(&corvane());
    for cycle in &response.cycles {
        let differential = cycle.differential.as_ref().unwrap();
        assert!((22.0..27.0).contains(&differential.points), "{differential:?}");
        let realised = cycle.realised.as_ref().unwrap();
        let by_hand = cycle.response.unwrap().value / differential.points;
        assert!((realised.value - by_hand).abs() < 1e-12);
    }
    let all = response.cumulated.as_ref().unwrap();
    assert!((0.05..0.16).contains(&all.realised.value), "{all:?}");
    let said = response.realised_sentences();
    assert_eq!(said.len(), 3, "{said:?}");
    assert!(said[0].contains("48 scored ears of list 1 of 2023"), "{said:?}");
    assert!(said[2].starts_with("Over 2023, 2024 and 2025: +"), "{said:?}");
    assert!(said[2].contains("Its interval covers zero"), "{said:?}");
    let assumptions = response.assumptions().join("\n");
    assert!(
        assumptions.contains("of 1 row, did not grow from the list of 2024"),
        "{assumptions}"
    );
}

#[test]
fn the_demo_came_earlier_without_being_asked() {
    let response = response(&corvane());
    let silk: Vec<f64> = named(&response, "Silk after planting")
        .means
        .iter()
        .map(|mean| mean.unwrap().mean.value)
        .collect();
    for (found, told) in silk.iter().zip([68.0, 67.1, 66.4]) {
        assert!((found - told).abs() < 0.3, "{silk:?}");
    }
    for (name, told, near) in [
        ("Ear height", [74.0, 72.0, 70.0], 1.0),
        ("Broken stalks in its row", [6.0, 8.0, 10.0], 0.7),
    ] {
        let course = named(&response, name);
        assert!(course.came_along(), "{name}");
        for (mean, told) in course.means.iter().zip(told) {
            assert!((mean.unwrap().mean.value - told).abs() < near, "{name} {mean:?}");
        }
    }
    assert!(!named(&response, "100-kernel weight").came_along());
    assert!(named(&response, "Maturity").is_accidental_earliness());
    // The summers were about as warm as each other; what remains is that the ears need less heat.
    let heat = named(&response, "Heat units");
    assert_eq!(heat.ends(), Some((0, 2)));
    assert!(heat.is_accidental_earliness(), "{heat:?}");
    let said = response.drift_sentences();
    assert!(
        said[0].starts_with("Accidental earliness: maturity moved -"),
        "{said:?}"
    );
    let of_rows = named(&response, "Half silk, rows of the field");
    assert_eq!(of_rows.ends(), Some((1, 2)));
    // The check rows are as they were, so beside them the rows came earlier too.
    assert!(of_rows.change(1, 2).unwrap().value < -0.2, "{of_rows:?}");
}

#[test]
fn the_demo_planted_unequal_packets_and_one_row_takes_over() {
    let document = corvane();
    let effective: Vec<f64> = document
        .project()
        .lists
        .iter()
        .map(|list| {
            let kernels: Vec<f64> = list.entries.iter().map(|one| f64::from(one.plant)).collect();
            effective_number(&kernels).unwrap()
        })
        .collect();
    for (found, told) in effective.iter().zip([48.0, 31.0, 45.0]) {
        assert!((found - told).abs() < 1.5, "{effective:?}");
    }
    let pedigree = Insight::default().pedigree(&document);
    let last = pedigree.seasons.last().unwrap();
    let over: Vec<&str> = last
        .figures
        .over_represented()
        .map(|one| one.name.as_str())
        .collect();
    assert_eq!(over.first(), Some(&"row 7 of 2023"), "{over:?}");
    let lines = Insight::default().lines_of_mothers(&document);
    let said = lines.sentences();
    assert!(
        said.iter()
            .any(|one| one.contains("begins with row 7 of 2023: 8 of 41 rows")),
        "{said:?}"
    );
}

#[test]
fn the_fields_of_the_demo_go_with_the_trays_as_told() {
    let document = corvane();
    let insight = Insight::default();
    let found: Vec<(f64, usize)> = document
        .project()
        .plans
        .iter()
        .map(|plan| {
            let against = insight.field_against_tray(&document, plan.id);
            let correlation = against.correlation.unwrap();
            (correlation.r, correlation.pairs)
        })
        .collect();
    assert_eq!(found.len(), 2);
    for ((r, pairs), (told, ears)) in found.into_iter().zip([(0.35, 48), (0.10, 40)]) {
        assert!((r - told).abs() < 0.05, "{r}");
        assert_eq!(pairs, ears);
    }
}

/// Opens the first season and gives a command about it.
fn in_the_first_season(command: impl Fn(&Document) -> Command) -> Document {
    let mut document = corvane();
    let stamp = Stamp {
        at: date(2026, 6, 1).at(8, 0, 0, 0),
        by: String::new(),
    };
    let open = Command::OpenSeason {
        season: SeasonId(1),
        reason: "a slip".to_owned(),
    };
    document.run(&open, &stamp).unwrap();
    document.run(&command(&document), &stamp).unwrap();
    document
}

/// A revision of the first list with other cutoffs.
fn revised(document: &Document, edit: impl Fn(&mut Cutoffs)) -> Command {
    let list = document.project().list_in_force(SeasonId(1)).unwrap();
    let mut cutoffs = list.cutoffs.clone();
    edit(&mut cutoffs);
    Command::Freeze(ListDraft {
        season: SeasonId(1),
        by: "Grower A".to_owned(),
        reason: "another cutoff".to_owned(),
        cutoffs,
        entries: list.entries.clone(),
        reserves: Vec::new(),
    })
}

#[test]
fn what_a_choice_asked_for_is_no_accident() {
    let mut index = Index::default();
    index.weigh(IndexTrait::Maturity, Some(-1.0));
    let by_days =
        in_the_first_season(|document| revised(document, |cutoffs| cutoffs.maturity_days = Some(110.0)));
    let by_height = in_the_first_season(|document| {
        revised(document, |cutoffs| {
            let limits = Limits {
                most: Some(90.0),
                ..Limits::default()
            };
            cutoffs.traits.insert(TraitId(2), limits);
        })
    });
    let by_index = in_the_first_season(|_| Command::SetIndex {
        season: SeasonId(1),
        index: index.clone(),
    });
    for (document, name, what) in [
        (by_days, "Maturity", Followed::Maturity),
        (by_height, "Ear height", Followed::Trait(TraitId(2))),
        (by_index, "Maturity", Followed::Maturity),
    ] {
        let response = response(&document);
        let course = named(&response, name);
        assert_eq!(course.what, what);
        assert!(course.is_asked() && !course.came_along(), "{name}");
        assert!(response.came_along().all(|one| one.name != name));
    }
}

/// The demo of any size with a test more in its second season.
struct Sized {
    document: Document,
}

impl Sized {
    fn new() -> Self {
        Self {
            document: Document::new(demo::sized(36, 3, 11).unwrap()),
        }
    }

    fn run(&mut self, command: &Command) {
        let stamp = Stamp {
            at: date(2026, 6, 1).at(8, 0, 0, 0),
            by: String::new(),
        };
        self.document.run(command, &stamp).unwrap();
    }

    fn test_of(&self, season: u32) -> Test {
        let mut tests = self.document.project().tests_of(SeasonId(season));
        tests.next().unwrap().clone()
    }

    fn rename_lot(&mut self, season: u32, lot: &str) {
        let test = self.test_of(season);
        self.run(&Command::EditTest {
            test: test.id,
            name: test.name,
            recipe: test.recipe,
            check_lot: lot.to_owned(),
        });
    }

    /// Another test of the second season, of which of each cell so many kernels germinated.
    fn test_again(&mut self, lot: &str, ears: Option<Vec<EarId>>, germinated: u16) {
        let first = self.test_of(2);
        self.run(&Command::DesignTest(TestDesign {
            season: SeasonId(2),
            replaces: None,
            name: "Again".to_owned(),
            plan: first.plan.clone(),
            recipe: first.recipe.clone(),
            check_lot: lot.to_owned(),
            seed: 5,
            ears,
        }));
        let test = self
            .document
            .project()
            .tests_of(SeasonId(2))
            .next_back()
            .unwrap()
            .id;
        self.run(&Command::LayTest {
            test,
            trays: Vec::new(),
            on: date(2026, 2, 20),
        });
        let project = self.document.project();
        let cells = project
            .cells_of_test(test)
            .filter(|cell| cell.content.is_counted());
        let counts = cells
            .map(|cell| {
                let tally = Tally {
                    strong: germinated,
                    dead: 10 - germinated,
                    ..Tally::default()
                };
                Seen::new(cell.id, Pass::Final, tally)
            })
            .collect();
        self.run(&Command::RecordCounts {
            counts,
            on: Some(date(2026, 3, 4)),
            by: String::new(),
        });
    }
}

#[test]
fn a_check_that_lay_beside_all_ears_links_on_and_a_gap_breaks() {
    let mut sized = Sized::new();
    sized.rename_lot(3, "another lot");
    let before = response(&sized.document);
    assert!(before.germination.change(0, 1).is_some());
    assert_eq!(before.germination.change(1, 2), None);
    assert_eq!(before.germination.change(0, 2), None);
    let said = before.sentences().join("\n");
    assert!(said.contains("No common check links 2024 with 2025"), "{said}");
    assert_eq!(before.cumulated, None);
    // All ears of the second season beside the other lot too: now there is a chain.
    sized.test_again("another lot", None, 7);
    let linked = response(&sized.document);
    let course = &linked.germination;
    let [one, two, all] = [(0, 1), (1, 2), (0, 2)].map(|(from, to)| course.change(from, to).unwrap());
    assert!((one.value + two.value - all.value).abs() < 1e-9);
    assert!(all.variance > one.variance);
    assert_eq!(course.chains.len(), 1);
    // The mean of the season is that of the first test.
    let mean = |response: &Response| response.germination.means[1].unwrap().mean.value;
    assert!((mean(&linked) - mean(&before)).abs() < 1e-9);
    assert!(!linked.sentences().join("\n").contains("No common check"));
}

#[test]
fn a_retest_of_some_neither_moves_the_mean_nor_speaks_for_the_season() {
    let mut sized = Sized::new();
    let before = response(&sized.document);
    sized.rename_lot(3, "another lot");
    let some: Vec<EarId> = sized
        .document
        .project()
        .ears_of(SeasonId(2))
        .take(9)
        .map(|ear| ear.id)
        .collect();
    sized.test_again("another lot", Some(some), 1);
    let after = response(&sized.document);
    let mean = |response: &Response| response.germination.means[1].unwrap().mean.value;
    assert!((mean(&after) - mean(&before)).abs() < 1e-9);
    assert_eq!(after.germination.change(1, 2), None);
    let said = after.assumptions().join("\n");
    assert!(
        said.contains(
            "2024: another lot lay in trays with 9 of 36 scored ears, so it does not speak for the season."
        ),
        "{said}"
    );
}

#[test]
fn a_check_without_a_name_is_common_to_nothing() {
    let mut sized = Sized::new();
    for season in 1..=3 {
        sized.rename_lot(season, " ");
    }
    let response = response(&sized.document);
    assert!(response.germination.chains.is_empty() && response.lots.is_empty());
    assert!(response.cycles.iter().all(|cycle| cycle.response.is_none()));
    let why = response.cycles[0].realised.clone().unwrap_err();
    assert_eq!(
        why,
        "No common check links 2023 and 2024, so the response is not known."
    );
    assert!(
        response
            .lines()
            .iter()
            .all(|line| line.beside == "no common check")
    );
}

/// The ears of check rows are no part of the population; beside them a trait loses what the seasons did.
#[test]
fn ears_of_check_rows_stand_beside_the_population() {
    let mut sized = Sized::new();
    let before = response(&sized.document);
    for (season, shift) in [(1, 0.0), (3, 2.0)] {
        sized.run(&Command::AddRow {
            season: SeasonId(season),
            label: "check".to_owned(),
            source: RowSource::CheckLot("DEMO check lot".to_owned()),
        });
        let drafts = [6.0, 7.0, 8.0].map(|length| EarDraft {
            row: Some("check".to_owned()),
            values: [(TraitId(1), length + shift)].into(),
            ..EarDraft::default()
        });
        sized.run(&Command::AddEars {
            season: SeasonId(season),
            drafts: drafts.into(),
            existing: Existing::Refuse,
        });
    }
    let after = response(&sized.document);
    let (old, new) = (named(&before, "Ear length"), named(&after, "Ear length"));
    assert_eq!(old.means, new.means);
    let (raw, beside) = (new.raw_change(0, 2).unwrap(), new.change(0, 2).unwrap());
    assert!(
        (raw.value - 2.0 - beside.value).abs() < 1e-9,
        "{raw:?} {beside:?}"
    );
    assert_eq!(old.change(0, 2), None);
}

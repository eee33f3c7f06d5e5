//! What the seasons brought, of the demo that was made to show it.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use jiff::civil::date;
use std::sync::Arc;
use wintercrib::demo;
use wintercrib::insight::{Course, Followed, Insight, Response};
use wintercrib::model::{
    Command, Cutoffs, Document, Index, IndexTrait, Limits, ListDraft, SeasonId, Stamp, TraitId,
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

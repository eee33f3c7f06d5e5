//! A look ahead from a season as it stands: what it begins with, and what it says.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use wintercrib::demo;
use wintercrib::genetics::ahead::{Plan, Pollen, outlook, replicates};
use wintercrib::insight::{Ahead, Basis, Insight, outcome_sentences, plan_sentence};
use wintercrib::model::{About, Command, Document, Project, Season, ShareRange, Stamp};
use wintercrib::stats::mixed::Reference;

fn ahead_of(document: &Document, insight: &Insight) -> Ahead {
    let season = document.project().latest_season().unwrap().id;
    Ahead::clone(&insight.ahead(document, season, &insight.cutoffs(document, season)))
}

fn stamp() -> Stamp {
    Stamp {
        at: jiff::civil::date(2026, 1, 1).at(8, 0, 0, 0),
        by: String::new(),
    }
}

fn thaw() -> (Document, Insight) {
    (
        Document::new(demo::make("essel-thaw").unwrap()),
        Insight::default(),
    )
}

#[test]
fn it_begins_with_what_the_season_shows() {
    let (document, insight) = thaw();
    let ahead = ahead_of(&document, &insight);
    let start = ahead.start.unwrap();
    let season = ahead.season;
    let cutoffs = insight.cutoffs(&document, season);
    let estimates = insight.estimates(&document, season);
    let Basis::Main(model) = &estimates.basis else {
        panic!("the demo is fitted by the main model");
    };
    let same = |a: f64, b: f64| assert!((a - b).abs() < 1e-12, "{a} {b}");
    same(
        start.population.mean_logit,
        model.logit_at(Reference::AverageTray).value,
    );
    same(start.population.deviation_logits, model.spread().unwrap().value);
    // What is inherited times the differential is the response that the price of the choice foresees.
    let price = insight.price(&document, season, &cutoffs);
    let (response, differential) = (price.response.unwrap(), price.likely.difference().unwrap());
    same(start.population.inherited.low * differential, response.low);
    same(start.population.inherited.high * differential, response.high);
    let plan = start.plan;
    assert_eq!(plan.ears as usize, estimates.scored());
    assert_eq!(plan.kernels, 10);
    let choice = insight.choice(&document, season, &cutoffs);
    let kept_scored = choice.kept().filter(|one| one.estimate.is_some()).count();
    assert_eq!(plan.kept as usize, kept_scored);
    assert_eq!(plan.cap, cutoffs.cap_per_mother.map(u32::from));
    same(
        plan.cutoff.unwrap().cutoff.percent(),
        cutoffs.germination_percent.unwrap(),
    );
    assert_eq!(start.population.rows.len(), 22);
    assert!(
        plan.passing > 0.5 && plan.passing < 1.0,
        "the demo has a maturity cutoff"
    );
    plan.check().unwrap();
}

#[test]
fn the_outcome_and_what_it_takes_for_granted_are_said() {
    let (document, insight) = thaw();
    let start = ahead_of(&document, &insight).start.unwrap();
    let plan = Plan {
        seasons: 4,
        pollen: Pollen::BulkOfKept,
        foreign: 0.25,
        ..start.plan
    };
    let found = outlook(&replicates(&start.population, &plan, 3, 0..12).unwrap()).unwrap();
    let said = outcome_sentences(&plan, &found);
    let gain = found.gain_points(4).unwrap();
    assert!(
        said[0].starts_with("After 4 seasons the ears are likely"),
        "{}",
        said[0]
    );
    assert!(
        said[0].contains(&format!(
            "now: {gain:+.1} points. In nine of ten of 12 replicates"
        )),
        "{}",
        said[0]
    );
    // The population's own mean at the start: it is known, so it hardly differs between replicates.
    let now = found.seasons[0].germination_percent;
    let season = document.project().latest_season().unwrap().id;
    let mean = 100.0 * insight.estimates(&document, season).population.mean;
    assert!((now.mean - mean).abs() < 1.5, "{} {mean}", now.mean);
    assert!(now.high - now.low < 8.0, "{} {}", now.low, now.high);
    let taken = start.assumptions(&plan).join(" ");
    for part in [
        "never a promise",
        "detasselled",
        "25 % of it comes from unrelated plants",
        "pass the other limits",
        "lab gain is not field gain",
    ] {
        assert!(taken.contains(part), "{part}: {taken}");
    }
    let sentence = plan_sentence(&plan);
    assert!(sentence.contains("tested with 10 kernels each"), "{sentence}");
}

/// The part of the variance of ears that is inherited is `h^2 / (4 t)`.
#[test]
fn a_heritability_that_the_grower_narrowed_is_reckoned_with() {
    let (mut document, insight) = thaw();
    let before = ahead_of(&document, &insight).start.unwrap();
    assert!(!before.is_narrowed);
    let season = document.project().latest_season().unwrap().clone();
    let command = Command::EditSeason(Season {
        heritability: Some(ShareRange {
            least: 0.2,
            most: 0.3,
        }),
        ..season
    });
    document.run(&command, &stamp()).unwrap();
    let after = ahead_of(&document, &insight).start.unwrap();
    assert!(after.is_narrowed);
    for (found, said) in [
        (after.population.inherited.low, 0.2),
        (after.population.inherited.high, 0.3),
    ] {
        let expected = said / (4.0 * after.likeness.correlation);
        assert!((found - expected).abs() < 1e-12, "{found} {expected}");
    }
    assert!(
        after
            .assumptions(&after.plan)
            .join(" ")
            .contains("from 20 % to 30 %, narrowed by you")
    );
}

#[test]
fn where_nothing_can_be_looked_ahead_from_it_says_why() {
    let mut document = Document::new(Project::new(About::new("Empty", "EM")));
    let command = Command::AddSeason {
        year: 2025,
        planted: None,
    };
    document.run(&command, &stamp()).unwrap();
    let why = ahead_of(&document, &Insight::default()).start.unwrap_err();
    assert!(why.contains("Score the test of this season first."), "{why}");
}

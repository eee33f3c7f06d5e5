//! What a test can tell before it is made, and which ears are worth testing again after it.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use jiff::civil::date;
use wintercrib::insight::{
    Before, BeforeQuery, DesignEars, Hindrance, Insight, PlanFigures, Retest, next_seed,
};
use wintercrib::model::{
    About, CellContent, Command, Cutoffs, Document, EarDraft, EarId, Existing, OtherContainer, Pass, Project,
    Recipe, SeasonId, Seen, SeenWhileMoving, Stamp, Stand, Tally, TestDesign, TestId, TrayPlan,
};

const SEASON: SeasonId = SeasonId(1);

/// The germinated of the counted kernels of 24 invented ears; the reference values for them are computed with
/// scipy 1.17.1 (tests/reference/selection.json).
const COUNTS: [(u16, u16); 24] = [
    (9, 12),
    (11, 12),
    (5, 12),
    (12, 12),
    (7, 10),
    (10, 10),
    (3, 12),
    (17, 24),
    (12, 15),
    (6, 15),
    (13, 15),
    (28, 36),
    (2, 10),
    (9, 10),
    (11, 15),
    (0, 12),
    (8, 12),
    (10, 12),
    (13, 24),
    (14, 15),
    (7, 12),
    (24, 24),
    (6, 10),
    (8, 10),
];

fn run(document: &mut Document, command: &Command) {
    let stamp = Stamp {
        at: date(2026, 12, 1).at(10, 0, 0, 0),
        by: String::new(),
    };
    document.run(command, &stamp).unwrap();
}

fn harvest(ears: usize, kernels: Option<u32>) -> Document {
    let mut document = Document::new(Project::new(About::new("Low Field", "low-field")));
    let planted = None;
    run(&mut document, &Command::AddSeason { year: 2026, planted });
    let drafts = (0..ears)
        .map(|ear| EarDraft {
            row: Some((ear / 4 + 1).to_string()),
            kernels,
            ..EarDraft::default()
        })
        .collect();
    let existing = Existing::Refuse;
    run(
        &mut document,
        &Command::AddEars {
            season: SEASON,
            drafts,
            existing,
        },
    );
    document
}

fn design(name: &str, kernels: u16) -> TestDesign {
    TestDesign {
        season: SEASON,
        replaces: None,
        name: name.to_owned(),
        plan: TrayPlan {
            kernels,
            ..TrayPlan::default()
        },
        recipe: Recipe::default(),
        check_lot: "Bulk".to_owned(),
        seed: 7,
        ears: None,
    }
}

fn count(document: &mut Document, test: TestId, grown: impl Fn(u32) -> Option<u16>) {
    let project = document.project();
    let counts = project
        .trays_of(test)
        .flat_map(|tray| project.cells_of(tray.id))
        .filter_map(|cell| {
            let CellContent::Ear(ear) = cell.content else {
                return None;
            };
            let strong = grown(project.ears.get(ear)?.number)?;
            Some(Seen::new(
                cell.id,
                Pass::Final,
                Tally {
                    strong,
                    dead: project.sown(cell) - strong,
                    ..Tally::default()
                },
            ))
        })
        .collect();
    let (on, by) = (None, String::new());
    run(document, &Command::RecordCounts { counts, on, by });
}

/// The 24 ears, tested with 12 kernels but for the cells where another number was laid.
fn tested() -> Document {
    let mut document = harvest(24, Some(60));
    run(&mut document, &Command::DesignTest(design("Test 1", 12)));
    let project = document.project();
    let laid: Vec<_> = project
        .cells
        .iter()
        .filter_map(|cell| match cell.content {
            CellContent::Ear(ear) => {
                let number = project.ears.get(ear)?.number as usize;
                Some((cell.id, COUNTS[number - 1].1))
            }
            _ => None,
        })
        .filter(|(_, kernels)| *kernels != 12)
        .collect();
    for (cell, kernels) in laid {
        let kernels = Some(kernels);
        run(&mut document, &Command::SetLaid { cell, kernels });
    }
    count(&mut document, TestId(1), |number| {
        Some(COUNTS[number as usize - 1].0)
    });
    document
}

fn before(document: &Document, kernels: u16, tell: [f64; 2]) -> Before {
    let query = BeforeQuery {
        ears: DesignEars {
            season: SEASON,
            like: None,
            with_untested: false,
        },
        plan: TrayPlan {
            kernels,
            ..TrayPlan::default()
        },
        tell,
        beside: BeforeQuery::USUAL_PLANS.to_vec(),
    };
    Before::clone(&Insight::default().before(document, &query))
}

fn set_cutoff(document: &mut Document, germination_percent: Option<f64>) {
    let cutoffs = Cutoffs {
        germination_percent,
        ..Cutoffs::default()
    };
    let season = SEASON;
    run(
        document,
        &Command::SetCutoffs {
            season,
            cutoffs,
            seen: SeenWhileMoving::default(),
        },
    );
}

fn retest(document: &Document) -> Retest {
    let insight = Insight::default();
    let cutoffs = insight.cutoffs(document, SEASON);
    Retest::clone(&insight.retest(document, SEASON, &cutoffs))
}

fn numbers(list: &Retest) -> Vec<u32> {
    list.ears.iter().map(|ear| ear.number).collect()
}

#[test]
fn the_chances_are_those_of_the_table() {
    let mut document = harvest(240, Some(60));
    set_cutoff(&mut document, Some(80.0));
    let before = before(&document, 10, [70.0, 80.0]);
    // Binomial upper tails computed with scipy 1.17.1: 0.1672898 of 60 % and 0.3827828 of 70 % reach 8 of 10.
    let telling = before.plans[0].telling.as_ref().unwrap();
    assert_eq!(telling.least, 8);
    for (rate, chance) in [(60.0, 16.728_98), (70.0, 38.278_28), (90.0, 92.980_92)] {
        assert!((telling.passes(rate).unwrap() - chance).abs() < 1e-4, "{rate}");
        let on_curve = telling.curve[rate as usize];
        assert!((on_curve[0] - rate).abs() < 1e-12 && (on_curve[1] - chance).abs() < 1e-4);
    }
    assert_eq!(
        telling.sentences()[..2],
        [
            "An ear passes the cutoff of 80 % with 8 of 10 kernels, which is 80 %.",
            "By luck an ear of 70 % passes 38 of 100 times, one of 60 % passes 17 of 100 times, and one of 90 % fails 7 of 100 times.",
        ]
    );
    // Beta(6, 2), n = 10, cutoff 80 %: selected 0.5588, raw 0.8921, true 0.8289, below 0.3417 (scipy 1.17.1).
    assert_eq!(
        telling.sentences()[2],
        "About 56 of 100 ears pass. Their counts will average 89.2 %, but the truth 82.9 %: a count flatters the chosen by 6.3 points, and 34 of 100 of them are below the cutoff in truth."
    );
    assert!(
        before.spread.starts_with("No season tells yet"),
        "{}",
        before.spread
    );
    assert!(
        before
            .spread
            .contains("75 % on average with a standard deviation of 14 points")
    );
    // 70 against 80 %, wrong at most 1 time in 10 either way: 127 kernels, 96 germinated (scipy 1.17.1).
    assert_eq!(
        before.tell,
        "To tell 70 % from 80 % and be wrong about either at most 1 time in 10 takes 127 kernels of an ear, 96 of them germinated; this test has 10."
    );
}

#[test]
fn other_plans_are_set_beside_it() {
    let mut document = harvest(240, Some(60));
    let names = |before: &Before| -> Vec<String> { before.plans.iter().map(PlanFigures::name).collect() };
    let ten = before(&document, 10, [70.0, 85.0]);
    assert_eq!(names(&ten), ["10 once", "15 once", "10 twice"]);
    let twelve = before(&document, 12, [70.0, 85.0]);
    assert_eq!(names(&twelve), ["12 once", "10 once", "15 once", "10 twice"]);
    // 28 ears to a tray of 32 cells with 2 checks and 2 landmarks: 240 ears need 9 trays, twice 18.
    let [once, _, twice] = &ten.plans[..] else {
        panic!("three plans")
    };
    assert_eq!((once.trays, once.all_kernels, once.short), (Some(9), 2400, 0));
    assert_eq!((twice.trays, twice.all_kernels), (Some(18), 4800));
    assert_eq!((once.cells, twice.cells), (240, 480));
    assert!((once.hours - 4.8).abs() < 1e-9 && (twice.hours - 9.6).abs() < 1e-9);
    assert!((once.packet_percent.unwrap() - 100.0 / 6.0).abs() < 1e-9);
    assert_eq!(
        once.sentence(),
        "10 once: 2400 kernels, 9 trays, 4.8 h, 17 % of a packet, an ear of 60 % passes 38 of 100 times."
    );
    // 14 of 20 is easier to reach by luck than 11 of 15, but less so than 7 of 10 (scipy 1.17.1).
    let passes = |place: usize| ten.plans[place].telling.as_ref().unwrap().passes(60.0).unwrap();
    assert!((passes(1) - 21.727_77).abs() < 1e-4 && (passes(2) - 25.001_07).abs() < 1e-4);

    set_cutoff(&mut document, None);
    let without = before(&document, 10, [85.0, 70.0]);
    assert!(without.plans.iter().all(|plan| plan.telling.is_none()));
    assert!(without.tell.contains("the lower one first"));
}

#[test]
fn packets_that_are_short_or_not_counted_are_told() {
    let short = before(&harvest(24, Some(12)), 10, [70.0, 85.0]);
    assert_eq!((short.plans[0].short, short.plans[2].short), (0, 24));
    assert!(
        short.plans[2]
            .sentence()
            .contains("too many for the packets of 24 ears")
    );
    let uncounted = before(&harvest(24, None), 10, [70.0, 85.0]);
    assert_eq!(
        (uncounted.plans[0].packet_percent, uncounted.plans[0].short),
        (None, 0)
    );
    let none = before(&harvest(0, None), 10, [70.0, 85.0]);
    assert_eq!(none.plans[0].trays, None);
    // What a laid test took from its packets is no shortage of it.
    let mut document = harvest(24, Some(18));
    run(&mut document, &Command::DesignTest(design("Test 1", 10)));
    let (test, on) = (TestId(1), date(2026, 12, 1));
    run(
        &mut document,
        &Command::LayTest {
            test,
            trays: Vec::new(),
            on,
        },
    );
    let query = BeforeQuery {
        ears: DesignEars {
            season: SEASON,
            like: Some(test),
            with_untested: false,
        },
        plan: TrayPlan::default(),
        tell: [70.0, 85.0],
        beside: BeforeQuery::USUAL_PLANS.to_vec(),
    };
    let laid = Insight::default().before(&document, &query);
    assert_eq!(laid.plans[0].short, 0);
    assert!((laid.plans[0].packet_percent.unwrap() - 1000.0 / 18.0).abs() < 1e-9);
}

#[test]
fn the_spread_comes_from_the_last_season_that_tells_it() {
    let mut document = tested();
    let planted = None;
    run(&mut document, &Command::AddSeason { year: 2027, planted });
    let query = BeforeQuery {
        ears: DesignEars {
            season: SeasonId(2),
            like: None,
            with_untested: false,
        },
        plan: TrayPlan::default(),
        tell: [70.0, 85.0],
        beside: BeforeQuery::USUAL_PLANS.to_vec(),
    };
    let before = Insight::default().before(&document, &query);
    assert!(
        before.spread.contains("as the counts of season 2026 say"),
        "{}",
        before.spread
    );
}

#[test]
fn ears_are_tested_again_by_benefit_and_not_by_nearness_to_even_odds() {
    let document = tested();
    let list = retest(&document);
    assert_eq!((list.kernels, list.per_tray), (12, 28));
    assert!(list.waiting.is_empty());
    let benefit: Vec<f64> = list
        .ears
        .iter()
        .map(|ear| ear.change.benefit_per_kernel())
        .collect();
    assert!(
        benefit.is_sorted_by(|a, b| a >= b) && benefit[0] > 0.0,
        "{benefit:?}"
    );
    // The reference, with a beta distribution fitted to the same counts, retests these six first and in this order.
    assert_eq!(numbers(&list), [5, 17, 8, 15, 1, 23]);
    // The order is not that of nearness to even odds: an ear with many kernels moves less than one with few.
    let insight = Insight::default();
    let parted = (55..=80).any(|cutoff| {
        let cutoffs = Cutoffs {
            germination_percent: Some(f64::from(cutoff)),
            ..Cutoffs::default()
        };
        let list = insight.retest(&document, SEASON, &cutoffs);
        let nearness = list.ears.iter().map(|ear| (ear.probability - 0.5).abs());
        !nearness.is_sorted()
    });
    assert!(parted);
    let first = &list.ears[0];
    assert!(
        first.sentence().starts_with("7 of 10 germinated, ")
            && first
                .sentence()
                .contains("12 more kernels lower the chance of deciding wrongly from "),
        "{}",
        first.sentence()
    );
    assert!(
        list.gain(list.first(3))
            .starts_with("3 ears with 12 more kernels each: about ")
    );
    assert_eq!(list.gain(list.first(0)), "No ear is chosen for the retest.");
}

#[test]
fn a_retest_tray_is_one_of_the_containers_that_are_used_first() {
    let document = tested();
    let other = OtherContainer {
        name: "old bread tray".to_owned(),
        width_mm: 4.0 * 50.8,
        height_mm: 2.0 * 76.2,
        margin_mm: 0.0,
        trays: 1,
    };
    let plan = TrayPlan {
        others: vec![other],
        kernels: 12,
        ..TrayPlan::default()
    };
    for replicates in [1, 2] {
        let plan = TrayPlan {
            replicates,
            ..plan.clone()
        };
        let mut document = document.clone();
        let last = TestDesign {
            plan,
            ..design("Test 2", 12)
        };
        run(&mut document, &Command::DesignTest(last));
        let list = retest(&document);
        // Two rows of four cells, less two checks and two landmarks.
        assert_eq!(list.per_tray, 4, "{replicates} replicates");
        let trays = |ears: usize| {
            let ears: Vec<EarId> = list.ears.iter().take(ears).map(|ear| ear.ear).collect();
            let mut document = document.clone();
            let made = list.design(document.project(), &ears);
            run(&mut document, &Command::DesignTest(made));
            let made = document.project().tests.iter().last().unwrap().id;
            document.project().trays_of(made).count()
        };
        assert_eq!(trays(list.per_tray), usize::from(replicates));
        assert!(trays(list.per_tray + 1) > usize::from(replicates));
    }
}

#[test]
fn a_retest_is_designed_like_the_last_test_and_its_counts_pool() {
    let mut document = tested();
    let list = retest(&document);
    let ears: Vec<EarId> = list.first(3).map(|ear| ear.ear).collect();
    let made = list.design(document.project(), &ears);
    let last = document.project().tests.get(TestId(1)).unwrap();
    assert_eq!(
        (&made.plan, &made.recipe, &made.check_lot),
        (&last.plan, &last.recipe, &last.check_lot)
    );
    assert_eq!((made.name.as_str(), made.seed), ("Retest", next_seed(7)));
    assert_ne!(made.seed, 7);
    let mut sorted = ears.clone();
    sorted.sort();
    assert_eq!(made.ears, Some(sorted));
    run(&mut document, &Command::DesignTest(made));

    // While they lie there uncounted, they are not proposed again.
    let again = retest(&document);
    assert_eq!(numbers(&again), numbers(&list));
    for ear in &again.ears {
        let lies = matches!(&ear.hindrance, Some(Hindrance::Lies { name, .. }) if name == "Retest");
        assert_eq!(lies, ears.contains(&ear.ear), "ear {}", ear.number);
    }
    assert!(again.first(usize::MAX).all(|ear| !ears.contains(&ear.ear)));
    assert_eq!(again.design(document.project(), &ears).name, "Retest 2");

    // Counted, both tests stand on the card, and the estimate is of all kernels together.
    let project = document.project();
    let test = project.tests.iter().last().unwrap().id;
    let ear = ears[0];
    let (first, number) = (list.ears[0].counts, list.ears[0].number);
    count(&mut document, test, |_| Some(11));
    let insight = Insight::default();
    let card = insight.ear_card(&document, ear);
    let card = Option::as_ref(&card).unwrap();
    let tests: Vec<&str> = card.cells.iter().map(|cell| cell.test_name.as_str()).collect();
    assert_eq!(tests, ["Test 1", "Retest"], "ear {number}");
    let counts: Vec<(u32, u32)> = card
        .cells
        .iter()
        .flat_map(|cell| cell.counts.iter().map(|count| (count.germinated, count.counted)))
        .collect();
    assert_eq!(counts, [(first.k(), first.n()), (11, 12)]);
    let pooled = card.estimate.unwrap().counts;
    assert_eq!((pooled.k(), pooled.n()), (first.k() + 11, first.n() + 12));
    assert_eq!(card.stand, Stand::Plant, "18 of 22 is clearly above 70 %");
}

#[test]
fn ears_that_kernels_cannot_help_are_set_apart() {
    let mut document = tested();
    let cutoffs = Cutoffs {
        maturity_days: Some(90.0),
        ..Cutoffs::default()
    };
    let season = SEASON;
    run(
        &mut document,
        &Command::SetCutoffs {
            season,
            cutoffs,
            seen: SeenWhileMoving::default(),
        },
    );
    // No ear has maturity days: those that would be planted wait for them, and not for kernels.
    let list = retest(&document);
    assert!(!list.waiting.is_empty() && !list.ears.is_empty());
    assert!(list.ears.iter().all(|ear| !list.waiting.contains(&ear.ear)));
    set_cutoff(&mut document, None);
    assert!(retest(&document).ears.is_empty());
    assert!(retest(&harvest(24, None)).ears.is_empty());

    // An ear whose packet is nearly empty is not proposed.
    let mut document = harvest(24, Some(15));
    run(&mut document, &Command::DesignTest(design("Test 1", 12)));
    let (test, on) = (TestId(1), date(2026, 12, 1));
    run(
        &mut document,
        &Command::LayTest {
            test,
            trays: Vec::new(),
            on,
        },
    );
    count(&mut document, test, |number| Some((number % 13) as u16));
    let list = retest(&document);
    assert!(!list.ears.is_empty());
    assert!(
        list.ears
            .iter()
            .all(|ear| ear.hindrance == Some(Hindrance::Short))
    );
    assert!(
        list.ears[0]
            .sentence()
            .ends_with("Its packets hold 3 kernels only.")
    );
    assert_eq!(list.first(usize::MAX).count(), 0);
}

#[test]
fn a_design_like_a_test_is_for_its_ears() {
    let mut document = tested();
    let list = retest(&document);
    let ears: Vec<EarId> = list.first(3).map(|ear| ear.ear).collect();
    let made = list.design(document.project(), &ears);
    run(&mut document, &Command::DesignTest(made));
    let drafts = vec![EarDraft::default(); 2];
    let (season, existing) = (SEASON, Existing::Refuse);
    run(
        &mut document,
        &Command::AddEars {
            season,
            drafts,
            existing,
        },
    );
    let test = document.project().tests.iter().last().unwrap().id;
    let count = |like, with_untested| {
        let ears = DesignEars {
            season,
            like,
            with_untested,
        };
        ears.of(document.project()).len()
    };
    assert_eq!(
        [
            count(None, false),
            count(Some(TestId(1)), false),
            count(Some(test), false),
            count(Some(test), true),
            count(Some(TestId(1)), true),
        ],
        [26, 24, 3, 5, 26]
    );
}

/// The views of ten thousand ears are computed in a part of the time that a window waits for; the times are printed.
#[test]
fn ten_thousand_ears_are_no_burden() {
    let mut document = harvest(10_000, Some(60));
    run(&mut document, &Command::DesignTest(design("Test 1", 10)));
    count(&mut document, TestId(1), |number| Some((number * 7 % 11) as u16));
    let insight = Insight::default();
    let cutoffs = insight.cutoffs(&document, SEASON);
    insight.choice(&document, SEASON, &cutoffs);
    let begin = std::time::Instant::now();
    let list = insight.retest(&document, SEASON, &cutoffs);
    let first = begin.elapsed();
    assert!(list.ears.len() > 900, "{}", list.ears.len());
    let moved = Cutoffs {
        germination_percent: Some(72.0),
        ..cutoffs
    };
    insight.choice(&document, SEASON, &moved);
    let begin = std::time::Instant::now();
    insight.retest(&document, SEASON, &moved);
    println!(
        "retest list of 10,000 ears: {first:?}, with a moved cutoff {:?}",
        begin.elapsed()
    );
    let query = BeforeQuery {
        ears: DesignEars {
            season: SEASON,
            like: Some(TestId(1)),
            with_untested: false,
        },
        plan: TrayPlan::default(),
        tell: [70.0, 71.0],
        beside: BeforeQuery::USUAL_PLANS.to_vec(),
    };
    let begin = std::time::Instant::now();
    let before = insight.before(&document, &query);
    println!("what a test of 10,000 ears can tell: {:?}", begin.elapsed());
    assert!(before.tell.contains("more than 1000 kernels"), "{}", before.tell);
    // Asked again, nothing is computed again.
    assert!(std::sync::Arc::ptr_eq(
        &before,
        &insight.before(&document, &query)
    ));
    assert!(std::sync::Arc::ptr_eq(
        &insight.retest(&document, SEASON, &moved),
        &insight.retest(&document, SEASON, &moved)
    ));
}

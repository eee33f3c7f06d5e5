//! What a choice costs and buys, of small projects with hand-worked and published figures, and while a cutoff moves.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use std::collections::BTreeMap;
use std::sync::Arc;

use jiff::civil::{date, datetime};
use wintercrib::demo;
use wintercrib::genetics::finite_intensity;
use wintercrib::insight::{Insight, Measured, Price, TraitShift};
use wintercrib::model::{
    About, Better, CellContent, Command, Cutoffs, Document, EarDraft, EarId, Existing, Pass, Project, Recipe,
    Season, SeasonId, Seen, ShareRange, Stamp, Tally, TestDesign, Trait, TraitId, TrayPlan, Word, WordKind,
};

const SEASON: SeasonId = SeasonId(1);

/// 24 invented ears: germinated and counted kernels, maturity days. The counts are those of the beta-binomial checks.
const EARS: [(u16, u16, u16); 24] = [
    (9, 12, 92),
    (11, 12, 97),
    (5, 12, 88),
    (12, 12, 101),
    (7, 10, 90),
    (10, 10, 104),
    (3, 12, 85),
    (17, 24, 93),
    (12, 15, 96),
    (6, 15, 89),
    (13, 15, 99),
    (28, 36, 95),
    (2, 10, 84),
    (9, 10, 94),
    (11, 15, 91),
    (0, 12, 83),
    (8, 12, 90),
    (10, 12, 100),
    (13, 24, 87),
    (14, 15, 98),
    (7, 12, 92),
    (24, 24, 103),
    (6, 10, 86),
    (8, 10, 93),
];

/// Its mother row, its length where that is known, its kernels and days as in [`EARS`].
type Ear<'a> = (&'a str, Option<f64>, (u16, u16, u16));

fn run(document: &mut Document, command: &Command) {
    let stamp = Stamp {
        at: datetime(2026, 11, 25, 12, 0, 0, 0),
        by: "A. Grower".to_owned(),
    };
    if let Err(problem) = document.run(command, &stamp) {
        panic!("{problem}: {command:?}");
    }
}

/// A season of these ears; those without kernels were not scored.
fn document(ears: &[Ear<'_>]) -> Document {
    let mut document = Document::new(Project::new(About::new("Trial plot", "trial")));
    run(
        &mut document,
        &Command::AddSeason {
            year: 2026,
            planted: Some(date(2026, 5, 12)),
        },
    );
    run(
        &mut document,
        &Command::AddTrait(Trait {
            id: TraitId(0),
            name: "Ear length".to_owned(),
            unit: "cm".to_owned(),
            least: None,
            most: None,
            better: Better::Higher,
            decimals: 1,
            anchors: BTreeMap::new(),
        }),
    );
    let length = document.project().traits.iter().next().unwrap().id;
    let drafts = ears.iter().map(|(row, value, (_, _, days))| EarDraft {
        row: (!row.is_empty()).then(|| (*row).to_owned()),
        maturity_days: Some(*days),
        kernels: Some(100),
        values: value.iter().map(|value| (length, *value)).collect(),
        ..EarDraft::default()
    });
    let drafts = drafts.collect();
    run(
        &mut document,
        &Command::AddEars {
            season: SEASON,
            drafts,
            existing: Existing::Refuse,
        },
    );
    if ears.iter().all(|(_, _, (_, n, _))| *n == 0) {
        return document;
    }
    run(
        &mut document,
        &Command::DesignTest(TestDesign {
            season: SEASON,
            replaces: None,
            name: "Cold".to_owned(),
            plan: TrayPlan {
                kernels: 36,
                ..TrayPlan::default()
            },
            recipe: Recipe::default(),
            check_lot: "Check".to_owned(),
            seed: 7,
            ears: None,
        }),
    );
    let project = document.project();
    let seen: Vec<Seen> = project
        .cells
        .iter()
        .filter_map(|cell| {
            let CellContent::Ear(ear) = cell.content else {
                return None;
            };
            let number = project.ears.get(ear)?.number as usize;
            let (k, n, _) = ears[number - 1].2;
            (n > 0).then(|| {
                Seen::new(
                    cell.id,
                    Pass::Final,
                    Tally {
                        strong: k,
                        dead: n - k,
                        missing: 36 - n,
                        ..Tally::default()
                    },
                )
            })
        })
        .collect();
    run(
        &mut document,
        &Command::RecordCounts {
            counts: seen,
            on: Some(date(2026, 11, 20)),
            by: "A. Grower".to_owned(),
        },
    );
    document
}

/// The 24 ears in rows 1 to 6; ear lengths are their maturity days less 70.
fn reference() -> Document {
    let rows = ["1", "2", "3", "4", "5", "6"];
    let ears: Vec<_> = EARS
        .iter()
        .enumerate()
        .map(|(at, ear)| (rows[at % 6], Some(f64::from(ear.2) - 70.0), *ear))
        .collect();
    document(&ears)
}

fn numbered(document: &Document, number: u32) -> EarId {
    document.project().ear_numbered(SEASON, number).unwrap().id
}

/// Keeps exactly these ears, by the grower's word.
fn keep(document: &mut Document, numbers: &[u32]) {
    let ears: Vec<EarId> = document.project().ears_of(SEASON).map(|ear| ear.id).collect();
    let kept: Vec<EarId> = numbers.iter().map(|number| numbered(document, *number)).collect();
    let (kept, others): (Vec<EarId>, Vec<EarId>) = ears.into_iter().partition(|ear| kept.contains(ear));
    for (ears, kind) in [(kept, WordKind::Always), (others, WordKind::Never)] {
        let word = Some(Word {
            kind,
            reason: "for the test".to_owned(),
        });
        if !ears.is_empty() {
            run(
                document,
                &Command::SetWord {
                    season: SEASON,
                    ears,
                    word,
                },
            );
        }
    }
}

fn price(document: &Document, cutoffs: &Cutoffs) -> Arc<Price> {
    Insight::default().price(document, SEASON, cutoffs)
}

fn of(price: &Price, what: Measured) -> &TraitShift {
    price.shifts.iter().find(|one| one.what == what).unwrap()
}

fn close(found: f64, expected: f64, most: f64) {
    assert!((found - expected).abs() <= most, "{found} is not {expected}");
}

#[test]
fn the_ten_best_of_24_ears() {
    let mut document = reference();
    keep(&mut document, &[2, 4, 6, 9, 11, 14, 18, 20, 22, 24]);
    let cutoffs = Cutoffs {
        germination_percent: Some(80.0),
        ..Cutoffs::default()
    };
    let price = price(&document, &cutoffs);
    assert_eq!((price.kept, price.kept_scored, price.scored), (10, 10, 24));
    // Mean counted rates of the kept and their differential, as in the reference values.
    close(price.observed.kept.unwrap().percent, 90.5, 1e-9);
    close(price.observed.difference().unwrap(), 22.259_259_259, 1e-6);
    // The likely differential is smaller: it is shrunk by what the counts do not tell.
    let likely = price.likely.difference().unwrap();
    assert!(likely > 14.0 && likely < 20.0, "{likely}");
    assert_eq!(price.intensity, finite_intensity(10, 24));
    let below = price.expected_below.unwrap();
    assert!(below > 1.5 && below < 3.5, "{below}");

    // Four times the likeness of kernels of one ear is 0.972 (reference): the whole differential at the upper end,
    // and 0.1 / 0.972 of it at the lower.
    let heritability = price.heritability.unwrap();
    close(heritability.range.high, 0.972_155_412, 1e-8);
    close(heritability.range.low, 0.1, 1e-12);
    let response = price.response.unwrap();
    close(response.high, likely, 1e-9);
    close(response.low, likely * 0.1 / 0.972_155_412, 1e-7);

    // The slope of the reference, weighted by kernels, times how much later the kept are: 98.5 against 92.9167 days.
    let maturity = price.maturity.unwrap();
    close(maturity.points_a_day, 3.884_397_658, 1e-6);
    close(maturity.days, 98.5 - 92.916_666_667, 1e-6);
    close(maturity.explained, 3.884_397_658 * (98.5 - 92.916_666_667), 1e-5);
    close(maturity.difference, likely, 1e-9);
    close(maturity.part().unwrap(), 1.0, 1e-12);

    // Maturity and ear length move together and no cutoff asks for either.
    for what in [Measured::Maturity, of_length(&document)] {
        let one = of(&price, what);
        close(one.shift.difference, 98.5 - 92.916_666_667, 1e-6);
        assert!(one.comes_along() && !one.may_be_chance(), "{}", one.sentence());
    }
    assert_eq!(price.comes_along().count(), 2);
    assert_eq!(
        of(&price, of_length(&document)).sentence(),
        "Ear length: kept 28.50, all 22.92 cm: +5.58 cm (95 %: +3.76 to +7.41), +0.94 SD. Comes along unasked."
    );
    assert!(!price.shifts.iter().any(|one| one.what == Measured::Vigor));
}

#[test]
fn maturity_that_is_missing_or_all_the_same_is_said() {
    use wintercrib::model::{EarEdit, EarField, EarValue};
    let mut document = reference();
    keep(&mut document, &[3, 5, 7, 10, 13, 16, 17, 19]);
    let set = |document: &mut Document, numbers: std::ops::RangeInclusive<u32>, value: &EarValue| {
        let edits = numbers.map(|number| EarEdit {
            ear: numbered(document, number),
            field: EarField::MaturityDays,
            value: value.clone(),
        });
        let edits = Command::EditEars(edits.collect());
        run(document, &edits);
    };
    let said = |document: &Document| price(document, &Cutoffs::default()).buys().join(" ");
    assert!(!said(&document).contains("left out of that") && !said(&document).contains("cannot be told"));
    set(&mut document, 1..=2, &EarValue::Empty);
    assert!(said(&document).ends_with("2 scored ears without maturity days are left out of that."));
    set(&mut document, 1..=22, &EarValue::Empty);
    assert!(said(&document).ends_with(
        "What maturity alone explains cannot be told: of 24 scored ears only 2 have maturity days."
    ));
    set(&mut document, 1..=24, &EarValue::Whole(95));
    assert!(said(&document).ends_with(
        "What maturity alone explains cannot be told: all ears matured alike, or no kept ear has maturity days."
    ));
}

fn of_length(document: &Document) -> Measured {
    Measured::Trait(document.project().traits.iter().next().unwrap().id)
}

#[test]
fn what_a_cutoff_asks_for_does_not_come_along() {
    let mut document = reference();
    keep(&mut document, &[3, 5, 7, 10, 13, 16, 17, 19]);
    let asked = Cutoffs {
        maturity_days: Some(91.0),
        ..Cutoffs::default()
    };
    let price = price(&document, &asked);
    let maturity = of(&price, Measured::Maturity);
    assert!(maturity.is_asked && !maturity.comes_along());
    assert!(maturity.shift.difference < 0.0);
    assert!(of(&price, of_length(&document)).comes_along());
    // Early ears germinate worse here: what is bought is a loss, and the range is turned the right way round.
    let response = price.response.unwrap();
    assert!(
        response.low < response.high && response.high < 0.0,
        "{response:?}"
    );
}

#[test]
fn kinship_of_sisters_by_hand() {
    let mut document = reference();
    // Ears 1, 7 and 13 are of row 1, ear 2 of row 2.
    keep(&mut document, &[1, 7, 13, 2]);
    let price = price(&document, &Cutoffs::default());
    let kinship = price.kinship.unwrap();
    assert_eq!((kinship.ears, kinship.pollen_plants), (4, 24));
    close(kinship.pollen_rows, 6.0, 1e-12);
    // 1/4 of pairs are of one ear, 9/16 + 1/16 of one row: 1/8 * 1/4 + 1/32 * 3/8, and 1/8 * 1/24 of the fathers.
    let mothers = 0.125 * 0.25 + 0.375 / 32.0;
    close(kinship.open.coancestry, mothers + 0.125 / 24.0, 1e-12);
    // The pool: 1/8 within each of 6 rows, 3/8 more of each of 24 plants with itself; 3/4 of it comes on top.
    let pool = 0.125 / 6.0 + 0.375 / 24.0;
    close(kinship.closed.coancestry, mothers + 0.75 * pool, 1e-12);
    assert!(kinship.open.effective_size() > kinship.closed.effective_size());
    assert!(!kinship.some_unknown);
    let said = price.costs();
    assert_eq!(
        said,
        [
            "Effective size: 10 with pollen of 24 unrelated plants, 7 in a closed plot. Inbreeding added a season: \
             4.82 % to 7.03 %."
        ]
    );
    // Four ears of four rows are wider, by the formula of unequal sexes: 4 Nf Nm / (Nf + Nm).
    keep(&mut document, &[1, 2, 3, 4]);
    let wider = self::price(&document, &Cutoffs::default()).kinship.unwrap();
    close(wider.open.effective_size(), 4.0 * 4.0 * 24.0 / 28.0, 1e-9);
}

#[test]
fn unknown_mothers_widen_the_range_only() {
    let mut document = document(&EARS.map(|ear| ("", None, ear)));
    keep(&mut document, &[1, 2, 3, 4]);
    let price = price(&document, &Cutoffs::default());
    let kinship = price.kinship.unwrap();
    assert!(kinship.some_unknown);
    close(kinship.open.effective_size(), 4.0 * 4.0 * 24.0 / 28.0, 1e-9);
    // All one row: 1/8 * 1/4 + 1/32 * 3/4, and the pool of one row.
    let pool = 0.125 + 0.375 / 24.0;
    close(
        kinship.closed.coancestry,
        0.03125 + 0.75 / 32.0 + 0.75 * pool,
        1e-12,
    );
    assert!(
        price
            .assumptions()
            .iter()
            .any(|one| one.contains("unknown mother row"))
    );
}

/// Every sentence that a price can say holds no figure that is none.
fn is_sayable(price: &Price) {
    let mut said = price.buys();
    said.extend(price.costs());
    said.extend(price.assumptions());
    said.extend(price.shifts.iter().map(TraitShift::sentence));
    for sentence in &said {
        assert!(
            !sentence.contains("NaN") && !sentence.contains("inf "),
            "{sentence}"
        );
        assert!(sentence.ends_with('.'), "{sentence}");
        assert!(!sentence.contains("  "), "{sentence}");
    }
}

#[test]
fn choices_without_an_answer() {
    let whole = |ears: &[(u16, u16, u16)]| {
        let ears: Vec<_> = ears.iter().map(|ear| ("1", Some(5.0), *ear)).collect();
        document(&ears)
    };
    let mut none = reference();
    keep(&mut none, &[]);
    let price_of_none = price(&none, &Cutoffs::default());
    is_sayable(&price_of_none);
    assert_eq!(price_of_none.kinship, None);
    assert_eq!((price_of_none.intensity, price_of_none.response), (None, None));
    assert!(price_of_none.shifts.is_empty());

    let mut all = reference();
    keep(&mut all, &(1..=24).collect::<Vec<u32>>());
    let price_of_all = price(&all, &Cutoffs::default());
    is_sayable(&price_of_all);
    close(price_of_all.likely.difference().unwrap(), 0.0, 1e-9);
    assert_eq!(price_of_all.intensity, Some(0.0));
    assert_eq!(price_of_all.comes_along().count(), 0);
    assert_eq!(price_of_all.maturity.unwrap().part(), None);

    let mut one = reference();
    keep(&mut one, &[4]);
    let price_of_one = price(&one, &Cutoffs::default());
    is_sayable(&price_of_one);
    assert_eq!(of(&price_of_one, Measured::Maturity).shift.interval, None);
    assert_eq!(price_of_one.observed.kept.unwrap().range, None);

    for ears in [
        // One ear; all full; none germinated; every ear alike; nothing scored.
        &[(8, 10, 90)][..],
        &[(10, 10, 90), (10, 10, 91), (12, 12, 92)],
        &[(0, 10, 90), (0, 10, 91), (0, 12, 92)],
        &[(5, 10, 90); 12],
        &[(0, 0, 90), (0, 0, 91)],
    ] {
        let mut document = whole(ears);
        is_sayable(&price(&document, &Cutoffs::default()));
        keep(&mut document, &[1]);
        let price = price(&document, &Cutoffs::default());
        is_sayable(&price);
        if ears.len() > 1 {
            assert_eq!(price.response, None, "{ears:?}");
        }
    }
}

#[test]
fn demo_projects_are_sayable_whatever_the_cutoff() {
    for name in ["essel-thaw", "pocket-starter"] {
        let document = Document::new(demo::make(name).unwrap());
        let season = document.project().latest_season().unwrap().id;
        let insight = Insight::default();
        let mut cutoffs = insight.cutoffs(&document, season);
        for percent in (0..=100).step_by(5) {
            cutoffs.germination_percent = Some(f64::from(percent));
            is_sayable(&insight.price(&document, season, &cutoffs));
        }
    }
}

#[test]
fn what_the_grower_knows_better_narrows_the_response_and_sets_the_pollen() {
    let mut document = reference();
    keep(&mut document, &[2, 4, 6]);
    let insight = Insight::default();
    let now = |document: &Document| insight.price(document, SEASON, &Cutoffs::default());
    let before = now(&document);
    let by_counts = before.heritability.unwrap();
    assert!(!by_counts.is_narrowed && by_counts.range == by_counts.by_counts);
    let season = document.project().seasons.get(SEASON).unwrap().clone();
    let range = |least, most| Some(ShareRange { least, most });
    let edit = |document: &mut Document, heritability, pollen_plants| {
        let season = Season {
            heritability,
            pollen_plants,
            ..season.clone()
        };
        run(document, &Command::EditSeason(season));
    };
    edit(&mut document, range(0.2, 0.3), Some(1000));
    let after = now(&document);
    let narrowed = after.heritability.unwrap();
    assert_eq!((narrowed.range.low, narrowed.range.high), (0.2, 0.3));
    assert_eq!(narrowed.by_counts, by_counts.by_counts);
    // The response is in proportion to the heritability while it is below its upper bound.
    let (wide, narrow) = (before.response.unwrap(), after.response.unwrap());
    close(narrow.low, wide.low * 0.2 / by_counts.range.low, 1e-9);
    close(narrow.high, wide.low * 0.3 / by_counts.range.low, 1e-9);
    let said = after.assumptions().join(" ");
    for part in [
        "is taken to lie between 20 % and 30 %, narrowed by you.",
        "By the counts it lies between 10 % (assumed, no source) and",
        "Kinship: 1000 pollen plants, as you said;",
    ] {
        assert!(said.contains(part), "{part}: {said}");
    }
    let (old, new) = (before.kinship.unwrap(), after.kinship.unwrap());
    assert_eq!((old.pollen_plants, new.pollen_plants), (24, 1000));
    assert!(new.open.effective_size() > old.open.effective_size());
    // The counts' upper bound holds whatever is typed.
    edit(&mut document, range(0.99, 1.0), None);
    let beyond = now(&document).heritability.unwrap();
    assert_eq!(
        (beyond.range.low, beyond.range.high),
        (by_counts.range.high, by_counts.range.high)
    );
    edit(&mut document, None, None);
    assert_eq!(now(&document).response, before.response);
}

#[test]
fn a_price_is_remembered_and_follows_the_names_of_traits() {
    let mut document = reference();
    keep(&mut document, &[2, 4, 6]);
    let insight = Insight::default();
    let cutoffs = Cutoffs::default();
    let first = insight.price(&document, SEASON, &cutoffs);
    assert!(Arc::ptr_eq(&first, &insight.price(&document, SEASON, &cutoffs)));
    let known = document.project().traits.iter().next().unwrap().clone();
    run(
        &mut document,
        &Command::EditTrait(Trait {
            name: "Length".to_owned(),
            ..known
        }),
    );
    let renamed = insight.price(&document, SEASON, &cutoffs);
    assert_eq!(of(&renamed, of_length(&document)).name, "Length");
    let moved = Cutoffs {
        sureness: 0.9,
        ..cutoffs
    };
    assert!(!Arc::ptr_eq(&renamed, &insight.price(&document, SEASON, &moved)));
}

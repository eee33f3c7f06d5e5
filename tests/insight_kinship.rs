//! Kinship of a season's ears over the seasons before it, in the price, the shares and the mother rows.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use jiff::civil::date;
use wintercrib::demo;
use wintercrib::genetics::pedigree::{Family, Pool, relations};
use wintercrib::insight::{Insight, Price};
use wintercrib::model::*;

fn stamp() -> Stamp {
    Stamp {
        at: date(2026, 12, 1).at(9, 0, 0, 0),
        by: "Grower A".to_owned(),
    }
}

/// Two seasons: rows 1 and 2 of 2025 of unknown ears, two ears each; each ear is a row of 2026 with two ears, and another
/// row is of unknown seed. Nothing is asked of the ears of 2026, so that all are kept.
fn two_seasons(with_history: bool) -> Document {
    let mut document = Document::new(Project::new(About::new("Small Patch", "patch")));
    let run = |document: &mut Document, command: Command| {
        document.run(&command, &stamp()).unwrap();
    };
    for year in [2025, 2026] {
        run(&mut document, Command::AddSeason { year, planted: None });
    }
    let add = |document: &mut Document, season: u32, row: String| {
        let draft = EarDraft {
            row: Some(row),
            kernels: Some(200),
            ..EarDraft::default()
        };
        let command = Command::AddEars {
            season: SeasonId(season),
            drafts: vec![draft.clone(), draft],
            existing: Existing::Refuse,
        };
        document.run(&command, &stamp()).unwrap();
    };
    add(&mut document, 1, "1".to_owned());
    add(&mut document, 1, "2".to_owned());
    for ear in 1..=4 {
        let source = if with_history {
            RowSource::Ear(EarId(ear))
        } else {
            RowSource::Unknown
        };
        let label = format!("{ear}0");
        run(
            &mut document,
            Command::AddRow {
                season: SeasonId(2),
                label: label.clone(),
                source,
            },
        );
        add(&mut document, 2, label);
    }
    add(&mut document, 2, "new".to_owned());
    run(
        &mut document,
        Command::SetCutoffs {
            season: SeasonId(2),
            cutoffs: Cutoffs {
                germination_percent: None,
                ..Cutoffs::default()
            },
            seen: SeenWhileMoving::default(),
        },
    );
    document
}

fn price(document: &Document, season: u32) -> Price {
    let insight = Insight::default();
    let cutoffs = insight.cutoffs(document, SeasonId(season));
    Price::clone(&insight.price(document, SeasonId(season), &cutoffs))
}

/// The same pedigree given to the pure rule by hand.
#[test]
fn the_price_reckons_kinship_over_the_seasons() {
    let document = two_seasons(true);
    let found = price(&document, 2).kinship.unwrap();
    assert_eq!((found.ears, found.seasons_back), (10, 1));
    let of = |mother| Family::Of { mother, season: 0 };
    let families = [
        Family::UNKNOWN,
        Family::UNKNOWN,
        of(0),
        of(0),
        of(1),
        of(1),
        Family::UNKNOWN,
    ];
    let plants: Vec<Vec<(usize, f64)>> = vec![
        vec![(0, 2.0), (1, 2.0)],
        (2..7).map(|family| (family, 2.0)).collect(),
    ];
    let ears: Vec<(usize, f64)> = (2..7).flat_map(|family| [(family, 1.0); 2]).collect();
    let pools = |own: f64| -> Vec<Pool> {
        let pool = |plants: &Vec<(usize, f64)>| Pool {
            plants: plants.clone(),
            own,
        };
        plants.iter().map(pool).collect()
    };
    let open = relations(&families, &pools(0.0))
        .unwrap()
        .mean_of_kernels(&ears, 1)
        .unwrap();
    // 1/8 of an ear, 1/32 of two ears of a row, 1/128 of ears of rows from sister ears.
    let by_hand = (10.0 / 8.0 + 10.0 / 32.0 + 16.0 / 128.0) / 100.0;
    assert!((open - by_hand).abs() < 1e-14, "{open} {by_hand}");
    assert!((found.open.coancestry - (open + 1.0 / 8.0 / 10.0)).abs() < 1e-14);
    let closed = relations(&families, &pools(1.0))
        .unwrap()
        .mean_of_kernels(&ears, 1)
        .unwrap();
    assert!((found.closed.coancestry - closed).abs() < 1e-14);

    let without = price(&two_seasons(false), 2).kinship.unwrap();
    assert_eq!(without.seasons_back, 0);
    assert!(
        without.open.coancestry < found.open.coancestry
            && without.closed.coancestry < found.closed.coancestry
    );
    let said = price(&document, 2).assumptions().join(" ");
    assert!(
        said.contains("as related as 1 earlier season of rows say"),
        "{said}"
    );
}

#[test]
fn related_rows_are_named_and_a_first_season_names_none() {
    let document = two_seasons(true);
    let insight = Insight::default();
    let of = |season| {
        let cutoffs = insight.cutoffs(&document, SeasonId(season));
        insight
            .mothers(&document, SeasonId(season), &cutoffs)
            .related
            .clone()
    };
    assert_eq!(
        of(2),
        [
            "Rows 10 and 20 come from related mothers: coancestry 0.031.",
            "Rows 30 and 40 come from related mothers: coancestry 0.031."
        ]
    );
    assert!(of(1).is_empty());
}

#[test]
fn a_remnant_and_a_twice_planted_ear_are_known() {
    let mut document = two_seasons(true);
    // Ear 1 of 2025 is planted in a second row of 2026 too.
    let command = Command::AddRow {
        season: SeasonId(2),
        label: "11".to_owned(),
        source: RowSource::Ear(EarId(1)),
    };
    document.run(&command, &stamp()).unwrap();
    let insight = Insight::default();
    let cutoffs = insight.cutoffs(&document, SeasonId(2));
    let related = insight.mothers(&document, SeasonId(2), &cutoffs).related.clone();
    assert_eq!(
        related[0],
        "Rows 10 and 11 were planted from one ear: coancestry 0.125."
    );
}

/// Where only the rows of the season are known, the figures are those of the closed forms: the demo has no season before.
#[test]
fn a_first_season_is_reckoned_by_its_rows_alone() {
    let document = Document::new(demo::make("essel-thaw").unwrap());
    let kinship = price(&document, 1).kinship.unwrap();
    assert_eq!(kinship.seasons_back, 0);
}

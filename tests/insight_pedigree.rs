//! The pedigree over all seasons: who descends from whom, the pollen that was stated, the figures of each season.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use jiff::civil::date;
use wintercrib::genetics::Kinship;
use wintercrib::insight::{FamilySeed, Insight, Pedigree, PedigreeStep, Price};
use wintercrib::model::*;

fn stamp() -> Stamp {
    Stamp {
        at: date(2026, 12, 1).at(9, 0, 0, 0),
        by: "Grower A".to_owned(),
    }
}

fn run(document: &mut Document, command: &Command) {
    document.run(command, &stamp()).unwrap();
}

fn add_ears(document: &mut Document, season: u32, row: &str, ears: usize) {
    let draft = EarDraft {
        row: (!row.is_empty()).then(|| row.to_owned()),
        kernels: Some(200),
        ..EarDraft::default()
    };
    let command = Command::AddEars {
        season: SeasonId(season),
        drafts: vec![draft; ears],
        existing: Existing::Refuse,
    };
    run(document, &command);
}

fn add_row(document: &mut Document, season: u32, label: &str, source: RowSource) {
    let command = Command::AddRow {
        season: SeasonId(season),
        label: label.to_owned(),
        source,
    };
    run(document, &command);
}

/// Rows 1 to 4 of 2024 with two ears each, ears 1 to 8. In 2025 rows a, b and c from ears 1 and 2 of row 1 and 3 of row 2,
/// and b again as d; two ears of each, ears 9 to 16. In 2026 rows x of ear 9 and y of ear 8 of 2024, whose seed was kept, and
/// a check row.
fn three_seasons() -> Document {
    let mut document = Document::new(Project::new(About::new("Small Patch", "patch")));
    for year in [2024, 2025, 2026] {
        run(&mut document, &Command::AddSeason { year, planted: None });
    }
    for row in ["1", "2", "3", "4"] {
        add_ears(&mut document, 1, row, 2);
    }
    for (label, ear) in [("a", 1), ("b", 2), ("c", 3), ("d", 2)] {
        add_row(&mut document, 2, label, RowSource::Ear(EarId(ear)));
    }
    for row in ["a", "b", "c", "d"] {
        add_ears(&mut document, 2, row, 2);
    }
    add_row(&mut document, 3, "x", RowSource::Ear(EarId(9)));
    add_row(&mut document, 3, "y", RowSource::Ear(EarId(8)));
    add_row(&mut document, 3, "check", RowSource::CheckLot("lot".to_owned()));
    document
}

fn pedigree(document: &Document) -> Pedigree {
    Pedigree::clone(&Insight::default().pedigree(document))
}

fn state(document: &mut Document, season: u32, own: f64, rows: &[u32]) {
    let command = Command::StatePollen {
        season: SeasonId(season),
        pollen: Some(PollenSource {
            own,
            rows: rows.iter().map(|row| RowId(*row)).collect(),
        }),
    };
    run(document, &command);
}

#[test]
fn families_stand_by_season_with_their_mothers_and_rows_of_one_ear_are_one_family() {
    let found = pedigree(&three_seasons());
    let told: Vec<Vec<String>> = found
        .seasons
        .iter()
        .map(|season| season.families.iter().map(|family| found.name(*family)).collect())
        .collect();
    assert_eq!(
        told,
        [
            vec!["row 1 of 2024", "row 2 of 2024", "row 3 of 2024", "row 4 of 2024"],
            vec!["row a of 2025", "rows b/d of 2025", "row c of 2025"],
            vec!["row x of 2026", "row y of 2026"],
        ]
    );
    let at = |name: &str| {
        (0..found.families.len())
            .find(|one| found.name(*one) == name)
            .unwrap()
    };
    let (one, bd, x, y) = (
        at("row 1 of 2024"),
        at("rows b/d of 2025"),
        at("row x of 2026"),
        at("row y of 2026"),
    );
    assert_eq!(found.families[bd].ears, 4);
    assert_eq!(
        found.path(x),
        "Row x of 2026, from ear 1 of row a of 2025, from ear 1 of row 1 of 2024, from seed of which nothing is known."
    );
    assert_eq!(
        found.path(y),
        "Row y of 2026, from ear 8 of row 4 of 2024, from seed of which nothing is known."
    );
    let lineage = found.lineage(one, None);
    assert_eq!(
        found.offspring(&lineage),
        "It lives on in 2 families in 2025, 1 in 2026."
    );
    assert!(lineage.ancestors.is_empty() && lineage.descendants.contains(&x));
    // Of one ear only what was planted from it.
    let of_ear = found.lineage(one, Some(EarId(2)));
    assert_eq!(of_ear.descendants.into_iter().collect::<Vec<_>>(), [bd]);
    assert_eq!(found.lineage(x, None).ancestors, [at("row a of 2025"), one]);
    let steps = [
        (x, PedigreeStep::Mother, Some(at("row a of 2025"))),
        (one, PedigreeStep::Daughter, Some(bd)),
        (bd, PedigreeStep::Above, Some(at("row a of 2025"))),
        (bd, PedigreeStep::Below, Some(at("row c of 2025"))),
        (one, PedigreeStep::Above, None),
        (x, PedigreeStep::Daughter, None),
        (one, PedigreeStep::Mother, None),
    ];
    for (family, step, expected) in steps {
        assert_eq!(found.step(family, step), expected, "{family} {step:?}");
    }
}

#[test]
fn ears_without_a_row_and_bulks_begin_lines_that_say_so() {
    let mut document = three_seasons();
    add_ears(&mut document, 2, "", 1);
    add_row(&mut document, 3, "z", RowSource::Ear(EarId(17)));
    add_row(&mut document, 3, "m", RowSource::Bulk("mixed".to_owned()));
    let found = pedigree(&document);
    let at = |name: &str| {
        (0..found.families.len())
            .find(|one| found.name(*one) == name)
            .unwrap()
    };
    assert_eq!(
        found.path(at("row z of 2026")),
        "Row z of 2026, from ear 9 of 2025, whose row is not known."
    );
    assert_eq!(
        found.path(at("bulk row m of 2026")),
        "Bulk row m of 2026, from the bulk 'mixed'."
    );
    let unknown = at("ears of 2025 whose row is not known");
    assert_eq!(found.families[unknown].seed, FamilySeed::NoRow);
    assert_eq!(found.families[unknown].daughters, [at("row z of 2026")]);
}

/// Coancestries by hand: with unrelated pollen 1/8 within a row, 1/32 between rows of two ears of one row.
#[test]
fn figures_of_a_season_are_by_hand() {
    let mut document = three_seasons();
    for season in 1..=3 {
        state(&mut document, season, 0.0, &[]);
    }
    let found = pedigree(&document);
    let [first, second, third] = [0, 1, 2].map(|season| &found.seasons[season].figures);
    assert_eq!(
        (first.families, first.mothers, first.effective_families),
        (4, 0, Some(4.0))
    );
    assert_eq!((second.families, second.mothers), (3, 2));
    // Two families of row 1 and one of row 2, alike: (2 + 1)^2 / (2^2 + 1^2).
    assert!((second.effective_mothers.unwrap() - 9.0 / 5.0).abs() < 1e-12);
    let plants = second.plants.unwrap();
    let by_hand = (3.0 / 8.0 + 2.0 / 32.0) / 9.0;
    for bound in plants.coancestry {
        assert!((bound - by_hand).abs() < 1e-14, "{bound} {by_hand}");
    }
    assert!(plants.inbreeding.iter().all(|one| one.abs() < 1e-15));
    // Of the seed of 2026 half came by mothers: a half of a half of row 1, a half of row 4.
    let shares: Vec<(&str, f64)> = third
        .founders
        .iter()
        .map(|one| (one.name.as_str(), one.share[0]))
        .collect();
    assert_eq!(shares, [("row 4 of 2024", 0.25), ("row 1 of 2024", 0.125)]);
    assert!(
        third
            .unrelated_pollen
            .iter()
            .all(|one| (one - 0.625).abs() < 1e-15)
    );
    assert_eq!(first.lost_after, ["row 3 of 2024"]);
    assert_eq!(second.lost_after, ["row 2 of 2024"]);
}

#[test]
fn pollen_not_stated_gives_both_bounds_and_stated_pollen_one_figure_between_them() {
    let mut document = three_seasons();
    let bounds = pedigree(&document).seasons[2].figures.harvest;
    assert_eq!(bounds, None, "nothing is harvested yet");
    let both = pedigree(&document).seasons[2].figures.plants.unwrap().coancestry;
    assert!(both[0] < both[1], "{both:?}");
    for season in [1, 2] {
        state(&mut document, season, 0.4, &[]);
    }
    let stated = pedigree(&document);
    assert!(stated.seasons[1].is_stated && !stated.seasons[2].is_stated);
    assert_eq!(
        stated.seasons[1].pollen,
        "40 % of the season's own rows, 60 % of unrelated plants"
    );
    let one = stated.seasons[2].figures.plants.unwrap().coancestry;
    assert!(
        (one[0] - one[1]).abs() < 1e-15 && both[0] < one[0] && one[0] < both[1],
        "{one:?}"
    );
    let sum: f64 = stated.seasons[2]
        .figures
        .founders
        .iter()
        .map(|one| one.share[0])
        .sum();
    assert!((sum + stated.seasons[2].figures.unrelated_pollen[0] - 1.0).abs() < 1e-12);
}

fn price(document: &Document, season: u32) -> Price {
    let insight = Insight::default();
    let cutoffs = insight.cutoffs(document, SeasonId(season));
    Price::clone(&insight.price(document, SeasonId(season), &cutoffs))
}

/// With named rows only these shed pollen: each plant of the detasselled family is as related to it as its mother is.
#[test]
fn the_price_follows_the_pollen_that_was_stated() {
    let mut document = three_seasons();
    let cutoffs = Cutoffs {
        germination_percent: None,
        ..Cutoffs::default()
    };
    let command = Command::SetCutoffs {
        season: SeasonId(2),
        cutoffs,
        seen: SeenWhileMoving::default(),
    };
    run(&mut document, &command);
    let before = price(&document, 2);
    assert!(before.pollen.is_none());
    state(&mut document, 1, 0.0, &[]);
    // Row c is row 7 of the project.
    state(&mut document, 2, 1.0, &[7]);
    let after = price(&document, 2);
    let kinship = after.kinship.unwrap();
    assert!(after.pollen.is_some() && kinship.is_one());
    assert_eq!(
        after.costs(),
        [format!(
            "Effective size with the pollen that you stated: {:.0}. Inbreeding added a season: {:.2} %.",
            Kinship::effective_size(kinship.open),
            100.0 * kinship.open.inbreeding()
        )]
    );
    let said = after.assumptions().join(" ");
    assert!(
        said.contains("Pollen: all of row c; all other rows were detasselled."),
        "{said}"
    );
    // An open field is what was the open bound before.
    state(&mut document, 2, 0.0, &[]);
    let open = price(&document, 2).kinship.unwrap();
    assert!(open.is_one());
    assert!((open.open.coancestry - before.kinship.unwrap().open.coancestry).abs() < 1e-15);
}

#[test]
fn pollen_of_a_closed_season_is_stated_and_undone_and_wrong_rows_are_refused() {
    let mut document = three_seasons();
    run(&mut document, &Command::CloseSeason(SeasonId(1)));
    let before = document.project().clone();
    state(&mut document, 1, 0.25, &[2]);
    document.undo(&stamp()).unwrap();
    assert_eq!(*document.project(), before);
    for (season, own, row) in [(1, 1.5, 2), (1, 0.5, 99), (1, 0.5, 7), (9, 0.5, 2)] {
        let command = Command::StatePollen {
            season: SeasonId(season),
            pollen: Some(PollenSource {
                own,
                rows: [RowId(row)].into(),
            }),
        };
        assert!(document.run(&command, &stamp()).is_err(), "{season} {own} {row}");
    }
    // A row that sheds the pollen is needed.
    add_row(&mut document, 3, "p", RowSource::Unknown);
    let row = document.project().row_labelled(SeasonId(3), "p").unwrap().id;
    state(&mut document, 3, 1.0, &[row.0]);
    let refused = document.run(&Command::RemoveRow(row), &stamp()).unwrap_err();
    assert!(
        refused.to_string().contains("the pollen of its season"),
        "{refused}"
    );
}

/// Twelve founder rows; three of the five families of 2025 come from row 1: 3/5 of what the founders gave by mothers, where
/// an equal share of three founders is 1/3, is less than twice that; four of six with four founders is more.
#[test]
fn a_founder_with_more_than_two_equal_shares_is_named() {
    let mut document = Document::new(Project::new(About::new("Small Patch", "patch")));
    for year in [2024, 2025] {
        run(&mut document, &Command::AddSeason { year, planted: None });
    }
    for row in 1..=12 {
        add_ears(&mut document, 1, &row.to_string(), 4);
    }
    for (label, ear) in [("a", 1), ("b", 2), ("c", 3), ("d", 5), ("e", 9)] {
        add_row(&mut document, 2, label, RowSource::Ear(EarId(ear)));
    }
    assert_eq!(
        pedigree(&document).seasons[1].figures.over_represented().count(),
        0
    );
    add_row(&mut document, 2, "f", RowSource::Ear(EarId(4)));
    add_row(&mut document, 2, "g", RowSource::Ear(EarId(13)));
    let found = pedigree(&document);
    let figures = &found.seasons[1].figures;
    let names: Vec<&str> = figures.over_represented().map(|one| one.name.as_str()).collect();
    assert_eq!(names, ["row 1 of 2024"]);
    // By mothers 4/7 of four founders; with the pollen of all rows 4/14 + 1/24 of twelve.
    let said = figures.sentences(2025).join(" ");
    assert!(
        said.contains(
            "Row 1 of 2024 is over-represented in the seed of 2025: 32.7 to 57.1 % of what its founders gave, where an \
             equal share is 8.3 to 25 %. Named is what is above 2 equal shares."
        ),
        "{said}"
    );
}

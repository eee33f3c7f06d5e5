//! Tests of agreement against computed and published cases.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use proptest::prelude::*;
use rand_pcg::Pcg64;
use serde_json::Value;
use wintercrib::stats::Counts;
use wintercrib::stats::consistency::{
    Disagreement, Placed, ReplicateTest, Replicates, agreement, effective_kernels, false_discovery, fisher,
    heterogeneity, largest_range, neighbours, pooled_heterogeneity, range_tail, replicate_range,
    replicate_test, small_count_tolerance,
};

/// Sources are named in the file.
fn reference() -> Value {
    serde_json::from_str(include_str!("reference/consistency.json")).unwrap()
}

#[track_caller]
fn assert_close(actual: f64, expected: f64, relative: f64) {
    assert!(
        (actual - expected).abs() <= relative * expected.abs().max(1e-300),
        "{actual} is not {expected} to within {relative}"
    );
}

fn counts(pairs: &[(u32, u32)]) -> Vec<Counts> {
    pairs.iter().map(|&(k, n)| Counts::new(k, n).unwrap()).collect()
}

fn alike(pairs: &[(u32, u32)]) -> Vec<(Counts, f64)> {
    counts(pairs).into_iter().map(|counts| (counts, 0.0)).collect()
}

const CASES: [(&str, &[(u32, u32)]); 6] = [
    ("[10,11,7]/[12,12,12] (E12)", &[(10, 12), (11, 12), (7, 12)]),
    ("[9,4]/[12,12] (E19)", &[(9, 12), (4, 12)]),
    ("[8,9]/[12,12] (E08)", &[(8, 12), (9, 12)]),
    ("[12,12]/[12,12] (E22)", &[(12, 12), (12, 12)]),
    ("[10,3,9,8]/[12,10,15,12]", &[(10, 12), (3, 10), (9, 15), (8, 12)]),
    ("[90,84,95,88]/100", &[(90, 100), (84, 100), (95, 100), (88, 100)]),
];

#[test]
fn heterogeneity_agrees() {
    let file = reference();
    for (name, pairs) in CASES {
        let expected = &file["heterogeneity"][name];
        let found = heterogeneity(&counts(pairs)).unwrap();
        assert!(
            (found.statistic - expected["X2"].as_f64().unwrap()).abs() < 1e-10,
            "{name}"
        );
        assert_eq!(u64::from(found.degrees), expected["df"].as_u64().unwrap());
        assert_close(found.p_value, expected["p"].as_f64().unwrap(), 1e-9);
        let exact = replicate_test(&alike(pairs)).unwrap();
        if let Some(expected) = expected["p_exact_by_X2"].as_f64() {
            assert!(matches!(exact, ReplicateTest::Exact(_)), "{name}");
            assert_close(exact.p_value(), expected, 1e-9);
        }
    }
    // Four replicates of a hundred are exact too: 0.0881 by chi-square.
    let exact = replicate_test(&alike(CASES[5].1)).unwrap();
    assert!(
        matches!(exact, ReplicateTest::Exact(p) if (p - 0.088).abs() < 0.01),
        "{exact:?}"
    );
}

#[test]
fn replicates_in_places_that_differ_agree_with_an_enumeration() {
    let file = reference();
    for case in file["replicates_in_places"].as_array().unwrap() {
        let cells: Vec<(Counts, f64)> = case["k_n_place"]
            .as_array()
            .unwrap()
            .iter()
            .map(|cell| {
                let whole = |at: usize| cell[at].as_u64().unwrap() as u32;
                (
                    Counts::new(whole(0), whole(1)).unwrap(),
                    cell[2].as_f64().unwrap(),
                )
            })
            .collect();
        let found = replicate_test(&cells).unwrap();
        assert!(matches!(found, ReplicateTest::Exact(_)), "{case}");
        assert_close(found.p_value(), case["p"].as_f64().unwrap(), 1e-9);
    }
}

/// With places that differ by 2 logits, cells of one ear look apart in most trays: the plain test alarms, and the one
/// that allows for the places keeps its level.
#[test]
fn places_that_differ_are_no_disagreement() {
    const EARS: usize = 2000;
    let mut dice = Pcg64::new(30, 7);
    let mut uniform = || (dice.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
    let places = [1.0, -1.0];
    let mut alarms = [0; 2];
    for _ in 0..EARS {
        let ear = 3.0 * uniform() - 1.0;
        let cells: Vec<(Counts, f64)> = places
            .iter()
            .map(|place| {
                let rate = 1.0 / (1.0 + (-ear - place).exp());
                let k = (0..12).filter(|_| uniform() < rate).count() as u32;
                (Counts::new(k, 12).unwrap(), *place)
            })
            .collect();
        let plain: Vec<(Counts, f64)> = cells.iter().map(|(counts, _)| (*counts, 0.0)).collect();
        for (alarms, cells) in alarms.iter_mut().zip([plain, cells]) {
            *alarms += usize::from(replicate_test(&cells).unwrap().p_value() <= 0.05);
        }
    }
    let [plain, allowed] = alarms.map(|alarms| alarms as f64 / EARS as f64);
    println!("alarms at 5 %: {plain:.3} plain, {allowed:.3} with places allowed for");
    assert!(
        plain > 0.3 && (0.01..=0.06).contains(&allowed),
        "{plain} {allowed}"
    );
}

#[test]
fn heterogeneity_pools_over_replicated_units() {
    let file = reference();
    let expected = &file["pooled"];
    let units: Vec<Vec<Counts>> = CASES[..4].iter().map(|(_, pairs)| counts(pairs)).collect();
    let found = pooled_heterogeneity(&units).unwrap();
    assert_close(found.statistic, expected["X2"].as_f64().unwrap(), 1e-10);
    assert_eq!(found.degrees, 4);
    assert_close(found.p_value, expected["p"].as_f64().unwrap(), 1e-9);
    assert_close(found.dispersion(), expected["phi_cell"].as_f64().unwrap(), 1e-10);
    let effective = expected["effective_seeds_of_2_cells_x_12"].as_f64().unwrap();
    assert_close(effective_kernels(24.0, found.dispersion()), effective, 1e-10);
    assert_close(effective_kernels(24.0, 0.5), 24.0, 1e-15);
    assert_eq!(
        pooled_heterogeneity(&[counts(&[(3, 12)]), counts(&[(12, 12), (12, 12)])]),
        None
    );
}

#[test]
fn degenerate_replicates() {
    assert_eq!(heterogeneity(&[]), None);
    assert_eq!(heterogeneity(&counts(&[(3, 12), (0, 0)])), None);
    assert_eq!(
        replicate_test(&alike(&[(0, 12), (0, 12)])),
        Some(ReplicateTest::Exact(1.0))
    );
    // Too many different tables: said, and by chi-square.
    let large = alike(&[(40_000, 99_991), (40_100, 99_989), (39_900, 99_971)]);
    assert!(matches!(replicate_test(&large), Some(ReplicateTest::ByChiSquare(p)) if p > 0.1));
}

#[test]
fn ranges_given_the_total_agree() {
    let file = reference();
    let check = |cells, kernels, total, key: &str| {
        let expected = file["range_tail"][key].as_array().unwrap();
        for (ours, expected) in range_tail(cells, kernels, total).unwrap().iter().zip(expected) {
            assert!((ours - expected.as_f64().unwrap()).abs() < 1e-12, "{key}");
        }
    };
    check(2, 10, 14, "n=10,m=2,T=14: P(range>R|T),R=0..10");
    check(3, 12, 28, "n=12,m=3,T=28: P(range>R|T),R=0..12");
    let mut checked = 0;
    for (key, totals) in file["largest_range_by_total_5_2.5_1_percent"]
        .as_object()
        .unwrap()
    {
        let numbers: Vec<u32> = key
            .split(',')
            .map(|part| part.split('=').nth(1).unwrap().parse().unwrap())
            .collect();
        if numbers[0] * numbers[1] > 40 {
            continue;
        }
        for (total, expected) in totals.as_object().unwrap() {
            for (index, probability) in [0.05, 0.025, 0.01].into_iter().enumerate() {
                let ours = largest_range(numbers[0], numbers[1], total.parse().unwrap(), probability);
                assert_eq!(ours.map(u64::from), expected[index].as_u64(), "{key} {total}");
                checked += 1;
            }
        }
    }
    assert!(checked > 700, "{checked}");
    for (cells, kernels, total) in [(1, 10, 3), (2, 0, 0), (2, 10, 21), (2, 500, 3), (30, 10, 3)] {
        assert_eq!(range_tail(cells, kernels, total), None);
    }
}

#[test]
fn replicate_ranges_are_those_of_the_federal_rule() {
    let file = reference();
    for row in file["exceedance_four_by_100"].as_array().unwrap() {
        let mean = row[0].as_u64().unwrap() as u32;
        let range = replicate_range(Replicates::Four, mean).map(u64::from);
        assert_eq!(range, row[1].as_u64());
        assert_eq!(
            replicate_range(Replicates::Four, 101 - mean).map(u64::from),
            range
        );
        let two = file["two_reps"]
            .get(mean.to_string())
            .map(|range| range.as_u64().unwrap());
        assert_eq!(replicate_range(Replicates::Two, mean).map(u64::from), two);
    }
    // Replicates 96, 91, 95, 94 pass with a range of 5; 98, 85, 93, 92 with 13 do not.
    assert_eq!(replicate_range(Replicates::Four, 94), Some(10));
    assert_eq!(replicate_range(Replicates::Four, 92), Some(11));
    for mean in [0, 1, 100, 101, 4_000_000_000] {
        assert_eq!(replicate_range(Replicates::Four, mean), None);
    }
    // The table follows the upper 2.5 % of the range of four normal values, 3.984 sd, to within one point; a
    // slip of the pen would not.
    for mean in 51..=99 {
        let p = f64::from(mean) - 0.5;
        let four = 3.984_014_63 * (p * (100.0 - p) / 100.0).sqrt() + 0.19;
        assert_eq!(
            replicate_range(Replicates::Four, mean),
            Some(four as u32),
            "{mean}"
        );
        let two = 3.169_822_14 * (p * (100.0 - p) / 100.0).sqrt() + 0.21;
        if mean < 98 {
            assert_eq!(replicate_range(Replicates::Two, mean), Some(two as u32), "{mean}");
        }
    }
}

#[test]
fn small_count_tolerances_are_those_of_the_federal_table() {
    assert_eq!(small_count_tolerance(90.0, 10), Some(22.1));
    assert_eq!(small_count_tolerance(10.0, 10), Some(22.1));
    assert_eq!(small_count_tolerance(50.0, 1000), Some(4.3));
    assert_eq!(small_count_tolerance(100.0, 200), Some(0.0));
    assert_eq!(small_count_tolerance(79.4, 20), Some(20.9));
    assert_eq!(small_count_tolerance(90.0, 12), None);
    assert_eq!(small_count_tolerance(f64::NAN, 10), None);
    assert_eq!(small_count_tolerance(101.0, 10), None);
    // Up to 200 the printed cells are 2.326 sqrt(p (100 - p) / n) to within 0.23 points: no slip of the pen.
    for count in [10, 20, 30, 50, 75, 100, 150, 200] {
        for percent in (50..=100).step_by(2) {
            let p = f64::from(percent);
            let formula = 2.326 * (p * (100.0 - p) / f64::from(count)).sqrt();
            assert!(
                (small_count_tolerance(p, count).unwrap() - formula).abs() < 0.23,
                "{percent} {count}"
            );
        }
    }
}

#[test]
fn fisher_agrees() {
    let file = reference();
    for (case, expected) in file["fisher"].as_object().unwrap() {
        let numbers: Vec<u32> = case
            .split(" vs ")
            .flat_map(|part| part.split('/'))
            .map(|part| part.parse().unwrap())
            .collect();
        let pair = counts(&[(numbers[0], numbers[1]), (numbers[2], numbers[3])]);
        let found = fisher(pair[0], pair[1]);
        assert_close(found.two_sided, expected["two_sided"].as_f64().unwrap(), 1e-9);
        assert_close(
            found.first_at_least,
            expected["one_sided_ge"].as_f64().unwrap(),
            1e-9,
        );
        assert_close(
            found.first_at_most,
            expected["one_sided_le"].as_f64().unwrap(),
            1e-9,
        );
    }
    // The lady tasting tea, 0.4857 in the textbook.
    let tea = counts(&[(3, 4), (1, 4)]);
    assert!((fisher(tea[0], tea[1]).two_sided - 0.4857).abs() < 1e-4);
    let nothing = counts(&[(0, 0), (0, 0)]);
    assert_close(fisher(nothing[0], nothing[1]).two_sided, 1.0, 1e-12);
}

#[test]
fn false_discovery_follows_benjamini_and_hochberg() {
    // The 15 probabilities of Benjamini and Hochberg 1995, section 3.2: at 5 % the first four are called
    // (from memory).
    let published = [
        0.0001, 0.0004, 0.0019, 0.0095, 0.0201, 0.0278, 0.0298, 0.0344, 0.0459, 0.3240, 0.4262, 0.5719,
        0.6528, 0.7590, 1.0,
    ];
    let adjusted = false_discovery(&published);
    assert_eq!(adjusted.iter().filter(|q| **q <= 0.05).count(), 4);
    // By hand: 0.0095 * 15 / 4; 0.0201 * 15 / 5 = 0.0603; the sixth and seventh share 0.0298 * 15 / 7.
    assert_close(adjusted[3], 0.035_625, 1e-12);
    assert_close(adjusted[4], 0.0603, 1e-12);
    assert_close(adjusted[5], 0.0298 * 15.0 / 7.0, 1e-12);
    // Answers stay in the places of their questions.
    let turned: Vec<f64> = published.iter().rev().copied().collect();
    let back: Vec<f64> = false_discovery(&turned).into_iter().rev().collect();
    assert_eq!(back, adjusted);
    assert_eq!(false_discovery(&[]), Vec::<f64>::new());
    assert_eq!(false_discovery(&[f64::NAN, 0.01]), [1.0, 0.02]);
}

fn grid(rows: u32, columns: u32, value: impl Fn(u32, u32) -> f64) -> Vec<Placed> {
    let place = |row| (0..columns).map(move |column| (row, column));
    (0..rows)
        .flat_map(place)
        .map(|(row, column)| Placed {
            row,
            column,
            value: value(row, column),
        })
        .collect()
}

#[test]
fn morans_i_agrees() {
    let file = reference();
    let check = |tray: &[Placed], expected: &Value| {
        let found = neighbours(tray, 99, 1).unwrap();
        assert_close(found.moran, expected["I"].as_f64().unwrap(), 1e-9);
        assert_close(found.expected, expected["E"].as_f64().unwrap(), 1e-12);
        assert_close(
            found.variance.unwrap(),
            expected["var_randomization"].as_f64().unwrap(),
            1e-9,
        );
    };
    check(
        &grid(3, 3, |r, c| f64::from(3 * r + c + 1)),
        &file["moran"]["3x3 grid 1..9 rook"],
    );
    check(
        &grid(4, 4, |r, c| f64::from((r + c) % 2)),
        &file["moran"]["4x4 checkerboard rook"],
    );
    let six = [3.0, 5.0, 4.0, 9.0, 8.0, 12.0];
    let small = grid(2, 3, |r, c| six[(3 * r + c) as usize]);
    check(&small, &file["moran"]["2x3 grid [3,5,4;9,8,12] rook"]);
    let residuals: Vec<f64> = file["pearson_residuals_two_trays"]
        .as_array()
        .unwrap()
        .iter()
        .map(|residual| residual.as_f64().unwrap())
        .collect();
    for tray in 0..2 {
        let place = grid(4, 6, |r, c| residuals[24 * tray + (6 * r + c) as usize]);
        check(&place, &file["moran_two_trays"][tray.to_string()]);
    }
    // All 720 arrangements of the 2 by 3 grid: 0.36111 of them have an I at least as large.
    let found = neighbours(&small, 20_000, 7).unwrap();
    let exact = file["moran"]["2x3 grid [3,5,4;9,8,12] rook"]["exact_p_ge"]
        .as_f64()
        .unwrap();
    assert!((found.p_alike - exact).abs() < 4.0 * (exact * (1.0 - exact) / 20_000.0).sqrt());
    assert_eq!(neighbours(&small, 500, 7), neighbours(&small, 500, 7));
}

#[test]
fn neighbours_need_values_that_differ_and_touch() {
    assert_eq!(neighbours(&[], 99, 1), None);
    assert_eq!(neighbours(&grid(3, 3, |_, _| 0.3), 99, 1), None);
    assert_eq!(neighbours(&grid(1, 2, |_, c| f64::from(c)), 99, 1), None);
    let apart: Vec<Placed> = (0..5)
        .map(|i| Placed {
            row: 2 * i,
            column: u32::MAX,
            value: f64::from(i),
        })
        .collect();
    assert_eq!(neighbours(&apart, 99, 1), None);
    // A value that is not a number is no neighbour: the same as a tray with a gap.
    let mut tray = grid(3, 3, |r, c| f64::from(3 * r + c));
    tray[4].value = f64::NAN;
    assert_eq!(neighbours(&tray, 99, 1).unwrap().values, 8);
}

#[test]
fn agreement_of_two_scorers() {
    let spread = |table: &[&[usize]]| -> Vec<(usize, usize)> {
        let mut pairs = Vec::new();
        for (a, row) in table.iter().enumerate() {
            for (b, times) in row.iter().enumerate() {
                pairs.extend(std::iter::repeat_n((a, b), *times));
            }
        }
        pairs
    };
    // By hand: 70 % agreement where chance gives 50 %.
    let two = spread(&[&[20, 5], &[10, 15]]);
    let found = agreement(&two, 2, Disagreement::Equal).unwrap();
    assert_close(found.kappa.unwrap(), 0.4, 1e-12);
    assert_close(found.share, 0.7, 1e-12);
    assert_close(found.by_category[0].unwrap(), 40.0 / 55.0, 1e-12);
    // Fleiss 1981, Statistical Methods for Rates and Proportions, table 13.1: kappa 0.68 (from memory).
    let fleiss = spread(&[&[75, 1, 4], &[5, 4, 1], &[0, 0, 10]]);
    let found = agreement(&fleiss, 3, Disagreement::Equal).unwrap();
    assert!((found.kappa.unwrap() - 0.68).abs() < 0.005, "{found:?}");
    // Two of eight are one category apart; what chance would do follows from the margins.
    let three = spread(&[&[2, 1, 0], &[0, 2, 1], &[0, 0, 2]]);
    let first = [3.0, 3.0, 2.0];
    let second = [2.0, 3.0, 3.0];
    let mut by_chance = [0.0; 2];
    for (a, first) in first.iter().enumerate() {
        for (b, second) in second.iter().enumerate() {
            let distance = a.abs_diff(b) as f64;
            by_chance[0] += first * second * distance / 8.0;
            by_chance[1] += first * second * distance * distance / 8.0;
        }
    }
    let linear = agreement(&three, 3, Disagreement::Distance)
        .unwrap()
        .kappa
        .unwrap();
    let square = agreement(&three, 3, Disagreement::Square).unwrap().kappa.unwrap();
    assert_close(linear, 1.0 - 2.0 / by_chance[0], 1e-12);
    assert_close(square, 1.0 - 2.0 / by_chance[1], 1e-12);
    assert!(square > linear);
    assert_eq!(agreement(&[], 3, Disagreement::Equal), None);
    assert_eq!(agreement(&[(0, 3)], 3, Disagreement::Equal), None);
    assert_eq!(
        agreement(&[(1, 1); 5], 3, Disagreement::Distance).unwrap().kappa,
        None
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(100))]

    #[test]
    fn probabilities_are_probabilities(
        pairs in proptest::collection::vec((0..=15_u32, 0..=15_u32, -3.0..3.0_f64), 0..5),
    ) {
        let counts = |(a, b, _): &(u32, u32, f64)| Counts::new(*a.min(b), *a.max(b)).unwrap();
        let cells: Vec<Counts> = pairs.iter().map(counts).collect();
        for places in [0.0, 1.0] {
            let placed: Vec<(Counts, f64)> =
                pairs.iter().map(|pair| (counts(pair), places * pair.2)).collect();
            let Some(found) = replicate_test(&placed) else { continue };
            prop_assert!((0.0..=1.0).contains(&found.p_value()));
            // Successes for failures, the last cell first, and all places better by 2.
            let turned: Vec<(Counts, f64)> = placed
                .iter()
                .rev()
                .map(|(cell, place)| (Counts::new(cell.n() - cell.k(), cell.n()).unwrap(), 2.0 - place))
                .collect();
            let mirror = replicate_test(&turned).unwrap();
            prop_assert!((mirror.p_value() - found.p_value()).abs() < 1e-9);
        }
        if let [first, second, ..] = cells[..] {
            let found = fisher(first, second);
            let mirror = fisher(second, first);
            prop_assert!((found.two_sided - mirror.two_sided).abs() < 1e-9);
            prop_assert!((found.first_at_least - mirror.first_at_most).abs() < 1e-9);
            prop_assert!(found.two_sided <= 1.0);
        }
    }
}

//! Optimum shares against published rules worked through by enumeration, and against a general-purpose conic solver.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use proptest::prelude::*;
use serde_json::Value;
use std::time::Instant;
use wintercrib::genetics::{
    Candidates, NoShares, Shares, frontier, least_coancestry, optimum_shares, whole_kernels,
};

fn near(found: f64, expected: f64, most: f64) -> bool {
    (found - expected).abs() <= most
}

fn all_near(found: &[f64], expected: &[f64], most: f64) -> bool {
    found.len() == expected.len() && found.iter().zip(expected).all(|(a, b)| near(*a, *b, most))
}

/// Coancestries of ears from a relationship matrix of their mothers' kind: one half of it.
fn halved(matrix: &[&[f64]]) -> Vec<f64> {
    matrix
        .iter()
        .flat_map(|row| row.iter().map(|entry| entry / 2.0))
        .collect()
}

/// Five ears with two pairs of half sisters and two of cousins.
const GAINS: [f64; 5] = [0.92, 0.88, 0.85, 0.80, 0.70];

fn five() -> Vec<f64> {
    halved(&[
        &[1.0, 0.25, 0.125, 0.0, 0.0],
        &[0.25, 1.0, 0.125, 0.0, 0.0],
        &[0.125, 0.125, 1.0, 0.25, 0.0],
        &[0.0, 0.0, 0.25, 1.0, 0.0],
        &[0.0, 0.0, 0.0, 0.0, 1.0],
    ])
}

/// The closed form of Meuwissen 1997 on every possible set of ears, the best one that is possible taken (numpy, double
/// precision); the same to 1e-10 by a conic solver (clarabel) and by SLSQP (scipy). The price is twice his lambda 0.
#[test]
fn five_ears_as_by_trying_every_set_of_ears() {
    let matrix = five();
    let candidates = Candidates {
        gains: &GAINS,
        coancestry: &matrix,
        most: &[1.0; 5],
    };
    let least = least_coancestry(candidates).unwrap();
    let expected = [
        0.188_153_310_104_5,
        0.188_153_310_104_5,
        0.153_310_104_529_6,
        0.216_027_874_564_5,
        0.254_355_400_696_9,
    ];
    assert!(near(least.coancestry, 0.127_177_700_348_432, 1e-12), "{least:?}");
    assert!(all_near(&least.shares, &expected, 1e-11));
    assert_eq!(least.gain_per_coancestry, None);
    let table: [(f64, [f64; 5], f64, f64); 8] = [
        (
            0.13,
            [
                0.229_082_986_261,
                0.204_469_435_592,
                0.162_958_273_346,
                0.204_450_071_985,
                0.199_039_232_816,
            ],
            0.832_091_503_584_384_6,
            1.083_414_052_073_540_5,
        ),
        (
            0.14,
            [
                0.275_394_123_95,
                0.222_930_816_305,
                0.173_874_989_93,
                0.191_350_012_083,
                0.136_450_057_732,
            ],
            0.845_930_503_901_664,
            0.508_291_754_060_960_9,
        ),
        (
            0.15,
            [
                0.304_543_519_359,
                0.234_550_873_878,
                0.180_746_246_051,
                0.183_104_504_739,
                0.097_054_855_973,
            ],
            0.854_641_118_938_595_4,
            0.380_992_409_747_205_95,
        ),
        (
            0.18,
            [
                0.365_223_478_232,
                0.258_740_213_166,
                0.195_050_060_348,
                0.165_939_927_582,
                0.015_046_320_672,
            ],
            0.872_773_905_391_310_8,
            0.250_430_587_851_349_4,
        ),
        (
            0.2,
            [
                0.419_057_404_746,
                0.266_911_201_694,
                0.194_943_023_151,
                0.119_088_370_409,
                0.0,
            ],
            0.881_386_935_862_550_6,
            0.175_270_010_896_261_35,
        ),
        (
            0.25,
            [
                0.526_206_395_928,
                0.276_278_171_073,
                0.188_089_143_118,
                0.009_426_289_881,
                0.0,
            ],
            0.894_651_478_353_086_7,
            0.106_697_299_522_948_46,
        ),
        (
            0.3,
            [0.648_843_962_961, 0.255_624_115_116, 0.095_531_921_924, 0.0, 0.0],
            0.903_087_800_860_722_9,
            0.067_816_176_657_386_37,
        ),
        (
            0.4,
            [0.841_565_025_532, 0.158_434_974_468, 0.0, 0.0, 0.0],
            0.913_662_601_021_277,
            0.039_036_002_917_943_236,
        ),
    ];
    for (ceiling, shares, gain, price) in table {
        let found = optimum_shares(candidates, ceiling).unwrap();
        assert!(all_near(&found.shares, &shares, 2e-12), "{ceiling}: {found:?}");
        assert!(near(found.gain, gain, 1e-12) && near(found.coancestry, ceiling, 1e-12));
        assert!(near(found.gain_per_coancestry.unwrap(), 2.0 * price, 1e-9));
    }
    // From 0.5 on, everything is planted from the best ear.
    for ceiling in [0.5, 0.6] {
        let found = optimum_shares(candidates, ceiling).unwrap();
        assert_eq!(found.shares, [1.0, 0.0, 0.0, 0.0, 0.0]);
        assert_eq!(found.gain_per_coancestry, Some(0.0));
    }
    for ceiling in [0.0, 0.12, 0.125] {
        match optimum_shares(candidates, ceiling) {
            Err(NoShares::Ceiling { least, .. }) => assert!(near(least, 0.127_177_700_348_432, 1e-12)),
            other => panic!("{other:?}"),
        }
    }
}

/// Two drawn cases in which dropping the most negative share ends wrongly: at the wrong set of ears, and at 'cannot be'.
/// The optima are those of trying every set of ears (numpy), confirmed by a conic solver (clarabel).
#[test]
fn cases_in_which_dropping_the_most_negative_fails() {
    let matrix = halved(&[
        &[0.62, 0.68, 0.15, 0.13, 0.1],
        &[0.68, 1.34, 0.45, 0.26, 0.51],
        &[0.15, 0.45, 0.93, 0.24, 0.22],
        &[0.13, 0.26, 0.24, 0.8, 0.0],
        &[0.1, 0.51, 0.22, 0.0, 0.95],
    ]);
    let candidates = Candidates {
        gains: &[-0.32, -0.21, -0.2, -1.1, -0.92],
        coancestry: &matrix,
        most: &[1.0; 5],
    };
    let found = optimum_shares(candidates, 0.266_558_895_302_708_8).unwrap();
    let shares = [
        0.335_577_285_254_5,
        0.086_343_156_790_9,
        0.578_079_557_954_6,
        0.0,
        0.0,
    ];
    assert!(all_near(&found.shares, &shares, 1e-10), "{found:?}");
    assert!(near(found.gain, -0.241_132_705_798_451_67, 1e-11));

    let matrix = halved(&[
        &[0.8, 0.51, 0.54, 0.0, 0.0],
        &[0.51, 1.3, 0.57, 0.32, 0.28],
        &[0.54, 0.57, 0.62, 0.0, 0.08],
        &[0.0, 0.32, 0.0, 0.74, 0.0],
        &[0.0, 0.28, 0.08, 0.0, 0.57],
    ]);
    let candidates = Candidates {
        gains: &[-0.53, 0.95, 0.45, 0.34, 0.49],
        coancestry: &matrix,
        most: &[1.0; 5],
    };
    let found = optimum_shares(candidates, 0.113_451_408_769_998_07).unwrap();
    let shares = [
        0.049_512_910_622_4,
        0.0,
        0.279_892_684_354_6,
        0.304_342_490_596_8,
        0.366_251_914_426_2,
    ];
    assert!(all_near(&found.shares, &shares, 1e-9), "{found:?}");
    assert!(near(found.gain, 0.382_649_750_201_414_2, 1e-10));
}

struct Case {
    gains: Vec<f64>,
    matrix: Vec<f64>,
    most: Vec<f64>,
    record: Value,
}

fn numbers(value: &Value) -> Vec<f64> {
    value
        .as_array()
        .unwrap()
        .iter()
        .map(|one| one.as_f64().unwrap())
        .collect()
}

/// Drawn cases of 2 to 300 ears; `tests/reference/optimum_shares.py` says how, and solved them.
fn cases() -> Vec<Case> {
    let all: Value = serde_json::from_str(include_str!("reference/optimum_shares.json")).unwrap();
    let read = |record: &Value| {
        let gains = numbers(&record["gains"]);
        let matrix = if let Some(rows) = record.get("matrix") {
            rows.as_array().unwrap().iter().flat_map(numbers).collect()
        } else {
            let whole = |name: &str| -> Vec<usize> {
                numbers(&record[name]).iter().map(|one| *one as usize).collect()
            };
            let (groups, lines) = (whole("groups"), whole("lines"));
            let of = |a: usize, b: usize| match () {
                () if a == b => 1.0 / 8.0,
                () if groups[a] == groups[b] => 1.0 / 32.0,
                () if lines[groups[a]] == lines[groups[b]] => 1.0 / 128.0,
                () => 0.0,
            };
            let ears = gains.len();
            (0..ears * ears).map(|at| of(at / ears, at % ears)).collect()
        };
        let most = numbers(&record["most"]);
        Case {
            gains,
            matrix,
            most,
            record: record.clone(),
        }
    };
    all["cases"].as_array().unwrap().iter().map(read).collect()
}

#[test]
fn fifty_drawn_cases_agree_with_a_conic_solver() {
    let cases = cases();
    assert_eq!(cases.len(), 50);
    let mut slowest = 0.0_f64;
    for (number, case) in cases.iter().enumerate() {
        let candidates = Candidates {
            gains: &case.gains,
            coancestry: &case.matrix,
            most: &case.most,
        };
        let figure = |name: &str| case.record[name].as_f64().unwrap();
        let begun = Instant::now();
        let found = optimum_shares(candidates, figure("ceiling")).unwrap();
        slowest = slowest.max(begun.elapsed().as_secs_f64());
        let shares = numbers(&case.record["shares"]);
        assert!(
            near(found.gain, figure("gain"), 1e-6),
            "{number}: {} not {}",
            found.gain,
            figure("gain")
        );
        assert!(all_near(&found.shares, &shares, 1e-6), "{number}");
        assert!(near(found.coancestry, figure("ceiling"), 1e-10), "{number}");
        assert!(
            near(
                least_coancestry(candidates).unwrap().coancestry,
                figure("least"),
                1e-9
            ),
            "{number}"
        );
    }
    println!("the slowest of 2 to 300 ears took {:.1} ms", 1000.0 * slowest);
}

#[test]
fn the_frontier_rises_and_bends_down() {
    for case in cases().iter().step_by(7) {
        let candidates = Candidates {
            gains: &case.gains,
            coancestry: &case.matrix,
            most: &case.most,
        };
        let points: Vec<Shares> = frontier(candidates, 21).unwrap();
        assert_eq!(points.len(), 21);
        for pair in points.windows(2) {
            assert!(pair[0].gain <= pair[1].gain + 1e-12 && pair[0].coancestry < pair[1].coancestry);
        }
        for three in points.windows(3) {
            let slope = |a: &Shares, b: &Shares| (b.gain - a.gain) / (b.coancestry - a.coancestry);
            assert!(slope(&three[0], &three[1]) >= slope(&three[1], &three[2]) - 1e-6);
        }
        assert_eq!(points[20].gain_per_coancestry, Some(0.0));
    }
}

#[test]
fn what_cannot_be_is_refused_with_its_reason() {
    let ask = |gains: &[f64], coancestry: &[f64], most: &[f64]| {
        optimum_shares(
            Candidates {
                gains,
                coancestry,
                most,
            },
            0.2,
        )
    };
    assert_eq!(ask(&[], &[], &[]), Err(NoShares::Unfit));
    assert_eq!(ask(&[1.0], &[0.125, 0.0], &[1.0]), Err(NoShares::Unfit));
    assert_eq!(ask(&[f64::NAN], &[0.125], &[1.0]), Err(NoShares::Unfit));
    assert_eq!(ask(&[1.0], &[0.125], &[1.5]), Err(NoShares::Unfit));
    assert_eq!(
        ask(&[1.0, 2.0], &[0.1, 0.02, 0.01, 0.1], &[1.0; 2]),
        Err(NoShares::Unfit)
    );
    match ask(&[1.0, 2.0], &[0.1, 0.0, 0.0, 0.1], &[0.25, 0.5]) {
        Err(NoShares::TooLittle { reach }) => assert!(near(reach, 0.75, 1e-12)),
        other => panic!("{other:?}"),
    }
    assert_eq!(ask(&[1.0], &[0.125], &[1.0]).unwrap().shares, [1.0]);
    // All alike: equal shares have the least coancestry of equal gains.
    let found = ask(
        &[0.7; 4],
        &[
            0.125, 0.0, 0.0, 0.0, 0.0, 0.125, 0.0, 0.0, 0.0, 0.0, 0.125, 0.0, 0.0, 0.0, 0.0, 0.125,
        ],
        &[1.0; 4],
    );
    assert!(all_near(&found.unwrap().shares, &[0.25; 4], 1e-12));
}

/// Ears with the same kinship to all, themselves included, cannot be told apart; the sum of their shares can.
#[test]
fn copies_of_an_ear_do_no_harm() {
    let matrix = [0.125, 0.125, 0.0, 0.125, 0.125, 0.0, 0.0, 0.0, 0.125];
    let candidates = Candidates {
        gains: &[0.9, 0.9, 0.6],
        coancestry: &matrix,
        most: &[1.0; 3],
    };
    let found = optimum_shares(candidates, 0.08).unwrap();
    // Of two ears with shares x and 1 - x: (x^2 + (1 - x)^2) / 8 = 0.08.
    let x = f64::midpoint(1.0, 0.28_f64.sqrt());
    assert!(near(found.shares[0] + found.shares[1], x, 1e-9), "{found:?}");
}

prop_compose! {
    fn drawn()(n in prop_oneof![1_usize..5, 5_usize..14])(
        gains in proptest::collection::vec(0_u8..12, n),
        groups in proptest::collection::vec(0_u8..4, n),
        most in proptest::collection::vec(0_u32..40, n),
        kernels in 1_u32..40,
        part in 0.0..1.0_f64,
    ) -> (Vec<f64>, Vec<u8>, Vec<u32>, u32, f64) {
        (gains.into_iter().map(|gain| f64::from(gain) / 12.0).collect(), groups, most, kernels, part)
    }
}

/// Two ears that are alike could swap a kernel for ever; the third one must be asked.
#[test]
fn a_move_that_saves_nothing_is_not_made_for_ever() {
    let matrix = [0.125, 0.03125, 0.0, 0.03125, 0.125, 0.0, 0.0, 0.0, 0.125];
    let candidates = Candidates {
        gains: &[0.0, 0.75, 0.75],
        coancestry: &matrix,
        most: &[1.0 / 17.0, 9.0 / 17.0, 9.0 / 17.0],
    };
    let ceiling = 0.0623;
    let best = optimum_shares(candidates, ceiling).unwrap();
    let whole = whole_kernels(candidates, &best.shares, 17, &[1, 9, 9], ceiling).unwrap();
    assert_eq!((whole[0], whole.iter().sum::<u32>()), (1, 17));
}

/// Whether there are whole kernels at all, by trying each way to divide them among up to four ears. More are not tried.
fn some_whole(matrix: &[f64], packets: &[u32], kernels: u32, ceiling: f64) -> bool {
    let n = packets.len();
    if n > 4 {
        return false;
    }
    let mut ways = vec![Vec::new()];
    for packet in packets {
        let longer = |way: &Vec<u32>| {
            let left = kernels - way.iter().sum::<u32>();
            let way = way.clone();
            (0..=left.min(*packet))
                .map(move |one| [way.clone(), vec![one]].concat())
                .collect::<Vec<_>>()
        };
        ways = ways.iter().flat_map(longer).collect();
    }
    ways.iter()
        .filter(|way| way.iter().sum::<u32>() == kernels)
        .any(|way| {
            let share = |ear: usize| f64::from(way[ear]) / f64::from(kernels);
            let mean: f64 = (0..n * n)
                .map(|at| share(at / n) * share(at % n) * matrix[at])
                .sum();
            mean <= ceiling - 1e-12
        })
}

proptest! {
    /// Whole kernels keep the sum, the packets and the ceiling, and cost little.
    #[test]
    fn whole_kernels_keep_what_was_promised((gains, groups, packets, kernels, part) in drawn()) {
        let n = gains.len();
        let matrix: Vec<f64> = (0..n * n).map(|at| match (at / n, at % n) {
            (a, b) if a == b => 0.125,
            (a, b) if groups[a] == groups[b] => 0.031_25,
            _ => 0.0,
        }).collect();
        let most: Vec<f64> = packets.iter().map(|packet| (f64::from(*packet) / f64::from(kernels)).min(1.0)).collect();
        let candidates = Candidates { gains: &gains, coancestry: &matrix, most: &most };
        let enough = packets.iter().sum::<u32>() >= kernels;
        let points = match frontier(candidates, 2) {
            Ok(points) => points,
            Err(NoShares::TooLittle { .. }) => { prop_assert!(!enough); return Ok(()); }
            Err(other) => return Err(TestCaseError::fail(other.to_string())),
        };
        let (least, most_of_all) = (points[0].coancestry, points[points.len() - 1].coancestry);
        let ceiling = least + part * (most_of_all - least);
        let best = optimum_shares(candidates, ceiling * (1.0 + 1e-12)).unwrap();
        prop_assert!(best.coancestry <= ceiling * (1.0 + 1e-8));
        prop_assert!(near(best.shares.iter().sum::<f64>(), 1.0, 1e-9));
        prop_assert!(best.shares.iter().zip(&most).all(|(share, most)| (0.0..=most + 1e-12).contains(share)));
        if let Some(whole) = whole_kernels(candidates, &best.shares, kernels, &packets, ceiling) {
            prop_assert_eq!(whole.iter().sum::<u32>(), kernels);
            prop_assert!(whole.iter().zip(&packets).all(|(kernels, packet)| kernels <= packet));
            let share: Vec<f64> = whole.iter().map(|one| f64::from(*one) / f64::from(kernels)).collect();
            let mean: f64 = (0..n * n).map(|at| share[at / n] * share[at % n] * matrix[at]).sum();
            prop_assert!(mean <= ceiling + 1e-12);
            let gain: f64 = share.iter().zip(&gains).map(|(share, gain)| share * gain).sum();
            prop_assert!(gain <= best.gain + 1e-8);
        } else {
            prop_assert!(!some_whole(&matrix, &packets, kernels, ceiling), "there are whole kernels");
        }
    }
}

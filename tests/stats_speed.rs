//! Speed of germination against published and computed cases.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use proptest::prelude::*;
use serde_json::Value;
use wintercrib::stats::speed::{Course, CourseFault, HalfTime, Inspection, NotObserved};

/// Sources are named in the file.
fn reference() -> Value {
    serde_json::from_str(include_str!("reference/speed.json")).unwrap()
}

#[track_caller]
fn assert_close(actual: f64, expected: f64, relative: f64) {
    assert!(
        (actual - expected).abs() <= relative * expected.abs().max(1e-300),
        "{actual} is not {expected} to within {relative}"
    );
}

fn course(sown: u32, counts: &[(f64, u32)]) -> Course {
    Course::new(
        sown,
        counts.iter().map(|&(day, new)| Inspection { day, new }).collect(),
    )
    .unwrap()
}

fn day(time: HalfTime) -> f64 {
    match time {
        HalfTime::At { day } => day,
        other => panic!("{other:?}"),
    }
}

/// Columns: counts, sown, then S, MGT, s2, CVt %, CUG, T50 Coolbear, T50 Farooq, U, Z. Computed by hand from the
/// formulas named at each measure; no published case with printed input and answer was found.
#[test]
fn measures_agree_with_hand_worked_cases() {
    type Row = (&'static [(f64, u32)], u32, [f64; 9]);
    let rows: [Row; 3] = [
        (
            &[(3.0, 2), (4.0, 5), (5.0, 2), (6.0, 1)],
            10,
            [
                2.483_333, 4.2, 0.844_444, 21.8794, 1.315_789, 3.7, 3.6, 1.760_964, 0.266_667,
            ],
        ),
        (
            &[(3.0, 4), (4.0, 8), (5.0, 2), (7.0, 0)],
            15,
            [
                3.733_333, 3.857_143, 0.439_560, 17.1887, 2.45, 3.4375, 3.375, 1.378_783, 0.384_615,
            ],
        ),
        (
            &[(2.0, 0), (3.0, 1), (4.0, 3), (5.0, 4), (6.0, 2), (7.0, 1)],
            12,
            [
                2.359_524, 4.909_091, 1.290_909, 23.1444, 0.852_113, 4.5, 4.375, 2.118_078, 0.181_818,
            ],
        ),
    ];
    for (counts, sown, expected) in rows {
        let course = course(sown, counts);
        let found = course.measures().unwrap();
        let ours = [
            found.speed_index,
            found.mean_time,
            found.variance.unwrap(),
            found.variation_percent.unwrap(),
            found.uniformity,
            day(course.half_time()),
            day(course.plain_half_time()),
            found.uncertainty,
            found.synchrony.unwrap(),
        ];
        for (ours, expected) in ours.iter().zip(expected) {
            assert_close(*ours, expected, 2e-6);
        }
    }
    // Two counts, 80 on day 4 and 15 on day 7: more than half were up at the first.
    let federal = course(100, &[(4.0, 80), (7.0, 15)]);
    assert_close(federal.measures().unwrap().mean_time, 4.473_684, 1e-6);
    assert_eq!(federal.half_time(), HalfTime::NotAfter { day: 4.0 });
}

#[test]
fn what_was_not_observed_is_no_number() {
    let none = course(10, &[(4.0, 0), (7.0, 0)]);
    assert_eq!(none.measures(), Err(NotObserved::NothingGerminated));
    assert_eq!(none.half_time(), HalfTime::NothingGerminated);
    assert_eq!(none.fit(), Err(NotObserved::NothingGerminated));
    assert_eq!(course(0, &[]).fit(), Err(NotObserved::NothingGerminated));
    let one = NotObserved::OneInterval {
        after: 3.0,
        until: 4.0,
    };
    let at_once = course(10, &[(3.0, 0), (4.0, 10)]);
    assert_eq!((at_once.measures(), at_once.fit()), (Err(one), Err(one)));
    assert_eq!(at_once.fit_without_ceiling(), Err(one));
    let two = NotObserved::TwoIntervals {
        after: 0.0,
        until: 7.0,
    };
    let twice = course(12, &[(4.0, 6), (7.0, 4)]);
    assert_eq!(twice.fit(), Err(two));
    // With the ceiling at 1 the kernels that never came up bound the spread.
    assert!(twice.fit_without_ceiling().is_ok());
    assert_eq!(course(10, &[(4.0, 6), (7.0, 4)]).fit_without_ceiling(), Err(two));
}

#[test]
fn impossible_courses_are_refused() {
    let inspections = |days: &[f64]| {
        days.iter()
            .map(|&day| Inspection { day, new: 3 })
            .collect::<Vec<_>>()
    };
    assert_eq!(
        Course::new(9, inspections(&[0.0])),
        Err(CourseFault::Day { index: 0 })
    );
    assert_eq!(
        Course::new(9, inspections(&[2.0, 2.0])),
        Err(CourseFault::Day { index: 1 })
    );
    assert_eq!(
        Course::new(9, inspections(&[2.0, f64::NAN])),
        Err(CourseFault::Day { index: 1 })
    );
    let above = CourseFault::AboveSown {
        germinated: 6,
        sown: 5,
    };
    assert_eq!(Course::new(5, inspections(&[1.0, 2.0])), Err(above));
}

/// The inspections of the published sets, those that saw nothing included as far as they bound an interval.
fn published(case: &Value) -> Course {
    let mut inspections: Vec<Inspection> = Vec::new();
    let mut sown = 0;
    for row in case["counts"].as_array().unwrap() {
        let after = row[0].as_f64().unwrap();
        let new = row[2].as_u64().unwrap() as u32;
        sown += new;
        if inspections.last().map_or(0.0, |last| last.day) < after {
            inspections.push(Inspection { day: after, new: 0 });
        }
        if let Some(until) = row[1].as_f64() {
            inspections.push(Inspection { day: until, new });
        }
    }
    Course::new(sown, inspections).unwrap()
}

#[test]
fn time_courses_of_wheat_rice_and_mung_bean_agree() {
    let file = reference();
    let mut fitted = 0;
    for (name, case) in file["cases"].as_object().unwrap() {
        if case.get("counts").is_none() {
            continue;
        }
        let course = published(case);
        let simple = &case["simple"];
        let measures = course.measures().unwrap();
        assert_close(
            measures.mean_time,
            simple["MGT_end_of_interval"].as_f64().unwrap(),
            1e-10,
        );
        assert_close(
            measures.mean_time_midpoint,
            simple["MGT_midpoint"].as_f64().unwrap(),
            1e-10,
        );
        for (ours, key) in [
            (course.half_time(), "T50_Coolbear1984_target_half_N_plus_1"),
            (course.plain_half_time(), "T50_Farooq2005_target_half_N"),
        ] {
            if let HalfTime::At { day } = ours {
                assert_close(day, simple[key].as_f64().unwrap(), 1e-10);
            }
        }
        for (found, key) in [
            (course.fit_without_ceiling(), "LL2_d_fixed_1"),
            (course.fit(), "LL3_d_free"),
        ] {
            let expected = &case[key];
            let Ok(found) = found else {
                panic!("{name} {key}: {found:?}")
            };
            // The expected figures come from a search without slopes: six digits.
            assert_close(found.log_likelihood, expected["loglik"].as_f64().unwrap(), 1e-9);
            assert_close(
                found.half_day,
                expected["e_T50_of_germinating"].as_f64().unwrap(),
                2e-6,
            );
            assert_close(found.shape, expected["b_shape"].as_f64().unwrap(), 2e-5);
            assert_close(found.ceiling, expected["d_max"].as_f64().unwrap(), 2e-6);
            assert!(found.gradient_norm < 1e-9);
            if let Some(errors) = expected["se"].as_array() {
                assert_close(found.shape_error.unwrap(), errors[0].as_f64().unwrap(), 1e-3);
                assert_close(found.half_day_error.unwrap(), errors[1].as_f64().unwrap(), 1e-3);
            }
            if let Some(half) = expected["t_at_50pct_of_all_sown"].as_f64() {
                assert_close(found.half_of_all().unwrap(), half, 1e-3);
            }
            fitted += 1;
        }
    }
    assert_eq!(fitted, 20);
}

#[test]
fn chickweed_agrees_with_the_published_fit() {
    let file = reference();
    let counts = [
        (12.0, 0),
        (22.0, 0),
        (30.0, 0),
        (36.0, 0),
        (46.0, 0),
        (54.0, 0),
        (60.0, 0),
        (71.0, 0),
        (78.0, 0),
        (84.0, 0),
        (95.0, 0),
        (103.0, 0),
        (109.0, 0),
        (120.0, 0),
        (129.0, 0),
        (133.0, 0),
        (143.0, 2),
        (151.0, 0),
        (158.5, 0),
        (169.5, 0),
        (176.5, 0),
        (182.5, 3),
        (192.5, 10),
        (200.5, 11),
        (206.5, 6),
        (216.5, 5),
        (224.5, 2),
        (230.5, 0),
        (241.5, 0),
        (249.5, 0),
        (254.5, 0),
        (266.5, 0),
        (276.5, 1),
        (281.5, 0),
    ];
    let found = course(200, &counts).fit().unwrap();
    let expected = &file["cases"]["chickweed"];
    assert_close(found.shape, expected["LL3"]["b_shape"].as_f64().unwrap(), 2e-6);
    assert_close(
        found.half_day,
        expected["LL3"]["e_T50_of_germinating"].as_f64().unwrap(),
        2e-7,
    );
    assert_close(found.ceiling, expected["LL3"]["d_max"].as_f64().unwrap(), 2e-7);
    assert_close(
        found.log_likelihood,
        expected["LL3"]["loglik"].as_f64().unwrap(),
        1e-10,
    );
    let errors = expected["LL3"]["se"].as_array().unwrap();
    for (ours, expected) in [found.shape_error, found.half_day_error, found.ceiling_error]
        .into_iter()
        .zip(errors)
    {
        assert_close(ours.unwrap(), expected.as_f64().unwrap(), 1e-4);
    }
    // Ritz, Pipper and Streibig 2013 printed b 20.77 (with the other sign), d 0.2001, e 196.05 (from memory).
    assert!((found.shape - 20.77).abs() < 0.005);
    assert!((found.ceiling - 0.2001).abs() < 0.5e-4 && (found.half_day - 196.05).abs() < 0.005);
    assert_eq!(found.half_of_all(), None);
}

#[test]
fn twelve_kernels_counted_four_times() {
    let file = reference();
    let case = &file["cases"]["corn_like_12_seeds"];
    let course = course(12, &[(7.0, 1), (10.0, 4), (14.0, 3), (21.0, 2)]);
    for (found, key) in [(course.fit_without_ceiling(), "LL2"), (course.fit(), "LL3")] {
        let found = found.unwrap();
        assert_close(found.log_likelihood, case[key]["loglik"].as_f64().unwrap(), 1e-10);
        assert_close(
            found.half_day,
            case[key]["e_T50_of_germinating"].as_f64().unwrap(),
            1e-6,
        );
        assert_close(found.shape, case[key]["b_shape"].as_f64().unwrap(), 1e-5);
        assert_close(found.ceiling, case[key]["d_max"].as_f64().unwrap(), 1e-6);
        assert_close(
            found.half_day_error.unwrap(),
            case[key]["se"][1].as_f64().unwrap(),
            1e-4,
        );
        assert_close(found.share_by(found.half_day), 0.5 * found.ceiling, 1e-12);
    }
    assert_eq!(course.germinated(), 10);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn any_course_gives_a_fit_or_a_reason(
        new in proptest::collection::vec(0..5_u32, 1..7), never in 0..6_u32, gap in 0.5..9.0_f64,
    ) {
        let sown = new.iter().sum::<u32>() + never;
        let counts: Vec<(f64, u32)> =
            new.iter().enumerate().map(|(index, &new)| (gap * (index + 1) as f64, new)).collect();
        let course = course(sown, &counts);
        for found in [course.fit(), course.fit_without_ceiling()] {
            match found {
                Ok(found) => {
                    prop_assert!(found.shape > 0.0 && found.half_day > 0.0);
                    prop_assert!(found.ceiling > 0.0 && found.ceiling <= 1.0);
                    prop_assert!(found.log_likelihood <= 0.0 && found.gradient_norm < 1e-8);
                }
                Err(reason) => prop_assert_ne!(reason, NotObserved::NotSettled),
            }
        }
    }
}

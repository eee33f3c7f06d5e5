//! Degree days of a day of which the high and the low are known.

/// Gives the degree days of a day: the mean of its high and its low above `base`, where both are first brought within
/// `base` and `cap`. It is never negative and never above `cap - base`. All are in one unit; so is the result, times a day.
///
/// Bringing the low up to the base *before* the mean is what corn is reckoned by: with 86 and 50 °F it is the modified
/// growing degree day (Gilmore and Rogers 1958; OSU Extension AGF-101, Eckert and Thomison 2017; AMS Glossary of
/// Meteorology, 'corn heat unit'). Method 2 of `McMaster` and Wilhelm 1997, Agric. For. Meteorol. 87:291-300; their method 1,
/// which takes the mean first, gives less on days with a cold night.
///
/// A temperature that is no number gives no number.
pub fn degree_day(high: f64, low: f64, base: f64, cap: f64) -> f64 {
    let within = |value: f64| {
        if value.is_nan() {
            value
        } else {
            value.min(cap).max(base)
        }
    };
    f64::midpoint(within(high), within(low)) - base
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The 86/50 °F degree days of a day.
    fn corn(high: f64, low: f64) -> f64 {
        degree_day(high, low, 50.0, 86.0)
    }

    #[test]
    fn printed_examples_come_out_as_printed() {
        for (high, low, printed, source) in [
            (80.0, 60.0, 20.0, "OSU Extension AGF-101, 2017"),
            (60.0, 40.0, 5.0, "OSU Extension AGF-101, 2017"),
            (90.0, 70.0, 28.0, "OSU Extension AGF-101, 2017"),
            (
                80.0,
                55.0,
                17.5,
                "Purdue Extension, Heat unit concepts related to corn development",
            ),
            (87.0, 63.0, 24.5, "Karhoff, OSU Extension, as printed by wfin.com"),
            (
                90.0,
                65.0,
                25.5,
                "Waushara Argus, Calculating growing degree days",
            ),
            (
                72.0,
                46.0,
                11.0,
                "Waushara Argus, Calculating growing degree days",
            ),
            (63.0, 42.0, 6.5, "Waushara Argus, Calculating growing degree days"),
            (70.0, 50.0, 10.0, "Iowa State University, Agronomy 541, lesson 2b"),
            (60.0, 45.0, 5.0, "Sheridan Express, April 2009: 5 a day"),
            (90.0, 70.0, 28.0, "Ritchison, Just two weeks: 28, not 30"),
            // Nine days that a seed company's page prints, article 230.
            (72.0, 40.0, 11.0, "seed company's page"),
            (73.0, 53.0, 13.0, "seed company's page"),
            (78.0, 50.0, 14.0, "seed company's page"),
            (81.0, 56.0, 18.5, "seed company's page"),
            (62.0, 54.0, 8.0, "seed company's page"),
            (58.0, 43.0, 4.0, "seed company's page"),
            (60.0, 38.0, 5.0, "seed company's page"),
            (54.0, 35.0, 2.0, "seed company's page"),
            (60.0, 30.0, 5.0, "seed company's page"),
        ] {
            assert!(
                (corn(high, low) - printed).abs() < 1e-12,
                "{high}/{low}: {source}"
            );
        }
        // The sum of three days as the Waushara Argus prints it.
        let sum: f64 = [(90.0, 65.0), (72.0, 46.0), (63.0, 42.0)]
            .map(|(high, low)| corn(high, low))
            .iter()
            .sum();
        assert!((sum - 43.0).abs() < 1e-12);
    }

    #[test]
    fn edges_are_as_reckoned_by_hand() {
        for (high, low, by_hand) in [
            (49.0, 35.0, 0.0),
            (51.0, 20.0, 0.5),
            (86.0, 50.0, 18.0),
            (86.0, 86.0, 36.0),
            (100.0, 90.0, 36.0),
            (95.0, 65.0, 25.5),
            (90.0, 55.0, 20.5),
        ] {
            assert!((corn(high, low) - by_hand).abs() < 1e-12, "{high}/{low}");
        }
    }

    /// Where taking the mean first, or not bringing the temperatures within limits, gives another number.
    #[test]
    fn other_ways_to_reckon_are_not_taken() {
        let mean_first = |high: f64, low: f64| (f64::midpoint(high, low) - 50.0).max(0.0);
        for (high, low, other, ours) in [
            // OSU Bulletin 827 prints plain degree days of 70/45 above 50 °F as 7.5.
            (70.0, 45.0, 7.5, 10.0),
            // Methods 1 and 2 of McMaster and Wilhelm 1997, reckoned by hand; the cap makes the last one the smaller.
            (60.0, 40.0, 0.0, 5.0),
            (63.0, 42.0, 2.5, 6.5),
            (70.0, 40.0, 5.0, 10.0),
            (72.0, 46.0, 9.0, 11.0),
            (90.0, 55.0, 22.5, 20.5),
            (80.0, 60.0, 20.0, 20.0),
        ] {
            assert!((mean_first(high, low) - other).abs() < 1e-12, "{high}/{low}");
            assert!((corn(high, low) - ours).abs() < 1e-12, "{high}/{low}");
        }
    }

    proptest! {
        #[test]
        fn it_is_bounded_and_never_falls_as_a_day_gets_warmer(
            high in -60.0..130.0_f64, low in -60.0..130.0_f64, more in 0.0..40.0_f64
        ) {
            let one = corn(high, low);
            prop_assert!((0.0..=36.0).contains(&one));
            prop_assert!(corn(high + more, low) >= one && corn(high, low + more) >= one);
            // In degrees Celsius it is the same heat in another unit.
            let celsius = |degrees: f64| (degrees - 32.0) / 1.8;
            let other = degree_day(celsius(high), celsius(low), 10.0, 30.0);
            prop_assert!((1.8 * other - one).abs() < 1e-9);
        }
    }

    #[test]
    fn what_is_no_number_gives_none() {
        assert!(degree_day(f64::NAN, 1.0, 10.0, 30.0).is_nan());
        assert!(degree_day(1.0, f64::NAN, 10.0, 30.0).is_nan());
    }
}

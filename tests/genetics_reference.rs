//! Selection intensity, response, half-sib families and inbreeding against published and computed
//! values, and with input that has no answer.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use serde_json::Value;
use wintercrib::genetics::half_sib::{
    correlation_from_chi_square, family_mean_heritability, gain, inherited_part, left_by_outside_pollen,
    logit_correlation,
};
use wintercrib::genetics::inbreeding::{
    effective_size_across, inbreeding_after, pool_coancestry, status_number,
};
use wintercrib::genetics::{
    Group, Kinship, Recombination, Span, correlated_response, effective_size, finite_intensity, kinship,
    likeness, line, rate_of_inbreeding, response, response_span, shift, truncation,
};
use wintercrib::genetics::{Term, index, terms};
use wintercrib::stats::{Counts, Cutoff, Posterior, fit};

/// The source is named in the file.
fn reference() -> Value {
    serde_json::from_str(include_str!("reference/genetics.json")).unwrap()
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

fn list(value: &Value) -> &[Value] {
    value.as_array().unwrap()
}

#[track_caller]
fn close(found: f64, expected: f64, relative: f64) {
    let most = relative * expected.abs().max(1e-12);
    assert!(
        (found - expected).abs() <= most,
        "{found} is not {expected}, off by {:e} of it",
        (found - expected).abs() / expected.abs()
    );
}

/// 24 invented ears: germinated and counted kernels, maturity days. The counts are those of the beta-binomial checks.
const EARS: [(u32, u32, f64); 24] = [
    (9, 12, 92.0),
    (11, 12, 97.0),
    (5, 12, 88.0),
    (12, 12, 101.0),
    (7, 10, 90.0),
    (10, 10, 104.0),
    (3, 12, 85.0),
    (17, 24, 93.0),
    (12, 15, 96.0),
    (6, 15, 89.0),
    (13, 15, 99.0),
    (28, 36, 95.0),
    (2, 10, 84.0),
    (9, 10, 94.0),
    (11, 15, 91.0),
    (0, 12, 83.0),
    (8, 12, 90.0),
    (10, 12, 100.0),
    (13, 24, 87.0),
    (14, 15, 98.0),
    (7, 12, 92.0),
    (24, 24, 103.0),
    (6, 10, 86.0),
    (8, 10, 93.0),
];

fn counts() -> Vec<Counts> {
    EARS.iter()
        .map(|(k, n, _)| Counts::new(*k, *n).unwrap())
        .collect()
}

#[test]
fn intensity_in_a_large_population() {
    // Falconer and Mackay 1996, Appendix Table A, three decimals (from memory); two decimals as printed in a public
    // table of selection intensities. The remembered 3.960 at 0.01 % is the one that does not agree.
    for row in list(&reference()["infinite"]) {
        let p = number(&row["p"]);
        let found = truncation(p).unwrap();
        close(found.intensity, number(&row["i"]), 1e-8);
        close(found.density, number(&row["z"]), 1e-8);
        assert!((found.point - number(&row["x"])).abs() < 1e-8);
        close(found.variance_lost, number(&row["k_variance_reduction"]), 1e-8);
        if let Some(printed) = row["falconer_memory_i"].as_f64().filter(|_| p > 0.0005) {
            assert!((found.intensity - printed).abs() < 0.00051, "{p}");
        }
        if let Some(printed) = row["seen_i_2dp"].as_f64() {
            assert!((found.intensity - printed).abs() < 0.0051, "{p}");
        }
    }
}

#[test]
fn intensity_of_the_best_of_few() {
    let file = reference();
    for row in list(&file["finite"]) {
        let (kept, all) = (number(&row["s"]) as usize, number(&row["N"]) as usize);
        let found = finite_intensity(kept, all).unwrap();
        assert!(
            (found - number(&row["exact"])).abs() < 1e-8,
            "{kept} of {all}: {found}"
        );
    }
    // David and Nagaraja, Order Statistics, five decimals (from memory).
    for (all, printed) in file["largest_memory"].as_object().unwrap() {
        let found = finite_intensity(1, all.parse().unwrap()).unwrap();
        assert!((found - number(printed)).abs() < 0.000_006, "{all}: {found}");
    }
    for (all, exact) in file["largest"].as_object().unwrap() {
        close(
            finite_intensity(1, all.parse().unwrap()).unwrap(),
            number(exact),
            1e-8,
        );
    }
    // The best of two: 1 / sqrt(pi); of three: 3 / (2 sqrt(pi)).
    let root = std::f64::consts::PI.sqrt();
    close(finite_intensity(1, 2).unwrap(), 1.0 / root, 1e-12);
    close(finite_intensity(1, 3).unwrap(), 1.5 / root, 1e-12);
}

#[test]
fn the_best_and_the_rest_of_a_sample_balance_and_large_samples_reach_the_limit() {
    for (kept, all) in [
        (1, 5),
        (3, 10),
        (40, 250),
        (249, 250),
        (2_500, 10_000),
        (9_999, 10_000),
    ] {
        let best = finite_intensity(kept, all).unwrap() * kept as f64;
        let rest = finite_intensity(all - kept, all).unwrap() * (all - kept) as f64;
        close(best, rest, 1e-9);
    }
    let mut last = f64::INFINITY;
    for kept in 1..=60 {
        let now = finite_intensity(kept, 60).unwrap();
        assert!(now < last, "{kept}");
        last = now;
    }
    let limit = truncation(0.25).unwrap().intensity;
    let huge = finite_intensity(250_000, 1_000_000).unwrap();
    assert!(huge < limit && limit - huge < 1e-5, "{huge}");
}

#[test]
fn intensities_without_an_answer() {
    assert_eq!(finite_intensity(0, 10), None);
    assert_eq!(finite_intensity(11, 10), None);
    assert_eq!(finite_intensity(0, 0), None);
    assert_eq!(finite_intensity(10, 10), Some(0.0));
    assert_eq!(finite_intensity(1, 1), Some(0.0));
    assert!(truncation(1.0).unwrap().intensity.abs() < 1e-300);
    assert_eq!(truncation(0.0), None);
    assert_eq!(truncation(1.5), None);
    assert_eq!(truncation(f64::NAN), None);
}

#[test]
fn the_breeders_equation() {
    let file = reference();
    let row = &file["breeders_equation"];
    let found = response(number(&row["i"]), number(&row["h2"]), number(&row["VP"]).sqrt()).unwrap();
    close(found, number(&row["R"]), 1e-12);
    let span = response_span(1.5, Span { low: 0.1, high: 0.4 }, 10.0).unwrap();
    close(span.low, 1.5, 1e-12);
    close(span.high, 6.0, 1e-12);
    // Low is good: the response is negative, and the larger heritability gives the lower end.
    let down = response_span(-1.5, Span { low: 0.1, high: 0.4 }, 10.0).unwrap();
    close(down.low, -6.0, 1e-12);
    close(down.high, -1.5, 1e-12);
    assert_eq!(response(1.0, 1.1, 1.0), None);
    assert_eq!(response(1.0, 0.5, -1.0), None);
    assert_eq!(response(f64::NAN, 0.5, 1.0), None);
    assert_eq!(response_span(1.0, Span { low: 0.5, high: 0.4 }, 1.0), None);
}

#[test]
fn the_correlated_response() {
    // Falconer and Mackay 1996, eq. 19.6.
    let file = reference();
    let row = &file["correlated"];
    let (i, x, y) = (number(&row["i"]), number(&row["h2X"]), number(&row["h2Y"]));
    let (r, deviation) = (number(&row["rA"]), number(&row["sigmaPY"]));
    let found = correlated_response(i, (x, y), r, deviation).unwrap();
    close(found, number(&row["CR_Y"]), 1e-12);
    let direct = response(i, y, deviation).unwrap();
    close(direct, number(&row["direct_R_Y"]), 1e-12);
    close(found / direct, number(&row["ratio"]), 1e-12);
    assert_eq!(correlated_response(i, (x, 0.0), r, deviation), Some(0.0));
    assert_eq!(correlated_response(i, (x, y), 1.1, deviation), None);
    assert_eq!(correlated_response(i, (-0.1, y), r, deviation), None);
}

#[test]
fn how_alike_kernels_of_one_ear_are() {
    let file = reference();
    let row = &file["likeness"];
    let found = likeness(&counts()).unwrap();
    assert_eq!(found.ears, 24);
    close(found.kernels, 351.0, 1e-12);
    close(found.among, number(&row["MSB"]), 1e-10);
    close(found.within, number(&row["MSW"]), 1e-10);
    close(found.kernels_each, number(&row["n0"]), 1e-10);
    close(found.correlation, number(&row["t"]), 1e-10);
    close(found.standard_error, number(&row["se_t_Swiger1964"]), 1e-10);
    close(
        found.heritability_at_most(),
        number(&row["h2_observed_4t"]),
        1e-10,
    );
    let by_chi_square = correlation_from_chi_square(&counts()).unwrap();
    close(by_chi_square, number(&row["t_from_chi2"]), 1e-10);
}

#[test]
fn likeness_without_an_answer() {
    let ears = |ears: &[(u32, u32)]| -> Vec<Counts> {
        ears.iter().map(|(k, n)| Counts::new(*k, *n).unwrap()).collect()
    };
    for none in [
        &[][..],
        &[(3, 10)],
        &[(0, 10), (0, 12)],
        &[(10, 10), (12, 12)],
        &[(1, 1), (0, 1), (1, 1)],
        &[(3, 10), (0, 0)],
    ] {
        assert_eq!(likeness(&ears(none)), None, "{none:?}");
        assert_eq!(correlation_from_chi_square(&ears(none)), None, "{none:?}");
    }
    // Ears that differ less than chance makes them differ: never a heritability below 0.
    let even = likeness(&ears(&[(5, 10), (5, 10), (5, 10)])).unwrap();
    assert!(even.correlation < 0.0);
    assert!(even.heritability_at_most().abs() < 1e-300);
    assert_eq!(inherited_part(0.3, even.correlation), None);
    // Every ear fully or not at all: never above 1.
    let apart = likeness(&ears(&[(10, 10), (0, 10), (10, 10)])).unwrap();
    close(apart.correlation, 1.0, 1e-12);
    close(apart.heritability_at_most(), 1.0, 1e-12);
}

#[test]
fn the_heritability_of_family_means() {
    for row in list(&reference()["family_mean"]) {
        let whole = |key: &str| number(&row[key]) as u32;
        let found = family_mean_heritability(
            number(&row["sigma2_f"]),
            number(&row["sigma2_cell"]),
            number(&row["sigma2_within"]),
            (whole("cells"), whole("seeds_per_cell")),
        );
        close(found.unwrap(), number(&row["h2_family_mean"]), 1e-12);
    }
    assert_eq!(family_mean_heritability(0.0, 0.0, 0.0, (1, 12)), None);
    assert_eq!(family_mean_heritability(0.1, 0.0, 0.2, (0, 12)), None);
    assert_eq!(family_mean_heritability(-0.1, 0.0, 0.2, (1, 12)), None);
    close(
        family_mean_heritability(0.0, 0.0, 0.2, (1, 12)).unwrap() + 1.0,
        1.0,
        1e-12,
    );
}

#[test]
fn the_gain_of_one_cycle() {
    let file = reference();
    let row = &file["gain"];
    let i = finite_intensity(25, 250).unwrap();
    close(i, number(&row["i_finite"]), 1e-10);
    let deviation = number(&row["sigma2_P_family_mean"]).sqrt();
    for (by, key) in [
        (Recombination::PollenUnselected, "R_female_only_pollen_unselected"),
        (
            Recombination::AloneTogether,
            "R_remnant_seed_recombined_in_isolation",
        ),
        (Recombination::Selfed, "R_selfed_seed_of_mothers_recombined"),
    ] {
        close(gain(by, i, 1.0, deviation).unwrap(), number(&row[key]), 1e-10);
    }
    // The simulated gain of that case, 4000 replicates.
    let simulated = &row["simulation"];
    let alone = gain(Recombination::AloneTogether, i, 1.0, deviation).unwrap();
    assert!((alone - number(&simulated["remnant"])).abs() < 3.0 * number(&simulated["se"][1]));
    for (share, expected) in row["contamination"].as_object().unwrap() {
        let share: f64 = share.trim_start_matches("m=").parse().unwrap();
        close(
            alone * left_by_outside_pollen(share).unwrap(),
            number(expected),
            1e-10,
        );
    }
    assert_eq!(gain(Recombination::Selfed, i, 1.0, 0.0), None);
    assert_eq!(left_by_outside_pollen(1.1), None);
    // The same gain from shrunk figures: the differential of likely means, i h2_f sigma_PF, times the inherited part.
    // Here all of the family variance is additive: VA = 1, VP = 2.5, t = 0.25 / 2.5, h2 = 1 / 2.5.
    let shrunk = i * number(&row["h2_family"]) * deviation;
    close(shrunk * inherited_part(0.4, 0.1).unwrap(), alone, 1e-10);
    close(shrunk * inherited_part(0.2, 0.1).unwrap(), 0.5 * alone, 1e-10);
}

#[test]
fn the_likeness_on_the_logit_scale() {
    let file = reference();
    let row = &file["logit"];
    let variance = number(&row["example_sigma2_ear"]);
    close(
        logit_correlation(variance).unwrap(),
        number(&row["icc_latent"]),
        1e-12,
    );
    assert_eq!(logit_correlation(-1.0), None);
}

#[test]
fn effective_size_and_inbreeding() {
    let file = reference();
    for row in list(&file["sizes"]) {
        let size = number(&row["Ne"]);
        close(rate_of_inbreeding(size).unwrap(), number(&row["dF"]), 1e-12);
        for (seasons, expected) in [1, 5, 10, 20].iter().zip(list(&row["F_after_1_5_10_20"])) {
            close(inbreeding_after(size, *seasons).unwrap(), number(expected), 1e-12);
        }
    }
    for row in list(&file["sexes"]) {
        let (mothers, fathers) = (number(&row["Nf"]), number(&row["Nm"]));
        let expected = number(&row["Ne"]);
        close(effective_size(mothers, fathers).unwrap(), expected, 1e-12);
        // The same by coancestry.
        let ears = vec![1.0; mothers as usize];
        let by_kinship = kinship(&ears, &ears)
            .unwrap()
            .with_pollen_plants(fathers)
            .unwrap();
        close(by_kinship.effective_size(), expected, 1e-12);
    }
    for row in list(&file["half_sib_ears"]) {
        let (ears, kernels) = (number(&row["N_ears"]), number(&row["seeds_per_ear"]));
        let expected = number(&row["Ns"]);
        if kernels > 0.0 {
            close(
                status_number(ears as u32, kernels as u32).unwrap(),
                expected,
                1e-12,
            );
        } else {
            let shares = vec![1.0; ears as usize];
            close(
                kinship(&shares, &shares).unwrap().effective_size(),
                expected,
                1e-12,
            );
        }
    }
    let shares = [0.4, 0.3, 0.15, 0.1, 0.05];
    close(
        kinship(&shares, &shares).unwrap().effective_size(),
        14.035_087_719_298_245,
        1e-12,
    );
    close(
        effective_size_across(&[100.0, 25.0, 100.0, 100.0]).unwrap(),
        57.142_857_142_857_146,
        1e-12,
    );
}

#[test]
fn kinship_in_a_closed_plot_follows_the_tabular_rule() {
    // The worked pedigree: four unrelated founders shed the pollen; a1 and a2 are of ear A, b1 of ear B, in an
    // equal pool of a closed field.
    let pool = pool_coancestry(4.0, 4.0).unwrap();
    close(pool, 0.125, 1e-12);
    let same_ear = Kinship { coancestry: 0.125 }.in_closed_plot(pool).unwrap();
    close(same_ear.coancestry, 0.21875, 1e-12);
    let two_ears = Kinship { coancestry: 0.0 }.in_closed_plot(pool).unwrap();
    close(two_ears.coancestry, 0.09375, 1e-12);
    // With unrelated pollen: seeds of two half sisters, as theta(a1x, a2x) of column U.
    let sisters = kinship(&[1.0, 1.0], &[2.0]).unwrap();
    close(sisters.coancestry, 0.5 * 0.125 + 0.5 * 0.03125, 1e-12);
}

#[test]
fn inbreeding_without_an_answer() {
    assert_eq!(kinship(&[], &[]), None);
    assert_eq!(kinship(&[0.0], &[0.0]), None);
    assert_eq!(kinship(&[-1.0], &[1.0]), None);
    // One ear: full half sisters only, Ne = 4.
    close(kinship(&[30.0], &[30.0]).unwrap().effective_size(), 4.0, 1e-12);
    assert_eq!(effective_size(0.0, 10.0), None);
    close(effective_size(7.0, f64::INFINITY).unwrap(), 28.0, 1e-12);
    assert_eq!(rate_of_inbreeding(0.0), None);
    assert_eq!(inbreeding_after(10.0, 0).map(f64::abs), Some(0.0));
    assert_eq!(status_number(0, 10), None);
    assert_eq!(status_number(10, 0), None);
    assert_eq!(effective_size_across(&[]), None);
    assert_eq!(effective_size_across(&[10.0, 0.0]), None);
    assert_eq!(pool_coancestry(3.0, 4.0), None);
    assert_eq!(pool_coancestry(0.0, 0.0), None);
    assert_eq!(Kinship { coancestry: 0.1 }.in_closed_plot(1.5), None);
    assert_eq!(Kinship { coancestry: 0.1 }.with_pollen_plants(0.0), None);
}

#[test]
fn the_ten_best_of_the_24_ears_flatter_themselves() {
    let cutoff = Cutoff::from_percent(80.0).unwrap();
    let prior = fit(&counts()).prior();
    let all: Vec<(f64, Posterior)> = counts()
        .iter()
        .map(|one| (one.rate().unwrap(), Posterior::new(prior, *one)))
        .collect();
    let kept: Vec<&(f64, Posterior)> = all.iter().filter(|one| one.0 >= 0.8).collect();
    assert_eq!(kept.len(), 10);
    let mean = |values: Vec<f64>| Group::from_iter(values).mean().unwrap();
    let observed = mean(kept.iter().map(|one| one.0).collect());
    let likely = mean(kept.iter().map(|one| one.1.mean()).collect());
    close(observed, 0.905, 1e-12);
    close(likely, 0.862_550_366_221_842_4, 1e-7);
    let reach: f64 = kept.iter().map(|one| one.1.probability_at_least(cutoff)).sum();
    close(reach, 7.495_988_254_250_053, 1e-7);
    close(
        observed - mean(all.iter().map(|one| one.0).collect()),
        0.222_592_592_592_592_56,
        1e-9,
    );
    // The shrunk differential is taken from the mean of all likely rates; the mean of the prior lies beside it.
    let shrunk = likely - mean(all.iter().map(|one| one.1.mean()).collect());
    close(shrunk, 0.179_759_598_081_479_45, 1e-7);
}

#[test]
fn what_maturity_tells_of_germination() {
    let file = reference();
    let expected = &file["line"];
    let rate = |k: u32, n: u32| f64::from(k) / f64::from(n);
    let found = line(EARS.iter().map(|(k, n, days)| (*days, rate(*k, *n), 1.0))).unwrap();
    close(found.mean_x, number(&expected["mean_days"]), 1e-12);
    close(found.mean_y, number(&expected["mean_p"]), 1e-12);
    close(found.slope, number(&expected["slope"]), 1e-10);
    close(found.intercept(), number(&expected["intercept"]), 1e-10);
    close(found.correlation, number(&expected["r"]), 1e-10);
    for (at, (k, n, days)) in EARS.iter().enumerate() {
        let residual = number(&expected["residuals"][format!("E{:02}", at + 1)]);
        assert!((found.residual(*days, rate(*k, *n)) - residual).abs() < 1e-10);
    }
    // The test of the slope is that of the correlation: t = r sqrt(n - 2) / sqrt(1 - r^2).
    let r = found.correlation;
    let t = r * 22.0_f64.sqrt() / (1.0 - r * r).sqrt();
    close(found.slope / found.slope_error.unwrap(), t, 1e-9);
    // Student's t of 22 degrees of freedom, 2.0739 (from memory of any table).
    let (middle, interval) = found.explained(10.0);
    let half = interval.unwrap().high - middle;
    assert!((half / (10.0 * found.slope_error.unwrap()) - 2.0739).abs() < 5e-5);

    let weighted = line(
        EARS.iter()
            .map(|(k, n, days)| (*days, rate(*k, *n), f64::from(*n))),
    )
    .unwrap();
    close(weighted.slope, number(&expected["weighted"]["slope"]), 1e-10);
    close(
        weighted.intercept(),
        number(&expected["weighted"]["intercept"]),
        1e-10,
    );
}

#[test]
fn lines_without_an_answer() {
    let of = |points: &[(f64, f64, f64)]| line(points.iter().copied());
    assert_eq!(of(&[]), None);
    assert_eq!(of(&[(90.0, 0.5, 1.0)]), None);
    assert_eq!(of(&[(90.0, 0.5, 1.0), (90.0, 0.7, 1.0), (90.0, 0.1, 1.0)]), None);
    assert_eq!(of(&[(90.0, f64::NAN, 1.0), (91.0, 0.7, 1.0)]), None);
    assert_eq!(of(&[(90.0, 0.5, 0.0), (91.0, 0.7, 1.0)]), None);
    let two = of(&[(90.0, 0.5, 1.0), (91.0, 0.7, 1.0)]).unwrap();
    assert_eq!(two.slope_error, None);
    assert_eq!(two.explained(1.0).1, None);
    let flat = of(&[(90.0, 0.5, 1.0), (91.0, 0.5, 1.0), (92.0, 0.5, 1.0)]).unwrap();
    assert!(flat.correlation.abs() < 1e-300);
}

#[test]
fn the_chosen_against_all() {
    // Means 13 and 10; the three others mean 7. Worked by hand: 1 - f = 1/2, Welch with variances 1 and 1 of 3 each,
    // 4 degrees of freedom, t = 2.7764 (from memory of any table): half the interval of 6, so 3 -+ 2.7764 sqrt(2/3) / 2.
    let chosen = Group::from_iter([12.0, 13.0, 14.0]);
    let all = Group::from_iter([12.0, 13.0, 14.0, 6.0, 7.0, 8.0]);
    let found = shift(chosen, all).unwrap();
    close(found.difference, 3.0, 1e-12);
    let half = 2.776_445 * (2.0_f64 / 3.0).sqrt() / 2.0;
    assert!((found.interval.unwrap().high - 3.0 - half).abs() < 1e-5);
    assert!((3.0 - half - found.interval.unwrap().low).abs() < 1e-5);
    // The variance of all six: (4 + 54) / 5.
    close(found.deviations.unwrap(), 3.0 / (58.0_f64 / 5.0).sqrt(), 1e-12);
    // 95 % interval of a mean of 3, 2 degrees of freedom, t = 4.3027 (from memory of any table).
    let mean = chosen.mean_95().unwrap();
    assert!((mean.high - 13.0 - 4.302_65 / 3.0_f64.sqrt()).abs() < 1e-4);
}

#[test]
fn shifts_without_an_answer() {
    let all = Group::from_iter([1.0, 2.0, 3.0]);
    assert_eq!(shift(Group::default(), all), None);
    assert_eq!(shift(all, Group::from_iter([1.0])), None);
    // All chosen: no difference, and nothing to compare with.
    let same = shift(all, all).unwrap();
    assert_eq!((same.difference.abs(), same.interval), (0.0, None));
    // One chosen: a difference without an interval.
    let one = shift(Group::from_iter([3.0]), all).unwrap();
    assert_eq!((one.difference, one.interval), (1.0, None));
    // No spread.
    let flat = Group::from_iter([5.0; 6]);
    let found = shift(Group::from_iter([5.0; 3]), flat).unwrap();
    assert_eq!(found.deviations, None);
    assert_eq!(found.interval, Some(Span { low: 0.0, high: 0.0 }));
}

#[test]
fn the_interval_of_a_shift_holds_the_truth_nineteen_times_in_twenty() {
    // Chosen ears by a value that shares half its variance with the trait: the expected shift of the trait is
    // r i sigma. A linear congruential generator with Knuth's MMIX constants (from memory).
    let mut state = 11_u64;
    let mut unit = move || {
        state = state
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (state >> 11) as f64 / (1_u64 << 53) as f64
    };
    let mut bell = move || (0..12).map(|_| unit()).sum::<f64>() - 6.0;
    let (rounds, ears, kept) = (2000, 60, 20);
    let expected = 0.5_f64.sqrt() * finite_intensity(kept, ears).unwrap();
    let mut held = 0;
    for _ in 0..rounds {
        let mut pairs: Vec<(f64, f64)> = (0..ears)
            .map(|_| {
                let shared = bell();
                (shared, 0.5_f64.sqrt() * shared + 0.5_f64.sqrt() * bell())
            })
            .collect();
        pairs.sort_by(|a, b| b.0.total_cmp(&a.0));
        let all: Group = pairs.iter().map(|pair| pair.1).collect();
        let chosen: Group = pairs[..kept].iter().map(|pair| pair.1).collect();
        let interval = shift(chosen, all).unwrap().interval.unwrap();
        held += u32::from(interval.low <= expected && expected <= interval.high);
    }
    // Monte Carlo error 0.5 %. The order of the values makes the others a little less variable than drawn ones.
    let share = f64::from(held) / f64::from(rounds);
    assert!((0.93..=0.975).contains(&share), "{share}");
}

/// Source of the expected numbers: Python's statistics module, named in the file.
#[test]
fn an_index_is_the_weighted_sum_of_standard_scores() {
    let file: Value = serde_json::from_str(include_str!("reference/index.json")).unwrap();
    let rate = |(k, n, _): &(u32, u32, f64)| Some(100.0 * f64::from(*k) / f64::from(*n));
    let columns = [
        EARS.iter().map(rate).collect::<Vec<_>>(),
        EARS.iter().map(|ear| Some(ear.2)).collect(),
    ];
    let found: Vec<Term> = terms(&columns, &[0.6, -0.3]).into_iter().flatten().collect();
    for (nth, term) in found.iter().enumerate() {
        close(term.mean, number(&file["means"][nth]), 1e-12);
        close(term.deviation, number(&file["deviations"][nth]), 1e-12);
        assert_eq!(term.known, EARS.len());
    }
    for (nth, expected) in list(&file["index"]).iter().enumerate() {
        let value = index(&found, &[columns[0][nth], columns[1][nth]], false).unwrap();
        assert!((value - number(expected)).abs() < 1e-12, "ear {nth}");
    }
    // A value that is not known: no index, or as if it were the mean.
    assert_eq!(index(&found, &[columns[0][0], None], false), None);
    let filled = index(&found, &[columns[0][0], None], true).unwrap();
    let at_mean = index(&found, &[columns[0][0], Some(found[1].mean)], false).unwrap();
    assert!((filled - at_mean).abs() < 1e-12);
    // What does not vary, or is known once, weighs nothing.
    let flat = [
        vec![Some(3.0), Some(3.0)],
        vec![Some(1.0), None],
        vec![None, None],
    ];
    assert_eq!(terms(&flat, &[1.0, 1.0, 1.0]), [None, None, None]);
    assert_eq!(terms(&columns[..1], &[f64::NAN]), [None]);
    // Far from 0 no digits are lost: the same trait with 1e9 added ranks alike.
    let far = [EARS.iter().map(|ear| Some(ear.2 + 1e9)).collect::<Vec<_>>()];
    close(
        terms(&far, &[1.0])[0].unwrap().deviation,
        found[1].deviation,
        1e-9,
    );
}

//! The main model against published and computed fits, against simulated truth, and with input that cannot be
//! fitted.

#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use serde_json::Value;
use wintercrib::stats::mixed::{
    Beside, Cell, Covariate, Design, DesignFault, Held, LeftOut, Model, Options, Outcome, Reason, Reference,
    Source, fit,
};
use wintercrib::stats::sowing::Emergence;
use wintercrib::stats::{Confidence, Counts, Cutoff, StatsFault, choosing};

/// Sources are named in the file.
fn reference() -> Value {
    serde_json::from_str(include_str!("reference/mixed_model.json")).unwrap()
}

fn numbers(value: &Value) -> Vec<f64> {
    value
        .as_array()
        .unwrap()
        .iter()
        .map(|number| number.as_f64().unwrap())
        .collect()
}

#[track_caller]
fn assert_close(actual: f64, expected: f64, relative: f64) {
    assert!(
        (actual - expected).abs() <= relative * expected.abs().max(1e-300),
        "{actual} is not {expected} to within {relative}"
    );
}

fn cell(k: u32, n: u32, unit: usize, tray: usize) -> Cell {
    Cell {
        counts: Counts::new(k, n).unwrap(),
        source: Source::Unit(unit),
        tray,
    }
}

fn lot(k: u32, n: u32, lot: usize, tray: usize) -> Cell {
    Cell {
        counts: Counts::new(k, n).unwrap(),
        source: Source::Lot(lot),
        tray,
    }
}

fn covariate(values: impl IntoIterator<Item = f64>) -> Covariate {
    Covariate {
        values: values.into_iter().map(Some).collect(),
        reference: 0.0,
    }
}

fn fitted(design: &Design, options: &Options) -> Model {
    match fit(design, options) {
        Outcome::Fitted(model) => *model,
        Outcome::NotFitted(reason) => panic!("{reason:?}"),
    }
}

fn reason(design: &Design) -> Reason {
    match fit(design, &Options::default()) {
        Outcome::Fitted(model) => panic!("{model:?}"),
        Outcome::NotFitted(reason) => reason,
    }
}

const PLAIN: Options = Options {
    digits: 11,
    with_trays: true,
    with_spread: false,
    with_cell_spread: false,
    fewest_units: 8,
};

/// Units each in one cell, all in one tray, with the products of the two factors as third covariate.
fn two_factors(counts: &[(u32, u32)], first: &[f64], second: &[f64]) -> Design {
    let cells: Vec<Cell> = counts
        .iter()
        .enumerate()
        .map(|(unit, &(k, n))| cell(k, n, unit, 0))
        .collect();
    let products = first.iter().zip(second).map(|(a, b)| a * b);
    Design::new(cells, counts.len(), 1, 0)
        .unwrap()
        .with_covariate(covariate(first.iter().copied()))
        .unwrap()
        .with_covariate(covariate(second.iter().copied()))
        .unwrap()
        .with_covariate(covariate(products))
        .unwrap()
}

fn orobanche() -> Design {
    let file = reference();
    let rows: Vec<Vec<f64>> = file["orobanche"]["k_n_seed73_cucumber"]
        .as_array()
        .unwrap()
        .iter()
        .map(numbers)
        .collect();
    let counts: Vec<_> = rows.iter().map(|row| (row[0] as u32, row[1] as u32)).collect();
    let column = |index: usize| rows.iter().map(|row| row[index]).collect::<Vec<_>>();
    two_factors(&counts, &column(2), &column(3))
}

/// Intercept and slopes with their errors.
fn coefficients(model: &Model, slopes: usize) -> Vec<(f64, f64)> {
    let mut found = vec![model.logit_at(Reference::Tray(0))];
    found.extend((0..slopes).map(|index| model.slope(index).unwrap()));
    found
        .iter()
        .map(|estimate| (estimate.value, estimate.error))
        .collect()
}

#[track_caller]
fn assert_coefficients(found: &[(f64, f64)], values: &Value, errors: &Value, exact: f64, error_exact: f64) {
    let (values, errors) = (numbers(values), numbers(errors));
    assert_eq!(found.len(), values.len());
    for (found, (value, error)) in found.iter().zip(values.iter().zip(&errors)) {
        assert_close(found.0, *value, exact);
        assert_close(found.1, *error, error_exact);
    }
}

#[test]
fn orobanche_by_logistic_regression() {
    let expected = &reference()["orobanche"]["logistic"];
    let model = fitted(&orobanche(), &PLAIN);
    let found = coefficients(&model, 3);
    assert_coefficients(&found, &expected["coefficients"], &expected["errors"], 1e-8, 1e-8);
    assert_close(
        model.log_likelihood(),
        expected["log_likelihood"].as_f64().unwrap(),
        1e-10,
    );
    let residuals = model.residuals();
    let pearson: f64 = residuals
        .iter()
        .flatten()
        .map(|residual| residual * residual)
        .sum();
    assert_close(pearson, expected["pearson"].as_f64().unwrap(), 1e-8);
    // Quasi-binomial errors: times the root of Pearson's statistic by its degrees of freedom, 17.
    for ((_, error), quasi) in found.iter().zip(numbers(&expected["quasi_errors"])) {
        assert_close(error * (pearson / 17.0).sqrt(), quasi, 1e-8);
    }
}

#[test]
fn orobanche_by_logit_normal_maximum_likelihood() {
    let file = reference();
    let expected = &file["orobanche"]["logit_normal"];
    let model = fitted(&orobanche(), &Options::default());
    let found = coefficients(&model, 3);
    assert_coefficients(&found, &expected["coefficients"], &expected["errors"], 1e-8, 1e-7);
    let sigma = model.spread().unwrap();
    assert_close(sigma.value, expected["sigma"].as_f64().unwrap(), 1e-8);
    assert_close(sigma.error, expected["sigma_error"].as_f64().unwrap(), 1e-7);
    assert_close(
        model.log_likelihood(),
        expected["log_likelihood"].as_f64().unwrap(),
        1e-11,
    );
    assert!(model.gradient_norm() < 1e-8, "{}", model.gradient_norm());
    // The published digits, from memory; the intercept is not compared, see the file.
    let published = &file["orobanche"]["published_memory"];
    let values = numbers(&published["maximum_likelihood"]);
    let errors = numbers(&published["maximum_likelihood_errors"]);
    for index in 1..4 {
        assert!((found[index].0 - values[index]).abs() < 0.6e-3);
        assert!((found[index].1 - errors[index]).abs() < 0.5e-3);
    }
}

#[test]
fn orobanche_by_beta_binomial_regression() {
    let expected = &reference()["orobanche"]["beta_binomial"];
    let options = Options {
        with_cell_spread: true,
        ..PLAIN
    };
    let model = fitted(&orobanche(), &options);
    let found = coefficients(&model, 3);
    assert_coefficients(&found, &expected["beta"], &expected["se_beta"], 1e-7, 1e-5);
    let rho = model.cell_correlation().unwrap();
    assert_close(rho.value, expected["rho"].as_f64().unwrap(), 1e-7);
    assert_close(rho.error, expected["se_rho"].as_f64().unwrap(), 1e-5);
    assert_close(
        model.log_likelihood(),
        expected["loglik"].as_f64().unwrap(),
        1e-10,
    );
    assert!(model.gradient_norm() < 1e-8);
}

#[test]
fn pots_by_logistic_regression_have_the_published_deviance_and_likelihood() {
    let file = reference();
    let pots = &file["pots"];
    let (k, n) = (numbers(&pots["k"]), numbers(&pots["n"]));
    let counts: Vec<_> = k.iter().zip(&n).map(|(k, n)| (*k as u32, *n as u32)).collect();
    let design = two_factors(&counts, &numbers(&pots["cult"]), &numbers(&pots["soil"]));
    let model = fitted(&design, &PLAIN);
    let expected = &pots["logistic"];
    let found = coefficients(&model, 3);
    assert_coefficients(&found, &expected["coefficients"], &expected["errors"], 1e-8, 1e-8);
    assert_close(
        model.log_likelihood(),
        expected["log_likelihood"].as_f64().unwrap(),
        1e-10,
    );
    // Published with three decimals.
    let published = pots["published"]["minus_two_log_likelihood"].as_f64().unwrap();
    assert!((-2.0 * model.log_likelihood() - published).abs() < 0.5e-3);
    let alone: Vec<Cell> = counts
        .iter()
        .enumerate()
        .map(|(unit, &(k, n))| cell(k, n, unit, 0))
        .collect();
    let empty = fitted(&Design::new(alone, counts.len(), 1, 0).unwrap(), &PLAIN);
    let test = model.against(&empty).unwrap();
    assert_eq!(test.degrees, 3);
    assert!((test.statistic - pots["published"]["likelihood_ratio"].as_f64().unwrap()).abs() < 1e-4);
}

/// The factorial with its replicates as trays, and with the given columns of (temperature, concentration).
fn factorial(columns: &[&dyn Fn(usize, f64) -> f64]) -> Design {
    let file = reference();
    let rows: Vec<Vec<f64>> = file["factorial"]["k_n_temp_conc_rep"]
        .as_array()
        .unwrap()
        .iter()
        .map(numbers)
        .collect();
    let cells = rows
        .iter()
        .enumerate()
        .map(|(unit, row)| cell(row[0] as u32, row[1] as u32, unit, row[4] as usize))
        .collect();
    let mut design = Design::new(cells, rows.len(), 4, 0).unwrap();
    for column in columns {
        let values = rows.iter().map(|row| column(row[2] as usize, row[3]));
        design = design.with_covariate(covariate(values)).unwrap();
    }
    design
}

#[test]
fn factorial_with_replicates_as_trays() {
    let file = reference();
    let expected = &file["factorial"]["models"]["rep+temp*conc (factors)"];
    let at = |wanted: f64| move |conc: f64| f64::from(u8::from((conc - wanted).abs() < 1e-9));
    let is = |wanted: usize| move |temp: usize| f64::from(u8::from(temp == wanted));
    let mut columns: Vec<Box<dyn Fn(usize, f64) -> f64>> = Vec::new();
    for temp in 1..4 {
        columns.push(Box::new(move |t, _| is(temp)(t)));
    }
    for conc in [0.1, 1.0, 10.0] {
        columns.push(Box::new(move |_, c| at(conc)(c)));
    }
    // Treatment coding, the temperature running fastest, as the coefficients in the file are named.
    for conc in [0.1, 1.0, 10.0] {
        for temp in 1..4 {
            columns.push(Box::new(move |t, c| is(temp)(t) * at(conc)(c)));
        }
    }
    let borrowed: Vec<&dyn Fn(usize, f64) -> f64> = columns.iter().map(AsRef::as_ref).collect();
    let design = factorial(&borrowed);
    let model = fitted(&design, &PLAIN);
    let names: Vec<&str> = expected["names"]
        .as_array()
        .unwrap()
        .iter()
        .map(|name| name.as_str().unwrap())
        .collect();
    assert_eq!(names[10], "C(temp)[T.T2]:C(concf)[T.0.1]");
    assert_eq!(names[11], "C(temp)[T.T3]:C(concf)[T.0.1]");
    let values = numbers(&expected["coefficients"]);
    let errors = numbers(&expected["errors"]);
    let intercept = model.logit_at(Reference::Tray(0));
    assert_close(intercept.value, values[0], 1e-8);
    assert_close(intercept.error, errors[0], 1e-8);
    for tray in 1..4 {
        let difference = model.tray_difference(tray, 0).unwrap();
        assert_close(difference.value, values[tray], 1e-8);
        assert_close(difference.error, errors[tray], 1e-8);
    }
    for column in 0..15 {
        let slope = model.slope(column).unwrap();
        assert_close(slope.value, values[4 + column], 1e-8);
        assert_close(slope.error, errors[4 + column], 1e-8);
    }
    assert_close(
        model.log_likelihood(),
        expected["log_likelihood"].as_f64().unwrap(),
        1e-10,
    );
    // The tray effects add up to zero; the error of their contrasts is that of the differences.
    let effects: Vec<_> = model.tray_effects().into_iter().map(Option::unwrap).collect();
    assert!(effects.iter().map(|effect| effect.value).sum::<f64>().abs() < 1e-12);
    assert_close(effects[1].value - effects[0].value, values[1], 1e-8);
    // The likelihood-ratio test of the tray term.
    let without = fitted(
        &design,
        &Options {
            with_trays: false,
            ..PLAIN
        },
    );
    let test = model.against(&without).unwrap();
    assert_eq!(test.degrees, 3);
    assert_close(
        test.statistic,
        file["factorial"]["rep_test"]["delta_dev"].as_f64().unwrap(),
        1e-7,
    );
    assert_close(
        test.p_value,
        file["factorial"]["rep_test"]["p_chi2"].as_f64().unwrap(),
        1e-7,
    );
}

#[test]
fn factorial_by_beta_binomial_regression() {
    let file = reference();
    let expected = &file["factorial"]["beta_binomial"];
    let is = |wanted: usize| move |temp: usize| f64::from(u8::from(temp == wanted));
    let log = |conc: f64| (conc + 0.1).log10();
    let design = factorial(&[
        &|t, _| is(1)(t),
        &|t, _| is(2)(t),
        &|t, _| is(3)(t),
        &|_, c| log(c),
        &|t, c| is(1)(t) * log(c),
        &|t, c| is(2)(t) * log(c),
        &|t, c| is(3)(t) * log(c),
    ]);
    let options = Options {
        with_trays: false,
        with_cell_spread: true,
        ..PLAIN
    };
    let model = fitted(&design, &options);
    let found = coefficients(&model, 7);
    assert_coefficients(&found, &expected["beta"], &expected["se_beta"], 1e-7, 1e-5);
    assert_close(
        model.cell_correlation().unwrap().value,
        expected["rho"].as_f64().unwrap(),
        1e-6,
    );
    assert_close(
        model.log_likelihood(),
        expected["loglik"].as_f64().unwrap(),
        1e-10,
    );
    let binomial = expected["loglik_binomial"].as_f64().unwrap();
    assert_close(model.log_likelihood_without_spread(), binomial, 1e-10);
}

fn two_trays() -> (Design, Vec<String>) {
    let file = reference();
    let rows = file["two_trays"]["tray_row_column_ear_k_n"]
        .as_array()
        .unwrap()
        .clone();
    let number = |value: &Value| value.as_u64().unwrap() as usize;
    let mut ears: Vec<String> = rows
        .iter()
        .map(|row| row[3].as_str().unwrap().to_owned())
        .collect();
    ears.sort();
    ears.dedup();
    let cells = rows
        .iter()
        .map(|row| {
            let ear = ears
                .iter()
                .position(|ear| ear == row[3].as_str().unwrap())
                .unwrap();
            cell(
                number(&row[4]) as u32,
                number(&row[5]) as u32,
                ear,
                number(&row[0]),
            )
        })
        .collect();
    let place = |index: usize, centre: f64| {
        covariate(rows.iter().map(move |row| row[index].as_f64().unwrap() - centre))
    };
    let design = Design::new(cells, 24, 2, 0)
        .unwrap()
        .with_covariate(place(1, 1.5))
        .unwrap()
        .with_covariate(place(2, 2.5))
        .unwrap();
    (design, ears)
}

#[test]
fn two_trays_of_24_ears() {
    let file = reference();
    let expected = &file["two_trays"]["logit_normal"];
    let (design, ears) = two_trays();
    let model = fitted(&design, &Options::default());
    assert_eq!(
        (ears.len(), model.left_out(), model.held()),
        (24, &[][..], &[][..])
    );
    let mut found = vec![
        model.logit_at(Reference::Tray(0)),
        model.tray_difference(1, 0).unwrap(),
    ];
    found.extend([model.slope(0).unwrap(), model.slope(1).unwrap()]);
    let found: Vec<_> = found
        .iter()
        .map(|estimate| (estimate.value, estimate.error))
        .collect();
    assert_coefficients(&found, &expected["coefficients"], &expected["errors"], 1e-8, 1e-7);
    let sigma = model.spread().unwrap();
    assert_close(sigma.value, expected["sigma"].as_f64().unwrap(), 1e-8);
    assert_close(sigma.error, expected["sigma_error"].as_f64().unwrap(), 1e-7);
    assert_close(
        model.log_likelihood(),
        expected["log_likelihood"].as_f64().unwrap(),
        1e-11,
    );
    assert!(model.gradient_norm() < 1e-8);

    let posteriors = model.posteriors(Reference::Tray(0));
    for (unit, ear) in ears.iter().enumerate() {
        let expected = &file["two_trays"]["posterior_in_tray_1"][ear];
        let posterior = posteriors.of(unit).unwrap();
        assert_close(posterior.mean(), expected["mean"].as_f64().unwrap(), 1e-8);
        for (percent, probability) in [60.0, 70.0, 80.0]
            .into_iter()
            .zip(numbers(&expected["at_least_60_70_80"]))
        {
            let cutoff = Cutoff::from_percent(percent).unwrap();
            assert_close(posterior.probability_at_least(cutoff), probability, 1e-7);
            let Beside { above, below } = posterior.weights_beside(cutoff);
            let sum = |weights: &[(f64, f64)]| weights.iter().map(|(_, weight)| weight).sum::<f64>();
            assert_close(sum(&above), probability, 1e-7);
            assert!((sum(&above) + sum(&below) - 1.0).abs() < 1e-9);
            assert!(above.iter().all(|(rate, _)| *rate >= cutoff.rate() - 1e-12));
        }
        let interval = posterior.interval(Confidence::P90);
        let limits = numbers(&expected["interval_90"]);
        assert_close(interval.low, limits[0], 1e-8);
        assert_close(interval.high, limits[1], 1e-8);
        for (ours, theirs) in posterior
            .predictive(3)
            .iter()
            .zip(numbers(&expected["predictive_3"]))
        {
            assert_close(*ours, theirs, 1e-8);
        }
        assert!((posterior.weights().map(|(_, weight)| weight).sum::<f64>() - 1.0).abs() < 1e-12);
    }
    // Adjusted for its places, L with 14 of 24 overtakes M with 17 of 24.
    let mean = |ear: &str| {
        posteriors
            .of(ears.iter().position(|e| e == ear).unwrap())
            .unwrap()
            .mean()
    };
    assert!(mean("L") > mean("M"));
}

#[test]
fn the_tray_term_of_the_two_trays_is_tested() {
    let file = reference();
    let (design, _) = two_trays();
    let full = fitted(&design, &Options::default());
    let without = fitted(
        &design,
        &Options {
            with_trays: false,
            ..Options::default()
        },
    );
    let expected = &file["two_trays"]["logit_normal_without_trays"];
    assert_close(
        without.log_likelihood(),
        expected["log_likelihood"].as_f64().unwrap(),
        1e-11,
    );
    let test = full.against(&without).unwrap();
    assert_eq!(test.degrees, 1);
    // 2 (114.441904 - 106.665555).
    assert!(
        (test.statistic - 15.552_698).abs() < 1e-5 && test.p_value < 1e-4,
        "{test:?}"
    );
    assert!(without.against(&full).is_none());
    // Without the ears the residuals are those of the logistic fit.
    let plain = fitted(&design, &PLAIN);
    for (ours, expected) in plain
        .residuals()
        .iter()
        .zip(numbers(&file["two_trays"]["pearson_residuals"]))
    {
        assert_close(ours.unwrap(), expected, 1e-7);
    }
}

#[test]
fn more_digits_change_nothing_even_where_units_differ_wildly() {
    let mut dice = Dice(77);
    for (spread, kernels) in [(0.3, 12), (1.0, 12), (1.0, 400), (3.0, 12), (3.0, 100), (6.0, 30)] {
        let cells = (0..100)
            .map(|unit| {
                let p = rate(0.8 + spread * dice.normal());
                cell(dice.binomial(kernels, p), kernels, unit, unit % 3)
            })
            .collect();
        let design = Design::new(cells, 100, 3, 0).unwrap();
        let usual = fitted(&design, &Options::default());
        let finest = fitted(
            &design,
            &Options {
                digits: 14,
                ..Options::default()
            },
        );
        assert!(usual.gradient_norm() < 1e-8);
        assert_close(usual.log_likelihood(), finest.log_likelihood(), 1e-10);
        assert_close(
            usual.spread().unwrap().value,
            finest.spread().unwrap().value,
            1e-8,
        );
        // The posterior of the population is the normal distribution itself.
        let population = usual.population(Reference::AverageTray);
        let at_centre = 100.0 * rate(usual.logit_at(Reference::AverageTray).value);
        let half = population.probability_at_least(Cutoff::from_percent(at_centre).unwrap());
        assert!((half - 0.5).abs() < 1e-6, "{half}");
    }
}

/// The 24 ears of the beta-binomial checks, pooled: as many counts as ears.
#[test]
fn agrees_in_kind_with_the_beta_binomial() {
    let file: Value = serde_json::from_str(include_str!("reference/beta_binomial.json")).unwrap();
    let units: Vec<Counts> = file["fits"]["24 ears"]["units_k_n"]
        .as_array()
        .unwrap()
        .iter()
        .map(|pair| Counts::new(pair[0].as_u64().unwrap() as u32, pair[1].as_u64().unwrap() as u32).unwrap())
        .collect();
    let cells = units
        .iter()
        .enumerate()
        .map(|(unit, counts)| cell(counts.k(), counts.n(), unit, 0))
        .collect();
    let model = fitted(&Design::new(cells, 24, 1, 0).unwrap(), &Options::default());
    let beta = wintercrib::stats::fit(&units);
    let posteriors = model.posteriors(Reference::AverageTray);
    for (unit, counts) in units.iter().enumerate() {
        let beta = wintercrib::stats::Posterior::new(beta.prior(), *counts);
        let ours = posteriors.of(unit).unwrap();
        assert!((beta.mean() - ours.mean()).abs() < 0.03, "{counts:?}");
        let cutoff = Cutoff::from_percent(70.0).unwrap();
        let [theirs, ours] = [
            beta.probability_at_least(cutoff),
            ours.probability_at_least(cutoff),
        ];
        assert!((theirs - ours).abs() < 0.1, "{counts:?}: {theirs} {ours}");
    }
}

/// Random numbers that are the same everywhere: a linear congruential generator (Knuth's constants, from
/// memory), its upper bits.
struct Dice(u64);

impl Dice {
    fn uniform(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        ((self.0 >> 11) as f64 + 0.5) / (1_u64 << 53) as f64
    }

    fn normal(&mut self) -> f64 {
        let (u, v) = (self.uniform(), self.uniform());
        (-2.0 * u.ln()).sqrt() * (2.0 * std::f64::consts::PI * v).cos()
    }

    fn binomial(&mut self, n: u32, p: f64) -> u32 {
        (0..n).filter(|_| self.uniform() < p).count() as u32
    }
}

fn rate(logit: f64) -> f64 {
    1.0 / (1.0 + (-logit).exp())
}

#[test]
fn two_hundred_projects_with_known_truth() {
    const PROJECTS: usize = 200;
    const UNITS: usize = 240;
    const TRAYS: usize = 4;
    let mut dice = Dice(20_260_301);
    let cutoff = Cutoff::from_percent(70.0).unwrap();
    let (mut covered, mut told) = (0_u32, 0_u32);
    let mut bins = [(0.0, 0_u32, 0_u32); 10];
    let (mut z_sum, mut z_squares, mut effects) = (0.0, 0.0, 0.0);
    for _ in 0..PROJECTS {
        let centre = 0.6 + 0.5 * dice.normal();
        let sigma = 0.6 + 0.9 * dice.uniform();
        let mut trays: Vec<f64> = (0..TRAYS).map(|_| 0.5 * dice.normal()).collect();
        let mean = trays.iter().sum::<f64>() / TRAYS as f64;
        for tray in &mut trays {
            *tray -= mean;
        }
        let truth: Vec<f64> = (0..UNITS).map(|_| centre + sigma * dice.normal()).collect();
        let mut cells = Vec::new();
        for (unit, logit) in truth.iter().enumerate() {
            for replicate in 0..=unit % 2 {
                let tray = (unit / 2 + 2 * replicate + unit % 2) % TRAYS;
                cells.push(cell(dice.binomial(12, rate(logit + trays[tray])), 12, unit, tray));
            }
        }
        let model = fitted(&Design::new(cells, UNITS, TRAYS, 0).unwrap(), &Options::default());
        assert!(model.gradient_norm() < 1e-8);
        for (effect, true_effect) in model.tray_effects().iter().zip(&trays) {
            let effect = effect.unwrap();
            let z = (effect.value - true_effect) / effect.error;
            z_sum += z;
            z_squares += z * z;
            effects += 1.0;
        }
        let posteriors = model.posteriors(Reference::AverageTray);
        let probabilities = posteriors.probabilities_at_least(cutoff);
        for ((posterior, probability), logit) in posteriors.iter().zip(probabilities).zip(&truth) {
            let interval = posterior.interval(Confidence::P90);
            told += 1;
            covered += u32::from((interval.low..=interval.high).contains(&rate(*logit)));
            let bin = &mut bins[((10.0 * probability) as usize).min(9)];
            bin.0 += probability;
            bin.1 += u32::from(rate(*logit) >= cutoff.rate());
            bin.2 += 1;
        }
    }
    // 48,000 intervals: Monte Carlo error 0.14 %, somewhat more as those of one project move together. They leave
    // out the doubt in the fitted coefficients, which is worth about 0.4 % with 240 units.
    let coverage = f64::from(covered) / f64::from(told);
    println!("coverage {coverage}");
    assert!((coverage - 0.90).abs() < 0.01, "{coverage}");
    for (said, true_ones, count) in bins {
        let (said, found) = (said / f64::from(count), f64::from(true_ones) / f64::from(count));
        let error = (said * (1.0 - said) / f64::from(count)).sqrt();
        println!("said {said:.4} found {found:.4} of {count}");
        assert!(
            count > 1500 && (said - found).abs() < 3.0 * error + 0.005,
            "said {said} found {found}"
        );
    }
    println!("tray z {} {}", z_sum / effects, (z_squares / effects).sqrt());
    assert!((z_sum / effects).abs() < 0.1 && ((z_squares / effects) - 1.0).abs() < 0.15);
}

#[test]
fn check_lots_have_effects_of_their_own() {
    let mut dice = Dice(7);
    let mut cells = Vec::new();
    for unit in 0..60 {
        let logit = 0.5 + dice.normal();
        for tray in [unit % 3, (unit + 1) % 3] {
            let shift = [0.4, 0.0, -0.4][tray];
            cells.push(cell(dice.binomial(12, rate(logit + shift)), 12, unit, tray));
        }
    }
    for tray in 0..3 {
        cells.push(lot(18, 20, 0, tray));
        cells.push(lot(20, 20, 1, tray));
    }
    let model = fitted(&Design::new(cells, 60, 3, 3).unwrap(), &Options::default());
    // 54 of 60 is 2.2 on the logit scale, 1.7 above the ears.
    let effect = model.lot_effect(0).unwrap();
    assert!(
        (1.0..2.6).contains(&effect.value) && effect.error < 0.7,
        "{effect:?}"
    );
    // The full lot has no finite maximum: it is held and named; the third lot was never sown.
    assert_eq!(model.held(), [Held::Lot(1)]);
    assert!(model.lot_effect(1).unwrap().value > effect.value);
    assert_eq!(model.lot_effect(2), None);
}

#[test]
fn replicates_that_disagree_widen_the_cells() {
    let mut dice = Dice(99);
    let mut cells = Vec::new();
    for unit in 0..150 {
        let logit = 0.5 + 0.8 * dice.normal();
        for _ in 0..3 {
            let p = rate(logit + 0.9 * dice.normal());
            cells.push(cell(dice.binomial(12, p), 12, unit, 0));
        }
    }
    let design = Design::new(cells, 150, 1, 0).unwrap();
    let wide = Options {
        with_cell_spread: true,
        ..Options::default()
    };
    let (narrow, wide) = (fitted(&design, &Options::default()), fitted(&design, &wide));
    let rho = wide.cell_correlation().unwrap();
    assert!((0.05..0.25).contains(&rho.value) && rho.error < 0.05, "{rho:?}");
    let test = wide.against(&narrow).unwrap();
    assert!(test.statistic > 30.0 && test.degrees == 1, "{test:?}");
    assert!(wide.gradient_norm() < 1e-8 && wide.spread().unwrap().value > 0.4);
    let unit = |model: &Model| {
        model
            .posteriors(Reference::AverageTray)
            .of(3)
            .unwrap()
            .standard_deviation()
    };
    assert!(unit(&wide) > unit(&narrow));
    let predictive = wide
        .posteriors(Reference::AverageTray)
        .of(0)
        .unwrap()
        .predictive(12);
    assert!((predictive.iter().sum::<f64>() - 1.0).abs() < 1e-10);
    // A stand is the tail of the counts that are predicted, whether rows of a unit differ by more than chance or not.
    for (model, allowed) in [(&narrow, 1e-11), (&wide, 3e-5)] {
        for unit in [0, 3, 40] {
            let posteriors = model.posteriors(Reference::AverageTray);
            let posterior = posteriors.of(unit).unwrap();
            let (counts, rows) = (posterior.predictive(30), Emergence::unit(posterior, 1.0));
            for plants in [1, 12, 20, 28] {
                let tail: f64 = counts[plants as usize..].iter().sum();
                let stand = rows.at_least(plants, 30);
                assert!(
                    (stand - tail).abs() < allowed,
                    "unit {unit}, {plants} plants: {stand} is not {tail}"
                );
            }
        }
    }
}

#[test]
fn what_cannot_be_fitted_says_why() {
    let design = |counts: &[(u32, u32)]| {
        let cells = counts
            .iter()
            .enumerate()
            .map(|(unit, &(k, n))| cell(k, n, unit, 0))
            .collect();
        Design::new(cells, counts.len(), 1, 0).unwrap()
    };
    assert_eq!(
        reason(&Design::new(vec![], 0, 0, 0).unwrap()),
        Reason::NothingObserved
    );
    assert_eq!(reason(&design(&[(0, 0); 20])), Reason::NothingObserved);
    assert_eq!(
        reason(&design(&[(3, 10)])),
        Reason::TooFewUnits { units: 1, needed: 8 }
    );
    assert_eq!(reason(&design(&[(0, 10); 20])), Reason::AllZero);
    assert_eq!(reason(&design(&[(10, 10); 20])), Reason::AllFull);
    assert_eq!(
        reason(&design(&[[(0, 1), (1, 1)]; 10].concat())),
        Reason::SingleKernels
    );
    assert_eq!(
        reason(&design(&[[(0, 9), (9, 9)]; 10].concat())),
        Reason::OnlyExtremes
    );
    // One unit inside among extremes of two kernels: the spread has no upper bound.
    let mut wide = [[(0, 1), (1, 1)]; 10].concat();
    wide.extend([(0, 2), (2, 2)]);
    assert_eq!(reason(&design(&wide)), Reason::OnlyExtremes);
    let mut cells: Vec<Cell> = (0..60)
        .map(|cell_index| cell(u32::from(cell_index % 6 < 3), 1, cell_index / 3, 0))
        .collect();
    cells.extend([cell(1, 2, 20, 0)]);
    assert_eq!(
        reason(&Design::new(cells, 21, 1, 0).unwrap()),
        Reason::NoUpperBound
    );
    // Counts that differ less than chance: no spread, and the posterior is that of the common rate.
    let model = fitted(&design(&[(8, 10); 30]), &Options::default());
    assert_eq!(model.spread(), None);
    let posteriors = model.posteriors(Reference::AverageTray);
    let interval = posteriors.of(0).unwrap().interval(Confidence::P95);
    assert!(interval.low > 0.74 && interval.low < 0.76 && interval.high > 0.83 && interval.high < 0.85);
    // The largest counts.
    let model = fitted(
        &design(&(1..=12).map(|i| (i * 7_000, 100_000)).collect::<Vec<_>>()),
        &Options::default(),
    );
    assert!(model.spread().unwrap().value > 0.5);
    // Beta-binomial cells of so many kernels would take too long, and one cell a unit cannot tell.
    let wide = Options {
        with_cell_spread: true,
        ..Options::default()
    };
    let twice = |n: u32| {
        let cells = (0..24)
            .map(|i| cell((1 + i) * n / 26, n, i as usize / 2, 0))
            .collect();
        Design::new(cells, 12, 1, 0).unwrap()
    };
    let model = fitted(&twice(100_000), &wide);
    assert_eq!(model.left_out(), [LeftOut::CellSpreadTooManyKernels]);
    assert!(fitted(&twice(26), &wide).left_out().is_empty());
    let model = fitted(&design(&(1..=12).map(|i| (i, 13)).collect::<Vec<_>>()), &wide);
    assert_eq!(model.left_out(), [LeftOut::CellSpreadWithoutReplicates]);
}

fn many_cells(trays: usize) -> Vec<Cell> {
    let mut dice = Dice(5);
    (0..40)
        .map(|unit| cell(dice.binomial(12, rate(fixed_logit(unit))), 12, unit, unit % trays))
        .collect()
}

/// Logits from -1.5 to 1.5 in a fixed order.
fn fixed_logit(unit: usize) -> f64 {
    (unit * 7 % 13) as f64 / 4.0 - 1.5
}

#[test]
fn terms_that_cannot_be_told_are_left_out_and_named() {
    let design = Design::new(many_cells(2), 40, 3, 0).unwrap();
    let constant = design.clone().with_covariate(covariate(vec![3.0; 40])).unwrap();
    let model = fitted(&constant, &Options::default());
    assert_eq!(model.left_out(), [LeftOut::Constant { covariate: 0 }]);
    assert_eq!(model.slope(0), None);
    // The third tray is empty: it has no effect.
    assert!(model.tray_effects()[0].is_some() && model.tray_effects()[2].is_none());

    let missing = Covariate {
        values: (0..40)
            .map(|cell| (cell > 2).then_some(f64::from(cell)))
            .collect(),
        reference: 0.0,
    };
    let model = fitted(
        &design.clone().with_covariate(missing).unwrap(),
        &Options::default(),
    );
    assert_eq!(
        model.left_out(),
        [LeftOut::Missing {
            covariate: 0,
            cells: 3
        }]
    );

    // The tray itself as a covariate, and a covariate given twice.
    let tray = covariate((0..40).map(|cell| f64::from(cell % 2)));
    let once = covariate((0..40).map(|cell| f64::from(cell * 3 % 7)));
    let doubled = covariate((0..40).map(|cell| 5.0 + 2.0 * f64::from(cell * 3 % 7)));
    let redundant = [tray, once, doubled]
        .into_iter()
        .fold(design.clone(), |design, covariate| {
            design.with_covariate(covariate).unwrap()
        });
    let model = fitted(&redundant, &Options::default());
    let expected = [
        LeftOut::Redundant { covariate: 0 },
        LeftOut::Redundant { covariate: 2 },
    ];
    assert_eq!(model.left_out(), expected);
    assert!(model.slope(1).is_some());

    // One family a tray.
    let families = design
        .clone()
        .with_groups((0..40).map(|unit| 100 + unit % 2).collect())
        .unwrap();
    let model = fitted(&families, &Options::default());
    assert_eq!(model.left_out(), [LeftOut::TraysAreGroups { trays: vec![0, 1] }]);
    assert!(!model.has_tray_effects());
    // Families in both trays are no trouble.
    let spread_out = design
        .with_groups((0..40).map(|unit| unit / 8).collect())
        .unwrap();
    assert!(fitted(&spread_out, &Options::default()).has_tray_effects());

    let crowded = Design::new(many_cells(36), 40, 36, 0).unwrap();
    let model = fitted(&crowded, &Options::default());
    assert_eq!(model.left_out(), [LeftOut::TooManyTrays { trays: 36, cells: 40 }]);

    // Ten units that each lie in all of five trays tell the trays apart.
    let mut dice = Dice(11);
    let crossed = (0..50)
        .map(|i| cell(dice.binomial(12, rate(fixed_logit(i / 5))), 12, i / 5, i % 5))
        .collect();
    assert!(fitted(&Design::new(crossed, 10, 5, 0).unwrap(), &Options::default()).has_tray_effects());

    // A check lot alone in a tray of its own.
    let mut cells = many_cells(2);
    cells.push(lot(10, 20, 0, 2));
    let model = fitted(&Design::new(cells, 40, 3, 1).unwrap(), &Options::default());
    assert_eq!(model.left_out(), [LeftOut::Lot { lot: 0 }]);
}

#[test]
fn a_tray_where_nothing_grew_is_held_by_a_weak_prior() {
    let mut cells = many_cells(2);
    for unit in 40..52 {
        cells.push(cell(0, 12, unit, 2));
    }
    let model = fitted(&Design::new(cells, 52, 3, 0).unwrap(), &Options::default());
    assert_eq!(model.held(), [Held::Tray(2)]);
    let effects = model.tray_effects();
    assert!(effects[2].unwrap().value < -2.0 && effects[2].unwrap().error.is_finite());
    assert!(model.gradient_norm() < 1e-8);
}

#[test]
fn impossible_designs_are_refused() {
    let ok = || Design::new(vec![cell(1, 2, 0, 0)], 1, 1, 0).unwrap();
    assert_eq!(
        Design::new(vec![cell(1, 2, 1, 0)], 1, 1, 0),
        Err(DesignFault::OutOfRange { cell: 0 })
    );
    assert_eq!(
        Design::new(vec![cell(1, 2, 0, 1)], 1, 1, 0),
        Err(DesignFault::OutOfRange { cell: 0 })
    );
    assert_eq!(
        Design::new(vec![lot(1, 2, 0, 0)], 1, 1, 0),
        Err(DesignFault::OutOfRange { cell: 0 })
    );
    let short = covariate([]);
    assert_eq!(
        ok().with_covariate(short),
        Err(DesignFault::Length { given: 0, needed: 1 })
    );
    let bad = covariate([f64::NAN]);
    assert_eq!(ok().with_covariate(bad), Err(DesignFault::NotFinite { cell: 0 }));
    let bad = Covariate {
        values: vec![Some(1.0)],
        reference: f64::INFINITY,
    };
    assert_eq!(ok().with_covariate(bad), Err(DesignFault::Reference));
    assert_eq!(
        ok().with_groups(vec![]),
        Err(DesignFault::Length { given: 0, needed: 1 })
    );
}

proptest::proptest! {
    #![proptest_config(proptest::prelude::ProptestConfig::with_cases(60))]

    #[test]
    fn any_counts_give_a_model_or_a_reason(
        counts in proptest::collection::vec((0..=12_u32, 0..=12_u32, 0..4_usize, 0..30_usize), 0..90),
        cutoff in 0.0..=100.0_f64,
    ) {
        let cells: Vec<Cell> =
            counts.iter().map(|&(a, b, tray, unit)| cell(a.min(b), a.max(b), unit, tray)).collect();
        let design = Design::new(cells, 30, 4, 0).unwrap();
        match fit(&design, &Options::default()) {
            Outcome::NotFitted(reason) => proptest::prop_assert_ne!(reason, Reason::NotSettled),
            Outcome::Fitted(model) => {
                proptest::prop_assert!(model.gradient_norm() <= 1e-8);
                for posterior in model.posteriors(Reference::AverageTray).iter() {
                    let mean = posterior.mean();
                    let interval = posterior.interval(Confidence::P90);
                    let probability = posterior.probability_at_least(Cutoff::from_percent(cutoff).unwrap());
                    proptest::prop_assert!((0.0..=1.0).contains(&mean));
                    proptest::prop_assert!(0.0 <= interval.low && interval.low <= interval.high);
                    proptest::prop_assert!(interval.high <= 1.0 && (0.0..=1.0).contains(&probability));
                }
            }
        }
    }
}

#[test]
fn choosing_and_retesting_by_the_main_model_agree_with_the_sums() {
    let (design, _) = two_trays();
    let model = fitted(&design, &Options::default());
    let cutoff = Cutoff::from_percent(70.0).unwrap();
    let population = model.population(Reference::Tray(0));
    let found = choosing::chosen_from(&population, 12, cutoff).unwrap();
    // By the plain sum over counts and rates.
    let (mut share, mut observed, mut true_rate) = (0.0, 0.0, 0.0);
    for (rate, weight) in population.weights() {
        for (k, choose) in [(9, 220.0), (10, 66.0), (11, 12.0), (12, 1.0)] {
            let mass = weight * choose * rate.powi(k) * (1.0 - rate).powi(12 - k);
            share += mass;
            observed += mass * f64::from(k) / 12.0;
            true_rate += mass * rate;
        }
    }
    assert_close(found.share, share, 1e-9);
    assert_close(found.observed, observed / share, 1e-9);
    assert_close(found.true_rate, true_rate / share, 1e-9);
    assert!(
        found.excess() > 0.01 && (0.02..0.3).contains(&found.below),
        "{found:?}"
    );
    // A retest is worth most to a unit near the cutoff, and nothing changes without kernels.
    let posteriors = model.posteriors(Reference::Tray(0));
    let benefit = |unit: usize, kernels| {
        choosing::retest(posteriors.of(unit).unwrap(), kernels, cutoff).benefit_per_kernel()
    };
    // F is even, N is sure.
    assert!(benefit(5, 12) > 0.005 && benefit(13, 12) < 1e-5);
    assert!(benefit(5, 0).abs() < 1e-300);
}

#[test]
fn a_cell_added_at_the_reference_counts_as_one_fitted_there() {
    let (design, _) = two_trays();
    let model = fitted(&design, &Options::default());
    let at = Reference::AverageTray;
    let close = |a: &wintercrib::stats::mixed::UnitPosterior, b: &wintercrib::stats::mixed::UnitPosterior| {
        assert_close(a.mean(), b.mean(), 1e-12);
        assert_close(a.standard_deviation(), b.standard_deviation(), 1e-10);
    };
    let posteriors = model.posteriors(at);
    for unit in 0..24 {
        close(
            &model.posterior_with(at, Some(unit), &[]),
            posteriors.of(unit).unwrap(),
        );
    }
    close(&model.posterior_with(at, None, &[]), &model.population(at));
    // Two cells of binomial kernels are one of as many; and Bayes' rule on the weights of the population.
    let (some, more) = (Counts::new(7, 10).unwrap(), Counts::new(2, 5).unwrap());
    let both = model.posterior_with(at, None, &[(some, 0.0), (more, 0.0)]);
    close(
        &both,
        &model.posterior_with(at, None, &[(Counts::new(9, 15).unwrap(), 0.0)]),
    );
    let (mut sum, mut total) = (0.0, 0.0);
    for (rate, weight) in model.population(at).weights() {
        let weight = weight * rate.powi(9) * (1.0 - rate).powi(6);
        sum += weight * rate;
        total += weight;
    }
    assert_close(both.mean(), sum / total, 1e-9);
    // In a place that is better by 0.8 logits the same count tells of a rate that is worse.
    let better = model.posterior_with(at, None, &[(some, 0.8)]);
    let (mut sum, mut total) = (0.0, 0.0);
    for (rate, weight) in model.population(at).weights() {
        let odds = rate / (1.0 - rate) * 0.8_f64.exp();
        let there = odds / (1.0 + odds);
        let weight = weight * there.powi(7) * (1.0 - there).powi(3);
        sum += weight * rate;
        total += weight;
    }
    assert_close(better.mean(), sum / total, 1e-9);
    assert!(better.mean() < model.posterior_with(at, None, &[(some, 0.0)]).mean());
    // Source: tables of the normal distribution; two-sided 5 % and 1 %.
    let estimate = |value: f64| wintercrib::stats::mixed::Estimate { value, error: 0.5 };
    assert_close(estimate(-0.5 * 1.959_963_984_540_054).p_value(), 0.05, 1e-9);
    assert_close(estimate(0.5 * 2.575_829_303_548_901).p_value(), 0.01, 1e-9);
}

/// As many kernels in a cell as are taken: the count is all but certain, and one such cell does not drown the small ones
/// beside it. A million are refused with a sentence.
#[test]
fn very_many_kernels_in_a_cell_are_believed_as_counted_and_a_million_refused() {
    let million = Counts::new(1, 1_000_000).unwrap_err();
    assert!(matches!(million, StatsFault::TotalTooLarge { n: 1_000_000 }));
    assert!(million.to_string().contains("1000000"), "{million}");
    let n = 100_000;
    let share = |unit: usize| 0.3 + 0.5 * (unit % 17) as f64 / 16.0;
    let large: Vec<Cell> = (0..40)
        .map(|unit| cell((share(unit) * f64::from(n)) as u32, n, unit, unit % 2))
        .collect();
    let mut mixed: Vec<Cell> = (0..40)
        .map(|unit| cell((share(unit) * 10.0) as u32, 10, unit, unit % 2))
        .collect();
    mixed[3] = cell(90_000, n, 3, 1);
    for (cells, exact) in [(large, 0..40), (mixed, 3..4)] {
        let rates: Vec<f64> = cells.iter().map(|one| one.counts.rate().unwrap()).collect();
        let options = Options {
            with_trays: false,
            ..Options::default()
        };
        let model = fitted(&Design::new(cells, 40, 2, 0).unwrap(), &options);
        assert!(model.gradient_norm() < 1e-6, "{}", model.gradient_norm());
        let posteriors = model.posteriors(Reference::AverageTray);
        for (unit, rate) in rates.iter().enumerate() {
            let one = posteriors.of(unit).unwrap();
            assert!(one.mean().is_finite() && (0.0..=1.0).contains(&one.mean()));
            let sure = one.probability_at_least(Cutoff::from_percent(50.0).unwrap());
            assert!((0.0..=1.0).contains(&sure), "{sure}");
            if exact.contains(&unit) {
                assert!(
                    (one.mean() - rate).abs() < 1e-4,
                    "{unit}: {} not {rate}",
                    one.mean()
                );
                assert!((1e-4..1e-2).contains(&one.standard_deviation()));
            }
        }
    }
}

//! The look ahead against what is known of simple cases, each to within three standard errors of its replicates, and with
//! plans that cannot be carried out.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use std::sync::OnceLock;
use wintercrib::genetics::ahead::{
    NoLook, Outlook, Plan, Pollen, Population, Round, Sure, outlook, replicates,
};
use wintercrib::genetics::half_sib::{gain, left_by_outside_pollen};
use wintercrib::genetics::inbreeding::{inbreeding_after, status_number};
use wintercrib::genetics::{Recombination, Span, finite_intensity};
use wintercrib::stats::Cutoff;

const SEED: u64 = 20_261_127;

fn population(mean_logit: f64, deviation_logits: f64, part: f64, rows: usize) -> Population {
    Population {
        mean_logit,
        deviation_logits,
        inherited: Span {
            low: part,
            high: part,
        },
        rows: vec![1.0; rows],
    }
}

fn plan() -> Plan {
    Plan {
        ears: 100,
        kernels: 10,
        kept: 10,
        cutoff: None,
        cap: None,
        passing: 1.0,
        plants_each: 20,
        evenness: 1.0,
        pollen: Pollen::AllRows,
        foreign: 0.0,
        seasons: 1,
    }
}

/// Where no kernel ever germinates all counts are alike and the choice is by lot.
fn by_lot(rows: usize) -> Population {
    population(-60.0, 0.5, 1.0, rows)
}

/// The additive variance of [`by_lot`]: four times the inherited variance of ears.
const ADDITIVE: f64 = 1.0;

struct Sample {
    mean: f64,
    variance: f64,
    count: f64,
}

fn sample(values: impl Iterator<Item = f64>) -> Sample {
    let values: Vec<f64> = values.collect();
    let count = values.len() as f64;
    let mean = values.iter().sum::<f64>() / count;
    let squares: f64 = values.iter().map(|one| (one - mean).powi(2)).sum();
    Sample {
        mean,
        variance: squares / (count - 1.0),
        count,
    }
}

impl Sample {
    #[track_caller]
    fn has_mean(&self, expected: f64) {
        let error = (self.variance / self.count).sqrt();
        let off = (self.mean - expected) / error;
        assert!(
            off.abs() < 3.0,
            "{} is not {expected}: off by {off:.2} standard errors",
            self.mean
        );
        // A sample that could not tell anything apart would prove nothing.
        assert!(
            error < 0.1 * expected.abs(),
            "the standard error {error} is too large for {expected}"
        );
    }

    /// The standard error of a variance of normal values is `variance * sqrt(2 / (n - 1))`.
    #[track_caller]
    fn has_variance(&self, expected: f64) {
        let error = self.variance * (2.0 / (self.count - 1.0)).sqrt();
        let off = (self.variance - expected) / error;
        assert!(
            off.abs() < 3.0,
            "{} is not {expected}: off by {off:.2} standard errors",
            self.variance
        );
    }
}

fn risen(all: &[Vec<Round>]) -> Sample {
    sample(
        all.iter()
            .map(|rounds| rounds[1].value_logits - rounds[0].value_logits),
    )
}

/// `R = c i (VA / 4) / sigma` with the exact finite intensity, which is `R = i h^2 sigma` for the means of ears: Falconer
/// and Mackay 1996, eq. 11.3; Hallauer and Miranda 1988, ch. 6 (both from memory). Pollen of unchosen plants halves it; a
/// share `m` of foreign pollen leaves `1 - m / 2`.
#[test]
fn one_season_brings_the_response_of_the_breeder_s_equation() {
    let (deviation, part, kernels) = (0.5_f64, 0.5, 400);
    let start = population(0.0, deviation, part, 250);
    let plan = Plan {
        ears: 250,
        kernels,
        kept: 25,
        ..plan()
    };
    let among = deviation * deviation;
    // The variance of a counted logit is 1 / (n p q), with a mean over ears of (2 + 2 exp(sigma^2 / 2)) / n.
    let chance = (2.0 + 2.0 * (0.5 * among).exp()) / f64::from(kernels);
    let intensity = finite_intensity(25, 250).unwrap();
    let expected = |by| gain(by, intensity, 4.0 * part * among, (among + chance).sqrt()).unwrap();
    let alone = replicates(&start, &plan, SEED, 0..120).unwrap();
    risen(&alone).has_mean(expected(Recombination::AloneTogether));
    let unchosen = Plan {
        pollen: Pollen::BulkOfAll,
        ..plan
    };
    let unchosen = replicates(&start, &unchosen, SEED, 0..120).unwrap();
    risen(&unchosen).has_mean(expected(Recombination::PollenUnselected));
    let foreign = Plan {
        foreign: 0.4,
        pollen: Pollen::BulkOfKept,
        ..plan
    };
    let foreign = replicates(&start, &foreign, SEED, 0..120).unwrap();
    let left = left_by_outside_pollen(0.4).unwrap();
    risen(&foreign).has_mean(left * expected(Recombination::AloneTogether));
}

/// What ten kernels tell, reckoned here by a sum over the deviation of an ear and exact binomial probabilities: which count
/// is enough for the sureness, how many ears have it, and their mean deviation, of which the inherited part is passed on.
#[test]
fn a_cutoff_keeps_and_brings_what_ten_kernels_tell() {
    const SURENESS: f64 = 0.6;
    let (mean, deviation, part) = (0.6_f64, 1.1_f64, 0.4);
    let choose = |k: i32| {
        (1..=k)
            .map(|one| f64::from(11 - one) / f64::from(one))
            .product::<f64>()
    };
    // Weight, deviation from the mean, rate.
    let ears: Vec<(f64, f64, f64)> = (-4000..=4000)
        .map(|step| {
            let z = f64::from(step) / 500.0;
            let rate = 1.0 / (1.0 + (-mean - deviation * z).exp());
            ((-0.5 * z * z).exp(), deviation * z, rate)
        })
        .collect();
    let all: f64 = ears.iter().map(|ear| ear.0).sum();
    let sum = |k: i32, of: &dyn Fn(f64, f64) -> f64| {
        let chance = |p: f64| choose(k) * p.powi(k) * (1.0 - p).powi(10 - k);
        ears.iter()
            .map(|(w, u, p)| w * chance(*p) * of(*u, *p))
            .sum::<f64>()
            / all
    };
    let sure = |k: i32| sum(k, &|_, p| f64::from(u8::from(p >= 0.7))) / sum(k, &|_, _| 1.0);
    let least = (0..=10).find(|k| sure(*k) >= SURENESS).unwrap();
    // Neither the count below nor this one lies so near that chance in the spread of the ears could turn it.
    assert!(
        sure(least) > SURENESS + 0.1 && sure(least - 1) < SURENESS - 0.1,
        "{} {}",
        sure(least),
        sure(least - 1)
    );
    let kept: f64 = (least..=10).map(|k| sum(k, &|_, _| 1.0)).sum();
    let differential = (least..=10).map(|k| sum(k, &|u, _| u)).sum::<f64>() / kept;

    let plan = Plan {
        ears: 400,
        kept: 400,
        plants_each: 4,
        cutoff: Some(Sure {
            cutoff: Cutoff::from_percent(70.0).unwrap(),
            sureness: SURENESS,
        }),
        ..plan()
    };
    let found = replicates(&population(mean, deviation, part, 400), &plan, SEED, 0..100).unwrap();
    sample(found.iter().map(|rounds| f64::from(rounds[1].rows))).has_mean(400.0 * kept);
    risen(&found).has_mean(part * differential);
    let percent = |round: usize| sample(found.iter().map(|rounds| rounds[round].germination_percent));
    let at_start = ears.iter().map(|(w, _, p)| w * p).sum::<f64>() / all;
    percent(0).has_mean(100.0 * at_start);
    assert!(percent(1).mean > percent(0).mean + 5.0);
}

/// With pollen of a large unrelated crowd `N` ears have `Ne = 4 N`, so two of their kernels a coancestry of `1 / (8 N)`; and
/// with `n` kernels of each the mean of their plants drifts with the variance `VA / Ns`, `Ns = 4 n N / (n + 3)`. Sources:
/// Vencovsky 1978, Rev. Bras. Genet. 1:181; Wright 1931; Lindgren, Gea and Jefferson 1996, Silvae Genet. 45:52 (all from
/// memory).
#[test]
fn ears_of_open_pollen_have_four_times_their_number_as_effective_size() {
    let plan = Plan {
        foreign: 1.0,
        ears: 200,
        ..plan()
    };
    let found = replicates(&by_lot(200), &plan, SEED, 0..600).unwrap();
    for rounds in &found {
        assert!(
            (rounds[1].coancestry - 1.0 / 80.0).abs() < 1e-12,
            "{}",
            rounds[1].coancestry
        );
    }
    // The kernels have half of their mothers' mean, and of the pollen nothing but chance.
    let drift = 0.25 * ADDITIVE / status_number(10, 20).unwrap();
    sample(found.iter().map(|rounds| rounds[1].value_logits)).has_variance(drift);
}

/// Ten of 200 ears are drawn, one of every plant of ten rows of 20.
fn closed() -> &'static (Plan, Vec<Vec<Round>>) {
    static CLOSED: OnceLock<(Plan, Vec<Vec<Round>>)> = OnceLock::new();
    CLOSED.get_or_init(|| {
        let plan = Plan {
            ears: 200,
            kernels: 1,
            seasons: 10,
            ..plan()
        };
        let found = replicates(&by_lot(10), &plan, SEED, 0..500).unwrap();
        (plan, found)
    })
}

/// In a closed field of `M = n N` plants two of them share a mother with the chance `s = (n - 1) / (M - 1)`, a father or one's
/// mother with the other's father with `1 / M` each. By Wright's argument (1931; Falconer and Mackay 1996, ch. 3 and 4, both
/// from memory) coancestry grows by `1 / (2 Ne) = (s + 3 / M) / 8` a season, which for many kernels is the `Ne = 4 n N / (n + 3)`
/// of Vencovsky 1978; the genetic variance within the population falls by it, and the means of populations drift apart with
/// `2 theta VA`.
#[test]
fn a_closed_field_loses_variance_by_its_effective_size() {
    let (plan, found) = closed();
    let plants = f64::from(plan.kept * plan.plants_each);
    let sisters = f64::from(plan.plants_each - 1) / (plants - 1.0);
    let size = 4.0 / (sisters + 3.0 / plants);
    let known = status_number(plan.kept, plan.plants_each).unwrap();
    assert!((size - known).abs() < 0.05 * known, "{size} {known}");
    let ahead: Outlook = outlook(found).unwrap();
    for seasons in [2, 5, 10] {
        let rounds = || found.iter().map(move |rounds| (rounds[0], rounds[seasons]));
        let lost = inbreeding_after(size, seasons as u32).unwrap();
        // Of what was there at the start, in which the rows' plants are half sisters.
        let at_start = sample(rounds().map(|(start, _)| start.variance)).mean;
        sample(rounds().map(|(_, round)| round.variance)).has_mean(at_start * (1.0 - lost));
        // Var(a) = (1 + F) VA and Cov(a, b) = 2 theta VA: the variance within is (1 + F - 2 theta) VA.
        let within = |round: Round| ADDITIVE * (1.0 + round.inbreeding - 2.0 * round.coancestry);
        let apart = sample(rounds().map(|(_, round)| round.variance - within(round)));
        let error = (apart.variance / apart.count).sqrt();
        assert!(
            apart.mean.abs() < 3.0 * error,
            "{seasons}: {} {error}",
            apart.mean
        );
        let drift = sample(rounds().map(|(_, round)| 2.0 * round.coancestry * ADDITIVE)).mean;
        sample(rounds().map(|(_, round)| round.value_logits)).has_variance(drift);
    }
    let reckoned = ahead.effective_size().unwrap();
    assert!((reckoned - size).abs() < 0.02 * size, "{reckoned} {size}");
}

/// Of 200 ears, 20 of each row, 10 are drawn without putting back. Two of them come from different rows with a chance of
/// `(200 - 20) / 199`, so after `t` seasons two different rows go back to different rows of the start with its `t`-th power;
/// and of 10 rows `10 (1 - C(180, 10) / C(200, 10))` are expected to be left after one (the mean of the hypergeometric
/// distribution; Feller 1968, An Introduction to Probability Theory, ch. II, from memory).
#[test]
fn lines_of_mothers_die_out_as_draws_without_putting_back() {
    let (plan, found) = closed();
    let one_season = Plan { seasons: 1, ..*plan };
    let many = replicates(&by_lot(10), &one_season, SEED, 500..2500).unwrap();
    let none: f64 = (0..10)
        .map(|one| f64::from(180 - one) / f64::from(200 - one))
        .product();
    sample(many.iter().map(|rounds| f64::from(rounds[1].lineages))).has_mean(10.0 * (1.0 - none));
    for seasons in [1, 4, 10] {
        let found = if seasons == 1 { &many } else { found };
        let different = (180.0_f64 / 199.0).powi(seasons as i32);
        let same = 0.1 + 0.9 * (1.0 - different);
        sample(found.iter().map(|rounds| rounds[seasons].same_lineage)).has_mean(same);
    }
    assert!(
        found
            .iter()
            .flatten()
            .all(|round| round.rows == 10 && round.lineages <= round.mothers)
    );
}

/// Meuwissen 1997 for ears that are not related: at an effective number of a part of the ears, their coancestry is one over
/// that of as many fewer.
#[test]
fn shared_out_kernels_bring_more_at_the_price_of_kinship() {
    let start = population(0.0, 1.0, 0.5, 200);
    let equal = Plan {
        ears: 200,
        kept: 20,
        foreign: 1.0,
        plants_each: 40,
        kernels: 30,
        ..plan()
    };
    let tilted = Plan {
        evenness: 0.7,
        ..equal
    };
    let equal = replicates(&start, &equal, SEED, 0..150).unwrap();
    let tilted = replicates(&start, &tilted, SEED, 0..150).unwrap();
    assert!(risen(&tilted).mean > risen(&equal).mean);
    let kinship = |all: &[Vec<Round>]| sample(all.iter().map(|rounds| rounds[1].coancestry)).mean;
    let size = kinship(&equal) / kinship(&tilted);
    // Whole kernels, and none below zero, keep it a little above.
    assert!((0.69..0.76).contains(&size), "{size}");
}

#[test]
fn a_replicate_is_the_same_in_whichever_range_it_stands() {
    let start = population(0.5, 0.8, 0.5, 12);
    let plan = Plan {
        seasons: 3,
        cap: Some(2),
        ..plan()
    };
    let all = replicates(&start, &plan, 7, 0..6).unwrap();
    let mut parts = replicates(&start, &plan, 7, 0..2).unwrap();
    parts.extend(replicates(&start, &plan, 7, 2..6).unwrap());
    assert_eq!(all, parts);
    assert_ne!(all, replicates(&start, &plan, 8, 0..6).unwrap());
    assert_ne!(all[0], all[1]);
    assert!(
        all.iter().flatten().all(|round| round.mothers >= 5),
        "two of a row at most"
    );
    let told = outlook(&all).unwrap();
    assert_eq!((told.replicates, told.seasons.len()), (6, 4));
    assert!(told.gain_points(3).unwrap() > 0.0 && told.gain_points(4).is_none());
    for season in &told.seasons {
        let band = season.germination_percent;
        assert!(band.low <= band.middle && band.middle <= band.high && band.low >= 0.0 && band.high <= 100.0);
    }
    assert_eq!(outlook(&[]), None);
}

/// A cutoff that no ear reaches does not end the population, and is told.
#[test]
fn where_no_ear_is_good_enough_the_best_two_go_on() {
    let start = population(-3.0, 0.3, 0.5, 12);
    let cutoff = Cutoff::from_percent(95.0).unwrap();
    let plan = Plan {
        cutoff: Some(Sure {
            cutoff,
            sureness: 0.9,
        }),
        seasons: 2,
        ..plan()
    };
    let told = outlook(&replicates(&start, &plan, 7, 0..5).unwrap()).unwrap();
    let last = told.seasons[2];
    assert!((last.short - 1.0).abs() < 1e-12 && (last.rows.mean - 2.0).abs() < 1e-12);
    assert!(
        (last.small - 1.0).abs() < 1e-12,
        "two rows of 20 plants do not bear 100 ears"
    );
}

/// Limits that have nothing to do with germination leave fewer ears to choose from: with half of 200 passing, the best 20
/// are the best 20 of about 100.
#[test]
fn other_limits_leave_less_to_choose_from() {
    let start = population(0.0, 0.5, 0.5, 200);
    let free = Plan {
        ears: 200,
        kept: 20,
        kernels: 200,
        ..plan()
    };
    let limited = Plan { passing: 0.5, ..free };
    let free = risen(&replicates(&start, &free, SEED, 0..100).unwrap()).mean;
    let limited = risen(&replicates(&start, &limited, SEED, 0..100).unwrap()).mean;
    let expected = finite_intensity(20, 100).unwrap() / finite_intensity(20, 200).unwrap();
    assert!(
        (limited / free - expected).abs() < 0.04,
        "{} {expected}",
        limited / free
    );
}

#[test]
fn plans_that_cannot_be_carried_out_are_refused_with_what_to_do() {
    let refused = |change: &dyn Fn(&mut Plan)| {
        let mut plan = plan();
        change(&mut plan);
        plan.check().unwrap_err().to_string()
    };
    assert_eq!(
        refused(&|plan| plan.seasons = 21),
        "the number of seasons cannot be 21: give 1 to 20"
    );
    assert_eq!(
        refused(&|plan| plan.kept = 101),
        "101 of 100 ears cannot be kept: test more ears or keep fewer"
    );
    assert_eq!(
        refused(&|plan| plan.plants_each = 9),
        "90 plants do not bear 100 ears to test: grow more plants of each kept ear, or test fewer ears"
    );
    assert!(refused(&|plan| plan.plants_each = 200_000).contains("surely a slip"));
    assert!(
        refused(&|plan| plan.foreign = f64::NAN)
            .contains("the share of foreign pollen cannot be NaN %: give 0 to 100 %")
    );
    assert_eq!(
        refused(&|plan| plan.evenness = 0.1),
        "the evenness cannot be 10 %: give 30 to 100 %"
    );
    assert!(refused(&|plan| plan.cap = Some(0)).contains("the cap of a mother row"));
    assert!(refused(&|plan| plan.kernels = 0).contains("the kernels of an ear"));
    let empty = population(0.0, 1.0, 0.5, 0);
    assert_eq!(replicates(&empty, &plan(), 1, 0..1), Err(NoLook::Population));
    let odd = population(f64::NAN, 1.0, 0.5, 3);
    assert_eq!(replicates(&odd, &plan(), 1, 0..1), Err(NoLook::Population));
}

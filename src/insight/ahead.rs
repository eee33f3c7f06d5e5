//! The look ahead from a season as it stands: the plan that goes on as now, what it is reckoned from, and an outcome in
//! words.

use super::choice::Choice;
use super::estimates::{Basis, Estimates};
use super::price::{self, Price, Sisters};
use super::words::{percent, plural, tenths, whole};
use crate::genetics::ahead::{
    FEWEST_KEPT, MOST_EARS, MOST_KEPT, MOST_KERNELS, MOST_PLANTS, Outlook, Plan, Pollen, Population,
    SeasonAhead, Sure,
};
use crate::genetics::half_sib::inherited_part;
use crate::genetics::{Likeness, Span};
use crate::model::{Cutoffs, Project, SeasonId, Stand};
use crate::stats::mixed::Reference;
use crate::stats::{Cutoff, Fit};
use statrs::function::gamma::digamma;
use std::collections::BTreeMap;

/// Seasons that are looked ahead, where nobody says how many.
const SEASONS: u32 = 10;
/// Of so many ears one is kept by the plan where no ear is kept now. Common practice, no source.
const ONE_KEPT_OF: u32 = 10;
/// From this part of the replicates on it is told that a plan could not be carried out in them.
const TOLD_PART: f64 = 0.005;

/// A season as the start of a look ahead.
#[derive(Debug, Clone, PartialEq)]
pub struct Ahead {
    /// The season.
    pub season: SeasonId,
    /// Its year.
    pub year: i16,
    /// The population and the plan that goes on as now, or why nothing can be looked ahead from: a sentence.
    pub start: Result<AheadStart, String>,
}

/// What a look ahead begins with.
#[derive(Debug, Clone, PartialEq)]
pub struct AheadStart {
    /// The population as the season's counts show it.
    pub population: Population,
    /// The plan of this season, taken for every season to come.
    pub plan: Plan,
    /// The heritability of single kernels that is reckoned with, 0 to 1.
    pub heritability: Span,
    /// Whether the grower narrowed it.
    pub is_narrowed: bool,
    /// How alike the kernels of one ear are.
    pub likeness: Likeness,
}

impl AheadStart {
    /// Says what a look ahead with this plan takes for granted, a sentence each.
    pub fn assumptions(&self, plan: &Plan) -> Vec<String> {
        let Span { low, high } = self.population.inherited;
        let narrowed = if self.is_narrowed { ", narrowed by you" } else { "" };
        let foreign = if plan.foreign > 0.0 {
            format!(
                " {} of it comes from unrelated plants that stay as the population is now.",
                percent(100.0 * plan.foreign)
            )
        } else {
            String::new()
        };
        let limits = if plan.passing < 1.0 {
            format!(
                " {} of the ears pass the other limits, however they germinate.",
                whole(100.0 * plan.passing)
            )
        } else {
            String::new()
        };
        vec![
            "A simulation of what may come, never a promise. It is of the cold test in trays; lab gain is not field gain."
                .to_owned(),
            format!(
                "Ears differ by a standard deviation of {:.2} logits, as they do now. Of that variance {} to {} is inherited, by \
                 a heritability of single kernels from {} to {}{narrowed}; each replicate draws its own. The rest is the \
                 mother plant's health, drying and maternal effects. The upper end is a bound, so the lower outcomes are the \
                 likelier ones.",
                self.population.deviation_logits,
                whole(100.0 * low),
                whole(100.0 * high),
                whole(100.0 * self.heritability.low),
                whole(100.0 * self.heritability.high),
            ),
            format!("{}{foreign}", pollen_sentence(plan.pollen)),
            format!(
                "Ears are chosen by what {} tell of each, and by nothing else that is inherited.{limits}",
                plural(plan.kernels as usize, "kernel")
            ),
            "The mothers of two rows of this season are unrelated. Every planted kernel becomes a plant that bears an ear and \
             sheds pollen. Very many genes of small effect add up; inbreeding lowers the variance, but not the \
             germination, as it may in truth."
                .to_owned(),
        ]
    }
}

fn pollen_sentence(pollen: Pollen) -> &'static str {
    match pollen {
        Pollen::AllRows => "Pollen comes from all plants of all rows of the season.",
        Pollen::BulkOfKept => {
            "The rows are detasselled; pollen comes from pollen rows planted with equal kernels of all kept ears."
        }
        Pollen::BulkOfAll => {
            "The rows are detasselled; pollen comes from pollen rows planted with equal kernels of all tested ears, chosen or \
             not."
        }
    }
}

/// Names a way of pollination in a form.
pub const fn pollen_name(pollen: Pollen) -> &'static str {
    match pollen {
        Pollen::AllRows => "all rows",
        Pollen::BulkOfKept => "rows of kept ears",
        Pollen::BulkOfAll => "rows of all ears",
    }
}

/// Says what a plan does every season, in one sentence.
pub fn plan_sentence(plan: &Plan) -> String {
    let cutoff = plan.cutoff.map_or_else(String::new, |sure| {
        format!(
            " of those that reach {} with a sureness of {}",
            percent(sure.cutoff.percent()),
            whole(100.0 * sure.sureness)
        )
    });
    let cap = plan
        .cap
        .map_or_else(String::new, |cap| format!(", at most {cap} of one mother row"));
    let shares = if plan.evenness < 1.0 {
        format!(
            ", more of the better ones so that they count as {} of their number",
            whole(100.0 * plan.evenness)
        )
    } else {
        String::new()
    };
    format!(
        "Every season {} are tested with {} each, the best {}{cutoff} are kept{cap}, and {} grown of each{shares}.",
        plural(plan.ears as usize, "ear"),
        plural(plan.kernels as usize, "kernel"),
        plan.kept,
        plural(plan.plants_each as usize, "plant"),
    )
}

/// Says what came out, a sentence each.
pub fn outcome_sentences(plan: &Plan, outlook: &Outlook) -> Vec<String> {
    let (Some(first), Some(last)) = (outlook.seasons.first(), outlook.seasons.last()) else {
        return Vec::new();
    };
    let seasons = plural(last.season as usize, "season");
    let gain = outlook.gain_points(last.season as usize).unwrap_or(0.0);
    let end = last.germination_percent;
    let mut said = vec![format!(
        "After {seasons} the ears are likely to germinate with {} on the mean, {} now: {} points. In nine of ten of {} it \
         is {:.0} to {}.",
        percent(end.mean),
        percent(first.germination_percent.mean),
        signed(gain),
        plural(outlook.replicates, "replicate"),
        end.low,
        whole(end.high),
    )];
    said.extend(half_way(outlook));
    let size = outlook.effective_size().map_or_else(String::new, |size| {
        format!(" That is an effective size of {size:.0}.")
    });
    said.push(format!(
        "Plants are then inbred by {} on the mean, and two of them have a coancestry of {:.3}.{size}",
        percent(100.0 * last.inbreeding.mean),
        last.coancestry.mean,
    ));
    let left = last.variance_left.map_or_else(String::new, |left| {
        format!(" Of the additive variance {} is left.", whole(100.0 * left))
    });
    said.push(format!(
        "In the last season {:.0} ears of {:.0} mother rows are kept. The lines of mothers go back to {} of the {:.0} mother \
         rows of now.{left}",
        last.rows.mean,
        last.mothers.mean,
        tenths(last.lineages.mean),
        first.lineages.mean,
    ));
    said.extend(hindrances(plan, &outlook.seasons));
    said
}

/// Says by when half of the gain is there, if that is not simply half of the seasons.
fn half_way(outlook: &Outlook) -> Option<String> {
    let last = outlook.seasons.len() - 1;
    let gain = outlook.gain_points(last)?;
    let half = (1..=last).find(|season| outlook.gain_points(*season).unwrap_or(0.0) >= 0.5 * gain)?;
    (gain > 1.0 && 3 * half <= last)
        .then(|| format!("Half of that comes in the first {}.", plural(half, "season")))
}

fn hindrances(plan: &Plan, seasons: &[SeasonAhead]) -> Vec<String> {
    let worst = |of: &dyn Fn(&SeasonAhead) -> f64| {
        let found = seasons.iter().max_by(|a, b| of(a).total_cmp(&of(b)))?;
        (of(found) > TOLD_PART).then(|| (100.0 * of(found), found.season))
    };
    let mut said = Vec::new();
    if let Some((part, season)) = worst(&|one| one.short) {
        said.push(format!(
            "In {} of the replicates fewer than {FEWEST_KEPT} ears could be kept by the plan before season {season}, so the best \
             {FEWEST_KEPT} were planted all the same.",
            percent(part)
        ));
    }
    if let Some((part, season)) = worst(&|one| one.small) {
        said.push(format!(
            "In {} of the replicates the field of season {season} bore fewer than the {} ears of the plan, because few were kept; \
             as many as there were are tested.",
            percent(part),
            plan.ears
        ));
    }
    said
}

fn signed(value: f64) -> String {
    format!("{value:+.1}")
}

/// The cutoffs without that on cold germination and the cap, which the plan has of its own.
pub(super) fn other_cutoffs(cutoffs: &Cutoffs) -> Cutoffs {
    Cutoffs {
        germination_percent: None,
        cap_per_mother: None,
        ..cutoffs.clone()
    }
}

/// `by_others` is the choice by all cutoffs but those that the plan has of its own.
pub(super) fn compute(
    project: &Project,
    choice: &Choice,
    by_others: &Choice,
    estimates: &Estimates,
    price: &Price,
) -> Ahead {
    let year = project.seasons.get(choice.season).map_or(0, |season| season.year);
    Ahead {
        season: choice.season,
        year,
        start: start(project, choice, by_others, estimates, price),
    }
}

fn start(
    project: &Project,
    choice: &Choice,
    by_others: &Choice,
    estimates: &Estimates,
    price: &Price,
) -> Result<AheadStart, String> {
    if estimates.scored() < 2 {
        return Err(
            "A look ahead begins with what the counts tell of the ears. Score the test of this season first."
                .to_owned(),
        );
    }
    let Some((mean_logit, deviation_logits)) = logits(&estimates.basis) else {
        return Err(
            "The counts do not tell how much the ears of this season differ, so nothing can be looked ahead from. It takes \
             at least eight scored ears that differ by more than chance."
                .to_owned(),
        );
    };
    let heritability = price.heritability.ok_or_else(no_likeness)?;
    let part = |of| inherited_part(of, heritability.likeness.correlation).ok_or_else(no_likeness);
    let inherited = Span {
        low: part(heritability.range.low)?,
        high: part(heritability.range.high)?,
    };
    let population = Population {
        mean_logit,
        deviation_logits,
        inherited,
        rows: rows(project, choice),
    };
    Ok(AheadStart {
        population,
        plan: plan(project, choice, by_others),
        heritability: heritability.range,
        is_narrowed: heritability.is_narrowed,
        likeness: heritability.likeness,
    })
}

fn no_likeness() -> String {
    "The kernels of one ear are no more alike than those of different ears, so nothing is seen to be inherited and nothing can \
     be looked ahead from."
        .to_owned()
}

/// Mean and standard deviation of the ears on the logit scale; `None` where they were not found to differ.
///
/// Of a beta distribution they are `psi(a) - psi(b)` and the root of `psi'(a) + psi'(b)` (Johnson, Kotz and Balakrishnan
/// 1995, Continuous Univariate Distributions 2, ch. 25, from memory).
fn logits(basis: &Basis) -> Option<(f64, f64)> {
    match basis {
        Basis::Main(model) => {
            let mean = model.logit_at(Reference::AverageTray).value;
            Some((mean, model.spread()?.value))
        }
        Basis::StandIn { fit, .. } => {
            let Fit::Fitted(_) = fit else { return None };
            let prior = fit.prior();
            let slope = |x: f64| {
                let step = 1e-4 * x;
                (digamma(x + step) - digamma(x - step)) / (2.0 * step)
            };
            let (a, b) = (prior.alpha(), prior.beta());
            Some((digamma(a) - digamma(b), (slope(a) + slope(b)).sqrt()))
        }
    }
}

/// The ears of each group of sisters; of more groups than can be reckoned with as many of equal size.
fn rows(project: &Project, choice: &Choice) -> Vec<f64> {
    let sisters = price::sisters(project, &choice.standings);
    let mut counted: BTreeMap<Sisters, f64> = BTreeMap::new();
    for (place, group) in sisters.into_iter().enumerate() {
        *counted.entry(group.apart(place)).or_default() += 1.0;
    }
    if counted.len() > MOST_KEPT as usize {
        return vec![1.0; MOST_KEPT as usize];
    }
    counted.into_values().collect()
}

/// What this season does, taken for every season. All of it can be carried out.
fn plan(project: &Project, choice: &Choice, by_others: &Choice) -> Plan {
    let scored = || choice.standings.iter().filter_map(|one| one.estimate);
    let ears = (scored().count() as u32).clamp(2, MOST_EARS);
    let mut of_kernels: BTreeMap<u32, usize> = BTreeMap::new();
    for estimate in scored() {
        *of_kernels.entry(estimate.counts.n()).or_default() += 1;
    }
    // The larger of two that are as common.
    let kernels = of_kernels
        .into_iter()
        .max_by_key(|(kernels, ears)| (*ears, *kernels));
    let kept_now = choice.kept().filter(|one| one.estimate.is_some()).count() as u32;
    let kept = if kept_now == 0 {
        ears / ONE_KEPT_OF
    } else {
        kept_now
    };
    let kept = kept.clamp(2, MOST_KEPT.min(ears));
    let season = project.seasons.get(choice.season);
    let most_each = MOST_PLANTS / kept;
    let plants_each = season
        .map_or(0, |season| {
            if choice.summary.for_a_stand {
                season.wanted().plants
            } else {
                season.plant_each
            }
        })
        .clamp(ears.div_ceil(kept), most_each);
    let scored_by_others = by_others.standings.iter().filter(|one| one.estimate.is_some());
    let passing = scored_by_others.filter(|one| one.stand == Stand::Plant).count();
    let cutoffs = &choice.cutoffs;
    let cutoff = cutoffs
        .germination_percent
        .and_then(|percent| Cutoff::from_percent(percent.clamp(0.0, 100.0)).ok())
        .map(|cutoff| Sure {
            cutoff,
            sureness: cutoffs.sureness.clamp(0.5, 0.99),
        });
    Plan {
        ears,
        kernels: kernels.map_or(1, |(kernels, _)| kernels.clamp(1, MOST_KERNELS)),
        kept,
        cutoff,
        cap: cutoffs.cap_per_mother.map(|cap| u32::from(cap.max(1))),
        passing: (passing as f64 / f64::from(ears)).clamp(0.01, 1.0),
        plants_each,
        evenness: 1.0,
        pollen: Pollen::AllRows,
        foreign: 0.0,
        seasons: SEASONS,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::Fitted;
    use crate::stats::mixed::Reason;

    /// The logit of a uniform number has the standard logistic distribution: mean 0, variance pi^2 / 3. That of a number
    /// from Beta(2, 1) has the mean psi(2) - psi(1) = 1 and the variance pi^2 / 3 - 1 (Abramowitz and Stegun 6.3.5 and
    /// 6.4.6, from memory).
    #[test]
    fn a_beta_distribution_has_known_logits() {
        let third = std::f64::consts::PI.powi(2) / 3.0;
        for (mu, kernels, mean, variance) in [(0.5, 2.0, 0.0, third), (2.0 / 3.0, 3.0, 1.0, third - 1.0)] {
            let fit = Fit::Fitted(Fitted {
                mu,
                theta: 1.0 / kernels,
                mu_error: 0.1,
                rho_error: 0.1,
                log_likelihood: 0.0,
                log_likelihood_binomial: 0.0,
                gradient_norm: 0.0,
                trials: 1_000,
            });
            let reason = Reason::NotSettled;
            let (found, deviation) = logits(&Basis::StandIn { fit, reason }).unwrap();
            assert!((found - mean).abs() < 1e-9, "{found} {mean}");
            assert!(
                (deviation * deviation - variance).abs() < 1e-6,
                "{deviation} {variance}"
            );
        }
    }

    #[test]
    fn ears_that_were_not_found_to_differ_have_none() {
        let fit = Fit::NoSpread { mu: 0.7, trials: 500 };
        let reason = Reason::NotSettled;
        assert_eq!(logits(&Basis::StandIn { fit, reason }), None);
    }
}

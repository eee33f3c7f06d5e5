//! What a test will be able to tell, before it is made.

use super::estimates::{Basis, Estimates};
use super::words::{percent, plural, whole};
use crate::model::{Cutoffs, Ear, LedgerReason, Packet, Project, SeasonId, TestId, TrayPlan, trays_needed};
use crate::stats::choosing::{Chosen, chosen_by_count, chosen_from};
use crate::stats::mixed::{Reference, UnitPosterior};
use crate::stats::telling::{Told, kernels_to_tell};
use crate::stats::{Cutoff, Prior, probability_selected};

/// Cells laid by hand in an hour: common practice, no source.
pub const CELLS_AN_HOUR: f64 = 50.0;

/// How often a test that tells two rates apart may be wrong about either.
const WRONG: f64 = 0.1;
/// More kernels than anybody lays of an ear.
const MOST_KERNELS_TO_TELL: u32 = 1000;
/// The rates of ears while no season tells how they differ: an assumption, no source.
const ASSUMED: [f64; 2] = [6.0, 2.0];

/// Which ears a design is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DesignEars {
    /// The season.
    pub season: SeasonId,
    /// The test whose ears they are; none for all ears of the season.
    pub like: Option<TestId>,
    /// Whether the ears that are in no test come with them.
    pub with_untested: bool,
}

impl DesignEars {
    /// Gives the ears by number.
    pub fn of(self, project: &Project) -> Vec<&Ear> {
        project
            .ears_of(self.season)
            .filter(|ear| match self.like {
                None => true,
                Some(test) => is_in(project, ear, test) || (self.with_untested && is_untested(project, ear)),
            })
            .collect()
    }
}

fn is_in(project: &Project, ear: &Ear, test: TestId) -> bool {
    project
        .cells_of_ear(ear.id)
        .any(|cell| project.trays.get(cell.tray).is_some_and(|tray| tray.test == test))
}

/// Says whether an ear lies in no cell of any test.
pub fn is_untested(project: &Project, ear: &Ear) -> bool {
    project.cells_of_ear(ear.id).next().is_none()
}

/// A test that is thought of.
#[derive(Debug, Clone, PartialEq)]
pub struct BeforeQuery {
    /// Its ears.
    pub ears: DesignEars,
    /// Its trays.
    pub plan: TrayPlan,
    /// The two true percents that it should tell apart, the lower one first.
    pub tell: [f64; 2],
    /// Plans to set beside it, each the kernels of a cell and the cells of an ear; one like it is left out.
    pub beside: Vec<(u16, u16)>,
}

impl BeforeQuery {
    /// Plans that are worth setting beside any other. Common practice, no source.
    pub const USUAL_PLANS: [(u16, u16); 3] = [(10, 1), (15, 1), (10, 2)];

    /// Gives the two percents that are told apart unless the grower types others: the cutoff and 15 points above it,
    /// inside 1 to 99. Common practice, no source.
    pub fn usual_tell(cutoff_percent: Option<f64>) -> [f64; 2] {
        let lower = cutoff_percent.unwrap_or(70.0).clamp(1.0, 84.0);
        [lower, lower + 15.0]
    }
}

/// What a test will be able to tell.
#[derive(Debug, Clone, PartialEq)]
pub struct Before {
    /// The season's cold germination cutoff in percent; `None` when none is set.
    pub cutoff_percent: Option<f64>,
    /// The plan asked for, and after it the others that are set beside it.
    pub plans: Vec<PlanFigures>,
    /// How much the ears are taken to differ, and from where that is known, in a sentence.
    pub spread: String,
    /// How many kernels tell the two percents apart, in a sentence.
    pub tell: String,
    /// The same in numbers; `None` where the two percents cannot be told apart with any number of kernels of use.
    pub told: Option<Told>,
}

/// What one plan needs and tells.
#[derive(Debug, Clone, PartialEq)]
pub struct PlanFigures {
    /// Kernels of a cell.
    pub kernels: u16,
    /// Cells of an ear.
    pub replicates: u16,
    /// Cells of all ears together, without the checks.
    pub cells: u64,
    /// Kernels of all ears together, without the checks.
    pub all_kernels: u64,
    /// Trays; `None` when they cannot be laid out.
    pub trays: Option<u32>,
    /// Hours of laying by hand, at [`CELLS_AN_HOUR`].
    pub hours: f64,
    /// The share of its packet that the middle one of all ears gives, in percent; `None` when no packet was
    /// counted.
    pub packet_percent: Option<f64>,
    /// Ears whose packets, all counted, hold too few kernels.
    pub short: usize,
    /// What it tells; `None` without a cold germination cutoff.
    pub telling: Option<Telling>,
}

/// How a cutoff works on a count.
#[derive(Debug, Clone, PartialEq)]
pub struct Telling {
    /// Counted kernels of an ear.
    pub kernels: u32,
    /// The cutoff in percent.
    pub cutoff_percent: f64,
    /// The least count that reaches the cutoff.
    pub least: u32,
    /// The chance to pass in percent against the true percent, from 0 to 100.
    pub curve: Vec<[f64; 2]>,
    /// What to expect of the ears that pass; `None` when none ever does.
    pub chosen: Option<Chosen>,
}

impl Telling {
    fn new(kernels: u32, cutoff: Cutoff, spread: &Spread) -> Option<Self> {
        let chance = |percent: f64| probability_selected(percent / 100.0, kernels, cutoff);
        let curve = (0..=100)
            .map(|rate| Some([f64::from(rate), 100.0 * chance(f64::from(rate))?]))
            .collect::<Option<Vec<_>>>()?;
        Some(Self {
            kernels,
            cutoff_percent: cutoff.percent(),
            least: crate::stats::least_germinated(kernels, cutoff),
            curve,
            chosen: spread.chosen(kernels, cutoff),
        })
    }

    /// Gives the chance that an ear of this true percent passes, in percent; `None` outside of 0 to 100.
    pub fn passes(&self, true_percent: f64) -> Option<f64> {
        let cutoff = Cutoff::from_percent(self.cutoff_percent).ok()?;
        probability_selected(true_percent / 100.0, self.kernels, cutoff).map(|chance| 100.0 * chance)
    }

    /// Says what passes, what passes by luck, what is missed, and what to expect of the ears that pass.
    pub fn sentences(&self) -> Vec<String> {
        let mut all = vec![self.least_sentence()];
        all.extend(self.luck_sentence());
        all.extend(self.chosen_sentence());
        all
    }

    fn least_sentence(&self) -> String {
        let share = 100.0 * f64::from(self.least) / f64::from(self.kernels);
        format!(
            "An ear passes the cutoff of {} with {} of {} kernels, which is {}.",
            percent(self.cutoff_percent),
            self.least,
            self.kernels,
            percent(share)
        )
    }

    fn luck_sentence(&self) -> Option<String> {
        let inside = |rate: &f64| *rate > 0.0 && *rate < 100.0;
        let at = |rate: f64| Some((rate, self.passes(rate)?));
        let below: Vec<String> = [-10.0, -20.0]
            .map(|step| self.cutoff_percent + step)
            .iter()
            .filter(|rate| inside(rate))
            .filter_map(|rate| at(*rate))
            .map(|(rate, chance)| format!("{} passes {}", percent(rate), times(chance)))
            .collect();
        let above = Some(self.cutoff_percent + 10.0)
            .filter(inside)
            .and_then(at)
            .map(|(rate, chance)| format!("{} fails {}", percent(rate), times(100.0 - chance)));
        let all: Vec<String> = below.into_iter().chain(above).collect();
        let (last, first) = all.split_last()?;
        Some(if first.is_empty() {
            format!("By luck an ear of {last}.")
        } else {
            format!(
                "By luck an ear of {}, and one of {last}.",
                first.join(", one of ")
            )
        })
    }

    fn chosen_sentence(&self) -> Option<String> {
        let chosen = self.chosen.as_ref()?;
        Some(format!(
            "About {} ears pass. Their counts will average {}, but the truth {}: a count flatters the chosen by {:.1} points, and {} of them are below the cutoff in truth.",
            of_100(100.0 * chosen.share),
            percent(100.0 * chosen.observed),
            percent(100.0 * chosen.true_rate),
            100.0 * chosen.excess(),
            of_100(100.0 * chosen.below),
        ))
    }
}

/// Names a plan by the kernels of a cell and the cells of an ear, such as `10 once`.
pub fn plan_name(kernels: u16, replicates: u16) -> String {
    match replicates {
        1 => format!("{kernels} once"),
        2 => format!("{kernels} twice"),
        more => format!("{kernels} {more} times"),
    }
}

impl PlanFigures {
    /// Names the plan, such as `10 once`.
    pub fn name(&self) -> String {
        plan_name(self.kernels, self.replicates)
    }

    /// Says which share of its packet an ear gives, and how many packets hold too few kernels.
    pub fn packet(&self) -> String {
        match (self.short, self.packet_percent) {
            (0, Some(share)) => whole(share),
            (short, Some(share)) => format!("{}, {short} short", whole(share)),
            (_, None) => "not counted".to_owned(),
        }
    }

    /// Says by how many points the counts of the ears that pass will flatter them.
    pub fn flatters(&self) -> String {
        let excess = self
            .telling
            .as_ref()
            .map(|telling| telling.chosen.as_ref().map(Chosen::excess));
        match excess {
            Some(Some(excess)) => format!("{:.1} points", 100.0 * excess),
            Some(None) => "none passes".to_owned(),
            None => "no cutoff".to_owned(),
        }
    }

    /// Says how often an ear of this true percent passes.
    pub fn passes(&self, true_percent: f64) -> String {
        let chance = self
            .telling
            .as_ref()
            .and_then(|telling| telling.passes(true_percent));
        chance.map_or_else(|| "no cutoff".to_owned(), of_100)
    }

    /// Says the hours, or the minutes where they are less than one.
    pub fn time(&self) -> String {
        if self.hours < 1.0 {
            format!("{:.0} min", (60.0 * self.hours).ceil())
        } else {
            format!("{:.1} h", self.hours)
        }
    }

    /// Says all figures of the plan in one sentence.
    pub fn sentence(&self) -> String {
        let mut parts = vec![format!("{} kernels", self.all_kernels)];
        parts.extend(self.trays.map(|trays| plural(trays as usize, "tray")));
        parts.push(self.time());
        parts.extend(
            self.packet_percent
                .map(|share| format!("{} of a packet", whole(share))),
        );
        if self.short > 0 {
            parts.push(format!(
                "too many for the packets of {}",
                plural(self.short, "ear")
            ));
        }
        if let Some(telling) = &self.telling {
            let lower = telling.cutoff_percent - 10.0;
            if let Some(chance) = telling.passes(lower).filter(|_| lower > 0.0) {
                parts.push(format!("an ear of {} passes {}", percent(lower), times(chance)));
            }
        }
        format!("{}: {}.", self.name(), parts.join(", "))
    }
}

/// Says `17 of 100 times`.
fn times(chance: f64) -> String {
    format!("{} times", of_100(chance))
}

/// Says `17 of 100`; rounding does not turn 'seldom' into 'never'.
fn of_100(chance: f64) -> String {
    if chance > 0.0 && chance < 1.0 {
        "less than 1 of 100".to_owned()
    } else if chance > 99.0 && chance < 100.0 {
        "more than 99 of 100".to_owned()
    } else {
        format!("{chance:.0} of 100")
    }
}

/// How much ears differ.
pub(super) struct Spread {
    prior: Prior,
    /// The distribution of the rates by the main model; none where a beta distribution stands for it.
    exact: Option<UnitPosterior>,
    /// The year of the season that tells it; none when it is assumed.
    year: Option<i16>,
}

impl Spread {
    /// Takes what a season tells, if it tells anything.
    pub(super) fn of(estimates: &Estimates, year: i16) -> Option<Self> {
        let prior = estimates.has_spread().then(|| estimates.population.prior())??;
        let exact = match &estimates.basis {
            Basis::Main(model) => Some(model.population(Reference::AverageTray)),
            Basis::StandIn { .. } => None,
        };
        Some(Self {
            prior,
            exact,
            year: Some(year),
        })
    }

    pub(super) fn assumed() -> Self {
        Self {
            prior: Prior::new(ASSUMED[0], ASSUMED[1]).expect("both numbers are in range"),
            exact: None,
            year: None,
        }
    }

    /// What to expect of the ears that pass.
    fn chosen(&self, kernels: u32, cutoff: Cutoff) -> Option<Chosen> {
        match &self.exact {
            Some(population) => chosen_from(population, kernels, cutoff),
            None => chosen_by_count(self.prior, kernels, cutoff),
        }
    }

    fn sentence(&self) -> String {
        let mean = self.prior.mean();
        // The standard deviation of a beta distribution.
        let deviation = (mean * (1.0 - mean) / (self.prior.strength() + 1.0)).sqrt();
        let text = format!(
            "{} on average with a standard deviation of {:.0} points",
            whole(100.0 * mean),
            100.0 * deviation
        );
        match self.year {
            Some(year) => format!("The ears are taken to differ as the counts of season {year} say: {text}."),
            None => format!("No season tells yet how much ears differ. Assumed, without a source: {text}."),
        }
    }
}

pub(super) fn compute(project: &Project, query: &BeforeQuery, cutoffs: &Cutoffs, spread: &Spread) -> Before {
    let ears = query.ears.of(project);
    let packets = packets(project, &ears, query.ears.like);
    let cutoff = cutoffs
        .germination_percent
        .and_then(|percent| Cutoff::from_percent(percent).ok());
    let asked = (query.plan.kernels, query.plan.replicates);
    let others = query.beside.iter().copied().filter(|plan| *plan != asked);
    let plans = std::iter::once(asked)
        .chain(others)
        .map(|(kernels, replicates)| {
            let plan = TrayPlan {
                kernels,
                replicates,
                ..query.plan.clone()
            };
            figures(&plan, ears.len(), &packets, cutoff, spread)
        })
        .collect();
    let told = told(query.tell);
    Before {
        cutoff_percent: cutoff.map(Cutoff::percent),
        plans,
        spread: spread.sentence(),
        tell: tell(query.tell, told, u32::from(asked.0) * u32::from(asked.1)),
        told,
    }
}

fn figures(
    plan: &TrayPlan,
    ears: usize,
    packets: &[i64],
    cutoff: Option<Cutoff>,
    spread: &Spread,
) -> PlanFigures {
    let of_an_ear = u32::from(plan.kernels) * u32::from(plan.replicates);
    let trays = trays_needed(plan, ears).ok();
    let needed = i64::from(of_an_ear);
    let middle = packets.get(packets.len() / 2).filter(|kernels| **kernels > 0);
    PlanFigures {
        kernels: plan.kernels,
        replicates: plan.replicates,
        cells: u64::from(plan.replicates) * ears as u64,
        all_kernels: u64::from(of_an_ear) * ears as u64,
        trays,
        hours: ears as f64 * f64::from(plan.replicates) / CELLS_AN_HOUR,
        packet_percent: middle.map(|kernels| 100.0 * f64::from(of_an_ear) / *kernels as f64),
        short: packets.partition_point(|kernels| *kernels < needed),
        telling: cutoff.and_then(|cutoff| Telling::new(of_an_ear, cutoff, spread)),
    }
}

/// The kernels in the fullest packet of each ear whose packets are all counted, in rising order, as if nothing had
/// been laid of this test.
fn packets(project: &Project, ears: &[&Ear], test: Option<TestId>) -> Vec<i64> {
    let before = |packet: &Packet| {
        let laid: i64 = packet
            .ledger
            .iter()
            .filter(|line| test.is_some_and(|test| line.reason == LedgerReason::Test(test)))
            .map(|line| i64::from(line.kernels))
            .sum();
        packet.balance().map(|balance| balance - laid)
    };
    let mut kernels: Vec<i64> = ears
        .iter()
        .filter_map(|ear| {
            let counted: Option<Vec<i64>> = project.packets_of(ear.id).map(before).collect();
            counted?.into_iter().max()
        })
        .collect();
    kernels.sort_unstable();
    kernels
}

fn told(percents: [f64; 2]) -> Option<Told> {
    let rates = percents.map(|percent| percent / 100.0);
    kernels_to_tell(rates, WRONG, WRONG, MOST_KERNELS_TO_TELL)
}

fn tell(percents: [f64; 2], told: Option<Told>, here: u32) -> String {
    let [lower, higher] = percents;
    if !(lower > 0.0 && lower < higher && higher < 100.0) {
        return "Two percents between 0 and 100 can be told apart, the lower one first; type them so."
            .to_owned();
    }
    let what = format!(
        "To tell {} from {} and be wrong about either at most 1 time in 10",
        percent(lower),
        percent(higher)
    );
    match told {
        Some(told) => format!(
            "{what} takes {} of an ear, {} of them germinated; this test has {here}.",
            plural(told.kernels as usize, "kernel"),
            told.least
        ),
        None => format!("{what} takes more than {MOST_KERNELS_TO_TELL} kernels of an ear."),
    }
}

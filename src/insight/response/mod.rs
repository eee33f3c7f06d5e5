//! What the seasons brought: how the population moved as counted and beside a common check, what of the selection was
//! realised, and what came along unasked.

mod gather;
mod say;

use super::price::COMES_ALONG;
use crate::genetics::{Beside, Chain, Span, Uncertain};
use crate::model::{Project, SeasonId, TraitId};
use gather::Gathered;

pub use say::ResponseLine;

/// A realised heritability of less than this is said to be near zero. Common practice, no source.
const NEAR_ZERO: f64 = 0.1;
/// A check speaks for a season where at least this part of its scored ears lay in tests with it. Common practice, no source.
const SPEAKS_FOR: f64 = 0.8;
/// At least this part of a season's scored ears must come from the list before it. Common practice, no source.
const FROM_THE_LIST: f64 = 0.5;

/// What is followed over the seasons.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Followed {
    /// Cold germination as counted.
    Germination,
    /// Days from planting to maturity.
    Maturity,
    /// Heat units from planting to maturity.
    HeatUnits,
    /// Vigor grade in the trays.
    Vigor,
    /// A trait of the project.
    Trait(TraitId),
    /// Days from planting until half of a row showed silk.
    Silk,
    /// Height of the plants of a row.
    PlantHeight,
    /// Height at which the ears of a row sit.
    EarHeight,
    /// Plants of a row that broke below the ear.
    StalkLodged,
    /// Plants of a row that lean from the root.
    RootLodged,
}

impl Followed {
    /// Whether it is noted of rows in the field, not of ears.
    pub fn is_of_rows(self) -> bool {
        matches!(
            self,
            Self::Silk | Self::PlantHeight | Self::EarHeight | Self::StalkLodged | Self::RootLodged
        )
    }

    /// Whether less of it is earlier.
    fn is_earliness(self) -> bool {
        matches!(self, Self::Maturity | Self::HeatUnits | Self::Silk)
    }
}

/// The mean of a season.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeasonMean {
    /// The mean, its variance by families.
    pub mean: Uncertain,
    /// Ears, or rows of the field, of which it is known.
    pub count: usize,
    /// The standard deviation among them.
    pub deviation: f64,
}

/// A check beside which a season was measured.
#[derive(Debug, Clone, PartialEq)]
pub struct BesideLot {
    /// The season's place among all.
    pub season: usize,
    /// The check lot, by its place among the names.
    pub lot: usize,
    /// How far the population lay above it.
    pub beside: Beside,
}

/// One thing over the seasons.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// What it is.
    pub what: Followed,
    /// Its name, such as `Maturity`.
    pub name: String,
    /// Its unit; empty for a grade or a plain number.
    pub unit: String,
    /// Digits shown after the point.
    pub decimals: usize,
    /// The mean of each season, by its place; `None` where fewer than two ears or rows are known.
    pub means: Vec<Option<SeasonMean>>,
    /// The checks beside which it was measured.
    pub beside: Vec<BesideLot>,
    /// Seasons that common checks link.
    pub chains: Vec<Chain>,
    /// For each season whether its choice asked for it: by a cutoff, a limit or the index.
    pub asked: Vec<bool>,
}

/// A mean as it stands beside a common check.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Adjusted {
    /// The mean of the first season of the chain, moved by what changed since beside the check.
    pub value: f64,
    /// What changed since the first season of the chain; nothing in that season itself.
    pub since: Option<Uncertain>,
    /// The place of the chain's first season.
    pub from: usize,
}

impl Course {
    /// The places of the first and the last season of which it is known; `None` unless they are two.
    pub fn ends(&self) -> Option<(usize, usize)> {
        let first = self.means.iter().position(Option::is_some)?;
        let last = self.means.iter().rposition(Option::is_some)?;
        (first < last).then_some((first, last))
    }

    /// What changed from one season to another as it was measured, the doing of the seasons included.
    pub fn raw_change(&self, from: usize, to: usize) -> Option<Uncertain> {
        Some(self.means[to]?.mean.less(self.means[from]?.mean))
    }

    /// What changed from one season to another beside common checks.
    pub fn change(&self, from: usize, to: usize) -> Option<Uncertain> {
        let mut chains = self.chains.iter();
        chains.find_map(|chain| chain.change(from, to))
    }

    /// Where a season stands beside the checks that link it with others; `None` where none does.
    pub fn adjusted(&self, season: usize) -> Option<Adjusted> {
        let chain = self.chains.iter().find(|chain| chain.seasons.contains(&season))?;
        let from = chain.seasons[0];
        let first = self.means[from]?.mean.value;
        let since = (season != from).then(|| chain.change(from, season)).flatten();
        Some(Adjusted {
            value: first + since.map_or(0.0, |since| since.value),
            since,
            from,
        })
    }

    /// The raw change from the first season to the last in standard deviations of the first season.
    pub fn deviations(&self) -> Option<f64> {
        let (first, last) = self.ends()?;
        let deviation = self.means[first]?.deviation;
        (deviation > 0.0).then(|| self.raw_change(first, last).map(|one| one.value / deviation))?
    }

    /// Whether a choice between the first and the last season asked for it.
    pub fn is_asked(&self) -> bool {
        self.what == Followed::Germination
            || self
                .ends()
                .is_some_and(|(first, last)| self.asked[first..last].iter().any(|asked| *asked))
    }

    /// Whether it drifted unasked: at least [`COMES_ALONG`] standard deviations, and no choice asked for it.
    pub fn came_along(&self) -> bool {
        !self.is_asked() && self.deviations().is_some_and(|one| one.abs() >= COMES_ALONG)
    }

    /// Whether it moved earlier without being asked to.
    pub fn is_accidental_earliness(&self) -> bool {
        self.what.is_earliness() && self.came_along() && self.deviations().is_some_and(|one| one < 0.0)
    }
}

/// A check lot over the seasons.
#[derive(Debug, Clone, PartialEq)]
pub struct LotCourse {
    /// Its name.
    pub name: String,
    /// What it germinated in each season, by its place.
    pub seasons: Vec<Option<LotMean>>,
}

/// What a check lot germinated in the trays of a season.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LotMean {
    /// Percent, each tray weighing as much as ears lie in it.
    pub percent: Uncertain,
    /// Its cells.
    pub cells: usize,
    /// Years since the first season of the project in which it was tested.
    pub years: i16,
}

impl LotCourse {
    /// The places of the first and the last season in which it was tested; `None` unless they are two.
    pub fn ends(&self) -> Option<(usize, usize)> {
        let first = self.seasons.iter().position(Option::is_some)?;
        let last = self.seasons.iter().rposition(Option::is_some)?;
        (first < last).then_some((first, last))
    }

    /// What changed from one season to another, in percent points.
    pub fn change(&self, from: usize, to: usize) -> Option<Uncertain> {
        Some(self.seasons[to]?.percent.less(self.seasons[from]?.percent))
    }
}

/// How hard a season's list selected.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Differential {
    /// The version of the list.
    pub version: u16,
    /// Mean counted percent of its ears by kernels planted, less that of all scored ears, in percent points.
    pub points: f64,
    /// Scored ears of the list.
    pub ears: usize,
    /// Mean counted percent of its ears by kernels planted.
    pub planted_percent: f64,
    /// Mean counted percent of all scored ears.
    pub all_percent: f64,
}

/// From one season to the next.
#[derive(Debug, Clone, PartialEq)]
pub struct Cycle {
    /// The place of the season whose ears were chosen.
    pub from: usize,
    /// The place of the season that grew from them.
    pub to: usize,
    /// How hard was selected, or why that is not known: a sentence.
    pub differential: Result<Differential, String>,
    /// The response beside a common check, in percent points.
    pub response: Option<Uncertain>,
    /// Response over differential, or why there is none: a sentence.
    pub realised: Result<Uncertain, String>,
}

/// The realised heritability over several cycles.
#[derive(Debug, Clone, PartialEq)]
pub struct Cumulated {
    /// The places of the seasons, the first with a differential of zero, each with the differential cumulated up to it, in
    /// percent points.
    pub seasons: Vec<(usize, f64)>,
    /// The slope of the response on the differential.
    pub realised: Uncertain,
}

/// What the seasons brought.
#[derive(Debug, Clone, PartialEq)]
pub struct Response {
    /// The seasons that have ears, the earliest first, with their years.
    pub seasons: Vec<(SeasonId, i16)>,
    /// Cold germination.
    pub germination: Course,
    /// Everything else that is known of two seasons or more.
    pub traits: Vec<Course>,
    /// The check lots that were tested.
    pub lots: Vec<LotCourse>,
    /// From each season to the next.
    pub cycles: Vec<Cycle>,
    /// The realised heritability over all cycles that are linked; `None` for fewer than two.
    pub cumulated: Option<Cumulated>,
    /// What else is to be known of the comparison, a sentence each.
    cautions: Vec<String>,
}

/// Looks at all seasons of a project that have ears.
pub(super) fn compute(project: &Project) -> Response {
    let gathered = Gathered::of(project);
    let germination = gathered.germination();
    let cycles: Vec<Cycle> = (1..gathered.seasons.len())
        .map(|to| cycle(&gathered, &germination, to))
        .collect();
    Response {
        cumulated: cumulated(&germination, &cycles),
        traits: gathered.traits(),
        lots: gathered.lots(&germination),
        cautions: gathered.cautions(&germination),
        germination,
        cycles,
        seasons: gathered.seasons,
    }
}

fn cycle(gathered: &Gathered<'_>, germination: &Course, to: usize) -> Cycle {
    let from = to - 1;
    let years = |at: usize| gathered.seasons[at].1;
    let differential = gathered.differential(from, to);
    let response = germination.change(from, to);
    let realised = match (&differential, response) {
        (Err(why), _) => Err(why.clone()),
        (Ok(_), None) => Err(format!(
            "No common check links {} and {}, so the response is not known.",
            years(from),
            years(to)
        )),
        (Ok(known), Some(response)) if known.points > 0.5 => Ok(response.times(1.0 / known.points)),
        (Ok(known), Some(_)) => Err(format!(
            "The ears planted of {} were counted no better than all ({:+.1} points), so there is no response to compare with.",
            years(from),
            known.points
        )),
    };
    Cycle {
        from,
        to,
        differential,
        response,
        realised,
    }
}

/// Follows the cycles from the earliest of the last run without a gap in which differentials are known.
fn cumulated(germination: &Course, cycles: &[Cycle]) -> Option<Cumulated> {
    let known = |cycle: &Cycle| cycle.differential.as_ref().ok().map(|one| one.points);
    let begin = cycles
        .iter()
        .rposition(|cycle| known(cycle).is_none())
        .map_or(0, |at| at + 1);
    let run = &cycles[begin..];
    let mut sum = 0.0;
    let mut reached = vec![(run.first()?.from, 0.0)];
    for cycle in run {
        sum += known(cycle)?;
        reached.push((cycle.to, sum));
    }
    // The chain that links most of these seasons tells.
    let of_chain = |chain: &Chain| -> Vec<(usize, f64)> {
        let linked: Vec<(usize, f64)> = reached
            .iter()
            .filter(|(season, _)| chain.seasons.contains(season))
            .copied()
            .collect();
        let first = linked.first().map_or(0.0, |(_, sum)| *sum);
        linked
            .into_iter()
            .map(|(season, sum)| (season, sum - first))
            .collect()
    };
    let (chain, seasons) = germination
        .chains
        .iter()
        .map(|chain| (chain, of_chain(chain)))
        .max_by_key(|(_, seasons)| seasons.len())?;
    if seasons.len() < 3 {
        return None;
    }
    let realised = chain.slope(&seasons)?;
    Some(Cumulated { seasons, realised })
}

impl Response {
    /// The year of a season by its place.
    fn year(&self, season: usize) -> i16 {
        self.seasons[season].1
    }

    /// Everything that drifted unasked.
    pub fn came_along(&self) -> impl Iterator<Item = &Course> {
        self.traits.iter().filter(|one| one.came_along())
    }

    /// Whether the realised heritability is so small, or so little known, that nothing may be built on it.
    pub fn is_doubtful(realised: Uncertain) -> bool {
        realised.may_be_zero() || realised.value < NEAR_ZERO
    }

    /// The 95 % interval of what changed since the first season of its chain, as whiskers around a season's adjusted mean.
    pub fn whiskers(adjusted: Adjusted) -> Option<Span> {
        let since = adjusted.since?;
        let span = since.interval_95();
        let first = adjusted.value - since.value;
        Some(Span {
            low: first + span.low,
            high: first + span.high,
        })
    }
}

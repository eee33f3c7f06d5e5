//! What a choice costs and buys: response, what comes along unasked, and kinship.

use super::choice::{Choice, Standing};
use super::estimates::{Estimate, Estimates, PercentRange};
use super::kinship::{self, Kin};
use super::words::{percent, plural, whole};
use crate::genetics::half_sib::inherited_part;
use crate::genetics::inbreeding::pool_coancestry;
use crate::genetics::{
    self, Group, Kinship, Likeness, Line, Shift, Span, finite_intensity, likeness, line, shift,
};
use crate::model::{Cutoffs, Project, RowId, RowSource, ShareRange, Stand, TraitId};
use crate::stats::{Counts, effective_number};
use std::collections::BTreeMap;
use std::sync::Arc;

/// From this shift on, in standard deviations, a trait that no cutoff asks for is said to come along.
/// Common practice, no source.
pub const COMES_ALONG: f64 = 0.3;
/// The lower end of the heritability of single kernels, unless the counts allow less. Assumed, no source.
const HERITABILITY_AT_LEAST: f64 = 0.1;
/// The 95 % point of the standard normal distribution: a 90 % interval leaves out 5 % on each side.
const NORMAL_90: f64 = 1.644_853_626_951_472_2;

/// A mean over ears, in percent, and its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Mean {
    /// The mean, in percent.
    pub percent: f64,
    /// Its interval; `None` where one ear alone cannot give one.
    pub range: Option<PercentRange>,
}

/// The means of the kept ears and of all scored ears.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Means {
    /// Of the kept ears that were scored; `None` when there is none.
    pub kept: Option<Mean>,
    /// Of all scored ears.
    pub all: Option<Mean>,
}

impl Means {
    /// The mean of the kept less that of all, in percent points.
    pub fn difference(&self) -> Option<f64> {
        Some(self.kept?.percent - self.all?.percent)
    }
}

/// What a shift is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measured {
    /// Days from planting to maturity.
    Maturity,
    /// Mean vigor grade.
    Vigor,
    /// A trait of the project.
    Trait(TraitId),
}

/// How the kept ears differ from all in one trait.
#[derive(Debug, Clone, PartialEq)]
pub struct TraitShift {
    /// The trait.
    pub what: Measured,
    /// Its name, such as `Maturity`.
    pub name: String,
    /// Its unit; empty for a grade or a plain number.
    pub unit: String,
    /// Digits shown after the point.
    pub decimals: usize,
    /// Mean of the kept ears of which it is known.
    pub kept: f64,
    /// Mean of all ears of which it is known.
    pub all: f64,
    /// Kept ears of which it is known.
    pub kept_known: usize,
    /// All ears of which it is known.
    pub all_known: usize,
    /// The difference, its interval, and its size in standard deviations.
    pub shift: Shift,
    /// Whether a cutoff asks for it.
    pub is_asked: bool,
}

impl TraitShift {
    /// Says whether it comes along unasked: at least [`COMES_ALONG`] standard deviations and no cutoff on it.
    pub fn comes_along(&self) -> bool {
        let far = |deviations: f64| deviations.abs() >= COMES_ALONG;
        !self.is_asked && self.shift.deviations.is_some_and(far)
    }

    /// Says whether the interval leaves open that there is no difference, or there is no interval.
    pub fn may_be_chance(&self) -> bool {
        let interval = self.shift.interval;
        interval.is_none_or(|interval| interval.low <= 0.0 && interval.high >= 0.0)
    }

    fn signed(&self, value: f64) -> String {
        signed(value, self.decimals)
    }

    /// Says the difference, such as `+1.8 days (95 %: +0.9 to +2.7), +0.42 SD`.
    pub fn figures(&self) -> String {
        let interval = self.shift.interval.map_or_else(String::new, |span| {
            format!(" (95 %: {} to {})", self.signed(span.low), self.signed(span.high))
        });
        let deviations = self
            .shift
            .deviations
            .map_or_else(String::new, |one| format!(", {} SD", signed(one, 2)));
        let difference = self.signed(self.shift.difference);
        format!("{}{interval}{deviations}", with_unit(difference, &self.unit))
    }

    /// Says how the kept differ from all, and whether that comes along unasked.
    pub fn sentence(&self) -> String {
        let decimals = self.decimals;
        let unasked = match (self.comes_along(), self.may_be_chance()) {
            (true, true) => " Comes along unasked, if it is not chance.",
            (true, false) => " Comes along unasked.",
            (false, _) => "",
        };
        format!(
            "{}: kept {:.decimals$}, all {}: {}.{unasked}",
            self.name,
            self.kept,
            with_unit(format!("{:.decimals$}", self.all), &self.unit),
            self.figures(),
        )
    }
}

/// How far maturity alone explains that the kept ears germinate better or worse than all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MaturityPart {
    /// Observed percent points of cold germination for one more day to maturity, over all scored ears.
    pub points_a_day: f64,
    /// Days to maturity of the kept less those of all.
    pub days: f64,
    /// Percent points of the difference that maturity alone explains.
    pub explained: f64,
    /// The 95 % interval of these points.
    pub interval: Option<Span>,
    /// The difference that is to be explained, in percent points of likely cold germination.
    pub difference: f64,
}

impl MaturityPart {
    /// The part of the difference that maturity explains, 0 to 1; `None` when there is hardly a difference.
    pub fn part(&self) -> Option<f64> {
        (self.difference.abs() >= 0.05).then(|| (self.explained / self.difference).clamp(0.0, 1.0))
    }

    fn sentence(&self) -> String {
        let Some(part) = self.part() else {
            return "Kept ears and all ears are likely to germinate alike, so maturity has nothing to explain."
                .to_owned();
        };
        let between = self.interval.map_or_else(String::new, |interval| {
            format!(
                " (95 %: {} to {})",
                signed(interval.low, 1),
                signed(interval.high, 1)
            )
        });
        format!(
            "Maturity alone explains {} of {} points{between}, {}: the kept are {} and one more day goes with {} points.",
            signed(self.explained, 1),
            signed(self.difference, 1),
            whole(100.0 * part),
            later(self.days),
            signed(self.points_a_day, 1),
        )
    }
}

/// What may be inherited of the differences among ears.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Heritability {
    /// How alike the kernels of one ear are.
    pub likeness: Likeness,
    /// The heritability of single kernels that is reckoned with: what the counts allow, narrowed by the grower.
    pub range: Span,
    /// From the assumed least to the upper bound that the counts set.
    pub by_counts: Span,
    /// Whether the grower narrowed it.
    pub is_narrowed: bool,
}

/// Kinship of the kept ears' kernels under two assumptions on their pollen.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct KinshipBounds {
    /// Kept ears.
    pub ears: usize,
    /// Pollen plants: as many as the grower said, else one for every ear of the season.
    pub pollen_plants: usize,
    /// Whether kernels are reckoned for a wanted stand, so that plants are equally many and not kernels.
    pub for_a_stand: bool,
    /// Whether the grower said how many.
    pub is_said: bool,
    /// Mother rows of the season, by their shares of its ears, from which a closed plot's pollen comes.
    pub pollen_rows: f64,
    /// All pollen plants unrelated to each other and to the mothers.
    pub open: Kinship,
    /// All pollen from the season's own mother rows.
    pub closed: Kinship,
    /// Seasons before this one over which kinship is reckoned; 0 where only the rows of this season are known.
    pub seasons_back: usize,
    /// Whether some kept ears or some ears of the season have no known mother row.
    pub some_unknown: bool,
}

impl KinshipBounds {
    /// Whether both bounds are the same.
    pub fn is_one(&self) -> bool {
        let [open, closed] = [self.open, self.closed].map(|one| one.coancestry);
        (open - closed).abs() < 1e-12
    }
}

/// What a choice costs and buys.
#[derive(Debug, Clone, PartialEq)]
pub struct Price {
    /// Kept ears.
    pub kept: usize,
    /// Kept ears that were scored.
    pub kept_scored: usize,
    /// All scored ears.
    pub scored: usize,
    /// Means of the counted percents, with 95 % intervals by their spread.
    pub observed: Means,
    /// Means of the likely percents, with 90 % intervals by what is not known of these very ears.
    pub likely: Means,
    /// Kept ears expected to be below the cold germination cutoff in truth; `None` without that cutoff.
    pub expected_below: Option<f64>,
    /// The intensity of keeping the best so many of so many scored, were they normally distributed, in standard
    /// deviations.
    pub intensity: Option<f64>,
    /// The difference of likely means in standard deviations of likely percents: the intensity that is reached.
    pub reached: Option<f64>,
    /// What may be inherited; `None` when nothing tells.
    pub heritability: Option<Heritability>,
    /// What the next generation may gain, in percent points.
    pub response: Option<Span>,
    /// Maturity, vigor and every trait that is known of a kept ear.
    pub shifts: Vec<TraitShift>,
    /// What maturity alone explains; `None` when too few ears have both figures, or when all matured alike.
    pub maturity: Option<MaturityPart>,
    /// Scored ears whose maturity days are not known.
    pub without_days: usize,
    /// Kinship; `None` when no ear is kept.
    pub kinship: Option<KinshipBounds>,
    /// Where the season's pollen came from, in words, if the grower said. Both bounds of kinship follow that, so that they
    /// differ only by what was not said of earlier seasons and by unknown rows.
    pub pollen: Option<String>,
}

impl Price {
    /// Says what the choice buys, a sentence each.
    pub fn buys(&self) -> Vec<String> {
        let mut said = Vec::new();
        let Some((kept, all)) = self.likely.kept.zip(self.likely.all) else {
            return vec!["No scored ear is kept, so there is nothing to gain by germination.".to_owned()];
        };
        said.push(format!(
            "The kept are likely to germinate with {}, all ears with {}: {} points.",
            mean(kept, "90 %"),
            mean(all, "90 %"),
            signed(kept.percent - all.percent, 1),
        ));
        said.extend(self.response_sentence());
        if let Some((kept, all)) = self.observed.kept.zip(self.observed.all) {
            said.push(format!(
                "As counted it is {} against {}: {} points, in part luck of the ears chosen by it.",
                mean(kept, "95 %"),
                mean(all, "95 %"),
                signed(kept.percent - all.percent, 1),
            ));
        }
        if let Some(below) = self.expected_below {
            said.push(format!(
                "Of {} about {below:.1} are below the cutoff in truth.",
                plural(self.kept_scored, "kept ear")
            ));
        }
        if let (Some(intensity), Some(reached)) = (self.intensity, self.reached) {
            said.push(format!(
                "Selection intensity: {reached:.2} standard deviations; to keep the best {} of {} by a bell-shaped \
                 spread gives {intensity:.2}.",
                self.kept_scored, self.scored
            ));
        }
        said.extend(self.maturity.map(|part| part.sentence()));
        said.extend(self.maturity_left_out());
        said
    }

    /// Names the ears that what maturity explains leaves out, or why it explains nothing.
    fn maturity_left_out(&self) -> Option<String> {
        let known = self.scored.saturating_sub(self.without_days);
        match self.maturity {
            Some(_) if self.without_days == 0 => None,
            Some(_) => Some(format!(
                "{} without maturity days {} left out of that.",
                plural(self.without_days, "scored ear"),
                if self.without_days == 1 { "is" } else { "are" }
            )),
            None if self.scored < 3 || self.kept_scored == 0 => None,
            None if known < 3 => Some(format!(
                "What maturity alone explains cannot be told: of {} only {known} {} maturity days.",
                plural(self.scored, "scored ear"),
                if known == 1 { "has" } else { "have" }
            )),
            None => Some(
                "What maturity alone explains cannot be told: all ears matured alike, or no kept ear has maturity days."
                    .to_owned(),
            ),
        }
    }

    fn response_sentence(&self) -> Option<String> {
        if self.scored < 2 {
            return None;
        }
        Some(self.response.map_or_else(
            || "The counts show no difference among ears that could be inherited, so no response is foreseen.".to_owned(),
            |response| {
                format!(
                    "Response of the next generation in the same test: {} to {} points. A range, not a promise; \
                     lab gain is not field gain.",
                    signed(response.low, 1),
                    signed(response.high, 1)
                )
            },
        ))
    }

    /// Gives what comes along unasked.
    pub fn comes_along(&self) -> impl Iterator<Item = &TraitShift> {
        self.shifts.iter().filter(|one| one.comes_along())
    }

    /// Says what the choice costs in kinship, a sentence each; empty when nothing is kept.
    pub fn costs(&self) -> Vec<String> {
        let Some(kinship) = &self.kinship else {
            return Vec::new();
        };
        let (open, closed) = (kinship.open, kinship.closed);
        if self.pollen.is_some() {
            let both = |a: String, b: String| if a == b { a } else { format!("{a} to {b}") };
            let size = |one: Kinship| format!("{:.0}", one.effective_size());
            let inbreeding = |one: Kinship| hundredths(one.inbreeding());
            return vec![format!(
                "Effective size with the pollen that you stated: {}. Inbreeding added a season: {}.",
                both(size(closed), size(open)),
                both(inbreeding(open), inbreeding(closed)),
            )];
        }
        vec![format!(
            "Effective size: {:.0} with pollen of {}, {:.0} in a closed plot. Inbreeding added a \
             season: {} to {}.",
            open.effective_size(),
            plural(kinship.pollen_plants, "unrelated plant"),
            closed.effective_size(),
            hundredths(open.inbreeding()),
            hundredths(closed.inbreeding()),
        )]
    }

    /// Says what the figures take for granted, a sentence each.
    pub fn assumptions(&self) -> Vec<String> {
        let mut said = Vec::new();
        if let (Some(heritability), Some(_)) = (&self.heritability, self.response) {
            let Span { low, high } = heritability.by_counts;
            let least = if low < HERITABILITY_AT_LEAST {
                "no more than the counts allow"
            } else {
                "assumed, no source"
            };
            if heritability.is_narrowed {
                said.push(format!(
                    "Response: the heritability of single kernels is taken to lie between {} and {}, narrowed by you.",
                    percent(100.0 * heritability.range.low),
                    percent(100.0 * heritability.range.high)
                ));
            }
            let lies = if heritability.is_narrowed {
                "By the counts it"
            } else {
                "Response: the heritability of single kernels"
            };
            said.push(format!(
                "{lies} lies between {} ({least}) and {}, four times how alike \
                 kernels of one ear are ({:.2}, standard error {:.2}). That is an upper bound: the mother plant's \
                 health, drying and maternal effects are in it.",
                whole(100.0 * low),
                whole(100.0 * high),
                heritability.likeness.correlation,
                heritability.likeness.standard_error,
            ));
            said.push(
                "Response: the kept ears are planted by themselves and pollinate one another; pollen of plants that \
                 nobody chose halves it. Likely percents are shrunk already and are not shrunk again."
                    .to_owned(),
            );
        }
        if self.maturity.is_some() {
            said.push(
                "Maturity: a straight line through the counted percents of all scored ears. It says what goes \
                 together, not why: an ear that was wetter at harvest may germinate worse for that."
                    .to_owned(),
            );
        }
        if let Some(kinship) = &self.kinship {
            let unknown = if kinship.some_unknown {
                " Ears of unknown mother row count as unrelated in the open plot and as sisters in the closed one."
            } else {
                ""
            };
            let why = if kinship.is_said {
                "as you said"
            } else {
                "one for every ear of the season"
            };
            let before = match kinship.seasons_back {
                0 => "and the rows' mothers were unrelated".to_owned(),
                seasons => format!(
                    "in earlier seasons from theirs, and the rows' mothers are as related as {} of rows say",
                    plural(seasons, "earlier season")
                ),
            };
            let pollen = match &self.pollen {
                Some(pollen) => {
                    let earlier = match kinship.seasons_back {
                        0 => "The rows' mothers were unrelated.".to_owned(),
                        seasons => format!(
                            "The rows' mothers are as related as {} of rows say, by the pollen that you stated or, where \
                             you stated none, between an open field and a closed plot.",
                            plural(seasons, "earlier season")
                        ),
                    };
                    format!("Pollen: {pollen}. {earlier}")
                }
                None => format!("In the closed plot all pollen comes from this season's rows, {before}."),
            };
            said.push(format!(
                "Kinship: {}, {why}; {} of every kept ear; ears of \
                 one mother row are half sisters, unless it was sown from a bulk. {pollen}{unknown}",
                plural(kinship.pollen_plants, "pollen plant"),
                if kinship.for_a_stand {
                    "equally many plants"
                } else {
                    "equal kernels"
                },
            ));
        }
        said
    }
}

fn mean(mean: Mean, confidence: &str) -> String {
    let Some(PercentRange { low, high }) = mean.range else {
        return percent(mean.percent);
    };
    // Of many ears the range is so narrow that whole percents would make it none.
    let decimals = usize::from(high - low < 4.0);
    format!(
        "{} ({confidence}: {low:.decimals$} to {high:.decimals$})",
        percent(mean.percent)
    )
}

pub(super) fn signed(value: f64, decimals: usize) -> String {
    let text = format!("{value:+.decimals$}");
    // '-0.0' would say a direction that there is not.
    if text.bytes().any(|byte| (b'1'..=b'9').contains(&byte)) {
        text
    } else {
        format!("{:.decimals$}", 0.0)
    }
}

fn later(days: f64) -> String {
    if days.abs() < 0.05 {
        return "as early as all".to_owned();
    }
    format!(
        "{:.1} days {}",
        days.abs(),
        if days > 0.0 { "later" } else { "earlier" }
    )
}

pub(super) fn with_unit(value: String, unit: &str) -> String {
    if unit.is_empty() {
        value
    } else {
        format!("{value} {unit}")
    }
}

fn hundredths(share: f64) -> String {
    format!("{:.2} %", 100.0 * share)
}

/// Values of one trait, each with the place of its ear, less the mean of all so that sums keep their digits.
#[derive(Debug)]
struct Column {
    values: Vec<(usize, f64)>,
    mean: f64,
    all: Group,
}

impl Column {
    fn of_ears(standings: &[Standing], value: impl Fn(&Standing) -> Option<f64>) -> Self {
        let values = standings.iter().enumerate();
        let values = values.filter_map(|(place, one)| Some((place, value(one)?)));
        Self::new(values.collect())
    }

    fn new(values: Vec<(usize, f64)>) -> Self {
        let together: Group = values.iter().map(|(_, value)| *value).collect();
        let mean = together.mean().unwrap_or(0.0);
        let values: Vec<(usize, f64)> = values
            .into_iter()
            .map(|(place, value)| (place, value - mean))
            .collect();
        Self {
            all: values.iter().map(|(_, value)| *value).collect(),
            values,
            mean,
        }
    }

    fn of(&self, is_kept: &[bool]) -> Group {
        self.values
            .iter()
            .filter(|(place, _)| is_kept[*place])
            .map(|(_, value)| *value)
            .collect()
    }
}

#[derive(Debug)]
struct Named {
    what: Measured,
    name: String,
    unit: String,
    decimals: usize,
    column: Column,
}

/// All that a price needs and no cutoff changes; places are those of the choice.
#[derive(Debug)]
pub(super) struct Basis {
    observed: Column,
    likely: Column,
    /// Variance of what is not known of an ear's likely percent.
    unknown: Vec<(usize, f64)>,
    traits: Vec<Named>,
    likeness: Option<Likeness>,
    maturity: Option<Line>,
    days_of_scored: Column,
    /// A group of sisters for each ear; `None` when its mother row is not known or held many mothers.
    sisters: Vec<Sisters>,
    pollen_rows: f64,
    /// How the ears are related over the seasons, where that is known, with the family of each.
    kin: Arc<Option<Kin>>,
    families: Vec<usize>,
    /// Where the pollen came from, in words, if the grower said.
    pollen: Option<String>,
    /// The share of the pollen that comes from unrelated plants.
    unrelated_pollen: f64,
    /// Plants that shed pollen, if the grower said.
    pollen_plants: Option<u32>,
    /// The heritability as narrowed by the grower.
    narrowed: Option<ShareRange>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Sisters {
    /// Of one mother row, sown from one ear as far as is known.
    Row(RowId),
    /// Its mother row is not known.
    Unknown,
    /// Its mother row was sown from many ears.
    Alone(usize),
}

impl Sisters {
    /// The group of the ear at `place` when ears of unknown mother row are taken for unrelated.
    pub(super) fn apart(self, place: usize) -> Self {
        match self {
            Self::Unknown => Self::Alone(place),
            known => known,
        }
    }
}

pub(super) fn basis(
    project: &Project,
    choice: &Choice,
    estimates: &Estimates,
    kin: Arc<Option<Kin>>,
) -> Basis {
    let standings = &choice.standings;
    let scored: Vec<(usize, &Standing, &Estimate)> = standings
        .iter()
        .enumerate()
        .filter_map(|(place, one)| Some((place, one, one.estimate.as_ref()?)))
        .collect();
    let deviations: Vec<f64> = estimates
        .posteriors
        .iter()
        .map(|posterior| 100.0 * posterior.standard_deviation())
        .collect();
    let counts: Vec<Counts> = scored.iter().map(|(_, _, estimate)| estimate.counts).collect();
    let points = scored.iter().filter_map(|(_, one, estimate)| {
        let days = f64::from(one.maturity_days?);
        Some((days, estimate.observed_percent, f64::from(estimate.counts.n())))
    });
    let sisters = sisters(project, standings);
    let season = project.seasons.get(choice.season);
    // What was said of the pollen counts where the families can be related.
    let stated = season.filter(|_| kin.is_some());
    Basis {
        pollen_plants: season.and_then(|season| season.pollen_plants),
        pollen: stated
            .and_then(|season| season.pollen.as_ref())
            .map(|said| kinship::pollen_text(project, Some(said))),
        unrelated_pollen: kinship::unrelated_pollen(stated),
        families: Option::as_ref(&kin).map_or_else(Vec::new, |kin| {
            standings.iter().map(|one| kin.family(one.row)).collect()
        }),
        kin,
        narrowed: season.and_then(|season| season.heritability),
        observed: Column::of_ears(standings, |one| Some(one.estimate?.observed_percent)),
        likely: Column::of_ears(standings, |one| Some(one.estimate?.likely_percent)),
        unknown: scored
            .iter()
            .map(|(place, _, estimate)| (*place, deviations[estimate.posterior].powi(2)))
            .collect(),
        traits: named(project, standings),
        likeness: likeness(&counts),
        maturity: line(points).filter(|line| line.points > 2),
        days_of_scored: Column::of_ears(standings, |one| {
            one.estimate.and(one.maturity_days).map(f64::from)
        }),
        pollen_rows: effective_number(&shares(sisters.iter().copied())).unwrap_or(1.0),
        sisters,
    }
}

fn named(project: &Project, standings: &[Standing]) -> Vec<Named> {
    let mut found = vec![
        Named {
            what: Measured::Maturity,
            name: "Maturity".to_owned(),
            unit: "days".to_owned(),
            decimals: 1,
            column: Column::of_ears(standings, |one| one.maturity_days.map(f64::from)),
        },
        Named {
            what: Measured::Vigor,
            name: "Vigor".to_owned(),
            unit: String::new(),
            decimals: 1,
            column: Column::of_ears(standings, |one| one.estimate?.vigor),
        },
    ];
    for known in project.traits.iter() {
        found.push(Named {
            what: Measured::Trait(known.id),
            name: known.name.clone(),
            unit: known.unit.clone(),
            // A mean has a digit more than the values.
            decimals: usize::from(known.decimals) + 1,
            column: Column::of_ears(standings, |one| {
                project.ears.get(one.ear)?.values.get(&known.id).copied()
            }),
        });
    }
    found
}

pub(super) fn sisters(project: &Project, standings: &[Standing]) -> Vec<Sisters> {
    let standings = standings.iter().enumerate();
    standings
        .map(
            |(place, one)| match one.row.and_then(|row| project.rows.get(row)) {
                None => Sisters::Unknown,
                Some(row) => match row.source {
                    RowSource::Ear(_) | RowSource::Unknown => Sisters::Row(row.id),
                    RowSource::Bulk(_) | RowSource::CheckLot(_) => Sisters::Alone(place),
                },
            },
        )
        .collect()
}

fn shares(groups: impl Iterator<Item = Sisters>) -> Vec<f64> {
    let mut counted: BTreeMap<Sisters, f64> = BTreeMap::new();
    for group in groups {
        *counted.entry(group).or_default() += 1.0;
    }
    counted.into_values().collect()
}

pub(super) fn compute(basis: &Basis, choice: &Choice) -> Price {
    let is_kept: Vec<bool> = choice
        .standings
        .iter()
        .map(|one| one.stand == Stand::Plant)
        .collect();
    let likely = basis.likely.of(&is_kept);
    let (kept_scored, scored) = (likely.count, basis.likely.all.count);
    let differential = shift(likely, basis.likely.all);
    let heritability = basis
        .likeness
        .map(|likeness| heritability(likeness, basis.narrowed));
    Price {
        kept: is_kept.iter().filter(|kept| **kept).count(),
        kept_scored,
        scored,
        observed: observed_means(basis, &is_kept),
        likely: likely_means(basis, likely, &is_kept),
        expected_below: choice.summary.expected_below,
        intensity: finite_intensity(kept_scored, scored),
        reached: differential.and_then(|one| one.deviations),
        heritability,
        response: differential
            .zip(heritability)
            .and_then(|(one, heritability)| response(one.difference, &heritability)),
        shifts: shifts(basis, &is_kept, &choice.cutoffs),
        maturity: maturity_part(basis, &is_kept),
        without_days: basis.observed.values.len() - basis.days_of_scored.values.len(),
        kinship: kinship_bounds(basis, &is_kept, choice.summary.for_a_stand),
        pollen: basis.pollen.clone(),
    }
}

fn observed_means(basis: &Basis, is_kept: &[bool]) -> Means {
    let of = |group: Group| {
        let mean = basis.observed.mean;
        group.mean().map(|difference| Mean {
            percent: mean + difference,
            range: group
                .mean_95()
                .map(|span| clipped(mean + span.low, mean + span.high)),
        })
    };
    Means {
        kept: of(basis.observed.of(is_kept)),
        all: of(basis.observed.all),
    }
}

fn likely_means(basis: &Basis, kept: Group, is_kept: &[bool]) -> Means {
    let of = |group: Group, unknown: f64| {
        group.mean().map(|difference| {
            let percent = basis.likely.mean + difference;
            let half = NORMAL_90 * unknown.sqrt() / group.count as f64;
            Mean {
                percent,
                range: Some(clipped(percent - half, percent + half)),
            }
        })
    };
    let unknown = basis.unknown.iter();
    let unknown_of_kept = unknown.clone().filter(|(place, _)| is_kept[*place]);
    Means {
        kept: of(kept, unknown_of_kept.map(|(_, variance)| variance).sum()),
        all: of(basis.likely.all, unknown.map(|(_, variance)| variance).sum()),
    }
}

fn clipped(low: f64, high: f64) -> PercentRange {
    PercentRange {
        low: low.max(0.0),
        high: high.min(100.0),
    }
}

/// What the counts allow, and inside of its upper bound what the grower says instead.
fn heritability(likeness: Likeness, narrowed: Option<ShareRange>) -> Heritability {
    let high = likeness.heritability_at_most();
    let by_counts = Span {
        low: high.min(HERITABILITY_AT_LEAST),
        high,
    };
    Heritability {
        likeness,
        range: narrowed.map_or(by_counts, |said| Span {
            low: said.least.min(high),
            high: said.most.min(high),
        }),
        by_counts,
        is_narrowed: narrowed.is_some(),
    }
}

/// The differential of likely percents times the part of the differences among ears that is inherited. It is not
/// shrunk by the heritability of ear means, for likely percents are.
fn response(differential: f64, heritability: &Heritability) -> Option<Span> {
    let Span { low, high } = heritability.range;
    let part = |of| inherited_part(of, heritability.likeness.correlation);
    let (one, two) = (differential * part(low)?, differential * part(high)?);
    Some(Span {
        low: one.min(two),
        high: one.max(two),
    })
}

fn shifts(basis: &Basis, is_kept: &[bool], cutoffs: &Cutoffs) -> Vec<TraitShift> {
    let is_asked = |what| match what {
        Measured::Maturity => cutoffs.maturity_days.is_some(),
        Measured::Vigor => cutoffs.vigor.is_some(),
        Measured::Trait(id) => cutoffs
            .traits
            .get(&id)
            .is_some_and(|limits| limits.least.or(limits.most).is_some()),
    };
    let traits = basis.traits.iter();
    traits
        .filter_map(|one| {
            let kept = one.column.of(is_kept);
            let shift = shift(kept, one.column.all)?;
            Some(TraitShift {
                what: one.what,
                name: one.name.clone(),
                unit: one.unit.clone(),
                decimals: one.decimals,
                kept: one.column.mean + kept.mean()?,
                all: one.column.mean,
                kept_known: kept.count,
                all_known: one.column.all.count,
                shift,
                is_asked: is_asked(one.what),
            })
        })
        .collect()
}

/// Both differences are taken over the scored ears of known maturity, as the line is.
fn maturity_part(basis: &Basis, is_kept: &[bool]) -> Option<MaturityPart> {
    let line = basis.maturity?;
    let days = basis.days_of_scored.of(is_kept).mean()? - basis.days_of_scored.all.mean()?;
    let mut has_days = vec![false; is_kept.len()];
    for (place, _) in &basis.days_of_scored.values {
        has_days[*place] = true;
    }
    let likely = |is_kept: &dyn Fn(usize) -> bool| {
        let values = basis.likely.values.iter();
        let values = values.filter(|(place, _)| has_days[*place] && is_kept(*place));
        values.map(|(_, value)| *value).collect::<Group>().mean()
    };
    let (explained, interval) = line.explained(days);
    Some(MaturityPart {
        points_a_day: line.slope,
        days,
        explained,
        interval,
        difference: likely(&|place| is_kept[place])? - likely(&|_| true)?,
    })
}

fn kinship_bounds(basis: &Basis, is_kept: &[bool], for_a_stand: bool) -> Option<KinshipBounds> {
    let places = || (0..is_kept.len()).filter(|place| is_kept[*place]);
    let ears = vec![1.0; places().count()];
    let together = shares(places().map(|place| basis.sisters[place]));
    let apart = shares(places().map(|place| basis.sisters[place].apart(place)));
    let said = basis.pollen_plants.map(|plants| plants as usize);
    let pollen_plants = said.unwrap_or(is_kept.len());
    let pool = pool_coancestry(pollen_plants as f64, basis.pollen_rows)?;
    // Outer none: nothing is known of the seasons before, and the closed forms of one season hold.
    let pedigree = |is_closed: bool| {
        let kin = Option::as_ref(&basis.kin)?;
        let kept: Vec<(usize, f64)> = places().map(|place| (basis.families[place], 1.0)).collect();
        let relations = if is_closed { &kin.closed } else { &kin.open };
        let mean = relations.mean_of_kernels(&kept, kin.season);
        Some(mean.map(|coancestry| Kinship { coancestry }))
    };
    Some(KinshipBounds {
        ears: ears.len(),
        pollen_plants,
        for_a_stand,
        is_said: said.is_some(),
        pollen_rows: basis.pollen_rows,
        open: match pedigree(false) {
            Some(known) => known?,
            None => genetics::kinship(&ears, &apart)?,
        }
        .with_some_pollen_plants(pollen_plants as f64, basis.unrelated_pollen)?,
        closed: match pedigree(true) {
            // Unrelated pollen comes in here too where the grower said so.
            Some(known) if basis.pollen.is_some() => {
                known?.with_some_pollen_plants(pollen_plants as f64, basis.unrelated_pollen)?
            }
            Some(known) => known?,
            None => genetics::kinship(&ears, &together)?.in_closed_plot(pool)?,
        },
        seasons_back: Option::as_ref(&basis.kin).map_or(0, |kin| kin.seasons_back),
        some_unknown: basis.sisters.contains(&Sisters::Unknown),
    })
}

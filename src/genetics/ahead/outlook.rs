//! Many replicates told as what is to be expected and how far it may spread.

use super::Round;

/// What the replicates have of one quantity: nine in ten lie between the ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Band {
    /// The mean.
    pub mean: f64,
    /// One replicate in twenty lies below.
    pub low: f64,
    /// Half of the replicates lie below.
    pub middle: f64,
    /// One replicate in twenty lies above.
    pub high: f64,
}

impl Band {
    /// `None` without values. Between two values it is a straight line, as of type 7 of Hyndman and Fan 1996, Am. Stat.
    /// 50:361 (from memory).
    fn of(mut values: Vec<f64>) -> Option<Self> {
        values.sort_unstable_by(f64::total_cmp);
        let last = values.len().checked_sub(1)?;
        let at = |part: f64| {
            let place = part * last as f64;
            let (low, high) = (values[place as usize], values[(place as usize + 1).min(last)]);
            low + (high - low) * place.fract()
        };
        Some(Self {
            mean: values.iter().sum::<f64>() / values.len() as f64,
            low: at(0.05),
            middle: at(0.5),
            high: at(0.95),
        })
    }
}

/// The population after so many seasons, over all replicates.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeasonAhead {
    /// Seasons from the start; 0 is the start.
    pub season: u32,
    /// Mean genetic value of all ears above the start, in logits.
    pub value_logits: Band,
    /// Mean true germination of all ears, in percent.
    pub germination_percent: Band,
    /// Mean inbreeding of the plants, 0 to 1.
    pub inbreeding: Band,
    /// Mean coancestry of two plants, 0 to 1.
    pub coancestry: Band,
    /// The inbreeding effective size by the growth of the mean coancestry since the season before; `None` at the start and
    /// where it does not grow.
    pub effective_size: Option<f64>,
    /// The additive variance of the plants as a part of that at the start; `None` where there was none.
    pub variance_left: Option<f64>,
    /// Ears kept in the season before, which are the rows of this one.
    pub rows: Band,
    /// Mother rows from which they came.
    pub mothers: Band,
    /// Mother rows of the start that are left in the line of mothers.
    pub lineages: Band,
    /// The part of the replicates in which fewer ears than it takes could be kept, so that the best two were.
    pub short: f64,
    /// The part of the replicates in which the field bore fewer ears than are tested.
    pub small: f64,
}

/// What a plan may bring.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// Replicates.
    pub replicates: usize,
    /// The start, and every season after it.
    pub seasons: Vec<SeasonAhead>,
}

impl Outlook {
    /// The mean gain since the start after so many seasons, in percent points of germination; `None` beyond the last.
    pub fn gain_points(&self, season: usize) -> Option<f64> {
        let start = self.seasons.first()?.germination_percent.mean;
        Some(self.seasons.get(season)?.germination_percent.mean - start)
    }

    /// The effective size over all seasons, by the growth of the mean coancestry: `1 - theta` falls by `1 / (2 Ne)` a season
    /// (Wright 1931, from memory). `None` where it does not grow.
    pub fn effective_size(&self) -> Option<f64> {
        let (first, last) = (self.seasons.first()?, self.seasons.last()?);
        size_by_growth(first.coancestry.mean, last.coancestry.mean, last.season)
    }
}

fn size_by_growth(before: f64, after: f64, seasons: u32) -> Option<f64> {
    if after <= before || after >= 1.0 || seasons == 0 {
        return None;
    }
    let rate = -(((1.0 - after) / (1.0 - before)).ln() / f64::from(seasons)).exp_m1();
    Some(0.5 / rate)
}

/// Sums the replicates up; `None` without any, or when they have not the same seasons.
pub fn outlook(replicates: &[Vec<Round>]) -> Option<Outlook> {
    let rounds = replicates.first()?.len();
    if rounds == 0 || replicates.iter().any(|one| one.len() != rounds) {
        return None;
    }
    let count = replicates.len() as f64;
    let mut seasons: Vec<SeasonAhead> = Vec::with_capacity(rounds);
    let mut variance_at_start = None;
    for season in 0..rounds {
        let all = || replicates.iter().map(|one| &one[season]);
        let band = |of: &dyn Fn(&Round) -> f64| Band::of(all().map(of).collect());
        let part = |of: &dyn Fn(&Round) -> bool| all().filter(|round| of(round)).count() as f64 / count;
        let variance = all().map(|round| round.variance).sum::<f64>() / count;
        let at_start = *variance_at_start.get_or_insert(variance);
        let coancestry = band(&|round| round.coancestry)?;
        let before = seasons.last().map(|one| one.coancestry.mean);
        seasons.push(SeasonAhead {
            season: season as u32,
            value_logits: band(&|round| round.value_logits)?,
            germination_percent: band(&|round| round.germination_percent)?,
            inbreeding: band(&|round| round.inbreeding)?,
            coancestry,
            effective_size: before.and_then(|before| size_by_growth(before, coancestry.mean, 1)),
            variance_left: (at_start > 0.0).then(|| variance / at_start),
            rows: band(&|round| f64::from(round.rows))?,
            mothers: band(&|round| f64::from(round.mothers))?,
            lineages: band(&|round| f64::from(round.lineages))?,
            short: part(&|round| round.is_short),
            small: part(&|round| round.is_small),
        });
    }
    Some(Outlook {
        replicates: replicates.len(),
        seasons,
    })
}

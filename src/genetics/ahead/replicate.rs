//! One replicate: plants, ears, counts, the choice, and the plants after it.

use super::kin::{Bulk, Kin};
use super::told::Told;
use super::{FEWEST_KEPT, Plan, Pollen, Population};
use crate::stats::draw::{below, uniform};
use rand_pcg::Pcg64;

/// A season of one replicate: its plants, and the ears that they bear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Round {
    /// Mean genetic value of the kernels of all ears, in logits above the start's expectation.
    pub value_logits: f64,
    /// Mean true germination of the ears, in percent.
    pub germination_percent: f64,
    /// Variance of the breeding values of the plants that bear ears, in squared logits.
    pub variance: f64,
    /// Mean inbreeding of these plants, 0 to 1.
    pub inbreeding: f64,
    /// Mean coancestry of two different of these plants, 0 to 1.
    pub coancestry: f64,
    /// Rows: the ears that were kept in the season before.
    pub rows: u32,
    /// Mother rows of the season before from which they came.
    pub mothers: u32,
    /// Mother rows of the start to which they go back from mother to mother.
    pub lineages: u32,
    /// The chance that two rows drawn at random, which may be the same, go back to one mother row of the start.
    pub same_lineage: f64,
    /// Whether fewer ears than [`FEWEST_KEPT`] reached the cutoff and passed the limits, so that the best were planted all
    /// the same.
    pub is_short: bool,
    /// Whether the field bore fewer ears than the plan tests.
    pub is_small: bool,
}

struct Dice {
    draws: Pcg64,
    spare: Option<f64>,
}

impl Dice {
    fn new(seed: u64, number: u32) -> Self {
        const STREAM: u128 = 0x2f6b_91d4_0c53_a8e7_95e1_37bd_64f2_1c0b;
        let stream = STREAM ^ u128::from(number);
        Self {
            draws: Pcg64::new(u128::from(seed) << 32, stream),
            spare: None,
        }
    }

    fn uniform(&mut self) -> f64 {
        uniform(&mut self.draws)
    }

    fn one_of(&mut self, all: &[f64]) -> f64 {
        all[below(&mut self.draws, all.len())]
    }

    /// A draw from the standard normal distribution: the polar method of Marsaglia and Bray 1964, SIAM Rev. 6:260 (from
    /// memory).
    fn normal(&mut self) -> f64 {
        if let Some(spare) = self.spare.take() {
            return spare;
        }
        loop {
            let (x, y) = (2.0 * self.uniform() - 1.0, 2.0 * self.uniform() - 1.0);
            let square = x * x + y * y;
            if square > 0.0 && square < 1.0 {
                let factor = (-2.0 * square.ln() / square).sqrt();
                self.spare = Some(y * factor);
                return x * factor;
            }
        }
    }

    fn germinated(&mut self, kernels: u32, rate: f64) -> u32 {
        (0..kernels).filter(|_| self.uniform() < rate).count() as u32
    }
}

/// A plant and the row in which it stands.
#[derive(Clone, Copy)]
struct Plant {
    row: usize,
    value: f64,
}

/// An ear that is tested.
struct Ear {
    plant: Plant,
    /// Its true logit.
    logit: f64,
    germinated: u32,
    /// Decides between ears of one count.
    lot: f64,
    /// Whether it passes the other limits.
    passes: bool,
}

/// What the ears of a season inherit and what they do not.
#[derive(Clone, Copy)]
struct Variances {
    additive: f64,
    /// Standard deviation of what an ear does not inherit.
    own: f64,
}

/// Room for the plants and ears of one season, used again from season to season and replicate to replicate.
#[derive(Default)]
pub(super) struct Field {
    plants: Vec<Plant>,
    /// Breeding values of the plants that shed pollen.
    pool: Vec<f64>,
    ears: Vec<Ear>,
    kin: Kin,
    next_kin: Kin,
    /// Share of the plants that each row has.
    shares: Vec<f64>,
    /// The mother row of the start to which each row goes back.
    lineages: Vec<usize>,
}

impl Field {
    pub(super) fn replicate(
        &mut self,
        population: &Population,
        plan: &Plan,
        seed: u64,
        number: u32,
    ) -> Vec<Round> {
        let dice = &mut Dice::new(seed, number);
        let inherited = population.inherited;
        let part = inherited.low + (inherited.high - inherited.low) * dice.uniform();
        let among = population.deviation_logits * population.deviation_logits;
        let variances = Variances {
            additive: 4.0 * part * among,
            own: ((1.0 - part) * among).sqrt(),
        };
        let rows = population.rows.len();
        self.start(&population.rows, plan, variances, dice);
        let mut rounds = Vec::with_capacity(plan.seasons as usize + 1);
        let mut mothers = rows;
        let mut is_short = false;
        // The mean of the population as it stands is known, whatever its rows were drawn to be.
        let at_start = 0.5 * mean(self.plants.iter().map(|plant| &plant.value)) + self.pollen_value(plan);
        let base = population.mean_logit - at_start;
        for season in 0..=plan.seasons {
            let kernels = self.pollen_value(plan);
            self.bear(plan, base, kernels, variances, dice);
            rounds.push(self.round(kernels, mothers, is_short, plan));
            if season < plan.seasons {
                let kept;
                (kept, is_short) = self.choose(plan, dice);
                mothers = count_different(kept.iter().map(|place| self.ears[*place].plant.row));
                self.plant(plan, &kept, variances, dice);
            }
        }
        rounds
    }

    /// What the pollen adds to the mean of a kernel.
    fn pollen_value(&self, plan: &Plan) -> f64 {
        0.5 * mean(self.pool.iter()) * (1.0 - plan.foreign)
    }

    /// The rows as they stand: the plants of a row have one mother, and unrelated fathers.
    fn start(&mut self, rows: &[f64], plan: &Plan, variances: Variances, dice: &mut Dice) {
        let together: f64 = rows.iter().sum();
        let plants = (plan.kept * plan.plants_each).max(plan.ears);
        let counts = whole_plants(rows.iter().map(|one| one / together), rows.len(), plants);
        self.kin.founders(rows.len());
        self.plants.clear();
        for (row, plants) in counts.iter().enumerate() {
            let mother = 0.5 * variances.additive.sqrt() * dice.normal();
            for _ in 0..*plants {
                let value = mother + (0.75 * variances.additive).sqrt() * dice.normal();
                self.plants.push(Plant { row, value });
            }
        }
        self.lineages = (0..rows.len()).collect();
        self.set_shares(&counts);
        self.pool.clear();
        self.pool.extend(self.plants.iter().map(|plant| plant.value));
        self.kin
            .shed(&self.shares, self.pool.len() as f64, plan.foreign, true);
    }

    fn set_shares(&mut self, counts: &[u32]) {
        let all: u32 = counts.iter().sum();
        self.shares.clear();
        self.shares
            .extend(counts.iter().map(|plants| f64::from(*plants) / f64::from(all)));
    }

    /// Harvests the ears that are tested, from plants evenly over the field, and counts them.
    fn bear(&mut self, plan: &Plan, base: f64, pollen: f64, variances: Variances, dice: &mut Dice) {
        let ears = (plan.ears as usize).min(self.plants.len());
        let step = self.plants.len() as f64 / ears as f64;
        let start = dice.uniform();
        self.ears.clear();
        for ear in 0..ears {
            let place = ((start + ear as f64) * step) as usize;
            let plant = self.plants[place.min(self.plants.len() - 1)];
            let logit = base + 0.5 * plant.value + pollen + variances.own * dice.normal();
            let germinated = dice.germinated(plan.kernels, rate(logit));
            let lot = dice.uniform();
            let passes = plan.passing >= 1.0 || dice.uniform() < plan.passing;
            self.ears.push(Ear {
                plant,
                logit,
                germinated,
                lot,
                passes,
            });
        }
    }

    fn round(&self, kernels: f64, mothers: usize, is_short: bool, plan: &Plan) -> Round {
        let plants = self.plants.len() as f64;
        let middle = mean(self.plants.iter().map(|plant| &plant.value));
        let squares: f64 = self
            .plants
            .iter()
            .map(|plant| (plant.value - middle).powi(2))
            .sum();
        let rates: f64 = self.ears.iter().map(|ear| rate(ear.logit)).sum();
        let (inbreeding, coancestry) = self.kin.means(&self.shares);
        let rows = self.lineages.len();
        let mut of_lineage = vec![0.0; self.lineages.iter().max().map_or(0, |most| most + 1)];
        for lineage in &self.lineages {
            of_lineage[*lineage] += 1.0 / rows as f64;
        }
        Round {
            value_logits: 0.5 * middle + kernels,
            germination_percent: 100.0 * rates / self.ears.len() as f64,
            variance: squares / (plants - 1.0).max(1.0),
            inbreeding,
            coancestry,
            rows: rows as u32,
            mothers: mothers as u32,
            lineages: of_lineage.iter().filter(|share| **share > 0.0).count() as u32,
            same_lineage: of_lineage.iter().map(|share| share * share).sum(),
            is_short,
            is_small: self.ears.len() < plan.ears as usize,
        }
    }

    /// What a count tells in this season. The ears' own mean and spread are taken for known, as a test of very many
    /// kernels would show them.
    fn told(&self, plan: &Plan) -> Told {
        let middle = mean(self.ears.iter().map(|ear| &ear.logit));
        let squares: f64 = self.ears.iter().map(|ear| (ear.logit - middle).powi(2)).sum();
        let deviation = (squares / (self.ears.len() as f64 - 1.0).max(1.0)).sqrt();
        Told::new(plan.kernels, middle, deviation)
    }

    /// Chooses ears by their counts, the best first; and says whether fewer than it takes could be kept by the
    /// plan.
    fn choose(&mut self, plan: &Plan, dice: &mut Dice) -> (Vec<usize>, bool) {
        let least = plan.cutoff.map(|sure| self.told(plan).least(sure));
        self.ears.sort_unstable_by(|a, b| {
            let by_count = b.germinated.cmp(&a.germinated);
            by_count.then_with(|| a.lot.total_cmp(&b.lot))
        });
        let mut of_row = vec![0; self.lineages.len()];
        let (mut best, mut rest) = (Vec::new(), Vec::new());
        for (place, ear) in self.ears.iter().enumerate() {
            let kept = &mut of_row[ear.plant.row];
            let reaches = least.is_none_or(|least| ear.germinated >= least);
            let is_free = plan.cap.is_none_or(|cap| *kept < cap) && best.len() < plan.kept as usize;
            if reaches && ear.passes && is_free {
                *kept += 1;
                best.push(place);
            } else if rest.len() < FEWEST_KEPT {
                rest.push(place);
            }
        }
        let missing = FEWEST_KEPT.saturating_sub(best.len());
        let is_short = missing > 0;
        best.extend(rest.into_iter().take(missing));
        // Rows lie in the field in no order of merit.
        for last in (1..best.len()).rev() {
            best.swap(last, below(&mut dice.draws, last + 1));
        }
        (best, is_short)
    }

    /// How the plants are shared out over the kept ears.
    fn share_out(&self, plan: &Plan, kept: &[usize]) -> Vec<f64> {
        let equal = 1.0 / kept.len() as f64;
        if plan.evenness >= 1.0 {
            return vec![equal; kept.len()];
        }
        let told = self.told(plan);
        let mut known = vec![f64::NAN; plan.kernels as usize + 1];
        let likely: Vec<f64> = kept
            .iter()
            .map(|place| {
                let count = self.ears[*place].germinated;
                let one = &mut known[count as usize];
                if one.is_nan() {
                    *one = told.likely(count);
                }
                *one
            })
            .collect();
        tilted(&likely, plan.evenness)
    }

    /// Plants kernels of the kept ears, which become the plants of the next season.
    fn plant(&mut self, plan: &Plan, kept: &[usize], variances: Variances, dice: &mut Dice) {
        let all = plan.plants_each * kept.len() as u32;
        let counts = whole_plants(self.share_out(plan, kept).into_iter(), kept.len(), all);
        let rows: Vec<usize> = kept.iter().map(|place| self.ears[*place].plant.row).collect();
        let bulk: Option<Vec<Plant>> = match plan.pollen {
            Pollen::AllRows => None,
            Pollen::BulkOfKept => Some(kept.iter().map(|place| self.ears[*place].plant).collect()),
            Pollen::BulkOfAll => Some(self.ears.iter().map(|ear| ear.plant).collect()),
        };
        self.plants.clear();
        for (row, (place, plants)) in kept.iter().zip(&counts).enumerate() {
            let mother = self.ears[*place].plant;
            for _ in 0..*plants {
                let value = self.kernel(mother, plan, variances, dice);
                self.plants.push(Plant { row, value });
            }
        }
        let shed: Vec<f64> = match &bulk {
            None => self.plants.iter().map(|plant| plant.value).collect(),
            Some(mothers) => (0..all)
                .map(|_| {
                    let mother = mothers[below(&mut dice.draws, mothers.len())];
                    self.kernel(mother, plan, variances, dice)
                })
                .collect(),
        };
        let of_rows = bulk.map(|mothers| {
            let mut shares = vec![0.0; self.lineages.len()];
            for mother in &mothers {
                shares[mother.row] += 1.0 / mothers.len() as f64;
            }
            (shares, mothers.len() as f64)
        });
        let bulk = of_rows.as_ref().map(|(rows, ears)| Bulk { rows, ears: *ears });
        self.kin.go_on(&mut self.next_kin, &rows, bulk.as_ref());
        std::mem::swap(&mut self.kin, &mut self.next_kin);
        self.lineages = rows.iter().map(|row| self.lineages[*row]).collect();
        self.set_shares(&counts);
        self.pool = shed;
        let plants = self.pool.len() as f64;
        if bulk.is_none() {
            self.kin.shed(&self.shares, plants, plan.foreign, true);
        } else {
            let mut pollen = vec![0.0; rows.len()];
            pollen.push(1.0);
            self.kin.shed(&pollen, plants, plan.foreign, false);
        }
    }

    /// The breeding value of a plant from a kernel of an ear: half of each parent's, and a draw with half of the additive
    /// variance less what the parents' inbreeding takes of it.
    fn kernel(&self, mother: Plant, plan: &Plan, variances: Variances, dice: &mut Dice) -> f64 {
        let is_foreign = plan.foreign > 0.0 && dice.uniform() < plan.foreign;
        let (father, inbreeding) = if is_foreign {
            (variances.additive.sqrt() * dice.normal(), 0.0)
        } else {
            (dice.one_of(&self.pool), self.kin.inbreeding_of_pollen())
        };
        let parents = self.kin.inbreeding(mother.row) + inbreeding;
        let draw = (0.5 * variances.additive * (1.0 - 0.5 * parents).max(0.0)).sqrt();
        0.5 * (mother.value + father) + draw * dice.normal()
    }
}

fn rate(logit: f64) -> f64 {
    1.0 / (1.0 + (-logit).exp())
}

fn mean<'a>(values: impl ExactSizeIterator<Item = &'a f64>) -> f64 {
    let count = values.len().max(1) as f64;
    values.sum::<f64>() / count
}

fn count_different(values: impl Iterator<Item = usize>) -> usize {
    let mut all: Vec<usize> = values.collect();
    all.sort_unstable();
    all.dedup();
    all.len()
}

/// Whole plants by shares that add up to 1, at least one for each, by the largest remainders.
fn whole_plants(shares: impl Iterator<Item = f64>, rows: usize, plants: u32) -> Vec<u32> {
    let free = plants.saturating_sub(rows as u32);
    let wanted: Vec<f64> = shares
        .map(|share| (share * f64::from(plants) - 1.0).max(0.0))
        .collect();
    let together: f64 = wanted.iter().sum();
    let scale = if together > 0.0 {
        f64::from(free) / together
    } else {
        0.0
    };
    let mut counts: Vec<u32> = wanted.iter().map(|one| 1 + (one * scale) as u32).collect();
    let mut left = plants.saturating_sub(counts.iter().sum());
    let mut order: Vec<usize> = (0..counts.len()).collect();
    order.sort_by(|a, b| {
        let rest = |place: &usize| (wanted[*place] * scale).fract();
        rest(b).total_cmp(&rest(a))
    });
    for place in order {
        if left == 0 {
            break;
        }
        counts[place] += 1;
        left -= 1;
    }
    counts
}

/// Shares `(1 + b z) / N` of ears whose likely values lie `z` standard deviations above their mean, with `b` so that the
/// effective number of ears is the wanted part of all; none below zero.
///
/// These are the optimum contributions of unrelated ears (Meuwissen 1997, J. Anim. Sci. 75:934, from memory): the highest
/// mean at a given sum of squares is linear in the value.
fn tilted(likely: &[f64], evenness: f64) -> Vec<f64> {
    let count = likely.len() as f64;
    let middle = mean(likely.iter());
    let deviation = (likely.iter().map(|one| (one - middle).powi(2)).sum::<f64>() / count).sqrt();
    let tilt = if deviation > 0.0 {
        (1.0 / evenness - 1.0).sqrt() / deviation
    } else {
        0.0
    };
    let raw: Vec<f64> = likely
        .iter()
        .map(|one| (1.0 + tilt * (one - middle)).max(0.0))
        .collect();
    let together: f64 = raw.iter().sum();
    raw.into_iter().map(|one| one / together).collect()
}

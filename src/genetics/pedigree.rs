//! Coancestry by a pedigree of which mothers are known and pollen came from a pool.

/// Coancestry of two plants from one ear, from pollen unrelated to it and to each other.
const HALF_SIBS: f64 = 1.0 / 8.0;

/// Plants that came from the kernels of one ear, in whichever seasons they were planted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Family {
    /// Nothing is known of the ear: its mother and its pollen are unrelated to all others. Two of its plants have this
    /// coancestry: 1/8 of one ear, 0 of a bulk of very many.
    Founder(f64),
    /// The ear grew on a plant of a family that comes before this one, in a season with a pool of pollen.
    Of {
        /// The family of the ear's plant.
        mother: usize,
        /// The season in which it flowered.
        season: usize,
    },
}

impl Family {
    /// An ear of which nothing is known.
    pub const UNKNOWN: Self = Self::Founder(HALF_SIBS);
}

/// The pollen of one season.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Pool {
    /// The families that shed pollen in it, and how many plants of each.
    pub plants: Vec<(usize, f64)>,
    /// The share of the pollen that comes from them, 0 to 1; the rest comes from unrelated plants.
    pub own: f64,
}

/// Coancestries of families, and what the pools of pollen have to do with them.
#[derive(Debug, Clone, PartialEq)]
pub struct Relations {
    families: usize,
    /// Of two different plants, row by row.
    between: Vec<f64>,
    /// Inbreeding of the plants of each family.
    inbreeding: Vec<f64>,
    pools: Vec<Pool>,
}

/// Works the coancestries out.
///
/// `pools` are the pollen of each season. A family stands behind its mother's, behind all that shed pollen when its ear
/// flowered, and behind those of ears of earlier seasons. `None` when the first two do not hold, or a number is not possible.
/// The plants of a family that sheds pollen all shed it; those of a family that does not were detasselled.
///
/// Two plants from two ears of one season that grew on the plants `P` and `Q` have the coancestry
/// `(theta(P, Q) + T(P) + T(Q) + T) / 4`; a plant `x` of an older ear and one of a younger that grew on `P` have
/// `(theta(x, P) + T(x)) / 2`, `P` itself left out; and the inbreeding of a plant is `T(P)`. `T(P)` is the mean coancestry
/// with the plants of the season's pool, `T` that of the pool within itself, a plant with itself being `(1 + F) / 2`.
/// Source: the tabular rule of Emik and Terrill 1949, J. Hered. 40:51, with an uncertain father averaged as by Henderson
/// 1988 (both from memory).
pub fn relations(families: &[Family], pools: &[Pool]) -> Option<Relations> {
    if !pools.iter().all(|pool| pool.is_possible(families.len())) {
        return None;
    }
    let count = families.len();
    let mut known = Relations {
        families: count,
        between: vec![0.0; count * count],
        inbreeding: vec![0.0; count],
        pools: pools.to_vec(),
    };
    // What a family has to do with a pool is asked for again and again, and stays once the pool's families are known.
    let mut with_pools = vec![vec![f64::NAN; count]; pools.len()];
    let mut of_pools = vec![f64::NAN; pools.len()];
    for (place, family) in families.iter().enumerate() {
        let (mother, season) = match *family {
            Family::Founder(alike) => {
                if !(0.0..=0.5).contains(&alike) {
                    return None;
                }
                known.between[place * count + place] = alike;
                continue;
            }
            Family::Of { mother, season } => (mother, season),
        };
        let pool = &pools.get(season)?.plants;
        if of_pools[season].is_nan() && pool.iter().all(|(family, _)| *family < place) {
            of_pools[season] = known.of_pools(season, season);
        }
        if mother >= place || pool.iter().any(|(family, _)| *family >= place) {
            return None;
        }
        for (other, relative) in families[..place].iter().enumerate() {
            let theta = match *relative {
                Family::Of {
                    mother: aunt,
                    season: before,
                } if before == season => {
                    // Of two ears of one season each plant is among those that pollinated the other.
                    let pollen = remembered(&known, &mut with_pools, mother, season)
                        + remembered(&known, &mut with_pools, aunt, season);
                    0.25 * (known.of(mother, aunt) + pollen + of_pools[season])
                }
                // A plant of an older ear is related through this ear's plant, which it is not itself, and its pollen.
                _ => 0.5 * (known.of(other, mother) + remembered(&known, &mut with_pools, other, season)),
            };
            known.between[place * count + other] = theta;
            known.between[other * count + place] = theta;
        }
        let pollen = known.with_pool(mother, season, true);
        let own = known.with_itself(mother);
        known.between[place * count + place] = 0.25 * (own + 2.0 * pollen + of_pools[season]);
        known.inbreeding[place] = pollen;
    }
    Some(known)
}

fn remembered(known: &Relations, with_pools: &mut [Vec<f64>], family: usize, season: usize) -> f64 {
    let value = &mut with_pools[season][family];
    if value.is_nan() {
        *value = known.with_pool(family, season, true);
    }
    *value
}

impl Pool {
    fn is_possible(&self, families: usize) -> bool {
        let known =
            |(family, plants): &(usize, f64)| *family < families && plants.is_finite() && *plants >= 0.0;
        (0.0..=1.0).contains(&self.own) && self.plants.iter().all(known)
    }

    /// The share of the pollen that one plant sheds; 0 where nothing is known to shed any.
    fn of_one_plant(&self) -> f64 {
        let plants: f64 = self.plants.iter().map(|(_, plants)| plants).sum();
        if plants > 0.0 { self.own / plants } else { 0.0 }
    }
}

/// The part of the genes that the plants of each family are expected to have from each founder.
#[derive(Debug, Clone, PartialEq)]
pub struct Origins {
    founders: Vec<usize>,
    /// By family: the part of each founder, in the order of `founders`, and behind them that of unrelated pollen.
    parts: Vec<Vec<f64>>,
}

/// Follows the genes of all families back to the founders: half of them came by the mother, half by the pollen of the
/// season in which the ear flowered. `None` as for [`relations`]. Source: expected genetic contributions, James and
/// McBride 1958, J. Genet. 56:55 (from memory).
pub fn origins(families: &[Family], pools: &[Pool]) -> Option<Origins> {
    if !pools.iter().all(|pool| pool.is_possible(families.len())) {
        return None;
    }
    let is_founder = |place: &usize| matches!(families[*place], Family::Founder(_));
    let founders: Vec<usize> = (0..families.len()).filter(is_founder).collect();
    let unrelated = founders.len();
    let mut parts: Vec<Vec<f64>> = Vec::new();
    let mut of_pools: Vec<Option<Vec<f64>>> = vec![None; pools.len()];
    for (place, family) in families.iter().enumerate() {
        let mut own = vec![0.0; unrelated + 1];
        match *family {
            Family::Founder(_) => own[founders.partition_point(|founder| *founder < place)] = 1.0,
            Family::Of { mother, season } => {
                if of_pools.get(season)?.is_none() {
                    let pool = &pools[season];
                    if pool.plants.iter().any(|(family, _)| *family >= place) {
                        return None;
                    }
                    of_pools[season] = Some(pool.origins(&parts, unrelated));
                }
                let pollen = of_pools[season].as_ref()?;
                for ((own, by_mother), by_pollen) in own.iter_mut().zip(parts.get(mother)?).zip(pollen) {
                    *own = 0.5 * (by_mother + by_pollen);
                }
            }
        }
        parts.push(own);
    }
    Some(Origins { founders, parts })
}

impl Pool {
    fn origins(&self, parts: &[Vec<f64>], unrelated: usize) -> Vec<f64> {
        let mut own = vec![0.0; unrelated + 1];
        let one = self.of_one_plant();
        for (family, plants) in &self.plants {
            for (own, part) in own.iter_mut().zip(&parts[*family]) {
                *own += plants * one * part;
            }
        }
        // Where nothing is known to shed pollen, all of it is unrelated.
        own[unrelated] += if one > 0.0 { 1.0 - self.own } else { 1.0 };
        own
    }
}

impl Origins {
    /// The founders among the families, in order.
    pub fn founders(&self) -> &[usize] {
        &self.founders
    }

    /// The mean part of each founder in plants given as families and their shares, in any unit, and behind them that of
    /// unrelated pollen; together 1. `None` without any share.
    pub fn of_plants(&self, plants: &[(usize, f64)]) -> Option<Vec<f64>> {
        let total = total(plants)?;
        let mut mean = vec![0.0; self.founders.len() + 1];
        for (family, share) in plants {
            for (mean, part) in mean.iter_mut().zip(&self.parts[*family]) {
                *mean += share / total * part;
            }
        }
        Some(mean)
    }
}

/// The sum of shares; `None` where there is nothing to divide by.
fn total(shares: &[(usize, f64)]) -> Option<f64> {
    let total: f64 = shares.iter().map(|(_, share)| share).sum();
    (total > 0.0 && total.is_finite()).then_some(total)
}

impl Relations {
    /// The mean coancestry of two different plants drawn at random and the mean inbreeding of one, the plants being given
    /// as families and their shares, in any unit. `None` without any share.
    pub fn mean_of_plants(&self, plants: &[(usize, f64)]) -> Option<(f64, f64)> {
        let total = total(plants)?;
        let (mut coancestry, mut inbreeding) = (0.0, 0.0);
        for (a, share) in plants {
            inbreeding += share / total * self.inbreeding(*a);
            let with_all: f64 = plants.iter().map(|(b, other)| other * self.of(*a, *b)).sum();
            coancestry += share / total * with_all / total;
        }
        Some((coancestry, inbreeding))
    }

    /// The mean inbreeding of the kernels of ears of one season, given as in [`Relations::mean_of_kernels`].
    pub fn inbreeding_of_kernels(&self, ears: &[(usize, f64)], season: usize) -> Option<f64> {
        let total = total(ears)?;
        let each = ears.iter();
        Some(
            each.map(|(family, share)| share / total * self.with_pool(*family, season, true))
                .sum(),
        )
    }

    /// The coancestry of two different plants of these families.
    pub fn of(&self, a: usize, b: usize) -> f64 {
        self.between[a * self.families + b]
    }

    /// The inbreeding of the plants of a family.
    pub fn inbreeding(&self, family: usize) -> f64 {
        self.inbreeding[family]
    }

    /// The coancestry of a plant with itself, `(1 + F) / 2`.
    fn with_itself(&self, family: usize) -> f64 {
        0.5 * (1.0 + self.inbreeding[family])
    }

    /// The share of a pool's pollen that each of its families sheds, and that of one plant.
    fn shares(&self, season: usize) -> impl Iterator<Item = (usize, f64, f64)> {
        let pool = &self.pools[season];
        let one = pool.of_one_plant();
        let plants = pool.plants.iter();
        plants.map(move |(family, plants)| (*family, plants * one, one))
    }

    /// The mean coancestry of a plant of a family with the pollen of a season; `is_in_it` if it sheds some of it itself.
    pub fn with_pool(&self, family: usize, season: usize, is_in_it: bool) -> f64 {
        self.shares(season)
            .map(|(other, share, one)| {
                let own = if is_in_it && other == family && share > 0.0 {
                    one * (self.with_itself(family) - self.of(family, family))
                } else {
                    0.0
                };
                share * self.of(family, other) + own
            })
            .sum()
    }

    /// The mean coancestry of two pollen grains of two seasons, which come from one plant now and then if it is the same.
    pub fn of_pools(&self, season: usize, other: usize) -> f64 {
        let mut sum = 0.0;
        for (a, share, one) in self.shares(season) {
            for (b, other_share, _) in self.shares(other) {
                sum += share * other_share * self.of(a, b);
            }
            if season == other {
                sum += share * one * (self.with_itself(a) - self.of(a, a));
            }
        }
        sum
    }

    /// The coancestry of kernels of two ears that grew on plants of these families in one season; of two kernels of one ear
    /// where `is_same`.
    pub fn of_kernels(&self, a: usize, b: usize, season: usize, is_same: bool) -> f64 {
        let plants = if is_same {
            self.with_itself(a)
        } else {
            self.of(a, b)
        };
        let pollen = self.with_pool(a, season, true) + self.with_pool(b, season, true);
        0.25 * (plants + pollen + self.of_pools(season, season))
    }

    /// The mean coancestry of two kernels drawn at random from ears of one season, each given as the family of its plant
    /// and its share of the kernels; shares are in any unit. `None` without any share.
    pub fn mean_of_kernels(&self, ears: &[(usize, f64)], season: usize) -> Option<f64> {
        let total = total(ears)?;
        let (mut by_family, mut alone) = (vec![0.0; self.families], 0.0);
        for (family, share) in ears {
            let share = share / total;
            by_family[*family] += share;
            alone += share * share * (self.with_itself(*family) - self.of(*family, *family));
        }
        let there: Vec<(usize, f64)> = by_family
            .into_iter()
            .enumerate()
            .filter(|(_, share)| *share > 0.0)
            .collect();
        let mut plants = alone;
        let mut pollen = 0.0;
        for (a, share) in &there {
            plants += there
                .iter()
                .map(|(b, other)| share * other * self.of(*a, *b))
                .sum::<f64>();
            pollen += share * self.with_pool(*a, season, true);
        }
        Some(0.25 * (plants + 2.0 * pollen + self.of_pools(season, season)))
    }
}

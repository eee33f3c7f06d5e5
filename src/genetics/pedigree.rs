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

/// Coancestries of families, and what the pools of pollen have to do with them.
#[derive(Debug, Clone, PartialEq)]
pub struct Relations {
    families: usize,
    /// Of two different plants, row by row.
    between: Vec<f64>,
    /// Inbreeding of the plants of each family.
    inbreeding: Vec<f64>,
    pools: Vec<Vec<(usize, f64)>>,
    own_pollen: f64,
}

/// Works the coancestries out.
///
/// `pools` are, season by season, the families that shed pollen in it and how many plants of each; `own_pollen` is the
/// share of the pollen that comes from them, 0 to 1, the rest being of unrelated plants. A family stands behind its
/// mother's, behind all that shed pollen when its ear flowered, and behind those of ears of earlier seasons. `None` when the
/// first two do not hold, or a number is not possible.
///
/// Two plants from two ears of one season that grew on the plants `P` and `Q` have the coancestry
/// `(theta(P, Q) + T(P) + T(Q) + T) / 4`; a plant `x` of an older ear and one of a younger that grew on `P` have
/// `(theta(x, P) + T(x)) / 2`, `P` itself left out; and the inbreeding of a plant is `T(P)`. `T(P)` is the mean coancestry
/// with the plants of the season's pool, `T` that of the pool within itself, a plant with itself being `(1 + F) / 2`.
/// Source: the tabular rule of Emik and Terrill 1949, J. Hered. 40:51, with an uncertain father averaged as by Henderson
/// 1988 (both from memory).
pub fn relations(families: &[Family], pools: &[Vec<(usize, f64)>], own_pollen: f64) -> Option<Relations> {
    let is_plants =
        |(family, plants): &(usize, f64)| *family < families.len() && plants.is_finite() && *plants >= 0.0;
    if !(0.0..=1.0).contains(&own_pollen) || !pools.iter().flatten().all(is_plants) {
        return None;
    }
    let count = families.len();
    let mut known = Relations {
        families: count,
        between: vec![0.0; count * count],
        inbreeding: vec![0.0; count],
        pools: pools.to_vec(),
        own_pollen,
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
        let pool = pools.get(season)?;
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

impl Relations {
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
        let plants: f64 = pool.iter().map(|(_, plants)| plants).sum();
        let one = if plants > 0.0 {
            self.own_pollen / plants
        } else {
            0.0
        };
        pool.iter()
            .map(move |(family, plants)| (*family, plants * one, one))
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
        let total: f64 = ears.iter().map(|(_, share)| share).sum();
        if !(total > 0.0 && total.is_finite()) {
            return None;
        }
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

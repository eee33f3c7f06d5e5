//! Kinship and inbreeding that a choice of ears brings.
//!
//! Two plants' coancestry is the inbreeding of their offspring. Ears are half-sib families: kernels of one ear have
//! a coancestry of 1/8, kernels of two ears whose mothers are half sisters 1/32, if the pollen is of many unrelated
//! plants. In a closed plot it is not, and the kinship of the pollen comes on top.

/// Coancestry of two kernels of one ear, from unrelated pollen.
const SAME_EAR: f64 = 1.0 / 8.0;
/// Coancestry of kernels of two ears whose mother plants came from one ear, from unrelated pollen.
const SISTER_EARS: f64 = 1.0 / 32.0;

/// The mean coancestry of kernels of the chosen ears, and what follows from it.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Kinship {
    /// Mean coancestry of two kernels drawn at random, 0 to 1, a kernel with itself left out.
    pub coancestry: f64,
}

impl Kinship {
    /// The inbreeding effective size that gives as much inbreeding in one season, `1 / (2 theta)`.
    pub fn effective_size(self) -> f64 {
        0.5 / self.coancestry
    }

    /// The inbreeding that random mating among the kernels adds in one season, 0 to 1.
    pub const fn inbreeding(self) -> f64 {
        self.coancestry
    }

    /// With pollen of so many plants that are related neither to each other nor to the mothers.
    ///
    /// Two kernels share their father with a probability of `1 / Nm`: `1 / (8 Nm)` comes on top, which for ears
    /// of unrelated mothers is `Ne = 4 Nf Nm / (Nf + Nm)`. `None` without a pollen plant.
    pub fn with_pollen_plants(self, plants: f64) -> Option<Self> {
        self.with_some_pollen_plants(plants, 1.0)
    }

    /// With a share of the pollen, 0 to 1, of so many unrelated plants, the rest being reckoned already: two kernels
    /// share such a father with a probability of `share^2 / Nm`. `None` without a pollen plant or for another share.
    pub fn with_some_pollen_plants(self, plants: f64, share: f64) -> Option<Self> {
        let possible = plants >= 1.0 && (0.0..=1.0).contains(&share);
        possible.then(|| Self {
            coancestry: self.coancestry + SAME_EAR * share * share / plants,
        })
    }

    /// With all pollen from plants of the same closed plot, whose mean coancestry with each other and with the
    /// mothers, themselves included, is `pool`.
    ///
    /// By the tabular rule `theta_ij = (theta_mm + T(m_i, g) + T(m_j, g) + T(g, g)) / 4` the pool adds 3/4 of its
    /// coancestry. Source of the rule: Emik and Terrill 1949, J. Hered. 40:51 (from memory). `None` for a coancestry
    /// outside 0 to 1.
    pub fn in_closed_plot(self, pool: f64) -> Option<Self> {
        (0.0..=1.0).contains(&pool).then_some(Self {
            coancestry: self.coancestry + 0.75 * pool,
        })
    }
}

/// The kinship of the kernels of ears, with pollen of a very large unrelated crowd.
///
/// `ears` are the shares of the ears, `sisters` the shares of groups of ears whose mother plants came from one ear;
/// an ear without known sisters is a group of its own. Shares are in any unit. With equal shares and no sisters the
/// coancestry is `1 / (8 N)`, so `Ne = 4 N` (the form of Vencovsky 1978, from memory). `None` when shares are
/// negative, not finite, or all zero.
pub fn kinship(ears: &[f64], sisters: &[f64]) -> Option<Kinship> {
    let ears = 1.0 / crate::stats::effective_number(ears)?;
    let sisters = 1.0 / crate::stats::effective_number(sisters)?;
    Some(Kinship {
        coancestry: SAME_EAR * ears + SISTER_EARS * (sisters - ears).max(0.0),
    })
}

/// The coancestry of kernels of each two ears, row by row, with pollen of a very large unrelated crowd: ears with the
/// same number in `sisters` have mother plants from one ear. A kernel with itself is left out.
pub fn coancestries(sisters: &[usize]) -> Vec<f64> {
    let of = |a: usize, b: usize| match () {
        () if a == b => SAME_EAR,
        () if sisters[a] == sisters[b] => SISTER_EARS,
        () => 0.0,
    };
    let ears = 0..sisters.len();
    ears.clone()
        .flat_map(|a| ears.clone().map(move |b| of(a, b)))
        .collect()
}

/// The mean coancestry of two kernels, each from the ears by their shares: `c'Tc`, with the coancestries of each two ears row
/// by row.
pub fn mean_coancestry(shares: &[f64], coancestries: &[f64]) -> f64 {
    let rows = coancestries.chunks_exact(shares.len().max(1));
    rows.zip(shares)
        .map(|(row, share)| share * row.iter().zip(shares).map(|(a, b)| a * b).sum::<f64>())
        .sum()
}

/// The mean coancestry of so many pollen plants, themselves included, from so many equally large half-sib rows whose
/// mothers were unrelated: 1/8 within a row, 1/2 of a plant with itself.
///
/// `None` without plants, with less than one row, or with more rows than plants.
pub fn pool_coancestry(plants: f64, rows: f64) -> Option<f64> {
    let possible = plants >= 1.0 && rows >= 1.0 && rows <= plants && plants.is_finite();
    possible.then(|| SAME_EAR / rows + (0.5 - SAME_EAR) / plants)
}

/// The effective size of so many mothers and so many fathers, `4 Nf Nm / (Nf + Nm)`; `None` without one of them.
///
/// Source: Wright 1931; Falconer and Mackay 1996, ch. 4 (from memory).
pub fn effective_size(mothers: f64, fathers: f64) -> Option<f64> {
    // Written so that endlessly many fathers give 4 Nf.
    (mothers >= 1.0 && fathers >= 1.0).then(|| 4.0 / (1.0 / mothers + 1.0 / fathers))
}

/// The inbreeding added in one season, `1 / (2 Ne)`; `None` for a size below one half.
pub fn rate_of_inbreeding(effective_size: f64) -> Option<f64> {
    (effective_size >= 0.5).then(|| 0.5 / effective_size)
}

/// The inbreeding after so many seasons of the same size, `1 - (1 - 1 / (2 Ne))^t`; `None` for a size below one half.
pub fn inbreeding_after(effective_size: f64, seasons: u32) -> Option<f64> {
    let rate = rate_of_inbreeding(effective_size)?;
    Some(-f64::exp_m1(f64::from(seasons) * (-rate).ln_1p()))
}

/// The status number of `ears` ears with `kernels` kernels each, `4 n N / (n + 3)`: a kernel with itself counts.
///
/// It is at most the number of kernels. `None` without ears or kernels. Source: the form of Vencovsky 1978,
/// Rev. Bras. Genet. 1:181 (from memory); Lindgren, Gea and Jefferson 1996, Silvae Genet. 45:52 (from memory).
pub fn status_number(ears: u32, kernels: u32) -> Option<f64> {
    let (ears, kernels) = (f64::from(ears), f64::from(kernels));
    (ears > 0.0 && kernels > 0.0).then(|| 4.0 * kernels * ears / (kernels + 3.0))
}

/// The size that gives as much inbreeding as these sizes, one a season: their harmonic mean.
///
/// `None` for no sizes or one that is not above 0. Source: Wright 1931 (from memory).
pub fn effective_size_across(sizes: &[f64]) -> Option<f64> {
    if sizes.is_empty() || sizes.iter().any(|size| size.is_nan() || *size <= 0.0) {
        return None;
    }
    Some(sizes.len() as f64 / sizes.iter().map(|size| 1.0 / size).sum::<f64>())
}

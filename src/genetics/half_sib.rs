//! Ears as half-sib families: one known mother, pollen of many.
//!
//! The kernels of one ear share their mother, so a quarter of the additive variance lies among ears, if the pollen
//! is a random mixture and the mother plant's own state does not matter. With cold germination it does: how dry
//! and healthy the ear was, and what only mothers pass on, are in the differences among ears too. So four times the
//! likeness of the kernels of one ear is an upper bound of the heritability, never the heritability. Kernels that
//! were selfed, and dominance, add to the likeness as well.

use crate::stats::Counts;

/// The variance of the standard logistic distribution, `pi^2 / 3`.
const LOGISTIC_VARIANCE: f64 = std::f64::consts::PI * std::f64::consts::PI / 3.0;

/// How alike the kernels of one ear are, from one-way analysis of variance of kernels that germinated or not.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Likeness {
    /// Ears with at least one kernel.
    pub ears: usize,
    /// All kernels.
    pub kernels: f64,
    /// Mean square among ears.
    pub among: f64,
    /// Mean square within ears.
    pub within: f64,
    /// Kernels of an ear, as they count in the comparison.
    pub kernels_each: f64,
    /// The intraclass correlation `t`; below 0 when ears differ less than chance makes them differ.
    pub correlation: f64,
    /// The standard error of the correlation.
    pub standard_error: f64,
}

impl Likeness {
    /// The highest heritability of single kernels that the likeness allows, `4 t`, from 0 to 1.
    pub fn heritability_at_most(&self) -> f64 {
        (4.0 * self.correlation).clamp(0.0, 1.0)
    }
}

/// Measures how alike the kernels of one ear are. Ears without kernels are left out.
///
/// `t = (MSB - MSW) / (MSB + (n0 - 1) MSW)`. `None` for fewer than two ears, for no ear with two kernels, and when
/// all kernels germinated or none did. Sources: Robertson and Lerner 1949, Genetics 34:395; the standard error from
/// Swiger and others 1964, Biometrics 20:818 (both from memory).
pub fn likeness(ears: &[Counts]) -> Option<Likeness> {
    let (mut count, mut kernels, mut germinated) = (0_usize, 0.0, 0.0);
    let (mut squares, mut shares) = (0.0, 0.0);
    for ear in ears.iter().filter(|ear| ear.n() > 0) {
        let (k, n) = (f64::from(ear.k()), f64::from(ear.n()));
        count += 1;
        kernels += n;
        germinated += k;
        squares += n * n;
        shares += k * k / n;
    }
    let s = count as f64;
    if count < 2 || kernels <= s || germinated <= 0.0 || germinated >= kernels {
        return None;
    }
    let among = ((shares - germinated * germinated / kernels) / (s - 1.0)).max(0.0);
    let within = ((germinated - shares) / (kernels - s)).max(0.0);
    let kernels_each = (kernels - squares / kernels) / (s - 1.0);
    let correlation = (among - within) / (among + (kernels_each - 1.0) * within);
    let standard_error = (2.0 * (kernels - 1.0) / (kernels - s) / (s - 1.0)).sqrt()
        * (1.0 - correlation)
        * (1.0 + (kernels_each - 1.0) * correlation)
        / kernels_each;
    Some(Likeness {
        ears: count,
        kernels,
        among,
        within,
        kernels_each,
        correlation,
        standard_error: standard_error.abs(),
    })
}

/// The intraclass correlation that the chi-square of heterogeneity between ears implies.
///
/// `t = (X2 - (s - 1)) / (N - sum n^2 / N - (s - 1))`. `None` where [`likeness`] gives none. Source: Robertson and
/// Lerner 1949, Genetics 34:395 (from memory).
pub fn correlation_from_chi_square(ears: &[Counts]) -> Option<f64> {
    let known = likeness(ears)?;
    let s = known.ears as f64 - 1.0;
    let germinated: f64 = ears.iter().map(|ear| f64::from(ear.k())).sum();
    let rate = germinated / known.kernels;
    let chi_square = known.among * s / (rate * (1.0 - rate));
    Some((chi_square - s) / (s * known.kernels_each - s))
}

/// The heritability of family means, `s2_f / (s2_f + s2_c / r + s2_w / (r m))`.
///
/// `among`, `cells` and `within` are the variances among families, among cells of one family, and among kernels of
/// one cell; `r` cells of `m` kernels each. It shrinks the raw mean of a family; never apply it to a likely rate,
/// which is shrunk already. `None` for a negative variance, no kernels, or no variance at all.
/// Source: Falconer and Mackay 1996, ch. 13 (from memory).
pub fn family_mean_heritability(among: f64, cells: f64, within: f64, (r, m): (u32, u32)) -> Option<f64> {
    let (r, m) = (f64::from(r), f64::from(m));
    let all = [among, cells, within];
    if all.iter().any(|one| !one.is_finite() || *one < 0.0) || r * m < 1.0 {
        return None;
    }
    let total = among + cells / r + within / (r * m);
    (total > 0.0).then(|| among / total)
}

/// What is grown of the chosen ears, and by what pollen.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Recombination {
    /// The seed that the chosen ears bear from plants that nobody chose: only the mothers are selected.
    PollenUnselected,
    /// Kernels of the chosen ears are planted by themselves and pollinate one another.
    AloneTogether,
    /// Selfed seed of the chosen mothers is planted by itself and intermated.
    Selfed,
}

impl Recombination {
    /// The parental control: 1/2, 1 or 2. Sources: Sprague and Eberhart 1977; Hallauer and Miranda 1988, ch. 6
    /// (from memory).
    pub const fn control(self) -> f64 {
        match self {
            Self::PollenUnselected => 0.5,
            Self::AloneTogether => 1.0,
            Self::Selfed => 2.0,
        }
    }
}

/// The gain of one cycle of choosing half-sib families, `c i (VA / 4) / sigma_PF`, in the unit of the trait.
///
/// `family_deviation` is the phenotypic standard deviation of family means. `None` for a negative variance or a
/// deviation that is not above 0. Source: Hallauer and Miranda 1988, ch. 6 (from memory).
pub fn gain(by: Recombination, intensity: f64, additive: f64, family_deviation: f64) -> Option<f64> {
    let possible = intensity.is_finite()
        && additive.is_finite()
        && additive >= 0.0
        && family_deviation.is_finite()
        && family_deviation > 0.0;
    possible.then(|| by.control() * intensity * 0.25 * additive / family_deviation)
}

/// What a share of pollen from outside, 0 to 1, leaves of the gain of ears grown alone: `1 - m / 2`.
pub fn left_by_outside_pollen(share: f64) -> Option<f64> {
    (0.0..=1.0).contains(&share).then_some(1.0 - 0.5 * share)
}

/// The part of the differences among ears, 0 to 1, that is inherited, when single kernels have this heritability.
///
/// Ears differ by `t`, of which `h^2 / 4` is a quarter of the additive variance; so `h^2 / (4 t)`, at most 1. Times a
/// differential of likely rates it gives the response of ears grown alone: likely rates are shrunk already, so
/// nothing is shrunk twice. `None` for a heritability outside 0 to 1 or ears that do not differ.
pub fn inherited_part(heritability: f64, correlation: f64) -> Option<f64> {
    let possible = (0.0..=1.0).contains(&heritability) && correlation > 0.0;
    possible.then(|| (heritability / (4.0 * correlation)).min(1.0))
}

/// The intraclass correlation on the logit scale, `s2 / (s2 + pi^2 / 3)`, from the variance among ears there.
pub fn logit_correlation(variance: f64) -> Option<f64> {
    (variance.is_finite() && variance >= 0.0).then(|| variance / (variance + LOGISTIC_VARIANCE))
}

//! What selection may bring: the breeder's equation.

/// The lowest and the highest of what may come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Span {
    /// The lower end.
    pub low: f64,
    /// The upper end.
    pub high: f64,
}

/// The response to one round of selection, `R = i h^2 sigma_P`, in the unit of the deviation.
///
/// `i` is the intensity, `h^2` the heritability of what is selected by, 0 to 1, and `sigma_P` its phenotypic
/// standard deviation, so that `i sigma_P` is the selection differential. `None` for a heritability outside
/// 0 to 1, a negative deviation, or a number that is not finite.
/// Source: Falconer and Mackay 1996, eq. 11.2 to 11.4 (from memory).
pub fn response(intensity: f64, heritability: f64, deviation: f64) -> Option<f64> {
    let possible = intensity.is_finite()
        && (0.0..=1.0).contains(&heritability)
        && deviation.is_finite()
        && deviation >= 0.0;
    possible.then_some(intensity * heritability * deviation)
}

/// The response over a range of heritabilities; the lower end of the range gives the smaller response in size.
///
/// `None` where [`response`] gives none, or when the range is turned round.
pub fn response_span(intensity: f64, heritability: Span, deviation: f64) -> Option<Span> {
    if heritability.low > heritability.high {
        return None;
    }
    let low = response(intensity, heritability.low, deviation)?;
    let high = response(intensity, heritability.high, deviation)?;
    Some(Span {
        low: low.min(high),
        high: low.max(high),
    })
}

/// The response of a trait Y to selection by another trait X, `CR_Y = i h_X h_Y r_A sigma_PY`, in the unit of Y.
///
/// `heritabilities` are `h^2` of X and of Y, `r_A` is their genetic correlation, -1 to 1. `None` for input outside
/// these bounds. Source: Falconer and Mackay 1996, eq. 19.6 (from memory).
pub fn correlated_response(
    intensity: f64,
    heritabilities: (f64, f64),
    genetic_correlation: f64,
    deviation: f64,
) -> Option<f64> {
    let (x, y) = heritabilities;
    let possible = [x, y].iter().all(|one| (0.0..=1.0).contains(one))
        && (-1.0..=1.0).contains(&genetic_correlation)
        && intensity.is_finite()
        && deviation.is_finite()
        && deviation >= 0.0;
    possible.then(|| intensity * (x * y).sqrt() * genetic_correlation * deviation)
}

//! Seasons that are linked by checks they have in common.

use super::uncertain::Uncertain;
use crate::stats::mixed::skyline::Skyline;

/// A season that was compared with a check.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Link {
    /// The place of the season among all.
    pub season: usize,
    /// Which check.
    pub check: usize,
    /// How far the population lay above it.
    pub above: Uncertain,
}

/// Seasons between which checks tell what changed.
#[derive(Debug, Clone, PartialEq)]
pub struct Chain {
    /// The places of its seasons, in order; at least two.
    pub seasons: Vec<usize>,
    /// The links that it is made of.
    links: Vec<Link>,
    /// For each season by how much each link moves its height above the first season.
    coefficients: Vec<Vec<f64>>,
}

/// Puts links together: seasons that share a check, directly or over others, are in one chain. A season alone is in none.
///
/// What a season does to the population it is taken to do to a check, so of each link `above = a - c`, with the height `a`
/// of the population and `c` of the check where all seasons are alike. The heights are those of weighted least squares, with
/// the first season of each chain at zero.
pub fn chains(links: &[Link]) -> Vec<Chain> {
    let mut rest: Vec<Link> = links
        .iter()
        .filter(|link| link.above.value.is_finite() && link.above.variance.is_finite())
        .copied()
        .collect();
    let mut found = Vec::new();
    while let Some(first) = rest.pop() {
        let mut linked = vec![first];
        // A link that shares a season or a check with one that is in the chain comes in.
        while let Some(at) = rest.iter().position(|link| {
            linked
                .iter()
                .any(|known| known.season == link.season || known.check == link.check)
        }) {
            linked.push(rest.swap_remove(at));
        }
        linked.sort_by_key(|link| (link.season, link.check));
        found.extend(chain(linked));
    }
    found.sort_by_key(|chain| chain.seasons[0]);
    found
}

fn chain(links: Vec<Link>) -> Option<Chain> {
    let different = |of: fn(&Link) -> usize| {
        let mut all: Vec<usize> = links.iter().map(of).collect();
        all.sort_unstable();
        all.dedup();
        all
    };
    let (seasons, checks) = (different(|link| link.season), different(|link| link.check));
    if seasons.len() < 2 {
        return None;
    }
    // Unknown are the heights of all seasons but the first, and of all checks.
    let place = |of: &[usize], one: usize| of.iter().position(|known| *known == one).unwrap_or(0);
    let terms = |link: &Link| {
        let season = place(&seasons, link.season);
        let check = seasons.len() - 1 + place(&checks, link.check);
        [(season.checked_sub(1), 1.0), (Some(check), -1.0)]
    };
    let most = links.iter().map(|link| link.above.variance).fold(0.0, f64::max);
    // A link without any variance would outweigh all others beyond what can be computed.
    let weight = |link: &Link| {
        if most > 0.0 {
            1.0 / (link.above.variance / most).max(1e-9)
        } else {
            1.0
        }
    };
    let size = seasons.len() - 1 + checks.len();
    let mut normal = Skyline::new(vec![0; size]);
    for link in &links {
        let terms = terms(link);
        for (row, a) in terms {
            for (column, b) in terms {
                if let (Some(row), Some(column)) = (row, column)
                    && column <= row
                {
                    normal.add(row, column, weight(link) * a * b);
                }
            }
        }
    }
    let factor = normal.factor(0.0, 1e-14).ok()?;
    let mut coefficients = vec![vec![0.0; links.len()]; seasons.len()];
    for (at, link) in links.iter().enumerate() {
        let mut right = vec![0.0; size];
        for (row, a) in terms(link) {
            if let Some(row) = row {
                right[row] += weight(link) * a;
            }
        }
        factor.solve(&mut right);
        for (season, coefficient) in right.iter().take(seasons.len() - 1).enumerate() {
            coefficients[season + 1][at] = *coefficient;
        }
    }
    Some(Chain {
        seasons,
        links,
        coefficients,
    })
}

impl Chain {
    /// How much the population changed from one season to another of the chain; `None` for a season that is not in it.
    pub fn change(&self, from: usize, to: usize) -> Option<Uncertain> {
        let (from, to) = (self.of(from)?, self.of(to)?);
        Some(self.sum(from.iter().zip(to).map(|(from, to)| to - from)))
    }

    fn of(&self, season: usize) -> Option<&[f64]> {
        let at = self.seasons.iter().position(|known| *known == season)?;
        Some(&self.coefficients[at])
    }

    fn sum(&self, factors: impl Iterator<Item = f64>) -> Uncertain {
        Uncertain::sum(factors.zip(self.links.iter().map(|link| link.above)))
    }

    /// The realised heritability over several seasons: the slope of the cumulated response on the cumulated differential.
    ///
    /// `differentials` holds seasons of the chain, each with the differential of all choices from the first of them on,
    /// which has none. The slope is that of generalised least squares, for the responses share the errors of their seasons
    /// and above all of the first: `b = s'V^-1 r / s'V^-1 s`, with responses `r` from the first season, their covariance
    /// matrix `V` and differentials `s`. `None` for fewer than two seasons, one that is not in the chain, or where nothing
    /// was selected. Sources: Hill 1972, Biometrics 28:747; Falconer and Mackay 1996, ch. 11 (both from memory). Drift
    /// is not in its variance.
    pub fn slope(&self, differentials: &[(usize, f64)]) -> Option<Uncertain> {
        let ((first, _), rest) = differentials.split_first()?;
        let first = self.of(*first)?;
        let responses: Vec<Vec<f64>> = rest
            .iter()
            .map(|(season, _)| {
                let to = self.of(*season)?;
                Some(first.iter().zip(to).map(|(from, to)| to - from).collect())
            })
            .collect::<Option<_>>()?;
        let size = rest.len();
        if size == 0 || rest.iter().all(|(_, differential)| *differential == 0.0) {
            return None;
        }
        let mut covariance = Skyline::new(vec![0; size]);
        for row in 0..size {
            for column in 0..=row {
                let shared = responses[row].iter().zip(&responses[column]).zip(&self.links);
                let shared = shared.map(|((a, b), link)| a * b * link.above.variance);
                covariance.add(row, column, shared.sum());
            }
        }
        let mut weights: Vec<f64> = rest.iter().map(|(_, differential)| *differential).collect();
        // Responses that are known exactly all weigh alike.
        if let Ok(factor) = covariance.factor(0.0, 1e-14) {
            factor.solve(&mut weights);
        }
        let scale: f64 = weights.iter().zip(rest).map(|(weight, (_, s))| weight * s).sum();
        let factors = (0..self.links.len()).map(|link| {
            let together = weights.iter().zip(&responses);
            together.map(|(weight, one)| weight * one[link]).sum::<f64>() / scale
        });
        (scale > 0.0).then(|| self.sum(factors))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn link(season: usize, check: usize, value: f64, variance: f64) -> Link {
        Link {
            season,
            check,
            above: Uncertain {
                value,
                variance,
                freedom: 20.0,
            },
        }
    }

    fn is(found: Option<Uncertain>, value: f64, variance: f64) {
        let found = found.unwrap();
        assert!((found.value - value).abs() < 1e-9, "{found:?}");
        assert!((found.variance - variance).abs() < 1e-9, "{found:?}");
    }

    #[test]
    fn one_check_in_all_seasons_gives_plain_differences() {
        let found = chains(&[link(0, 7, 0.0, 4.0), link(1, 7, 3.0, 5.0), link(2, 7, 5.0, 6.0)]);
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].seasons, [0, 1, 2]);
        is(found[0].change(0, 1), 3.0, 9.0);
        is(found[0].change(1, 2), 2.0, 11.0);
        is(found[0].change(0, 2), 5.0, 10.0);
        is(found[0].change(2, 0), -5.0, 10.0);
        assert_eq!(found[0].change(0, 3), None);
    }

    #[test]
    fn chains_of_checks_link_and_a_gap_breaks() {
        // Check 0 in seasons 0 and 1, check 1 in seasons 1 and 2; seasons 3 and 4 have another one, 5 has one alone.
        let links = [
            link(0, 0, 10.0, 1.0),
            link(1, 0, 12.0, 2.0),
            link(1, 1, 5.0, 3.0),
            link(2, 1, 9.0, 4.0),
            link(3, 2, 1.0, 1.0),
            link(4, 2, 2.0, 1.0),
            link(5, 3, 2.0, 1.0),
        ];
        let found = chains(&links);
        let seasons: Vec<&[usize]> = found.iter().map(|chain| chain.seasons.as_slice()).collect();
        assert_eq!(seasons, [&[0, 1, 2][..], &[3, 4][..]]);
        is(found[0].change(0, 1), 2.0, 3.0);
        is(found[0].change(0, 2), 6.0, 10.0);
        is(found[1].change(3, 4), 1.0, 2.0);
    }

    /// Two checks in both seasons: each says a change, and they are weighed by their variances: 2 of variance 2 and 5 of
    /// variance 4 give (2/2 + 5/4) / (1/2 + 1/4) = 3 of variance 4/3.
    #[test]
    fn two_checks_are_weighed() {
        let found = chains(&[
            link(0, 0, 0.0, 1.0),
            link(1, 0, 2.0, 1.0),
            link(0, 1, 1.0, 2.0),
            link(1, 1, 6.0, 2.0),
        ]);
        is(found[0].change(0, 1), 3.0, 4.0 / 3.0);
    }

    /// Clayton, Morris and Robertson 1957, J. Genet. 55:131, as Falconer tells it (both from memory): of flies with 35.3
    /// bristles on average those with 40.6 were bred, and their offspring had 37.9: 2.6 of 5.3, a realised heritability of
    /// 0.49.
    #[test]
    fn response_over_differential() {
        let found = chains(&[link(0, 0, 35.3, 0.0), link(1, 0, 37.9, 0.0)]);
        let slope = found[0].slope(&[(0, 0.0), (1, 40.6 - 35.3)]).unwrap();
        assert!((slope.value - 0.49).abs() < 0.001, "{slope:?}");
        assert_eq!(found[0].slope(&[(0, 0.0), (1, 0.0)]), None);
        assert_eq!(found[0].slope(&[(0, 0.0)]), None);
        assert_eq!(found[0].slope(&[(0, 0.0), (4, 1.0)]), None);
    }

    /// Worked out by hand from the formula, with x = (0, 20, 45), y = (0, 3, 5) and variances (4, 5, 6) of the seasons:
    /// `V = diag(5, 6) + 4`; `b = x'V^-1 y / x'V^-1 x` and `1 / x'V^-1 x`.
    #[test]
    fn several_seasons_are_a_slope() {
        let found = chains(&[link(0, 7, 0.0, 4.0), link(1, 7, 3.0, 5.0), link(2, 7, 5.0, 6.0)]);
        let slope = found[0].slope(&[(0, 0.0), (1, 20.0), (2, 45.0)]);
        // V = [[9, 4], [4, 10]], det 74; V^-1 s = (10*20 - 4*45, -4*20 + 9*45) / 74 = (20, 325) / 74.
        let below = (20.0 * 20.0 + 325.0 * 45.0) / 74.0;
        is(slope, (20.0 * 3.0 + 325.0 * 5.0) / 74.0 / below, 1.0 / below);
        // Two seasons: the ratio.
        is(found[0].slope(&[(1, 0.0), (2, 25.0)]), 2.0 / 25.0, 11.0 / 625.0);
    }
}

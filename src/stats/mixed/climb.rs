//! The search for the maximum: Newton's method with damping, and the proof that it is one.

use super::likelihood::{Point, Problem, Surface};
use super::quadrature::{Rule, hermite};

/// The largest slope, by any parameter, at which the search is settled. Grows with the trials, as rounding
/// does.
const SETTLED_SLOPE: f64 = 1e-8;

/// A maximum of the likelihood.
pub(super) struct Peak {
    pub(super) point: Point,
    pub(super) surface: Surface,
    pub(super) steps: usize,
    pub(super) modes: Vec<f64>,
}

/// Climbs from `start` to the nearest maximum; `None` when it does not settle.
///
/// A coarse rule leads near the top, the full one finishes; where the rule changes the climb goes on.
pub(super) fn climb(problem: &Problem, start: Point, nodes: usize, trials: f64) -> Option<Peak> {
    const COARSE: usize = 9;
    let fine = hermite(nodes);
    let mut modes = vec![0.0; problem.cases.len()];
    let mut steps = 0;
    let near = if start.sigma.is_some() && nodes > COARSE {
        let coarse = hermite(COARSE);
        let (point, _) = rise(
            problem,
            start.clone(),
            &coarse,
            &mut modes,
            &mut steps,
            1e-3 * trials.sqrt(),
        )?;
        point
    } else {
        start
    };
    let settled = SETTLED_SLOPE * (trials / 1e5).max(1.0);
    let (point, surface) = rise(problem, near, &fine, &mut modes, &mut steps, settled)?;
    Some(Peak {
        point,
        surface,
        steps,
        modes,
    })
}

/// Newton's steps until no slope is above `settled`.
fn rise(
    problem: &Problem,
    start: Point,
    rule: &Rule,
    modes: &mut [f64],
    steps: &mut usize,
    settled: f64,
) -> Option<(Point, Surface)> {
    const MOST_STEPS: usize = 200;
    let mut point = start;
    let mut surface = problem.surface(&point, rule, modes);
    let mut damping = 0.0;
    while *steps < MOST_STEPS {
        let norm = surface.gradient_norm();
        if norm <= settled {
            return Some((point, surface));
        }
        *steps += 1;
        let next = step(&surface, damping).map(|step| {
            let next = point.moved(&step);
            let surface = problem.surface(&next, rule, modes);
            (next, surface)
        });
        // Near the top the value no longer changes in floating point; there the slopes decide.
        let slack = 1e-11 * (1.0 + surface.value.abs());
        match next {
            Some((next, there))
                if there.value > surface.value + slack
                    || (there.value > surface.value - slack && there.gradient_norm() < norm) =>
            {
                point = next;
                surface = there;
                damping = if damping < 1e-6 { 0.0 } else { 0.1 * damping };
            }
            _ => damping = if damping == 0.0 { 1e-3 } else { 10.0 * damping },
        }
        if damping > 1e12 {
            return None;
        }
    }
    None
}

/// The damped step, cut to a length that a logit can sensibly move; `None` where the surface is not curved
/// downwards.
fn step(surface: &Surface, damping: f64) -> Option<Vec<f64>> {
    const LONGEST: f64 = 2.0;
    let factor = surface.information.factor(damping, 1e-14).ok()?;
    let mut step = surface.gradient.clone();
    factor.solve(&mut step);
    let longest = step.iter().map(|part| part.abs()).fold(0.0, f64::max);
    if !longest.is_finite() {
        return None;
    }
    if longest > LONGEST {
        for part in &mut step {
            *part *= LONGEST / longest;
        }
    }
    Some(step)
}

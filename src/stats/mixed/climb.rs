//! The search for the maximum: Newton's method with damping, and the proof that it is one.

use super::likelihood::{Point, Problem, Surface};

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

/// Climbs from `start` to the nearest maximum.
///
/// Coarse integrals lead near the top, those of the wanted depth finish.
///
/// # Errors
/// Where the climb stopped, when it does not settle.
pub(super) fn climb(problem: &Problem, start: Point, depth: f64, trials: f64) -> Result<Peak, Point> {
    const COARSE: f64 = 10.0;
    let mut modes = vec![0.0; problem.cases.len()];
    let mut steps = 0;
    let near = if start.sigma.is_some() {
        let loosely = 1e-3 * trials.sqrt();
        rise(problem, start, COARSE.min(depth), &mut modes, &mut steps, loosely).point
    } else {
        start
    };
    let settled = SETTLED_SLOPE * (trials / 1e5).max(1.0);
    let end = rise(problem, near, depth, &mut modes, &mut steps, settled);
    if !end.is_settled {
        return Err(end.point);
    }
    Ok(Peak {
        point: end.point,
        surface: end.surface,
        steps,
        modes,
    })
}

/// Where a climb ended.
struct End {
    point: Point,
    surface: Surface,
    is_settled: bool,
}

/// Newton's steps until no slope is above `settled`, or no step leads up.
fn rise(
    problem: &Problem,
    start: Point,
    depth: f64,
    modes: &mut [f64],
    steps: &mut usize,
    settled: f64,
) -> End {
    const MOST_STEPS: usize = 150;
    let mut point = start;
    let mut surface = problem.surface(&point, depth, modes);
    let mut damping = 0.0;
    for _ in 0..MOST_STEPS {
        let norm = surface.gradient_norm();
        if norm <= settled || damping > 1e12 {
            break;
        }
        *steps += 1;
        let next = step(&surface, damping).map(|step| {
            let next = point.moved(&step);
            let surface = problem.surface(&next, depth, modes);
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
    }
    let is_settled = surface.gradient_norm() <= settled;
    End {
        point,
        surface,
        is_settled,
    }
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

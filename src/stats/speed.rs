//! How fast kernels germinated, from counts on inspection days. What the counts do not tell is 'not observed',
//! never a number.

use super::mixed::skyline::Skyline;

/// A logit of the ceiling beyond which it is 1.
const FULL_CEILING: f64 = 12.0;

/// Kernels that were new on each inspection day.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    sown: u32,
    inspections: Vec<Inspection>,
    germinated: u32,
}

/// One inspection.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Inspection {
    /// Days since sowing, above those of the inspection before.
    pub day: f64,
    /// Kernels that germinated since the inspection before.
    pub new: u32,
}

/// What [`Course`] refuses.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum CourseFault {
    /// Days that do not rise, or are not above zero.
    #[error("inspection {index} is not later than what is before it. Correct its day.")]
    Day {
        /// Index of the inspection.
        index: usize,
    },
    /// More kernels germinated than were sown.
    #[error(
        "{germinated} of {sown} cannot be: a count is never above its total. Correct one of the two numbers."
    )]
    AboveSown {
        /// Kernels germinated.
        germinated: u64,
        /// Kernels sown.
        sown: u32,
    },
}

/// Why a speed is not observed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum NotObserved {
    /// No kernel germinated.
    NothingGerminated,
    /// All that germinated did so within one interval; that is all that is known.
    OneInterval {
        /// Day of the inspection before, 0 for sowing.
        after: f64,
        /// Day by which all had germinated.
        until: f64,
    },
    /// All that germinated did so within two intervals next to each other: the spread has no lower bound.
    TwoIntervals {
        /// Day of the inspection before, 0 for sowing.
        after: f64,
        /// Day by which all had germinated.
        until: f64,
    },
    /// The search for the likeliest curve did not settle.
    NotSettled,
}

/// When half of the germinated kernels had germinated.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum HalfTime {
    /// No kernel germinated.
    NothingGerminated,
    /// They had by the first inspection that saw any.
    NotAfter {
        /// Day of that inspection.
        day: f64,
    },
    /// Between two inspections, by a straight line.
    At {
        /// Days since sowing.
        day: f64,
    },
}

/// Measures of speed from the days of the counts; each overstates a time by up to one interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measures {
    /// Sum of new kernels by day: kernels a day. Only comparable at equal numbers sown. Maguire 1962, Crop Sci.
    /// 2:176 (from memory).
    pub speed_index: f64,
    /// Mean time in days by the day of the count. Ellis and Roberts 1981, Seed Sci. Technol. 9:373 (from
    /// memory).
    pub mean_time: f64,
    /// Mean time in days with each kernel at the middle of its interval.
    pub mean_time_midpoint: f64,
    /// Variance of the time in days squared; `None` for one kernel. Ranal and Santana 2006, Rev. Bras. Bot.
    /// 29:1 (from memory), as are those below.
    pub variance: Option<f64>,
    /// Standard deviation in percent of the mean time; `None` for one kernel.
    pub variation_percent: Option<f64>,
    /// Kernels by the sum of squared distances from the mean time, per day squared.
    pub uniformity: f64,
    /// Uncertainty in bits.
    pub uncertainty: f64,
    /// Share of pairs of kernels that germinated in one interval; `None` for one kernel.
    pub synchrony: Option<f64>,
}

impl Course {
    /// Takes the kernels sown and the inspections, those that saw nothing new included: they bound the times.
    ///
    /// # Errors
    /// [`CourseFault::Day`] and [`CourseFault::AboveSown`].
    pub fn new(sown: u32, inspections: Vec<Inspection>) -> Result<Self, CourseFault> {
        let mut before = 0.0;
        for (index, inspection) in inspections.iter().enumerate() {
            if !inspection.day.is_finite() || inspection.day <= before {
                return Err(CourseFault::Day { index });
            }
            before = inspection.day;
        }
        let germinated: u64 = inspections
            .iter()
            .map(|inspection| u64::from(inspection.new))
            .sum();
        if germinated > u64::from(sown) {
            return Err(CourseFault::AboveSown { germinated, sown });
        }
        Ok(Self {
            sown,
            inspections,
            germinated: germinated as u32,
        })
    }

    /// Kernels that germinated by the last inspection.
    pub const fn germinated(&self) -> u32 {
        self.germinated
    }

    /// Intervals with the kernels that germinated in each: day of the inspection before, day, new.
    fn intervals(&self) -> impl Iterator<Item = (f64, f64, u32)> {
        let mut before = 0.0;
        self.inspections.iter().map(move |inspection| {
            let after = std::mem::replace(&mut before, inspection.day);
            (after, inspection.day, inspection.new)
        })
    }

    /// Why nothing can be said of speed, if so.
    fn not_observed(&self) -> Option<NotObserved> {
        let mut seen = self.intervals().filter(|(_, _, new)| *new > 0);
        let Some((after, until, _)) = seen.next() else {
            return Some(NotObserved::NothingGerminated);
        };
        seen.next()
            .is_none()
            .then_some(NotObserved::OneInterval { after, until })
    }

    /// Measures of speed.
    ///
    /// # Errors
    /// [`NotObserved::NothingGerminated`] and [`NotObserved::OneInterval`].
    pub fn measures(&self) -> Result<Measures, NotObserved> {
        if let Some(reason) = self.not_observed() {
            return Err(reason);
        }
        let total = f64::from(self.germinated);
        let mut found = Measures {
            speed_index: 0.0,
            mean_time: 0.0,
            mean_time_midpoint: 0.0,
            variance: None,
            variation_percent: None,
            uniformity: 0.0,
            uncertainty: 0.0,
            synchrony: None,
        };
        let mut pairs = 0.0;
        for (after, day, new) in self.intervals().filter(|(_, _, new)| *new > 0) {
            let new = f64::from(new);
            found.speed_index += new / day;
            found.mean_time += new * day / total;
            found.mean_time_midpoint += new * 0.5 * (after + day) / total;
            found.uncertainty -= new / total * (new / total).log2();
            pairs += 0.5 * new * (new - 1.0);
        }
        let squares: f64 = self
            .inspections
            .iter()
            .map(|inspection| f64::from(inspection.new) * (inspection.day - found.mean_time).powi(2))
            .sum();
        found.uniformity = total / squares;
        // Two intervals saw something, so there are at least two kernels.
        let variance = squares / (total - 1.0);
        found.variance = Some(variance);
        found.variation_percent = Some(100.0 * variance.sqrt() / found.mean_time);
        found.synchrony = Some(pairs / (0.5 * total * (total - 1.0)));
        Ok(found)
    }

    /// When half of the germinated kernels had germinated, half being `(G + 1) / 2` of them.
    ///
    /// Source: Coolbear, Francis and Grierson 1984, J. Exp. Bot. 35:1609 (from memory).
    pub fn half_time(&self) -> HalfTime {
        self.time_of(0.5 * (f64::from(self.germinated) + 1.0))
    }

    /// When half of the germinated kernels had germinated, half being `G / 2` of them.
    ///
    /// Source: Farooq et al. 2005, J. Integr. Plant Biol. 47:187 (from memory).
    pub fn plain_half_time(&self) -> HalfTime {
        self.time_of(0.5 * f64::from(self.germinated))
    }

    fn time_of(&self, wanted: f64) -> HalfTime {
        let mut before = 0.0;
        for (after, day, new) in self.intervals() {
            let here = before + f64::from(new);
            if new > 0 && here >= wanted {
                return if before == 0.0 {
                    HalfTime::NotAfter { day }
                } else {
                    let part = (wanted - before) / f64::from(new);
                    HalfTime::At {
                        day: after + part * (day - after),
                    }
                };
            }
            before = here;
        }
        HalfTime::NothingGerminated
    }

    /// Fits the time course by maximum likelihood: `F(t) = d / (1 + (t / e)^-b)`, each kernel known only to have
    /// germinated between two inspections, or not by the last one.
    ///
    /// Where every kernel germinated, or the likeliest ceiling is 1, `d` is 1 and has no error. Source: Ritz,
    /// Pipper and Streibig 2013, Eur. J. Agron. 45:1.
    ///
    /// # Errors
    /// [`NotObserved`], by the intervals that saw something.
    pub fn fit(&self) -> Result<TimeFit, NotObserved> {
        self.fit_with(true)
    }

    /// [`Course::fit`] with the ceiling fixed at 1: only right where every kernel would germinate in the end.
    ///
    /// # Errors
    /// [`NotObserved`].
    pub fn fit_without_ceiling(&self) -> Result<TimeFit, NotObserved> {
        self.fit_with(false)
    }

    fn fit_with(&self, is_ceiling_free: bool) -> Result<TimeFit, NotObserved> {
        if let Some(reason) = self.not_observed() {
            return Err(reason);
        }
        let never = f64::from(self.sown - self.germinated);
        let is_ceiling_free = is_ceiling_free && never > 0.0;
        if is_ceiling_free || never == 0.0 {
            self.two_intervals()?;
        }
        if is_ceiling_free && let Some(found) = self.best(true).filter(|found| found.at[2] < FULL_CEILING) {
            return Ok(found.as_fit());
        }
        let found = self.best(false).ok_or(NotObserved::NotSettled)?;
        // A ceiling of 1 is the likeliest only where the likelihood still rises towards it.
        let near_full = self.peak([found.at[0], found.at[1], FULL_CEILING], true);
        if is_ceiling_free && near_full.gradient[2] < 0.0 {
            return Err(NotObserved::NotSettled);
        }
        Ok(found.as_fit())
    }

    fn two_intervals(&self) -> Result<(), NotObserved> {
        let seen: Vec<usize> = (0..self.inspections.len())
            .filter(|&index| self.inspections[index].new > 0)
            .collect();
        match seen[..] {
            [first, second] if second == first + 1 => Err(NotObserved::TwoIntervals {
                after: if first == 0 {
                    0.0
                } else {
                    self.inspections[first - 1].day
                },
                until: self.inspections[second].day,
            }),
            _ => Ok(()),
        }
    }

    fn best(&self, is_ceiling_free: bool) -> Option<Peak> {
        let total = f64::from(self.germinated);
        let middle: f64 = self
            .intervals()
            .map(|(after, day, new)| f64::from(new) * 0.5 * (after + day) / total)
            .sum();
        let share = (total / f64::from(self.sown)).clamp(0.02, 0.98);
        let start = [middle.ln(), (share / (1.0 - share)).ln()];
        [0.5, 1.2, 2.0, 2.7]
            .into_iter()
            .filter_map(|ln_shape| self.climb([ln_shape, start[0], start[1]], is_ceiling_free))
            .max_by(|a, b| a.value.total_cmp(&b.value))
    }

    fn climb(&self, start: [f64; 3], is_ceiling_free: bool) -> Option<Peak> {
        const MOST_STEPS: usize = 200;
        const SETTLED: f64 = 1e-9;
        let mut here = self.peak(start, is_ceiling_free);
        let mut damping = 0.0;
        for _ in 0..MOST_STEPS {
            let norm = here.norm();
            if norm < SETTLED {
                return Some(here);
            }
            let next = here.step(damping).map(|at| self.peak(at, is_ceiling_free));
            let slack = 1e-12 * (1.0 + here.value.abs());
            match next {
                Some(there)
                    if there.value > here.value + slack
                        || (there.value > here.value - slack && there.norm() < norm) =>
                {
                    here = there;
                    damping = if damping < 1e-6 { 0.0 } else { 0.1 * damping };
                }
                _ => damping = if damping == 0.0 { 1e-3 } else { 10.0 * damping },
            }
            if damping > 1e12 || here.at[2] > 40.0 {
                break;
            }
        }
        None
    }

    /// The log-likelihood with its derivatives at `(ln b, ln e, logit d)`.
    fn peak(&self, at: [f64; 3], is_ceiling_free: bool) -> Peak {
        let size = if is_ceiling_free { 3 } else { 2 };
        let mut peak = Peak {
            at,
            size,
            value: 0.0,
            gradient: [0.0; 3],
            hessian: [[0.0; 3]; 3],
        };
        let (ceiling, below) = if is_ceiling_free {
            (1.0 / (1.0 + (-at[2]).exp()), 1.0 / (1.0 + at[2].exp()))
        } else {
            (1.0, 0.0)
        };
        for (after, day, new) in self.intervals().filter(|(_, _, new)| *new > 0) {
            let rise = Curve::at(day, &at).less(&Curve::at(after, &at));
            peak.add(
                f64::from(new),
                &rise.times(ceiling, ceiling * below, ceiling * below * (below - ceiling)),
            );
        }
        let never = f64::from(self.sown - self.germinated);
        if let Some(last) = self.inspections.last().filter(|_| never > 0.0) {
            let reached =
                Curve::at(last.day, &at).times(ceiling, ceiling * below, ceiling * below * (below - ceiling));
            // 1 - d G = (1 - d) + d (1 - G), without cancellation.
            let mut left = reached.negated();
            left.value = below + ceiling * Curve::rest(last.day, &at);
            peak.add(never, &left);
        }
        peak
    }
}

/// A probability and its derivatives by the three parameters.
#[derive(Debug, Clone, Copy)]
struct Curve {
    value: f64,
    first: [f64; 3],
    second: [[f64; 3]; 3],
}

impl Curve {
    /// `1 / (1 + (t / e)^-b)`: 0 at sowing.
    fn at(day: f64, at: &[f64; 3]) -> Self {
        let mut curve = Self {
            value: 0.0,
            first: [0.0; 3],
            second: [[0.0; 3]; 3],
        };
        if day <= 0.0 {
            return curve;
        }
        let shape = at[0].exp();
        let x = shape * (day.ln() - at[1]);
        curve.value = 1.0 / (1.0 + (-x).exp());
        let rest = 1.0 / (1.0 + x.exp());
        let slope = curve.value * rest;
        let bend = slope * (rest - curve.value);
        curve.first = [slope * x, -slope * shape, 0.0];
        curve.second[0][0] = bend * x * x + slope * x;
        curve.second[1][0] = -shape * (bend * x + slope);
        curve.second[1][1] = bend * shape * shape;
        curve
    }

    /// One minus the value of [`Curve::at`].
    fn rest(day: f64, at: &[f64; 3]) -> f64 {
        1.0 / (1.0 + (at[0].exp() * (day.ln() - at[1])).exp())
    }

    fn combine(&self, other: &Self, factor: f64) -> Self {
        let mut sum = *self;
        sum.value += factor * other.value;
        for i in 0..3 {
            sum.first[i] += factor * other.first[i];
            for j in 0..=i {
                sum.second[i][j] += factor * other.second[i][j];
            }
        }
        sum
    }

    fn less(&self, other: &Self) -> Self {
        self.combine(other, -1.0)
    }

    fn negated(&self) -> Self {
        self.combine(self, -2.0)
    }

    /// Times a ceiling, given with its first and second derivative by the third parameter.
    fn times(&self, ceiling: f64, slope: f64, bend: f64) -> Self {
        let mut product = self.combine(self, ceiling - 1.0);
        product.first[2] = self.value * slope;
        product.second[2] = [self.first[0] * slope, self.first[1] * slope, self.value * bend];
        product
    }
}

#[derive(Debug, Clone, Copy)]
struct Peak {
    at: [f64; 3],
    size: usize,
    value: f64,
    gradient: [f64; 3],
    hessian: [[f64; 3]; 3],
}

impl Peak {
    fn add(&mut self, weight: f64, curve: &Curve) {
        let probability = curve.value.max(1e-300);
        self.value += weight * probability.ln();
        for i in 0..self.size {
            let slope = curve.first[i] / probability;
            self.gradient[i] += weight * slope;
            for j in 0..=i {
                let second = curve.second[i][j] / probability - slope * curve.first[j] / probability;
                self.hessian[i][j] += weight * second;
            }
        }
    }

    fn norm(&self) -> f64 {
        self.gradient.iter().map(|slope| slope.abs()).fold(0.0, f64::max)
    }

    fn information(&self) -> Skyline {
        let mut information = Skyline::new(vec![0; self.size]);
        for i in 0..self.size {
            for j in 0..=i {
                information.add(i, j, -self.hessian[i][j]);
            }
        }
        information
    }

    fn step(&self, damping: f64) -> Option<[f64; 3]> {
        const LONGEST: f64 = 1.0;
        let factor = self.information().factor(damping, 1e-14).ok()?;
        let mut step = self.gradient;
        factor.solve(&mut step[..self.size]);
        let longest = step.iter().map(|part| part.abs()).fold(0.0, f64::max);
        if !longest.is_finite() {
            return None;
        }
        let shrink = if longest > LONGEST { LONGEST / longest } else { 1.0 };
        let mut at = self.at;
        for (value, part) in at.iter_mut().zip(step).take(self.size) {
            *value += shrink * part;
        }
        Some(at)
    }

    fn as_fit(&self) -> TimeFit {
        let factor = self.information().factor(0.0, 0.0).ok();
        let error = |index: usize, slope: f64| {
            factor
                .as_ref()
                .map(|factor| slope * factor.variance(&[(index, 1.0)]).sqrt())
        };
        let (shape, half_day) = (self.at[0].exp(), self.at[1].exp());
        let ceiling = if self.size == 3 {
            1.0 / (1.0 + (-self.at[2]).exp())
        } else {
            1.0
        };
        TimeFit {
            shape,
            half_day,
            ceiling,
            shape_error: error(0, shape),
            half_day_error: error(1, half_day),
            ceiling_error: if self.size == 3 {
                error(2, ceiling * (1.0 - ceiling))
            } else {
                None
            },
            log_likelihood: self.value,
            gradient_norm: self.norm(),
        }
    }
}

/// The likeliest time course `d / (1 + (t / e)^-b)`.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TimeFit {
    /// Steepness `b`.
    pub shape: f64,
    /// Day `e` by which half of the kernels that ever germinate have.
    pub half_day: f64,
    /// Share `d` of all kernels that ever germinate, up to 1.
    pub ceiling: f64,
    /// Standard error of the shape from the observed information; `None` where there is none.
    pub shape_error: Option<f64>,
    /// Standard error of the half day; differences below about one inspection interval mean little.
    pub half_day_error: Option<f64>,
    /// Standard error of the ceiling; `None` where it is 1.
    pub ceiling_error: Option<f64>,
    /// Log-likelihood without its multinomial coefficient.
    pub log_likelihood: f64,
    /// The largest slope at the estimate by (ln b, ln e, logit d).
    pub gradient_norm: f64,
}

impl TimeFit {
    /// The day by which half of all kernels sown have germinated; `None` where half never do.
    pub fn half_of_all(&self) -> Option<f64> {
        (self.ceiling > 0.5).then(|| self.half_day * (0.5 / (self.ceiling - 0.5)).powf(1.0 / self.shape))
    }

    /// The share of all kernels that has germinated by a day.
    pub fn share_by(&self, day: f64) -> f64 {
        if day <= 0.0 {
            return 0.0;
        }
        self.ceiling / (1.0 + (day / self.half_day).powf(-self.shape))
    }
}

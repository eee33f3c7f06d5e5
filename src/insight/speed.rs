//! How fast the kernels of each ear came up, and how strong they grew.
//!
//! An early and a final count say how many were up by the early one, and nothing about when within the days between.
//! So times are told from [`FEWEST_FOR_TIMES`] counts on, and a curve from [`FEWEST_FOR_CURVE`].

use super::words::{percent, plural, whole};
use crate::model::{Cell, Count, Ear, EarId, Pass, Project, SeasonId, Test, TestId};
use crate::stats::speed::{Course, CourseFault, HalfTime, Inspection, Measures, NotObserved, TimeFit};
use crate::stats::{Confidence, Counts, wilson};
use std::collections::BTreeMap;

/// With two counts measures of speed are nearly worthless. Common practice, no source.
pub const FEWEST_FOR_TIMES: usize = 3;
/// The curve has three parameters; with four counts there is something left to contradict it.
pub const FEWEST_FOR_CURVE: usize = 4;

/// Why nothing can be said of the speed of an ear.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unsaid {
    /// It has no final count.
    NoFinalCount,
    /// It has a final count only.
    OneCount,
    /// The day of a count is neither noted nor planned, or the days do not follow each other.
    NoDays,
    /// Fewer kernels are up in a later count than in an earlier one.
    Falls,
}

impl Unsaid {
    /// Says why, in a sentence.
    pub fn sentence(self) -> &'static str {
        match self {
            Self::NoFinalCount => "Speed is not observed: it has no final count yet.",
            Self::OneCount => "Speed is not observed: it was counted once only.",
            Self::NoDays => {
                "Speed is not observed: the days of its counts are not noted, or do not follow each other."
            }
            Self::Falls => {
                "Speed is not observed: in one of its cells fewer kernels are up in a later count than in an earlier one."
            }
        }
    }
}

impl From<CourseFault> for Unsaid {
    fn from(fault: CourseFault) -> Self {
        match fault {
            CourseFault::Day { .. } => Self::NoDays,
            CourseFault::AboveSown { .. } => Self::Falls,
        }
    }
}

/// The course of one ear's kernels, over the cells that were counted on the same days.
#[derive(Debug, Clone, PartialEq)]
pub struct EarCourse {
    /// New kernels on each day of a count.
    pub course: Course,
    /// The days of the counts after laying, in days, and the kernels that were up by then.
    pub up: Vec<(f64, u32)>,
    /// Kernels of these cells that were there to be counted.
    pub kernels: u32,
    /// Cells.
    pub cells: usize,
    /// Cells of the ear that were counted on other days and are left out.
    pub other_cells: usize,
    /// Whether the first count was the early one of its test.
    pub begins_early: bool,
}

/// Grades of growth over the cells of an ear.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Vigor {
    /// Mean grade, 0 to 9.
    pub mean: f64,
    /// Cells with a grade.
    pub cells: usize,
    /// The least grade.
    pub least: u8,
    /// The best grade.
    pub most: u8,
    /// Standard deviation over the cells; `None` for one cell.
    pub deviation: Option<f64>,
}

impl Vigor {
    fn of(grades: &[u8]) -> Option<Self> {
        let cells = grades.len();
        let mean = grades.iter().map(|grade| f64::from(*grade)).sum::<f64>() / cells as f64;
        let squares: f64 = grades
            .iter()
            .map(|grade| (f64::from(*grade) - mean).powi(2))
            .sum();
        Some(Self {
            mean,
            cells,
            least: *grades.iter().min()?,
            most: *grades.iter().max()?,
            deviation: (cells > 1).then(|| (squares / (cells as f64 - 1.0)).sqrt()),
        })
    }

    /// Says the mean with its spread.
    pub fn sentence(&self) -> String {
        match self.deviation {
            None => format!("Vigor {} in its one graded cell.", self.most),
            Some(deviation) => format!(
                "Vigor {:.1} on average over {} cells, from {} to {} (standard deviation {deviation:.1}).",
                self.mean, self.cells, self.least, self.most
            ),
        }
    }
}

/// Lengths of an ear's seedlings.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Length {
    /// Root and shoot together, in millimetres: the mean over cells of the lengths noted there, weighed by their
    /// germinated kernels.
    pub mm: f64,
    /// Cells in which both were measured.
    pub cells: usize,
    /// Germination in percent times the length in millimetres. Abdul-Baki and Anderson 1973, Crop Sci. 13:630 (from
    /// memory).
    pub vigor_index: f64,
}

impl Length {
    /// Says length and index.
    pub fn sentence(&self) -> String {
        format!(
            "Seedlings {:.0} mm long, root and shoot together ({}); vigor index {:.0} (percent germinated times mm).",
            self.mm,
            plural(self.cells, "cell"),
            self.vigor_index
        )
    }
}

/// What the counts of one ear say about speed and strength.
#[derive(Debug, Clone, PartialEq)]
pub struct Speed {
    /// How its kernels came up, or why that is not observed.
    pub course: Result<EarCourse, Unsaid>,
    /// Grades of growth at the final count; `None` where none was given.
    pub vigor: Option<Vigor>,
    /// Lengths of seedlings at the final count; `None` where none was measured.
    pub length: Option<Length>,
}

impl EarCourse {
    /// Kernels that were up by the first count, of those that are up in the end; `None` when none is.
    pub fn early(&self) -> Option<Counts> {
        let ((_, first), (_, last)) = (self.up.first()?, self.up.last()?);
        Counts::new(*first, *last).ok().filter(|counts| counts.n() > 0)
    }

    /// Whether there are counts enough to tell times.
    pub fn has_times(&self) -> bool {
        self.up.len() >= FEWEST_FOR_TIMES
    }

    /// Gives the measures of speed.
    ///
    /// # Errors
    /// Why they are not observed, in a sentence.
    pub fn measures(&self) -> Result<Measures, String> {
        if !self.has_times() {
            return Err(few(self.up.len(), "Times are", FEWEST_FOR_TIMES));
        }
        self.course
            .measures()
            .map_err(|reason| unseen("Times are", reason))
    }

    /// Gives the likeliest curve of emergence in time, kernels being known only to have come up between two counts.
    ///
    /// # Errors
    /// Why there is none, in a sentence.
    pub fn curve(&self) -> Result<TimeFit, String> {
        if self.up.len() < FEWEST_FOR_CURVE {
            return Err(few(self.up.len(), "A curve is", FEWEST_FOR_CURVE));
        }
        self.course.fit().map_err(|reason| unseen("A curve is", reason))
    }

    fn early_sentence(&self, all_percent: Option<f64>) -> Option<String> {
        let early = self.early()?;
        let (day, _) = self.up.first()?;
        let share = 100.0 * early.rate()?;
        let range = wilson(early, Confidence::P95)?;
        let all = all_percent.map_or_else(String::new, |all| format!(" Of all ears it is {}.", whole(all)));
        Some(format!(
            "{} of the {} that came up were up by day {}: {} (95 %: {:.0} to {}).{all}",
            early.k(),
            early.n(),
            days(*day),
            percent(share),
            100.0 * range.low,
            whole(100.0 * range.high),
        ))
    }

    fn half_sentence(&self) -> Option<String> {
        match self.course.half_time() {
            HalfTime::NothingGerminated => None,
            HalfTime::NotAfter { day } => Some(format!(
                "Half of them were up by day {} at the latest; when is not observed.",
                days(day)
            )),
            HalfTime::At { day } => {
                let after = self.up.iter().rev().find(|(counted, _)| *counted <= day);
                let until = self.up.iter().find(|(counted, _)| *counted >= day);
                let between = format!(
                    "between day {} and day {}",
                    days(after.map_or(0.0, |one| one.0)),
                    days(until.map_or(day, |one| one.0))
                );
                Some(if self.has_times() {
                    format!(
                        "Half of them were up on day {day:.1}, by a straight line {between} (Coolbear and others 1984)."
                    )
                } else {
                    format!("Half of them were up {between}.")
                })
            }
        }
    }

    /// Says what can be said, a sentence each; `all_percent` is the share of all ears' kernels that were up early.
    pub fn sentences(&self, all_percent: Option<f64>) -> Vec<String> {
        let mut said = Vec::new();
        if self.course.germinated() == 0 {
            said.push("None of its kernels came up, so speed is not observed.".to_owned());
            return said;
        }
        said.extend(self.early_sentence(all_percent));
        said.extend(self.half_sentence());
        match self.measures() {
            Ok(found) => said.push(format!(
                "Mean time to emerge {:.1} days, by the middle of the days between counts; speed {:.2} kernels a day for each kernel laid (Maguire 1962).",
                found.mean_time_midpoint,
                found.speed_index / f64::from(self.kernels.max(1)),
            )),
            Err(why) => said.push(why),
        }
        // Where times are not told, nobody misses a curve.
        if self.has_times() {
            said.push(match self.curve() {
                Ok(curve) => curve_sentence(&curve),
                Err(why) => why,
            });
        }
        if self.other_cells > 0 {
            said.push(format!(
                "Without {}, counted on other days.",
                plural(self.other_cells, "cell")
            ));
        }
        said
    }
}

impl Speed {
    /// Says everything, a sentence each.
    pub fn sentences(&self, all_percent: Option<f64>) -> Vec<String> {
        let mut said = match &self.course {
            Ok(course) => course.sentences(all_percent),
            Err(why) => vec![why.sentence().to_owned()],
        };
        said.extend(self.vigor.map(|vigor| vigor.sentence()));
        said.extend(self.length.map(|length| length.sentence()));
        said
    }

    /// The share of the kernels that came up which were up by the early count, in percent; `None` where it is not
    /// observed or the first count was not the early one.
    pub fn early_percent(&self) -> Option<f64> {
        let course = self.course.as_ref().ok().filter(|course| course.begins_early)?;
        Some(100.0 * course.early()?.rate()?)
    }
}

fn curve_sentence(curve: &TimeFit) -> String {
    let error = |error: Option<f64>| {
        error
            .filter(|error| error.is_finite())
            .map_or_else(String::new, |error| format!(" ± {error:.1}"))
    };
    format!(
        "Likeliest curve: half of those that ever come up are up on day {:.1}{}, and {} of all come up in the end.",
        curve.half_day,
        error(curve.half_day_error),
        whole(100.0 * curve.ceiling),
    )
}

fn few(counts: usize, what: &str, needed: usize) -> String {
    format!(
        "{what} not told: {} bound them too loosely; {needed} are needed.",
        plural(counts, "count")
    )
}

fn unseen(what: &str, reason: NotObserved) -> String {
    match reason {
        NotObserved::NothingGerminated => format!("{what} not told: nothing came up."),
        NotObserved::OneInterval { after, until } | NotObserved::TwoIntervals { after, until } => format!(
            "{what} not told: all came up between day {} and day {}, and too few counts divide those days.",
            days(after),
            days(until)
        ),
        NotObserved::NotSettled => format!("{what} not told: the calculation did not settle."),
    }
}

fn days(days: f64) -> String {
    format!("{days:.0}")
}

/// Speed and strength of all ears of a season.
#[derive(Debug, Clone, PartialEq)]
pub struct Speeds {
    ears: BTreeMap<EarId, Speed>,
    /// The share of all kernels that came up which were up by the early count, in percent, over the ears of which it
    /// is observed; `None` where it is of none.
    pub early_percent: Option<f64>,
}

impl Speeds {
    /// Gives what is known of an ear; `None` when it lies in no cell.
    pub fn of(&self, ear: EarId) -> Option<&Speed> {
        self.ears.get(&ear)
    }
}

/// The counts in force of one cell by the day after laying.
struct CellCourse {
    test: TestId,
    begins_early: bool,
    /// Day and kernels up.
    up: Vec<(f64, u32)>,
    kernels: u32,
}

/// Cells that were counted on the same days of one test.
type Key = (TestId, bool, Vec<u64>);

pub(super) fn compute(project: &Project, season: SeasonId) -> Speeds {
    let ears: BTreeMap<EarId, Speed> = project
        .ears_of(season)
        .filter_map(|ear| Some((ear.id, of_ear(project, ear)?)))
        .collect();
    let early = ears.values().filter_map(|speed| {
        speed.early_percent()?;
        speed.course.as_ref().ok()?.early()
    });
    let (up, all) = early.fold((0_u64, 0_u64), |(up, all), counts| {
        (up + u64::from(counts.k()), all + u64::from(counts.n()))
    });
    Speeds {
        ears,
        early_percent: (all > 0).then(|| 100.0 * up as f64 / all as f64),
    }
}

fn of_ear(project: &Project, ear: &Ear) -> Option<Speed> {
    let cells: Vec<&Cell> = project.cells_of_ear(ear.id).collect();
    if cells.is_empty() {
        return None;
    }
    let finals: Vec<&Count> = cells
        .iter()
        .filter_map(|cell| project.count_in_force(cell.id, Pass::Final))
        .collect();
    let grades: Vec<u8> = finals.iter().filter_map(|count| count.vigor).collect();
    Some(Speed {
        course: course(project, &cells),
        vigor: Vigor::of(&grades),
        length: length(project, &finals),
    })
}

fn length(project: &Project, finals: &[&Count]) -> Option<Length> {
    let rule = project.about.germinated;
    let germinated = |count: &Count| f64::from(count.tally.germinated(rule));
    let measured: Vec<(f64, f64)> = finals
        .iter()
        .filter_map(|count| Some((germinated(count), count.root_mm? + count.shoot_mm?)))
        .filter(|(weight, _)| *weight > 0.0)
        .collect();
    let weight: f64 = measured.iter().map(|(weight, _)| weight).sum();
    let counted: f64 = finals.iter().map(|count| f64::from(count.tally.counted())).sum();
    if weight == 0.0 || counted == 0.0 {
        return None;
    }
    let mm = measured.iter().map(|(weight, mm)| weight * mm).sum::<f64>() / weight;
    let all: f64 = finals.iter().map(|count| germinated(count)).sum();
    Some(Length {
        mm,
        cells: measured.len(),
        vigor_index: 100.0 * all / counted * mm,
    })
}

fn course(project: &Project, cells: &[&Cell]) -> Result<EarCourse, Unsaid> {
    let found: Vec<Result<CellCourse, Unsaid>> = cells.iter().map(|cell| of_cell(project, cell)).collect();
    let mut groups: BTreeMap<Key, Vec<&CellCourse>> = BTreeMap::new();
    for one in found.iter().filter_map(|one| one.as_ref().ok()) {
        let days = one.up.iter().map(|(day, _)| day.to_bits()).collect();
        groups
            .entry((one.test, one.begins_early, days))
            .or_default()
            .push(one);
    }
    // The counts that tell most, and of equal ones the most kernels.
    let best = groups.values().max_by_key(|group| {
        (
            group[0].up.len(),
            group.iter().map(|one| one.kernels).sum::<u32>(),
        )
    });
    let Some(group) = best else {
        // Of several reasons the one of the cell that came farthest.
        let reasons = found.iter().filter_map(|one| one.as_ref().err());
        return Err(*reasons
            .max_by_key(|why| **why as u8)
            .unwrap_or(&Unsaid::NoFinalCount));
    };
    let mut up = group[0].up.clone();
    for (at, (_, kernels)) in up.iter_mut().enumerate() {
        *kernels = group.iter().map(|one| one.up[at].1).sum();
    }
    let kernels = group.iter().map(|one| one.kernels).sum();
    let mut before = 0;
    let inspections = up
        .iter()
        .map(|&(day, up)| Inspection {
            day,
            new: up - std::mem::replace(&mut before, up),
        })
        .collect();
    Ok(EarCourse {
        course: Course::new(kernels, inspections)?,
        up,
        kernels,
        cells: group.len(),
        other_cells: found.iter().filter(|one| one.is_ok()).count() - group.len(),
        begins_early: group[0].begins_early,
    })
}

fn of_cell(project: &Project, cell: &Cell) -> Result<CellCourse, Unsaid> {
    let test = project.test_of_tray(cell.tray).ok_or(Unsaid::NoFinalCount)?;
    let last = project.count_in_force(cell.id, Pass::Final);
    let kernels = last.ok_or(Unsaid::NoFinalCount)?.tally.counted();
    let laid = project.laid_on(cell);
    let mut counts: Vec<&Count> = project
        .counts_of(cell.id)
        .filter(|count| !count.second && !count.void && !project.is_corrected(count.id))
        .collect();
    counts.sort_by_key(|count| count.pass);
    counts.dedup_by_key(|count| count.pass);
    if counts.len() < 2 {
        return Err(Unsaid::OneCount);
    }
    let day = |count: &Count| {
        let noted = count.on.zip(laid).map(|(on, laid)| (on - laid).get_days());
        noted.map_or_else(
            || planned(test, count.pass).map(f64::from),
            |days| Some(f64::from(days)),
        )
    };
    let up: Option<Vec<(f64, u32)>> = counts
        .iter()
        .map(|count| Some((day(count)?, count.tally.emerged())))
        .collect();
    let up = up.ok_or(Unsaid::NoDays)?;
    let days_rise = up.windows(2).all(|pair| pair[0].0 < pair[1].0);
    if !days_rise || up[0].0 <= 0.0 {
        return Err(Unsaid::NoDays);
    }
    let falls = up.windows(2).any(|pair| pair[0].1 > pair[1].1);
    if falls || up.iter().any(|(_, up)| *up > kernels) {
        return Err(Unsaid::Falls);
    }
    Ok(CellCourse {
        test: test.id,
        begins_early: counts[0].pass == Pass::Early,
        up,
        kernels,
    })
}

fn planned(test: &Test, pass: Pass) -> Option<u16> {
    match pass {
        Pass::Early => test.recipe.early_day,
        Pass::Between(day) => Some(day),
        Pass::Final => Some(test.recipe.final_day),
    }
}

//! Another project beside ours: season by season, side by side. A difference is claimed only where both tested the same
//! check lot.

use super::Insight;
use super::estimates::Z_95;
use super::words::{plural, some_of, tenths};
use crate::model::{CellContent, Document, Pass, Project, Season, SeasonId, Test};
use std::collections::BTreeSet;

/// Two projects beside each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Beside {
    /// The name of ours.
    pub ours: String,
    /// The name of the other one.
    pub theirs: String,
    /// The seasons of both, the latest first.
    pub seasons: Vec<SeasonBeside>,
    /// What holds for all of it, a sentence each.
    pub sentences: Vec<String>,
}

/// A season in both projects.
#[derive(Debug, Clone, PartialEq)]
pub struct SeasonBeside {
    /// Its year.
    pub year: i16,
    /// In ours; `None` where ours has no such season.
    pub ours: Option<SideOfSeason>,
    /// In the other one.
    pub theirs: Option<SideOfSeason>,
    /// What may be said of the two, in sentences.
    pub sentence: String,
    /// How far ours germinated above theirs, allowed for the check lot; `None` where no difference is claimed.
    pub adjusted: Option<AboveTheirs>,
}

/// What one project has in a season.
#[derive(Debug, Clone, PartialEq)]
pub struct SideOfSeason {
    /// Its ears; those that were brought from elsewhere are left out.
    pub ears: usize,
    /// Its mother rows.
    pub rows: usize,
    /// Ears with final counts.
    pub scored: usize,
    /// Ears that its cutoffs keep.
    pub kept: usize,
    /// Mother rows of these.
    pub mothers_kept: usize,
    /// Mean cold germination of the scored ears as counted, in percent.
    pub germination: Option<MeanOf>,
    /// Mean days from planting to maturity.
    pub maturity_days: Option<MeanOf>,
    /// The tests, each with its recipe, in words.
    pub tests: Vec<String>,
    /// The check lots that were counted, with germinated and counted kernels.
    pub checks: Vec<CheckCount>,
}

/// A mean over ears.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MeanOf {
    /// The mean.
    pub mean: f64,
    /// Its standard error; `None` for a single ear.
    pub error: Option<f64>,
    /// Over so many ears.
    pub ears: usize,
}

impl MeanOf {
    fn new(values: &[f64]) -> Option<Self> {
        let count = values.len() as f64;
        if values.is_empty() {
            return None;
        }
        let mean = values.iter().sum::<f64>() / count;
        let squares: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
        Some(Self {
            mean,
            error: (values.len() > 1).then(|| (squares / (count - 1.0) / count).sqrt()),
            ears: values.len(),
        })
    }

    /// The interval that holds the mean with 95 % confidence: 1.96 standard errors to each side.
    pub fn interval(&self) -> Option<[f64; 2]> {
        let error = self.error?;
        Some([self.mean - Z_95 * error, self.mean + Z_95 * error])
    }

    /// Says it: `76.4 (74.1 to 78.7)`.
    pub fn text(&self) -> String {
        match self.interval() {
            Some([low, high]) => format!("{} ({} to {})", tenths(self.mean), tenths(low), tenths(high)),
            None => tenths(self.mean),
        }
    }
}

/// What was counted of a check lot.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CheckCount {
    /// Its name.
    pub name: String,
    /// Germinated kernels.
    pub germinated: u32,
    /// Counted kernels.
    pub counted: u32,
}

/// A difference that allows for the check lot.
#[derive(Debug, Clone, PartialEq)]
pub struct AboveTheirs {
    /// The check lot.
    pub check: String,
    /// Ours above theirs, in percent points.
    pub points: f64,
    /// Lower and upper bound with 95 % confidence.
    pub points_95: [f64; 2],
}

/// Puts another project beside ours.
pub fn beside(ours: (&Document, &Insight), theirs: (&Document, &Insight)) -> Beside {
    let (here, there) = (ours.0.project(), theirs.0.project());
    let years: BTreeSet<i16> = here
        .seasons
        .iter()
        .chain(there.seasons.iter())
        .map(|one| one.year)
        .collect();
    let seasons: Vec<SeasonBeside> = years
        .into_iter()
        .rev()
        .map(|year| {
            let side = |(document, insight): (&Document, &Insight)| {
                let season = document.project().season_of_year(year)?;
                Some(side(document, insight, season))
            };
            let (ours, theirs) = (side(ours), side(theirs));
            let (sentence, adjusted) = told(ours.as_ref(), theirs.as_ref());
            SeasonBeside {
                year,
                ours,
                theirs,
                sentence,
                adjusted,
            }
        })
        .collect();
    let sentences = general(here, there, &seasons);
    Beside {
        ours: here.about.name.clone(),
        theirs: there.about.name.clone(),
        seasons,
        sentences,
    }
}

fn general(here: &Project, there: &Project, seasons: &[SeasonBeside]) -> Vec<String> {
    let common: Vec<i16> = seasons
        .iter()
        .filter(|one| one.ours.is_some() && one.theirs.is_some())
        .map(|one| one.year)
        .collect();
    let mut said = vec![if common.is_empty() {
        "The two projects have no season in common.".to_owned()
    } else {
        format!(
            "{} in common: {}.",
            plural(common.len(), "season"),
            some_of(&common)
        )
    }];
    if here.about.id == there.about.id {
        said.push("It is another copy of this project.".to_owned());
    }
    said.push("The figures stand side by side. Two growers differ in cold, trays and eyes, so a difference is named only where both tested the same check lot.".to_owned());
    if !there.about.restrictions.is_empty() {
        said.push(format!(
            "Rules that came with their seed: {}.",
            there.about.restrictions
        ));
    }
    said
}

fn side(document: &Document, insight: &Insight, season: &Season) -> SideOfSeason {
    let project = document.project();
    let lines = insight.season_lines(document);
    let line = lines.iter().find(|line| line.season == season.id);
    let own = || project.ears_of(season.id).filter(|ear| ear.brought.is_none());
    let estimates = insight.estimates(document, season.id);
    let germination: Vec<f64> = estimates
        .iter()
        .map(|(_, estimate)| estimate.observed_percent)
        .collect();
    let days: Vec<f64> = own()
        .filter_map(|ear| project.maturity_days(ear))
        .map(f64::from)
        .collect();
    SideOfSeason {
        ears: own().count(),
        rows: project.rows_of(season.id).count(),
        scored: line.map_or(0, |line| line.scored),
        kept: line.map_or(0, |line| line.kept),
        mothers_kept: line.map_or(0, |line| line.mothers_kept),
        germination: MeanOf::new(&germination),
        maturity_days: MeanOf::new(&days),
        tests: project
            .tests_of(season.id)
            .map(|test| recipe(project, test))
            .collect(),
        checks: checks(project, season.id),
    }
}

fn recipe(project: &Project, test: &Test) -> String {
    let unit = project.about.units.temperature;
    format!(
        "{}: {}, final count on day {}, {} a cell",
        test.name,
        super::temperature(test.recipe.cold_c, unit),
        test.recipe.final_day,
        plural(usize::from(test.plan.kernels), "kernel")
    )
}

/// The check lots of a season with their final counts in force.
fn checks(project: &Project, season: SeasonId) -> Vec<CheckCount> {
    let mut found: Vec<CheckCount> = Vec::new();
    for test in project.tests_of(season) {
        let name = test.check_lot.trim();
        if name.is_empty() {
            continue;
        }
        let is_check = |cell: &&crate::model::Cell| matches!(cell.content, CellContent::Check(_));
        for cell in project.cells_of_test(test.id).filter(is_check) {
            let Some(count) = project.count_in_force(cell.id, Pass::Final) else {
                continue;
            };
            let at = found.iter().position(|one| is_same_name(&one.name, name));
            let at = at.unwrap_or_else(|| {
                found.push(CheckCount {
                    name: name.to_owned(),
                    germinated: 0,
                    counted: 0,
                });
                found.len() - 1
            });
            found[at].germinated += count.tally.germinated(project.about.germinated);
            found[at].counted += count.tally.counted();
        }
    }
    found.retain(|one| one.counted > 0);
    found
}

fn is_same_name(one: &str, other: &str) -> bool {
    one.trim().to_lowercase() == other.trim().to_lowercase()
}

/// What may be said of a season in both.
fn told(ours: Option<&SideOfSeason>, theirs: Option<&SideOfSeason>) -> (String, Option<AboveTheirs>) {
    let (ours, theirs) = match (ours, theirs) {
        (Some(ours), Some(theirs)) => (ours, theirs),
        (Some(_), None) => return ("Only ours has this season.".to_owned(), None),
        (None, _) => return ("Only theirs has this season.".to_owned(), None),
    };
    let (Some(our_mean), Some(their_mean)) = (ours.germination, theirs.germination) else {
        return (
            "No difference is claimed: one of the two has no final counts.".to_owned(),
            None,
        );
    };
    let common = ours.checks.iter().find_map(|check| {
        let same = theirs
            .checks
            .iter()
            .find(|other| is_same_name(&other.name, &check.name))?;
        Some((check, same))
    });
    let Some((check, other)) = common else {
        return (
            "No difference is claimed: no check lot of the same name was counted in both.".to_owned(),
            None,
        );
    };
    let (Some(our_error), Some(their_error)) = (our_mean.error, their_mean.error) else {
        return (
            "No difference is claimed: one of the two has counts of a single ear.".to_owned(),
            None,
        );
    };
    let [ours_check, theirs_check] = [share(check), share(other)];
    let points = our_mean.mean - their_mean.mean - (ours_check.0 - theirs_check.0);
    let variance = our_error.powi(2) + their_error.powi(2) + ours_check.1 + theirs_check.1;
    let half = Z_95 * variance.sqrt();
    let adjusted = AboveTheirs {
        check: check.name.clone(),
        points,
        points_95: [points - half, points + half],
    };
    (adjusted.sentence(check, other), Some(adjusted))
}

/// The percent of a check lot that germinated, and its variance. Two kernels of each kind are added for the variance, so
/// that a lot of which all germinated is not taken for certain (Agresti and Coull 1998, The American Statistician 52:119;
/// from memory).
fn share(check: &CheckCount) -> (f64, f64) {
    let (germinated, counted) = (f64::from(check.germinated), f64::from(check.counted));
    let guarded = (germinated + 2.0) / (counted + 4.0);
    let variance = guarded * (1.0 - guarded) / (counted + 4.0);
    (100.0 * germinated / counted, 10_000.0 * variance)
}

impl AboveTheirs {
    fn sentence(&self, ours: &CheckCount, theirs: &CheckCount) -> String {
        let [low, high] = self.points_95;
        let figures = format!(
            "Of the check lot {} germinated {} of {} in ours and {} of {} in theirs",
            self.check, ours.germinated, ours.counted, theirs.germinated, theirs.counted
        );
        let range = format!(
            "{} points above theirs, between {} and {} with 95 % confidence",
            tenths(self.points),
            tenths(low),
            tenths(high)
        );
        let meant = if low > 0.0 {
            "Ours germinated better, if both lots are the same seed and were kept alike."
        } else if high < 0.0 {
            "Theirs germinated better, if both lots are the same seed and were kept alike."
        } else {
            "That shows no difference."
        };
        format!("{figures}; allowed for that, our ears stand {range}. {meant}")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn side(percents: &[f64], check: Option<(&str, u32, u32)>) -> SideOfSeason {
        SideOfSeason {
            ears: percents.len(),
            rows: 1,
            scored: percents.len(),
            kept: 0,
            mothers_kept: 0,
            germination: MeanOf::new(percents),
            maturity_days: None,
            tests: Vec::new(),
            checks: check
                .into_iter()
                .map(|(name, germinated, counted)| CheckCount {
                    name: name.to_owned(),
                    germinated,
                    counted,
                })
                .collect(),
        }
    }

    /// By hand: mean 80, deviations -10, 0, 10, so a standard deviation of 10 and an error of 10 / √3.
    #[test]
    fn a_mean_has_the_error_of_its_ears() {
        let mean = MeanOf::new(&[70.0, 80.0, 90.0]).unwrap();
        assert!((mean.mean - 80.0).abs() < 1e-12);
        assert!((mean.error.unwrap() - 10.0 / 3.0_f64.sqrt()).abs() < 1e-12);
        assert_eq!(MeanOf::new(&[70.0]).unwrap().interval(), None);
        assert_eq!(MeanOf::new(&[]), None);
    }

    #[test]
    fn a_difference_is_claimed_with_the_same_check_lot_only() {
        let ours: Vec<f64> = (0..40).map(|at| 80.0 + f64::from(at % 5)).collect();
        let theirs: Vec<f64> = (0..40).map(|at| 60.0 + f64::from(at % 5)).collect();
        let said =
            |our_check, their_check| told(Some(&side(&ours, our_check)), Some(&side(&theirs, their_check)));
        for (our_check, their_check) in [
            (None, None),
            (Some(("Lot A", 90, 100)), None),
            (Some(("Lot A", 90, 100)), Some(("Lot B", 90, 100))),
        ] {
            let (sentence, adjusted) = said(our_check, their_check);
            assert_eq!(adjusted, None);
            assert!(sentence.starts_with("No difference is claimed"), "{sentence}");
        }
        // The raw means are 20 points apart, but so are the check lots: theirs lay colder.
        let (sentence, adjusted) = said(Some(("Lot A", 180, 200)), Some(("lot a ", 140, 200)));
        let adjusted = adjusted.unwrap();
        assert!(adjusted.points.abs() < 1e-9);
        assert!(sentence.ends_with("That shows no difference."), "{sentence}");
        // With equal check lots the ears do differ.
        let (sentence, adjusted) = said(Some(("Lot A", 180, 200)), Some(("Lot A", 180, 200)));
        let adjusted = adjusted.unwrap();
        assert!((adjusted.points - 20.0).abs() < 1e-9);
        assert!(adjusted.points_95[0] > 0.0);
        assert!(sentence.contains("Ours germinated better"), "{sentence}");
        // A check lot of few kernels, all of which germinated, is not certain.
        let (_, adjusted) = said(Some(("Lot A", 4, 4)), Some(("Lot A", 4, 4)));
        assert!(adjusted.unwrap().points_95[0] < 0.0);
    }
}

//! Whether a test can be trusted: what its trays, places, check lot and counts say about the test itself.
//!
//! A tray is judged once all its cells are counted, so nothing is computed again while one is being counted.

use super::cold_days;
use super::design::{self, Counted, Fitted, SLOPE_AT, Sown};
use super::estimates::{self, PercentRange, TrayEffect, Z_95, mean_rate_at, tray_effects};
use super::misread::Misread;
use super::todo::Urgency;
use super::words::{ears, lower_first, percent, plural, whole};
use crate::model::{
    CellContent, EarId, Germinated, Pass, Place, Project, Repair, RowId, Tally, TestId, TrayId,
};
use crate::stats::Counts;
use crate::stats::beta_binomial::FEWEST_UNITS;
use crate::stats::consistency::{Neighbours, Placed, false_discovery, fisher, neighbours, replicate_test};
use crate::stats::mixed::{self, Model, Options, RatioTest, Reference};
use std::collections::BTreeMap;
use std::sync::Arc;

/// Shuffles in the tests of neighbours and of drying batches.
pub(super) const SHUFFLES: u32 = 999;
/// Findings among many are told below this share of false alarms. Common practice, no source.
const FALSE_ALARMS: f64 = 0.05;
/// Mean germination in percent outside of which a test cannot tell ears apart. Common practice, no source.
const TELLING: [u64; 2] = [30, 90];

/// What kind of thing was found.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FindingKind {
    /// Cells that look as if they were read one cell off.
    Shifted,
    /// A tray that looks as if it stood the other way round in one of the counts.
    Turned,
    /// Two cells that look as if they were taken for each other.
    Swapped,
    /// Two trays that look as if they were taken for each other.
    SwappedTrays,
    /// A tray that differs from the others.
    Tray,
    /// A check lot that differs in one tray.
    Check,
    /// A slope across the rows or columns of all trays.
    Slope,
    /// Neighbouring cells that are alike.
    Neighbours,
    /// Replicate cells of one ear that disagree.
    Replicates,
    /// Drying batches that differ.
    Batches,
    /// A term that could not be told.
    LeftOut,
    /// Too much germinated to tell ears apart.
    TooEasy,
    /// Too little germinated to tell ears apart.
    TooHarsh,
}

impl FindingKind {
    /// Names the kind in one or two words.
    pub fn name(self) -> &'static str {
        match self {
            Self::Shifted => "shifted row",
            Self::Turned => "turned tray",
            Self::Swapped => "swapped cells",
            Self::SwappedTrays => "swapped trays",
            Self::Tray => "tray differs",
            Self::Check => "check lot differs",
            Self::Slope => "slope",
            Self::Neighbours => "neighbours alike",
            Self::Replicates => "replicates disagree",
            Self::Batches => "drying batches differ",
            Self::LeftOut => "left out",
            Self::TooEasy => "too easy",
            Self::TooHarsh => "too harsh",
        }
    }
}

/// One thing that was found out about a test.
#[derive(Debug, Clone, PartialEq)]
pub struct Finding {
    /// What kind of thing.
    pub kind: FindingKind,
    /// How soon it needs attention.
    pub urgency: Urgency,
    /// What it is, in a sentence.
    pub sentence: String,
    /// The figures that say so, in a sentence or two.
    pub evidence: String,
    /// What to do about it, in a sentence or two.
    pub remedy: String,
    /// Where to look.
    pub place: Place,
    /// What mends it in one step, if anything does.
    pub suggested: Option<Repair>,
}

/// Kernels of many cells together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Total {
    /// Germinated kernels.
    pub germinated: u64,
    /// Counted kernels: sown without the missing.
    pub counted: u64,
}

impl Total {
    /// Germinated kernels in percent of the counted ones; `None` when none was counted.
    pub fn percent(self) -> Option<f64> {
        (self.counted > 0).then(|| 100.0 * self.germinated as f64 / self.counted as f64)
    }

    /// Says both numbers and the percent, such as `12 of 20 (60 %)`.
    pub fn text(self) -> String {
        let share = self
            .percent()
            .map_or(String::new(), |percent| format!(" ({})", whole(percent)));
        format!("{} of {}{share}", self.germinated, self.counted)
    }

    fn add(&mut self, tally: &Tally, rule: Germinated) {
        self.germinated += u64::from(tally.germinated(rule));
        self.counted += u64::from(tally.counted());
    }

    pub(super) fn without(self, part: Self) -> Self {
        Self {
            germinated: self.germinated - part.germinated,
            counted: self.counted - part.counted,
        }
    }

    /// `None` where the total is beyond what can be tested.
    fn counts(self) -> Option<Counts> {
        Counts::new(self.germinated.try_into().ok()?, self.counted.try_into().ok()?).ok()
    }
}

/// The kernels of the final counts in force of a tray, finished or not: those of its ears, and those of its check lot.
pub fn tray_totals(project: &Project, tray: TrayId) -> [Total; 2] {
    let mut totals = [Total::default(); 2];
    for cell in project.cells_of(tray) {
        let which = match cell.content {
            CellContent::Ear(_) => 0,
            CellContent::Check(_) => 1,
            CellContent::Landmark | CellContent::Spare => continue,
        };
        if let Some(count) = project.count_in_force(cell.id, Pass::Final) {
            totals[which].add(&count.tally, project.about.germinated);
        }
    }
    totals
}

/// The figures of one finished tray.
#[derive(Debug, Clone, PartialEq)]
pub struct TraySound {
    /// The tray.
    pub tray: TrayId,
    /// Its number within the test.
    pub number: u16,
    /// Germinated kernels of its ears, of all counted ones.
    pub ears: Total,
    /// Germinated kernels of its check lot, of all counted ones.
    pub checks: Total,
    /// What the tray did by the main model; `None` where that has no tray effects.
    pub effect: Option<TrayEffect>,
    /// Whether neighbouring cells are alike, once ear and tray are allowed for; `None` where it cannot be told.
    pub neighbours: Option<Neighbours>,
}

/// How germination changes across the trays, by one number for all of them.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Slope {
    /// Logits for one row or column more.
    pub logits: mixed::Estimate,
    /// What an average ear shows in the last row or column above the first, in percent points.
    pub points: f64,
    /// The 95 % interval of these points.
    pub points_95: PercentRange,
    /// The probability of a slope at least as steep if there were none.
    pub p_value: f64,
}

/// What was found out about a test.
#[derive(Debug, Clone, PartialEq)]
pub struct Soundness {
    /// The test.
    pub test: TestId,
    /// Its finished trays by number.
    pub trays: Vec<TraySound>,
    /// Germinated kernels of all ears in finished trays.
    pub ears: Total,
    /// The likelihood-ratio test of the tray effects; `None` where there are none.
    pub tray_test: Option<RatioTest>,
    /// The slope from the first row to the last; `None` where it cannot be told.
    pub by_row: Option<Slope>,
    /// The slope from the first column to the last; `None` where it cannot be told.
    pub by_column: Option<Slope>,
    /// The likelihood-ratio test of both slopes together; `None` where neither can be told.
    pub slope_test: Option<RatioTest>,
    /// Whether they are clear, so that the likely percents of the season allow for them.
    pub are_slopes_clear: bool,
    /// What was found, the most urgent first.
    pub findings: Vec<Finding>,
}

/// The counts of the finished trays of a test, and who lay in it.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Finished {
    pub(super) trays: Vec<(TrayId, Arc<Vec<Counted>>)>,
    pub(super) ears: Arc<Vec<Lying>>,
}

/// An ear in a test, with what the judgement of counts reads of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Lying {
    ear: EarId,
    number: u32,
    row: Option<RowId>,
}

/// Everything that a judgement reads of the counts.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Judged {
    pub(super) finished: Finished,
    /// Trays that stood clearly warmer or colder than the others by their logs: the mean, and by how much, in °C.
    pub(super) apart: Vec<(TrayId, f64, f64)>,
}

/// Gives the ears in the trays of a test.
pub(super) fn lying(project: &Project, test: TestId) -> Vec<Lying> {
    let ears = project.cells_of_test(test).filter_map(|cell| cell.content.ear());
    ears.filter_map(|ear| project.ears.get(ear))
        .map(|ear| Lying {
            ear: ear.id,
            number: ear.number,
            row: ear.row,
        })
        .collect()
}

/// Names a tray at the beginning of a sentence; with its test where a season has several.
pub(super) fn title(project: &Project, test: TestId, number: u16, is_named: bool) -> String {
    match project.tests.get(test) {
        Some(test) if is_named => format!("Test {}, tray {number}", test.name),
        _ => format!("Tray {number}"),
    }
}

pub(super) fn sum<'a>(counts: impl Iterator<Item = &'a Counts>) -> Total {
    counts.fold(Total::default(), |total, counts| Total {
        germinated: total.germinated + u64::from(counts.k()),
        counted: total.counted + u64::from(counts.n()),
    })
}

/// Says a probability, which rounding must not turn into none.
pub(super) fn probability(p: f64) -> String {
    if p < 0.001 {
        "less than 0.001".to_owned()
    } else {
        format!("{p:.3}")
    }
}

pub(super) fn compute(project: &Project, test: TestId, judged: &Judged, fitted: &Fitted) -> Soundness {
    let cells = &fitted.cells;
    let is_named = is_named(project, test);
    let of = |cells: &[Counted], is_ear: bool| {
        sum(cells
            .iter()
            .filter(|cell| cell.ear().is_some() == is_ear)
            .map(|cell| &cell.counts))
    };
    let mut found = Soundness {
        test,
        trays: judged
            .finished
            .trays
            .iter()
            .map(|(tray, cells)| TraySound {
                tray: *tray,
                number: project.trays.get(*tray).map_or(0, |tray| tray.number),
                ears: of(cells, true),
                checks: of(cells, false),
                effect: None,
                neighbours: None,
            })
            .collect(),
        ears: of(cells, true),
        tray_test: None,
        by_row: None,
        by_column: None,
        slope_test: None,
        are_slopes_clear: false,
        findings: Vec::new(),
    };
    let scored = cells
        .iter()
        .filter(|cell| cell.ear().is_some() && cell.counts.n() > 0);
    if scored.count() < FEWEST_UNITS {
        return found;
    }
    let name = |tray: &TraySound| title(project, test, tray.number, is_named);
    if let Some(model) = fitted.best() {
        by_model(project, fitted, model, is_named, judged, &mut found);
        for sentence in estimates::left_out(project, model, &fitted.arranged, &[]) {
            found.findings.push(Finding {
                kind: FindingKind::LeftOut,
                urgency: Urgency::Open,
                sentence,
                evidence: "The layout of the test says so.".to_owned(),
                remedy: "Read the likely percents with care; spread each mother row and the check lot over all trays next time.".to_owned(),
                place: Place::Test(test),
                suggested: None,
            });
        }
    }
    let by_log = |tray: TrayId| {
        let apart = judged.apart.iter().find(|(apart, ..)| *apart == tray);
        apart.map(|(_, mean, by)| cold_days::evidence(project, *mean, *by))
    };
    let mut more = tray_findings(&found, &name, &by_log);
    more.extend(check_findings(&found, &name));
    more.extend(slope_findings(&found));
    more.extend(neighbour_findings(&found, &name));
    more.extend(replicate_findings(project, fitted));
    more.extend(telling(&found));
    found.findings.extend(more);
    found
}

/// Whether the season has other tests, so that trays are named with theirs.
fn is_named(project: &Project, test: TestId) -> bool {
    let season = project.tests.get(test).map(|test| test.season);
    season.is_some_and(|season| project.tests_of(season).count() > 1)
}

/// Puts the trays that look misread and what drying batches did beside the findings, the most urgent first.
pub(super) fn together(
    project: &Project,
    found: &Soundness,
    misread: &[Misread],
    batches: Option<&Finding>,
) -> Soundness {
    let mut found = found.clone();
    if !misread.is_empty() {
        let is_named = is_named(project, found.test);
        found.findings.extend(misread.iter().map(|misread| {
            let title = title(project, found.test, misread.number, is_named);
            misread_finding(misread, &title)
        }));
    }
    found.findings.extend(batches.cloned());
    found
        .findings
        .sort_by_key(|finding| (finding.urgency, finding.kind));
    found
}

fn by_model(
    project: &Project,
    fitted: &Fitted,
    model: &Model,
    is_named: bool,
    judged: &Judged,
    found: &mut Soundness,
) {
    let Fitted { cells, arranged, .. } = fitted;
    if let Ok(plain) = &fitted.model {
        let without = Options {
            with_trays: false,
            ..design::options_of(plain)
        };
        let without = design::fitted(&arranged.design, &without);
        found.tray_test = without.ok().and_then(|without| plain.against(&without));
        found.are_slopes_clear = fitted.slopes.is_some();
        let slopes = fitted.slopes.clone();
        if let Some((placed, test)) = slopes.or_else(|| design::with_slopes(arranged, cells, plain)) {
            found.slope_test = Some(test);
            found.by_row = slope(&placed, 0, cells, |cell| cell.row);
            found.by_column = slope(&placed, 1, cells, |cell| cell.column);
        }
    }
    for effect in tray_effects(project, &arranged.trays, model, is_named) {
        if let Some(tray) = found.trays.iter_mut().find(|tray| tray.tray == effect.tray) {
            tray.effect = Some(effect);
        }
    }
    let mut residuals = model.residuals().into_iter();
    for ((_, cells), tray) in judged.finished.trays.iter().zip(&mut found.trays) {
        let placed: Vec<Placed> = cells
            .iter()
            .zip(residuals.by_ref())
            .filter_map(|(cell, residual)| {
                Some(Placed {
                    row: u32::from(cell.row),
                    column: u32::from(cell.column),
                    value: residual?,
                })
            })
            .collect();
        tray.neighbours = neighbours(&placed, SHUFFLES, u64::from(tray.tray.0));
    }
}

/// Reads the slope of a covariate that is the row or the column of these cells; `None` where it is not in the model.
pub(super) fn slope(
    model: &Model,
    covariate: usize,
    cells: &[Counted],
    place: fn(&Counted) -> u16,
) -> Option<Slope> {
    let logits = model.slope(covariate)?;
    let mean_at = mean_rate_at(model);
    let places = f64::from(cells.iter().map(place).max().unwrap_or(1));
    let half = 0.5 * (places - 1.0);
    let points = |slope: f64| mean_at(half * slope) - mean_at(-half * slope);
    Some(Slope {
        logits,
        points: points(logits.value),
        points_95: PercentRange {
            low: points(logits.value - Z_95 * logits.error),
            high: points(logits.value + Z_95 * logits.error),
        },
        p_value: logits.p_value(),
    })
}

/// The slopes to tell of two that are clear together, with their ways: those clear by themselves, else the steeper one.
fn slopes_told<'a>(
    by_row: Option<&'a Slope>,
    by_column: Option<&'a Slope>,
) -> Vec<(&'a Slope, &'static str)> {
    let rows = by_row.map(|slope| (slope, "the first row to the last"));
    let columns = by_column.map(|slope| (slope, "the first column to the last"));
    let mut told: Vec<(&Slope, &str)> = rows.into_iter().chain(columns).collect();
    told.sort_by(|a, b| a.0.p_value.total_cmp(&b.0.p_value));
    let clear = told.iter().filter(|(slope, _)| slope.p_value < SLOPE_AT).count();
    told.truncate(clear.max(1));
    told
}

/// Says how germination changes across the trays, where it clearly does.
pub(super) fn slope_sentences(by_row: Option<&Slope>, by_column: Option<&Slope>) -> Vec<String> {
    let told = slopes_told(by_row, by_column).into_iter();
    told.map(|(slope, way)| slope.sentence(way)).collect()
}

impl Slope {
    fn sentence(&self, way: &str) -> String {
        format!(
            "Germination {} across the trays: from {way} by {:.0} percent points.",
            if self.points < 0.0 { "falls" } else { "rises" },
            self.points.abs()
        )
    }
}

fn misread_finding(misread: &Misread, title: &str) -> Finding {
    Finding {
        kind: misread.kind,
        urgency: Urgency::Wrong,
        sentence: format!("{title}{}", misread.what),
        evidence: misread.evidence.clone(),
        remedy: misread.remedy.clone(),
        place: misread.place,
        suggested: Some(misread.repair),
    }
}

fn tray_findings(
    sound: &Soundness,
    name: &impl Fn(&TraySound) -> String,
    by_log: &impl Fn(TrayId) -> Option<String>,
) -> Vec<Finding> {
    let mut found = Vec::new();
    let all_checks = all_checks(sound);
    for tray in &sound.trays {
        let Some(effect) = tray.effect.as_ref().filter(|effect| effect.is_clear()) else {
            continue;
        };
        let range = effect.points_95;
        let mut evidence = vec![format!(
            "Its ears germinated {}. Against the other trays that is {:+.0} points once ears are allowed for, between {:+.0} and {:+.0} with 95 % confidence.",
            tray.ears.text(),
            effect.points,
            range.low,
            range.high
        )];
        if tray.checks.counted > 0 {
            evidence.push(format!(
                "Its check lot germinated {}, elsewhere {}.",
                tray.checks.text(),
                all_checks.without(tray.checks).text()
            ));
        }
        evidence.extend(by_log(tray.tray));
        if let Some(test) = sound.tray_test {
            evidence.push(format!(
                "If no tray differed, so much would be seen with a probability of {} (likelihood-ratio test: {:.1} with {} degrees of freedom).",
                probability(test.p_value),
                test.statistic,
                test.degrees
            ));
        }
        found.push(Finding {
            kind: FindingKind::Tray,
            urgency: Urgency::Open,
            sentence: effect.sentence(),
            evidence: evidence.join(" "),
            remedy: format!(
                "The likely percents of its ears allow for that. Find out what was different about {}: place, water, cover. Test its ears again if the choice hangs on them.",
                lower_first(&name(tray))
            ),
            place: Place::Tray(tray.tray),
            suggested: None,
        });
    }
    found
}

fn all_checks(sound: &Soundness) -> Total {
    sound.trays.iter().fold(Total::default(), |total, tray| Total {
        germinated: total.germinated + tray.checks.germinated,
        counted: total.counted + tray.checks.counted,
    })
}

/// Finds check lots that differ from those of the other trays, in trays that the model does not name anyway.
fn check_findings(sound: &Soundness, name: &impl Fn(&TraySound) -> String) -> Vec<Finding> {
    let all = all_checks(sound);
    let p_values: Vec<f64> = sound
        .trays
        .iter()
        .map(|tray| {
            let pair = tray.checks.counts().zip(all.without(tray.checks).counts());
            pair.map_or(1.0, |(here, elsewhere)| fisher(here, elsewhere).two_sided)
        })
        .collect();
    let told = sound.trays.iter().zip(false_discovery(&p_values));
    told.filter(|(tray, alarms)| {
        *alarms < FALSE_ALARMS && !tray.effect.as_ref().is_some_and(TrayEffect::is_clear)
    })
    .map(|(tray, alarms)| Finding {
        kind: FindingKind::Check,
        urgency: Urgency::Open,
        sentence: format!("{}: its check lot differs from that of the other trays.", name(tray)),
        evidence: format!(
            "{} germinated here, {} elsewhere; share of false alarms {} (Fisher's exact test). A few check cells show only large differences.",
            tray.checks.text(),
            all.without(tray.checks).text(),
            probability(alarms)
        ),
        remedy: "Look at the check cells again. If they were counted right, be careful with the ears of this tray."
            .to_owned(),
        place: Place::Tray(tray.tray),
        suggested: None,
    })
    .collect()
}

fn slope_findings(sound: &Soundness) -> Vec<Finding> {
    let Some(test) = sound.slope_test.filter(|_| sound.are_slopes_clear) else {
        return Vec::new();
    };
    let told = slopes_told(sound.by_row.as_ref(), sound.by_column.as_ref());
    let finding = |(slope, way): (&Slope, &str)| {
        Finding {
        kind: FindingKind::Slope,
        urgency: Urgency::Open,
        sentence: slope.sentence(way),
        evidence: format!(
            "Between {:.0} and {:.0} points with 95 % confidence, once ears and trays are allowed for; without slopes so much would be seen with a probability of {} (likelihood-ratio test of rows and columns: {:.1} with {} degrees of freedom).",
            slope.points_95.low,
            slope.points_95.high,
            probability(test.p_value),
            test.statistic,
            test.degrees
        ),
        remedy: "Warmth or water comes from one side. The likely percents allow for the place of each cell. Turn the trays half way through the next test.".to_owned(),
        place: Place::Test(sound.test),
        suggested: None,
    }
    };
    told.into_iter().map(finding).collect()
}

fn neighbour_findings(sound: &Soundness, name: &impl Fn(&TraySound) -> String) -> Vec<Finding> {
    let told: Vec<(&TraySound, Neighbours)> = sound
        .trays
        .iter()
        .filter_map(|tray| Some((tray, tray.neighbours?)))
        .collect();
    let p_values: Vec<f64> = told.iter().map(|(_, found)| found.p_alike).collect();
    let told = told.into_iter().zip(false_discovery(&p_values));
    told.filter(|(_, alarms)| *alarms < FALSE_ALARMS)
        .map(|((tray, alike), alarms)| Finding {
            kind: FindingKind::Neighbours,
            urgency: Urgency::Open,
            sentence: format!(
                "{}: cells that lie side by side are more alike than their ears make them.",
                name(tray)
            ),
            evidence: format!(
                "Moran's I is {:.2} where {:.2} is expected; {} of shuffled trays have as much; share of false alarms {}.",
                alike.moran,
                alike.expected,
                percent(100.0 * alike.p_alike),
                probability(alarms)
            ),
            remedy: "Look for a dry, cold or mouldy part of the tray, and for a row that was counted one cell off."
                .to_owned(),
            place: Place::Tray(tray.tray),
            suggested: None,
        })
        .collect()
}

/// The cells of one ear, each with the logits by which its place is better.
type Replicates<'a> = Vec<(&'a Counted, f64)>;

/// Finds ears whose replicate cells disagree more than chance lets them, once the places of the cells are allowed for.
fn replicate_findings(project: &Project, fitted: &Fitted) -> Vec<Finding> {
    let cells = &fitted.cells;
    let model = fitted.best();
    let places = model.map_or_else(
        || vec![None; cells.len()],
        |model| model.cell_places(Reference::AverageTray),
    );
    let mut of_ear: BTreeMap<EarId, Replicates<'_>> = BTreeMap::new();
    for (cell, place) in cells.iter().zip(places) {
        if let Sown::Ear(ear) = cell.sown {
            of_ear.entry(ear).or_default().push((cell, place.unwrap_or(0.0)));
        }
    }
    let tested: Vec<((EarId, Replicates<'_>), f64)> = of_ear
        .into_iter()
        .filter_map(|(ear, cells)| {
            let pairs = cells.iter().map(|(cell, place)| (cell.counts, *place));
            let p_value = replicate_test(&pairs.collect::<Vec<_>>())?.p_value();
            Some(((ear, cells), p_value))
        })
        .collect();
    let allowed = match (
        model.is_some_and(Model::has_tray_effects),
        fitted.slopes.is_some(),
    ) {
        (true, true) => " What the trays and the places in them did is allowed for.",
        (true, false) => " What the trays did is allowed for.",
        (false, true) => " What the places in the trays did is allowed for.",
        (false, false) => "",
    };
    let p_values: Vec<f64> = tested.iter().map(|(.., p_value)| *p_value).collect();
    let told = tested.iter().zip(false_discovery(&p_values));
    told.filter(|(_, alarms)| *alarms < FALSE_ALARMS)
        .map(|(((ear, cells), p_value), alarms)| {
            let mut sentence = ears(project, &[*ear]);
            sentence.replace_range(..1, "E");
            let counts: Vec<String> = cells
                .iter()
                .map(|(cell, _)| sum([cell.counts].iter()).text())
                .collect();
            Finding {
                kind: FindingKind::Replicates,
                urgency: Urgency::Open,
                sentence: format!("{sentence}: its cells disagree more than chance lets them."),
                evidence: format!(
                    "{}; probability {} (exact test), share of false alarms {}.{allowed}",
                    counts.join(", "),
                    probability(*p_value),
                    probability(alarms),
                ),
                remedy: "Look at the cells again: a slip in counting, or two ears mixed up.".to_owned(),
                place: Place::Cell(cells[0].0.cell),
                suggested: None,
            }
        })
        .collect()
}

/// Says that a test was too easy or too harsh, compared in whole numbers.
fn telling(sound: &Soundness) -> Option<Finding> {
    let (k, n) = (sound.ears.germinated, sound.ears.counted);
    let [least, most] = TELLING;
    let (kind, sentence, remedy) = if 100 * k > most * n {
        (
            FindingKind::TooEasy,
            format!("More than {most} % germinated: the test was too easy to tell ears apart."),
            "Next time keep it colder or longer in the cold.",
        )
    } else if 100 * k < least * n {
        (
            FindingKind::TooHarsh,
            format!("Less than {least} % germinated: the test was too harsh to tell ears apart."),
            "Next time keep it less cold or shorter in the cold.",
        )
    } else {
        return None;
    };
    Some(Finding {
        kind,
        urgency: Urgency::Open,
        sentence,
        evidence: format!(
            "{} in {}.",
            sound.ears.text(),
            plural(sound.trays.len(), "finished tray")
        ),
        remedy: remedy.to_owned(),
        place: Place::Test(sound.test),
        suggested: None,
    })
}

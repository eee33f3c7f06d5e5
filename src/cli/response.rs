//! `response`: what the seasons brought; the same is a part of `summary`.

use std::io::Write;
use std::path::PathBuf;

use serde::Serialize;
use wintercrib::genetics::Uncertain;
use wintercrib::insight::{Course, Insight, Response};

use super::{Stop, project};

/// What the verb needs.
#[derive(Debug, PartialEq)]
pub struct ResponseRequest {
    /// The project.
    pub(super) file: PathBuf,
    /// For a program to read, not a person.
    pub(super) json: bool,
}

pub(super) fn run(asked: &ResponseRequest, out: &mut dyn Write) -> Result<(), Stop> {
    let opened = project::read(&asked.file)?;
    let response = Insight::default().response(&opened.document);
    let facts = ResponseFacts::new(&response);
    if asked.json {
        serde_json::to_writer_pretty(&mut *out, &facts).map_err(std::io::Error::from)?;
        writeln!(out)?;
        return Ok(());
    }
    writeln!(out, "{}", opened.document.project().about.name)?;
    facts.write(out)?;
    Ok(())
}

/// Keys carry their units. What cannot be told is null. Lists by season have a value for each of the years.
#[derive(Debug, Serialize)]
pub(super) struct ResponseFacts {
    season_years: Vec<i16>,
    cold_germination: CourseFacts,
    check_lots: Vec<LotFacts>,
    cycles: Vec<CycleFacts>,
    realised_heritability_over_all_cycles: Option<ChangeFacts>,
    selection_over_all_cycles_percent_points: Option<f64>,
    traits: Vec<CourseFacts>,
    sentences: Vec<String>,
    realised: Vec<String>,
    check_lots_say: Vec<String>,
    came_along: Vec<String>,
    taken_for_granted: Vec<String>,
}

/// Something over the seasons, in its unit.
#[derive(Debug, Serialize)]
struct CourseFacts {
    name: String,
    unit: String,
    means: Vec<Option<MeanFacts>>,
    beside_the_check_means: Vec<Option<f64>>,
    first_to_last_change: Option<ChangeFacts>,
    first_to_last_change_beside_the_check: Option<ChangeFacts>,
    first_to_last_change_standard_deviations: Option<f64>,
    asked_for_by_a_choice: bool,
    came_along_unasked: bool,
}

#[derive(Debug, Serialize)]
struct MeanFacts {
    mean: f64,
    low_95: f64,
    high_95: f64,
    standard_deviation: f64,
    count: usize,
}

#[derive(Debug, Serialize)]
struct ChangeFacts {
    change: f64,
    standard_error: f64,
    low_95: f64,
    high_95: f64,
}

#[derive(Debug, Serialize)]
struct LotFacts {
    name: String,
    percents: Vec<Option<f64>>,
    cells: Vec<Option<usize>>,
    years_since_first_test: Vec<Option<i16>>,
}

#[derive(Debug, Serialize)]
struct CycleFacts {
    from_year: i16,
    to_year: i16,
    list_version: Option<u16>,
    selection_percent_points: Option<f64>,
    response_percent_points: Option<ChangeFacts>,
    realised_heritability: Option<ChangeFacts>,
    why_not: Option<String>,
}

impl From<Uncertain> for ChangeFacts {
    fn from(one: Uncertain) -> Self {
        let span = one.interval_95();
        Self {
            change: one.value,
            standard_error: one.error(),
            low_95: span.low,
            high_95: span.high,
        }
    }
}

impl From<&Course> for CourseFacts {
    fn from(course: &Course) -> Self {
        let ends = course.ends();
        let raw = ends.and_then(|(first, last)| course.raw_change(first, last));
        let beside = ends.and_then(|(first, last)| course.change(first, last));
        let mean = |one: wintercrib::insight::SeasonMean| {
            let span = one.mean.interval_95();
            MeanFacts {
                mean: one.mean.value,
                low_95: span.low,
                high_95: span.high,
                standard_deviation: one.deviation,
                count: one.count,
            }
        };
        let places = 0..course.means.len();
        Self {
            name: course.name.clone(),
            unit: course.unit.clone(),
            means: course.means.iter().map(|one| one.map(mean)).collect(),
            beside_the_check_means: places
                .map(|at| course.adjusted(at).map(|one| one.value))
                .collect(),
            first_to_last_change: raw.map(ChangeFacts::from),
            first_to_last_change_beside_the_check: beside.map(ChangeFacts::from),
            first_to_last_change_standard_deviations: course.deviations(),
            asked_for_by_a_choice: course.is_asked(),
            came_along_unasked: course.came_along(),
        }
    }
}

impl ResponseFacts {
    pub(super) fn new(response: &Response) -> Self {
        let year = |at: usize| response.seasons[at].1;
        let all = response.cumulated.as_ref();
        Self {
            season_years: response.seasons.iter().map(|(_, year)| *year).collect(),
            cold_germination: CourseFacts::from(&response.germination),
            check_lots: response
                .lots
                .iter()
                .map(|lot| LotFacts {
                    name: lot.name.clone(),
                    percents: lot
                        .seasons
                        .iter()
                        .map(|one| Some(one.as_ref()?.percent.value))
                        .collect(),
                    cells: lot.seasons.iter().map(|one| Some(one.as_ref()?.cells)).collect(),
                    years_since_first_test: lot.seasons.iter().map(|one| Some(one.as_ref()?.years)).collect(),
                })
                .collect(),
            cycles: response
                .cycles
                .iter()
                .map(|cycle| {
                    let selected = cycle.differential.as_ref().ok();
                    CycleFacts {
                        from_year: year(cycle.from),
                        to_year: year(cycle.to),
                        list_version: selected.map(|one| one.version),
                        selection_percent_points: selected.map(|one| one.points),
                        response_percent_points: cycle.response.map(ChangeFacts::from),
                        realised_heritability: cycle.realised.as_ref().ok().map(|one| (*one).into()),
                        why_not: cycle.realised.as_ref().err().cloned(),
                    }
                })
                .collect(),
            realised_heritability_over_all_cycles: all.map(|one| one.realised.into()),
            selection_over_all_cycles_percent_points: all
                .and_then(|one| one.seasons.last().map(|(_, sum)| *sum)),
            traits: response.traits.iter().map(CourseFacts::from).collect(),
            sentences: response.sentences(),
            realised: response.realised_sentences(),
            check_lots_say: response.lot_sentences(),
            came_along: response.drift_sentences(),
            taken_for_granted: response.assumptions(),
        }
    }

    /// Whether there is more to say than that the next season will tell.
    pub(super) fn has_two_seasons(&self) -> bool {
        self.cold_germination.means.iter().flatten().count() > 1
    }

    pub(super) fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        for (title, sentences) in [
            ("What the seasons brought", &self.sentences),
            ("What of the selection was realised", &self.realised),
            ("The check lot itself", &self.check_lots_say),
            ("What came along", &self.came_along),
            ("How this is reckoned", &self.taken_for_granted),
        ] {
            if !sentences.is_empty() {
                writeln!(out, "\n{title}")?;
            }
            for sentence in sentences {
                writeln!(out, "  {sentence}")?;
            }
        }
        Ok(())
    }
}

//! `compare`: another project beside this one, season by season.

use std::io::Write;

use serde::Serialize;
use wintercrib::insight::{Beside, Insight, MeanOf, SeasonBeside, SideOfSeason, beside};

use super::summary::write_table;
use super::{Compare, Stop, project};

/// Keys carry their units. What one of the two does not have is null.
#[derive(Debug, Serialize)]
struct Page {
    ours: String,
    theirs: String,
    sentences: Vec<String>,
    seasons: Vec<SeasonFacts>,
}

#[derive(Debug, Serialize)]
struct SeasonFacts {
    season_year: i16,
    sentence: String,
    ours_above_theirs_percent_points: Option<f64>,
    ours_above_theirs_95_low_percent_points: Option<f64>,
    ours_above_theirs_95_high_percent_points: Option<f64>,
    ours: Option<SideFacts>,
    theirs: Option<SideFacts>,
}

#[derive(Debug, Serialize)]
struct SideFacts {
    ears: usize,
    mother_rows: usize,
    scored_ears: usize,
    kept_ears: usize,
    mothers_kept: usize,
    cold_germination_mean_percent: Option<f64>,
    cold_germination_95_low_percent: Option<f64>,
    cold_germination_95_high_percent: Option<f64>,
    maturity_mean_days: Option<f64>,
    maturity_95_low_days: Option<f64>,
    maturity_95_high_days: Option<f64>,
    tests: Vec<String>,
    check_lots: Vec<CheckFacts>,
}

#[derive(Debug, Serialize)]
struct CheckFacts {
    name: String,
    germinated_kernels: u32,
    counted_kernels: u32,
}

impl Page {
    fn new(found: &Beside) -> Self {
        Self {
            ours: found.ours.clone(),
            theirs: found.theirs.clone(),
            sentences: found.sentences.clone(),
            seasons: found.seasons.iter().map(SeasonFacts::new).collect(),
        }
    }
}

impl SeasonFacts {
    fn new(season: &SeasonBeside) -> Self {
        let adjusted = season.adjusted.as_ref();
        Self {
            season_year: season.year,
            sentence: season.sentence.clone(),
            ours_above_theirs_percent_points: adjusted.map(|one| one.points),
            ours_above_theirs_95_low_percent_points: adjusted.map(|one| one.points_95[0]),
            ours_above_theirs_95_high_percent_points: adjusted.map(|one| one.points_95[1]),
            ours: season.ours.as_ref().map(SideFacts::new),
            theirs: season.theirs.as_ref().map(SideFacts::new),
        }
    }
}

impl SideFacts {
    fn new(side: &SideOfSeason) -> Self {
        let end = |mean: Option<MeanOf>, end: usize| Some(mean?.interval()?[end]);
        Self {
            ears: side.ears,
            mother_rows: side.rows,
            scored_ears: side.scored,
            kept_ears: side.kept,
            mothers_kept: side.mothers_kept,
            cold_germination_mean_percent: side.germination.map(|mean| mean.mean),
            cold_germination_95_low_percent: end(side.germination, 0),
            cold_germination_95_high_percent: end(side.germination, 1),
            maturity_mean_days: side.maturity_days.map(|mean| mean.mean),
            maturity_95_low_days: end(side.maturity_days, 0),
            maturity_95_high_days: end(side.maturity_days, 1),
            tests: side.tests.clone(),
            check_lots: side
                .checks
                .iter()
                .map(|check| CheckFacts {
                    name: check.name.clone(),
                    germinated_kernels: check.germinated,
                    counted_kernels: check.counted,
                })
                .collect(),
        }
    }
}

pub(super) fn run(asked: &Compare, out: &mut dyn Write) -> Result<(), Stop> {
    let ours = project::read(&asked.file)?;
    let theirs = project::read_other(&asked.other)?;
    let found = beside(
        (&ours.document, &Insight::default()),
        (&theirs.document, &Insight::default()),
    );
    if asked.json {
        serde_json::to_writer_pretty(&mut *out, &Page::new(&found)).map_err(std::io::Error::from)?;
        writeln!(out)?;
        return Ok(());
    }
    writeln!(out, "{} beside {}", found.ours, found.theirs)?;
    for sentence in &found.sentences {
        writeln!(out, "{sentence}")?;
    }
    for season in &found.seasons {
        writeln!(out, "\nSeason {}", season.year)?;
        let mut rows = vec![
            [
                "",
                "Ears",
                "Mother rows",
                "Scored",
                "Kept",
                "Mothers kept",
                "Cold germination %",
                "Maturity days",
            ]
            .map(str::to_owned)
            .to_vec(),
        ];
        for (name, side) in [("ours", &season.ours), ("theirs", &season.theirs)] {
            rows.extend(side.as_ref().map(|side| row(name, side)));
        }
        write_table(out, &rows)?;
        writeln!(out, "  {}", season.sentence)?;
    }
    Ok(())
}

fn row(name: &str, side: &SideOfSeason) -> Vec<String> {
    let mean = |mean: Option<MeanOf>| mean.map_or_else(|| "-".to_owned(), |mean| mean.text());
    vec![
        name.to_owned(),
        side.ears.to_string(),
        side.rows.to_string(),
        side.scored.to_string(),
        side.kept.to_string(),
        side.mothers_kept.to_string(),
        mean(side.germination),
        mean(side.maturity_days),
    ]
}

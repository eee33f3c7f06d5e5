//! The part of `summary` that follows the lines of mothers over the seasons.

use std::io::Write;

use serde::Serialize;
use wintercrib::insight::Lines;

/// Keys carry their units. A line is null in the seasons before it begins.
#[derive(Debug, Serialize)]
pub(super) struct LinesFacts {
    season_years: Vec<i16>,
    sentences: Vec<String>,
    lines: Vec<LineFacts>,
}

/// A line, with its rows and ears by season.
#[derive(Debug, Serialize)]
struct LineFacts {
    begins_with: String,
    rows: Vec<Option<usize>>,
    ears: Vec<Option<usize>>,
    lost_after_year: Option<i16>,
}

impl LinesFacts {
    pub(super) fn new(lines: &Lines) -> Self {
        Self {
            season_years: lines.seasons.iter().map(|(_, year)| *year).collect(),
            sentences: lines.sentences(),
            lines: lines
                .lines
                .iter()
                .map(|line| LineFacts {
                    begins_with: line.founder.clone(),
                    rows: line
                        .in_seasons
                        .iter()
                        .map(|one| one.map(|one| one.rows))
                        .collect(),
                    ears: line
                        .in_seasons
                        .iter()
                        .map(|one| one.map(|one| one.ears))
                        .collect(),
                    lost_after_year: line.lost_after,
                })
                .collect(),
        }
    }

    pub(super) fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        if self.sentences.is_empty() {
            return Ok(());
        }
        writeln!(out, "\nLines of mothers")?;
        for sentence in &self.sentences {
            writeln!(out, "  {sentence}")?;
        }
        Ok(())
    }
}

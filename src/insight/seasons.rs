//! Seasons beside each other, and what the next one begins with.

use super::words::plural;
use crate::model::{ListId, Project, RowSource, SeasonId, next_rows};
use jiff::civil::Date;

/// One season beside the others.
#[derive(Debug, Clone, PartialEq)]
pub struct SeasonLine {
    /// The season.
    pub season: SeasonId,
    /// Its ears.
    pub ears: usize,
    /// Its rows.
    pub rows: usize,
    /// Its scored ears.
    pub scored: usize,
    /// Mean likely cold germination of all scored ears, in percent.
    pub likely_percent: Option<f64>,
    /// Ears that the cutoffs keep.
    pub kept: usize,
    /// Mother rows of these.
    pub mothers_kept: usize,
}

/// What the season after a planting list begins with.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct NextSeason {
    /// What is done, in sentences; empty where there is no such list.
    pub sentence: String,
    /// The day on which the list was planted, if that was noted.
    pub planted: Option<Date>,
}

pub(super) fn next_season(project: &Project, list: ListId) -> NextSeason {
    let Some(list) = project.list(list) else {
        return NextSeason::default();
    };
    let rows = next_rows(project, list);
    let ears = rows
        .iter()
        .filter(|row| matches!(row.source, RowSource::Ear(_)))
        .count();
    let order = if project.plan_of(list.id).is_some() {
        "under the stakes of its field plan"
    } else {
        "in the order of the list"
    };
    let others = match rows.len() - ears {
        0 => String::new(),
        1 => ", one row of bulk or check lot".to_owned(),
        _ => ", rows of bulk and check lot".to_owned(),
    };
    NextSeason {
        sentence: format!(
            "From planting list {} of {} grow {} with known mothers{others}, {order}. Kernel numbers, cutoffs, recipe and check lot are carried on; remnants stay in their packets. Season {} is closed: it can be read, and corrected with a reason.",
            list.version,
            list.year,
            plural(ears, "row"),
            // It may have been corrected since the list was frozen.
            project
                .seasons
                .get(list.season)
                .map_or(list.year, |season| season.year)
        ),
        planted: project.first_planted_from(list),
    }
}

//! Lines of mothers: from which founders the rows of each season descend, and which lines were lost when.

use super::words::plural;
use crate::model::{EarId, Project, RowId, RowSource, SeasonId};
use std::collections::{BTreeMap, BTreeSet};

/// Lines of mothers over the seasons of a project. Only mothers are followed: pollen keeps alive what these lines lose.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Lines {
    /// The seasons that have rows, the earliest first, with their years.
    pub seasons: Vec<(SeasonId, i16)>,
    /// The lines, those with the most rows in the latest season first.
    pub lines: Vec<Line>,
}

/// One line of mothers.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// Where it begins, in words: `row 3 of 2024`.
    pub founder: String,
    /// Its rows and ears in each of the seasons; `None` before it begins.
    pub in_seasons: Vec<Option<InSeason>>,
    /// The year of the last season that had a row of it, if a later season has none.
    pub lost_after: Option<i16>,
}

/// What a line has in a season.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct InSeason {
    /// Rows.
    pub rows: usize,
    /// Ears harvested from them.
    pub ears: usize,
}

/// Where a line begins: a row whose seed came from no known ear, or an ear of which no row is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Founder {
    Row(RowId),
    Ear(EarId),
}

/// Follows the mothers of all rows back to their founders. Rows of check lots are no part of the population.
pub(super) fn compute(project: &Project) -> Lines {
    let mut seasons: Vec<(SeasonId, i16)> = project
        .seasons
        .iter()
        .filter(|season| project.rows_of(season.id).next().is_some())
        .map(|season| (season.id, season.year))
        .collect();
    seasons.sort_by_key(|(_, year)| *year);
    let place: BTreeMap<SeasonId, usize> = seasons
        .iter()
        .enumerate()
        .map(|(at, (season, _))| (*season, at))
        .collect();
    let mut known: BTreeMap<RowId, Founder> = BTreeMap::new();
    let mut lines: BTreeMap<Founder, Vec<InSeason>> = BTreeMap::new();
    for row in project.rows.iter() {
        if matches!(row.source, RowSource::CheckLot(_)) {
            continue;
        }
        let founder = founder_of(project, row.id, &mut known);
        let counts = lines
            .entry(founder)
            .or_insert_with(|| vec![InSeason::default(); seasons.len()]);
        if let Some(&at) = place.get(&row.season) {
            counts[at].rows += 1;
            counts[at].ears += project.ears_of_row(row.id).count();
        }
    }
    let mut lines: Vec<Line> = lines
        .into_iter()
        .map(|(founder, counts)| line(project, founder, &counts, &seasons))
        .collect();
    let latest = |line: &Line| line.in_seasons.last().copied().flatten().unwrap_or_default().rows;
    lines.sort_by(|one, other| {
        let by_loss = one.lost_after.is_some().cmp(&other.lost_after.is_some());
        by_loss
            .then(latest(other).cmp(&latest(one)))
            .then(other.lost_after.cmp(&one.lost_after))
            .then(super::natural(&one.founder, &other.founder))
    });
    Lines { seasons, lines }
}

/// Gives where the line of each row begins. Rows of check lots are no part of the population.
pub(super) fn founders(project: &Project) -> BTreeMap<RowId, Founder> {
    let mut known = BTreeMap::new();
    project
        .rows
        .iter()
        .filter(|row| !matches!(row.source, RowSource::CheckLot(_)))
        .map(|row| (row.id, founder_of(project, row.id, &mut known)))
        .collect()
}

/// The founder of a row. What was followed once is remembered; a circle, which no sound project has, ends at the row at
/// which it is noticed.
fn founder_of(project: &Project, row: RowId, known: &mut BTreeMap<RowId, Founder>) -> Founder {
    let mut way = Vec::new();
    let mut seen = BTreeSet::new();
    let mut at = row;
    let founder = loop {
        if let Some(founder) = known.get(&at) {
            break *founder;
        }
        if !seen.insert(at) {
            break Founder::Row(at);
        }
        way.push(at);
        let mother = match project.rows.get(at).map(|row| &row.source) {
            Some(RowSource::Ear(ear)) => project.ears.get(*ear),
            _ => None,
        };
        match mother {
            None => break Founder::Row(at),
            Some(ear) => match ear.row {
                Some(row) => at = row,
                None => break Founder::Ear(ear.id),
            },
        }
    };
    known.extend(way.into_iter().map(|row| (row, founder)));
    founder
}

/// Names where a line begins: `row 3 of 2024`.
pub(super) fn founder_name(project: &Project, founder: Founder) -> String {
    let year = |season: SeasonId| project.seasons.get(season).map_or(0, |season| season.year);
    match founder {
        Founder::Row(row) => project.rows.get(row).map_or_else(String::new, |row| {
            let kind = match row.source {
                RowSource::Bulk(_) => "bulk row",
                _ => "row",
            };
            format!("{kind} {} of {}", row.label, year(row.season))
        }),
        Founder::Ear(ear) => project.ears.get(ear).map_or_else(String::new, |ear| {
            format!("ear {} of {}", ear.number, year(ear.season))
        }),
    }
}

fn line(project: &Project, founder: Founder, counts: &[InSeason], seasons: &[(SeasonId, i16)]) -> Line {
    let first = counts.iter().position(|one| one.rows > 0);
    let last = counts.iter().rposition(|one| one.rows > 0);
    Line {
        founder: founder_name(project, founder),
        in_seasons: counts
            .iter()
            .enumerate()
            .map(|(at, one)| first.is_some_and(|first| at >= first).then_some(*one))
            .collect(),
        lost_after: last
            .filter(|last| last + 1 < seasons.len())
            .map(|last| seasons[last].1),
    }
}

impl Lines {
    /// How many lines have rows in a season, by its place among the seasons.
    pub fn there(&self, season: usize) -> usize {
        self.lines
            .iter()
            .filter(|line| line.in_seasons[season].is_some_and(|one| one.rows > 0))
            .count()
    }

    /// Says what is left and what was lost, a sentence each; nothing for fewer than two seasons with rows.
    pub fn sentences(&self) -> Vec<String> {
        let (Some((_, first)), Some((_, last))) = (self.seasons.first(), self.seasons.last()) else {
            return Vec::new();
        };
        if self.seasons.len() < 2 {
            return Vec::new();
        }
        let end = self.seasons.len() - 1;
        let mut said = vec![format!(
            "{first}: {} of mothers. {last}: {}.",
            plural(self.there(0), "line"),
            self.there(end)
        )];
        let mut lost: BTreeMap<i16, usize> = BTreeMap::new();
        for year in self.lines.iter().filter_map(|line| line.lost_after) {
            *lost.entry(year).or_default() += 1;
        }
        if lost.is_empty() {
            said.push("No line was lost.".to_owned());
        } else {
            let parts: Vec<String> = lost
                .iter()
                .map(|(year, lines)| format!("{lines} after {year}"))
                .collect();
            said.push(format!(
                "Lost: {}. Only mothers are followed; pollen may keep alive what a line had.",
                parts.join(", ")
            ));
        }
        let rows: usize = self
            .lines
            .iter()
            .filter_map(|line| line.in_seasons[end])
            .map(|one| one.rows)
            .sum();
        if let Some(line) = self.lines.first()
            && let Some(one) = line.in_seasons[end]
            && one.rows > 1
        {
            said.push(format!(
                "The largest in {last} begins with {}: {} of {}.",
                line.founder,
                one.rows,
                plural(rows, "row")
            ));
        }
        said
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{About, Command, Document, EarDraft, Existing, Stamp};
    use jiff::civil::date;

    /// Rows 1, 2, 3 in 2023. In 2024 two rows from ears of row 1 and one of row 2; in 2025 one row from each of the two
    /// of row 1, and one from an ear of which no row is known.
    fn three_seasons() -> Document {
        let mut document = Document::new(Project::new(About::new("Small Patch", "patch")));
        let stamp = Stamp {
            at: date(2025, 12, 1).at(8, 0, 0, 0),
            by: String::new(),
        };
        let mut run = |command: Command| {
            document.run(&command, &stamp).unwrap();
        };
        for year in [2023, 2024, 2025] {
            run(Command::AddSeason { year, planted: None });
        }
        let ears = |rows: &[&str]| {
            rows.iter()
                .map(|row| EarDraft {
                    row: (!row.is_empty()).then(|| (*row).to_owned()),
                    ..EarDraft::default()
                })
                .collect()
        };
        let add = |season: u32, drafts| Command::AddEars {
            season: SeasonId(season),
            drafts,
            existing: Existing::Refuse,
        };
        let row = |season: u32, label: &str, ear: u32| Command::AddRow {
            season: SeasonId(season),
            label: label.to_owned(),
            source: RowSource::Ear(EarId(ear)),
        };
        // Ears 1 to 5.
        run(add(1, ears(&["1", "1", "2", "3", ""])));
        run(row(2, "a", 1));
        run(row(2, "b", 2));
        run(row(2, "c", 3));
        // Ears 6 to 9.
        run(add(2, ears(&["a", "b", "b", "c"])));
        run(row(3, "x", 6));
        run(row(3, "y", 7));
        run(row(3, "z", 5));
        run(Command::AddRow {
            season: SeasonId(3),
            label: "check".to_owned(),
            source: RowSource::CheckLot("lot".to_owned()),
        });
        document
    }

    #[test]
    fn lines_are_followed_to_their_founders_and_lost_ones_have_their_year() {
        let lines = compute(three_seasons().project());
        assert_eq!(
            lines.seasons.iter().map(|(_, year)| *year).collect::<Vec<_>>(),
            [2023, 2024, 2025]
        );
        let told: Vec<String> = lines
            .lines
            .iter()
            .map(|line| {
                let rows: Vec<String> = line
                    .in_seasons
                    .iter()
                    .map(|one| one.map_or_else(|| "-".to_owned(), |one| one.rows.to_string()))
                    .collect();
                let lost = line.lost_after.map(|year| format!(", lost after {year}"));
                format!("{}: {}{}", line.founder, rows.join(" "), lost.unwrap_or_default())
            })
            .collect();
        assert_eq!(
            told,
            [
                "row 1 of 2023: 1 2 2",
                "ear 5 of 2023: - - 1",
                "row 2 of 2023: 1 1 0, lost after 2024",
                "row 3 of 2023: 1 0 0, lost after 2023",
            ]
        );
        assert_eq!(lines.lines[0].in_seasons[1], Some(InSeason { rows: 2, ears: 3 }));
        assert_eq!(
            lines.sentences(),
            [
                "2023: 3 lines of mothers. 2025: 2.",
                "Lost: 1 after 2023, 1 after 2024. Only mothers are followed; pollen may keep alive what a line had.",
                "The largest in 2025 begins with row 1 of 2023: 2 of 3 rows."
            ]
        );
    }

    #[test]
    fn one_season_has_nothing_to_tell() {
        let project = Project::new(About::new("Small Patch", "patch"));
        assert_eq!(compute(&project), Lines::default());
        assert_eq!(Lines::default().sentences(), [] as [&str; 0]);
    }
}

//! The season after a frozen list, and seasons that are closed.

use super::change::{Change, Stamp, Swap, Transaction};
use super::command::find;
use super::ear::Ear;
use super::field_row::FieldContent;
use super::ids::{EarId, ListId, RowId, SeasonId, SelectionId};
use super::planting::in_force;
use super::planting_list::PlantingList;
use super::problem::{Fault, Place, Problem};
use super::project::Project;
use super::season::{Opening, Row, RowSource, Season};
use super::selection::Selection;
use super::words::plural;
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// A row as the next season gets it.
#[derive(Debug, Clone, PartialEq)]
pub struct NextRow {
    /// What stands on its stakes: their numbers, those of one family joined by a slash.
    pub label: String,
    /// Where its seed came from.
    pub source: RowSource,
}

/// Gives the rows that the season after a list has: by its field plan the families that are planted, one row each however
/// often it is repeated, with one row for all rows of bulk and one for the check lot; without a plan the ears of the list
/// in their order.
pub fn next_rows(project: &Project, list: &PlantingList) -> Vec<NextRow> {
    let Some(plan) = project.plan_of(list.id) else {
        return (1..)
            .zip(&list.entries)
            .map(|(row, entry): (u32, _)| NextRow {
                label: row.to_string(),
                source: RowSource::Ear(entry.ear),
            })
            .collect();
    };
    let mut order: Vec<EarId> = Vec::new();
    let mut stakes: BTreeMap<EarId, Vec<String>> = BTreeMap::new();
    let (mut check, mut bulk) = (false, false);
    for row in project.field_rows_of(plan.id) {
        match row.content {
            FieldContent::Ear(ear) => {
                let of_ear = stakes.entry(ear).or_default();
                if of_ear.is_empty() {
                    order.push(ear);
                }
                of_ear.push(row.stake.to_string());
            }
            FieldContent::Check => check = true,
            FieldContent::Bulk => bulk = true,
        }
    }
    let of_ear = |ear: EarId| NextRow {
        label: stakes[&ear].join("/"),
        source: RowSource::Ear(ear),
    };
    let mut rows: Vec<NextRow> = order.into_iter().map(of_ear).collect();
    let lot = project
        .tests_of(list.season)
        .map(|test| test.check_lot.clone())
        .rfind(|lot| !lot.is_empty());
    let others = [
        (
            bulk,
            "bulk",
            RowSource::Bulk(format!("planting list {}, version {}", list.year, list.version)),
        ),
        (
            check,
            "check",
            RowSource::CheckLot(lot.unwrap_or_else(|| "check lot".to_owned())),
        ),
    ];
    for (is_there, label, source) in others {
        if is_there {
            rows.push(NextRow {
                label: label.to_owned(),
                source,
            });
        }
    }
    rows
}

/// Begins the season after a list: its rows with their mothers, its kernel numbers and cutoffs as in the season before,
/// which is closed. Remnants stay in their packets, where every season finds them.
pub(super) fn begin(
    project: &Project,
    list: ListId,
    year: i16,
    planted: Option<Date>,
    stamp: &Stamp,
) -> Result<Transaction, Problem> {
    let list = in_force(project, list, "begin the season from that one")?;
    let before = find(&project.seasons, list.season)?;
    let refuse = |text: String| Err(Problem::new(Place::List(list.id), Fault::Mismatch(text)));
    if year <= before.year {
        return refuse(format!(
            "season {year} cannot grow from ears of season {}; give a later year",
            before.year
        ));
    }
    if let Some(there) = project.season_of_year(year) {
        return refuse(format!(
            "season {} is there already; give another year, or go on in that season",
            there.year
        ));
    }
    let season = SeasonId(project.seasons.next_number());
    let mut changes = vec![Change::add(Season {
        planted: planted.or_else(|| project.first_planted_from(list)),
        remnant: before.remnant,
        plant_each: before.plant_each,
        sowing: before.sowing,
        heritability: before.heritability,
        ..Season::new(season, year)
    })];
    let rows = next_rows(project, list);
    let next = project.rows.next_number();
    changes.extend((0..).zip(&rows).map(|(at, row)| {
        Change::add(Row {
            id: RowId(next + at),
            season,
            label: row.label.clone(),
            source: row.source.clone(),
            planted: None,
            note: String::new(),
        })
    }));
    if let Some(selection) = project.selection_of(before.id) {
        changes.push(Change::add(Selection {
            id: SelectionId(project.selections.next_number()),
            season,
            words: BTreeMap::new(),
            moves: Vec::new(),
            ..selection.clone()
        }));
    }
    if before.closed.is_none() {
        let after = Season {
            closed: Some(stamp.at.date()),
            ..before.clone()
        };
        changes.push(Change::replace(before, after));
    }
    let label = format!(
        "Begin season {year} with {} from list {}",
        plural(rows.len(), "row"),
        list.version
    );
    Ok(Transaction::new(label, changes))
}

/// Closes a season: what was harvested, counted and chosen in it stays as it is.
pub(super) fn close(project: &Project, season: SeasonId, stamp: &Stamp) -> Result<Transaction, Problem> {
    let before = find(&project.seasons, season)?;
    if before.closed.is_some() {
        let text = format!(
            "season {} is closed already; open it if something is wrong",
            before.year
        );
        return Err(Problem::new(Place::Season(season), Fault::Mismatch(text)));
    }
    let after = Season {
        closed: Some(stamp.at.date()),
        ..before.clone()
    };
    let label = format!("Close season {}", before.year);
    Ok(Transaction::new(label, vec![Change::replace(before, after)]))
}

/// Opens a closed season, so that something in it can be corrected.
pub(super) fn open(
    project: &Project,
    season: SeasonId,
    reason: &str,
    stamp: &Stamp,
) -> Result<Transaction, Problem> {
    let before = find(&project.seasons, season)?;
    let refuse = |fault: Fault| Err(Problem::new(Place::Season(season), fault));
    if before.closed.is_none() {
        let text = format!(
            "season {} is open already, so it can be changed; nothing was done",
            before.year
        );
        return refuse(Fault::Mismatch(text));
    }
    if reason.trim().is_empty() {
        return refuse(Fault::NoReason("open a closed season"));
    }
    let mut after = Season {
        closed: None,
        ..before.clone()
    };
    after.openings.push(Opening {
        at: stamp.at,
        by: stamp.by.clone(),
        reason: reason.trim().to_owned(),
    });
    let label = format!("Open season {}: {}", before.year, reason.trim());
    Ok(Transaction::new(label, vec![Change::replace(before, after)]))
}

/// Refuses a change of what was harvested, counted or chosen in a season that is closed. Packets, planting, the field
/// and new tests of its remnants are not of the season any more and stay free.
pub(super) fn check_closed(project: &Project, transaction: &Transaction) -> Result<(), Problem> {
    if project.seasons.iter().all(|season| season.closed.is_none()) {
        return Ok(());
    }
    let mut touched: BTreeSet<SeasonId> = BTreeSet::new();
    for change in &transaction.changes {
        match change {
            Change::Row(swap) if brings_an_ear(transaction, swap) => {}
            Change::Row(swap) => touched.extend(both(swap).map(|row| row.season)),
            Change::Ear(swap) if is_brought(swap) => {}
            Change::Ear(swap) => touched.extend(both(swap).map(|ear| ear.season)),
            Change::Selection(swap) => touched.extend(both(swap).map(|one| one.season)),
            Change::List(swap) => touched.extend(both(swap).map(|list| list.season)),
            Change::Count(swap) => touched.extend(both(swap).filter_map(|count| {
                let cell = project.cells.get(count.cell)?;
                let test = project.test_of_tray(cell.tray)?;
                let closed = project.seasons.get(test.season)?.closed?;
                let laid = project.laid_on(cell);
                // A test that was laid after the closing looks at remnants and may be counted.
                laid.is_none_or(|laid| laid <= closed).then_some(test.season)
            })),
            _ => {}
        }
    }
    let closed = touched.iter().find_map(|season| {
        let season = project.seasons.get(*season)?;
        season.closed.map(|closed| (season, closed))
    });
    let Some((season, closed)) = closed else {
        return Ok(());
    };
    let text = format!(
        "season {} was closed on {closed}; to correct something in it, open it with a reason in the pane Seasons",
        season.year
    );
    Err(Problem::new(Place::Season(season.id), Fault::Mismatch(text)))
}

/// Says whether an ear is added that was grown in another project: that says nothing of what was harvested here.
fn is_brought(swap: &Swap<Ear>) -> bool {
    let (before, after) = swap.sides();
    before.is_none() && after.is_some_and(|ear| ear.brought.is_some())
}

/// Says whether a row is added for such an ear.
fn brings_an_ear(transaction: &Transaction, swap: &Swap<Row>) -> bool {
    let (None, Some(row)) = swap.sides() else {
        return false;
    };
    transaction.changes.iter().any(|change| match change {
        Change::Ear(ear) => is_brought(ear) && ear.after.as_ref().and_then(|ear| ear.row) == Some(row.id),
        _ => false,
    })
}

fn both<R>(swap: &Swap<R>) -> impl Iterator<Item = &R> {
    swap.before.iter().chain(&swap.after)
}

//! Planning a field, changing it by hand, noting what is seen in it.

use super::change::{Change, Transaction};
use super::command::find;
use super::field_plan::{FieldPlan, FieldShape, FieldWay};
use super::field_row::{FieldContent, FieldRow, RowField, RowSeen};
use super::ids::{FieldRowId, ListId, PlanId};
use super::planting_list::{ListEntry, PlantingList};
use super::problem::{Fault, Place, Problem};
use super::project::Project;
use super::table::Record;
use super::words::plural;
use crate::layout::{self, Field, FieldRequest, RowContent};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// Something that is noted of a row of a field, as it was typed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldNote {
    /// The row.
    pub row: FieldRowId,
    /// What is noted.
    pub field: RowField,
    /// What was typed; empty to take it back.
    pub text: String,
}

impl Project {
    /// Gives the day on which the first kernels of a list were planted.
    pub fn first_planted_from(&self, list: &PlantingList) -> Option<Date> {
        let days = list
            .entries
            .iter()
            .filter_map(|entry| self.planted_on(list, entry));
        days.min()
    }

    /// Gives for each entry of a list its group of sisters: the mother row, or the ear itself where that is not known.
    pub fn sister_groups(&self, list: &PlantingList) -> Vec<u32> {
        let mut rows = BTreeMap::new();
        let group = |(index, entry): (usize, &ListEntry)| {
            let row = self.ears.get(entry.ear).and_then(|ear| ear.row);
            let own = index as u32;
            row.map_or(own, |row| *rows.entry(row).or_insert(own))
        };
        list.entries.iter().enumerate().map(group).collect()
    }
}

/// Plans the field of a list. A plan that is there already is planned anew; nothing that was noted is lost that way,
/// as it is refused then.
pub(super) fn plan(
    project: &Project,
    list: ListId,
    shape: &FieldShape,
    seed: u64,
) -> Result<Transaction, Problem> {
    let list = find(&project.lists, list)?;
    let refuse = |text: String| Problem::new(Place::List(list.id), Fault::Mismatch(text));
    shape
        .check()
        .map_err(|fault| Problem::new(Place::List(list.id), fault))?;
    if shape.way == FieldWay::Bulk && list.kernels() == 0 {
        return Err(refuse(
            "the list plants no kernels, so there is no bulk to lay; freeze a revision with kernels first"
                .to_owned(),
        ));
    }
    let before = project.plan_of(list.id);
    let id = before.map_or_else(|| PlanId(project.plans.next_number()), |plan| plan.id);
    let field = lay(project, list, shape, seed).map_err(|fault| refuse(fault.to_string()))?;
    let next = project.field_rows.next_number();
    let rows = rows_of(list, shape, &field, id, next);
    let mut changes = Vec::with_capacity(rows.len() + 1);
    match before {
        Some(before) => {
            if let Some(row) = noted(project, before.id) {
                return Err(refuse(format!(
                    "the field has notes, the first at stake {}; a new plan would lose them, so change this one by hand or take the notes back first",
                    row.stake
                )));
            }
            changes.extend(project.field_rows_of(before.id).map(Change::remove));
            let after = FieldPlan {
                seed,
                shape: shape.clone(),
                ..before.clone()
            };
            changes.push(Change::replace(before, after));
        }
        None => changes.push(Change::add(FieldPlan {
            id,
            list: list.id,
            seed,
            shape: shape.clone(),
            neighbours: Vec::new(),
            rounds: Vec::new(),
            note: String::new(),
        })),
    }
    let label = format!(
        "Plan the field of list {}: {}",
        list.version,
        plural(rows.len(), "row")
    );
    changes.extend(rows.into_iter().map(Change::add));
    Ok(Transaction::new(label, changes))
}

fn lay(
    project: &Project,
    list: &PlantingList,
    shape: &FieldShape,
    seed: u64,
) -> Result<Field, layout::LayoutFault> {
    let walk = shape.walk.rule();
    match shape.way {
        FieldWay::Families => layout::lay_field(&FieldRequest {
            groups: &project.sister_groups(list),
            replicates: shape.replicates,
            rows_per_block: shape.rows_per_block,
            check_every: shape.check_every,
            bulk_every: shape.bulk_every,
            detassel: shape.detassel.rule(),
            walk,
            seed,
        }),
        FieldWay::Bulk => {
            let rows = list.kernels().div_ceil(u64::from(shape.kernels_per_row()));
            layout::lay_bulk(
                u32::try_from(rows).unwrap_or(u32::MAX),
                shape.rows_per_block,
                walk,
            )
        }
    }
}

/// The rows as records: kernels of an ear shared out over its replicates, the first ones taking what is left over.
fn rows_of(list: &PlantingList, shape: &FieldShape, field: &Field, plan: PlanId, next: u32) -> Vec<FieldRow> {
    let full = shape.kernels_per_row();
    let mut bulk = list.kernels();
    let row = |(number, row): (u32, &layout::FieldRow)| {
        let entry = match row.content {
            RowContent::Family(family) => list.entries.get(family),
            RowContent::Check | RowContent::Bulk => None,
        };
        let replicates = u32::from(shape.replicates);
        let (content, kernels) = match (entry, row.content) {
            (Some(entry), _) => {
                let more = u32::from(u32::from(row.replicate) < entry.plant % replicates);
                (FieldContent::Ear(entry.ear), entry.plant / replicates + more)
            }
            (None, RowContent::Check) => (FieldContent::Check, full),
            (None, _) if shape.way == FieldWay::Bulk => {
                // The last row takes what is left of the mixed kernels.
                let kernels = u64::from(full).min(bulk) as u32;
                bulk -= u64::from(kernels);
                (FieldContent::Bulk, kernels)
            }
            (None, _) => (FieldContent::Bulk, full),
        };
        FieldRow {
            id: FieldRowId(next + number),
            plan,
            stake: number + 1,
            replicate: row.replicate + 1,
            block: row.block + 1,
            across: row.across + 1,
            content,
            kernels,
            detasselled: row.detasselled,
            seen: RowSeen::default(),
        }
    };
    (0..).zip(&field.rows).map(row).collect()
}

/// The first row of a plan in which something was noted.
fn noted(project: &Project, plan: PlanId) -> Option<&FieldRow> {
    project.field_rows_of(plan).find(|row| !row.seen.is_empty())
}

pub(super) fn edit(project: &Project, plan: &FieldPlan) -> Result<Transaction, Problem> {
    let before = find(&project.plans, plan.id)?;
    let after = FieldPlan {
        list: before.list,
        seed: before.seed,
        shape: before.shape.clone(),
        ..plan.clone()
    };
    let change = Change::replace(before, after);
    Ok(Transaction::new("Note what is around the field", vec![change]).merging(format!("plan {}", plan.id)))
}

pub(super) fn remove(project: &Project, plan: PlanId) -> Result<Transaction, Problem> {
    let plan = find(&project.plans, plan)?;
    if let Some(row) = noted(project, plan.id) {
        let text = format!(
            "the field has notes, the first at stake {}; take them back first if the plan is to go",
            row.stake
        );
        return Err(Problem::new(Place::Plan(plan.id), Fault::Mismatch(text)));
    }
    let mut changes: Vec<Change> = project.field_rows_of(plan.id).map(Change::remove).collect();
    changes.push(Change::remove(plan));
    Ok(Transaction::new("Remove the field plan", changes))
}

pub(super) fn swap(project: &Project, one: FieldRowId, other: FieldRowId) -> Result<Transaction, Problem> {
    let (one, other) = (find(&project.field_rows, one)?, find(&project.field_rows, other)?);
    if one.id == other.id || one.plan != other.plan {
        let text = "two different rows of one field can be swapped; choose another stake";
        return Err(Problem::new(
            FieldRow::place(one.id),
            Fault::Mismatch(text.to_owned()),
        ));
    }
    let rule = find(&project.plans, one.plan)?.shape.detassel.rule();
    let holding = |row: &FieldRow, from: &FieldRow| FieldRow {
        content: from.content,
        kernels: from.kernels,
        detasselled: layout::is_detasselled(rule, from.content.kind(), row.across - 1),
        ..row.clone()
    };
    let changes = vec![
        Change::replace(one, holding(one, other)),
        Change::replace(other, holding(other, one)),
    ];
    let label = format!("Swap what stakes {} and {} have", one.stake, other.stake);
    Ok(Transaction::new(label, changes))
}

pub(super) fn set(
    project: &Project,
    row: FieldRowId,
    content: FieldContent,
    kernels: u32,
    detasselled: bool,
) -> Result<Transaction, Problem> {
    let before = find(&project.field_rows, row)?;
    let after = FieldRow {
        content,
        kernels,
        detasselled,
        ..before.clone()
    };
    let label = format!("Change what stake {} has", before.stake);
    Ok(Transaction::new(label, vec![Change::replace(before, after)]))
}

pub(super) fn note(project: &Project, notes: &[FieldNote], on: Date) -> Result<Transaction, Problem> {
    let unit = project.about.units.length;
    let mut after: BTreeMap<FieldRowId, FieldRow> = BTreeMap::new();
    for note in notes {
        let row = match after.entry(note.row) {
            std::collections::btree_map::Entry::Occupied(row) => row.into_mut(),
            std::collections::btree_map::Entry::Vacant(row) => {
                row.insert(find(&project.field_rows, note.row)?.clone())
            }
        };
        note.field
            .put(&mut row.seen, &note.text, unit, on)
            .map_err(|fault| Problem::new(Place::FieldRow(note.row), fault))?;
    }
    let label = match notes {
        [note] => match after.get(&note.row) {
            Some(row) if note.text.trim().is_empty() => {
                format!("Take back {} at stake {}", note.field.title(), row.stake)
            }
            Some(row) => format!("Note {} at stake {}", note.field.title(), row.stake),
            None => "Note nothing".to_owned(),
        },
        _ => format!("Note {} of the field", plural(notes.len(), "value")),
    };
    let mut changes = Vec::with_capacity(after.len());
    for row in after.into_values() {
        changes.push(Change::replace(find(&project.field_rows, row.id)?, row));
    }
    Ok(Transaction::new(label, changes))
}

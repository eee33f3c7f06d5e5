//! A field plan as it is looked at: its rows, its size, and what does not fit.

use super::words::{long_length, plural, some_of};
use crate::layout::sisters_side_by_side;
use crate::model::{
    Detassel, EarId, FieldContent, FieldPlan, FieldRow, FieldRowId, FieldWay, PlanId, PlantingList, Project,
    RowSeen,
};
use std::collections::BTreeMap;

/// A field plan in walking order, with its size and what is to be known of it.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldView {
    /// The plan.
    pub plan: PlanId,
    /// Its rows in walking order.
    pub rows: Vec<FieldLine>,
    /// Rows of the longest block, without its border rows.
    pub rows_across: u16,
    /// Blocks, one behind the other.
    pub blocks: u16,
    /// Width of the field across its rows, border rows included, in millimetres.
    pub width_mm: f64,
    /// Length of the field along its rows, paths included, in millimetres.
    pub length_mm: f64,
    /// Kernels that a row has room for.
    pub kernels_per_row: u32,
    /// What does not fit together, or should be known.
    pub findings: Vec<FieldFinding>,
}

/// A row of a field.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldLine {
    /// The row.
    pub row: FieldRowId,
    /// The number on its stake.
    pub stake: u32,
    /// Its replicate, from 1.
    pub replicate: u16,
    /// Its block, from 1.
    pub block: u16,
    /// Its place in the block from the left, from 1.
    pub across: u16,
    /// What is planted in it.
    pub content: FieldContent,
    /// That in words: `ear 57`, `check lot`, `bulk`.
    pub name: String,
    /// The ear's code; empty for other rows.
    pub code: String,
    /// The ear's mother row; empty when it is not known and for other rows.
    pub mother: String,
    /// Kernels planted in it.
    pub kernels: u32,
    /// Whether its tassels are pulled.
    pub detasselled: bool,
    /// What was seen in it.
    pub seen: RowSeen,
}

impl FieldLine {
    /// Plants for each 100 kernels, if they were counted.
    pub fn stand_percent(&self) -> Option<f64> {
        let stand = self.seen.stand?;
        (self.kernels > 0).then(|| 100.0 * f64::from(stand) / f64::from(self.kernels))
    }
}

/// Something that should be known of a field.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldFinding {
    /// What, in a sentence or two.
    pub sentence: String,
    /// The rows that it is about; empty for the whole field.
    pub rows: Vec<FieldRowId>,
    /// Whether it is only to be known, and nothing is wrong.
    pub is_note: bool,
}

/// Looks at a plan.
pub(super) fn view(project: &Project, plan: &FieldPlan, list: &PlantingList) -> FieldView {
    let rows: Vec<FieldLine> = project
        .field_rows_of(plan.id)
        .map(|row| line_of(project, row))
        .collect();
    let rows_across = rows.iter().map(|row| row.across).max().unwrap_or(0);
    let blocks = rows.iter().map(|row| row.block).max().unwrap_or(0);
    let (width_mm, length_mm) = plan.shape.size_mm(rows_across, blocks);
    FieldView {
        plan: plan.id,
        rows_across,
        blocks,
        width_mm,
        length_mm,
        kernels_per_row: plan.shape.kernels_per_row(),
        findings: findings(project, plan, list, &rows),
        rows,
    }
}

fn line_of(project: &Project, row: &FieldRow) -> FieldLine {
    let ear = row.content.ear().and_then(|ear| project.ears.get(ear));
    FieldLine {
        row: row.id,
        stake: row.stake,
        replicate: row.replicate,
        block: row.block,
        across: row.across,
        content: row.content,
        name: match (row.content, ear) {
            (FieldContent::Check, _) => "check lot".to_owned(),
            (FieldContent::Bulk, _) => "bulk".to_owned(),
            (FieldContent::Ear(_), Some(ear)) => format!("ear {}", ear.number),
            (FieldContent::Ear(id), None) => format!("ear with the id {id}"),
        },
        code: ear.map(|ear| ear.code.to_string()).unwrap_or_default(),
        mother: ear.map_or_else(String::new, |ear| project.mother_label(ear).to_owned()),
        kernels: row.kernels,
        detasselled: row.detasselled,
        seen: row.seen.clone(),
    }
}

fn findings(
    project: &Project,
    plan: &FieldPlan,
    list: &PlantingList,
    rows: &[FieldLine],
) -> Vec<FieldFinding> {
    let mut found = Vec::new();
    let mut say = |sentence: String, rows: Vec<FieldRowId>, is_note: bool| {
        found.push(FieldFinding {
            sentence,
            rows,
            is_note,
        });
    };
    if let Some(later) = project
        .list_in_force(list.season)
        .filter(|later| later.id != list.id)
    {
        let text = format!(
            "This field is planned for planting list {}, which list {} has replaced. Plan the field of that one.",
            list.version, later.version
        );
        say(text, Vec::new(), false);
    }
    if plan.shape.way == FieldWay::Bulk {
        let kernels: Vec<u32> = list.entries.iter().map(|entry| entry.plant).collect();
        if let (Some(least), Some(most)) = (kernels.iter().min(), kernels.iter().max())
            && least != most
        {
            let text = format!(
                "The bulk is not balanced: the list takes {least} kernels of some ears and {most} of others. Set equal kernels in Selection and freeze a revision, if every mother is to have the same part."
            );
            say(text, Vec::new(), false);
        }
        return found;
    }
    sisters(project, rows, &mut say);
    families(plan, list, rows, &mut say);
    let room = plan.shape.kernels_per_row();
    let tight: Vec<&FieldLine> = rows.iter().filter(|row| row.kernels > room).collect();
    if !tight.is_empty() {
        let names: Vec<String> = tight
            .iter()
            .map(|row| format!("{} ({})", row.stake, row.kernels))
            .collect();
        let text = format!(
            "A row has room for {room} kernels, {} at each of {}; more are to be planted at stake {}. Make the rows longer, the plants closer, or lay more kernels at a place.",
            plan.shape.kernels_per_place,
            plural(plan.shape.places() as usize, "place"),
            some_of(&names)
        );
        say(text, tight.iter().map(|row| row.row).collect(), false);
    }
    let checks: Vec<FieldRowId> = rows
        .iter()
        .filter(|row| row.content == FieldContent::Check && !row.detasselled)
        .map(|row| row.row)
        .collect();
    if !checks.is_empty() {
        let text = format!(
            "{} shed pollen over the ears. Pull their tassels if the check lot is not to be in the next season.",
            match checks.len() {
                1 => "The check row will".to_owned(),
                count => format!("{count} check rows will"),
            }
        );
        say(text, checks, true);
    }
    if plan.shape.detassel == Detassel::AllButBulk
        && !rows.iter().any(|row| row.content == FieldContent::Bulk)
    {
        let text = "All tassels are pulled and there is no row of bulk, so no pollen is left in the field. Add rows of bulk.";
        say(text.to_owned(), Vec::new(), false);
    }
    let crowded: Vec<&FieldLine> = rows
        .iter()
        .filter(|row| row.seen.stand.is_some_and(|stand| stand > row.kernels))
        .collect();
    if !crowded.is_empty() {
        let stakes: Vec<u32> = crowded.iter().map(|row| row.stake).collect();
        let text = format!(
            "More plants than kernels were counted at stake {}. Count again, or correct the kernels.",
            some_of(&stakes)
        );
        say(text, crowded.iter().map(|row| row.row).collect(), false);
    }
    found
}

fn sisters(project: &Project, rows: &[FieldLine], say: &mut impl FnMut(String, Vec<FieldRowId>, bool)) {
    let places: Vec<(u16, u16, Option<u32>)> = rows
        .iter()
        .map(|row| {
            let ear = row.content.ear().and_then(|ear| project.ears.get(ear));
            (row.block, row.across, ear.and_then(|ear| ear.row).map(u32::from))
        })
        .collect();
    let pairs = sisters_side_by_side(&places);
    if pairs.is_empty() {
        return;
    }
    let names: Vec<String> = pairs
        .iter()
        .map(|(one, other)| format!("{} and {}", rows[*one].stake, rows[*other].stake))
        .collect();
    let listed = if names.len() > 5 {
        format!("{}; and {} more", names[..4].join("; "), names.len() - 4)
    } else {
        names.join("; ")
    };
    let text = format!(
        "{} of sisters stand side by side, at stakes {listed}. More mothers, shorter blocks, check rows or rows of bulk between them keep sisters apart.",
        plural(pairs.len(), "pair")
    );
    let of = |(one, other): (usize, usize)| [rows[one].row, rows[other].row];
    say(text, pairs.into_iter().flat_map(of).collect(), false);
}

/// Ears that are planted more or less often than they should be, and other kernels than the list says.
fn families(
    plan: &FieldPlan,
    list: &PlantingList,
    rows: &[FieldLine],
    say: &mut impl FnMut(String, Vec<FieldRowId>, bool),
) {
    let mut planted: BTreeMap<EarId, (u16, u64)> = BTreeMap::new();
    for row in rows {
        if let Some(ear) = row.content.ear() {
            let (times, kernels) = planted.entry(ear).or_default();
            *times += 1;
            *kernels += u64::from(row.kernels);
        }
    }
    let (mut less, mut more, mut other) = (Vec::new(), Vec::new(), Vec::new());
    for entry in &list.entries {
        let (times, kernels) = planted.remove(&entry.ear).unwrap_or_default();
        if times < plan.shape.replicates {
            less.push(format!("{} ({times})", entry.number));
        } else if times > plan.shape.replicates {
            more.push(format!("{} ({times})", entry.number));
        } else if kernels != u64::from(entry.plant) {
            other.push(format!("{} ({kernels} for {})", entry.number, entry.plant));
        }
    }
    let rows_each = plural(usize::from(plan.shape.replicates), "row");
    for (ears, than) in [(less, "fewer"), (more, "more")] {
        if !ears.is_empty() {
            let text = format!(
                "Each ear should have {rows_each}. With {than}: ear {}.",
                some_of(&ears)
            );
            say(text, Vec::new(), false);
        }
    }
    if !other.is_empty() {
        let text = format!("Other kernels than the list says: ear {}.", some_of(&other));
        say(text, Vec::new(), false);
    }
    let reserves = list
        .reserves
        .iter()
        .filter(|entry| planted.contains_key(&entry.ear));
    let reserves: Vec<u32> = reserves.map(|entry| entry.number).collect();
    if !reserves.is_empty() {
        let text = format!("From the reserve: ear {}.", some_of(&reserves));
        say(text, Vec::new(), true);
    }
}

/// Says in a sentence how large a field is and what it holds.
pub fn field_sentence(project: &Project, view: &FieldView) -> String {
    let unit = project.about.units.length;
    let count = |is: fn(&FieldContent) -> bool| view.rows.iter().filter(|row| is(&row.content)).count();
    let ears = count(|content| content.ear().is_some());
    let checks = count(|content| *content == FieldContent::Check);
    let bulk = count(|content| *content == FieldContent::Bulk);
    let mut holds: Vec<String> = Vec::new();
    for (rows, of) in [(ears, "ears"), (checks, "the check lot"), (bulk, "bulk")] {
        if rows > 0 {
            holds.push(format!("{} of {of}", plural(rows, "row")));
        }
    }
    format!(
        "{} in {}, {} wide and {} long: {}.",
        holds.join(", "),
        plural(usize::from(view.blocks), "block"),
        long_length(view.width_mm, unit),
        long_length(view.length_mm, unit),
        area_text(view.width_mm * view.length_mm, unit)
    )
}

fn area_text(square_mm: f64, unit: crate::model::LengthUnit) -> String {
    match unit {
        crate::model::LengthUnit::Centimetres => {
            format!("{:.0} square metres", square_mm / 1e6)
        }
        crate::model::LengthUnit::Inches => {
            let square_feet = square_mm / (12.0 * unit.millimetres()).powi(2);
            // An acre has 43,560 square feet.
            format!(
                "{square_feet:.0} square feet, {:.2} acres",
                square_feet / 43_560.0
            )
        }
    }
}

//! The frozen planting list on paper.

use super::print::{
    Cell, Column, Flow, Fonts, Laid, Paper, PrintFault, PrintSettings, Table, Weight, Width, unwatched,
};
use crate::model::{ListEntry, PlantingList};

/// Prints a frozen planting list as PDF: what is fixed, one line an ear with a box to tick, the totals, and how to
/// verify the digest. The short digest stands on every page. The same list gives the same bytes.
///
/// # Errors
/// The PDF writer refuses, or a font of the program is damaged.
pub fn planting_list_pdf(list: &PlantingList, paper: Paper) -> Result<Vec<u8>, PrintFault> {
    let fonts = Fonts::new()?;
    planting_list_pages(&fonts, list, paper).pdf(&fonts, &unwatched)
}

/// Lays a frozen planting list out.
pub fn planting_list_pages(fonts: &Fonts, list: &PlantingList, paper: Paper) -> Laid {
    let year_and_version = format!("{}, version {}", list.year, list.version);
    let settings = PrintSettings {
        author: list.frozen_by.clone(),
        date: Some(list.frozen_on),
        // What names the list comes first: a long project name is cut off at its end.
        head: format!(
            "Planting list {year_and_version} \u{b7} digest {} \u{b7} {}",
            list.short_digest(),
            list.project
        ),
        ..PrintSettings::new(
            paper,
            format!("{}: planting list {year_and_version}", list.project),
        )
    };
    let mut flow = Flow::new(fonts, &settings);
    opening(&mut flow, list);
    flow.table(&Table {
        columns: columns(list),
        rows: list.entries.iter().map(|entry| row(list, entry)).collect(),
        ..Table::default()
    });
    if !list.reserves.is_empty() {
        flow.space(10.0);
        flow.text("Held in reserve, for a row that fails", 14.0, Weight::Bold);
        let what = "Not planted with the list. The likeliest to germinate comes first; kernels to plant are what the packet \
            can give.";
        flow.text(what, 9.0, Weight::Regular);
        flow.table(&Table {
            columns: columns(list),
            rows: list.reserves.iter().map(|entry| row(list, entry)).collect(),
            ..Table::default()
        });
    }
    closing(&mut flow, list);
    let pages = flow.into_pages();
    Laid { settings, pages }
}

fn opening(flow: &mut Flow, list: &PlantingList) {
    flow.text(&list.project, 18.0, Weight::Bold);
    flow.text(
        &format!("Planting list {}, version {}", list.year, list.version),
        14.0,
        Weight::Bold,
    );
    flow.space(4.0);
    if list.compute_digest() != list.digest {
        let warning = "THIS IS NOT WHAT WAS FROZEN: the content of the list does not give its digest. \
            Restore the project from a copy before you plant from this print.";
        flow.text(warning, 12.0, Weight::Bold);
        flow.space(4.0);
    }
    flow.text(
        &format!("Frozen on {} by {}.", list.frozen_on, list.frozen_by),
        10.0,
        Weight::Regular,
    );
    if !list.reason.is_empty() {
        let before = list.version.saturating_sub(1);
        flow.text(
            &format!("Replaces version {before}. Reason: {}", list.reason),
            10.0,
            Weight::Regular,
        );
    }
    flow.text(
        &format!("Cutoffs: {}.", list.cutoffs_text()),
        10.0,
        Weight::Regular,
    );
    if let Some(sowing) = list.sowing {
        let text = format!("Kernels of each ear for {}.", sowing.text());
        flow.text(&text, 10.0, Weight::Regular);
    }
    flow.text(&totals(list), 10.0, Weight::Bold);
    flow.space(8.0);
}

fn totals(list: &PlantingList) -> String {
    let kept: u64 = list.entries.iter().map(|entry| u64::from(entry.keep)).sum();
    format!(
        "In all: {}, {}, {} to plant, {} to keep back.",
        counted(list.entries.len() as u64, "ear"),
        counted(list.mothers() as u64, "mother row"),
        counted(list.kernels(), "kernel"),
        counted(kept, "kernel"),
    )
}

fn counted(number: u64, what: &str) -> String {
    if number == 1 {
        format!("1 {what}")
    } else {
        format!("{number} {what}s")
    }
}

fn columns(list: &PlantingList) -> Vec<Column> {
    let mut columns = vec![
        Column::text("Done", Width::Fit),
        Column::number("Ear", Width::Fit).set_in(15.0, Weight::Bold),
        Column::text("Ear code", Width::Fit),
        Column::text("Mother row", Width::Points(54.0)),
        Column::number("Kernels to plant", Width::Fit).set_in(13.0, Weight::Bold),
        Column::number("To keep back", Width::Fit),
        Column::number("Germinated", Width::Fit),
        Column::number("Likely %", Width::Fit),
        Column::number("Maturity days", Width::Fit),
        Column::text("Why", Width::Share(1.0)).set_in(9.0, Weight::Regular),
    ];
    if list.sowing.is_some() {
        let plants = ["Likely plants", "Sure %"].map(|head| Column::number(head, Width::Fit));
        columns.splice(PLANTS_AT..PLANTS_AT, plants);
    }
    columns
}

/// Where the likely plants stand, in a list whose kernels are reckoned for a stand.
const PLANTS_AT: usize = 6;

fn row(list: &PlantingList, entry: &ListEntry) -> Vec<Cell> {
    let mother = if entry.mother.is_empty() {
        "unknown"
    } else {
        &entry.mother
    };
    let germinated = entry.germinated.map_or_else(
        || "not scored".to_owned(),
        |(germinated, of)| format!("{germinated}/{of}"),
    );
    let likely = entry
        .likely_percent
        .map_or_else(|| "\u{2013}".to_owned(), |percent| format!("{percent:.0}"));
    let days = entry
        .maturity_days
        .map_or_else(|| "\u{2013}".to_owned(), |days| format!("{days:.0}"));
    let mut cells = vec![
        Cell::TickBox,
        entry.number.to_string().into(),
        entry.code.to_string().into(),
        mother.into(),
        entry.plant.to_string().into(),
        entry.keep.to_string().into(),
        germinated.into(),
        likely.into(),
        days.into(),
        why(entry).into(),
    ];
    if list.sowing.is_some() {
        cells.splice(PLANTS_AT..PLANTS_AT, plants(entry));
    }
    cells
}

/// What the kernels of an ear are likely to give, and how sure the wanted plants are.
fn plants(entry: &ListEntry) -> [Cell; 2] {
    let Some(sowing) = entry.sowing else {
        return ["\u{2013}".into(), "\u{2013}".into()];
    };
    [
        format!(
            "{:.1} ({} to {})",
            sowing.plants, sowing.plants_low, sowing.plants_high
        )
        .into(),
        format!("{:.0}", 100.0 * sowing.probability).into(),
    ]
}

/// Why an ear is on the list, and of one that cannot give the wanted plants what it can.
fn why(entry: &ListEntry) -> String {
    let sowing = entry
        .sowing
        .filter(|sowing| !sowing.limited_by(entry.plant).is_empty());
    match sowing {
        None => entry.why.clone(),
        Some(sowing) => {
            let needs = sowing
                .needed
                .map_or_else(String::new, |needed| format!(", needs {needed} kernels"));
            format!("{}; {} plants as sure{needs}", entry.why, sowing.sure_plants)
        }
    }
}

fn closing(flow: &mut Flow, list: &PlantingList) {
    flow.need(90.0);
    flow.space(10.0);
    flow.text(&totals(list), 10.0, Weight::Bold);
    flow.space(6.0);
    let how = "How to verify this list: write its text to a file from the program and run 'sha256sum' on that file. \
        The list is what was frozen if this comes out:";
    flow.text(how, 9.0, Weight::Regular);
    flow.text(&list.digest, 9.0, Weight::Bold);
}

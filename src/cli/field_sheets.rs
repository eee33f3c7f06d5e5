//! `print` of sheets for the field, and of the list of ears that leave the house.

use std::io::Write;

use wintercrib::exchange::field_map::{field_map_pdf, no_plan};
use wintercrib::exchange::field_sheets::{
    CullReason, FieldSheet, PrintedSheet, cull_list_pdf, field_sheet_pdf,
};
use wintercrib::exchange::packet_list::packet_list_pdf;
use wintercrib::exchange::print::unwatched;
use wintercrib::insight::{Insight, PacketQuery};
use wintercrib::model::{Document, PlantingList, Project};

use super::{Print, Stop, project};

pub(super) fn rows(
    records: &Project,
    list: &PlantingList,
    sheet: FieldSheet,
    print: &Print,
    out: &mut dyn Write,
) -> Result<(), Stop> {
    let printed = field_sheet_pdf(records, list, sheet, print.paper, &unwatched)
        .map_err(|fault| Stop::cannot(fault.to_string()))?;
    let of = format!(
        "{} of planting list {} version {}",
        sheet.name(),
        list.year,
        list.version
    );
    written(&printed, &of, "row", print, out)
}

pub(super) fn map(
    records: &Project,
    list: &PlantingList,
    print: &Print,
    out: &mut dyn Write,
) -> Result<(), Stop> {
    let plan = records
        .plan_of(list.id)
        .ok_or_else(|| Stop::cannot(no_plan(list)))?;
    let printed = field_map_pdf(records, list, plan, print.paper, &unwatched)
        .map_err(|fault| Stop::cannot(fault.to_string()))?;
    project::write(&print.to, &printed.pdf)?;
    writeln!(
        out,
        "Printed the field plan of planting list {} version {}, {}, on {} to {}.",
        list.year,
        list.version,
        project::counted(printed.rows, "row"),
        project::counted(printed.pages, "page"),
        print.to.path.display()
    )?;
    Ok(())
}

pub(super) fn cull_list(document: &Document, print: &Print, out: &mut dyn Write) -> Result<(), Stop> {
    let season = project::season(document.project(), print.season)?;
    let insight = Insight::default();
    let reasons = insight.left_out(document, season);
    let reasons: Vec<CullReason> = reasons
        .into_iter()
        .map(|(ear, reason)| CullReason { ear, reason })
        .collect();
    let printed = cull_list_pdf(document.project(), season, &reasons, print.paper, &unwatched)
        .map_err(|fault| Stop::cannot(fault.to_string()))?;
    written(&printed, "cull list", "ear", print, out)
}

pub(super) fn packet_list(document: &Document, print: &Print, out: &mut dyn Write) -> Result<(), Stop> {
    let packets = Insight::default().packets(document, &PacketQuery::default());
    let printed = packet_list_pdf(document.project(), &packets, print.paper, &unwatched)
        .map_err(|fault| Stop::cannot(fault.to_string()))?;
    written(&printed, "list of packets in store", "packet", print, out)
}

fn written(
    printed: &PrintedSheet,
    what: &str,
    lines: &str,
    print: &Print,
    out: &mut dyn Write,
) -> Result<(), Stop> {
    project::write(&print.to, &printed.pdf)?;
    writeln!(
        out,
        "Printed the {what}, {}, on {} to {}.",
        project::counted(printed.lines, lines),
        project::counted(printed.pages, "page"),
        print.to.path.display()
    )?;
    Ok(())
}

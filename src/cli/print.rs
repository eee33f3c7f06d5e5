//! `print`: a frozen planting list as PDF, or the text that its digest is made of; the trays of a test; the
//! plot of a season and what moves with its cutoffs.

use std::io::Write;

use wintercrib::exchange::planting_list_print::planting_list_pdf;
use wintercrib::model::{PlantingList, Project, SeasonId};

use super::arguments::ends_in;
use super::{Print, Printed, Stop, field_sheets, labels, plot, project, report, tray_prints};

pub(super) fn run(print: &Print, out: &mut dyn Write) -> Result<(), Stop> {
    let opened = project::read(&print.file)?;
    match &print.what {
        Printed::PlantingList { version } => planting_list(opened.document.project(), print, *version, out),
        Printed::Trays(trays) => tray_prints::run(&opened.document, print, trays, out),
        Printed::Plot(order) => plot::run(&opened.document, print, order, out),
        Printed::Pedigree(dots) => plot::pedigree(&opened.document, print, *dots, out),
        Printed::Moving(what, dots) => plot::moving(&opened.document, print, *what, *dots, out),
        Printed::Labels(order) => labels::run(opened.document.project(), print, order, out),
        Printed::FieldSheet { sheet, version } => {
            let list = frozen(opened.document.project(), print, *version)?;
            field_sheets::rows(opened.document.project(), list, *sheet, print, out)
        }
        Printed::FieldMap { version } => {
            let list = frozen(opened.document.project(), print, *version)?;
            field_sheets::map(opened.document.project(), list, print, out)
        }
        Printed::Report => report::run(&opened.document, print, out),
        Printed::PacketList => field_sheets::packet_list(&opened.document, print, out),
        Printed::CullList => field_sheets::cull_list(&opened.document, print, out),
    }
}

fn planting_list(
    project: &Project,
    print: &Print,
    version: Option<u16>,
    out: &mut dyn Write,
) -> Result<(), Stop> {
    let list = frozen(project, print, version)?;
    let path = print.to.path.display();
    if ends_in(&print.to.path, &["txt"]) {
        project::write(&print.to, list.text().as_bytes())?;
        writeln!(
            out,
            "Wrote the text of planting list {} version {} to {path}.",
            list.year, list.version
        )?;
        writeln!(out, "'sha256sum {path}' gives {}.", list.digest)?;
    } else {
        let pdf = planting_list_pdf(list, print.paper).map_err(|fault| Stop::cannot(fault.to_string()))?;
        project::write(&print.to, &pdf)?;
        writeln!(
            out,
            "Printed planting list {} version {} to {path}.",
            list.year, list.version
        )?;
        writeln!(out, "Its digest is {}.", list.digest)?;
    }
    Ok(())
}

/// Finds a planting list, and refuses one that is not what was frozen.
pub(super) fn frozen<'a>(
    project: &'a Project,
    print: &Print,
    version: Option<u16>,
) -> Result<&'a PlantingList, Stop> {
    let list = find(project, print, version)?;
    let found = list.compute_digest();
    if found != list.digest {
        return Err(Stop::problems(format!(
            "Planting list {} version {} is not what was frozen (its digest is {}, its content gives {found}), so it was not printed. Restore the project from a copy: {}",
            list.year,
            list.version,
            list.digest,
            print.file.display()
        )));
    }
    Ok(list)
}

fn find<'a>(project: &'a Project, print: &Print, version: Option<u16>) -> Result<&'a PlantingList, Stop> {
    let season = match print.season {
        Some(_) => project::season(project, print.season)?,
        None => latest_with_a_list(project).ok_or_else(|| {
            Stop::cannot(
                "No planting list is frozen in this project yet. Freeze one in the window, then try again",
            )
        })?,
    };
    let year = project.seasons.get(season).map_or(0, |season| season.year);
    let of_season = || project.lists.iter().filter(move |list| list.season == season);
    let found = match version {
        Some(version) => of_season().find(|list| list.version == version),
        None => project.list_in_force(season),
    };
    found.ok_or_else(|| {
        let versions: Vec<String> = of_season().map(|list| list.version.to_string()).collect();
        Stop::cannot(match (version, versions.is_empty()) {
            (Some(version), false) => format!(
                "Season {year} has no planting list {version}. Choose one of {} with --version",
                versions.join(", ")
            ),
            _ => format!("Season {year} has no frozen planting list. Freeze one in the window, or choose another --season"),
        })
    })
}

fn latest_with_a_list(project: &Project) -> Option<SeasonId> {
    let newest = project.lists.iter().max_by_key(|list| list.year)?;
    Some(newest.season)
}

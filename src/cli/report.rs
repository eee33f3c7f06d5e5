//! `print` of the report of a season.

use std::io::Write;

use wintercrib::exchange::print::unwatched;
use wintercrib::exchange::season_report::{ReportOrder, season_report_pdf};
use wintercrib::model::Document;

use super::{Print, Stop, project};

pub(super) fn run(document: &Document, print: &Print, out: &mut dyn Write) -> Result<(), Stop> {
    let season = project::season(document.project(), print.season)?;
    let order = ReportOrder {
        season,
        paper: print.paper,
        on: project::now().date(),
    };
    let printed =
        season_report_pdf(document, order, &unwatched).map_err(|fault| Stop::cannot(fault.to_string()))?;
    project::write(&print.to, &printed.pdf)?;
    let year = document
        .project()
        .seasons
        .get(season)
        .map_or(0, |season| season.year);
    writeln!(
        out,
        "Printed the report of season {year} on {} to {}.",
        project::counted(printed.pages, "page"),
        print.to.path.display()
    )?;
    Ok(())
}

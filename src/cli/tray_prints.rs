//! `print` of a test's trays: cloth map, tray map, laying list, score sheet, retest list.

use std::io::Write;

use wintercrib::exchange::print::unwatched;
use wintercrib::exchange::tray_prints::{RetestReason, TrayPrint, TrayPrintOrder, tray_print};
use wintercrib::insight::Insight;
use wintercrib::model::{Document, Project, SeasonId};

use super::import::find_test;
use super::{Print, PrintedTrays, Stop, project};

pub(super) fn run(
    document: &Document,
    print: &Print,
    trays: &PrintedTrays,
    out: &mut dyn Write,
) -> Result<(), Stop> {
    let records = document.project();
    let season = match print.season {
        Some(_) => project::season(records, print.season)?,
        None => latest_with_a_test(records).map_or_else(|| project::season(records, None), Ok)?,
    };
    let order = TrayPrintOrder {
        test: find_test(records, season, trays.test.as_deref())?,
        tray: trays.tray,
        paper: print.paper,
        with_ears: trays.with_ears.unwrap_or(trays.print.shows_ears()),
    };
    let reasons = if trays.print == TrayPrint::RetestList {
        reasons(document, season)
    } else {
        Vec::new()
    };
    let printed = tray_print(records, trays.print, order, &reasons, &unwatched)
        .map_err(|fault| Stop::cannot(fault.to_string()))?;
    project::write(&print.to, &printed.pdf)?;
    let name = records
        .tests
        .get(order.test)
        .map_or("", |test| test.name.as_str());
    writeln!(
        out,
        "Printed the {} of {} of '{name}' on {} to {}.",
        trays.print.name(),
        printed.trays,
        project::counted(printed.pages, "page"),
        print.to.path.display()
    )?;
    Ok(())
}

fn latest_with_a_test(project: &Project) -> Option<SeasonId> {
    let mut seasons: Vec<_> = project.seasons.iter().collect();
    seasons.sort_by_key(|season| std::cmp::Reverse(season.year));
    let with_a_test = |season: &&&wintercrib::model::Season| project.tests_of(season.id).next().is_some();
    seasons.iter().find(with_a_test).map(|season| season.id)
}

/// The ears that are worth testing again under the cutoffs of the season.
fn reasons(document: &Document, season: SeasonId) -> Vec<RetestReason> {
    let insight = Insight::default();
    let cutoffs = insight.cutoffs(document, season);
    let retest = insight.retest(document, season, &cutoffs);
    let reason = |ear: &wintercrib::insight::RetestEar| RetestReason {
        ear: ear.ear,
        reason: ear.sentence(),
    };
    retest.ears.iter().map(reason).collect()
}

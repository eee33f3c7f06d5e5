//! `export`: the whole project as a data package, the ears of a season as a table, the table of Selection, the days of its
//! tests as a calendar, or the passport table.

use std::io::Write;
use std::sync::Arc;

use wintercrib::exchange::calendar_ics::calendar_ics;
use wintercrib::exchange::ears_csv::ears_csv;
use wintercrib::exchange::passport::passport;
use wintercrib::exchange::selection_csv::selection_csv;
use wintercrib::insight::{Insight, TestCalendar};

use super::{Export, Exported, Stop, package, project};

pub(super) fn run(export: &Export, out: &mut dyn Write) -> Result<(), Stop> {
    let opened = project::read(&export.file)?;
    let document = &opened.document;
    let model = document.project();
    let season = || project::season(model, export.season);
    let (bytes, what) = match export.what {
        Exported::Package => return package::write(model, &export.to, out),
        Exported::Passport => (passport(model), "the passport table".to_owned()),
        Exported::Ears => {
            let season = season()?;
            let ears = project::counted(model.ears_of(season).count(), "ear");
            (ears_csv(model, season), ears)
        }
        Exported::Selection => {
            let season = season()?;
            let insight = Insight::default();
            let choice = insight.choice(document, season, &insight.cutoffs(document, season));
            let places: Vec<usize> = (0..choice.standings.len()).collect();
            let table = selection_csv(model, &choice, &insight.speeds(document, season), &places);
            (table, project::counted(places.len(), "ear"))
        }
        Exported::Days => {
            let season = season()?;
            let insight = Insight::default();
            let calendars: Vec<Arc<TestCalendar>> = model
                .tests_of(season)
                .map(|test| insight.calendar(document, test.id))
                .collect();
            let calendars: Vec<&TestCalendar> = calendars.iter().map(Arc::as_ref).collect();
            let days: usize = calendars.iter().map(|calendar| calendar.items.len()).sum();
            let bytes = calendar_ics(model, &calendars, jiff::Timestamp::now()).ok_or_else(|| {
                Stop::cannot(format!(
                    "No test of season {} is laid, so its days are not known. Note the day of laying in the Trays pane, or choose another season with --season",
                    model.seasons.get(season).map_or(0, |season| season.year)
                ))
            })?;
            (bytes, project::counted(days, "date"))
        }
    };
    project::write(&export.to, &bytes)?;
    writeln!(out, "Wrote {what} to {}.", export.to.path.display())?;
    Ok(())
}

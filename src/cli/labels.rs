//! `print` of labels: packets, slips, row stakes, and the page to try a sheet with.

use std::io::Write;

use wintercrib::exchange::labels::{OnLabels, labels_pdf};
use wintercrib::exchange::print::unwatched;
use wintercrib::model::{EarId, Project, capital, read_ear_numbers};

use super::print::frozen;
use super::{LabelWord, Print, PrintedLabels, Stop, project};

pub(super) fn run(
    records: &Project,
    print: &Print,
    labels: &PrintedLabels,
    out: &mut dyn Write,
) -> Result<(), Stop> {
    let (what, name) = match labels.on {
        LabelWord::Packets(kind) => {
            let ears = ears(records, print, labels.ears.as_deref())?;
            (OnLabels::Packets { ears, kind }, kind.name())
        }
        LabelWord::Stakes => {
            let list = frozen(records, print, labels.version)?.id;
            (OnLabels::Stakes { list }, "row stakes")
        }
        LabelWord::TestPage => (OnLabels::TestPage, "a test page"),
    };
    let printed = labels_pdf(records, &what, &labels.order, &unwatched)
        .map_err(|fault| Stop::cannot(fault.to_string()))?;
    project::write(&print.to, &printed.pdf)?;
    for note in &printed.notes {
        project::tell(note);
    }
    writeln!(
        out,
        "Printed {name}, {}, on {} of {} to {}.",
        project::counted(printed.labels, "label"),
        project::counted(printed.pages, "page"),
        labels.order.sheet.name(),
        print.to.path.display()
    )?;
    Ok(())
}

fn ears(records: &Project, print: &Print, numbers: Option<&str>) -> Result<Vec<EarId>, Stop> {
    let season = project::season(records, print.season)?;
    let Some(numbers) = numbers else {
        return Ok(records.ears_of(season).map(|ear| ear.id).collect());
    };
    let ear = |number| records.ear_numbered(season, number).map(|ear| ear.id);
    read_ear_numbers(numbers, ear).map_err(|why| Stop::cannot(format!("--ears: {}", capital(&why))))
}

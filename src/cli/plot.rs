//! `print` of the plot of Selection, as SVG, PNG or PDF.

use std::io::Write;

use wintercrib::exchange::picture::PictureForm;
use wintercrib::exchange::plot_picture::{PlotOrder, plot_file};
use wintercrib::exchange::print::unwatched;
use wintercrib::insight::{Axis, Insight};
use wintercrib::model::{Document, Stand};

use super::arguments::ends_in;
use super::{Print, PrintedPlot, Stop, project};

pub(super) fn run(
    document: &Document,
    print: &Print,
    wanted: &PrintedPlot,
    out: &mut dyn Write,
) -> Result<(), Stop> {
    let season = project::season(document.project(), print.season)?;
    let insight = Insight::default();
    let choice = insight.choice(document, season, &insight.cutoffs(document, season));
    let estimates = insight.estimates(document, season);
    if estimates.scored() == 0 {
        return Err(Stop::cannot(
            "No ear of this season has a final count, so there is nothing to draw. Score its test, or choose another --season",
        ));
    }
    let kept = choice.standings.iter().filter(|one| one.stand == Stand::Plant);
    let order = PlotOrder {
        axes: [Axis::MaturityDays, Axis::Germination(wanted.vertical)],
        labelled: kept.filter(|_| wanted.with_labels).map(|one| one.ear).collect(),
        intervals: wanted.with_labels,
        paper: print.paper,
        dots: wanted.dots,
        ..PlotOrder::default()
    };
    let to = &print.to.path;
    let form = PictureForm::ALL
        .into_iter()
        .find(|(_, ending)| ends_in(to, &[ending]));
    let form = form.map_or(PictureForm::Svg, |(form, _)| form);
    let bytes = plot_file(document.project(), &choice, &estimates, &order, form, &unwatched)
        .map_err(|fault| Stop::cannot(fault.to_string()))?;
    project::write(&print.to, &bytes)?;
    writeln!(
        out,
        "Drew {} with the cutoffs of the season to {}.",
        project::counted(choice.standings.len(), "ear"),
        to.display()
    )?;
    Ok(())
}

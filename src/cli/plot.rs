//! `print` of the plot of Selection and of what moves with its cutoffs, as SVG, PNG or PDF.

use std::io::Write;

use wintercrib::exchange::choice_pictures::{Chosen, curve_file, frontier_file};
use wintercrib::exchange::pedigree_picture::pedigree_file;
use wintercrib::exchange::picture::{PictureForm, PictureOrder};
use wintercrib::exchange::plot_picture::{PlotOrder, plot_file};
use wintercrib::exchange::print::{PrintFault, unwatched};
use wintercrib::insight::{Axis, Estimates, Insight};
use wintercrib::model::{Document, Stand};

use super::arguments::ends_in;
use super::{Moving, Print, PrintedPlot, Stop, project};

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
    refuse_unscored(&estimates)?;
    let kept = choice.standings.iter().filter(|one| one.stand == Stand::Plant);
    let order = PlotOrder {
        axes: [Axis::MaturityDays, Axis::Germination(wanted.vertical)],
        labelled: kept.filter(|_| wanted.with_labels).map(|one| one.ear).collect(),
        intervals: wanted.with_labels,
        paper: print.paper,
        dots: wanted.dots,
        ..PlotOrder::default()
    };
    let bytes = plot_file(
        document.project(),
        &choice,
        &estimates,
        &order,
        form(print),
        &unwatched,
    );
    write(print, bytes)?;
    writeln!(
        out,
        "Drew {} with the cutoffs of the season to {}.",
        project::counted(choice.standings.len(), "ear"),
        print.to.path.display()
    )?;
    Ok(())
}

/// Draws how the figures of the choice move with the cutoff, or the frontier of shares.
pub(super) fn moving(
    document: &Document,
    print: &Print,
    what: Moving,
    dots: [u32; 2],
    out: &mut dyn Write,
) -> Result<(), Stop> {
    let season = project::season(document.project(), print.season)?;
    let insight = Insight::default();
    let cutoffs = insight.cutoffs(document, season);
    let choice = insight.choice(document, season, &cutoffs);
    let estimates = insight.estimates(document, season);
    let of = Chosen {
        project: document.project(),
        choice: &choice,
        estimates: &estimates,
    };
    let order = PictureOrder {
        form: form(print),
        dots,
        paper: print.paper,
    };
    let bytes = match what {
        Moving::Curve => {
            refuse_unscored(&estimates)?;
            let curve = insight.curve(document, season, &cutoffs);
            curve_file(of, &curve, order, &unwatched)
        }
        Moving::Frontier => {
            let shares = insight.shares(document, season, &cutoffs);
            if shares.frontier.is_empty() {
                let why = shares
                    .refusal
                    .as_deref()
                    .unwrap_or("Shares could not be worked out.");
                return Err(Stop::cannot(format!(
                    "There is no frontier to draw. {}",
                    why.trim_end_matches('.')
                )));
            }
            frontier_file(of, &shares, order, &unwatched)
        }
    };
    write(print, bytes)?;
    writeln!(
        out,
        "Drew the {} with the cutoffs of the season to {}.",
        what.name(),
        print.to.path.display()
    )?;
    Ok(())
}

/// Draws the pedigree over all seasons.
pub(super) fn pedigree(
    document: &Document,
    print: &Print,
    dots: [u32; 2],
    out: &mut dyn Write,
) -> Result<(), Stop> {
    let pedigree = Insight::default().pedigree(document);
    if pedigree.families.is_empty() {
        return Err(Stop::cannot(
            "No season has rows or ears yet, so there is no pedigree to draw. Add ears with their mother rows first",
        ));
    }
    let order = PictureOrder {
        form: form(print),
        dots,
        paper: print.paper,
    };
    let bytes = pedigree_file(document.project(), &pedigree, None, order, &unwatched);
    write(print, bytes)?;
    writeln!(
        out,
        "Drew the pedigree of {} to {}.",
        project::counted(pedigree.seasons.len(), "season"),
        print.to.path.display()
    )?;
    Ok(())
}

/// The form that the ending of the file asks for.
fn form(print: &Print) -> PictureForm {
    let asked = |(_, ending): &(PictureForm, &str)| ends_in(&print.to.path, &[*ending]);
    let form = PictureForm::ALL.into_iter().find(asked);
    form.map_or(PictureForm::Svg, |(form, _)| form)
}

fn write(print: &Print, bytes: Result<Vec<u8>, PrintFault>) -> Result<(), Stop> {
    let bytes = bytes.map_err(|fault| Stop::cannot(fault.to_string()))?;
    project::write(&print.to, &bytes)
}

fn refuse_unscored(estimates: &Estimates) -> Result<(), Stop> {
    if estimates.scored() > 0 {
        return Ok(());
    }
    Err(Stop::cannot(
        "No ear of this season has a final count, so there is nothing to draw. Score its test, or choose another --season",
    ))
}

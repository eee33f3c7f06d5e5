//! The report of a season, looked at and printed.

use crate::exchange::print::Paper;
use crate::exchange::season_report::{ReportOrder, season_report_pages};
use crate::model::{Document, Project, Season};
use crate::ui::context::PaneCtx;
use crate::ui::panes::print_preview::PrintPreview;

/// The dialog with the report of a season.
pub(super) fn report(ctx: &PaneCtx<'_>, season: &Season) -> PrintPreview {
    let (project, on) = (ctx.document.snapshot(), ctx.today);
    let (id, year) = (season.id, season.year);
    PrintPreview::new(
        "Season report",
        format!(
            "Season {year}: its tests, the plot, the choice and what it costs, mothers, kernels, lists, every ear."
        ),
        format!("report-{year}.pdf"),
        Paper::Letter,
        move |fonts, paper, watch| {
            // A document of its own, whose views another thread may compute.
            let document = Document::new(Project::clone(&project));
            let order = ReportOrder {
                season: id,
                paper,
                on,
            };
            season_report_pages(fonts, &document, order, watch).map_err(|fault| fault.to_string())
        },
    )
}

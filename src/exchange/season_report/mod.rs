//! The report of a season: everything that was tested, chosen and frozen, on paper, with the plots.
//!
//! It says nothing that the window does not say too: figures and sentences come from the views of `insight`.

mod chosen;
mod ears;
mod lists;
mod response;
mod tested;

use super::print::{
    Column, Flow, Fonts, LAID_OUT, Laid, Paper, PrintFault, PrintSettings, Table, Watch, Weight, Width, tell,
};
use crate::insight::{Choice, Estimates, Insight};
use crate::model::{Cutoffs, Document, Project, Season, SeasonId, Test, capital, plural};
use jiff::civil::Date;
use std::sync::Arc;

/// Size of running text, in points.
const TEXT: f32 = 9.5;
/// Size of the title of a part, in points.
const PART: f32 = 14.0;
/// Room that must be left below the title of a part, so that it does not stand alone at the foot, in points.
const WITH_TITLE: f32 = 64.0;
/// How much is done when all views are computed, from 0 to 1.
const LOOKED: f32 = 0.15;

/// Which report is printed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ReportOrder {
    /// The season.
    pub season: SeasonId,
    /// The sheet.
    pub paper: Paper,
    /// The day of the report.
    pub on: Date,
}

/// A report as a file.
#[derive(Debug, Clone, PartialEq)]
pub struct PrintedReport {
    /// The file.
    pub pdf: Vec<u8>,
    /// How many pages it has.
    pub pages: usize,
}

/// Prints the report of a season as PDF. The same input gives the same bytes.
///
/// # Errors
/// The PDF writer refuses, or a font of the program is damaged; whoever watches says stop.
pub fn season_report_pdf(
    document: &Document,
    order: ReportOrder,
    watch: Watch<'_>,
) -> Result<PrintedReport, PrintFault> {
    let fonts = Fonts::new()?;
    let laid = season_report_pages(&fonts, document, order, watch)?;
    Ok(PrintedReport {
        pdf: laid.pdf(&fonts, watch)?,
        pages: laid.pages.len(),
    })
}

/// Lays out the report of a season.
///
/// # Errors
/// Whoever watches says stop.
pub fn season_report_pages(
    fonts: &Fonts,
    document: &Document,
    order: ReportOrder,
    watch: Watch<'_>,
) -> Result<Laid, PrintFault> {
    let project = document.project();
    let season = project.seasons.get(order.season);
    let year = season.map_or_else(String::new, |season| format!(" {}", season.year));
    let name = &project.about.name;
    let settings = PrintSettings {
        author: project.about.grower.clone(),
        date: Some(order.on),
        // What names the report comes first: a long project name is cut off at its end.
        head: format!("Season report{year} \u{b7} {name}"),
        ..PrintSettings::new(order.paper, format!("{name}: season report{year}"))
    };
    let mut flow = Flow::new(fonts, &settings);
    tell(watch, 0.0)?;
    match season {
        Some(season) => {
            let report = Report::new(fonts, document, season, order.on);
            report.set(&mut flow, watch)?;
        }
        None => flow.text("There is no such season in the project.", PART, Weight::Bold),
    }
    tell(watch, LAID_OUT)?;
    Ok(Laid {
        settings,
        pages: flow.into_pages(),
    })
}

/// What a report is made of.
struct Report<'a> {
    fonts: &'a Fonts,
    document: &'a Document,
    project: &'a Project,
    season: &'a Season,
    on: Date,
    insight: Insight,
    cutoffs: Cutoffs,
    choice: Arc<Choice>,
    estimates: Arc<Estimates>,
}

impl<'a> Report<'a> {
    fn new(fonts: &'a Fonts, document: &'a Document, season: &'a Season, on: Date) -> Self {
        let insight = Insight::default();
        let cutoffs = insight.cutoffs(document, season.id);
        Self {
            fonts,
            document,
            project: document.project(),
            season,
            on,
            choice: insight.choice(document, season.id, &cutoffs),
            estimates: insight.estimates(document, season.id),
            insight,
            cutoffs,
        }
    }

    fn set(&self, flow: &mut Flow, watch: Watch<'_>) -> Result<(), PrintFault> {
        self.opening(flow);
        tell(watch, 0.3 * LOOKED)?;
        self.tests(flow);
        tell(watch, 0.6 * LOOKED)?;
        if self.choice.summary.ears > 0 {
            self.choice(flow);
            tell(watch, 0.8 * LOOKED)?;
            self.price(flow);
        }
        tell(watch, LOOKED)?;
        self.response(flow);
        self.lists(flow);
        self.kernels(flow);
        if self.choice.summary.ears > 0 {
            self.ear_table(flow);
        }
        Ok(())
    }

    fn opening(&self, flow: &mut Flow) {
        let (about, season) = (&self.project.about, self.season);
        flow.text(&about.name, 20.0, Weight::Bold);
        flow.text(&format!("Season report {}", season.year), 15.0, Weight::Bold);
        flow.space(4.0);
        flow.text(
            &format!("What was known on {}. A ranking of ears, not a promise.", self.on),
            TEXT,
            Weight::Regular,
        );
        for (name, text) in [
            ("Population: ", &about.population),
            ("Grown by ", &about.grower),
            ("Rules that came with the seed: ", &about.restrictions),
            ("Note: ", &season.note),
        ] {
            if !text.is_empty() {
                say(flow, &format!("{name}{text}"));
            }
        }
        say(
            flow,
            &match season.planted {
                Some(day) => format!("Its rows were planted on {day}."),
                None => "The day when its rows were planted is not noted.".to_owned(),
            },
        );
        say(flow, &self.in_short());
        let missing = self.missing();
        if !missing.is_empty() {
            part(flow, "What is missing");
            for sentence in missing {
                say(flow, &sentence);
            }
        }
    }

    /// The season in one sentence.
    fn in_short(&self) -> String {
        let summary = &self.choice.summary;
        let rows = self.project.rows_of(self.season.id).count();
        format!(
            "{} of {}, {} scored; {} to plant, {} to test again, {} left out, {} not scored.",
            plural(summary.ears, "ear"),
            plural(rows, "row"),
            self.estimates.scored(),
            summary.kept,
            summary.retest,
            summary.left_out,
            summary.not_scored
        )
    }

    /// Says what the report cannot tell because nobody has noted it, a sentence each.
    fn missing(&self) -> Vec<String> {
        let season = self.season.id;
        let mut said = Vec::new();
        let mut miss = |is_missing: bool, text: &str| {
            if is_missing {
                said.push(text.to_owned());
            }
        };
        let no_ears = self.choice.summary.ears == 0;
        let no_test = self.tests_of().next().is_none();
        miss(
            no_ears,
            "No ear is noted yet. Type or import the ears in Harvest.",
        );
        miss(no_test, "No test is designed yet. Design one in Trays.");
        miss(
            !no_test && self.estimates.scored() == 0,
            "No ear has a final count yet. Score the trays in Scoring; until then no ear can be told from another.",
        );
        miss(
            !no_ears && self.project.selection_of(season).is_none(),
            "Nobody has set cutoffs yet; the usual ones are used.",
        );
        miss(
            self.project.list_in_force(season).is_none(),
            "No planting list is frozen yet. Freeze it in Selection.",
        );
        said
    }

    fn tests_of(&self) -> impl Iterator<Item = &'a Test> + use<'a> {
        self.project.tests_of(self.season.id)
    }
}

/// Sets the title of a part, together with what begins below it.
fn part(flow: &mut Flow, title: &str) {
    flow.need(WITH_TITLE);
    flow.space(12.0);
    flow.text(title, PART, Weight::Bold);
    flow.space(3.0);
}

/// Sets the title of a piece of a part.
fn piece(flow: &mut Flow, title: &str) {
    flow.need(WITH_TITLE + 8.0);
    flow.space(6.0);
    flow.text(title, 10.5, Weight::Bold);
    flow.space(1.0);
}

/// Sets a sentence.
fn say(flow: &mut Flow, text: &str) {
    flow.text(&capital(text), TEXT, Weight::Regular);
    flow.space(1.5);
}

fn say_all(flow: &mut Flow, sentences: impl IntoIterator<Item = String>) {
    for sentence in sentences {
        say(flow, &sentence);
    }
}

/// Sentences under a title; nothing where there is none.
fn said_under(flow: &mut Flow, title: &str, sentences: Vec<String>) {
    if !sentences.is_empty() {
        piece(flow, title);
        say_all(flow, sentences);
    }
}

/// A table of small print, its first column at the left and all others at the right. It has blank above and below.
/// `first` says how wide the first column is over each other one.
fn figures(flow: &mut Flow, first: f32, titles: &[&str], rows: Vec<Vec<String>>) {
    let columns = titles.iter().enumerate().map(|(at, title)| {
        let column = if at == 0 {
            Column::text(*title, Width::Share(first))
        } else {
            Column::number(*title, Width::Share(1.0))
        };
        column.set_in(9.0, Weight::Regular)
    });
    flow.space(3.0);
    flow.table(&Table {
        columns: columns.collect(),
        rows: rows
            .into_iter()
            .map(|row| row.into_iter().map(Into::into).collect())
            .collect(),
        ..Table::default()
    });
    flow.space(5.0);
}

/// A number with one digit after the point, or a dash where it is not known.
fn tenths(value: Option<f64>) -> String {
    value.map_or_else(none, |value| format!("{value:.1}"))
}

/// A percent with one digit after the point, or a dash.
fn percent(value: Option<f64>) -> String {
    value.map_or_else(none, |value| format!("{value:.1} %"))
}

/// What stands where nothing is known.
fn none() -> String {
    "\u{2013}".to_owned()
}

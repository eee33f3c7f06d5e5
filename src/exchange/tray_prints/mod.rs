//! The prints of a test's trays: what is laid, where, and what is counted.

mod cloth_map;
mod drawing;
mod laying_list;
mod retest_list;
mod score_sheet;
mod shape;
mod tray_map;

use thiserror::Error;

use super::field_lines::packet_places;
use super::print::{
    Flow, Fonts, LAID_OUT, Laid, Page, Paper, PrintFault, PrintSettings, Watch, Weight, tell,
};
use crate::model::{Cell, CellContent, Ear, EarId, LengthUnit, Project, Test, TestId, Tray, plural};

use shape::Shape;

pub use retest_list::RetestReason;

/// The most sheets of a cloth map; a larger container is marked by tape measure.
pub const MOST_SHEETS: usize = 400;

/// What can be printed of a test's trays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum TrayPrint {
    /// The cells at true scale, to mark the cloth by.
    ClothMap,
    /// One page for each tray: what lies where; where its numbers come out small, its parts in large ones too.
    TrayMap,
    /// What to lay, cell by cell, with packets and boxes to tick.
    LayingList,
    /// An empty form for the counts, cell by cell.
    ScoreSheet,
    /// Which ears are tested again, and where they lay and lie.
    RetestList,
}

impl TrayPrint {
    /// All of them, in the order in which they are used.
    pub const ALL: [Self; 5] = [
        Self::ClothMap,
        Self::TrayMap,
        Self::LayingList,
        Self::ScoreSheet,
        Self::RetestList,
    ];

    /// Its name in the trade, such as `cloth map`.
    pub fn name(self) -> &'static str {
        match self {
            Self::ClothMap => "cloth map",
            Self::TrayMap => "tray map",
            Self::LayingList => "laying list",
            Self::ScoreSheet => "score sheet",
            Self::RetestList => "retest list",
        }
    }

    /// Whether ear numbers are printed where nobody says otherwise: a cloth without them is good for every tray.
    pub fn shows_ears(self) -> bool {
        self != Self::ClothMap
    }
}

/// What is printed, and on what.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct TrayPrintOrder {
    /// The test.
    pub test: TestId,
    /// The number of the tray; none for all trays.
    pub tray: Option<u16>,
    /// The sheet.
    pub paper: Paper,
    /// Whether ear numbers are on the cloth map and on the score sheet. Without them a cloth map is good for every
    /// tray of its shape, and a score sheet does not tell the scorer which ear is counted. The other prints always
    /// have them.
    pub with_ears: bool,
}

/// Why trays are not printed.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum TrayPrintFault {
    /// The test is not in the project.
    #[error("The test is no longer in the project. Choose another one")]
    NoTest,
    /// The test has no tray of this number.
    #[error("The test '{test}' has no tray {tray}: it has {has}. Choose one of them")]
    NoTray {
        /// The test's name.
        test: String,
        /// The number asked for.
        tray: u16,
        /// How many trays it has, in words.
        has: String,
    },
    /// A cloth map would need too many sheets.
    #[error(
        "The cloth map would take {sheets} sheets of paper, and it is printed on {MOST_SHEETS} at most. Choose one tray or leave the ear numbers out; mark a very large container by tape measure after the tray map"
    )]
    TooManySheets {
        /// How many.
        sheets: usize,
    },
    /// The PDF cannot be made.
    #[error(transparent)]
    Print(#[from] PrintFault),
}

/// A print as it is written to a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PrintedTrays {
    /// The PDF.
    pub pdf: Vec<u8>,
    /// How many pages it has.
    pub pages: usize,
    /// The trays that are in it, in words: `tray 3`, `9 trays`.
    pub trays: String,
}

/// Prints something of a test's trays as PDF: the same bytes from the same project. `reasons` are the ears of a
/// retest list that lie in no retest yet, in the order in which they are listed; the other prints need none. `watch`
/// follows the work and may stop it ([`super::print::unwatched`] does neither).
///
/// # Errors
/// [`TrayPrintFault`].
pub fn tray_print(
    project: &Project,
    print: TrayPrint,
    order: TrayPrintOrder,
    reasons: &[RetestReason],
    watch: Watch<'_>,
) -> Result<PrintedTrays, TrayPrintFault> {
    let fonts = Fonts::new()?;
    let (laid, trays) = tray_pages(&fonts, project, print, order, reasons, watch)?;
    Ok(PrintedTrays {
        pdf: laid.pdf(&fonts, watch)?,
        pages: laid.pages.len(),
        trays,
    })
}

/// Lays such a print out; gives its trays in words too.
///
/// # Errors
/// [`TrayPrintFault`].
pub fn tray_pages(
    fonts: &Fonts,
    project: &Project,
    print: TrayPrint,
    order: TrayPrintOrder,
    reasons: &[RetestReason],
    watch: Watch<'_>,
) -> Result<(Laid, String), TrayPrintFault> {
    let printed = Printed::new(project, order, watch)?;
    let (settings, pages) = match print {
        TrayPrint::ClothMap => cloth_map::pages(&printed, fonts)?,
        TrayPrint::TrayMap => tray_map::pages(&printed, fonts)?,
        TrayPrint::LayingList => laying_list::pages(&printed, fonts)?,
        TrayPrint::ScoreSheet => score_sheet::pages(&printed, fonts)?,
        TrayPrint::RetestList => retest_list::pages(&printed, fonts, reasons),
    };
    Ok((Laid { settings, pages }, printed.trays_in_words()))
}

/// Marks and settings of a print.
type Pages = (PrintSettings, Vec<Page>);

/// The records that are printed.
struct Printed<'a> {
    project: &'a Project,
    test: &'a Test,
    trays: Vec<&'a Tray>,
    /// Trays of the whole test.
    of: usize,
    order: TrayPrintOrder,
    watch: Watch<'a>,
}

impl<'a> Printed<'a> {
    fn new(project: &'a Project, order: TrayPrintOrder, watch: Watch<'a>) -> Result<Self, TrayPrintFault> {
        let test = project.tests.get(order.test).ok_or(TrayPrintFault::NoTest)?;
        let all: Vec<&Tray> = project.trays_of(test.id).collect();
        let of = all.len();
        let wanted = |tray: &&Tray| order.tray.is_none_or(|number| tray.number == number);
        let trays: Vec<&Tray> = all.into_iter().filter(wanted).collect();
        if let (true, Some(tray)) = (trays.is_empty(), order.tray) {
            return Err(TrayPrintFault::NoTray {
                test: test.name.clone(),
                tray,
                has: plural(of, "tray"),
            });
        }
        Ok(Self {
            project,
            test,
            trays,
            of,
            order,
            watch,
        })
    }

    fn year(&self) -> String {
        let season = self.project.seasons.get(self.test.season);
        season.map_or_else(String::new, |season| season.year.to_string())
    }

    /// Settings with a running head that names the print first: a long name of a project is cut off at its end.
    fn settings(&self, print: TrayPrint) -> PrintSettings {
        let (name, year) = (crate::model::capital(print.name()), self.year());
        let project = &self.project.about.name;
        PrintSettings {
            head: format!("{name} \u{b7} {} \u{b7} {year} \u{b7} {project}", self.test.name),
            ..PrintSettings::new(
                self.order.paper,
                format!("{project}: {} of {} {year}", print.name(), self.test.name),
            )
        }
    }

    fn trays_in_words(&self) -> String {
        match self.trays.as_slice() {
            [only] => format!("tray {}", only.number),
            trays => plural(trays.len(), "tray"),
        }
    }

    /// What the container of a tray is called, if it is not the usual one of the test: `, old bread tray`.
    fn container(&self, tray: &Tray) -> String {
        let other = usize::from(tray.container).checked_sub(1);
        let other = other.and_then(|other| self.test.plan.others.get(other));
        other.map_or_else(String::new, |other| format!(", {}", other.title(tray.container)))
    }

    /// Which container a tray is, where the test has several sizes: `, old bread tray, 12 x 8 in`.
    fn size(&self, tray: &Tray) -> String {
        if self.test.plan.others.is_empty() {
            return String::new();
        }
        let (width, height) = Shape::of(self.test, tray).container;
        format!("{}, {}", self.container(tray), self.pair((width, height)))
    }

    /// Two lengths in the project's unit: `16 x 12 in`.
    fn pair(&self, (width, height): (f32, f32)) -> String {
        let (width, height) = (self.length(f64::from(width)), self.length(f64::from(height)));
        format!("{width} \u{d7} {height} {}", self.unit().sign())
    }

    /// `Tray 3 of 9`.
    fn tray_of(&self, tray: &Tray) -> String {
        format!("Tray {} of {}", tray.number, self.of)
    }

    /// When a tray was laid, or a line to write it on.
    fn laid(&self, tray: &Tray) -> String {
        if let Some(day) = self.project.tray_laid_on(tray.id) {
            return format!("laid on {day}");
        }
        let counted = self
            .project
            .cells_of(tray.id)
            .filter(|cell| cell.content.is_counted());
        let (all, laid) = counted.fold((0, 0), |(all, laid), cell| {
            (all + 1, laid + usize::from(self.project.laid_on(cell).is_some()))
        });
        if laid > 0 {
            format!("{laid} of {} laid so far", plural(all, "cell"))
        } else {
            "laid on ____________________".to_owned()
        }
    }

    /// Tells whoever watches that so many of the trays are laid out.
    fn tell(&self, trays: usize) -> Result<(), PrintFault> {
        tell(
            self.watch,
            LAID_OUT * trays as f32 / self.trays.len().max(1) as f32,
        )
    }

    /// Lays out tray after tray, each from the top of a page.
    fn tray_by_tray(
        &self,
        fonts: &Fonts,
        settings: PrintSettings,
        lay: impl Fn(&mut Flow<'_>, &Tray),
    ) -> Result<Pages, PrintFault> {
        let mut flow = Flow::new(fonts, &settings);
        for (done, tray) in self.trays.iter().enumerate() {
            self.tell(done)?;
            // What runs on over the pages of one tray ends with it.
            flow.nothing_running();
            flow.break_page();
            lay(&mut flow, tray);
        }
        if self.trays.is_empty() {
            flow.text("This test has no trays.", 12.0, Weight::Regular);
        }
        Ok((settings, flow.into_pages()))
    }

    /// Heads the list of a tray and gives the tray's name.
    fn head(&self, flow: &mut Flow<'_>, tray: &Tray) -> String {
        let name = self.tray_of(tray);
        flow.text(&name, 22.0, Weight::Bold);
        let (test, year, size) = (&self.test.name, self.year(), self.size(tray));
        let test = format!("{test}, season {year}{size}, {}", self.laid(tray));
        flow.text(&test, 11.0, Weight::Regular);
        name
    }

    fn cells(&self, tray: &Tray) -> Vec<&'a Cell> {
        self.project.cells_of(tray.id).collect()
    }

    fn ear(&self, content: CellContent) -> Option<&'a Ear> {
        self.project.ears.get(content.ear()?)
    }

    fn mother(&self, ear: &Ear) -> String {
        match self.project.mother_label(ear) {
            "" => "unknown".to_owned(),
            label => label.to_owned(),
        }
    }

    /// Where an ear's packets lie.
    fn packets(&self, ear: EarId) -> String {
        packet_places(self.project, ear)
    }

    fn check_lot(&self) -> String {
        match self.test.check_lot.as_str() {
            "" => "the check lot".to_owned(),
            name => name.to_owned(),
        }
    }

    /// A length in the project's unit, without the unit.
    fn length(&self, mm: f64) -> String {
        let number = format!("{:.2}", mm / self.unit().millimetres());
        number.trim_end_matches('0').trim_end_matches('.').to_owned()
    }

    fn unit(&self) -> LengthUnit {
        self.project.about.units.length
    }
}

/// Cells in reading order, row by row.
fn by_row<'a, 'c>(cells: &'c [&'a Cell]) -> impl Iterator<Item = &'c [&'a Cell]> {
    cells.chunk_by(|one, next| one.row == next.row)
}

/// An invented test for the tests of the prints.
#[cfg(test)]
mod sample {
    use crate::model::{
        About, Command, Document, EarDraft, Existing, Project, Recipe, SeasonId, Stamp, TestDesign, TrayPlan,
    };
    use jiff::civil::date;

    /// A season of so many ears, laid out by a plan.
    pub fn designed(ears: usize, plan: TrayPlan) -> Project {
        let mut document = Document::new(Project::new(About::new("Little Tarn", "little-tarn")));
        let season = SeasonId(1);
        let design = TestDesign {
            season,
            replaces: None,
            name: "Cold test".to_owned(),
            plan,
            recipe: Recipe::default(),
            check_lot: String::new(),
            seed: 1,
            ears: None,
        };
        let stamp = Stamp {
            at: date(2026, 12, 1).at(10, 0, 0, 0),
            by: String::new(),
        };
        for command in [
            Command::AddSeason {
                year: 2026,
                planted: None,
            },
            Command::AddEars {
                season,
                drafts: vec![EarDraft::default(); ears],
                existing: Existing::Refuse,
            },
            Command::DesignTest(design),
        ] {
            document.run(&command, &stamp).unwrap();
        }
        document.project().clone()
    }
}

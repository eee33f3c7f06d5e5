//! Prints as PDF: pages of text, rules and tables in black on white, the same bytes from the same input.
//!
//! A print is first laid out as a list of marks per page ([`Flow`] for running text and tables, [`Page`] directly for
//! drawings at true scale), then written by [`write_pdf`], which knows the number of pages and adds to each the running
//! head and the foot. There is no clock: a date is an argument. Lengths are in points, 72 to the inch, from the top
//! left corner of the sheet.

mod flow;
mod fonts;
mod pdf;

use jiff::civil::Date;
use thiserror::Error;

pub use flow::{Align, Cell, Column, Flow, FormItem, Table, Width};
pub use fonts::{Fonts, Weight};
pub use pdf::write_pdf;

/// Points in a millimetre.
pub const POINTS_PER_MM: f32 = 72.0 / 25.4;

/// Size of the running head and of the foot, in points.
const EDGE_SIZE: f32 = 8.5;
/// Room that the running head and the foot take, in points.
const EDGE_ROOM: f32 = EDGE_SIZE * 2.2;

/// Stands at the foot of every page with results.
pub const CAUTION: &str = "home test, not for labelling seed";

/// A print that cannot be made.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PrintFault {
    /// A font of the program cannot be read.
    #[error("The font {name} in this program cannot be used: {why}. Install the program again")]
    Font {
        /// The font's name.
        name: &'static str,
        /// What the font reader says.
        why: String,
    },
    /// Whoever watched the print said that it should not go on.
    #[error("The print was stopped. Nothing was written")]
    Stopped,
    /// The PDF writer refuses; holds what it says.
    #[error("The PDF could not be made: {0}. Nothing was written")]
    Pdf(String),
}

/// Is told now and then how much of a print is done, from 0 to 1, and says whether to go on.
pub type Watch<'a> = &'a dyn Fn(f32) -> bool;

/// Lets a print go on to its end.
pub fn unwatched(_done: f32) -> bool {
    true
}

/// Tells whoever watches how much is done, and stops where the answer is no.
///
/// # Errors
/// [`PrintFault::Stopped`].
pub fn tell(watch: Watch<'_>, done: f32) -> Result<(), PrintFault> {
    if watch(done) {
        Ok(())
    } else {
        Err(PrintFault::Stopped)
    }
}

/// How much of a print is done when it is laid out and yet to be written, from 0 to 1.
pub const LAID_OUT: f32 = 0.3;

/// The sheet that a print is laid out for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Paper {
    /// 8.5 by 11 in.
    #[default]
    Letter,
    /// 210 by 297 mm (ISO 216).
    A4,
}

impl Paper {
    /// Width and height in points, upright.
    pub fn size(self) -> (f32, f32) {
        match self {
            Self::Letter => (8.5 * 72.0, 11.0 * 72.0),
            Self::A4 => (210.0 * POINTS_PER_MM, 297.0 * POINTS_PER_MM),
        }
    }

    /// The paper that a word names, `letter` or `a4`, in any case.
    pub fn from_name(name: &str) -> Option<Self> {
        match name.to_ascii_lowercase().as_str() {
            "letter" => Some(Self::Letter),
            "a4" => Some(Self::A4),
            _ => None,
        }
    }
}

/// What all pages of a print share.
#[derive(Debug, Clone, PartialEq)]
pub struct PrintSettings {
    /// The sheet.
    pub paper: Paper,
    /// Whether the sheet lies on its long side.
    pub landscape: bool,
    /// Blank edge on all four sides, in points.
    pub margin: f32,
    /// Title in the document's properties.
    pub title: String,
    /// Author in the document's properties; may be empty.
    pub author: String,
    /// Date in the document's properties; none leaves it out.
    pub date: Option<Date>,
    /// One line at the top of every page, shortened at its end where it is too long; may be empty.
    pub head: String,
    /// One line at the foot of every page, beside `page i of n`, shortened like the head.
    pub foot: String,
}

impl PrintSettings {
    /// Upright settings with margins of 15 mm, no author, date or head, and [`CAUTION`] at the foot.
    pub fn new(paper: Paper, title: impl Into<String>) -> Self {
        Self {
            paper,
            landscape: false,
            margin: 15.0 * POINTS_PER_MM,
            title: title.into(),
            author: String::new(),
            date: None,
            head: String::new(),
            foot: CAUTION.to_owned(),
        }
    }

    /// Width and height of the sheet as it lies, in points.
    pub fn size(&self) -> (f32, f32) {
        let (width, height) = self.paper.size();
        if self.landscape {
            (height, width)
        } else {
            (width, height)
        }
    }

    /// Left, top, right and bottom of what the running head, the foot and the margins leave, in points.
    pub fn room(&self) -> (f32, f32, f32, f32) {
        let (width, height) = self.size();
        let head = if self.head.is_empty() { 0.0 } else { EDGE_ROOM };
        let (left, top) = (self.margin, self.margin + head);
        (left, top, width - self.margin, height - self.margin - EDGE_ROOM)
    }
}

/// What a filled form is filled with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// Black.
    Black,
    /// The colour of the paper, over what was drawn before.
    White,
}

/// One thing drawn on a page.
#[derive(Debug, Clone, PartialEq)]
pub enum Mark {
    /// One line of text.
    Text {
        /// Left end in points.
        x: f32,
        /// Baseline in points from the top.
        baseline: f32,
        /// Size in points.
        size: f32,
        /// Thin or thick letters.
        weight: Weight,
        /// The text, without line ends.
        text: String,
    },
    /// A straight rule.
    Rule {
        /// Start, x and y in points.
        from: (f32, f32),
        /// End, x and y in points.
        to: (f32, f32),
        /// Thickness in points.
        thickness: f32,
    },
    /// An empty box.
    Frame {
        /// Left top corner in points.
        at: (f32, f32),
        /// Width and height in points.
        size: (f32, f32),
        /// Thickness of its edge in points.
        thickness: f32,
    },
    /// A filled form without an edge.
    Filled {
        /// Its corners in order, x and y in points.
        corners: Vec<(f32, f32)>,
        /// What it is filled with.
        ink: Ink,
    },
}

impl Mark {
    /// A filled rectangle.
    pub fn filled_box(at: (f32, f32), size: (f32, f32), ink: Ink) -> Self {
        let ((left, top), (right, bottom)) = (at, (at.0 + size.0, at.1 + size.1));
        let corners = vec![(left, top), (right, top), (right, bottom), (left, bottom)];
        Self::Filled { corners, ink }
    }
}

/// The marks of one page, in the order in which they are drawn.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Page {
    /// The marks.
    pub marks: Vec<Mark>,
}

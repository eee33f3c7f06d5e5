//! Prints as PDF: pages of text, rules and tables in black on white, the same bytes from the same input.
//!
//! A print is first laid out as a list of marks per page ([`Flow`] for running text and tables, [`Page`] directly for
//! drawings at true scale), then written by [`write_pdf`], which knows the number of pages and adds to each the running
//! head and the foot. There is no clock: a date is an argument. Lengths are in points, 72 to the inch, from the top
//! left corner of the sheet.

mod flow;
mod fonts;
mod pdf;
mod squares;

use jiff::civil::Date;
use serde::{Deserialize, Serialize};
use thiserror::Error;

pub use flow::{Align, Cell, Column, Flow, FormItem, Table, Width};
pub use fonts::{Fonts, Weight};
pub use pdf::write_pdf;
pub use squares::{Run, Squares};

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
    /// A picture cannot be drawn as dots; holds why.
    #[error("The picture could not be drawn: {0}. Nothing was written")]
    Picture(String),
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
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Serialize, Deserialize)]
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
    /// Whether the whole sheet belongs to what is drawn: no head, no foot, no page number.
    pub is_bare: bool,
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
            is_bare: false,
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

/// What a form is filled or a line is drawn with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Ink {
    /// Black.
    Black,
    /// The colour of the paper, over what was drawn before.
    White,
    /// Red, green and blue of sRGB. Nothing may be told by colour only.
    Colour([u8; 3]),
}

/// The edge of a form, or an open line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Edge {
    /// What it is drawn with.
    pub ink: Ink,
    /// Thickness in points.
    pub thickness: f32,
    /// Length of dashes and of the gaps between them, in points; none draws it whole.
    pub dash: Option<f32>,
}

impl Edge {
    /// A whole line.
    pub const fn new(ink: Ink, thickness: f32) -> Self {
        let dash = None;
        Self { ink, thickness, dash }
    }

    /// A dashed line.
    pub const fn dashed(ink: Ink, thickness: f32, dash: f32) -> Self {
        let dash = Some(dash);
        Self { ink, thickness, dash }
    }
}

/// Left top corner and size of a box, x before y, in points.
pub type BoxAt = ((f32, f32), (f32, f32));

/// What a form looks like; x and y in points.
#[derive(Debug, Clone, PartialEq)]
pub enum Outline {
    /// A circle.
    Circle {
        /// Its middle.
        middle: (f32, f32),
        /// From the middle to the edge.
        radius: f32,
    },
    /// Straight pieces from point to point.
    Line(Vec<(f32, f32)>),
    /// The same, and back to the first point.
    Polygon(Vec<(f32, f32)>),
    /// Squares of one size that belong together, such as the modules of a square code.
    Squares(Squares),
}

impl Outline {
    /// An upright rectangle between two opposite corners.
    pub fn rectangle(a: (f32, f32), b: (f32, f32)) -> Self {
        Self::Polygon(vec![a, (b.0, a.1), b, (a.0, b.1)])
    }
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
    /// One line of text turned by a quarter, to be read upwards.
    Rising {
        /// Baseline in points from the left.
        baseline: f32,
        /// Lower end, where the text begins, in points from the top.
        y: f32,
        /// Size in points.
        size: f32,
        /// Thin or thick letters.
        weight: Weight,
        /// The text, without line ends.
        text: String,
    },
    /// A form with a filling, an edge or both.
    Form {
        /// What it looks like.
        outline: Outline,
        /// What it is filled with; an open line has no filling.
        fill: Option<Ink>,
        /// Its edge.
        edge: Option<Edge>,
    },
}

impl Mark {
    /// The same mark, so many points further right and down.
    #[must_use]
    pub fn moved(mut self, by: (f32, f32)) -> Self {
        let shift = |at: &mut (f32, f32)| *at = (at.0 + by.0, at.1 + by.1);
        match &mut self {
            Self::Text { x, baseline, .. } => {
                *x += by.0;
                *baseline += by.1;
            }
            Self::Rising { baseline, y, .. } => {
                *baseline += by.0;
                *y += by.1;
            }
            Self::Rule { from, to, .. } => [from, to].into_iter().for_each(shift),
            Self::Frame { at, .. } => shift(at),
            Self::Filled { corners, .. } => corners.iter_mut().for_each(shift),
            Self::Form { outline, .. } => match outline {
                Outline::Circle { middle, .. } => shift(middle),
                Outline::Line(points) | Outline::Polygon(points) => points.iter_mut().for_each(shift),
                Outline::Squares(squares) => shift(&mut squares.at),
            },
        }
        self
    }

    /// A filled rectangle.
    pub fn filled_box(at: (f32, f32), size: (f32, f32), ink: Ink) -> Self {
        let ((left, top), (right, bottom)) = (at, (at.0 + size.0, at.1 + size.1));
        let corners = vec![(left, top), (right, top), (right, bottom), (left, bottom)];
        Self::Filled { corners, ink }
    }
}

/// A print that is laid out, before it is written.
#[derive(Debug, Clone, PartialEq)]
pub struct Laid {
    /// What all pages share.
    pub settings: PrintSettings,
    /// The pages, without running head and foot.
    pub pages: Vec<Page>,
}

impl Laid {
    /// Writes it as PDF.
    ///
    /// # Errors
    /// The PDF writer refuses; whoever watches says stop.
    pub fn pdf(&self, fonts: &Fonts, watch: Watch<'_>) -> Result<Vec<u8>, PrintFault> {
        write_pdf(fonts, &self.settings, &self.pages, watch)
    }
}

/// The marks of one page, in the order in which they are drawn.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Page {
    /// The marks.
    pub marks: Vec<Mark>,
}

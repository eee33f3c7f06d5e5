//! Pictures of plots: one drawing, written as SVG, as PNG or as PDF, the same bytes from the same input.
//!
//! A [`Picture`] is made of the marks that prints are made of, in groups that have names, so that a reader of SVG can
//! be told what a mark is. The PNG is drawn from the SVG, so the two cannot differ.

pub mod axes;
pub mod caption;
mod png;
mod svg;

pub use png::{check_dots, write_png};
pub use svg::write_svg;

use std::ops::RangeInclusive;

use super::print::{Fonts, LAID_OUT, Mark, Page, Paper, PrintFault, PrintSettings, Watch, tell, write_pdf};

/// How many dots a side of a PNG may have: fewer leave no room for words, more no memory.
pub const DOTS: RangeInclusive<u32> = 400..=6_000;

/// Dots of a PNG for a point.
const DOTS_A_POINT: f32 = 2.0;

/// Marks that belong together.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Group {
    /// By what the group is found in the file, such as `ear-12`; letters, digits and hyphens. May be empty.
    pub id: String,
    /// What it is, in words; may be empty.
    pub title: String,
    /// What it is drawn with, in this order.
    pub marks: Vec<Mark>,
    /// What is drawn over these.
    pub groups: Vec<Group>,
}

impl Group {
    /// A group of marks.
    pub fn new(id: impl Into<String>, title: impl Into<String>, marks: Vec<Mark>) -> Self {
        Self {
            id: id.into(),
            title: title.into(),
            marks,
            groups: Vec::new(),
        }
    }

    fn all_marks<'a>(&'a self, into: &mut Vec<&'a Mark>) {
        into.extend(&self.marks);
        for group in &self.groups {
            group.all_marks(into);
        }
    }
}

/// A drawing on white.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Picture {
    /// What it is, in one line.
    pub title: String,
    /// What is seen on it, in sentences, for who cannot see it.
    pub about: String,
    /// Width and height in points.
    pub size: (f32, f32),
    /// What is drawn, in this order.
    pub groups: Vec<Group>,
}

impl Picture {
    /// All marks in the order in which they are drawn.
    pub fn marks(&self) -> Vec<&Mark> {
        let mut marks = Vec::new();
        for group in &self.groups {
            group.all_marks(&mut marks);
        }
        marks
    }
}

/// How a picture is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PictureForm {
    /// Lines and text for other programs, of any size (SVG 1.1).
    Svg,
    /// Dots.
    Png,
    /// A page to print.
    Pdf,
}

impl PictureForm {
    /// All forms with the ending of their files.
    pub const ALL: [(Self, &'static str); 3] = [(Self::Svg, "svg"), (Self::Png, "png"), (Self::Pdf, "pdf")];
}

/// As what a picture is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct PictureOrder {
    /// The form of the file.
    pub form: PictureForm,
    /// Width and height of a PNG in dots. An SVG has the same sides with a point for two dots.
    pub dots: [u32; 2],
    /// The sheet of a PDF, which lies on its long side.
    pub paper: Paper,
}

impl PictureOrder {
    /// This form with 1600 by 1000 dots, on the usual paper.
    pub fn new(form: PictureForm) -> Self {
        Self {
            form,
            dots: [1600, 1000],
            paper: Paper::default(),
        }
    }
}

/// Draws a picture in the size that the order asks for, and writes it. `of` is the name of the project and `what` what
/// is drawn; `drawn` draws it into so many points. The same input gives the same bytes.
///
/// # Errors
/// The sides in dots are not in [`DOTS`]; the PDF writer refuses; whoever watches says stop.
pub fn picture_file(
    order: PictureOrder,
    of: &str,
    what: &str,
    drawn: impl Fn(&Fonts, [f32; 2]) -> Picture,
    watch: Watch<'_>,
) -> Result<Vec<u8>, PrintFault> {
    check_dots(order.dots)?;
    let fonts = Fonts::new()?;
    tell(watch, 0.0)?;
    let size = order.dots.map(|side| side as f32 / DOTS_A_POINT);
    match order.form {
        PictureForm::Svg => Ok(write_svg(&fonts, &drawn(&fonts, size))),
        PictureForm::Png => write_png(&fonts, &drawn(&fonts, size), order.dots, watch),
        PictureForm::Pdf => {
            let settings = PrintSettings {
                landscape: true,
                // The picture itself says what it is not for.
                foot: of.to_owned(),
                ..PrintSettings::new(order.paper, format!("{of}: {what}"))
            };
            let (left, top, right, bottom) = settings.room();
            let picture = drawn(&fonts, [right - left, bottom - top]);
            write_picture_pdf(&fonts, &settings, &picture, watch)
        }
    }
}

/// Writes a picture as the one page of a PDF. The picture must be of the size of [`PrintSettings::room`].
///
/// # Errors
/// The PDF writer refuses; whoever watches says stop.
pub fn write_picture_pdf(
    fonts: &Fonts,
    settings: &PrintSettings,
    picture: &Picture,
    watch: Watch<'_>,
) -> Result<Vec<u8>, PrintFault> {
    tell(watch, LAID_OUT)?;
    let (left, top, ..) = settings.room();
    let marks = picture.marks().into_iter().cloned();
    let marks = marks.map(|mark| mark.moved((left, top))).collect();
    write_pdf(fonts, settings, &[Page { marks }], watch)
}

//! The cells of a tray at true scale, on as many sheets as they need.

use super::super::print::{Fonts, Ink, Mark, POINTS_PER_MM, Page, PrintSettings, Weight};
use super::drawing::{Canvas, Line, USUAL_WIDTH};
use super::shape::{Area, Shape};
use super::{MOST_SHEETS, Pages, Printed, TrayPrint, TrayPrintFault};
use crate::insight::trays_text;
use crate::model::{CellContent, Tray, cell_name};

/// The length of the bar by which a print is proved, in millimetres.
const BAR: f32 = 50.0;
/// Blank edge of a sheet, in millimetres: printers need one.
const MARGIN: f32 = 9.0;
/// Room at the top of a sheet for its name and the bar, in millimetres.
const STRIP: f32 = 28.0;
/// By how much neighbouring sheets overlap, in millimetres.
const OVERLAP: f32 = 10.0;
/// Room around the drawing for trim marks, in millimetres.
const TRIM: f32 = 4.0;
/// Thickness of a cell's edge, in points.
const EDGE: f32 = 0.9;
/// Half the width of the crosses on which sheets are joined, in millimetres.
const CROSS: f32 = 3.0;

/// Trays that one cloth map is good for.
struct Cloth<'a> {
    shape: Shape,
    trays: Vec<&'a Tray>,
    /// What lies in each cell in reading order; none where the trays differ.
    contents: Vec<Option<CellContent>>,
}

pub(super) fn pages(printed: &Printed<'_>, fonts: &Fonts) -> Result<Pages, TrayPrintFault> {
    let settings = PrintSettings {
        margin: MARGIN * POINTS_PER_MM,
        ..printed.settings(TrayPrint::ClothMap)
    };
    let cloths = cloths(printed);
    let sheets = |cloth: &Cloth<'_>| {
        let sheets = Sheets::new(&settings, &cloth.shape);
        sheets.columns() * sheets.rows()
    };
    let count = cloths.iter().map(sheets).sum();
    if count > MOST_SHEETS {
        return Err(TrayPrintFault::TooManySheets { sheets: count });
    }
    let mut pages = Vec::with_capacity(count);
    for cloth in &cloths {
        let sheets = Sheets::new(&settings, &cloth.shape);
        for row in 0..sheets.rows() {
            for column in 0..sheets.columns() {
                let sheet = Sheet {
                    printed,
                    fonts,
                    cloth,
                    sheets: &sheets,
                    row,
                    column,
                };
                pages.push(sheet.page());
            }
        }
    }
    Ok((settings, pages))
}

/// With ear numbers every tray has a map of its own; without, all trays of one shape share one.
fn cloths<'a>(printed: &Printed<'a>) -> Vec<Cloth<'a>> {
    let mut cloths: Vec<Cloth<'a>> = Vec::new();
    for tray in &printed.trays {
        let shape = Shape::of(printed.test, tray);
        let contents = contents(printed, tray);
        let same = |cloth: &&mut Cloth<'_>| cloth.shape == shape && !printed.order.with_ears;
        if let Some(cloth) = cloths.iter_mut().find(same) {
            cloth.trays.push(tray);
            for (known, other) in cloth.contents.iter_mut().zip(contents) {
                if *known != other {
                    *known = None;
                }
            }
        } else {
            cloths.push(Cloth {
                shape,
                trays: vec![tray],
                contents,
            });
        }
    }
    cloths
}

/// What lies in every cell of the grid. A cell without a record is spare.
fn contents(printed: &Printed<'_>, tray: &Tray) -> Vec<Option<CellContent>> {
    let places = (1..=tray.rows).flat_map(|row| (1..=tray.columns).map(move |column| (row, column)));
    places
        .map(|(row, column)| {
            let cell = printed.project.cell_at(tray.id, row, column);
            Some(cell.map_or(CellContent::Spare, |cell| cell.content))
        })
        .collect()
}

/// How a cloth map is cut into sheets.
struct Sheets {
    across: Vec<f32>,
    down: Vec<f32>,
    /// Left top corner of the drawing on every sheet, in points.
    corner: (f32, f32),
    /// Left, top and right of the room for the sheet's name and the bar, in points.
    strip: (f32, f32, f32),
}

impl Sheets {
    fn new(settings: &PrintSettings, shape: &Shape) -> Self {
        let (left, top, right, bottom) = settings.room();
        let used = 2.0 * TRIM + OVERLAP;
        let room = (
            (right - left) / POINTS_PER_MM - used,
            (bottom - top) / POINTS_PER_MM - STRIP - used,
        );
        let (across, down) = shape.cuts(room, OVERLAP);
        Self {
            across,
            down,
            corner: (left + TRIM * POINTS_PER_MM, top + (STRIP + TRIM) * POINTS_PER_MM),
            strip: (left, top, right),
        }
    }

    fn columns(&self) -> usize {
        self.across.len() - 1
    }

    fn rows(&self) -> usize {
        self.down.len() - 1
    }

    /// Number of a sheet in reading order, from 1. Letters would be taken for those of a cell.
    fn number(&self, row: usize, column: usize) -> usize {
        row * self.columns() + column + 1
    }

    /// What a sheet holds without the strip that the next one covers, in millimetres.
    fn body(&self, row: usize, column: usize) -> Area {
        Area {
            left: self.across[column],
            top: self.down[row],
            right: self.across[column + 1],
            bottom: self.down[row + 1],
        }
    }

    /// The sheet that shows most of an area: there the cell's text is.
    fn home(&self, area: Area) -> (usize, usize) {
        let most = |cuts: &[f32], from: f32, to: f32| {
            let shown = |at: usize| to.min(cuts[at + 1]) - from.max(cuts[at]);
            // The first of several that show as much.
            (0..cuts.len() - 1)
                .rev()
                .max_by(|one, other| shown(*one).total_cmp(&shown(*other)))
                .unwrap_or(0)
        };
        (
            most(&self.down, area.top, area.bottom),
            most(&self.across, area.left, area.right),
        )
    }
}

/// One sheet of a cloth map.
struct Sheet<'a> {
    printed: &'a Printed<'a>,
    fonts: &'a Fonts,
    cloth: &'a Cloth<'a>,
    sheets: &'a Sheets,
    row: usize,
    column: usize,
}

impl Sheet<'_> {
    fn page(&self) -> Page {
        let body = self.sheets.body(self.row, self.column);
        let flap = |is_last: bool| if is_last { 0.0 } else { OVERLAP };
        let window = Area {
            right: body.right + flap(self.column + 1 == self.sheets.columns()),
            bottom: body.bottom + flap(self.row + 1 == self.sheets.rows()),
            ..body
        };
        let scale = POINTS_PER_MM;
        let corner = self.sheets.corner;
        let mut canvas = Canvas {
            fonts: self.fonts,
            marks: Vec::new(),
            corner: (corner.0 - body.left * scale, corner.1 - body.top * scale),
            scale,
            window: window.grown(0.3),
        };
        self.cells(&mut canvas, body);
        canvas.frame(self.cloth.shape.whole(), 2.0);
        canvas.orientation(&self.cloth.shape);
        canvas.window = window.grown(TRIM);
        self.joints(&mut canvas, body, window);
        let mut marks = canvas.marks;
        marks.extend(self.strip());
        Page { marks }
    }

    fn cells(&self, canvas: &mut Canvas<'_>, body: Area) {
        let shape = &self.cloth.shape;
        let places = (1..=shape.rows).flat_map(|row| (1..=shape.columns).map(move |column| (row, column)));
        for ((row, column), content) in places.zip(&self.cloth.contents) {
            let area = shape.area(row, column);
            if area.meet(canvas.window).is_none() {
                continue;
            }
            let least = area.width().min(area.height());
            let is_landmark = *content == Some(CellContent::Landmark);
            if is_landmark {
                canvas.hatch(area, (least * 0.12).clamp(1.0, 4.0), 0.5);
            }
            canvas.frame(area, EDGE);
            if let Some(CellContent::Check(_)) = content {
                canvas.frame(area.grown(-(least * 0.06).min(2.5)), 1.6);
            }
            let Some(seen) = shape.text_area(row, column).meet(body) else {
                continue;
            };
            let code = cell_name(row, column);
            if self.sheets.home(area) == (self.row, self.column) {
                canvas.stack(seen, &self.lines(code, *content), is_landmark);
            } else if seen.width() > 25.0 && seen.height() > 15.0 {
                canvas.stack(
                    seen,
                    &[line(format!("part of {code}"), Weight::Regular, 0.3, 11.0)],
                    is_landmark,
                );
            }
        }
    }

    fn lines(&self, code: String, content: Option<CellContent>) -> Vec<Line> {
        if !self.printed.order.with_ears {
            return match content {
                Some(CellContent::Check(_)) => {
                    vec![
                        line(code, Weight::Bold, 0.5, 60.0),
                        line("check".to_owned(), Weight::Regular, 0.2, 16.0),
                    ]
                }
                _ => vec![line(code, Weight::Bold, 0.6, 60.0)],
            };
        }
        let below = match content {
            Some(CellContent::Ear(_)) => {
                let ear = content.and_then(|content| self.printed.ear(content));
                let number = ear.map_or_else(String::new, |ear| ear.number.to_string());
                line(number, Weight::Regular, 0.36, 40.0)
            }
            Some(CellContent::Check(number)) => line(format!("check {number}"), Weight::Regular, 0.25, 20.0),
            Some(CellContent::Landmark) => line("leave empty".to_owned(), Weight::Regular, 0.16, 12.0),
            Some(CellContent::Spare) | None => line("spare".to_owned(), Weight::Regular, 0.2, 14.0),
        };
        vec![line(code, Weight::Bold, 0.44, 48.0), below]
    }

    /// Trim marks outside the drawing, and crosses on the lines where sheets are joined.
    fn joints(&self, canvas: &mut Canvas<'_>, body: Area, window: Area) {
        let (from, to) = (0.8, TRIM);
        for x in [body.left, body.right] {
            canvas.rule((x, window.top - to), (x, window.top - from), 0.5);
            canvas.rule((x, window.bottom + from), (x, window.bottom + to), 0.5);
        }
        for y in [body.top, body.bottom] {
            canvas.rule((window.left - to, y), (window.left - from, y), 0.5);
            canvas.rule((window.right + from, y), (window.right + to, y), 0.5);
        }
        let shape = &self.cloth.shape;
        let (across, down) = shape.between();
        let mut crosses = Vec::new();
        for x in seams(body.left, body.right, shape.container.0) {
            crosses.extend(cross_places(body.top, body.bottom, &down).map(|y| (x, y)));
        }
        for y in seams(body.top, body.bottom, shape.container.1) {
            crosses.extend(cross_places(body.left, body.right, &across).map(|x| (x, y)));
        }
        for (x, y) in crosses {
            canvas.rule((x - CROSS, y), (x + CROSS, y), 0.5);
            canvas.rule((x, y - CROSS), (x, y + CROSS), 0.5);
            canvas.ring((x, y), CROSS * 0.55, 0.5);
        }
    }

    /// The sheet's name, how the sheets lie, and the bar.
    fn strip(&self) -> Vec<Mark> {
        let (left, top, right) = self.sheets.strip;
        let mm = POINTS_PER_MM;
        let count = self.sheets.rows() * self.sheets.columns();
        let mut marks = Vec::new();
        let mut text = |x: f32, down: f32, size: f32, weight: Weight, width: f32, text: &str| {
            marks.push(Mark::Text {
                x,
                baseline: top + down * mm,
                size,
                weight,
                text: self.fonts.shorten(text, size, weight, width),
            });
        };
        let bar_left = right - BAR * mm;
        let name = if count > 1 {
            format!("Sheet {} of {count}", self.sheets.number(self.row, self.column))
        } else {
            "One sheet".to_owned()
        };
        let names_width = 66.0 * mm;
        text(left, 8.0, 22.0, Weight::Bold, names_width, &name);
        text(left, 13.0, 10.0, Weight::Bold, names_width, &self.good_for());
        text(left, 17.0, 8.5, Weight::Regular, names_width, &self.lengths());
        text(bar_left, 10.0, 8.5, Weight::Bold, BAR * mm, "This bar is 50 mm.");
        text(
            bar_left,
            14.0,
            8.5,
            Weight::Regular,
            BAR * mm,
            "Print at 100 %, not fit to page.",
        );
        let how = if count > 1 {
            "Cut off what lies left of and above the trim marks. Lay the sheet on the 10 mm strip of its neighbour, cross on cross."
        } else {
            "Cut along the thick line."
        };
        text(left, 21.6, 8.5, Weight::Regular, right - left, how);
        let sides = "The black corner is the tray's top left; the arrow points to its top edge. Hatched cells stay empty; double frames are checks.";
        text(left, 25.4, 8.5, Weight::Regular, right - left, sides);
        marks.push(proof_bar((bar_left, top + 2.5 * mm)));
        if count > 1 {
            self.overview(
                &mut marks,
                (left + 72.0 * mm, top + 1.5 * mm),
                (bar_left - left - 80.0 * mm, 15.5 * mm),
            );
        }
        marks
    }

    fn good_for(&self) -> String {
        let trays = &self.cloth.trays;
        let of = self.printed.of;
        match trays.as_slice() {
            [] => String::new(),
            [only] => format!("{}{}", self.printed.tray_of(only), self.printed.container(only)),
            trays if trays.len() == of => format!("For each of the {of} trays"),
            trays => format!(
                "For {}{}",
                trays_text(trays.iter().map(|tray| tray.number)),
                self.printed.container(trays[0])
            ),
        }
    }

    fn lengths(&self) -> String {
        let (shape, printed) = (&self.cloth.shape, self.printed);
        let (tray, cell) = (printed.pair(shape.container), printed.pair(shape.cell));
        format!("tray {tray}, cells {cell}")
    }

    /// How the sheets lie, this one black, in a room of so many points.
    fn overview(&self, marks: &mut Vec<Mark>, at: (f32, f32), room: (f32, f32)) {
        let (width, height) = self.cloth.shape.container;
        let scale = (room.0 / width).min(room.1 / height);
        for row in 0..self.sheets.rows() {
            for column in 0..self.sheets.columns() {
                let body = self.sheets.body(row, column);
                let corner = (at.0 + body.left * scale, at.1 + body.top * scale);
                let size = (body.width() * scale, body.height() * scale);
                if (row, column) == (self.row, self.column) {
                    marks.push(Mark::filled_box(corner, size, Ink::Black));
                    continue;
                }
                marks.push(Mark::Frame {
                    at: corner,
                    size,
                    thickness: 0.5,
                });
                let name = self.sheets.number(row, column).to_string();
                let letters = (size.1 * 0.6).min(10.0);
                let text_width = self.fonts.width(&name, letters, Weight::Regular);
                if letters > 4.0 && text_width < size.0 * 0.9 {
                    marks.push(Mark::Text {
                        x: corner.0 + (size.0 - text_width) / 2.0,
                        baseline: corner.1 + size.1 / 2.0 + letters * 0.36,
                        size: letters,
                        weight: Weight::Regular,
                        text: name,
                    });
                }
            }
        }
    }
}

/// Those of two edges of a sheet at which another sheet begins.
fn seams(near: f32, far: f32, length: f32) -> impl Iterator<Item = f32> {
    [near, far]
        .into_iter()
        .filter(move |at| *at > 0.0 && *at < length)
}

/// Where the two crosses of a seam are: at about a quarter and three quarters of it, between cells where that can be
/// had, so that they lie on no text.
fn cross_places(from: f32, to: f32, between: &[f32]) -> [f32; 2] {
    let quarters = [0.25, 0.75].map(|part| from + (to - from) * part);
    let nearest = |at: f32| {
        let inside = between.iter().copied().filter(|edge| from < *edge && *edge < to);
        inside.min_by(|one, other| (one - at).abs().total_cmp(&(other - at).abs()))
    };
    match quarters.map(nearest) {
        [Some(first), Some(second)] if first < second => [first, second],
        _ => quarters,
    }
}

/// The bar of 50 mm by which a print is proved.
fn proof_bar(at: (f32, f32)) -> Mark {
    Mark::filled_box(at, (BAR * POINTS_PER_MM, 3.0 * POINTS_PER_MM), Ink::Black)
}

fn line(text: String, weight: Weight, share: f32, most: f32) -> Line {
    Line {
        text,
        weight,
        width: USUAL_WIDTH,
        share,
        most,
    }
}

#[cfg(test)]
mod tests {
    use super::super::TrayPrintOrder;
    use super::super::sample::designed;
    use super::*;
    use crate::exchange::print::{Paper, unwatched};
    use crate::model::{TestId, TrayPlan};

    /// The marks of the cloth map of one tray of 16 by 12 inches with cells of 2 by 3 inches, sheet by sheet.
    fn sheets(paper: Paper) -> Vec<Vec<Mark>> {
        let project = designed(24, TrayPlan::default());
        let order = TrayPrintOrder {
            test: TestId(1),
            tray: None,
            paper,
            with_ears: false,
        };
        let printed = Printed::new(&project, order, &unwatched).unwrap();
        let (_, pages) = pages(&printed, &Fonts::new().unwrap()).unwrap();
        pages.into_iter().map(|page| page.marks).collect()
    }

    /// The places of the upright edges of cells from the left, in points.
    fn upright(marks: &[Mark]) -> Vec<f32> {
        let mut places: Vec<f32> = marks
            .iter()
            .filter_map(|mark| match mark {
                Mark::Rule { from, to, thickness }
                    if (from.0 - to.0).abs() < 0.001 && (thickness - EDGE).abs() < 0.001 =>
                {
                    Some(from.0)
                }
                _ => None,
            })
            .collect();
        places.sort_by(f32::total_cmp);
        places.dedup_by(|one, other| (*one - *other).abs() < 0.01);
        places
    }

    #[test]
    fn the_bar_is_fifty_millimetres_and_a_cell_is_a_cell_on_every_sheet() {
        for paper in [Paper::Letter, Paper::A4] {
            let sheets = sheets(paper);
            assert_eq!(sheets.len(), 6);
            for marks in &sheets {
                // 72 points to the inch of 25.4 mm, by definition: 50 mm are 141.73 points.
                let bars: Vec<f32> = marks
                    .iter()
                    .filter_map(|mark| match mark {
                        Mark::Filled {
                            corners,
                            ink: Ink::Black,
                        } if corners.len() == 4 => Some(corners[1].0 - corners[0].0),
                        _ => None,
                    })
                    .filter(|width| *width > 100.0)
                    .collect();
                assert_eq!(bars.len(), 1, "{bars:?}");
                assert!((bars[0] - 141.732).abs() < 0.005, "{bars:?}");
                // Cells of two inches are 144 points wide.
                let upright = upright(marks);
                assert!(upright.len() >= 3, "{upright:?}");
                for pair in upright.windows(2).take(2) {
                    assert!((pair[1] - pair[0] - 144.0).abs() < 0.01, "{upright:?}");
                }
            }
        }
    }
}

//! One page for each tray: what lies where. Where a tray has so many cells that its numbers come out small, pages with
//! its parts follow in large letters.

use super::super::print::{Fonts, Mark, POINTS_PER_MM, Page, PrintFault, PrintSettings, Weight};
use super::drawing::{Canvas, LINE, Line, USUAL_WIDTH};
use super::shape::{Area, Shape};
use super::{Pages, Printed, TrayPrint};
use crate::model::{Cell, CellContent, Tray, capital, cell_name, plural, row_letters};

/// Room for the tray's number and what is known of it, in points.
const HEADING: f32 = 62.0;
/// Room for the letters of the rows, left of the tray, in points.
const LETTERS: f32 = 24.0;
/// Room for the arrow and the numbers of the columns, above the tray, in points.
const NUMBERS: f32 = 34.0;
/// Room for what the signs mean, below the tray, in points.
const LEGEND: f32 = 44.0;
/// The least size in points at which a cell's name is worth its ink: the edges tell it too.
const LEAST_NAME: f32 = 5.0;
/// The largest scale, in points for a millimetre: no tray is drawn larger than it is.
const MOST_SCALE: f32 = POINTS_PER_MM;
/// The least size of an ear number that is read in the cold room, in points.
const READABLE: f32 = 14.0;
/// The largest size of an ear number, in points.
const MOST_NUMBER: f32 = 40.0;
/// The part of a cell's height that its number takes below its name.
const NUMBER_SHARE: f32 = 0.5;

pub(super) fn pages(printed: &Printed<'_>, fonts: &Fonts) -> Result<Pages, PrintFault> {
    let upright = PrintSettings {
        margin: 10.0 * POINTS_PER_MM,
        ..printed.settings(TrayPrint::TrayMap)
    };
    let lying = PrintSettings {
        landscape: true,
        ..upright.clone()
    };
    let shapes: Vec<Shape> = printed
        .trays
        .iter()
        .map(|tray| Shape::of(printed.test, tray))
        .collect();
    // The page lies as the tray that comes out smallest is drawn largest.
    let least = |settings: &PrintSettings| {
        let scales = shapes.iter().map(|shape| scale(settings, shape.container));
        scales.fold(MOST_SCALE, f32::min)
    };
    let settings = if least(&lying) > least(&upright) {
        lying
    } else {
        upright
    };
    let mut pages = Vec::with_capacity(shapes.len());
    for (done, (tray, shape)) in printed.trays.iter().zip(&shapes).enumerate() {
        printed.tell(done)?;
        let map = Map {
            printed,
            fonts,
            settings: &settings,
            tray,
            shape,
            cells: printed.cells(tray),
        };
        map.draw(&mut pages);
    }
    Ok((settings, pages))
}

/// Points for a millimetre of something so wide and high that is drawn as large as the page allows.
fn scale(settings: &PrintSettings, (width, height): (f32, f32)) -> f32 {
    let room = room(settings);
    (room.0 / width).min(room.1 / height).min(MOST_SCALE)
}

/// Width and height on a page for the tray itself, in points.
fn room(settings: &PrintSettings) -> (f32, f32) {
    let (left, top, right, bottom) = settings.room();
    (right - left - LETTERS, bottom - top - HEADING - NUMBERS - LEGEND)
}

/// How the texts of a page's cells are set.
#[derive(Clone, Copy)]
struct Setting {
    /// Size of the ear numbers, in points.
    number: f32,
    /// Whether the numbers have the cells for themselves, without the cells' names.
    alone: bool,
}

/// Rows and columns of a tray, first and last, from 1.
#[derive(Clone, Copy, PartialEq)]
struct Part {
    rows: (u16, u16),
    columns: (u16, u16),
}

impl Part {
    fn holds(self, row: u16, column: u16) -> bool {
        (self.rows.0..=self.rows.1).contains(&row) && (self.columns.0..=self.columns.1).contains(&column)
    }

    /// What is drawn of it, in millimetres: with the tray's edge where it reaches it.
    fn area(self, shape: &Shape) -> Area {
        let (first, last) = (
            shape.area(self.rows.0, self.columns.0),
            shape.area(self.rows.1, self.columns.1),
        );
        let whole = shape.whole();
        Area {
            left: if self.columns.0 == 1 {
                whole.left
            } else {
                first.left
            },
            top: if self.rows.0 == 1 { whole.top } else { first.top },
            right: if self.columns.1 == shape.columns {
                whole.right
            } else {
                last.right
            },
            bottom: if self.rows.1 == shape.rows {
                whole.bottom
            } else {
                last.bottom
            },
        }
    }
}

/// The map of one tray.
struct Map<'a> {
    printed: &'a Printed<'a>,
    fonts: &'a Fonts,
    settings: &'a PrintSettings,
    tray: &'a Tray,
    shape: &'a Shape,
    cells: Vec<&'a Cell>,
}

impl Map<'_> {
    fn draw(&self, pages: &mut Vec<Page>) {
        let whole = Part {
            rows: (1, self.shape.rows),
            columns: (1, self.shape.columns),
        };
        let scale = scale(self.settings, self.shape.container);
        let setting = self.setting(scale);
        pages.push(self.page(whole, scale, setting));
        if setting.number < READABLE {
            let parts = self.parts();
            for (part, scale) in parts.into_iter().filter(|(part, _)| *part != whole) {
                pages.push(self.page(part, scale, self.setting(scale)));
            }
        }
    }

    /// The width of the widest ear number in ems; that of a digit where there is none.
    fn widest(&self) -> f32 {
        let numbers = self
            .cells
            .iter()
            .filter_map(|cell| self.printed.ear(cell.content));
        let most = numbers.map(|ear| ear.number).max().unwrap_or(0);
        // All digits are equally wide.
        self.fonts.width(&most.to_string(), 1.0, Weight::Bold)
    }

    /// All ear numbers of a page have one size. Where that is too small beside the names of the cells, the numbers have
    /// the cells for themselves, since the edges name the cells too.
    fn setting(&self, scale: f32) -> Setting {
        let (width, height) = (self.shape.cell.0 * scale, self.shape.cell.1 * scale);
        let size = |across: f32, share: f32| {
            let most = (across * width / self.widest()).min(share * height / LINE);
            most.min(MOST_NUMBER)
        };
        let number = size(USUAL_WIDTH, NUMBER_SHARE);
        if number >= READABLE {
            return Setting { number, alone: false };
        }
        Setting {
            number: size(0.98, 0.85),
            alone: true,
        }
    }

    /// Parts of the tray that are as large as their numbers can be read, with the scale of each.
    fn parts(&self) -> Vec<(Part, f32)> {
        let room = room(self.settings);
        let (width, height) = self.shape.cell;
        let least =
            (READABLE * self.widest() / USUAL_WIDTH / width).max(READABLE * LINE / NUMBER_SHARE / height);
        // A little larger, so that rounding never makes a number too small.
        let least = least * 1.001;
        let fits = |all: u16, fits: &dyn Fn(u16) -> bool| -> u16 {
            let most = (1..=all).rev().find(|count| fits(*count)).unwrap_or(1);
            // As even as can be.
            all.div_ceil(all.div_ceil(most))
        };
        // The widest and the highest part is the one at the far edges, which may have a margin.
        let length = |part: Part| {
            let area = part.area(self.shape);
            (area.width(), area.height())
        };
        let of = |rows: (u16, u16), columns: (u16, u16)| Part { rows, columns };
        let (rows, columns) = (self.shape.rows, self.shape.columns);
        let across = fits(columns, &|count| {
            let ends = [of((1, 1), (1, count)), of((1, 1), (columns - count + 1, columns))];
            ends.iter().all(|part| length(*part).0 * least <= room.0)
        });
        let down = fits(rows, &|count| {
            let ends = [of((1, count), (1, 1)), of((rows - count + 1, rows), (1, 1))];
            ends.iter().all(|part| length(*part).1 * least <= room.1)
        });
        let steps = |all: u16, count: u16| {
            (1..=all)
                .step_by(usize::from(count))
                .map(move |first| (first, (first + count - 1).min(all)))
        };
        steps(rows, down)
            .flat_map(|rows| steps(columns, across).map(move |columns| of(rows, columns)))
            .map(|part| {
                let (width, height) = length(part);
                let scale = (room.0 / width).min(room.1 / height);
                (part, scale.min(MOST_SCALE.max(least)))
            })
            .collect()
    }

    fn page(&self, part: Part, scale: f32, setting: Setting) -> Page {
        let (left, top, right, _) = self.settings.room();
        let (shape, area) = (self.shape, part.area(self.shape));
        let is_whole = self.cells.iter().all(|cell| part.holds(cell.row, cell.column));
        let corner = (left + LETTERS, top + HEADING + NUMBERS);
        let mut canvas = Canvas {
            fonts: self.fonts,
            marks: heading(
                self.printed,
                self.fonts,
                (left, top, right),
                self.tray,
                (!is_whole).then_some(part),
            ),
            corner: (corner.0 - area.left * scale, corner.1 - area.top * scale),
            scale,
            // As far outwards as the thickest edge reaches.
            window: area.grown(1.5 / scale),
        };
        for cell in self.cells.iter().filter(|cell| part.holds(cell.row, cell.column)) {
            draw_cell(self.printed, &mut canvas, cell, shape, setting);
        }
        canvas.frame(shape.whole(), 1.6);
        canvas.orientation(shape);
        edges(&mut canvas, shape, part, corner);
        if is_whole {
            let below = canvas.at(0.0, shape.container.1);
            canvas.marks.extend(legend(
                self.printed,
                self.fonts,
                below,
                right - below.0,
                &self.cells,
            ));
        }
        Page { marks: canvas.marks }
    }
}

fn heading(
    printed: &Printed<'_>,
    fonts: &Fonts,
    (left, top, right): (f32, f32, f32),
    tray: &Tray,
    part: Option<Part>,
) -> Vec<Mark> {
    let width = right - left;
    let text = |down: f32, size: f32, weight: Weight, text: &str| Mark::Text {
        x: left,
        baseline: top + down,
        size,
        weight,
        text: fonts.shorten(text, size, weight, width),
    };
    let test = &printed.test.name;
    let replicates = printed.project.trays_of(tray.test).any(|tray| tray.replicate > 1);
    let replicate = if replicates {
        format!(", replicate {}", tray.replicate)
    } else {
        String::new()
    };
    let part = part.map_or_else(String::new, |part| {
        let (first, last) = (
            cell_name(part.rows.0, part.columns.0),
            cell_name(part.rows.1, part.columns.1),
        );
        format!(", {first} to {last}")
    });
    vec![
        text(
            24.0,
            26.0,
            Weight::Bold,
            &format!("{}{part}", printed.tray_of(tray)),
        ),
        text(
            42.0,
            12.0,
            Weight::Regular,
            &format!(
                "{test}, season {}{replicate}{}",
                printed.year(),
                printed.size(tray)
            ),
        ),
        text(
            57.0,
            11.0,
            Weight::Regular,
            &format!(
                "{} \u{b7} {}",
                capital(&printed.laid(tray)),
                printed.project.about.name
            ),
        ),
    ]
}

fn draw_cell(printed: &Printed<'_>, canvas: &mut Canvas<'_>, cell: &Cell, shape: &Shape, setting: Setting) {
    let area = shape.area(cell.row, cell.column);
    let least = area.width().min(area.height());
    let is_landmark = cell.content == CellContent::Landmark;
    if is_landmark {
        canvas.hatch(area, (least * 0.14).max(2.2 / canvas.scale), 0.5);
    }
    canvas.frame(area, 0.7);
    if let CellContent::Check(_) = cell.content {
        canvas.frame(area.grown(-(least * 0.07)), 1.2);
    }
    let line = |text: String, weight, share, most| Line {
        text,
        weight,
        width: USUAL_WIDTH,
        share,
        most,
    };
    let width = area.width() * canvas.scale;
    let content = match cell.content {
        CellContent::Ear(_) => {
            let number = printed
                .ear(cell.content)
                .map_or_else(String::new, |ear| ear.number.to_string());
            Line {
                width: 1.0,
                ..line(number, Weight::Bold, 1.0, setting.number)
            }
        }
        CellContent::Check(number) if width > 34.0 => {
            line(format!("check {number}"), Weight::Bold, 0.34, 12.0)
        }
        CellContent::Check(number) => line(format!("ch{number}"), Weight::Bold, 0.34, 12.0),
        CellContent::Landmark => line(String::new(), Weight::Bold, 0.0, 0.0),
        CellContent::Spare => line("spare".to_owned(), Weight::Regular, 0.3, 10.0),
    };
    let name = line(cell.name(), Weight::Regular, 0.3, 11.0);
    let height = area.height() * canvas.scale;
    let mut lines = Vec::new();
    if !setting.alone && canvas.fitting(&name, width, height) >= LEAST_NAME {
        lines.push(name);
    }
    if !content.text.is_empty() {
        lines.push(content);
    }
    if !lines.is_empty() {
        canvas.stack(shape.text_area(cell.row, cell.column), &lines, is_landmark);
    }
}

/// Letters of the rows, numbers of the columns, and which edge is the far one, around a part whose left top corner is
/// there on the page.
fn edges(canvas: &mut Canvas<'_>, shape: &Shape, part: Part, (left, top): (f32, f32)) {
    let mut text = |middle: (f32, f32), size: f32, weight: Weight, text: String| {
        let width = canvas.fonts.width(&text, size, weight);
        canvas.marks.push(Mark::Text {
            x: middle.0 - width / 2.0,
            baseline: middle.1 + size * 0.36,
            size,
            weight,
            text,
        });
    };
    let (corner, scale) = (canvas.corner, canvas.scale);
    let size = |room: f32| (room * scale * 0.55).min(12.0);
    for column in part.columns.0..=part.columns.1 {
        let area = shape.area(1, column);
        let x = corner.0 + f32::midpoint(area.left, area.right) * scale;
        text(
            (x, top - 9.0),
            size(shape.cell.0),
            Weight::Bold,
            column.to_string(),
        );
    }
    for row in part.rows.0..=part.rows.1 {
        let area = shape.area(row, 1);
        let y = corner.1 + f32::midpoint(area.top, area.bottom) * scale;
        text(
            (left - 12.0, y),
            size(shape.cell.1),
            Weight::Bold,
            row_letters(row),
        );
    }
    let has_corner = part.rows.0 == 1 && part.columns.0 == 1;
    let corner = if has_corner {
        "; the black corner is top left"
    } else {
        ""
    };
    canvas.marks.push(Mark::Text {
        x: left,
        baseline: top - 21.0,
        size: 9.5,
        weight: Weight::Regular,
        text: format!("\u{2191} top edge, far from you{corner}"),
    });
}

/// Small samples of the signs with their meaning, and what the tray holds in all.
fn legend(printed: &Printed<'_>, fonts: &Fonts, at: (f32, f32), width: f32, cells: &[&Cell]) -> Vec<Mark> {
    let count = |is: fn(CellContent) -> bool| cells.iter().filter(|cell| is(cell.content)).count();
    let ears = count(|content| matches!(content, CellContent::Ear(_)));
    let checks = count(|content| matches!(content, CellContent::Check(_)));
    let landmarks = count(|content| content == CellContent::Landmark);
    let spare = count(|content| content == CellContent::Spare);
    let laid = cells.iter().filter(|cell| cell.content.is_counted());
    let kernels: usize = laid.map(|cell| usize::from(printed.project.sown(cell))).sum();
    let mut canvas = Canvas {
        fonts,
        marks: Vec::new(),
        corner: at,
        scale: 1.0,
        window: Area::new((-2.0, -2.0), (width + 4.0, LEGEND + 4.0)),
    };
    let sample = |x: f32| Area::new((x, 10.0), (14.0, 11.0));
    let mut x = 0.0;
    let say = |canvas: &mut Canvas<'_>, x: f32, text: &str| {
        let room = (width - x - 19.0).max(0.0);
        let text = fonts.shorten(text, 9.0, Weight::Regular, room);
        let end = x + 19.0 + fonts.width(&text, 9.0, Weight::Regular) + 16.0;
        canvas.marks.push(Mark::Text {
            x: at.0 + x + 19.0,
            baseline: at.1 + 19.0,
            size: 9.0,
            weight: Weight::Regular,
            text,
        });
        end
    };
    if landmarks > 0 {
        canvas.hatch(sample(x), 3.0, 0.5);
        canvas.frame(sample(x), 0.7);
        x = say(&mut canvas, x, "landmark, stays empty");
    }
    if spare > 0 {
        canvas.frame(sample(x), 0.7);
        x = say(&mut canvas, x, "spare, empty");
    }
    if checks > 0 {
        canvas.frame(sample(x), 0.7);
        canvas.frame(sample(x).grown(-2.0), 1.2);
        say(&mut canvas, x, &format!("check: {}", printed.check_lot()));
    }
    let counts = [
        (ears, "ear cell"),
        (checks, "check cell"),
        (landmarks, "landmark"),
        (spare, "spare cell"),
    ];
    let counts = counts.into_iter().filter(|(count, _)| *count > 0);
    let counts: Vec<String> = counts.map(|(count, what)| plural(count, what)).collect();
    let sum = format!("{}; {} in all.", counts.join(", "), plural(kernels, "kernel"));
    canvas.marks.push(Mark::Text {
        x: at.0,
        baseline: at.1 + 37.0,
        size: 10.0,
        weight: Weight::Bold,
        text: fonts.shorten(&sum, 10.0, Weight::Bold, width),
    });
    canvas.marks
}

#[cfg(test)]
mod tests {
    use super::super::TrayPrintOrder;
    use super::super::sample::designed;
    use super::*;
    use crate::exchange::print::{Paper, unwatched};
    use crate::model::{MM_PER_INCH, Project, TestId, TrayPlan};
    use std::collections::{BTreeMap, BTreeSet};

    fn map(project: &Project, paper: Paper) -> Vec<Page> {
        let order = TrayPrintOrder {
            test: TestId(1),
            tray: None,
            paper,
            with_ears: true,
        };
        let printed = Printed::new(project, order, &unwatched).unwrap();
        pages(&printed, &Fonts::new().unwrap()).unwrap().1
    }

    /// The sizes of bold texts on some pages.
    fn sizes(pages: &[Page]) -> BTreeMap<String, Vec<f32>> {
        let mut found: BTreeMap<String, Vec<f32>> = BTreeMap::new();
        for mark in pages.iter().flat_map(|page| &page.marks) {
            if let Mark::Text {
                size,
                weight: Weight::Bold,
                text,
                ..
            } = mark
            {
                found.entry(text.clone()).or_default().push(*size);
            }
        }
        found
    }

    #[test]
    fn every_ear_number_is_printed_large_enough_for_the_cold_room() {
        let inches = |width: f64, height: f64, cell: (f64, f64)| TrayPlan {
            width_mm: width * MM_PER_INCH,
            height_mm: height * MM_PER_INCH,
            cell_width_mm: cell.0 * MM_PER_INCH,
            cell_height_mm: cell.1 * MM_PER_INCH,
            ..TrayPlan::default()
        };
        for (ears, plan, pages) in [
            (28, TrayPlan::default(), 1),
            // 28 columns of an inch and a quarter: the numbers take the place of the cells' names.
            (108, inches(36.0, 12.0, (1.25, 3.0)), 1),
            // 50 by 50 cells: the whole, and its parts.
            (2_400, inches(50.0, 50.0, (1.0, 1.0)), 17),
            // Cells smaller than the numbers.
            (1_400, inches(20.0, 15.0, (0.4, 0.4)), 0),
        ] {
            let project = designed(ears, plan.clone());
            for paper in [Paper::Letter, Paper::A4] {
                let printed = map(&project, paper);
                assert!(
                    pages == 0 || printed.len() == pages,
                    "{} pages, {plan:?}",
                    printed.len()
                );
                let sizes = sizes(&printed);
                for ear in project.ears.iter() {
                    let largest = sizes[&ear.number.to_string()].iter().copied().fold(0.0, f32::max);
                    // The first cell has the signs of the top left, and a number of a size that they leave.
                    let cell = project.cells_of_ear(ear.id).next().unwrap();
                    let is_first = cell.row == 1 && cell.column == 1;
                    let least = if is_first { 9.0 } else { READABLE };
                    assert!(largest >= least, "ear {}: {largest} points, {plan:?}", ear.number);
                }
            }
        }
    }

    #[test]
    fn parts_show_every_cell_once_and_name_what_they_show() {
        let plan = TrayPlan {
            width_mm: 700.0,
            height_mm: 500.0,
            cell_width_mm: 20.0,
            cell_height_mm: 18.0,
            aisle_mm: 2.0,
            margin_mm: 5.0,
            ..TrayPlan::default()
        };
        let project = designed(600, plan);
        let pages = map(&project, Paper::Letter);
        assert!(pages.len() > 2);
        let parts = sizes(&pages[1..]);
        let cells: Vec<&Cell> = project.cells.iter().collect();
        let titles = parts
            .keys()
            .filter(|text| text.starts_with("Tray 1 of 1, "))
            .count();
        assert_eq!(titles, pages.len() - 1);
        assert!(parts.keys().any(|text| text.starts_with("Tray 1 of 1, A1 to ")));
        // Numbers of columns are bold too, and no larger than 12 points.
        for cell in &cells {
            if let Some(ear) = cell.content.ear().and_then(|ear| project.ears.get(ear)) {
                let large = parts[&ear.number.to_string()].iter().filter(|size| **size > 12.0);
                assert_eq!(large.count(), 1, "ear {}", ear.number);
            }
        }
        // What is drawn stays on its sheet.
        let (width, height) = Paper::Letter.size();
        let (width, height) = (width.max(height), width.max(height));
        for page in &pages {
            for mark in &page.marks {
                let places: BTreeSet<_> = match mark {
                    Mark::Rule { from, to, .. } => [*from, *to].map(|at| (at.0 as i64, at.1 as i64)).into(),
                    Mark::Text { x, baseline, .. } => [(*x as i64, *baseline as i64)].into(),
                    Mark::Rising { .. } | Mark::Frame { .. } | Mark::Filled { .. } | Mark::Form { .. } => {
                        BTreeSet::new()
                    }
                };
                for (x, y) in places {
                    assert!(x >= 0 && y >= 0 && x <= width as i64 && y <= height as i64);
                }
            }
        }
    }
}

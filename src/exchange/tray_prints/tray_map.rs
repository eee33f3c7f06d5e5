//! One page for each tray: what lies where.

use super::super::print::{Fonts, Mark, POINTS_PER_MM, Page, PrintFault, PrintSettings, Weight};
use super::drawing::{Canvas, Line};
use super::shape::{Area, Shape};
use super::{Pages, Printed, TrayPrint};
use crate::model::{Cell, CellContent, Tray, plural, row_letters};

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

pub(super) fn pages(printed: &Printed<'_>, fonts: &Fonts) -> Result<Pages, PrintFault> {
    let upright = printed.settings(TrayPrint::TrayMap);
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
        let scales = shapes.iter().map(|shape| scale(settings, shape));
        scales.fold(MOST_SCALE, f32::min)
    };
    let settings = if least(&lying) > least(&upright) {
        lying
    } else {
        upright
    };
    let mut pages = Vec::with_capacity(shapes.len());
    for (tray, shape) in printed.trays.iter().zip(&shapes) {
        printed.tell(pages.len())?;
        pages.push(page(printed, fonts, &settings, tray, shape));
    }
    Ok((settings, pages))
}

fn scale(settings: &PrintSettings, shape: &Shape) -> f32 {
    let (left, top, right, bottom) = settings.room();
    let room = (right - left - LETTERS, bottom - top - HEADING - NUMBERS - LEGEND);
    (room.0 / shape.container.0)
        .min(room.1 / shape.container.1)
        .min(MOST_SCALE)
}

fn page(printed: &Printed<'_>, fonts: &Fonts, settings: &PrintSettings, tray: &Tray, shape: &Shape) -> Page {
    let (left, top, right, _) = settings.room();
    let scale = scale(settings, shape);
    let mut canvas = Canvas {
        fonts,
        marks: heading(printed, fonts, (left, top, right), tray),
        corner: (left + LETTERS, top + HEADING + NUMBERS),
        scale,
        window: shape.whole().grown(5.0),
    };
    let cells = printed.cells(tray);
    for cell in &cells {
        draw_cell(printed, &mut canvas, cell, shape);
    }
    canvas.frame(shape.whole(), 1.6);
    canvas.orientation(shape);
    edges(&mut canvas, shape);
    let below = canvas.at(0.0, shape.container.1);
    canvas
        .marks
        .extend(legend(printed, fonts, below, right - below.0, &cells));
    Page { marks: canvas.marks }
}

fn heading(
    printed: &Printed<'_>,
    fonts: &Fonts,
    (left, top, right): (f32, f32, f32),
    tray: &Tray,
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
    vec![
        text(24.0, 26.0, Weight::Bold, &printed.tray_of(tray)),
        text(
            42.0,
            12.0,
            Weight::Regular,
            &format!(
                "{test}, season {}{replicate}, {}",
                printed.year(),
                printed.laid(tray)
            ),
        ),
        text(57.0, 9.5, Weight::Regular, &printed.project.about.name),
    ]
}

fn draw_cell(printed: &Printed<'_>, canvas: &mut Canvas<'_>, cell: &Cell, shape: &Shape) {
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
        share,
        most,
    };
    let width = area.width() * canvas.scale;
    let content = match cell.content {
        CellContent::Ear(_) => {
            let number = printed
                .ear(cell.content)
                .map_or_else(String::new, |ear| ear.number.to_string());
            line(number, Weight::Bold, 0.5, 40.0)
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
    if canvas.fitting(&name, width, height) >= LEAST_NAME {
        lines.push(name);
    }
    if !content.text.is_empty() {
        lines.push(content);
    }
    if !lines.is_empty() {
        canvas.stack(shape.text_area(cell.row, cell.column), &lines, is_landmark);
    }
}

/// Letters of the rows, numbers of the columns, and which edge is the far one.
fn edges(canvas: &mut Canvas<'_>, shape: &Shape) {
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
    let place = |x: f32, y: f32| {
        (
            canvas.corner.0 + x * canvas.scale,
            canvas.corner.1 + y * canvas.scale,
        )
    };
    let size = |room: f32| (room * canvas.scale * 0.55).min(12.0);
    for column in 1..=shape.columns {
        let area = shape.area(1, column);
        let at = place(f32::midpoint(area.left, area.right), 0.0);
        text(
            (at.0, at.1 - 9.0),
            size(shape.cell.0),
            Weight::Bold,
            column.to_string(),
        );
    }
    for row in 1..=shape.rows {
        let area = shape.area(row, 1);
        let at = place(0.0, f32::midpoint(area.top, area.bottom));
        text(
            (at.0 - 12.0, at.1),
            size(shape.cell.1),
            Weight::Bold,
            row_letters(row),
        );
    }
    let (x, y) = place(0.0, 0.0);
    canvas.marks.push(Mark::Text {
        x,
        baseline: y - 21.0,
        size: 9.5,
        weight: Weight::Regular,
        text: "\u{2191} top edge, far from you; the black corner is top left".to_owned(),
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

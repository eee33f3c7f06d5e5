//! Marks to PDF bytes.

use std::collections::BTreeMap;

use krilla::color::{Color, luma, rgb};
use krilla::geom::{Path, PathBuilder, Point, Rect, Transform};
use krilla::metadata::{DateTime, Metadata};
use krilla::page::PageSettings;
use krilla::paint::{Fill, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::text::{GlyphId, KrillaGlyph};

use super::{
    EDGE_SIZE, Edge, Fonts, Ink, LAID_OUT, Mark, Outline, Page, PrintFault, PrintSettings, Squares, Watch,
    Weight, tell,
};

/// How much of a print is done when its pages are drawn and yet to be packed into a file, from 0 to 1.
const DRAWN: f32 = 0.85;

/// Writes the pages as a PDF with embedded subsets of the fonts: the same bytes from the same input. Adds the running
/// head, the foot and `page i of n` to every page.
///
/// # Errors
/// The PDF writer refuses, as with more pages or text than the format can hold; whoever watches says stop.
pub fn write_pdf(
    fonts: &Fonts,
    settings: &PrintSettings,
    pages: &[Page],
    watch: Watch<'_>,
) -> Result<Vec<u8>, PrintFault> {
    let (width, height) = settings.size();
    let mut document = krilla::Document::new();
    document.set_metadata(metadata(settings));
    for (index, page) in pages.iter().enumerate() {
        let part = index as f32 / pages.len() as f32;
        tell(watch, LAID_OUT + (DRAWN - LAID_OUT) * part)?;
        let sheet = PageSettings::from_wh(width, height)
            .ok_or_else(|| PrintFault::Pdf(format!("a sheet of {width} by {height} points has no area")))?;
        let mut sheet = document.start_page_with(sheet);
        let mut surface = sheet.surface();
        let edges = if settings.is_bare {
            Vec::new()
        } else {
            edges(fonts, settings, index + 1, pages.len())
        };
        let marks: Vec<&Mark> = page.marks.iter().chain(&edges).collect();
        // What is filled may cover what was drawn before it; among all else the order does not show.
        for stretch in marks.chunk_by(|_, next| !matches!(next, Mark::Filled { .. } | Mark::Form { .. })) {
            draw(&mut surface, fonts, stretch);
        }
        surface.finish();
        sheet.finish();
    }
    tell(watch, DRAWN)?;
    document
        .finish()
        .map_err(|error| PrintFault::Pdf(error.to_string()))
}

fn metadata(settings: &PrintSettings) -> Metadata {
    let author = Some(settings.author.clone()).filter(|author| !author.is_empty());
    let metadata = Metadata::new()
        .title(settings.title.clone())
        .authors(author.into_iter().collect())
        .creator("Wintercrib".to_owned())
        .language("en".to_owned());
    let Some(date) = settings.date else {
        return metadata;
    };
    match u16::try_from(date.year()) {
        Ok(year) => {
            let day = DateTime::new(year)
                .month(date.month().unsigned_abs())
                .day(date.day().unsigned_abs());
            metadata.creation_date(day)
        }
        // A year before 0 has no form in PDF.
        Err(_) => metadata,
    }
}

/// Running head and foot of one page.
fn edges(fonts: &Fonts, settings: &PrintSettings, number: usize, count: usize) -> Vec<Mark> {
    let (width, height) = settings.size();
    let (left, right) = (settings.margin, width - settings.margin);
    let line = |x, baseline, text: &str| Mark::Text {
        x,
        baseline,
        size: EDGE_SIZE,
        weight: Weight::Regular,
        text: text.to_owned(),
    };
    let page = format!("page {number} of {count}");
    let page_left = right - fonts.width(&page, EDGE_SIZE, Weight::Regular);
    let foot = height - settings.margin;
    let rule = foot - EDGE_SIZE * 1.4;
    let mut marks = vec![
        Mark::Rule {
            from: (left, rule),
            to: (right, rule),
            thickness: 0.5,
        },
        line(
            left,
            foot,
            &fonts.shorten(
                &settings.foot,
                EDGE_SIZE,
                Weight::Regular,
                page_left - left - EDGE_SIZE,
            ),
        ),
        line(page_left, foot, &page),
    ];
    if !settings.head.is_empty() {
        let head = fonts.shorten(&settings.head, EDGE_SIZE, Weight::Regular, right - left);
        marks.push(line(left, settings.margin + EDGE_SIZE, &head));
    }
    marks
}

/// Draws marks of which only the first may be filled. All rules and frames of one thickness are one path, which
/// takes a fraction of the time and of the bytes of single ones.
fn draw(surface: &mut Surface, fonts: &Fonts, marks: &[&Mark]) {
    // By the bits of the thickness, which are in the order of the numbers where these are not negative.
    let mut lines: BTreeMap<u32, PathBuilder> = BTreeMap::new();
    for mark in marks {
        match mark {
            Mark::Rule { from, to, thickness } => {
                let path = lines.entry(thickness.to_bits()).or_default();
                let [from, to] = [*from, *to].map(rounded);
                path.move_to(from.0, from.1);
                path.line_to(to.0, to.1);
            }
            Mark::Frame { at, size, thickness } => {
                let (at, size) = (rounded(*at), rounded(*size));
                if let Some(rect) = Rect::from_xywh(at.0, at.1, size.0, size.1) {
                    let path = lines.entry(thickness.to_bits()).or_default();
                    path.push_rect(rect);
                }
            }
            Mark::Filled { corners, ink } => {
                draw_form(surface, path_of(corners, true).as_ref(), Some(*ink), None);
            }
            Mark::Form {
                outline: Outline::Squares(squares),
                fill,
                edge,
            } => draw_squares(surface, squares, *fill, *edge),
            Mark::Form { outline, fill, edge } => {
                let path = match outline {
                    Outline::Circle { middle, radius } => circle(*middle, *radius),
                    Outline::Line(points) => path_of(points, false),
                    Outline::Polygon(points) => path_of(points, true),
                    Outline::Squares(_) => None,
                };
                draw_form(surface, path.as_ref(), *fill, *edge);
            }
            Mark::Text { .. } | Mark::Rising { .. } => {}
        }
    }
    for (thickness, path) in lines {
        draw_path(surface, path, f32::from_bits(thickness));
    }
    for mark in marks {
        match mark {
            Mark::Text {
                x,
                baseline,
                size,
                weight,
                text,
            } => draw_text(surface, fonts, (*x, *baseline), *size, *weight, text),
            Mark::Rising {
                baseline,
                y,
                size,
                weight,
                text,
            } => {
                let (left, top) = rounded((*baseline, *y));
                surface.push_transform(&Transform::from_row(0.0, -1.0, 1.0, 0.0, left, top));
                draw_text(surface, fonts, (0.0, 0.0), *size, *weight, text);
                surface.pop();
            }
            _ => {}
        }
    }
}

/// To thousandths of a point, a third of a thousandth of a millimetre: more digits only make the file larger.
fn rounded((x, y): (f32, f32)) -> (f32, f32) {
    let round = |length: f32| (length * 1_000.0).round() / 1_000.0;
    (round(x), round(y))
}

/// A path from point to point; none where it has no extent and so draws nothing.
fn path_of(points: &[(f32, f32)], is_closed: bool) -> Option<Path> {
    let mut path = PathBuilder::new();
    let mut points = points.iter().copied().map(rounded);
    let first = points.next()?;
    path.move_to(first.0, first.1);
    for point in points {
        path.line_to(point.0, point.1);
    }
    if is_closed {
        path.close();
    }
    path.finish()
}

/// Squares along the edges of their areas, at the scale of one square: whole numbers are short, and there are few of them.
fn draw_squares(surface: &mut Surface, squares: &Squares, fill: Option<Ink>, edge: Option<Edge>) {
    let mut path = PathBuilder::new();
    for line in squares.outlines() {
        for (index, (x, y)) in line.into_iter().enumerate() {
            let (x, y) = (f32::from(x), f32::from(y));
            if index == 0 {
                path.move_to(x, y);
            } else {
                path.line_to(x, y);
            }
        }
        path.close();
    }
    let (left, top) = rounded(squares.at);
    let side = squares.side;
    surface.push_transform(&Transform::from_row(side, 0.0, 0.0, side, left, top));
    let edge = edge.map(|edge| Edge {
        thickness: edge.thickness / side,
        dash: edge.dash.map(|dash| dash / side),
        ..edge
    });
    draw_form(surface, path.finish().as_ref(), fill, edge);
    surface.pop();
}

/// A circle of four curves. Their handles are 4/3 (√2 − 1) of the radius long, which is off by 0.03 % at most.
fn circle(middle: (f32, f32), radius: f32) -> Option<Path> {
    const HANDLE: f32 = 0.552_284_8;
    let mut path = PathBuilder::new();
    let at = |x: f32, y: f32| rounded((middle.0 + radius * x, middle.1 + radius * y));
    let start = at(1.0, 0.0);
    path.move_to(start.0, start.1);
    let (mut x, mut y) = (1.0, 0.0);
    for _ in 0..4 {
        // A quarter turn further.
        let (next_x, next_y) = (-y, x);
        let first = at(x + HANDLE * next_x, y + HANDLE * next_y);
        let second = at(next_x + HANDLE * x, next_y + HANDLE * y);
        let end = at(next_x, next_y);
        path.cubic_to(first.0, first.1, second.0, second.1, end.0, end.1);
        (x, y) = (next_x, next_y);
    }
    path.close();
    path.finish()
}

fn colour(ink: Ink) -> Color {
    match ink {
        Ink::Black => luma::Color::black().into(),
        Ink::White => luma::Color::white().into(),
        Ink::Colour([red, green, blue]) => rgb::Color::new(red, green, blue).into(),
    }
}

fn draw_form(surface: &mut Surface, path: Option<&Path>, fill: Option<Ink>, edge: Option<Edge>) {
    let Some(path) = path else {
        return;
    };
    surface.set_fill(fill.map(|ink| Fill {
        paint: colour(ink).into(),
        ..Fill::default()
    }));
    surface.set_stroke(edge.map(|edge| Stroke {
        paint: colour(edge.ink).into(),
        width: edge.thickness,
        dash: edge.dash.map(|dash| StrokeDash {
            array: vec![dash, dash],
            offset: 0.0,
        }),
        ..Stroke::default()
    }));
    surface.draw_path(path);
}

fn draw_path(surface: &mut Surface, path: PathBuilder, thickness: f32) {
    // A path without extent draws nothing.
    if let Some(path) = path.finish() {
        surface.set_fill(None);
        surface.set_stroke(Some(Stroke {
            width: thickness,
            ..Stroke::default()
        }));
        surface.draw_path(&path);
    }
}

fn draw_text(surface: &mut Surface, fonts: &Fonts, at: (f32, f32), size: f32, weight: Weight, text: &str) {
    surface.set_stroke(None);
    surface.set_fill(Some(Fill::default()));
    let mut x = at.0;
    for run in fonts.runs(text, weight) {
        let glyphs: Vec<KrillaGlyph> = run
            .glyphs
            .iter()
            .map(|glyph| {
                KrillaGlyph::new(
                    GlyphId::new(glyph.id),
                    glyph.advance,
                    0.0,
                    0.0,
                    0.0,
                    glyph.range.clone(),
                    None,
                )
            })
            .collect();
        let start = rounded((x, at.1));
        surface.draw_glyphs(
            Point::from_xy(start.0, start.1),
            &glyphs,
            fonts.drawn(&run),
            text,
            size,
            false,
        );
        x += run.glyphs.iter().map(|glyph| glyph.advance).sum::<f32>() * size;
    }
}

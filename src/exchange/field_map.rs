//! The plan of a field on paper, drawn to scale.

use super::print::{
    Fonts, Ink, LAID_OUT, Laid, Mark, Page, Paper, PrintFault, PrintSettings, Watch, Weight, tell,
};
use crate::insight::long_length;
use crate::model::{FieldContent, FieldPlan, FieldRow, PlantingList, Project, capital};

/// Blank edge of the paper, in points.
const EDGE: f32 = 36.0;
/// Room for the title above the field, in points.
const TITLE_ROOM: f32 = 74.0;
/// Least width of a row on paper, in points, at which its numbers can be read.
const LEAST_ROW: f32 = 9.0;
/// Width of a row on paper, in points, at which its numbers are read easily.
const EASY_ROW: f32 = 18.0;
/// Most width of a row on paper, in points.
const MOST_ROW: f32 = 30.0;
/// Room above a block for the way that is walked, in points.
const HEAD: f32 = 10.0;

/// A field map as it is written to a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PrintedMap {
    /// The PDF.
    pub pdf: Vec<u8>,
    /// How many pages it has.
    pub pages: usize,
    /// How many rows are on it.
    pub rows: usize,
}

/// How a field is drawn on its pages.
struct Scale {
    row: f32,
    length: f32,
    end: f32,
    path: f32,
    borders: f32,
    /// Rows side by side on a page, border rows included.
    across: u16,
    /// Blocks one below the other on a page.
    down: u16,
}

impl Scale {
    fn block(&self) -> f32 {
        self.length + 2.0 * self.end
    }
}

/// Prints the plan of a list's field as PDF: rows to scale with stake and ear, check rows framed, border rows and border
/// plants hatched, rows to be detasselled marked, an arrow for the way that is walked. A field that would be too small to
/// read goes over several pages. The same plan gives the same bytes.
///
/// # Errors
/// The PDF writer refuses; whoever watches says stop.
pub fn field_map_pdf(
    project: &Project,
    list: &PlantingList,
    plan: &FieldPlan,
    paper: Paper,
    watch: Watch<'_>,
) -> Result<PrintedMap, PrintFault> {
    let fonts = Fonts::new()?;
    let laid = field_map_pages(&fonts, project, list, plan, paper, watch)?;
    Ok(PrintedMap {
        pdf: laid.pdf(&fonts, watch)?,
        pages: laid.pages.len(),
        rows: project.field_rows_of(plan.id).count(),
    })
}

/// Lays the plan of a list's field out.
///
/// # Errors
/// Whoever watches says stop.
pub fn field_map_pages(
    fonts: &Fonts,
    project: &Project,
    list: &PlantingList,
    plan: &FieldPlan,
    paper: Paper,
    watch: Watch<'_>,
) -> Result<Laid, PrintFault> {
    let rows: Vec<&FieldRow> = project.field_rows_of(plan.id).collect();
    let of = format!("planting list {}, version {}", list.year, list.version);
    let settings = PrintSettings {
        landscape: true,
        margin: EDGE,
        head: format!(
            "Field plan \u{b7} {of} \u{b7} digest {} \u{b7} {}",
            list.short_digest(),
            list.project
        ),
        ..PrintSettings::new(paper, format!("{}: field plan of {of}", list.project))
    };
    let (short, long) = paper.size();
    let room = (long - 2.0 * EDGE, short - 2.0 * EDGE - TITLE_ROOM);
    let widest = rows.iter().map(|row| row.across).max().unwrap_or(1);
    let blocks = rows.iter().map(|row| row.block).max().unwrap_or(1);
    let scale = scale(plan, (widest, blocks), room);
    let mut pages = Vec::new();
    let parts_across = (widest + 2 * plan.shape.borders).div_ceil(scale.across);
    let parts_down = blocks.div_ceil(scale.down);
    for part_down in 0..parts_down {
        for part_across in 0..parts_across {
            tell(
                watch,
                LAID_OUT * pages.len() as f32 / f32::from(parts_across * parts_down),
            )?;
            let mut sheet = Sheet {
                fonts,
                project,
                plan,
                scale: &scale,
                marks: Vec::new(),
            };
            sheet.title(list, &rows, (part_across, parts_across), (part_down, parts_down));
            sheet.blocks(&rows, part_across, part_down);
            pages.push(Page { marks: sheet.marks });
        }
    }
    tell(watch, LAID_OUT)?;
    Ok(Laid { settings, pages })
}

/// As large as the page allows, with a row as wide as can be read.
fn scale(plan: &FieldPlan, (widest, blocks): (u16, u16), room: (f32, f32)) -> Scale {
    let shape = &plan.shape;
    let spacing = shape.row_spacing_mm as f32;
    let rows = f32::from(widest + 2 * shape.borders);
    let (width, length) = shape.size_mm(widest, blocks);
    let heads = HEAD * f32::from(blocks);
    let whole = (room.0 / width as f32).min((room.1 - heads) / length as f32);
    let block_mm = (shape.row_length_mm + 2.0 * shape.end_mm) as f32;
    // The whole field on one page where its numbers are then read easily; else as wide as the page. One block must fit
    // the height of a page; where that makes rows too narrow to read, they are drawn wider.
    let of_mm = if whole * spacing >= EASY_ROW {
        whole.min(MOST_ROW / spacing)
    } else {
        (room.0 / width as f32)
            .clamp(LEAST_ROW / spacing, EASY_ROW / spacing)
            .min((room.1 - HEAD) / block_mm)
    };
    let row = (spacing * of_mm).max(LEAST_ROW);
    let path = shape.path_mm as f32 * of_mm;
    let block = block_mm * of_mm + path + HEAD;
    Scale {
        row,
        length: shape.row_length_mm as f32 * of_mm,
        end: shape.end_mm as f32 * of_mm,
        path,
        borders: f32::from(shape.borders),
        across: ((room.0 / row) as u16).clamp(1, rows as u16),
        down: (((room.1 + path) / block) as u16).clamp(1, blocks),
    }
}

struct Sheet<'a> {
    fonts: &'a Fonts,
    project: &'a Project,
    plan: &'a FieldPlan,
    scale: &'a Scale,
    marks: Vec<Mark>,
}

impl Sheet<'_> {
    fn title(&mut self, list: &PlantingList, rows: &[&FieldRow], across: (u16, u16), down: (u16, u16)) {
        let unit = self.project.about.units.length;
        let blocks = rows.iter().map(|row| row.block).max().unwrap_or(1);
        let widest = rows.iter().map(|row| row.across).max().unwrap_or(1);
        let (width, length) = self.plan.shape.size_mm(widest, blocks);
        let part = if across.1 * down.1 > 1 {
            let name = |(part, of): (u16, u16), side: &str| {
                if of > 1 {
                    format!(", part {} of {of} from the {side}", part + 1)
                } else {
                    String::new()
                }
            };
            format!("{}{}", name(down, "top"), name(across, "left"))
        } else {
            String::new()
        };
        let heading = format!("Field plan{part}");
        self.text((EDGE, EDGE + 34.0), 18.0, Weight::Bold, &heading);
        let how = format!(
            "{}, planting list {} version {}: {} wide, {} long. Stake above, ear below it; framed: check lot; dotted: bulk; hatched: border; \u{d7}: to be detasselled.",
            list.project,
            list.year,
            list.version,
            long_length(width, unit),
            long_length(length, unit)
        );
        let room = Paper::Letter.size().1 - 2.0 * EDGE;
        for (line, text) in self
            .fonts
            .wrap(&how, 9.0, Weight::Regular, room)
            .iter()
            .enumerate()
        {
            self.text(
                (EDGE, EDGE + 48.0 + 11.0 * line as f32),
                9.0,
                Weight::Regular,
                text,
            );
        }
    }

    fn blocks(&mut self, rows: &[&FieldRow], part_across: u16, part_down: u16) {
        let scale = self.scale;
        let first_block = part_down * scale.down + 1;
        let first_place = part_across * scale.across;
        let places = first_place..first_place + scale.across;
        for (line, block) in (first_block..first_block + scale.down).enumerate() {
            let of_block: Vec<&&FieldRow> = rows.iter().filter(|row| row.block == block).collect();
            let Some(widest) = of_block.iter().map(|row| row.across).max() else {
                continue;
            };
            let pitch = scale.block() + scale.path + HEAD;
            let top = EDGE + TITLE_ROOM + HEAD + pitch * line as f32;
            let borders = scale.borders as u16;
            for place in places.clone().filter(|place| *place < widest + 2 * borders) {
                let x = EDGE + f32::from(place - first_place) * scale.row;
                let is_border = place < borders || place >= widest + borders;
                if is_border {
                    self.hatched((x, top), (scale.row, scale.block()));
                } else if let Some(row) = of_block.iter().find(|row| row.across == place - borders + 1) {
                    self.row(row, (x, top));
                }
            }
            let is_here = |row: &&&&FieldRow| places.contains(&(row.across - 1 + borders));
            let seen: Vec<&&&FieldRow> = of_block.iter().filter(is_here).collect();
            if let (Some(first), Some(last)) = (seen.first(), seen.last()) {
                let middle = |row: &FieldRow| {
                    EDGE + (f32::from(row.across - 1 + borders - first_place) + 0.5) * scale.row
                };
                self.arrow(middle(first), middle(last), top - 4.0);
            }
        }
    }

    fn row(&mut self, row: &FieldRow, at: (f32, f32)) {
        let scale = self.scale;
        if scale.end > 0.0 {
            self.hatched(at, (scale.row, scale.end));
            self.hatched((at.0, at.1 + scale.end + scale.length), (scale.row, scale.end));
        }
        let (at, size) = ((at.0, at.1 + scale.end), (scale.row, scale.length));
        self.marks.push(Mark::Frame {
            at,
            size,
            thickness: 0.5,
        });
        if row.content == FieldContent::Check {
            let pad = 1.2;
            self.marks.push(Mark::Frame {
                at: (at.0 + pad, at.1 + pad),
                size: (size.0 - 2.0 * pad, size.1 - 2.0 * pad),
                thickness: 1.4,
            });
        }
        if row.content == FieldContent::Bulk {
            let mut y = at.1 + 4.0;
            while y < at.1 + size.1 - 3.0 {
                for x in [at.0 + 1.5, at.0 + size.0 - 1.5] {
                    self.marks.push(Mark::Filled {
                        corners: vec![
                            (x - 0.4, y - 0.4),
                            (x + 0.4, y - 0.4),
                            (x + 0.4, y + 0.4),
                            (x - 0.4, y + 0.4),
                        ],
                        ink: Ink::Black,
                    });
                }
                y += 4.0;
            }
        }
        let name = match (
            row.content,
            row.content.ear().and_then(|ear| self.project.ears.get(ear)),
        ) {
            (FieldContent::Check, _) => "check".to_owned(),
            (FieldContent::Bulk, _) => "bulk".to_owned(),
            (FieldContent::Ear(_), Some(ear)) => ear.number.to_string(),
            (FieldContent::Ear(id), None) => format!("id {id}"),
        };
        let stake = row.stake.to_string();
        let largest = (size.0 * 0.62).min(size.1 / 8.0).clamp(5.0, 16.0);
        let wide = self.fonts.width(&stake, largest, Weight::Regular);
        let below = if wide <= size.0 - 2.0 {
            self.text(
                (at.0 + (size.0 - wide) / 2.0, at.1 + largest + 1.0),
                largest,
                Weight::Regular,
                &stake,
            );
            largest + 3.0
        } else {
            self.rising(
                (at.0, size.0),
                at.1 + wide + 3.0,
                largest,
                Weight::Regular,
                &stake,
            );
            wide + 5.0
        };
        let wide = self.fonts.width(&name, largest, Weight::Bold);
        let lowest = at.1 + size.1 - if row.detasselled { 8.0 } else { 2.0 };
        let middle = (at.1 + below + lowest) / 2.0 + wide / 2.0;
        self.rising((at.0, size.0), middle.min(lowest), largest, Weight::Bold, &name);
        if row.detasselled {
            let wide = self.fonts.width("\u{d7}", 8.0, Weight::Bold);
            self.text(
                (at.0 + (size.0 - wide) / 2.0, at.1 + size.1 - 1.5),
                8.0,
                Weight::Bold,
                "\u{d7}",
            );
        }
    }

    fn text(&mut self, (x, baseline): (f32, f32), size: f32, weight: Weight, text: &str) {
        self.marks.push(Mark::Text {
            x,
            baseline,
            size,
            weight,
            text: text.to_owned(),
        });
    }

    /// Text that is read from below, in the middle of a row.
    fn rising(&mut self, (left, width): (f32, f32), y: f32, size: f32, weight: Weight, text: &str) {
        self.marks.push(Mark::Rising {
            baseline: left + width / 2.0 + size * 0.36,
            y,
            size,
            weight,
            text: text.to_owned(),
        });
    }

    fn rule(&mut self, from: (f32, f32), to: (f32, f32), thickness: f32) {
        self.marks.push(Mark::Rule { from, to, thickness });
    }

    /// A box with slanting lines, which end at its edges.
    fn hatched(&mut self, at: (f32, f32), size: (f32, f32)) {
        self.marks.push(Mark::Frame {
            at,
            size,
            thickness: 0.3,
        });
        let mut offset = 5.0;
        while offset < size.0 + size.1 {
            // From the left or the lower edge to the upper or the right one.
            let from = (at.0 + (offset - size.1).max(0.0), at.1 + offset.min(size.1));
            let to = (at.0 + offset.min(size.0), at.1 + (offset - size.0).max(0.0));
            self.rule(from, to, 0.25);
            offset += 5.0;
        }
    }

    /// The way that is walked along a block.
    fn arrow(&mut self, from: f32, to: f32, y: f32) {
        self.rule((from, y), (to, y), 0.7);
        let way = (to - from).signum();
        if (to - from).abs() > 4.0 {
            self.rule((to - 4.0 * way, y - 2.5), (to, y), 0.7);
            self.rule((to - 4.0 * way, y + 2.5), (to, y), 0.7);
        }
    }
}

/// Says what there is to print of a list whose field is not planned.
pub fn no_plan(list: &PlantingList) -> String {
    capital(&format!(
        "the field of planting list {} version {} is not planned yet. Plan it in the window, in the pane Planting",
        list.year, list.version
    ))
}

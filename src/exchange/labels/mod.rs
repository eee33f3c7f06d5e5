//! Labels on any sheet: of packets, slips to put inside, stakes of rows, and a page to try the sheet with.

mod label;
mod sheet;
mod square;

use super::field_lines::{FieldLine, field_lines};
use super::print::{
    Fonts, LAID_OUT, Mark, POINTS_PER_MM, Page, PrintFault, PrintSettings, Watch, Weight, tell, unwatched,
    write_pdf,
};
use crate::model::{Ear, EarId, ListId, Packet, PlantingList, Project, capital, plural};
use label::{Cut, Label, Line};
use thiserror::Error;

pub use sheet::{COMMON_SHEETS, LabelSheet, MOST_ACROSS, SMALLEST_MM, SheetFault};

/// Edge of the sheet that is needed for the line with the page number, in millimetres: printers leave about 5 mm blank.
const LINE_ROOM_MM: f32 = 8.5;
/// Size of that line in points.
const LINE_SIZE: f32 = 6.5;
/// Thickness of an outline in points.
const OUTLINE: f32 = 0.4;
/// Length of the bar on the test page, in millimetres.
const BAR_MM: f32 = 50.0;

/// What goes on or into packets.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum PacketLabels {
    /// A label on each packet.
    #[default]
    Labels,
    /// A slip inside each packet.
    Slips,
    /// Both: the slip of each packet follows its label.
    Both,
}

impl PacketLabels {
    /// Its name, such as `inside slips`.
    pub fn name(self) -> &'static str {
        match self {
            Self::Labels => "packet labels",
            Self::Slips => "inside slips",
            Self::Both => "packet labels and inside slips",
        }
    }
}

/// What is printed on the labels of a sheet.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum OnLabels {
    /// The packets of ears, in the order in which the ears are named; an ear without a packet gets one label.
    Packets {
        /// The ears.
        ears: Vec<EarId>,
        /// Labels, slips, or both.
        kind: PacketLabels,
    },
    /// Two stakes for each row of a planting list: its start and its end.
    Stakes {
        /// The list.
        list: ListId,
    },
    /// Outlines and numbers only, to try whether a sheet and the printer agree.
    TestPage,
}

/// How labels are printed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LabelOrder {
    /// The sheet.
    pub sheet: LabelSheet,
    /// The first label of the first sheet that is still there, from 1, along the rows.
    pub start: usize,
    /// Whether each label is outlined, to be cut from plain paper.
    pub outlines: bool,
    /// Whether each label has a square code with the ear code, as an extra for a scanner.
    pub squares: bool,
}

impl Default for LabelOrder {
    /// The first of the common sheets from its first label, with square codes and without outlines.
    fn default() -> Self {
        Self {
            sheet: LabelSheet::default(),
            start: 1,
            outlines: false,
            squares: true,
        }
    }
}

/// Why labels are not printed.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum LabelFault {
    /// The labels do not fit the sheet.
    #[error(transparent)]
    Sheet(#[from] SheetFault),
    /// The sheet has no such label.
    #[error("The sheet has {has}, so it cannot begin at label {start}. Begin at one of 1 to {has_number}", has = plural(*labels, "label"), has_number = labels)]
    Start {
        /// The label asked for, from 1.
        start: usize,
        /// How many the sheet has.
        labels: usize,
    },
    /// No ear is named.
    #[error("There is no ear to print a label for. Choose ears first")]
    NoEars,
    /// The list is not in the project.
    #[error("The planting list is no longer in the project. Choose another one")]
    NoList,
    /// The list is not what was frozen.
    #[error(
        "Planting list {year} version {version} is not what was frozen, so no stakes are printed of it. Restore the project from a copy"
    )]
    NotAsFrozen {
        /// Its year.
        year: i16,
        /// Its version.
        version: u16,
    },
    /// The PDF cannot be made.
    #[error(transparent)]
    Print(#[from] PrintFault),
}

/// Labels laid out, before they are written.
#[derive(Debug, Clone, PartialEq)]
pub struct LabelPages {
    /// What all pages share.
    pub settings: PrintSettings,
    /// The pages that are laid out.
    pub pages: Vec<Page>,
    /// How many pages there are in all.
    pub of: usize,
    /// How many labels there are in all.
    pub labels: usize,
    /// What should be known of these pages before they are printed, a sentence each: what was cut off, what found no
    /// room.
    pub notes: Vec<String>,
}

/// Labels as they are written to a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PrintedLabels {
    /// The PDF.
    pub pdf: Vec<u8>,
    /// How many pages it has.
    pub pages: usize,
    /// How many labels are on them.
    pub labels: usize,
    /// What should be known before they are printed, a sentence each.
    pub notes: Vec<String>,
}

/// Prints labels as PDF: the same bytes from the same project. `watch` follows the work and may stop it.
///
/// # Errors
/// [`LabelFault`].
pub fn labels_pdf(
    project: &Project,
    what: &OnLabels,
    order: &LabelOrder,
    watch: Watch<'_>,
) -> Result<PrintedLabels, LabelFault> {
    let fonts = Fonts::new()?;
    let laid = label_pages(&fonts, project, what, order, watch)?;
    Ok(PrintedLabels {
        pdf: write_pdf(&fonts, &laid.settings, &laid.pages, watch)?,
        pages: laid.pages.len(),
        labels: laid.labels,
        notes: laid.notes,
    })
}

/// Lays labels out, sheet after sheet.
///
/// # Errors
/// [`LabelFault`].
pub fn label_pages(
    fonts: &Fonts,
    project: &Project,
    what: &OnLabels,
    order: &LabelOrder,
    watch: Watch<'_>,
) -> Result<LabelPages, LabelFault> {
    lay_out(fonts, project, what, order, None, watch)
}

/// Lays out one page of labels, to be looked at; `page` counts from 0, and beyond the last page stands the last.
///
/// # Errors
/// [`LabelFault`].
pub fn label_page(
    fonts: &Fonts,
    project: &Project,
    what: &OnLabels,
    order: &LabelOrder,
    page: usize,
) -> Result<LabelPages, LabelFault> {
    lay_out(fonts, project, what, order, Some(page), &unwatched)
}

fn lay_out(
    fonts: &Fonts,
    project: &Project,
    what: &OnLabels,
    order: &LabelOrder,
    only: Option<usize>,
    watch: Watch<'_>,
) -> Result<LabelPages, LabelFault> {
    order.sheet.check()?;
    let each = order.sheet.labels();
    if order.start == 0 || order.start > each {
        let (start, labels) = (order.start, each);
        return Err(LabelFault::Start { start, labels });
    }
    let (name, labels) = match what {
        OnLabels::TestPage => {
            return Ok(LabelPages {
                settings: settings(project, order, "test page of a label sheet"),
                pages: vec![test_page(fonts, &order.sheet)],
                of: 1,
                labels: each,
                notes: Vec::new(),
            });
        }
        OnLabels::Packets { ears, kind } => (kind.name().to_owned(), packet_labels(project, ears, *kind)?),
        OnLabels::Stakes { list } => {
            let list = project.lists.get(*list).ok_or(LabelFault::NoList)?;
            let (year, version) = (list.year, list.version);
            if list.compute_digest() != list.digest {
                return Err(LabelFault::NotAsFrozen { year, version });
            }
            let name = format!("row stakes of planting list {year} version {version}");
            (name, stakes(project, list))
        }
    };
    let skipped = order.start - 1;
    let of = (skipped + labels.len()).div_ceil(each);
    let wanted = only.map_or(0..of, |page| {
        let page = page.min(of.saturating_sub(1));
        page..page + 1
    });
    let mut cut = Cut::default();
    let mut pages = Vec::with_capacity(wanted.len());
    for page in wanted {
        tell(watch, LAID_OUT * page as f32 / of as f32)?;
        // Labels before the place where the first sheet starts are not there.
        let begin = (page * each).saturating_sub(skipped);
        let end = ((page + 1) * each - skipped).min(labels.len());
        let first_place = begin + skipped - page * each;
        let line = format!(
            "page {} of {of} \u{b7} {} \u{b7} {}",
            page + 1,
            capital(&name),
            project.about.name
        );
        let here = labels.get(begin..end).unwrap_or_default();
        let mut page = one_page(fonts, here, first_place, order, &mut cut);
        page.marks.extend(page_line(fonts, &order.sheet, &line));
        pages.push(page);
    }
    Ok(LabelPages {
        settings: settings(project, order, &name),
        pages,
        of,
        labels: labels.len(),
        notes: notes(&cut, order),
    })
}

fn settings(project: &Project, order: &LabelOrder, name: &str) -> PrintSettings {
    PrintSettings {
        is_bare: true,
        ..PrintSettings::new(order.sheet.paper, format!("{}: {name}", project.about.name))
    }
}

/// Puts labels on one sheet, the first of them at a place that counts from 0.
fn one_page(fonts: &Fonts, labels: &[Label], first: usize, order: &LabelOrder, cut: &mut Cut) -> Page {
    let mut marks = Vec::new();
    for (index, label) in labels.iter().enumerate() {
        let (at, size) = order.sheet.place(first + index);
        if order.outlines {
            let thickness = OUTLINE;
            marks.push(Mark::Frame { at, size, thickness });
        }
        marks.extend(label::draw(fonts, label, (at, size), order.squares, cut));
    }
    Page { marks }
}

/// The line with the page number, in the lower or the upper edge of the sheet; none where both are too narrow.
fn page_line(fonts: &Fonts, sheet: &LabelSheet, text: &str) -> Option<Mark> {
    let (paper, end) = (sheet.paper_mm(), sheet.far_end_mm());
    let below = paper.1 - end.1;
    let baseline_mm = if below >= LINE_ROOM_MM {
        end.1 + below / 2.0
    } else if sheet.edge_mm.1 >= LINE_ROOM_MM {
        sheet.edge_mm.1 / 2.0 + 1.5
    } else {
        return None;
    };
    let left = sheet.edge_mm.0.max(6.0);
    let room = (paper.0 - 2.0 * left) * POINTS_PER_MM;
    Some(Mark::Text {
        x: left * POINTS_PER_MM,
        baseline: baseline_mm * POINTS_PER_MM,
        size: LINE_SIZE,
        weight: Weight::Regular,
        text: fonts.shorten(text, LINE_SIZE, Weight::Regular, room),
    })
}

fn notes(cut: &Cut, order: &LabelOrder) -> Vec<String> {
    let mut notes = Vec::new();
    for (what, labels) in &cut.lines {
        let labels = plural(*labels, "label");
        notes.push(format!(
            "On {labels} {what} is too long and was cut off with \u{2026}; larger labels show more of it."
        ));
    }
    for (what, labels) in &cut.not_set {
        let labels = plural(*labels, "label");
        notes.push(format!(
            "On {labels} {what} has letters that the fonts of this program cannot set; write it on by hand."
        ));
    }
    if cut.squares > 0 {
        let labels = plural(cut.squares, "label");
        notes.push(format!(
            "{labels} got no square code: a label must be higher for a code that can be read."
        ));
    }
    let sheet = &order.sheet;
    if sheet.paper_mm().1 - sheet.far_end_mm().1 < LINE_ROOM_MM && sheet.edge_mm.1 < LINE_ROOM_MM {
        notes.push("The sheet has no edge wide enough for page numbers, so there are none.".to_owned());
    }
    notes
}

fn packet_labels(project: &Project, ears: &[EarId], kind: PacketLabels) -> Result<Vec<Label>, LabelFault> {
    let mut labels = Vec::with_capacity(ears.len());
    for ear in ears.iter().filter_map(|ear| project.ears.get(*ear)) {
        let packets: Vec<&Packet> = project.packets_of(ear.id).collect();
        let of = packets.len().max(1);
        for number in 1..=of {
            let packet = packets.get(number - 1).copied();
            let label = |is_slip| packet_label(project, ear, packet, (number, of), is_slip);
            if kind != PacketLabels::Slips {
                labels.push(label(false));
            }
            if kind != PacketLabels::Labels {
                labels.push(label(true));
            }
        }
    }
    if labels.is_empty() {
        return Err(LabelFault::NoEars);
    }
    Ok(labels)
}

/// What is not known has a rule to write on.
fn packet_label(
    project: &Project,
    ear: &Ear,
    packet: Option<&Packet>,
    (number, of): (usize, usize),
    is_slip: bool,
) -> Label {
    let season = project.seasons.get(ear.season);
    let season = season.map_or_else(String::new, |season| season.year.to_string());
    let mother = match project.mother_label(ear) {
        "" => "________",
        label => label,
    };
    let kernels = packet.and_then(Packet::balance);
    let kernels = kernels.map_or_else(
        || "________ kernels".to_owned(),
        |kernels| plural(kernels as usize, "kernel"),
    );
    // The day from which the number of kernels holds.
    let day = packet.and_then(|packet| packet.ledger.iter().filter_map(|line| line.on).max());
    let day = day.map_or_else(|| "____________".to_owned(), |day| day.to_string());
    let place = packet.map_or("", |packet| packet.location.as_str());
    let place = if place.is_empty() { "________" } else { place };
    let which = if of > 1 {
        format!("packet {number} of {of} \u{b7} ")
    } else {
        String::new()
    };
    let which = if is_slip {
        format!("inside slip \u{b7} {which}")
    } else {
        which
    };
    Label {
        number: ear.number.to_string(),
        share: 0.34,
        beside: vec![Line::new("the ear code", ear.code.to_string())],
        below: vec![
            Line::new("the name of the population", &project.about.name),
            Line::new(
                "the mother row",
                format!("season {season} \u{b7} mother row {mother}"),
            ),
            Line::new("the number of kernels", format!("{kernels} \u{b7} {day}")),
            Line::new("the box and slot", format!("{which}box-slot {place}")),
        ],
        code: ear.code.to_string(),
    }
}

fn stakes(project: &Project, list: &PlantingList) -> Vec<Label> {
    let rows = field_lines(project, list).rows;
    rows.iter()
        .flat_map(|row| {
            [
                stake(list, row, "\u{25b6} START"),
                stake(list, row, "\u{25a0} END"),
            ]
        })
        .collect()
}

fn stake(list: &PlantingList, row: &FieldLine, end: &str) -> Label {
    let kernels = plural(row.kernels as usize, "kernel");
    let is_ear = !row.code.is_empty();
    let planted = if is_ear {
        format!("ear {}", row.name)
    } else {
        row.name.clone()
    };
    let mut below = vec![if is_ear {
        Line::new("the ear code", format!("{} \u{b7} {kernels}", row.code))
    } else {
        Line::new("the kernels", kernels)
    }];
    let pulled = if row.detasselled { " \u{b7} detassel" } else { "" };
    below.push(Line::new(
        "the list",
        format!(
            "row {} of list {} version {}{pulled}",
            row.stake, list.year, list.version
        ),
    ));
    below.push(Line::new("the name of the population", &list.project));
    Label {
        number: row.stake.to_string(),
        share: 0.5,
        beside: vec![
            Line::new("start or end", end),
            Line::new("what is planted", planted),
        ],
        below,
        // A row without an ear has its number for a scanner.
        code: if is_ear {
            row.code.clone()
        } else {
            format!("row {}", row.stake)
        },
    }
}

/// Outlines with numbers, a bar of known length, and what to do with the page.
fn test_page(fonts: &Fonts, sheet: &LabelSheet) -> Page {
    let mut marks = Vec::new();
    let text = |x: f32, baseline: f32, size: f32, weight: Weight, text: &str| Mark::Text {
        x,
        baseline,
        size,
        weight,
        text: text.to_owned(),
    };
    let pad = 2.0 * POINTS_PER_MM;
    for place in 0..sheet.labels() {
        let (at, size) = sheet.place(place);
        let thickness = OUTLINE;
        marks.push(Mark::Frame { at, size, thickness });
        let number = (place + 1).to_string();
        let (left, baseline) = (at.0 + pad, at.1 + pad + 12.0);
        marks.push(text(left, baseline, 16.0, Weight::Bold, &number));
    }
    let (at, size) = sheet.place(0);
    let how = "Print this page on plain paper at 100 %, hold it with a label sheet against the light. Where the \
        outlines lie beside the labels, change the edges or the gaps by what you measure.";
    let (indent, width) = (30.0, size.0 - pad - 32.0);
    // As large as it goes; at the smallest size it fits every sheet that is allowed.
    let sizes = [8.0, 7.0, 6.0, 5.0, 4.5];
    let fits = |letters: &&f32| {
        fonts.wrap(how, **letters, Weight::Regular, width).len() as f32 * **letters * 1.3 <= size.1 - pad
    };
    let letters = sizes.iter().find(fits).copied().unwrap_or(4.5);
    for (index, line) in fonts
        .wrap(how, letters, Weight::Regular, width)
        .iter()
        .enumerate()
    {
        let baseline = at.1 + pad / 2.0 + letters * (1.0 + 1.3 * index as f32);
        marks.push(text(at.0 + indent, baseline, letters, Weight::Regular, line));
    }
    let (at, size) = sheet.place(sheet.labels() - 1);
    let y = at.1 + size.1 * 0.7;
    let bar = BAR_MM.min(size.0 / POINTS_PER_MM - 4.0).floor();
    let (from, to) = (at.0 + pad, at.0 + pad + bar * POINTS_PER_MM);
    let thickness = 1.0;
    marks.push(Mark::Rule {
        from: (from, y),
        to: (to, y),
        thickness,
    });
    for x in [from, to] {
        marks.push(Mark::Rule {
            from: (x, y - 4.0),
            to: (x, y + 4.0),
            thickness,
        });
    }
    let words = format!("this bar is {bar} mm long");
    marks.push(text(from, y - 6.0, 8.0, Weight::Regular, &words));
    let name = format!("Test page \u{b7} {}", sheet.name());
    marks.extend(page_line(fonts, sheet, &name));
    Page { marks }
}

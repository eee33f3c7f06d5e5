//! Sheets for the clipboard: what is seen in the rows of a planting list, and which ears leave the house.

use super::field_lines::{FieldLine, FieldLines, field_lines, of_list, packet_places};
use super::print::{
    Cell, Column, Flow, Fonts, FormItem, LAID_OUT, Laid, Paper, PrintFault, PrintSettings, Table, Watch,
    Weight, Width, tell,
};
use crate::insight::natural;
use crate::model::{Ear, EarId, PlantingList, Project, RowId, SeasonId, plural};
use std::collections::{BTreeMap, BTreeSet};

/// Least height of a row that is written on, in points.
const ROW: f32 = 25.0;
/// Rounds that a detassel sheet has room for.
const ROUNDS: usize = 8;

/// What is noted row by row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum FieldSheet {
    /// What is planted where, and that it was.
    Planting,
    /// How many plants came up.
    Stand,
    /// When half of the plants shed pollen and show silk.
    Flowering,
    /// Which rows were detasselled on which day.
    Detassel,
}

impl FieldSheet {
    /// All of them, in the order in which they are used.
    pub const ALL: [Self; 4] = [Self::Planting, Self::Stand, Self::Flowering, Self::Detassel];

    /// Its name, such as `stand sheet`.
    pub fn name(self) -> &'static str {
        match self {
            Self::Planting => "planting sheet",
            Self::Stand => "stand sheet",
            Self::Flowering => "flowering sheet",
            Self::Detassel => "detassel sheet",
        }
    }

    fn how(self) -> &'static str {
        match self {
            Self::Planting => {
                "Lay the packets out in this order first. Tick each row when it is planted, and write what is left in the packet: never empty one."
            }
            Self::Stand => {
                "Count before you thin, all rows at the same age. Loss: B bird, I insect, C crust, W washed out, U unknown."
            }
            Self::Flowering => {
                "Write the day on which half of the plants of a row shed pollen, and the day on which half show silk."
            }
            Self::Detassel => {
                "Write the day above each round. In its box: plants pulled / missed ones that shed already. Look at tillers too."
            }
        }
    }

    /// Titles and widths in points of the boxes behind the ear.
    fn boxes(self) -> Vec<(&'static str, f32)> {
        match self {
            Self::Planting => vec![("Planted", 46.0), ("Left in packet", 56.0)],
            Self::Stand => vec![
                ("First up (day)", 50.0),
                ("Plants", 44.0),
                ("Plants, second count", 50.0),
                ("Thinned to", 46.0),
                ("Vigor 0 to 9", 36.0),
                ("Loss", 34.0),
            ],
            Self::Flowering => vec![
                ("Half shed pollen (day)", 74.0),
                ("Half show silk (day)", 74.0),
                ("Plants seen", 48.0),
                ("Off-type, pulled", 48.0),
            ],
            Self::Detassel => vec![("\n__ / __", 41.0); ROUNDS],
        }
    }

    fn blanks(self) -> &'static [&'static str] {
        match self {
            Self::Planting => &["Planted by", "on", "soil temperature"],
            Self::Stand => &["Counted by", "first count on", "second count on"],
            Self::Flowering => &["Seen by", "field"],
            Self::Detassel => &["Done by", "field"],
        }
    }
}

/// A sheet as it is written to a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PrintedSheet {
    /// The PDF.
    pub pdf: Vec<u8>,
    /// How many pages it has.
    pub pages: usize,
    /// How many rows or ears are on it.
    pub lines: usize,
}

impl PrintedSheet {
    pub(super) fn new(
        fonts: &Fonts,
        laid: &Laid,
        lines: usize,
        watch: Watch<'_>,
    ) -> Result<Self, PrintFault> {
        Ok(Self {
            pdf: laid.pdf(fonts, watch)?,
            pages: laid.pages.len(),
            lines,
        })
    }
}

/// Prints an empty form for the rows of a planting list as PDF, one line a row: in walking order where its field is
/// planned. The same project gives the same bytes.
///
/// A field of one bulk has a planting sheet on which so many kernels of each packet are ticked off.
///
/// # Errors
/// The PDF writer refuses; whoever watches says stop.
pub fn field_sheet_pdf(
    project: &Project,
    list: &PlantingList,
    sheet: FieldSheet,
    paper: Paper,
    watch: Watch<'_>,
) -> Result<PrintedSheet, PrintFault> {
    let fonts = Fonts::new()?;
    let (laid, lines) = field_sheet_pages(&fonts, project, list, sheet, paper, watch)?;
    PrintedSheet::new(&fonts, &laid, lines, watch)
}

/// Lays such a form out; gives its lines too.
///
/// # Errors
/// Whoever watches says stop.
pub fn field_sheet_pages(
    fonts: &Fonts,
    project: &Project,
    list: &PlantingList,
    sheet: FieldSheet,
    paper: Paper,
    watch: Watch<'_>,
) -> Result<(Laid, usize), PrintFault> {
    let title = crate::model::capital(sheet.name());
    let of = format!("planting list {}, version {}", list.year, list.version);
    let settings = PrintSettings {
        margin: 30.0,
        head: format!(
            "{title} \u{b7} {of} \u{b7} digest {} \u{b7} {}",
            list.short_digest(),
            list.project
        ),
        ..PrintSettings::new(paper, format!("{}: {} of {of}", list.project, sheet.name()))
    };
    let FieldLines { rows, order, is_bulk } = field_lines(project, list);
    let mixes = is_bulk && sheet == FieldSheet::Planting;
    let rows = if mixes {
        for_the_bulk(project, list)
    } else {
        shown_on(sheet, rows)
    };
    let mut flow = Flow::new(fonts, &settings);
    flow.text(&title, 20.0, Weight::Bold);
    flow.text(&format!("{}, {of}", list.project), 11.0, Weight::Regular);
    let how = if mixes {
        format!(
            "One bulk: take so many kernels from each packet, tick it off, and mix all {} well. The packets stand in the order of their boxes.",
            plural(list.kernels() as usize, "kernel")
        )
    } else {
        format!("{order} {}", sheet.how())
    };
    flow.text(&how, 9.0, Weight::Regular);
    let blanks: Vec<FormItem> = sheet
        .blanks()
        .iter()
        .map(|what| FormItem::Blank((*what).to_owned()))
        .collect();
    flow.form_line(&blanks);
    flow.space(4.0);
    flow.running(&format!("{title}, continued"), &blanks);
    let boxes = sheet.boxes();
    let row = if mixes { "Line" } else { "Row" };
    let mut columns = vec![
        Column::number(row, Width::Fit).set_in(16.0, Weight::Bold),
        Column::number("Ear", Width::Fit).set_in(14.0, Weight::Regular),
        Column::text("Ear code", Width::Fit).set_in(9.0, Weight::Regular),
    ];
    let has_kernels = matches!(sheet, FieldSheet::Planting | FieldSheet::Stand);
    if has_kernels {
        columns.push(Column::number("Kernels", Width::Fit));
    }
    if sheet == FieldSheet::Planting {
        columns.push(Column::text("Box and slot", Width::Points(92.0)));
    }
    columns.extend(
        boxes
            .iter()
            .map(|(title, width)| Column::text(*title, Width::Points(*width))),
    );
    columns.push(Column::text("Note", Width::Share(1.0)));
    let fields = |row: &FieldLine| {
        let mut fields: Vec<Cell> = vec![
            row.stake.to_string().into(),
            row.name.clone().into(),
            row.code.clone().into(),
        ];
        if has_kernels {
            fields.push(row.kernels.to_string().into());
        }
        let mut blank = boxes.len() + 1;
        if sheet == FieldSheet::Planting {
            fields.push(row.place.clone().into());
            fields.push(Cell::TickBox);
            blank -= 1;
        }
        fields.extend((0..blank).map(|_| Cell::from("")));
        fields
    };
    tell(watch, 0.0)?;
    flow.table(&Table {
        columns,
        rows: rows.iter().map(fields).collect(),
        is_form: true,
        least_height: ROW,
        ..Table::default()
    });
    tell(watch, LAID_OUT)?;
    let pages = flow.into_pages();
    Ok((Laid { settings, pages }, rows.len()))
}

/// On a detassel sheet of a planned field stand the rows that are to be detasselled.
fn shown_on(sheet: FieldSheet, rows: Vec<FieldLine>) -> Vec<FieldLine> {
    if sheet != FieldSheet::Detassel || !rows.iter().any(|row| row.detasselled) {
        return rows;
    }
    rows.into_iter().filter(|row| row.detasselled).collect()
}

/// The packets of a bulk in the order of their boxes.
fn for_the_bulk(project: &Project, list: &PlantingList) -> Vec<FieldLine> {
    let mut rows = of_list(project, list);
    rows.sort_by(|one, other| natural(&one.place, &other.place));
    for (line, row) in (1..).zip(&mut rows) {
        row.stake = line;
    }
    rows
}

/// An ear that is left out, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CullReason {
    /// The ear.
    pub ear: EarId,
    /// Why, in a sentence or two.
    pub reason: String,
}

/// Prints which packets of a season are taken out as PDF, in the order in which they stand in their boxes. Ears on the
/// list in force, its reserves included, are not culled whatever is said of them.
///
/// # Errors
/// The PDF writer refuses; whoever watches says stop.
pub fn cull_list_pdf(
    project: &Project,
    season: SeasonId,
    reasons: &[CullReason],
    paper: Paper,
    watch: Watch<'_>,
) -> Result<PrintedSheet, PrintFault> {
    let fonts = Fonts::new()?;
    let (laid, lines) = cull_list_pages(&fonts, project, season, reasons, paper, watch)?;
    PrintedSheet::new(&fonts, &laid, lines, watch)
}

/// Lays that list out; gives its lines too.
///
/// # Errors
/// Whoever watches says stop.
pub fn cull_list_pages(
    fonts: &Fonts,
    project: &Project,
    season: SeasonId,
    reasons: &[CullReason],
    paper: Paper,
    watch: Watch<'_>,
) -> Result<(Laid, usize), PrintFault> {
    let year = project.seasons.get(season).map_or(0, |season| season.year);
    let list = project.list_in_force(season);
    let mut lines: Vec<(&Ear, &str, String)> = reasons
        .iter()
        .filter(|one| list.is_none_or(|list| !list.names(one.ear)))
        .filter_map(|one| {
            let ear = project.ears.get(one.ear)?;
            Some((ear, one.reason.as_str(), packet_places(project, ear.id)))
        })
        .collect();
    lines.sort_by(|(one, _, place), (other, _, behind)| {
        natural(place, behind).then(one.number.cmp(&other.number))
    });
    let culled: BTreeSet<EarId> = lines.iter().map(|(ear, ..)| ear.id).collect();
    let settings = PrintSettings {
        head: format!("Cull list {year} \u{b7} {}", project.about.name),
        ..PrintSettings::new(paper, format!("{}: cull list {year}", project.about.name))
    };
    let mut flow = Flow::new(fonts, &settings);
    flow.text(&format!("Cull list {year}"), 20.0, Weight::Bold);
    flow.text(&project.about.name, 11.0, Weight::Regular);
    flow.text(&opening(lines.len(), list), 10.0, Weight::Regular);
    flow.space(6.0);
    flow.running("Cull list, continued", &[]);
    let mut lost = BTreeMap::new();
    tell(watch, 0.0)?;
    if !lines.is_empty() {
        flow.table(&Table {
            columns: vec![
                Column::text("Out", Width::Fit),
                Column::number("Ear", Width::Fit).set_in(15.0, Weight::Bold),
                Column::text("Ear code", Width::Fit),
                Column::text("Box and slot", Width::Points(96.0)).set_in(11.0, Weight::Bold),
                Column::text("Mother row", Width::Points(62.0)),
                Column::number("Kernels", Width::Fit),
                Column::text("Why", Width::Share(1.0)).set_in(9.0, Weight::Regular),
            ],
            rows: lines
                .iter()
                .map(|(ear, reason, places)| {
                    let lost = ear.row.is_some_and(|row| {
                        *lost.entry(row).or_insert_with(|| is_lost(project, row, &culled))
                    });
                    fields(project, ear, reason, places, lost)
                })
                .collect(),
            least_height: 22.0,
            ..Table::default()
        });
    }
    flow.space(8.0);
    flow.form_line(&["Taken out by", "date"].map(|what| FormItem::Blank(what.to_owned())));
    tell(watch, LAID_OUT)?;
    let pages = flow.into_pages();
    Ok((Laid { settings, pages }, lines.len()))
}

fn opening(ears: usize, list: Option<&PlantingList>) -> String {
    let list = list.map_or_else(
        || "No planting list is frozen yet: freeze it first, and take nothing out before.".to_owned(),
        |list| format!("No ear of planting list version {} is among them.", list.version),
    );
    if ears == 0 {
        return format!("No ear is left out under the cutoffs. {list}");
    }
    let count = plural(ears, "ear");
    let verb = if ears == 1 { "is" } else { "are" };
    format!(
        "{count} {verb} left out under the cutoffs, in the order of the boxes. {list} Ears to be tested again and ears that were \
        not scored stay. Take all of them out on one day, so that none is planted by mistake."
    )
}

fn is_lost(project: &Project, row: RowId, culled: &BTreeSet<EarId>) -> bool {
    project.ears_of_row(row).all(|ear| culled.contains(&ear.id))
}

fn fields(project: &Project, ear: &Ear, reason: &str, places: &str, is_lost: bool) -> Vec<Cell> {
    let mother = match project.mother_label(ear) {
        "" => "unknown",
        label => label,
    };
    let kernels = project.kernels_of(ear.id);
    let kernels = kernels.map_or_else(|| "\u{2013}".to_owned(), |kernels| kernels.to_string());
    let why = if is_lost {
        format!("LAST OF ITS MOTHER ROW, all of which are on this list. {reason}")
    } else {
        reason.to_owned()
    };
    vec![
        Cell::TickBox,
        ear.number.to_string().into(),
        ear.code.to_string().into(),
        places.into(),
        mother.into(),
        kernels.into(),
        why.into(),
    ]
}

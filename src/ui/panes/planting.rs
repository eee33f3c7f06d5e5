//! Frozen planting lists: to read, to print, to check, to replace by a revision.

use super::field::Field;
use super::field_prints::FieldPrints;
use crate::exchange::planting_list_print::planting_list_pdf;
use crate::exchange::print::Paper;
use crate::model::{Command, EarId, ListEntry, ListId, Place, PlantingList, capital, plural};
use crate::ui::context::{Action, Pane, PaneCtx};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::grid::{Grid, GridColumn, GridEvent, GridSource, GridState};
use crate::ui::widgets::parts::{big_number, card, empty_state, primary_button};
use crate::ui::widgets::segmented::segmented;
use egui::{Id, RichText, Ui};
use std::borrow::Cow;

/// The parts of the pane.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Part {
    #[default]
    List,
    Plan,
    Year,
}

impl Part {
    const ALL: [(Self, &'static str); 3] = [
        (Self::List, "The list"),
        (Self::Plan, "Field plan"),
        (Self::Year, "Spring to autumn"),
    ];
}

/// What the pane remembers between frames.
#[derive(Default)]
pub struct Planting {
    shown: Option<ListId>,
    paper: usize,
    part: Part,
    prints: FieldPrints,
    field: Field,
    grid: GridState,
    table: Option<Table>,
}

/// The rows of a list as the grid shows them. A frozen list never changes, so they are made once.
struct Table {
    list: ListId,
    columns: Vec<GridColumn>,
    rows: Vec<Vec<String>>,
    ears: Vec<EarId>,
}

impl Table {
    fn new(list: &PlantingList) -> Self {
        let or_dash = |text: Option<String>| text.unwrap_or_else(|| "–".to_owned());
        let wanted = list.sowing.map(|sowing| sowing.plants);
        let rows = list
            .entries
            .iter()
            .map(|entry| {
                let mut row = vec![
                    entry.number.to_string(),
                    entry.code.to_string(),
                    if entry.mother.is_empty() {
                        "unknown".to_owned()
                    } else {
                        entry.mother.clone()
                    },
                    entry.plant.to_string(),
                    entry.keep.to_string(),
                    or_dash(
                        entry
                            .germinated
                            .map(|(germinated, counted)| format!("{germinated} of {counted}")),
                    ),
                    or_dash(entry.likely_percent.map(|percent| format!("{percent:.1}"))),
                    or_dash(entry.maturity_days.map(|days| format!("{days:.0}"))),
                    entry.why.clone(),
                ];
                if let Some(wanted) = wanted {
                    row.splice(STAND_AT..STAND_AT, stand_cells(entry, wanted));
                }
                row
            })
            .collect();
        let number = |title: &str| GridColumn::new(title).read_only().number();
        let text = |title: &str| GridColumn::new(title).read_only();
        let mut columns = vec![
            number("Ear number").frozen(),
            text("Ear code"),
            text("Mother row"),
            number("Plant").hint("Kernels to plant"),
            number("Keep").hint("Kernels to keep back"),
            number("Germinated"),
            number("Likely %").hint("What its cold germination is likely to be"),
            number("Maturity days"),
            text("Why"),
        ];
        if wanted.is_some() {
            let stand = [
                number("Wanted").hint("Plants wanted of the ear"),
                number("Likely plants")
                    .hint("Plants on average, and the range that holds them with a probability of 90 %"),
                number("Sure %").hint("The probability of the wanted plants"),
                text("Limited by").hint("What stands in the way of the wanted plants"),
            ];
            columns.splice(STAND_AT..STAND_AT, stand);
        }
        Self {
            list: list.id,
            columns,
            rows,
            ears: list.entries.iter().map(|entry| entry.ear).collect(),
        }
    }
}

/// Where the columns of a wanted stand begin: after the kernels to plant and to keep.
const STAND_AT: usize = 5;

/// What the kernels of an ear are likely to give, beside the plants that were wanted.
fn stand_cells(entry: &ListEntry, wanted: u32) -> [String; 4] {
    let Some(sowing) = entry.sowing else {
        return [wanted.to_string(), "–".to_owned(), "–".to_owned(), String::new()];
    };
    let limit = sowing.limited_by(entry.plant);
    [
        wanted.to_string(),
        format!(
            "{:.1} ({} to {})",
            sowing.plants, sowing.plants_low, sowing.plants_high
        ),
        format!("{:.0}", 100.0 * sowing.probability),
        match sowing.needed {
            Some(needed) if !limit.is_empty() => format!("{limit}: needs {needed}"),
            _ => limit.to_owned(),
        },
    ]
}

impl GridSource for Table {
    fn rows(&self) -> usize {
        self.rows.len()
    }

    fn columns(&self) -> &[GridColumn] {
        &self.columns
    }

    fn text(&self, row: usize, col: usize) -> Cow<'_, str> {
        self.rows
            .get(row)
            .and_then(|row| row.get(col))
            .map_or(Cow::Borrowed(""), |text| Cow::Borrowed(text))
    }
}

impl Planting {
    /// Draws the pane.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        let project = ctx.document.project();
        let mut lists: Vec<&PlantingList> = project
            .lists
            .iter()
            .filter(|list| Some(list.season) == ctx.season)
            .collect();
        lists.sort_by_key(|list| std::cmp::Reverse(list.version));
        let Some(&newest) = lists.first() else {
            let what = "When the cutoffs stand where you want them, freeze the planting list in the pane Selection. It then appears here, to print and to plant from.";
            if empty_state(
                ui,
                "No planting list is frozen yet",
                what,
                Some("Go to Selection"),
            ) {
                ctx.act(Action::Show(Pane::Selection));
            }
            return;
        };
        let list = lists
            .iter()
            .copied()
            .find(|list| Some(list.id) == self.shown)
            .unwrap_or(newest);
        self.shown = Some(list.id);
        let t = Tokens::of(ui);
        if lists.len() > 1 {
            let names: Vec<String> = lists
                .iter()
                .map(|list| format!("List {}", list.version))
                .collect();
            let names: Vec<&str> = names.iter().map(String::as_str).collect();
            let chosen = lists.iter().position(|other| other.id == list.id).unwrap_or(0);
            if let Some(other) = segmented(ui, Id::unique("list switch"), "Planting list", &names, chosen) {
                self.shown = Some(lists[other].id);
                self.grid = GridState::default();
            }
            ui.add_space(t.space.small);
        }
        let names = Part::ALL.map(|(_, name)| name);
        let chosen = Part::ALL
            .iter()
            .position(|(part, _)| *part == self.part)
            .unwrap_or(0);
        if let Some(other) = segmented(
            ui,
            Id::unique("planting part"),
            "What is shown of the list",
            &names,
            chosen,
        ) {
            self.part = Part::ALL[other].0;
        }
        ui.add_space(t.space.small);
        match self.part {
            Part::List => {}
            Part::Plan => return self.field.plan_ui(ui, ctx, list),
            Part::Year => {
                if self.field.year_ui(ui, ctx, list) {
                    self.part = Part::Plan;
                }
                return;
            }
        }
        // The list itself always keeps some rows in sight, also in a low window with large text.
        let room = (ui.available_height() - 6.0 * t.row_height).max(3.0 * t.control_height);
        egui::ScrollArea::vertical()
            .id_salt("list head")
            .max_height(room)
            .show(ui, |ui| {
                self.head(ui, ctx, list, newest.id == list.id);
            });
        ui.add_space(t.space.small);
        self.table(ui, ctx, list);
    }

    fn head(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, list: &PlantingList, in_force: bool) {
        let t = Tokens::of(ui);
        card(ui, |ui| {
            ui.horizontal_wrapped(|ui| {
                let title = format!("Planting list {}, season {}", list.version, list.year);
                ui.label(RichText::new(title).font(t.heading_font()));
                if !in_force {
                    ui.label(RichText::new("⚠ replaced by a later list").color(t.warn));
                }
            });
            ui.horizontal_wrapped(|ui| {
                ui.label("Paper");
                if let Some(paper) = segmented(ui, Id::unique("paper"), "Paper", &["Letter", "A4"], self.paper) {
                    self.paper = paper;
                }
                if primary_button(ui, "Print to a PDF file…").clicked() {
                    let paper = [Paper::Letter, Paper::A4][self.paper];
                    let (name, list) = (format!("{}.pdf", file_stem(list)), list.clone());
                    ctx.save_file(&name, move |_job| {
                        planting_list_pdf(&list, paper).map_err(|fault| fault.to_string())
                    });
                }
                if ui.button("Look at it…").on_hover_text("The list on paper, before it is printed.").clicked() {
                    let file = format!("{}.pdf", file_stem(list));
                    let paper = [Paper::Letter, Paper::A4][self.paper];
                    self.prints.look_at_list(list, file, paper);
                }
                let text = ui.button("Write its text…").on_hover_text(
                    "The exact text behind the digest: sha256sum, or any program that computes SHA-256, must give the same digits.",
                );
                if text.clicked() {
                    let (name, list) = (format!("{}.txt", file_stem(list)), list.clone());
                    ctx.save_file(&name, move |_job| Ok(list.text().into_bytes()));
                }
                let paper = [Paper::Letter, Paper::A4][self.paper];
                self.prints.ui(ui, ctx, list, paper);
                if in_force && ui.button("Freeze a revision…").clicked() {
                    ctx.act(Action::AskFreeze);
                }
            });
            ui.horizontal_wrapped(|ui| {
                big_number(ui, &list.entries.len().to_string(), "ears");
                ui.add_space(t.space.large);
                big_number(ui, &list.mothers().to_string(), "mother rows");
                ui.add_space(t.space.large);
                big_number(ui, &list.kernels().to_string(), "kernels to plant");
            });
            ui.label(format!(
                "Frozen on {} by {}. {}.",
                list.frozen_on,
                list.frozen_by,
                capital(list.cutoffs_text())
            ));
            if let Some(sowing) = list.sowing {
                ui.label(format!("Kernels of each ear for {}.", sowing.text()));
            }
            if !list.reason.is_empty() {
                ui.label(format!(
                    "It replaces the list before it because: {}.",
                    list.reason
                ));
            }
            if !list.reserves.is_empty() {
                let ears: Vec<String> = list
                    .reserves
                    .iter()
                    .map(|entry| format!("{} ({})", entry.number, plural(entry.plant as usize, "kernel")))
                    .collect();
                ui.add(
                    egui::Label::new(format!(
                        "Held in reserve for a row that fails, the likeliest first: {}.",
                        ears.join(", ")
                    ))
                    .wrap(),
                );
            }
            ui.horizontal_wrapped(|ui| {
                ui.label("Digest (SHA-256):");
                ui.add(
                    egui::Label::new(RichText::new(&list.digest).font(t.small_font()))
                        .selectable(true)
                        .wrap(),
                );
            });
            since(ui, ctx, list);
            if in_force {
                planted(ui, ctx, list);
            }
        });
    }

    fn table(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, list: &PlantingList) {
        let table = match self.table.take() {
            Some(table) if table.list == list.id => table,
            _ => Table::new(list),
        };
        let events = Grid::new(Id::unique("planting list"), "Planting list")
            .row_numbers(false)
            .show(ui, &mut self.grid, &table);
        for event in events {
            if let GridEvent::Cursor { row } = event
                && let Some(ear) = table.ears.get(row)
            {
                ctx.choose(vec![*ear]);
            }
        }
        self.table = Some(table);
    }

    /// Shows a place of the project that belongs to this pane, in the next frame.
    pub fn go(&mut self, place: Place) {
        match place {
            Place::List(list) => {
                self.shown = Some(list);
                self.part = Part::List;
            }
            Place::Plan(_) | Place::FieldRow(_) => {
                self.part = Part::Plan;
                self.field.go(place);
            }
            _ => {}
        }
    }
}

/// How much of the list in force is planted, and noting that it was: its kernels then leave the packets.
fn planted(ui: &mut Ui, ctx: &mut PaneCtx<'_>, list: &PlantingList) {
    let project = ctx.document.project();
    let open: Vec<_> = list
        .entries
        .iter()
        .filter(|entry| !project.is_planted(list, entry))
        .collect();
    let kernels: u64 = open.iter().map(|entry| u64::from(entry.plant)).sum();
    let done = list.entries.len() - open.len();
    let chosen = open
        .iter()
        .copied()
        .find(|entry| ctx.chosen.last() == Some(&entry.ear));
    let (open, one) = (open.len(), chosen.map(|entry| (entry.ear, entry.number)));
    ui.horizontal_wrapped(|ui| {
        ui.label(match open {
            0 => "All of it is planted.".to_owned(),
            _ => format!(
                "{done} of {} planted; {kernels} kernels are reserved in the packets for the others.",
                plural(list.entries.len(), "ear")
            ),
        });
        if open == 0 || ctx.read_only.is_some() {
            return;
        }
        let hint = "Takes the kernels out of the packets, today. One step, which can be undone.";
        let mut note = |ears: Vec<EarId>| {
            ctx.run(Command::Plant {
                list: list.id,
                ears,
                on: ctx.today,
            });
        };
        if let Some((ear, number)) = one
            && ui
                .button(format!("Note ear {number} as planted"))
                .on_hover_text(hint)
                .clicked()
        {
            note(vec![ear]);
        }
        let all = if done == 0 {
            "Note all as planted"
        } else {
            "Note the rest as planted"
        };
        if ui.button(all).on_hover_text(hint).clicked() {
            note(Vec::new());
        }
    });
}

fn since(ui: &mut Ui, ctx: &PaneCtx<'_>, list: &PlantingList) {
    let t = Tokens::of(ui);
    let changed = ctx.insight.since_frozen(ctx.document, list.id);
    if !changed.is_empty() {
        let title = format!(
            "⚠ {} since it was frozen; the list stays as it is",
            changes(changed.len())
        );
        egui::CollapsingHeader::new(RichText::new(title).color(t.warn))
            .id_salt("since")
            .show(ui, |ui| {
                for sentence in changed.iter().take(40) {
                    ui.label(sentence);
                }
            });
    }
    let before = ctx
        .document
        .project()
        .lists
        .iter()
        .find(|other| other.season == list.season && other.version + 1 == list.version);
    if let Some(before) = before {
        egui::CollapsingHeader::new(format!("What differs from list {}", before.version))
            .id_salt("differences")
            .show(ui, |ui| {
                for sentence in crate::insight::revision(before, list).iter().take(40) {
                    ui.label(sentence);
                }
            });
    }
}

fn changes(count: usize) -> String {
    if count == 1 {
        "1 change".to_owned()
    } else {
        format!("{count} changes")
    }
}

fn file_stem(list: &PlantingList) -> String {
    format!("planting-list-{}-{}", list.year, list.version)
}

//! Ears, packets and traits of a season: a table to type, paste and import into.

mod bulk;
mod edits;
mod import;
mod side;
mod table;
mod traits;

use self::bulk::Bulk;
use self::edits::{Block, Refusal};
use self::import::Import;
use self::side::Side;
use self::table::{CODE, NewEars, Origin, Source, Table};
use self::traits::Traits;
use super::labels::Labels;
use super::table_preview;
use crate::insight::EarColumn;
use crate::model::sentence;
use crate::model::{Command, EarDraft, EarEdit, EarField, EarId, EarValue, Place, Project, Season, SeasonId};
use crate::ui::context::{Action, PaneCtx, Ticket};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::grid::{Grid, GridEvent, GridState};
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::parts::{alert, card, primary_button};
use egui::{Button, Id, Key, Modifiers, PointerButton, RichText, TextEdit, Ui};
use std::ops::Range;

/// Width of the pane from which the side is shown, unless the grower said otherwise.
const WIDE: f32 = 1100.0;

/// What the pane remembers between frames.
#[derive(Debug, Default)]
pub struct Harvest {
    wanted: Option<Place>,
    table: Table,
    grid: GridState,
    filter: String,
    side: Side,
    /// Whether the side is shown; none until the grower said.
    side_open: Option<bool>,
    dialog: Option<Window>,
    import: Option<Import>,
    opening: Option<Ticket>,
    asked: Vec<Asked>,
    refusal: Option<Refusal>,
    /// The rows of the grid whose ears were made the chosen ones.
    sent: Option<Range<usize>>,
    seen: Vec<EarId>,
    year: Option<i16>,
    last_pass: Option<u64>,
    was_just_shown: bool,
}

/// What lies over the pane.
#[derive(Debug)]
enum Window {
    Bulk(Bulk),
    Traits(Traits),
    Labels(Box<Labels>),
}

/// A command whose outcome is awaited, and what asked for it.
#[derive(Debug)]
struct Asked {
    ticket: Ticket,
    by: Asker,
}

#[derive(Debug)]
enum Asker {
    /// A cell of an ear, or of the empty row.
    Cell {
        row: usize,
        col: usize,
        /// Where to put the cursor when it was the empty row and the cursor could go no further down.
        then: Option<usize>,
        is_new: bool,
    },
    /// A block of cells.
    Block { first_new: u32, draft_rows: Vec<usize> },
    /// The removal of ears.
    Removal,
}

impl Harvest {
    /// Draws the pane.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        let project = ctx.document.project();
        let Some(season) = ctx.season.and_then(|id| project.seasons.get(id)) else {
            self.no_season(ui, ctx);
            return;
        };
        let just_shown = self.note_pass(ui);
        self.answers(ctx, season.id);
        self.follow(ui, ctx, season.id);
        self.take_files(ctx);
        if let Some(import) = &mut self.import {
            if import.show(ui, ctx, season) {
                self.import = None;
                self.grid.request_focus();
            }
            return;
        }
        self.dialogs(ui, ctx, season.id);
        self.keys(ui, ctx);
        let side_open = self.is_side_open(ui);
        self.toolbar(ui, ctx, season.id, side_open);
        if side_open {
            egui::Panel::right("harvest side")
                .resizable(true)
                .default_size(384.0)
                .size_range(280.0..=520.0)
                .show(ui, |ui| {
                    if let Some(ears) = self.side.show(ui, ctx, season)
                        && !ears.is_empty()
                    {
                        self.sent = None;
                        ctx.choose(ears);
                    }
                });
        }
        self.take_keyboard(ui, just_shown);
        self.say(ui, project, season);
        self.ears(ui, ctx, season.id);
    }

    /// Shows a place of the project that belongs to this pane, in the next frame.
    pub fn go(&mut self, place: Place) {
        self.wanted = Some(place);
        self.import = None;
    }

    /// Whether the pane was not drawn in the pass before this one.
    fn note_pass(&mut self, ui: &Ui) -> bool {
        let pass = ui.ctx().cumulative_pass_nr();
        let before = self.last_pass.replace(pass);
        before.is_none_or(|before| before + 1 < pass)
    }

    /// Gives the table the keyboard when the pane is shown and nothing else has it. A button that led here has gone,
    /// but holds the keyboard for one more pass.
    fn take_keyboard(&mut self, ui: &Ui, just_shown: bool) {
        if just_shown {
            ui.ctx().request_repaint();
        }
        let is_free = ui.memory(|memory| memory.focused().is_none());
        if (just_shown || self.was_just_shown) && is_free {
            self.grid.request_focus();
        }
        self.was_just_shown = just_shown;
    }

    fn is_side_open(&self, ui: &Ui) -> bool {
        self.side_open.unwrap_or_else(|| ui.available_width() >= WIDE)
    }

    // ---- before anything is drawn ------------------------------------------------------------------------

    fn no_season(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        let t = Tokens::of(ui);
        let mut year = self.year.unwrap_or(ctx.today.year());
        card(ui, |ui| {
            ui.label(RichText::new("There is no season yet").font(t.heading_font()));
            ui.label(
                RichText::new("A season is one cycle: planted, harvested, tested, selected. It is named by the year of its harvest.")
                    .color(t.quiet),
            );
            ui.add_space(t.space.small);
            ui.add_enabled_ui(ctx.read_only.is_none(), |ui| {
                let field = NumberField::new(Id::unique("harvest year"), "Year of the harvest");
                if let Some(typed) = field.range(1800.0..=2200.0).show(ui, f64::from(year)) {
                    year = typed as i16;
                }
                ui.add_space(t.space.small);
                if primary_button(ui, &format!("Begin season {year}")).clicked() {
                    ctx.run(Command::AddSeason { year, planted: None });
                }
            });
        });
        self.year = Some(year);
        if let Some(season) = ctx.document.project().latest_season() {
            ctx.act(Action::ShowSeason(season.id));
        }
    }

    /// Takes the outcomes of what was asked for in the last frame, and brings the table up to date.
    fn answers(&mut self, ctx: &PaneCtx<'_>, season: SeasonId) {
        let project = ctx.document.project();
        let asked = std::mem::take(&mut self.asked);
        let typed = asked
            .iter()
            .any(|asked| matches!(asked.by, Asker::Cell { is_new: true, .. }));
        let at_cursor = self.table.order.get(self.grid.cursor().0).copied();
        let new = if typed { NewEars::Typed } else { NewEars::Other };
        let has_changed = self
            .table
            .refresh(origin(ctx, season), ctx.read_only.is_none(), new);
        if has_changed && !typed {
            let moved = at_cursor.and_then(|ear| self.table.row_of(ear));
            if let Some(row) = moved.filter(|row| *row != self.grid.cursor().0) {
                self.grid.set_cursor(row, self.grid.cursor().1);
            }
        }
        for Asked { ticket, by } in asked {
            let Some(outcome) = ctx.outcome(ticket) else {
                continue;
            };
            match (outcome, by) {
                (Err(problem), Asker::Cell { row, col, .. }) => {
                    self.grid.refuse(row, col, sentence(&problem.fault.to_string()));
                    break;
                }
                (
                    Ok(_),
                    Asker::Cell {
                        col, then: Some(row), ..
                    },
                ) => self.grid.set_cursor(row, col),
                (
                    Err(problem),
                    Asker::Block {
                        first_new,
                        draft_rows,
                    },
                ) => {
                    let refusal = edits::refusal_of(problem, &self.table, project, first_new, &draft_rows);
                    self.refuse(refusal);
                }
                (Err(problem), Asker::Removal) => {
                    self.refuse(edits::refusal_of(problem, &self.table, project, u32::MAX, &[]));
                }
                (Ok(_), _) => {}
            }
        }
    }

    fn refuse(&mut self, refusal: Refusal) {
        if let Some((row, col)) = refusal.at {
            self.grid.set_cursor(row, col);
        }
        self.refusal = Some(refusal);
    }

    /// Goes where it was asked to go, and to ears that were chosen elsewhere.
    fn follow(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>, season: SeasonId) {
        let project = ctx.document.project();
        if self.seen != ctx.chosen {
            self.seen = ctx.chosen.to_vec();
            self.table.chosen = ctx.chosen.iter().copied().collect();
            let sent = self.sent.clone().and_then(|rows| self.table.order.get(rows));
            let is_ours = sent.is_some_and(|sent| same_ears(sent, ctx.chosen));
            let may_move = !is_ours && !self.grid.is_editing();
            if may_move && let Some(row) = ctx.chosen.last().and_then(|ear| self.table.row_of(*ear)) {
                self.grid.set_cursor(row, self.grid.cursor().1);
                self.sent = Some(row..row + 1);
            }
        }
        match self.wanted {
            None => {}
            Some(Place::Ear(ear)) => self.go_to_ear(ctx, season, ear, 0),
            Some(Place::Packet(packet)) => {
                let kernels = self.table.place_of(EarColumn::Kernels);
                match project.packets.get(packet) {
                    Some(packet) => self.go_to_ear(ctx, season, packet.ear, kernels.unwrap_or(0)),
                    None => self.wanted = None,
                }
            }
            Some(Place::Row(row)) => {
                let of = project.rows.get(row).map(|row| row.season);
                match of {
                    Some(of) if of != season => ctx.act(Action::ShowSeason(of)),
                    Some(_) if !self.side.knows(season) => {
                        // The side reads the rows when it is drawn; the next frame goes to the row.
                        self.side_open = Some(true);
                        ui.ctx().request_repaint();
                    }
                    _ => {
                        self.side_open = Some(true);
                        self.side.go(row);
                        self.wanted = None;
                    }
                }
            }
            Some(Place::Trait(id)) => {
                self.wanted = None;
                if let Some(known) = project.traits.get(id) {
                    self.dialog = Some(Window::Traits(Traits::of(known)));
                }
            }
            Some(_) => self.wanted = None,
        }
    }

    fn go_to_ear(&mut self, ctx: &mut PaneCtx<'_>, season: SeasonId, ear: EarId, col: usize) {
        let project = ctx.document.project();
        let Some(of) = project.ears.get(ear).map(|ear| ear.season) else {
            self.wanted = None;
            return;
        };
        if of != season {
            ctx.act(Action::ShowSeason(of));
            return;
        }
        self.wanted = None;
        if self.table.row_of(ear).is_none() {
            self.filter.clear();
            self.table.filter_by(origin(ctx, season), "");
        }
        if let Some(row) = self.table.row_of(ear) {
            self.grid.set_cursor(row, col);
            self.grid.request_focus();
            self.sent = None;
        }
    }

    fn take_files(&mut self, ctx: &mut PaneCtx<'_>) {
        let Some(file) = table_preview::take_file(ctx, &mut self.opening) else {
            return;
        };
        match Import::read(&file, ctx.document.project()) {
            Ok(import) => self.import = Some(import),
            Err(what) => self.refusal = Some(Refusal { text: what, at: None }),
        }
    }

    fn dialogs(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>, season: SeasonId) {
        let is_done = match &mut self.dialog {
            None => false,
            Some(Window::Bulk(bulk)) => bulk.show(ui, ctx, season),
            Some(Window::Traits(traits)) => traits.show(ui, ctx),
            Some(Window::Labels(labels)) => labels.show(ui, ctx),
        };
        if is_done {
            self.dialog = None;
            self.grid.request_focus();
        }
    }

    /// Keys of the pane that the grid does not know.
    fn keys(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>) {
        if self.dialog.is_some() {
            return;
        }
        if ui.input_mut(|input| input.consume_key(Modifiers::COMMAND, Key::L)) {
            ui.memory_mut(|memory| memory.request_focus(filter_id()));
        }
        let (row, col) = self.grid.cursor();
        let on_code =
            col == CODE && !self.grid.is_editing() && ui.memory(|memory| memory.has_focus(grid_id()));
        let ear = self.table.order.get(row).copied();
        if let Some(ear) = ear.filter(|_| on_code)
            && ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Enter))
        {
            ctx.act(Action::OpenCard(ear));
        }
    }

    // ---- around the table --------------------------------------------------------------------------------

    fn toolbar(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: SeasonId, side_open: bool) {
        let can_change = ctx.read_only.is_none();
        ui.horizontal_wrapped(|ui| {
            if ui.add_enabled(can_change, Button::new("Add ears…")).clicked() {
                self.dialog = Some(Window::Bulk(Bulk::new()));
            }
            if ui
                .add_enabled(can_change, Button::new("Import a file…"))
                .clicked()
            {
                self.opening = Some(ctx.open_file("Import ears from a file", &table_preview::ENDINGS));
            }
            if ui.button("Traits…").clicked() {
                self.dialog = Some(Window::Traits(Traits::default()));
            }
            let has_ears = ctx.document.project().ears_of(season).next().is_some();
            if ui
                .add_enabled(has_ears, Button::new("Labels…"))
                .on_hover_text("Print labels of packets, or slips to put inside.")
                .on_disabled_hover_text("There are no ears yet; add some first.")
                .clicked()
            {
                self.dialog = Some(Window::Labels(Box::new(Labels::of_packets(
                    season,
                    ctx.label_sheets,
                ))));
            }
            if ui
                .add(Button::new("Season and rows").selected(side_open))
                .clicked()
            {
                self.side_open = Some(!side_open);
            }
            self.filter_field(ui, origin(ctx, season));
        });
    }

    fn filter_field(&mut self, ui: &mut Ui, origin: Origin<'_>) {
        let t = Tokens::of(ui);
        let name = ui.label("Show only");
        let field = TextEdit::singleline(&mut self.filter)
            .id(filter_id())
            .hint_text("any text in a cell")
            .desired_width(190.0);
        let response = ui.add(field).labelled_by(name.id).on_hover_text(
            "Shows only the ears that have this text in one of their cells. Ctrl+L comes here.",
        );
        let escaped = response.lost_focus() && ui.input(|input| input.key_pressed(Key::Escape));
        if escaped {
            self.filter.clear();
        }
        if response.changed() || escaped {
            self.filter_now(origin);
        }
        if response.lost_focus()
            && ui.input(|input| input.key_pressed(Key::Enter) || input.key_pressed(Key::Escape))
        {
            self.grid.request_focus();
        }
        let (shown, all) = (self.table.order.len(), self.table.total);
        if !self.filter.trim().is_empty() {
            if ui.button("Show all").clicked() {
                self.filter.clear();
                self.filter_now(origin);
            }
            ui.label(RichText::new(format!("{shown} of {all} ears")).color(t.quiet));
        } else if all == 1 {
            ui.label(RichText::new("1 ear").color(t.quiet));
        } else {
            ui.label(RichText::new(format!("{all} ears")).color(t.quiet));
        }
    }

    fn filter_now(&mut self, origin: Origin<'_>) {
        let at = self.table.order.get(self.grid.cursor().0).copied();
        self.table.filter_by(origin, &self.filter);
        let row = at.and_then(|ear| self.table.row_of(ear)).unwrap_or(0);
        self.grid.set_cursor(row, self.grid.cursor().1);
        self.sent = None;
    }

    /// Says what to do first, or why nothing was taken.
    fn say(&mut self, ui: &mut Ui, project: &Project, season: &Season) {
        let t = Tokens::of(ui);
        if let Some(refusal) = self.refusal.clone() {
            ui.horizontal_top(|ui| {
                if ui.button("✗").accessible_name("Close this sentence").clicked() {
                    self.refusal = None;
                }
                ui.vertical(|ui| alert(ui, &refusal.text));
            });
        } else if project.ears_of(season.id).next().is_none() {
            let text = format!(
                "Season {} has no ears yet. Type into the table, paste from a spreadsheet (Ctrl+V), press 'Add ears…' to make many at once, or import a file.",
                season.year
            );
            ui.label(RichText::new(text).color(t.quiet));
        }
        ui.add_space(t.space.tiny);
    }

    // ---- the table ---------------------------------------------------------------------------------------

    fn ears(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: SeasonId) {
        let project = ctx.document.project();
        self.grid.set_sort(self.table.sorted());
        let source = Source::new(&self.table, project);
        let area = ui.available_rect_before_wrap();
        let events = Grid::new(grid_id(), "Ears").show(ui, &mut self.grid, &source);
        self.choose(ui, ctx);
        let opens = ui.input(|input| {
            let pointer = &input.pointer;
            pointer.button_double_clicked(PointerButton::Primary)
                && pointer.interact_pos().is_some_and(|pos| area.contains(pos))
        });
        let (row, col) = self.grid.cursor();
        if let Some(ear) = self.table.order.get(row).filter(|_| opens && col == CODE) {
            ctx.act(Action::OpenCard(*ear));
        }
        if !events.is_empty() {
            self.take(ctx, season, events);
        }
    }

    /// Makes the ears of the chosen rows the chosen ears, when the grower moved in the grid.
    fn choose(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>) {
        if !self.grid.is_editing() && !ui.memory(|memory| memory.has_focus(grid_id())) {
            return;
        }
        let (rows, _) = self.grid.selection();
        let rows = rows.start.min(self.table.order.len())..rows.end.min(self.table.order.len());
        if rows.is_empty() || self.sent.as_ref() == Some(&rows) {
            return;
        }
        let mut ears = self.table.order[rows.clone()].to_vec();
        // The ear at the cursor is the one chosen last.
        if self.grid.cursor().0 == rows.start {
            ears.reverse();
        }
        self.sent = Some(rows);
        ctx.choose(ears);
    }

    /// Turns what was done in the grid into commands.
    fn take(&mut self, ctx: &mut PaneCtx<'_>, season: SeasonId, events: Vec<GridEvent>) {
        let project = ctx.document.project();
        let mut fills = Vec::new();
        let mut typed = Vec::new();
        for event in events {
            if is_change(&event) {
                self.refusal = None;
                if let Some(why) = ctx.read_only {
                    let text = format!("Nothing can be changed: {why}.");
                    self.refusal = Some(Refusal { text, at: None });
                    continue;
                }
            }
            match event {
                GridEvent::Edit { row, col, text } => {
                    if let Some((field, value)) = self.edit(ctx, row, col, &text) {
                        typed.push((col, field, value));
                    }
                }
                GridEvent::Paste { row, col, cells } => {
                    let block = edits::paste(&self.table, project, season, (row, col), &cells);
                    self.run_block(ctx, season, block);
                }
                GridEvent::FillDown { rows, col } => fills.push((rows, col)),
                GridEvent::Clear { rows, cols } => {
                    let block = edits::clear(&self.table, rows, cols);
                    self.run_block(ctx, season, block);
                }
                GridEvent::Sort { col, descending } => {
                    let at = self.table.order.get(self.grid.cursor().0).copied();
                    self.table.sort_by(origin(ctx, season), col, descending);
                    let row = at.and_then(|ear| self.table.row_of(ear)).unwrap_or(0);
                    self.grid.set_cursor(row, col);
                    self.sent = None;
                }
                GridEvent::DeleteRows { rows } => {
                    let rows = rows.start.min(self.table.order.len())..rows.end.min(self.table.order.len());
                    let ears = self.table.order[rows].to_vec();
                    if !ears.is_empty() {
                        let ticket = ctx.run_for(Command::RemoveEars(ears));
                        self.asked.push(Asked {
                            ticket,
                            by: Asker::Removal,
                        });
                        self.sent = None;
                    }
                }
                GridEvent::Copy { .. } | GridEvent::Cursor { .. } => {}
            }
        }
        if !fills.is_empty() {
            let block = edits::fill_down(&self.table, project, &fills);
            self.run_block(ctx, season, block);
        }
        self.add_typed(ctx, season, &typed);
    }

    /// Takes one typed cell of an ear; a cell of the empty row is given back.
    fn edit(
        &mut self,
        ctx: &mut PaneCtx<'_>,
        row: usize,
        col: usize,
        text: &str,
    ) -> Option<(EarField, EarValue)> {
        let field = self.table.columns.get(col)?.field()?;
        let value = match edits::read_cell(field, text, ctx.document.project()) {
            Ok(value) => value,
            Err(what) => {
                self.grid.refuse(row, col, what);
                return None;
            }
        };
        let Some(ear) = self.table.order.get(row).copied() else {
            return Some((field, value));
        };
        let ticket = ctx.run_for(Command::EditEars(vec![EarEdit { ear, field, value }]));
        self.asked.push(Asked {
            ticket,
            by: Asker::Cell {
                row,
                col,
                then: None,
                is_new: false,
            },
        });
        None
    }

    /// Adds the ears that were typed into the empty row.
    fn add_typed(&mut self, ctx: &mut PaneCtx<'_>, season: SeasonId, typed: &[(usize, EarField, EarValue)]) {
        let Some((col, ..)) = typed.last() else { return };
        let cells: Vec<(EarField, EarValue)> = typed
            .iter()
            .map(|(_, field, value)| (*field, value.clone()))
            .collect();
        let drafts: Vec<EarDraft> = edits::typed_ears(&cells);
        let row = self.table.order.len();
        // Enter could not go below the empty row: it does when that row has become an ear.
        let then = (self.grid.cursor() == (row, *col)).then_some(row + drafts.len());
        let command = Command::AddEars {
            season,
            drafts,
            existing: crate::model::Existing::Refuse,
        };
        let ticket = ctx.run_for(command);
        self.asked.push(Asked {
            ticket,
            by: Asker::Cell {
                row,
                col: *col,
                then,
                is_new: true,
            },
        });
    }

    fn run_block(&mut self, ctx: &mut PaneCtx<'_>, season: SeasonId, block: Result<Block, Refusal>) {
        let block = match block {
            Ok(block) => block,
            Err(refusal) => return self.refuse(refusal),
        };
        if block.is_empty() {
            return;
        }
        let ticket = ctx.run_for(block.command(season));
        self.asked.push(Asked {
            ticket,
            by: Asker::Block {
                first_new: ctx.document.project().ears.next_number(),
                draft_rows: block.draft_rows,
            },
        });
    }
}

/// Whether what was done in a grid asks for a change.
fn is_change(event: &GridEvent) -> bool {
    !matches!(
        event,
        GridEvent::Cursor { .. } | GridEvent::Copy { .. } | GridEvent::Sort { .. }
    )
}

fn origin<'a>(ctx: &PaneCtx<'a>, season: SeasonId) -> Origin<'a> {
    Origin {
        document: ctx.document,
        insight: ctx.insight,
        season,
    }
}

fn same_ears(a: &[EarId], b: &[EarId]) -> bool {
    a == b || (a.len() == b.len() && a.iter().rev().eq(b))
}

fn grid_id() -> Id {
    Id::unique("harvest ears")
}

fn filter_id() -> Id {
    Id::unique("harvest filter")
}

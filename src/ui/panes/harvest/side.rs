//! What lies beside the table: the facts of the season, and its rows.

use super::edits::ears_by_row;
use crate::insight::natural;
use crate::model::sentence;
use crate::model::{
    Area, Command, DateOrder, Document, EarCode, EarId, KernelWay, Project, Row, RowId, RowSource, Season,
    SeasonId, read_date,
};
use crate::ui::context::{PaneCtx, Ticket};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::grid::{Grid, GridColumn, GridEvent, GridSource, GridState};
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::parts::alert;
use egui::{Id, Key, RichText, TextEdit, Ui};
use jiff::civil::Date;
use std::borrow::Cow;

/// The most kernels that a season plants or keeps back of one ear.
const MOST_KERNELS_EACH: f64 = 100_000.0;

/// What the side remembers.
#[derive(Debug, Default)]
pub(super) struct Side {
    grid: GridState,
    key: Option<(SeasonId, [u64; 3], bool)>,
    rows: Rows,
    /// The command whose outcome is awaited, and the cell that was typed for it.
    asked: Option<(Ticket, Option<(usize, usize)>)>,
    refused: Option<String>,
}

#[derive(Debug, Default)]
struct Rows {
    columns: Vec<GridColumn>,
    ids: Vec<RowId>,
    cells: Vec<[String; 4]>,
    can_change: bool,
}

const LABEL: usize = 0;
const SOURCE: usize = 2;
const PLANTED: usize = 3;

impl GridSource for Rows {
    fn rows(&self) -> usize {
        self.cells.len() + usize::from(self.can_change)
    }

    fn columns(&self) -> &[GridColumn] {
        &self.columns
    }

    fn text(&self, row: usize, col: usize) -> Cow<'_, str> {
        self.cells
            .get(row)
            .map_or("".into(), |cells| cells[col].as_str().into())
    }
}

impl Rows {
    fn of(document: &Document, season: SeasonId, can_change: bool) -> Self {
        let project = document.project();
        let mut rows: Vec<&Row> = project.rows_of(season).collect();
        rows.sort_by(|a, b| natural(&a.label, &b.label));
        let ears = ears_by_row(project, season);
        let source_hint = "Where the seed came from: an ear code of an earlier season, 'bulk' and a name, 'check' and a name, or nothing when it is not known.";
        let columns = [
            GridColumn::new("Row").width(70.0),
            GridColumn::new("Ears").width(56.0).number().read_only(),
            GridColumn::new("Seed from").width(116.0).hint(source_hint),
            GridColumn::new("Planted")
                .width(106.0)
                .hint("Year-month-day, if not the season's day."),
        ];
        let columns = columns
            .into_iter()
            .map(|column| if can_change { column } else { column.read_only() });
        Self {
            columns: columns.collect(),
            ids: rows.iter().map(|row| row.id).collect(),
            cells: rows
                .iter()
                .map(|row| {
                    [
                        row.label.clone(),
                        ears.get(&row.id).map_or(0, Vec::len).to_string(),
                        source_text(project, &row.source),
                        row.planted.map(|day| day.to_string()).unwrap_or_default(),
                    ]
                })
                .collect(),
            can_change,
        }
    }
}

fn source_text(project: &Project, source: &RowSource) -> String {
    match source {
        RowSource::Unknown => String::new(),
        RowSource::Ear(ear) => project
            .ears
            .get(*ear)
            .map(|ear| ear.code.to_string())
            .unwrap_or_default(),
        RowSource::Bulk(name) => format!("bulk {name}"),
        RowSource::CheckLot(name) => format!("check {name}"),
    }
}

/// Reads where the seed of a row came from.
fn read_source(project: &Project, text: &str) -> Result<RowSource, String> {
    let text = text.trim();
    if text.is_empty() {
        return Ok(RowSource::Unknown);
    }
    if let Some((word, name)) = text.split_once(char::is_whitespace) {
        let name = name.trim().to_owned();
        if word.eq_ignore_ascii_case("bulk") {
            return Ok(RowSource::Bulk(name));
        }
        if word.eq_ignore_ascii_case("check") {
            return Ok(RowSource::CheckLot(name));
        }
    }
    let how =
        "Type an ear code of an earlier season, 'bulk' and a name, 'check' and a name, or leave it empty.";
    let code: EarCode = text
        .parse()
        .map_err(|fault| format!("'{text}' is no ear code: {} {how}", sentence(&format!("{fault}"))))?;
    let ear = project
        .ear_coded(code)
        .ok_or_else(|| format!("No ear of this project has the code {code}. {how}"))?;
    Ok(RowSource::Ear(ear.id))
}

impl Side {
    /// Puts the cursor on a row of the season.
    pub(super) fn go(&mut self, row: RowId) {
        if let Some(at) = self.rows.ids.iter().position(|id| *id == row) {
            self.grid.set_cursor(at, LABEL);
            self.grid.request_focus();
        }
    }

    /// Whether the rows have been read, so that one can be gone to.
    pub(super) fn knows(&self, season: SeasonId) -> bool {
        self.key.is_some_and(|(known, ..)| known == season)
    }

    /// Draws the side. Gives the ears of the row that the cursor went to.
    pub(super) fn show(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: &Season) -> Option<Vec<EarId>> {
        let t = Tokens::of(ui);
        ui.label(RichText::new(format!("Season {}", season.year)).font(t.heading_font()));
        ui.add_enabled_ui(ctx.read_only.is_none(), |ui| facts(ui, ctx, season));
        ui.add_space(t.space.small);
        self.refresh(ctx, season.id);
        let count = self.rows.ids.len();
        let heading = if count == 1 {
            "1 mother row".to_owned()
        } else {
            format!("{count} mother rows")
        };
        ui.label(RichText::new(heading).font(t.heading_font()));
        if let Some(refused) = &self.refused {
            alert(ui, refused);
        }
        let grid = Grid::new(Id::unique("harvest rows"), "Mother rows").row_numbers(false);
        let events = grid.show(ui, &mut self.grid, &self.rows);
        let mut gone_to = None;
        for event in events {
            if let Some(why) = ctx.read_only.filter(|_| super::is_change(&event)) {
                self.refused = Some(format!("Nothing can be changed: {why}."));
                continue;
            }
            match event {
                GridEvent::Edit { row, col, text } => self.edit(ctx, season.id, (row, col), &text, true),
                GridEvent::DeleteRows { rows } => self.delete(ctx, rows.start, rows.len()),
                GridEvent::Clear { rows, cols } if rows.len() == 1 && cols.len() == 1 => {
                    self.edit(ctx, season.id, (rows.start, cols.start), "", false);
                }
                GridEvent::Paste { row, col, cells } if cells.len() == 1 && cells[0].len() == 1 => {
                    self.edit(ctx, season.id, (row, col), &cells[0][0], false);
                }
                GridEvent::Cursor { row } => gone_to = self.rows.ids.get(row).copied(),
                GridEvent::Copy { .. } => {}
                GridEvent::Clear { .. }
                | GridEvent::Paste { .. }
                | GridEvent::FillDown { .. }
                | GridEvent::Sort { .. } => {
                    let text = "Rows are changed one cell at a time and stand in the order of their labels.";
                    self.refused = Some(text.to_owned());
                }
            }
        }
        gone_to.map(|row| {
            ctx.document
                .project()
                .ears_of_row(row)
                .map(|ear| ear.id)
                .collect()
        })
    }

    fn refresh(&mut self, ctx: &PaneCtx<'_>, season: SeasonId) {
        if let Some((ticket, cell)) = self.asked
            && let Some(outcome) = ctx.outcome(ticket)
        {
            self.asked = None;
            if let Err(problem) = outcome {
                let text = sentence(&problem.fault.to_string());
                match cell {
                    Some((row, col)) => self.grid.refuse(row, col, text),
                    None => self.refused = Some(text),
                }
            }
        }
        let can_change = ctx.read_only.is_none();
        let revisions = ctx.document.revision_key([Area::Row, Area::Ear, Area::Season]);
        let key = Some((season, revisions, can_change));
        if self.key != key {
            self.key = key;
            self.rows = Rows::of(ctx.document, season, can_change);
        }
    }

    /// Takes the text of a cell; one that was typed is opened again when it is refused.
    fn edit(
        &mut self,
        ctx: &mut PaneCtx<'_>,
        season: SeasonId,
        (row, col): (usize, usize),
        text: &str,
        is_typed: bool,
    ) {
        self.refused = None;
        let project = ctx.document.project();
        let known = self.rows.ids.get(row).and_then(|id| project.rows.get(*id));
        let command = match known {
            Some(known) => changed(project, known, col, text).map(Command::EditRow),
            None if col == LABEL => Ok(Command::AddRow {
                season,
                label: text.trim().to_owned(),
                source: RowSource::Unknown,
            }),
            None => Err("Type the label of the new row first, in the first column.".to_owned()),
        };
        match command {
            Ok(command) => {
                let cell = is_typed.then_some((row, col));
                self.asked = Some((ctx.run_for(command), cell));
            }
            Err(what) if is_typed => self.grid.refuse(row, col, what),
            Err(what) => self.refused = Some(what),
        }
    }

    fn delete(&mut self, ctx: &mut PaneCtx<'_>, first: usize, count: usize) {
        self.refused = None;
        match self.rows.ids.get(first) {
            Some(id) if count == 1 => {
                self.asked = Some((ctx.run_for(Command::RemoveRow(*id)), None));
            }
            _ => self.refused = Some("Remove one row at a time.".to_owned()),
        }
    }
}

fn changed(project: &Project, known: &Row, col: usize, text: &str) -> Result<Row, String> {
    let mut row = known.clone();
    match col {
        LABEL => text.trim().clone_into(&mut row.label),
        SOURCE => row.source = read_source(project, text)?,
        PLANTED => row.planted = read_day(text)?,
        _ => {}
    }
    Ok(row)
}

fn read_day(text: &str) -> Result<Option<Date>, String> {
    if text.trim().is_empty() {
        return Ok(None);
    }
    read_date(text, DateOrder::Unknown)
        .map(Some)
        .map_err(|fault| sentence(&fault.to_string()))
}

/// The facts of a season, each of which is taken when its field is left.
fn facts(ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: &Season) {
    let mut after = season.clone();
    let planted = Id::unique(("harvest season planted", season.id));
    day_field(ui, planted, "Planted", &mut after.planted);
    let kernels = |name: &'static str| {
        NumberField::new(Id::unique(("harvest season", name, season.id)), name)
            .unit("kernels")
            .range(0.0..=MOST_KERNELS_EACH)
    };
    if let Some(remnant) = kernels("Keep back of each").show(ui, f64::from(season.remnant)) {
        after.remnant = remnant as u32;
    }
    if let Some(each) = kernels("Plant of each").show(ui, f64::from(season.plant_each)) {
        after.plant_each = each as u32;
    }
    let selection = ctx.document.project().selection_of(season.id);
    if selection.is_some_and(|one| one.kernel_way() == KernelWay::ForAStand) {
        let t = Tokens::of(ui);
        let text = format!(
            "Not used while Selection reckons the kernels of each ear for {}.",
            season.wanted().text()
        );
        ui.add(egui::Label::new(RichText::new(text).font(t.small_font()).color(t.quiet)).wrap());
    }
    if after != *season {
        ctx.run(Command::EditSeason(after));
        ctx.act(crate::ui::context::Action::CloseStep);
    }
}

/// A day field's text that is not taken yet.
#[derive(Clone, Default)]
struct Draft {
    text: String,
    problem: Option<String>,
}

/// A labelled field for a day, which may be missing. It is changed when the field is left; what cannot be taken stays in
/// the field with one sentence under it.
fn day_field(ui: &mut Ui, id: Id, label: &str, value: &mut Option<Date>) {
    let draft_id = id.with("draft");
    let kept = ui.data(|data| data.get_temp::<Draft>(draft_id));
    let was_kept = kept.is_some();
    let mut draft = kept.unwrap_or_else(|| Draft {
        text: value.map(|day| day.to_string()).unwrap_or_default(),
        problem: None,
    });
    let escaped = ui.input(|input| input.key_pressed(Key::Escape));
    let field = ui
        .horizontal(|ui| {
            let name = ui.label(label);
            let field = TextEdit::singleline(&mut draft.text)
                .id(id)
                .hint_text("2026-05-14")
                .desired_width(110.0);
            ui.add(field).labelled_by(name.id)
        })
        .inner;
    if let Some(problem) = &draft.problem {
        alert(ui, problem);
    }
    if escaped && (field.has_focus() || field.lost_focus()) {
        ui.data_mut(|data| data.remove::<Draft>(draft_id));
        return;
    }
    if field.lost_focus() && (field.changed() || was_kept) {
        match read_day(&draft.text) {
            Ok(day) => {
                ui.data_mut(|data| data.remove::<Draft>(draft_id));
                *value = day;
                return;
            }
            Err(problem) => draft.problem = Some(problem),
        }
    }
    if field.changed() || draft.problem.is_some() {
        ui.data_mut(|data| data.insert_temp(draft_id, draft));
    }
}

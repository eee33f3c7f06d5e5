//! When the field flowers, other corn near it, and the rounds of detasselling: plain tables with dates.

use crate::model::{
    Command, DateOrder, DetasselRound, Fault, FieldPlan, LengthUnit, MM_PER_INCH, Neighbour, read_date,
    read_number, read_whole, sentence,
};
use crate::ui::context::{PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::grid::{Grid, GridColumn, GridEvent, GridSource, GridState};
use crate::ui::widgets::parts::section;
use egui::{Id, Label, RichText, ScrollArea, Ui, vec2};
use jiff::civil::Date;
use std::borrow::Cow;

/// What the part remembers between frames.
#[derive(Debug, Default)]
pub(super) struct Around {
    neighbours: GridState,
    rounds: GridState,
    asked: Option<(Ticket, Which, usize, usize)>,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Which {
    Neighbours,
    Rounds,
}

impl Around {
    /// Draws the part.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, plan: &FieldPlan) {
        self.answer(ctx);
        let unit = ctx.document.project().about.units.length;
        let flowering = ctx.insight.flowering(ctx.document, plan.id);
        let detasselling = ctx.insight.detasselling(ctx.document, plan.id, ctx.today);
        ScrollArea::vertical().id_salt("around the field").show(ui, |ui| {
            section(ui, "Flowering", |ui| {
                for sentence in &flowering.sentences {
                    ui.add(Label::new(sentence).wrap());
                }
                let t = Tokens::of(ui);
                let text = "Other corn in flower nearby. Type into the last line to add one; Ctrl+Delete removes lines. How far is far enough differs by place and purpose: follow the rules where you are.";
                ui.add(Label::new(RichText::new(text).font(t.small_font()).color(t.quiet)).wrap());
                let source = Neighbours::new(plan, unit);
                let events = grid(ui, "neighbours", "Other corn near the field", &mut self.neighbours, &source);
                for event in events {
                    self.take(ctx, plan, Which::Neighbours, event);
                }
            });
            section(ui, "Detasselling", |ui| {
                let said = detasselling.unwrap_or_else(|| "No row is to be detasselled.".to_owned());
                ui.add(Label::new(said).wrap());
                let source = Rounds::new(plan);
                let events = grid(ui, "rounds", "Rounds of detasselling", &mut self.rounds, &source);
                for event in events {
                    self.take(ctx, plan, Which::Rounds, event);
                }
            });
        });
    }

    fn answer(&mut self, ctx: &mut PaneCtx<'_>) {
        let Some((ticket, which, row, col)) = self.asked else {
            return;
        };
        let Some(outcome) = ctx.outcome(ticket) else {
            return;
        };
        self.asked = None;
        if let Err(problem) = outcome {
            let text = sentence(&problem.to_string());
            self.grid(which).refuse(row, col, text);
        }
    }

    fn grid(&mut self, which: Which) -> &mut GridState {
        match which {
            Which::Neighbours => &mut self.neighbours,
            Which::Rounds => &mut self.rounds,
        }
    }

    fn take(&mut self, ctx: &mut PaneCtx<'_>, plan: &FieldPlan, which: Which, event: GridEvent) {
        let cells: Vec<(usize, usize, String)> = match event {
            GridEvent::Edit { row, col, text } => vec![(row, col, text)],
            GridEvent::Paste { row, col, cells } => cells
                .into_iter()
                .enumerate()
                .flat_map(|(down, line)| {
                    let line = line.into_iter().enumerate();
                    line.map(move |(right, text)| (row + down, col + right, text))
                        .collect::<Vec<_>>()
                })
                .collect(),
            GridEvent::Clear { rows, cols } => rows
                .flat_map(|row| cols.clone().map(move |col| (row, col, String::new())))
                .collect(),
            GridEvent::DeleteRows { rows } => return delete(ctx, plan, which, &rows),
            GridEvent::FillDown { .. }
            | GridEvent::Copy { .. }
            | GridEvent::Cursor { .. }
            | GridEvent::Sort { .. } => return,
        };
        let Some((row, col, _)) = cells.first() else {
            return;
        };
        let (row, col) = (*row, *col);
        if let Some(why) = ctx.read_only {
            self.grid(which)
                .refuse(row, col, format!("Nothing can be changed: {why}."));
            return;
        }
        let mut after = plan.clone();
        let unit = ctx.document.project().about.units.length;
        for (row, col, text) in cells {
            let put = match which {
                Which::Neighbours => put_neighbour(&mut after.neighbours, row, col, &text, unit),
                Which::Rounds => put_round(&mut after.rounds, row, col, &text, ctx.today, ctx.who),
            };
            if let Err(fault) = put {
                self.grid(which).refuse(row, col, sentence(&fault.to_string()));
                return;
            }
        }
        if after != *plan {
            self.asked = Some((ctx.run_for(Command::EditPlan(after)), which, row, col));
        }
    }
}

fn delete(ctx: &mut PaneCtx<'_>, plan: &FieldPlan, which: Which, rows: &std::ops::Range<usize>) {
    if let Some(why) = ctx.read_only {
        ctx.notice(Tone::Error, format!("Nothing can be changed: {why}."));
        return;
    }
    let mut after = plan.clone();
    let within = |length: usize| rows.start.min(length)..rows.end.min(length);
    match which {
        Which::Neighbours => drop(after.neighbours.drain(within(plan.neighbours.len()))),
        Which::Rounds => drop(after.rounds.drain(within(plan.rounds.len()))),
    }
    if after != *plan {
        ctx.run(Command::EditPlan(after));
    }
}

fn grid(ui: &mut Ui, id: &str, name: &str, state: &mut GridState, source: &dyn GridSource) -> Vec<GridEvent> {
    let t = Tokens::of(ui);
    let height = (source.rows() as f32 + 2.5) * t.row_height;
    let size = vec2(ui.available_width(), height.min(12.0 * t.row_height));
    ui.allocate_ui(size, |ui| {
        ui.set_min_size(size);
        Grid::new(Id::unique(("field", id)), name)
            .row_numbers(false)
            .show(ui, state, source)
    })
    .inner
}

/// Metres in the unit in which distances around a field are typed: a foot or a metre.
fn metres(unit: LengthUnit) -> f64 {
    match unit {
        LengthUnit::Inches => 12.0 * MM_PER_INCH / 1000.0,
        LengthUnit::Centimetres => 1.0,
    }
}

fn put_neighbour(
    all: &mut Vec<Neighbour>,
    row: usize,
    col: usize,
    text: &str,
    unit: LengthUnit,
) -> Result<(), Fault> {
    let text = text.trim();
    if row >= all.len() {
        if text.is_empty() {
            return Ok(());
        }
        all.push(Neighbour {
            // The rest of a line can be typed before its name.
            what: "other corn".to_owned(),
            distance_m: None,
            direction: String::new(),
            sheds_from: None,
            sheds_to: None,
            note: String::new(),
        });
    }
    let last = all.len() - 1;
    let one = &mut all[row.min(last)];
    match col {
        0 => text.clone_into(&mut one.what),
        1 => {
            one.distance_m = if text.is_empty() {
                None
            } else {
                Some(read_number("the distance", text)? * metres(unit))
            };
        }
        2 => text.clone_into(&mut one.direction),
        3 => one.sheds_from = day(text)?,
        4 => one.sheds_to = day(text)?,
        _ => text.clone_into(&mut one.note),
    }
    Ok(())
}

fn put_round(
    all: &mut Vec<DetasselRound>,
    row: usize,
    col: usize,
    text: &str,
    today: Date,
    who: &str,
) -> Result<(), Fault> {
    let text = text.trim();
    if row >= all.len() {
        if text.is_empty() {
            return Ok(());
        }
        all.push(DetasselRound {
            on: today,
            pulled: 0,
            shed: 0,
            by: who.to_owned(),
            note: String::new(),
        });
    }
    let last = all.len() - 1;
    let one = &mut all[row.min(last)];
    let whole = |what: &str| {
        if text.is_empty() {
            Ok(0)
        } else {
            read_whole(what, text, 10_000_000)
        }
    };
    match col {
        0 if text.is_empty() || text.eq_ignore_ascii_case("t") => one.on = today,
        0 => one.on = read_date(text, DateOrder::Unknown)?,
        1 => one.pulled = whole("the plants pulled")?,
        2 => one.shed = whole("the plants that shed")?,
        3 => text.clone_into(&mut one.by),
        _ => text.clone_into(&mut one.note),
    }
    Ok(())
}

fn day(text: &str) -> Result<Option<Date>, Fault> {
    if text.is_empty() {
        return Ok(None);
    }
    read_date(text, DateOrder::Unknown).map(Some)
}

struct Neighbours<'a> {
    all: &'a [Neighbour],
    unit: LengthUnit,
    columns: [GridColumn; 6],
}

impl<'a> Neighbours<'a> {
    fn new(plan: &'a FieldPlan, unit: LengthUnit) -> Self {
        let away = match unit {
            LengthUnit::Inches => "Feet away",
            LengthUnit::Centimetres => "Metres away",
        };
        Self {
            all: &plan.neighbours,
            unit,
            columns: [
                GridColumn::new("What grows there").width(180.0),
                GridColumn::new(away).number().width(120.0),
                GridColumn::new("Direction")
                    .hint("Seen from your field")
                    .width(120.0),
                GridColumn::new("Sheds from")
                    .hint("The first day on which its tassels shed")
                    .width(120.0),
                GridColumn::new("Sheds to").hint("The last day").width(120.0),
                GridColumn::new("Note").width(220.0),
            ],
        }
    }
}

impl GridSource for Neighbours<'_> {
    fn rows(&self) -> usize {
        self.all.len() + 1
    }

    fn columns(&self) -> &[GridColumn] {
        &self.columns
    }

    fn text(&self, row: usize, col: usize) -> Cow<'_, str> {
        let Some(one) = self.all.get(row) else {
            return Cow::Borrowed("");
        };
        let day = |day: Option<Date>| Cow::Owned(day.map(|day| day.to_string()).unwrap_or_default());
        match col {
            0 => Cow::Borrowed(&one.what),
            1 => Cow::Owned(one.distance_m.map_or_else(String::new, |distance| {
                ((distance / metres(self.unit) * 100.0).round() / 100.0).to_string()
            })),
            2 => Cow::Borrowed(&one.direction),
            3 => day(one.sheds_from),
            4 => day(one.sheds_to),
            _ => Cow::Borrowed(&one.note),
        }
    }
}

struct Rounds<'a> {
    all: &'a [DetasselRound],
    columns: [GridColumn; 5],
}

impl<'a> Rounds<'a> {
    fn new(plan: &'a FieldPlan) -> Self {
        Self {
            all: &plan.rounds,
            columns: [
                GridColumn::new("Day").hint("T for today").width(120.0),
                GridColumn::new("Plants pulled").number().width(120.0),
                GridColumn::new("Had shed")
                    .number()
                    .hint("Plants that shed before they were pulled")
                    .width(110.0),
                GridColumn::new("By").width(140.0),
                GridColumn::new("Note").hint("Such as the rows").width(260.0),
            ],
        }
    }
}

impl GridSource for Rounds<'_> {
    fn rows(&self) -> usize {
        self.all.len() + 1
    }

    fn columns(&self) -> &[GridColumn] {
        &self.columns
    }

    fn text(&self, row: usize, col: usize) -> Cow<'_, str> {
        let Some(one) = self.all.get(row) else {
            return Cow::Borrowed("");
        };
        match col {
            0 => Cow::Owned(one.on.to_string()),
            1 => Cow::Owned(one.pulled.to_string()),
            2 => Cow::Owned(one.shed.to_string()),
            3 => Cow::Borrowed(&one.by),
            _ => Cow::Borrowed(&one.note),
        }
    }
}

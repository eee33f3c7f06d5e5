//! The form in which a field is described.

use crate::insight::{long_length, next_seed};
use crate::model::{
    Command, Detassel, FieldPlan, FieldShape, FieldWay, LengthUnit, MM_PER_INCH, MOST_FIELD_REPLICATES,
    MOST_ROWS_PER_BLOCK, PlantingList, Walk, plural, sentence,
};
use crate::ui::context::{PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::parts::{alert, primary_button_enabled};
use crate::ui::widgets::segmented::segmented;
use egui::{Button, Id, Label, RichText, Ui};

/// A field as it is typed.
#[derive(Debug)]
pub(super) struct Form {
    shape: FieldShape,
    seed: u64,
    /// The plan as it was when the form was filled: another one, by undo or a new order, fills it again.
    of: Option<(FieldShape, u64)>,
    ticket: Option<Ticket>,
    refusal: Option<String>,
}

impl Form {
    /// Fills the form from the plan that is there, or with a common field.
    pub fn new(plan: Option<&FieldPlan>, unit: LengthUnit) -> Self {
        let of = plan.map(|plan| (plan.shape.clone(), plan.seed));
        let (shape, seed) = of.clone().unwrap_or_else(|| {
            let shape = match unit {
                LengthUnit::Inches => FieldShape::in_inches(),
                LengthUnit::Centimetres => FieldShape::in_metres(),
            };
            (shape, next_seed(0))
        });
        Self {
            shape,
            seed,
            of,
            ticket: None,
            refusal: None,
        }
    }

    /// Whether it was filled from this plan.
    pub fn is_of(&self, plan: Option<&FieldPlan>) -> bool {
        match (&self.of, plan) {
            (Some((shape, seed)), Some(plan)) => *shape == plan.shape && *seed == plan.seed,
            (None, None) => true,
            _ => false,
        }
    }

    /// Draws the form.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, list: &PlantingList, plan: Option<&FieldPlan>) {
        self.follow(ctx);
        let unit = ctx.document.project().about.units.length;
        let can = ctx.read_only.is_none();
        ui.add_enabled_ui(can, |ui| {
            self.way(ui);
            self.lengths(ui, unit);
            if self.shape.way == FieldWay::Families {
                self.order(ui);
            }
        });
        self.sentence(ui, list, unit);
        if let Some(refusal) = &self.refusal {
            alert(ui, refusal);
        }
        ui.horizontal_wrapped(|ui| {
            let is_new = self.of.as_ref() != Some(&(self.shape.clone(), self.seed));
            let words = match plan {
                None => "Plan the field",
                Some(_) if is_new => "Plan it anew",
                Some(_) => "Planned so",
            };
            if primary_button_enabled(ui, can && is_new && self.ticket.is_none(), words).clicked() {
                self.run(ctx, list);
            }
            let another = ui
                .add_enabled(
                    can && plan.is_some() && self.shape.way == FieldWay::Families,
                    Button::new("Another order"),
                )
                .on_hover_text(
                    "Draws the order of the rows anew from another seed. One step, which can be undone.",
                );
            if another.clicked() {
                self.seed = next_seed(self.seed);
                self.run(ctx, list);
            }
            if let Some(plan) = plan
                && ui
                    .add_enabled(can, Button::new("Remove the plan"))
                    .on_hover_text("The list stays as it is. One step, which can be undone.")
                    .clicked()
            {
                self.ticket = Some(ctx.run_for(Command::RemovePlan(plan.id)));
            }
        });
        if self.shape.way == FieldWay::Families {
            let t = Tokens::of(ui);
            ui.label(
                RichText::new(format!(
                    "Seed {}: the same list and form give the same order.",
                    self.seed
                ))
                .font(t.small_font())
                .color(t.quiet),
            );
        }
    }

    fn run(&mut self, ctx: &mut PaneCtx<'_>, list: &PlantingList) {
        self.refusal = None;
        self.ticket = Some(ctx.run_for(Command::PlanField {
            list: list.id,
            shape: self.shape.clone(),
            seed: self.seed,
        }));
    }

    fn follow(&mut self, ctx: &mut PaneCtx<'_>) {
        let Some(outcome) = self.ticket.and_then(|ticket| ctx.outcome(ticket)) else {
            return;
        };
        self.ticket = None;
        match outcome {
            Ok(committed) => {
                let text = format!("{}. Undo takes it back.", committed.label);
                ctx.notice(Tone::Well, text);
            }
            Err(problem) => self.refusal = Some(sentence(&problem.to_string())),
        }
    }

    fn way(&mut self, ui: &mut Ui) {
        let ways = [FieldWay::Families, FieldWay::Bulk];
        let chosen = ways.iter().position(|way| *way == self.shape.way).unwrap_or(0);
        let names = ["A row for each ear", "One bulk of all"];
        if let Some(other) = segmented(
            ui,
            Id::unique("field way"),
            "How the list is planted",
            &names,
            chosen,
        ) {
            self.shape.way = ways[other];
        }
        let walks = [Walk::Serpentine, Walk::Straight];
        let chosen = walks
            .iter()
            .position(|walk| *walk == self.shape.walk)
            .unwrap_or(0);
        ui.horizontal_wrapped(|ui| {
            ui.label("Walked");
            let names = ["Back and forth", "Always from the left"];
            if let Some(other) = segmented(ui, Id::unique("field walk"), "Walked", &names, chosen) {
                self.shape.walk = walks[other];
            }
        });
    }

    fn lengths(&mut self, ui: &mut Ui, unit: LengthUnit) {
        let shape = &mut self.shape;
        let (long, long_mm, short, short_mm) = match unit {
            LengthUnit::Inches => ("ft", 12.0 * MM_PER_INCH, "in", MM_PER_INCH),
            LengthUnit::Centimetres => ("m", 1000.0, "cm", 10.0),
        };
        ui.horizontal_wrapped(|ui| {
            let mut length = |name: &str, unit: &str, of_mm: f64, least: f64, most: f64, value: &mut f64| {
                let field = NumberField::new(Id::unique(("field length", name)), name)
                    .unit(unit)
                    .range(least..=most)
                    .decimals(2)
                    .width(64.0);
                if let Some(taken) = field.show(ui, *value / of_mm) {
                    *value = taken * of_mm;
                }
            };
            length("Row length", long, long_mm, 0.4, 3000.0, &mut shape.row_length_mm);
            length(
                "From row to row",
                short,
                short_mm,
                2.0,
                390.0,
                &mut shape.row_spacing_mm,
            );
            length(
                "From plant to plant",
                short,
                short_mm,
                0.5,
                390.0,
                &mut shape.plant_spacing_mm,
            );
            length(
                "Path between blocks",
                long,
                long_mm,
                0.0,
                300.0,
                &mut shape.path_mm,
            );
            length(
                "Border plants at each end",
                long,
                long_mm,
                0.0,
                300.0,
                &mut shape.end_mm,
            );
        });
        ui.horizontal_wrapped(|ui| {
            whole(ui, "Kernels at a place", 1, 20, &mut shape.kernels_per_place);
            whole(
                ui,
                "Rows side by side",
                1,
                MOST_ROWS_PER_BLOCK,
                &mut shape.rows_per_block,
            );
            whole(ui, "Border rows at each side", 0, 50, &mut shape.borders);
        });
    }

    fn order(&mut self, ui: &mut Ui) {
        let shape = &mut self.shape;
        ui.horizontal_wrapped(|ui| {
            whole(
                ui,
                "Rows of each ear",
                1,
                MOST_FIELD_REPLICATES,
                &mut shape.replicates,
            );
            every(ui, "A check row after every", &mut shape.check_every);
            every(ui, "A row of bulk after every", &mut shape.bulk_every);
        });
        ui.horizontal_wrapped(|ui| {
            ui.label("Detassel");
            let ways = [Detassel::Nothing, Detassel::EveryOther, Detassel::AllButBulk];
            let chosen = ways.iter().position(|way| *way == shape.detassel).unwrap_or(0);
            let names = ["Nothing", "Every other row", "All but the bulk"];
            if let Some(other) = segmented(ui, Id::unique("field detassel"), "Detassel", &names, chosen) {
                shape.detassel = ways[other];
            }
        });
    }

    /// What the form comes to, before anything is planned.
    fn sentence(&self, ui: &mut Ui, list: &PlantingList, unit: LengthUnit) {
        let t = Tokens::of(ui);
        let room = self.shape.kernels_per_row();
        let row = format!(
            "A row of {} has {} and room for {}.",
            long_length(self.shape.row_length_mm, unit),
            plural(self.shape.places() as usize, "place"),
            plural(room as usize, "kernel")
        );
        let text = match self.shape.way {
            FieldWay::Families => row,
            FieldWay::Bulk => format!(
                "{row} The {} kernels of the list, mixed, fill {}.",
                list.kernels(),
                plural(list.kernels().div_ceil(u64::from(room.max(1))) as usize, "row")
            ),
        };
        ui.add(Label::new(RichText::new(text).color(t.quiet)).wrap());
    }
}

fn whole(ui: &mut Ui, name: &str, least: u16, most: u16, value: &mut u16) {
    let field = NumberField::new(Id::unique(("field number", name)), name)
        .range(f64::from(least)..=f64::from(most))
        .width(52.0);
    if let Some(taken) = field.show(ui, f64::from(*value)) {
        *value = taken as u16;
    }
}

/// A field that is empty for never.
fn every(ui: &mut Ui, name: &str, value: &mut Option<u16>) {
    let mut number = value.map(f64::from);
    let field = NumberField::new(Id::unique(("field every", name)), name)
        .unit("ears (empty: none)")
        .range(1.0..=f64::from(MOST_ROWS_PER_BLOCK))
        .width(52.0);
    if field.show_optional(ui, &mut number) {
        *value = number.map(|number| number as u16);
    }
}

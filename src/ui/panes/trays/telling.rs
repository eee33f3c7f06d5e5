//! What a test can tell, told before it is made: cost and chances to pass, beside those of another plan.

use crate::insight::{Before, BeforeQuery, DesignEars, PlanFigures, Telling, plan_name};
use crate::model::{MOST_KERNELS_PER_CELL, MOST_REPLICATES, TrayPlan};
use crate::ui::context::PaneCtx;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::still_plot::still_plot;
use egui::{
    Button, Color32, FontId, Grid, Id, Label, RichText, Role, ScrollArea, Sense, Shape, Stroke, Ui,
    WidgetInfo, vec2,
};
use egui_plot::{GridInput, GridMark, Line, LineStyle, PlotPoints, VLine};

/// Width of the plot in points.
const PLOT_WIDTH: f32 = 300.0;
/// Its height.
const PLOT_HEIGHT: f32 = 190.0;
/// Width of the line of the plan of the form, in points.
const FULL_WIDTH: f32 = 2.5;
/// Width of the line of the plan beside it.
const DASHED_WIDTH: f32 = 1.5;
/// Length of its dashes.
const DASH: f32 = 6.0;
/// From this width on the table has room beside the plot.
const SIDE_BY_SIDE: f32 = 640.0;
/// True percents whose chances to pass are in the table.
const LOOKED_AT: [f64; 2] = [80.0, 60.0];

/// What the part remembers between frames.
#[derive(Debug, Default)]
pub(super) struct TellingPart {
    /// The plan set beside the one of the form: the kernels of a cell and the cells of an ear. None for a usual one.
    beside: Option<(u16, u16)>,
    /// The percents to tell apart; none for the cutoff and 15 above it.
    tell: Option<[f64; 2]>,
}

impl TellingPart {
    /// Draws the part; `notes` are sentences about the trays that found no room elsewhere.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &PaneCtx<'_>, ears: DesignEars, plan: &TrayPlan, notes: &str) {
        let query = self.query(ctx, ears, plan);
        let before = ctx.insight.before(ctx.document, &query);
        ScrollArea::vertical()
            .id_salt("what this test can tell")
            .auto_shrink([false, false])
            .show(ui, |ui| {
                self.body(ui, &before, &query);
                if !notes.is_empty() {
                    let t = Tokens::of(ui);
                    let notes = RichText::new(notes).font(t.small_font()).color(t.quiet);
                    ui.add(Label::new(notes).wrap());
                }
            });
    }

    fn query(&self, ctx: &PaneCtx<'_>, ears: DesignEars, plan: &TrayPlan) -> BeforeQuery {
        let cutoff = ctx.insight.cutoffs(ctx.document, ears.season).germination_percent;
        BeforeQuery {
            ears,
            plan: plan.clone(),
            tell: self.tell.unwrap_or_else(|| BeforeQuery::usual_tell(cutoff)),
            beside: vec![self.beside_of(plan)],
        }
    }

    /// Says what a plan takes: the time of laying, and the share of each packet.
    pub fn needs(
        &self,
        ctx: &PaneCtx<'_>,
        ears: DesignEars,
        plan: &TrayPlan,
    ) -> Option<[(String, &'static str); 2]> {
        let before = ctx.insight.before(ctx.document, &self.query(ctx, ears, plan));
        let asked = before.plans.first()?;
        let share = match asked.packet_percent {
            Some(share) => (format!("{share:.0} %"), "of each packet"),
            None => ("?".to_owned(), "of each packet, none is counted"),
        };
        Some([(asked.time(), "to lay"), share])
    }

    /// The plan beside this one: the one that was chosen, or else the first usual one that is different.
    fn beside_of(&self, plan: &TrayPlan) -> (u16, u16) {
        let usual = || {
            let mut usual = BeforeQuery::USUAL_PLANS.into_iter();
            usual.find(|one| *one != (plan.kernels, plan.replicates))
        };
        self.beside.or_else(usual).unwrap_or(BeforeQuery::USUAL_PLANS[0])
    }

    fn body(&mut self, ui: &mut Ui, before: &Before, query: &BeforeQuery) {
        let t = Tokens::of(ui);
        ui.spacing_mut().item_spacing.y = t.space.tiny;
        let Some((asked, others)) = before.plans.split_first() else {
            return;
        };
        let beside = others.first();
        self.beside_ui(ui, self.beside_of(&query.plan), beside.is_some());
        ui.add_space(t.space.small);
        let plans: Vec<&PlanFigures> = std::iter::once(asked).chain(beside).collect();
        match &asked.telling {
            None => table(ui, &plans),
            Some(telling) if ui.available_width() < SIDE_BY_SIDE => {
                table(ui, &plans);
                ui.add_space(t.space.small);
                plot(ui, (asked, telling), beside);
            }
            Some(telling) => {
                ui.horizontal_top(|ui| {
                    ui.vertical(|ui| {
                        ui.set_width(PLOT_WIDTH);
                        plot(ui, (asked, telling), beside);
                    });
                    ui.add_space(t.space.small);
                    ui.vertical(|ui| table(ui, &plans));
                });
            }
        }
        ui.add_space(t.space.small);
        match &asked.telling {
            None => {
                let text = "No cold germination cutoff is set for this season. Set one in the Selection pane; then the chances to pass are shown here.";
                ui.label(text);
            }
            Some(telling) => {
                for sentence in telling.sentences() {
                    ui.add(Label::new(sentence).wrap());
                }
            }
        }
        self.tell_ui(ui, before, query.tell);
        if asked.telling.is_some() {
            ui.add(Label::new(RichText::new(&before.spread).font(t.small_font()).color(t.quiet)).wrap());
        }
        ui.add_space(t.space.tiny);
    }

    /// Chooses the plan beside this one.
    fn beside_ui(&mut self, ui: &mut Ui, (kernels, replicates): (u16, u16), is_other: bool) {
        let t = Tokens::of(ui);
        let is_narrow = ui.available_width() < SIDE_BY_SIDE;
        let mut chosen = None;
        let mut presets = |ui: &mut Ui| {
            ui.label("Beside it");
            for (kernels_, replicates_) in BeforeQuery::USUAL_PLANS {
                let is_chosen = (kernels_, replicates_) == (kernels, replicates);
                let name = plan_name(kernels_, replicates_);
                let button = ui.add(Button::new(&name).selected(is_chosen));
                button.widget_info(|| WidgetInfo::selected(Role::Button, true, is_chosen, &name));
                if button.clicked() {
                    chosen = Some((kernels_, replicates_));
                }
            }
        };
        let fields = |ui: &mut Ui| {
            let field = |name, label, most: u16| {
                NumberField::new(Id::unique(("plan beside", name)), label)
                    .range(1.0..=f64::from(most))
                    .width(44.0)
            };
            // Both fields take whole numbers inside their range only.
            let new = field("kernels", "or kernels", MOST_KERNELS_PER_CELL).show(ui, f64::from(kernels));
            let times = field("replicates", "times", MOST_REPLICATES).show(ui, f64::from(replicates));
            let new = new.map(|kernels| (kernels as u16, replicates));
            new.or(times.map(|times| (kernels, times as u16)))
        };
        let typed = if is_narrow {
            ui.horizontal_wrapped(&mut presets);
            ui.horizontal(fields).inner
        } else {
            let row = ui.horizontal(|ui| {
                presets(ui);
                fields(ui)
            });
            row.inner
        };
        self.beside = typed.or(chosen).or(self.beside);
        if !is_other {
            let text = "This is the plan of the form itself; choose another one to compare.";
            ui.label(RichText::new(text).color(t.quiet));
        }
    }

    fn tell_ui(&mut self, ui: &mut Ui, before: &Before, told: [f64; 2]) {
        ui.horizontal_wrapped(|ui| {
            let field = |name, label| {
                NumberField::new(Id::unique(("tell apart", name)), label)
                    .unit("%")
                    .range(1.0..=99.0)
                    .width(52.0)
            };
            let lower = field("lower", "Tell apart").show(ui, told[0]);
            let higher = field("higher", "and").show(ui, told[1]);
            if lower.is_some() || higher.is_some() {
                self.tell = Some([lower.unwrap_or(told[0]), higher.unwrap_or(told[1])]);
            }
        });
        ui.add(Label::new(&before.tell).wrap());
    }
}

/// Draws the chance to pass against the true percent: a full line for the plan, a dashed one for the other.
fn plot(ui: &mut Ui, (asked, telling): (&PlanFigures, &Telling), other: Option<&PlanFigures>) {
    let t = Tokens::of(ui);
    let tens = |step: f64| {
        move |_: GridInput| {
            (0..=10)
                .map(|i| f64::from(i) * 10.0)
                .filter(|value| value % step < 1e-9)
                .map(|value| GridMark {
                    value,
                    step_size: step,
                })
                .collect()
        }
    };
    let names = ["True cold germination, %", "Passes, of 100"];
    let response = still_plot(ui, Id::unique("chance to pass"), names)
        .width(PLOT_WIDTH)
        .height(PLOT_HEIGHT)
        .x_grid_spacer(tens(20.0))
        .y_grid_spacer(tens(20.0))
        .default_x_bounds(0.0, 100.0)
        .default_y_bounds(0.0, 100.0)
        .show(ui, |plot| {
            plot.vline(
                VLine::new("Cutoff", telling.cutoff_percent)
                    .color(t.quiet)
                    .width(1.0)
                    .allow_hover(false),
            );
            let other = other.and_then(|other| Some((other, other.telling.as_ref()?)));
            let dashed = other.map(|(other, telling)| {
                Line::new(other.name(), PlotPoints::from(telling.curve.clone()))
                    .color(t.mark_two)
                    .width(DASHED_WIDTH)
                    .style(LineStyle::Dashed { length: DASH })
            });
            let full = Line::new(asked.name(), PlotPoints::from(telling.curve.clone()))
                .color(t.accent)
                .width(FULL_WIDTH);
            for line in dashed.into_iter().chain([full]) {
                plot.line(line.allow_hover(false));
            }
        });
    let said =
        |(plan, telling): (&PlanFigures, &Telling)| format!("with {}: {}", plan.name(), steps(telling));
    let both = std::iter::once((asked, telling)).chain(other.zip(other.and_then(|one| one.telling.as_ref())));
    let said: Vec<String> = both.map(said).collect();
    let summary = format!(
        "Chance to pass, of 100 times, against the true cold germination {}.",
        said.join("; ")
    );
    response
        .response
        .widget_info(|| WidgetInfo::labeled(Role::Image, true, &summary));
}

/// Says the chances to pass of ears from 40 to 90 %.
fn steps(telling: &Telling) -> String {
    let step = |tens: i32| {
        let rate = f64::from(tens) * 10.0;
        Some(format!("{rate} %: {:.0}", telling.passes(rate)?))
    };
    (4..=9).filter_map(step).collect::<Vec<_>>().join(", ")
}

/// Draws the plans side by side, a column each; a screen reader hears each as one sentence.
fn table(ui: &mut Ui, plans: &[&PlanFigures]) {
    let t = Tokens::of(ui);
    let mut rows: Vec<(String, Vec<String>)> = Vec::new();
    let mut row = |name: &str, figure: &dyn Fn(&PlanFigures) -> String| {
        rows.push((name.to_owned(), plans.iter().map(|plan| figure(plan)).collect()));
    };
    row("Trays", &|plan| {
        let trays = plan.trays.map(|trays| super::grouped(u64::from(trays)));
        trays.unwrap_or_else(|| "cannot be laid out".to_owned())
    });
    row("Cells of the ears", &|plan| super::grouped(plan.cells));
    row("Kernels of the ears", &|plan| super::grouped(plan.all_kernels));
    row("Time to lay", &PlanFigures::time);
    row("Of each packet", &PlanFigures::packet);
    if plans.iter().all(|plan| plan.telling.is_some()) {
        for rate in LOOKED_AT {
            row(&format!("Keeps an ear of true {rate} %"), &|plan| {
                plan.passes(rate)
            });
        }
        row("Flatters the kept by", &PlanFigures::flatters);
    }
    Grid::new("plans side by side")
        .striped(true)
        .min_col_width(0.0)
        .min_row_height(t.type_size.body)
        .spacing(vec2(t.space.large, t.space.tiny))
        .show(ui, |ui| {
            ui.label("");
            for (place, plan) in plans.iter().enumerate() {
                let (font, colour) = style(t, place);
                ui.horizontal(|ui| {
                    sample(ui, place, colour);
                    let mut name = plan.name();
                    if place == 0 {
                        name += " (this)";
                    }
                    let sentence = plan.sentence();
                    ui.label(RichText::new(name).font(font))
                        .widget_info(|| WidgetInfo::labeled(Role::Label, true, &sentence));
                });
            }
            ui.end_row();
            for (name, figures) in rows {
                ui.label(RichText::new(name).color(t.quiet));
                for (place, figure) in figures.into_iter().enumerate() {
                    ui.label(RichText::new(figure).font(style(t, place).0));
                }
                ui.end_row();
            }
        });
}

/// How the plan of the form, at the first place, and the one beside it are written and drawn.
fn style(t: &Tokens, place: usize) -> (FontId, Color32) {
    if place == 0 {
        (t.strong_font(), t.accent)
    } else {
        (t.body_font(), t.mark_two)
    }
}

/// A piece of the line by which a plan is drawn in the plot.
fn sample(ui: &mut Ui, place: usize, colour: Color32) {
    let (rect, _) = ui.allocate_exact_size(vec2(28.0, ui.spacing().interact_size.y), Sense::hover());
    let ends = [rect.left_center(), rect.right_center()];
    if place == 0 {
        ui.painter().line_segment(ends, Stroke::new(FULL_WIDTH, colour));
    } else {
        let dashes = Shape::dashed_line(&ends, Stroke::new(DASHED_WIDTH, colour), DASH, DASH * 0.6);
        ui.painter().extend(dashes);
    }
}

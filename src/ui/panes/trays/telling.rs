//! What a test can tell, told before it is made: the chances to pass, beside those of other plans.

use crate::insight::{Before, BeforeQuery, DesignEars, PlanFigures, Telling};
use crate::model::TrayPlan;
use crate::ui::context::PaneCtx;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::segmented::segmented;
use egui::{CollapsingHeader, Grid, Id, Label, RichText, Role, ScrollArea, Ui, WidgetInfo, vec2};
use egui_plot::{AxisHints, GridInput, GridMark, Line, LineStyle, Plot, PlotPoints, VLine};

/// Width of the plot in points.
const PLOT_WIDTH: f32 = 300.0;
/// Its height.
const PLOT_HEIGHT: f32 = 190.0;
/// The part of the room that the opened part takes at most; the trays have the rest.
const MOST_ROOM: f32 = 0.74;
/// With less height than this the opened part takes all of it.
const ROOM_FOR_BOTH: f32 = 340.0;
/// From this width on the sentences have room beside the plot.
const SIDE_BY_SIDE: f32 = 560.0;

/// What the part remembers between frames.
#[derive(Debug, Default)]
pub(super) struct TellingPart {
    /// The plan drawn beside the one of the form, as a place among the others.
    beside: usize,
    /// The percents to tell apart; none for the cutoff and 15 above it.
    tell: Option<[f64; 2]>,
}

impl TellingPart {
    /// Draws the part, folded or open. Returns whether there is room left for the trays.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &PaneCtx<'_>, ears: DesignEars, plan: &TrayPlan) -> bool {
        let all = ui.available_height();
        let is_low = all < ROOM_FOR_BOTH;
        let fold = CollapsingHeader::new("What this test can tell")
            .id_salt("what this test can tell")
            .show(ui, |ui| {
                let cutoff = ctx.insight.cutoffs(ctx.document, ears.season).germination_percent;
                let query = BeforeQuery {
                    ears,
                    plan: plan.clone(),
                    tell: self.tell.unwrap_or_else(|| BeforeQuery::usual_tell(cutoff)),
                };
                let before = ctx.insight.before(ctx.document, &query);
                let room = if is_low {
                    ui.available_height()
                } else {
                    MOST_ROOM * all
                };
                ScrollArea::vertical()
                    .id_salt("what this test can tell")
                    .max_height(room)
                    .auto_shrink([false, true])
                    .show(ui, |ui| self.body(ui, &before, query.tell));
            });
        !(is_low && fold.body_response.is_some())
    }

    fn body(&mut self, ui: &mut Ui, before: &Before, told: [f64; 2]) {
        let t = Tokens::of(ui);
        ui.spacing_mut().item_spacing.y = t.space.tiny;
        let Some((asked, others)) = before.plans.split_first() else {
            return;
        };
        self.beside = self.beside.min(others.len().saturating_sub(1));
        match &asked.telling {
            None => {
                let text = "No cold germination cutoff is set for this season. Set one in the Selection pane; then the chances to pass are shown here.";
                ui.label(text);
                self.tell_ui(ui, before, told);
            }
            Some(telling) if ui.available_width() < SIDE_BY_SIDE => {
                self.sentences(ui, before, telling, told);
                self.picture(ui, (asked, telling), others);
            }
            Some(telling) => {
                ui.horizontal_top(|ui| {
                    ui.vertical(|ui| {
                        ui.set_width(PLOT_WIDTH);
                        self.picture(ui, (asked, telling), others);
                    });
                    ui.add_space(t.space.small);
                    ui.vertical(|ui| self.sentences(ui, before, telling, told));
                });
            }
        }
        ui.add_space(t.space.small);
        ScrollArea::horizontal()
            .id_salt("plans side by side")
            .show(ui, |ui| table(ui, &before.plans));
        ui.add_space(t.space.tiny);
    }

    fn picture(&mut self, ui: &mut Ui, asked: (&PlanFigures, &Telling), others: &[PlanFigures]) {
        let names: Vec<String> = others.iter().map(PlanFigures::name).collect();
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        ui.horizontal(|ui| {
            ui.label("Dashed");
            let id = Id::unique("plan beside");
            if let Some(new) = segmented(ui, id, "Plan beside this one", &names, self.beside) {
                self.beside = new;
            }
        });
        plot(ui, asked, others.get(self.beside));
    }

    fn sentences(&mut self, ui: &mut Ui, before: &Before, telling: &Telling, told: [f64; 2]) {
        let t = Tokens::of(ui);
        for sentence in telling.sentences() {
            ui.add(Label::new(sentence).wrap());
        }
        self.tell_ui(ui, before, told);
        ui.add(Label::new(RichText::new(&before.spread).font(t.small_font()).color(t.quiet)).wrap());
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
    let axis = |hints: AxisHints<'static>| {
        hints
            .formatter(|mark, _| format!("{:.0}", mark.value))
            .tick_label_color(t.quiet)
            .tick_label_font(t.small_font())
            .label_spacing(14.0..=15.0)
    };
    let response = Plot::new("chance to pass")
        .width(PLOT_WIDTH)
        .height(PLOT_HEIGHT)
        .custom_x_axes(vec![axis(AxisHints::new_x().label("True cold germination, %"))])
        .custom_y_axes(vec![axis(AxisHints::new_y().label("Passes, of 100"))])
        .x_grid_spacer(tens(20.0))
        .y_grid_spacer(tens(20.0))
        .grid_color(t.line)
        .default_x_bounds(0.0, 100.0)
        .default_y_bounds(0.0, 100.0)
        .allow_drag(false)
        .allow_zoom(false)
        .allow_scroll(false)
        .allow_boxed_zoom(false)
        .allow_axis_zoom_drag(false)
        .allow_double_click_reset(false)
        .show_x(false)
        .show_y(false)
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
                    .width(1.5)
                    .style(LineStyle::Dashed { length: 6.0 })
            });
            let full = Line::new(asked.name(), PlotPoints::from(telling.curve.clone()))
                .color(t.accent)
                .width(2.5);
            for line in dashed.into_iter().chain([full]) {
                plot.line(line.allow_hover(false));
            }
        });
    let steps: Vec<String> = (4..=9)
        .filter_map(|tens| {
            let rate = f64::from(tens) * 10.0;
            Some(format!("{rate} %: {:.0}", telling.passes(rate)?))
        })
        .collect();
    let summary = format!(
        "Chance to pass, of 100 times, against the true cold germination with {}: {}.",
        asked.name(),
        steps.join(", ")
    );
    response
        .response
        .widget_info(|| WidgetInfo::labeled(Role::Image, true, &summary));
}

/// Draws the plans side by side; a screen reader hears each as one sentence.
fn table(ui: &mut Ui, plans: &[PlanFigures]) {
    let t = Tokens::of(ui);
    let cutoff = plans
        .first()
        .and_then(|plan| plan.telling.as_ref())
        .map(|telling| telling.cutoff_percent);
    let at = |step: f64| {
        cutoff
            .map(|cutoff| cutoff + step)
            .filter(|rate| *rate > 0.0 && *rate < 100.0)
    };
    let (below, above) = (at(-10.0), at(10.0));
    Grid::new("plans side by side")
        .striped(true)
        .min_row_height(t.type_size.body)
        .spacing(vec2(t.space.large, t.space.tiny))
        .show(ui, |ui| {
            let mut heads = vec![
                "Kernels".to_owned(),
                "In all".to_owned(),
                "Trays".to_owned(),
                "To lay".to_owned(),
                "Of a packet".to_owned(),
            ];
            heads.extend(below.map(|rate| format!("{rate} % passes")));
            heads.extend(above.map(|rate| format!("{rate} % fails")));
            heads.extend(cutoff.map(|_| "Flatters by".to_owned()));
            for head in heads {
                ui.label(RichText::new(head).font(t.small_font()).color(t.quiet));
            }
            ui.end_row();
            for (place, plan) in plans.iter().enumerate() {
                let font = if place == 0 {
                    t.strong_font()
                } else {
                    t.body_font()
                };
                let mut name = plan.name();
                if place == 0 {
                    name += " (this)";
                }
                let sentence = plan.sentence();
                ui.label(RichText::new(name).font(font.clone()))
                    .widget_info(|| WidgetInfo::labeled(Role::Label, true, &sentence));
                for text in cells(plan, below, above) {
                    ui.label(RichText::new(text).font(font.clone()));
                }
                ui.end_row();
            }
        });
}

fn cells(plan: &PlanFigures, below: Option<f64>, above: Option<f64>) -> Vec<String> {
    let telling = plan.telling.as_ref();
    let passes = |rate: f64| telling.and_then(|telling| telling.passes(rate));
    let written = |chance: Option<f64>| {
        chance.map_or_else(|| "not known".to_owned(), |chance| format!("{chance:.0} of 100"))
    };
    let packet = match (plan.short, plan.packet_percent) {
        (0, Some(share)) => format!("{share:.0} %"),
        (short, Some(share)) => format!("{share:.0} %, {short} short"),
        (_, None) => "not counted".to_owned(),
    };
    let mut cells = vec![
        super::grouped(plan.all_kernels),
        plan.trays
            .map_or_else(|| "too many".to_owned(), |trays| trays.to_string()),
        plan.time(),
        packet,
    ];
    cells.extend(below.map(|rate| written(passes(rate))));
    cells.extend(above.map(|rate| written(passes(rate).map(|chance| 100.0 - chance))));
    if let Some(telling) = telling {
        let excess = telling.chosen.as_ref().map(|chosen| 100.0 * chosen.excess());
        cells.push(excess.map_or_else(
            || "none passes".to_owned(),
            |excess| format!("{excess:.1} points"),
        ));
    }
    cells
}

//! The look ahead: two plans beside each other, simulated over seasons.

mod plot;
mod work;

use crate::genetics::ahead::{
    MOST_EARS, MOST_KEPT, MOST_KERNELS, MOST_PLANTS, MOST_SEASONS, Plan, Pollen, Sure,
};
use crate::insight::{AheadStart, outcome_sentences, plan_sentence, pollen_name};
use crate::model::{SeasonId, sentence};
use crate::stats::Cutoff;
use crate::ui::context::PaneCtx;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::parts::{alert, card, primary_button_enabled};
use crate::ui::widgets::segmented::segmented;
use egui::{Align, Color32, ComboBox, Grid, Id, Label, Layout, ProgressBar, RichText, Role, Ui, WidgetInfo};
use plot::FIGURES;
use work::{Asked, Work};

/// What the two plans are called.
const LETTERS: [&str; 2] = ["A", "B"];
/// From this width on the picture has room beside the form.
const SIDE_BY_SIDE: f32 = 900.0;
/// Width of the form then.
const FORM_WIDTH: f32 = 470.0;
/// Width of one field.
const FIELD_WIDTH: f32 = 64.0;
/// The most replicates that the form takes.
const MOST_REPLICATES: f64 = 20_000.0;
/// The least evenness in percent, [`crate::genetics::ahead::LEAST_EVENNESS`].
const EVENNESS_PERCENT: f64 = 30.0;
/// The sureness of a cutoff that a plan gets anew.
const SURENESS: f64 = 0.7;

fn colours(t: &Tokens) -> [Color32; 2] {
    [t.mark_one, t.mark_two]
}

/// What the part remembers between frames.
#[derive(Debug)]
pub(super) struct LookAhead {
    /// The season for which the plans were made, and its own plan then.
    of: Option<(SeasonId, Plan)>,
    plans: [Plan; 2],
    replicates: u32,
    seed: u64,
    figure: usize,
    work: Work,
}

impl Default for LookAhead {
    fn default() -> Self {
        let none = Plan {
            ears: 2,
            kernels: 1,
            kept: 2,
            cutoff: None,
            cap: None,
            passing: 1.0,
            plants_each: 1,
            evenness: 1.0,
            pollen: Pollen::AllRows,
            foreign: 0.0,
            seasons: 1,
        };
        Self {
            of: None,
            plans: [none; 2],
            replicates: 1_000,
            seed: 1,
            figure: 0,
            work: Work::default(),
        }
    }
}

/// The other plan that is proposed: half as many ears kept.
fn beside(plan: &Plan) -> Plan {
    let kept = (plan.kept / 2).max(2);
    Plan {
        kept,
        plants_each: plan.plants_each.max(plan.ears.div_ceil(kept)),
        ..*plan
    }
}

impl LookAhead {
    /// Draws the part.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &PaneCtx<'_>, season: SeasonId) {
        self.work.poll();
        let t = Tokens::of(ui);
        let cutoffs = ctx.insight.cutoffs(ctx.document, season);
        let ahead = ctx.insight.ahead(ctx.document, season, &cutoffs);
        card(ui, |ui| {
            let title = format!("Look ahead from season {}", ahead.year);
            ui.label(RichText::new(title).font(t.heading_font()));
            let start = match &ahead.start {
                Ok(start) => start,
                Err(why) => {
                    ui.add(Label::new(why).wrap());
                    return;
                }
            };
            self.follow(season, &start.plan);
            let hint = "What two plans may bring, simulated many times. Plan A begins as this season is, plan B keeps half as many \
                        ears; change either.";
            ui.add(Label::new(RichText::new(hint).color(t.quiet)).wrap());
            ui.add_space(t.space.small);
            if ui.available_width() >= SIDE_BY_SIDE {
                ui.horizontal_top(|ui| {
                    ui.vertical(|ui| {
                        ui.set_width(FORM_WIDTH);
                        self.form(ui, season, start);
                    });
                    ui.add_space(t.space.medium);
                    ui.vertical(|ui| self.picture(ui, season, start));
                });
            } else {
                self.form(ui, season, start);
                ui.add_space(t.space.medium);
                self.picture(ui, season, start);
            }
            self.words(ui, start);
        });
    }

    /// Takes the plans of another season up; where this season goes another way, those that nobody has changed.
    fn follow(&mut self, season: SeasonId, plan: &Plan) {
        let before = self.of.replace((season, *plan));
        let Some((_, before)) = before.filter(|(known, _)| *known == season) else {
            self.plans = [*plan, beside(plan)];
            return;
        };
        for (own, of) in self.plans.iter_mut().zip([|plan: &Plan| *plan, beside]) {
            let seasons = own.seasons;
            let as_proposed = |plan| Plan { seasons, ..of(plan) };
            if *own == as_proposed(&before) {
                *own = as_proposed(plan);
            }
        }
    }

    fn asked(&self, season: SeasonId, start: &AheadStart) -> Asked {
        Asked {
            season,
            start: start.clone(),
            plans: self.plans,
            replicates: self.replicates,
            seed: self.seed,
        }
    }

    fn form(&mut self, ui: &mut Ui, season: SeasonId, start: &AheadStart) {
        let t = Tokens::of(ui);
        Grid::new("look ahead plans")
            .num_columns(3)
            .spacing([t.space.medium, t.space.small])
            .show(ui, |ui| {
                ui.label("");
                for letter in LETTERS {
                    ui.label(RichText::new(format!("Plan {letter}")).font(t.strong_font()));
                }
                ui.end_row();
                for field in &FIELDS {
                    ui.label(field.name);
                    for (plan, letter) in self.plans.iter_mut().zip(LETTERS) {
                        field.show(ui, plan, letter);
                    }
                    ui.end_row();
                }
                ui.label("Pollen comes from");
                for (plan, letter) in self.plans.iter_mut().zip(LETTERS) {
                    pollen(ui, plan, letter);
                }
                ui.end_row();
                ui.label("");
                for (plan, letter) in self.plans.iter_mut().zip(LETTERS) {
                    let again = ui
                        .button("As this season")
                        .on_hover_text(format!("Plan {letter} as this season is"));
                    if again.clicked() {
                        let seasons = plan.seasons;
                        *plan = Plan {
                            seasons,
                            ..start.plan
                        };
                    }
                }
                ui.end_row();
            });
        self.common(ui);
        ui.add_space(t.space.small);
        self.run(ui, season, start);
    }

    fn common(&mut self, ui: &mut Ui) {
        let whole = |ui: &mut Ui, name: &'static str, most: f64, value: f64| {
            NumberField::new(Id::unique(("look ahead", name)), name)
                .range(1.0..=most)
                .width(FIELD_WIDTH)
                .show(ui, value)
        };
        ui.horizontal_wrapped(|ui| {
            let seasons = f64::from(self.plans[0].seasons);
            if let Some(new) = whole(ui, "Seasons", f64::from(MOST_SEASONS), seasons) {
                for plan in &mut self.plans {
                    plan.seasons = new as u32;
                }
            }
            if let Some(new) = whole(ui, "Replicates", MOST_REPLICATES, f64::from(self.replicates)) {
                self.replicates = new as u32;
            }
            if let Some(new) = whole(ui, "Seed", 1e9, self.seed as f64) {
                self.seed = new as u64;
            }
        });
    }

    fn run(&mut self, ui: &mut Ui, season: SeasonId, start: &AheadStart) {
        let t = Tokens::of(ui);
        for (plan, letter) in self.plans.iter().zip(LETTERS) {
            if let Err(why) = plan.check() {
                alert(
                    ui,
                    &format!("Plan {letter}: {}", lower_sentence(&why.to_string())),
                );
            }
        }
        let is_possible = self.plans.iter().all(|plan| plan.check().is_ok());
        ui.horizontal_wrapped(|ui| {
            if let Some(percent) = self.work.percent() {
                let bar = ProgressBar::new(percent as f32 / 100.0)
                    .desired_width(180.0)
                    .text(format!("{percent} %"));
                ui.add(bar)
                    .widget_info(|| WidgetInfo::labeled(Role::ProgressIndicator, true, "Look ahead"));
                if ui
                    .button("Stop")
                    .on_hover_text("What came out before stays")
                    .clicked()
                {
                    self.work.stop();
                }
            } else if primary_button_enabled(ui, is_possible, "Look ahead").clicked() {
                let asked = self.asked(season, start);
                self.work.begin(ui.ctx(), asked);
            }
        });
        if let Some(fault) = &self.work.fault {
            alert(ui, fault);
        }
        ui.add_space(t.space.tiny);
    }

    fn picture(&mut self, ui: &mut Ui, season: SeasonId, start: &AheadStart) {
        let t = Tokens::of(ui);
        let asked = self.asked(season, start);
        let Some(seen) = self.work.seen.as_ref().filter(|seen| seen.asked.season == season) else {
            let text = "Nothing was simulated yet. Look over the plans and press 'Look ahead'.";
            ui.add(Label::new(RichText::new(text).color(t.quiet)).wrap());
            return;
        };
        let names: Vec<&str> = FIGURES.iter().map(|figure| figure.name).collect();
        let id = Id::unique("look ahead figure");
        if let Some(chosen) = segmented(ui, id, "What is drawn", &names, self.figure) {
            self.figure = chosen;
        }
        if seen.asked != asked {
            let text =
                "⚠ The plans or the season have changed since. Press 'Look ahead' to see the new ones.";
            ui.add(Label::new(RichText::new(text).color(t.warn)).wrap());
        }
        plot::ui(ui, seen, &FIGURES[self.figure]);
    }

    /// What came out and what was taken for granted, under the picture.
    fn words(&self, ui: &mut Ui, start: &AheadStart) {
        let t = Tokens::of(ui);
        let Some(seen) = self.work.seen.as_ref().filter(|seen| {
            self.of
                .as_ref()
                .is_some_and(|(season, _)| *season == seen.asked.season)
        }) else {
            return;
        };
        ui.add_space(t.space.small);
        ui.columns(2, |columns| {
            for (nth, ui) in columns.iter_mut().enumerate() {
                let (plan, outlook) = (&seen.asked.plans[nth], &seen.outlooks[nth]);
                ui.with_layout(Layout::top_down(Align::LEFT), |ui| {
                    ui.set_max_width(ui.available_width() - t.space.medium);
                    ui.horizontal(|ui| {
                        ui.label(RichText::new(["●", "■"][nth]).color(colours(t)[nth]));
                        ui.label(RichText::new(format!("Plan {}", LETTERS[nth])).font(t.strong_font()));
                    });
                    ui.add(Label::new(RichText::new(plan_sentence(plan)).color(t.quiet)).wrap());
                    for said in outcome_sentences(plan, outlook) {
                        ui.add(Label::new(said).wrap());
                    }
                });
            }
        });
        ui.add_space(t.space.small);
        ui.label(RichText::new("Taken for granted").font(t.strong_font()));
        let [first, second] = seen.asked.plans.each_ref().map(|plan| start.assumptions(plan));
        for (a, b) in first.iter().zip(&second) {
            let lines = if a == b {
                vec![a.clone()]
            } else {
                vec![format!("Plan A: {a}"), format!("Plan B: {b}")]
            };
            for line in lines {
                let text = RichText::new(line).font(t.small_font()).color(t.quiet);
                ui.add(Label::new(text).wrap());
            }
        }
    }
}

/// A sentence that goes on behind a colon.
fn lower_sentence(text: &str) -> String {
    let text = sentence(text);
    let mut letters = text.chars();
    letters
        .next()
        .map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

fn pollen(ui: &mut Ui, plan: &mut Plan, letter: &str) {
    let all = [Pollen::AllRows, Pollen::BulkOfKept, Pollen::BulkOfAll];
    let combo = ComboBox::from_id_salt(("look ahead pollen", letter))
        .selected_text(pollen_name(plan.pollen))
        .width(120.0)
        .show_ui(ui, |ui| {
            for one in all {
                ui.selectable_value(&mut plan.pollen, one, pollen_name(one));
            }
        });
    let label = format!("Pollen comes from, {letter}");
    combo.response.widget_info(|| {
        let mut info = WidgetInfo::labeled(Role::ComboBox, true, &label);
        info.current_text_value = Some(pollen_name(plan.pollen).to_owned());
        info
    });
}

/// A number of a plan.
struct Field {
    name: &'static str,
    unit: &'static str,
    range: [f64; 2],
    /// Whether it may be left empty.
    may_be_none: bool,
    get: fn(&Plan) -> Option<f64>,
    set: fn(&mut Plan, Option<f64>),
}

impl Field {
    fn show(&self, ui: &mut Ui, plan: &mut Plan, letter: &str) {
        let label = format!("{}, {letter}", self.name);
        let [low, high] = self.range;
        let decimals = usize::from(self.unit == "%");
        let field = NumberField::new(Id::unique(("look ahead", self.name, letter)), &label)
            .without_label()
            .unit(self.unit)
            .range(low..=high)
            .decimals(decimals)
            .width(FIELD_WIDTH);
        let mut value = (self.get)(plan);
        if self.may_be_none {
            if field.show_optional(ui, &mut value) {
                (self.set)(plan, value);
            }
        } else if let Some(new) = field.show(ui, value.unwrap_or(low)) {
            (self.set)(plan, Some(new));
        }
    }
}

fn with_cutoff(plan: &mut Plan, percent: Option<f64>, sureness: Option<f64>) {
    let known = plan.cutoff;
    let percent = percent.or(known.map(|sure| sure.cutoff.percent()));
    let sureness = sureness.or(known.map(|sure| sure.sureness)).unwrap_or(SURENESS);
    plan.cutoff = percent
        .and_then(|percent| Cutoff::from_percent(percent).ok())
        .map(|cutoff| Sure { cutoff, sureness });
}

const FIELDS: [Field; 10] = [
    Field {
        name: "Ears tested",
        unit: "",
        range: [2.0, MOST_EARS as f64],
        may_be_none: false,
        get: |plan| Some(f64::from(plan.ears)),
        set: |plan, value| plan.ears = value.unwrap_or(2.0) as u32,
    },
    Field {
        name: "Kernels of each",
        unit: "",
        range: [1.0, MOST_KERNELS as f64],
        may_be_none: false,
        get: |plan| Some(f64::from(plan.kernels)),
        set: |plan, value| plan.kernels = value.unwrap_or(1.0) as u32,
    },
    Field {
        name: "Ears kept, at most",
        unit: "",
        range: [2.0, MOST_KEPT as f64],
        may_be_none: false,
        get: |plan| Some(f64::from(plan.kept)),
        set: |plan, value| plan.kept = value.unwrap_or(2.0) as u32,
    },
    Field {
        name: "Least germination",
        unit: "%",
        range: [0.0, 100.0],
        may_be_none: true,
        get: |plan| plan.cutoff.map(|sure| sure.cutoff.percent()),
        set: |plan, value| match value {
            Some(percent) => with_cutoff(plan, Some(percent), None),
            None => plan.cutoff = None,
        },
    },
    Field {
        name: "Sureness of that",
        unit: "%",
        range: [50.0, 99.0],
        may_be_none: true,
        get: |plan| plan.cutoff.map(|sure| 100.0 * sure.sureness),
        set: |plan, value| with_cutoff(plan, None, value.map(|percent| percent / 100.0)),
    },
    Field {
        name: "Most of one mother row",
        unit: "",
        range: [1.0, MOST_EARS as f64],
        may_be_none: true,
        get: |plan| plan.cap.map(f64::from),
        set: |plan, value| plan.cap = value.map(|cap| cap as u32),
    },
    Field {
        name: "Pass the other limits",
        unit: "%",
        range: [1.0, 100.0],
        may_be_none: false,
        get: |plan| Some(100.0 * plan.passing),
        set: |plan, value| plan.passing = value.unwrap_or(100.0) / 100.0,
    },
    Field {
        name: "Plants of each kept ear",
        unit: "",
        range: [1.0, MOST_PLANTS as f64],
        may_be_none: false,
        get: |plan| Some(f64::from(plan.plants_each)),
        set: |plan, value| plan.plants_each = value.unwrap_or(1.0) as u32,
    },
    Field {
        name: "Evenness of these plants",
        unit: "%",
        range: [EVENNESS_PERCENT, 100.0],
        may_be_none: false,
        get: |plan| Some(100.0 * plan.evenness),
        set: |plan, value| plan.evenness = value.unwrap_or(100.0) / 100.0,
    },
    Field {
        name: "Foreign pollen",
        unit: "%",
        range: [0.0, 100.0],
        may_be_none: false,
        get: |plan| Some(100.0 * plan.foreign),
        set: |plan, value| plan.foreign = value.unwrap_or(0.0) / 100.0,
    },
];

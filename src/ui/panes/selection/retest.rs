//! The ears to test again, and the tray that is made of them.

use crate::insight::{Choice, Hindrance, Retest, RetestEar};
use crate::model::{Command, Cutoffs, EarId, Place};
use crate::ui::context::{Action, PaneCtx, Ticket};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::parts::primary_button_enabled;
use egui::{Checkbox, Id, Label, RichText, Role, ScrollArea, Sense, Ui, WidgetInfo, vec2};
use std::collections::BTreeMap;

/// What the part remembers between frames.
#[derive(Debug, Default)]
pub struct RetestPart {
    /// So many from the head of the list; none for as many as one tray holds.
    first: Option<usize>,
    /// Ears that were ticked or unticked by hand.
    by_hand: BTreeMap<EarId, bool>,
    making: Option<Ticket>,
    /// Why the last request was refused.
    refusal: Option<String>,
}

/// Which ears of a list are ticked.
struct Ticks<'a> {
    list: &'a Retest,
    by_hand: &'a BTreeMap<EarId, bool>,
    /// Up to here the ears are ticked unless something speaks against them.
    end: usize,
}

impl<'a> Ticks<'a> {
    fn new(list: &'a Retest, by_hand: &'a BTreeMap<EarId, bool>, first: usize) -> Self {
        let end = first.checked_sub(1).map_or(0, |last| {
            let mut places = (0..list.ears.len()).filter(|place| list.ears[*place].hindrance.is_none());
            places.nth(last).map_or(list.ears.len(), |place| place + 1)
        });
        Self { list, by_hand, end }
    }

    fn is_ticked(&self, place: usize) -> bool {
        let ear = &self.list.ears[place];
        let usual = place < self.end && ear.hindrance.is_none();
        self.by_hand.get(&ear.ear).copied().unwrap_or(usual)
    }

    fn ears(&self) -> impl Iterator<Item = &'a RetestEar> {
        (0..self.list.ears.len())
            .filter(|place| self.is_ticked(*place))
            .map(|place| &self.list.ears[place])
    }
}

/// Names the part; `None` when no ear is to be tested again.
pub fn title(choice: &Choice) -> Option<String> {
    let count = choice.summary.retest;
    (count > 0).then(|| format!("Retest list: {}", ears(count)))
}

impl RetestPart {
    /// Goes to the new tray once it is made.
    pub fn follow_outcome(&mut self, ctx: &mut PaneCtx<'_>) {
        let Some(outcome) = self.making.and_then(|ticket| ctx.outcome(ticket)) else {
            return;
        };
        self.making = None;
        match outcome {
            Ok(committed) => {
                let made = committed.places.iter().rev().find_map(|place| match place {
                    Place::Test(test) if ctx.document.project().tests.contains(*test) => Some(*test),
                    _ => None,
                });
                *self = Self::default();
                if let Some(test) = made {
                    ctx.act(Action::Go(Place::Test(test)));
                }
            }
            Err(problem) => self.refusal = Some(problem.to_string()),
        }
    }

    /// Draws the part; its list takes so much height. The list is of the cutoffs that are set, so that it need not be
    /// worked out anew for each place of a line that is being dragged.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, choice: &Choice, set: &Cutoffs, height: f32) {
        let list = ctx.insight.retest(ctx.document, choice.season, set);
        self.body(ui, ctx, &list, height);
    }

    fn body(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, list: &Retest, height: f32) {
        let t = Tokens::of(ui);
        if let Some(waiting) = waiting(list) {
            ui.add(Label::new(RichText::new(waiting).font(t.small_font()).color(t.quiet)).wrap());
        }
        if list.ears.is_empty() {
            return;
        }
        let able = list.first(usize::MAX).count();
        let first = self.first.unwrap_or(list.per_tray).min(able);
        ui.horizontal_wrapped(|ui| {
            let typed = NumberField::new(Id::unique("first of the retest list"), "The first")
                .unit("ears")
                .range(0.0..=able as f64)
                .width(52.0)
                .show(ui, first as f64);
            if let Some(first) = typed {
                self.first = Some(first as usize);
                self.by_hand.clear();
            }
            let ticks = Ticks::new(list, &self.by_hand, first);
            let can = ctx.read_only.is_none() && ticks.ears().next().is_some() && self.making.is_none();
            let button = primary_button_enabled(ui, can, "Make a retest tray");
            let why = ctx
                .read_only
                .unwrap_or("No ear of the list is ticked: there is nothing to lay out.");
            if button.on_disabled_hover_text(why).clicked() {
                let chosen: Vec<EarId> = ticks.ears().map(|ear| ear.ear).collect();
                let design = list.design(ctx.document.project(), &chosen);
                self.refusal = None;
                self.making = Some(ctx.run_for(Command::DesignTest(design)));
            }
        });
        if let Some(refusal) = &self.refusal {
            let said = ui.label(RichText::new(format!("⚠ {refusal}")).color(t.bad));
            said.widget_info(|| WidgetInfo::labeled(Role::Alert, true, refusal));
        }
        let gain = list.gain(Ticks::new(list, &self.by_hand, first).ears());
        ui.add(Label::new(RichText::new(gain).font(t.small_font())).wrap());
        ui.spacing_mut().item_spacing.y = 0.0;
        let row = t.row_height;
        let rows = list.ears.len() as f32 * (row + ui.spacing().item_spacing.y);
        ScrollArea::vertical()
            .id_salt("retest list")
            .max_height(height.min(rows).max(row))
            .auto_shrink([false, true])
            .show_rows(ui, row, list.ears.len(), |ui, places| {
                for place in places {
                    self.row(ui, ctx, list, place, first);
                }
            });
    }

    fn row(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, list: &Retest, place: usize, first: usize) {
        let t = Tokens::of(ui);
        let ear = &list.ears[place];
        let sentence = ear.sentence();
        let mut on = Ticks::new(list, &self.by_hand, first).is_ticked(place);
        ui.allocate_ui(vec2(ui.available_width(), t.row_height), |ui| {
            ui.horizontal(|ui| {
                ui.set_min_height(t.row_height);
                let name = format!("Retest ear {}", ear.number);
                let tick = ui.add_enabled(
                    ctx.read_only.is_none(),
                    Checkbox::new(
                        &mut on,
                        RichText::new(ear.number.to_string()).font(t.strong_font()),
                    ),
                );
                tick.widget_info(|| {
                    WidgetInfo::selected(
                        Role::CheckBox,
                        ctx.read_only.is_none(),
                        on,
                        format!("{name}: {sentence}"),
                    )
                });
                if tick.changed() {
                    self.by_hand.insert(ear.ear, on);
                }
                let is_chosen = ctx.chosen.contains(&ear.ear);
                let ink = if is_chosen { t.text } else { t.quiet };
                let text = RichText::new(short(ear)).font(t.small_font()).color(ink);
                let label = ui.add(Label::new(text).truncate().sense(Sense::CLICK));
                if label.on_hover_text(&sentence).clicked() {
                    ctx.choose(vec![ear.ear]);
                }
            });
        });
    }
}

/// What stands beside an ear's number: the figures in few words.
fn short(ear: &RetestEar) -> String {
    let sure = 100.0 * ear.probability;
    let figures = format!(
        "{} of {}, {sure:.0} % to reach it",
        ear.counts.k(),
        ear.counts.n()
    );
    match &ear.hindrance {
        Some(Hindrance::Lies { name, .. }) => format!("{figures}; lies in {name}, not counted"),
        Some(Hindrance::Short) => format!("{figures}; too few kernels left"),
        Some(Hindrance::Reserved { missing, .. }) => {
            format!("{figures}; ⚠ takes {missing} that are reserved")
        }
        Some(Hindrance::NoUse) => format!("{figures}; no result would change it"),
        None => format!(
            "{figures}; wrong {:.0} % now, {:.0} % after",
            100.0 * ear.change.wrong_now,
            100.0 * ear.change.wrong_after
        ),
    }
}

fn waiting(list: &Retest) -> Option<String> {
    let are = match list.waiting.len() {
        0 => return None,
        1 => "1 ear waits".to_owned(),
        many => format!("{many} ears wait"),
    };
    Some(format!(
        "{are} for a value that a cutoff asks for; more kernels would not help there."
    ))
}

fn ears(count: usize) -> String {
    if count == 1 {
        "1 ear".to_owned()
    } else {
        format!("{count} ears")
    }
}

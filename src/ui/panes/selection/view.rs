//! How the plot is looked at: its axes, its colours, what is drawn about the ears; the bar above it and the legends.

use super::drawing::Tool;
use super::marks;
use super::names::Names;
use super::picture::{self, Seen};
use super::scatter::{self, PlotAnswer, Ranges, Scatter};
use super::{Derived, Selection, child};
use crate::insight::{Axis, GroupBy, Vertical, place_of};
use crate::model::{Cutoffs, Project, Stand};
use crate::ui::context::PaneCtx;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::segmented::segmented;
use egui::{
    ComboBox, Id, Label, Rect, RichText, Role, ScrollArea, Sense, Stroke, StrokeKind, Ui, WidgetInfo, vec2,
};
use std::collections::{BTreeMap, BTreeSet};

/// A name on a closed menu is cut after so many signs.
const MOST_SIGNS: usize = 16;
/// Room for the edges and the sign of a menu, in points.
const MENU_SIGN: f32 = 30.0;

/// How the plot is looked at. It is kept while the program runs and is no part of the project.
#[derive(Debug)]
pub struct View {
    /// What lies across and up.
    pub axes: [Axis; 2],
    /// By what the ears are coloured; `None` for their stand.
    by: Option<GroupBy>,
    /// The groups that stand out.
    picked: BTreeSet<usize>,
    /// The group in the legend that is under the pointer or has the keyboard.
    pointed: Option<usize>,
    /// Of which ears the ranges are drawn.
    ranges: Ranges,
    /// Whether the chosen ears have their numbers beside them.
    has_numbers: bool,
}

impl Default for View {
    fn default() -> Self {
        Self {
            axes: Axis::USUAL,
            by: None,
            picked: BTreeSet::new(),
            pointed: None,
            ranges: Ranges::default(),
            has_numbers: true,
        }
    }
}

impl View {
    /// Goes back to what the project has, if a trait on an axis was taken back.
    pub fn follow(&mut self, project: &Project) {
        for (axis, usual) in self.axes.iter_mut().zip(Axis::USUAL) {
            if !axis.exists(project) {
                *axis = usual;
            }
        }
    }

    /// Forgets what belongs to the ears of one season.
    pub fn forget_groups(&mut self) {
        self.picked.clear();
        self.pointed = None;
    }

    /// By what the ears are coloured now.
    pub fn by(&self, names: &Names) -> Option<GroupBy> {
        self.by.filter(|by| may_colour(*by, names))
    }

    /// The groups that stand out, with the one that is pointed at.
    pub fn standing_out(&self) -> BTreeSet<usize> {
        self.picked.iter().copied().chain(self.pointed).collect()
    }

    /// Puts something on an axis. If the other axis shows it, the two change places.
    fn put(&mut self, side: usize, axis: Axis) {
        if self.axes[1 - side] == axis {
            self.axes.swap(0, 1);
        } else {
            self.axes[side] = axis;
        }
    }

    /// The axis that shows cold germination, the one up first, and which percent.
    fn germination(&self) -> Option<(usize, Vertical)> {
        [1, 0]
            .into_iter()
            .find_map(|side| Some((side, self.axes[side].germination()?)))
    }

    /// The switches of what lies on the axes and of what is drawn.
    fn bar(&mut self, ui: &mut Ui, project: &Project, names: &Names) {
        let axes = Axis::all(project);
        for (side, label) in ["Across", "Up"].into_iter().enumerate() {
            let all: Vec<String> = axes.iter().map(|axis| axis.name(project)).collect();
            let chosen = axes.iter().position(|axis| *axis == self.axes[side]);
            let short = self.axes[side].short_label(project);
            if let Some(nth) = menu(ui, label, &all, chosen.unwrap_or(0), &short) {
                self.put(side, axes[nth]);
            }
        }
        let all = [
            (None, "stand"),
            (Some(GroupBy::Row), "mother row"),
            (Some(GroupBy::Batch), "drying batch"),
            (Some(GroupBy::Tray), "tray"),
            (Some(GroupBy::Frost), "frost"),
        ];
        let offered: Vec<_> = all
            .into_iter()
            .filter(|(by, _)| by.is_none_or(|by| may_colour(by, names)))
            .collect();
        let chosen = offered.iter().position(|one| one.0 == self.by(names));
        let labels: Vec<&str> = offered.iter().map(|one| one.1).collect();
        let by = labels[chosen.unwrap_or(0)];
        if let Some(nth) = menu(ui, "Colour by", &labels, chosen.unwrap_or(0), by) {
            self.by = offered[nth].0;
            self.forget_groups();
        }
        ui.menu_button("Marks ▼", |ui| {
            if self.germination().is_some() {
                for (ranges, name) in [
                    (Ranges::None, "No ranges"),
                    (Ranges::Chosen, "Ranges of the chosen ears"),
                    (Ranges::All, "Ranges of all ears shown"),
                ] {
                    ui.radio_value(&mut self.ranges, ranges, name);
                }
                ui.separator();
            }
            ui.checkbox(&mut self.has_numbers, "Numbers of the chosen ears");
        });
        if self
            .axes
            .map(|axis| axis.germination().map_or(axis, |_| Axis::USUAL[1]))
            != Axis::USUAL
            && ui.button("Usual axes").clicked()
        {
            let vertical = self
                .germination()
                .map_or(Vertical::default(), |(_, vertical)| vertical);
            self.axes = [Axis::MaturityDays, Axis::Germination(vertical)];
        }
    }
}

/// Whether ears may be coloured by it: while their names are hidden their mothers are too.
fn may_colour(by: GroupBy, names: &Names) -> bool {
    by != GroupBy::Row || !names.are_hidden()
}

/// A small menu with its name before it, which shows what is chosen by a short name. Gives what was newly chosen.
fn menu(ui: &mut Ui, label: &str, names: &[impl AsRef<str>], chosen: usize, short: &str) -> Option<usize> {
    let t = Tokens::of(ui);
    let mut new = None;
    ui.label(RichText::new(label).font(t.small_font()).color(t.quiet));
    let text = match short.char_indices().nth(MOST_SIGNS) {
        Some((end, _)) => format!("{}…", &short[..end]),
        None => short.to_owned(),
    };
    let galley = ui.painter().layout_no_wrap(text.clone(), t.body_font(), t.text);
    let combo = ComboBox::from_id_salt(("selection view", label))
        .width(galley.size().x + MENU_SIGN)
        .height(480.0)
        .truncate()
        .selected_text(text)
        .show_ui(ui, |ui| {
            for (at, name) in names.iter().enumerate() {
                if ui.selectable_label(at == chosen, name.as_ref()).clicked() {
                    new = Some(at);
                }
            }
        });
    combo.response.accessible_name(label);
    new
}

impl Selection {
    pub(super) fn plot_with_legend(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        derived: &Derived,
        set: &Cutoffs,
    ) -> PlotAnswer {
        let t = Tokens::of(ui);
        ui.horizontal_wrapped(|ui| {
            if let Some((side, vertical)) = self.view.germination() {
                let axis = usize::from(vertical == Vertical::Likely);
                let label = "Cold germination shown";
                let names = ["Observed", "Likely"];
                if let Some(axis) = segmented(ui, Id::unique("selection axis"), label, &names, axis) {
                    let vertical = [Vertical::Observed, Vertical::Likely][axis];
                    self.view.put(side, Axis::Germination(vertical));
                }
                ui.add_space(t.space.small);
            }
            let tool = Tool::ALL.iter().position(|tool| *tool == self.plot.tool);
            let tools = ["Move the view", "Choose by rectangle", "By free hand"];
            let id = Id::unique("selection tool");
            if let Some(tool) = segmented(ui, id, "Dragging", &tools, tool.unwrap_or(0)) {
                self.plot.tool = Tool::ALL[tool];
            }
            if self.plot.is_moved && ui.button("Show all").clicked() {
                self.plot.reset = true;
            }
            let seen = Seen {
                derived,
                plot: &self.plot,
                shown: self.order.shown,
                names: &self.names,
            };
            picture::menu(ui, ctx, &seen, &mut self.whole_picture);
        });
        ui.horizontal_wrapped(|ui| self.view.bar(ui, ctx.document.project(), &self.names));
        self.legend(ui, derived);
        self.group_legend(ui, derived);
        if let Some([drawn, found]) = self.plot.ranges {
            let text = format!(
                "The ranges of {drawn} of the {found} ears in view are drawn. Zoom in to see those of all."
            );
            ui.add(Label::new(RichText::new(text).font(t.small_font()).color(t.quiet)).wrap());
        }

        let room = ui.available_rect_before_wrap();
        child(ui, room, "scatter", |ui| {
            let empty = BTreeMap::new();
            let words = ctx
                .document
                .project()
                .selection_of(derived.choice.season)
                .map_or(&empty, |one| &one.words);
            let scatter = Scatter {
                project: ctx.document.project(),
                choice: &derived.choice,
                field: &derived.field,
                groups: &derived.groups,
                grouped: derived.grouped.as_deref(),
                edges: &derived.edges,
                cutoffs: set,
                bands: derived.bands,
                names: &self.names,
                words,
                chosen: ctx.chosen,
                hovered: self.hovered.and_then(|ear| place_of(&derived.choice, ear)),
                shown: self.order.shown,
                can_change: ctx.read_only.is_none(),
                ranges: self.view.ranges,
                has_numbers: self.view.has_numbers,
                text: &derived.text,
            };
            scatter.show(ui, &mut self.plot)
        })
    }

    /// The groups by which the ears are coloured, in one line that scrolls; a click makes a group stand out.
    fn group_legend(&mut self, ui: &mut Ui, derived: &Derived) {
        let Some(grouped) = derived.grouped.as_deref() else {
            self.view.pointed = None;
            return;
        };
        let t = Tokens::of(ui);
        let mut pointed = None;
        let paints = grouped.paints(&self.view.picked);
        ui.horizontal(|ui| {
            if !self.view.picked.is_empty() && ui.button("All groups").clicked() {
                self.view.picked.clear();
            }
            let line = ScrollArea::horizontal().id_salt("selection groups");
            line.show(ui, |ui| {
                ui.horizontal(|ui| {
                    for (nth, group) in grouped.groups.iter().enumerate() {
                        let on = self.view.picked.contains(&nth);
                        let text = format!("{} {}", group.name, group.ears);
                        let ink = if on { t.text } else { t.quiet };
                        let font = if on { t.strong_font() } else { t.body_font() };
                        let galley = ui.painter().layout_no_wrap(text.clone(), font, ink);
                        let size = vec2(galley.size().x + 26.0, t.control_height - 4.0);
                        let (rect, response) = ui.allocate_exact_size(size, Sense::click());
                        response
                            .widget_info(|| WidgetInfo::selected(Role::CheckBox, ui.is_enabled(), on, &text));
                        if response.gained_focus() {
                            response.scroll_to_me(None);
                        }
                        if response.hovered() || response.has_focus() {
                            pointed = Some(nth);
                        }
                        if ui.is_rect_visible(rect) {
                            if on || response.hovered() || response.has_focus() {
                                ui.painter().rect_filled(rect, f32::from(t.radius), t.selection);
                            }
                            let swatch = Rect::from_center_size(
                                rect.left_center() + vec2(11.0, 0.0),
                                vec2(12.0, 12.0),
                            );
                            let colour = marks::paint_colour(t, paints[nth]);
                            ui.painter().rect_filled(swatch, 2.0, colour);
                            let at = rect.left_center() + vec2(21.0, -galley.size().y / 2.0);
                            ui.painter().galley(at, galley, ink);
                        }
                        let hint = "Click to let this group stand out from the others.";
                        if response.on_hover_text(hint).clicked() && !self.view.picked.remove(&nth) {
                            self.view.picked.insert(nth);
                        }
                    }
                });
            });
        });
        if pointed != self.view.pointed {
            self.view.pointed = pointed;
            ui.ctx().request_repaint();
        }
    }

    /// The stands with their marks and counts; each shows or hides its ears.
    fn legend(&mut self, ui: &mut Ui, derived: &Derived) {
        let t = Tokens::of(ui);
        let summary = &derived.choice.summary;
        let counts = [summary.kept, summary.retest, summary.left_out, summary.not_scored];
        ui.horizontal_wrapped(|ui| {
            for (i, stand) in Stand::ALL.into_iter().enumerate() {
                let on = self.order.shown[i];
                let text = format!("{} {}", stand.name(), counts[i]);
                let ink = if on { t.text } else { t.quiet };
                let font = if on { t.strong_font() } else { t.body_font() };
                let galley = ui.painter().layout_no_wrap(text.clone(), font, ink);
                let size = vec2(galley.size().x + 30.0, t.control_height - 4.0);
                let (rect, response) = ui.allocate_exact_size(size, Sense::click());
                response.widget_info(|| WidgetInfo::selected(Role::CheckBox, ui.is_enabled(), on, &text));
                if response.hovered() || response.has_focus() {
                    ui.painter().rect_filled(rect, f32::from(t.radius), t.selection);
                }
                let strength = if on { 1.0 } else { 0.4 };
                let at = rect.left_center() + vec2(13.0, 0.0);
                let colour = if derived.grouped.is_some() {
                    t.text
                } else {
                    t.marks()[i]
                };
                marks::mark(ui.painter(), at, stand, colour.gamma_multiply(strength));
                ui.painter().galley(
                    rect.left_center() + vec2(24.0, -galley.size().y / 2.0),
                    galley,
                    ink,
                );
                let hint = if on {
                    "Click to fade these ears and take them out of the table."
                } else {
                    "Click to show these ears again."
                };
                if response.on_hover_text(hint).clicked() {
                    self.order.shown[i] = !on;
                }
            }
            if let Some(band) = derived.bands[1].or(derived.bands[0]) {
                let text = format!("{} kernels cannot tell", band.kernels);
                let galley = ui.painter().layout_no_wrap(text.clone(), t.body_font(), t.quiet);
                let size = vec2(galley.size().x + 36.0, t.control_height - 4.0);
                let (rect, response) = ui.allocate_exact_size(size, Sense::hover());
                response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &text));
                let swatch = Rect::from_center_size(rect.left_center() + vec2(15.0, 0.0), vec2(22.0, 14.0));
                let edge = Stroke::new(1.0, t.mark_two.gamma_multiply(0.5));
                ui.painter().rect(swatch, 0.0, scatter::band_fill(t), edge, StrokeKind::Inside);
                let at = rect.left_center() + vec2(32.0, -galley.size().y / 2.0);
                ui.painter().galley(at, galley, t.quiet);
                let hint = format!(
                    "Between {:.0} and {:.0} % the counts of an ear cannot tell with your sureness whether it reaches the cutoff.",
                    band.low, band.high
                );
                response.on_hover_text(hint);
            }
        });
    }
}

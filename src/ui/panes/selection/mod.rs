//! The selection pane: the plot, the cutoffs, the table, the price of the choice, the freeze.

mod curve;
mod drawing;
mod index;
mod limits;
mod lines;
mod marks;
mod mothers;
mod names;
mod parts;
mod picture;
mod price;
mod retest;
mod rings;
mod scatter;
mod sets;
mod shares;
mod stand;
mod table;
mod view;
mod walk;
mod words;

use crate::insight::{
    Axis, Band, Choice, EarGroups, Edges, Estimates, Field, GroupBy, Price, Sets, Speeds, Standing, band,
    place_of, plot_text,
};
use crate::model::{Area, Command, Cutoffs, EarId, Place, SeasonId, SeenWhileMoving, WordKind, capital};
use crate::stats::Cutoff;
use crate::ui::context::{Action, Pane, PaneCtx};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::parts::{empty_state, primary_button_enabled};
use egui::{
    Align, Checkbox, Id, Key, Label, Layout, Modifiers, Rect, RichText, Role, Sense, Ui, UiBuilder,
    WidgetInfo, vec2,
};
use lines::{Line, LineEvent};
use marks::Groups;
use names::Names;
use parts::{Part, Unfolded};
use retest::RetestPart;
use scatter::{Click, PlotAnswer, PlotState};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use table::{Order, Table, TableAnswer};
use view::View;
use walk::Deed;
use words::Asking;

/// Below this width or height the parts lie under each other and scroll.
const LEAST_WIDE: [f32; 2] = [880.0, 480.0];
/// Least width of the notes beside the big figures.
const NOTES_WIDTH: f32 = 340.0;
/// From this width on the words for the chosen ears have room in one line.
const WORDS_WIDTH: f32 = 610.0;
/// From this width on all cutoff fields have room in one line.
const ONE_LINE: f32 = 1170.0;

/// The part of the height that the open retest list takes at most, beside its head.
const RETEST_ROOM: f32 = 0.36;
/// The part of the height that the open price takes at most.
const PRICE_ROOM: f32 = 0.32;
/// Least height of the table with the words under it.
const LEAST_TABLE: f32 = 128.0;

/// What the pane remembers between frames.
#[derive(Debug, Default)]
pub struct Selection {
    view: View,
    plot: PlotState,
    order: Order,
    derived: Option<Derived>,
    asking: Option<Asking>,
    unfolded: Unfolded,
    retest: RetestPart,
    names: Names,
    /// Whether a view that was moved is saved whole.
    whole_picture: bool,
    typing: sets::Typing,
    /// The ear under the pointer, in the plot or in the table.
    hovered: Option<EarId>,
    /// The chosen ears as of the last frame, to see when they changed.
    chosen: Vec<EarId>,
    /// Where the lines were last switched off, to switch them on there again.
    last_values: BTreeMap<Line, f64>,
}

/// What is drawn, kept until what it is drawn from changes.
#[derive(Debug)]
struct Derived {
    field_key: (SeasonId, [Axis; 2], [u64; FIELD.len()]),
    field: Arc<Field>,
    choice: Arc<Choice>,
    estimates: Arc<Estimates>,
    /// By what the ears are grouped, and the groups that stand out.
    look: (Option<GroupBy>, BTreeSet<usize>),
    grouped: Option<Arc<EarGroups>>,
    groups: Arc<Groups>,
    edges: Arc<Edges>,
    bands: [Option<Band>; 2],
    text: Arc<str>,
    order: Order,
    names_hidden: bool,
    rows: Arc<Vec<usize>>,
    speeds: Arc<Speeds>,
}

/// What the places and the groups of ears are made from.
const FIELD: [Area; 12] = [
    Area::About,
    Area::Season,
    Area::Row,
    Area::Ear,
    Area::Packet,
    Area::Trait,
    Area::Test,
    Area::Tray,
    Area::Cell,
    Area::Count,
    Area::FieldRow,
    Area::Weather,
];

impl Derived {
    fn new(
        ctx: &PaneCtx<'_>,
        choice: Arc<Choice>,
        view: &View,
        (order, names): (&Order, &Names),
        old: Option<&Self>,
    ) -> Self {
        let (season, project) = (choice.season, ctx.document.project());
        let field_key = (season, view.axes, ctx.document.revision_key(FIELD));
        let estimates = ctx.insight.estimates(ctx.document, season);
        let speeds = ctx.insight.speeds(ctx.document, season);
        let by = view.by(names);
        let look = (by, view.standing_out());
        // Each part is kept from the last frame while what it is made from is the same.
        let same_field =
            old.filter(|old| old.field_key == field_key && Arc::ptr_eq(&old.estimates, &estimates));
        let same_choice = same_field.filter(|old| Arc::ptr_eq(&old.choice, &choice));
        let same_look = same_choice.filter(|old| old.look == look);
        let same_rows = old.filter(|old| {
            Arc::ptr_eq(&old.choice, &choice)
                && Arc::ptr_eq(&old.speeds, &speeds)
                && old.order == *order
                && old.names_hidden == names.are_hidden()
        });
        let field = same_field.map_or_else(
            || Arc::new(Field::new(project, &choice.standings, view.axes)),
            |old| Arc::clone(&old.field),
        );
        let grouped = by.map(|by| {
            let known = same_field.and_then(|old| old.grouped.as_ref().filter(|grouped| grouped.by == by));
            known.map_or_else(
                || Arc::new(EarGroups::new(project, season, &choice.standings, by)),
                Arc::clone,
            )
        });
        let groups = same_look.map_or_else(
            || {
                let paints = grouped.as_ref().map(|grouped| grouped.paints(&look.1));
                let painted = grouped.as_deref().zip(paints.as_deref());
                Arc::new(Groups::new(&choice, &field, painted))
            },
            |old| Arc::clone(&old.groups),
        );
        let bands = || {
            let cutoffs = &choice.cutoffs;
            let cutoff = cutoffs
                .germination_percent
                .and_then(|percent| Cutoff::from_percent(percent).ok());
            view.axes.map(|axis| {
                cutoff
                    .zip(axis.germination())
                    .and_then(|(cutoff, vertical)| band(&estimates, cutoff, cutoffs.sureness, vertical))
            })
        };
        let (edges, bands, text) = match same_choice {
            Some(old) => (Arc::clone(&old.edges), old.bands, Arc::clone(&old.text)),
            None => (
                Arc::new(Edges::new(&choice.standings, &field)),
                bands(),
                plot_text(project, &choice, &field).into(),
            ),
        };
        let rows = same_rows.map_or_else(
            || Arc::new(order.rows(&choice, project, &speeds, names)),
            |old| Arc::clone(&old.rows),
        );
        Self {
            field_key,
            field,
            choice,
            estimates,
            look,
            grouped,
            groups,
            edges,
            bands,
            text,
            order: order.clone(),
            names_hidden: names.are_hidden(),
            rows,
            speeds,
        }
    }
}

impl Selection {
    /// Draws the pane.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        let Some(season) = Self::season_to_show(ui, ctx) else {
            self.derived = None;
            return;
        };
        let is_other = |derived: &Derived| derived.choice.season != season;
        if self.derived.as_ref().is_some_and(is_other) {
            // A line that was dragged in another season is not set in this one.
            self.plot = PlotState {
                tool: self.plot.tool,
                ..PlotState::default()
            };
            self.view.forget_groups();
        }
        self.names.follow(ctx.document.project(), season);
        let set = ctx.insight.cutoffs(ctx.document, season);
        let shown = self.plot.preview.clone().unwrap_or_else(|| set.clone());
        let choice = ctx.insight.choice(ctx.document, season, &shown);
        self.view.follow(ctx.document.project());
        let old = self.derived.take();
        let derived = Derived::new(ctx, choice, &self.view, (&self.order, &self.names), old.as_ref());

        self.retest.follow_outcome(ctx);
        self.keys(ui, ctx, &derived);
        let screen = ui.available_size();
        if screen.x >= LEAST_WIDE[0] && screen.y >= LEAST_WIDE[1] {
            self.wide(ui, ctx, &derived, &set);
        } else {
            self.narrow(ui, ctx, &derived, &set);
        }
        if self
            .asking
            .as_mut()
            .is_some_and(|asking| asking.show(ui, ctx, season, &self.names))
        {
            self.asking = None;
        }
        self.chosen = ctx.chosen.to_vec();
        self.derived = Some(derived);
    }

    /// Shows a place of the project that belongs to this pane, in the next frame.
    pub fn go(&mut self, place: Place) {
        // A season has one selection, and this pane shows it: the whole of it comes into sight.
        if matches!(place, Place::Selection(_)) {
            self.plot.reset = true;
            self.order.shown = [true; 4];
        }
    }

    /// The season, if there is anything to choose from; else says what to do first.
    fn season_to_show(ui: &mut Ui, ctx: &mut PaneCtx<'_>) -> Option<SeasonId> {
        let project = ctx.document.project();
        let missing = match ctx.season {
            None => (
                "No season yet",
                "Begin a season, note its ears and score a test of them; then choose here which to plant.",
                "Go to Seasons",
                Pane::Seasons,
            ),
            Some(season) if project.ears_of(season).next().is_none() => (
                "No ears yet",
                "Note the ears of this season; after a germination test they are chosen here.",
                "Go to Harvest",
                Pane::Harvest,
            ),
            Some(season) if ctx.insight.estimates(ctx.document, season).scored() > 0 => return Some(season),
            Some(season) if project.tests_of(season).next().is_some() => (
                "Nothing scored yet",
                "No ear has a final count. Score the trays; every scored ear appears here at once.",
                "Go to Scoring",
                Pane::Scoring,
            ),
            Some(_) => (
                "Nothing scored yet",
                "Design a germination test of the ears and score it; every scored ear appears here at once.",
                "Go to Trays",
                Pane::Trays,
            ),
        };
        let (title, what, button, pane) = missing;
        if empty_state(ui, title, what, Some(button)) {
            ctx.act(Action::Show(pane));
        }
        None
    }

    /// Plot at the left; price, table and the chosen ears at the right.
    fn wide(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, derived: &Derived, set: &Cutoffs) {
        let gap = Tokens::of(ui).space.medium;
        let has_notes = Self::top(ui, ctx, derived);
        let lines: &[usize] = if ui.available_width() >= ONE_LINE {
            &[5]
        } else {
            &[2, 3]
        };
        self.fields(ui, ctx, derived, set, lines);
        if !has_notes {
            notes(ui, derived);
        }
        ui.add_space(gap / 2.0);
        let room = ui.available_rect_before_wrap();
        let right = (0.41 * room.width()).clamp(380.0, 880.0);
        let split = room.right() - right;
        let left = Rect::from_min_max(room.min, egui::pos2(split - gap, room.bottom()));
        let right = Rect::from_min_max(egui::pos2(split, room.top()), room.max);
        let plot = child(ui, left, "plot", |ui| {
            self.plot_with_legend(ui, ctx, derived, set)
        });
        let table = child(ui, right, "table", |ui| {
            self.right(ui, ctx, derived, set, right.height())
        });
        self.answer(ctx, derived, set, plot, &table, ui);
    }

    /// Price, retest list and table. With too much unfolded for the table to keep some rows, all of it scrolls.
    fn right(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        derived: &Derived,
        set: &Cutoffs,
        height: f32,
    ) -> TableAnswer {
        let gap = Tokens::of(ui).space.medium;
        let column = egui::ScrollArea::vertical().id_salt("price and table");
        let column = column.auto_shrink(false).show(ui, |ui| {
            let top = ui.cursor().top();
            price::details(ui, &derived.choice.summary);
            self.parts(ui, ctx, derived, set, Some(height));
            ui.add_space(gap / 2.0);
            let left = height - (ui.cursor().top() - top);
            let size = vec2(ui.available_width(), left.max(LEAST_TABLE));
            let (rect, _) = ui.allocate_exact_size(size, Sense::hover());
            child(ui, rect, "table and words", |ui| {
                self.table_with_words(ui, ctx, derived)
            })
        });
        column.inner
    }

    /// All parts under each other, on a page that scrolls.
    fn narrow(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, derived: &Derived, set: &Cutoffs) {
        let gap = Tokens::of(ui).space.medium;
        let height = ui.available_height();
        egui::ScrollArea::vertical().auto_shrink(false).show(ui, |ui| {
            let top = ui.cursor().top();
            let has_notes = Self::top(ui, ctx, derived);
            let height_of_top = ui.cursor().top() - top;
            let part = |ui: &mut Ui, height: f32| {
                let (rect, _) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::hover());
                rect
            };
            let rect = part(ui, (height - height_of_top).max(300.0));
            let plot = child(ui, rect, "plot", |ui| {
                self.plot_with_legend(ui, ctx, derived, set)
            });
            ui.add_space(gap);
            self.fields(ui, ctx, derived, set, &[2, 3]);
            if !has_notes {
                notes(ui, derived);
            }
            ui.add_space(gap);
            price::details(ui, &derived.choice.summary);
            self.parts(ui, ctx, derived, set, None);
            ui.add_space(gap);
            let rect = part(ui, (height - gap).max(320.0));
            let table = child(ui, rect, "table", |ui| self.table_with_words(ui, ctx, derived));
            self.answer(ctx, derived, set, plot, &table, ui);
        });
    }

    /// The switches of the parts, and those that are unfolded. Beside the plot they leave room for the table.
    fn parts(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        derived: &Derived,
        set: &Cutoffs,
        height: Option<f32>,
    ) {
        let choice = &derived.choice;
        let season = choice.season;
        let price = ctx.insight.price(ctx.document, season, &choice.cutoffs);
        let mothers = ctx.insight.mothers(ctx.document, season, set);
        let sets = ctx.insight.sets(ctx.document, season, set);
        let index = ctx.insight.index(ctx.document, season, set);
        let project = ctx.document.project();
        let top = ui.cursor().top();
        self.unfolded.switches(ui, |part| match part {
            Part::Price => Some(price::title(&price)),
            Part::Limits => Some(limits::title(set)),
            Part::Sets => Some(sets::title(&sets)),
            Part::Curve => Some(curve::TITLE.to_owned()),
            Part::Index => Some(index::title(&index)),
            Part::Mothers => Some(mothers::title(&mothers)),
            Part::Shares => Some(shares::title(project, season)),
            Part::Retest => retest::title(choice),
        });
        let unfolded = self.unfolded;
        for part in Part::ALL.into_iter().filter(|part| unfolded.has(*part)) {
            match part {
                Part::Price => {
                    Self::sentences(ui, ctx, &price, season, height.map(|height| PRICE_ROOM * height));
                }
                Part::Limits => self.limits(ui, ctx, derived, set),
                Part::Sets => self.sets(ui, ctx, season, &sets),
                Part::Curve => self.curve(ui, ctx, derived, set),
                Part::Index => index::ui(ui, ctx, season, &index, &self.names),
                Part::Mothers | Part::Shares | Part::Retest if self.names.are_hidden() => {
                    let text = "Hidden while the names of ears are hidden: this part names them.";
                    ui.add(Label::new(RichText::new(text).color(Tokens::of(ui).quiet)).wrap());
                }
                Part::Mothers => mothers::ui(ui, ctx, season, &mothers),
                Part::Shares => shares::ui(ui, ctx, season, set),
                Part::Retest => {
                    let room = height.unwrap_or_else(|| ui.ctx().content_rect().height());
                    let left = room - (ui.cursor().top() - top);
                    self.retest
                        .ui(ui, ctx, choice, set, RETEST_ROOM * left.max(0.5 * room));
                }
            }
        }
    }

    /// What the choice costs and buys, with what the grower may know better.
    fn sentences(
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        price: &Price,
        season: SeasonId,
        most_height: Option<f32>,
    ) {
        let season = ctx.document.project().seasons.get(season);
        let season = season.filter(|_| ctx.read_only.is_none());
        if let Some(after) = price::sentences(ui, price, season, most_height) {
            ctx.run(Command::EditSeason(after));
            ctx.act(Action::CloseStep);
        }
    }

    /// Limits on traits, and what each cutoff leaves out.
    fn limits(&self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, derived: &Derived, set: &Cutoffs) {
        let (choice, is_free) = (&derived.choice, ctx.read_only.is_none());
        let project = ctx.document.project();
        if let Some(wanted) = limits::ui(ui, project, &choice.summary, set, is_free) {
            self.commit(ctx, choice.season, wanted);
        }
    }

    /// Kept sets, moves, and whether names are hidden.
    fn sets(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: SeasonId, sets: &Sets) {
        let answer = sets::ui(ui, ctx, season, sets, &self.names, &mut self.typing);
        if let Some(cutoffs) = answer.set {
            self.commit(ctx, season, cutoffs);
        }
        if let Some(ears) = answer.choose {
            ctx.choose(ears);
        }
        match answer.hide {
            Some(true) => {
                let now = ctx.now.to_string();
                let seed = now.bytes().fold(0_u64, |seed, byte| {
                    seed.wrapping_mul(257).wrapping_add(u64::from(byte))
                });
                self.names.hide(ctx.document.project(), season, seed);
            }
            Some(false) => self.show_names(),
            None => {}
        }
    }

    /// How the figures move with the cutoff, and the cutoff that was clicked there.
    fn curve(&self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, derived: &Derived, set: &Cutoffs) {
        let season = derived.choice.season;
        if let Some(percent) = curve::ui(ui, ctx, season, set) {
            let cutoffs = Cutoffs {
                germination_percent: Some(percent),
                ..set.clone()
            };
            if cutoffs != *set {
                self.commit(ctx, season, cutoffs);
            }
        }
    }

    /// The big figures and the freeze, with what must be known to read them between, where there is room.
    /// Returns whether there was.
    fn top(ui: &mut Ui, ctx: &mut PaneCtx<'_>, derived: &Derived) -> bool {
        let gap = Tokens::of(ui).space.large;
        ui.horizontal(|ui| {
            price::headline(ui, &derived.choice);
            let height = ui.min_rect().height();
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                let can = ctx.read_only.is_none() && derived.choice.summary.kept > 0;
                let button = primary_button_enabled(ui, can, "Freeze the planting list…");
                let why = ctx
                    .read_only
                    .unwrap_or("No ear is kept: there is nothing to freeze.");
                if button.on_disabled_hover_text(why).clicked() {
                    ctx.act(Action::AskFreeze);
                }
                ui.add_space(gap);
                let width = (ui.available_width() - gap).min(620.0);
                if width < NOTES_WIDTH {
                    return false;
                }
                let centred = Layout::left_to_right(Align::Center);
                ui.allocate_ui_with_layout(vec2(width, height), centred, |ui| notes(ui, derived));
                true
            })
            .inner
        })
        .inner
    }

    /// The five cutoffs in fields, so many to a line.
    fn fields(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        derived: &Derived,
        set: &Cutoffs,
        lines: &[usize],
    ) {
        let shown = self.plot.preview.as_ref().unwrap_or(set).clone();
        let mut wanted = shown.clone();
        ui.add_enabled_ui(ctx.read_only.is_none(), |ui| {
            let mut first = 0;
            for count in lines {
                ui.horizontal(|ui| {
                    for nth in first..first + count {
                        self.field(ui, ctx, nth, &derived.choice, &mut wanted);
                        ui.add_space(Tokens::of(ui).space.small);
                    }
                });
                first += count;
            }
        });
        if wanted != shown {
            self.commit(ctx, derived.choice.season, wanted);
        }
    }

    fn field(&mut self, ui: &mut Ui, ctx: &PaneCtx<'_>, nth: usize, choice: &Choice, cutoffs: &mut Cutoffs) {
        match nth {
            0 => {
                self.switch(ui, ctx, Line::Germination, choice, cutoffs);
                NumberField::new(Id::unique("germination cutoff"), "Cold germination at least")
                    .unit("%")
                    .range(0.0..=100.0)
                    .decimals(1)
                    .width(48.0)
                    .show_optional(ui, &mut cutoffs.germination_percent);
            }
            1 => {
                self.switch(ui, ctx, Line::Maturity, choice, cutoffs);
                NumberField::new(Id::unique("maturity cutoff"), "Maturity at most")
                    .unit("days")
                    .range(0.0..=10_000.0)
                    .decimals(1)
                    .width(58.0)
                    .show_optional(ui, &mut cutoffs.maturity_days);
            }
            2 => {
                let percent = (100.0 * cutoffs.sureness).round();
                let typed = NumberField::new(Id::unique("sureness"), "Sureness")
                    .unit("%")
                    .range(50.0..=99.0)
                    .width(48.0)
                    .show(ui, percent);
                if let Some(percent) = typed {
                    cutoffs.sureness = percent / 100.0;
                }
            }
            3 => {
                NumberField::new(Id::unique("vigor cutoff"), "Vigor at least")
                    .range(0.0..=9.0)
                    .decimals(1)
                    .width(48.0)
                    .show_optional(ui, &mut cutoffs.vigor);
            }
            _ => {
                let mut cap = cutoffs.cap_per_mother.map(f64::from);
                let changed = NumberField::new(Id::unique("cap"), "Ears of one mother at most")
                    .range(1.0..=10_000.0)
                    .width(48.0)
                    .show_optional(ui, &mut cap);
                if changed {
                    cutoffs.cap_per_mother = cap.map(|cap| cap as u16);
                }
            }
        }
    }

    /// Switches a line off, and on again where it was.
    fn switch(&mut self, ui: &mut Ui, ctx: &PaneCtx<'_>, line: Line, choice: &Choice, cutoffs: &mut Cutoffs) {
        let project = ctx.document.project();
        let value = line.of(cutoffs);
        let mut on = value.is_some();
        let name = format!("Use {}", line.name(project).to_lowercase());
        let size = vec2(24.0, ui.spacing().interact_size.y);
        let switch = ui.add_sized(size, Checkbox::without_text(&mut on));
        switch.widget_info(|| WidgetInfo::selected(Role::CheckBox, ui.is_enabled(), on, &name));
        if let Some(value) = value {
            self.last_values.insert(line, value);
        }
        if switch.on_hover_text(name.as_str()).changed() {
            let last = self.last_values.get(&line).copied();
            let value = on.then(|| last.unwrap_or_else(|| line.first_value(project, &choice.standings)));
            *cutoffs = line.with(cutoffs, value);
        }
    }

    fn table_with_words(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, derived: &Derived) -> TableAnswer {
        let t = Tokens::of(ui);
        let mut room = ui.available_rect_before_wrap();
        let lines = if room.width() < WORDS_WIDTH { 2.0 } else { 1.0 };
        let height = lines * (t.control_height + t.space.small) - t.space.small;
        let bar = Rect::from_min_max(egui::pos2(room.left(), room.bottom() - height), room.max);
        room.max.y = bar.top() - t.space.small;
        let reveal = (self.chosen != ctx.chosen)
            .then(|| ctx.chosen.last())
            .flatten()
            .and_then(|ear| row_of(derived, *ear));
        let answer = child(ui, room, "rows", |ui| {
            let empty = BTreeMap::new();
            let words = ctx
                .document
                .project()
                .selection_of(derived.choice.season)
                .map_or(&empty, |one| &one.words);
            let chosen: BTreeSet<EarId> = ctx.chosen.iter().copied().collect();
            Table {
                project: ctx.document.project(),
                choice: &derived.choice,
                speeds: &derived.speeds,
                rows: &derived.rows,
                order: &derived.order,
                words,
                names: &self.names,
                chosen: &chosen,
                hovered: self.hovered.and_then(|ear| place_of(&derived.choice, ear)),
                reveal,
            }
            .show(ui)
        });
        if let Some(column) = answer.sort {
            let again = self.order.column == column;
            self.order.descending = again && !self.order.descending;
            self.order.column = column;
        }
        child(ui, bar, "words", |ui| {
            ui.horizontal_wrapped(|ui| self.word_bar(ui, ctx, derived));
        });
        answer
    }

    fn word_bar(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, derived: &Derived) {
        let t = Tokens::of(ui);
        let ears: Vec<EarId> = ctx
            .chosen
            .iter()
            .copied()
            .filter(|ear| derived.choice.of(*ear).is_some())
            .collect();
        if ears.is_empty() {
            let hint = if self.names.are_hidden() {
                "The names of ears are hidden; the part 'Sets' shows them again."
            } else {
                "Click a mark or a row to choose an ear; with Ctrl several. N and P go on and back."
            };
            ui.add(Label::new(RichText::new(hint).font(t.small_font()).color(t.quiet)).truncate());
            return;
        }
        let words = ctx
            .document
            .project()
            .selection_of(derived.choice.season)
            .map(|one| &one.words);
        let has_word = ears
            .iter()
            .any(|ear| words.is_some_and(|words| words.contains_key(ear)));
        ui.add_enabled_ui(ctx.read_only.is_none(), |ui| {
            for kind in WordKind::ALL {
                if ui.button(format!("{}…", capital(kind.name()))).clicked() {
                    self.asking = Some(Asking::new(kind, &ears));
                }
            }
            if has_word && ui.button("Take back the word").clicked() {
                ctx.run(Command::SetWord {
                    season: derived.choice.season,
                    ears: ears.clone(),
                    word: None,
                });
            }
        });
        let text = match ears.as_slice() {
            [_] => words::ears_text(ctx, &ears, &self.names),
            many => format!("{} ears chosen", many.len()),
        };
        ui.add(Label::new(text).truncate());
    }

    /// Acts on what was done on the plot and in the table.
    fn answer(
        &mut self,
        ctx: &mut PaneCtx<'_>,
        derived: &Derived,
        set: &Cutoffs,
        plot: PlotAnswer,
        table: &TableAnswer,
        ui: &Ui,
    ) {
        let season = derived.choice.season;
        for event in plot.lines {
            match event {
                LineEvent::Close => ctx.act(Action::CloseStep),
                LineEvent::Nudge(cutoffs) => self.set_cutoffs(ctx, season, cutoffs),
                LineEvent::Commit(cutoffs) if cutoffs == *set => {}
                LineEvent::Commit(cutoffs) => self.commit(ctx, season, cutoffs),
            }
        }
        let ear = |place: usize| derived.choice.standings[place].ear;
        let hovered = plot.hovered.or(table.hovered).map(ear);
        if hovered != self.hovered {
            self.hovered = hovered;
            // The other half has been drawn already.
            ui.ctx().request_repaint();
        }
        let by_key = match plot.deed {
            Some(Deed::Open(place)) => Some(place),
            Some(Deed::Choose(place)) => {
                ctx.choose(vec![ear(place)]);
                return;
            }
            Some(Deed::Toggle(place)) => {
                ctx.choose(toggled(ctx.chosen, ear(place)));
                return;
            }
            None => None,
        };
        if let Some(place) = by_key.or(plot.opened).or(table.opened) {
            ctx.act(Action::OpenCard(ear(place)));
            return;
        }
        let modifiers = ui.input(|i| i.modifiers);
        if let Some(places) = plot.enclosed {
            let found = places.into_iter().map(ear).collect();
            ctx.choose(if modifiers.command {
                joined(ctx.chosen, found)
            } else {
                found
            });
        } else if let Some(click) = plot.clicked {
            match click {
                Click::Ear(place) if modifiers.command => ctx.choose(toggled(ctx.chosen, ear(place))),
                Click::Ear(place) => ctx.choose(vec![ear(place)]),
                Click::Beside if modifiers.command => {}
                Click::Beside => ctx.choose(Vec::new()),
            }
        } else if let Some(place) = table.clicked {
            let last = ctx.chosen.last().and_then(|ear| row_of(derived, *ear));
            let here = row_of(derived, ear(place));
            match (modifiers.shift, last, here) {
                (true, Some(last), Some(here)) => {
                    let mut rows: Vec<EarId> = derived.rows[last.min(here)..=last.max(here)]
                        .iter()
                        .map(|place| ear(*place))
                        .collect();
                    // The row that the range was begun from stays the one that it is begun from.
                    if last < here {
                        rows.reverse();
                    }
                    ctx.choose(rows);
                }
                _ if modifiers.command => ctx.choose(toggled(ctx.chosen, ear(place))),
                _ => ctx.choose(vec![ear(place)]),
            }
        }
    }

    /// Sets the cutoffs as a step of its own for undo.
    fn commit(&self, ctx: &mut PaneCtx<'_>, season: SeasonId, cutoffs: Cutoffs) {
        ctx.act(Action::CloseStep);
        self.set_cutoffs(ctx, season, cutoffs);
        ctx.act(Action::CloseStep);
    }

    fn set_cutoffs(&self, ctx: &mut PaneCtx<'_>, season: SeasonId, cutoffs: Cutoffs) {
        let choice = ctx.insight.choice(ctx.document, season, &cutoffs);
        ctx.run(Command::SetCutoffs {
            season,
            cutoffs,
            seen: SeenWhileMoving {
                kept: Some(choice.summary.kept as u32),
                names_hidden: self.names.are_hidden(),
            },
        });
    }

    /// Says whether the names of ears are hidden.
    pub fn hides_names(&self) -> bool {
        self.names.are_hidden()
    }

    /// Shows the names of ears again.
    pub fn show_names(&mut self) {
        self.names = Names::default();
    }

    /// N and P, or Ctrl with Down and Up, go from ear to ear in the order of the table.
    fn keys(&self, ui: &Ui, ctx: &mut PaneCtx<'_>, derived: &Derived) {
        if self.asking.is_some()
            || ui.ctx().text_edit_focused()
            || !ui.memory(|m| m.allows_interaction(ui.layer_id()))
        {
            return;
        }
        let (on, back, none) = ui.input_mut(|i| {
            let plain = i.modifiers.is_none();
            let on = i.consume_key(Modifiers::COMMAND, Key::ArrowDown)
                || (plain && i.consume_key(Modifiers::NONE, Key::N));
            let back = i.consume_key(Modifiers::COMMAND, Key::ArrowUp)
                || (plain && i.consume_key(Modifiers::NONE, Key::P));
            (on, back, plain && i.key_pressed(Key::Escape))
        });
        let rows = &derived.rows;
        let at = ctx.chosen.last().and_then(|ear| row_of(derived, *ear));
        let next = match (on, back, at) {
            (true, false, Some(at)) => rows.get((at + 1).min(rows.len() - 1)),
            (true, false, None) => rows.first(),
            (false, true, Some(at)) => rows.get(at.saturating_sub(1)),
            (false, true, None) => rows.last(),
            _ => None,
        };
        if let Some(place) = next {
            ctx.choose(vec![derived.choice.standings[*place].ear]);
        } else if none && self.plot.preview.is_none() {
            ctx.choose(Vec::new());
        }
    }
}

/// How the likely rate was made, and what the figures are not.
fn notes(ui: &mut Ui, derived: &Derived) {
    let t = Tokens::of(ui);
    let is_lacking = |one: &&Standing| one.maturity_days.is_none();
    let lacking = derived.choice.standings.iter().filter(is_lacking).count();
    let ears = match lacking {
        0 => String::new(),
        1 => " 1 ear has no maturity days.".to_owned(),
        many => format!(" {many} ears have no maturity days."),
    };
    let text = format!(
        "{} A ranking of ears, not a promise.{ears}",
        derived.estimates.outcome
    );
    ui.add(Label::new(RichText::new(text).font(t.small_font()).color(t.quiet)).wrap());
}

fn row_of(derived: &Derived, ear: EarId) -> Option<usize> {
    let place = place_of(&derived.choice, ear)?;
    derived.rows.iter().position(|row| *row == place)
}

fn toggled(chosen: &[EarId], ear: EarId) -> Vec<EarId> {
    let mut ears: Vec<EarId> = chosen.iter().copied().filter(|known| *known != ear).collect();
    if ears.len() == chosen.len() {
        ears.push(ear);
    }
    ears
}

fn joined(chosen: &[EarId], more: Vec<EarId>) -> Vec<EarId> {
    let known: BTreeSet<EarId> = chosen.iter().copied().collect();
    let mut ears = chosen.to_vec();
    ears.extend(more.into_iter().filter(|ear| !known.contains(ear)));
    ears
}

fn child<R>(ui: &mut Ui, rect: Rect, salt: &str, content: impl FnOnce(&mut Ui) -> R) -> R {
    ui.scope_builder(UiBuilder::new().max_rect(rect).id_salt(salt), |ui| {
        ui.set_clip_rect(ui.clip_rect().intersect(rect.expand(4.0)));
        content(ui)
    })
    .inner
}

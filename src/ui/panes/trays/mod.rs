//! The design of a germination test and its trays.

mod by_hand;
mod calendar;
mod cold_days;
mod figures;
mod form;
mod laying_screen;
mod measure;
mod prints;
mod telling;

use super::tray_drawing::{Drawing, DrawnCell, Pointed, paint_tray};
use crate::insight::{DesignEars, Memo, is_untested};
use crate::model::{
    About, Area, Command, DateOrder, Document, Fault, Place, Project, Recipe, SeasonId, Test, TestDesign,
    TestId, TrayId, TrayPlan, lay_out, plural, read_date, read_trays, sentence,
};
use crate::stats::{Confidence, Counts, wilson};
use crate::ui::context::{Pane, PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use crate::ui::widgets::parts::{empty_state, primary_button_enabled};
use crate::ui::widgets::segmented::segmented;
use by_hand::ByHand;
use calendar::{calendar_ui, title};
use cold_days::ColdDaysPart;
use egui::text::{LayoutJob, TextFormat};
use egui::{
    Button, EventFilter, Frame, Id, Key, Label, Margin, Modifiers, Panel, Rect, RichText, Role, ScrollArea,
    Sense, Stroke, TextEdit, TextWrapMode, Ui, WidgetInfo, vec2,
};
use figures::Figures;
use form::{Design, Draft, Reading, alert};
use laying_screen::LayingScreen;
use std::collections::BTreeMap;
use std::sync::Arc;
use telling::TellingPart;

/// What the pane remembers between frames.
#[derive(Debug, Default)]
pub struct Trays {
    wanted: Option<Place>,
    /// The season for which a test was last picked.
    season: Option<SeasonId>,
    /// The test that is shown; none for one that is yet to be designed.
    shown: Option<TestId>,
    drafts: BTreeMap<(SeasonId, Option<TestId>), Kept>,
    drawn: Memo<(Source, [u64; 5]), Drawn>,
    facts: Memo<(TestId, [u64; 4]), Facts>,
    /// Tray and cell under the keyboard's cursor.
    cursor: (usize, usize),
    reveal: bool,
    /// Whether the ears that are in no test yet are to be laid out with those of the shown test.
    takes_all: bool,
    by_hand: ByHand,
    cold_days: ColdDaysPart,
    part: Part,
    /// The part that was drawn in the last frame.
    drawn_part: Option<Part>,
    telling: TellingPart,
    prints: prints::PrintMenu,
    designing: Option<Ticket>,
    laying: Option<Laying>,
    /// The screen of the cold room, while it is open.
    screen: Option<LayingScreen>,
    removing: Option<(TestId, Option<Ticket>)>,
    /// Why the last request was refused.
    refusal: Option<String>,
}

/// What is shown beside the form.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Part {
    #[default]
    Layout,
    Calendar,
    Telling,
}

impl Part {
    const ALL: [Self; 3] = [Self::Layout, Self::Calendar, Self::Telling];
}

/// A form, and the test as it was when the form was filled.
#[derive(Debug, Clone)]
struct Kept {
    draft: Draft,
    filled_from: Option<Test>,
}

/// What a drawing is made from.
#[derive(Debug, Clone, PartialEq)]
enum Source {
    Test(TestId),
    Proposal(DesignEars, TrayPlan, u64),
}

/// A drawing with its figures, or why there is none.
#[derive(Debug)]
struct Drawn(Result<(Drawing, Figures), String>);

/// What is known about a recorded test.
#[derive(Debug, Clone, Copy, Default)]
struct Facts {
    is_begun: bool,
    is_counted: bool,
    /// Ears of the season that are in no test at all.
    untested: usize,
}

impl Facts {
    fn of(project: &Project, test: TestId) -> Self {
        let Some(record) = project.tests.get(test) else {
            return Self::default();
        };
        let mut cells = project.trays_of(test).flat_map(|tray| project.cells_of(tray.id));
        Self {
            is_begun: project.is_begun(test),
            is_counted: cells.any(|cell| project.counts_of(cell.id).next().is_some()),
            untested: project
                .ears_of(record.season)
                .filter(|ear| is_untested(project, ear))
                .count(),
        }
    }
}

/// The dialog that asks for the day of laying.
#[derive(Debug)]
struct Laying {
    test: TestId,
    date: String,
    /// Numbers of the trays; empty for all.
    trays: String,
    ticket: Option<Ticket>,
    refusal: Option<String>,
}

/// What the main button would do.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Step {
    /// Nothing is to be done.
    Nothing,
    /// Design a test, in place of another one.
    Design { replaces: Option<TestId> },
    /// Change name and recipe of a test, not its trays.
    Edit(TestId),
}

impl Trays {
    /// Draws the pane.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        let document = ctx.document;
        let project = document.project();
        let Some(season) = ctx.season.filter(|season| project.seasons.contains(*season)) else {
            let what =
                "A test is of the ears of one season. Begin a season and enter its ears in the Harvest pane.";
            if empty_state(ui, "There is no season yet", what, Some("Go to Harvest")) {
                ctx.act(crate::ui::context::Action::Show(Pane::Harvest));
            }
            return;
        };
        let has_tests = project.tests_of(season).next().is_some();
        if project.ears_of(season).next().is_none() && !has_tests {
            let what = "Enter the ears of this season first; then their trays can be designed here.";
            if empty_state(ui, "There are no ears to test", what, Some("Go to Harvest")) {
                ctx.act(crate::ui::context::Action::Show(Pane::Harvest));
            }
            return;
        }
        if let Some(screen) = &mut self.screen {
            if screen.ui(ui, ctx) {
                self.screen = None;
            }
            return;
        }
        self.follow_outcomes(ctx, season);
        self.pick(project, season);
        if self.shown.is_some() {
            self.cold_days.take_dropped(ctx);
        }
        if let Some(test) = self.shown.filter(|_| self.cold_days.is_open()) {
            ui.horizontal_wrapped(|ui| {
                self.test_switch(ui, project, season);
                if ui.button("Back to the trays").clicked() {
                    self.cold_days.set_open(false);
                }
            });
            self.cold_days.ui(ui, ctx, test);
            return;
        }
        let reading = self.form_of(project, season).read();
        let step = self.step(document, &reading);
        let drawn = self.drawn(document, season, &reading, step);
        Panel::left("trays form")
            .resizable(false)
            .exact_size(330.0)
            .frame(Frame::new().inner_margin(Margin {
                right: 10,
                ..Margin::ZERO
            }))
            .show(ui, |ui| self.left(ui, ctx, season, &reading, step));
        let room = Frame::new().inner_margin(Margin {
            left: 12,
            ..Margin::ZERO
        });
        egui::CentralPanel::no_frame().frame(room).show(ui, |ui| {
            self.right(ui, ctx, &reading, step, &drawn, season);
        });
        self.dialogs(ui, ctx, &drawn);
    }

    /// Says whether the pane needs the whole window, without menus and side.
    pub fn takes_window(&self) -> bool {
        self.screen.is_some()
    }

    /// Shows a place of the project that belongs to this pane, in the next frame.
    pub fn go(&mut self, place: Place) {
        self.screen = None;
        self.wanted = Some(place);
    }

    // ---- what is shown -----------------------------------------------------------------------------------

    fn pick(&mut self, project: &Project, season: SeasonId) {
        match self.wanted.take() {
            Some(Place::Test(test)) if project.tests.contains(test) => {
                self.show_test(Some(test));
                self.cold_days.set_open(false);
                if project.is_begun(test) {
                    self.part = Part::Calendar;
                }
            }
            Some(Place::Log(log)) => {
                if let Some(log) = project.logs.get(log) {
                    self.show_test(Some(log.test));
                    self.cold_days.set_open(true);
                }
            }
            Some(Place::Event(event)) => {
                if let Some(event) = project.events.get(event) {
                    self.show_test(Some(event.test));
                    self.cold_days.set_open(true);
                }
            }
            Some(Place::Tray(tray)) => {
                self.cold_days.set_open(false);
                if let Some(tray) = project.trays.get(tray) {
                    self.show_test(Some(tray.test));
                    self.part = Part::Layout;
                    let before = project
                        .trays_of(tray.test)
                        .take_while(|other| other.id != tray.id);
                    self.cursor = (before.count(), 0);
                    self.reveal = true;
                }
            }
            _ => {}
        }
        let gone = self
            .shown
            .is_some_and(|test| project.tests.get(test).is_none_or(|test| test.season != season));
        let is_new = self.season != Some(season) && self.shown.is_none();
        if gone || is_new {
            self.show_test(project.tests_of(season).last().map(|test| test.id));
        }
        self.season = Some(season);
    }

    fn show_test(&mut self, test: Option<TestId>) {
        if self.shown != test {
            self.refusal = None;
            self.takes_all = false;
            self.cursor = (0, 0);
            self.by_hand.forget();
        }
        self.shown = test;
    }

    /// Gives the form of what is shown; a form whose test has changed since is filled anew.
    fn form_of(&mut self, project: &Project, season: SeasonId) -> &mut Draft {
        let test = self.shown.and_then(|test| project.tests.get(test));
        let units = project.about.units;
        let fresh = || Kept {
            draft: Draft::new(&test.map_or_else(|| proposal(project, season), Design::of), units),
            filled_from: test.cloned(),
        };
        let kept = self.drafts.entry((season, self.shown)).or_insert_with(fresh);
        if kept.filled_from.as_ref() != test {
            *kept = fresh();
        }
        kept.draft.convert(units);
        &mut kept.draft
    }

    /// Which ears a design would be for: those of the shown test, so that a retest stays one of its own ears.
    fn ears(&self, season: SeasonId) -> DesignEars {
        DesignEars {
            season,
            like: self.shown,
            with_untested: self.takes_all,
        }
    }

    fn facts(&self, document: &Document, test: TestId) -> Facts {
        let revisions = document.revision_key([Area::Count, Area::Cell, Area::Ear, Area::Test]);
        *self
            .facts
            .get((test, revisions), || Facts::of(document.project(), test))
    }

    fn step(&self, document: &Document, reading: &Reading) -> Step {
        let project = document.project();
        let Some(test) = self.shown.and_then(|test| project.tests.get(test)) else {
            return Step::Design { replaces: None };
        };
        let facts = self.facts(document, test.id);
        let is_fixed = facts.is_begun || facts.is_counted;
        let Some(design) = &reading.design else {
            return Step::Nothing;
        };
        let recorded = Design::of(test);
        let grows = self.takes_all && !is_fixed && facts.untested > 0;
        if !design.has_same_trays(&recorded) || grows {
            let replaces = (!is_fixed).then_some(test.id);
            return Step::Design { replaces };
        }
        if *design == recorded {
            Step::Nothing
        } else {
            Step::Edit(test.id)
        }
    }

    fn drawn(&self, document: &Document, season: SeasonId, reading: &Reading, step: Step) -> Arc<Drawn> {
        let areas = [Area::Ear, Area::Packet, Area::Test, Area::Tray, Area::Cell];
        let source = match (&reading.design, self.shown, step) {
            (Some(design), _, Step::Design { .. }) => {
                Source::Proposal(self.ears(season), design.plan.clone(), design.seed)
            }
            (_, Some(test), _) => Source::Test(test),
            (_, None, _) => {
                let text = "Correct what is marked ⚠ in the form; then the trays are drawn here.";
                return Arc::new(Drawn(Err(text.to_owned())));
            }
        };
        let key = (source.clone(), document.revision_key(areas));
        self.drawn.get(key, || Drawn(draw(document.project(), &source)))
    }

    fn follow_outcomes(&mut self, ctx: &mut PaneCtx<'_>, season: SeasonId) {
        self.by_hand.follow(ctx);
        if let Some(outcome) = self.designing.and_then(|ticket| ctx.outcome(ticket)) {
            self.designing = None;
            match outcome {
                Ok(committed) => {
                    let made = committed.places.iter().rev().find_map(|place| match place {
                        Place::Test(test) if ctx.document.project().tests.contains(*test) => Some(*test),
                        _ => None,
                    });
                    self.drafts.remove(&(season, self.shown));
                    self.show_test(made);
                    self.refusal = None;
                }
                Err(problem) => self.refusal = Some(sentence(&problem.to_string())),
            }
        }
        if let Some(laying) = &mut self.laying
            && let Some(outcome) = laying.ticket.and_then(|ticket| ctx.outcome(ticket))
        {
            laying.ticket = None;
            match outcome {
                Ok(_) => {
                    let text = format!("The trays are noted as laid on {}.", laying.date.trim());
                    self.laying = None;
                    ctx.notice(Tone::Well, text);
                }
                Err(problem) => laying.refusal = Some(sentence(&problem.to_string())),
            }
        }
        if let Some((_, Some(ticket))) = self.removing
            && let Some(outcome) = ctx.outcome(ticket)
        {
            self.removing = None;
            if let Err(problem) = outcome {
                self.refusal = Some(sentence(&problem.to_string()));
            }
        }
    }

    // ---- drawing -----------------------------------------------------------------------------------------

    fn test_switch(&mut self, ui: &mut Ui, project: &Project, season: SeasonId) {
        let tests: Vec<&Test> = project.tests_of(season).collect();
        let mut names: Vec<&str> = tests.iter().map(|test| test.name.as_str()).collect();
        names.push("New test");
        let chosen = tests
            .iter()
            .position(|test| Some(test.id) == self.shown)
            .unwrap_or(tests.len());
        if tests.is_empty() {
            return;
        }
        let id = Id::unique("trays test switch");
        if let Some(new) = segmented(ui, id, "Test", &names, chosen) {
            self.show_test(tests.get(new).map(|test| test.id));
        }
    }

    fn left(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: SeasonId, reading: &Reading, step: Step) {
        let project = ctx.document.project();
        Panel::bottom("trays buttons")
            .frame(Frame::new().inner_margin(Margin {
                top: 8,
                bottom: 4,
                ..Margin::ZERO
            }))
            .show(ui, |ui| self.buttons(ui, ctx, season, reading, step));
        ScrollArea::vertical()
            .id_salt("trays form")
            .auto_shrink(false)
            .show(ui, |ui| {
                let asked = self.form_of(project, season).ui(ui, &reading.faults);
                if let Some(units) = asked.units {
                    let about = About {
                        units,
                        ..project.about.clone()
                    };
                    ctx.run(Command::Describe(about));
                }
            });
    }

    fn buttons(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        season: SeasonId,
        reading: &Reading,
        step: Step,
    ) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        let test = self.shown.and_then(|test| project.tests.get(test));
        let facts = self
            .shown
            .map(|test| self.facts(ctx.document, test))
            .unwrap_or_default();
        let is_fixed = facts.is_begun || facts.is_counted;
        if let Some(refusal) = &self.refusal {
            alert(ui, refusal);
        }
        let name_is_taken = reading.design.as_ref().is_some_and(|design| {
            let replaced = match step {
                Step::Design { replaces } => replaces,
                Step::Edit(test) => Some(test),
                Step::Nothing => self.shown,
            };
            let mut tests = project.tests_of(season);
            tests.any(|other| other.name == design.name && Some(other.id) != replaced)
        });
        if let Some(design) = &reading.design
            && name_is_taken
        {
            let name = &design.name;
            let text = match (test, is_fixed) {
                (Some(test), true) if test.name == *name => format!(
                    "{name} is {} and its trays stay as they are, so this design becomes a new test; type another name for it.",
                    if test.laid.is_some() { "laid" } else { "counted" }
                ),
                _ => format!("There is a test named {name} already; type another name."),
            };
            alert(ui, &text);
        }
        if facts.untested > 0 {
            let ears = if facts.untested == 1 {
                "1 ear is".to_owned()
            } else {
                format!("{} ears are", facts.untested)
            };
            ui.horizontal_wrapped(|ui| {
                ui.label(RichText::new(format!("{ears} in no test yet.")).color(t.quiet));
                if !is_fixed && !self.takes_all && ui.button("Include them").clicked() {
                    self.takes_all = true;
                }
                if let Some(test) = test.filter(|_| !matches!(step, Step::Design { .. })) {
                    let is_free = ctx.read_only.is_none();
                    let hint = "They take spare cells of this test; nothing else moves.";
                    let late = ui.add_enabled(is_free, Button::new("Add late ears"));
                    if late.on_hover_text(hint).clicked() {
                        self.by_hand.ask_late(ctx, test.id);
                    }
                }
            });
        }
        if let Some(why) = ctx.read_only {
            ui.label(RichText::new(why).color(t.warn));
        }
        let is_free = ctx.read_only.is_none();
        let can = is_free && step != Step::Nothing && reading.design.is_some() && !name_is_taken;
        let word = if matches!(step, Step::Edit(_)) {
            "Keep name and recipe"
        } else {
            "Design the test"
        };
        ui.horizontal_wrapped(|ui| {
            if primary_button_enabled(ui, can, word).clicked()
                && let Some(design) = reading.design.clone()
            {
                self.carry_out(ctx, season, design, step);
            }
            let Some(test) = test else { return };
            let is_as_drawn = !matches!(step, Step::Design { .. });
            let can_lay = is_free && test.laid.is_none() && is_as_drawn;
            let screen = ui.add_enabled(can_lay, Button::new("Lay cell by cell"));
            let screen = screen.on_hover_text(
                "A large screen for the cold room: it names cell and ear, and the space bar or a foot switch goes on",
            );
            let lay = ui.add_enabled(can_lay, Button::new("Lay the trays"));
            let why = if is_as_drawn {
                "This test is laid already."
            } else {
                "Design the test first."
            };
            if screen.on_disabled_hover_text(why).clicked() {
                let laying = ctx.insight.laying(ctx.document, test.id);
                self.screen = Some(LayingScreen::new(test.id, &laying));
            }
            if lay.on_disabled_hover_text(why).clicked() {
                self.laying = Some(Laying {
                    test: test.id,
                    date: ctx.today.to_string(),
                    trays: String::new(),
                    ticket: None,
                    refusal: None,
                });
            }
            let remove = ui.add_enabled(is_free && !is_fixed, Button::new("Remove the test"));
            let why = "A test that was laid or counted stays: its kernels and counts belong to it.";
            if remove.on_disabled_hover_text(why).clicked() {
                self.removing = Some((test.id, None));
            }
        });
    }

    fn carry_out(&mut self, ctx: &mut PaneCtx<'_>, season: SeasonId, design: Design, step: Step) {
        let command = match step {
            Step::Nothing => return,
            Step::Design { replaces } => Command::DesignTest(TestDesign {
                season,
                replaces,
                name: design.name,
                plan: design.plan,
                recipe: design.recipe,
                check_lot: design.check_lot,
                seed: design.seed,
                ears: self.shown.map(|_| {
                    let ears = self.ears(season).of(ctx.document.project());
                    ears.into_iter().map(|ear| ear.id).collect()
                }),
            }),
            Step::Edit(test) => {
                ctx.act(crate::ui::context::Action::CloseStep);
                Command::EditTest {
                    test,
                    name: design.name,
                    recipe: design.recipe,
                    check_lot: design.check_lot,
                }
            }
        };
        self.designing = Some(ctx.run_for(command));
    }

    fn right(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        reading: &Reading,
        step: Step,
        drawn: &Drawn,
        season: SeasonId,
    ) {
        let t = Tokens::of(ui);
        let (drawing, figures) = match &drawn.0 {
            Ok(both) => both,
            Err(problem) => {
                self.test_switch(ui, ctx.document.project(), season);
                ui.add_space(t.space.large);
                alert(ui, problem);
                return;
            }
        };
        let project = ctx.document.project();
        let test = self.shown.and_then(|test| project.tests.get(test));
        let is_proposed = matches!(step, Step::Design { .. });
        ui.add_space(t.space.tiny);
        ui.horizontal_wrapped(|ui| {
            self.test_switch(ui, project, season);
            if test.is_some() && ui.button("Cold days").clicked() {
                self.cold_days.set_open(true);
            }
            let tray = drawing.trays.get(self.cursor.0).map(|tray| tray.number);
            self.prints.ui(ui, ctx, test.filter(|_| !is_proposed), tray);
            let facts = test.map(|test| self.facts(ctx.document, test.id));
            standing(ui, test, facts.unwrap_or_default(), is_proposed);
        });
        let laid = test.is_some_and(|test| test.laid.is_some()) && !is_proposed;
        let kernels = reading.design.as_ref().map(|design| design.plan.kernels);
        let ears = self.ears(season);
        let needs = reading
            .design
            .as_ref()
            .and_then(|design| self.telling.needs(ctx, ears, &design.plan));
        let notes = notes(figures, kernels);
        let is_low = figures_ui(ui, figures, needs, laid);
        if !is_low {
            ui.label(RichText::new(&notes).font(t.small_font()).color(t.quiet));
        }
        let recorded = self.shown.filter(|_| !is_proposed);
        self.part_switch(ui, ctx, recorded);
        let is_new = self.drawn_part.replace(self.part) != Some(self.part);
        match self.part {
            Part::Layout => {}
            Part::Calendar => {
                let recipe = reading.design.as_ref().map(|design| &design.recipe);
                calendar_ui(ui, ctx, recorded, recipe, is_new);
                return;
            }
            Part::Telling => {
                match &reading.design {
                    Some(design) => {
                        let notes = if is_low { notes.as_str() } else { "" };
                        self.telling.ui(ui, ctx, ears, &design.plan, notes);
                    }
                    None => alert(ui, "Correct what is marked ⚠ in the form; then it is told here."),
                }
                return;
            }
        }
        let lot = reading
            .design
            .as_ref()
            .map_or("", |design| design.check_lot.as_str());
        // Before it is counted, a test that is recorded can be changed by hand.
        let open = test.map(|test| test.id).filter(|test| {
            !is_proposed && ctx.read_only.is_none() && !self.facts(ctx.document, *test).is_counted
        });
        self.trays_ui(ui, ctx, drawing, lot, open);
    }

    fn part_switch(&mut self, ui: &mut Ui, ctx: &PaneCtx<'_>, recorded: Option<TestId>) {
        let calendar = title(ctx, recorded);
        let names = ["Layout", calendar.as_str(), "What this test can tell"];
        let now = Part::ALL.iter().position(|part| *part == self.part);
        let id = Id::unique("trays part");
        if let Some(new) = segmented(ui, id, "Shown beside the form", &names, now.unwrap_or_default()) {
            self.part = Part::ALL[new];
        }
        ui.add_space(Tokens::of(ui).space.tiny);
    }

    /// Draws the trays; `open` is their test where cells may change places by hand.
    fn trays_ui(
        &mut self,
        ui: &mut Ui,
        ctx: &mut PaneCtx<'_>,
        drawing: &Drawing,
        lot: &str,
        open: Option<TestId>,
    ) {
        let t = Tokens::of(ui);
        let project = ctx.document.project();
        self.cursor.0 = self.cursor.0.min(drawing.trays.len().saturating_sub(1));
        let cells = drawing
            .trays
            .get(self.cursor.0)
            .map_or(1, |tray| tray.cells.len());
        self.cursor.1 = self.cursor.1.min(cells.saturating_sub(1));
        let id = Id::unique("trays drawing");
        let has_focus = ui.memory(|m| m.has_focus(id));
        let mut named = None;
        if has_focus {
            self.keys(ui, ctx, drawing, id, open);
            named = Some(self.cursor);
        }
        match open {
            Some(test) => {
                let tray = drawing.trays.get(self.cursor.0);
                let cell = tray.and_then(|tray| tray.cells.get(self.cursor.1)?.id);
                let frame = Frame::new().inner_margin(Margin::symmetric(0, 4));
                Panel::bottom("trays by hand")
                    .frame(frame)
                    .show(ui, |ui| self.by_hand.swap_ui(ui, ctx, test, cell));
            }
            None => self.by_hand.forget(),
        }
        let picked = self.by_hand.picked();
        let strip = 30.0;
        let room = ui.available_size() - vec2(28.0, strip + 14.0);
        let arrangement = drawing.arrange(room);
        let view = vec2(ui.available_width(), room.y + 14.0);
        let area = ScrollArea::both()
            .id_salt("trays drawing")
            .auto_shrink(false)
            .max_height(view.y);
        area.show_viewport(ui, |ui, viewport| {
            let rect = Rect::from_min_size(ui.min_rect().min, arrangement.size.max(room));
            ui.allocate_rect(rect, Sense::hover());
            let response = ui.interact(rect, id, Sense::click());
            let corner = rect.min + vec2(2.0, 2.0);
            let under = response.hover_pos().and_then(|point| {
                let tray = arrangement.tray_under(corner, point)?;
                let origin = arrangement.origin(corner, tray);
                let shape = drawing.trays.get(tray)?.shape;
                Some((tray, shape.cell_under(origin, arrangement.scale, point)?))
            });
            if response.clicked() {
                response.request_focus();
                if let Some(place) = under {
                    self.cursor = place;
                    self.choose(ctx, drawing);
                }
            }
            named = under.or(named);
            let seen = viewport.translate(ui.min_rect().min.to_vec2());
            for tray in 0..drawing.trays.len() {
                let origin = arrangement.origin(corner, tray);
                let whole = Rect::from_min_size(origin, drawing.shape.outer(arrangement.scale));
                if !whole.intersects(seen) {
                    continue;
                }
                let has_cursor = has_focus || picked.is_some();
                let pointed = Pointed {
                    chosen: ctx.chosen,
                    cursor: (has_cursor && self.cursor.0 == tray).then_some(self.cursor.1),
                    hovered: under.filter(|place| place.0 == tray).map(|place| place.1),
                };
                paint_tray(
                    ui.painter(),
                    t,
                    drawing,
                    tray,
                    (origin, arrangement.scale),
                    pointed,
                );
            }
            if let Some((tray, cell)) = picked.and_then(|picked| drawing.place_of(picked)) {
                let origin = arrangement.origin(corner, tray);
                let rect = drawing.trays[tray].shape.cell(origin, arrangement.scale, cell);
                paint_picked(ui.painter(), t, rect);
            }
            if std::mem::take(&mut self.reveal) {
                let origin = arrangement.origin(corner, self.cursor.0);
                let shape = drawing
                    .trays
                    .get(self.cursor.0)
                    .map_or(drawing.shape, |tray| tray.shape);
                let cell = shape.cell(origin, arrangement.scale, self.cursor.1);
                ui.scroll_to_rect(cell.expand(20.0), None);
            }
            let summary = drawing.sentence(project, lot, self.cursor.0, self.cursor.1);
            response.widget_info(|| {
                let mut info = WidgetInfo::labeled(Role::Grid, true, "Trays");
                info.current_text_value = Some(summary.clone());
                info
            });
        });
        let text = match named {
            Some((tray, cell)) => drawing.sentence(project, lot, tray, cell),
            None => "Point at a cell, or Tab to the trays and use the arrow keys.".to_owned(),
        };
        let line = ui.label(RichText::new(&text).color(if named.is_some() { t.text } else { t.quiet }));
        line.widget_info(|| WidgetInfo::labeled(Role::Status, true, &text));
    }

    fn choose(&self, ctx: &mut PaneCtx<'_>, drawing: &Drawing) {
        let tray = drawing.trays.get(self.cursor.0);
        let cell = tray.and_then(|tray| tray.cells.get(self.cursor.1));
        if let Some(ear) = cell.and_then(DrawnCell::ear) {
            ctx.choose(vec![ear]);
        }
    }

    fn keys(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>, drawing: &Drawing, id: Id, open: Option<TestId>) {
        let filter = EventFilter {
            escape: self.by_hand.picked().is_some(),
            horizontal_arrows: true,
            vertical_arrows: true,
            ..EventFilter::default()
        };
        ui.memory_mut(|m| m.set_focus_lock_filter(id, filter));
        let pressed = |key| ui.input_mut(|i| i.consume_key(Modifiers::NONE, key));
        let (before, last) = (self.cursor, drawing.trays.len().saturating_sub(1));
        let (mut tray, cell) = before;
        let grid = |tray: usize| {
            let shape = drawing.trays.get(tray).map_or(drawing.shape, |tray| tray.shape);
            (shape.rows, shape.columns)
        };
        let (rows, columns) = grid(tray);
        let (mut row, mut column) = (cell / columns, cell % columns);
        if pressed(Key::ArrowUp) {
            row = row.saturating_sub(1);
        }
        if pressed(Key::ArrowDown) {
            row = (row + 1).min(rows - 1);
        }
        if pressed(Key::ArrowLeft) {
            if column > 0 {
                column -= 1;
            } else if tray > 0 {
                (tray, column) = (tray - 1, grid(tray - 1).1 - 1);
            }
        }
        if pressed(Key::ArrowRight) {
            if column + 1 < columns {
                column += 1;
            } else if tray < last {
                (tray, column) = (tray + 1, 0);
            }
        }
        if pressed(Key::PageUp) {
            tray = tray.saturating_sub(1);
        }
        if pressed(Key::PageDown) {
            tray = (tray + 1).min(last);
        }
        if pressed(Key::Home) {
            (row, column) = (0, 0);
        }
        if pressed(Key::End) {
            (row, column) = (rows - 1, columns - 1);
        }
        // Another tray may have fewer rows or columns.
        let (rows, columns) = grid(tray);
        self.cursor = (tray, row.min(rows - 1) * columns + column.min(columns - 1));
        self.reveal |= self.cursor != before;
        let tray = drawing.trays.get(self.cursor.0);
        let cell = tray.and_then(|tray| tray.cells.get(self.cursor.1)?.id);
        if let Some(cell) = cell.filter(|_| open.is_some())
            && pressed(Key::S)
        {
            self.by_hand.pick(ctx, cell);
        }
        if self.by_hand.picked().is_some() && pressed(Key::Escape) {
            self.by_hand.forget();
        }
        if pressed(Key::Enter) || pressed(Key::Space) {
            self.choose(ctx, drawing);
        }
    }

    // ---- dialogs -----------------------------------------------------------------------------------------

    fn dialogs(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>, drawn: &Drawn) {
        self.lay_dialog(ui, ctx, drawn);
        self.remove_dialog(ui, ctx);
        self.by_hand.late_ui(ui, ctx);
    }

    fn lay_dialog(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>, drawn: &Drawn) {
        let Some(laying) = &mut self.laying else { return };
        let Ok((_, figures)) = &drawn.0 else { return };
        let day = read_date(&laying.date, DateOrder::Unknown);
        let project = ctx.document.project();
        let trays =
            read_trays(project, laying.test, &laying.trays).map_err(|fault| sentence(&fault.to_string()));
        let waiting = ctx.insight.laying(ctx.document, laying.test);
        let is_meant = |tray: TrayId| {
            trays
                .as_ref()
                .is_ok_and(|some| some.is_empty() || some.contains(&tray))
        };
        let steps = waiting
            .steps
            .iter()
            .filter(|step| !step.is_laid && step.ear.is_some() && is_meant(step.tray));
        let kernels: u64 = steps.clone().map(|step| u64::from(step.kernels)).sum();
        let ears: std::collections::BTreeSet<_> = steps.filter_map(|step| step.ear).collect();
        let dialog = Dialog::new(Id::unique("lay the trays"), "Lay the trays")
            .confirm("Note as laid")
            .can_confirm(day.is_ok() && trays.is_ok() && laying.ticket.is_none())
            .body_takes_focus();
        let answer = dialog.show(ui.ctx(), |ui| {
            ui.label(format!(
                "{} kernels are taken out of the packets of {}, one line in each packet's ledger. Undo puts them back.",
                grouped(kernels),
                plural(ears.len(), "ear")
            ));
            if figures.no_packet > 0 {
                let ears = if figures.no_packet == 1 { "1 ear has".to_owned() } else { format!("{} ears have", figures.no_packet) };
                ui.label(format!("{ears} no packet: nothing is taken for them."));
            }
            if let Some(short) = figures.shortage() {
                alert(ui, &short);
            }
            ui.horizontal(|ui| {
                let label = ui.label("Day of laying");
                let edit = TextEdit::singleline(&mut laying.date)
                    .id(Id::unique("day of laying"))
                    .desired_width(120.0);
                let field = ui.add(edit).labelled_by(label.id);
                if ui.memory(|m| m.focused().is_none()) {
                    field.request_focus();
                }
            });
            ui.horizontal(|ui| {
                let label = ui.label("Trays");
                let edit = TextEdit::singleline(&mut laying.trays)
                    .hint_text("all that are not laid")
                    .desired_width(180.0);
                ui.add(edit)
                    .labelled_by(label.id)
                    .on_hover_text("Numbers of the trays laid on this day, such as 1-3, 7");
            });
            if let Err(fault) = &day {
                alert(ui, &sentence(&fault.to_string()));
            }
            if let Err(problem) = &trays {
                alert(ui, problem);
            }
            if let Some(refusal) = &laying.refusal {
                alert(ui, refusal);
            }
        });
        match (answer, day, trays) {
            (Some(DialogAnswer::Confirm), Ok(on), Ok(trays)) => {
                let test = laying.test;
                laying.refusal = None;
                laying.ticket = Some(ctx.run_for(Command::LayTest { test, trays, on }));
            }
            (Some(_), ..) => self.laying = None,
            (None, ..) => {}
        }
    }

    fn remove_dialog(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>) {
        let Some((test, None)) = self.removing else { return };
        let Some(record) = ctx.document.project().tests.get(test) else {
            self.removing = None;
            return;
        };
        let title = format!("Remove {}?", record.name);
        let dialog = Dialog::new(Id::unique("remove the test"), &title)
            .confirm("Remove")
            .risky();
        let answer = dialog.show(ui.ctx(), |ui| {
            ui.label(
                "Its trays and their layout go. Nothing was laid or counted in it. Undo brings it back.",
            );
        });
        match answer {
            Some(DialogAnswer::Confirm) => {
                self.removing = Some((test, Some(ctx.run_for(Command::RemoveTest(test)))));
            }
            Some(DialogAnswer::Cancel) => self.removing = None,
            None => {}
        }
    }
}

/// Marks the cell that waits for another one to change places with: by a second, broken frame.
fn paint_picked(painter: &egui::Painter, t: &Tokens, rect: Rect) {
    let inner = rect.shrink(4.0);
    let corners = [
        inner.left_top(),
        inner.right_top(),
        inner.right_bottom(),
        inner.left_bottom(),
        inner.left_top(),
    ];
    let stroke = Stroke::new(2.5, t.warn);
    painter.extend(egui::Shape::dashed_line(&corners, stroke, 6.0, 4.0));
}

/// What a new test of a season looks like: like the last one of the project, else the usual.
fn proposal(project: &Project, season: SeasonId) -> Design {
    let last = project.tests.iter().last();
    let taken = |name: &str| project.tests_of(season).any(|test| test.name == name);
    let name = (1..=u32::MAX)
        .map(|number| format!("Test {number}"))
        .find(|name| !taken(name));
    Design {
        name: name.unwrap_or_default(),
        plan: last.map_or_else(TrayPlan::default, |test| test.plan.clone()),
        recipe: last.map_or_else(Recipe::default, |test| test.recipe.clone()),
        check_lot: last.map_or_else(String::new, |test| test.check_lot.clone()),
        seed: project
            .seasons
            .get(season)
            .map_or(1, |season| season.year.unsigned_abs().into()),
    }
}

fn draw(project: &Project, source: &Source) -> Result<(Drawing, Figures), String> {
    let said = |fault: Fault| sentence(&fault.to_string());
    let drawing = match source {
        Source::Test(test) => {
            let test = project.tests.get(*test).ok_or("This test is no longer there.")?;
            Drawing::of_test(project, test)
        }
        Source::Proposal(ears, plan, seed) => {
            let ears = ears.of(project);
            let layout = lay_out(plan, *seed, &ears).map_err(said)?;
            Drawing::of_layout(plan, &layout, &ears)
        }
    };
    let figures = Figures::of(project, &drawing);
    Ok((drawing, figures))
}

/// Says what is to be known about the trays, in sentences.
fn notes(figures: &Figures, kernels: Option<u16>) -> String {
    let mut sentences = vec![figures.grid(), Figures::pace(), figures.balance()];
    sentences.extend(figures.blind());
    sentences.extend(kernels.and_then(certainty));
    sentences.join(" ")
}

/// Draws the figures of a design; returns whether the window is so low that there is room for nothing else.
fn figures_ui(
    ui: &mut Ui,
    figures: &Figures,
    needs: Option<[(String, &'static str); 2]>,
    is_laid: bool,
) -> bool {
    let t = Tokens::of(ui);
    let counts = [
        (figures.trays, "tray"),
        (figures.ears, "ear"),
        (figures.cells, "cell"),
        (figures.kernels as usize, "kernel"),
        (figures.checks, "check"),
        (figures.landmarks, "landmark"),
        (figures.spare, "spare cell"),
    ];
    let is_low = ui.ctx().content_rect().height() < 640.0;
    let font = if is_low { t.strong_font() } else { t.heading_font() };
    let spacing = ui.spacing().clone();
    // The height of a row is taken from outside of it, where these figures are no buttons.
    ui.spacing_mut().interact_size.y = 0.0;
    ui.horizontal_wrapped(|ui| {
        // Space after the last figure would push the edge of the room outwards.
        ui.spacing_mut().item_spacing = vec2(4.0 + t.space.small, t.space.tiny);
        let counts = counts.map(|(number, word)| {
            let end = if number == 1 { "" } else { "s" };
            (grouped(number as u64), format!("{word}{end}"))
        });
        let needs = needs
            .into_iter()
            .flatten()
            .map(|(number, word)| (number, word.to_owned()));
        for (number, word) in counts.into_iter().chain(needs) {
            let mut text = LayoutJob::default();
            text.append(&number, 0.0, TextFormat::simple(font.clone(), t.text));
            text.append(&word, 4.0, TextFormat::simple(t.body_font(), t.quiet));
            let figure = ui.add(Label::new(text).wrap_mode(TextWrapMode::Extend));
            figure.widget_info(|| WidgetInfo::labeled(Role::Label, true, format!("{number} {word}")));
        }
    });
    *ui.spacing_mut() = spacing;
    if let Some(short) = figures.shortage().filter(|_| !is_laid) {
        alert(ui, &short);
    }
    is_low
}

/// Says what so many kernels can tell: the Wilson interval of about 80 %.
fn certainty(kernels: u16) -> Option<String> {
    let grown = (u32::from(kernels) * 4 + 2) / 5;
    let interval = wilson(Counts::new(grown, u32::from(kernels)).ok()?, Confidence::P95)?;
    Some(format!(
        "If {grown} of {kernels} kernels germinate, the ear's true value is between {:.0} and {:.0} % (95 % confidence).",
        100.0 * interval.low,
        100.0 * interval.high
    ))
}

/// Writes a number with narrow gaps between thousands.
fn grouped(number: u64) -> String {
    let digits = number.to_string();
    let mut text = String::new();
    for (at, digit) in digits.chars().enumerate() {
        if at > 0 && (digits.len() - at).is_multiple_of(3) {
            text.push(',');
        }
        text.push(digit);
    }
    text
}

/// Says how far a test has come.
fn standing(ui: &mut Ui, test: Option<&Test>, facts: Facts, is_proposed: bool) {
    let t = Tokens::of(ui);
    let (text, colour) = match test {
        _ if is_proposed => (
            "Proposal: nothing is recorded until you press 'Design the test'.".to_owned(),
            t.warn,
        ),
        Some(test) => match test.laid {
            Some(day) => (format!("{}: laid on {day}.", test.name), t.ok),
            None if facts.is_begun => (format!("{}: partly laid.", test.name), t.warn),
            None => (format!("{}: designed, not laid yet.", test.name), t.text),
        },
        None => return,
    };
    let galley = ui.painter().layout_no_wrap(text.clone(), t.strong_font(), colour);
    // On a line of its own rather than broken in two beside the buttons.
    if galley.size().x + 24.0 > ui.available_size_before_wrap().x {
        ui.end_row();
    }
    Frame::new()
        .fill(t.raised)
        .stroke(Stroke::new(1.5, colour))
        .corner_radius(t.radius)
        .inner_margin(Margin::symmetric(10, 4))
        .show(ui, |ui| {
            ui.label(RichText::new(text).font(t.strong_font()).color(colour))
        });
}

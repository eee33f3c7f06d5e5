//! What surrounds the panes: menus, season switch, tabs, side, foot.

use super::App;
use crate::model::SeasonId;
use crate::ui::context::Pane;
use crate::ui::dialogs::{Answer, OpenDialog};
use crate::ui::tokens::Tokens;
use crate::ui::user_actions::UserAction;
use egui::{
    Align, Button, CentralPanel, Context, Frame, Layout, Margin, MenuBar, Panel, RichText, Sense, Sides, Ui,
};

impl App {
    /// Draws the whole window.
    pub(super) fn frame_ui(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        self.settings.observe(&ctx);
        if self.dialog.is_none() && !self.prompt.is_open() {
            for action in UserAction::pressed(&ctx) {
                self.perform(&ctx, action);
            }
        }
        let t = Tokens::of(ui);
        if matches!(self.dialog, Some(OpenDialog::Stopped(_))) {
            CentralPanel::default()
                .frame(Frame::new().fill(t.page))
                .show(ui, |_ui| {});
            self.dialog_ui(&ctx);
            return;
        }
        if self.pane == Pane::Trays && self.panes.trays.takes_window() {
            let frame = Frame::new().fill(t.page).inner_margin(Margin::same(12));
            CentralPanel::default()
                .frame(frame)
                .show(ui, |ui| self.pane_ui(ui));
            self.dialog_ui(&ctx);
            self.prompt_ui(&ctx);
            self.notices.show(&ctx);
            return;
        }
        let bar = |t: &Tokens| Frame::new().fill(t.panel).inner_margin(Margin::symmetric(12, 6));
        Panel::top("menus").frame(bar(t)).show(ui, |ui| self.menus(ui));
        Panel::top("pane tabs").frame(bar(t)).show(ui, |ui| self.tabs(ui));
        Panel::bottom("foot").frame(bar(t)).show(ui, |ui| self.foot(ui));
        if self.side.is_open() {
            let frame = Frame::new().fill(t.panel).inner_margin(Margin::same(12));
            let widest = (ui.available_width() * 0.45).max(260.0);
            Panel::right("side")
                .frame(frame)
                .resizable(true)
                .default_size(340.0_f32.min(widest))
                .size_range(240.0..=widest)
                .show(ui, |ui| self.side_ui(ui));
        }
        let frame = Frame::new().fill(t.page).inner_margin(Margin::same(12));
        CentralPanel::default()
            .frame(frame)
            .show(ui, |ui| self.pane_ui(ui));
        self.dialog_ui(&ctx);
        self.prompt_ui(&ctx);
        // They would lie over a corner that is to be dragged; they wait until that is done.
        if self.pane != Pane::Scoring || !self.panes.scoring.sets_corners() {
            self.notices.show(&ctx);
        }
    }

    fn menus(&mut self, ui: &mut Ui) {
        let ctx = ui.ctx().clone();
        let mut wanted = None;
        let mut reopen = None;
        let mut demo = None;
        let mut pressed = None;
        let mut season = None;
        Sides::new()
            .shrink_left()
            .height(Tokens::of(ui).control_height)
            .show(
                ui,
                |ui| {
                    MenuBar::new().ui(ui, |ui| {
                        ui.menu_button("Project", |ui| {
                            for action in UserAction::PROJECT {
                                wanted = self.menu_item(ui, action).or(wanted);
                            }
                            ui.separator();
                            ui.menu_button("Opened lately", |ui| {
                                if self.settings.recent.is_empty() {
                                    ui.label("None yet.");
                                }
                                for path in &self.settings.recent {
                                    let name = path
                                        .file_name()
                                        .map_or_else(String::new, |name| name.to_string_lossy().into());
                                    if ui
                                        .button(name)
                                        .on_hover_text(path.display().to_string())
                                        .clicked()
                                    {
                                        reopen = Some(path.clone());
                                    }
                                }
                            });
                            ui.menu_button("Demos", |ui| {
                                for (name, title) in [
                                    ("pocket-starter", "Pocket Starter: 24 ears"),
                                    ("essel-thaw", "Essel Thaw: 240 ears"),
                                    ("corvane-flint", "Corvane Flint: three seasons"),
                                ] {
                                    if ui.button(title).clicked() {
                                        demo = Some(name);
                                    }
                                }
                            });
                        });
                        ui.menu_button("Edit", |ui| {
                            for action in UserAction::EDIT {
                                wanted = self.menu_item(ui, action).or(wanted);
                            }
                        });
                        ui.menu_button("View", |ui| {
                            for action in UserAction::VIEW {
                                wanted = self.menu_item(ui, action).or(wanted);
                            }
                            ui.separator();
                            for pane in Pane::ALL {
                                wanted = self.menu_item(ui, UserAction::Show(pane)).or(wanted);
                            }
                            ui.separator();
                            ui.label("Theme");
                            egui::global_theme_preference_buttons(ui);
                        });
                        if ui.button("Help").clicked() {
                            wanted = Some(UserAction::Help);
                        }
                    });
                },
                |ui| {
                    let find = ui
                        .add(Button::new("Find…").shortcut_text("Ctrl+F"))
                        .on_hover_text("Go to an ear, packet, cell or row by its number");
                    if find.clicked() {
                        pressed = Some(UserAction::Find);
                    }
                    let todo = self.insight.todo(&self.document, (self.clock)().date()).len();
                    let text = if todo == 0 {
                        "To do".to_owned()
                    } else {
                        format!("To do ({todo})")
                    };
                    if ui
                        .add(Button::new(text).selected(self.side.shows_todo()))
                        .clicked()
                    {
                        pressed = Some(UserAction::ToDo);
                    }
                    season = self.season_switch(ui);
                },
            );
        if let Some(season) = season {
            self.show_season(season);
        }
        let wanted = wanted.or(pressed);
        if let Some(action) = wanted {
            self.perform(&ctx, action);
        }
        if let Some(path) = reopen {
            self.open_path(&path);
        }
        if let Some(name) = demo {
            self.open_demo(name);
        }
    }

    fn menu_item(&self, ui: &mut Ui, action: UserAction) -> Option<UserAction> {
        let name = match (action, self.document.undo_label(), self.document.redo_label()) {
            (UserAction::Undo, Some(label), _) => format!("Undo: {label}"),
            (UserAction::Redo, _, Some(label)) => format!("Redo: {label}"),
            _ => action.name().to_owned(),
        };
        let enabled = match action {
            UserAction::Undo => self.document.undo_label().is_some(),
            UserAction::Redo => self.document.redo_label().is_some(),
            _ => true,
        };
        let button = match action.shortcut() {
            Some(keys) => Button::new(name).shortcut_text(ui.ctx().format_shortcut(&keys)),
            None => Button::new(name),
        };
        ui.add_enabled(enabled, button).clicked().then_some(action)
    }

    /// Draws the switch of seasons, from the right; gives the season that was chosen.
    fn season_switch(&self, ui: &mut Ui) -> Option<SeasonId> {
        let project = self.document.project();
        let year = |id| {
            project
                .seasons
                .get(id)
                .map_or_else(|| "none".to_owned(), |season| season.year.to_string())
        };
        let shown = self.season.map_or_else(|| "none yet".to_owned(), year);
        let mut seasons: Vec<_> = project
            .seasons
            .iter()
            .map(|season| (season.year, season.id))
            .collect();
        seasons.sort_unstable_by_key(|(year, _)| std::cmp::Reverse(*year));
        let mut chosen = None;
        let combo = egui::ComboBox::from_id_salt("season")
            .selected_text(shown)
            .width(80.0)
            .show_ui(ui, |ui| {
                for (year, id) in seasons {
                    if ui
                        .selectable_label(self.season == Some(id), year.to_string())
                        .clicked()
                    {
                        chosen = Some(id);
                    }
                }
            });
        let label = ui.label("Season");
        combo.response.labelled_by(label.id);
        chosen
    }

    fn tabs(&mut self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        ui.horizontal(|ui| {
            ui.spacing_mut().item_spacing.x = t.space.small;
            for (number, pane) in (1..).zip(Pane::ALL) {
                let is_shown = self.pane == pane;
                let text =
                    RichText::new(pane.name()).font(if is_shown { t.strong_font() } else { t.body_font() });
                let tab = Button::selectable(is_shown, text).min_size(egui::vec2(96.0, t.control_height));
                if ui.add(tab).on_hover_text(format!("Ctrl+{number}")).clicked() {
                    self.pane = pane;
                }
            }
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                let name = RichText::new(&self.document.project().about.name).font(t.strong_font());
                ui.add(egui::Label::new(name).truncate());
            });
        });
    }

    fn foot(&mut self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        let (sign, colour, text) = match (&self.file, self.read_only(), &self.disk_fault) {
            (None, _, _) => (
                "⚠",
                t.warn,
                "This project has no file: what you do is not on disk. Use 'Save as'.".to_owned(),
            ),
            (_, Some(why), _) => ("⚠", t.warn, format!("Open for reading only: {why}.")),
            (_, _, Some(fault)) => ("✗", t.bad, format!("The last changes are NOT on disk: {fault}")),
            _ if self.is_saving() => ("…", t.quiet, "Saving the project file…".to_owned()),
            _ => {
                let unsaved = self.document.unsaved_events();
                let text = match unsaved {
                    0 => "All changes are on disk.".to_owned(),
                    1 => "All changes are on disk; 1 of them only in the journal until you save.".to_owned(),
                    _ => format!(
                        "All changes are on disk; {unsaved} of them only in the journal until you save."
                    ),
                };
                ("✓", t.ok, text)
            }
        };
        ui.horizontal(|ui| {
            ui.label(RichText::new(sign).color(colour));
            let path = self.file.as_ref().map(|file| file.path().display().to_string());
            let label = ui.add(
                egui::Label::new(RichText::new(text).font(t.small_font()))
                    .sense(Sense::hover())
                    .truncate(),
            );
            if let Some(path) = path {
                label.on_hover_text(path);
            }
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                if let Some((name, percent)) = self.being_made() {
                    let text = RichText::new(format!("Making {name}: {percent} %")).font(t.small_font());
                    let stop = Button::new(RichText::new("Stop").font(t.small_font()));
                    let stops = ui.add(stop).on_hover_text("Nothing is written then").clicked();
                    ui.add(egui::Label::new(text).truncate());
                    if stops {
                        self.stop_making();
                    }
                    return;
                }
                let who = match self.settings.who.as_str() {
                    "" => "Who is working? Press here to say.".to_owned(),
                    who => format!("Working: {who}"),
                };
                if ui
                    .add(Button::new(RichText::new(who).font(t.small_font())).frame(false))
                    .clicked()
                {
                    self.dialog = Some(OpenDialog::facts(
                        &self.document.project().about,
                        &self.settings.who,
                    ));
                }
            });
        });
    }

    fn side_ui(&mut self, ui: &mut Ui) {
        if self.is_blind() && self.side.tells_of_ears() {
            ui.label("Hidden while scoring is blind: it tells of ears and earlier counts. Switch blind off in the options of Scoring.");
            return;
        }
        if self.hides_names() && self.side.tells_of_ears() {
            ui.label(
                "Hidden while the names of ears are hidden. The part 'Sets' of Selection shows them again.",
            );
            return;
        }
        let today = (self.clock)().date();
        let actions = self.side.ui(
            ui,
            (&self.document, &self.insight),
            &self.chosen,
            today,
            &self.notices,
            &mut self.photos,
        );
        let ctx = ui.ctx().clone();
        self.carry_out_all(&ctx, actions);
    }

    fn dialog_ui(&mut self, ctx: &Context) {
        let Some(mut dialog) = self.dialog.take() else {
            return;
        };
        match dialog.show(ctx, &self.document, &self.insight) {
            None => self.dialog = Some(dialog),
            Some(answer) => self.answered(ctx, answer),
        }
    }

    fn answered(&mut self, ctx: &Context, answer: Answer) {
        ctx.request_repaint();
        match answer {
            Answer::Nothing => {}
            Answer::NewProject { about, year } => self.ask_new(ctx, about, year),
            Answer::BeginProject => self.perform(ctx, UserAction::NewProject),
            Answer::OpenProject => self.ask_open(ctx),
            Answer::OpenDemo(name) => self.open_demo(name),
            Answer::Run { command, who } => {
                self.settings.who = who;
                match self.run(&command) {
                    Ok(committed) => {
                        self.document.close_step();
                        match *command {
                            crate::model::Command::Freeze(_) => self.after_freezing(&committed),
                            crate::model::Command::TakeCounts { .. }
                            | crate::model::Command::BringLine { .. } => {
                                let text = format!("Done: {}.", committed.label);
                                self.notices
                                    .say(crate::ui::widgets::notice::NoticeKind::Done, text);
                            }
                            _ => {}
                        }
                    }
                    Err(problem) => self.say_problem(&problem),
                }
            }
            Answer::Go(place) => {
                self.go(place);
                if matches!(place, crate::model::Place::Ear(_)) {
                    self.side.show_card();
                }
            }
            Answer::SaveAs => self.ask_save_as(ctx),
            Answer::ShowSaves => self.show_saves(),
            Answer::TakeBack => self.perform(ctx, UserAction::Undo),
            Answer::Restore(save) => self.ask_restore(ctx, *save),
            Answer::KeepBoth { theirs, ours } => self.keep_both(ctx, &theirs, &ours),
            Answer::TakeVersion {
                command,
                photos,
                theirs,
            } => self.take_version(ctx, command.as_deref(), &photos, theirs),
            Answer::CloseNow => self.close_now(ctx),
        }
    }

    fn after_freezing(&mut self, committed: &crate::model::Committed) {
        if let Some(place) = committed.places.first() {
            self.go(*place);
        }
        let list = self
            .season
            .and_then(|season| self.document.project().list_in_force(season));
        if let Some(list) = list {
            let text = format!(
                "Planting list {} is frozen: {} ears, digest {}.",
                list.version,
                list.entries.len(),
                list.short_digest()
            );
            self.notices
                .say(crate::ui::widgets::notice::NoticeKind::Done, text);
        }
    }
}

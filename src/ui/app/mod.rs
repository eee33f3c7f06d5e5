//! The application: what is open, and the one place where requests are carried out.

mod files;
mod frame;
mod packages;
mod packed;
mod photos;
mod saves;
mod settings;

use super::context::{Action, FileBytes, Pane, PaneCtx, Ticket, Tone};
use super::dialogs::{self, OpenDialog};
use super::panes::{
    harvest::Harvest, planting::Planting, scoring::Scoring, seasons::Seasons, selection::Selection,
    trays::Trays,
};
use super::photos::PhotoShelf;
use super::side::Side;
use super::user_actions::UserAction;
use super::widgets::notice::{NoticeKind, Notices};
use super::widgets::path_prompt::{PathPrompt, WindowPathPrompt};
use super::{fonts, tokens};
use crate::insight::Insight;
use crate::jobs::{self, Worker};
use crate::model::{Committed, Document, EarId, Fault, Place, Problem, SeasonId, Stamp, sentence};
use crate::store::project_file::ProjectFile;
use egui::{Context, ViewportCommand};
use files::{Asking, Ended};
use jiff::civil::DateTime;
use settings::Settings;
use std::path::Path;
use std::sync::Arc;

/// The name by which the desktop knows the program, and its folder for settings.
pub const APP_ID: &str = "wintercrib";

/// The panes with what they remember.
#[derive(Default)]
struct Panes {
    harvest: Harvest,
    trays: Trays,
    scoring: Scoring,
    selection: Selection,
    planting: Planting,
    seasons: Seasons,
}

/// What closing the window waits for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
enum Closing {
    /// Nobody asked.
    #[default]
    No,
    /// The photographs that are being put beside the project.
    WaitsForPhotos,
    /// The save that is running, and files that are being written.
    WaitsForJobs,
    /// Nothing any more.
    Agreed,
}

/// The application.
pub struct App {
    document: Document,
    file: Option<ProjectFile>,
    insight: Insight,
    panes: Panes,
    pane: Pane,
    side: Side,
    season: Option<SeasonId>,
    chosen: Vec<EarId>,
    notices: Notices,
    dialog: Option<OpenDialog>,
    prompt: Box<dyn PathPrompt>,
    asking: Option<Asking>,
    photos: PhotoShelf,
    worker: Option<Worker<Ended>>,
    /// Files that are being made for panes.
    making: Vec<jobs::Ticket>,
    disk_fault: Option<String>,
    closing: Closing,
    settings: Settings,
    outcomes: Vec<(Ticket, Result<Committed, Problem>)>,
    files: Vec<(Ticket, FileBytes)>,
    dropped: Vec<FileBytes>,
    last_ticket: u64,
    clock: Box<dyn Fn() -> DateTime>,
}

impl App {
    /// Opens a document that has no file, with a clock of the caller's; for tests and pictures.
    pub fn in_memory(document: Document, clock: impl Fn() -> DateTime + 'static) -> Self {
        let season = document.project().latest_season().map(|season| season.id);
        Self {
            document,
            file: None,
            insight: Insight::default(),
            panes: Panes::default(),
            pane: Pane::Harvest,
            side: Side::default(),
            season,
            chosen: Vec::new(),
            notices: Notices::default(),
            dialog: None,
            prompt: Box::new(WindowPathPrompt::default()),
            asking: None,
            photos: PhotoShelf::default(),
            worker: None,
            making: Vec::new(),
            disk_fault: None,
            closing: Closing::No,
            settings: Settings::default(),
            outcomes: Vec::new(),
            files: Vec::new(),
            dropped: Vec::new(),
            last_ticket: 0,
            clock: Box::new(clock),
        }
    }

    /// Prepares the window's fonts, themes and worker, and opens a project: the one given, or the demo.
    pub fn start(
        creation: &eframe::CreationContext<'_>,
        path: Option<&Path>,
        clock: impl Fn() -> DateTime + 'static,
    ) -> Self {
        fonts::install(&creation.egui_ctx);
        tokens::apply(&creation.egui_ctx);
        let empty = crate::model::Project::new(crate::model::About::new("No project", ""));
        let mut app = Self::in_memory(Document::new(empty), clock);
        if let Some(storage) = creation.storage {
            app.settings = Settings::load(storage);
        }
        app.settings.apply(&creation.egui_ctx);
        app.start_worker(&creation.egui_ctx);
        match path {
            Some(path) => {
                if !app.open_path(path) {
                    app.dialog = Some(OpenDialog::welcome());
                }
            }
            None => app.open_demo("essel-thaw"),
        }
        app
    }

    /// Uses another way to ask for files; for tests.
    #[must_use]
    pub fn with_prompt(mut self, prompt: impl PathPrompt + 'static) -> Self {
        self.prompt = Box::new(prompt);
        self
    }

    /// Saves and makes files on a second thread, as the window does.
    #[must_use]
    pub fn with_worker(mut self, ctx: &Context) -> Self {
        self.start_worker(ctx);
        self
    }

    /// Says who is working.
    #[must_use]
    pub fn with_person(mut self, name: &str) -> Self {
        name.clone_into(&mut self.settings.who);
        self
    }

    /// Gives the document as it is now.
    pub fn document(&self) -> &Document {
        &self.document
    }

    /// Gives the chosen ears.
    pub fn chosen(&self) -> &[EarId] {
        &self.chosen
    }

    /// Gives the season that is shown.
    pub fn season(&self) -> Option<SeasonId> {
        self.season
    }

    /// Gives the notices shown in the window.
    pub fn notices(&self) -> &Notices {
        &self.notices
    }

    /// Shows a pane.
    pub fn show(&mut self, pane: Pane) {
        self.pane = pane;
    }

    /// Does what a menu or a key asks for.
    pub fn perform(&mut self, ctx: &Context, action: UserAction) {
        match action {
            UserAction::NewProject => self.dialog = Some(OpenDialog::new_project((self.clock)().year())),
            UserAction::OpenProject => self.ask_open(ctx),
            UserAction::Save => self.save(),
            UserAction::SaveAs => self.ask_save_as(ctx),
            UserAction::MergeCopy => self.ask_merge(ctx),
            UserAction::Neighbour => self.ask_neighbour(ctx),
            UserAction::SavePackage => self.ask_save_package(ctx),
            UserAction::OpenPackage => self.ask_open_package(ctx),
            UserAction::SavePassport => self.ask_save_passport(ctx),
            UserAction::SavePacked => self.ask_save_packed(ctx),
            UserAction::OpenPacked => self.ask_open_packed(ctx),
            UserAction::Log if self.is_blind() => {
                let text = "The log is closed while scoring is blind, as it tells where ears lie. Switch blind off in the options of Scoring.";
                self.notices.say(NoticeKind::Warning, text);
            }
            UserAction::Log if self.hides_names() => {
                let text = "The log is closed while the names of ears are hidden. The part 'Sets' of Selection shows them again.";
                self.notices.say(NoticeKind::Warning, text);
            }
            UserAction::Log => self.show_log(),
            UserAction::Saves => self.show_saves(),
            UserAction::ProjectFacts => {
                self.dialog = Some(OpenDialog::facts(
                    &self.document.project().about,
                    &self.settings.who,
                ));
            }
            UserAction::Quit => ctx.send_viewport_cmd(ViewportCommand::Close),
            UserAction::Undo => self.step(Document::undo, "Undone", "There is nothing to undo."),
            UserAction::Redo => self.step(Document::redo, "Done again", "There is nothing to do again."),
            UserAction::Find if self.hides_names() => {
                let text = "Find is closed while the names of ears are hidden. The part 'Sets' of Selection shows them again.";
                self.notices.say(NoticeKind::Warning, text);
            }
            UserAction::Find if self.is_blind() => {
                let text = "Find is closed while scoring is blind, as it tells where ears lie. Switch blind off in the options of Scoring.";
                self.notices.say(NoticeKind::Warning, text);
            }
            UserAction::Find => self.dialog = Some(OpenDialog::find()),
            UserAction::ToDo => self.side.toggle_todo(),
            UserAction::EarCard => self.side.toggle_card(),
            UserAction::Notices => self.side.toggle_notices(),
            UserAction::CloseSide => self.side.close(),
            UserAction::Show(pane) => self.pane = pane,
            UserAction::Help => self.dialog = Some(OpenDialog::help()),
        }
    }

    /// Says whether the names of ears are hidden, so that no favourite is cut for.
    pub(super) fn hides_names(&self) -> bool {
        self.pane == Pane::Selection && self.panes.selection.hides_names()
    }

    /// Says whether the grower counts blind, so that nothing on the screen may tell of ears and earlier counts.
    pub(super) fn is_blind(&self) -> bool {
        self.pane == Pane::Scoring && self.panes.scoring.is_blind()
    }

    fn step(
        &mut self,
        step: impl FnOnce(&mut Document, &Stamp) -> Result<Option<Committed>, Problem>,
        done: &str,
        nothing: &str,
    ) {
        if let Some(why) = self.read_only() {
            let text = format!("Nothing can be changed here: {why}.");
            return self.notices.say(NoticeKind::Problem, text);
        }
        let stamp = self.stamp();
        match step(&mut self.document, &stamp) {
            Ok(Some(committed)) => self
                .notices
                .say(NoticeKind::Done, format!("{done}: {}.", committed.label)),
            Ok(None) => self.notices.say(NoticeKind::Warning, nothing),
            Err(problem) => self.say_problem(&problem),
        }
        self.keep_on_disk();
    }

    fn stamp(&self) -> Stamp {
        Stamp {
            at: (self.clock)(),
            by: self.settings.who.clone(),
        }
    }

    fn read_only(&self) -> Option<String> {
        self.file
            .as_ref()
            .and_then(ProjectFile::read_only)
            .map(str::to_owned)
    }

    fn say_problem(&mut self, problem: &Problem) {
        let place = self.document.project().place_name(problem.place);
        self.notices
            .say(NoticeKind::Problem, sentence(&format!("{place}: {problem}")));
    }

    fn run(&mut self, command: &crate::model::Command) -> Result<Committed, Problem> {
        if let Some(why) = self.read_only() {
            let text = format!("nothing can be changed here: {why}");
            return Err(Problem::new(Place::Project, Fault::Mismatch(text)));
        }
        let stamp = self.stamp();
        let outcome = self.document.run(command, &stamp);
        self.keep_on_disk();
        outcome
    }

    fn carry_out(&mut self, ctx: &Context, action: Action) {
        match action {
            Action::Run { command, ticket } => {
                let outcome = self.run(&command);
                self.season = self
                    .season
                    .or_else(|| self.document.project().latest_season().map(|season| season.id));
                match (ticket, outcome) {
                    (Some(ticket), outcome) => self.outcomes.push((ticket, outcome)),
                    (None, Err(problem)) => self.say_problem(&problem),
                    (None, Ok(_)) => {}
                }
            }
            Action::CloseStep => self.document.close_step(),
            Action::Choose(ears) => self.chosen = ears,
            Action::OpenCard(ear) => {
                self.chosen = vec![ear];
                self.side.show_card();
            }
            Action::Go(place) => self.go(place),
            Action::Show(pane) => self.pane = pane,
            Action::ShowPedigree(ear) => {
                self.chosen = vec![ear];
                self.pane = Pane::Seasons;
                self.panes.seasons.show_pedigree();
            }
            Action::ShowSeason(season) => self.show_season(season),
            Action::Notice(tone, text) => self.notices.say(kind(tone), text),
            Action::OpenFile {
                title,
                endings,
                ticket,
            } => self.ask_pane_file(ctx, &title, &endings, ticket),
            Action::SaveFile { name, making } => self.ask_pane_save(ctx, &name, making),
            Action::OpenPhotos { tray, pass } => self.ask_photos(ctx, tray, pass),
            Action::TakePhotos { paths, tray, pass } => self.take_photos(paths, tray, pass),
            Action::FindPhotos => self.ask_photo_folder(ctx),
            Action::StopPhotos => self.stop_photos(),
            Action::KeepLabelSheet(kind, sheet) => self.settings.label_sheets.keep(kind, sheet),
            Action::ReadPhotos(reads) => self.settings.reads_photos = reads,
            Action::ProposeRepair(repair) => {
                self.go(repair.place());
                self.pane = Pane::Scoring;
                self.panes.scoring.propose(self.document.project(), repair);
            }
            Action::AskFreeze => {
                // A list is read by the names of its ears.
                self.panes.selection.show_names();
                self.ask_freeze();
            }
        }
    }

    fn show_season(&mut self, season: SeasonId) {
        if self.season != Some(season) {
            self.season = Some(season);
            self.chosen.clear();
        }
    }

    fn ask_freeze(&mut self) {
        let Some(season) = self.season else { return };
        let project = self.document.project();
        let cutoffs = project
            .selection_of(season)
            .map(|one| one.cutoffs.clone())
            .unwrap_or_default();
        let proposal = self.insight.list_draft(&self.document, season, &cutoffs);
        let revises = project.list_in_force(season).map(|list| list.version);
        self.dialog = Some(OpenDialog::freeze(dialogs::Freeze {
            season,
            cutoffs,
            entries: proposal.entries.clone(),
            reserves: proposal.reserves.clone(),
            way: proposal.way.clone(),
            notes: proposal.notes.clone(),
            revises,
            on: (self.clock)().date(),
            by: self.settings.who.clone(),
            reason: String::new(),
            least_mothers: project.selection_of(season).and_then(|one| one.least_mothers),
            knows_of_mothers: false,
        }));
    }

    fn go(&mut self, place: Place) {
        let project = self.document.project();
        let season = match place {
            Place::Season(season) => Some(season),
            Place::Row(row) => project.rows.get(row).map(|row| row.season),
            Place::Ear(ear) => project.ears.get(ear).map(|ear| ear.season),
            Place::Packet(packet) => {
                let ear = project
                    .packets
                    .get(packet)
                    .and_then(|packet| project.ears.get(packet.ear));
                ear.map(|ear| ear.season)
            }
            Place::Test(test) => project.tests.get(test).map(|test| test.season),
            Place::Tray(tray) => project.test_of_tray(tray).map(|test| test.season),
            Place::Cell(cell) => {
                let tray = project.cells.get(cell).map(|cell| cell.tray);
                tray.and_then(|tray| project.test_of_tray(tray))
                    .map(|test| test.season)
            }
            Place::Count(count) => {
                let cell = project
                    .counts
                    .get(count)
                    .and_then(|count| project.cells.get(count.cell));
                cell.and_then(|cell| project.test_of_tray(cell.tray))
                    .map(|test| test.season)
            }
            Place::Selection(one) => project.selections.get(one).map(|one| one.season),
            Place::List(list) => project.lists.get(list).map(|list| list.season),
            Place::Log(log) => {
                let test = project.logs.get(log).map(|log| log.test);
                test.and_then(|test| project.tests.get(test))
                    .map(|test| test.season)
            }
            Place::Event(event) => {
                let test = project.events.get(event).map(|event| event.test);
                test.and_then(|test| project.tests.get(test))
                    .map(|test| test.season)
            }
            Place::Photo(photo) => {
                let tray = project.photos.get(photo).map(|photo| photo.tray);
                tray.and_then(|tray| project.test_of_tray(tray))
                    .map(|test| test.season)
            }
            Place::Plan(plan) => {
                let list = project.plans.get(plan).map(|plan| plan.list);
                list.and_then(|list| project.lists.get(list))
                    .map(|list| list.season)
            }
            Place::FieldRow(row) => {
                let plan = project.field_rows.get(row).map(|row| row.plan);
                plan.and_then(|plan| project.plans.get(plan))
                    .and_then(|plan| project.lists.get(plan.list))
                    .map(|list| list.season)
            }
            Place::Weather(month) => {
                let year = month
                    .day(1)
                    .and_then(|first| project.season_of_year(first.year()));
                year.map(|season| season.id)
            }
            Place::Trait(_) | Place::Store(_) | Place::Project => None,
        };
        if let Some(season) = season {
            self.show_season(season);
        }
        if let Place::Ear(ear) = place {
            self.chosen = vec![ear];
        }
        self.pane = match place {
            Place::Test(_) | Place::Tray(_) | Place::Log(_) | Place::Event(_) => Pane::Trays,
            Place::Cell(_) | Place::Count(_) | Place::Photo(_) => Pane::Scoring,
            Place::Selection(_) => Pane::Selection,
            Place::List(_) | Place::Plan(_) | Place::FieldRow(_) => Pane::Planting,
            Place::Season(_) | Place::Store(_) | Place::Project | Place::Weather(_) => Pane::Seasons,
            Place::Ear(_) | Place::Packet(_) | Place::Row(_) | Place::Trait(_) => Pane::Harvest,
        };
        match self.pane {
            Pane::Harvest => self.panes.harvest.go(place),
            Pane::Trays => self.panes.trays.go(place),
            Pane::Scoring => self.panes.scoring.go(place),
            Pane::Selection => self.panes.selection.go(place),
            Pane::Planting => self.panes.planting.go(place),
            Pane::Seasons => self.panes.seasons.go(place),
        }
    }

    /// Draws the pane that is shown and carries out what it asks for.
    fn pane_ui(&mut self, ui: &mut egui::Ui) {
        let outcomes = std::mem::take(&mut self.outcomes);
        let files = std::mem::take(&mut self.files);
        let dropped = std::mem::take(&mut self.dropped);
        let read_only = self.read_only();
        let mut actions = Vec::new();
        let now = (self.clock)();
        let mut ctx = PaneCtx {
            document: &self.document,
            insight: &self.insight,
            season: self.season,
            chosen: &self.chosen,
            today: now.date(),
            now,
            who: &self.settings.who,
            read_only: read_only.as_deref(),
            outcomes: &outcomes,
            files: &files,
            dropped: &dropped,
            label_sheets: &self.settings.label_sheets,
            photos: &mut self.photos,
            actions: &mut actions,
            last_ticket: &mut self.last_ticket,
        };
        match self.pane {
            Pane::Harvest => self.panes.harvest.ui(ui, &mut ctx),
            Pane::Trays => self.panes.trays.ui(ui, &mut ctx),
            Pane::Scoring => self.panes.scoring.ui(ui, &mut ctx),
            Pane::Selection => self.panes.selection.ui(ui, &mut ctx),
            Pane::Planting => self.panes.planting.ui(ui, &mut ctx),
            Pane::Seasons => self.panes.seasons.ui(ui, &mut ctx),
        }
        self.carry_out_all(ui.ctx(), actions);
    }

    fn carry_out_all(&mut self, ctx: &Context, actions: Vec<Action>) {
        if !actions.is_empty() {
            ctx.request_repaint();
        }
        for action in actions {
            self.carry_out(ctx, action);
        }
    }

    fn receive_dropped(&mut self, ctx: &Context) {
        let dropped = ctx.input(|input| input.raw.dropped_files.clone());
        for file in dropped {
            let path = file.path().to_path_buf();
            let name = path
                .file_name()
                .map_or_else(String::new, |name| name.to_string_lossy().into_owned());
            if path
                .extension()
                .is_some_and(|ending| ending.eq_ignore_ascii_case("ron"))
            {
                self.open_path(&path);
                continue;
            }
            if self.pane == Pane::Scoring && !is_table(&path) {
                // Read on the photographs' own thread.
                self.photos.drop_file(path);
                continue;
            }
            match file.bytes() {
                Ok(bytes) => self.dropped.push(FileBytes {
                    name,
                    bytes: Arc::from(&bytes[..]),
                }),
                Err(error) => {
                    let text =
                        format!("{name} could not be read ({error}); drop it again or open it by its path.");
                    self.notices.say(NoticeKind::Problem, text);
                }
            }
        }
    }
}

/// Whether a file may be a table, by the ending of its name.
fn is_table(path: &Path) -> bool {
    let ending = path
        .extension()
        .map(|ending| ending.to_string_lossy().to_lowercase());
    ending.is_some_and(|ending| ["csv", "tsv", "txt"].contains(&ending.as_str()))
}

fn kind(tone: Tone) -> NoticeKind {
    match tone {
        Tone::Well => NoticeKind::Done,
        Tone::Warning => NoticeKind::Warning,
        Tone::Error => NoticeKind::Problem,
    }
}

impl eframe::App for App {
    fn logic(&mut self, ctx: &Context, _frame: &mut eframe::Frame) {
        self.finish_jobs(ctx);
        self.finish_photos(ctx);
        self.consider_closing(ctx);
    }

    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        self.receive_dropped(&ui.ctx().clone());
        self.photos.begin_frame();
        self.photos.set_reads(self.settings.reads_photos);
        self.frame_ui(ui);
        self.say_unwanted_photos();
        self.photos.end_frame(&ui.ctx().clone());
    }

    fn save(&mut self, storage: &mut dyn eframe::Storage) {
        self.settings.save(storage);
    }
}

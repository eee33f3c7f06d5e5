//! Opening, saving and closing.

use super::{APP_ID, App, Closing};

use crate::demo;
use crate::jobs::{Done, JobContext, Outcome, Wake, Worker};
use crate::model::{About, Command, Document, Pass, Project, Stamp, TrayId, sentence};
use crate::store::project_file::{self, Opened, ProjectFile, Saved, StoreFault};
use crate::store::{atomic, fault_report, lock};
use crate::ui::context::{FileBytes, Making, Pane, Ticket};
use crate::ui::dialogs::{Neighbour, OpenDialog};
use crate::ui::widgets::notice::NoticeKind;
use crate::ui::widgets::path_prompt::{PathAnswer, PathPurpose, PathRequest};
use egui::{Context, ViewportCommand, ViewportEvent};
use std::convert::Infallible;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// Files above this size are not read for a pane, in bytes.
const MOST_BYTES: u64 = 1 << 30;

/// What a file is asked for.
#[derive(Debug)]
pub(super) enum Asking {
    /// A project to open.
    Open,
    /// Where a new project goes.
    New {
        /// What it is.
        about: About,
        /// The year of its first season.
        year: i16,
    },
    /// Where a copy goes with which the work goes on.
    SaveAs,
    /// A copy of the project whose counts are taken over.
    Merge,
    /// Another project that is put beside this one.
    Neighbour,
    /// A file that a pane reads.
    PaneFile(Ticket),
    /// Photographs of a tray, and the count at which they were taken.
    Photos(TrayId, Option<Pass>),
    /// A folder in which missing photographs are looked for.
    PhotoFolder,
    /// Where a file of a pane goes.
    PaneSave(Making),
    /// Where a data package goes.
    SavePackage,
    /// The folder of a data package.
    OpenPackage,
    /// Where the project of a data package goes.
    OfPackage(Box<Project>),
    /// Where a packed copy goes.
    SavePacked,
    /// A packed copy.
    OpenPacked,
    /// The new folder for what is in a packed copy.
    UnpackTo(PathBuf),
    /// Where the copy of an earlier save goes.
    Restore(PathBuf),
}

/// What a job of the worker gives back.
pub(super) enum Ended {
    /// The project file was saved.
    Saved(Result<Saved, StoreFault>),
    /// A file of a pane was made and written here.
    Written(PathBuf),
    /// It was not, for this reason; a sentence.
    NotWritten(String),
    /// A packed copy was written here, without some photos, each with the reason.
    Packed {
        /// The zip.
        path: PathBuf,
        /// Why photos are not in it.
        left_out: Vec<String>,
    },
    /// A packed copy was taken out; this is its project.
    Unpacked(PathBuf),
    /// It is no longer wanted, and nothing was written.
    Stopped,
}

/// Gives the name of a file without its folders.
pub(super) fn name_of(path: &Path) -> String {
    path.file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

/// Reads a project beside ours; one that breaks rules is refused.
pub(super) fn read_other(path: &Path) -> Result<Opened, String> {
    let opened = project_file::read(path).map_err(|fault| fault.to_string())?;
    match opened.problems.first() {
        None => Ok(opened),
        Some(broken) => Err(format!(
            "it breaks a rule ({}); correct it first, 'wintercrib check' lists all of them",
            broken.problem
        )),
    }
}

impl App {
    pub(super) fn start_worker(&mut self, ctx: &Context) {
        let ctx = ctx.clone();
        let wake: Wake = Arc::new(move || ctx.request_repaint());
        match Worker::new("worker", wake) {
            Ok(worker) => self.worker = Some(worker),
            Err(error) => {
                let text =
                    format!("No second thread could be started ({error}); saving will hold up the window.");
                self.notices.say(NoticeKind::Warning, text);
            }
        }
    }

    /// Opens a project file in place of the present one; says why if it cannot.
    pub fn open_path(&mut self, path: &Path) -> bool {
        self.settle();
        match project_file::open(path, &lock::this_process()) {
            Ok(opened) => {
                self.take_up(opened);
                true
            }
            Err(fault) => {
                let name = path
                    .file_name()
                    .map_or_else(String::new, |name| name.to_string_lossy().into_owned());
                let text = format!(
                    "{name} was not opened, and nothing was changed. {}",
                    sentence(&fault.to_string())
                );
                self.offer_saves(path, &text);
                self.notices.say(NoticeKind::Problem, text);
                false
            }
        }
    }

    /// Opens a demo in the program's own folder, made afresh if it is not there yet.
    pub fn open_demo(&mut self, name: &str) {
        let Some(project) = demo::make(name) else { return };
        let Some(folder) = eframe::storage_dir(APP_ID).map(|folder| folder.join("demo")) else {
            self.take_up_in_memory(project);
            return;
        };
        let path = folder.join(format!("{name}.ron"));
        if path.exists() {
            if !self.open_path(&path) {
                self.take_up_in_memory(project);
            }
            return;
        }
        self.settle();
        let made = std::fs::create_dir_all(&folder)
            .map_err(|error| error.to_string())
            .and_then(|()| {
                project_file::create(&path, project.clone(), &lock::this_process())
                    .map_err(|fault| fault.to_string())
            });
        match made {
            Ok(opened) => self.take_up(opened),
            Err(why) => {
                self.take_up_in_memory(project);
                let text =
                    format!("The demo has no file of its own ({why}). Use 'Save as' to keep what you do.");
                self.notices.say(NoticeKind::Warning, text);
            }
        }
    }

    fn take_up_in_memory(&mut self, project: Project) {
        self.document = Document::new(project);
        self.file = None;
        self.after_opening(Pane::Selection);
    }

    pub(super) fn take_up(&mut self, opened: Opened) {
        let Opened {
            document,
            file,
            notes,
            problems,
        } = opened;
        self.document = document;
        self.settings.opened(file.path());
        self.file = Some(file);
        let has_lists = self.document.project().selections.iter().next().is_some();
        self.after_opening(if has_lists { Pane::Selection } else { Pane::Harvest });
        for note in notes {
            self.notices.say(NoticeKind::Warning, sentence(&note));
        }
        for broken in problems.iter().take(3) {
            let place = self.document.project().place_name(broken.problem.place);
            let line = broken
                .line
                .map_or_else(String::new, |line| format!("line {line}, "));
            self.notices.say(
                NoticeKind::Problem,
                sentence(&format!("{line}{place}: {}", broken.problem)),
            );
        }
    }

    fn after_opening(&mut self, pane: Pane) {
        self.insight = crate::insight::Insight::default();
        self.panes = super::Panes::default();
        self.season = self.document.project().latest_season().map(|season| season.id);
        self.chosen.clear();
        self.dialog = None;
        self.disk_fault = None;
        self.pane = pane;
        self.open_photos();
        self.tell_of_fault();
    }

    /// Puts new events into the journal before the next frame says that they are on disk.
    pub(super) fn keep_on_disk(&mut self) {
        let Some(file) = &self.file else {
            // Without a file there is no journal; the foot says so.
            self.document.take_events();
            return;
        };
        if file.read_only().is_some() {
            return;
        }
        self.disk_fault = file
            .flush(&mut self.document)
            .err()
            .map(|fault| fault.to_string());
        for note in file.take_notes() {
            self.notices.say(NoticeKind::Warning, sentence(&note));
        }
    }

    /// Finishes what the present project still needs before another takes its place.
    pub(super) fn settle(&mut self) {
        if self.file.as_ref().is_some_and(|file| file.read_only().is_none())
            && self.document.unsaved_events() > 0
        {
            self.save();
        }
        while let Some(done) = self.worker.as_mut().and_then(Worker::wait) {
            self.after_job(done);
        }
    }

    /// Says whether the project file is being saved, or a file of a pane is being made.
    pub fn is_busy(&self) -> bool {
        self.worker.as_ref().is_some_and(|worker| worker.pending() > 0)
    }

    /// Says whether the project file is being saved.
    pub(super) fn is_saving(&self) -> bool {
        let pending = self.worker.as_ref().map_or(0, Worker::pending);
        pending > self.making.len()
    }

    /// The file of a pane that is being made now: its name, and how far it is in percent.
    pub(super) fn being_made(&self) -> Option<(&str, u32)> {
        let current = self.worker.as_ref()?.current()?;
        let ticket = self.making.iter().find(|ticket| ticket.id == current.id)?;
        Some((&ticket.label, ticket.percent()))
    }

    /// Says that the files that are being made for panes are no longer wanted.
    pub(super) fn stop_making(&self) {
        for ticket in &self.making {
            ticket.cancel();
        }
    }

    /// Saves the project file, on the worker.
    pub fn save(&mut self) {
        let Some(file) = &self.file else {
            let text = "This project has no file yet. Use 'Save as' to give it one.";
            return self.notices.say(NoticeKind::Warning, text);
        };
        match file.save_job(&mut self.document) {
            Ok(job) => {
                if let Some(worker) = &mut self.worker {
                    worker.submit("save", move |_context| Ended::Saved(job.run()));
                } else {
                    self.after_save(job.run());
                }
            }
            Err(fault) => self
                .notices
                .say(NoticeKind::Problem, sentence(&fault.to_string())),
        }
    }

    pub(super) fn finish_jobs(&mut self, ctx: &Context) {
        while let Some(done) = self.worker.as_mut().and_then(Worker::poll) {
            self.after_job(done);
        }
        if self.closing == Closing::WaitsForPhotos && !self.photos.is_writing() {
            self.closing = Closing::No;
            ctx.send_viewport_cmd(ViewportCommand::Close);
        }
        if self.closing == Closing::WaitsForJobs && !self.is_busy() {
            if self.document.unsaved_events() == 0 {
                self.closing = Closing::Agreed;
                ctx.send_viewport_cmd(ViewportCommand::Close);
            } else {
                self.closing = Closing::No;
                self.dialog = Some(OpenDialog::close_anyway());
            }
        }
    }

    fn after_job(&mut self, done: Done<Ended>) {
        let was_making = self.making.iter().any(|ticket| ticket.id == done.id);
        self.making.retain(|ticket| ticket.id != done.id);
        match done.outcome {
            Outcome::Finished(Ended::Saved(outcome)) => self.after_save(outcome),
            Outcome::Finished(Ended::Written(path)) => {
                let text = format!("Written: {}.", path.display());
                self.notices.say(NoticeKind::Done, text);
            }
            Outcome::Finished(Ended::Packed { path, left_out }) => self.after_packing(&path, &left_out),
            Outcome::Finished(Ended::Unpacked(project)) => self.after_unpacking(&project),
            Outcome::Finished(Ended::NotWritten(why)) => self.not_written(&why),
            Outcome::Finished(Ended::Stopped) | Outcome::Cancelled => {
                let text = format!("{} was stopped; nothing was written.", done.label);
                self.notices.say(NoticeKind::Done, text);
            }
            Outcome::Failed(why) if was_making => {
                let text = format!(
                    "{} could not be made ({why}); this is a fault of the program. Nothing was written.",
                    done.label
                );
                self.not_written(&text);
            }
            Outcome::Failed(why) => {
                let text =
                    format!("Saving failed ({why}). Every change is still in the journal; save again.");
                self.notices.say(NoticeKind::Problem, text);
            }
        }
    }

    /// Says why a file of a pane was not written, in a window that stays open for it.
    fn not_written(&mut self, why: &str) {
        self.closing = Closing::No;
        self.notices.say(NoticeKind::Problem, why);
    }

    fn after_save(&mut self, outcome: Result<Saved, StoreFault>) {
        match outcome {
            Ok(saved) => {
                saved.tell(&mut self.document);
                self.disk_fault = None;
                if self.closing == Closing::No {
                    self.notices.say(NoticeKind::Done, "Saved.");
                }
            }
            Err(fault) => {
                self.notices
                    .say(NoticeKind::Problem, sentence(&fault.to_string()));
                if let StoreFault::ChangedOutside { path } = fault {
                    self.ask_about_change(&path);
                }
            }
        }
    }

    /// When the window is asked to close: saves first, waits for files that are being written, and asks where saving
    /// is impossible.
    pub(super) fn consider_closing(&mut self, ctx: &Context) {
        let asked = ctx.input(|input| input.viewport().events.contains(&ViewportEvent::Close));
        if !asked || self.closing == Closing::Agreed {
            return;
        }
        if self.photos.is_writing() {
            ctx.send_viewport_cmd(ViewportCommand::CancelClose);
            self.closing = Closing::WaitsForPhotos;
            return;
        }
        if self.document.unsaved_events() == 0 {
            if self.is_busy() {
                ctx.send_viewport_cmd(ViewportCommand::CancelClose);
                self.closing = Closing::WaitsForJobs;
            }
            return;
        }
        let writable = self.file.as_ref().map(|file| file.read_only().is_none());
        match writable {
            Some(true) => {
                ctx.send_viewport_cmd(ViewportCommand::CancelClose);
                self.closing = Closing::WaitsForJobs;
                self.save();
                ctx.request_repaint();
            }
            Some(false) => {}
            None => {
                ctx.send_viewport_cmd(ViewportCommand::CancelClose);
                self.dialog = Some(OpenDialog::close_without_file());
            }
        }
    }

    /// Closes the window whatever is not saved.
    pub(super) fn close_now(&mut self, ctx: &Context) {
        self.closing = Closing::Agreed;
        ctx.send_viewport_cmd(ViewportCommand::Close);
    }

    // ---- asking for files ------------------------------------------------------------------------------

    fn folder(&self) -> Option<PathBuf> {
        let own = self
            .file
            .as_ref()
            .and_then(|file| file.path().parent().map(Path::to_path_buf));
        let recent = || {
            self.settings
                .recent
                .first()
                .and_then(|path| path.parent().map(Path::to_path_buf))
        };
        own.or_else(recent)
    }

    pub(super) fn ask(
        &mut self,
        ctx: &Context,
        asking: Asking,
        title: &str,
        kind: &str,
        endings: &[&str],
        name: Option<&str>,
    ) {
        let purpose = match asking {
            Asking::Open | Asking::Merge | Asking::Neighbour | Asking::PaneFile(_) | Asking::OpenPacked => {
                PathPurpose::Open
            }
            Asking::New { .. }
            | Asking::SaveAs
            | Asking::PaneSave(_)
            | Asking::SavePackage
            | Asking::OfPackage(_)
            | Asking::SavePacked
            | Asking::Restore(_)
            | Asking::UnpackTo(_) => PathPurpose::Save,
            Asking::Photos(..) => PathPurpose::OpenSeveral,
            Asking::PhotoFolder | Asking::OpenPackage => PathPurpose::Folder,
        };
        let start = match (self.folder(), name) {
            (Some(folder), Some(name)) => Some(folder.join(name)),
            (None, Some(name)) => Some(PathBuf::from(name)),
            (folder, None) => folder,
        };
        let request = PathRequest {
            title: title.to_owned(),
            purpose,
            kind: kind.to_owned(),
            extensions: endings.iter().map(|&ending| ending.to_owned()).collect(),
            start,
        };
        self.asking = Some(asking);
        self.prompt.ask(ctx, request);
    }

    pub(super) fn ask_open(&mut self, ctx: &Context) {
        self.ask(ctx, Asking::Open, "Open a project", "Project", &["ron"], None);
    }

    pub(super) fn ask_new(&mut self, ctx: &Context, about: About, year: i16) {
        let name = file_name(&about.name);
        self.ask(
            ctx,
            Asking::New { about, year },
            "Where the new project goes",
            "Project",
            &["ron"],
            Some(&name),
        );
    }

    pub(super) fn ask_save_as(&mut self, ctx: &Context) {
        let name = file_name(&self.document.project().about.name);
        self.ask(ctx, Asking::SaveAs, "Save as", "Project", &["ron"], Some(&name));
    }

    pub(super) fn ask_merge(&mut self, ctx: &Context) {
        let title = "Another copy of this project: of a second scorer, or of another computer";
        self.ask(ctx, Asking::Merge, title, "Project", &["ron"], None);
    }

    pub(super) fn ask_neighbour(&mut self, ctx: &Context) {
        let title = "The project of another grower";
        self.ask(ctx, Asking::Neighbour, title, "Project", &["ron"], None);
    }

    pub(super) fn ask_pane_file(&mut self, ctx: &Context, title: &str, endings: &[&str], ticket: Ticket) {
        self.ask(ctx, Asking::PaneFile(ticket), title, "File", endings, None);
    }

    pub(super) fn ask_pane_save(&mut self, ctx: &Context, name: &str, making: Making) {
        let ending = name.rsplit_once('.').map_or("", |(_, ending)| ending).to_owned();
        self.ask(
            ctx,
            Asking::PaneSave(making),
            "Save a file",
            "File",
            &[&ending],
            Some(name),
        );
    }

    /// Makes a file of a pane and writes it, on the worker.
    fn write_for_pane(&mut self, path: PathBuf, making: Making) {
        let name = path
            .file_name()
            .map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        self.make_on_worker(name, move |job| make_and_write(path, making, job));
    }

    /// Makes something on the worker, or at once where there is none.
    pub(super) fn make_on_worker(
        &mut self,
        name: String,
        work: impl FnOnce(&JobContext) -> Ended + Send + 'static,
    ) {
        if let Some(worker) = &mut self.worker {
            self.making.push(worker.submit(&name, work));
        } else {
            let outcome = Outcome::Finished(work(&JobContext::at_once()));
            self.after_job(Done {
                id: 0,
                label: name,
                outcome,
            });
        }
    }

    /// Draws the question for a file, if there is one, and acts on its answer.
    pub(super) fn prompt_ui(&mut self, ctx: &Context) {
        let Some(answer) = self.prompt.show(ctx) else {
            return;
        };
        let Some(asking) = self.asking.take() else { return };
        let mut paths = match answer {
            PathAnswer::Cancelled => return,
            PathAnswer::Chosen(path) => vec![path],
            PathAnswer::Several(paths) => paths,
        };
        if let Asking::Photos(tray, pass) = asking {
            self.take_photos(paths, tray, pass);
            return ctx.request_repaint();
        }
        let Some(path) = paths.pop() else { return };
        match asking {
            Asking::Photos(..) => {}
            Asking::PhotoFolder => self.search_photos(ctx, path),
            Asking::Open => {
                self.open_path(&path);
            }
            Asking::Merge => self.begin_merge(&path),
            Asking::Neighbour => self.show_neighbour(&path),
            Asking::New { about, year } => self.create(&path, about, year),
            Asking::SaveAs => self.save_as(ctx, &path),
            Asking::SavePackage => self.write_package(path),
            Asking::OpenPackage => self.open_package(ctx, &path),
            Asking::OfPackage(project) => self.create_of_package(&path, *project),
            Asking::SavePacked => self.write_packed(path),
            Asking::OpenPacked => self.ask_unpack_to(ctx, path),
            Asking::UnpackTo(zip) => self.unpack(zip, path),
            Asking::Restore(save) => self.restore(&save, &path),
            Asking::PaneFile(ticket) => self.read_for_pane(ticket, &path),
            Asking::PaneSave(making) => self.write_for_pane(path, making),
        }
        ctx.request_repaint();
    }

    /// Reads the project of another grower and shows it beside this one. Nothing is taken before that is confirmed.
    fn show_neighbour(&mut self, path: &Path) {
        match read_other(path) {
            Ok(opened) => {
                let stamp = Stamp {
                    at: (self.clock)(),
                    by: self.settings.who.clone(),
                };
                let ours = (&self.document, &self.insight);
                let found = Neighbour::new(ours, &opened.document, stamp, self.read_only());
                self.dialog = Some(OpenDialog::Neighbour(Box::new(found)));
            }
            Err(why) => {
                let text = format!("{} cannot be shown. {}", name_of(path), sentence(&why));
                self.notices.say(NoticeKind::Problem, text);
            }
        }
    }

    fn create(&mut self, path: &Path, about: About, year: i16) {
        self.settle();
        match project_file::create(path, Project::new(about), &lock::this_process()) {
            Ok(opened) => {
                self.take_up(opened);
                if let Err(problem) = self.run(&Command::AddSeason { year, planted: None }) {
                    self.say_problem(&problem);
                }
                self.season = self.document.project().latest_season().map(|season| season.id);
                self.pane = Pane::Harvest;
            }
            Err(fault) => self
                .notices
                .say(NoticeKind::Problem, sentence(&fault.to_string())),
        }
    }

    pub(super) fn save_as(&mut self, ctx: &Context, path: &Path) {
        if self.photos.is_writing() {
            let text =
                "Photos are still being put beside this project. Save it as another file when that is done.";
            return self.notices.say(NoticeKind::Warning, text);
        }
        let from = self.file.as_ref().map(|file| file.path().to_path_buf());
        let mut notes = Vec::new();
        let owner = lock::this_process();
        let saved: Result<ProjectFile, StoreFault> = match &self.file {
            Some(file) => file.save_as(path, &mut self.document, &owner, &mut notes),
            None => project_file::create(path, self.document.project().clone(), &owner).map(|opened| {
                let snapshot = self.document.snapshot();
                let unsaved = self.document.unsaved_events();
                self.document.mark_saved(&snapshot, unsaved);
                opened.file
            }),
        };
        match saved {
            Ok(file) => {
                self.settings.opened(file.path());
                self.notices
                    .say(NoticeKind::Done, format!("Saved as {}.", file.path().display()));
                let to = file.path().to_path_buf();
                fault_report::now_open(Some(&to));
                self.file = Some(file);
                self.disk_fault = None;
                self.carry_photos(ctx, from, to);
            }
            Err(fault) => self
                .notices
                .say(NoticeKind::Problem, sentence(&fault.to_string())),
        }
        for note in notes {
            self.notices.say(NoticeKind::Warning, sentence(&note));
        }
    }

    fn read_for_pane(&mut self, ticket: Ticket, path: &Path) {
        let name = path
            .file_name()
            .map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        let size = std::fs::metadata(path).map(|facts| facts.len());
        let read = match size {
            Ok(size) if size > MOST_BYTES => Err("it is larger than 1 GB".to_owned()),
            Ok(_) => std::fs::read(path).map_err(|error| error.to_string()),
            Err(error) => Err(error.to_string()),
        };
        match read {
            Ok(bytes) => self.files.push((
                ticket,
                FileBytes {
                    name,
                    bytes: bytes.into(),
                },
            )),
            Err(why) => {
                let text =
                    format!("{name} could not be read ({why}). Nothing was changed; choose another file.");
                self.notices.say(NoticeKind::Problem, text);
            }
        }
    }
}

/// Makes the content of a file and puts it in place, whole or not at all.
fn make_and_write(path: PathBuf, making: Making, job: &JobContext) -> Ended {
    let made = making.run(job);
    if job.cancelled() {
        return Ended::Stopped;
    }
    let written = made.and_then(|bytes| {
        atomic::write(&path, &bytes, |_bytes| Ok::<(), Infallible>(())).map_err(|fault| fault.to_string())
    });
    match written {
        Ok(()) => Ended::Written(path),
        Err(why) => Ended::NotWritten(sentence(&why)),
    }
}

/// Makes a file name of a project's name: letters, digits and hyphens.
pub(super) fn file_name(name: &str) -> String {
    let plain: String = name
        .chars()
        .map(|letter| if letter.is_alphanumeric() { letter } else { '-' })
        .collect();
    let parts: Vec<&str> = plain.split('-').filter(|part| !part.is_empty()).collect();
    if parts.is_empty() {
        "project.ron".to_owned()
    } else {
        format!("{}.ron", parts.join("-").to_lowercase())
    }
}

#[cfg(test)]
mod tests {
    use super::file_name;

    #[test]
    fn file_names_are_plain() {
        assert_eq!(file_name("DEMO Essel Thaw"), "demo-essel-thaw.ron");
        assert_eq!(file_name("../x/ y"), "x-y.ron");
        assert_eq!(file_name(" / "), "project.ron");
    }
}

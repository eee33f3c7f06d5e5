//! Data packages, the passport table and the log: the whole project for other programs, and what its journal tells.

use super::App;
use super::files::{Asking, Ended, file_name};
use crate::exchange::data_package;
use crate::exchange::passport::passport;
use crate::insight::audit::audit;
use crate::model::{Project, plural, sentence};
use crate::store::{history, lock, package_folder, project_file};
use crate::ui::context::Making;
use crate::ui::dialogs::OpenDialog;
use crate::ui::widgets::notice::NoticeKind;
use egui::Context;
use std::path::{Path, PathBuf};

/// So many problems of a package are told one by one.
const MOST_TOLD: usize = 4;

impl App {
    pub(super) fn ask_save_package(&mut self, ctx: &Context) {
        let name = file_name(&self.document.project().about.name).replace(".ron", "-tables");
        let title = "The new folder for the data package";
        self.ask(ctx, Asking::SavePackage, title, "Folder", &[], Some(&name));
    }

    pub(super) fn ask_open_package(&mut self, ctx: &Context) {
        let title = "The folder of a data package";
        self.ask(ctx, Asking::OpenPackage, title, "Folder", &[], None);
    }

    /// Asks where the passport table goes, and writes it there.
    pub(super) fn ask_save_passport(&mut self, ctx: &Context) {
        let project = self.document.snapshot();
        let name = file_name(&project.about.name).replace(".ron", "-passport.csv");
        self.ask_pane_save(ctx, &name, Making::new(move |_job| Ok(passport(&project))));
    }

    /// Writes the whole project as a data package, on the worker.
    pub(super) fn write_package(&mut self, path: PathBuf) {
        let project = self.document.snapshot();
        let name = path
            .file_name()
            .map_or_else(String::new, |name| name.to_string_lossy().into_owned());
        self.make_on_worker(name, move |_job| {
            let written = data_package::write(&project)
                .map_err(|fault| fault.to_string())
                .and_then(|files| {
                    package_folder::write(&path, &files, false).map_err(|fault| fault.to_string())
                });
            match written {
                Ok(()) => Ended::Written(path),
                Err(why) => Ended::NotWritten(sentence(&why)),
            }
        });
    }

    /// Reads a data package, says what is wrong with it, or asks where its project goes.
    pub(super) fn open_package(&mut self, ctx: &Context, folder: &Path) {
        let read = package_folder::read(folder)
            .map_err(|fault| vec![fault.to_string()])
            .and_then(|files| {
                data_package::read(&files)
                    .map_err(|problems| problems.iter().map(ToString::to_string).collect())
            });
        match read {
            Ok(project) => {
                let name = file_name(&project.about.name);
                let asking = Asking::OfPackage(Box::new(project));
                let title = "Where the project of the data package goes";
                self.ask(ctx, asking, title, "Project", &["ron"], Some(&name));
            }
            Err(problems) => {
                let mut text = "Nothing was taken from the data package.".to_owned();
                for problem in problems.iter().take(MOST_TOLD) {
                    // It begins with the name of a file, which keeps its small letter.
                    text.push(' ');
                    text.push_str(problem);
                    text.push('.');
                }
                if problems.len() > MOST_TOLD {
                    text.push_str(" And ");
                    text.push_str(&plural(problems.len() - MOST_TOLD, "more problem"));
                    text.push_str("; 'wintercrib import' lists all of them.");
                }
                self.notices.say(NoticeKind::Problem, text);
            }
        }
    }

    /// Begins a project file with what a data package held.
    pub(super) fn create_of_package(&mut self, path: &Path, project: Project) {
        self.settle();
        match project_file::create(path, project, &lock::this_process()) {
            Ok(opened) => self.take_up(opened),
            Err(fault) => self
                .notices
                .say(NoticeKind::Problem, sentence(&fault.to_string())),
        }
    }

    /// Shows who did what when, out of the journal.
    pub(super) fn show_log(&mut self) {
        let project = self.document.project();
        let Some(file) = &self.file else {
            let note = "This project has no file yet, so nothing is kept of what was done. Use 'Save as' to give it one.";
            self.dialog = Some(OpenDialog::log(Vec::new(), vec![note.to_owned()], project));
            return;
        };
        match history::read(file.path()) {
            Ok(history) => {
                let lines = audit(project, &history.events);
                self.dialog = Some(OpenDialog::log(lines, history.notes, project));
            }
            Err(fault) => self
                .notices
                .say(NoticeKind::Problem, sentence(&fault.to_string())),
        }
    }
}

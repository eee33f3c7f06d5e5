//! Earlier saves, and a project file that was changed by something else.

use super::App;
use super::files::{Asking, name_of, read_other};
use crate::model::{Command, Photo, Project, compare, sentence};
use crate::store::backups::{self, Backup};
use crate::store::project_file::ProjectFile;
use crate::store::{fault_report, first_free, history};
use crate::ui::dialogs::{Changed, OpenDialog, Saves, Stopped, TwoVersions};
use crate::ui::widgets::notice::NoticeKind;
use egui::Context;
use std::path::{Path, PathBuf};

impl App {
    /// Shows the earlier saves of the project that is open.
    pub(super) fn show_saves(&mut self) {
        let Some(path) = self.file.as_ref().map(|file| file.path().to_path_buf()) else {
            let text =
                "This project has no file yet, so no save of it is kept. Use 'Save as' to give it one.";
            return self.notices.say(NoticeKind::Warning, text);
        };
        match backups::list(&path) {
            Ok(saves) => self.dialog = Some(OpenDialog::Saves(Saves::new(&path, saves, None))),
            Err(fault) => self.notices.say(NoticeKind::Problem, fault.to_string()),
        }
    }

    /// Shows the earlier saves of a file that could not be opened, if there are any.
    pub(super) fn offer_saves(&mut self, path: &Path, why: &str) {
        match backups::list(path) {
            Ok(saves) if saves.is_empty() => {}
            Ok(saves) => {
                let why = format!("{why} These earlier saves of it are kept.");
                self.dialog = Some(OpenDialog::Saves(Saves::new(path, saves, Some(why))));
            }
            Err(fault) => self.notices.say(NoticeKind::Problem, fault.to_string()),
        }
    }

    /// Tells of a fault that stopped the program when this project was open last; from now on a report would go beside it.
    pub(super) fn tell_of_fault(&mut self) {
        let Some(path) = self.file.as_ref().map(|file| file.path().to_path_buf()) else {
            return fault_report::now_open(None);
        };
        fault_report::now_open(Some(&path));
        match fault_report::take(&path) {
            Ok(None) => {}
            Ok(Some(report)) => {
                let last = self.document.undo_label();
                self.dialog = Some(OpenDialog::Stopped(Stopped::new(&report, last)));
            }
            Err(error) => {
                let text = format!(
                    "The program stopped by a fault of its own when this project was open last. Its report, whose name ends in \
                     .fault.txt, could not be renamed ({error})."
                );
                self.notices.say(NoticeKind::Warning, text);
            }
        }
    }

    /// Asks where the copy of an earlier save goes.
    pub(super) fn ask_restore(&mut self, ctx: &Context, save: Backup) {
        let stem = save.path.parent().and_then(Path::file_stem).unwrap_or_default();
        let name = format!("{}-{}.ron", stem.to_string_lossy(), save.name());
        let title = "Where the copy of the earlier save goes";
        self.ask(
            ctx,
            Asking::Restore(save.path),
            title,
            "Project",
            &["ron"],
            Some(&name),
        );
    }

    /// Writes the copy of an earlier save and opens it.
    pub(super) fn restore(&mut self, save: &Path, to: &Path) {
        match backups::restore(save, to) {
            Ok(()) => {
                if self.open_path(to) {
                    let text = format!("An earlier save is open as a copy: {}.", to.display());
                    self.notices.say(NoticeKind::Done, text);
                }
            }
            Err(fault) => self.notices.say(NoticeKind::Problem, fault.to_string()),
        }
    }

    /// Asks what to do with a file that something else has changed.
    pub(super) fn ask_about_change(&mut self, theirs: &Path) {
        let now = (self.clock)();
        let stem = theirs
            .file_stem()
            .unwrap_or_default()
            .to_string_lossy()
            .into_owned();
        let day = now.strftime("%Y-%m-%dT%H-%M");
        let ours = first_free(|number| {
            let more = if number == 1 {
                String::new()
            } else {
                format!("-{number}")
            };
            theirs.with_file_name(format!("{stem}-ours-{day}{more}.ron"))
        });
        self.dialog = Some(OpenDialog::Changed(Changed::new(theirs, ours)));
    }

    /// Reads another copy of the project and shows what it has that this one lacks: first all but the counts, then those.
    /// Nothing is taken before that is confirmed.
    pub(super) fn begin_merge(&mut self, path: &Path) {
        let there = match read_other(path) {
            Ok(there) => there.document,
            Err(why) => return self.nothing_taken(path, &why),
        };
        // A project that was just saved beside the other one has its past in the journal there.
        let own = self.file.as_ref().map(ProjectFile::path);
        let journals: Vec<&Path> = [path].into_iter().chain(own).collect();
        match history::compare_with(&self.document, &journals, there.project()) {
            Ok(found) if found.has_counts_alone() => self.compare_counts(path, there.project()),
            Ok(found) => {
                let dialog = TwoVersions::new(path, found);
                self.dialog = Some(OpenDialog::Versions(Box::new(dialog)));
            }
            Err(fault) => self.nothing_taken(path, &fault.to_string()),
        }
    }

    /// Takes over what another version has, and then compares the counts of cells that both counted.
    pub(super) fn take_version(
        &mut self,
        ctx: &Context,
        command: Option<&Command>,
        photos: &[Photo],
        theirs: PathBuf,
    ) {
        let taken = command.is_none_or(|command| match self.run(command) {
            Ok(committed) => {
                self.document.close_step();
                let text = format!("Done: {}.", committed.label);
                self.notices.say(NoticeKind::Done, text);
                true
            }
            Err(problem) => {
                self.say_problem(&problem);
                false
            }
        });
        match read_other(&theirs) {
            Ok(there) => self.compare_counts(&theirs, there.document.project()),
            Err(why) => self.nothing_taken(&theirs, &why),
        }
        let ours = self.file.as_ref().map(|file| file.path().to_path_buf());
        if let Some(ours) = ours
            && taken
            && !photos.is_empty()
        {
            self.photos.carry(ctx, photos.iter(), theirs, ours);
        }
    }

    /// Shows the counts of another copy beside those of this one.
    fn compare_counts(&mut self, path: &Path, there: &Project) {
        match compare(self.document.project(), there) {
            Ok(comparison) => {
                let (project, who) = (self.document.project(), &self.settings.who);
                self.dialog = Some(OpenDialog::merge(name_of(path), comparison, project, who));
            }
            Err(fault) => self.nothing_taken(path, &fault.to_string()),
        }
    }

    fn nothing_taken(&mut self, path: &Path, why: &str) {
        let text = format!("Nothing was taken from {}. {}", name_of(path), sentence(why));
        self.notices.say(NoticeKind::Problem, text);
    }

    /// Saves this project beside the file that something else has changed, and compares the two.
    pub(super) fn keep_both(&mut self, ctx: &Context, theirs: &Path, ours: &Path) {
        self.save_as(ctx, ours);
        let is_ours = self
            .file
            .as_ref()
            .is_some_and(|file| file.path().ends_with(ours.file_name().unwrap_or_default()));
        if is_ours {
            self.begin_merge(theirs);
        }
    }
}

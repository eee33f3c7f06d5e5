//! Packed copies: the project and its photos in one zip, and out of it again.

use super::files::{Asking, Ended, file_name};
use super::{App, Closing};
use crate::model::{plural, sentence};
use crate::store::packed::{self, PackFault};
use crate::ui::widgets::notice::NoticeKind;
use egui::Context;
use std::path::{Path, PathBuf};

/// So many photos that are not in a packed copy are told one by one.
const MOST_TOLD: usize = 3;

impl App {
    pub(super) fn ask_save_packed(&mut self, ctx: &Context) {
        let name = file_name(&self.document.project().about.name).replace(".ron", ".zip");
        let title = "Where the packed copy goes: the project and its photos in one zip";
        self.ask(ctx, Asking::SavePacked, title, "Zip", &["zip"], Some(&name));
    }

    pub(super) fn ask_open_packed(&mut self, ctx: &Context) {
        let title = "A packed copy of a project";
        self.ask(ctx, Asking::OpenPacked, title, "Zip", &["zip"], None);
    }

    /// Asks for the folder that a packed copy is taken out into.
    pub(super) fn ask_unpack_to(&mut self, ctx: &Context, zip: PathBuf) {
        let name = zip
            .file_stem()
            .map_or_else(String::new, |stem| stem.to_string_lossy().into_owned());
        let title = "The new folder for the project and its photos";
        self.ask(ctx, Asking::UnpackTo(zip), title, "Folder", &[], Some(&name));
    }

    /// Packs the project as it is now, on the worker.
    pub(super) fn write_packed(&mut self, path: PathBuf) {
        let project = self.document.snapshot();
        let file = match &self.file {
            Some(file) => file.path().to_path_buf(),
            None => path.with_file_name(file_name(&project.about.name)),
        };
        self.make_on_worker(name_of(&path), move |job| {
            let packed = packed::pack(&project, &file, &path, |done| {
                job.progress(done);
                !job.cancelled()
            });
            match packed {
                Ok(packed) => {
                    let left_out = packed.left_out.iter().map(ToString::to_string).collect();
                    Ended::Packed { path, left_out }
                }
                Err(fault) => ended_early(&fault),
            }
        });
    }

    /// Takes a packed copy out into a new folder, on the worker; the project is opened then.
    pub(super) fn unpack(&mut self, zip: PathBuf, folder: PathBuf) {
        self.make_on_worker(name_of(&folder), move |job| {
            let unpacked = packed::unpack(&zip, &folder, |done| {
                job.progress(done);
                !job.cancelled()
            });
            match unpacked {
                Ok(unpacked) => Ended::Unpacked(unpacked.project),
                Err(fault) => ended_early(&fault),
            }
        });
    }

    pub(super) fn after_packing(&mut self, path: &Path, left_out: &[String]) {
        let text = format!("Written: {}.", path.display());
        self.notices.say(NoticeKind::Done, text);
        if left_out.is_empty() {
            return;
        }
        let mut text = format!(
            "{} not in the packed copy.",
            match left_out.len() {
                1 => "1 photo is".to_owned(),
                number => format!("{number} photos are"),
            }
        );
        for why in left_out.iter().take(MOST_TOLD) {
            text.push(' ');
            text.push_str(&sentence(why));
        }
        if left_out.len() > MOST_TOLD {
            let more = plural(left_out.len() - MOST_TOLD, "more photo");
            text = format!("{text} And {more}.");
        }
        self.notices.say(NoticeKind::Warning, text);
    }

    /// Opens the project that was unpacked, unless the window is about to close.
    pub(super) fn after_unpacking(&mut self, project: &Path) {
        if self.closing == Closing::No && self.open_path(project) {
            let text = format!("Unpacked and opened: {}.", project.display());
            self.notices.say(NoticeKind::Done, text);
        }
    }
}

fn ended_early(fault: &PackFault) -> Ended {
    match fault {
        PackFault::Stopped { .. } => Ended::Stopped,
        other => Ended::NotWritten(sentence(&other.to_string())),
    }
}

fn name_of(path: &Path) -> String {
    path.file_name()
        .map_or_else(String::new, |name| name.to_string_lossy().into_owned())
}

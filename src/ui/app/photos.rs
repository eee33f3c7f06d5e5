//! Photographs as the window handles them: asked for, put beside the project and noted in it, found again, taken along.

use super::App;
use super::files::Asking;
use crate::model::{Command, Pass, Photo, PhotoId, TrayId, plural};
use crate::ui::photos::{ENDINGS, KeptPhoto, NO_FILE, PhotoEvent, SearchEnd};
use crate::ui::widgets::notice::NoticeKind;
use egui::Context;
use std::path::PathBuf;

/// The most names that a sentence lists.
const MOST_NAMED: usize = 4;

impl App {
    /// Says whether anything is being done with photographs.
    pub fn is_busy_with_photos(&self) -> bool {
        self.photos.is_busy()
    }

    /// The shelf goes with the project that is open now.
    pub(super) fn open_photos(&mut self) {
        let path = self.file.as_ref().map(|file| file.path().to_path_buf());
        let left = self.photos.open(path);
        self.say_left(&left);
    }

    fn say_left(&mut self, left: &[String]) {
        if !left.is_empty() {
            let text = format!("{} not taken in: {}.", were(left.len()), list(left));
            self.notices.say(NoticeKind::Warning, text);
        }
    }

    // ---- taking in ---------------------------------------------------------------------------------------

    pub(super) fn ask_photos(&mut self, ctx: &Context, tray: TrayId, pass: Option<Pass>) {
        if self.may_take_photos() {
            let title = "Photos of the tray";
            self.ask(ctx, Asking::Photos(tray, pass), title, "Photos", &ENDINGS, None);
        }
    }

    pub(super) fn take_photos(&mut self, paths: Vec<PathBuf>, tray: TrayId, pass: Option<Pass>) {
        if self.may_take_photos() {
            self.photos.take_in(paths, tray, pass);
        }
    }

    fn may_take_photos(&mut self) -> bool {
        let why = match self.read_only() {
            _ if self.file.is_none() => Some(NO_FILE.to_owned()),
            Some(why) => Some(format!("No photo can be added here: {why}.")),
            None => None,
        };
        if let Some(why) = &why {
            self.notices.say(NoticeKind::Warning, why);
        }
        why.is_none()
    }

    /// Acts on what the photographs' thread has done, and hands it the next photograph.
    pub(super) fn finish_photos(&mut self, ctx: &Context) {
        for event in self.photos.poll(ctx) {
            match event {
                PhotoEvent::Kept(kept) => self.note_photo(kept),
                PhotoEvent::Known(name, file) => {
                    self.photos.forget_pictures();
                    let place = self.photo_called(&file).map(|photo| self.photo_place(photo));
                    let place = place.unwrap_or_else(|| "another tray".to_owned());
                    let text = format!("{name} is in this project already: it is {file}, of {place}.");
                    self.notices.say(NoticeKind::Warning, text);
                }
                PhotoEvent::NotKept(why) => {
                    let text = format!("{why} Nothing was added.");
                    self.notices.say(NoticeKind::Problem, text);
                }
                PhotoEvent::Found(end) => self.note_found(&end),
                PhotoEvent::NotFound(why) | PhotoEvent::Broke(why) => {
                    self.notices.say(NoticeKind::Problem, why);
                }
                PhotoEvent::Carried(faults) => {
                    self.photos.forget_pictures();
                    for fault in faults.iter().take(MOST_NAMED) {
                        let text = format!("A photo was not copied to the new place. {fault}");
                        self.notices.say(NoticeKind::Problem, text);
                    }
                    if faults.len() > MOST_NAMED {
                        let text = format!("{} photos in all were not copied.", faults.len());
                        self.notices.say(NoticeKind::Problem, text);
                    }
                }
            }
            ctx.request_repaint();
        }
        self.photos.go_on(ctx, self.document.project());
    }

    fn photo_called(&self, file: &str) -> Option<&Photo> {
        let mut photos = self.document.project().photos.iter();
        photos.find(|photo| photo.file == file)
    }

    fn photo_place(&self, photo: &Photo) -> String {
        let tray = self.document.project().trays.get(photo.tray);
        let tray = tray.map_or(0, |tray| tray.number);
        match photo.pass {
            Some(pass) => format!("tray {tray}, {pass} count"),
            None => format!("tray {tray}"),
        }
    }

    fn note_photo(&mut self, kept: KeptPhoto) {
        let photo = Photo {
            id: PhotoId(0),
            tray: kept.tray,
            pass: kept.pass,
            file: kept.file,
            digest: kept.digest,
            width: kept.size.0,
            height: kept.size.1,
            taken: kept.taken,
            corners: None,
        };
        self.document.close_step();
        match self.run(&Command::AddPhoto(photo.clone())) {
            // The pane shows it. A notice would lie over a corner that is to be dragged.
            Ok(_) => {}
            Err(problem) => self.say_problem(&problem),
        }
        if kept.ends_early {
            let text = format!(
                "The file {} breaks off: the lower part of the picture is grey. Copy it from the camera again.",
                photo.file
            );
            self.notices.say(NoticeKind::Warning, text);
        }
    }

    pub(super) fn stop_photos(&mut self) {
        let left = self.photos.cancel();
        self.say_left(&left);
    }

    /// Says so when photographs were dropped where no tray is shown.
    pub(super) fn say_unwanted_photos(&mut self) {
        if !self.photos.take_dropped().is_empty() {
            let text = "There is no tray here that a photo could belong to. Drop it where a tray is counted.";
            self.notices.say(NoticeKind::Warning, text);
        }
    }

    // ---- missing photographs -----------------------------------------------------------------------------

    pub(super) fn ask_photo_folder(&mut self, ctx: &Context) {
        if self.may_take_photos() {
            let title = "The folder in which missing photos are looked for";
            self.ask(ctx, Asking::PhotoFolder, title, "Folder", &[], None);
        }
    }

    pub(super) fn search_photos(&mut self, ctx: &Context, folder: PathBuf) {
        self.photos.search(ctx, self.document.project(), folder);
    }

    fn note_found(&mut self, end: &SearchEnd) {
        self.photos.forget_pictures();
        let mut renamed = Vec::new();
        let mut still: Vec<String> = Vec::new();
        for missing in &end.missing {
            let found = end
                .search
                .found
                .iter()
                .find(|found| found.digest == missing.digest);
            match found {
                None => still.push(missing.file.clone()),
                Some(found) if found.file == missing.file => {}
                Some(found) => {
                    if let Some(photo) = self.photo_called(&missing.file) {
                        let file = found.file.clone();
                        renamed.push(Photo {
                            file,
                            ..photo.clone()
                        });
                    }
                }
            }
        }
        self.document.close_step();
        for photo in renamed {
            if let Err(problem) = self.run(&Command::EditPhoto(photo)) {
                self.say_problem(&problem);
            }
        }
        let found = end.missing.len() - still.len();
        let looked = plural(end.search.looked_at, "picture");
        let unreadable = match end.search.unreadable {
            0 => String::new(),
            number => format!(" {number} files or folders could not be read."),
        };
        let whole = if end.search.whole || still.is_empty() {
            ""
        } else {
            " Not all of the folder was looked at; choose one that lies deeper."
        };
        let (kind, text) = match (end.missing.len(), still.len()) {
            (0, _) => (NoticeKind::Done, "No photo is missing.".to_owned()),
            (1, 0) => (NoticeKind::Done, "The missing photo was found again.".to_owned()),
            (missing, 0) => (
                NoticeKind::Done,
                format!("All {missing} missing photos were found again."),
            ),
            (missing, _) => {
                let text = format!(
                    "{found} of {missing} missing photos found again, among {looked}.{unreadable}{whole} Still missing: {}.",
                    list(&still)
                );
                (NoticeKind::Warning, text)
            }
        };
        self.notices.say(kind, text);
    }

    // ---- leaving -----------------------------------------------------------------------------------------

    /// Takes the photographs along to where the project was saved as.
    pub(super) fn carry_photos(&mut self, ctx: &Context, from: Option<PathBuf>, to: PathBuf) {
        self.open_photos();
        if let Some(from) = from {
            self.photos
                .carry(ctx, self.document.project().photos.iter(), from, to);
        }
    }
}

fn were(number: usize) -> String {
    if number == 1 {
        "1 photo was".to_owned()
    } else {
        format!("{number} photos were")
    }
}

fn list(names: &[String]) -> String {
    let shown = names
        .iter()
        .take(MOST_NAMED)
        .cloned()
        .collect::<Vec<_>>()
        .join(", ");
    match names.len().saturating_sub(MOST_NAMED) {
        0 => shown,
        more => format!("{shown} and {more} more"),
    }
}

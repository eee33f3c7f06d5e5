//! The photographs of the open project, as the window needs them: taken in, opened, straightened and read on a thread of
//! their own, so that no save waits for a photograph and no photograph holds up the window.
//!
//! A pane asks for a picture in every frame in which it shows it. What it gets is the picture, or that it is being made, or
//! why there is none. What nobody has asked for in the last frames is let go: in memory are the tray in view, the photograph
//! whose corners are dragged, and few cells.

mod work;

pub use work::{KeptPhoto, SearchEnd};

use crate::jobs::{JobContext, Outcome, Ticket, Wake, Worker};
use crate::model::{Pass, Photo, Project, TrayId};
use crate::photo::{CellGrid, Corners, Proposal, RectMm, RgbImage};
use crate::store::photos::PhotoFile;
use egui::{ColorImage, Context, TextureHandle, TextureOptions};
use std::collections::VecDeque;
use std::path::PathBuf;
use std::sync::Arc;
use work::{CellImage, Done, Intake, Source, StraightTray};

/// Endings of the names of photographs that are read.
pub const ENDINGS: [&str; 4] = ["jpg", "jpeg", "png", "jpe"];

/// What is seen around a cell in its picture, in millimetres: roots grow over its border.
pub const AROUND_MM: f64 = 6.0;

/// The most pictures of cells that are kept without being in view.
const MOST_CELLS: usize = 12;

/// The most first readings that are kept: one of each photograph lately in view.
const MOST_READINGS: usize = 12;

/// How many frames a picture is kept without being asked for.
const FRAMES_KEPT: u64 = 1;

/// A photograph with corners: what its straightened picture depends on.
#[derive(Debug, Clone, PartialEq)]
pub struct SeenAs {
    photo: PhotoFile,
    corners: Corners,
    grid: CellGrid,
}

impl SeenAs {
    /// Joins a photograph with the cells of its tray; none while its corners are not set or its tray is gone.
    pub fn of(project: &Project, photo: &Photo) -> Option<Self> {
        Some(Self {
            photo: PhotoFile::of(photo),
            corners: photo.corners?,
            grid: grid_of(project, photo.tray)?,
        })
    }

    /// Gives the cells of the tray.
    pub fn grid(&self) -> &CellGrid {
        &self.grid
    }
}

/// Gives the cells of a tray as photographs are straightened to.
pub fn grid_of(project: &Project, tray: TrayId) -> Option<CellGrid> {
    let plan = &project.test_of_tray(tray)?.plan;
    let tray = project.trays.get(tray)?;
    Some(CellGrid {
        rows: tray.rows,
        columns: tray.columns,
        cell_width_mm: plan.cell_width_mm,
        cell_height_mm: plan.cell_height_mm,
        aisle_mm: plan.aisle_mm,
    })
}

/// Gives all photographs that a project names.
pub fn named(project: &Project) -> Vec<PhotoFile> {
    project.photos.iter().map(PhotoFile::of).collect()
}

/// A first reading: what each cell that is counted seems to show, by row and column.
pub type FirstReading = Vec<(u16, u16, Proposal)>;

/// A cell, by row and column, in a photograph.
type CellOf = (SeenAs, (u16, u16));

/// A photograph that was read, and the state of what is laid.
type ReadingOf = (SeenAs, [u64; 2]);

/// A picture that a pane asked for.
#[derive(Debug, Clone)]
pub enum Shown<T> {
    /// Here it is.
    Ready(T),
    /// It is being made; ask again in the next frame.
    Waiting,
    /// There is none, and why.
    Failed(String),
}

/// A whole photograph: small for the screen, and all its pixels.
#[derive(Clone)]
pub struct WholePhoto {
    /// All pixels.
    pub pixels: Arc<RgbImage>,
    /// The picture for the screen until it is the texture.
    shown: Option<Arc<ColorImage>>,
    texture: Option<TextureHandle>,
}

impl WholePhoto {
    fn new(pixels: Arc<RgbImage>, shown: ColorImage) -> Self {
        Self {
            pixels,
            shown: Some(Arc::new(shown)),
            texture: None,
        }
    }

    /// Gives the picture for the screen.
    pub fn texture(&self) -> Option<&TextureHandle> {
        self.texture.as_ref()
    }
}

impl std::fmt::Debug for WholePhoto {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "photo of {:?} pixels", self.pixels.dimensions())
    }
}

/// The picture of one cell.
#[derive(Clone)]
pub struct CellPicture {
    /// The picture.
    pub texture: TextureHandle,
    /// The part of the tray that it shows, in millimetres: the cell and a little around it.
    pub part: RectMm,
    /// The cell itself.
    pub cell: RectMm,
}

/// What a job of a picture is to make.
#[derive(Debug, Clone, PartialEq)]
enum Want {
    Whole(PhotoFile),
    Tray(SeenAs),
    Cell(SeenAs, (u16, u16)),
    Reading(SeenAs, [u64; 2]),
}

impl Want {
    fn photo(&self) -> &PhotoFile {
        match self {
            Self::Whole(photo) => photo,
            Self::Tray(seen) | Self::Cell(seen, _) | Self::Reading(seen, _) => &seen.photo,
        }
    }
}

/// Something that is kept while it is asked for.
struct Kept<K, T> {
    key: K,
    what: T,
    /// The frame in which it was last asked for.
    last: u64,
}

/// What has happened to photographs, for the window to act on.
#[derive(Debug)]
pub enum PhotoEvent {
    /// A photograph lies beside the project and has to be noted in it.
    Kept(KeptPhoto),
    /// A photograph that the project has already: its name where it came from, and in the project.
    Known(String, String),
    /// A photograph was not taken in, and why.
    NotKept(String),
    /// A search for missing photographs has ended.
    Found(SearchEnd),
    /// A search failed.
    NotFound(String),
    /// Photographs were copied to a project's new place; what could not be.
    Carried(Vec<String>),
    /// A job broke off by a fault of the program.
    Broke(String),
}

/// The photographs of the open project.
#[derive(Default)]
pub struct PhotoShelf {
    /// The project's file; none while it has none.
    project: Option<PathBuf>,
    /// Whether photographs are read at first.
    reads: bool,
    worker: Option<Worker<Done>>,
    waiting: VecDeque<Intake>,
    /// How many photographs were asked for since the shelf was last idle.
    asked: usize,
    /// The job that writes, if one does, and the project for which it does.
    writing: Option<(Ticket, Option<PathBuf>)>,
    /// The picture that is being made, the frame in which it was last asked for, and its job.
    making: Option<(Want, u64, Ticket)>,
    whole: Option<Kept<PhotoFile, WholePhoto>>,
    tray: Option<Kept<SeenAs, Arc<StraightTray>>>,
    cells: Vec<Kept<CellOf, CellPicture>>,
    readings: Vec<Kept<ReadingOf, Arc<FirstReading>>>,
    faults: Vec<(Want, String)>,
    frame: u64,
    dropped: Vec<PathBuf>,
}

impl PhotoShelf {
    /// Clears the shelf for another project, or the same one at another place. Gives the names of the photographs that
    /// were still to be taken in and now are not.
    pub fn open(&mut self, project: Option<PathBuf>) -> Vec<String> {
        self.forget_pictures();
        if let Some((_, _, ticket)) = &self.making {
            ticket.cancel();
        }
        self.project = project;
        self.drop_waiting()
    }

    /// Says where photographs lie: beside the project's file. None while it has no file.
    pub fn project(&self) -> Option<&PathBuf> {
        self.project.as_ref()
    }

    /// Says whether photographs are read at first.
    pub fn reads(&self) -> bool {
        self.reads
    }

    /// Sets whether photographs are read at first.
    pub fn set_reads(&mut self, reads: bool) {
        self.reads = reads;
    }

    /// Says whether anything is being written beside the project, or waits for it.
    pub fn is_writing(&self) -> bool {
        self.writing.is_some() || !self.waiting.is_empty()
    }

    /// Says whether anything is being done.
    pub fn is_busy(&self) -> bool {
        self.is_writing() || self.making.is_some()
    }

    /// Says what is being written, for the screen.
    pub fn says(&self) -> Option<String> {
        let (job, _) = self.writing.as_ref()?;
        let now = self.asked - self.waiting.len().min(self.asked);
        Some(match (job.label.as_str(), self.asked) {
            (TAKE_IN, 2..) => format!("Taking in photo {now} of {}…", self.asked),
            (TAKE_IN, _) => "Taking in the photo…".to_owned(),
            (SEARCH, _) => format!("Looking for missing photos… {} %", job.percent()),
            (CARRY, _) => "Copying the photos beside the new file…".to_owned(),
            _ => "Working on a photo…".to_owned(),
        })
    }

    /// Gives up what is waiting and what can be given up.
    pub fn cancel(&mut self) -> Vec<String> {
        if let Some((job, _)) = &self.writing
            && job.label == SEARCH
        {
            job.cancel();
        }
        self.drop_waiting()
    }

    fn drop_waiting(&mut self) -> Vec<String> {
        self.asked = 0;
        let name = |intake: Intake| {
            let name = intake.path.file_name();
            name.map_or_else(String::new, |name| name.to_string_lossy().into_owned())
        };
        std::mem::take(&mut self.waiting).into_iter().map(name).collect()
    }

    /// Forgets all pictures, and why there were none: they are made anew when asked for.
    pub fn forget_pictures(&mut self) {
        (self.whole, self.tray) = (None, None);
        self.cells.clear();
        self.readings.clear();
        self.faults.clear();
    }

    // ---- dropped files -----------------------------------------------------------------------------------

    /// Notes a file that was dropped on the window.
    pub fn drop_file(&mut self, path: PathBuf) {
        self.dropped.push(path);
    }

    /// Gives the files that were dropped since it was last asked.
    pub fn take_dropped(&mut self) -> Vec<PathBuf> {
        std::mem::take(&mut self.dropped)
    }

    // ---- what writes -------------------------------------------------------------------------------------

    /// Takes photographs in, one after another.
    pub fn take_in(&mut self, paths: Vec<PathBuf>, tray: TrayId, pass: Option<Pass>) {
        if !self.is_writing() {
            self.asked = 0;
        }
        self.asked += paths.len();
        let intake = |path| Intake { path, tray, pass };
        self.waiting.extend(paths.into_iter().map(intake));
    }

    /// Hands the next photograph to the worker, if one waits.
    pub fn go_on(&mut self, ctx: &Context, project: &Project) {
        if self.writing.is_some() || self.waiting.is_empty() {
            return;
        }
        let Some(path) = self.project.clone() else {
            self.drop_waiting();
            return;
        };
        let Some(intake) = self.waiting.pop_front() else {
            return;
        };
        let named = named(project);
        self.write(ctx, TAKE_IN, move |_| work::take_in(&path, &intake, &named));
    }

    /// Looks for missing photographs in a folder.
    pub fn search(&mut self, ctx: &Context, project: &Project, folder: PathBuf) {
        let Some(path) = self.project.clone() else { return };
        let named = named(project);
        self.write(ctx, SEARCH, move |job| work::search(&path, &named, &folder, job));
    }

    /// Copies photographs to the folder of a project: one that was saved as another file, or into which they were taken
    /// over.
    pub fn carry<'a>(
        &mut self,
        ctx: &Context,
        photos: impl Iterator<Item = &'a Photo>,
        from: PathBuf,
        to: PathBuf,
    ) {
        let named: Vec<PhotoFile> = photos.map(PhotoFile::of).collect();
        if !named.is_empty() {
            self.write(ctx, CARRY, move |_| work::carry(&from, &to, &named));
        }
    }

    /// Gives the work that makes a copy of a photograph without the place, time and camera that its file tells.
    pub fn clean_copy(
        &self,
        photo: &Photo,
    ) -> Option<impl FnOnce(&JobContext) -> Result<Vec<u8>, String> + Send + use<>> {
        let (path, photo) = (self.project.clone()?, PhotoFile::of(photo));
        Some(move |_: &JobContext| work::clean_copy(&path, &photo))
    }

    fn write(&mut self, ctx: &Context, label: &str, job: impl FnOnce(&JobContext) -> Done + Send + 'static) {
        let project = self.project.clone();
        if let Some(ticket) = self.submit(ctx, label, job) {
            self.writing = Some((ticket, project));
        }
    }

    fn submit(
        &mut self,
        ctx: &Context,
        label: &str,
        job: impl FnOnce(&JobContext) -> Done + Send + 'static,
    ) -> Option<Ticket> {
        if self.worker.is_none() {
            let ctx = ctx.clone();
            let wake: Wake = Arc::new(move || ctx.request_repaint());
            self.worker = Worker::new("photos", wake)
                .inspect_err(|error| tracing::error!("no thread for photographs: {error}"))
                .ok();
        }
        self.worker.as_mut().map(|worker| worker.submit(label, job))
    }

    /// Takes what the worker has done and gives what has happened.
    pub fn poll(&mut self, ctx: &Context) -> Vec<PhotoEvent> {
        let mut events = Vec::new();
        while let Some(done) = self.worker.as_mut().and_then(Worker::poll) {
            let wrote = self.writing.take_if(|(job, _)| job.id == done.id);
            let is_elsewhere = wrote.is_some_and(|(_, project)| project != self.project);
            let made = self.making.take_if(|(_, _, job)| job.id == done.id);
            match done.outcome {
                // What was done for a project that is no longer open must not be noted in this one.
                Outcome::Finished(Done::Kept(kept)) if is_elsewhere => {
                    let text = format!("{} was not taken in, as another project was opened.", kept.file);
                    events.push(PhotoEvent::NotKept(text));
                }
                Outcome::Finished(_) if is_elsewhere => {}
                Outcome::Finished(what) => events.extend(self.put(ctx, made, what)),
                Outcome::Cancelled => {}
                Outcome::Failed(why) => match made {
                    Some((want, ..)) => self.faults.push((want, broke(&why))),
                    None => events.push(PhotoEvent::Broke(broke(&why))),
                },
            }
        }
        events
    }

    fn put(&mut self, ctx: &Context, made: Option<(Want, u64, Ticket)>, what: Done) -> Option<PhotoEvent> {
        match what {
            Done::Kept(kept) => return Some(PhotoEvent::Kept(kept)),
            Done::Known { name, file } => return Some(PhotoEvent::Known(name, file)),
            Done::NotKept(why) => return Some(PhotoEvent::NotKept(ended(why))),
            Done::Search(Ok(end)) => return Some(PhotoEvent::Found(end)),
            Done::Search(Err(why)) => return Some(PhotoEvent::NotFound(ended(why))),
            Done::Carried(faults) => {
                return Some(PhotoEvent::Carried(faults.into_iter().map(ended).collect()));
            }
            Done::Whole(_) | Done::Tray(_) | Done::Cell(_) | Done::Reading(_) => {}
        }
        // A picture that is no longer wanted, as another project was opened, has no taker.
        let (want, last, job) = made?;
        if job.is_cancelled() {
            return None;
        }
        let fault = match (what, &want) {
            (Done::Whole(Ok(whole)), Want::Whole(photo)) => {
                let key = photo.clone();
                self.whole = Some(Kept {
                    key,
                    what: whole,
                    last,
                });
                None
            }
            (Done::Tray(Ok(tray)), Want::Tray(seen)) => {
                let key = seen.clone();
                let what = Arc::new(tray);
                self.tray = Some(Kept { key, what, last });
                None
            }
            (Done::Cell(Ok(cell)), Want::Cell(seen, place)) => {
                self.keep_cell(ctx, seen, *place, cell);
                None
            }
            (Done::Reading(Ok(read)), Want::Reading(seen, revision)) => {
                let key = (seen.clone(), *revision);
                let what = Arc::new(read);
                self.readings.push(Kept { key, what, last });
                None
            }
            (
                Done::Whole(Err(why)) | Done::Tray(Err(why)) | Done::Cell(Err(why)) | Done::Reading(Err(why)),
                _,
            ) => Some(why),
            _ => None,
        };
        if let Some(why) = fault {
            self.faults.push((want, ended(why)));
        }
        None
    }

    // ---- pictures ----------------------------------------------------------------------------------------

    /// Begins a frame.
    pub fn begin_frame(&mut self) {
        self.frame += 1;
    }

    /// Ends a frame: what was not asked for lately is let go.
    pub fn end_frame(&mut self, ctx: &Context) {
        let oldest = self.frame.saturating_sub(FRAMES_KEPT);
        self.whole.take_if(|kept| kept.last < oldest);
        self.tray.take_if(|kept| kept.last < oldest);
        drop_oldest(&mut self.cells, MOST_CELLS, oldest);
        drop_oldest(&mut self.readings, MOST_READINGS, oldest);
        if let Some((_, last, job)) = &self.making
            && *last < oldest
        {
            job.cancel();
        }
        // What is large goes soon, also when nobody touches the window.
        let frame = self.frame;
        let is_idle = self.whole.as_ref().is_some_and(|kept| kept.last < frame)
            || self.tray.as_ref().is_some_and(|kept| kept.last < frame);
        if is_idle {
            ctx.request_repaint();
        }
        let excess = self.faults.len().saturating_sub(64);
        self.faults.drain(..excess);
    }

    fn source(&self, photo: &PhotoFile) -> Option<Source> {
        if let Some(open) = self.whole.as_ref().filter(|kept| kept.key == *photo) {
            return Some(Source::Open(Arc::clone(&open.what.pixels)));
        }
        Some(Source::File {
            project: self.project.clone()?,
            photo: photo.clone(),
        })
    }

    /// Has a picture made, unless another one is; says why it cannot be.
    fn make<T>(
        &mut self,
        ctx: &Context,
        want: Want,
        job: impl FnOnce(Source, &JobContext) -> Done + Send + 'static,
    ) -> Shown<T> {
        if let Some((_, why)) = self.faults.iter().find(|(failed, _)| *failed == want) {
            return Shown::Failed(why.clone());
        }
        if let Some((made, last, _)) = &mut self.making {
            if *made == want {
                *last = self.frame;
            }
            return Shown::Waiting;
        }
        let Some(source) = self.source(want.photo()) else {
            return Shown::Failed(NO_FILE.to_owned());
        };
        match self.submit(ctx, PICTURE, move |context| job(source, context)) {
            Some(ticket) => {
                self.making = Some((want, self.frame, ticket));
                Shown::Waiting
            }
            None => Shown::Failed("No second thread could be started, so photos are not shown.".to_owned()),
        }
    }

    /// Gives a whole photograph.
    pub fn whole(&mut self, ctx: &Context, photo: &Photo) -> Shown<WholePhoto> {
        let photo = PhotoFile::of(photo);
        let frame = self.frame;
        if let Some(kept) = self.whole.as_mut().filter(|kept| kept.key == photo) {
            kept.last = frame;
            if let Some(shown) = kept.what.shown.take() {
                kept.what.texture = Some(ctx.load_texture("photo", shown, TextureOptions::LINEAR));
            }
            return Shown::Ready(kept.what.clone());
        }
        self.make(ctx, Want::Whole(photo), |source, _| work::whole(source))
    }

    /// Gives the picture of a cell of the tray in view, whose other cells are wanted soon. `landmarks` gives the cells that
    /// were left empty on purpose.
    pub fn cell_in_view(
        &mut self,
        ctx: &Context,
        seen: &SeenAs,
        place: (u16, u16),
        landmarks: impl FnOnce() -> Vec<(u16, u16)>,
    ) -> Shown<CellPicture> {
        let frame = self.frame;
        if let Some(kept) = self.tray.as_mut().filter(|kept| kept.key == *seen) {
            kept.last = frame;
            return self.cell(ctx, seen, place);
        }
        let (key, landmarks) = (seen.clone(), landmarks());
        let made = self.make(ctx, Want::Tray(seen.clone()), move |source, job| {
            work::tray(source, &key, &landmarks, job)
        });
        self.cell_at(seen, place).map_or(made, Shown::Ready)
    }

    /// Gives the picture of one cell.
    pub fn cell(&mut self, ctx: &Context, seen: &SeenAs, place: (u16, u16)) -> Shown<CellPicture> {
        if let Some(picture) = self.cell_at(seen, place) {
            return Shown::Ready(picture);
        }
        if let Some(tray) = self.tray.as_ref().filter(|kept| kept.key == *seen) {
            let image = tray.what.cut(&seen.grid, place);
            return Shown::Ready(self.keep_cell(ctx, seen, place, image));
        }
        let key = seen.clone();
        self.make(ctx, Want::Cell(seen.clone(), place), move |source, _| {
            work::cell(source, &key, place)
        })
    }

    fn keep_cell(
        &mut self,
        ctx: &Context,
        seen: &SeenAs,
        place: (u16, u16),
        image: CellImage,
    ) -> CellPicture {
        let picture = CellPicture {
            texture: ctx.load_texture("photo of a cell", image.image, TextureOptions::LINEAR),
            part: image.part,
            cell: seen.grid.cell(place.0, place.1),
        };
        self.cells.push(Kept {
            key: (seen.clone(), place),
            what: picture.clone(),
            last: self.frame,
        });
        picture
    }

    /// A picture of a cell that is kept already.
    fn cell_at(&mut self, seen: &SeenAs, place: (u16, u16)) -> Option<CellPicture> {
        let frame = self.frame;
        let is_it = |kept: &&mut Kept<CellOf, CellPicture>| kept.key.1 == place && kept.key.0 == *seen;
        let kept = self.cells.iter_mut().find(is_it)?;
        kept.last = frame;
        Some(kept.what.clone())
    }

    /// Says by how many quarter turns the landmarks show a photograph to be turned, once its tray is straightened.
    pub fn turned(&self, seen: &SeenAs) -> Option<u8> {
        let kept = self.tray.as_ref().filter(|kept| kept.key == *seen)?;
        kept.what.turned
    }

    /// Gives the first reading of a photograph. `revision` tells one state of what is laid from another; `laid` gives the
    /// kernels of each cell that is counted, in reading order.
    pub fn reading(
        &mut self,
        ctx: &Context,
        seen: &SeenAs,
        revision: [u64; 2],
        laid: impl FnOnce() -> Vec<((u16, u16), u16)>,
    ) -> Shown<Arc<FirstReading>> {
        let frame = self.frame;
        let key = (seen.clone(), revision);
        if let Some(kept) = self.readings.iter_mut().find(|kept| kept.key == key) {
            kept.last = frame;
            return Shown::Ready(Arc::clone(&kept.what));
        }
        let (seen, laid) = (key.0, laid());
        self.make(ctx, Want::Reading(seen.clone(), revision), move |source, _| {
            work::reading(source, &seen, &laid)
        })
    }
}

const TAKE_IN: &str = "take in";
const SEARCH: &str = "search";
const CARRY: &str = "carry";
const PICTURE: &str = "picture";

/// Why there are no photographs.
pub const NO_FILE: &str = "This project has no file yet, and photos lie beside it. Use 'Save as' first.";

/// Ends a message with a full stop; its beginning stays, as it may be the name of a file.
fn ended(mut text: String) -> String {
    if !text.ends_with(['.', '?', '!']) {
        text.push('.');
    }
    text
}

fn broke(why: &str) -> String {
    format!("Working on a photo broke off by a fault of the program ({why}). Nothing was changed.")
}

/// Lets the oldest go that were not asked for since a frame, beyond a number.
fn drop_oldest<K, T>(kept: &mut Vec<Kept<K, T>>, most: usize, oldest: u64) {
    while kept.len() > most {
        let last = kept.iter().enumerate().min_by_key(|(_, kept)| kept.last);
        match last {
            Some((at, kept_last)) if kept_last.last < oldest => {
                kept.swap_remove(at);
            }
            _ => return,
        }
    }
}

impl Drop for PhotoShelf {
    /// Nobody looks at a picture any more; what is written is finished.
    fn drop(&mut self) {
        if let Some((_, _, job)) = &self.making {
            job.cancel();
        }
    }
}

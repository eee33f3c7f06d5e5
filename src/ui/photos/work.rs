//! What is done with photographs on their own thread. Each job owns what it needs and answers with [`Done`].

use super::{AROUND_MM, FirstReading, SeenAs, WholePhoto};
use crate::jobs::JobContext;
use crate::model::{Pass, TrayId};
use crate::photo::{self, CellGrid, Limits, Photograph, RectMm, RgbImage, Straightened};
use crate::store::photos::{self, PhotoFile, PhotoFileFault, Search};
use egui::ColorImage;
use jiff::civil::DateTime;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The longest side of a cell's picture, in pixels.
const MOST_CELL_PX: f64 = 800.0;

/// The most pixels of a straightened tray: 120 MB.
const MOST_TRAY_PX: f64 = 40e6;

/// The longest side of a straightened tray, in pixels.
const MOST_TRAY_SIDE_PX: f64 = 8192.0;

/// The longest side of a photograph as it is shown whole, in pixels.
const MOST_WHOLE_PX: u32 = 2048;

/// What a job gives back.
pub(super) enum Done {
    /// A photograph lies beside the project.
    Kept(KeptPhoto),
    /// A photograph is one that the project has.
    Known {
        /// What it was called where it came from.
        name: String,
        /// What the project calls it.
        file: String,
    },
    /// A photograph was not taken in.
    NotKept(String),
    /// The whole photograph.
    Whole(Result<WholePhoto, String>),
    /// A straightened tray.
    Tray(Result<StraightTray, String>),
    /// One cell.
    Cell(Result<CellImage, String>),
    /// The first reading, cell by cell.
    Reading(Result<FirstReading, String>),
    /// A search has ended.
    Search(Result<SearchEnd, String>),
    /// Photographs were copied to a project's new place; what could not be.
    Carried(Vec<String>),
}

/// A photograph that was taken in.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptPhoto {
    /// The name of its file in the project's folder of photographs.
    pub file: String,
    /// The digest of its bytes.
    pub digest: String,
    /// Width and height in pixels, upright.
    pub size: (u32, u32),
    /// When it was taken, by the camera's clock.
    pub taken: Option<DateTime>,
    /// Whether its file breaks off.
    pub ends_early: bool,
    /// The tray that it is of.
    pub tray: TrayId,
    /// The count at which it was taken.
    pub pass: Option<Pass>,
}

/// A photograph to be taken in.
#[derive(Debug, Clone)]
pub(super) struct Intake {
    pub path: PathBuf,
    pub tray: TrayId,
    pub pass: Option<Pass>,
}

/// How a search for missing photographs ended.
#[derive(Debug, PartialEq, Eq)]
pub struct SearchEnd {
    /// The photographs that were missing.
    pub missing: Vec<PhotoFile>,
    /// What was found.
    pub search: Search,
}

/// A tray as seen from straight above.
#[derive(Debug)]
pub(super) struct StraightTray {
    image: RgbImage,
    part: RectMm,
    /// By how many quarter turns the landmarks say that the photograph is turned, if they say so.
    pub turned: Option<u8>,
}

/// The picture of one cell, and which part of the tray it shows.
#[derive(Debug, Clone)]
pub(super) struct CellImage {
    pub image: ColorImage,
    pub part: RectMm,
}

fn name_of(path: &Path) -> String {
    path.file_name().map_or_else(
        || "The photo".to_owned(),
        |name| name.to_string_lossy().into_owned(),
    )
}

/// Takes a photograph in: it must be one, within limits; then it is kept as it is beside the project.
pub(super) fn take_in(project: &Path, intake: &Intake, named: &[PhotoFile]) -> Done {
    let name = name_of(&intake.path);
    let bytes = match photos::read_file(&intake.path) {
        Ok(bytes) => bytes,
        Err(fault) => return Done::NotKept(fault.to_string()),
    };
    let photograph = match photo::decode(&name, &bytes, &Limits::default()) {
        Ok(photograph) => photograph,
        Err(fault) => return Done::NotKept(fault.to_string()),
    };
    let kept = match photos::keep(project, &name, &bytes, named) {
        Ok(kept) => kept,
        Err(fault) => return Done::NotKept(fault.to_string()),
    };
    if named.contains(&kept) {
        return Done::Known {
            name,
            file: kept.file,
        };
    }
    Done::Kept(KeptPhoto {
        file: kept.file,
        digest: kept.digest,
        size: photograph.picture.dimensions(),
        taken: photograph.taken,
        ends_early: photograph.ends_early,
        tray: intake.tray,
        pass: intake.pass,
    })
}

/// Where a job gets the pixels from: memory, where the photograph is open already, or the disk.
pub(super) enum Source {
    Open(Arc<RgbImage>),
    File { project: PathBuf, photo: PhotoFile },
}

impl Source {
    fn pixels(self) -> Result<Arc<RgbImage>, String> {
        match self {
            Self::Open(pixels) => Ok(pixels),
            Self::File { project, photo } => {
                let bytes = photos::read(&project, &photo).map_err(|fault| fault.to_string())?;
                let Photograph { picture, .. } = photo::decode(&photo.file, &bytes, &Limits::default())
                    .map_err(|fault| fault.to_string())?;
                Ok(Arc::new(picture))
            }
        }
    }
}

/// Opens a whole photograph.
pub(super) fn whole(source: Source) -> Done {
    let open = |pixels: Arc<RgbImage>| {
        let small = photo::shrink(&pixels, MOST_WHOLE_PX);
        let shown = image_of(&small);
        WholePhoto::new(pixels, shown)
    };
    Done::Whole(source.pixels().map(open))
}

fn image_of(picture: &RgbImage) -> ColorImage {
    let (width, height) = picture.dimensions();
    ColorImage::from_rgb([width as usize, height as usize], picture)
}

fn straightened(seen: &SeenAs) -> Result<Straightened, String> {
    Straightened::new(seen.grid, &seen.corners).map_err(|fault| format!("{}: {fault}", seen.photo.file))
}

/// Pixels to a millimetre at which a tray is kept: as fine as its photograph, within bounds.
fn scale_of(tray: &Straightened) -> f64 {
    let CellGrid {
        cell_width_mm,
        cell_height_mm,
        ..
    } = *tray.grid();
    let all = tray.grid().all().grown(AROUND_MM);
    let by_cell = MOST_CELL_PX / (cell_width_mm.max(cell_height_mm) + 2.0 * AROUND_MM);
    let by_area = (MOST_TRAY_PX / (all.width * all.height)).sqrt();
    let by_side = MOST_TRAY_SIDE_PX / all.width.max(all.height);
    tray.px_per_mm().min(by_cell).min(by_area).min(by_side)
}

/// Straightens a tray. `landmarks` are the cells that were left empty on purpose.
pub(super) fn tray(source: Source, seen: &SeenAs, landmarks: &[(u16, u16)], job: &JobContext) -> Done {
    let straighten = |pixels: Arc<RgbImage>| {
        if job.cancelled() {
            return Err("The photo is no longer wanted.".to_owned());
        }
        let tray = straightened(seen)?;
        let part = seen.grid.all().grown(AROUND_MM);
        Ok(StraightTray {
            image: tray.picture(&pixels, part, scale_of(&tray)),
            part,
            turned: photo::quarter_turns(&pixels, &tray, landmarks),
        })
    };
    Done::Tray(source.pixels().and_then(straighten))
}

/// Straightens one cell.
pub(super) fn cell(source: Source, seen: &SeenAs, (row, column): (u16, u16)) -> Done {
    let straighten = |pixels: Arc<RgbImage>| {
        let tray = straightened(seen)?;
        let part = seen.grid.cell(row, column).grown(AROUND_MM);
        let image = image_of(&tray.picture(&pixels, part, scale_of(&tray)));
        Ok(CellImage { image, part })
    };
    Done::Cell(source.pixels().and_then(straighten))
}

impl StraightTray {
    /// Cuts a cell out, with what is around it.
    pub fn cut(&self, grid: &CellGrid, (row, column): (u16, u16)) -> CellImage {
        let part = grid.cell(row, column).grown(AROUND_MM);
        let (width, height) = self.image.dimensions();
        let across = f64::from(width) / self.part.width;
        let down = f64::from(height) / self.part.height;
        let at = |mm: f64, scale: f64, most: u32| ((mm * scale).round().max(0.0) as u32).min(most);
        let left = at(part.left - self.part.left, across, width);
        let right = at(part.left + part.width - self.part.left, across, width);
        let top = at(part.top - self.part.top, down, height);
        let bottom = at(part.top + part.height - self.part.top, down, height);
        let (wide, tall) = ((right - left) as usize, (bottom - top) as usize);
        let mut rgb = Vec::with_capacity(wide * tall * 3);
        for y in top..bottom {
            let row = 3 * (y as usize * width as usize + left as usize);
            rgb.extend_from_slice(&self.image.as_raw()[row..row + 3 * wide]);
        }
        CellImage {
            image: ColorImage::from_rgb([wide, tall], &rgb),
            part,
        }
    }
}

/// Reads all cells at first. `laid` are the kernels in each cell that is counted.
pub(super) fn reading(source: Source, seen: &SeenAs, laid: &[((u16, u16), u16)]) -> Done {
    let read = |pixels: Arc<RgbImage>| {
        let tray = straightened(seen)?;
        let kernels = |row, column| {
            let at = laid
                .binary_search_by_key(&(row, column), |(place, _)| *place)
                .ok()?;
            laid.get(at).map(|(_, kernels)| *kernels)
        };
        photo::propose(&pixels, &tray, kernels).map_err(|fault| format!("No first reading: {fault}"))
    };
    Done::Reading(source.pixels().and_then(read))
}

/// Looks for the photographs that are missing, in a folder and those in it.
pub(super) fn search(project: &Path, named: &[PhotoFile], folder: &Path, job: &JobContext) -> Done {
    let is_missing = |photo: &&PhotoFile| {
        if job.cancelled() {
            return false;
        }
        let read = photos::read(project, photo);
        matches!(
            read,
            Err(PhotoFileFault::Missing { .. } | PhotoFileFault::Changed { .. })
        )
    };
    let missing: Vec<PhotoFile> = named.iter().filter(is_missing).cloned().collect();
    let going_on = |done: f32| {
        job.progress(done);
        !job.cancelled()
    };
    let search = photos::find_again(project, &missing, named, folder, going_on);
    Done::Search(
        search
            .map(|search| SearchEnd { missing, search })
            .map_err(|fault| fault.to_string()),
    )
}

/// Copies the photographs of a project to where it was saved as.
pub(super) fn carry(from: &Path, to: &Path, named: &[PhotoFile]) -> Done {
    let faults = photos::carry(from, to, named);
    Done::Carried(faults.iter().map(ToString::to_string).collect())
}

/// Makes a copy that tells nothing but the picture.
pub(super) fn clean_copy(project: &Path, photo: &PhotoFile) -> Result<Vec<u8>, String> {
    let bytes = photos::read(project, photo).map_err(|fault| fault.to_string())?;
    photo::without_metadata(&photo.file, &bytes, &Limits::default()).map_err(|fault| fault.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_cell_cut_from_its_tray_is_the_cell_as_straightened_alone() {
        let grid = CellGrid {
            rows: 2,
            columns: 3,
            cell_width_mm: 40.0,
            cell_height_mm: 60.0,
            aisle_mm: 4.0,
        };
        let photo = RgbImage::from_fn(900, 800, |x, y| {
            [
                (x * 255 / 900) as u8,
                (y * 255 / 800) as u8,
                ((x / 9 + y / 9) % 2 * 90) as u8,
            ]
            .into()
        });
        let seen = SeenAs {
            photo: PhotoFile {
                file: "a.png".to_owned(),
                digest: String::new(),
            },
            corners: [[90.0, 60.0], [820.0, 100.0], [780.0, 740.0], [40.0, 700.0]],
            grid,
        };
        let source = || Source::Open(Arc::new(photo.clone()));
        let Done::Tray(Ok(whole)) = tray(source(), &seen, &[], &JobContext::at_once()) else {
            panic!("the tray is straightened");
        };
        for place in [(1, 1), (1, 3), (2, 2), (2, 3)] {
            let cut = whole.cut(&grid, place);
            let Done::Cell(Ok(alone)) = cell(source(), &seen, place) else {
                panic!("the cell is straightened");
            };
            assert_eq!(cut.part, alone.part);
            let [wide, tall] = cut.image.size.map(|side| side as i64);
            let [width, height] = alone.image.size.map(|side| side as i64);
            assert!((wide - width).abs() <= 1 && (tall - height).abs() <= 1);
            // Each is off by at most half a pixel, so light that changes slowly is the same.
            let slow = |image: &ColorImage, x: i64, y: i64| {
                let colour = image.pixels[(y * image.size[0] as i64 + x) as usize];
                [colour.r(), colour.g()]
            };
            for (x, y) in (0..wide.min(width)).flat_map(|x| (0..tall.min(height)).map(move |y| (x, y))) {
                let (a, b) = (slow(&cut.image, x, y), slow(&alone.image, x, y));
                assert!(
                    a[0].abs_diff(b[0]) <= 2 && a[1].abs_diff(b[1]) <= 2,
                    "{place:?} {x} {y}: {a:?} {b:?}"
                );
            }
        }
    }

    #[test]
    fn a_tray_of_any_size_stays_within_bounds() {
        for (rows, columns, side) in [(1, 1, 10.0), (4, 8, 50.8), (100, 100, 20.0), (1, 100, 300.0)] {
            let grid = CellGrid {
                rows,
                columns,
                cell_width_mm: side,
                cell_height_mm: side,
                aisle_mm: 0.0,
            };
            let corners = photo::first_guess(&grid, (30_000, 30_000));
            let tray = Straightened::new(grid, &corners).unwrap();
            let scale = scale_of(&tray);
            let all = grid.all().grown(AROUND_MM);
            assert!(all.width * scale * all.height * scale <= MOST_TRAY_PX * 1.001);
            assert!(all.width.max(all.height) * scale <= MOST_TRAY_SIDE_PX * 1.001);
            assert!((side + 2.0 * AROUND_MM) * scale <= MOST_CELL_PX * 1.001);
            assert!(scale > 0.0);
        }
    }
}

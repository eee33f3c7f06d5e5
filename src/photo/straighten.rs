//! From a photograph taken at a slant to the tray as seen from straight above, in millimetres, and back.
//!
//! A flat tray and a camera without lens errors are joined by a projective map, which four corners fix. Lengths on the
//! tray's floor are then true; what stands up from it (a shoot) leans away from the camera.

use image::{Rgb, RgbImage};

/// A place: in pixels from the photograph's top left corner, or in millimetres from that of the tray's cells.
pub type Point = [f64; 2];

/// The corners of the tray's cells in the photograph, in pixels: top left, top right, bottom right, bottom left as the
/// tray lies, whichever way the photograph shows it.
pub type Corners = [Point; 4];

/// The cells of one tray.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CellGrid {
    /// Rows of cells.
    pub rows: u16,
    /// Columns of cells.
    pub columns: u16,
    /// Width of a cell, in millimetres.
    pub cell_width_mm: f64,
    /// Height of a cell, in millimetres.
    pub cell_height_mm: f64,
    /// Strip between neighbouring cells, in millimetres.
    pub aisle_mm: f64,
}

impl CellGrid {
    /// Width of all cells with the strips between them, in millimetres.
    pub fn width_mm(&self) -> f64 {
        span(self.columns, self.cell_width_mm, self.aisle_mm)
    }

    /// Height of all cells with the strips between them, in millimetres.
    pub fn height_mm(&self) -> f64 {
        span(self.rows, self.cell_height_mm, self.aisle_mm)
    }

    /// The rectangle of a cell, counted from 1.
    pub fn cell(&self, row: u16, column: u16) -> RectMm {
        let before = |n: u16, size: f64| f64::from(n.saturating_sub(1)) * (size + self.aisle_mm);
        RectMm {
            left: before(column, self.cell_width_mm),
            top: before(row, self.cell_height_mm),
            width: self.cell_width_mm,
            height: self.cell_height_mm,
        }
    }

    /// All cells.
    pub fn all(&self) -> RectMm {
        RectMm {
            left: 0.0,
            top: 0.0,
            width: self.width_mm(),
            height: self.height_mm(),
        }
    }
}

fn span(cells: u16, size: f64, aisle: f64) -> f64 {
    f64::from(cells) * size + f64::from(cells.saturating_sub(1)) * aisle
}

/// A rectangle on the tray, in millimetres from the top left corner of its cells.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RectMm {
    /// Left edge.
    pub left: f64,
    /// Top edge.
    pub top: f64,
    /// Width.
    pub width: f64,
    /// Height.
    pub height: f64,
}

impl RectMm {
    /// The rectangle with so much more on every side.
    #[must_use]
    pub fn grown(self, by_mm: f64) -> Self {
        Self {
            left: self.left - by_mm,
            top: self.top - by_mm,
            width: self.width + 2.0 * by_mm,
            height: self.height + 2.0 * by_mm,
        }
    }
}

/// Why corners cannot be those of a tray.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum CornersFault {
    /// A corner is not a number.
    #[error("a corner has no place. Drag the corners anew.")]
    NotFinite,
    /// The four sides do not go round the tray.
    #[error(
        "the corners cross or are mirrored. Drag them so that top left, top right, bottom right and bottom left \
         go round the tray the way a clock does."
    )]
    NotAround,
    /// The tray is too small in the photograph.
    #[error(
        "the tray is smaller than {LEAST_SIDE_PX} pixels in the photo. Drag the corners apart, or take a closer photo."
    )]
    TooSmall,
}

/// The least length of a side of the tray in the photograph, in pixels.
const LEAST_SIDE_PX: u32 = 16;

/// The longest side of a straightened picture, in pixels.
const MOST_SIDE_PX: f64 = 8192.0;

/// What lies outside of the photograph.
const OUTSIDE: Rgb<u8> = Rgb([0, 0, 0]);

/// A projective map of the plane: rows of a 3 by 3 matrix.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Projection([[f64; 3]; 3]);

impl Projection {
    /// Takes a rectangle at the origin to four corners.
    ///
    /// The closed form for the unit square is that of Heckbert, *Fundamentals of Texture Mapping and Image Warping*
    /// (1989), section 2.2.3 (from memory); the rectangle is scaled to it.
    fn of_rectangle(width: f64, height: f64, corners: &Corners) -> Self {
        let [[x0, y0], [x1, y1], [x2, y2], [x3, y3]] = *corners;
        let (dx1, dy1) = (x1 - x2, y1 - y2);
        let (dx2, dy2) = (x3 - x2, y3 - y2);
        let (sx, sy) = (x0 - x1 + x2 - x3, y0 - y1 + y2 - y3);
        let det = dx1 * dy2 - dx2 * dy1;
        let g = (sx * dy2 - dx2 * sy) / det;
        let h = (dx1 * sy - sx * dy1) / det;
        Self([
            [(x1 - x0 + g * x1) / width, (x3 - x0 + h * x3) / height, x0],
            [(y1 - y0 + g * y1) / width, (y3 - y0 + h * y3) / height, y0],
            [g / width, h / height, 1.0],
        ])
    }

    /// The map back, up to a factor, which does not matter.
    fn inverse(&self) -> Self {
        let m = &self.0;
        let minor =
            |r: [usize; 2], c: [usize; 2]| m[r[0]][c[0]] * m[r[1]][c[1]] - m[r[0]][c[1]] * m[r[1]][c[0]];
        let (a, b, c) = ([1, 2], [0, 2], [0, 1]);
        Self([
            [minor(a, a), -minor(b, a), minor(c, a)],
            [-minor(a, b), minor(b, b), -minor(c, b)],
            [minor(a, c), -minor(b, c), minor(c, c)],
        ])
    }

    fn weighted(&self, [x, y]: Point) -> [f64; 3] {
        self.0.map(|row| row[0] * x + row[1] * y + row[2])
    }

    fn apply(&self, point: Point) -> Point {
        let [x, y, w] = self.weighted(point);
        [x / w, y / w]
    }
}

/// A tray in a photograph: where each millimetre lies, and the tray as seen from straight above.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Straightened {
    grid: CellGrid,
    to_photo: Projection,
    to_mm: Projection,
    px_per_mm: f64,
}

impl Straightened {
    /// Joins the cells of a tray and their corners in the photograph.
    ///
    /// # Errors
    /// [`CornersFault`].
    pub fn new(grid: CellGrid, corners: &Corners) -> Result<Self, CornersFault> {
        if corners.iter().flatten().any(|number| !number.is_finite()) {
            return Err(CornersFault::NotFinite);
        }
        let side = |at: usize| {
            let ([x0, y0], [x1, y1]) = (corners[at % 4], corners[(at + 1) % 4]);
            [x1 - x0, y1 - y0]
        };
        if (0..4).any(|at| cross(side(at), side(at + 1)) <= 0.0) {
            return Err(CornersFault::NotAround);
        }
        if (0..4).any(|at| length(side(at)) < f64::from(LEAST_SIDE_PX)) {
            return Err(CornersFault::TooSmall);
        }
        let (width, height) = (grid.width_mm(), grid.height_mm());
        let to_photo = Projection::of_rectangle(width, height, corners);
        let area_px = f64::midpoint(cross(side(0), side(1)), cross(side(2), side(3)));
        Ok(Self {
            grid,
            to_photo,
            to_mm: to_photo.inverse(),
            px_per_mm: (area_px / (width * height)).sqrt(),
        })
    }

    /// The cells.
    pub fn grid(&self) -> &CellGrid {
        &self.grid
    }

    /// How many pixels of the photograph a millimetre of the tray has, on the average.
    pub fn px_per_mm(&self) -> f64 {
        self.px_per_mm
    }

    /// Where a place of the tray, in millimetres, lies in the photograph, in pixels.
    pub fn to_photo(&self, mm: Point) -> Point {
        self.to_photo.apply(mm)
    }

    /// Where a pixel of the photograph lies on the tray, in millimetres.
    pub fn to_mm(&self, px: Point) -> Point {
        self.to_mm.apply(px)
    }

    /// The part of the tray in a rectangle as seen from straight above, with so many pixels to the millimetre: fewer where
    /// the picture would be longer than 8192 pixels. What lies outside of the photograph is black.
    pub fn picture(&self, photo: &RgbImage, part: RectMm, px_per_mm: f64) -> RgbImage {
        let longest = part.width.max(part.height).max(f64::MIN_POSITIVE);
        let scale = px_per_mm.min(MOST_SIDE_PX / longest).max(f64::MIN_POSITIVE);
        let side = |mm: f64| ((mm * scale).round() as u32).clamp(1, MOST_SIDE_PX as u32);
        let (width, height) = (side(part.width), side(part.height));
        // Where the photograph is finer than the picture, several of its places are averaged, else thin roots would break up.
        let fold = ((self.px_per_mm / scale).round() as u32).clamp(1, 4);
        let step = [
            part.width / f64::from(width * fold),
            part.height / f64::from(height * fold),
        ];
        RgbImage::from_fn(width, height, |x, y| {
            let mut sum = [0.0_f32; 3];
            for (v, u) in (0..fold).flat_map(|v| (0..fold).map(move |u| (v, u))) {
                let across = f64::from(x * fold + u) + 0.5;
                let down = f64::from(y * fold + v) + 0.5;
                let seen = self.seen(photo, [part.left + across * step[0], part.top + down * step[1]]);
                for (sum, seen) in sum.iter_mut().zip(seen) {
                    *sum += seen;
                }
            }
            Rgb(sum.map(|sum| (sum / (fold * fold) as f32).round() as u8))
        })
    }

    /// The colour at a place of the tray.
    fn seen(&self, photo: &RgbImage, mm: Point) -> [f32; 3] {
        let [x, y, w] = self.to_photo.weighted(mm);
        // Behind the camera: only far outside of the tray.
        if w <= 1e-9 {
            return OUTSIDE.0.map(f32::from);
        }
        colour_at(photo, [x / w, y / w])
    }
}

/// The colour at a place between pixels, whose centres lie at halves, mixed of the four around it.
fn colour_at(photo: &RgbImage, [x, y]: Point) -> [f32; 3] {
    let (width, height) = photo.dimensions();
    let inside = x >= 0.0 && y >= 0.0 && x <= f64::from(width) && y <= f64::from(height);
    if !inside {
        return OUTSIDE.0.map(f32::from);
    }
    let (x, y) = ((x - 0.5).max(0.0), (y - 0.5).max(0.0));
    let (left, top) = ((x as u32).min(width - 1), (y as u32).min(height - 1));
    let (right, bottom) = ((left + 1).min(width - 1), (top + 1).min(height - 1));
    let (across, down) = ((x - f64::from(left)) as f32, (y - f64::from(top)) as f32);
    let pixel = |x: u32, y: u32| photo.get_pixel(x, y).0.map(f32::from);
    let corners = [
        pixel(left, top),
        pixel(right, top),
        pixel(left, bottom),
        pixel(right, bottom),
    ];
    std::array::from_fn(|channel| {
        let [a, b, c, d] = corners.map(|corner| corner[channel]);
        let (above, below) = (a + (b - a) * across, c + (d - c) * across);
        above + (below - above) * down
    })
}

fn cross([ax, ay]: Point, [bx, by]: Point) -> f64 {
    ax * by - ay * bx
}

fn length([x, y]: Point) -> f64 {
    x.hypot(y)
}

/// The length of a line through several places of the tray, in the unit of its places.
pub fn length_mm(line: &[Point]) -> f64 {
    line.windows(2)
        .map(|pair| length([pair[1][0] - pair[0][0], pair[1][1] - pair[0][1]]))
        .sum()
}

/// Corners to begin with: a rectangle of the cells' proportions in the middle of the photograph, which it nearly fills.
pub fn first_guess(grid: &CellGrid, (width, height): (u32, u32)) -> Corners {
    const SHARE: f64 = 0.86;
    let (width, height) = (f64::from(width), f64::from(height));
    let scale = SHARE * (width / grid.width_mm()).min(height / grid.height_mm());
    let (half_width, half_height) = (scale * grid.width_mm() / 2.0, scale * grid.height_mm() / 2.0);
    [[-1.0, -1.0], [1.0, -1.0], [1.0, 1.0], [-1.0, 1.0]]
        .map(|[x, y]| [width / 2.0 + x * half_width, height / 2.0 + y * half_height])
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const GRID: CellGrid = CellGrid {
        rows: 4,
        columns: 8,
        cell_width_mm: 48.0,
        cell_height_mm: 70.0,
        aisle_mm: 3.0,
    };

    #[test]
    fn a_photo_from_straight_above_is_scaled_and_shifted_only() {
        let (left, top, scale) = (100.0, 50.0, 5.0);
        let (right, bottom) = (left + scale * GRID.width_mm(), top + scale * GRID.height_mm());
        let tray = Straightened::new(
            GRID,
            &[[left, top], [right, top], [right, bottom], [left, bottom]],
        )
        .unwrap();
        assert!((tray.px_per_mm() - scale).abs() < 1e-9);
        let [x, y] = tray.to_photo([10.0, 20.0]);
        assert!((x - 150.0).abs() < 1e-9 && (y - 150.0).abs() < 1e-9, "{x} {y}");
    }

    #[test]
    fn cells_and_aisles_add_up() {
        assert!((GRID.width_mm() - (8.0 * 48.0 + 7.0 * 3.0)).abs() < 1e-9);
        let last = GRID.cell(4, 8);
        assert!((last.left + last.width - GRID.width_mm()).abs() < 1e-9);
        assert!((last.top + last.height - GRID.height_mm()).abs() < 1e-9);
        assert!((GRID.cell(1, 2).left - 51.0).abs() < 1e-9);
    }

    #[test]
    fn corners_that_are_no_tray_are_refused() {
        let square = [[0.0, 0.0], [100.0, 0.0], [100.0, 100.0], [0.0, 100.0]];
        assert!(Straightened::new(GRID, &square).is_ok());
        let mirrored = [square[1], square[0], square[3], square[2]];
        let crossed = [square[0], square[2], square[1], square[3]];
        let dented = [square[0], square[1], [20.0, 20.0], square[3]];
        let flat = square.map(|[x, _]| [x, 0.0]);
        for corners in [mirrored, crossed, dented, flat] {
            assert_eq!(Straightened::new(GRID, &corners), Err(CornersFault::NotAround));
        }
        assert_eq!(
            Straightened::new(GRID, &square.map(|[x, y]| [x / 10.0, y / 10.0])),
            Err(CornersFault::TooSmall)
        );
        let lost = [square[0], square[1], [f64::NAN, 1.0], square[3]];
        assert_eq!(Straightened::new(GRID, &lost), Err(CornersFault::NotFinite));
    }

    #[test]
    fn a_line_is_as_long_as_its_pieces() {
        assert!((length_mm(&[[0.0, 0.0], [3.0, 4.0], [3.0, 10.0]]) - 11.0).abs() < 1e-12);
        assert!(length_mm(&[[1.0, 1.0]]).abs() < 1e-12);
        assert!(length_mm(&[]).abs() < 1e-12);
    }

    #[test]
    fn the_first_guess_lies_inside_and_is_a_tray() {
        for size in [(4000, 3000), (3000, 4000), (640, 480), (8000, 500)] {
            let corners = first_guess(&GRID, size);
            let inside = |[x, y]: Point| x > 0.0 && y > 0.0 && x < f64::from(size.0) && y < f64::from(size.1);
            assert!(corners.into_iter().all(inside), "{corners:?}");
            assert!(Straightened::new(GRID, &corners).is_ok());
        }
    }

    #[test]
    fn a_picture_beyond_the_photo_is_black_and_no_larger_than_the_limit() {
        let photo = RgbImage::from_pixel(200, 150, Rgb([200, 100, 50]));
        let corners = first_guess(&GRID, (200, 150));
        let tray = Straightened::new(GRID, &corners).unwrap();
        let strip = RectMm {
            top: -20.0,
            height: 1.0,
            ..GRID.all().grown(500.0)
        };
        let wide = tray.picture(&photo, strip, 1000.0);
        assert_eq!(wide.dimensions(), (MOST_SIDE_PX as u32, 6));
        assert_eq!(*wide.get_pixel(0, 0), OUTSIDE);
        let tiny = tray.picture(&photo, GRID.all(), 1e-12);
        assert_eq!(tiny.dimensions(), (1, 1));
        assert_eq!(tiny.get_pixel(0, 0).0, [200, 100, 50]);
    }

    proptest! {
        #[test]
        fn there_and_back_is_the_same_place(
            shift in prop::array::uniform8(-180.0_f64..180.0),
            across in -0.05_f64..1.05,
            down in -0.05_f64..1.05,
        ) {
            let around = [[400.0, 300.0], [2600.0, 300.0], [2600.0, 1900.0], [400.0, 1900.0]];
            let corners: Corners = std::array::from_fn(|at| {
                [around[at][0] + 2.0 * shift[2 * at], around[at][1] + 2.0 * shift[2 * at + 1]]
            });
            let tray = Straightened::new(GRID, &corners).unwrap();
            let place = [across * GRID.width_mm(), down * GRID.height_mm()];
            let back = tray.to_mm(tray.to_photo(place));
            prop_assert!((back[0] - place[0]).abs() < 1e-6 && (back[1] - place[1]).abs() < 1e-6);
            let ends = [[0.0, 0.0], [GRID.width_mm(), 0.0], [GRID.width_mm(), GRID.height_mm()], [0.0, GRID.height_mm()]];
            for (end, corner) in ends.into_iter().zip(corners) {
                let seen = tray.to_photo(end);
                prop_assert!((seen[0] - corner[0]).abs() < 1e-6 && (seen[1] - corner[1]).abs() < 1e-6);
            }
        }
    }
}

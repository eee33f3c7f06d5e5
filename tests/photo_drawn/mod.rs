//! Photographs of trays drawn by program, with known truth: a cloth with kernels, roots, shoots, mould and shadows, seen by a
//! pinhole camera at a slant. The camera is computed from its place and direction, not from the corners that the program is
//! given, so that a fault in the program's map shows.
//!
//! Drawn pictures are simpler than real ones: all lies flat, the lens is perfect, and the colours come from a few ranges. What
//! is right here may be wrong on a real cloth.
#![expect(clippy::unwrap_used, reason = "a test's helper fails the test by panicking")]

use image::{Rgb, RgbImage};
use rand_pcg::Pcg64;
use rand_pcg::rand_core::Rng as _;
use wintercrib::photo::{CellGrid, Corners, Point};

/// Pixels to a millimetre of the cloth before it is photographed.
const CANVAS_PX_PER_MM: f64 = 6.0;

/// Cloth around the cells, in millimetres.
const AROUND_MM: f64 = 14.0;

/// Chance from a fixed seed.
pub struct Dice(Pcg64);

impl Dice {
    pub fn new(seed: u64) -> Self {
        Self(Pcg64::new(u128::from(seed) << 32, 0x5851_f42d_4c95_7f2d))
    }

    pub fn between(&mut self, least: f64, most: f64) -> f64 {
        let uniform = (self.0.next_u64() >> 11) as f64 / (1_u64 << 53) as f64;
        least + uniform * (most - least)
    }

    pub fn happens(&mut self, probability: f64) -> bool {
        self.between(0.0, 1.0) < probability
    }

    /// Mean 0 and standard deviation 1, from one draw: for the noise of many pixels.
    fn nearly_normal(&mut self) -> f64 {
        let bits = self.0.next_u64();
        let sum: u64 = (0..4).map(|at| (bits >> (16 * at)) & 0xffff).sum();
        (sum as f64 / 65536.0 - 2.0) * 3.0_f64.sqrt()
    }

    /// Mean 0 and standard deviation 1, nearly normal.
    pub fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.between(0.0, 1.0)).sum::<f64>() - 6.0
    }
}

/// How hard a photograph is to read.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Hardness {
    /// Tilt of the camera away from straight down, in degrees, at most.
    pub tilt_degrees: f64,
    /// How much darker the darkest side is than the brightest, as a share.
    pub shadow: f64,
    /// Standard deviation of the noise, of 255.
    pub noise: f64,
    /// Share of the dead kernels with mould around them.
    pub mould: f64,
    /// Median length of a strong root, in millimetres.
    pub root_mm: f64,
    /// Share of shoots that are pale instead of green.
    pub pale: f64,
    /// Share of photographs with white or with red kernels.
    pub odd_kernels: f64,
}

/// Straight, even light, no mould, short roots, as at an early count.
pub const EASY: Hardness = Hardness {
    tilt_degrees: 2.0,
    shadow: 0.1,
    noise: 2.0,
    mould: 0.0,
    root_mm: 12.0,
    pale: 0.0,
    odd_kernels: 0.0,
};

/// A usual photograph by hand.
pub const USUAL: Hardness = Hardness {
    tilt_degrees: 12.0,
    shadow: 0.35,
    noise: 4.0,
    mould: 0.4,
    root_mm: 22.0,
    pale: 0.3,
    odd_kernels: 0.1,
};

/// A poor one: slanted, dark on one side, mouldy, long tangled roots.
pub const HARD: Hardness = Hardness {
    tilt_degrees: 22.0,
    shadow: 0.6,
    noise: 7.0,
    mould: 0.8,
    root_mm: 40.0,
    pale: 0.7,
    odd_kernels: 0.3,
};

/// What lies in a cell.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Truth {
    pub row: u16,
    pub column: u16,
    pub kernels: u16,
    pub with_root: u16,
    pub with_shoot: u16,
    pub with_both: u16,
    pub sprouted: u16,
    pub root_mm: Option<f64>,
    pub shoot_mm: Option<f64>,
}

/// A photograph and what it shows.
pub struct Drawn {
    pub photo: RgbImage,
    pub grid: CellGrid,
    pub corners: Corners,
    pub cells: Vec<Truth>,
    camera: Camera,
}

impl Drawn {
    /// Where a place of the cells, in millimetres, is seen in the photograph.
    pub fn seen(&self, mm: Point) -> Point {
        self.camera.see(mm)
    }
}

/// Roots and shoots shorter than this do not count as there, in millimetres.
pub const LEAST_MM: f64 = 2.0;

/// Kernels in each cell.
pub const KERNELS: u16 = 10;

/// Draws a tray and photographs it. The photograph is so many pixels wide.
pub fn draw(seed: u64, hardness: &Hardness, grid: CellGrid, width: u32) -> Drawn {
    draw_with_blanks(seed, hardness, grid, width, &[])
}

/// Draws a tray in which some cells, by row and column, were left empty.
pub fn draw_with_blanks(
    seed: u64,
    hardness: &Hardness,
    grid: CellGrid,
    width: u32,
    blank: &[(u16, u16)],
) -> Drawn {
    let mut dice = Dice::new(seed);
    let mut cloth = Cloth::new(&grid, &mut dice);
    let kernel_colour = kernel_colour(&mut dice, hardness);
    let mut cells = Vec::new();
    let mut all = Vec::new();
    for row in 1..=grid.rows {
        for column in 1..=grid.columns {
            if blank.contains(&(row, column)) {
                continue;
            }
            let area = grid.cell(row, column);
            let sprouting = dice.between(0.25, 1.0);
            let kernels = sow(
                &mut dice,
                [area.left, area.top],
                [area.width, area.height],
                sprouting,
                hardness,
            );
            cells.push(truth(row, column, &kernels));
            all.extend(kernels);
        }
    }
    for kernel in &all {
        if let Some(size) = kernel.mould {
            cloth.mould(&mut dice, kernel.centre, size);
        }
    }
    for kernel in &all {
        for (at, root) in kernel.roots.iter().enumerate() {
            let width = if at == 0 { 1.25 } else { 0.9 };
            cloth.line(root, [width, width * 0.7], [226.0, 221.0, 205.0]);
        }
    }
    for kernel in &all {
        cloth.kernel(kernel, kernel_colour, &mut dice);
    }
    for kernel in &all {
        if let Some((shoot, colour)) = &kernel.shoot {
            cloth.line(shoot, [2.5, 1.5], *colour);
        }
    }
    photograph(&mut dice, hardness, grid, width, &cloth, cells)
}

fn photograph(
    dice: &mut Dice,
    hardness: &Hardness,
    grid: CellGrid,
    width: u32,
    cloth: &Cloth,
    cells: Vec<Truth>,
) -> Drawn {
    // As long as the cells are, within what photographs are.
    let shape = (grid.height_mm() / grid.width_mm()).clamp(0.5, 1.5);
    let height = (f64::from(width) * shape) as u32;
    let camera = Camera::above(
        dice,
        hardness.tilt_degrees,
        &grid,
        [f64::from(width), f64::from(height)],
    );
    let darker = [dice.normal(), dice.normal()];
    let darkness = darker[0].hypot(darker[1]).max(1e-6);
    let tint = [dice.between(0.94, 1.06), 1.0, dice.between(0.94, 1.06)];
    let middle = [grid.width_mm() / 2.0, grid.height_mm() / 2.0];
    let reach = middle[0].hypot(middle[1]);
    let photo = RgbImage::from_fn(width, height, |x, y| {
        let mm = camera.floor([f64::from(x) + 0.5, f64::from(y) + 0.5]);
        let along = ((mm[0] - middle[0]) * darker[0] + (mm[1] - middle[1]) * darker[1]) / (darkness * reach);
        let light = 1.0 - hardness.shadow * f64::midpoint(along, 1.0).clamp(0.0, 1.0);
        let colour = cloth.at(mm);
        Rgb(std::array::from_fn(|channel| {
            let value =
                f64::from(colour[channel]) * light * tint[channel] + hardness.noise * dice.nearly_normal();
            value.round().clamp(0.0, 255.0) as u8
        }))
    });
    let (right, bottom) = (grid.width_mm(), grid.height_mm());
    let corners = [[0.0, 0.0], [right, 0.0], [right, bottom], [0.0, bottom]].map(|corner| camera.see(corner));
    Drawn {
        photo,
        grid,
        corners,
        cells,
        camera,
    }
}

/// Yellow to orange, now and then white or red.
fn kernel_colour(dice: &mut Dice, hardness: &Hardness) -> [f64; 3] {
    if dice.happens(hardness.odd_kernels) {
        return if dice.happens(0.5) {
            [228.0, 214.0, 174.0]
        } else {
            [140.0, 48.0, 38.0]
        };
    }
    let orange = dice.between(0.0, 1.0);
    [216.0 - 8.0 * orange, 170.0 - 38.0 * orange, 66.0 - 16.0 * orange]
}

// ---- what grows ---------------------------------------------------------------------------------------------

struct Kernel {
    centre: Point,
    /// Where the tip points, in radians.
    heading: f64,
    size: f64,
    roots: Vec<Vec<Point>>,
    shoot: Option<(Vec<Point>, [f64; 3])>,
    mould: Option<f64>,
}

/// The kernels of a cell: two columns, tips towards the viewer, by hand.
fn sow(dice: &mut Dice, corner: Point, size: Point, sprouting: f64, hardness: &Hardness) -> Vec<Kernel> {
    let (across, down) = (2, KERNELS / 2);
    let centres: Vec<Point> = (0..KERNELS)
        .map(|place| {
            let (column, row) = (place % across, place / across);
            let share = |at: u16, of: u16| (f64::from(at) + 0.5) / f64::from(of);
            [
                corner[0] + size[0] * share(column, across) + dice.between(-2.5, 2.5),
                corner[1] + size[1] * share(row, down) + dice.between(-1.5, 1.5),
            ]
        })
        .collect();
    let one = |at: usize| {
        let others: Vec<Point> = (0..centres.len())
            .filter(|&other| other != at)
            .map(|other| centres[other])
            .collect();
        let heading = dice.between(-0.6, 0.6) + std::f64::consts::FRAC_PI_2;
        grow(dice, centres[at], &others, heading, sprouting, hardness)
    };
    (0..centres.len()).map(one).collect()
}

fn grow(
    dice: &mut Dice,
    centre: Point,
    others: &[Point],
    heading: f64,
    sprouting: f64,
    hardness: &Hardness,
) -> Kernel {
    let size = dice.between(0.88, 1.1);
    let mut kernel = Kernel {
        centre,
        heading,
        size,
        roots: Vec::new(),
        shoot: None,
        mould: None,
    };
    let tip = [
        centre[0] + 5.1 * size * heading.cos(),
        centre[1] + 5.1 * size * heading.sin(),
    ];
    let sprouts = dice.happens(sprouting);
    if sprouts || dice.happens(0.08) {
        let length = (hardness.root_mm * (1.0 + 0.35 * dice.normal())).clamp(3.0, 3.0 * hardness.root_mm);
        let turned = heading + dice.between(-0.5, 0.5);
        kernel
            .roots
            .push(wander(dice, others, (tip, turned), length, 0.09));
        let seminal = usize::from(dice.happens(0.4)) + usize::from(dice.happens(0.25));
        for _ in 0..seminal {
            let turned = heading + dice.between(-1.3, 1.3);
            let length = length * dice.between(0.25, 0.7);
            kernel
                .roots
                .push(wander(dice, others, (tip, turned), length, 0.09));
        }
    }
    if sprouts || dice.happens(0.03) {
        let length = (0.4 * hardness.root_mm * (1.0 + 0.35 * dice.normal())).clamp(2.5, 60.0);
        let side = heading + if dice.happens(0.5) { 1.0 } else { -1.0 } * dice.between(1.9, 2.5);
        let begin = [
            centre[0] + 3.9 * size * side.cos(),
            centre[1] + 3.9 * size * side.sin(),
        ];
        let green = if dice.happens(hardness.pale) {
            dice.between(0.0, 0.35)
        } else {
            dice.between(0.5, 1.0)
        };
        let mix = |pale: f64, dark: f64| pale + green * (dark - pale);
        let colour = [mix(228.0, 138.0), mix(226.0, 184.0), mix(190.0, 76.0)];
        kernel.shoot = Some((wander(dice, &[], (begin, side), length, 0.05), colour));
    }
    if !sprouts && dice.happens(hardness.mould) {
        kernel.mould = Some(dice.between(3.0, 8.0));
    }
    kernel
}

/// A path of half a millimetre a step, which slides along kernels in its way.
fn wander(
    dice: &mut Dice,
    kernels: &[Point],
    (begin, heading): (Point, f64),
    length: f64,
    bend: f64,
) -> Vec<Point> {
    /// How near a root comes to the middle of a kernel, in millimetres.
    const NEAR: f64 = 5.4;
    const STEP: f64 = 0.5;
    let mut path = vec![begin];
    let (mut at, mut heading, mut turn) = (begin, heading, 0.0);
    for _ in 0..(length / STEP).round() as usize {
        turn = 0.9 * turn + bend * 0.5 * dice.normal();
        heading += turn * STEP;
        let ahead = [at[0] + STEP * heading.cos(), at[1] + STEP * heading.sin()];
        let away = |kernel: &Point| (ahead[0] - kernel[0]).hypot(ahead[1] - kernel[1]);
        at = ahead;
        if let Some(kernel) = kernels.iter().find(|kernel| away(kernel) < NEAR) {
            let pushed = NEAR / away(kernel).max(0.1);
            let slid = [0, 1].map(|axis| kernel[axis] + (ahead[axis] - kernel[axis]) * pushed);
            let from = path[path.len() - 1];
            heading = (slid[1] - from[1]).atan2(slid[0] - from[0]);
            at = slid;
        }
        path.push(at);
    }
    path
}

fn path_length(path: &[Point]) -> f64 {
    path.windows(2)
        .map(|pair| (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]))
        .sum()
}

fn truth(row: u16, column: u16, kernels: &[Kernel]) -> Truth {
    let root = |kernel: &Kernel| {
        kernel
            .roots
            .first()
            .map(|root| path_length(root))
            .filter(|&mm| mm >= LEAST_MM)
    };
    let shoot = |kernel: &Kernel| {
        kernel
            .shoot
            .as_ref()
            .map(|(path, _)| path_length(path))
            .filter(|&mm| mm >= LEAST_MM)
    };
    let count = |has: &dyn Fn(&Kernel) -> bool| kernels.iter().filter(|kernel| has(kernel)).count() as u16;
    Truth {
        row,
        column,
        kernels: kernels.len() as u16,
        with_root: count(&|kernel| root(kernel).is_some()),
        with_shoot: count(&|kernel| shoot(kernel).is_some()),
        with_both: count(&|kernel| root(kernel).is_some() && shoot(kernel).is_some()),
        sprouted: count(&|kernel| root(kernel).is_some() || shoot(kernel).is_some()),
        root_mm: median(kernels.iter().filter_map(root).collect()),
        shoot_mm: median(kernels.iter().filter_map(shoot).collect()),
    }
}

/// The middle value; the lower of two.
pub fn median(mut values: Vec<f64>) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    values.get(values.len().saturating_sub(1) / 2).copied()
}

// ---- the cloth ----------------------------------------------------------------------------------------------

struct Cloth {
    width: usize,
    height: usize,
    colour: Vec<[f32; 3]>,
}

impl Cloth {
    fn new(grid: &CellGrid, dice: &mut Dice) -> Self {
        let side = |mm: f64| ((mm + 2.0 * AROUND_MM) * CANVAS_PX_PER_MM).ceil() as usize;
        let (width, height) = (side(grid.width_mm()), side(grid.height_mm()));
        let bases = [[40.0, 62.0, 118.0], [44.0, 46.0, 52.0], [30.0, 74.0, 92.0]];
        let base = bases[dice.between(0.0, 3.0) as usize];
        let wet: Vec<[f64; 4]> = (0..6)
            .map(|_| {
                [
                    dice.between(0.01, 0.05),
                    dice.between(-0.05, 0.05),
                    dice.between(0.0, 6.3),
                    dice.between(0.01, 0.03),
                ]
            })
            .collect();
        let mut colour = Vec::with_capacity(width * height);
        for y in 0..height {
            for x in 0..width {
                let mm = [x as f64 / CANVAS_PX_PER_MM, y as f64 / CANVAS_PX_PER_MM];
                let weave = 0.04 * ((mm[0] * 8.0).sin() + (mm[1] * 8.0).sin());
                let spots: f64 = wet
                    .iter()
                    .map(|w| w[3] * (w[0] * mm[0] * 6.0 + w[1] * mm[1] * 6.0 + w[2]).sin())
                    .sum();
                let light = (1.0 + weave + spots) as f32;
                colour.push(base.map(|channel: f64| channel as f32 * light));
            }
        }
        let mut cloth = Self {
            width,
            height,
            colour,
        };
        cloth.rule(
            grid,
            if dice.happens(0.5) {
                [12.0, 12.0, 14.0]
            } else {
                [150.0, 150.0, 150.0]
            },
        );
        cloth
    }

    /// Draws the outlines of the cells.
    fn rule(&mut self, grid: &CellGrid, colour: [f64; 3]) {
        for row in 1..=grid.rows {
            for column in 1..=grid.columns {
                let cell = grid.cell(row, column);
                let (right, bottom) = (cell.left + cell.width, cell.top + cell.height);
                let ends = [
                    [cell.left, cell.top],
                    [right, cell.top],
                    [right, bottom],
                    [cell.left, bottom],
                ];
                for side in 0..4 {
                    self.line(&[ends[side], ends[(side + 1) % 4]], [0.6, 0.6], colour);
                }
            }
        }
    }

    /// Mixes a colour into all places within a radius of a point, by a share that depends on the place in millimetres.
    fn dab(&mut self, centre: Point, radius: f64, mut share: impl FnMut(Point) -> Option<(f64, [f64; 3])>) {
        let px = |mm: f64| (mm + AROUND_MM) * CANVAS_PX_PER_MM;
        let range = |mm: f64, most: usize| {
            let from = px(mm - radius).floor().max(0.0) as usize;
            let to = (px(mm + radius).ceil().max(0.0) as usize).min(most);
            from..to
        };
        for y in range(centre[1], self.height) {
            for x in range(centre[0], self.width) {
                let mm = [
                    (x as f64 + 0.5) / CANVAS_PX_PER_MM - AROUND_MM,
                    (y as f64 + 0.5) / CANVAS_PX_PER_MM - AROUND_MM,
                ];
                if let Some((share, colour)) = share(mm) {
                    let at = &mut self.colour[y * self.width + x];
                    for (old, new) in at.iter_mut().zip(colour) {
                        *old += (new as f32 - *old) * share.clamp(0.0, 1.0) as f32;
                    }
                }
            }
        }
    }

    /// A line that tapers from one width to another, round, with soft edges.
    fn line(&mut self, path: &[Point], width: [f64; 2], colour: [f64; 3]) {
        let steps = path.len() - 1;
        for (at, pair) in path.windows(2).enumerate() {
            let radius = |at: usize| 0.5 * (width[0] + (width[1] - width[0]) * at as f64 / steps as f64);
            let radii = [radius(at), radius(at + 1)];
            let middle = [
                f64::midpoint(pair[0][0], pair[1][0]),
                f64::midpoint(pair[0][1], pair[1][1]),
            ];
            let reach =
                (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]) / 2.0 + radii[0].max(radii[1]) + 0.4;
            self.dab(middle, reach, |mm| {
                let (away, radius) = capsule(mm, pair[0], pair[1], radii);
                let inside = radius - away;
                let round = 0.82 + 0.18 * (inside / radius).clamp(0.0, 1.0);
                (inside > -0.12).then(|| ((inside + 0.12) / 0.24, colour.map(|channel| channel * round)))
            });
        }
    }

    /// A kernel: broad at the crown, narrow and paler at the tip, darker towards its edge, with a spot of light.
    fn kernel(&mut self, kernel: &Kernel, colour: [f64; 3], dice: &mut Dice) {
        let along = [kernel.heading.cos(), kernel.heading.sin()];
        let place = |mm: f64| {
            let mm = mm * kernel.size;
            [kernel.centre[0] + along[0] * mm, kernel.centre[1] + along[1] * mm]
        };
        let (crown, tip) = (place(-1.4), place(3.2));
        let radii = [4.1 * kernel.size, 2.1 * kernel.size];
        let shade = dice.between(0.9, 1.06);
        let light = place(-1.9);
        let shadow = [kernel.centre[0] + 0.6, kernel.centre[1] + 0.6];
        self.dab(shadow, 8.0, |mm| {
            let (away, radius) = capsule([mm[0] - 0.6, mm[1] - 0.6], crown, tip, radii);
            (away < radius + 0.6).then_some((0.35, [0.0; 3]))
        });
        self.dab(kernel.centre, 8.0, |mm| {
            let (away, radius) = capsule(mm, crown, tip, radii);
            let inside = radius - away;
            let ahead = ((mm[0] - crown[0]) * along[0] + (mm[1] - crown[1]) * along[1]) / (5.0 * kernel.size);
            let pale = 0.3 * ahead.clamp(0.0, 1.0);
            let round = (0.72 + 0.28 * (inside / radius).clamp(0.0, 1.0).sqrt()) * shade;
            let gleam = (1.0 - (mm[0] - light[0]).hypot(mm[1] - light[1]) / 1.2).clamp(0.0, 1.0) * 0.6;
            let mixed: [f64; 3] = std::array::from_fn(|channel| {
                let base = colour[channel] + (232.0 - colour[channel]) * pale;
                base * round + (250.0 - base * round) * gleam
            });
            (inside > -0.12).then_some(((inside + 0.12) / 0.24, mixed))
        });
    }

    /// A grey-white patch, thicker in the middle.
    fn mould(&mut self, dice: &mut Dice, centre: Point, size: f64) {
        let colour = if dice.happens(0.7) {
            [188.0, 192.0, 188.0]
        } else {
            [120.0, 138.0, 120.0]
        };
        let thickness = dice.between(0.4, 0.8);
        let mut fuzz = Dice::new((centre[0] * 1000.0).abs() as u64);
        self.dab(centre, 2.0 * size, |mm| {
            let away = (mm[0] - centre[0]).hypot(mm[1] - centre[1]) / size;
            let share = thickness * (-away * away).exp() * fuzz.between(0.75, 1.1);
            (share > 0.02).then_some((share, colour))
        });
    }

    /// The colour at a place in millimetres; a bench around the cloth.
    fn at(&self, mm: Point) -> [f32; 3] {
        let x = (mm[0] + AROUND_MM) * CANVAS_PX_PER_MM - 0.5;
        let y = (mm[1] + AROUND_MM) * CANVAS_PX_PER_MM - 0.5;
        let inside = x >= 0.0 && y >= 0.0 && x < (self.width - 1) as f64 && y < (self.height - 1) as f64;
        if !inside {
            return [104.0, 84.0, 66.0];
        }
        let (left, top) = (x as usize, y as usize);
        let (across, down) = ((x - left as f64) as f32, (y - top as f64) as f32);
        let pixel = |x: usize, y: usize| self.colour[y * self.width + x];
        let around = [
            pixel(left, top),
            pixel(left + 1, top),
            pixel(left, top + 1),
            pixel(left + 1, top + 1),
        ];
        std::array::from_fn(|channel| {
            let [a, b, c, d] = around.map(|pixel| pixel[channel]);
            let (above, below) = (a + (b - a) * across, c + (d - c) * across);
            above + (below - above) * down
        })
    }
}

/// Distance from the line between two points, and the radius there.
fn capsule(at: Point, a: Point, b: Point, radii: [f64; 2]) -> (f64, f64) {
    let (ab, aq) = ([b[0] - a[0], b[1] - a[1]], [at[0] - a[0], at[1] - a[1]]);
    let share =
        ((aq[0] * ab[0] + aq[1] * ab[1]) / (ab[0] * ab[0] + ab[1] * ab[1]).max(1e-12)).clamp(0.0, 1.0);
    let away = (aq[0] - share * ab[0]).hypot(aq[1] - share * ab[1]);
    (away, radii[0] + (radii[1] - radii[0]) * share)
}

// ---- the camera ---------------------------------------------------------------------------------------------

/// A pinhole above the tray: the tray's floor is at height 0, x to the right, y towards the viewer, z down into the floor.
struct Camera {
    eye: [f64; 3],
    /// Directions of the photograph's right, its bottom, and of looking.
    right: [f64; 3],
    down: [f64; 3],
    ahead: [f64; 3],
    /// Pixels to a unit of slope.
    focal: f64,
    middle: Point,
}

impl Camera {
    /// Above the middle of the cells, tilted and turned by chance, so far away that the cells nearly fill the photograph.
    fn above(dice: &mut Dice, tilt_degrees: f64, grid: &CellGrid, size: Point) -> Self {
        let tilt = tilt_degrees.to_radians() * dice.between(0.4, 1.0);
        let towards = dice.between(0.0, std::f64::consts::TAU);
        let turn = dice.between(-0.06, 0.06);
        let distance = 700.0;
        let middle_mm = [grid.width_mm() / 2.0, grid.height_mm() / 2.0];
        let ahead = [tilt.sin() * towards.cos(), tilt.sin() * towards.sin(), tilt.cos()];
        let eye = [
            middle_mm[0] - ahead[0] * distance,
            middle_mm[1] - ahead[1] * distance,
            -ahead[2] * distance,
        ];
        let right = unit(less(turned(turn), ahead));
        let down = cross(ahead, right);
        let mut camera = Self {
            eye,
            right,
            down,
            ahead,
            focal: 1000.0,
            middle: [size[0] / 2.0, size[1] / 2.0],
        };
        // As near as all four corners stay in the picture, with a little cloth around.
        let ends = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
        let widest = ends
            .map(|[x, y]| camera.see([x * grid.width_mm(), y * grid.height_mm()]))
            .into_iter()
            .map(|[x, y]| {
                ((x - camera.middle[0]) / camera.middle[0])
                    .abs()
                    .max(((y - camera.middle[1]) / camera.middle[1]).abs())
            })
            .fold(0.0, f64::max);
        camera.focal *= 0.95 / widest;
        camera
    }

    fn see(&self, mm: Point) -> Point {
        let from = [mm[0] - self.eye[0], mm[1] - self.eye[1], -self.eye[2]];
        let deep = dot(from, self.ahead);
        [
            self.middle[0] + self.focal * dot(from, self.right) / deep,
            self.middle[1] + self.focal * dot(from, self.down) / deep,
        ]
    }

    /// The place on the floor that a pixel sees.
    fn floor(&self, px: Point) -> Point {
        let slope = [
            (px[0] - self.middle[0]) / self.focal,
            (px[1] - self.middle[1]) / self.focal,
        ];
        let ray: [f64; 3] =
            std::array::from_fn(|at| self.ahead[at] + slope[0] * self.right[at] + slope[1] * self.down[at]);
        let far = -self.eye[2] / ray[2];
        [self.eye[0] + far * ray[0], self.eye[1] + far * ray[1]]
    }
}

fn turned(turn: f64) -> [f64; 3] {
    [turn.cos(), turn.sin(), 0.0]
}

fn dot(a: [f64; 3], b: [f64; 3]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// What is left of a direction without its part along another.
fn less(a: [f64; 3], along: [f64; 3]) -> [f64; 3] {
    let part = dot(a, along);
    std::array::from_fn(|at| a[at] - part * along[at])
}

fn unit(a: [f64; 3]) -> [f64; 3] {
    let length = dot(a, a).sqrt();
    a.map(|part| part / length)
}

fn cross(a: [f64; 3], b: [f64; 3]) -> [f64; 3] {
    [
        a[1] * b[2] - a[2] * b[1],
        a[2] * b[0] - a[0] * b[2],
        a[0] * b[1] - a[1] * b[0],
    ]
}

/// The bytes of a picture as a JPEG file, as a camera writes it.
pub fn jpeg(picture: &RgbImage, quality: u8) -> Vec<u8> {
    let mut bytes = Vec::new();
    let mut encoder = image::codecs::jpeg::JpegEncoder::new_with_quality(&mut bytes, quality);
    encoder.encode_image(picture).unwrap();
    bytes
}

/// The bytes of a picture as a PNG file.
pub fn png(picture: &RgbImage) -> Vec<u8> {
    let mut bytes = std::io::Cursor::new(Vec::new());
    picture.write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    bytes.into_inner()
}

/// The bytes of a JPEG file with an EXIF segment: an orientation, a time of taking, and a place on Earth.
pub fn jpeg_with_exif(picture: &RgbImage, orientation: u16) -> Vec<u8> {
    let mut tiff = b"II*\0\x08\0\0\0".to_vec();
    let entry = |tag: u16, kind: u16, count: u32, value: u32| {
        let mut bytes = tag.to_le_bytes().to_vec();
        bytes.extend(kind.to_le_bytes());
        bytes.extend(count.to_le_bytes());
        bytes.extend(value.to_le_bytes());
        bytes
    };
    tiff.extend(3_u16.to_le_bytes());
    tiff.extend(entry(0x0112, 3, 1, u32::from(orientation)));
    tiff.extend(entry(0x8769, 4, 1, 50));
    tiff.extend(entry(0x8825, 4, 1, 88));
    tiff.extend([0; 4]);
    assert_eq!(tiff.len(), 50);
    tiff.extend(1_u16.to_le_bytes());
    tiff.extend(entry(0x9003, 2, 20, 68));
    tiff.extend([0; 4]);
    tiff.extend(b"2026:01:24 08:15:09\0");
    assert_eq!(tiff.len(), 88);
    tiff.extend(1_u16.to_le_bytes());
    tiff.extend(entry(0x001d, 2, 11, 106));
    tiff.extend([0; 4]);
    tiff.extend(b"PLACE-ON-EARTH\0");
    let mut segment = b"Exif\0\0".to_vec();
    segment.extend(tiff);
    let plain = jpeg(picture, 95);
    let mut bytes = plain[..2].to_vec();
    bytes.extend([0xff, 0xe1]);
    bytes.extend((segment.len() as u16 + 2).to_be_bytes());
    bytes.extend(segment);
    bytes.extend(&plain[2..]);
    bytes
}

/// The bytes of a PNG file that claims a size and has next to no data.
pub fn png_that_claims(width: u32, height: u32) -> Vec<u8> {
    let mut bytes = png(&RgbImage::new(1, 1));
    bytes[16..20].copy_from_slice(&width.to_be_bytes());
    bytes[20..24].copy_from_slice(&height.to_be_bytes());
    let sum = crc(&bytes[12..29]);
    bytes[29..33].copy_from_slice(&sum.to_be_bytes());
    bytes
}

/// The checksum of a PNG chunk (ISO 3309, as in the PNG specification, annex D).
fn crc(bytes: &[u8]) -> u32 {
    !bytes.iter().fold(u32::MAX, |crc, &byte| {
        (0..8).fold(crc ^ u32::from(byte), |crc, _| {
            if crc & 1 == 1 {
                0xedb8_8320 ^ (crc >> 1)
            } else {
                crc >> 1
            }
        })
    })
}

// Each test file uses a part of this module; naming the rest keeps it from being called dead code.
const _: () = {
    let _ = (EASY, USUAL, HARD, KERNELS, LEAST_MM);
    let _: fn(u64, &Hardness, CellGrid, u32) -> Drawn = draw;
    let _: fn(&RgbImage, u8) -> Vec<u8> = jpeg;
    let _: fn(&RgbImage, u16) -> Vec<u8> = jpeg_with_exif;
    let _: fn(u32, u32) -> Vec<u8> = png_that_claims;
    let _: fn(Vec<f64>) -> Option<f64> = median;
    let _: fn(&Drawn, Point) -> Point = Drawn::seen;
    let _: fn(&mut Dice) -> f64 = Dice::normal;
    let _ = |drawn: Drawn| (drawn.corners, drawn.grid, drawn.cells, drawn.photo);
    let _ = |truth: Truth| {
        let Truth {
            row,
            column,
            kernels,
            with_root,
            with_shoot,
            with_both,
            sprouted,
            root_mm,
            shoot_mm,
        } = truth;
        (
            (row, column, kernels),
            (with_root, with_shoot, with_both, sprouted),
            (root_mm, shoot_mm),
        )
    };
};

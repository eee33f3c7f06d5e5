//! A first reading of a straightened photograph: for each cell a proposal of how many kernels have a root and a shoot,
//! and how long these are. Colour and shape only; nothing is learnt, the same picture always gives the same proposal.
//!
//! How it works. The cloth is the dark majority of a cell, and tells how much light falls there. Kernels are wide and
//! warmer in colour than the cloth. What is bright and narrow and no kernel is a root, or a shoot where it is greenish or
//! thicker. Lines that touch kernels are counted: as many as have tips of their own, and at most as many as there are
//! kernels. Thresholds were set by eye and by trying on drawn pictures; they have no other source.
//!
//! How far it can be believed, measured on 576 cells of 10 kernels drawn by program with seeds on which nothing was tried
//! (`the_error_of_the_first_reading` in `tests/photo.rs`): the kernels that sprouted were off by more than one in 1 of 192
//! clear cells, 29 of 192 usual ones and 65 of 192 hard ones, 16 % in all; those with both root and shoot in 53 %. That is too
//! much to be proposed unasked. No real photograph was among them.

use super::shapes::{Mask, ridges};
use super::straighten::{CellGrid, Straightened};
use image::RgbImage;

/// Pixels to a millimetre at which pictures are read: a root is four pixels wide.
const PX_PER_MM: f64 = 4.0;

/// Below this the photograph is too coarse to show roots, in its own pixels to a millimetre.
const LEAST_PX_PER_MM: f64 = 2.0;

/// The most pixels of all cells together: they are held in memory at once.
const MOST_PIXELS: f64 = 40e6;

/// A cloth brighter than this, of 255, shows no white root.
const BRIGHT_CLOTH: f32 = 150.0;

/// How much around a kernel belongs to its edge, in millimetres.
const EDGE_MM: f32 = 0.4;

/// Lines that come so near to a kernel touch it, in millimetres.
const NEAR_MM: f32 = 1.0;

/// What is not seen of an end that tapers, in millimetres.
const END_MM: f32 = 0.5;

/// How much greener than a root a shoot is, as a share of what it adds to the cloth's light.
const SHOOT_GREEN: f32 = 0.06;

/// What is wider than this is rather a shoot, in millimetres.
const SHOOT_WIDTH_MM: f32 = 1.8;

/// Roots begin where the direction from the middle of the kernel has this cosine or more with that to its tip.
const TIP_SIDE: f32 = 0.3;

/// A kernel whose shape has less of a tail than this (its third moment) has no tip that could be told.
const ROUND: f32 = 0.12;

/// The colour of a white root, as shares of its brightness.
const WHITE_ROOT: [f32; 3] = [1.03, 1.0, 0.92];

/// How much around a cell is looked at, in millimetres, since roots and shoots grow over its border.
const OVER_MM: f64 = 10.0;

/// Lines of more area than this for each kernel, in square millimetres, hide each other.
const CROWDED_MM2: f32 = 24.0;

/// Specks smaller than this are no roots, in square millimetres.
const LEAST_LINE_MM2: f32 = 1.2;

/// The least length of a root or shoot that counts, in millimetres.
const LEAST_LENGTH_MM: f32 = 2.0;

/// What the photograph of a cell seems to show. A proposal: only a person counts.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// Kernels found.
    pub kernels: u16,
    /// Kernels with a root of at least 2 mm.
    pub with_root: u16,
    /// Kernels with a shoot of at least 2 mm.
    pub with_shoot: u16,
    /// Kernels with both: often wrong, since either may be hidden.
    pub with_both: u16,
    /// Kernels with one or both: the figure that can best be believed.
    pub sprouted: u16,
    /// Median length of the longest root of those that have one, in millimetres.
    pub root_mm: Option<f64>,
    /// Median length of the shoot of those that have one, in millimetres.
    pub shoot_mm: Option<f64>,
    /// How clear the picture was.
    pub clearness: Clearness,
}

/// How clear the picture of a cell was to read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Clearness {
    /// Much is hidden, tangled or unlike a kernel.
    Poor,
    /// Something is tangled or hidden.
    Fair,
    /// All kernels found, nothing tangled.
    Good,
}

impl Clearness {
    /// How many of a hundred such cells of drawn pictures were off by more than one sprouted kernel: 4 of 177, 27 of 169
    /// and 64 of 230, as measured by `the_error_of_the_first_reading` in `tests/photo.rs`.
    pub fn off_in_a_hundred(self) -> u16 {
        match self {
            Self::Good => 2,
            Self::Fair => 16,
            Self::Poor => 28,
        }
    }
}

/// Why no cell of a photograph can be read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, thiserror::Error)]
pub enum ReadingFault {
    /// Too few pixels.
    #[error("the photo is too coarse to show roots. Take it from nearer, so that the tray fills it.")]
    Coarse,
    /// White roots do not show on a bright cloth.
    #[error("the cloth is too bright to tell white roots from it. Lay on a dark cloth to have photos read.")]
    BrightCloth,
    /// More cells, or larger ones, than are read.
    #[error("the cells are too large or too many to be read from a photo. Count them by eye.")]
    TooLarge,
    /// Nothing stands out from the cloth.
    #[error(
        "nothing stands out from the cloth: the photo is too dark or blurred. Take another with more light."
    )]
    Flat,
}

/// Reads all cells of a tray, row by row. `laid` says how many kernels lie in the cell at a row and a column, both from 1;
/// cells where it says none are not read.
///
/// # Errors
/// [`ReadingFault`].
pub fn propose(
    photo: &RgbImage,
    tray: &Straightened,
    laid: impl Fn(u16, u16) -> Option<u16>,
) -> Result<Vec<(u16, u16, Proposal)>, ReadingFault> {
    if tray.px_per_mm() < LEAST_PX_PER_MM {
        return Err(ReadingFault::Coarse);
    }
    let CellGrid { rows, columns, .. } = *tray.grid();
    let part = tray.grid().cell(1, 1).grown(OVER_MM);
    let pixels = part.width * part.height * PX_PER_MM * PX_PER_MM;
    if pixels * f64::from(rows) * f64::from(columns) > MOST_PIXELS {
        return Err(ReadingFault::TooLarge);
    }
    let places = (1..=rows).flat_map(|row| (1..=columns).map(move |column| (row, column)));
    let cells: Vec<(u16, u16, u16, Look)> = places
        .filter_map(|(row, column)| Some((row, column, laid(row, column)?)))
        .map(|(row, column, laid)| {
            let part = tray.grid().cell(row, column).grown(OVER_MM);
            (row, column, laid, Look::of(&tray.picture(photo, part, PX_PER_MM)))
        })
        .collect();
    let Some(cloth) = median(cells.iter().map(|(.., look)| look.cloth_light)) else {
        return Ok(Vec::new());
    };
    if cloth > BRIGHT_CLOTH {
        return Err(ReadingFault::BrightCloth);
    }
    // The brightest of a usual cell, under the light of its own cloth.
    let bright = median(
        cells
            .iter()
            .map(|(.., look)| look.bright_light / look.shade(cloth)),
    )
    .unwrap_or(cloth);
    if bright < cloth + 25.0 {
        return Err(ReadingFault::Flat);
    }
    let marked: Vec<Marked> = cells
        .iter()
        .map(|(.., look)| look.marked(cloth, bright))
        .collect();
    let areas = marked.iter().flat_map(|cell| {
        cell.kernels
            .iter()
            .filter(|kernel| kernel.is_own)
            .map(|kernel| kernel.area)
    });
    let usual_area = median(areas).unwrap_or(1.0).max(1.0);
    let read = cells
        .iter()
        .zip(&marked)
        .map(|((row, column, laid, _), cell)| (*row, *column, cell.read(*laid, usual_area)));
    Ok(read.collect())
}

/// The middle value; the lower of two.
fn median(values: impl Iterator<Item = f32>) -> Option<f32> {
    let mut values: Vec<f32> = values.collect();
    values.sort_by(f32::total_cmp);
    values.get(values.len().saturating_sub(1) / 2).copied()
}

/// A cell's picture taken apart.
struct Look {
    width: usize,
    height: usize,
    /// Brightness, from 0 to 255.
    light: Vec<f32>,
    /// How much redder than blue, as a share of all light.
    warmth: Vec<f32>,
    /// Red, green and blue.
    colour: Vec<[f32; 3]>,
    cloth_light: f32,
    cloth_colour: [f32; 3],
    cloth_warmth: f32,
    bright_light: f32,
}

impl Look {
    fn of(picture: &RgbImage) -> Self {
        let (width, height) = (picture.width() as usize, picture.height() as usize);
        let smooth = smoothed(picture);
        let light: Vec<f32> = smooth
            .iter()
            .map(|[r, g, b]| 0.3 * r + 0.59 * g + 0.11 * b)
            .collect();
        // Dark places have little colour to tell: the addend keeps their noise down.
        let share = |of: f32, [r, g, b]: &[f32; 3]| of / (r + g + b + 40.0);
        let warmth: Vec<f32> = smooth.iter().map(|p| share(p[0] - p[2], p)).collect();
        let frame = Frame { width, height };
        let mut order: Vec<usize> = (0..light.len()).filter(|&at| frame.to_border(at) > 0.0).collect();
        order.sort_by(|&a, &b| light[a].total_cmp(&light[b]));
        let at = |share: f32| (order.len().saturating_sub(1) as f32 * share) as usize;
        // The darkest are shadows, the brighter half may be kernels, roots or mould.
        let cloth = order.get(at(0.1)..=at(0.4)).unwrap_or_default();
        let of_cloth = |values: &[f32]| median(cloth.iter().map(|&place| values[place])).unwrap_or_default();
        Self {
            width,
            height,
            cloth_light: of_cloth(&light),
            cloth_warmth: of_cloth(&warmth),
            bright_light: order.get(at(0.98)).map_or(0.0, |&at| light[at]),
            light,
            warmth,
            cloth_colour: [0, 1, 2]
                .map(|channel| of_cloth(&smooth.iter().map(|p| p[channel]).collect::<Vec<_>>())),
            colour: smooth,
        }
    }

    /// How much light falls here, as a share of what falls on a usual cell.
    fn shade(&self, cloth: f32) -> f32 {
        (self.cloth_light.max(1.0) / cloth.max(1.0)).clamp(0.2, 5.0)
    }

    /// Finds kernels and lines. `cloth` and `bright` are the light of a usual cell's cloth and of its brightest things.
    fn marked(&self, cloth: f32, bright: f32) -> Marked {
        let mm = PX_PER_MM as f32;
        let shade = self.shade(cloth);
        // 0 is cloth, 1 a white root.
        let lit: Vec<f32> = self
            .light
            .iter()
            .map(|light| (light / shade - cloth) / (bright - cloth))
            .collect();
        let mask =
            |of: &dyn Fn(usize) -> bool| Mask::new(self.width, self.height, (0..lit.len()).map(of).collect());
        let warm = mask(&|at| self.warmth[at] > (self.cloth_warmth + 0.07).max(0.06) && lit[at] > 0.05);
        let bodies = warm.opened(1.5 * mm);
        let (part_of, parts) = bodies.parts();
        let is_kernel: Vec<bool> = parts
            .iter()
            .map(|part| part.len() as f32 > 12.0 * mm * mm)
            .collect();
        let kernel = bodies.map(|at| part_of[at] > 0 && is_kernel[part_of[at] as usize - 1]);
        let from_kernel = kernel.distance();
        let foggy = mask(&|at| lit[at] > 0.25).opened(2.2 * mm);
        let foggy = (0..lit.len())
            .filter(|&at| foggy.set[at] && !kernel.set[at])
            .count();
        // Kernels are taken out, so that a shoot stands out up to where it begins.
        let around: Vec<f32> = (0..lit.len())
            .map(|at| {
                if from_kernel[at] > EDGE_MM * mm {
                    lit[at]
                } else {
                    0.0
                }
            })
            .collect();
        let ridge = ridges(&around, self.width, self.height, (1.75 * mm) as usize);
        let line = self.without_ruling(&mask(&|at| ridge[at] > 0.22));
        let (part_of, parts) = line.parts();
        let line = line.map(|at| {
            part_of[at] > 0 && parts[part_of[at] as usize - 1].len() as f32 > LEAST_LINE_MM2 * mm * mm
        });
        let is_shoot = self.shoots(&line);
        let (kernel_of, kernels) = kernel.parts();
        let frame = self.frame();
        let near = nearest(&kernel, &kernel_of, (NEAR_MM * mm) as usize);
        Marked {
            kernels: kernels.iter().map(|places| Kernel::of(&frame, places)).collect(),
            near,
            line,
            is_shoot,
            foggy: foggy as f32 / lit.len() as f32,
            frame,
        }
    }

    fn frame(&self) -> Frame {
        Frame {
            width: self.width,
            height: self.height,
        }
    }

    /// Takes out the outlines of the cells where they are drawn brighter than the cloth, and joins what they cut.
    fn without_ruling(&self, line: &Mask) -> Mask {
        let mm = PX_PER_MM as f32;
        let frame = self.frame();
        let (strip, beside) = (0.8 * mm, 1.6 * mm);
        let on_border: Vec<usize> = (0..line.set.len())
            .filter(|&at| frame.to_border(at).abs() < 0.3 * mm)
            .collect();
        let drawn = on_border.iter().filter(|&&at| line.set[at]).count();
        if 2 * drawn < on_border.len() {
            return line.clone();
        }
        let cut = line.map(|at| line.set[at] && frame.to_ruling(at).iter().all(|away| away.abs() > strip));
        let crosses = |at: usize| {
            let around = || cut.within(at, beside as usize).filter(|&other| cut.set[other]);
            let has = |axis: usize, inside: bool| {
                around().any(|other| (frame.to_ruling(other)[axis] > 0.0) == inside)
            };
            (0..2).any(|axis| frame.to_ruling(at)[axis].abs() <= strip && has(axis, true) && has(axis, false))
        };
        cut.map(|at| cut.set[at] || (line.set[at] && crosses(at)))
    }

    /// Which places of the lines belong to shoots: greenish, or thicker than roots are.
    fn shoots(&self, line: &Mask) -> Vec<bool> {
        let mm = PX_PER_MM as f32;
        let depth = line.depth();
        // A line is mixed with the cloth at its edge. What it adds to the cloth has its own hue wherever it is mixed.
        let green = |[r, g, b]: [f32; 3]| (g - f32::midpoint(r, b)) / (r + g + b).max(1.0);
        let of_root = green(std::array::from_fn(|at| {
            WHITE_ROOT[at] * self.bright_light - self.cloth_colour[at]
        }));
        let near = (0.75 * mm) as usize;
        let on_line = |at: usize, reach: usize| line.within(at, reach).filter(|&other| line.set[other]);
        let mut hue = vec![0.0; line.set.len()];
        let mut width = vec![0.0; line.set.len()];
        for at in (0..line.set.len()).filter(|&at| line.set[at]) {
            let mut over = [0.0; 3];
            for other in on_line(at, near) {
                for (channel, over) in over.iter_mut().enumerate() {
                    *over += self.colour[other][channel] - self.cloth_colour[channel];
                }
                width[at] = depth[other].max(width[at]);
            }
            hue[at] = 6.0 * (green(over) - of_root - SHOOT_GREEN);
            width[at] = 2.0 * width[at] / mm;
        }
        let wide = (2.5 * mm) as usize;
        let is_shoot = |at: usize| {
            let (mut sum, mut count) = (0.0, 0.0);
            for other in on_line(at, wide) {
                sum += width[other];
                count += 1.0;
            }
            let thick = 1.5 * (sum / count - SHOOT_WIDTH_MM).clamp(-0.4, 0.2);
            on_line(at, mm as usize)
                .map(|other| hue[other] + thick)
                .sum::<f32>()
                > 0.0
        };
        (0..line.set.len())
            .map(|at| line.set[at] && is_shoot(at))
            .collect()
    }
}

/// Mixes each pixel with those around it.
fn smoothed(picture: &RgbImage) -> Vec<[f32; 3]> {
    let (width, height) = picture.dimensions();
    let mut smooth = Vec::with_capacity((width * height) as usize);
    for y in 0..height {
        for x in 0..width {
            let (mut sum, mut count) = ([0.0; 3], 0.0);
            for v in y.saturating_sub(1)..=(y + 1).min(height - 1) {
                for u in x.saturating_sub(1)..=(x + 1).min(width - 1) {
                    let pixel = picture.get_pixel(u, v).0;
                    for (sum, value) in sum.iter_mut().zip(pixel) {
                        *sum += f32::from(value);
                    }
                    count += 1.0;
                }
            }
            smooth.push(sum.map(|sum: f32| sum / count));
        }
    }
    smooth
}

/// The number of the nearest kernel, from 1, for each place at most `reach` pixels from one; 0 elsewhere.
fn nearest(kernel: &Mask, kernel_of: &[u32], reach: usize) -> Vec<u32> {
    let mut near = kernel_of.to_vec();
    let mut ring: Vec<usize> = (0..near.len()).filter(|&at| near[at] != 0).collect();
    for step in 0..reach {
        let mut next = Vec::new();
        for at in ring {
            for (other, corner) in kernel.around(at) {
                // Corners count every other time, so that the reach is nearly round.
                if near[other] == 0 && (!corner || step % 2 == 0) {
                    near[other] = near[at];
                    next.push(other);
                }
            }
        }
        ring = next;
    }
    near
}

/// The picture of a cell with what hangs over its border.
#[derive(Clone, Copy)]
struct Frame {
    width: usize,
    height: usize,
}

impl Frame {
    fn place(self, at: usize) -> [f32; 2] {
        [(at % self.width) as f32 + 0.5, (at / self.width) as f32 + 0.5]
    }

    /// How far a place is from the cell's border, in pixels; outside of the cell less than 0.
    fn to_border(self, at: usize) -> f32 {
        let [across, down] = self.to_ruling(at);
        across.min(down)
    }

    /// How far a place is from the lines along the cell's sides and along its top and bottom, in pixels; outside of them less
    /// than 0.
    fn to_ruling(self, at: usize) -> [f32; 2] {
        let [x, y] = self.place(at);
        let over = (OVER_MM * PX_PER_MM) as f32;
        let inside = |at: f32, size: usize| (at - over).min(size as f32 - over - at);
        [inside(x, self.width), inside(y, self.height)]
    }
}

/// A kernel, or several that touch.
struct Kernel {
    area: f32,
    centre: [f32; 2],
    /// Where its narrow end points; no direction when it is round.
    tip: [f32; 2],
    /// Whether it lies in the cell and not in one beside it.
    is_own: bool,
}

impl Kernel {
    fn of(frame: &Frame, places: &[usize]) -> Self {
        let area = places.len().max(1) as f32;
        let mean =
            |of: &dyn Fn([f32; 2]) -> f32| places.iter().map(|&at| of(frame.place(at))).sum::<f32>() / area;
        let centre = [mean(&|p| p[0]), mean(&|p| p[1])];
        let away = |p: [f32; 2]| [p[0] - centre[0], p[1] - centre[1]];
        let (xx, yy) = (mean(&|p| away(p)[0].powi(2)), mean(&|p| away(p)[1].powi(2)));
        let xy = mean(&|p| away(p)[0] * away(p)[1]);
        // The direction of the longest axis, and the long tail of the shape along it: a kernel narrows to its tip.
        let angle = (2.0 * xy).atan2(xx - yy) / 2.0;
        let along = |p: [f32; 2]| away(p)[0] * angle.cos() + away(p)[1] * angle.sin();
        let spread = mean(&|p| along(p).powi(2)).max(1e-6);
        let tail = mean(&|p| along(p).powi(3)) / spread.powf(1.5);
        let sign = if tail.abs() < ROUND { 0.0 } else { tail.signum() };
        let at = centre[1] as usize * frame.width + centre[0] as usize;
        Self {
            area,
            centre,
            tip: [sign * angle.cos(), sign * angle.sin()],
            is_own: frame.to_border(at) > 0.0,
        }
    }

    /// The cosine between the direction from its middle to a place and that to its tip; 1 where no tip could be told.
    fn towards_tip(&self, [x, y]: [f32; 2]) -> f32 {
        let (x, y) = (x - self.centre[0], y - self.centre[1]);
        if self.tip == [0.0, 0.0] {
            return 1.0;
        }
        (x * self.tip[0] + y * self.tip[1]) / x.hypot(y).max(1e-6)
    }
}

/// What was found in a cell.
struct Marked {
    frame: Frame,
    kernels: Vec<Kernel>,
    /// The nearest kernel of each place near one, from 1.
    near: Vec<u32>,
    /// Roots and shoots.
    line: Mask,
    is_shoot: Vec<bool>,
    /// The share of the picture that is bright and broad and no kernel: mould, or cloth in the sun.
    foggy: f32,
}

/// The roots or the shoots of connected lines.
struct Strand {
    /// Kernels from which they begin, from 0.
    touches: Vec<usize>,
    /// The lengths from the nearest kernel to each tip, in millimetres, the longest first.
    tips: Vec<f32>,
}

impl Marked {
    fn read(&self, laid: u16, usual_area: f32) -> Proposal {
        let several: Vec<u16> = self
            .kernels
            .iter()
            .map(|kernel| ((kernel.area / usual_area).round() as u16).clamp(1, 4))
            .collect();
        let own = |numbers: &[u16]| -> u16 {
            let pairs = numbers.iter().zip(&self.kernels);
            pairs
                .filter(|(_, kernel)| kernel.is_own)
                .map(|(number, _)| number)
                .sum()
        };
        let kernels = own(&several);
        let (_, parts) = self.line.parts();
        let shoots = self.strands(&parts, true);
        let roots = self.strands(&parts, false);
        let (shoot_of, shoot_lengths) = self.assign(&shoots, &several, &vec![0; several.len()]);
        let (root_of, root_lengths) = self.assign(&roots, &several, &shoot_of);
        let both: Vec<u16> = shoot_of
            .iter()
            .zip(&root_of)
            .map(|(shoot, root)| *shoot.min(root))
            .collect();
        let either: Vec<u16> = shoot_of
            .iter()
            .zip(&root_of)
            .map(|(shoot, root)| *shoot.max(root))
            .collect();
        let tangled = roots
            .iter()
            .chain(&shoots)
            .filter(|strand| strand.touches.len() > 1)
            .count();
        let laid = f32::from(laid.max(1));
        let mm2 = self.line.set.iter().filter(|&&set| set).count() as f64 / (PX_PER_MM * PX_PER_MM);
        let crowded = ((mm2 as f32 / laid - CROWDED_MM2) / CROWDED_MM2).max(0.0);
        let doubt = (f32::from(kernels) - laid).abs() + 0.5 * tangled as f32 + 8.0 * self.foggy;
        let doubt = doubt / laid + 0.12 * crowded;
        Proposal {
            kernels,
            with_root: own(&root_of),
            with_shoot: own(&shoot_of),
            with_both: own(&both),
            sprouted: own(&either),
            root_mm: median(root_lengths.into_iter()).map(f64::from),
            shoot_mm: median(shoot_lengths.into_iter()).map(f64::from),
            clearness: match doubt {
                doubt if doubt < 0.15 => Clearness::Good,
                doubt if doubt < 0.4 => Clearness::Fair,
                _ => Clearness::Poor,
            },
        }
    }

    /// Where roots or shoots begin: they touch a kernel. A root begins at the kernel's tip; one that also touches its far
    /// side only goes past.
    fn begins(&self, shoots: bool) -> Mask {
        let touching = self
            .line
            .map(|at| self.line.set[at] && self.near[at] > 0 && self.is_shoot[at] == shoots);
        if shoots {
            return touching;
        }
        let side = |at: usize| self.kernels[self.near[at] as usize - 1].towards_tip(self.frame.place(at));
        let (part_of, parts) = touching.parts();
        let farthest: Vec<f32> = parts
            .iter()
            .map(|places| places.iter().map(|&at| side(at)).fold(1.0, f32::min))
            .collect();
        touching.map(|at| touching.set[at] && side(at) > TIP_SIDE && farthest[part_of[at] as usize - 1] > 0.0)
    }

    fn strands(&self, parts: &[Vec<usize>], shoots: bool) -> Vec<Strand> {
        let is_ours = |at: usize| self.is_shoot[at] == shoots;
        let begins = self.begins(shoots);
        let all = parts.iter().flatten().copied();
        let all = all.filter(|&at| begins.set[at]).collect::<Vec<_>>();
        let (far, from) = walk(&self.line, &all, &self.near);
        let strand = |places: &Vec<usize>| {
            let touches = places.iter().filter(|&&at| begins.set[at]);
            let mut touches: Vec<usize> = touches.map(|&at| self.near[at] as usize - 1).collect();
            touches.sort_unstable();
            touches.dedup();
            let tips = places.iter().filter(|&&at| is_ours(at) && self.is_tip(at, &far));
            let length = |&at: &usize| {
                let mm = far[at] / PX_PER_MM as f32 + NEAR_MM;
                // Where two kernels' lines meet there is no tip: one line leads from one kernel to the other.
                let meets = self.around_line(at).any(|other| from[other] != from[at]);
                if meets { 2.0 * mm } else { mm + END_MM }
            };
            let mut tips: Vec<f32> = tips.map(length).filter(|&mm| mm >= LEAST_LENGTH_MM).collect();
            tips.sort_by(|a, b| b.total_cmp(a));
            (!tips.is_empty() && !touches.is_empty()).then_some(Strand { touches, tips })
        };
        parts.iter().filter_map(strand).collect()
    }

    /// Gives each strand to as many of the kernels it touches as it has tips, first to those that have a `partner`. Gives how
    /// many of each kernel have one, and the lengths of those in the cell, in millimetres.
    fn assign(&self, strands: &[Strand], several: &[u16], partner: &[u16]) -> (Vec<u16>, Vec<f32>) {
        let mut has = vec![0; several.len()];
        let mut lengths = Vec::new();
        // Strands of one kernel are certain and go first.
        let mut order: Vec<&Strand> = strands.iter().collect();
        order.sort_by_key(|strand| strand.touches.len());
        for strand in order {
            let mut left = strand.tips.len() as u16;
            let mut own = false;
            let mut kernels = strand.touches.clone();
            kernels.sort_by_key(|&kernel| (has[kernel] > 0, partner[kernel] == 0));
            for kernel in kernels {
                let more = left.min(several[kernel] - has[kernel]);
                has[kernel] += more;
                left -= more;
                own |= more > 0 && self.kernels[kernel].is_own;
            }
            if own {
                lengths.extend(&strand.tips[..strand.tips.len() - usize::from(left)]);
            }
        }
        (has, lengths)
    }

    /// Whether no place around is farther from the kernels along the line.
    fn is_tip(&self, at: usize, far: &[f32]) -> bool {
        far[at].is_finite()
            && self
                .around_line(at)
                .all(|other| (far[other], other) <= (far[at], at))
    }

    /// The places of the lines around one.
    fn around_line(&self, at: usize) -> impl Iterator<Item = usize> {
        let around = self.line.within(at, (1.25 * PX_PER_MM) as usize);
        around.filter(|&other| self.line.set[other])
    }
}

/// How far along the lines each place is from the nearest of those given, in pixels; infinite where none is connected.
/// Gives also from which kernel it comes, by its number.
fn walk(lines: &Mask, begin: &[usize], kernel_of: &[u32]) -> (Vec<f32>, Vec<u32>) {
    let mut far = vec![f32::INFINITY; lines.set.len()];
    let mut from = vec![0; lines.set.len()];
    for &at in begin {
        far[at] = 0.0;
        from[at] = kernel_of[at];
    }
    let mut ring = begin.to_vec();
    while !ring.is_empty() {
        let mut next = Vec::new();
        for at in ring {
            for (other, corner) in lines.around(at) {
                // Kulpa's corrected chain lengths (1977; from memory): a line of any direction is measured without bias.
                let length = far[at] + if corner { 1.340 } else { 0.948 };
                if lines.set[other] && length + 1e-3 < far[other] {
                    far[other] = length;
                    from[other] = from[at];
                    next.push(other);
                }
            }
        }
        ring = next;
    }
    (far, from)
}

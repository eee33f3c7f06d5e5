//! Shapes in small pictures: distances, openings, connected parts, ridges.

/// A picture of yes and no, row by row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Mask {
    pub width: usize,
    pub height: usize,
    pub set: Vec<bool>,
}

impl Mask {
    pub fn new(width: usize, height: usize, set: Vec<bool>) -> Self {
        debug_assert_eq!(set.len(), width * height);
        Self { width, height, set }
    }

    /// The same place by place, by a function of the place's number.
    pub fn map(&self, of: impl Fn(usize) -> bool) -> Self {
        Self::new(self.width, self.height, (0..self.set.len()).map(of).collect())
    }

    /// Distance of each place to the nearest place that is not set, in pixels; the outside of the picture is no such
    /// place. Exact, after Felzenszwalb and Huttenlocher, *Distance Transforms of Sampled Functions* (2012).
    pub fn depth(&self) -> Vec<f32> {
        // Farther than any place of the picture, yet small enough to keep whole numbers exact.
        let far = (self.width + self.height) as f32;
        let mut squares: Vec<f32> = self
            .set
            .iter()
            .map(|&set| if set { far * far } else { 0.0 })
            .collect();
        let mut line = Line::default();
        for y in 0..self.height {
            line.transform(&mut squares, y * self.width, 1, self.width);
        }
        for x in 0..self.width {
            line.transform(&mut squares, x, self.width, self.height);
        }
        squares.into_iter().map(f32::sqrt).collect()
    }

    /// Distance of each place to the nearest place that is set, in pixels.
    pub fn distance(&self) -> Vec<f32> {
        self.map(|at| !self.set[at]).depth()
    }

    /// What is left of it when everything narrower than a disc of this radius is taken away.
    pub fn opened(&self, radius: f32) -> Self {
        let depth = self.depth();
        let core = self.map(|at| depth[at] > radius);
        let distance = core.distance();
        self.map(|at| self.set[at] && distance[at] <= radius)
    }

    /// Its connected parts, places joined over corners too: for each place the number of its part from 1, 0 where none is;
    /// and the places of each part.
    pub fn parts(&self) -> (Vec<u32>, Vec<Vec<usize>>) {
        let mut part_of = vec![0; self.set.len()];
        let mut parts: Vec<Vec<usize>> = Vec::new();
        for start in 0..self.set.len() {
            if !self.set[start] || part_of[start] != 0 {
                continue;
            }
            let number = parts.len() as u32 + 1;
            part_of[start] = number;
            let mut places = vec![start];
            let mut next = 0;
            while let Some(&at) = places.get(next) {
                next += 1;
                for (other, _) in self.around(at) {
                    if self.set[other] && part_of[other] == 0 {
                        part_of[other] = number;
                        places.push(other);
                    }
                }
            }
            parts.push(places);
        }
        (part_of, parts)
    }

    /// The up to eight places around one, with whether each lies over a corner.
    pub fn around(&self, at: usize) -> impl Iterator<Item = (usize, bool)> + use<> {
        let (width, height) = (self.width as isize, self.height as isize);
        let (x, y) = (at as isize % width, at as isize / width);
        RING.into_iter().filter_map(move |(dx, dy)| {
            let (x, y) = (x + dx, y + dy);
            let inside = x >= 0 && y >= 0 && x < width && y < height;
            inside.then_some(((y * width + x) as usize, dx != 0 && dy != 0))
        })
    }

    /// The places within a square around one, itself too.
    pub fn within(&self, at: usize, reach: usize) -> impl Iterator<Item = usize> + use<> {
        let (x, y, width) = (at % self.width, at / self.width, self.width);
        let (left, right) = (x.saturating_sub(reach), (x + reach).min(width - 1));
        let rows = y.saturating_sub(reach)..=(y + reach).min(self.height - 1);
        rows.flat_map(move |y| (left..=right).map(move |x| y * width + x))
    }
}

/// The places around one: from above, round as the clock goes.
const RING: [(isize, isize); 8] = [
    (0, -1),
    (1, -1),
    (1, 0),
    (1, 1),
    (0, 1),
    (-1, 1),
    (-1, 0),
    (-1, -1),
];

/// One pass of the distance transform along a row or a column.
#[derive(Default)]
struct Line {
    from: Vec<f32>,
    centre: Vec<usize>,
    begin: Vec<f32>,
}

impl Line {
    /// Lower envelope of parabolas at `count` places from `first`, `step` apart.
    fn transform(&mut self, squares: &mut [f32], first: usize, step: usize, count: usize) {
        self.from.clear();
        self.from.extend((0..count).map(|at| squares[first + at * step]));
        self.centre.clear();
        self.begin.clear();
        for place in 0..count {
            let mut begins = f32::NEG_INFINITY;
            while let (Some(&centre), Some(&begin)) = (self.centre.last(), self.begin.last()) {
                let height = |at: usize| self.from[at] + (at * at) as f32;
                begins = (height(place) - height(centre)) / (2.0 * (place - centre) as f32);
                if begins > begin {
                    break;
                }
                self.centre.pop();
                self.begin.pop();
                begins = f32::NEG_INFINITY;
            }
            self.centre.push(place);
            self.begin.push(begins);
        }
        let mut part = 0;
        for place in 0..count {
            while self
                .begin
                .get(part + 1)
                .is_some_and(|&begin| begin < place as f32)
            {
                part += 1;
            }
            let centre = self.centre[part];
            let apart = place.abs_diff(centre);
            squares[first + place * step] = self.from[centre] + (apart * apart) as f32;
        }
    }
}

/// What is brighter than its surroundings and narrower than `2 * reach + 1` pixels: the picture less the largest smooth
/// picture of squares of that size below it (a top-hat).
pub(super) fn ridges(light: &[f32], width: usize, height: usize, reach: usize) -> Vec<f32> {
    let low = spread(light, width, height, reach, f32::min);
    let open = spread(&low, width, height, reach, f32::max);
    light.iter().zip(open).map(|(light, open)| light - open).collect()
}

/// The least or the most within a square around each place.
fn spread(
    values: &[f32],
    width: usize,
    height: usize,
    reach: usize,
    pick: impl Fn(f32, f32) -> f32,
) -> Vec<f32> {
    let along = |values: &[f32], count: usize, step: usize, lines: usize, line_step: usize| {
        let mut out = vec![0.0; values.len()];
        for line in 0..lines {
            let first = line * line_step;
            for at in 0..count {
                let (from, to) = (at.saturating_sub(reach), (at + reach).min(count - 1));
                let picked = (from..=to)
                    .map(|other| values[first + other * step])
                    .reduce(&pick);
                out[first + at * step] = picked.unwrap_or(values[first + at * step]);
            }
        }
        out
    };
    let rows = along(values, width, 1, height, width);
    along(&rows, height, width, width, 1)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A mask from rows of text, where `#` is set.
    fn drawn(rows: &[&str]) -> Mask {
        let set = rows
            .iter()
            .flat_map(|row| row.bytes().map(|letter| letter == b'#'));
        Mask::new(rows[0].len(), rows.len(), set.collect())
    }

    #[test]
    fn parts_are_joined_over_corners() {
        let mask = drawn(&["##...", "..#..", "....#", "#...#"]);
        let (part_of, parts) = mask.parts();
        assert_eq!(parts.iter().map(Vec::len).collect::<Vec<_>>(), [3, 2, 1]);
        assert_eq!(part_of[0], part_of[7]);
        assert_eq!(part_of[4], 0);
    }

    #[test]
    fn an_opening_takes_lines_away_and_leaves_blobs() {
        let blob = |x: usize, y: usize| (x as f32 - 10.0).hypot(y as f32 - 10.0) <= 6.0;
        let set = (0..30 * 21).map(|at| blob(at % 30, at / 30) || at / 30 == 10);
        let mask = Mask::new(30, 21, set.collect());
        let opened = mask.opened(3.0);
        assert!(!opened.set[10 * 30 + 25], "the line is gone");
        assert!(
            opened.set[10 * 30 + 10] && opened.set[5 * 30 + 10],
            "the blob is there"
        );
        assert!(
            opened
                .set
                .iter()
                .zip(&mask.set)
                .all(|(opened, set)| !opened || *set)
        );
    }

    #[test]
    fn ridges_are_narrow_and_bright_and_slopes_are_none() {
        let (width, height) = (40, 20);
        let light: Vec<f32> = (0..width * height)
            .map(|at| {
                let x = at % width;
                0.01 * x as f32
                    + if x == 10 || (25..=34).contains(&x) {
                        0.5
                    } else {
                        0.0
                    }
            })
            .collect();
        let ridge = ridges(&light, width, height, 3);
        let row = &ridge[5 * width..6 * width];
        assert!(row[10] > 0.45, "{}", row[10]);
        assert!(row[5] < 0.1 && row[30] < 0.1, "{} {}", row[5], row[30]);
    }

    proptest! {
        #[test]
        fn distances_are_those_to_the_nearest_place(
            (width, set) in (1_usize..9).prop_flat_map(|width| {
                let rows = prop::collection::vec(any::<bool>(), width * 7);
                (Just(width), rows)
            })
        ) {
            let mask = Mask::new(width, 7, set);
            let depth = mask.depth();
            for (at, depth) in depth.into_iter().enumerate() {
                let away = |other: usize| {
                    let (x, y) = ((at % width).abs_diff(other % width), (at / width).abs_diff(other / width));
                    (x as f32).hypot(y as f32)
                };
                let open = (0..mask.set.len()).filter(|&other| !mask.set[other]);
                if let Some(nearest) = open.map(away).reduce(f32::min) {
                    prop_assert!((depth - nearest).abs() < 1e-3, "{at}: {depth} is not {nearest}");
                }
            }
        }
    }
}

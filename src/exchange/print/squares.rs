//! Squares of one size in rows and columns, such as the modules of a square code.
//!
//! As single boxes they took four fifths of the time and nearly all of the bytes of a sheet of labels. Drawn along the
//! edges of the dark areas in whole squares, at the scale of one square, they take a fraction of both.

use super::BoxAt;

/// Neighbouring squares of one row.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Run {
    /// The row, from 0 at the top.
    pub row: u16,
    /// The first column, from 0 at the left.
    pub column: u16,
    /// How many squares.
    pub length: u16,
}

/// Squares of one size that belong together.
#[derive(Debug, Clone, PartialEq)]
pub struct Squares {
    /// Left top corner of row 0, column 0, in points.
    pub at: (f32, f32),
    /// Side of one square in points.
    pub side: f32,
    /// Which squares there are; no square in two runs.
    pub runs: Vec<Run>,
}

impl Squares {
    /// The runs as boxes in points.
    pub fn boxes(&self) -> impl Iterator<Item = BoxAt> + '_ {
        let side = self.side;
        self.runs.iter().map(move |run| {
            let (column, row) = (f32::from(run.column), f32::from(run.row));
            let at = (self.at.0 + column * side, self.at.1 + row * side);
            (at, (f32::from(run.length) * side, side))
        })
    }

    /// The edges of the areas that the squares make together, as closed lines from corner to corner in whole squares:
    /// with the sun around an area, against it around a hole. Areas that only touch at a corner are apart.
    pub(super) fn outlines(&self) -> Vec<Vec<(u16, u16)>> {
        let mut edges = Edges::of(&self.runs);
        let mut lines = Vec::new();
        for at in 0..edges.from.len() {
            while let Some(line) = edges.take_line(at) {
                lines.push(line);
            }
        }
        lines
    }
}

/// The directions in the order in which the sun turns: right, down, left, up.
const STEPS: [(isize, isize); 4] = [(1, 0), (0, 1), (-1, 0), (0, -1)];

/// The edges between squares and gaps, each with the square on its right hand.
struct Edges {
    /// Corners in a row.
    width: usize,
    /// In which directions edges begin at each corner, row by row; a bit for each.
    from: Vec<u8>,
}

impl Edges {
    fn of(runs: &[Run]) -> Self {
        let rows = runs.iter().map(|run| usize::from(run.row) + 1).max().unwrap_or(0);
        let columns = runs
            .iter()
            .map(|run| usize::from(run.column) + usize::from(run.length));
        let columns = columns.max().unwrap_or(0);
        let mut is_dark = vec![false; rows * columns];
        for run in runs {
            let start = usize::from(run.row) * columns + usize::from(run.column);
            is_dark[start..start + usize::from(run.length)].fill(true);
        }
        let dark = |row: usize, column: usize| {
            row < rows && column < columns && is_dark.get(row * columns + column) == Some(&true)
        };
        let width = columns + 1;
        let mut from = vec![0; (rows + 1) * width];
        for row in 0..rows {
            for column in (0..columns).filter(|column| dark(row, *column)) {
                let corner = |down: usize, right: usize| (row + down) * width + column + right;
                // Above, right, below, left; a number below 0 is far beyond the last.
                if !dark(row.wrapping_sub(1), column) {
                    from[corner(0, 0)] |= 1;
                }
                if !dark(row, column + 1) {
                    from[corner(0, 1)] |= 1 << 1;
                }
                if !dark(row + 1, column) {
                    from[corner(1, 1)] |= 1 << 2;
                }
                if !dark(row, column.wrapping_sub(1)) {
                    from[corner(1, 0)] |= 1 << 3;
                }
            }
        }
        Self { width, from }
    }

    /// Takes out a closed line that begins at a corner; none where no edge begins.
    fn take_line(&mut self, start: usize) -> Option<Vec<(u16, u16)>> {
        let mut direction = (0..4).find(|direction| self.from[start] >> direction & 1 == 1)?;
        let mut line = Vec::new();
        let mut at = start;
        loop {
            line.push(((at % self.width) as u16, (at / self.width) as u16));
            // Straight on as far as the edge goes.
            let (right, down) = STEPS[direction];
            while self.from[at] >> direction & 1 == 1 {
                self.from[at] &= !(1 << direction);
                at = at
                    .wrapping_add_signed(right)
                    .wrapping_add_signed(down * self.width as isize);
                // At a corner where two areas touch, the line stays with its own.
                let turn = (direction + 1) % 4;
                if self.from[at] >> turn & 1 == 1 {
                    break;
                }
            }
            if at == start {
                return Some(line);
            }
            direction = [1, 3]
                .map(|turn| (direction + turn) % 4)
                .into_iter()
                .find(|direction| self.from[at] >> direction & 1 == 1)?;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Squares where a picture has `#`.
    fn squares(picture: &[&str]) -> Squares {
        let mut runs = Vec::new();
        for (row, line) in picture.iter().enumerate() {
            for (column, sign) in line.chars().enumerate() {
                if sign == '#' {
                    let (row, column) = (row as u16, column as u16);
                    runs.push(Run {
                        row,
                        column,
                        length: 1,
                    });
                }
            }
        }
        Squares {
            at: (0.0, 0.0),
            side: 1.0,
            runs,
        }
    }

    /// How often the lines go around the middle of a square, with the sun.
    fn winding(lines: &[Vec<(u16, u16)>], row: u16, column: u16) -> i32 {
        let mut turns = 0;
        for line in lines {
            for (from, to) in line.iter().zip(line.iter().cycle().skip(1)) {
                // A ray to the right crosses edges up and down.
                if from.0 == to.0 && from.0 > column {
                    if from.1 <= row && to.1 > row {
                        turns += 1;
                    } else if to.1 <= row && from.1 > row {
                        turns -= 1;
                    }
                }
            }
        }
        turns
    }

    #[test]
    fn the_lines_enclose_the_squares_and_nothing_else() {
        let mut state = 1_u64;
        let mut drawn: Vec<Vec<String>> = Vec::new();
        for size in 1..12_usize {
            let mut picture = Vec::new();
            for _ in 0..size {
                let mut line = String::new();
                for _ in 0..size + 2 {
                    // Knuth's multiplier for 64 bits; any numbers would do.
                    state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                    line.push(if state >> 62 < 2 { '#' } else { '.' });
                }
                picture.push(line);
            }
            drawn.push(picture);
        }
        let fixed = [
            vec!["."],
            vec!["#"],
            vec!["#.", ".#"],
            vec![".#", "#."],
            vec!["###", "#.#", "###"],
            vec!["#####", "#...#", "#.#.#", "#...#", "#####"],
            vec!["##.", "#.#", ".##"],
        ];
        drawn.extend(fixed.map(|lines| lines.into_iter().map(str::to_owned).collect()));
        for picture in drawn {
            let picture: Vec<&str> = picture.iter().map(String::as_str).collect();
            let lines = squares(&picture).outlines();
            for (row, line) in picture.iter().enumerate() {
                for (column, sign) in line.chars().enumerate() {
                    let expected = i32::from(sign == '#');
                    let turns = winding(&lines, row as u16, column as u16);
                    assert_eq!(turns, expected, "{row} {column} {picture:?} {lines:?}");
                }
            }
            for line in &lines {
                for (at, (x, y)) in line.iter().enumerate() {
                    let next = line[(at + 1) % line.len()];
                    assert!((*x == next.0) != (*y == next.1), "no idle corner: {lines:?}");
                }
            }
        }
    }

    #[test]
    fn a_square_is_four_corners_and_a_ring_is_two_lines() {
        assert_eq!(
            squares(&["##", "##"]).outlines(),
            [vec![(0, 0), (2, 0), (2, 2), (0, 2)]]
        );
        assert_eq!(squares(&["###", "#.#", "###"]).outlines().len(), 2);
        assert_eq!(squares(&["#.", ".#"]).outlines().len(), 2);
    }
}

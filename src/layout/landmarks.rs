//! Where the landmarks lie, so that a turned, mirrored or shifted tray shows itself.

use super::Grid;
use super::draw::Draw;

/// The cells of the landmarks in reading order, for any number up to all cells.
///
/// They depend on the grid and the number only, not on the seed: every tray of every season has them in the
/// same places, and a printed cloth stays good. They are spread evenly along the reading order, so that a
/// shift that begins anywhere meets one soon after, and no half-turn, mirror image, quarter-turn (of a
/// square) or cyclic shift by one (in reading order, by a row, by a column) brings the set onto itself. A shift by
/// more, off the edge of the tray, always takes a landmark with it. Where no such set exists they are only spread:
/// without landmarks or with nothing else, in 2 by 2, and with one or eight in 3 by 3 ([`landmarks_tell`]).
pub fn landmark_cells(grid: Grid, number: u16) -> Vec<usize> {
    const MOST_TRIES: usize = 2_000;
    let cells = grid.cells();
    let number = usize::from(number).min(cells);
    let spread: Vec<usize> = (0..number)
        .map(|index| (2 * index + 1) * cells / (2 * number))
        .collect();
    if number == 0 || number == cells || is_telling(grid, &spread) {
        return spread;
    }
    let mut draw =
        Draw::new((u64::from(grid.rows()) << 32) | (u64::from(grid.columns()) << 16) | number as u64);
    let mut order: Vec<usize> = (0..cells).collect();
    for _ in 0..MOST_TRIES {
        draw.shuffle(&mut order);
        let mut set = order[..number].to_vec();
        set.sort_unstable();
        if is_telling(grid, &set) {
            return set;
        }
    }
    spread
}

/// Says whether so many landmarks show every turn, mirror image and shift of this grid. Where they do not, no other cells
/// would.
pub fn landmarks_tell(grid: Grid, number: u16) -> bool {
    is_telling(grid, &landmark_cells(grid, number))
}

/// Whether every handling error moves the set: no symmetry of the grid and no cyclic shift by one maps it
/// onto itself.
fn is_telling(grid: Grid, set: &[usize]) -> bool {
    let (rows, columns) = (usize::from(grid.rows()), usize::from(grid.columns()));
    let mut marked = vec![false; grid.cells()];
    for &cell in set {
        marked[cell] = true;
    }
    let index = |row: usize, column: usize| row * columns + column;
    let stays = |image: &dyn Fn(usize, usize) -> usize| {
        let mut moves_any_cell = false;
        for cell in 0..grid.cells() {
            let (row, column) = grid.place(cell);
            let to = image(row, column);
            moves_any_cell |= to != cell;
            if marked[cell] && !marked[to] {
                return false;
            }
        }
        moves_any_cell
    };
    let (last_row, last_column) = (rows - 1, columns - 1);
    let half_turn = |r: usize, c: usize| index(last_row - r, last_column - c);
    let mirror_rows = |r: usize, c: usize| index(last_row - r, c);
    let mirror_columns = |r: usize, c: usize| index(r, last_column - c);
    let shift_reading = |r: usize, c: usize| (index(r, c) + 1) % (rows * columns);
    let shift_row = |r: usize, c: usize| index((r + 1) % rows, c);
    let shift_column = |r: usize, c: usize| index(r, (c + 1) % columns);
    if stays(&half_turn)
        || stays(&mirror_rows)
        || stays(&mirror_columns)
        || stays(&shift_reading)
        || stays(&shift_row)
        || stays(&shift_column)
    {
        return false;
    }
    if rows != columns {
        return true;
    }
    // A quarter-turn the other way keeps the same sets as this one.
    let quarter_turn = |r: usize, c: usize| index(c, last_row - r);
    let transpose = |r: usize, c: usize| index(c, r);
    let other_transpose = |r: usize, c: usize| index(last_row - c, last_row - r);
    !(stays(&quarter_turn) || stays(&transpose) || stays(&other_transpose))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(rows: u16, columns: u16) -> Grid {
        Grid::new(rows, columns).unwrap()
    }

    #[test]
    fn a_telling_set_is_found_wherever_one_exists() {
        for (rows, columns) in (1..=4).flat_map(|rows| (1..=4).map(move |columns| (rows, columns))) {
            let grid = grid(rows, columns);
            let cells = grid.cells() as u32;
            let mut possible = vec![false; cells as usize + 1];
            for pattern in 0..1u32 << cells {
                let set: Vec<usize> = (0..cells as usize)
                    .filter(|cell| pattern >> cell & 1 == 1)
                    .collect();
                possible[set.len()] |= is_telling(grid, &set);
            }
            for (number, &possible) in possible.iter().enumerate() {
                let found = landmark_cells(grid, number as u16);
                assert_eq!(
                    is_telling(grid, &found),
                    possible,
                    "{number} in {rows} by {columns}"
                );
            }
        }
    }

    /// Those small grids of which every set was looked at above hold all sizes for which there is none.
    #[test]
    fn landmarks_tell_wherever_there_is_anything_to_tell() {
        for (rows, columns) in (1..=50).flat_map(|rows| (1..=50).map(move |columns| (rows, columns))) {
            let grid = grid(rows, columns);
            let cells = grid.cells() as u16;
            // All numbers were tried once, up to 100; here those of a tray that somebody uses, and odd ones.
            for number in [0, 1, 2, 3, 4, 8, cells / 2, cells - 1, cells] {
                let none = number == 0
                    || number >= cells
                    || (rows, columns) == (2, 2)
                    || ((rows, columns) == (3, 3) && [1, 8].contains(&number));
                // A tray of one cell cannot be turned into anything else.
                let none = none && cells > 1;
                assert_eq!(
                    landmarks_tell(grid, number),
                    !none,
                    "{number} in {rows} by {columns}"
                );
            }
        }
    }

    #[test]
    fn no_shift_off_the_edge_leaves_landmarks_in_place() {
        for (rows, columns, number) in [(4, 8, 2), (4, 8, 1), (6, 6, 3), (1, 9, 2), (5, 7, 6)] {
            let grid = grid(rows, columns);
            let set: Vec<(i32, i32)> = landmark_cells(grid, number)
                .into_iter()
                .map(|cell| grid.place(cell))
                .map(|(row, column)| (row as i32, column as i32))
                .collect();
            for (down, right) in (-6..=6).flat_map(|down| (-9..=9).map(move |right| (down, right))) {
                let moved = |&(row, column): &(i32, i32)| (row + down, column + right);
                let stays = set.iter().all(|cell| set.contains(&moved(cell)));
                assert_eq!(stays, (down, right) == (0, 0));
            }
        }
    }

    #[test]
    fn symmetric_sets_are_recognised() {
        // Opposite corners of 4 by 8 survive a half-turn; the middle of 3 by 3 survives everything.
        assert!(!is_telling(grid(4, 8), &[0, 31]));
        assert!(!is_telling(grid(3, 3), &[4]));
        assert!(!is_telling(grid(4, 4), &[5]), "on a diagonal");
        assert!(
            !is_telling(grid(3, 2), &[0, 2, 4]),
            "a whole column survives a shift by a row"
        );
        assert!(is_telling(grid(4, 8), &[0, 1]));
        assert!(!is_telling(grid(4, 8), &[]));
    }

    #[test]
    fn too_many_are_all_cells() {
        assert_eq!(landmark_cells(grid(2, 2), 9), [0, 1, 2, 3]);
        assert_eq!(landmark_cells(grid(4, 8), 2), [8, 24]);
    }
}

//! Whether a photograph was given its corners the wrong way round, as far as the cells that were left empty tell.

use super::straighten::{CellGrid, Straightened};
use image::RgbImage;

/// Pixels to a millimetre at which cells are looked at: enough for kernels.
const PX_PER_MM: f64 = 1.0;

/// How much of each side of a cell is not looked at, as a share: its border, and roots that grow over it.
const MARGIN: f64 = 0.14;

/// A cell is blank when its light varies less than this share of that of a usual cell. Set by trying on drawn pictures.
const BLANK: f32 = 0.45;

/// The most cells that are looked at.
const MOST_CELLS: usize = 2_000;

/// Says by how many quarter turns the corners should go on round the tray (the next corner becomes the top left one), so that
/// the landmarks come to lie where the photograph is blank. None when they lie right as it is, or when it cannot be told:
/// without landmarks, or where more than one way would do.
///
/// A tray that is not square can only be half turned, or its cells would not fit.
pub fn quarter_turns(photo: &RgbImage, tray: &Straightened, landmarks: &[(u16, u16)]) -> Option<u8> {
    let CellGrid { rows, columns, .. } = *tray.grid();
    if landmarks.is_empty() || usize::from(rows) * usize::from(columns) > MOST_CELLS {
        return None;
    }
    let unrest: Vec<f32> = (1..=rows)
        .flat_map(|row| (1..=columns).map(move |column| (row, column)))
        .map(|(row, column)| unrest(photo, tray, row, column))
        .collect();
    let mut sorted = unrest.clone();
    sorted.sort_by(f32::total_cmp);
    let usual = sorted.get(sorted.len() / 2).copied()?;
    let is_blank = |(row, column): (u16, u16)| {
        let at = (usize::from(row) - 1) * usize::from(columns) + usize::from(column) - 1;
        unrest.get(at).is_some_and(|unrest| *unrest < BLANK * usual)
    };
    let fits = |turns: u8| {
        let mut seen = landmarks
            .iter()
            .map(|landmark| seen_at(*landmark, (rows, columns), turns));
        seen.all(is_blank)
    };
    if fits(0) {
        return None;
    }
    let turns: &[u8] = if rows == columns { &[1, 2, 3] } else { &[2] };
    let mut fitting = turns.iter().copied().filter(|turns| fits(*turns));
    let first = fitting.next()?;
    fitting.next().is_none().then_some(first)
}

/// Where a cell is seen now that would come to its place after so many quarter turns.
fn seen_at((row, column): (u16, u16), (rows, columns): (u16, u16), turns: u8) -> (u16, u16) {
    match turns {
        1 => (column, columns + 1 - row),
        2 => (rows + 1 - row, columns + 1 - column),
        3 => (rows + 1 - column, row),
        _ => (row, column),
    }
}

/// How much brighter the bright parts of a cell are than its cloth, in the colour that tells most, of 255.
fn unrest(photo: &RgbImage, tray: &Straightened, row: u16, column: u16) -> f32 {
    let cell = tray.grid().cell(row, column);
    let inside = cell.grown(-MARGIN * cell.width.min(cell.height));
    let picture = tray.picture(photo, inside, PX_PER_MM);
    let spread = |channel: usize| {
        let mut values: Vec<u8> = picture.pixels().map(|pixel| pixel.0[channel]).collect();
        values.sort_unstable();
        let at = |share: usize| values.get(values.len() * share / 100).copied().unwrap_or(0);
        f32::from(at(95)) - f32::from(at(50))
    };
    (0..3).map(spread).fold(0.0, f32::max)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn as_many_turns_back_lead_to_the_same_cell() {
        for (row, column) in (1..=4).flat_map(|row| (1..=4).map(move |column| (row, column))) {
            for turns in 0..4 {
                let there = seen_at((row, column), (4, 4), turns);
                let back = seen_at(there, (4, 4), (4 - turns) % 4);
                assert_eq!(back, (row, column), "{turns}");
            }
            let once = seen_at((row, column), (4, 4), 1);
            assert_eq!(seen_at(once, (4, 4), 1), seen_at((row, column), (4, 4), 2));
        }
    }
}

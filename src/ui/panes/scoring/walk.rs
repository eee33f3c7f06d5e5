//! The order in which the cells of a test are counted, and finding a cell by what a person calls it.

use crate::model::{CellId, EarCode, EarId, Pass, Project, Test, TestId, TrayId};
use std::collections::BTreeMap;

/// The cells of a test that hold something to count, tray by tray in reading order.
#[derive(Debug, Default)]
pub(super) struct Walk {
    cells: Vec<CellId>,
    /// For every cell of the test, how many cells to count come before it.
    before: BTreeMap<CellId, usize>,
    /// The trays by number.
    trays: Vec<TrayId>,
}

impl Walk {
    /// Walks through a test.
    pub fn of(project: &Project, test: TestId) -> Self {
        let mut walk = Self::default();
        for tray in project.trays_of(test) {
            walk.trays.push(tray.id);
            for cell in project.cells_of(tray.id) {
                walk.before.insert(cell.id, walk.cells.len());
                if cell.content.is_counted() {
                    walk.cells.push(cell.id);
                }
            }
        }
        walk
    }

    /// Says whether there is nothing to count.
    pub fn is_empty(&self) -> bool {
        self.cells.is_empty()
    }

    /// Gives the number of trays.
    pub fn trays(&self) -> usize {
        self.trays.len()
    }

    /// Gives the first cell.
    pub fn first(&self) -> Option<CellId> {
        self.cells.first().copied()
    }

    /// Gives how many cells to count come before the next one after a cell.
    pub fn after(&self, cell: CellId) -> usize {
        let at = self.before.get(&cell).copied().unwrap_or(0);
        at + usize::from(self.cells.get(at) == Some(&cell))
    }

    /// Gives the cell to count before or after a cell.
    pub fn step(&self, cell: CellId, forward: bool) -> Option<CellId> {
        if forward {
            return self.cells.get(self.after(cell)).copied();
        }
        let at = self.before.get(&cell).copied()?;
        self.cells.get(at.checked_sub(1)?).copied()
    }

    /// Finds the first fitting cell after a cell, up to the end.
    pub fn find_after(&self, cell: CellId, fits: impl Fn(CellId) -> bool) -> Option<CellId> {
        self.cells
            .get(self.after(cell)..)?
            .iter()
            .copied()
            .find(|cell| fits(*cell))
    }

    /// Finds the first fitting cell from a place in the order on, then from the beginning.
    pub fn find_from(&self, from: usize, fits: impl Fn(CellId) -> bool) -> Option<CellId> {
        let (before, after) = self.cells.split_at(from.min(self.cells.len()));
        after.iter().chain(before).copied().find(|cell| fits(*cell))
    }

    /// Gives the tray before or after a tray.
    pub fn neighbour_tray(&self, tray: TrayId, forward: bool) -> Option<TrayId> {
        let at = self.trays.iter().position(|known| *known == tray)?;
        let at = if forward { at + 1 } else { at.checked_sub(1)? };
        self.trays.get(at).copied()
    }
}

/// Finds the cell that a text means: `B4` in this tray, `3 B4`, `tray 3`, an ear's number or its code.
pub(super) fn find_place(
    project: &Project,
    test: &Test,
    tray: Option<TrayId>,
    pass: Pass,
    text: &str,
) -> Result<CellId, String> {
    let typed = text.trim();
    let words: Vec<&str> = typed.split_whitespace().collect();
    let numbered = |number: &str| {
        let number: u16 = number.parse().ok()?;
        project.trays_of(test.id).find(|tray| tray.number == number)
    };
    match words.as_slice() {
        [word, number] if word.eq_ignore_ascii_case("tray") => {
            let tray = numbered(number).ok_or_else(|| format!("There is no tray {number} in this test."))?;
            super::first_open(project, tray.id, pass)
                .ok_or_else(|| format!("Tray {number} holds nothing to count."))
        }
        [number, name] if cell_place(name).is_some() => {
            let tray = numbered(number).ok_or_else(|| format!("There is no tray {number} in this test."))?;
            at(project, tray.id, name).ok_or_else(|| format!("Tray {number} has no cell {name}."))
        }
        [name] if cell_place(name).is_some() => {
            let cell = tray.and_then(|tray| at(project, tray, name));
            cell.ok_or_else(|| format!("This tray has no cell {name}."))
        }
        [word] => ear_called(project, test, word).and_then(|ear| in_test(project, test, ear, pass, word)),
        [word, number] if word.eq_ignore_ascii_case("ear") => {
            ear_called(project, test, number).and_then(|ear| in_test(project, test, ear, pass, number))
        }
        _ => Err(format!(
            "'{typed}' is no place; type a cell such as B4, a tray and a cell such as 3 B4, or an ear number."
        )),
    }
}

fn ear_called(project: &Project, test: &Test, word: &str) -> Result<EarId, String> {
    if let Ok(number) = word.parse::<u32>() {
        let ear = project.ear_numbered(test.season, number);
        return ear
            .map(|ear| ear.id)
            .ok_or_else(|| format!("There is no ear {number} in this season."));
    }
    let code: EarCode = word
        .parse()
        .map_err(|fault| format!("'{word}' is no cell, and as an ear code: {fault}."))?;
    let ear = project.ear_coded(code);
    ear.map(|ear| ear.id)
        .ok_or_else(|| format!("There is no ear {word} in this project."))
}

fn in_test(project: &Project, test: &Test, ear: EarId, pass: Pass, word: &str) -> Result<CellId, String> {
    let here = || {
        project.cells_of_ear(ear).filter(|cell| {
            let tray = project.trays.get(cell.tray);
            tray.is_some_and(|tray| tray.test == test.id)
        })
    };
    let open = here().find(|cell| project.count_in_force(cell.id, pass).is_none());
    open.or_else(|| here().next())
        .map(|cell| cell.id)
        .ok_or_else(|| format!("Ear {word} lies in no tray of {}.", test.name))
}

fn at(project: &Project, tray: TrayId, name: &str) -> Option<CellId> {
    let (row, column) = cell_place(name)?;
    project.cell_at(tray, row, column).map(|cell| cell.id)
}

/// Reads a cell's name, such as `B4` or `aa12`: row and column from 1.
fn cell_place(name: &str) -> Option<(u16, u16)> {
    let split = name.find(|letter: char| letter.is_ascii_digit())?;
    let (letters, digits) = name.split_at(split);
    if letters.is_empty() || letters.len() > 2 || digits.len() > 4 {
        return None;
    }
    let mut row = 0;
    for letter in letters.bytes() {
        if !letter.is_ascii_alphabetic() {
            return None;
        }
        row = row * 26 + u16::from(letter.to_ascii_uppercase() - b'A') + 1;
    }
    Some((row, digits.parse().ok()?))
}

#[cfg(test)]
mod tests {
    use super::cell_place;
    use crate::model::cell_name;

    #[test]
    fn every_cell_s_name_is_read_back() {
        for row in 1..=100 {
            for column in [1, 8, 30, 100] {
                let name = cell_name(row, column);
                assert_eq!(cell_place(&name), Some((row, column)), "{name}");
                assert_eq!(cell_place(&name.to_lowercase()), Some((row, column)));
            }
        }
        for text in ["", "4", "B", "4B", "B4x", "ÄB4", "ABC1", "B-4"] {
            assert_eq!(cell_place(text), None, "{text}");
        }
    }
}

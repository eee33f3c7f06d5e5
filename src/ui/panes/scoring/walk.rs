//! The order in which the cells of a test are counted, and finding a cell by what a person calls it.

use crate::model::{CellContent, CellId, EarCode, EarId, Project, Test, TestId, TrayId};
use std::collections::BTreeMap;

/// A cell at which the walk stops.
#[derive(Debug, Clone, Copy)]
pub(super) struct Stop {
    /// The cell.
    pub cell: CellId,
    /// Its tray.
    pub tray: TrayId,
    /// Whether it is a landmark, at which nothing is counted: it is looked at whether it is blank.
    pub is_landmark: bool,
}

/// The cells of a test at which the walk stops, tray by tray in reading order.
#[derive(Debug, Default)]
pub(super) struct Walk {
    stops: Vec<Stop>,
    /// For every cell of the test, how many stops come before it.
    before: BTreeMap<CellId, usize>,
    /// The trays by number, each with the place of its first stop.
    trays: Vec<(TrayId, usize)>,
    /// Whether there is anything to count.
    has_counted: bool,
}

impl Walk {
    /// Walks through a test.
    pub fn of(project: &Project, test: TestId) -> Self {
        let mut walk = Self::default();
        for tray in project.trays_of(test) {
            walk.trays.push((tray.id, walk.stops.len()));
            for cell in project.cells_of(tray.id) {
                walk.before.insert(cell.id, walk.stops.len());
                let is_landmark = cell.content == CellContent::Landmark;
                walk.has_counted |= cell.content.is_counted();
                if is_landmark || cell.content.is_counted() {
                    walk.stops.push(Stop {
                        cell: cell.id,
                        tray: tray.id,
                        is_landmark,
                    });
                }
            }
        }
        walk
    }

    /// Says whether there is nothing to count.
    pub fn is_empty(&self) -> bool {
        !self.has_counted
    }

    /// Gives the number of trays.
    pub fn trays(&self) -> usize {
        self.trays.len()
    }

    /// Gives the first cell to count.
    pub fn first(&self) -> Option<CellId> {
        self.stops
            .iter()
            .find(|stop| !stop.is_landmark)
            .map(|stop| stop.cell)
    }

    /// The place of the first stop after a cell.
    fn after(&self, cell: CellId) -> usize {
        let at = self.before.get(&cell).copied().unwrap_or(0);
        at + usize::from(self.stops.get(at).is_some_and(|stop| stop.cell == cell))
    }

    /// Gives the cell to count before or after a cell.
    pub fn step(&self, cell: CellId, forward: bool) -> Option<CellId> {
        if forward {
            return self.find_after(cell, |stop| !stop.is_landmark);
        }
        let at = self.before.get(&cell).copied()?;
        let before = self.stops.get(..at)?.iter().rev();
        before
            .filter(|stop| !stop.is_landmark)
            .map(|stop| stop.cell)
            .next()
    }

    /// Finds the first fitting stop after a cell, up to the end.
    pub fn find_after(&self, cell: CellId, fits: impl Fn(&Stop) -> bool) -> Option<CellId> {
        let after = self.stops.get(self.after(cell)..)?;
        after.iter().find(|stop| fits(stop)).map(|stop| stop.cell)
    }

    /// Finds the first fitting cell to count behind a cell, then from the beginning.
    pub fn find_round(&self, behind: Option<CellId>, fits: impl Fn(CellId) -> bool) -> Option<CellId> {
        let from = behind.map_or(0, |cell| self.after(cell));
        let (before, after) = self.stops.split_at(from.min(self.stops.len()));
        let mut counted = after.iter().chain(before).filter(|stop| !stop.is_landmark);
        counted.find(|stop| fits(stop.cell)).map(|stop| stop.cell)
    }

    /// Gives the stops of a tray.
    pub fn of_tray(&self, tray: TrayId) -> &[Stop] {
        let Some(at) = self.place(tray) else { return &[] };
        let end = self.trays.get(at + 1).map_or(self.stops.len(), |next| next.1);
        self.stops.get(self.trays[at].1..end).unwrap_or_default()
    }

    fn place(&self, tray: TrayId) -> Option<usize> {
        self.trays.iter().position(|(known, _)| *known == tray)
    }

    /// Gives the tray before or after a tray.
    pub fn neighbour_tray(&self, tray: TrayId, forward: bool) -> Option<TrayId> {
        let at = self.place(tray)?;
        let at = if forward { at + 1 } else { at.checked_sub(1)? };
        self.trays.get(at).map(|(tray, _)| *tray)
    }
}

/// Finds the cell that a text means: `B4` in this tray, `3 B4`, `tray 3`, an ear's number or its code. A blind scorer is
/// not told where ears lie.
pub(super) fn find_place(
    project: &Project,
    test: &Test,
    (tray, is_blind): (Option<TrayId>, bool),
    is_open: &dyn Fn(CellId) -> bool,
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
            super::first_open(project, tray.id, is_open)
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
        [_] | [_, _] if is_blind => Err(format!(
            "'{typed}' is no place; while ears are hidden, type a cell such as B4, or a tray and a cell such as 3 B4."
        )),
        [word] => ear_called(project, test, word).and_then(|ear| in_test(project, test, ear, is_open, word)),
        [word, number] if word.eq_ignore_ascii_case("ear") => {
            ear_called(project, test, number).and_then(|ear| in_test(project, test, ear, is_open, number))
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

fn in_test(
    project: &Project,
    test: &Test,
    ear: EarId,
    is_open: &dyn Fn(CellId) -> bool,
    word: &str,
) -> Result<CellId, String> {
    let here = || {
        project.cells_of_ear(ear).filter(|cell| {
            let tray = project.trays.get(cell.tray);
            tray.is_some_and(|tray| tray.test == test.id)
        })
    };
    let open = here().find(|cell| is_open(cell.id));
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

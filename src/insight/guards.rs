//! What does not fit together in a count before it is recorded, and how old the kernels are when they are counted.

use crate::model::{Cell, CellContent, CellId, Count, Pass, Project, Recipe, Seen, Taken, Tally};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// How many days before or after its day in the recipe a count is made in time. Common practice, no source.
pub const WINDOW_DAYS: i64 = 1;

/// Something in a count that does not fit together. It is recorded only when the grower says why.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Guard {
    /// More kernels had emerged at an earlier count than are seedlings at a later one.
    Lost {
        /// The earlier pass.
        earlier: Pass,
        /// The later pass.
        later: Pass,
        /// Kernels that had emerged at the earlier count.
        had: u32,
        /// Seedlings of the later count: strong, weak and abnormal.
        grown: u32,
        /// Dead kernels of the later count, some of which may have emerged and died since.
        dead: u32,
    },
    /// Nothing grew, but it has a vigor grade above 0, as when the first key was not pressed home.
    VigorOfNothing(u8),
}

impl Guard {
    /// Says whether the grower has to type why, because no usual course of things explains it.
    pub fn needs_reason(self) -> bool {
        self.usual_reason().is_none()
    }

    /// Gives the usual course of things that explains it, in the words that are kept with the count.
    pub fn usual_reason(self) -> Option<&'static str> {
        match self {
            Self::Lost { had, grown, dead, .. } if had <= grown + dead => Some("died after sprouting"),
            Self::Lost { .. } | Self::VigorOfNothing(_) => None,
        }
    }

    /// Gives reasons that life often has for it, to be chosen instead of typed. Common practice, no source.
    pub fn reasons(self) -> &'static [&'static str] {
        match self {
            Self::Lost { .. } if !self.needs_reason() => &["died after sprouting"],
            Self::Lost { .. } => &["taken out at the earlier count", "eaten or lost since"],
            Self::VigorOfNothing(_) => &["graded before they died"],
        }
    }

    /// Says what does not fit, in a sentence. A blind scorer is not told the numbers of other counts.
    pub fn sentence(self, is_blind: bool) -> String {
        match self {
            Self::Lost {
                earlier,
                later,
                had,
                grown,
                dead,
            } => {
                let all = grown + dead;
                match (is_blind, self.needs_reason()) {
                    (true, _) => format!(
                        "The {earlier} and the {later} count of this cell do not fit together: more had emerged than are seedlings later."
                    ),
                    (false, true) => format!(
                        "{had} had emerged at the {earlier} count, but at the {later} count only {all} are seedlings or dead. Both cannot be right."
                    ),
                    (false, false) => format!(
                        "{had} had emerged at the {earlier} count, but at the {later} count only {grown} are seedlings. Then {} of the {dead} dead had sprouted before.",
                        had - grown
                    ),
                }
            }
            Self::VigorOfNothing(vigor) => {
                format!("No seedling is strong, weak or abnormal, but the vigor is {vigor}.")
            }
        }
    }
}

/// Names what does not fit together in a count that is about to be recorded. Of the counts of the cell those of the
/// same scorer are looked at, or the first scorer's where the second has none.
pub fn guards(project: &Project, seen: &Seen) -> Vec<Guard> {
    guards_beside(project, seen, &[])
}

/// Names what does not fit together in counts that are taken over in one step: beside what is there, and beside each other.
/// Each thing is named once, with the place of its count among them. Withdrawals fit always; what has a reason with it is
/// not named.
pub fn guards_together(project: &Project, taken: &[Taken]) -> Vec<(usize, Guard)> {
    let mut of_cell: BTreeMap<CellId, Vec<&Taken>> = BTreeMap::new();
    for one in taken {
        of_cell.entry(one.seen.cell).or_default().push(one);
    }
    let mut named: BTreeMap<CellId, Vec<Guard>> = BTreeMap::new();
    let mut found = Vec::new();
    for (at, one) in taken.iter().enumerate().filter(|(_, one)| !one.is_void) {
        let known = named.entry(one.seen.cell).or_default();
        let together = of_cell.get(&one.seen.cell).map_or(&[][..], Vec::as_slice);
        // One reason explains both counts between which something does not fit.
        let is_explained = |guard: &Guard| match guard {
            Guard::Lost { earlier, later, .. } => together
                .iter()
                .any(|one| [*earlier, *later].contains(&one.seen.pass) && !one.seen.overruled.is_empty()),
            Guard::VigorOfNothing(_) => !one.seen.overruled.is_empty(),
        };
        // It is named where the later count is, if both are taken.
        let is_named_later = |guard: &Guard| match guard {
            Guard::Lost { later, .. } if *later != one.seen.pass => together.iter().any(|other| {
                (other.seen.pass, other.seen.second) == (*later, one.seen.second) && !other.is_void
            }),
            Guard::Lost { .. } | Guard::VigorOfNothing(_) => false,
        };
        for guard in guards_beside(project, &one.seen, together) {
            if !known.contains(&guard) && !is_explained(&guard) && !is_named_later(&guard) {
                known.push(guard);
                found.push((at, guard));
            }
        }
    }
    found
}

fn guards_beside(project: &Project, seen: &Seen, together: &[&Taken]) -> Vec<Guard> {
    let mut found = Vec::new();
    let Some(test) = project
        .cells
        .get(seen.cell)
        .and_then(|cell| project.test_of_tray(cell.tray))
    else {
        return found;
    };
    let place = place_in_time(&test.recipe, seen.pass);
    let others = others(project, seen.cell, seen.second, together);
    let time = |other: &Other| place_in_time(&test.recipe, other.pass);
    let before = others
        .iter()
        .filter(|other| time(other) < place)
        .max_by_key(|other| time(other));
    let after = others
        .iter()
        .filter(|other| time(other) > place)
        .min_by_key(|other| time(other));
    if let Some(before) = before {
        let had = before.tally.emerged();
        found.extend(lost(
            (before.pass, had),
            (seen.pass, seen.tally.emerged(), seen.tally.dead),
        ));
    }
    if let Some(after) = after {
        let had = seen.tally.emerged();
        found.extend(lost(
            (seen.pass, had),
            (after.pass, after.tally.emerged(), after.tally.dead),
        ));
    }
    if let Some(vigor) = seen.vigor.filter(|vigor| *vigor > 0)
        && seen.tally.emerged() == 0
    {
        found.push(Guard::VigorOfNothing(vigor));
    }
    found
}

fn lost((earlier, had): (Pass, u32), (later, grown, dead): (Pass, u32, u16)) -> Option<Guard> {
    (had > grown).then_some(Guard::Lost {
        earlier,
        later,
        had,
        grown,
        dead: u32::from(dead),
    })
}

/// Another count of a cell, to compare with.
struct Other {
    pass: Pass,
    second: bool,
    tally: Tally,
}

/// The counts in force of a cell once others are taken over with it, of each pass the one to compare with.
fn others(project: &Project, cell: CellId, second: bool, together: &[&Taken]) -> Vec<Other> {
    let is_taken = |count: &Count| {
        let mut taken = together.iter().map(|one| &one.seen);
        taken.any(|seen| (seen.pass, seen.second) == (count.pass, count.second))
    };
    let in_force = project
        .counts_of(cell)
        .filter(|count| !count.void && !project.is_corrected(count.id) && !is_taken(count))
        .map(|count| (count.pass, count.second, count.tally));
    let taken = together
        .iter()
        .filter(|one| !one.is_void)
        .map(|one| (one.seen.pass, one.seen.second, one.seen.tally));
    let mut found: Vec<Other> = Vec::new();
    for (pass, other_second, tally) in in_force.chain(taken) {
        let other = Other {
            pass,
            second: other_second,
            tally,
        };
        if other.second && !second {
            continue;
        }
        match found.iter_mut().find(|known| known.pass == pass) {
            Some(known) if other.second == second => *known = other,
            Some(_) => {}
            None => found.push(other),
        }
    }
    found
}

/// When in a test a pass is made, to order passes by.
fn place_in_time(recipe: &Recipe, pass: Pass) -> i64 {
    match pass {
        Pass::Early => recipe.early_day.map_or(0, i64::from),
        Pass::Between(day) => i64::from(day),
        Pass::Final => i64::MAX,
    }
}

/// How old the kernels of a cell are at a count.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Age {
    /// Days since they were laid.
    pub days: i64,
    /// The first day of the pass.
    pub first: i64,
    /// The last day of the pass.
    pub last: i64,
}

impl Age {
    /// Says whether the count is too early or too late to be compared with those made in time.
    pub fn is_outside(self) -> bool {
        !(self.first..=self.last).contains(&self.days)
    }

    /// Says the age where it is outside of the days of the pass, such as `day 20, outside of days 11 to 13`.
    pub fn remark(self) -> Option<String> {
        let (days, first, last) = (self.days, self.first, self.last);
        let window = if first == last {
            format!("day {first}")
        } else {
            format!("days {first} to {last}")
        };
        self.is_outside()
            .then(|| format!("day {days}, outside of {window}"))
    }
}

/// Gives the age of a cell's kernels at a count of a pass on a day; `None` while they are not laid, or where the
/// recipe has no such count.
pub fn age(project: &Project, cell: &Cell, pass: Pass, on: Date) -> Option<Age> {
    let laid = project.laid_on(cell)?;
    let recipe = &project.test_of_tray(cell.tray)?.recipe;
    let (day, around) = match pass {
        Pass::Early => (i64::from(recipe.early_day?), WINDOW_DAYS),
        Pass::Between(day) => (i64::from(day), 0),
        Pass::Final => (i64::from(recipe.final_day), WINDOW_DAYS),
    };
    Some(Age {
        days: i64::from((on - laid).get_days()),
        first: day - around,
        last: day + around,
    })
}

/// Says how a tray can be read wrongly that shows itself at this cell, and where its landmarks would be then.
pub fn astray(project: &Project, cell: &Cell) -> String {
    let Some(tray) = project.trays.get(cell.tray) else {
        return String::new();
    };
    let landmarks: Vec<&Cell> = project
        .cells_of(tray.id)
        .filter(|cell| cell.content == CellContent::Landmark)
        .collect();
    let names = |row: &dyn Fn(&Cell) -> (u16, u16)| {
        let mut places: Vec<(u16, u16)> = landmarks.iter().map(|cell| row(cell)).collect();
        places.sort_unstable();
        let names: Vec<String> = places
            .into_iter()
            .map(|(row, column)| crate::model::cell_name(row, column))
            .collect();
        names.join(" and ")
    };
    let begin = "Then the tray is turned, or it is read one cell off.";
    if landmarks.is_empty() {
        return format!("{begin} Compare the label of the tray and its top left corner with the screen.");
    }
    let here = names(&|cell| (cell.row, cell.column));
    let turned = names(&|cell| (tray.rows + 1 - cell.row, tray.columns + 1 - cell.column));
    format!(
        "{begin} Tray {} must be blank at {here}; turned by half a turn it would be blank at {turned}. Look where it is blank, and compare its label and its top left corner with the screen.",
        tray.number
    )
}

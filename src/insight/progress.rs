//! How far the scoring of a test has come, and a tray as it lies.

use super::guards::{Age, WINDOW_DAYS, age};
use super::misread::Misread;
use super::words::{capital, plural};
use crate::model::{
    Cell, CellContent, CellId, Count, CountId, EarId, Pass, Project, Tally, Test, TestId, Tray, TrayId,
};
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// What is counted: in which pass, and by which scorer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Reading {
    /// The pass.
    pub pass: Pass,
    /// Whether the second scorer counts.
    pub second: bool,
}

impl Reading {
    /// Gives in which pass and by which scorer a count was made.
    pub fn of(count: &Count) -> Self {
        Self {
            pass: count.pass,
            second: count.second,
        }
    }

    /// Gives the count of a cell that is in force.
    pub fn count(self, project: &Project, cell: CellId) -> Option<&Count> {
        let count = project.standing_count(cell, self.pass, self.second);
        count.filter(|count| !count.void)
    }
}

/// How far one tray has come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TrayProgress {
    /// The tray.
    pub tray: TrayId,
    /// Its number within the test.
    pub number: u16,
    /// Cells to count: those that hold an ear or the check lot.
    pub cells: usize,
    /// Cells with an early count.
    pub early: usize,
    /// Cells with a final count.
    pub last: usize,
    /// The next cell without an early count, in reading order.
    pub next_early: Option<CellId>,
    /// The next cell without a final count, in reading order.
    pub next_last: Option<CellId>,
    /// Cells in which more kernels had emerged early than are seedlings in the end, in reading order.
    pub more_early: Vec<MoreEarly>,
    /// Cells in which the first and the second scorer disagree.
    pub disagreeing: Vec<CellId>,
    /// How many cells each scorer has counted in each pass.
    pub readings: BTreeMap<Reading, usize>,
}

/// A cell in which more kernels had emerged early than are seedlings in the end.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MoreEarly {
    /// The cell.
    pub cell: CellId,
    /// Kernels that had emerged early.
    pub early: u32,
    /// Seedlings of the final count: strong, weak and abnormal.
    pub last: u32,
    /// Dead kernels of the final count, some of which may have emerged and died since.
    pub dead: u32,
}

impl MoreEarly {
    /// Says whether one of the counts must be wrong, because not even the dead make up the difference.
    pub fn is_impossible(&self) -> bool {
        self.early > self.last + self.dead
    }

    /// Says what is odd, in a sentence that begins with a small letter.
    pub fn sentence(&self) -> String {
        let (early, last) = (self.early, self.last);
        if self.is_impossible() {
            format!(
                "{early} had emerged early, but in the end only {} are seedlings or dead; one of the counts is wrong.",
                last + self.dead
            )
        } else {
            format!(
                "{early} had emerged early, but only {last} are seedlings in the end; count again, unless the others died."
            )
        }
    }
}

impl TrayProgress {
    /// Gives the number of cells that the first scorer has counted in a pass.
    pub fn counted(&self, pass: Pass) -> usize {
        self.counted_in(Reading { pass, second: false })
    }

    /// Gives the number of cells that a scorer has counted in a pass.
    pub fn counted_in(&self, reading: Reading) -> usize {
        self.readings.get(&reading).copied().unwrap_or(0)
    }

    /// Gives the next cell to score in this pass, in reading order.
    pub fn next(&self, pass: Pass) -> Option<CellId> {
        match pass {
            Pass::Early => self.next_early,
            Pass::Final => self.next_last,
            Pass::Between(_) => None,
        }
    }
}

/// How far a test has come.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Progress {
    /// The test.
    pub test: TestId,
    /// Its trays by number.
    pub trays: Vec<TrayProgress>,
    /// Cells to count in all trays.
    pub cells: usize,
    /// Cells with an early count.
    pub early: usize,
    /// Cells with a final count.
    pub last: usize,
}

impl Progress {
    /// Gives the next tray and cell to score in a pass, tray by tray in reading order.
    pub fn next(&self, pass: Pass) -> Option<(TrayId, CellId)> {
        self.trays
            .iter()
            .find_map(|tray| tray.next(pass).map(|cell| (tray.tray, cell)))
    }

    /// Gives the number of cells that a scorer has counted in a pass.
    pub fn counted_in(&self, reading: Reading) -> usize {
        self.trays.iter().map(|tray| tray.counted_in(reading)).sum()
    }

    /// Gives the days between the early and the final count on which anything was counted, in order.
    pub fn days_between(&self) -> Vec<u16> {
        let readings = self.trays.iter().flat_map(|tray| tray.readings.keys());
        let days: BTreeSet<u16> = readings
            .filter_map(|reading| match reading.pass {
                Pass::Between(day) => Some(day),
                Pass::Early | Pass::Final => None,
            })
            .collect();
        days.into_iter().collect()
    }

    /// Gives a tray's progress.
    pub fn of(&self, tray: TrayId) -> Option<&TrayProgress> {
        self.trays.iter().find(|one| one.tray == tray)
    }

    /// Says the progress in one line, such as `212 of 258 cells counted (final)`.
    pub fn sentence(&self, pass: Pass) -> String {
        let counted: usize = self.trays.iter().map(|tray| tray.counted(pass)).sum();
        format!("{counted} of {} counted ({pass})", plural(self.cells, "cell"))
    }
}

/// The counts of a cell that are in force.
struct InForce<'a>(Vec<&'a Count>);

impl<'a> InForce<'a> {
    fn of(project: &'a Project, cell: CellId) -> Self {
        let counts = project.counts_of(cell);
        Self(
            counts
                .filter(|count| !count.void && !project.is_corrected(count.id))
                .collect(),
        )
    }

    fn get(&self, pass: Pass, second: bool) -> Option<&'a Count> {
        let mut counts = self.0.iter().copied();
        counts.find(|count| count.pass == pass && count.second == second)
    }

    /// Says nothing where the grower has said why it is so.
    fn more_early(&self, cell: &Cell) -> Option<MoreEarly> {
        let (early, last) = (self.get(Pass::Early, false)?, self.get(Pass::Final, false)?);
        let found = MoreEarly {
            cell: cell.id,
            early: early.tally.emerged(),
            last: last.tally.emerged(),
            dead: u32::from(last.tally.dead),
        };
        let is_explained = !early.overruled.is_empty() || !last.overruled.is_empty();
        (found.early > found.last && !is_explained).then_some(found)
    }

    /// Gives the counts of a pass by the first and the second scorer where they differ.
    fn disagreements(&self) -> impl Iterator<Item = (&'a Count, &'a Count)> {
        let firsts = self.0.iter().copied().filter(|count| !count.second);
        firsts
            .filter_map(|first| Some((first, self.get(first.pass, true)?)))
            .filter(|(first, second)| first.tally != second.tally || first.vigor != second.vigor)
    }
}

/// Puts the trays of a test together, by number.
pub(super) fn progress(test: TestId, trays: Vec<TrayProgress>) -> Progress {
    let sum = |of: fn(&TrayProgress) -> usize| trays.iter().map(of).sum();
    Progress {
        test,
        cells: sum(|tray| tray.cells),
        early: sum(|tray| tray.early),
        last: sum(|tray| tray.last),
        trays,
    }
}

pub(super) fn tray_progress(project: &Project, tray: &Tray) -> TrayProgress {
    let mut found = TrayProgress {
        tray: tray.id,
        number: tray.number,
        cells: 0,
        early: 0,
        last: 0,
        next_early: None,
        next_last: None,
        more_early: Vec::new(),
        disagreeing: Vec::new(),
        readings: BTreeMap::new(),
    };
    for cell in project.cells_of(tray.id).filter(|cell| cell.content.is_counted()) {
        let counts = InForce::of(project, cell.id);
        found.cells += 1;
        for count in &counts.0 {
            *found.readings.entry(Reading::of(count)).or_default() += 1;
        }
        if counts.get(Pass::Early, false).is_some() {
            found.early += 1;
        } else {
            found.next_early = found.next_early.or(Some(cell.id));
        }
        if counts.get(Pass::Final, false).is_some() {
            found.last += 1;
        } else {
            found.next_last = found.next_last.or(Some(cell.id));
        }
        if let Some(more) = counts.more_early(cell) {
            found.more_early.push(more);
        }
        if counts.disagreements().next().is_some() {
            found.disagreeing.push(cell.id);
        }
    }
    found
}

/// The pass in which a tray is to be counted on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DuePass {
    /// The pass.
    pub pass: Pass,
    /// Whether its time is now, and not only nearer than that of the other passes.
    pub is_now: bool,
}

/// Gives for each tray of a test the pass in which it is to be counted on a day, by the age of its own kernels: a count
/// of this very day that was begun, else the early or the final one, whichever is nearer. The early one is over once it
/// is finished and its days are.
pub fn due_passes(
    project: &Project,
    test: &Test,
    progress: &Progress,
    today: Date,
) -> BTreeMap<TrayId, DuePass> {
    let due = |tray: &TrayProgress| DuePass::of(project, test, tray, today);
    progress.trays.iter().map(|tray| (tray.tray, due(tray))).collect()
}

impl DuePass {
    fn of(project: &Project, test: &Test, tray: &TrayProgress, today: Date) -> Self {
        let last = i64::from(test.recipe.final_day);
        let Some(laid) = evening_of(project, test, tray.tray) else {
            return Self {
                pass: Pass::Final,
                is_now: false,
            };
        };
        let day = i64::from((today - laid).get_days());
        let begun = u16::try_from(day).ok().map(Pass::Between);
        if let Some(pass) = begun.filter(|pass| tray.readings.keys().any(|reading| reading.pass == *pass)) {
            return Self { pass, is_now: true };
        }
        let is_near = |of: i64| (of - WINDOW_DAYS..=of + WINDOW_DAYS).contains(&day);
        match test.recipe.early_day.map(i64::from) {
            Some(early)
                if day * 2 < early + last && (tray.early < tray.cells || day <= early + WINDOW_DAYS) =>
            {
                Self {
                    pass: Pass::Early,
                    is_now: is_near(early),
                }
            }
            _ => Self {
                pass: Pass::Final,
                is_now: day >= last - WINDOW_DAYS,
            },
        }
    }
}

/// The day on which most cells of a tray were laid, the earlier one of two; late ears follow the tray.
fn evening_of(project: &Project, test: &Test, tray: TrayId) -> Option<Date> {
    let mut evenings: BTreeMap<Date, usize> = BTreeMap::new();
    for cell in project.cells_of(tray).filter(|cell| cell.content.is_counted()) {
        if let Some(day) = cell.laid_on.or(test.laid) {
            *evenings.entry(day).or_default() += 1;
        }
    }
    let most = evenings.values().copied().max()?;
    evenings
        .into_iter()
        .find(|(_, cells)| *cells == most)
        .map(|(day, _)| day)
}

/// A count in force, as a tray shows it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CountView {
    /// The count.
    pub count: CountId,
    /// The kernels by category.
    pub tally: Tally,
    /// Germinated kernels by the project's rule.
    pub germinated: u32,
    /// Counted kernels: all but the missing.
    pub counted: u32,
    /// Grade of growth from 0 to 9.
    pub vigor: Option<u8>,
    /// Whether there was mould.
    pub mould: bool,
    /// Whether it corrects an earlier count.
    pub is_correction: bool,
    /// How old the kernels were, where that is known.
    pub age: Option<Age>,
}

impl CountView {
    fn of(project: &Project, cell: &Cell, count: &Count) -> Self {
        Self {
            count: count.id,
            tally: count.tally,
            germinated: count.tally.germinated(project.about.germinated),
            counted: count.tally.counted(),
            vigor: count.vigor,
            mould: count.mould,
            is_correction: count.corrects.is_some(),
            age: count.on.and_then(|on| age(project, cell, count.pass, on)),
        }
    }
}

/// One cell of a tray.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CellView {
    /// The cell.
    pub cell: CellId,
    /// Row, from 1 at the top.
    pub row: u16,
    /// Column, from 1 at the left.
    pub column: u16,
    /// Its name, such as `B3`.
    pub name: String,
    /// What lies in it.
    pub content: CellContent,
    /// What lies in it in words: the ear's number, `check 1`, `landmark` or `spare`.
    pub label: String,
    /// The ear in it.
    pub ear: Option<EarId>,
    /// Kernels laid, or to be laid.
    pub sown: u16,
    /// The counts in force.
    pub counts: BTreeMap<Reading, CountView>,
    /// What looks wrong, a sentence each.
    pub problems: Vec<String>,
}

impl CellView {
    /// Gives the count of a scorer in a pass that is in force.
    pub fn count(&self, reading: Reading) -> Option<&CountView> {
        self.counts.get(&reading)
    }
}

/// A tray as it lies.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TrayView {
    /// The tray.
    pub tray: TrayId,
    /// Its test.
    pub test: TestId,
    /// Its number within the test.
    pub number: u16,
    /// Rows of cells.
    pub rows: u16,
    /// Columns of cells.
    pub columns: u16,
    /// All cells in reading order.
    pub cells: Vec<CellView>,
    /// What looks wrong with the tray as a whole, a sentence each.
    pub problems: Vec<String>,
}

impl TrayView {
    /// Gives the cell at a row and column, both from 1.
    pub fn at(&self, row: u16, column: u16) -> Option<&CellView> {
        self.cells
            .binary_search_by_key(&(row, column), |cell| (cell.row, cell.column))
            .ok()
            .map(|place| &self.cells[place])
    }
}

/// Builds the view of a tray; `None` when there is no such tray.
pub(super) fn tray_view(project: &Project, tray: TrayId, misread: &[Misread]) -> Option<TrayView> {
    let tray = project.trays.get(tray)?;
    let cells = project
        .cells_of(tray.id)
        .map(|cell| cell_view(project, cell))
        .collect();
    let problems = misread.iter().filter_map(|one| one.within(tray.id)).collect();
    Some(TrayView {
        tray: tray.id,
        test: tray.test,
        number: tray.number,
        rows: tray.rows,
        columns: tray.columns,
        cells,
        problems,
    })
}

/// Names what lies in a cell: the ear's number, `check 1`, `landmark` or `spare`.
pub(super) fn label(project: &Project, content: CellContent) -> String {
    match content {
        CellContent::Ear(ear) => project
            .ears
            .get(ear)
            .map_or_else(String::new, |ear| ear.number.to_string()),
        CellContent::Check(number) => format!("check {number}"),
        CellContent::Landmark => "landmark".to_owned(),
        CellContent::Spare => "spare".to_owned(),
    }
}

/// Names what lies in a cell in a sentence: `ear 14`, `check 1`, `landmark` or `spare`.
pub(super) fn content_name(project: &Project, content: CellContent) -> String {
    let label = label(project, content);
    if content.ear().is_some() {
        format!("ear {label}")
    } else {
        label
    }
}

fn cell_view(project: &Project, cell: &Cell) -> CellView {
    let counts = InForce::of(project, cell.id);
    let mut problems: Vec<String> = counts
        .more_early(cell)
        .map(|more| capital(&more.sentence()))
        .into_iter()
        .collect();
    problems.extend(counts.disagreements().map(|(first, second)| {
        let rule = project.about.germinated;
        let (one, two) = (first.tally.germinated(rule), second.tally.germinated(rule));
        let what = if one == two {
            format!("both counted {one} germinated, but their grades differ")
        } else {
            format!("the first counted {one} germinated, the second {two}")
        };
        format!("The two {} counts disagree: {what}.", first.pass)
    }));
    CellView {
        cell: cell.id,
        row: cell.row,
        column: cell.column,
        name: cell.name(),
        content: cell.content,
        label: label(project, cell.content),
        ear: cell.content.ear(),
        sown: project.sown(cell),
        counts: counts
            .0
            .iter()
            .map(|count| (Reading::of(count), CountView::of(project, cell, count)))
            .collect(),
        problems,
    }
}

//! How well two scorers agree who have read the same cells.

use super::progress::Reading;
use super::words::plural;
use crate::model::{Category, CellId, Count, Germinated, Pass, Project, Tally, TestId};
use crate::stats::consistency::{self, Disagreement};

/// How well two readings of one number agree, over all cells that were read twice.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Likeness {
    /// Cells in which both have the same number.
    pub same: usize,
    /// By how much the second reading is higher, on average.
    pub higher: f64,
    /// Weighted kappa: 1 for full agreement, 0 for that of chance; each step apart counts the same. `None` where the
    /// number is the same in all cells, so that nothing can be told. Source: Cohen 1968, Psychol. Bull. 70:213.
    pub kappa: Option<f64>,
}

/// A cell in which two readings differ.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ReadApart {
    /// The cell.
    pub cell: CellId,
    /// Kernels that the two put into different categories.
    pub kernels: u32,
    /// Steps between the two vigor grades; none where one of them has none.
    pub vigor: Option<u8>,
    /// What the first saw.
    pub first: Tally,
    /// What the second saw.
    pub second: Tally,
}

/// How well two scorers agree.
#[derive(Debug, Clone, PartialEq)]
pub struct ScorerAgreement {
    /// Cells that were read twice.
    pub cells: usize,
    /// Of these, cells in which all categories and the vigor are the same.
    pub same: usize,
    /// Germinated kernels.
    pub germinated: Likeness,
    /// The vigor grade, over the cells in which both gave one.
    pub vigor: Option<Likeness>,
    /// Each category that either has used.
    pub categories: Vec<(Category, Likeness)>,
    /// The cells that differ, those with most kernels apart first.
    pub apart: Vec<ReadApart>,
}

impl ScorerAgreement {
    /// Compares readings of the same cells, each the first beside the second; `None` without any.
    pub fn of(rule: Germinated, pairs: &[(&Count, &Count)]) -> Option<Self> {
        let numbers = |of: &dyn Fn(&Tally) -> u32| -> Vec<(u32, u32)> {
            let tallies = pairs.iter().map(|(one, two)| (of(&one.tally), of(&two.tally)));
            tallies.collect()
        };
        let germinated = likeness(&numbers(&|tally| tally.germinated(rule)))?;
        let grades: Vec<(u32, u32)> = pairs
            .iter()
            .filter_map(|(one, two)| Some((u32::from(one.vigor?), u32::from(two.vigor?))))
            .collect();
        let is_used = |category: &Category| {
            let mut both = pairs.iter().flat_map(|(one, two)| [one, two]);
            both.any(|count| count.tally.of(*category) > 0)
        };
        let categories = Category::ALL.into_iter().filter(is_used).filter_map(|category| {
            let numbers = numbers(&|tally| u32::from(tally.of(category)));
            Some((category, likeness(&numbers)?))
        });
        let categories = categories.collect();
        let mut apart: Vec<ReadApart> = pairs
            .iter()
            .filter_map(|(one, two)| read_apart(one, two))
            .collect();
        apart.sort_by_key(|one| std::cmp::Reverse((one.kernels, one.vigor)));
        Some(Self {
            cells: pairs.len(),
            same: pairs.len() - apart.len(),
            germinated,
            vigor: likeness(&grades),
            categories,
            apart,
        })
    }

    /// Says it in a sentence.
    pub fn sentence(&self) -> String {
        let kappa = self.germinated.kappa.map_or_else(String::new, |kappa| {
            format!("; weighted kappa of the germinated kernels {kappa:.2}")
        });
        format!(
            "{} read twice, {} the same in every respect{kappa}.",
            plural(self.cells, "cell"),
            self.same
        )
    }
}

fn read_apart(one: &Count, two: &Count) -> Option<ReadApart> {
    let vigor = one.vigor.zip(two.vigor).map(|(one, two)| one.abs_diff(two));
    let differences = Category::ALL
        .into_iter()
        .map(|category| u32::from(one.tally.of(category).abs_diff(two.tally.of(category))));
    // Each kernel that moved is missing in one category and too many in another.
    let kernels = differences.sum::<u32>().div_ceil(2);
    let is_apart = kernels > 0 || vigor.unwrap_or(u8::from(one.vigor != two.vigor)) > 0;
    is_apart.then_some(ReadApart {
        cell: one.cell,
        kernels,
        vigor,
        first: one.tally,
        second: two.tally,
    })
}

fn likeness(numbers: &[(u32, u32)]) -> Option<Likeness> {
    let most = numbers.iter().map(|(one, two)| *one.max(two)).max()?;
    let pairs: Vec<(usize, usize)> = numbers
        .iter()
        .map(|(one, two)| (*one as usize, *two as usize))
        .collect();
    let found = consistency::agreement(&pairs, most as usize + 1, Disagreement::Distance)?;
    let higher: f64 = numbers
        .iter()
        .map(|(one, two)| f64::from(*two) - f64::from(*one))
        .sum();
    Some(Likeness {
        same: numbers.iter().filter(|(one, two)| one == two).count(),
        higher: higher / numbers.len() as f64,
        kappa: found.kappa,
    })
}

/// Compares the two scorers of a test in a pass; `None` where no cell was read twice.
pub(super) fn compute(project: &Project, test: TestId, pass: Pass) -> Option<ScorerAgreement> {
    let [first, second] = [false, true].map(|second| Reading { pass, second });
    let pairs: Vec<(&Count, &Count)> = project
        .cells_of_test(test)
        .filter_map(|cell| first.count(project, cell.id).zip(second.count(project, cell.id)))
        .collect();
    ScorerAgreement::of(project.about.germinated, &pairs)
}

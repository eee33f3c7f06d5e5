//! The cells and everything that is known of them.

use std::collections::{BTreeMap, BTreeSet};

use crate::stats::Counts;

/// What a cell was sown with.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
pub enum Source {
    /// One of the units whose rates are draws from one distribution, by its index.
    Unit(usize),
    /// One of the check lots, by its index.
    Lot(usize),
}

/// The counts of one cell and where it lay.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Cell {
    /// Successes and trials; a cell without trials says nothing and is passed over.
    pub counts: Counts,
    /// What was sown in it.
    pub source: Source,
    /// Index of its tray.
    pub tray: usize,
}

/// One number for each cell: a place in the tray, or anything known of what was sown.
#[derive(Debug, Clone, PartialEq)]
pub struct Covariate {
    /// The value of each cell, `None` where it is missing.
    pub values: Vec<Option<f64>>,
    /// The value at the reference position.
    pub reference: f64,
}

/// Everything that [`fit`](super::fit) needs to know; each part is checked where it is added.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Design {
    pub(super) cells: Vec<Cell>,
    pub(super) units: usize,
    pub(super) trays: usize,
    pub(super) lots: usize,
    pub(super) covariates: Vec<Covariate>,
    pub(super) groups: Vec<usize>,
}

/// What [`Design`] refuses.
#[derive(Debug, Clone, Copy, PartialEq, thiserror::Error)]
pub enum DesignFault {
    /// An index that is not below the stated number of units, trays or lots.
    #[error(
        "cell {cell} names a unit, tray or lot that does not exist. Correct the cell or the number of them."
    )]
    OutOfRange {
        /// Index of the cell.
        cell: usize,
    },
    /// Not one value for each cell, or not one group for each unit.
    #[error("{given} values were given where {needed} are needed. Give one for each.")]
    Length {
        /// Values given.
        given: usize,
        /// Values needed.
        needed: usize,
    },
    /// A value that is not a finite number.
    #[error("the value of cell {cell} is not a number. Correct it, or leave it out as missing.")]
    NotFinite {
        /// Index of the cell.
        cell: usize,
    },
    /// A reference that is not a finite number.
    #[error("the value at the reference position is not a number. Correct it.")]
    Reference,
}

impl Design {
    /// Takes the cells and how many units, trays and check lots there are, those without cells included.
    ///
    /// # Errors
    /// [`DesignFault::OutOfRange`].
    pub fn new(cells: Vec<Cell>, units: usize, trays: usize, lots: usize) -> Result<Self, DesignFault> {
        let is_outside = |cell: &Cell| {
            cell.tray >= trays
                || match cell.source {
                    Source::Unit(unit) => unit >= units,
                    Source::Lot(lot) => lot >= lots,
                }
        };
        if let Some(cell) = cells.iter().position(is_outside) {
            return Err(DesignFault::OutOfRange { cell });
        }
        Ok(Self {
            cells,
            units,
            trays,
            lots,
            ..Self::default()
        })
    }

    /// Adds a covariate; its index is the number of those before it.
    ///
    /// # Errors
    /// [`DesignFault::Length`], [`DesignFault::NotFinite`] and [`DesignFault::Reference`].
    pub fn with_covariate(mut self, covariate: Covariate) -> Result<Self, DesignFault> {
        let (given, needed) = (covariate.values.len(), self.cells.len());
        if given != needed {
            return Err(DesignFault::Length { given, needed });
        }
        let is_bad = |value: &Option<f64>| value.is_some_and(|value| !value.is_finite());
        if let Some(cell) = covariate.values.iter().position(is_bad) {
            return Err(DesignFault::NotFinite { cell });
        }
        if !covariate.reference.is_finite() {
            return Err(DesignFault::Reference);
        }
        self.covariates.push(covariate);
        Ok(self)
    }

    /// Names the group, such as the family, of each unit, so that trays that each hold one whole group are
    /// recognised.
    ///
    /// # Errors
    /// [`DesignFault::Length`].
    pub fn with_groups(mut self, groups: Vec<usize>) -> Result<Self, DesignFault> {
        let (given, needed) = (groups.len(), self.units);
        if given != needed {
            return Err(DesignFault::Length { given, needed });
        }
        self.groups = groups;
        Ok(self)
    }

    /// The cells, in the order given.
    pub fn cells(&self) -> &[Cell] {
        &self.cells
    }

    /// Cells with trials, with their indices.
    pub(super) fn observed(&self) -> impl Iterator<Item = (usize, &Cell)> {
        self.cells
            .iter()
            .enumerate()
            .filter(|(_, cell)| cell.counts.n() > 0)
    }

    /// Trays that hold one group only, which is in no other tray.
    pub(super) fn confounded_trays(&self) -> Vec<usize> {
        if self.groups.is_empty() {
            return Vec::new();
        }
        let mut groups_of_tray = vec![BTreeSet::new(); self.trays];
        let mut trays_of_group: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
        for (_, cell) in self.observed() {
            if let Source::Unit(unit) = cell.source {
                let group = self.groups[unit];
                groups_of_tray[cell.tray].insert(group);
                trays_of_group.entry(group).or_default().insert(cell.tray);
            }
        }
        let is_confounded = |&tray: &usize| match groups_of_tray[tray].first() {
            Some(group) if groups_of_tray[tray].len() == 1 => trays_of_group[group].len() == 1,
            _ => false,
        };
        (0..self.trays).filter(is_confounded).collect()
    }
}

//! Which trays there are, what must be in each, and how many are needed.

use super::{Grid, LayoutFault};

/// The most trays of one layout: their numbers have four digits.
pub const MOST_TRAYS: u32 = 9_999;

/// The most cells of one layout.
pub const MOST_CELLS: u64 = 10_000_000;

/// Containers of one size of which there are so many and no more.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Stock {
    /// Rows and columns of each.
    pub grid: Grid,
    /// How many there are.
    pub trays: u32,
}

/// Where the cells of one item lie.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Spread {
    /// Each replicate is a block of trays of its own that holds every item once.
    #[default]
    Blocks,
    /// Anywhere, but never two in the same tray. It takes fewer trays than blocks do.
    Anywhere,
}

/// The trays of a layout.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Trays<'a> {
    /// Rows and columns of the main container, of which there are as many as needed.
    pub grid: Grid,
    /// Containers that are used first, in this order.
    pub others: &'a [Stock],
    /// How often each item is laid, at least 1.
    pub replicates: u16,
    /// Where the cells of one item lie.
    pub spread: Spread,
    /// Check cells in each tray.
    pub checks_per_tray: u16,
    /// Landmarks in each tray.
    pub landmarks_per_tray: u16,
}

/// Trays of one size: their container (0 for the main one, n for the n-th of the others), their room for items,
/// and how many.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Pile {
    container: usize,
    room: u64,
    trays: u64,
}

impl Trays<'_> {
    /// Gives the grid of a container: 0 for the main one, n for the n-th of the others.
    pub fn grid_of(&self, container: usize) -> Grid {
        let other = container.checked_sub(1).and_then(|other| self.others.get(other));
        other.map_or(self.grid, |stock| stock.grid)
    }

    /// Gives how many trays so many items need.
    ///
    /// # Errors
    /// Every [`LayoutFault`] that speaks of numbers.
    pub fn needed(&self, items: usize) -> Result<u32, LayoutFault> {
        // Below MOST_TRAYS, or it would have been refused.
        self.blocks(items)
            .map(|blocks| blocks.iter().map(Vec::len).sum::<usize>() as u32)
    }

    /// Gives how many items can be laid where each replicate has one tray: the trays that are used first.
    ///
    /// # Errors
    /// There is no replicate, or a container has no room for an item.
    pub fn first_trays_hold(&self) -> Result<usize, LayoutFault> {
        if self.replicates == 0 {
            return Err(LayoutFault::NoReplicates);
        }
        let others = (1..)
            .zip(self.others)
            .map(|(container, stock)| (container, stock.trays));
        let mut missing = u32::from(self.replicates);
        let mut least = usize::MAX;
        for (container, trays) in others.chain([(0, u32::MAX)]).filter(|(_, trays)| *trays > 0) {
            let room = self.room(container)?;
            if missing > 0 {
                least = least.min(room);
            }
            missing = missing.saturating_sub(trays);
        }
        Ok(least)
    }

    /// Gives the cells that a tray of this container has for items.
    pub(super) fn room(&self, container: usize) -> Result<usize, LayoutFault> {
        let cells = self.grid_of(container).cells();
        let taken = usize::from(self.checks_per_tray) + usize::from(self.landmarks_per_tray);
        match cells.saturating_sub(taken) {
            0 => Err(LayoutFault::NoRoom {
                cells: cells as u32,
                checks: self.checks_per_tray,
                landmarks: self.landmarks_per_tray,
            }),
            room => Ok(room),
        }
    }

    /// Gives the containers of all trays, block after block. All cells of one block lie in different trays, if they
    /// are of the same item.
    pub(super) fn blocks(&self, items: usize) -> Result<Vec<Vec<usize>>, LayoutFault> {
        if items == 0 {
            return Err(LayoutFault::NoItems);
        }
        if self.replicates == 0 {
            return Err(LayoutFault::NoReplicates);
        }
        let items = items as u64;
        let replicates = u64::from(self.replicates);
        let piles = match self.spread {
            Spread::Blocks => self.piles(u64::MAX, items, replicates)?,
            Spread::Anywhere => {
                let cells = items.saturating_mul(replicates);
                let trays = count(&self.piles(u64::MAX, cells, 1)?);
                if trays < replicates {
                    return Err(LayoutFault::TooFewTrays {
                        trays,
                        replicates: self.replicates,
                    });
                }
                // A tray cannot hold an item twice, so a large one may stay partly empty.
                self.piles(items, cells, 1)?
            }
        };
        let trays = count(&piles);
        if trays > u64::from(MOST_TRAYS) {
            return Err(LayoutFault::TooManyTrays { trays });
        }
        let all = piles.iter().flatten();
        let cells = all
            .map(|pile| pile.trays * self.grid_of(pile.container).cells() as u64)
            .sum();
        if cells > MOST_CELLS {
            return Err(LayoutFault::TooManyCells { cells });
        }
        let expand = |block: Vec<Pile>| {
            let trays = |pile: Pile| std::iter::repeat_n(pile.container, pile.trays as usize);
            block.into_iter().flat_map(trays).collect()
        };
        Ok(piles.into_iter().map(expand).collect())
    }

    /// Takes trays for each block from the stock, in order, and from the main container what is missing. A tray
    /// counts for no more than `most` cells.
    fn piles(&self, most: u64, cells: u64, blocks: u64) -> Result<Vec<Vec<Pile>>, LayoutFault> {
        let pile = |container, trays| {
            let room = self.room(container)? as u64;
            Ok(Pile {
                container,
                room: room.min(most),
                trays,
            })
        };
        let others = (1..).zip(self.others).filter(|(_, stock)| stock.trays > 0);
        let mut left = others
            .map(|(container, stock)| pile(container, u64::from(stock.trays)))
            .chain([pile(0, u64::MAX)])
            .collect::<Result<Vec<Pile>, LayoutFault>>()?;
        let mut take_block = || {
            let mut missing = cells;
            let mut block = Vec::new();
            for pile in &mut left {
                let trays = pile.trays.min(missing.div_ceil(pile.room));
                if trays > 0 {
                    pile.trays -= trays;
                    missing = missing.saturating_sub(trays.saturating_mul(pile.room));
                    block.push(Pile { trays, ..*pile });
                }
            }
            block
        };
        Ok((0..blocks).map(|_| take_block()).collect())
    }
}

fn count(piles: &[Vec<Pile>]) -> u64 {
    let all = piles.iter().flatten();
    all.fold(0, |sum, pile| sum.saturating_add(pile.trays))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn grid(rows: u16, columns: u16) -> Grid {
        Grid::new(rows, columns).unwrap()
    }

    fn trays(grid: Grid, replicates: u16, checks_per_tray: u16, landmarks_per_tray: u16) -> Trays<'static> {
        Trays {
            grid,
            others: &[],
            replicates,
            spread: Spread::Blocks,
            checks_per_tray,
            landmarks_per_tray,
        }
    }

    #[test]
    fn trays_are_counted_and_refused_with_their_numbers() {
        let eight = grid(4, 8);
        assert_eq!(trays(eight, 1, 2, 2).needed(240), Ok(9));
        assert_eq!(trays(eight, 1, 0, 0).needed(0), Err(LayoutFault::NoItems));
        assert_eq!(trays(eight, 0, 0, 0).needed(5), Err(LayoutFault::NoReplicates));
        let no_room = trays(eight, 1, 30, 2).needed(5).unwrap_err();
        assert_eq!(
            no_room,
            LayoutFault::NoRoom {
                cells: 32,
                checks: 30,
                landmarks: 2
            }
        );
        assert!(no_room.to_string().contains("no room for one ear"), "{no_room}");
        assert!(trays(eight, 1, u16::MAX, u16::MAX).needed(5).is_err());
        let single = trays(grid(1, 1), 1, 0, 0);
        assert_eq!(
            single.needed(10_000),
            Err(LayoutFault::TooManyTrays { trays: 10_000 })
        );
        assert_eq!(single.needed(9_999), Ok(9_999));
        assert_eq!(
            trays(grid(100, 100), 1_001, 0, 0).needed(1),
            Err(LayoutFault::TooManyCells { cells: 10_010_000 })
        );
        for spread in [Spread::Blocks, Spread::Anywhere] {
            let trays = Trays {
                spread,
                replicates: u16::MAX,
                ..single
            };
            let fault = trays.needed(usize::MAX).unwrap_err();
            assert!(matches!(fault, LayoutFault::TooManyTrays { .. }), "{fault}");
        }
    }

    #[test]
    fn other_containers_are_used_first_and_up_over_the_replicates() {
        let others =
            [(grid(2, 5), 3), (grid(3, 4), 0), (grid(1, 4), 1)].map(|(grid, trays)| Stock { grid, trays });
        let of = Trays {
            others: &others,
            ..trays(grid(4, 8), 3, 1, 1)
        };
        // Room for 8, then 2, then 30: 14 items take two of the first; then the third of the first, the only one of
        // the third and one of the main; then one of the main.
        let blocks = of.blocks(14).unwrap();
        assert_eq!(blocks, [vec![1, 1], vec![1, 3, 0], vec![0]]);
        assert_eq!(of.needed(14), Ok(6));
        assert_eq!(of.grid_of(3), grid(1, 4));
        assert_eq!(of.grid_of(0), grid(4, 8));
        let too_small = [Stock {
            grid: grid(1, 2),
            trays: 1,
        }];
        let of = Trays {
            others: &too_small,
            ..of
        };
        let fault = of.needed(14).unwrap_err();
        assert_eq!(
            fault,
            LayoutFault::NoRoom {
                cells: 2,
                checks: 1,
                landmarks: 1
            }
        );
    }

    #[test]
    fn the_first_trays_hold_what_takes_one_tray_a_replicate_and_not_one_item_more() {
        let others =
            [(grid(3, 4), 1), (grid(2, 5), 2), (grid(1, 9), 0)].map(|(grid, trays)| Stock { grid, trays });
        // Without checks and landmarks 12 once, 10 twice, then 32 each.
        let held = [(1, 12), (2, 10), (3, 10), (4, 10)];
        for (spread, (replicates, hold)) in [Spread::Blocks, Spread::Anywhere]
            .into_iter()
            .flat_map(|spread| held.map(|held| (spread, held)))
        {
            let of = Trays {
                others: &others,
                spread,
                ..trays(grid(4, 8), replicates, 0, 0)
            };
            assert_eq!(of.first_trays_hold(), Ok(hold), "{replicates} replicates");
            assert_eq!(of.needed(hold), Ok(u32::from(replicates)));
            assert!(of.needed(hold + 1).unwrap() > u32::from(replicates));
        }
        assert_eq!(trays(grid(4, 8), 2, 2, 2).first_trays_hold(), Ok(28));
        assert!(trays(grid(1, 3), 1, 2, 1).first_trays_hold().is_err());
        assert!(trays(grid(1, 3), 0, 0, 0).first_trays_hold().is_err());
    }

    #[test]
    fn cells_anywhere_need_as_many_trays_as_an_ear_has_cells() {
        let anywhere = Trays {
            spread: Spread::Anywhere,
            ..trays(grid(4, 8), 3, 2, 2)
        };
        let fault = anywhere.needed(9).unwrap_err();
        assert_eq!(
            fault,
            LayoutFault::TooFewTrays {
                trays: 1,
                replicates: 3
            }
        );
        assert_eq!(
            fault.to_string(),
            "all cells fit into 1 tray, but the 3 cells of an ear must lie in as many different trays. Ask for fewer \
             cells of each ear, use smaller containers, or give each replicate trays of its own."
        );
        let fault = anywhere.needed(18).unwrap_err();
        assert!(
            fault.to_string().starts_with("all cells fit into 2 trays,"),
            "{fault}"
        );
        assert_eq!(anywhere.needed(19), Ok(3));
        // Two small trays take 4 of 10 cells. The large one takes each of the 5 ears once, so another is needed.
        let others = [Stock {
            grid: grid(1, 2),
            trays: 2,
        }];
        let of = Trays {
            others: &others,
            replicates: 2,
            checks_per_tray: 0,
            landmarks_per_tray: 0,
            ..anywhere
        };
        assert_eq!(of.blocks(5).unwrap(), [[1, 1, 0, 0]]);
    }
}

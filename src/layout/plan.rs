//! The random layout of a test over its trays.

use std::collections::{BTreeMap, BTreeSet};

use super::draw::Draw;
use super::{Grid, LayoutFault, landmark_cells};

/// The most trays of one layout: their numbers have four digits.
pub const MOST_TRAYS: u32 = 9_999;

/// The most cells of one layout.
pub const MOST_CELLS: u64 = 10_000_000;

/// What is to be laid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Request<'a> {
    /// For each item, the group that it belongs to: its mother row. Any numbers.
    pub groups: &'a [u32],
    /// Rows and columns of every tray.
    pub grid: Grid,
    /// How often each item is laid, at least 1.
    pub replicates: u16,
    /// Check cells in each tray.
    pub checks_per_tray: u16,
    /// Landmarks in each tray.
    pub landmarks_per_tray: u16,
    /// The seed. The same request with the same seed gives the same layout for ever.
    pub seed: u64,
}

/// What a cell holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Content {
    /// The item with this index in [`Request::groups`].
    Item(usize),
    /// A check cell, by its number within the tray from 0.
    Check(u16),
    /// Left empty on purpose.
    Landmark,
    /// Free, for an item that comes late.
    Spare,
}

/// All trays in order of their numbers; those of one replicate follow each other.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Layout {
    /// The trays.
    pub trays: Vec<Tray>,
}

/// One tray.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tray {
    /// The replicate that this tray belongs to, from 0.
    pub replicate: u16,
    /// The cells in reading order: row by row, each from left to right.
    pub cells: Vec<Content>,
}

/// How many trays a layout needs: each replicate is a block of its own trays.
///
/// # Errors
/// Every [`LayoutFault`] that speaks of numbers.
pub fn trays_needed(
    items: usize,
    grid: Grid,
    replicates: u16,
    checks_per_tray: u16,
    landmarks_per_tray: u16,
) -> Result<u32, LayoutFault> {
    if items == 0 {
        return Err(LayoutFault::NoItems);
    }
    if replicates == 0 {
        return Err(LayoutFault::NoReplicates);
    }
    let taken = usize::from(checks_per_tray) + usize::from(landmarks_per_tray);
    let room = grid.cells().saturating_sub(taken);
    if room == 0 {
        return Err(LayoutFault::NoRoom {
            cells: grid.cells() as u32,
            checks: checks_per_tray,
            landmarks: landmarks_per_tray,
        });
    }
    let trays = (items.div_ceil(room) as u64).saturating_mul(u64::from(replicates));
    if trays > u64::from(MOST_TRAYS) {
        return Err(LayoutFault::TooManyTrays { trays });
    }
    let cells = trays * grid.cells() as u64;
    if cells > MOST_CELLS {
        return Err(LayoutFault::TooManyCells { cells });
    }
    Ok(trays as u32)
}

/// Lays out a test.
///
/// - Each item lies once in each replicate. Within a replicate the trays hold equally many items, to within
///   one, and equally many of each group, to within one. Which item comes to which tray, and where in the
///   tray, is random.
/// - Landmarks are in the same cells in every tray: [`landmark_cells`].
/// - Check 0 is in a random cell of the outer ring, check 1 in a random cell inside it, further ones spread
///   over the reading order; the cells differ from tray to tray, so that checks do not always sit in the same
///   warm or cold spot. Where a ring or an inside has no free cell, any free cell is taken.
/// - Spare cells are the last of the reading order: a late item is found a place without a search, and empty
///   cells among the items are landmarks and nothing else.
///
/// # Errors
/// Those of [`trays_needed`].
pub fn lay_out(request: &Request) -> Result<Layout, LayoutFault> {
    let Request {
        groups,
        grid,
        replicates,
        checks_per_tray,
        landmarks_per_tray,
        seed,
    } = *request;
    let all = trays_needed(
        groups.len(),
        grid,
        replicates,
        checks_per_tray,
        landmarks_per_tray,
    )?;
    let per_replicate = all as usize / usize::from(replicates);
    let landmarks = landmark_cells(grid, landmarks_per_tray);
    let mut draw = Draw::new(seed);
    let mut trays = Vec::with_capacity(all as usize);
    for replicate in 0..replicates {
        for items in deal(groups, per_replicate, &mut draw) {
            let cells = fill(grid, &landmarks, checks_per_tray, &items, &mut draw);
            trays.push(Tray { replicate, cells });
        }
    }
    Ok(Layout { trays })
}

/// Deals the items to the trays like cards, group after group, so that trays are even in number and in
/// groups; each hand is in random order.
fn deal(groups: &[u32], trays: usize, draw: &mut Draw) -> Vec<Vec<usize>> {
    let mut items: Vec<usize> = (0..groups.len()).collect();
    draw.shuffle(&mut items);
    let mut order: Vec<u32> = groups
        .iter()
        .copied()
        .collect::<BTreeSet<u32>>()
        .into_iter()
        .collect();
    draw.shuffle(&mut order);
    let turn_of_group: BTreeMap<u32, usize> = order.into_iter().zip(0..).collect();
    items.sort_by_cached_key(|&item| turn_of_group[&groups[item]]);
    let mut seats: Vec<usize> = (0..trays).collect();
    draw.shuffle(&mut seats);
    let mut hands = vec![Vec::with_capacity(groups.len() / trays + 1); trays];
    for (turn, item) in items.into_iter().enumerate() {
        hands[seats[turn % trays]].push(item);
    }
    for hand in &mut hands {
        draw.shuffle(hand);
    }
    hands
}

/// Fills one tray with its landmarks, checks and items.
fn fill(grid: Grid, landmarks: &[usize], checks: u16, items: &[usize], draw: &mut Draw) -> Vec<Content> {
    let mut cells = vec![Content::Spare; grid.cells()];
    for &cell in landmarks {
        cells[cell] = Content::Landmark;
    }
    place_checks(grid, &mut cells, checks, draw);
    let free = cells.iter_mut().filter(|cell| **cell == Content::Spare);
    for (cell, &item) in free.zip(items) {
        *cell = Content::Item(item);
    }
    cells
}

fn place_checks(grid: Grid, cells: &mut [Content], checks: u16, draw: &mut Draw) {
    for check in 0..checks.min(2) {
        let wants_edge = check == 0;
        let free = free_cells(cells);
        let wanted: Vec<usize> = free
            .iter()
            .copied()
            .filter(|&cell| grid.is_edge(cell) == wants_edge)
            .collect();
        let choice = if wanted.is_empty() { &free } else { &wanted };
        cells[choice[draw.below(choice.len())]] = Content::Check(check);
    }
    // One in each equal stretch of what is left.
    let free = free_cells(cells);
    let stretches = usize::from(checks.saturating_sub(2));
    for stretch in 0..stretches {
        let start = stretch * free.len() / stretches;
        let end = (stretch + 1) * free.len() / stretches;
        cells[free[start + draw.below(end - start)]] = Content::Check(stretch as u16 + 2);
    }
}

fn free_cells(cells: &[Content]) -> Vec<usize> {
    (0..cells.len())
        .filter(|&cell| cells[cell] == Content::Spare)
        .collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn grid(rows: u16, columns: u16) -> Grid {
        Grid::new(rows, columns).unwrap()
    }

    fn demo_groups() -> Vec<u32> {
        // 240 items in 22 uneven groups: 3 to 19 each.
        let sizes = [
            3, 19, 12, 8, 10, 14, 5, 17, 11, 9, 6, 13, 16, 7, 4, 12, 18, 10, 8, 11, 15, 12,
        ];
        let groups: Vec<u32> = (101..)
            .zip(sizes)
            .flat_map(|(group, size)| vec![group; size])
            .collect();
        assert_eq!((groups.len(), sizes.len()), (240, 22));
        groups
    }

    fn count(layout: &Layout, wanted: impl Fn(&Content) -> bool) -> usize {
        layout
            .trays
            .iter()
            .flat_map(|tray| &tray.cells)
            .filter(|cell| wanted(cell))
            .count()
    }

    /// Every promise of [`lay_out`].
    fn assert_valid(request: &Request, layout: &Layout) {
        let replicates = usize::from(request.replicates);
        let per_replicate = layout.trays.len() / replicates;
        assert_eq!(per_replicate * replicates, layout.trays.len());
        let landmarks = landmark_cells(request.grid, request.landmarks_per_tray);
        for (number, block) in layout.trays.chunks(per_replicate).enumerate() {
            let mut seen = vec![0u32; request.groups.len()];
            let mut sizes = Vec::new();
            let mut of_group: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
            for (tray_number, tray) in block.iter().enumerate() {
                assert_eq!(usize::from(tray.replicate), number);
                assert_eq!(tray.cells.len(), request.grid.cells());
                let mut size = 0;
                let mut checks = Vec::new();
                let mut empty = Vec::new();
                let mut has_spare = false;
                for (place, cell) in tray.cells.iter().enumerate() {
                    match *cell {
                        Content::Item(item) => {
                            assert!(!has_spare, "an item after a spare cell");
                            seen[item] += 1;
                            size += 1;
                            of_group
                                .entry(request.groups[item])
                                .or_insert_with(|| vec![0; per_replicate])[tray_number] += 1;
                        }
                        Content::Check(check) => checks.push(check),
                        Content::Landmark => empty.push(place),
                        Content::Spare => has_spare = true,
                    }
                }
                checks.sort_unstable();
                assert_eq!(checks, (0..request.checks_per_tray).collect::<Vec<_>>());
                assert_eq!(empty, landmarks);
                sizes.push(size);
            }
            assert!(seen.iter().all(|&times| times == 1));
            assert!(sizes.iter().max().unwrap() - sizes.iter().min().unwrap() <= 1);
            for in_trays in of_group.values() {
                assert!(
                    in_trays.iter().max().unwrap() - in_trays.iter().min().unwrap() <= 1,
                    "{in_trays:?}"
                );
            }
        }
    }

    #[test]
    fn a_season_of_240_ears_takes_nine_trays_of_4_by_8() {
        let groups = demo_groups();
        let request = Request {
            groups: &groups,
            grid: grid(4, 8),
            replicates: 1,
            checks_per_tray: 2,
            landmarks_per_tray: 2,
            seed: 240,
        };
        assert_eq!(trays_needed(240, request.grid, 1, 2, 2), Ok(9));
        let layout = lay_out(&request).unwrap();
        assert_valid(&request, &layout);
        assert_eq!(layout.trays.len(), 9);
        assert_eq!(count(&layout, |cell| matches!(cell, Content::Check(_))), 18);
        assert_eq!(count(&layout, |cell| *cell == Content::Landmark), 18);
        assert_eq!(count(&layout, |cell| *cell == Content::Spare), 12);
        for tray in &layout.trays {
            let place = |check| {
                tray.cells
                    .iter()
                    .position(|cell| *cell == Content::Check(check))
                    .unwrap()
            };
            assert!(request.grid.is_edge(place(0)) && !request.grid.is_edge(place(1)));
        }
    }

    /// One tray as text: items by number, checks by letter, `--` a landmark, `..` a spare cell.
    fn as_text(grid: Grid, tray: &Tray) -> Vec<String> {
        let text = |cell: &Content| match cell {
            Content::Item(item) => format!("{item:02}"),
            Content::Check(check) => format!("c{check}"),
            Content::Landmark => "--".to_owned(),
            Content::Spare => "..".to_owned(),
        };
        tray.cells
            .chunks(usize::from(grid.columns()))
            .map(|row| row.iter().map(text).collect::<Vec<_>>().join(" "))
            .collect()
    }

    /// Never edit this literal: layouts printed years ago must come out the same.
    #[test]
    fn a_seed_gives_this_layout_for_ever() {
        let groups: Vec<u32> = (0..21).map(|item| item / 4).collect();
        let request = Request {
            groups: &groups,
            grid: grid(4, 5),
            replicates: 2,
            checks_per_tray: 3,
            landmarks_per_tray: 2,
            seed: 20_260_214,
        };
        let layout = lay_out(&request).unwrap();
        assert_valid(&request, &layout);
        let text: Vec<String> = layout
            .trays
            .iter()
            .flat_map(|tray| as_text(request.grid, tray))
            .collect();
        assert_eq!(text, GOLDEN);
    }

    const GOLDEN: [&str; 16] = [
        "04 14 10 02 c0",
        "-- 05 c1 01 20",
        "12 18 08 19 ..",
        "-- .. c2 .. ..",
        "07 16 11 06 c0",
        "-- c1 17 03 15",
        "00 13 09 .. c2",
        "-- .. .. .. ..",
        "16 c0 04 10 05",
        "-- 20 17 15 00",
        "01 13 c1 09 ..",
        "-- .. c2 .. ..",
        "19 07 c2 02 03",
        "-- 14 c1 11 12",
        "18 08 06 .. c0",
        "-- .. .. .. ..",
    ];

    #[test]
    fn what_cannot_be_laid_is_refused_with_its_numbers() {
        let eight = grid(4, 8);
        assert_eq!(trays_needed(0, eight, 1, 0, 0), Err(LayoutFault::NoItems));
        assert_eq!(trays_needed(5, eight, 0, 0, 0), Err(LayoutFault::NoReplicates));
        let no_room = trays_needed(5, eight, 1, 30, 2).unwrap_err();
        assert_eq!(
            no_room,
            LayoutFault::NoRoom {
                cells: 32,
                checks: 30,
                landmarks: 2
            }
        );
        assert!(no_room.to_string().contains("no room for one ear"), "{no_room}");
        assert!(trays_needed(5, eight, 1, u16::MAX, u16::MAX).is_err());
        assert_eq!(
            trays_needed(10_000, grid(1, 1), 1, 0, 0),
            Err(LayoutFault::TooManyTrays { trays: 10_000 })
        );
        assert_eq!(trays_needed(9_999, grid(1, 1), 1, 0, 0), Ok(9_999));
        assert_eq!(
            trays_needed(1, grid(100, 100), 1_001, 0, 0),
            Err(LayoutFault::TooManyCells { cells: 10_010_000 })
        );
        assert!(matches!(
            trays_needed(usize::MAX, grid(1, 1), u16::MAX, 0, 0),
            Err(LayoutFault::TooManyTrays { .. })
        ));
        let request = Request {
            groups: &[],
            grid: eight,
            replicates: 1,
            checks_per_tray: 0,
            landmarks_per_tray: 0,
            seed: 0,
        };
        assert_eq!(lay_out(&request), Err(LayoutFault::NoItems));
    }

    #[test]
    fn every_cell_is_equally_likely_for_an_item() {
        let groups = [0; 12];
        let request = |seed| Request {
            groups: &groups,
            grid: grid(3, 4),
            replicates: 1,
            checks_per_tray: 0,
            landmarks_per_tray: 0,
            seed,
        };
        let mut at = [0u32; 12];
        for seed in 0..6_000 {
            let layout = lay_out(&request(seed)).unwrap();
            at[layout.trays[0]
                .cells
                .iter()
                .position(|cell| *cell == Content::Item(5))
                .unwrap()] += 1;
        }
        // Five standard deviations of a binomial count with mean 500.
        assert!(at.iter().all(|count| count.abs_diff(500) < 108), "{at:?}");
    }

    #[test]
    fn ten_thousand_items_are_laid() {
        let groups: Vec<u32> = (0..10_000).map(|item| item * 7 % 431).collect();
        let request = Request {
            groups: &groups,
            grid: grid(4, 28),
            replicates: 3,
            checks_per_tray: 2,
            landmarks_per_tray: 2,
            seed: 9,
        };
        assert_valid(&request, &lay_out(&request).unwrap());
    }

    proptest! {
        #[test]
        fn every_shape_is_valid(
            (rows, columns) in (1..=50u16, 1..=50u16),
            groups in prop::collection::vec(0..12u32, 1..300),
            (replicates, checks, landmarks) in (1..4u16, 0..8u16, 0..8u16),
            seed in any::<u64>(),
        ) {
            let grid = grid(rows, columns);
            let request = Request {
                groups: &groups, grid, replicates, checks_per_tray: checks,
                landmarks_per_tray: landmarks, seed,
            };
            let fits = usize::from(checks + landmarks) < grid.cells();
            match lay_out(&request) {
                Ok(layout) => {
                    prop_assert!(fits);
                    assert_valid(&request, &layout);
                    prop_assert_eq!(lay_out(&request).unwrap(), layout);
                }
                Err(fault) => prop_assert!(!fits, "{fault}"),
            }
        }

        #[test]
        fn small_and_full_grids_are_valid(
            (rows, columns) in (1..=4u16, 1..=4u16), items in 1..40usize,
            seed in any::<u64>(), split in 0..16u16,
        ) {
            // All cells but one taken by checks and landmarks.
            let grid = grid(rows, columns);
            let taken = grid.cells() as u16 - 1;
            let checks = split.min(taken);
            let groups = vec![3; items];
            let request = Request {
                groups: &groups, grid, replicates: 1, checks_per_tray: checks,
                landmarks_per_tray: taken - checks, seed,
            };
            let layout = lay_out(&request).unwrap();
            prop_assert_eq!(layout.trays.len(), items);
            assert_valid(&request, &layout);
        }
    }
}

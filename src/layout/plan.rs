//! The random layout of a test over its trays.

use super::deal::{Items, deal_apart, deal_once};
use super::draw::Draw;
use super::trays::{Spread, Trays};
use super::{Grid, LayoutFault, landmark_cells};

/// What is to be laid.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Request<'a> {
    /// For each item, the group that it belongs to: its mother row. Any numbers.
    pub groups: &'a [u32],
    /// For each item, the batch that it belongs to: its drying batch. Any numbers; empty where they are not known.
    pub batches: &'a [u32],
    /// The trays.
    pub trays: Trays<'a>,
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
    /// Its container: 0 for the main one, n for the n-th of the others.
    pub container: usize,
    /// Its rows and columns.
    pub grid: Grid,
    /// The cells in reading order: row by row, each from left to right.
    pub cells: Vec<Content>,
}

/// Lays out a test.
///
/// - In blocks, each item lies once in each replicate. Anywhere, each lies as often as there are replicates, never
///   twice in the same tray, and all trays belong to the first replicate.
/// - The trays that are filled together, those of a block or all, hold items in proportion to their room, rounded up
///   or down, as far as no tray holds an item twice. Of trays with equal room none holds more than one item more than
///   another, and so it is with the items of each group and of each batch. Where rooms differ, a tray holds at most one
///   more of a group than its share of it, rounded up: proven for the share of the dealt cells before trays trade, and
///   tried many times after it for the share of the room. Batches are evened out as far as that leaves room. Which item
///   comes to which tray, and where in the tray, is random.
/// - Landmarks are in the same cells in every tray of a container: [`landmark_cells`].
/// - Check 0 is in a random cell of the outer ring, check 1 in a random cell inside it, further ones spread
///   over the reading order; the cells differ from tray to tray, so that checks do not always sit in the same
///   warm or cold spot. Where a ring or an inside has no free cell, any free cell is taken.
/// - Spare cells are the last of the reading order: a late item is found a place without a search, and empty
///   cells among the items are landmarks and nothing else.
///
/// Batches that are all the same are like none: they change nothing.
///
/// # Errors
/// Those of [`Trays::needed`], and [`LayoutFault::BatchesOfOthers`].
pub fn lay_out(request: &Request) -> Result<Layout, LayoutFault> {
    let Request {
        groups,
        batches,
        trays: of,
        seed,
    } = *request;
    let blocks = of.blocks(groups.len())?;
    if !batches.is_empty() && batches.len() != groups.len() {
        return Err(LayoutFault::BatchesOfOthers {
            ears: groups.len(),
            batches: batches.len(),
        });
    }
    let landmarks: Vec<Vec<usize>> = (0..=of.others.len())
        .map(|container| landmark_cells(of.grid_of(container), of.landmarks_per_tray))
        .collect();
    let mut draw = Draw::new(seed);
    let mut trays = Vec::new();
    for (replicate, containers) in (0..).zip(blocks) {
        let rooms = containers
            .iter()
            .map(|&container| of.room(container))
            .collect::<Result<Vec<usize>, LayoutFault>>()?;
        let items = Items::new(groups, batches, &mut draw);
        let hands = match of.spread {
            Spread::Blocks => deal_once(&items, &rooms, &mut draw),
            Spread::Anywhere => deal_apart(&items, &rooms, usize::from(of.replicates), &mut draw),
        };
        for (container, hand) in containers.into_iter().zip(hands) {
            let grid = of.grid_of(container);
            let cells = fill(grid, &landmarks[container], of.checks_per_tray, &hand, &mut draw);
            trays.push(Tray {
                replicate,
                container,
                grid,
                cells,
            });
        }
    }
    Ok(Layout { trays })
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
    use std::collections::{BTreeMap, BTreeSet};

    use proptest::prelude::*;

    use super::super::trays::Stock;
    use super::*;

    fn grid(rows: u16, columns: u16) -> Grid {
        Grid::new(rows, columns).unwrap()
    }

    /// A request of one container in blocks: grid, replicates, checks and landmarks.
    fn plain(groups: &[u32], of: (Grid, u16, u16, u16), seed: u64) -> Request<'_> {
        let (grid, replicates, checks_per_tray, landmarks_per_tray) = of;
        Request {
            groups,
            batches: &[],
            trays: Trays {
                grid,
                others: &[],
                replicates,
                spread: Spread::Blocks,
                checks_per_tray,
                landmarks_per_tray,
            },
            seed,
        }
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

    fn items_of(tray: &Tray) -> Vec<usize> {
        let item = |cell: &Content| match *cell {
            Content::Item(item) => Some(item),
            _ => None,
        };
        tray.cells.iter().filter_map(item).collect()
    }

    /// Every promise of [`lay_out`].
    fn assert_valid(request: &Request, layout: &Layout) {
        let of = &request.trays;
        assert_eq!(of.needed(request.groups.len()), Ok(layout.trays.len() as u32));
        for tray in &layout.trays {
            assert_tray_is_valid(request, tray);
        }
        let mut blocks: BTreeMap<u16, Vec<&Tray>> = BTreeMap::new();
        for tray in &layout.trays {
            blocks.entry(tray.replicate).or_default().push(tray);
        }
        assert!(layout.trays.is_sorted_by_key(|tray| tray.replicate));
        let (number, times) = match of.spread {
            Spread::Blocks => (of.replicates, 1),
            Spread::Anywhere => (1, usize::from(of.replicates)),
        };
        assert!(blocks.keys().copied().eq(0..number));
        assert_stock_is_used_in_order(request, &blocks);
        for block in blocks.values() {
            let mut seen = vec![0; request.groups.len()];
            for item in block.iter().flat_map(|tray| items_of(tray)) {
                seen[item] += 1;
            }
            assert!(seen.iter().all(|&cells| cells == times));
            assert_block_is_even(request, block, times);
        }
    }

    fn assert_tray_is_valid(request: &Request, tray: &Tray) {
        let of = &request.trays;
        assert_eq!(tray.grid, of.grid_of(tray.container));
        assert_eq!(tray.cells.len(), tray.grid.cells());
        let places = |wanted: &dyn Fn(&Content) -> bool| -> Vec<usize> {
            (0..tray.cells.len())
                .filter(|&place| wanted(&tray.cells[place]))
                .collect()
        };
        let landmarks = places(&|cell| *cell == Content::Landmark);
        assert_eq!(landmarks, landmark_cells(tray.grid, of.landmarks_per_tray));
        let spare = places(&|cell| *cell == Content::Spare);
        let last = places(&|cell| matches!(cell, Content::Item(_))).pop();
        assert!(
            spare.first() > last.as_ref() || spare.is_empty(),
            "an item after a spare cell"
        );
        let items = items_of(tray);
        assert_eq!(
            items.len(),
            items.iter().collect::<BTreeSet<_>>().len(),
            "twice in a tray"
        );
        let checks: Vec<usize> = (0..of.checks_per_tray)
            .map(|check| {
                let at = places(&|cell| *cell == Content::Check(check));
                assert_eq!(at.len(), 1);
                at[0]
            })
            .collect();
        let kinds = [landmarks.len(), spare.len(), items.len(), checks.len()];
        assert_eq!(kinds.iter().sum::<usize>(), tray.cells.len());
        // Not even the other check and all landmarks can fill what each of the first two wants.
        for (&place, wants_edge) in checks.iter().zip([true, false]) {
            let wanted = (0..tray.cells.len()).filter(|&cell| tray.grid.is_edge(cell) == wants_edge);
            if wanted.count() > landmarks.len() + 1 {
                assert_eq!(tray.grid.is_edge(place), wants_edge);
            }
        }
    }

    fn assert_stock_is_used_in_order(request: &Request, blocks: &BTreeMap<u16, Vec<&Tray>>) {
        let of = &request.trays;
        let mut left: Vec<u32> = of.others.iter().map(|stock| stock.trays).collect();
        for block in blocks.values() {
            let order: Vec<usize> = block
                .iter()
                .map(|tray| {
                    if tray.container == 0 {
                        usize::MAX
                    } else {
                        tray.container
                    }
                })
                .collect();
            assert!(order.is_sorted());
            for tray in block {
                if let Some(other) = tray.container.checked_sub(1) {
                    assert!(left[other] > 0, "more than there are");
                    left[other] -= 1;
                }
            }
            let last = order[order.len() - 1].min(of.others.len() + 1);
            assert!(left[..last - 1].iter().all(|&left| left == 0), "passed over");
        }
    }

    fn assert_block_is_even(request: &Request, block: &[&Tray], times: usize) {
        let of = &request.trays;
        let taken = usize::from(of.checks_per_tray + of.landmarks_per_tray);
        let number = request.groups.len();
        let rooms: Vec<usize> = block.iter().map(|tray| tray.grid.cells() - taken).collect();
        let room: usize = rooms.iter().sum();
        let sizes: Vec<usize> = block.iter().map(|tray| items_of(tray).len()).collect();
        let largest = rooms.iter().max().unwrap();
        let is_in_proportion = times * largest <= room;
        if is_in_proportion {
            for (&size, own) in sizes.iter().zip(&rooms) {
                let share = number * times * own;
                assert!((share / room..=share.div_ceil(room)).contains(&size));
            }
        }
        // With one tray less there would not be room.
        let without_last = rooms[..rooms.len() - 1].iter().map(|&room| room.min(number));
        assert!(without_last.sum::<usize>() < number * times);
        let mut kinds: Vec<(bool, &[u32])> = vec![(true, request.groups)];
        if !request.batches.is_empty() {
            kinds.push((false, request.batches));
        }
        let one = vec![0; number];
        kinds.push((false, &one));
        for (is_bounded, kinds) in kinds {
            let mut of_kind: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
            for (place, tray) in block.iter().enumerate() {
                for item in items_of(tray) {
                    of_kind.entry(kinds[item]).or_insert_with(|| vec![0; block.len()])[place] += 1;
                }
            }
            for counts in of_kind.values() {
                let cells: usize = counts.iter().sum();
                for (place, &count) in counts.iter().enumerate() {
                    for other in 0..place {
                        assert!(
                            rooms[place] != rooms[other] || count.abs_diff(counts[other]) <= 1,
                            "{counts:?} in {rooms:?}"
                        );
                    }
                    let share = (cells * sizes[place]).div_ceil(number * times);
                    let of_room = (cells * rooms[place]).div_ceil(room);
                    let most = if is_in_proportion { of_room } else { share };
                    assert!(!is_bounded || count <= most + 1, "{counts:?} in {rooms:?}");
                }
            }
        }
    }

    #[test]
    fn a_season_of_240_ears_takes_nine_trays_of_4_by_8() {
        let groups = demo_groups();
        let request = plain(&groups, (grid(4, 8), 1, 2, 2), 240);
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
            assert!(tray.grid.is_edge(place(0)) && !tray.grid.is_edge(place(1)));
        }
    }

    /// A layout as text: items by number, checks by letter, `--` a landmark, `..` a spare cell. Each tray begins with a
    /// line that says its replicate and its container.
    fn as_text(layout: &Layout) -> Vec<String> {
        let text = |cell: &Content| match cell {
            Content::Item(item) => format!("{item:02}"),
            Content::Check(check) => format!("c{check}"),
            Content::Landmark => "--".to_owned(),
            Content::Spare => "..".to_owned(),
        };
        let mut lines = Vec::new();
        for tray in &layout.trays {
            lines.push(format!(
                "replicate {} container {}",
                tray.replicate, tray.container
            ));
            let rows = tray.cells.chunks(usize::from(tray.grid.columns()));
            lines.extend(rows.map(|row| row.iter().map(text).collect::<Vec<_>>().join(" ")));
        }
        lines
    }

    fn assert_golden(request: &Request, golden: &[&str]) {
        let layout = lay_out(request).unwrap();
        assert_valid(request, &layout);
        let text = as_text(&layout);
        assert_eq!(text, golden, "{text:#?}");
    }

    fn golden_groups() -> Vec<u32> {
        (0..21).map(|item| item / 4).collect()
    }

    fn golden_batches() -> Vec<u32> {
        (0..21).map(|item| item * 5 % 3).collect()
    }

    /// Never edit this literal, nor those of the tests below: layouts printed years ago must come out the same.
    #[test]
    fn a_seed_gives_this_layout_for_ever() {
        let groups = golden_groups();
        let request = plain(&groups, (grid(4, 5), 2, 3, 2), 20_260_214);
        let layout = lay_out(&request).unwrap();
        assert_valid(&request, &layout);
        let text: Vec<String> = as_text(&layout)
            .into_iter()
            .filter(|line| !line.starts_with("replicate"))
            .collect();
        assert_eq!(text, GOLDEN);
        for batches in [vec![0; 21], vec![7; 21]] {
            let request = Request {
                batches: &batches,
                ..request
            };
            assert_eq!(lay_out(&request).unwrap(), layout, "one batch is like none");
        }
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
    fn a_seed_gives_these_batches_for_ever() {
        let (groups, batches) = (golden_groups(), golden_batches());
        let request = Request {
            batches: &batches,
            ..plain(&groups, (grid(4, 5), 2, 3, 2), 20_260_214)
        };
        assert_golden(&request, &GOLDEN_BATCHES);
    }

    const GOLDEN_BATCHES: [&str; 20] = [
        "replicate 0 container 0",
        "20 18 01 13 08",
        "-- 10 06 04 03",
        "17 15 c1 c2 ..",
        "-- .. .. .. c0",
        "replicate 0 container 0",
        "12 00 11 16 c2",
        "-- 19 02 14 05",
        "09 07 .. c1 c0",
        "-- .. .. .. ..",
        "replicate 1 container 0",
        "07 05 02 15 12",
        "-- 08 16 10 c0",
        "18 c1 c2 20 00",
        "-- .. .. .. ..",
        "replicate 1 container 0",
        "19 11 14 06 09",
        "-- 13 03 c1 17",
        "04 01 .. .. c0",
        "-- .. .. .. c2",
    ];

    #[test]
    fn a_seed_gives_these_containers_for_ever() {
        let (groups, batches) = (golden_groups(), golden_batches());
        let others = [(3, 4, 1), (2, 7, 2)].map(|(rows, columns, trays)| Stock {
            grid: grid(rows, columns),
            trays,
        });
        let plain = plain(&groups, (grid(4, 5), 2, 2, 2), 20_260_214);
        let request = Request {
            trays: Trays {
                others: &others,
                ..plain.trays
            },
            ..plain
        };
        assert_golden(&request, &GOLDEN_CONTAINERS);
        let request = Request {
            batches: &batches,
            ..request
        };
        assert_golden(&request, &GOLDEN_CONTAINERS_AND_BATCHES);
    }

    const GOLDEN_CONTAINERS: [&str; 20] = [
        "replicate 0 container 1",
        "05 07 c0 --",
        "18 14 c1 08",
        "00 -- .. ..",
        "replicate 0 container 2",
        "19 c1 -- 10 06 c0 15",
        "03 13 09 -- .. .. ..",
        "replicate 0 container 2",
        "11 17 -- 02 04 16 01",
        "12 c1 c0 -- 20 .. ..",
        "replicate 1 container 0",
        "11 14 12 20 08",
        "-- 01 03 07 17",
        "04 16 .. c1 ..",
        "-- c0 .. .. ..",
        "replicate 1 container 0",
        "09 10 18 05 06",
        "-- 13 c1 19 15",
        "02 00 .. .. c0",
        "-- .. .. .. ..",
    ];
    const GOLDEN_CONTAINERS_AND_BATCHES: [&str; 20] = [
        "replicate 0 container 1",
        "11 19 c0 --",
        "12 c1 01 14",
        "06 -- .. ..",
        "replicate 0 container 2",
        "04 c1 -- 15 17 09 08",
        "16 00 c0 -- .. .. ..",
        "replicate 0 container 2",
        "20 13 -- 02 c0 03 05",
        "10 18 07 -- c1 .. ..",
        "replicate 1 container 0",
        "13 05 07 15 18",
        "-- 00 09 20 01",
        "17 11 .. c1 ..",
        "-- .. .. c0 ..",
        "replicate 1 container 0",
        "c0 14 10 06 12",
        "-- 02 16 03 08",
        "04 c1 19 .. ..",
        "-- .. .. .. ..",
    ];

    #[test]
    fn a_seed_gives_these_cells_anywhere_for_ever() {
        let (groups, batches) = (golden_groups(), golden_batches());
        let others = [Stock {
            grid: grid(3, 4),
            trays: 2,
        }];
        let plain = plain(&groups, (grid(4, 5), 2, 2, 2), 20_260_214);
        let trays = Trays {
            spread: Spread::Anywhere,
            ..plain.trays
        };
        assert_golden(&Request { trays, ..plain }, &GOLDEN_ANYWHERE);
        let trays = Trays {
            others: &others,
            ..trays
        };
        let request = Request {
            trays,
            batches: &batches,
            ..plain
        };
        assert_golden(&request, &GOLDEN_ANYWHERE_IN_CONTAINERS);
    }

    const GOLDEN_ANYWHERE: [&str; 15] = [
        "replicate 0 container 0",
        "00 05 10 08 13",
        "-- 12 04 02 c0",
        "16 07 c1 09 19",
        "-- 20 03 .. ..",
        "replicate 0 container 0",
        "17 c0 10 18 02",
        "-- c1 13 01 06",
        "11 04 19 15 05",
        "-- 03 14 .. ..",
        "replicate 0 container 0",
        "01 11 18 14 00",
        "-- c1 07 15 08",
        "16 12 06 17 c0",
        "-- 09 20 .. ..",
    ];
    const GOLDEN_ANYWHERE_IN_CONTAINERS: [&str; 18] = [
        "replicate 0 container 1",
        "18 11 c0 --",
        "00 15 c1 07",
        "02 -- 10 ..",
        "replicate 0 container 1",
        "17 16 c0 --",
        "09 05 c1 06",
        "01 -- 13 ..",
        "replicate 0 container 0",
        "03 14 18 02 11",
        "-- 19 20 c1 06",
        "c0 13 10 12 04",
        "-- 08 07 .. ..",
        "replicate 0 container 0",
        "03 14 05 19 17",
        "-- 12 16 09 08",
        "c0 20 15 c1 01",
        "-- 00 04 .. ..",
    ];

    /// The least and the most that any tray holds of a kind beyond its share by room, rounded down and up.
    fn beyond_share(layout: &Layout, kinds: &[u32], taken: usize) -> (i64, i64) {
        let rooms: Vec<usize> = layout
            .trays
            .iter()
            .map(|tray| tray.grid.cells() - taken)
            .collect();
        let room: usize = rooms.iter().sum();
        let mut beyond = (0, 0);
        for kind in kinds.iter().copied().collect::<BTreeSet<u32>>() {
            let is_kind = |item: &usize| kinds[*item] == kind;
            let counts: Vec<usize> = layout
                .trays
                .iter()
                .map(|tray| items_of(tray).into_iter().filter(|item| is_kind(item)).count())
                .collect();
            let all: usize = counts.iter().sum();
            for (&count, own) in counts.iter().zip(&rooms) {
                beyond.0 = beyond.0.min(count as i64 - (all * own / room) as i64);
                beyond.1 = beyond.1.max(count as i64 - (all * own).div_ceil(room) as i64);
            }
        }
        beyond
    }

    #[test]
    fn a_season_of_five_batches_is_even_over_trays_of_all_sizes() {
        let groups = demo_groups();
        let others = [(3, 6, 3), (2, 5, 2)].map(|(rows, columns, trays)| Stock {
            grid: grid(rows, columns),
            trays,
        });
        // Batches as they are dried: row after row, or here and there, or several rows together.
        let dried: [fn(usize) -> usize; 3] = [|ear| ear / 50, |ear| ear * 37 % 240 / 50, |ear| ear / 16 % 5];
        for (dried, seed) in dried
            .into_iter()
            .flat_map(|dried| (0..20).map(move |seed| (dried, seed)))
        {
            let batches: Vec<u32> = (0..240).map(|ear| dried(ear) as u32).collect();
            let plain = plain(&groups, (grid(4, 8), 1, 2, 2), seed);
            let request = Request {
                batches: &batches,
                ..plain
            };
            let one_size = lay_out(&request).unwrap();
            assert_eq!(beyond_share(&one_size, &groups, 4), (0, 0));
            assert_eq!(beyond_share(&one_size, &batches, 4), (0, 0));
            for (spread, replicates) in [(Spread::Blocks, 1), (Spread::Anywhere, 2)] {
                let trays = Trays {
                    others: &others,
                    spread,
                    replicates,
                    ..plain.trays
                };
                let layout = lay_out(&Request { trays, ..request }).unwrap();
                assert_valid(&Request { trays, ..request }, &layout);
                let (least, most) = beyond_share(&layout, &batches, 4);
                assert!(least >= -1 && most <= 1, "{least} and {most}");
            }
        }
    }

    #[test]
    fn cells_anywhere_take_fewer_trays_than_blocks() {
        // 3 times 40 items in trays of 28: blocks of 2 trays are 6, 120 cells are 5.
        let groups = vec![1; 40];
        let blocks = plain(&groups, (grid(4, 8), 3, 2, 2), 1);
        let anywhere = Trays {
            spread: Spread::Anywhere,
            ..blocks.trays
        };
        assert_eq!((blocks.trays.needed(40), anywhere.needed(40)), (Ok(6), Ok(5)));
        let request = Request {
            trays: anywhere,
            ..blocks
        };
        assert_valid(&request, &lay_out(&request).unwrap());
    }

    /// Items that never meet in a tray with the others could be compared with them through check lots only.
    #[test]
    fn cells_anywhere_meet_all_others() {
        for groups in [
            vec![5; 48],
            (0..48).collect(),
            (0..48).map(|item| item / 6).collect(),
        ] {
            let plain = plain(&groups, (grid(4, 6), 2, 0, 0), 3);
            let trays = Trays {
                spread: Spread::Anywhere,
                ..plain.trays
            };
            let layout = lay_out(&Request { trays, ..plain }).unwrap();
            assert_eq!(layout.trays.len(), 4);
            let pairs: BTreeSet<(usize, usize)> = layout
                .trays
                .iter()
                .flat_map(|tray| {
                    let items = items_of(tray);
                    items
                        .iter()
                        .flat_map(|&one| items.iter().map(move |&other| (one, other)))
                        .collect::<Vec<_>>()
                })
                .collect();
            // Of 48 items in two of four trays, a pair shares none in about one of six: 1 of the 6 pairs of trays is the
            // one without both of an item's.
            let apart = 48 * 48 - pairs.len();
            assert!((150..700).contains(&apart), "{apart}");
            let mut of_item: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
            for (number, tray) in layout.trays.iter().enumerate() {
                for item in items_of(tray) {
                    of_item.entry(item).or_default().push(number);
                }
            }
            let kinds: BTreeSet<Vec<usize>> = of_item.into_values().collect();
            assert_eq!(kinds.len(), 6, "all pairs of trays occur");
        }
    }

    #[test]
    fn what_cannot_be_laid_is_refused_with_its_numbers() {
        let request = plain(&[], (grid(4, 8), 1, 0, 0), 0);
        assert_eq!(lay_out(&request), Err(LayoutFault::NoItems));
        let groups = [1; 5];
        let request = Request {
            batches: &[1, 2],
            ..plain(&groups, (grid(4, 8), 1, 0, 0), 0)
        };
        let fault = lay_out(&request).unwrap_err();
        assert_eq!(fault, LayoutFault::BatchesOfOthers { ears: 5, batches: 2 });
    }

    #[test]
    fn every_cell_is_equally_likely_for_an_item() {
        let groups = [0; 12];
        let request = |seed| plain(&groups, (grid(3, 4), 1, 0, 0), seed);
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

    /// An item comes to each tray in proportion to its room, whatever else is to be even.
    #[test]
    fn every_tray_is_as_likely_as_it_is_roomy() {
        let groups: Vec<u32> = (0..12).map(|item| item / 3).collect();
        let batches: Vec<u32> = (0..12).map(|item| item % 2).collect();
        let others = [Stock {
            grid: grid(1, 3),
            trays: 2,
        }];
        for spread in [Spread::Blocks, Spread::Anywhere] {
            let plain = plain(&groups, (grid(2, 3), 1, 0, 0), 0);
            let trays = Trays {
                others: &others,
                spread,
                ..plain.trays
            };
            let mut in_tray = [0u32; 3];
            for seed in 0..4_000 {
                let layout = lay_out(&Request {
                    trays,
                    batches: &batches,
                    seed,
                    ..plain
                });
                let layout = layout.unwrap();
                let holds = |tray: &Tray| items_of(tray).contains(&7);
                in_tray[layout.trays.iter().position(holds).unwrap()] += 1;
            }
            // Five standard deviations of binomial counts with means 1,000 and 2,000.
            let [one, two, three] = in_tray;
            assert!(
                one.abs_diff(1_000) < 137 && two.abs_diff(1_000) < 137,
                "{in_tray:?}"
            );
            assert!(three.abs_diff(2_000) < 159, "{in_tray:?}");
        }
    }

    #[test]
    fn ten_thousand_items_are_laid() {
        let groups: Vec<u32> = (0..10_000).map(|item| item * 7 % 431).collect();
        let batches: Vec<u32> = (0..10_000).map(|item| item / 1_300).collect();
        let others = [Stock {
            grid: grid(6, 12),
            trays: 40,
        }];
        let plain = plain(&groups, (grid(4, 28), 3, 2, 2), 9);
        assert_valid(&plain, &lay_out(&plain).unwrap());
        for spread in [Spread::Blocks, Spread::Anywhere] {
            let request = Request {
                batches: &batches,
                trays: Trays {
                    others: &others,
                    spread,
                    ..plain.trays
                },
                ..plain
            };
            assert_valid(&request, &lay_out(&request).unwrap());
        }
    }

    /// Groups and batches of items in which batches are nested in groups, groups in batches, or neither.
    fn kinds() -> impl Strategy<Value = (Vec<u32>, Vec<u32>)> {
        (1..40u32, 1..9u32, 0..4).prop_flat_map(|(groups, batches, how)| {
            prop::collection::vec((0..groups, 0..batches), 1..300).prop_map(move |pairs| {
                let pair = |(group, batch)| match how {
                    0 => (group, group % batches),
                    1 => (group, group * batches + batch),
                    _ => (group, batch),
                };
                let (groups, batches): (Vec<u32>, Vec<u32>) = pairs.into_iter().map(pair).unzip();
                (groups, if how == 3 { Vec::new() } else { batches })
            })
        })
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
            let request = plain(&groups, (grid, replicates, checks, landmarks), seed);
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
        fn every_set_of_containers_is_valid(
            (groups, batches) in kinds(),
            shape in (1..=50u16, 1..=50u16),
            others in prop::collection::vec((1..=50u16, 1..=12u16, 0..4u32), 0..6),
            (replicates, checks, landmarks) in (1..6u16, 0..4u16, 0..4u16),
            (is_anywhere, seed) in (any::<bool>(), any::<u64>()),
        ) {
            let others: Vec<Stock> = others
                .into_iter()
                .map(|(rows, columns, trays)| Stock { grid: grid(rows, columns), trays })
                .collect();
            let trays = Trays {
                grid: grid(shape.0, shape.1),
                others: &others,
                replicates,
                spread: if is_anywhere { Spread::Anywhere } else { Spread::Blocks },
                checks_per_tray: checks,
                landmarks_per_tray: landmarks,
            };
            let request = Request { groups: &groups, batches: &batches, trays, seed };
            let taken = usize::from(checks + landmarks);
            let mut used = others.iter().filter(|stock| stock.trays > 0).map(|stock| stock.grid).chain([trays.grid]);
            let fits = used.all(|grid| grid.cells() > taken);
            match lay_out(&request) {
                Ok(layout) => {
                    prop_assert!(fits);
                    assert_valid(&request, &layout);
                    prop_assert_eq!(lay_out(&request).unwrap(), layout);
                }
                Err(LayoutFault::TooFewTrays { trays, .. }) => {
                    prop_assert!(fits && is_anywhere && trays < u64::from(replicates));
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
            let request = plain(&groups, (grid, 1, checks, taken - checks), seed);
            let layout = lay_out(&request).unwrap();
            prop_assert_eq!(layout.trays.len(), items);
            assert_valid(&request, &layout);
        }
    }
}

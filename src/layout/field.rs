//! The random order of families in a field, with sisters apart.

use super::LayoutFault;
use super::draw::Draw;

/// Most rows that a field may have.
pub const MOST_FIELD_ROWS: usize = 100_000;

/// How the field is walked, which is the order of the stakes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Walk {
    /// Every block from its left side to its right.
    Straight,
    /// The first block from left to right, the next one back, and so on.
    Serpentine,
}

/// Which rows have their tassels pulled.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Detassel {
    /// None.
    Nothing,
    /// Every other row of a block; rows of bulk never, check rows always.
    EveryOther,
    /// All rows of families and check rows, so that only rows of bulk shed pollen.
    AllButBulk,
}

/// What is to be planted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FieldRequest<'a> {
    /// For each family, the group of sisters that it belongs to. Any numbers.
    pub groups: &'a [u32],
    /// How often each family is planted; each replicate begins a block.
    pub replicates: u16,
    /// Rows side by side in a block at most, without its border rows.
    pub rows_per_block: u16,
    /// Families between one check row and the next; none for no check rows.
    pub check_every: Option<u16>,
    /// Families between one row of bulk and the next; none for no rows of bulk. A replicate begins with one.
    pub bulk_every: Option<u16>,
    /// Which rows have their tassels pulled.
    pub detassel: Detassel,
    /// How the field is walked.
    pub walk: Walk,
    /// The seed. The same request with the same seed gives the same field for ever.
    pub seed: u64,
}

/// What a row holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum RowContent {
    /// The family with this index in [`FieldRequest::groups`].
    Family(usize),
    /// The check lot.
    Check,
    /// The bulk.
    Bulk,
}

/// One row of a field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct FieldRow {
    /// Its replicate, from 0.
    pub replicate: u16,
    /// Its block, from 0; blocks lie one behind the other.
    pub block: u16,
    /// Its place in the block from the left, from 0.
    pub across: u16,
    /// What it holds.
    pub content: RowContent,
    /// Whether its tassels are pulled.
    pub detasselled: bool,
}

/// A field.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Field {
    /// Its rows in walking order.
    pub rows: Vec<FieldRow>,
    /// Pairs of sisters in neighbouring rows of a block.
    pub sisters: usize,
    /// Pairs of sisters in neighbouring rows that no order could do without.
    pub least_sisters: usize,
}

/// Lays out a field.
///
/// Each replicate holds every family once, in a random order of its own, and begins a block; its blocks differ by at
/// most one row. Sisters are not neighbours in a block where an order without such neighbours exists: at each place the
/// first family of a random order is taken that keeps the fewest pairs possible, by a bound that is exact for one group
/// of sisters among families without sisters. Rows of bulk and check rows between two sisters keep them apart.
///
/// # Errors
/// Nothing to plant, no replicates, blocks of no rows, or more than [`MOST_FIELD_ROWS`] rows.
pub fn lay_field(request: &FieldRequest) -> Result<Field, LayoutFault> {
    if request.groups.is_empty() {
        return Err(LayoutFault::NoItems);
    }
    if request.replicates == 0 {
        return Err(LayoutFault::NoReplicates);
    }
    let skeleton = skeleton(request);
    let wanted = skeleton.len() as u64 * u64::from(request.replicates);
    if wanted > MOST_FIELD_ROWS as u64 {
        return Err(LayoutFault::TooManyRows { rows: wanted });
    }
    let mut draw = Draw::new(request.seed);
    let mut field = Field {
        rows: Vec::with_capacity(wanted as usize),
        sisters: 0,
        least_sisters: 0,
    };
    let mut block = 0;
    for replicate in 0..request.replicates {
        let sizes = blocks(skeleton.len(), request.rows_per_block)?;
        let order = apart(request.groups, &runs(&skeleton, &sizes), &mut draw);
        field.sisters += order.sisters;
        field.least_sisters += order.least;
        let mut families = order.items.into_iter();
        let mut contents = skeleton.iter();
        for size in sizes {
            let begin = field.rows.len();
            for (across, content) in (0..size).zip(contents.by_ref()) {
                let content = match content {
                    RowContent::Family(_) => families.next().map_or(RowContent::Bulk, RowContent::Family),
                    other => *other,
                };
                field.rows.push(FieldRow {
                    replicate,
                    block,
                    across,
                    content,
                    detasselled: is_detasselled(request.detassel, content, across),
                });
            }
            if request.walk == Walk::Serpentine && block % 2 == 1 {
                field.rows[begin..].reverse();
            }
            block += 1;
        }
    }
    Ok(field)
}

/// Lays out a field of nothing but rows of bulk.
///
/// # Errors
/// No rows at all, blocks of no rows, or more than [`MOST_FIELD_ROWS`] rows.
pub fn lay_bulk(rows: u32, rows_per_block: u16, walk: Walk) -> Result<Field, LayoutFault> {
    if rows == 0 {
        return Err(LayoutFault::NoItems);
    }
    if rows as usize > MOST_FIELD_ROWS {
        return Err(LayoutFault::TooManyRows {
            rows: u64::from(rows),
        });
    }
    let mut placed = Vec::with_capacity(rows as usize);
    for (block, size) in (0..).zip(blocks(rows as usize, rows_per_block)?) {
        let begin = placed.len();
        placed.extend((0..size).map(|across| FieldRow {
            replicate: 0,
            block,
            across,
            content: RowContent::Bulk,
            detasselled: false,
        }));
        if walk == Walk::Serpentine && block % 2 == 1 {
            placed[begin..].reverse();
        }
    }
    Ok(Field {
        rows: placed,
        sisters: 0,
        least_sisters: 0,
    })
}

/// Counts the pairs of neighbours that are sisters. The places are given as block, place in the block, and the group of
/// sisters; `None` for a row of something else, or of a family of which no sister is known.
pub fn sisters_side_by_side(places: &[(u16, u16, Option<u32>)]) -> Vec<(usize, usize)> {
    let mut order: Vec<usize> = (0..places.len()).collect();
    order.sort_by_key(|&index| (places[index].0, places[index].1));
    let pairs = order.windows(2).filter_map(|pair| {
        let (one, next) = (places[pair[0]], places[pair[1]]);
        let beside = one.0 == next.0 && one.1 + 1 == next.1;
        (beside && one.2.is_some() && one.2 == next.2).then_some((pair[0], pair[1]))
    });
    pairs.collect()
}

/// Says whether the tassels of a row are pulled, by what it holds and its place in the block from 0.
pub fn is_detasselled(which: Detassel, content: RowContent, across: u16) -> bool {
    match (which, content) {
        (Detassel::Nothing, _) | (_, RowContent::Bulk) => false,
        (_, RowContent::Check) | (Detassel::AllButBulk, _) => true,
        (Detassel::EveryOther, RowContent::Family(_)) => across % 2 == 1,
    }
}

/// What the rows of a replicate are, families not yet told apart.
fn skeleton(request: &FieldRequest) -> Vec<RowContent> {
    let every = |step: Option<u16>, family: usize| {
        step.is_some_and(|step| family.is_multiple_of(usize::from(step.max(1))))
    };
    let mut rows = Vec::new();
    if request.bulk_every.is_some() {
        rows.push(RowContent::Bulk);
    }
    let families = request.groups.len();
    for family in 1..=families {
        rows.push(RowContent::Family(family - 1));
        // The last check row comes even if its turn is not full, so that a replicate always has one.
        let is_last = family == families;
        let is_short = request
            .check_every
            .is_some_and(|step| families < usize::from(step));
        if every(request.check_every, family) || (is_last && is_short) {
            rows.push(RowContent::Check);
        }
        if every(request.bulk_every, family) || (is_last && request.bulk_every.is_some()) {
            rows.push(RowContent::Bulk);
        }
    }
    rows
}

/// Splits rows into blocks that differ by at most one row.
fn blocks(rows: usize, most: u16) -> Result<Vec<u16>, LayoutFault> {
    if most == 0 {
        return Err(LayoutFault::NoRowsInBlock);
    }
    let blocks = rows.div_ceil(usize::from(most)).max(1);
    let (each, more) = (rows / blocks, rows % blocks);
    Ok((0..blocks)
        .map(|block| (each + usize::from(block < more)) as u16)
        .collect())
}

/// How many families stand side by side, run by run.
fn runs(skeleton: &[RowContent], sizes: &[u16]) -> Vec<usize> {
    let mut runs = Vec::new();
    let mut rest = skeleton;
    for size in sizes {
        let (block, behind) = rest.split_at(usize::from(*size));
        rest = behind;
        runs.extend(
            block
                .split(|content| !matches!(content, RowContent::Family(_)))
                .map(<[_]>::len)
                .filter(|length| *length > 0),
        );
    }
    runs
}

struct Order {
    items: Vec<usize>,
    sisters: usize,
    least: usize,
}

/// What is known of the runs that are still to be filled: neighbours in them, and how many of these a family that
/// is no sister separates.
#[derive(Clone, Copy, Default)]
struct Ahead {
    neighbours: usize,
    separate_two: usize,
    separate_one: usize,
}

impl Ahead {
    fn with(self, run: usize) -> Self {
        let pairs = run.saturating_sub(1);
        Self {
            neighbours: self.neighbours + pairs,
            separate_two: self.separate_two + pairs / 2,
            separate_one: self.separate_one + pairs % 2,
        }
    }

    /// Neighbouring sisters that cannot be helped when all but `others` of the families are of one group: each other
    /// family separates two pairs while it finds a place between three sisters, then one.
    fn least(self, others: usize) -> usize {
        let two = others.min(self.separate_two);
        let one = (others - two).min(self.separate_one);
        self.neighbours - 2 * two - one
    }
}

/// Puts items into runs in a random order with as few neighbours of one group as can be.
fn apart(groups: &[u32], runs: &[usize], draw: &mut Draw) -> Order {
    let mut names: Vec<u32> = groups.to_vec();
    names.sort_unstable();
    names.dedup();
    let group: Vec<usize> = groups
        .iter()
        .map(|name| names.binary_search(name).unwrap_or_default())
        .collect();
    let mut left = vec![0_usize; names.len()];
    for &one in &group {
        left[one] += 1;
    }
    // Runs behind each run, summed from the end.
    let mut behind = vec![Ahead::default(); runs.len() + 1];
    for run in (0..runs.len()).rev() {
        behind[run] = behind[run + 1].with(runs[run]);
    }
    let mut rest: Vec<usize> = (0..groups.len()).collect();
    draw.shuffle(&mut rest);
    let mut order = Order {
        items: Vec::with_capacity(groups.len()),
        sisters: 0,
        least: bound(&left, None, 0, behind[0]),
    };
    for (run, &length) in runs.iter().enumerate() {
        let mut before = None;
        for place in 0..length {
            let room = length - place;
            let best = bound(&left, before, room, behind[run + 1]);
            let mut chosen: Option<(usize, usize)> = None;
            let mut tried = vec![false; left.len()];
            for (at, &item) in rest.iter().enumerate() {
                let own = group[item];
                if std::mem::replace(&mut tried[own], true) {
                    continue;
                }
                left[own] -= 1;
                let pairs = usize::from(before == Some(own));
                let cost = pairs + bound(&left, Some(own), room - 1, behind[run + 1]);
                left[own] += 1;
                if chosen.is_none_or(|(_, least)| cost < least) {
                    chosen = Some((at, cost));
                }
                if cost <= best {
                    break;
                }
            }
            let Some((at, _)) = chosen else { break };
            let item = rest.remove(at);
            order.sisters += usize::from(before == Some(group[item]));
            left[group[item]] -= 1;
            before = Some(group[item]);
            order.items.push(item);
        }
    }
    order
}

/// Fewest neighbouring sisters in what is still to be filled: `room` places behind an item of group `before`, and the
/// runs behind.
fn bound(left: &[usize], before: Option<usize>, room: usize, behind: Ahead) -> usize {
    let total: usize = left.iter().sum();
    let of = |own: usize| {
        // A sister just before makes the run one longer and begins it.
        let run = room + usize::from(before == Some(own));
        behind.with(run).least(total - left[own])
    };
    let largest = (0..left.len()).max_by_key(|&one| left[one]);
    largest.into_iter().chain(before).map(of).max().unwrap_or(0)
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn request(groups: &[u32]) -> FieldRequest<'_> {
        FieldRequest {
            groups,
            replicates: 2,
            rows_per_block: 10,
            check_every: Some(6),
            bulk_every: Some(4),
            detassel: Detassel::AllButBulk,
            walk: Walk::Serpentine,
            seed: 11,
        }
    }

    /// Written on one line: families by index, `c` check, `b` bulk, `|` a new block.
    fn written(field: &Field) -> String {
        let mut words = Vec::new();
        let mut block = 0;
        for row in &field.rows {
            if row.block != block {
                words.push("|".to_owned());
                block = row.block;
            }
            words.push(match row.content {
                RowContent::Family(family) => family.to_string(),
                RowContent::Check => "c".to_owned(),
                RowContent::Bulk => "b".to_owned(),
            });
        }
        words.join(" ")
    }

    /// This text must never be edited: stakes in somebody's field stand by it.
    #[test]
    fn a_seed_gives_this_field_for_ever() {
        let groups = [1, 1, 1, 2, 2, 3, 4, 5];
        let field = lay_field(&request(&groups)).unwrap();
        assert_eq!(
            written(&field),
            "b 6 5 4 0 b | b 3 2 c 7 1 | b 3 0 4 1 b | b 6 2 c 5 7"
        );
        assert_eq!((field.sisters, field.least_sisters), (0, 0));
    }

    #[test]
    fn alternate_rows_are_detasselled_and_bulk_never_is() {
        let groups: Vec<u32> = (0..12).collect();
        let field = lay_field(&FieldRequest {
            detassel: Detassel::EveryOther,
            replicates: 1,
            ..request(&groups)
        })
        .unwrap();
        for row in &field.rows {
            match row.content {
                RowContent::Bulk => assert!(!row.detasselled),
                RowContent::Check => assert!(row.detasselled),
                RowContent::Family(_) => assert_eq!(row.detasselled, row.across % 2 == 1),
            }
        }
    }

    #[test]
    fn what_cannot_be_planted_is_said() {
        let groups = [1, 2];
        let refused = |request: FieldRequest| lay_field(&request).unwrap_err().to_string();
        assert!(
            refused(FieldRequest {
                groups: &[],
                ..request(&groups)
            })
            .contains("Choose at least one")
        );
        assert!(
            refused(FieldRequest {
                replicates: 0,
                ..request(&groups)
            })
            .contains("Ask for at least 1")
        );
        assert!(
            refused(FieldRequest {
                rows_per_block: 0,
                ..request(&groups)
            })
            .contains("at least 1 row")
        );
        let many: Vec<u32> = (0..60_000).collect();
        assert!(refused(request(&many)).contains(", and the most is 100000"));
        assert!(lay_bulk(0, 5, Walk::Straight).is_err());
    }

    #[test]
    fn a_bulk_is_walked_back_and_forth() {
        let field = lay_bulk(5, 2, Walk::Serpentine).unwrap();
        let places: Vec<(u16, u16)> = field.rows.iter().map(|row| (row.block, row.across)).collect();
        assert_eq!(places, [(0, 0), (0, 1), (1, 1), (1, 0), (2, 0)]);
    }

    #[test]
    fn ten_thousand_families_with_many_sisters_are_laid_without_neighbours() {
        let groups: Vec<u32> = (0..10_000).map(|family| family / 40).collect();
        let field = lay_field(&FieldRequest {
            rows_per_block: 100,
            replicates: 1,
            ..request(&groups)
        })
        .unwrap();
        assert_eq!(field.sisters, 0);
    }

    /// The fewest neighbouring sisters of all orders, by trying every one.
    fn fewest(groups: &mut Vec<u32>, at: usize, runs: &[usize]) -> usize {
        if at == groups.len() {
            let mut begin = 0;
            let mut pairs = 0;
            for run in runs {
                let part = &groups[begin..begin + run];
                pairs += part.windows(2).filter(|pair| pair[0] == pair[1]).count();
                begin += run;
            }
            return pairs;
        }
        let mut least = usize::MAX;
        for other in at..groups.len() {
            groups.swap(at, other);
            least = least.min(fewest(groups, at + 1, runs));
            groups.swap(at, other);
        }
        least
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(200))]

        #[test]
        fn sisters_are_apart_as_far_as_any_order_keeps_them(
            groups in prop::collection::vec(0..3_u32, 1..8),
            cuts in prop::collection::vec(1..4_usize, 8),
            seed in any::<u64>(),
        ) {
            let mut runs = Vec::new();
            let mut rest = groups.len();
            for cut in cuts {
                let run = cut.min(rest);
                if run > 0 {
                    runs.push(run);
                }
                rest -= run;
            }
            let order = apart(&groups, &runs, &mut Draw::new(seed));
            let fewest = fewest(&mut groups.clone(), 0, &runs);
            prop_assert_eq!(order.sisters, fewest);
            prop_assert!(order.least <= fewest);
        }

        #[test]
        fn every_field_keeps_its_promises(
            groups in prop::collection::vec(0..9_u32, 1..80),
            replicates in 1..4_u16,
            rows_per_block in 1..30_u16,
            check_every in prop::option::of(1..12_u16),
            bulk_every in prop::option::of(1..9_u16),
            is_serpentine in any::<bool>(),
            seed in any::<u64>(),
        ) {
            let request = FieldRequest {
                groups: &groups,
                replicates,
                rows_per_block,
                check_every,
                bulk_every,
                detassel: Detassel::AllButBulk,
                walk: if is_serpentine { Walk::Serpentine } else { Walk::Straight },
                seed,
            };
            let field = lay_field(&request).unwrap();
            prop_assert_eq!(&field, &lay_field(&request).unwrap());
            for replicate in 0..replicates {
                let own: Vec<&FieldRow> = field.rows.iter().filter(|row| row.replicate == replicate).collect();
                let mut families: Vec<usize> = own.iter().filter_map(|row| match row.content {
                    RowContent::Family(family) => Some(family),
                    _ => None,
                }).collect();
                families.sort_unstable();
                prop_assert_eq!(families, (0..groups.len()).collect::<Vec<_>>());
                let has = |content| own.iter().any(|row| row.content == content);
                prop_assert_eq!(has(RowContent::Check), check_every.is_some());
                prop_assert_eq!(has(RowContent::Bulk), bulk_every.is_some());
            }
            let mut places: Vec<(u16, u16)> = field.rows.iter().map(|row| (row.block, row.across)).collect();
            prop_assert!(places.iter().all(|(_, across)| *across < rows_per_block));
            prop_assert!(places.windows(2).all(|pair| pair[0].0 <= pair[1].0));
            places.sort_unstable();
            places.dedup();
            prop_assert_eq!(places.len(), field.rows.len());
            let seen: Vec<(u16, u16, Option<u32>)> = field.rows.iter().map(|row| {
                let group = match row.content {
                    RowContent::Family(family) => Some(groups[family]),
                    _ => None,
                };
                (row.block, row.across, group)
            }).collect();
            prop_assert_eq!(sisters_side_by_side(&seen).len(), field.sisters);
            prop_assert!(field.sisters >= field.least_sisters);
        }
    }
}

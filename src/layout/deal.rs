//! Which item comes to which tray.

use std::collections::{BTreeMap, BTreeSet};

use super::draw::Draw;
use super::turns::even_turns;

/// The items of a layout with all that must be spread evenly.
pub(super) struct Items {
    /// The group of each item, from 0 in random order.
    groups: Kinds,
    /// The batch of each item, from 0 in random order; all 0 where the batches are not told apart.
    batches: Kinds,
    /// All items, those of one group side by side, and those of one batch as far as that leaves room.
    order: Vec<usize>,
}

/// Kinds of items, numbered from 0.
struct Kinds {
    of: Vec<usize>,
    sizes: Vec<usize>,
}

impl Kinds {
    /// Numbers the kinds in random order.
    fn new(kinds: &[u32], draw: &mut Draw) -> Self {
        let mut order: Vec<u32> = kinds
            .iter()
            .copied()
            .collect::<BTreeSet<u32>>()
            .into_iter()
            .collect();
        draw.shuffle(&mut order);
        let number: BTreeMap<u32, usize> = order.into_iter().zip(0..).collect();
        let of: Vec<usize> = kinds.iter().map(|kind| number[kind]).collect();
        let mut sizes = vec![0; number.len()];
        for &kind in &of {
            sizes[kind] += 1;
        }
        Self { of, sizes }
    }

    fn count(&self) -> usize {
        self.sizes.len()
    }
}

impl Items {
    /// Draws an order. One batch, or none, draws what no batches draw.
    pub fn new(groups: &[u32], batches: &[u32], draw: &mut Draw) -> Self {
        let mut order: Vec<usize> = (0..groups.len()).collect();
        draw.shuffle(&mut order);
        let groups = Kinds::new(groups, draw);
        let told_apart = batches.len() == order.len();
        let none = vec![0; order.len()];
        let batches = Kinds::new(if told_apart { batches } else { &none }, draw);
        let main = main_batches(&groups, &batches);
        order.sort_by_key(|&item| (main[groups.of[item]], groups.of[item], batches.of[item]));
        Self {
            groups,
            batches,
            order,
        }
    }

    fn kinds(&self) -> [&Kinds; 2] {
        [&self.groups, &self.batches]
    }
}

/// The batch of most items of each group.
fn main_batches(groups: &Kinds, batches: &Kinds) -> Vec<usize> {
    let mut counts: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    for pair in groups.of.iter().copied().zip(batches.of.iter().copied()) {
        *counts.entry(pair).or_default() += 1;
    }
    let mut main = vec![(0, 0); groups.count()];
    for ((group, batch), count) in counts {
        if count > main[group].1 {
            main[group] = (batch, count);
        }
    }
    main.into_iter().map(|(batch, _)| batch).collect()
}

/// Deals all items once to trays with so much room, like cards, group after group: trays are even in number and in
/// groups for their room. Each hand is in random order.
pub(super) fn deal_once(items: &Items, rooms: &[usize], draw: &mut Draw) -> Vec<Vec<usize>> {
    let number = items.order.len();
    let seats = seats(rooms.len(), draw);
    let mut hands = vec![Vec::new(); rooms.len()];
    if rooms.iter().all(|&room| room == rooms[0]) {
        for (&item, &tray) in items.order.iter().zip(seats.iter().cycle()) {
            hands[tray].push(item);
        }
        return Table::new(items, rooms, hands).finish(draw);
    }
    // The turns begin anywhere, so that every tray is as likely for every item as it is roomy.
    let turns = even_turns(&sizes(rooms, &seats, number), number);
    let first = draw.below(number);
    for (&item, &seat) in items.order.iter().zip(turns.iter().cycle().skip(first)) {
        hands[seats[seat]].push(item);
    }
    let mut table = Table::new(items, rooms, hands);
    if items.batches.count() > 1 {
        table.mix(draw);
    }
    table.finish(draw)
}

/// Deals all items several times to trays with so much room, no item twice to the same tray. There must be room:
/// the trays, each counted for no more than the number of items, must take all cells.
pub(super) fn deal_apart(items: &Items, rooms: &[usize], times: usize, draw: &mut Draw) -> Vec<Vec<usize>> {
    let number = items.order.len();
    let rooms = &capped(rooms, times);
    let seats = seats(rooms.len(), draw);
    // The items lie on a circle, evenly by groups, and each tray takes an arc of at most one turn.
    let mut members: Vec<Vec<usize>> = vec![Vec::new(); items.groups.count()];
    for &item in &items.order {
        members[items.groups.of[item]].push(item);
    }
    for group in &mut members {
        draw.shuffle(group);
    }
    let circle: Vec<usize> = even_turns(&items.groups.sizes, number)
        .into_iter()
        .filter_map(|group| members[group].pop())
        .collect();
    let mut places = circle.iter().copied().cycle().skip(draw.below(number));
    let mut hands = vec![Vec::new(); rooms.len()];
    for (&tray, size) in seats.iter().zip(sizes(rooms, &seats, number * times)) {
        hands[tray] = places.by_ref().take(size).collect();
    }
    let mut table = Table::new(items, rooms, hands);
    table.mix(draw);
    table.finish(draw)
}

/// How many of so many cells each seat takes, in proportion to the room of its tray.
fn sizes(rooms: &[usize], seats: &[usize], cells: usize) -> Vec<usize> {
    let seated: Vec<usize> = seats.iter().map(|&tray| rooms[tray]).collect();
    let mut sizes = vec![0; seats.len()];
    for seat in even_turns(&seated, cells) {
        sizes[seat] += 1;
    }
    sizes
}

fn seats(trays: usize, draw: &mut Draw) -> Vec<usize> {
    let mut seats: Vec<usize> = (0..trays).collect();
    draw.shuffle(&mut seats);
    seats
}

/// Rooms with the larger ones cut down to the most that leaves no tray a larger share of the cells than one cell of
/// each item.
fn capped(rooms: &[usize], times: usize) -> Vec<usize> {
    let most = rooms.iter().copied().max().unwrap_or(0);
    let sum = |cap: usize| rooms.iter().map(|&room| room.min(cap)).sum::<usize>();
    // The share of a cap shrinks with it, so the first that fits is found by halving.
    let (mut fits, mut too_much) = (0, most + 1);
    while too_much - fits > 1 {
        let cap = usize::midpoint(fits, too_much);
        if times * cap <= sum(cap) {
            fits = cap;
        } else {
            too_much = cap;
        }
    }
    rooms.iter().map(|&room| room.min(fits)).collect()
}

/// Items dealt to trays, being made more even and more random. No move brings an item twice into a tray, changes how
/// many items a tray of its room holds by more than one, or makes groups less even.
struct Table<'a> {
    items: &'a Items,
    /// Trays of equal room must hold equally many items, to within one.
    rooms: &'a [usize],
    hands: Vec<Vec<usize>>,
    /// For each item, group and batch a place for notes, which is left empty.
    is_marked: Vec<bool>,
    waiting: [Vec<Option<usize>>; 2],
    tally: [[Vec<usize>; 2]; 2],
}

impl<'a> Table<'a> {
    fn new(items: &'a Items, rooms: &'a [usize], hands: Vec<Vec<usize>>) -> Self {
        let kinds = items.kinds();
        Self {
            items,
            rooms,
            hands,
            is_marked: vec![false; items.order.len()],
            waiting: kinds.map(|kinds| vec![None; kinds.count()]),
            tally: kinds.map(|kinds| [vec![0; kinds.count()], vec![0; kinds.count()]]),
        }
    }

    /// Lets trays meet in random pairs, often enough that any two items may end up in any two trays.
    fn mix(&mut self, draw: &mut Draw) {
        let mut trays: Vec<usize> = (0..self.hands.len()).collect();
        // Each round halves how far two trays are apart; few trays need more rounds for their many items.
        let rounds = 4 + trays.len().ilog2() as usize + 100 / trays.len();
        for _ in 0..rounds {
            draw.shuffle(&mut trays);
            for pair in trays.chunks_exact(2) {
                if self.rooms[pair[0]] == self.rooms[pair[1]] {
                    self.deal_again(pair[0], pair[1], draw);
                } else {
                    self.trade(pair[0], pair[1], draw);
                }
            }
        }
    }

    /// Evens out what is left to be, and puts each hand into random order.
    fn finish(mut self, draw: &mut Draw) -> Vec<Vec<usize>> {
        let mut by_room: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (tray, &room) in self.rooms.iter().enumerate() {
            by_room.entry(room).or_default().push(tray);
        }
        for trays in by_room.into_values() {
            self.even_out(&self.items.groups, &trays, draw);
            self.even_out(&self.items.batches, &trays, draw);
        }
        for hand in &mut self.hands {
            draw.shuffle(hand);
        }
        self.hands
    }

    /// Makes trays of equal room hold equally many of each kind, to within one.
    ///
    /// Dealing two hands again never makes any kind less even, and makes the one that it is done for more even, so this
    /// comes to an end with all kinds even.
    fn even_out(&mut self, kinds: &Kinds, trays: &[usize], draw: &mut Draw) {
        for kind in self.uneven(kinds, trays) {
            let hold = |hand: &[usize]| hand.iter().filter(|&&item| kinds.of[item] == kind).count();
            let mut counts: Vec<usize> = trays.iter().map(|&tray| hold(&self.hands[tray])).collect();
            loop {
                let places = 0..counts.len();
                let most = places.clone().max_by_key(|&place| counts[place]);
                let least = places.min_by_key(|&place| counts[place]);
                let (Some(most), Some(least)) = (most, least) else {
                    break;
                };
                if counts[most] < counts[least] + 2 {
                    break;
                }
                self.deal_again(trays[most], trays[least], draw);
                for place in [most, least] {
                    counts[place] = hold(&self.hands[trays[place]]);
                }
            }
        }
    }

    /// Kinds of which one tray holds at least two more than another.
    fn uneven(&self, kinds: &Kinds, trays: &[usize]) -> Vec<usize> {
        // For each kind the least and the most in one tray, and how many trays hold any.
        let mut seen = vec![(usize::MAX, 0, 0); kinds.count()];
        let mut here = vec![0; kinds.count()];
        for &tray in trays {
            for &item in &self.hands[tray] {
                here[kinds.of[item]] += 1;
            }
            for &item in &self.hands[tray] {
                let count = std::mem::take(&mut here[kinds.of[item]]);
                if count > 0 {
                    let (least, most, any) = &mut seen[kinds.of[item]];
                    (*least, *most, *any) = ((*least).min(count), (*most).max(count), *any + 1);
                }
            }
        }
        let is_uneven = |&(least, most, any): &(usize, usize, usize)| {
            let least = if any < trays.len() { 0 } else { least };
            most > least + 1
        };
        (0..seen.len()).filter(|&kind| is_uneven(&seen[kind])).collect()
    }

    /// Takes out of two trays the items that only one of them holds.
    fn take_apart(&mut self, trays: [usize; 2]) -> [Vec<usize>; 2] {
        let [hand, other_hand] = trays.map(|tray| std::mem::take(&mut self.hands[tray]));
        for &item in &other_hand {
            self.is_marked[item] = true;
        }
        let (both, only): (Vec<usize>, Vec<usize>) = hand.into_iter().partition(|&item| self.is_marked[item]);
        for &item in &both {
            self.is_marked[item] = false;
        }
        let is_other = |item: &usize| std::mem::take(&mut self.is_marked[*item]);
        let (only_other, _): (Vec<usize>, Vec<usize>) = other_hand.into_iter().partition(is_other);
        for tray in trays {
            self.hands[tray].clone_from(&both);
        }
        [only, only_other]
    }

    /// Deals what two trays of equal room hold again between them, so that they are even in number, in groups and in
    /// batches, each to within one, and random otherwise.
    ///
    /// The items of a group are put into pairs, and so are those of a batch; of each pair one item comes to each tray.
    /// The pairs make chains and rings of items, and a ring has an even number of items since its pairs are of a group
    /// and of a batch by turns: so this can always be done, and an item without a partner in its group makes that group
    /// uneven by one.
    fn deal_again(&mut self, one: usize, other: usize, draw: &mut Draw) {
        let mut only = self.take_apart([one, other]);
        let mut items = std::mem::take(&mut only[0]);
        items.append(&mut only[1]);
        draw.shuffle(&mut items);
        let [of_group, of_batch] = self.items.kinds();
        let [group_waits, batch_waits] = &mut self.waiting;
        let partners = [
            partners(&items, of_group, group_waits),
            partners(&items, of_batch, batch_waits),
        ];
        let mut is_dealt = vec![false; items.len()];
        let is_end = |place: usize| partners.iter().any(|partner| partner[place].is_none());
        let ends = (0..items.len()).filter(|&place| is_end(place));
        // The tray that got one more from a chain of an odd number; it gets one less from the next such chain.
        let mut is_ahead: Option<usize> = None;
        for start in ends.chain(0..items.len()) {
            let chain = chain_from(start, &partners, &mut is_dealt);
            if chain.is_empty() {
                continue;
            }
            let mut order = [one, other];
            match is_ahead.take() {
                Some(ahead) if chain.len() % 2 == 1 => {
                    if ahead == one {
                        order.swap(0, 1);
                    }
                }
                ahead => {
                    draw.shuffle(&mut order);
                    is_ahead = if chain.len() % 2 == 1 {
                        Some(order[0])
                    } else {
                        ahead
                    };
                }
            }
            for (place, tray) in chain.into_iter().zip(order.into_iter().cycle()) {
                self.hands[tray].push(items[place]);
            }
        }
    }

    /// Exchanges items of two trays of different room where that makes batches more even, or nothing less even. Groups
    /// stay at their share, rounded up or down, or as they are.
    fn trade(&mut self, one: usize, other: usize, draw: &mut Draw) {
        let trays = [one, other];
        let kinds = self.items.kinds();
        for (tally, kinds) in self.tally.iter_mut().zip(kinds) {
            for (counts, tray) in tally.iter_mut().zip(trays) {
                for &item in &self.hands[tray] {
                    counts[kinds.of[item]] += 1;
                }
            }
        }
        let sizes = trays.map(|tray| self.hands[tray].len());
        let mut only = self.take_apart(trays);
        for hand in &mut only {
            draw.shuffle(hand);
        }
        let [hand, other_hand] = &mut only;
        for (item, other_item) in hand.iter_mut().zip(other_hand) {
            if self.is_fair([*item, *other_item], sizes, draw) {
                std::mem::swap(item, other_item);
                for (tally, kinds) in self.tally.iter_mut().zip(kinds) {
                    let [got, given] = [*item, *other_item].map(|item| kinds.of[item]);
                    for (counts, [got, given]) in tally.iter_mut().zip([[got, given], [given, got]]) {
                        counts[given] -= 1;
                        counts[got] += 1;
                    }
                }
            }
        }
        for (tray, hand) in trays.into_iter().zip(&mut only) {
            self.hands[tray].append(hand);
            for (tally, kinds) in self.tally.iter_mut().zip(kinds) {
                for &item in &self.hands[tray] {
                    for counts in &mut *tally {
                        counts[kinds.of[item]] = 0;
                    }
                }
            }
        }
    }

    /// Says whether two trays of these sizes, whose groups and batches are tallied, may exchange an item of the first
    /// for one of the second. An exchange that changes nothing for better or worse is made by chance.
    fn is_fair(&self, given: [usize; 2], sizes: [usize; 2], draw: &mut Draw) -> bool {
        let number = self.items.order.len();
        let [groups, batches] = self.items.kinds();
        let [of_group, of_batch] = &self.tally;
        let group = given.map(|item| groups.of[item]);
        let allows = |tray: usize| {
            let (gives, gets) = (group[tray], group[1 - tray]);
            let share = |group: usize| groups.sizes[group] * sizes[tray];
            of_group[tray][gives] > share(gives) / number
                && of_group[tray][gets] < share(gets).div_ceil(number)
        };
        if group[0] != group[1] && !(allows(0) && allows(1)) {
            return false;
        }
        let batch = given.map(|item| batches.of[item]);
        // How much further beyond their shares, rounded up or down, the batches would be.
        let further = |tray: usize| {
            let beyond = |batch: usize, more: i64| {
                let count = of_batch[tray][batch] as i64 + more;
                let share = (batches.sizes[batch] * sizes[tray]) as i64;
                ((count * number as i64 - share).abs() - number as i64).max(0)
            };
            let (gives, gets) = (batch[tray], batch[1 - tray]);
            beyond(gives, -1) - beyond(gives, 0) + beyond(gets, 1) - beyond(gets, 0)
        };
        let further = if batch[0] == batch[1] {
            0
        } else {
            further(0) + further(1)
        };
        further < 0 || (further == 0 && draw.below(2) == 0)
    }
}

/// For each item the next or the last one of its kind, in pairs; none for an odd one. `waits` is empty before and after.
fn partners(items: &[usize], kinds: &Kinds, waits: &mut [Option<usize>]) -> Vec<Option<usize>> {
    let mut partners = vec![None; items.len()];
    for (place, &item) in items.iter().enumerate() {
        match waits[kinds.of[item]].take() {
            Some(partner) => {
                partners[place] = Some(partner);
                partners[partner] = Some(place);
            }
            None => waits[kinds.of[item]] = Some(place),
        }
    }
    for &item in items {
        waits[kinds.of[item]] = None;
    }
    partners
}

/// Follows partners by turns from an end of a chain, or round a ring, past all that is not dealt yet.
fn chain_from(start: usize, partners: &[Vec<Option<usize>>; 2], is_dealt: &mut [bool]) -> Vec<usize> {
    let mut chain = Vec::new();
    let mut next = Some(start).filter(|&place| !is_dealt[place]);
    // From an end the only way is along the partner that it has.
    let mut way = usize::from(partners[0][start].is_none());
    while let Some(place) = next {
        is_dealt[place] = true;
        chain.push(place);
        next = partners[way][place].filter(|&place| !is_dealt[place]);
        way = 1 - way;
    }
    chain
}

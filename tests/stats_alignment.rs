//! How often sound trays are called misread, and how often a fault is found: simulated with a fixed seed.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod dice;

use dice::Dice;
use rand_pcg::Pcg64;
use wintercrib::stats::alignment::{
    ALARM, Habit, How, Misread, SwappedTrays, Twice, across, belonging, misreads, swapped_trays,
};

const ROWS: u32 = 4;
const COLUMNS: u32 = 8;
const KERNELS: u32 = 10;
/// Places that are left empty, so that a tray has 30 places.
const LANDMARKS: [(u32, u32); 2] = [(1, 3), (4, 7)];
const TRAYS: usize = 9;

/// How ears germinate: how much they differ in how early they are, how far the early ones are those that germinate,
/// the share of emerged seedlings that are gone in the end, and that of final counts that are typed wrong.
#[derive(Debug, Clone, Copy)]
struct World {
    early_spread: f64,
    likeness: f64,
    lost: f64,
    typed_wrong: f64,
}

/// Every ear is as early as any other, and nothing is lost: what the criterion assumes.
const PLAIN: World = World {
    early_spread: 0.0,
    likeness: 0.0,
    lost: 0.0,
    typed_wrong: 0.0,
};
const USUAL: World = World {
    early_spread: 0.6,
    likeness: 0.5,
    lost: 0.01,
    typed_wrong: 0.0,
};
const HARD: World = World {
    early_spread: 1.2,
    likeness: 0.7,
    lost: 0.02,
    typed_wrong: 0.0,
};
const CARELESS: World = World {
    typed_wrong: 0.005,
    ..HARD
};

fn logistic(logit: f64) -> f64 {
    1.0 / (1.0 + (-logit).exp())
}

fn tray(world: World, dice: &mut Dice) -> Vec<Twice> {
    let places = (1..=ROWS).flat_map(|row| (1..=COLUMNS).map(move |column| (row, column)));
    places
        .filter(|place| !LANDMARKS.contains(place))
        .map(|(row, column)| {
            let (ear, other) = (dice.normal(), dice.normal());
            let last = dice.of(KERNELS, logistic(0.9 + ear));
            let earliness = world.likeness * ear + (1.0 - world.likeness.powi(2)).sqrt() * other;
            let early = dice.of(last, logistic(0.5 + world.early_spread * earliness));
            let lost = dice.of(early, world.lost);
            let last = if dice.uniform() < world.typed_wrong {
                lost + dice.of(KERNELS - lost, 0.5)
            } else {
                last
            };
            Twice {
                row,
                column,
                sown: KERNELS,
                early,
                last: Some(last - lost),
            }
        })
        .collect()
}

fn test_of(trays: usize, world: World, dice: &mut Dice) -> Vec<Vec<Twice>> {
    (0..trays).map(|_| tray(world, dice)).collect()
}

fn judge(test: &[Vec<Twice>], tray: usize) -> Vec<Misread> {
    let habit = Habit::of(test.iter().flatten().copied()).unwrap();
    misreads(&habit, &test[tray], [ROWS, COLUMNS])
}

/// The share of sound trays that are called misread.
fn false_alarms(trays: usize, tests: usize, world: World) -> f64 {
    let mut dice = Dice(Pcg64::new(20, 7));
    let mut alarms = 0;
    for _ in 0..tests {
        let test = test_of(trays, world, &mut dice);
        alarms += (0..trays).filter(|tray| !judge(&test, *tray).is_empty()).count();
    }
    alarms as f64 / (trays * tests) as f64
}

/// The share of first trays in which a fault is found, and in which it is named rightly. The fault is made by what
/// would mend it, the other way.
fn found(trays: usize, tests: usize, fault: How, is_right: impl Fn(How) -> bool) -> [f64; 2] {
    let mut dice = Dice(Pcg64::new(21, 7));
    let mut told = [0; 2];
    for _ in 0..tests {
        let mut test = test_of(trays, USUAL, &mut dice);
        let sound = test[0].clone();
        for (place, source) in fault.moves(&sound, [ROWS, COLUMNS]) {
            // What comes from outside is some count.
            test[0][place].last =
                source.map_or_else(|| Some(dice.of(KERNELS, 0.7)), |source| sound[source].last);
        }
        let judged = judge(&test, 0);
        told[0] += usize::from(!judged.is_empty());
        told[1] += usize::from(judged.first().is_some_and(|one| is_right(one.how)));
    }
    told.map(|told| told as f64 / tests as f64)
}

#[test]
fn at_most_one_sound_tray_in_twenty_is_called_misread() {
    // The limit is 5 %. Found here: 0 to 0.7 %, the most where one count of 200 is typed wrong.
    for (trays, tests, world) in [
        (TRAYS, 120, PLAIN),
        (TRAYS, 120, USUAL),
        (TRAYS, 120, HARD),
        (TRAYS, 120, CARELESS),
        (1, 300, USUAL),
    ] {
        let share = false_alarms(trays, tests, world);
        println!("{trays} trays of {world:?}: {:.2} % false alarms", 100.0 * share);
        assert!(share <= 0.02, "{share}");
    }
}

#[test]
fn most_rows_that_are_shifted_and_all_trays_that_are_turned_are_found() {
    // The second row begins with place 7.
    let row = |to_next, round| How::Shift {
        first: 7,
        to_next,
        to_end_of_tray: false,
        round,
    };
    let back = |how: How| {
        matches!(
            how,
            How::Shift {
                first: 7 | 8,
                to_next: false,
                to_end_of_tray: false,
                ..
            }
        )
    };
    let on = |how: How| {
        matches!(
            how,
            How::Shift {
                first: 7 | 8,
                to_next: true,
                to_end_of_tray: false,
                ..
            }
        )
    };
    let from_there = |to_next| How::Shift {
        first: 10,
        to_next,
        to_end_of_tray: true,
        round: false,
    };
    let tray_back = |how: How| {
        matches!(
            how,
            How::Shift {
                first: 6..=14,
                to_next: false,
                to_end_of_tray: true,
                ..
            }
        )
    };
    let tests = 100;
    for (what, fault, is_right, least) in [
        (
            "row, one on",
            row(true, true),
            &back as &dyn Fn(How) -> bool,
            [0.72, 0.7],
        ),
        ("row, one on, one lost", row(true, false), &back, [0.72, 0.7]),
        ("row, one back", row(false, false), &on, [0.72, 0.7]),
        (
            "from a place to the end",
            from_there(true),
            &tray_back,
            [0.95, 0.75],
        ),
        ("half a turn", How::Turn, &|how| how == How::Turn, [0.99, 0.99]),
        (
            "mirrored",
            How::MirrorColumns,
            &|how| how == How::MirrorColumns,
            [0.99, 0.99],
        ),
    ] {
        let shares = found(TRAYS, tests, fault, is_right);
        println!(
            "{what}: found in {:.0} %, rightly named in {:.0} %",
            100.0 * shares[0],
            100.0 * shares[1]
        );
        assert!(
            shares[0] >= least[0] && shares[1] >= least[1],
            "{what}: {shares:?}"
        );
    }
}

#[test]
fn two_places_changed_for_each_other_are_found_where_their_counts_differ_much() {
    let mut dice = Dice(Pcg64::new(22, 7));
    let mut test = test_of(TRAYS, USUAL, &mut dice);
    for (place, early, last) in [(4, 0, 1), (20, 8, 10)] {
        test[3][place] = Twice {
            early,
            last: Some(last),
            ..test[3][place]
        };
    }
    assert_eq!(judge(&test, 3), []);
    let (one, two) = (test[3][4].last, test[3][20].last);
    (test[3][4].last, test[3][20].last) = (two, one);
    let found = judge(&test, 3);
    assert_eq!(found.len(), 1, "{found:?}");
    assert_eq!(found[0].how, How::Swap(4, 20));
}

#[test]
fn two_faults_of_one_tray_are_both_found() {
    let mut dice = Dice(Pcg64::new(23, 7));
    let mut test = test_of(TRAYS, USUAL, &mut dice);
    // Counts that leave no doubt.
    for (place, early, last) in (0..)
        .zip([0, 7, 8, 1, 6, 0, 0, 8, 1, 1, 7, 5, 0, 8, 9].map(|k| (k, k + 1)))
        .map(|(at, (early, last))| (at, early, last))
    {
        test[0][place].early = early;
        test[0][place].last = Some(last);
    }
    let sound = test[0].clone();
    for (first, to_next) in [(0, true), (7, false)] {
        let how = How::Shift {
            first,
            to_next,
            to_end_of_tray: false,
            round: true,
        };
        for (place, source) in how.moves(&sound, [ROWS, COLUMNS]) {
            test[0][place].last = source.and_then(|source| sound[source].last);
        }
    }
    let found: Vec<How> = judge(&test, 0).iter().map(|one| one.how).collect();
    assert_eq!(found.len(), 2, "{found:?}");
    for (first, to_next) in [(0, false), (7, true)] {
        let mended = How::Shift {
            first,
            to_next,
            to_end_of_tray: false,
            round: true,
        };
        assert!(found.contains(&mended), "{found:?}");
    }
}

#[test]
fn what_cannot_be_judged_is_not_called_misread() {
    let mut dice = Dice(Pcg64::new(24, 7));
    let few: Vec<Twice> = tray(USUAL, &mut dice).into_iter().take(7).collect();
    assert_eq!(Habit::of(few.iter().copied()), None);
    assert_eq!(Habit::of(std::iter::empty()), None);
    let nothing_early = tray(USUAL, &mut dice)
        .into_iter()
        .map(|place| Twice { early: 0, ..place });
    assert_eq!(Habit::of(nothing_early), None);
    // No final count yet, no place, and counts beyond what was sown.
    let whole = tray(USUAL, &mut dice);
    let habit = Habit::of(whole.iter().copied()).unwrap();
    let open: Vec<Twice> = whole.iter().map(|place| Twice { last: None, ..*place }).collect();
    assert_eq!(misreads(&habit, &open, [ROWS, COLUMNS]), []);
    assert_eq!(misreads(&habit, &[], [ROWS, COLUMNS]), []);
    let odd: Vec<Twice> = whole
        .iter()
        .map(|place| Twice {
            early: 500,
            last: Some(0),
            row: 9,
            ..*place
        })
        .collect();
    assert!(
        misreads(&habit, &odd, [ROWS, COLUMNS])
            .iter()
            .all(|one| one.ln_likelier.is_finite())
    );
}

/// As the program does: the trays to which their own counts do not belong, tried in pairs.
fn swapped(test: &[Vec<Twice>]) -> Vec<SwappedTrays> {
    let habit = Habit::of(test.iter().flatten().copied()).unwrap();
    let strangers: Vec<usize> = (0..test.len())
        .filter(|tray| belonging(&habit, &test[*tray]) < 0.0)
        .collect();
    let counts: Vec<(&[Twice], [u32; 2])> = strangers
        .iter()
        .map(|tray| (test[*tray].as_slice(), [ROWS, COLUMNS]))
        .collect();
    let mut found = swapped_trays(&habit, &counts, test.len());
    for pair in &mut found {
        (pair.first, pair.second) = (strangers[pair.first], strangers[pair.second]);
    }
    found
}

fn swap(test: &mut [Vec<Twice>], a: usize, b: usize) {
    let both = [&test[a][..], &test[b][..]].concat();
    for (place, source) in across(&test[a], &test[b]) {
        let last = source.and_then(|source| both[source].last);
        let tray = if place < test[a].len() { a } else { b };
        let at = if tray == a { place } else { place - test[a].len() };
        test[tray][at].last = last;
    }
}

#[test]
fn sound_trays_are_not_called_swapped() {
    // The limit is one test of five; found here: none. Where a few counts only were made finally, none either.
    for (trays, tests, world) in [
        (TRAYS, 150, PLAIN),
        (TRAYS, 150, HARD),
        (TRAYS, 150, CARELESS),
        (2, 500, CARELESS),
    ] {
        let mut dice = Dice(Pcg64::new(40, 7));
        let mut alarms = [0; 2];
        for _ in 0..tests {
            let mut test = test_of(trays, world, &mut dice);
            alarms[0] += usize::from(!swapped(&test).is_empty());
            for place in test.iter_mut().flat_map(|tray| tray.iter_mut().skip(8)) {
                place.last = None;
            }
            alarms[1] += usize::from(!swapped(&test).is_empty());
        }
        let shares = alarms.map(|alarms| alarms as f64 / tests as f64);
        println!("{trays} trays: {shares:?} of sound tests, all counted and begun, {world:?}");
        assert!(shares[0] <= 0.01 && shares[1] <= 0.01, "{shares:?}");
    }
}

#[test]
fn trays_changed_for_each_other_are_found() {
    const TESTS: usize = 100;
    for (trays, world) in [(2, USUAL), (TRAYS, USUAL), (TRAYS, CARELESS)] {
        let mut dice = Dice(Pcg64::new(41, 7));
        let mut told = 0;
        for _ in 0..TESTS {
            let mut test = test_of(trays, world, &mut dice);
            swap(&mut test, 0, 1);
            let found = swapped(&test);
            told += usize::from(found.len() == 1 && (found[0].first, found[0].second) == (0, 1));
            if let Some(found) = found.first() {
                assert!(found.evidence >= ALARM && found.ln_likelier > 0.0);
            }
            // Swapped back nothing is left to find.
            swap(&mut test, 0, 1);
            assert_eq!(swapped(&test), []);
        }
        println!("{told} of {TESTS} swapped pairs are found among {trays} trays, {world:?}");
        assert!(told >= 95, "{told}");
    }
}

#[test]
fn two_pairs_of_trays_are_both_found_and_other_sizes_are_not_tried() {
    let mut dice = Dice(Pcg64::new(42, 7));
    let mut test = test_of(TRAYS, USUAL, &mut dice);
    swap(&mut test, 0, 5);
    swap(&mut test, 2, 3);
    let mut pairs: Vec<(usize, usize)> = swapped(&test).iter().map(|one| (one.first, one.second)).collect();
    pairs.sort_unstable();
    assert_eq!(pairs, [(0, 5), (2, 3)]);
    let habit = Habit::of(test.iter().flatten().copied()).unwrap();
    let sizes = [[ROWS, COLUMNS], [COLUMNS, ROWS]];
    let odd: Vec<(&[Twice], [u32; 2])> = [0, 5]
        .iter()
        .zip(sizes)
        .map(|(tray, size)| (&test[*tray][..], size))
        .collect();
    assert_eq!(swapped_trays(&habit, &odd, TRAYS), []);
    assert_eq!(swapped_trays(&habit, &[], 0), []);
    assert_eq!(swapped_trays(&habit, &odd[..1], 1), []);
}

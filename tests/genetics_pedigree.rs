//! Coancestry by pedigree: a worked example, the closed forms of one season, a gene drop, and bad input.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use serde_json::Value;
use wintercrib::genetics::inbreeding::pool_coancestry;
use wintercrib::genetics::kinship;
use wintercrib::genetics::pedigree::{Family, relations};

/// The example of the reference: each plant is a family of its own that sheds as much pollen as any other of its season.
/// Founders come as plants of unknown ears.
fn example() -> (Vec<Family>, Vec<Vec<(usize, f64)>>) {
    let of = |mother, season| Family::Of { mother, season };
    let families = vec![
        Family::UNKNOWN,
        Family::UNKNOWN,
        Family::UNKNOWN,
        Family::UNKNOWN,
        of(0, 0),
        of(1, 0),
        of(2, 0),
    ];
    let pools = vec![(0..4).map(|family| (family, 1.0)).collect()];
    (families, pools)
}

fn reference() -> Value {
    serde_json::from_str(include_str!("reference/pedigree.json")).unwrap()
}

/// Source of the expected values: named in the file. The families of ears A, B and C stand for their plants: a1 and a2 are
/// two plants of the ear of A.
#[test]
fn the_first_two_generations_of_the_worked_example_agree() {
    let file = reference();
    let (families, pools) = example();
    let ids: Vec<&str> = file["ids"]
        .as_array()
        .unwrap()
        .iter()
        .map(|id| id.as_str().unwrap())
        .collect();
    let at = |id: &str| ids.iter().position(|known| *known == id).unwrap();
    for (scenario, own) in [("U", 0.0), ("F", 1.0), ("M", 0.5)] {
        let mut pools = pools.clone();
        if scenario == "M" {
            // There the founders' pollen is unrelated, and only that of the later season is half of the field.
            pools[0].clear();
        }
        let found = relations(&families, &pools, own).unwrap();
        let theta = |a: &str, b: &str| {
            file["scenarios"][scenario]["theta"][at(a)][at(b)]
                .as_f64()
                .unwrap()
        };
        let family = |id: &str| match id {
            "a1" | "a2" => 4,
            "b1" => 5,
            _ => 6,
        };
        for (a, b) in [("a1", "a2"), ("a1", "b1"), ("a2", "c1"), ("b1", "c1")] {
            let value = found.of(family(a), family(b));
            assert!((value - theta(a, b)).abs() < 1e-12, "{scenario} {a} {b}: {value}");
        }
        let inbreeding = file["scenarios"][scenario]["F"]["a1"].as_f64().unwrap();
        assert!((found.inbreeding(4) - inbreeding).abs() < 1e-12, "{scenario}");
    }
}

/// The third generation: a1x is a kernel of the ear of plant a1, a2x of that of a2, b1x and b1y of that of b1. With the
/// pool of a1, a2, b1 and c1, two plants of the family of A and one each of those of B and C.
#[test]
fn the_third_generation_of_the_worked_example_agrees() {
    let file = reference();
    let ids: Vec<&str> = file["ids"]
        .as_array()
        .unwrap()
        .iter()
        .map(|id| id.as_str().unwrap())
        .collect();
    let at = |id: &str| ids.iter().position(|known| *known == id).unwrap();
    let (mut families, mut pools) = example();
    pools.push(vec![(4, 2.0), (5, 1.0), (6, 1.0)]);
    let of = |mother| Family::Of { mother, season: 1 };
    families.extend([of(4), of(4), of(5)]);
    for (scenario, own) in [("U", 0.0), ("F", 1.0), ("M", 0.5)] {
        let mut pools = pools.clone();
        if scenario == "M" {
            // There the founders' pollen is unrelated, and only that of the later season is half of the field.
            pools[0].clear();
        }
        let found = relations(&families, &pools, own).unwrap();
        let theta = |a: &str, b: &str| {
            file["scenarios"][scenario]["theta"][at(a)][at(b)]
                .as_f64()
                .unwrap()
        };
        for (a, b, of) in [
            (7, 8, ("a1x", "a2x")),
            (9, 9, ("b1x", "b1y")),
            (7, 9, ("a1x", "b1x")),
        ] {
            let value = found.of(a, b);
            assert!(
                (value - theta(of.0, of.1)).abs() < 1e-12,
                "{scenario} {of:?}: {value}"
            );
        }
        for (family, id) in [(7, "a1x"), (9, "b1x")] {
            let inbreeding = file["scenarios"][scenario]["F"][id].as_f64().unwrap();
            assert!(
                (found.inbreeding(family) - inbreeding).abs() < 1e-12,
                "{scenario} {id}"
            );
        }
        // The kernels of the ears of that season are what the next families come from.
        assert!((found.of_kernels(4, 4, 1, false) - theta("a1x", "a2x")).abs() < 1e-12);
        assert!((found.of_kernels(5, 5, 1, true) - theta("b1x", "b1y")).abs() < 1e-12);
    }
}

/// Without a season before, it is what the closed forms of one season give: 1/8 within an ear, 1/32 of ears of one row.
#[test]
fn without_history_it_is_the_closed_form() {
    let rows = [3_usize, 1, 4, 2];
    let families = vec![Family::UNKNOWN; rows.len()];
    let pool: Vec<(usize, f64)> = (0..rows.len()).map(|row| (row, 25.0)).collect();
    let ears: Vec<(usize, f64)> = rows
        .iter()
        .enumerate()
        .flat_map(|(row, ears)| std::iter::repeat_n((row, 1.0), *ears))
        .collect();
    let open = relations(&families, std::slice::from_ref(&pool), 0.0).unwrap();
    let shares = vec![1.0; ears.len()];
    let of_rows: Vec<f64> = rows.iter().map(|ears| *ears as f64).collect();
    let expected = kinship(&shares, &of_rows).unwrap();
    assert!((open.mean_of_kernels(&ears, 0).unwrap() - expected.coancestry).abs() < 1e-14);
    // In the closed plot the pollen comes from equal rows, and each plant is as related to it as any other.
    let closed = relations(&families, &[pool], 1.0).unwrap();
    let pool = pool_coancestry(100.0, 4.0).unwrap();
    assert!((closed.of_pools(0, 0) - pool).abs() < 1e-14);
    let expected = kinship(&shares, &of_rows).unwrap().in_closed_plot(pool).unwrap();
    assert!((closed.mean_of_kernels(&ears, 0).unwrap() - expected.coancestry).abs() < 1e-14);
}

/// Numbers that are the same in every run: SplitMix64 (constants from memory).
struct Dice(u64);

impl Dice {
    fn below(&mut self, count: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let z = (self.0 ^ (self.0 >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        let z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % count as u64) as usize
    }
}

/// Genes dropped through three seasons of a closed plot with few plants: rows of ears, an ear of a remnant beside newer
/// ones. Two genes drawn from two plants are alike as often as the coancestry says.
#[test]
fn genes_dropped_through_the_pedigree_are_alike_as_often() {
    const RUNS: u32 = 60_000;
    let of = |mother, season| Family::Of { mother, season };
    // Season 0: rows 0 to 2 of unknown ears, 3 plants each. Ears: two of row 0, one of row 1, one of row 2.
    // Season 1: families 3 to 6 from these, of the last only a remnant. Ears: of 3, of 4, of 5. Season 2: 7 to 9 and 6.
    let families = [
        Family::UNKNOWN,
        Family::UNKNOWN,
        Family::UNKNOWN,
        of(0, 0),
        of(0, 0),
        of(1, 0),
        of(2, 0),
        of(3, 1),
        of(4, 1),
        of(5, 1),
    ];
    let pools = vec![
        vec![(0, 3.0), (1, 3.0), (2, 3.0)],
        vec![(3, 3.0), (4, 3.0), (5, 3.0)],
    ];
    let found = relations(&families, &pools, 1.0).unwrap();
    let mut dice = Dice(11);
    let mut alike = vec![[0_u32; 2]; families.len() * families.len()];
    let mut gene = 0_u32;
    let mut fresh = move || {
        gene += 1;
        gene
    };
    for _ in 0..RUNS {
        let child = |dice: &mut Dice, mother: [u32; 2], pool: &[[u32; 2]]| {
            let father = pool[dice.below(pool.len())];
            [mother[dice.below(2)], father[dice.below(2)]]
        };
        let mut plants: Vec<Vec<[u32; 2]>> = Vec::new();
        for _ in 0..3 {
            // The unknown ear has one mother plant and pollen of unrelated ones.
            let mother = [fresh(), fresh()];
            plants.push((0..3).map(|_| [mother[dice.below(2)], fresh()]).collect());
        }
        let first: Vec<[u32; 2]> = plants.iter().flatten().copied().collect();
        for mother in [plants[0][0], plants[0][1], plants[1][0], plants[2][0]] {
            plants.push((0..3).map(|_| child(&mut dice, mother, &first)).collect());
        }
        let second: Vec<[u32; 2]> = plants[3..6].iter().flatten().copied().collect();
        for mother in [plants[3][0], plants[4][0], plants[5][0]] {
            plants.push((0..2).map(|_| child(&mut dice, mother, &second)).collect());
        }
        for a in 3..families.len() {
            for b in 3..=a {
                // The last plant, so that it is no plant an ear grew on.
                let (one, other) = (plants[a][1], plants[b][usize::from(a != b)]);
                let count = &mut alike[a * families.len() + b];
                count[0] += u32::from(one[dice.below(2)] == other[dice.below(2)]);
                count[1] += 1;
            }
        }
    }
    for a in 3..families.len() {
        for b in 3..=a {
            let [hits, of] = alike[a * families.len() + b];
            let (share, expected) = (f64::from(hits) / f64::from(of), found.of(a, b));
            let error = (expected * (1.0 - expected) / f64::from(of)).sqrt();
            assert!(
                (share - expected).abs() < 4.0 * error + 1e-9,
                "{a} {b}: {share} is not {expected}"
            );
        }
    }
}

#[test]
fn what_cannot_be_is_refused() {
    let of = |mother, season| Family::Of { mother, season };
    let pool = vec![vec![(0, 3.0)]];
    assert!(relations(&[Family::UNKNOWN, of(0, 0)], &pool, 0.5).is_some());
    assert!(
        relations(&[Family::UNKNOWN, of(1, 0)], &pool, 0.5).is_none(),
        "its own mother"
    );
    assert!(
        relations(&[Family::UNKNOWN, of(0, 1)], &pool, 0.5).is_none(),
        "no such season"
    );
    assert!(
        relations(&[Family::UNKNOWN, of(0, 0)], &[vec![(1, 3.0)]], 0.5).is_none(),
        "pollinated by itself"
    );
    for own in [-0.1, 1.1, f64::NAN] {
        assert!(relations(&[Family::UNKNOWN], &pool, own).is_none());
    }
    assert!(relations(&[Family::Founder(0.7)], &[], 0.0).is_none());
    assert!(relations(&[Family::UNKNOWN], &[vec![(0, -1.0)]], 0.0).is_none());
    let one = relations(&[Family::UNKNOWN], &[vec![]], 1.0).unwrap();
    assert_eq!(one.mean_of_kernels(&[], 0), None);
    assert_eq!(one.mean_of_kernels(&[(0, 0.0)], 0), None);
}

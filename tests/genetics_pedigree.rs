//! Coancestry by pedigree: a worked example, the closed forms of one season, a gene drop, and bad input.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use proptest::prelude::*;
use serde_json::Value;
use wintercrib::genetics::inbreeding::pool_coancestry;
use wintercrib::genetics::kinship;
use wintercrib::genetics::pedigree::{Family, Pool, origins, relations};

/// The families that shed pollen, and how many plants of each.
type Pollen = Vec<(usize, f64)>;

/// The same share of own pollen in every season.
fn pools(seasons: &[Pollen], own: f64) -> Vec<Pool> {
    let pool = |plants: &Pollen| Pool {
        plants: plants.clone(),
        own,
    };
    seasons.iter().map(pool).collect()
}

/// The example of the reference: each plant is a family of its own that sheds as much pollen as any other of its season.
/// Founders come as plants of unknown ears.
fn example() -> (Vec<Family>, Vec<Pollen>) {
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
        let found = relations(&families, &self::pools(&pools, own)).unwrap();
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

/// The third and the fourth generation: a1x is a kernel of the ear of plant a1, a2x of that of a2, b1x and b1y of that of b1. With the
/// pool of a1, a2, b1 and c1, two plants of the family of A and one each of those of B and C.
#[test]
fn the_later_generations_of_the_worked_example_agree() {
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
    let of = |mother, season| Family::Of { mother, season };
    families.extend([of(4, 1), of(4, 1), of(5, 1)]);
    // The pool of a1x, a2x, b1x and b1y; z1 is a kernel of the ear of a1x, z2 of that of b1x.
    pools.push(vec![(7, 1.0), (8, 1.0), (9, 2.0)]);
    families.extend([of(7, 2), of(9, 2)]);
    for (scenario, own) in [("U", 0.0), ("F", 1.0), ("M", 0.5)] {
        let mut pools = pools.clone();
        if scenario == "M" {
            // There the founders' pollen is unrelated, and only that of the later season is half of the field.
            pools[0].clear();
        }
        let found = relations(&families, &self::pools(&pools, own)).unwrap();
        let theta = |a: &str, b: &str| {
            file["scenarios"][scenario]["theta"][at(a)][at(b)]
                .as_f64()
                .unwrap()
        };
        for (a, b, of) in [
            (7, 8, ("a1x", "a2x")),
            (9, 9, ("b1x", "b1y")),
            (7, 9, ("a1x", "b1x")),
            (10, 11, ("z1", "z2")),
        ] {
            let value = found.of(a, b);
            assert!(
                (value - theta(of.0, of.1)).abs() < 1e-12,
                "{scenario} {of:?}: {value}"
            );
        }
        for (family, id) in [(7, "a1x"), (9, "b1x"), (10, "z1"), (11, "z2")] {
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
    let open = relations(&families, &pools(std::slice::from_ref(&pool), 0.0)).unwrap();
    let shares = vec![1.0; ears.len()];
    let of_rows: Vec<f64> = rows.iter().map(|ears| *ears as f64).collect();
    let expected = kinship(&shares, &of_rows).unwrap();
    assert!((open.mean_of_kernels(&ears, 0).unwrap() - expected.coancestry).abs() < 1e-14);
    // In the closed plot the pollen comes from equal rows, and each plant is as related to it as any other.
    let closed = relations(&families, &pools(&[pool], 1.0)).unwrap();
    let pool = pool_coancestry(100.0, 4.0).unwrap();
    assert!((closed.of_pools(0, 0) - pool).abs() < 1e-14);
    let expected = kinship(&shares, &of_rows).unwrap().in_closed_plot(pool).unwrap();
    assert!((closed.mean_of_kernels(&ears, 0).unwrap() - expected.coancestry).abs() < 1e-14);
}

/// Ears planted with unequal kernels, unrelated pollen: the mean coancestry of the plants is that of `1 / (2 Ne)` with
/// `Ne = 4 / sum c^2`. Source: the worked contributions .4, .3, .15, .1, .05 with 14.0350877 (a form of Vencovsky 1978, from
/// memory); equal shares of N ears give 4 N, Wright 1931 (from memory).
#[test]
fn plants_of_unequal_shares_add_one_over_twice_the_effective_size() {
    let families = vec![Family::UNKNOWN; 5];
    let found = relations(&families, &[]).unwrap();
    let shares = |of: [f64; 5]| of.into_iter().enumerate().collect::<Vec<_>>();
    let (coancestry, inbreeding) = found
        .mean_of_plants(&shares([0.4, 0.3, 0.15, 0.1, 0.05]))
        .unwrap();
    assert!((0.5 / coancestry - 14.035_087_7).abs() < 1e-7, "{coancestry}");
    assert!(inbreeding.abs() < 1e-15);
    let (equal, _) = found.mean_of_plants(&shares([7.0; 5])).unwrap();
    assert!((0.5 / equal - 20.0).abs() < 1e-12);
}

/// A daughter of founder 0 has half of it by its mother and half of the pool; by hand.
#[test]
fn founders_share_the_seed_by_mothers_and_pools() {
    let families = [
        Family::UNKNOWN,
        Family::UNKNOWN,
        Family::Of { mother: 0, season: 0 },
        Family::Of { mother: 2, season: 1 },
    ];
    let pools = [
        Pool {
            plants: vec![(0, 1.0), (1, 3.0)],
            own: 0.8,
        },
        Pool::default(),
    ];
    let found = origins(&families, &pools).unwrap();
    assert_eq!(found.founders(), [0, 1]);
    let of = |family| found.of_plants(&[(family, 2.0)]).unwrap();
    assert_eq!(of(0), [1.0, 0.0, 0.0]);
    let close = |a: &[f64], b: [f64; 3]| a.iter().zip(b).all(|(a, b)| (a - b).abs() < 1e-15);
    assert!(
        close(&of(2), [0.5 + 0.5 * 0.2, 0.5 * 0.6, 0.5 * 0.2]),
        "{:?}",
        of(2)
    );
    assert!(close(&of(3), [0.3, 0.15, 0.05 + 0.5]), "{:?}", of(3));
    let both = found.of_plants(&[(1, 1.0), (3, 3.0)]).unwrap();
    assert!(close(&both, [0.225, 0.25 + 0.1125, 0.4125]), "{both:?}");
}

/// Families of up to five seasons: each has a mother of the season before, or none; each season sheds its own pollen.
fn drawn(numbers: &[(u8, u8)], owns: &[f64]) -> (Vec<Family>, Vec<Pool>) {
    let seasons = owns.len();
    let (mut families, mut pools) = (Vec::new(), Vec::new());
    let mut before = 0..0;
    for (season, own) in owns.iter().enumerate() {
        let start = families.len();
        for (mother, _) in numbers.iter().skip(season).step_by(seasons) {
            let mother = usize::from(*mother);
            families.push(if before.is_empty() || mother % 7 == 0 {
                Family::UNKNOWN
            } else {
                Family::Of {
                    mother: before.start + mother % before.len(),
                    season: season - 1,
                }
            });
        }
        before = start..families.len();
        let plants = numbers
            .iter()
            .skip(season)
            .step_by(seasons)
            .map(|(_, plants)| *plants);
        pools.push(Pool {
            plants: before.clone().zip(plants.map(f64::from)).collect(),
            own: *own,
        });
    }
    (families, pools)
}

proptest! {
    /// The more pollen of one season comes from unrelated plants, the less any two plants have in common.
    #[test]
    fn unrelated_pollen_never_raises_a_coancestry_and_founders_share_everything(
        numbers in prop::collection::vec((any::<u8>(), 0_u8..20), 8..40),
        owns in prop::collection::vec(0.0_f64..=1.0, 2..6),
        season in any::<prop::sample::Index>(),
        less in 0.0_f64..1.0,
    ) {
        let (families, pools) = drawn(&numbers, &owns);
        let mut fewer = pools.clone();
        fewer[season.index(owns.len())].own *= less;
        let [all, some] = [&pools, &fewer].map(|pools| relations(&families, pools).unwrap());
        for a in 0..families.len() {
            prop_assert!(some.inbreeding(a) <= all.inbreeding(a) + 1e-14);
            prop_assert!((0.0..=1.0).contains(&all.inbreeding(a)));
            for b in 0..families.len() {
                prop_assert!(some.of(a, b) <= all.of(a, b) + 1e-14, "{} {}", a, b);
            }
        }
        let origins = origins(&families, &pools).unwrap();
        for family in 0..families.len() {
            let parts = origins.of_plants(&[(family, 1.0)]).unwrap();
            prop_assert!((parts.iter().sum::<f64>() - 1.0).abs() < 1e-12);
            prop_assert!(parts.iter().all(|part| *part >= 0.0));
        }
    }
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
    let found = relations(&families, &self::pools(&pools, 1.0)).unwrap();
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

/// Genes dropped through three seasons with pollen as growers state it: a part of the first season's comes from unrelated
/// plants; in the second one row sheds all but a little of it and the others are detasselled. Two genes of two plants are
/// alike as often as the coancestry says, those of one plant as often as its inbreeding, and each comes from a founder as
/// often as its share.
#[test]
fn genes_dropped_under_stated_pollen_agree_within_three_standard_errors() {
    const RUNS: u32 = 40_000;
    let of = |mother, season| Family::Of { mother, season };
    let families = [
        Family::UNKNOWN,
        Family::UNKNOWN,
        Family::UNKNOWN,
        of(0, 0),
        of(0, 0),
        of(1, 0),
        of(4, 1),
        of(5, 1),
    ];
    let pools = [
        Pool {
            plants: vec![(0, 3.0), (1, 3.0), (2, 3.0)],
            own: 0.6,
        },
        Pool {
            plants: vec![(3, 3.0)],
            own: 0.9,
        },
    ];
    let found = relations(&families, &pools).unwrap();
    let shares = origins(&families, &pools).unwrap();
    let mut dice = Dice(5);
    // A gene is a number whose remainder by 4 is the founder it came from, 3 for unrelated pollen.
    let mut gene = 0_u64;
    let mut fresh = move |founder: u64| {
        gene += 1;
        4 * gene + founder
    };
    let mut alike = vec![0_u32; families.len() * families.len()];
    let mut inbred = vec![0_u32; families.len()];
    let mut from = vec![[0_u32; 4]; families.len()];
    for _ in 0..RUNS {
        let mut plants: Vec<Vec<[u64; 2]>> = Vec::new();
        for founder in 0..3 {
            let mother = [fresh(founder), fresh(founder)];
            plants.push((0..3).map(|_| [mother[dice.below(2)], fresh(founder)]).collect());
        }
        for (mothers, shedding, tenths) in [(&[0, 0, 1][..], 0..3, 6), (&[4, 5][..], 3..4, 9)] {
            let pool: Vec<[u64; 2]> = plants[shedding].iter().flatten().copied().collect();
            for mother in mothers {
                // Two ears of row 0 grew on two plants of it.
                let nth = plants[3..].len().min(1) * usize::from(*mother == 0);
                let mother = plants[*mother][nth];
                let mut child = || {
                    let pollen = if dice.below(10) < tenths {
                        pool[dice.below(pool.len())][dice.below(2)]
                    } else {
                        fresh(3)
                    };
                    [mother[dice.below(2)], pollen]
                };
                plants.push((0..3).map(|_| child()).collect());
            }
        }
        for a in 3..families.len() {
            let own = plants[a][2];
            inbred[a] += u32::from(own[0] == own[1]);
            from[a][(own[dice.below(2)] % 4) as usize] += 1;
            for b in 3..=a {
                // The last plant, so that it is no plant an ear grew on.
                let other = plants[b][if a == b { 1 } else { 2 }];
                alike[a * families.len() + b] += u32::from(own[dice.below(2)] == other[dice.below(2)]);
            }
        }
    }
    let agrees = |hits: u32, expected: f64, what: &str| {
        let share = f64::from(hits) / f64::from(RUNS);
        let error = (expected * (1.0 - expected) / f64::from(RUNS)).sqrt();
        assert!(
            (share - expected).abs() < 3.0 * error + 1e-9,
            "{what}: {share} is not {expected}, error {error}"
        );
    };
    for a in 3..families.len() {
        agrees(inbred[a], found.inbreeding(a), &format!("inbreeding of {a}"));
        let parts = shares.of_plants(&[(a, 1.0)]).unwrap();
        for (founder, part) in parts.iter().enumerate() {
            agrees(from[a][founder], *part, &format!("{a} from founder {founder}"));
        }
        for b in 3..=a {
            agrees(
                alike[a * families.len() + b],
                found.of(a, b),
                &format!("{a} with {b}"),
            );
        }
    }
}

#[test]
fn what_cannot_be_is_refused() {
    let of = |mother, season| Family::Of { mother, season };
    let pool = pools(&[vec![(0, 3.0)]], 0.5);
    let fit = |families: &[Family], pools: &[Pool]| {
        let related = relations(families, pools).is_some();
        assert_eq!(related, origins(families, pools).is_some());
        related
    };
    assert!(fit(&[Family::UNKNOWN, of(0, 0)], &pool));
    assert!(!fit(&[Family::UNKNOWN, of(1, 0)], &pool), "its own mother");
    assert!(!fit(&[Family::UNKNOWN, of(0, 1)], &pool), "no such season");
    assert!(
        !fit(&[Family::UNKNOWN, of(0, 0)], &pools(&[vec![(1, 3.0)]], 0.5)),
        "pollinated by itself"
    );
    for own in [-0.1, 1.1, f64::NAN] {
        assert!(!fit(&[Family::UNKNOWN], &pools(&[vec![(0, 3.0)]], own)));
    }
    assert!(relations(&[Family::Founder(0.7)], &[]).is_none());
    assert!(!fit(&[Family::UNKNOWN], &pools(&[vec![(0, -1.0)]], 0.0)));
    let one = relations(&[Family::UNKNOWN], &pools(&[vec![]], 1.0)).unwrap();
    assert_eq!(one.mean_of_plants(&[]), None);
    assert_eq!(one.inbreeding_of_kernels(&[(0, 0.0)], 0), None);
    assert_eq!(
        origins(&[Family::UNKNOWN], &[]).unwrap().of_plants(&[(0, 0.0)]),
        None
    );
    assert_eq!(one.mean_of_kernels(&[], 0), None);
    assert_eq!(one.mean_of_kernels(&[(0, 0.0)], 0), None);
}

//! Where the families of a pedigree stand: one column for each season, so that no two lines cross and mothers stand beside
//! their daughters.

/// How often the columns are moved towards each other.
const ROUNDS: usize = 3;
/// A pedigree so many times as high as its highest column has drifted.
const DRIFT: f64 = 1.4;

/// Orders the families of each column, given the mother of each and the daughters of each in the order in which they are to
/// stand; `roots` are the families without a mother, likewise. A walk through each line, daughters behind their mother,
/// meets the families of every column in an order in which no two lines cross, however many columns one of them passes.
pub(super) fn ordered(column_of: &[usize], daughters: &[Vec<usize>], roots: &[usize]) -> Vec<Vec<usize>> {
    let columns = column_of.iter().map(|column| column + 1).max().unwrap_or(0);
    let mut found = vec![Vec::new(); columns];
    let mut waiting: Vec<usize> = roots.iter().rev().copied().collect();
    while let Some(family) = waiting.pop() {
        found[column_of[family]].push(family);
        waiting.extend(daughters[family].iter().rev());
    }
    found
}

/// Gives each family its place from the top, in heights of a family: at least 1 from its neighbours in the column, and as
/// near to its mother and daughters as that allows.
pub(super) fn placed(
    columns: &[Vec<usize>],
    mothers: &[Option<usize>],
    daughters: &[Vec<usize>],
) -> Vec<f64> {
    let mut places = vec![0.0; mothers.len()];
    for column in columns {
        for (place, family) in column.iter().enumerate() {
            places[*family] = place as f64;
        }
    }
    for _ in 0..ROUNDS {
        for column in columns {
            let beside_mother = |family: usize, places: &[f64]| {
                let mother = mothers[family]?;
                let sisters = &daughters[mother];
                let nth = sisters.iter().position(|one| *one == family)?;
                Some(places[mother] + nth as f64 - 0.5 * (sisters.len() - 1) as f64)
            };
            settle(column, &mut places, beside_mother);
        }
        for column in columns.iter().rev() {
            let beside_daughters = |family: usize, places: &[f64]| {
                let own = &daughters[family];
                let sum: f64 = own.iter().map(|one| places[*one]).sum();
                (!own.is_empty()).then(|| sum / own.len() as f64)
            };
            settle(column, &mut places, beside_daughters);
        }
    }
    centre(columns, &mut places);
    let top = places.iter().copied().fold(f64::INFINITY, f64::min);
    for place in &mut places {
        *place -= top;
    }
    places
}

/// Moves whole columns to one middle where they would drift away over many seasons, which happens when the upper lines
/// are those that live on.
fn centre(columns: &[Vec<usize>], places: &mut [f64]) {
    let ends = |column: &[usize]| {
        let of = |family: Option<&usize>| family.map(|family| places[*family]);
        of(column.first()).zip(of(column.last()))
    };
    let ends: Vec<Option<(f64, f64)>> = columns.iter().map(|column| ends(column)).collect();
    let known = || ends.iter().flatten();
    let top = known().map(|(top, _)| *top).fold(f64::INFINITY, f64::min);
    let bottom = known()
        .map(|(_, bottom)| *bottom)
        .fold(f64::NEG_INFINITY, f64::max);
    let most = known().map(|(top, bottom)| bottom - top).fold(1.0, f64::max);
    if bottom - top < DRIFT * most {
        return;
    }
    for (column, ends) in columns.iter().zip(&ends) {
        let Some((top, bottom)) = ends else { continue };
        for family in column {
            places[*family] -= 0.5 * (top + bottom);
        }
    }
}

/// Moves the families of a column to where they are wanted, in their order and at least 1 apart, with the least sum of
/// squared distances: neighbours that would come too near stand as a block at their mean.
fn settle(column: &[usize], places: &mut [f64], wanted: impl Fn(usize, &[f64]) -> Option<f64>) {
    // Where the families would stand if they were as thin as a line.
    let mut blocks: Vec<(f64, f64)> = Vec::new();
    for (nth, family) in column.iter().enumerate() {
        let place = wanted(*family, places).unwrap_or(places[*family]) - nth as f64;
        blocks.push((place, 1.0));
        while let [.., (before, many), (last, few)] = blocks[..]
            && before > last
        {
            blocks.truncate(blocks.len() - 2);
            blocks.push(((before * many + last * few) / (many + few), many + few));
        }
    }
    let mut families = column.iter().enumerate();
    for (place, many) in blocks {
        for (nth, family) in families.by_ref().take(many as usize) {
            places[*family] = place + nth as f64;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Seasons, mothers and daughters of families, and those without a mother.
    type Drawn = (Vec<usize>, Vec<Option<usize>>, Vec<Vec<usize>>, Vec<usize>);

    /// A pedigree from drawn numbers: each family has a season and perhaps a mother of an earlier season.
    fn drawn(numbers: &[(u8, u8)]) -> Drawn {
        let mut families: Vec<usize> = numbers
            .iter()
            .map(|(season, _)| usize::from(season % 6))
            .collect();
        families.sort_unstable();
        let mut mothers = Vec::new();
        let mut daughters = vec![Vec::new(); families.len()];
        for (family, season) in families.iter().enumerate() {
            let before = families.iter().take_while(|one| *one < season).count();
            let number = usize::from(numbers[family].1);
            let mother = (before > 0 && number % 5 > 0).then(|| number % before);
            if let Some(mother) = mother {
                daughters[mother].push(family);
            }
            mothers.push(mother);
        }
        let roots = (0..families.len())
            .filter(|one| mothers[*one].is_none())
            .collect();
        (families, mothers, daughters, roots)
    }

    proptest! {
        #[test]
        fn no_two_lines_between_neighbouring_seasons_cross_and_no_two_families_overlap(
            numbers in prop::collection::vec((any::<u8>(), any::<u8>()), 1..60)
        ) {
            let (column_of, mothers, daughters, roots) = drawn(&numbers);
            let columns = ordered(&column_of, &daughters, &roots);
            prop_assert_eq!(columns.iter().map(Vec::len).sum::<usize>(), column_of.len());
            let places = placed(&columns, &mothers, &daughters);
            for column in &columns {
                for pair in column.windows(2) {
                    prop_assert!(places[pair[1]] - places[pair[0]] > 1.0 - 1e-9);
                }
            }
            for (a, mother_of_a) in mothers.iter().enumerate() {
                for (b, mother_of_b) in mothers.iter().enumerate() {
                    let (Some(from_a), Some(from_b)) = (mother_of_a, mother_of_b) else { continue };
                    if column_of[a] == column_of[b] && column_of[*from_a] == column_of[*from_b] {
                        let crossing = (places[a] - places[b]) * (places[*from_a] - places[*from_b]);
                        prop_assert!(crossing >= 0.0, "{} and {}", a, b);
                    }
                }
            }
        }
    }

    #[test]
    fn an_only_daughter_stands_beside_her_mother_and_sisters_around_her() {
        // Mothers 0 and 1; daughters 2 of 0, and 3, 4, 5 of 1.
        let mothers = [None, None, Some(0), Some(1), Some(1), Some(1)];
        let daughters = vec![vec![2], vec![3, 4, 5], vec![], vec![], vec![], vec![]];
        let columns = ordered(&[0, 0, 1, 1, 1, 1], &daughters, &[0, 1]);
        assert_eq!(columns, [vec![0, 1], vec![2, 3, 4, 5]]);
        let places = placed(&columns, &mothers, &daughters);
        assert_eq!(places, [0.0, 2.0, 0.0, 1.0, 2.0, 3.0]);
    }
}

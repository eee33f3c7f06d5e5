//! Kinship of the rows of one season from that of the season before.

/// Rows, pollen rows behind them, and how their plants are related.
#[derive(Debug, Default, Clone)]
pub(super) struct Kin {
    families: usize,
    /// Coancestry of two different plants, row by row.
    between: Vec<f64>,
    /// Inbreeding of the plants of each family.
    inbreeding: Vec<f64>,
    /// The part of all pollen that each family sheds; the rest is foreign.
    pollen: Vec<f64>,
    /// The part that one plant sheds.
    one: f64,
    /// Mean coancestry of a plant of each family with the pollen.
    with_pollen: Vec<f64>,
    /// Mean coancestry of two pollen grains.
    of_pollen: f64,
    /// Mean inbreeding of the plants of the pool.
    inbreeding_of_pollen: f64,
}

/// The ears whose kernels are mixed for the pollen rows.
pub(super) struct Bulk<'a> {
    /// The part of the bulk's ears that grew in each row; together 1.
    pub(super) rows: &'a [f64],
    /// How many ears are in it.
    pub(super) ears: f64,
}

impl Kin {
    /// Rows whose mothers and pollen were unrelated.
    pub(super) fn founders(&mut self, rows: usize) {
        self.families = rows;
        self.between.clear();
        self.between.resize(rows * rows, 0.0);
        for row in 0..rows {
            self.between[row * rows + row] = 1.0 / 8.0;
        }
        self.inbreeding.clear();
        self.inbreeding.resize(rows, 0.0);
    }

    /// Says who sheds pollen: the shares of the families of all plants in the pool, which are so many, and how much of the
    /// pollen is foreign. `is_closed` where the plants that bear ears are those that shed it.
    pub(super) fn shed(&mut self, shares: &[f64], plants: f64, foreign: f64, is_closed: bool) {
        self.pollen.clear();
        self.pollen
            .extend(shares.iter().map(|share| share * (1.0 - foreign)));
        self.one = (1.0 - foreign) / plants;
        self.with_pollen.clear();
        self.of_pollen = 0.0;
        self.inbreeding_of_pollen = self.inbreeding.iter().zip(shares).map(|(a, b)| a * b).sum();
        for family in 0..self.families {
            let row = &self.between[family * self.families..][..self.families];
            let mean: f64 = row.iter().zip(&self.pollen).map(|(a, b)| a * b).sum();
            // A grain that meets another of its own plant.
            let itself = self.one * self.above(family);
            self.of_pollen += self.pollen[family] * (mean + itself);
            self.with_pollen
                .push(if is_closed { mean + itself } else { mean });
        }
    }

    /// The coancestry of a plant with itself.
    fn itself(&self, family: usize) -> f64 {
        0.5 * (1.0 + self.inbreeding[family])
    }

    /// By how much a plant is closer to itself than to another of its family.
    fn above(&self, family: usize) -> f64 {
        self.itself(family) - self.between[family * self.families + family]
    }

    /// Goes on to the rows of these ears, given as the rows in which they grew, and to the pollen rows of a bulk behind them.
    pub(super) fn go_on(&self, next: &mut Self, ears: &[usize], bulk: Option<&Bulk<'_>>) {
        let own = self.families;
        let families = ears.len() + usize::from(bulk.is_some());
        next.families = families;
        next.between.clear();
        next.between.resize(families * families, 0.0);
        next.inbreeding.clear();
        for (place, row) in ears.iter().enumerate() {
            for (other, row_of_other) in ears[..place].iter().enumerate() {
                let plants = self.between[row * own + row_of_other];
                let pollen = self.with_pollen[*row] + self.with_pollen[*row_of_other] + self.of_pollen;
                next.set(place, other, 0.25 * (plants + pollen));
            }
            let pollen = 2.0 * self.with_pollen[*row] + self.of_pollen;
            next.set(place, place, 0.25 * (self.itself(*row) + pollen));
            next.inbreeding.push(self.with_pollen[*row]);
        }
        if let Some(bulk) = bulk {
            self.add_bulk(next, ears, bulk);
        }
    }

    fn add_bulk(&self, next: &mut Self, ears: &[usize], bulk: &Bulk<'_>) {
        let rows = || bulk.rows.iter().enumerate().filter(|(_, share)| **share > 0.0);
        let pollen: f64 = rows().map(|(row, share)| share * self.with_pollen[row]).sum();
        // Any kept ear is one of the bulk too.
        let plants = |row: usize| {
            let line = &self.between[row * self.families..][..self.families];
            rows().map(|(other, share)| share * line[other]).sum::<f64>() + self.above(row) / bulk.ears
        };
        let last = ears.len();
        let mut known = vec![f64::NAN; self.families];
        for (place, row) in ears.iter().enumerate() {
            if known[*row].is_nan() {
                known[*row] = plants(*row);
            }
            let value = 0.25 * (known[*row] + pollen + self.with_pollen[*row] + self.of_pollen);
            next.set(place, last, value);
        }
        let itself: f64 = rows().map(|(row, share)| share * plants(row)).sum();
        next.set(last, last, 0.25 * (itself + 2.0 * pollen + self.of_pollen));
        next.inbreeding.push(pollen);
    }

    fn set(&mut self, a: usize, b: usize, coancestry: f64) {
        self.between[a * self.families + b] = coancestry;
        self.between[b * self.families + a] = coancestry;
    }

    /// The inbreeding of the plants of a family.
    pub(super) fn inbreeding(&self, family: usize) -> f64 {
        self.inbreeding[family]
    }

    /// The mean inbreeding of the plants that shed pollen, foreign ones left out.
    pub(super) fn inbreeding_of_pollen(&self) -> f64 {
        self.inbreeding_of_pollen
    }

    /// Means over the rows by their shares of the plants: the inbreeding, and the coancestry of two different plants.
    pub(super) fn means(&self, shares: &[f64]) -> (f64, f64) {
        let rows = self.between.chunks_exact(self.families).zip(shares);
        let coancestry = rows
            .map(|(row, share)| share * row.iter().zip(shares).map(|(a, b)| a * b).sum::<f64>())
            .sum();
        let inbreeding = self.inbreeding.iter().zip(shares).map(|(a, b)| a * b).sum();
        (inbreeding, coancestry)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::genetics::pedigree::{Family, Pool, relations};

    /// Two seasons, three rows with unequal plants, and ears of which two grew in one row: the same coancestries as by the
    /// pedigree of all seasons, for all pollen foreign, half of it, and none.
    #[test]
    fn goes_on_as_the_pedigree_of_all_seasons_does() {
        let (ears, later) = ([0, 0, 2, 1], [3, 1, 1, 0]);
        for own in [0.0, 0.5, 1.0] {
            let mut families = vec![Family::UNKNOWN; 3];
            families.extend(ears.map(|mother| Family::Of { mother, season: 0 }));
            families.extend(later.map(|mother| Family::Of {
                mother: 3 + mother,
                season: 1,
            }));
            let pools = [
                vec![(0, 6.0), (1, 10.0), (2, 4.0)],
                vec![(3, 5.0), (4, 5.0), (5, 5.0), (6, 5.0)],
            ]
            .map(|plants| Pool { plants, own });
            let known = relations(&families, &pools).unwrap();
            let (mut now, mut next) = (Kin::default(), Kin::default());
            now.founders(3);
            now.shed(&[0.3, 0.5, 0.2], 20.0, 1.0 - own, true);
            now.go_on(&mut next, &ears, None);
            std::mem::swap(&mut now, &mut next);
            now.shed(&[0.25; 4], 20.0, 1.0 - own, true);
            now.go_on(&mut next, &later, None);
            for a in 0..4 {
                assert!((next.inbreeding(a) - known.inbreeding(7 + a)).abs() < 1e-15);
                for b in 0..4 {
                    let expected = known.of(7 + a, 7 + b);
                    let found = next.between[a * 4 + b];
                    assert!(
                        (found - expected).abs() < 1e-15,
                        "{own} {a} {b}: {found} {expected}"
                    );
                }
            }
        }
    }

    /// Pollen rows of a bulk of all ears of unrelated rows: a plant of the bulk shares its ear with another with a chance of
    /// one in as many, and no plant that bears an ear meets its own pollen.
    #[test]
    fn a_bulk_is_related_as_the_mean_of_its_ears() {
        let (mut now, mut next) = (Kin::default(), Kin::default());
        now.founders(4);
        now.shed(&[0.25; 4], 1e12, 1.0, true);
        let (rows, ears) = ([0.25; 4], 4.0);
        now.go_on(&mut next, &[0, 1], Some(&Bulk { rows: &rows, ears }));
        // The coancestry of half sisters, a quarter of them of one ear.
        let expected = 0.25 * 0.5 * 0.25;
        for family in 0..3 {
            assert!((next.between[family * 3 + 2] - expected).abs() < 1e-12);
        }
        next.shed(&[0.0, 0.0, 1.0], 10.0, 0.0, false);
        next.go_on(&mut now, &[0, 1], None);
        assert!((now.inbreeding(0) - expected).abs() < 1e-12);
    }
}

//! Why an ear stands where it stands, and what would change that: sentences with numbers, for its card.

use super::choice::{Choice, Standing};
use super::estimates::{Belief, Estimates};
use super::index::IndexView;
use super::words::{percent, plural, tenths};
use crate::model::{Cell, Ear, EarId, Pass, Project, Stand, capital};
use crate::stats::Cutoff;

/// Kernels of the retest that is thought of.
const MORE_KERNELS: u32 = 10;
/// From so many percent points on it is worth saying how far a count was drawn.
const TOLD_POINTS: f64 = 0.5;

/// What the sentences are made from.
pub(super) struct Known<'a> {
    pub(super) project: &'a Project,
    pub(super) choice: &'a Choice,
    pub(super) estimates: &'a Estimates,
    pub(super) index: &'a IndexView,
}

impl Known<'_> {
    /// Says what lies behind the stand of an ear, a sentence each; what is not known is left out, as the card says
    /// elsewhere that it is not.
    pub(super) fn sentences(&self, ear: &Ear) -> Vec<String> {
        let Some(standing) = self.choice.of(ear.id) else {
            return Vec::new();
        };
        let mut said = Vec::new();
        said.extend(self.cells(ear.id));
        said.extend(self.drawn(standing));
        said.extend(self.needed(standing));
        said.extend(self.where_it_turns(standing));
        said.extend(self.retest(standing));
        said.extend(self.limits(standing));
        said.extend(self.ranks(standing));
        said.extend(self.sisters(standing));
        said.extend(self.by_index(standing));
        said.extend(self.batch(ear));
        said
    }

    fn belief(&self, standing: &Standing) -> Option<&Belief> {
        let estimate = standing.estimate?;
        self.estimates.posteriors.get(estimate.posterior)
    }

    fn cutoff(&self) -> Option<Cutoff> {
        let percent = self.choice.cutoffs.germination_percent?;
        Cutoff::from_percent(percent).ok()
    }

    /// The counts of an ear that lies in several cells.
    fn cells(&self, ear: EarId) -> Option<String> {
        let counts: Vec<String> = self
            .project
            .cells_of_ear(ear)
            .filter_map(|cell| {
                let count = self.project.count_in_force(cell.id, Pass::Final)?;
                let tray = self.project.trays.get(cell.tray)?;
                let tally = count.tally;
                Some(format!(
                    "{} of {} in tray {} {}",
                    tally.germinated(self.estimates.germinated),
                    tally.counted(),
                    tray.number,
                    cell.name()
                ))
            })
            .collect();
        (counts.len() > 1)
            .then(|| format!("Its {} gave {}.", plural(counts.len(), "cell"), counts.join(", ")))
    }

    /// How far the count was drawn towards the season's mean, and why.
    fn drawn(&self, standing: &Standing) -> Option<String> {
        let estimate = standing.estimate?;
        let mean = percent(100.0 * self.estimates.population.mean);
        let kernels = plural(estimate.counts.n() as usize, "kernel");
        let drawn = estimate.likely_percent - estimate.observed_percent;
        let place = estimate.place_points.or_else(|| self.tray_points(standing.ear));
        let place = place.filter(|points| points.abs() >= TOLD_POINTS);
        if let Some(place) = place {
            return Some(format!(
                "From {} as counted it becomes {}: an average ear shows {} points {} in its place, and as {kernels} say \
                 little, it is drawn towards the {mean} of all ears.",
                percent(estimate.observed_percent),
                percent(estimate.likely_percent),
                tenths(place.abs()),
                if place < 0.0 { "less" } else { "more" },
            ));
        }
        (drawn.abs() >= TOLD_POINTS).then(|| {
            format!(
                "{} say little, so its count is drawn {} points {} towards the {mean} of all ears.",
                capital(&kernels),
                tenths(drawn.abs()),
                if drawn < 0.0 { "down" } else { "up" },
            )
        })
    }

    /// What an average ear shows in the trays of an ear, above what it shows in the others, in percent points.
    fn tray_points(&self, ear: EarId) -> Option<f64> {
        let points = |tray| self.estimates.trays.iter().find(|effect| effect.tray == tray);
        let counted = |cell: &&Cell| self.project.count_in_force(cell.id, Pass::Final).is_some();
        let cells = self.project.cells_of_ear(ear).filter(counted);
        let effects: Vec<f64> = cells.filter_map(|cell| Some(points(cell.tray)?.points)).collect();
        (!effects.is_empty()).then(|| effects.iter().sum::<f64>() / effects.len() as f64)
    }

    /// What an ear in an average tray must count to be planted, or to be left out.
    fn needed(&self, standing: &Standing) -> Option<String> {
        let (cutoff, estimate) = (self.cutoff()?, standing.estimate?);
        let usual = self.estimates.usual();
        let kernels = usual.len().checked_sub(1)?;
        if kernels as u32 != estimate.counts.n() {
            return None;
        }
        let sureness = self.choice.cutoffs.sureness;
        let sure = |k: usize| usual[k].probability_at_least(cutoff);
        let plant = (0..=kernels).find(|k| sure(*k) >= sureness);
        let leave_out = (0..=kernels).rev().find(|k| sure(*k) <= 1.0 - sureness);
        let plant = plant.map_or_else(
            || format!("not even {kernels} of {kernels} would be enough to plant it"),
            |k| format!("{k} of {kernels} are needed to plant it"),
        );
        let leave_out =
            leave_out.map_or_else(String::new, |k| format!(", and with {k} or fewer it is left out"));
        Some(format!("In an average tray {plant}{leave_out}."))
    }

    /// The cutoffs at which its stand changes by germination alone.
    fn where_it_turns(&self, standing: &Standing) -> Option<String> {
        let (belief, set) = (self.belief(standing)?, self.choice.cutoffs.germination_percent?);
        let sureness = self.choice.cutoffs.sureness;
        let sure = |whole: u32| {
            let cutoff = Cutoff::from_percent(f64::from(whole)).ok()?;
            Some(belief.probability_at_least(cutoff))
        };
        let planted = (0..=100)
            .rev()
            .find(|whole| sure(*whole).is_some_and(|sure| sure >= sureness))?;
        let left_out = (0..=100).find(|whole| sure(*whole).is_some_and(|sure| sure <= 1.0 - sureness));
        let left_out = left_out.map_or_else(
            || "it is never left out for certain".to_owned(),
            |whole| format!("it is left out from {whole} % on"),
        );
        Some(format!(
            "By germination alone it is planted at a cutoff of up to {planted} %, and {left_out}; the cutoff is {}.",
            percent(set)
        ))
    }

    /// What more kernels would tell.
    fn retest(&self, standing: &Standing) -> Option<String> {
        let retest = self.belief(standing)?.retest(MORE_KERNELS, self.cutoff()?);
        let share = |share: f64| format!("{:.0} %", 100.0 * share);
        Some(if retest.benefit() > 0.0 {
            format!(
                "{MORE_KERNELS} more kernels would lower the chance to decide wrongly about it from {} to {}.",
                share(retest.wrong_now),
                share(retest.wrong_after)
            )
        } else {
            format!("No result of {MORE_KERNELS} more kernels would change what is decided about it.")
        })
    }

    /// How far it is from each plain limit.
    fn limits(&self, standing: &Standing) -> Vec<String> {
        let cutoffs = &self.choice.cutoffs;
        let mut said = Vec::new();
        let mut limit = |name: &str, value: Option<f64>, bound: Option<f64>, is_most: bool, unit: &str| {
            let (Some(value), Some(bound)) = (value, bound) else {
                return;
            };
            let room = if is_most { bound - value } else { value - bound };
            let by = format!("{}{unit}", tenths(room.abs()));
            let text = match room.total_cmp(&0.0) {
                std::cmp::Ordering::Less => format!("{by} beyond"),
                std::cmp::Ordering::Equal => "exactly at".to_owned(),
                std::cmp::Ordering::Greater => format!("{by} within"),
            };
            said.push(format!(
                "Its {name} {} is {text} the cutoff of {bound}.",
                tenths(value)
            ));
        };
        let days = standing.maturity_days.map(f64::from);
        limit("maturity in days", days, cutoffs.maturity_days, true, " days");
        let vigor = standing.estimate.and_then(|estimate| estimate.vigor);
        limit("vigor", vigor, cutoffs.vigor, false, "");
        let ear = self.project.ears.get(standing.ear);
        for (id, limits) in &cutoffs.traits {
            let value = ear.and_then(|ear| ear.values.get(id)).copied();
            let name = self
                .project
                .trait_of(*id)
                .map_or("trait", |known| known.name.as_str());
            limit(name, value, limits.least, false, "");
            limit(name, value, limits.most, true, "");
        }
        said
    }

    /// Its rank among all scored ears.
    fn ranks(&self, standing: &Standing) -> Option<String> {
        let own = standing.estimate?.likely_percent;
        let likely = self.choice.standings.iter().filter_map(|one| one.estimate);
        let (mut scored, mut better) = (0_usize, 0_usize);
        for one in likely {
            scored += 1;
            better += usize::from(one.likely_percent > own);
        }
        Some(format!(
            "By likely percent it is number {} of {}.",
            better + 1,
            plural(scored, "scored ear")
        ))
    }

    /// Where it stands in its mother row.
    fn sisters(&self, standing: &Standing) -> Option<String> {
        let row = standing.row?;
        let label = &self.project.rows.get(row)?.label;
        let sisters: Vec<&Standing> = self
            .choice
            .standings
            .iter()
            .filter(|one| one.row == Some(row))
            .collect();
        let kept = sisters.iter().filter(|one| one.stand == Stand::Plant).count();
        let scored = sisters.iter().filter(|one| one.estimate.is_some()).count();
        let own = standing.estimate.map(|one| one.likely_percent);
        let rank = own.map(|own| {
            let better = sisters.iter().filter_map(|one| one.estimate);
            1 + better.filter(|one| one.likely_percent > own).count()
        });
        let rank = rank.map_or_else(String::new, |rank| {
            format!(", number {rank} of the {scored} that were scored")
        });
        let cap = self.choice.cutoffs.cap_per_mother;
        let cap = cap.map_or_else(String::new, |most| format!(", at most {most} may be"));
        Some(format!(
            "It is one of {} of mother row {label}{rank}; {kept} of them {} kept{cap}.",
            plural(sisters.len(), "ear"),
            if kept == 1 { "is" } else { "are" },
        ))
    }

    fn by_index(&self, standing: &Standing) -> Option<String> {
        if self.index.terms.is_empty() {
            return None;
        }
        Some(match self.index.of(standing.ear) {
            Some((value, rank)) => format!(
                "By your index it is number {rank} of {}, with {value:+.2}.",
                plural(self.index.ears.len(), "ear")
            ),
            None => "Your index says nothing of it, as a value that it weighs is not known.".to_owned(),
        })
    }

    fn batch(&self, ear: &Ear) -> Option<String> {
        if ear.batch.is_empty() {
            return None;
        }
        let others = self
            .project
            .ears_of(ear.season)
            .filter(|other| other.batch == ear.batch)
            .count()
            - 1;
        Some(format!(
            "It was dried in the batch '{}' with {}.",
            ear.batch,
            plural(others, "other ear")
        ))
    }
}

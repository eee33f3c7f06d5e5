//! How many kernels of each kept ear: equally many, or shared out for the highest mean at a ceiling on coancestry.

use super::choice::Choice;
use super::estimates::Estimates;
use super::kinship::{self, Kin};
use super::price::sisters;
use super::sowing::Wanted;
use super::words::{are, percent, plural, some_of, tenths};
use crate::genetics::{
    Candidates, Kinship, NoShares, coancestries, frontier, mean_coancestry, optimum_shares, whole_kernels,
};
use crate::model::{EarId, Project, Stand};
use std::collections::BTreeMap;

/// For more kept ears shares are not worked out: their kinship would fill the memory.
pub const MOST_SHARED: usize = 600;
/// Points of the frontier for this many ears or fewer, and for more.
const POINTS: [usize; 2] = [33, 17];
const MANY: usize = 150;

/// One ear and its kernels.
#[derive(Debug, Clone, PartialEq)]
pub struct EarShare {
    /// The ear.
    pub ear: EarId,
    /// Its number.
    pub number: u32,
    /// Its likely cold germination in percent; of an ear that was not scored, the mean of all that were.
    pub likely_percent: f64,
    /// Whether it was scored.
    pub is_scored: bool,
    /// Kernels that can be planted without touching the remnant. Of an ear whose kernels were never counted, as
    /// many as the season plants of each.
    pub most: u32,
    /// Kernels if all ears are planted equally.
    pub equal: u32,
    /// Kernels by the shares, where a ceiling is set and can be kept.
    pub shared: Option<u32>,
}

/// What a way to share the kernels out comes to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ShareFigures {
    /// Mean likely cold germination of the kernels planted, in percent.
    pub likely_percent: f64,
    /// Mean coancestry of the kernels, unrelated pollen being of a very large crowd.
    pub coancestry: f64,
}

/// Equal kernels beside the best shares.
#[derive(Debug, Clone, PartialEq)]
pub struct Shares {
    /// The kept ears that can be planted, by number.
    pub ears: Vec<EarShare>,
    /// Kernels in all, the same for every way.
    pub kernels: u32,
    /// Equal kernels of every ear.
    pub equal: Option<ShareFigures>,
    /// The best that shares can do, from the least coancestry to the highest mean.
    pub frontier: Vec<ShareFigures>,
    /// The ceiling that is set.
    pub most_coancestry: Option<f64>,
    /// The shares at that ceiling, in whole kernels; `None` without a ceiling or where it cannot be kept.
    pub shared: Option<ShareFigures>,
    /// Why there are no shares, a sentence.
    pub refusal: Option<String>,
    /// Plants that shed pollen.
    pub pollen_plants: usize,
    /// The share of the pollen that comes from unrelated plants: all of it where nothing was said.
    pub unrelated_pollen: f64,
}

impl Shares {
    /// The effective size of so much coancestry, pollen of unrelated plants added; endless without any coancestry.
    pub fn effective_size(&self, coancestry: f64) -> Option<f64> {
        let kinship = self.with_pollen(coancestry)?;
        Some(kinship.effective_size()).filter(|size| size.is_finite())
    }

    fn with_pollen(&self, coancestry: f64) -> Option<Kinship> {
        Kinship { coancestry }.with_some_pollen_plants(self.pollen_plants as f64, self.unrelated_pollen)
    }

    /// The coancestry of so large an effective size, less that of the pollen; `None` where the pollen alone has more.
    pub fn coancestry(&self, effective_size: f64) -> Option<f64> {
        let pollen = self.with_pollen(0.0)?;
        let coancestry = 0.5 / effective_size - pollen.coancestry;
        (coancestry > 0.0 && coancestry.is_finite()).then_some(coancestry)
    }

    /// Where a way to share lies in the drawing of the frontier: effective size, likely percent; `None` where the size has
    /// no bound.
    pub fn place(&self, figures: ShareFigures) -> Option<[f64; 2]> {
        Some([self.effective_size(figures.coancestry)?, figures.likely_percent])
    }

    /// Says what the frontier and both ways on it come to, for who cannot see it.
    pub fn frontier_text(&self) -> String {
        let ends = [self.frontier.first(), self.frontier.last()];
        let ends: Vec<String> = ends.into_iter().flatten().map(|one| self.figures(*one)).collect();
        format!(
            "The best by shares runs from {}. {}",
            ends.join(" to "),
            self.sentences().join(" ")
        )
    }

    /// The kernels of each ear by the shares that are set, none of them left out; `None` where ears are planted equally.
    pub fn kernels_by_ear(&self) -> Option<BTreeMap<EarId, u32>> {
        self.shared?;
        self.ears.iter().map(|one| Some((one.ear, one.shared?))).collect()
    }

    /// The figures of a way to share in words: `84.2 % likely, effective size 61.3`.
    pub fn figures(&self, figures: ShareFigures) -> String {
        let size = self
            .effective_size(figures.coancestry)
            .map_or_else(|| "not known".to_owned(), tenths);
        format!("{:.2} % likely, effective size {size}", figures.likely_percent)
    }

    /// Says what equal kernels and the shares that are set come to, a sentence each.
    pub fn sentences(&self) -> Vec<String> {
        let mut said = Vec::new();
        if let Some(equal) = self.equal {
            said.push(format!(
                "Equal kernels of {}: {}.",
                plural(self.ears.len(), "ear"),
                self.figures(equal)
            ));
        }
        if let (Some(equal), Some(shared)) = (self.equal, self.shared) {
            said.push(format!(
                "Shared out: {}; {:+.2} points against equal kernels.",
                self.figures(shared),
                shared.likely_percent - equal.likely_percent
            ));
            said.extend(self.spread_sentence());
        }
        said
    }

    fn spread_sentence(&self) -> Option<String> {
        let none: Vec<u32> = self
            .ears
            .iter()
            .filter(|one| one.shared == Some(0))
            .map(|one| one.number)
            .collect();
        let top = self.ears.iter().max_by_key(|one| one.shared)?;
        let most = format!(
            "Most kernels come from ear {}: {} of {}.",
            top.number, top.shared?, self.kernels
        );
        Some(match none.len() {
            0 => format!("{most} Every ear gets some."),
            1 => format!("{most} Ear {} gets none.", none[0]),
            _ => format!("{most} Ears {} get none.", some_of(&none)),
        })
    }

    /// Says what the shares take for granted.
    pub fn assumptions(&self) -> String {
        let unscored = self.ears.iter().filter(|one| !one.is_scored).count();
        let unscored = match unscored {
            0 => String::new(),
            many => format!(
                " {} without a final count: the mean of all scored ears stands in.",
                are(many, "ear")
            ),
        };
        format!(
            "The same {} in all; never less than the remnant stays in a packet. {}; ears of one mother row are half \
             sisters, unless it was sown from a bulk.{unscored}",
            plural(self.kernels as usize, "kernel"),
            if self.unrelated_pollen < 1.0 {
                "Pollen as you stated it for the season".to_owned()
            } else {
                let plants = plural(self.pollen_plants, "plant");
                format!("Pollen of {plants}, related neither to each other nor to the mothers")
            },
        )
    }
}

/// Works the shares out for the kept ears.
pub(super) fn compute(
    project: &Project,
    choice: &Choice,
    estimates: &Estimates,
    kin: Option<&Kin>,
    pollen_plants: usize,
) -> Shares {
    let season = project.seasons.get(choice.season);
    let mut found = Shares {
        ears: Vec::new(),
        kernels: 0,
        equal: None,
        frontier: Vec::new(),
        most_coancestry: project
            .selection_of(choice.season)
            .and_then(|selection| selection.most_coancestry),
        shared: None,
        refusal: None,
        pollen_plants: pollen_plants.max(1),
        unrelated_pollen: kinship::unrelated_pollen(season.filter(|_| kin.is_some())),
    };
    // What shares are set against: equal kernels, whatever way is chosen.
    let wanted = Wanted::equal(season);
    let plant_each = wanted.plant_each();
    let mean = choice.summary.likely_percent.all;
    let groups = sisters(project, &choice.standings);
    let mut families = Vec::new();
    let mut related = BTreeMap::new();
    let mut sister = Vec::new();
    for (place, one) in choice.standings.iter().enumerate() {
        let room = wanted.room(one);
        let (equal, most) = (room.plant, room.above.unwrap_or(plant_each));
        if one.stand != Stand::Plant || most == 0 || equal == 0 {
            continue;
        }
        let Some(likely) = one.estimate.map(|one| one.likely_percent).or(mean) else {
            continue;
        };
        found.ears.push(EarShare {
            ear: one.ear,
            number: one.number,
            likely_percent: likely,
            is_scored: one.estimate.is_some(),
            most,
            equal,
            shared: None,
        });
        let next = related.len();
        sister.push(*related.entry(groups[place].apart(place)).or_insert(next));
        families.extend(kin.map(|kin| kin.family(one.row)));
    }
    found.kernels = found.ears.iter().map(|one| one.equal).sum();
    found.refusal = unfit(&found, choice, plant_each, estimates);
    if found.refusal.is_none() {
        let matrix = kin.map_or_else(|| coancestries(&sister), |kin| kin.of_kernels(&families));
        share_out(&mut found, &matrix);
    }
    found
}

/// Why nothing can be shared out, a sentence.
fn unfit(found: &Shares, choice: &Choice, plant_each: u32, estimates: &Estimates) -> Option<String> {
    if choice.summary.kept == 0 {
        return Some("No ear is kept, so there is nothing to share out.".to_owned());
    }
    if plant_each == 0 {
        return Some(
            "The season says 0 kernels to plant of each ear; set how many, in Seasons, and they can be shared out."
                .to_owned(),
        );
    }
    if estimates.scored() == 0 {
        return Some("No ear has a final count, so no ear is known to be better than another.".to_owned());
    }
    if found.ears.is_empty() {
        return Some("No packet of a kept ear holds more than its remnant.".to_owned());
    }
    (found.ears.len() > MOST_SHARED).then(|| {
        format!(
            "{} are kept; shares are worked out for {MOST_SHARED} or fewer.",
            plural(found.ears.len(), "ear")
        )
    })
}

fn share_out(found: &mut Shares, matrix: &[f64]) {
    let gains: Vec<f64> = found.ears.iter().map(|one| one.likely_percent).collect();
    let total = f64::from(found.kernels);
    let most: Vec<f64> = found
        .ears
        .iter()
        .map(|one| (f64::from(one.most) / total).min(1.0))
        .collect();
    let candidates = Candidates {
        gains: &gains,
        coancestry: matrix,
        most: &most,
    };
    let figures = |kernels: &[u32]| {
        let shares: Vec<f64> = kernels.iter().map(|one| f64::from(*one) / total).collect();
        ShareFigures {
            likely_percent: shares.iter().zip(&gains).map(|(share, gain)| share * gain).sum(),
            coancestry: mean_coancestry(&shares, matrix),
        }
    };
    let equal: Vec<u32> = found.ears.iter().map(|one| one.equal).collect();
    found.equal = Some(figures(&equal));
    let points = POINTS[usize::from(gains.len() > MANY)];
    match frontier(candidates, points) {
        Ok(shares) => {
            let figures = shares.iter().map(|one| ShareFigures {
                likely_percent: one.gain,
                coancestry: one.coancestry,
            });
            found.frontier = figures.collect();
        }
        Err(problem) => {
            found.refusal = Some(refused(found, problem));
            return;
        }
    }
    let Some(ceiling) = found.most_coancestry else {
        return;
    };
    let whole = optimum_shares(candidates, ceiling).map(|best| {
        let most: Vec<u32> = found.ears.iter().map(|one| one.most).collect();
        whole_kernels(candidates, &best.shares, found.kernels, &most, ceiling)
    });
    match whole {
        Ok(Some(whole)) => {
            found.shared = Some(figures(&whole));
            for (one, kernels) in found.ears.iter_mut().zip(whole) {
                one.shared = Some(kernels);
            }
        }
        Ok(None) => {
            found.refusal = Some(format!(
                "No whole kernels keep an effective size of {}; a little less, or more kernels, would do. Equal kernels \
                 are planted.",
                found
                    .effective_size(ceiling)
                    .map_or_else(|| "that".to_owned(), tenths)
            ));
        }
        Err(problem) => found.refusal = Some(refused(found, problem)),
    }
}

fn refused(found: &Shares, problem: NoShares) -> String {
    match problem {
        NoShares::Ceiling { ceiling, least } => {
            let size = |coancestry| {
                found
                    .effective_size(coancestry)
                    .map_or_else(|| "that".to_owned(), tenths)
            };
            format!(
                "These ears cannot reach an effective size of {}: {} is the most. Keep more ears or ask for less; equal \
                 kernels are planted.",
                size(ceiling),
                size(least)
            )
        }
        other => format!("Shares could not be worked out: {other}. Equal kernels are planted."),
    }
}

/// Says of a list whose kernels are shared out why they differ.
pub(super) fn note(shares: &Shares) -> Option<String> {
    let shared = shares.shared?;
    Some(format!(
        "The kernels are shared out for the highest mean at an effective size of {} or more: {} likely.",
        shares
            .effective_size(shared.coancestry)
            .map_or_else(|| "no bound".to_owned(), tenths),
        percent(shared.likely_percent)
    ))
}

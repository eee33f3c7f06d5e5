//! How many kernels of each kept ear give the plants that are wanted of it.

use super::choice::{Choice, Standing, chance};
use super::estimates::{Basis, Belief, Estimate, Estimates};
use super::words::{are, percent, plural, some_of, tenths};
use crate::model::{EarId, EntrySowing, Season, Sowing};
use crate::stats::mixed::Reference;
use crate::stats::sowing::Emergence;
use crate::stats::{Counts, Posterior};
use std::cell::{OnceCell, RefCell};
use std::collections::BTreeMap;
use std::sync::Arc;

/// More kernels of one ear are never reckoned with: hardly an ear bears so many. Common practice, no source.
pub const MOST_OF_AN_EAR: u32 = 1_000;
/// Both ends of the range of likely plants: a probability of 5 % lies beyond each.
const RANGE: [f64; 2] = [0.95, 0.05];

/// The kernels that the wanted plants take, worked out when first asked for, once for each belief about an ear.
#[derive(Debug)]
pub(super) struct Needs {
    pub(super) sowing: Sowing,
    estimates: Arc<Estimates>,
    /// Of each of the beliefs, and of ears that were not scored.
    known: Vec<OnceCell<Option<u32>>>,
    told: RefCell<BTreeMap<(usize, u32), EntrySowing>>,
}

impl Needs {
    pub(super) fn new(estimates: Arc<Estimates>, sowing: Sowing) -> Self {
        Self {
            sowing,
            known: vec![OnceCell::new(); estimates.posteriors.len() + 1],
            told: RefCell::default(),
            estimates,
        }
    }

    fn place(&self, estimate: Option<&Estimate>) -> usize {
        let unscored = self.estimates.posteriors.len();
        estimate.map_or(unscored, |estimate| estimate.posterior.min(unscored))
    }

    /// What is believed of the share of an ear's kernels that become plants. Of an ear that was not scored, what is
    /// believed of any ear of the season.
    fn emergence(&self, place: usize) -> Emergence {
        let factor = self.sowing.field_factor;
        match (self.estimates.posteriors.get(place), &self.estimates.basis) {
            (Some(Belief::Main(posterior)), _) => Emergence::unit(posterior, factor),
            (Some(Belief::Beta(posterior)), _) => Emergence::beta(posterior, factor),
            (None, Basis::Main(model)) => Emergence::unit(&model.population(Reference::AverageTray), factor),
            (None, Basis::StandIn { .. }) => {
                let population = self.estimates.population;
                let none = Counts::new(0, 0).ok();
                match population.prior().zip(none) {
                    Some((prior, none)) => Emergence::beta(&Posterior::new(prior, none), factor),
                    None => Emergence::known(factor * population.mean),
                }
            }
        }
    }

    /// The fewest kernels that give the wanted plants as surely as wanted; `None` where not even
    /// [`MOST_OF_AN_EAR`] do.
    pub(super) fn of(&self, estimate: Option<&Estimate>) -> Option<u32> {
        let place = self.place(estimate);
        *self.known[place].get_or_init(|| {
            let Sowing { plants, sureness, .. } = self.sowing;
            self.emergence(place)
                .kernels_for(plants, sureness, MOST_OF_AN_EAR)
        })
    }

    /// What so many kernels are likely to give.
    pub(super) fn told(&self, estimate: Option<&Estimate>, kernels: u32) -> EntrySowing {
        let place = self.place(estimate);
        if let Some(told) = self.told.borrow().get(&(place, kernels)) {
            return *told;
        }
        let emergence = self.emergence(place);
        let at_least = emergence.at_least_each(kernels);
        // The last number of plants that is at least so sure.
        let surely = |probability: f64| {
            let sure = at_least.partition_point(|one| *one >= probability - 1e-12);
            sure.saturating_sub(1) as u32
        };
        let told = EntrySowing {
            needed: self.of(estimate),
            plants: f64::from(kernels) * emergence.mean(),
            plants_low: surely(RANGE[0]),
            plants_high: surely(RANGE[1]),
            probability: at_least.get(self.sowing.plants as usize).copied().unwrap_or(0.0),
            sure_plants: surely(self.sowing.sureness),
        };
        self.told.borrow_mut().insert((place, kernels), told);
        told
    }
}

/// How many kernels are wanted of each kept ear where they are not shared out: as many as the season says, or as the
/// wanted plants take.
#[derive(Debug, Clone)]
pub(super) struct Wanted {
    plant_each: u32,
    remnant: u32,
    needs: Option<Arc<Needs>>,
}

/// Kernels that can be planted of an ear.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Room {
    /// The kernels that are wanted of it, as far as the packet has them above the remnant.
    pub(super) plant: u32,
    /// All above the remnant; `None` for a packet that was never counted.
    pub(super) above: Option<u32>,
}

impl Wanted {
    /// Equal kernels of every ear.
    pub(super) fn equal(season: Option<&Season>) -> Self {
        let (plant_each, remnant) = season.map_or((0, 0), |season| (season.plant_each, season.remnant));
        Self {
            plant_each,
            remnant,
            needs: None,
        }
    }

    /// Kernels for the wanted plants; equal ones without needs.
    pub(super) fn for_a_stand(season: Option<&Season>, needs: Option<Arc<Needs>>) -> Self {
        Self {
            needs,
            ..Self::equal(season)
        }
    }

    /// What the wanted plants take; `None` where equal kernels are planted.
    pub(super) fn needs(&self) -> Option<&Needs> {
        self.needs.as_deref()
    }

    /// Kernels to plant of each ear, where they are equal.
    pub(super) fn plant_each(&self) -> u32 {
        self.plant_each
    }

    /// Kernels to keep back of each ear.
    pub(super) fn remnant(&self) -> u32 {
        self.remnant
    }

    /// Kernels that are wanted of an ear, given its figures if it was scored.
    pub(super) fn of(&self, estimate: Option<&Estimate>) -> u32 {
        match &self.needs {
            None => self.plant_each,
            Some(needs) => needs.of(estimate).unwrap_or(MOST_OF_AN_EAR),
        }
    }

    /// Gives how many kernels of an ear can be planted.
    pub(super) fn room(&self, standing: &Standing) -> Room {
        let above = standing
            .kernels
            .map(|kernels| (kernels - i64::from(self.remnant)).clamp(0, i64::from(u32::MAX)) as u32);
        let estimate = standing.estimate.as_ref();
        let plant = match (above, &self.needs) {
            (Some(above), _) => above.min(self.of(estimate)),
            (None, Some(needs)) => needs.of(estimate).unwrap_or(self.plant_each),
            (None, None) => self.plant_each,
        };
        Room { plant, above }
    }
}

/// One ear and the kernels that the wanted plants take of it.
#[derive(Debug, Clone, PartialEq)]
pub struct EarSowing {
    /// The ear.
    pub ear: EarId,
    /// Its number.
    pub number: u32,
    /// Its likely cold germination in percent; `None` when it was not scored.
    pub likely_percent: Option<f64>,
    /// Kernels that can be planted without touching the remnant; `None` when its kernels were never counted.
    pub above: Option<u32>,
    /// Kernels to plant.
    pub plant: u32,
    /// What they are likely to give, and how many would be needed.
    pub told: EntrySowing,
}

impl EarSowing {
    /// What stands in the way of the wanted plants, in a word or two; nothing where nothing does.
    pub fn limited_by(&self) -> &'static str {
        self.told.limited_by(self.plant)
    }

    /// The likely plants with the range that holds them with a probability of 90 %, such as `22.4 (19 to 25)`.
    pub fn plants(&self) -> String {
        let EntrySowing {
            plants,
            plants_low,
            plants_high,
            ..
        } = self.told;
        format!("{} ({plants_low} to {plants_high})", tenths(plants))
    }

    /// What it gives instead of the wanted plants, such as `15 plants as sure, 20 with 41 %`.
    fn instead(&self, wanted: &Sowing) -> String {
        format!(
            "{} as sure, {} with {}",
            plural(self.told.sure_plants as usize, "plant"),
            wanted.plants,
            chance(self.told.probability)
        )
    }

    /// Says in a sentence or two how many kernels it takes and what they give.
    pub fn sentence(&self, wanted: &Sowing) -> String {
        let needed = match self.told.needed {
            Some(needed) => plural(needed as usize, "kernel"),
            None => format!("more than {MOST_OF_AN_EAR} kernels"),
        };
        let packet = match (self.limited_by(), self.above) {
            ("", None) => " Its kernels were never counted.".to_owned(),
            ("", Some(_)) => String::new(),
            (_, None) => format!(" {} give {}.", self.plant, self.instead(wanted)),
            (_, Some(_)) => format!(
                " Its packet has {} above the remnant: {}.",
                self.plant,
                self.instead(wanted)
            ),
        };
        let unscored = if self.likely_percent.is_none() {
            " It has no final count: any ear of the season stands in."
        } else {
            ""
        };
        format!("For {}: {needed}.{packet}{unscored}", wanted.text())
    }
}

/// The kernels of each kept ear where plants are wanted of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Sowings {
    /// What is wanted of each ear.
    pub wanted: Sowing,
    /// The kept ears, by number.
    pub ears: Vec<EarSowing>,
    /// Why the kernels cannot be reckoned, a sentence.
    pub refusal: Option<String>,
}

impl Sowings {
    /// Kernels to plant in all.
    pub fn kernels(&self) -> u64 {
        self.ears.iter().map(|one| u64::from(one.plant)).sum()
    }

    /// The ears that cannot give the wanted plants as surely as wanted.
    pub fn short(&self) -> impl Iterator<Item = &EarSowing> {
        self.ears.iter().filter(|one| !one.limited_by().is_empty())
    }

    /// Says how the kernels are reckoned: `Kernels of each ear for at least 20 plants with a probability of 90 %.`
    pub fn way(&self) -> String {
        format!("Kernels of each ear for {}.", self.wanted.text())
    }

    /// Says what it comes to, a sentence each.
    pub fn sentences(&self) -> Vec<String> {
        let mut said = Vec::new();
        let plants = self.ears.iter().map(|one| one.plant);
        if let Some((least, most)) = plants.clone().min().zip(plants.max()) {
            let each = if least == most {
                format!("{most} of each")
            } else {
                format!("from {least} to {most} of an ear")
            };
            let all = plural(self.ears.len(), "ear");
            said.push(format!("{} kernels of {all}, {each}.", self.kernels()));
        }
        said.extend(self.shortfall());
        said
    }

    /// Names the ears that cannot give the wanted plants, with what they can.
    pub fn shortfall(&self) -> Option<String> {
        let short: Vec<String> = self
            .short()
            .map(|one| format!("ear {} ({})", one.number, one.instead(&self.wanted)))
            .collect();
        (!short.is_empty()).then(|| {
            format!(
                "{} without kernels enough for {}: {}.",
                are(short.len(), "ear"),
                self.wanted.text(),
                some_of(&short)
            )
        })
    }

    /// Says what is taken for granted.
    pub fn assumptions(&self) -> String {
        let unscored = self
            .ears
            .iter()
            .filter(|one| one.likely_percent.is_none())
            .count();
        let unscored = match unscored {
            0 => String::new(),
            many => format!(
                " {} without a final count: any ear of the season stands in.",
                are(many, "ear")
            ),
        };
        let field = if self.wanted.field_factor < 1.0 {
            format!(
                "of the kernels that germinate in a tray {} are taken to become plants",
                percent(100.0 * self.wanted.field_factor)
            )
        } else {
            "every kernel that germinates in a tray is taken to become a plant; a factor below 1 says that fewer do"
                .to_owned()
        };
        format!(
            "A cold tray is not a field: {field}. Each kernel stands for itself, and never less than the remnant stays in a \
             packet.{unscored}"
        )
    }
}

/// What an ear takes, whether it is kept or not; `None` where equal kernels are planted.
pub(super) fn of_ear(standing: &Standing, wanted: &Wanted) -> Option<EarSowing> {
    let needs = wanted.needs()?;
    let room = wanted.room(standing);
    Some(EarSowing {
        ear: standing.ear,
        number: standing.number,
        likely_percent: standing.estimate.map(|one| one.likely_percent),
        above: room.above,
        plant: room.plant,
        told: needs.told(standing.estimate.as_ref(), room.plant),
    })
}

/// Reckons the kernels of the kept ears.
pub(super) fn compute(choice: &Choice, sowing: Sowing, wanted: &Wanted) -> Sowings {
    let refusal = if wanted.needs().is_none() {
        Some(
            "No ear has a final count, so nobody can tell how many kernels a stand takes. Equal kernels are planted."
                .to_owned(),
        )
    } else if choice.summary.kept == 0 {
        Some("No ear is kept, so no kernels are planted.".to_owned())
    } else {
        None
    };
    Sowings {
        wanted: sowing,
        ears: choice.kept().filter_map(|one| of_ear(one, wanted)).collect(),
        refusal,
    }
}

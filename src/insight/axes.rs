//! What the two axes of the plot of Selection can show: its name and unit, an ear's value, the wanted direction.

use super::weather::heat_units_c;
use super::{Standing, Vertical, percent_of};
use crate::model::{Better, Project, TraitId};

/// Something that is known of ears as a number, along an axis of the plot.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Axis {
    /// Days from planting to maturity.
    MaturityDays,
    /// Heat units from planting to maturity, in the project's unit.
    HeatUnits,
    /// Cold germination in percent, as counted or likely.
    Germination(Vertical),
    /// Mean vigor grade, 0 to 9.
    Vigor,
    /// A trait of the project, in its own unit.
    Trait(TraitId),
    /// Kernels in the packets of an ear.
    Kernels,
}

impl Axis {
    /// What lies across and up at first.
    pub const USUAL: [Self; 2] = [Self::MaturityDays, Self::Germination(Vertical::Observed)];

    /// All axes that the project has.
    pub fn all(project: &Project) -> Vec<Self> {
        let mut all = vec![Self::MaturityDays];
        if project
            .ears
            .iter()
            .any(|ear| heat_units_c(project, ear).is_some())
        {
            all.push(Self::HeatUnits);
        }
        all.extend([
            Self::Germination(Vertical::Observed),
            Self::Germination(Vertical::Likely),
            Self::Vigor,
            Self::Kernels,
        ]);
        all.extend(project.traits.iter().map(|one| Self::Trait(one.id)));
        all
    }

    /// Says whether the project still has it: a trait may have been taken back.
    pub fn exists(self, project: &Project) -> bool {
        match self {
            Self::Trait(id) => project.trait_of(id).is_some(),
            _ => true,
        }
    }

    /// Names it without the unit.
    pub fn name(self, project: &Project) -> String {
        match self {
            Self::MaturityDays => "Maturity days".to_owned(),
            Self::HeatUnits => "Heat units to maturity".to_owned(),
            Self::Germination(Vertical::Observed) => "Cold germination as counted".to_owned(),
            Self::Germination(Vertical::Likely) => "Cold germination, likely".to_owned(),
            Self::Vigor => "Vigor grade".to_owned(),
            Self::Trait(id) => project
                .trait_of(id)
                .map_or_else(|| "Trait".to_owned(), |one| one.name.clone()),
            Self::Kernels => "Kernels in packets".to_owned(),
        }
    }

    /// Names it with the unit, as it stands beside the axis.
    pub fn label(self, project: &Project) -> String {
        let name = self.name(project);
        match self {
            Self::Germination(_) => format!("{name}, %"),
            Self::HeatUnits => format!("{name}, {} days", project.about.units.temperature.sign()),
            Self::Trait(id) => match project.trait_of(id) {
                Some(one) if !one.unit.is_empty() => format!("{name}, {}", one.unit),
                _ => name,
            },
            _ => name,
        }
    }

    /// [`Axis::label`] where there is little room.
    pub fn short_label(self, project: &Project) -> String {
        match self {
            Self::Germination(Vertical::Observed) => "Counted, %".to_owned(),
            Self::Germination(Vertical::Likely) => "Likely, %".to_owned(),
            Self::Kernels => "Kernels".to_owned(),
            Self::HeatUnits => "Heat units".to_owned(),
            _ => self.label(project),
        }
    }

    /// Writes a value with its unit, such as `84 days`.
    pub fn text(self, project: &Project, value: f64) -> String {
        match self {
            Self::MaturityDays => format!("{} days", rounded(value, 1)),
            Self::HeatUnits => format!(
                "{} {} days",
                rounded(value, 0),
                project.about.units.temperature.sign()
            ),
            Self::Germination(_) => format!("{} %", rounded(value, 1)),
            Self::Vigor => format!("grade {}", rounded(value, 1)),
            Self::Kernels => format!("{value:.0} kernels"),
            Self::Trait(id) => match project.trait_of(id) {
                Some(one) if one.unit.is_empty() => one.format(value),
                Some(one) => format!("{} {}", one.format(value), one.unit),
                None => value.to_string(),
            },
        }
    }

    /// Gives the value of an ear; `None` when it is not known.
    pub fn value(self, project: &Project, standing: &Standing) -> Option<f64> {
        match self {
            Self::MaturityDays => standing.maturity_days.map(f64::from),
            Self::HeatUnits => {
                let heat = heat_units_c(project, project.ears.get(standing.ear)?)?;
                Some(project.about.units.temperature.difference_of_celsius(heat))
            }
            Self::Germination(vertical) => percent_of(standing, vertical),
            Self::Vigor => standing.estimate.as_ref().and_then(|estimate| estimate.vigor),
            Self::Trait(id) => project.ears.get(standing.ear)?.values.get(&id).copied(),
            Self::Kernels => standing.kernels.map(|kernels| kernels as f64),
        }
    }

    /// Says in which direction ears are better.
    pub fn better(self, project: &Project) -> Better {
        match self {
            Self::MaturityDays | Self::HeatUnits => Better::Lower,
            Self::Germination(_) | Self::Vigor | Self::Kernels => Better::Higher,
            Self::Trait(id) => project.trait_of(id).map_or(Better::Neither, |one| one.better),
        }
    }

    /// Says whether only whole numbers are possible.
    pub fn is_whole(self, project: &Project) -> bool {
        match self {
            Self::MaturityDays | Self::Kernels => true,
            Self::HeatUnits | Self::Germination(_) | Self::Vigor => false,
            Self::Trait(id) => project.trait_of(id).is_some_and(|one| one.decimals == 0),
        }
    }

    /// The step by which a cutoff on it is moved, in its unit.
    pub fn step(self, project: &Project) -> f64 {
        match self {
            Self::MaturityDays | Self::HeatUnits | Self::Germination(_) | Self::Kernels => 1.0,
            Self::Vigor => 0.1,
            Self::Trait(id) => {
                let decimals = project.trait_of(id).map_or(0, |one| one.decimals);
                10_f64.powi(-i32::from(decimals))
            }
        }
    }

    /// Which percent it shows, if it is cold germination.
    pub fn germination(self) -> Option<Vertical> {
        match self {
            Self::Germination(vertical) => Some(vertical),
            _ => None,
        }
    }

    /// Least and most value of these ears; `None` when it is known of none.
    pub fn range(self, project: &Project, standings: &[Standing]) -> Option<[f64; 2]> {
        span(standings.iter().filter_map(|one| self.value(project, one)))
    }
}

/// Least and greatest of some values; `None` when there are none.
pub(super) fn span(values: impl Iterator<Item = f64>) -> Option<[f64; 2]> {
    values.fold(None, |span, value| match span {
        None => Some([value; 2]),
        Some([least, most]) => Some([value.min(least), value.max(most)]),
    })
}

/// Rounds to so many digits after the point, without zeros at the end.
fn rounded(value: f64, digits: i32) -> f64 {
    let scale = 10_f64.powi(digits);
    // Adding nothing turns a rounded -0 into 0.
    (value * scale).round() / scale + 0.0
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::model::{About, Command, Document, EarId, Stamp, Stand, Trait};

    fn project() -> Project {
        let mut document = Document::new(Project::new(About::new("Trial plot", "trial")));
        let weight = Command::AddTrait(Trait {
            id: TraitId(1),
            name: "Ear weight".to_owned(),
            unit: "g".to_owned(),
            least: None,
            most: None,
            better: Better::Higher,
            decimals: 2,
            anchors: std::collections::BTreeMap::new(),
        });
        let stamp = Stamp {
            at: jiff::civil::datetime(2026, 11, 25, 9, 0, 0, 0),
            by: "Test".to_owned(),
        };
        document.run(&weight, &stamp).unwrap();
        document.project().clone()
    }

    #[test]
    fn names_units_and_steps() {
        let project = project();
        let weight = Axis::Trait(TraitId(1));
        assert_eq!(weight.label(&project), "Ear weight, g");
        assert_eq!(weight.text(&project, 12.345), "12.35 g");
        assert!((weight.step(&project) - 0.01).abs() < 1e-12);
        assert_eq!(weight.better(&project), Better::Higher);
        assert!(!weight.is_whole(&project) && Axis::MaturityDays.is_whole(&project));
        let counted = Axis::Germination(Vertical::Observed);
        assert_eq!(counted.label(&project), "Cold germination as counted, %");
        assert_eq!(counted.text(&project, 66.666), "66.7 %");
        assert_eq!(Axis::MaturityDays.text(&project, 84.0), "84 days");
        assert_eq!(Axis::all(&project).last(), Some(&weight));
        assert!(weight.exists(&project) && !Axis::Trait(TraitId(9)).exists(&project));
    }

    #[test]
    fn what_is_not_known_has_no_value_and_no_range() {
        let project = project();
        let standing = |number, days, kernels| Standing {
            ear: EarId(number),
            number,
            row: None,
            stand: Stand::NotScored,
            probability: None,
            estimate: None,
            maturity_days: days,
            kernels,
            why: Vec::new(),
        };
        let ears = [standing(1, Some(80), Some(40)), standing(2, None, Some(-3))];
        for axis in [
            Axis::Germination(Vertical::Likely),
            Axis::Vigor,
            Axis::Trait(TraitId(1)),
        ] {
            assert_eq!(axis.range(&project, &ears), None, "{axis:?}");
        }
        assert_eq!(Axis::MaturityDays.range(&project, &ears), Some([80.0, 80.0]));
        assert_eq!(Axis::Kernels.range(&project, &ears), Some([-3.0, 40.0]));
    }
}

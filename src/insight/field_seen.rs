//! What was seen in a field: its stand beside the trays, its flowering beside that of the neighbours, the rounds of
//! detasselling.

use super::field_plan::FieldView;
use super::words::{long_length, plural, tenths};
use crate::model::{EarId, FieldContent, FieldPlan, LengthUnit, Neighbour, PlantingList};
use crate::stats::correlation::{Correlation, FEWEST_PAIRS, correlation};
use crate::stats::{Confidence, Counts, wilson};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// The stand in the field beside what the trays said.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldAgainstTray {
    /// The ears whose stand was counted and that were scored before, by number.
    pub ears: Vec<FieldEar>,
    /// How closely the two go together; `None` for too few ears, or where one of the two does not vary.
    pub correlation: Option<Correlation>,
    /// Mean of the field over the mean of the trays; `None` without ears.
    pub field_factor: Option<f64>,
    /// What that says, a sentence each.
    pub sentences: Vec<String>,
}

/// An ear in the field and in the trays.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FieldEar {
    /// The ear.
    pub ear: EarId,
    /// Its number.
    pub number: u32,
    /// What its cold germination was likely to be when the list was frozen, in percent.
    pub likely_percent: f64,
    /// Plants that stood, over all its rows.
    pub plants: u32,
    /// Kernels of these rows.
    pub kernels: u32,
    /// Plants for each 100 kernels, and its 90 % interval.
    pub field_percent: f64,
    /// Lower end of the interval, in percent.
    pub low_percent: f64,
    /// Upper end of the interval, in percent.
    pub high_percent: f64,
}

/// What the field of an earlier season made of what its trays said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct EarlierField {
    /// The season's year.
    pub year: i16,
    /// Mean of the field over the mean of the trays.
    pub factor: f64,
    /// Ears whose stand was counted.
    pub ears: usize,
}

impl EarlierField {
    /// The field of a season, where the stands of ears enough were counted.
    pub(super) fn new(year: i16, against: &FieldAgainstTray) -> Option<Self> {
        let ears = against.ears.len();
        let factor = against.field_factor.filter(|_| ears >= FEWEST_PAIRS)?;
        Some(Self { year, factor, ears })
    }

    /// Says what was seen, such as `The ears of 2024 stood in the field with a factor of 0.81 (34 ears).`
    pub fn sentence(&self) -> String {
        format!(
            "The ears of {} stood in the field with a factor of {:.2} ({}).",
            self.year,
            self.factor,
            plural(self.ears, "ear")
        )
    }
}

/// Compares the stand of a field with what the trays said when the list was frozen.
pub(super) fn against_tray(list: &PlantingList, view: &FieldView) -> FieldAgainstTray {
    let mut stands: BTreeMap<EarId, (u32, u32)> = BTreeMap::new();
    let (mut check, mut losses) = ((0_u32, 0_u32), 0);
    for row in &view.rows {
        let Some(stand) = row.seen.stand else { continue };
        losses += usize::from(row.seen.loss.is_some());
        let sums = match row.content {
            FieldContent::Ear(ear) => stands.entry(ear).or_default(),
            FieldContent::Check => &mut check,
            FieldContent::Bulk => continue,
        };
        *sums = (sums.0.saturating_add(stand), sums.1.saturating_add(row.kernels));
    }
    let ears: Vec<FieldEar> = list
        .entries
        .iter()
        .chain(&list.reserves)
        .filter_map(|entry| {
            let (plants, kernels) = stands.get(&entry.ear).copied()?;
            // More plants than kernels are said to be wrong elsewhere; here they stand for all.
            let counts = Counts::new(plants.min(kernels), kernels).ok()?;
            let interval = wilson(counts, Confidence::P90)?;
            Some(FieldEar {
                ear: entry.ear,
                number: entry.number,
                likely_percent: entry.likely_percent?,
                plants,
                kernels,
                field_percent: 100.0 * counts.rate()?,
                low_percent: 100.0 * interval.low,
                high_percent: 100.0 * interval.high,
            })
        })
        .collect();
    let pairs: Vec<(f64, f64)> = ears
        .iter()
        .map(|ear| (ear.likely_percent, ear.field_percent))
        .collect();
    let found = if pairs.len() < FEWEST_PAIRS {
        None
    } else {
        correlation(&pairs, Confidence::P95)
    };
    let mean = |of: fn(&(f64, f64)) -> f64| pairs.iter().map(of).sum::<f64>() / pairs.len() as f64;
    let (tray, field) = (mean(|pair| pair.0), mean(|pair| pair.1));
    let field_factor = (!pairs.is_empty() && tray > 0.0).then(|| field / tray);
    let mut sentences = Vec::new();
    match (pairs.len(), &found) {
        (0, _) => sentences.push(
            "No stand is noted yet. Count the plants of all rows at the same age, before any are pulled.".to_owned(),
        ),
        (count, _) if count < FEWEST_PAIRS => sentences.push(format!(
            "Too few to compare: the stand of {} is noted, and {FEWEST_PAIRS} are needed to tell whether field and trays go together.",
            plural(count, "ear")
        )),
        (count, None) => sentences.push(format!(
            "The stand of {} is noted, but field or trays do not vary, so nothing can be said of how they go together.",
            plural(count, "ear")
        )),
        (count, Some(found)) => sentences.push(format!(
            "Field and trays: correlation {:.2} over {}, 95 % interval {:.2} to {:.2}. {}",
            found.r,
            plural(count, "ear"),
            found.interval.low,
            found.interval.high,
            meaning(found)
        )),
    }
    if let Some(factor) = field_factor {
        sentences.push(format!(
            "On average {} of 100 kernels stood in the field, where the trays let {} be expected: a field factor of {factor:.2}.",
            tenths(field),
            tenths(tray)
        ));
    }
    if check.1 > 0 {
        sentences.push(format!(
            "Check rows: {} of {} kernels stood, {} %.",
            check.0,
            check.1,
            tenths(100.0 * f64::from(check.0) / f64::from(check.1))
        ));
    }
    if losses > 0 {
        sentences.push(format!(
            "{} with a loss noted {}: a loss by birds or rain is not the ear's.",
            plural(losses, "row"),
            if losses == 1 {
                "is counted as it stands"
            } else {
                "are counted as they stand"
            }
        ));
    }
    FieldAgainstTray {
        ears,
        correlation: found,
        field_factor,
        sentences,
    }
}

fn meaning(found: &Correlation) -> &'static str {
    if found.interval.low > 0.0 {
        "Ears that did well in the trays did well in the field."
    } else if found.interval.high < 0.0 {
        "Ears that did well in the trays did worse in the field: look for swapped packets or rows."
    } else {
        "It may be none at all."
    }
}

/// When the rows flower, and who else does.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Flowering {
    /// First and last day on which half of a row's plants showed silk.
    pub silk: Option<(Date, Date)>,
    /// First and last day on which half of a row's plants shed pollen, of rows that keep their tassels.
    pub pollen: Option<(Date, Date)>,
    /// What is to be known, a sentence each; those of neighbours in their order.
    pub sentences: Vec<String>,
}

/// Looks at the days of flowering that were noted. `planted` is the day of planting, if known.
pub(super) fn flowering(
    plan: &FieldPlan,
    view: &FieldView,
    planted: Option<Date>,
    unit: LengthUnit,
) -> Flowering {
    let span = |days: Vec<Date>| Some((days.iter().min().copied()?, days.iter().max().copied()?));
    let silk = span(view.rows.iter().filter_map(|row| row.seen.silk_on).collect());
    let shedding = view.rows.iter().filter(|row| !row.detasselled);
    let pollen = span(shedding.filter_map(|row| row.seen.pollen_on).collect());
    let mut sentences = Vec::new();
    let rows = view.rows.iter().filter(|row| row.seen.silk_on.is_some()).count();
    match silk {
        None => sentences.push("No silk day is noted yet.".to_owned()),
        Some((first, last)) => {
            let after = planted.map(|planted| {
                format!(
                    ", {} to {} days after planting",
                    (first - planted).get_days(),
                    (last - planted).get_days()
                )
            });
            sentences.push(format!(
                "Half of the plants showed silk {}{}, in {} of {}.",
                days_text(first, last),
                after.unwrap_or_default(),
                rows,
                plural(view.rows.len(), "row")
            ));
        }
    }
    let gaps: Vec<i32> = view
        .rows
        .iter()
        .filter_map(|row| Some((row.seen.silk_on? - row.seen.pollen_on?).get_days()))
        .collect();
    if !gaps.is_empty() {
        let mean = gaps.iter().map(|gap| f64::from(*gap)).sum::<f64>() / gaps.len() as f64;
        sentences.push(format!(
            "From pollen to silk: {} days on average, over {}.",
            tenths(mean),
            plural(gaps.len(), "row")
        ));
    }
    sentences.extend(
        plan.neighbours
            .iter()
            .map(|neighbour| overlap(neighbour, silk, unit)),
    );
    Flowering {
        silk,
        pollen,
        sentences,
    }
}

/// Says `from … to …`, or `on …` for one day.
fn days_text(from: Date, to: Date) -> String {
    if from == to {
        format!("on {from}")
    } else {
        format!("from {from} to {to}")
    }
}

/// Says whether a neighbour sheds while the rows show silk.
fn overlap(neighbour: &Neighbour, silk: Option<(Date, Date)>, unit: LengthUnit) -> String {
    let away = neighbour
        .distance_m
        .map(|metres| format!("{} away", long_length(1000.0 * metres, unit)));
    let direction = Some(neighbour.direction.clone()).filter(|direction| !direction.is_empty());
    let parts: Vec<String> = [Some(neighbour.what.clone()), away, direction]
        .into_iter()
        .flatten()
        .collect();
    let who = parts.join(", ");
    let (from, to) = match (neighbour.sheds_from, neighbour.sheds_to) {
        (None, None) => return format!("{who}: no day of shedding is noted."),
        (Some(from), to) => (from, to.unwrap_or(from)),
        (None, Some(to)) => (to, to),
    };
    let shed = days_text(from, to);
    let Some((first, last)) = silk else {
        return format!("{who}: sheds {shed}; no silk day of yours is noted yet.");
    };
    let (begin, end) = (from.max(first), to.min(last));
    let apart = |from: Date, to: Date| (to - from).get_days();
    if begin <= end {
        let days = apart(begin, end) + 1;
        return format!(
            "{who}: sheds {shed}, an overlap of {} with your silk.",
            plural(days as usize, "day")
        );
    }
    let gap = if to < first {
        apart(to, first)
    } else {
        apart(last, from)
    };
    format!(
        "{who}: sheds {shed}, no overlap; {} apart from your silk.",
        plural(gap as usize, "day")
    )
}

/// Says how far detasselling has come; `None` where no row is to be detasselled and no round was noted.
pub(super) fn detasselling(plan: &FieldPlan, view: &FieldView, today: Date) -> Option<String> {
    let rows = view.rows.iter().filter(|row| row.detasselled).count();
    let Some(last) = plan.rounds.iter().max_by_key(|round| round.on) else {
        return (rows > 0).then(|| {
            format!(
                "{} to detassel; no round is noted yet. Pull before they shed, every day while they come, tillers too.",
                plural(rows, "row")
            )
        });
    };
    let (pulled, shed) = plan.rounds.iter().fold((0_u64, 0_u64), |(pulled, shed), round| {
        (pulled + u64::from(round.pulled), shed + u64::from(round.shed))
    });
    let ago = match (today - last.on).get_days() {
        0 => "today".to_owned(),
        1 => "yesterday".to_owned(),
        days if days > 1 => format!("{days} days ago"),
        _ => format!("on {}", last.on),
    };
    let late = if shed == 0 {
        "none had shed already".to_owned()
    } else {
        format!("{shed} had shed already")
    };
    Some(format!(
        "{} of {}, the last {ago}: {pulled} plants pulled, {late}.",
        plural(plan.rounds.len(), "round"),
        plural(rows, "row")
    ))
}

//! What the seasons brought, in sentences.

use super::super::price::{COMES_ALONG, signed, with_unit};
use super::super::words::{lower_first, percent, plural};
use super::{Course, Cycle, Followed, LotCourse, Response};
use crate::genetics::{CheckSpread, Span, Uncertain};

/// It is said what so many times as many check cells would tell.
const MORE_CELLS: f64 = 4.0;
/// Near the ends of the scale points lie closer together than in its middle. Common practice, no source.
const SQUEEZED: [f64; 2] = [10.0, 90.0];

/// Says `2023, 2024 and 2025`.
fn listed(parts: &[String]) -> String {
    match parts {
        [first @ .., last] if !first.is_empty() => format!("{} and {last}", first.join(", ")),
        _ => parts.concat(),
    }
}

/// Says a change with its interval, such as `+5.1 points (95 %: +0.4 to +9.8)`.
fn change_text(change: Uncertain, unit: &str, decimals: usize) -> String {
    let Span { low, high } = change.interval_95();
    format!(
        "{} (95 %: {} to {})",
        with_unit(signed(change.value, decimals), unit),
        signed(low, decimals),
        signed(high, decimals)
    )
}

/// Says a share with its interval, such as `0.12 (95 %: -0.05 to 0.29)`.
fn share_text(share: Uncertain) -> String {
    let Span { low, high } = share.interval_95();
    format!("{:.2} (95 %: {low:.2} to {high:.2})", share.value)
}

fn chance(change: Uncertain) -> &'static str {
    if change.may_be_zero() {
        " It may be nothing at all."
    } else {
        ""
    }
}

impl Course {
    /// The unit of a difference.
    pub fn unit_of_change(&self) -> &str {
        if self.what == Followed::Germination {
            "points"
        } else {
            &self.unit
        }
    }

    /// Says a change with its interval and unit, such as `-1.6 days (95 %: -2.4 to -0.8)`.
    pub fn change_text(&self, change: Uncertain) -> String {
        change_text(change, self.unit_of_change(), self.decimals)
    }

    /// Says whether a choice asked for it, or that it came along: `no, came along`.
    pub fn asked_text(&self) -> &'static str {
        if self.came_along() {
            "no, came along"
        } else if self.is_asked() {
            "yes"
        } else {
            "no"
        }
    }

    /// Says a mean with its unit.
    pub fn mean_text(&self, value: f64) -> String {
        let decimals = self.decimals;
        with_unit(format!("{value:.decimals$}"), &self.unit)
    }
}

/// The figures of a season as texts, empty where there is none.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ResponseLine {
    /// Its year.
    pub year: i16,
    /// Scored ears.
    pub ears: String,
    /// Mean cold germination as counted.
    pub counted: String,
    /// Its 95 % interval, in percent.
    pub counted_95: String,
    /// What the check lots germinated beside them; of several each.
    pub check: String,
    /// The mean beside the check.
    pub beside: String,
    /// What changed since the first season of the chain, with its interval.
    pub since: String,
    /// How hard its list selected.
    pub selected: String,
    /// What of that was realised.
    pub realised: String,
}

impl Response {
    /// How many seasons have scored ears.
    pub fn scored_seasons(&self) -> usize {
        self.scored().len()
    }

    /// The seasons that have scored ears, as a table.
    pub fn lines(&self) -> Vec<ResponseLine> {
        self.scored().into_iter().filter_map(|at| self.line(at)).collect()
    }

    fn line(&self, at: usize) -> Option<ResponseLine> {
        let course = &self.germination;
        let mean = course.means[at]?;
        let Span { low, high } = mean.mean.interval_95();
        let checks = self.lots.iter().filter_map(|lot| lot.seasons[at]);
        let checks: Vec<String> = checks.map(|lot| percent(lot.percent.value)).collect();
        let adjusted = course.adjusted(at);
        let beside = if self.scored_seasons() > 1 {
            adjusted.map_or_else(|| "no common check".to_owned(), |one| percent(one.value))
        } else {
            String::new()
        };
        let since = adjusted.and_then(|one| one.since);
        let cycle = self.cycles.iter().find(|cycle| cycle.from == at);
        let selected = cycle.and_then(|cycle| cycle.differential.as_ref().ok());
        let realised = cycle.and_then(|cycle| cycle.realised.as_ref().ok());
        Some(ResponseLine {
            year: self.year(at),
            ears: mean.count.to_string(),
            counted: percent(mean.mean.value),
            counted_95: format!("{:.0} to {:.0}", low.max(0.0), high.min(100.0)),
            check: checks.join(", "),
            beside,
            since: since.map_or_else(String::new, |since| course.change_text(since)),
            selected: selected.map_or_else(String::new, |one| format!("{} points", signed(one.points, 1))),
            realised: realised.map_or_else(String::new, |one| share_text(*one)),
        })
    }

    /// The places of the seasons whose ears were scored.
    fn scored(&self) -> Vec<usize> {
        let means = self.germination.means.iter().enumerate();
        means
            .filter(|(_, mean)| mean.is_some())
            .map(|(at, _)| at)
            .collect()
    }

    fn years(&self, seasons: &[usize]) -> String {
        let years: Vec<String> = seasons.iter().map(|at| self.year(*at).to_string()).collect();
        listed(&years)
    }

    /// Says how the population moved in cold germination, as counted and beside the check, a sentence each.
    pub fn sentences(&self) -> Vec<String> {
        let scored = self.scored();
        let (Some(first), Some(last)) = (scored.first(), scored.last()) else {
            return vec![
                "No season has scored ears yet. What selection brings is seen from the second tested season on; put the same check lot into the trays of each."
                    .to_owned(),
            ];
        };
        let course = &self.germination;
        if first == last {
            return vec![format!(
                "Only {} is scored. What selection brought is seen when the next season is tested too, with the same check lot in its trays.",
                self.year(*first)
            )];
        }
        let means = scored.iter().filter_map(|at| {
            let mean = course.means[*at]?;
            Some(format!("{} {}", self.year(*at), percent(mean.mean.value)))
        });
        let raw = course.raw_change(*first, *last);
        let mut said = vec![format!(
            "As counted: {}; from {} to {} {} points, the doing of the seasons and their tests included.",
            means.collect::<Vec<_>>().join(", "),
            self.year(*first),
            self.year(*last),
            raw.map_or_else(String::new, |raw| signed(raw.value, 1))
        )];
        for chain in &course.chains {
            said.extend(self.chain_sentences(&chain.seasons));
        }
        said.extend(self.gaps(&scored));
        said
    }

    fn chain_sentences(&self, seasons: &[usize]) -> Vec<String> {
        let course = &self.germination;
        let (Some(first), Some(last)) = (seasons.first(), seasons.last()) else {
            return Vec::new();
        };
        let Some(change) = course.change(*first, *last) else {
            return Vec::new();
        };
        let lots: Vec<String> = self
            .lots
            .iter()
            .filter(|lot| seasons.iter().filter(|at| lot.seasons[**at].is_some()).count() > 1)
            .map(|lot| lot.name.clone())
            .collect();
        let each = match seasons.len() - 1 {
            1 => String::new(),
            steps => format!(
                ", {} from one of them to the next",
                signed(change.value / steps as f64, 1)
            ),
        };
        let mut said = vec![format!(
            "Beside the check ({}) in the trays of {}: {} from {} to {}{each}.{}",
            listed(&lots),
            self.years(seasons),
            course.change_text(change),
            self.year(*first),
            self.year(*last),
            chance(change)
        )];
        said.extend(self.with_more_cells(*first, *last, change));
        if let Some(raw) = course.raw_change(*first, *last) {
            let rest = raw.value - change.value;
            if rest.abs() >= 1.0 {
                said.push(format!(
                    "The other {} points are no gain of the population: the check moved by them too.",
                    signed(rest, 1)
                ));
            }
        }
        said
    }

    /// Says how much better a change would be known with more check cells, where most of what is not known is theirs.
    fn with_more_cells(&self, first: usize, last: usize, change: Uncertain) -> Option<String> {
        // Of several checks in a season the best known counts.
        let of = |season: usize| {
            let beside = self.germination.beside.iter();
            let here = beside.filter(|one| one.season == season).map(|one| one.beside);
            here.min_by(|one, other| one.above.variance.total_cmp(&other.above.variance))
        };
        let checks = of(first)?.check.variance + of(last)?.check.variance;
        if checks <= 0.5 * change.variance {
            return None;
        }
        let more = Uncertain {
            variance: change.variance - checks * (1.0 - 1.0 / MORE_CELLS),
            ..change
        };
        let half = |one: Uncertain| 0.5 * (one.interval_95().high - one.interval_95().low);
        Some(format!(
            "Most of what is not known of it is the check's: it is known to within {:.0} points, with {} times as many check cells it would be {:.0}.",
            half(change),
            MORE_CELLS,
            half(more)
        ))
    }

    /// Says between which seasons nothing can be told.
    fn gaps(&self, scored: &[usize]) -> Vec<String> {
        let gaps: Vec<&[usize]> = scored
            .windows(2)
            .filter(|pair| self.germination.change(pair[0], pair[1]).is_none())
            .collect();
        if gaps.is_empty() {
            return Vec::new();
        }
        let pairs: Vec<String> = gaps
            .iter()
            .map(|pair| format!("{} with {}", self.year(pair[0]), self.year(pair[1])))
            .collect();
        vec![format!(
            "No common check links {}: nothing is said of what changed between them. A check lot counts by its name; put one of the same name into the trays of both.",
            listed(&pairs)
        )]
    }

    /// Says what the check lots themselves did, a sentence or two each.
    pub fn lot_sentences(&self) -> Vec<String> {
        self.lots.iter().map(|lot| self.lot_sentence(lot)).collect()
    }

    fn lot_sentence(&self, lot: &LotCourse) -> String {
        let seasons = lot.seasons.iter().enumerate();
        let means: Vec<String> = seasons
            .filter_map(|(at, mean)| {
                let mean = (*mean)?;
                let age = match mean.years {
                    0 => String::new(),
                    years => format!(", {} on", plural(usize::from(years.unsigned_abs()), "year")),
                };
                Some(format!(
                    "{} {} ({}{age})",
                    self.year(at),
                    percent(mean.percent.value),
                    plural(mean.cells, "cell")
                ))
            })
            .collect();
        let head = format!("{}: {}", lot.name, means.join("; "));
        let Some((first, last)) = lot.ends() else {
            return format!("{head}. One season tells nothing of how it changes.");
        };
        let Some(change) = lot.change(first, last) else {
            return format!("{head}.");
        };
        let text = change_text(change, "points", 1);
        if change.may_be_zero() {
            return format!(
                "{head}: {text}, no clear change. If it aged while the tests grew milder, nobody would see it."
            );
        }
        if change.value > 0.0 {
            format!(
                "{head}: {text}. Seed does not get better by lying, so the tests grew milder, or the lot is not the same. If it aged besides, the population gained less than it seems."
            )
        } else {
            format!(
                "{head}: {text}. It aged, or the tests grew harsher; one lot cannot tell which. If it aged, the population gained less than it seems. Put a fresh lot beside the old one for a season."
            )
        }
    }

    /// Says what of the selection was realised, a sentence or two for each cycle.
    pub fn realised_sentences(&self) -> Vec<String> {
        let mut said: Vec<String> = self
            .cycles
            .iter()
            .filter(|cycle| self.germination.means[cycle.from].is_some())
            .filter(|cycle| self.germination.means[cycle.to].is_some())
            .map(|cycle| self.cycle_sentence(cycle))
            .collect();
        if let Some(all) = &self.cumulated {
            let seasons: Vec<usize> = all.seasons.iter().map(|(season, _)| *season).collect();
            let sum = all.seasons.last().map_or(0.0, |(_, sum)| *sum);
            said.push(format!(
                "Over {}: {} points of selection together, realised heritability {}.{}",
                self.years(&seasons),
                signed(sum, 1),
                share_text(all.realised),
                warning(all.realised)
            ));
        }
        said
    }

    fn cycle_sentence(&self, cycle: &Cycle) -> String {
        let (from, to) = (self.year(cycle.from), self.year(cycle.to));
        let Ok(differential) = &cycle.differential else {
            return match &cycle.realised {
                Err(why) => format!("{from} to {to}: {}", lower_first(why)),
                Ok(_) => String::new(),
            };
        };
        let selected = format!(
            "{from} to {to}: the {} of list {} of {from} were counted {} on average by kernels planted, all ears {}: {} points of selection",
            plural(differential.ears, "scored ear"),
            differential.version,
            percent(differential.planted_percent),
            percent(differential.all_percent),
            signed(differential.points, 1)
        );
        match (&cycle.realised, cycle.response) {
            (Ok(realised), Some(response)) => format!(
                "{selected}. Response beside the check {}: realised heritability {}.{}",
                self.germination.change_text(response),
                share_text(*realised),
                warning(*realised)
            ),
            (Err(why), _) => format!("{selected}. {why}"),
            (Ok(_), None) => selected,
        }
    }

    /// Says what came along unasked, a sentence each; accidental earliness first.
    pub fn drift_sentences(&self) -> Vec<String> {
        let mut said = Vec::new();
        for course in self.traits.iter().filter(|one| one.is_accidental_earliness()) {
            said.extend(self.earliness_sentence(course));
        }
        let others = self.came_along().filter(|one| !one.is_accidental_earliness());
        said.extend(others.filter_map(|course| {
            let ((first, last), deviations) = (course.ends()?, course.deviations()?);
            let change = course.raw_change(first, last)?;
            Some(format!(
                "{}: {} from {} to {}, {} SD. Nothing asked for it.{}",
                course.name,
                course.change_text(change),
                self.year(first),
                self.year(last),
                signed(deviations, 2),
                chance(change)
            ))
        }));
        if said.is_empty() && !self.traits.is_empty() {
            said.push(format!(
                "Nothing drifted unasked by {COMES_ALONG} standard deviations or more."
            ));
        }
        said
    }

    fn earliness_sentence(&self, course: &Course) -> Option<String> {
        let ((first, last), deviations) = (course.ends()?, course.deviations()?);
        let change = course.raw_change(first, last)?;
        let by_check = match course.change(first, last) {
            Some(change) => format!(" Beside check rows {}.", course.change_text(change)),
            None if course.what == Followed::HeatUnits => {
                " Heat units allow for how warm the seasons were.".to_owned()
            }
            None => " A warm season does that too, and no check row was harvested in both.".to_owned(),
        };
        Some(format!(
            "Accidental earliness: {} moved {} from {} to {}, {} SD, and no cutoff, limit or index asked for it. Early ears had longer to dry and germinate better, so selecting cold germination selects them.{by_check}{}",
            lower_first(&course.name),
            course.change_text(change),
            self.year(first),
            self.year(last),
            signed(deviations, 2),
            chance(change)
        ))
    }

    /// Says how the figures were come by and what they take for granted, a sentence each.
    pub fn assumptions(&self) -> Vec<String> {
        let course = &self.germination;
        let mut said = Vec::new();
        if !course.chains.is_empty() {
            said.push(
                "Check: in each tray the check cells are taken from the ears, and these differences of shares, in percent points, are compared between seasons. What a season does to the check lot it is taken to do to the population."
                    .to_owned(),
            );
            let by_chance = course
                .beside
                .iter()
                .any(|one| one.beside.spread == CheckSpread::Chance);
            said.push(format!(
                "Intervals are of 95 % by Student's t (Satterthwaite's degrees of freedom), from the spread among ears within trays, sisters of one mother row together, and among the check cells{}. A few check cells make them wide.",
                if by_chance {
                    ", which is never taken to be less than chance makes it"
                } else {
                    ""
                }
            ));
            let means = course.means.iter().flatten().map(|mean| mean.mean.value);
            let checks = course.beside.iter().map(|one| one.beside.check.value);
            if means
                .chain(checks)
                .any(|value| !(SQUEEZED[0]..=SQUEEZED[1]).contains(&value))
            {
                said.push(format!(
                    "Below {} or above {} % points are squeezed together, so there the check allows for less than it seems.",
                    SQUEEZED[0], SQUEEZED[1]
                ));
            }
        }
        if self.cycles.iter().any(|cycle| cycle.realised.is_ok()) {
            said.push(
                "Realised heritability: the response beside the check over the selection, both of counted percents of ears; what was selected is known and has no interval. It is of ears with so many kernels in your test, not of single kernels, and what the mother plants' health and drying did is not inherited."
                    .to_owned(),
            );
        }
        if self.traits.iter().any(|one| one.ends().is_some()) {
            said.push(format!(
                "Drift: means of all ears of a season, or of the rows of its field, without check rows; SD of the first season. {COMES_ALONG} SD or more that no cutoff, limit or index of these seasons named is flagged (common practice, no source). The weather of the seasons is in it, but where check rows tell."
            ));
        }
        said.extend(self.cautions.iter().cloned());
        said
    }

    /// Says what a plot of cold germination over the seasons shows, for who cannot see it.
    pub fn plot_text(&self) -> String {
        let course = &self.germination;
        let mut said = Vec::new();
        for at in self.scored() {
            let Some(mean) = course.means[at] else { continue };
            let beside = course.adjusted(at).map_or_else(
                || "no common check".to_owned(),
                |one| format!("beside the check {}", percent(one.value)),
            );
            let year = self.year(at);
            said.push(format!(
                "{year}: as counted {}, {beside}",
                percent(mean.mean.value)
            ));
        }
        format!("Cold germination of all ears by season. {}.", said.join("; "))
    }
}

fn warning(realised: Uncertain) -> &'static str {
    if realised.may_be_zero() {
        " Its interval covers zero: there may be no response at all."
    } else if Response::is_doubtful(realised) {
        " It is near zero: little of what made the chosen look better was inherited."
    } else {
        ""
    }
}

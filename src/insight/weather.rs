//! The weather of the seasons: heat units of ears and rows, the season day by day, and the seasons beside each other.
//!
//! Heat units are counted from the day after planting (OSU Extension fact sheet AGF-101, Eckert and Thomison 2017) to the
//! day itself. A day that is not known makes the sum unknown, and is named.

use super::frost::{Frost, FrostKind, frost_limit_c, is_frosted, kind_of};
use super::words::{day_spans, plural, temperature, tenths};
use crate::model::{Ear, Project, RowId, Season, SeasonId, WeatherDay};
use jiff::ToSpan;
use jiff::civil::Date;

/// Heat units from planting to something, and where they come from.
#[derive(Debug, Clone, PartialEq)]
pub enum Heat {
    /// The grower wrote them down; in degrees Celsius times days.
    Noted(f64),
    /// They were summed from the weather.
    Summed {
        /// The sum, in degrees Celsius times days.
        heat_c: f64,
        /// The first day of the sum: the one after planting.
        from: Date,
        /// Its last day.
        to: Date,
    },
    /// They are not known; holds why, a sentence.
    Unknown(String),
}

impl Heat {
    /// The heat units in degrees Celsius times days, where they are known.
    pub fn heat_c(&self) -> Option<f64> {
        match self {
            Self::Noted(heat_c) | Self::Summed { heat_c, .. } => Some(*heat_c),
            Self::Unknown(_) => None,
        }
    }

    /// Says how many there are and where they come from, or why they are not known.
    pub fn sentence(&self, project: &Project) -> String {
        let sign = project.about.units.temperature.sign();
        match self {
            Self::Noted(heat) => format!("{} {sign} days, as noted.", project.heat_text(*heat)),
            Self::Summed { heat_c, from, to } => format!(
                "{} {sign} days, summed from the weather of {from} to {to}.",
                project.heat_text(*heat_c)
            ),
            Self::Unknown(why) => why.clone(),
        }
    }
}

/// Sums the heat units from planting to a day.
fn between(project: &Project, planted: Option<Date>, to: Option<Date>, what: &str) -> Heat {
    let Some(planted) = planted else {
        return Heat::Unknown("Not known, as the day of planting is not noted.".to_owned());
    };
    let Some(to) = to else {
        return Heat::Unknown(format!("Not known, as {what} is not noted."));
    };
    let days = project.weather_days();
    let from = planted.saturating_add(1.day());
    match days.heat_c(from, to) {
        Some(heat_c) => Heat::Summed { heat_c, from, to },
        None if days.is_empty() => {
            Heat::Unknown("Not known, as there is no weather yet: take it in the pane Seasons.".to_owned())
        }
        None => Heat::Unknown(format!(
            "Not known, as the weather of {} is missing.",
            day_spans(&days.missing(from, to))
        )),
    }
}

/// Gives the heat units from planting to an ear's maturity: as noted, else from the weather.
pub fn heat_to_maturity(project: &Project, ear: &Ear) -> Heat {
    match ear.heat_units_c {
        Some(noted) => Heat::Noted(noted),
        None => between(
            project,
            project.planted(ear),
            project.matured_on(ear),
            "the day of maturity",
        ),
    }
}

/// Gives the heat units from planting to the day on which half of a row's plants showed silk.
pub fn heat_to_silk(project: &Project, row: RowId) -> Heat {
    between(
        project,
        row_planted(project, row),
        project.silk_on(row),
        "the day of half silk",
    )
}

fn row_planted(project: &Project, row: RowId) -> Option<Date> {
    let row = project.rows.get(row)?;
    row.planted
        .or_else(|| project.seasons.get(row.season).and_then(|season| season.planted))
}

/// Gives the number of [`heat_to_maturity`], without words.
pub fn heat_units_c(project: &Project, ear: &Ear) -> Option<f64> {
    ear.heat_units_c.or_else(|| {
        let from = project.planted(ear)?.saturating_add(1.day());
        project.weather_days().heat_c(from, project.matured_on(ear)?)
    })
}

/// A season's weather day by day.
#[derive(Debug, Clone, PartialEq)]
pub struct SeasonWeather {
    /// The season.
    pub season: SeasonId,
    /// Its year.
    pub year: i16,
    /// When its rows were planted, if that is noted.
    pub planted: Option<Date>,
    /// The first and the last day that are shown; none without weather.
    pub span: Option<(Date, Date)>,
    /// The known days of that span.
    pub days: Vec<SeasonDay>,
    /// The spans of days between that are not known.
    pub missing: Vec<(Date, Date)>,
    /// The first and the last day of picking, of the ears of which it is noted.
    pub picked: Option<(Date, Date)>,
    /// Ears that frost reached, as noted or by the weather.
    pub frosted: usize,
    /// Ears of which it is not known.
    pub frost_unknown: usize,
    /// What the weather says, a sentence each.
    pub sentences: Vec<String>,
}

/// One day of a season.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SeasonDay {
    /// Its high and low.
    pub day: WeatherDay,
    /// Heat units from the day after planting to this one, in degrees Celsius times days; none before it, and behind a day
    /// that is not known.
    pub heat_sum_c: Option<f64>,
    /// Whether it froze, and how hard.
    pub frost: Option<FrostKind>,
}

/// Days before planting, and behind the last ear, that are shown.
const AROUND: i32 = 14;
/// The days of a season from planting on, where no ear says when it was picked. Common practice, no source.
const SEASON_DAYS: i32 = 180;

/// Puts a season's weather together.
pub(super) fn season(project: &Project, season: &Season) -> SeasonWeather {
    let weather = project.weather_days();
    let ears = || project.ears_of(season.id);
    let picked_days = || ears().filter_map(|ear| ear.picked);
    let picked = picked_days().min().zip(picked_days().max());
    let planted = season.planted;
    let span = planted_span(project, season, picked.map(|(_, last)| last));
    let mut view = SeasonWeather {
        season: season.id,
        year: season.year,
        planted,
        span: None,
        days: Vec::new(),
        missing: Vec::new(),
        picked,
        frosted: 0,
        frost_unknown: 0,
        sentences: Vec::new(),
    };
    for ear in ears() {
        match is_frosted(project, ear) {
            Some(true) => view.frosted += 1,
            None => view.frost_unknown += 1,
            Some(false) => {}
        }
    }
    let known = span.map_or(&[][..], |(from, to)| weather.within(from, to));
    let (Some(first), Some(last), Some((from, to))) = (known.first(), known.last(), span) else {
        return view;
    };
    // What was not looked at yet is not missing.
    let all = weather.all();
    let from = all.first().map_or(from, |known| known.on.max(from)).min(first.on);
    let to = all.last().map_or(to, |known| known.on.min(to)).max(last.on);
    let limit = frost_limit_c(project);
    let begin = planted.map(|planted| planted.saturating_add(1.day()));
    view.span = Some((from, to));
    view.missing = weather.missing(from, to);
    view.days = known
        .iter()
        .map(|day| SeasonDay {
            day: *day,
            heat_sum_c: begin
                .filter(|begin| *begin <= day.on)
                .and_then(|begin| weather.heat_c(begin, day.on)),
            frost: kind_of(day.low_c, limit),
        })
        .collect();
    view.sentences = sentences(project, &view);
    view
}

/// From a little before planting to a little behind the last ear; without a day of planting the whole year.
fn planted_span(project: &Project, season: &Season, last_picked: Option<Date>) -> Option<(Date, Date)> {
    let Some(planted) = season.planted else {
        return Some((
            Date::new(season.year, 1, 1).ok()?,
            Date::new(season.year, 12, 31).ok()?,
        ));
    };
    let matured = project
        .ears_of(season.id)
        .filter_map(|ear| project.matured_on(ear))
        .max();
    let usual = planted.saturating_add(SEASON_DAYS.days());
    let end = [last_picked, matured]
        .into_iter()
        .flatten()
        .max()
        .map_or(usual, |last| last.saturating_add(AROUND.days()).max(usual));
    // A day of another century is a slip, and no season is longer than two years.
    let end = end.min(planted.saturating_add(730.days()));
    Some((planted.saturating_sub(AROUND.days()), end))
}

fn sentences(project: &Project, view: &SeasonWeather) -> Vec<String> {
    let unit = project.about.units.temperature;
    let mut said = Vec::new();
    if let (Some(first), Some(last)) = (view.days.first(), view.days.last()) {
        said.push(format!(
            "{} of weather, {} to {}.",
            plural(view.days.len(), "day"),
            first.day.on,
            last.day.on
        ));
    }
    if !view.missing.is_empty() {
        said.push(format!(
            "Missing: {}. Heat units over a missing day stay unknown.",
            day_spans(&view.missing)
        ));
    }
    match view.planted {
        None => said.push("The day of planting is not noted, so no heat units are summed.".to_owned()),
        Some(planted) => {
            let summed = view
                .days
                .iter()
                .rev()
                .find_map(|day| Some((day.day.on, day.heat_sum_c?)));
            if let Some((to, heat)) = summed {
                said.push(format!(
                    "{} {} days of heat from the day after planting ({planted}) to {to}.",
                    project.heat_text(heat),
                    unit.sign()
                ));
            }
        }
    }
    let grown = |day: &&SeasonDay| view.planted.is_none_or(|planted| planted < day.day.on);
    let frosts = view.days.iter().filter(grown).filter(|day| day.frost.is_some());
    let frosts: Vec<&SeasonDay> = frosts.collect();
    let limit = temperature(frost_limit_c(project), unit);
    match frosts.first() {
        None => said.push(format!("No day after planting had a low at or below {limit}.")),
        Some(first) => {
            let killing = frosts
                .iter()
                .find(|day| day.frost == Some(FrostKind::Killing))
                .map_or_else(String::new, |day| {
                    format!(", the first killing one on {}", day.day.on)
                });
            said.push(format!(
                "After planting {} had a low at or below {limit}: the first on {} with {}{killing}.",
                plural(frosts.len(), "day"),
                first.day.on,
                temperature(first.day.low_c, unit)
            ));
        }
    }
    if view.frosted > 0 {
        said.push(format!("Frost reached {}.", plural(view.frosted, "ear")));
    }
    if view.frost_unknown > 0 {
        said.push(format!(
            "Of {} it is not known whether frost reached them; the ear card says why.",
            plural(view.frost_unknown, "ear")
        ));
    }
    said
}

/// How warm a season was to its ears, beside the others.
#[derive(Debug, Clone, PartialEq)]
pub struct SeasonHeat {
    /// The season.
    pub season: SeasonId,
    /// Its year.
    pub year: i16,
    /// To half silk of its rows.
    pub silk: HeatMean,
    /// To the maturity of its ears.
    pub maturity: HeatMean,
}

/// Means over rows or ears.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct HeatMean {
    /// Rows or ears of which the days are known.
    pub with_days: usize,
    /// Their mean days from planting.
    pub days: Option<f64>,
    /// Rows or ears of which the heat units are known.
    pub with_heat: usize,
    /// Their mean heat units, in degrees Celsius times days.
    pub heat_c: Option<f64>,
}

impl HeatMean {
    fn of(known: impl Iterator<Item = (Option<f64>, Option<f64>)>) -> Self {
        let (mut days, mut heats) = (Vec::new(), Vec::new());
        for (one_days, heat) in known {
            days.extend(one_days);
            heats.extend(heat);
        }
        let mean =
            |values: &[f64]| (!values.is_empty()).then(|| values.iter().sum::<f64>() / values.len() as f64);
        Self {
            with_days: days.len(),
            days: mean(&days),
            with_heat: heats.len(),
            heat_c: mean(&heats),
        }
    }

    /// Says both means, such as `71.5 days of 12, 1310 °F days of 12`; `not noted` without any.
    pub fn text(&self, project: &Project) -> String {
        let sign = project.about.units.temperature.sign();
        let days = self.days.map(|days| format!("{} days", tenths(days)));
        let heat = self.heat_c.map(|heat| {
            let heat = project.about.units.temperature.difference_of_celsius(heat);
            format!("{heat:.0} {sign} days")
        });
        match (days, heat) {
            (None, None) => "not noted".to_owned(),
            (Some(days), None) => format!("{days}, heat units not known"),
            (None, Some(heat)) => heat,
            (Some(days), Some(heat)) => format!("{days}, {heat}"),
        }
    }
}

/// Compares the seasons in days and in heat units, the latest first.
pub(super) fn seasons(project: &Project) -> Vec<SeasonHeat> {
    let mut seasons: Vec<&Season> = project.seasons.iter().collect();
    seasons.sort_by_key(|season| std::cmp::Reverse(season.year));
    let of_season = |season: &&Season| SeasonHeat {
        season: season.id,
        year: season.year,
        silk: HeatMean::of(project.rows_of(season.id).map(|row| {
            let days = project
                .silk_on(row.id)
                .zip(row_planted(project, row.id))
                .map(|(silk, planted)| f64::from((silk - planted).get_days()));
            (days, heat_to_silk(project, row.id).heat_c())
        })),
        maturity: HeatMean::of(project.ears_of(season.id).map(|ear| {
            let days = project.maturity_days(ear).map(f64::from);
            (days, heat_units_c(project, ear))
        })),
    };
    seasons.iter().map(of_season).collect()
}

/// What the weather says of an ear, a title and a sentence each; empty where there is nothing to say.
pub(super) fn of_ear(project: &Project, ear: &Ear) -> Vec<(&'static str, String)> {
    let mut said = Vec::new();
    let weather = !project.weather_days().is_empty();
    let heat = heat_to_maturity(project, ear);
    if weather || heat.heat_c().is_some() {
        said.push(("Heat units to maturity", heat.sentence(project)));
    }
    if let Some(row) = ear.row
        && weather
        && project.silk_on(row).is_some()
    {
        let heat = heat_to_silk(project, row);
        said.push(("Heat units of its row to half silk", heat.sentence(project)));
    }
    if weather || ear.frosted.is_some() {
        said.push(("Frost", Frost::of(project, ear).sentence));
    }
    said
}

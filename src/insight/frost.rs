//! Whether frost reached an ear: by the grower's own word, else by the weather and the day of picking.
//!
//! An ear is there from silk on. It was frosted if it was still out on a day with a low at or below the limit. The low of a
//! day falls at dawn as a rule, so an ear that was picked on a day was out in the night before (common practice, no
//! source).

use super::words::{day_spans, temperature};
use crate::model::{Ear, Project, TemperatureUnit, WeatherDay};
use jiff::ToSpan;
use jiff::civil::Date;

/// The low at or below which ears count as frosted where the project does not say otherwise, in °C: freezing point, at
/// which a few hours kill the plant (Carter and Hesterman 1990, quoted by Lauer, University of Wisconsin). Seed above 50 %
/// moisture freezes at -0.5 °C (Woltz, Egli and `TeKrony` 2005, Agron. J. 97:1564-1569).
pub const FROST_C: f64 = 0.0;

/// The low at or below which a frost is a killing one, in °C: 28 °F, at which minutes kill the plant (Carter and Hesterman
/// 1990, quoted by Lauer, University of Wisconsin).
pub const KILLING_C: f64 = -2.2;

/// Days from silk to maturity, where silk was not noted: Nielsen, Purdue University, 2013, as a simple rule.
const SILK_TO_MATURITY: i32 = 62;

/// How hard it froze.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum FrostKind {
    /// At or below the limit of frost.
    Light,
    /// At or below [`KILLING_C`].
    Killing,
}

impl FrostKind {
    /// Names it.
    pub fn name(self) -> &'static str {
        match self {
            Self::Light => "light frost",
            Self::Killing => "killing frost",
        }
    }
}

/// Gives the limit of frost of a project, in °C.
pub fn frost_limit_c(project: &Project) -> f64 {
    project.about.frost_c.unwrap_or(FROST_C)
}

/// Tells how hard a day with this low froze, in °C; none where it did not.
pub(super) fn kind_of(low_c: f64, limit_c: f64) -> Option<FrostKind> {
    if low_c > limit_c {
        None
    } else if low_c <= KILLING_C {
        Some(FrostKind::Killing)
    } else {
        Some(FrostKind::Light)
    }
}

/// Whether frost reached an ear, and how that is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Frost {
    /// Whether it did; none when it is not known.
    pub frosted: Option<bool>,
    /// Whether the grower said so.
    pub is_noted: bool,
    /// The coldest day on which the ear was still out, if one was cold enough.
    pub coldest: Option<WeatherDay>,
    /// All of it in words.
    pub sentence: String,
}

/// What the weather says of an ear.
enum Seen<'a> {
    /// The days of frost on which it was out: the known days among which they are.
    Out(Vec<&'a WeatherDay>),
    /// It was in before any frost.
    In,
    /// It is not known; holds why, a part of a sentence.
    Unknown(Why),
}

/// Why it is not known whether frost reached an ear.
enum Why {
    NoWeather,
    NotPicked(Option<Date>),
    NoBeginning,
    Missing(Date, Date),
}

fn by_weather<'a>(project: &'a Project, ear: &Ear) -> Seen<'a> {
    let weather = project.weather_days();
    let limit = frost_limit_c(project);
    if weather.is_empty() {
        return Seen::Unknown(Why::NoWeather);
    }
    let freezes = |day: &&WeatherDay| day.low_c <= limit;
    let planted = project.planted(ear);
    let grown = ear
        .row
        .and_then(|row| project.silk_on(row))
        .or_else(|| {
            project
                .matured_on(ear)
                .map(|day| day.saturating_sub(SILK_TO_MATURITY.days()))
        })
        .map(|silk| planted.map_or(silk, |planted| silk.max(planted)));
    let Some(picked) = ear.picked else {
        let next = grown.map(|from| weather.within(from, from.saturating_add(200.days())));
        let first = next.and_then(|days| days.iter().find(freezes));
        return Seen::Unknown(Why::NotPicked(first.map(|day| day.on)));
    };
    let Some(from) = grown.or(planted) else {
        return Seen::Unknown(Why::NoBeginning);
    };
    let out: Vec<&WeatherDay> = weather.within(from, picked).iter().filter(freezes).collect();
    match (out.is_empty(), grown.is_some()) {
        (false, true) => Seen::Out(out),
        // It may have frozen before there were ears.
        (false, false) => Seen::Unknown(Why::NoBeginning),
        (true, _) if weather.heat_c(from, picked).is_none() => Seen::Unknown(Why::Missing(from, picked)),
        (true, _) => Seen::In,
    }
}

/// Tells whether frost reached an ear, without words: by the grower's word, else by the weather.
pub fn is_frosted(project: &Project, ear: &Ear) -> Option<bool> {
    ear.frosted.or_else(|| match by_weather(project, ear) {
        Seen::Out(_) => Some(true),
        Seen::In => Some(false),
        Seen::Unknown(_) => None,
    })
}

impl Frost {
    /// Tells whether frost reached an ear, and how that is known.
    pub fn of(project: &Project, ear: &Ear) -> Self {
        let unit = project.about.units.temperature;
        let seen = by_weather(project, ear);
        let coldest = match &seen {
            Seen::Out(days) => days
                .iter()
                .min_by(|a, b| a.low_c.total_cmp(&b.low_c))
                .map(|day| **day),
            Seen::In | Seen::Unknown(_) => None,
        };
        let by_weather = weather_sentence(project, ear, &seen, coldest);
        let frosted = match (&seen, ear.frosted) {
            (_, Some(noted)) => Some(noted),
            (Seen::Out(_), None) => Some(true),
            (Seen::In, None) => Some(false),
            (Seen::Unknown(_), None) => None,
        };
        let mut sentence = match ear.frosted {
            None => by_weather,
            Some(noted) => {
                let word = if noted { "Frosted" } else { "Not frosted" };
                let agrees = match &seen {
                    Seen::Unknown(_) => String::new(),
                    Seen::Out(_) if noted => format!(" The weather says so too: {by_weather}"),
                    Seen::In if !noted => " The weather says so too.".to_owned(),
                    _ => format!(
                        " By the weather it would be otherwise: {by_weather} The word that was noted counts."
                    ),
                };
                format!("{word}, as noted.{agrees}")
            }
        };
        if let Some(day) = coldest
            && frosted == Some(true)
        {
            sentence.push_str(&caution(project.matured_on(ear), day, unit));
        }
        Self {
            frosted,
            is_noted: ear.frosted.is_some(),
            coldest,
            sentence,
        }
    }
}

fn weather_sentence(project: &Project, ear: &Ear, seen: &Seen<'_>, coldest: Option<WeatherDay>) -> String {
    let unit = project.about.units.temperature;
    let limit = temperature(frost_limit_c(project), unit);
    match (seen, coldest) {
        (Seen::Out(days), Some(coldest)) => {
            let kind = kind_of(coldest.low_c, frost_limit_c(project)).map_or("frost", FrostKind::name);
            let first = days.first().map_or(coldest.on, |day| day.on);
            let nights = if days.len() == 1 {
                format!("on {first}")
            } else {
                format!("on {} days from {first} on", days.len())
            };
            let picked = ear
                .picked
                .map_or_else(String::new, |day| format!(" (picked on {day})"));
            let mature = match project.matured_on(ear) {
                Some(matured) if matured <= first => {
                    format!("it had matured on {matured}")
                }
                Some(matured) => format!("it was not mature until {matured}"),
                None => "whether it was mature is not known".to_owned(),
            };
            format!(
                "Frosted by the weather: still out {nights}{picked}; the lowest low was {} on {}, a {kind}; {mature}.",
                temperature(coldest.low_c, unit),
                coldest.on
            )
        }
        (Seen::Out(_) | Seen::In, _) => format!(
            "Not frosted: picked on {}, and no day before had a low at or below {limit}.",
            ear.picked.map_or_else(|| "an unknown day".to_owned(), |day| day.to_string())
        ),
        (Seen::Unknown(why), _) => match why {
            Why::NoWeather => "Not known, as there is no weather yet: take it in the pane Seasons.".to_owned(),
            Why::NotPicked(None) => "Not known, as the day of picking is not noted.".to_owned(),
            Why::NotPicked(Some(first)) => format!(
                "Not known, as the day of picking is not noted; the first low at or below {limit} was on {first}."
            ),
            Why::NoBeginning => {
                "Not known, as neither silk nor maturity is noted: it froze, but there may have been no ears yet.".to_owned()
            }
            Why::Missing(from, to) => format!(
                "Not known, as the weather of {} is missing.",
                day_spans(&project.weather_days().missing(*from, *to))
            ),
        },
    }
}

// ---- what frost does to wet seed -----------------------------------------------------------------------------

/// A line of Kiesselbach's table: germination in percent of seed of open-pollinated corn after 24 hours at a temperature,
/// mean of three years (Nebraska Corn Improvers' Association, proceedings, page 38, table II).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrostedSeed {
    /// The lowest and the highest temperature of the line, in °F.
    pub fahrenheit: [f64; 2],
    /// Germination in percent at 40 to 45, 35 to 40, 30 to 35, 25 to 30, 20 to 25, 15 to 20 and 10 to 15 % moisture.
    pub percent: [Option<u8>; 7],
    /// Whether the columns of its values are likely but not certain: blanks of the print were lost.
    pub is_uncertain: bool,
}

/// Kiesselbach's table, the warmest line first. The 12 at 40 to 45 % beside the 0 at 35 to 40 % stands so in the print.
pub const KIESSELBACH: [FrostedSeed; 5] = [
    FrostedSeed {
        fahrenheit: [28.0, 32.0],
        percent: [Some(69), Some(91), Some(77), Some(85), Some(100), None, None],
        is_uncertain: false,
    },
    FrostedSeed {
        fahrenheit: [20.0, 24.0],
        percent: [Some(12), Some(0), Some(67), Some(77), Some(96), Some(100), None],
        is_uncertain: true,
    },
    FrostedSeed {
        fahrenheit: [12.0, 16.0],
        percent: [Some(0), Some(0), Some(12), Some(34), Some(88), Some(100), None],
        is_uncertain: true,
    },
    FrostedSeed {
        fahrenheit: [4.0, 8.0],
        percent: [Some(0), Some(0), Some(0), Some(7), Some(47), Some(98), Some(100)],
        is_uncertain: false,
    },
    FrostedSeed {
        fahrenheit: [-5.0, 0.0],
        percent: [Some(0), Some(0), Some(0), Some(0), Some(0), Some(63), Some(97)],
        is_uncertain: false,
    },
];

/// The line for a low: the one that holds it, else the next colder one; none above the first.
fn line_for(low_f: f64) -> Option<&'static FrostedSeed> {
    if low_f > KIESSELBACH[0].fahrenheit[1] {
        return None;
    }
    let holds = |line: &&FrostedSeed| low_f >= line.fahrenheit[0];
    KIESSELBACH
        .iter()
        .find(holds)
        .filter(|line| low_f <= line.fahrenheit[1])
        .or_else(|| KIESSELBACH.iter().find(|line| line.fahrenheit[1] < low_f))
        .or(KIESSELBACH.last())
}

/// What such a frost does to seed, as a caution behind a sentence; nothing above freezing point. At maturity the kernels hold 30 to 35 % of water (Lauer, University of
/// Wisconsin), before it more.
fn caution(matured: Option<Date>, day: WeatherDay, unit: TemperatureUnit) -> String {
    let Some(line) = line_for(TemperatureUnit::Fahrenheit.of_celsius(day.low_c)) else {
        return String::new();
    };
    let [wettest, wet, mature, dry, dryer, ..] = line.percent.map(|percent| percent.unwrap_or(100));
    let is_mature = matured.is_some_and(|matured| matured <= day.on);
    let [from, to] = line
        .fahrenheit
        .map(|degrees| temperature(TemperatureUnit::Fahrenheit.to_celsius(degrees), unit));
    let germinated = if is_mature {
        format!(
            "{mature} % of kernels at 30 to 35 % moisture, as at maturity, {dry} % at 25 to 30 % and {dryer} % at 20 to 25 %"
        )
    } else {
        let left = range(wettest, wet);
        format!("{left} of kernels at 35 to 45 % moisture, as before maturity,")
    };
    let uncertain = if line.is_uncertain {
        " Which column of the old print some of these figures stand in is likely, not certain."
    } else {
        ""
    };
    format!(
        " A caution: in Kiesselbach's trials with open-pollinated corn, 24 hours at {from} to {to} left {germinated} germinating; a night is shorter.{uncertain}"
    )
}

fn range(one: u8, other: u8) -> String {
    if one == other {
        format!("{one} %")
    } else {
        format!("{} to {} %", one.min(other), one.max(other))
    }
}

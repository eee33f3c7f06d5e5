//! The part of `import` that reads the daily highs and lows of a place, and that of `summary` that tells them.

use std::io::Write;

use serde::Serialize;
use wintercrib::exchange::weather_csv::{WeatherFile, WeatherQuestion, compared};
use wintercrib::insight::{HeatMean, Insight};
use wintercrib::model::{Command, Document, Project, SeasonId, plural};

use super::import::{Ready, refuse_problems};
use super::temperature::{column_named, columns, date_question, unit_question};
use super::{Import, Stop, WeatherRequest, project};

/// Reads the file as days of weather, or says what has to be told first.
pub(super) fn ready(
    bytes: &[u8],
    import: &Import,
    request: &WeatherRequest,
    records: &Project,
) -> Result<Ready, Stop> {
    let of_file = |what: String| Stop::cannot(format!("{what}: {}", import.table.display()));
    let file = WeatherFile::read(bytes, None).map_err(|fault| of_file(fault.to_string()))?;
    let mut answers = request.answers;
    answers.year = import.season;
    let column = |option: &str, wanted: &Option<String>| {
        let wanted = wanted.as_deref();
        wanted
            .map(|wanted| column_named(file.header(), file.candidates(), option, wanted))
            .transpose()
    };
    answers.high = column("high", &request.high)?;
    answers.low = column("low", &request.low)?;
    let look = file.look(&answers);
    for remark in &look.remarks {
        project::tell(remark);
    }
    if let Some(question) = look.questions.first() {
        return Err(of_file(ask(&file, question)));
    }
    if !answers.leave_out_bad || look.days.is_empty() {
        refuse_problems(&look.problems, look.bad_lines, &import.table)?;
    }
    let (Some(first), Some(last)) = (look.days.first(), look.days.last()) else {
        return Err(of_file("The file has no days that can be taken".to_owned()));
    };
    let found = compared(records, &look.days);
    let left_out = match look.bad_lines {
        0 => String::new(),
        bad => format!(" Left out: {}.", plural(bad, "line")),
    };
    let said = format!(
        "{} of weather from {} to {} taken: {} new, {} replaced, {} there already.{left_out}",
        plural(look.days.len(), "day"),
        first.on,
        last.on,
        found.new,
        found.other,
        found.same
    );
    Ok(Ready {
        commands: vec![Command::TakeWeather(look.days)],
        lines: 0,
        said: Some(said),
    })
}

/// Puts a question, with the option that answers it.
fn ask(file: &WeatherFile, question: &WeatherQuestion) -> String {
    let which = |what: &str, option: &str, found: &[usize]| {
        format!(
            "The file does not tell which column holds the {what}. Choose with --{option} one of {}",
            columns(file.header(), found)
        )
    };
    match question {
        WeatherQuestion::Dates(forms) => date_question(forms),
        WeatherQuestion::Unit(low, high) => unit_question(*low, *high),
        WeatherQuestion::High(found) => which("highs", "high", found),
        WeatherQuestion::Low(found) => which("lows", "low", found),
    }
}

/// A season's weather, and how warm the seasons were.
#[derive(Debug, Serialize)]
pub(super) struct WeatherFacts {
    days: usize,
    first_day: Option<String>,
    last_day: Option<String>,
    missing_days: Vec<[String; 2]>,
    days_at_or_below_frost_limit: usize,
    frosted_ears: usize,
    frost_unknown_ears: usize,
    sentences: Vec<String>,
    seasons: Vec<SeasonFacts>,
}

/// How long and how warm the way to silk and to maturity was.
#[derive(Debug, Serialize)]
struct SeasonFacts {
    year: i16,
    silk_mean_days: Option<f64>,
    silk_mean_heat_units_celsius_days: Option<f64>,
    silk_rows: usize,
    maturity_mean_days: Option<f64>,
    maturity_mean_heat_units_celsius_days: Option<f64>,
    maturity_ears: usize,
    sentence: String,
}

impl WeatherFacts {
    pub(super) fn new(document: &Document, insight: &Insight, season: SeasonId) -> Self {
        let project = document.project();
        let view = insight.season_weather(document, season);
        let view = view.as_ref().as_ref();
        let days = view.map_or(&[][..], |view| &view.days);
        let text = |mean: &HeatMean| mean.text(project);
        Self {
            days: days.len(),
            first_day: days.first().map(|day| day.day.on.to_string()),
            last_day: days.last().map(|day| day.day.on.to_string()),
            missing_days: view.map_or_else(Vec::new, |view| {
                let spans = view.missing.iter();
                spans
                    .map(|(from, to)| [from.to_string(), to.to_string()])
                    .collect()
            }),
            days_at_or_below_frost_limit: days.iter().filter(|day| day.frost.is_some()).count(),
            frosted_ears: view.map_or(0, |view| view.frosted),
            frost_unknown_ears: view.map_or(0, |view| view.frost_unknown),
            sentences: view.map_or_else(Vec::new, |view| view.sentences.clone()),
            seasons: insight
                .season_heats(document)
                .iter()
                .map(|one| SeasonFacts {
                    year: one.year,
                    silk_mean_days: one.silk.days,
                    silk_mean_heat_units_celsius_days: one.silk.heat_c,
                    silk_rows: one.silk.with_days,
                    maturity_mean_days: one.maturity.days,
                    maturity_mean_heat_units_celsius_days: one.maturity.heat_c,
                    maturity_ears: one.maturity.with_days,
                    sentence: format!(
                        "{}: to silk {}; to maturity {}.",
                        one.year,
                        text(&one.silk),
                        text(&one.maturity)
                    ),
                })
                .collect(),
        }
    }

    /// Writes what there is to say; nothing without any weather.
    pub(super) fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        if self.days == 0 {
            return Ok(());
        }
        writeln!(out, "\nWeather")?;
        for sentence in &self.sentences {
            writeln!(out, "  {sentence}")?;
        }
        for season in &self.seasons {
            writeln!(out, "  {}", season.sentence)?;
        }
        Ok(())
    }
}

//! The part of `summary` that tells the temperatures of the trays and what was noted about them.

use std::io::Write;

use serde::Serialize;
use wintercrib::insight::{ColdDays, LONGEST_STEP_MINUTES, TrayDays, minute, stood_text};
use wintercrib::model::{HEAT_BASE_C, HEAT_CAP_C, Project, Test};

use super::summary::write_table;

/// What the logs of a test say. Keys carry their units; what is not known is null.
#[derive(Debug, Serialize)]
pub(super) struct ColdDaysFacts {
    wanted_celsius: f64,
    band_half_width_celsius: f64,
    warm_from_day: Option<u16>,
    warm_celsius: Option<f64>,
    heat_base_celsius: f64,
    heat_cap_celsius: f64,
    gap_longer_than_minutes: u32,
    logs: Vec<LogFacts>,
    trays: Vec<TrayTemperatureFacts>,
    events: Vec<EventFacts>,
    findings: Vec<String>,
}

#[derive(Debug, Serialize)]
struct LogFacts {
    name: String,
    stands_for: String,
    readings: usize,
    first_reading_at: String,
    last_reading_at: Option<String>,
}

#[derive(Debug, Serialize)]
struct TrayTemperatureFacts {
    tray: u16,
    laid_on: Option<String>,
    known_hours: Option<f64>,
    in_band_hours: Option<f64>,
    below_band_hours: Option<f64>,
    above_band_hours: Option<f64>,
    mean_celsius: Option<f64>,
    cold_days_mean_celsius: Option<f64>,
    above_other_trays_celsius: Option<f64>,
    lowest_celsius: Option<f64>,
    highest_celsius: Option<f64>,
    heat_celsius_days: Option<f64>,
    gaps: Vec<GapFacts>,
}

#[derive(Debug, Serialize)]
struct GapFacts {
    from: String,
    to: String,
    hours: f64,
}

#[derive(Debug, Serialize)]
struct EventFacts {
    at: String,
    trays: String,
    what: String,
}

impl ColdDaysFacts {
    pub(super) fn new(project: &Project, test: &Test, days: &ColdDays) -> Self {
        let recipe = &test.recipe;
        let logs = project.logs_of(test.id).map(|log| LogFacts {
            name: log.name.clone(),
            stands_for: stood_text(project, log),
            readings: log.readings.len(),
            first_reading_at: minute(log.start),
            last_reading_at: log.readings.last().map(|reading| minute(log.at(reading.0))),
        });
        let events = days.events.iter().map(|event| EventFacts {
            at: minute(event.at),
            trays: event.trays.clone(),
            what: event.what.clone(),
        });
        Self {
            wanted_celsius: recipe.cold_c,
            band_half_width_celsius: recipe.band(),
            warm_from_day: recipe.warm.map(|warm| warm.from_day),
            warm_celsius: recipe.warm.map(|warm| warm.c),
            heat_base_celsius: HEAT_BASE_C,
            heat_cap_celsius: HEAT_CAP_C,
            gap_longer_than_minutes: LONGEST_STEP_MINUTES,
            logs: logs.collect(),
            trays: days.figures.trays.iter().map(TrayTemperatureFacts::new).collect(),
            events: events.collect(),
            findings: days.findings.iter().map(|one| one.sentence.clone()).collect(),
        }
    }

    pub(super) fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        if self.logs.is_empty() {
            return Ok(());
        }
        writeln!(out, "  Temperatures")?;
        for sentence in &self.findings {
            writeln!(out, "  {sentence}")?;
        }
        let head = [
            "Tray",
            "Mean °C",
            "Lowest",
            "Highest",
            "In band h",
            "Known h",
            "Heat °C days",
            "Gaps",
        ];
        let mut rows = vec![head.map(str::to_owned).to_vec()];
        let tenths = |value: Option<f64>| value.map_or_else(|| "-".to_owned(), |value| format!("{value:.1}"));
        for tray in &self.trays {
            rows.push(vec![
                tray.tray.to_string(),
                tenths(tray.mean_celsius),
                tenths(tray.lowest_celsius),
                tenths(tray.highest_celsius),
                tenths(tray.in_band_hours),
                tenths(tray.known_hours),
                tenths(tray.heat_celsius_days),
                tray.gaps.len().to_string(),
            ]);
        }
        write_table(out, &rows)
    }
}

impl TrayTemperatureFacts {
    fn new(tray: &TrayDays) -> Self {
        let figures = tray.figures;
        Self {
            tray: tray.number,
            laid_on: tray.laid_on.map(|day| day.to_string()),
            known_hours: figures.map(|one| one.known_hours),
            in_band_hours: figures.map(|one| one.in_band_hours),
            below_band_hours: figures.map(|one| one.below_hours),
            above_band_hours: figures.map(|one| one.above_hours),
            mean_celsius: figures.map(|one| one.mean_c),
            cold_days_mean_celsius: figures.and_then(|one| one.cold_mean_c),
            above_other_trays_celsius: tray.above_others_c,
            lowest_celsius: figures.map(|one| one.lowest_c),
            highest_celsius: figures.map(|one| one.highest_c),
            heat_celsius_days: figures.map(|one| one.heat_c_days),
            gaps: tray
                .gaps
                .iter()
                .map(|gap| GapFacts {
                    from: minute(gap.from),
                    to: minute(gap.to),
                    hours: gap.hours(),
                })
                .collect(),
        }
    }
}

//! What a temperature log would say of its trays, before it is taken or changed.

use super::cold_days::{
    Band, Clock, LogFigures, Read, TrayDays, bands, both, breadth, figures_of, hours, minute, pieces,
};
use super::words::{plural, temperature, tenths, trays_text};
use crate::model::{
    EventKind, LogId, LogSpan, Project, TemperatureLog, TemperatureUnit, Test, TestId, TrayEvent, TrayId,
};
use crate::stats::series::{Limits, Window};
use jiff::civil::{Date, DateTime};
use std::collections::{BTreeMap, BTreeSet};

/// The most trays with times of their own that are named one by one.
const MOST_NAMED: usize = 4;

/// What a log would say of its trays.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LogLook {
    /// The figures of the test as they would be with the log; of the lines only that of the log.
    pub figures: LogFigures,
    /// What it holds and for which time it tells of which trays, in sentences.
    pub facts: Vec<String>,
    /// What the grower should look at before it is taken, in sentences.
    pub warnings: Vec<String>,
}

/// Looks at a log as if it was in the test, in place of the log that has its id. `counted` holds the days of the last
/// final counts of the trays.
pub(super) fn compute(project: &Project, log: &TemperatureLog, counted: &[Option<Date>]) -> LogLook {
    let Some(test) = project.tests.get(log.test) else {
        return LogLook::default();
    };
    // A new log gets the next number: of equals it counts last.
    let log = if project.logs.contains(log.id) {
        log.clone()
    } else {
        TemperatureLog {
            id: LogId(project.logs.next_number()),
            ..log.clone()
        }
    };
    let others = project.logs_of(test.id).filter(|other| other.id != log.id);
    let mut logs: Vec<&TemperatureLog> = others.collect();
    logs.push(&log);
    let mut figures = figures_of(project, test.id, counted, &logs);
    figures.lines.retain(|line| line.log == log.id);
    let Some(clock) = figures.zero.map(|zero| Clock { zero }) else {
        return LogLook::default();
    };
    let read: Vec<Read> = logs.iter().filter_map(|log| Read::of(log, clock)).collect();
    let words = Words {
        project,
        test,
        log: &log,
        figures: &figures,
        read: &read,
        clock,
        unit: project.about.units.temperature,
    };
    let (mut facts, mut warnings) = (vec![words.readings()], Vec::new());
    words.days(&mut facts, &mut warnings);
    words.beside_others(&mut facts, &mut warnings);
    words.empty_spans(&mut warnings);
    LogLook {
        figures,
        facts,
        warnings,
    }
}

struct Words<'a> {
    project: &'a Project,
    test: &'a Test,
    log: &'a TemperatureLog,
    figures: &'a LogFigures,
    read: &'a [Read<'a>],
    clock: Clock,
    unit: TemperatureUnit,
}

impl Words<'_> {
    /// Says how many readings it has, from when to when, and how warm they are.
    fn readings(&self) -> String {
        let readings = &self.log.readings;
        let last = readings.last().map_or(0, |reading| reading.0);
        let count = plural(readings.len(), "reading");
        let celsius = || readings.iter().map(|reading| reading.1);
        let (low, high) = (
            celsius().fold(f64::INFINITY, f64::min),
            celsius().fold(f64::NEG_INFINITY, f64::max),
        );
        let (low, high) = (tenths(self.unit.of_celsius(low)), temperature(high, self.unit));
        let range = if high.starts_with(&format!("{low} ")) {
            high
        } else {
            format!("{low} to {high}")
        };
        if last == 0 {
            return format!("{count} on {}: {range}.", minute(self.log.start));
        }
        format!(
            "{count} from {} to {}, {}: {range}.",
            minute(self.log.start),
            minute(self.log.at(last)),
            step(readings)
        )
    }

    /// The trays that it stands for, with their days.
    fn trays(&self) -> impl Iterator<Item = &TrayDays> {
        self.figures
            .trays
            .iter()
            .filter(|tray| self.log.spans.iter().any(|span| span.is_of(tray.tray)))
    }

    /// Says beside the days of the trays how much of them the log tells.
    fn days(&self, facts: &mut Vec<String>, warnings: &mut Vec<String>) {
        if self.log.spans.is_empty() {
            warnings.push(
                "It stands for no tray, so no figure comes from it. Type for which trays it stood."
                    .to_owned(),
            );
            return;
        }
        let laid: Vec<(&TrayDays, Date, Date)> = self
            .trays()
            .filter_map(|tray| Some((tray, tray.laid_on?, tray.ends_on?)))
            .collect();
        let begin = laid.iter().map(|(_, laid, _)| *laid).min();
        let end = laid.iter().map(|(.., end)| *end).max();
        let Some((begin, end)) = begin.zip(end) else {
            facts.push("None of its trays is laid yet; their figures follow once they are.".to_owned());
            return;
        };
        facts.push(format!(
            "The days of {} run from the evening of {begin} to that of {end}.",
            trays_text(laid.iter().map(|(tray, ..)| tray.number))
        ));
        let mut told: BTreeMap<(i64, i64), Vec<u16>> = BTreeMap::new();
        for (tray, laid, end) in &laid {
            let days = bands(&self.test.recipe, self.clock.day(*laid), self.clock.day(*end));
            told.entry(self.told(tray.tray, &days))
                .or_default()
                .push(tray.number);
        }
        if told.keys().all(|(known, _)| *known == 0) {
            let read = self.read.iter().find(|read| read.log.id == self.log.id);
            let whole = Window {
                from: self.clock.day(begin),
                to: self.clock.day(end) + super::cold_days::DAY,
            };
            let lies_within = read.is_some_and(|read| {
                let last = read.last();
                let first = self.clock.minutes(self.log.start);
                both(
                    Window {
                        from: first,
                        to: last,
                    },
                    whole,
                )
                .minutes()
                    > 0
            });
            let text = if lies_within {
                "Nothing of it counts for its trays: others go before it, or its readings lie too far apart."
            } else {
                "No reading lies in these days. Look at the order of the dates, at the clock of the logger and at the test that is shown."
            };
            warnings.push(text.to_owned());
            return;
        }
        let count = told.len();
        let parts: Vec<String> = told
            .into_iter()
            .rev()
            .take(MOST_NAMED)
            .map(|((known, all), trays)| {
                format!(
                    "{} of {} hours of {}",
                    hours(known as f64 / 60.0),
                    hours(all as f64 / 60.0),
                    trays_text(trays)
                )
            })
            .collect();
        let more = if count > MOST_NAMED {
            " and less of others"
        } else {
            ""
        };
        facts.push(format!("It tells {}{more}.", parts.join("; ")));
    }

    /// Gives the minutes of a tray's days of which the log tells, and all of them.
    fn told(&self, tray: TrayId, days: &[Band]) -> (i64, i64) {
        let nothing = Limits {
            low: 0.0,
            high: 0.0,
            base: 0.0,
            cap: 0.0,
        };
        let pieces = pieces(tray, self.read);
        let own = || pieces.iter().filter(|(read, _)| read.log.id == self.log.id);
        let known: f64 = days
            .iter()
            .flat_map(|day| {
                own().map(|(read, window)| read.over(both(*window, day.window), &nothing).minutes)
            })
            .sum();
        let all = days.iter().map(|day| day.window.minutes()).sum();
        (known.round() as i64, all)
    }

    /// Says which log counts where another one stands for the same trays at the same time.
    fn beside_others(&self, facts: &mut Vec<String>, warnings: &mut Vec<String>) {
        let Some(own) = self.read.iter().find(|read| read.log.id == self.log.id) else {
            return;
        };
        for other in self.read.iter().filter(|read| read.log.id != self.log.id) {
            let mut shared: BTreeMap<std::cmp::Ordering, BTreeSet<u16>> = BTreeMap::new();
            for (span, theirs) in own
                .log
                .spans
                .iter()
                .flat_map(|span| other.log.spans.iter().map(move |theirs| (span, theirs)))
            {
                if both(own.window(span), other.window(theirs)).minutes() == 0 {
                    continue;
                }
                let trays = self.figures.trays.iter();
                let numbers = trays
                    .filter(|tray| span.is_of(tray.tray) && theirs.is_of(tray.tray))
                    .map(|tray| tray.number);
                shared
                    .entry(breadth(span).cmp(&breadth(theirs)))
                    .or_default()
                    .extend(numbers);
            }
            for (order, trays) in shared.into_iter().filter(|(_, trays)| !trays.is_empty()) {
                let name = &other.log.name;
                let trays = trays_text(trays);
                match order {
                    std::cmp::Ordering::Less => facts.push(format!(
                        "For {trays} it goes before the log {name}, as it stands for fewer trays."
                    )),
                    std::cmp::Ordering::Greater => facts.push(format!(
                        "For {trays} the log {name} goes before it, as that one stands for fewer trays."
                    )),
                    std::cmp::Ordering::Equal => {
                        let first = if other.log.id < self.log.id {
                            format!("{name} counts, as it was added first")
                        } else {
                            format!("this one counts, as it was added before {name}")
                        };
                        warnings.push(format!(
                            "The log {name} stands for {trays} at the same time: where both have readings, {first}. Type from when to when each of them stood there."
                        ));
                    }
                }
            }
        }
    }

    /// Names spans of time in which it has no reading.
    fn empty_spans(&self, warnings: &mut Vec<String>) {
        let log = self.log;
        let Some(last) = log.readings.last().map(|reading| log.at(reading.0)) else {
            return;
        };
        for span in &log.spans {
            if span.from.is_some_and(|from| from > last) || span.to.is_some_and(|to| to < log.start) {
                warnings.push(format!(
                    "It stands for {}, but has no reading then.",
                    span_text(self.project, span)
                ));
            }
        }
    }
}

/// Says how far readings usually lie apart: the middle one of their steps.
fn step(readings: &[(u32, f64)]) -> String {
    let mut steps: Vec<u32> = readings.windows(2).map(|pair| pair[1].0 - pair[0].0).collect();
    steps.sort_unstable();
    let middle = steps.get(steps.len() / 2).copied().unwrap_or(0) as usize;
    format!("one every {}", plural(middle, "minute"))
}

/// Says for which trays and for which time a span of a log stands, such as `tray 4 from 2026-02-05 18:00`.
fn span_text(project: &Project, span: &LogSpan) -> String {
    let numbers: BTreeSet<u16> = span
        .trays
        .iter()
        .filter_map(|tray| project.trays.get(*tray))
        .map(|tray| tray.number)
        .collect();
    let trays = if span.trays.is_empty() {
        "all trays".to_owned()
    } else {
        trays_text(numbers)
    };
    let from = span
        .from
        .map_or(String::new(), |at| format!(" from {}", minute(at)));
    let to = span
        .to
        .map_or(String::new(), |at| format!(" until {}", minute(at)));
    format!("{trays}{from}{to}")
}

/// Says for which trays a log stands and when, such as `trays 1 to 3; tray 4 from 2026-02-05 18:00`.
pub fn stood_text(project: &Project, log: &TemperatureLog) -> String {
    if log.spans.is_empty() {
        return "no tray yet".to_owned();
    }
    let spans = log.spans.iter().map(|span| span_text(project, span));
    spans.collect::<Vec<_>>().join("; ")
}

/// From when to when which trays stood in one place.
type Stays = BTreeMap<(DateTime, Option<DateTime>), Vec<TrayId>>;

/// Gives the places to which trays were moved by what was noted, each with the spans of time for which trays stood there:
/// what a logger that lies in such a place stands for.
pub fn places(project: &Project, test: TestId) -> Vec<(String, Vec<LogSpan>)> {
    let place_of = |event: &TrayEvent| match &event.kind {
        EventKind::Moved { to } if !to.trim().is_empty() => Some(to.trim().to_owned()),
        _ => None,
    };
    let mut moves: Vec<&TrayEvent> = project
        .events_of(test)
        .filter(|event| matches!(event.kind, EventKind::Moved { .. }))
        .collect();
    moves.sort_by_key(|event| (event.at, event.id));
    // For each place from when to when which trays stood there.
    let mut stays: BTreeMap<String, Stays> = BTreeMap::new();
    for tray in project.trays_of(test) {
        let own: Vec<&&TrayEvent> = moves
            .iter()
            .filter(|event| event.trays.is_empty() || event.trays.contains(&tray.id))
            .collect();
        for (at, event) in own.iter().enumerate() {
            if let Some(place) = place_of(event) {
                let until = own.get(at + 1).map(|next| next.at);
                stays
                    .entry(place)
                    .or_default()
                    .entry((event.at, until))
                    .or_default()
                    .push(tray.id);
            }
        }
    }
    let spans = |stays: Stays| {
        let span = |((from, to), trays)| LogSpan {
            trays,
            from: Some(from),
            to,
        };
        stays.into_iter().map(span).collect()
    };
    stays
        .into_iter()
        .map(|(place, stays)| (place, spans(stays)))
        .collect()
}

//! The days of a test in its trays: what the temperature logs say of each tray, and what was noted about it.
//!
//! Days are counted from the evening of laying, so a tray's time runs from the evening of the day on which its first
//! kernels were laid to the evening of its final count. Where several logs stand for a tray at the same time, the one
//! that stands for the fewest trays counts, and of equals the one that was added first. A log of more trays says nothing
//! about a tray that has one of its own, neither in a gap of that one nor before its first reading nor behind its last:
//! it does so only where the grower typed from when or until when the other stood for the tray. Figures are weighted by
//! time; between two readings more than [`LONGEST_STEP_MINUTES`] apart nothing is known.

use super::estimates::TrayEffect;
use super::soundness::{Soundness, title};
use super::todo::Urgency;
use super::tray_counts::TrayCounts;
use super::words::{capital, plural, temperature, temperature_difference, tenths, trays_text};
use crate::model::{
    EventId, EventKind, HEAT_BASE_C, HEAT_CAP_C, LogId, LogSpan, Pass, Place, Project, Recipe,
    TemperatureLog, TemperatureUnit, Test, TestId, Tray, TrayId,
};
use crate::stats::series::{Limits, Series, Stretch, Window};
use jiff::SignedDuration;
use jiff::civil::{Date, DateTime};
use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

/// Two readings further apart than this are a gap, in minutes: common practice, no source.
pub const LONGEST_STEP_MINUTES: u32 = 180;
/// Trays that differ by less than this, in °C, are not told apart: common practice, no source.
const APART_C: f64 = 1.0;
/// Hours of known cold days from which a tray is compared with the others: common practice, no source.
const FEWEST_HOURS: f64 = 24.0;
/// Hours outside of the band that are passed over: common practice, no source.
const HOURS_OUTSIDE: f64 = 6.0;
/// Temperatures in °C that a tray hardly has: a logger that fails or lies elsewhere. Common practice, no source.
const LIKELY_C: [f64; 2] = [-5.0, 45.0];
/// The hour of laying and counting, in minutes after midnight.
pub(super) const EVENING: i64 = 18 * 60;
pub(super) const DAY: i64 = 24 * 60;
/// Minutes after which nothing is: for a span of time without an end.
const FOREVER: i64 = 1 << 40;
/// The most points of one line in a picture, within the days that it shows first, before and behind them.
const MOST_POINTS: usize = 4000;

/// A span of time of which nothing is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub struct Gap {
    /// From when.
    pub from: DateTime,
    /// Until when.
    pub to: DateTime,
}

impl Gap {
    /// Gives its length in hours.
    pub fn hours(self) -> f64 {
        self.to.duration_since(self.from).as_secs_f64() / 3600.0
    }

    /// Says from when to when, such as `2026-02-05 02:00 to 2026-02-05 09:30 (7.5 hours)`.
    pub fn text(self) -> String {
        format!(
            "{} to {} ({} hours)",
            minute(self.from),
            minute(self.to),
            hours(self.hours())
        )
    }
}

/// The temperature of one tray over its days.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Temperatures {
    /// Hours of which the temperature is known.
    pub known_hours: f64,
    /// Hours in the band of the recipe.
    pub in_band_hours: f64,
    /// Hours below it.
    pub below_hours: f64,
    /// Hours above it.
    pub above_hours: f64,
    /// The mean weighted by time, in °C.
    pub mean_c: f64,
    /// That of the cold days; `None` where none of them is known.
    pub cold_mean_c: Option<f64>,
    /// Hours of the cold days that are known.
    pub cold_hours: f64,
    /// The lowest temperature, in °C.
    pub lowest_c: f64,
    /// The highest temperature, in °C.
    pub highest_c: f64,
    /// The sum of degrees over [`HEAT_BASE_C`], none above [`HEAT_CAP_C`], in °C times days.
    pub heat_c_days: f64,
}

impl Temperatures {
    fn of(all: &Stretch, cold: &Stretch) -> Option<Self> {
        Some(Self {
            known_hours: all.minutes / 60.0,
            in_band_hours: all.within / 60.0,
            below_hours: all.below / 60.0,
            above_hours: all.above / 60.0,
            mean_c: all.mean()?,
            cold_mean_c: cold.mean(),
            cold_hours: cold.minutes / 60.0,
            lowest_c: all.least?,
            highest_c: all.most?,
            heat_c_days: all.over_base / DAY as f64,
        })
    }

    /// Gives the hours outside of the band.
    pub fn outside_hours(&self) -> f64 {
        self.below_hours + self.above_hours
    }

    /// Gives the part of the known time that was in the band, in percent.
    pub fn in_band_percent(&self) -> f64 {
        100.0 * self.in_band_hours / self.known_hours
    }
}

/// What the logs say of one tray.
#[derive(Debug, Clone, PartialEq)]
pub struct TrayDays {
    /// The tray.
    pub tray: TrayId,
    /// Its number within the test.
    pub number: u16,
    /// The day on which its first kernels were laid.
    pub laid_on: Option<Date>,
    /// The day of its last final count, or that of the recipe while there is none.
    pub ends_on: Option<Date>,
    /// The logs that stand for it, the one that counts first at the beginning.
    pub logs: Vec<LogId>,
    /// Its figures; `None` while it is not laid, or while nothing is known of its days.
    pub figures: Option<Temperatures>,
    /// The gaps between its first day and its last, in the order of time. Of a tray that has no log at all there is none,
    /// and behind the last reading of a tray that is not counted yet there is none either.
    pub gaps: Vec<Gap>,
    /// How much warmer its cold days were than those of the other trays, in °C; `None` where too little is known.
    pub above_others_c: Option<f64>,
    /// Whether that is because of this tray and not of another one.
    pub is_apart: bool,
}

/// The line of a log in a picture.
#[derive(Debug, Clone, PartialEq)]
pub struct LogLine {
    /// The log.
    pub log: LogId,
    /// Its name.
    pub name: String,
    /// Which trays it stands for, such as `all trays` or `tray 4`.
    pub trays: String,
    /// The time of its first reading.
    pub from: DateTime,
    /// The time of its last reading.
    pub to: DateTime,
    /// How many readings it has.
    pub readings: usize,
    /// Its lowest reading, in °C.
    pub lowest_c: f64,
    /// Its highest reading, in °C.
    pub highest_c: f64,
    /// Days after the day of laying, and °C; a new piece begins after each gap. Long logs are thinned to their lowest and
    /// highest readings.
    pub pieces: Vec<Vec<[f64; 2]>>,
}

impl LogLine {
    /// Gives the temperature at a day of the picture, in °C; `None` where the log knows none.
    pub fn at(&self, day: f64) -> Option<f64> {
        let holds = |piece: &&Vec<[f64; 2]>| {
            let ends = piece.first().zip(piece.last());
            ends.is_some_and(|(first, last)| (first[0]..=last[0]).contains(&day))
        };
        let piece = self.pieces.iter().find(holds)?;
        let after = piece.partition_point(|point| point[0] < day);
        let [to, celsius] = *piece.get(after)?;
        let Some([from, before]) = after.checked_sub(1).map(|before| piece[before]) else {
            return Some(celsius);
        };
        Some(before + (celsius - before) * (day - from) / (to - from))
    }
}

/// Days of a picture on which the recipe wants a temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Stage {
    /// The first day, after the day of laying, with its part.
    pub from_day: f64,
    /// The last day.
    pub to_day: f64,
    /// The lower end of the band, in °C.
    pub low_c: f64,
    /// The upper end of the band, in °C.
    pub high_c: f64,
}

/// What the logs of a test say.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct LogFigures {
    /// Midnight before the first tray was laid, or before the first reading while none is; none without either.
    pub zero: Option<DateTime>,
    /// The trays by number.
    pub trays: Vec<TrayDays>,
    /// The logs.
    pub lines: Vec<LogLine>,
    /// The bands of the recipe; empty while no tray is laid.
    pub stages: Vec<Stage>,
}

/// A day on which cells were counted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CountDay {
    /// The day.
    pub on: Date,
    /// Which count.
    pub pass: Pass,
    /// How many cells.
    pub cells: usize,
}

/// Something that was noted about trays.
#[derive(Debug, Clone, PartialEq)]
pub struct EventLine {
    /// The event.
    pub event: EventId,
    /// When.
    pub at: DateTime,
    /// Which trays, such as `All trays`.
    pub trays: String,
    /// What happened, with a small letter, such as `watered, 40 ml each`.
    pub what: String,
    /// What was done in one word, for a picture.
    pub kind: &'static str,
}

/// What kind of thing was found in the logs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum ColdKind {
    /// A tray stood warmer or colder than the others.
    Apart,
    /// Trays were outside of the band of the recipe.
    Outside,
    /// Times of which nothing is known.
    Gaps,
    /// Readings that no tray has.
    Unlikely,
    /// Two logs that stand for the same trays at the same time, neither for fewer than the other.
    Twice,
}

/// One thing that was found in the logs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ColdFinding {
    /// What kind of thing.
    pub kind: ColdKind,
    /// What it is, in a sentence.
    pub sentence: String,
    /// What to do about it, in a sentence; empty where nothing is to be done any more.
    pub remedy: String,
    /// Where to look.
    pub place: Place,
}

/// The days of a test in its trays.
#[derive(Debug, Clone, PartialEq)]
pub struct ColdDays {
    /// The test.
    pub test: TestId,
    /// What its logs say.
    pub figures: Arc<LogFigures>,
    /// The days of its counts, in the order of time.
    pub counts: Vec<CountDay>,
    /// What was noted, in the order of time.
    pub events: Vec<EventLine>,
    /// What was found in the logs.
    pub findings: Vec<ColdFinding>,
    /// What the trays did by the main model; empty where that has no tray effects.
    pub effects: BTreeMap<TrayId, TrayEffect>,
}

impl LogFigures {
    /// Gives a time as days after the day of laying, as the lines of the picture have it.
    pub fn day_of(&self, at: DateTime) -> Option<f64> {
        Some(at.duration_since(self.zero?).as_secs_f64() / 86_400.0)
    }

    /// Gives the time, to the minute, at a day of the picture.
    pub fn time_at(&self, day: f64) -> Option<DateTime> {
        let minutes = (day * DAY as f64).round() as i64;
        self.zero?.checked_add(SignedDuration::from_mins(minutes)).ok()
    }
}

impl ColdDays {
    /// Gives what was found that asks for something.
    pub(super) fn open(&self) -> impl Iterator<Item = &ColdFinding> {
        self.findings.iter().filter(|one| !one.remedy.is_empty())
    }

    /// How soon what was found needs attention.
    pub(super) const URGENCY: Urgency = Urgency::Open;
}

// ---- figures -------------------------------------------------------------------------------------------------

/// Computes what the logs say. `counted` holds the last day of the final counts of each tray.
pub(super) fn figures(project: &Project, test: TestId, counted: &[Option<Date>]) -> LogFigures {
    let logs: Vec<&TemperatureLog> = project.logs_of(test).collect();
    figures_of(project, test, counted, &logs)
}

/// Computes what these logs say of a test.
pub(super) fn figures_of(
    project: &Project,
    test: TestId,
    counted: &[Option<Date>],
    logs: &[&TemperatureLog],
) -> LogFigures {
    let Some(test) = project.tests.get(test) else {
        return LogFigures::default();
    };
    let trays: Vec<(&Tray, Option<Date>)> = project
        .trays_of(test.id)
        .map(|tray| (tray, begun_on(project, tray)))
        .collect();
    let first_laid = trays.iter().filter_map(|(_, laid)| *laid).min();
    let first_read = logs.iter().map(|log| log.start.date()).min();
    let Some(zero) = first_laid.or(first_read).map(|day| day.at(0, 0, 0, 0)) else {
        return LogFigures {
            trays: trays.iter().map(|(tray, _)| nothing_known(tray)).collect(),
            ..LogFigures::default()
        };
    };
    let clock = Clock { zero };
    let read: Vec<Read> = logs.iter().filter_map(|log| Read::of(log, clock)).collect();
    let mut days: Vec<TrayDays> = trays
        .iter()
        .zip(counted.iter().chain(std::iter::repeat(&None)))
        .map(|((tray, laid), counted)| tray_days(tray, *laid, *counted, &test.recipe, &read, clock))
        .collect();
    compare(&mut days, test.recipe.cold_c);
    let stages = match (first_laid, days.iter().filter_map(|tray| tray.ends_on).max()) {
        (Some(laid), Some(end)) => bands(&test.recipe, clock.day(laid), clock.day(end)),
        _ => Vec::new(),
    };
    // A day more on both sides, as a picture of these days shows it.
    let shown = stages.first().zip(stages.last()).map(|(first, last)| Window {
        from: first.window.from - DAY,
        to: last.window.to + DAY,
    });
    let in_days = |minutes: i64| minutes as f64 / DAY as f64;
    LogFigures {
        zero: Some(zero),
        trays: days,
        lines: read.iter().map(|read| read.line(project, shown)).collect(),
        stages: stages
            .iter()
            .map(|band| Stage {
                from_day: in_days(band.window.from),
                to_day: in_days(band.window.to),
                low_c: band.low_c,
                high_c: band.high_c,
            })
            .collect(),
    }
}

fn begun_on(project: &Project, tray: &Tray) -> Option<Date> {
    let counted = project.cells_of(tray.id).filter(|cell| cell.content.is_counted());
    counted.filter_map(|cell| project.laid_on(cell)).min()
}

fn nothing_known(tray: &Tray) -> TrayDays {
    TrayDays {
        tray: tray.id,
        number: tray.number,
        laid_on: None,
        ends_on: None,
        logs: Vec::new(),
        figures: None,
        gaps: Vec::new(),
        above_others_c: None,
        is_apart: false,
    }
}

/// Minutes after a midnight.
#[derive(Debug, Clone, Copy)]
pub(super) struct Clock {
    pub(super) zero: DateTime,
}

impl Clock {
    pub(super) fn minutes(self, at: DateTime) -> i64 {
        at.duration_since(self.zero).as_secs().div_euclid(60)
    }

    pub(super) fn day(self, day: Date) -> i64 {
        self.minutes(day.at(0, 0, 0, 0))
    }

    fn at(self, minutes: i64) -> DateTime {
        self.zero.saturating_add(SignedDuration::from_mins(minutes))
    }
}

/// A log whose readings have been found to be in order.
pub(super) struct Read<'a> {
    pub(super) log: &'a TemperatureLog,
    series: Series<'a>,
    /// Minutes of its start after the midnight of the clock.
    start: i64,
    clock: Clock,
}

impl<'a> Read<'a> {
    /// A log whose readings are out of order cannot come from a command, and is named by the rules of the project.
    pub(super) fn of(log: &'a TemperatureLog, clock: Clock) -> Option<Self> {
        Some(Self {
            log,
            series: Series::new(&log.readings, LONGEST_STEP_MINUTES).ok()?,
            start: clock.minutes(log.start),
            clock,
        })
    }

    pub(super) fn last(&self) -> i64 {
        self.start + self.log.readings.last().map_or(0, |reading| i64::from(reading.0))
    }

    fn moved(&self, window: Window) -> Window {
        Window {
            from: window.from - self.start,
            to: window.to - self.start,
        }
    }

    pub(super) fn over(&self, window: Window, limits: &Limits) -> Stretch {
        self.series.over(self.moved(window), limits)
    }

    fn gaps(&self, window: Window) -> impl Iterator<Item = Window> {
        let gaps = self.series.gaps(self.moved(window));
        gaps.into_iter().map(|gap| Window {
            from: gap.from + self.start,
            to: gap.to + self.start,
        })
    }

    /// The time for which one of its spans stands.
    pub(super) fn window(&self, span: &LogSpan) -> Window {
        let minutes = |at: DateTime| self.clock.minutes(at);
        Window {
            from: span.from.map_or(self.start, minutes),
            to: span.to.map_or(self.last(), minutes),
        }
    }

    /// The time for which one of its spans keeps logs of more trays out: an end that is left open has none.
    fn claim(&self, span: &LogSpan) -> Window {
        let window = self.window(span);
        Window {
            from: span.from.map_or(-FOREVER, |_| window.from),
            to: span.to.map_or(FOREVER, |_| window.to),
        }
    }

    /// The line in a picture, which shows the days in `shown` first: these are thinned apart from the others, which may
    /// be many more.
    fn line(&self, project: &Project, shown: Option<Window>) -> LogLine {
        let readings = &self.log.readings;
        let goes_on = |a: &(u32, f64), b: &(u32, f64)| b.0 - a.0 <= LONGEST_STEP_MINUTES;
        let ends = shown.map_or([-FOREVER, FOREVER], |shown| [shown.from, shown.to]);
        let begins = |part: &[(u32, f64)]| {
            ends.map(|end| part.partition_point(|reading| self.start + i64::from(reading.0) < end))
        };
        let size = |readings: usize| (2 * readings).div_ceil(MOST_POINTS);
        let [first, behind] = begins(readings);
        let sizes = [first, behind - first, readings.len() - behind].map(size);
        let thin = |piece: &[(u32, f64)]| {
            let [first, behind] = begins(piece);
            let (before, rest) = piece.split_at(first);
            let (within, behind) = rest.split_at(behind - first);
            let parts = [before, within, behind].into_iter().zip(sizes);
            parts
                .flat_map(|(part, size)| thinned(part, size))
                .collect::<Vec<_>>()
        };
        let in_days = |&(minutes, celsius): &(u32, f64)| {
            let day = (self.start + i64::from(minutes)) as f64 / DAY as f64;
            [day, celsius]
        };
        let pieces = readings
            .chunk_by(goes_on)
            .map(|piece| thin(piece).iter().map(in_days).collect());
        let celsius = || readings.iter().map(|reading| reading.1);
        LogLine {
            log: self.log.id,
            name: self.log.name.clone(),
            trays: stands_for(project, self.log),
            from: self.log.start,
            to: self.clock.at(self.last()),
            readings: readings.len(),
            lowest_c: celsius().fold(f64::INFINITY, f64::min),
            highest_c: celsius().fold(f64::NEG_INFINITY, f64::max),
            pieces: pieces.collect(),
        }
    }
}

/// So few readings that a picture of them looks the same: the lowest and the highest of each stretch of so many.
fn thinned(readings: &[(u32, f64)], size: usize) -> Vec<(u32, f64)> {
    if size <= 2 {
        return readings.to_vec();
    }
    let ends = |part: &[(u32, f64)]| {
        let by_value = |a: &&(u32, f64), b: &&(u32, f64)| a.1.total_cmp(&b.1);
        let lowest = part.iter().min_by(by_value).copied();
        let highest = part.iter().max_by(by_value).copied();
        let mut both: Vec<(u32, f64)> = lowest.into_iter().chain(highest).collect();
        both.sort_by_key(|reading| reading.0);
        both
    };
    readings.chunks(size).flat_map(ends).collect()
}

/// Which trays a log stands for.
fn stands_for(project: &Project, log: &TemperatureLog) -> String {
    if log.spans.is_empty() {
        return "no tray yet".to_owned();
    }
    if log.spans.iter().any(|span| span.trays.is_empty()) {
        return "all trays".to_owned();
    }
    let trays = log.spans.iter().flat_map(|span| &span.trays);
    let numbers: BTreeSet<u16> = trays
        .filter_map(|tray| project.trays.get(*tray))
        .map(|tray| tray.number)
        .collect();
    trays_text(numbers)
}

/// A stretch of time with the band that is wanted in it.
pub(super) struct Band {
    pub(super) window: Window,
    low_c: f64,
    high_c: f64,
    is_cold: bool,
}

/// The bands from the evening of laying to that of the end. On the day on which the trays are moved into the warmth
/// both temperatures and all between them are in order.
pub(super) fn bands(recipe: &Recipe, laid: i64, end: i64) -> Vec<Band> {
    let (begin, end) = (laid + EVENING, end + EVENING);
    let half = recipe.band();
    let band = |from: i64, to: i64, low_c: f64, high_c: f64, is_cold| Band {
        window: Window {
            from: from.clamp(begin, end.max(begin)),
            to: to.min(end),
        },
        low_c: low_c - half,
        high_c: high_c + half,
        is_cold,
    };
    let cold = recipe.cold_c;
    let mut bands = match recipe.warm {
        None => vec![band(begin, end, cold, cold, true)],
        Some(warm) => {
            let change = laid + DAY * i64::from(warm.from_day);
            vec![
                band(begin, change, cold, cold, true),
                band(change, change + DAY, cold.min(warm.c), cold.max(warm.c), false),
                band(change + DAY, end, warm.c, warm.c, false),
            ]
        }
    };
    bands.retain(|band| band.window.minutes() > 0);
    bands
}

/// A log with a span of time for which it stands for a tray.
struct Stands<'a, 'r> {
    read: &'a Read<'r>,
    window: Window,
    /// The time for which logs of more trays are kept out.
    claim: Window,
    /// For how many trays it stands.
    trays: usize,
}

/// The times at which each log stands for a tray, without any overlap, those of the fewest trays first.
pub(super) fn pieces<'a, 'r>(tray: TrayId, read: &'a [Read<'r>]) -> Vec<(&'a Read<'r>, Window)> {
    let mut spans: Vec<Stands<'a, 'r>> = Vec::new();
    for one in read {
        let of_tray = one.log.spans.iter().filter(|span| span.is_of(tray));
        spans.extend(of_tray.map(|span| Stands {
            read: one,
            window: one.window(span),
            claim: one.claim(span),
            trays: breadth(span),
        }));
    }
    spans.sort_by_key(|span| (span.trays, span.read.log.id));
    let mut found: Vec<(&Read, Window)> = Vec::new();
    let mut narrower: Vec<Window> = Vec::new();
    for alike in spans.chunk_by(|a, b| a.trays == b.trays) {
        let begin = found.len();
        for span in alike {
            let mut free = vec![span.window];
            let earlier = found[begin..].iter().map(|(_, window)| window);
            for taken in narrower.iter().chain(earlier) {
                free = free.into_iter().flat_map(|free| without(free, *taken)).collect();
            }
            found.extend(free.into_iter().map(|free| (span.read, free)));
        }
        narrower.extend(alike.iter().map(|span| span.claim));
    }
    found
}

/// For how many trays a span stands; one for all trays goes behind all others.
pub(super) fn breadth(span: &LogSpan) -> usize {
    if span.trays.is_empty() {
        usize::MAX
    } else {
        span.trays.len()
    }
}

/// What is left of a window when another is taken out of it.
fn without(window: Window, taken: Window) -> Vec<Window> {
    let before = Window {
        from: window.from,
        to: window.to.min(taken.from),
    };
    let behind = Window {
        from: window.from.max(taken.to),
        to: window.to,
    };
    if taken.minutes() == 0 {
        return vec![window];
    }
    [before, behind]
        .into_iter()
        .filter(|part| part.minutes() > 0)
        .collect()
}

fn tray_days(
    tray: &Tray,
    laid: Option<Date>,
    counted: Option<Date>,
    recipe: &Recipe,
    read: &[Read],
    clock: Clock,
) -> TrayDays {
    let pieces = pieces(tray.id, read);
    let mut logs: Vec<LogId> = Vec::new();
    for (one, _) in &pieces {
        if !logs.contains(&one.log.id) {
            logs.push(one.log.id);
        }
    }
    let found = TrayDays {
        logs,
        laid_on: laid,
        ..nothing_known(tray)
    };
    let Some(laid) = laid else {
        return found;
    };
    let last_day = || laid.saturating_add(SignedDuration::from_hours(24 * i64::from(recipe.final_day)));
    let ends_on = counted.unwrap_or_else(last_day).max(laid);
    let (begin, end) = (clock.day(laid), clock.day(ends_on));
    let (mut all, mut cold) = (Stretch::default(), Stretch::default());
    for band in bands(recipe, begin, end) {
        let limits = Limits {
            low: band.low_c,
            high: band.high_c,
            base: HEAT_BASE_C,
            cap: HEAT_CAP_C,
        };
        for (one, window) in &pieces {
            let stretch = one.over(both(*window, band.window), &limits);
            all = all + stretch;
            if band.is_cold {
                cold = cold + stretch;
            }
        }
    }
    // When exactly kernels were laid and counted is not known, so the days on which that was done need not be covered.
    let last_read = pieces.iter().map(|(one, window)| one.last().min(window.to)).max();
    let needed = Window {
        from: begin + DAY,
        to: if counted.is_some() {
            end
        } else {
            end.min(last_read.unwrap_or(end))
        },
    };
    TrayDays {
        ends_on: Some(ends_on),
        figures: Temperatures::of(&all, &cold),
        gaps: gaps(&pieces, needed, clock),
        ..found
    }
}

pub(super) fn both(a: Window, b: Window) -> Window {
    Window {
        from: a.from.max(b.from),
        to: a.to.min(b.to),
    }
}

/// The gaps of a tray: where no log stands for it, and those of each log.
fn gaps(pieces: &[(&Read, Window)], needed: Window, clock: Clock) -> Vec<Gap> {
    if pieces.is_empty() {
        return Vec::new();
    }
    let mut bare = vec![needed];
    for (_, window) in pieces {
        bare = bare.into_iter().flat_map(|bare| without(bare, *window)).collect();
    }
    bare.retain(|bare| bare.minutes() > i64::from(LONGEST_STEP_MINUTES));
    let of_logs = pieces
        .iter()
        .flat_map(|(one, window)| one.gaps(both(*window, needed)));
    let mut gaps: Vec<Gap> = bare
        .into_iter()
        .chain(of_logs)
        .map(|gap| Gap {
            from: clock.at(gap.from),
            to: clock.at(gap.to),
        })
        .collect();
    gaps.sort_unstable();
    // Where one ends as the next begins, they are one.
    gaps.dedup_by(|next, gap| {
        let is_one = next.from <= gap.to;
        if is_one {
            gap.to = gap.to.max(next.to);
        }
        is_one
    });
    gaps
}

/// Compares the mean of each tray's cold days with that of the others. A tray is apart when it is far from the middle one
/// of all; of two trays, when it is far from the temperature of the recipe.
fn compare(days: &mut [TrayDays], wanted_c: f64) {
    let cold = |tray: &TrayDays| {
        let figures = tray
            .figures
            .filter(|figures| figures.cold_hours >= FEWEST_HOURS)?;
        figures.cold_mean_c
    };
    let means: Vec<Option<f64>> = days.iter().map(cold).collect();
    let mut known: Vec<f64> = means.iter().flatten().copied().collect();
    if known.len() < 2 {
        return;
    }
    known.sort_by(f64::total_cmp);
    let middle = if known.len() == 2 {
        wanted_c
    } else {
        0.5 * (known[(known.len() - 1) / 2] + known[known.len() / 2])
    };
    let sum: f64 = known.iter().sum();
    for (tray, mean) in days.iter_mut().zip(means) {
        let Some(mean) = mean else {
            continue;
        };
        let above = mean - (sum - mean) / (known.len() - 1) as f64;
        tray.above_others_c = Some(above);
        tray.is_apart = above.abs() >= APART_C && (mean - middle).abs() >= APART_C;
    }
}

impl LogFigures {
    /// Gives the trays whose cold days were clearly warmer or colder than those of the others, with the mean of these
    /// days and the difference, both in °C.
    pub(super) fn apart(&self) -> Vec<(TrayId, f64, f64)> {
        let apart = self.trays.iter().filter(|tray| tray.is_apart);
        apart
            .filter_map(|tray| Some((tray.tray, tray.figures?.cold_mean_c?, tray.above_others_c?)))
            .collect()
    }
}

// ---- words ---------------------------------------------------------------------------------------------------

/// Puts everything together. The tray effects come from the soundness of the test.
pub(super) fn compute(
    project: &Project,
    test: TestId,
    figures: Arc<LogFigures>,
    sound: &Soundness,
    counted: &[Arc<TrayCounts>],
) -> ColdDays {
    let mut findings = Vec::new();
    if let Some(record) = project.tests.get(test) {
        let unit = project.about.units.temperature;
        let is_named = project.tests_of(record.season).count() > 1;
        let words = Words {
            project,
            test: record,
            figures: &figures,
            unit,
            is_named,
        };
        findings.extend(words.apart(sound));
        findings.extend(words.outside());
        findings.extend(words.gaps());
        findings.extend(words.unlikely());
        findings.extend(words.twice());
    }
    ColdDays {
        test,
        counts: counts(counted),
        events: events(project, test),
        effects: effects(sound),
        figures,
        findings,
    }
}

fn effects(sound: &Soundness) -> BTreeMap<TrayId, TrayEffect> {
    let known = sound.trays.iter();
    known
        .filter_map(|tray| Some((tray.tray, tray.effect.clone()?)))
        .collect()
}

fn counts(counted: &[Arc<TrayCounts>]) -> Vec<CountDay> {
    let mut days: BTreeMap<(Date, Pass), usize> = BTreeMap::new();
    for (day, cells) in counted.iter().flat_map(|tray| &tray.days) {
        *days.entry(*day).or_default() += cells;
    }
    let day = |((on, pass), cells)| CountDay { on, pass, cells };
    days.into_iter().map(day).collect()
}

fn events(project: &Project, test: TestId) -> Vec<EventLine> {
    let mut found: Vec<EventLine> = project
        .events_of(test)
        .map(|event| {
            let numbers: BTreeSet<u16> = event
                .trays
                .iter()
                .filter_map(|tray| project.trays.get(*tray))
                .map(|tray| tray.number)
                .collect();
            let trays = if numbers.is_empty() {
                "all trays".to_owned()
            } else {
                trays_text(numbers)
            };
            let what = match &event.kind {
                EventKind::Watered { ml: Some(ml) } => format!("watered, {ml} ml each"),
                EventKind::Watered { ml: None } => "water looked at".to_owned(),
                EventKind::Moved { to } if to.trim().is_empty() => "moved".to_owned(),
                EventKind::Moved { to } => format!("moved to {to}"),
                EventKind::Turned => "turned round".to_owned(),
                EventKind::Note => event.note.clone(),
            };
            let has_more = event.kind != EventKind::Note && !event.note.is_empty();
            EventLine {
                event: event.id,
                at: event.at,
                trays: capital(&trays),
                what: if has_more {
                    format!("{what}: {}", event.note)
                } else {
                    what
                },
                kind: match event.kind {
                    EventKind::Watered { .. } => "water",
                    EventKind::Moved { .. } => "move",
                    EventKind::Turned => "turn",
                    EventKind::Note => "note",
                },
            }
        })
        .collect();
    found.sort_by_key(|event| (event.at, event.event));
    found
}

struct Words<'a> {
    project: &'a Project,
    test: &'a Test,
    figures: &'a LogFigures,
    unit: TemperatureUnit,
    is_named: bool,
}

impl Words<'_> {
    fn title(&self, number: u16) -> String {
        title(self.project, self.test.id, number, self.is_named)
    }

    /// Names several trays at the beginning of a sentence.
    fn titles(&self, numbers: impl IntoIterator<Item = u16>) -> String {
        let trays = trays_text(numbers);
        if self.is_named {
            format!("Test {}, {trays}", self.test.name)
        } else {
            capital(&trays)
        }
    }

    fn degrees(&self, celsius: f64) -> String {
        temperature(celsius, self.unit)
    }

    /// Names the trays that stood warmer or colder than the others, beside what they did.
    fn apart(&self, sound: &Soundness) -> Vec<ColdFinding> {
        let finding = |(tray, mean, by): (TrayId, f64, f64)| {
            let number = self.project.trays.get(tray)?.number;
            let effect = sound
                .trays
                .iter()
                .find(|one| one.tray == tray)
                .and_then(|one| one.effect.as_ref());
            let sentence = format!(
                "{} stood at {}, {} {} the others",
                self.title(number),
                self.degrees(mean),
                temperature_difference(by.abs(), self.unit),
                if by < 0.0 { "below" } else { "above" }
            );
            let (sentence, remedy) = match effect {
                Some(effect) if effect.is_clear() => (format!("{sentence}, and {}.", germinated(effect)), ""),
                Some(_) => (
                    format!("{sentence}; its ears germinated about as well as those of the others."),
                    "",
                ),
                None => (
                    format!("{sentence}."),
                    "Look at its place, and put it with the others if the test still runs.",
                ),
            };
            Some(ColdFinding {
                kind: ColdKind::Apart,
                sentence,
                remedy: remedy.to_owned(),
                place: Place::Tray(tray),
            })
        };
        self.figures.apart().into_iter().filter_map(finding).collect()
    }

    fn outside(&self) -> Option<ColdFinding> {
        let mut outside: Vec<(&TrayDays, Temperatures)> = self
            .figures
            .trays
            .iter()
            .filter_map(|tray| Some((tray, tray.figures?)))
            .filter(|(_, figures)| figures.outside_hours() > HOURS_OUTSIDE)
            .collect();
        let numbers: Vec<u16> = outside.iter().map(|(tray, _)| tray.number).collect();
        let longest = |a: &(&TrayDays, Temperatures), b: &(&TrayDays, Temperatures)| {
            b.1.outside_hours().total_cmp(&a.1.outside_hours())
        };
        outside.sort_by(longest);
        let (tray, figures) = outside.first()?;
        let were = format!(
            "{} below and {} above",
            hours(figures.below_hours),
            hours(figures.above_hours)
        );
        let of = format!("of {} known hours", hours(figures.known_hours));
        let sentence = match outside.len() {
            1 => format!(
                "{} was outside of {}: {were} {of}.",
                self.title(tray.number),
                self.band()
            ),
            _ => format!(
                "{} were outside of {} for more than {HOURS_OUTSIDE} hours each, the longest tray {}: {were} {of}.",
                self.titles(numbers),
                self.band(),
                tray.number
            ),
        };
        Some(ColdFinding {
            kind: ColdKind::Outside,
            sentence,
            remedy: "Look at the thermostat and at the place of the trays.".to_owned(),
            place: tray
                .logs
                .first()
                .map_or(Place::Tray(tray.tray), |log| Place::Log(*log)),
        })
    }

    /// Names the band of the recipe.
    fn band(&self) -> String {
        let recipe = &self.test.recipe;
        let half = recipe.band();
        let range = |wanted: f64| {
            let low = self.unit.of_celsius(wanted - half);
            format!("{} to {}", tenths(low), self.degrees(wanted + half))
        };
        match recipe.warm {
            None => range(recipe.cold_c),
            Some(warm) => format!("{}, later {}", range(recipe.cold_c), range(warm.c)),
        }
    }

    fn gaps(&self) -> Option<ColdFinding> {
        let mut gaps: BTreeMap<Gap, Vec<&TrayDays>> = BTreeMap::new();
        for tray in &self.figures.trays {
            for gap in &tray.gaps {
                gaps.entry(*gap).or_default().push(tray);
            }
        }
        let count = gaps.len();
        let longest =
            |a: &(Gap, Vec<&TrayDays>), b: &(Gap, Vec<&TrayDays>)| a.0.hours().total_cmp(&b.0.hours());
        let (gap, trays) = gaps.into_iter().max_by(longest)?;
        let titles = self.titles(trays.iter().map(|tray| tray.number));
        let more = match count {
            1 => String::new(),
            _ => format!(" This is the longest of {}.", plural(count, "gap")),
        };
        let first = trays.first()?;
        Some(ColdFinding {
            kind: ColdKind::Gaps,
            sentence: format!("{titles}: no temperature is known from {}.{more}", gap.text()),
            remedy: self.way_to_fill(gap, first),
            place: first
                .logs
                .first()
                .map_or(Place::Tray(first.tray), |log| Place::Log(*log)),
        })
    }

    /// Says how a gap can be filled: by a log that would stand for the tray if one of fewer trays did not go before it.
    fn way_to_fill(&self, gap: Gap, tray: &TrayDays) -> String {
        let usual = "Read out the logger again, or import the log of another one for these hours.";
        let reads_in = |log: &&TemperatureLog| {
            let minutes = |at: DateTime| at.duration_since(log.start).as_secs().div_euclid(60);
            let first = log
                .readings
                .partition_point(|reading| i64::from(reading.0) <= minutes(gap.from));
            let is_known = log
                .readings
                .get(first)
                .is_some_and(|reading| i64::from(reading.0) < minutes(gap.to));
            let stands = |span: &LogSpan| {
                let in_time =
                    span.from.is_none_or(|from| from < gap.to) && span.to.is_none_or(|to| to > gap.from);
                in_time && span.is_of(tray.tray)
            };
            is_known && log.spans.iter().any(stands)
        };
        let logs = self.project.logs_of(self.test.id);
        match logs
            .filter(reads_in)
            .find(|log| tray.logs.first() != Some(&log.id))
        {
            None => usual.to_owned(),
            Some(log) => {
                let own = tray.logs.first().and_then(|log| self.project.logs.get(*log));
                format!(
                    "{usual} The log {} has readings then: where it may stand in, edit the log {} and type from when to when that one stood for the tray.",
                    log.name,
                    own.map_or("of the tray", |own| own.name.as_str())
                )
            }
        }
    }

    /// Names two logs of which it is open which one counts.
    fn twice(&self) -> Option<ColdFinding> {
        let logs: Vec<&TemperatureLog> = self.project.logs_of(self.test.id).collect();
        let clock = Clock {
            zero: self.figures.zero?,
        };
        let read: Vec<Read> = logs.iter().filter_map(|log| Read::of(log, clock)).collect();
        let mut pairs = read.iter().enumerate().flat_map(|(at, one)| {
            let others = read[at + 1..].iter();
            others.filter_map(move |other| Some((one, other, self.shared(one, other)?)))
        });
        let (one, other, trays) = pairs.next()?;
        let more = match pairs.count() {
            0 => String::new(),
            more => format!(" So do {more} more pairs of logs."),
        };
        Some(ColdFinding {
            kind: ColdKind::Twice,
            sentence: format!(
                "The logs {} and {} stand for {} at the same time, and where both have readings only those of {} count.{more}",
                one.log.name,
                other.log.name,
                trays_text(trays),
                one.log.name
            ),
            remedy: "Change one of them: type for which trays it stood, and from when to when.".to_owned(),
            place: Place::Log(other.log.id),
        })
    }

    /// The trays for which two logs stand at the same time, none of the two for fewer; `None` without any.
    fn shared(&self, one: &Read, other: &Read) -> Option<BTreeSet<u16>> {
        let mut shared = BTreeSet::new();
        for span in &one.log.spans {
            for theirs in &other.log.spans {
                let is_open = breadth(span) == breadth(theirs);
                if !is_open || both(one.window(span), other.window(theirs)).minutes() == 0 {
                    continue;
                }
                let trays = self.figures.trays.iter();
                let of_both = trays.filter(|tray| span.is_of(tray.tray) && theirs.is_of(tray.tray));
                shared.extend(of_both.map(|tray| tray.number));
            }
        }
        (!shared.is_empty()).then_some(shared)
    }

    fn unlikely(&self) -> Vec<ColdFinding> {
        let mut found = Vec::new();
        for log in self.project.logs_of(self.test.id) {
            let [least, most] = LIKELY_C;
            let odd = |reading: &&(u32, f64)| !(least..=most).contains(&reading.1);
            let count = log.readings.iter().filter(odd).count();
            let Some((minutes, celsius)) = log.readings.iter().find(odd) else {
                continue;
            };
            found.push(ColdFinding {
                kind: ColdKind::Unlikely,
                sentence: format!(
                    "The log {} has {} beyond {} to {}, the first {} on {}.",
                    log.name,
                    plural(count, "reading"),
                    tenths(self.unit.of_celsius(least)),
                    self.degrees(most),
                    self.degrees(*celsius),
                    minute(log.at(*minutes))
                ),
                remedy:
                    "Look whether the logger lay with the trays, and set from when to when it stood for them."
                        .to_owned(),
                place: Place::Log(log.id),
            });
        }
        found
    }
}

/// Says how the ears of a tray did.
fn germinated(effect: &TrayEffect) -> String {
    let way = if effect.points < 0.0 { "less" } else { "more" };
    format!("germinated {:.0} points {way}", effect.points.abs())
}

/// Says that a tray stood warmer or colder than the others, as evidence of what it did.
pub(super) fn evidence(project: &Project, mean: f64, by: f64) -> String {
    let unit = project.about.units.temperature;
    format!(
        "By the log its cold days had {}, {} {} those of the other trays.",
        temperature(mean, unit),
        temperature_difference(by.abs(), unit),
        if by < 0.0 { "below" } else { "above" }
    )
}

/// Writes a time to the minute.
pub fn minute(at: DateTime) -> String {
    format!("{} {:02}:{:02}", at.date(), at.hour(), at.minute())
}

/// Writes hours with at most one digit after the point.
pub fn hours(hours: f64) -> String {
    tenths(hours)
}

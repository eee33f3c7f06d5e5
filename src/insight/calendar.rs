//! The days of a test: when to look at its water, when to warm, count and clean it.
//!
//! All days are counted from the evening on which the kernels were laid. A test that was laid on several evenings has
//! a calendar for each of them; an evening covers the cells that were laid on it.

use super::progress::{Progress, TrayProgress};
use super::todo::Pane;
use super::words::{are, capital, plural, temperature, trays_text};
use crate::model::{CellId, EventKind, Pass, Place, Project, Recipe, Test, TestId, TrayEvent, TrayId, Units};
use jiff::civil::{Date, Weekday};
use jiff::{Span, Unit};
use std::collections::{BTreeMap, BTreeSet};

/// Days from the final count to the clean-up: common practice, no source.
const CLEAN_UP_AFTER: u16 = 1;
/// For how long a clean-up is asked for, in days: cloths that lie longer are no longer helped.
const CLEAN_UP_ASKED: u16 = 14;
/// How far ahead To do names what comes next, in days.
const LOOK_AHEAD: i32 = 7;
/// The word in a note by which a clean-up is known to be done.
const CLEANED: &str = "clean";
/// What is noted when a clean-up is done.
const CLEANED_UP: &str = "Cleaned up";

/// What is to be done on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Chore {
    /// Looking at the water; the number tells the looks apart, from 1.
    Water(u16),
    /// The early count.
    Early,
    /// Moving the trays from the cold to the warm place.
    Warm,
    /// The final count.
    Final,
    /// Cleaning up, and laying the retest.
    CleanUp,
}

impl Chore {
    /// Names the chore, with a small letter.
    pub fn name(self) -> &'static str {
        match self {
            Self::Water(_) => "look at the water",
            Self::Early => "early count",
            Self::Warm => "move to the warm place",
            Self::Final => "final count",
            Self::CleanUp => "clean-up and retest",
        }
    }

    fn key(self) -> String {
        match self {
            Self::Water(number) => format!("water-{number}"),
            Self::Early => "early".to_owned(),
            Self::Warm => "warm".to_owned(),
            Self::Final => "final".to_owned(),
            Self::CleanUp => "clean-up".to_owned(),
        }
    }

    /// Gives what to note when it is done; none for a count, which is noted by counting.
    pub fn event(self, recipe: &Recipe, units: Units) -> Option<(EventKind, String)> {
        match self {
            Self::Water(_) => Some((EventKind::Watered { ml: None }, String::new())),
            Self::Warm => {
                let warm = recipe.warm.map_or(recipe.cold_c, |warm| warm.c);
                let to = format!("the warm place, {}", temperature(warm, units.temperature));
                Some((EventKind::Moved { to }, String::new()))
            }
            Self::CleanUp => Some((EventKind::Note, CLEANED_UP.to_owned())),
            Self::Early | Self::Final => None,
        }
    }

    /// Says whether something that was noted is this chore.
    fn is_noted_by(self, event: &TrayEvent) -> bool {
        match self {
            Self::Water(_) => matches!(event.kind, EventKind::Watered { .. }),
            Self::Warm => matches!(event.kind, EventKind::Moved { .. }),
            Self::CleanUp => event.note.to_lowercase().contains(CLEANED),
            Self::Early | Self::Final => false,
        }
    }
}

/// How an item of the calendar stands on a day.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// It is done.
    Done,
    /// It was not done, or not noted, and its time is over.
    Passed,
    /// It is due since so many days; 0 for today.
    Due(i32),
    /// It comes in so many days.
    Coming(i32),
}

/// One thing to do on one day, for the trays of one evening.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CalendarItem {
    /// Names the item within its test, and stays when its day moves.
    pub key: String,
    /// What is to be done.
    pub chore: Chore,
    /// The day.
    pub on: Date,
    /// The day of the test: 6 for six days after laying.
    pub day: u16,
    /// The trays, by number.
    pub trays: Vec<TrayId>,
    /// What and where, such as `Early count, trays 1 to 4`.
    pub title: String,
    /// Whether it is done: counted, or noted.
    pub is_done: bool,
    /// Cells that wait for this count; 0 for everything else.
    pub left: usize,
    /// Where to go.
    pub place: Place,
    /// The first day on which it is no longer asked for.
    until: Option<Date>,
    /// Whether the counts say that its time is over.
    is_over: bool,
    /// Whether a count must be finished before it.
    waits: bool,
}

impl CalendarItem {
    /// Says how the item stands on a day.
    pub fn standing(&self, today: Date) -> Standing {
        if self.is_done {
            return Standing::Done;
        }
        let late = days_between(self.on, today);
        if self.is_over || self.until.is_some_and(|until| until <= today) {
            Standing::Passed
        } else if late >= 0 {
            Standing::Due(late)
        } else {
            Standing::Coming(-late)
        }
    }

    /// Says how the item stands on a day, such as `due today, 12 cells left`.
    pub fn state(&self, today: Date) -> String {
        let text = match self.standing(today) {
            Standing::Done => return "done".to_owned(),
            Standing::Passed if self.left > 0 => return format!("{} not counted", plural(self.left, "cell")),
            Standing::Passed => return "not noted".to_owned(),
            Standing::Coming(1) => return "tomorrow".to_owned(),
            Standing::Coming(days) => return format!("in {days} days"),
            Standing::Due(0) => "due today".to_owned(),
            Standing::Due(1) => "due since yesterday".to_owned(),
            Standing::Due(days) => format!("due since {days} days"),
        };
        if self.left > 0 {
            format!("{text}, {} left", plural(self.left, "cell"))
        } else {
            text
        }
    }

    /// Gives the pane in which it is done.
    pub fn pane(&self) -> Pane {
        Pane::of(self.place)
    }

    /// Says what to do, in one or two sentences.
    pub fn what(&self, recipe: &Recipe, units: Units) -> String {
        match self.chore {
            Chore::Water(_) => "Look whether the kernels still lie damp, and add water where they do not.".to_owned(),
            Chore::Early => "Count the kernels that have emerged, cell by cell.".to_owned(),
            Chore::Warm => {
                let warm = recipe.warm.map_or(recipe.cold_c, |warm| warm.c);
                format!(
                    "Move the trays from {} to {}.",
                    temperature(recipe.cold_c, units.temperature),
                    temperature(warm, units.temperature)
                )
            }
            Chore::Final => "Count and grade every cell; this count decides.".to_owned(),
            Chore::CleanUp => "Throw the test kernels away (they are waste, never food or feed), wash and boil the cloths, and lay the retest of the ears that could not be told.".to_owned(),
        }
    }
}

/// The days of one test.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TestCalendar {
    /// The test.
    pub test: TestId,
    /// Its name.
    pub name: String,
    /// All items by day.
    pub items: Vec<CalendarItem>,
    /// How many evenings it was laid on.
    pub evenings: usize,
    /// Numbers of the trays in which cells wait to be laid.
    pub unlaid: Vec<u16>,
}

impl TestCalendar {
    /// Gives, for each evening of laying, what is due on a day, or else what comes next within a week.
    pub(super) fn due(&self, today: Date) -> Vec<(&CalendarItem, Standing)> {
        let mut due = Vec::new();
        let mut next: BTreeMap<&str, (&CalendarItem, Standing)> = BTreeMap::new();
        let mut busy = BTreeSet::new();
        for item in self.items.iter().filter(|item| !item.waits) {
            let evening = item.evening();
            match item.standing(today) {
                standing @ Standing::Due(_) => {
                    busy.insert(evening);
                    due.push((item, standing));
                }
                standing @ Standing::Coming(days) if days <= LOOK_AHEAD => {
                    next.entry(evening).or_insert((item, standing));
                }
                Standing::Coming(_) | Standing::Done | Standing::Passed => {}
            }
        }
        due.extend(
            next.into_iter()
                .filter(|(evening, _)| !busy.contains(evening))
                .map(|(_, one)| one),
        );
        due
    }
}

impl CalendarItem {
    /// The part of the key that names the evening.
    fn evening(&self) -> &str {
        self.key.split_once('.').map_or(&self.key, |(evening, _)| evening)
    }
}

/// Gives what a recipe asks for, each with its day, counted from the day of laying.
pub fn days_of(recipe: &Recipe) -> Vec<(Chore, u16)> {
    let mut days = Vec::new();
    if let Some(every) = recipe.water_every.filter(|every| *every > 0) {
        // The final count ends the test, so the water is not looked at any more on that day.
        let looks = recipe.final_day.saturating_sub(1) / every;
        days.extend((1..=looks).map(|look| (Chore::Water(look), look * every)));
    }
    days.extend(recipe.early_day.map(|day| (Chore::Early, day)));
    days.extend(recipe.warm.map(|warm| (Chore::Warm, warm.from_day)));
    days.push((Chore::Final, recipe.final_day));
    days.push((Chore::CleanUp, recipe.final_day.saturating_add(CLEAN_UP_AFTER)));
    days.sort_by_key(|(chore, day)| (*day, *chore));
    days
}

/// What was laid on one evening.
#[derive(Debug, Default)]
pub(super) struct Evening {
    /// Its cells, tray by tray.
    cells: BTreeMap<(u16, TrayId), Vec<CellId>>,
    /// The trays that were begun on it: from then on they are watered and warmed.
    begun: BTreeMap<u16, TrayId>,
    /// The trays of which the last cells were laid on it: after their final count they are cleaned.
    ended: BTreeMap<u16, TrayId>,
}

/// The evenings of laying by day, and the numbers of the trays in which cells wait to be laid.
#[derive(Debug, Default)]
pub(super) struct Evenings {
    by_day: BTreeMap<Date, Evening>,
    unlaid: Vec<u16>,
}

/// Builds the calendar of a test.
pub(super) fn compute(
    project: &Project,
    test: TestId,
    progress: &Progress,
    evenings: &Evenings,
) -> TestCalendar {
    let Some(test) = project.tests.get(test) else {
        return TestCalendar {
            test,
            name: String::new(),
            items: Vec::new(),
            evenings: 0,
            unlaid: Vec::new(),
        };
    };
    let Evenings { by_day, unlaid } = evenings;
    let events: Vec<&TrayEvent> = project.events_of(test.id).collect();
    let work = Work {
        project,
        test,
        progress: progress.trays.iter().map(|tray| (tray.tray, tray)).collect(),
        events,
    };
    let mut items: Vec<CalendarItem> = by_day
        .iter()
        .zip(1..)
        .flat_map(|((laid, evening), number)| work.items(number, *laid, evening))
        .collect();
    // A stable sort: on one day the evenings stay in their order.
    items.sort_by_key(|item| (item.on, item.chore));
    TestCalendar {
        test: test.id,
        name: test.name.clone(),
        items,
        evenings: by_day.len(),
        unlaid: unlaid.clone(),
    }
}

/// Reads on which evenings a test was laid, which no count changes.
pub(super) fn evenings(project: &Project, test: TestId) -> Evenings {
    let Some(test) = project.tests.get(test) else {
        return Evenings::default();
    };
    let mut evenings: BTreeMap<Date, Evening> = BTreeMap::new();
    let mut unlaid = Vec::new();
    for tray in project.trays_of(test.id) {
        let mut cells: BTreeMap<Date, Vec<CellId>> = BTreeMap::new();
        let mut waits = false;
        for cell in project.cells_of(tray.id).filter(|cell| cell.content.is_counted()) {
            // As `Project::laid_on`, without looking up the test for each cell.
            match cell.laid_on.or(test.laid) {
                Some(day) => cells.entry(day).or_default().push(cell.id),
                None => waits = true,
            }
        }
        if waits {
            unlaid.push(tray.number);
        }
        let (first, last) = (cells.keys().next().copied(), cells.keys().last().copied());
        for (day, cells) in cells {
            let evening = evenings.entry(day).or_default();
            evening.cells.insert((tray.number, tray.id), cells);
            if first == Some(day) {
                evening.begun.insert(tray.number, tray.id);
            }
            if last == Some(day) && !waits {
                evening.ended.insert(tray.number, tray.id);
            }
        }
    }
    Evenings {
        by_day: evenings,
        unlaid,
    }
}

struct Work<'a> {
    project: &'a Project,
    test: &'a Test,
    progress: BTreeMap<TrayId, &'a TrayProgress>,
    events: Vec<&'a TrayEvent>,
}

/// How far one count of one evening has come.
struct Counted {
    left: usize,
    /// The first cell without it.
    next: Option<CellId>,
    any: bool,
}

impl Work<'_> {
    fn items(&self, number: u16, laid: Date, evening: &Evening) -> Vec<CalendarItem> {
        let recipe = &self.test.recipe;
        let early = self.counted(evening, Pass::Early);
        let last = self.counted(evening, Pass::Final);
        let all: BTreeMap<u16, TrayId> = evening.cells.keys().copied().collect();
        let item = |(chore, day): (Chore, u16)| {
            let on = after(laid, day)?;
            let (trays, counted) = match chore {
                Chore::Early => (&all, Some(&early)),
                Chore::Final => (&all, Some(&last)),
                Chore::Water(_) | Chore::Warm => (&evening.begun, None),
                Chore::CleanUp => (&evening.ended, None),
            };
            let until = match chore {
                Chore::Water(_) => recipe.water_every.and_then(|every| after(on, every)),
                Chore::Early => after(laid, recipe.final_day),
                Chore::CleanUp => after(on, CLEAN_UP_ASKED),
                Chore::Warm | Chore::Final => None,
            };
            let is_over = match chore {
                Chore::Water(_) | Chore::Warm => last.left == 0,
                Chore::Early => last.any,
                Chore::Final | Chore::CleanUp => false,
            };
            let is_done = match counted {
                Some(counted) => counted.left == 0,
                None => self.is_noted(chore, trays, on, until),
            };
            (!trays.is_empty()).then(|| CalendarItem {
                key: format!("evening-{number}.{}", chore.key()),
                chore,
                on,
                day,
                trays: trays.values().copied().collect(),
                title: format!("{}, {}", capital(chore.name()), trays_text(trays.keys().copied())),
                is_done,
                left: counted.map_or(0, |counted| counted.left),
                place: counted
                    .and_then(|counted| counted.next)
                    .map_or(Place::Test(self.test.id), Place::Cell),
                until,
                is_over,
                waits: chore == Chore::CleanUp && last.left > 0,
            })
        };
        days_of(recipe).into_iter().filter_map(item).collect()
    }

    fn counted(&self, evening: &Evening, pass: Pass) -> Counted {
        let mut found = Counted {
            left: 0,
            next: None,
            any: false,
        };
        for ((_, tray), cells) in &evening.cells {
            let Some(progress) = self.progress.get(tray) else {
                continue;
            };
            let counted = progress.counted(pass);
            found.any |= counted > 0;
            if counted == progress.cells {
                continue;
            }
            let open = cells
                .iter()
                .filter(|cell| counted == 0 || self.project.count_in_force(**cell, pass).is_none());
            for cell in open {
                found.left += 1;
                found.next = found.next.or(Some(*cell));
            }
        }
        found
    }

    /// Says whether a chore was noted for all of some trays, from its day on and before the day when it is no longer
    /// asked for.
    fn is_noted(&self, chore: Chore, trays: &BTreeMap<u16, TrayId>, from: Date, until: Option<Date>) -> bool {
        let fitting = self.events.iter().filter(|event| {
            let on = event.at.date();
            chore.is_noted_by(event) && on >= from && until.is_none_or(|until| on < until)
        });
        let mut missing: BTreeSet<TrayId> = trays.values().copied().collect();
        for event in fitting {
            if event.trays.is_empty() {
                return true;
            }
            for tray in &event.trays {
                missing.remove(tray);
            }
        }
        missing.is_empty()
    }
}

/// Says what is due or comes next, in a sentence.
pub(super) fn sentence(calendar: &TestCalendar, item: &CalendarItem, standing: Standing) -> String {
    let which = if calendar.evenings > 1 {
        let (_, trays) = item.title.split_once(", ").unwrap_or_default();
        format!("test {}, {trays},", calendar.name)
    } else {
        format!("test {}", calendar.name)
    };
    let on = weekday_and_date(item.on);
    if let Standing::Coming(days) = standing {
        let when = if days == 1 {
            "tomorrow".to_owned()
        } else {
            format!("in {days} days")
        };
        let which = which.trim_end_matches(',');
        return format!("Next in {which}: {}, {when} ({on}).", item.chore.name());
    }
    let late = if let Standing::Due(days) = standing {
        days
    } else {
        0
    };
    let when = match late {
        0 => "is due today".to_owned(),
        1 => "was due yesterday".to_owned(),
        _ => format!("was due on {}, {late} days ago", item.on),
    };
    match item.chore {
        Chore::Early | Chore::Final => format!(
            "The {} of {which} {when}: {} left.",
            item.chore.name(),
            are(item.left, "cell")
        ),
        Chore::Water(_) => format!("A look at the water of {which} {when}."),
        Chore::Warm => format!("The move of {which} to the warm place {when}."),
        Chore::CleanUp => format!("The clean-up of {which} {when}."),
    }
}

/// Writes a day with its weekday, such as `Tue 2026-12-01`.
pub fn weekday_and_date(date: Date) -> String {
    let weekday = match date.weekday() {
        Weekday::Monday => "Mon",
        Weekday::Tuesday => "Tue",
        Weekday::Wednesday => "Wed",
        Weekday::Thursday => "Thu",
        Weekday::Friday => "Fri",
        Weekday::Saturday => "Sat",
        Weekday::Sunday => "Sun",
    };
    format!("{weekday} {date}")
}

fn after(date: Date, days: u16) -> Option<Date> {
    date.checked_add(Span::new().days(i64::from(days))).ok()
}

/// Whole days from one day to another; negative when the other comes first.
fn days_between(from: Date, to: Date) -> i32 {
    to.since((Unit::Day, from)).map_or(0, |span| span.get_days())
}

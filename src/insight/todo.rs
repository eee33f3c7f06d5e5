//! What needs attention.

use super::calendar::{Chore, Standing, TestCalendar};
use super::choice::Choice;
use super::cold_days::{ColdDays, ColdFinding};
use super::frost::{Frost, is_frosted};
use super::harvest::{Stock, stock};
use super::misread::Misread;
use super::progress::{Progress, TrayProgress};
use super::soundness::{Soundness, title};
use super::storage::{Storage, TestAgain};
use super::store_rules::StoreStand;
use super::words::{capital, ears, plural, some_of, trays_text};
use crate::model::{
    Cell, CellId, Ear, EarId, ListEntry, Pass, Place, PlantingList, Project, Repair, Season, SeasonId, Stand,
    WordKind,
};
use jiff::civil::Date;
use std::sync::Arc;

/// The six panes in the order of the year.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Pane {
    /// Ears, packets, traits.
    Harvest,
    /// The design of a test.
    Trays,
    /// Counting.
    Scoring,
    /// Cutoffs and the choice.
    Selection,
    /// Frozen lists.
    Planting,
    /// All seasons.
    Seasons,
}

impl Pane {
    /// All panes.
    pub const ALL: [Self; 6] = [
        Self::Harvest,
        Self::Trays,
        Self::Scoring,
        Self::Selection,
        Self::Planting,
        Self::Seasons,
    ];

    /// Names the pane.
    pub fn name(self) -> &'static str {
        match self {
            Self::Harvest => "Harvest",
            Self::Trays => "Trays",
            Self::Scoring => "Scoring",
            Self::Selection => "Selection",
            Self::Planting => "Planting",
            Self::Seasons => "Seasons",
        }
    }

    /// Gives the pane that shows a place.
    pub fn of(place: Place) -> Self {
        match place {
            Place::Ear(_) | Place::Packet(_) | Place::Trait(_) => Self::Harvest,
            Place::Test(_) | Place::Tray(_) | Place::Log(_) | Place::Event(_) => Self::Trays,
            Place::Cell(_) | Place::Count(_) | Place::Photo(_) => Self::Scoring,
            Place::Selection(_) => Self::Selection,
            Place::List(_) | Place::Plan(_) | Place::FieldRow(_) => Self::Planting,
            Place::Project | Place::Season(_) | Place::Row(_) | Place::Weather(_) | Place::Store(_) => {
                Self::Seasons
            }
        }
    }
}

/// How soon something needs attention, the most urgent first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Urgency {
    /// Something cannot be right.
    Wrong,
    /// Something is due today or overdue.
    Due,
    /// Something was begun and is not finished.
    Open,
    /// Something is missing.
    Missing,
    /// The next step.
    Next,
}

/// One thing that needs attention.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Todo {
    /// How soon.
    pub urgency: Urgency,
    /// Where to go: the first of several places.
    pub place: Place,
    /// The pane where it is put right.
    pub pane: Pane,
    /// The ears that it is about, if it is about ears.
    pub ears: Vec<EarId>,
    /// What it is, in a sentence.
    pub sentence: String,
    /// The figures that say so, in a sentence or two; empty where the sentence says all.
    pub evidence: String,
    /// What mends it in one step, if anything does.
    pub suggested: Option<Repair>,
}

impl Todo {
    fn new(urgency: Urgency, pane: Pane, place: Place, sentence: String) -> Self {
        Self {
            urgency,
            place,
            pane,
            ears: Vec::new(),
            sentence,
            evidence: String::new(),
            suggested: None,
        }
    }
}

/// How many ears or lines in store the figures tell one by one.
const MOST_TOLD: usize = 6;

/// What is shown when nothing needs attention.
pub const NOTHING: &str = "Nothing needs attention";

/// Names the invariants that the project breaks.
pub(super) fn broken(project: &Project) -> Vec<Todo> {
    project
        .validate()
        .into_iter()
        .map(|problem| {
            let place = problem.place;
            let sentence = format!("{}: {}.", name_of(project, place), problem.fault);
            Todo::new(Urgency::Wrong, Pane::of(place), place, sentence)
        })
        .collect()
}

fn name_of(project: &Project, place: Place) -> String {
    let found = match place {
        Place::Project => Some("Project".to_owned()),
        Place::Season(id) => project
            .seasons
            .get(id)
            .map(|season| format!("Season {}", season.year)),
        Place::Row(id) => project.rows.get(id).map(|row| format!("Row {}", row.label)),
        Place::Ear(id) => project.ears.get(id).map(|ear| format!("Ear {}", ear.number)),
        Place::Packet(id) => project.packets.get(id).map(|_| format!("Packet {id}")),
        Place::Trait(id) => project
            .traits
            .get(id)
            .map(|known| format!("Trait {}", known.name)),
        Place::Test(id) => project.tests.get(id).map(|test| format!("Test {}", test.name)),
        Place::Tray(id) => project.trays.get(id).map(|tray| format!("Tray {}", tray.number)),
        Place::Cell(id) => project.cells.get(id).map(|cell| full_name(project, cell)),
        Place::Count(id) => project
            .counts
            .get(id)
            .and_then(|count| project.cells.get(count.cell))
            .map(|cell| format!("Count of {}", full_name(project, cell))),
        Place::Selection(id) => project.selections.get(id).map(|one| one.name.clone()),
        Place::List(id) => project
            .lists
            .get(id)
            .map(|list| format!("Planting list {}", list.version)),
        Place::Log(id) => project
            .logs
            .get(id)
            .map(|log| format!("Temperature log {}", log.name)),
        Place::Event(id) => project
            .events
            .get(id)
            .map(|event| format!("Trays {}", event.kind.name())),
        Place::Photo(id) => project
            .photos
            .get(id)
            .map(|photo| format!("Photograph {}", photo.file)),
        Place::Plan(_) | Place::FieldRow(_) | Place::Weather(_) | Place::Store(_) => {
            Some(capital(&project.place_name(place)))
        }
    };
    found.unwrap_or_else(|| "A record".to_owned())
}

fn full_name(project: &Project, cell: &Cell) -> String {
    let tray = project.trays.get(cell.tray).map_or(0, |tray| tray.number);
    format!("tray {tray} cell {}", cell.name())
}

// ---- harvest -------------------------------------------------------------------------------------------

/// Names what is missing of the ears of a season. Once its planting list is frozen, nothing is asked for any more.
pub(super) fn harvest(project: &Project, season: &Season) -> Vec<Todo> {
    let mut found = Vec::new();
    if project.ears_of(season.id).next().is_none() {
        let sentence = format!("Season {} has no ears yet; enter its harvest.", season.year);
        found.push(Todo::new(
            Urgency::Next,
            Pane::Harvest,
            Place::Season(season.id),
            sentence,
        ));
        return found;
    }
    if project.list_in_force(season.id).is_some() {
        return found;
    }
    let has_test = project.tests_of(season.id).next().is_some();
    let which = |wanted: &dyn Fn(&Ear) -> bool| -> Vec<EarId> {
        let all = project.ears_of(season.id);
        all.filter(|ear| wanted(ear)).map(|ear| ear.id).collect()
    };
    let stocks: Vec<(EarId, Stock)> = project
        .ears_of(season.id)
        .map(|ear| (ear.id, stock(project, ear)))
        .collect();
    let stocked = |wanted: fn(Stock) -> bool| -> Vec<EarId> {
        let fitting = stocks.iter().filter(|(_, stock)| wanted(*stock));
        fitting.map(|(ear, _)| *ear).collect()
    };
    let mut note = |pane, ears_: Vec<EarId>, singular: &str, plural_: &str| {
        let Some(first) = ears_.first().copied() else {
            return;
        };
        let what = if ears_.len() == 1 { singular } else { plural_ };
        let sentence = format!(
            "{} {what}: {}.",
            plural(ears_.len(), "ear"),
            ears(project, &ears_)
        );
        found.push(Todo {
            ears: ears_,
            ..Todo::new(Urgency::Missing, pane, Place::Ear(first), sentence)
        });
    };
    note(
        Pane::Harvest,
        stocked(|stock| stock == Stock::NoPacket),
        "has no packet",
        "have no packet",
    );
    note(
        Pane::Harvest,
        stocked(|stock| stock == Stock::Uncounted),
        "is in a packet that was never counted",
        "are in packets that were never counted",
    );
    let few = format!(
        "too few kernels for a test that is not laid yet and {} to keep back",
        season.remnant
    );
    note(
        Pane::Harvest,
        stocked(|stock| matches!(stock, Stock::Few { .. })),
        &format!("has {few}"),
        &format!("have {few}"),
    );
    note(
        Pane::Harvest,
        which(&|ear| ear.row.is_none()),
        "has no mother row",
        "have no mother row",
    );
    note(
        Pane::Harvest,
        which(&|ear| project.maturity_days(ear).is_none()),
        "has no maturity days",
        "have no maturity days",
    );
    if has_test {
        note(
            Pane::Trays,
            which(&|ear| project.cells_of_ear(ear.id).next().is_none()),
            "is in no test",
            "are in no test",
        );
    } else {
        let sentence = format!(
            "No test is designed for the {} of season {}.",
            plural(project.ears_of(season.id).count(), "ear"),
            season.year
        );
        found.push(Todo::new(
            Urgency::Next,
            Pane::Trays,
            Place::Season(season.id),
            sentence,
        ));
    }
    found
}

/// Names the first step of a project in which there is nothing.
pub(super) fn first_step() -> Todo {
    let sentence = "There is no season yet; begin one, then enter its harvest.".to_owned();
    Todo::new(Urgency::Next, Pane::Seasons, Place::Project, sentence)
}

// ---- scoring -------------------------------------------------------------------------------------------

/// Names what looks wrong in the counts of tests, and the cells left out in trays that were begun.
pub(super) fn scoring(project: &Project, progress: &[Progress], misread: &[Misread]) -> Vec<Todo> {
    let mut found = Vec::new();
    for test in progress {
        for tray in &test.trays {
            // Tray numbers begin anew in each test.
            let title = title(project, test.test, tray.number, progress.len() > 1);
            suspicious(project, &title, tray, misread, &mut found);
            found.extend(begun(&title, tray));
        }
    }
    found
}

/// Names the cells without a count in a tray that was begun. A tray without any count is named by the day when its
/// count is due, and early counts are no longer asked for once the final ones have begun.
fn begun(title: &str, tray: &TrayProgress) -> Option<Todo> {
    let pass = if tray.last == 0 { Pass::Early } else { Pass::Final };
    let counted = tray.counted(pass);
    if counted == 0 || counted >= tray.cells {
        return None;
    }
    let left = tray.cells - counted;
    let verb = if left == 1 { "has" } else { "have" };
    let cells = plural(tray.cells, "cell");
    let sentence = format!("{title}: {left} of {cells} {verb} no {pass} count.");
    let place = tray.next(pass).map_or(Place::Tray(tray.tray), Place::Cell);
    Some(Todo::new(Urgency::Open, Pane::Scoring, place, sentence))
}

/// Names what was found out about a test itself, with what to do about it. Trays that look misread are among the
/// suspicious counts.
pub(super) fn soundness(project: &Project, sound: &Soundness, is_named: bool) -> Vec<Todo> {
    let found = sound.findings.iter().filter(|one| one.suggested.is_none());
    found
        .map(|finding| {
            let about_all = matches!(finding.place, Place::Test(_));
            let test = match project.tests.get(sound.test) {
                Some(test) if is_named && about_all => format!("Test {}: ", test.name),
                _ => String::new(),
            };
            let sentence = format!("{test}{} {}", finding.sentence, finding.remedy);
            Todo {
                evidence: finding.evidence.clone(),
                ..Todo::new(finding.urgency, Pane::of(finding.place), finding.place, sentence)
            }
        })
        .collect()
}

/// Names what the temperature logs of a test ask for.
pub(super) fn cold_days(days: &ColdDays) -> Vec<Todo> {
    let todo = |one: &ColdFinding| {
        let sentence = format!("{} {}", one.sentence, one.remedy);
        Todo::new(ColdDays::URGENCY, Pane::of(one.place), one.place, sentence)
    };
    days.open().map(todo).collect()
}

fn suspicious(
    project: &Project,
    title: &str,
    tray: &TrayProgress,
    misread: &[Misread],
    found: &mut Vec<Todo>,
) {
    let misread: Vec<&Misread> = misread.iter().filter(|one| one.is_about(tray.tray)).collect();
    found.extend(
        misread
            .iter()
            .filter(|one| one.tray == tray.tray)
            .map(|one| Todo {
                evidence: one.evidence.clone(),
                suggested: Some(one.repair),
                ..Todo::new(
                    Urgency::Wrong,
                    Pane::Scoring,
                    one.place,
                    format!("{title}{} {}", one.what, one.remedy),
                )
            }),
    );
    let name = |id: CellId| project.cells.get(id).map_or_else(String::new, Cell::name);
    let mut wrong = |urgency, cell: CellId, sentence: String| {
        found.push(Todo::new(urgency, Pane::Scoring, Place::Cell(cell), sentence));
    };
    for more in &tray.more_early {
        if misread.iter().any(|one| one.cells.contains(&more.cell)) {
            continue;
        }
        let urgency = if more.is_impossible() {
            Urgency::Wrong
        } else {
            Urgency::Open
        };
        let sentence = format!("{title} cell {}: {}", name(more.cell), more.sentence());
        wrong(urgency, more.cell, sentence);
    }
    if let Some(first) = tray.disagreeing.first() {
        let kind = if tray.disagreeing.len() == 1 {
            "cell"
        } else {
            "cells"
        };
        let names: Vec<String> = tray.disagreeing.iter().map(|cell| name(*cell)).collect();
        let sentence = format!("{title}: the two scorers disagree in {kind} {}.", some_of(&names));
        wrong(Urgency::Open, *first, sentence);
    }
}

/// Names the tests that are to be laid, what is due on this day or was before, and what comes next within a week.
pub(super) fn calendar(
    project: &Project,
    season: SeasonId,
    progress: &[Progress],
    calendars: &[Arc<TestCalendar>],
    today: Date,
) -> Vec<Todo> {
    let is_frozen = project.list_in_force(season).is_some();
    let mut found = Vec::new();
    for (progress, calendar) in progress.iter().zip(calendars) {
        if let Some(sentence) = unlaid(progress, calendar) {
            let place = Place::Test(calendar.test);
            found.push(Todo::new(Urgency::Open, Pane::Trays, place, sentence));
        }
        for (item, standing) in calendar.due(today) {
            if is_frozen && item.chore == Chore::CleanUp {
                continue;
            }
            let urgency = match standing {
                Standing::Coming(_) => Urgency::Next,
                Standing::Due(_) | Standing::Done | Standing::Passed => Urgency::Due,
            };
            let sentence = super::calendar::sentence(calendar, item, standing);
            found.push(Todo::new(urgency, item.pane(), item.place, sentence));
        }
    }
    found
}

fn unlaid(progress: &Progress, calendar: &TestCalendar) -> Option<String> {
    let name = &calendar.name;
    if calendar.unlaid.is_empty() {
        return None;
    }
    Some(if progress.early + progress.last > 0 && calendar.evenings == 0 {
        format!("Test {name} has counts, but the day when it was laid is not noted.")
    } else if calendar.evenings == 0 {
        format!("Test {name} is designed but not laid.")
    } else {
        let trays = trays_text(calendar.unlaid.iter().copied());
        let verb = if calendar.unlaid.len() == 1 { "has" } else { "have" };
        format!("Test {name}: {trays} still {verb} cells to lay.")
    })
}

/// Names the packets that no longer hold what a list has still to plant.
pub(super) fn reserved(project: &Project, list: &PlantingList) -> Option<Todo> {
    let short: Vec<(&ListEntry, i64)> = list
        .entries
        .iter()
        .filter_map(|entry| Some((entry, project.kernels_of(entry.ear)?)))
        .filter(|(entry, kernels)| *kernels < i64::from(entry.plant) && !project.is_planted(list, entry))
        .collect();
    if short.is_empty() {
        return None;
    }
    let ears_: Vec<EarId> = short.iter().map(|(entry, _)| entry.ear).collect();
    let evidence: Vec<String> = short
        .iter()
        .map(|(entry, kernels)| format!("ear {}: {kernels} left, {} to plant", entry.number, entry.plant))
        .collect();
    let hold = if short.len() == 1 {
        "its packet no longer holds"
    } else {
        "their packets no longer hold"
    };
    let sentence = format!(
        "{}: {hold} what planting list {} has still to plant. Count the kernels again, or freeze a revision.",
        capital(&ears(project, &ears_)),
        list.version
    );
    Some(Todo {
        ears: ears_,
        evidence: format!("{}.", capital(&some_of(&evidence))),
        ..Todo::new(Urgency::Open, Pane::Planting, Place::List(list.id), sentence)
    })
}

/// Names the ears that would be planted although frost reached them, unless the grower said 'always plant'.
pub(super) fn frosted(project: &Project, season: SeasonId, choice: &Choice) -> Option<Todo> {
    let words = project.selection_of(season).map(|selection| &selection.words);
    let is_wanted = |ear: &EarId| {
        let word = words.and_then(|words| words.get(ear));
        word.is_some_and(|word| word.kind == WordKind::Always)
    };
    let chosen = choice.standings.iter().filter(|one| one.stand == Stand::Plant);
    let ears_: Vec<EarId> = chosen
        .filter(|one| !is_wanted(&one.ear))
        .filter_map(|one| project.ears.get(one.ear))
        .filter(|ear| is_frosted(project, ear) == Some(true))
        .map(|ear| ear.id)
        .collect();
    let first = *ears_.first()?;
    let (are, them) = if ears_.len() == 1 {
        ("is", "it")
    } else {
        ("are", "them")
    };
    let sentence = format!(
        "{} {are} chosen, and frost reached {them} before picking. Look at the ear card; leave out what froze wet, or say 'always plant'.",
        capital(&ears(project, &ears_))
    );
    let evidence = project
        .ears
        .get(first)
        .map(|ear| Frost::of(project, ear).sentence);
    Some(Todo {
        ears: ears_,
        evidence: evidence.unwrap_or_default(),
        ..Todo::new(Urgency::Open, Pane::Selection, Place::Ear(first), sentence)
    })
}

/// Says that data changed since the list in force was frozen.
pub(super) fn changed_since(list: &PlantingList, changes: &[String]) -> Option<Todo> {
    let first = changes.first()?;
    let sentence = match changes.len() {
        1 => format!(
            "Since planting list {} was frozen, something changed. {first}",
            list.version
        ),
        more => format!(
            "Since planting list {} was frozen, {more} things changed. The first: {first}",
            list.version
        ),
    };
    Some(Todo::new(
        Urgency::Open,
        Pane::Planting,
        Place::List(list.id),
        sentence,
    ))
}

// ---- storage -------------------------------------------------------------------------------------------

/// Names places that do not suit seed, seed that is to be tested again, and lines that are to be grown anew.
pub(super) fn storage(seed: &Storage) -> Vec<Todo> {
    let mut found: Vec<Todo> = seed
        .stores
        .iter()
        .filter(|line| line.stand == StoreStand::Over && line.all.packets > 0)
        .filter_map(|line| {
            let sentence = format!("Storage place {}: {}", line.name, line.sentence);
            let place = Place::Store(line.store?);
            Some(Todo::new(Urgency::Open, Pane::Seasons, place, sentence))
        })
        .collect();
    let mut note = |ears: Vec<EarId>, sentence: String, evidence: Vec<String>| {
        let Some(first) = ears.first().copied() else {
            return;
        };
        found.push(Todo {
            ears,
            evidence: evidence.join(" "),
            ..Todo::new(Urgency::Next, Pane::Seasons, Place::Ear(first), sentence)
        });
    };
    note(
        seed.again.iter().map(|one| one.ear).collect(),
        seed.again_sentence(),
        seed.again
            .iter()
            .take(MOST_TOLD)
            .map(TestAgain::sentence)
            .collect(),
    );
    note(
        seed.regrow.iter().map(|one| one.ear).collect(),
        seed.regrow_sentence(),
        seed.regrow
            .iter()
            .take(MOST_TOLD)
            .map(|one| one.sentence.clone())
            .collect(),
    );
    found
}

//! Everything that is known of one ear.

use super::estimates::Estimate;
use super::explain::Known;
use super::guards::{Age, age};
use super::harvest::EarColumn;
use super::sowing::{self, Wanted};
use super::speed::Speeds;
use super::weather;
use crate::model::{
    Brought, Cell, CellId, Count, CountId, Ear, EarCode, EarId, FieldRowId, LedgerReason, ListId, Packet,
    PacketId, Pass, PhotoId, Project, Row, RowId, RowSource, SeasonId, Stand, Stock, Tally, TestId, TrayId,
    Word, plural, sentence,
};
use jiff::civil::Date;

/// Everything that is known of one ear.
#[derive(Debug, Clone, PartialEq)]
pub struct EarCard {
    /// The ear.
    pub ear: EarId,
    /// Its number within the season.
    pub number: u32,
    /// Its permanent code.
    pub code: EarCode,
    /// The season of its harvest.
    pub season: SeasonId,
    /// The season's year.
    pub year: i16,
    /// Its mother row; `None` when it is not known.
    pub mother: Option<MotherCard>,
    /// The headings and texts of what was measured on it and is known: days and traits.
    pub figures: Vec<(String, String)>,
    /// What the weather tells of it: headings, each with a sentence or two; empty where there is nothing to tell.
    pub weather: Vec<(&'static str, String)>,
    /// The free note.
    pub note: String,
    /// Where it came from, by which rules, and what was seen of it there, a sentence each; empty for an ear of this project.
    pub brought: Vec<String>,
    /// Its packets.
    pub packets: Vec<PacketCard>,
    /// Kernels in all packets; `None` when they were never counted.
    pub kernels: Option<i64>,
    /// Kernels on hand, and those that the planting list in force has still to plant.
    pub stock: Stock,
    /// The cells in which it lies or lay, oldest first.
    pub cells: Vec<CellCard>,
    /// The photographs of its cells, newest first.
    pub photos: Vec<PhotoCard>,
    /// Its figures, if it was scored.
    pub estimate: Option<Estimate>,
    /// The figures in one sentence, or why there are none.
    pub estimate_sentence: String,
    /// How fast its kernels came up and how strong they grew, a sentence each; empty while nothing is counted.
    pub speed: Vec<String>,
    /// Where it stands under the cutoffs that are set.
    pub stand: Stand,
    /// The probability that it reaches the cold germination cutoff, 0 to 1.
    pub probability: Option<f64>,
    /// Why it stands there, a sentence each.
    pub why: Vec<String>,
    /// How many kernels the wanted plants take of it and what its packet gives, in a sentence or two; `None` where kernels
    /// are not reckoned for a stand.
    pub sowing: Option<String>,
    /// What lies behind that and what would change it, a sentence each.
    pub explained: Vec<String>,
    /// The grower's own word about it.
    pub word: Option<Word>,
    /// The frozen planting lists that it is on.
    pub lists: Vec<ListCard>,
    /// The rows of fields in which it is planted.
    pub fields: Vec<FieldCard>,
    /// The rows planted from it.
    pub daughters: Vec<DaughterCard>,
}

/// The mother row of an ear.
#[derive(Debug, Clone, PartialEq)]
pub struct MotherCard {
    /// The row.
    pub row: RowId,
    /// Its label.
    pub label: String,
    /// Where its seed came from, in words.
    pub source: String,
    /// The ear that it was planted from, if one.
    pub ear: Option<EarId>,
}

/// One packet with its ledger.
#[derive(Debug, Clone, PartialEq)]
pub struct PacketCard {
    /// The packet.
    pub packet: PacketId,
    /// Where it lies: its storage place and its slot in it.
    pub location: String,
    /// Moisture of its kernels in words; empty when it was not measured.
    pub moisture: String,
    /// Kernels in it; `None` when they were never counted.
    pub balance: Option<i64>,
    /// The lines of its ledger, oldest first.
    pub lines: Vec<LedgerCard>,
}

/// One line of a ledger.
#[derive(Debug, Clone, PartialEq)]
pub struct LedgerCard {
    /// The day, if known.
    pub on: Option<Date>,
    /// Kernels in (positive) or out (negative).
    pub kernels: i32,
    /// Why, in words; a test is named.
    pub reason: String,
    /// The free note.
    pub note: String,
    /// The sum of this and all earlier lines.
    pub balance: i64,
}

/// One cell in which the ear lies.
#[derive(Debug, Clone, PartialEq)]
pub struct CellCard {
    /// The cell.
    pub cell: CellId,
    /// Its test.
    pub test: TestId,
    /// The test's name.
    pub test_name: String,
    /// Its tray.
    pub tray: TrayId,
    /// The tray's number.
    pub tray_number: u16,
    /// The cell's name, such as `B3`.
    pub name: String,
    /// Kernels laid, or to be laid.
    pub sown: u16,
    /// All its counts, also those corrected later, oldest first.
    pub counts: Vec<CountCard>,
}

/// A photograph in which a cell of the ear is seen.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotoCard {
    /// The photograph.
    pub photo: PhotoId,
    /// The cell.
    pub cell: CellId,
    /// Its row and column in the tray, from 1.
    pub place: (u16, u16),
    /// Which cell, count and day it shows, in words.
    pub caption: String,
}

/// One count of a cell.
#[derive(Debug, Clone, PartialEq)]
#[expect(
    clippy::struct_excessive_bools,
    reason = "each is a fact of its own that the card shows"
)]
pub struct CountCard {
    /// The count.
    pub count: CountId,
    /// When in the test.
    pub pass: Pass,
    /// The day, if known.
    pub on: Option<Date>,
    /// Who counted.
    pub by: String,
    /// Whether it is the count of a second scorer.
    pub is_second: bool,
    /// The kernels by category.
    pub tally: Tally,
    /// Germinated kernels.
    pub germinated: u32,
    /// Counted kernels: all but the missing.
    pub counted: u32,
    /// Grade of growth from 0 to 9.
    pub vigor: Option<u8>,
    /// Whether there was mould.
    pub mould: bool,
    /// The free note.
    pub note: String,
    /// The count that it corrects.
    pub corrects: Option<CountId>,
    /// Whether a later count corrects it, so that it is no longer in force.
    pub is_corrected: bool,
    /// Whether it only withdraws the count that it corrects.
    pub is_void: bool,
    /// Median length of the roots, in millimetres.
    pub root_mm: Option<f64>,
    /// Median length of the shoots, in millimetres.
    pub shoot_mm: Option<f64>,
    /// Why a guard was overruled; empty when none was.
    pub overruled: String,
    /// How old the kernels were, where that is known.
    pub age: Option<Age>,
}

/// A frozen planting list that an ear is on.
#[derive(Debug, Clone, PartialEq)]
pub struct ListCard {
    /// The list.
    pub list: ListId,
    /// The season's year.
    pub year: i16,
    /// The list's version.
    pub version: u16,
    /// Whether it is the one in force.
    pub is_in_force: bool,
    /// Kernels to plant.
    pub plant: u32,
    /// Kernels to keep back.
    pub keep: u32,
    /// Why it is on the list.
    pub why: String,
}

/// A row of a field in which an ear is planted.
#[derive(Debug, Clone, PartialEq)]
pub struct FieldCard {
    /// The row.
    pub row: FieldRowId,
    /// What it is, in words: `list 1 of season 2025, stake 12: 15 kernels, 9 plants stood`.
    pub title: String,
}

/// A row planted from an ear.
#[derive(Debug, Clone, PartialEq)]
pub struct DaughterCard {
    /// The row.
    pub row: RowId,
    /// Its label.
    pub label: String,
    /// The row's season.
    pub season: SeasonId,
    /// The season's year.
    pub year: i16,
    /// Ears harvested from it.
    pub ears: usize,
}

/// Builds the card of an ear. `choice` is the one under the cutoffs that are set.
pub(super) fn compute(known: &Known<'_>, ear: &Ear, speeds: &Speeds, wanted: &Wanted) -> EarCard {
    let (project, choice) = (known.project, known.choice);
    let standing = choice.of(ear.id);
    let estimate = standing.and_then(|standing| standing.estimate);
    let cells: Vec<CellCard> = project
        .cells_of_ear(ear.id)
        .filter_map(|cell| cell_card(project, cell))
        .collect();
    EarCard {
        ear: ear.id,
        number: ear.number,
        code: ear.code,
        season: ear.season,
        year: year(project, ear.season),
        mother: ear
            .row
            .and_then(|row| project.rows.get(row))
            .map(|row| mother_card(project, row)),
        figures: figures(project, ear),
        weather: weather::of_ear(project, ear),
        note: ear.note.clone(),
        brought: ear.brought.as_deref().map_or_else(Vec::new, brought),
        packets: project
            .packets_of(ear.id)
            .map(|packet| packet_card(project, packet))
            .collect(),
        kernels: project.kernels_of(ear.id),
        stock: project.stock_of(ear.id),
        estimate,
        estimate_sentence: estimate.map_or_else(|| why_not_scored(&cells), |estimate| estimate.sentence()),
        speed: speed(&cells, speeds, ear.id),
        stand: standing.map_or(Stand::NotScored, |standing| standing.stand),
        probability: standing.and_then(|standing| standing.probability),
        why: standing.map_or_else(Vec::new, |standing| {
            standing
                .why
                .iter()
                .map(|reason| reason.sentence(project))
                .collect()
        }),
        sowing: standing
            .and_then(|standing| sowing::of_ear(standing, wanted))
            .zip(wanted.needs())
            .map(|(one, needs)| one.sentence(&needs.sowing)),
        explained: known.sentences(ear),
        word: project
            .selection_of(ear.season)
            .and_then(|selection| selection.words.get(&ear.id))
            .cloned(),
        lists: lists(project, ear.id),
        fields: fields(project, ear.id),
        daughters: project
            .rows
            .iter()
            .filter(|row| row.source == RowSource::Ear(ear.id))
            .map(|row| DaughterCard {
                row: row.id,
                label: row.label.clone(),
                season: row.season,
                year: year(project, row.season),
                ears: project.ears_of_row(row.id).count(),
            })
            .collect(),
        photos: photos(project, &cells),
        cells,
    }
}

/// The photographs of cells, newest first; those without a time come last.
fn photos(project: &Project, cells: &[CellCard]) -> Vec<PhotoCard> {
    let mut found = Vec::new();
    for card in cells {
        let Some(cell) = project.cells.get(card.cell) else {
            continue;
        };
        for photo in project.photos_of(card.tray) {
            let pass = photo
                .pass
                .map_or_else(String::new, |pass| format!(", {pass} count"));
            let day = photo
                .taken
                .map_or_else(String::new, |taken| format!(", {}", taken.date()));
            let shown = PhotoCard {
                photo: photo.id,
                cell: card.cell,
                place: (cell.row, cell.column),
                caption: format!(
                    "{}: tray {} {}{pass}{day}",
                    card.test_name, card.tray_number, card.name
                ),
            };
            found.push((photo.taken, shown));
        }
    }
    found.sort_by_key(|(taken, shown)| std::cmp::Reverse((*taken, shown.photo)));
    found.into_iter().map(|(_, shown)| shown).collect()
}

fn year(project: &Project, season: SeasonId) -> i16 {
    project.seasons.get(season).map_or(0, |season| season.year)
}

fn mother_card(project: &Project, row: &Row) -> MotherCard {
    let (source, ear) = match &row.source {
        RowSource::Unknown => ("seed of unknown origin".to_owned(), None),
        RowSource::Ear(id) => match project.ears.get(*id) {
            Some(ear) => {
                let year = year(project, ear.season);
                (
                    format!("planted from ear {} of {year} ({})", ear.number, ear.code),
                    Some(*id),
                )
            }
            None => ("planted from an ear that is not in the project".to_owned(), None),
        },
        RowSource::Bulk(name) => (format!("planted from the bulk {name}"), None),
        RowSource::CheckLot(name) => (format!("planted from the check lot {name}"), None),
    };
    MotherCard {
        row: row.id,
        label: row.label.clone(),
        source,
        ear,
    }
}

fn figures(project: &Project, ear: &Ear) -> Vec<(String, String)> {
    EarColumn::all(project)
        .into_iter()
        .filter(|column| {
            matches!(
                column,
                EarColumn::Planted | EarColumn::Matured | EarColumn::MaturityDays | EarColumn::Trait(_)
            )
        })
        .map(|column| (column.title(project), column.text(project, ear).into_owned()))
        .filter(|(_, text)| !text.is_empty())
        .collect()
}

fn packet_card(project: &Project, packet: &Packet) -> PacketCard {
    let mut sum = 0;
    let lines = packet
        .ledger
        .iter()
        .map(|line| {
            sum += i64::from(line.kernels);
            let reason = match line.reason {
                LedgerReason::Test(test) => project.tests.get(test).map_or_else(
                    || line.reason.name().to_owned(),
                    |test| format!("{}: {}", line.reason.name(), test.name),
                ),
                LedgerReason::PlantedFrom(list) => project.lists.get(list).map_or_else(
                    || line.reason.name().to_owned(),
                    |list| format!("{} from list {}", line.reason.name(), list.version),
                ),
                other => other.name().to_owned(),
            };
            LedgerCard {
                on: line.on,
                kernels: line.kernels,
                reason,
                note: line.note.clone(),
                balance: sum,
            }
        })
        .collect();
    PacketCard {
        packet: packet.id,
        location: packet_place(project, packet),
        moisture: moisture_text(packet),
        balance: packet.balance(),
        lines,
    }
}

fn brought(origin: &Brought) -> Vec<String> {
    let row = if origin.row.is_empty() {
        String::new()
    } else {
        format!(" of row {}", origin.row)
    };
    let mut said = vec![format!(
        "Grown in {} as ear {}{row}; brought on {}. What was seen of it there is history: nothing is reckoned from it.",
        origin.project, origin.number, origin.on
    )];
    if !origin.restrictions.is_empty() {
        said.push(format!("Rules that came with the seed: {}.", origin.restrictions));
    }
    said.extend(origin.figures.iter().map(|figure| sentence(figure)));
    said.extend(origin.counts.iter().map(|count| format!("{}.", count.text())));
    said
}

/// Says where a packet lies: its storage place, then its box and slot; empty where nobody said.
pub(super) fn packet_place(project: &Project, packet: &Packet) -> String {
    let store = packet.store.and_then(|store| project.stores.get(store));
    let store = store.map_or("", |store| store.name.as_str());
    let parts = [store, packet.location.trim()];
    let parts: Vec<&str> = parts.into_iter().filter(|part| !part.is_empty()).collect();
    parts.join(", ")
}

/// Says how moist the kernels were and when; empty where it was not measured.
fn moisture_text(packet: &Packet) -> String {
    let Some(percent) = packet.moisture_percent else {
        return String::new();
    };
    let on = packet
        .moisture_on
        .map_or_else(String::new, |day| format!(" on {day}"));
    format!("moisture {percent} %{on}")
}

fn cell_card(project: &Project, cell: &Cell) -> Option<CellCard> {
    let tray = project.trays.get(cell.tray)?;
    let test = project.tests.get(tray.test)?;
    Some(CellCard {
        cell: cell.id,
        test: test.id,
        test_name: test.name.clone(),
        tray: tray.id,
        tray_number: tray.number,
        name: cell.name(),
        sown: project.sown(cell),
        counts: project
            .counts_of(cell.id)
            .map(|count| count_card(project, cell, count))
            .collect(),
    })
}

fn count_card(project: &Project, cell: &Cell, count: &Count) -> CountCard {
    CountCard {
        count: count.id,
        pass: count.pass,
        on: count.on,
        by: count.by.clone(),
        is_second: count.second,
        tally: count.tally,
        germinated: count.tally.germinated(project.about.germinated),
        counted: count.tally.counted(),
        vigor: count.vigor,
        mould: count.mould,
        note: count.note.clone(),
        corrects: count.corrects,
        is_corrected: project.is_corrected(count.id),
        is_void: count.void,
        root_mm: count.root_mm,
        shoot_mm: count.shoot_mm,
        overruled: count.overruled.clone(),
        age: count.on.and_then(|on| age(project, cell, count.pass, on)),
    }
}

fn why_not_scored(cells: &[CellCard]) -> String {
    let has_final = |cell: &CellCard| {
        cell.counts
            .iter()
            .any(|count| count.pass == Pass::Final && !count.is_second)
    };
    if cells.is_empty() {
        "Not scored: it is in no test.".to_owned()
    } else if cells.iter().any(has_final) {
        "Not scored: all its kernels were missing.".to_owned()
    } else {
        "Not scored: it has no final count yet.".to_owned()
    }
}

fn speed(cells: &[CellCard], speeds: &Speeds, ear: EarId) -> Vec<String> {
    let is_counted = cells.iter().any(|cell| !cell.counts.is_empty());
    let known = speeds.of(ear).filter(|_| is_counted);
    known.map_or_else(Vec::new, |speed| speed.sentences(speeds.early_percent))
}

fn lists(project: &Project, ear: EarId) -> Vec<ListCard> {
    let mut found = Vec::new();
    for list in project.lists.iter() {
        let mut all = list.entries.iter().chain(&list.reserves);
        let Some(entry) = all.find(|entry| entry.ear == ear) else {
            continue;
        };
        found.push(ListCard {
            list: list.id,
            year: list.year,
            version: list.version,
            is_in_force: project
                .list_in_force(list.season)
                .is_some_and(|last| last.id == list.id),
            plant: entry.plant,
            keep: entry.keep,
            why: entry.why.clone(),
        });
    }
    found
}

fn fields(project: &Project, ear: EarId) -> Vec<FieldCard> {
    let rows = project
        .field_rows
        .iter()
        .filter(|row| row.content.ear() == Some(ear));
    rows.filter_map(|row| {
        let list = project.lists.get(project.plans.get(row.plan)?.list)?;
        let stood = row
            .seen
            .stand
            .map(|stand| format!(", {} stood", plural(stand as usize, "plant")));
        Some(FieldCard {
            row: row.id,
            title: format!(
                "list {} of season {}, stake {}: {}{}",
                list.version,
                list.year,
                row.stake,
                plural(row.kernels as usize, "kernel"),
                stood.unwrap_or_default()
            ),
        })
    })
    .collect()
}

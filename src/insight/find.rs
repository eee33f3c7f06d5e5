//! Finding an ear, packet, cell, row or storage place by what is written on it.

use super::progress::label;
use super::words::plural;
use crate::model::{
    Ear, EarCode, EarCodeFault, FieldContent, Place, Project, Row, RowSource, SeasonId, Test, Tray,
};

/// The most places that one search gives.
pub const MOST_FOUND: usize = 50;

/// A place that fits what was searched for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// Where it is.
    pub place: Place,
    /// What it is, such as `Ear 147`.
    pub title: String,
    /// What tells it from others of that name, such as its season and mother row.
    pub detail: String,
}

/// What a search found.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Finds {
    /// The places, the best first, at most [`MOST_FOUND`].
    pub found: Vec<Found>,
    /// What is wrong with the text, if it is a code with a slip or nothing fits it; a sentence.
    pub remark: Option<String>,
}

/// How well a place fits; the best comes first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Fit {
    Code,
    Cell,
    Number,
    RowLabel,
    PacketPlace,
    Stake,
    Tray,
    PartOfCode,
    PartOfLabel,
    PartOfPlace,
    Note,
}

struct Search<'a> {
    project: &'a Project,
    hits: Vec<(Fit, i16, u32, Found)>,
}

pub(super) fn find(project: &Project, text: &str) -> Finds {
    let text = text.trim();
    if text.is_empty() {
        return Finds::default();
    }
    let mut search = Search {
        project,
        hits: Vec::new(),
    };
    let code = text.parse::<EarCode>();
    if let Ok(code) = code
        && let Some(ear) = project.ear_coded(code)
    {
        search.ear(Fit::Code, ear);
    }
    search.cells(text);
    search.rows(text);
    search.stakes(text);
    search.ears(text);
    search.stores(text);
    let mut hits = search.hits;
    // The latest season first; then by number.
    hits.sort_by_key(|(fit, year, number, _)| (*fit, -year, *number));
    let mut found: Vec<Found> = Vec::new();
    for (_, _, _, hit) in hits {
        if found.len() < MOST_FOUND && !found.iter().any(|known| known.place == hit.place) {
            found.push(hit);
        }
    }
    let remark = remark(project, text, &code, found.is_empty());
    Finds { found, remark }
}

fn remark(
    project: &Project,
    text: &str,
    code: &Result<EarCode, EarCodeFault>,
    nothing: bool,
) -> Option<String> {
    match code {
        Ok(code) if project.ear_coded(*code).is_none() => {
            Some(format!("The code {code} is sound, but no ear of this project has it."))
        }
        Ok(_) => None,
        Err(fault @ EarCodeFault::Check(_)) => Some(fault.to_string()),
        Err(fault @ EarCodeFault::Form(_)) if nothing && looks_like_a_code(project, text) => Some(fault.to_string()),
        Err(EarCodeFault::Form(_)) => nothing.then(|| {
            format!(
                "Nothing fits '{text}'. Type an ear number, an ear code, a row, the place of a packet, or a cell such as 3 B4."
            )
        }),
    }
}

fn looks_like_a_code(project: &Project, text: &str) -> bool {
    let prefix = project.about.prefix.to_string();
    let rest = text.get(prefix.len()..).unwrap_or("");
    text.is_char_boundary(prefix.len())
        && text[..prefix.len().min(text.len())].eq_ignore_ascii_case(&prefix)
        && rest.starts_with(|letter: char| letter.is_ascii_digit())
}

impl Search<'_> {
    fn year(&self, season: SeasonId) -> i16 {
        self.project.seasons.get(season).map_or(0, |season| season.year)
    }

    fn ear(&mut self, fit: Fit, ear: &Ear) {
        let year = self.year(ear.season);
        let mother = match self.project.mother_label(ear) {
            "" => "mother row unknown".to_owned(),
            label => format!("mother row {label}"),
        };
        let mut detail = format!("{year}, {}, {mother}", ear.code);
        if fit == Fit::Note {
            detail = format!("{detail}: {}", ear.note);
        }
        let found = Found {
            place: Place::Ear(ear.id),
            title: format!("Ear {}", ear.number),
            detail,
        };
        self.hits.push((fit, year, ear.number, found));
    }

    fn ears(&mut self, text: &str) {
        let small = text.to_lowercase();
        let number = small
            .strip_prefix("ear")
            .unwrap_or(&small)
            .trim()
            .parse::<u32>()
            .ok();
        let part_of_code = looks_like_a_code(self.project, text).then(|| text.to_ascii_uppercase());
        for ear in self.project.ears.iter() {
            if number == Some(ear.number) {
                self.ear(Fit::Number, ear);
            }
            if let Some(part) = &part_of_code
                && ear.code.to_string().starts_with(part)
            {
                self.ear(Fit::PartOfCode, ear);
            }
            if contains(&ear.note, &small) {
                self.ear(Fit::Note, ear);
            }
        }
        for packet in self.project.packets.iter() {
            let fit = if packet.location.to_lowercase() == small {
                Fit::PacketPlace
            } else if contains(&packet.location, &small) {
                Fit::PartOfPlace
            } else {
                continue;
            };
            let Some(ear) = self.project.ears.get(packet.ear) else {
                continue;
            };
            let year = self.year(ear.season);
            let kernels = packet.balance().map_or_else(
                || "kernels not counted".to_owned(),
                |balance| plural(balance.max(0) as usize, "kernel"),
            );
            let found = Found {
                place: Place::Packet(packet.id),
                title: format!("Packet at {}", packet.location),
                detail: format!("{year}, ear {} ({}), {kernels}", ear.number, ear.code),
            };
            self.hits.push((fit, year, ear.number, found));
        }
    }

    fn row(&mut self, fit: Fit, row: &Row) {
        let year = self.year(row.season);
        let ears = plural(self.project.ears_of_row(row.id).count(), "ear");
        let source = match &row.source {
            RowSource::Unknown => "seed of unknown origin".to_owned(),
            RowSource::Ear(ear) => self
                .project
                .ears
                .get(*ear)
                .map_or_else(String::new, |ear| format!("from ear {}", ear.code)),
            RowSource::Bulk(name) => format!("from the bulk {name}"),
            RowSource::CheckLot(name) => format!("check lot {name}"),
        };
        let found = Found {
            place: Place::Row(row.id),
            title: format!("Row {}", row.label),
            detail: format!("{year}, {ears}, {source}"),
        };
        self.hits.push((fit, year, row.id.0, found));
    }

    fn rows(&mut self, text: &str) {
        let small = text.to_lowercase();
        let label = small.strip_prefix("row ").unwrap_or(&small).trim();
        for row in self.project.rows.iter() {
            if row.label.to_lowercase() == label {
                self.row(Fit::RowLabel, row);
            } else if contains(&row.label, label) {
                self.row(Fit::PartOfLabel, row);
            } else if contains(&row.note, &small) {
                self.row(Fit::Note, row);
            }
        }
    }

    /// Finds a place where packets are kept by its name or note.
    fn stores(&mut self, text: &str) {
        let small = text.to_lowercase();
        for store in self.project.stores.iter() {
            let fit = if store.name.to_lowercase() == small {
                Fit::PacketPlace
            } else if contains(&store.name, &small) {
                Fit::PartOfPlace
            } else if contains(&store.note, &small) {
                Fit::Note
            } else {
                continue;
            };
            let packets = self.project.packets.iter();
            let there = packets.filter(|packet| packet.store == Some(store.id)).count();
            let found = Found {
                place: Place::Store(store.id),
                title: store.name.clone(),
                detail: format!("storage place, {}", plural(there, "packet")),
            };
            // Before the packets that lie there: it is of no season.
            self.hits.push((fit, i16::MAX, store.id.0, found));
        }
    }

    /// Finds `stake 12` of every field.
    fn stakes(&mut self, text: &str) {
        let small = text.to_lowercase();
        let Some(number) = small
            .strip_prefix("stake")
            .and_then(|rest| rest.trim().parse::<u32>().ok())
        else {
            return;
        };
        for plan in self.project.plans.iter() {
            let Some(list) = self.project.lists.get(plan.list) else {
                continue;
            };
            let rows = self.project.field_rows_of(plan.id);
            for row in rows.filter(|row| row.stake == number) {
                let content = match row.content {
                    FieldContent::Check => "the check lot".to_owned(),
                    FieldContent::Bulk => "bulk".to_owned(),
                    FieldContent::Ear(ear) => self.project.place_name(Place::Ear(ear)),
                };
                let found = Found {
                    place: Place::FieldRow(row.id),
                    title: format!("Stake {}", row.stake),
                    detail: format!("{}, planting list {}, {content}", list.year, list.version),
                };
                self.hits.push((Fit::Stake, list.year, row.stake, found));
            }
        }
    }

    /// Finds `tray 3`, and cells written `tray 3 B4`, `3 B4`, `3-B4` or `3B4`.
    fn cells(&mut self, text: &str) {
        let small = text.to_lowercase();
        let after = small.strip_prefix("tray").map(str::trim_start);
        let rest = after.unwrap_or(&small);
        let digits = rest.bytes().take_while(u8::is_ascii_digit).count();
        let Ok(number) = rest[..digits].parse::<u16>() else {
            return;
        };
        let cell =
            rest[digits..].trim_matches(|letter: char| letter.is_whitespace() || "-./,:".contains(letter));
        for test in self.project.tests.iter() {
            for tray in self
                .project
                .trays_of(test.id)
                .filter(|tray| tray.number == number)
            {
                if cell.is_empty() {
                    if after.is_some() {
                        self.tray(test, tray);
                    }
                } else if let Some((row, column)) = row_and_column(cell) {
                    self.cell(test, tray, row, column);
                }
            }
        }
    }

    fn tray(&mut self, test: &Test, tray: &Tray) {
        let year = self.year(test.season);
        let found = Found {
            place: Place::Tray(tray.id),
            title: format!("Tray {}", tray.number),
            detail: format!("{year}, test {}", test.name),
        };
        self.hits.push((Fit::Tray, year, test.id.0, found));
    }

    fn cell(&mut self, test: &Test, tray: &Tray, row: u16, column: u16) {
        let Some(cell) = self.project.cell_at(tray.id, row, column) else {
            return;
        };
        let year = self.year(test.season);
        let content = match cell.content {
            crate::model::CellContent::Ear(_) => format!("ear {}", label(self.project, cell.content)),
            other => label(self.project, other),
        };
        let found = Found {
            place: Place::Cell(cell.id),
            title: format!("Tray {} {}", tray.number, cell.name()),
            detail: format!("{year}, test {}, {content}", test.name),
        };
        self.hits.push((Fit::Cell, year, test.id.0, found));
    }
}

fn contains(text: &str, small: &str) -> bool {
    !small.is_empty() && !text.is_empty() && text.to_lowercase().contains(small)
}

/// Reads a cell's name: letters for the row, digits for the column, both from 1.
fn row_and_column(name: &str) -> Option<(u16, u16)> {
    let letters = name.bytes().take_while(u8::is_ascii_lowercase).count();
    let mut row: u16 = 0;
    for letter in name[..letters].bytes() {
        row = row.checked_mul(26)?.checked_add(u16::from(letter - b'a') + 1)?;
    }
    let column = name[letters..].trim().parse().ok()?;
    (row > 0).then_some((row, column))
}

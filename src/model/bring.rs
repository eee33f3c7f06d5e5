//! Bringing an ear with its line of mothers from another project into ours.
//!
//! The two projects stay apart: of the other one only this line is taken, once, as it was. Its counts come along as
//! history and not as trays, since half a tray proves nothing.

use super::brought::{Brought, BroughtCount};
use super::change::{Change, Stamp, Transaction};
use super::count::{Count, Pass};
use super::ear::{Ear, Trait};
use super::ear_code::EarCode;
use super::ids::{EarId, PacketId, RowId, SeasonId};
use super::packet::{LedgerLine, LedgerReason, MOST_KERNELS, Packet};
use super::problem::{Fault, Place, Problem};
use super::project::{Project, TemperatureUnit};
use super::season::{Row, RowSource, Season};
use super::words::{capital, plural};
use jiff::civil::Date;
use std::collections::BTreeMap;

/// An ear of another project with its mothers, back to the founder.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// The name of the other project.
    pub project: String,
    /// The text that tells it from all others.
    pub project_id: String,
    /// Rules that came with its seed.
    pub restrictions: String,
    /// The founder first, the ear that is brought last.
    pub ears: Vec<LineEar>,
}

/// One ear of a line, as it is in the other project.
#[derive(Debug, Clone, PartialEq)]
pub struct LineEar {
    /// The year of its harvest.
    pub year: i16,
    /// The ear itself; its ids are those of the other project.
    pub ear: Ear,
    /// The day when its plant was planted, however it is known.
    pub planted: Option<Date>,
    /// Its mother row, if known.
    pub row: Option<Row>,
    /// Its values with their traits.
    pub values: Vec<(Trait, f64)>,
    /// What was counted of it.
    pub counts: Vec<BroughtCount>,
    /// What came with it when it was itself brought from a third project.
    pub brought: Option<Brought>,
}

/// What bringing a line would do.
#[derive(Debug, Clone, PartialEq)]
pub struct Bringing {
    /// The one step in which it is done; without changes when all of it is here already.
    pub transaction: Transaction,
    /// What it does, a sentence each.
    pub sentences: Vec<String>,
}

impl Bringing {
    /// Says whether nothing would change.
    pub fn is_nothing_new(&self) -> bool {
        self.transaction.changes.is_empty()
    }
}

/// Gives an ear of another project with its mothers back to the founder.
///
/// # Errors
/// That there is no ear with this code.
pub fn line_of(there: &Project, code: EarCode) -> Result<Line, Fault> {
    let Some(asked) = there.ear_coded(code) else {
        return Err(Fault::Mismatch(format!(
            "'{}' has no ear with the code {code}; look at the code again, or choose another project",
            there.about.name
        )));
    };
    let mut ears = Vec::new();
    let mut next = Some(asked);
    // A mother is always of an earlier season, so that this ends.
    while let Some(ear) = next {
        let row = ear.row.and_then(|row| there.rows.get(row));
        next = match row.map(|row| &row.source) {
            Some(RowSource::Ear(mother)) => there.ears.get(*mother),
            _ => None,
        };
        ears.push(LineEar {
            year: there.seasons.get(ear.season).map_or(0, |season| season.year),
            planted: there.planted(ear),
            row: row.cloned(),
            values: ear
                .values
                .iter()
                .filter_map(|(id, value)| Some((there.traits.get(*id)?.clone(), *value)))
                .collect(),
            counts: counts_of(there, ear),
            brought: ear.brought.as_deref().cloned(),
            ear: ear.clone(),
        });
    }
    ears.reverse();
    Ok(Line {
        project: there.about.name.clone(),
        project_id: there.about.id.clone(),
        restrictions: there.about.restrictions.clone(),
        ears,
    })
}

/// The counts of an ear that are in force, the second scorer's too, oldest first.
fn counts_of(there: &Project, ear: &Ear) -> Vec<BroughtCount> {
    let mut found: Vec<(Option<Date>, BroughtCount)> = Vec::new();
    for cell in there.cells_of_ear(ear.id) {
        let Some(tray) = there.trays.get(cell.tray) else {
            continue;
        };
        let Some(test) = there.tests.get(tray.test) else {
            continue;
        };
        let year = there.seasons.get(test.season).map_or(0, |season| season.year);
        let name = format!(
            "{} of {year}, {}, tray {} {}",
            test.name,
            degrees(there, test.recipe.cold_c),
            tray.number,
            cell.name()
        );
        let in_force = |count: &&Count| !count.void && !there.is_corrected(count.id);
        for count in there.counts_of(cell.id).filter(in_force) {
            let mut seen = vec![count.tally.text()];
            seen.extend(count.vigor.map(|vigor| format!("vigor {vigor}")));
            seen.extend(count.mould.then(|| "mould".to_owned()));
            seen.extend(count.second.then(|| "second scorer".to_owned()));
            seen.extend((!count.note.is_empty()).then(|| count.note.clone()));
            found.push((
                count.on.or(there.laid_on(cell)),
                BroughtCount {
                    test: name.clone(),
                    pass: count.pass,
                    on: count.on,
                    by: count.by.clone(),
                    germinated: count.tally.germinated(there.about.germinated),
                    counted: count.tally.counted(),
                    seen: seen.join(", "),
                },
            ));
        }
    }
    found.sort_by_key(|(on, _)| *on);
    found.into_iter().map(|(_, count)| count).collect()
}

fn degrees(there: &Project, celsius: f64) -> String {
    let unit: TemperatureUnit = there.about.units.temperature;
    let value = (unit.of_celsius(celsius) * 10.0).round() / 10.0;
    format!("{value} {}", unit.sign())
}

/// Works out what bringing a line does, with so many kernels of its last ear; none when no packet came. What was brought
/// before is not brought again.
///
/// # Errors
/// A copy of the same project, a code that belongs to another ear here, a season that is not begun yet.
pub fn bring(
    project: &Project,
    line: &Line,
    kernels: Option<u32>,
    stamp: &Stamp,
) -> Result<Bringing, Problem> {
    let mut work = Work::new(project, line, stamp)?;
    let mut mother = None;
    let last = line.ears.len().saturating_sub(1);
    for (at, one) in line.ears.iter().enumerate() {
        let came = kernels.filter(|_| at == last);
        mother = Some(work.ear(one, mother, came)?);
    }
    Ok(work.finish())
}

/// What is added, before it becomes changes.
struct Work<'a> {
    project: &'a Project,
    line: &'a Line,
    today: Date,
    seasons: Vec<Season>,
    rows: Vec<Row>,
    ears: Vec<Ear>,
    packets: Vec<Packet>,
    changed: Vec<Change>,
    sentences: Vec<String>,
}

impl<'a> Work<'a> {
    fn new(project: &'a Project, line: &'a Line, stamp: &Stamp) -> Result<Self, Problem> {
        if project.about.id == line.project_id {
            let text = "it is another copy of this project; what it has is taken over with 'Merge another copy', or 'import --all-from'";
            return Err(Problem::new(Place::Project, Fault::Mismatch(text.to_owned())));
        }
        Ok(Self {
            project,
            line,
            today: stamp.at.date(),
            seasons: Vec::new(),
            rows: Vec::new(),
            ears: Vec::new(),
            packets: Vec::new(),
            changed: Vec::new(),
            sentences: Vec::new(),
        })
    }

    /// Brings one ear, unless it is here already. Gives its id here.
    fn ear(&mut self, one: &LineEar, mother: Option<EarId>, kernels: Option<u32>) -> Result<EarId, Problem> {
        let code = one.ear.code;
        if let Some(known) = self.project.ear_coded(code) {
            let origin = known.brought.as_deref();
            // A code is never used twice in the other project either, nor in one from which both have the ear.
            let earlier = one.brought.as_ref().map(|earlier| &earlier.project_id);
            let same = origin.is_some_and(|origin| {
                origin.project_id == self.line.project_id || Some(&origin.project_id) == earlier
            });
            if !same {
                let year = self.year_of(known.season);
                let text = match origin {
                    Some(origin) => format!(
                        "the code {code} belongs to ear {} of {year} here, which came from '{}', and to an ear in '{}'; if they are one and the same, it is here already; if not, the letters of both projects are the same, and this line cannot be brought",
                        known.number, origin.project, self.line.project
                    ),
                    None => format!(
                        "the code {code} belongs to ear {} of {year} here, and to another ear in '{}'; the letters of both projects are the same, so this line cannot be brought",
                        known.number, self.line.project
                    ),
                };
                return Err(Problem::new(Place::Ear(known.id), Fault::Mismatch(text)));
            }
            self.again(known, kernels);
            return Ok(known.id);
        }
        self.check_retired(one)?;
        let season = self.season(one)?;
        let row = match &one.row {
            Some(row) => Some(self.row(season, one.year, row, mother)?),
            None => None,
        };
        let added = self.ears.iter().filter(|ear| ear.season == season).count() as u32;
        let number = self.project.next_ear_number(season).saturating_add(added);
        let id = EarId(self.project.ears.next_number() + self.ears.len() as u32);
        let (values, figures) = self.values(one);
        let brought = self.origin(one, figures);
        self.sentences.push(Self::told(one, number, &brought));
        self.ears.push(Ear {
            id,
            season,
            number,
            row,
            planted: one.planted,
            values,
            brought: Some(Box::new(brought)),
            ..one.ear.clone()
        });
        self.packet(id, kernels);
        Ok(id)
    }

    fn year_of(&self, season: SeasonId) -> i16 {
        let seasons = self.project.seasons.iter().chain(&self.seasons);
        let mut seasons = seasons.filter(|one| one.id == season);
        seasons.next().map_or(0, |season| season.year)
    }

    /// A code of an ear of ours that was removed is not used again.
    fn check_retired(&self, one: &LineEar) -> Result<(), Problem> {
        let code = one.ear.code;
        let is_ours = code.prefix() == self.project.about.prefix;
        let mut seasons = self.project.seasons.iter();
        let retired = seasons.find(|season| {
            season.year.rem_euclid(100) as u8 == code.year()
                && season.retired_serials.contains(&code.serial())
        });
        match retired.filter(|_| is_ours) {
            Some(season) => {
                let text = format!(
                    "the code {code} was that of an ear of {} here, which was removed; a code is never used again, so this line cannot be brought",
                    season.year
                );
                Err(Problem::new(Place::Season(season.id), Fault::Mismatch(text)))
            }
            None => Ok(()),
        }
    }

    /// The season of a year here. An earlier one that is not here is added closed: nothing was grown in it here.
    fn season(&mut self, one: &LineEar) -> Result<SeasonId, Problem> {
        let known = self.project.season_of_year(one.year);
        if let Some(season) = known.or_else(|| self.seasons.iter().find(|season| season.year == one.year)) {
            return Ok(season.id);
        }
        let latest = self.project.latest_season().map(|season| season.year);
        if latest.is_none_or(|latest| one.year > latest) {
            let text = format!(
                "ear {} was harvested in {}, and that season is not begun here; begin it in the pane Seasons, then bring the line",
                one.ear.code, one.year
            );
            return Err(Problem::new(Place::Project, Fault::Mismatch(text)));
        }
        let id = SeasonId(self.project.seasons.next_number() + self.seasons.len() as u32);
        self.seasons.push(Season {
            closed: Some(self.today),
            note: format!("only what was brought from {}", self.line.project),
            ..Season::new(id, one.year)
        });
        self.sentences.push(format!(
            "Season {} is added, closed: it is not here yet, and nothing was grown in it.",
            one.year
        ));
        Ok(id)
    }

    /// The row of an ear here: that of a sister brought before, or a new one.
    fn row(
        &mut self,
        season: SeasonId,
        year: i16,
        row: &Row,
        mother: Option<EarId>,
    ) -> Result<RowId, Problem> {
        let sister = self.project.ears_of(season).find(|ear| {
            let origin = ear.brought.as_deref();
            origin.is_some_and(|origin| origin.project_id == self.line.project_id && origin.row == row.label)
        });
        if let Some(row) = sister.and_then(|sister| sister.row) {
            return Ok(row);
        }
        let source = match (&row.source, mother) {
            (RowSource::Ear(_), Some(mother)) => RowSource::Ear(mother),
            (RowSource::Ear(_), None) => RowSource::Unknown,
            (other, _) => other.clone(),
        };
        let is_free = |label: &str| {
            let mut here = self.project.rows_of(season);
            here.all(|other| other.label != label)
        };
        let letters = self.line.ears.last().map(|last| last.ear.code.prefix());
        let letters = letters.map_or_else(String::new, |letters| letters.to_string());
        let tries = (1..=99).map(|number| match number {
            1 => row.label.clone(),
            2 => format!("{} {letters}", row.label),
            _ => format!("{} {letters} {number}", row.label),
        });
        let Some(label) = tries.into_iter().find(|label| is_free(label)) else {
            let text = format!(
                "season {year} has too many rows called {} here; give one of them another name",
                row.label
            );
            return Err(Problem::new(Place::Season(season), Fault::Mismatch(text)));
        };
        if label != row.label {
            self.sentences.push(format!(
                "Row {} of {year} becomes row {label}: a row of that name is here already.",
                row.label
            ));
        }
        let id = RowId(self.project.rows.next_number() + self.rows.len() as u32);
        let from = format!("brought from {}, row {} there", self.line.project, row.label);
        let note = if row.note.is_empty() {
            from
        } else {
            format!("{}; {from}", row.note)
        };
        self.rows.push(Row {
            id,
            season,
            label,
            source,
            planted: row.planted,
            note,
        });
        Ok(id)
    }

    /// Values of traits that are here by the same name and unit, and the others in words.
    fn values(&self, one: &LineEar) -> (BTreeMap<super::ids::TraitId, f64>, Vec<String>) {
        let mut values = BTreeMap::new();
        let mut figures = Vec::new();
        for (known, value) in &one.values {
            let ours = self.project.trait_named(&known.name);
            let ours = ours.filter(|ours| ours.unit == known.unit && ours.check_value(*value).is_ok());
            match ours {
                Some(ours) => {
                    values.insert(ours.id, *value);
                }
                None => figures.push(format!("{} {}", known.title(), known.format(*value))),
            }
        }
        (values, figures)
    }

    fn origin(&self, one: &LineEar, figures: Vec<String>) -> Brought {
        let mut origin = Brought {
            project: self.line.project.clone(),
            project_id: self.line.project_id.clone(),
            on: self.today,
            number: one.ear.number,
            row: one.row.as_ref().map_or_else(String::new, |row| row.label.clone()),
            restrictions: self.line.restrictions.clone(),
            figures,
            counts: one.counts.clone(),
        };
        // What a third project said goes along: its rules still hold.
        if let Some(earlier) = &one.brought {
            let from = format!("before that in {}, ear {} there", earlier.project, earlier.number);
            origin.figures.push(from);
            origin.figures.extend(earlier.figures.iter().cloned());
            origin.counts.splice(0..0, earlier.counts.iter().cloned());
            let rules = [earlier.restrictions.as_str(), origin.restrictions.as_str()];
            let rules: Vec<&str> = rules.into_iter().filter(|rule| !rule.is_empty()).collect();
            origin.restrictions = rules.join("; ");
        }
        origin
    }

    fn told(one: &LineEar, number: u32, brought: &Brought) -> String {
        let finals = brought
            .counts
            .iter()
            .filter(|count| count.pass == Pass::Final)
            .count();
        let history = match brought.counts.len() {
            0 => "it was not counted there".to_owned(),
            all => format!(
                "{} come along as history, {finals} of them final",
                plural(all, "count")
            ),
        };
        let figures = match brought.figures.len() {
            0 => String::new(),
            some => format!(
                "; {} of traits that are not here stay as text",
                plural(some, "value")
            ),
        };
        format!(
            "Ear {} of {} ({}) becomes ear {number} of {} here and keeps its code; {history}{figures}.",
            one.ear.number, one.year, one.ear.code, one.year
        )
    }

    /// An ear's packet: with the kernels that came, or empty, since none came.
    fn packet(&mut self, ear: EarId, kernels: Option<u32>) {
        let id = PacketId(self.project.packets.next_number() + self.packets.len() as u32);
        let mut packet = Packet::new(id, ear);
        packet.ledger.push(self.came(kernels.unwrap_or(0)));
        self.packets.push(packet);
        if let Some(kernels) = kernels.filter(|kernels| *kernels > 0) {
            let kernels = plural(kernels as usize, "kernel");
            self.sentences
                .push(format!("Its packet holds {kernels} that came."));
        }
    }

    fn came(&self, kernels: u32) -> LedgerLine {
        LedgerLine {
            on: Some(self.today),
            // More kernels than there are become a number that is refused, never another number.
            kernels: i32::try_from(kernels.min(MOST_KERNELS + 1)).unwrap_or(i32::MAX),
            reason: LedgerReason::Brought,
            note: String::new(),
        }
    }

    /// An ear that is here already. Kernels may come to it later, once.
    fn again(&mut self, known: &Ear, kernels: Option<u32>) {
        let name = format!("ear {} of {}", known.number, self.year_of(known.season));
        let came = |packet: &Packet| -> i32 {
            let lines = packet.ledger.iter();
            let lines = lines.filter(|line| line.reason == LedgerReason::Brought);
            lines.map(|line| line.kernels).sum()
        };
        let before: i32 = self.project.packets_of(known.id).map(came).sum();
        let packet = self.project.packets_of(known.id).next();
        match (kernels.filter(|kernels| *kernels > 0), packet) {
            (Some(kernels), Some(packet)) if before == 0 => {
                let mut after = packet.clone();
                after.ledger.push(self.came(kernels));
                self.changed.push(Change::replace(packet, after));
                let kernels = plural(kernels as usize, "kernel");
                self.sentences.push(format!(
                    "{} is here already; its packet gets {kernels} that came.",
                    capital(&name)
                ));
            }
            (Some(_), Some(_)) => self.sentences.push(format!(
                "{} is here already with {before} kernels that came; if more came, count its packet again in the pane Harvest.",
                capital(&name)
            )),
            _ => self.sentences.push(format!("{} is here already.", capital(&name))),
        }
    }

    fn finish(self) -> Bringing {
        let last = self.line.ears.last();
        let name = last.map_or_else(String::new, |one| one.ear.code.to_string());
        let label = match self.ears.len() {
            0 => format!("Bring kernels of {name} from {}", self.line.project),
            ears => format!(
                "Bring {name} from {}: {} of its line",
                self.line.project,
                plural(ears, "ear")
            ),
        };
        let mut sentences = self.sentences;
        if !self.line.restrictions.is_empty() && !self.ears.is_empty() {
            sentences.push(format!(
                "The rules that came with the seed are kept with each ear: {}.",
                self.line.restrictions
            ));
        }
        let mut changes: Vec<Change> = self.seasons.into_iter().map(Change::add).collect();
        changes.extend(self.rows.into_iter().map(Change::add));
        changes.extend(self.ears.into_iter().map(Change::add));
        changes.extend(self.packets.into_iter().map(Change::add));
        changes.extend(self.changed);
        Bringing {
            transaction: Transaction::new(label, changes),
            sentences,
        }
    }
}

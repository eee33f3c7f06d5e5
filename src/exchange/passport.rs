//! A passport table: what a genebank asks for with a sample of seed, a line for the population and one for every ear of
//! which kernels were given away.
//!
//! The columns are descriptors of the *FAO/Bioversity Multi-Crop Passport Descriptors V.2.1* (Alercia, Diulgheroff and
//! Mackay, December 2015), by their names and in their order. Its rules: an empty cell for what is not known, several
//! values joined by `;` without a space, dates as `YYYYMMDD` with hyphens for parts that are not known.

use super::table_text::write_csv;
use crate::model::{Ear, LedgerReason, Packet, Project, RowSource};

/// The descriptors that are filled or left empty on purpose.
pub const COLUMNS: [&str; 15] = [
    "PUID",
    "INSTCODE",
    "ACCENUMB",
    "COLLNUMB",
    "GENUS",
    "SPECIES",
    "CROPNAME",
    "ACCENAME",
    "ACQDATE",
    "ORIGCTY",
    "SAMPSTAT",
    "ANCEST",
    "DONORNUMB",
    "STORAGE",
    "REMARKS",
];

/// What every line says of its results.
pub const CAUTION: &str = "home test, not for labelling";

/// SAMPSTAT 400: breeding or research material.
const BREEDING_MATERIAL: &str = "400";

/// STORAGE 10: a seed collection, with nothing said of how cold it lies.
const SEED: &str = "10";

/// Writes the passport table of a project as CSV.
pub fn passport(project: &Project) -> Vec<u8> {
    let given = project.ears.iter().filter(|ear| kernels_given(project, ear) > 0);
    let lines: Vec<Vec<String>> = std::iter::once(population(project))
        .chain(given.map(|ear| line_of_ear(project, ear)))
        .collect();
    write_csv(&COLUMNS, lines)
}

/// The facts of one line, the rest being the same in all.
struct Facts {
    number: String,
    acquired: String,
    ancestry: String,
    has_seed: bool,
    remarks: Vec<String>,
}

fn line(project: &Project, facts: Facts) -> Vec<String> {
    let mut remarks = vec![CAUTION.to_owned()];
    remarks.extend(facts.remarks);
    if !project.about.restrictions.is_empty() {
        remarks.push(format!("restrictions: {}", project.about.restrictions));
    }
    let remarks: Vec<String> = remarks.iter().map(|remark| remark.replace(';', ",")).collect();
    let mut cells = vec![String::new(); COLUMNS.len()];
    let mut put = |column: &str, value: &str| {
        if let Some(at) = COLUMNS.iter().position(|known| *known == column) {
            value.clone_into(&mut cells[at]);
        }
    };
    put("ACCENUMB", &facts.number);
    put("GENUS", "Zea");
    put("SPECIES", "mays");
    put("CROPNAME", "maize");
    put("ACCENAME", &project.about.name);
    put("ACQDATE", &facts.acquired);
    put("SAMPSTAT", BREEDING_MATERIAL);
    put("ANCEST", &facts.ancestry);
    put("STORAGE", if facts.has_seed { SEED } else { "" });
    put("REMARKS", &remarks.join(";"));
    cells
}

fn population(project: &Project) -> Vec<String> {
    let mut remarks = Vec::new();
    if !project.about.grower.is_empty() {
        remarks.push(format!("grown by {}", project.about.grower));
    }
    let facts = Facts {
        number: project.about.prefix.to_string(),
        // When its first seed came is not known.
        acquired: String::new(),
        ancestry: project.about.population.clone(),
        has_seed: project.packets.iter().any(has_seed),
        remarks,
    };
    line(project, facts)
}

fn line_of_ear(project: &Project, ear: &Ear) -> Vec<String> {
    let year = project.seasons.get(ear.season).map(|season| season.year);
    let mut remarks = vec![format!("kernels given away: {}", kernels_given(project, ear))];
    if let Some(tally) = project.final_tally(ear.id) {
        remarks.push(format!(
            "{} of {} kernels germinated in a cold test",
            tally.germinated(project.about.germinated),
            tally.counted()
        ));
    }
    let facts = Facts {
        number: ear.code.to_string(),
        // Of the day of the harvest only the year is known.
        acquired: year.map_or_else(String::new, |year| format!("{year:04}----")),
        ancestry: ancestry(project, ear),
        has_seed: project.packets_of(ear.id).any(has_seed),
        remarks,
    };
    line(project, facts)
}

/// Says where an ear comes from, in words without `;`.
fn ancestry(project: &Project, ear: &Ear) -> String {
    let Some(row) = ear.row.and_then(|row| project.rows.get(row)) else {
        return "open-pollinated".to_owned();
    };
    let source = match &row.source {
        RowSource::Unknown => String::new(),
        RowSource::Ear(mother) => project
            .ears
            .get(*mother)
            .map_or_else(String::new, |mother| format!(" planted from ear {}", mother.code)),
        RowSource::Bulk(name) => format!(" planted from the bulk {name}"),
        RowSource::CheckLot(name) => format!(" planted from the check lot {name}"),
    };
    format!("row {}{source}, open-pollinated", row.label).replace(';', ",")
}

fn kernels_given(project: &Project, ear: &Ear) -> i64 {
    let lines = project.packets_of(ear.id).flat_map(|packet| &packet.ledger);
    let given = lines.filter(|line| line.reason == LedgerReason::Given);
    given.map(|line| -i64::from(line.kernels)).sum()
}

fn has_seed(packet: &Packet) -> bool {
    packet.balance().is_some_and(|balance| balance > 0)
}

//! The table of Selection as CSV: every ear of a season with its figures, where it stands and why.

use super::print::CAUTION;
use super::table_text::write_csv;
use crate::insight::{Choice, Estimate, Reason, Speeds, Standing};
use crate::model::{Project, Word};

/// The columns. Units are in the names; percents are 0 to 100.
pub const COLUMNS: [&str; 19] = [
    "ear",
    "ear code",
    "mother row",
    "stand",
    "germinated kernels",
    "counted kernels",
    "observed %",
    "likely %",
    "likely from % (90 %)",
    "likely to % (90 %)",
    "reaches the cutoff %",
    "maturity days",
    "kernels in packets",
    "up by the early count %",
    "vigor 0 to 9",
    "word",
    "reason of the word",
    "why",
    "caution",
];

/// Writes the ears at these places of a choice, in this order. An empty cell stands for what is not known.
pub fn selection_csv(project: &Project, choice: &Choice, speeds: &Speeds, places: &[usize]) -> Vec<u8> {
    let standings = places.iter().filter_map(|place| choice.standings.get(*place));
    let words = project.selection_of(choice.season).map(|one| &one.words);
    let line = |standing: &Standing| {
        let word = words.and_then(|words| words.get(&standing.ear));
        line(project, speeds, standing, word)
    };
    write_csv(&COLUMNS, standings.map(line))
}

fn line(project: &Project, speeds: &Speeds, standing: &Standing, word: Option<&Word>) -> Vec<String> {
    let figure = |figure: fn(&Estimate) -> String| standing.estimate.as_ref().map(figure).unwrap_or_default();
    let ear = project.ears.get(standing.ear);
    let row = standing.row.and_then(|row| project.rows.get(row));
    let early = speeds
        .of(standing.ear)
        .and_then(crate::insight::Speed::early_percent);
    let why: Vec<String> = standing
        .why
        .iter()
        .filter(|reason| !matches!(reason, Reason::Word(_)))
        .map(|reason| reason.sentence(project))
        .collect();
    vec![
        standing.number.to_string(),
        ear.map_or_else(String::new, |ear| ear.code.to_string()),
        row.map_or_else(String::new, |row| row.label.clone()),
        standing.stand.name().to_owned(),
        figure(|one| one.counts.k().to_string()),
        figure(|one| one.counts.n().to_string()),
        figure(|one| percent(one.observed_percent)),
        figure(|one| percent(one.likely_percent)),
        figure(|one| percent(one.likely_90.low)),
        figure(|one| percent(one.likely_90.high)),
        standing
            .probability
            .map_or_else(String::new, |chance| percent(100.0 * chance)),
        standing
            .maturity_days
            .map_or_else(String::new, |days| days.to_string()),
        standing
            .kernels
            .map_or_else(String::new, |kernels| kernels.to_string()),
        early.map_or_else(String::new, percent),
        figure(|one| one.vigor.map_or_else(String::new, |grade| format!("{grade:.2}"))),
        word.map_or_else(String::new, |word| word.kind.name().to_owned()),
        word.map_or_else(String::new, |word| word.reason.clone()),
        why.join(" "),
        CAUTION.to_owned(),
    ]
}

/// A percent with one decimal, as the model tells no more.
fn percent(value: f64) -> String {
    format!("{value:.1}")
}

//! `storage`: seed in store by place and season, what is to be tested again and grown anew. Also a part of `summary`.

use std::io::Write;

use serde::Serialize;
use wintercrib::insight::{Amount, Insight, LastTest, Regrow, Storage, StoreLine, StoreStand, TestAgain};
use wintercrib::model::{Document, Project};

use super::summary::write_table;
use super::{Seed, Stop, project};

/// Keys carry their units. What is not known is null.
#[derive(Debug, Serialize)]
pub(super) struct StorageFacts {
    ages_reckoned_to_year: Option<i16>,
    sentences: Vec<String>,
    rules: RulesFacts,
    places: Vec<PlaceFacts>,
    to_test_again: Vec<AgainFacts>,
    to_grow_anew: Vec<RegrowFacts>,
    lines_without_seed: Vec<String>,
}

#[derive(Debug, Serialize)]
struct RulesFacts {
    test_again_after_seasons: u8,
    old_from_seasons: u8,
    few_below_kernels: u32,
    low_below_percent: u8,
    sentence: String,
}

/// One place; without a name the packets of which it is not known.
#[derive(Debug, Serialize)]
struct PlaceFacts {
    name: Option<String>,
    temperature_celsius: Option<f64>,
    humidity_percent: Option<f64>,
    within_rule_of_100: Option<bool>,
    sentence: String,
    packets: usize,
    kernels: i64,
    uncounted_packets: usize,
    seasons: Vec<SeasonFacts>,
}

#[derive(Debug, Serialize)]
struct SeasonFacts {
    harvest_year: i16,
    packets: usize,
    kernels: i64,
    uncounted_packets: usize,
}

#[derive(Debug, Serialize)]
struct AgainFacts {
    ear_number: u32,
    ear_code: String,
    harvest_year: i16,
    untested_seasons: i16,
    kernels: i64,
    last_test: Option<TestFacts>,
    sentence: String,
}

#[derive(Debug, Serialize)]
struct TestFacts {
    on: Option<String>,
    germinated_kernels: u32,
    counted_kernels: u32,
}

#[derive(Debug, Serialize)]
struct RegrowFacts {
    line: String,
    why: Vec<&'static str>,
    from_ear_number: u32,
    from_ear_code: String,
    harvest_year: i16,
    age_seasons: i16,
    kernels: i64,
    germinated_kernels: Option<u32>,
    counted_kernels: Option<u32>,
    sentence: String,
}

impl StorageFacts {
    pub(super) fn new(project: &Project, seed: &Storage) -> Self {
        let rules = &seed.rules;
        Self {
            ages_reckoned_to_year: seed.year,
            sentences: seed.sentences(),
            rules: RulesFacts {
                test_again_after_seasons: rules.test_after,
                old_from_seasons: rules.old_after,
                few_below_kernels: rules.few_kernels,
                low_below_percent: rules.low_percent,
                sentence: Storage::rules_sentence(*rules),
            },
            places: seed
                .stores
                .iter()
                .map(|line| PlaceFacts::new(project, seed, line))
                .collect(),
            to_test_again: seed
                .again
                .iter()
                .map(|one| AgainFacts::new(project, one))
                .collect(),
            to_grow_anew: seed
                .regrow
                .iter()
                .map(|one| RegrowFacts::new(project, one))
                .collect(),
            lines_without_seed: seed.lost.clone(),
        }
    }

    /// The part of a summary for a person: what there is and what is to be done.
    pub(super) fn write_short(&self, out: &mut dyn Write) -> std::io::Result<()> {
        if self.sentences.is_empty() {
            return Ok(());
        }
        writeln!(out, "\nSeed in store")?;
        for sentence in &self.sentences {
            writeln!(out, "  {sentence}")?;
        }
        Ok(())
    }

    fn write(&self, seed: &Storage, out: &mut dyn Write) -> std::io::Result<()> {
        for sentence in &self.sentences {
            writeln!(out, "{sentence}")?;
        }
        writeln!(out, "{}", self.rules.sentence)?;
        if !seed.stores.is_empty() {
            writeln!(out, "\nPlaces")?;
            let years = seed.years.iter().map(|year| format!("{year}, kernels"));
            let mut rows: Vec<Vec<String>> = vec![
                ["Place", "Warmth, humidity", "Rule of 100"]
                    .map(str::to_owned)
                    .into_iter()
                    .chain(years)
                    .chain(["All".to_owned()])
                    .collect(),
            ];
            rows.extend(seed.stores.iter().map(|line| {
                let first = [
                    line.name.clone(),
                    line.conditions.clone(),
                    line.stand.name().to_owned(),
                ];
                let amounts = line.in_years.iter().chain([&line.all]).map(kernels);
                first.into_iter().chain(amounts).collect::<Vec<_>>()
            }));
            write_table(out, &rows)?;
            for line in seed.stores.iter().filter(|line| line.store.is_some()) {
                writeln!(out, "  {}: {}", line.name, line.sentence)?;
            }
        }
        if !seed.again.is_empty() {
            writeln!(out, "\nTo test again")?;
        }
        for one in &seed.again {
            writeln!(out, "  {}", one.sentence())?;
        }
        if !seed.regrow.is_empty() {
            writeln!(out, "\nTo grow anew")?;
        }
        for one in &seed.regrow {
            writeln!(out, "  {}", one.sentence)?;
        }
        Ok(())
    }
}

impl PlaceFacts {
    fn new(project: &Project, seed: &Storage, line: &StoreLine) -> Self {
        let store = line.store.and_then(|id| project.stores.get(id));
        let seasons = seed.years.iter().zip(&line.in_years);
        Self {
            name: store.map(|store| store.name.clone()),
            temperature_celsius: store.and_then(|store| store.temperature_c),
            humidity_percent: store.and_then(|store| store.humidity_percent),
            within_rule_of_100: match line.stand {
                StoreStand::Within => Some(true),
                StoreStand::Over => Some(false),
                StoreStand::NotKnown => None,
            },
            sentence: line.sentence.clone(),
            packets: line.all.packets,
            kernels: line.all.kernels,
            uncounted_packets: line.all.uncounted,
            seasons: seasons
                .filter(|(_, amount)| amount.packets > 0)
                .map(|(year, amount)| SeasonFacts {
                    harvest_year: *year,
                    packets: amount.packets,
                    kernels: amount.kernels,
                    uncounted_packets: amount.uncounted,
                })
                .collect(),
        }
    }
}

impl AgainFacts {
    fn new(project: &Project, one: &TestAgain) -> Self {
        let tested = |last: &LastTest| TestFacts {
            on: last.on.map(|day| day.to_string()),
            germinated_kernels: last.counts.k(),
            counted_kernels: last.counts.n(),
        };
        Self {
            ear_number: one.number,
            ear_code: code(project, one.ear),
            harvest_year: one.year,
            untested_seasons: one.seasons,
            kernels: one.amount.kernels,
            last_test: one.last.as_ref().map(tested),
            sentence: one.sentence(),
        }
    }
}

impl RegrowFacts {
    fn new(project: &Project, one: &Regrow) -> Self {
        Self {
            line: one.line.clone(),
            why: one.why.iter().map(|why| why.name()).collect(),
            from_ear_number: one.number,
            from_ear_code: code(project, one.ear),
            harvest_year: one.year,
            age_seasons: one.seasons,
            kernels: one.amount.kernels,
            germinated_kernels: one.tested.map(wintercrib::stats::Counts::k),
            counted_kernels: one.tested.map(wintercrib::stats::Counts::n),
            sentence: one.sentence.clone(),
        }
    }
}

fn code(project: &Project, ear: wintercrib::model::EarId) -> String {
    let ear = project.ears.get(ear);
    ear.map_or_else(String::new, |ear| ear.code.to_string())
}

fn kernels(amount: &Amount) -> String {
    match (amount.packets, amount.uncounted) {
        (0, _) => "-".to_owned(),
        (packets, uncounted) if packets == uncounted => "not counted".to_owned(),
        (_, 0) => amount.kernels.to_string(),
        _ => format!("{} and more", amount.kernels),
    }
}

pub(super) fn run(asked: &Seed, out: &mut dyn Write) -> Result<(), Stop> {
    let opened = project::read(&asked.file)?;
    let document: &Document = &opened.document;
    let seed = Insight::default().storage(document);
    let facts = StorageFacts::new(document.project(), &seed);
    if asked.json {
        serde_json::to_writer_pretty(&mut *out, &facts).map_err(std::io::Error::from)?;
        writeln!(out)?;
    } else {
        facts.write(&seed, out)?;
    }
    Ok(())
}

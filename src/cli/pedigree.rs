//! `pedigree`: who descends from whom, and the figures of each season; the same figures as a part of `summary`.

use std::io::Write;
use std::path::PathBuf;

use serde::Serialize;
use wintercrib::insight::{FounderShare, Insight, MeanKin, Pedigree, PedigreeSeason};
use wintercrib::model::{Document, Ear, EarCode, PollenSource, Project};

use super::{Stop, project};

/// What the verb needs.
#[derive(Debug, PartialEq)]
pub struct PedigreeAsked {
    /// The project.
    pub(super) file: PathBuf,
    /// The year of the season that is shown; none for all, or with an ear's number for the latest.
    pub(super) season: Option<i16>,
    /// The code of an ear, or its number within the season; none for none.
    pub(super) ear: Option<String>,
    /// For a program to read, not a person.
    pub(super) json: bool,
}

/// Keys carry their units. Of two figures the first is for unrelated pollen where it was not stated, the second for that of
/// the season's own rows. What is not known is null.
#[derive(Debug, Serialize)]
pub(super) struct PedigreeFacts {
    refusal: Option<String>,
    seasons: Vec<SeasonFacts>,
}

#[derive(Debug, Serialize)]
struct SeasonFacts {
    season_year: i16,
    pollen: String,
    pollen_of_own_rows_share: Option<f64>,
    pollen_rows: Vec<String>,
    families: usize,
    effective_families: Option<f64>,
    mother_rows: usize,
    effective_mother_rows: Option<f64>,
    shares_by_kernels_planted: bool,
    plants: Option<KinFacts>,
    harvested_kernels: Option<KinFacts>,
    founders: Vec<FounderFacts>,
    open_pollen_unrelated_share: f64,
    own_pollen_unrelated_share: f64,
    lines_of_mothers: usize,
    lines_lost_after: Vec<String>,
    sentences: Vec<String>,
}

#[derive(Debug, Serialize)]
struct KinFacts {
    open_pollen_mean_coancestry: f64,
    own_pollen_mean_coancestry: f64,
    open_pollen_mean_inbreeding_percent: f64,
    own_pollen_mean_inbreeding_percent: f64,
}

#[derive(Debug, Serialize)]
struct FounderFacts {
    founder: String,
    open_pollen_share: f64,
    own_pollen_share: f64,
    over_represented: bool,
}

/// An ear in the pedigree.
#[derive(Debug, Serialize)]
struct EarFacts {
    ear_code: String,
    grew_in: String,
    path: String,
    offspring: String,
    ancestors: Vec<String>,
    descendants: Vec<String>,
}

impl From<MeanKin> for KinFacts {
    fn from(kin: MeanKin) -> Self {
        Self {
            open_pollen_mean_coancestry: kin.coancestry[0],
            own_pollen_mean_coancestry: kin.coancestry[1],
            open_pollen_mean_inbreeding_percent: 100.0 * kin.inbreeding[0],
            own_pollen_mean_inbreeding_percent: 100.0 * kin.inbreeding[1],
        }
    }
}

impl From<&FounderShare> for FounderFacts {
    fn from(one: &FounderShare) -> Self {
        Self {
            founder: one.name.clone(),
            open_pollen_share: one.share[0],
            own_pollen_share: one.share[1],
            over_represented: one.is_over_represented(),
        }
    }
}

impl SeasonFacts {
    fn new(project: &Project, season: &PedigreeSeason) -> Self {
        let figures = &season.figures;
        let stated: Option<&PollenSource> = project
            .seasons
            .get(season.season)
            .and_then(|season| season.pollen.as_ref());
        let mut sentences = vec![season.pollen_sentence()];
        sentences.extend(figures.sentences(season.year));
        Self {
            season_year: season.year,
            pollen: season.pollen.clone(),
            pollen_of_own_rows_share: stated.map(|pollen| pollen.own),
            pollen_rows: stated
                .iter()
                .flat_map(|pollen| &pollen.rows)
                .filter_map(|row| Some(project.rows.get(*row)?.label.clone()))
                .collect(),
            families: figures.families,
            effective_families: figures.effective_families,
            mother_rows: figures.mothers,
            effective_mother_rows: figures.effective_mothers,
            shares_by_kernels_planted: figures.is_by_kernels,
            plants: figures.plants.map(KinFacts::from),
            harvested_kernels: figures.harvest.map(KinFacts::from),
            founders: figures.founders.iter().map(FounderFacts::from).collect(),
            open_pollen_unrelated_share: figures.unrelated_pollen[0],
            own_pollen_unrelated_share: figures.unrelated_pollen[1],
            lines_of_mothers: figures.lines,
            lines_lost_after: figures.lost_after.clone(),
            sentences,
        }
    }
}

impl PedigreeFacts {
    /// The facts of one season, or of all.
    pub(super) fn new(project: &Project, pedigree: &Pedigree, year: Option<i16>) -> Self {
        let seasons = pedigree.seasons.iter();
        Self {
            refusal: pedigree.refusal.clone(),
            seasons: seasons
                .filter(|season| year.is_none_or(|year| season.year == year))
                .map(|season| SeasonFacts::new(project, season))
                .collect(),
        }
    }

    fn sentences(&self) -> impl Iterator<Item = &String> {
        let said = self.seasons.iter().flat_map(|season| &season.sentences);
        said.chain(&self.refusal)
    }

    pub(super) fn write(&self, out: &mut dyn Write) -> std::io::Result<()> {
        if self.seasons.is_empty() {
            return Ok(());
        }
        writeln!(out, "\nPedigree")?;
        self.sentences()
            .try_for_each(|sentence| writeln!(out, "  {sentence}"))
    }
}

impl EarFacts {
    fn new(pedigree: &Pedigree, ear: &Ear) -> Option<Self> {
        let family = pedigree.family_of_ear(ear)?;
        let lineage = pedigree.lineage(family, Some(ear.id));
        let names =
            |families: &mut dyn Iterator<Item = &usize>| families.map(|one| pedigree.name(*one)).collect();
        Some(Self {
            ear_code: ear.code.to_string(),
            grew_in: pedigree.name(family),
            path: pedigree.path(family),
            offspring: pedigree.offspring(&lineage),
            ancestors: names(&mut lineage.ancestors.iter()),
            descendants: names(&mut lineage.descendants.iter()),
        })
    }
}

/// Finds an ear by its code, or by its number within a season.
fn ear<'a>(model: &'a Project, text: &str, year: Option<i16>) -> Result<&'a Ear, Stop> {
    if let Ok(number) = text.parse::<u32>() {
        let season = project::season(model, year)?;
        return model.ear_numbered(season, number).ok_or_else(|| {
            Stop::cannot(format!(
                "The season has no ear {number}. Choose another number with --ear, or another season with --season"
            ))
        });
    }
    let code: EarCode = text
        .parse()
        .map_err(|fault| Stop::cannot(format!("--ear {text}: {fault}")))?;
    model.ear_coded(code).ok_or_else(|| {
        Stop::cannot(format!(
            "The project has no ear {code}. Write its code as it stands on its packet, or its number with --season"
        ))
    })
}

pub(super) fn run(asked: &PedigreeAsked, out: &mut dyn Write) -> Result<(), Stop> {
    let opened = project::read(&asked.file)?;
    let document: &Document = &opened.document;
    let model = document.project();
    if asked.season.is_some() {
        project::season(model, asked.season)?;
    }
    let pedigree = Insight::default().pedigree(document);
    let one = match &asked.ear {
        Some(text) => EarFacts::new(&pedigree, ear(model, text, asked.season)?),
        None => None,
    };
    let facts = PedigreeFacts::new(model, &pedigree, asked.season);
    if asked.json {
        let json = serde_json::json!({ "pedigree": facts, "ear": one });
        writeln!(out, "{json:#}")?;
        return Ok(());
    }
    if let Some(ear) = &one {
        writeln!(out, "Ear {}\n  {}\n  {}", ear.ear_code, ear.path, ear.offspring)?;
        return Ok(());
    }
    if facts.seasons.is_empty() {
        writeln!(out, "No season has rows or ears yet.")?;
    }
    for sentence in facts.sentences() {
        writeln!(out, "{sentence}")?;
    }
    Ok(())
}

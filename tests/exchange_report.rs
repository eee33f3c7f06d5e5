//! The report of a season: what poppler finds in it, beside what the views and the real program say.
#![expect(clippy::unwrap_used, reason = "a test stops at what it does not expect")]

mod cli_run;
mod poppler;

use cli_run::{Folder, SAMPLE};
use jiff::civil::date;
use serde_json::Value;
use wintercrib::demo;
use wintercrib::exchange::print::{CAUTION, Paper, PrintFault, unwatched};
use wintercrib::exchange::season_report::{PrintedReport, ReportOrder, season_report_pdf};
use wintercrib::insight::{Field, Insight, TraitShift, plot_text};
use wintercrib::model::{About, Command, Document, EarDraft, Existing, Project, SeasonId, Stamp};

fn order(document: &Document, paper: Paper) -> ReportOrder {
    ReportOrder {
        season: document.project().latest_season().unwrap().id,
        paper,
        on: date(2026, 2, 20),
    }
}

fn printed(document: &Document, paper: Paper) -> PrintedReport {
    season_report_pdf(document, order(document, paper), &unwatched).unwrap()
}

/// The running text of all pages with one space between words, without what stands at the head and foot of each page,
/// which must be there; none where poppler is not installed.
fn text_of(pdf: &[u8], name: &str) -> Option<String> {
    let pages = poppler::text_of(pdf)?;
    let mut words = String::new();
    for page in pages {
        let lines: Vec<&str> = page.lines().filter(|line| !line.trim().is_empty()).collect();
        let (first, last) = (lines.first().unwrap(), lines.last().unwrap());
        assert!(
            first.contains("Season report") && first.contains(name),
            "{first}: {page}"
        );
        assert!(last.contains(CAUTION) && last.contains(" of "), "{last}: {page}");
        for word in lines[1..lines.len() - 1]
            .iter()
            .flat_map(|line| line.split_whitespace())
        {
            words.push_str(word);
            words.push(' ');
        }
    }
    Some(words)
}

#[track_caller]
fn holds(text: &str, wanted: &str) {
    let wanted: Vec<&str> = wanted.split_whitespace().collect();
    let wanted = wanted.join(" ");
    assert!(text.contains(&wanted), "'{wanted}' is not in {text}");
}

/// A long demo that has frozen lists, beside those that have names.
fn demos() -> Vec<(&'static str, Document)> {
    let names = ["essel-thaw", "pocket-starter"];
    let mut all: Vec<(&str, Document)> = names
        .into_iter()
        .map(|name| (name, Document::new(demo::make(name).unwrap())))
        .collect();
    all.push(("sized", Document::new(demo::sized(60, 2, 3).unwrap())));
    all
}

#[test]
fn every_ear_and_every_sentence_is_found_on_both_papers() {
    for (name, document) in demos() {
        let project = document.project();
        let season = project
            .seasons
            .iter()
            .min_by_key(|season| season.year)
            .unwrap()
            .id;
        for (paper, size) in [(Paper::Letter, "letter"), (Paper::A4, "a4")] {
            let order = ReportOrder {
                season,
                ..order(&document, paper)
            };
            let report = season_report_pdf(&document, order, &unwatched).unwrap();
            for page in [1, 2, 3] {
                poppler::look(&format!("report_{name}_{size}_{page}"), &report.pdf, page);
            }
            let Some(text) = text_of(&report.pdf, "DEMO") else {
                continue;
            };
            let insight = Insight::default();
            let cutoffs = insight.cutoffs(&document, season);
            let choice = insight.choice(&document, season, &cutoffs);
            let estimates = insight.estimates(&document, season);
            // The ears stand in the order of their numbers.
            let table = &text[text.rfind("All ears").unwrap()..];
            let mut from = 0;
            for one in &choice.standings {
                let code = project.ears.get(one.ear).unwrap().code.to_string();
                let at = table[from..]
                    .find(&code)
                    .unwrap_or_else(|| panic!("{code} is missing"));
                from += at + code.len();
                let row = &table[from..];
                if let Some(estimate) = &one.estimate {
                    let count = format!("{}/{}", estimate.counts.k(), estimate.counts.n());
                    let likely = format!("{:.1} (", estimate.likely_percent);
                    let near: String = row.chars().take(60).collect();
                    assert!(near.contains(&count) && near.contains(&likely), "{code}: {near}");
                }
            }
            let price = insight.price(&document, season, &cutoffs);
            let curve = insight.curve(&document, season, &cutoffs);
            let shares = insight.shares(&document, season, &cutoffs);
            let mothers = insight.mothers(&document, season, &cutoffs);
            let field = Field::new(project, &choice.standings, wintercrib::insight::Axis::USUAL);
            let mut sentences = vec![
                estimates.outcome.clone(),
                plot_text(project, &choice, &field),
                shares.assumptions(),
            ];
            sentences.extend(price.buys());
            sentences.extend(price.costs());
            sentences.extend(price.assumptions());
            sentences.extend(price.shifts.iter().map(TraitShift::sentence));
            sentences.extend(curve.sentences());
            sentences.extend(shares.sentences());
            sentences.extend(mothers.sentences());
            let sets = insight.sets(&document, season, &cutoffs);
            sentences.extend(sets.moves_sentence());
            for test in project.tests_of(season) {
                let sound = insight.soundness(&document, test.id);
                for finding in &sound.findings {
                    let all = [&finding.sentence, &finding.evidence, &finding.remedy];
                    sentences.extend(all.map(String::clone));
                }
                let cold = insight.cold_days(&document, test.id);
                sentences.extend(cold.findings.iter().map(|one| one.sentence.clone()));
            }
            for list in project.lists.iter().filter(|list| list.season == season) {
                sentences.push(format!(
                    "Version {}, digest {}",
                    list.version,
                    list.short_digest()
                ));
                sentences.extend(insight.since_frozen(&document, list.id).iter().cloned());
            }
            assert!(sentences.len() > 15, "{name}");
            for sentence in &sentences {
                holds(&text, sentence);
            }
        }
    }
}

/// The real program prints the report and the summary of one project.
#[test]
fn the_figures_are_those_of_the_summary() {
    for (project, name) in [("sample", "home test"), ("demo", "DEMO")] {
        let folder = if project == "sample" {
            Folder::with(SAMPLE)
        } else {
            let folder = Folder::new();
            folder.run("demo essel-thaw --out p.ron").ends_with(0);
            folder
        };
        let told = folder
            .run("print p.ron report --paper a4 --out r.pdf")
            .ends_with(0);
        assert!(
            told.out.starts_with("Printed the report of season 20"),
            "{told:?}"
        );
        assert!(told.out.ends_with("pages to r.pdf.\n"), "{told:?}");
        let summary = folder.run("summary p.ron --json").ends_with(0).out;
        let summary: Value = serde_json::from_str(&summary).unwrap();
        let pages = poppler::text_of(&folder.files()["r.pdf"]);
        let Some(pages) = pages else { continue };
        assert!(pages.iter().all(|page| page.contains(name)));
        let text = pages.join(" ");
        let text: Vec<&str> = text.split_whitespace().collect();
        let text = text.join(" ");
        let number = |key: &str| summary["choice"][key].as_f64();
        let short = format!(
            "{} to plant, {} to test again, {} left out, {} not scored.",
            number("plant_ears").unwrap(),
            number("retest_ears").unwrap(),
            number("leave_out_ears").unwrap(),
            number("not_scored_ears").unwrap()
        );
        holds(&text, &short);
        for (title, figure, unit) in [
            (
                "Cold germination as counted",
                "cold_germination_observed_percent",
                " %",
            ),
            (
                "Cold germination, likely",
                "cold_germination_likely_percent",
                " %",
            ),
            ("Maturity days", "maturity_days", ""),
        ] {
            let mean = |which: &str| {
                let value = number(&format!("{which}_{figure}"));
                value.map_or_else(|| "\u{2013}".to_owned(), |value| format!("{value:.1}{unit}"))
            };
            holds(&text, &format!("{title} {} {}", mean("kept"), mean("all")));
        }
        for tray in summary["tests"][0]["trays"].as_array().unwrap() {
            if let Some(percent) = tray["ears_germinated_percent"].as_f64() {
                let (some, all) = (&tray["ears_germinated_kernels"], &tray["ears_counted_kernels"]);
                holds(&text, &format!("{some} of {all} ({percent:.0} %)"));
            }
        }
        for key in ["it_buys", "it_costs", "taken_for_granted"] {
            for sentence in summary["price"][key].as_array().unwrap() {
                // A page may end within a sentence, so its beginning is looked for.
                let words: Vec<&str> = sentence.as_str().unwrap().split(' ').take(6).collect();
                holds(&text, &words.join(" "));
            }
        }
        // Every scored ear is in one step of the distribution, those to plant too.
        let from = text.find("How they are distributed").unwrap();
        let steps = &text[from..];
        let scored = summary["model"]["scored_ears"].as_u64().unwrap();
        let mut sums = [0_u64; 4];
        for low in (0..100).step_by(10) {
            let title = if low == 90 {
                "90 to 100 % ".to_owned()
            } else {
                format!("{low} to below {} % ", low + 10)
            };
            let at = steps.find(&title).unwrap_or_else(|| panic!("{title}: {steps}")) + title.len();
            let mut counts = steps[at..].split(' ');
            for sum in &mut sums {
                *sum += counts.next().unwrap().parse::<u64>().unwrap();
            }
        }
        assert_eq!((sums[0], sums[2]), (scored, scored));
        assert!(sums[1] == sums[3] && sums[1] <= number("plant_ears").unwrap() as u64);
    }
}

#[test]
fn an_empty_season_says_what_is_missing_and_one_ear_is_enough() {
    let stamp = Stamp {
        at: date(2026, 2, 1).at(8, 0, 0, 0),
        by: "Grower A".to_owned(),
    };
    let name = format!(
        "{} \u{5de}\u{5d9} \u{4f60}\u{597d} Zea \u{17d}\u{3b1}\u{42f}",
        "Very long name ".repeat(12)
    );
    let mut document = Document::new(Project::new(About::new(name.trim(), "none")));
    let year = 2026;
    let planted = None;
    document
        .run(&Command::AddSeason { year, planted }, &stamp)
        .unwrap();
    let report = printed(&document, Paper::A4);
    if let Some(text) = text_of(&report.pdf, "Very long name") {
        for wanted in [
            "Season report 2026",
            "No ear is noted yet",
            "No test is designed yet",
            "No planting list is frozen yet",
            "Zea \u{17d}\u{3b1}\u{42f}",
        ] {
            holds(&text, wanted);
        }
    }
    assert_eq!(report.pages, 1);
    let season = document.project().latest_season().unwrap().id;
    let add = Command::AddEars {
        season,
        drafts: vec![EarDraft::default()],
        existing: Existing::Refuse,
    };
    document.run(&add, &stamp).unwrap();
    let report = printed(&document, Paper::Letter);
    if let Some(text) = text_of(&report.pdf, "Very long name") {
        let code = document.project().ears.iter().next().unwrap().code.to_string();
        for wanted in [
            "1 ear of 0 rows, 0 scored",
            "Nobody has set cutoffs yet",
            "No scored ear is kept",
            &code,
        ] {
            holds(&text, wanted);
        }
    }
}

#[test]
fn the_same_input_gives_the_same_bytes_and_whoever_watches_can_stop() {
    let document = Document::new(demo::make("pocket-starter").unwrap());
    let report = printed(&document, Paper::Letter);
    assert!(report == printed(&document, Paper::Letter));
    assert!(report.pdf.len() < 500_000, "{} bytes", report.pdf.len());
    let order = order(&document, Paper::Letter);
    for stop_at in [0.0, 0.1, 0.5] {
        let watch = |done: f32| done < stop_at;
        assert_eq!(
            season_report_pdf(&document, order, &watch),
            Err(PrintFault::Stopped)
        );
    }
    let missing = ReportOrder {
        season: SeasonId(99),
        ..order
    };
    let report = season_report_pdf(&document, missing, &unwatched).unwrap();
    assert_eq!(report.pages, 1);
}

#[test]
fn thousands_of_ears_have_a_row_each() {
    let document = Document::new(demo::sized(2_000, 1, 1).unwrap());
    let report = printed(&document, Paper::A4);
    let Some(text) = text_of(&report.pdf, "DEMO") else {
        return;
    };
    let table = &text[text.rfind("All ears").unwrap()..];
    for ear in document.project().ears.iter() {
        holds(table, &ear.code.to_string());
    }
}

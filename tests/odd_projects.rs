//! Odd projects that break no rule: whatever numbers, days and texts a grower or a hand in the file may have put there, each
//! verb answers with a sentence or does its work, and each pane is drawn.
//!
//! A short run is part of all tests; `WINTERCRIB_ODD=200 cargo test --test odd_projects -- --nocapture` tries so many.
#![expect(clippy::unwrap_used, reason = "a helper fails its test by panicking")]

mod cli_run;
mod common;
mod dice;

use cli_run::{Folder, Ran};
use dice::Dice;
use egui::Theme;
use jiff::civil::date;
use wintercrib::demo;
use wintercrib::model::{About, Document, Project};
use wintercrib::store::format;
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

/// So many odd projects a short run makes of each that it begins with.
const SHORT: u32 = 2;

const NUMBERS: [&str; 16] = [
    "0",
    "1",
    "2",
    "7",
    "100",
    "366",
    "400",
    "10000",
    "65535",
    "100000000",
    "4294967295",
    "0.0",
    "0.000001",
    "99.99",
    "1e12",
    "-40.0",
];
const DAYS: [&str; 6] = [
    "-009999-01-01",
    "9999-12-31",
    "0000-01-01",
    "0001-02-03",
    "2026-02-28",
    "2024-02-29",
];
const TEXTS: [&str; 7] = [
    "",
    "x",
    "=1+1",
    "🌽",
    "a very long word of a note that goes on and on",
    "\u{202E}kern",
    "ﷺ",
];

/// What of a line of a project file can be put in the place of what: numbers, days and texts, but no ids.
fn places(text: &str) -> Vec<(usize, usize, &'static [&'static str])> {
    let bytes = text.as_bytes();
    let mut found = Vec::new();
    let mut at = 0;
    while at < bytes.len() {
        let begin = at;
        match bytes[at] {
            b'"' => {
                at += 1;
                while at < bytes.len() && bytes[at] != b'"' {
                    at += 1 + usize::from(bytes[at] == b'\\');
                }
                let inside = &text[begin + 1..at.min(text.len())];
                let is_day =
                    inside.len() >= 10 && inside.as_bytes()[4] == b'-' && inside.as_bytes()[7] == b'-';
                found.push((
                    begin + 1,
                    begin + 1 + if is_day { 10 } else { inside.len() },
                    if is_day { &DAYS[..] } else { &TEXTS },
                ));
                at += 1;
            }
            b'0'..=b'9' | b'-' => {
                while at < bytes.len()
                    && (bytes[at].is_ascii_digit() || matches!(bytes[at], b'.' | b'-' | b'e'))
                {
                    at += 1;
                }
                let before = &text[..begin];
                if ![
                    "id: ", "ear: ", "cell: ", "tray: ", "test: ", "season: ", "format: ",
                ]
                .iter()
                .any(|name| before.ends_with(name))
                {
                    found.push((begin, at, &NUMBERS));
                }
            }
            _ => at += 1,
        }
    }
    found
}

fn at(dice: &mut Dice, length: usize) -> usize {
    ((dice.uniform() * length as f64) as usize).min(length.saturating_sub(1))
}

/// Puts odd values into a project, one after the other, and keeps those that break no rule.
fn odd(project: &Project, dice: &mut Dice, tries: u32) -> (Project, u32) {
    let (mut project, mut kept) = (project.clone(), 0);
    for _ in 0..tries {
        let text = format::write(&project).unwrap();
        let places = places(&text);
        let (begin, end, values) = places[at(dice, places.len())];
        let value = values[at(dice, values.len())];
        let changed = format!("{}{value}{}", &text[..begin], &text[end..]);
        if let Ok(changed) = format::read(changed.as_bytes())
            && changed.validate().is_empty()
        {
            project = changed;
            kept += 1;
        }
    }
    (project, kept)
}

/// Verbs, and what they write; `{}` stands for a name of its own.
const VERBS: [&str; 34] = [
    "check p.ron",
    "summary p.ron",
    "summary p.ron --json",
    "pedigree p.ron",
    "pedigree p.ron --json",
    "response p.ron",
    "response p.ron --json",
    "storage p.ron",
    "storage p.ron --json",
    "lookahead p.ron --seasons 2 --replicates 5",
    "lookahead p.ron --seasons 1 --replicates 2 --json",
    "log p.ron",
    "saves p.ron",
    "compare p.ron p.ron",
    "export p.ron --ears --out {}.csv",
    "export p.ron --ics --out {}.ics",
    "export p.ron --passport --out {}.csv",
    "export p.ron --out {}",
    "pack p.ron --out {}.zip",
    "print p.ron report --out {}.pdf",
    "print p.ron plot --out {}.svg",
    "print p.ron plot --likely --labels --out {}.png",
    "print p.ron curve --out {}.svg",
    "print p.ron frontier --out {}.pdf",
    "print p.ron pedigree --out {}.svg",
    "print p.ron labels --slips too --out {}.pdf",
    "print p.ron stakes --out {}.pdf",
    "print p.ron field-map --out {}.pdf",
    "print p.ron stand-sheet --out {}.pdf",
    "print p.ron planting-list --out {}.pdf",
    "print p.ron cull-list --out {}.pdf",
    "print p.ron packet-list --out {}.pdf",
    "print p.ron tray-map --out {}.pdf",
    "print p.ron score-sheet --out {}.pdf",
];

fn answers(folder: &Folder, line: &str) -> Ran {
    let ran = folder.run(line);
    assert!(
        [0, 1, 2].contains(&ran.code) && !ran.said.contains("panicked"),
        "'{line}' fails: {}\n{}",
        ran.said,
        folder.text("p.ron")
    );
    assert!(
        ran.code == 0 || !ran.said.trim().is_empty(),
        "'{line}' says nothing of why it did nothing"
    );
    ran
}

/// Runs every verb; gives how many did their work.
fn run_verbs(project: &Project) -> usize {
    let folder = Folder::with(&format::write(project).unwrap());
    let lines = VERBS.iter().enumerate();
    let done = lines
        .filter(|(number, line)| answers(&folder, &line.replace("{}", &format!("out{number}"))).code == 0);
    done.count()
}

/// Draws every pane, in each season.
fn draw_panes(project: &Project) {
    let document = Document::new(project.clone());
    let app = App::in_memory(document, || date(2026, 2, 10).at(19, 0, 0, 0));
    let mut window = common::harness([1280.0, 800.0], Theme::Light)
        // An odd text may have signs that no font of ours has.
        .allow_missing_glyphs()
        .build_eframe(|_| app);
    for pane in Pane::ALL {
        window.state_mut().show(pane);
        window.run_steps(3);
    }
}

fn starts() -> Vec<(&'static str, Project)> {
    vec![
        ("empty", Project::new(About::new("DEMO nothing", "odd-1"))),
        ("starter", demo::make("pocket-starter").unwrap()),
        ("filled", format::read(include_bytes!("data/filled.ron")).unwrap()),
    ]
}

#[test]
fn every_verb_answers_and_every_pane_is_drawn() {
    let rounds = std::env::var("WINTERCRIB_ODD")
        .ok()
        .and_then(|text| text.parse().ok());
    let rounds = rounds.unwrap_or(SHORT);
    let mut dice = Dice(rand_pcg::Pcg64::new(20_261_128, 7));
    for (name, start) in starts() {
        for round in 0..rounds {
            // The first is as it is.
            let tries = if round == 0 { 0 } else { 120 };
            let (project, kept) = odd(&start, &mut dice, tries);
            let done = run_verbs(&project);
            draw_panes(&project);
            println!(
                "{name} {round}: {kept} odd values, {done} verbs of {} did their work",
                VERBS.len()
            );
        }
    }
}

//! The README and the contributors' guide say what is so.
#![expect(clippy::unwrap_used, reason = "a helper fails its test by panicking")]

mod common;

use std::fs;
use std::path::{Path, PathBuf};

use egui::{Key, Theme};
use jiff::civil::date;
use wintercrib::demo;
use wintercrib::model::{About, Command, Document, Project, Stamp};
use wintercrib::store::project_file::{self, Opened};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;
use wintercrib::ui::dialogs::CAUTIONS;
use wintercrib::ui::user_actions::UserAction;

fn package() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn text_of(name: &str) -> String {
    fs::read_to_string(package().join(name)).unwrap()
}

/// The part of a text below the heading, down to the next heading of the same depth.
fn section<'a>(text: &'a str, heading: &str) -> &'a str {
    let begin = text
        .find(&format!("\n{heading}\n"))
        .unwrap_or_else(|| panic!("there is no heading '{heading}'"));
    let rest = &text[begin + heading.len() + 2..];
    let depth = heading.split(' ').next().unwrap();
    let end = rest.find(&format!("\n{depth} ")).unwrap_or(rest.len());
    &rest[..end]
}

/// What stands between single back quotes, code blocks left out.
fn quoted(text: &str) -> Vec<&str> {
    text.split("```")
        .step_by(2)
        .flat_map(|prose| prose.split('`').skip(1).step_by(2))
        .collect()
}

// ---- the README ------------------------------------------------------------------------------------------------

/// A line typed into a shell, and what comes back.
#[derive(Debug)]
struct Typed<'a> {
    command: &'a str,
    answer: String,
}

fn shell_lines(text: &str) -> Vec<Typed<'_>> {
    let mut found: Vec<Typed<'_>> = Vec::new();
    for block in text.split("```console\n").skip(1) {
        let block = block.split("```").next().unwrap();
        for line in block.lines() {
            match (line.strip_prefix("$ "), found.last_mut()) {
                (Some(command), _) => found.push(Typed {
                    command,
                    answer: String::new(),
                }),
                (None, Some(last)) => last.answer.extend([line, "\n"]),
                (None, None) => panic!("a block begins with an answer: {line}"),
            }
        }
    }
    found
}

#[test]
#[cfg(target_os = "linux")]
fn the_shell_lines_of_the_readme_answer_as_it_says() {
    let program = Path::new(env!("CARGO_BIN_EXE_wintercrib"));
    let folder = tempfile::tempdir().unwrap();
    let mut programs = vec![program.parent().unwrap().to_path_buf()];
    programs.extend(std::env::split_paths(&std::env::var_os("PATH").unwrap()));
    let readme = text_of("README.md");
    let lines = shell_lines(&readme);
    for verb in ["demo", "check", "summary", "import", "export", "print"] {
        let begin = format!("wintercrib {verb} ");
        assert!(
            lines.iter().any(|typed| typed.command.starts_with(&begin)),
            "the README shows no example of {verb}"
        );
    }
    for Typed { command, answer } in &lines {
        let ran = std::process::Command::new("sh")
            .args(["-c", command])
            .current_dir(folder.path())
            .env("PATH", std::env::join_paths(&programs).unwrap())
            .output()
            .unwrap();
        let said = String::from_utf8_lossy(&ran.stderr);
        // Tables end their lines as RFC 4180 says.
        let out = String::from_utf8_lossy(&ran.stdout).replace("\r\n", "\n");
        assert_eq!(out, *answer, "{command}\n{said}");
        assert!(ran.status.success() && said.is_empty(), "{command}\n{said}");
    }
}

#[test]
fn the_cautions_of_the_readme_are_those_of_the_window() {
    let readme = text_of("README.md");
    let written: Vec<&str> = section(&readme, "## Cautions")
        .lines()
        .filter(|line| !line.is_empty())
        .collect();
    let shown: Vec<String> = CAUTIONS
        .iter()
        .map(|(heading, text)| format!("- **{heading}.** {text}"))
        .collect();
    assert_eq!(written, shown);
}

#[test]
#[cfg(not(target_os = "macos"))]
fn the_keys_of_the_readme_are_those_of_the_window() {
    let readme = text_of("README.md");
    let mut rows = section(&readme, "## Keys")
        .lines()
        .filter(|line| line.starts_with("| ") && !line.starts_with("| key"));
    let ctx = egui::Context::default();
    for action in UserAction::all() {
        let Some(keys) = action.shortcut() else { continue };
        let row = format!(
            "| {} | {} |",
            ctx.format_shortcut(&keys),
            action.name().trim_end_matches('…')
        );
        assert_eq!(rows.next(), Some(row.as_str()));
    }
}

#[test]
fn the_packages_of_the_readme_are_those_of_the_gate() {
    let readme = text_of("README.md");
    let gate = text_of(".ci/run");
    let installed: Vec<&str> = gate.split_whitespace().collect();
    let part = section(&readme, "## What your computer needs");
    let wanted: Vec<&str> = part
        .split("apt install")
        .skip(1)
        .flat_map(|rest| rest.split('`').next().unwrap().split_whitespace())
        .filter(|word| *word != "\\")
        .collect();
    assert!(wanted.len() > 10, "the packages were not read");
    let strange: Vec<&&str> = wanted.iter().filter(|name| !installed.contains(name)).collect();
    assert!(strange.is_empty(), "the gate does without {strange:?}");
}

/// Changes a project that was just opened, and saves it.
fn change_and_save(opened: &mut Opened, year: i16) {
    let stamp = Stamp {
        at: date(2026, 11, 25).at(19, 0, 0, 0),
        by: "Grower A".to_owned(),
    };
    let command = Command::AddSeason { year, planted: None };
    opened.document.run(&command, &stamp).unwrap();
    let saved = opened.file.save_job(&mut opened.document).unwrap().run().unwrap();
    saved.tell(&mut opened.document);
}

fn years(opened: &Opened) -> Vec<i16> {
    let seasons = opened.document.project().seasons.iter();
    seasons.map(|season| season.year).collect()
}

#[test]
fn a_project_is_restored_as_the_readme_says() {
    let folder = tempfile::tempdir().unwrap();
    let place = |name: &str| folder.path().join(name);
    let project: Project = demo::make("pocket-starter").unwrap();
    let mut opened = project_file::create(&place("my-corn.ron"), project, "test").unwrap();
    change_and_save(&mut opened, 2026);
    change_and_save(&mut opened, 2027);
    drop(opened);
    // Only the project and its journal are taken along.
    for name in ["my-corn.ron", "my-corn.ron.journal"] {
        fs::copy(place(name), place(&name.replace("my-corn", "moved"))).unwrap();
    }
    let moved = project_file::open(&place("moved.ron"), "test").unwrap();
    assert_eq!(years(&moved), [2025, 2026, 2027]);
    assert_eq!(moved.document.undo_label(), Some("Begin season 2027"));
    // The file is lost: the copy beside it and the journal bring it back.
    fs::copy(place("my-corn.ron.bak"), place("my-corn.ron")).unwrap();
    let restored = project_file::open(&place("my-corn.ron"), "test").unwrap();
    assert_eq!(years(&restored), [2025, 2026, 2027], "{:?}", restored.notes);
    drop(restored);
    // Back to the save before the last on purpose.
    fs::rename(place("my-corn.ron.journal"), place("away")).unwrap();
    let earlier = project_file::open(&place("my-corn.ron"), "test").unwrap();
    assert_eq!(years(&earlier), [2025, 2026], "{:?}", earlier.notes);
}

/// Draws the picture anew after a wanted change of the pane: `cargo test --test docs -- --ignored`.
#[test]
#[ignore = "writes the picture of the README"]
fn make_the_picture_of_the_readme() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("essel-thaw.ron");
    drop(project_file::create(&path, demo::make("essel-thaw").unwrap(), "test").unwrap());
    let mut harness = common::harness([1280.0, 800.0], Theme::Light).build_eframe(|_creation| {
        let empty = Document::new(Project::new(About::new("Empty", "none")));
        let mut app = App::in_memory(empty, || date(2026, 2, 15).at(19, 0, 0, 0)).with_person("Grower A");
        assert!(app.open_path(&path));
        app.show(Pane::Selection);
        app
    });
    harness.run();
    // An ear is chosen, so that its interval is seen.
    for _ in 0..9 {
        harness.key_press(Key::N);
        harness.run();
    }
    let picture = harness.render().unwrap();
    picture.save(package().join("assets/selection.png")).unwrap();
}

// ---- the contributors' guide -----------------------------------------------------------------------------------

/// Whether a place of the code map is there: a folder, a file, or a module in either form.
fn is_there(path: &str) -> bool {
    package().join(path).exists() || package().join(format!("{path}.rs")).exists()
}

fn folders_below(folder: &Path, found: &mut Vec<PathBuf>) {
    for entry in fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            folders_below(&path, found);
            found.push(path);
        }
    }
}

#[test]
fn the_code_map_names_what_is_there_and_every_folder_of_the_source() {
    let guide = text_of("DEVELOPERS.md");
    let map = section(&guide, "## Code map");
    let named: Vec<&str> = quoted(map)
        .into_iter()
        .filter(|word| {
            ["src/", "tests/", "assets/", "demo-projects/", ".ci/"]
                .iter()
                .any(|top| word.starts_with(top))
        })
        .map(|word| word.trim_end_matches('/'))
        .collect();
    assert!(named.len() > 60, "the code map was not read");
    let lost: Vec<&&str> = named.iter().filter(|path| !is_there(path)).collect();
    assert!(lost.is_empty(), "the code map names what is not there: {lost:?}");
    let mut folders = Vec::new();
    folders_below(&package().join("src"), &mut folders);
    let missing: Vec<String> = folders
        .iter()
        .map(|folder| {
            folder
                .strip_prefix(package())
                .unwrap()
                .to_str()
                .unwrap()
                .replace('\\', "/")
        })
        .filter(|folder| !named.contains(&folder.as_str()))
        .collect();
    assert!(
        missing.is_empty(),
        "the code map does not name these folders: {missing:?}"
    );
}

#[test]
fn every_invariant_names_a_test_that_is_there() {
    let guide = text_of("DEVELOPERS.md");
    let part = section(&guide, "## Invariants");
    let items: Vec<&str> = part.trim().split("\n\n").collect();
    assert!(items.len() >= 15, "the invariants were not read");
    for (number, item) in (1..).zip(items) {
        assert!(
            item.starts_with(&format!("{number}. ")),
            "number {number}: {item}"
        );
        let (_, tests) = item
            .split_once("Test: ")
            .unwrap_or_else(|| panic!("no test is named: {item}"));
        let mut file = String::new();
        let mut checked = 0;
        for word in quoted(tests) {
            if Path::new(word).extension().is_some_and(|ending| ending == "rs") {
                file = text_of(word);
            } else {
                assert!(
                    file.contains(&format!("fn {word}(")),
                    "no such test: {word}, in {item}"
                );
                checked += 1;
            }
        }
        assert!(checked > 0, "no test is named: {item}");
    }
}

#[test]
fn links_lead_to_files_that_are_there() {
    for name in ["README.md", "DEVELOPERS.md"] {
        let text = text_of(name);
        let links: Vec<&str> = text
            .split("](")
            .skip(1)
            .map(|rest| rest.split([')', '#']).next().unwrap())
            .filter(|link| !link.is_empty() && !link.starts_with("http"))
            .collect();
        assert!(!links.is_empty(), "{name} has no links");
        for link in links {
            assert!(
                package().join(link).exists(),
                "{name} links to {link}, which is not there"
            );
        }
    }
}

//! Reads the sources and fails when a door is used backwards, when a pure room reaches for the outside, or when
//! something lies where it should not.
#![expect(
    clippy::unwrap_used,
    reason = "a check that cannot read the sources fails by panicking"
)]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// A room, and the rooms that it may use.
struct Room {
    name: &'static str,
    /// No window, no files, no clock, no threads, no global randomness.
    pure: bool,
    uses: &'static [&'static str],
}

/// `stats <- genetics; stats, layout <- model <- insight, exchange, demo <- store, photo, jobs <- ui <- main, cli`.
const ROOMS: &[Room] = &[
    Room {
        name: "stats",
        pure: true,
        uses: &[],
    },
    Room {
        name: "genetics",
        pure: true,
        uses: &["stats"],
    },
    Room {
        name: "layout",
        pure: true,
        uses: &[],
    },
    Room {
        name: "model",
        pure: true,
        uses: &["stats", "genetics", "layout"],
    },
    Room {
        name: "insight",
        pure: true,
        uses: &["stats", "genetics", "layout", "model"],
    },
    Room {
        name: "exchange",
        pure: true,
        uses: &["stats", "genetics", "layout", "model", "insight"],
    },
    Room {
        name: "demo",
        pure: true,
        uses: &["stats", "genetics", "layout", "model", "insight"],
    },
    Room {
        name: "store",
        pure: false,
        uses: BELOW_EFFECTS,
    },
    Room {
        name: "photo",
        pure: false,
        uses: BELOW_EFFECTS,
    },
    Room {
        name: "jobs",
        pure: false,
        uses: BELOW_EFFECTS,
    },
    Room {
        name: "ui",
        pure: false,
        uses: BELOW_UI,
    },
    Room {
        name: "cli",
        pure: false,
        uses: BELOW_MAIN,
    },
    Room {
        name: "main",
        pure: false,
        uses: BELOW_MAIN,
    },
];

const BELOW_EFFECTS: &[&str] = &[
    "stats", "genetics", "layout", "model", "insight", "exchange", "demo",
];
const BELOW_UI: &[&str] = &[
    "stats", "genetics", "layout", "model", "insight", "exchange", "demo", "store", "photo", "jobs",
];
const BELOW_MAIN: &[&str] = &[
    "stats", "genetics", "layout", "model", "insight", "exchange", "demo", "store", "photo", "jobs", "ui",
    "cli",
];

/// What a pure room must not name, as a path or as the beginning of one.
const OUTSIDE: &[&str] = &[
    "egui",
    "eframe",
    "egui_extras",
    "egui_plot",
    "rfd",
    "tempfile",
    "std::fs",
    "std::thread",
    "std::env",
    "std::process",
    "std::net",
    "std::io::stdin",
    "std::io::stdout",
    "std::io::stderr",
    "std::time::Instant",
    "std::time::SystemTime",
    "rand::rng",
    "rand::random",
    "rand::thread_rng",
];

/// What a pure room must not call, under whatever name it was brought in: the clock and global randomness.
const CALLS: &[&str] = &[
    "Instant::now",
    "SystemTime::now",
    "Timestamp::now",
    "ZonedDateTime::now",
    "Zoned::now",
    "TimeZone::system",
    "thread_rng",
    "from_os_rng",
    "from_entropy",
    "getrandom",
];

/// The only names at the top of the package that show.
const TOP: &[&str] = &[
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE",
    "src",
    "assets",
    "tests",
    "demo-projects",
    // What building leaves; never committed.
    "target",
];

/// Source text without comments and without what stands in quotes; every line keeps its number.
fn bare(source: &str) -> String {
    let mut out = String::with_capacity(source.len());
    let mut rest = source;
    while let Some(first) = rest.chars().next() {
        let taken = match first {
            '/' if rest.starts_with("//") => rest.find('\n').unwrap_or(rest.len()),
            '/' if rest.starts_with("/*") => comment_length(rest),
            '"' => string_length(rest),
            'r' | 'b' if !ends_in_a_word(&out) => raw_string_length(rest),
            '\'' => char_length(rest),
            _ => 0,
        };
        if taken == 0 {
            out.push(first);
            rest = &rest[first.len_utf8()..];
            continue;
        }
        out.extend(rest[..taken].chars().filter(|letter| *letter == '\n'));
        // What was taken out parts the words beside it.
        out.push(' ');
        rest = &rest[taken..];
    }
    out
}

fn ends_in_a_word(text: &str) -> bool {
    text.ends_with(is_of_word)
}

fn is_of_word(letter: char) -> bool {
    letter.is_alphanumeric() || letter == '_'
}

fn comment_length(text: &str) -> usize {
    let (mut depth, mut at) = (0_usize, 0);
    while at < text.len() {
        if text[at..].starts_with("/*") {
            depth += 1;
            at += 2;
        } else if text[at..].starts_with("*/") {
            depth -= 1;
            at += 2;
            if depth == 0 {
                return at;
            }
        } else {
            at += text[at..].chars().next().map_or(1, char::len_utf8);
        }
    }
    text.len()
}

/// The length of a text in quotes that begins here.
fn string_length(text: &str) -> usize {
    let mut escaped = false;
    for (at, letter) in text.char_indices().skip(1) {
        match letter {
            _ if escaped => escaped = false,
            '\\' => escaped = true,
            '"' => return at + 1,
            _ => {}
        }
    }
    text.len()
}

/// The length of a raw, byte or raw byte string that begins here; 0 when none does.
fn raw_string_length(text: &str) -> usize {
    let begin = text.strip_prefix('b').unwrap_or(text);
    let lead = text.len() - begin.len();
    let Some(raw) = begin.strip_prefix('r') else {
        return if lead == 1 && begin.starts_with('"') {
            lead + string_length(begin)
        } else {
            0
        };
    };
    let hashes = raw.len() - raw.trim_start_matches('#').len();
    if !raw[hashes..].starts_with('"') {
        return 0;
    }
    let end = format!("\"{}", "#".repeat(hashes));
    let body = lead + 1 + hashes + 1;
    text[body..]
        .find(&end)
        .map_or(text.len(), |at| body + at + end.len())
}

/// The length of a character in quotes that begins here; 0 for a lifetime.
fn char_length(text: &str) -> usize {
    let mut letters = text.char_indices().skip(1);
    match letters.next() {
        Some((_, '\\')) => text[2..]
            .char_indices()
            .skip(1)
            .find(|(_, letter)| *letter == '\'')
            .map_or(0, |(at, _)| at + 3),
        Some(_) => match letters.next() {
            Some((at, '\'')) => at + 1,
            _ => 0,
        },
        None => 0,
    }
}

/// A path that a source names, and the line on which it stands, from 1.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Named {
    line: usize,
    path: String,
}

/// All paths that a source names, those in `use` trees written out in full.
fn paths(source: &str) -> Vec<Named> {
    let text = bare(source);
    let mut found = Vec::new();
    let mut at = 0;
    let mut line = 1;
    let is_path = |letter: char| is_of_word(letter) || letter == ':';
    while let Some(first) = text[at..].chars().next() {
        if is_of_word(first) {
            let length = text[at..]
                .find(|letter| !is_path(letter))
                .unwrap_or(text.len() - at);
            let word = &text[at..at + length];
            let after = &text[at + length..];
            if word == "use" {
                let end = after.find(';').unwrap_or(after.len());
                let mut tree = Vec::new();
                unfold("", &after[..end], &mut tree);
                found.extend(tree.into_iter().map(|path| Named { line, path }));
                line += after[..end].matches('\n').count();
                at += length + end;
                continue;
            }
            let mark = if after.starts_with('!') { "!" } else { "" };
            found.push(Named {
                line,
                path: format!("{word}{mark}"),
            });
            at += length;
        } else {
            line += usize::from(first == '\n');
            at += first.len_utf8();
        }
    }
    found
}

/// Writes out a `use` tree: `a::{b, c::d as e}` is `a::b` and `a::c::d`.
fn unfold(before: &str, tree: &str, found: &mut Vec<String>) {
    let tree = tree.trim();
    let join = |name: &str| match (before, name) {
        ("", name) => name.to_owned(),
        (before, "self" | "") => before.to_owned(),
        (before, name) => format!("{before}::{name}"),
    };
    let Some(open) = tree.find('{') else {
        let name = tree.split_whitespace().next().unwrap_or_default();
        found.push(join(name.trim_start_matches("::")));
        return;
    };
    let head = join(tree[..open].trim().trim_end_matches("::"));
    let inner = tree[open + 1..].strip_suffix('}').unwrap_or(&tree[open + 1..]);
    let (mut depth, mut begin) = (0_i32, 0);
    for (at, letter) in inner.char_indices() {
        match letter {
            '{' => depth += 1,
            '}' => depth -= 1,
            ',' if depth == 0 => {
                unfold(&head, &inner[begin..at], found);
                begin = at + 1;
            }
            _ => {}
        }
    }
    if !inner[begin..].trim().is_empty() {
        unfold(&head, &inner[begin..], found);
    }
}

/// The names of the rooms that a file's paths lead to. `depth` says how many rooms up `super` leaves the room:
/// 1 in `src/ROOM.rs` and `src/ROOM/mod.rs`, 2 in `src/ROOM/part.rs`.
fn rooms_named(paths: &[Named], depth: usize) -> Vec<(usize, &str)> {
    let mut found = Vec::new();
    for Named { line, path } in paths {
        let mut parts = path.split("::").filter(|part| !part.is_empty());
        let first = parts.next().unwrap_or_default();
        let room = match first {
            "crate" | "wintercrib" => parts.next(),
            "super" => {
                let mut ups = 1;
                let mut next = parts.next();
                while next == Some("super") {
                    ups += 1;
                    next = parts.next();
                }
                // Inside a module within a file `super` stays nearer, so this may see too much, never too little.
                (ups >= depth).then_some(next).flatten()
            }
            _ => None,
        };
        if let Some(room) = room {
            found.push((*line, room.trim_end_matches('!')));
        }
    }
    found
}

/// What is wrong in one source file of a room.
fn faults(room: &Room, depth: usize, source: &str) -> Vec<String> {
    let mut faults = Vec::new();
    let paths = paths(source);
    for (line, named) in rooms_named(&paths, depth) {
        let is_room = ROOMS.iter().any(|known| known.name == named);
        if is_room && named != room.name && !room.uses.contains(&named) {
            faults.push(format!("line {line}: {} must not use {named}", room.name));
        }
    }
    for Named { line, path } in &paths {
        if matches!(path.as_str(), "todo!" | "dbg!" | "unimplemented!") {
            faults.push(format!("line {line}: {path} is left over"));
        }
        if room.pure && (is_outside(path) || is_forbidden_call(path)) {
            faults.push(format!(
                "line {line}: {} is pure and must not name {path}",
                room.name
            ));
        }
    }
    faults.dedup();
    faults
}

fn is_outside(path: &str) -> bool {
    let path = path.trim_end_matches('!');
    OUTSIDE.iter().any(|outside| {
        path.strip_prefix(outside)
            .is_some_and(|rest| rest.is_empty() || rest.starts_with("::"))
    })
}

fn is_forbidden_call(path: &str) -> bool {
    CALLS
        .iter()
        .any(|call| path == *call || path.ends_with(&format!("::{call}")))
}

/// Absolute paths into somebody's home, written anywhere in a text.
fn home_paths(text: &str) -> Vec<String> {
    // Put together here so that this file does not find itself.
    let homes = ["home", "Users", "root"].map(|home| format!("/{home}/"));
    let mut found = Vec::new();
    for (number, line) in text.lines().enumerate() {
        let names_one = homes.iter().any(|home| {
            line.match_indices(home.as_str()).any(|(at, _)| {
                let before = line[..at].chars().next_back();
                !before.is_some_and(|letter| is_of_word(letter) || ".-/".contains(letter))
            })
        });
        if names_one {
            found.push(format!("line {}: an absolute path into a home", number + 1));
        }
    }
    found
}

fn package() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn files_under(folder: &Path, ending: &str) -> Vec<PathBuf> {
    let mut found = Vec::new();
    let Ok(entries) = fs::read_dir(folder) else {
        return found;
    };
    for entry in entries {
        let path = entry.unwrap().path();
        if path.is_dir() {
            found.extend(files_under(&path, ending));
        } else if path.extension().is_some_and(|own| own == ending) {
            found.push(path);
        }
    }
    found.sort();
    found
}

/// The room of a file below `src`, and the depth for [`rooms_named`].
fn room_of(path: &Path) -> Option<(&'static Room, usize)> {
    let parts: Vec<&str> = path
        .strip_prefix(package().join("src"))
        .ok()?
        .iter()
        .map(|part| part.to_str().unwrap())
        .collect();
    let name = parts.first()?.trim_end_matches(".rs");
    let room = ROOMS.iter().find(|room| room.name == name)?;
    let depth = if parts.last() == Some(&"mod.rs") {
        parts.len() - 1
    } else {
        parts.len()
    };
    Some((room, depth.max(1)))
}

#[test]
fn doors_open_one_way_and_pure_rooms_stay_pure() {
    let sources = files_under(&package().join("src"), "rs");
    assert!(sources.len() > 30, "the sources were not found");
    let mut all = Vec::new();
    let mut seen = BTreeSet::new();
    for path in &sources {
        if path.ends_with("src/lib.rs") {
            continue;
        }
        let (room, depth) =
            room_of(path).unwrap_or_else(|| panic!("{} is in no known room: name it here", path.display()));
        seen.insert(room.name);
        let source = fs::read_to_string(path).unwrap();
        all.extend(
            faults(room, depth, &source)
                .iter()
                .map(|fault| format!("{}: {fault}", path.display())),
        );
    }
    assert!(all.is_empty(), "\n{}", all.join("\n"));
    for needed in [
        "stats", "layout", "model", "insight", "exchange", "store", "jobs", "ui", "cli", "main",
    ] {
        assert!(seen.contains(needed), "the room {needed} was not read");
    }
}

#[test]
fn nothing_else_shows_at_the_top() {
    let mut strange = Vec::new();
    for entry in fs::read_dir(package()).unwrap() {
        let name = entry.unwrap().file_name().into_string().unwrap();
        if !name.starts_with('.') && !TOP.contains(&name.as_str()) {
            strange.push(name);
        }
    }
    assert!(
        strange.is_empty(),
        "these lie at the top of the package but do not belong there: {strange:?}"
    );
}

#[test]
fn nobody_s_home_is_written_down() {
    let mut all = Vec::new();
    let folders = ["src", "tests", "assets", "demo-projects", ".ci"];
    let endings = ["rs", "ron", "toml", "json", "md", "csv", "py", "sh"];
    let mut files: Vec<PathBuf> = folders
        .iter()
        .flat_map(|folder| {
            endings
                .iter()
                .flat_map(move |ending| files_under(&package().join(folder), ending))
        })
        .collect();
    files.extend([".ci/run", "README.md", "DEVELOPERS.md", "Cargo.toml"].map(|name| package().join(name)));
    let mut read = 0;
    for path in files.iter().filter(|path| path.is_file()) {
        let text = fs::read_to_string(path).unwrap();
        read += 1;
        all.extend(
            home_paths(&text)
                .iter()
                .map(|fault| format!("{}: {fault}", path.display())),
        );
    }
    assert!(read > 40, "the files were not found");
    assert!(all.is_empty(), "\n{}", all.join("\n"));
}

// ---- a check that cannot fail is no check --------------------------------------------------------------------

fn room(name: &str) -> &'static Room {
    ROOMS.iter().find(|room| room.name == name).unwrap()
}

fn count(name: &str, depth: usize, source: &str) -> usize {
    faults(room(name), depth, source).len()
}

#[test]
fn a_door_used_backwards_is_found_in_every_way_of_writing_it() {
    for source in [
        "use crate::ui::App;",
        "use crate::{model::Ear, ui};",
        "use crate::{\n    model::{Ear, Row},\n    ui::{self, App},\n};",
        "pub(crate) use crate::ui as window;",
        "fn f() { crate::ui::run(); }",
        "fn f(app: &crate::ui::App) {}",
        "use super::super::ui;",
        "use super::super::{ui::App, model};",
        "use wintercrib::ui;",
    ] {
        assert_eq!(count("store", 2, source), 1, "{source}");
    }
    assert_eq!(
        count("stats", 1, "use super::model::Ear;"),
        1,
        "one level up leaves a room of one file"
    );
    assert_eq!(count("model", 2, "use crate::insight;\nuse crate::store;\n"), 2);
    assert_eq!(count("exchange", 2, "use crate::store;"), 1);
    assert_eq!(count("ui", 3, "use crate::cli;"), 1);
    assert_eq!(count("layout", 2, "use crate::model::Ear;"), 1);
    assert_eq!(
        faults(room("model"), 2, "\n\nuse crate::ui;"),
        ["line 3: model must not use ui"]
    );
}

#[test]
fn doors_used_forwards_and_mere_words_are_not_found() {
    for source in [
        "use crate::model::{Ear, Row};",
        "use super::atomic;\nuse super::super::model;",
        "// use crate::ui;",
        "/* crate::ui /* within */ crate::ui */",
        "/// See [`crate::ui`].\nfn f() {}",
        "const TEXT: &str = \"crate::ui \\\" crate::ui\";",
        "const TEXT: &str = r#\"crate::ui \" crate::ui\"#;",
        "fn f<'a>(x: &'a str) -> char { '\"' }\n// \" crate::ui",
        "fn f() -> char { '\\'' }",
        "fn ui() {}",
        "use ron::ui;",
    ] {
        assert_eq!(faults(room("store"), 2, source), Vec::<String>::new(), "{source}");
    }
    assert_eq!(count("ui", 2, "use crate::store;\nuse crate::jobs::Worker;"), 0);
    assert_eq!(count("cli", 2, "use super::print;\nuse wintercrib::store;"), 0);
}

#[test]
fn the_outside_is_found_in_pure_rooms_only() {
    for source in [
        "use egui::Ui;",
        "use std::fs;",
        "use std::{collections::BTreeMap, fs::File};",
        "fn f() { std::thread::spawn(|| ()); }",
        "use std::time::{Duration, Instant};",
        "use std::env::var;",
        "fn f() { let now = ZonedDateTime::now(); }",
        "fn f() { jiff::Timestamp::now(); }",
        "fn f() { let x = rand::rng(); }",
        "use rfd;",
    ] {
        assert_eq!(count("model", 2, source), 1, "{source}");
        assert_eq!(count("ui", 2, source), 0, "{source}");
    }
    for source in [
        "use std::time::Duration;",
        "use std::fmt;",
        "fn f() { env!(\"X\"); }",
        "use egui_like::x;",
    ] {
        assert_eq!(count("model", 2, source), 0, "{source}");
    }
}

#[test]
fn what_is_left_over_is_found() {
    // Put together here so that the house lints do not see it.
    let left = |name: &str| format!("fn f() {{ {name}!(); }}");
    for name in ["todo", "dbg", "unimplemented"] {
        assert_eq!(count("ui", 2, &left(name)), 1, "{name}");
    }
    assert_eq!(count("ui", 2, "fn todo() {}"), 0);
    assert_eq!(home_paths(&["x = \"", "/home", "/ann/x\""].concat()).len(), 1);
    assert_eq!(home_paths(&["see file:", "/Users", "/ann"].concat()).len(), 1);
    assert_eq!(home_paths("https://example.org/home/ann and src/home/x").len(), 0);
}

/// What speaks a protocol of the network, as the gate's list of refused packages names it.
fn network_packages() -> Vec<String> {
    let list = fs::read_to_string(package().join(".deny.toml")).unwrap();
    let names: Vec<String> = list
        .lines()
        .filter_map(|line| {
            line.trim()
                .strip_prefix("{ name = \"")?
                .split('"')
                .next()
                .map(str::to_owned)
        })
        .collect();
    assert!(names.len() > 10, "{names:?}");
    names
}

#[test]
fn nothing_goes_to_the_network() {
    let refused = network_packages();
    let lock = fs::read_to_string(package().join("Cargo.lock")).unwrap();
    let packages: Vec<&str> = lock
        .lines()
        .filter_map(|line| line.strip_prefix("name = \"")?.strip_suffix('"'))
        .collect();
    assert!(packages.contains(&"eframe"), "the list of packages is read");
    let found: Vec<&&str> = packages
        .iter()
        .filter(|name| refused.iter().any(|one| one == *name))
        .collect();
    assert!(found.is_empty(), "these speak to the network: {found:?}");
    for path in files_under(&package().join("src"), "rs") {
        let text = fs::read_to_string(&path).unwrap();
        for word in ["std::net", "TcpStream", "UdpSocket", "ToSocketAddrs"] {
            assert!(!text.contains(word), "{} has '{word}'", path.display());
        }
    }
}

//! Hostile files at every door: the seeds in `corpus` and very many changed ones, the same in every run.
//!
//! A short run is part of all tests. Longer ones: `WINTERCRIB_FUZZ_SECONDS=600 cargo test --release --test fuzz -- --nocapture`
//! gives each door so many seconds. An input that makes a door fail is written to the folder for temporary files and named;
//! put it into the corpus under a name that says what it is, and mend the door.
#![expect(clippy::unwrap_used, reason = "a test's helper fails the test by panicking")]

#[path = "../dice/mod.rs"]
mod dice;
mod targets;

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use dice::Dice;
use targets::TARGETS;

/// So many changed inputs each door gets in a short run.
const SHORT: u64 = 300;
/// Inputs grow to this size at most, in bytes.
const LARGEST: usize = 64 * 1024;

/// Pieces that files are made of, and what hostile ones put in their place.
const PIECES: [&[u8]; 48] = [
    b"0",
    b"-1",
    b"99999999999999999999",
    b"4294967296",
    b"1e999",
    b"NaN",
    b"inf",
    b"-inf",
    b"0.1",
    b"1,5",
    b"0000-00-00",
    b"0000-01-01",
    b"9999-12-31",
    b"2026-02-30",
    b"-2026-02-03",
    b"31/12/2026",
    b"12/31/26 24:00",
    b"\"",
    b"\"\"",
    b"'",
    b",",
    b";",
    b"\t",
    b"\r\n",
    b"\n",
    b"(",
    b")",
    b"[",
    b"]",
    b"{",
    b"}",
    b"Some(",
    b"None",
    b"=1+1",
    b"@SUM(A1)",
    b"../",
    b"..\\",
    b"C:",
    b"CON",
    b"\0",
    b"\xEF\xBB\xBF",
    b"\xFF\xFE",
    b"\xC3\x28",
    b"\xE2\x80\xAE",
    b"\xF0\x9F\x8C\xBD",
    b"((((((((((((((((",
    b"[[[[[[[[[[[[[[[[",
    b"id: 4294967295",
];

fn at(dice: &mut Dice, length: usize) -> usize {
    ((dice.uniform() * (length + 1) as f64) as usize).min(length)
}

/// Changes an input in one of ten ways.
fn change(bytes: &mut Vec<u8>, dice: &mut Dice, other: &[u8]) {
    let from = at(dice, bytes.len());
    let to = (from + 1 + at(dice, 40)).min(bytes.len());
    match (dice.uniform() * 10.0) as u32 {
        0 if from < bytes.len() => bytes[from] ^= 1 << ((dice.uniform() * 8.0) as u32),
        1 if from < bytes.len() => bytes[from] = (dice.uniform() * 256.0) as u8,
        2 => drop(bytes.drain(from.min(to)..to)),
        3 => {
            let part = bytes[from.min(to)..to].to_vec();
            bytes.splice(from..from, part);
        }
        4 => bytes.truncate(from),
        5 => {
            let begin = at(dice, other.len());
            let end = (begin + 1 + at(dice, 200)).min(other.len());
            bytes.splice(from..from, other[begin.min(end)..end].to_vec());
        }
        6 => {
            let piece = PIECES[at(dice, PIECES.len() - 1)];
            bytes.splice(from.min(to)..to, piece.to_vec());
        }
        7 => {
            // A number in place of another.
            let digits = bytes.iter().enumerate().filter(|(_, byte)| byte.is_ascii_digit());
            let digits: Vec<usize> = digits.map(|(place, _)| place).collect();
            if let Some(place) = digits.get(at(dice, digits.len())) {
                let piece = PIECES[at(dice, 15)];
                bytes.splice(*place..=*place, piece.to_vec());
            }
        }
        8 => {
            let times = 1 << at(dice, 10);
            let part = bytes[from.min(to)..to].repeat(times);
            bytes.splice(from..from, part);
        }
        _ => {
            let piece = PIECES[at(dice, PIECES.len() - 1)];
            bytes.splice(from..from, piece.to_vec());
        }
    }
    bytes.truncate(LARGEST);
}

fn corpus(name: &str) -> Vec<(PathBuf, Vec<u8>)> {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"))
        .join("tests/fuzz/corpus")
        .join(name);
    let mut files: Vec<PathBuf> = std::fs::read_dir(&folder)
        .unwrap_or_else(|error| panic!("{}: {error}", folder.display()))
        .map(|entry| entry.unwrap().path())
        .collect();
    files.sort();
    files
        .into_iter()
        .map(|path| {
            let bytes = std::fs::read(&path).unwrap();
            (path, bytes)
        })
        .collect()
}

/// Hands an input to a door; one that makes it fail is kept.
fn hand_in(name: &str, door: fn(&[u8]), bytes: &[u8], what: &str) {
    let outcome = std::panic::catch_unwind(|| door(bytes));
    if outcome.is_err() {
        let kept = std::env::temp_dir().join(format!("wintercrib-{name}-failed"));
        std::io::Write::write_all(&mut std::fs::File::create(&kept).unwrap(), bytes).unwrap();
        panic!(
            "the door '{name}' fails on {what}, which is kept as {}",
            kept.display()
        );
    }
}

/// Hands in the corpus, and then changed inputs until the time is over or enough were tried.
fn try_door(name: &str, door: fn(&[u8])) {
    let corpus = corpus(name);
    assert!(!corpus.is_empty());
    for (path, bytes) in &corpus {
        hand_in(name, door, bytes, &path.display().to_string());
    }
    let seconds = std::env::var("WINTERCRIB_FUZZ_SECONDS")
        .ok()
        .and_then(|text| text.parse().ok());
    let begin = Instant::now();
    let goes_on = |tried: u64| match seconds {
        Some(seconds) => begin.elapsed() < Duration::from_secs(seconds),
        None => tried < SHORT,
    };
    let mut dice = Dice(rand_pcg::Pcg64::new(20_261_128, u128::from(name.as_bytes()[0])));
    let mut tried = 0;
    while goes_on(tried) {
        let mut bytes = corpus[at(&mut dice, corpus.len() - 1)].1.clone();
        let other = &corpus[at(&mut dice, corpus.len() - 1)].1;
        for _ in 0..=at(&mut dice, 5) {
            change(&mut bytes, &mut dice, other);
        }
        hand_in(name, door, &bytes, &format!("input {tried}"));
        tried += 1;
    }
    println!(
        "{name}: {} seeds and {tried} changed inputs in {:?}",
        corpus.len(),
        begin.elapsed()
    );
}

fn door(name: &str) -> fn(&[u8]) {
    TARGETS.iter().find(|(target, _)| *target == name).unwrap().1
}

#[test]
fn project() {
    try_door("project", door("project"));
}

#[test]
fn version() {
    try_door("version", door("version"));
}

#[test]
fn journal() {
    try_door("journal", door("journal"));
}

#[test]
fn ears() {
    try_door("ears", door("ears"));
}

#[test]
fn counts() {
    try_door("counts", door("counts"));
}

#[test]
fn temperature() {
    try_door("temperature", door("temperature"));
}

#[test]
fn weather() {
    try_door("weather", door("weather"));
}

#[test]
fn package() {
    try_door("package", door("package"));
}

#[test]
fn zip() {
    try_door("zip", door("zip"));
}

#[test]
fn photo() {
    try_door("photo", door("photo"));
}

#[test]
fn every_door_has_a_corpus() {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/fuzz/corpus");
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    let mut doors: Vec<&str> = TARGETS.iter().map(|(name, _)| *name).collect();
    doors.sort_unstable();
    assert_eq!(names, doors);
}

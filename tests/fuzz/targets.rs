//! What is done with bytes that nobody has looked at: each door by which a file comes in. None may panic, take memory
//! without bound, or give a project that breaks rules without saying so.

use std::path::Path;
use std::sync::LazyLock;

use wintercrib::demo;
use wintercrib::exchange::data_package::{self, Files};
use wintercrib::exchange::table_text::{RowProblem, read_table};
use wintercrib::exchange::temperature_csv::{Answers, DateForm, TemperatureFile};
use wintercrib::exchange::weather_csv::{WeatherAnswers, WeatherFile};
use wintercrib::exchange::{counts_csv, ears_csv};
use wintercrib::model::{
    Command, DateOrder, Document, Existing, Project, RowSource, Side, Stamp, TemperatureUnit,
    compare_versions,
};
use wintercrib::photo::{Limits, decode, without_metadata};
use wintercrib::store::{digest_hex, format, history, packed, project_file};

/// A door, by its name.
pub type Target = (&'static str, fn(&[u8]));

/// All doors.
pub const TARGETS: [Target; 10] = [
    ("project", project),
    ("version", version),
    ("journal", journal),
    ("ears", ears),
    ("counts", counts),
    ("temperature", temperature),
    ("weather", weather),
    ("package", package),
    ("zip", zip),
    ("photo", photo),
];

/// The project that files are read into, and the files of its package.
static STARTER: LazyLock<(Document, Files)> = LazyLock::new(|| {
    let project = demo::make("pocket-starter").expect("the demo is there");
    let files = data_package::write(&project).expect("the demo has a package");
    (Document::new(project), files)
});

fn stamp() -> Stamp {
    Stamp {
        at: jiff::civil::date(2026, 2, 10).at(19, 0, 0, 0),
        by: "Grower A".to_owned(),
    }
}

/// A project that was read is sound, or its faults are named; one that is sound is written and read again.
fn is_whole(project: &Project) {
    let problems = project.validate();
    for problem in &problems {
        is_told(&problem.to_string());
    }
    if problems.is_empty() {
        let text = format::write(project).expect("what was read can be written");
        assert!(
            format::read(text.as_bytes()).as_ref() == Ok(project),
            "it comes back equal"
        );
    }
}

/// What is said of a fault is a sentence or two that somebody can read, whatever was in the file.
fn is_told(what: &str) {
    let length = what.chars().count();
    assert!((1..2_000).contains(&length), "{length} characters: {what}");
}

fn project(bytes: &[u8]) {
    match format::read(bytes) {
        Ok(project) => is_whole(&project),
        Err(fault) => is_told(&fault.to_string()),
    }
}

/// The bytes as another version of a project, of which all is taken over: once with a history, once without.
fn version(bytes: &[u8]) {
    let Ok(there) = format::read(bytes) else { return };
    if !there.validate().is_empty() {
        return;
    }
    let mut older = STARTER.0.clone();
    let season = older.project().latest_season().expect("the demo has a season").id;
    let added = Command::AddRow {
        season,
        label: "of late".to_owned(),
        source: RowSource::Unknown,
    };
    older.run(&added, &stamp()).expect("a row can be added");
    for ours in [&STARTER.0, &older] {
        let Ok(found) = compare_versions(ours, &there) else {
            return;
        };
        assert!(!found.parting_sentence().is_empty());
        for side in [Side::Ours, Side::Theirs] {
            let command = Command::TakeVersion {
                changes: found.changes(&vec![side; found.differences.len()]),
                label: found.summary(),
            };
            let mut document = ours.clone();
            match document.run(&command, &stamp()) {
                Ok(_) => is_whole(document.project()),
                Err(problem) => {
                    is_told(&problem.to_string());
                    assert!(document.project() == ours.project(), "nothing is taken");
                }
            }
        }
    }
}

/// The bytes as the journal beside a project that is sound, as they are and with checksums that fit.
fn journal(bytes: &[u8]) {
    let mut signed = Vec::new();
    for line in bytes.split(|byte| *byte == b'\n').filter(|line| !line.is_empty()) {
        let payload = line.splitn(2, |byte| *byte == b' ').last().unwrap_or(line);
        signed.extend(&digest_hex(payload).as_bytes()[..8]);
        signed.push(b' ');
        signed.extend(payload);
        signed.push(b'\n');
    }
    open_beside(bytes);
    open_beside(&signed);
}

fn open_beside(bytes: &[u8]) {
    for line in bytes.split_inclusive(|byte| *byte == b'\n') {
        if let Err(why) = history::change_in(line) {
            is_told(&why);
        }
    }
    let folder = tempfile::tempdir().expect("a folder");
    let path = folder.path().join("crib.ron");
    put(
        &path,
        format::write(STARTER.0.project())
            .expect("the demo can be written")
            .as_bytes(),
    );
    put(&folder.path().join("crib.ron.journal"), bytes);
    let opened = project_file::read(&path).expect("a journal never keeps a sound project from opening");
    assert_eq!(opened.problems, []);
    is_whole(opened.document.project());
}

fn are_told(problems: &[RowProblem]) {
    for problem in problems {
        is_told(&problem.to_string());
    }
}

/// Carries out what a table asks for; it is taken or refused, and the project stays sound.
fn carry_out(command: &Command) {
    let mut document = STARTER.0.clone();
    match document.run(command, &stamp()) {
        Ok(_) => is_whole(document.project()),
        Err(problem) => {
            is_told(&problem.to_string());
            assert!(
                document.project() == STARTER.0.project(),
                "a refused command changes nothing"
            );
        }
    }
}

fn ears(bytes: &[u8]) {
    let table = match read_table(bytes) {
        Ok(table) => table,
        Err(fault) => return is_told(&fault.to_string()),
    };
    let project = STARTER.0.project();
    let season = project.latest_season().expect("the demo has a season").id;
    for existing in [Existing::Refuse, Existing::Update] {
        let mut columns = ears_csv::match_columns(&table, project);
        columns.existing = existing;
        columns.dates = DateOrder::DayFirst;
        let (drafts, problems) = ears_csv::drafts(&table, &columns, project, season);
        are_told(&problems);
        carry_out(&Command::AddEars {
            season,
            drafts: drafts.into_iter().map(|(_, draft)| draft).collect(),
            existing,
        });
    }
}

fn counts(bytes: &[u8]) {
    let Ok(table) = read_table(bytes) else { return };
    let project = STARTER.0.project();
    let test = project.tests.iter().next().expect("the demo has a test").id;
    let mut columns = counts_csv::match_count_columns(&table);
    columns.existing = Existing::Update;
    let (drafts, problems) = counts_csv::count_drafts(&table, &columns, project, test);
    are_told(&problems);
    counts_csv::misfits(project, &drafts);
    carry_out(&counts_csv::record_command(&drafts));
}

fn temperature(bytes: &[u8]) {
    let file = match TemperatureFile::read(bytes) {
        Ok(file) => file,
        Err(fault) => return is_told(&fault.to_string()),
    };
    for dates in [DateForm::DayFirst, DateForm::MonthFirst, DateForm::YearFirst] {
        let look = file.look(&Answers {
            dates: Some(dates),
            unit: Some(TemperatureUnit::Celsius),
            leave_out_bad: true,
            ..Answers::default()
        });
        assert!(look.readings.iter().all(|reading| reading.1.is_finite()));
        assert!(
            look.readings.is_sorted_by_key(|reading| reading.0),
            "readings are in the order of time"
        );
    }
}

fn weather(bytes: &[u8]) {
    let file = match WeatherFile::read(bytes, None) {
        Ok(file) => file,
        Err(fault) => return is_told(&fault.to_string()),
    };
    for dates in [DateForm::DayFirst, DateForm::MonthFirst, DateForm::YearFirst] {
        let look = file.look(&WeatherAnswers {
            dates: Some(dates),
            unit: Some(TemperatureUnit::Fahrenheit),
            leave_out_bad: true,
            ..WeatherAnswers::default()
        });
        carry_out(&Command::TakeWeather(look.days));
    }
}

/// The bytes in place of one file of a package; the first byte says of which.
fn package(bytes: &[u8]) {
    let Some((which, bytes)) = bytes.split_first() else {
        return;
    };
    let mut files = STARTER.1.clone();
    let name = files
        .keys()
        .nth(usize::from(*which) % files.len())
        .expect("there are files")
        .clone();
    files.insert(name, bytes.to_vec());
    match data_package::read(&files) {
        Ok(project) => {
            assert_eq!(project.validate(), []);
            is_whole(&project);
        }
        Err(problems) => {
            assert!(!problems.is_empty());
            for problem in &problems {
                is_told(&problem.to_string());
            }
        }
    }
}

/// The bytes as a packed copy; nothing may come to lie outside the new folder.
fn zip(bytes: &[u8]) {
    let outside = tempfile::tempdir().expect("a folder");
    let file = outside.path().join("in.zip");
    put(&file, bytes);
    let folder = outside.path().join("new");
    let outcome = packed::unpack(&file, &folder, |_| true);
    let mut names: Vec<_> = std::fs::read_dir(outside.path())
        .expect("the folder can be read")
        .map(|entry| entry.expect("its entries too").file_name())
        .collect();
    names.sort();
    match outcome {
        Ok(_) => assert_eq!(names, ["in.zip", "new"]),
        Err(fault) => {
            is_told(&fault.to_string());
            assert_eq!(names, ["in.zip"], "{fault}");
        }
    }
}

fn photo(bytes: &[u8]) {
    let limits = Limits::default();
    match decode("photo", bytes, &limits) {
        Ok(photo) => {
            let (width, height) = photo.picture.dimensions();
            assert!(width > 0 && height > 0);
        }
        Err(fault) => is_told(&fault.to_string()),
    }
    match without_metadata("photo", bytes, &limits) {
        Ok(copy) => assert!(!copy.is_empty()),
        Err(fault) => is_told(&fault.to_string()),
    }
}

fn put(path: &Path, bytes: &[u8]) {
    use std::io::Write as _;
    let mut file = std::fs::File::create(path).expect("a file in the test's own folder");
    file.write_all(bytes).expect("it can be written");
}

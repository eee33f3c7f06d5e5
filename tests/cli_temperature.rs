//! The verbs that take and tell temperatures, with the real program.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod cli_run;

use cli_run::Folder;
use serde_json::Value;
use wintercrib::demo;
use wintercrib::store::format;

/// A demo, and the files of its two loggers.
fn folder() -> Folder {
    let folder = Folder::with(&format::write(&demo::make("essel-thaw").unwrap()).unwrap());
    for (name, text) in demo::logger_files() {
        folder.put(name, text);
    }
    folder
}

fn cold_days(folder: &Folder) -> Value {
    let page = folder.run("summary p.ron --json").ends_with(0);
    let page: Value = serde_json::from_str(&page.out).unwrap();
    page["tests"][0]["cold_days"].clone()
}

#[test]
fn two_unlike_files_are_taken_for_the_trays_that_are_named() {
    let folder = Folder::new();
    folder
        .run("demo --ears 60 --seasons 1 --seed 3 --out p.ron")
        .ends_with(0);
    for (name, text) in demo::logger_files() {
        folder.put(name, text);
    }
    let before = folder.text("p.ron");
    let dry = folder
        .run("import p.ron --temperature essel-thaw-shelf.csv --dry-run")
        .ends_with(0);
    assert_eq!(
        dry.out,
        "Nothing was changed; without --dry-run: 309 readings from 2026-02-03 18:00 to 2026-02-16 18:00 taken as log 'essel-thaw-shelf' of all trays.\n"
    );
    assert!(
        dry.said
            .contains("Dates are read day first: other dates would not exist."),
        "{}",
        dry.said
    );
    assert_eq!(folder.text("p.ron"), before);
    folder
        .run("import p.ron --temperature essel-thaw-shelf.csv --name shelf")
        .ends_with(0);
    let floor = folder
        .run("import p.ron --temperature essel-thaw-floor.csv --trays 1-2,2")
        .ends_with(0);
    assert_eq!(
        floor.out,
        "577 readings from 2026-02-04 18:15 to 2026-02-16 18:15 taken as log 'essel-thaw-floor' of trays 1 and 2.\n"
    );
    // From when to when it stood for one of them.
    let span = "import p.ron --temperature essel-thaw-floor.csv --name later --trays 2 --add-minutes 7 --from 2026-02-05T18:30";
    let later = folder
        .run(&format!("{span} --to 2026-02-07T18:30 --dry-run"))
        .ends_with(0);
    assert!(
        later
            .out
            .contains("as log 'later' of tray 2 from 2026-02-05 18:30 until 2026-02-07 18:30."),
        "{}",
        later.out
    );
    folder.run(&format!("{span} --to 2026-02-04T18:30")).refuses(
        2,
        &["--from, --to", "which is earlier", "correct one of the times"],
    );
    folder
        .run(&format!("{span} --to later"))
        .refuses(2, &["--to: 'later' is not a time that exists"]);
    folder.run("check p.ron").ends_with(0);
    let logs = cold_days(&folder)["logs"].clone();
    assert_eq!(
        (&logs[0]["name"], &logs[0]["stands_for"], &logs[0]["readings"]),
        (&"shelf".into(), &"all trays".into(), &309.into())
    );
    assert_eq!(logs[1]["stands_for"], "trays 1 and 2");
    assert_eq!(logs[1]["last_reading_at"], "2026-02-16 18:15");
    // The same file again.
    folder
        .run("import p.ron --temperature essel-thaw-shelf.csv")
        .refuses(
            2,
            &["in the test already, as the log 'shelf'", "Remove that log first"],
        );
}

#[test]
fn what_the_file_does_not_tell_is_asked_with_the_option_that_answers() {
    let folder = folder();
    folder.put(
        "l.csv",
        "time;in;out\n3/2/2026 18:00;13,2;4,5\n3/2/2026 19:00;13,1;4,4\n",
    );
    let import = "import p.ron --temperature l.csv --dry-run";
    folder.run(import).refuses(
        2,
        &[
            "several columns of temperatures",
            "2 ('in'), 3 ('out')",
            "--channel",
            "l.csv",
        ],
    );
    let import = format!("{import} --channel out");
    folder.run(&import).refuses(
        2,
        &[
            "does not tell the order of its dates: day first it runs from 2026-02-03 to 2026-02-03, month first it runs from 2026-03-02 to 2026-03-02.",
            "Say --dates day-first or --dates month-first",
        ],
    );
    let import = format!("{import} --dates day-first");
    folder
        .run(&import)
        .refuses(2, &["from 4.4 to 4.5", "Say --unit c or --unit f"]);
    let taken = folder
        .run(&format!("{import} --unit c --add-minutes -60"))
        .ends_with(0);
    assert!(
        taken
            .out
            .contains("2 readings from 2026-02-03 17:00 to 2026-02-03 18:00"),
        "{}",
        taken.out
    );
    for (words, parts) in [
        ("--channel wind", ["no column 'wind'", "2 ('in')"]),
        ("--channel in --trays 11", ["no tray 11", "--trays"]),
        ("--channel in --trays x", ["'x' is not a tray", "--trays"]),
        (
            "--pass early",
            ["--pass has nothing to do with a temperature log", "Leave it out"],
        ),
        ("--dates soon", ["--dates 'soon' is not possible", "year-first"]),
        ("--add-minutes 1.5", ["--add-minutes '1.5'", "whole minutes"]),
    ] {
        let line = format!("import p.ron --temperature l.csv --dry-run {words}");
        let line = if words.contains("channel in") {
            format!("{line} --dates day-first --unit c")
        } else {
            line
        };
        folder.run(&line).refuses(2, &parts);
    }
    folder
        .run("import p.ron --counts l.csv --unit c")
        .refuses(2, &["--unit has nothing to do with counts"]);
    folder
        .run("import p.ron --counts l.csv --temperature l.csv")
        .refuses(2, &["takes one table", "--temperature"]);
}

#[test]
fn bad_lines_refuse_the_file_unless_they_are_left_out() {
    let folder = folder();
    let before = folder.files();
    folder.put(
        "l.csv",
        "time,°C\n2026-02-03 18:00,13.2\nyesterday,13.1\n2026-02-03 20:00,warm\n2026-02-03 21:00,13.0\n",
    );
    folder.run("import p.ron --temperature l.csv").refuses(
        1,
        &[
            "Nothing was taken, because there are 2 problems",
            "line 3, column 'time': 'yesterday'",
            "line 4, column '°C': 'warm'",
        ],
    );
    assert_eq!(folder.text("p.ron").as_bytes(), before["p.ron"]);
    let taken = folder
        .run("import p.ron --temperature l.csv --leave-out-bad")
        .ends_with(0);
    assert!(
        taken.out.ends_with("of all trays. Left out: 2 lines.\n"),
        "{}",
        taken.out
    );
    for (text, part) in [
        ("", "The file is empty"),
        ("ear,row\n1,2\n", "No column of the file holds times"),
        ("day,high\n2026-02-03,13\n", "no times of the day"),
        (
            "time,°C\n2026-02-03 18:00,x\n",
            "No column of the file holds temperatures",
        ),
    ] {
        folder.put("l.csv", text);
        folder
            .run("import p.ron --temperature l.csv")
            .refuses(2, &[part, "l.csv"]);
    }
    folder.put("l.csv", "time,°C\n2024-02-03 18:00,13.2\n2026-02-03 19:00,13.1\n");
    folder
        .run("import p.ron --temperature l.csv")
        .refuses(1, &["400 days", "check the dates"]);
}

#[test]
fn the_summary_has_the_figures_of_each_tray_with_their_units() {
    let folder = folder();
    let days = cold_days(&folder);
    assert_eq!(
        (&days["wanted_celsius"], &days["band_half_width_celsius"]),
        (&13.0.into(), &1.5.into())
    );
    assert_eq!(
        (&days["heat_base_celsius"], &days["gap_longer_than_minutes"]),
        (&10.0.into(), &180.into())
    );
    assert!(days["warm_celsius"].is_null());
    let floor = &days["trays"][3];
    let number = |key: &str| floor[key].as_f64().unwrap();
    assert_eq!(floor["tray"], 4);
    assert!((number("mean_celsius") - 10.8).abs() < 0.05);
    assert!((number("above_other_trays_celsius") + 2.2).abs() < 0.05);
    assert!(
        (number("in_band_hours") + number("below_band_hours") + number("above_band_hours")
            - number("known_hours"))
        .abs()
            < 1e-6
    );
    assert_eq!(days["trays"][0]["gaps"][0]["hours"], 5.0);
    assert_eq!(days["events"].as_array().unwrap().len(), 4);
    assert!(
        days["findings"][0]
            .as_str()
            .unwrap()
            .starts_with("Tray 4 stood at 10.8 °C")
    );
    let page = folder.run("summary p.ron").ends_with(0).out;
    assert!(
        page.contains("Heat °C days") && page.contains("2.2 °C below the others, and germinated"),
        "{page}"
    );
    // Without a log nothing is claimed.
    folder.run("demo pocket-starter --out p.ron --force").ends_with(0);
    let days = cold_days(&folder);
    assert_eq!(days["logs"].as_array().unwrap().len(), 0);
    assert!(days["trays"][0]["mean_celsius"].is_null());
    assert!(!folder.run("summary p.ron").out.contains("Heat °C days"));
}

//! The verbs that take and tell the weather, with the real program.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod cli_run;

use cli_run::{Folder, SAMPLE};
use serde_json::Value;
use wintercrib::demo;
use wintercrib::store::format;

fn thaw() -> Folder {
    Folder::with(&format::write(&demo::make("essel-thaw").unwrap()).unwrap())
}

fn summary(folder: &Folder) -> Value {
    let page = folder.run("summary p.ron --json").ends_with(0);
    serde_json::from_str(&page.out).unwrap()
}

#[test]
fn days_are_taken_and_told() {
    let folder = Folder::with(SAMPLE);
    folder.put(
        "w.csv",
        "Station;DEMO\nDate;Low;High\n13/05/2026;48;79\n14/05/2026;30;65\n16/05/2025;41;70\n",
    );
    let dry = folder
        .run_untouched("import p.ron --weather w.csv --dry-run")
        .ends_with(0);
    assert_eq!(
        dry.out,
        "Nothing was changed; without --dry-run: 3 days of weather from 2025-05-16 to 2026-05-14 taken: 3 new, 0 replaced, 0 there already.\n"
    );
    for part in [
        "Dates are read day first",
        "read in °F",
        "2 years, 2025 to 2026",
        "are missing",
    ] {
        assert!(dry.said.contains(part), "{part}: {}", dry.said);
    }
    let one = folder
        .run("import p.ron --weather w.csv --season 2026")
        .ends_with(0);
    assert_eq!(
        one.out,
        "2 days of weather from 2026-05-13 to 2026-05-14 taken: 2 new, 0 replaced, 0 there already.\n"
    );
    folder.put("w.csv", "Date;Low;High\n13/05/2026;48;79\n14/05/2026;32;65\n");
    let again = folder.run("import p.ron --weather w.csv --unit f").ends_with(0);
    assert!(
        again.out.contains("taken: 0 new, 1 replaced, 1 there already."),
        "{}",
        again.out
    );
    folder.run("check p.ron").ends_with(0);
    assert!(
        folder
            .text("p.ron")
            .contains("(id: 202605, days: {13: (26.11, 8.89), 14: (18.33, 0.0)})")
    );
}

#[test]
fn what_the_file_does_not_tell_is_asked_with_the_option_that_answers() {
    let folder = Folder::with(SAMPLE);
    folder.put("w.csv", "day;a;b;c\n3/4/2026;20;8;1\n5/6/2026;21;9;2\n");
    let import = "import p.ron --weather w.csv --dry-run";
    for (given, parts) in [
        (
            "",
            [
                "which column holds the highs",
                "--high one of 2 ('a'), 3 ('b'), 4 ('c')",
            ],
        ),
        ("--high a", ["which column holds the lows", "--low one of"]),
        (
            "--high a --low 3",
            [
                "day first it runs from 2026-04-03 to 2026-06-05",
                "--dates day-first or --dates month-first",
            ],
        ),
        (
            "--high a --low 3 --dates day-first",
            ["run from 8 to 21", "--unit c or --unit f"],
        ),
        ("--high z", ["has no column 'z'", "--high one of"]),
    ] {
        folder
            .run_untouched(&format!("{import} {given}"))
            .refuses(2, &parts);
    }
    let done = folder
        .run(&format!("{import} --high a --low 3 --dates day-first --unit c"))
        .ends_with(0);
    assert!(
        done.out
            .contains("2 days of weather from 2026-04-03 to 2026-06-05"),
        "{}",
        done.out
    );
}

#[test]
fn what_is_wrong_is_named_and_nothing_is_taken() {
    let folder = Folder::with(SAMPLE);
    folder.put(
        "w.csv",
        "day,high °C,low °C\n2026-05-13,20,8\n2026-05-14,7,18\n2026-05-15,x,8\n",
    );
    folder.run_untouched("import p.ron --weather w.csv").refuses(
        1,
        &[
            "Nothing was taken, because there are 2 problems",
            "line 3: the high of 2026-05-14 (7) is below its low (18)",
            "line 4, column 'high °C': 'x' is not a temperature",
        ],
    );
    let left = folder
        .run("import p.ron --weather w.csv --leave-out-bad --dry-run")
        .ends_with(0);
    assert!(left.out.contains("Left out: 2 lines."), "{}", left.out);
    folder.put("m.csv", "day,mean\n2026-05-13,14\n");
    folder.run_untouched("import p.ron --weather m.csv").refuses(
        2,
        &[
            "one temperature for each day",
            "Export the daily high and the daily low",
        ],
    );
    folder
        .run("import p.ron --weather m.csv --season 2019")
        .refuses(2, &["one temperature"]);
    for (words, parts) in [
        (
            "--trays 2",
            ["--trays has nothing to do with the weather", "Leave it out"],
        ),
        (
            "--existing skip",
            ["--existing has nothing to do with the weather", "Leave it out"],
        ),
    ] {
        folder
            .run(&format!("import p.ron --weather w.csv {words}"))
            .refuses(2, &parts);
    }
    folder
        .run("import p.ron --ears w.csv --high a")
        .refuses(2, &["--high has nothing to do with"]);
    folder
        .run("import p.ron --weather w.csv --temperature w.csv")
        .refuses(2, &["takes one table", "--weather"]);
}

#[test]
fn the_summary_and_the_table_of_ears_tell_heat_and_frost() {
    let folder = thaw();
    let page = summary(&folder);
    let weather = &page["weather"];
    assert_eq!(weather["frosted_ears"], 6);
    assert_eq!(weather["frost_unknown_ears"], 0);
    assert_eq!(weather["missing_days"].as_array().unwrap().len(), 0);
    assert_eq!(weather["seasons"][0]["maturity_ears"], 240);
    let heat = weather["seasons"][0]["maturity_mean_heat_units_celsius_days"]
        .as_f64()
        .unwrap();
    assert!((700.0..1_500.0).contains(&heat), "{heat}");
    let ears = page["ears"].as_array().unwrap();
    let frosted = ears.iter().filter(|ear| ear["frosted"] == true).count();
    assert_eq!(frosted, 6);
    assert!(ears.iter().all(|ear| ear["heat_units_celsius_days"].is_f64()));
    let plain = folder.run("summary p.ron").ends_with(0);
    assert!(plain.out.contains("\nWeather\n"), "{}", plain.out);
    folder.run("export p.ron --ears --out e.csv").ends_with(0);
    let text = folder.text("e.csv");
    let mut lines = text.lines();
    assert!(
        lines
            .next()
            .unwrap()
            .ends_with(",Heat units by weather (°C days),Frosted by weather")
    );
    assert_eq!(lines.filter(|line| line.ends_with(",yes")).count(), 6);
    // What the weather tells is not read back as if somebody had noted it.
    let back = folder
        .run("import p.ron --ears e.csv --existing update --dry-run")
        .ends_with(0);
    assert!(
        back.said
            .contains("Heat units by weather (°C days), Frosted by weather"),
        "{}",
        back.said
    );
}

//! The verbs that move a whole project: the data package and back, the packed copy and back, the passport table, the log.

mod cli_run;

use cli_run::{Folder, SAMPLE};
use std::fs;
use wintercrib::store::format;

#[test]
fn a_package_and_back_is_the_same_project() {
    let folder = Folder::with(SAMPLE);
    let ran = folder.run("export p.ron --out package").ends_with(0);
    assert!(
        ran.out.starts_with("Wrote ") && ran.out.ends_with(" to package.\n"),
        "{ran:?}"
    );
    let ran = folder
        .run("import back.ron --package package --dry-run")
        .ends_with(0);
    assert_eq!(
        ran.out,
        "Nothing was written; without --dry-run: a project with 1 season, 12 ears and 12 counts.\n"
    );
    assert!(!folder.path("back.ron").exists());
    folder.run("import back.ron --package package").ends_with(0);
    let read = |name: &str| format::read(&fs::read(folder.path(name)).unwrap()).unwrap();
    assert_eq!(read("back.ron"), read("p.ron"));
    folder.run("check back.ron").ends_with(0);
    // Nothing that is there is replaced.
    folder
        .run_untouched("import back.ron --package package")
        .refuses(2, &["back.ron", "Choose another name"]);
    folder
        .run_untouched("export p.ron --out package")
        .refuses(2, &["something of this name already", "package"]);
    folder.run("export p.ron --out package --force").ends_with(0);
    assert!(folder.path("package.bak/datapackage.json").exists());
}

#[test]
fn an_edited_package_is_refused_by_file_and_line_and_nothing_is_written() {
    let folder = Folder::with(SAMPLE);
    folder.run("export p.ron --out package").ends_with(0);
    let ears = fs::read_to_string(folder.path("package/ears.csv")).unwrap();
    folder.put("package/ears.csv", ears.replacen("\r\n2,", "\r\ntwo,", 1));
    let ran = folder.run("import back.ron --package package").refuses(
        1,
        &[
            "Nothing was taken, because there is 1 problem in package:",
            "ears.csv, line 3, column 'id': 'two'",
        ],
    );
    assert!(!folder.path("back.ron").exists(), "{ran:?}");
    fs::remove_file(folder.path("package/ears.csv")).unwrap();
    folder
        .run("import back.ron --package package")
        .refuses(1, &["ears.csv: The file is missing"]);
    fs::remove_file(folder.path("package/datapackage.json")).unwrap();
    folder
        .run("import back.ron --package package")
        .refuses(2, &["datapackage.json", "Choose the folder"]);
}

#[test]
fn what_makes_no_sense_is_refused() {
    let folder = Folder::with(SAMPLE);
    folder
        .run_untouched("export p.ron --out x.csv")
        .refuses(2, &["--out 'x.csv'", "--ears"]);
    folder
        .run_untouched("export p.ron")
        .refuses(2, &["--out", "folder"]);
    folder
        .run_untouched("export p.ron --out x --season 2026")
        .refuses(2, &["--season", "whole project"]);
    folder
        .run_untouched("export p.ron --ears --passport --out x.csv")
        .refuses(2, &["one thing at a time"]);
    folder
        .run_untouched("export p.ron --out none/x")
        .refuses(2, &["Could not write", "none/x"]);
    folder
        .run_untouched("import x.csv --package p")
        .refuses(2, &["x.csv", ".ron"]);
    folder
        .run_untouched("import x.ron --package p --season 2026")
        .refuses(2, &["--season"]);
    folder
        .run_untouched("log p.ron --ear 99")
        .refuses(2, &["no ear 99"]);
}

#[test]
fn the_passport_table_has_the_population_and_the_ears_given_away() {
    let given = SAMPLE.replacen(
        "reason: Test(1))]",
        "reason: Test(1)), (kernels: -24, reason: Given)]",
        1,
    );
    assert_ne!(given, SAMPLE);
    let folder = Folder::with(&given);
    folder.run("export p.ron --passport --out pass.csv").ends_with(0);
    let text = fs::read_to_string(folder.path("pass.csv")).unwrap();
    let lines: Vec<&str> = text.lines().collect();
    assert_eq!(
        lines[0],
        "PUID,INSTCODE,ACCENUMB,COLLNUMB,GENUS,SPECIES,CROPNAME,ACCENAME,ACQDATE,ORIGCTY,SAMPSTAT,ANCEST,DONORNUMB,STORAGE,REMARKS"
    );
    assert!(
        lines[1].contains(",Zea,mays,maize,") && lines[1].contains("home test, not for labelling"),
        "{text}"
    );
    assert_eq!(lines.len(), 3, "{text}");
    assert!(
        lines[2].starts_with(",,DS26-0001-J,,Zea,mays,maize,DEMO small crib,2026----,,400,"),
        "{text}"
    );
    assert!(
        lines[2].contains(",10,\"home test, not for labelling;kernels given away: 24;"),
        "{text}"
    );
}

#[test]
fn the_log_tells_what_an_import_did() {
    let folder = Folder::with(SAMPLE);
    let ran = folder.run("log p.ron").ends_with(0);
    assert_eq!(ran.out, "The journal has no such change.\n");
    folder.put("e.csv", "ear,note\n1,mice were here\n2,\n");
    folder
        .run("import p.ron --ears e.csv --existing update")
        .ends_with(0);
    let ran = folder.run("log p.ron").ends_with(0);
    assert!(
        ran.out.contains("ear 1, note: nothing → mice were here"),
        "{ran:?}"
    );
    assert_eq!(
        folder.run("log p.ron --ear 12").ends_with(0).out,
        "The journal has no such change.\n"
    );
    assert_eq!(
        folder.run("log p.ron --find oats").ends_with(0).out,
        "The journal has no such change.\n"
    );
    let json = folder
        .run("log p.ron --ear 1 --find MICE --json")
        .ends_with(0)
        .out;
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    let keys: Vec<&String> = json["log"][0].as_object().unwrap().keys().collect();
    assert_eq!(
        keys,
        ["at", "by", "details", "details_left_out", "ear_ids", "what"]
    );
}

#[test]
fn a_packed_copy_and_back_is_the_same_file() {
    let folder = Folder::with(SAMPLE);
    // A change that is only in the journal comes along.
    folder.put("e.csv", "ear,note\n1,mice were here\n");
    folder
        .run("import p.ron --ears e.csv --existing update")
        .ends_with(0);
    let ran = folder.run("pack p.ron --out p.zip").ends_with(0);
    assert_eq!(ran.out, "Packed the project and 0 photos into p.zip.\n");
    let ran = folder.run("unpack p.zip --out moved").ends_with(0);
    assert_eq!(
        ran.out,
        "Unpacked 0 photos and the project. Open it with 'wintercrib moved/p.ron'.\n"
    );
    assert_eq!(folder.text("moved/p.ron"), folder.text("p.ron"));
    folder.run("check moved/p.ron").ends_with(0);
    // Nothing that is there is replaced.
    folder
        .run_untouched("pack p.ron --out p.zip")
        .refuses(2, &["something of this name already", "p.zip"]);
    folder
        .run_untouched("unpack p.zip --out moved")
        .refuses(2, &["something of this name already", "moved"]);
    folder
        .run_untouched("unpack p.ron --out other")
        .refuses(2, &["Nothing was unpacked: this is not a zip", "p.ron"]);
    folder
        .run_untouched("unpack none.zip --out other")
        .refuses(2, &["Could not read the packed copy", "none.zip"]);
    folder
        .run_untouched("unpack p.zip")
        .refuses(2, &["--out", "new folder"]);
    folder
        .run_untouched("unpack")
        .refuses(2, &["needs a packed copy"]);
    folder
        .run_untouched("pack p.ron --out x.pdf")
        .refuses(2, &["--out 'x.pdf'", ".zip"]);
    folder
        .run_untouched("pack p.ron --out x.zip --force")
        .refuses(2, &["no option --force"]);
}

#[test]
fn a_photo_that_is_not_there_is_named_and_the_rest_is_packed() {
    let folder = Folder::with(include_str!("data/filled.ron"));
    let ran = folder.run("pack p.ron --out p.zip").ends_with(0);
    assert!(ran.out.starts_with("Packed the project and 0 photos"), "{ran:?}");
    assert!(
        ran.said.contains("note: a photo is not in the zip.") && ran.said.contains("is missing"),
        "{ran:?}"
    );
}

#[test]
fn the_table_of_selection_has_every_ear_and_runs_no_formula() {
    let folder = Folder::with(SAMPLE);
    let ran = folder.run("export p.ron --selection --out s.csv").ends_with(0);
    assert_eq!(ran.out, "Wrote 12 ears to s.csv.\n");
    let text = folder.text("s.csv");
    let mut lines = csv::Reader::from_reader(text.as_bytes());
    let header: Vec<String> = lines.headers().unwrap().iter().map(str::to_owned).collect();
    let column = |name: &str| header.iter().position(|title| title == name).unwrap();
    let summary = folder.run("summary p.ron --json").ends_with(0).out;
    let summary: serde_json::Value = serde_json::from_str(&summary).unwrap();
    let ears = summary["ears"].as_array().unwrap();
    let mut scored = 0;
    for (line, ear) in lines.records().map(Result::unwrap).zip(ears) {
        assert_eq!(line[column("ear")], ear["ear_number"].to_string());
        assert_eq!(&line[column("ear code")], ear["ear_code"].as_str().unwrap());
        assert_eq!(&line[column("stand")], ear["stand"].as_str().unwrap());
        assert_eq!(&line[column("caution")], "home test, not for labelling seed");
        for (title, key) in [
            ("likely %", "cold_germination_likely_percent"),
            ("observed %", "cold_germination_observed_percent"),
        ] {
            if let Some(percent) = ear[key].as_f64() {
                assert_eq!(line[column(title)], format!("{percent:.1}"), "{title}");
                scored += 1;
            } else {
                assert_eq!(&line[column(title)], "");
            }
        }
    }
    assert!(scored >= 12, "{scored}");
    folder
        .run_untouched("export p.ron --selection --out s.csv")
        .refuses(2, &["--force"]);
    folder
        .run_untouched("export p.ron --selection --ears --out t.csv")
        .refuses(2, &["one thing at a time"]);
    // A word that a spreadsheet would run.
    let risky = SAMPLE.replacen("label: \"", "label: \"=cmd ", 1);
    assert_ne!(risky, SAMPLE);
    let folder = Folder::with(&risky);
    folder.run("export p.ron --selection --out s.csv").ends_with(0);
    let text = folder.text("s.csv");
    assert!(text.contains(",'=cmd ") && !text.contains(",=cmd"), "{text}");
}

//! The verbs for seed in store and for another grower's project.

mod cli_run;

use cli_run::{Folder, SAMPLE, changed, without};
use serde_json::Value;

/// The sample with a place for its packets.
fn stored(humidity: &str) -> String {
    let place = format!(
        "\n  stores: [\n    (id: 1, name: \"Cellar\", temperature_c: Some(10.0), humidity_percent: Some({humidity})),\n  ],\n"
    );
    let with_place = changed("\n  seasons: [", &format!("{place}  seasons: ["));
    with_place.replace(", ledger: [", ", store: Some(1), ledger: [")
}

/// A folder with the sample and with a project of three invented seasons, whose letters are others.
fn two() -> Folder {
    let folder = Folder::with(SAMPLE);
    folder
        .run("demo --ears 24 --seasons 3 --seed 4 --out q.ron")
        .ends_with(0);
    folder
}

#[test]
fn storage_says_where_seed_lies_and_whether_the_place_suits_it() {
    let folder = Folder::with(&stored("50.0"));
    let told = folder.run_untouched("storage p.ron").ends_with(0).out;
    assert!(
        told.contains("50 °F and 50 % together are 100, at most 100"),
        "{told}"
    );
    assert!(told.contains("Common practice, no source"), "{told}");
    let page: Value = serde_json::from_str(&folder.run("storage p.ron --json").ends_with(0).out).unwrap();
    let place = &page["places"][0];
    assert_eq!(place["name"], "Cellar");
    assert_eq!(place["within_rule_of_100"], true);
    assert_eq!(place["temperature_celsius"], 10.0);
    assert_eq!(place["packets"], place["seasons"][0]["packets"]);
    let folder = Folder::with(&stored("51.0"));
    let summary = folder.run("summary p.ron").ends_with(0).out;
    assert!(
        summary.contains("Storage place Cellar: 50 °F and 51 % together are 101, above 100"),
        "{summary}"
    );
    // A place that is not there is named with its line.
    let folder = Folder::with(&stored("50.0").replace("store: Some(1)", "store: Some(7)"));
    let ran = folder.run("check p.ron").ends_with(1);
    assert!(
        ran.out.contains("storage place 7, which does not exist"),
        "{ran:?}"
    );
}

#[test]
fn packets_are_printed_place_by_place() {
    let folder = Folder::with(&stored("50.0"));
    let told = folder.run("print p.ron packet-list --out a.pdf").ends_with(0).out;
    assert!(
        told.starts_with("Printed the list of packets in store, 12 packets, on 1 page"),
        "{told}"
    );
    folder.run("print p.ron packet-list --out b.pdf").ends_with(0);
    let files = folder.files();
    assert!(files["a.pdf"].starts_with(b"%PDF"));
    assert_eq!(files["a.pdf"], files["b.pdf"]);
    folder
        .run_untouched("print p.ron packet-list --season 2026 --out c.pdf")
        .refuses(2, &["--season has nothing to do with the packets"]);
}

#[test]
fn a_project_without_packets_says_so() {
    let folder = Folder::with(&without("packets"));
    let told = folder.run_untouched("storage p.ron").ends_with(0).out;
    assert!(told.contains("No packet holds kernels"), "{told}");
}

#[test]
fn two_projects_stand_side_by_side_and_no_difference_is_claimed_without_a_common_check() {
    let folder = two();
    let told = folder.run_untouched("compare p.ron q.ron").ends_with(0).out;
    assert!(
        told.contains("so a difference is named only where both tested the same check lot"),
        "{told}"
    );
    let page: Value =
        serde_json::from_str(&folder.run("compare p.ron q.ron --json").ends_with(0).out).unwrap();
    assert_eq!(page["seasons"].as_array().unwrap().len(), 4);
    for season in page["seasons"].as_array().unwrap() {
        assert_eq!(season["ours_above_theirs_percent_points"], Value::Null);
        assert!(season["ours"].is_null() || season["theirs"].is_null());
    }
    let theirs = &page["seasons"][1]["theirs"];
    assert_eq!(theirs["ears"], 24);
    assert!(theirs["cold_germination_mean_percent"].as_f64().unwrap() > 0.0);
    // With itself every season is in common, by the same check lot where one was counted.
    let told = folder.run("compare q.ron q.ron").ends_with(0).out;
    assert!(told.contains("3 seasons in common"), "{told}");
    assert!(told.contains("It is another copy of this project."), "{told}");
}

#[test]
fn a_line_is_brought_once() {
    let folder = two();
    let ears: Vec<Value> = {
        let page = folder.run("summary q.ron --json").ends_with(0).out;
        let page: Value = serde_json::from_str(&page).unwrap();
        page["ears"].as_array().unwrap().clone()
    };
    let code = ears[0]["ear_code"].as_str().unwrap();
    let line = format!("bring p.ron q.ron --ear {code} --kernels 40");
    let dry = folder.run_untouched(&format!("{line} --dry-run")).ends_with(0);
    assert!(
        dry.out.starts_with("Nothing was changed; without --dry-run:"),
        "{dry:?}"
    );
    let done = folder.run(&line).ends_with(0).out;
    assert!(done.contains("Its packet holds 40 kernels that came."), "{done}");
    assert!(done.contains("and keeps its code"), "{done}");
    folder.run("check p.ron").ends_with(0);
    let again = folder.run_untouched(&line).ends_with(0).out;
    assert!(
        again.contains("Nothing is new, and nothing was changed."),
        "{again}"
    );
    // The other project is as it was, and the log names the step.
    let log = folder.run("log p.ron").ends_with(0).out;
    assert!(
        log.contains(&format!("Bring {code} from DEMO 24 ears in 3 seasons")),
        "{log}"
    );
}

#[test]
fn hostile_other_projects_are_refused_and_nothing_is_changed() {
    let folder = two();
    let good = folder.text("q.ron");
    let code = {
        let page: Value = serde_json::from_str(&folder.run("summary q.ron --json").ends_with(0).out).unwrap();
        page["ears"][0]["ear_code"].as_str().unwrap().to_owned()
    };
    for (name, bytes) in [
        ("empty.ron", Vec::new()),
        (
            "noise.ron",
            (0..5000_u32)
                .map(|at| (at * 7919 % 251) as u8)
                .collect::<Vec<u8>>(),
        ),
        ("deep.ron", "[".repeat(200_000).into_bytes()),
        (
            "newer.ron",
            good.replacen("format: 1", "format: 9", 1).into_bytes(),
        ),
        (
            "broken.ron",
            good.replacen("row: Some(1)", "row: Some(987)", 1).into_bytes(),
        ),
        ("cut.ron", good.as_bytes()[..good.len() / 2].to_vec()),
    ] {
        folder.put(name, bytes);
        for verb in [
            format!("compare p.ron {name}"),
            format!("bring p.ron {name} --ear {code}"),
        ] {
            let ran = folder.run_untouched(&verb);
            assert!(ran.code == 2 || ran.code == 1, "{verb}: {ran:?}");
            assert!(
                ran.out.is_empty() && !ran.said.contains("panicked"),
                "{verb}: {ran:?}"
            );
            assert!(ran.said.split_whitespace().count() > 5, "{verb}: {ran:?}");
        }
    }
    folder
        .run_untouched("bring p.ron p.ron --ear DS26-0001-J")
        .refuses(1, &["another copy of this project"]);
    folder
        .run_untouched("bring p.ron missing.ron --ear DS26-0001-J")
        .refuses(2, &["missing.ron"]);
}

//! `saves` and `restore`: a restore, rehearsed.
#![expect(clippy::unwrap_used, reason = "a test's helpers fail the test by panicking")]

mod cli_run;

use cli_run::{Folder, SAMPLE};

use std::fs;
use wintercrib::store::backups;

/// A project that was saved twice, in different hours.
fn saved_twice() -> Folder {
    let folder = Folder::with(SAMPLE);
    folder.put("first.csv", "ear,notes\n1,the first save\n");
    folder
        .run("import p.ron --ears first.csv --existing update")
        .ends_with(0);
    // The time of a save is its name; this one is moved back to an earlier day.
    let kept = backups::list(&folder.path("p.ron")).unwrap();
    assert_eq!(kept.len(), 1);
    fs::rename(
        &kept[0].path,
        kept[0].path.with_file_name("2026-01-31T20-15-00.ron"),
    )
    .unwrap();
    folder.put("second.csv", "ear,notes\n1,the second save\n");
    folder
        .run("import p.ron --ears second.csv --existing update")
        .ends_with(0);
    folder
}

#[test]
fn an_earlier_save_is_restored_as_a_copy_though_the_project_is_gone() {
    let folder = saved_twice();
    fs::remove_file(folder.path("p.ron")).unwrap();
    fs::remove_file(folder.path("p.ron.journal")).unwrap();
    let listed = folder.run("saves p.ron").ends_with(0).out;
    let lines: Vec<&str> = listed.lines().collect();
    assert_eq!(lines.len(), 2, "{listed}");
    assert!(lines[1].starts_with("2026-01-31T20-15-00  "), "{listed}");
    let json: serde_json::Value =
        serde_json::from_str(&folder.run("saves p.ron --json").ends_with(0).out).unwrap();
    assert_eq!(json["saves"][1]["time"], "2026-01-31T20-15-00");

    folder
        .run("restore p.ron --save 2026-01-31T20-15-00 --out old.ron")
        .ends_with(0);
    assert!(folder.text("old.ron").contains("the first save"));
    folder.run("check old.ron").ends_with(0);
    folder.run("restore p.ron --out p.ron").ends_with(0);
    assert!(
        folder.text("p.ron").contains("the second save"),
        "the latest, into its own place"
    );
    folder.run("check p.ron").ends_with(0);
}

#[test]
fn a_restore_replaces_nothing_and_refuses_what_is_damaged() {
    let folder = saved_twice();
    folder
        .run_untouched("restore p.ron --out p.ron")
        .refuses(2, &["There is a file of this name already"]);
    folder
        .run_untouched("restore p.ron --save 2020-01-01T00-00-00 --out old.ron")
        .refuses(2, &["There is no such earlier save", "wintercrib saves p.ron"]);
    folder.run_untouched("restore p.ron").refuses(2, &["--out"]);
    let save = folder.path("p.backups").join("2026-01-31T20-15-00.ron");
    let whole = fs::read(&save).unwrap();
    folder.put("p.backups/2026-01-31T20-15-00.ron", &whole[..whole.len() / 2]);
    folder
        .run_untouched("restore p.ron --save 2026-01-31T20-15-00 --out old.ron")
        .refuses(
            2,
            &["This earlier save is damaged", "choose another one", "Line "],
        );
    // What somebody else put into the folder is no save and stays.
    folder.put("p.backups/notes.txt", "mine");
    folder.put("p.backups/2026-13-31T20-15-00.ron", "mine");
    assert_eq!(folder.run("saves p.ron").ends_with(0).out.lines().count(), 2);
    folder.run("saves nowhere.ron").ends_with(0);
}

#[test]
fn a_save_stands_though_its_copy_cannot_be_kept() {
    let folder = Folder::with(SAMPLE);
    // Something else has the folder's name.
    folder.put("p.backups", "a file");
    folder.put("first.csv", "ear,notes\n1,saved all the same\n");
    let ran = folder
        .run("import p.ron --ears first.csv --existing update")
        .ends_with(0);
    assert!(
        ran.said
            .contains("The project is saved, but no copy of this save was kept"),
        "{ran:?}"
    );
    assert!(folder.text("p.ron").contains("saved all the same"));
}

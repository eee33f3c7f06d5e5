//! `replay`: the changes of a journal that was set aside, and of the standard input.
#![expect(clippy::unwrap_used, reason = "a test's helpers fail the test by panicking")]

mod cli_run;

use cli_run::{Folder, SAMPLE};

use std::io::Write as _;
use std::process::Stdio;

/// A project that was edited by hand while its journal had changes that were never saved, and was then changed by the
/// program: that journal was set aside.
fn set_aside() -> Folder {
    let folder = Folder::with(SAMPLE);
    // A change that is saved, so that the journal has a mark.
    folder.put("first.csv", "ear,notes\n1,before the save\n");
    folder
        .run("import p.ron --ears first.csv --existing update")
        .ends_with(0);
    // Changes that are not: the lines of the same changes to a copy.
    folder.put("q.ron", folder.text("p.ron"));
    folder.put("second.csv", "ear,notes\n2,from the shed\n");
    folder
        .run("import q.ron --ears second.csv --existing update")
        .ends_with(0);
    let own = folder.text("p.ron.journal");
    let line = folder.text("q.ron.journal");
    let line = line.lines().find(|line| line.contains("from the shed")).unwrap();
    folder.put("p.ron.journal", format!("{own}{line}\n"));
    // Now it is edited by hand.
    let edited = folder
        .text("p.ron")
        .replace("before the save", "corrected by hand");
    folder.put("p.ron", edited);
    folder.put("third.csv", "ear,notes\n3,after\n");
    let ran = folder
        .run("import p.ron --ears third.csv --existing update")
        .ends_with(0);
    assert!(
        ran.said
            .contains("The 1 change in the journal after its last save"),
        "{ran:?}"
    );
    folder
}

#[test]
fn what_was_set_aside_is_carried_out_as_far_as_it_fits() {
    let folder = set_aside();
    let line = "replay p.ron --journal p.ron.journal.set-aside";
    let ran = folder.run_untouched(&format!("{line} --dry-run")).ends_with(0);
    assert_eq!(
        ran.out,
        "Nothing was changed; without --dry-run: 1 change carried out\n"
    );
    let ran = folder.run(line).ends_with(0);
    assert_eq!(ran.out, "1 on disk\n1 change carried out, and saved\n");
    let text = folder.text("p.ron");
    for part in ["corrected by hand", "from the shed", "after"] {
        assert!(text.contains(part), "{part}");
    }
    // From its first change on, it begins with one that was made to another state of the ear.
    let ran = folder.run(&format!("{line} --all"));
    assert_eq!(ran.code, 1, "{ran:?}");
    assert!(
        ran.said
            .contains("Line 2 of the journal could not be carried out")
            && ran.said.contains("The 0 changes before it were carried out"),
        "{ran:?}"
    );
    assert_eq!(folder.text("p.ron"), text);
}

#[test]
fn a_damaged_line_ends_it_and_what_is_before_it_stays() {
    let folder = set_aside();
    let whole = folder.text("p.ron.journal.set-aside");
    folder.put("cut.journal", &whole[..whole.len() - 5]);
    folder
        .run_untouched("replay p.ron --journal cut.journal")
        .ends_with(1)
        .refuses(
            1,
            &["(it has no end)", "The 0 changes before it were carried out"],
        );
    folder
        .run_untouched("replay p.ron")
        .refuses(2, &["No journal is named", ".set-aside"]);
    folder
        .run_untouched("replay p.ron --journal nowhere")
        .refuses(2, &["Could not read the journal", "nowhere"]);
    folder
        .run_untouched("replay p.ron --journal cut.journal --save-every 0")
        .refuses(2, &["--save-every '0' cannot be used"]);
}

#[test]
fn the_standard_input_is_carried_out_line_by_line() {
    let folder = set_aside();
    let lines = folder.text("p.ron.journal.set-aside");
    let change = lines.lines().find(|line| line.contains("from the shed")).unwrap();
    let mut program = folder
        .program()
        .args(["replay", "p.ron", "--journal", "-", "--save-every", "1"])
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .spawn()
        .unwrap();
    let mut input = program.stdin.take().unwrap();
    writeln!(input, "{change}").unwrap();
    drop(input);
    let ended = program.wait_with_output().unwrap();
    assert!(ended.status.success());
    assert_eq!(
        String::from_utf8(ended.stdout).unwrap(),
        "1 on disk\n1 change carried out, and saved\n"
    );
    assert!(folder.text("p.ron").contains("from the shed"));
}

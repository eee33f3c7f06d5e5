//! The store's tools below the project: whole writes, the lock, the journal.
#![expect(clippy::unwrap_used, reason = "a test's helper fails the test by panicking")]

use std::fs::{self, File, OpenOptions};
use std::io::Write as _;
use std::path::Path;

use wintercrib::store::atomic::{self, Step, WriteFault};
use wintercrib::store::journal::{self, Journal};
use wintercrib::store::lock::{self, LockOutcome};

fn put(path: &Path, bytes: &[u8]) {
    File::create(path).unwrap().write_all(bytes).unwrap();
}

#[expect(clippy::unnecessary_wraps, reason = "it stands for checks that can fail")]
fn accept(_: &[u8]) -> Result<(), String> {
    Ok(())
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

#[test]
fn a_write_keeps_the_previous_file_and_leaves_nothing_else() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    atomic::write(&path, b"one", accept).unwrap();
    assert_eq!(names(folder.path()), ["crib.ron"]);
    atomic::write(&path, b"two", accept).unwrap();
    atomic::write(&path, b"three", accept).unwrap();
    assert_eq!(fs::read(&path).unwrap(), b"three");
    assert_eq!(fs::read(folder.path().join("crib.ron.bak")).unwrap(), b"two");
    assert_eq!(names(folder.path()), ["crib.ron", "crib.ron.bak"]);
}

#[test]
fn a_write_that_fails_its_check_leaves_everything_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    put(&path, b"old");
    let seen_by_check = |bytes: &[u8]| Err(format!("{} bytes are too few", bytes.len()));
    let fault = atomic::write(&path, b"new", seen_by_check).unwrap_err();
    let text = fault.to_string();
    assert!(
        text.contains("3 bytes are too few") && text.contains("unchanged"),
        "{text}"
    );
    assert!(text.ends_with("crib.ron"), "the path comes last: {text}");
    assert_eq!(fs::read(&path).unwrap(), b"old");
    assert_eq!(names(folder.path()), ["crib.ron"]);
}

#[test]
fn every_refusal_names_its_step_and_a_remedy() {
    let folder = tempfile::tempdir().unwrap();
    let missing = folder.path().join("gone/crib.ron");
    let is_a_folder = folder.path().join("folder.ron");
    fs::create_dir(&is_a_folder).unwrap();
    let read_only = folder.path().join("fixed.ron");
    put(&read_only, b"old");
    let mut rights = fs::metadata(&read_only).unwrap().permissions();
    rights.set_readonly(true);
    fs::set_permissions(&read_only, rights).unwrap();
    let cases = [
        (missing, Step::Create, "disk is plugged in"),
        (is_a_folder, Step::Find, "this one is a folder"),
        (read_only.clone(), Step::Find, "marked read-only"),
    ];
    for (path, expected, words) in cases {
        let fault = atomic::write(&path, b"new", accept).unwrap_err();
        let text = fault.to_string();
        assert!(
            matches!(fault, WriteFault::Io { step, .. } if step == expected),
            "{text}"
        );
        assert!(text.contains(words), "{text}");
    }
    assert_eq!(fs::read(&read_only).unwrap(), b"old");
}

#[cfg(target_os = "linux")]
#[test]
fn a_full_disk_is_named_and_the_old_file_stays() {
    // Linux answers every write to /dev/full as a full disk does.
    let full = Path::new("/dev/full");
    let Err(error) = OpenOptions::new().write(true).open(full).unwrap().write_all(b"x") else {
        panic!("/dev/full took a byte");
    };
    let fault: WriteFault<String> = WriteFault::Io {
        step: Step::Fill,
        source: error,
        path: "a/crib.ron".into(),
    };
    let text = fault.to_string();
    assert!(text.contains("The disk is full: free some space"), "{text}");
    assert!(
        text.contains("write the temporary file") && text.contains("unchanged"),
        "{text}"
    );
}

#[cfg(unix)]
#[test]
fn links_and_rights_survive_a_write() {
    use std::os::unix::fs::{PermissionsExt as _, symlink};
    let folder = tempfile::tempdir().unwrap();
    let (home, desk) = (folder.path().join("home"), folder.path().join("desk"));
    fs::create_dir(&home).unwrap();
    fs::create_dir(&desk).unwrap();
    put(&home.join("crib.ron"), b"old");
    fs::set_permissions(home.join("crib.ron"), fs::Permissions::from_mode(0o640)).unwrap();
    symlink("../home/crib.ron", desk.join("link.ron")).unwrap();
    symlink("link.ron", desk.join("link-to-link.ron")).unwrap();

    atomic::write(&desk.join("link-to-link.ron"), b"new", accept).unwrap();
    assert!(
        fs::symlink_metadata(desk.join("link-to-link.ron"))
            .unwrap()
            .is_symlink()
    );
    assert!(fs::symlink_metadata(desk.join("link.ron")).unwrap().is_symlink());
    assert_eq!(fs::read(home.join("crib.ron")).unwrap(), b"new");
    assert_eq!(fs::read(home.join("crib.ron.bak")).unwrap(), b"old");
    assert_eq!(
        fs::metadata(home.join("crib.ron")).unwrap().permissions().mode() & 0o777,
        0o640
    );

    symlink("b.ron", desk.join("a.ron")).unwrap();
    symlink("a.ron", desk.join("b.ron")).unwrap();
    let text = atomic::write(&desk.join("a.ron"), b"new", accept)
        .unwrap_err()
        .to_string();
    assert!(text.contains("circle"), "{text}");
}

#[test]
fn a_lock_has_one_holder_and_says_who() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    let LockOutcome::Held(guard) = lock::acquire(&path, "the laptop since 7:10") else {
        panic!("a free lock is given")
    };
    match lock::acquire(&path, "the other window") {
        LockOutcome::Elsewhere { owner } => assert_eq!(owner.as_deref(), Some("the laptop since 7:10")),
        other => panic!("a held lock is not given twice: {other:?}"),
    }
    drop(guard);
    assert_eq!(
        names(folder.path()),
        [".crib.ron.lock"],
        "the file stays, and means nothing"
    );
    assert!(matches!(lock::acquire(&path, "next"), LockOutcome::Held(_)));
    assert!(lock::this_process().contains(&std::process::id().to_string()));
}

#[test]
fn a_folder_that_is_not_there_takes_no_lock() {
    let folder = tempfile::tempdir().unwrap();
    let outcome = lock::acquire(&folder.path().join("gone/crib.ron"), "me");
    assert!(matches!(outcome, LockOutcome::NotWritable { .. }), "{outcome:?}");
}

fn open(path: &Path) -> (Journal, journal::Contents) {
    let contents = journal::read(path).unwrap();
    (Journal::open(path, contents.cut()).unwrap(), contents)
}

fn payloads(contents: &journal::Contents) -> Vec<&str> {
    contents.lines.iter().map(|line| line.payload.as_str()).collect()
}

#[test]
fn a_journal_gives_back_what_was_appended() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron.journal");
    assert_eq!(
        journal::read(&path).unwrap(),
        journal::Contents::default(),
        "a missing journal is empty"
    );
    let (mut journal, _) = open(&path);
    journal.append(&["(a: 1)"]).unwrap();
    journal.append(&["(b: \"é\")", ""]).unwrap();
    journal.append::<&str>(&[]).unwrap();
    drop(journal);
    let (mut journal, contents) = open(&path);
    assert_eq!(payloads(&contents), ["(a: 1)", "(b: \"é\")", ""]);
    assert_eq!(contents.lines[2].number, 3);
    assert_eq!(contents.damage, None);
    assert!(
        journal
            .append(&["one\ntwo"])
            .unwrap_err()
            .to_string()
            .contains("line end")
    );
    journal.append(&["(c: 3)"]).unwrap();
    assert_eq!(
        payloads(&journal::read(&path).unwrap()),
        ["(a: 1)", "(b: \"é\")", "", "(c: 3)"]
    );
    // The checksum is the beginning of what `printf '(a: 1)' | sha256sum` prints.
    assert!(
        fs::read_to_string(&path)
            .unwrap()
            .starts_with("45ecb234 (a: 1)\n")
    );
}

#[test]
fn a_journal_cut_at_any_byte_loses_at_most_its_last_line() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron.journal");
    let (mut journal, _) = open(&path);
    journal.append(&["first", "second", "third"]).unwrap();
    drop(journal);
    let whole = fs::read(&path).unwrap();
    for cut in 0..=whole.len() {
        put(&path, &whole[..cut]);
        let line_ends = whole[..cut].split(|&byte| byte == b'\n').count() - 1;
        let (mut journal, contents) = open(&path);
        assert_eq!(payloads(&contents), ["first", "second", "third"][..line_ends]);
        let is_torn = cut > 0 && whole[cut - 1] != b'\n';
        assert_eq!(
            contents.damage.as_ref().map(|damage| damage.line),
            is_torn.then_some(line_ends + 1)
        );
        journal.append(&["next"]).unwrap();
        let after = journal::read(&path).unwrap();
        assert_eq!(
            after.damage, None,
            "what is appended after a cut line can be read"
        );
        assert_eq!(payloads(&after).last(), Some(&"next"));
        assert_eq!(after.lines.len(), line_ends + 1);
    }
    assert_eq!(
        names(folder.path()),
        ["crib.ron.journal"],
        "a cut last line is not worth a copy"
    );
}

#[test]
fn damage_in_the_middle_stops_the_reading_and_the_whole_file_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron.journal");
    let (mut journal, _) = open(&path);
    journal.append(&["first", "second", "third", "fourth"]).unwrap();
    drop(journal);
    let mut bytes = fs::read(&path).unwrap();
    let at = bytes.windows(6).position(|window| window == b"second").unwrap();
    bytes[at] = b'S';
    put(&path, &bytes);
    for copy in ["crib.ron.journal.set-aside", "crib.ron.journal.set-aside-2"] {
        let (_, contents) = open(&path);
        let damage = contents.damage.clone().unwrap();
        assert_eq!((damage.line, damage.lines_after), (2, 2));
        assert_eq!(damage.what, "its checksum does not fit");
        assert_eq!(payloads(&contents), ["first"]);
        assert_eq!(fs::read(folder.path().join(copy)).unwrap(), bytes);
        put(&path, &bytes);
    }
}

#[test]
fn a_file_that_is_no_journal_is_damage_and_not_a_panic() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron.journal");
    for (bytes, what) in [
        (&b"\xff\xfe\x00\n"[..], "it is not text"),
        (b"abc\n", "it has no checksum"),
        (b"\n", "it has no checksum"),
        (b"00000000 x\n", "its checksum does not fit"),
        (b"00000000 x", "it has no end"),
    ] {
        put(&path, bytes);
        let contents = journal::read(&path).unwrap();
        assert_eq!(contents.damage.unwrap().what, what);
        assert!(contents.lines.is_empty());
        assert_eq!(fs::read(&path).unwrap(), bytes, "reading changes nothing");
    }
}

//! A packed copy of a project: the same again elsewhere, and zips that are meant to do harm or were damaged, of which nothing
//! is taken.
#![expect(clippy::unwrap_used, reason = "a test's helper fails the test by panicking")]

use std::fs::{self, File};
use std::io::{Cursor, Write as _};
use std::path::{Path, PathBuf};
use std::process::{Command as Process, Stdio};
use std::time::Duration;
use tempfile::TempDir;
use wintercrib::demo;
use wintercrib::model::{Command, Document, Photo, PhotoId, Project, Stamp};
use wintercrib::store::packed::{self, MOST_FILES, PackFault, Packed, Unpacked};
use wintercrib::store::photos::{self, PhotoFile};
use wintercrib::store::{format, project_file};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipWriter};

/// Environment variable that tells the child in which folder it works.
const FOLDER: &str = "WINTERCRIB_TEST_PACKED_FOLDER";

fn put(path: &Path, bytes: &[u8]) {
    File::create(path).unwrap().write_all(bytes).unwrap();
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    names
}

fn note_photos(document: &mut Document, kept: &[PhotoFile]) {
    let tray = document.project().trays.iter().next().unwrap().id;
    let stamp = Stamp {
        at: jiff::civil::date(2026, 3, 1).at(18, 0, 0, 0),
        by: "Helper B".to_owned(),
    };
    for photo in kept {
        let photo = Photo {
            id: PhotoId(0),
            tray,
            pass: None,
            file: photo.file.clone(),
            digest: photo.digest.clone(),
            width: 4,
            height: 3,
            taken: None,
            corners: None,
        };
        document.run(&Command::AddPhoto(photo), &stamp).unwrap();
    }
}

/// A folder with a project `crib.ron` that has these photos, and the project as its journal makes it.
fn crib(photos: &[(&str, &[u8])]) -> (TempDir, PathBuf, Project) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("crib.ron");
    let mut opened = project_file::create(&path, demo::make("pocket-starter").unwrap(), "test").unwrap();
    let kept: Vec<PhotoFile> = photos
        .iter()
        .map(|(name, bytes)| photos::keep(&path, name, bytes, &[]).unwrap())
        .collect();
    note_photos(&mut opened.document, &kept);
    opened.file.flush(&mut opened.document).unwrap();
    let project = opened.document.project().clone();
    (folder, path, project)
}

fn pack(project: &Project, file: &Path, to: &Path) -> Result<Packed, PackFault> {
    packed::pack(project, file, to, |_| true)
}

fn unpack(zip: &Path, to: &Path) -> Result<Unpacked, PackFault> {
    packed::unpack(zip, to, |_| true)
}

#[test]
fn a_project_and_its_photos_are_the_same_in_another_folder() {
    let (folder, path, project) = crib(&[("tray 2.jpg", b"second"), ("tray 1.jpg", &vec![7; 200_000])]);
    let zip = folder.path().join("crib.zip");
    let packed = pack(&project, &path, &zip).unwrap();
    assert_eq!((packed.photos, packed.left_out.len()), (2, 0));

    let elsewhere = tempfile::tempdir().unwrap();
    let to = elsewhere.path().join("new");
    let unpacked = unpack(&zip, &to).unwrap();
    assert_eq!(
        unpacked,
        Unpacked {
            project: to.join("crib.ron"),
            photos: 2
        }
    );
    assert_eq!(names(elsewhere.path()), ["new"]);
    assert_eq!(names(&to), ["crib.photos", "crib.ron"]);
    let opened = project_file::open(&unpacked.project, "test").unwrap();
    assert_eq!(opened.document.project(), &project);
    assert_eq!(
        (opened.file.read_only(), opened.notes, opened.problems),
        (None, vec![], vec![])
    );
    for photo in project.photos.iter() {
        let photo = PhotoFile {
            file: photo.file.clone(),
            digest: photo.digest.clone(),
        };
        assert_eq!(
            photos::read(&unpacked.project, &photo).unwrap(),
            photos::read(&path, &photo).unwrap()
        );
    }
}

#[test]
fn two_packed_copies_are_the_same_bytes_in_order_and_hold_no_path() {
    let (folder, path, project) = crib(&[("b.jpg", b"b"), ("a.jpg", b"a")]);
    // What lies there and is not named stays there.
    put(&photos::folder_of(&path).join("c.jpg"), b"not named");
    let [one, other] = ["one.zip", "other.zip"].map(|name| folder.path().join(name));
    pack(&project, &path, &one).unwrap();
    std::thread::sleep(Duration::from_millis(2100));
    pack(&project, &path, &other).unwrap();
    let bytes = fs::read(&one).unwrap();
    assert_eq!(bytes, fs::read(&other).unwrap());
    let mut zip = zip::ZipArchive::new(Cursor::new(&bytes)).unwrap();
    let listed: Vec<String> = (0..zip.len())
        .map(|at| zip.by_index(at).unwrap().name().unwrap().into_owned())
        .collect();
    assert_eq!(listed, ["crib.ron", "crib.photos/a.jpg", "crib.photos/b.jpg"]);
    let text = String::from_utf8_lossy(&bytes);
    assert!(!text.contains(&folder.path().display().to_string()));
    // Another program opens it too.
    match Process::new("python3")
        .args(["-m", "zipfile", "-t"])
        .arg(&one)
        .output()
    {
        Ok(output) => assert!(output.status.success(), "{output:?}"),
        Err(error) => eprintln!("not tried: python3 is not there ({error})"),
    }
}

#[test]
fn photos_that_are_missing_or_changed_are_left_out_and_named() {
    let (folder, path, project) = crib(&[("a.jpg", b"a"), ("b.jpg", b"b"), ("c.jpg", b"c")]);
    let beside = photos::folder_of(&path);
    fs::remove_file(beside.join("a.jpg")).unwrap();
    put(&beside.join("b.jpg"), b"another");
    let zip = folder.path().join("crib.zip");
    let packed = pack(&project, &path, &zip).unwrap();
    assert_eq!(packed.photos, 1);
    let left: Vec<String> = packed.left_out.iter().map(ToString::to_string).collect();
    assert_eq!(left.len(), 2, "{left:?}");
    assert!(left[0].contains("a.jpg is missing") && left[1].contains("b.jpg is not the photo"));
    let unpacked = unpack(&zip, &folder.path().join("new")).unwrap();
    assert_eq!(unpacked.photos, 1);
    assert_eq!(names(&folder.path().join("new/crib.photos")), ["c.jpg"]);
}

#[test]
fn nothing_that_is_there_is_replaced() {
    let (folder, path, project) = crib(&[]);
    let zip = folder.path().join("crib.zip");
    put(&zip, b"mine");
    let fault = pack(&project, &path, &zip).unwrap_err().to_string();
    assert!(
        fault.starts_with("There is something of this name already"),
        "{fault}"
    );
    assert_eq!(fs::read(&zip).unwrap(), b"mine");
    fs::remove_file(&zip).unwrap();
    pack(&project, &path, &zip).unwrap();

    let to = folder.path().join("new");
    fs::create_dir(&to).unwrap();
    put(&to.join("mine.txt"), b"mine");
    let fault = unpack(&zip, &to).unwrap_err().to_string();
    assert!(
        fault.starts_with("There is something of this name already"),
        "{fault}"
    );
    assert_eq!(names(&to), ["mine.txt"]);
    fs::remove_file(to.join("mine.txt")).unwrap();
    unpack(&zip, &to).unwrap();
    assert_eq!(names(&to), ["crib.ron"]);
    let nowhere = folder.path().join("none/new");
    let fault = unpack(&zip, &nowhere).unwrap_err().to_string();
    assert!(fault.contains("Check that the folder is still there"), "{fault}");
}

#[test]
fn it_can_be_stopped_at_any_step_and_leaves_nothing() {
    let (folder, path, project) = crib(&[("a.jpg", &vec![1; 150_000]), ("b.jpg", &vec![2; 150_000])]);
    let zip = folder.path().join("crib.zip");
    let before = names(folder.path());
    let mut last = 0.0;
    let mut steps = 0;
    packed::pack(&project, &path, &zip, |done| {
        assert!((last..=1.0).contains(&done), "{last} then {done}");
        last = done;
        steps += 1;
        true
    })
    .unwrap();
    assert!(steps > 4 && last > 0.99, "{steps} {last}");
    fs::remove_file(&zip).unwrap();
    for stop in 1..=steps {
        let mut step = 0;
        let fault = packed::pack(&project, &path, &zip, |_| {
            step += 1;
            step < stop
        });
        assert!(matches!(fault, Err(PackFault::Stopped { .. })), "{stop}");
        assert_eq!(names(folder.path()), before, "{stop}");
    }
    pack(&project, &path, &zip).unwrap();
    let before = names(folder.path());
    for stop in 1..5 {
        let mut step = 0;
        let fault = packed::unpack(&zip, &folder.path().join("new"), |_| {
            step += 1;
            step < stop
        });
        assert!(matches!(fault, Err(PackFault::Stopped { .. })), "{stop}");
        assert_eq!(names(folder.path()), before, "{stop}");
    }
}

/// The child: packs and unpacks until it is killed.
#[test]
#[ignore = "started by another test, in a process that it kills"]
fn child() {
    let Ok(folder) = std::env::var(FOLDER) else { return };
    let folder = PathBuf::from(folder);
    let file = folder.join("crib.ron");
    let project = project_file::read(&file).unwrap().document.project().clone();
    println!("ready");
    std::io::stdout().flush().unwrap();
    loop {
        let _was_there = fs::remove_file(folder.join("new.zip"));
        pack(&project, &file, &folder.join("new.zip")).unwrap();
        let _was_there = fs::remove_dir_all(folder.join("new"));
        unpack(&folder.join("new.zip"), &folder.join("new")).unwrap();
    }
}

#[test]
fn killed_half_way_there_is_the_whole_or_nothing() {
    use std::io::BufRead as _;
    let (folder, path, project) = crib(&[("a.jpg", &vec![1; 900_000]), ("b.jpg", &vec![2; 900_000])]);
    let (zip, new) = (folder.path().join("new.zip"), folder.path().join("new"));
    let mut killed_inside = 0;
    for round in 0..12 {
        let mut child = Process::new(std::env::current_exe().unwrap())
            .args(["child", "--exact", "--ignored", "--nocapture"])
            .env(FOLDER, folder.path())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let lines = std::io::BufReader::new(child.stdout.take().unwrap()).lines();
        assert!(lines.map_while(Result::ok).any(|line| line.contains("ready")));
        std::thread::sleep(Duration::from_millis(17 + 29 * round % 230));
        child.kill().unwrap();
        child.wait().unwrap();
        let left = names(folder.path());
        killed_inside += usize::from(left.iter().any(|name| name.starts_with(".new")));
        if zip.exists() {
            unpack(&zip, &folder.path().join("look")).unwrap();
            fs::remove_dir_all(folder.path().join("look")).unwrap();
            fs::remove_file(&zip).unwrap();
        }
        // The child itself takes the folder away, file by file, so only a whole one tells.
        if new.join("crib.ron").exists() && new.join("crib.photos/b.jpg").exists() {
            assert_eq!(
                project_file::read(&new.join("crib.ron"))
                    .unwrap()
                    .document
                    .project(),
                &project
            );
        }
        if new.exists() {
            fs::remove_dir_all(&new).unwrap();
        }
        // The next one clears up.
        pack(&project, &path, &zip).unwrap();
        unpack(&zip, &new).unwrap();
        let left = names(folder.path());
        assert!(!left.iter().any(|name| name.starts_with(".new")), "{left:?}");
    }
    assert!(
        killed_inside > 0,
        "no round was killed while a file was being made"
    );
}

// ---- zips that are not taken ---------------------------------------------------------------------------------

/// The text of a small project that names one photo, `a.jpg`, of the bytes `photo`.
fn text() -> Vec<u8> {
    let (_folder, _path, project) = crib(&[("a.jpg", b"photo")]);
    format::write(&project).unwrap().into_bytes()
}

fn plain() -> SimpleFileOptions {
    SimpleFileOptions::default().compression_method(CompressionMethod::Deflated)
}

/// A zip of files with these names and bytes.
fn zip_of(files: &[(&str, &[u8])]) -> Vec<u8> {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in files {
        zip.start_file(*name, plain()).unwrap();
        zip.write_all(bytes).unwrap();
    }
    zip.finish().unwrap().into_inner()
}

/// Puts other bytes of the same length in the place of some, everywhere.
#[track_caller]
fn changed(bytes: &[u8], from: &[u8], to: &[u8]) -> Vec<u8> {
    assert_eq!(from.len(), to.len());
    let mut bytes = bytes.to_vec();
    let mut found = 0;
    for at in 0..=bytes.len() - from.len() {
        if bytes[at..].starts_with(from) {
            bytes[at..at + to.len()].copy_from_slice(to);
            found += 1;
        }
    }
    assert!(found > 0, "nothing to change");
    bytes
}

/// Requires that a zip is not taken for this reason, and that nothing was written or is left behind.
#[track_caller]
fn refuses(bytes: &[u8], parts: &[&str]) {
    let folder = tempfile::tempdir().unwrap();
    let inside = folder.path().join("inside");
    fs::create_dir(&inside).unwrap();
    let zip = inside.join("x.zip");
    put(&zip, bytes);
    let fault = unpack(&zip, &inside.join("new")).unwrap_err();
    let text = fault.to_string();
    assert!(text.starts_with("Nothing was unpacked: "), "{text}");
    assert!(text.ends_with("x.zip"), "the path comes last: {text}");
    for part in parts {
        assert!(text.contains(part), "'{part}' is not in: {text}");
    }
    assert_eq!(names(&inside), ["x.zip"]);
    assert_eq!(names(folder.path()), ["inside"]);
}

#[test]
fn names_that_lead_out_of_the_folder_are_refused() {
    let text = text();
    let device = "x.photos/nul.jpg";
    for name in [
        "../a.ron",
        "x.photos/../../a.jpg",
        "/etc/a.ron",
        "//host/a.ron",
        "C:\\a.ron",
        "c:a.ron",
        "..\\a.ron",
        "x.photos\\a.jpg",
        "x.photos/..",
        "./a.ron",
        "x.photos//a.jpg",
        "x.photos/a\u{1}.jpg",
        device,
    ] {
        refuses(
            &zip_of(&[("x.ron", &text), (name, b"photo")]),
            &["outside of its own folder", "Do not use it"],
        );
    }
    // A name with a nul in it, which ends it for some programs.
    let zip = zip_of(&[("x.ron", &text), ("x.photos/aQ.jpg", b"photo")]);
    refuses(&changed(&zip, b"aQ.jpg", b"a\0.jpg"), &["outside", "\\0"]);
}

#[test]
fn links_are_refused() {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    zip.add_symlink("x.ron", "/etc/passwd", SimpleFileOptions::default())
        .unwrap();
    let bytes = zip.finish().unwrap().into_inner();
    refuses(&bytes, &["'x.ron' in the zip is a link"]);
}

#[test]
fn a_file_that_is_listed_twice_is_refused() {
    let text = text();
    let zip = zip_of(&[("x.ron", &text), ("y.ron", b"another")]);
    refuses(&changed(&zip, b"y.ron", b"x.ron"), &["lists a file twice"]);
    let files: [(&str, &[u8]); 3] = [
        ("x.ron", &text),
        ("x.photos/a.jpg", b"photo"),
        ("x.photos/A.JPG", b"photo"),
    ];
    refuses(&zip_of(&files), &["lists a file twice (x.photos/A.JPG)"]);
    // Two lists that contradict each other: the second name is only in front of the file itself.
    let zip = zip_of(&[("x.ron", &text)]);
    let mut two_names = zip.clone();
    let at = zip.windows(5).position(|part| part == b"x.ron").unwrap();
    two_names[at] = b'y';
    refuses(&two_names, &["cut off or damaged"]);
}

#[test]
fn zips_that_are_meant_to_fill_a_disk_are_refused() {
    let text = text();
    let zeros = vec![0; 40 << 20];
    let files: [(&str, &[u8]); 2] = [("x.ron", &text), ("x.photos/a.jpg", &zeros)];
    let bomb = zip_of(&files);
    assert!(bomb.len() < 100_000);
    refuses(&bomb, &["'x.photos/a.jpg'", "more than 200 times as large"]);
    refuses(&zip_of(&[("x.ron", &zeros)]), &["'x.ron'", "more than 200 times"]);
    // One that says that it is small.
    let declared = (zeros.len() as u32).to_le_bytes();
    let lie = changed(&bomb, &declared, &1000_u32.to_le_bytes());
    refuses(&lie, &["larger than its declared"]);
    // One that says that it is larger than it is.
    let lie = changed(
        &zip_of(&files[..1]),
        &(text.len() as u32).to_le_bytes(),
        &(text.len() as u32 + 9).to_le_bytes(),
    );
    refuses(&lie, &["cut off or damaged"]);
    // Files that are too large, one by one and together.
    let large = changed(&bomb, &declared, &300_000_000_u32.to_le_bytes());
    refuses(&large, &["would have 300000000 bytes", "at most 256000000"]);
    let many: Vec<String> = (0..300).map(|number| format!("x.photos/{number}.jpg")).collect();
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for name in &many {
        zip.start_file(name, plain().compression_method(CompressionMethod::Stored))
            .unwrap();
        zip.write_all(&vec![b'x'; 54_321]).unwrap();
    }
    let zip = zip.finish().unwrap().into_inner();
    // The size in front of each file and in the list: behind the packed size, which stays.
    let twice: Vec<u8> = [54_321_u32.to_le_bytes(), 54_321_u32.to_le_bytes()].concat();
    let larger: Vec<u8> = [54_321_u32.to_le_bytes(), 250_000_000_u32.to_le_bytes()].concat();
    let zip = changed(&zip, &twice, &larger);
    refuses(&zip, &["would have 75000000000 bytes together"]);
}

#[test]
fn files_that_share_their_bytes_are_refused() {
    let text = text();
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    zip.start_file("x.ron", plain()).unwrap();
    zip.write_all(&text).unwrap();
    zip.start_file("x.photos/a.jpg", plain()).unwrap();
    zip.write_all(b"photo").unwrap();
    zip.shallow_copy_file("x.photos/a.jpg", "x.photos/b.jpg").unwrap();
    refuses(&zip.finish().unwrap().into_inner(), &["cut off or damaged"]);
}

#[test]
fn too_many_files_are_refused_before_their_list_is_taken_in() {
    let mut zip = ZipWriter::new(Cursor::new(Vec::new()));
    for number in 0..=MOST_FILES {
        zip.start_file(
            format!("x.photos/{number}.jpg"),
            plain().compression_method(CompressionMethod::Stored),
        )
        .unwrap();
    }
    refuses(
        &zip.finish().unwrap().into_inner(),
        &["lists 20001 files", "at most 20000"],
    );
}

#[test]
fn locked_files_and_unknown_ways_of_packing_are_refused() {
    let zip = zip_of(&[("x.ron", &text())]);
    // Bit 0 of the flags says that a file is locked, in front of the file and in the list (APPNOTE 6.3.10, section 4.4.4).
    let mut locked = zip.clone();
    let list = zip.windows(4).rposition(|four| four == b"PK\x01\x02").unwrap();
    locked[6] |= 1;
    locked[list + 8] |= 1;
    refuses(&locked, &["'x.ron' in the zip is locked with a password"]);
    // 12 stands for bzip2 (section 4.4.5).
    let mut other = zip;
    (other[8], other[list + 10]) = (12, 12);
    refuses(&other, &["packed in a way that is not known here"]);
}

#[test]
fn a_zip_that_ends_early_is_refused_wherever_it_ends() {
    let files: [(&str, &[u8]); 2] = [("x.ron", &text()), ("x.photos/a.jpg", b"photo")];
    let zip = zip_of(&files);
    for end in (4..zip.len()).step_by(zip.len() / 23).chain([zip.len() - 1]) {
        refuses(&zip[..end], &["cut off or damaged"]);
    }
    for end in 0..4 {
        refuses(&zip[..end], &["this is not a zip"]);
    }
}

#[test]
fn a_zip_with_any_byte_changed_is_refused_or_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let text = text();
    let files: [(&str, &[u8]); 2] = [("x.ron", &text), ("x.photos/a.jpg", b"photo")];
    let zip = zip_of(&files);
    let (path, to) = (folder.path().join("x.zip"), folder.path().join("new"));
    let mut refused = 0;
    for at in (0..zip.len()).step_by(7) {
        let mut damaged = zip.clone();
        damaged[at] ^= 0x41;
        put(&path, &damaged);
        match unpack(&path, &to) {
            Ok(unpacked) => {
                assert_eq!(fs::read(&unpacked.project).unwrap(), text, "byte {at}");
                fs::remove_dir_all(&to).unwrap();
            }
            Err(PackFault::Refused { .. }) => refused += 1,
            Err(other) => panic!("byte {at}: {other}"),
        }
        assert_eq!(names(folder.path()), ["x.zip"], "byte {at}");
    }
    assert!(refused > zip.len() / 14, "{refused} of {}", zip.len() / 7);
}

#[test]
fn what_is_no_packed_copy_is_refused() {
    let text = text();
    refuses(b"", &["this is not a zip"]);
    refuses(b"(format: 1)", &["this is not a zip"]);
    refuses(&zip_of(&[]), &["there is no project in the zip"]);
    refuses(
        &zip_of(&[("x.ron", b"nonsense")]),
        &["the project in the zip cannot be read"],
    );
    refuses(
        &zip_of(&[("x.photos/a.jpg", b"photo")]),
        &["there is no project in the zip"],
    );
    for stranger in [
        "notes.txt",
        "y.ron",
        "x/x.ron",
        "y.photos/a.jpg",
        "x.photos/deep/a.jpg",
        "x.photos/not-named.jpg",
    ] {
        refuses(
            &zip_of(&[("x.ron", &text), (stranger, b"photo")]),
            &[&format!("'{stranger}' in the zip does not belong")],
        );
    }
    let files: [(&str, &[u8]); 2] = [("x.ron", &text), ("x.photos/a.jpg", b"other")];
    refuses(
        &zip_of(&files),
        &["the photo 'a.jpg' in the zip is not the one that the project names"],
    );
    // A folder in the place of a zip.
    let folder = tempfile::tempdir().unwrap();
    let fault = unpack(folder.path(), &folder.path().join("new"))
        .unwrap_err()
        .to_string();
    assert!(fault.contains("this is not a zip"), "{fault}");
}

#[test]
fn a_project_of_a_newer_program_is_refused() {
    let text = String::from_utf8(text()).unwrap();
    let newer = text.replacen("format: 1", "format: 999", 1);
    assert_ne!(newer, text);
    refuses(
        &zip_of(&[("x.ron", newer.as_bytes())]),
        &["cannot be read", "999"],
    );
}

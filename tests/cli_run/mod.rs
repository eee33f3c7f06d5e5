//! Runs the real program without a display, in a folder of the test's own.
#![expect(clippy::unwrap_used, reason = "a test's helper fails the test by panicking")]

use std::collections::BTreeMap;
use std::ffi::OsStr;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use tempfile::TempDir;

/// A project with 12 ears, a tray, 12 final counts and a frozen list.
pub const SAMPLE: &str = include_str!("sample.ron");

/// What a run of the program gave.
#[derive(Debug)]
pub struct Ran {
    /// The exit code.
    pub code: i32,
    /// What it printed.
    pub out: String,
    /// What it said besides.
    pub said: String,
}

impl Ran {
    /// Requires an exit code, and that the program did not fail by a fault of its own.
    #[track_caller]
    pub fn ends_with(self, code: i32) -> Self {
        assert!(
            !self.said.contains("panicked") && !self.said.contains("fault of the program"),
            "{self:#?}"
        );
        assert_eq!(self.code, code, "{self:#?}");
        self
    }

    /// Requires that it ended with `code`, printed nothing, and said one sentence that contains all of these.
    #[track_caller]
    pub fn refuses(self, code: i32, parts: &[&str]) -> Self {
        let ran = self.ends_with(code);
        assert!(ran.out.is_empty(), "{ran:#?}");
        for part in parts {
            assert!(ran.said.contains(part), "'{part}' is not in {ran:#?}");
        }
        ran
    }
}

/// A folder for one test.
pub struct Folder(TempDir);

impl Folder {
    /// An empty folder.
    pub fn new() -> Self {
        Self(tempfile::tempdir().unwrap())
    }

    /// A folder with a project `p.ron`.
    pub fn with(project: &str) -> Self {
        let folder = Self::new();
        folder.put("p.ron", project);
        folder
    }

    /// Puts a file into it.
    pub fn put(&self, name: &str, content: impl AsRef<[u8]>) {
        std::io::Write::write_all(&mut fs::File::create(self.path(name)).unwrap(), content.as_ref()).unwrap();
    }

    /// The path of a file in it.
    pub fn path(&self, name: &str) -> PathBuf {
        self.0.path().join(name)
    }

    /// Reads a file in it.
    pub fn text(&self, name: &str) -> String {
        fs::read_to_string(self.path(name)).unwrap()
    }

    /// All files in it with their bytes.
    pub fn files(&self) -> BTreeMap<String, Vec<u8>> {
        let name = |path: &Path| path.file_name().unwrap().to_str().unwrap().to_owned();
        let paths = fs::read_dir(self.0.path())
            .unwrap()
            .map(|entry| entry.unwrap().path());
        paths
            .filter(|path| path.is_file())
            .map(|path| (name(&path), fs::read(&path).unwrap()))
            .collect()
    }

    /// The program, in this folder and without a display.
    pub fn program(&self) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_wintercrib"));
        command
            .current_dir(self.0.path())
            .env_remove("DISPLAY")
            .env_remove("WAYLAND_DISPLAY")
            .env_remove("WAYLAND_SOCKET")
            .env_remove("WINTERCRIB_LOG")
            .stdin(Stdio::null());
        command
    }

    /// Runs the program with the words of one line.
    pub fn run(&self, line: &str) -> Ran {
        self.run_with(line.split_whitespace())
    }

    /// Runs the program.
    pub fn run_with<S: AsRef<OsStr>>(&self, words: impl IntoIterator<Item = S>) -> Ran {
        let output = self.program().args(words).output().unwrap();
        Ran {
            code: output.status.code().unwrap(),
            out: String::from_utf8(output.stdout).unwrap(),
            said: String::from_utf8(output.stderr).unwrap(),
        }
    }

    /// Runs the program and requires that no file changed, was made or was removed.
    #[track_caller]
    pub fn run_untouched(&self, line: &str) -> Ran {
        let before = self.files();
        let ran = self.run(line);
        let mut after = self.files();
        // The lock is a hidden file and only a place to hold; that it is there means nothing.
        after.retain(|name, _| {
            before.contains_key(name) || !(name.starts_with('.') && name.contains(".lock"))
        });
        assert!(
            before == after,
            "files changed: {:?}, then {:?}; {ran:#?}",
            before.keys(),
            after.keys()
        );
        ran
    }
}

/// The sample without the records of a section.
pub fn without(section: &str) -> String {
    let begin = SAMPLE.find(&format!("\n  {section}: [\n")).unwrap();
    let end = begin + SAMPLE[begin..].find("\n  ],").unwrap();
    format!("{}\n  {section}: [{}", &SAMPLE[..begin], &SAMPLE[end + 3..])
}

/// The sample with one text for another, which must be there.
#[track_caller]
pub fn changed(from: &str, to: &str) -> String {
    assert!(SAMPLE.contains(from), "'{from}' is not in the sample");
    SAMPLE.replacen(from, to, 1)
}

// Each test file uses a part of this module; naming the parts keeps the rest from being called dead code.
const _: () = {
    let _: fn(Ran, i32, &[&str]) -> Ran = Ran::refuses;
    let _: fn(&Folder, &str) -> String = Folder::text;
    let _: fn(&str) -> String = without;
    let _: fn(&str, &str) -> String = changed;
    let _: fn(&Folder, &str) -> Ran = Folder::run_untouched;
};

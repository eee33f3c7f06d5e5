//! The journal: an append-only text file, one record a line, each with a checksum, each flushed before it counts.
//!
//! A line is eight hexadecimal digits (the beginning of the SHA-256 of the payload), a space, the payload, a line end.
//! What a payload means is not known here.

use std::fs::{self, File, OpenOptions};
use std::io::{self, BufRead, BufReader, Read as _, Write as _};
use std::path::{Path, PathBuf};

use super::atomic::{folder_of, remedy, sync_folder};
use super::{companion, digest_hex};

/// The longest change that is kept or read, in bytes.
const MOST_LINE: usize = 1 << 29;

/// One whole line of a journal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Line {
    /// Its number in the file, from 1.
    pub number: usize,
    /// What was appended.
    pub payload: String,
    /// Where it ends, in bytes from the beginning of the file.
    pub end: u64,
}

/// The first place in a journal that cannot be trusted. Nothing from there on was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Damage {
    /// The line's number, from 1.
    pub line: usize,
    /// What is wrong with it, as part of a sentence.
    pub what: &'static str,
    /// How many lines follow it. None after an interrupted write; more when something else has changed the file.
    pub lines_after: usize,
}

/// What a journal holds.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Contents {
    /// The whole lines, in order, up to the first damage.
    pub lines: Vec<Line>,
    /// The first damage, if any.
    pub damage: Option<Damage>,
}

impl Contents {
    /// The length in bytes of the part that holds the whole lines.
    pub fn good_bytes(&self) -> u64 {
        self.lines.last().map_or(0, |line| line.end)
    }

    /// The cut that makes the journal readable to its end again. A single broken last line is not worth a copy: an
    /// interrupted write explains it, and it never counted.
    pub fn cut(&self) -> Cut {
        let keep_copy = self.damage.as_ref().is_some_and(|damage| damage.lines_after > 0);
        Cut {
            length: self.good_bytes(),
            keep_copy,
        }
    }
}

/// Where to cut a journal before appending to it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Cut {
    /// The bytes to leave.
    pub length: u64,
    /// Whether to copy the whole file to `NAME.set-aside` (`NAME.set-aside-2`, ...) first.
    pub keep_copy: bool,
}

/// Why a journal could not be read or extended.
#[derive(Debug, thiserror::Error)]
pub enum JournalFault {
    /// The system refused.
    #[error("Could not {what} ({source}). {}: {}", remedy(source), path.display())]
    Io {
        /// What was attempted, as in 'could not ...'.
        what: &'static str,
        /// What the system said.
        source: io::Error,
        /// The journal's path.
        path: PathBuf,
    },
    /// A payload holds a line end, which would break the file. This is a fault of the program.
    #[error(
        "A change could not be kept because its text holds a line end. Please report this fault of the program"
    )]
    LineEnd,
    /// A payload is larger than what is read back.
    #[error(
        "A change of {0} bytes is too large for the journal, which takes {MOST_LINE}. Do it in several steps; until then it is not on the disk"
    )]
    TooLong(usize),
}

/// Reads a journal without changing it. One that does not exist is empty.
pub fn read(path: &Path) -> Result<Contents, JournalFault> {
    read_line_by_line(path, |_lines| {})
}

/// Reads a journal as [`read`] does, and lets `after` look at the lines so far after each, to forget what it will not need:
/// a journal of many years is larger than what there is of memory to spare.
pub(super) fn read_line_by_line(
    path: &Path,
    after: impl FnMut(&mut Vec<Line>),
) -> Result<Contents, JournalFault> {
    let read = match File::open(path) {
        Ok(file) => parse(&mut BufReader::with_capacity(1 << 18, file), after),
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Contents::default()),
        Err(error) => Err(error),
    };
    read.map_err(|source| JournalFault::Io {
        what: "read the journal of changes",
        source,
        path: path.to_path_buf(),
    })
}

fn parse(reader: &mut impl BufRead, mut after: impl FnMut(&mut Vec<Line>)) -> io::Result<Contents> {
    let mut contents = Contents::default();
    let (mut raw, mut end) = (Vec::new(), 0);
    loop {
        raw.clear();
        let length = reader.take(MOST_LINE as u64 + 10).read_until(b'\n', &mut raw)?;
        if length == 0 {
            return Ok(contents);
        }
        let number = contents.lines.len() + 1;
        end += length as u64;
        match parse_line(&raw) {
            Ok(payload) => {
                contents.lines.push(Line {
                    number,
                    payload: payload.to_owned(),
                    end,
                });
                after(&mut contents.lines);
            }
            Err(what) => {
                contents.damage = Some(Damage {
                    line: number,
                    what,
                    lines_after: lines_left(reader, raw.ends_with(b"\n"))?,
                });
                return Ok(contents);
            }
        }
    }
}

/// Counts the lines that are left, not counting the rest of one that has been begun; the last one may have no end.
fn lines_left(reader: &mut impl BufRead, mut at_line_begin: bool) -> io::Result<usize> {
    let mut lines = 0;
    loop {
        let part = reader.fill_buf()?;
        if part.is_empty() {
            return Ok(lines);
        }
        for byte in part {
            lines += usize::from(at_line_begin);
            at_line_begin = *byte == b'\n';
        }
        let length = part.len();
        reader.consume(length);
    }
}

pub(super) fn parse_line(raw: &[u8]) -> Result<&str, &'static str> {
    let line = raw.strip_suffix(b"\n").ok_or("it has no end")?;
    let line = std::str::from_utf8(line).map_err(|_bad_bytes| "it is not text")?;
    let (sum, payload) = line.split_once(' ').ok_or("it has no checksum")?;
    if sum != checksum(payload) {
        return Err("its checksum does not fit");
    }
    Ok(payload)
}

fn checksum(payload: &str) -> String {
    let mut sum = digest_hex(payload.as_bytes());
    sum.truncate(8);
    sum
}

/// A journal open for appending.
#[derive(Debug)]
pub struct Journal {
    file: File,
    path: PathBuf,
    /// Bytes known to be whole lines on the disk.
    length: u64,
    /// An append failed and may have left part of a line behind `length`.
    torn: bool,
}

impl Journal {
    /// Opens the journal at `path` for appending; it is made if it is not there. What lies behind the cut, which comes
    /// from reading it, is cut off, so that what is appended can be read.
    pub fn open(path: &Path, cut: Cut) -> Result<Self, JournalFault> {
        let fault = |what: &'static str| {
            let path = path.to_path_buf();
            move |source: io::Error| JournalFault::Io { what, source, path }
        };
        let is_new = !path.exists();
        let file = OpenOptions::new()
            .create(true)
            .append(true)
            .open(path)
            .map_err(fault("open the journal of changes"))?;
        if is_new {
            sync_folder(folder_of(path)).map_err(fault("flush the folder of the journal"))?;
        }
        let length = file
            .metadata()
            .map_err(fault("look at the journal of changes"))?
            .len();
        if length > cut.length {
            if cut.keep_copy {
                keep_copy(path).map_err(fault("keep a copy of the journal of changes"))?;
            }
            file.set_len(cut.length)
                .and_then(|()| file.sync_all())
                .map_err(fault("cut the unreadable part off the journal"))?;
        }
        Ok(Self {
            file,
            path: path.to_path_buf(),
            length: length.min(cut.length),
            torn: false,
        })
    }

    /// Says whether the file at the journal's path is the one that is open here, and as long as it was left: something else
    /// may have removed, replaced or written it.
    pub fn is_in_place(&self) -> Result<bool, JournalFault> {
        let fault = |source| JournalFault::Io {
            what: "look at the journal of changes",
            source,
            path: self.path.clone(),
        };
        let there = match fs::metadata(&self.path) {
            Ok(there) => there,
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(false),
            Err(error) => return Err(fault(error)),
        };
        let has_its_length = there.len() == self.length || (self.torn && there.len() > self.length);
        Ok(has_its_length && is_same_file(&there, &self.file.metadata().map_err(fault)?))
    }

    /// Appends payloads, one a line, and returns when they are on the disk. On failure none of them counts.
    pub fn append<T: AsRef<str>>(&mut self, payloads: &[T]) -> Result<(), JournalFault> {
        let mut text = String::new();
        for payload in payloads {
            let payload = payload.as_ref();
            if payload.contains('\n') {
                return Err(JournalFault::LineEnd);
            }
            if payload.len() > MOST_LINE {
                return Err(JournalFault::TooLong(payload.len()));
            }
            text.push_str(&checksum(payload));
            text.push(' ');
            text.push_str(payload);
            text.push('\n');
        }
        if text.is_empty() {
            return Ok(());
        }
        self.append_text(&text).map_err(|source| {
            self.torn = true;
            let what = "write the last change to the journal; it is not on the disk";
            JournalFault::Io {
                what,
                source,
                path: self.path.clone(),
            }
        })
    }

    fn append_text(&mut self, text: &str) -> io::Result<()> {
        if self.torn {
            self.file.set_len(self.length)?;
            self.torn = false;
        }
        self.file.write_all(text.as_bytes())?;
        self.file.sync_data()?;
        self.length += text.len() as u64;
        Ok(())
    }
}

/// Whether two looks are at one file; where the system does not tell, only its length is known.
#[cfg(unix)]
fn is_same_file(there: &fs::Metadata, here: &fs::Metadata) -> bool {
    use std::os::unix::fs::MetadataExt as _;
    (there.dev(), there.ino()) == (here.dev(), here.ino())
}

#[cfg(not(unix))]
fn is_same_file(there: &fs::Metadata, here: &fs::Metadata) -> bool {
    there.len() == here.len()
}

fn keep_copy(path: &Path) -> io::Result<()> {
    let copy = set_aside_name(path);
    fs::copy(path, &copy)?;
    File::open(&copy)?.sync_all()
}

/// The name under which the journal at `path` would be kept if it were cut now: the first that is free.
pub fn set_aside_name(path: &Path) -> PathBuf {
    super::first_free(|number| match number {
        1 => companion(path, "", ".set-aside"),
        _ => companion(path, "", &format!(".set-aside-{number}")),
    })
}

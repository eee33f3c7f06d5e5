//! A project on the disk: its file, its journal and its lock as one thing.
//!
//! What holds whenever the program stops:
//! * Every event that [`ProjectFile::flush`] accepted is in the journal, flushed.
//! * A save writes a mark into the journal just before the new file takes its place: the digest of the new file, and
//!   how many of the journal's events it contains. Opening looks for the last mark with the digest of the file that is
//!   there, and replays the events behind it. So it does not matter whether the program stopped before or after
//!   the replacement, nor whether events were appended meanwhile.
//! * Opening writes nothing but the lock. A journal is cut, or begun, only when the next change is kept.

use std::convert::Infallible;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::SystemTime;

use super::atomic::{self, WriteFault, remedy};
use super::backups;
use super::format::{self, FormatFault, MOST_BYTES};
use super::journal::{self, Cut, Journal, JournalFault};
use super::lock::{self, LockGuard, LockOutcome};
use super::replay::{Entry, Plan, as_mark, damage_note, entry_text, mark_text, read_for};
use super::{companion, digest_hex};
use crate::model::{Document, Problem, Project};

/// Why a project could not be opened or written. The path comes last.
#[derive(Debug, thiserror::Error)]
pub enum StoreFault {
    /// The file could not be read.
    #[error("Could not read the project ({source}). {}: {}", remedy(source), path.display())]
    Read {
        /// What the system said.
        source: io::Error,
        /// The file.
        path: PathBuf,
    },
    /// The file is too large to be a project.
    #[error(
        "The file has {bytes} bytes; a project has at most {MOST_BYTES}. Choose a .ron file of this program: {}",
        path.display()
    )]
    TooLarge {
        /// Its size in bytes.
        bytes: u64,
        /// The file.
        path: PathBuf,
    },
    /// The file is not a project that can be read.
    #[error("{fault}: {}", path.display())]
    Format {
        /// What is wrong with it.
        fault: FormatFault,
        /// The file.
        path: PathBuf,
    },
    /// A new project may not replace a file.
    #[error("There is a file of this name already. Choose another name, or open that file: {}", path.display())]
    Exists {
        /// The file that is there.
        path: PathBuf,
    },
    /// A project cannot be saved under a name: a window has that file open, or it or its folder cannot be written.
    #[error("Cannot save under this name: {why}. Choose another name or folder: {}", path.display())]
    Refused {
        /// Why.
        why: String,
        /// The file.
        path: PathBuf,
    },
    /// The project is open for reading only.
    #[error("The project is open for reading only: {why}. Save it under another name to change it: {}", path.display())]
    ReadOnly {
        /// Why.
        why: String,
        /// The file.
        path: PathBuf,
    },
    /// Somebody else has written the file since it was read.
    #[error(
        "The file was changed by something else since it was opened, so it was not overwritten. \
         Save under another name, then compare the two: {}", path.display()
    )]
    ChangedOutside {
        /// The file.
        path: PathBuf,
    },
    /// The text written does not give the project back. A fault of the program.
    #[error(
        "The text to be saved does not give back the same project ({why}), so the old file was kept. \
         All changes are in the journal. Please report this fault of the program: {}", path.display()
    )]
    NotTheSame {
        /// What differs.
        why: String,
        /// The file.
        path: PathBuf,
    },
    /// Writing failed.
    #[error(transparent)]
    Write(WriteFault<Infallible>),
    /// The journal could not be read or written.
    #[error(transparent)]
    Journal(#[from] JournalFault),
}

/// A project that was opened.
#[derive(Debug)]
pub struct Opened {
    /// The project with its history, all replayable changes applied.
    pub document: Document,
    /// The file, for flushing changes and saving.
    pub file: ProjectFile,
    /// What a person should know about this opening, one sentence or two each.
    pub notes: Vec<String>,
    /// Rules that the file breaks. When there are any, it is open for reading only.
    pub problems: Vec<FileProblem>,
}

/// A broken rule, and where the record stands in the file.
#[derive(Clone, Debug, PartialEq)]
pub struct FileProblem {
    /// The line of the record, from 1, if it was found and comes from the file.
    pub line: Option<usize>,
    /// What is wrong with the record.
    pub problem: Problem,
}

/// The file as it was when it was last read or written.
#[derive(Debug)]
struct Known {
    bytes: u64,
    modified: Option<SystemTime>,
    digest: String,
}

#[derive(Debug)]
enum JournalState {
    /// Not touched yet: where to cut it, and the lines to begin with.
    Untouched { cut: Cut, first: Vec<String> },
    /// Open for appending.
    Open(Journal),
}

/// What the window and a running save share.
#[derive(Debug)]
struct Shared {
    journal_path: PathBuf,
    known: Option<Known>,
    /// The newest mark, its digest and through which event: if that file is there, it is ours, however the save ended.
    marked: Option<(String, usize)>,
    journal: JournalState,
    /// Events since the journal began, with those still waiting.
    events: usize,
    /// Lines that could not be written yet.
    waiting: Vec<String>,
    /// Lines of events in the journal that the file lacks, to write them again should the journal be lost.
    unsaved: Vec<String>,
    /// The events before those.
    saved: usize,
    /// The events that are not in the journal any more, because it was lost and begun again.
    lost: usize,
    /// What a person should know.
    notes: Vec<String>,
}

impl Shared {
    fn append_waiting(&mut self) -> Result<(), JournalFault> {
        if self.waiting.is_empty() {
            return Ok(());
        }
        if let JournalState::Open(journal) = &self.journal
            && !journal.is_in_place()?
        {
            self.begin_again();
        }
        if let JournalState::Untouched { cut, first } = &self.journal {
            let mut journal = Journal::open(&self.journal_path, *cut)?;
            journal.append(first)?;
            self.journal = JournalState::Open(journal);
        }
        if let JournalState::Open(journal) = &mut self.journal {
            journal.append(&self.waiting)?;
            let events = self.waiting.drain(..).filter(|line| as_mark(line).is_none());
            self.unsaved.extend(events);
        }
        Ok(())
    }

    /// Lets the journal, which something else has removed or written, begin anew with all that the file lacks.
    fn begin_again(&mut self) {
        self.lost = self.saved;
        let known = self.known.iter().map(|known| mark_text(&known.digest, 0));
        let first = known.chain(self.unsaved.iter().cloned());
        // A save that has marked the journal may be just about to put its file in place.
        let marked = self.marked.iter();
        let marked =
            marked.filter_map(|(digest, through)| Some(mark_text(digest, through.checked_sub(self.lost)?)));
        let first = first.chain(marked).collect();
        let cut = Cut {
            length: 0,
            keep_copy: true,
        };
        self.journal = JournalState::Untouched { cut, first };
        self.notes.push(format!(
            "The journal was removed or changed by something else, so it was begun again with all that the project file \
             lacks. No change is lost; only undo in later sessions does not reach back before the last save: {}",
            self.journal_path.display()
        ));
    }

    /// Remembers that a save with so many events has ended.
    fn saved(&mut self, known: Known, through: usize) {
        self.known = Some(known);
        let now_saved = through.saturating_sub(self.saved).min(self.unsaved.len());
        self.unsaved.drain(..now_saved);
        self.saved = through;
    }

    fn mark(&mut self, digest: &str, through: usize) -> Result<(), JournalFault> {
        self.append_waiting()?;
        self.waiting
            .push(mark_text(digest, through.saturating_sub(self.lost)));
        let outcome = self.append_waiting();
        if outcome.is_err() {
            self.waiting.clear();
        }
        self.marked = Some((digest.to_owned(), through));
        outcome
    }

    fn refuse_if_changed(&self, path: &Path) -> Result<(), StoreFault> {
        let Some(known) = &self.known else { return Ok(()) };
        let now = match fs::metadata(path) {
            Ok(now) => now,
            // A file that is gone cannot be overwritten.
            Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
            Err(source) => {
                return Err(StoreFault::Read {
                    source,
                    path: path.to_path_buf(),
                });
            }
        };
        if now.len() == known.bytes && now.modified().ok() == known.modified {
            return Ok(());
        }
        let bytes = read_bytes(path)?;
        let digest = digest_hex(&bytes);
        if digest == known.digest || self.marked.as_ref().is_some_and(|(marked, _)| *marked == digest) {
            return Ok(());
        }
        Err(StoreFault::ChangedOutside {
            path: path.to_path_buf(),
        })
    }
}

/// A project's file, journal and lock. Dropping it gives the lock back.
#[derive(Debug)]
pub struct ProjectFile {
    path: PathBuf,
    read_only: Option<String>,
    shared: Arc<Mutex<Shared>>,
    _lock: Option<LockGuard>,
}

/// A save that is ready to run, on the worker.
#[derive(Debug)]
#[must_use = "a save does nothing until it is run"]
pub struct SaveJob {
    path: PathBuf,
    snapshot: Arc<Project>,
    unsaved_events: u64,
    through: usize,
    shared: Arc<Mutex<Shared>>,
}

/// What a save wrote.
#[derive(Clone, Debug)]
pub struct Saved {
    /// The size of the file in bytes.
    pub bytes: u64,
    /// The SHA-256 of the file in hexadecimal, as `sha256sum` prints it.
    pub digest: String,
    snapshot: Arc<Project>,
    unsaved_events: u64,
}

impl Saved {
    /// Tells the document that was saved. Call it on the window's thread when the job has ended.
    pub fn tell(&self, document: &mut Document) {
        document.mark_saved(&self.snapshot, self.unsaved_events);
    }
}

/// Opens the project at `path`, following links, and asks for its lock as `owner` (see [`lock::this_process`]).
///
/// Changes that the last save lacks are replayed from the journal. Nothing is written but the lock. When the lock is
/// held elsewhere, the file or its folder cannot be written, or the file breaks rules, it is open for reading only.
pub fn open(path: &Path, owner: &str) -> Result<Opened, StoreFault> {
    open_as(path, Some(owner))
}

/// Reads the project at `path` as [`open`] does, but asks for no lock, writes nothing at all, and leaves it open for
/// reading only. A window may have the project open meanwhile.
pub fn read(path: &Path) -> Result<Opened, StoreFault> {
    open_as(path, None)
}

fn open_as(path: &Path, owner: Option<&str>) -> Result<Opened, StoreFault> {
    let path = atomic::resolve_links(path).map_err(|source| read_fault(source, path))?;
    // A first look before the lock, so that no lock is left beside a file that is no project.
    let first_look = read_bytes(&path)?;
    let mut project = parse(&first_look, &path)?;
    let mut notes = Vec::new();
    let (lock, mut read_only) = match owner {
        Some(owner) => lock_for(&path, owner, &mut notes),
        None => (None, Some("it was opened to be read".to_owned())),
    };
    let bytes = read_bytes(&path)?;
    if bytes != first_look {
        project = parse(&bytes, &path)?;
    }
    if lock.is_some()
        && let Err(error) = atomic::remove_leftovers(&path)
    {
        // They are in nobody's way.
        tracing::warn!(
            "could not clear temporary files away ({error}): {}",
            path.display()
        );
    }
    let known = known(&path, &bytes)?;
    let problems = find_problems(&project, &bytes);
    if let Some(first) = problems.first() {
        let why = match problems.len() {
            1 => format!("it breaks a rule ({})", first.problem),
            number => format!("it breaks {number} rules, such as: {}", first.problem),
        };
        read_only.get_or_insert(why);
    }

    let journal_path = companion(&path, "", ".journal");
    let contents = read_for(&journal_path, &known.digest)?;
    // Where another window is writing, a half line is just the one being written.
    if lock.is_some() || read_only.is_none() || owner.is_none() {
        notes.extend(damage_note(&contents));
    }
    let plan = Plan::new(&contents, known.digest.clone());
    let (document, ready) = plan.carry_out(project, &journal_path, &mut notes);
    let shared = Shared {
        journal_path,
        known: Some(known),
        marked: None,
        journal: JournalState::Untouched {
            cut: ready.cut,
            first: ready.first,
        },
        events: ready.events,
        waiting: Vec::new(),
        saved: ready.events - ready.unsaved.len(),
        unsaved: ready.unsaved,
        lost: 0,
        notes: Vec::new(),
    };
    let file = ProjectFile {
        path,
        read_only,
        shared: Arc::new(Mutex::new(shared)),
        _lock: lock,
    };
    Ok(Opened {
        document,
        file,
        notes,
        problems,
    })
}

/// Writes a new project to `path` and opens it. Refuses when there is a file of this name.
pub fn create(path: &Path, project: Project, owner: &str) -> Result<Opened, StoreFault> {
    let path = atomic::resolve_links(path).map_err(|source| read_fault(source, path))?;
    if path.exists() {
        return Err(StoreFault::Exists { path });
    }
    let mut notes = Vec::new();
    let snapshot = Arc::new(project.clone());
    let file = write_new(path, snapshot, owner, Beginning::default(), &mut notes)?;
    Ok(Opened {
        document: Document::new(project),
        file,
        notes,
        problems: Vec::new(),
    })
}

impl ProjectFile {
    /// The file, links followed.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Why nothing can be written, if so.
    pub fn read_only(&self) -> Option<&str> {
        self.read_only.as_deref()
    }

    /// Takes the document's new events and returns when they are on the disk.
    ///
    /// On failure they stay waiting here, in order; the next flush or save tries again. Without new events it
    /// just tries the waiting ones. Events of a file open for reading only stay in the document.
    pub fn flush(&self, document: &mut Document) -> Result<(), StoreFault> {
        self.refuse_read_only()?;
        let mut shared = locked(&self.shared);
        for event in document.take_events() {
            shared.waiting.push(entry_text(&Entry::Did(event)));
            shared.events += 1;
        }
        Ok(shared.append_waiting()?)
    }

    /// Whether all events that [`ProjectFile::flush`] took are on the disk.
    pub fn all_on_disk(&self) -> bool {
        locked(&self.shared).waiting.is_empty()
    }

    /// Takes out what a person should know of what happened to the file since the last call, one sentence or two each.
    pub fn take_notes(&self) -> Vec<String> {
        std::mem::take(&mut locked(&self.shared).notes)
    }

    /// Flushes, and makes a save of the document as it is now, to be run on the worker.
    pub fn save_job(&self, document: &mut Document) -> Result<SaveJob, StoreFault> {
        if let Err(error) = self.flush(document) {
            // The save writes the waiting events itself; if the disk has come back by then, all is well.
            tracing::warn!("{error}");
            self.refuse_read_only()?;
        }
        Ok(SaveJob {
            path: self.path.clone(),
            snapshot: document.snapshot(),
            unsaved_events: document.unsaved_events(),
            through: locked(&self.shared).events,
            shared: Arc::clone(&self.shared),
        })
    }

    /// Saves the document under another name, with its journal, and gives the new file; `self` stays as it was.
    ///
    /// A file of that name is replaced (its previous content becomes `.bak`), unless a window has it open.
    pub fn save_as(
        &self,
        path: &Path,
        document: &mut Document,
        owner: &str,
        notes: &mut Vec<String>,
    ) -> Result<Self, StoreFault> {
        let path = atomic::resolve_links(path).map_err(|source| read_fault(source, path))?;
        let beginning = self.carried_over(document)?;
        let snapshot = document.snapshot();
        let file = write_new(path, Arc::clone(&snapshot), owner, beginning, notes)?;
        document.mark_saved(&snapshot, document.unsaved_events());
        Ok(file)
    }

    /// The lines with which the journal of a copy begins, so that undo reaches as far back there as here.
    fn carried_over(&self, document: &mut Document) -> Result<Beginning, StoreFault> {
        if self.read_only.is_some() {
            drop(document.take_events());
            return Ok(Beginning::default());
        }
        let mut shared = locked(&self.shared);
        for event in document.take_events() {
            shared.waiting.push(entry_text(&Entry::Did(event)));
            shared.events += 1;
        }
        if let Err(error) = shared.append_waiting() {
            // Saving elsewhere is the remedy for this very error.
            tracing::warn!("{error}");
        }
        let written = match &shared.journal {
            JournalState::Untouched { cut, .. } => lines_up_to(&shared.journal_path, cut.length)?,
            JournalState::Open(_) => lines_up_to(&shared.journal_path, u64::MAX)?,
        };
        let lines = written.into_iter().chain(shared.waiting.iter().cloned());
        let lines: Vec<String> = lines.filter(|line| as_mark(line).is_none()).collect();
        Ok(Beginning {
            events: lines.len(),
            lines,
        })
    }

    fn refuse_read_only(&self) -> Result<(), StoreFault> {
        match &self.read_only {
            Some(why) => Err(StoreFault::ReadOnly {
                why: why.clone(),
                path: self.path.clone(),
            }),
            None => Ok(()),
        }
    }
}

impl SaveJob {
    /// Writes the file: whole, read back, compared, and marked in the journal, or not at all.
    pub fn run(self) -> Result<Saved, StoreFault> {
        let Self {
            path,
            snapshot,
            unsaved_events,
            through,
            shared,
        } = self;
        let not_the_same = |why: String| StoreFault::NotTheSame {
            why,
            path: path.clone(),
        };
        let text = format::write(&snapshot).map_err(|error| not_the_same(error.to_string()))?;
        locked(&shared).refuse_if_changed(&path)?;
        let digest = digest_hex(text.as_bytes());
        let check = |bytes: &[u8]| {
            let again = format::read(bytes).map_err(|fault| not_the_same(fault.to_string()))?;
            if again != *snapshot {
                return Err(not_the_same("a value has changed on the way".to_owned()));
            }
            let mut shared = locked(&shared);
            shared.refuse_if_changed(&path)?;
            Ok(shared.mark(&digest, through)?)
        };
        atomic::write(&path, text.as_bytes(), check).map_err(StoreFault::from)?;
        let known = known(&path, text.as_bytes())?;
        locked(&shared).saved(known, through);
        // Not under the lock: the window waits for that to put the next change into the journal.
        let kept = backups::keep(&path, text.as_bytes(), jiff::ZonedDateTime::now().datetime());
        if let Err(fault) = kept {
            locked(&shared).notes.push(format!(
                "The project is saved, but no copy of this save was kept. {fault}"
            ));
        }
        Ok(Saved {
            bytes: text.len() as u64,
            digest,
            snapshot,
            unsaved_events,
        })
    }
}

impl From<WriteFault<Self>> for StoreFault {
    fn from(fault: WriteFault<Self>) -> Self {
        match fault {
            WriteFault::Rejected { why, .. } => why,
            WriteFault::Io { step, source, path } => Self::Write(WriteFault::Io { step, source, path }),
            WriteFault::Differs { path } => Self::Write(WriteFault::Differs { path }),
        }
    }
}

/// The events with which a new journal begins.
#[derive(Default)]
struct Beginning {
    lines: Vec<String>,
    events: usize,
}

/// Writes a project to a path that is not open yet, with a journal of its own; one that lies there is set aside.
fn write_new(
    path: PathBuf,
    snapshot: Arc<Project>,
    owner: &str,
    beginning: Beginning,
    notes: &mut Vec<String>,
) -> Result<ProjectFile, StoreFault> {
    let (lock, read_only) = lock_for(&path, owner, notes);
    if let Some(why) = read_only {
        return Err(StoreFault::Refused { why, path });
    }
    let shared = Arc::new(Mutex::new(Shared {
        journal_path: companion(&path, "", ".journal"),
        known: None,
        marked: None,
        journal: JournalState::Untouched {
            cut: Cut {
                length: 0,
                keep_copy: true,
            },
            first: beginning.lines,
        },
        events: beginning.events,
        waiting: Vec::new(),
        unsaved: Vec::new(),
        saved: beginning.events,
        lost: 0,
        notes: Vec::new(),
    }));
    let (through, unsaved_events) = (beginning.events, 0);
    SaveJob {
        path: path.clone(),
        snapshot,
        unsaved_events,
        through,
        shared: Arc::clone(&shared),
    }
    .run()?;
    Ok(ProjectFile {
        path,
        read_only: None,
        shared,
        _lock: lock,
    })
}

fn lines_up_to(journal: &Path, length: u64) -> Result<Vec<String>, JournalFault> {
    let lines = journal::read(journal)?.lines.into_iter();
    Ok(lines
        .take_while(|line| line.end <= length)
        .map(|line| line.payload)
        .collect())
}

/// Asks for the lock and looks whether the file may be written. Gives the guard, and why it may not.
fn lock_for(path: &Path, owner: &str, notes: &mut Vec<String>) -> (Option<LockGuard>, Option<String>) {
    let guard = match lock::acquire(path, owner) {
        LockOutcome::Held(guard) => guard,
        LockOutcome::Elsewhere { owner } => {
            let owner = owner.unwrap_or_else(|| "another window".to_owned());
            return (None, Some(format!("{owner} has it open")));
        }
        LockOutcome::NotWritable { why } => {
            return (
                None,
                Some(format!("nothing can be written in its folder ({why})")),
            );
        }
        LockOutcome::Unsupported { why } => {
            notes.push(format!(
                "This disk knows no locks ({why}). Take care that no second window opens the same project."
            ));
            return (None, None);
        }
    };
    let is_marked = fs::metadata(path).is_ok_and(|now| now.permissions().readonly());
    let why = is_marked.then(|| "the file is marked read-only".to_owned());
    (Some(guard), why)
}

fn read_bytes(path: &Path) -> Result<Vec<u8>, StoreFault> {
    let about = fs::metadata(path).map_err(|source| read_fault(source, path))?;
    if about.is_dir() {
        return Err(read_fault(io::ErrorKind::IsADirectory.into(), path));
    }
    if !about.is_file() {
        let error = io::Error::new(io::ErrorKind::InvalidInput, "it is not an ordinary file");
        return Err(read_fault(error, path));
    }
    if about.len() > MOST_BYTES {
        return Err(StoreFault::TooLarge {
            bytes: about.len(),
            path: path.to_path_buf(),
        });
    }
    fs::read(path).map_err(|source| read_fault(source, path))
}

fn read_fault(source: io::Error, path: &Path) -> StoreFault {
    StoreFault::Read {
        source,
        path: path.to_path_buf(),
    }
}

fn parse(bytes: &[u8], path: &Path) -> Result<Project, StoreFault> {
    format::read(bytes).map_err(|fault| StoreFault::Format {
        fault,
        path: path.to_path_buf(),
    })
}

fn known(path: &Path, bytes: &[u8]) -> Result<Known, StoreFault> {
    let about = fs::metadata(path).map_err(|source| read_fault(source, path))?;
    Ok(Known {
        bytes: bytes.len() as u64,
        modified: about.modified().ok(),
        digest: digest_hex(bytes),
    })
}

fn find_problems(project: &Project, bytes: &[u8]) -> Vec<FileProblem> {
    let problems = project.validate();
    let text = String::from_utf8_lossy(bytes);
    let locate = |problem: Problem| FileProblem {
        line: format::line_of(&text, problem.place),
        problem,
    };
    problems.into_iter().map(locate).collect()
}

/// What is shared is whole after every statement that changes it, so a poisoned lock is as good as any.
fn locked<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

//! Earlier saves of a project, kept beside it and thinned out with age.
//!
//! Each save leaves a copy in the folder `NAME.backups`, named by its time. Of the last day the last save of each hour is
//! kept, of the last ninety days that of each day, and of all time before that of each quarter of a year: the winter of
//! tests, the spring of planting, the summer, the harvest. A save whose time lies in the future, because the clock was set
//! back since, is kept.

use std::collections::BTreeSet;
use std::convert::Infallible;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use jiff::civil::DateTime;

use super::atomic::{self, WriteFault, remedy};
use super::format::{self, FormatFault};

/// How the time of a save is written in its name, such as `2026-11-28T19-30-05`: colons are forbidden in some file systems.
const NAME: &str = "%Y-%m-%dT%H-%M-%S";

/// So long the last save of each hour is kept, in hours.
const HOURS: i64 = 24;

/// So long the last save of each day is kept, in hours.
const DAYS: i64 = 90 * 24;

/// An earlier save.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Backup {
    /// When it was saved, by the computer's clock.
    pub at: DateTime,
    /// Its size in bytes.
    pub bytes: u64,
    /// Where it lies.
    pub path: PathBuf,
}

impl Backup {
    /// Its time as it stands in its name.
    pub fn name(&self) -> String {
        self.at.strftime(NAME).to_string()
    }
}

/// Why an earlier save could not be kept, listed or restored. The path comes last.
#[derive(Debug, thiserror::Error)]
pub enum BackupFault {
    /// The system refused something.
    #[error("Could not {what} ({source}). {}: {}", remedy(source), path.display())]
    Io {
        /// What was tried.
        what: &'static str,
        /// What the system said.
        source: io::Error,
        /// The file or folder.
        path: PathBuf,
    },
    /// The copy that was asked for could not be written.
    #[error(transparent)]
    Write(#[from] WriteFault<Infallible>),
    /// A restore replaces no file.
    #[error("There is a file of this name already. Choose another name: {}", path.display())]
    Exists {
        /// The file that is there.
        path: PathBuf,
    },
    /// What was kept is not a project any more.
    #[error("This earlier save is damaged, so it was not restored; choose another one. {fault}: {}", path.display())]
    Damaged {
        /// What is wrong with it.
        fault: FormatFault,
        /// The earlier save.
        path: PathBuf,
    },
}

fn io_fault(what: &'static str, path: &Path) -> impl FnOnce(io::Error) -> BackupFault {
    let path = path.to_path_buf();
    move |source| BackupFault::Io { what, source, path }
}

/// The folder of the earlier saves of the project at `path`.
pub fn folder(path: &Path) -> PathBuf {
    path.with_extension("backups")
}

/// Keeps the file at `path`, which was just saved, and removes what is no longer kept at the time `now`.
///
/// # Errors
/// A folder that cannot be written. The save itself is not touched.
pub fn keep(path: &Path, bytes: &[u8], now: DateTime) -> Result<(), BackupFault> {
    let folder = folder(path);
    fs::create_dir_all(&folder).map_err(io_fault("make the folder of earlier saves", &folder))?;
    let copy = folder.join(format!("{}.ron", now.strftime(NAME)));
    let whole = |_: &[u8]| Ok::<(), Infallible>(());
    atomic::write_alone(&copy, bytes, whole)?;
    for old in thinned(&list(path)?, now) {
        fs::remove_file(&old).map_err(io_fault("remove an earlier save", &old))?;
    }
    Ok(())
}

/// All earlier saves of the project at `path`, the latest first. The project itself may be lost.
///
/// # Errors
/// A folder that cannot be read; one that is not there holds none.
pub fn list(path: &Path) -> Result<Vec<Backup>, BackupFault> {
    let folder = folder(path);
    let entries = match fs::read_dir(&folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(error) => return Err(io_fault("read the folder of earlier saves", &folder)(error)),
    };
    let mut backups = Vec::new();
    for entry in entries {
        let entry = entry.map_err(io_fault("read the folder of earlier saves", &folder))?;
        let name = entry.file_name();
        let time = name.to_str().and_then(|name| name.strip_suffix(".ron"));
        // Other files in the folder are somebody else's.
        let Some(at) = time.and_then(|time| DateTime::strptime(NAME, time).ok()) else {
            continue;
        };
        let about = entry
            .metadata()
            .map_err(io_fault("look at an earlier save", &entry.path()))?;
        if about.is_file() {
            backups.push(Backup {
                at,
                bytes: about.len(),
                path: entry.path(),
            });
        }
    }
    backups.sort_by_key(|backup| std::cmp::Reverse(backup.at));
    Ok(backups)
}

/// Those of some saves, the latest first, that are no longer kept at the time `now`.
fn thinned(backups: &[Backup], now: DateTime) -> Vec<PathBuf> {
    let mut slots = BTreeSet::new();
    backups
        .iter()
        .filter(|backup| !slots.insert(slot(backup.at, now)))
        .map(|backup| backup.path.clone())
        .collect()
}

/// What a save stands for: of all that stand for the same, the last one is kept.
#[derive(PartialEq, Eq, PartialOrd, Ord)]
enum Slot {
    Itself(DateTime),
    Hour(DateTime),
    Day(jiff::civil::Date),
    Quarter(i16, i8),
}

fn slot(at: DateTime, now: DateTime) -> Slot {
    let hours = now.duration_since(at).as_hours();
    let day = at.date();
    if at > now {
        Slot::Itself(at)
    } else if hours < HOURS {
        Slot::Hour(day.at(at.hour(), 0, 0, 0))
    } else if hours < DAYS {
        Slot::Day(day)
    } else {
        Slot::Quarter(day.year(), (day.month() - 1) / 3)
    }
}

/// Writes an earlier save to a new file, which has no journal. It is read first, so that a damaged one is refused.
///
/// # Errors
/// A damaged save, a name that is taken, a disk that cannot be read or written.
pub fn restore(backup: &Path, to: &Path) -> Result<(), BackupFault> {
    let bytes = fs::read(backup).map_err(io_fault("read the earlier save", backup))?;
    format::read(&bytes).map_err(|fault| BackupFault::Damaged {
        fault,
        path: backup.to_path_buf(),
    })?;
    if to.symlink_metadata().is_ok() {
        return Err(BackupFault::Exists {
            path: to.to_path_buf(),
        });
    }
    let whole = |_: &[u8]| Ok::<(), Infallible>(());
    Ok(atomic::write_alone(to, &bytes, whole)?)
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::ToSpan as _;

    fn backup(at: DateTime) -> Backup {
        Backup {
            at,
            bytes: 1,
            path: PathBuf::from(at.to_string()),
        }
    }

    /// Five years of a save every ten minutes of four evening hours, thinned after each.
    #[test]
    fn saves_thin_out_with_age() {
        let begin = jiff::civil::date(2026, 1, 1).at(0, 0, 0, 0);
        let mut kept: Vec<Backup> = Vec::new();
        let mut now = begin;
        for day in 0..1_826_i64 {
            for minute in (0..240).step_by(10) {
                now = begin
                    .saturating_add(day.days())
                    .saturating_add((18 * 60 + minute).minutes());
                kept.insert(0, backup(now));
                let gone = thinned(&kept, now);
                assert!(!gone.contains(&kept[0].path), "the latest is always kept");
                kept.retain(|backup| !gone.contains(&backup.path));
            }
        }
        let newer_than = |hours: i64| {
            let is_newer = |backup: &&Backup| now.duration_since(backup.at).as_hours() < hours;
            kept.iter().filter(is_newer).count()
        };
        // Four hours of today, 89 days before it, and the quarters before those.
        assert_eq!(newer_than(HOURS), 4);
        assert_eq!(newer_than(DAYS) - newer_than(HOURS), 89);
        let old = kept.len() - newer_than(DAYS);
        assert!((18..=20).contains(&old), "five years have twenty quarters: {old}");
        // Each day and each quarter is stood for by its last save.
        assert!(
            kept.iter()
                .skip(4)
                .all(|backup| (backup.at.hour(), backup.at.minute()) == (21, 50))
        );
    }

    #[test]
    fn a_clock_that_was_set_back_removes_nothing_from_the_future() {
        let now = jiff::civil::date(2026, 3, 1).at(20, 0, 0, 0);
        let future = [10, 20, 30].map(|minutes| backup(now.saturating_add(minutes.minutes())));
        let gone = thinned(&[future.to_vec(), vec![backup(now)]].concat(), now);
        assert!(gone.is_empty(), "{gone:?}");
    }
}

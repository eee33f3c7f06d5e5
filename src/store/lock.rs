//! One writer for each project: a lock on a small hidden file beside it.
//!
//! The project file itself cannot carry the lock, since saving replaces it. That the lock file exists means nothing;
//! only the system's lock on it counts, and that ends with the process, so a crash leaves nothing to clear away.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use super::companion;

/// What came of asking for a project's lock.
#[derive(Debug)]
pub enum LockOutcome {
    /// The lock is ours until the guard is dropped.
    Held(LockGuard),
    /// Another window has it.
    Elsewhere {
        /// What the other window wrote about itself, if that can be read.
        owner: Option<String>,
    },
    /// The file system knows no locks; writing is possible, but nothing stops a second writer.
    Unsupported {
        /// What the system said.
        why: String,
    },
    /// Nothing can be written beside the project.
    NotWritable {
        /// What the system said.
        why: String,
    },
}

/// Holds a project's lock; dropping it gives the lock back.
#[derive(Debug)]
pub struct LockGuard {
    owner_path: PathBuf,
    file: File,
}

impl Drop for LockGuard {
    fn drop(&mut self) {
        if let Err(error) = fs::remove_file(&self.owner_path) {
            // The text only helps a person.
            tracing::warn!(
                "could not remove the lock's owner text ({error}): {}",
                self.owner_path.display()
            );
        }
        // Closing the file alone would leave the lock to a program that is being started just now and, for a moment,
        // has a copy of every open file.
        if let Err(error) = self.file.unlock() {
            tracing::warn!("could not give the lock back ({error})");
        }
    }
}

/// Asks for the lock of the project file at `project`, and on success leaves `owner`, one line for other windows to
/// show. Never waits.
pub fn acquire(project: &Path, owner: &str) -> LockOutcome {
    // The owner's text is a second file since some systems let nobody else read a locked one.
    let owner_path = companion(project, ".", ".owner");
    let lock_path = companion(project, ".", ".lock");
    let file = match OpenOptions::new()
        .create(true)
        .truncate(false)
        .write(true)
        .open(&lock_path)
    {
        Ok(file) => file,
        Err(error) => {
            return LockOutcome::NotWritable {
                why: error.to_string(),
            };
        }
    };
    match file.try_lock() {
        Ok(()) => {}
        Err(TryLockError::WouldBlock) => {
            return LockOutcome::Elsewhere {
                owner: read_owner(&owner_path),
            };
        }
        Err(TryLockError::Error(error)) => {
            return LockOutcome::Unsupported {
                why: error.to_string(),
            };
        }
    }
    if let Err(error) = leave_owner(&owner_path, owner) {
        tracing::warn!(
            "could not leave the lock's owner text ({error}): {}",
            owner_path.display()
        );
    }
    LockOutcome::Held(LockGuard { owner_path, file })
}

/// One line about this process for [`acquire`]: its number and the computer's name, since when is the caller's to add.
pub fn this_process() -> String {
    let host = fs::read_to_string("/etc/hostname")
        .ok()
        .or_else(|| std::env::var("COMPUTERNAME").ok())
        .or_else(|| std::env::var("HOSTNAME").ok());
    let process = std::process::id();
    match host.as_deref().map(str::trim) {
        Some(host) if !host.is_empty() => format!("process {process} on {host}"),
        _ => format!("process {process}"),
    }
}

fn leave_owner(path: &Path, owner: &str) -> io::Result<()> {
    File::create(path)?.write_all(owner.as_bytes())
}

fn read_owner(path: &Path) -> Option<String> {
    let text = fs::read_to_string(path).ok()?;
    let line = text.lines().next().unwrap_or_default().trim();
    (!line.is_empty()).then(|| line.chars().take(200).collect())
}

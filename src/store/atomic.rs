//! Writing a file so that either the old or the new content is there, whole, whatever happens.

use std::ffi::OsString;
use std::fmt;
use std::fs::{self, File};
use std::io::{self, Write as _};
use std::path::{Path, PathBuf};

use tempfile::NamedTempFile;

use super::companion;

/// The step of a write at which something went wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Step {
    /// Following links to the real file and looking at it.
    Find,
    /// Making the temporary file beside it.
    Create,
    /// Writing the bytes into the temporary file.
    Fill,
    /// Giving the temporary file the rights of the old one.
    Rights,
    /// Waiting until the bytes are on the disk.
    Sync,
    /// Reading the temporary file back.
    ReadBack,
    /// Keeping the previous file as `.bak`.
    KeepPrevious,
    /// Putting the new file in the place of the old one.
    Replace,
    /// Waiting until the folder is on the disk.
    SyncFolder,
}

impl fmt::Display for Step {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Find => "find the file",
            Self::Create => "make a temporary file beside it",
            Self::Fill => "write the temporary file",
            Self::Rights => "keep the file's rights",
            Self::Sync => "flush the temporary file to the disk",
            Self::ReadBack => "read the temporary file back",
            Self::KeepPrevious => "keep the previous file as .bak",
            Self::Replace => "put the new file in place",
            Self::SyncFolder => "flush the folder to the disk",
        })
    }
}

/// Why a file was not written. Except at [`Step::SyncFolder`], the old file is as it was.
#[derive(Debug, thiserror::Error)]
pub enum WriteFault<E: fmt::Display> {
    /// The system refused a step.
    #[error("Could not {step} ({source}). {} {}: {}", what_is_safe(*step), remedy(source), path.display())]
    Io {
        /// Where it stopped.
        step: Step,
        /// What the system said.
        source: io::Error,
        /// The file that was to be written.
        path: PathBuf,
    },
    /// The bytes read back are not the bytes written: the disk or its driver is at fault.
    #[error(
        "The bytes read back differ from those written. The old file is unchanged. \
         Save to another disk, and have this one checked: {}", path.display()
    )]
    Differs {
        /// The file that was to be written.
        path: PathBuf,
    },
    /// The bytes were written well, but their content did not pass the caller's check.
    #[error("The new content did not pass its check ({why}). The old file is unchanged: {}", path.display())]
    Rejected {
        /// What the check said.
        why: E,
        /// The file that was to be written.
        path: PathBuf,
    },
}

fn what_is_safe(step: Step) -> &'static str {
    if step == Step::SyncFolder {
        "The new file is in place, but a power cut just now could bring the old one back."
    } else {
        "The old file, if there was one, is unchanged."
    }
}

/// What a person can do about a file system error, as the beginning of a sentence that the path ends.
pub(super) fn remedy(error: &io::Error) -> &'static str {
    match error.kind() {
        io::ErrorKind::StorageFull | io::ErrorKind::QuotaExceeded => {
            "The disk is full: free some space and try again, or save to another disk"
        }
        io::ErrorKind::PermissionDenied | io::ErrorKind::ReadOnlyFilesystem => {
            "Ask for the right to write there, or save to another folder"
        }
        io::ErrorKind::NotFound | io::ErrorKind::NotADirectory => {
            "Check that the folder is still there and the disk is plugged in, or save to another folder"
        }
        io::ErrorKind::IsADirectory => "Choose another name: this one is a folder",
        _ => "Try again, or save to another folder",
    }
}

/// Follows links until a path that is not a link, so that a rename replaces the file and not the link to it.
/// The file need not exist. Fails after 40 links, which is a circle.
pub fn resolve_links(path: &Path) -> io::Result<PathBuf> {
    let mut at = path.to_path_buf();
    for _ in 0..40 {
        match fs::read_link(&at) {
            Ok(next) => at = at.parent().unwrap_or(Path::new("")).join(next),
            Err(_not_a_link) => return Ok(at),
        }
    }
    Err(io::Error::other("the links go round in a circle"))
}

/// The folder of a file, never empty.
pub(super) fn folder_of(path: &Path) -> &Path {
    match path.parent() {
        Some(folder) if !folder.as_os_str().is_empty() => folder,
        _ => Path::new("."),
    }
}

/// Puts `bytes` at `path`, whole or not at all.
///
/// Links are followed first. The bytes go to a temporary file in the same folder, are flushed, read back, compared,
/// and handed to `verify`; only then does the previous file become `NAME.bak` and the new one take its place.
/// The rights of the old file are kept. A file marked read-only is not replaced.
pub fn write<E: fmt::Display>(
    path: &Path,
    bytes: &[u8],
    verify: impl FnOnce(&[u8]) -> Result<(), E>,
) -> Result<(), WriteFault<E>> {
    put(path, bytes, verify, true)
}

/// Puts `bytes` at `path` as [`write()`] does, but keeps no `.bak` of a file that is there.
pub(super) fn write_alone<E: fmt::Display>(
    path: &Path,
    bytes: &[u8],
    verify: impl FnOnce(&[u8]) -> Result<(), E>,
) -> Result<(), WriteFault<E>> {
    put(path, bytes, verify, false)
}

fn put<E: fmt::Display>(
    path: &Path,
    bytes: &[u8],
    verify: impl FnOnce(&[u8]) -> Result<(), E>,
    keeps_previous: bool,
) -> Result<(), WriteFault<E>> {
    let fault = |step: Step| {
        let path = path.to_path_buf();
        move |source: io::Error| WriteFault::Io { step, source, path }
    };
    let target = resolve_links(path).map_err(fault(Step::Find))?;
    let old = look_at(&target).map_err(fault(Step::Find))?;
    let folder = folder_of(&target);

    let mut temporary = temporary_beside(&target).map_err(fault(Step::Create))?;
    temporary.write_all(bytes).map_err(fault(Step::Fill))?;
    if let Some(old) = &old {
        fs::set_permissions(temporary.path(), old.permissions()).map_err(fault(Step::Rights))?;
    }
    temporary.as_file().sync_all().map_err(fault(Step::Sync))?;

    let read_back = fs::read(temporary.path()).map_err(fault(Step::ReadBack))?;
    if read_back != bytes {
        return Err(WriteFault::Differs {
            path: path.to_path_buf(),
        });
    }
    verify(&read_back).map_err(|why| WriteFault::Rejected {
        why,
        path: path.to_path_buf(),
    })?;

    if keeps_previous && old.is_some() {
        keep_previous(&target).map_err(fault(Step::KeepPrevious))?;
    }
    temporary
        .persist(&target)
        .map_err(|failed| fault(Step::Replace)(failed.error))?;
    sync_folder(folder).map_err(fault(Step::SyncFolder))
}

/// What is at the target now: nothing, or a file that may be replaced.
fn look_at(target: &Path) -> io::Result<Option<fs::Metadata>> {
    let old = match fs::metadata(target) {
        Ok(old) => old,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(None),
        Err(error) => return Err(error),
    };
    if old.is_dir() {
        return Err(io::ErrorKind::IsADirectory.into());
    }
    if !old.is_file() {
        return Err(io::Error::new(
            io::ErrorKind::InvalidInput,
            "it is not an ordinary file",
        ));
    }
    if old.permissions().readonly() {
        return Err(io::Error::new(
            io::ErrorKind::PermissionDenied,
            "the file is marked read-only",
        ));
    }
    Ok(Some(old))
}

/// A temporary file with the rights of a newly made file instead of the private ones that are the crate's default.
pub(super) fn temporary_beside(target: &Path) -> io::Result<NamedTempFile> {
    let prefix = leftover_prefix(target);
    let mut builder = tempfile::Builder::new();
    builder.prefix(&prefix).suffix(LEFTOVER_SUFFIX);
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        builder.permissions(fs::Permissions::from_mode(0o666));
    }
    builder.tempfile_in(folder_of(target))
}

const LEFTOVER_SUFFIX: &str = ".tmp";

fn leftover_prefix(target: &Path) -> OsString {
    companion(target, ".", ".writing-")
        .file_name()
        .unwrap_or_default()
        .to_owned()
}

/// Removes temporary files that killed writes of `target` have left behind. Only its one writer may call this.
pub fn remove_leftovers(target: &Path) -> io::Result<()> {
    let prefix = leftover_prefix(target);
    for entry in fs::read_dir(folder_of(target))? {
        let entry = entry?;
        let name = entry.file_name();
        let bytes = name.as_encoded_bytes();
        if bytes.starts_with(prefix.as_encoded_bytes()) && bytes.ends_with(LEFTOVER_SUFFIX.as_bytes()) {
            fs::remove_file(entry.path())?;
        }
    }
    Ok(())
}

/// Copies the previous file to `NAME.bak`, itself whole or not at all; a copy, since not every disk knows hard links.
fn keep_previous(target: &Path) -> io::Result<()> {
    let temporary = temporary_beside(target)?;
    fs::copy(target, temporary.path())?;
    temporary.as_file().sync_all()?;
    temporary
        .persist(companion(target, "", ".bak"))
        .map_err(|failed| failed.error)?;
    Ok(())
}

/// Flushes a folder's list of names, so that a rename survives a power cut; only Unix systems can and need to.
pub(super) fn sync_folder(folder: &Path) -> io::Result<()> {
    if !cfg!(unix) {
        return Ok(());
    }
    match File::open(folder).and_then(|folder| folder.sync_all()) {
        // Some network disks know no flush of folders; there is nothing more to be had from them.
        Err(error)
            if matches!(
                error.kind(),
                io::ErrorKind::InvalidInput | io::ErrorKind::Unsupported
            ) =>
        {
            Ok(())
        }
        outcome => outcome,
    }
}

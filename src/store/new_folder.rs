//! A new folder full of files: there whole, or not at all.

use super::atomic::{folder_of, sync_folder};
use super::companion;
use std::ffi::OsString;
use std::fs;
use std::io;
use std::path::{Path, PathBuf};

/// What may lie where the new folder goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Place {
    /// Nothing, or an empty folder.
    Free,
    /// Anything; it is kept as `NAME.bak` (`NAME.bak-2`, ...).
    Any,
}

/// Says whether something other than an empty folder lies at a path.
pub(super) fn is_taken(folder: &Path) -> bool {
    folder.symlink_metadata().is_ok() && !is_empty(folder)
}

fn is_empty(folder: &Path) -> bool {
    fs::read_dir(folder).is_ok_and(|mut inside| inside.next().is_none())
}

/// Makes a folder: `fill` fills one beside it, which then takes its place. What a killed making of the same folder has
/// left behind is cleared away first. `fault` puts what the system says into words.
///
/// # Errors
/// What `fill` says, or the system; then what was there is as it was. Something that lies there and may not is the system's
/// `AlreadyExists`.
pub(super) fn make<E>(
    folder: &Path,
    place: Place,
    fault: impl Fn(io::Error) -> E,
    fill: impl FnOnce(&Path) -> Result<(), E>,
) -> Result<(), E> {
    if place == Place::Free && is_taken(folder) {
        return Err(fault(io::ErrorKind::AlreadyExists.into()));
    }
    let around = folder_of(folder);
    let prefix = prefix(folder);
    remove_leftovers(around, &prefix).map_err(&fault)?;
    let making = tempfile::Builder::new()
        .prefix(&prefix)
        .tempdir_in(around)
        .map_err(&fault)?;
    // The temporary folder itself is closed to others.
    let inside = making.path().join("folder");
    fs::create_dir(&inside).map_err(&fault)?;
    fill(&inside)?;
    sync_folder(&inside).map_err(&fault)?;
    if is_taken(folder) {
        if place == Place::Free {
            return Err(fault(io::ErrorKind::AlreadyExists.into()));
        }
        fs::rename(folder, free_name(folder)).map_err(&fault)?;
    } else if folder.symlink_metadata().is_ok() {
        fs::remove_dir(folder).map_err(&fault)?;
    }
    fs::rename(&inside, folder).map_err(&fault)?;
    sync_folder(around).map_err(fault)
}

fn prefix(folder: &Path) -> OsString {
    companion(folder, ".", ".making-")
        .file_name()
        .unwrap_or_default()
        .to_owned()
}

fn remove_leftovers(around: &Path, prefix: &OsString) -> io::Result<()> {
    for entry in fs::read_dir(around)? {
        let entry = entry?;
        let begins = entry
            .file_name()
            .as_encoded_bytes()
            .starts_with(prefix.as_encoded_bytes());
        if begins && entry.file_type()?.is_dir() {
            fs::remove_dir_all(entry.path())?;
        }
    }
    Ok(())
}

fn free_name(folder: &Path) -> PathBuf {
    super::first_free(|number| match number {
        1 => companion(folder, "", ".bak"),
        _ => companion(folder, "", &format!(".bak-{number}")),
    })
}

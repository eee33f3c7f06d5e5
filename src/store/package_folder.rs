//! A data package as a folder of files: written whole or not at all, and read within limits.

use super::atomic::{folder_of, remedy, sync_folder};
use super::companion;
use crate::exchange::data_package::{DESCRIPTOR, Files, PackageProblem, resources};
use crate::exchange::table_text::MAX_BYTES;
use std::fs::{self, File};
use std::io::{self, Read as _, Write as _};
use std::path::{Path, PathBuf};

/// The largest descriptor that is read, in bytes.
const MOST_DESCRIPTOR: usize = 4 << 20;

/// Why a package could not be written or read. The path comes last.
#[derive(Debug, thiserror::Error)]
pub enum FolderFault {
    /// Something is there already.
    #[error("There is something of this name already. Choose another name: {}", path.display())]
    Exists {
        /// What is there.
        path: PathBuf,
    },
    /// The system refused to write.
    #[error("Could not write the data package ({source}). {}: {}", remedy(source), path.display())]
    Write {
        /// What the system said.
        source: io::Error,
        /// The folder.
        path: PathBuf,
    },
    /// The system refused to read.
    #[error("Could not read the data package ({source}). Choose the folder that holds {DESCRIPTOR}: {}", path.display())]
    Read {
        /// What the system said.
        source: io::Error,
        /// The file or folder.
        path: PathBuf,
    },
    /// The descriptor is none of this program.
    #[error("{problem}: {}", path.display())]
    Descriptor {
        /// What is wrong with it.
        problem: PackageProblem,
        /// The folder.
        path: PathBuf,
    },
}

/// Writes the files of a package into a new folder; all of them or none. With `replace`, a folder that is there is kept
/// as `NAME.bak` (`NAME.bak-2`, ...); without it, only an empty one may be there.
///
/// # Errors
/// [`FolderFault`]; then what was there is as it was.
pub fn write(folder: &Path, files: &Files, replace: bool) -> Result<(), FolderFault> {
    let fault = |source| FolderFault::Write {
        source,
        path: folder.to_path_buf(),
    };
    let is_there = folder.symlink_metadata().is_ok();
    let is_empty = is_there && fs::read_dir(folder).is_ok_and(|mut inside| inside.next().is_none());
    if is_there && !is_empty && !replace {
        return Err(FolderFault::Exists {
            path: folder.to_path_buf(),
        });
    }
    let around = folder_of(folder);
    let making = tempfile::Builder::new()
        .prefix(".writing-")
        .tempdir_in(around)
        .map_err(fault)?;
    let inside = making.path().join("package");
    fs::create_dir(&inside).map_err(fault)?;
    for (name, bytes) in files {
        let mut file = File::create_new(inside.join(name)).map_err(fault)?;
        file.write_all(bytes).map_err(fault)?;
        file.sync_all().map_err(fault)?;
    }
    sync_folder(&inside).map_err(fault)?;
    if is_empty {
        fs::remove_dir(folder).map_err(fault)?;
    } else if is_there {
        fs::rename(folder, free_name(folder)).map_err(fault)?;
    }
    fs::rename(&inside, folder).map_err(fault)?;
    sync_folder(around).map_err(fault)
}

fn free_name(folder: &Path) -> PathBuf {
    let mut free = companion(folder, "", ".bak");
    let mut number = 2;
    while free.symlink_metadata().is_ok() {
        free = companion(folder, "", &format!(".bak-{number}"));
        number += 1;
    }
    free
}

/// Reads the files that the descriptor in a folder names. A file that is missing is left out, to be named with the other
/// problems.
///
/// # Errors
/// [`FolderFault`].
pub fn read(folder: &Path) -> Result<Files, FolderFault> {
    let mut files = Files::new();
    let descriptor = read_at_most(&folder.join(DESCRIPTOR), MOST_DESCRIPTOR)?;
    let named = resources(&descriptor).map_err(|problem| FolderFault::Descriptor {
        problem,
        path: folder.to_path_buf(),
    })?;
    files.insert(DESCRIPTOR.to_owned(), descriptor);
    for name in named {
        let path = folder.join(&name);
        if path.exists() {
            // One byte more tells that a file is too large.
            files.insert(name, read_at_most(&path, MAX_BYTES + 1)?);
        }
    }
    Ok(files)
}

fn read_at_most(path: &Path, most: usize) -> Result<Vec<u8>, FolderFault> {
    let fault = |source| FolderFault::Read {
        source,
        path: path.to_path_buf(),
    };
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(fault)?;
    file.take(most as u64).read_to_end(&mut bytes).map_err(fault)?;
    Ok(bytes)
}

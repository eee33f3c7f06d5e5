//! A data package as a folder of files: written whole or not at all, and read within limits.

use super::atomic::remedy;
use super::new_folder::{self, Place};
use crate::exchange::data_package::{DESCRIPTOR, Files, PackageProblem, resources};
use crate::exchange::table_text::MAX_BYTES;
use std::fs::File;
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
    if !replace && new_folder::is_taken(folder) {
        return Err(FolderFault::Exists {
            path: folder.to_path_buf(),
        });
    }
    let place = if replace { Place::Any } else { Place::Free };
    new_folder::make(folder, place, fault, |inside| {
        for (name, bytes) in files {
            let mut file = File::create_new(inside.join(name)).map_err(fault)?;
            file.write_all(bytes).map_err(fault)?;
            file.sync_all().map_err(fault)?;
        }
        Ok(())
    })
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

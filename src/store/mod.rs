//! Files: the project file, its journal, its lock, and nothing lost. Effects.

pub mod atomic;
pub mod backups;
pub mod fault_report;
pub mod format;
pub mod history;
pub mod journal;
pub mod lock;
mod new_folder;
pub mod package_folder;
pub mod packed;
pub mod photos;
pub mod project_file;
mod replay;

use std::ffi::OsString;
use std::path::{Path, PathBuf};

use sha2::{Digest as _, Sha256};

/// The SHA-256 of some bytes in lower-case hexadecimal, 64 characters, as `sha256sum` prints it.
pub fn digest_hex(bytes: &[u8]) -> String {
    hex(&Sha256::digest(bytes))
}

/// Bytes in lower-case hexadecimal.
fn hex(bytes: &[u8]) -> String {
    use std::fmt::Write as _;
    let mut text = String::with_capacity(2 * bytes.len());
    for byte in bytes {
        write!(text, "{byte:02x}").expect("writing to a String cannot fail");
    }
    text
}

/// The path of a companion of a file: the same folder, `prefix` before the name and `suffix` after it.
fn companion(path: &Path, prefix: &str, suffix: &str) -> PathBuf {
    let mut name = OsString::from(prefix);
    name.push(path.file_name().unwrap_or_default());
    name.push(suffix);
    path.with_file_name(name)
}

/// The first of some numbered names, from 1, that nothing has.
pub fn first_free(name: impl Fn(u32) -> PathBuf) -> PathBuf {
    let mut number = 1;
    loop {
        let free = name(number);
        if free.symlink_metadata().is_err() {
            return free;
        }
        number += 1;
    }
}

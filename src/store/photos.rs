//! The photographs of a project: kept untouched in the folder `NAME.photos` beside `NAME.ron`, known by their digest, found
//! again by it.
//!
//! A project names a photo by its file's name within that folder, so both can be moved together. Nothing here looks into
//! a photograph, and nothing changes one: an original that was kept has the bytes that it came with.

use super::atomic::{self, WriteFault, remedy};
use super::digest_hex;
use crate::model::Photo;
use std::convert::Infallible;
use std::ffi::OsStr;
use std::fs::{self, File};
use std::io::{self, Read as _};
use std::path::{Component, Path, PathBuf};

/// The largest photo that is kept or read, in bytes.
pub const MOST_PHOTO_BYTES: u64 = 256_000_000;

/// The longest name of a kept photo, in bytes, without its ending.
const MOST_NAME: usize = 120;

/// How many files are looked at when photos are searched for.
const MOST_SEARCHED: usize = 20_000;

/// How many folders deep is searched.
const MOST_DEPTH: usize = 6;

/// Why a photo could not be kept or read. The path comes last.
#[derive(Debug, thiserror::Error)]
pub enum PhotoFileFault {
    /// The photos' folder could not be made or listed.
    #[error("Could not open the folder of photos ({source}). {}: {}", remedy(source), path.display())]
    Folder {
        /// What the system said.
        source: io::Error,
        /// The folder.
        path: PathBuf,
    },
    /// Writing failed; nothing is left behind.
    #[error(transparent)]
    Write(#[from] WriteFault<Infallible>),
    /// A photo could not be read.
    #[error("Could not read the photo ({source}). {}: {}", remedy(source), path.display())]
    Read {
        /// What the system said.
        source: io::Error,
        /// The photo.
        path: PathBuf,
    },
    /// A photo is not there.
    #[error("The photo {file} is missing. Use 'Find photos' and point to the folder where it is now: {}", path.display())]
    Missing {
        /// Its name in the project.
        file: String,
        /// Where it should be.
        path: PathBuf,
    },
    /// Another file lies under the name of a photo.
    #[error(
        "The file {file} is not the photo that was taken up: it was changed or replaced. \
         Use 'Find photos' and point to a folder with the original: {}", path.display()
    )]
    Changed {
        /// Its name in the project.
        file: String,
        /// The file.
        path: PathBuf,
    },
    /// A photo is too large.
    #[error("The photo has {bytes} bytes; at most {MOST_PHOTO_BYTES} are kept. Save it smaller, as JPEG: {}", path.display())]
    TooLarge {
        /// Its size in bytes.
        bytes: u64,
        /// The file.
        path: PathBuf,
    },
    /// The project names a file outside of its folder.
    #[error(
        "The project names a photo outside of its own folder, which is not opened. Remove the photo from its tray: {file}"
    )]
    OutsideFolder {
        /// The name in the project.
        file: String,
    },
}

/// A photo as the project names it.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub struct PhotoFile {
    /// The name of its file within the project's folder of photos.
    pub file: String,
    /// The SHA-256 of its bytes, in hexadecimal.
    pub digest: String,
}

impl PhotoFile {
    /// The file of a photograph.
    pub fn of(photo: &Photo) -> Self {
        Self {
            file: photo.file.clone(),
            digest: photo.digest.clone(),
        }
    }
}

/// The folder in which a project keeps its photos: `NAME.photos` beside `NAME.ron`.
pub fn folder_of(project: &Path) -> PathBuf {
    project.with_extension("photos")
}

/// Keeps a photo of a project: puts its bytes, as they are, into the project's folder of photos under a name of its own.
///
/// `name` is what it is called where it comes from. `named` are the photos that the project names already, of which some
/// may be missing: their names are not given again. A photo of the same bytes is not kept twice.
///
/// # Errors
/// [`PhotoFileFault`]; then nothing new lies in the folder.
pub fn keep(
    project: &Path,
    name: &str,
    bytes: &[u8],
    named: &[PhotoFile],
) -> Result<PhotoFile, PhotoFileFault> {
    let folder = folder_of(project);
    let size = bytes.len() as u64;
    if size > MOST_PHOTO_BYTES {
        return Err(PhotoFileFault::TooLarge {
            bytes: size,
            path: folder.join(safe_name(name)),
        });
    }
    let digest = digest_hex(bytes);
    let present = open_folder(&folder)?;
    if let Some(same) = named.iter().find(|photo| photo.digest == digest) {
        match read(project, same) {
            Ok(_) => return Ok(same.clone()),
            Err(PhotoFileFault::Missing { path, .. }) => {
                atomic::write(&path, bytes, |_| Ok(()))?;
                return Ok(same.clone());
            }
            // Another file lies under that name: this one gets a new name.
            Err(_) => {}
        }
    }
    let is_taken = |name: &str| {
        let name = name.to_lowercase();
        present.iter().any(|other| other.to_lowercase() == name)
            || named.iter().any(|photo| photo.file.to_lowercase() == name)
    };
    let wanted = safe_name(name);
    // A photo that was taken back and is kept again lies there still.
    let is_named = named.iter().any(|photo| photo.file == wanted);
    if !is_named && read_file(&folder.join(&wanted)).is_ok_and(|there| there == bytes) {
        return Ok(PhotoFile { file: wanted, digest });
    }
    let file = free_name(&wanted, is_taken);
    atomic::write(&folder.join(&file), bytes, |_| Ok(()))?;
    Ok(PhotoFile { file, digest })
}

/// Makes the folder if need be, and lists the names in it.
fn open_folder(folder: &Path) -> Result<Vec<String>, PhotoFileFault> {
    let fault = |source| PhotoFileFault::Folder {
        source,
        path: folder.to_path_buf(),
    };
    fs::create_dir_all(folder).map_err(fault)?;
    let mut names = Vec::new();
    for entry in fs::read_dir(folder).map_err(fault)? {
        names.push(entry.map_err(fault)?.file_name().to_string_lossy().into_owned());
    }
    Ok(names)
}

/// The first of `a.jpg`, `a-2.jpg`, `a-3.jpg` and so on that is free.
fn free_name(name: &str, is_taken: impl Fn(&str) -> bool) -> String {
    let (stem, ending) = split_ending(name);
    let mut free = name.to_owned();
    let mut number = 2;
    while is_taken(&free) {
        free = format!("{stem}-{number}{ending}");
        number += 1;
    }
    free
}

/// A name and its ending, which keeps its dot.
fn split_ending(name: &str) -> (&str, &str) {
    name.rfind('.').map_or((name, ""), |dot| name.split_at(dot))
}

/// What a name becomes so that every system takes it as the name of a file within a folder: letters, digits, and a few
/// signs; no folders, no leading dot, not too long, none of the names that Windows keeps for devices.
pub(super) fn safe_name(name: &str) -> String {
    let last = name.rsplit(['/', '\\', ':']).next().unwrap_or_default();
    let clean: String = last
        .chars()
        .map(|letter| {
            if letter.is_alphanumeric() || "-_ .()".contains(letter) {
                letter
            } else {
                '_'
            }
        })
        .collect();
    let clean = clean.trim_matches([' ', '.']);
    let (stem, ending) = split_ending(clean);
    let end = (0..=stem.len().min(MOST_NAME))
        .rev()
        .find(|&end| stem.is_char_boundary(end));
    let stem = stem[..end.unwrap_or(0)].trim_end_matches([' ', '.']);
    let ending: String = ending.chars().take(8).filter(|letter| *letter != ' ').collect();
    if stem.is_empty() {
        return format!("photo{ending}");
    }
    format!("{}{stem}{ending}", if is_device(stem) { "_" } else { "" })
}

/// Whether Windows takes a name for that of a device. The name up to its first dot counts: `nul.a.jpg` is a device too.
pub(super) fn is_device(name: &str) -> bool {
    let device = name
        .split('.')
        .next()
        .unwrap_or_default()
        .trim_end()
        .to_ascii_uppercase();
    let numbered = |kind: &str| {
        let rest = device.strip_prefix(kind).unwrap_or_default();
        rest.len() == 1 && rest.bytes().all(|digit| digit.is_ascii_digit())
    };
    ["CON", "PRN", "AUX", "NUL"].contains(&device.as_str()) || numbered("COM") || numbered("LPT")
}

/// Reads a photo of a project and makes sure that it is the one that was kept.
///
/// # Errors
/// [`PhotoFileFault`].
pub fn read(project: &Path, photo: &PhotoFile) -> Result<Vec<u8>, PhotoFileFault> {
    let path = path_of(project, &photo.file)?;
    let bytes = match read_file(&path) {
        Err(PhotoFileFault::Read { source, path }) if source.kind() == io::ErrorKind::NotFound => {
            return Err(PhotoFileFault::Missing {
                file: photo.file.clone(),
                path,
            });
        }
        outcome => outcome?,
    };
    if digest_hex(&bytes) == photo.digest {
        Ok(bytes)
    } else {
        Err(PhotoFileFault::Changed {
            file: photo.file.clone(),
            path,
        })
    }
}

/// Says whether a photo's file lies where it should; not whether it is the right one, which takes reading it.
pub fn is_there(project: &Path, file: &str) -> bool {
    path_of(project, file).is_ok_and(|path| path.is_file())
}

/// Where a photo of a project lies. Its name comes from a file that anybody may have edited, so it must be a plain name.
fn path_of(project: &Path, file: &str) -> Result<PathBuf, PhotoFileFault> {
    let mut parts = Path::new(file).components();
    let is_plain = matches!((parts.next(), parts.next()), (Some(Component::Normal(part)), None) if part == OsStr::new(file))
        && !file.contains(['/', '\\', ':', '\0']);
    if is_plain {
        Ok(folder_of(project).join(file))
    } else {
        Err(PhotoFileFault::OutsideFolder {
            file: file.to_owned(),
        })
    }
}

/// Reads a file that a grower chose, or one of the project's own, up to the largest size.
///
/// # Errors
/// [`PhotoFileFault::Read`] and [`PhotoFileFault::TooLarge`].
pub fn read_file(path: &Path) -> Result<Vec<u8>, PhotoFileFault> {
    let fault = |source| PhotoFileFault::Read {
        source,
        path: path.to_path_buf(),
    };
    let about = fs::metadata(path).map_err(fault)?;
    if !about.is_file() {
        return Err(fault(io::Error::new(
            io::ErrorKind::InvalidInput,
            "it is not an ordinary file",
        )));
    }
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(fault)?;
    // The size may have grown since it was asked for.
    file.take(MOST_PHOTO_BYTES + 1)
        .read_to_end(&mut bytes)
        .map_err(fault)?;
    let size = about.len().max(bytes.len() as u64);
    if size > MOST_PHOTO_BYTES {
        return Err(PhotoFileFault::TooLarge {
            bytes: size,
            path: path.to_path_buf(),
        });
    }
    Ok(bytes)
}

/// What a search for missing photos brought.
#[derive(Debug, Default, PartialEq, Eq)]
pub struct Search {
    /// The photos found, as they are named now: they lie in the project's folder again.
    pub found: Vec<PhotoFile>,
    /// How many files were looked at.
    pub looked_at: usize,
    /// How many files and folders could not be read.
    pub unreadable: usize,
    /// Whether all of the folder was looked at: not when there was too much in it, or nobody wanted to wait.
    pub whole: bool,
}

/// Looks for missing photos by their digest in a folder and those in it, and copies those found into the project's folder of
/// photos, under the names that the project has for them, or others where a different file lies there.
///
/// `going_on` is told how much is done, from 0 to 1, and says whether to go on.
///
/// # Errors
/// [`PhotoFileFault`] when a photo that was found cannot be kept.
pub fn find_again(
    project: &Path,
    missing: &[PhotoFile],
    named: &[PhotoFile],
    folder: &Path,
    mut going_on: impl FnMut(f32) -> bool,
) -> Result<Search, PhotoFileFault> {
    let mut search = Search::default();
    let mut files = Vec::new();
    search.whole = gather(folder, MOST_DEPTH, &mut files, &mut search.unreadable);
    // A file of the same name is most likely the photo.
    let is_named = |path: &Path| {
        path.file_name()
            .is_some_and(|name| missing.iter().any(|photo| name == photo.file.as_str()))
    };
    files.sort_by_key(|path| !is_named(path));
    let mut open: Vec<&PhotoFile> = missing.iter().collect();
    let own = folder_of(project);
    for (at, path) in files.iter().enumerate() {
        if open.is_empty() {
            break;
        }
        if !going_on(at as f32 / files.len() as f32) {
            search.whole = false;
            break;
        }
        search.looked_at += 1;
        let Ok(bytes) = read_file(path) else {
            search.unreadable += 1;
            continue;
        };
        let digest = digest_hex(&bytes);
        if !open.iter().any(|photo| photo.digest == digest) {
            continue;
        }
        for photo in open.iter().filter(|photo| photo.digest == digest) {
            let file = put_back(project, photo, path.parent() == Some(&own), path, &bytes, named)?;
            search.found.push(PhotoFile {
                file,
                digest: digest.clone(),
            });
        }
        open.retain(|photo| photo.digest != digest);
    }
    Ok(search)
}

/// Puts a photo that was found where the project looks for it, and gives the name under which it lies.
fn put_back(
    project: &Path,
    photo: &PhotoFile,
    lies_in_own_folder: bool,
    found: &Path,
    bytes: &[u8],
    named: &[PhotoFile],
) -> Result<String, PhotoFileFault> {
    if lies_in_own_folder && let Some(name) = found.file_name().and_then(OsStr::to_str) {
        return Ok(name.to_owned());
    }
    keep(project, &photo.file, bytes, named).map(|kept| kept.file)
}

/// Gathers the photos by their endings; false when there were too many, or folders too deep.
fn gather(folder: &Path, depth: usize, files: &mut Vec<PathBuf>, unreadable: &mut usize) -> bool {
    let Ok(entries) = fs::read_dir(folder) else {
        *unreadable += 1;
        return true;
    };
    let mut entries: Vec<_> = entries.flatten().collect();
    entries.sort_by_key(fs::DirEntry::file_name);
    let mut whole = true;
    for entry in entries {
        if files.len() >= MOST_SEARCHED {
            return false;
        }
        let path = entry.path();
        // A link to a folder could lead round in a circle.
        match entry.file_type() {
            Ok(kind) if kind.is_dir() && depth == 0 => whole = false,
            Ok(kind) if kind.is_dir() => whole &= gather(&path, depth - 1, files, unreadable),
            Ok(_) if is_photo(&path) => files.push(path),
            Ok(_) => {}
            Err(_) => *unreadable += 1,
        }
    }
    whole
}

fn is_photo(path: &Path) -> bool {
    let ending = path.extension().and_then(OsStr::to_str).unwrap_or_default();
    ["jpg", "jpeg", "png", "jpe"]
        .iter()
        .any(|known| ending.eq_ignore_ascii_case(known))
}

/// Copies the photos of a project to one saved under another name, each checked by its digest. Gives what could not be
/// copied; the others are there.
pub fn carry(from: &Path, to: &Path, photos: &[PhotoFile]) -> Vec<PhotoFileFault> {
    if folder_of(from) == folder_of(to) {
        return Vec::new();
    }
    let one = |photo: &PhotoFile| {
        if read(to, photo).is_ok() {
            return Ok(());
        }
        let bytes = read(from, photo)?;
        open_folder(&folder_of(to))?;
        atomic::write(&path_of(to, &photo.file)?, &bytes, |_| Ok(()))?;
        Ok(())
    };
    photos.iter().filter_map(|photo| one(photo).err()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_made_safe_for_every_system() {
        for (name, safe) in [
            ("IMG_0001.JPG", "IMG_0001.JPG"),
            ("tray 3 (early).jpg", "tray 3 (early).jpg"),
            ("../../etc/passwd", "passwd"),
            ("C:\\photos\\a.jpg", "a.jpg"),
            ("..", "photo"),
            (".hidden.png", "hidden.png"),
            ("", "photo"),
            ("/", "photo"),
            (".jpg", "jpg"),
            ("a\0b\n<c>|?*\".jpg", "a_b__c_____.jpg"),
            ("nul.jpg", "_nul.jpg"),
            ("Com7", "_Com7"),
            ("command.jpg", "command.jpg"),
            ("trailing. .jpg", "trailing.jpg"),
            ("Töpfe 日.jpg", "Töpfe 日.jpg"),
        ] {
            assert_eq!(safe_name(name), safe, "{name:?}");
        }
        let long = safe_name(&format!("{}.jpeg", "a".repeat(5000)));
        assert_eq!(long, format!("{}.jpeg", "a".repeat(MOST_NAME)));
        assert_eq!(safe_name(&long), long);
        let wide = safe_name(&format!("{}.jpeg", "日".repeat(5000)));
        assert_eq!(wide, format!("{}.jpeg", "日".repeat(MOST_NAME / 3)));
    }

    #[test]
    fn names_out_of_a_project_must_be_plain() {
        let project = Path::new("x/crib.ron");
        assert!(path_of(project, "a.jpg").is_ok_and(|path| path == Path::new("x/crib.photos/a.jpg")));
        for bad in [
            "", ".", "..", "../a.jpg", "a/b.jpg", "a/", "/a.jpg", "a\\b.jpg", "c:a.jpg", "./a.jpg", "a\0.jpg",
        ] {
            assert!(path_of(project, bad).is_err(), "{bad:?}");
        }
    }
}

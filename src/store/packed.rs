//! A packed copy: a project and its photos in one zip (`NAME.ron`, `NAME.photos/...`), to carry to another computer, and
//! out of it again.
//!
//! A zip may come from anywhere, so nothing in it is believed: all that it lists is looked at before anything is
//! written, only the files of one project are taken out, each is counted while it is read, and every photo must be the one
//! that the project names by its digest. A folder is made whole or not at all.

use super::atomic::{self, remedy};
use super::format::{self, FormatFault, MOST_BYTES};
use super::new_folder::{self, Place};
use super::photos::{self, MOST_PHOTO_BYTES, PhotoFile, PhotoFileFault};
use crate::model::Project;
use sha2::{Digest as _, Sha256};
use std::collections::{BTreeMap, BTreeSet};
use std::fs::File;
use std::io::{self, BufReader, BufWriter, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};
use zip::read::ZipFile;
use zip::result::ZipError;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipArchive, ZipWriter};

/// How many files a packed copy may list.
pub const MOST_FILES: usize = 20_000;
/// How many bytes they may have together when they are unpacked.
pub const MOST_TOTAL: u64 = 64 << 30;
/// How many times larger than in the zip a file may be. The text of a project shrinks 6 to 12 times (measured on the
/// demo projects), photos hardly at all; what shrinks far more is there to fill a disk.
pub const MOST_RATIO: u64 = 200;
/// Files below this size in bytes may shrink as much as they like.
const RATIO_MATTERS: u64 = 1 << 20;
/// So much is read at a time, in bytes.
const CHUNK: usize = 1 << 16;
/// The end of a zip is at most this long, in bytes: 22 and a comment.
const LONGEST_END: u64 = 22 + 65_535;

/// Why a packed copy could not be made or opened. The path comes last.
#[derive(Debug, thiserror::Error)]
pub enum PackFault {
    /// Something is there already.
    #[error("There is something of this name already. Choose another name: {}", path.display())]
    Exists {
        /// What is there.
        path: PathBuf,
    },
    /// The system refused to write.
    #[error("Could not write ({source}). {}: {}", remedy(source), path.display())]
    Write {
        /// What the system said.
        source: io::Error,
        /// The zip or the folder.
        path: PathBuf,
    },
    /// The system refused to read.
    #[error("Could not read the packed copy ({source}). {}: {}", remedy(source), path.display())]
    Read {
        /// What the system said.
        source: io::Error,
        /// The zip.
        path: PathBuf,
    },
    /// The project cannot be written as text. A fault of the program.
    #[error("The project could not be written as text ({why}). Please report this fault of the program: {}", path.display())]
    Text {
        /// What is wrong.
        why: String,
        /// The zip.
        path: PathBuf,
    },
    /// The zip that was written cannot be read again: the disk is at fault.
    #[error("The packed copy was written, but what was read back is not the same ({why}). It was not kept. Save to another disk, and have this one checked: {}", path.display())]
    Differs {
        /// What is not the same.
        why: Refusal,
        /// The zip.
        path: PathBuf,
    },
    /// The zip is not taken.
    #[error("Nothing was unpacked: {why}: {}", path.display())]
    Refused {
        /// What is wrong with it.
        why: Refusal,
        /// The zip.
        path: PathBuf,
    },
    /// Somebody no longer wants it; nothing is left behind.
    #[error("It was stopped, and nothing was written: {}", path.display())]
    Stopped {
        /// The zip or the folder.
        path: PathBuf,
    },
}

/// What is wrong with a zip. Displays as the middle of a sentence, with what to do.
#[derive(Debug, thiserror::Error)]
pub enum Refusal {
    /// It is another kind of file.
    #[error("this is not a zip. Choose a packed copy of a project")]
    NoZip,
    /// It ends early, or its parts contradict each other.
    #[error("the zip is cut off or damaged ({0}). Copy it again from where it came")]
    Damaged(String),
    /// It lists too many files.
    #[error("the zip lists {files} files, and a packed copy at most {MOST_FILES}. Choose another file")]
    TooMany {
        /// So many.
        files: usize,
    },
    /// A file would land outside of the folder.
    #[error(
        "the zip names a file outside of its own folder, '{name}', as a zip does that is meant to do harm. Do not use it"
    )]
    Outside {
        /// The name.
        name: String,
    },
    /// It is no file but a link to one.
    #[error("'{name}' in the zip is a link and not a file, and a packed copy has none. Do not use it")]
    Link {
        /// The name.
        name: String,
    },
    /// It lists a file twice.
    #[error(
        "the zip lists a file twice ({name}), so it is not clear which one is right. Pack the project again"
    )]
    Twice {
        /// The name.
        name: String,
    },
    /// It needs a password.
    #[error(
        "'{name}' in the zip is locked with a password. Unlock it with the program that locked it, and pack the project again"
    )]
    Locked {
        /// The name.
        name: String,
    },
    /// It is packed in a way that this program never uses.
    #[error(
        "'{name}' in the zip is packed in a way that is not known here. Pack the project again with this program"
    )]
    Method {
        /// The name.
        name: String,
    },
    /// It belongs to no project.
    #[error(
        "'{name}' in the zip does not belong to a packed copy, which holds one project and its photos. If you trust the zip, take the project out of it with another program"
    )]
    Stranger {
        /// The name.
        name: String,
    },
    /// A file is too large.
    #[error("'{name}' in the zip would have {bytes} bytes, and at most {most} are taken. Do not use it")]
    TooLarge {
        /// The name.
        name: String,
        /// Its size in bytes.
        bytes: u64,
        /// The largest size in bytes.
        most: u64,
    },
    /// All files together are too large.
    #[error(
        "the files in the zip would have {bytes} bytes together, and at most {MOST_TOTAL} are taken. Do not use it"
    )]
    TooMuch {
        /// Their size in bytes.
        bytes: u64,
    },
    /// A file is packed far more tightly than any project.
    #[error(
        "'{name}' in the zip would become more than {MOST_RATIO} times as large as it is packed, as in a zip that is meant to fill a disk. Do not use it"
    )]
    Bomb {
        /// The name.
        name: String,
    },
    /// There is no project in it.
    #[error("there is no project in the zip. Choose a packed copy of a project")]
    NoProject,
    /// The project cannot be read.
    #[error("the project in the zip cannot be read ({0})")]
    Project(FormatFault),
    /// A photo is not the one that the project names.
    #[error(
        "the photo '{name}' in the zip is not the one that the project names: it was changed or replaced. Pack the project again"
    )]
    OtherPhoto {
        /// The name.
        name: String,
    },
}

/// What was packed.
#[derive(Debug)]
pub struct Packed {
    /// How many photos are in the zip.
    pub photos: usize,
    /// The photos that the project names and that are not in it, each with the reason.
    pub left_out: Vec<PhotoFileFault>,
}

/// What was unpacked.
#[derive(Debug, PartialEq, Eq)]
pub struct Unpacked {
    /// The project's file in the new folder.
    pub project: PathBuf,
    /// How many photos came along.
    pub photos: usize,
}

/// Packs a project, as it is in `project`, with the photos that lie beside `file`, into a new zip. The same project and
/// photos always give the same bytes. Photos that are missing or were changed are left out and named.
///
/// `going_on` is told how much is done, from 0 to 1, and says whether to go on.
///
/// # Errors
/// [`PackFault`]; then there is no zip, and nothing else.
pub fn pack(
    project: &Project,
    file: &Path,
    to: &Path,
    mut going_on: impl FnMut(f32) -> bool,
) -> Result<Packed, PackFault> {
    let fault = |source: io::Error| match source.kind() {
        io::ErrorKind::AlreadyExists => PackFault::Exists {
            path: to.to_path_buf(),
        },
        _ => PackFault::Write {
            source,
            path: to.to_path_buf(),
        },
    };
    if to.symlink_metadata().is_ok() {
        return Err(fault(io::ErrorKind::AlreadyExists.into()));
    }
    let text = format::write(project).map_err(|error| PackFault::Text {
        why: error.to_string(),
        path: to.to_path_buf(),
    })?;
    atomic::remove_leftovers(to).map_err(fault)?;
    let temporary = atomic::temporary_beside(to).map_err(fault)?;
    let stem = stem_of(file);
    let mut zip = ZipWriter::new(BufWriter::new(temporary.as_file())).set_auto_large_file();
    // A date of its own would make two packed copies of one project differ.
    let plain = SimpleFileOptions::default()
        .last_modified_time(DateTime::default())
        .unix_permissions(0o644);
    let deflated = plain.compression_method(CompressionMethod::Deflated);
    let stored = plain.compression_method(CompressionMethod::Stored);
    let zip_fault = |error: ZipError| fault(error.into());
    zip.start_file(format!("{stem}.ron"), deflated)
        .map_err(zip_fault)?;
    zip.write_all(text.as_bytes()).map_err(fault)?;
    let named = named_photos(project);
    let mut packed = Packed {
        photos: 0,
        left_out: Vec::new(),
    };
    for (at, (name, digest)) in named.iter().enumerate() {
        // The other half is reading it back.
        if !going_on(at as f32 / named.len() as f32 / 2.0) {
            return Err(PackFault::Stopped {
                path: to.to_path_buf(),
            });
        }
        let photo = PhotoFile {
            file: (*name).to_owned(),
            digest: (*digest).to_owned(),
        };
        match photos::read(file, &photo) {
            Ok(bytes) => {
                zip.start_file(format!("{stem}.photos/{name}"), stored)
                    .map_err(zip_fault)?;
                zip.write_all(&bytes).map_err(fault)?;
                packed.photos += 1;
            }
            Err(why) => packed.left_out.push(why),
        }
    }
    let buffer = zip.finish().map_err(zip_fault)?;
    let written = buffer.into_inner().map_err(|error| fault(error.into_error()))?;
    written.sync_all().map_err(fault)?;
    read_back(temporary.path(), to, |done| going_on(0.5 + done / 2.0))?;
    temporary
        .persist_noclobber(to)
        .map_err(|failed| fault(failed.error))?;
    atomic::sync_folder(atomic::folder_of(to)).map_err(fault)?;
    Ok(packed)
}

/// The photos that a project names, by name, with their digests.
fn named_photos(project: &Project) -> BTreeMap<&str, &str> {
    let photos = project.photos.iter();
    photos
        .map(|photo| (photo.file.as_str(), photo.digest.as_str()))
        .collect()
}

/// What the files in the zip are called after the project's file.
fn stem_of(file: &Path) -> String {
    let stem = file.file_stem().unwrap_or_default().to_string_lossy();
    photos::safe_name(&stem)
}

/// Reads a zip that was just written, and throws away what is in it.
fn read_back(written: &Path, to: &Path, going_on: impl FnMut(f32) -> bool) -> Result<(), PackFault> {
    let outcome = Contents::of(written).and_then(|contents| {
        let nowhere = |_: &Listed| Ok(io::sink());
        contents.take_out(going_on, nowhere, |_| Ok(()))
    });
    outcome.map_err(|fault| match fault {
        PackFault::Refused { why, .. } => PackFault::Differs {
            why,
            path: to.to_path_buf(),
        },
        PackFault::Stopped { .. } => PackFault::Stopped {
            path: to.to_path_buf(),
        },
        other => other,
    })
}

/// Unpacks a packed copy into a new folder: the project as `NAME.ron` and its photos beside it. An empty folder may be there
/// already.
///
/// `going_on` is told how much is done, from 0 to 1, and says whether to go on.
///
/// # Errors
/// [`PackFault`]; then the folder is not there, or as empty as it was.
pub fn unpack(zip: &Path, folder: &Path, going_on: impl FnMut(f32) -> bool) -> Result<Unpacked, PackFault> {
    let fault = |source: io::Error| match source.kind() {
        io::ErrorKind::AlreadyExists => PackFault::Exists {
            path: folder.to_path_buf(),
        },
        _ => PackFault::Write {
            source,
            path: folder.to_path_buf(),
        },
    };
    if new_folder::is_taken(folder) {
        return Err(fault(io::ErrorKind::AlreadyExists.into()));
    }
    let contents = Contents::of(zip)?;
    let stem = contents.stem.clone();
    let photos = contents.files.iter().filter(|file| file.photo.is_some()).count();
    new_folder::make(folder, Place::Free, fault, |inside| {
        let project = inside.join(format!("{stem}.ron"));
        let beside = photos::folder_of(&project);
        if photos > 0 {
            std::fs::create_dir(&beside).map_err(fault)?;
        }
        let open = |listed: &Listed| {
            let path = match &listed.photo {
                None => project.clone(),
                Some(name) => beside.join(name),
            };
            File::create_new(path).map_err(fault)
        };
        contents.take_out(going_on, open, |file| file.sync_all().map_err(fault))?;
        if photos > 0 {
            atomic::sync_folder(&beside).map_err(fault)?;
        }
        Ok(())
    })?;
    Ok(Unpacked {
        project: folder.join(format!("{stem}.ron")),
        photos,
    })
}

/// A file that a zip lists.
#[derive(Debug)]
struct Listed {
    /// Its number in the zip.
    at: usize,
    /// Its whole name in the zip.
    name: String,
    /// Its name in the folder of photos; none for the project.
    photo: Option<String>,
    bytes: u64,
}

/// A zip of which everything that it lists was looked at.
struct Contents {
    zip: ZipArchive<BufReader<File>>,
    path: PathBuf,
    /// What its project is called, without `.ron`.
    stem: String,
    /// The project, then its photos.
    files: Vec<Listed>,
}

impl Contents {
    fn of(path: &Path) -> Result<Self, PackFault> {
        let refused = |why: Refusal| PackFault::Refused {
            why,
            path: path.to_path_buf(),
        };
        let unreadable = |source: io::Error| PackFault::Read {
            source,
            path: path.to_path_buf(),
        };
        let file = File::open(path).map_err(unreadable)?;
        if !file.metadata().map_err(unreadable)?.is_file() {
            return Err(refused(Refusal::NoZip));
        }
        let mut file = BufReader::new(file);
        let mut first = Vec::new();
        file.by_ref()
            .take(4)
            .read_to_end(&mut first)
            .map_err(unreadable)?;
        // A file of the zip, or the end of one that has none (APPNOTE 6.3.10, sections 4.3.7 and 4.3.16).
        if first != *b"PK\x03\x04" && first != *b"PK\x05\x06" {
            return Err(refused(Refusal::NoZip));
        }
        let told = |error: ZipError| match error {
            ZipError::Io(source) if source.kind() != io::ErrorKind::UnexpectedEof => unreadable(source),
            other => refused(damaged(&other)),
        };
        // Before the list is taken into memory.
        let listed = listed_files(&mut file).map_err(unreadable)?;
        if listed > MOST_FILES {
            return Err(refused(Refusal::TooMany { files: listed }));
        }
        let mut zip = ZipArchive::new(file).map_err(told)?;
        if zip.len() > MOST_FILES {
            return Err(refused(Refusal::TooMany { files: zip.len() }));
        }
        let (stem, files) = look_at_list(&zip).map_err(refused)?;
        // Two lists that differ, and files that share their bytes.
        zip.validate_header_consistency().map_err(told)?;
        Ok(Self {
            zip,
            path: path.to_path_buf(),
            stem,
            files,
        })
    }

    /// Reads all files, each into what `open` gives for it and `close` takes.
    fn take_out<W: Write>(
        mut self,
        mut going_on: impl FnMut(f32) -> bool,
        mut open: impl FnMut(&Listed) -> Result<W, PackFault>,
        mut close: impl FnMut(W) -> Result<(), PackFault>,
    ) -> Result<(), PackFault> {
        let path = self.path;
        let total: u64 = self.files.iter().map(|file| file.bytes).sum();
        let mut done = 0;
        let mut step = |bytes: usize| {
            done += bytes as u64;
            going_on(done as f32 / total.max(1) as f32)
        };
        let refused = |why: Refusal| PackFault::Refused {
            why,
            path: path.clone(),
        };
        let mut digests = BTreeMap::new();
        for listed in &self.files {
            let mut entry = self
                .zip
                .by_index(listed.at)
                .map_err(|error| refused(damaged(&error)))?;
            let mut text = Vec::new();
            let mut to = open(listed)?;
            let read = copy(&mut entry, listed, |chunk| {
                to.write_all(chunk).map_err(|source| PackFault::Write {
                    source,
                    path: path.clone(),
                })?;
                if listed.photo.is_none() {
                    text.extend_from_slice(chunk);
                }
                if step(chunk.len()) {
                    Ok(())
                } else {
                    Err(PackFault::Stopped { path: path.clone() })
                }
            });
            let digest = read.map_err(|end| match end {
                Ended::Early(fault) => fault,
                Ended::Refused(why) => refused(why),
            })?;
            close(to)?;
            match &listed.photo {
                None => {
                    let project = format::read(&text).map_err(|fault| refused(Refusal::Project(fault)))?;
                    let named = named_photos(&project);
                    digests.extend(
                        named
                            .into_iter()
                            .map(|(name, digest)| (name.to_owned(), digest.to_owned())),
                    );
                }
                Some(name) if digests.contains_key(name) => {
                    if digests[name] != digest {
                        return Err(refused(Refusal::OtherPhoto { name: name.clone() }));
                    }
                }
                Some(_) => {
                    return Err(refused(Refusal::Stranger {
                        name: shown(&listed.name),
                    }));
                }
            }
        }
        Ok(())
    }
}

/// Why a file of a zip was not read to its end.
enum Ended {
    Early(PackFault),
    Refused(Refusal),
}

/// Reads a file of a zip in chunks, never more than the zip says, and gives its SHA-256 in hexadecimal.
fn copy<R: Read + Seek>(
    entry: &mut ZipFile<'_, R>,
    listed: &Listed,
    mut take: impl FnMut(&[u8]) -> Result<(), PackFault>,
) -> Result<String, Ended> {
    let other_size = || {
        let name = shown(&listed.name);
        Ended::Refused(Refusal::Damaged(format!(
            "'{name}' has not the size that it is said to have"
        )))
    };
    let mut hasher = Sha256::new();
    let mut left = listed.bytes;
    let mut chunk = vec![0; CHUNK];
    loop {
        let number = match entry.read(&mut chunk) {
            Ok(0) => break,
            Ok(number) => number,
            Err(error) if error.kind() == io::ErrorKind::Interrupted => continue,
            Err(error) => return Err(Ended::Refused(Refusal::Damaged(error.to_string()))),
        };
        left = left.checked_sub(number as u64).ok_or_else(other_size)?;
        hasher.update(&chunk[..number]);
        take(&chunk[..number]).map_err(Ended::Early)?;
    }
    if left > 0 {
        return Err(other_size());
    }
    Ok(super::hex(&hasher.finalize()))
}

/// How many files a zip says that it lists, at its end (APPNOTE 6.3.10, section 4.3.16); 65,535 stands for more.
fn listed_files(file: &mut BufReader<File>) -> io::Result<usize> {
    let length = file.seek(SeekFrom::End(0))?;
    file.seek(SeekFrom::Start(length.saturating_sub(LONGEST_END)))?;
    let mut end = Vec::new();
    file.read_to_end(&mut end)?;
    file.rewind()?;
    let at = end.windows(4).rposition(|four| four == b"PK\x05\x06");
    let number = at.and_then(|at| end.get(at + 10..at + 12));
    Ok(number.map_or(0, |number| usize::from(number[0]) + (usize::from(number[1]) << 8)))
}

/// Looks at everything that a zip lists, and gives what its project is called and its files, the project first.
fn look_at_list(zip: &ZipArchive<BufReader<File>>) -> Result<(String, Vec<Listed>), Refusal> {
    let mut project: Option<Listed> = None;
    let mut photos = Vec::new();
    let mut seen = BTreeSet::new();
    let mut total = 0_u64;
    for at in 0..zip.len() {
        let entry = zip.by_index_data(at).map_err(|error| damaged(&error))?;
        total = total.saturating_add(entry.size());
    }
    if total > MOST_TOTAL {
        return Err(Refusal::TooMuch { bytes: total });
    }
    for at in 0..zip.len() {
        let entry = zip.by_index_data(at).map_err(|error| damaged(&error))?;
        let name = entry.name().map_err(|error| damaged(&error))?.into_owned();
        let shown = || shown(&name);
        let parts = parts_of(&name).ok_or_else(|| Refusal::Outside { name: shown() })?;
        if entry.is_symlink() {
            return Err(Refusal::Link { name: shown() });
        }
        // On some systems both would be one file.
        if !seen.insert(name.to_lowercase()) {
            return Err(Refusal::Twice { name: shown() });
        }
        if entry.encrypted() {
            return Err(Refusal::Locked { name: shown() });
        }
        let (photo, most) = match parts {
            Parts::Folder => continue,
            Parts::File(folder, file) if folder.ends_with(".photos") => {
                (Some((folder, file)), MOST_PHOTO_BYTES)
            }
            Parts::Top(file) if file.strip_suffix(".ron").is_some() && project.is_none() => {
                (None, MOST_BYTES)
            }
            _ => return Err(Refusal::Stranger { name: shown() }),
        };
        if !matches!(
            entry.compression(),
            CompressionMethod::Stored | CompressionMethod::Deflated
        ) {
            return Err(Refusal::Method { name: shown() });
        }
        let bytes = entry.size();
        if bytes > most {
            return Err(Refusal::TooLarge {
                name: shown(),
                bytes,
                most,
            });
        }
        if bytes > RATIO_MATTERS && bytes / MOST_RATIO > entry.compressed_size() {
            return Err(Refusal::Bomb { name: shown() });
        }
        match photo {
            None => {
                project = Some(Listed {
                    at,
                    name: name.clone(),
                    photo: None,
                    bytes,
                });
            }
            Some((folder, file)) => photos.push((
                folder.to_owned(),
                Listed {
                    at,
                    name: name.clone(),
                    photo: Some(file.to_owned()),
                    bytes,
                },
            )),
        }
    }
    // The library keeps one of two files of the same name.
    if zip.has_duplicate_names() {
        let name = "one of its files".to_owned();
        return Err(Refusal::Twice { name });
    }
    let project = project.ok_or(Refusal::NoProject)?;
    let stem = project.name.strip_suffix(".ron").unwrap_or_default().to_owned();
    let own = format!("{stem}.photos");
    let mut files = vec![project];
    for (folder, photo) in photos {
        if folder != own {
            return Err(Refusal::Stranger {
                name: shown(&photo.name),
            });
        }
        files.push(photo);
    }
    Ok((stem, files))
}

/// What a name in a zip stands for.
enum Parts<'a> {
    Top(&'a str),
    Folder,
    File(&'a str, &'a str),
    Deeper,
}

/// Takes a name apart; none if it leads out of the folder on any system.
fn parts_of(name: &str) -> Option<Parts<'_>> {
    let is_plain = |part: &str| {
        !part.is_empty()
            && part != "."
            && part != ".."
            && !part.contains(['\\', ':'])
            && !part.chars().any(char::is_control)
            && !photos::is_device(part)
    };
    let (whole, is_folder) = match name.strip_suffix('/') {
        Some(rest) => (rest, true),
        None => (name, false),
    };
    let parts: Vec<&str> = whole.split('/').collect();
    if !parts.iter().all(|part| is_plain(part)) {
        return None;
    }
    Some(match (parts.as_slice(), is_folder) {
        ([_], true) => Parts::Folder,
        ([file], false) => Parts::Top(file),
        ([folder, file], false) => Parts::File(folder, file),
        _ => Parts::Deeper,
    })
}

fn damaged(error: &ZipError) -> Refusal {
    Refusal::Damaged(error.to_string())
}

/// A name that a zip gives, so that it can do no harm in a message.
fn shown(name: &str) -> String {
    let mut text: String = name.chars().take(80).flat_map(char::escape_debug).collect();
    if name.chars().count() > 80 {
        text.push('…');
    }
    text
}

//! A project as text: versioned RON, one record a line, sorted by id.
//!
//! The text is `(format: 1, app: "0.1.0", project: (...))`. Each older format is read through its own frozen types.

use std::fmt;

use ron::error::SpannedError;
use ron::ser::PrettyConfig;
use serde::de::{DeserializeSeed, Error as _, IgnoredAny, MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize};

use crate::model::{Place, Project, cut_message, shortened};

/// The format that this version of the program writes.
pub const FORMAT: u32 = 1;

/// Files above this size are not opened, in bytes: a hundred thousand ears take a twentieth of it.
pub const MOST_BYTES: u64 = 1 << 30;

/// Why a text is not a project. Each is one sentence on what is wrong, and one on what to do.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum FormatFault {
    /// It is empty.
    #[error("The file is empty. If it should not be, look for the copy beside it that ends in .bak")]
    Empty,
    /// It is text in a two-byte encoding.
    #[error(
        "The file is UTF-16 text, but projects are UTF-8. Save it as UTF-8 in the editor that changed it"
    )]
    Utf16,
    /// It is not text.
    #[error(
        "The file is not text (byte {at} cannot be read), so it is no project. Choose a .ron file of this program"
    )]
    Binary {
        /// The first byte that is not UTF-8, from 1.
        at: usize,
    },
    /// It is text, but not a project.
    #[error(
        "The file does not begin as a project does, with (format: {FORMAT}, but with: {0}. Choose a .ron file of this program"
    )]
    NotAProject(String),
    /// A newer program wrote it.
    #[error(
        "The file has format {format}, written by version {app}; this is version {}, which knows formats up to \
         {FORMAT}. Open it with version {app} or newer. The file is untouched", env!("CARGO_PKG_VERSION")
    )]
    Newer {
        /// The file's format.
        format: u32,
        /// The version that wrote it.
        app: String,
    },
    /// No program ever wrote this format.
    #[error(
        "The file says that it has format {0}, which never was. The first line should begin (format: {FORMAT}"
    )]
    NoSuchFormat(u32),
    /// Something in it is not as it must be.
    #[error("Line {line}, column {column}: {what}. The line is: {text}")]
    At {
        /// The line, from 1.
        line: usize,
        /// The character within the line, from 1.
        column: usize,
        /// What is wrong.
        what: String,
        /// The line, shortened around the place.
        text: String,
    },
}

#[derive(Serialize)]
struct File<'a> {
    format: u32,
    app: &'a str,
    project: &'a Project,
}

/// Writes a project as text. The same project always gives the same bytes.
///
/// Fails only for content that RON cannot express; the model has none, so this is a fault of the program.
pub fn write(project: &Project) -> Result<String, ron::Error> {
    let file = File {
        format: FORMAT,
        app: env!("CARGO_PKG_VERSION"),
        project,
    };
    // Depth: the file, the project, a list of records; a record and all in it stays on one line.
    let config = PrettyConfig::new()
        .struct_names(false)
        .depth_limit(3)
        .new_line("\n")
        .indentor(" ");
    let mut text = ron::Options::default().to_string_pretty(&file, config)?;
    text.push('\n');
    Ok(text)
}

/// Reads a project. Broken rules between its records are not looked for: `Project::validate` names those.
pub fn read(bytes: &[u8]) -> Result<Project, FormatFault> {
    let text = decode(bytes)?;
    let mut header = Header::default();
    let outcome = ron::Options::default().from_str_seed(text, FileSeed { header: &mut header });
    match (header.format, outcome) {
        (Some(format), _) if format > FORMAT => Err(FormatFault::Newer {
            format,
            app: shortened(&header.app, 40),
        }),
        (Some(0), _) => Err(FormatFault::NoSuchFormat(0)),
        (_, Ok(project)) => Ok(project),
        (_, Err(_)) if !header.began => Err(FormatFault::NotAProject(excerpt(
            text.lines().next().unwrap_or_default(),
            0,
        ))),
        (_, Err(error)) => Err(locate(text, &error)),
    }
}

fn decode(bytes: &[u8]) -> Result<&str, FormatFault> {
    if bytes.starts_with(&[0xFF, 0xFE]) || bytes.starts_with(&[0xFE, 0xFF]) {
        return Err(FormatFault::Utf16);
    }
    // Without its mark, UTF-16 of Latin letters shows itself by every other byte being zero.
    if matches!(bytes, [0, _, 0, _, ..] | [_, 0, _, 0, ..]) {
        return Err(FormatFault::Utf16);
    }
    // RON does not take the mark that some editors put before UTF-8.
    let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
    let text = std::str::from_utf8(bytes).map_err(|error| FormatFault::Binary {
        at: error.valid_up_to() + 1,
    })?;
    if let Some(at) = text.find('\0') {
        return Err(FormatFault::Binary { at: at + 1 });
    }
    if text.trim().is_empty() {
        return Err(FormatFault::Empty);
    }
    Ok(text)
}

fn locate(text: &str, error: &SpannedError) -> FormatFault {
    let place = error.span.end;
    let line = text.lines().nth(place.line.saturating_sub(1)).unwrap_or_default();
    FormatFault::At {
        line: place.line,
        column: place.col,
        what: cut_message(error.code.to_string()),
        text: excerpt(line, place.col.saturating_sub(1)),
    }
}

/// At most about 120 characters of a line around the character at `at`, from 0.
fn excerpt(line: &str, at: usize) -> String {
    let length = line.chars().count();
    let begin = at.saturating_sub(90).min(length);
    let end = (at + 30).min(length);
    let part: String = line.chars().skip(begin).take(end - begin).collect();
    let before = if begin > 0 { "..." } else { "" };
    let after = if end < length { "..." } else { "" };
    format!("{before}{}{after}", part.trim())
}

#[derive(Default)]
struct Header {
    /// A field of the header was found.
    began: bool,
    format: Option<u32>,
    app: String,
}

/// Reads the header's fields as they come, so that the format is known before the project is read, in one pass.
struct FileSeed<'a> {
    header: &'a mut Header,
}

#[derive(Deserialize)]
#[serde(field_identifier, rename_all = "snake_case")]
enum Key {
    Format,
    App,
    Project,
}

impl<'de> DeserializeSeed<'de> for FileSeed<'_> {
    type Value = Project;

    fn deserialize<D: Deserializer<'de>>(self, deserializer: D) -> Result<Project, D::Error> {
        deserializer.deserialize_struct("Wintercrib", &["format", "app", "project"], self)
    }
}

impl<'de> Visitor<'de> for FileSeed<'_> {
    type Value = Project;

    fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("a project file that begins (format: 1, app: \"0.1.0\", project: (")
    }

    fn visit_map<A: MapAccess<'de>>(self, mut fields: A) -> Result<Project, A::Error> {
        let mut project = None;
        while let Some(key) = fields.next_key()? {
            self.header.began = true;
            match key {
                Key::Format => self.header.format = Some(fields.next_value()?),
                Key::App => self.header.app = fields.next_value()?,
                Key::Project => project = Some(read_project(self.header.format, &mut fields)?),
            }
        }
        project.ok_or_else(|| A::Error::missing_field("project"))
    }
}

/// The one door for every format: an older one is read as its own frozen types and converted from there.
fn read_project<'de, A: MapAccess<'de>>(format: Option<u32>, fields: &mut A) -> Result<Project, A::Error> {
    match format {
        Some(1) => fields.next_value(),
        Some(_) => {
            fields.next_value::<IgnoredAny>()?;
            Err(A::Error::custom("this format is not known"))
        }
        None => Err(A::Error::custom(
            "the format must come before the project, as in (format: 1, ...",
        )),
    }
}

/// The line on which a record begins, from 1, in a file that has one record a line.
pub fn line_of(text: &str, place: Place) -> Option<usize> {
    let (section, id) = place.section();
    let head = format!("{section}:");
    let record = format!("(id:{id},");
    let mut lines = text
        .lines()
        .enumerate()
        .skip_while(|(_, line)| !line.trim_start().starts_with(&head));
    let begin = lines.next()?.0;
    if place == Place::Project {
        return Some(begin + 1);
    }
    let begins = |line: &str| line.replace(' ', "").starts_with(&record);
    let ends = |line: &str| line.trim_start().starts_with(']');
    let (at, _) = lines
        .take_while(|(_, line)| !ends(line))
        .find(|(_, line)| begins(line))?;
    Some(at + 1)
}

//! Photographs of trays. The pictures lie beside the project; a record says which and how to read them.

use super::count::Pass;
use super::ids::{PhotoId, TrayId};
use super::problem::{Fault, Place, check_number};
use super::table::Record;
use jiff::civil::DateTime;
use serde::{Deserialize, Serialize};

/// One photograph of a tray.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Photo {
    /// The photograph's id.
    pub id: PhotoId,
    /// The tray that it shows.
    pub tray: TrayId,
    /// The count at which it was taken, if any.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pass: Option<Pass>,
    /// The name of its file inside the project's folder of photographs, without any folder.
    pub file: String,
    /// SHA-256 of the original file, in 64 hexadecimal digits.
    pub digest: String,
    /// Width in pixels, upright.
    pub width: u32,
    /// Height in pixels, upright.
    pub height: u32,
    /// When it was taken, by the clock of the camera.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub taken: Option<DateTime>,
    /// Corners of the tray's cells in pixels of the upright picture: top left, top right, bottom right, bottom left.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub corners: Option<[[f64; 2]; 4]>,
}

impl Photo {
    pub(super) fn check(&self) -> Result<(), Fault> {
        let is_plain = !self.file.is_empty()
            && self.file.len() <= 200
            && !self.file.starts_with('.')
            && !self.file.contains(['/', '\\', ':'])
            && !self.file.chars().any(char::is_control);
        if !is_plain {
            let text = format!(
                "'{}' is not the name of a file inside the folder of photographs; give it a plain name without folders",
                self.file.escape_debug()
            );
            return Err(Fault::Mismatch(text));
        }
        let is_digest = self.digest.len() == 64
            && self
                .digest
                .bytes()
                .all(|byte| matches!(byte, b'0'..=b'9' | b'a'..=b'f'));
        if !is_digest {
            let text = "its digest is not 64 small hexadecimal digits; add the photograph again".to_owned();
            return Err(Fault::Mismatch(text));
        }
        check_number("the width in pixels", f64::from(self.width), 1.0, 100_000.0)?;
        check_number("the height in pixels", f64::from(self.height), 1.0, 100_000.0)?;
        for coordinate in self.corners.iter().flatten().flatten() {
            check_number("a corner in pixels", *coordinate, -100_000.0, 200_000.0)?;
        }
        Ok(())
    }
}

impl Record for Photo {
    type Id = PhotoId;
    const NAME: &'static str = "photograph";

    fn id(&self) -> PhotoId {
        self.id
    }

    fn place(id: PhotoId) -> Place {
        Place::Photo(id)
    }
}

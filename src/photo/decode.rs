//! Reading a photograph: within limits, turned as the camera was held.

use super::exif;
use image::codecs::jpeg::JpegEncoder;
use image::codecs::png::PngEncoder;
use image::metadata::Orientation;
use image::{
    DynamicImage, ImageDecoder as _, ImageEncoder as _, ImageError, ImageFormat, ImageReader, RgbImage,
};
use jiff::civil::DateTime;
use std::io::Cursor;

/// What is read at most, so that no file fills the memory.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Bytes of the file.
    pub bytes: u64,
    /// Pixels along one side.
    pub side: u32,
    /// Pixels in all.
    pub pixels: u64,
    /// Bytes that the decoded picture may take.
    pub memory: u64,
}

impl Default for Limits {
    /// 256 MB, 32,767 pixels a side, 120 megapixels, 1 GB: more than cameras and telephones usually write.
    fn default() -> Self {
        Self {
            bytes: 256_000_000,
            side: 32_767,
            pixels: 120_000_000,
            memory: 1_000_000_000,
        }
    }
}

/// Why a photograph was not read. Each names the file.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum PhotoFault {
    /// The file is too large.
    #[error(
        "{name} has {bytes} bytes, and photos of at most {most} bytes are read. Save it smaller, as JPEG, and open that."
    )]
    TooManyBytes {
        /// The file's name.
        name: String,
        /// Its size in bytes.
        bytes: u64,
        /// The limit in bytes.
        most: u64,
    },
    /// The picture has too many pixels.
    #[error(
        "{name} claims {width} by {height} pixels, and photos of at most {pixels} pixels and {side} a side are read. \
         Save it smaller and open that."
    )]
    TooManyPixels {
        /// The file's name.
        name: String,
        /// Width in pixels that the file claims.
        width: u32,
        /// Height in pixels that the file claims.
        height: u32,
        /// The limit of all pixels.
        pixels: u64,
        /// The limit of one side.
        side: u32,
    },
    /// Decoding would take too much memory.
    #[error(
        "{name} of {width} by {height} pixels takes {bytes} bytes of memory, and at most {most} are used for one photo. \
         Save it smaller, as JPEG, and open that."
    )]
    TooMuchMemory {
        /// The file's name.
        name: String,
        /// Width in pixels.
        width: u32,
        /// Height in pixels.
        height: u32,
        /// Bytes of the decoded picture.
        bytes: u64,
        /// The limit in bytes.
        most: u64,
    },
    /// A kind of file that is not read.
    #[error("{name} is {kind}. Photos are read as JPEG or PNG: {remedy}.")]
    OtherKind {
        /// The file's name.
        name: String,
        /// What it is, as far as its first bytes tell.
        kind: &'static str,
        /// What to do.
        remedy: &'static str,
    },
    /// The file is damaged.
    #[error("{name} is damaged or not a usual photo ({why}). Copy it from the camera again.")]
    Damaged {
        /// The file's name.
        name: String,
        /// What the decoder found.
        why: String,
    },
    /// A picture could not be written as a file.
    #[error("The copy of {name} could not be made ({why}). Try another photo, or send none.")]
    NotWritten {
        /// The file's name.
        name: String,
        /// What the encoder said.
        why: String,
    },
}

/// A photograph that was read.
#[derive(Debug, Clone, PartialEq)]
pub struct Photograph {
    /// The picture, turned upright as its file says that the camera was held.
    pub picture: RgbImage,
    /// When it was taken, by the camera's clock, if the file says so.
    pub taken: Option<DateTime>,
    /// Whether the file ends before the picture does: its lower part is then grey. A copy that broke off.
    pub ends_early: bool,
}

/// Reads the bytes of a JPEG or PNG file. `name` is for what is said about it.
///
/// # Errors
/// [`PhotoFault`]: a file beyond the limits, of another kind, or too damaged.
pub fn decode(name: &str, bytes: &[u8], limits: &Limits) -> Result<Photograph, PhotoFault> {
    let size = bytes.len() as u64;
    if size > limits.bytes {
        return Err(PhotoFault::TooManyBytes {
            name: name.to_owned(),
            bytes: size,
            most: limits.bytes,
        });
    }
    let format = format_of(name, bytes)?;
    let damaged = |error: ImageError| PhotoFault::Damaged {
        name: name.to_owned(),
        why: error.to_string(),
    };
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    let mut inner = image::Limits::no_limits();
    inner.max_alloc = Some(limits.memory);
    reader.limits(inner);
    let mut decoder = reader.into_decoder().map_err(damaged)?;
    let (width, height) = decoder.dimensions();
    check_size(name, (width, height), decoder.total_bytes(), limits)?;
    let exif = decoder.exif_metadata().map_err(damaged)?.unwrap_or_default();
    let mut picture = DynamicImage::from_decoder(decoder).map_err(damaged)?;
    if let Some(orientation) = Orientation::from_exif_chunk(&exif) {
        picture.apply_orientation(orientation);
    }
    Ok(Photograph {
        picture: picture.into_rgb8(),
        taken: exif::taken(&exif),
        ends_early: format == ImageFormat::Jpeg && !has_end(bytes),
    })
}

fn check_size(
    name: &str,
    (width, height): (u32, u32),
    memory: u64,
    limits: &Limits,
) -> Result<(), PhotoFault> {
    let name = name.to_owned();
    if width == 0 || height == 0 {
        let why = "it has no pixels".to_owned();
        return Err(PhotoFault::Damaged { name, why });
    }
    if width.max(height) > limits.side || u64::from(width) * u64::from(height) > limits.pixels {
        return Err(PhotoFault::TooManyPixels {
            name,
            width,
            height,
            pixels: limits.pixels,
            side: limits.side,
        });
    }
    if memory > limits.memory {
        return Err(PhotoFault::TooMuchMemory {
            name,
            width,
            height,
            bytes: memory,
            most: limits.memory,
        });
    }
    Ok(())
}

/// JPEG or PNG by the first bytes, whatever the name ends with; anything else is named as far as it is known.
fn format_of(name: &str, bytes: &[u8]) -> Result<ImageFormat, PhotoFault> {
    if let Ok(format @ (ImageFormat::Jpeg | ImageFormat::Png)) = image::guess_format(bytes) {
        return Ok(format);
    }
    // ISO base media file format: a box 'ftyp' and the brand. Telephones write HEIC so.
    let brand = bytes.get(4..12).unwrap_or_default();
    let heic =
        [b"heic", b"heix", b"mif1", b"heim", b"hevc"].map(|brand| [b"ftyp".as_slice(), brand].concat());
    let (kind, remedy) = if bytes.is_empty() {
        ("empty", "copy it from the camera again")
    } else if heic.iter().any(|heic| brand == heic) {
        (
            "a HEIC photo",
            "set the telephone's camera to its most compatible format, or save the photo as JPEG",
        )
    } else if bytes.starts_with(b"%PDF") {
        ("a PDF", "export the page as JPEG or PNG")
    } else {
        (
            "neither JPEG nor PNG",
            "open it in the program that made it and save it as JPEG",
        )
    };
    Err(PhotoFault::OtherKind {
        name: name.to_owned(),
        kind,
        remedy,
    })
}

/// Whether the marker that ends a JPEG picture stands behind its first scan. In the scan itself it cannot occur
/// (ITU-T T.81, B.1.1.5: a byte FF of the data is followed by 00).
fn has_end(jpeg: &[u8]) -> bool {
    const SCAN: u8 = 0xda;
    let mut at = 2;
    while let Some(&[0xff, marker, high, low]) = jpeg.get(at..at + 4) {
        if marker == SCAN {
            return jpeg[at..].windows(2).any(|pair| pair == [0xff, 0xd9]);
        }
        // Any number of FF may stand before a marker.
        at += if marker == 0xff {
            1
        } else {
            2 + usize::from(u16::from_be_bytes([high, low]))
        };
    }
    false
}

/// Makes a picture smaller, so that no side is longer than `most_side`; a smaller one stays as it is.
pub fn shrink(picture: &RgbImage, most_side: u32) -> RgbImage {
    let (width, height) = picture.dimensions();
    let longest = width.max(height);
    if longest <= most_side.max(1) {
        return picture.clone();
    }
    let side = |length: u32| {
        let scaled = u64::from(length) * u64::from(most_side.max(1)) / u64::from(longest);
        (scaled as u32).max(1)
    };
    image::imageops::thumbnail(picture, side(width), side(height))
}

/// Writes a photograph anew, of the same kind (JPEG or PNG) and upright, without place, time, camera and every other
/// remark that its file carries. For copies that leave the grower's hands.
///
/// # Errors
/// [`PhotoFault`].
pub fn without_metadata(name: &str, bytes: &[u8], limits: &Limits) -> Result<Vec<u8>, PhotoFault> {
    /// High enough that kernels and roots look the same: common practice, no source.
    const QUALITY: u8 = 92;
    let format = format_of(name, bytes)?;
    let picture = decode(name, bytes, limits)?.picture;
    let mut written = Vec::new();
    let (width, height) = picture.dimensions();
    let colour = image::ExtendedColorType::Rgb8;
    let outcome = if format == ImageFormat::Jpeg {
        JpegEncoder::new_with_quality(&mut written, QUALITY).write_image(&picture, width, height, colour)
    } else {
        PngEncoder::new(&mut written).write_image(&picture, width, height, colour)
    };
    outcome.map_err(|error| PhotoFault::NotWritten {
        name: name.to_owned(),
        why: error.to_string(),
    })?;
    Ok(written)
}

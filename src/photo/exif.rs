//! The one thing besides the orientation that is read from a photograph's EXIF: when it was taken.

use jiff::civil::DateTime;

/// Tags of the Exif standard (CIPA DC-008): the pointer to the Exif directory, the time of taking, the time of the file.
const EXIF_DIRECTORY: u16 = 0x8769;
const TIME_OF_TAKING: u16 = 0x9003;
const TIME_OF_FILE: u16 = 0x0132;

/// The time of taking by the camera's clock, from an EXIF chunk that begins with its TIFF header. None when the chunk does
/// not say it or is damaged.
pub(super) fn taken(chunk: &[u8]) -> Option<DateTime> {
    let tiff = Tiff::new(chunk)?;
    let first = tiff.number(4, 4)?;
    let exif = tiff
        .entry(first, EXIF_DIRECTORY)
        .and_then(|at| tiff.number(at + 8, 4));
    exif.and_then(|exif| tiff.time(exif, TIME_OF_TAKING))
        .or_else(|| tiff.time(first, TIME_OF_FILE))
}

struct Tiff<'a> {
    bytes: &'a [u8],
    big: bool,
}

impl<'a> Tiff<'a> {
    fn new(bytes: &'a [u8]) -> Option<Self> {
        let big = match bytes.get(..4)? {
            b"MM\0*" => true,
            b"II*\0" => false,
            _ => return None,
        };
        Some(Self { bytes, big })
    }

    /// A number of two or four bytes.
    fn number(&self, at: usize, length: usize) -> Option<usize> {
        let bytes = self.bytes.get(at..at.checked_add(length)?)?;
        let add = |sum: usize, &byte: &u8| (sum << 8) | usize::from(byte);
        Some(if self.big {
            bytes.iter().fold(0, add)
        } else {
            bytes.iter().rev().fold(0, add)
        })
    }

    /// Where the entry of a tag begins in the directory at an offset.
    fn entry(&self, directory: usize, tag: u16) -> Option<usize> {
        let entries = self.number(directory, 2)?;
        (0..entries)
            .map(|entry| directory + 2 + 12 * entry)
            .find(|&at| self.number(at, 2) == Some(usize::from(tag)))
    }

    /// The time of a tag, written as `2026:01:24 08:15:00`.
    fn time(&self, directory: usize, tag: u16) -> Option<DateTime> {
        let entry = self.entry(directory, tag)?;
        let at = self.number(entry + 8, 4)?;
        let text = self.bytes.get(at..at.checked_add(19)?)?;
        let number = |from: usize, to: usize| {
            let digits = std::str::from_utf8(text.get(from..to)?).ok()?;
            digits.parse::<i16>().ok()
        };
        let small = |from: usize| number(from, from + 2).and_then(|number| i8::try_from(number).ok());
        DateTime::new(
            number(0, 4)?,
            small(5)?,
            small(8)?,
            small(11)?,
            small(14)?,
            small(17)?,
            0,
        )
        .ok()
        // A camera whose clock was never set writes zeros, which is no date; one that fell back writes 1970 or 1980.
        .filter(|time| time.year() > 1990)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// An EXIF chunk with a time of taking, in either order of bytes.
    fn chunk(big: bool, time: &str) -> Vec<u8> {
        let two = |n: u16| if big { n.to_be_bytes() } else { n.to_le_bytes() };
        let four = |n: u32| if big { n.to_be_bytes() } else { n.to_le_bytes() };
        let mut bytes = if big { b"MM\0*".to_vec() } else { b"II*\0".to_vec() };
        bytes.extend(four(8));
        for (tag, kind, count, value, next) in [(EXIF_DIRECTORY, 4, 1, 26, 0), (TIME_OF_TAKING, 2, 20, 44, 0)]
        {
            bytes.extend(two(1));
            bytes.extend(two(tag));
            bytes.extend(two(kind));
            bytes.extend(four(count));
            bytes.extend(four(value));
            bytes.extend(four(next));
        }
        bytes.extend(time.as_bytes());
        bytes.push(0);
        bytes
    }

    #[test]
    fn the_time_of_taking_is_read_in_both_orders_of_bytes() {
        for big in [false, true] {
            let time = taken(&chunk(big, "2026:01:24 08:15:09")).unwrap();
            assert_eq!(time, jiff::civil::date(2026, 1, 24).at(8, 15, 9, 0));
        }
    }

    #[test]
    fn what_is_no_time_is_none() {
        for text in [
            "0000:00:00 00:00:00",
            "2026:13:24 08:15:09",
            "    :  :     :  :  ",
            "1980:01:01 00:00:00",
        ] {
            assert_eq!(taken(&chunk(false, text)), None, "{text}");
        }
        assert_eq!(taken(b""), None);
        assert_eq!(taken(b"Exif\0\0MM\0*"), None);
    }

    #[test]
    fn no_cut_and_no_changed_byte_brings_a_panic() {
        let whole = chunk(true, "2026:01:24 08:15:09");
        for end in 0..whole.len() {
            taken(&whole[..end]);
            for value in [0, 1, 0x7f, 0x80, 0xff] {
                let mut bytes = whole.clone();
                bytes[end] = value;
                taken(&bytes);
            }
        }
        let far = [b"MM\0*".as_slice(), &[0xff; 40]].concat();
        assert_eq!(taken(&far), None);
    }
}

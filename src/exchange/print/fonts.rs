//! The three fonts that every print carries, their glyphs and their widths.
//!
//! Text is set glyph by glyph, without kerning or ligatures, so that what is measured is exactly what is drawn.
//! Scripts that need shaping (Arabic, Devanagari and the like) are therefore not set correctly.

use std::ops::Range;

use skrifa::charmap::Charmap;
use skrifa::instance::{LocationRef, Size};
use skrifa::metrics::GlyphMetrics;
use skrifa::{FontRef, MetadataProvider};

use super::PrintFault;

static REGULAR: &[u8] = include_bytes!("../../../assets/fonts/NotoSans-Regular.ttf");
static BOLD: &[u8] = include_bytes!("../../../assets/fonts/NotoSans-Bold.ttf");
static SYMBOLS: &[u8] = include_bytes!("../../../assets/fonts/DejaVuSans.ttf");

/// Characters whose glyphs are looked up once, when the fonts are read: those below this one, which are the Latin
/// letters, the digits and the usual marks.
const COMMON: u32 = 0x250;

/// Drawn for a character that no font has.
const UNKNOWN: char = '\u{FFFD}';

/// Thin or thick letters.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Weight {
    /// Noto Sans Regular.
    #[default]
    Regular,
    /// Noto Sans Bold.
    Bold,
}

/// One font, ready to measure and to draw.
struct Face {
    drawn: krilla::text::Font,
    letters: Charmap<'static>,
    metrics: GlyphMetrics<'static>,
}

impl Face {
    fn new(bytes: &'static [u8], name: &'static str) -> Result<Self, PrintFault> {
        let font = FontRef::new(bytes).map_err(|error| PrintFault::Font {
            name,
            why: error.to_string(),
        })?;
        let drawn = krilla::text::Font::new(bytes.into(), 0).ok_or_else(|| PrintFault::Font {
            name,
            why: "it cannot be embedded".to_owned(),
        })?;
        let metrics = font.glyph_metrics(Size::unscaled(), LocationRef::default());
        Ok(Self {
            drawn,
            letters: font.charmap(),
            metrics,
        })
    }

    /// Glyph and advance (in ems) of a character, where the font has it.
    fn glyph(&self, letter: char) -> Option<(u32, f32)> {
        let glyph = self.letters.map(letter)?;
        let advance = self.metrics.advance_width(glyph)? / self.drawn.units_per_em();
        Some((glyph.to_u32(), advance))
    }
}

/// A glyph of a text: its number in the font, its advance in ems, the bytes of the text that it stands for.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct SetGlyph {
    pub(super) id: u32,
    pub(super) advance: f32,
    pub(super) range: Range<usize>,
}

/// Neighbouring glyphs of one font.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Run {
    face: usize,
    pub(super) glyphs: Vec<SetGlyph>,
}

/// The embedded fonts: Noto Sans in two weights, and DejaVu Sans for the characters that these lack.
pub struct Fonts {
    faces: [Face; 3],
    /// Font, glyph and advance of the common characters, of each weight.
    common: [Vec<Found>; 2],
}

/// Where a character is found: font, glyph, advance in ems.
type Found = (usize, u32, f32);

impl Fonts {
    /// Reads the fonts that are part of the program.
    ///
    /// # Errors
    /// A font that cannot be read: the program was built from damaged files.
    pub fn new() -> Result<Self, PrintFault> {
        let faces = [
            Face::new(REGULAR, "Noto Sans")?,
            Face::new(BOLD, "Noto Sans Bold")?,
            Face::new(SYMBOLS, "DejaVu Sans")?,
        ];
        let common = |first: usize| -> Vec<Found> {
            let letters = (0..COMMON).filter_map(char::from_u32);
            letters.map(|letter| look_up(&faces, letter, first)).collect()
        };
        let common = [common(0), common(1)];
        Ok(Self { faces, common })
    }

    /// The files of the fonts, for who draws with them by another way.
    pub fn files() -> [&'static [u8]; 3] {
        [REGULAR, BOLD, SYMBOLS]
    }

    /// Whether the fonts have a glyph for each character of a text, and set it from left to right.
    pub fn can_set(&self, text: &str) -> bool {
        // From the Hebrew letters on, scripts run from the right or need shaping.
        text.chars().all(|letter| {
            let is_plain = u32::from(letter) < 0x590 || ('\u{2000}'..='\u{2BFF}').contains(&letter);
            is_plain && (0..2).any(|face| self.faces[2 * face].glyph(letter).is_some())
        })
    }

    /// Width in points of one line of text set in `size` points.
    pub fn width(&self, text: &str, size: f32, weight: Weight) -> f32 {
        text.chars()
            .map(|letter| self.find(letter, weight).2)
            .sum::<f32>()
            * size
    }

    /// Shortens a text to one line of at most `width` points; a shortened text ends in `…`.
    pub fn shorten(&self, text: &str, size: f32, weight: Weight, width: f32) -> String {
        if self.width(text, size, weight) <= width {
            return text.to_owned();
        }
        let mut room = width - self.width("\u{2026}", size, weight);
        let fits = |letter: &char| {
            room -= self.find(*letter, weight).2 * size;
            room >= 0.0
        };
        text.chars().take_while(fits).chain(['\u{2026}']).collect()
    }

    /// Breaks a text into lines of at most `width` points: at line ends, then at spaces, and inside a word only where
    /// it is wider than a line. There is always at least one line.
    pub fn wrap(&self, text: &str, size: f32, weight: Weight, width: f32) -> Vec<String> {
        let mut lines = Vec::new();
        for paragraph in text.split('\n') {
            let mut line = String::new();
            // Width of the line in ems, added up letter by letter as in [`Fonts::width`].
            let mut ems = 0.0;
            for word in paragraph.split_whitespace() {
                let gap = if line.is_empty() { "" } else { " " };
                let letters = gap.chars().chain(word.chars());
                let longer = letters.fold(ems, |sum, letter| sum + self.find(letter, weight).2);
                if longer * size <= width {
                    line.push_str(gap);
                    line.push_str(word);
                    ems = longer;
                    continue;
                }
                if !line.is_empty() {
                    lines.push(std::mem::take(&mut line));
                }
                line = self.break_word(word, size, weight, width, &mut lines);
                ems = self.width(&line, 1.0, weight);
            }
            lines.push(line);
        }
        lines
    }

    /// Puts the full lines of a word on `lines` and returns the rest, which fits a line. A line ends behind a hyphen or
    /// a stroke where there is one in its second half.
    fn break_word(
        &self,
        word: &str,
        size: f32,
        weight: Weight,
        width: f32,
        lines: &mut Vec<String>,
    ) -> String {
        let mut line = String::new();
        let mut used = 0.0;
        for letter in word.chars() {
            let advance = self.find(letter, weight).2 * size;
            if used + advance > width && !line.is_empty() {
                let end = line.rfind(['-', '/', '_']).map_or(line.len(), |at| at + 1);
                let behind = self.width(&line[end..], size, weight);
                let is_good = 2 * end > line.len() && behind + advance <= width;
                let rest = line.split_off(if is_good { end } else { line.len() });
                lines.push(std::mem::replace(&mut line, rest));
                used = self.width(&line, size, weight);
            }
            line.push(letter);
            used += advance;
        }
        line
    }

    /// The glyphs of a text, in runs of one font each.
    pub(super) fn runs(&self, text: &str, weight: Weight) -> Vec<Run> {
        let mut runs: Vec<Run> = Vec::new();
        for (start, letter) in text.char_indices() {
            let (face, id, advance) = self.find(letter, weight);
            let glyph = SetGlyph {
                id,
                advance,
                range: start..start + letter.len_utf8(),
            };
            match runs.last_mut() {
                Some(run) if run.face == face => run.glyphs.push(glyph),
                _ => runs.push(Run {
                    face,
                    glyphs: vec![glyph],
                }),
            }
        }
        runs
    }

    pub(super) fn drawn(&self, run: &Run) -> krilla::text::Font {
        self.faces[run.face].drawn.clone()
    }

    fn find(&self, letter: char, weight: Weight) -> Found {
        let first = usize::from(weight == Weight::Bold);
        let common = self.common[first].get(letter as usize);
        common
            .copied()
            .unwrap_or_else(|| look_up(&self.faces, letter, first))
    }
}

/// Finds a character in the first of the fonts that has it. A control character is a space.
fn look_up(faces: &[Face; 3], letter: char, first: usize) -> Found {
    let letter = if letter.is_control() { ' ' } else { letter };
    let tried = [(first, letter), (2, letter), (2, UNKNOWN)];
    let found = tried.into_iter().find_map(|(face, letter)| {
        faces[face]
            .glyph(letter)
            .map(|(glyph, advance)| (face, glyph, advance))
    });
    found.unwrap_or((2, 0, 0.6))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_as_wide_as_asked_and_lose_no_letter() {
        let fonts = Fonts::new().unwrap();
        let text =
            "Some ears stood out in the cold tray; an-enormously-long-word-without-any-space-in-it ends it.";
        let lines = fonts.wrap(text, 10.0, Weight::Regular, 90.0);
        assert!(
            lines
                .iter()
                .all(|line| fonts.width(line, 10.0, Weight::Regular) <= 90.0),
            "{lines:?}"
        );
        assert_eq!(lines.concat().replace(' ', ""), text.replace(' ', ""));
        assert_eq!(fonts.wrap("", 10.0, Weight::Bold, 90.0), [""]);
        assert_eq!(
            fonts.wrap("one\n\ntwo", 10.0, Weight::Bold, 90.0),
            ["one", "", "two"]
        );
        // A long word ends a line behind a hyphen that is not far from it.
        let label = "Reihe-mit-langem-Namen";
        let room = fonts.width("Reihe-mit-la", 10.0, Weight::Regular);
        assert_eq!(
            fonts.wrap(label, 10.0, Weight::Regular, room),
            ["Reihe-mit-", "langem-", "Namen"]
        );
        // Narrower than a letter: one letter a line, no endless loop.
        assert_eq!(fonts.wrap("abc", 10.0, Weight::Bold, 1.0), ["a", "b", "c"]);
    }

    #[test]
    fn a_text_too_long_for_its_line_is_shortened_visibly() {
        let fonts = Fonts::new().unwrap();
        let short = fonts.shorten("a rather long name of a project", 10.0, Weight::Regular, 80.0);
        assert!(
            short.starts_with("a rather") && short.ends_with('\u{2026}'),
            "{short}"
        );
        assert!(fonts.width(&short, 10.0, Weight::Regular) <= 80.0);
        assert_eq!(fonts.shorten("short", 10.0, Weight::Regular, 80.0), "short");
    }

    #[test]
    fn a_symbol_that_noto_lacks_is_taken_from_the_symbol_font() {
        let fonts = Fonts::new().unwrap();
        let runs = fonts.runs("a\u{2610}b\u{10FFFD}", Weight::Regular);
        assert_eq!(runs.iter().map(|run| run.face).collect::<Vec<_>>(), [0, 2, 0, 2]);
        assert!(runs.iter().flat_map(|run| &run.glyphs).all(|glyph| glyph.id != 0));
    }

    #[test]
    fn digits_are_equally_wide_so_that_columns_of_figures_line_up() {
        let fonts = Fonts::new().unwrap();
        for weight in [Weight::Regular, Weight::Bold] {
            let widths: Vec<f32> = (0..10)
                .map(|digit| fonts.width(&digit.to_string(), 1000.0, weight))
                .collect();
            assert!(
                widths.iter().all(|width| (width - widths[0]).abs() < 0.01),
                "{widths:?}"
            );
        }
    }
}

//! The permanent code of an ear, with its check character.

use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::fmt;
use std::str::FromStr;
use thiserror::Error;

/// The characters of ISO 7064 MOD 37-2 in the order of their values; the last one is a check character only.
const ALPHABET: &[u8; 37] = b"0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*";

/// Gives the ISO 7064 MOD 37-2 check character of a text of digits and capital letters; `None` when it has any
/// other character.
///
/// The check character makes the weighted sum of all characters, with weights that are powers of 2 from the
/// right, leave 1 when divided by 37. Because 37 is a prime of which 2 and 1 are distinct residues, every
/// single wrong character and every swap of two different neighbours changes that remainder.
pub fn check_character(text: &str) -> Option<char> {
    let mut sum = 0_u32;
    for byte in text.bytes() {
        sum = (sum + value_of(byte).filter(|value| *value < 36)?) * 2 % 37;
    }
    let check = (38 - sum) % 37;
    Some(char::from(ALPHABET[check as usize]))
}

fn value_of(byte: u8) -> Option<u32> {
    ALPHABET
        .iter()
        .position(|known| *known == byte)
        .map(|value| value as u32)
}

/// The permanent code of an ear: the project's letters, the season's last two digits, a number and a check
/// character, written `ET26-0147-6`. It is never given to another ear.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct EarCode {
    prefix: Prefix,
    year: u8,
    serial: u32,
}

/// Why a text is not an ear code.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum EarCodeFault {
    /// The text does not have the form of a code.
    #[error("'{0}' is not an ear code; a code looks like ET26-0147-6. Type it again from the packet")]
    Form(String),
    /// The check character does not fit the rest.
    #[error(
        "'{0}' is not an ear code: its check character does not fit, so a character is wrong or two are swapped. Type it again from the packet"
    )]
    Check(String),
}

impl EarCode {
    /// Makes the code of the ear with this number in a season.
    pub fn new(prefix: Prefix, year: i16, serial: u32) -> Self {
        Self {
            prefix,
            year: year.rem_euclid(100) as u8,
            serial,
        }
    }

    /// Gives the number inside the code, which is the ear's number unless that one was used before.
    pub fn serial(&self) -> u32 {
        self.serial
    }

    /// Gives the last two digits of the season's year.
    pub fn year(&self) -> u8 {
        self.year
    }

    /// Gives the project's letters.
    pub fn prefix(&self) -> Prefix {
        self.prefix
    }

    /// Gives the check character.
    pub fn check(&self) -> char {
        check_character(&format!("{}{:02}{:04}", self.prefix, self.year, self.serial)).unwrap_or('*')
    }
}

impl fmt::Display for EarCode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&format!(
            "{}{:02}-{:04}-{}",
            self.prefix,
            self.year,
            self.serial,
            self.check()
        ))
    }
}

impl FromStr for EarCode {
    type Err = EarCodeFault;

    /// Reads a code in its written form, or with both hyphens left out; small letters count as capitals.
    fn from_str(text: &str) -> Result<Self, EarCodeFault> {
        let form = || EarCodeFault::Form(text.to_owned());
        let trimmed = text.trim().to_ascii_uppercase();
        let letters = trimmed.bytes().take_while(u8::is_ascii_uppercase).count();
        let bare = match trimmed.matches('-').count() {
            0 => trimmed.clone(),
            2 => {
                let bytes = trimmed.as_bytes();
                if bytes.get(letters + 2) != Some(&b'-') || bytes.iter().rev().nth(1) != Some(&b'-') {
                    return Err(form());
                }
                trimmed.replace('-', "")
            }
            _ => return Err(form()),
        };
        if !bare.is_ascii() || bare.len() < letters + 7 || bare.len() > letters + 12 {
            return Err(form());
        }
        let (body, check) = bare.split_at(bare.len() - 1);
        let prefix = body[..letters].parse::<Prefix>().map_err(|_fault| form())?;
        let digits = &body[letters..];
        if !digits.bytes().all(|byte| byte.is_ascii_digit()) {
            return Err(form());
        }
        if check_character(body).map(String::from).as_deref() != Some(check) {
            return Err(EarCodeFault::Check(text.to_owned()));
        }
        let year = digits[..2].parse().map_err(|_fault| form())?;
        let serial = digits[2..].parse().map_err(|_fault| form())?;
        let code = Self { prefix, year, serial };
        // A number with needless zeros in front would be a second way to write the same ear.
        if code.to_string().replace('-', "") == bare {
            Ok(code)
        } else {
            Err(form())
        }
    }
}

impl Serialize for EarCode {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for EarCode {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

/// The two to four capital letters with which all ear codes of a project begin.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Prefix {
    letters: [u8; 4],
    length: u8,
}

/// A text that cannot be a project's letters.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("'{0}' cannot be the project's letters; type two to four letters from A to Z")]
pub struct PrefixFault(pub String);

impl Prefix {
    /// Proposes letters from a project's name: the first letters of its words, filled up from its letters.
    pub fn propose(name: &str) -> Self {
        let letters = |text: &str| -> Vec<u8> {
            text.bytes()
                .filter(u8::is_ascii_alphabetic)
                .map(|byte| byte.to_ascii_uppercase())
                .collect()
        };
        let mut found: Vec<u8> = name
            .split_whitespace()
            .filter_map(|word| letters(word).first().copied())
            .collect();
        if found.len() < 2 {
            found = letters(name);
        }
        found.extend_from_slice(b"WC");
        found.truncate(2);
        Self {
            letters: [found[0], found[1], 0, 0],
            length: 2,
        }
    }
}

impl fmt::Display for Prefix {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for letter in &self.letters[..usize::from(self.length)] {
            write!(f, "{}", char::from(*letter))?;
        }
        Ok(())
    }
}

impl FromStr for Prefix {
    type Err = PrefixFault;

    fn from_str(text: &str) -> Result<Self, PrefixFault> {
        let trimmed = text.trim();
        let fits = (2..=4).contains(&trimmed.len()) && trimmed.bytes().all(|byte| byte.is_ascii_alphabetic());
        if !fits {
            return Err(PrefixFault(text.to_owned()));
        }
        let mut letters = [0; 4];
        for (slot, byte) in letters.iter_mut().zip(trimmed.bytes()) {
            *slot = byte.to_ascii_uppercase();
        }
        Ok(Self {
            letters,
            length: trimmed.len() as u8,
        })
    }
}

impl Serialize for Prefix {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Prefix {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        let text = String::deserialize(deserializer)?;
        text.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO/IEC 7064:2003 MOD 37-2. The numbers were made with the general-purpose library python-stdnum
    /// (`stdnum.iso7064.mod_37_2.calc_check_digit`); the first one is its documented example.
    #[test]
    fn check_characters_agree_with_the_standard() {
        for (text, check) in STDNUM {
            assert_eq!(check_character(text), Some(*check), "{text}");
        }
    }

    const STDNUM: &[(&str, char)] = &[
        ("G123489654321", 'Y'),
        ("ET070000", 'T'),
        ("ET070001", 'R'),
        ("ET070014", 'H'),
        ("ET070147", 'S'),
        ("ET070174", 'M'),
        ("ET079999", 'I'),
        ("ET0712345", 'H'),
        ("ET260000", '7'),
        ("ET260001", '5'),
        ("ET260014", 'W'),
        ("ET260147", '6'),
        ("ET260174", '0'),
        ("ET269999", 'X'),
        ("ET2612345", 'A'),
        ("ET990000", 'I'),
        ("ET990001", 'G'),
        ("ET990014", '6'),
        ("ET990147", 'H'),
        ("ET990174", 'B'),
        ("ET999999", '7'),
        ("ET9912345", 'W'),
        ("WC070000", '2'),
        ("WC070001", '0'),
        ("WC070014", 'R'),
        ("WC070147", '1'),
        ("WC070174", 'W'),
        ("WC079999", 'S'),
        ("WC0712345", '0'),
        ("WC260000", 'H'),
        ("WC260001", 'F'),
        ("WC260014", '5'),
        ("WC260147", 'G'),
        ("WC260174", 'A'),
        ("WC269999", '6'),
        ("WC2612345", 'U'),
        ("WC990000", 'S'),
        ("WC990001", 'Q'),
        ("WC990014", 'G'),
        ("WC990147", 'R'),
        ("WC990174", 'L'),
        ("WC999999", 'H'),
        ("WC9912345", 'F'),
        ("PSX070000", '5'),
        ("PSX070001", '3'),
        ("PSX070014", 'U'),
        ("PSX070147", '4'),
        ("PSX070174", 'Z'),
        ("PSX079999", 'V'),
        ("PSX0712345", '6'),
        ("PSX260000", 'K'),
        ("PSX260001", 'I'),
        ("PSX260014", '8'),
        ("PSX260147", 'J'),
        ("PSX260174", 'D'),
        ("PSX269999", '9'),
        ("PSX2612345", '*'),
        ("PSX990000", 'V'),
        ("PSX990001", 'T'),
        ("PSX990014", 'J'),
        ("PSX990147", 'U'),
        ("PSX990174", 'O'),
        ("PSX999999", 'K'),
        ("PSX9912345", 'L'),
    ];

    #[test]
    fn every_single_wrong_character_is_rejected() {
        for serial in [0, 1, 9, 14, 147, 174, 999, 4321, 9999, 10_000, 123_456] {
            for prefix in ["ET", "WC", "PSX", "ZZZZ"] {
                let code = EarCode::new(prefix.parse().unwrap(), 2026, serial).to_string();
                for at in 0..code.len() {
                    for wrong in "0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ*- .".chars() {
                        let mut letters: Vec<char> = code.chars().collect();
                        if letters[at] == wrong {
                            continue;
                        }
                        letters[at] = wrong;
                        let typed: String = letters.iter().collect();
                        assert!(typed.parse::<EarCode>().is_err(), "{code} typed as {typed}");
                    }
                }
            }
        }
    }

    #[test]
    fn every_swap_of_two_different_neighbours_is_rejected() {
        for serial in 0..12_000 {
            let code = EarCode::new("ET".parse().unwrap(), 2026, serial).to_string();
            assert_eq!(code.parse::<EarCode>().unwrap().serial(), serial);
            for at in 1..code.len() {
                let mut letters: Vec<char> = code.chars().collect();
                if letters[at - 1] == letters[at] {
                    continue;
                }
                letters.swap(at - 1, at);
                let typed: String = letters.iter().collect();
                assert!(typed.parse::<EarCode>().is_err(), "{code} typed as {typed}");
            }
        }
    }

    #[test]
    fn codes_without_hyphens_and_in_small_letters_are_read() {
        let code = EarCode::new("ET".parse().unwrap(), 2026, 147);
        let written = code.to_string();
        assert_eq!(written.to_lowercase().parse(), Ok(code));
        assert_eq!(written.replace('-', "").parse(), Ok(code));
        assert_eq!(format!(" {written}\n").parse(), Ok(code));
    }

    #[test]
    fn the_example_in_the_sentence_is_a_code() {
        let sentence = "x".parse::<EarCode>().unwrap_err().to_string();
        let example = sentence
            .split_whitespace()
            .find_map(|word| word.trim_end_matches('.').parse::<EarCode>().ok());
        assert_eq!(example, Some(EarCode::new("ET".parse().unwrap(), 2026, 147)));
    }

    #[test]
    fn other_texts_are_refused_with_a_sentence() {
        for text in [
            "",
            "ET",
            "147",
            "ET26",
            "ET26-0147",
            "ET26--147-K",
            "ÉT26-0147-K",
            "ET26-00147-K",
            "---",
        ] {
            let fault = text.parse::<EarCode>().unwrap_err();
            assert!(fault.to_string().contains("Type it again"), "{text}");
        }
    }

    #[test]
    fn a_prefix_is_proposed_from_a_name() {
        assert_eq!(Prefix::propose("Essel Thaw").to_string(), "ET");
        assert_eq!(Prefix::propose("maize").to_string(), "MA");
        assert_eq!(Prefix::propose("7").to_string(), "WC");
    }
}

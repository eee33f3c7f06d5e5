//! What is typed for one cell, key by key. Pure: the figures follow from the keys, so the last key can always be
//! taken back.

use crate::model::{Pass, Tally};

/// A box of the entry, in the order in which they are filled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Slot {
    Strong,
    Weak,
    Abnormal,
    Dead,
    Fresh,
    Missing,
    Vigor,
}

impl Slot {
    /// The boxes of a final count.
    pub const FINAL: [Self; 7] = [
        Self::Strong,
        Self::Weak,
        Self::Abnormal,
        Self::Dead,
        Self::Fresh,
        Self::Missing,
        Self::Vigor,
    ];
    /// The boxes of an early count; what is left is fresh.
    pub const EARLY: [Self; 4] = [Self::Strong, Self::Abnormal, Self::Dead, Self::Missing];

    /// The boxes of a pass.
    pub fn of(pass: Pass) -> &'static [Self] {
        match pass {
            Pass::Early => &Self::EARLY,
            Pass::Between(_) | Pass::Final => &Self::FINAL,
        }
    }

    /// Names the box.
    pub fn name(self, pass: Pass) -> &'static str {
        match self {
            Self::Strong if pass == Pass::Early => "emerged",
            Self::Strong => "strong",
            Self::Weak => "weak",
            Self::Abnormal => "abnormal",
            Self::Dead => "dead",
            Self::Fresh => "fresh",
            Self::Missing => "missing",
            Self::Vigor => "vigor",
        }
    }
}

/// One key, by what it means.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stroke {
    /// A digit.
    Digit(u8),
    /// On to the next box.
    Next,
    /// On to the next box, or record a complete count.
    Enter,
    /// Back to the box before.
    Before,
    /// To a box.
    To(Slot),
    /// The rest into this box, or into the next one after a number.
    Rest,
    /// The rest into a box.
    RestInto(Slot),
    /// Mould seen, or not.
    Mould,
}

/// What a key led to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Outcome {
    /// It was taken.
    Taken,
    /// The count is to be recorded.
    Record,
    /// It was refused, as the sum is not the kernels laid.
    Refused,
}

/// The keys typed for a cell so far.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Entry {
    strokes: Vec<Stroke>,
}

/// What the keys amount to.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Look {
    /// Kernels of each category, as typed.
    pub values: [Option<u16>; 6],
    /// The vigor grade.
    pub vigor: Option<u8>,
    /// Whether mould was seen.
    pub mould: bool,
    /// The box that the next digit goes to.
    pub slot: Slot,
    kernels: u16,
    pass: Pass,
    /// Whether a digit was typed into the box since it was reached.
    typing: bool,
    /// Whether the box was left by itself: then one key for 'next' is only the habit of those who press it always.
    moved: bool,
}

impl Entry {
    /// Says whether nothing was typed.
    pub fn is_empty(&self) -> bool {
        self.strokes.is_empty()
    }

    /// Works out what the keys amount to in a cell with so many kernels.
    pub fn look(&self, kernels: u16, pass: Pass) -> Look {
        let mut look = Look {
            values: [None; 6],
            vigor: None,
            mould: false,
            slot: Slot::Strong,
            kernels,
            pass,
            typing: false,
            moved: false,
        };
        for stroke in &self.strokes {
            look.take(*stroke);
        }
        look
    }

    /// Takes a key. A refused key leaves no trace.
    pub fn press(&mut self, stroke: Stroke, kernels: u16, pass: Pass) -> Outcome {
        let outcome = self.look(kernels, pass).take(stroke);
        if outcome != Outcome::Refused {
            self.strokes.push(stroke);
        }
        outcome
    }

    /// Takes back the last key; says whether there was one.
    pub fn take_back(&mut self) -> bool {
        self.strokes.pop().is_some()
    }
}

impl Look {
    /// Gives the sum of all categories, as typed.
    pub fn sum(&self) -> u32 {
        self.values.iter().flatten().map(|value| u32::from(*value)).sum()
    }

    /// Gives the kernels that are not accounted for yet; negative when there are too many.
    pub fn rest(&self) -> i64 {
        i64::from(self.kernels) - i64::from(self.sum())
    }

    /// Says whether the count can be recorded.
    pub fn is_complete(&self) -> bool {
        match self.pass {
            Pass::Early => self.values[0].is_some() && self.rest() >= 0,
            Pass::Between(_) | Pass::Final => self.rest() == 0,
        }
    }

    /// Gives the count; in an early one, what is left is fresh.
    pub fn tally(&self) -> Tally {
        let [strong, weak, abnormal, dead, fresh, missing] = self.values.map(Option::unwrap_or_default);
        let left = if self.pass == Pass::Early {
            self.rest().max(0) as u16
        } else {
            0
        };
        Tally {
            strong,
            weak,
            abnormal,
            dead,
            fresh: fresh + left,
            missing,
        }
    }

    fn take(&mut self, stroke: Stroke) -> Outcome {
        match stroke {
            Stroke::Digit(digit) => self.digit(digit),
            Stroke::Next | Stroke::Enter => {
                if stroke == Stroke::Enter && self.is_complete() {
                    return Outcome::Record;
                }
                if std::mem::take(&mut self.moved) {
                    return Outcome::Taken;
                }
                self.next()
            }
            Stroke::Before => {
                let slots = Slot::of(self.pass);
                let at = slots.iter().position(|slot| *slot == self.slot).unwrap_or(0);
                self.reach(slots[at.saturating_sub(1)]);
                Outcome::Taken
            }
            Stroke::To(slot) => {
                self.reach(slot);
                Outcome::Taken
            }
            Stroke::Rest => {
                let target = if self.typing {
                    self.following()
                } else {
                    Some(self.slot)
                };
                target.map_or(Outcome::Refused, |slot| self.fill(slot))
            }
            Stroke::RestInto(slot) => self.fill(slot),
            Stroke::Mould => {
                self.mould = !self.mould;
                Outcome::Taken
            }
        }
    }

    fn digit(&mut self, digit: u8) -> Outcome {
        if self.slot == Slot::Vigor {
            if self.rest() != 0 {
                return Outcome::Refused;
            }
            self.vigor = Some(digit);
            return Outcome::Record;
        }
        let before = if self.typing {
            self.values[self.slot as usize].unwrap_or(0)
        } else {
            0
        };
        let value = before
            .saturating_mul(10)
            .saturating_add(u16::from(digit))
            .min(999);
        self.values[self.slot as usize] = Some(value);
        self.typing = true;
        self.moved = false;
        if self.pass == Pass::Early {
            return Outcome::Taken;
        }
        if self.rest() == 0 {
            self.reach(Slot::Vigor);
            self.moved = true;
            return Outcome::Taken;
        }
        // No further digit can follow: the number would be more than the kernels that are left for it.
        let most = self.rest() + i64::from(value);
        let is_done = value == 0 || i64::from(value) * 10 > most;
        if is_done && self.rest() > 0 && self.slot != Slot::Missing {
            self.next();
            self.moved = true;
        }
        Outcome::Taken
    }

    fn next(&mut self) -> Outcome {
        if self.slot == Slot::Vigor {
            return if self.is_complete() {
                Outcome::Record
            } else {
                Outcome::Refused
            };
        }
        if self.rest() < 0 {
            return Outcome::Refused;
        }
        match self.following() {
            Some(slot) => {
                self.reach(slot);
                Outcome::Taken
            }
            None if self.is_complete() => Outcome::Record,
            None => Outcome::Refused,
        }
    }

    /// The next box: vigor only when the sum is complete.
    fn following(&self) -> Option<Slot> {
        let slots = Slot::of(self.pass);
        if self.pass != Pass::Early && self.rest() == 0 {
            return Some(Slot::Vigor);
        }
        let at = slots.iter().position(|slot| *slot == self.slot)?;
        let next = slots.get(at + 1).copied();
        next.filter(|slot| *slot != Slot::Vigor)
    }

    fn fill(&mut self, slot: Slot) -> Outcome {
        if slot == Slot::Vigor {
            return Outcome::Refused;
        }
        let others = self.sum() - u32::from(self.values[slot as usize].unwrap_or(0));
        let Some(rest) = u32::from(self.kernels).checked_sub(others) else {
            return Outcome::Refused;
        };
        self.values[slot as usize] = Some(rest as u16);
        self.reach(if self.pass == Pass::Early {
            slot
        } else {
            Slot::Vigor
        });
        Outcome::Taken
    }

    fn reach(&mut self, slot: Slot) {
        self.slot = slot;
        self.typing = false;
        self.moved = false;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Types a text: digits, `+` next, `E` Enter, `.` `*` `/` rest, `m` mould, `<` Backspace.
    fn typed(text: &str, kernels: u16, pass: Pass) -> (Look, Outcome) {
        let mut entry = Entry::default();
        let mut last = Outcome::Taken;
        for letter in text.chars() {
            let stroke = match letter {
                '+' => Stroke::Next,
                'E' => Stroke::Enter,
                '.' => Stroke::Rest,
                '*' => Stroke::RestInto(Slot::Dead),
                '/' => Stroke::RestInto(Slot::Fresh),
                'm' => Stroke::Mould,
                '<' => {
                    assert!(entry.take_back());
                    continue;
                }
                digit => Stroke::Digit(digit.to_digit(10).unwrap() as u8),
            };
            last = entry.press(stroke, kernels, pass);
        }
        (entry.look(kernels, pass), last)
    }

    fn tally(strong: u16, weak: u16, abnormal: u16, dead: u16, fresh: u16, missing: u16) -> Tally {
        Tally {
            strong,
            weak,
            abnormal,
            dead,
            fresh,
            missing,
        }
    }

    #[test]
    fn each_way_of_typing_gives_the_count_and_the_vigor() {
        for (text, kernels, wanted) in [
            ("81017", 10, tally(8, 1, 0, 1, 0, 0)),
            ("8+1++1+7", 10, tally(8, 1, 0, 1, 0, 0)),
            ("107", 10, tally(10, 0, 0, 0, 0, 0)),
            ("917", 10, tally(9, 1, 0, 0, 0, 0)),
            ("8*7", 10, tally(8, 0, 0, 2, 0, 0)),
            ("81*7", 10, tally(8, 1, 0, 1, 0, 0)),
            ("8.7", 10, tally(8, 2, 0, 0, 0, 0)),
            ("8/7", 10, tally(8, 0, 0, 0, 2, 0)),
            ("1.7", 10, tally(1, 9, 0, 0, 0, 0)),
            ("1+97", 10, tally(1, 9, 0, 0, 0, 0)),
            (".7", 10, tally(10, 0, 0, 0, 0, 0)),
            ("000001017", 101, tally(0, 0, 0, 0, 0, 101)),
            ("0000.7", 10, tally(0, 0, 0, 0, 10, 0)),
            ("*7", 10, tally(0, 0, 0, 10, 0, 0)),
            ("12217", 15, tally(12, 2, 1, 0, 0, 0)),
            ("1+1*7", 15, tally(1, 1, 0, 13, 0, 0)),
            ("9<817", 9, tally(8, 1, 0, 0, 0, 0)),
            ("8+2+7", 10, tally(8, 2, 0, 0, 0, 0)),
        ] {
            let (look, last) = typed(text, kernels, Pass::Final);
            assert_eq!(look.tally(), wanted, "{text}");
            assert_eq!(look.vigor, Some(7), "{text}");
            assert_eq!(last, Outcome::Record, "{text}");
        }
    }

    #[test]
    fn enter_records_a_complete_count_without_vigor() {
        for text in ["10E", "8.E", "82E", "8*E", "8+2++"] {
            let (look, last) = typed(text, 10, Pass::Final);
            assert_eq!((last, look.vigor), (Outcome::Record, None), "{text}");
        }
    }

    #[test]
    fn a_sum_that_is_not_the_kernels_is_refused_and_stays() {
        for (text, sum) in [
            ("80000EE", 8),
            ("8+0+0+0+0+1+E", 9),
            ("93E", 12),
            ("93+", 12),
            ("11+", 11),
        ] {
            let (look, last) = typed(text, 10, Pass::Final);
            if text == "11+" {
                assert_eq!(look.sum(), sum);
            }
            assert_eq!((last, look.sum()), (Outcome::Refused, sum), "{text}");
            assert!(!look.is_complete());
        }
        assert_eq!(typed("93.", 10, Pass::Final).1, Outcome::Refused);
    }

    #[test]
    fn an_early_count_is_the_emerged_kernels_and_the_rest_is_fresh() {
        for (text, wanted) in [
            ("8E", tally(8, 0, 0, 0, 2, 0)),
            ("10E", tally(10, 0, 0, 0, 0, 0)),
            ("0E", tally(0, 0, 0, 0, 10, 0)),
            ("7++1E", tally(7, 0, 0, 1, 2, 0)),
            (".E", tally(10, 0, 0, 0, 0, 0)),
        ] {
            let (look, last) = typed(text, 10, Pass::Early);
            assert_eq!((look.tally(), last), (wanted, Outcome::Record), "{text}");
        }
        assert_eq!(typed("11E", 10, Pass::Early).1, Outcome::Refused);
        assert_eq!(
            typed("+1E", 10, Pass::Early).1,
            Outcome::Taken,
            "nothing was said about emerged kernels"
        );
    }

    #[test]
    fn mould_and_the_last_key_can_be_taken_back() {
        let (look, _) = typed("8m", 10, Pass::Final);
        assert!(look.mould);
        let (look, _) = typed("8m<", 10, Pass::Final);
        assert!(!look.mould);
        let (look, _) = typed("81<", 10, Pass::Final);
        assert_eq!(look.tally(), tally(8, 0, 0, 0, 0, 0));
        assert_eq!(look.slot, Slot::Weak);
    }
}

//! What is typed for one cell, key by key. Pure: the figures follow from the keys, so the last key can always be
//! taken back.

use crate::model::{Category, Pass, Scheme, Tally};

/// A box of the entry.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Slot {
    /// The kernels of a category.
    Kernels(Category),
    /// The vigor grade.
    Vigor,
}

/// The boxes of one cell in the order in which they are filled, and the kernels that they share.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Form {
    slots: Vec<Slot>,
    kernels: u16,
    is_final: bool,
    /// Whether it is the total of several cells, written by somebody who may have added up wrongly.
    is_total: bool,
}

impl Form {
    /// Makes the form of a pass. Only the final count judges the seedlings: before, those that have emerged are counted,
    /// and what is left is fresh.
    pub fn new(scheme: &Scheme, pass: Pass, kernels: u16) -> Self {
        let is_final = pass == Pass::Final;
        let wanted = |category: &Category| is_final || !matches!(category, Category::Weak | Category::Fresh);
        let order = scheme.order.iter().copied().filter(wanted);
        let mut slots: Vec<Slot> = order.map(Slot::Kernels).collect();
        if is_final {
            slots.push(Slot::Vigor);
        }
        Self {
            slots,
            kernels,
            is_final,
            is_total: false,
        }
    }

    /// Makes the form of a total of several cells: the same categories without a vigor. Its sum need not fit, as it is
    /// compared with the cells.
    pub fn total(scheme: &Scheme, pass: Pass, kernels: u16) -> Self {
        let mut form = Self::new(scheme, pass, kernels);
        form.slots.retain(|slot| *slot != Slot::Vigor);
        form.is_total = true;
        form
    }

    /// Says whether it is the form of a total.
    pub fn is_total(&self) -> bool {
        self.is_total
    }

    /// Gives the categories in the order of their boxes.
    pub fn categories(&self) -> impl Iterator<Item = Category> + '_ {
        self.slots.iter().filter_map(|slot| match slot {
            Slot::Kernels(category) => Some(*category),
            Slot::Vigor => None,
        })
    }

    /// Gives the boxes in their order.
    pub fn slots(&self) -> &[Slot] {
        &self.slots
    }

    /// Says whether it is the form of the final count.
    pub fn is_final(&self) -> bool {
        self.is_final
    }

    /// Names a box.
    pub fn name(&self, slot: Slot) -> &'static str {
        match slot {
            Slot::Kernels(category) => self.category_name(category),
            Slot::Vigor => "vigor",
        }
    }

    /// Names a category as this pass calls it.
    pub fn category_name(&self, category: Category) -> &'static str {
        match category {
            Category::Strong if !self.is_final => "emerged",
            other => other.name(),
        }
    }

    fn first(&self) -> Slot {
        self.slots
            .first()
            .copied()
            .unwrap_or(Slot::Kernels(Category::Strong))
    }

    fn has(&self, category: Category) -> bool {
        self.slots.contains(&Slot::Kernels(category))
    }

    fn has_vigor(&self) -> bool {
        self.slots.contains(&Slot::Vigor)
    }

    /// The box behind one, vigor aside.
    fn behind(&self, slot: Slot) -> Option<Slot> {
        let at = self.slots.iter().position(|own| *own == slot)?;
        self.slots
            .get(at + 1)
            .copied()
            .filter(|next| *next != Slot::Vigor)
    }
}

/// What was typed in another cell, to be typed again by one key.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Pattern {
    values: [Option<u16>; 6],
    vigor: Option<u8>,
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
    /// The rest into a category.
    RestInto(Category),
    /// The same again as in another cell.
    Repeat(Pattern),
    /// So many as a photograph proposes to have sprouted, to be confirmed or typed over.
    Proposed(u16),
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
    /// It was refused.
    Refused(Refusal),
}

/// Why a key is refused.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Refusal {
    /// The sum is not the kernels laid.
    Sum,
    /// Nothing is typed yet, so there is nothing to go on from.
    Nothing,
    /// The category is not counted in this pass or by this scheme.
    NotCounted(Category),
    /// The other cell has another number of kernels.
    OtherKernels,
}

/// The keys typed for a cell so far.
#[derive(Debug, Clone, Default, PartialEq)]
pub(super) struct Entry {
    strokes: Vec<Stroke>,
}

/// What the keys amount to.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Look<'f> {
    /// Kernels of each category, as typed.
    values: [Option<u16>; 6],
    /// The vigor grade.
    pub vigor: Option<u8>,
    /// Whether mould was seen.
    pub mould: bool,
    /// The box that the next digit goes to.
    pub slot: Slot,
    form: &'f Form,
    reached: Reached,
}

/// How the box was reached to which the next digit goes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Reached {
    /// By a key.
    ByKey,
    /// By itself, once no further digit could follow: then one key for 'next' is only the habit of those who press it
    /// always.
    ByItself,
    /// It was, and a digit was typed into it since.
    Typed,
    /// By repeating another cell: a digit begins anew.
    Repeated,
    /// By a proposal: a digit begins anew.
    Proposed,
}

impl Entry {
    /// Says whether nothing was typed.
    pub fn is_empty(&self) -> bool {
        self.strokes.is_empty()
    }

    /// Works out what the keys amount to in a form.
    pub fn look<'f>(&self, form: &'f Form) -> Look<'f> {
        let mut look = Look {
            values: [None; 6],
            vigor: None,
            mould: false,
            slot: form.first(),
            form,
            reached: Reached::ByKey,
        };
        for stroke in &self.strokes {
            look.take(*stroke);
        }
        look
    }

    /// Takes a key. A refused key leaves no trace.
    pub fn press(&mut self, stroke: Stroke, form: &Form) -> Outcome {
        let outcome = self.look(form).take(stroke);
        if !matches!(outcome, Outcome::Refused(_)) {
            self.strokes.push(stroke);
        }
        outcome
    }

    /// Takes back the last key; says whether there was one.
    pub fn take_back(&mut self) -> bool {
        self.strokes.pop().is_some()
    }
}

impl Look<'_> {
    /// Gives the kernels of a category, as typed.
    pub fn value(&self, category: Category) -> Option<u16> {
        self.values[category as usize]
    }

    /// Gives the sum of all categories, as typed.
    pub fn sum(&self) -> u32 {
        self.values.iter().flatten().map(|value| u32::from(*value)).sum()
    }

    /// Gives the kernels that are not accounted for yet; negative when there are too many.
    pub fn rest(&self) -> i64 {
        i64::from(self.form.kernels) - i64::from(self.sum())
    }

    /// Says whether kernels were typed and none is left.
    pub fn is_all_told(&self) -> bool {
        self.rest() == 0 && self.values.iter().any(Option::is_some)
    }

    /// Says whether it is the total of several cells.
    pub fn is_total(&self) -> bool {
        self.form.is_total
    }

    /// Says whether the count can be recorded; a total can be compared as soon as anything of it is typed.
    pub fn is_complete(&self) -> bool {
        if self.form.is_total {
            self.values.iter().any(Option::is_some)
        } else if self.form.is_final {
            self.rest() == 0
        } else {
            self.value(Category::Strong).is_some() && self.rest() >= 0
        }
    }

    /// Says whether it is the same again as in another cell.
    pub fn is_repeated(&self) -> bool {
        self.reached == Reached::Repeated
    }

    /// Says whether it is what a photograph proposes.
    pub fn is_proposed(&self) -> bool {
        self.reached == Reached::Proposed
    }

    /// Gives the count; before the final one, what is left is fresh.
    pub fn tally(&self) -> Tally {
        let mut tally = Tally::default();
        for category in Category::ALL {
            *tally.of_mut(category) = self.value(category).unwrap_or_default();
        }
        if !self.form.is_final {
            tally.fresh += self.rest().max(0) as u16;
        }
        tally
    }

    /// Gives what was typed, to be typed again in another cell. Mould is not part of it: it must be seen.
    pub fn pattern(&self) -> Pattern {
        Pattern {
            values: self.values,
            vigor: self.vigor,
        }
    }

    fn take(&mut self, stroke: Stroke) -> Outcome {
        match stroke {
            Stroke::Digit(digit) => self.digit(digit),
            Stroke::Next | Stroke::Enter => self.go_on(stroke == Stroke::Enter),
            Stroke::Before => {
                let slots = self.form.slots();
                let at = slots.iter().position(|slot| *slot == self.slot).unwrap_or(0);
                self.reach(slots.get(at.saturating_sub(1)).copied().unwrap_or(self.slot));
                Outcome::Taken
            }
            Stroke::To(slot) => {
                self.reach(slot);
                Outcome::Taken
            }
            Stroke::Rest => {
                let target = if matches!(self.reached, Reached::Typed | Reached::Proposed) {
                    self.following()
                } else {
                    Some(self.slot)
                };
                match target {
                    Some(Slot::Kernels(category)) => self.fill(category),
                    _ => Outcome::Refused(Refusal::Sum),
                }
            }
            Stroke::RestInto(category) => self.fill(category),
            Stroke::Repeat(pattern) => self.repeat(pattern),
            Stroke::Proposed(kernels) => self.propose(kernels),
            Stroke::Mould => {
                self.mould = !self.mould;
                Outcome::Taken
            }
        }
    }

    fn go_on(&mut self, by_enter: bool) -> Outcome {
        if by_enter && self.is_complete() {
            return Outcome::Record;
        }
        let is_blank = self.values.iter().all(Option::is_none);
        if is_blank && self.slot == self.form.first() {
            return Outcome::Refused(Refusal::Nothing);
        }
        let reached = std::mem::replace(&mut self.reached, Reached::ByKey);
        if reached == Reached::Repeated && self.form.has_vigor() {
            self.vigor = None;
            self.reach(Slot::Vigor);
            return Outcome::Taken;
        }
        if reached == Reached::ByItself {
            return Outcome::Taken;
        }
        self.next()
    }

    fn digit(&mut self, digit: u8) -> Outcome {
        if self.is_repeated() || self.is_proposed() {
            self.values = [None; 6];
            self.vigor = None;
            self.reach(self.form.first());
        }
        let Slot::Kernels(category) = self.slot else {
            if self.rest() != 0 {
                return Outcome::Refused(Refusal::Sum);
            }
            self.vigor = Some(digit);
            return Outcome::Record;
        };
        let before = if self.reached == Reached::Typed {
            self.values[category as usize].unwrap_or(0)
        } else {
            0
        };
        let value = before
            .saturating_mul(10)
            .saturating_add(u16::from(digit))
            .min(9999);
        self.values[category as usize] = Some(value);
        self.reached = Reached::Typed;
        if !self.form.is_final || self.form.is_total {
            return Outcome::Taken;
        }
        if self.rest() == 0 && self.form.has_vigor() {
            self.reach(Slot::Vigor);
            self.reached = Reached::ByItself;
            return Outcome::Taken;
        }
        // No further digit can follow: the number would be more than the kernels that are left for it.
        let most = self.rest() + i64::from(value);
        let is_done = value == 0 || i64::from(value) * 10 > most;
        if is_done && self.rest() > 0 && self.form.behind(self.slot).is_some() {
            self.next();
            self.reached = Reached::ByItself;
        }
        Outcome::Taken
    }

    fn next(&mut self) -> Outcome {
        let done = |look: &Self| {
            if look.is_complete() || look.form.is_total {
                Outcome::Record
            } else {
                Outcome::Refused(Refusal::Sum)
            }
        };
        if self.slot == Slot::Vigor {
            return done(self);
        }
        if self.rest() < 0 && !self.form.is_total {
            return Outcome::Refused(Refusal::Sum);
        }
        match self.following() {
            Some(slot) => {
                self.reach(slot);
                Outcome::Taken
            }
            None => done(self),
        }
    }

    /// The next box: vigor only when the sum is complete.
    fn following(&self) -> Option<Slot> {
        if self.form.has_vigor() && self.rest() == 0 {
            return Some(Slot::Vigor);
        }
        self.form.behind(self.slot)
    }

    fn fill(&mut self, category: Category) -> Outcome {
        // Before the final count what is left is fresh anyway, and has no box.
        let is_left = !self.form.is_final && category == Category::Fresh;
        if !is_left && !self.form.has(category) {
            return Outcome::Refused(Refusal::NotCounted(category));
        }
        let others = self.sum() - u32::from(self.values[category as usize].unwrap_or(0));
        let Some(rest) = u32::from(self.form.kernels).checked_sub(others) else {
            return Outcome::Refused(Refusal::Sum);
        };
        self.values[category as usize] = Some(rest as u16);
        if is_left {
            self.values[Category::Strong as usize].get_or_insert(0);
        }
        if self.form.has_vigor() {
            self.reach(Slot::Vigor);
        } else if !is_left {
            self.reach(Slot::Kernels(category));
        }
        Outcome::Taken
    }

    fn repeat(&mut self, pattern: Pattern) -> Outcome {
        let sum: u32 = pattern
            .values
            .iter()
            .flatten()
            .map(|value| u32::from(*value))
            .sum();
        let fits = if self.form.is_final {
            sum == u32::from(self.form.kernels)
        } else {
            sum <= u32::from(self.form.kernels)
        };
        if !fits {
            return Outcome::Refused(Refusal::OtherKernels);
        }
        self.values = pattern.values;
        self.vigor = pattern.vigor;
        self.reach(if self.form.has_vigor() {
            Slot::Vigor
        } else {
            self.form.first()
        });
        self.reached = Reached::Repeated;
        Outcome::Taken
    }

    fn propose(&mut self, kernels: u16) -> Outcome {
        if kernels > self.form.kernels {
            return Outcome::Refused(Refusal::Sum);
        }
        if !self.form.has(Category::Strong) {
            return Outcome::Refused(Refusal::NotCounted(Category::Strong));
        }
        self.values = [None; 6];
        self.vigor = None;
        self.values[Category::Strong as usize] = Some(kernels);
        self.reach(Slot::Kernels(Category::Strong));
        self.reached = Reached::Proposed;
        Outcome::Taken
    }

    fn reach(&mut self, slot: Slot) {
        self.slot = slot;
        self.reached = Reached::ByKey;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn form(kernels: u16, pass: Pass) -> Form {
        Form::new(&Scheme::default(), pass, kernels)
    }

    /// Types a text: digits, `+` next, `E` Enter, `.` `*` `/` rest, `m` mould, `<` Backspace.
    fn entry(text: &str, form: &Form) -> (Entry, Outcome) {
        let mut entry = Entry::default();
        let mut last = Outcome::Taken;
        for letter in text.chars() {
            let stroke = match letter {
                '+' => Stroke::Next,
                'E' => Stroke::Enter,
                '.' => Stroke::Rest,
                '*' => Stroke::RestInto(Category::Dead),
                '/' => Stroke::RestInto(Category::Fresh),
                'm' => Stroke::Mould,
                '<' => {
                    assert!(entry.take_back());
                    continue;
                }
                digit => Stroke::Digit(digit.to_digit(10).unwrap() as u8),
            };
            last = entry.press(stroke, form);
        }
        (entry, last)
    }

    fn typed<'f>(text: &str, form: &'f Form) -> (Look<'f>, Outcome) {
        let (entry, last) = entry(text, form);
        (entry.look(form), last)
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
            let form = form(kernels, Pass::Final);
            let (look, last) = typed(text, &form);
            assert_eq!(look.tally(), wanted, "{text}");
            assert_eq!(look.vigor, Some(7), "{text}");
            assert_eq!(last, Outcome::Record, "{text}");
        }
    }

    #[test]
    fn enter_records_a_complete_count_without_vigor() {
        let form = form(10, Pass::Final);
        for text in ["10E", "8.E", "82E", "8*E", "8+2++"] {
            let (look, last) = typed(text, &form);
            assert_eq!((last, look.vigor), (Outcome::Record, None), "{text}");
        }
    }

    #[test]
    fn a_sum_that_is_not_the_kernels_is_refused_and_stays() {
        let form = form(10, Pass::Final);
        for (text, sum) in [
            ("80000EE", 8),
            ("8+0+0+0+0+1+E", 9),
            ("93E", 12),
            ("93+", 12),
            ("11+", 11),
        ] {
            let (look, last) = typed(text, &form);
            if text == "11+" {
                assert_eq!(look.sum(), sum);
            }
            assert_eq!(
                (last, look.sum()),
                (Outcome::Refused(Refusal::Sum), sum),
                "{text}"
            );
            assert!(!look.is_complete());
        }
        assert_eq!(typed("93.", &form).1, Outcome::Refused(Refusal::Sum));
    }

    #[test]
    fn nothing_is_passed_over_by_a_key_of_habit() {
        let form = form(10, Pass::Final);
        for text in ["+", "E", "m+", "mE"] {
            assert_eq!(typed(text, &form).1, Outcome::Refused(Refusal::Nothing), "{text}");
        }
        assert_eq!(typed("+8*7", &form).0.tally(), tally(8, 0, 0, 2, 0, 0));
        let empty = self::form(10, Pass::Early);
        assert_eq!(typed("E", &empty).1, Outcome::Refused(Refusal::Nothing));
    }

    #[test]
    fn before_the_final_count_the_emerged_are_counted_and_the_rest_is_fresh() {
        for pass in [Pass::Early, Pass::Between(9)] {
            let form = form(10, pass);
            for (text, wanted) in [
                ("8E", tally(8, 0, 0, 0, 2, 0)),
                ("10E", tally(10, 0, 0, 0, 0, 0)),
                ("0E", tally(0, 0, 0, 0, 10, 0)),
                ("7++1E", tally(7, 0, 0, 1, 2, 0)),
                (".E", tally(10, 0, 0, 0, 0, 0)),
                ("8/E", tally(8, 0, 0, 0, 2, 0)),
                ("/E", tally(0, 0, 0, 0, 10, 0)),
            ] {
                let (look, last) = typed(text, &form);
                assert_eq!((look.tally(), last), (wanted, Outcome::Record), "{text}");
            }
            assert_eq!(typed("11E", &form).1, Outcome::Refused(Refusal::Sum));
            assert_eq!(form.name(form.slots()[0]), "emerged");
        }
    }

    #[test]
    fn the_pattern_of_another_cell_comes_again_by_one_key_and_a_digit_begins_anew() {
        let form = form(10, Pass::Final);
        let pattern = typed("81*6", &form).0.pattern();
        let again = |text: &str| {
            let mut entry = Entry::default();
            assert_eq!(entry.press(Stroke::Repeat(pattern), &form), Outcome::Taken);
            let mut last = Outcome::Taken;
            for letter in text.chars() {
                let stroke = match letter {
                    'E' => Stroke::Enter,
                    '+' => Stroke::Next,
                    '*' => Stroke::RestInto(Category::Dead),
                    digit => Stroke::Digit(digit.to_digit(10).unwrap() as u8),
                };
                last = entry.press(stroke, &form);
            }
            (entry.look(&form).tally(), entry.look(&form).vigor, last)
        };
        let same = tally(8, 1, 0, 1, 0, 0);
        assert_eq!(again("E"), (same, Some(6), Outcome::Record));
        assert_eq!(again("+7"), (same, Some(7), Outcome::Record));
        assert_eq!(again("+E"), (same, None, Outcome::Record));
        assert_eq!(again("9*5"), (tally(9, 0, 0, 1, 0, 0), Some(5), Outcome::Record));
        let eleven = self::form(11, Pass::Final);
        let refused = Entry::default().press(Stroke::Repeat(pattern), &eleven);
        assert_eq!(refused, Outcome::Refused(Refusal::OtherKernels));
    }

    #[test]
    fn the_scheme_says_which_boxes_there_are_and_in_which_order() {
        let scheme = Scheme {
            order: vec![Category::Dead, Category::Strong, Category::Weak],
            version: 3,
        };
        let form = Form::new(&scheme, Pass::Final, 10);
        let names: Vec<&str> = form.slots().iter().map(|slot| form.name(*slot)).collect();
        assert_eq!(names, ["dead", "strong", "weak", "vigor"]);
        assert_eq!(typed("28E", &form).0.tally(), tally(8, 0, 0, 2, 0, 0));
        assert_eq!(typed("27.5", &form).0.tally(), tally(7, 1, 0, 2, 0, 0));
        let refused = Outcome::Refused(Refusal::NotCounted(Category::Fresh));
        assert_eq!(typed("2/", &form).1, refused);
        let early = Form::new(&scheme, Pass::Early, 10);
        assert_eq!(typed("0+7E", &early).0.tally(), tally(7, 0, 0, 0, 3, 0));
    }

    #[test]
    fn mould_and_the_last_key_can_be_taken_back() {
        let form = form(10, Pass::Final);
        let (look, _) = typed("8m", &form);
        assert!(look.mould);
        let (look, _) = typed("8m<", &form);
        assert!(!look.mould);
        let (look, _) = typed("81<", &form);
        assert_eq!(look.tally(), tally(8, 0, 0, 0, 0, 0));
        assert_eq!(look.slot, Slot::Kernels(Category::Weak));
    }
}

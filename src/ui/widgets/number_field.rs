//! A labelled field for one number with its unit.

use std::ops::RangeInclusive;

use egui::{Align, Align2, Id, Key, Role, TextEdit, Ui, WidgetInfo};

use crate::ui::tokens::Tokens;

/// A number with a name, a unit, a range and a number of decimals.
///
/// Enter, Tab or a click elsewhere takes the number; Escape forgets what was typed. What cannot be taken stays in the
/// field with one sentence under it. A decimal comma is read as a decimal point; NaN and infinity are refused.
#[must_use]
pub struct NumberField<'a> {
    id: Id,
    label: &'a str,
    unit: &'a str,
    range: RangeInclusive<f64>,
    decimals: usize,
    width: f32,
    is_label_drawn: bool,
}

/// What is typed and not taken yet.
#[derive(Clone, Default)]
struct Draft {
    text: String,
    problem: Option<String>,
}

/// What was read from the field; an empty one is `None`.
#[derive(Clone, Copy)]
struct Taken(Option<f64>);

impl<'a> NumberField<'a> {
    /// A field for a whole number of any size; `id` is unique in the window.
    pub fn new(id: Id, label: &'a str) -> Self {
        Self {
            id,
            label,
            unit: "",
            range: f64::MIN..=f64::MAX,
            decimals: 0,
            width: 84.0,
            is_label_drawn: true,
        }
    }

    /// The unit, shown after the field.
    pub fn unit(mut self, unit: &'a str) -> Self {
        self.unit = unit;
        self
    }

    /// Least and most that is taken.
    pub fn range(mut self, range: RangeInclusive<f64>) -> Self {
        self.range = range;
        self
    }

    /// How many decimals are shown at most; with 0 only whole numbers are taken.
    pub fn decimals(mut self, decimals: usize) -> Self {
        self.decimals = decimals;
        self
    }

    /// Width of the field in points.
    pub fn width(mut self, width: f32) -> Self {
        self.width = width;
        self
    }

    /// Does not draw the label, where a table says what the field is; a screen reader still says it.
    pub fn without_label(mut self) -> Self {
        self.is_label_drawn = false;
        self
    }

    /// Draws the field and returns the number when another one was taken.
    pub fn show(self, ui: &mut Ui, value: f64) -> Option<f64> {
        let text = written(value, self.decimals);
        let taken = self.edit(ui, &text, false)?;
        taken.0.filter(|new| (new - value).abs() > 0.0)
    }

    /// Draws the field for a number that may be missing: an empty field is `None`. Returns whether `value` was changed.
    pub fn show_optional(self, ui: &mut Ui, value: &mut Option<f64>) -> bool {
        let text = value
            .map(|value| written(value, self.decimals))
            .unwrap_or_default();
        let Some(Taken(new)) = self.edit(ui, &text, true).filter(|taken| taken.0 != *value) else {
            return false;
        };
        *value = new;
        true
    }

    fn edit(self, ui: &mut Ui, shown: &str, may_be_empty: bool) -> Option<Taken> {
        let t = Tokens::of(ui);
        let draft_id = self.id.with("draft");
        let kept = ui.data(|data| data.get_temp::<Draft>(draft_id));
        let was_kept = kept.is_some();
        let mut draft = kept.unwrap_or_else(|| Draft {
            text: shown.to_owned(),
            problem: None,
        });
        let escaped = ui.input(|i| i.key_pressed(Key::Escape));

        let inner = ui.vertical(|ui| {
            let field = ui
                .horizontal(|ui| {
                    let label = self.is_label_drawn.then(|| ui.label(self.label));
                    let field = TextEdit::singleline(&mut draft.text)
                        .id(self.id)
                        .desired_width(self.width)
                        .align(Align2([Align::Max, Align::Center]))
                        .show(ui)
                        .response
                        .response;
                    let field = match label {
                        Some(label) => field.labelled_by(label.id),
                        None => field.accessible_name(self.label),
                    };
                    if !self.unit.is_empty() {
                        ui.label(egui::RichText::new(self.unit).color(t.quiet));
                    }
                    field
                })
                .inner;
            if let Some(problem) = &draft.problem {
                let text = egui::RichText::new(format!("⚠ {problem}")).color(t.bad);
                let said = ui.label(text);
                said.widget_info(|| WidgetInfo::labeled(Role::Alert, true, problem));
            }
            field
        });
        let field = inner.inner;

        if field.lost_focus() && (field.changed() || was_kept) && !escaped {
            match self.read(&draft.text, may_be_empty) {
                Ok(value) => {
                    ui.data_mut(|data| data.remove::<Draft>(draft_id));
                    return Some(Taken(value));
                }
                Err(problem) => draft.problem = Some(problem),
            }
        }
        if escaped && (field.has_focus() || field.lost_focus()) {
            ui.data_mut(|data| data.remove::<Draft>(draft_id));
        } else if field.changed() || draft.problem.is_some() {
            ui.data_mut(|data| data.insert_temp(draft_id, draft));
        }
        None
    }

    fn read(&self, text: &str, may_be_empty: bool) -> Result<Option<f64>, String> {
        let name = self.label;
        if text.trim().is_empty() {
            let problem = || format!("{name} is empty; type {}.", self.wanted());
            return if may_be_empty { Ok(None) } else { Err(problem()) };
        }
        let value = parse_number(text).ok_or_else(|| {
            format!(
                "{name}: \"{}\" is not a number; type {}.",
                text.trim(),
                self.wanted()
            )
        })?;
        let is_whole = self.decimals > 0 || value.fract() == 0.0;
        if is_whole && self.range.contains(&value) {
            return Ok(Some(value));
        }
        Err(format!(
            "{name} cannot be {}; type {}.",
            text.trim(),
            self.wanted()
        ))
    }

    /// `a whole number from 1 to 50`.
    fn wanted(&self) -> String {
        let kind = if self.decimals == 0 {
            "a whole number"
        } else {
            "a number"
        };
        let end = |value: f64| written(value, self.decimals);
        match (*self.range.start() > f64::MIN, *self.range.end() < f64::MAX) {
            (true, true) => format!(
                "{kind} from {} to {}",
                end(*self.range.start()),
                end(*self.range.end())
            ),
            (true, false) => format!("{kind} of at least {}", end(*self.range.start())),
            (false, true) => format!("{kind} of at most {}", end(*self.range.end())),
            (false, false) => kind.to_owned(),
        }
    }
}

/// A finite number, with a decimal point or a decimal comma; not both, as then one of them groups thousands and
/// nobody can tell which.
#[must_use]
pub fn parse_number(text: &str) -> Option<f64> {
    let text = text.trim();
    if text.contains(',') && (text.contains('.') || text.matches(',').count() > 1) {
        return None;
    }
    let value: f64 = text.replace(',', ".").replace('−', "-").parse().ok()?;
    value.is_finite().then_some(value)
}

/// The number with at most `decimals` decimals and no zeros at their end.
#[must_use]
pub fn written(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if !text.contains('.') {
        return text;
    }
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_read_as_growers_type_them() {
        for (text, value) in [
            ("12", 12.0),
            (" 1.5 ", 1.5),
            ("1,5", 1.5),
            ("-3", -3.0),
            ("−3", -3.0),
            ("1e2", 100.0),
        ] {
            assert_eq!(parse_number(text), Some(value), "{text}");
        }
        for text in [
            "", "x", "NaN", "inf", "-inf", "1e999", "1,234.5", "1.234,5", "1,2,3", "12 g",
        ] {
            assert_eq!(parse_number(text), None, "{text}");
        }
    }

    #[test]
    fn numbers_are_written_short() {
        assert_eq!(written(12.0, 2), "12");
        assert_eq!(written(12.50, 2), "12.5");
        assert_eq!(written(100.0, 0), "100");
        assert_eq!(written(0.125, 2), "0.12");
    }

    #[test]
    fn a_refusal_names_the_field_the_text_and_what_to_type() {
        let field = NumberField::new(Id::unique("k"), "Kernels per cell").range(1.0..=50.0);
        let refusal = |text: &str| field.read(text, false).unwrap_err();
        assert_eq!(
            refusal("80"),
            "Kernels per cell cannot be 80; type a whole number from 1 to 50."
        );
        assert_eq!(
            refusal("2,5"),
            "Kernels per cell cannot be 2,5; type a whole number from 1 to 50."
        );
        assert_eq!(
            refusal("ten"),
            "Kernels per cell: \"ten\" is not a number; type a whole number from 1 to 50."
        );
        assert_eq!(
            refusal(" "),
            "Kernels per cell is empty; type a whole number from 1 to 50."
        );
        assert_eq!(field.read("", true), Ok(None));
        assert_eq!(field.read("50", false), Ok(Some(50.0)));
    }
}

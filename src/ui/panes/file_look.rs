//! Looking at a file before anything of it is taken: what such previews have in common.

use crate::exchange::temperature_csv::{DateForm, SEPARATORS};
use crate::model::{TemperatureUnit, plural, sentence};
use crate::ui::context::{FileBytes, PaneCtx, Ticket};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::{alert, primary_button_enabled};
use egui::{
    ComboBox, Grid, Key, Label, Modifiers, Response, RichText, Role, ScrollArea, Ui, WidgetInfo, vec2,
};
use jiff::civil::Date;
use std::collections::VecDeque;
use std::fmt::Display;

/// The endings of the names of files with temperatures.
const ENDINGS: [&str; 3] = ["csv", "txt", "tsv"];
/// Both units, in the order in which they are offered.
pub(super) const UNITS: [TemperatureUnit; 2] = [TemperatureUnit::Celsius, TemperatureUnit::Fahrenheit];
/// Width of the part with what is typed, in points.
const FORM_WIDTH: f32 = 460.0;
/// From this width on what is typed and what it gives stand side by side.
const SIDE_BY_SIDE: f32 = 920.0;
/// The most letters of a line that are shown.
const LETTERS: usize = 90;
/// So many problems are named one by one.
const NAMED: usize = 12;

/// Draws what is typed at the left and what it gives at the right; in a narrow window one below the other.
pub(super) fn two_parts<S>(
    ui: &mut Ui,
    state: &mut S,
    typed: impl FnOnce(&mut S, &mut Ui),
    given: impl FnOnce(&mut S, &mut Ui),
) {
    let scroll = |name: &str| ScrollArea::vertical().id_salt(name).auto_shrink(false);
    if ui.available_width() < SIDE_BY_SIDE {
        scroll("both parts of a look").show(ui, |ui| {
            typed(state, ui);
            ui.separator();
            given(state, ui);
        });
        return;
    }
    egui::Panel::left("form of a look")
        .resizable(false)
        .exact_size(FORM_WIDTH)
        .show(ui, |ui| {
            scroll("form of a look").show(ui, |ui| typed(state, ui));
        });
    egui::CentralPanel::default().show(ui, |ui| {
        scroll("what a look gives").show(ui, |ui| given(state, ui));
    });
}

/// Whether Escape leaves a screen: in a text field it leaves the field only, and an open list closes. Remembered from one
/// frame to the next.
#[derive(Debug, Default)]
pub(super) struct Leaving {
    was_busy: bool,
}

impl Leaving {
    /// Says whether Escape was pressed for the screen; call it in every frame, at its end.
    pub(super) fn is_asked(&mut self, ui: &Ui) -> bool {
        let is_covered = ui.ctx().any_popup_open() || ui.ctx().memory(|m| m.top_modal_layer().is_some());
        let is_busy = is_covered || ui.ctx().text_edit_focused();
        let was_busy = std::mem::replace(&mut self.was_busy, is_busy);
        let is_free = !was_busy && !is_covered;
        is_free && ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Escape))
    }
}

/// Says whether a file's name has one of the endings of files with temperatures.
pub(super) fn can_have_temperatures(name: &str) -> bool {
    let name = name.to_lowercase();
    ENDINGS.iter().any(|ending| name.ends_with(&format!(".{ending}")))
}

/// A question that the file does not answer, with its choices below it; returns the first one.
pub(super) fn question(
    ui: &mut Ui,
    text: &str,
    is_open: bool,
    choices: impl FnOnce(&mut Ui, &mut dyn FnMut(Response)),
) -> Option<Response> {
    let t = Tokens::of(ui);
    let (mark, colour) = if is_open { ("⚠", t.warn) } else { ("✓", t.text) };
    let said = ui.add(Label::new(RichText::new(format!("{mark} {text}")).color(colour)).wrap());
    let role = if is_open { Role::Alert } else { Role::Label };
    said.widget_info(|| WidgetInfo::labeled(role, true, text));
    let mut first = None;
    let spacing = ui.spacing().item_spacing.y;
    ui.spacing_mut().item_spacing.y = 0.0;
    choices(ui, &mut |response| {
        first.get_or_insert(response);
    });
    ui.spacing_mut().item_spacing.y = spacing;
    ui.add_space(t.space.small);
    first
}

/// The orders that dates can be in, each with the days that it would give.
pub(super) fn date_choices(
    ui: &mut Ui,
    now: &mut Option<DateForm>,
    forms: &[(DateForm, Date, Date)],
    keep: &mut dyn FnMut(Response),
) {
    for (form, from, to) in forms {
        let word = format!("{}: {from} to {to}", form.name());
        keep(ui.radio_value(now, Some(*form), word));
    }
}

/// Both units, beside each other.
pub(super) fn unit_choices(ui: &mut Ui, now: &mut Option<TemperatureUnit>, keep: &mut dyn FnMut(Response)) {
    ui.horizontal(|ui| {
        for unit in UNITS {
            keep(ui.radio_value(now, Some(unit), unit.sign()));
        }
    });
}

/// The unit where it does not have to be asked: a file may name the wrong one. `named` is what the file says.
pub(super) fn unit_line(
    ui: &mut Ui,
    now: TemperatureUnit,
    named: Option<TemperatureUnit>,
    answer: &mut Option<TemperatureUnit>,
) {
    let t = Tokens::of(ui);
    ui.horizontal(|ui| {
        ui.label("Temperatures are in");
        for unit in UNITS {
            let chosen = ui.radio(unit == now, unit.sign());
            if chosen.clicked() {
                *answer = Some(unit).filter(|unit| Some(*unit) != named);
            }
        }
        let source = match (named, *answer) {
            (Some(named), _) if named == now => "as the file says",
            (Some(_), _) => "the file says otherwise",
            (None, Some(_)) => "",
            (None, None) => "by their range",
        };
        ui.label(RichText::new(source).font(t.small_font()).color(t.quiet));
    });
}

/// What divides the cells; returns another one that was chosen. `unreadable` is the one chosen last with what was wrong.
pub(super) fn separator_line(ui: &mut Ui, now: char, unreadable: Option<&(char, String)>) -> Option<char> {
    let mut wanted = None;
    ui.horizontal_wrapped(|ui| {
        ui.label("Cells are divided by");
        for separator in SEPARATORS {
            let (word, name) = match separator {
                ',' => (",", "comma"),
                ';' => (";", "semicolon"),
                _ => ("tab", "tab"),
            };
            let radio = ui.radio(separator == now, word);
            radio.widget_info(|| WidgetInfo::selected(Role::RadioButton, true, separator == now, name));
            if radio.clicked() && separator != now {
                wanted = Some(separator);
            }
        }
    });
    if let Some((separator, what)) = unreadable {
        let name = if *separator == '\t' {
            "a tab".to_owned()
        } else {
            format!("'{separator}'")
        };
        alert(
            ui,
            &format!("Divided by {name}: {what} The file is read as before."),
        );
    }
    wanted
}

/// A list to choose a column from, as wide as the room behind its label.
pub(super) fn column_combo(ui: &mut Ui, label: &str, now: &str, choices: impl FnOnce(&mut Ui)) {
    ui.horizontal(|ui| {
        ui.label(label);
        let width = ui.available_width() - 2.0 * ui.spacing().button_padding.x;
        let combo = ComboBox::from_id_salt(("look at a file", label))
            .selected_text(now)
            .width(width)
            .truncate()
            .show_ui(ui, choices);
        combo.response.widget_info(|| {
            let mut info = WidgetInfo::labeled(Role::ComboBox, true, label);
            info.current_text_value = Some(now.to_owned());
            info
        });
    });
}

/// The name of a column, or its number from 1.
pub(super) fn column_name(header: &[String], column: usize) -> String {
    let known = header.get(column);
    known.map_or_else(|| format!("column {}", column + 1), Clone::clone)
}

/// Names the lines that cannot be read, `count` of them, and offers to leave them out.
pub(super) fn bad_lines(ui: &mut Ui, problems: &[impl Display], count: usize, leave_out: &mut bool) {
    if count == 0 {
        return;
    }
    for problem in problems.iter().take(NAMED) {
        alert(ui, &sentence(&problem.to_string()));
    }
    let more = count - problems.len().min(NAMED);
    if more > 0 {
        ui.label(format!("and {} more.", plural(more, "line")));
    }
    let lines = plural(count, "line");
    let word = format!("Leave out the {lines} that cannot be read, and take the others");
    ui.checkbox(leave_out, word);
    ui.add_space(Tokens::of(ui).space.small);
}

/// Why nothing can be taken yet: open questions, or lines that cannot be read.
pub(super) fn not_ready(questions: usize, bad_lines: usize, is_ready: bool) -> Option<String> {
    if questions > 0 {
        let count = plural(questions, "question");
        Some(format!("{count} must be answered first."))
    } else if !is_ready && bad_lines > 0 {
        let lines = plural(bad_lines, "line");
        Some(format!(
            "{lines} cannot be read: correct the file, or leave them out."
        ))
    } else {
        None
    }
}

/// A line of a file as it is understood, cell by cell, with what stands in the file at the end; and its number.
pub(super) struct ShownLine {
    /// Its number in the file, from 1.
    pub(super) line: usize,
    /// The cells.
    pub(super) cells: Vec<String>,
}

/// The first lines of a file and its last ones, with a gap between where some are left out.
pub(super) fn first_and_last(
    ui: &mut Ui,
    id: &str,
    heads: &[&str],
    first: &[ShownLine],
    last: impl Iterator<Item = ShownLine>,
) {
    let t = Tokens::of(ui);
    let end = first.last().map(|shown| shown.line);
    let last: Vec<ShownLine> = last
        .filter(|shown| end.is_none_or(|end| shown.line > end))
        .collect();
    Grid::new(id)
        .striped(true)
        .min_row_height(t.type_size.body)
        .spacing(vec2(t.space.large, t.space.tiny))
        .show(ui, |ui| {
            for head in heads {
                ui.label(RichText::new(*head).font(t.strong_font()));
            }
            ui.end_row();
            let row = |ui: &mut Ui, shown: &ShownLine| {
                let Some((text, cells)) = shown.cells.split_last() else {
                    return;
                };
                ui.label(shown.line.to_string());
                for cell in cells {
                    ui.label(cell);
                }
                ui.label(RichText::new(text).monospace().color(t.quiet));
                ui.end_row();
            };
            for shown in first {
                row(ui, shown);
            }
            if let (Some(before), Some(after)) = (end, last.first())
                && after.line > before + 1
            {
                for _ in heads {
                    ui.label("…");
                }
                ui.end_row();
            }
            for shown in &last {
                row(ui, shown);
            }
        });
}

/// What was pressed at the foot of a look.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Pressed {
    /// Take what is shown.
    Take,
    /// Leave.
    Cancel,
}

/// The buttons of a look, with why nothing can be taken; `word` says what is taken, `waiting` files follow.
pub(super) fn foot(ui: &mut Ui, can: bool, word: &str, why: Option<&str>, waiting: usize) -> Option<Pressed> {
    let t = Tokens::of(ui);
    ui.horizontal(|ui| {
        let takes = primary_button_enabled(ui, can, word).clicked();
        let word = if waiting > 0 {
            "Leave this file out"
        } else {
            "Cancel"
        };
        let cancels = ui.button(word).clicked();
        if let Some(why) = why {
            ui.label(RichText::new(why).color(t.quiet));
        }
        match (takes, cancels) {
            (true, _) => Some(Pressed::Take),
            (false, true) => Some(Pressed::Cancel),
            (false, false) => None,
        }
    })
    .inner
}

/// Files that were opened or dropped and are not looked at yet.
#[derive(Debug, Default)]
pub(super) struct Waiting {
    asked: Option<Ticket>,
    files: VecDeque<FileBytes>,
}

impl Waiting {
    /// Asks for a file.
    pub(super) fn ask(&mut self, ctx: &mut PaneCtx<'_>, title: &str) {
        self.asked = Some(ctx.open_file(title, &ENDINGS));
    }

    /// Adds files that were dropped.
    pub(super) fn add<'a>(&mut self, files: impl Iterator<Item = &'a FileBytes>) {
        self.files.extend(files.cloned());
    }

    /// Forgets them all.
    pub(super) fn clear(&mut self) {
        self.files.clear();
    }

    /// How many wait.
    pub(super) fn len(&self) -> usize {
        self.files.len()
    }

    /// Takes up a file that was asked for.
    pub(super) fn take_opened(&mut self, ctx: &PaneCtx<'_>) {
        if let Some(file) = self.asked.and_then(|ticket| ctx.opened(ticket)) {
            self.asked = None;
            self.files.push_back(file.clone());
        }
    }

    /// Reads one after the other until one can be looked at; what cannot is refused with a sentence.
    pub(super) fn next<T>(
        &mut self,
        ctx: &PaneCtx<'_>,
        refusals: &mut Vec<String>,
        read: impl Fn(&FileBytes) -> Result<T, String>,
    ) -> Option<T> {
        while let Some(file) = self.files.pop_front() {
            if let Some(why) = ctx.read_only {
                refusals.push(format!("{}: nothing can be taken: {why}", file.name));
                continue;
            }
            match read(&file) {
                Ok(look) => return Some(look),
                Err(problem) => refusals.push(problem),
            }
        }
        None
    }
}

/// The beginning of a line that may be of any length.
pub(super) fn cut(line: &str) -> String {
    let mut letters = line.chars();
    let begin: String = letters.by_ref().take(LETTERS).collect();
    let begin = begin.replace('\t', "   ");
    if letters.next().is_some() {
        begin + "…"
    } else {
        begin
    }
}

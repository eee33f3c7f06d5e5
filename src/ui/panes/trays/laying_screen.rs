//! The screen in the cold room: one cell at a time, readable at two metres, advanced by one key.

use crate::insight::{Laying, LayingStep, ReadBack};
use crate::model::{
    CellId, Command, EarCode, MOST_KERNELS_PER_CELL, Project, TestId, plural, row_letters, sentence,
};
use crate::ui::context::{PaneCtx, Ticket};
use crate::ui::fonts;
use crate::ui::tokens::Tokens;
use egui::{
    Align, Button, Color32, Event, FontId, Frame, Key, Label, Layout, Margin, Modifiers, RichText, Role,
    Sense, Stroke, StrokeKind, Ui, WidgetInfo, vec2,
};
use jiff::civil::DateTime;

/// Lays before the pace is said.
const FEWEST_FOR_PACE: usize = 5;
/// Lays over which the pace is taken, so that a pause is soon forgotten.
const PACE_OVER: usize = 20;

/// What the screen remembers.
#[derive(Debug)]
pub(super) struct LayingScreen {
    test: TestId,
    /// The cell to lay, as its place in the order of laying.
    place: usize,
    /// Kernels typed instead of the planned ones.
    typed: String,
    stage: Stage,
    pending: Option<(Ticket, Pending)>,
    refusal: Option<String>,
    /// When cells were laid in this sitting.
    times: Vec<DateTime>,
}

#[derive(Debug, Clone, PartialEq)]
enum Stage {
    /// A cell is to be laid.
    Lay,
    /// The last ear of a row is to be read back from its packet.
    ReadBack {
        /// Its place in the order of laying.
        place: usize,
        typed: String,
        told: Option<Told>,
    },
}

/// A number that was read back and does not fit.
#[derive(Debug, Clone, PartialEq)]
struct Told {
    text: String,
    is_known: bool,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Pending {
    Lay(usize),
    TakeUp(usize),
}

/// What was pressed, in the order in which it is looked at.
#[derive(Debug, Default)]
struct Pressed {
    on: bool,
    back: bool,
    leave: bool,
    text: String,
}

impl Pressed {
    /// Takes the keys out of the input, so that no button under the keyboard reacts to them.
    fn take(ui: &Ui) -> Self {
        ui.input_mut(|input| {
            let text = input
                .events
                .iter()
                .filter_map(|event| match event {
                    Event::Text(text) if text != " " => Some(text.as_str()),
                    _ => None,
                })
                .collect();
            let mut key = |key| input.consume_key(Modifiers::NONE, key);
            // A foot switch sends one of these.
            let on = [Key::Space, Key::Enter, Key::PageDown, Key::ArrowRight].map(&mut key);
            Self {
                on: on.contains(&true),
                back: key(Key::Backspace) | key(Key::ArrowLeft) | key(Key::PageUp),
                leave: key(Key::Escape),
                text,
            }
        })
    }
}

impl LayingScreen {
    /// Begins, or resumes, at the first cell that is not laid.
    pub fn new(test: TestId, laying: &Laying) -> Self {
        Self {
            test,
            place: laying.next(0).unwrap_or(0),
            typed: String::new(),
            stage: Stage::Lay,
            pending: None,
            refusal: None,
            times: Vec::new(),
        }
    }

    /// Draws the screen; gives true when the grower leaves it.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) -> bool {
        let laying = ctx.insight.laying(ctx.document, self.test);
        if laying.steps.is_empty() {
            return true;
        }
        self.place = self.place.min(laying.steps.len() - 1);
        self.follow(ctx, &laying);
        // A dialog over the screen has the keys.
        let is_covered = ui.memory(|m| m.top_modal_layer().is_some());
        let pressed = if is_covered {
            Pressed::default()
        } else {
            Pressed::take(ui)
        };
        let mut leaves = pressed.leave;
        if self.pending.is_none() && !leaves {
            match self.stage.clone() {
                Stage::Lay => self.lay_keys(ctx, &laying, &pressed),
                Stage::ReadBack { place, typed, told } => {
                    self.read_back_keys(ctx, &laying, &pressed, (place, typed, told));
                }
            }
        }
        leaves |= self.head(ui, ctx, &laying);
        match self.stage.clone() {
            Stage::Lay if laying.next(self.place).is_none() => all_laid(ui, &laying),
            Stage::Lay => self.lay_ui(ui, ctx, &laying),
            Stage::ReadBack { place, typed, told } => {
                self.read_back_ui(ui, &laying, place, &typed, told.as_ref());
            }
        }
        leaves
    }

    fn follow(&mut self, ctx: &PaneCtx<'_>, laying: &Laying) {
        let Some((ticket, pending)) = self.pending else {
            return;
        };
        let Some(outcome) = ctx.outcome(ticket) else {
            return;
        };
        self.pending = None;
        match (outcome, pending) {
            (Err(problem), _) => self.refusal = Some(sentence(&problem.fault.to_string())),
            (Ok(_), Pending::Lay(place)) => {
                self.refusal = None;
                self.typed.clear();
                self.times.push(ctx.now);
                let asks = laying.steps.get(place).is_some_and(|step| step.ends_row);
                let last = last_ear_of_row(laying, place);
                match last.filter(|_| asks) {
                    Some(place) => {
                        self.stage = Stage::ReadBack {
                            place,
                            typed: String::new(),
                            told: None,
                        };
                    }
                    None => self.go_on(laying, place),
                }
            }
            (Ok(_), Pending::TakeUp(place)) => {
                self.refusal = None;
                self.typed.clear();
                self.stage = Stage::Lay;
                self.place = place;
            }
        }
    }

    fn go_on(&mut self, laying: &Laying, from: usize) {
        self.stage = Stage::Lay;
        self.typed.clear();
        self.place = laying.next(from + 1).unwrap_or(from);
    }

    // ---- keys --------------------------------------------------------------------------------------------

    fn lay_keys(&mut self, ctx: &mut PaneCtx<'_>, laying: &Laying, pressed: &Pressed) {
        if laying.next(self.place).is_some() {
            let step = &laying.steps[self.place];
            for letter in pressed.text.chars() {
                match letter {
                    '0'..='9' if self.typed.len() < 3 => self.typed.push(letter),
                    '+' => self.typed = (self.kernels(step) + 1).min(MOST_KERNELS_PER_CELL).to_string(),
                    '-' => self.typed = self.kernels(step).saturating_sub(1).max(1).to_string(),
                    's' | 'S' => {
                        // The cell stays to be laid; the screen comes back to it at the end.
                        let place = self.place;
                        self.refusal = None;
                        self.go_on(laying, place);
                        return;
                    }
                    _ => {}
                }
            }
            if pressed.on && !step.is_laid {
                return self.lay(ctx, step);
            }
        }
        if pressed.back {
            self.refusal = None;
            if self.typed.pop().is_none() {
                self.back(ctx, laying);
            }
        }
    }

    fn lay(&mut self, ctx: &mut PaneCtx<'_>, step: &LayingStep) {
        let kernels = self.kernels(step);
        if kernels == 0 {
            self.refusal =
                Some("Type how many kernels lie in the cell, at least 1; S passes over it.".to_owned());
            self.typed.clear();
            return;
        }
        let command = Command::LayCells {
            cells: vec![(step.cell, kernels)],
            on: ctx.today,
        };
        self.pending = Some((ctx.run_for(command), Pending::Lay(self.place)));
    }

    /// Goes back to the cell laid before and takes its kernels up again.
    fn back(&mut self, ctx: &mut PaneCtx<'_>, laying: &Laying) {
        let before = if laying.next(self.place).is_none() {
            Some(laying.steps.len() - 1)
        } else {
            (0..self.place).rev().find(|place| laying.steps[*place].is_laid)
        };
        if let Some(place) = before {
            self.take_up(ctx, vec![laying.steps[place].cell], place);
        }
    }

    fn take_up(&mut self, ctx: &mut PaneCtx<'_>, cells: Vec<CellId>, place: usize) {
        let ticket = ctx.run_for(Command::TakeUpCells(cells));
        self.pending = Some((ticket, Pending::TakeUp(place)));
    }

    fn kernels(&self, step: &LayingStep) -> u16 {
        self.typed
            .parse()
            .unwrap_or(step.kernels)
            .min(MOST_KERNELS_PER_CELL)
    }

    fn read_back_keys(
        &mut self,
        ctx: &mut PaneCtx<'_>,
        laying: &Laying,
        pressed: &Pressed,
        (place, mut typed, mut told): (usize, String, Option<Told>),
    ) {
        for letter in pressed.text.chars() {
            let has_answered = told.is_some() && typed.is_empty();
            match letter {
                't' | 'T' if has_answered => {
                    let laid = laying.row_of(place).filter(|step| step.is_laid);
                    let cells: Vec<CellId> = laid.map(|step| step.cell).collect();
                    let first = cells.first().and_then(|cell| laying.place_of(*cell));
                    if let Some(first) = first {
                        self.take_up(ctx, cells, first);
                    }
                    return;
                }
                'g' | 'G' if has_answered => return self.go_on_after_row(laying, place),
                letter if typed.len() < 24 && (letter.is_ascii_alphanumeric() || letter == '-') => {
                    typed.push(letter.to_ascii_uppercase());
                }
                _ => {}
            }
        }
        if pressed.back && typed.pop().is_none() {
            self.stage = Stage::Lay;
            return self.back(ctx, laying);
        }
        if pressed.on && !typed.is_empty() {
            let answer = answer(ctx.document.project(), laying, place, &typed);
            match answer {
                None => return self.go_on_after_row(laying, place),
                Some(answer) => {
                    told = Some(answer);
                    typed.clear();
                }
            }
        }
        self.stage = Stage::ReadBack { place, typed, told };
    }

    fn go_on_after_row(&mut self, laying: &Laying, place: usize) {
        let last = laying
            .row_of(place)
            .last()
            .and_then(|step| laying.place_of(step.cell));
        self.go_on(laying, last.unwrap_or(place));
    }

    // ---- drawing -----------------------------------------------------------------------------------------

    fn head(&self, ui: &mut Ui, ctx: &PaneCtx<'_>, laying: &Laying) -> bool {
        let t = Tokens::of(ui);
        let mut leaves = false;
        let large = FontId::new(
            (ui.available_height() * 0.032).max(t.title_font().size),
            fonts::bold(),
        );
        ui.horizontal(|ui| {
            let name = ctx
                .document
                .project()
                .tests
                .get(self.test)
                .map_or("", |test| test.name.as_str());
            ui.label(RichText::new(format!("Laying {name}")).font(t.heading_font()));
            ui.add_space(t.space.medium);
            let all = laying.steps.len();
            let text = format!("{} of {} laid", laying.laid, plural(all, "cell"));
            ui.label(RichText::new(text).font(large.clone()));
            if let Some(pace) = self.pace(all - laying.laid) {
                ui.add_space(t.space.medium);
                ui.label(RichText::new(pace).font(large.clone()).color(t.quiet));
            }
            ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
                let leave = ui.add(Button::new("Leave").shortcut_text("Esc"));
                leaves = leave
                    .on_hover_text("All that was laid is kept; you can go on later")
                    .clicked();
            });
        });
        leaves
    }

    fn pace(&self, left: usize) -> Option<String> {
        pace(&self.times, left)
    }

    fn lay_ui(&self, ui: &mut Ui, ctx: &PaneCtx<'_>, laying: &Laying) {
        let t = Tokens::of(ui);
        let step = &laying.steps[self.place];
        let height = ui.available_height();
        let size = |share: f32| (height * share).max(18.0);
        row_strip(ui, laying, self.place);
        // Where kernels go, and from which packet: both as large as half the window allows.
        let what = if step.ear.is_some() { "ear" } else { "check" };
        let most = if self.refusal.is_some() {
            size(0.36)
        } else {
            size(0.46)
        };
        ui.columns(2, |halves| {
            let cell = format!("cell, tray {}", step.tray_number);
            let spoken = [
                format!("{} of tray {}", step.name, step.tray_number),
                format!("{what} {}", step.title),
            ];
            let lines = [
                (cell.as_str(), step.name.as_str(), t.accent),
                (what, step.title.as_str(), t.text),
            ];
            let fits = |ui: &Ui, text: &str| fitting(ui, text, most);
            let height = fits(&halves[0], lines[0].1).max(fits(&halves[1], lines[1].1));
            for ((ui, (caption, text, ink)), spoken) in halves.iter_mut().zip(lines).zip(spoken) {
                one_line(ui, caption, size(0.05), t.quiet);
                spoken_line(ui, (text, &spoken), fits(ui, text), height, ink);
            }
        });
        let mut beside = Vec::new();
        if !step.code.is_empty() {
            beside.push(step.code.clone());
        }
        if !step.mother.is_empty() {
            beside.push(format!("row {}", step.mother));
        }
        if !step.location.is_empty() {
            beside.push(step.location.clone());
        }
        if !beside.is_empty() {
            one_line(ui, &beside.join("   "), size(0.09), t.text);
        }
        let kernels = self.kernels(step);
        let mut text = plural(usize::from(kernels), "kernel");
        if let Some(left) = step.in_packet {
            let left = left - i64::from(kernels);
            text = format!("{text}, {left} then left in the packet");
        } else if step.ear.is_some() {
            text += ", packet not counted";
        }
        let planned = ctx
            .document
            .project()
            .tests
            .get(self.test)
            .map_or(kernels, |test| test.plan.kernels);
        let color = if kernels == planned { t.text } else { t.warn };
        one_line(ui, &text, size(0.08), color);
        self.refusal_ui(ui, size(0.045));
        let keys =
            "Space lays   Backspace goes back   digits, + or − for other kernels   S passes over the cell";
        keys_ui(ui, keys);
    }

    fn refusal_ui(&self, ui: &mut Ui, size: f32) {
        if let Some(refusal) = &self.refusal {
            warning(ui, refusal, size);
        }
    }

    fn read_back_ui(&self, ui: &mut Ui, laying: &Laying, place: usize, typed: &str, told: Option<&Told>) {
        let t = Tokens::of(ui);
        let height = ui.available_height();
        let size = |share: f32| (height * share).max(18.0);
        let step = &laying.steps[place];
        row_strip(ui, laying, place);
        let row = row_letters(step.row);
        let head = format!("Row {row} of tray {} is laid. Read back", step.tray_number);
        one_line(ui, &head, size(0.1), t.text);
        let what = format!("Type the number on the packet of the kernels in {}", step.name);
        one_line(ui, &what, size(0.06), t.quiet);
        let shown = if typed.is_empty() { "_" } else { typed };
        one_line(ui, shown, size(0.34), t.accent);
        let mut keys = "Enter checks it   Backspace corrects";
        if let (Some(told), true) = (told, typed.is_empty()) {
            warning(ui, &told.text, size(0.055));
            keys = if told.is_known {
                "T takes up the whole row to lay it again   G goes on, the packet was misread"
            } else {
                "Type the number again   T takes up the whole row   G goes on all the same"
            };
        }
        self.refusal_ui(ui, size(0.045));
        keys_ui(ui, keys);
    }
}

/// What the keys do, below all else.
fn keys_ui(ui: &mut Ui, keys: &str) {
    let t = Tokens::of(ui);
    let size = (ui.ctx().content_rect().height() * 0.022).max(t.heading_font().size);
    ui.add_space(t.space.small);
    one_line(ui, keys, size, t.quiet);
}

/// Something that went wrong, wrapped, readable from where kernels are laid.
fn warning(ui: &mut Ui, text: &str, size: f32) {
    let t = Tokens::of(ui);
    ui.vertical_centered(|ui| {
        let shown = RichText::new(format!("⚠ {text}"))
            .font(FontId::new(size, fonts::bold()))
            .color(t.bad);
        let label = ui.add(Label::new(shown).wrap());
        label.widget_info(|| WidgetInfo::labeled(Role::Alert, true, text));
    });
}

/// Gives the place of the last ear in the row of a place.
fn last_ear_of_row(laying: &Laying, place: usize) -> Option<usize> {
    let last = laying
        .row_of(place)
        .filter(|step| step.number.is_some() && step.is_laid)
        .last()?;
    laying.place_of(last.cell)
}

/// Judges what was read back; none when it fits.
fn answer(project: &Project, laying: &Laying, place: usize, typed: &str) -> Option<Told> {
    let number = typed.parse().ok().or_else(|| {
        let code: EarCode = typed.parse().ok()?;
        project.ear_coded(code).map(|ear| ear.number)
    });
    let Some(number) = number else {
        return Some(Told {
            text: format!("{typed} is neither an ear number nor an ear code with its right check character."),
            is_known: false,
        });
    };
    let here = &laying.steps[place];
    let (text, is_known) = match laying.read_back(place, number) {
        ReadBack::Fits => return None,
        ReadBack::Shifted(cells) => {
            let far = plural(cells.unsigned_abs() as usize, "cell");
            let way = if cells < 0 { "before it" } else { "behind it" };
            let text = format!(
                "Ear {number} belongs {far} {way}; {} belongs to ear {}. The row may be laid {far} off.",
                here.name, here.title
            );
            (text, true)
        }
        ReadBack::Elsewhere => {
            let text = format!(
                "Ear {number} is not in this tray; {} belongs to ear {}.",
                here.name, here.title
            );
            (text, false)
        }
    };
    Some(Told { text, is_known })
}

/// Writes one line in the middle, as large as asked, or smaller where the room is too narrow for it.
fn one_line(ui: &mut Ui, text: &str, size: f32, ink: Color32) {
    let size = fitting(ui, text, size);
    spoken_line(ui, (text, text), size, size, ink);
}

/// The size in which a line fits the room, and no more than asked for.
fn fitting(ui: &Ui, text: &str, most: f32) -> f32 {
    let font = FontId::new(most, fonts::bold());
    let galley = ui
        .painter()
        .layout_no_wrap(text.to_owned(), font, Color32::PLACEHOLDER);
    most * (0.98 * ui.available_width() / galley.size().x.max(1.0)).min(1.0)
}

/// Writes a line in the middle of a strip that is hardly higher than letters of the size `height`. A screen reader says
/// the second text.
fn spoken_line(ui: &mut Ui, (text, spoken): (&str, &str), size: f32, height: f32, ink: Color32) {
    /// Height of a line over the size of its letters: less than the font asks for, which leaves room for accents.
    const LINE: f32 = 1.08;
    let strip = vec2(ui.available_width(), height * LINE);
    let (rect, response) = ui.allocate_exact_size(strip, Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, spoken));
    let font = FontId::new(size, fonts::bold());
    let galley = ui.painter().layout_no_wrap(text.to_owned(), font, ink);
    ui.painter()
        .galley(rect.center() - galley.size() / 2.0, galley, ink);
}

/// Draws the row of the tray: what is laid is filled, the cell at hand has a thick edge.
fn row_strip(ui: &mut Ui, laying: &Laying, place: usize) {
    let t = Tokens::of(ui);
    ui.add_space(t.space.small);
    let steps: Vec<&LayingStep> = laying.row_of(place).collect();
    let here = laying.steps[place].cell;
    let width = (ui.available_width() / steps.len() as f32).clamp(14.0, 120.0);
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 0.0;
        ui.add_space(((ui.available_width() - width * steps.len() as f32) / 2.0).max(0.0));
        for step in steps {
            let (rect, _) = ui.allocate_exact_size(vec2(width, 34.0), Sense::hover());
            let rect = rect.shrink(2.0);
            let (fill, text) = if step.is_laid {
                (t.accent, t.on_accent)
            } else {
                (t.panel, t.text)
            };
            ui.painter().rect_filled(rect, 3.0, fill);
            let edge = if step.cell == here {
                Stroke::new(4.0, t.text)
            } else {
                Stroke::new(1.0, t.line)
            };
            ui.painter().rect_stroke(rect, 3.0, edge, StrokeKind::Inside);
            if width > 30.0 {
                ui.painter().text(
                    rect.center(),
                    egui::Align2::CENTER_CENTER,
                    &step.name,
                    t.body_font(),
                    text,
                );
            }
        }
    });
    ui.add_space(t.space.small);
}

fn all_laid(ui: &mut Ui, laying: &Laying) {
    let t = Tokens::of(ui);
    Frame::new().inner_margin(Margin::same(24)).show(ui, |ui| {
        ui.vertical_centered(|ui| {
            one_line(ui, "All is laid", 90.0, t.text);
            let text = format!(
                "{} in {}. Their kernels are taken out of the packets.",
                plural(laying.steps.len(), "cell"),
                plural(laying.trays, "tray")
            );
            ui.label(RichText::new(text).font(t.title_font()));
            ui.label(
                RichText::new("Escape leaves   Backspace takes the last cell up again")
                    .font(t.heading_font())
                    .color(t.quiet),
            );
        });
    });
}

/// Says the pace of the cells laid last and the time that the rest would take.
fn pace(times: &[DateTime], left: usize) -> Option<String> {
    let recent = &times[times.len().saturating_sub(PACE_OVER)..];
    let (first, last) = (recent.first()?, recent.last()?);
    let seconds = last.duration_since(*first).as_secs_f64();
    if recent.len() < FEWEST_FOR_PACE || seconds <= 0.0 {
        return None;
    }
    let an_hour = (recent.len() - 1) as f64 * 3600.0 / seconds;
    let minutes = (left as f64 / an_hour * 60.0).ceil() as u64;
    let time = if minutes < 60 {
        format!("{minutes} min")
    } else {
        format!("{} h {:02} min", minutes / 60, minutes % 60)
    };
    Some(format!("{an_hour:.0} cells an hour, {time} left"))
}

#[cfg(test)]
mod tests {
    use super::*;
    use jiff::ToSpan as _;
    use jiff::civil::date;

    #[test]
    fn the_pace_is_that_of_the_last_cells() {
        let begin = date(2026, 1, 5).at(18, 0, 0, 0);
        let every = |seconds: i64, cells: i64| -> Vec<DateTime> {
            (0..cells)
                .map(|cell| begin + (seconds * cell).seconds())
                .collect()
        };
        assert_eq!(pace(&every(60, 4), 100), None, "too few");
        assert_eq!(pace(&every(0, 9), 100), None, "no time has passed");
        let a_minute_each = pace(&every(60, 9), 100);
        assert_eq!(
            a_minute_each.as_deref(),
            Some("60 cells an hour, 1 h 40 min left")
        );
        let quick = pace(&every(45, 200), 40);
        assert_eq!(quick.as_deref(), Some("80 cells an hour, 30 min left"));
        // A pause of an hour is forgotten after twenty cells.
        let mut paused = every(60, 5);
        paused.extend(every(60, 20).into_iter().map(|time| time + 1.hour()));
        assert_eq!(
            pace(&paused, 60).as_deref(),
            Some("60 cells an hour, 1 h 00 min left")
        );
    }
}

//! Cutoffs kept under names beside those that are set, the history of their moves, and hiding the names of ears.

use super::names::Names;
use crate::insight::{MoveLine, SetLine, Sets};
use crate::model::{Command, Cutoffs, EarId, SeasonId};
use crate::ui::context::PaneCtx;
use crate::ui::tokens::Tokens;
use egui::{Button, Id, Label, RichText, Role, ScrollArea, TextEdit, Ui, WidgetInfo};

/// Lines of the history in sight.
const MOVES_IN_SIGHT: f32 = 5.0;
/// Height of the sets in sight, in rows.
const SETS_IN_SIGHT: f32 = 9.0;

/// What is being typed.
#[derive(Debug, Default)]
pub struct Typing {
    name: String,
    note: String,
    /// The set that gets another name, and the name as typed.
    renaming: Option<(String, String)>,
}

/// What was asked for here, beside commands.
#[derive(Debug, Default)]
pub struct SetsAnswer {
    /// Set these cutoffs.
    pub set: Option<Cutoffs>,
    /// Choose these ears.
    pub choose: Option<Vec<EarId>>,
    /// Hide the names of ears, or show them.
    pub hide: Option<bool>,
}

/// Names the part.
pub fn title(sets: &Sets) -> String {
    format!("Sets: {}, moves: {}", sets.lines.len() - 1, sets.moves.len())
}

/// Draws the part.
pub fn ui(
    ui: &mut Ui,
    ctx: &mut PaneCtx<'_>,
    season: SeasonId,
    sets: &Sets,
    names: &Names,
    typing: &mut Typing,
) -> SetsAnswer {
    let t = Tokens::of(ui);
    let mut answer = SetsAnswer::default();
    let mut hide = names.are_hidden();
    let hint = "Numbers, codes and mother rows of ears are not shown here until you show them again or freeze; so no \
                favourite is cut for. The history notes it.";
    if ui
        .checkbox(&mut hide, "Hide the names of ears while cutting")
        .on_hover_text(hint)
        .changed()
    {
        answer.hide = Some(hide);
    }
    ui.add_enabled_ui(ctx.read_only.is_none(), |ui| keep(ui, ctx, season, sets, typing));
    ui.add_space(t.space.small);
    ScrollArea::vertical()
        .id_salt("sets of cutoffs")
        .max_height(SETS_IN_SIGHT * t.row_height)
        .auto_shrink([false, true])
        .show(ui, |ui| {
            for line in &sets.lines {
                set(ui, ctx, season, line, typing, &mut answer);
            }
        });
    if let Some(said) = sets.moves_sentence() {
        ui.add_space(t.space.small);
        ui.add(Label::new(RichText::new(said).font(t.strong_font())).wrap());
        ScrollArea::vertical()
            .id_salt("moves of cutoffs")
            .max_height(MOVES_IN_SIGHT * t.row_height)
            .auto_shrink([false, true])
            .show_rows(ui, t.row_height, sets.moves.len(), |ui, places| {
                for made in &sets.moves[places] {
                    made_move(ui, ctx, made, &mut answer);
                }
            });
    }
    answer
}

/// Keeps the cutoffs that are set under a name.
fn keep(ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: SeasonId, sets: &Sets, typing: &mut Typing) {
    let t = Tokens::of(ui);
    ui.horizontal_wrapped(|ui| {
        text(ui, "Keep them as", "name of the set", &mut typing.name, 120.0);
        text(ui, "Note", "note of the set", &mut typing.note, 150.0);
        let name = typing.name.trim().to_owned();
        let is_known = sets.lines.iter().any(|line| line.name.as_ref() == Some(&name));
        let button = if is_known {
            "Replace that set"
        } else {
            "Keep the cutoffs"
        };
        if ui.add_enabled(!name.is_empty(), Button::new(button)).clicked() {
            ctx.run(Command::KeepCutoffs {
                season,
                name,
                cutoffs: sets.lines[0].cutoffs.clone(),
                note: typing.note.trim().to_owned(),
            });
            *typing = Typing::default();
        }
    });
    if sets.lines.len() == 1 {
        let what = "Keep the cutoffs under a name, move them, and both stand here beside each other.";
        ui.add(Label::new(RichText::new(what).font(t.small_font()).color(t.quiet)).wrap());
    }
}

fn text(ui: &mut Ui, label: &str, id: &'static str, value: &mut String, width: f32) {
    let label = ui.label(label);
    ui.add(
        TextEdit::singleline(value)
            .id(Id::unique(id))
            .desired_width(width),
    )
    .labelled_by(label.id);
}

fn set(
    ui: &mut Ui,
    ctx: &mut PaneCtx<'_>,
    season: SeasonId,
    line: &SetLine,
    typing: &mut Typing,
    answer: &mut SetsAnswer,
) {
    let t = Tokens::of(ui);
    ui.separator();
    let small = |text: String| Label::new(RichText::new(text).font(t.small_font())).wrap();
    ui.horizontal_wrapped(|ui| {
        let name = line.name.as_deref().unwrap_or("As set now");
        ui.label(RichText::new(name).font(t.strong_font()));
        if !line.note.is_empty() {
            ui.label(RichText::new(&line.note).font(t.small_font()).color(t.quiet));
        }
    });
    let said = ui.add(small(figures(line)));
    said.widget_info(|| WidgetInfo::labeled(Role::Label, true, line.sentence()));
    ui.add(small(line.text.clone()));
    let Some(name) = &line.name else {
        return;
    };
    if let Some((old, new)) = typing.renaming.as_mut().filter(|(old, _)| old == name) {
        let mut is_done = false;
        ui.horizontal_wrapped(|ui| {
            text(ui, "New name", "new name of the set", new, 140.0);
            if ui
                .add_enabled(!new.trim().is_empty(), Button::new("Rename"))
                .clicked()
            {
                ctx.run(Command::RenameCutoffs {
                    season,
                    from: old.clone(),
                    to: new.trim().to_owned(),
                });
                is_done = true;
            }
            is_done |= ui.button("Cancel").clicked();
        });
        if is_done {
            typing.renaming = None;
        }
        return;
    }
    ui.horizontal_wrapped(|ui| {
        let is_free = ctx.read_only.is_none();
        let button = |ui: &mut Ui, can: bool, text: String| {
            let button = Button::new(RichText::new(&text).font(t.small_font()));
            let response = ui.add_enabled(can, button);
            // The name of the set tells the buttons of the sets apart.
            response.widget_info(|| WidgetInfo::labeled(Role::Button, can, format!("{text}: {name}")));
            response.clicked()
        };
        if button(ui, is_free, "Set these".to_owned()) {
            answer.set = Some(line.cutoffs.clone());
        }
        for (ears, what) in [
            (&line.only_here, "kept only here"),
            (&line.only_set, "not kept here"),
        ] {
            if !ears.is_empty() && button(ui, true, format!("Choose {} {what}", ears.len())) {
                answer.choose = Some(ears.clone());
            }
        }
        if button(ui, is_free, "Rename…".to_owned()) {
            typing.renaming = Some((name.clone(), name.clone()));
        }
        if button(ui, is_free, "Remove".to_owned()) {
            ctx.run(Command::DropCutoffs {
                season,
                name: name.clone(),
            });
        }
    });
}

/// The figures of a set in one line, short enough to stand under those of the others.
fn figures(line: &SetLine) -> String {
    let mut parts = vec![
        format!("{} kept", line.kept),
        format!("{} retest", line.retest),
        format!(
            "{} mothers ({:.1} effective)",
            line.mothers_kept, line.effective_mothers
        ),
    ];
    parts.extend(
        line.effective_size
            .map(|[open, closed]| format!("effective size {closed:.0} to {open:.0}")),
    );
    parts.extend(
        line.likely_percent
            .map(|percent| format!("likely {percent:.1} %")),
    );
    parts.extend(
        line.expected_below
            .map(|below| format!("{below:.1} likely below")),
    );
    parts.extend(
        line.maturity_shift_days
            .map(|days| format!("maturity {days:+.1} days")),
    );
    if line.name.is_some() {
        parts.push(format!(
            "{} only here, {} not here",
            line.only_here.len(),
            line.only_set.len()
        ));
    }
    parts.join(" · ")
}

fn made_move(ui: &mut Ui, ctx: &PaneCtx<'_>, made: &MoveLine, answer: &mut SetsAnswer) {
    let t = Tokens::of(ui);
    ui.horizontal(|ui| {
        let said = made.sentence();
        let again = Button::new(RichText::new("Set again").font(t.small_font()));
        let again = ui.add_enabled(ctx.read_only.is_none(), again);
        again.widget_info(|| WidgetInfo::labeled(Role::Button, true, format!("Set again: {said}")));
        if again.clicked() {
            answer.set = Some(made.cutoffs.clone());
        }
        ui.add(Label::new(RichText::new(&said).font(t.small_font())).truncate())
            .on_hover_text(&said);
    });
}

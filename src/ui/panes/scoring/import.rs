//! The preview of a table of counts: what each column holds, what is wrong, what does not fit together, and what will be
//! taken. Nothing is taken before the grower says so.

use super::super::table_preview::{self, Shown, TwoWays, column_choice, lines, problems_ui, switch};
use super::ask::is_reason;
use crate::exchange::counts_csv::{
    CountColumns, CountDraft, CountField, count_drafts, match_count_columns, misfits, record_command,
};
use crate::exchange::table_text::{RowProblem, Table};
use crate::insight::Reading;
use crate::model::{Area, Document, Existing, Pass, Place, Stamp, Test, TestId, capital, plural, sentence};
use crate::ui::context::{FileBytes, PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::{alert, primary_button_enabled};
use egui::{Id, Key, Modifiers, Panel, RichText, ScrollArea, TextEdit, Ui};
use std::collections::BTreeSet;

const ID: &str = "counts import";

/// A table of counts that is being looked at.
#[derive(Debug)]
pub(super) struct Import {
    name: String,
    test: TestId,
    table: Table,
    columns: CountColumns,
    two_ways: TwoWays,
    shown: Shown,
    key: Option<[u64; 5]>,
    found: Found,
    /// Why the counts are so that do not fit together.
    reason: String,
    asked: Option<(Ticket, usize)>,
    refused: Option<String>,
    is_new: bool,
}

/// What would be taken, with the columns as they are matched now.
#[derive(Debug, Default)]
struct Found {
    /// The good lines with their counts.
    drafts: Vec<(usize, CountDraft)>,
    problems: Vec<RowProblem>,
    /// What does not fit together, by the place of its draft.
    misfits: Vec<(usize, RowProblem)>,
    /// Lines with problems.
    bad_lines: usize,
    added: usize,
    corrected: usize,
    withdrawn: usize,
    /// Lines that say what is there already.
    same: usize,
    /// Lines that are not counted, or whose cell keeps its count.
    passed_over: usize,
}

/// What a column of the file can be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Choice {
    LeaveOut,
    Field(CountField),
}

impl Import {
    /// Reads a file and matches its columns.
    pub fn read(file: &FileBytes, test: TestId, pass: Pass) -> Result<Self, String> {
        let table = table_preview::read(file)?;
        let mut columns = match_count_columns(&table);
        columns.pass = pass;
        Ok(Self {
            name: file.name.clone(),
            test,
            two_ways: TwoWays::of(&table),
            table,
            columns,
            shown: Shown::default(),
            key: None,
            found: Found::default(),
            reason: String::new(),
            asked: None,
            refused: None,
            is_new: true,
        })
    }

    /// Draws the preview; returns whether it is done.
    pub fn ui(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: &Test) -> bool {
        if let Some((ticket, count)) = self.asked
            && let Some(outcome) = ctx.outcome(ticket)
        {
            self.asked = None;
            match outcome {
                Ok(_) => {
                    let text = format!("{} taken from {}.", plural(count, "count"), self.name);
                    ctx.notice(Tone::Well, text);
                    return true;
                }
                Err(problem) => {
                    let what = sentence(&problem.fault.to_string());
                    self.refused = Some(format!("{what} Nothing was taken."));
                }
            }
        }
        if test.id != self.test {
            return true;
        }
        self.refresh(ctx);
        let t = Tokens::of(ui);
        let title = format!("Import {} into {}", self.name, test.name);
        ui.label(RichText::new(title).font(t.title_font()));
        let mut done = false;
        Panel::left("counts import columns")
            .resizable(true)
            .default_size(360.0)
            .size_range(240.0..=520.0)
            .show(ui, |ui| {
                ScrollArea::vertical().show(ui, |ui| self.choices(ui));
            });
        Panel::bottom("counts import foot").show(ui, |ui| {
            ui.add_space(t.space.small);
            done = self.foot(ui, ctx);
        });
        self.shown.ui(ui, ID, &self.table);
        let escaped = !ui.ctx().any_popup_open()
            && ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Escape));
        done || escaped
    }

    /// Reads the table again when the columns or the project have changed.
    fn refresh(&mut self, ctx: &PaneCtx<'_>) {
        let areas = [Area::Ear, Area::Test, Area::Tray, Area::Cell, Area::Count];
        let key = ctx.document.revision_key(areas);
        if self.key == Some(key) {
            return;
        }
        self.key = Some(key);
        let stamp = Stamp {
            at: ctx.now,
            by: ctx.who.to_owned(),
        };
        self.found = Found::of(&self.table, &self.columns, ctx.document, self.test, &stamp);
        let misfits = self.found.misfits.iter().map(|(_, problem)| problem);
        let problems = self.found.problems.iter().chain(misfits);
        self.shown.mark(&self.table, problems);
    }

    // ---- choices -----------------------------------------------------------------------------------------

    fn choices(&mut self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        ui.label(RichText::new("What each column holds").font(t.heading_font()));
        let mut changed = false;
        for at in 0..self.table.header.len() {
            let now = self.columns.fields[at].map_or(Choice::LeaveOut, Choice::Field);
            let choices = std::iter::once(Choice::LeaveOut).chain(CountField::all().map(Choice::Field));
            let title = |choice: Choice| match choice {
                Choice::LeaveOut => "Leave out".to_owned(),
                Choice::Field(field) => capital(field.title()),
            };
            let id = ("counts import column", at);
            let is_new = &mut self.is_new;
            if let Some(next) = column_choice(ui, id, &self.table, now, choices, &title, is_new) {
                self.columns.fields[at] = match next {
                    Choice::Field(field) => Some(field),
                    Choice::LeaveOut => None,
                };
                changed = true;
            }
        }
        ui.add_space(t.space.medium);
        if !self.columns.fields.contains(&Some(CountField::Pass)) {
            ui.label(RichText::new("The counts are").font(t.strong_font()));
            let between = match self.columns.pass {
                Pass::Between(_) => Some(self.columns.pass),
                Pass::Early | Pass::Final => None,
            };
            let passes: Vec<Pass> = [Pass::Early]
                .into_iter()
                .chain(between)
                .chain([Pass::Final])
                .collect();
            let words: Vec<String> = passes.iter().map(|pass| capital(&pass.to_string())).collect();
            let words: Vec<&str> = words.iter().map(String::as_str).collect();
            changed |= switch(
                ui,
                (ID, "Pass of the counts"),
                &words,
                &passes,
                &mut self.columns.pass,
            );
        }
        ui.label(RichText::new("Cells that have another count already").font(t.strong_font()));
        let ways = [Existing::Refuse, Existing::Update, Existing::Skip];
        changed |= switch(
            ui,
            (ID, "Existing counts"),
            &["Refuse", "Correct them", "Leave them"],
            &ways,
            &mut self.columns.existing,
        );
        let (dates, decimal) = (&mut self.columns.dates, &mut self.columns.decimal);
        changed |= self.two_ways.ui(ui, ID, dates, decimal);
        if changed {
            self.key = None;
            self.refused = None;
            ui.request_repaint();
        }
    }

    // ---- what will happen --------------------------------------------------------------------------------

    /// Draws problems, summary and buttons; returns whether the preview is done.
    fn foot(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) -> bool {
        let t = Tokens::of(ui);
        if let Some(refused) = &self.refused {
            alert(ui, refused);
        }
        problems_ui(ui, "counts import problems", &self.found.problems);
        self.misfits_ui(ui);
        ui.label(RichText::new(self.found.summary()).font(t.strong_font()));
        let is_explained = self.found.misfits.is_empty() || is_reason(&self.reason);
        let odd = if is_explained { 0 } else { self.found.misfits.len() };
        let all = self.found.drafts.len().saturating_sub(self.found.same);
        let fitting = all.saturating_sub(odd);
        let mut done = false;
        ui.horizontal_wrapped(|ui| {
            let is_good = self.found.bad_lines == 0 && odd == 0 && all > 0;
            let is_partly = self.found.bad_lines > 0 || odd > 0;
            let word = format!("Take {}", plural(all, "count"));
            let mut take = primary_button_enabled(ui, is_good && self.asked.is_none(), &word);
            if is_partly {
                take = take.on_disabled_hover_text(
                    "Correct the file and import it again, say why it is so, or take the good lines.",
                );
            }
            let left_out = self.found.bad_lines + all - fitting;
            let partly = format!(
                "Take the good {}, leave out {}",
                plural(fitting, "count"),
                lines(left_out)
            );
            if take.clicked() || (is_partly && fitting > 0 && ui.button(partly).clicked()) {
                self.take(ctx, is_explained);
            }
            done = ui.button("Cancel").clicked();
        });
        ui.add_space(t.space.tiny);
        done
    }

    /// Lists what does not fit together, and asks why.
    fn misfits_ui(&mut self, ui: &mut Ui) {
        if self.found.misfits.is_empty() {
            return;
        }
        let t = Tokens::of(ui);
        let problems: Vec<RowProblem> = self.found.misfits.iter().map(|(_, one)| one.clone()).collect();
        problems_ui(ui, "counts import misfits", &problems);
        ui.horizontal_wrapped(|ui| {
            let label = ui.label(RichText::new("Why are they so?").font(t.strong_font()));
            let edit = TextEdit::singleline(&mut self.reason)
                .id(Id::unique("counts import reason"))
                .hint_text("kept with each count that does not fit")
                .desired_width(300.0);
            ui.add(edit).labelled_by(label.id);
            if ui.button("Died after sprouting").clicked() {
                "died after sprouting".clone_into(&mut self.reason);
            }
        });
    }

    fn take(&mut self, ctx: &mut PaneCtx<'_>, is_explained: bool) {
        let odd = self.found.odd(is_explained);
        let named: BTreeSet<usize> = self.found.misfits.iter().map(|(at, _)| *at).collect();
        let reason = self.reason.trim();
        let taken: Vec<(usize, CountDraft)> = self
            .found
            .drafts
            .iter()
            .enumerate()
            .filter(|(at, _)| !odd.contains(at))
            .map(|(at, (line, draft))| {
                let mut draft = draft.clone();
                if named.contains(&at) {
                    reason.clone_into(&mut draft.seen.overruled);
                }
                (*line, draft)
            })
            .collect();
        self.refused = None;
        let new = taken.len().saturating_sub(self.found.same);
        self.asked = Some((ctx.run_for(record_command(&taken)), new));
    }
}

impl Found {
    /// Tries everything on a copy of the project, so that what is promised can also be done.
    fn of(table: &Table, columns: &CountColumns, document: &Document, test: TestId, stamp: &Stamp) -> Self {
        let project = document.project();
        let (drafts, problems) = count_drafts(table, columns, project, test);
        let mut found = Self {
            misfits: misfits(project, &drafts),
            problems,
            ..Self::default()
        };
        for (_, draft) in &drafts {
            let seen = &draft.seen;
            let reading = Reading {
                pass: seen.pass,
                second: seen.second,
            };
            match reading.count(project, seen.cell) {
                _ if draft.is_void => found.withdrawn += 1,
                None => found.added += 1,
                Some(count)
                    if (count.tally, count.vigor, count.mould) == (seen.tally, seen.vigor, seen.mould) =>
                {
                    found.same += 1;
                }
                Some(_) => found.corrected += 1,
            }
        }
        let mut trial = Document::new((*document.snapshot()).clone());
        if let Err(problem) = trial.run(&record_command(&drafts), stamp) {
            let cell = match problem.place {
                Place::Cell(cell) => Some(cell),
                Place::Count(count) => trial.project().counts.get(count).map(|count| count.cell),
                _ => None,
            };
            let line = drafts.iter().find(|(_, draft)| Some(draft.seen.cell) == cell);
            let line = line.map_or(table.header_line, |(line, _)| *line);
            found
                .problems
                .push(RowProblem::of_line(line, problem.fault.to_string()));
        }
        let bad: BTreeSet<usize> = found.problems.iter().map(|problem| problem.line).collect();
        found.bad_lines = bad.len();
        let read: BTreeSet<usize> = drafts.iter().map(|(line, _)| *line).collect();
        let is_passed = |line: &usize| !read.contains(line) && !bad.contains(line);
        found.passed_over = table.rows.iter().map(|row| row.line).filter(is_passed).count();
        found.drafts = drafts;
        found
    }

    /// The places of the drafts that do not fit and are not explained.
    fn odd(&self, is_explained: bool) -> BTreeSet<usize> {
        let named = self.misfits.iter().map(|(at, _)| *at);
        named.filter(|_| !is_explained).collect()
    }

    fn summary(&self) -> String {
        let mut parts = vec![format!("{} new", plural(self.added, "count"))];
        for (count, what) in [
            (self.corrected, "corrected"),
            (self.withdrawn, "withdrawn"),
            (self.same, "there already"),
        ] {
            if count > 0 {
                parts.push(format!("{count} {what}"));
            }
        }
        for (count, what) in [
            (self.passed_over, "passed over"),
            (self.bad_lines, "with problems"),
        ] {
            if count > 0 {
                parts.push(format!("{} {what}", lines(count)));
            }
        }
        if !self.misfits.is_empty() {
            parts.push(format!("{} that do not fit together", self.misfits.len()));
        }
        format!("{}. Nothing is taken yet.", parts.join(", "))
    }
}

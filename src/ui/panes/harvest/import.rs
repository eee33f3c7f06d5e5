//! The preview of a file of ears: what each column holds, what is wrong, and what will be taken. Nothing is taken
//! before the grower says so.

use super::super::table_preview::{self, Shown, TwoWays, column_choice, lines, problems_ui, switch};
use super::traits::new_trait;
use crate::exchange::ears_csv::{ColumnMatch, drafts, match_columns};
use crate::exchange::table_text::{RowProblem, Table};
use crate::model::{
    Area, Command, Document, EarDraft, EarField, Existing, Place, Project, Season, SeasonId, Stamp, Trait,
    TraitId, plural, sentence,
};
use crate::ui::context::{FileBytes, PaneCtx, Ticket, Tone};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::parts::{alert, primary_button_enabled};
use egui::{Key, Modifiers, RichText, ScrollArea, Ui};

/// A file that is being looked at.
#[derive(Debug)]
pub(super) struct Import {
    name: String,
    table: Table,
    columns: ColumnMatch,
    /// For each column of the file whether it becomes a new trait.
    is_new_trait: Vec<bool>,
    two_ways: TwoWays,
    shown: Shown,
    key: Option<(SeasonId, [u64; 4])>,
    found: Found,
    asked: Option<(Ticket, usize)>,
    refused: Option<String>,
    is_new: bool,
}

/// What would be taken, with the columns as they are matched now.
#[derive(Debug, Default)]
struct Found {
    new_traits: Vec<Trait>,
    drafts: Vec<EarDraft>,
    problems: Vec<RowProblem>,
    /// Lines with problems.
    bad_lines: usize,
    added: usize,
    changed: usize,
    skipped: usize,
}

/// What a column of the file can be.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Choice {
    LeaveOut,
    NewTrait,
    Field(EarField),
}

impl Import {
    /// Reads a file and matches its columns.
    pub(super) fn read(file: &FileBytes, project: &Project) -> Result<Self, String> {
        let table = table_preview::read(file)?;
        let columns = match_columns(&table, project);
        Ok(Self {
            name: file.name.clone(),
            is_new_trait: vec![false; table.header.len()],
            two_ways: TwoWays::of(&table),
            table,
            columns,
            shown: Shown::default(),
            key: None,
            found: Found::default(),
            asked: None,
            refused: None,
            is_new: true,
        })
    }

    /// Draws the preview; returns whether it is done.
    pub(super) fn show(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: &Season) -> bool {
        if let Some((ticket, count)) = self.asked
            && let Some(outcome) = ctx.outcome(ticket)
        {
            self.asked = None;
            match outcome {
                Ok(_) => {
                    let text = format!("{} taken from {}.", ears(count), self.name);
                    ctx.notice(Tone::Well, text);
                    return true;
                }
                Err(problem) => {
                    let what = sentence(&problem.fault.to_string());
                    self.refused = Some(format!("{what} Nothing was taken."));
                }
            }
        }
        self.refresh(ctx, season.id);
        let t = Tokens::of(ui);
        let title = format!("Import {} into season {}", self.name, season.year);
        ui.label(RichText::new(title).font(t.title_font()));
        let mut done = false;
        egui::Panel::left("harvest import columns")
            .resizable(true)
            .default_size(360.0)
            .size_range(240.0..=520.0)
            .show(ui, |ui| {
                ScrollArea::vertical().show(ui, |ui| self.choices(ui, ctx.document.project()));
            });
        egui::Panel::bottom("harvest import foot").show(ui, |ui| {
            ui.add_space(t.space.small);
            done = self.foot(ui, ctx, season.id);
        });
        self.shown.ui(ui, "harvest import", &self.table);
        let escaped = !ui.ctx().any_popup_open()
            && ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Escape));
        done || escaped
    }

    /// Reads the file again when the columns or the project have changed.
    fn refresh(&mut self, ctx: &PaneCtx<'_>, season: SeasonId) {
        let key = ctx
            .document
            .revision_key([Area::Ear, Area::Row, Area::Trait, Area::Season]);
        if self.key == Some((season, key)) {
            return;
        }
        self.key = Some((season, key));
        let stamp = Stamp {
            at: ctx.today.at(0, 0, 0, 0),
            by: ctx.who.to_owned(),
        };
        self.found = self.look(ctx.document, season, &stamp);
        self.shown.mark(&self.table, self.found.problems.iter());
    }

    /// Tries everything on a copy of the project, so that what is promised can also be done.
    fn look(&self, document: &Document, season: SeasonId, stamp: &Stamp) -> Found {
        let mut found = Found::default();
        let mut trial = Document::new((*document.snapshot()).clone());
        let mut columns = self.columns.clone();
        for (at, header) in self.table.header.iter().enumerate() {
            if !self.is_new_trait[at] {
                continue;
            }
            let known = self.trait_of(header, at);
            let id = TraitId(trial.project().traits.next_number());
            match trial.run(&Command::AddTrait(known.clone()), stamp) {
                Ok(_) => {
                    columns.fields[at] = Some(EarField::Trait(id));
                    found.new_traits.push(known);
                }
                Err(problem) => found.problems.push(RowProblem::of_column(
                    self.table.header_line,
                    header,
                    problem.fault.to_string(),
                )),
            }
        }
        let project = trial.project();
        let first_new = project.ears.next_number();
        let (lines, problems) = drafts(&self.table, &columns, project, season);
        found.problems.extend(problems);
        let mut new_lines = Vec::new();
        for (line, draft) in &lines {
            let is_there = draft
                .number
                .is_some_and(|number| project.ear_numbered(season, number).is_some());
            match (is_there, columns.existing) {
                (false, _) => {
                    found.added += 1;
                    new_lines.push(*line);
                }
                (true, Existing::Skip) => found.skipped += 1,
                (true, _) => found.changed += 1,
            }
        }
        found.drafts = lines.iter().map(|(_, draft)| draft.clone()).collect();
        let command = found.command(season, columns.existing);
        if let Err(problem) = trial.run(&command, stamp) {
            let line = match problem.place {
                Place::Ear(ear) => ear
                    .0
                    .checked_sub(first_new)
                    .and_then(|at| new_lines.get(at as usize))
                    .copied()
                    .or_else(|| {
                        let number = document.project().ears.get(ear).map(|ear| ear.number);
                        lines
                            .iter()
                            .find(|(_, draft)| draft.number == number)
                            .map(|(line, _)| *line)
                    }),
                _ => None,
            };
            let problem =
                RowProblem::of_line(line.unwrap_or(self.table.header_line), problem.fault.to_string());
            found.problems.push(problem);
            // The whole is refused: there are no good lines that could be taken alone.
            found.drafts.clear();
            (found.added, found.changed, found.skipped) = (0, 0, 0);
        }
        let mut bad: Vec<usize> = found.problems.iter().map(|problem| problem.line).collect();
        bad.sort_unstable();
        bad.dedup();
        found.bad_lines = bad.len();
        found
    }

    /// The trait that a column becomes: its name and unit from the header, its digits from the cells.
    fn trait_of(&self, header: &str, at: usize) -> Trait {
        let (name, unit) = match header
            .trim()
            .strip_suffix(')')
            .and_then(|rest| rest.rsplit_once('('))
        {
            Some((name, unit)) if !name.trim().is_empty() => (name.trim(), unit.trim()),
            _ => (header.trim(), ""),
        };
        let digits = |cell: &str| {
            let cell = cell.trim();
            cell.rsplit_once([',', '.']).map_or(0, |(_, digits)| digits.len())
        };
        let cells = self.table.rows.iter().filter_map(|row| row.cells.get(at));
        let decimals = cells.map(|cell| digits(cell)).max().unwrap_or(0).min(6);
        Trait {
            unit: unit.to_owned(),
            decimals: decimals as u8,
            ..new_trait(name)
        }
    }

    // ---- choices -----------------------------------------------------------------------------------------

    fn choices(&mut self, ui: &mut Ui, project: &Project) {
        let t = Tokens::of(ui);
        ui.label(RichText::new("What each column holds").font(t.heading_font()));
        let mut changed = false;
        for at in 0..self.table.header.len() {
            changed |= self.choice(ui, project, at);
        }
        ui.add_space(t.space.medium);
        ui.label(RichText::new("Ears whose number this season already has").font(t.strong_font()));
        let ways = [Existing::Refuse, Existing::Update, Existing::Skip];
        changed |= switch(
            ui,
            ("harvest import", "Existing ears"),
            &["Refuse", "Change them", "Leave them"],
            &ways,
            &mut self.columns.existing,
        );
        let (dates, decimal) = (&mut self.columns.dates, &mut self.columns.decimal);
        changed |= self.two_ways.ui(ui, "harvest import", dates, decimal);
        if changed {
            self.key = None;
            self.refused = None;
            ui.request_repaint();
        }
    }

    /// Draws the choice of one column; returns whether it was changed.
    fn choice(&mut self, ui: &mut Ui, project: &Project, at: usize) -> bool {
        let now = match (self.is_new_trait[at], self.columns.fields[at]) {
            (true, _) => Choice::NewTrait,
            (false, Some(field)) => Choice::Field(field),
            (false, None) => Choice::LeaveOut,
        };
        let title = |choice: Choice| match choice {
            Choice::LeaveOut => "Leave out".to_owned(),
            Choice::NewTrait => "Add as a new trait".to_owned(),
            Choice::Field(field) => field.title(project),
        };
        let fields = EarField::all(project).into_iter().map(Choice::Field);
        let can_be_trait = !self.table.header[at].is_empty();
        let choices = std::iter::once(Choice::LeaveOut)
            .chain(can_be_trait.then_some(Choice::NewTrait))
            .chain(fields);
        let id = ("harvest import column", at);
        let is_new = &mut self.is_new;
        let Some(next) = column_choice(ui, id, &self.table, now, choices, &title, is_new) else {
            return false;
        };
        self.is_new_trait[at] = next == Choice::NewTrait;
        self.columns.fields[at] = match next {
            Choice::Field(field) => Some(field),
            Choice::LeaveOut | Choice::NewTrait => None,
        };
        true
    }

    // ---- what will happen --------------------------------------------------------------------------------

    /// Draws problems, summary and buttons; returns whether the preview is done.
    fn foot(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>, season: SeasonId) -> bool {
        let t = Tokens::of(ui);
        if let Some(refused) = &self.refused {
            alert(ui, refused);
        }
        problems_ui(ui, "harvest import problems", &self.found.problems);
        ui.label(RichText::new(self.found.summary()).font(t.strong_font()));
        let mut done = false;
        ui.horizontal_wrapped(|ui| {
            let count = self.found.added + self.found.changed;
            let is_good = self.found.bad_lines == 0 && count > 0;
            let is_bad = self.found.bad_lines > 0;
            let all = self.table.rows.len() + self.table.problems.len();
            let word = if is_bad {
                format!("Take all {}", lines(all))
            } else {
                format!("Take {}", ears(count))
            };
            let mut take = primary_button_enabled(ui, is_good, &word);
            if is_bad {
                take = take
                    .on_disabled_hover_text("Correct the file and import it again, or take the good lines.");
            }
            let bad = lines(self.found.bad_lines);
            let partly = format!("Take the good {}, leave out {bad}", ears(count));
            if take.clicked() || (is_bad && count > 0 && ui.button(partly).clicked()) {
                self.take(ctx, season, count);
            }
            done = ui.button("Cancel").clicked();
        });
        ui.add_space(t.space.tiny);
        done
    }

    /// Adds the new traits, then the ears: the copy on which it was tried gave the traits the same ids.
    fn take(&mut self, ctx: &mut PaneCtx<'_>, season: SeasonId, count: usize) {
        for known in &self.found.new_traits {
            ctx.run(Command::AddTrait(known.clone()));
        }
        let ticket = ctx.run_for(self.found.command(season, self.columns.existing));
        self.asked = Some((ticket, count));
    }
}

impl Found {
    fn command(&self, season: SeasonId, existing: Existing) -> Command {
        Command::AddEars {
            season,
            drafts: self.drafts.clone(),
            existing,
        }
    }

    fn summary(&self) -> String {
        let mut parts = vec![format!("{} new", ears(self.added))];
        if self.changed > 0 {
            parts.push(format!("{} changed", ears(self.changed)));
        }
        if self.skipped > 0 {
            parts.push(format!("{} left as they are", ears(self.skipped)));
        }
        let count = self.new_traits.len();
        if count > 0 {
            let word = if count == 1 { "trait" } else { "traits" };
            parts.push(format!("{count} new {word}"));
        }
        if self.bad_lines > 0 {
            parts.push(format!("{} with problems", lines(self.bad_lines)));
        }
        format!("{}. Nothing is taken yet.", parts.join(", "))
    }
}

fn ears(count: usize) -> String {
    plural(count, "ear")
}

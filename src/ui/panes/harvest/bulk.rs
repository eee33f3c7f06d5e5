//! Adding many ears at once from the rows they come from.

use crate::model::sentence;
use crate::model::{Command, EarDraft, EarField, EarValue, Existing, Problem, Project, SeasonId, read_whole};
use crate::ui::context::{PaneCtx, Ticket};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use crate::ui::widgets::parts::alert;
use crate::ui::widgets::segmented::segmented;
use egui::{Id, RichText, TextEdit, Ui};
use std::collections::BTreeMap;

/// The most ears that one line adds.
const MOST_EARS: u32 = 100_000;
/// Room for the words before the fields of a form, in points.
const LABEL_WIDTH: f32 = 240.0;

/// The dialog 'Add ears'.
#[derive(Debug, Default)]
pub(super) struct Bulk {
    several: bool,
    row: String,
    first: String,
    count: String,
    kernels: String,
    lines: String,
    is_new: bool,
    ticket: Option<Ticket>,
    refused: Option<String>,
}

/// Ears of one mother row that are to be added.
#[derive(Debug, Clone, PartialEq, Eq)]
struct Run {
    row: String,
    first: u32,
    last: u32,
}

impl Run {
    fn len(&self) -> usize {
        (self.last - self.first) as usize + 1
    }
}

impl Bulk {
    pub(super) fn new() -> Self {
        Self {
            is_new: true,
            ..Self::default()
        }
    }

    /// Draws the dialog; returns whether it is done.
    pub(super) fn show(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>, season: SeasonId) -> bool {
        if let Some(outcome) = self.ticket.and_then(|ticket| ctx.outcome(ticket)) {
            match outcome {
                Ok(_) => return true,
                Err(problem) => self.refused = Some(sentence(&problem.fault.to_string())),
            }
            self.ticket = None;
        }
        let drafts = self.drafts(ctx.document.project(), season);
        let ready = drafts.as_ref().is_ok_and(|drafts| !drafts.is_empty());
        let confirm = match &drafts {
            Ok(drafts) if ready => format!("Add {}", ears(drafts.len())),
            _ => "Add ears".to_owned(),
        };
        let dialog = Dialog::new(Id::unique("harvest add ears"), "Add ears from rows")
            .confirm(&confirm)
            .can_confirm(ready)
            .body_takes_focus();
        let answer = dialog.show(ui.ctx(), |ui| self.body(ui, &drafts));
        match (answer, drafts) {
            (Some(DialogAnswer::Cancel), _) => true,
            (Some(DialogAnswer::Confirm), Ok(drafts)) => {
                let command = Command::AddEars {
                    season,
                    drafts,
                    existing: Existing::Refuse,
                };
                self.ticket = Some(ctx.run_for(command));
                false
            }
            _ => false,
        }
    }

    fn body(&mut self, ui: &mut Ui, drafts: &Result<Vec<EarDraft>, String>) {
        let t = Tokens::of(ui);
        let options = ["One row", "Several rows"];
        let switch = Id::unique("harvest add ears kind");
        if let Some(chosen) = segmented(ui, switch, "How many rows", &options, usize::from(self.several)) {
            self.several = chosen == 1;
        }
        ui.add_space(t.space.small);
        let mut changed = false;
        let focus = std::mem::take(&mut self.is_new);
        if self.several {
            let label = ui.label("One line for each row, such as 'row 7: ears 1 to 14' or 'row 8: 12 ears'");
            let field = TextEdit::multiline(&mut self.lines)
                .id(Id::unique("harvest add ears lines"))
                .desired_rows(6)
                .desired_width(f32::INFINITY);
            changed |= ui.add(field).labelled_by(label.id).changed();
            changed |= field_line(ui, "Kernels each, if counted", &mut self.kernels, false);
        } else {
            changed |= field_line(ui, "Mother row", &mut self.row, focus);
            changed |= field_line(ui, "How many ears", &mut self.count, false);
            changed |= field_line(ui, "First ear number, if not the next", &mut self.first, false);
            changed |= field_line(ui, "Kernels each, if counted", &mut self.kernels, false);
        }
        if changed {
            self.refused = None;
        }
        ui.add_space(t.space.small);
        match (drafts, &self.refused) {
            (_, Some(refused)) | (Err(refused), None) => alert(ui, refused),
            (Ok(drafts), None) => {
                ui.label(RichText::new(preview(drafts)).color(t.quiet));
            }
        }
    }

    fn is_blank(&self) -> bool {
        let fields = if self.several {
            vec![&self.lines]
        } else {
            vec![&self.row, &self.count, &self.first]
        };
        fields.iter().all(|field| field.trim().is_empty())
    }

    /// What would be added; nothing while nothing is typed.
    fn drafts(&self, project: &Project, season: SeasonId) -> Result<Vec<EarDraft>, String> {
        if self.is_blank() {
            return Ok(Vec::new());
        }
        let kernels = read_kernels(&self.kernels, project)?;
        let next = project.next_ear_number(season);
        let runs = if self.several {
            read_lines(&self.lines, next)?
        } else {
            vec![self.one_run(next)?]
        };
        for (run, number) in runs
            .iter()
            .flat_map(|run| (run.first..=run.last).map(move |number| (run, number)))
        {
            if project.ear_numbered(season, number).is_some() {
                return Err(format!(
                    "This season already has ear {number}, which row {} would get. Begin at {next} or higher.",
                    run.row
                ));
            }
        }
        Ok(runs
            .iter()
            .flat_map(|run| (run.first..=run.last).map(|number| draft(run, number, kernels)))
            .collect())
    }

    fn one_run(&self, next: u32) -> Result<Run, String> {
        let first = if self.first.trim().is_empty() {
            next
        } else {
            whole("the first ear number", &self.first)?
        };
        if self.count.trim().is_empty() {
            return Err("Type how many ears there are of this row.".to_owned());
        }
        let count = whole("the number of ears", &self.count)?;
        run(
            self.row.trim(),
            first,
            first.saturating_add(count.saturating_sub(1)),
            count,
        )
    }
}

fn draft(run: &Run, number: u32, kernels: Option<u32>) -> EarDraft {
    EarDraft {
        number: Some(number),
        row: Some(run.row.clone()).filter(|row| !row.is_empty()),
        kernels,
        ..EarDraft::default()
    }
}

fn read_kernels(text: &str, project: &Project) -> Result<Option<u32>, String> {
    match super::edits::read_cell(EarField::Kernels, text, project)? {
        EarValue::Whole(kernels) => Ok(Some(kernels)),
        _ => Ok(None),
    }
}

fn whole(what: &str, text: &str) -> Result<u32, String> {
    read_whole(what, text, 9_999_999).map_err(|fault| sentence(&fault.to_string()))
}

fn run(row: &str, first: u32, last: u32, count: u32) -> Result<Run, String> {
    if first == 0 || count == 0 {
        return Err("Ears are numbered from 1, and a row adds at least one. Correct the numbers.".to_owned());
    }
    if last < first {
        return Err(format!(
            "Ears {first} to {last} run backwards. Write the smaller number first."
        ));
    }
    if last - first >= MOST_EARS {
        return Err(format!(
            "Row {row} would get {} ears, more than {MOST_EARS}. Correct the numbers.",
            last - first + 1
        ));
    }
    Ok(Run {
        row: row.to_owned(),
        first,
        last,
    })
}

/// Reads lines such as `row 7: ears 1 to 14`, `7: 15-20`, `row 8: 12 ears`, or a row and a number of ears with a tab
/// between them. Rows that give only a number of ears go on from the highest number before them.
fn read_lines(text: &str, mut next: u32) -> Result<Vec<Run>, String> {
    let mut runs: Vec<Run> = Vec::new();
    let mut lines_of: BTreeMap<u32, usize> = BTreeMap::new();
    for (line, text) in (1..).zip(text.lines()) {
        if text.trim().is_empty() {
            continue;
        }
        let run = read_line(text, next).map_err(|what| format!("Line {line}: {what}"))?;
        for number in run.first..=run.last {
            if let Some(before) = lines_of.insert(number, line) {
                return Err(format!(
                    "Line {line}: ear {number} is on line {before} already. A season has every number once; write '{}: {} ears' to go on counting.",
                    run.row,
                    run.len()
                ));
            }
        }
        next = next.max(run.last.saturating_add(1));
        runs.push(run);
    }
    Ok(runs)
}

fn read_line(text: &str, next: u32) -> Result<Run, String> {
    let how = || {
        format!(
            "'{}' cannot be read. Write it as 'row 7: ears 1 to 14' or 'row 7: 14 ears'.",
            text.trim()
        )
    };
    let (row, what, tabbed) = match (text.rsplit_once(':'), text.split_once('\t')) {
        (Some((row, what)), _) => (row, what, false),
        (None, Some((row, what))) => (row, what, true),
        (None, None) => return Err(how()),
    };
    let row = strip_word(row.trim(), &["row"]);
    let what = what.trim().to_lowercase();
    let number = |text: &str| text.trim().parse::<u32>().ok();
    let counted = what.strip_suffix("ears").or_else(|| what.strip_suffix("ear"));
    let only_count = counted.or(tabbed.then_some(what.as_str())).and_then(number);
    if let Some(count) = only_count {
        return run(row, next, next.saturating_add(count.saturating_sub(1)), count);
    }
    let numbers = strip_word(&what, &["ears", "ear"]);
    let ends = ["to", "-", "–"].iter().find_map(|word| numbers.split_once(word));
    let (first, last) = ends.unwrap_or((numbers, numbers));
    match (number(first), number(last)) {
        (Some(first), Some(last)) => run(row, first, last, 1),
        _ => Err(how()),
    }
}

/// Takes one of the words off the beginning, if a space follows it.
fn strip_word<'a>(text: &'a str, words: &[&str]) -> &'a str {
    let Some((first, rest)) = text.split_once(' ') else {
        return text;
    };
    let is_word = words.iter().any(|word| first.eq_ignore_ascii_case(word));
    if is_word { rest.trim() } else { text }
}

fn ears(count: usize) -> String {
    if count == 1 {
        "1 ear".to_owned()
    } else {
        format!("{count} ears")
    }
}

/// What pressing the button will do.
fn preview(drafts: &[EarDraft]) -> String {
    let numbers = || drafts.iter().filter_map(|draft| draft.number);
    let (Some(least), Some(most)) = (numbers().min(), numbers().max()) else {
        return "Nothing is added yet.".to_owned();
    };
    let rows: std::collections::BTreeSet<&str> =
        drafts.iter().filter_map(|draft| draft.row.as_deref()).collect();
    let from = match rows.len() {
        0 => "without a mother row".to_owned(),
        1 => format!("of row {}", rows.iter().next().copied().unwrap_or_default()),
        count => format!("of {count} rows"),
    };
    if drafts.len() == 1 {
        return format!("1 ear {from} will be added: ear {least}.");
    }
    format!(
        "{} {from} will be added, numbered from {least} to {most}.",
        ears(drafts.len())
    )
}

/// A labelled line of a form; returns whether it was changed.
pub(super) fn field_line(ui: &mut Ui, label: &str, text: &mut String, focus: bool) -> bool {
    ui.horizontal(|ui| {
        let left = ui.cursor().left();
        let name = ui.label(label);
        ui.add_space((left + LABEL_WIDTH - ui.cursor().left()).max(0.0));
        let field = TextEdit::singleline(text)
            .id(Id::unique(("harvest form", label)))
            .desired_width(140.0);
        let response = ui.add(field).labelled_by(name.id);
        if focus {
            response.request_focus();
        }
        response.changed()
    })
    .inner
}

/// Says what a command was refused for.
pub(super) fn refusal(problem: &Problem) -> String {
    sentence(&problem.fault.to_string())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn runs(text: &str) -> Vec<(String, u32, u32)> {
        let runs = read_lines(text, 5).unwrap();
        runs.into_iter()
            .map(|run| (run.row, run.first, run.last))
            .collect()
    }

    fn one(row: &str, first: u32, last: u32) -> (String, u32, u32) {
        (row.to_owned(), first, last)
    }

    #[test]
    fn lines_are_read_as_growers_write_them() {
        assert_eq!(runs("row 7: ears 1 to 14"), [one("7", 1, 14)]);
        assert_eq!(
            runs("7: 15-20\n\nRow 8b: ear 21"),
            [one("7", 15, 20), one("8b", 21, 21)]
        );
        assert_eq!(
            runs("row 7: 3 ears\n8\t2\nrow 9: 1 ear"),
            [one("7", 5, 7), one("8", 8, 9), one("9", 10, 10)]
        );
        assert_eq!(runs("west row: 2 ears"), [one("west row", 5, 6)]);
    }

    #[test]
    fn a_line_that_cannot_be_read_is_named() {
        for (text, wanted) in [
            ("row 7: 2 ears\nrow 8", "Line 2: 'row 8' cannot be read"),
            ("row 7: ears one to two", "Line 1: "),
            ("row 7: ears 9 to 2", "Line 1: Ears 9 to 2 run backwards"),
            ("row 7: 0 ears", "Line 1: Ears are numbered from 1"),
            (
                "row 7: ears 1 to 3\nrow 8: ears 3 to 4",
                "Line 2: ear 3 is on line 1 already",
            ),
            ("row 7: ears 1 to 999999", "Line 1: Row 7 would get"),
        ] {
            let said = read_lines(text, 1).unwrap_err();
            assert!(said.starts_with(wanted), "{said}");
        }
    }
}

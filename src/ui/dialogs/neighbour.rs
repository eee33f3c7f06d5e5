//! Another project beside this one, and the line of one of its ears brought over.

use super::Answer;
use crate::insight::{Beside, Insight, MeanOf, SeasonBeside, SideOfSeason, beside};
use crate::model::{
    Bringing, Command, Document, EarCode, Line, Project, Stamp, bring, line_of, plural, read_whole, sentence,
};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use crate::ui::widgets::parts::alert;
use egui::{Context, Grid, Id, Label, RichText, ScrollArea, TextEdit, Ui};

/// A line and what bringing it would do, or why it cannot be brought.
type Found = Result<(Line, Bringing), String>;

/// Another project before anything of it is taken.
#[derive(Debug)]
pub struct Neighbour {
    other: Project,
    beside: Beside,
    /// The ears of the other project: code, and what it is in words; the latest season first.
    ears: Vec<(EarCode, String)>,
    code: String,
    kernels: String,
    stamp: Stamp,
    read_only: Option<String>,
    /// What was typed last, and what bringing it would do.
    looked: Option<(String, String, Found)>,
}

impl Neighbour {
    /// Puts the other project beside ours. `stamp` says who is working and when.
    pub fn new(
        ours: (&Document, &Insight),
        other: &Document,
        stamp: Stamp,
        read_only: Option<String>,
    ) -> Self {
        let insight = Insight::default();
        Self {
            beside: beside(ours, (other, &insight)),
            ears: ears(other, &insight),
            other: other.project().clone(),
            code: String::new(),
            kernels: String::new(),
            stamp,
            read_only,
            looked: None,
        }
    }

    /// Draws the dialog; gives its answer once.
    pub fn show(&mut self, ctx: &Context, project: &Project) -> Option<Answer> {
        self.look(project);
        let ready = self.looked.as_ref().and_then(|(.., found)| found.as_ref().ok());
        let ready = ready.filter(|(_, found)| !found.is_nothing_new());
        let command = ready.map(|(line, _)| Command::BringLine {
            line: Box::new(line.clone()),
            kernels: self.kernels().unwrap_or(None),
        });
        let title = format!("{} beside this project", self.other.about.name);
        let answer = Dialog::new(Id::unique("neighbour"), &title)
            .confirm("Bring the line")
            .cancel("Close")
            .can_confirm(command.is_some() && self.read_only.is_none())
            .wide()
            .show(ctx, |ui| {
                let height = (ui.ctx().content_rect().height() - 200.0).clamp(160.0, 900.0);
                ScrollArea::vertical()
                    .id_salt("neighbour")
                    .max_height(height)
                    .auto_shrink([false, true])
                    .show(ui, |ui| self.body(ui));
            })?;
        match (answer, command) {
            (DialogAnswer::Confirm, Some(command)) => Some(Answer::Run {
                command: Box::new(command),
                who: self.stamp.by.clone(),
            }),
            _ => Some(Answer::Nothing),
        }
    }

    /// Works out what bringing would do, when something else was typed.
    fn look(&mut self, project: &Project) {
        let typed = (self.code.trim(), self.kernels.trim());
        if typed.0.is_empty() {
            self.looked = None;
            return;
        }
        let same = |(code, kernels, _): &(String, String, _)| (code.as_str(), kernels.as_str()) == typed;
        if self.looked.as_ref().is_some_and(same) {
            return;
        }
        let found = self.found(project);
        self.looked = Some((typed.0.to_owned(), typed.1.to_owned(), found));
    }

    fn found(&self, project: &Project) -> Found {
        let code: EarCode = self
            .code
            .trim()
            .parse()
            .map_err(|fault: crate::model::EarCodeFault| sentence(&fault.to_string()))?;
        let kernels = self.kernels()?;
        let line = line_of(&self.other, code).map_err(|fault| sentence(&fault.to_string()))?;
        let found =
            bring(project, &line, kernels, &self.stamp).map_err(|problem| sentence(&problem.to_string()))?;
        Ok((line, found))
    }

    fn kernels(&self) -> Result<Option<u32>, String> {
        match self.kernels.trim() {
            "" => Ok(None),
            typed => read_whole("the kernels that came", typed, crate::model::MOST_KERNELS)
                .map(Some)
                .map_err(|fault| sentence(&fault.to_string())),
        }
    }

    fn body(&mut self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        for said in &self.beside.sentences {
            ui.add(Label::new(said).wrap());
        }
        ui.add_space(t.space.small);
        ScrollArea::horizontal()
            .id_salt("seasons beside")
            .show(ui, |ui| seasons(ui, &self.beside));
        for season in &self.beside.seasons {
            let text = format!("{}: {}", season.year, season.sentence);
            ui.add(Label::new(RichText::new(text).color(t.quiet)).wrap());
        }
        ui.add_space(t.space.medium);
        ui.label(RichText::new("Bring the line of one of its ears").font(t.heading_font()));
        let text = "The ear comes with its mothers back to the founder. Codes stay, counts come as history, packets are empty but for the kernels that you say. The rest of the two projects stays apart.";
        ui.add(Label::new(text).wrap());
        ui.horizontal_wrapped(|ui| {
            let label = ui.label("Ear code");
            let field = TextEdit::singleline(&mut self.code)
                .hint_text("from its packet, or choose below")
                .desired_width(210.0);
            ui.add(field).labelled_by(label.id);
            let label = ui.label("Kernels that came");
            let field = TextEdit::singleline(&mut self.kernels)
                .hint_text("none")
                .desired_width(80.0);
            ui.add(field).labelled_by(label.id);
        });
        self.choice(ui);
        match self.looked.as_ref().map(|(.., found)| found) {
            None => {}
            Some(Err(why)) => alert(ui, why),
            Some(Ok((_, found))) => {
                for said in &found.sentences {
                    ui.add(Label::new(format!("• {said}")).wrap());
                }
                if found.is_nothing_new() {
                    ui.label("Nothing is new, so nothing would be changed.");
                } else if let Some(why) = &self.read_only {
                    alert(ui, &format!("Nothing can be changed here: {why}."));
                }
            }
        }
    }

    /// Draws the ears whose code or words hold what is typed.
    fn choice(&mut self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        let typed = self.code.trim().to_lowercase();
        let fits = |one: &&(EarCode, String)| typed.is_empty() || one.1.to_lowercase().contains(&typed);
        let found: Vec<&(EarCode, String)> = self.ears.iter().filter(fits).collect();
        let mut chosen = None;
        ScrollArea::vertical()
            .id_salt("ears of the neighbour")
            .max_height(5.0 * t.row_height)
            .auto_shrink([false, true])
            .show_rows(ui, t.row_height, found.len(), |ui, places| {
                for (code, words) in &found[places] {
                    let button = ui.button(words);
                    if button.clicked() {
                        chosen = Some(code.to_string());
                    }
                }
            });
        if let Some(code) = chosen {
            self.code = code;
        }
    }
}

/// The ears of a project that can be brought, the latest season first.
fn ears(other: &Document, insight: &Insight) -> Vec<(EarCode, String)> {
    let project = other.project();
    let mut seasons: Vec<_> = project.seasons.iter().collect();
    seasons.sort_by_key(|season| std::cmp::Reverse(season.year));
    let mut found = Vec::new();
    for season in seasons {
        let estimates = insight.estimates(other, season.id);
        let list = project.list_in_force(season.id);
        for ear in project.ears_of(season.id) {
            let counts = estimates.of(ear.id).map(|estimate| estimate.counts);
            let listed = list.is_some_and(|list| list.names(ear.id));
            let words = [
                Some(format!("{}: ear {} of {}", ear.code, ear.number, season.year)),
                counts.map(|counts| format!("{} of {}", counts.k(), counts.n())),
                listed.then(|| "on their list".to_owned()),
            ];
            let words: Vec<String> = words.into_iter().flatten().collect();
            found.push((ear.code, words.join(", ")));
        }
    }
    found
}

fn seasons(ui: &mut Ui, found: &Beside) {
    let t = Tokens::of(ui);
    Grid::new("seasons beside")
        .striped(true)
        .spacing([t.space.medium, t.space.tiny])
        .show(ui, |ui| {
            for title in [
                "Season",
                "Project",
                "Ears",
                "Rows",
                "Scored",
                "Kept",
                "Mothers kept",
                "Cold germination %",
                "Maturity days",
            ] {
                ui.label(RichText::new(title).font(t.strong_font()));
            }
            ui.end_row();
            for season in &found.seasons {
                sides(ui, found, season);
            }
        });
}

fn sides(ui: &mut Ui, found: &Beside, season: &SeasonBeside) {
    let t = Tokens::of(ui);
    for (name, side) in [(&found.ours, &season.ours), (&found.theirs, &season.theirs)] {
        let Some(side) = side else { continue };
        ui.label(RichText::new(season.year.to_string()).font(t.strong_font()));
        let tests = if side.tests.is_empty() {
            "No test.".to_owned()
        } else {
            format!("{}: {}", plural(side.tests.len(), "test"), side.tests.join("; "))
        };
        ui.label(name).on_hover_text(tests);
        for text in cells(side) {
            ui.label(text);
        }
        ui.end_row();
    }
}

fn cells(side: &SideOfSeason) -> [String; 7] {
    let mean = |mean: Option<MeanOf>| mean.map_or_else(|| "–".to_owned(), |mean| mean.text());
    [
        side.ears.to_string(),
        side.rows.to_string(),
        side.scored.to_string(),
        side.kept.to_string(),
        side.mothers_kept.to_string(),
        mean(side.germination),
        mean(side.maturity_days),
    ]
}

//! Beginning a project.

use super::{Answer, text_field};
use crate::model::{About, Prefix};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use egui::{Context, Id, RichText};

/// A project that is being begun.
#[derive(Debug)]
pub struct NewProject {
    name: String,
    letters: String,
    /// Whether the letters were typed, so that they no longer follow the name.
    own_letters: bool,
    year: String,
    is_new: bool,
}

impl NewProject {
    /// Begins with a year for the first season.
    pub fn new(year: i16) -> Self {
        Self {
            name: String::new(),
            letters: String::new(),
            own_letters: false,
            year: year.to_string(),
            is_new: true,
        }
    }

    fn problem(&self) -> Option<&'static str> {
        if self.name.trim().is_empty() {
            return Some("Type the name of your population.");
        }
        if self.letters.parse::<Prefix>().is_err() {
            return Some("The letters of the ear codes are two to four letters from A to Z.");
        }
        if self.year().is_none() {
            return Some("Type the year of the harvest, such as 2026.");
        }
        None
    }

    fn year(&self) -> Option<i16> {
        self.year
            .trim()
            .parse()
            .ok()
            .filter(|year| (1800..=2200).contains(year))
    }

    /// Draws the dialog; gives its answer once.
    pub fn show(&mut self, ctx: &Context) -> Option<Answer> {
        let problem = self.problem();
        let answer = Dialog::new(Id::unique("new project"), "New project")
            .confirm("Choose where it goes…")
            .can_confirm(problem.is_none())
            .body_takes_focus()
            .show(ctx, |ui| {
                ui.label("One project holds the whole story of one population, all seasons, in one file.");
                let name = text_field(
                    ui,
                    "Name of the population",
                    &mut self.name,
                    "such as Little Tarn",
                );
                if self.is_new {
                    name.request_focus();
                    self.is_new = false;
                }
                if name.changed() && !self.own_letters {
                    self.letters = Prefix::propose(&self.name).to_string();
                }
                let letters = text_field(
                    ui,
                    "Letters with which its ear codes begin",
                    &mut self.letters,
                    "two to four",
                );
                self.own_letters |= letters.changed();
                text_field(ui, "Year of the first harvest", &mut self.year, "2026");
                let quiet = Tokens::of(ui).quiet;
                ui.label(RichText::new(problem.unwrap_or(" ")).color(quiet));
            })?;
        match answer {
            DialogAnswer::Cancel => Some(Answer::Nothing),
            DialogAnswer::Confirm => {
                let prefix = self.letters.parse().ok()?;
                let year = self.year()?;
                let about = About {
                    prefix,
                    ..About::new(self.name.trim(), &new_id())
                };
                Some(Answer::NewProject { about, year })
            }
        }
    }
}

/// Makes a text that no other project has: the clock's nanoseconds and the process, hashed.
fn new_id() -> String {
    let since = std::time::SystemTime::now().duration_since(std::time::UNIX_EPOCH);
    let nanos = since.map_or(0, |since| since.as_nanos());
    let text = format!("{nanos} {}", std::process::id());
    crate::store::digest_hex(text.as_bytes())[..32].to_owned()
}

/// Draws what to begin with when nothing could be opened.
pub fn welcome(ctx: &Context) -> Option<Answer> {
    let mut chosen = None;
    let answer = Dialog::new(Id::unique("welcome"), "Begin")
        .confirm("New project…")
        .cancel("Look at a demo")
        .show(ctx, |ui| {
            ui.label(
                "Begin a project for your own population, open one that you have, or look at a demo first.",
            );
            if ui.button("Open a project…").clicked() {
                chosen = Some(Answer::OpenProject);
            }
        });
    chosen.or(match answer? {
        DialogAnswer::Confirm => Some(Answer::BeginProject),
        DialogAnswer::Cancel => Some(Answer::OpenDemo("essel-thaw")),
    })
}

//! The application: what is open, and the one place where the panes' requests are carried out.

use super::context::{Action, FileBytes, Pane, PaneCtx, Ticket, Tone};
use super::panes::{
    harvest::Harvest, planting::Planting, scoring::Scoring, seasons::Seasons, selection::Selection,
    trays::Trays,
};
use crate::insight::Insight;
use crate::model::{Committed, Document, EarId, Place, Problem, SeasonId, Stamp};
use jiff::civil::DateTime;

/// The panes with what they remember.
#[derive(Default)]
struct Panes {
    harvest: Harvest,
    trays: Trays,
    scoring: Scoring,
    selection: Selection,
    planting: Planting,
    seasons: Seasons,
}

/// The application.
pub struct App {
    document: Document,
    insight: Insight,
    panes: Panes,
    pane: Pane,
    season: Option<SeasonId>,
    chosen: Vec<EarId>,
    card: Option<EarId>,
    who: String,
    notices: Vec<(Tone, String)>,
    outcomes: Vec<(Ticket, Result<Committed, Problem>)>,
    files: Vec<(Ticket, FileBytes)>,
    last_ticket: u64,
    clock: Box<dyn Fn() -> DateTime>,
}

impl App {
    /// Opens a document that has no file, with a clock of the caller's; for tests and pictures.
    pub fn in_memory(document: Document, clock: impl Fn() -> DateTime + 'static) -> Self {
        let season = document.project().latest_season().map(|season| season.id);
        Self {
            document,
            insight: Insight::default(),
            panes: Panes::default(),
            pane: Pane::Harvest,
            season,
            chosen: Vec::new(),
            card: None,
            who: String::new(),
            notices: Vec::new(),
            outcomes: Vec::new(),
            files: Vec::new(),
            last_ticket: 0,
            clock: Box::new(clock),
        }
    }

    /// Gives the document as it is now.
    pub fn document(&self) -> &Document {
        &self.document
    }

    /// Gives the chosen ears.
    pub fn chosen(&self) -> &[EarId] {
        &self.chosen
    }

    /// Shows a pane.
    pub fn show(&mut self, pane: Pane) {
        self.pane = pane;
    }

    fn stamp(&self) -> Stamp {
        Stamp {
            at: (self.clock)(),
            by: self.who.clone(),
        }
    }

    fn carry_out(&mut self, action: Action) {
        match action {
            Action::Run { command, ticket } => {
                let outcome = self.document.run(&command, &self.stamp());
                match ticket {
                    Some(ticket) => self.outcomes.push((ticket, outcome)),
                    None => {
                        if let Err(problem) = outcome {
                            self.notices.push((Tone::Error, problem.to_string()));
                        }
                    }
                }
            }
            Action::CloseStep => self.document.close_step(),
            Action::Choose(ears) => self.chosen = ears,
            Action::OpenCard(ear) => self.card = Some(ear),
            Action::Go(place) => self.go(place),
            Action::Show(pane) => self.pane = pane,
            Action::ShowSeason(season) => self.season = Some(season),
            Action::Notice(tone, text) => self.notices.push((tone, text)),
            Action::OpenFile { .. } | Action::SaveFile { .. } | Action::AskFreeze => {}
        }
    }

    fn go(&mut self, place: Place) {
        match place {
            Place::Test(_) | Place::Tray(_) => {
                self.pane = Pane::Trays;
                self.panes.trays.go(place);
            }
            Place::Cell(_) | Place::Count(_) => {
                self.pane = Pane::Scoring;
                self.panes.scoring.go(place);
            }
            Place::Selection(_) => {
                self.pane = Pane::Selection;
                self.panes.selection.go(place);
            }
            Place::List(_) => {
                self.pane = Pane::Planting;
                self.panes.planting.go(place);
            }
            Place::Season(_) | Place::Project => {
                self.pane = Pane::Seasons;
                self.panes.seasons.go(place);
            }
            Place::Ear(_) | Place::Packet(_) | Place::Row(_) | Place::Trait(_) => {
                self.pane = Pane::Harvest;
                self.panes.harvest.go(place);
            }
        }
    }
}

impl eframe::App for App {
    fn ui(&mut self, ui: &mut egui::Ui, _frame: &mut eframe::Frame) {
        egui::Panel::top("panes").show(ui, |ui| {
            ui.horizontal(|ui| {
                for pane in Pane::ALL {
                    if ui.selectable_label(self.pane == pane, pane.name()).clicked() {
                        self.pane = pane;
                    }
                }
            });
        });
        let outcomes = std::mem::take(&mut self.outcomes);
        let files = std::mem::take(&mut self.files);
        let mut actions = Vec::new();
        egui::CentralPanel::default().show(ui, |ui| {
            let mut ctx = PaneCtx {
                document: &self.document,
                insight: &self.insight,
                season: self.season,
                chosen: &self.chosen,
                today: (self.clock)().date(),
                who: &self.who,
                read_only: None,
                outcomes: &outcomes,
                files: &files,
                dropped: &[],
                actions: &mut actions,
                last_ticket: &mut self.last_ticket,
            };
            match self.pane {
                Pane::Harvest => self.panes.harvest.ui(ui, &mut ctx),
                Pane::Trays => self.panes.trays.ui(ui, &mut ctx),
                Pane::Scoring => self.panes.scoring.ui(ui, &mut ctx),
                Pane::Selection => self.panes.selection.ui(ui, &mut ctx),
                Pane::Planting => self.panes.planting.ui(ui, &mut ctx),
                Pane::Seasons => self.panes.seasons.ui(ui, &mut ctx),
            }
        });
        if !actions.is_empty() {
            ui.ctx().request_repaint();
        }
        for action in actions {
            self.carry_out(action);
        }
    }
}

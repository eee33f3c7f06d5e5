//! The dialog in which a print is looked at before it is printed. The pages are laid out beside the window.

use super::field_prints::watch;
use crate::exchange::print::{Fonts, Laid, Paper, Watch};
use crate::jobs::{Outcome, Ticket, Wake, Worker};
use crate::ui::context::PaneCtx;
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use crate::ui::widgets::page_preview::page_preview;
use crate::ui::widgets::parts::alert;
use crate::ui::widgets::segmented::segmented;
use egui::{Button, Context, Id, ProgressBar, Rect, RichText, Role, Ui, WidgetInfo, pos2, vec2};
use std::sync::Arc;

/// What of the window the dialog leaves for everything but the page.
const AROUND: f32 = 300.0;

/// Lays a print out for a sheet; a refusal is a sentence. It owns what it reads.
type LayOut = dyn Fn(&Fonts, Paper, Watch<'_>) -> Result<Laid, String> + Send + Sync;

/// What the thread gives back; a refusal is a sentence.
type Made = Result<Arc<Laid>, String>;

/// A print that is looked at.
pub(super) struct PrintPreview {
    title: String,
    about: String,
    file: String,
    lay_out: Arc<LayOut>,
    paper: Paper,
    page: usize,
    worker: Option<Worker<Made>>,
    running: Option<Ticket>,
    laid: Option<Made>,
}

impl std::fmt::Debug for PrintPreview {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        write!(f, "{}, running: {}", self.title, self.running.is_some())
    }
}

impl Drop for PrintPreview {
    /// Nobody wants the pages any more.
    fn drop(&mut self) {
        self.stop();
    }
}

impl PrintPreview {
    /// A print with the title of the dialog, what it is in a sentence, and the name that its file gets.
    pub fn new(
        title: &str,
        about: String,
        file: String,
        paper: Paper,
        lay_out: impl Fn(&Fonts, Paper, Watch<'_>) -> Result<Laid, String> + Send + Sync + 'static,
    ) -> Self {
        Self {
            title: title.to_owned(),
            about,
            file,
            lay_out: Arc::new(lay_out),
            paper,
            page: 0,
            worker: None,
            running: None,
            laid: None,
        }
    }

    /// Draws the dialog; returns whether it is done.
    pub fn show(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>) -> bool {
        self.poll();
        if self.laid.is_none() && self.running.is_none() {
            self.begin(ui.ctx());
        }
        let title = self.title.clone();
        let answer = Dialog::new(Id::unique("print preview"), &title)
            .confirm("Print to a PDF file…")
            .cancel("Close")
            .wide()
            .show(ui.ctx(), |ui| self.body(ui));
        if answer == Some(DialogAnswer::Confirm) {
            self.save(ctx);
        }
        answer.is_some()
    }

    fn begin(&mut self, egui: &Context) {
        if self.worker.is_none() {
            let egui = egui.clone();
            let wake: Wake = Arc::new(move || egui.request_repaint());
            match Worker::new("preview", wake) {
                Ok(worker) => self.worker = Some(worker),
                Err(why) => {
                    self.laid = Some(Err(format!(
                        "The system gives no thread for the preview: {why}. Printing is possible all the same."
                    )));
                    return;
                }
            }
        }
        let (lay_out, paper) = (Arc::clone(&self.lay_out), self.paper);
        let worker = self.worker.as_mut();
        self.running = worker.map(|worker| {
            worker.submit("preview", move |job| {
                let fonts = Fonts::new().map_err(|fault| fault.to_string())?;
                lay_out(&fonts, paper, &watch(job)).map(Arc::new)
            })
        });
    }

    fn stop(&mut self) {
        if let Some(ticket) = self.running.take() {
            ticket.cancel();
        }
    }

    fn poll(&mut self) {
        while let Some(done) = self.worker.as_mut().and_then(Worker::poll) {
            if self.running.take_if(|ticket| ticket.id == done.id).is_none() {
                continue;
            }
            self.laid = Some(match done.outcome {
                Outcome::Finished(made) => made,
                Outcome::Cancelled => Err("The preview was stopped.".to_owned()),
                Outcome::Failed(why) => Err(format!(
                    "The preview broke off by a fault of the program ({why}). The project is as it was."
                )),
            });
        }
    }

    fn body(&mut self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        ui.label(&self.about);
        let papers = [Paper::Letter, Paper::A4];
        let chosen = papers.iter().position(|paper| *paper == self.paper).unwrap_or(0);
        ui.horizontal_wrapped(|ui| {
            ui.label("Paper");
            let id = Id::unique("paper of the preview");
            if let Some(other) = segmented(ui, id, "Paper", &["Letter", "A4"], chosen) {
                self.paper = papers[other];
                self.stop();
                self.laid = None;
            }
        });
        ui.add_space(t.space.small);
        let height = (ui.ctx().content_rect().height() - AROUND).max(160.0);
        match &self.laid {
            None => {
                let done = self.running.as_ref().map_or(0, Ticket::percent);
                ui.label("The pages are laid out.");
                let bar = ui.add(ProgressBar::new(done as f32 / 100.0).show_percentage());
                bar.widget_info(|| {
                    WidgetInfo::labeled(Role::ProgressIndicator, true, "Laying out the pages")
                });
                // The dialog keeps its size when the page comes.
                ui.add_space(height);
            }
            Some(Err(problem)) => alert(ui, problem),
            Some(Ok(laid)) => self.page = pages(ui, laid, self.page, height),
        }
    }

    /// Makes a file of it: of the pages that are looked at, where they are laid out already.
    pub fn save(&self, ctx: &mut PaneCtx<'_>) {
        let (lay_out, paper) = (Arc::clone(&self.lay_out), self.paper);
        let laid = self.laid.clone().and_then(Result::ok);
        ctx.save_file(&self.file, move |job| {
            let fonts = Fonts::new().map_err(|fault| fault.to_string())?;
            let laid = match laid {
                Some(laid) => laid,
                None => Arc::new(lay_out(&fonts, paper, &watch(job))?),
            };
            laid.pdf(&fonts, &watch(job)).map_err(|fault| fault.to_string())
        });
    }
}

/// Draws one page with the buttons that turn it; gives the page that is shown next.
fn pages(ui: &mut Ui, laid: &Laid, page: usize, height: f32) -> usize {
    let t = Tokens::of(ui);
    let of = laid.pages.len();
    let page = page.min(of.saturating_sub(1));
    let mut turn = page;
    let name = format!("Page {} of {of}", page + 1);
    ui.horizontal_wrapped(|ui| {
        let back = ui.add_enabled(page > 0, Button::new("◀"));
        if back.accessible_name("Page before").clicked() {
            turn -= 1;
        }
        let on = ui.add_enabled(page + 1 < of, Button::new("▶"));
        if on.accessible_name("Next page").clicked() {
            turn += 1;
        }
        ui.label(&name);
        let hint = "In print each page has its number, the name of the project and the caution too.";
        ui.label(RichText::new(hint).font(t.small_font()).color(t.quiet));
    });
    if let Some(shown) = laid.pages.get(page) {
        let (width, long) = laid.settings.size();
        let whole = Rect::from_min_size(pos2(0.0, 0.0), vec2(width, long));
        page_preview(ui, shown, whole, vec2(ui.available_width(), height), &name);
    }
    turn
}

//! The dialog in which labels and stakes are set up, looked at and printed.

use super::field_prints::watch;
use crate::exchange::labels::{
    COMMON_SHEETS, LabelOrder, LabelPages, LabelSheet, MOST_ACROSS, OnLabels, PacketLabels, label_page,
    labels_pdf,
};
use crate::exchange::print::{Fonts, Paper};
use crate::model::{EarId, ListId, SeasonId, plural, read_ear_numbers};
use crate::ui::context::{Action, PaneCtx};
use crate::ui::label_sheets::{KeptSheet, LabelKind, LabelSheets};
use crate::ui::tokens::Tokens;
use crate::ui::widgets::dialog::{Dialog, DialogAnswer};
use crate::ui::widgets::number_field::NumberField;
use crate::ui::widgets::page_preview::page_preview;
use crate::ui::widgets::parts::alert;
use crate::ui::widgets::segmented::segmented;
use egui::{Button, Id, Label, Rect, RichText, ScrollArea, TextEdit, Ui, pos2, vec2};

/// Width of the form.
const FORM_WIDTH: f32 = 440.0;
/// Room of the enlarged label.
const LABEL_ROOM: f32 = 170.0;
/// Height of the page that is shown.
const PAGE_HEIGHT: f32 = 330.0;

/// What the labels are for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum For {
    /// The packets of a season.
    Packets(SeasonId),
    /// The rows of a frozen list.
    Stakes(ListId),
}

impl For {
    fn kind(self) -> LabelKind {
        match self {
            Self::Packets(_) => LabelKind::Packets,
            Self::Stakes(_) => LabelKind::Stakes,
        }
    }
}

/// The dialog 'Labels'.
pub(super) struct Labels {
    what_for: For,
    /// All ears of the season, the chosen ones, or typed numbers.
    which: usize,
    typed: String,
    kind: usize,
    order: LabelOrder,
    is_own_sheet: bool,
    page: usize,
    shown: Option<Shown>,
    fonts: Option<Fonts>,
}

impl std::fmt::Debug for Labels {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Labels")
            .field("what_for", &self.what_for)
            .finish_non_exhaustive()
    }
}

/// The page that is shown, and for what it was laid out.
struct Shown {
    what: Result<OnLabels, String>,
    order: LabelOrder,
    page: usize,
    laid: Result<LabelPages, String>,
}

impl Labels {
    /// Labels of the packets of a season, on the sheet that was set up last.
    pub fn of_packets(season: SeasonId, kept: &LabelSheets) -> Self {
        Self::new(For::Packets(season), COMMON_SHEETS[0], kept)
    }

    /// Stakes for the rows of a frozen list, on the sheet that was set up last or on the largest labels.
    pub fn of_stakes(list: ListId, kept: &LabelSheets) -> Self {
        Self::new(For::Stakes(list), largest(Paper::Letter), kept)
    }

    fn new(what_for: For, usual: LabelSheet, kept: &LabelSheets) -> Self {
        let kept = kept.of(what_for.kind());
        let usual = LabelOrder {
            sheet: usual,
            ..LabelOrder::default()
        };
        Self {
            what_for,
            which: 0,
            typed: String::new(),
            kind: 0,
            order: kept.map_or(usual, KeptSheet::order),
            is_own_sheet: kept.is_some_and(|kept| kept.is_own()),
            page: 0,
            shown: None,
            fonts: None,
        }
    }

    /// Draws the dialog; returns whether it is done.
    pub fn show(&mut self, ui: &Ui, ctx: &mut PaneCtx<'_>) -> bool {
        self.refresh(ctx);
        let (title, name) = match self.what_for {
            For::Packets(_) => ("Labels of packets", "labels.pdf"),
            For::Stakes(_) => ("Row stakes", "stakes.pdf"),
        };
        let can = matches!(&self.shown, Some(shown) if shown.laid.is_ok());
        let answer = Dialog::new(Id::unique("labels"), title)
            .confirm("Print to a PDF file…")
            .cancel("Close")
            .can_confirm(can)
            .wide()
            .show(ui.ctx(), |ui| self.body(ui, ctx));
        if answer.is_some()
            && let Some(sheet) = KeptSheet::of(&self.order)
        {
            ctx.act(Action::KeepLabelSheet(self.what_for.kind(), sheet));
        }
        match (answer, &self.shown) {
            (Some(DialogAnswer::Confirm), Some(Shown { what: Ok(what), .. })) => {
                save(ctx, name, what.clone(), self.order);
                true
            }
            (Some(_), _) => true,
            (None, _) => false,
        }
    }

    fn what(&self, ctx: &PaneCtx<'_>) -> Result<OnLabels, String> {
        let season = match self.what_for {
            For::Stakes(list) => return Ok(OnLabels::Stakes { list }),
            For::Packets(season) => season,
        };
        let project = ctx.document.project();
        let ear = |number| project.ear_numbered(season, number).map(|ear| ear.id);
        let ears: Vec<EarId> = match self.which {
            0 => project.ears_of(season).map(|ear| ear.id).collect(),
            1 => ctx.chosen.to_vec(),
            _ => read_ear_numbers(&self.typed, ear)?,
        };
        let kind = [PacketLabels::Labels, PacketLabels::Slips, PacketLabels::Both][self.kind];
        Ok(OnLabels::Packets { ears, kind })
    }

    /// Lays out the page that is shown, where something else is asked for than in the last frame.
    fn refresh(&mut self, ctx: &PaneCtx<'_>) {
        let what = self.what(ctx);
        let is_known = self
            .shown
            .as_ref()
            .is_some_and(|shown| shown.what == what && shown.order == self.order && shown.page == self.page);
        if is_known {
            return;
        }
        let laid = what.clone().and_then(|what| {
            let fonts = match self.fonts.take() {
                Some(fonts) => fonts,
                None => Fonts::new().map_err(|fault| fault.to_string())?,
            };
            let laid = label_page(&fonts, ctx.document.project(), &what, &self.order, self.page);
            self.fonts = Some(fonts);
            laid.map_err(|fault| fault.to_string())
        });
        if let Ok(laid) = &laid {
            self.page = self.page.min(laid.of.saturating_sub(1));
        }
        self.shown = Some(Shown {
            what,
            order: self.order,
            page: self.page,
            laid,
        });
    }

    fn body(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        let height = (ui.ctx().content_rect().height() - 190.0).max(160.0);
        ScrollArea::vertical()
            .id_salt("labels body")
            .max_height(height)
            .min_scrolled_height(height)
            .show(ui, |ui| {
                if ui.available_width() < FORM_WIDTH + 260.0 {
                    self.form(ui, ctx);
                    self.preview(ui);
                } else {
                    ui.horizontal_top(|ui| {
                        ui.vertical(|ui| {
                            ui.set_width(FORM_WIDTH);
                            self.form(ui, ctx);
                        });
                        ui.add_space(Tokens::of(ui).space.large);
                        ui.vertical(|ui| self.preview(ui));
                    });
                }
            });
    }

    fn form(&mut self, ui: &mut Ui, ctx: &mut PaneCtx<'_>) {
        let t = Tokens::of(ui);
        if let For::Packets(season) = self.what_for {
            let all = ctx.document.project().ears_of(season).count();
            let options = [
                format!("All {all}"),
                format!("Chosen: {}", ctx.chosen.len()),
                "By number".to_owned(),
            ];
            let options: Vec<&str> = options.iter().map(String::as_str).collect();
            choice(ui, "Ears", &options, &mut self.which);
            if self.which == 2 {
                let name = ui.label("Numbers of the ears, such as 1-40, 77");
                let field = TextEdit::singleline(&mut self.typed)
                    .id(Id::unique("label ears"))
                    .desired_width(260.0);
                ui.add(field).labelled_by(name.id);
            }
            let kinds = ["Labels", "Slips to put inside", "Both"];
            choice(ui, "Print", &kinds, &mut self.kind);
        }
        let mut paper = usize::from(self.order.sheet.paper == Paper::A4);
        let before = paper;
        choice(ui, "Paper", &["Letter", "A4"], &mut paper);
        if paper != before {
            let paper = [Paper::Letter, Paper::A4][paper];
            self.order.sheet = match (self.is_own_sheet, self.what_for) {
                (true, _) => LabelSheet {
                    paper,
                    ..self.order.sheet
                },
                (false, For::Stakes(_)) => largest(paper),
                (false, For::Packets(_)) => common(paper).next().unwrap_or_default(),
            };
        }
        ui.add_space(t.space.small);
        ui.label("Sheet, by columns and rows and the size of a label");
        for sheet in common(self.order.sheet.paper) {
            let is_this = !self.is_own_sheet && sheet == self.order.sheet;
            if ui.radio(is_this, sheet.name()).clicked() {
                (self.order.sheet, self.is_own_sheet) = (sheet, false);
            }
        }
        if ui
            .radio(self.is_own_sheet, "A sheet of your own")
            .on_hover_text("Begins with the measures of the sheet that is chosen now.")
            .clicked()
        {
            self.is_own_sheet = true;
        }
        if self.is_own_sheet {
            own_sheet(ui, &mut self.order.sheet);
        }
        ui.add_space(t.space.small);
        let field = NumberField::new(Id::unique("label start"), "Begin at label");
        if let Some(start) = field
            .range(1.0..=self.order.sheet.labels() as f64)
            .show(ui, self.order.start as f64)
        {
            self.order.start = start as usize;
        }
        ui.checkbox(&mut self.order.outlines, "Outlines, to cut along");
        ui.checkbox(&mut self.order.squares, "Square code with the ear code")
            .on_hover_text("An extra for a scanner or a phone. What counts is the number.");
        let test = ui.button("Print a test page…").on_hover_text(
            "Outlines only: print it on plain paper and hold it with a sheet of labels against the light.",
        );
        if test.clicked() {
            save(ctx, "label-test.pdf", OnLabels::TestPage, self.order);
        }
    }

    fn preview(&mut self, ui: &mut Ui) {
        let t = Tokens::of(ui);
        let laid = match self.shown.as_ref().map(|shown| &shown.laid) {
            Some(Ok(laid)) => laid,
            Some(Err(problem)) => {
                alert(ui, problem);
                return;
            }
            None => return,
        };
        let Some(page) = laid.pages.first() else {
            return;
        };
        let width = ui.available_width();
        let sheet = &self.order.sheet;
        let place = if self.page == 0 { self.order.start - 1 } else { 0 };
        let (at, size) = sheet.place(place);
        let label = Rect::from_min_size(pos2(at.0, at.1), vec2(size.0, size.1));
        ui.label(RichText::new("The first label of the page").color(t.quiet));
        page_preview(
            ui,
            page,
            label,
            vec2(width, LABEL_ROOM),
            "The first label of the page, enlarged",
        );
        ui.add_space(t.space.small);
        let (page_width, page_height) = laid.settings.size();
        let whole = Rect::from_min_size(pos2(0.0, 0.0), vec2(page_width, page_height));
        let name = format!(
            "Page {} of {}, {} in all",
            self.page + 1,
            laid.of,
            plural(laid.labels, "label")
        );
        let mut turn = self.page;
        ui.horizontal_wrapped(|ui| {
            let back = ui.add_enabled(self.page > 0, Button::new("◀"));
            if back.accessible_name("Page before").clicked() {
                turn -= 1;
            }
            let on = ui.add_enabled(self.page + 1 < laid.of, Button::new("▶"));
            if on.accessible_name("Next page").clicked() {
                turn += 1;
            }
            ui.label(&name);
        });
        page_preview(ui, page, whole, vec2(width, PAGE_HEIGHT), &name);
        if !laid.notes.is_empty() {
            ui.label(RichText::new("On this page:").color(t.quiet));
        }
        for note in &laid.notes {
            ui.add(Label::new(RichText::new(format!("⚠ {note}")).color(t.warn)).wrap());
        }
        self.page = turn;
    }
}

fn common(paper: Paper) -> impl Iterator<Item = LabelSheet> {
    COMMON_SHEETS
        .into_iter()
        .filter(move |sheet| sheet.paper == paper)
}

/// The common sheet with the fewest labels.
fn largest(paper: Paper) -> LabelSheet {
    common(paper).min_by_key(LabelSheet::labels).unwrap_or_default()
}

fn choice(ui: &mut Ui, label: &str, options: &[&str], chosen: &mut usize) {
    ui.horizontal_wrapped(|ui| {
        ui.label(label);
        if let Some(other) = segmented(ui, Id::unique(("labels", label)), label, options, *chosen) {
            *chosen = other;
        }
    });
}

/// The measures of a sheet, each taken when its field is left.
fn own_sheet(ui: &mut Ui, sheet: &mut LabelSheet) {
    let most = f64::from(MOST_ACROSS);
    for (label, count) in [
        ("Labels side by side", &mut sheet.columns),
        ("Labels below each other", &mut sheet.rows),
    ] {
        let field = NumberField::new(Id::unique(("own sheet", label)), label).range(1.0..=most);
        if let Some(new) = field.show(ui, f64::from(*count)) {
            *count = new as u16;
        }
    }
    for (label, length) in [
        ("Width of a label", &mut sheet.label_mm.0),
        ("Height of a label", &mut sheet.label_mm.1),
        ("Gap across", &mut sheet.gap_mm.0),
        ("Gap down", &mut sheet.gap_mm.1),
        ("Left edge of the sheet", &mut sheet.edge_mm.0),
        ("Upper edge of the sheet", &mut sheet.edge_mm.1),
    ] {
        let field = NumberField::new(Id::unique(("own sheet", label)), label)
            .unit("mm")
            .decimals(2)
            .range(0.0..=300.0);
        if let Some(new) = field.show(ui, f64::from(*length)) {
            *length = new as f32;
        }
    }
}

fn save(ctx: &mut PaneCtx<'_>, name: &str, what: OnLabels, order: LabelOrder) {
    let project = ctx.document.snapshot();
    ctx.save_file(name, move |job| {
        labels_pdf(&project, &what, &order, &watch(job))
            .map(|printed| printed.pdf)
            .map_err(|fault| fault.to_string())
    });
}

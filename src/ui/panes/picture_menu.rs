//! The forms in which a picture is saved, as buttons of a menu.

use crate::exchange::picture::PictureForm;
use egui::Ui;

/// The forms: the words, and what each is good for.
const FORMS: [(PictureForm, &str, &str); 3] = [
    (
        PictureForm::Svg,
        "Save as SVG…",
        "Sharp at any size, and other programs can change it. A browser tells the figures of the mark under the pointer.",
    ),
    (
        PictureForm::Png,
        "Save as PNG…",
        "1600 by 1000 dots, for letters and messages.",
    ),
    (PictureForm::Pdf, "Save as PDF…", "One page to print, Letter."),
];

/// Draws a button for each form; gives the one that was pressed.
pub(super) fn forms(ui: &mut Ui) -> Option<PictureForm> {
    let mut asked = None;
    for (form, words, what_for) in FORMS {
        if ui.button(words).on_hover_text(what_for).clicked() {
            asked = Some(form);
            ui.close();
        }
    }
    asked
}

/// The name of a file of this form, without its ending, such as `plot-2025`.
pub(super) fn file_name(stem: &str, form: PictureForm) -> String {
    let ending = PictureForm::ALL.into_iter().find(|(known, _)| *known == form);
    format!("{stem}.{}", ending.map_or("svg", |(_, ending)| ending))
}

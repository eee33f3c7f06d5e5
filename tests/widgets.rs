//! The widgets that know no domain, driven by key and mouse, and looked at as pictures.

mod common;

use std::path::PathBuf;

use egui::{Event, Id, Key, Modifiers, Role, Theme, Ui};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use wintercrib::ui::tokens::Tokens;
use wintercrib::ui::widgets::dialog::{Dialog, DialogAnswer};
use wintercrib::ui::widgets::notice::{NoticeKind, Notices};
use wintercrib::ui::widgets::number_field::NumberField;
use wintercrib::ui::widgets::path_prompt::{
    PathAnswer, PathPrompt, PathPurpose, PathRequest, ScriptedPathPrompt, WindowPathPrompt,
};
use wintercrib::ui::widgets::segmented::segmented;
use wintercrib::ui::widgets::{notice, parts};

fn on_page<S: 'static>(mut content: impl FnMut(&mut Ui, &mut S) + 'static, state: S) -> Harness<'static, S> {
    let build = common::harness([520.0, 320.0], Theme::Light);
    let mut harness = build.build_ui_state(
        move |ui, state: &mut S| {
            egui::CentralPanel::default().show(ui, |ui| content(ui, state));
        },
        state,
    );
    harness.run();
    harness
}

fn key<S>(harness: &mut Harness<'_, S>, key: Key) {
    harness.key_press(key);
    harness.run();
}

/// Puts `text` in place of what the focused field holds.
fn retype<S>(harness: &mut Harness<'_, S>, text: &str) {
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.run();
    harness.event(Event::Text(text.to_owned()));
    harness.run();
}

#[derive(Default)]
struct Numbers {
    kernels: f64,
    weight: Option<f64>,
    taken: usize,
}

fn number_fields(ui: &mut Ui, numbers: &mut Numbers) {
    let kernels = NumberField::new(Id::unique("kernels"), "Kernels per cell").range(1.0..=50.0);
    if let Some(value) = kernels.show(ui, numbers.kernels) {
        numbers.kernels = value;
        numbers.taken += 1;
    }
    let weight = NumberField::new(Id::unique("weight"), "Weight")
        .unit("g")
        .decimals(1)
        .range(0.0..=900.0);
    if weight.show_optional(ui, &mut numbers.weight) {
        numbers.taken += 1;
    }
}

#[test]
fn a_number_is_taken_by_enter_and_by_leaving_the_field() {
    let mut harness = on_page(
        number_fields,
        Numbers {
            kernels: 10.0,
            ..Numbers::default()
        },
    );
    harness.get_by_label("Kernels per cell").focus();
    harness.run();
    retype(&mut harness, "12");
    assert!(
        (harness.state().kernels - 10.0).abs() < 1e-9,
        "nothing is taken while typing"
    );
    key(&mut harness, Key::Enter);
    assert!((harness.state().kernels - 12.0).abs() < 1e-9);

    harness.get_by_label("Weight").focus();
    harness.run();
    retype(&mut harness, "182,5");
    key(&mut harness, Key::Tab);
    assert_eq!(harness.state().weight, Some(182.5));
    assert_eq!(harness.get_by_label("Weight").value().as_deref(), Some("182.5"));

    harness.get_by_label("Weight").focus();
    harness.run();
    retype(&mut harness, " ");
    key(&mut harness, Key::Enter);
    assert_eq!(harness.state().weight, None);
    assert_eq!(harness.state().taken, 3);
}

#[test]
fn a_number_out_of_range_stays_in_the_field_with_a_sentence() {
    let mut harness = on_page(
        number_fields,
        Numbers {
            kernels: 10.0,
            ..Numbers::default()
        },
    );
    for (typed, sentence) in [
        (
            "80",
            "Kernels per cell cannot be 80; type a whole number from 1 to 50.",
        ),
        (
            "NaN",
            "Kernels per cell: \"NaN\" is not a number; type a whole number from 1 to 50.",
        ),
    ] {
        harness.get_by_label("Kernels per cell").focus();
        harness.run();
        retype(&mut harness, typed);
        key(&mut harness, Key::Enter);
        harness.get_by_role_and_label(Role::Alert, sentence);
        assert_eq!(
            harness.get_by_label("Kernels per cell").value().as_deref(),
            Some(typed)
        );
    }
    common::shot(&mut harness, "number_refused");
    harness.get_by_label("Kernels per cell").focus();
    harness.run();
    key(&mut harness, Key::Escape);
    assert!(harness.query_by_role(Role::Alert).is_none());
    assert_eq!(
        harness.get_by_label("Kernels per cell").value().as_deref(),
        Some("10")
    );
    assert_eq!(harness.state().taken, 0);
}

#[test]
fn escape_forgets_what_was_typed() {
    let mut harness = on_page(
        number_fields,
        Numbers {
            kernels: 10.0,
            ..Numbers::default()
        },
    );
    harness.get_by_label("Kernels per cell").focus();
    harness.run();
    retype(&mut harness, "33");
    key(&mut harness, Key::Escape);
    assert_eq!(harness.state().taken, 0);
    assert_eq!(
        harness.get_by_label("Kernels per cell").value().as_deref(),
        Some("10")
    );
}

#[test]
fn the_switch_follows_mouse_and_arrows() {
    let mut harness = on_page(
        |ui, chosen: &mut usize| {
            if let Some(next) = segmented(
                ui,
                Id::unique("order"),
                "Order",
                &["ear", "row", "kernels"],
                *chosen,
            ) {
                *chosen = next;
            }
        },
        0,
    );
    harness.get_by_role_and_label(Role::RadioGroup, "Order");
    harness.get_by_label("row").click();
    harness.run();
    assert_eq!(*harness.state(), 1);
    assert!(harness.get_by_label("row").is_focused());
    for (pressed, chosen) in [
        (Key::ArrowRight, 2),
        (Key::ArrowRight, 2),
        (Key::ArrowLeft, 1),
        (Key::ArrowUp, 0),
        (Key::ArrowLeft, 0),
    ] {
        key(&mut harness, pressed);
        assert_eq!(*harness.state(), chosen, "after {pressed:?}");
    }
    let is_on = |label: &str| {
        let node = harness.get_by_label(label);
        node.accesskit_node().toggled() == Some(egui::accesskit::Toggled::True)
    };
    assert!(is_on("ear") && !is_on("kernels"));
}

struct Asking {
    is_risky: bool,
    can: bool,
    open: bool,
    answers: Vec<DialogAnswer>,
    behind: usize,
}

fn asking(ui: &mut Ui, state: &mut Asking) {
    if ui.button("Behind").clicked() {
        state.behind += 1;
    }
    if !state.open {
        return;
    }
    let mut dialog = Dialog::new(Id::unique("ask"), "Delete 3 ears?")
        .confirm("Delete")
        .cancel("Keep");
    if state.is_risky {
        dialog = dialog.risky();
    }
    let answer = dialog.can_confirm(state.can).show(ui.ctx(), |ui| {
        ui.label("Their packets and counts go with them.");
    });
    if let Some(answer) = answer {
        state.answers.push(answer);
        state.open = false;
    }
}

fn ask([is_risky, can]: [bool; 2]) -> Harness<'static, Asking> {
    let mut harness = on_page(
        asking,
        Asking {
            is_risky,
            can,
            open: false,
            answers: Vec::new(),
            behind: 0,
        },
    );
    harness.get_by_label("Behind").focus();
    harness.run();
    harness.state_mut().open = true;
    harness.run();
    harness
}

#[test]
fn a_dialog_is_answered_by_key_and_gives_the_keyboard_back() {
    use DialogAnswer::{Cancel, Confirm};
    // risky, can confirm, key, answers
    for (is_risky, can, pressed, answers) in [
        (false, true, Key::Enter, vec![Confirm]),
        (false, true, Key::Escape, vec![Cancel]),
        (true, true, Key::Enter, vec![Cancel]),
        (true, true, Key::Escape, vec![Cancel]),
        (false, false, Key::Enter, vec![Cancel]),
    ] {
        let mut harness = ask([is_risky, can]);
        key(&mut harness, pressed);
        assert_eq!(
            harness.state().answers,
            answers,
            "risky {is_risky}, can {can}, {pressed:?}"
        );
        harness.run();
        assert!(
            harness.get_by_label("Behind").is_focused(),
            "the keyboard is back where it was"
        );
        assert_eq!(
            harness.state().behind,
            0,
            "the key did not reach what lies behind"
        );
    }
}

#[test]
fn a_dialog_that_is_not_closed_by_its_answer_stays_usable() {
    let mut harness = on_page(
        |ui, answers: &mut Vec<DialogAnswer>| {
            ui.button("Behind").surrender_focus();
            answers.extend(Dialog::new(Id::unique("stays"), "Name?").show(ui.ctx(), |ui| {
                ui.label("The name is missing.");
            }));
        },
        Vec::new(),
    );
    for count in 1..=3 {
        key(&mut harness, Key::Enter);
        assert_eq!(harness.state().len(), count, "every Enter answers once");
    }
}

#[test]
fn a_dialog_is_answered_by_mouse_and_covers_what_lies_behind() {
    let mut harness = ask([true, true]);
    harness.get_by_role_and_label(Role::Dialog, "Delete 3 ears?");
    common::shot(&mut harness, "dialog_risky");
    harness.get_by_label("Delete").click();
    harness.run();
    assert_eq!(harness.state().answers, [DialogAnswer::Confirm]);

    let mut harness = ask([true, true]);
    harness.get_by_label("Behind").click();
    harness.run();
    assert_eq!(harness.state().behind, 0);
    assert_eq!(
        harness.state().answers,
        [DialogAnswer::Cancel],
        "a click beside it cancels"
    );
}

#[test]
fn notices_are_spoken_closed_and_kept() {
    let mut harness = on_page(
        |ui, notices: &mut Notices| notices.show(ui.ctx()),
        Notices::default(),
    );
    let notices = harness.state_mut();
    notices.say(NoticeKind::Done, "Saved.");
    notices.say(NoticeKind::Done, "3 ears were deleted.");
    notices.say(NoticeKind::Problem, "The file could not be read.");
    harness.run();
    assert_eq!(
        harness.state().shown().len(),
        1,
        "what was done leaves when the next notice comes"
    );
    harness.get_by_role_and_label(Role::Status, "The file could not be read.");
    harness.state_mut().say(NoticeKind::Warning, "Row 7 has no ears.");
    harness.run();
    harness
        .get_all_by_label("Close this notice")
        .next()
        .expect("a notice can be closed")
        .click();
    harness.run();
    harness.get_by_role_and_label(Role::Status, "Row 7 has no ears.");
    key(&mut harness, Key::Escape);
    assert!(harness.state().shown().is_empty());
    let past: Vec<&str> = harness
        .state()
        .past()
        .map(|notice: &notice::Notice| notice.text.as_str())
        .collect();
    assert_eq!(
        past,
        [
            "Row 7 has no ears.",
            "The file could not be read.",
            "3 ears were deleted.",
            "Saved."
        ]
    );
}

fn request(purpose: PathPurpose, start: PathBuf) -> PathRequest {
    PathRequest {
        title: "Save the project".to_owned(),
        purpose,
        kind: "Project".to_owned(),
        extensions: vec!["ron".to_owned()],
        start: Some(start),
    }
}

#[test]
fn a_path_is_typed_checked_and_replacing_is_asked_for() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::File::create(folder.path().join("old.ron")).unwrap();
    let mut harness = on_page(
        |ui, (prompt, answers): &mut (WindowPathPrompt, Vec<PathAnswer>)| {
            answers.extend(prompt.show(ui.ctx()));
        },
        (WindowPathPrompt::typing(), Vec::new()),
    );
    let ctx = harness.ctx.clone();
    harness
        .state_mut()
        .0
        .ask(&ctx, request(PathPurpose::Save, folder.path().to_owned()));
    harness.run();
    assert!(harness.get_by_label("Path of the file").is_focused());
    harness.event(Event::Text("none/x".to_owned()));
    harness.run();
    key(&mut harness, Key::Enter);
    harness.get_by_label_contains("There is no folder");
    common::shot(&mut harness, "path_refused");
    retype(&mut harness, &folder.path().join("old").display().to_string());
    key(&mut harness, Key::Enter);
    harness.get_by_label_contains("exists already");
    assert!(harness.state().1.is_empty());
    key(&mut harness, Key::Enter);
    assert_eq!(
        harness.state().1,
        [PathAnswer::Chosen(folder.path().join("old.ron"))]
    );
    assert!(!harness.state().0.is_open());

    harness
        .state_mut()
        .0
        .ask(&ctx, request(PathPurpose::Open, folder.path().to_owned()));
    harness.run();
    key(&mut harness, Key::Escape);
    assert_eq!(harness.state().1.last(), Some(&PathAnswer::Cancelled));
}

#[test]
fn a_scripted_prompt_answers_in_order() {
    let ctx = egui::Context::default();
    let mut prompt = ScriptedPathPrompt::new([PathAnswer::Chosen(PathBuf::from("a.ron"))]);
    assert_eq!(prompt.show(&ctx), None);
    prompt.ask(&ctx, request(PathPurpose::Open, PathBuf::new()));
    assert!(prompt.is_open());
    assert_eq!(
        prompt.show(&ctx),
        Some(PathAnswer::Chosen(PathBuf::from("a.ron")))
    );
    prompt.ask(&ctx, request(PathPurpose::Open, PathBuf::new()));
    assert_eq!(prompt.show(&ctx), Some(PathAnswer::Cancelled));
    assert_eq!(prompt.asked().len(), 2);
}

fn gallery(ui: &mut Ui, notices: &mut Notices) {
    egui::CentralPanel::default().show(ui, |ui| {
        let t = Tokens::of(ui);
        ui.horizontal(|ui| {
            for (value, caption) in [
                ("240", "ears"),
                ("87 %", "cold germination"),
                ("22", "mothers kept"),
            ] {
                parts::big_number(ui, value, caption);
                ui.add_space(t.space.large);
            }
        });
        parts::section(ui, "A section", |ui| {
            parts::card(ui, |ui| {
                ui.label("A card holds what belongs together.");
                number_fields(
                    ui,
                    &mut Numbers {
                        kernels: 12.0,
                        weight: Some(182.5),
                        taken: 0,
                    },
                );
                segmented(
                    ui,
                    Id::unique("order"),
                    "Order",
                    &["ear number", "mother row", "kernels"],
                    1,
                );
                ui.horizontal(|ui| {
                    parts::primary_button(ui, "Freeze the list").request_focus();
                    ui.add(egui::Button::new("Another button"));
                    ui.add_enabled(false, egui::Button::new("Switched off"));
                    ui.checkbox(&mut true, "A tick");
                    ui.checkbox(&mut false, "No tick");
                });
                ui.horizontal(|ui| {
                    for (mark, word) in t.marks().into_iter().zip(["one ●", "two ■", "three ▲", "four ◆"])
                    {
                        ui.colored_label(mark, word);
                    }
                    ui.colored_label(t.mark_neutral, "neutral ○");
                    ui.colored_label(t.ok, "✓ ok");
                    ui.colored_label(t.warn, "⚠ warn");
                    ui.colored_label(t.bad, "✗ bad");
                });
            });
        });
        parts::empty_state(
            ui,
            "No ears yet",
            "Type the first ear, paste a column from a spreadsheet, or read a CSV file.",
            Some("Add ears"),
        );
        ui.add_space(t.space.large);
        notices.show(ui.ctx());
    });
}

#[test]
fn pictures_of_the_widgets() {
    for (theme, name) in [(Theme::Light, "gallery_light"), (Theme::Dark, "gallery_dark")] {
        let mut notices = Notices::default();
        notices.say(
            NoticeKind::Problem,
            "\"ears.csv\" could not be read: line 7 has 5 cells, not 6. Nothing was taken.",
        );
        notices.say(NoticeKind::Done, "Saved.");
        let mut harness = common::harness([760.0, 760.0], theme)
            .with_pixels_per_point(1.25)
            .build_ui_state(gallery, notices);
        harness.run();
        common::shot(&mut harness, name);
    }
}

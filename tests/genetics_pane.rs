//! What a choice costs and buys, unfolded in the selection pane.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod common;

use egui::accesskit::Role;
use egui::{Event, Key, Modifiers, MouseWheelUnit, Theme, TouchPhase, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use jiff::civil::datetime;
use wintercrib::demo;
use wintercrib::insight::{Insight, TraitShift};
use wintercrib::model::{Document, Project, ShareRange};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

const TITLE: &str = "Costs and buys";

fn harness(project: Project, size: [f32; 2], scale: f32, theme: Theme) -> Harness<'static, App> {
    let mut harness = common::harness([size[0] / scale, size[1] / scale], theme)
        .with_pixels_per_point(scale)
        .build_eframe(|_| {
            let mut app = App::in_memory(Document::new(project), || datetime(2026, 11, 25, 9, 0, 0, 0));
            app.show(Pane::Selection);
            app
        });
    harness.run();
    harness
}

fn unfold(harness: &mut Harness<'_, App>) {
    harness.get_by_label_contains(TITLE).click();
    // The fold opens over several frames.
    harness.run_steps(8);
    harness.run();
}

/// The title and the sentences that the pane must show now, worked out anew.
fn expected(harness: &Harness<'_, App>) -> (String, Vec<String>) {
    let document = harness.state().document();
    let insight = Insight::default();
    let season = document.project().latest_season().unwrap().id;
    let price = insight.price(document, season, &insight.cutoffs(document, season));
    let mut said = price.buys();
    said.extend(price.costs());
    said.extend(price.shifts.iter().map(TraitShift::sentence));
    said.extend(price.assumptions());
    let title = match price.comes_along().count() {
        0 => TITLE.to_owned(),
        many => format!("{TITLE}, {many} unasked"),
    };
    (title, said)
}

fn shown(harness: &Harness<'_, App>) -> Vec<String> {
    let nodes = harness.query_all_by_role(Role::Label);
    nodes.filter_map(|node| node.accesskit_node().value()).collect()
}

#[test]
fn the_sentences_unfold_and_move_with_the_cutoff() {
    let mut harness = harness(
        demo::make("essel-thaw").unwrap(),
        [1280.0, 800.0],
        1.0,
        Theme::Light,
    );
    let (title, before) = expected(&harness);
    assert!(title.ends_with(" unasked"), "{title}");
    assert!(harness.query_by_label(&title).is_some(), "{title}");
    let folded = shown(&harness);
    assert!(before.iter().all(|sentence| !folded.contains(sentence)));
    unfold(&mut harness);
    let unfolded = shown(&harness);
    for sentence in &before {
        assert!(
            unfolded.contains(sentence),
            "'{sentence}' is not in {unfolded:#?}"
        );
    }
    harness
        .get_by_role_and_label(Role::Slider, "Least cold germination")
        .focus();
    harness.run();
    for _ in 0..8 {
        harness.key_press_modifiers(Modifiers::NONE, Key::ArrowUp);
        harness.run();
    }
    let (_, after) = expected(&harness);
    assert_ne!(before[0], after[0]);
    let moved = shown(&harness);
    assert!(
        moved.contains(&after[0]) && !moved.contains(&before[0]),
        "{moved:#?}"
    );
}

#[test]
fn a_narrower_heritability_is_typed_said_and_undone() {
    let mut harness = harness(
        demo::make("essel-thaw").unwrap(),
        [1280.0, 800.0],
        1.0,
        Theme::Light,
    );
    unfold(&mut harness);
    let said = |harness: &Harness<'_, App>, part: &str| {
        shown(harness).iter().any(|sentence| sentence.contains(part))
    };
    assert!(!said(&harness, "narrowed by you"));
    let type_in = |harness: &mut Harness<'_, App>, field: &str, text: &str| {
        let id = harness.get_by_role_and_label(Role::TextInput, field);
        id.focus();
        harness.run();
        harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
        harness.run();
        harness.event(Event::Text(text.to_owned()));
        harness.run();
        harness.key_press_modifiers(Modifiers::NONE, Key::Enter);
        harness.run();
    };
    type_in(&mut harness, "Heritability from", "20");
    type_in(&mut harness, "to", "40");
    type_in(&mut harness, "Plants that shed pollen", "900");
    assert!(
        said(&harness, "between 20 % and 40 %, narrowed by you"),
        "{:#?}",
        shown(&harness)
    );
    assert!(said(&harness, "900 pollen plants, as you said"));
    let title = harness.get_by_label_contains(TITLE).rect().center_bottom();
    harness.event(Event::PointerMoved(title + vec2(0.0, 60.0)));
    harness.event(wheel(-2000.0));
    harness.run_steps(12);
    common::shot(&mut harness, "price_narrowed");
    let season = |harness: &Harness<'_, App>| {
        let season = harness.state().document().project().latest_season().unwrap();
        (season.heritability, season.pollen_plants)
    };
    let range = |least, most| Some(ShareRange { least, most });
    assert_eq!(season(&harness), (range(0.2, 0.4), Some(900)));
    // Each typed number is a step of its own.
    for wanted in [(range(0.2, 0.4), None), (range(0.2, 1.0), None), (None, None)] {
        harness.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        harness.run();
        assert_eq!(season(&harness), wanted);
    }
    assert!(!said(&harness, "narrowed by you"));
    // What cannot be is not taken, and said.
    type_in(&mut harness, "Heritability from", "120");
    assert_eq!(season(&harness), (None, None));
    assert!(said(&harness, "100"), "{:#?}", shown(&harness));
}

fn wheel(by: f32) -> Event {
    Event::MouseWheel {
        unit: MouseWheelUnit::Point,
        delta: vec2(0.0, by),
        phase: TouchPhase::Move,
        source: egui::MouseWheelSource::Wheel,
        modifiers: Modifiers::NONE,
    }
}

#[test]
fn looks() {
    for (name, theme) in [("light", Theme::Light), ("dark", Theme::Dark)] {
        for (size, scale) in [
            ([1280.0, 800.0], 1.0),
            ([1920.0, 1080.0], 1.0),
            ([1280.0, 800.0], 1.5),
        ] {
            let mut harness = harness(demo::make("essel-thaw").unwrap(), size, scale, theme);
            if scale > 1.0 {
                // The parts lie under each other: the fold is further down.
                let page = harness.ctx.content_rect().center();
                let down = |harness: &mut Harness<'_, App>, by: f32| {
                    harness.event(Event::PointerMoved(page + vec2(-300.0, 0.0)));
                    harness.event(wheel(-by));
                    harness.run_steps(12);
                };
                down(&mut harness, 420.0);
                unfold(&mut harness);
                common::shot(&mut harness, &format!("price_{name}_{}_{scale}", size[0]));
                continue;
            }
            common::shot(&mut harness, &format!("price_{name}_{}_folded", size[0]));
            unfold(&mut harness);
            common::shot(&mut harness, &format!("price_{name}_{}", size[0]));
            for part in ["middle", "end"] {
                let first = harness.get_by_label_contains(TITLE).rect().center_bottom();
                harness.event(Event::PointerMoved(first + vec2(0.0, 60.0)));
                harness.event(wheel(-220.0));
                harness.run_steps(12);
                common::shot(&mut harness, &format!("price_{name}_{}_{part}", size[0]));
            }
        }
    }
    let mut small = harness(
        demo::make("pocket-starter").unwrap(),
        [1280.0, 800.0],
        1.0,
        Theme::Light,
    );
    unfold(&mut small);
    common::shot(&mut small, "price_light_small");
}

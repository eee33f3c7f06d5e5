//! The plot of Selection with other axes, colours and tools, through the window.

use crate::common::{says, shot};
use crate::{SEASON, cutoffs, essel, stamp};
use egui::accesskit::Role;
use egui::{Event, Key, Modifiers, PointerButton, Pos2, Rect, Theme, pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::collections::BTreeSet;
use wintercrib::demo;
use wintercrib::insight::{Axis, Field, Insight};
use wintercrib::model::{Document, EarId};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

fn window(document: Document, size: [f32; 2], theme: Theme) -> Harness<'static, App> {
    let mut harness = crate::common::harness(size, theme).build_eframe(|_| {
        let mut app = App::in_memory(document, || stamp().at);
        app.show(Pane::Selection);
        app
    });
    harness.run();
    harness
}

fn usual() -> Harness<'static, App> {
    window(essel(), [1400.0, 900.0], Theme::Light)
}

/// Chooses from one of the small menus above the plot.
fn choose(harness: &mut Harness<'_, App>, menu: &str, item: &str) {
    harness.get_by_role_and_label(Role::ComboBox, menu).click();
    harness.run();
    harness.get_by_role_and_label(Role::Button, item).click();
    harness.run();
}

/// Chooses of which ears the ranges are drawn.
fn ranges(harness: &mut Harness<'_, App>, item: &str) {
    harness.get_by_label("Marks ▼").click();
    harness.run();
    harness.get_by_role_and_label(Role::RadioButton, item).click();
    harness.run();
}

/// What the plot says of itself, and where it lies.
fn plot(harness: &Harness<'_, App>) -> (String, Option<String>, Rect) {
    let node = harness.get_by_role(Role::GraphicsDocument);
    let label = node.accesskit_node().label().unwrap_or_default();
    (label, node.value(), node.rect())
}

fn focus_plot(harness: &mut Harness<'_, App>) {
    harness.get_by_role(Role::GraphicsDocument).focus();
    harness.run();
}

fn press(harness: &mut Harness<'_, App>, modifiers: Modifiers, key: Key) {
    harness.key_press_modifiers(modifiers, key);
    harness.run();
}

fn pointer(harness: &mut Harness<'_, App>, pos: Pos2, pressed: bool) {
    harness.event(Event::PointerMoved(pos));
    harness.step();
    harness.event(Event::PointerButton {
        pos,
        button: PointerButton::Primary,
        pressed,
        modifiers: Modifiers::NONE,
    });
    harness.step();
}

fn slider(harness: &Harness<'_, App>, name: &str) -> Pos2 {
    harness.get_by_role_and_label(Role::Slider, name).rect().center()
}

fn field(harness: &Harness<'_, App>, axes: [Axis; 2]) -> (Field, Vec<EarId>) {
    let document = harness.state().document();
    let choice = Insight::default().choice(document, SEASON, &cutoffs(document));
    let ears = choice.standings.iter().map(|one| one.ear).collect();
    (Field::new(document.project(), &choice.standings, axes), ears)
}

#[test]
fn axes_are_chosen_change_places_and_go_back() {
    let mut harness = usual();
    let (said, _, _) = plot(&harness);
    assert!(
        said.starts_with("Plot of 240 ears. Across: Maturity days, from "),
        "{said}"
    );
    assert!(
        said.contains(" Up: Cold germination as counted, from 10 % to 100 %"),
        "{said}"
    );
    assert!(said.contains("Cutoffs: cold germination at least "), "{said}");
    choose(&mut harness, "Across", "Kernels in packets");
    let (said, _, _) = plot(&harness);
    assert!(said.contains("Across: Kernels in packets, from "), "{said}");
    assert!(
        harness
            .query_by_role_and_label(Role::Slider, "Most maturity days")
            .is_none()
    );
    // What lies on the other axis already changes places with it.
    choose(&mut harness, "Up", "Kernels in packets");
    let (said, _, _) = plot(&harness);
    assert!(
        said.contains("Across: Cold germination as counted") && said.contains("Up: Kernels"),
        "{said}"
    );
    // The level line of cold germination has become an upright one.
    let (_, _, rect) = plot(&harness);
    let line = harness
        .get_by_role_and_label(Role::Slider, "Least cold germination")
        .rect();
    assert!(line.top() < rect.top() && line.height() > line.width());
    harness.get_by_role_and_label(Role::Button, "Usual axes").click();
    harness.run();
    let (said, _, _) = plot(&harness);
    assert!(
        said.contains("Across: Maturity days") && said.contains("Up: Cold germination as counted"),
        "{said}"
    );
    assert!(
        harness
            .query_by_role_and_label(Role::Button, "Usual axes")
            .is_none()
    );
}

#[test]
fn the_axes_stay_while_another_pane_is_shown_and_are_no_part_of_the_project() {
    let mut harness = usual();
    let before = harness.state().document().clone();
    choose(&mut harness, "Up", "Vigor grade");
    harness.state_mut().show(Pane::Harvest);
    harness.run();
    harness.state_mut().show(Pane::Selection);
    harness.run();
    assert!(plot(&harness).0.contains("Up: Vigor grade"));
    assert_eq!(harness.state().document().project(), before.project());
}

#[test]
fn a_vigor_cutoff_is_dragged_in_nudged_and_dragged_out() {
    let mut harness = usual();
    choose(&mut harness, "Up", "Vigor grade");
    let before = cutoffs(harness.state().document());
    assert_eq!(before.vigor, None);
    let at = slider(&harness, "Least vigor grade");
    pointer(&mut harness, at, true);
    harness.event(Event::PointerMoved(at - vec2(0.0, 150.0)));
    harness.step();
    assert_eq!(
        cutoffs(harness.state().document()),
        before,
        "nothing is set while it is dragged"
    );
    pointer(&mut harness, at - vec2(0.0, 150.0), false);
    harness.run();
    let set = cutoffs(harness.state().document())
        .vigor
        .expect("the line was dragged in");
    assert!(
        (0.0..9.0).contains(&set) && ((set * 10.0).round() - set * 10.0).abs() < 1e-9,
        "{set}"
    );
    assert!(
        plot(&harness).0.contains(&format!("vigor at least {set}")),
        "{}",
        plot(&harness).0
    );
    // The drag has left the keyboard with the line.
    press(&mut harness, Modifiers::NONE, Key::ArrowUp);
    let nudged = cutoffs(harness.state().document()).vigor.expect("the line is on");
    assert!((nudged - set - 0.1).abs() < 1e-9, "{nudged} after {set}");
    press(&mut harness, Modifiers::SHIFT, Key::ArrowDown);
    let nudged = cutoffs(harness.state().document()).vigor.expect("the line is on");
    assert!((nudged - set + 0.9).abs() < 1e-9, "{nudged} after {set}");
    let at = slider(&harness, "Least vigor grade");
    pointer(&mut harness, at, true);
    pointer(&mut harness, at + vec2(0.0, 600.0), false);
    harness.run();
    assert_eq!(cutoffs(harness.state().document()).vigor, None);
}

#[test]
fn a_limit_on_a_trait_is_a_line_where_the_trait_lies() {
    let mut harness = usual();
    let one = harness.state().document().project().traits.iter().next().cloned();
    let one = one.expect("the demo has traits");
    choose(&mut harness, "Across", &one.name);
    let names = [format!("Least of {}", one.name), format!("Most of {}", one.name)];
    let name = names
        .iter()
        .find(|name| harness.query_by_role_and_label(Role::Slider, name).is_some())
        .expect("a line for the trait");
    harness.get_by_role_and_label(Role::Slider, name).focus();
    harness.run();
    // First it is switched on where no ear is left out, then it moves.
    press(&mut harness, Modifiers::NONE, Key::ArrowRight);
    press(&mut harness, Modifiers::NONE, Key::ArrowRight);
    let limits = cutoffs(harness.state().document()).traits[&one.id];
    let (field, _) = field(&harness, [Axis::Trait(one.id), Axis::USUAL[1]]);
    let [least, most] = field.axes[0].span;
    let step = Axis::Trait(one.id).step(harness.state().document().project());
    let is_near =
        |value: Option<f64>, from: f64| value.is_some_and(|value| (value - from - step).abs() < 1e-9);
    assert!(
        is_near(limits.least, least) || is_near(limits.most, most),
        "{limits:?} on {least} to {most}"
    );
}

#[test]
fn ears_are_chosen_by_free_hand() {
    let mut harness = usual();
    let (field, ears) = field(&harness, Axis::USUAL);
    harness
        .get_by_role_and_label(Role::RadioButton, "By free hand")
        .click();
    harness.run();
    let (_, _, rect) = plot(&harness);
    // A triangle over the upper left of the plot. Where that is in days is told by the bounds at the start.
    let corners = [(0.12, 0.05), (0.7, 0.05), (0.12, 0.75)];
    let at = |(x, y): (f32, f32)| pos2(rect.left() + x * rect.width(), rect.top() + y * rect.height());
    pointer(&mut harness, at(corners[0]), true);
    for corner in &corners[1..] {
        harness.event(Event::PointerMoved(at(*corner)));
        harness.step();
    }
    shot(&mut harness, "axes_free_hand");
    pointer(&mut harness, at(corners[2]), false);
    harness.run();
    let chosen: BTreeSet<EarId> = harness.state().chosen().iter().copied().collect();
    assert!(chosen.len() > 10 && chosen.len() < ears.len(), "{}", chosen.len());
    // A half plane through the two far corners tells inside from outside, whatever the scale: in the units of the
    // axes the triangle is one too. Its chosen ears lie above and to the left of every line that leaves them there.
    let spot = |ear: &EarId| field.spots[ears.iter().position(|one| one == ear).expect("of the season")];
    let most_days = chosen.iter().map(|ear| spot(ear)[0]).fold(f64::MIN, f64::max);
    let least_percent = chosen.iter().map(|ear| spot(ear)[1]).fold(f64::MAX, f64::min);
    let high_and_late = field
        .spots
        .iter()
        .zip(&ears)
        .filter(|(spot, _)| spot[0] > most_days);
    assert!(
        high_and_late.clone().count() > 10 && high_and_late.clone().all(|(_, ear)| !chosen.contains(ear))
    );
    let late = chosen.iter().filter(|ear| spot(ear)[0] > most_days - 3.0);
    for ear in late {
        assert!(
            spot(ear)[1] > least_percent + 10.0,
            "late ears are chosen only where they are high"
        );
    }
}

#[test]
fn the_keyboard_goes_from_mark_to_mark_and_chooses() {
    let mut harness = usual();
    focus_plot(&mut harness);
    assert_eq!(plot(&harness).1, None);
    press(&mut harness, Modifiers::NONE, Key::Home);
    let (field, ears) = field(&harness, Axis::USUAL);
    let project = harness.state().document().project();
    let number = |i: usize| project.ears.get(ears[i]).expect("an ear").number;
    let leftmost = (0..ears.len())
        .min_by(|a, b| field.spots[*a][0].total_cmp(&field.spots[*b][0]))
        .expect("ears");
    let expected = format!("Ear {}: ", number(leftmost));
    let value = plot(&harness).1.unwrap_or_default();
    assert!(value.starts_with(&expected), "{value} is not {expected}");
    // Each step to the right goes on to the right.
    let mut last = field.spots[leftmost][0];
    let mut here = leftmost;
    for _ in 0..5 {
        press(&mut harness, Modifiers::NONE, Key::ArrowRight);
        let value = plot(&harness).1.expect("the keyboard is on an ear");
        let project = harness.state().document().project();
        here = ears
            .iter()
            .position(|ear| {
                let number = project.ears.get(*ear).expect("an ear").number;
                value.starts_with(&format!("Ear {number}: "))
            })
            .expect("an ear of the season");
        assert!(field.spots[here][0] > last);
        last = field.spots[here][0];
    }
    assert_eq!(harness.state().chosen(), [], "going there chooses nothing");
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert_eq!(harness.state().chosen(), [ears[here]]);
    press(&mut harness, Modifiers::NONE, Key::End);
    press(&mut harness, Modifiers::NONE, Key::Space);
    assert_eq!(harness.state().chosen().len(), 2);
    press(&mut harness, Modifiers::NONE, Key::Space);
    assert_eq!(harness.state().chosen(), [ears[here]]);
    shot(&mut harness, "axes_keyboard");
    // Nearer, aside, and all again.
    for key in [Key::Plus, Key::Minus] {
        press(&mut harness, Modifiers::NONE, key);
        assert!(says(&harness, "Show all"), "{key:?}");
        press(&mut harness, Modifiers::NONE, Key::Num0);
        assert!(!says(&harness, "Show all"), "{key:?}");
    }
    press(&mut harness, Modifiers::SHIFT, Key::ArrowUp);
    assert!(says(&harness, "Show all"));
    assert_eq!(
        cutoffs(harness.state().document()),
        cutoffs(&essel()),
        "no line was moved"
    );
    press(&mut harness, Modifiers::NONE, Key::Num0);
    // Enter on the ear that is chosen alone opens its card.
    press(&mut harness, Modifiers::NONE, Key::Enter);
    let project = harness.state().document().project();
    let chosen = harness.state().chosen().to_vec();
    let code = project.ears.get(chosen[0]).expect("an ear").code.to_string();
    assert!(!says(&harness, &code));
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert!(says(&harness, &code));
}

#[test]
fn a_mother_row_stands_out_by_its_place_in_the_legend() {
    let mut harness = usual();
    choose(&mut harness, "Colour by", "mother row");
    let project = harness.state().document().project();
    let row = project.rows.iter().next().expect("a row").clone();
    let ears = project.ears.iter().filter(|ear| ear.row == Some(row.id)).count();
    let name = format!("row {} {ears}", row.label);
    let group = harness.get_by_role_and_label(Role::CheckBox, &name);
    assert_eq!(
        group.accesskit_node().toggled(),
        Some(egui::accesskit::Toggled::False)
    );
    group.click();
    harness.run();
    let group = harness.get_by_role_and_label(Role::CheckBox, &name);
    assert_eq!(
        group.accesskit_node().toggled(),
        Some(egui::accesskit::Toggled::True)
    );
    shot(&mut harness, "axes_row_picked");
    harness.get_by_role_and_label(Role::Button, "All groups").click();
    harness.run();
    let group = harness.get_by_role_and_label(Role::CheckBox, &name);
    assert_eq!(
        group.accesskit_node().toggled(),
        Some(egui::accesskit::Toggled::False)
    );
    choose(&mut harness, "Colour by", "stand");
    assert!(harness.query_by_role_and_label(Role::CheckBox, &name).is_none());
}

#[test]
fn looks() {
    for (name, theme) in [("light", Theme::Light), ("dark", Theme::Dark)] {
        for size in [[1280.0, 800.0], [1600.0, 1000.0]] {
            let mut harness = window(essel(), size, theme);
            let picture = |harness: &mut Harness<'_, App>, what: &str| {
                harness.run();
                shot(harness, &format!("axes_{name}_{}_{what}", size[0]));
            };
            picture(&mut harness, "usual");
            ranges(&mut harness, "Ranges of all ears shown");
            choose(&mut harness, "Colour by", "mother row");
            picture(&mut harness, "rows");
            ranges(&mut harness, "Ranges of the chosen ears");
            choose(&mut harness, "Across", "Kernels in packets");
            choose(&mut harness, "Up", "Vigor grade");
            choose(&mut harness, "Colour by", "tray");
            picture(&mut harness, "vigor");
            choose(&mut harness, "Across", "Cold germination as counted");
            choose(&mut harness, "Up", "Cold germination, likely");
            let (_, _, rect) = plot(&harness);
            harness
                .get_by_role_and_label(Role::RadioButton, "Choose by rectangle")
                .click();
            harness.run();
            pointer(&mut harness, rect.lerp_inside(vec2(0.7, 0.1)), true);
            pointer(&mut harness, rect.lerp_inside(vec2(0.9, 0.3)), false);
            picture(&mut harness, "both");
        }
    }
}

/// A still pass of ten thousand ears, to look at and to time by hand.
#[test]
fn ten_thousand_ears() {
    let project = demo::sized(10_000, 1, 7).expect("a project");
    let mut harness = window(Document::new(project), [1600.0, 1000.0], Theme::Light);
    choose(&mut harness, "Colour by", "mother row");
    ranges(&mut harness, "Ranges of all ears shown");
    choose(&mut harness, "Up", "Cold germination, likely");
    assert!(says(&harness, "The ranges of 400 of the "));
    focus_plot(&mut harness);
    press(&mut harness, Modifiers::NONE, Key::End);
    shot(&mut harness, "axes_10000");
    let began = std::time::Instant::now();
    for _ in 0..20 {
        harness.step();
    }
    println!(
        "a still pass takes {:.2} ms",
        began.elapsed().as_secs_f64() * 50.0
    );
}

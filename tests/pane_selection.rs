//! The selection pane, driven through the window by label, key and pointer.

mod common;

use egui::accesskit::Role;
use egui::{Event, Key, Modifiers, PointerButton, Pos2, Theme, pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use jiff::civil::{date, datetime};
use wintercrib::demo;
use wintercrib::insight::{Insight, Vertical};
use wintercrib::model::{
    About, CellContent, Command, Cutoffs, Document, EarDraft, EarId, Existing, Pass, Project, Recipe,
    SeasonId, Seen, SeenWhileMoving, Stamp, Stand, Tally, TestDesign, TrayPlan, Word, WordKind,
};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

/// Numbers that are the same in every run: a linear congruential generator with Knuth's MMIX constants (from memory).
struct Dice(u64);

impl Dice {
    fn unit(&mut self) -> f64 {
        self.0 = self
            .0
            .wrapping_mul(6_364_136_223_846_793_005)
            .wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 11) as f64 / (1u64 << 53) as f64
    }
    fn bell(&mut self) -> f64 {
        (0..12).map(|_| self.unit()).sum::<f64>() - 6.0
    }
}

fn stamp() -> Stamp {
    Stamp {
        at: datetime(2026, 11, 20, 8, 0, 0, 0),
        by: "Test".to_owned(),
    }
}

fn run(document: &mut Document, command: &Command) {
    document
        .run(command, &stamp())
        .expect("the command fits the document");
}

/// A season of ears from uneven rows, of which a share is scored with 10 kernels. Late ears germinate better in it.
fn document(ears: usize, scored: f64) -> Document {
    let mut dice = Dice(7);
    let mut document = Document::new(Project::new(About::new("Trial plot", "trial")));
    run(
        &mut document,
        &Command::AddSeason {
            year: 2026,
            planted: Some(date(2026, 5, 12)),
        },
    );
    let season = SeasonId(1);
    if ears == 0 {
        return document;
    }
    let rows = (ears / 11).clamp(3, 400);
    let drafts = (0..ears)
        .map(|_| {
            let row = ((dice.unit() * dice.unit() * rows as f64) as usize) + 1;
            let days = (85.0 + 4.0 * dice.bell()).round().clamp(68.0, 110.0);
            EarDraft {
                row: Some(row.to_string()),
                maturity_days: (dice.unit() > 0.04).then_some(days as u16),
                kernels: Some(60 + (200.0 * dice.unit()) as u32),
                ..EarDraft::default()
            }
        })
        .collect();
    run(
        &mut document,
        &Command::AddEars {
            season,
            drafts,
            existing: Existing::Refuse,
        },
    );
    if scored <= 0.0 {
        return document;
    }
    run(
        &mut document,
        &Command::DesignTest(TestDesign {
            season,
            replaces: None,
            name: "Cold test".to_owned(),
            plan: TrayPlan::default(),
            recipe: Recipe::default(),
            check_lot: "Bulk".to_owned(),
            seed: 1,
            ears: None,
        }),
    );
    let project = document.project();
    let counts: Vec<Seen> = project
        .cells
        .iter()
        .filter_map(|cell| {
            let CellContent::Ear(ear) = cell.content else {
                return None;
            };
            let days = project.maturity_days(project.ears.get(ear)?).unwrap_or(85);
            let rate = (0.72 + 0.012 * (f64::from(days) - 85.0) + 0.14 * dice.bell()).clamp(0.02, 0.99);
            let grown = (0..10).filter(|_| dice.unit() < rate).count() as u16;
            (dice.unit() < scored).then(|| Seen {
                vigor: Some((3.0 + 5.0 * dice.unit()) as u8),
                ..Seen::new(
                    cell.id,
                    Pass::Final,
                    Tally {
                        strong: grown,
                        dead: 10 - grown,
                        ..Tally::default()
                    },
                )
            })
        })
        .collect();
    run(
        &mut document,
        &Command::RecordCounts {
            counts,
            on: Some(date(2026, 11, 19)),
            by: String::new(),
        },
    );
    document
}

fn harness_of(document: Document, size: [f32; 2], scale: f32, theme: Theme) -> Harness<'static, App> {
    let mut harness = common::harness([size[0] / scale, size[1] / scale], theme)
        .with_pixels_per_point(scale)
        .build_eframe(|_| {
            let mut app = App::in_memory(document, || datetime(2026, 11, 25, 9, 0, 0, 0));
            app.show(Pane::Selection);
            app
        });
    harness.run();
    harness
}

fn harness(document: Document) -> Harness<'static, App> {
    harness_of(document, [1280.0, 800.0], 1.0, Theme::Light)
}

fn cutoffs(harness: &Harness<'_, App>) -> Cutoffs {
    Insight::default().cutoffs(harness.state().document(), SeasonId(1))
}

/// The sentence that the pane must show under these cutoffs, worked out anew.
fn sentence(harness: &Harness<'_, App>, cutoffs: &Cutoffs) -> String {
    Insight::default()
        .choice(harness.state().document(), SeasonId(1), cutoffs)
        .summary
        .sentence()
}

fn shows(harness: &Harness<'_, App>, sentence: &str) {
    let shown: Vec<String> = harness
        .query_all_by_role(Role::Status)
        .filter_map(|node| node.accesskit_node().label())
        .collect();
    assert!(
        shown.iter().any(|text| text == sentence),
        "'{sentence}' is not shown, but {shown:?}"
    );
}

fn slider(harness: &Harness<'_, App>, name: &str) -> (Pos2, f64, String) {
    let node = harness.get_by_role_and_label(Role::Slider, name);
    let value = node
        .accesskit_node()
        .numeric_value()
        .expect("a slider has a value");
    (node.rect().center(), value, node.value().unwrap_or_default())
}

fn focus(harness: &mut Harness<'_, App>, role: Role, name: &str) {
    harness.get_by_role_and_label(role, name).focus();
    harness.run();
}

fn click(harness: &mut Harness<'_, App>, role: Role, name: &str) {
    harness.get_by_role_and_label(role, name).click();
    harness.run();
}

fn press(harness: &mut Harness<'_, App>, modifiers: Modifiers, key: Key) {
    harness.key_press_modifiers(modifiers, key);
    harness.run();
}

fn button(harness: &mut Harness<'_, App>, pos: Pos2, pressed: bool, modifiers: Modifiers) {
    harness.event_modifiers(Event::PointerMoved(pos), modifiers);
    harness.run();
    harness.event_modifiers(
        Event::PointerButton {
            pos,
            button: PointerButton::Primary,
            pressed,
            modifiers,
        },
        modifiers,
    );
    harness.run();
}

/// Press and release come in one pass: a longer press is no click.
fn click_at(harness: &mut Harness<'_, App>, pos: Pos2, modifiers: Modifiers) {
    harness.event_modifiers(Event::PointerMoved(pos), modifiers);
    harness.run();
    for pressed in [true, false] {
        let event = Event::PointerButton {
            pos,
            button: PointerButton::Primary,
            pressed,
            modifiers,
        };
        harness.event_modifiers(event, modifiers);
    }
    harness.run();
}

/// The harness advances a quarter of a second each frame: both clicks come within one, to be a double click.
fn double_click(harness: &mut Harness<'_, App>, pos: Pos2) {
    harness.event(Event::PointerMoved(pos));
    harness.run();
    for pressed in [true, false, true, false] {
        harness.input_mut().events.push(Event::PointerButton {
            pos,
            button: PointerButton::Primary,
            pressed,
            modifiers: Modifiers::NONE,
        });
    }
    harness.run();
}

fn drag(harness: &mut Harness<'_, App>, from: Pos2, to: Pos2, modifiers: Modifiers) {
    button(harness, from, true, modifiers);
    harness.event_modifiers(Event::PointerMoved(from.lerp(to, 0.5)), modifiers);
    harness.run();
    button(harness, to, false, modifiers);
}

/// What undo would lead back to.
fn undone(harness: &Harness<'_, App>) -> Document {
    let mut document = harness.state().document().clone();
    document.undo(&stamp()).expect("undo is possible");
    document
}

fn cutoffs_of(document: &Document) -> Cutoffs {
    Insight::default().cutoffs(document, SeasonId(1))
}

/// Where days and percents are drawn, told by where the two lines stand.
struct Scale {
    origin: Pos2,
    at: [f64; 2],
    step: [f64; 2],
}

impl Scale {
    fn of(document: &Document) -> Self {
        let days: Vec<f64> = figures(document).iter().map(|one| one.1).collect();
        let (first, last) = (
            days.iter().copied().fold(f64::MAX, f64::min) + 5.0,
            days.iter().copied().fold(0.0, f64::max) - 5.0,
        );
        let place = |percent, days| {
            let mut document = document.clone();
            let cutoffs = Cutoffs {
                germination_percent: Some(percent),
                maturity_days: Some(days),
                ..Cutoffs::default()
            };
            run(
                &mut document,
                &Command::SetCutoffs {
                    season: SeasonId(1),
                    cutoffs,
                    seen: SeenWhileMoving::default(),
                },
            );
            let harness = harness(document);
            pos2(
                slider(&harness, "Most maturity days").0.x,
                slider(&harness, "Least cold germination").0.y,
            )
        };
        let (a, b) = (place(40.0, first), place(80.0, last));
        Self {
            origin: a,
            at: [first, 40.0],
            step: [f64::from(b.x - a.x) / (last - first), f64::from(b.y - a.y) / 40.0],
        }
    }

    fn pos(&self, days: f64, percent: f64) -> Pos2 {
        let by = [
            (days - self.at[0]) * self.step[0],
            (percent - self.at[1]) * self.step[1],
        ];
        self.origin + vec2(by[0] as f32, by[1] as f32)
    }
}

/// Days and counted percent of the ears that have both.
fn figures(document: &Document) -> Vec<(EarId, f64, f64)> {
    let points = Insight::default().points(document, SeasonId(1), &Cutoffs::default(), Vertical::Observed);
    points
        .points
        .iter()
        .map(|point| (point.ear, point.maturity_days, point.percent))
        .collect()
}

/// An ear whose figures no other ear has.
fn lone_ear(document: &Document) -> (EarId, f64, f64) {
    let all = figures(document);
    let is_alone = |one: &&(EarId, f64, f64)| {
        all.iter()
            .filter(|other| (other.1 - one.1).abs() < 0.5 && (other.2 - one.2).abs() < 0.5)
            .count()
            == 1
    };
    *all.iter().find(is_alone).expect("some ear lies alone")
}

#[test]
fn arrows_nudge_a_line_and_one_undo_takes_all_nudges_back() {
    let mut harness = harness(document(240, 0.93));
    shows(&harness, &sentence(&harness, &Cutoffs::default()));
    focus(&mut harness, Role::Slider, "Least cold germination");
    press(&mut harness, Modifiers::NONE, Key::ArrowUp);
    press(&mut harness, Modifiers::NONE, Key::ArrowUp);
    assert_eq!(cutoffs(&harness).germination_percent, Some(72.0));
    press(&mut harness, Modifiers::SHIFT, Key::ArrowDown);
    let set = cutoffs(&harness);
    assert_eq!(set.germination_percent, Some(62.0));
    assert_eq!(slider(&harness, "Least cold germination").2, "62 %");
    let now = sentence(&harness, &set);
    assert_ne!(now, sentence(&harness, &Cutoffs::default()));
    shows(&harness, &now);
    assert!(
        harness
            .get_by_role_and_label(Role::Slider, "Least cold germination")
            .is_focused()
    );
    assert_eq!(cutoffs_of(&undone(&harness)), Cutoffs::default());

    // Leaving the line ends the step: what comes next is taken back by itself.
    focus(&mut harness, Role::Slider, "Most maturity days");
    press(&mut harness, Modifiers::NONE, Key::ArrowLeft);
    press(&mut harness, Modifiers::NONE, Key::ArrowLeft);
    let days = cutoffs(&harness).maturity_days.expect("the line is on");
    shows(&harness, &sentence(&harness, &cutoffs(&harness)));
    let latest = figures(harness.state().document())
        .iter()
        .map(|one| one.1)
        .fold(0.0, f64::max);
    assert!(
        (days - (latest - 1.0)).abs() < 1e-9,
        "{days} is not a day before {latest}"
    );
    assert_eq!(cutoffs_of(&undone(&harness)), set);
}

#[test]
fn a_dragged_line_moves_the_figures_before_it_is_let_go_and_is_one_step() {
    let mut harness = harness(document(240, 0.93));
    let (at, _, _) = slider(&harness, "Least cold germination");
    let from = pos2(at.x - 150.0, at.y);
    button(&mut harness, from, true, Modifiers::NONE);
    let mut seen = Vec::new();
    for by in [20.0, 40.0, 60.0] {
        harness.event(Event::PointerMoved(from - vec2(0.0, by)));
        harness.run();
        let value = slider(&harness, "Least cold germination").1;
        let preview = Cutoffs {
            germination_percent: Some(value),
            ..Cutoffs::default()
        };
        shows(&harness, &sentence(&harness, &preview));
        assert_eq!(
            cutoffs(&harness),
            Cutoffs::default(),
            "nothing is set while the line is dragged"
        );
        seen.push(sentence(&harness, &preview));
    }
    seen.dedup();
    assert!(seen.len() > 1, "the figures did not move: {seen:?}");
    let value = slider(&harness, "Least cold germination").1;
    button(&mut harness, from - vec2(0.0, 60.0), false, Modifiers::NONE);
    assert_eq!(cutoffs(&harness).germination_percent, Some(value));
    assert!(value > 75.0);
    let before = undone(&harness);
    assert_eq!(cutoffs_of(&before), Cutoffs::default());
    assert_eq!(
        before.undo_label().map(|label| label.contains("cutoffs")),
        Some(false),
        "the drag was one step"
    );
}

#[test]
fn escape_lets_a_dragged_line_go_back() {
    let mut harness = harness(document(60, 1.0));
    let (at, _, _) = slider(&harness, "Least cold germination");
    let from = pos2(at.x - 150.0, at.y);
    button(&mut harness, from, true, Modifiers::NONE);
    harness.event(Event::PointerMoved(from - vec2(0.0, 60.0)));
    harness.run();
    assert!(slider(&harness, "Least cold germination").1 > 75.0);
    press(&mut harness, Modifiers::NONE, Key::Escape);
    button(&mut harness, from - vec2(0.0, 60.0), false, Modifiers::NONE);
    assert_eq!(slider(&harness, "Least cold germination").2, "70 %");
    assert_eq!(cutoffs(&harness), Cutoffs::default());
}

#[test]
fn a_line_that_is_off_waits_at_the_edge_and_can_be_dragged_in_and_out() {
    let mut harness = harness(document(240, 0.93));
    let (at, _, text) = slider(&harness, "Most maturity days");
    assert_eq!(text, "any days");
    drag(&mut harness, at, at - vec2(250.0, 0.0), Modifiers::NONE);
    let days = cutoffs(&harness).maturity_days.expect("the line was dragged in");
    assert!((70.0..100.0).contains(&days), "{days}");
    shows(&harness, &sentence(&harness, &cutoffs(&harness)));
    let (at, _, text) = slider(&harness, "Most maturity days");
    assert_eq!(text, format!("{days} days"));
    drag(&mut harness, at, at + vec2(500.0, 0.0), Modifiers::NONE);
    assert_eq!(cutoffs(&harness).maturity_days, None);

    click(&mut harness, Role::CheckBox, "Use least cold germination");
    assert_eq!(cutoffs(&harness).germination_percent, None);
    assert_eq!(slider(&harness, "Least cold germination").2, "any %");
    click(&mut harness, Role::CheckBox, "Use least cold germination");
    assert_eq!(cutoffs(&harness).germination_percent, Some(70.0));
}

#[test]
fn cutoffs_can_be_typed() {
    let mut harness = harness(document(240, 0.93));
    let type_in = |harness: &mut Harness<'_, App>, label: &str, text: &str| {
        focus(harness, Role::TextInput, label);
        press(harness, Modifiers::COMMAND, Key::A);
        harness.event(Event::Text(text.to_owned()));
        harness.run();
        press(harness, Modifiers::NONE, Key::Enter);
    };
    type_in(&mut harness, "Cold germination at least", "62,5");
    type_in(&mut harness, "Maturity at most", "88");
    type_in(&mut harness, "Sureness", "80");
    type_in(&mut harness, "Vigor at least", "4");
    type_in(&mut harness, "Ears of one mother at most", "5");
    let set = cutoffs(&harness);
    let wanted = Cutoffs {
        germination_percent: Some(62.5),
        maturity_days: Some(88.0),
        vigor: Some(4.0),
        cap_per_mother: Some(5),
        sureness: 0.8,
        ..Cutoffs::default()
    };
    assert_eq!(set, wanted);
    shows(&harness, &sentence(&harness, &set));
    assert_eq!(
        cutoffs_of(&undone(&harness)).cap_per_mother,
        None,
        "each field is a step of its own"
    );
    type_in(&mut harness, "Cold germination at least", "130");
    assert_eq!(cutoffs(&harness), wanted, "what is impossible is not taken");
    assert!(harness.query_by_label_contains("cannot be 130").is_some());
}

#[test]
fn a_rectangle_chooses_the_ears_inside_and_ctrl_adds() {
    let document = document(240, 0.93);
    let scale = Scale::of(&document);
    let inside = |days: std::ops::Range<f64>, percents: std::ops::Range<f64>| -> Vec<EarId> {
        let all = figures(&document);
        all.iter()
            .filter(|one| days.contains(&one.1) && percents.contains(&one.2))
            .map(|one| one.0)
            .collect()
    };
    let mut harness = harness(document.clone());
    click(&mut harness, Role::RadioButton, "Choose by rectangle");
    drag(
        &mut harness,
        scale.pos(84.5, 75.0),
        scale.pos(79.5, 95.0),
        Modifiers::NONE,
    );
    let first = inside(79.5..84.5, 75.0..95.0);
    assert!(first.len() > 5);
    assert_eq!(harness.state().chosen(), first);

    drag(
        &mut harness,
        scale.pos(84.5, 45.0),
        scale.pos(88.5, 55.0),
        Modifiers::COMMAND,
    );
    let second = inside(84.5..88.5, 45.0..55.0);
    assert!(second.len() > 2);
    assert_eq!(harness.state().chosen(), [first.clone(), second].concat());

    click(&mut harness, Role::RadioButton, "Move the view");
    drag(
        &mut harness,
        scale.pos(84.5, 75.0),
        scale.pos(79.5, 95.0),
        Modifiers::SHIFT,
    );
    assert_eq!(
        harness.state().chosen(),
        first,
        "Shift draws a rectangle with any tool"
    );
    assert_eq!(cutoffs(&harness), Cutoffs::default(), "no line was moved");
}

#[test]
fn a_click_on_a_mark_or_a_row_chooses_the_same_ear() {
    let document = document(240, 0.93);
    let (ear, days, percent) = lone_ear(&document);
    let at = Scale::of(&document).pos(days, percent);
    let number = document.project().ears.get(ear).expect("the ear is there").number;
    let mut harness = harness(document);
    harness.event(Event::PointerMoved(at));
    harness.run();
    assert!(
        harness
            .query_by_label_contains(&format!("Ear {number}: "))
            .is_some(),
        "the tip tells the ear"
    );
    click_at(&mut harness, at, Modifiers::NONE);
    assert_eq!(harness.state().chosen(), [ear]);
    // The table has scrolled to it: its number is in sight, and a click there takes it out again with Ctrl.
    let row = harness
        .get_by_label_contains(&format!("Row of ear {number}: "))
        .rect()
        .left_center()
        + vec2(40.0, 0.0);
    click_at(&mut harness, row, Modifiers::COMMAND);
    assert_eq!(harness.state().chosen(), []);
    click_at(&mut harness, row, Modifiers::NONE);
    assert_eq!(harness.state().chosen(), [ear]);
    press(&mut harness, Modifiers::NONE, Key::Escape);
    assert_eq!(harness.state().chosen(), []);
}

#[test]
fn a_double_click_on_a_mark_or_a_row_opens_the_card() {
    let document = document(240, 0.93);
    let (ear, days, percent) = lone_ear(&document);
    let at = Scale::of(&document).pos(days, percent);
    let code = document
        .project()
        .ears
        .get(ear)
        .expect("the ear is there")
        .code
        .to_string();
    let mut on_mark = harness(document.clone());
    assert_eq!(on_mark.query_all_by_label_contains(&code).count(), 0);
    double_click(&mut on_mark, at);
    assert!(
        on_mark.query_all_by_label_contains(&code).count() > 0,
        "the card tells the code"
    );

    let mut on_row = harness(document);
    let row = on_row
        .get_by_label_contains("Row of ear 3: ")
        .rect()
        .left_center()
        + vec2(40.0, 0.0);
    double_click(&mut on_row, row);
    assert_eq!(on_row.state().chosen(), [EarId(3)]);
    let code = on_row
        .state()
        .document()
        .project()
        .ears
        .get(EarId(3))
        .expect("the ear is there")
        .code
        .to_string();
    assert!(
        on_row.query_all_by_label_contains(&code).count() > 0,
        "the card tells the code"
    );
}

#[test]
fn keys_go_from_ear_to_ear_in_the_order_of_the_table() {
    let mut harness = harness(document(40, 1.0));
    press(&mut harness, Modifiers::NONE, Key::N);
    press(&mut harness, Modifiers::NONE, Key::N);
    assert_eq!(harness.state().chosen(), [EarId(2)]);
    press(&mut harness, Modifiers::NONE, Key::P);
    assert_eq!(harness.state().chosen(), [EarId(1)]);
    press(&mut harness, Modifiers::NONE, Key::Escape);

    click(&mut harness, Role::Button, "Days");
    press(&mut harness, Modifiers::NONE, Key::N);
    let all = figures(harness.state().document());
    let least = all
        .iter()
        .min_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)))
        .expect("there are ears");
    assert_eq!(harness.state().chosen(), [least.0]);
    press(&mut harness, Modifiers::COMMAND, Key::ArrowDown);
    assert_ne!(harness.state().chosen(), [least.0]);
    press(&mut harness, Modifiers::COMMAND, Key::ArrowUp);
    assert_eq!(harness.state().chosen(), [least.0]);

    press(&mut harness, Modifiers::NONE, Key::Escape);
    click(&mut harness, Role::Button, "Days ▲");
    press(&mut harness, Modifiers::NONE, Key::N);
    let most = all.iter().map(|one| one.1).fold(0.0, f64::max);
    let chosen = harness.state().chosen()[0];
    assert!(
        all.iter()
            .any(|one| one.0 == chosen && (one.1 - most).abs() < 0.5)
    );
}

/// How many rows in sight tell this stand or word.
fn rows(harness: &Harness<'_, App>, stand: &str) -> usize {
    let stand = format!(": {stand}; ");
    harness
        .query_all_by_role(Role::Row)
        .filter_map(|row| row.accesskit_node().label())
        .filter(|label| label.contains(&stand))
        .count()
}

#[test]
fn the_table_and_the_plot_agree() {
    // So high that every row is in sight.
    let mut harness = harness_of(document(15, 1.0), [1280.0, 940.0], 1.0, Theme::Light);
    let choice = Insight::default().choice(harness.state().document(), SeasonId(1), &Cutoffs::default());
    let kept = choice.summary.kept;
    assert!(kept > 0 && kept < 15);
    assert_eq!(rows(&harness, "plant"), kept);
    assert_eq!(rows(&harness, "leave out"), choice.summary.left_out);
    click(
        &mut harness,
        Role::CheckBox,
        &format!("leave out {}", choice.summary.left_out),
    );
    assert_eq!(rows(&harness, "leave out"), 0);
    assert_eq!(rows(&harness, "plant"), kept);
    focus(&mut harness, Role::Slider, "Least cold germination");
    press(&mut harness, Modifiers::SHIFT, Key::ArrowDown);
    let choice = Insight::default().choice(harness.state().document(), SeasonId(1), &cutoffs(&harness));
    assert!(choice.summary.kept > kept);
    assert_eq!(rows(&harness, "plant"), choice.summary.kept);
}

#[test]
fn a_word_needs_a_reason_goes_above_the_cutoffs_and_can_be_taken_back() {
    let mut harness = harness(document(40, 1.0));
    let insight = Insight::default();
    let out = insight
        .choice(harness.state().document(), SeasonId(1), &Cutoffs::default())
        .standings
        .iter()
        .find(|one| one.stand == Stand::LeaveOut)
        .map(|one| one.ear)
        .expect("an ear is left out");
    while harness.state().chosen() != [out] {
        press(&mut harness, Modifiers::NONE, Key::N);
    }
    click(&mut harness, Role::Button, "Always plant…");
    press(&mut harness, Modifiers::NONE, Key::Enter);
    let words = |harness: &Harness<'_, App>| {
        let selection = harness
            .state()
            .document()
            .project()
            .selection_of(SeasonId(1))
            .cloned();
        selection.map(|one| one.words).unwrap_or_default()
    };
    assert!(words(&harness).is_empty(), "no word without a reason");
    focus(&mut harness, Role::TextInput, "Reason");
    harness.event(Event::Text("the only blue one, n.p.".to_owned()));
    harness.run();
    click(&mut harness, Role::Button, "Always plant");
    let word = words(&harness).get(&out).cloned().expect("the word was given");
    assert_eq!(
        (word.kind, word.reason.as_str()),
        (WordKind::Always, "the only blue one, n.p.")
    );
    assert_eq!(
        harness.state().chosen(),
        [out],
        "letters in the reason are no keys of the pane"
    );
    let stand = |harness: &Harness<'_, App>| {
        let choice = Insight::default().choice(harness.state().document(), SeasonId(1), &cutoffs(harness));
        choice.of(out).map(|one| one.stand)
    };
    assert_eq!(stand(&harness), Some(Stand::Plant));
    assert!(rows(&harness, "always plant") == 1, "the table tells the word");
    click(&mut harness, Role::Button, "Take back the word");
    assert_eq!(stand(&harness), Some(Stand::LeaveOut));
    assert!(rows(&harness, "always plant") == 0);
}

#[test]
fn empty_places_say_what_to_do_and_lead_there() {
    let nothing = Document::new(Project::new(About::new("Trial plot", "trial")));
    for (document, title, button) in [
        (nothing, "No season yet", "Go to Seasons"),
        (document(0, 0.0), "No ears yet", "Go to Harvest"),
        (document(12, 0.0), "Nothing scored yet", "Go to Trays"),
    ] {
        let mut harness = harness(document);
        assert!(harness.query_by_label(title).is_some(), "{title}");
        common::shot(
            &mut harness,
            &format!("selection_empty_{}", button.to_lowercase().replace(' ', "_")),
        );
        click(&mut harness, Role::Button, button);
        assert!(harness.query_by_label(title).is_none(), "{button} leads away");
    }
}

#[test]
fn ten_thousand_ears_pass() {
    let mut harness = harness(document(10_000, 0.95));
    shows(&harness, &sentence(&harness, &Cutoffs::default()));
    focus(&mut harness, Role::Slider, "Least cold germination");
    press(&mut harness, Modifiers::NONE, Key::ArrowUp);
    shows(&harness, &sentence(&harness, &cutoffs(&harness)));
    common::shot(&mut harness, "selection_10000");
    let began = std::time::Instant::now();
    for _ in 0..20 {
        harness.step();
    }
    println!(
        "a still pass takes {:.2} ms",
        began.elapsed().as_secs_f64() * 50.0
    );
}

/// The ears of the retest list as they are shown, with whether they are ticked.
fn retest_rows(harness: &Harness<'_, App>) -> Vec<(String, bool)> {
    harness
        .query_all_by_role(Role::CheckBox)
        .filter_map(|node| {
            let label = node.accesskit_node().label()?;
            let on = node.accesskit_node().toggled() == Some(egui::accesskit::Toggled::True);
            label.starts_with("Retest ear ").then_some((label, on))
        })
        .collect()
}

fn open_retest(harness: &mut Harness<'_, App>) {
    harness.get_by_label_contains("Retest list: ").click();
    harness.run_steps(20);
}

#[test]
fn a_retest_tray_is_made_from_the_list_in_one_action() {
    let mut harness = harness(document(240, 0.93));
    let list = Insight::default().retest(harness.state().document(), SeasonId(1), &Cutoffs::default());
    assert!(list.ears.len() > 28, "{}", list.ears.len());
    open_retest(&mut harness);
    let rows = retest_rows(&harness);
    assert!(rows.len() >= 3, "{rows:?}");
    for (row, ear) in rows.iter().zip(&list.ears) {
        assert!(
            row.0
                .starts_with(&format!("Retest ear {}: {}", ear.number, ear.sentence())),
            "{row:?}"
        );
        assert!(row.1, "the first of the list are ticked: {row:?}");
    }
    assert!(
        harness.query_by_label(&list.gain(list.first(28))).is_some(),
        "one tray is proposed"
    );
    // Five of them, the second not, as the grower has it.
    focus(&mut harness, Role::TextInput, "The first");
    press(&mut harness, Modifiers::COMMAND, Key::A);
    harness
        .get_by_role_and_label(Role::TextInput, "The first")
        .type_text("5");
    press(&mut harness, Modifiers::NONE, Key::Enter);
    assert!(harness.query_by_label(&list.gain(list.first(5))).is_some());
    let figures = harness.query_all_by_label_contains("% to reach it").next();
    figures.expect("the figures stand beside the ears").click();
    harness.run();
    assert_eq!(harness.state().chosen(), [list.ears[0].ear]);
    let second = retest_rows(&harness)[1].0.clone();
    click(&mut harness, Role::CheckBox, &second);
    let wanted: Vec<EarId> = [0, 2, 3, 4].map(|place: usize| list.ears[place].ear).to_vec();
    click(&mut harness, Role::Button, "Make a retest tray");
    harness.run();

    let project = harness.state().document().project();
    let test = project.tests.iter().last().unwrap();
    let first = project.tests.iter().next().unwrap();
    assert_eq!(
        (test.name.as_str(), &test.plan, &test.recipe),
        ("Retest", &first.plan, &first.recipe)
    );
    assert_ne!(test.seed, first.seed);
    let mut ears: Vec<EarId> = project
        .trays_of(test.id)
        .flat_map(|tray| project.cells_of(tray.id))
        .filter_map(|cell| match cell.content {
            CellContent::Ear(ear) => Some(ear),
            _ => None,
        })
        .collect();
    ears.sort_unstable();
    let mut sorted = wanted.clone();
    sorted.sort_unstable();
    assert_eq!(ears, sorted);
    // It is shown in the trays pane.
    assert!(
        harness
            .query_by_label_contains("Retest: designed, not laid yet.")
            .is_some()
    );
    harness.state_mut().show(Pane::Scoring);
    harness.run();
    assert!(
        harness
            .query_by_role_and_label(Role::RadioButton, "Retest")
            .is_some()
    );
    click(&mut harness, Role::RadioButton, "Retest");
    assert!(
        harness.query_by_label_contains("0 of 6 in all").is_some(),
        "4 ears and 2 checks are to be counted"
    );
    // One step of undo takes it back.
    harness.state_mut().show(Pane::Selection);
    harness.run();
    let rows = retest_rows(&harness);
    assert!(
        rows[0].0.contains("It lies in Retest already") && !rows[0].1,
        "{:?}",
        rows[0]
    );
    press(&mut harness, Modifiers::COMMAND, Key::Z);
    assert_eq!(harness.state().document().project().tests.len(), 1);
}

#[test]
fn looks_of_the_retest_list() {
    for (name, theme) in [("light", Theme::Light), ("dark", Theme::Dark)] {
        for (size, scale) in [
            ([1280.0, 800.0], 1.0),
            ([1920.0, 1080.0], 1.0),
            ([1280.0, 800.0], 1.5),
        ] {
            let mut harness = harness_of(document(240, 0.93), size, scale, theme);
            if harness.query_by_label_contains("Retest list: ").is_some() {
                harness.get_by_label_contains("Retest list: ").scroll_to_me();
                harness.run();
            }
            open_retest(&mut harness);
            common::shot(
                &mut harness,
                &format!("retest_{name}_{}_{}", size[0], scale * 10.0),
            );
            harness.get_by_label_contains("Costs and buys").click();
            harness.run_steps(20);
            common::shot(
                &mut harness,
                &format!("retest_price_{name}_{}_{}", size[0], scale * 10.0),
            );
        }
    }
}

#[test]
fn looks() {
    for (name, theme) in [("light", Theme::Light), ("dark", Theme::Dark)] {
        for (size, scale) in [
            ([1280.0, 800.0], 1.0),
            ([1920.0, 1080.0], 1.0),
            ([1280.0, 800.0], 1.5),
            ([1920.0, 1080.0], 1.5),
        ] {
            let mut harness = harness_of(document(240, 0.93), size, scale, theme);
            common::shot(
                &mut harness,
                &format!("selection_{name}_{}_{}", size[0], scale * 10.0),
            );
        }
    }
    let mut document = document(240, 0.93);
    let season = SeasonId(1);
    let set = Cutoffs {
        maturity_days: Some(88.0),
        ..Cutoffs::default()
    };
    run(
        &mut document,
        &Command::SetCutoffs {
            season,
            cutoffs: set,
            seen: SeenWhileMoving::default(),
        },
    );
    let word = |kind, reason: &str| {
        Some(Word {
            kind,
            reason: reason.to_owned(),
        })
    };
    run(
        &mut document,
        &Command::SetWord {
            season,
            ears: vec![EarId(7)],
            word: word(WordKind::Always, "the only blue one"),
        },
    );
    run(
        &mut document,
        &Command::SetWord {
            season,
            ears: vec![EarId(2)],
            word: word(WordKind::Never, "smut"),
        },
    );
    for (name, theme) in [("light", Theme::Light), ("dark", Theme::Dark)] {
        let mut harness = harness_of(document.clone(), [1280.0, 800.0], 1.0, theme);
        harness.get_by_role_and_label(Role::RadioButton, "Likely").click();
        harness.run();
        harness.key_press(Key::N);
        harness.run();
        harness.key_press(Key::N);
        harness.run();
        common::shot(&mut harness, &format!("selection_{name}_likely"));
        let row = harness
            .get_by_label_contains("Row of ear 2: ")
            .rect()
            .left_center()
            + vec2(40.0, 0.0);
        harness.event(Event::PointerMoved(row));
        harness.run();
        double_click(&mut harness, row);
        common::shot(&mut harness, &format!("selection_{name}_card"));
    }
    let demo = demo::make("essel-thaw").expect("the demo is made");
    let (_, days, percent) = lone_ear(&Document::new(demo.clone()));
    let mark = Scale::of(&Document::new(demo.clone())).pos(days, percent);
    for (name, theme) in [("light", Theme::Light), ("dark", Theme::Dark)] {
        let mut harness = harness_of(Document::new(demo.clone()), [1280.0, 800.0], 1.0, theme);
        common::shot(&mut harness, &format!("selection_{name}_demo"));
        let (at, _, _) = slider(&harness, "Least cold germination");
        harness.event(Event::PointerMoved(mark));
        harness.run();
        common::shot(&mut harness, &format!("selection_{name}_demo_tip"));
        button(&mut harness, at, true, Modifiers::NONE);
        harness.event(Event::PointerMoved(at - vec2(0.0, 30.0)));
        harness.run();
        common::shot(&mut harness, &format!("selection_{name}_demo_drag"));
        button(&mut harness, at - vec2(0.0, 30.0), false, Modifiers::NONE);
        let head = harness
            .get_by_role_and_label(Role::Button, "Likely")
            .rect()
            .center()
            + vec2(0.0, 60.0);
        harness.event(Event::PointerMoved(head));
        harness.event(Event::MouseWheel {
            unit: egui::MouseWheelUnit::Point,
            delta: vec2(-500.0, -300.0),
            phase: egui::TouchPhase::Move,
            source: egui::MouseWheelSource::Wheel,
            modifiers: Modifiers::NONE,
        });
        harness.run_steps(12);
        common::shot(&mut harness, &format!("selection_{name}_demo_scrolled"));
    }
}

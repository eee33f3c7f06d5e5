//! The part of Seasons that looks ahead: two plans in a form, simulated beside the window, drawn and said.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod common;

use common::{fill, harness, says, shot};
use egui::{Key, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::time::{Duration, Instant};
use wintercrib::demo;
use wintercrib::genetics::ahead::{Plan, outlook, replicates};
use wintercrib::insight::{Insight, outcome_sentences};
use wintercrib::model::{About, Command, Document, Project, Stamp};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

fn window(document: Document, size: [f32; 2], theme: Theme) -> Harness<'static, App> {
    let mut app = App::in_memory(document, || jiff::civil::date(2026, 2, 10).at(9, 0, 0, 0));
    app.show(Pane::Seasons);
    let mut window = harness(size, theme).build_eframe(|_| app);
    window.run();
    let part = window.get_by_role_and_label(Role::RadioButton, "Look ahead");
    part.click();
    window.run();
    window
}

fn thaw() -> Document {
    Document::new(demo::make("essel-thaw").unwrap())
}

/// Types a number and takes it by Enter.
fn set(window: &mut Harness<'_, App>, field: &str, text: &str) {
    fill(window, field, text);
    window.key_press(Key::Enter);
    window.run();
}

/// Steps until the simulation has ended.
fn wait(window: &mut Harness<'_, App>) {
    let begin = Instant::now();
    while window.query_by_role(Role::ProgressIndicator).is_some() {
        assert!(
            begin.elapsed() < Duration::from_mins(2),
            "the look ahead does not end"
        );
        std::thread::sleep(Duration::from_millis(10));
        window.step();
    }
    window.run();
}

fn begin(window: &mut Harness<'_, App>) {
    let button = window.get_by_role_and_label(Role::Button, "Look ahead");
    button.scroll_to_me();
    window.run();
    window.get_by_role_and_label(Role::Button, "Look ahead").click();
    window.step();
    window.step();
}

/// Shows a part that lies below what is in view.
fn scroll_to(window: &mut Harness<'_, App>, label: &str) {
    window.get_by_label(label).scroll_to_me();
    window.run();
}

#[test]
fn both_plans_are_simulated_drawn_and_said() {
    for (theme, size, name) in [
        (Theme::Light, [1280.0, 800.0], "light"),
        (Theme::Dark, [1600.0, 1000.0], "dark"),
        (Theme::Dark, [860.0, 700.0], "narrow"),
    ] {
        let mut window = window(thaw(), size, theme);
        assert!(says(&window, "Look ahead from season 2025"));
        assert!(says(&window, "Nothing was simulated yet."));
        set(&mut window, "Replicates", "40");
        set(&mut window, "Seasons", "5");
        set(&mut window, "Seed", "3");
        begin(&mut window);
        wait(&mut window);
        shot(&mut window, &format!("look_ahead_top_{name}"));
        let document = thaw();
        let insight = Insight::default();
        let season = document.project().latest_season().unwrap().id;
        let ahead = insight.ahead(&document, season, &insight.cutoffs(&document, season));
        let start = ahead.start.as_ref().unwrap();
        let now = Plan {
            seasons: 5,
            ..start.plan
        };
        let half = Plan {
            kept: now.kept / 2,
            ..now
        };
        for plan in [now, half] {
            let found = outlook(&replicates(&start.population, &plan, 3, 0..40).unwrap()).unwrap();
            for sentence in outcome_sentences(&plan, &found) {
                assert!(says(&window, &sentence), "{sentence}");
            }
            let picture = window.get_by_role(Role::Image);
            let told = picture.accesskit_node().label().unwrap();
            let last = found.seasons[5].germination_percent;
            let figures = format!("5: {:.0} ({:.0} to {:.0})", last.mean, last.low, last.high);
            assert!(told.contains(&figures), "{figures}: {told}");
        }
        assert!(says(&window, "A simulation of what may come, never a promise."));
        scroll_to(&mut window, "Taken for granted");
        shot(&mut window, &format!("look_ahead_words_{name}"));
        window.get_by_label("Lines of mothers").scroll_to_me();
        window.run();
        window.get_by_label("Lines of mothers").click();
        window.run();
        assert!(
            window
                .get_by_role(Role::Image)
                .accesskit_node()
                .label()
                .unwrap()
                .starts_with("Mother rows of now that are left by season. Plan A: 0: 22")
        );
    }
}

#[test]
fn it_is_stopped_and_tells_when_the_plans_have_changed() {
    let mut window = window(thaw(), [1280.0, 800.0], Theme::Light);
    set(&mut window, "Replicates", "20");
    set(&mut window, "Seasons", "2");
    begin(&mut window);
    wait(&mut window);
    assert!(!says(&window, "have changed since"));
    set(&mut window, "Kernels of each, B", "20");
    assert!(says(&window, "have changed since"));
    // So long that it cannot end before it is stopped.
    set(&mut window, "Replicates", "20000");
    set(&mut window, "Seasons", "20");
    begin(&mut window);
    assert!(window.query_by_role(Role::ProgressIndicator).is_some());
    window.get_by_role_and_label(Role::Button, "Stop").click();
    window.step();
    wait(&mut window);
    assert!(
        says(&window, "After 2 seasons the ears are likely"),
        "what came out before stays"
    );
    set(&mut window, "Replicates", "20");
    set(&mut window, "Seasons", "3");
    // By keyboard alone.
    window.get_by_role_and_label(Role::Button, "Look ahead").focus();
    window.run();
    window.key_press(Key::Enter);
    window.step();
    window.step();
    wait(&mut window);
    assert!(says(&window, "After 3 seasons the ears are likely"));
    assert!(says(&window, "tested with 20 kernels each"));
    assert!(!says(&window, "have changed since"));
}

#[test]
fn a_plan_that_cannot_be_carried_out_is_told_and_not_run() {
    let mut window = window(thaw(), [1280.0, 800.0], Theme::Light);
    set(&mut window, "Ears kept, at most, B", "900");
    assert!(says(
        &window,
        "Plan B: 900 of 147 ears cannot be kept: test more ears or keep fewer."
    ));
    let button = window.get_by_role_and_label(Role::Button, "Look ahead");
    assert!(button.accesskit_node().is_disabled());
    scroll_to(&mut window, "Plan B");
    shot(&mut window, "look_ahead_refused");
    fill(&mut window, "Least germination, A", " ");
    window.key_press(Key::Enter);
    window.run();
    let again: Vec<_> = window
        .get_all_by_role_and_label(Role::Button, "As this season")
        .collect();
    again[1].scroll_to_me();
    window.run();
    let again: Vec<_> = window
        .get_all_by_role_and_label(Role::Button, "As this season")
        .collect();
    again[1].click();
    window.run();
    assert!(!says(&window, "cannot be kept"));
    set(&mut window, "Replicates", "10");
    set(&mut window, "Seasons", "1");
    begin(&mut window);
    wait(&mut window);
    assert!(says(&window, "the best 54 are kept"), "plan A without a cutoff");
}

#[test]
fn a_season_without_counts_says_what_to_do_first() {
    let mut document = Document::new(Project::new(About::new("Empty", "EM")));
    let stamp = Stamp {
        at: jiff::civil::date(2026, 1, 1).at(8, 0, 0, 0),
        by: String::new(),
    };
    let command = Command::AddSeason {
        year: 2025,
        planted: None,
    };
    document.run(&command, &stamp).unwrap();
    let mut window = window(document, [1280.0, 800.0], Theme::Light);
    assert!(says(&window, "Score the test of this season first."));
    assert!(
        window
            .query_by_role_and_label(Role::Button, "Look ahead")
            .is_none()
    );
    shot(&mut window, "look_ahead_empty");
}

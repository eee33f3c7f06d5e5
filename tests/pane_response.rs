//! The part of Seasons that says what the seasons brought: plot, tables and sentences.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod common;

use common::{harness, says, shot};
use egui::{Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use wintercrib::demo;
use wintercrib::insight::Insight;
use wintercrib::model::{About, Command, Document, Project, Stamp};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

fn window(document: Document, size: [f32; 2], theme: Theme) -> Harness<'static, App> {
    let mut app = App::in_memory(document, || jiff::civil::date(2026, 6, 10).at(9, 0, 0, 0));
    app.show(Pane::Seasons);
    let mut window = harness(size, theme).build_eframe(|_| app);
    window.run();
    window
        .get_by_role_and_label(Role::RadioButton, "Response")
        .click();
    window.run();
    window
}

fn corvane() -> Document {
    Document::new(demo::make("corvane-flint").unwrap())
}

fn scroll_to(window: &mut Harness<'_, App>, label: &str) {
    window.get_by_label(label).scroll_to_me();
    window.run();
}

#[test]
fn the_seasons_are_drawn_tabled_and_said() {
    let document = corvane();
    let response = Insight::default().response(&document);
    for (theme, size, name) in [
        (Theme::Light, [1280.0, 800.0], "light"),
        (Theme::Dark, [1600.0, 1000.0], "dark"),
        (Theme::Dark, [860.0, 700.0], "narrow"),
    ] {
        let mut window = window(corvane(), size, theme);
        let picture = window.get_by_role(Role::Image);
        let told = picture.accesskit_node().label().unwrap();
        assert_eq!(told, response.plot_text());
        for sentence in response
            .sentences()
            .into_iter()
            .chain(response.realised_sentences())
            .chain(response.lot_sentences())
            .chain(response.drift_sentences())
            .chain(response.assumptions())
        {
            assert!(says(&window, &sentence), "{sentence}");
        }
        for line in response.lines() {
            for text in [line.year.to_string(), line.counted, line.beside, line.selected] {
                assert!(text.is_empty() || says(&window, &text), "{text}");
            }
        }
        shot(&mut window, &format!("response_top_{name}"));
        scroll_to(&mut window, "What of the selection was realised");
        shot(&mut window, &format!("response_realised_{name}"));
        scroll_to(&mut window, "What came along");
        assert!(says(&window, "⚠ no, came along"));
        shot(&mut window, &format!("response_drift_{name}"));
        scroll_to(&mut window, "How this is reckoned");
        shot(&mut window, &format!("response_words_{name}"));
    }
}

#[test]
fn without_two_seasons_it_says_what_to_do() {
    let mut empty = Document::new(Project::new(About::new("Small Patch", "patch")));
    let mut window_of_none = window(empty.clone(), [1280.0, 800.0], Theme::Light);
    assert!(says(&window_of_none, "No season is scored yet"));
    assert!(says(
        &window_of_none,
        "put the same check lot into the trays of each"
    ));
    shot(&mut window_of_none, "response_empty");
    let stamp = Stamp {
        at: jiff::civil::date(2026, 6, 1).at(8, 0, 0, 0),
        by: String::new(),
    };
    let begin = Command::AddSeason {
        year: 2026,
        planted: None,
    };
    empty.run(&begin, &stamp).unwrap();
    let window_of_one = window(empty, [1280.0, 800.0], Theme::Dark);
    assert!(says(&window_of_one, "No season is scored yet"));
    let one = Document::new(demo::make("pocket-starter").unwrap());
    let mut window_of_one = window(one, [1280.0, 800.0], Theme::Dark);
    assert!(says(&window_of_one, "Only 2025 is scored."));
    assert!(window_of_one.query_by_role(Role::Image).is_none());
    shot(&mut window_of_one, "response_one_season");
}

#[test]
fn seasons_without_a_common_check_are_told_apart() {
    let mut document = Document::new(demo::sized(60, 3, 7).unwrap());
    let stamp = Stamp {
        at: jiff::civil::date(2026, 6, 1).at(8, 0, 0, 0),
        by: String::new(),
    };
    let test = document.project().tests.iter().last().unwrap().clone();
    let rename = Command::EditTest {
        test: test.id,
        name: test.name.clone(),
        recipe: test.recipe.clone(),
        check_lot: "another lot".to_owned(),
    };
    document.run(&rename, &stamp).unwrap();
    let mut window = window(document, [1280.0, 800.0], Theme::Light);
    assert!(says(&window, "No common check links 2024 with 2025"));
    assert!(says(&window, "no common check"));
    shot(&mut window, "response_gap");
}

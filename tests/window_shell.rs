//! What surrounds the panes: menus, season switch, side, dialogs, foot.

#![expect(clippy::unwrap_used, reason = "a helper fails its test by panicking")]

mod common;

use egui::accesskit::Role;
use egui::{Key, Modifiers, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use jiff::civil::date;
use wintercrib::insight::Insight;
use wintercrib::model::{
    About, Command, Cutoffs, Document, EarDraft, Existing, ListDraft, Pass, Project, Recipe, SeasonId, Seen,
    Stamp, Tally, TestDesign, TestId, TrayPlan,
};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

fn stamp() -> Stamp {
    Stamp {
        at: date(2026, 12, 20).at(19, 0, 0, 0),
        by: "Grower A".to_owned(),
    }
}

/// 24 ears of 6 rows in one tray, all scored.
fn scored() -> Document {
    let mut document = Document::new(Project::new(About::new("DEMO maize", "shell")));
    let mut run = |command| document.run(&command, &stamp()).unwrap();
    run(Command::AddSeason {
        year: 2026,
        planted: Some(date(2026, 5, 10)),
    });
    let draft = |number: u32| EarDraft {
        number: Some(number),
        row: Some((number % 6 + 1).to_string()),
        kernels: Some(200),
        maturity_days: Some(80 + (number * 7 % 25) as u16),
        location: Some(format!("box 1, slot {number}")),
        ..EarDraft::default()
    };
    let drafts = (1..=24).map(draft).collect();
    run(Command::AddEars {
        season: SeasonId(1),
        drafts,
        existing: Existing::Refuse,
    });
    run(Command::DesignTest(TestDesign {
        season: SeasonId(1),
        replaces: None,
        name: "Cold test".to_owned(),
        plan: TrayPlan::default(),
        recipe: Recipe::default(),
        check_lot: "Bulk".to_owned(),
        seed: 3,
        ears: None,
    }));
    run(Command::LayTest {
        trays: Vec::new(),
        test: TestId(1),
        on: date(2026, 12, 1),
    });
    let cells: Vec<_> = document
        .project()
        .cells
        .iter()
        .filter(|cell| cell.content.is_counted())
        .map(|cell| cell.id)
        .collect();
    let counts = cells
        .iter()
        .zip([10, 9, 7, 8, 4, 10, 6, 9, 8, 3, 10, 9].iter().cycle())
        .map(|(cell, strong)| Seen {
            vigor: Some(6),
            ..Seen::new(
                *cell,
                Pass::Final,
                Tally {
                    strong: *strong,
                    dead: 10 - strong,
                    ..Tally::default()
                },
            )
        })
        .collect();
    document
        .run(
            &Command::RecordCounts {
                counts,
                on: None,
                by: "Helper B".to_owned(),
            },
            &stamp(),
        )
        .unwrap();
    document
}

fn window(document: Document, size: [f32; 2], theme: Theme) -> Harness<'static, App> {
    common::harness(size, theme).build_eframe(move |_creation| {
        App::in_memory(document, || date(2026, 12, 20).at(19, 0, 0, 0)).with_person("Grower A")
    })
}

/// Two planting lists of the scored season, the second a revision.
fn frozen() -> Document {
    let mut document = scored();
    for reason in ["", "ear 3 was mouldy"] {
        let cutoffs = Cutoffs::default();
        let proposal = Insight::default().list_draft(&document, SeasonId(1), &cutoffs);
        let draft = ListDraft {
            season: SeasonId(1),
            by: "Grower A".to_owned(),
            reason: reason.to_owned(),
            cutoffs,
            entries: proposal
                .entries
                .iter()
                .skip(usize::from(!reason.is_empty()))
                .cloned()
                .collect(),
            reserves: Vec::new(),
        };
        document.run(&Command::Freeze(draft), &stamp()).unwrap();
    }
    document
}

#[test]
fn the_panes_are_reached_by_keys_and_look_right() {
    for (theme, name) in [(Theme::Light, "light"), (Theme::Dark, "dark")] {
        for size in [[1280.0, 800.0], [1920.0, 1080.0]] {
            for scale in [1.0, 1.5] {
                let document = frozen();
                let mut window = common::harness([size[0] / scale, size[1] / scale], theme)
                    .with_pixels_per_point(scale)
                    .build_eframe(move |_creation| {
                        App::in_memory(document, || date(2026, 12, 20).at(19, 0, 0, 0))
                            .with_person("Grower A")
                    });
                window.run();
                for (key, pane, shows) in [
                    (Key::Num5, "planting", "Planting list 2, season 2026"),
                    (Key::Num6, "seasons", "Begin a season"),
                ] {
                    window.key_press_modifiers(Modifiers::COMMAND, key);
                    window.run();
                    assert!(window.query_by_label(shows).is_some(), "{pane}");
                    common::shot(&mut window, &format!("shell_{pane}_{name}_{}_{scale}", size[0]));
                }
            }
        }
    }
}

#[test]
fn a_number_found_opens_the_card_of_that_ear() {
    let mut window = window(scored(), [1280.0, 800.0], Theme::Light);
    window.run();
    window.key_press_modifiers(Modifiers::COMMAND, Key::F);
    window.run();
    window
        .get_by_role_and_label(
            Role::TextInput,
            "Ear number or code, packet place, row, or cell such as 3 B4",
        )
        .type_text("17");
    window.run();
    common::shot(&mut window, "shell_find");
    window.key_press(Key::Enter);
    window.run();
    let ear = window
        .state()
        .document()
        .project()
        .ear_numbered(SeasonId(1), 17)
        .unwrap()
        .id;
    assert_eq!(window.state().chosen(), [ear]);
    assert!(window.query_by_label("Ear 17").is_some());
    common::shot(&mut window, "shell_card");
}

#[test]
fn things_to_do_lead_to_their_places() {
    let mut window = window(scored(), [1280.0, 800.0], Theme::Dark);
    window.run();
    window.key_press(Key::F9);
    window.run();
    common::shot(&mut window, "shell_todo");
}

#[test]
fn a_list_is_frozen_with_a_name_and_revised_with_a_reason() {
    let mut window = window(scored(), [1280.0, 800.0], Theme::Light);
    window.state_mut().show(Pane::Selection);
    window.run();
    common::shot(&mut window, "shell_before_freeze");
    window.get_by_label_contains("Freeze the planting list").click();
    window.run();
    common::shot(&mut window, "shell_freeze");
    window.get_by_label("Freeze").click();
    window.run();
    let list = window
        .state()
        .document()
        .project()
        .list_in_force(SeasonId(1))
        .cloned()
        .expect("a list was frozen");
    assert_eq!(list.frozen_by, "Grower A");
    assert!(
        window
            .query_by_label_contains("Planting list 1 is frozen")
            .is_some()
    );
    common::shot(&mut window, "shell_frozen");
    window.get_by_label("Freeze a revision…").click();
    window.run();
    window.get_by_label("Freeze").click();
    window.run();
    assert_eq!(
        window.state().document().project().lists.len(),
        1,
        "without a reason nothing is replaced"
    );
    let why = "Why it replaces the list before it";
    window.get_by_role_and_label(Role::TextInput, why).focus();
    window.run();
    window
        .get_by_role_and_label(Role::TextInput, why)
        .type_text("ear 3 was mouldy");
    window.run();
    window.get_by_label("Freeze").click();
    window.run();
    let second = window
        .state()
        .document()
        .project()
        .list_in_force(SeasonId(1))
        .cloned()
        .expect("a second list");
    assert_eq!((second.version, second.reason.as_str()), (2, "ear 3 was mouldy"));
    assert!(
        window
            .state()
            .document()
            .project()
            .lists
            .iter()
            .any(|kept| *kept == list)
    );
}

#[test]
fn help_shows_keys_and_cautions() {
    let mut window = window(scored(), [1280.0, 800.0], Theme::Light);
    window.run();
    window.key_press(Key::F1);
    window.run();
    assert!(window.query_by_label_contains("Never taste seed corn").is_some());
    common::shot(&mut window, "shell_help");
    window.key_press(Key::Escape);
    window.run();
    assert!(window.query_by_label_contains("Never taste seed corn").is_none());
}

#[test]
fn the_facts_of_the_project_can_be_changed_and_undone() {
    let mut window = window(scored(), [1280.0, 800.0], Theme::Light);
    window.run();
    window.get_by_label("Working: Grower A").click();
    window.run();
    common::shot(&mut window, "shell_facts");
    window.get_by_label("centimetres").click();
    window.get_by_label("Keep").click();
    window.run();
    let units = |window: &Harness<'_, App>| window.state().document().project().about.units;
    assert_eq!(units(&window).length, wintercrib::model::LengthUnit::Centimetres);
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    window.run();
    assert_eq!(units(&window).length, wintercrib::model::LengthUnit::Inches);
}

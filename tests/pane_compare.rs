//! Another grower's project through the window: beside ours, and the line of one of its ears brought over.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod common;
mod tray_sample;

use common::{fill, press, says};
use egui::{Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use std::path::PathBuf;
use tray_sample::{LOOKS, harvest, now, stamp};
use wintercrib::model::*;
use wintercrib::store::format;
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;
use wintercrib::ui::user_actions::UserAction;
use wintercrib::ui::widgets::path_prompt::{PathAnswer, ScriptedPathPrompt};

/// Two seasons of a neighbour: the second season's ears grew from the first ear of the first.
fn theirs() -> Document {
    let mut document = Document::new(Project::new(About {
        restrictions: "not to be sold".to_owned(),
        ..About::new("North Barn", "north")
    }));
    let mut run = |command: Command| document.run(&command, &stamp()).map(drop).unwrap();
    for (season, year) in [(1, 2025), (2, 2026)] {
        let season = SeasonId(season);
        run(Command::AddSeason { year, planted: None });
        if season.0 == 2 {
            run(Command::AddRow {
                season,
                label: "1".to_owned(),
                source: RowSource::Ear(EarId(1)),
            });
        }
        let draft = EarDraft {
            row: Some("1".to_owned()),
            kernels: Some(90),
            maturity_days: Some(98),
            ..EarDraft::default()
        };
        run(Command::AddEars {
            season,
            drafts: vec![draft; 4],
            existing: Existing::Refuse,
        });
    }
    document
}

struct Bench {
    harness: Harness<'static, App>,
    folder: tempfile::TempDir,
}

impl Bench {
    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }
}

/// A window on twelve ears of 2026 where 'Compare with another project' opens this text.
fn bench(other: &str, theme: Theme, size: [f32; 2], scale: f32) -> Bench {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("theirs.ron");
    std::io::Write::write_all(&mut std::fs::File::create(&path).unwrap(), other.as_bytes()).unwrap();
    let mut app =
        App::in_memory(harvest(12), now).with_prompt(ScriptedPathPrompt::new([PathAnswer::Chosen(path)]));
    app.show(Pane::Seasons);
    let mut harness = common::harness([size[0] / scale, size[1] / scale], theme)
        .with_pixels_per_point(scale)
        .build_eframe(|_| app);
    harness.run();
    let ctx = harness.ctx.clone();
    harness.state_mut().perform(&ctx, UserAction::Neighbour);
    harness.run();
    Bench { harness, folder }
}

fn written() -> String {
    format::write(theirs().project()).unwrap()
}

#[test]
fn a_neighbour_stands_beside_ours_and_a_line_is_brought_after_a_look() {
    let mut bench = bench(&written(), Theme::Light, [1280.0, 1000.0], 1.0);
    let harness = &mut bench.harness;
    assert!(says(harness, "North Barn beside this project"));
    assert!(says(harness, "1 season in common: 2026."));
    assert!(says(harness, "Rules that came with their seed: not to be sold."));
    assert!(says(harness, "No difference is claimed"));
    let can = |harness: &Harness<'_, App>| {
        let button = harness.get_by_role_and_label(Role::Button, "Bring the line");
        !button.accesskit_node().is_disabled()
    };
    assert!(!can(harness));
    let code = theirs().project().ears.get(EarId(6)).unwrap().code.to_string();
    fill(harness, "Ear code", &code[..code.len() - 1]);
    assert!(says(harness, "is not an ear code"));
    assert!(!can(harness));
    fill(harness, "Ear code", &code);
    fill(harness, "Kernels that came", "35");
    assert!(says(harness, "becomes ear 13 of 2026 here and keeps its code"));
    assert!(says(harness, "Season 2025 is added, closed"));
    assert!(can(harness));
    let before = harness.state().document().project().clone();
    press(harness, "Bring the line");
    let project = harness.state().document().project();
    let ear = project.ear_coded(code.parse().unwrap()).unwrap();
    assert_eq!(project.kernels_of(ear.id), Some(35));
    assert_eq!(project.ears.len(), before.ears.len() + 2);
    assert!(says(harness, "Done: Bring"));
    // One step back and all is as it was.
    harness.key_press_modifiers(egui::Modifiers::COMMAND, egui::Key::Z);
    harness.run();
    assert_eq!(*harness.state().document().project(), before);
}

#[test]
fn a_file_that_is_no_sound_project_is_refused_with_a_sentence() {
    let broken = written().replacen("row: Some(1)", "row: Some(99)", 1);
    for (text, said) in [
        ("[[[[", "theirs.ron cannot be shown."),
        (broken.as_str(), "It breaks a rule"),
    ] {
        let bench = bench(text, Theme::Light, [1280.0, 800.0], 1.0);
        assert!(says(&bench.harness, said), "{text}");
        assert!(bench.harness.query_by_label("Bring the line").is_none());
        assert_eq!(bench.harness.state().document().project().ears.len(), 12);
        assert_eq!(std::fs::read_to_string(bench.path("theirs.ron")).unwrap(), text);
    }
}

#[test]
fn looks() {
    for (name, size, scale) in LOOKS {
        for theme in [Theme::Light, Theme::Dark] {
            let mut bench = bench(&written(), theme, size, scale);
            let code = theirs().project().ears.get(EarId(6)).unwrap().code.to_string();
            fill(&mut bench.harness, "Ear code", &code);
            common::shot(&mut bench.harness, &format!("compare-{name}-{theme:?}"));
        }
    }
}

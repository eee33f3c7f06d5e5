//! The plot saved as a picture from the window.

use crate::common::{harness, press, says, shot};
use crate::{SEASON, cutoffs, essel, open, stamp};
use egui::{Event, Key, Modifiers, PointerButton, Pos2, Theme, pos2, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use resvg::usvg::roxmltree::Document as Xml;
use std::path::Path;
use wintercrib::insight::Insight;
use wintercrib::model::Stand;
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;
use wintercrib::ui::widgets::path_prompt::{PathAnswer, ScriptedPathPrompt};

/// Selection in a window that writes the files that are asked for to these places.
fn window(files: &[&Path], size: [f32; 2], theme: Theme) -> Harness<'static, App> {
    let answers: Vec<PathAnswer> = files
        .iter()
        .map(|file| PathAnswer::Chosen(file.to_path_buf()))
        .collect();
    let mut harness = harness(size, theme).build_eframe(move |_| {
        let mut app = App::in_memory(essel(), || stamp().at).with_prompt(ScriptedPathPrompt::new(answers));
        app.show(Pane::Selection);
        app
    });
    harness.run();
    harness
}

fn drag(harness: &mut Harness<'_, App>, from: Pos2, to: Pos2) {
    let button = |pos, pressed| Event::PointerButton {
        pos,
        button: PointerButton::Primary,
        pressed,
        modifiers: Modifiers::NONE,
    };
    harness.event(Event::PointerMoved(from));
    harness.step();
    harness.event(button(from, true));
    harness.step();
    harness.event(Event::PointerMoved(to));
    harness.step();
    harness.event(button(to, false));
    harness.run();
}

fn save(harness: &mut Harness<'_, App>, form: &str, file: &Path) -> Vec<u8> {
    press(harness, "Picture");
    press(harness, form);
    assert!(says(harness, "Written: "));
    std::fs::read(file).expect("the picture is there")
}

#[test]
fn what_moves_with_the_cutoff_is_saved_beside_it() {
    let folder = tempfile::tempdir().expect("there is room");
    for (switch, button, name) in [
        ("How it moves", "Picture of the curve", "curve.svg"),
        ("Kernels: equal", "Picture of the frontier", "frontier.svg"),
    ] {
        let file = folder.path().join(name);
        let mut harness = window(&[&file], [1600.0, 1000.0], Theme::Light);
        for label in [switch, button] {
            harness.get_by_label_contains(label).scroll_to_me();
            harness.run();
            harness.get_by_label_contains(label).click();
            harness.run();
        }
        shot(&mut harness, &format!("picture_of_{name}"));
        press(&mut harness, "Save as SVG…");
        assert!(says(&harness, "Written: "), "{name}");
        let text = std::fs::read_to_string(&file).expect("the picture is there");
        Xml::parse(&text).expect("it is well-formed");
    }
}

/// How many ears are drawn, and which are named.
fn read(svg: &[u8]) -> (usize, Vec<String>) {
    let text = std::str::from_utf8(svg).expect("SVG is text");
    let xml = Xml::parse(text).expect("it is well-formed");
    let with_id = |start: &str| {
        let ids = xml.descendants().filter_map(|node| node.attribute("id"));
        ids.filter(|id| id.starts_with(start)).count()
    };
    let labels = xml
        .descendants()
        .find(|node| node.attribute("id") == Some("labels"));
    let texts = labels
        .into_iter()
        .flat_map(|labels| labels.descendants().collect::<Vec<_>>());
    let named = texts.filter(|node| node.has_tag_name("text"));
    (
        with_id("ear-"),
        named.filter_map(|node| node.text()).map(str::to_owned).collect(),
    )
}

#[test]
fn each_form_is_written_with_the_chosen_ears_named() {
    let folder = tempfile::tempdir().expect("there is room");
    let files = ["p.svg", "p.png", "p.pdf"].map(|name| folder.path().join(name));
    let mut harness = window(
        &files.each_ref().map(std::path::PathBuf::as_path),
        [1280.0, 800.0],
        Theme::Light,
    );
    harness.key_press(Key::N);
    harness.run();
    let set = cutoffs(harness.state().document());
    let choice = Insight::default().choice(harness.state().document(), SEASON, &set);
    let chosen = harness.state().chosen().to_vec();
    let number = choice.of(chosen[0]).expect("it is of this season").number;
    let svg = save(&mut harness, "Save as SVG…", &files[0]);
    assert_eq!(read(&svg), (choice.standings.len(), vec![number.to_string()]));
    assert!(save(&mut harness, "Save as PNG…", &files[1]).starts_with(b"\x89PNG"));
    assert!(save(&mut harness, "Save as PDF…", &files[2]).starts_with(b"%PDF"));
}

#[test]
fn what_is_seen_is_saved_or_all_of_it_when_that_is_asked() {
    let folder = tempfile::tempdir().expect("there is room");
    let files = ["seen.svg", "all.svg"].map(|name| folder.path().join(name));
    let mut harness = window(
        &files.each_ref().map(std::path::PathBuf::as_path),
        [1280.0, 800.0],
        Theme::Dark,
    );
    let set = cutoffs(harness.state().document());
    let choice = Insight::default().choice(harness.state().document(), SEASON, &set);
    let left_out = choice
        .standings
        .iter()
        .filter(|one| one.stand == Stand::LeaveOut)
        .count();
    let all = choice.standings.len();
    harness.get_by_label(&format!("leave out {left_out}")).click();
    harness.run();
    let middle = pos2(350.0, 600.0);
    drag(&mut harness, middle, middle - vec2(200.0, 0.0));
    shot(&mut harness, "picture_moved");
    press(&mut harness, "Picture");
    shot(&mut harness, "picture_menu");
    press(&mut harness, "Save as SVG…");
    let (seen, _) = read(&std::fs::read(&files[0]).expect("the picture is there"));
    press(&mut harness, "Picture");
    harness.get_by_label("All ears").click();
    harness.run();
    press(&mut harness, "Save as SVG…");
    let (whole, _) = read(&std::fs::read(&files[1]).expect("the picture is there"));
    assert_eq!(whole, all - left_out, "ears that are faded are left out");
    assert!(seen > 0 && seen < whole, "{seen} of {whole}");
}

#[test]
fn no_picture_names_ears_whose_names_are_hidden() {
    let mut harness = crate::window(essel(), [1600.0, 1000.0], Theme::Light, "Sets: 0");
    harness
        .get_by_label("Hide the names of ears while cutting")
        .click();
    harness.run();
    shot(&mut harness, "picture_hidden");
    assert!(harness.query_by_label("Save as SVG…").is_none());
    harness.get_by_label("Picture").click();
    harness.run();
    assert!(harness.query_by_label("Save as SVG…").is_none());
    drop(harness);
    // The check of the check: with names in sight the menu opens.
    let mut harness = open(essel(), [1600.0, 1000.0], Theme::Light);
    press(&mut harness, "Picture");
    assert!(harness.query_by_label("Save as SVG…").is_some());
}

#[test]
fn the_table_is_saved_as_it_is_shown() {
    let folder = tempfile::tempdir().expect("there is room");
    let file = folder.path().join("selection.csv");
    let mut harness = window(&[&file], [1280.0, 800.0], Theme::Light);
    // Sorted by the likely percent, the largest first.
    press(&mut harness, "Likely");
    press(&mut harness, "Likely ▲");
    press(&mut harness, "Picture");
    shot(&mut harness, "picture_menu_with_table");
    press(&mut harness, "Save the table as CSV…");
    assert!(says(&harness, "Written: "));
    let text = std::fs::read_to_string(&file).expect("the table is there");
    let mut lines = csv::Reader::from_reader(text.as_bytes());
    let column = lines
        .headers()
        .expect("a header")
        .iter()
        .position(|title| title == "likely %");
    let likely: Vec<f64> = lines
        .records()
        .filter_map(|line| line.expect("a line").get(column.expect("a column"))?.parse().ok())
        .collect();
    assert!(likely.len() > 100, "{}", likely.len());
    assert!(likely.is_sorted_by(|one, next| one >= next), "{likely:?}");
    assert_eq!(text.lines().count(), 241);
}

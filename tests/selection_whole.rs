//! What the window shows while a cutoff moves is what `summary --json` says for the same cutoff: every big figure,
//! every figure beside it, every sentence of the price, what each cutoff leaves out, every row of the table in sight.

#![expect(clippy::unwrap_used, reason = "a helper fails its test by panicking")]

mod common;

use std::process::Command as Process;

use egui::accesskit::Role;
use egui::{Event, Modifiers, PointerButton, Pos2, Theme, vec2};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use jiff::civil::datetime;
use serde_json::Value;
use wintercrib::demo;
use wintercrib::insight;
use wintercrib::model::{Document, SeasonId, sentence};
use wintercrib::store::project_file;
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

const LINE: &str = "Least cold germination";

/// What the program says of the project in the window, in a process of its own.
fn summary(harness: &Harness<'_, App>) -> Value {
    let folder = tempfile::tempdir().unwrap();
    let project = harness.state().document().project();
    project_file::create(&folder.path().join("p.ron"), project.clone(), "Test").unwrap();
    let ran = Process::new(env!("CARGO_BIN_EXE_wintercrib"))
        .current_dir(folder.path())
        .args(["summary", "p.ron", "--json"])
        .output()
        .unwrap();
    assert_eq!(ran.status.code(), Some(0), "{ran:?}");
    serde_json::from_slice(&ran.stdout).unwrap()
}

/// All texts that are in the window: what is written, and what a screen reader is told.
struct Shown(Vec<String>);

impl Shown {
    fn of(harness: &Harness<'_, App>) -> Self {
        let labels = harness.query_all(egui_kittest::kittest::by());
        let said = |node: egui_kittest::Node<'_>| {
            let node = node.accesskit_node();
            [node.label(), node.value()]
        };
        Self(labels.flat_map(said).flatten().collect())
    }

    fn is(&self, text: &str) {
        assert!(self.0.iter().any(|shown| shown == text), "'{text}' is not shown");
    }
}

fn number(value: &Value) -> f64 {
    value.as_f64().unwrap()
}

/// `83 %, all 68 %` of two keys.
fn beside(choice: &Value, figure: &str, decimals: usize, unit: &str) -> String {
    let write = |which: &str| {
        format!(
            "{:.decimals$}{unit}",
            number(&choice[format!("{which}_{figure}")])
        )
    };
    format!("{}, all {}", write("kept"), write("all"))
}

fn texts(list: &Value) -> impl Iterator<Item = &str> {
    list.as_array().unwrap().iter().map(|text| text.as_str().unwrap())
}

/// Compares everything that stands in sight, and gives how many ears are kept.
fn agree(harness: &Harness<'_, App>) -> (u64, f64) {
    let page = summary(harness);
    let (shown, choice, price) = (Shown::of(harness), &page["choice"], &page["price"]);
    let cutoff = number(&page["cutoffs"]["cold_germination_at_least_percent"]);
    let slider = harness.get_by_role_and_label(Role::Slider, LINE);
    assert_eq!(slider.accesskit_node().numeric_value(), Some(cutoff));

    shown.is(choice["sentence"].as_str().unwrap());
    for (figure, caption) in [
        (
            choice["plant_ears"].to_string(),
            format!("of {} ears kept", choice["ears"]),
        ),
        (
            choice["mothers_kept"].to_string(),
            format!("of {} mothers kept", choice["mothers"]),
        ),
        (
            format!("{:.1}", number(&choice["effective_mothers"])),
            "effective mothers".to_owned(),
        ),
        (
            format!("{:.1}", number(&choice["kept_expected_below_cutoff_ears"])),
            format!("of them likely below {cutoff} %"),
        ),
    ] {
        shown.is(&figure);
        shown.is(&caption);
    }
    shown.is(&beside(choice, "cold_germination_likely_percent", 0, " %"));
    shown.is(&beside(choice, "cold_germination_observed_percent", 0, " %"));
    shown.is(&beside(choice, "maturity_days", 1, ""));
    texts(&choice["remarks"]).for_each(|remark| shown.is(remark));
    for (stand, name) in [
        ("plant", "plant"),
        ("retest", "retest"),
        ("leave_out", "leave out"),
    ] {
        let count = &choice[format!("{stand}_ears")];
        let legend = format!("{name} {count}");
        assert!(
            shown.0.iter().any(|label| label.starts_with(&legend)),
            "the legend has no '{legend}'"
        );
    }

    let buys = texts(&price["it_buys"]).chain(texts(&price["it_costs"]));
    buys.chain(texts(&price["taken_for_granted"]))
        .for_each(|said| shown.is(said));
    let shifts = price["traits"].as_array().unwrap();
    assert!(!shifts.is_empty());
    for shift in shifts {
        shown.is(shift["sentence"].as_str().unwrap());
    }
    texts(&choice["each_cutoff_alone"]).for_each(|said| shown.is(&sentence(said)));

    let rows: Vec<&String> = shown
        .0
        .iter()
        .filter(|label| label.starts_with("Row of ear "))
        .collect();
    assert!(rows.len() > 8, "{} rows are in sight", rows.len());
    for row in rows {
        let number = row["Row of ear ".len()..].split(':').next().unwrap();
        let ear = page["ears"].as_array().unwrap().iter();
        let ear = ear
            .clone()
            .find(|ear| ear["ear_number"].as_u64() == number.parse().ok())
            .unwrap();
        let said = match (&ear["germinated_kernels"], &ear["counted_kernels"]) {
            (Value::Null, _) => "Not scored".to_owned(),
            (germinated, counted) => format!(
                "{germinated} of {counted} germinated: {:.0} %",
                ear["cold_germination_observed_percent"].as_f64().unwrap()
            ),
        };
        assert!(row.contains(&said), "{row} does not say {said}");
        if let Some(likely) = ear["cold_germination_likely_percent"].as_f64() {
            assert!(row.contains(&format!("likely {likely:.0} %")), "{row}: {likely}");
        }
        // A word of the grower's own stands in place of where the ear stands.
        let word = ear["why"][0]
            .as_str()
            .and_then(|why| why.strip_prefix("You said '"));
        let stand = word
            .and_then(|word| word.split('\'').next())
            .or(ear["stand"].as_str())
            .unwrap();
        assert!(
            row.contains(&format!(": {stand};")),
            "{row} does not stand at {stand}"
        );
        let days = match &ear["maturity_days"] {
            Value::Null => "no maturity days".to_owned(),
            days => format!("{days} maturity days"),
        };
        assert!(row.contains(&days), "{row} does not say {days}");
    }
    (choice["plant_ears"].as_u64().unwrap(), cutoff)
}

fn drag(harness: &mut Harness<'_, App>, from: Pos2, to: Pos2) {
    let button = |pos, pressed| Event::PointerButton {
        pos,
        button: PointerButton::Primary,
        pressed,
        modifiers: Modifiers::NONE,
    };
    for event in [
        Event::PointerMoved(from),
        button(from, true),
        Event::PointerMoved(from.lerp(to, 0.4)),
        Event::PointerMoved(to),
        button(to, false),
    ] {
        harness.event(event);
        harness.run();
    }
}

#[test]
fn every_figure_of_a_dragged_cutoff_is_the_one_of_the_summary() {
    let mut harness = common::harness([1700.0, 2600.0], Theme::Light).build_eframe(|_| {
        let document = Document::new(demo::make("essel-thaw").unwrap());
        let mut app = App::in_memory(document, || datetime(2026, 12, 16, 9, 0, 0, 0));
        app.show(Pane::Selection);
        app
    });
    harness.run();
    for part in ["Costs and buys", "All cutoffs"] {
        harness.get_by_label_contains(part).click();
        harness.run();
    }
    let (mut kept, mut cutoff) = agree(&harness);
    for down in [90.0, -330.0, 61.0, 40.0] {
        let line = harness.get_by_role_and_label(Role::Slider, LINE).rect().center();
        drag(&mut harness, line, line + vec2(0.0, down));
        let (kept_now, cutoff_now) = agree(&harness);
        assert!(
            (cutoff_now < cutoff) == (down > 0.0) && (kept_now > kept) == (down > 0.0),
            "{cutoff} keeps {kept}, {cutoff_now} keeps {kept_now}"
        );
        (kept, cutoff) = (kept_now, cutoff_now);
    }
    common::shot(&mut harness, "selection_whole");
}

/// The first use by someone new: the plot, a cutoff, at most so many ears of a mother, the freeze; and the list as
/// another program checks it.
#[test]
fn a_capped_choice_is_frozen_and_another_program_confirms_its_digest() {
    let mut harness = common::harness([1280.0, 800.0], Theme::Light).build_eframe(|_| {
        let document = Document::new(demo::make("essel-thaw").unwrap());
        App::in_memory(document, || datetime(2026, 12, 16, 9, 0, 0, 0))
    });
    harness.run();
    common::shot(&mut harness, "first_use_1_opened");
    harness.key_press_modifiers(Modifiers::COMMAND, egui::Key::Num4);
    harness.run();
    common::shot(&mut harness, "first_use_2_selection");

    common::fill(&mut harness, "Cold germination at least", "62");
    harness.key_press(egui::Key::Enter);
    harness.run();
    common::fill(&mut harness, "Ears of one mother at most", " ");
    harness.key_press(egui::Key::Enter);
    harness.run();
    let of_ninth = |page: &Value| {
        let ears = page["ears"].as_array().unwrap().iter();
        ears.filter(|ear| ear["mother_row"] == "9" && ear["stand"] == "plant")
            .count()
    };
    let free = of_ninth(&summary(&harness));
    common::fill(&mut harness, "Ears of one mother at most", "3");
    harness.key_press(egui::Key::Enter);
    harness.run();
    let page = summary(&harness);
    let capped = of_ninth(&page);
    assert!(
        free > 3 && capped == 3,
        "{free} of mother row 9 without a cap, {capped} with one of 3"
    );
    let cap =
        texts(&page["choice"]["each_cutoff_alone"]).find(|said| said.starts_with("at most 3 ears of one"));
    assert!(cap.is_some(), "{}", page["choice"]);
    common::shot(&mut harness, "first_use_3_capped");

    common::press(&mut harness, "Freeze the planting list…");
    common::fill(&mut harness, "Frozen by", "Grower A");
    common::shot(&mut harness, "first_use_4_freeze");
    common::press(&mut harness, "Freeze");
    common::shot(&mut harness, "first_use_5_frozen");
    harness.key_press_modifiers(Modifiers::COMMAND, egui::Key::Num5);
    harness.run();
    common::shot(&mut harness, "first_use_6_list");

    // The list reserves its kernels until they are planted, and takes them out of the packets once.
    let reserved = |harness: &Harness<'_, App>| {
        let project = harness.state().document().project();
        let list = project.lists.iter().next_back().unwrap();
        let stock = list.entries.iter().map(|entry| project.stock_of(entry.ear));
        let (reserved, on_hand) = stock.fold((0, 0), |(reserved, on_hand), one| {
            (
                reserved + u64::from(one.reserved),
                on_hand + one.on_hand.unwrap_or(0),
            )
        });
        (reserved, on_hand, list.kernels())
    };
    let (before, on_hand, kernels) = reserved(&harness);
    assert_eq!(before, kernels);
    assert!(common::says(
        &harness,
        &format!("{kernels} kernels are reserved in the packets")
    ));
    common::press(&mut harness, "Note all as planted");
    assert!(common::says(&harness, "All of it is planted."));
    let (after, left, _) = reserved(&harness);
    // One packet of the list was never counted, so nothing is known to have left it.
    assert_eq!((after, on_hand - left), (0, kernels as i64 - 30));
    harness.key_press_modifiers(Modifiers::COMMAND, egui::Key::Z);
    harness.run();
    assert_eq!(reserved(&harness), (before, on_hand, kernels));

    let project = harness.state().document().project();
    let list = project.lists.iter().next_back().unwrap();
    let listed = list.entries.iter().filter(|entry| entry.mother == "9").count();
    assert_eq!(listed, 3, "mother row 9 on the list");
    let folder = tempfile::tempdir().unwrap();
    project_file::create(&folder.path().join("p.ron"), project.clone(), "Test").unwrap();
    let run = |program: &str, words: &[&str]| {
        let mut process = Process::new(program);
        process.current_dir(folder.path()).args(words).output()
    };
    let words = ["print", "p.ron", "planting-list", "--out", "list.txt"];
    let printed = run(env!("CARGO_BIN_EXE_wintercrib"), &words).unwrap();
    assert_eq!(printed.status.code(), Some(0), "{printed:?}");
    // The one is common on Linux, the other on macOS.
    match run("sha256sum", &["list.txt"]).or_else(|_| run("shasum", &["-a", "256", "list.txt"])) {
        Ok(outside) => {
            let said = String::from_utf8(outside.stdout).unwrap();
            assert_eq!(said, format!("{}  list.txt\n", list.digest));
        }
        Err(problem) => {
            let text = format!("NOT TESTED HERE: no program computes SHA-256: {problem}");
            assert!(std::env::var_os("CI").is_none(), "{text}");
            eprintln!("{text}");
        }
    }
}

/// Six ears of the demo were picked late, after frost: coloured by frost they are a group of their own, late and bad.
#[test]
fn the_frosted_late_ears_are_seen_as_such() {
    let mut harness = common::harness([1280.0, 800.0], Theme::Dark).build_eframe(|_| {
        let document = Document::new(demo::make("essel-thaw").unwrap());
        let mut app = App::in_memory(document, || datetime(2026, 12, 16, 9, 0, 0, 0));
        app.show(Pane::Selection);
        app
    });
    harness.run();
    harness.get_by_role_and_label(Role::ComboBox, "Colour by").click();
    harness.run();
    harness.get_by_label("frost").click();
    harness.run();
    let shown = Shown::of(&harness);
    shown.is("frosted 6");
    shown.is("not frosted 234");
    harness.get_by_role_and_label(Role::CheckBox, "frosted 6").click();
    harness.run();
    common::shot(&mut harness, "selection_frost");

    let page = summary(&harness);
    let project = harness.state().document().project();
    let frosted = |ear: &Value| {
        let number = ear["ear_number"].as_u64().unwrap() as u32;
        let ear = project.ear_numbered(SeasonId(1), number).unwrap();
        insight::is_frosted(project, ear) == Some(true)
    };
    let (late, others): (Vec<&Value>, Vec<&Value>) = page["ears"]
        .as_array()
        .unwrap()
        .iter()
        .partition(|ear| frosted(ear));
    let days = |ear: &&Value| ear["maturity_days"].as_u64().unwrap();
    assert!(late.iter().map(days).min().unwrap() >= 117);
    assert!(
        others.iter().filter(|ear| days(ear) >= 117).count() < 4,
        "few others are so late"
    );
    let percents: Vec<f64> = late
        .iter()
        .filter_map(|ear| ear["cold_germination_observed_percent"].as_f64())
        .collect();
    assert!(
        !percents.is_empty() && percents.iter().all(|percent| *percent <= 50.0),
        "{percents:?}"
    );
}

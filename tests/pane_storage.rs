//! Seed in store through the window: places, moving packets, what is to be tested again and grown anew.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod common;
mod tray_sample;

use common::{fill, press, says};
use egui::{Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use jiff::civil::date;
use tray_sample::{harvest, stamp, window};
use wintercrib::insight::Insight;
use wintercrib::model::*;
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

/// Three invented seasons with lists, and a cellar in which nothing lies yet.
fn three_seasons() -> Document {
    let mut document = Document::new(wintercrib::demo::sized(60, 3, 5).unwrap());
    for (name, celsius, humidity) in [("Cellar", 7.0, Some(45.0)), ("Attic", 24.0, Some(60.0))] {
        let add = Command::AddStore(StorePlace {
            id: StoreId(0),
            name: name.to_owned(),
            temperature_c: Some(celsius),
            humidity_percent: humidity,
            note: String::new(),
        });
        document.run(&add, &stamp()).unwrap();
    }
    document
}

fn at_storage(document: Document, theme: Theme, size: [f32; 2]) -> Harness<'static, App> {
    let mut harness = window(document, Pane::Seasons, theme, size, 1.0);
    harness.get_by_label("Storage").click();
    harness.run();
    harness
}

fn put_all(document: &mut Document, store: u32) {
    let packets = document.project().packets.iter().map(|one| one.id).collect();
    let put = Command::StorePackets {
        packets,
        store: Some(StoreId(store)),
    };
    document.run(&put, &stamp()).unwrap();
}

#[test]
fn places_are_added_changed_and_filled() {
    let document = harvest(24);
    let packets = document.project().packets.len();
    let mut harness = at_storage(document, Theme::Light, [1280.0, 2400.0]);
    assert!(says(&harness, "No place is noted yet."));
    press(&mut harness, "Add a place…");
    fill(&mut harness, "Name", "Cellar, north shelf");
    fill(&mut harness, "Temperature, °F", "70");
    fill(&mut harness, "Humidity of the air, %", "40");
    assert!(says(
        &harness,
        "70 °F and 40 % together are 110, above 100: over the rule of thumb."
    ));
    fill(&mut harness, "Humidity of the air, %", "400");
    assert!(says(
        &harness,
        "The humidity in % is 400, but must be from 0 to 100"
    ));
    fill(&mut harness, "Humidity of the air, %", "40");
    press(&mut harness, "Add it");
    let place = |harness: &Harness<'_, App>| {
        let project = harness.state().document().project();
        project.stores.iter().next().unwrap().clone()
    };
    assert_eq!(place(&harness).name, "Cellar, north shelf");
    assert!((place(&harness).temperature_c.unwrap() - 21.111).abs() < 0.001);

    // All packets are moved there, and To do says that it is too warm for them.
    press(&mut harness, &format!("Move these {packets} packets"));
    let kept = |harness: &Harness<'_, App>| {
        let project = harness.state().document().project();
        let kept = project.packets.iter().filter(|packet| packet.store.is_some());
        kept.count()
    };
    assert_eq!(kept(&harness), packets);
    let app = harness.state();
    let todo = Insight::default().todo(app.document(), date(2026, 12, 1));
    let warm: Vec<_> = todo
        .iter()
        .filter(|one| one.place == Place::Store(StoreId(1)))
        .collect();
    assert_eq!(warm.len(), 1);
    assert!(
        warm[0].sentence.contains("together are 110"),
        "{}",
        warm[0].sentence
    );

    // Colder: what that does for the seed is said before it is kept.
    press(&mut harness, "Change…");
    fill(&mut harness, "Temperature, °F", "50");
    assert!(says(&harness, "Seed keeps about 2.2 to 4 times as long there."));
    press(&mut harness, "Keep the changes");
    assert!(says(&harness, "50 °F and 40 % together are 90, at most 100"));
    // A place that holds packets cannot be removed.
    let remove = harness.get_by_role_and_label(Role::Button, "Remove");
    assert!(remove.accesskit_node().is_disabled());
}

#[test]
fn moisture_is_noted_for_the_packets_that_are_shown() {
    let mut document = three_seasons();
    put_all(&mut document, 1);
    let year = document
        .project()
        .seasons
        .iter()
        .map(|one| one.year)
        .min()
        .unwrap();
    let old: Vec<PacketId> = document
        .project()
        .packets
        .iter()
        .filter(|packet| {
            let ear = document.project().ears.get(packet.ear).unwrap();
            document.project().seasons.get(ear.season).unwrap().year == year
                && packet.balance().is_none_or(|kernels| kernels > 0)
        })
        .map(|packet| packet.id)
        .collect();
    let mut harness = at_storage(document, Theme::Light, [1280.0, 2400.0]);
    harness
        .get_by_role_and_label(Role::ComboBox, "harvested in")
        .click();
    harness.run();
    harness
        .get_by_role_and_label(Role::Button, &year.to_string())
        .click();
    harness.run();
    fill(&mut harness, "Moisture of the seed, %", "wet");
    assert!(says(
        &harness,
        "'wet' is not a number for the moisture of the seed in %"
    ));
    fill(&mut harness, "Moisture of the seed, %", "11.5");
    fill(&mut harness, "measured on", "2026-11-30");
    press(&mut harness, &format!("Note it for these {} packets", old.len()));
    let project = harness.state().document().project();
    for packet in project.packets.iter() {
        let noted = (packet.moisture_percent, packet.moisture_on);
        let wanted = if old.contains(&packet.id) {
            (Some(11.5), Some(date(2026, 11, 30)))
        } else {
            (None, None)
        };
        assert_eq!(noted, wanted);
    }
}

#[test]
fn old_seed_is_named_with_its_reasons_and_the_rules_can_be_changed() {
    let document = three_seasons();
    let seed = Insight::default().storage(&document).as_ref().clone();
    // Two seasons after the first harvest its carried-over seed is due, that of the second is not.
    let first = *seed.years.last().unwrap();
    assert!(!seed.again.is_empty());
    assert!(seed.again.iter().all(|one| one.year == first && one.seasons == 2));
    let mut harness = at_storage(document, Theme::Light, [1280.0, 2400.0]);
    assert!(says(&harness, "To test again"));
    assert!(says(&harness, &seed.again[0].figures()));
    fill(&mut harness, "Test again after", "3");
    harness.key_press(egui::Key::Enter);
    harness.run();
    let rules = harness.state().document().project().about.storage;
    assert_eq!(rules.test_after, 3);
    assert!(
        Insight::default()
            .storage(harness.state().document())
            .again
            .is_empty()
    );
    fill(&mut harness, "Old from", "1");
    harness.key_press(egui::Key::Enter);
    harness.run();
    let seed = Insight::default()
        .storage(harness.state().document())
        .as_ref()
        .clone();
    assert!(!seed.regrow.is_empty());
    assert!(says(&harness, &seed.regrow[0].sentence));
    assert!(
        seed.regrow[0].sentence.contains("called old from 1"),
        "{}",
        seed.regrow[0].sentence
    );
    let name = format!("Ear {} of {}", seed.regrow[0].number, seed.regrow[0].year);
    let button = harness.query_all_by_label(&name).next().unwrap();
    button.click();
    harness.run();
    assert_eq!(harness.state().chosen(), [seed.regrow[0].ear]);
}

#[test]
fn looks() {
    let mut document = three_seasons();
    put_all(&mut document, 1);
    let some: Vec<PacketId> = document
        .project()
        .packets
        .iter()
        .map(|one| one.id)
        .step_by(3)
        .collect();
    let put = Command::StorePackets {
        packets: some,
        store: Some(StoreId(2)),
    };
    document.run(&put, &stamp()).unwrap();
    for (name, theme, size) in [
        ("light", Theme::Light, [1280.0, 800.0]),
        ("dark", Theme::Dark, [1600.0, 1000.0]),
        ("long", Theme::Light, [1280.0, 2600.0]),
        ("long-dark", Theme::Dark, [1280.0, 2600.0]),
    ] {
        let mut harness = at_storage(document.clone(), theme, size);
        common::shot(&mut harness, &format!("storage-{name}"));
    }
    let mut harness = at_storage(document, Theme::Dark, [1280.0, 800.0]);
    let change = harness.query_all_by_label("Change…").next().unwrap();
    change.click();
    harness.run();
    fill(&mut harness, "Temperature, °F", "68");
    common::shot(&mut harness, "storage-form");
    let mut harness = at_storage(
        Document::new(Project::new(About::new("Small Patch", "p"))),
        Theme::Light,
        [1280.0, 800.0],
    );
    common::shot(&mut harness, "storage-empty");
}

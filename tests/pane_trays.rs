//! The trays pane, driven by label and key, and looked at.

mod common;
mod tray_sample;

use common::{fill, press, says};
use egui::{Key, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use tray_sample::{LOOKS, harvest, stamp, window};
use wintercrib::model::{
    CellContent, Command, Document, EarDraft, EarEdit, EarField, EarId, EarValue, Existing, LengthUnit,
    MM_PER_INCH, OtherContainer, Pass, Project, Recipe, SeasonId, Seen, Tally, TestDesign, TestId, TrayPlan,
};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;

fn open(document: Document) -> Harness<'static, App> {
    window(document, Pane::Trays, Theme::Light, [1280.0, 800.0], 1.0)
}

fn project<'a>(harness: &'a Harness<'_, App>) -> &'a Project {
    harness.state().document().project()
}

fn unfold(harness: &mut Harness<'_, App>) {
    harness.get_by_label("What this test can tell").click();
    harness.run_steps(20);
}

/// What lies where, cell by cell.
fn layout(project: &Project, test: TestId) -> Vec<CellContent> {
    let trays = project.trays_of(test);
    trays
        .flat_map(|tray| project.cells_of(tray.id))
        .map(|cell| cell.content)
        .collect()
}

#[test]
fn a_tray_for_24_ears_is_designed_the_same_from_the_same_seed_and_laid() {
    let mut harness = open(harvest(24));
    assert!(says(&harness, "Proposal: nothing is recorded"));
    assert!(says(&harness, "Each tray has 4 rows of 8 cells."));
    assert_eq!(project(&harness).tests.len(), 0);
    fill(&mut harness, "Seed", "41");
    press(&mut harness, "Design the test");
    let first = layout(project(&harness), TestId(1));
    assert_eq!(first.len(), 32);
    let mut ears: Vec<_> = first
        .iter()
        .filter(|content| matches!(content, CellContent::Ear(_)))
        .collect();
    ears.sort_by_key(|content| format!("{content:?}"));
    ears.dedup();
    assert_eq!(ears.len(), 24, "every ear lies once");
    assert!(says(&harness, "Test 1: designed, not laid yet."));

    // Another seed gives another layout, the first seed the first one again.
    fill(&mut harness, "Seed", "42");
    assert!(says(&harness, "Proposal: nothing is recorded"));
    press(&mut harness, "Design the test");
    let test = |harness: &Harness<'_, App>| project(harness).tests.iter().next().unwrap().clone();
    assert_eq!(
        project(&harness).tests.len(),
        1,
        "it replaced the test of which nothing was laid"
    );
    assert_ne!(layout(project(&harness), test(&harness).id), first);
    fill(&mut harness, "Seed", "41");
    press(&mut harness, "Design the test");
    assert_eq!(layout(project(&harness), test(&harness).id), first);

    press(&mut harness, "Lay the trays");
    assert!(says(
        &harness,
        "240 kernels are taken out of the packets of 24 ears"
    ));
    fill(&mut harness, "Day of laying", "2026-02-30");
    assert!(says(&harness, "is not a date that exists"));
    fill(&mut harness, "Day of laying", "2026-12-05");
    press(&mut harness, "Note as laid");
    harness.run();
    assert_eq!(test(&harness).laid.unwrap().to_string(), "2026-12-05");
    let ear = project(&harness).ears.iter().next().unwrap().id;
    assert_eq!(project(&harness).kernels_of(ear), Some(50));
    assert!(says(&harness, "Test 1: laid on 2026-12-05."));
}

#[test]
fn draw_again_gives_another_seed() {
    let mut harness = open(harvest(24));
    let seed = |harness: &Harness<'_, App>| {
        harness
            .get_by_role_and_label(Role::TextInput, "Seed")
            .value()
            .unwrap()
    };
    assert_eq!(seed(&harness), "2026");
    press(&mut harness, "Draw again");
    let drawn = seed(&harness);
    assert_ne!(drawn, "2026");
    fill(&mut harness, "Seed", "2026");
    press(&mut harness, "Draw again");
    assert_eq!(seed(&harness), drawn);
}

/// Common practice, no source: a tray of 3 ft by 1 ft in cells of 1¼ by 3 in holds about 100 ears, three such
/// trays about 300.
#[test]
fn a_tray_of_three_feet_holds_about_100_ears() {
    for (ears, trays) in [(100, "1 tray"), (300, "3 trays")] {
        let mut harness = open(harvest(ears));
        for (field, text) in [
            ("Container width", "36"),
            ("Container depth", "12"),
            ("Cell width", "1¼"),
            ("Cell height", "3"),
        ] {
            fill(&mut harness, field, text);
        }
        assert!(says(&harness, "Each tray has 4 rows of 28 cells."));
        harness.get_by_label(trays);
        fill(&mut harness, "Cell width", "1 1/4");
        assert!(says(&harness, "Each tray has 4 rows of 28 cells."));
    }
}

#[test]
fn trays_of_several_sizes_are_drawn_and_counted_each_by_its_own_size() {
    for (name, size, scale) in LOOKS {
        let mut document = harvest(70);
        let ears = document.project().ears.iter().map(|ear| EarEdit {
            ear: ear.id,
            field: EarField::Batch,
            value: EarValue::Text(format!("batch {}", ear.number % 3 + 1)),
        });
        let batches = Command::EditEars(ears.collect());
        document.run(&batches, &stamp()).unwrap();
        let other = |name: &str, inches: [f64; 2], trays| OtherContainer {
            name: name.to_owned(),
            width_mm: inches[0] * MM_PER_INCH,
            height_mm: inches[1] * MM_PER_INCH,
            margin_mm: 6.0,
            trays,
        };
        let design = TestDesign {
            season: SeasonId(1),
            replaces: None,
            name: "Cold".to_owned(),
            plan: TrayPlan {
                width_mm: 18.0 * MM_PER_INCH,
                height_mm: 13.0 * MM_PER_INCH,
                aisle_mm: 6.0,
                others: vec![other("Bread pan", [11.0, 7.0], 2), other("", [13.0, 10.0], 1)],
                ..TrayPlan::default()
            },
            recipe: Recipe::default(),
            check_lot: String::new(),
            seed: 3,
            ears: None,
        };
        document.run(&Command::DesignTest(design), &stamp()).unwrap();
        let mut harness = window(document, Pane::Trays, Theme::Light, size, scale);
        // Room for 4, 4 and 11 in the other sizes, and for 28 in each of the own.
        // A low window has room for the sentences in another part only.
        let is_low = size[1] / scale < 640.0;
        let show = |harness: &mut Harness<'_, App>, part: &str| {
            harness.get_by_role_and_label(Role::RadioButton, part).click();
            harness.run();
        };
        if is_low {
            show(&mut harness, "What this test can tell");
        }
        assert!(says(
            &harness,
            "2 trays have 2 rows of 4 cells, 2 trays have 4 rows of 8 cells, 1 tray has 3 rows of 5 cells."
        ));
        harness.get_by_label("95 cells");
        harness.get_by_label("10 checks");
        harness.get_by_label("800 kernels");
        assert!(says(&harness, "Each drying batch is spread over the trays too"));
        if is_low {
            show(&mut harness, "Layout");
        }
        harness.get_by_role_and_label(Role::Grid, "Trays").focus();
        harness.run();
        // To the last cell of a small tray, and on to the same place of a large one.
        for key in [Key::End, Key::PageDown, Key::PageDown] {
            harness.key_press(key);
            harness.run();
        }
        let cell = || {
            harness
                .get_by_role_and_label(Role::Grid, "Trays")
                .value()
                .unwrap()
        };
        assert!(cell().starts_with("tray 3 B4:"), "{}", cell());
        common::shot(&mut harness, &format!("trays-sizes-{name}"));
    }
}

#[test]
fn units_can_be_switched_for_the_project_and_change_no_tray() {
    let mut harness = open(harvest(24));
    press(&mut harness, "Design the test");
    harness.get_by_role_and_label(Role::RadioButton, "cm").click();
    harness.run();
    assert_eq!(project(&harness).about.units.length, LengthUnit::Centimetres);
    let width = harness.get_by_role_and_label(Role::TextInput, "Container width");
    assert_eq!(width.value().unwrap(), "40.64");
    assert!(
        says(&harness, "Test 1: designed, not laid yet."),
        "the trays are as designed"
    );
    fill(&mut harness, "Cell width", "5");
    assert!(says(&harness, "Proposal"));
    assert!(says(&harness, "Each tray has 4 rows of 8 cells."));
}

#[test]
fn a_field_that_cannot_be_read_says_so_and_nothing_is_made() {
    let mut harness = open(harvest(24));
    fill(&mut harness, "Kernels per cell", "ten");
    assert!(says(
        &harness,
        "'ten' cannot be kernels per cell; type a whole number from 1 to 400."
    ));
    assert!(
        harness
            .get_by_role_and_label(Role::Button, "Design the test")
            .accesskit_node()
            .is_disabled()
    );
    fill(&mut harness, "Kernels per cell", "12");
    press(&mut harness, "Design the test");
    assert_eq!(project(&harness).tests.iter().next().unwrap().plan.kernels, 12);
    fill(&mut harness, "Checks per tray", "90");
    assert!(says(&harness, "has no room for one ear"));
}

#[test]
fn packets_with_too_few_kernels_are_named_before_anything_is_laid() {
    let mut harness = open(harvest(24));
    fill(&mut harness, "Kernels per cell", "61");
    assert!(says(
        &harness,
        "24 packets have too few kernels: ears 1, 2, 3, 4, 5, 6, 7, 8 and 16 more."
    ));
}

#[test]
fn a_laid_test_stays_and_a_changed_design_becomes_a_new_one() {
    let mut document = harvest(24);
    let laid = |document: &mut Document| {
        let design = Command::DesignTest(TestDesign {
            season: SeasonId(1),
            replaces: None,
            name: "Test 1".to_owned(),
            plan: TrayPlan::default(),
            recipe: wintercrib::model::Recipe::default(),
            check_lot: String::new(),
            seed: 1,
            ears: None,
        });
        document.run(&design, &stamp()).unwrap();
        let lay = Command::LayTest {
            trays: Vec::new(),
            test: TestId(1),
            on: stamp().at.date(),
        };
        document.run(&lay, &stamp()).unwrap();
    };
    laid(&mut document);
    let mut harness = open(document);
    let button = harness.get_by_role_and_label(Role::Button, "Remove the test");
    assert!(button.accesskit_node().is_disabled());
    fill(&mut harness, "Day of the final count", "14");
    press(&mut harness, "Keep name and recipe");
    assert_eq!(
        project(&harness).tests.get(TestId(1)).unwrap().recipe.final_day,
        14
    );
    fill(&mut harness, "Kernels per cell", "12");
    assert!(says(&harness, "Test 1 is laid and its trays stay as they are"));
    fill(&mut harness, "Name of the test", "Retest");
    press(&mut harness, "Design the test");
    let names: Vec<_> = project(&harness)
        .tests
        .iter()
        .map(|test| test.name.clone())
        .collect();
    assert_eq!(names, ["Test 1", "Retest"]);
    harness.get_by_role_and_label(Role::RadioButton, "Test 1").click();
    harness.run();
    assert!(says(&harness, "Test 1: laid on"));
    harness.get_by_role_and_label(Role::RadioButton, "Retest").click();
    harness.run();
    press(&mut harness, "Remove the test");
    press(&mut harness, "Remove");
    harness.run();
    assert_eq!(project(&harness).tests.len(), 1);
}

#[test]
fn ears_that_came_later_are_included_when_asked() {
    let mut harness = open(harvest(24));
    press(&mut harness, "Design the test");
    let mut document = harness.state().document().clone();
    let add = Command::AddEars {
        season: SeasonId(1),
        drafts: vec![EarDraft::default(); 2],
        existing: Existing::Refuse,
    };
    document.run(&add, &stamp()).unwrap();
    let mut harness = open(document);
    assert!(says(&harness, "2 ears are in no test yet."));
    assert!(says(&harness, "designed, not laid yet"));
    press(&mut harness, "Include them");
    assert!(says(&harness, "Proposal"));
    press(&mut harness, "Design the test");
    let test = project(&harness).tests.iter().next().unwrap().id;
    let ears = layout(project(&harness), test);
    let ears = ears
        .iter()
        .filter(|content| matches!(content, CellContent::Ear(_)));
    assert_eq!(ears.count(), 26);
    assert!(!says(&harness, "in no test yet"));
    assert!(says(&harness, "designed, not laid yet"));
}

#[test]
fn the_keyboard_goes_from_cell_to_cell_and_chooses_an_ear() {
    let mut harness = open(harvest(240));
    press(&mut harness, "Design the test");
    harness.get_by_role_and_label(Role::Grid, "Trays").focus();
    harness.run();
    harness.key_press(Key::PageDown);
    harness.run();
    for _ in 0..4 {
        harness.key_press(Key::ArrowRight);
        harness.run();
    }
    harness.key_press(Key::ArrowDown);
    harness.run();
    let test = project(&harness).tests.iter().next().unwrap().id;
    let tray = project(&harness).trays_of(test).nth(1).unwrap().id;
    let cell = project(&harness).cell_at(tray, 2, 5).unwrap();
    let CellContent::Ear(ear) = cell.content else {
        panic!("the sample has an ear at B5: {cell:?}")
    };
    let number = project(&harness).ears.get(ear).unwrap().number;
    assert!(says(
        &harness,
        &format!("tray 2 B5: ear {number}, row {}", (number - 1) / 4 + 1)
    ));
    harness.key_press(Key::Enter);
    harness.run();
    assert_eq!(harness.state().chosen(), [ear]);
}

#[test]
fn without_ears_the_pane_says_what_to_do() {
    let mut harness = open(harvest(0));
    assert!(says(&harness, "There are no ears to test"));
    press(&mut harness, "Go to Harvest");
    assert!(!says(&harness, "There are no ears to test"));
    let mut harness = open(Document::new(Project::new(wintercrib::model::About::new(
        "Tarn", "tarn",
    ))));
    assert!(says(&harness, "There is no season yet"));
    common::shot(&mut harness, "trays-no-season");
}

#[test]
fn what_the_test_can_tell_is_told_before_it_is_made() {
    let mut harness = open(harvest(24));
    assert!(!says(&harness, "An ear passes the cutoff"));
    unfold(&mut harness);
    // Binomial upper tails computed with scipy 1.17.1: 0.3822806 of 60 % reach 7 of 10, 0.2253373 reach 9 of 12.
    assert!(says(
        &harness,
        "An ear passes the cutoff of 70 % with 7 of 10 kernels"
    ));
    assert!(says(&harness, "an ear of 60 % passes 38 of 100 times"));
    assert!(says(&harness, "Chance to pass, of 100 times"));
    assert!(says(&harness, "60 %: 38"));
    assert!(says(
        &harness,
        "10 once: 240 kernels, 1 tray, 29 min, 17 % of a packet"
    ));
    assert!(says(&harness, "15 once: 360 kernels, 1 tray"));
    assert!(!says(&harness, "10 twice: "), "one plan is set beside it");
    for part in ["29 min to lay", "17 % of each packet"] {
        assert!(says(&harness, part), "{part} is said before anything is made");
    }
    // Of 100 times, an ear of 80 and of 60 % reaches 7 of 10 and 11 of 15 (binomial tails, scipy 1.17.1).
    for (rate, ten, fifteen) in [(80, "88 of 100", "84 of 100"), (60, "38 of 100", "22 of 100")] {
        assert!(says(&harness, &format!("Keeps an ear of true {rate} %")));
        assert!(says(&harness, ten) && says(&harness, fifteen), "{rate}");
    }
    assert!(says(&harness, "Flatters the kept by"));
    assert!(says(&harness, "with 10 once: 40 %: "));
    assert!(says(&harness, "; with 15 once: 40 %: "));
    assert!(says(&harness, "To tell 70 % from 85 %"));
    fill(&mut harness, "Kernels per cell", "12");
    assert!(says(&harness, "with 9 of 12 kernels, which is 75 %"));
    assert!(says(&harness, "an ear of 60 % passes 23 of 100 times"));
    assert!(says(&harness, "12 once: 288 kernels"));
    press(&mut harness, "10 twice");
    assert!(says(&harness, "10 twice: 480 kernels, 2 trays"));
    assert!(!says(&harness, "15 once: "));
    // Any other plan can be typed, also that of the form itself.
    fill(&mut harness, "or kernels", "25");
    harness.key_press(Key::Enter);
    harness.run();
    assert!(says(&harness, "25 twice: 1200 kernels, 2 trays"));
    fill(&mut harness, "or kernels", "12");
    harness.key_press(Key::Enter);
    harness.run();
    fill(&mut harness, "times", "1");
    harness.key_press(Key::Enter);
    harness.run();
    assert!(says(&harness, "This is the plan of the form itself"));
    fill(&mut harness, "and", "80");
    harness.key_press(Key::Enter);
    harness.run();
    // scipy 1.17.1.
    assert!(says(&harness, "takes 127 kernels of an ear"));
    fill(&mut harness, "Kernels per cell", "x");
    assert!(
        !says(&harness, "An ear passes the cutoff"),
        "a form that cannot be read tells nothing"
    );
}

/// A season whose first test is counted, and a retest of three of its ears.
fn with_retest() -> (Document, Vec<EarId>) {
    let mut document = harvest(24);
    let season = SeasonId(1);
    let design = |name: &str, ears| {
        Command::DesignTest(TestDesign {
            season,
            replaces: None,
            name: name.to_owned(),
            plan: TrayPlan::default(),
            recipe: wintercrib::model::Recipe::default(),
            check_lot: String::new(),
            seed: 3,
            ears,
        })
    };
    document
        .run(&design("Test 1", None), &stamp())
        .expect("the sample is sound");
    let ears: Vec<EarId> = document
        .project()
        .ears
        .iter()
        .step_by(8)
        .map(|ear| ear.id)
        .collect();
    document
        .run(&design("Retest", Some(ears.clone())), &stamp())
        .expect("the sample is sound");
    (document, ears)
}

fn ears_in(project: &Project, test: TestId) -> Vec<EarId> {
    let mut ears: Vec<EarId> = layout(project, test)
        .into_iter()
        .filter_map(|content| match content {
            CellContent::Ear(ear) => Some(ear),
            _ => None,
        })
        .collect();
    ears.sort_unstable();
    ears
}

#[test]
fn a_retest_that_is_designed_anew_stays_one_of_its_own_ears() {
    let (document, ears) = with_retest();
    let mut harness = open(document);
    assert!(says(&harness, "Retest: designed, not laid yet."));
    harness.get_by_label("3 ears");
    fill(&mut harness, "Kernels per cell", "15");
    assert!(says(&harness, "Proposal"));
    harness.get_by_label("3 ears");
    press(&mut harness, "Design the test");
    let last = |harness: &Harness<'_, App>| project(harness).tests.iter().last().unwrap().clone();
    assert_eq!(
        (last(&harness).name.as_str(), last(&harness).plan.kernels),
        ("Retest", 15)
    );
    assert_eq!(ears_in(project(&harness), last(&harness).id), ears);
    assert!(
        !says(&harness, "in no test yet"),
        "its ears and all others are in a test"
    );
    // The other test is untouched, and the switch shows it.
    harness.get_by_role_and_label(Role::RadioButton, "Test 1").click();
    harness.run();
    harness.get_by_label("24 ears");
    assert!(says(&harness, "Test 1: designed, not laid yet."));
    harness
        .get_by_role_and_label(Role::RadioButton, "New test")
        .click();
    harness.run();
    harness.get_by_label("24 ears");
}

#[test]
fn pictures_of_what_a_test_can_tell() {
    for theme in [Theme::Light, Theme::Dark] {
        let theme_name = if theme == Theme::Light { "light" } else { "dark" };
        for (name, size, scale) in LOOKS {
            let mut harness = window(harvest(240), Pane::Trays, theme, size, scale);
            unfold(&mut harness);
            common::shot(&mut harness, &format!("trays-telling-{name}-{theme_name}"));
        }
        let mut harness = window(with_retest().0, Pane::Trays, theme, [1280.0, 800.0], 1.0);
        common::shot(&mut harness, &format!("trays-retest-{theme_name}"));
    }
}

#[test]
fn pictures() {
    let seen = |document: &mut Document| {
        let project = document.project();
        let cell = project
            .cells
            .iter()
            .find(|cell| cell.content.is_counted())
            .unwrap()
            .id;
        let counts = vec![Seen::new(
            cell,
            Pass::Final,
            Tally {
                strong: 10,
                ..Tally::default()
            },
        )];
        document
            .run(
                &Command::RecordCounts {
                    counts,
                    on: None,
                    by: String::new(),
                },
                &stamp(),
            )
            .unwrap();
    };
    for theme in [Theme::Light, Theme::Dark] {
        let theme_name = if theme == Theme::Light { "light" } else { "dark" };
        for (name, size, scale) in LOOKS {
            let mut harness = window(harvest(24), Pane::Trays, theme, size, scale);
            common::shot(&mut harness, &format!("trays-24-{name}-{theme_name}"));
            let mut harness = window(harvest(240), Pane::Trays, theme, size, scale);
            fill(&mut harness, "Check lot name", "Bulk 2025");
            press(&mut harness, "Design the test");
            harness.get_by_role_and_label(Role::Grid, "Trays").focus();
            harness.run();
            harness.key_press(Key::ArrowRight);
            harness.key_press(Key::ArrowRight);
            harness.key_press(Key::ArrowRight);
            harness.key_press(Key::Enter);
            harness.run();
            common::shot(&mut harness, &format!("trays-240-{name}-{theme_name}"));
        }
    }
    let mut harness = open(harvest(300));
    for (field, text) in [
        ("Container width", "36"),
        ("Cell width", "1¼"),
        ("Replicates", "2"),
        ("Seed", "x"),
        ("Margin on each side", "20"),
    ] {
        fill(&mut harness, field, text);
    }
    common::shot(&mut harness, "trays-faults");
    for (field, text) in [
        ("Seed", "5"),
        ("Margin on each side", "0"),
        ("Kernels per cell", "40"),
    ] {
        fill(&mut harness, field, text);
    }
    common::shot(&mut harness, "trays-replicates");
    let mut document = harvest(24);
    let mut harness = open(document.clone());
    press(&mut harness, "Design the test");
    document = harness.state().document().clone();
    press(&mut harness, "Lay the trays");
    common::shot(&mut harness, "trays-lay");
    seen(&mut document);
    let mut harness = open(document);
    fill(&mut harness, "Kernels per cell", "12");
    common::shot(&mut harness, "trays-counted-changed");
}

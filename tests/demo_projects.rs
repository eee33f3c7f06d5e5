//! The demo projects are what they promise, and the files are what the generator makes.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use std::collections::BTreeMap;
use std::path::PathBuf;
use wintercrib::demo;
use wintercrib::exchange::temperature_csv::{Answers, TemperatureFile};
use wintercrib::model::*;
use wintercrib::store::format;

fn file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("demo-projects/{name}.ron"))
}

fn written(name: &str) -> String {
    format::write(&demo::make(name).unwrap()).unwrap()
}

fn logger_file(name: &str) -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR")).join(format!("tests/data/{name}"))
}

/// Writes the files anew after a wanted change: `cargo test --test demo_projects -- --ignored`.
#[test]
#[ignore = "writes the demo files"]
#[expect(
    clippy::disallowed_methods,
    reason = "the files are under version control and need no copy beside them"
)]
fn write_the_files() {
    for name in demo::NAMES {
        std::fs::create_dir_all(file(name).parent().unwrap()).unwrap();
        std::fs::write(file(name), written(name)).unwrap();
    }
    for (name, text) in demo::logger_files() {
        std::fs::write(logger_file(name), text).unwrap();
    }
}

#[test]
fn the_files_are_what_the_generator_makes() {
    for name in demo::NAMES {
        let text = std::fs::read_to_string(file(name)).unwrap();
        assert!(
            text == written(name),
            "{name} differs; see the test that writes the files"
        );
        assert_eq!(format::read(text.as_bytes()).unwrap(), demo::make(name).unwrap());
    }
}

/// Two unlike files, read without any question, are the logs that the demo has.
#[test]
fn the_files_of_the_loggers_are_read_as_the_demo_has_them() {
    let project = demo::make("essel-thaw").unwrap();
    let logs: Vec<&TemperatureLog> = project.logs.iter().collect();
    assert_eq!(logs.len(), 2);
    for ((name, text), log) in demo::logger_files().into_iter().zip(logs) {
        assert_eq!(
            std::fs::read_to_string(logger_file(name)).unwrap(),
            text,
            "{name} differs"
        );
        let look = TemperatureFile::read(text.as_bytes())
            .unwrap()
            .look(&Answers::default());
        assert!(look.is_ready(&Answers::default()), "{look:?}");
        assert_eq!(
            (look.start, &look.readings),
            (Some(log.start), &log.readings),
            "{name}"
        );
    }
}

#[test]
fn the_demos_are_sound_and_say_that_they_are_demos() {
    for name in demo::NAMES {
        let project = demo::make(name).unwrap();
        assert_eq!(project.validate(), []);
        assert!(project.about.name.starts_with("DEMO "));
        assert_eq!(written(name), written(name));
    }
    assert_eq!(demo::make("no-such-demo"), None);
}

fn germinated(tally: &Tally) -> u32 {
    tally.germinated(Germinated::StrongAndWeak)
}

/// Germinated and counted kernels of all cells of a tray that fit.
fn share(project: &Project, tray: &Tray, fits: impl Fn(&Cell) -> bool) -> f64 {
    let tallies: Vec<Tally> = project
        .cells_of(tray.id)
        .filter(|cell| fits(cell))
        .filter_map(|cell| project.count_in_force(cell.id, Pass::Final))
        .map(|count| count.tally)
        .collect();
    let sum = |number: fn(&Tally) -> u32| tallies.iter().map(number).sum::<u32>();
    f64::from(sum(germinated)) / f64::from(sum(Tally::counted))
}

/// Pearson's correlation coefficient.
fn correlation(pairs: &[(f64, f64)]) -> f64 {
    let n = pairs.len() as f64;
    let (mx, my) = pairs
        .iter()
        .fold((0.0, 0.0), |(x, y), pair| (x + pair.0 / n, y + pair.1 / n));
    let sum = |f: &dyn Fn(f64, f64) -> f64| pairs.iter().map(|(x, y)| f(x - mx, y - my)).sum::<f64>();
    sum(&|x, y| x * y) / (sum(&|x, _| x * x) * sum(&|_, y| y * y)).sqrt()
}

#[test]
fn essel_thaw_has_its_ears_trays_and_cells() {
    let project = demo::make("essel-thaw").unwrap();
    assert_eq!(project.ears.len(), 240);
    let sizes: Vec<usize> = project
        .rows
        .iter()
        .map(|row| project.ears_of_row(row.id).count())
        .collect();
    assert_eq!(sizes.len(), 22);
    assert!(sizes.iter().all(|size| (4..=18).contains(size)), "{sizes:?}");
    assert!(sizes.iter().any(|size| *size < 7), "{sizes:?}");
    assert_eq!(
        project
            .row_labelled(SeasonId(1), "9")
            .map(|row| project.ears_of_row(row.id).count()),
        Some(18)
    );
    assert_eq!(project.trays.len(), 9);
    assert!(
        project
            .trays
            .iter()
            .all(|tray| (tray.rows, tray.columns) == (4, 8))
    );
    let cells =
        |fits: fn(&CellContent) -> bool| project.cells.iter().filter(|cell| fits(&cell.content)).count();
    assert_eq!(cells(|content| matches!(content, CellContent::Ear(_))), 240);
    assert_eq!(cells(|content| matches!(content, CellContent::Check(_))), 18);
    assert_eq!(cells(|content| *content == CellContent::Landmark), 18);
    assert_eq!(cells(|content| *content == CellContent::Spare), 12);
    let test = project.tests.iter().next().unwrap();
    assert_eq!(
        (test.plan.kernels, test.recipe.early_day, test.recipe.final_day),
        (10, Some(6), 12)
    );
    assert!(test.laid.is_some());
    let evenings: Vec<String> = project
        .trays_of(test.id)
        .map(|tray| project.tray_laid_on(tray.id).unwrap().to_string())
        .collect();
    assert_eq!(
        evenings,
        [
            "2026-02-03",
            "2026-02-03",
            "2026-02-03",
            "2026-02-04",
            "2026-02-04",
            "2026-02-04",
            "2026-02-05",
            "2026-02-05",
            "2026-02-05"
        ]
    );
    assert!(
        project
            .ears
            .iter()
            .all(|ear| ear.code.to_string().starts_with("ET25-"))
    );
}

#[test]
fn essel_thaw_is_in_the_middle_of_scoring() {
    let project = demo::make("essel-thaw").unwrap();
    let counted = |tray: &Tray| {
        project
            .cells_of(tray.id)
            .filter(|cell| cell.content.is_counted())
            .count()
    };
    let scored = |tray: &Tray, pass| {
        let cells = project.cells_of(tray.id);
        cells
            .filter(|cell| project.count_in_force(cell.id, pass).is_some())
            .count()
    };
    for tray in project.trays.iter() {
        assert_eq!(scored(tray, Pass::Early), counted(tray));
        match tray.number {
            1..=5 => assert_eq!(scored(tray, Pass::Final), counted(tray)),
            6 => assert!((13..=16).contains(&scored(tray, Pass::Final))),
            _ => assert_eq!(scored(tray, Pass::Final), 0),
        }
    }
}

#[test]
fn essel_thaw_hides_the_faults_that_it_promises() {
    let project = demo::make("essel-thaw").unwrap();
    let trays: Vec<&Tray> = project.trays_of(TestId(1)).collect();
    // Tray 4 stood on the floor: about 15 points worse than the mean of the other sound ones.
    let ears = |tray: &Tray| share(&project, tray, |cell| matches!(cell.content, CellContent::Ear(_)));
    let others = (ears(trays[0]) + ears(trays[1]) + ears(trays[2]) + ears(trays[4])) / 4.0;
    let lower = others - ears(trays[3]);
    assert!((0.09..0.21).contains(&lower), "{lower}");
    // More had emerged early than in the end, in one of two swapped cells of tray 1, in two cells of row C of tray 5,
    // and nowhere else.
    let lost: Vec<(u16, u16)> = project
        .cells
        .iter()
        .filter_map(|cell| {
            let early = project.count_in_force(cell.id, Pass::Early)?;
            let last = project.count_in_force(cell.id, Pass::Final)?;
            let tray = project.trays.get(cell.tray)?;
            (germinated(&early.tally) > last.tally.emerged()).then_some((tray.number, cell.row))
        })
        .collect();
    assert_eq!(lost.len(), 3, "{lost:?}");
    assert_eq!(lost[0].0, 1);
    assert_eq!(lost[1..], [(5, 3), (5, 3)]);
    let laid: Vec<u16> = project.cells.iter().filter_map(|cell| cell.laid).collect();
    assert_eq!(laid, [11]);
    assert_eq!(
        project
            .counts
            .iter()
            .filter(|count| count.mould && !count.second)
            .count(),
        4
    );
    let without = project
        .ears
        .iter()
        .filter(|ear| project.packets_of(ear.id).next().is_none());
    assert_eq!(without.count(), 2);
    let second: Vec<&Count> = project.counts.iter().filter(|count| count.second).collect();
    assert_eq!(second.len(), 12);
    assert!(second.iter().all(|count| count.by == "Helper B"));
    let disagree =
        |count: &&&Count| project.count_in_force(count.cell, Pass::Final).unwrap().tally != count.tally;
    assert_eq!(second.iter().filter(disagree).count(), 3);
    // Six late ears after frost: at least four of them are scored, and badly.
    let coldest = project
        .trait_named("Lowest temperature before picking")
        .unwrap()
        .id;
    let frosted: Vec<&Ear> = project
        .ears
        .iter()
        .filter(|ear| ear.values[&coldest] < -2.0)
        .collect();
    assert_eq!(frosted.len(), 6);
    let days = |ear: &Ear| project.maturity_days(ear).unwrap();
    let latest = project
        .ears
        .iter()
        .filter(|ear| !frosted.contains(ear))
        .map(days)
        .max()
        .unwrap();
    assert!(frosted.iter().all(|ear| days(ear) >= latest.min(117)), "{latest}");
    let scored: Vec<Tally> = frosted
        .iter()
        .filter_map(|ear| project.final_tally(ear.id))
        .collect();
    assert_eq!(scored.len(), 4);
    let sum: u32 = scored.iter().map(germinated).sum();
    assert!(sum <= 18, "{sum} of 40");
}

#[test]
fn essel_thaw_has_figures_that_belong_together() {
    let project = demo::make("essel-thaw").unwrap();
    let sound: Vec<(&Ear, u32, f64)> = project
        .ears
        .iter()
        .filter_map(|ear| {
            let cell = project.cells_of_ear(ear.id).next()?;
            let count = project.count_in_force(cell.id, Pass::Final)?;
            Some((ear, germinated(&count.tally), f64::from(count.vigor?)))
        })
        .collect();
    assert!(sound.len() > 140, "{}", sound.len());
    let vigor: Vec<(f64, f64)> = sound
        .iter()
        .map(|(_, k, vigor)| (f64::from(*k), *vigor))
        .collect();
    // 0.5 between the true figures; ten kernels and the eye take some of it away.
    let found = correlation(&vigor);
    assert!((0.2..0.7).contains(&found), "vigor {found}");
    let days = |ear: &Ear| f64::from(project.maturity_days(ear).unwrap());
    let early: Vec<(f64, f64)> = sound
        .iter()
        .map(|(ear, k, _)| (days(ear), f64::from(*k)))
        .collect();
    let found = correlation(&early);
    assert!((-0.6..-0.15).contains(&found), "maturity {found}");
    let cutoffs = &project.selection_of(SeasonId(1)).unwrap().cutoffs;
    let passes = |(ear, k, _): &&(&Ear, u32, f64)| *k >= 7 && days(ear) <= cutoffs.maturity_days.unwrap();
    let passing = sound.iter().filter(passes).count();
    assert!((40..120).contains(&passing), "{passing} of {}", sound.len());
}

#[test]
fn pocket_starter_leaves_five_ears_to_be_scored() {
    let project = demo::make("pocket-starter").unwrap();
    assert_eq!(
        (project.ears.len(), project.trays.len(), project.cells.len()),
        (24, 1, 25)
    );
    let tray = project.trays.iter().next().unwrap();
    assert_eq!((tray.rows, tray.columns), (5, 5));
    let scored = |cell: &Cell| project.count_in_force(cell.id, Pass::Final).is_some();
    let left: Vec<&Cell> = project.cells_of(tray.id).filter(|cell| !scored(cell)).collect();
    assert_eq!(left.len(), 5);
    assert!(
        left.iter()
            .all(|cell| matches!(cell.content, CellContent::Ear(_)))
    );
    let counts: Vec<u32> = project
        .ears
        .iter()
        .filter_map(|ear| project.final_tally(ear.id))
        .map(|tally| germinated(&tally))
        .collect();
    assert_eq!(counts.len(), 19);
    assert_eq!(
        counts.iter().filter(|count| **count <= 3).count(),
        2,
        "{counts:?}"
    );
    assert!(
        counts.iter().filter(|count| **count >= 6).count() >= 15,
        "{counts:?}"
    );
    assert_eq!(project.tests.iter().next().unwrap().recipe.early_day, None);
}

#[test]
fn any_size_is_made_and_made_again() {
    for (ears, seasons, seed) in [(1, 1, 0), (37, 1, 5), (120, 3, 9)] {
        let project = demo::sized(ears, seasons, seed).unwrap();
        assert_eq!(project.validate(), []);
        assert_eq!(project.ears.len(), ears as usize * usize::from(seasons));
        assert_eq!(project.lists.len(), usize::from(seasons) - 1);
        assert_eq!(project.selections.len(), usize::from(seasons));
        assert!(project.about.name.starts_with("DEMO "));
        assert!(
            project
                .ears
                .iter()
                .all(|ear| project.final_tally(ear.id).is_some())
        );
        let from_ears = project
            .rows
            .iter()
            .filter(|row| matches!(row.source, RowSource::Ear(_)))
            .count();
        let listed: usize = project.lists.iter().map(|list| list.entries.len()).sum();
        assert_eq!(from_ears, listed);
        let text = format::write(&project).unwrap();
        assert_eq!(
            text,
            format::write(&demo::sized(ears, seasons, seed).unwrap()).unwrap()
        );
        assert_eq!(format::read(text.as_bytes()).unwrap(), project);
    }
    let seeds: BTreeMap<String, u64> = (0..3)
        .map(|seed| (format::write(&demo::sized(9, 1, seed).unwrap()).unwrap(), seed))
        .collect();
    assert_eq!(seeds.len(), 3);
}

#[test]
fn impossible_sizes_are_refused_with_a_sentence() {
    for (ears, seasons) in [(0, 1), (300_000, 1), (5, 300), (5, u16::MAX)] {
        let problem = demo::sized(ears, seasons, 1).unwrap_err().to_string();
        assert!(problem.contains(';'), "{problem}");
    }
}

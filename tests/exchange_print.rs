//! The print layer and the frozen planting list: same bytes, every string found again, right pages.
#![expect(clippy::unwrap_used, reason = "a test stops at what it does not expect")]

mod poppler;

use jiff::civil::date;
use poppler::text_of;
use wintercrib::exchange::planting_list_print::planting_list_pdf;
use wintercrib::exchange::print::{
    CAUTION, Cell, Column, Flow, Fonts, Page, Paper, PrintSettings, Table, Weight, Width, unwatched,
    write_pdf,
};
use wintercrib::model::{
    Cutoffs, EarCode, EarId, EntrySowing, ListEntry, ListId, PlantingList, SeasonId, Sowing,
};

/// Lays out a title and a table of so many rows.
fn print(paper: Paper, rows: usize, note: &str) -> (Vec<u8>, usize) {
    let fonts = Fonts::new().unwrap();
    let settings = PrintSettings {
        head: "Winter thaw, head of every page".to_owned(),
        author: "A. Grower".to_owned(),
        date: Some(date(2026, 3, 14)),
        ..PrintSettings::new(paper, "List of ears")
    };
    let mut flow = Flow::new(&fonts, &settings);
    flow.text("List of ears", 18.0, Weight::Bold);
    flow.space(6.0);
    flow.table(&Table {
        columns: vec![
            Column::number("Ear", Width::Points(60.0)).set_in(14.0, Weight::Bold),
            Column::text("Why", Width::Share(1.0)),
            Column::text("Done", Width::Points(40.0)),
        ],
        rows: (1..=rows)
            .map(|ear| {
                vec![
                    Cell::from(format!("{ear}")),
                    Cell::from(format!("{note} {ear}")),
                    Cell::TickBox,
                ]
            })
            .collect(),
        ..Table::default()
    });
    let pages: Vec<Page> = flow.into_pages();
    (
        write_pdf(&fonts, &settings, &pages, &unwatched).unwrap(),
        pages.len(),
    )
}

#[test]
fn the_same_print_gives_the_same_bytes() {
    assert_eq!(
        print(Paper::A4, 80, "ripe early").0,
        print(Paper::A4, 80, "ripe early").0
    );
    assert_ne!(
        print(Paper::A4, 80, "ripe early").0,
        print(Paper::A4, 80, "ripe late").0
    );
}

#[test]
fn every_string_and_page_is_found_again() {
    for paper in [Paper::Letter, Paper::A4] {
        let (pdf, count) = print(paper, 80, "sûr, \u{2265} 8 of 10 \u{2610} étage");
        assert!(pdf.starts_with(b"%PDF-"));
        let Some(pages) = text_of(&pdf) else { return };
        assert_eq!(pages.len(), count);
        assert!(count >= 3, "{count} pages");
        for (index, page) in pages.iter().enumerate() {
            assert!(page.contains(&format!("page {} of {count}", index + 1)), "{page}");
            assert!(page.contains(CAUTION), "{page}");
            assert!(page.contains("Winter thaw, head of every page"), "{page}");
            assert!(page.contains("Why") && page.contains("Done"), "no header: {page}");
        }
        let all = pages.concat();
        for ear in 1..=80 {
            let wanted = format!("sûr, \u{2265} 8 of 10 \u{2610} étage {ear}\n");
            let found = all
                .lines()
                .filter(|line| format!("{}\n", line.trim_end()).ends_with(&wanted))
                .count();
            assert_eq!(found, 1, "ear {ear} in {all}");
        }
    }
}

#[test]
fn a_cell_taller_than_a_page_goes_on_over_pages_without_loss() {
    let words: Vec<String> = (0..3000).map(|word| format!("word{word}")).collect();
    let (pdf, count) = print(Paper::Letter, 1, &words.join(" "));
    assert!(count >= 3, "{count} pages");
    let Some(pages) = text_of(&pdf) else { return };
    let all = pages.concat();
    let found: Vec<&str> = all
        .split_whitespace()
        .filter(|word| word.starts_with("word"))
        .collect();
    assert_eq!(found, words);
}

#[test]
fn an_empty_table_and_odd_letters_still_print() {
    let (pdf, count) = print(Paper::A4, 0, "");
    assert_eq!(count, 1);
    if let Some(pages) = text_of(&pdf) {
        assert!(pages[0].contains("page 1 of 1"));
    }
    print(Paper::A4, 3, "tab\tbell\u{7}line\nend \u{10FFFD} عربي");
}

/// A frozen list of so many ears.
fn list(ears: u32, version: u16) -> PlantingList {
    let entry = |number: u32| ListEntry {
        ear: EarId(number),
        code: EarCode::new("ET".parse().unwrap(), 2026, number),
        number,
        mother: if number.is_multiple_of(11) {
            String::new()
        } else {
            (number % 7 + 1).to_string()
        },
        germinated: (!number.is_multiple_of(13)).then_some((6 + number % 5, 10)),
        likely_percent: (!number.is_multiple_of(13)).then_some(61.0 + f64::from(number % 5) * 6.3),
        maturity_days: Some(f64::from(92 + number % 17)),
        plant: 30,
        keep: 20 + number,
        why: match number % 13 {
            0 => "always plant: the only white cob of its row".to_owned(),
            _ => "cutoffs".to_owned(),
        },
        sowing: None,
    };
    let mut list = PlantingList {
        id: ListId(1),
        season: SeasonId(1),
        year: 2026,
        project: "DEMO Essel thaw".to_owned(),
        version,
        reason: if version > 1 {
            "two packets were damp".to_owned()
        } else {
            String::new()
        },
        frozen_on: date(2026, 3, 14),
        frozen_by: "Grower A".to_owned(),
        cutoffs: Cutoffs {
            maturity_days: Some(105.0),
            ..Cutoffs::default()
        },
        rules: "cold germination at least 70 %; maturity at most 105 days; sureness 0.7".to_owned(),
        sowing: None,
        entries: (1..=ears).map(entry).collect(),
        reserves: Vec::new(),
        digest: String::new(),
    };
    list.digest = list.compute_digest();
    list
}

#[test]
fn the_print_shows_everything_that_is_fixed() {
    for paper in [Paper::Letter, Paper::A4] {
        let list = list(60, 2);
        let pdf = planting_list_pdf(&list, paper).unwrap();
        let Some(pages) = text_of(&pdf) else { return };
        assert!(pages.len() > 1);
        for (index, page) in pages.iter().enumerate() {
            assert!(page.contains(list.short_digest()), "{page}");
            assert!(page.contains(CAUTION), "{page}");
            assert!(
                page.contains(&format!("page {} of {}", index + 1, pages.len())),
                "{page}"
            );
        }
        let all = pages.concat();
        for words in [
            "Planting list 2026, version 2",
            "Frozen on 2026-03-14 by Grower A.",
            "Replaces version 1. Reason: two packets were damp",
            "cold germination at least 70 %; maturity at most 105 days",
            "In all: 60 ears, 8 mother rows, 1800 kernels to plant, 3030 kernels to keep back.",
            "sha256sum",
            &list.digest,
        ] {
            assert!(all.contains(words), "'{words}' is not in {all}");
        }
        assert!(!all.contains("NOT WHAT WAS FROZEN"));
        for entry in &list.entries {
            let line = all
                .lines()
                .find(|line| line.contains(&entry.code.to_string()))
                .unwrap();
            let cells: Vec<&str> = line.split_whitespace().collect();
            assert_eq!(cells[0], entry.number.to_string(), "{line}");
            assert!(cells.contains(&entry.plant.to_string().as_str()), "{line}");
            assert!(cells.contains(&entry.keep.to_string().as_str()), "{line}");
        }
    }
}

/// A list whose kernels are reckoned for a stand says so, and of each ear what its kernels are likely to give.
#[test]
fn the_print_shows_what_a_stand_takes_and_gives() {
    let mut list = list(30, 1);
    list.sowing = Some(Sowing {
        field_factor: 0.8,
        ..Sowing::COMMON
    });
    for entry in &mut list.entries {
        let is_short = entry.number == 7;
        entry.sowing = Some(EntrySowing {
            needed: Some(if is_short { 41 } else { 30 }),
            plants: if is_short { 16.2 } else { 24.3 },
            plants_low: if is_short { 12 } else { 20 },
            plants_high: if is_short { 19 } else { 27 },
            probability: if is_short { 0.03 } else { 0.93 },
            sure_plants: if is_short { 13 } else { 20 },
        });
    }
    list.digest = list.compute_digest();
    for paper in [Paper::Letter, Paper::A4] {
        let pdf = planting_list_pdf(&list, paper).unwrap();
        let Some(pages) = text_of(&pdf) else { return };
        let all = pages.concat().split_whitespace().collect::<Vec<_>>().join(" ");
        for words in [
            "Kernels of each ear for at least 20 plants with a probability of 90 %, field factor 0.8.",
            "24.3 (20 to 27) 93",
            "16.2 (12 to 19) 3",
        ] {
            assert!(all.contains(words), "'{words}' is not in {all}");
        }
        assert_eq!(all.matches("as sure").count(), 1, "{all}");
        assert_eq!(all.matches("24.3").count(), 29);
    }
}

#[test]
fn the_same_list_prints_the_same_bytes() {
    assert_eq!(
        planting_list_pdf(&list(60, 1), Paper::A4),
        planting_list_pdf(&list(60, 1), Paper::A4)
    );
    assert_ne!(
        planting_list_pdf(&list(60, 1), Paper::A4),
        planting_list_pdf(&list(60, 2), Paper::A4)
    );
}

#[test]
fn a_list_that_was_changed_says_so_on_paper() {
    let mut list = list(3, 1);
    list.entries[1].plant += 1;
    let pdf = planting_list_pdf(&list, Paper::Letter).unwrap();
    if let Some(pages) = text_of(&pdf) {
        assert!(pages[0].contains("THIS IS NOT WHAT WAS FROZEN"), "{}", pages[0]);
    }
}

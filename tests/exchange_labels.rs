//! Labels, slips, stakes and sheets for the field: every ear on its label, within it, read by another program, the same bytes.
#![expect(clippy::unwrap_used, reason = "a test stops at what it does not expect")]

mod poppler;

use jiff::civil::date;
use poppler::text_of;
use proptest::prelude::*;
use wintercrib::demo;
use wintercrib::exchange::field_sheets::{CullReason, FieldSheet, cull_list_pdf, field_sheet_pdf};
use wintercrib::exchange::labels::{
    COMMON_SHEETS, LabelFault, LabelOrder, LabelPages, LabelSheet, OnLabels, PacketLabels, label_page,
    label_pages, labels_pdf,
};
use wintercrib::exchange::print::{CAUTION, Fonts, Mark, Outline, Paper, PrintFault, Weight, unwatched};
use wintercrib::model::{
    About, Command, Cutoffs, Document, EarDraft, EarId, Existing, ListDraft, ListEntry, Project, SeasonId,
    Stamp,
};

const LARGE: LabelSheet = COMMON_SHEETS[2];

fn stamp() -> Stamp {
    Stamp {
        at: date(2026, 12, 1).at(10, 0, 0, 0),
        by: String::new(),
    }
}

/// A season of so many ears under names of the test's own.
fn harvest(name: &str, ears: u32, row: impl Fn(u32) -> String, place: &str) -> Project {
    let mut document = Document::new(Project::new(About::new(name, "demo-labels")));
    let drafts = (1..=ears).map(|ear| EarDraft {
        row: Some(row(ear)),
        kernels: Some(300 + ear % 90),
        location: Some(place.to_owned()),
        ..EarDraft::default()
    });
    for command in [
        Command::AddSeason {
            year: 2026,
            planted: None,
        },
        Command::AddEars {
            season: SeasonId(1),
            drafts: drafts.collect(),
            existing: Existing::Refuse,
        },
    ] {
        document.run(&command, &stamp()).unwrap();
    }
    document.project().clone()
}

fn all(project: &Project, kind: PacketLabels) -> OnLabels {
    OnLabels::Packets {
        ears: project.ears.iter().map(|ear| ear.id).collect(),
        kind,
    }
}

/// Freezes a list of every fourth ear of a project.
fn with_a_list(project: Project) -> Project {
    let mut document = Document::new(project);
    let ears: Vec<_> = document.project().ears.iter().step_by(4).cloned().collect();
    let entries = ears.iter().map(|ear| ListEntry {
        ear: ear.id,
        code: ear.code,
        number: ear.number,
        mother: document.project().mother_label(ear).to_owned(),
        germinated: Some((8, 10)),
        likely_percent: None,
        maturity_days: None,
        plant: 30,
        keep: 20,
        why: "cutoffs".to_owned(),
        sowing: None,
    });
    let draft = ListDraft {
        season: SeasonId(1),
        cutoffs: Cutoffs::default(),
        entries: entries.collect(),
        reserves: Vec::new(),
        reason: String::new(),
        by: "Grower A".to_owned(),
    };
    document.run(&Command::Freeze(draft), &stamp()).unwrap();
    document.project().clone()
}

fn laid(project: &Project, what: &OnLabels, order: &LabelOrder) -> LabelPages {
    label_pages(&Fonts::new().unwrap(), project, what, order, &unwatched).unwrap()
}

fn count(pages: &[String], word: &str) -> usize {
    pages
        .iter()
        .flat_map(|page| page.split_whitespace())
        .filter(|found| *found == word)
        .count()
}

/// Left, top, right and bottom of a mark in points; of text from the top of its digits to its descenders.
fn bounds(fonts: &Fonts, mark: &Mark) -> [f32; 4] {
    match mark {
        Mark::Text {
            x,
            baseline,
            size,
            weight,
            text,
        } => [
            *x,
            baseline - 0.72 * size,
            x + fonts.width(text, *size, *weight),
            baseline + if text.parse::<u32>().is_ok() { 0.02 } else { 0.22 } * size,
        ],
        Mark::Rule { from, to, thickness } => [
            from.0.min(to.0),
            from.1.min(to.1) - thickness / 2.0,
            from.0.max(to.0),
            from.1.max(to.1) + thickness / 2.0,
        ],
        Mark::Form {
            outline: Outline::Squares(squares),
            ..
        } => {
            let all = squares
                .boxes()
                .map(|(at, size)| [at.0, at.1, at.0 + size.0, at.1 + size.1]);
            all.reduce(|one, other| {
                let (least, most) = (f32::min, f32::max);
                [
                    least(one[0], other[0]),
                    least(one[1], other[1]),
                    most(one[2], other[2]),
                    most(one[3], other[3]),
                ]
            })
            .unwrap()
        }
        Mark::Frame { at, size, .. } => [at.0, at.1, at.0 + size.0, at.1 + size.1],
        other => panic!("{other:?} on a label"),
    }
}

#[test]
fn every_packet_of_two_demos_has_its_label_and_its_slip() {
    for name in ["pocket-starter", "essel-thaw"] {
        let project = demo::make(name).unwrap();
        for (kind, each) in [(PacketLabels::Labels, 1), (PacketLabels::Both, 2)] {
            let what = all(&project, kind);
            for sheet in [COMMON_SHEETS[0], COMMON_SHEETS[4]] {
                let order = LabelOrder {
                    sheet,
                    outlines: true,
                    ..LabelOrder::default()
                };
                let printed = labels_pdf(&project, &what, &order, &unwatched).unwrap();
                assert_eq!(printed, labels_pdf(&project, &what, &order, &unwatched).unwrap());
                assert_eq!(printed.notes, [""; 0], "{name}");
                let Some(pages) = text_of(&printed.pdf) else {
                    return;
                };
                assert_eq!(pages.len(), printed.pages);
                for (index, page) in pages.iter().enumerate() {
                    assert!(
                        page.contains(&format!("page {} of {}", index + 1, pages.len())),
                        "{page}"
                    );
                }
                for ear in project.ears.iter() {
                    let packets = project.packets_of(ear.id).count().max(1);
                    assert_eq!(
                        count(&pages, &ear.code.to_string()),
                        packets * each,
                        "{}",
                        ear.code
                    );
                }
                if kind == PacketLabels::Both {
                    let paper = sheet.paper;
                    poppler::look(&format!("print-labels-{name}-{paper:?}"), &printed.pdf, 1);
                }
            }
        }
    }
}

#[test]
fn a_label_shows_what_belongs_on_it_and_leaves_room_for_what_is_not_known() {
    let project = harvest("DEMO Little Tarn", 3, |ear| format!("row-{ear}"), "2-14");
    let order = LabelOrder::default();
    let printed = labels_pdf(&project, &all(&project, PacketLabels::Labels), &order, &unwatched).unwrap();
    let Some(pages) = text_of(&printed.pdf) else {
        return;
    };
    let code = project.ears.get(EarId(2)).unwrap().code.to_string();
    for part in [
        "DEMO Little Tarn",
        "season 2026 · mother row row-2",
        "302 kernels",
        &code,
        "box-slot 2-14",
    ] {
        assert!(pages[0].contains(part), "no '{part}' in {}", pages[0]);
    }
    let mut bare = Document::new(project);
    let drafts = vec![EarDraft::default()];
    let add = Command::AddEars {
        season: SeasonId(1),
        drafts,
        existing: Existing::Refuse,
    };
    bare.run(&add, &stamp()).unwrap();
    let what = OnLabels::Packets {
        ears: vec![EarId(4)],
        kind: PacketLabels::Slips,
    };
    let printed = labels_pdf(bare.project(), &what, &order, &unwatched).unwrap();
    let pages = text_of(&printed.pdf).unwrap();
    for part in ["inside slip", "mother row ____", "____ kernels", "box-slot ____"] {
        assert!(pages[0].contains(part), "no '{part}' in {}", pages[0]);
    }
    assert_eq!(printed.labels, 1);
}

#[test]
fn labels_begin_where_the_sheet_still_has_some() {
    let project = harvest("DEMO Little Tarn", 31, |ear| ear.to_string(), "2-14");
    let order = LabelOrder {
        start: 30,
        squares: false,
        outlines: true,
        ..LabelOrder::default()
    };
    let laid = laid(&project, &all(&project, PacketLabels::Labels), &order);
    assert_eq!((laid.pages.len(), laid.labels), (2, 31));
    let frames = |page: usize| -> Vec<(f32, f32)> {
        let marks = laid.pages[page].marks.iter();
        marks
            .filter_map(|mark| match mark {
                Mark::Frame { at, .. } => Some(*at),
                _ => None,
            })
            .collect()
    };
    assert_eq!(frames(0), [order.sheet.place(29).0]);
    assert_eq!(
        frames(1),
        (0..30)
            .map(|place| order.sheet.place(place).0)
            .collect::<Vec<_>>()
    );
}

#[test]
fn what_cannot_be_printed_is_refused_with_what_to_do() {
    let project = harvest("DEMO Little Tarn", 3, |ear| ear.to_string(), "");
    let packets = all(&project, PacketLabels::Labels);
    let none = OnLabels::Packets {
        ears: vec![EarId(99)],
        kind: PacketLabels::Labels,
    };
    let stakes = OnLabels::Stakes {
        list: wintercrib::model::ListId(1),
    };
    let good = LabelOrder::default();
    let narrow = LabelSheet {
        columns: 9,
        ..good.sheet
    };
    for (what, order, part) in [
        (
            &packets,
            LabelOrder { start: 0, ..good },
            "Begin at one of 1 to 30",
        ),
        (
            &packets,
            LabelOrder { start: 31, ..good },
            "the sheet has 30 labels",
        ),
        (
            &packets,
            LabelOrder {
                sheet: narrow,
                ..good
            },
            "215.9 mm wide",
        ),
        (&none, good, "Choose ears first"),
        (&stakes, good, "planting list is no longer"),
    ] {
        let fault = labels_pdf(&project, what, &order, &unwatched)
            .unwrap_err()
            .to_string();
        assert!(fault.to_lowercase().contains(&part.to_lowercase()), "{fault}");
    }
    let stopped = labels_pdf(&project, &packets, &good, &|done| done < 0.1);
    assert_eq!(stopped, Err(LabelFault::Print(PrintFault::Stopped)));
}

#[test]
fn each_row_of_a_list_has_a_stake_at_its_start_and_at_its_end() {
    let project = with_a_list(demo::make("essel-thaw").unwrap());
    let list = project.lists.iter().last().unwrap();
    for sheet in [LARGE, COMMON_SHEETS[6]] {
        let order = LabelOrder {
            sheet,
            outlines: true,
            ..LabelOrder::default()
        };
        let printed = labels_pdf(&project, &OnLabels::Stakes { list: list.id }, &order, &unwatched).unwrap();
        assert_eq!(printed.labels, 2 * list.entries.len());
        poppler::look(&format!("print-stakes-{:?}", sheet.paper), &printed.pdf, 1);
        let Some(pages) = text_of(&printed.pdf) else {
            return;
        };
        assert_eq!(count(&pages, "START"), list.entries.len());
        assert_eq!(count(&pages, "END"), list.entries.len());
        for entry in &list.entries {
            assert_eq!(count(&pages, &entry.code.to_string()), 2, "{}", entry.code);
        }
    }
    // The row is larger than anything else.
    let laid = laid(
        &project,
        &OnLabels::Stakes { list: list.id },
        &LabelOrder {
            sheet: LARGE,
            ..LabelOrder::default()
        },
    );
    let sizes = |wanted: &str| {
        let marks = laid.pages[0].marks.iter();
        let size = marks.filter_map(|mark| match mark {
            Mark::Text { size, text, .. } if text == wanted => Some(*size),
            _ => None,
        });
        size.fold(0.0, f32::max)
    };
    assert!(
        sizes("1") >= 40.0 && sizes("▶ START") <= 24.0,
        "{} {}",
        sizes("1"),
        sizes("▶ START")
    );
}

#[test]
fn the_test_page_has_every_label_and_a_bar() {
    let project = harvest("DEMO Little Tarn", 1, |ear| ear.to_string(), "");
    for sheet in COMMON_SHEETS {
        let order = LabelOrder {
            sheet,
            ..LabelOrder::default()
        };
        let laid = laid(&project, &OnLabels::TestPage, &order);
        let marks = &laid.pages[0].marks;
        let frames = marks
            .iter()
            .filter(|mark| matches!(mark, Mark::Frame { .. }))
            .count();
        assert_eq!((laid.pages.len(), frames), (1, sheet.labels()));
        let bar = marks.iter().find_map(|mark| match mark {
            Mark::Rule { from, to, .. } if (from.1 - to.1).abs() < f32::EPSILON => Some(to.0 - from.0),
            _ => None,
        });
        // 50 mm at 72 points to the inch of 25.4 mm.
        assert!((bar.unwrap() - 141.732).abs() < 0.01, "{bar:?}");
        let printed = labels_pdf(&project, &OnLabels::TestPage, &order, &unwatched).unwrap();
        let pages = text_of(&printed.pdf).unwrap();
        assert!(
            pages[0].contains(&sheet.name()) && pages[0].contains("bar is 50 mm"),
            "{}",
            pages[0]
        );
    }
    let printed = labels_pdf(&project, &OnLabels::TestPage, &LabelOrder::default(), &unwatched).unwrap();
    poppler::look("print-labels-test-page", &printed.pdf, 1);
}

#[test]
fn the_square_code_is_read_by_another_program() {
    let project = demo::make("pocket-starter").unwrap();
    for (sheet, squares) in [(COMMON_SHEETS[0], true), (LARGE, true), (COMMON_SHEETS[0], false)] {
        let order = LabelOrder {
            sheet,
            squares,
            ..LabelOrder::default()
        };
        let printed = labels_pdf(&project, &all(&project, PacketLabels::Labels), &order, &unwatched).unwrap();
        let args = ["-r", "300", "-gray", "-f", "1", "-l", "1"];
        let Some(picture) = poppler::read(&printed.pdf, "pdftoppm", &args, &[]) else {
            return;
        };
        let (width, height, dots) = grey(&picture);
        let dot = |points: f32| (points * 300.0 / 72.0).round() as usize;
        // A scanner is held before one label.
        let mut read: Vec<String> = (0..sheet.labels().min(project.ears.len()))
            .filter_map(|place| {
                let (at, size) = sheet.place(place);
                let (left, top) = (dot(at.0), dot(at.1));
                let grey_at = |x: usize, y: usize| dots[(top + y).min(height - 1) * width + left + x];
                let mut prepared =
                    rqrr::PreparedImage::prepare_from_greyscale(dot(size.0), dot(size.1), grey_at);
                let grids = prepared.detect_grids();
                assert!(grids.len() <= 1, "{} codes on a label", grids.len());
                grids.first().map(|grid| grid.decode().unwrap().1)
            })
            .collect();
        read.sort();
        let mut wanted: Vec<String> = project.ears.iter().map(|ear| ear.code.to_string()).collect();
        wanted.truncate(sheet.labels());
        wanted.sort();
        assert_eq!(
            read,
            if squares { wanted } else { Vec::new() },
            "{}",
            sheet.name()
        );
    }
}

/// Width, height and dots of a binary portable greymap.
fn grey(file: &[u8]) -> (usize, usize, &[u8]) {
    let ends = file
        .iter()
        .enumerate()
        .filter(|(_, byte)| byte.is_ascii_whitespace());
    let end = ends.map(|(at, _)| at).nth(3).unwrap();
    let head = std::str::from_utf8(&file[..end]).unwrap();
    let words: Vec<&str> = head.split_whitespace().collect();
    assert_eq!((words[0], words[3]), ("P5", "255"));
    (
        words[1].parse().unwrap(),
        words[2].parse().unwrap(),
        &file[end + 1..],
    )
}

#[test]
fn long_and_foreign_names_stay_within_the_label_and_are_told() {
    let long = "Населення холодної весни з дуже довгою назвою, яка ніколи не поміститься на одній етикетці шириною з палець";
    let project = harvest(
        long,
        4,
        |ear| format!("Ряд-{ear}-Ξ-ž-{}", "довгий-".repeat(12)),
        &"полиця-".repeat(20),
    );
    let order = LabelOrder::default();
    let what = all(&project, PacketLabels::Both);
    let notes = laid(&project, &what, &order).notes;
    for part in [
        "8 labels the name of the population",
        "the mother row",
        "the box and slot",
    ] {
        assert!(
            notes.iter().any(|note| note.contains(part)),
            "no '{part}' in {notes:?}"
        );
    }
    assert_eq!(notes.len(), 3, "{notes:?}");
    let printed = labels_pdf(&project, &what, &order, &unwatched).unwrap();
    poppler::look("print-labels-long", &printed.pdf, 1);
    let Some(pages) = text_of(&printed.pdf) else {
        return;
    };
    assert!(
        pages[0].contains("Населення холодної") && pages[0].contains("Ряд-4-Ξ-ž"),
        "{}",
        pages[0]
    );
    let project = harvest("DEMO 冬の穀物", 1, |ear| ear.to_string(), "");
    let notes = laid(&project, &all(&project, PacketLabels::Labels), &order).notes;
    assert!(
        notes.len() == 1 && notes[0].contains("write it on by hand"),
        "{notes:?}"
    );
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn nothing_lies_outside_its_label(
        width in 38.0_f32..100.0,
        height in 20.0_f32..80.0,
        name in "[A-Za-zа-я ]{1,90}",
        row in "[A-Z0-9-]{1,40}",
        place in "[A-Z0-9-]{0,40}",
        squares: bool,
        ears in 1_u32..4,
    ) {
        prop_assume!(!name.trim().is_empty());
        let project = harvest(&name, ears, |_| row.clone(), &place);
        let sheet = LabelSheet { label_mm: (width, height), columns: 2, rows: 2, ..LabelSheet::default() };
        let sheet = LabelSheet { gap_mm: (3.0, 3.0), ..sheet };
        let order = LabelOrder { sheet, start: 1, squares, outlines: false };
        let fonts = Fonts::new().unwrap();
        for kind in [PacketLabels::Labels, PacketLabels::Slips] {
            let laid = label_pages(&fonts, &project, &all(&project, kind), &order, &unwatched).unwrap();
            let mut numbers = 0;
            for mark in &laid.pages[0].marks {
                if matches!(mark, Mark::Text { text, .. } if text.starts_with("page ")) {
                    continue;
                }
                let [left, top, right, bottom] = bounds(&fonts, mark);
                let inside = (0..ears as usize).any(|place| {
                    let (at, size) = sheet.place(place);
                    left >= at.0 && top >= at.1 && right <= at.0 + size.0 && bottom <= at.1 + size.1
                });
                prop_assert!(inside, "{mark:?} lies at {left} {top} {right} {bottom}");
                if let Mark::Text { size, weight: Weight::Bold, text, .. } = mark
                    && text.parse::<u32>().is_ok()
                {
                    numbers += 1;
                    prop_assert!(*size >= 14.0, "{text} in {size} points");
                }
            }
            prop_assert_eq!(numbers, ears);
            let drawn = laid.pages[0].marks.iter();
            let drawn = drawn.filter(|mark| matches!(mark, Mark::Text { .. } | Mark::Form { .. }));
            let texts: Vec<[f32; 4]> = drawn.map(|mark| bounds(&fonts, mark)).collect();
            for (index, one) in texts.iter().enumerate() {
                for other in &texts[..index] {
                    let apart = one[2] <= other[0] || other[2] <= one[0]
                        || one[3] <= other[1] + 1.0 || other[3] <= one[1] + 1.0;
                    prop_assert!(apart, "{one:?} lies over {other:?}");
                }
            }
        }
    }
}

#[test]
fn one_page_laid_out_alone_is_that_page() {
    let project = harvest("DEMO Little Tarn", 95, |ear| ear.to_string(), "2-14");
    let what = all(&project, PacketLabels::Labels);
    let order = LabelOrder {
        start: 29,
        ..LabelOrder::default()
    };
    let fonts = Fonts::new().unwrap();
    let whole = laid(&project, &what, &order);
    assert_eq!((whole.of, whole.pages.len()), (5, 5));
    for page in 0..6 {
        let one = label_page(&fonts, &project, &what, &order, page).unwrap();
        assert_eq!(one.pages, [whole.pages[page.min(4)].clone()], "page {page}");
        assert_eq!((one.of, one.labels), (5, 95));
    }
}

#[test]
fn the_field_sheets_have_a_line_for_each_row_in_order() {
    let project = with_a_list(demo::make("essel-thaw").unwrap());
    let list = project.lists.iter().last().unwrap();
    for sheet in FieldSheet::ALL {
        for paper in [Paper::Letter, Paper::A4] {
            let printed = field_sheet_pdf(&project, list, sheet, paper, &unwatched).unwrap();
            assert_eq!(
                printed,
                field_sheet_pdf(&project, list, sheet, paper, &unwatched).unwrap()
            );
            poppler::look(
                &format!("print-{}-{paper:?}", sheet.name()).replace(' ', "-"),
                &printed.pdf,
                1,
            );
            let Some(pages) = text_of(&printed.pdf) else {
                return;
            };
            assert_eq!((pages.len(), printed.lines), (printed.pages, list.entries.len()));
            for (index, page) in pages.iter().enumerate() {
                let number = format!("page {} of {}", index + 1, pages.len());
                for part in [
                    CAUTION,
                    list.short_digest(),
                    &number,
                    "DEMO Essel Thaw",
                    "Ear code",
                    "Note",
                ] {
                    assert!(page.contains(part), "no '{part}' in {page}");
                }
            }
            assert!(
                pages[0].contains("in the order of the planting list"),
                "{}",
                pages[0]
            );
            let all = pages.concat();
            let lines = all.lines().filter_map(|line| {
                let words: Vec<&str> = line.split_whitespace().collect();
                let row: usize = words.first()?.parse().ok()?;
                Some((row, words.get(1)?.parse().ok()?, (*words.get(2)?).to_owned()))
            });
            let wanted = list.entries.iter().enumerate();
            let wanted: Vec<(usize, u32, String)> = wanted
                .map(|(index, entry)| (index + 1, entry.number, entry.code.to_string()))
                .collect();
            assert_eq!(lines.collect::<Vec<_>>(), wanted, "{sheet:?}");
        }
    }
    let stopped = field_sheet_pdf(&project, list, FieldSheet::Stand, Paper::A4, &|_| false);
    assert_eq!(stopped, Err(PrintFault::Stopped));
}

#[test]
fn the_cull_list_spares_the_planting_list_and_names_the_last_of_a_mother_row() {
    let project = with_a_list(demo::make("essel-thaw").unwrap());
    let list = project.lists.iter().last().unwrap();
    let doomed = project.ears.get(list.entries[0].ear).unwrap();
    // Everything is said to be left out; what is on the list stays all the same.
    let reasons: Vec<CullReason> = project
        .ears
        .iter()
        .map(|ear| CullReason {
            ear: ear.id,
            reason: "Its maturity is 120 days; the cutoff is 110.".to_owned(),
        })
        .collect();
    let printed = cull_list_pdf(&project, SeasonId(1), &reasons, Paper::Letter, &unwatched).unwrap();
    assert_eq!(printed.lines, project.ears.len() - list.entries.len());
    poppler::look("print-cull-list-Letter", &printed.pdf, 1);
    let Some(pages) = text_of(&printed.pdf) else {
        return;
    };
    assert_eq!(count(&pages, &doomed.code.to_string()), 0);
    for page in &pages {
        assert!(
            page.contains(CAUTION) && page.contains("Cull list 2025"),
            "{page}"
        );
    }
    let all = pages.concat();
    for ear in project.ears.iter().filter(|ear| !list.names(ear.id)) {
        assert_eq!(count(&pages, &ear.code.to_string()), 1, "{}", ear.code);
    }
    // Every mother row has an ear on the list but those with fewer than four ears that the list leaps over.
    let lost = project.rows.iter().filter(|row| {
        let mut ears = project.ears_of_row(row.id).peekable();
        ears.peek().is_some() && ears.all(|ear| !list.names(ear.id))
    });
    let lost: usize = lost.map(|row| project.ears_of_row(row.id).count()).sum();
    assert_eq!(all.matches("LAST OF ITS").count(), lost);
    let none = cull_list_pdf(&project, SeasonId(1), &[], Paper::A4, &unwatched).unwrap();
    assert!(text_of(&none.pdf).unwrap()[0].contains("No ear is left out"));
}

#[test]
#[ignore = "measures ten thousand labels; run it by hand with --nocapture"]
fn ten_thousand_labels_are_measured() {
    let project = harvest(
        "DEMO Little Tarn",
        10_000,
        |ear| (ear / 12 + 1).to_string(),
        "2-14",
    );
    let what = all(&project, PacketLabels::Labels);
    let order = LabelOrder::default();
    let fonts = Fonts::new().unwrap();
    let begin = std::time::Instant::now();
    let laid = label_pages(&fonts, &project, &what, &order, &unwatched).unwrap();
    eprintln!("laid out in {:?}, {} pages", begin.elapsed(), laid.pages.len());
    let begin = std::time::Instant::now();
    let printed = labels_pdf(&project, &what, &order, &unwatched).unwrap();
    eprintln!("printed in {:?}, {} bytes", begin.elapsed(), printed.pdf.len());
    let pages = text_of(&printed.pdf).unwrap();
    for ear in project.ears.iter() {
        assert!(
            pages.iter().any(|page| page.contains(&ear.code.to_string())),
            "{}",
            ear.code
        );
    }
}

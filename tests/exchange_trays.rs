//! The prints of a test's trays: true to scale, complete, the same bytes, and unharmed by odd trays and names.
#![expect(clippy::unwrap_used, reason = "a test stops at what it does not expect")]

mod poppler;

use jiff::civil::date;
use poppler::text_of;
use wintercrib::demo;
use wintercrib::exchange::print::{CAUTION, Paper, PrintFault, unwatched};
use wintercrib::exchange::tray_prints::{
    PrintedTrays, RetestReason, TrayPrint, TrayPrintFault, TrayPrintOrder, tray_print,
};
use wintercrib::insight::Insight;
use wintercrib::model::{
    About, CellContent, Command, Document, EarDraft, EarId, Existing, Project, SeasonId, Stamp, TestDesign,
    TestId, TrayPlan,
};

const PAPERS: [Paper; 2] = [Paper::Letter, Paper::A4];

fn stamp() -> Stamp {
    Stamp {
        at: date(2026, 12, 1).at(10, 0, 0, 0),
        by: String::new(),
    }
}

fn essel_thaw() -> Document {
    Document::new(demo::make("essel-thaw").unwrap())
}

/// A test of so many ears in trays of some plan.
fn test_of(ears: u32, plan: TrayPlan) -> Document {
    let mut document = Document::new(Project::new(About::new("DEMO Little Tarn", "demo-little-tarn")));
    let mut run = |command: &Command| document.run(command, &stamp()).unwrap();
    run(&Command::AddSeason {
        year: 2026,
        planted: None,
    });
    let draft = |ear: u32| EarDraft {
        row: Some((ear / 4 + 1).to_string()),
        ..EarDraft::default()
    };
    run(&Command::AddEars {
        season: SeasonId(1),
        drafts: (0..ears).map(draft).collect(),
        existing: Existing::Refuse,
    });
    run(&design("Cold test", plan, None));
    document
}

fn design(name: &str, plan: TrayPlan, ears: Option<Vec<EarId>>) -> Command {
    Command::DesignTest(TestDesign {
        season: SeasonId(1),
        replaces: None,
        name: name.to_owned(),
        plan,
        recipe: wintercrib::model::Recipe::default(),
        check_lot: String::new(),
        seed: 7,
        ears,
    })
}

fn order(paper: Paper) -> TrayPrintOrder {
    TrayPrintOrder {
        test: TestId(1),
        tray: None,
        paper,
        with_ears: true,
    }
}

fn print(document: &Document, what: TrayPrint, order: TrayPrintOrder) -> PrintedTrays {
    tray_print(document.project(), what, order, &reasons(document), &unwatched).unwrap()
}

/// The ears that are worth testing again, with why.
fn reasons(document: &Document) -> Vec<RetestReason> {
    let insight = Insight::default();
    let season = SeasonId(1);
    let retest = insight.retest(document, season, &insight.cutoffs(document, season));
    let reason = |ear: &wintercrib::insight::RetestEar| RetestReason {
        ear: ear.ear,
        reason: ear.sentence(),
    };
    retest.ears.iter().map(reason).collect()
}

fn words(pages: &[String]) -> Vec<&str> {
    pages.iter().flat_map(|page| page.split_whitespace()).collect()
}

fn numbers(document: &Document) -> Vec<String> {
    let ears = document.project().ears.iter();
    ears.map(|ear| ear.number.to_string()).collect()
}

#[test]
fn the_same_project_gives_the_same_bytes() {
    let document = essel_thaw();
    for what in TrayPrint::ALL {
        for (paper, name) in [(Paper::Letter, "letter"), (Paper::A4, "a4")] {
            let name = format!("print-{}-{name}", what.name().replace(' ', "-"));
            poppler::look(&name, &print(&document, what, order(paper)).pdf, 1);
        }
        let once = print(&document, what, order(Paper::A4));
        assert_eq!(once, print(&document, what, order(Paper::A4)), "{what:?}");
        let letter = print(&document, what, order(Paper::Letter));
        assert!(once.pdf != letter.pdf, "{what:?}");
    }
}

#[test]
fn every_page_has_the_caution_its_number_and_what_it_belongs_to() {
    let document = essel_thaw();
    for what in TrayPrint::ALL {
        for paper in PAPERS {
            let printed = print(&document, what, order(paper));
            let Some(pages) = text_of(&printed.pdf) else {
                return;
            };
            assert_eq!(pages.len(), printed.pages, "{what:?}");
            for (index, page) in pages.iter().enumerate() {
                for part in [
                    CAUTION,
                    "Cold test",
                    "2025",
                    "DEMO Essel Thaw",
                    &format!("page {} of {}", index + 1, pages.len()),
                ] {
                    assert!(page.contains(part), "{what:?}: no '{part}' in {page}");
                }
            }
        }
    }
}

#[test]
fn a_page_speaks_of_one_tray_only() {
    // Trays of 80 cells, whose lists take several pages each.
    let plan = TrayPlan {
        width_mm: 600.0,
        cell_width_mm: 30.0,
        ..TrayPlan::default()
    };
    let document = test_of(200, plan);
    for what in [TrayPrint::TrayMap, TrayPrint::LayingList, TrayPrint::ScoreSheet] {
        for paper in PAPERS {
            let Some(pages) = text_of(&print(&document, what, order(paper)).pdf) else {
                return;
            };
            let trays = (1..=3).map(|tray| format!("Tray {tray} of 3"));
            let trays: Vec<String> = trays.collect();
            for page in &pages {
                let named = trays.iter().filter(|tray| page.contains(tray.as_str()));
                assert_eq!(named.count(), 1, "{what:?}: {page}");
            }
            let firsts = pages.iter().filter(|page| !page.contains("continued"));
            assert!(what == TrayPrint::TrayMap || firsts.count() == 3, "{what:?}");
        }
    }
}

#[test]
fn trays_of_several_sizes_say_which_is_meant() {
    let other = |name: &str| wintercrib::model::OtherContainer {
        name: name.to_owned(),
        width_mm: 300.0,
        height_mm: 200.0,
        margin_mm: 5.0,
        trays: 2,
    };
    let plan = TrayPlan {
        others: vec![other("old bread tray")],
        ..TrayPlan::default()
    };
    let document = test_of(60, plan);
    for what in [TrayPrint::TrayMap, TrayPrint::LayingList, TrayPrint::ScoreSheet] {
        let Some(pages) = text_of(&print(&document, what, order(Paper::A4)).pdf) else {
            return;
        };
        let all = pages.concat();
        assert_eq!(
            all.matches("old bread tray, 11.81 × 7.87 in").count(),
            2,
            "{what:?}"
        );
        assert!(all.contains("season 2026, 16 × 12 in"), "{what:?}: {all}");
    }
    let blank = TrayPrintOrder {
        with_ears: false,
        ..order(Paper::A4)
    };
    let Some(pages) = text_of(&print(&document, TrayPrint::ClothMap, blank).pdf) else {
        return;
    };
    assert!(
        pages[0].contains("For trays 1 and 2, old bread tray"),
        "{}",
        pages[0]
    );
}

#[test]
fn every_ear_number_is_found_as_text() {
    let document = essel_thaw();
    for what in [
        TrayPrint::ClothMap,
        TrayPrint::TrayMap,
        TrayPrint::LayingList,
        TrayPrint::ScoreSheet,
    ] {
        for paper in PAPERS {
            let Some(pages) = text_of(&print(&document, what, order(paper)).pdf) else {
                return;
            };
            let found = words(&pages);
            for number in numbers(&document) {
                assert!(found.contains(&number.as_str()), "{what:?}: no ear {number}");
            }
        }
    }
}

#[test]
fn the_bar_measures_fifty_millimetres_when_the_sheet_is_drawn() {
    let document = essel_thaw();
    for paper in PAPERS {
        let blank = TrayPrintOrder {
            with_ears: false,
            ..order(paper)
        };
        let printed = print(&document, TrayPrint::ClothMap, blank);
        for page in 1..=printed.pages {
            let Some(picture) = Picture::of(&printed.pdf, page) else {
                return;
            };
            let bars = picture.bars(300, 25);
            assert_eq!(bars.len(), 1, "page {page}: {bars:?}");
            // 254 dots to the inch are ten to the millimetre.
            assert!((499..=501).contains(&bars[0]), "page {page}: {bars:?}");
        }
    }
}

/// A page drawn with 254 dots to the inch.
struct Picture {
    width: usize,
    dots: Vec<u8>,
}

impl Picture {
    fn of(pdf: &[u8], page: usize) -> Option<Self> {
        let page = page.to_string();
        let bytes = poppler::read(
            pdf,
            "pdftoppm",
            &["-r", "254", "-gray", "-f", &page, "-l", &page],
            &[],
        )?;
        // A portable graymap: P5, width, height, 255, then a byte a dot.
        let mut parts = bytes.splitn(4, u8::is_ascii_whitespace);
        assert_eq!(parts.next(), Some(&b"P5"[..]));
        let mut number = || -> usize {
            std::str::from_utf8(parts.next().unwrap())
                .unwrap()
                .parse()
                .unwrap()
        };
        let (width, height) = (number(), number());
        let dots = bytes[bytes.len() - width * height..].to_vec();
        Some(Self { width, dots })
    }

    /// Lengths of black bars that are at least so long and so thick, in dots.
    fn bars(&self, length: usize, thickness: usize) -> Vec<usize> {
        let mut open: Vec<(usize, usize, usize)> = Vec::new();
        let mut found = Vec::new();
        for row in self.dots.chunks(self.width) {
            let runs = runs(row, length);
            open = runs
                .into_iter()
                .map(|(begin, end)| {
                    let above = open
                        .iter()
                        .find(|(left, right, _)| (*left, *right) == (begin, end));
                    (begin, end, above.map_or(0, |(_, _, rows)| *rows) + 1)
                })
                .collect();
            let thick = open.iter().filter(|(_, _, rows)| *rows == thickness);
            found.extend(thick.map(|(begin, end, _)| end - begin));
        }
        found
    }
}

/// Begin and end of the runs of dark dots that are at least so long.
fn runs(row: &[u8], length: usize) -> Vec<(usize, usize)> {
    let mut runs = Vec::new();
    let mut begin = None;
    for (at, dot) in row.iter().chain(&[255]).enumerate() {
        match (begin, *dot < 128) {
            (None, true) => begin = Some(at),
            (Some(from), false) => {
                if at - from >= length {
                    runs.push((from, at));
                }
                begin = None;
            }
            _ => {}
        }
    }
    runs
}

#[test]
fn a_cloth_without_ear_numbers_is_good_for_all_trays_of_its_shape() {
    let document = essel_thaw();
    let blank = TrayPrintOrder {
        with_ears: false,
        ..order(Paper::A4)
    };
    let printed = print(&document, TrayPrint::ClothMap, blank);
    assert_eq!((printed.pages, printed.trays.as_str()), (6, "9 trays"));
    if let Some(pages) = text_of(&printed.pdf) {
        for page in &pages {
            assert!(page.contains("For each of the 9 trays"), "{page}");
            assert!(page.contains("This bar is 50 mm"), "{page}");
            assert!(page.contains("Print at 100 %, not fit to page"), "{page}");
        }
        // Every cell has its name once.
        let found = words(&pages);
        for row in ["A", "B", "C", "D"] {
            for column in 1..=8 {
                let name = format!("{row}{column}");
                assert_eq!(found.iter().filter(|word| **word == name).count(), 1, "{name}");
            }
        }
    }
    // With ear numbers each tray has its own.
    let all = print(&document, TrayPrint::ClothMap, order(Paper::A4));
    assert_eq!(all.pages, 54);
    let one = TrayPrintOrder {
        tray: Some(3),
        ..order(Paper::A4)
    };
    assert_eq!(print(&document, TrayPrint::ClothMap, one).pages, 6);
}

#[test]
fn the_laying_list_has_code_place_kernels_and_a_read_back_for_each_row() {
    let document = essel_thaw();
    let project = document.project();
    let Some(pages) = text_of(&print(&document, TrayPrint::LayingList, order(Paper::Letter)).pdf) else {
        return;
    };
    let all = pages.concat();
    for cell in project.cells.iter() {
        let CellContent::Ear(id) = cell.content else {
            continue;
        };
        let ear = project.ears.get(id).unwrap();
        let line = all
            .lines()
            .find(|line| line.contains(&ear.code.to_string()))
            .unwrap();
        let found: Vec<&str> = line.split_whitespace().collect();
        assert_eq!(found[0], cell.name(), "{line}");
        assert_eq!(found[1], ear.number.to_string(), "{line}");
        let kernels = project.sown(cell).to_string();
        assert_eq!(found.last(), Some(&kernels.as_str()), "{line}");
        assert_eq!(found[3], project.mother_label(ear), "{line}");
        let place = project
            .packets_of(id)
            .next()
            .map_or("no packet", |packet| packet.location.as_str());
        assert!(line.contains(place), "'{place}' is not in {line}");
    }
    assert_eq!(all.matches("Read back:").count(), 9 * 4);
    for row in ["A", "B", "C", "D"] {
        assert!(all.contains(&format!("of row {row}, {row}")), "{row}");
    }
}

#[test]
fn a_blind_score_sheet_tells_no_ear() {
    let document = essel_thaw();
    let blind = TrayPrintOrder {
        with_ears: false,
        ..order(Paper::Letter)
    };
    let Some(pages) = text_of(&print(&document, TrayPrint::ScoreSheet, blind).pdf) else {
        return;
    };
    let found = words(&pages);
    assert!(!found.contains(&"Ear") && !found.contains(&"check"));
    // Numbers that cannot be a count of pages, days or kernels.
    for number in ["31", "57", "111", "199", "213", "239"] {
        assert!(!found.contains(&number), "ear {number} shows");
    }
    for column in [
        "strong", "weak", "abnormal", "dead", "fresh", "missing", "vigor", "mould", "note",
    ] {
        assert!(pages.iter().all(|page| page.contains(column)), "{column}");
    }
    assert!(
        pages
            .iter()
            .all(|page| page.contains("Scorer") && page.contains("Date and time"))
    );
    // A sum after each row of cells, one for each tray.
    let rows = found
        .windows(2)
        .filter(|pair| pair[0] == "Row" && pair[1].len() == 1);
    assert_eq!(rows.count(), 9 * 4);
    // In the order of the screen.
    let cells: Vec<String> = document
        .project()
        .cells_of(document.project().trays_of(TestId(1)).next().unwrap().id)
        .map(wintercrib::model::Cell::name)
        .collect();
    let mut seen = found
        .iter()
        .filter(|word| cells.iter().any(|cell| cell == **word));
    assert!(cells.iter().all(|cell| seen.next() == Some(&cell.as_str())));
}

#[test]
fn the_retest_list_names_old_and_new_cells() {
    let mut document = essel_thaw();
    let before = print(&document, TrayPrint::RetestList, order(Paper::A4));
    let wanted = reasons(&document);
    assert!(wanted.len() > 10);
    if let Some(pages) = text_of(&before.pdf) {
        let all = pages.concat();
        assert!(all.contains("No retest is designed yet"), "{all}");
        for one in &wanted {
            let code = document.project().ears.get(one.ear).unwrap().code.to_string();
            assert!(all.contains(&code), "{code}");
        }
    }
    let again: Vec<EarId> = wanted.iter().take(3).map(|one| one.ear).collect();
    document
        .run(
            &design("Retest", TrayPlan::default(), Some(again.clone())),
            &stamp(),
        )
        .unwrap();
    let retest = TrayPrintOrder {
        test: TestId(2),
        ..order(Paper::A4)
    };
    let after = print(&document, TrayPrint::RetestList, retest);
    poppler::look("print-retest-list-made", &after.pdf, 1);
    let Some(pages) = text_of(&after.pdf) else { return };
    let all = pages.concat();
    let project = document.project();
    for id in again {
        let code = project.ears.get(id).unwrap().code.to_string();
        let line = all.lines().find(|line| line.contains(&code)).unwrap();
        for cell in project.cells_of_ear(id) {
            let tray = project.trays.get(cell.tray).unwrap();
            let place = format!("tray {}, {}", tray.number, cell.name());
            assert!(line.contains(&place), "'{place}' is not in {line}");
        }
        assert!(line.contains("germinated before"), "{line}");
    }
    // An ear that is in the first test only is not in the list.
    assert_eq!(all.matches("ET25-").count(), 3);
}

#[test]
fn trays_of_every_size_print_or_say_why_not() {
    let plan = |width: f64, height: f64, cell: f64| TrayPlan {
        width_mm: width,
        height_mm: height,
        cell_width_mm: cell,
        cell_height_mm: cell,
        checks: 0,
        landmarks: 0,
        ..TrayPlan::default()
    };
    for (ears, plan) in [
        (1, plan(60.0, 60.0, 60.0)),
        (1, plan(12.0, 12.0, 10.0)),
        (900, plan(1_000.0, 800.0, 25.0)),
        (3, plan(900.0, 700.0, 400.0)),
    ] {
        let document = test_of(ears, plan.clone());
        for what in TrayPrint::ALL {
            for paper in PAPERS {
                let is_optional = matches!(what, TrayPrint::ClothMap | TrayPrint::ScoreSheet);
                for with_ears in [true, false].into_iter().take(1 + usize::from(is_optional)) {
                    let order = TrayPrintOrder {
                        with_ears,
                        ..order(paper)
                    };
                    let printed = print(&document, what, order);
                    assert!(printed.pages >= 1, "{what:?} {plan:?}");
                    if paper == Paper::A4 && with_ears {
                        let name = format!(
                            "print-{}-{ears}-ears-{}",
                            what.name().replace(' ', "-"),
                            plan.width_mm
                        );
                        poppler::look(&name, &printed.pdf, 1);
                    }
                    let Some(pages) = text_of(&printed.pdf) else {
                        return;
                    };
                    if what == TrayPrint::TrayMap || (what == TrayPrint::LayingList && with_ears) {
                        let found = words(&pages);
                        for number in numbers(&document) {
                            assert!(
                                found.contains(&number.as_str()),
                                "{what:?} {plan:?}: no ear {number}"
                            );
                        }
                    }
                }
            }
        }
    }
    // Ten metres each way: nobody glues so many sheets.
    let document = test_of(2, plan(10_000.0, 10_000.0, 500.0));
    let fault = tray_print(
        document.project(),
        TrayPrint::ClothMap,
        order(Paper::A4),
        &[],
        &unwatched,
    )
    .unwrap_err();
    let TrayPrintFault::TooManySheets { sheets } = &fault else {
        panic!("{fault}")
    };
    assert!(*sheets > 2_000);
    assert!(fault.to_string().contains("at most"), "{fault}");
    assert_eq!(print(&document, TrayPrint::TrayMap, order(Paper::A4)).pages, 1);
}

#[test]
fn whoever_watches_a_print_sees_it_go_on_and_can_stop_it() {
    let document = essel_thaw();
    for what in TrayPrint::ALL {
        let told = std::cell::RefCell::new(Vec::new());
        let stop_at = std::cell::Cell::new(usize::MAX);
        let watch = |done: f32| {
            told.borrow_mut().push(done);
            told.borrow().len() < stop_at.get()
        };
        let reasons = reasons(&document);
        let print = || tray_print(document.project(), what, order(Paper::A4), &reasons, &watch);
        assert_eq!(
            print().unwrap().pdf,
            self::print(&document, what, order(Paper::A4)).pdf,
            "{what:?}"
        );
        let all = told.take();
        assert!(all.is_sorted() && all.len() > 2, "{what:?}: {all:?}");
        assert!(all[0] >= 0.0 && all[all.len() - 1] < 1.0, "{what:?}: {all:?}");
        // Stopped at the beginning, on the way or at the end, it is, and says so.
        for at in [1, all.len() / 2, all.len()] {
            stop_at.set(at);
            let fault = print().unwrap_err();
            assert_eq!(fault, TrayPrintFault::Print(PrintFault::Stopped), "{what:?}");
            assert_eq!(told.take().len(), at, "{what:?}");
        }
    }
}

#[test]
fn a_tray_or_test_that_is_not_there_is_named() {
    let document = test_of(2, TrayPlan::default());
    let fault = |order| {
        tray_print(document.project(), TrayPrint::TrayMap, order, &[], &unwatched)
            .unwrap_err()
            .to_string()
    };
    let tray = TrayPrintOrder {
        tray: Some(4),
        ..order(Paper::A4)
    };
    assert_eq!(
        fault(tray),
        "The test 'Cold test' has no tray 4: it has 1 tray. Choose one of them"
    );
    let test = TrayPrintOrder {
        test: TestId(9),
        ..order(Paper::A4)
    };
    assert!(fault(test).contains("no longer in the project"));
}

#[test]
fn long_names_and_letters_of_other_scripts_do_not_break_a_print() {
    let mut document = test_of(3, TrayPlan::default());
    let mut run = |command: &Command| document.run(command, &stamp()).unwrap();
    let name = "Кукуруза ранняя, παλιός σπόρος, étage supérieur ".repeat(4);
    run(&Command::Describe(About {
        name: name.clone(),
        ..About::new("x", "demo-little-tarn")
    }));
    let test = wintercrib::model::Recipe::default();
    run(&Command::EditTest {
        test: TestId(1),
        name: name.clone(),
        recipe: test,
        check_lot: name.clone(),
    });
    for what in TrayPrint::ALL {
        for paper in PAPERS {
            let printed = print(&document, what, order(paper));
            if paper == Paper::Letter {
                let name = format!("print-{}-long-names", what.name().replace(' ', "-"));
                poppler::look(&name, &printed.pdf, 1);
            }
            let Some(pages) = text_of(&printed.pdf) else {
                return;
            };
            let all = pages.concat();
            assert!(
                all.contains("Кукуруза ранняя, παλιός σπόρος, étage"),
                "{what:?}: {all}"
            );
            assert!(all.contains(CAUTION), "{what:?}");
        }
    }
}

#[test]
fn all_fonts_are_embedded() {
    let document = essel_thaw();
    for what in TrayPrint::ALL {
        let printed = print(&document, what, order(Paper::A4));
        let Some(list) = poppler::read(&printed.pdf, "pdffonts", &[], &[]) else {
            return;
        };
        let list = String::from_utf8(list).unwrap();
        let fonts: Vec<&str> = list.lines().skip(2).collect();
        assert!(!fonts.is_empty(), "{list}");
        for font in fonts {
            // Columns: name, type, encoding, emb, sub, uni, object number and generation.
            let from_the_end: Vec<&str> = font.split_whitespace().rev().collect();
            assert_eq!(from_the_end[4], "yes", "{list}");
        }
    }
}

//! The trays of a test, printed by the real program.

mod cli_run;

use cli_run::{Folder, SAMPLE, changed, without};

const PRINTS: [&str; 5] = [
    "cloth-map",
    "tray-map",
    "laying-list",
    "score-sheet",
    "retest-list",
];

#[test]
fn every_print_is_written_and_told() {
    let folder = Folder::with(SAMPLE);
    for (what, words) in PRINTS.into_iter().zip([
        "cloth map",
        "tray map",
        "laying list",
        "score sheet",
        "retest list",
    ]) {
        let ran = folder
            .run(&format!("print p.ron {what} --out {what}.pdf"))
            .ends_with(0);
        assert!(
            ran.out
                .starts_with(&format!("Printed the {words} of tray 1 of 'cold test' on "))
                && ran.out.ends_with(&format!(" to {what}.pdf.\n")),
            "{ran:?}"
        );
        let pdf = &folder.files()[&format!("{what}.pdf")];
        assert!(pdf.starts_with(b"%PDF-"), "{what}");
        folder
            .run_untouched(&format!("print p.ron {what} --out {what}.pdf"))
            .refuses(2, &["There is a file of this name", "--force"]);
        // The same project gives the same bytes.
        folder
            .run(&format!(
                "print p.ron {what} --tray 1 --season 2026 --out again.pdf --force"
            ))
            .ends_with(0);
        assert!(folder.files()["again.pdf"] == *pdf, "{what}");
    }
}

#[test]
fn what_cannot_be_printed_is_said_with_a_remedy() {
    let folder = Folder::with(SAMPLE);
    for (line, parts) in [
        ("print p.ron tray-map", &["--out", ".pdf"][..]),
        ("print p.ron tray-map --out m.txt", &["m.txt", ".pdf"]),
        (
            "print p.ron tray-maps --out m.pdf",
            &["'tray-maps'", "tray-map", "planting-list"],
        ),
        (
            "print p.ron tray-map --tray 9 --out m.pdf",
            &["no tray 9", "it has 1 tray"],
        ),
        (
            "print p.ron tray-map --tray x --out m.pdf",
            &["--tray 'x'", "such as 3"],
        ),
        (
            "print p.ron tray-map --test warm --out m.pdf",
            &["no test 'warm'", "'cold test'"],
        ),
        (
            "print p.ron tray-map --season 1999 --out m.pdf",
            &["no season 1999", "2026"],
        ),
        (
            "print p.ron tray-map --version 2 --out m.pdf",
            &["--version", "Leave it out"],
        ),
        (
            "print p.ron tray-map --ear-numbers no --out m.pdf",
            &["--ear-numbers", "Leave it out"],
        ),
        (
            "print p.ron score-sheet --ear-numbers maybe --out m.pdf",
            &["'maybe'", "yes or no"],
        ),
        (
            "print p.ron planting-list --tray 1 --out m.pdf",
            &["--tray", "a planting list"],
        ),
        (
            "print p.ron tray-map --paper a3 --out m.pdf",
            &["'a3'", "letter or a4"],
        ),
    ] {
        folder.run_untouched(line).refuses(2, parts);
    }
    let bare = Folder::with(&without("counts"));
    bare.run("print p.ron retest-list --out r.pdf").ends_with(0);
    let none = Folder::with(&NO_TEST.iter().fold(SAMPLE.to_owned(), |text, section| {
        let begin = text.find(&format!("\n  {section}: [\n")).unwrap();
        let end = begin + text[begin..].find("\n  ],").unwrap();
        format!("{}\n  {section}: [{}", &text[..begin], &text[end + 3..])
    }));
    none.run_untouched("print p.ron tray-map --out m.pdf")
        .refuses(2, &["no test yet", "Design one"]);
    let huge = Folder::with(&changed(
        "width_mm: 406.4, height_mm: 304.79999999999995",
        "width_mm: 10000.0, height_mm: 10000.0",
    ));
    huge.run_untouched("print p.ron cloth-map --out m.pdf")
        .refuses(2, &["sheets of paper", "400 at most", "tape measure"]);
    huge.run("print p.ron tray-map --out m.pdf").ends_with(0);
}

/// What goes when there is no test.
const NO_TEST: [&str; 4] = ["tests", "trays", "cells", "counts"];

#[test]
fn labels_and_sheets_are_written_and_told() {
    let folder = Folder::with(SAMPLE);
    for (line, told) in [
        (
            "labels",
            "packet labels, 12 labels, on 1 page of 3 \u{d7} 10, 66.7 \u{d7} 25.4 mm on Letter",
        ),
        (
            "labels --ears 1-3,7 --slips too --start 30",
            "packet labels and inside slips, 8 labels, on 2 pages of",
        ),
        (
            "labels --ears 4 --slips only --paper a4 --grid 2x7",
            "inside slips, 1 label, on 1 page of 2 \u{d7} 7, 99.1",
        ),
        (
            "labels --grid 2x2 --label 80x60 --gap 5x5 --edge 10x10 --square no --outlines",
            "packet labels, 12 labels, on 3 pages of 2 \u{d7} 2, 80 \u{d7} 60 mm",
        ),
        ("label-test --paper a4", "a test page, 21 labels, on 1 page"),
        ("stakes", "row stakes, "),
        ("stand-sheet", "the stand sheet of planting list 2026 version 1, "),
        (
            "flowering-sheet --paper a4",
            "the flowering sheet of planting list",
        ),
        (
            "detassel-sheet --version 1",
            "the detassel sheet of planting list",
        ),
        (
            "planting-sheet",
            "the planting sheet of planting list 2026 version 1, ",
        ),
        ("cull-list --season 2026", "the cull list, "),
    ] {
        let ran = folder
            .run(&format!("print p.ron {line} --out l.pdf --force"))
            .ends_with(0);
        assert!(ran.out.starts_with(&format!("Printed {told}")), "{line}: {ran:?}");
        assert!(folder.files()["l.pdf"].starts_with(b"%PDF-"), "{line}");
    }
    for (line, parts) in [
        ("labels --ears 99", &["no ear 99"][..]),
        ("labels --ears x", &["'x' is not an ear"]),
        ("labels --grid 9x9", &["No common sheet", "3x10", "--label"]),
        ("labels --grid three", &["--grid 'three'", "such as 3x10"]),
        ("labels --label 66x25", &["--grid"]),
        ("labels --gap 1x1", &["--gap", "--label"]),
        ("labels --grid 9x9 --label 66x25", &["215.9 mm wide"]),
        ("labels --start 31", &["30 labels", "1 to 30"]),
        ("labels --version 1", &["--version"]),
        ("labels --tray 1", &["--tray"]),
        ("stakes --ears 1", &["--ears"]),
        ("stand-sheet --start 2", &["--start"]),
        ("field-map", &["not planned yet", "in the pane Planting"]),
        ("field-map --start 2", &["--start"]),
        ("stand-sheet --version 9", &["no planting list 9"]),
        ("label-test --start 2", &["--start"]),
        ("cull-list --version 1", &["--version"]),
        ("tray-map --grid 3x10", &["--grid"]),
    ] {
        folder
            .run_untouched(&format!("print p.ron {line} --out m.pdf"))
            .refuses(2, parts);
    }
}

#[test]
fn what_moves_with_the_cutoffs_is_drawn_and_told() {
    let folder = Folder::with(SAMPLE);
    for (what, start) in [("curve", "<?xml"), ("frontier", "<?xml")] {
        let ran = folder
            .run(&format!("print p.ron {what} --out {what}.svg"))
            .ends_with(0);
        assert_eq!(
            ran.out,
            format!("Drew the {what} with the cutoffs of the season to {what}.svg.\n")
        );
        assert!(folder.text(&format!("{what}.svg")).starts_with(start));
        folder
            .run(&format!("print p.ron {what} --out {what}.pdf --paper a4"))
            .ends_with(0);
        folder
            .run(&format!("print p.ron {what} --out {what}.png --dots 800x500"))
            .ends_with(0);
        assert!(folder.files()[&format!("{what}.pdf")].starts_with(b"%PDF-"));
        assert!(folder.files()[&format!("{what}.png")].starts_with(b"\x89PNG"));
        folder
            .run_untouched(&format!("print p.ron {what} --likely --out x.svg"))
            .refuses(2, &["--likely", &format!("the {what}"), "Leave it out"]);
        folder
            .run_untouched(&format!("print p.ron {what} --out x.txt"))
            .refuses(2, &["x.txt", ".svg or .png or .pdf"]);
    }
    let bare = Folder::with(&without("counts"));
    bare.run_untouched("print p.ron curve --out c.svg")
        .refuses(2, &["No ear of this season has a final count"]);
    bare.run_untouched("print p.ron frontier --out f.svg")
        .refuses(2, &["There is no frontier to draw"]);
}

#[test]
fn the_report_is_printed_and_takes_no_options_of_others() {
    let folder = Folder::with(SAMPLE);
    let ran = folder.run("print p.ron report --out r.pdf").ends_with(0);
    assert!(
        ran.out.starts_with("Printed the report of season 2026 on ") && ran.out.ends_with(" to r.pdf.\n"),
        "{ran:?}"
    );
    for (option, words) in [
        ("--tray 1", "--tray"),
        ("--likely", "--likely"),
        ("--version 1", "--version"),
    ] {
        folder
            .run_untouched(&format!("print p.ron report {option} --out x.pdf"))
            .refuses(2, &[words, "the report", "Leave it out"]);
    }
    folder
        .run_untouched("print p.ron report --season 1999 --out x.pdf")
        .refuses(2, &["no season 1999", "2026"]);
    folder
        .run_untouched("print p.ron report --out x.txt")
        .refuses(2, &["x.txt", ".pdf"]);
}

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

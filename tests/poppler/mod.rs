//! What readers of PDF find in a print: its text, its fonts, its picture. Without poppler-utils nothing is found and
//! that is said loudly; under `CI` it is a failure.
#![expect(clippy::unwrap_used, reason = "a helper fails its test by panicking")]

use std::io::Write as _;
use std::process::Command;

/// Runs a reader on a PDF; none, loudly, where it is not installed.
pub fn read(pdf: &[u8], reader: &str, before: &[&str], after: &[&str]) -> Option<Vec<u8>> {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("print.pdf");
    std::fs::File::create(&file).unwrap().write_all(pdf).unwrap();
    let output = match Command::new(reader).args(before).arg(&file).args(after).output() {
        Ok(output) => output,
        Err(error) => {
            assert!(
                std::env::var_os("CI").is_none(),
                "{reader} is needed here, install poppler-utils: {error}"
            );
            eprintln!(
                "NOT TESTED: what {reader} (poppler-utils) finds in the PDF, it is not installed: {error}"
            );
            return None;
        }
    };
    assert!(output.status.success(), "{output:?}");
    Some(output.stdout)
}

/// Saves a page as `target/looks/NAME.png`, for a person to look at.
pub fn look(name: &str, pdf: &[u8], page: usize) {
    let page = page.to_string();
    let args = ["-r", "60", "-png", "-singlefile", "-f", &page, "-l", &page];
    let Some(picture) = read(pdf, "pdftoppm", &args, &[]) else {
        return;
    };
    let folder = std::path::Path::new(env!("CARGO_MANIFEST_DIR")).join("target/looks");
    std::fs::create_dir_all(&folder).unwrap();
    let mut file = std::fs::File::create(folder.join(format!("{name}.png"))).unwrap();
    file.write_all(&picture).unwrap();
}

/// The text of each page as it is laid out.
pub fn text_of(pdf: &[u8]) -> Option<Vec<String>> {
    let text = read(pdf, "pdftotext", &["-layout", "-enc", "UTF-8"], &["-"])?;
    let text = String::from_utf8(text).unwrap();
    let pages = text.split('\u{c}').filter(|page| !page.is_empty());
    Some(pages.map(str::to_owned).collect())
}

// Each test file uses a part of this module; naming the parts keeps the rest from being called dead code.
const _: () = {
    let _: fn(&str, &[u8], usize) = look;
    let _: fn(&[u8]) -> Option<Vec<String>> = text_of;
};

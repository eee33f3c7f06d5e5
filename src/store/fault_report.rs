//! What a fault of the program leaves beside the project: a report, which the next opening tells of.
//!
//! Every change that was accepted is in the journal by then; the report is for whoever mends the program, and so that the
//! grower knows why the window closed.

use std::backtrace::Backtrace;
use std::convert::Infallible;
use std::io::{self, Write as _};
use std::panic::PanicHookInfo;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};
use std::time::{SystemTime, UNIX_EPOCH};

use super::atomic;
use super::companion;

/// The project that is open, beside which a report would go.
static OPEN: Mutex<Option<PathBuf>> = Mutex::new(None);

/// Says which project is open; none for one without a file.
pub fn now_open(project: Option<&Path>) {
    *OPEN.lock().unwrap_or_else(PoisonError::into_inner) = project.map(Path::to_path_buf);
}

/// From now on a fault of the program writes its report beside the project that is open, and says on the standard error
/// what it means for the grower's work.
pub fn watch() {
    std::panic::set_hook(Box::new(|info| {
        let said = said(info);
        // When the standard error is closed, there is nobody to tell.
        writeln!(io::stderr(), "wintercrib: {said}").unwrap_or_default();
    }));
}

/// Writes the report and puts the fault into a sentence.
fn said(info: &PanicHookInfo<'_>) -> String {
    let place = info
        .location()
        .map_or_else(String::new, |place| format!(" at {place}"));
    let why = info.payload_as_str().unwrap_or("no reason given");
    // A fault while something is made beside the window is caught there, and the window goes on.
    let goes_on = std::thread::current().name() == Some("worker");
    let what = if goes_on {
        "ended a piece of work"
    } else {
        "stopped it"
    };
    let head = format!("A fault of the program {what}{place} ({why}).");
    let open = OPEN.lock().unwrap_or_else(PoisonError::into_inner).clone();
    let Some(project) = open else {
        return format!(
            "{head} Every change that was accepted before is in the file beside the project whose name ends in .journal: \
             open the project again to go on, and please report this"
        );
    };
    let report = if goes_on {
        companion(&project, "", ".fault-beside.txt")
    } else {
        path(&project)
    };
    let written = write(&report, &text(&head));
    let journal = companion(&project, "", ".journal");
    let please = match written {
        Ok(()) => format!("please send {} to whoever keeps the program", report.display()),
        Err(error) => format!("please report this; no report could be written ({error})"),
    };
    if goes_on {
        return format!("{head} Nothing of your project is touched; {please}");
    }
    format!(
        "{head} Every change that was accepted before is in {}: open the project again to go on, and {please}",
        journal.display()
    )
}

fn write(report: &Path, text: &str) -> io::Result<()> {
    let whole = |_: &[u8]| Ok::<(), Infallible>(());
    atomic::write_alone(report, text.as_bytes(), whole).map_err(|fault| io::Error::other(fault.to_string()))
}

fn text(head: &str) -> String {
    let since = SystemTime::now().duration_since(UNIX_EPOCH).unwrap_or_default();
    format!(
        "{head}\n\nVersion {}, on {} {}, {} seconds after 1970-01-01 UTC, in the thread '{}'.\n\n{}\n",
        env!("CARGO_PKG_VERSION"),
        std::env::consts::OS,
        std::env::consts::ARCH,
        since.as_secs(),
        std::thread::current().name().unwrap_or("without a name"),
        Backtrace::force_capture(),
    )
}

/// Where the report of the project at `project` lies until it was told of.
fn path(project: &Path) -> PathBuf {
    companion(project, "", ".fault.txt")
}

/// Looks for a report of the last time that the project at `project` was open, and gives the name under which it is kept
/// from now on, so that it is told of once.
///
/// # Errors
/// A report that cannot be renamed; it is told of again next time.
pub fn take(project: &Path) -> io::Result<Option<PathBuf>> {
    let report = path(project);
    if !report.is_file() {
        return Ok(None);
    }
    let told = super::first_free(|number| match number {
        1 => companion(project, "", ".fault-told.txt"),
        _ => companion(project, "", &format!(".fault-told-{number}.txt")),
    });
    std::fs::rename(&report, &told)?;
    Ok(Some(told))
}

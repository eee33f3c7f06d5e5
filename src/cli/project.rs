//! Opening projects and writing files, as all verbs do it.

use std::fs::{self, File};
use std::io::{self, Read as _, Write as _};
use std::path::Path;

use jiff::civil::DateTime;
use wintercrib::model::{Project, SeasonId};
use wintercrib::store::project_file::{self, Opened};
use wintercrib::store::{atomic, lock};

use super::{Stop, Target};

/// Reads a project without asking for its lock.
pub(super) fn read(file: &Path) -> Result<Opened, Stop> {
    let opened = project_file::read(file).map_err(|fault| Stop::cannot(fault.to_string()))?;
    tell_notes(&opened);
    Ok(opened)
}

/// Reads another project, of which something is taken or shown; refuses when it breaks rules.
pub(super) fn read_other(file: &Path) -> Result<Opened, Stop> {
    let other = read(file)?;
    if !other.problems.is_empty() {
        return Err(Stop::cannot(format!(
            "The other project breaks rules, so nothing was taken. 'wintercrib check {0}' lists them: {0}",
            file.display()
        )));
    }
    Ok(other)
}

/// Opens a project to change it; refuses when somebody else has it open or it breaks rules.
pub(super) fn open(file: &Path) -> Result<Opened, Stop> {
    let owner = format!("{}, importing", lock::this_process());
    let opened = project_file::open(file, &owner).map_err(|fault| Stop::cannot(fault.to_string()))?;
    if let Some(why) = opened.file.read_only() {
        let remedy = if opened.problems.is_empty() {
            "Close it there or make the file writable, then try again".to_owned()
        } else {
            format!("'wintercrib check {}' lists what to correct", file.display())
        };
        return Err(Stop::cannot(format!(
            "{} cannot be changed: {why}. {remedy}. Nothing was taken",
            file.display()
        )));
    }
    tell_notes(&opened);
    Ok(opened)
}

/// Puts what was changed into the journal and saves.
pub(super) fn save(opened: &mut Opened) -> Result<(), Stop> {
    let cannot = |fault: project_file::StoreFault| Stop::cannot(fault.to_string());
    opened.file.flush(&mut opened.document).map_err(cannot)?;
    let job = opened.file.save_job(&mut opened.document).map_err(cannot)?;
    // The journal has everything by now, so even if the save fails nothing is lost.
    let saved = job.run().map_err(|fault| {
        Stop::cannot(format!(
            "All of it is in the journal, and the next opening takes it up. {fault}"
        ))
    })?;
    saved.tell(&mut opened.document);
    for note in opened.file.take_notes() {
        tell(&note);
    }
    Ok(())
}

fn tell_notes(opened: &Opened) {
    for note in &opened.notes {
        tell(note);
    }
}

/// Tells a person something besides the output.
pub(super) fn tell(note: &str) {
    // When the standard error is closed, there is nobody to tell.
    writeln!(io::stderr(), "note: {note}").unwrap_or_default();
}

/// The time by the computer's clock.
pub(super) fn now() -> DateTime {
    jiff::ZonedDateTime::now().datetime()
}

/// Says `1 ear`, `2 ears`.
pub(super) fn counted(number: usize, what: &str) -> String {
    if number == 1 {
        format!("1 {what}")
    } else {
        format!("{number} {what}s")
    }
}

/// Says `there is 1 problem`, `there are 2 problems`.
pub(super) fn there_are(number: usize, what: &str) -> String {
    let verb = if number == 1 { "is" } else { "are" };
    format!("there {verb} {}", counted(number, what))
}

/// Finds a season by its year, or the latest.
pub(super) fn season(project: &Project, year: Option<i16>) -> Result<SeasonId, Stop> {
    let years = || {
        let mut years: Vec<i16> = project.seasons.iter().map(|season| season.year).collect();
        years.sort_unstable();
        years.iter().map(i16::to_string).collect::<Vec<_>>().join(", ")
    };
    let found = match year {
        Some(year) => project.season_of_year(year),
        None => project.latest_season(),
    };
    match (found, year) {
        (Some(season), _) => Ok(season.id),
        (None, Some(year)) if !project.seasons.is_empty() => Err(Stop::cannot(format!(
            "The project has no season {year}. Choose one of {} with --season",
            years()
        ))),
        _ => Err(Stop::cannot(
            "The project has no season yet. Begin one in the window, then try again",
        )),
    }
}

/// Reads a file whole if it is not larger than some bytes; one byte more tells that it is.
pub(super) fn read_at_most(path: &Path, most: usize) -> Result<Vec<u8>, Stop> {
    let about = |error: io::Error| {
        Stop::cannot(format!(
            "Could not read the table ({error}). Check its name: {}",
            path.display()
        ))
    };
    if fs::metadata(path).map_err(about)?.is_dir() {
        return Err(Stop::cannot(format!(
            "This is a folder, not a table. Name a file in it: {}",
            path.display()
        )));
    }
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(about)?;
    file.take(most as u64 + 1)
        .read_to_end(&mut bytes)
        .map_err(about)?;
    Ok(bytes)
}

/// Writes a file whole or not at all. One that is there is replaced only by force, and kept as `.bak`.
pub(super) fn write(to: &Target, bytes: &[u8]) -> Result<(), Stop> {
    if !to.force && to.path.exists() {
        return Err(Stop::cannot(format!(
            "There is a file of this name already. Choose another name, or add --force to replace it: {}",
            to.path.display()
        )));
    }
    let sound = |_: &[u8]| Ok::<(), Stop>(());
    atomic::write(&to.path, bytes, sound).map_err(|fault| Stop::cannot(fault.to_string()))
}

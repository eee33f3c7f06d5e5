//! `replay`: the changes of another journal, carried out one by one.

use std::fs::File;
use std::io::{self, BufRead, BufReader, Read as _, Write};
use std::path::Path;

use wintercrib::model::{Event, plural};
use wintercrib::store::history;

use super::{Replay, Stop, project};

/// The longest line of a journal that is read, in bytes.
const LONGEST_LINE: u64 = 1 << 28;

/// A line of a journal: its number, from 1, and the change in it, or what is wrong with it.
type Line = (usize, Result<Event, String>);

pub(super) fn run(replay: &Replay, out: &mut dyn Write) -> Result<(), Stop> {
    let mut opened = if replay.dry_run {
        project::read(&replay.file)?
    } else {
        project::open(&replay.file)?
    };
    let mut done = 0;
    let mut stopped = None;
    let mut each = |(number, event): Line| -> Result<bool, Stop> {
        let outcome = event.and_then(|event| {
            let problem = opened.document.carry_out(event).err();
            problem.map_or(Ok(()), |problem| {
                let place = opened.document.project().place_name(problem.place);
                Err(format!("{place}: {problem}"))
            })
        });
        if let Err(why) = outcome {
            stopped = Some((number, why));
            return Ok(false);
        }
        done += 1;
        if replay.dry_run {
            return Ok(true);
        }
        opened
            .file
            .flush(&mut opened.document)
            .map_err(|fault| Stop::cannot(fault.to_string()))?;
        if replay.save_every.is_some_and(|every| done % every.get() == 0) {
            project::save(&mut opened)?;
        }
        // Whoever sends the changes may wait for this before sending the next one.
        writeln!(out, "{done} on disk")?;
        out.flush()?;
        Ok(true)
    };
    if replay.journal == Path::new("-") {
        changes(io::stdin().lock(), true, &mut each)?;
    } else {
        let file = File::open(&replay.journal).map_err(|error| cannot_read(&error, &replay.journal))?;
        changes(BufReader::new(file), replay.all, &mut each)?;
    }
    let said = plural(done as usize, "change");
    if !replay.dry_run && done > 0 {
        project::save(&mut opened)?;
    }
    if let Some((number, why)) = stopped {
        let state = if replay.dry_run { "would be" } else { "were" };
        return Err(Stop::problems(format!(
            "Line {number} of the journal could not be carried out ({why}). The {said} before it {state} carried out; it \
             and what comes after it were left"
        )));
    }
    if replay.dry_run {
        writeln!(out, "Nothing was changed; without --dry-run: {said} carried out")?;
    } else {
        writeln!(out, "{said} carried out, and saved")?;
    }
    Ok(())
}

/// Gives each change of a journal, until one is not wanted any more; without `all` those from the last save on.
fn changes(
    mut journal: impl BufRead,
    all: bool,
    each: &mut dyn FnMut(Line) -> Result<bool, Stop>,
) -> Result<(), Stop> {
    let mut since_save: Vec<Line> = Vec::new();
    for number in 1.. {
        let mut line = Vec::new();
        let read = journal.by_ref().take(LONGEST_LINE).read_until(b'\n', &mut line);
        let read = read.map_err(|error| Stop::cannot(format!("Could not read the journal ({error})")))?;
        if read == 0 {
            break;
        }
        let change = match history::change_in(&line) {
            Ok(Some(event)) => Ok(event),
            Ok(None) => {
                since_save.clear();
                continue;
            }
            Err(why) => Err(why),
        };
        let is_damaged = change.is_err();
        if all {
            if !each((number, change))? {
                return Ok(());
            }
        } else {
            since_save.push((number, change));
        }
        if is_damaged {
            break;
        }
    }
    for line in since_save {
        if !each(line)? {
            break;
        }
    }
    Ok(())
}

fn cannot_read(error: &io::Error, journal: &Path) -> Stop {
    Stop::cannot(format!(
        "Could not read the journal ({error}). Check its name: {}",
        journal.display()
    ))
}

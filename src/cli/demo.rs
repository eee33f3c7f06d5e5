//! `demo`: invented projects to try the program on.

use std::io::Write;

use wintercrib::demo;
use wintercrib::store::format;
use wintercrib::store::lock::{self, LockOutcome};

use super::{Demo, Stop, Target, project};

pub(super) fn run(what: &Demo, to: &Target, out: &mut dyn Write) -> Result<(), Stop> {
    let made = match what {
        Demo::Named(name) => demo::make(name).ok_or_else(which)?,
        Demo::Sized { ears, seasons, seed } => demo::sized(*ears, *seasons, *seed)
            .map_err(|problem| Stop::cannot(format!("No such demo project can be made: {problem}")))?,
    };
    let text = format::write(&made).map_err(|error| Stop::cannot(error.to_string()))?;
    // A file that is there may be open in a window, which would write over it.
    let _guard = if to.path.exists() {
        match lock::acquire(&to.path, &lock::this_process()) {
            LockOutcome::Held(guard) => Some(guard),
            LockOutcome::Elsewhere { owner } => {
                let owner = owner.unwrap_or_else(|| "another window".to_owned());
                return Err(Stop::cannot(format!(
                    "This file is open ({owner}). Close it there, or choose another name: {}",
                    to.path.display()
                )));
            }
            LockOutcome::Unsupported { .. } | LockOutcome::NotWritable { .. } => None,
        }
    } else {
        None
    };
    project::write(to, text.as_bytes())?;
    let (ears, seasons) = (made.ears.len(), made.seasons.len());
    writeln!(
        out,
        "Made '{}' with {} in {}: {}.",
        made.about.name,
        project::counted(ears, "ear"),
        project::counted(seasons, "season"),
        to.path.display()
    )?;
    Ok(())
}

/// Says which demo projects there are.
pub(super) fn which() -> Stop {
    Stop::cannot(format!(
        "Which demo project? Write one of {} behind 'wintercrib demo', or --ears with a number",
        demo::NAMES.join(", ")
    ))
}

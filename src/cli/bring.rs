//! `bring`: the line of an ear of another project, back to its founder, into this one.

use std::io::Write;

use wintercrib::model::{Command, Stamp, bring, line_of, sentence};

use super::{Bring, Stop, project};

pub(super) fn run(asked: &Bring, out: &mut dyn Write) -> Result<(), Stop> {
    let theirs = project::read_other(&asked.other)?;
    let line = line_of(theirs.document.project(), asked.ear)
        .map_err(|fault| Stop::cannot(sentence(&fault.to_string())))?;
    let mut opened = if asked.dry_run {
        project::read(&asked.file)?
    } else {
        project::open(&asked.file)?
    };
    let stamp = Stamp {
        at: project::now(),
        by: String::new(),
    };
    let refused = |problem: wintercrib::model::Problem| {
        Stop::problems(format!(
            "Nothing was taken from {}. {}",
            asked.other.display(),
            sentence(&problem.to_string())
        ))
    };
    let found = bring(opened.document.project(), &line, asked.kernels, &stamp).map_err(refused)?;
    let told = found.sentences.join("\n");
    if found.is_nothing_new() {
        writeln!(out, "{told}\nNothing is new, and nothing was changed.")?;
        return Ok(());
    }
    let command = Command::BringLine {
        line: Box::new(line),
        kernels: asked.kernels,
    };
    let committed = opened.document.run(&command, &stamp).map_err(refused)?;
    if asked.dry_run {
        writeln!(out, "Nothing was changed; without --dry-run:\n{told}")?;
        return Ok(());
    }
    project::save(&mut opened)?;
    writeln!(out, "{told}\n{}.", committed.label)?;
    Ok(())
}

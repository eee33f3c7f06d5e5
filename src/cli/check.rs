//! `check`: what is wrong with a project, one problem a line.

use std::io::Write;
use std::path::Path;

use wintercrib::store::project_file::FileProblem;

use super::{Stop, project};

pub(super) fn run(file: &Path, out: &mut dyn Write) -> Result<(), Stop> {
    let opened = project::read(file)?;
    let model = opened.document.project();
    for FileProblem { line, problem } in &opened.problems {
        let line = line.map_or_else(String::new, |line| format!("line {line}, "));
        writeln!(
            out,
            "{}: {line}{}: {problem}",
            file.display(),
            model.place_name(problem.place)
        )?;
    }
    let number = opened.problems.len();
    if number > 0 {
        return Err(Stop::problems(format!(
            "{}. The file is untouched; correct it in a text editor or restore a copy",
            project::counted(number, "problem")
        )));
    }
    let holds = [
        (model.seasons.len(), "season"),
        (model.ears.len(), "ear"),
        (model.trays.len(), "tray"),
        (model.counts.len(), "count"),
        (model.lists.len(), "planting list"),
    ]
    .map(|(number, what)| project::counted(number, what));
    writeln!(out, "{}: no problems in {}.", file.display(), holds.join(", "))?;
    Ok(())
}

//! `export --out FOLDER` and `import --package FOLDER`: a whole project as a data package, and back.

use std::io::Write;

use wintercrib::exchange::data_package;
use wintercrib::model::Project;
use wintercrib::store::{lock, package_folder, project_file};

use super::{Stop, Target, Unpack, project};

/// So many problems of a package are told one by one.
const MOST_TOLD: usize = 100;

pub(super) fn write(model: &Project, to: &Target, out: &mut dyn Write) -> Result<(), Stop> {
    let files = data_package::write(model).map_err(|fault| Stop::cannot(fault.to_string()))?;
    package_folder::write(&to.path, &files, to.force).map_err(|fault| Stop::cannot(fault.to_string()))?;
    let tables = project::counted(files.len() - 1, "table");
    writeln!(out, "Wrote {tables} and what they hold to {}.", to.path.display())?;
    Ok(())
}

pub(super) fn unpack(unpack: &Unpack, out: &mut dyn Write) -> Result<(), Stop> {
    let files = package_folder::read(&unpack.package).map_err(|fault| Stop::cannot(fault.to_string()))?;
    let read = data_package::read(&files).map_err(|problems| {
        let head = project::there_are(problems.len(), "problem");
        let mut lines = vec![format!(
            "Nothing was taken, because {head} in {}:",
            unpack.package.display()
        )];
        lines.extend(problems.iter().take(MOST_TOLD).map(ToString::to_string));
        if problems.len() > MOST_TOLD {
            lines.push(format!(
                "and {} more; correct these first",
                problems.len() - MOST_TOLD
            ));
        }
        Stop::problems(lines.join("\n  "))
    })?;
    let what = format!(
        "{}, {} and {}",
        project::counted(read.seasons.len(), "season"),
        project::counted(read.ears.len(), "ear"),
        project::counted(read.counts.len(), "count")
    );
    if unpack.dry_run {
        writeln!(
            out,
            "Nothing was written; without --dry-run: a project with {what}."
        )?;
        return Ok(());
    }
    let owner = format!("{}, importing", lock::this_process());
    project_file::create(&unpack.to.path, read, &owner).map_err(|fault| Stop::cannot(fault.to_string()))?;
    writeln!(out, "Made {} with {what}.", unpack.to.path.display())?;
    Ok(())
}

//! `export`: the ears of a season as a table.

use std::io::Write;
use std::path::Path;

use wintercrib::exchange::ears_csv::ears_csv;

use super::{Stop, Target, project};

pub(super) fn run(file: &Path, year: Option<i16>, to: &Target, out: &mut dyn Write) -> Result<(), Stop> {
    let opened = project::read(file)?;
    let model = opened.document.project();
    let season = project::season(model, year)?;
    project::write(to, &ears_csv(model, season))?;
    let ears = project::counted(model.ears_of(season).count(), "ear");
    writeln!(out, "Wrote {ears} to {}.", to.path.display())?;
    Ok(())
}

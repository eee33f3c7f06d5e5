//! `saves` and `restore`: earlier saves of a project, and a copy of one.

use std::io::Write;
use std::path::Path;

use serde_json::json;
use wintercrib::model::plural;
use wintercrib::store::backups::{self, Backup, BackupFault};

use super::{Restore, Stop};

/// Lists them; the project itself may be lost.
pub(super) fn list(file: &Path, as_json: bool, out: &mut dyn Write) -> Result<(), Stop> {
    let saves = earlier(file)?;
    if as_json {
        let saves: Vec<_> = saves
            .iter()
            .map(|save| json!({ "time": save.name(), "bytes": save.bytes, "file": save.path }))
            .collect();
        writeln!(out, "{}", json!({ "saves": saves }))?;
        return Ok(());
    }
    if saves.is_empty() {
        writeln!(out, "No earlier save is kept. Each save keeps one from now on.")?;
    }
    for save in saves {
        writeln!(out, "{}  {}", save.name(), plural(save.bytes as usize, "byte"))?;
    }
    Ok(())
}

pub(super) fn restore(restore: &Restore, out: &mut dyn Write) -> Result<(), Stop> {
    let saves = earlier(&restore.file)?;
    let found = match &restore.save {
        None => saves.first(),
        Some(time) => saves.iter().find(|save| save.name() == *time),
    };
    let save = found.ok_or_else(|| {
        Stop::cannot(format!(
            "There is no such earlier save. 'wintercrib saves {0}' lists {1}: {0}",
            restore.file.display(),
            match saves.len() {
                0 => "none".to_owned(),
                number => plural(number, "save"),
            }
        ))
    })?;
    backups::restore(&save.path, &restore.out).map_err(|fault| cannot(&fault))?;
    writeln!(
        out,
        "The save of {} is now {}. It has no journal: what was done after that save is not in it",
        save.name(),
        restore.out.display()
    )?;
    Ok(())
}

fn earlier(file: &Path) -> Result<Vec<Backup>, Stop> {
    backups::list(file).map_err(|fault| cannot(&fault))
}

fn cannot(fault: &BackupFault) -> Stop {
    Stop::cannot(fault.to_string())
}

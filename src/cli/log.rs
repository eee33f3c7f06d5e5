//! `log`: who did what when, from the journal of a project.

use std::io::Write;

use serde_json::json;
use wintercrib::insight::audit::{AuditLine, audit, holds};
use wintercrib::store::history;

use super::{Log, Stop, project};

pub(super) fn run(log: &Log, out: &mut dyn Write) -> Result<(), Stop> {
    let opened = project::read(&log.file)?;
    let model = opened.document.project();
    let history = history::read(opened.file.path()).map_err(|fault| Stop::cannot(fault.to_string()))?;
    let ear = match log.ear {
        None => None,
        Some(number) => {
            let season = project::season(model, log.season)?;
            let found = model.ear_numbered(season, number).ok_or_else(|| {
                Stop::cannot(format!(
                    "The season has no ear {number}. Choose another number with --ear, or another season with --season"
                ))
            })?;
            Some(found.id)
        }
    };
    let lines = audit(model, &history.events);
    let lines: Vec<&AuditLine> = lines
        .iter()
        .filter(|line| ear.is_none_or(|ear| line.ears.contains(&ear)))
        .filter(|line| log.find.as_deref().is_none_or(|text| holds(line, text)))
        .collect();
    for note in &history.notes {
        project::tell(note);
    }
    if log.json {
        let json: Vec<_> = lines.iter().map(|line| as_json(line)).collect();
        writeln!(out, "{}", json!({ "log": json }))?;
        return Ok(());
    }
    if lines.is_empty() {
        writeln!(out, "The journal has no such change.")?;
    }
    for line in lines {
        let by = if line.by.is_empty() {
            String::new()
        } else {
            format!(", {}", line.by)
        };
        writeln!(
            out,
            "{}{by}: {}",
            line.at.strftime("%Y-%m-%d %H:%M:%S"),
            line.what
        )?;
        for detail in &line.details {
            writeln!(out, "    {detail}")?;
        }
        if line.left_out > 0 {
            writeln!(out, "    and {} more", line.left_out)?;
        }
    }
    Ok(())
}

fn as_json(line: &AuditLine) -> serde_json::Value {
    json!({
        "at": line.at.to_string(),
        "by": line.by,
        "what": line.what,
        "ear_ids": line.ears.iter().map(|ear| ear.0).collect::<Vec<_>>(),
        "details": line.details,
        "details_left_out": line.left_out,
    })
}

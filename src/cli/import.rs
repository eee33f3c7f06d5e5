//! `import`: ears, counts, temperatures or weather from a table, all lines or none.

use std::io::Write;
use std::path::Path;

use wintercrib::exchange::table_text::{MAX_BYTES, RowProblem, Table, read_table};
use wintercrib::exchange::{counts_csv, ears_csv};
use wintercrib::model::{Command, Document, Existing, Pass, Project, SeasonId, Stamp, TestId};

use super::{Import, Imported, Stop, project, temperature, weather};

/// So many problems of a table are told one by one.
const MOST_TOLD: usize = 100;

pub(super) fn run(import: &Import, out: &mut dyn Write) -> Result<(), Stop> {
    let bytes = project::read_at_most(&import.table, MAX_BYTES)?;
    let mut opened = if import.dry_run {
        project::read(&import.file)?
    } else {
        project::open(&import.file)?
    };
    // The weather is that of the place: it needs no season.
    let season = || project::season(opened.document.project(), import.season);
    let ready = match &import.what {
        Imported::Weather(request) => weather::ready(&bytes, import, request, opened.document.project())?,
        Imported::Ears => ears(
            &table(&bytes, import)?,
            import,
            opened.document.project(),
            season()?,
        )?,
        Imported::Counts { test, pass } => {
            let season = season()?;
            let test = find_test(opened.document.project(), season, test.as_deref())?;
            counts(
                &table(&bytes, import)?,
                import,
                *pass,
                opened.document.project(),
                test,
            )?
        }
        Imported::Temperature(request) => {
            let test = find_test(opened.document.project(), season()?, request.test.as_deref())?;
            temperature::ready(&bytes, import, request, opened.document.project(), test)?
        }
    };
    drop(bytes);
    let done = carry_out(&mut opened.document, &ready, import)?;
    if import.dry_run {
        writeln!(out, "Nothing was changed; without --dry-run: {done}")?;
        return Ok(());
    }
    project::save(&mut opened)?;
    writeln!(out, "{done}")?;
    Ok(())
}

fn table(bytes: &[u8], import: &Import) -> Result<Table, Stop> {
    read_table(bytes).map_err(|fault| Stop::cannot(format!("{fault}: {}", import.table.display())))
}

/// What a table asks for.
pub(super) struct Ready {
    pub(super) commands: Vec<Command>,
    pub(super) lines: usize,
    /// What is said when it is done, where that is not the number of lines.
    pub(super) said: Option<String>,
}

fn ears(table: &Table, import: &Import, project: &Project, season: SeasonId) -> Result<Ready, Stop> {
    let mut columns = ears_csv::match_columns(table, project);
    columns.existing = import.existing;
    if let Some(order) = import.dates {
        columns.dates = order;
    }
    let (found, problems) = ears_csv::drafts(table, &columns, project, season);
    refuse_problems(&problems, problems.len(), &import.table)?;
    tell_unmatched(&columns.unmatched(table));
    let lines = found.len();
    let drafts = found.into_iter().map(|(_, draft)| draft).collect();
    let existing = import.existing;
    let commands = vec![Command::AddEars {
        season,
        drafts,
        existing,
    }];
    Ok(Ready {
        commands,
        lines,
        said: None,
    })
}

fn counts(
    table: &Table,
    import: &Import,
    pass: Pass,
    project: &Project,
    test: TestId,
) -> Result<Ready, Stop> {
    let mut columns = counts_csv::match_count_columns(table);
    columns.existing = import.existing;
    columns.pass = pass;
    if let Some(order) = import.dates {
        columns.dates = order;
    }
    let (found, mut problems) = counts_csv::count_drafts(table, &columns, project, test);
    let misfits = counts_csv::misfits(project, &found);
    problems.extend(misfits.into_iter().map(|(_, mut problem)| {
        problem.what += " If it is so all the same, say why in a column 'reason'";
        problem
    }));
    problems.sort_by_key(|problem| problem.line);
    refuse_problems(&problems, problems.len(), &import.table)?;
    tell_unmatched(&columns.unmatched(table));
    let commands = vec![counts_csv::record_command(&found)];
    Ok(Ready {
        commands,
        lines: found.len(),
        said: None,
    })
}

pub(super) fn find_test(project: &Project, season: SeasonId, name: Option<&str>) -> Result<TestId, Stop> {
    let names = || {
        project
            .tests_of(season)
            .map(|test| format!("'{}'", test.name))
            .collect::<Vec<_>>()
            .join(", ")
    };
    let mut tests = project
        .tests_of(season)
        .filter(|test| name.is_none_or(|name| test.name == name));
    match (tests.next(), tests.next(), name) {
        (Some(only), None, _) => Ok(only.id),
        (None, _, Some(name)) if project.tests_of(season).next().is_some() => Err(Stop::cannot(format!(
            "The season has no test '{name}'. Choose one of {} with --test",
            names()
        ))),
        (None, ..) => Err(Stop::cannot(
            "The season has no test yet. Design one in the window, then try again",
        )),
        (Some(_), Some(_), Some(name)) => Err(Stop::cannot(format!(
            "The season has several tests of the name '{name}'. Give them different names in the window"
        ))),
        (Some(_), Some(_), None) => Err(Stop::cannot(format!(
            "The season has several tests. Choose one of {} with --test",
            names()
        ))),
    }
}

/// Refuses the whole table when one of its lines has a problem; `count` may be larger than what is named.
pub(super) fn refuse_problems(problems: &[RowProblem], count: usize, table: &Path) -> Result<(), Stop> {
    if problems.is_empty() {
        return Ok(());
    }
    let head = project::there_are(count, "problem");
    let mut lines = vec![format!(
        "Nothing was taken, because {head} in {}:",
        table.display()
    )];
    lines.extend(problems.iter().take(MOST_TOLD).map(ToString::to_string));
    if count > MOST_TOLD {
        lines.push(format!("and {} more; correct these first", count - MOST_TOLD));
    }
    Err(Stop::problems(lines.join("\n  ")))
}

fn tell_unmatched(headers: &[&str]) {
    if !headers.is_empty() {
        project::tell(&format!(
            "these columns are not known and were not read: {}",
            headers.join(", ")
        ));
    }
}

/// Runs the commands and says what they did. Nothing of it is on the disk yet.
fn carry_out(document: &mut Document, ready: &Ready, import: &Import) -> Result<String, Stop> {
    let before = document.project().ears.len();
    let stamp = Stamp {
        at: project::now(),
        by: String::new(),
    };
    for command in &ready.commands {
        document.run(command, &stamp).map_err(|problem| {
            let place = document.project().place_name(problem.place);
            Stop::problems(format!(
                "Nothing was taken from {}: {place}: {problem}",
                import.table.display()
            ))
        })?;
    }
    if let Some(said) = &ready.said {
        return Ok(said.clone());
    }
    let lines = ready.lines;
    if matches!(import.what, Imported::Counts { .. }) {
        return Ok(format!("{} taken.", project::counted(lines, "count")));
    }
    let added = document.project().ears.len() - before;
    let known = lines - added;
    let of_known = match (known, import.existing) {
        (0, _) => String::new(),
        (_, Existing::Skip) => format!(" There already, and left as before: {known}."),
        (_, Existing::Update | Existing::Refuse) => format!(" There already, and updated: {known}."),
    };
    Ok(format!("{} added.{of_known}", project::counted(added, "ear")))
}

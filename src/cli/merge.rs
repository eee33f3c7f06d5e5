//! `import --counts-from`: what a second scorer counted in a copy of the project.

use std::io::Write;

use wintercrib::insight::ScorerAgreement;
use wintercrib::model::{Command, Comparison, Count, Pair, Place, Project, Stamp, capital, compare, plural};

use super::{Merge, Stop, project};

pub(super) fn run(merge: &Merge, out: &mut dyn Write) -> Result<(), Stop> {
    let copy = project::read(&merge.copy)?;
    if !copy.problems.is_empty() {
        return Err(Stop::cannot(format!(
            "The copy breaks rules, so nothing was taken. 'wintercrib check {0}' lists them: {0}",
            merge.copy.display()
        )));
    }
    let mut opened = if merge.dry_run {
        project::read(&merge.file)?
    } else {
        project::open(&merge.file)?
    };
    let found = compare(opened.document.project(), copy.document.project())
        .map_err(|fault| Stop::cannot(format!("{fault}: {}", merge.copy.display())))?;
    let told = told(&found, opened.document.project());
    let keep = match merge.differences {
        Some(keep) => vec![keep; found.differing.len()],
        None if found.differing.is_empty() => Vec::new(),
        None => return Err(undecided(&found, opened.document.project(), &told)),
    };
    let counts = found.taken(&keep);
    let done = format!("{told} {}.", capital(&found.done(&keep)));
    if counts.is_empty() {
        writeln!(out, "{told} Nothing is new, and nothing was changed.")?;
        return Ok(());
    }
    let command = Command::TakeCounts {
        label: format!("Merge a copy: {}", found.done(&keep)),
        counts,
    };
    let stamp = Stamp {
        at: project::now(),
        by: String::new(),
    };
    opened.document.run(&command, &stamp).map_err(|problem| {
        let place = opened.document.project().place_name(problem.place);
        Stop::problems(format!(
            "Nothing was taken from {}: {place}: {problem}",
            merge.copy.display()
        ))
    })?;
    if merge.dry_run {
        writeln!(out, "Nothing was changed; without --dry-run: {done}")?;
        return Ok(());
    }
    project::save(&mut opened)?;
    writeln!(out, "{done}")?;
    Ok(())
}

/// Says what was found, and tells what could not be compared.
fn told(found: &Comparison, project: &Project) -> String {
    for sentence in &found.apart {
        project::tell(sentence);
    }
    let pairs = found.agreeing.iter().chain(&found.differing);
    let pairs: Vec<(&Count, &Count)> = pairs
        .filter(|pair| !pair.there.void)
        .map(|pair| (&pair.here, &pair.there))
        .collect();
    let agreement = ScorerAgreement::of(project.about.germinated, &pairs);
    let agreement = agreement.map_or_else(|| "No cell was read twice.".to_owned(), |found| found.sentence());
    format!(
        "{} new, {} known, {} that differ. {agreement}",
        plural(found.additions.len(), "count"),
        found.shared,
        found.differing.len()
    )
}

fn undecided(found: &Comparison, project: &Project, told: &str) -> Stop {
    let head = format!(
        "Nothing was taken, because {} in both copies. Say with --differences ours, theirs or both what is kept. {told}",
        differ(found.differing.len())
    );
    let lines = found.differing.iter().map(|pair| line(project, pair));
    Stop::problems([head].into_iter().chain(lines).collect::<Vec<_>>().join("\n  "))
}

fn differ(number: usize) -> String {
    if number == 1 {
        "1 count differs".to_owned()
    } else {
        format!("{number} counts differ")
    }
}

/// Says two counts side by side.
fn line(project: &Project, pair: &Pair) -> String {
    format!(
        "{}, {} count: ours {}; theirs {}",
        project.place_name(Place::Cell(pair.here.cell)),
        pair.here.pass,
        said(&pair.here),
        said(&pair.there)
    )
}

fn said(count: &Count) -> String {
    let mut parts = Vec::new();
    if count.void {
        parts.push("withdrawn".to_owned());
    } else {
        parts.push(count.tally.text());
    }
    parts.extend(count.vigor.map(|vigor| format!("vigor {vigor}")));
    parts.extend(count.mould.then(|| "mould".to_owned()));
    let made = [
        count.by.clone(),
        count.on.map_or_else(String::new, |day| day.to_string()),
    ];
    let made: Vec<String> = made.into_iter().filter(|part| !part.is_empty()).collect();
    if made.is_empty() {
        parts.join(", ")
    } else {
        format!("{} ({})", parts.join(", "), made.join(", "))
    }
}

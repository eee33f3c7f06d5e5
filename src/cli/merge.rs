//! `import --counts-from` and `--all-from`: what a second scorer counted in a copy of the project, and all that another
//! copy has.

use std::io::Write;

use wintercrib::insight::ScorerAgreement;
use wintercrib::model::{
    Command, Comparison, Count, Difference, Document, Keep, Pair, Place, Project, Side, Stamp, Versions,
    capital, compare, plural,
};
use wintercrib::store::history;
use wintercrib::store::photos::{self, PhotoFile};

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
    let there = copy.document.project();
    let (mut lines, mut photos, mut is_new) = (Vec::new(), Vec::new(), false);
    if merge.all {
        let (found, done) = take_version(merge, &mut opened.document, there)?;
        if !done.is_empty() {
            is_new = true;
            let done = capital(&done);
            lines.push(format!("{} {done}: taken over.", found.parting_sentence()));
        }
        photos = found.photos;
    }
    let (told, taken) = take_counts(merge, &mut opened.document, there)?;
    is_new |= taken.is_some();
    lines.push(told);
    lines.extend(taken);
    if !is_new {
        lines.push("Nothing is new, and nothing was changed.".to_owned());
        writeln!(out, "{}", lines.join(" "))?;
        return Ok(());
    }
    let done = lines.join(" ");
    if merge.dry_run {
        writeln!(out, "Nothing was changed; without --dry-run: {done}")?;
        return Ok(());
    }
    project::save(&mut opened)?;
    let photos: Vec<PhotoFile> = photos.iter().map(PhotoFile::of).collect();
    for fault in photos::carry(&merge.copy, &merge.file, &photos) {
        project::tell(&fault.to_string());
    }
    writeln!(out, "{done}")?;
    Ok(())
}

fn carry_out(merge: &Merge, document: &mut Document, command: &Command) -> Result<(), Stop> {
    let stamp = Stamp {
        at: project::now(),
        by: String::new(),
    };
    document.run(command, &stamp).map_err(|problem| {
        let place = document.project().place_name(problem.place);
        Stop::problems(format!(
            "Nothing was taken from {}: {place}: {problem}",
            merge.copy.display()
        ))
    })?;
    Ok(())
}

/// Takes over what another version has that ours lacks, but for the counts of cells that both counted; says what was done.
fn take_version(merge: &Merge, document: &mut Document, there: &Project) -> Result<(Versions, String), Stop> {
    let found = history::compare_with(document, &[&merge.file], there)
        .map_err(|fault| Stop::cannot(format!("{fault}: {}", merge.copy.display())))?;
    for sentence in &found.left_out {
        project::tell(sentence);
    }
    let open: Vec<&Difference> = found.differences.iter().filter(|one| one.is_open).collect();
    let side = match merge.differences {
        Some(Keep::There) => Side::Theirs,
        None if !open.is_empty() => {
            let head = format!(
                "Nothing was taken, because both copies changed {}. Say with --differences ours or theirs what stands. {}",
                plural(open.len(), "record"),
                found.parting_sentence()
            );
            let lines = open.iter().map(|difference| both_changed(difference));
            return Err(Stop::problems(
                [head].into_iter().chain(lines).collect::<Vec<_>>().join("\n  "),
            ));
        }
        Some(Keep::Here | Keep::Both) | None => Side::Ours,
    };
    let sides = vec![side; open.len()];
    let (changes, done) = (found.changes(&sides), found.done(&sides));
    if !changes.is_empty() {
        let command = Command::TakeVersion {
            changes,
            label: format!("Take over a copy: {done}"),
        };
        carry_out(merge, document, &command)?;
    }
    Ok((found, done))
}

/// Says a record in both versions.
fn both_changed(difference: &Difference) -> String {
    let open = difference.fields.iter().filter(|field| field.is_open);
    let fields: Vec<String> = open
        .map(|field| format!("{}: ours {}; theirs {}", field.name, field.ours, field.theirs))
        .collect();
    if fields.is_empty() {
        format!(
            "{}: {} in the other one",
            capital(&difference.name),
            difference.happened.name()
        )
    } else {
        format!("{}, {}", capital(&difference.name), fields.join(", "))
    }
}

/// Takes counts over; says what was found, and what was done if anything was.
fn take_counts(
    merge: &Merge,
    document: &mut Document,
    there: &Project,
) -> Result<(String, Option<String>), Stop> {
    let found = compare(document.project(), there)
        .map_err(|fault| Stop::cannot(format!("{fault}: {}", merge.copy.display())))?;
    let told = told(&found, document.project());
    let keep = match merge.differences {
        Some(keep) => vec![keep; found.differing.len()],
        None if found.differing.is_empty() => Vec::new(),
        None => return Err(undecided(&found, document.project(), &told)),
    };
    let counts = found.taken(&keep);
    if counts.is_empty() {
        return Ok((told, None));
    }
    let done = found.done(&keep);
    let command = Command::TakeCounts {
        label: format!("Merge a copy: {done}"),
        counts,
    };
    carry_out(merge, document, &command)?;
    Ok((told, Some(format!("{}.", capital(&done)))))
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

//! The part of `import` that reads the file of a temperature logger.

use jiff::civil::Date;
use wintercrib::exchange::temperature_csv::{DateForm, Question, TemperatureFile, known_as};
use wintercrib::insight::{minute, stood_text};
use wintercrib::model::{
    Command, DateOrder, LogId, LogSpan, Project, TemperatureLog, TestId, plural, read_time, read_trays,
    sentence,
};

use super::import::{Ready, refuse_problems};
use super::{Import, LogRequest, Stop, project};

/// Reads the file as a log of a test, or says what has to be told first.
pub(super) fn ready(
    bytes: &[u8],
    import: &Import,
    request: &LogRequest,
    records: &Project,
    test: TestId,
) -> Result<Ready, Stop> {
    let of_file = |what: String| Stop::cannot(format!("{what}: {}", import.table.display()));
    let file = TemperatureFile::read(bytes).map_err(|fault| of_file(fault.to_string()))?;
    let mut answers = request.answers;
    if let Some(wanted) = &request.channel {
        answers.channel = Some(column_named(file.header(), file.channels(), "channel", wanted)?);
    }
    let look = file.look(&answers);
    for remark in &look.remarks {
        project::tell(remark);
    }
    if let Some(question) = look.questions.first() {
        return Err(of_file(ask(&file, question)));
    }
    if !answers.leave_out_bad || look.readings.is_empty() {
        refuse_problems(&look.problems, look.bad_lines, &import.table)?;
    }
    let Some(start) = look.start else {
        return Err(of_file("The file has no readings that can be taken".to_owned()));
    };
    if let Some(known) = known_as(records, test, &look) {
        return Err(of_file(format!(
            "The readings of this file are in the test already, as the log '{}'. Remove that log first to import them again",
            known.name
        )));
    }
    let trays = read_trays(records, test, request.trays.as_deref().unwrap_or(""))
        .map_err(|fault| Stop::cannot(sentence(&format!("--trays: {fault}"))))?;
    let time = |option: &str, text: &Option<String>| {
        let read = text.as_deref().map(|text| read_time(text, DateOrder::Unknown));
        read.transpose()
            .map_err(|fault| Stop::cannot(sentence(&format!("--{option}: {fault}"))))
    };
    let span = LogSpan {
        trays,
        from: time("from", &request.from)?,
        to: time("to", &request.to)?,
    };
    span.check()
        .map_err(|fault| Stop::cannot(sentence(&format!("--from, --to: {fault}"))))?;
    let log = TemperatureLog {
        id: LogId(0),
        test,
        name: name(import, request),
        start,
        readings: look.readings,
        spans: vec![span],
    };
    let last = log.readings.last().map_or(start, |reading| log.at(reading.0));
    let bad = match look.bad_lines {
        0 => String::new(),
        bad => format!(" Left out: {}.", plural(bad, "line")),
    };
    let said = format!(
        "{} from {} to {} taken as log '{}' of {}.{bad}",
        plural(log.readings.len(), "reading"),
        minute(start),
        minute(last),
        log.name,
        stood_text(records, &log)
    );
    Ok(Ready {
        commands: vec![Command::AddLog(log)],
        lines: 0,
        said: Some(said),
    })
}

fn name(import: &Import, request: &LogRequest) -> String {
    let of_file = || {
        import
            .table
            .file_stem()
            .map(|name| name.to_string_lossy().into_owned())
    };
    request.name.clone().or_else(of_file).unwrap_or_default()
}

/// The column that has this name or, from 1, this number; `option` names it, and `choices` are said otherwise.
pub(super) fn column_named(
    header: &[String],
    choices: &[usize],
    option: &str,
    wanted: &str,
) -> Result<usize, Stop> {
    let is_named = |header: &String| header.trim().eq_ignore_ascii_case(wanted.trim());
    let named = header.iter().position(is_named);
    let numbered = || {
        let number: usize = wanted.trim().parse().ok()?;
        number.checked_sub(1).filter(|at| *at < header.len())
    };
    named.or_else(numbered).ok_or_else(|| {
        Stop::cannot(format!(
            "The file has no column '{wanted}'. Choose with --{option} one of {}",
            columns(header, choices)
        ))
    })
}

pub(super) fn columns(header: &[String], columns: &[usize]) -> String {
    let named = columns.iter().map(|at| match header.get(*at) {
        Some(header) => format!("{} ('{header}')", at + 1),
        None => (at + 1).to_string(),
    });
    named.collect::<Vec<_>>().join(", ")
}

/// Puts a question, with the option that answers it.
fn ask(file: &TemperatureFile, question: &Question) -> String {
    match question {
        Question::Dates(forms) => date_question(forms),
        Question::Unit(low, high) => unit_question(*low, *high),
        Question::Channel(channels) => format!(
            "The file has several columns of temperatures. Choose with --channel one of {}",
            columns(file.header(), channels)
        ),
    }
}

/// Asks for the order of dates, with the first and last day of each.
pub(super) fn date_question(forms: &[(DateForm, Date, Date)]) -> String {
    let ways: Vec<String> = forms
        .iter()
        .map(|(form, first, last)| format!("{} it runs from {first} to {last}", form.name()))
        .collect();
    let words: Vec<&str> = forms.iter().map(|(form, ..)| word(*form)).collect();
    format!(
        "The file does not tell the order of its dates: {}. Say --dates {}",
        ways.join(", "),
        words.join(" or --dates ")
    )
}

/// Asks for the unit of temperatures that run from one to another.
pub(super) fn unit_question(low: f64, high: f64) -> String {
    format!(
        "The file does not tell its unit: temperatures run from {low} to {high}. Say --unit c or --unit f"
    )
}

fn word(form: DateForm) -> &'static str {
    match form {
        DateForm::DayFirst => "day-first",
        DateForm::MonthFirst => "month-first",
        DateForm::YearFirst => "year-first",
    }
}

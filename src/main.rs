//! Wintercrib: opens the window, or carries out one verb without it.

mod cli;

use std::io::{self, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use cli::{Request, Stop};
use tracing::level_filters::LevelFilter;
use wintercrib::store::fault_report;

fn main() -> ExitCode {
    start_logging();
    let outcome = cli::parse(lexopt::Parser::from_env()).and_then(|request| {
        fault_report::now_open(request.project());
        fault_report::watch();
        match request {
            Request::Window(path) => open_window(path),
            Request::Verb(verb) => cli::run(&verb, &mut io::stdout().lock()),
        }
    });
    match outcome {
        Ok(()) => ExitCode::SUCCESS,
        // Whoever read the output has read enough.
        Err(Stop::Output(error)) if error.kind() == io::ErrorKind::BrokenPipe => ExitCode::SUCCESS,
        Err(stop) => {
            complain(&stop.to_string());
            ExitCode::from(stop.exit_code())
        }
    }
}

/// Opens the window on a project, or on a demo when there is none.
fn open_window(path: Option<PathBuf>) -> Result<(), Stop> {
    wintercrib::ui::run(path).map_err(|fault| {
        Stop::cannot(format!(
            "No window: {fault}. Without a window, use a verb: {}; 'wintercrib help' explains them",
            cli::VERBS
        ))
    })
}

/// Sends what the program notes to the standard error: warnings, or what `WINTERCRIB_LOG` names (`off`, `error`,
/// `warn`, `info`, `debug`, `trace`).
fn start_logging() {
    let wanted = std::env::var("WINTERCRIB_LOG").ok();
    let level = wanted
        .and_then(|text| text.parse::<LevelFilter>().ok())
        .unwrap_or(LevelFilter::WARN);
    tracing_subscriber::fmt()
        .with_max_level(level)
        .with_target(false)
        .without_time()
        .with_ansi(false)
        .with_writer(io::stderr)
        .init();
}

/// Writes a sentence to the standard error; when that is closed, there is nobody to tell.
fn complain(sentence: &str) {
    writeln!(io::stderr(), "wintercrib: {sentence}").unwrap_or_default();
}

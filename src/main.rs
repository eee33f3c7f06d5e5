//! Wintercrib: opens the window, or carries out one verb without it.

mod cli;

use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use cli::{Request, Stop};
use tracing::level_filters::LevelFilter;

fn main() -> ExitCode {
    start_logging();
    let outcome = cli::parse(lexopt::Parser::from_env()).and_then(|request| {
        tell_of_faults(request.project());
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

/// Says in one sentence what a fault of the program means for the grower's work.
fn tell_of_faults(project: Option<&Path>) {
    let journal = match project {
        Some(path) => format!("{}.journal", path.display()),
        None => "the file beside the project whose name ends in .journal".to_owned(),
    };
    std::panic::set_hook(Box::new(move |info| {
        let place = info
            .location()
            .map_or_else(String::new, |place| format!(" at {place}"));
        let why = info.payload_as_str().unwrap_or("no reason given");
        complain(&format!(
            "A fault of the program stopped it{place} ({why}). Every change that was accepted before is in {journal}: open the project again to go on, and please report this"
        ));
    }));
}

/// Writes a sentence to the standard error; when that is closed, there is nobody to tell.
fn complain(sentence: &str) {
    writeln!(io::stderr(), "wintercrib: {sentence}").unwrap_or_default();
}

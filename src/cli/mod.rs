//! The verbs that need no window. They use the same rooms as the window and change a project the same way.
//!
//! What a verb finds goes to the standard output, what a person should know besides to the standard error. It ends
//! with 0 when all is well, 1 when the data has problems that are listed, 2 when it could not be done.

mod arguments;
mod before;
mod bring;
mod check;
mod cold_days;
mod compare;
mod demo;
mod export;
mod field;
mod field_sheets;
mod import;
mod index;
mod labels;
mod lines;
mod log;
mod lookahead;
mod merge;
mod package;
mod packed;
mod pedigree;
mod plot;
mod price;
mod print;
mod project;
mod replay;
mod report;
mod response;
mod retest;
mod saves;
mod sets;
mod shares;
mod sowing;
mod speed;
mod storage;
mod summary;
mod temperature;
mod tray_prints;
mod weather;

use std::io::{self, Write};
use std::num::NonZeroU32;
use std::path::{Path, PathBuf};

pub use arguments::{VERBS, parse};
use lookahead::LookAhead;
use response::ResponseRequest;
use wintercrib::exchange::field_sheets::FieldSheet;
use wintercrib::exchange::labels::{LabelOrder, PacketLabels};
use wintercrib::exchange::print::Paper;
use wintercrib::exchange::temperature_csv::Answers;
use wintercrib::exchange::tray_prints::TrayPrint;
use wintercrib::exchange::weather_csv::WeatherAnswers;
use wintercrib::insight::Vertical;
use wintercrib::model::{DateOrder, EarCode, Existing, Keep, Pass};

/// What the command line asks for.
#[derive(Debug, PartialEq)]
pub enum Request {
    /// The window, on a project or on a demo.
    Window(Option<PathBuf>),
    /// A verb.
    Verb(Verb),
}

impl Request {
    /// The project that is worked on.
    pub fn project(&self) -> Option<&Path> {
        match self {
            Self::Window(path) => path.as_deref(),
            Self::Verb(verb) => verb.project(),
        }
    }
}

/// A verb with what it needs.
#[derive(Debug, PartialEq)]
pub enum Verb {
    /// Explains the verbs.
    Help,
    /// Says the version.
    Version,
    /// Lists what is wrong with a project.
    Check {
        /// The project.
        file: PathBuf,
    },
    /// Says all figures of a season.
    Summary(Summary),
    /// Reads ears or counts from a table.
    Import(Import),
    /// Takes counts over from a copy of the project.
    Merge(Merge),
    /// Makes a project of a data package.
    Unpack(Unpack),
    /// Makes one zip of a project and its photos.
    Pack(Pack),
    /// Takes a project and its photos out of a zip.
    TakeOut(TakeOut),
    /// Says who did what when.
    Log(Log),
    /// Says who descends from whom, and the figures of each season.
    Pedigree(pedigree::PedigreeAsked),
    /// Says what the seasons brought.
    Response(ResponseRequest),
    /// Lists earlier saves of a project.
    Saves {
        /// The project.
        file: PathBuf,
        /// For a program to read, not a person.
        json: bool,
    },
    /// Makes a copy of an earlier save.
    Restore(Restore),
    /// Carries out the changes of another journal.
    Replay(Replay),
    /// Simulates what a plan may bring over seasons.
    LookAhead(Box<LookAhead>),
    /// Says what seed lies in store.
    Storage(Seed),
    /// Puts another project beside this one.
    Compare(Compare),
    /// Brings the line of an ear of another project.
    Bring(Bring),
    /// Prints something.
    Print(Print),
    /// Writes something for another program.
    Export(Export),
    /// Makes a demo project.
    Demo {
        /// Which.
        demo: Demo,
        /// Where it goes.
        to: Target,
    },
}

impl Verb {
    fn project(&self) -> Option<&Path> {
        match self {
            Self::Help | Self::Version => None,
            Self::Check { file } | Self::Saves { file, .. } => Some(file),
            Self::Export(export) => Some(&export.file),
            Self::Summary(summary) => Some(&summary.file),
            Self::Import(import) => Some(&import.file),
            Self::Merge(merge) => Some(&merge.file),
            Self::Unpack(unpack) => Some(&unpack.to.path),
            Self::Pack(pack) => Some(&pack.file),
            Self::TakeOut(take_out) => Some(&take_out.folder),
            Self::Log(log) => Some(&log.file),
            Self::Pedigree(asked) => Some(&asked.file),
            Self::Response(asked) => Some(&asked.file),
            Self::Restore(restore) => Some(&restore.out),
            Self::Replay(replay) => Some(&replay.file),
            Self::LookAhead(asked) => Some(&asked.file),
            Self::Storage(seed) => Some(&seed.file),
            Self::Compare(compare) => Some(&compare.file),
            Self::Bring(bring) => Some(&bring.file),
            Self::Print(print) => Some(&print.file),
            Self::Demo { to, .. } => Some(&to.path),
        }
    }
}

/// What making a copy of an earlier save needs.
#[derive(Debug, PartialEq)]
pub struct Restore {
    /// The project.
    file: PathBuf,
    /// The time of the save as it stands in its name; none for the latest.
    save: Option<String>,
    /// Where the copy goes.
    out: PathBuf,
}

/// What carrying out another journal needs.
#[derive(Debug, PartialEq)]
pub struct Replay {
    /// The project.
    file: PathBuf,
    /// The journal, or `-` for the standard input.
    journal: PathBuf,
    /// From its first change on; otherwise from its last save on.
    all: bool,
    /// The project is saved after so many changes; none for once, at the end.
    save_every: Option<NonZeroU32>,
    /// Only say what would be done.
    dry_run: bool,
}

/// What a summary needs.
#[derive(Debug, PartialEq)]
pub struct Summary {
    /// The project.
    file: PathBuf,
    /// The year of the season; none for the latest.
    season: Option<i16>,
    /// For a program to read, not a person.
    json: bool,
}

/// What saying the seed in store needs.
#[derive(Debug, PartialEq)]
pub struct Seed {
    /// The project.
    file: PathBuf,
    /// For a program to read, not a person.
    json: bool,
}

/// What comparing two projects needs.
#[derive(Debug, PartialEq)]
pub struct Compare {
    /// The project.
    file: PathBuf,
    /// The other project.
    other: PathBuf,
    /// For a program to read, not a person.
    json: bool,
}

/// What bringing a line needs.
#[derive(Debug, PartialEq)]
pub struct Bring {
    /// The project.
    file: PathBuf,
    /// The other project.
    other: PathBuf,
    /// The code of the ear.
    ear: EarCode,
    /// Kernels that came; none when no packet came.
    kernels: Option<u32>,
    /// Only say what would be done.
    dry_run: bool,
}

/// What an import needs.
#[derive(Debug, PartialEq)]
pub struct Import {
    /// The project.
    file: PathBuf,
    /// The table.
    table: PathBuf,
    /// What the table holds.
    what: Imported,
    /// The year of the season; none for the latest.
    season: Option<i16>,
    /// What happens to ears or counts that are there already.
    existing: Existing,
    /// Which number of a date comes first, if the table does not show it.
    dates: Option<DateOrder>,
    /// Only say what would be done.
    dry_run: bool,
}

/// What a table holds.
#[derive(Debug, PartialEq)]
enum Imported {
    Ears,
    Counts {
        /// The test's name; none for the only test of the season.
        test: Option<String>,
        /// The pass of lines that name none.
        pass: Pass,
    },
    Temperature(Box<LogRequest>),
    Weather(WeatherRequest),
}

/// What is said about a file of daily highs and lows.
#[derive(Debug, Default, PartialEq)]
struct WeatherRequest {
    /// The name or the number of the column of highs.
    high: Option<String>,
    /// The name or the number of the column of lows.
    low: Option<String>,
    /// Everything else.
    answers: WeatherAnswers,
}

/// What is said about the file of a temperature logger.
#[derive(Debug, Default, PartialEq)]
struct LogRequest {
    /// The test's name; none for the only test of the season.
    test: Option<String>,
    /// Numbers of the trays that it stands for; none for all.
    trays: Option<String>,
    /// From when it stood for them; none for its first reading.
    from: Option<String>,
    /// Until when it stood for them; none for its last reading.
    to: Option<String>,
    /// What the log is called; none for the name of its file.
    name: Option<String>,
    /// The name or the number of the column of temperatures.
    channel: Option<String>,
    /// Everything else.
    answers: Answers,
}

/// What taking counts over from a copy needs.
#[derive(Debug, PartialEq)]
pub struct Merge {
    /// The project.
    file: PathBuf,
    /// The copy of it.
    copy: PathBuf,
    /// Whether all that the copy has is taken over, and not its counts alone.
    all: bool,
    /// What is kept where both differ; none when nobody said.
    differences: Option<Keep>,
    /// Only say what would be done.
    dry_run: bool,
}

/// What making a project of a data package needs.
#[derive(Debug, PartialEq)]
pub struct Unpack {
    /// The folder of the package.
    package: PathBuf,
    /// The project that is made.
    to: Target,
    /// Only say what would be done.
    dry_run: bool,
}

/// What packing needs.
#[derive(Debug, PartialEq)]
pub struct Pack {
    /// The project.
    file: PathBuf,
    /// The zip that is made.
    zip: PathBuf,
}

/// What taking a packed copy out needs.
#[derive(Debug, PartialEq)]
pub struct TakeOut {
    /// The zip.
    zip: PathBuf,
    /// The folder that is made.
    folder: PathBuf,
}

/// What the log needs.
#[derive(Debug, PartialEq)]
pub struct Log {
    /// The project.
    file: PathBuf,
    /// The number of the ear whose changes are shown; none for all changes.
    ear: Option<u32>,
    /// The year of the ear's season; none for the latest.
    season: Option<i16>,
    /// Words that a line must hold; none for all lines.
    find: Option<String>,
    /// For a program to read, not a person.
    json: bool,
}

/// What an export needs.
#[derive(Debug, PartialEq)]
pub struct Export {
    /// The project.
    file: PathBuf,
    /// What is written.
    what: Exported,
    /// The year of the season; none for the latest.
    season: Option<i16>,
    /// Where it goes.
    to: Target,
}

/// What is written for another program.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Exported {
    /// The ears as a table.
    Ears,
    /// The days of the tests as a calendar.
    Days,
    /// The whole project as a data package.
    Package,
    /// The passport table.
    Passport,
    /// The table of Selection.
    Selection,
}

/// What a print needs.
#[derive(Debug, PartialEq)]
pub struct Print {
    /// The project.
    file: PathBuf,
    /// What is printed.
    what: Printed,
    /// The year of the season; none for the latest that has what is printed.
    season: Option<i16>,
    /// The sheet.
    paper: Paper,
    /// Where it goes. A planting list goes as PDF or as the text of which its digest is made, the plot as SVG, PNG or PDF,
    /// by the ending.
    to: Target,
}

/// What is printed.
#[derive(Debug, PartialEq)]
enum Printed {
    PlantingList {
        /// The list's version; none for the one in force.
        version: Option<u16>,
    },
    Trays(PrintedTrays),
    Plot(PrintedPlot),
    /// With the width and height of a PNG.
    Moving(Moving, [u32; 2]),
    /// With the width and height of a PNG.
    Pedigree([u32; 2]),
    Labels(PrintedLabels),
    FieldSheet {
        sheet: FieldSheet,
        /// The list's version; none for the one in force.
        version: Option<u16>,
    },
    FieldMap {
        /// The list's version; none for the one in force.
        version: Option<u16>,
    },
    CullList,
    PacketList,
    Report,
}

/// What is printed on labels.
#[derive(Debug, PartialEq)]
struct PrintedLabels {
    on: LabelWord,
    /// The numbers of the ears; none for all of the season.
    ears: Option<String>,
    /// The list's version; none for the one in force.
    version: Option<u16>,
    order: LabelOrder,
}

/// What is on labels.
#[derive(Debug, Clone, Copy, PartialEq)]
enum LabelWord {
    Packets(PacketLabels),
    Stakes,
    TestPage,
}

/// A picture of how the choice could be made otherwise.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Moving {
    Curve,
    Frontier,
}

impl Moving {
    fn name(self) -> &'static str {
        match self {
            Self::Curve => "curve",
            Self::Frontier => "frontier",
        }
    }
}

/// How the plot of Selection is drawn.
#[derive(Debug, PartialEq)]
struct PrintedPlot {
    vertical: Vertical,
    /// Whether the ears to plant are named, with their intervals.
    with_labels: bool,
    /// Width and height of a PNG.
    dots: [u32; 2],
}

/// What is printed of the trays of a test.
#[derive(Debug, PartialEq)]
struct PrintedTrays {
    print: TrayPrint,
    /// The test's name; none for the only test of the season.
    test: Option<String>,
    /// The tray's number; none for all.
    tray: Option<u16>,
    /// Whether ear numbers are printed; none for what is usual.
    with_ears: Option<bool>,
}

/// Which demo project is made.
#[derive(Debug, PartialEq)]
pub enum Demo {
    /// One that has a name.
    Named(String),
    /// One of a given size.
    Sized {
        /// Ears of each season.
        ears: u32,
        /// Seasons.
        seasons: u16,
        /// The number from which it is drawn.
        seed: u64,
    },
}

/// A file to write.
#[derive(Debug, PartialEq)]
pub struct Target {
    /// Where.
    path: PathBuf,
    /// Whether a file that is there may be replaced.
    force: bool,
}

/// Why a verb ended early. Displays as one sentence, or as several lines.
#[derive(Debug, thiserror::Error)]
pub enum Stop {
    /// The data has problems.
    #[error("{0}")]
    Problems(String),
    /// It could not be done.
    #[error("{0}")]
    Cannot(String),
    /// The command line cannot be understood.
    #[error("The command line cannot be understood: {0}. 'wintercrib help' shows what is possible")]
    CommandLine(#[from] lexopt::Error),
    /// The output could not be written.
    #[error("The output could not be written ({0}). Look where it goes and try again")]
    Output(#[from] io::Error),
}

impl Stop {
    /// It could not be done, for a reason that says what to do.
    pub fn cannot(why: impl Into<String>) -> Self {
        Self::Cannot(why.into())
    }

    fn problems(what: impl Into<String>) -> Self {
        Self::Problems(what.into())
    }

    /// The number with which the program ends.
    pub fn exit_code(&self) -> u8 {
        match self {
            Self::Problems(_) => 1,
            Self::Cannot(_) | Self::CommandLine(_) | Self::Output(_) => 2,
        }
    }
}

/// Carries out a verb; what it finds goes to `out`.
pub fn run(verb: &Verb, out: &mut dyn Write) -> Result<(), Stop> {
    match verb {
        Verb::Help => out.write_all(arguments::HELP.as_bytes())?,
        Verb::Version => writeln!(out, "wintercrib {}", env!("CARGO_PKG_VERSION"))?,
        Verb::Check { file } => check::run(file, out)?,
        Verb::Summary(summary) => summary::run(summary, out)?,
        Verb::Import(import) => import::run(import, out)?,
        Verb::Merge(merge) => merge::run(merge, out)?,
        Verb::Unpack(unpack) => package::unpack(unpack, out)?,
        Verb::Pack(pack) => packed::pack(pack, out)?,
        Verb::TakeOut(take_out) => packed::take_out(take_out, out)?,
        Verb::Log(log) => log::run(log, out)?,
        Verb::Pedigree(asked) => pedigree::run(asked, out)?,
        Verb::Response(asked) => response::run(asked, out)?,
        Verb::Saves { file, json } => saves::list(file, *json, out)?,
        Verb::Restore(restore) => saves::restore(restore, out)?,
        Verb::Replay(replay) => replay::run(replay, out)?,
        Verb::LookAhead(asked) => lookahead::run(asked, out)?,
        Verb::Storage(seed) => storage::run(seed, out)?,
        Verb::Compare(asked) => compare::run(asked, out)?,
        Verb::Bring(asked) => bring::run(asked, out)?,
        Verb::Print(print) => print::run(print, out)?,
        Verb::Export(export) => export::run(export, out)?,
        Verb::Demo { demo, to } => demo::run(demo, to, out)?,
    }
    Ok(out.flush()?)
}

//! The command line taken apart.

use std::collections::{BTreeMap, VecDeque};
use std::ffi::{OsStr, OsString};
use std::path::{Path, PathBuf};
use std::str::FromStr;

use lexopt::Arg::{Long, Short, Value};
use lexopt::{Parser, ValueExt as _};
use wintercrib::exchange::field_sheets::FieldSheet;
use wintercrib::exchange::labels::{COMMON_SHEETS, LabelOrder, LabelSheet, PacketLabels};
use wintercrib::exchange::picture::DOTS;
use wintercrib::exchange::plot_picture::PlotOrder;
use wintercrib::exchange::print::Paper;
use wintercrib::exchange::temperature_csv::{Answers, DateForm};
use wintercrib::exchange::tray_prints::TrayPrint;
use wintercrib::exchange::weather_csv::WeatherAnswers;
use wintercrib::genetics::ahead::Pollen;
use wintercrib::insight::Vertical;
use wintercrib::model::{DateOrder, EarCodeFault, Existing, Keep, Pass, TemperatureUnit};

use super::lookahead::{Change, Changes, LookAhead};
use super::pedigree::PedigreeAsked;
use super::response::ResponseRequest;
use super::{
    Bring, Compare, Demo, Export, Exported, Import, Imported, LabelWord, Log, LogRequest, Merge, Moving,
    Pack, Print, Printed, PrintedLabels, PrintedPlot, PrintedTrays, Replay, Request, Restore, Seed, Stop,
    Summary, TakeOut, Target, Unpack, Verb, WeatherRequest,
};

/// The verbs in the order in which they are explained.
pub const VERBS: &str = "check, summary, pedigree, response, storage, compare, bring, lookahead, log, saves, restore, replay, import, export, print, pack, unpack, demo or help";

/// What `help` prints.
pub(super) const HELP: &str = "\
Wintercrib: choose which ears of a corn population to plant, by cold germination against maturity.

  wintercrib [FILE]                     open the window on a project, or on a demo

Without a window:

  wintercrib check FILE                 list what is wrong with a project, one problem a line
  wintercrib summary FILE [--season YEAR] [--json]
                                        tests, model, every ear's figures and stand, what the choice costs
  wintercrib pedigree FILE [--season YEAR] [--json]
                                        families, mothers, kinship, founders and lost lines of each season
      --ear CODE                        one ear: its mothers and what came of it; a code, or a number of the season
  wintercrib storage FILE [--json]      seed in store by place and season; what to test again and to grow anew
  wintercrib compare FILE OTHER [--json]
                                        another project beside this one, season by season
  wintercrib bring FILE OTHER --ear CODE
                                        bring the line of an ear of another project, back to its founder
      --kernels N                       kernels that came with it; otherwise its packet is empty
      --dry-run                         say what would be done, and do nothing
  wintercrib import FILE --ears T.csv   read a harvest list into a season
      --season YEAR                     the season; otherwise the latest
      --existing refuse|update|skip     what happens to ear numbers that are there (refuse)
      --dates day-first|month-first     how 03/04/2026 is meant
      --dry-run                         say what would be done, and do nothing
  wintercrib import FILE --counts T.csv read the counts of a test; --season, --existing, --dates, --dry-run as above
      --test NAME                       the test; otherwise the only one of the season
      --pass early|final                the pass of lines that name none (final)
  wintercrib import FILE --temperature LOG.csv
                                        read the file of a temperature logger; --season, --test, --dry-run as above
      --trays 1-4,9                     the trays that it stands for (all)
      --from TIME, --to TIME            from when to when, such as \"2026-02-05 18:30\" (its first and last reading)
      --dates day-first|month-first|year-first, --unit c|f, --channel NAME
                                        what the file does not tell; it is asked for when it matters
      --add-minutes N                   moves the times of a clock that was wrong
      --name NAME                       what the log is called (the name of the file)
      --leave-out-bad                   take the other lines where some cannot be read
  wintercrib import FILE --weather W.csv
                                        read the daily highs and lows of your place; --dry-run as above
      --season YEAR                     only the days of that year; otherwise all of the file
      --dates, --unit                   as above
      --high NAME, --low NAME           the columns of highs and lows, where the file does not tell
      --leave-out-bad                   as above
  wintercrib import FILE --counts-from COPY.ron
                                        take over what a second scorer counted in a copy of the project
      --differences ours|theirs|both    what is kept where both differ; otherwise they are listed and nothing is taken
      --dry-run                         say what would be done, and do nothing
  wintercrib import FILE --all-from COPY.ron
                                        take over all that another copy has and this one lacks; --dry-run as above
      --differences ours|theirs         what stands where both changed it; otherwise it is listed and nothing is taken
  wintercrib import NEW.ron --package FOLDER [--dry-run]
                                        make a project of a data package, edited or not; all of it or nothing
  wintercrib response FILE [--json]     what the seasons brought: how the population moved as counted and beside a
                                        common check, what of the selection was realised, what came along unasked
  wintercrib lookahead FILE             simulate what a plan may bring over seasons; what is not said goes on as before
      --seasons N (10), --replicates R (1000), --seed K (1), --season YEAR, --json
      --ears N, --kernels N             ears tested every season, kernels of each
      --kept N, --cap N|none            the best so many are kept, at most so many of one mother row
      --cutoff PERCENT|none, --sureness S
                                        of those that reach it with that probability
      --passing PERCENT                 ears that pass the other limits
      --plants N, --evenness PERCENT    plants of each kept ear; 100 for equal, less for more of the better ones
      --pollen all-rows|kept-bulk|all-bulk, --foreign PERCENT
                                        who sheds the pollen, and how much comes from elsewhere
  wintercrib log FILE                   who did what when, from the project's journal
      --ear N [--season YEAR]           only what touched one ear
      --find WORDS                      only lines with these words
      --json                            for a program to read
  wintercrib saves FILE [--json]        list the earlier saves that are kept, the latest first
  wintercrib restore FILE --out COPY.ron [--save TIME]
                                        write an earlier save, by its time as listed, to a new file (the latest one)
  wintercrib replay FILE --journal J    carry out the changes of a journal that was set aside, as far as they fit
      --all                             from its first change on, not only from its last save on
      --journal -                       take them from the standard input; each is on the disk before the next
      --save-every N, --dry-run         save after so many changes (once, at the end); only say what would be done
  wintercrib export FILE --out FOLDER   write the whole project as a Frictionless Data Package
  wintercrib export FILE --passport --out T.csv
                                        a passport table (MCPD V2.1): the population, the ears given away
  wintercrib export FILE --ears --out T.csv [--season YEAR]
                                        write the ears of a season as a table
  wintercrib export FILE --selection --out T.csv [--season YEAR]
                                        write the table of Selection: figures, stand and reasons of every ear
  wintercrib export FILE --ics --out T.ics [--season YEAR]
                                        write the days of its tests for a calendar: water, counts, clean-up
  wintercrib print FILE planting-list --out L.pdf
                                        print a frozen planting list; --out L.txt writes the text of its digest
      --season YEAR, --version N        another list than the one in force of the latest season
      --paper letter|a4                 the sheet (letter)
  wintercrib print FILE WHAT --out P.pdf
                                        print the trays of a test; WHAT is cloth-map (true scale, to mark cloths),
                                        tray-map, laying-list, score-sheet or retest-list
      --season YEAR, --test NAME        the test; otherwise the only one of the latest season that has one
      --tray N                          one tray; otherwise all
      --ear-numbers yes|no              on a cloth-map (no) and a score-sheet (yes)
      --paper letter|a4                 the sheet (letter)
  wintercrib print FILE report --out R.pdf
                                        print the report of a season: its tests, the plot, the choice and its price,
                                        mothers, kernels, frozen lists and every ear; --season, --paper as above
  wintercrib print FILE plot --out F.svg|F.png|F.pdf
                                        draw the plot of a season: ears by maturity and cold germination
      --season YEAR                     the season; otherwise the latest
      --likely                          likely percents instead of those that were counted
      --labels                          name the ears to plant, with their intervals where they are few
      --dots 1600x1000                  the size of a PNG
      --paper letter|a4                 the sheet of a PDF (letter)
  wintercrib print FILE curve|frontier --out F.svg|F.png|F.pdf
                                        draw how the choice moves with the cutoff, or the best mean that shared out
                                        kernels have at each effective size; --season, --dots, --paper as above
  wintercrib print FILE pedigree --out F.svg|F.png|F.pdf
                                        draw the pedigree over all seasons; --dots, --paper as above
  wintercrib print FILE labels --out P.pdf
                                        print labels of packets on a sheet of labels
      --season YEAR, --ears 1-40,77     the ears; otherwise all of the latest season
      --slips no|only|too               slips to put inside instead of labels, or each beside its label (no)
      --grid 3x10                       a common sheet of the paper by its columns and rows; otherwise the first
      --label 66.7x25.4 --gap 3.2x0 --edge 4.8x12.7
                                        with --grid a sheet of your own, in mm: the label, the blanks between, the edge
      --start N                         the first label of the sheet that is still there (1)
      --outlines, --square yes|no       outlines to cut along; a square code for a scanner (yes)
      --paper letter|a4                 the sheet (letter)
  wintercrib print FILE stakes --out P.pdf
                                        print two stakes for each row of a frozen list; --version, and options as above
  wintercrib print FILE label-test --out P.pdf
                                        print the outlines of a sheet of labels, to try it on plain paper
  wintercrib print FILE SHEET --out P.pdf
                                        print forms for the rows of a frozen list; SHEET is planting-sheet,
                                        stand-sheet, flowering-sheet or detassel-sheet; --season, --version, --paper
                                        as above
  wintercrib print FILE field-map --out P.pdf
                                        print the field of a frozen list to scale, where it is planned
  wintercrib print FILE cull-list --out P.pdf
                                        print the ears that are left out, in the order of their boxes
  wintercrib print FILE packet-list --out P.pdf
                                        print all packets with kernels, place by place; --paper as above
  wintercrib pack FILE --out F.zip      put the project and its photos into one zip, to carry to another computer
  wintercrib unpack F.zip --out FOLDER  take a project out of such a zip, into a new folder
  wintercrib demo NAME --out F.ron      make a demo project; without NAME the names are told
  wintercrib demo --ears N [--seasons S] [--seed K] --out F.ron
                                        make a demo project of any size
  wintercrib help                       this text
  wintercrib --version                  the version

An import takes all lines or none. A file that is there already is replaced only with --force, and kept as .bak;
a packed copy and a folder that it is unpacked to are never replaced.
Exit codes: 0 all is well, 1 there are problems in the data and they are listed, 2 it could not be done.
WINTERCRIB_LOG=off|error|warn|info|debug|trace says how much the program tells of itself.
";

/// Options that stand alone.
const FLAG: bool = false;
/// Options with a value behind them.
const VALUE: bool = true;

/// Takes the command line apart.
pub fn parse(mut parser: Parser) -> Result<Request, Stop> {
    let first = match parser.next()? {
        None => return Ok(Request::Window(None)),
        Some(Short('h') | Long("help")) => return Ok(Request::Verb(Verb::Help)),
        Some(Short('V') | Long("version")) => return Ok(Request::Verb(Verb::Version)),
        Some(Value(first)) => first,
        Some(other) => return Err(other.unexpected().into()),
    };
    let read = match first.to_str() {
        Some("help") => return Ok(Request::Verb(Verb::Help)),
        Some("check") => check,
        Some("summary") => summary,
        Some("storage") => storage,
        Some("compare") => compare,
        Some("bring") => bring,
        Some("import") => import,
        Some("export") => export,
        Some("log") => log,
        Some("pedigree") => pedigree,
        Some("response") => response,
        Some("replay") => replay,
        Some("saves") => saves,
        Some("restore") => restore,
        Some("lookahead") => lookahead,
        Some("print") => print,
        Some("pack") => pack,
        Some("unpack") => take_out,
        Some("demo") => demo,
        _ => return window(first, parser),
    };
    Ok(Request::Verb(read(parser)?))
}

fn check(parser: Parser) -> Result<Verb, Stop> {
    let mut given = Given::read("check", parser, &[])?;
    let file = given.file()?;
    given.done(Verb::Check { file })
}

fn summary(parser: Parser) -> Result<Verb, Stop> {
    let mut given = Given::read("summary", parser, &[("season", VALUE), ("json", FLAG)])?;
    let summary = Summary {
        file: given.file()?,
        season: given.season()?,
        json: given.flag("json"),
    };
    given.done(Verb::Summary(summary))
}

fn storage(parser: Parser) -> Result<Verb, Stop> {
    let mut given = Given::read("storage", parser, &[("json", FLAG)])?;
    let seed = Seed {
        file: given.file()?,
        json: given.flag("json"),
    };
    given.done(Verb::Storage(seed))
}

fn compare(parser: Parser) -> Result<Verb, Stop> {
    let mut given = Given::read("compare", parser, &[("json", FLAG)])?;
    let compare = Compare {
        file: given.file()?,
        other: given.other()?,
        json: given.flag("json"),
    };
    given.done(Verb::Compare(compare))
}

fn bring(parser: Parser) -> Result<Verb, Stop> {
    let options = [("ear", VALUE), ("kernels", VALUE), ("dry-run", FLAG)];
    let mut given = Given::read("bring", parser, &options)?;
    let (file, other) = (given.file()?, given.other()?);
    let Some(code) = given.text("ear")? else {
        return Err(Stop::cannot(
            "'wintercrib bring' must be told which ear. Add --ear with its code, such as ET26-0147-6",
        ));
    };
    let ear = code
        .parse()
        .map_err(|fault: EarCodeFault| Stop::cannot(format!("--ear cannot be used: {fault}")))?;
    let bring = Bring {
        file,
        other,
        ear,
        kernels: given.number("kernels", "a whole number such as 40")?,
        dry_run: given.flag("dry-run"),
    };
    given.done(Verb::Bring(bring))
}

fn import(parser: Parser) -> Result<Verb, Stop> {
    let options = [
        ("ears", VALUE),
        ("counts", VALUE),
        ("temperature", VALUE),
        ("weather", VALUE),
        ("high", VALUE),
        ("low", VALUE),
        ("counts-from", VALUE),
        ("all-from", VALUE),
        ("package", VALUE),
        ("differences", VALUE),
        ("season", VALUE),
        ("test", VALUE),
        ("pass", VALUE),
        ("existing", VALUE),
        ("dates", VALUE),
        ("trays", VALUE),
        ("from", VALUE),
        ("to", VALUE),
        ("unit", VALUE),
        ("channel", VALUE),
        ("add-minutes", VALUE),
        ("name", VALUE),
        ("leave-out-bad", FLAG),
        ("dry-run", FLAG),
    ];
    let mut given = Given::read("import", parser, &options)?;
    let file = given.file()?;
    if let Some(package) = given.path("package") {
        return unpack(given, file, package);
    }
    if let Some(copy) = given.path("counts-from") {
        return merge(given, file, copy, false);
    }
    if let Some(copy) = given.path("all-from") {
        return merge(given, file, copy, true);
    }
    given.refuse(&["differences"], "a table")?;
    let kinds = ["ears", "counts", "temperature", "weather"];
    let tables = kinds.map(|kind| given.path(kind).map(|table| (kind, table)));
    let mut tables = tables.into_iter().flatten();
    let (Some((kind, table)), None) = (tables.next(), tables.next()) else {
        return Err(Stop::cannot(
            "'wintercrib import' takes one table. Name it with --ears, with --counts, with --temperature or with --weather, a copy of the project with --counts-from or --all-from, or the folder of a data package with --package",
        ));
    };
    let of_logs = [
        "trays",
        "from",
        "to",
        "unit",
        "channel",
        "add-minutes",
        "name",
        "leave-out-bad",
    ];
    if kind != "weather" {
        given.refuse(&["high", "low"], "anything but the weather")?;
    }
    let what = match kind {
        "weather" => {
            let others = [
                "test",
                "pass",
                "existing",
                "trays",
                "from",
                "to",
                "channel",
                "add-minutes",
                "name",
            ];
            given.refuse(&others, "the weather")?;
            Imported::Weather(WeatherRequest {
                high: given.text("high")?,
                low: given.text("low")?,
                answers: WeatherAnswers {
                    dates: given.one_of("dates", &DATE_FORMS)?,
                    unit: given.one_of("unit", &UNITS)?,
                    leave_out_bad: given.flag("leave-out-bad"),
                    ..WeatherAnswers::default()
                },
            })
        }
        "temperature" => {
            given.refuse(&["pass", "existing"], "a temperature log")?;
            Imported::Temperature(Box::new(log_request(&mut given)?))
        }
        "counts" => {
            given.refuse(&of_logs, "counts")?;
            let pass = given.one_of("pass", &[("early", Pass::Early), ("final", Pass::Final)])?;
            Imported::Counts {
                test: given.text("test")?,
                pass: pass.unwrap_or(Pass::Final),
            }
        }
        _ => {
            given.refuse(&["test", "pass"], "ears")?;
            given.refuse(&of_logs, "ears")?;
            Imported::Ears
        }
    };
    let existing = [
        ("refuse", Existing::Refuse),
        ("update", Existing::Update),
        ("skip", Existing::Skip),
    ];
    let dates = [
        ("day-first", DateOrder::DayFirst),
        ("month-first", DateOrder::MonthFirst),
    ];
    let import = Import {
        file,
        table,
        what,
        season: given.season()?,
        existing: given.one_of("existing", &existing)?.unwrap_or_default(),
        dates: given.one_of("dates", &dates)?,
        dry_run: given.flag("dry-run"),
    };
    given.done(Verb::Import(import))
}

const DATE_FORMS: [(&str, DateForm); 3] = [
    ("day-first", DateForm::DayFirst),
    ("month-first", DateForm::MonthFirst),
    ("year-first", DateForm::YearFirst),
];
const UNITS: [(&str, TemperatureUnit); 2] = [
    ("c", TemperatureUnit::Celsius),
    ("f", TemperatureUnit::Fahrenheit),
];

fn log_request(given: &mut Given) -> Result<LogRequest, Stop> {
    Ok(LogRequest {
        test: given.text("test")?,
        trays: given.text("trays")?,
        from: given.text("from")?,
        to: given.text("to")?,
        name: given.text("name")?,
        channel: given.text("channel")?,
        answers: Answers {
            dates: given.one_of("dates", &DATE_FORMS)?,
            unit: given.one_of("unit", &UNITS)?,
            add_minutes: given
                .number("add-minutes", "whole minutes such as 60 or -60")?
                .unwrap_or(0),
            leave_out_bad: given.flag("leave-out-bad"),
            ..Answers::default()
        },
    })
}

fn merge(mut given: Given, file: PathBuf, copy: PathBuf, all: bool) -> Result<Verb, Stop> {
    let differences = [
        ("ours", Keep::Here),
        ("theirs", Keep::There),
        ("both", Keep::Both),
    ];
    let merge = Merge {
        file,
        copy,
        all,
        differences: given.one_of("differences", &differences)?,
        dry_run: given.flag("dry-run"),
    };
    let others: Vec<&str> = given.options.keys().copied().collect();
    given.refuse(&others, if all { "--all-from" } else { "--counts-from" })?;
    if all && merge.differences == Some(Keep::Both) {
        return Err(Stop::cannot(
            "'--differences both' keeps two counts of a cell; with --all-from say ours or theirs, and take the counts with --counts-from first",
        ));
    }
    given.done(Verb::Merge(merge))
}

fn unpack(mut given: Given, path: PathBuf, package: PathBuf) -> Result<Verb, Stop> {
    let unpack = Unpack {
        package,
        to: Target { path, force: false },
        dry_run: given.flag("dry-run"),
    };
    let others: Vec<&str> = given.options.keys().copied().collect();
    given.refuse(&others, "--package")?;
    if !ends_in(&unpack.to.path, &["ron"]) {
        return Err(Stop::cannot(format!(
            "'{}' cannot be used. Write a name that ends in .ron for the project that is made",
            unpack.to.path.display()
        )));
    }
    given.done(Verb::Unpack(unpack))
}

fn pack(parser: Parser) -> Result<Verb, Stop> {
    let mut given = Given::read("pack", parser, &[("out", VALUE)])?;
    let pack = Pack {
        file: given.file()?,
        zip: given.target(&["zip"])?.path,
    };
    given.done(Verb::Pack(pack))
}

fn take_out(parser: Parser) -> Result<Verb, Stop> {
    let mut given = Given::read("unpack", parser, &[("out", VALUE)])?;
    let zip = given.values.pop_front().map(PathBuf::from).ok_or_else(|| {
        Stop::cannot("'wintercrib unpack' needs a packed copy. Write the name of a .zip file behind it")
    })?;
    let folder = given.path("out").ok_or_else(|| {
        Stop::cannot(
            "'wintercrib unpack' must be told where to unpack. Add --out with the name of a new folder",
        )
    })?;
    given.done(Verb::TakeOut(TakeOut { zip, folder }))
}

fn log(parser: Parser) -> Result<Verb, Stop> {
    let options = [("ear", VALUE), ("season", VALUE), ("find", VALUE), ("json", FLAG)];
    let mut given = Given::read("log", parser, &options)?;
    let log = Log {
        file: given.file()?,
        ear: given.number("ear", "the number of an ear such as 12")?,
        season: given.season()?,
        find: given.text("find")?,
        json: given.flag("json"),
    };
    given.done(Verb::Log(log))
}

fn pedigree(parser: Parser) -> Result<Verb, Stop> {
    let options = [("season", VALUE), ("ear", VALUE), ("json", FLAG)];
    let mut given = Given::read("pedigree", parser, &options)?;
    let asked = PedigreeAsked {
        file: given.file()?,
        season: given.season()?,
        ear: given.text("ear")?,
        json: given.flag("json"),
    };
    given.done(Verb::Pedigree(asked))
}

fn response(parser: Parser) -> Result<Verb, Stop> {
    let mut given = Given::read("response", parser, &[("json", FLAG)])?;
    let asked = ResponseRequest {
        file: given.file()?,
        json: given.flag("json"),
    };
    given.done(Verb::Response(asked))
}

fn saves(parser: Parser) -> Result<Verb, Stop> {
    let mut given = Given::read("saves", parser, &[("json", FLAG)])?;
    let (file, json) = (given.file()?, given.flag("json"));
    given.done(Verb::Saves { file, json })
}

fn restore(parser: Parser) -> Result<Verb, Stop> {
    let mut given = Given::read("restore", parser, &[("save", VALUE), ("out", VALUE)])?;
    let restore = Restore {
        file: given.file()?,
        save: given.text("save")?,
        out: given.path("out").ok_or_else(|| {
            Stop::cannot(
                "Nothing says where the copy goes. Name a new file with --out, such as --out earlier.ron",
            )
        })?,
    };
    given.done(Verb::Restore(restore))
}

fn replay(parser: Parser) -> Result<Verb, Stop> {
    let options = [
        ("journal", VALUE),
        ("all", FLAG),
        ("save-every", VALUE),
        ("dry-run", FLAG),
    ];
    let mut given = Given::read("replay", parser, &options)?;
    let replay = Replay {
        file: given.file()?,
        journal: given.path("journal").ok_or_else(|| {
            Stop::cannot(
                "No journal is named. Name it with --journal, such as a file that ends in .set-aside, or write - for the \
                 standard input",
            )
        })?,
        all: given.flag("all"),
        save_every: given.number("save-every", "a number of changes such as 100")?,
        dry_run: given.flag("dry-run"),
    };
    given.done(Verb::Replay(replay))
}

fn lookahead(parser: Parser) -> Result<Verb, Stop> {
    let options = [
        ("season", VALUE),
        ("seasons", VALUE),
        ("replicates", VALUE),
        ("seed", VALUE),
        ("ears", VALUE),
        ("kernels", VALUE),
        ("kept", VALUE),
        ("cutoff", VALUE),
        ("sureness", VALUE),
        ("cap", VALUE),
        ("passing", VALUE),
        ("plants", VALUE),
        ("evenness", VALUE),
        ("pollen", VALUE),
        ("foreign", VALUE),
        ("json", FLAG),
    ];
    let mut given = Given::read("lookahead", parser, &options)?;
    let pollen = [
        ("all-rows", Pollen::AllRows),
        ("kept-bulk", Pollen::BulkOfKept),
        ("all-bulk", Pollen::BulkOfAll),
    ];
    let whole = "a whole number such as 40";
    let percent = "a percent from 0 to 100";
    let asked = LookAhead {
        file: given.file()?,
        season: given.season()?,
        replicates: given.number("replicates", whole)?.unwrap_or(1_000),
        seed: given.number("seed", whole)?.unwrap_or(1),
        changes: Changes {
            seasons: given.number("seasons", "a whole number from 1 to 20")?,
            ears: given.number("ears", whole)?,
            kernels: given.number("kernels", whole)?,
            kept: given.number("kept", whole)?,
            cutoff: given.number_or_none("cutoff", percent)?,
            sureness: given.number("sureness", "a probability from 0.5 to 0.99")?,
            cap: given.number_or_none("cap", whole)?,
            plants: given.number("plants", whole)?,
            evenness: given.number("evenness", percent)?,
            passing: given.number("passing", percent)?,
            pollen: given.one_of("pollen", &pollen)?,
            foreign: given.number("foreign", percent)?,
        },
        json: given.flag("json"),
    };
    given.done(Verb::LookAhead(Box::new(asked)))
}

fn export(parser: Parser) -> Result<Verb, Stop> {
    let options = [
        ("ears", FLAG),
        ("ics", FLAG),
        ("passport", FLAG),
        ("selection", FLAG),
        ("out", VALUE),
        ("season", VALUE),
        ("force", FLAG),
    ];
    let mut given = Given::read("export", parser, &options)?;
    let file = given.file()?;
    let kinds = [
        ("ears", Exported::Ears, "csv"),
        ("ics", Exported::Days, "ics"),
        ("passport", Exported::Passport, "csv"),
        ("selection", Exported::Selection, "csv"),
    ];
    let asked: Vec<(&str, Exported, &str)> =
        kinds.into_iter().filter(|(name, ..)| given.flag(name)).collect();
    let (what, to) = match asked.as_slice() {
        [] => (Exported::Package, given.folder()?),
        [(_, what, ending)] => (*what, given.target(&[ending])?),
        _ => {
            return Err(Stop::cannot(
                "'wintercrib export' writes one thing at a time. Add --ears or --ics or --passport or --selection, or none of them for a data package",
            ));
        }
    };
    if matches!(what, Exported::Package | Exported::Passport) {
        given.refuse(&["season"], "the whole project")?;
    }
    let export = Export {
        file,
        what,
        season: given.season()?,
        to,
    };
    given.done(Verb::Export(export))
}

/// What a word of `print` stands for.
#[derive(Debug, Clone, Copy, PartialEq)]
enum PrintWord {
    PlantingList,
    Trays(TrayPrint),
    Plot,
    Moving(Moving),
    Pedigree,
    Labels(LabelWord),
    Field(FieldSheet),
    FieldMap,
    CullList,
    PacketList,
    Report,
}

/// What can be printed, by the word for it.
const PRINTS: [(&str, PrintWord); 21] = [
    ("planting-list", PrintWord::PlantingList),
    ("cloth-map", PrintWord::Trays(TrayPrint::ClothMap)),
    ("tray-map", PrintWord::Trays(TrayPrint::TrayMap)),
    ("laying-list", PrintWord::Trays(TrayPrint::LayingList)),
    ("score-sheet", PrintWord::Trays(TrayPrint::ScoreSheet)),
    ("retest-list", PrintWord::Trays(TrayPrint::RetestList)),
    ("plot", PrintWord::Plot),
    ("curve", PrintWord::Moving(Moving::Curve)),
    ("frontier", PrintWord::Moving(Moving::Frontier)),
    ("pedigree", PrintWord::Pedigree),
    (
        "labels",
        PrintWord::Labels(LabelWord::Packets(PacketLabels::Labels)),
    ),
    ("stakes", PrintWord::Labels(LabelWord::Stakes)),
    ("label-test", PrintWord::Labels(LabelWord::TestPage)),
    ("field-map", PrintWord::FieldMap),
    ("planting-sheet", PrintWord::Field(FieldSheet::Planting)),
    ("stand-sheet", PrintWord::Field(FieldSheet::Stand)),
    ("flowering-sheet", PrintWord::Field(FieldSheet::Flowering)),
    ("detassel-sheet", PrintWord::Field(FieldSheet::Detassel)),
    ("cull-list", PrintWord::CullList),
    ("packet-list", PrintWord::PacketList),
    ("report", PrintWord::Report),
];

/// Options of labels alone.
const OF_LABELS: [&str; 9] = [
    "ears", "slips", "grid", "label", "gap", "edge", "start", "outlines", "square",
];

/// Options of the plot alone.
const OF_THE_PLOT: [&str; 3] = ["likely", "labels", "dots"];

fn print(parser: Parser) -> Result<Verb, Stop> {
    let options = [
        ("out", VALUE),
        ("season", VALUE),
        ("version", VALUE),
        ("test", VALUE),
        ("tray", VALUE),
        ("ear-numbers", VALUE),
        ("paper", VALUE),
        ("likely", FLAG),
        ("labels", FLAG),
        ("dots", VALUE),
        ("ears", VALUE),
        ("slips", VALUE),
        ("grid", VALUE),
        ("label", VALUE),
        ("gap", VALUE),
        ("edge", VALUE),
        ("start", VALUE),
        ("outlines", FLAG),
        ("square", VALUE),
        ("force", FLAG),
    ];
    let mut given = Given::read("print", parser, &options)?;
    let file = given.file()?;
    let word = given.values.pop_front().unwrap_or_default();
    let Some((_, asked)) = PRINTS.into_iter().find(|(known, _)| word == *known) else {
        let words = PRINTS.map(|(known, _)| known);
        return Err(Stop::cannot(format!(
            "'{}' is nothing that 'wintercrib print' prints. Write one of {} behind the file",
            word.display(),
            words.join(", ")
        )));
    };
    if !matches!(asked, PrintWord::Labels(_)) {
        given.refuse(&OF_LABELS, &format!("a print of {}", word.display()))?;
    }
    let paper = given
        .one_of("paper", &[("letter", Paper::Letter), ("a4", Paper::A4)])?
        .unwrap_or_default();
    let what = match asked {
        PrintWord::Labels(_) | PrintWord::Field(_) | PrintWord::FieldMap | PrintWord::CullList => {
            given.refuse(&["test", "tray", "ear-numbers"], "this print")?;
            given.refuse(&OF_THE_PLOT, "this print")?;
            match asked {
                PrintWord::Labels(on) => Printed::Labels(labels(&mut given, on, paper)?),
                PrintWord::Field(sheet) => Printed::FieldSheet {
                    sheet,
                    version: given.number("version", "a version such as 2")?,
                },
                PrintWord::FieldMap => Printed::FieldMap {
                    version: given.number("version", "a version such as 2")?,
                },
                _ => {
                    given.refuse(&["version"], "the cull list")?;
                    Printed::CullList
                }
            }
        }
        PrintWord::PlantingList => {
            given.refuse(&["test", "tray", "ear-numbers"], "a planting list")?;
            given.refuse(&OF_THE_PLOT, "a planting list")?;
            Printed::PlantingList {
                version: given.number("version", "a version such as 2")?,
            }
        }
        PrintWord::Trays(print) => {
            given.refuse(&["version"], "the trays of a test")?;
            given.refuse(&OF_THE_PLOT, "the trays of a test")?;
            if !matches!(print, TrayPrint::ClothMap | TrayPrint::ScoreSheet) {
                given.refuse(&["ear-numbers"], &format!("a {}", print.name()))?;
            }
            Printed::Trays(PrintedTrays {
                print,
                test: given.text("test")?,
                tray: given.number("tray", "the number of a tray such as 3")?,
                with_ears: given.one_of("ear-numbers", &[("yes", true), ("no", false)])?,
            })
        }
        PrintWord::Plot => {
            given.refuse(&["version", "test", "tray", "ear-numbers"], "the plot")?;
            let is_likely = given.flag("likely");
            Printed::Plot(PrintedPlot {
                vertical: if is_likely {
                    Vertical::Likely
                } else {
                    Vertical::Observed
                },
                with_labels: given.flag("labels"),
                dots: dots(&mut given)?,
            })
        }
        PrintWord::PacketList => {
            given.refuse(
                &["version", "test", "tray", "ear-numbers", "season"],
                "the packets",
            )?;
            given.refuse(&OF_THE_PLOT, "the packets")?;
            Printed::PacketList
        }
        PrintWord::Report => {
            given.refuse(&["version", "test", "tray", "ear-numbers"], "the report")?;
            given.refuse(&OF_THE_PLOT, "the report")?;
            Printed::Report
        }
        PrintWord::Pedigree => {
            let others = [
                "version",
                "test",
                "tray",
                "ear-numbers",
                "likely",
                "labels",
                "season",
            ];
            given.refuse(&others, "the pedigree")?;
            Printed::Pedigree(dots(&mut given)?)
        }
        PrintWord::Moving(what) => {
            let others = ["version", "test", "tray", "ear-numbers", "likely", "labels"];
            given.refuse(&others, &format!("the {}", what.name()))?;
            Printed::Moving(what, dots(&mut given)?)
        }
    };
    let endings: &[&str] = match asked {
        PrintWord::PlantingList => &["pdf", "txt"],
        PrintWord::Trays(_)
        | PrintWord::Labels(_)
        | PrintWord::Field(_)
        | PrintWord::FieldMap
        | PrintWord::CullList
        | PrintWord::PacketList
        | PrintWord::Report => &["pdf"],
        PrintWord::Plot | PrintWord::Moving(_) | PrintWord::Pedigree => &["svg", "png", "pdf"],
    };
    let print = Print {
        file,
        what,
        season: given.season()?,
        paper,
        to: given.target(endings)?,
    };
    given.done(Verb::Print(print))
}

/// Width and height of a PNG.
fn dots(given: &mut Given) -> Result<[u32; 2], Stop> {
    let Some(text) = given.text("dots")? else {
        return Ok(PlotOrder::default().dots);
    };
    let sides = text
        .split_once('x')
        .map(|(width, height)| [width, height].map(str::parse));
    match sides {
        Some([Ok(width), Ok(height)]) if [width, height].iter().all(|side| DOTS.contains(side)) => {
            Ok([width, height])
        }
        _ => Err(Stop::cannot(format!(
            "--dots '{text}' cannot be used. Write width and height such as 1600x1000, each from {} to {}",
            DOTS.start(),
            DOTS.end()
        ))),
    }
}

fn labels(given: &mut Given, on: LabelWord, paper: Paper) -> Result<PrintedLabels, Stop> {
    let on = match on {
        LabelWord::Packets(_) => {
            given.refuse(&["version"], "labels of packets")?;
            let kinds = [
                ("no", PacketLabels::Labels),
                ("only", PacketLabels::Slips),
                ("too", PacketLabels::Both),
            ];
            LabelWord::Packets(given.one_of("slips", &kinds)?.unwrap_or_default())
        }
        LabelWord::Stakes => on,
        LabelWord::TestPage => {
            given.refuse(&["version", "start", "square", "outlines"], "a test page")?;
            on
        }
    };
    if !matches!(on, LabelWord::Packets(_)) {
        given.refuse(&["ears", "slips"], "what has nothing to do with packets")?;
    }
    Ok(PrintedLabels {
        on,
        ears: given.text("ears")?,
        version: given.number("version", "a version such as 2")?,
        order: LabelOrder {
            sheet: label_sheet(given, on, paper)?,
            start: given
                .number("start", "the number of a label such as 5")?
                .unwrap_or(1),
            outlines: given.flag("outlines"),
            squares: given
                .one_of("square", &[("yes", true), ("no", false)])?
                .unwrap_or(true),
        },
    })
}

/// A common sheet of the paper by its grid, or one of the grower's own where the size of a label is given.
fn label_sheet(given: &mut Given, on: LabelWord, paper: Paper) -> Result<LabelSheet, Stop> {
    let grid: Option<(u16, u16)> = given.pair("grid", "columns and rows such as 3x10")?;
    let label: Option<(f32, f32)> =
        given.pair("label", "width and height in millimetres such as 66.7x25.4")?;
    let wanted = |sheet: &&LabelSheet| {
        sheet.paper == paper && grid.is_none_or(|grid| grid == (sheet.columns, sheet.rows))
    };
    let Some(label_mm) = label else {
        given.refuse(
            &["gap", "edge"],
            "a common sheet, unless --label gives the size of a label",
        )?;
        let mut common = COMMON_SHEETS.iter().filter(wanted);
        // Without a grid stakes get the largest labels.
        let found = if on == LabelWord::Stakes {
            common.min_by_key(|sheet| sheet.labels())
        } else {
            common.next()
        };
        return found.copied().ok_or_else(|| {
            let of_paper = COMMON_SHEETS.iter().filter(|sheet| sheet.paper == paper);
            let grids: Vec<String> = of_paper.map(|sheet| format!("{}x{}", sheet.columns, sheet.rows)).collect();
            Stop::cannot(format!(
                "No common sheet has this grid; those of this paper have {}. Give the size of a label with --label for a sheet of your own",
                grids.join(", ")
            ))
        });
    };
    let (columns, rows) = grid.ok_or_else(|| {
        Stop::cannot("A sheet of your own needs --grid with its columns and rows, such as 3x10")
    })?;
    let gap_mm = given
        .pair("gap", "millimetres across and down such as 3.2x0")?
        .unwrap_or_default();
    let edge_mm = given
        .pair("edge", "millimetres at the left and above such as 4.8x12.7")?
        .unwrap_or_default();
    Ok(LabelSheet {
        paper,
        label_mm,
        columns,
        rows,
        gap_mm,
        edge_mm,
    })
}

fn demo(parser: Parser) -> Result<Verb, Stop> {
    let options = [
        ("out", VALUE),
        ("ears", VALUE),
        ("seasons", VALUE),
        ("seed", VALUE),
        ("force", FLAG),
    ];
    let mut given = Given::read("demo", parser, &options)?;
    let name = given
        .values
        .pop_front()
        .map(|name| name.to_string_lossy().into_owned());
    let ears: Option<u32> = given.number("ears", "a number of ears such as 240")?;
    let seasons: Option<u16> = given.number("seasons", "a number of seasons such as 3")?;
    let seed: Option<u64> = given.number("seed", "a whole number such as 1")?;
    let demo = match (name, ears) {
        (Some(name), None) if seasons.is_none() && seed.is_none() => Demo::Named(name),
        (None, Some(ears)) => Demo::Sized {
            ears,
            seasons: seasons.unwrap_or(1),
            seed: seed.unwrap_or(1),
        },
        (Some(_), _) => {
            return Err(Stop::cannot(
                "A demo project that has a name has its size too. Leave out --ears, --seasons and --seed, or the name",
            ));
        }
        (None, None) => return Err(super::demo::which()),
    };
    let to = given.target(&["ron"])?;
    given.done(Verb::Demo { demo, to })
}

fn window(first: OsString, mut parser: Parser) -> Result<Request, Stop> {
    let path = PathBuf::from(first);
    let is_file = path.extension().is_some() || path.components().count() > 1 || path.exists();
    if !is_file {
        return Err(Stop::cannot(format!(
            "'{}' is neither a verb nor a file. The verbs are {}; 'wintercrib help' explains them",
            path.display(),
            VERBS
        )));
    }
    match parser.next()? {
        None => Ok(Request::Window(Some(path))),
        Some(Value(other)) => Err(Stop::cannot(format!(
            "One window shows one project, but '{}' was named too. Open one after the other",
            other.display()
        ))),
        Some(other) => Err(other.unexpected().into()),
    }
}

/// What was given behind a verb, in any order. What a verb needs is taken out; nothing may be left.
struct Given {
    verb: &'static str,
    values: VecDeque<OsString>,
    options: BTreeMap<&'static str, OsString>,
}

impl Given {
    fn read(verb: &'static str, mut parser: Parser, known: &[(&'static str, bool)]) -> Result<Self, Stop> {
        let mut given = Self {
            verb,
            values: VecDeque::new(),
            options: BTreeMap::new(),
        };
        while let Some(word) = parser.next()? {
            let (name, takes_value) = match word {
                Value(value) => {
                    given.values.push_back(value);
                    continue;
                }
                Long(name) => *known
                    .iter()
                    .find(|(known, _)| *known == name)
                    .ok_or_else(|| given.unknown(&format!("--{name}"), known))?,
                Short(letter) => return Err(given.unknown(&format!("-{letter}"), known)),
            };
            let value = if takes_value {
                parser.value()?
            } else {
                OsString::new()
            };
            if given.options.insert(name, value).is_some() {
                return Err(Stop::cannot(format!("--{name} was given twice. Give it once")));
            }
        }
        Ok(given)
    }

    fn unknown(&self, option: &str, known: &[(&str, bool)]) -> Stop {
        let known: Vec<String> = known.iter().map(|(name, _)| format!("--{name}")).collect();
        let remedy = if known.is_empty() {
            "It has no options".to_owned()
        } else {
            format!("It has {}", known.join(", "))
        };
        Stop::cannot(format!(
            "'wintercrib {}' has no option {option}. {remedy}",
            self.verb
        ))
    }

    fn file(&mut self) -> Result<PathBuf, Stop> {
        self.values.pop_front().map(PathBuf::from).ok_or_else(|| {
            Stop::cannot(format!(
                "'wintercrib {}' needs a project. Write the name of a .ron file behind it",
                self.verb
            ))
        })
    }

    /// The other project, named behind the first.
    fn other(&mut self) -> Result<PathBuf, Stop> {
        self.values.pop_front().map(PathBuf::from).ok_or_else(|| {
            Stop::cannot(format!(
                "'wintercrib {}' needs another project. Write the name of its .ron file behind the first",
                self.verb
            ))
        })
    }

    /// Refuses options that have no meaning for what was asked.
    fn refuse(&self, options: &[&str], what: &str) -> Result<(), Stop> {
        match options.iter().find(|option| self.options.contains_key(*option)) {
            Some(option) => Err(Stop::cannot(format!(
                "--{option} has nothing to do with {what}. Leave it out"
            ))),
            None => Ok(()),
        }
    }

    fn flag(&mut self, name: &str) -> bool {
        self.options.remove(name).is_some()
    }

    fn path(&mut self, name: &str) -> Option<PathBuf> {
        self.options.remove(name).map(PathBuf::from)
    }

    fn text(&mut self, name: &str) -> Result<Option<String>, Stop> {
        self.options
            .remove(name)
            .map(|value| value.string().map_err(Stop::from))
            .transpose()
    }

    fn number<T: FromStr>(&mut self, name: &str, wanted: &str) -> Result<Option<T>, Stop> {
        let Some(text) = self.text(name)? else {
            return Ok(None);
        };
        match text.parse() {
            Ok(number) => Ok(Some(number)),
            Err(_) => Err(Stop::cannot(format!(
                "--{name} '{text}' cannot be used. Write {wanted}"
            ))),
        }
    }

    /// A number, or the word `none`.
    fn number_or_none<T: FromStr>(&mut self, name: &str, wanted: &str) -> Result<Change<T>, Stop> {
        let is_none = |value: &OsString| value.eq_ignore_ascii_case("none");
        if self.options.get(name).is_some_and(is_none) {
            self.options.remove(name);
            return Ok(Change::Off);
        }
        let number = self.number(name, &format!("{wanted}, or none"))?;
        Ok(number.map_or(Change::AsNow, Change::To))
    }

    /// Two numbers with an `x` between them.
    fn pair<T: FromStr>(&mut self, name: &str, wanted: &str) -> Result<Option<(T, T)>, Stop> {
        let Some(text) = self.text(name)? else {
            return Ok(None);
        };
        let parts = text.split_once(['x', '\u{d7}']);
        let pair =
            parts.and_then(|(one, other)| Some((one.trim().parse().ok()?, other.trim().parse().ok()?)));
        pair.map(Some)
            .ok_or_else(|| Stop::cannot(format!("--{name} '{text}' cannot be used. Write {wanted}")))
    }

    fn season(&mut self) -> Result<Option<i16>, Stop> {
        self.number("season", "a year such as 2026")
    }

    fn one_of<T: Copy>(&mut self, name: &str, choices: &[(&str, T)]) -> Result<Option<T>, Stop> {
        let Some(text) = self.text(name)? else {
            return Ok(None);
        };
        if let Some((_, choice)) = choices.iter().find(|(word, _)| text.eq_ignore_ascii_case(word)) {
            return Ok(Some(*choice));
        }
        let words: Vec<&str> = choices.iter().map(|(word, _)| *word).collect();
        Err(Stop::cannot(format!(
            "--{name} '{text}' is not possible. Write {}",
            words.join(" or ")
        )))
    }

    fn target(&mut self, endings: &[&str]) -> Result<Target, Stop> {
        let endings_text = || {
            endings
                .iter()
                .map(|ending| format!(".{ending}"))
                .collect::<Vec<_>>()
                .join(" or ")
        };
        let path = self.path("out").ok_or_else(|| {
            Stop::cannot(format!(
                "'wintercrib {}' must be told where to write. Add --out with a name that ends in {}",
                self.verb,
                endings_text()
            ))
        })?;
        if !ends_in(&path, endings) {
            return Err(Stop::cannot(format!(
                "--out '{}' cannot be used. Write a name that ends in {}",
                path.display(),
                endings_text()
            )));
        }
        let force = self.flag("force");
        Ok(Target { path, force })
    }

    /// A folder to write. A name that ends as a file does was meant for something else.
    fn folder(&mut self) -> Result<Target, Stop> {
        let path = self.path("out").ok_or_else(|| {
            Stop::cannot(
                "'wintercrib export' must be told where to write. Add --out with the name of a folder for a data package, or add --ears, --ics, --passport or --selection",
            )
        })?;
        if ends_in(&path, &["csv", "ics", "json", "pdf", "ron", "txt", "zip"]) {
            return Err(Stop::cannot(format!(
                "--out '{}' cannot be used for a data package. Write the name of a folder, or add --ears, --ics, --passport or --selection",
                path.display()
            )));
        }
        let force = self.flag("force");
        Ok(Target { path, force })
    }

    /// Gives the verb, unless something is left that it does not take.
    fn done(mut self, verb: Verb) -> Result<Verb, Stop> {
        match self.values.pop_front() {
            None => Ok(verb),
            Some(value) => Err(Stop::cannot(format!(
                "'wintercrib {}' has nothing to do with '{}'. Leave it out",
                self.verb,
                value.display()
            ))),
        }
    }
}

/// Whether a path ends in one of some endings, in any case.
pub(super) fn ends_in(path: &Path, endings: &[&str]) -> bool {
    let ending = path.extension().and_then(OsStr::to_str).unwrap_or_default();
    endings.iter().any(|one| ending.eq_ignore_ascii_case(one))
}

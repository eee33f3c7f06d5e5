//! What can be wrong with a project, and where.

use super::ids::{
    CellId, CountId, EarId, EventId, FieldRowId, ListId, LogId, PacketId, PhotoId, PlanId, RowId, SeasonId,
    SelectionId, StoreId, TestId, TraitId, TrayId, WeatherId,
};
use super::words::cut_message;
use jiff::civil::Date;
use thiserror::Error;

/// A place in a project that a message can point to and a window can go to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Place {
    /// The project's own page.
    Project,
    /// A season.
    Season(SeasonId),
    /// A row.
    Row(RowId),
    /// An ear.
    Ear(EarId),
    /// A packet.
    Packet(PacketId),
    /// A trait.
    Trait(TraitId),
    /// A germination test.
    Test(TestId),
    /// A tray.
    Tray(TrayId),
    /// A cell.
    Cell(CellId),
    /// A count.
    Count(CountId),
    /// A selection.
    Selection(SelectionId),
    /// A frozen planting list.
    List(ListId),
    /// A temperature log.
    Log(LogId),
    /// Something that happened to trays.
    Event(EventId),
    /// A photograph of a tray.
    Photo(PhotoId),
    /// The plan of a field.
    Plan(PlanId),
    /// A row of the plan of a field.
    FieldRow(FieldRowId),
    /// A month of weather.
    Weather(WeatherId),
    /// A place where packets are kept.
    Store(StoreId),
}

impl Place {
    /// Gives the name under which a project file lists the records of this kind, and the record's id; 0 for the page of
    /// the project.
    pub fn section(self) -> (&'static str, u32) {
        match self {
            Self::Project => ("about", 0),
            Self::Season(id) => ("seasons", id.0),
            Self::Row(id) => ("rows", id.0),
            Self::Ear(id) => ("ears", id.0),
            Self::Packet(id) => ("packets", id.0),
            Self::Trait(id) => ("traits", id.0),
            Self::Test(id) => ("tests", id.0),
            Self::Tray(id) => ("trays", id.0),
            Self::Cell(id) => ("cells", id.0),
            Self::Count(id) => ("counts", id.0),
            Self::Selection(id) => ("selections", id.0),
            Self::List(id) => ("lists", id.0),
            Self::Log(id) => ("logs", id.0),
            Self::Event(id) => ("events", id.0),
            Self::Photo(id) => ("photos", id.0),
            Self::Plan(id) => ("plans", id.0),
            Self::FieldRow(id) => ("field_rows", id.0),
            Self::Weather(id) => ("weather", id.0),
            Self::Store(id) => ("stores", id.0),
        }
    }
}

/// Something that is wrong with a project or with a change to it. Its text is one sentence that says what is
/// wrong, and one that says what to do.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum Fault {
    /// A name that is needed is empty.
    #[error("the name of the {0} is empty; type a name")]
    EmptyName(&'static str),
    /// Two records have the same name where names must differ.
    #[error("the {kind} '{name}' is there twice; give one of them another name")]
    DuplicateName {
        /// What both are.
        kind: &'static str,
        /// The name of both.
        name: String,
    },
    /// Two ears of a season have the same number.
    #[error("season {season} has the ear number {number} twice; give one of the two ears a free number")]
    DuplicateEarNumber {
        /// The season's year.
        season: i16,
        /// The number of both ears.
        number: u32,
    },
    /// Two ears have the same code.
    #[error(
        "the ear code {0} belongs to two ears; a code is never used twice, so one of the records is wrong"
    )]
    DuplicateEarCode(String),
    /// An ear's number is zero.
    #[error("0 is not an ear number; number ears from 1")]
    EarNumberZero,
    /// A record names another one that does not exist.
    #[error("it names the {kind} {id}, which does not exist; correct the number or restore that {kind}")]
    Dangling {
        /// The kind of the missing record.
        kind: &'static str,
        /// Its id.
        id: u32,
    },
    /// A record is still named by others and cannot be removed.
    #[error("it cannot be removed because {by} still needs it; remove that first")]
    StillNeeded {
        /// What needs it.
        by: String,
    },
    /// A record belongs to another season than the one it is put into.
    #[error("ear {ear} is not of this season; choose an ear of this season")]
    WrongSeason {
        /// The ear's code.
        ear: String,
    },
    /// A number is not finite.
    #[error("{what} is not a number; type a number such as 12.5")]
    NotFinite {
        /// What the number is.
        what: String,
    },
    /// A number is outside what is possible.
    #[error("{what} is {value}, but must be from {least} to {most}; correct it")]
    OutOfRange {
        /// What the number is.
        what: String,
        /// The number.
        value: String,
        /// The least possible value.
        least: String,
        /// The greatest possible value.
        most: String,
    },
    /// A text is not a number.
    #[error("'{text}' is not a number for {what}; type digits, such as 12 or 12.5")]
    NotANumber {
        /// What the number is.
        what: String,
        /// The text.
        text: String,
    },
    /// A text is not a date.
    #[error("'{text}' is not a date that exists; type year-month-day, such as 2026-09-14")]
    NotADate {
        /// The text.
        text: String,
    },
    /// A text could be two dates.
    #[error(
        "'{text}' can be two dates; type year-month-day, such as 2026-09-14, or say which comes first, day or month"
    )]
    AmbiguousDate {
        /// The text.
        text: String,
    },
    /// An ear matured before it was planted.
    #[error("it matured on {matured}, before it was planted on {planted}; correct one of the dates")]
    MaturedBeforePlanted {
        /// The planting date.
        planted: Date,
        /// The maturity date.
        matured: Date,
    },
    /// A packet would hold fewer than no kernels.
    #[error(
        "packet {packet} would hold {balance} kernels after '{line}'; a packet cannot hold fewer than none: count it again, or take fewer"
    )]
    NegativeBalance {
        /// The packet's id.
        packet: u32,
        /// The balance after the line.
        balance: i64,
        /// The ledger line at which it happens.
        line: String,
    },
    /// A count's categories do not add up to the kernels laid.
    #[error("the counts add up to {sum}, but {sown} kernels were laid; change a number until they agree")]
    SumNotSown {
        /// The sum of all categories.
        sum: u32,
        /// The kernels laid.
        sown: u16,
    },
    /// A count is given for a cell that holds nothing to count.
    #[error("this cell holds no ear and no check lot, so there is nothing to count; choose another cell")]
    NothingToCount,
    /// A cell is counted twice in the same pass.
    #[error("this cell already has a {pass} count; correct that count instead of adding another")]
    CountedTwice {
        /// The pass.
        pass: String,
    },
    /// A correction names a count of another cell or pass.
    #[error("it corrects a count of another cell or of another pass; choose the count that it replaces")]
    CorrectsAnother,
    /// Two cells lie at the same place, or one lies outside its tray.
    #[error(
        "row {row}, column {column} of the tray is used twice or is not inside the tray; correct the place"
    )]
    CellPlace {
        /// Row, from 1.
        row: u16,
        /// Column, from 1.
        column: u16,
    },
    /// A test cannot be laid out as asked.
    #[error("{0}")]
    Layout(String),
    /// There are no ears to work on.
    #[error("there are no ears to {0}; enter the harvest first")]
    NoEars(&'static str),
    /// A reason is needed.
    #[error("a reason is needed to {0}; type why")]
    NoReason(&'static str),
    /// A name is needed.
    #[error("it must say who does it; type your name or initials")]
    NoPerson,
    /// A text has a control character such as a line break.
    #[error("{what} contains a character that cannot be printed, such as a line break; type it on one line")]
    Unprintable {
        /// What the text is.
        what: String,
    },
    /// A text is longer than anybody types.
    #[error("{what} has more than {most} characters; shorten it")]
    TooLong {
        /// What the text is.
        what: String,
        /// The most characters.
        most: usize,
    },
    /// A planting list would be changed after it was frozen.
    #[error("planting list {0} is frozen and never changes; freeze a revision instead")]
    Frozen(u16),
    /// A planting list does not have the digest it was frozen with.
    #[error(
        "planting list {version} is not what was frozen: its digest should begin {frozen} but its content gives {found}; restore the file from a copy"
    )]
    DigestDiffers {
        /// The list's version.
        version: u16,
        /// The first characters of the digest stored in it.
        frozen: String,
        /// The first characters of the digest of its content.
        found: String,
    },
    /// A planting list would have nothing in it.
    #[error("no ear is chosen, so there is nothing to freeze; move a cutoff or mark an ear 'always plant'")]
    NothingChosen,
    /// The version of a planting list is not the next one.
    #[error(
        "a season's planting lists are numbered 1, 2, 3 and so on, each replacing the one before; number {0} breaks this"
    )]
    ListVersion(u16),
    /// Too many ears, trays or kernels for this program.
    #[error("{what} is more than this program takes ({most}); split the work")]
    TooMany {
        /// What there is too much of.
        what: String,
        /// The limit.
        most: u32,
    },
    /// The row label of an ear does not exist.
    #[error("there is no row '{0}' in this season; add the row first or choose another")]
    NoSuchRow(String),
    /// The place where a packet is kept does not exist.
    #[error(
        "there is no storage place '{0}'; add it in the part Storage of the pane Seasons, or choose another"
    )]
    NoSuchStore(String),
    /// Something in the record is not the way an earlier record says.
    #[error("{0}")]
    Mismatch(String),
}

/// A fault and the place where it is.
#[derive(Debug, Clone, PartialEq, Error)]
#[error("{}", cut_message(.fault.to_string()))]
pub struct Problem {
    /// Where it is.
    pub place: Place,
    /// What is wrong and what to do.
    pub fault: Fault,
}

impl Problem {
    /// Joins a fault and its place.
    pub fn new(place: Place, fault: Fault) -> Self {
        Self { place, fault }
    }
}

/// Refuses a number that is not finite or lies outside the limits.
pub(super) fn check_number(what: &str, value: f64, least: f64, most: f64) -> Result<(), Fault> {
    if !value.is_finite() {
        return Err(Fault::NotFinite {
            what: what.to_owned(),
        });
    }
    if value < least || value > most {
        return Err(Fault::OutOfRange {
            what: what.to_owned(),
            value: value.to_string(),
            least: limit(least),
            most: limit(most),
        });
    }
    Ok(())
}

/// Writes a limit; the greatest numbers that there are stand for none.
fn limit(value: f64) -> String {
    if value.abs() < f64::MAX {
        value.to_string()
    } else {
        "no limit".to_owned()
    }
}

/// So many characters a text of a project can have.
const MOST_LETTERS: usize = 10_000;

/// Refuses a text with control characters, and one that is longer than anybody types.
pub(super) fn check_text(what: &str, text: &str) -> Result<(), Fault> {
    if text.chars().any(char::is_control) {
        return Err(Fault::Unprintable {
            what: what.to_owned(),
        });
    }
    // Bytes are quicker to count, and there are at least as many.
    if text.len() > MOST_LETTERS && text.chars().count() > MOST_LETTERS {
        return Err(Fault::TooLong {
            what: what.to_owned(),
            most: MOST_LETTERS,
        });
    }
    Ok(())
}

/// Refuses a name that is empty or has control characters.
pub(super) fn check_name(kind: &'static str, name: &str) -> Result<(), Fault> {
    if name.trim().is_empty() {
        return Err(Fault::EmptyName(kind));
    }
    check_text(&format!("the name of the {kind}"), name)
}

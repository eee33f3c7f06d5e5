//! What happened to trays during a test: watering, moves, turns.

use super::ids::{EventId, TestId, TrayId};
use super::problem::{Fault, Place, check_number, check_text};
use super::table::Record;
use jiff::civil::DateTime;
use serde::{Deserialize, Serialize};

/// Something that happened to trays, noted with its time.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TrayEvent {
    /// The event's id.
    pub id: EventId,
    /// The test.
    pub test: TestId,
    /// The trays; empty for all trays of the test.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub trays: Vec<TrayId>,
    /// When, by the clock on the wall.
    pub at: DateTime,
    /// What.
    pub kind: EventKind,
    /// A free note.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub note: String,
}

/// What can happen to a tray.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
pub enum EventKind {
    /// The water was looked at, and some given where it was needed.
    Watered {
        /// Millilitres given to each tray, if measured.
        ml: Option<f64>,
    },
    /// It was put somewhere else.
    Moved {
        /// Where to.
        to: String,
    },
    /// It was turned round where it stands.
    Turned,
    /// Something else, said in the note.
    Note,
}

impl EventKind {
    /// Names what happened.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Watered { .. } => "watered",
            Self::Moved { .. } => "moved",
            Self::Turned => "turned",
            Self::Note => "noted",
        }
    }
}

impl TrayEvent {
    /// Checks its texts and numbers.
    pub fn check(&self) -> Result<(), Fault> {
        check_text("the note", &self.note)?;
        match &self.kind {
            EventKind::Watered { ml: Some(ml) } => check_number("the water in ml", *ml, 0.0, 100_000.0),
            EventKind::Moved { to } => check_text("where the tray was put", to),
            EventKind::Note if self.note.trim().is_empty() => Err(Fault::Mismatch(
                "the note is empty; type what happened".to_owned(),
            )),
            EventKind::Watered { ml: None } | EventKind::Turned | EventKind::Note => Ok(()),
        }
    }
}

impl Record for TrayEvent {
    type Id = EventId;
    const NAME: &'static str = "event";

    fn id(&self) -> EventId {
        self.id
    }

    fn place(id: EventId) -> Place {
        Place::Event(id)
    }
}

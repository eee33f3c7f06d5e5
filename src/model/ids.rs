//! Numbers that name records inside one project file.

use serde::{Deserialize, Serialize};
use std::fmt;

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident),+ $(,)?) => {$(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(transparent)]
        pub struct $name(pub u32);

        impl From<u32> for $name {
            fn from(number: u32) -> Self {
                Self(number)
            }
        }

        impl From<$name> for u32 {
            fn from(id: $name) -> Self {
                id.0
            }
        }

        impl fmt::Display for $name {
            fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                self.0.fmt(f)
            }
        }
    )+};
}

ids! {
    /// Names a season.
    SeasonId,
    /// Names a row of a season.
    RowId,
    /// Names an ear, in all seasons.
    EarId,
    /// Names a packet.
    PacketId,
    /// Names a trait.
    TraitId,
    /// Names a germination test.
    TestId,
    /// Names a tray of a test.
    TrayId,
    /// Names a cell of a tray.
    CellId,
    /// Names a count of a cell.
    CountId,
    /// Names a selection.
    SelectionId,
    /// Names a frozen planting list.
    ListId,
    /// Names a temperature log of a test.
    LogId,
    /// Names something that happened to trays during a test.
    EventId,
    /// Names a photograph of a tray.
    PhotoId,
    /// Names the plan of a field.
    PlanId,
    /// Names a row of the plan of a field.
    FieldRowId,
    /// Names a month of weather: its year and its number, such as 202605.
    WeatherId,
    /// Names a place where packets are kept.
    StoreId,
}

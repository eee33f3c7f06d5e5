//! Changes, transactions and revisions.

use super::count::Count;
use super::ear::{Ear, Trait};
use super::field_plan::FieldPlan;
use super::field_row::FieldRow;
use super::packet::Packet;
use super::photo::Photo;
use super::planting_list::PlantingList;
use super::problem::Place;
use super::project::About;
use super::season::{Row, Season};
use super::selection::Selection;
use super::store_place::StorePlace;
use super::table::{Record, Table};
use super::temperature_log::TemperatureLog;
use super::test::{Cell, Test, Tray};
use super::tray_event::TrayEvent;
use super::weather::WeatherMonth;
use jiff::civil::DateTime;
use serde::{Deserialize, Serialize};

/// One record before and after a change. A record that is added has no before, one that is removed no after.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Swap<R> {
    /// The record before.
    #[serde(default = "none", skip_serializing_if = "Option::is_none")]
    pub before: Option<R>,
    /// The record after.
    #[serde(default = "none", skip_serializing_if = "Option::is_none")]
    pub after: Option<R>,
}

fn none<R>() -> Option<R> {
    None
}

impl<R> Swap<R> {
    pub(super) fn sides(&self) -> (Option<&R>, Option<&R>) {
        (self.before.as_ref(), self.after.as_ref())
    }

    fn inverse(&self) -> Self
    where
        R: Clone,
    {
        Self {
            before: self.after.clone(),
            after: self.before.clone(),
        }
    }
}

impl<R: Record> Swap<R> {
    pub(super) fn apply(&self, table: &mut Table<R>) {
        if let Some(before) = &self.before {
            table.take(before.id());
        }
        if let Some(after) = &self.after {
            table.put(after.clone());
        }
    }

    pub(super) fn fits(&self, table: &Table<R>) -> bool {
        let now = match (&self.before, &self.after) {
            (Some(before), _) => table.get(before.id()),
            (None, Some(after)) => table.get(after.id()),
            (None, None) => None,
        };
        let same_id = match self.sides() {
            (Some(before), Some(after)) => before.id() == after.id(),
            _ => true,
        };
        same_id && now == self.before.as_ref()
    }

    fn place(&self) -> Place {
        self.after
            .as_ref()
            .or(self.before.as_ref())
            .map_or(Place::Project, |record| R::place(record.id()))
    }
}

macro_rules! changes {
    ($($(#[$doc:meta])* $name:ident($record:ty)),+ $(,)?) => {
        /// A change of one record.
        #[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
        pub enum Change {
            /// A change of what the project is.
            About(Box<Swap<About>>),
            $($(#[$doc])* $name(Box<Swap<$record>>),)+
        }

        impl Change {
            /// Gives the change that takes this one back.
            #[must_use]
            pub fn inverse(&self) -> Self {
                match self {
                    Self::About(swap) => Self::About(Box::new(swap.inverse())),
                    $(Self::$name(swap) => Self::$name(Box::new(swap.inverse())),)+
                }
            }

            /// Says whether it leaves the record as it is.
            pub(super) fn is_nothing(&self) -> bool {
                match self {
                    Self::About(swap) => swap.before == swap.after,
                    $(Self::$name(swap) => swap.before == swap.after,)+
                }
            }

            /// Gives the place of the changed record.
            pub fn place(&self) -> Place {
                match self {
                    Self::About(_) => Place::Project,
                    $(Self::$name(swap) => swap.place(),)+
                }
            }

            /// Joins this change with a later one of the same record, so that the two become one.
            pub(super) fn joined(&self, later: &Self) -> Option<Self> {
                if self.place() != later.place() {
                    return None;
                }
                match (self, later) {
                    (Self::About(first), Self::About(second)) => Some(Self::About(Box::new(Swap {
                        before: first.before.clone(),
                        after: second.after.clone(),
                    }))),
                    $((Self::$name(first), Self::$name(second)) => Some(Self::$name(Box::new(Swap {
                        before: first.before.clone(),
                        after: second.after.clone(),
                    }))),)+
                    _ => None,
                }
            }

            /// Gives the kind of records that it changes.
            pub fn area(&self) -> Area {
                match self {
                    Self::About(_) => Area::About,
                    $(Self::$name(_) => Area::$name,)+
                }
            }
        }

        /// A kind of records, whose revision counts the changes to it.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
        pub enum Area {
            /// What the project is.
            About,
            $($(#[$doc])* $name,)+
        }

        impl Area {
            /// All areas.
            pub const ALL: &'static [Self] = &[Self::About, $(Self::$name,)+];
        }

        impl From<Swap<About>> for Change {
            fn from(swap: Swap<About>) -> Self {
                Self::About(Box::new(swap))
            }
        }

        $(impl From<Swap<$record>> for Change {
            fn from(swap: Swap<$record>) -> Self {
                Self::$name(Box::new(swap))
            }
        })+
    };
}

changes! {
    /// Seasons.
    Season(Season),
    /// Rows.
    Row(Row),
    /// Traits.
    Trait(Trait),
    /// Ears.
    Ear(Ear),
    /// Packets.
    Packet(Packet),
    /// Tests.
    Test(Test),
    /// Trays.
    Tray(Tray),
    /// Cells.
    Cell(Cell),
    /// Counts.
    Count(Count),
    /// Selections.
    Selection(Selection),
    /// Frozen planting lists.
    List(PlantingList),
    /// Temperature logs.
    Log(TemperatureLog),
    /// What happened to trays.
    Event(TrayEvent),
    /// Photographs of trays.
    Photo(Photo),
    /// Plans of fields.
    Plan(FieldPlan),
    /// Rows of the plans of fields.
    FieldRow(FieldRow),
    /// Months of weather.
    Weather(WeatherMonth),
    /// Places where packets are kept.
    Store(StorePlace),
}

impl Change {
    /// Adds a record.
    pub fn add<R>(record: R) -> Self
    where
        Self: From<Swap<R>>,
    {
        Self::from(Swap {
            before: None,
            after: Some(record),
        })
    }

    /// Replaces a record by another with the same id.
    pub fn replace<R: Clone>(before: &R, after: R) -> Self
    where
        Self: From<Swap<R>>,
    {
        Self::from(Swap {
            before: Some(before.clone()),
            after: Some(after),
        })
    }

    /// Removes a record.
    pub fn remove<R: Clone>(record: &R) -> Self
    where
        Self: From<Swap<R>>,
    {
        Self::from(Swap {
            before: Some(record.clone()),
            after: None,
        })
    }
}

/// Who did something, and when by the clock of the grower's computer.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Stamp {
    /// When.
    pub at: DateTime,
    /// Who; empty when nobody said.
    #[serde(default, skip_serializing_if = "String::is_empty")]
    pub by: String,
}

/// Changes that happen together or not at all.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Transaction {
    /// What it does, in the grower's words, such as 'Add 14 ears'.
    pub label: String,
    /// The changes, in order.
    pub changes: Vec<Change>,
    /// Transactions in a row with the same key become one step for undo.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub merge_key: Option<String>,
    /// Whether it takes over what was done in another version of the project.
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub takes_over: bool,
}

impl Transaction {
    /// Makes a transaction that is a step of its own.
    pub fn new(label: impl Into<String>, changes: Vec<Change>) -> Self {
        Self {
            label: label.into(),
            changes,
            merge_key: None,
            takes_over: false,
        }
    }

    /// Notes that it takes over what was done in another version of the project.
    #[must_use]
    pub fn taking_over(mut self) -> Self {
        self.takes_over = true;
        self
    }

    /// Lets the transaction become one step with those before it that have the same key.
    #[must_use]
    pub fn merging(mut self, key: impl Into<String>) -> Self {
        self.merge_key = Some(key.into());
        self
    }

    /// Gives the transaction that takes this one back.
    #[must_use]
    pub fn inverse(&self) -> Self {
        Self {
            label: self.label.clone(),
            changes: self.changes.iter().rev().map(Change::inverse).collect(),
            merge_key: self.merge_key.clone(),
            takes_over: self.takes_over,
        }
    }

    /// Takes a later transaction into this one.
    pub(super) fn absorb(&mut self, later: &Self) {
        for change in &later.changes {
            let same = self.changes.iter().position(|own| own.joined(change).is_some());
            match same.and_then(|at| self.changes[at].joined(change).map(|joined| (at, joined))) {
                Some((at, joined)) => self.changes[at] = joined,
                None => self.changes.push(change.clone()),
            }
        }
        self.label.clone_from(&later.label);
    }
}

/// How often each kind of record has changed. Views derived from a project remember the revisions they read.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, Hash)]
pub struct Revisions([u64; Area::ALL.len()]);

impl Revisions {
    /// Gives the revision of one kind of records.
    pub fn of(&self, area: Area) -> u64 {
        self.0[area as usize]
    }

    /// Gives the revisions of several kinds of records, for use as a key.
    pub fn key<const N: usize>(&self, areas: [Area; N]) -> [u64; N] {
        areas.map(|area| self.of(area))
    }

    pub(super) fn bump(&mut self, area: Area) {
        self.0[area as usize] += 1;
    }
}

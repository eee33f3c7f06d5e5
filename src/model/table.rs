//! A table of records sorted by their id.

use super::problem::Place;
use serde::de::{DeserializeOwned, Error as _, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};
use std::collections::BTreeMap;
use std::fmt;
use std::marker::PhantomData;

/// A record that a [`Table`] can hold.
pub trait Record: Clone + PartialEq + fmt::Debug + Serialize + DeserializeOwned {
    /// The type of the record's id.
    type Id: Copy + Ord + fmt::Debug + From<u32> + Into<u32>;

    /// What one such record is called, in the singular.
    const NAME: &'static str;

    /// Gives the record's id.
    fn id(&self) -> Self::Id;

    /// Gives the place that names a record of this kind.
    fn place(id: Self::Id) -> Place;
}

/// Records of one kind, sorted by id. It is written as a list of records and refuses to be read when two of
/// them have the same id.
#[derive(Debug, Clone, PartialEq)]
pub struct Table<R: Record>(BTreeMap<R::Id, R>);

impl<R: Record> Default for Table<R> {
    fn default() -> Self {
        Self(BTreeMap::new())
    }
}

impl<R: Record> Table<R> {
    /// Gives the record with this id.
    pub fn get(&self, id: R::Id) -> Option<&R> {
        self.0.get(&id)
    }

    /// Says whether there is a record with this id.
    pub fn contains(&self, id: R::Id) -> bool {
        self.0.contains_key(&id)
    }

    /// Gives all records in the order of their ids.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = &R> + ExactSizeIterator {
        self.0.values()
    }

    /// Gives the number of records.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Says whether there are no records.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// Gives the number after the highest id in use; 1 for an empty table.
    pub fn next_number(&self) -> u32 {
        self.0
            .last_key_value()
            .map_or(1, |(id, _)| (*id).into().saturating_add(1))
    }

    pub(super) fn put(&mut self, record: R) {
        self.0.insert(record.id(), record);
    }

    pub(super) fn take(&mut self, id: R::Id) -> Option<R> {
        self.0.remove(&id)
    }
}

impl<R: Record> Serialize for Table<R> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_seq(self.0.values())
    }
}

impl<'de, R: Record> Deserialize<'de> for Table<R> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Records<R>(PhantomData<R>);

        impl<'de, R: Record> Visitor<'de> for Records<R> {
            type Value = Table<R>;

            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                write!(f, "a list of records of the kind '{}'", R::NAME)
            }

            fn visit_seq<A: SeqAccess<'de>>(self, mut list: A) -> Result<Self::Value, A::Error> {
                let mut table = BTreeMap::new();
                while let Some(record) = list.next_element::<R>()? {
                    let id = record.id();
                    if table.insert(id, record).is_some() {
                        return Err(A::Error::custom(format!(
                            "two records of the kind '{}' have the id {}; give one of them an id of its own",
                            R::NAME,
                            id.into()
                        )));
                    }
                }
                Ok(Table(table))
            }
        }

        deserializer.deserialize_seq(Records(PhantomData))
    }
}

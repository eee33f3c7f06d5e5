//! One record in two versions, field by field, beside what both began from.

use serde_json::{Map, Value};
use std::collections::{BTreeMap, BTreeSet};

/// Fields whose own fields, or whose entries by name, are looked at one by one. All others are taken whole.
const LOOKED_INTO: [&str; 9] = [
    "anchors", "cutoffs", "days", "recipe", "seen", "storage", "units", "values", "words",
];

/// Lists to which each version may have added something: what both added is kept.
const GROWING: [&str; 7] = [
    "kept",
    "ledger",
    "moves",
    "neighbours",
    "openings",
    "retired_serials",
    "rounds",
];

/// Gives each field by its path: its name, or two where it is looked into.
pub(super) fn each(record: &Map<String, Value>) -> BTreeMap<Vec<String>, Value> {
    let mut found = BTreeMap::new();
    for (name, value) in record {
        match value {
            Value::Object(inside) if LOOKED_INTO.contains(&name.as_str()) => {
                let inside = inside.iter();
                found.extend(inside.map(|(part, value)| (vec![name.clone(), part.clone()], value.clone())));
            }
            value => {
                found.insert(vec![name.clone()], value.clone());
            }
        }
    }
    found
}

/// A field that is not the same in two versions.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Field {
    /// Its name in the file, and that of the field around it.
    pub(super) path: Vec<String>,
    /// What ours says; none for nothing.
    pub(super) ours: Option<Value>,
    /// What the other one says; none for nothing.
    pub(super) theirs: Option<Value>,
    /// Whether both changed it, or nobody knows who did.
    pub(super) is_open: bool,
}

/// Two versions of a record in one.
#[derive(Debug, Clone, PartialEq, Default)]
pub(super) struct Joined {
    /// The record, with ours where both changed a field.
    pub(super) with_ours: Map<String, Value>,
    /// The record, with theirs where both changed a field.
    pub(super) with_theirs: Map<String, Value>,
    /// The fields that would not stay as they are in ours, or may not.
    pub(super) fields: Vec<Field>,
}

/// Joins two versions of the fields of a record. Without a base, and for fields that are doubtful, nobody knows who changed
/// one: a field that only one version fills in is taken from it, and any other stays open.
pub(super) fn join(
    base: Option<&Map<String, Value>>,
    ours: &Map<String, Value>,
    theirs: &Map<String, Value>,
    doubtful: &BTreeSet<Vec<String>>,
) -> Joined {
    join_within(&[], base, [ours, theirs], doubtful)
}

fn join_within(
    path: &[String],
    base: Option<&Map<String, Value>>,
    [ours, theirs]: [&Map<String, Value>; 2],
    doubtful: &BTreeSet<Vec<String>>,
) -> Joined {
    let mut joined = Joined::default();
    let names: BTreeSet<&String> = ours.keys().chain(theirs.keys()).collect();
    for name in names {
        let (one, two) = (ours.get(name), theirs.get(name));
        let mut path = path.to_vec();
        path.push(name.clone());
        let known = base.filter(|_| !doubtful.contains(&path));
        let before = known.map(|base| base.get(name));
        let is_doubtful_inside = doubtful.iter().any(|one| *one != path && one.starts_with(&path));
        let mut put = |with_ours: Option<&Value>, with_theirs: Option<&Value>| {
            for (record, value) in [
                (&mut joined.with_ours, with_ours),
                (&mut joined.with_theirs, with_theirs),
            ] {
                if let Some(value) = value {
                    record.insert(name.clone(), value.clone());
                }
            }
        };
        let is_open = match before {
            _ if one == two => {
                put(one, two);
                continue;
            }
            Some(before) if two == before && !is_doubtful_inside => {
                put(one, one);
                continue;
            }
            Some(before) => one != before || is_doubtful_inside,
            None if two.is_none() => {
                put(one, one);
                continue;
            }
            None => one.is_some(),
        };
        if is_open && path.len() == 1 && LOOKED_INTO.contains(&name.as_str()) {
            let inside = [before.flatten(), one, two].map(|value| match value {
                Some(Value::Object(fields)) => fields.clone(),
                _ => Map::new(),
            });
            let [before_inside, one, two] = &inside;
            let found = join_within(&path, before.map(|_| before_inside), [one, two], doubtful);
            put(
                Some(&Value::Object(found.with_ours)),
                Some(&Value::Object(found.with_theirs)),
            );
            joined.fields.extend(found.fields);
            continue;
        }
        let grown = if is_open && GROWING.contains(&name.as_str()) {
            before.and_then(|before| grown(before, one, two))
        } else {
            None
        };
        let is_open = is_open && grown.is_none();
        let taken = grown.or_else(|| two.cloned());
        put(if is_open { one } else { taken.as_ref() }, taken.as_ref());
        joined.fields.push(Field {
            path,
            ours: one.cloned(),
            theirs: taken,
            is_open,
        });
    }
    joined
}

/// Gives a list to which each of two versions only added: ours, and after it what the other one added; none where one of
/// them took something away or changed it.
fn grown(before: Option<&Value>, ours: Option<&Value>, theirs: Option<&Value>) -> Option<Value> {
    let list = |value: Option<&Value>| match value {
        None => Some(Vec::new()),
        Some(Value::Array(list)) => Some(list.clone()),
        Some(_) => None,
    };
    let (before, mut ours, theirs) = (list(before)?, list(ours)?, list(theirs)?);
    let added = |list: &[Value]| {
        let mut rest = before.iter().peekable();
        let mut added = Vec::new();
        for value in list {
            if rest.peek() == Some(&value) {
                rest.next();
            } else {
                added.push(value.clone());
            }
        }
        rest.peek().is_none().then_some(added)
    };
    let (by_us, by_them) = (added(&ours)?, added(&theirs)?);
    ours.extend(by_them.into_iter().filter(|value| !by_us.contains(value)));
    Some(Value::Array(ours))
}

#[cfg(test)]
mod tests {
    use super::*;
    use serde_json::json;

    fn fields(value: &Value) -> Map<String, Value> {
        value.as_object().cloned().unwrap_or_default()
    }

    /// What comes out with ours and with theirs, and the open fields.
    fn joined(base: Option<&Value>, ours: &Value, theirs: &Value) -> (Value, Value, Vec<String>) {
        let base = base.map(fields);
        let found = join(base.as_ref(), &fields(ours), &fields(theirs), &BTreeSet::new());
        let open = found.fields.iter().filter(|field| field.is_open);
        let open = open.map(|field| field.path.join(".")).collect();
        (
            Value::Object(found.with_ours),
            Value::Object(found.with_theirs),
            open,
        )
    }

    #[test]
    fn each_version_keeps_what_it_alone_changed() {
        let base = json!({"id": 1, "note": "old", "batch": "a", "picked": "2026-09-01"});
        let ours = json!({"id": 1, "note": "ours", "batch": "a", "picked": "2026-09-01"});
        let theirs = json!({"id": 1, "note": "old", "batch": "b", "frosted": true});
        let both = json!({"id": 1, "note": "ours", "batch": "b", "frosted": true});
        assert_eq!(
            joined(Some(&base), &ours, &theirs),
            (both.clone(), both.clone(), vec![])
        );
        assert_eq!(joined(Some(&base), &theirs, &ours), (both.clone(), both, vec![]));
    }

    #[test]
    fn a_field_that_both_changed_is_open() {
        let base = json!({"note": "old", "seen": {"stand": 10}, "values": {"1": 2.0}});
        let ours = json!({"note": "ours", "seen": {"stand": 11, "vigor": 3}, "values": {"1": 2.0, "2": 5.0}});
        let theirs = json!({"note": "theirs", "seen": {"stand": 12, "flavour": 4}, "values": {"2": 6.0}});
        let (with_ours, with_theirs, open) = joined(Some(&base), &ours, &theirs);
        assert_eq!(
            with_ours,
            json!({"note": "ours", "seen": {"stand": 11, "vigor": 3, "flavour": 4}, "values": {"2": 5.0}})
        );
        assert_eq!(
            with_theirs,
            json!({"note": "theirs", "seen": {"stand": 12, "vigor": 3, "flavour": 4}, "values": {"2": 6.0}})
        );
        assert_eq!(open, ["note", "seen.stand", "values.2"]);
    }

    #[test]
    fn lists_to_which_both_added_keep_all() {
        let base = json!({"ledger": [1, 2], "trays": [1]});
        let ours = json!({"ledger": [1, 2, 3], "trays": [1, 2]});
        let theirs = json!({"ledger": [1, 2, 3, 4, 4], "trays": [1, 3]});
        let (with_ours, _, open) = joined(Some(&base), &ours, &theirs);
        assert_eq!(with_ours, json!({"ledger": [1, 2, 3, 4, 4], "trays": [1, 2]}));
        assert_eq!(open, ["trays"]);
        // Where something was taken away, somebody has to say what stands.
        let shorter = json!({"ledger": [2, 5], "trays": [1]});
        assert_eq!(joined(Some(&base), &ours, &shorter).2, ["ledger"]);
    }

    #[test]
    fn without_a_base_nothing_of_ours_is_changed_unasked() {
        let ours = json!({"note": "ours", "batch": "a", "ledger": [1]});
        let theirs = json!({"note": "theirs", "picked": "2026-09-01", "ledger": [1, 2]});
        let (with_ours, with_theirs, open) = joined(None, &ours, &theirs);
        assert_eq!(
            with_ours,
            json!({"note": "ours", "batch": "a", "picked": "2026-09-01", "ledger": [1]})
        );
        assert_eq!(
            with_theirs,
            json!({"note": "theirs", "batch": "a", "picked": "2026-09-01", "ledger": [1, 2]})
        );
        assert_eq!(open, ["ledger", "note"]);
    }
}

//! A project in which every field of every record is filled, and the watch that proves it: whoever adds a field has to
//! fill it here.

use serde::de::value::{MapDeserializer, SeqDeserializer};
use serde::de::{DeserializeSeed, Deserializer, EnumAccess, IntoDeserializer, VariantAccess, Visitor};
use serde::forward_to_deserialize_any;
use serde_json::{Error, Value, json};
use std::cell::RefCell;
use std::collections::{BTreeMap, BTreeSet};
use wintercrib::demo;
use wintercrib::model::{EarCode, PlantingList, Prefix, Project};

/// All fields or kinds of one type, and those that were there.
type FieldsOfOne = (BTreeSet<&'static str>, BTreeSet<String>);

/// What was seen of each struct and enum while a project was read.
#[derive(Debug, Default)]
pub struct Seen {
    types: RefCell<BTreeMap<&'static str, FieldsOfOne>>,
}

impl Seen {
    fn note(&self, name: &'static str, all: &'static [&'static str], found: impl Iterator<Item = String>) {
        let mut types = self.types.borrow_mut();
        let (known, there) = types.entry(name).or_default();
        known.extend(all);
        there.extend(found);
    }

    /// The fields and kinds that were never there. Of an enum that a project has once, only one kind can be there.
    pub fn missing(&self) -> Vec<String> {
        let types = self.types.borrow();
        let several = types.iter().filter(|(name, _)| !ONCE.contains(name));
        let missing = several.flat_map(|(name, (known, there))| {
            let left = known.iter().filter(|field| !there.contains(**field));
            left.map(move |field| format!("{name}.{field}"))
        });
        missing.collect()
    }

    /// The structs and enums that were read.
    pub fn types(&self) -> Vec<&'static str> {
        self.types.borrow().keys().copied().collect()
    }
}

/// Enums that a project has once; the round trip is tested with each of their kinds.
pub const ONCE: [&str; 3] = ["Germinated", "LengthUnit", "TemperatureUnit"];

/// A value that notes what is read of it.
#[derive(Clone, Copy)]
pub struct Watched<'de>(pub &'de Value, pub &'de Seen);

impl<'de> IntoDeserializer<'de, Error> for Watched<'de> {
    type Deserializer = Self;

    fn into_deserializer(self) -> Self {
        self
    }
}

impl<'de> Deserializer<'de> for Watched<'de> {
    type Error = Error;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        let Self(value, seen) = self;
        match value {
            Value::Array(list) => {
                visitor.visit_seq(SeqDeserializer::new(list.iter().map(|one| Watched(one, seen))))
            }
            Value::Object(fields) => visitor.visit_map(MapDeserializer::new(
                fields.iter().map(|(key, one)| (Key(key), Watched(one, seen))),
            )),
            plain => plain.deserialize_any(visitor),
        }
    }

    fn deserialize_option<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        if self.0.is_null() {
            visitor.visit_none()
        } else {
            visitor.visit_some(self)
        }
    }

    fn deserialize_newtype_struct<V: Visitor<'de>>(
        self,
        _name: &'static str,
        visitor: V,
    ) -> Result<V::Value, Error> {
        visitor.visit_newtype_struct(self)
    }

    fn deserialize_struct<V: Visitor<'de>>(
        self,
        name: &'static str,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        let there = self.0.as_object().into_iter().flatten();
        let there = there.filter(|(_, value)| !value.is_null());
        self.1.note(name, fields, there.map(|(field, _)| field.clone()));
        self.deserialize_any(visitor)
    }

    fn deserialize_enum<V: Visitor<'de>>(
        self,
        name: &'static str,
        kinds: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        let there = match self.0 {
            Value::Object(kind) => kind.keys().next().cloned(),
            plain => plain.as_str().map(str::to_owned),
        };
        self.1.note(name, kinds, there.into_iter());
        visitor.visit_enum(self)
    }

    forward_to_deserialize_any! {
        bool i8 i16 i32 i64 i128 u8 u16 u32 u64 u128 f32 f64 char str string bytes byte_buf unit unit_struct seq tuple
        tuple_struct map identifier ignored_any
    }
}

impl<'de> EnumAccess<'de> for Watched<'de> {
    type Error = Error;
    type Variant = Self;

    fn variant_seed<S: DeserializeSeed<'de>>(self, seed: S) -> Result<(S::Value, Self), Error> {
        match self.0 {
            Value::Object(kind) => {
                let (name, held) = kind.iter().next().unwrap();
                Ok((seed.deserialize(Key(name))?, Self(held, self.1)))
            }
            plain => Ok((seed.deserialize(Key(plain.as_str().unwrap()))?, self)),
        }
    }
}

impl<'de> VariantAccess<'de> for Watched<'de> {
    type Error = Error;

    fn unit_variant(self) -> Result<(), Error> {
        Ok(())
    }

    fn newtype_variant_seed<S: DeserializeSeed<'de>>(self, seed: S) -> Result<S::Value, Error> {
        seed.deserialize(self)
    }

    fn tuple_variant<V: Visitor<'de>>(self, _length: usize, visitor: V) -> Result<V::Value, Error> {
        self.deserialize_any(visitor)
    }

    fn struct_variant<V: Visitor<'de>>(
        self,
        fields: &'static [&'static str],
        visitor: V,
    ) -> Result<V::Value, Error> {
        let there = self.0.as_object().into_iter().flatten();
        let there = there.filter(|(_, value)| !value.is_null());
        self.1
            .note("a kind of event", fields, there.map(|(field, _)| field.clone()));
        self.deserialize_any(visitor)
    }
}

/// A key of a map: text, or a number in text.
#[derive(Clone, Copy)]
struct Key<'de>(&'de str);

impl<'de> IntoDeserializer<'de, Error> for Key<'de> {
    type Deserializer = Self;

    fn into_deserializer(self) -> Self {
        self
    }
}

impl<'de> Deserializer<'de> for Key<'de> {
    type Error = Error;

    fn deserialize_any<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_borrowed_str(self.0)
    }

    fn deserialize_u32<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_u32(self.0.parse().unwrap())
    }

    fn deserialize_u8<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_u8(self.0.parse().unwrap())
    }

    fn deserialize_i32<V: Visitor<'de>>(self, visitor: V) -> Result<V::Value, Error> {
        visitor.visit_i32(self.0.parse().unwrap())
    }

    forward_to_deserialize_any! {
        bool i8 i16 i64 i128 u16 u64 u128 f32 f64 char str string bytes byte_buf option unit unit_struct
        newtype_struct seq tuple tuple_struct map struct enum identifier ignored_any
    }
}

/// Puts fields over those of a value; lists are put over item by item.
fn lay_over(under: &mut Value, over: Value) {
    match (under, over) {
        (Value::Object(under), Value::Object(over)) => {
            for (field, value) in over {
                lay_over(under.entry(field).or_insert(Value::Null), value);
            }
        }
        (under, over) => *under = over,
    }
}

/// A text that a spreadsheet would run, and that needs quotes.
const ODD: &str = "=1+1, 'quoted' \"twice\"; -x";

/// The season of the mothers, the ear that is one, the test with everything, its tray.
const EARLIER: u32 = 77;
const MOTHER: u32 = 90_001;
const OTHER_TEST: u32 = 77;
const OTHER_TRAY: u32 = 900;

/// A project in which every field of every record is filled: a demo, with the rest laid over it.
pub fn filled() -> Project {
    let project: Project = serde_json::from_value(filled_json()).unwrap();
    assert_eq!(project.validate(), []);
    project
}

/// Its records as JSON.
pub fn filled_json() -> Value {
    let mut project = serde_json::to_value(demo::make("essel-thaw").unwrap()).unwrap();
    let year = project["seasons"][0]["year"].as_i64().unwrap() as i16;
    lay_over(
        &mut project["about"],
        json!({
            "population": "+flint", "grower": "@Grower A", "restrictions": ODD, "frost_c": -0.5,
            "scheme": { "order": ["Strong", "Dead", "Weak", "Missing", "Fresh", "Abnormal"], "version": 3 },
            "storage": { "test_after": 3, "old_after": 7, "few_kernels": 40, "low_percent": 55 },
        }),
    );
    lay(
        &mut project,
        "seasons",
        0,
        json!({
            "retired_serials": [900, 901], "note": ODD, "pollen_plants": 900,
            "pollen": { "own": 0.7, "rows": [2, 5] },
            "heritability": { "least": 0.1, "most": 0.45 },
            "sowing": { "plants": 12, "sureness": 0.85, "field_factor": 0.7 },
        }),
    );
    add(
        &mut project,
        "seasons",
        json!({
            "id": EARLIER, "year": year - 1, "remnant": 20, "plant_each": 30, "closed": "2025-06-01",
            "openings": [
                { "at": "2025-11-02T09:30:00", "by": "@Grower A", "reason": "=a number was copied wrong" },
                { "at": "2025-12-02T09:30:00", "reason": "again" },
            ],
        }),
    );
    let prefix: Prefix = serde_json::from_value(project["about"]["prefix"].clone()).unwrap();
    let code = EarCode::new(prefix, year - 1, 1).to_string();
    add(
        &mut project,
        "ears",
        json!({ "id": MOTHER, "season": EARLIER, "number": 1, "code": code }),
    );
    lay(
        &mut project,
        "rows",
        0,
        json!({ "source": { "Ear": MOTHER }, "planted": "2025-05-11", "note": ODD }),
    );
    lay(&mut project, "rows", 1, json!({ "source": { "Bulk": "" } }));
    lay(
        &mut project,
        "rows",
        2,
        json!({ "source": { "CheckLot": "-lot" } }),
    );
    lay(
        &mut project,
        "traits",
        0,
        json!({ "anchors": { "-1": "-short", "12": "" }, "better": "Lower" }),
    );
    lay(
        &mut project,
        "ears",
        0,
        json!({
            "planted": "2025-05-12", "note": ODD, "maturity_days": 90, "picked": "2025-10-09",
            "heat_units_c": 1210.5, "frosted": true,
            "brought": {
                "project": "=North Barn", "project_id": "north", "on": "2025-11-02", "number": 14, "row": "7",
                "restrictions": ODD, "figures": ["Ear length (in) 7.5", "-x"],
                "counts": [
                    {
                        "test": "Cold of 2024, 55 °F, tray 1 B4", "pass": "Final", "on": "2025-02-03", "by": "Helper B",
                        "germinated": 8, "counted": 10, "seen": "8 strong, 2 dead",
                    },
                    {
                        "test": "Cold of 2024", "pass": { "Between": 7 }, "germinated": 0, "counted": 9, "seen": "@dead",
                    },
                    { "test": "Cold of 2024", "pass": "Early", "germinated": 1, "counted": 9, "seen": "-1" },
                ],
            },
        }),
    );
    add(
        &mut project,
        "stores",
        json!({ "id": 3, "name": "=cellar", "temperature_c": 7.25, "humidity_percent": 45.5, "note": ODD }),
    );
    lay(
        &mut project,
        "packets",
        0,
        json!({ "store": 3, "moisture_percent": 11.5, "moisture_on": "2025-12-03", "ledger": [
        { "kernels": 161, "reason": "Shelled", "on": "2025-10-12", "note": "\u{e9}t\u{e9}" },
        { "kernels": -10, "reason": { "Test": 1 } },
        { "kernels": 2, "reason": "Recounted" },
        { "kernels": -3, "reason": "Planted" },
        { "kernels": -4, "reason": { "PlantedFrom": 1 } },
        { "kernels": -5, "reason": "Given" },
        { "kernels": -6, "reason": "Lost" },
        { "kernels": 40, "reason": "Brought" },
    ] }),
    );
    fill_tests(&mut project);
    fill_choice(&mut project, year);
    project
}

fn lay(project: &mut Value, section: &str, at: usize, over: Value) {
    lay_over(&mut project[section][at], over);
}

fn add(project: &mut Value, section: &str, record: Value) {
    let section = &mut project[section];
    if section.is_null() {
        *section = json!([]);
    }
    section.as_array_mut().unwrap().push(record);
}

fn fill_tests(project: &mut Value) {
    lay(project, "tests", 0, json!({ "plan": { "spread": "Blocks" } }));
    add(
        project,
        "tests",
        json!({
            "id": OTHER_TEST, "season": EARLIER, "name": "Second", "seed": u64::MAX, "check_lot": "Lot", "laid": "2025-01-03",
            "plan": {
                "width_mm": 200.0, "height_mm": 160.0, "margin_mm": 0.1, "cell_width_mm": 50.0, "cell_height_mm": 50.0,
                "kernels": 10, "replicates": 2, "checks": 1, "landmarks": 1, "aisle_mm": 0.3, "spread": "Anywhere",
                "others": [{ "name": "@small", "width_mm": 160.0, "height_mm": 110.0, "margin_mm": 2.0, "trays": 3 }],
            },
            "recipe": {
                "cold_c": 10.5, "early_day": 4, "final_day": 11, "medium": "sand", "warm": { "c": 25.0, "from_day": 8 },
                "band_c": 1.25, "water_every": 2,
            },
        }),
    );
    add(
        project,
        "trays",
        json!({
            "id": OTHER_TRAY, "test": OTHER_TEST, "number": 1, "replicate": 2, "rows": 2, "columns": 3, "container": 1,
        }),
    );
    let contents = [
        json!({ "Ear": MOTHER }),
        json!({ "Check": 1 }),
        json!("Landmark"),
        json!("Spare"),
    ];
    for (at, content) in (0_u32..).zip(contents) {
        add(
            project,
            "cells",
            json!({
                "id": 9000 + at, "tray": OTHER_TRAY, "row": at / 3 + 1, "column": at % 3 + 1, "content": content,
            }),
        );
    }
    let cells = project["cells"].as_array().unwrap().len();
    lay(
        project,
        "cells",
        cells - 4,
        json!({ "laid": 9, "laid_on": "2025-01-02" }),
    );
    let tally = json!({ "strong": 1, "weak": 2, "abnormal": 3, "dead": 1, "fresh": 1, "missing": 1 });
    add(
        project,
        "counts",
        json!({
            "id": 9001, "cell": 9000, "pass": "Final", "on": "2025-01-14", "by": "Helper B", "second": true, "tally": tally,
            "mould": true, "vigor": 3, "note": ODD, "root_mm": 31.5, "shoot_mm": 12.25, "overruled": "=counted twice",
            "scheme": 3,
        }),
    );
    add(
        project,
        "counts",
        json!({ "id": 9002, "cell": 9001, "pass": { "Between": 7 }, "tally": { "strong": 10 } }),
    );
    add(
        project,
        "counts",
        json!({
            "id": 9003, "cell": 9001, "pass": { "Between": 7 }, "tally": {}, "corrects": 9002, "void": true,
        }),
    );
    lay(
        project,
        "logs",
        0,
        json!({ "spans": [
        { "trays": [1, 2], "from": "2026-02-03T19:00:00", "to": "2026-02-09T07:30:00.5" }, {},
    ] }),
    );
    for (id, kind, note) in [
        (9001, json!({ "Watered": { "ml": null } }), ""),
        (9002, json!("Turned"), "+turned"),
        (9003, json!("Note"), ODD),
        (9004, json!({ "Moved": { "to": "" } }), ""),
    ] {
        add(
            project,
            "events",
            json!({
                "id": id, "test": 1, "trays": [3], "at": "2026-02-06T18:30:00", "kind": kind, "note": note,
            }),
        );
    }
    for (id, pass) in [
        (1, json!("Early")),
        (2, json!({ "Between": 3 })),
        (3, Value::Null),
    ] {
        add(
            project,
            "photos",
            json!({
                "id": id, "tray": 1, "pass": pass, "file": format!("tray-{id}.jpg"), "digest": "0a".repeat(32),
                "width": 1200, "height": 800, "taken": "2026-02-09T08:00:00.123",
                "corners": [[0.5, 1.0], [1199.0, 2.5], [1190.0, 790.0], [-4.0, 799.0]],
            }),
        );
    }
}

fn fill_choice(project: &mut Value, year: i16) {
    let cutoffs = json!({
        "germination_percent": 71.5, "maturity_days": 100.0, "vigor": 4.0, "cap_per_mother": 5, "sureness": 0.8,
        "traits": { "1": { "least": 2.0, "most": 15.5 }, "2": {} },
    });
    lay(
        project,
        "selections",
        0,
        json!({
            "cutoffs": cutoffs, "most_coancestry": 0.01, "least_mothers": 12,
            "index": { "missing_as_mean": true, "weights": [
                { "of": "Germination", "weight": 1.0 }, { "of": "GerminationForItsMaturity", "weight": 0.25 },
                { "of": "Maturity", "weight": -0.5 }, { "of": "Vigor", "weight": 0.125 },
                { "of": { "Trait": 1 }, "weight": -2.0 },
            ] },
            "kept": [
                { "name": "=strict", "cutoffs": cutoffs, "note": ODD, "on": "2026-02-20" },
                { "name": "loose", "cutoffs": { "sureness": 0.5 }, "on": "2026-02-21" },
            ],
            "moves": [
                { "at": "2026-02-20T10:00:00", "by": "@Grower A", "cutoffs": cutoffs, "kept": 61, "names_hidden": true },
                { "at": "2026-02-20T10:09:00", "cutoffs": { "sureness": 0.5 } },
            ],
            "words": { "7": { "kind": "Reserve", "reason": "-a spare" } },
        }),
    );
    // Kernels are shared out or reckoned for a stand, never both.
    add(
        project,
        "selections",
        json!({ "id": 78, "season": EARLIER, "name": "Earlier", "cutoffs": { "sureness": 0.5 }, "for_a_stand": true }),
    );
    let entry = |project: &Value, at: usize| {
        let ear = &project["ears"][at];
        json!({
            "ear": ear["id"], "code": ear["code"], "number": ear["number"], "mother": "+1", "germinated": [9, 10],
            "likely_percent": 88.123_456_789, "maturity_days": 99.5, "plant": 30, "keep": 20, "why": "=why",
            "sowing": {
                "needed": 28, "plants": 25.5, "plants_low": 22, "plants_high": 29, "probability": 0.93, "sure_plants": 22,
            },
        })
    };
    let mut bare = entry(project, 3);
    lay_over(
        &mut bare,
        json!({ "mother": "", "why": "", "germinated": null, "likely_percent": null, "sowing": { "needed": null } }),
    );
    let mut list: PlantingList = serde_json::from_value(json!({
        "id": 1, "season": 1, "year": year, "project": "@project", "version": 1, "reason": "mice", "frozen_on": "2026-03-01",
        "frozen_by": "Grower A", "cutoffs": cutoffs, "rules": "-rules",
        "sowing": { "plants": 15, "sureness": 0.95, "field_factor": 0.8 }, "entries": [entry(project, 0)],
        "reserves": [entry(project, 2), bare], "digest": "",
    }))
    .unwrap();
    list.digest = list.compute_digest();
    add(project, "lists", serde_json::to_value(&list).unwrap());
    fill_field(project);
}

fn fill_field(project: &mut Value) {
    let lengths = json!({
        "row_length_mm": 5181.6, "row_spacing_mm": 914.4, "plant_spacing_mm": 254.0, "end_mm": 500.0, "path_mm": 1200.5,
    });
    let mut shape = json!({
        "way": "Families", "replicates": 2, "rows_per_block": 4, "borders": 1, "kernels_per_place": 2, "check_every": 4,
        "bulk_every": 3, "detassel": "AllButBulk", "walk": "Serpentine",
    });
    lay_over(&mut shape, lengths);
    add(
        project,
        "plans",
        json!({
            "id": 1, "list": 1, "seed": u64::MAX, "shape": shape, "note": ODD,
            "neighbours": [
                { "what": "=field corn", "distance_m": 412.5, "direction": "north-west", "sheds_from": "2026-07-10",
                  "sheds_to": "2026-07-19", "note": ODD },
                { "what": "popcorn" },
            ],
            "rounds": [
                { "on": "2026-07-12", "pulled": 41, "shed": 2, "by": "@Grower A", "note": "-rows 1 to 9" },
                { "on": "2026-07-13", "pulled": 0, "shed": 0 },
            ],
        }),
    );
    let mut other = project["lists"][0].clone();
    lay_over(&mut other, json!({ "id": 2, "version": 2, "digest": "" }));
    let mut list: PlantingList = serde_json::from_value(other).unwrap();
    list.digest = list.compute_digest();
    add(project, "lists", serde_json::to_value(&list).unwrap());
    let shape = json!({ "way": "Bulk", "detassel": "EveryOther", "walk": "Straight", "check_every": null, "bulk_every": null });
    let mut bulk = project["plans"][0].clone();
    lay_over(
        &mut bulk,
        json!({ "id": 2, "list": 2, "neighbours": [], "rounds": [] }),
    );
    lay_over(&mut bulk["shape"], shape);
    add(project, "plans", bulk);
    // A third plan, of the list's revision, for the last way to detassel.
    let mut other = project["lists"][1].clone();
    lay_over(&mut other, json!({ "id": 3, "version": 3, "digest": "" }));
    let mut list: PlantingList = serde_json::from_value(other).unwrap();
    list.digest = list.compute_digest();
    add(project, "lists", serde_json::to_value(&list).unwrap());
    let mut third = project["plans"][1].clone();
    lay_over(
        &mut third,
        json!({ "id": 3, "list": 3, "shape": { "detassel": "Nothing" } }),
    );
    add(project, "plans", third);
    let ear = project["ears"][0]["id"].clone();
    let contents = [json!({ "Ear": ear }), json!("Check"), json!("Bulk")];
    for (at, content) in (1_u32..).zip(contents) {
        add(
            project,
            "field_rows",
            json!({
                "id": at, "plan": 1, "stake": at, "replicate": 1, "block": 1, "across": at, "content": content, "kernels": 30,
            }),
        );
    }
    lay(
        project,
        "field_rows",
        0,
        json!({
            "detasselled": true,
            "seen": {
                "stand": 27, "stand_on": "2026-05-30", "loss": "Bird", "thinned_to": 20, "vigor": 7,
                "pollen_on": "2026-07-10", "silk_on": "2026-07-12", "plant_height_mm": 1930.4, "ear_height_mm": 711.2,
                "root_lodged": 1, "stalk_lodged": 2, "pulled": 3, "flavour": 4, "note": ODD,
            },
        }),
    );
    add(
        project,
        "weather",
        json!({ "id": 202_602, "days": { "1": [3.0, -7.25], "28": [12.5, 0.0] } }),
    );
    add(
        project,
        "weather",
        json!({ "id": 202_603, "days": { "31": [21.0, 21.0] } }),
    );
    for (at, loss) in (4_u32..).zip(["Insect", "Crust", "WashedOut", "Unknown"]) {
        add(
            project,
            "field_rows",
            json!({
                "id": at, "plan": 2, "stake": at, "replicate": 1, "block": 1, "across": at, "content": "Bulk", "kernels": 0,
                "seen": { "loss": loss },
            }),
        );
    }
}

//! Two versions of one project, of which each was worked on alone: what the other one has that ours lacks, record by
//! record, beside what both began from.
//!
//! What only the other version changed is taken over, what only ours changed stays, and what both changed is asked. A
//! count of a cell that both counted is left to [`super::compare`].

mod fields;
mod parting;
mod renumber;

pub use parting::Parting;

use super::change::{Change, Swap};
use super::count::Count;
use super::document::Document;
use super::ids::CellId;
use super::photo::Photo;
use super::problem::{Fault, Place};
use super::project::Project;
use super::table::{Record, Table};
use super::words::{capital, shortened};
use fields::Joined;
use parting::Doubtful;
use renumber::{Ids, Versioned};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::{Map, Value};
use std::collections::{BTreeMap, BTreeSet};

/// Does something with every table, each after those that its records name.
macro_rules! in_every_table {
    ($worker:expr, $work:ident) => {
        $worker.$work(|project| &project.seasons);
        $worker.$work(|project| &project.traits);
        $worker.$work(|project| &project.stores);
        $worker.$work(|project| &project.rows);
        $worker.$work(|project| &project.ears);
        $worker.$work(|project| &project.packets);
        $worker.$work(|project| &project.tests);
        $worker.$work(|project| &project.trays);
        $worker.$work(|project| &project.cells);
        $worker.$work(|project| &project.counts);
        $worker.$work(|project| &project.logs);
        $worker.$work(|project| &project.events);
        $worker.$work(|project| &project.photos);
        $worker.$work(|project| &project.selections);
        $worker.$work(|project| &project.lists);
        $worker.$work(|project| &project.plans);
        $worker.$work(|project| &project.field_rows);
        $worker.$work(|project| &project.weather);
    };
}

/// So many characters of a text are said.
const MOST_SAID: usize = 60;

/// What happened to a record in the other version.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Happened {
    /// It is new there.
    Added,
    /// It was changed there.
    Changed,
    /// It was removed there.
    Removed,
}

impl Happened {
    /// Says it in a word.
    pub fn name(self) -> &'static str {
        match self {
            Self::Added => "added",
            Self::Changed => "changed",
            Self::Removed => "removed",
        }
    }
}

/// Which version stands where both changed something.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// Ours.
    Ours,
    /// The other one.
    Theirs,
}

/// A field of a record that would become another, or may.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FieldLine {
    /// What it is, in words.
    pub name: String,
    /// What ours says.
    pub ours: String,
    /// What the other one says.
    pub theirs: String,
    /// Whether both changed it, or it is not known who did.
    pub is_open: bool,
}

/// A record in which the other version has something that ours lacks.
#[derive(Debug, Clone, PartialEq)]
pub struct Difference {
    /// The kind of the record, in the singular.
    pub kind: &'static str,
    /// What happened to it there.
    pub happened: Happened,
    /// The record's name, such as `ear 14`.
    pub name: String,
    /// Its fields that differ; empty for one that was added or removed.
    pub fields: Vec<FieldLine>,
    /// Whether somebody has to say which version stands.
    pub is_open: bool,
    with_ours: Option<Change>,
    with_theirs: Option<Change>,
}

/// What another version of the project has that ours lacks.
#[derive(Debug, Clone, PartialEq)]
pub struct Versions {
    /// Where the two parted; none when our history does not reach so far.
    pub parting: Option<Parting>,
    /// The records, in the order of their tables.
    pub differences: Vec<Difference>,
    /// What cannot be taken over, and why, a sentence each.
    pub left_out: Vec<String>,
    /// The photographs that are new here; their files lie beside the other version.
    pub photos: Vec<Photo>,
}

/// Puts another version of the project beside ours. Fails when it is a version of another project.
pub fn compare_versions(document: &Document, there: &Project) -> Result<Versions, Fault> {
    let here = document.project();
    if here.about.id != there.about.id {
        return Err(Fault::Mismatch(format!(
            "this is no version of the same project but of '{}'; choose one of '{}'",
            there.about.name, here.about.name
        )));
    }
    let parting = parting::find(document, there);
    let base = parting.as_ref().map(|parting| &parting.base);
    let none = Doubtful::new();
    let doubtful = parting.as_ref().map_or(&none, |parting| &parting.doubtful);
    let mut numbering = Numbering {
        here,
        there,
        base,
        ids: Ids::default(),
        left_out: Vec::new(),
    };
    in_every_table!(numbering, number);
    let Numbering { ids, left_out, .. } = numbering;
    let mut look = Look {
        here,
        there,
        base,
        doubtful,
        ids: &ids,
        counted: counted_since(here, base),
        found: Vec::new(),
        photos: Vec::new(),
        left_out,
    };
    look.project();
    in_every_table!(look, table);
    let Look {
        found,
        photos,
        left_out,
        ..
    } = look;
    Ok(Versions {
        parting,
        differences: found,
        left_out,
        photos,
    })
}

/// The cells that were counted here since the versions parted.
fn counted_since(here: &Project, base: Option<&Project>) -> BTreeSet<CellId> {
    let is_new = |count: &&Count| base.is_none_or(|base| !base.counts.contains(count.id));
    here.counts
        .iter()
        .filter(is_new)
        .map(|count| count.cell)
        .collect()
}

impl Versions {
    /// Says whether there is nothing to take over.
    pub fn is_nothing_new(&self) -> bool {
        self.differences.is_empty()
    }

    /// Says whether nothing but counts is new, which [`super::compare`] looks at one by one.
    pub fn has_counts_alone(&self) -> bool {
        self.left_out.is_empty() && self.differences.iter().all(|one| one.kind == Count::NAME)
    }

    /// Says where the two parted, in a sentence or two.
    pub fn parting_sentence(&self) -> String {
        match &self.parting {
            None => "It is not known when the two parted, because the journal of this project does not reach so far back. So \
                     nothing that is here is changed or removed unasked."
                .to_owned(),
            Some(Parting { label: None, .. }) => "The other version began from this project as it is now.".to_owned(),
            Some(Parting {
                label: Some(label),
                steps,
                ..
            }) => {
                let ago = match steps {
                    1 => "your last step".to_owned(),
                    steps => format!("{steps} steps ago"),
                };
                format!("Both were the same until '{label}' here, {ago}.")
            }
        }
    }

    /// Says what the other version has and ours lacks, such as `3 ears changed, 40 counts added`.
    pub fn summary(&self) -> String {
        said(self.differences.iter())
    }

    /// Says what [`Versions::changes`] changes, in the same way.
    pub fn done(&self, sides: &[Side]) -> String {
        let picked = self.picked(sides);
        said(picked.filter_map(|(difference, change)| change.map(|_| difference)))
    }

    /// Gives the changes that take over what the other version has. `sides` says of each open difference, in their order,
    /// which version stands; where it ends, ours does.
    pub fn changes(&self, sides: &[Side]) -> Vec<Change> {
        let picked = self.picked(sides);
        picked.filter_map(|(_, change)| change.cloned()).collect()
    }

    /// Each difference with what is to be changed for it.
    fn picked(&self, sides: &[Side]) -> impl Iterator<Item = (&Difference, Option<&Change>)> {
        let mut sides = sides.iter();
        self.differences.iter().map(move |difference| {
            let is_ours = difference.is_open && sides.next() != Some(&Side::Theirs);
            let change = if is_ours {
                &difference.with_ours
            } else {
                &difference.with_theirs
            };
            (difference, change.as_ref())
        })
    }
}

/// Counts differences by their kind, and says what happened to them.
fn said<'a>(differences: impl Iterator<Item = &'a Difference>) -> String {
    let mut kinds: Vec<(&str, Happened, usize)> = Vec::new();
    for difference in differences {
        let (kind, happened) = (difference.kind, difference.happened);
        match kinds.iter_mut().find(|one| (one.0, one.1) == (kind, happened)) {
            Some(one) => one.2 += 1,
            None => kinds.push((kind, happened, 1)),
        }
    }
    let parts: Vec<String> = kinds
        .into_iter()
        .map(|(kind, happened, number)| format!("{} {}", many(number, kind), happened.name()))
        .collect();
    parts.join(", ")
}

/// Says `1 row of the field`, `2 rows of the field`.
fn many(number: usize, kind: &str) -> String {
    match kind.split_once(' ') {
        _ if kind == "the project" => "what the project is".to_owned(),
        _ if number == 1 => format!("1 {kind}"),
        Some((one, rest)) if rest.starts_with("of ") => format!("{number} {one}s {rest}"),
        _ => format!("{number} {kind}s"),
    }
}

/// Finds for every record of the other version the id that it has, or would have, in ours.
struct Numbering<'a> {
    here: &'a Project,
    there: &'a Project,
    base: Option<&'a Project>,
    ids: Ids,
    left_out: Vec<String>,
}

impl Numbering<'_> {
    fn number<R: Versioned>(&mut self, of: fn(&Project) -> &Table<R>) {
        let (here, there) = (of(self.here), of(self.there));
        let base = self.base.map(of);
        let is_new = |id: R::Id| base.is_none_or(|base| !base.contains(id));
        let mut by_key: BTreeMap<String, Vec<R::Id>> = BTreeMap::new();
        for record in here.iter().rev().filter(|record| is_new(record.id())) {
            by_key.entry(record.key()).or_default().push(record.id());
        }
        let mut next = here.next_number().max(there.next_number());
        for record in there.iter().filter(|record| is_new(record.id())) {
            let id = record.id();
            let Some(known) = self.ids.renumbered(record) else {
                self.ids.leave_out::<R>(id);
                continue;
            };
            let same = by_key.get_mut(&known.key()).and_then(|ids| {
                // The one with the same id first, then the oldest.
                let at = ids.iter().position(|ours| *ours == id);
                at.map(|at| ids.remove(at)).or_else(|| ids.pop())
            });
            match same {
                Some(ours)
                    if R::IS_FIXED && here.get(ours).is_some_and(|ours| !says_the_same(ours, &known)) =>
                {
                    self.ids.leave_out::<R>(id);
                    let name = self.there.place_name(R::place(id));
                    self.left_out.push(format!(
                        "{} of the other version is left out with all that hangs on it, because this project has a {name} of \
                         its own, and what is frozen is never changed. Freeze one with the ears of both.",
                        capital(&name)
                    ));
                }
                Some(ours) => self.ids.set::<R>(id, ours),
                None if here.contains(id) => {
                    self.ids.set::<R>(id, R::Id::from(next));
                    next = next.saturating_add(1);
                }
                None => {}
            }
        }
    }
}

/// Says whether two records differ in their ids at most.
fn says_the_same<R: Versioned>(ours: &R, theirs: &R) -> bool {
    let mut theirs = theirs.clone();
    theirs.set_id(ours.id());
    *ours == theirs
}

/// Looks for what the other version has that ours lacks.
struct Look<'a> {
    here: &'a Project,
    there: &'a Project,
    base: Option<&'a Project>,
    doubtful: &'a Doubtful,
    ids: &'a Ids,
    counted: BTreeSet<CellId>,
    found: Vec<Difference>,
    photos: Vec<Photo>,
    left_out: Vec<String>,
}

impl Look<'_> {
    /// What the project is.
    fn project(&mut self) {
        let (ours, theirs) = (&self.here.about, &self.there.about);
        let base = self.base.map(|base| &base.about);
        if ours == theirs || (base == Some(theirs) && !self.doubtful.contains_key(&Place::Project)) {
            return;
        }
        let joined = self.joined(Place::Project, base, ours, theirs);
        let swap = |after| {
            Change::from(Swap {
                before: Some(ours.clone()),
                after: Some(after),
            })
        };
        self.changed("the project", "the project".to_owned(), &joined, ours, swap);
    }

    fn table<R: Versioned>(&mut self, of: fn(&Project) -> &Table<R>)
    where
        Change: From<Swap<R>>,
    {
        let base = self.base.map(of);
        let doubtful = self.doubtful;
        let whole: &[String] = &[];
        let is_sure = |id: R::Id| {
            doubtful
                .get(&R::place(id))
                .is_none_or(|paths| !paths.contains(whole))
        };
        for theirs in of(self.there).iter() {
            let before = base.and_then(|base| base.get(theirs.id()));
            let before = before.filter(|before| is_sure(before.id()));
            if (before == Some(theirs) && !doubtful.contains_key(&R::place(theirs.id())))
                || self.ids.is_left_out::<R>(theirs.id())
            {
                continue;
            }
            // A record of before that names something which is left out stays as it is.
            let Some(mut known) = self.ids.renumbered(theirs) else {
                continue;
            };
            known.make_room(self.here);
            let ours = of(self.here).get(known.id());
            match (before, ours) {
                (_, Some(ours)) if *ours == known => {}
                (_, Some(ours)) => self.both_have(before, ours, &known),
                (Some(_), None) => {
                    let name = self.there.place_name(R::place(theirs.id()));
                    self.found.push(Difference {
                        kind: R::NAME,
                        happened: Happened::Changed,
                        name: format!("{name}, which was removed here"),
                        fields: Vec::new(),
                        is_open: true,
                        with_ours: None,
                        with_theirs: Some(Change::add(known)),
                    });
                }
                (None, None) => self.added(theirs, known),
            }
        }
        let gone = base.into_iter().flat_map(Table::iter);
        let gone = gone.filter(|before| is_sure(before.id()) && !of(self.there).contains(before.id()));
        for before in gone {
            let Some(ours) = of(self.here).get(before.id()) else {
                continue;
            };
            let is_open = ours != before;
            let mut name = self.here.place_name(R::place(before.id()));
            if is_open {
                name.push_str(", which was changed here");
            }
            self.found.push(Difference {
                kind: R::NAME,
                happened: Happened::Removed,
                name,
                fields: Vec::new(),
                is_open,
                with_ours: None,
                with_theirs: Some(Change::remove(ours)),
            });
        }
    }

    fn added<R: Versioned>(&mut self, theirs: &R, known: R)
    where
        Change: From<Swap<R>>,
    {
        let place = R::place(theirs.id());
        let change = Change::add(known);
        match &change {
            // The counts of a cell that both counted are compared one by one.
            Change::Count(swap)
                if swap
                    .after
                    .as_ref()
                    .is_some_and(|count| self.counted.contains(&count.cell)) =>
            {
                return;
            }
            Change::Photo(swap) => {
                let Some(photo) = &swap.after else { return };
                if self.here.photos.iter().any(|ours| ours.file == photo.file) {
                    return self.left_out.push(format!(
                        "Photograph {} of the other version is left out, because this project has another one of that name. Add \
                         it again from its file under another name.",
                        photo.file
                    ));
                }
                self.photos.push(photo.clone());
            }
            _ => {}
        }
        self.found.push(Difference {
            kind: R::NAME,
            happened: Happened::Added,
            name: self.there.place_name(place),
            fields: Vec::new(),
            is_open: false,
            with_ours: None,
            with_theirs: Some(change),
        });
    }

    /// A record that both have and that is not the same.
    fn both_have<R: Versioned>(&mut self, before: Option<&R>, ours: &R, theirs: &R)
    where
        Change: From<Swap<R>>,
    {
        let name = self.here.place_name(R::place(ours.id()));
        let is_another = |before: &R| before.key() != ours.key() || before.key() != theirs.key();
        if R::IS_FIXED || (R::KEEPS_ITS_KEY && before.is_some_and(is_another)) {
            self.left_out.push(format!(
                "{} of the other version is left out, because {name} here is another one.",
                capital(&name)
            ));
            return;
        }
        let joined = self.joined(R::place(ours.id()), before, ours, theirs);
        let swap = |after| Change::replace(ours, after);
        self.changed(R::NAME, name, &joined, ours, swap);
    }

    /// Joins two versions of the record at a place.
    fn joined<T: Serialize>(&self, place: Place, before: Option<&T>, ours: &T, theirs: &T) -> Joined {
        let none = BTreeSet::new();
        let doubtful = self.doubtful.get(&place).unwrap_or(&none);
        fields::join(
            before.map(written).as_ref(),
            &written(ours),
            &written(theirs),
            doubtful,
        )
    }

    fn changed<T: PartialEq + DeserializeOwned>(
        &mut self,
        kind: &'static str,
        name: String,
        joined: &Joined,
        ours: &T,
        swap: impl Fn(T) -> Change,
    ) {
        let read = |fields: &Map<String, Value>| {
            let after: T = serde_json::from_value(Value::Object(fields.clone()))?;
            Ok((after != *ours).then(|| swap(after)))
        };
        let both: Result<_, serde_json::Error> =
            read(&joined.with_ours).and_then(|one| read(&joined.with_theirs).map(|two| (one, two)));
        let (with_ours, with_theirs) = match both {
            Ok((_, None)) => return,
            Ok(both) => both,
            Err(why) => {
                return self.left_out.push(format!(
                    "{} of the other version cannot be joined with ours and is left out: {why}.",
                    capital(&name)
                ));
            }
        };
        let fields = joined.fields.iter().map(|field| FieldLine {
            name: field_name(&field.path),
            ours: self.said(&field.path, field.ours.as_ref()),
            theirs: self.said(&field.path, field.theirs.as_ref()),
            is_open: field.is_open,
        });
        let difference = Difference {
            kind,
            happened: Happened::Changed,
            name,
            fields: fields.collect(),
            is_open: joined.fields.iter().any(|field| field.is_open),
            with_ours,
            with_theirs,
        };
        self.found.push(difference);
    }

    /// Says a value in words.
    fn said(&self, path: &[String], value: Option<&Value>) -> String {
        let Some(value) = value else {
            return "nothing".to_owned();
        };
        let field = path.last().map_or("", String::as_str);
        match value {
            Value::String(text) if text.is_empty() => "nothing".to_owned(),
            Value::String(text) if text.chars().any(char::is_alphabetic) => {
                format!("'{}'", shortened(text, MOST_SAID))
            }
            Value::String(text) => shortened(text, MOST_SAID),
            Value::Bool(true) => "yes".to_owned(),
            Value::Bool(false) => "no".to_owned(),
            Value::Number(number) => match number.as_u64().and_then(|id| place_of(field, id)) {
                Some(place) => self.place_name(place),
                None => number.to_string(),
            },
            Value::Array(list) if list.is_empty() => "nothing".to_owned(),
            Value::Array(list) => many_entries(list.len()),
            Value::Object(fields) => match fields.iter().next() {
                None => "nothing".to_owned(),
                Some((name, inside)) if fields.len() == 1 => {
                    let path = [name.to_lowercase()];
                    let said = self.said(&path, Some(inside));
                    if place_of(&path[0], 0).is_some() {
                        said
                    } else {
                        format!("{} {said}", field_name(&path))
                    }
                }
                Some(_) => many_entries(fields.len()),
            },
            Value::Null => "nothing".to_owned(),
        }
    }

    /// Names a record of ours, or else of the other version.
    fn place_name(&self, place: Place) -> String {
        let ours = self.here.place_name(place);
        if ours.contains("with the id") {
            self.there.place_name(place)
        } else {
            ours
        }
    }
}

fn many_entries(number: usize) -> String {
    match number {
        1 => "1 entry".to_owned(),
        number => format!("{number} entries"),
    }
}

/// Gives the place that a field names by its id.
fn place_of(field: &str, id: u64) -> Option<Place> {
    let id = u32::try_from(id).ok()?;
    match field {
        "season" => Some(Place::Season(id.into())),
        "row" => Some(Place::Row(id.into())),
        "ear" => Some(Place::Ear(id.into())),
        "test" => Some(Place::Test(id.into())),
        "tray" => Some(Place::Tray(id.into())),
        "cell" => Some(Place::Cell(id.into())),
        "store" => Some(Place::Store(id.into())),
        "list" => Some(Place::List(id.into())),
        _ => None,
    }
}

/// The names of a field and of the field around it, in words.
fn field_name(path: &[String]) -> String {
    let words: Vec<String> = path.iter().map(|name| name.replace('_', " ")).collect();
    words.join(" ")
}

/// The fields of a record as its file names them.
fn written<T: Serialize>(record: &T) -> Map<String, Value> {
    match serde_json::to_value(record) {
        Ok(Value::Object(fields)) => fields,
        // Every record is a structure of named fields.
        _ => Map::new(),
    }
}

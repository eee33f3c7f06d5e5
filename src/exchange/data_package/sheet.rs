//! What a sheet of the package is made of: its columns, their types and bounds, and where in a record they lie.

/// One table of the package: a kind of records, or the lines of a list inside them.
#[derive(Debug, Clone, Copy)]
pub(super) struct Sheet {
    /// Its name, that of its file without `.csv`.
    pub(super) name: &'static str,
    /// What one line is, in a sentence.
    pub(super) about: &'static str,
    /// The records of the project that it comes from, by their name in the project file.
    pub(super) section: &'static str,
    /// The lists inside those records, from the outside in; none for the records themselves.
    pub(super) nests: &'static [Nest],
    /// The columns behind the keys.
    pub(super) columns: &'static [Column],
    /// Parts that every line has, even when all their cells are empty.
    pub(super) parts: &'static [&'static str],
}

/// A list inside a record.
#[derive(Debug, Clone, Copy)]
pub(super) struct Nest {
    /// The list's place in the record around it.
    pub(super) path: &'static str,
    /// The column that tells its lines apart.
    pub(super) key: &'static str,
    /// What that column holds.
    pub(super) about: &'static str,
    /// How the list is kept.
    pub(super) form: Form,
}

/// How a list inside a record is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Form {
    /// In an order, numbered from 1.
    List,
    /// By a number; that of a record of a sheet, if it has a name.
    Map(&'static str),
}

/// One column.
#[derive(Debug, Clone, Copy)]
pub(super) struct Column {
    /// Its header.
    pub(super) name: &'static str,
    /// What it holds, with its unit.
    pub(super) about: &'static str,
    /// Where the value lies in the record: names of fields, numbers of places and, with a capital, kinds of an enum,
    /// divided by points; `.` for the record itself.
    pub(super) path: &'static str,
    /// The type of its values.
    pub(super) kind: Kind,
    /// Whether no cell may be empty.
    pub(super) required: bool,
    /// Whether no value may be there twice.
    pub(super) unique: bool,
    /// The least and the greatest value.
    pub(super) range: Option<(f64, f64)>,
    /// The sheet whose `id` it names.
    pub(super) names: Option<&'static str>,
    /// What a record without the field has.
    pub(super) absent: &'static str,
}

/// The type of a column.
#[derive(Debug, Clone, Copy)]
pub(super) enum Kind {
    /// Whole numbers.
    Whole,
    /// Numbers.
    Number,
    /// Text in one line.
    Text,
    /// Days.
    Date,
    /// Days and times by the clock on the wall.
    Time,
    /// `true` or `false`.
    Flag,
    /// A list of numbers or words, as JSON.
    Json,
    /// One of some words.
    Word(&'static [Word]),
}

/// One word of a column that takes some words only.
#[derive(Debug, Clone, Copy)]
pub(super) struct Word {
    /// The word in the cell.
    pub(super) cell: &'static str,
    /// The name in the project file.
    pub(super) known: &'static str,
    /// What belongs to it.
    pub(super) holds: Holds,
}

/// What belongs to a word.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Holds {
    /// Nothing.
    Nothing,
    /// One value, in another column.
    Value,
    /// Fields, in other columns.
    Fields,
}

pub(super) const fn word(cell: &'static str, known: &'static str) -> Word {
    Word {
        cell,
        known,
        holds: Holds::Nothing,
    }
}

pub(super) const fn word_with(cell: &'static str, known: &'static str, holds: Holds) -> Word {
    Word { cell, known, holds }
}

const fn column(name: &'static str, kind: Kind, about: &'static str) -> Column {
    Column {
        name,
        about,
        path: name,
        kind,
        required: false,
        unique: false,
        range: None,
        names: None,
        absent: "",
    }
}

pub(super) const fn whole(name: &'static str, least: f64, most: f64, about: &'static str) -> Column {
    let mut made = column(name, Kind::Whole, about);
    made.range = Some((least, most));
    made
}

pub(super) const fn number(name: &'static str, about: &'static str) -> Column {
    column(name, Kind::Number, about)
}

pub(super) const fn text(name: &'static str, about: &'static str) -> Column {
    column(name, Kind::Text, about)
}

pub(super) const fn day(name: &'static str, about: &'static str) -> Column {
    column(name, Kind::Date, about)
}

pub(super) const fn time(name: &'static str, about: &'static str) -> Column {
    column(name, Kind::Time, about)
}

pub(super) const fn json(name: &'static str, about: &'static str) -> Column {
    column(name, Kind::Json, about)
}

pub(super) const fn flag(name: &'static str, about: &'static str) -> Column {
    let mut made = column(name, Kind::Flag, about);
    made.absent = "false";
    made
}

pub(super) const fn one_of(name: &'static str, words: &'static [Word], about: &'static str) -> Column {
    column(name, Kind::Word(words), about)
}

/// The `id` of a record.
pub(super) const fn id(about: &'static str) -> Column {
    whole("id", 0.0, u32::MAX as f64, about).needed()
}

/// The `id` of a record of another sheet.
pub(super) const fn names(name: &'static str, sheet: &'static str, about: &'static str) -> Column {
    let mut made = whole(name, 0.0, u32::MAX as f64, about);
    made.names = Some(sheet);
    made
}

impl Column {
    pub(super) const fn needed(mut self) -> Self {
        self.required = true;
        self
    }

    pub(super) const fn only_once(mut self) -> Self {
        self.unique = true;
        self
    }

    pub(super) const fn at(mut self, path: &'static str) -> Self {
        self.path = path;
        self
    }

    pub(super) const fn or(mut self, absent: &'static str) -> Self {
        self.absent = absent;
        self
    }

    pub(super) const fn within(mut self, least: f64, most: f64) -> Self {
        self.range = Some((least, most));
        self
    }
}

impl Sheet {
    /// The header of the column that names the record around a list: `ear` for a list in the ears.
    pub(super) fn owner(&self) -> String {
        let singular = self.section.strip_suffix('s').unwrap_or(self.section);
        format!("{singular}_id")
    }

    /// The headers of the columns that tell the lines of a list apart; none for records.
    pub(super) fn keys(&self) -> Vec<String> {
        if self.nests.is_empty() {
            return Vec::new();
        }
        let nests = self.nests.iter().map(|nest| nest.key.to_owned());
        std::iter::once(self.owner()).chain(nests).collect()
    }

    /// All headers.
    pub(super) fn header(&self) -> Vec<String> {
        let mut header = self.keys();
        header.extend(self.columns.iter().map(|column| column.name.to_owned()));
        header
    }

    /// The name of its file.
    pub(super) fn file(&self) -> String {
        format!("{}.csv", self.name)
    }

    /// Whether it holds the lists that are `inner`'s, one step further out.
    pub(super) fn is_around(&self, inner: &Self) -> bool {
        let outer = inner.nests.split_last().map(|(_, outer)| outer);
        self.section == inner.section
            && outer.is_some_and(|outer| {
                outer.len() == self.nests.len()
                    && outer
                        .iter()
                        .zip(self.nests)
                        .all(|(one, other)| one.path == other.path)
            })
    }
}

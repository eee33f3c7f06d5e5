//! What the table of ears shows: columns, the order of the ears, the text of each cell.

use crate::model::{Area, Document, Ear, EarField, EarId, Project, SeasonId};
use crate::ui::widgets::grid::{GridColumn, GridSource};
use std::borrow::Cow;
use std::cmp::Ordering;
use std::collections::BTreeSet;

/// A column of the table.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Column {
    /// The permanent code, which nobody types.
    Code,
    /// A field that can be typed into.
    Field(EarField),
}

impl Column {
    pub(super) fn field(self) -> Option<EarField> {
        match self {
            Self::Code => None,
            Self::Field(field) => Some(field),
        }
    }
}

/// The place of the code in the table.
pub(super) const CODE: usize = 1;

/// The ears of one season in the order in which they are shown, and the columns.
///
/// The order is made when the grower sorts or filters and then stays: a row never moves away from under the cursor
/// because something was typed into it.
#[derive(Debug, Default)]
pub(super) struct Table {
    season: Option<SeasonId>,
    can_change: bool,
    traits_revision: Option<[u64; 1]>,
    ears_revision: Option<[u64; 2]>,
    pub(super) columns: Vec<Column>,
    pub(super) headers: Vec<GridColumn>,
    pub(super) order: Vec<EarId>,
    sort: Option<(Column, bool)>,
    filter: String,
    pub(super) chosen: BTreeSet<EarId>,
}

impl Table {
    /// Brings the table up to date. Says whether ears came, went or moved.
    ///
    /// New ears go to the end where `at_end` says that they were typed there, or where the table is sorted by
    /// something else than the number.
    pub(super) fn refresh(
        &mut self,
        document: &Document,
        season: SeasonId,
        can_change: bool,
        at_end: bool,
    ) -> bool {
        let project = document.project();
        let traits = document.revision_key([Area::Trait]);
        if self.traits_revision != Some(traits) || self.can_change != can_change {
            self.traits_revision = Some(traits);
            self.can_change = can_change;
            self.make_columns(project);
        }
        let ears = document.revision_key([Area::Ear, Area::Season]);
        let other_season = self.season != Some(season);
        if !other_season && self.ears_revision == Some(ears) {
            return false;
        }
        self.ears_revision = Some(ears);
        self.season = Some(season);
        if other_season {
            self.rebuild(project);
            return true;
        }
        self.merge(project, season, at_end)
    }

    fn make_columns(&mut self, project: &Project) {
        let traits = project.traits.iter().map(|known| EarField::Trait(known.id));
        let (note, before): (Vec<EarField>, Vec<EarField>) = EarField::FIXED
            .into_iter()
            .partition(|field| *field == EarField::Note);
        let fields = before.into_iter().chain(traits).chain(note);
        self.columns = fields.map(Column::Field).collect();
        self.columns.insert(CODE, Column::Code);
        self.headers = self.columns.iter().map(|column| self.header(*column, project)).collect();
        if self.sort.is_some_and(|(by, _)| !self.columns.contains(&by)) {
            self.sort = None;
        }
    }

    fn header(&self, column: Column, project: &Project) -> GridColumn {
        let Some(field) = column.field() else {
            return GridColumn::new("Ear code")
                .hint("The permanent code of the ear. Its last character checks the others. Press Enter here for the ear card.")
                .width(140.0)
                .frozen()
                .read_only();
        };
        let header = GridColumn::new(field.title(project));
        let header = match field {
            EarField::Number => header
                .hint("The number of the ear within the season.")
                .number()
                .frozen(),
            EarField::Row => header.hint("The label of the row in which the mother plant stood. A new label adds a row."),
            EarField::Planted => {
                header.hint("Year-month-day. Shown quietly where it is the day of the row or of the season.")
            }
            EarField::Matured => header.hint("Year-month-day of black layer, or of husk dry-down as you define it."),
            EarField::MaturityDays => header
                .hint("Days from planting to maturity. Shown quietly where it follows from the two dates.")
                .number(),
            EarField::Kernels => header
                .hint("Kernels in the packet now. Typing another number counts the packet again.")
                .number(),
            EarField::Location => header.hint("Where the packet lies.").width(150.0),
            EarField::Note => header.width(280.0),
            EarField::Trait(id) => {
                let hint = project.traits.get(id).map(super::traits::describe).unwrap_or_default();
                header.hint(hint).number()
            }
        };
        if self.can_change { header } else { header.read_only() }
    }

    /// The title of a column.
    pub(super) fn title(&self, col: usize) -> &str {
        self.headers.get(col).map_or("", |header| header.title.as_str())
    }

    /// Whether the rows lie in the order of the numbers.
    fn is_by_number(&self) -> bool {
        self.sort.is_none()
    }

    /// Sorts by a column, for now; later changes do not move rows.
    pub(super) fn sort_by(&mut self, project: &Project, col: usize, descending: bool) {
        self.sort = self.columns.get(col).map(|column| (*column, descending));
        self.rebuild(project);
    }

    /// Shows only the ears that fit the words.
    pub(super) fn filter_by(&mut self, project: &Project, words: &str) {
        words.clone_into(&mut self.filter);
        self.rebuild(project);
    }

    /// Column and direction of the sort, for the header.
    pub(super) fn sorted(&self) -> Option<(usize, bool)> {
        let (by, descending) = self.sort?;
        Some((self.columns.iter().position(|column| *column == by)?, descending))
    }

    fn rebuild(&mut self, project: &Project) {
        let Some(season) = self.season else { return };
        let filter = Filter::read(&self.filter);
        let mut found: Vec<&Ear> = project
            .ears_of(season)
            .filter(|ear| filter.fits(project, ear))
            .collect();
        if let Some((by, descending)) = self.sort {
            let mut keyed: Vec<(Key, &Ear)> =
                found.into_iter().map(|ear| (Key::of(project, ear, by), ear)).collect();
            keyed.sort_by(|(a, _), (b, _)| a.compare(b, descending));
            found = keyed.into_iter().map(|(_, ear)| ear).collect();
        }
        self.order = found.into_iter().map(|ear| ear.id).collect();
    }

    /// Takes out the ears that are gone and puts in those that are new.
    fn merge(&mut self, project: &Project, season: SeasonId, at_end: bool) -> bool {
        let here = |id: &EarId| project.ears.get(*id).is_some_and(|ear| ear.season == season);
        let before = self.order.len();
        self.order.retain(here);
        let mut changed = self.order.len() != before;
        let shown: BTreeSet<EarId> = self.order.iter().copied().collect();
        let filter = Filter::read(&self.filter);
        let new: Vec<EarId> = project
            .ears_of(season)
            .filter(|ear| !shown.contains(&ear.id))
            .filter(|ear| at_end || filter.fits(project, ear))
            .map(|ear| ear.id)
            .collect();
        // Ears that the filter hides are not new; only an ear just typed is shown although it does not fit.
        let new: Vec<EarId> = if at_end && !filter.is_empty() {
            new.into_iter().max().into_iter().collect()
        } else {
            new
        };
        changed |= !new.is_empty();
        self.order.extend(new);
        if changed && !at_end && self.is_by_number() {
            self.order
                .sort_by_key(|id| project.ears.get(*id).map_or(u32::MAX, |ear| ear.number));
        }
        changed
    }

    /// The row in which an ear is shown.
    pub(super) fn row_of(&self, ear: EarId) -> Option<usize> {
        self.order.iter().position(|shown| *shown == ear)
    }
}

/// What a filter asks for: words that an ear has anywhere, `row X` and `ear N` exactly.
struct Filter {
    words: Vec<String>,
    row: Option<String>,
    number: Option<String>,
}

impl Filter {
    fn read(text: &str) -> Self {
        let text = text.to_lowercase();
        let mut filter = Self {
            words: Vec::new(),
            row: None,
            number: None,
        };
        let mut parts = text.split_whitespace().peekable();
        while let Some(part) = parts.next() {
            match (part, parts.peek()) {
                ("row", Some(label)) => filter.row = Some((*label).to_owned()),
                ("ear", Some(number)) => filter.number = Some((*number).to_owned()),
                _ => {
                    filter.words.push(part.to_owned());
                    continue;
                }
            }
            parts.next();
        }
        filter
    }

    fn is_empty(&self) -> bool {
        self.words.is_empty() && self.row.is_none() && self.number.is_none()
    }

    fn fits(&self, project: &Project, ear: &Ear) -> bool {
        if self.is_empty() {
            return true;
        }
        let label = project.mother_label(ear).to_lowercase();
        if self.row.as_ref().is_some_and(|row| *row != label) {
            return false;
        }
        let number = ear.number.to_string();
        if self.number.as_ref().is_some_and(|wanted| *wanted != number) {
            return false;
        }
        if self.words.is_empty() {
            return true;
        }
        let place = place_of(project, ear.id).to_lowercase();
        let code = ear.code.to_string().to_lowercase();
        let note = ear.note.to_lowercase();
        let all = [number, code, label, place, note];
        self.words.iter().all(|word| all.iter().any(|text| text.contains(word.as_str())))
    }
}

/// What an ear is sorted by; ears without it come last in both directions.
enum Key {
    Missing,
    Number(f64),
    Text(String),
}

impl Key {
    fn of(project: &Project, ear: &Ear, column: Column) -> Self {
        let text = |text: &str| {
            if text.is_empty() {
                Self::Missing
            } else {
                Self::Text(text.to_lowercase())
            }
        };
        let number = |number: Option<f64>| number.map_or(Self::Missing, Self::Number);
        let date = |date: Option<jiff::civil::Date>| date.map_or(Self::Missing, |day| Self::Text(day.to_string()));
        let Some(field) = column.field() else {
            return Self::Text(ear.code.to_string());
        };
        match field {
            EarField::Number => Self::Number(f64::from(ear.number)),
            EarField::Row => text(project.mother_label(ear)),
            EarField::Planted => date(project.planted(ear)),
            EarField::Matured => date(ear.matured),
            EarField::MaturityDays => number(project.maturity_days(ear).map(f64::from)),
            EarField::Kernels => number(project.kernels_of(ear.id).map(|kernels| kernels as f64)),
            EarField::Location => text(place_of(project, ear.id)),
            EarField::Note => text(&ear.note),
            EarField::Trait(id) => number(ear.values.get(&id).copied()),
        }
    }

    fn compare(&self, other: &Self, descending: bool) -> Ordering {
        let order = match (self, other) {
            (Self::Missing, Self::Missing) => return Ordering::Equal,
            (Self::Missing, _) => return Ordering::Greater,
            (_, Self::Missing) => return Ordering::Less,
            (Self::Number(a), Self::Number(b)) => a.total_cmp(b),
            (Self::Text(a), Self::Text(b)) => (leading_number(a), a).cmp(&(leading_number(b), b)),
            (Self::Number(_), Self::Text(_)) => Ordering::Less,
            (Self::Text(_), Self::Number(_)) => Ordering::Greater,
        };
        if descending { order.reverse() } else { order }
    }
}

/// The number that a label begins with, so that row 2 comes before row 10; labels without one come last.
pub(super) fn leading_number(text: &str) -> u64 {
    let end = text.bytes().take_while(u8::is_ascii_digit).count();
    text[..end].parse().unwrap_or(u64::MAX)
}

fn place_of(project: &Project, ear: EarId) -> &str {
    project
        .packets_of(ear)
        .next()
        .map_or("", |packet| packet.location.as_str())
}

/// The text of a cell, as it would be typed.
pub(super) fn text_of(project: &Project, ear: &Ear, column: Column) -> String {
    let date = |date: Option<jiff::civil::Date>| date.map(|day| day.to_string()).unwrap_or_default();
    let Some(field) = column.field() else {
        return ear.code.to_string();
    };
    match field {
        EarField::Number => ear.number.to_string(),
        EarField::Row => project.mother_label(ear).to_owned(),
        EarField::Planted => date(project.planted(ear)),
        EarField::Matured => date(ear.matured),
        EarField::MaturityDays => project
            .maturity_days(ear)
            .map(|days| days.to_string())
            .unwrap_or_default(),
        EarField::Kernels => project
            .kernels_of(ear.id)
            .map(|kernels| kernels.to_string())
            .unwrap_or_default(),
        EarField::Location => place_of(project, ear.id).to_owned(),
        EarField::Note => ear.note.clone(),
        EarField::Trait(id) => match (ear.values.get(&id), project.traits.get(id)) {
            (Some(value), Some(known)) => {
                // A value with more digits than the trait shows is never cut: it may be copied out.
                let short = known.format(*value);
                let is_whole_truth = short.parse() == Ok(*value);
                if is_whole_truth { short } else { value.to_string() }
            }
            _ => String::new(),
        },
    }
}

/// The table as the grid reads it, with an empty row at the end into which a new ear is typed.
pub(super) struct Source<'a> {
    pub(super) table: &'a Table,
    pub(super) project: &'a Project,
}

impl Source<'_> {
    fn ear(&self, row: usize) -> Option<&Ear> {
        self.project.ears.get(*self.table.order.get(row)?)
    }
}

impl GridSource for Source<'_> {
    fn rows(&self) -> usize {
        self.table.order.len() + usize::from(self.table.can_change)
    }

    fn columns(&self) -> &[GridColumn] {
        &self.table.headers
    }

    fn text(&self, row: usize, col: usize) -> Cow<'_, str> {
        match (self.ear(row), self.table.columns.get(col)) {
            (Some(ear), Some(column)) => text_of(self.project, ear, *column).into(),
            _ => "".into(),
        }
    }

    fn is_quiet(&self, row: usize, col: usize) -> bool {
        let Some(ear) = self.ear(row) else { return false };
        match self.table.columns.get(col).and_then(|column| column.field()) {
            Some(EarField::Planted) => ear.planted.is_none(),
            Some(EarField::MaturityDays) => ear.maturity_days.is_none(),
            _ => false,
        }
    }

    fn is_chosen(&self, row: usize) -> bool {
        self.table.order.get(row).is_some_and(|ear| self.table.chosen.contains(ear))
    }
}

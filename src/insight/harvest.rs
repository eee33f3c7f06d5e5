//! The harvest table.

use super::frost::is_frosted;
use super::weather::heat_units_c;
use super::words::{natural, plural};
use crate::model::{Ear, EarField, EarId, Packet, Project, SeasonId, TraitId, TrayId, yes_or_no};
use std::borrow::Cow;
use std::cmp::Ordering;
use std::sync::Arc;

/// A column of the harvest table.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum EarColumn {
    /// The ear's number within the season.
    Number,
    /// The ear's permanent code.
    Code,
    /// The label of its mother row.
    Row,
    /// The day when its plant was planted: the ear's own, its row's or its season's.
    Planted,
    /// The day when it matured.
    Matured,
    /// Days from planting to maturity, as noted or from the two dates.
    MaturityDays,
    /// Heat units from planting to maturity: as noted, or from the weather.
    HeatUnits,
    /// The day when it was picked.
    Picked,
    /// Whether frost reached it: as noted, or from the weather.
    Frosted,
    /// Kernels in its packets.
    Kernels,
    /// Where its packet lies.
    Location,
    /// The storage place that its packet is kept in.
    Store,
    /// The batch in which it was dried.
    Batch,
    /// A trait.
    Trait(TraitId),
    /// A free note.
    Note,
}

impl EarColumn {
    /// Gives the field that is typed into in this column; `None` for the code, which nobody types.
    pub fn field(self) -> Option<EarField> {
        Some(match self {
            Self::Number => EarField::Number,
            Self::Code => return None,
            Self::Row => EarField::Row,
            Self::Planted => EarField::Planted,
            Self::Matured => EarField::Matured,
            Self::MaturityDays => EarField::MaturityDays,
            Self::HeatUnits => EarField::HeatUnits,
            Self::Picked => EarField::Picked,
            Self::Frosted => EarField::Frosted,
            Self::Kernels => EarField::Kernels,
            Self::Location => EarField::Location,
            Self::Store => EarField::Store,
            Self::Batch => EarField::Batch,
            Self::Trait(id) => EarField::Trait(id),
            Self::Note => EarField::Note,
        })
    }

    /// Names the column as it is headed.
    pub fn title(self, project: &Project) -> String {
        self.field()
            .map_or_else(|| "Ear code".to_owned(), |field| field.title(project))
    }

    /// Says whether the column holds numbers, which stand at the right.
    pub fn is_number(self) -> bool {
        matches!(
            self,
            Self::Number | Self::MaturityDays | Self::HeatUnits | Self::Kernels | Self::Trait(_)
        )
    }

    /// Gives the columns of a project's harvest table in order.
    pub fn all(project: &Project) -> Vec<Self> {
        let mut columns = vec![
            Self::Number,
            Self::Code,
            Self::Row,
            Self::Planted,
            Self::Matured,
            Self::MaturityDays,
            Self::Kernels,
            Self::Location,
            Self::Batch,
            Self::Picked,
            Self::Frosted,
            Self::HeatUnits,
        ];
        if !project.stores.is_empty() {
            columns.push(Self::Store);
        }
        columns.extend(project.traits.iter().map(|known| Self::Trait(known.id)));
        columns.push(Self::Note);
        columns
    }

    /// Gives the text of an ear's cell in this column; empty when the value is not known.
    pub fn text<'a>(self, project: &'a Project, ear: &'a Ear) -> Cow<'a, str> {
        let shown = |value: Option<String>| Cow::Owned(value.unwrap_or_default());
        match self {
            Self::Number => Cow::Owned(ear.number.to_string()),
            Self::Code => Cow::Owned(ear.code.to_string()),
            Self::Row => Cow::Borrowed(project.mother_label(ear)),
            Self::Planted => shown(project.planted(ear).map(|date| date.to_string())),
            Self::Matured => shown(ear.matured.map(|date| date.to_string())),
            Self::MaturityDays => shown(project.maturity_days(ear).map(|days| days.to_string())),
            Self::HeatUnits => shown(heat_units_c(project, ear).map(|heat| project.heat_text(heat))),
            Self::Picked => shown(ear.picked.map(|date| date.to_string())),
            Self::Frosted => Cow::Borrowed(is_frosted(project, ear).map_or("", yes_or_no)),
            Self::Kernels => shown(project.kernels_of(ear.id).map(|kernels| kernels.to_string())),
            Self::Location => Cow::Borrowed(location(project, ear.id)),
            Self::Store => Cow::Borrowed(project.store_of(ear.id).map_or("", |store| store.name.as_str())),
            Self::Trait(id) => shown(ear.values.get(&id).map(|value| {
                project
                    .trait_of(id)
                    .map_or_else(|| value.to_string(), |known| known.format(*value))
            })),
            Self::Batch => Cow::Borrowed(&ear.batch),
            Self::Note => Cow::Borrowed(&ear.note),
        }
    }

    /// Says whether the text follows from other records and was not typed for this ear: a planting day of the row
    /// or season, maturity days from two dates, heat units and frost from the weather.
    pub fn is_derived(self, ear: &Ear) -> bool {
        match self {
            Self::Planted => ear.planted.is_none(),
            Self::MaturityDays => ear.maturity_days.is_none(),
            Self::HeatUnits => ear.heat_units_c.is_none(),
            Self::Frosted => ear.frosted.is_none(),
            _ => false,
        }
    }
}

/// Gives where an ear's packet lies: the first packet that has a place.
fn location(project: &Project, ear: EarId) -> &str {
    project
        .packets_of(ear)
        .map(|packet| packet.location.as_str())
        .find(|location| !location.is_empty())
        .unwrap_or("")
}

/// Which ears of a season are shown, and in which order.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct HarvestQuery {
    /// A text that one of the ear's cells must contain, whatever its capitals; empty for all ears.
    pub filter: String,
    /// The column to sort by and whether the greatest comes first; by number when `None`. Ears without a value
    /// always come last.
    pub sort: Option<(EarColumn, bool)>,
}

/// Something that a cell of the harvest table warns of.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// The column.
    pub column: EarColumn,
    /// What is wrong, in a sentence.
    pub sentence: String,
}

/// The harvest table of a season.
#[derive(Debug, Clone, PartialEq)]
pub struct HarvestView {
    /// The season.
    pub season: SeasonId,
    /// The columns in order.
    pub columns: Vec<EarColumn>,
    /// The ears in order.
    pub ears: Vec<EarId>,
    /// All ears of the season, also those that the filter hides.
    pub total: usize,
}

impl HarvestView {
    /// Gives the text of a cell; empty outside the table.
    pub fn text<'a>(&self, project: &'a Project, row: usize, column: usize) -> Cow<'a, str> {
        match (self.ear(project, row), self.columns.get(column)) {
            (Some(ear), Some(column)) => column.text(project, ear),
            _ => Cow::Borrowed(""),
        }
    }

    /// Gives the ear of a row of the table.
    pub fn ear<'a>(&self, project: &'a Project, row: usize) -> Option<&'a Ear> {
        self.ears.get(row).and_then(|id| project.ears.get(*id))
    }

    /// Gives what the cells of a row warn of. It is worked out for each row that is shown.
    pub fn marks(&self, project: &Project, row: usize) -> Vec<Mark> {
        self.ear(project, row)
            .map_or_else(Vec::new, |ear| marks(project, ear))
    }
}

fn marks(project: &Project, ear: &Ear) -> Vec<Mark> {
    let mut found = Vec::new();
    let mut mark = |column, sentence: String| found.push(Mark { column, sentence });
    if ear.row.is_none() {
        mark(EarColumn::Row, "The mother row is not known.".to_owned());
    }
    if project.maturity_days(ear).is_none() {
        mark(
            EarColumn::MaturityDays,
            "The maturity days are not known.".to_owned(),
        );
    }
    match stock(project, ear) {
        Stock::NoPacket => mark(EarColumn::Kernels, "The ear has no packet.".to_owned()),
        Stock::Uncounted => mark(EarColumn::Kernels, "The kernels were never counted.".to_owned()),
        Stock::Few { kernels, needed } => mark(
            EarColumn::Kernels,
            format!(
                "{} left, but {needed} are needed.",
                plural(kernels.max(0) as usize, "kernel")
            ),
        ),
        Stock::Enough => {}
    }
    found
}

/// How an ear is off for kernels.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Stock {
    NoPacket,
    Uncounted,
    /// Fewer than what must be kept back together with what its tests still take.
    Few {
        kernels: i64,
        needed: i64,
    },
    Enough,
}

/// Says whether an ear has kernels for the tests that it lies in but which did not take theirs yet, and for the
/// remnant of its season.
pub(super) fn stock(project: &Project, ear: &Ear) -> Stock {
    let mut packets = project.packets_of(ear.id).peekable();
    if packets.peek().is_none() {
        return Stock::NoPacket;
    }
    let Some(kernels) = packets.filter_map(Packet::balance).reduce(|sum, more| sum + more) else {
        return Stock::Uncounted;
    };
    let remnant = project.seasons.get(ear.season).map_or(0, |season| season.remnant);
    let in_tests: i64 = project
        .cells_of_ear(ear.id)
        .filter(|cell| is_to_be_laid(project, cell.tray))
        .map(|cell| i64::from(project.sown(cell)))
        .sum();
    let needed = i64::from(remnant) + in_tests;
    if kernels < needed {
        Stock::Few { kernels, needed }
    } else {
        Stock::Enough
    }
}

fn is_to_be_laid(project: &Project, tray: TrayId) -> bool {
    project.test_of_tray(tray).is_some_and(|test| test.laid.is_none())
}

/// Gives the texts of all cells of each ear of a season in small letters, by number, for the filter to look in.
pub(super) fn small_texts(project: &Project, season: SeasonId) -> Vec<String> {
    let columns = EarColumn::all(project);
    let texts = |ear| {
        let mut all = String::new();
        for column in &columns {
            all.push_str(&column.text(project, ear).to_lowercase());
            // No text contains a line break, so that no filter finds the end of one cell and the next begin.
            all.push('\n');
        }
        all
    };
    project.ears_of(season).map(texts).collect()
}

/// Builds the table. `small_texts` is asked for only when there is a filter.
pub(super) fn compute(
    project: &Project,
    season: SeasonId,
    query: &HarvestQuery,
    small_texts: impl FnOnce() -> Arc<Vec<String>>,
) -> HarvestView {
    let filter = query.filter.trim().to_lowercase();
    let mut ears: Vec<&Ear> = project.ears_of(season).collect();
    let total = ears.len();
    if !filter.is_empty() {
        let texts = small_texts();
        let mut texts = texts.iter();
        ears.retain(|_| texts.next().is_some_and(|text| text.contains(&filter)));
    }
    if let Some((column, descending)) = query.sort {
        sort(project, &mut ears, column, descending);
    }
    HarvestView {
        season,
        columns: EarColumn::all(project),
        ears: ears.into_iter().map(|ear| ear.id).collect(),
        total,
    }
}

/// Sorts ears that are in the order of their numbers; ears with equal values stay in it.
fn sort(project: &Project, ears: &mut Vec<&Ear>, column: EarColumn, descending: bool) {
    let number = |ear: &Ear| match column {
        EarColumn::Number => Some(f64::from(ear.number)),
        EarColumn::MaturityDays => project.maturity_days(ear).map(f64::from),
        EarColumn::HeatUnits => heat_units_c(project, ear),
        EarColumn::Kernels => project.kernels_of(ear.id).map(|kernels| kernels as f64),
        EarColumn::Trait(id) => ear.values.get(&id).copied(),
        _ => None,
    };
    let turn = |order: Ordering| if descending { order.reverse() } else { order };
    if column.is_number() {
        sort_by_key(ears, number, |a, b| turn(a.total_cmp(b)));
    } else {
        let text = |ear: &Ear| Some(column.text(project, ear).into_owned()).filter(|text| !text.is_empty());
        sort_by_key(ears, text, |a, b| turn(natural(a, b)));
    }
}

fn sort_by_key<K>(ears: &mut Vec<&Ear>, key: impl Fn(&Ear) -> Option<K>, order: impl Fn(&K, &K) -> Ordering) {
    let mut keyed: Vec<(Option<K>, &Ear)> = ears.drain(..).map(|ear| (key(ear), ear)).collect();
    keyed.sort_by(|(a, _), (b, _)| match (a, b) {
        (Some(a), Some(b)) => order(a, b),
        (a, b) => b.is_some().cmp(&a.is_some()),
    });
    ears.extend(keyed.into_iter().map(|(_, ear)| ear));
}

//! What the table of ears shows: columns, the order of the ears, the text of each cell.

use crate::insight::{EarColumn, HarvestQuery, HarvestView, Insight, Mark};
use crate::model::{Area, Document, Ear, EarId, Project, SeasonId};
use crate::ui::widgets::grid::{CellMark, GridColumn, GridSource};
use std::borrow::Cow;
use std::cell::RefCell;
use std::collections::BTreeSet;

/// The place of the code in the table.
pub(super) const CODE: usize = 1;

/// The ears of one season in the order in which they are shown, and the columns.
///
/// The order is taken when the grower sorts or filters and then stays: a row never moves away from under the cursor
/// because something was typed into it.
#[derive(Debug, Default)]
pub(super) struct Table {
    season: Option<SeasonId>,
    can_change: bool,
    traits_revision: Option<[u64; 1]>,
    ears_revision: Option<[u64; 2]>,
    query: HarvestQuery,
    pub(super) columns: Vec<EarColumn>,
    pub(super) headers: Vec<GridColumn>,
    pub(super) order: Vec<EarId>,
    /// All ears of the season, also those that the filter hides.
    pub(super) total: usize,
    pub(super) chosen: BTreeSet<EarId>,
}

/// What a table is made from.
#[derive(Clone, Copy)]
pub(super) struct Origin<'a> {
    pub(super) document: &'a Document,
    pub(super) insight: &'a Insight,
    pub(super) season: SeasonId,
}

/// Where ears come from that the table does not show yet.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum NewEars {
    /// They were typed into the empty row.
    Typed,
    /// Anywhere else: a block, a file, an undo.
    Other,
}

impl Table {
    /// Brings the table up to date. Says whether ears came, went or moved.
    ///
    /// New ears go to the end when they were typed there, or where the table is sorted.
    pub(super) fn refresh(&mut self, origin: Origin<'_>, can_change: bool, new: NewEars) -> bool {
        let Origin { document, season, .. } = origin;
        let traits = document.revision_key([Area::Trait]);
        if self.traits_revision != Some(traits) || self.can_change != can_change {
            self.traits_revision = Some(traits);
            self.can_change = can_change;
            self.make_columns(document.project());
        }
        let ears = document.revision_key([Area::Ear, Area::Season]);
        let other_season = self.season != Some(season);
        if !other_season && self.ears_revision == Some(ears) {
            return false;
        }
        self.ears_revision = Some(ears);
        self.season = Some(season);
        if other_season {
            self.rebuild(origin);
            return true;
        }
        self.merge(origin, new == NewEars::Typed)
    }

    fn make_columns(&mut self, project: &Project) {
        self.columns = EarColumn::all(project);
        self.headers = self
            .columns
            .iter()
            .map(|column| self.header(*column, project))
            .collect();
        if self.query.sort.is_some_and(|(by, _)| !self.columns.contains(&by)) {
            self.query.sort = None;
        }
    }

    fn header(&self, column: EarColumn, project: &Project) -> GridColumn {
        let header = GridColumn::new(column.title(project));
        let header = match column {
            EarColumn::Code => {
                let hint = "The permanent code of the ear. Its last character checks the others. Press Enter here for the ear card.";
                header.hint(hint).width(132.0).frozen().read_only()
            }
            EarColumn::Number => header
                .hint("The number of the ear within the season.")
                .width(124.0)
                .frozen(),
            EarColumn::Row => {
                let hint = "The label of the row in which the mother plant stood. A new label adds a row.";
                header.hint(hint).width(124.0)
            }
            EarColumn::Planted => {
                let hint = "Year-month-day. Shown quietly where it is the day of the row or of the season.";
                header.hint(hint).width(112.0)
            }
            EarColumn::Matured => {
                let hint = "Year-month-day of black layer, or of husk dry-down as you define it.";
                header.hint(hint).width(112.0)
            }
            EarColumn::MaturityDays => {
                let hint =
                    "Days from planting to maturity. Shown quietly where it follows from the two dates.";
                header.hint(hint).width(144.0)
            }
            EarColumn::HeatUnits => {
                let hint = "Heat units from planting to maturity: corn growing degree days, each day's high and low first brought within 50 and 86 °F (10 and 30 °C). Shown quietly where they are summed from the weather (pane Seasons).";
                header.hint(hint).width(150.0)
            }
            EarColumn::Picked => {
                let hint = "Year-month-day. With the weather it tells whether frost reached the ear.";
                header.hint(hint).width(112.0)
            }
            EarColumn::Frosted => {
                let hint = "Yes or no: whether frost reached the ear before it was brought in. Wet kernels that froze germinate badly. Shown quietly where it follows from the weather and the day of picking.";
                header.hint(hint).width(90.0)
            }
            EarColumn::Kernels => {
                let hint = "Kernels in the packet now. Typing another number counts the packet again.";
                header.hint(hint).width(104.0)
            }
            EarColumn::Location => header.hint("Where the packet lies.").width(150.0),
            EarColumn::Store => {
                let hint = "The name of a storage place. They are set up in the part Storage of Seasons.";
                header.hint(hint).width(130.0)
            }
            EarColumn::Batch => header
                .hint("Ears that were dried together. A test spreads each batch over its trays.")
                .width(110.0),
            EarColumn::Note => header.width(280.0),
            EarColumn::Trait(id) => {
                let known = project.traits.get(id);
                header.hint(known.map(super::traits::describe).unwrap_or_default())
            }
        };
        let header = if column.is_number() {
            header.number()
        } else {
            header
        };
        if self.can_change {
            header
        } else {
            header.read_only()
        }
    }

    /// The title of a column.
    pub(super) fn title(&self, col: usize) -> &str {
        self.headers.get(col).map_or("", |header| header.title.as_str())
    }

    /// The place of a column.
    pub(super) fn place_of(&self, column: EarColumn) -> Option<usize> {
        self.columns.iter().position(|known| *known == column)
    }

    /// Sorts by a column, for now; later changes do not move rows.
    pub(super) fn sort_by(&mut self, origin: Origin<'_>, col: usize, descending: bool) {
        self.query.sort = self.columns.get(col).map(|column| (*column, descending));
        self.rebuild(origin);
    }

    /// Shows only the ears that have the text in one of their cells.
    pub(super) fn filter_by(&mut self, origin: Origin<'_>, text: &str) {
        text.clone_into(&mut self.query.filter);
        self.rebuild(origin);
    }

    /// Column and direction of the sort, for the header.
    pub(super) fn sorted(&self) -> Option<(usize, bool)> {
        let (by, descending) = self.query.sort?;
        Some((self.place_of(by)?, descending))
    }

    fn rebuild(&mut self, origin: Origin<'_>) {
        let view = origin
            .insight
            .harvest(origin.document, origin.season, &self.query);
        self.order.clone_from(&view.ears);
        self.total = view.total;
    }

    /// Takes out the ears that are gone and puts in those that are new.
    fn merge(&mut self, origin: Origin<'_>, at_end: bool) -> bool {
        let Origin { document, season, .. } = origin;
        let project = document.project();
        let before = self.order.len();
        self.total = project.ears_of(season).count();
        self.order
            .retain(|id| project.ears.get(*id).is_some_and(|ear| ear.season == season));
        let shown: BTreeSet<EarId> = self.order.iter().copied().collect();
        let is_new = |id: &EarId| !shown.contains(id);
        let new: Vec<EarId> = if at_end {
            // An ear just typed is shown also where it does not fit the filter; what the filter hid stays hidden.
            let newest = self.order.iter().max().copied();
            let ears = project.ears_of(season).map(|ear| ear.id).filter(is_new);
            if self.query.filter.is_empty() {
                ears.collect()
            } else {
                ears.filter(|id| Some(*id) > newest).max().into_iter().collect()
            }
        } else {
            let view = origin.insight.harvest(document, season, &self.query);
            view.ears.iter().copied().filter(is_new).collect()
        };
        let changed = self.order.len() != before || !new.is_empty();
        self.order.extend(new);
        if changed && !at_end && self.query.sort.is_none() {
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

/// The text of a cell, as it would be typed: a value with more digits than its trait shows is never cut, because it
/// may be copied out.
pub(super) fn text_of<'a>(project: &'a Project, ear: &'a Ear, column: EarColumn) -> Cow<'a, str> {
    let text = column.text(project, ear);
    if let EarColumn::Trait(id) = column
        && let Some(value) = ear.values.get(&id)
        && text.parse() != Ok(*value)
    {
        return value.to_string().into();
    }
    text
}

/// The table as the grid reads it, with an empty row at the end into which a new ear is typed.
pub(super) struct Source<'a> {
    table: &'a Table,
    project: &'a Project,
    /// Warnings of the row asked for last.
    marks: RefCell<Option<(EarId, Vec<Mark>)>>,
}

impl<'a> Source<'a> {
    pub(super) fn new(table: &'a Table, project: &'a Project) -> Self {
        Self {
            table,
            project,
            marks: RefCell::new(None),
        }
    }

    fn ear(&self, row: usize) -> Option<&'a Ear> {
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
            (Some(ear), Some(column)) => text_of(self.project, ear, *column),
            _ => "".into(),
        }
    }

    fn mark(&self, row: usize, col: usize) -> Option<CellMark> {
        let ear = self.ear(row)?;
        let column = *self.table.columns.get(col)?;
        // What is not known is plainly empty; a sign in every such cell would hide the signs that matter.
        if text_of(self.project, ear, column).is_empty() {
            return None;
        }
        let mut marks = self.marks.borrow_mut();
        if marks.as_ref().is_none_or(|(known, _)| *known != ear.id) {
            let alone = HarvestView {
                season: ear.season,
                columns: Vec::new(),
                ears: vec![ear.id],
                total: 1,
            };
            *marks = Some((ear.id, alone.marks(self.project, 0)));
        }
        let (_, marks) = marks.as_ref()?;
        let mark = marks.iter().find(|mark| mark.column == column)?;
        Some(CellMark {
            text: mark.sentence.clone(),
        })
    }

    fn is_quiet(&self, row: usize, col: usize) -> bool {
        match (self.ear(row), self.table.columns.get(col)) {
            (Some(ear), Some(column)) => column.is_derived(ear),
            _ => false,
        }
    }

    fn is_chosen(&self, row: usize) -> bool {
        let ear = self.table.order.get(row);
        ear.is_some_and(|ear| self.table.chosen.contains(ear))
    }
}

//! What the panes show: views derived from a document, cached by revision. Pure.
//!
//! A view is asked for each time it is shown. It is computed again only when a kind of record that it reads, or
//! one of its parameters, has changed since; otherwise the same result is given out. So nobody has to say that a
//! view is out of date.

mod choice;
mod estimates;
mod harvest;
mod memo;
mod progress;
mod words;

pub use choice::{
    Alone, Choice, CutoffKind, KeptAndAll, Limit, Point, Points, Reason, Standing, Summary, Vertical,
};
pub use estimates::{Estimate, Estimates, PercentRange};
pub use harvest::{EarColumn, HarvestQuery, HarvestView, Mark};
pub use memo::Memo;
pub use progress::{CellView, CountView, Progress, TrayProgress, TrayView};

use crate::model::{Area, Cutoffs, Document, SeasonId, TestId, TrayId};
use choice::{Fact, Given};
use std::sync::Arc;

/// The areas that a view of a season's ears and their figures reads.
const FACTS: [Area; 7] = [
    Area::About,
    Area::Season,
    Area::Row,
    Area::Ear,
    Area::Packet,
    Area::Cell,
    Area::Count,
];
type FactsKey = (SeasonId, [u64; 7]);
type ChoiceKey = (FactsKey, u64, Cutoffs);

/// All views of one document.
///
/// Revisions tell the states of one document apart, but not two documents: make a new `Insight` whenever another
/// document is opened.
#[derive(Debug, Default)]
pub struct Insight {
    estimates: Memo<(SeasonId, [u64; 4]), Estimates>,
    facts: Memo<FactsKey, Vec<Fact>>,
    choice: Memo<ChoiceKey, Choice>,
    points: Memo<(ChoiceKey, Vertical), Points>,
    harvest: Memo<(SeasonId, HarvestQuery, [u64; 5]), HarvestView>,
    progress: Memo<(TestId, [u64; 3]), Progress>,
    trays: Memo<(TrayId, [u64; 6]), Option<TrayView>>,
}

impl Insight {
    /// Gives what each ear of a season is likely to be, from its final counts in force.
    pub fn estimates(&self, doc: &Document, season: SeasonId) -> Arc<Estimates> {
        let areas = [Area::About, Area::Ear, Area::Cell, Area::Count];
        self.estimates.get((season, doc.revision_key(areas)), || {
            estimates::compute(doc.project(), season)
        })
    }

    /// Gives where each ear of a season stands under these cutoffs and the words given in that season, and what
    /// the choice costs and buys. The cutoffs may be a preview that is not set yet.
    pub fn choice(&self, doc: &Document, season: SeasonId, cutoffs: &Cutoffs) -> Arc<Choice> {
        self.choice.get(choice_key(doc, season, cutoffs), || {
            let estimates = self.estimates(doc, season);
            let facts = self.facts.get((season, doc.revision_key(FACTS)), || {
                choice::facts(doc.project(), season, &estimates)
            });
            let record = doc.project().seasons.get(season);
            let given = Given {
                season,
                cutoffs,
                words: doc.project().selection_of(season).map(|one| &one.words),
                plant_each: record.map_or(0, |season| season.plant_each),
                remnant: record.map_or(0, |season| season.remnant),
            };
            choice::compute(&facts, &estimates, &given)
        })
    }

    /// Gives the ears as points of the plot of cold germination against maturity days, under these cutoffs.
    pub fn points(
        &self,
        doc: &Document,
        season: SeasonId,
        cutoffs: &Cutoffs,
        vertical: Vertical,
    ) -> Arc<Points> {
        self.points.get((choice_key(doc, season, cutoffs), vertical), || {
            choice::points(&self.choice(doc, season, cutoffs), vertical)
        })
    }

    /// Gives the cutoffs set for a season, or the usual ones while none are set.
    pub fn cutoffs(&self, doc: &Document, season: SeasonId) -> Cutoffs {
        doc.project()
            .selection_of(season)
            .map_or_else(Cutoffs::default, |selection| selection.cutoffs.clone())
    }

    /// Gives the harvest table of a season.
    pub fn harvest(&self, doc: &Document, season: SeasonId, query: &HarvestQuery) -> Arc<HarvestView> {
        let areas = [Area::Season, Area::Row, Area::Trait, Area::Ear, Area::Packet];
        let key = (season, query.clone(), doc.revision_key(areas));
        self.harvest
            .get(key, || harvest::compute(doc.project(), season, query))
    }

    /// Gives how far the scoring of a test has come.
    pub fn progress(&self, doc: &Document, test: TestId) -> Arc<Progress> {
        let areas = [Area::Tray, Area::Cell, Area::Count];
        self.progress.get((test, doc.revision_key(areas)), || {
            progress::progress(doc.project(), test)
        })
    }

    /// Gives a tray as it lies, with all counts in force; `None` when there is no such tray.
    pub fn tray_view(&self, doc: &Document, tray: TrayId) -> Arc<Option<TrayView>> {
        let areas = [
            Area::About,
            Area::Ear,
            Area::Test,
            Area::Tray,
            Area::Cell,
            Area::Count,
        ];
        self.trays.get((tray, doc.revision_key(areas)), || {
            progress::tray_view(doc.project(), tray)
        })
    }
}

fn choice_key(doc: &Document, season: SeasonId, cutoffs: &Cutoffs) -> ChoiceKey {
    let facts = (season, doc.revision_key(FACTS));
    (facts, doc.revisions().of(Area::Selection), cutoffs.clone())
}

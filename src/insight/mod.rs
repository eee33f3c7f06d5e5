//! What the panes show: views derived from a document, cached by revision. Pure.
//!
//! A view is asked for each time it is shown. It is computed again only when a kind of record that it reads, or
//! one of its parameters, has changed since; otherwise the same result is given out. So nobody has to say that a
//! view is out of date.

mod agreement;
mod ahead;
pub mod audit;
mod axes;
mod batches;
mod before;
mod by_hand;
mod calendar;
mod choice;
mod cold_days;
mod curve;
mod design;
mod ear_card;
mod ear_groups;
mod estimates;
mod explain;
mod field;
mod field_plan;
mod field_seen;
mod find;
mod frost;
mod guards;
mod harvest;
mod index;
mod kinship;
mod laying;
mod lines;
mod log_look;
mod memo;
mod misread;
mod mothers;
mod other_project;
mod pedigree;
mod planting;
mod plot_words;
mod price;
mod progress;
mod repair;
mod response;
mod retest;
mod seasons;
mod sets;
mod shares;
mod soundness;
mod sowing;
mod speed;
mod storage;
mod store_rules;
#[cfg(test)]
mod tests;
mod todo;
mod tray_counts;
mod weather;
mod words;

pub use agreement::{Likeness, ReadApart, ScorerAgreement};
pub use ahead::{Ahead, AheadStart, outcome_sentences, plan_sentence, pollen_name};
pub use axes::Axis;
pub use before::{
    Before, BeforeQuery, CELLS_AN_HOUR, DesignEars, PlanFigures, Telling, is_untested, plan_name,
};
pub use by_hand::HandChange;
pub use calendar::{CalendarItem, Chore, Standing as DayStanding, TestCalendar, days_of, weekday_and_date};
pub use choice::{
    Alone, Choice, CutoffKind, KeptAndAll, Limit, Point, Points, Reason, Standing, Summary, Vertical, chance,
};
pub use cold_days::{
    ColdDays, ColdFinding, ColdKind, CountDay, EventLine, Gap, LONGEST_STEP_MINUTES, LogFigures, LogLine,
    Stage, Temperatures, TrayDays, hours, minute,
};
pub use curve::{Curve, CurveFigure, CurvePoint};
pub use ear_card::{
    CellCard, CountCard, DaughterCard, EarCard, FieldCard, LedgerCard, ListCard, MotherCard, PacketCard,
    PhotoCard,
};
pub use ear_groups::{EarGroup, EarGroups, GROUP_COLOURS, GroupBy, Paint};
pub use estimates::{
    AllowedSlopes, Basis, Belief, Estimate, Estimates, PercentRange, Population, TrayEffect,
};
pub use field::{
    AxisRoom, Band, Bar, Edges, Field, band, is_enclosed, nice, percent_of, place_of, stand_index,
};
pub use field_plan::{FieldFinding, FieldLine, FieldView, field_sentence};
pub use field_seen::{EarlierField, FieldAgainstTray, FieldEar, Flowering};
pub use find::{Finds, Found, MOST_FOUND};
pub use frost::{FROST_C, Frost, FrostKind, FrostedSeed, KIESSELBACH, KILLING_C, frost_limit_c, is_frosted};
pub use guards::{Age, Guard, WINDOW_DAYS, age, astray, guards, guards_together};
pub use harvest::{EarColumn, HarvestQuery, HarvestView, Mark};
pub use index::{EarIndex, IndexTerm, IndexView};
pub use kinship::pollen_text;
pub use laying::{Laying, LayingStep, ReadBack};
pub use lines::{InSeason, Line, Lines};
pub use log_look::{LogLook, places, stood_text};
pub use memo::Memo;
pub use mothers::{MotherLine, Mothers, short as short_of_mothers};
pub use other_project::{AboveTheirs, Beside, CheckCount, MeanOf, SeasonBeside, SideOfSeason, beside};
pub use pedigree::{
    FamilySeed, FounderShare, Lineage, MeanKin, OVER_REPRESENTED, Pedigree, PedigreeFamily, PedigreeSeason,
    PedigreeStep, SeasonFigures, percents as percent_range,
};
pub use planting::{ListProposal, revision};
pub use plot_words::plot_text;
pub use price::{
    COMES_ALONG, Heritability, KinshipBounds, MaturityPart, Mean, Means, Measured, Price, TraitShift,
};
pub use progress::{
    CellView, CountView, DuePass, MoreEarly, Progress, Reading, TrayProgress, TrayView, due_passes,
};
pub use repair::{Agreement, OnEmpty, RepairPreview, RepairedCell};
pub use response::{
    Adjusted, BesideLot, Course, Cumulated, Cycle, Differential, Followed, LotCourse, LotMean, Response,
    ResponseLine, SeasonMean,
};
pub use retest::{Hindrance, Retest, RetestEar, next_seed};
pub use seasons::{NextSeason, SeasonLine};
pub use sets::{MoveLine, SetLine, Sets};
pub use shares::{EarShare, MOST_SHARED, ShareFigures, Shares};
pub use soundness::{Finding, FindingKind, Slope, Soundness, Total, TraySound, tray_totals};
pub use sowing::{EarSowing, MOST_OF_AN_EAR, Sowings};
pub use speed::{EarCourse, FEWEST_FOR_CURVE, FEWEST_FOR_TIMES, Length, Speed, Speeds, Unsaid, Vigor};
pub use storage::{
    Amount, LastTest, PacketLine, PacketQuery, Regrow, RegrowWhy, Storage, StoreLine, TestAgain, last_test,
    packet_line,
};
pub use store_rules::{
    DOUBLING_C, DOUBLING_PERCENT, Keeping, LifeFactor, MOST_TOGETHER, StoreStand, life_factor, rule_of_100,
    together,
};
pub use todo::{NOTHING, Pane, Todo, Urgency};
pub use weather::{
    Heat, HeatMean, SeasonDay, SeasonHeat, SeasonWeather, heat_to_maturity, heat_to_silk, heat_units_c,
};
pub use words::{day_spans, long_length, natural, temperature, trays_text};

use crate::model::{
    Area, Command, Cutoffs, Document, EarId, IndexTrait, KernelWay, ListId, PacketId, Pass, PlanId, Repair,
    Revisions, Season, SeasonId, Sowing, Stand, TemperatureLog, TestId, TrayId,
};
use crate::stats::alignment::Habit;
use batches::Dried;
use before::Spread;
use calendar::Evenings;
use choice::{Facts, Given};
use design::Fitted;
use jiff::civil::Date;
use kinship::Kin;
use memo::MemoOf;
use misread::{InTray, Misread, Seen};
use planting::Kernels;
use soundness::{Finished, Judged, Lying};
use sowing::{Needs, Wanted};
use std::cell::Cell;
use std::collections::BTreeMap;
use std::sync::Arc;
use tray_counts::TrayCounts;

/// The areas that the figures of a season's ears are read from.
const COUNTED: [Area; 6] = [
    Area::About,
    Area::Ear,
    Area::Test,
    Area::Tray,
    Area::Cell,
    Area::Count,
];
/// The areas that a view of a season's ears and their figures reads.
const FACTS: [Area; 9] = [
    Area::About,
    Area::Season,
    Area::Row,
    Area::Ear,
    Area::Packet,
    Area::Test,
    Area::Tray,
    Area::Cell,
    Area::Count,
];
/// The areas in which who descends from whom is written.
const LINEAGE: [Area; 3] = [Area::Season, Area::Row, Area::Ear];
/// The areas that a field plan reads.
const FIELD: [Area; 5] = [Area::Plan, Area::FieldRow, Area::List, Area::Ear, Area::Row];
/// The areas that heat units and frost of ears are read from.
const WEATHER: [Area; 6] = [
    Area::About,
    Area::Season,
    Area::Row,
    Area::Ear,
    Area::FieldRow,
    Area::Weather,
];
/// The test, what its logs read, and the days when its trays were laid.
type LogKey = (TestId, [u64; 4], Vec<Option<Date>>);
/// The test, its trays, what was counted in them, and how the ears were dried.
type BatchesKey = (TestId, [u64; 2], Finished, Arc<Vec<Dried>>);
type FactsKey = (SeasonId, [u64; 9]);
type ChoiceKey = (FactsKey, u64, Cutoffs);
/// A price also says the names and units of traits.
type PriceKey = (ChoiceKey, u64);

/// All views of one document.
///
/// Revisions tell the states of one document apart, but not two documents: make a new `Insight` whenever another
/// document is opened.
#[derive(Debug, Default)]
pub struct Insight {
    estimates: Memo<(SeasonId, [u64; 6]), Estimates>,
    facts: Memo<FactsKey, Facts>,
    choice: Memo<ChoiceKey, Choice>,
    curve: Memo<PriceKey, Curve>,
    sets: Memo<PriceKey, Sets>,
    index: Memo<PriceKey, IndexView>,
    price_basis: Memo<(FactsKey, u64), price::Basis>,
    price: Memo<PriceKey, Price>,
    ahead: Memo<PriceKey, Ahead>,
    points: Memo<(ChoiceKey, Vertical), Points>,
    small_texts: Memo<(SeasonId, [u64; 9]), Vec<String>>,
    harvest: Memo<(SeasonId, HarvestQuery, [u64; 9]), HarvestView>,
    tray_counts: MemoOf<TrayId, (u64, [u64; 2]), TrayCounts>,
    progress: Memo<(TestId, [u64; 3]), Progress>,
    laying: Memo<(TestId, [u64; 6]), Laying>,
    by_hand: Memo<(TestId, Command, [u64; 7]), HandChange>,
    evenings: Memo<(TestId, [u64; 3]), Evenings>,
    calendar: Memo<(TestId, [u64; 5]), TestCalendar>,
    repair: Memo<(Repair, [u64; 6]), RepairPreview>,
    trays: Memo<(TrayId, [u64; 6]), Option<TrayView>>,
    habit: Memo<Vec<Arc<Seen>>, Option<Habit>>,
    misread_in: MemoOf<TrayId, (u64, u64, Habit), InTray>,
    misread: Memo<(TestId, [u64; 4]), Vec<Misread>>,
    log_figures: Memo<LogKey, LogFigures>,
    log_figures_now: Memo<(TestId, [u64; 4], u64), Arc<LogFigures>>,
    cold_days: Memo<(TestId, [u64; 8]), ColdDays>,
    lying: Memo<(TestId, [u64; 4]), Vec<Lying>>,
    fitted: Memo<(TestId, [u64; 2], Finished), Fitted>,
    soundness: Memo<(TestId, [u64; 4], Judged), Soundness>,
    dried: Memo<(TestId, [u64; 6]), Vec<Dried>>,
    batches: Memo<BatchesKey, Option<Finding>>,
    agreement: Memo<(TestId, Pass, [u64; 4]), Option<ScorerAgreement>>,
    sound_now: Memo<(TestId, [u64; 9]), Soundness>,
    speeds: Memo<(SeasonId, [u64; 6]), Speeds>,
    todo: Memo<(Date, Revisions), Vec<Todo>>,
    is_sound: Cell<bool>,
    to_harvest: Memo<(SeasonId, [u64; 8]), Vec<Todo>>,
    finds: Memo<(String, [u64; 11]), Finds>,
    cards: Memo<(EarId, Revisions), Option<EarCard>>,
    shares: Memo<PriceKey, Shares>,
    needs: Memo<(SeasonId, [u64; 6], Sowing), Needs>,
    sowings: Memo<ChoiceKey, Option<Sowings>>,
    mothers: Memo<ChoiceKey, Mothers>,
    proposals: Memo<ChoiceKey, ListProposal>,
    since: Memo<(ListId, FactsKey, [u64; 2]), Vec<String>>,
    fields: Memo<(PlanId, [u64; 5]), Option<FieldView>>,
    season_lines: Memo<Revisions, Vec<SeasonLine>>,
    season_weather: Memo<(SeasonId, [u64; WEATHER.len()]), Option<SeasonWeather>>,
    season_heats: Memo<[u64; WEATHER.len()], Vec<SeasonHeat>>,
    lines: Memo<[u64; 3], Lines>,
    storage: Memo<([u64; 9], Vec<u64>), Storage>,
    packets: Memo<(PacketQuery, [u64; 4]), Vec<PacketId>>,
    kin: Memo<(SeasonId, [u64; 3]), Option<Kin>>,
    pedigree: Memo<[u64; 5], Pedigree>,
    response: Memo<[u64; 15], Response>,
    next_season: Memo<(ListId, Revisions), NextSeason>,
    against_tray: Memo<(PlanId, [u64; 5]), FieldAgainstTray>,
    earlier_fields: Memo<(SeasonId, [u64; 5], u64), Vec<EarlierField>>,
    flowering: Memo<(PlanId, [u64; 7]), Flowering>,
    before: Memo<(BeforeQuery, Cutoffs, [u64; 8]), Before>,
    in_retest: Memo<(SeasonId, [u64; 4]), BTreeMap<EarId, TestId>>,
    retest: Memo<(ChoiceKey, [u64; 3]), Retest>,
}

impl Insight {
    /// Gives what each ear of a season is likely to be, from its final counts in force.
    pub fn estimates(&self, doc: &Document, season: SeasonId) -> Arc<Estimates> {
        self.estimates.get((season, doc.revision_key(COUNTED)), || {
            let tests: Vec<(TestId, Arc<Fitted>)> = doc
                .project()
                .tests_of(season)
                .map(|test| (test.id, self.fitted(doc, test.id)))
                .collect();
            estimates::compute(doc.project(), season, &tests)
        })
    }

    /// Gives where each ear of a season stands under these cutoffs and the words given in that season, and what
    /// the choice costs and buys. The cutoffs may be a preview that is not set yet.
    pub fn choice(&self, doc: &Document, season: SeasonId, cutoffs: &Cutoffs) -> Arc<Choice> {
        self.choice.get(choice_key(doc, season, cutoffs), || {
            let facts = self.facts(doc, season);
            let wanted = self.wanted(doc, season);
            let given = given(doc, season, cutoffs, &wanted);
            choice::compute(&facts, &self.estimates(doc, season), &given)
        })
    }

    /// How many kernels are wanted of each kept ear, where they are not shared out.
    fn wanted(&self, doc: &Document, season: SeasonId) -> Wanted {
        let record = doc.project().seasons.get(season);
        let selection = doc.project().selection_of(season);
        let is_for_a_stand = selection.is_some_and(|one| one.kernel_way() == KernelWay::ForAStand);
        let Some(record) = record.filter(|_| is_for_a_stand) else {
            return Wanted::equal(record);
        };
        let estimates = self.estimates(doc, season);
        let needs = (estimates.scored() > 0).then(|| {
            let sowing = record.wanted();
            let key = (season, doc.revision_key(COUNTED), sowing);
            self.needs.get(key, || Needs::new(estimates, sowing))
        });
        Wanted::for_a_stand(Some(record), needs)
    }

    /// Gives the kernels of each ear that these cutoffs keep for the plants that the season wants of it; `None` where
    /// that is not the way the kernels are found.
    pub fn sowings(&self, doc: &Document, season: SeasonId, cutoffs: &Cutoffs) -> Arc<Option<Sowings>> {
        self.sowings.get(choice_key(doc, season, cutoffs), || {
            let record = doc.project().seasons.get(season)?;
            let selection = doc.project().selection_of(season)?;
            (selection.kernel_way() == KernelWay::ForAStand).then(|| {
                let choice = self.choice(doc, season, cutoffs);
                sowing::compute(&choice, record.wanted(), &self.wanted(doc, season))
            })
        })
    }

    fn facts(&self, doc: &Document, season: SeasonId) -> Arc<Facts> {
        self.facts.get((season, doc.revision_key(FACTS)), || {
            choice::facts(doc.project(), season, &self.estimates(doc, season))
        })
    }

    /// Gives what the choice under these cutoffs costs and buys: response, what comes along unasked, kinship. The
    /// cutoffs may be a preview that is not set yet.
    pub fn price(&self, doc: &Document, season: SeasonId, cutoffs: &Cutoffs) -> Arc<Price> {
        let traits = doc.revisions().of(Area::Trait);
        let key = (choice_key(doc, season, cutoffs), traits);
        self.price.get(key, || {
            let choice = self.choice(doc, season, cutoffs);
            price::compute(&self.price_basis(doc, &choice), &choice)
        })
    }

    /// Gives what a look ahead from the season begins with: its population, and the plan that goes on as these cutoffs do.
    pub fn ahead(&self, doc: &Document, season: SeasonId, cutoffs: &Cutoffs) -> Arc<Ahead> {
        let traits = doc.revisions().of(Area::Trait);
        let key = (choice_key(doc, season, cutoffs), traits);
        self.ahead.get(key, || {
            ahead::compute(
                doc.project(),
                &self.choice(doc, season, cutoffs),
                &self.choice(doc, season, &ahead::other_cutoffs(cutoffs)),
                &self.estimates(doc, season),
                &self.price(doc, season, cutoffs),
            )
        })
    }

    fn price_basis(&self, doc: &Document, choice: &Choice) -> Arc<price::Basis> {
        let season = choice.season;
        let key = ((season, doc.revision_key(FACTS)), doc.revisions().of(Area::Trait));
        self.price_basis.get(key, || {
            let kin = self.kin(doc, season);
            price::basis(doc.project(), choice, &self.estimates(doc, season), kin)
        })
    }

    /// Gives how the figures of the choice move with the cold germination cutoff, the others as these cutoffs have
    /// them. Not for cutoffs that are being dragged.
    pub fn curve(&self, doc: &Document, season: SeasonId, cutoffs: &Cutoffs) -> Arc<Curve> {
        let traits = doc.revisions().of(Area::Trait);
        let key = (choice_key(doc, season, cutoffs), traits);
        self.curve.get(key, || {
            let choice = self.choice(doc, season, cutoffs);
            curve::compute(
                &self.facts(doc, season),
                &self.estimates(doc, season),
                &self.price_basis(doc, &choice),
                &given(doc, season, cutoffs, &self.wanted(doc, season)),
            )
        })
    }

    /// Gives these cutoffs and all that were kept under a name beside each other, and how they were moved. Not for
    /// cutoffs that are being dragged.
    pub fn sets(&self, doc: &Document, season: SeasonId, cutoffs: &Cutoffs) -> Arc<Sets> {
        let traits = doc.revisions().of(Area::Trait);
        let key = (choice_key(doc, season, cutoffs), traits);
        self.sets.get(key, || {
            let choice = self.choice(doc, season, cutoffs);
            sets::compute(
                doc.project(),
                &self.facts(doc, season),
                &self.estimates(doc, season),
                &self.price_basis(doc, &choice),
                &given(doc, season, cutoffs, &self.wanted(doc, season)),
            )
        })
    }

    /// Gives the index that is weighed, and the ears that it would keep beside those of these cutoffs.
    pub fn index(&self, doc: &Document, season: SeasonId, cutoffs: &Cutoffs) -> Arc<IndexView> {
        let traits = doc.revisions().of(Area::Trait);
        let key = (choice_key(doc, season, cutoffs), traits);
        self.index.get(key, || {
            let choice = self.choice(doc, season, cutoffs);
            index::compute(
                doc.project(),
                &self.facts(doc, season),
                &self.price_basis(doc, &choice),
                &given(doc, season, cutoffs, &self.wanted(doc, season)),
                &choice,
            )
        })
    }

    /// Gives what an index of a season can weigh, with names and units.
    pub fn index_traits(doc: &Document) -> Vec<(IndexTrait, String)> {
        index::traits(doc.project())
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

    /// The ears of a season that its cutoffs leave out, by number, each with the reason that decided.
    pub fn left_out(&self, doc: &Document, season: SeasonId) -> Vec<(EarId, String)> {
        let choice = self.choice(doc, season, &self.cutoffs(doc, season));
        let left_out = choice
            .standings
            .iter()
            .filter(|standing| standing.stand == Stand::LeaveOut);
        let mut ears: Vec<_> = left_out
            .map(|standing| {
                let why = standing.why.first();
                let why = why.map_or_else(String::new, |why| why.sentence(doc.project()));
                (standing.number, standing.ear, why)
            })
            .collect();
        ears.sort_by_key(|(number, ..)| *number);
        ears.into_iter().map(|(_, ear, why)| (ear, why)).collect()
    }

    /// Gives the cutoffs set for a season, or the usual ones while none are set.
    pub fn cutoffs(&self, doc: &Document, season: SeasonId) -> Cutoffs {
        doc.project()
            .selection_of(season)
            .map_or_else(Cutoffs::default, |selection| selection.cutoffs.clone())
    }

    /// Gives what a test that is thought of will be able to tell with the cutoff of its season.
    pub fn before(&self, doc: &Document, query: &BeforeQuery) -> Arc<Before> {
        let cutoffs = self.cutoffs(doc, query.ears.season);
        let revisions = doc.revision_key([
            Area::About,
            Area::Season,
            Area::Ear,
            Area::Packet,
            Area::Test,
            Area::Tray,
            Area::Cell,
            Area::Count,
        ]);
        self.before.get((query.clone(), cutoffs.clone(), revisions), || {
            let spread = self.spread(doc, query.ears.season);
            before::compute(doc.project(), query, &cutoffs, &spread)
        })
    }

    /// How much ears differ: from the latest season up to this one whose counts tell it, else assumed.
    fn spread(&self, doc: &Document, season: SeasonId) -> Spread {
        let seasons = &doc.project().seasons;
        let last = seasons.get(season).map_or(i16::MAX, |season| season.year);
        let mut known: Vec<_> = seasons
            .iter()
            .filter(|season| season.year <= last)
            .map(|season| (season.year, season.id))
            .collect();
        known.sort_unstable_by(|a, b| b.cmp(a));
        known
            .into_iter()
            .find_map(|(year, season)| Spread::of(&self.estimates(doc, season), year))
            .unwrap_or_else(Spread::assumed)
    }

    /// Gives the ears to test again under these cutoffs, the one that gains most first.
    pub fn retest(&self, doc: &Document, season: SeasonId, cutoffs: &Cutoffs) -> Arc<Retest> {
        let key = (
            choice_key(doc, season, cutoffs),
            doc.revision_key([Area::Test, Area::Tray, Area::List]),
        );
        self.retest.get(key, || {
            let areas = [Area::Test, Area::Tray, Area::Cell, Area::Count];
            let lying = self.in_retest.get((season, doc.revision_key(areas)), || {
                retest::lying(doc.project(), season)
            });
            retest::compute(
                doc.project(),
                &self.choice(doc, season, cutoffs),
                &self.estimates(doc, season),
                &lying,
            )
        })
    }

    /// Gives the harvest table of a season.
    pub fn harvest(&self, doc: &Document, season: SeasonId, query: &HarvestQuery) -> Arc<HarvestView> {
        let areas = [
            Area::About,
            Area::Season,
            Area::Row,
            Area::Trait,
            Area::Ear,
            Area::Packet,
            Area::Store,
            Area::FieldRow,
            Area::Weather,
        ];
        let revisions = doc.revision_key(areas);
        self.harvest.get((season, query.clone(), revisions), || {
            harvest::compute(doc.project(), season, query, || {
                self.small_texts.get((season, revisions), || {
                    harvest::small_texts(doc.project(), season)
                })
            })
        })
    }

    /// Gives how far the scoring of a test has come.
    pub fn progress(&self, doc: &Document, test: TestId) -> Arc<Progress> {
        let areas = [Area::Tray, Area::Cell, Area::Count];
        self.progress.get((test, doc.revision_key(areas)), || {
            let trays = self.tray_counts(doc, test);
            progress::progress(test, trays.iter().map(|tray| tray.progress.clone()).collect())
        })
    }

    /// Gives what was counted in each tray of a test, by number. A count changes that of its own tray only.
    fn tray_counts(&self, doc: &Document, test: TestId) -> Vec<Arc<TrayCounts>> {
        let areas = doc.revision_key([Area::About, Area::Test]);
        let trays = doc.project().trays_of(test);
        trays
            .map(|tray| {
                let key = (doc.tray_revision(tray.id), areas);
                self.tray_counts
                    .get(tray.id, key, |_| TrayCounts::read(doc.project(), tray))
            })
            .collect()
    }

    /// Gives the cells of a test in the order in which they are laid.
    pub fn laying(&self, doc: &Document, test: TestId) -> Arc<Laying> {
        let areas = [
            Area::Row,
            Area::Ear,
            Area::Packet,
            Area::Test,
            Area::Tray,
            Area::Cell,
        ];
        self.laying.get((test, doc.revision_key(areas)), || {
            laying::laying(doc.project(), test)
        })
    }

    /// Gives what a change of a test's layout by hand would do, before it is done.
    pub fn by_hand(&self, doc: &Document, test: TestId, command: &Command) -> Arc<HandChange> {
        let areas = [
            Area::Row,
            Area::Ear,
            Area::Packet,
            Area::Test,
            Area::Tray,
            Area::Cell,
            Area::Count,
        ];
        let key = (test, command.clone(), doc.revision_key(areas));
        self.by_hand.get(key, || by_hand::preview(doc, test, command))
    }

    /// Gives the days of a test, from the evenings on which it was laid; without any before. A test that is not there
    /// has none.
    pub fn calendar(&self, doc: &Document, test: TestId) -> Arc<TestCalendar> {
        let areas = [Area::Test, Area::Tray, Area::Cell, Area::Count, Area::Event];
        self.calendar.get((test, doc.revision_key(areas)), || {
            let areas = [Area::Test, Area::Tray, Area::Cell];
            let evenings = self.evenings.get((test, doc.revision_key(areas)), || {
                calendar::evenings(doc.project(), test)
            });
            calendar::compute(doc.project(), test, &self.progress(doc, test), &evenings)
        })
    }

    /// Gives what a repair would change, and whether the counts would agree better after it.
    pub fn repair(&self, doc: &Document, repair: Repair) -> Arc<RepairPreview> {
        let areas = [
            Area::Ear,
            Area::Packet,
            Area::Test,
            Area::Tray,
            Area::Cell,
            Area::Count,
        ];
        self.repair.get((repair, doc.revision_key(areas)), || {
            repair::preview(doc, &repair)
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
            let test = doc.project().trays.get(tray).map(|tray| tray.test);
            let misread = test.map(|test| self.misread(doc, test));
            let misread = misread.as_deref().map_or(&[][..], Vec::as_slice);
            progress::tray_view(doc.project(), tray, misread)
        })
    }

    /// Gives the trays of a test that look misread.
    fn misread(&self, doc: &Document, test: TestId) -> Arc<Vec<Misread>> {
        let areas = [Area::Test, Area::Tray, Area::Cell, Area::Count];
        self.misread.get((test, doc.revision_key(areas)), || {
            let project = doc.project();
            let trays = self.tray_counts(doc, test);
            let seen: Vec<Arc<Seen>> = trays.iter().map(|tray| Arc::clone(&tray.seen)).collect();
            let habit = self
                .habit
                .get_by(misread::teachers(&seen), |teachers| misread::habit(teachers));
            let Some(habit) = *habit else {
                return Vec::new();
            };
            let known = doc.revisions().of(Area::Test);
            let within: Vec<(TrayId, Arc<Seen>, Arc<InTray>)> = trays
                .iter()
                .map(|tray| {
                    let key = (doc.tray_revision(tray.tray), known, habit);
                    let found = self.misread_in.get(tray.tray, key, |_| {
                        misread::in_tray(project, tray.tray, &tray.seen, &habit)
                    });
                    (tray.tray, Arc::clone(&tray.seen), found)
                })
                .collect();
            misread::of_test(project, &habit, &within)
        })
    }

    /// Gives the counts of the finished trays of a test, and who lay in it.
    fn finished(&self, doc: &Document, test: TestId) -> Finished {
        let areas = [Area::Ear, Area::Test, Area::Tray, Area::Cell];
        let ears = self.lying.get((test, doc.revision_key(areas)), || {
            soundness::lying(doc.project(), test)
        });
        let trays = self.tray_counts(doc, test);
        let finished = trays.iter().filter(|tray| tray.is_finished());
        Finished {
            trays: finished.map(|tray| (tray.tray, Arc::clone(&tray.last))).collect(),
            ears,
        }
    }

    /// Gives the main model of the finished trays of a test. A count in a tray that is not finished changes nothing of it.
    fn fitted(&self, doc: &Document, test: TestId) -> Arc<Fitted> {
        let areas = doc.revision_key([Area::Test, Area::Tray]);
        let key = (test, areas, self.finished(doc, test));
        self.fitted.get_by(key, |(.., finished)| {
            let cells = finished.trays.iter().flat_map(|(_, cells)| cells.iter().copied());
            Fitted::of(doc.project(), cells.collect())
        })
    }

    /// Gives what a test's finished trays say about the test itself. A count in a tray that is not finished changes
    /// nothing of it.
    pub fn soundness(&self, doc: &Document, test: TestId) -> Arc<Soundness> {
        let areas = [
            Area::About,
            Area::Season,
            Area::Row,
            Area::Ear,
            Area::Test,
            Area::Tray,
            Area::Cell,
            Area::Count,
            Area::Log,
        ];
        self.sound_now.get((test, doc.revision_key(areas)), || {
            let areas = doc.revision_key([Area::About, Area::Test, Area::Tray, Area::Cell]);
            let judged = Judged {
                finished: self.finished(doc, test),
                apart: self.log_figures(doc, test).apart(),
            };
            let found = self.soundness.get_by((test, areas, judged), |(.., judged)| {
                soundness::compute(doc.project(), test, judged, &self.fitted(doc, test))
            });
            let (misread, batches) = (self.misread(doc, test), self.batches(doc, test));
            soundness::together(doc.project(), &found, &misread, Option::as_ref(&batches))
        })
    }

    /// Gives what the drying batches of the ears in a test's finished trays did, if they clearly differ.
    fn batches(&self, doc: &Document, test: TestId) -> Arc<Option<Finding>> {
        let areas = [
            Area::Season,
            Area::Row,
            Area::Ear,
            Area::Test,
            Area::Tray,
            Area::Cell,
        ];
        let dried = self.dried.get((test, doc.revision_key(areas)), || {
            batches::dried(doc.project(), test)
        });
        let areas = doc.revision_key([Area::Test, Area::Tray]);
        let key = (test, areas, self.finished(doc, test), dried);
        self.batches.get_by(key, |(.., dried)| {
            batches::compute(test, dried, &self.fitted(doc, test))
        })
    }

    /// Gives how fast the kernels of each ear of a season came up, and how strong they grew.
    pub fn speeds(&self, doc: &Document, season: SeasonId) -> Arc<Speeds> {
        let areas = [
            Area::About,
            Area::Ear,
            Area::Test,
            Area::Tray,
            Area::Cell,
            Area::Count,
        ];
        self.speeds.get((season, doc.revision_key(areas)), || {
            speed::compute(doc.project(), season)
        })
    }

    /// Gives what the temperature logs say of each tray of a test, which only its last final count can change.
    fn log_figures(&self, doc: &Document, test: TestId) -> Arc<LogFigures> {
        let areas = doc.revision_key([Area::Test, Area::Tray, Area::Cell, Area::Log]);
        let counts = doc.revisions().of(Area::Count);
        let found = self.log_figures_now.get((test, areas, counts), || {
            let counted = self.last_counts(doc, test);
            self.log_figures
                .get_by((test, areas, counted), |(_, _, counted)| {
                    cold_days::figures(doc.project(), test, counted)
                })
        });
        Arc::clone(&found)
    }

    /// Gives the last day of the final counts of each tray of a test, by number; none where nothing was counted finally.
    fn last_counts(&self, doc: &Document, test: TestId) -> Vec<Option<Date>> {
        let trays = self.tray_counts(doc, test);
        trays.iter().map(|tray| tray.last_final_on()).collect()
    }

    /// Gives what a log would say of its trays if it was in its test, in place of the log that has its id. It is computed
    /// anew each time: remember it while the log is the same.
    pub fn log_look(&self, doc: &Document, log: &TemperatureLog) -> LogLook {
        let counted = self.last_counts(doc, log.test);
        log_look::compute(doc.project(), log, &counted)
    }

    /// Gives the days of a test in its trays: temperatures, water, moves and counts.
    pub fn cold_days(&self, doc: &Document, test: TestId) -> Arc<ColdDays> {
        let areas = [
            Area::About,
            Area::Ear,
            Area::Test,
            Area::Tray,
            Area::Cell,
            Area::Count,
            Area::Log,
            Area::Event,
        ];
        self.cold_days.get((test, doc.revision_key(areas)), || {
            let figures = self.log_figures(doc, test);
            let sound = self.soundness(doc, test);
            cold_days::compute(doc.project(), test, figures, &sound, &self.tray_counts(doc, test))
        })
    }

    /// Gives how well the two scorers of a test agree in a pass; `None` where no cell was read twice.
    pub fn agreement(&self, doc: &Document, test: TestId, pass: Pass) -> Arc<Option<ScorerAgreement>> {
        let areas = [Area::About, Area::Tray, Area::Cell, Area::Count];
        let key = (test, pass, doc.revision_key(areas));
        self.agreement
            .get(key, || agreement::compute(doc.project(), test, pass))
    }

    /// Gives what needs attention on this day, the most urgent first; empty when nothing does, which
    /// [`NOTHING`] says. What is missing and due is looked for in the latest season only.
    pub fn todo(&self, doc: &Document, today: Date) -> Arc<Vec<Todo>> {
        self.todo.get((today, *doc.revisions()), || {
            let project = doc.project();
            let mut found = self.broken(doc);
            let Some(season) = project.latest_season() else {
                found.push(todo::first_step());
                return found;
            };
            let progress: Vec<Progress> = project
                .tests_of(season.id)
                .map(|test| Progress::clone(&self.progress(doc, test.id)))
                .collect();
            let calendars: Vec<Arc<TestCalendar>> =
                progress.iter().map(|one| self.calendar(doc, one.test)).collect();
            found.extend(todo::calendar(project, season.id, &progress, &calendars, today));
            let misread: Vec<Misread> = progress
                .iter()
                .flat_map(|test| self.misread(doc, test.test).to_vec())
                .collect();
            found.extend(todo::scoring(project, &progress, &misread));
            if project.list_in_force(season.id).is_none() {
                for one in &progress {
                    let sound = self.soundness(doc, one.test);
                    found.extend(todo::soundness(project, &sound, progress.len() > 1));
                    found.extend(todo::cold_days(&self.cold_days(doc, one.test)));
                }
            }
            if project.list_in_force(season.id).is_none() {
                let choice = self.choice(doc, season.id, &self.cutoffs(doc, season.id));
                found.extend(todo::frosted(project, season.id, &choice));
            }
            if let Some(list) = project.list_in_force(season.id) {
                found.extend(todo::reserved(project, list));
                found.extend(todo::changed_since(list, &self.since_frozen(doc, list.id)));
            }
            let harvest = [
                Area::Season,
                Area::Row,
                Area::Ear,
                Area::Packet,
                Area::Test,
                Area::Tray,
                Area::Cell,
                Area::List,
            ];
            let harvest = self.to_harvest.get((season.id, doc.revision_key(harvest)), || {
                todo::harvest(project, season)
            });
            found.extend(harvest.iter().cloned());
            found.extend(todo::storage(&self.storage(doc)));
            found.sort_by_key(|todo| todo.urgency);
            found
        })
    }

    /// Names the invariants that the project breaks. Only a file that was edited by hand can break one: no command
    /// does. So a project found sound once stays sound and is not looked through again.
    fn broken(&self, doc: &Document) -> Vec<Todo> {
        if self.is_sound.get() {
            return Vec::new();
        }
        let found = todo::broken(doc.project());
        self.is_sound.set(found.is_empty());
        found
    }

    /// Finds what a text names: an ear by number or code, a packet by its place, a tray or cell such as `3 B4`, a
    /// row by its label, a storage place by its name, or a note that contains the text.
    pub fn find(&self, doc: &Document, text: &str) -> Arc<Finds> {
        let areas = [
            Area::About,
            Area::Season,
            Area::Row,
            Area::Ear,
            Area::Packet,
            Area::Test,
            Area::Tray,
            Area::Cell,
            Area::List,
            Area::FieldRow,
            Area::Store,
        ];
        let key = (text.trim().to_owned(), doc.revision_key(areas));
        self.finds.get(key, || find::find(doc.project(), text))
    }

    /// Gives everything that is known of an ear; `None` when there is no such ear.
    pub fn ear_card(&self, doc: &Document, ear: EarId) -> Arc<Option<EarCard>> {
        self.cards.get((ear, *doc.revisions()), || {
            let ear = doc.project().ears.get(ear)?;
            let cutoffs = self.cutoffs(doc, ear.season);
            let known = explain::Known {
                project: doc.project(),
                choice: &self.choice(doc, ear.season, &cutoffs),
                estimates: &self.estimates(doc, ear.season),
                index: &self.index(doc, ear.season, &cutoffs),
            };
            let speeds = self.speeds(doc, ear.season);
            Some(ear_card::compute(
                &known,
                ear,
                &speeds,
                &self.wanted(doc, ear.season),
            ))
        })
    }

    /// Gives how the kernels could be shared out among the ears that these cutoffs keep, and how they are by the ceiling
    /// that is set. It takes long with hundreds of ears: not for cutoffs that are being dragged.
    pub fn shares(&self, doc: &Document, season: SeasonId, cutoffs: &Cutoffs) -> Arc<Shares> {
        let traits = doc.revisions().of(Area::Trait);
        let key = (choice_key(doc, season, cutoffs), traits);
        self.shares.get(key, || {
            let choice = self.choice(doc, season, cutoffs);
            let kinship = self.price(doc, season, cutoffs).kinship;
            let pollen = kinship.map_or(1, |kinship| kinship.pollen_plants);
            let (estimates, kin) = (self.estimates(doc, season), self.kin(doc, season));
            shares::compute(doc.project(), &choice, &estimates, Option::as_ref(&kin), pollen)
        })
    }

    /// Gives the mother rows of a season with the ears that these cutoffs keep of each.
    pub fn mothers(&self, doc: &Document, season: SeasonId, cutoffs: &Cutoffs) -> Arc<Mothers> {
        self.mothers.get(choice_key(doc, season, cutoffs), || {
            let (choice, kin) = (self.choice(doc, season, cutoffs), self.kin(doc, season));
            mothers::compute(doc.project(), &choice, Option::as_ref(&kin))
        })
    }

    /// [`Insight::shares`], where a ceiling is set.
    fn shares_set(&self, doc: &Document, season: SeasonId, cutoffs: &Cutoffs) -> Option<Arc<Shares>> {
        let selection = doc.project().selection_of(season)?;
        selection.most_coancestry?;
        Some(self.shares(doc, season, cutoffs))
    }

    /// Gives the planting list that would be frozen under these cutoffs, and what is short or should be known.
    pub fn list_draft(&self, doc: &Document, season: SeasonId, cutoffs: &Cutoffs) -> Arc<ListProposal> {
        self.proposals.get(choice_key(doc, season, cutoffs), || {
            let shares = self.shares_set(doc, season, cutoffs);
            let sowings = self.sowings(doc, season, cutoffs);
            let kernels = Kernels {
                wanted: &self.wanted(doc, season),
                sowings: Option::as_ref(&sowings),
                shares: shares.as_deref(),
            };
            planting::propose(doc.project(), &self.choice(doc, season, cutoffs), kernels)
        })
    }

    /// Says what has changed in the data since a list was frozen, a sentence each; empty when nothing has.
    pub fn since_frozen(&self, doc: &Document, list: ListId) -> Arc<Vec<String>> {
        let season = doc.project().list(list).map_or(SeasonId(0), |list| list.season);
        let key = (
            list,
            (season, doc.revision_key(FACTS)),
            doc.revision_key([Area::Selection, Area::List]),
        );
        self.since.get(key, || {
            doc.project().list(list).map_or_else(Vec::new, |list| {
                let now = self.choice(doc, list.season, &list.cutoffs);
                let shares = self.shares_set(doc, list.season, &list.cutoffs);
                planting::since_frozen(doc.project(), list, &now, shares.as_deref())
            })
        })
    }

    /// Gives all seasons side by side, the latest first.
    pub fn season_lines(&self, doc: &Document) -> Arc<Vec<SeasonLine>> {
        self.season_lines.get(*doc.revisions(), || {
            let project = doc.project();
            let mut seasons: Vec<&Season> = project.seasons.iter().collect();
            seasons.sort_by_key(|season| std::cmp::Reverse(season.year));
            let line = |season: &&Season| {
                let choice = self.choice(doc, season.id, &self.cutoffs(doc, season.id));
                SeasonLine {
                    season: season.id,
                    ears: choice.summary.ears,
                    rows: project.rows_of(season.id).count(),
                    scored: self.estimates(doc, season.id).scored(),
                    likely_percent: choice.summary.likely_percent.all,
                    kept: choice.summary.kept,
                    mothers_kept: choice.summary.mothers_kept,
                }
            };
            seasons.iter().map(line).collect()
        })
    }

    /// Gives a season's weather day by day; `None` where there is no such season.
    pub fn season_weather(&self, doc: &Document, season: SeasonId) -> Arc<Option<SeasonWeather>> {
        self.season_weather.get((season, doc.revision_key(WEATHER)), || {
            let season = doc.project().seasons.get(season)?;
            Some(weather::season(doc.project(), season))
        })
    }

    /// Gives how many days and heat units the seasons took to silk and to maturity, the latest first.
    pub fn season_heats(&self, doc: &Document) -> Arc<Vec<SeasonHeat>> {
        self.season_heats
            .get(doc.revision_key(WEATHER), || weather::seasons(doc.project()))
    }

    /// Says what the season after a list begins with.
    pub fn next_season(&self, doc: &Document, list: ListId) -> Arc<NextSeason> {
        self.next_season.get((list, *doc.revisions()), || {
            seasons::next_season(doc.project(), list)
        })
    }

    /// Relates the families of a season and all before it.
    fn kin(&self, doc: &Document, season: SeasonId) -> Arc<Option<Kin>> {
        self.kin.get((season, doc.revision_key(LINEAGE)), || {
            kinship::kin(doc.project(), season)
        })
    }

    /// Follows the mothers of all rows back to their founders.
    pub fn lines_of_mothers(&self, doc: &Document) -> Arc<Lines> {
        self.lines
            .get(doc.revision_key(LINEAGE), || lines::compute(doc.project()))
    }

    /// Gives the pedigree over all seasons, as it is drawn, with the figures of each season.
    pub fn pedigree(&self, doc: &Document) -> Arc<Pedigree> {
        let [seasons, rows, ears] = LINEAGE;
        let areas = [seasons, rows, ears, Area::Packet, Area::List];
        self.pedigree.get(doc.revision_key(areas), || {
            pedigree::compute(doc.project(), &self.lines_of_mothers(doc))
        })
    }

    /// Gives all seed in store: where it lies, what is to be tested again and grown anew.
    pub fn storage(&self, doc: &Document) -> Arc<Storage> {
        let project = doc.project();
        let areas = doc.revision_key([
            Area::About,
            Area::Season,
            Area::Row,
            Area::Ear,
            Area::Packet,
            Area::Test,
            Area::Tray,
            Area::List,
            Area::Store,
        ]);
        // Only earlier seasons are asked for their counts, so what is being counted now changes nothing.
        let latest = project.latest_season().map(|season| season.id);
        let earlier = project.trays.iter().filter(|tray| {
            let test = project.tests.get(tray.test);
            test.map(|test| test.season) != latest
        });
        let counted = earlier.map(|tray| doc.tray_revision(tray.id)).collect();
        self.storage.get((areas, counted), || storage::compute(project))
    }

    /// Gives the packets with kernels that a query asks for, by place.
    pub fn packets(&self, doc: &Document, query: &PacketQuery) -> Arc<Vec<PacketId>> {
        let key = doc.revision_key([Area::Season, Area::Ear, Area::Packet, Area::Store]);
        self.packets
            .get((query.clone(), key), || storage::packets(doc.project(), query))
    }

    /// Gives what the seasons brought: the response to selection, what of it was realised, and what came along.
    pub fn response(&self, doc: &Document) -> Arc<Response> {
        let key = doc.revision_key([
            Area::About,
            Area::Season,
            Area::Row,
            Area::Trait,
            Area::Ear,
            Area::Packet,
            Area::Test,
            Area::Tray,
            Area::Cell,
            Area::Count,
            Area::Selection,
            Area::List,
            Area::Plan,
            Area::FieldRow,
            Area::Weather,
        ]);
        self.response.get(key, || response::compute(doc.project()))
    }

    /// Gives a field plan as it is looked at; `None` when it is not there.
    pub fn field_plan(&self, doc: &Document, plan: PlanId) -> Arc<Option<FieldView>> {
        let key = (plan, doc.revision_key(FIELD));
        self.fields.get(key, || {
            let project = doc.project();
            let plan = project.plans.get(plan)?;
            Some(field_plan::view(project, plan, project.list(plan.list)?))
        })
    }

    /// Gives what the fields of earlier seasons made of what the trays said, the latest first; those only in which the
    /// stands of ears enough were counted.
    pub fn earlier_fields(&self, doc: &Document, season: SeasonId) -> Arc<Vec<EarlierField>> {
        let key = (season, doc.revision_key(FIELD), doc.revisions().of(Area::Season));
        self.earlier_fields.get(key, || {
            let project = doc.project();
            let Some(now) = project.seasons.get(season) else {
                return Vec::new();
            };
            let before = project
                .seasons
                .iter()
                .filter(|before| before.year < now.year)
                .filter_map(|before| {
                    let plan = project.plan_of(project.list_in_force(before.id)?.id)?;
                    EarlierField::new(before.year, &self.field_against_tray(doc, plan.id))
                });
            let mut found: Vec<EarlierField> = before.collect();
            found.sort_unstable_by_key(|field| std::cmp::Reverse(field.year));
            found
        })
    }

    /// Compares the stand in a field with what the trays said when its list was frozen.
    pub fn field_against_tray(&self, doc: &Document, plan: PlanId) -> Arc<FieldAgainstTray> {
        let key = (plan, doc.revision_key(FIELD));
        self.against_tray.get(key, || {
            let view = self.field_plan(doc, plan);
            let list = doc.project().plans.get(plan).map(|plan| plan.list);
            match (list.and_then(|list| doc.project().list(list)), view.as_ref()) {
                (Some(list), Some(view)) => field_seen::against_tray(list, view),
                _ => FieldAgainstTray {
                    ears: Vec::new(),
                    correlation: None,
                    field_factor: None,
                    sentences: Vec::new(),
                },
            }
        })
    }

    /// Says when a field flowers, and who flowers near it.
    pub fn flowering(&self, doc: &Document, plan: PlanId) -> Arc<Flowering> {
        let [plans, rows, lists, ears, families] = doc.revision_key(FIELD);
        let [packets, about] = doc.revision_key([Area::Packet, Area::About]);
        let key = (plan, [plans, rows, lists, ears, families, packets, about]);
        self.flowering.get(key, || {
            let project = doc.project();
            let view = self.field_plan(doc, plan);
            match (project.plans.get(plan), view.as_ref()) {
                (Some(plan), Some(view)) => {
                    let list = project.list(plan.list);
                    let planted = list.and_then(|list| project.first_planted_from(list));
                    field_seen::flowering(plan, view, planted, project.about.units.length)
                }
                _ => Flowering::default(),
            }
        })
    }

    /// Says how far detasselling has come; `None` where there is nothing to say.
    pub fn detasselling(&self, doc: &Document, plan: PlanId, today: Date) -> Option<String> {
        let view = self.field_plan(doc, plan);
        let plan = doc.project().plans.get(plan)?;
        field_seen::detasselling(plan, view.as_ref().as_ref()?, today)
    }
}

fn given<'a>(doc: &'a Document, season: SeasonId, cutoffs: &'a Cutoffs, wanted: &'a Wanted) -> Given<'a> {
    Given {
        season,
        cutoffs,
        words: doc.project().selection_of(season).map(|one| &one.words),
        wanted,
    }
}

fn choice_key(doc: &Document, season: SeasonId, cutoffs: &Cutoffs) -> ChoiceKey {
    let facts = (season, doc.revision_key(FACTS));
    (facts, doc.revisions().of(Area::Selection), cutoffs.clone())
}

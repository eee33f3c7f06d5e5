//! Seed in store: where it lies, how old it is, what is to be tested again and what to be grown anew.

use super::lines::{self, Founder};
use super::store_rules::{StoreStand, rule_of_100};
use super::words::{are, percent, plural, some_of, temperature};
use crate::model::{
    Ear, EarId, Packet, PacketId, Pass, Project, RowId, RowSource, SeasonId, StorageRules, StoreId,
    StorePlace, TestId, capital,
};
use crate::stats::{Confidence, Counts, wilson};
use jiff::civil::Date;
use std::collections::{BTreeMap, BTreeSet};

/// All seed of a project.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Storage {
    /// The year of the latest season, to which ages are reckoned; `None` without seasons.
    pub year: Option<i16>,
    /// The seasons that have packets, the latest first.
    pub years: Vec<i16>,
    /// The places by name, and at the end the packets of which no place is known, if there are any.
    pub stores: Vec<StoreLine>,
    /// Kernels of earlier seasons that are to be tested again, the longest untested first.
    pub again: Vec<TestAgain>,
    /// Lines that are to be grown anew, the most urgent first.
    pub regrow: Vec<Regrow>,
    /// Lines of mothers of which no kernel is left in any packet.
    pub lost: Vec<String>,
    /// By which rules.
    pub rules: StorageRules,
}

/// Packets together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Amount {
    /// Packets in which there are kernels, or may be.
    pub packets: usize,
    /// Kernels in those that were counted.
    pub kernels: i64,
    /// Packets that were never counted.
    pub uncounted: usize,
}

impl Amount {
    fn add(&mut self, packet: &Packet) {
        self.packets += 1;
        match packet.balance() {
            Some(kernels) => self.kernels += kernels,
            None => self.uncounted += 1,
        }
    }

    fn and(mut self, other: Self) -> Self {
        self.packets += other.packets;
        self.kernels += other.kernels;
        self.uncounted += other.uncounted;
        self
    }

    /// Says it: `412 kernels in 8 packets, 1 of them never counted`.
    pub fn text(&self) -> String {
        let uncounted = match self.uncounted {
            0 => String::new(),
            number if number == self.packets => ", never counted".to_owned(),
            number => format!(", {number} of them never counted"),
        };
        let packets = plural(self.packets, "packet");
        if self.packets > 0 && self.uncounted == self.packets {
            return format!("{packets}{uncounted}");
        }
        let kernels = plural(self.kernels.max(0) as usize, "kernel");
        format!("{kernels} in {packets}{uncounted}")
    }
}

/// One place with what lies in it.
#[derive(Debug, Clone, PartialEq)]
pub struct StoreLine {
    /// The place; `None` for the packets of which it is not known.
    pub store: Option<StoreId>,
    /// Its name.
    pub name: String,
    /// Its temperature and humidity in the project's units; empty where neither is known.
    pub conditions: String,
    /// What the rule of 100 says of it.
    pub stand: StoreStand,
    /// The same with the figures, in a sentence or two.
    pub sentence: String,
    /// What lies there of each season, in the order of [`Storage::years`].
    pub in_years: Vec<Amount>,
    /// All that lies there.
    pub all: Amount,
}

/// What the last test of an ear said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct LastTest {
    /// The test.
    pub test: TestId,
    /// The day on which its kernels were laid or counted, if known.
    pub on: Option<Date>,
    /// The season after whose harvest it was made.
    pub year: i16,
    /// Germinated and counted kernels.
    pub counts: Counts,
}

impl LastTest {
    /// Germinated kernels in percent.
    pub fn percent(&self) -> f64 {
        100.0 * f64::from(self.counts.k()) / f64::from(self.counts.n())
    }

    /// Says it: `8 of 10 germinated on 2026-02-14`.
    pub fn text(&self) -> String {
        let on = self.on.map_or_else(String::new, |day| format!(" on {day}"));
        format!("{} of {} germinated{on}", self.counts.k(), self.counts.n())
    }
}

/// Seed that was carried over and is to be tested again.
#[derive(Debug, Clone, PartialEq)]
pub struct TestAgain {
    /// The ear.
    pub ear: EarId,
    /// Its number.
    pub number: u32,
    /// The year of its harvest.
    pub year: i16,
    /// Seasons since it was tested last, or since its harvest where it never was.
    pub seasons: i16,
    /// Its kernels.
    pub amount: Amount,
    /// Its last test, if it was tested.
    pub last: Option<LastTest>,
}

impl TestAgain {
    /// Says which, how much and why, in a sentence.
    pub fn sentence(&self) -> String {
        format!("Ear {} of {}: {}", self.number, self.year, self.figures())
    }

    /// Says how much and why, without naming the ear.
    pub fn figures(&self) -> String {
        let seasons = plural(usize::try_from(self.seasons).unwrap_or(0), "season");
        let tested = match &self.last {
            Some(last) => format!("last tested {seasons} ago: {}", last.text()),
            None => format!("never tested, harvested {seasons} ago"),
        };
        format!("{}; {tested}.", self.amount.text())
    }
}

/// A line of mothers whose seed is to be grown anew.
#[derive(Debug, Clone, PartialEq)]
pub struct Regrow {
    /// Where the line begins, in words: `row 3 of 2024`.
    pub line: String,
    /// The ear to grow it from: of its latest seed the one with most kernels.
    pub ear: EarId,
    /// That ear's number.
    pub number: u32,
    /// The year of its harvest, in which the line was harvested last.
    pub year: i16,
    /// Seasons since then.
    pub seasons: i16,
    /// Kernels of the whole line.
    pub amount: Amount,
    /// Germinated and counted kernels of the last tests of its ears, if any was tested.
    pub tested: Option<Counts>,
    /// Whether its seed is old, few, low.
    pub why: Vec<RegrowWhy>,
    /// The same with the figures, in a sentence or two.
    pub sentence: String,
}

/// Why a line is to be grown anew.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum RegrowWhy {
    /// Its last seed is old.
    Old,
    /// Few kernels are left.
    Few,
    /// It germinated badly in the last tests.
    Low,
}

impl RegrowWhy {
    /// Says it in a word.
    pub fn name(self) -> &'static str {
        match self {
            Self::Old => "old",
            Self::Few => "few",
            Self::Low => "low",
        }
    }
}

/// The last test of an ear that has final counts in force, of several the one that was laid last; `None` where it was
/// never counted.
pub fn last_test(project: &Project, ear: &Ear) -> Option<LastTest> {
    let mut tests: BTreeMap<TestId, (Option<Date>, u32, u32)> = BTreeMap::new();
    for cell in project.cells_of_ear(ear.id) {
        let Some(count) = project.count_in_force(cell.id, Pass::Final) else {
            continue;
        };
        let Some(test) = project.test_of_tray(cell.tray) else {
            continue;
        };
        let (on, germinated, counted) = tests.entry(test.id).or_default();
        *on = (*on).max(project.laid_on(cell).or(count.on));
        *germinated += count.tally.germinated(project.about.germinated);
        *counted += count.tally.counted();
    }
    let harvested = project.seasons.get(ear.season).map_or(0, |season| season.year);
    tests
        .into_iter()
        .filter_map(|(test, (on, germinated, counted))| {
            let counts = Counts::new(germinated, counted).ok().filter(|_| counted > 0)?;
            // A winter's test belongs to the harvest before it. Common practice, no source: before August.
            let season = on.map_or(harvested, |day| day.year() - i16::from(day.month() < 8));
            Some(LastTest {
                test,
                on,
                year: season.max(harvested),
                counts,
            })
        })
        .max_by_key(|last| (last.on, last.test))
}

/// An ear of which there are kernels, or may be.
struct Kept<'a> {
    ear: &'a Ear,
    year: i16,
    amount: Amount,
}

/// Looks through all packets. Whatever was tested of the latest season's ears is not asked for.
pub(super) fn compute(project: &Project) -> Storage {
    let year_of: BTreeMap<SeasonId, i16> = project.seasons.iter().map(|one| (one.id, one.year)).collect();
    let Some(latest) = year_of.values().copied().max() else {
        return Storage {
            rules: project.about.storage,
            ..Storage::default()
        };
    };
    let mut by_place: BTreeMap<(Option<StoreId>, i16), Amount> = BTreeMap::new();
    let mut kept: Vec<Kept<'_>> = Vec::new();
    for ear in project.ears.iter() {
        let year = year_of.get(&ear.season).copied().unwrap_or(latest);
        let mut amount = Amount::default();
        for packet in project.packets_of(ear.id).filter(|packet| has_seed(packet)) {
            amount.add(packet);
            by_place.entry((packet.store, year)).or_default().add(packet);
        }
        if amount.packets > 0 {
            kept.push(Kept { ear, year, amount });
        }
    }
    let mut years: Vec<i16> = by_place.keys().map(|(_, year)| *year).collect();
    years.sort_unstable_by_key(|year| std::cmp::Reverse(*year));
    years.dedup();
    let families = families(project, &kept, latest);
    Storage {
        year: Some(latest),
        stores: stores(project, &by_place, &years),
        years,
        again: again(project, &kept, &families, latest),
        regrow: regrow(project, &families, latest),
        lost: families.lost,
        rules: project.about.storage,
    }
}

/// Says whether there are kernels in a packet, or may be.
pub(super) fn has_seed(packet: &Packet) -> bool {
    packet.balance().is_none_or(|kernels| kernels > 0)
}

// ---- places --------------------------------------------------------------------------------------------

fn stores(
    project: &Project,
    by_place: &BTreeMap<(Option<StoreId>, i16), Amount>,
    years: &[i16],
) -> Vec<StoreLine> {
    let mut known: Vec<&StorePlace> = project.stores.iter().collect();
    known.sort_by(|one, other| super::natural(&one.name, &other.name));
    let line = |store: Option<&StorePlace>| {
        let id = store.map(|store| store.id);
        let in_years: Vec<Amount> = years
            .iter()
            .map(|year| by_place.get(&(id, *year)).copied().unwrap_or_default())
            .collect();
        let (stand, sentence) = match store {
            Some(store) => rule_of_100(store.temperature_c, store.humidity_percent),
            None => (
                StoreStand::NotKnown,
                "Of these packets nobody said where they are kept. Choose them and move them to a place."
                    .to_owned(),
            ),
        };
        StoreLine {
            store: id,
            name: store.map_or_else(|| "no place noted".to_owned(), |store| store.name.clone()),
            conditions: store.map_or_else(String::new, |store| conditions(project, store)),
            stand,
            sentence,
            all: in_years.iter().copied().fold(Amount::default(), Amount::and),
            in_years,
        }
    };
    let mut lines: Vec<StoreLine> = known.into_iter().map(|store| line(Some(store))).collect();
    let elsewhere = line(None);
    if elsewhere.all.packets > 0 {
        lines.push(elsewhere);
    }
    lines
}

/// Says how warm and how humid a place is, in the project's unit.
fn conditions(project: &Project, store: &StorePlace) -> String {
    let unit = project.about.units.temperature;
    let parts: Vec<String> = [
        store.temperature_c.map(|celsius| temperature(celsius, unit)),
        store.humidity_percent.map(percent),
    ]
    .into_iter()
    .flatten()
    .collect();
    parts.join(", ")
}

// ---- lines of mothers ----------------------------------------------------------------------------------

/// The lines of mothers with their seed.
#[derive(Default)]
struct Families<'a> {
    /// Those with seed, by where they begin.
    with_seed: BTreeMap<Founder, Vec<&'a Kept<'a>>>,
    /// Those that stand in a row of the latest season of which nothing is harvested yet.
    growing: BTreeSet<Founder>,
    /// Those without any, in words.
    lost: Vec<String>,
}

fn families<'a>(project: &Project, kept: &'a [Kept<'a>], latest: i16) -> Families<'a> {
    let of_rows = lines::founders(project);
    let founder = |ear: &Ear| match ear.row {
        Some(row) => of_rows.get(&row).copied(),
        None => Some(Founder::Ear(ear.id)),
    };
    let mut found = Families::default();
    for one in kept {
        if let Some(founder) = founder(one.ear) {
            found.with_seed.entry(founder).or_default().push(one);
        }
    }
    let of_latest = project.season_of_year(latest);
    let rows = of_latest
        .into_iter()
        .flat_map(|season| project.rows_of(season.id));
    let growing = rows.filter(|row| project.ears_of_row(row.id).next().is_none());
    found.growing = growing.filter_map(|row| of_rows.get(&row.id).copied()).collect();
    // A line is lost only where ears were harvested of it and their packets were emptied.
    let harvested: BTreeSet<Founder> = project.ears.iter().filter_map(founder).collect();
    let mut lost: Vec<String> = harvested
        .iter()
        .filter(|one| !found.with_seed.contains_key(one) && !found.growing.contains(one))
        .filter(|one| was_emptied(project, **one, &of_rows))
        .map(|one| lines::founder_name(project, *one))
        .collect();
    lost.sort_by(|one, other| super::natural(one, other));
    found.lost = lost;
    found
}

/// Says whether a line without seed had a packet at all: where none was made, nothing is known of its kernels.
fn was_emptied(project: &Project, founder: Founder, of_rows: &BTreeMap<RowId, Founder>) -> bool {
    match founder {
        Founder::Ear(ear) => project.packets_of(ear).next().is_some(),
        Founder::Row(_) => of_rows
            .iter()
            .filter(|(_, of)| **of == founder)
            .flat_map(|(row, _)| project.ears_of_row(*row))
            .any(|ear| project.packets_of(ear.id).next().is_some()),
    }
}

/// Pools the last tests of ears.
fn tested(project: &Project, seed: &[&Kept<'_>]) -> Option<Counts> {
    let sums = seed
        .iter()
        .filter_map(|one| last_test(project, one.ear))
        .map(|last| (last.counts.k(), last.counts.n()))
        .reduce(|one, other| (one.0 + other.0, one.1 + other.1))?;
    Counts::new(sums.0, sums.1).ok()
}

fn regrow(project: &Project, families: &Families<'_>, latest: i16) -> Vec<Regrow> {
    let rules = project.about.storage;
    let mut found: Vec<Regrow> = families
        .with_seed
        .iter()
        .filter(|(founder, _)| !families.growing.contains(founder))
        .filter_map(|(founder, seed)| {
            let year = seed.iter().map(|one| one.year).max()?;
            if year >= latest {
                return None;
            }
            let last = seed.iter().filter(|one| one.year == year);
            let from = last.max_by_key(|one| (one.amount.kernels, std::cmp::Reverse(one.ear.number)))?;
            let amount = seed
                .iter()
                .map(|one| one.amount)
                .fold(Amount::default(), Amount::and);
            let (seasons, tested) = (latest - year, tested(project, seed));
            let mut why = Vec::new();
            if seasons >= i16::from(rules.old_after) {
                why.push(RegrowWhy::Old);
            }
            if amount.uncounted == 0 && amount.kernels < i64::from(rules.few_kernels) {
                why.push(RegrowWhy::Few);
            }
            if tested.is_some_and(|counts| is_low(counts, rules.low_percent)) {
                why.push(RegrowWhy::Low);
            }
            if why.is_empty() {
                return None;
            }
            let mut one = Regrow {
                line: lines::founder_name(project, *founder),
                ear: from.ear.id,
                number: from.ear.number,
                year,
                seasons,
                amount,
                tested,
                why,
                sentence: String::new(),
            };
            one.sentence = one.told(rules, from.amount);
            Some(one)
        })
        .collect();
    let share = |one: &Regrow| {
        one.tested
            .map_or(1.0, |counts| f64::from(counts.k()) / f64::from(counts.n()))
    };
    found.sort_by(|one, other| {
        (other.why.len().cmp(&one.why.len()))
            .then(other.seasons.cmp(&one.seasons))
            .then(one.amount.kernels.cmp(&other.amount.kernels))
            .then(share(one).total_cmp(&share(other)))
            .then(super::natural(&one.line, &other.line))
    });
    found
}

fn is_low(counts: Counts, low_percent: u8) -> bool {
    100 * u64::from(counts.k()) < u64::from(low_percent) * u64::from(counts.n())
}

impl Regrow {
    fn told(&self, rules: StorageRules, from: Amount) -> String {
        let ago = plural(usize::try_from(self.seasons).unwrap_or(0), "season");
        let mut parts = Vec::new();
        let old = if self.why.contains(&RegrowWhy::Old) {
            format!(", called old from {}", rules.old_after)
        } else {
            String::new()
        };
        parts.push(format!("last harvested in {}, {ago} ago{old}", self.year));
        let few = if self.why.contains(&RegrowWhy::Few) {
            format!(", called few below {}", rules.few_kernels)
        } else {
            String::new()
        };
        parts.push(format!("{}{few}", self.amount.text()));
        parts.push(match self.tested {
            None => "never tested".to_owned(),
            Some(counts) => {
                let range = wilson(counts, Confidence::P95).map_or_else(String::new, |range| {
                    let (low, high) = (100.0 * range.low, 100.0 * range.high);
                    format!(", between {low:.0} and {high:.0} % with 95 % confidence")
                });
                let low = if self.why.contains(&RegrowWhy::Low) {
                    format!(", called low below {} %", rules.low_percent)
                } else {
                    String::new()
                };
                format!(
                    "{} of {} germinated in the last tests{range}{low}",
                    counts.k(),
                    counts.n()
                )
            }
        });
        format!(
            "The line of {}: {}. Grow it from ear {} of {} ({}).",
            self.line,
            parts.join("; "),
            self.number,
            self.year,
            from.text()
        )
    }
}

// ---- testing again -------------------------------------------------------------------------------------

/// Seed that was carried over for a reason: the ears of planting lists, and the latest seed of each line that nothing
/// newer has.
fn again(project: &Project, kept: &[Kept<'_>], families: &Families<'_>, latest: i16) -> Vec<TestAgain> {
    let after = i16::from(project.about.storage.test_after);
    let listed: BTreeSet<EarId> = project
        .seasons
        .iter()
        .filter_map(|season| project.list_in_force(season.id))
        .flat_map(|list| list.entries.iter().map(|entry| entry.ear))
        .collect();
    let mothers: BTreeSet<EarId> = project
        .rows
        .iter()
        .filter_map(|row| match row.source {
            RowSource::Ear(ear) => Some(ear),
            _ => None,
        })
        .collect();
    let mut last_seed: BTreeSet<EarId> = BTreeSet::new();
    for seed in families.with_seed.values() {
        let newest = seed.iter().map(|one| one.year).max();
        let newest = seed.iter().filter(|one| Some(one.year) == newest);
        last_seed.extend(newest.map(|one| one.ear.id));
    }
    let wanted = |ear: EarId| listed.contains(&ear) || mothers.contains(&ear) || last_seed.contains(&ear);
    let mut found: Vec<TestAgain> = kept
        .iter()
        .filter(|one| latest - one.year >= after && wanted(one.ear.id))
        .filter_map(|one| {
            let last = last_test(project, one.ear);
            let seasons = latest - last.map_or(one.year, |last| last.year);
            (seasons >= after).then_some(TestAgain {
                ear: one.ear.id,
                number: one.ear.number,
                year: one.year,
                seasons,
                amount: one.amount,
                last,
            })
        })
        .collect();
    found.sort_by_key(|one| (std::cmp::Reverse(one.seasons), one.year, one.number));
    found
}

// ---- one packet ----------------------------------------------------------------------------------------

/// One packet as a list shows it.
#[derive(Debug, Clone, PartialEq)]
pub struct PacketLine {
    /// The packet.
    pub packet: PacketId,
    /// Its ear.
    pub ear: EarId,
    /// The ear's number.
    pub number: u32,
    /// The year of its harvest.
    pub year: i16,
    /// Seasons since then, reckoned to the latest season.
    pub seasons: i16,
    /// The storage place and the slot in it; empty where nobody said.
    pub place: String,
    /// Kernels; `None` when they were never counted.
    pub kernels: Option<i64>,
    /// Moisture of its kernels, in percent, if it was measured.
    pub moisture_percent: Option<f64>,
    /// The ear's last test, if it was tested.
    pub last: Option<LastTest>,
}

/// Which packets a list shows.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PacketQuery {
    /// The place, where only its packets are shown: `Some(None)` for those of which it is not known.
    pub store: Option<Option<StoreId>>,
    /// The year of the harvest, where only its packets are shown.
    pub year: Option<i16>,
    /// What the packet's own place, its box or slot, begins with; empty for any.
    pub slot: String,
}

/// The packets with kernels that a query asks for: by place, then by slot, season and ear.
pub(super) fn packets(project: &Project, query: &PacketQuery) -> Vec<PacketId> {
    let slot = query.slot.trim().to_lowercase();
    let mut found: Vec<(Option<&str>, &str, i16, u32, PacketId)> = Vec::new();
    for packet in project.packets.iter().filter(|packet| has_seed(packet)) {
        let Some(ear) = project.ears.get(packet.ear) else {
            continue;
        };
        let year = project.seasons.get(ear.season).map_or(0, |season| season.year);
        let fits = query.store.is_none_or(|store| store == packet.store)
            && query.year.is_none_or(|wanted| wanted == year)
            && (slot.is_empty() || packet.location.to_lowercase().starts_with(&slot));
        if fits {
            let store = packet.store.and_then(|store| project.stores.get(store));
            let store = store.map(|store| store.name.as_str());
            found.push((store, packet.location.as_str(), year, ear.number, packet.id));
        }
    }
    found.sort_by(|one, other| {
        let place = super::natural(one.0.unwrap_or("\u{10ffff}"), other.0.unwrap_or("\u{10ffff}"));
        place
            .then_with(|| super::natural(one.1, other.1))
            .then(one.2.cmp(&other.2))
            .then(one.3.cmp(&other.3))
    });
    found.into_iter().map(|(.., packet)| packet).collect()
}

/// Gives what a list shows of a packet; `None` when it is not there. Each line is made when it is shown.
pub fn packet_line(project: &Project, packet: PacketId) -> Option<PacketLine> {
    let packet = project.packets.get(packet)?;
    let ear = project.ears.get(packet.ear)?;
    let year = project.seasons.get(ear.season)?.year;
    let latest = project.latest_season()?.year;
    Some(PacketLine {
        packet: packet.id,
        ear: ear.id,
        number: ear.number,
        year,
        seasons: latest - year,
        place: super::ear_card::packet_place(project, packet),
        kernels: packet.balance(),
        moisture_percent: packet.moisture_percent,
        last: last_test(project, ear),
    })
}

// ---- in words ------------------------------------------------------------------------------------------

impl Storage {
    /// All packets with kernels.
    pub fn all(&self) -> Amount {
        self.stores
            .iter()
            .map(|line| line.all)
            .fold(Amount::default(), Amount::and)
    }

    /// Says what there is, what is to be tested again and grown anew, a sentence each.
    pub fn sentences(&self) -> Vec<String> {
        let Some(year) = self.year else {
            return Vec::new();
        };
        let all = self.all();
        if all.packets == 0 {
            return vec![
                "No packet holds kernels. Type the kernels of the ears in the pane Harvest.".to_owned(),
            ];
        }
        let mut said = vec![format!(
            "{}, of {}. Ages are reckoned to season {year}.",
            capital(&all.text()),
            plural(self.years.len(), "season")
        )];
        if !self.again.is_empty() {
            said.push(self.again_sentence());
        }
        if !self.regrow.is_empty() {
            said.push(self.regrow_sentence());
        }
        if !self.lost.is_empty() {
            said.push(format!(
                "Of {} of mothers no kernel is left in any packet: {}.",
                plural(self.lost.len(), "line"),
                some_of(&self.lost)
            ));
        }
        said
    }

    /// Says how many ears are to be tested again, and which.
    pub fn again_sentence(&self) -> String {
        let names: Vec<String> = self
            .again
            .iter()
            .map(|one| format!("{} of {}", one.number, one.year))
            .collect();
        let kind = if names.len() == 1 { "ear" } else { "ears" };
        format!(
            "{} to be tested again, since the seed was not tested for {} or more: {kind} {}.",
            are(self.again.len(), "carried-over ear"),
            plural(usize::from(self.rules.test_after), "season"),
            some_of(&names)
        )
    }

    /// Says how many lines are to be grown anew, and which.
    pub fn regrow_sentence(&self) -> String {
        let names: Vec<String> = self
            .regrow
            .iter()
            .map(|one| {
                let why: Vec<&str> = one.why.iter().map(|why| why.name()).collect();
                format!("{} ({})", one.line, why.join(", "))
            })
            .collect();
        format!(
            "{} to be grown anew, whose last seed is old, few or low: {}.",
            are(self.regrow.len(), "line"),
            some_of(&names)
        )
    }

    /// Says by which rules seed is called old, few or low, and that they have no source.
    pub fn rules_sentence(rules: StorageRules) -> String {
        format!(
            "Tested again after {}; old from {}, few below {}, low below {} %. Common practice, no source: change them to what your store has taught you.",
            plural(usize::from(rules.test_after), "season"),
            plural(usize::from(rules.old_after), "season"),
            plural(rules.few_kernels as usize, "kernel"),
            rules.low_percent
        )
    }
}

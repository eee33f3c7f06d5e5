//! The ear card explains where an ear stands in sentences whose numbers are those of the figures behind them.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use jiff::civil::date;
use wintercrib::demo;
use wintercrib::insight::{Choice, EarCard, Insight, Reason, Standing};
use wintercrib::model::{
    Command, Cutoffs, Document, EarId, Index, IndexTrait, SeasonId, SeenWhileMoving, Stamp, Stand, Word,
    WordKind,
};
use wintercrib::stats::Cutoff;

const SEASON: SeasonId = SeasonId(1);

struct Bench {
    document: Document,
    insight: Insight,
}

impl Bench {
    fn new() -> Self {
        Self::of("essel-thaw")
    }

    fn of(demo: &str) -> Self {
        let document = Document::new(demo::make(demo).unwrap());
        Self {
            document,
            insight: Insight::default(),
        }
    }

    fn run(&mut self, command: &Command) {
        let stamp = Stamp {
            at: date(2026, 2, 20).at(9, 0, 0, 0),
            by: "Grower A".to_owned(),
        };
        self.document.run(command, &stamp).unwrap();
    }

    fn set(&mut self, cutoffs: Cutoffs) {
        self.run(&Command::SetCutoffs {
            season: SEASON,
            cutoffs,
            seen: SeenWhileMoving::default(),
        });
    }

    fn choice(&self) -> Choice {
        let cutoffs = self.insight.cutoffs(&self.document, SEASON);
        Choice::clone(&self.insight.choice(&self.document, SEASON, &cutoffs))
    }

    fn card(&self, ear: EarId) -> EarCard {
        Option::clone(&self.insight.ear_card(&self.document, ear)).unwrap()
    }

    /// The one sentence with this part.
    #[track_caller]
    fn said(&self, ear: EarId, part: &str) -> String {
        let card = self.card(ear);
        let mut found = card.explained.iter().filter(|said| said.contains(part));
        let one = found
            .next()
            .unwrap_or_else(|| panic!("no '{part}' in {:#?}", card.explained));
        assert!(found.next().is_none(), "'{part}' twice in {:#?}", card.explained);
        one.clone()
    }

    fn find(&self, is_meant: impl Fn(&Standing) -> bool) -> EarId {
        let choice = self.choice();
        choice.standings.iter().find(|one| is_meant(one)).unwrap().ear
    }
}

fn probability(bench: &Bench, ear: EarId, percent: u32) -> f64 {
    let cutoff = Cutoff::from_percent(f64::from(percent)).unwrap();
    let estimates = bench.insight.estimates(&bench.document, SEASON);
    estimates.probability_at_least(ear, cutoff).unwrap()
}

/// The numbers in a sentence, in their order.
fn numbers(text: &str) -> Vec<f64> {
    let parts = text.split(|sign: char| !(sign.is_ascii_digit() || sign == '.'));
    parts
        .filter_map(|part| part.trim_matches('.').parse().ok())
        .collect()
}

#[test]
fn the_cutoffs_at_which_an_ear_turns_are_where_its_probability_crosses_the_sureness() {
    let bench = Bench::new();
    for stand in [Stand::Plant, Stand::Retest, Stand::LeaveOut] {
        let by_germination = |one: &Standing| matches!(one.why.first(), Some(Reason::Germination { .. }));
        let ear = bench.find(|one| one.stand == stand && one.estimate.is_some() && by_germination(one));
        let said = bench.said(ear, "By germination alone");
        let [planted, left_out, cutoff] = numbers(&said)[..] else {
            panic!("{said}");
        };
        assert!((cutoff - 70.0).abs() < 1e-9);
        let (planted, left_out) = (planted as u32, left_out as u32);
        assert!(
            probability(&bench, ear, planted) >= 0.7 && probability(&bench, ear, planted + 1) < 0.7,
            "{said}"
        );
        assert!(
            probability(&bench, ear, left_out) <= 0.3 && probability(&bench, ear, left_out - 1) > 0.3,
            "{said}"
        );
        let by_cutoff = match stand {
            Stand::Plant => planted >= 70,
            Stand::LeaveOut => left_out <= 70,
            _ => planted < 70 && left_out > 70,
        };
        assert!(by_cutoff, "{stand}: {said}");
    }
}

#[test]
fn a_count_is_drawn_towards_the_mean_of_all_and_its_place_is_told() {
    let (mut plain, mut placed) = (0, 0);
    for demo in ["essel-thaw", "pocket-starter"] {
        drawn(&Bench::of(demo), &mut plain, &mut placed);
    }
    assert!(plain > 10 && placed > 100, "{plain} {placed}");
}

fn drawn(bench: &Bench, plain: &mut u32, placed: &mut u32) {
    let choice = bench.choice();
    for one in &choice.standings {
        let Some(estimate) = one.estimate else {
            continue;
        };
        let estimates = bench.insight.estimates(&bench.document, SEASON);
        let project = bench.document.project();
        let tray = project.cells_of_ear(one.ear).next().unwrap().tray;
        let of_tray = estimates
            .trays
            .iter()
            .find(|effect| effect.tray == tray)
            .map(|effect| effect.points);
        let place = estimate.place_points.or(of_tray).unwrap_or_default();
        let card = bench.card(one.ear);
        if place.abs() >= 0.5 {
            let said = bench.said(one.ear, "it becomes");
            let found = numbers(&said);
            assert!((found[0] - estimate.observed_percent).abs() < 0.06, "{said}");
            assert!((found[1] - estimate.likely_percent).abs() < 0.06, "{said}");
            assert!((found[2] - place.abs()).abs() < 0.06, "{said}");
            *placed += 1;
        } else if let Some(said) = card.explained.iter().find(|said| said.contains("say little")) {
            let drawn = estimate.likely_percent - estimate.observed_percent;
            assert!((numbers(said)[1] - drawn.abs()).abs() < 0.06, "{said}");
            assert_eq!(said.contains(" down "), drawn < 0.0, "{said}");
            *plain += 1;
        }
    }
}

#[test]
fn ranks_sisters_and_the_cap_are_counted() {
    let mut bench = Bench::new();
    bench.set(Cutoffs {
        germination_percent: Some(60.0),
        cap_per_mother: Some(3),
        ..Cutoffs::default()
    });
    let choice = bench.choice();
    let ear = bench.find(|one| matches!(one.why.first(), Some(Reason::Cap { .. })));
    let standing = choice.of(ear).unwrap();
    let own = standing.estimate.unwrap().likely_percent;
    let rank = |all: &[&Standing]| {
        let better = all
            .iter()
            .filter_map(|one| one.estimate)
            .filter(|one| one.likely_percent > own);
        1 + better.count()
    };
    let all: Vec<&Standing> = choice.standings.iter().collect();
    let scored = all.iter().filter(|one| one.estimate.is_some()).count();
    let ranked = format!(
        "By likely percent it is number {} of {scored} scored ears.",
        rank(&all)
    );
    assert_eq!(bench.said(ear, "By likely percent"), ranked);
    let sisters: Vec<&Standing> = all
        .iter()
        .copied()
        .filter(|one| one.row == standing.row)
        .collect();
    let said = bench.said(ear, "of mother row");
    let kept = sisters.iter().filter(|one| one.stand == Stand::Plant).count();
    let scored = sisters.iter().filter(|one| one.estimate.is_some()).count();
    assert_eq!(kept, 3, "the cap is full");
    let start = format!("It is one of {} ears of mother row ", sisters.len());
    let end = format!(
        ", number {} of the {scored} that were scored; 3 of them are kept, at most 3 may be.",
        rank(&sisters)
    );
    assert!(said.starts_with(&start) && said.ends_with(&end), "{said}");
}

#[test]
fn limits_say_how_far_an_ear_is_within_or_beyond() {
    let mut bench = Bench::new();
    let late = bench.find(|one| one.maturity_days == Some(109));
    assert_eq!(
        bench.said(late, "maturity in days"),
        "Its maturity in days 109 is 3 days beyond the cutoff of 106."
    );
    let at = bench.find(|one| one.maturity_days == Some(106));
    assert_eq!(
        bench.said(at, "maturity in days"),
        "Its maturity in days 106 is exactly at the cutoff of 106."
    );
    let ear = bench.find(|one| one.estimate.is_some_and(|estimate| estimate.vigor.is_some()));
    let vigor = bench.choice().of(ear).unwrap().estimate.unwrap().vigor.unwrap();
    bench.set(Cutoffs {
        vigor: Some(vigor - 1.5),
        ..Cutoffs::default()
    });
    assert!(
        bench
            .said(ear, "Its vigor")
            .contains("is 1.5 within the cutoff of"),
        "{}",
        bench.said(ear, "Its vigor")
    );
}

#[test]
fn a_retest_an_index_and_words_are_told_and_what_is_unknown_is_not_invented() {
    let mut bench = Bench::new();
    let doubtful = bench.find(|one| one.stand == Stand::Retest && one.estimate.is_some());
    let said = bench.said(doubtful, "10 more kernels would lower");
    let [_, now, after] = numbers(&said)[..] else {
        panic!("{said}");
    };
    let sure = bench.choice().of(doubtful).unwrap().probability.unwrap();
    assert!(
        (now - 100.0 * sure.min(1.0 - sure)).abs() <= 0.5 && after < now,
        "{said}"
    );
    let choice = bench.choice();
    let sure = |one: &&Standing| {
        one.probability
            .map_or(0, |sure| (1e9 * sure.min(1.0 - sure)) as u64 + 1)
    };
    let surest = choice
        .standings
        .iter()
        .filter(|one| one.probability.is_some())
        .min_by_key(sure)
        .unwrap();
    bench.said(surest.ear, "No result of 10 more kernels would change");

    assert!(
        bench
            .card(doubtful)
            .explained
            .iter()
            .all(|said| !said.contains("index"))
    );
    let mut index = Index::default();
    index.weigh(IndexTrait::Germination, Some(1.0));
    bench.run(&Command::SetIndex {
        season: SEASON,
        index,
    });
    let cutoffs = bench.insight.cutoffs(&bench.document, SEASON);
    let (value, rank) = bench
        .insight
        .index(&bench.document, SEASON, &cutoffs)
        .of(doubtful)
        .unwrap();
    let scored = bench.insight.estimates(&bench.document, SEASON).scored();
    let expected = format!("By your index it is number {rank} of {scored} ears, with {value:+.2}.");
    assert_eq!(bench.said(doubtful, "index"), expected);

    let unscored = bench.find(|one| one.estimate.is_none());
    bench.said(unscored, "Your index says nothing of it");
    let card = bench.card(unscored);
    for part in [
        "By germination alone",
        "drawn",
        "more kernels",
        "By likely percent",
        "%",
    ] {
        assert!(
            card.explained.iter().all(|said| !said.contains(part)),
            "{:#?}",
            card.explained
        );
    }
    bench.run(&Command::SetWord {
        season: SEASON,
        ears: vec![doubtful],
        word: Some(Word {
            kind: WordKind::Reserve,
            reason: "late for its row".to_owned(),
        }),
    });
    assert!(bench.card(doubtful).why[0].contains("'hold in reserve': late for its row"));
}

#[test]
fn what_an_average_tray_needs_is_what_decides_there() {
    let bench = Bench::new();
    let estimates = bench.insight.estimates(&bench.document, SEASON);
    let ear = bench.find(|one| {
        one.estimate
            .is_some_and(|one| one.counts.n() as usize + 1 == estimates.usual().len())
    });
    let said = bench.said(ear, "In an average tray");
    let [plant, _, leave_out] = numbers(&said)[..] else {
        panic!("{said}");
    };
    let cutoff = Cutoff::from_percent(70.0).unwrap();
    let sure = |k: f64| estimates.usual()[k as usize].probability_at_least(cutoff);
    assert!(sure(plant) >= 0.7 && sure(plant - 1.0) < 0.7, "{said}");
    assert!(sure(leave_out) <= 0.3 && sure(leave_out + 1.0) > 0.3, "{said}");
}

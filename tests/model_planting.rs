//! Planting from a frozen list: what is reserved, what leaves the packets, and what is refused.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use jiff::civil::{Date, date};
use wintercrib::demo;
use wintercrib::insight::{Insight, Pane};
use wintercrib::model::*;

const SEASON: SeasonId = SeasonId(1);
const SPRING: Date = date(2026, 5, 9);

fn stamp() -> Stamp {
    Stamp {
        at: SPRING.at(8, 0, 0, 0),
        by: "Grower A".to_owned(),
    }
}

struct Bench(Document);

impl Bench {
    /// Four ears with 100, 60 and 45 kernels, and one whose kernels nobody counted; none is on a list.
    fn new() -> Self {
        let mut bench = Self(Document::new(Project::new(About::new("Small Patch", "patch"))));
        bench.run(&Command::AddSeason {
            year: 2025,
            planted: None,
        });
        let drafts = [Some(100), Some(60), Some(45), None].map(|kernels| EarDraft {
            kernels,
            ..EarDraft::default()
        });
        bench.run(&Command::AddEars {
            season: SEASON,
            drafts: drafts.to_vec(),
            existing: Existing::Refuse,
        });
        bench
    }

    fn run(&mut self, command: &Command) {
        self.0.run(command, &stamp()).unwrap();
    }

    fn refusal(&mut self, command: &Command) -> String {
        let before = self.project().clone();
        let problem = self.0.run(command, &stamp()).unwrap_err().to_string();
        assert!(*self.project() == before, "a refusal changes nothing");
        problem
    }

    fn project(&self) -> &Project {
        self.0.project()
    }

    fn ear(&self, number: u32) -> EarId {
        self.project().ear_numbered(SEASON, number).unwrap().id
    }

    /// Freezes a list of ears, each with kernels to plant; 20 are kept back.
    fn freeze(&mut self, plants: &[(u32, u32)], reason: &str) -> ListId {
        let entries = plants.iter().map(|(number, plant)| {
            let ear = self.project().ear_numbered(SEASON, *number).unwrap();
            ListEntry {
                ear: ear.id,
                code: ear.code,
                number: *number,
                mother: String::new(),
                germinated: None,
                likely_percent: None,
                maturity_days: None,
                plant: *plant,
                keep: 20,
                why: "cutoffs".to_owned(),
                sowing: None,
            }
        });
        let entries = entries.collect();
        self.run(&Command::Freeze(ListDraft {
            season: SEASON,
            by: "Grower A".to_owned(),
            reason: reason.to_owned(),
            cutoffs: Cutoffs::default(),
            entries,
            reserves: Vec::new(),
        }));
        self.project().list_in_force(SEASON).unwrap().id
    }

    fn stock(&self, number: u32) -> (Option<i64>, u32, Option<i64>) {
        let stock = self.project().stock_of(self.ear(number));
        (stock.on_hand, stock.reserved, stock.free())
    }

    /// Kernels of an ear that came in, less those that went out for each reason.
    fn total(&self, number: u32) -> i64 {
        let packets = self.project().packets_of(self.ear(number));
        packets
            .flat_map(|packet| &packet.ledger)
            .map(|line| i64::from(line.kernels))
            .sum()
    }
}

fn plant(list: ListId, ears: Vec<EarId>) -> Command {
    Command::Plant {
        list,
        ears,
        on: SPRING,
    }
}

#[test]
fn a_frozen_list_reserves_kernels_until_they_are_planted() {
    let mut bench = Bench::new();
    assert_eq!(bench.stock(1), (Some(100), 0, Some(100)));
    let list = bench.freeze(&[(1, 30), (2, 30), (4, 30)], "");
    assert_eq!(bench.stock(1), (Some(100), 30, Some(70)));
    assert_eq!(bench.stock(3), (Some(45), 0, Some(45)));
    assert_eq!(bench.stock(4), (None, 30, None));

    bench.run(&plant(list, vec![bench.ear(1)]));
    assert_eq!(bench.stock(1), (Some(70), 0, Some(70)));
    assert_eq!(bench.stock(2), (Some(60), 30, Some(30)));
    assert_eq!(bench.project().planted_from(bench.ear(1), list), 30);

    bench.run(&plant(list, Vec::new()));
    assert_eq!(bench.stock(1), (Some(70), 0, Some(70)), "it was planted once");
    assert_eq!(bench.stock(2), (Some(30), 0, Some(30)));
    assert_eq!(bench.stock(4), (None, 0, None));
    assert_eq!(bench.project().planted_from(bench.ear(4), list), 30);
    for number in [1, 2, 3] {
        assert_eq!(Some(bench.total(number)), bench.stock(number).0, "ear {number}");
    }
    assert_eq!(bench.project().validate(), []);
    // Kernels that were planted as the list says are nothing that changed since it was frozen.
    let since = Insight::default().since_frozen(&bench.0, list);
    assert!(since.iter().all(|said| !said.contains("packet")), "{since:?}");
}

#[test]
fn planting_twice_or_from_a_replaced_list_or_of_another_ear_is_refused() {
    let mut bench = Bench::new();
    let first = bench.freeze(&[(1, 30), (2, 30)], "");
    let one = bench.ear(1);
    bench.run(&plant(first, vec![one]));
    let twice = bench.refusal(&plant(first, vec![one]));
    assert!(
        twice.contains("ear 1 was planted from this list already"),
        "{twice}"
    );
    let other = bench.refusal(&plant(first, vec![bench.ear(3)]));
    assert!(other.contains("ear 3 is not on this list"), "{other}");
    bench.run(&plant(first, Vec::new()));
    let again = bench.refusal(&plant(first, Vec::new()));
    assert!(
        again.contains("everything on this list was planted already"),
        "{again}"
    );

    let second = bench.freeze(&[(3, 25)], "mice took a row");
    let old = bench.refusal(&plant(first, vec![bench.ear(2)]));
    assert!(old.contains("was replaced by list 2"), "{old}");
    bench.run(&plant(second, Vec::new()));
    assert_eq!(bench.stock(3), (Some(20), 0, Some(20)));
}

#[test]
fn a_list_that_replaces_another_frees_what_that_one_reserved() {
    let mut bench = Bench::new();
    bench.freeze(&[(1, 60), (2, 30)], "");
    assert_eq!(bench.stock(1), (Some(100), 60, Some(40)));
    bench.freeze(&[(2, 40)], "ear 1 went to a neighbour");
    assert_eq!(bench.stock(1), (Some(100), 0, Some(100)));
    assert_eq!(bench.stock(2), (Some(60), 40, Some(20)));
}

#[test]
fn a_packet_that_was_emptied_in_between_is_named_and_nothing_is_planted() {
    let mut bench = Bench::new();
    let list = bench.freeze(&[(1, 30), (2, 30)], "");
    bench.run(&Command::EditEars(vec![EarEdit {
        ear: bench.ear(2),
        field: EarField::Kernels,
        value: EarValue::Whole(12),
    }]));
    assert_eq!(bench.stock(2).2, Some(-18), "the list wants more than there is");
    let todo = Insight::default().todo(&bench.0, SPRING);
    let named = todo
        .iter()
        .find(|one| one.sentence.contains("has still to plant"))
        .unwrap();
    assert_eq!(
        named.sentence,
        "Ear 2: its packet no longer holds what planting list 1 has still to plant. Count the kernels again, or freeze a \
         revision."
    );
    assert_eq!(named.evidence, "Ear 2: 12 left, 30 to plant.");
    assert_eq!((named.pane, &named.ears), (Pane::Planting, &vec![bench.ear(2)]));
    let short = bench.refusal(&plant(list, Vec::new()));
    assert!(
        short.contains("too few kernels in the packets of 1 ear to plant what the list says: ear 2"),
        "{short}"
    );
    bench.run(&plant(list, vec![bench.ear(1)]));
    assert_eq!(bench.stock(1).0, Some(70));
    bench.run(&Command::EditEars(vec![EarEdit {
        ear: bench.ear(2),
        field: EarField::Kernels,
        value: EarValue::Whole(30),
    }]));
    let todo = Insight::default().todo(&bench.0, SPRING);
    assert!(
        todo.iter()
            .all(|one| !one.sentence.contains("has still to plant"))
    );
}

#[test]
fn planting_is_undone_in_one_step() {
    let mut bench = Bench::new();
    let list = bench.freeze(&[(1, 30), (4, 30)], "");
    let before = bench.project().clone();
    bench.run(&plant(list, Vec::new()));
    assert!(bench.0.undo(&stamp()).unwrap().is_some());
    assert!(*bench.project() == before);
}

/// What the ledger of an ear says went in or out for reasons of one kind.
fn ledger(project: &Project, ear: EarId, is_meant: impl Fn(LedgerReason) -> bool) -> i64 {
    let lines = project.packets_of(ear).flat_map(|packet| &packet.ledger);
    let meant = lines.filter(|line| is_meant(line.reason));
    meant.map(|line| i64::from(line.kernels)).sum()
}

/// Nothing appears and nothing is lost: what was shelled is laid in cells, planted from lists, given away, lost, or on
/// hand. Laid kernels are those of the cells, planted ones those of the list, and not what the ledger says of itself.
#[test]
fn the_kernels_of_every_demo_add_up() {
    let mut demos: Vec<Project> = demo::NAMES.iter().map(|name| demo::make(name).unwrap()).collect();
    demos.push(demo::sized(300, 2, 5).unwrap());
    for project in demos {
        let mut document = Document::new(project);
        let season = document.project().latest_season().unwrap().id;
        if document.project().list_in_force(season).is_none() {
            let insight = Insight::default();
            let cutoffs = insight.cutoffs(&document, season);
            let proposal = insight.list_draft(&document, season, &cutoffs);
            let draft = ListDraft {
                season,
                by: "Grower A".to_owned(),
                reason: String::new(),
                cutoffs,
                entries: proposal.entries.clone(),
                reserves: proposal.reserves.clone(),
            };
            document.run(&Command::Freeze(draft), &stamp()).unwrap();
        }
        let list = document.project().list_in_force(season).unwrap().clone();
        let given = list.entries[0].ear;
        document.run(&plant(list.id, Vec::new()), &stamp()).unwrap();
        // A neighbour gets five, and mice get three.
        let project = document.project();
        let packet = project.packets_of(given).next().unwrap().clone();
        let mut after = packet.clone();
        for (kernels, reason) in [(-5, LedgerReason::Given), (-3, LedgerReason::Lost)] {
            after.ledger.push(LedgerLine {
                on: Some(SPRING),
                kernels,
                reason,
                note: String::new(),
            });
        }
        let change = Transaction::new("Give some", vec![Change::replace(&packet, after)]);
        document.commit(change, &stamp()).unwrap();

        let project = document.project();
        let (mut checked, mut laid_in_all, mut planted_in_all) = (0, 0, 0);
        for ear in project
            .ears
            .iter()
            .filter(|ear| project.kernels_of(ear.id).is_some())
        {
            let cells = project
                .cells_of_ear(ear.id)
                .filter(|cell| project.laid_on(cell).is_some());
            let laid: i64 = cells.map(|cell| i64::from(project.sown(cell))).sum();
            let planted: i64 = project
                .lists
                .iter()
                .flat_map(|list| list.entries.iter().map(move |entry| (list, entry)))
                .filter(|(list, entry)| entry.ear == ear.id && project.is_planted(list, entry))
                .map(|(_, entry)| i64::from(entry.plant))
                .sum();
            let away = -ledger(project, ear.id, |reason| {
                matches!(reason, LedgerReason::Given | LedgerReason::Lost)
            });
            assert_eq!(away, if ear.id == given { 8 } else { 0 });
            let shelled = ledger(project, ear.id, LedgerReason::is_a_count);
            let on_hand = project.kernels_of(ear.id).unwrap();
            assert_eq!(
                shelled,
                laid + planted + away + on_hand,
                "ear {} of {}",
                ear.number,
                project.about.name
            );
            (checked, laid_in_all, planted_in_all) =
                (checked + 1, laid_in_all + laid, planted_in_all + planted);
        }
        assert!(checked > 10 && laid_in_all > 0 && planted_in_all > 0, "{checked}");
    }
}

// ---- the season after a list -----------------------------------------------------------------------------

#[test]
fn the_next_season_has_a_row_for_each_ear_that_is_planted_and_closes_the_one_before() {
    let mut bench = Bench::new();
    let list = bench.freeze(&[(1, 30), (2, 30), (3, 20)], "");
    bench.run(&Command::Plant {
        list,
        ears: Vec::new(),
        on: SPRING,
    });
    bench.run(&Command::BeginFromList {
        list,
        year: 2026,
        planted: None,
    });
    let project = bench.project();
    let season = project.season_of_year(2026).unwrap();
    assert_eq!(
        season.planted,
        Some(SPRING),
        "the day on which the list was planted"
    );
    assert_eq!((season.remnant, season.plant_each), (20, 30));
    let rows: Vec<(&str, &RowSource)> = project
        .rows_of(season.id)
        .map(|row| (row.label.as_str(), &row.source))
        .collect();
    let sources = [1, 2, 3].map(|number| RowSource::Ear(bench.ear(number)));
    assert_eq!(rows, [("1", &sources[0]), ("2", &sources[1]), ("3", &sources[2])]);
    // The remnants are where they were.
    assert_eq!(project.kernels_of(bench.ear(1)), Some(70));
    assert!(project.seasons.get(SEASON).unwrap().closed.is_some());
}

#[test]
fn by_a_field_plan_a_family_is_one_row_under_all_its_stakes() {
    let mut bench = Bench::new();
    let list = bench.freeze(&[(1, 30), (2, 30), (3, 20)], "");
    let shape = FieldShape {
        replicates: 2,
        check_every: Some(3),
        bulk_every: Some(3),
        ..FieldShape::in_inches()
    };
    bench.run(&Command::PlanField { list, shape, seed: 4 });
    bench.run(&Command::BeginFromList {
        list,
        year: 2026,
        planted: Some(SPRING),
    });
    let project = bench.project();
    let season = project.season_of_year(2026).unwrap().id;
    let plan = project.plan_of(list).unwrap();
    for number in 1..=3 {
        let ear = bench.ear(number);
        let stakes: Vec<String> = project
            .field_rows_of(plan.id)
            .filter(|row| row.content == FieldContent::Ear(ear))
            .map(|row| row.stake.to_string())
            .collect();
        assert_eq!(stakes.len(), 2);
        let row = project.row_labelled(season, &stakes.join("/")).unwrap();
        assert_eq!(row.source, RowSource::Ear(ear));
        // Whichever stake an ear is picked at, it gets this row.
        for stake in &stakes {
            assert_eq!(project.row_labelled(season, stake).unwrap().id, row.id);
        }
        assert_eq!(project.row_labelled(season, "/"), None);
    }
    assert!(matches!(
        project.row_labelled(season, "bulk").unwrap().source,
        RowSource::Bulk(_)
    ));
    assert!(matches!(
        project.row_labelled(season, "check").unwrap().source,
        RowSource::CheckLot(_)
    ));
    assert_eq!(project.rows_of(season).count(), 5);
    // An ear picked at a stake belongs to the family.
    let stake = project
        .field_rows_of(plan.id)
        .find(|row| row.content.ear().is_some())
        .unwrap()
        .stake;
    let rows = project.rows.len();
    bench.run(&Command::AddEars {
        season,
        drafts: vec![EarDraft {
            row: Some(stake.to_string()),
            ..EarDraft::default()
        }],
        existing: Existing::Refuse,
    });
    assert_eq!(bench.project().rows.len(), rows);
}

#[test]
fn a_closed_season_is_corrected_only_with_a_reason_and_its_packets_stay_free() {
    let mut bench = Bench::new();
    let list = bench.freeze(&[(1, 30), (2, 30)], "");
    bench.run(&Command::BeginFromList {
        list,
        year: 2026,
        planted: None,
    });
    let ear = bench.ear(2);
    let note = |text: &str| {
        Command::EditEars(vec![EarEdit {
            ear,
            field: EarField::Note,
            value: EarValue::Text(text.to_owned()),
        }])
    };
    let edit = note("a red one");
    let said = bench.refusal(&edit);
    assert!(
        said.starts_with("season 2025 was closed on 2026-05-09;"),
        "{said}"
    );
    assert!(
        said.contains("open it with a reason in the pane Seasons"),
        "{said}"
    );
    // Planting goes on, as the list reaches into the next season.
    bench.run(&Command::Plant {
        list,
        ears: Vec::new(),
        on: SPRING,
    });
    let open = |reason: &str| Command::OpenSeason {
        season: SEASON,
        reason: reason.to_owned(),
    };
    assert!(bench.refusal(&open(" ")).contains("reason"));
    bench.run(&open("a note was forgotten"));
    bench.run(&edit);
    bench.run(&Command::CloseSeason(SEASON));
    let season = bench.project().seasons.get(SEASON).unwrap();
    assert_eq!(season.openings.len(), 1);
    assert_eq!(
        (season.openings[0].reason.as_str(), season.openings[0].by.as_str()),
        ("a note was forgotten", "Grower A")
    );
    assert!(bench.refusal(&note("a blue one")).contains("was closed on"));
    assert!(
        bench
            .refusal(&Command::CloseSeason(SEASON))
            .contains("closed already")
    );
    // The year before cannot come after, and no year comes twice.
    for (year, part) in [(2025, "give a later year"), (2026, "is there already")] {
        let again = Command::BeginFromList {
            list,
            year,
            planted: None,
        };
        assert!(bench.refusal(&again).contains(part), "{year}");
    }
}

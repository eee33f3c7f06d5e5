//! Seed in store: its age, its last test, what is to be tested again and grown anew, by an example reckoned by hand.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use jiff::civil::date;
use wintercrib::insight::{Insight, PacketQuery, RegrowWhy, Storage, last_test, packet_line};
use wintercrib::model::*;

fn stamp() -> Stamp {
    Stamp {
        at: date(2026, 12, 1).at(10, 0, 0, 0),
        by: String::new(),
    }
}

struct Bench(Document);

impl Bench {
    fn run(&mut self, command: &Command) {
        self.0.run(command, &stamp()).unwrap();
    }

    fn ears(&mut self, season: u32, ears: &[(&str, Option<u32>)]) {
        let drafts = ears.iter().map(|(row, kernels)| EarDraft {
            row: Some((*row).to_owned()),
            kernels: *kernels,
            ..EarDraft::default()
        });
        self.run(&Command::AddEars {
            season: SeasonId(season),
            drafts: drafts.collect(),
            existing: Existing::Refuse,
        });
    }

    fn row(&mut self, season: u32, label: &str, ear: u32) {
        self.run(&Command::AddRow {
            season: SeasonId(season),
            label: label.to_owned(),
            source: RowSource::Ear(EarId(ear)),
        });
    }

    /// Tests an ear with ten kernels of which so many germinate.
    fn test(&mut self, season: u32, ear: u32, name: &str, laid: jiff::civil::Date, germinated: u16) {
        self.run(&Command::DesignTest(TestDesign {
            season: SeasonId(season),
            replaces: None,
            name: name.to_owned(),
            plan: TrayPlan::default(),
            recipe: Recipe::default(),
            check_lot: String::new(),
            seed: 1,
            ears: Some(vec![EarId(ear)]),
        }));
        let test = self.0.project().tests.iter().next_back().unwrap().id;
        self.run(&Command::LayTest {
            test,
            trays: Vec::new(),
            on: laid,
        });
        let project = self.0.project();
        let count = |cell: &Cell| {
            let sown = project.sown(cell);
            let dead = sown - germinated;
            Seen::new(
                cell.id,
                Pass::Final,
                Tally {
                    strong: germinated,
                    dead,
                    ..Tally::default()
                },
            )
        };
        let counts = project
            .cells_of_ear(EarId(ear))
            .filter(|cell| project.test_of_tray(cell.tray).unwrap().id == test);
        let counts: Vec<Seen> = counts.map(count).collect();
        self.run(&Command::RecordCounts {
            counts,
            on: None,
            by: String::new(),
        });
    }

    fn seed(&self) -> Storage {
        Insight::default().storage(&self.0).as_ref().clone()
    }
}

/// Ears 1 to 6 of 2022: two of row 1, one each of rows 2 to 5. From ear 1 grew row a of 2024 with ear 7, from that row x of
/// 2026 with ear 8. From ear 5, of row 4, grows row y of 2026, of which nothing is harvested yet.
fn four_years() -> Bench {
    let mut bench = Bench(Document::new(Project::new(About::new("Small Patch", "patch"))));
    for year in [2022, 2024, 2026] {
        bench.run(&Command::AddSeason { year, planted: None });
    }
    bench.ears(
        1,
        &[
            ("1", Some(100)),
            ("1", Some(200)),
            ("2", Some(40)),
            ("3", Some(60)),
            ("4", Some(90)),
            ("5", Some(500)),
        ],
    );
    bench.row(2, "a", 1);
    bench.ears(2, &[("a", Some(300))]);
    bench.row(3, "x", 7);
    bench.row(3, "y", 5);
    bench.ears(3, &[("x", Some(250))]);
    // Of row 3 everything was planted or lost.
    let edit = EarEdit {
        ear: EarId(4),
        field: EarField::Kernels,
        value: EarValue::Whole(0),
    };
    bench.run(&Command::EditEars(vec![edit]));
    bench.test(1, 3, "Cold", date(2023, 2, 1), 4);
    bench
}

#[test]
fn lines_whose_last_seed_is_old_few_or_low_are_ranked_with_their_reasons() {
    use RegrowWhy::{Few, Low, Old};
    let bench = four_years();
    let seed = bench.seed();
    assert_eq!(
        (seed.year, seed.years.as_slice()),
        (Some(2026), &[2026, 2024, 2022][..])
    );
    // Row 1 lives on in ear 8, row 4 is growing, row 3 has nothing left.
    let told: Vec<(&str, &[RegrowWhy])> = seed
        .regrow
        .iter()
        .map(|one| (one.line.as_str(), one.why.as_slice()))
        .collect();
    assert_eq!(
        told,
        [
            ("row 2 of 2022", &[Old, Few, Low][..]),
            ("row 5 of 2022", &[Old][..])
        ]
    );
    assert_eq!(seed.lost, ["row 3 of 2022"]);
    assert_eq!(
        seed.regrow[0].sentence,
        "The line of row 2 of 2022: last harvested in 2022, 4 seasons ago, called old from 4; 30 kernels in 1 packet, called few below 50; 4 of 10 germinated in the last tests, between 17 and 69 % with 95 % confidence, called low below 60 %. Grow it from ear 3 of 2022 (30 kernels in 1 packet)."
    );
    assert_eq!(seed.all().text(), "1470 kernels in 7 packets");
}

#[test]
fn the_rules_are_the_grower_s_own() {
    let mut bench = four_years();
    let about = bench.0.project().about.clone();
    let storage = StorageRules {
        test_after: 5,
        old_after: 5,
        few_kernels: 20,
        low_percent: 40,
    };
    bench.run(&Command::Describe(About { storage, ..about }));
    let seed = bench.seed();
    // 4 of 10 is 40 %, and not below 40 %.
    assert_eq!(seed.regrow, []);
    assert_eq!(seed.again, []);
    let wrong = StorageRules {
        test_after: 0,
        ..storage
    };
    let about = bench.0.project().about.clone();
    let refused = bench.0.run(
        &Command::Describe(About {
            storage: wrong,
            ..about
        }),
        &stamp(),
    );
    assert!(
        refused
            .unwrap_err()
            .to_string()
            .contains("the seasons until seed is tested again")
    );
}

#[test]
fn carried_over_seed_is_tested_again_until_it_was() {
    let mut bench = four_years();
    // Ear 1 is a mother and so is ear 7; ears 3, 5 and 6 are the last seed of their lines. Ear 2 is a sister only.
    let due = |bench: &Bench| -> Vec<(i16, u32, i16)> {
        bench
            .seed()
            .again
            .iter()
            .map(|one| (one.year, one.number, one.seasons))
            .collect()
    };
    assert_eq!(
        due(&bench),
        [
            (2022, 1, 4),
            (2022, 3, 4),
            (2022, 5, 4),
            (2022, 6, 4),
            (2024, 1, 2)
        ]
    );
    let seed = bench.seed();
    assert_eq!(
        seed.again[1].sentence(),
        "Ear 3 of 2022: 30 kernels in 1 packet; last tested 4 seasons ago: 4 of 10 germinated on 2023-02-01."
    );
    assert!(
        seed.again[0]
            .sentence()
            .ends_with("never tested, harvested 4 seasons ago.")
    );
    // In the winter after the harvest of 2025 it is tested again: that is the test that counts now.
    bench.test(1, 3, "Again", date(2026, 2, 1), 9);
    let last = last_test(bench.0.project(), bench.0.project().ears.get(EarId(3)).unwrap()).unwrap();
    assert_eq!((last.year, last.counts.k(), last.counts.n()), (2025, 9, 10));
    assert!(due(&bench).iter().all(|(_, number, _)| *number != 3));
    let regrow = bench.seed().regrow;
    assert_eq!(regrow[0].why, [RegrowWhy::Old, RegrowWhy::Few]);
    // A test in the autumn belongs to the harvest of that year.
    bench.test(1, 6, "Autumn", date(2024, 11, 1), 10);
    let last = last_test(bench.0.project(), bench.0.project().ears.get(EarId(6)).unwrap()).unwrap();
    assert_eq!(last.year, 2024);
}

#[test]
fn packets_are_summed_by_place_and_season() {
    let mut bench = four_years();
    for (name, celsius) in [("Cellar", Some(10.0)), ("Box room", None)] {
        bench.run(&Command::AddStore(StorePlace {
            id: StoreId(0),
            name: name.to_owned(),
            temperature_c: celsius,
            humidity_percent: Some(50.0),
            note: String::new(),
        }));
    }
    let of = |ears: &[u32], project: &Project| -> Vec<PacketId> {
        let mut found = Vec::new();
        for ear in ears {
            found.extend(project.packets_of(EarId(*ear)).map(|packet| packet.id));
        }
        found
    };
    let packets = of(&[1, 2, 7, 4], bench.0.project());
    bench.run(&Command::StorePackets {
        packets,
        store: Some(StoreId(1)),
    });
    let seed = bench.seed();
    let names: Vec<&str> = seed.stores.iter().map(|line| line.name.as_str()).collect();
    assert_eq!(names, ["Box room", "Cellar", "no place noted"]);
    let cellar: Vec<i64> = seed.stores[1]
        .in_years
        .iter()
        .map(|amount| amount.kernels)
        .collect();
    assert_eq!(cellar, [0, 300, 300]);
    // The empty packet of ear 4 is no packet with seed.
    assert_eq!(seed.stores[1].all.packets, 3);
    assert_eq!(seed.stores[1].conditions, "50 °F, 50 %");
    assert_eq!(seed.stores[2].all.kernels, 250 + 30 + 90 + 500);
    let insight = Insight::default();
    let found = insight.find(&bench.0, "cellar");
    let first = &found.found[0];
    assert_eq!(
        (first.place, first.title.as_str(), first.detail.as_str()),
        (Place::Store(StoreId(1)), "Cellar", "storage place, 4 packets")
    );
    assert_eq!(
        insight.find(&bench.0, "room").found[0].place,
        Place::Store(StoreId(2))
    );
    let shown = |query: PacketQuery| -> Vec<(i16, u32)> {
        let found = insight.packets(&bench.0, &query);
        let lines = found
            .iter()
            .map(|id| packet_line(bench.0.project(), *id).unwrap());
        lines.map(|line| (line.year, line.number)).collect()
    };
    let cellar = PacketQuery {
        store: Some(Some(StoreId(1))),
        ..PacketQuery::default()
    };
    assert_eq!(shown(cellar.clone()), [(2022, 1), (2022, 2), (2024, 1)]);
    assert_eq!(
        shown(PacketQuery {
            year: Some(2024),
            ..cellar
        }),
        [(2024, 1)]
    );
    let nowhere = PacketQuery {
        store: Some(None),
        ..PacketQuery::default()
    };
    assert_eq!(shown(nowhere).len(), 4);
}

#[test]
fn a_project_without_seed_or_seasons_says_so() {
    let empty = Document::new(Project::new(About::new("Small Patch", "patch")));
    assert_eq!(Insight::default().storage(&empty).sentences(), [] as [&str; 0]);
    let mut bench = Bench(empty);
    bench.run(&Command::AddSeason {
        year: 2026,
        planted: None,
    });
    assert_eq!(
        bench.seed().sentences(),
        ["No packet holds kernels. Type the kernels of the ears in the pane Harvest."]
    );
    bench.ears(1, &[("1", None), ("1", Some(12))]);
    let place = EarEdit {
        ear: EarId(1),
        field: EarField::Location,
        value: EarValue::Text("box 1".to_owned()),
    };
    bench.run(&Command::EditEars(vec![place]));
    let said = bench.seed().sentences();
    assert_eq!(
        said,
        ["12 kernels in 2 packets, 1 of them never counted, of 1 season. Ages are reckoned to season 2026."]
    );
    // With one season nothing is carried over.
    assert_eq!(
        (bench.seed().again, bench.seed().regrow),
        (Vec::new(), Vec::new())
    );
}

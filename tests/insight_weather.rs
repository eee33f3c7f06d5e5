//! Heat units and frost of ears, from the weather and the dates that are noted.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use jiff::ToSpan as _;
use jiff::civil::{Date, date};
use wintercrib::demo;
use wintercrib::insight::{
    EarColumn, Frost, FrostKind, Heat, Insight, KIESSELBACH, heat_to_maturity, heat_to_silk, heat_units_c,
    is_frosted,
};
use wintercrib::model::{
    About, Command, Cutoffs, Document, Ear, EarDraft, EarEdit, EarField, EarId, EarValue, Existing, Project,
    RowSource, SeasonId, SeenWhileMoving, Stamp, TemperatureUnit, Units, WeatherDay, Word, WordKind,
};

const PLANTED: Date = date(2026, 5, 10);

fn fahrenheit(on: Date, high: f64, low: f64) -> WeatherDay {
    let celsius = |degrees| TemperatureUnit::Fahrenheit.to_celsius(degrees);
    WeatherDay {
        on,
        high_c: celsius(high),
        low_c: celsius(low),
    }
}

/// A season planted on 10 May with three ears that matured after 100 days; 80/60 °F on every day from 1 April to the end
/// of September.
struct Bench {
    doc: Document,
}

impl Bench {
    fn new(unit: TemperatureUnit) -> Self {
        let about = About {
            units: Units {
                temperature: unit,
                ..Units::default()
            },
            ..About::new("Corn", "corn")
        };
        let mut bench = Self {
            doc: Document::new(Project::new(about)),
        };
        bench.run(&Command::AddSeason {
            year: 2026,
            planted: Some(PLANTED),
        });
        let draft = EarDraft {
            row: Some("7".to_owned()),
            matured: Some(PLANTED + 100.days()),
            ..EarDraft::default()
        };
        bench.run(&Command::AddEars {
            season: SeasonId(1),
            drafts: vec![draft.clone(), draft.clone(), draft],
            existing: Existing::Refuse,
        });
        let days = (0..183).map(|day: i32| fahrenheit(date(2026, 4, 1) + day.days(), 80.0, 60.0));
        bench.run(&Command::TakeWeather(days.collect()));
        bench
    }

    fn run(&mut self, command: &Command) {
        let stamp = Stamp {
            at: date(2026, 10, 1).at(9, 0, 0, 0),
            by: "Grower A".to_owned(),
        };
        self.doc.run(command, &stamp).unwrap();
    }

    fn edit(&mut self, ear: u32, field: EarField, value: EarValue) {
        let ear = EarId(ear);
        self.run(&Command::EditEars(vec![EarEdit { ear, field, value }]));
    }

    fn day(&mut self, on: Date, high: f64, low: f64) {
        self.run(&Command::TakeWeather(vec![fahrenheit(on, high, low)]));
    }

    fn ear(&self, ear: u32) -> &Ear {
        self.doc.project().ears.get(EarId(ear)).unwrap()
    }

    fn heat(&self, ear: u32) -> Heat {
        heat_to_maturity(self.doc.project(), self.ear(ear))
    }

    fn frost(&self, ear: u32) -> Frost {
        let frost = Frost::of(self.doc.project(), self.ear(ear));
        assert_eq!(
            frost.frosted,
            is_frosted(self.doc.project(), self.ear(ear)),
            "with and without words"
        );
        frost
    }

    fn pick(&mut self, ear: u32, on: Date) {
        self.edit(ear, EarField::Picked, EarValue::Date(on));
    }
}

#[test]
fn heat_is_counted_from_the_day_after_planting_to_maturity() {
    let bench = Bench::new(TemperatureUnit::Fahrenheit);
    let Heat::Summed { heat_c, from, to } = bench.heat(1) else {
        panic!("{:?}", bench.heat(1));
    };
    // 80/60 is 20 a day, as OSU Extension fact sheet AGF-101 prints it, counted from the day after planting, as it says.
    assert!((heat_c * 1.8 - 2000.0).abs() < 1.0, "{heat_c}");
    assert_eq!((from, to), (date(2026, 5, 11), date(2026, 8, 18)));
    let said = bench.heat(1).sentence(bench.doc.project());
    assert!(
        said.ends_with(" °F days, summed from the weather of 2026-05-11 to 2026-08-18."),
        "{said}"
    );
    let text = EarColumn::HeatUnits.text(bench.doc.project(), bench.ear(1));
    assert!(text.starts_with("200"), "{text}");
    assert!(EarColumn::HeatUnits.is_derived(bench.ear(1)));
    let celsius = Bench::new(TemperatureUnit::Celsius);
    let text = EarColumn::HeatUnits.text(celsius.doc.project(), celsius.ear(1));
    assert!(text.starts_with("111"), "{text}");
}

#[test]
fn what_was_noted_wins_over_the_weather() {
    let mut bench = Bench::new(TemperatureUnit::Celsius);
    bench.edit(2, EarField::HeatUnits, EarValue::Number(1_234.5));
    assert_eq!(bench.heat(2), Heat::Noted(1_234.5));
    assert_eq!(
        bench.heat(2).sentence(bench.doc.project()),
        "1234.5 °C days, as noted."
    );
    assert!(!EarColumn::HeatUnits.is_derived(bench.ear(2)));
    // Days of maturity that were noted go before the date.
    bench.edit(3, EarField::MaturityDays, EarValue::Whole(50));
    let Heat::Summed { to, .. } = bench.heat(3) else {
        panic!()
    };
    assert_eq!(to, PLANTED + 50.days());
}

#[test]
fn a_missing_day_makes_the_sum_unknown_and_is_named() {
    let mut bench = Bench::new(TemperatureUnit::Celsius);
    let unknown = |bench: &Bench, ear| match bench.heat(ear) {
        Heat::Unknown(why) => why,
        known => panic!("{known:?}"),
    };
    bench.run(&Command::RemoveWeather {
        from: date(2026, 6, 3),
        to: date(2026, 6, 4),
    });
    bench.run(&Command::RemoveWeather {
        from: date(2026, 8, 18),
        to: date(2026, 8, 18),
    });
    assert_eq!(
        unknown(&bench, 1),
        "Not known, as the weather of 2026-06-03 to 2026-06-04 and 2026-08-18 is missing."
    );
    assert_eq!(heat_units_c(bench.doc.project(), bench.ear(1)), None);
    assert_eq!(EarColumn::HeatUnits.text(bench.doc.project(), bench.ear(1)), "");
    bench.edit(1, EarField::Matured, EarValue::Empty);
    assert_eq!(
        unknown(&bench, 1),
        "Not known, as the day of maturity is not noted."
    );
    // The day of planting itself does not count, so it may be missing.
    let mut bench = Bench::new(TemperatureUnit::Celsius);
    bench.run(&Command::RemoveWeather {
        from: PLANTED,
        to: PLANTED,
    });
    assert!(bench.heat(1).heat_c().is_some());
    bench.run(&Command::RemoveWeather {
        from: date(2026, 1, 1),
        to: date(2026, 12, 31),
    });
    assert!(unknown(&bench, 1).contains("there is no weather yet"));
}

#[test]
fn an_ear_that_was_out_in_a_frost_is_frosted_and_one_that_was_in_is_not() {
    let mut bench = Bench::new(TemperatureUnit::Fahrenheit);
    bench.pick(1, date(2026, 9, 9));
    bench.pick(2, date(2026, 9, 10));
    bench.day(date(2026, 9, 10), 60.0, 31.0);
    assert_eq!(bench.frost(1).frosted, Some(false));
    assert_eq!(
        bench.frost(1).sentence,
        "Not frosted: picked on 2026-09-09, and no day before had a low at or below 32 °F."
    );
    // The low falls at dawn: what was picked that day was out.
    let frost = bench.frost(2);
    assert_eq!(frost.frosted, Some(true));
    assert!(!frost.is_noted);
    assert!(
        frost.sentence.starts_with(
            "Frosted by the weather: still out on 2026-09-10 (picked on 2026-09-10); the lowest low was 31 °F on 2026-09-10, a light frost; it had matured on 2026-08-18."
        ),
        "{}",
        frost.sentence
    );
    assert_eq!(
        bench.frost(3).sentence,
        "Not known, as the day of picking is not noted; the first low at or below 32 °F was on 2026-09-10."
    );
    assert_eq!(bench.frost(3).frosted, None);
    assert_eq!(EarColumn::Frosted.text(bench.doc.project(), bench.ear(2)), "yes");
    assert_eq!(EarColumn::Frosted.text(bench.doc.project(), bench.ear(3)), "");
    // 28 °F is a killing frost, 28.1 is not.
    bench.day(date(2026, 9, 8), 60.0, 28.0);
    assert!(
        bench
            .frost(1)
            .sentence
            .contains("28 °F on 2026-09-08, a killing frost")
    );
    bench.day(date(2026, 9, 8), 60.0, 28.1);
    assert!(bench.frost(1).sentence.contains("a light frost"));
    let view = Insight::default();
    let view = view.season_weather(&bench.doc, SeasonId(1));
    let view = view.as_ref().as_ref().unwrap();
    let frosts: Vec<(Date, Option<FrostKind>)> = view
        .days
        .iter()
        .filter(|day| day.frost.is_some())
        .map(|day| (day.day.on, day.frost))
        .collect();
    assert_eq!(
        frosts,
        [
            (date(2026, 9, 8), Some(FrostKind::Light)),
            (date(2026, 9, 10), Some(FrostKind::Light))
        ]
    );
    assert_eq!((view.frosted, view.frost_unknown), (2, 1));
}

#[test]
fn frost_before_there_were_ears_does_not_count() {
    let mut bench = Bench::new(TemperatureUnit::Fahrenheit);
    bench.pick(1, date(2026, 9, 9));
    bench.day(date(2026, 5, 14), 60.0, 30.0);
    // The ear matured on 18 August; silk was 62 days before it, on 17 June (Nielsen 2013).
    assert_eq!(bench.frost(1).frosted, Some(false));
    bench.day(date(2026, 6, 16), 60.0, 30.0);
    assert_eq!(bench.frost(1).frosted, Some(false));
    bench.day(date(2026, 6, 17), 60.0, 30.0);
    assert_eq!(bench.frost(1).frosted, Some(true));
    bench.edit(1, EarField::Matured, EarValue::Empty);
    let frost = bench.frost(1);
    assert_eq!(frost.frosted, None);
    assert!(frost.sentence.contains("neither silk nor maturity is noted"));
    // Without any frost since planting nothing more has to be known.
    for day in [date(2026, 5, 14), date(2026, 6, 16), date(2026, 6, 17)] {
        bench.day(day, 60.0, 40.0);
    }
    assert_eq!(bench.frost(1).frosted, Some(false));
    bench.run(&Command::RemoveWeather {
        from: date(2026, 7, 1),
        to: date(2026, 7, 1),
    });
    assert_eq!(bench.frost(1).frosted, None);
    assert!(
        bench
            .frost(1)
            .sentence
            .contains("the weather of 2026-07-01 is missing")
    );
}

#[test]
fn the_growers_word_wins_and_the_weather_is_told_beside_it() {
    let mut bench = Bench::new(TemperatureUnit::Celsius);
    bench.pick(1, date(2026, 9, 12));
    bench.day(date(2026, 9, 10), 60.0, 30.0);
    bench.edit(1, EarField::Frosted, EarValue::Flag(false));
    let frost = bench.frost(1);
    assert_eq!((frost.frosted, frost.is_noted), (Some(false), true));
    assert!(
        frost
            .sentence
            .starts_with("Not frosted, as noted. By the weather it would be otherwise: Frosted by"),
        "{}",
        frost.sentence
    );
    assert!(frost.sentence.ends_with("The word that was noted counts."));
    bench.edit(1, EarField::Frosted, EarValue::Flag(true));
    assert!(
        bench
            .frost(1)
            .sentence
            .contains("The weather says so too: Frosted by")
    );
    bench.edit(3, EarField::Frosted, EarValue::Flag(true));
    assert_eq!(bench.frost(3).sentence, "Frosted, as noted.");
    assert!(!EarColumn::Frosted.is_derived(bench.ear(3)));
}

#[test]
fn the_limit_of_frost_is_the_projects() {
    let mut bench = Bench::new(TemperatureUnit::Celsius);
    bench.pick(1, date(2026, 9, 12));
    bench.day(date(2026, 9, 10), 60.0, 33.0);
    assert_eq!(bench.frost(1).frosted, Some(false));
    let about = About {
        frost_c: Some(1.0),
        ..bench.doc.project().about.clone()
    };
    bench.run(&Command::Describe(about.clone()));
    assert_eq!(bench.frost(1).frosted, Some(true));
    let stamp = Stamp {
        at: date(2026, 10, 1).at(9, 0, 0, 0),
        by: String::new(),
    };
    let about = About {
        frost_c: Some(30.0),
        ..about
    };
    assert!(bench.doc.run(&Command::Describe(about), &stamp).is_err());
}

/// Kiesselbach's table as it is transcribed, and the page's own text for the warmest line, which the alignment rests on:
/// 80 % at 25 to 35 % moisture and 80 % at 35 to 45 %, after 24 hours at 28 to 32 °F.
#[test]
fn the_table_of_frosted_seed_is_as_printed() {
    let mean = |one: Option<u8>, other: Option<u8>| {
        f64::midpoint(f64::from(one.unwrap()), f64::from(other.unwrap()))
    };
    let warmest = KIESSELBACH[0].percent;
    assert!((mean(warmest[2], warmest[3]) - 80.0).abs() <= 1.0);
    assert!((mean(warmest[0], warmest[1]) - 80.0).abs() <= 1.0);
    assert_eq!(warmest[4], Some(100));
    let printed = [
        (28.0, 32.0, vec![69, 91, 77, 85, 100]),
        (20.0, 24.0, vec![12, 0, 67, 77, 96, 100]),
        (12.0, 16.0, vec![0, 0, 12, 34, 88, 100]),
        (4.0, 8.0, vec![0, 0, 0, 7, 47, 98, 100]),
        (-5.0, 0.0, vec![0, 0, 0, 0, 0, 63, 97]),
    ];
    for (line, (from, to, percents)) in KIESSELBACH.iter().zip(printed) {
        assert_eq!(format!("{:?}", line.fahrenheit), format!("{:?}", [from, to]));
        let known: Vec<u8> = line.percent.iter().copied().flatten().collect();
        assert_eq!(known, percents);
        // Where as many values as columns were kept, or the page's text agrees, the columns are certain.
        assert_eq!(line.is_uncertain, (12.0..=20.0).contains(&from));
    }
}

#[test]
fn a_caution_tells_what_such_a_frost_does_to_wet_seed() {
    let mut bench = Bench::new(TemperatureUnit::Fahrenheit);
    bench.pick(1, date(2026, 9, 12));
    bench.day(date(2026, 9, 10), 60.0, 29.0);
    let said = bench.frost(1).sentence;
    for part in [
        "24 hours at 28 °F to 32 °F left 77 % of kernels at 30 to 35 % moisture, as at maturity",
        "a night is shorter.",
    ] {
        assert!(said.contains(part), "{said}");
    }
    assert!(!said.contains("likely, not certain"), "{said}");
    // Between two lines the colder one is told; its columns are not certain.
    bench.day(date(2026, 9, 10), 60.0, 26.0);
    let said = bench.frost(1).sentence;
    assert!(said.contains("20 °F to 24 °F left 67 %"), "{said}");
    assert!(said.contains("likely, not certain"), "{said}");
    // Colder than all lines.
    bench.day(date(2026, 9, 10), 20.0, -20.0);
    assert!(bench.frost(1).sentence.contains("-5 °F to 0 °F left 0 %"));
    // Before maturity the kernels are wetter.
    bench.day(date(2026, 9, 10), 60.0, 29.0);
    bench.edit(1, EarField::Matured, EarValue::Date(date(2026, 9, 11)));
    let said = bench.frost(1).sentence;
    assert!(said.contains("it was not mature until 2026-09-11"), "{said}");
    assert!(
        said.contains("69 to 91 % of kernels at 35 to 45 % moisture, as before maturity"),
        "{said}"
    );
}

/// The demo with three seasons notes silk at every stake of its field.
#[test]
fn heat_to_silk_follows_from_the_stakes_of_the_field() {
    let project = demo::make("corvane-flint").unwrap();
    let doc = Document::new(project);
    let project = doc.project();
    let heats = Insight::default().season_heats(&doc);
    assert_eq!(heats.len(), 3);
    let [latest, _, first] = heats.as_slice() else {
        panic!()
    };
    assert_eq!(
        first.silk.with_days, 0,
        "the field of the first season is from before the project"
    );
    assert!(latest.silk.with_days > 10 && latest.silk.with_heat == latest.silk.with_days);
    assert!(latest.maturity.heat_c > latest.silk.heat_c);
    let row = project
        .rows_of(latest.season)
        .find(|row| project.silk_on(row.id).is_some())
        .unwrap();
    let RowSource::Ear(mother) = row.source else {
        panic!()
    };
    // The middle of what was noted at its stakes, in that year.
    let mut noted: Vec<Date> = project
        .field_rows
        .iter()
        .filter(|stake| stake.content.ear() == Some(mother))
        .filter_map(|stake| stake.seen.silk_on)
        .filter(|day| day.year() == latest.year)
        .collect();
    noted.sort_unstable();
    let silk = noted[(noted.len() - 1) / 2];
    assert_eq!(project.silk_on(row.id), Some(silk));
    // Its heat, day by day with the rule written out.
    let planted = project.seasons.get(latest.season).unwrap().planted.unwrap();
    let by_hand: f64 = project
        .weather_days()
        .all()
        .iter()
        .filter(|day| day.on > planted && day.on <= silk)
        .map(|day| f64::midpoint(day.high_c.clamp(10.0, 30.0), day.low_c.clamp(10.0, 30.0)) - 10.0)
        .sum();
    let Heat::Summed { heat_c, from, to } = heat_to_silk(project, row.id) else {
        panic!()
    };
    assert!((heat_c - by_hand).abs() < 1e-5, "{heat_c} {by_hand}");
    assert_eq!((from, to), (planted + 1.days(), silk));
    // Nobody noted when an ear was picked, so nothing is said of frost.
    assert!(project.ears.iter().all(|ear| is_frosted(project, ear).is_none()));
    let card = Insight::default();
    let ear = project.ears_of_row(row.id).next().unwrap();
    let card = card.ear_card(&doc, ear.id);
    let titles: Vec<&str> = card
        .as_ref()
        .as_ref()
        .unwrap()
        .weather
        .iter()
        .map(|told| told.0)
        .collect();
    assert_eq!(
        titles,
        [
            "Heat units to maturity",
            "Heat units of its row to half silk",
            "Frost"
        ]
    );
}

#[test]
fn chosen_ears_that_frost_reached_are_named_until_the_grower_wants_them() {
    let mut doc = Document::new(demo::make("essel-thaw").unwrap());
    let stamp = Stamp {
        at: date(2026, 3, 1).at(9, 0, 0, 0),
        by: "Grower A".to_owned(),
    };
    let named = |doc: &Document| {
        let found = Insight::default().todo(doc, date(2026, 3, 1));
        let mut lines = found
            .iter()
            .filter(|line| line.sentence.contains("frost reached"));
        lines
            .next()
            .map(|line| (line.ears.clone(), line.sentence.clone()))
    };
    assert_eq!(named(&doc), None, "the cutoffs keep no frosted ear");
    let cutoffs = Cutoffs {
        germination_percent: Some(0.0),
        maturity_days: None,
        ..Cutoffs::default()
    };
    doc.run(
        &Command::SetCutoffs {
            season: SeasonId(1),
            cutoffs,
            seen: SeenWhileMoving::default(),
        },
        &stamp,
    )
    .unwrap();
    let (ears, sentence) = named(&doc).unwrap();
    assert!(!ears.is_empty(), "{sentence}");
    assert!(ears.iter().all(|ear| {
        let ear = doc.project().ears.get(*ear).unwrap();
        is_frosted(doc.project(), ear) == Some(true)
    }));
    doc.run(
        &Command::SetWord {
            season: SeasonId(1),
            ears,
            word: Some(Word {
                kind: WordKind::Always,
                reason: "its kernels were dry".to_owned(),
            }),
        },
        &stamp,
    )
    .unwrap();
    assert_eq!(named(&doc), None);
}

#[test]
fn seasons_are_compared_in_days_and_heat() {
    let mut bench = Bench::new(TemperatureUnit::Fahrenheit);
    bench.edit(2, EarField::Matured, EarValue::Date(PLANTED + 110.days()));
    bench.edit(3, EarField::Matured, EarValue::Empty);
    bench.run(&Command::AddSeason {
        year: 2027,
        planted: None,
    });
    let insight = Insight::default();
    let heats = insight.season_heats(&bench.doc);
    assert_eq!(heats.iter().map(|one| one.year).collect::<Vec<_>>(), [2027, 2026]);
    let (none, one) = (&heats[0].maturity, &heats[1].maturity);
    assert_eq!((none.days, none.heat_c, none.with_days), (None, None, 0));
    assert_eq!((one.days, one.with_days, one.with_heat), (Some(105.0), 2, 2));
    assert!((one.heat_c.unwrap() * 1.8 - 2100.0).abs() < 1.0);
    assert_eq!(heats[1].silk.with_days, 0);
    // A view is computed again when the weather changes, and not before.
    let again = insight.season_heats(&bench.doc);
    assert!(std::sync::Arc::ptr_eq(&heats, &again));
    bench.day(date(2026, 6, 1), 60.0, 40.0);
    let after = insight.season_heats(&bench.doc);
    assert!(after[1].maturity.heat_c < one.heat_c);
}

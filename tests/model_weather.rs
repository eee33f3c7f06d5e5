//! The weather of the grower's place: taking days, replacing them, removing them.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

use jiff::ToSpan as _;
use jiff::civil::{Date, date};
use wintercrib::insight::audit::audit;
use wintercrib::model::{
    About, Area, Command, Document, Place, Project, Stamp, WeatherDay, WeatherId, WeatherMonth,
};
use wintercrib::store::format;

fn stamp() -> Stamp {
    Stamp {
        at: date(2026, 10, 1).at(9, 0, 0, 0),
        by: "Grower A".to_owned(),
    }
}

fn day(on: Date, high_c: f64, low_c: f64) -> WeatherDay {
    WeatherDay { on, high_c, low_c }
}

fn document() -> Document {
    Document::new(Project::new(About::new("Corn", "corn")))
}

fn take(document: &mut Document, days: Vec<WeatherDay>) -> String {
    let done = document.run(&Command::TakeWeather(days), &stamp()).unwrap();
    done.label
}

fn refusal(document: &mut Document, command: &Command) -> String {
    let revision = document.revision_key([Area::Weather]);
    let problem = document.run(command, &stamp()).unwrap_err();
    assert_eq!(document.revision_key([Area::Weather]), revision);
    problem.fault.to_string()
}

#[test]
fn days_are_kept_by_month_and_a_day_of_the_same_date_is_replaced() {
    let mut document = document();
    let label = take(
        &mut document,
        vec![
            day(date(2026, 5, 31), 20.0, 8.0),
            day(date(2026, 6, 1), 21.123, -0.001),
            day(date(2025, 5, 31), 22.0, 9.0),
        ],
    );
    assert_eq!(label, "Take the weather of 3 days, 2025-05-31 to 2026-06-01");
    let months: Vec<(u32, String)> = document
        .project()
        .weather
        .iter()
        .map(|month| (month.id.0, month.name()))
        .collect();
    let named = |id, name: &str| (id, name.to_owned());
    assert_eq!(
        months,
        [
            named(202_505, "May 2025"),
            named(202_605, "May 2026"),
            named(202_606, "June 2026")
        ]
    );
    let known = |document: &Document, on| document.project().weather_days().on(on);
    // To a hundredth of a degree, and no minus before nothing.
    let june = known(&document, date(2026, 6, 1)).unwrap();
    assert_eq!((june.high_c, june.low_c), (21.12, 0.0));
    assert!(june.low_c.is_sign_positive());
    assert_eq!(
        take(&mut document, vec![day(date(2026, 5, 31), 19.0, 7.0)]),
        "Set the weather of 2026-05-31"
    );
    assert_eq!(
        known(&document, date(2026, 5, 31)),
        Some(day(date(2026, 5, 31), 19.0, 7.0))
    );
    document.undo(&stamp()).unwrap();
    assert_eq!(
        known(&document, date(2026, 5, 31)),
        Some(day(date(2026, 5, 31), 20.0, 8.0))
    );
    // What is there already changes nothing.
    let revision = document.revision_key([Area::Weather]);
    take(&mut document, vec![day(date(2026, 5, 31), 20.0, 8.0)]);
    assert_eq!(document.revision_key([Area::Weather]), revision);
}

#[test]
fn a_span_is_removed_and_a_month_without_days_is_none() {
    let mut document = document();
    let days = (0..90).map(|number: i32| day(date(2026, 4, 20) + number.days(), 20.0, 8.0));
    take(&mut document, days.collect());
    let before = format::write(document.project()).unwrap();
    let span = Command::RemoveWeather {
        from: date(2026, 4, 29),
        to: date(2026, 6, 2),
    };
    let done = document.run(&span, &stamp()).unwrap();
    assert_eq!(done.label, "Remove the weather of 2026-04-29 to 2026-06-02");
    assert_eq!(
        document
            .project()
            .weather_days()
            .missing(date(2026, 4, 20), date(2026, 7, 18)),
        [(date(2026, 4, 29), date(2026, 6, 2))]
    );
    assert!(!document.project().weather.contains(WeatherId(202_605)));
    assert!(refusal(&mut document, &span).contains("there is no weather from 2026-04-29"));
    document.undo(&stamp()).unwrap();
    assert_eq!(format::write(document.project()).unwrap(), before);
}

#[test]
fn what_cannot_be_is_refused_with_a_sentence() {
    let mut document = document();
    let on = date(2026, 5, 31);
    for (days, part) in [
        (vec![], "there are no days to take"),
        (
            vec![day(on, 7.0, 8.0)],
            "the high of 2026-05-31 (7 °C) is below its low (8 °C)",
        ),
        (
            vec![day(on, 70.0, 8.0)],
            "the high in °C is 70, but must be from -80 to 65",
        ),
        (vec![day(on, 20.0, -90.0)], "the low in °C is -90"),
        (vec![day(on, f64::NAN, 8.0)], "is not a number"),
        (
            vec![day(date(1700, 1, 1), 20.0, 8.0)],
            "the year of the weather is 1700",
        ),
        (
            vec![day(on, 20.0, 8.0), day(on, 21.0, 8.0)],
            "2026-05-31 is there twice",
        ),
    ] {
        let said = refusal(&mut document, &Command::TakeWeather(days));
        assert!(said.contains(part), "{said}");
    }
    // And in a file that was edited by hand.
    take(&mut document, vec![day(on, 20.0, 8.0)]);
    let text = format::write(document.project()).unwrap();
    let line = "(id: 202605, days: {31: (20.0, 8.0)})";
    assert!(text.contains(line), "{text}");
    for (other, part) in [
        ("(id: 202613, days: {31: (20.0, 8.0)})", "202613 is not a month"),
        (
            "(id: 202604, days: {31: (20.0, 8.0)})",
            "April 2026 has no day 31",
        ),
        ("(id: 202605, days: {31: (2.0, 8.0)})", "is below its low"),
        ("(id: 202605, days: {})", "it holds no days"),
    ] {
        let edited: Project = format::read(text.replace(line, other).as_bytes()).unwrap();
        let found = edited.validate();
        assert_eq!(found.len(), 1, "{other}");
        assert!(matches!(found[0].place, Place::Weather(_)), "{other}");
        assert!(found[0].to_string().contains(part), "{}", found[0]);
    }
}

#[test]
fn the_log_tells_days_one_by_one_while_they_are_few() {
    let mut document = document();
    let days = (0..40).map(|number: i32| day(date(2026, 5, 1) + number.days(), 20.0, 8.0));
    take(&mut document, days.collect());
    take(&mut document, vec![day(date(2026, 5, 3), 21.0, 8.0)]);
    let span = Command::RemoveWeather {
        from: date(2026, 6, 9),
        to: date(2026, 6, 9),
    };
    document.run(&span, &stamp()).unwrap();
    let events = document.take_events();
    let lines = audit(document.project(), &events);
    let details: Vec<&[String]> = lines.iter().map(|line| line.details.as_slice()).collect();
    assert_eq!(
        details,
        [
            &[
                "weather of May 2026: 31 days set".to_owned(),
                "weather of June 2026: 9 days set".to_owned()
            ][..],
            &["weather of 3 May 2026, high and low: 20 and 8 °C → 21 and 8 °C".to_owned()],
            &["weather of 9 June 2026, high and low: 20 and 8 °C → nothing".to_owned()],
        ]
    );
}

/// Twenty seasons of two hundred days are 140 lines of the file and read in a moment.
#[test]
fn a_file_with_twenty_seasons_of_weather_stays_short() {
    let mut document = document();
    for year in 2006..2026 {
        let days = (0..200).map(|number: i32| {
            let low = f64::from(number % 31) / 2.0 - 3.3;
            day(date(year, 4, 15) + number.days(), low + 11.7, low)
        });
        take(&mut document, days.collect());
    }
    let text = format::write(document.project()).unwrap();
    assert!(text.len() < 130_000, "{}", text.len());
    assert!(text.lines().filter(|line| line.contains("days: {")).count() <= 160);
    let again = format::read(text.as_bytes()).unwrap();
    assert_eq!(again.weather, document.project().weather);
    assert_eq!(again.weather_days(), document.project().weather_days());
    let first: Option<&WeatherMonth> = again.weather.iter().next();
    assert_eq!(first.map(|month| month.days.len()), Some(16));
}

//! Daily highs and lows from the files of stations, in every shape in which they are written.
#![expect(clippy::unwrap_used, reason = "helpers of tests fail by panicking")]

use jiff::civil::{Date, date};
use proptest::prelude::*;
use std::fmt::Write as _;
use wintercrib::exchange::table_text::Fault;
use wintercrib::exchange::temperature_csv::{DateForm, SEPARATORS};
use wintercrib::exchange::weather_csv::{
    Compared, DayColumns, WeatherAnswers, WeatherFault, WeatherFile, WeatherLook, WeatherQuestion, compared,
};
use wintercrib::model::{About, Command, Document, Project, Stamp, TemperatureUnit, WeatherDay};

fn read(text: &str) -> WeatherFile {
    WeatherFile::read(text.as_bytes(), None).unwrap()
}

fn look_with(text: &str, answers: &WeatherAnswers) -> WeatherLook {
    read(text).look(answers)
}

fn look(text: &str) -> WeatherLook {
    look_with(text, &WeatherAnswers::default())
}

/// The days to a hundredth of a degree.
fn rounded(days: &[WeatherDay]) -> Vec<(Date, f64, f64)> {
    let hundredth = |value: f64| (value * 100.0).round() / 100.0;
    days.iter()
        .map(|day| (day.on, hundredth(day.high_c), hundredth(day.low_c)))
        .collect()
}

/// What was read, when nothing is asked and nothing is wrong.
fn taken(text: &str) -> Vec<(Date, f64, f64)> {
    let look = look(text);
    assert!(look.is_ready(&WeatherAnswers::default()), "{text}\n{look:?}");
    rounded(&look.days)
}

fn has_remark(look: &WeatherLook, part: &str) -> bool {
    look.remarks.iter().any(|remark| remark.contains(part))
}

fn problems(look: &WeatherLook) -> Vec<String> {
    look.problems.iter().map(ToString::to_string).collect()
}

#[test]
fn the_same_two_days_are_read_from_unlike_files() {
    let expected = vec![(date(2026, 5, 13), 26.0, 9.5), (date(2026, 5, 14), 18.5, -1.0)];
    for text in [
        "Date,High (°C),Low (°C)\n2026-05-13,26.0,9.5\n2026-05-14,18.5,-1.0\n",
        "\u{feff}Datum;TMAX °C;TMIN °C;Regen mm\r\n13.05.2026;26,0;9,5;0,4\r\n14.05.2026;18,5;-1,0;12\r\n",
        "Station 204, DEMO\nElevation,320 m\n\nDATE,PRCP,TAVG (F),TMAX (F),TMIN (F)\n2026-05-13,0.1,64,78.8,49.1\n2026-05-14,0,47.8,65.3,30.2\n",
        "day\tlow\thigh\n13 May 2026\t9.5 °C\t26 °C\n14 May 2026\t-1 °C\t18.5 °C\n",
        "YEAR,MO,DY,T2M_MAX °C,T2M_MIN °C,RH2M\n2026,5,13,26.0,9.5,81\n2026,5,14,18.5,-1.0,80\n",
        "year;doy;maxt_c;mint_c\n2026;133;26,0;9,5\n2026;134;18,5;-1,0\n",
        "sep=;\nDate;Max temp;Min temp;Mean temp\n;°C;°C;°C\n2026/05/13;26.0;9.5;18\n2026/05/14;18.5;-1.0;9\n",
        "temperatures in °F\ntime,max,min\n2026-05-13T00:00,78.8,49.1\n2026-05-14T00:00,65.3,30.2\n",
        "date,tmaxF,tminF,soil max (°F)\n5/13/2026,78.8,49.1,66\n5/14/2026,65.3,30.2,60\n",
    ] {
        assert_eq!(taken(text), expected, "{text}");
    }
}

#[test]
fn what_tells_no_weather_is_refused_with_a_sentence() {
    let fault = |text: &str| WeatherFile::read(text.as_bytes(), None).unwrap_err();
    assert_eq!(fault(""), WeatherFault::Text(Fault::Empty));
    assert_eq!(fault("ear,row\n1,7\n"), WeatherFault::NoDays);
    assert_eq!(fault("day,who\n2026-05-13,me\n"), WeatherFault::NoTemperatures);
    assert_eq!(
        fault("day,rain,wind max\n2026-05-13,3,7\n"),
        WeatherFault::NoTemperatures
    );
    for text in [
        "day,mean °C\n2026-05-13,17\n2026-05-14,12\n",
        "day,avg temp,rain\n2026-05-13,17,1\n",
        "day,temperature\n2026-05-13,17\n2026-05-14,12\n",
        "day,high °C,mean °C\n2026-05-13,17,3\n",
        "2026-05-13,17\n",
    ] {
        let fault = fault(text);
        assert_eq!(fault, WeatherFault::MeanOnly, "{text}");
        assert!(
            fault
                .to_string()
                .contains("Export the daily high and the daily low")
        );
    }
    let hourly = "time,max,min\n2026-05-13 01:00,9,8\n2026-05-13 02:00,9,8\n2026-05-13 03:00,9,8\n2026-05-13 04:00,9,8\n";
    assert_eq!(fault(hourly), WeatherFault::NotDaily);
}

#[test]
fn what_the_file_does_not_tell_is_asked_and_never_guessed() {
    let text = "a,b,d\n03/04/2026,24,9\n05/06/2026,18,-1\n";
    let asked = look(text);
    let forms = [
        (DateForm::DayFirst, date(2026, 4, 3), date(2026, 6, 5)),
        (DateForm::MonthFirst, date(2026, 3, 4), date(2026, 5, 6)),
    ];
    assert_eq!(
        asked.questions,
        [
            WeatherQuestion::High(vec![1, 2]),
            WeatherQuestion::Low(vec![1, 2]),
            WeatherQuestion::Dates(forms.to_vec()),
        ],
        "the unit is asked when the columns are known"
    );
    assert_eq!(asked.days, []);
    let mut answers = WeatherAnswers {
        high: Some(1),
        low: Some(2),
        ..WeatherAnswers::default()
    };
    assert_eq!(
        look_with(text, &answers).questions,
        [
            WeatherQuestion::Dates(forms.to_vec()),
            WeatherQuestion::Unit(-1.0, 24.0)
        ]
    );
    answers.unit = Some(TemperatureUnit::Celsius);
    answers.dates = Some(DateForm::MonthFirst);
    let look = look_with(text, &answers);
    assert!(look.is_ready(&answers));
    assert_eq!(
        rounded(&look.days),
        [(date(2026, 3, 4), 24.0, 9.0), (date(2026, 5, 6), 18.0, -1.0)]
    );
    assert_eq!(look.asked.len(), 4, "what was answered can still be changed");
}

#[test]
fn what_the_file_proves_is_not_asked_but_said() {
    // Each line is the day after the one before when the month stands first.
    let look_ = look("date,high °C,low °C\n03/04/2026,24,9\n03/05/2026,18,8\n03/06/2026,18,8\n");
    assert_eq!(look_.questions, []);
    assert!(has_remark(&look_, "Dates are read month first"));
    assert_eq!(look_.days[2].on, date(2026, 3, 6));
    // The same with the newest day first.
    let look_ = look("date,high °C,low °C\n06/03/2026,24,9\n05/03/2026,18,8\n04/03/2026,18,8\n");
    assert!(has_remark(&look_, "Dates are read day first"));
    assert_eq!(look_.days[0].on, date(2026, 3, 4));
    // A date that exists in one order only.
    let look_ = look("date,high °C,low °C\n06/03/2026,24,9\n05/13/2026,18,8\n");
    assert!(has_remark(&look_, "other dates would not exist"));
    // No place was ever so hot in °C.
    let look_ = look("date,high,low\n2026-07-01,88,61\n");
    assert!(has_remark(&look_, "read in °F"));
    assert_eq!(rounded(&look_.days), [(date(2026, 7, 1), 31.11, 16.11)]);
}

#[test]
fn days_that_are_missing_doubled_or_wrong_are_named() {
    let text = "date,high °C,low °C\n2026-05-01,20,8\n2026-05-02,21,9\n2026-05-02,21,9\n2026-05-05,,\n2026-05-06,19,\n\
                2026-05-07,18,7\n2026-05-07,18,6\n2026-05-08,7,18\n2026-05-09,x,3\n2026-05-10,91,3\n2026-05-11,-9999,-9999\n2026-05-12,17,4\n\
                Sum,9,9\n";
    let found = look(text);
    assert_eq!(
        problems(&found),
        [
            "line 8: 2026-05-07 stands on line 7 already, with other temperatures. Remove the one that is wrong",
            "line 9: the high of 2026-05-08 (7) is below its low (18). Correct the line, or choose other columns than 'high °C' and 'low °C'",
            "line 10, column 'high °C': 'x' is not a temperature. Write a number such as 13.2, or empty the cell",
            "line 11: the high in °C is 91, but must be from -80 to 65; correct it",
        ]
    );
    assert!(!found.is_ready(&WeatherAnswers::default()));
    let answers = WeatherAnswers {
        leave_out_bad: true,
        ..WeatherAnswers::default()
    };
    let found = look_with(text, &answers);
    assert!(found.is_ready(&answers));
    let days: Vec<i8> = found.days.iter().map(|day| day.on.day()).collect();
    assert_eq!(days, [1, 2, 7, 12]);
    assert_eq!(
        found.missing,
        [
            (date(2026, 5, 3), date(2026, 5, 6)),
            (date(2026, 5, 8), date(2026, 5, 11))
        ]
    );
    for part in [
        "A day with only a high or only a low (line 6) is not taken.",
        "2 lines have no temperatures.",
        "stands twice (line 4); it is taken once.",
        "8 days between the first and the last are missing: 2026-05-03 to 2026-05-06 and 2026-05-08 to 2026-05-11.",
        "Line 14 stands below the last day",
    ] {
        assert!(has_remark(&found, part), "{part}: {:?}", found.remarks);
    }
}

#[test]
fn years_are_said_and_one_of_them_can_be_taken() {
    let text = "date,high °C,low °C\n2024-12-31,2,-4\n2025-01-01,3,-2\n2026-05-01,20,8\n";
    let all = look(text);
    assert_eq!(all.days.len(), 3);
    assert!(has_remark(
        &all,
        "tells 3 years, 2024 to 2026; the days of all of them are taken"
    ));
    assert_eq!(all.years.values().sum::<usize>(), 3);
    let of = |year| {
        let answers = WeatherAnswers {
            year: Some(year),
            ..WeatherAnswers::default()
        };
        look_with(text, &answers)
    };
    assert_eq!(rounded(&of(2026).days), [(date(2026, 5, 1), 20.0, 8.0)]);
    let none = of(2019);
    assert_eq!(none.days, []);
    assert!(has_remark(&none, "no day of 2019; it tells 2024, 2025, 2026"));
}

#[test]
fn columns_and_separator_can_be_chosen_otherwise() {
    let text = "first;second;max °C;min °C;max old °C\n2026-05-01;2026-05-02;20;8;30\n2026-05-03;2026-05-04;21;9;31\n";
    let file = read(text);
    assert_eq!((file.days(), file.separator()), (DayColumns::Date(0), ';'));
    assert_eq!(
        file.look(&WeatherAnswers::default()).questions,
        [WeatherQuestion::High(vec![2, 4])]
    );
    let answers = WeatherAnswers {
        high: Some(4),
        date: Some(1),
        ..WeatherAnswers::default()
    };
    assert_eq!(
        rounded(&file.look(&answers).days),
        [(date(2026, 5, 2), 30.0, 8.0), (date(2026, 5, 4), 31.0, 9.0)]
    );
    assert!(WeatherFile::read(text.as_bytes(), Some('\t')).is_err());
}

#[test]
fn days_are_compared_with_those_that_are_there() {
    let stamp = Stamp {
        at: date(2026, 6, 1).at(9, 0, 0, 0),
        by: String::new(),
    };
    let mut document = Document::new(Project::new(About::new("Corn", "corn")));
    let days = look("date,high (°F),low (°F)\n2026-05-01,71,45\n2026-05-02,72,46\n").days;
    document.run(&Command::TakeWeather(days.clone()), &stamp).unwrap();
    // What was taken in °F is the same when it is taken again, though it is kept to a hundredth of a degree in °C.
    let all = Compared {
        same: 2,
        ..Compared::default()
    };
    assert_eq!(compared(document.project(), &days), all);
    let others = look("date,high (°F),low (°F)\n2026-05-02,72,45\n2026-05-03,73,45\n").days;
    let found = compared(document.project(), &others);
    assert_eq!((found.new, found.other, found.same), (1, 1, 0));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(300))]

    #[test]
    fn no_file_makes_it_panic(
        bytes in prop::collection::vec(prop::sample::select(b"0123456789-/.,;\t\n \"maxin CFdyr\xC2\xB0".to_vec()), 0..400),
        dates in prop::option::of(prop::sample::select(DateForm::ALL.to_vec())),
        high in prop::option::of(0..5_usize),
        low in prop::option::of(0..5_usize),
        column in prop::option::of(0..5_usize),
        celsius: bool,
    ) {
        let mut bytes = bytes;
        let mut whole = b"date,max,min\n2026-05-01,20,8\n".to_vec();
        whole.append(&mut bytes);
        for separator in [None, Some(SEPARATORS[0]), Some(SEPARATORS[1]), Some(SEPARATORS[2])] {
            let Ok(file) = WeatherFile::read(&whole, separator) else { continue };
            let unit = if celsius { TemperatureUnit::Celsius } else { TemperatureUnit::Fahrenheit };
            let answers = WeatherAnswers {
                dates, high, low, date: column, unit: Some(unit), year: None, leave_out_bad: true,
            };
            let look = file.look(&answers);
            prop_assert!(look.days.is_sorted_by(|one, next| one.on < next.on));
            prop_assert!(look.days.iter().all(|day| day.check().is_ok()));
        }
    }

    #[test]
    fn what_was_written_is_read_again(
        days in prop::collection::btree_map(0..4000_i32, (-30..40_i32, 0..25_i32), 1..60),
        fahrenheit: bool,
    ) {
        let unit = if fahrenheit { TemperatureUnit::Fahrenheit } else { TemperatureUnit::Celsius };
        let mut text = format!("date;max ({0});min ({0})\n", unit.sign());
        let mut expected = Vec::new();
        for (number, (low, more)) in days {
            let on = date(2015, 1, 1).saturating_add(jiff::Span::new().days(number));
            let (low, high) = (f64::from(low), f64::from(low + more));
            writeln!(text, "{on};{high};{low}").unwrap();
            expected.push((on, (unit.to_celsius(high) * 100.0).round() / 100.0, (unit.to_celsius(low) * 100.0).round() / 100.0));
        }
        prop_assert_eq!(taken(&text), expected);
    }
}

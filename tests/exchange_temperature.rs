//! Temperatures from the files of loggers, in every shape that loggers write.
#![expect(clippy::unwrap_used, reason = "helpers of tests fail by panicking")]

use jiff::civil::{DateTime, date, datetime};
use proptest::prelude::*;
use wintercrib::exchange::table_text::Fault;
use wintercrib::exchange::temperature_csv::{
    Answers, DateForm, Look, Question, SEPARATORS, Shown, TemperatureFault, TemperatureFile, TimeColumns,
};
use wintercrib::model::TemperatureUnit;

fn read(text: &str) -> TemperatureFile {
    TemperatureFile::read(text.as_bytes()).unwrap()
}

fn look_with(text: &str, answers: &Answers) -> Look {
    read(text).look(answers)
}

fn look(text: &str) -> Look {
    look_with(text, &Answers::default())
}

/// What was read, when nothing is asked and nothing is wrong.
fn taken(text: &str) -> (DateTime, Vec<(u32, f64)>) {
    let look = look(text);
    assert!(look.is_ready(&Answers::default()), "{text}\n{look:?}");
    (look.start.unwrap(), look.readings)
}

fn dates_asked(look: &Look) -> Option<Vec<DateForm>> {
    look.questions.iter().find_map(|question| match question {
        Question::Dates(forms) => Some(forms.iter().map(|form| form.0).collect()),
        Question::Unit(..) | Question::Channel(_) => None,
    })
}

fn has_remark(look: &Look, part: &str) -> bool {
    look.remarks.iter().any(|remark| remark.contains(part))
}

/// One line for each hour.
fn hourly(lines: &[&str], value: &str) -> String {
    let mut text = "time,Temperature (°C)\n".to_owned();
    for line in lines {
        text.extend([line, ",", value, "\n"]);
    }
    text
}

#[test]
fn the_same_two_readings_are_read_from_unlike_files() {
    let expected = (datetime(2025, 12, 13, 18, 0, 0, 0), vec![(0, 13.2), (30, 13.0)]);
    for text in [
        "Date/Time,Temp (°C)\n2025-12-13 18:00,13.2\n2025-12-13 18:30,13.0\n",
        "\u{feff}Datum;Uhrzeit;Temperatur °C;Feuchte %\r\n13.12.2025;18:00:00;13,2;81\r\n13.12.2025;18:30:00;13,0;82\r\n",
        "Plot: cold shelf\nSerial,20391,firmware 2.1\n\n\"#\",\"Date Time, GMT+01:00\",\"Temp, °F\",\"Batt, V\"\n1,12/13/25 06:00:00 PM,55.76,3.6\n2,12/13/25 06:30:00 PM,55.4,3.6\n",
        "time\ttemp\n2025-12-13T18:00:00Z\t13.2 °C\n2025-12-13T18:30:00Z\t13.0 °C\n",
        "when;value\n13/12/2025 18:00;13,2 C\n13/12/2025 18:30;13 C\n",
        "sep=;\nDate;Time;Ch1\n;;°C\n2025/12/13;6:00 PM;13.2\n2025/12/13;6:30 PM;13.0\n",
        "Unit,Celsius\nno,time,reading\n7,13-Dec-2025 18:00,13.2\n8,13-Dec-2025 18:30,13.0\n",
        "\"time\",\"t\",\"u\"\n\"13.12.2025, 18:00\",\"13,2\",\"C\"\n\"13.12.2025, 18:30\",\"13,0\",\"C\"\n",
    ] {
        assert_eq!(taken(text), expected, "{text}");
    }
}

#[test]
fn two_encodings_of_old_loggers_are_read() {
    let expected = vec![(0, 13.2), (60, 13.1)];
    let text = "time;°C\r\n2025-12-13 18:00;13,2\r\n2025-12-13 19:00;13,1\r\n";
    let mut wide = vec![0xFF, 0xFE];
    wide.extend(text.encode_utf16().flat_map(u16::to_le_bytes));
    let narrow: Vec<u8> = text
        .chars()
        .map(|letter| u8::try_from(u32::from(letter)).unwrap())
        .collect();
    for bytes in [wide, narrow] {
        let look = TemperatureFile::read(&bytes).unwrap().look(&Answers::default());
        assert_eq!(
            (look.readings, look.unit),
            (expected.clone(), Some(TemperatureUnit::Celsius))
        );
    }
}

#[test]
fn what_is_no_log_is_refused_with_a_sentence() {
    let fault = |text: &str| TemperatureFile::read(text.as_bytes()).unwrap_err();
    assert_eq!(fault(""), TemperatureFault::Text(Fault::Empty));
    assert_eq!(fault("ear,row\n1,7\n"), TemperatureFault::NoTimes);
    assert_eq!(fault("13.2\n13.1\n"), TemperatureFault::NoTimes);
    assert_eq!(fault("time,temp\n10:00,13.2\n"), TemperatureFault::NoTimes);
    assert_eq!(
        fault("day,high\n2025-12-01,13.2\n2025-12-02,13.4\n"),
        TemperatureFault::DatesOnly
    );
    assert_eq!(
        fault("time,who\n2025-12-01 10:00,me\n"),
        TemperatureFault::NoTemperatures
    );
    assert_eq!(
        fault("time,rh\n2025-12-01 10:00,81\n"),
        TemperatureFault::NoTemperatures
    );
    assert_eq!(
        fault("time,temp\n2025-12-01 10:00,\"13\n"),
        TemperatureFault::Text(Fault::OpenQuote { line: 2 })
    );
    assert!(
        fault("day,high\n2025-12-01,13.2\n")
            .to_string()
            .contains("times of the day")
    );
}

#[test]
fn an_order_that_the_dates_do_not_prove_is_asked() {
    // One day, and single readings on days that exist either way.
    for lines in [
        ["3/4/2026 10:00", "3/4/2026 11:00", "3/4/2026 12:00"],
        ["3/4/2026 10:00", "4/4/2026 10:00", "5/4/2026 10:00"],
        ["03-04-2026 10:00", "03-04-2026 11:00", "03-04-2026 12:00"],
    ] {
        let text = hourly(&lines, "13");
        let asked = look(&text);
        assert_eq!(
            dates_asked(&asked),
            Some(vec![DateForm::DayFirst, DateForm::MonthFirst]),
            "{text}"
        );
        assert!(!asked.is_ready(&Answers::default()));
        assert_eq!((asked.start, asked.readings.len()), (None, 0));
        assert_eq!(
            asked.head[0],
            Shown {
                line: 2,
                at: None,
                c: Some(13.0)
            }
        );
        for (form, start) in [
            (DateForm::DayFirst, date(2026, 4, 3)),
            (DateForm::MonthFirst, date(2026, 3, 4)),
        ] {
            let answers = Answers {
                dates: Some(form),
                ..Answers::default()
            };
            let answered = look_with(&text, &answers);
            assert!(answered.is_ready(&answers));
            assert_eq!(answered.start.unwrap().date(), start);
        }
    }
    let Some(Question::Dates(forms)) = look(&hourly(&["3/4/2026 10:00", "5/4/2026 10:00"], "13"))
        .questions
        .pop()
    else {
        panic!("the order must be asked");
    };
    assert_eq!(
        forms,
        [
            (DateForm::DayFirst, date(2026, 4, 3), date(2026, 4, 5)),
            (DateForm::MonthFirst, date(2026, 3, 4), date(2026, 5, 4))
        ]
    );
    let short = look(&hourly(&["03-04-05 10:00"], "13"));
    assert_eq!(dates_asked(&short), Some(DateForm::ALL.to_vec()));
}

#[test]
fn an_order_that_the_dates_prove_is_not_asked() {
    let form = |lines: &[&str], why: &str| {
        let look = look(&hourly(lines, "13"));
        assert!(has_remark(&look, why), "{:?}", look.remarks);
        assert_eq!(look.questions, []);
        look.dates.unwrap()
    };
    // A day beyond the twelfth.
    assert_eq!(
        form(&["12/11/2025 23:00", "13/11/2025 00:00"], "would not exist"),
        DateForm::DayFirst
    );
    assert_eq!(
        form(&["11/12/2025 23:00", "11/13/2025 00:00"], "would not exist"),
        DateForm::MonthFirst
    );
    // Month first, the third of February would be followed by the fourth of January.
    assert_eq!(
        form(
            &["2/3/2026 10:00", "1/4/2026 10:00", "2/4/2026 10:00"],
            "go on in time"
        ),
        DateForm::DayFirst
    );
    // At midnight, the other order would leap a month.
    assert_eq!(
        form(
            &["3/4/2026 23:00", "4/4/2026 00:00", "4/4/2026 01:00"],
            "leap at every midnight"
        ),
        DateForm::DayFirst
    );
    assert_eq!(
        form(
            &["4/3/2026 23:00", "4/4/2026 00:00", "4/4/2026 01:00"],
            "leap at every midnight"
        ),
        DateForm::MonthFirst
    );
    // A year of two digits can stand in front.
    assert_eq!(
        form(&["25-12-01 23:00", "25-12-02 00:00", "25-12-02 01:00"], ""),
        DateForm::YearFirst
    );
    // Points and months in letters leave nothing open, and nothing is said.
    for lines in [["3.4.2026 10:00"], ["3-Apr-2026 10:00"], ["2026-04-03 10:00"]] {
        let found = look(&hourly(&lines, "13"));
        assert_eq!((found.questions, found.remarks), (vec![], vec![]));
        assert_eq!(found.start.unwrap(), datetime(2026, 4, 3, 10, 0, 0, 0));
    }
}

#[test]
fn the_grower_has_the_last_word_and_days_that_do_not_exist_are_named() {
    let text = hourly(&["12/11/2025 10:00", "13/11/2025 10:00"], "13");
    let answers = Answers {
        dates: Some(DateForm::MonthFirst),
        ..Answers::default()
    };
    let found = look_with(&text, &answers);
    assert!(!found.is_ready(&answers));
    assert_eq!(found.problems[0].line, 3);
    assert!(
        found.problems[0].what.contains("month first"),
        "{}",
        found.problems[0]
    );
}

#[test]
fn a_unit_that_the_file_does_not_prove_is_asked() {
    let file = |values: &[&str]| {
        let lines = values.iter().enumerate();
        let lines: Vec<String> = lines
            .map(|(hour, value)| format!("2025-12-01 {hour:02}:00,{value}\n"))
            .collect();
        format!("time,temp\n{}", lines.concat())
    };
    for values in [["13.2", "13.1"], ["55.4", "55.0"]] {
        let asked = look(&file(&values));
        let numbers: Vec<f64> = values.iter().map(|value| value.parse().unwrap()).collect();
        assert_eq!(asked.questions, [Question::Unit(numbers[1], numbers[0])]);
        assert_eq!(asked.head[0].c, None);
        for (unit, c) in [
            (TemperatureUnit::Celsius, numbers[0]),
            (TemperatureUnit::Fahrenheit, (numbers[0] - 32.0) / 1.8),
        ] {
            let answers = Answers {
                unit: Some(unit),
                ..Answers::default()
            };
            let answered = look_with(&file(&values), &answers);
            assert!((answered.readings[0].1 - c).abs() < 0.001);
        }
    }
    // 68 in °C would be too hot for seed.
    let warm = look(&file(&["68.0", "68.5", "55.0"]));
    assert_eq!(
        (warm.unit, warm.questions.len()),
        (Some(TemperatureUnit::Fahrenheit), 0)
    );
    assert_eq!(warm.readings[0], (0, 20.0));
    assert!(has_remark(&warm, "beyond 60 °C"));
    // One value that leaps out proves nothing.
    assert_eq!(look(&file(&["13.0", "85.0", "13.1"])).questions.len(), 1);
}

#[test]
fn humidity_and_the_like_are_no_channels_and_two_temperatures_are_asked() {
    let text = "no,time,Temp in °C,Temp out °C,Humidity %,Dew point °C,Battery V\n1,2025-12-01 10:00,13.2,4.5,80,9.8,3.1\n2,2025-12-01 11:00,13.1,4.4,81,9.9,3.1\n";
    let file = read(text);
    assert_eq!(file.channels(), [2, 3]);
    assert_eq!(file.header()[3], "Temp out °C");
    assert_eq!(file.times(), TimeColumns { date: 1, clock: None });
    assert_eq!(
        file.look(&Answers::default()).questions,
        [Question::Channel(vec![2, 3])]
    );
    let answers = Answers {
        channel: Some(3),
        ..Answers::default()
    };
    assert_eq!(file.look(&answers).readings, [(0, 4.5), (60, 4.4)]);
    // Any column may be chosen, as also that of the dew point.
    let answers = Answers {
        channel: Some(5),
        ..Answers::default()
    };
    assert_eq!(file.look(&answers).readings, [(0, 9.8), (60, 9.9)]);
    // Without a header, the numbers of the lines are told from readings.
    let bare = "1;2025-12-01 10:00;13,2\n2;2025-12-01 11:00;13,1\n3;2025-12-01 12:00;13,3\n";
    assert_eq!(read(bare).channels(), [2]);
    assert_eq!(read(bare).header()[2], "column 3");
}

#[test]
fn missing_values_are_left_out_and_told() {
    let text = "time,°C\n2025-12-01 10:00,13.2\n2025-12-01 11:00,--\n2025-12-01 12:00,ERR\n2025-12-01 13:00,\n2025-12-01 14:00,NaN\n2025-12-01 15:00\n2025-12-01 16:00,13.0\n";
    let found = look(text);
    assert_eq!(found.readings, [(0, 13.2), (360, 13.0)]);
    assert!(
        has_remark(&found, "5 readings have no temperature (lines 3, 4, 5, 6, 7)"),
        "{:?}",
        found.remarks
    );
    assert!(found.is_ready(&Answers::default()));
}

#[test]
fn what_cannot_be_read_is_named_by_line_and_nothing_is_taken_unless_it_is_left_out() {
    let text = "logger A\ntime,°C\n2025-12-01 10:00,13.2\nyesterday,13.1\n2025-12-01 12:00,13..1\n2025-12-01 13:00,13.3\n";
    let found = look(text);
    let told: Vec<String> = found.problems.iter().map(ToString::to_string).collect();
    assert_eq!(found.bad_lines, 2);
    assert!(
        told[0].starts_with("line 4, column 'time': 'yesterday' is not a time"),
        "{told:?}"
    );
    assert!(told[1].starts_with("line 5, column '°C': '13..1'"), "{told:?}");
    assert!(!found.is_ready(&Answers::default()));
    let answers = Answers {
        leave_out_bad: true,
        ..Answers::default()
    };
    let found = look_with(text, &answers);
    assert!(found.is_ready(&answers));
    assert_eq!(found.readings, [(0, 13.2), (180, 13.3)]);
}

#[test]
fn lines_below_the_last_reading_are_passed_over_and_told() {
    let text = "time,°C\n2025-12-01 10:00,13.2\n2025-12-01 11:00,13.1\nHighest,13.2\nLowest,13.1\n";
    let found = look(text);
    assert_eq!(found.readings.len(), 2);
    assert!(
        has_remark(&found, "Lines 4 to 5 stand below the last reading"),
        "{:?}",
        found.remarks
    );
}

#[test]
fn a_decimal_comma_between_commas_is_named_and_not_cut_off() {
    let text = "time,temp °C\n2025-12-01 10:00,13,2\n2025-12-01 11:00,13,1\n";
    let found = look(text);
    assert_eq!(found.bad_lines, 2);
    assert!(
        found.problems[0].to_string().contains("decimal mark"),
        "{}",
        found.problems[0]
    );
    assert!(found.readings.is_empty());
}

#[test]
fn faults_of_the_logger_are_left_out_and_told() {
    let text = "time,°C\n2025-12-01 10:00,85.0\n2025-12-01 10:10,13.0\n2025-12-01 10:20,-127\n2025-12-01 10:30,13.2\n";
    let found = look(text);
    assert_eq!(found.readings, [(0, 13.0), (20, 13.2)]);
    assert!(
        has_remark(&found, "2 readings beyond -40 to 60 °C are left out"),
        "{:?}",
        found.remarks
    );
}

#[test]
fn lines_out_of_order_are_sorted_and_a_file_that_begins_with_the_newest_is_turned() {
    let times = ["10:00", "12:00", "11:00", "13:00"].map(|clock| format!("2025-12-01 {clock}"));
    let times: Vec<&str> = times.iter().map(String::as_str).collect();
    let found = look(&hourly(&times, "13"));
    assert_eq!(
        found.readings.iter().map(|reading| reading.0).collect::<Vec<_>>(),
        [0, 60, 120, 180]
    );
    assert!(has_remark(&found, "was sorted (line 4)"), "{:?}", found.remarks);
    let newest = look(&hourly(
        &["2025-12-01 12:00", "2025-12-01 11:00", "2025-12-01 10:00"],
        "13",
    ));
    assert_eq!(newest.start.unwrap(), datetime(2025, 12, 1, 10, 0, 0, 0));
    assert!(has_remark(&newest, "newest reading stands first"));
    assert!(!has_remark(&newest, "sorted"));
}

/// Clocks in the United States went back from 2:00 to 1:00 on Sunday the second of November 2025.
#[test]
fn the_hour_that_comes_twice_is_kept_twice() {
    let minutes = |lines: &[&str]| {
        let found = look(&hourly(lines, "13"));
        assert!(has_remark(&found, "end of summer time"), "{:?}", found.remarks);
        found.readings.iter().map(|reading| reading.0).collect::<Vec<_>>()
    };
    let half_hours = [
        "2025-11-02 01:00",
        "2025-11-02 01:30",
        "2025-11-02 01:00",
        "2025-11-02 01:30",
        "2025-11-02 02:00",
    ];
    assert_eq!(minutes(&half_hours), [0, 30, 60, 90, 120]);
    let hours = [
        "2025-11-02 00:00",
        "2025-11-02 01:00",
        "2025-11-02 01:00",
        "2025-11-02 02:00",
    ];
    assert_eq!(minutes(&hours), [0, 60, 120, 180]);
    // With offsets nothing is to be guessed.
    let with_offsets = [
        "2025-11-02T01:30-04:00",
        "2025-11-02T01:00-05:00",
        "2025-11-02T01:30-05:00",
    ];
    let found = look(&hourly(&with_offsets, "13"));
    assert_eq!(
        found.readings.iter().map(|reading| reading.0).collect::<Vec<_>>(),
        [0, 30, 60]
    );
    assert_eq!(found.start.unwrap(), datetime(2025, 11, 2, 1, 30, 0, 0));
}

#[test]
fn readings_of_one_minute_become_their_mean() {
    let text = "time,°C\n2025-12-01 10:00:00,13.0\n2025-12-01 10:00:20,13.2\n2025-12-01 10:00:40,13.4\n2025-12-01 10:01:00,14.0\n2025-12-01 10:01:00,14.0\n";
    let found = look(text);
    assert_eq!(found.readings, [(0, 13.2), (1, 14.0)]);
    assert!(
        has_remark(
            &found,
            "3 readings share the minute of an earlier one (lines 3, 4, 6)"
        ),
        "{:?}",
        found.remarks
    );
}

#[test]
fn a_clock_that_was_wrong_can_be_moved() {
    let text = hourly(&["2025-12-01T23:30Z", "2025-12-02T00:30Z"], "13");
    let answers = Answers {
        add_minutes: 60,
        ..Answers::default()
    };
    let found = look_with(&text, &answers);
    assert_eq!(found.start.unwrap(), datetime(2025, 12, 2, 0, 30, 0, 0));
    assert_eq!(found.head[0].at.unwrap(), datetime(2025, 12, 2, 0, 30, 0, 0));
    assert!(has_remark(&found, "universal time"));
    let answers = Answers {
        add_minutes: i32::MAX,
        ..Answers::default()
    };
    let found = look_with(&text, &answers);
    assert!(!found.is_ready(&answers) && found.bad_lines == 1);
}

#[test]
fn a_hundred_thousand_readings_are_read_and_more_than_a_million_are_refused() {
    let line = |minute: u32| {
        format!(
            "2025-{:02}-{:02} {:02}:{:02},13.25\n",
            1 + minute / 40_320,
            1 + minute / 1440 % 28,
            minute / 60 % 24,
            minute % 60
        )
    };
    let text: String = (0..100_000).map(line).collect();
    let text = format!("time,°C\n{text}");
    assert_eq!(look(&text).readings.len(), 100_000);
    let many = format!("time,°C\n{}", "2025-12-01 10:00,13\n".repeat(1_000_001));
    assert_eq!(
        TemperatureFile::read(many.as_bytes()).unwrap_err(),
        TemperatureFault::TooMany
    );
}

proptest! {
    #[test]
    fn what_is_written_in_any_shape_is_read_back(
        start in 0_u32..20_000, steps in proptest::collection::vec((1_u32..400, -300_i32..500), 2..30),
        separator in prop_oneof![Just(";"), Just("\t")], comma in any::<bool>(), form in 0..3_usize, fahrenheit in any::<bool>(),
    ) {
        let begin = datetime(2025, 10, 25, 4, 0, 0, 0);
        let mut minute = start;
        let mut text = format!("Logger{separator}\ntime{separator}{}\n", if fahrenheit { "°F" } else { "°C" });
        let mut expected = Vec::new();
        for (step, tenths) in &steps {
            let at = begin + jiff::SignedDuration::from_mins(i64::from(minute));
            let clock = format!("{:02}:{:02}", at.hour(), at.minute());
            let (y, m, d) = (at.year(), at.month(), at.day());
            let stamp = [format!("{y}-{m:02}-{d:02}T{clock}:00"), format!("{d}.{m}.{y} {clock}"), format!("{d}/{m}/{y} {clock}")];
            let c = f64::from(*tenths) / 10.0;
            let value = format!("{:.2}", if fahrenheit { c * 1.8 + 32.0 } else { c });
            let value = if comma { value.replace('.', ",") } else { value };
            text.extend([stamp[form].as_str(), separator, &value, "\n"]);
            expected.push((minute - start, c));
            minute += step;
        }
        let answers = Answers { dates: Some(DateForm::DayFirst), ..Answers::default() };
        let found = look_with(&text, &answers);
        prop_assert!(found.is_ready(&answers), "{:?}\n{}", found, text);
        prop_assert_eq!(found.start.unwrap(), begin + jiff::SignedDuration::from_mins(i64::from(start)));
        prop_assert_eq!(found.readings.len(), expected.len());
        for (read, written) in found.readings.iter().zip(&expected) {
            prop_assert!(read.0 == written.0 && (read.1 - written.1).abs() < 0.01, "{:?} {:?}", read, written);
        }
    }

    #[test]
    fn no_bytes_make_it_panic_and_minutes_always_ascend(
        text in "([0-9]{1,2}[/.-][0-9]{1,2}[/.-](20)?[0-9]{2} [0-9]{1,2}:[0-9]{2}( PM)?[,;\t][0-9.,°CF-]{0,6}\n|[a-z,;\"]{0,8}\n){0,12}",
        add in any::<i32>(),
    ) {
        if let Ok(file) = TemperatureFile::read(text.as_bytes()) {
            for dates in [None, Some(DateForm::DayFirst), Some(DateForm::MonthFirst), Some(DateForm::YearFirst)] {
                let answers = Answers { dates, unit: Some(TemperatureUnit::Celsius), add_minutes: add, leave_out_bad: true, ..Answers::default() };
                let found = file.look(&answers);
                prop_assert!(found.readings.windows(2).all(|pair| pair[0].0 < pair[1].0));
                prop_assert!(found.readings.iter().all(|reading| (-40.0..=60.0).contains(&reading.1)));
                let odd = Answers { channel: Some(7), times: Some(TimeColumns { date: 9, clock: Some(8) }), ..answers };
                prop_assert!(!file.look(&odd).is_ready(&odd));
            }
        }
    }
}

/// What is answered stays among what was asked, so that the grower can change it; what was left out is shown.
#[test]
fn answers_can_be_changed_and_what_surrounds_the_readings_is_told() {
    let text = b"Logger 3\r\n\r\nTime;Value;Spare\r\n03/02/2026 10:00;51,0;x\r\n03/02/2026 11:00;51,5;x\r\n03/02/2026 12:00;52,0;x\r\n03/02/2026 13:00;52,5;x\r\n03/02/2026 14:00;53,0;x\r\n";
    let file = TemperatureFile::read(text).unwrap();
    let open = file.look(&Answers::default());
    assert_eq!((open.questions.len(), open.asked.len()), (2, 2));
    let answers = Answers {
        dates: Some(DateForm::DayFirst),
        unit: Some(TemperatureUnit::Fahrenheit),
        ..Answers::default()
    };
    let look = file.look(&answers);
    assert_eq!((look.questions.len(), &look.asked), (0, &open.asked));
    let lines = |shown: &[Shown]| shown.iter().map(|one| one.line).collect::<Vec<_>>();
    assert_eq!(
        (lines(&look.head), lines(&look.tail)),
        (vec![4, 5, 6, 7, 8], vec![6, 7, 8])
    );
    let before = [(1, "Logger 3".to_owned()), (3, "Time;Value;Spare".to_owned())];
    assert_eq!((file.before(), file.header_line()), (&before[..], Some(3)));
    assert_eq!(file.line(5), Some("03/02/2026 11:00;51,5;x"));
    assert_eq!((file.line(0), file.line(9)), (None, None));
    assert_eq!(file.separator(), ';');
    assert!(SEPARATORS.contains(&file.separator()));
    // Divided otherwise there is no column with a time.
    let tabs = TemperatureFile::read_divided(text, Some('\t'));
    assert!(
        matches!(
            tabs,
            Err(TemperatureFault::NoTimes | TemperatureFault::NoTemperatures)
        ),
        "{tabs:?}"
    );
    assert_eq!(
        TemperatureFile::read_divided(text, Some(';'))
            .unwrap()
            .look(&answers),
        look
    );
    // Columns without any reading.
    let wrong = Answers {
        times: Some(TimeColumns { date: 2, clock: None }),
        ..answers
    };
    let nothing = file.look(&wrong);
    assert!(
        !nothing.is_ready(&wrong) && nothing.remarks[0].starts_with("No line has a time"),
        "{nothing:?}"
    );
}

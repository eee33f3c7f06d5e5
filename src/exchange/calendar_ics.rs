//! The days of tests as iCalendar (RFC 5545), for the calendar on a phone or a wall.
//!
//! Every item is an event of a whole day. Its UID is made of the project, the test and the item, not of the day, so
//! that reading a newer file moves the events that are there and adds none twice.

use crate::insight::TestCalendar;
use crate::model::Project;
use jiff::Timestamp;
use jiff::civil::Date;

/// The most octets of a line without its line break (RFC 5545, 3.1).
const LINE: usize = 75;
/// The second from which sequence numbers are counted: the beginning of 2020, UTC.
const SEQUENCE_FROM: i64 = 1_577_836_800;

/// Writes the days of some tests; `None` when none of them has a day, since a calendar file may not be empty.
///
/// `stamp` is the time of writing. A program that reads a second file takes the event with the higher sequence number
/// for the newer one, so that number is taken from `stamp` too.
pub fn calendar_ics(project: &Project, calendars: &[&TestCalendar], stamp: Timestamp) -> Option<Vec<u8>> {
    if calendars.iter().all(|calendar| calendar.items.is_empty()) {
        return None;
    }
    let mut lines = Lines::default();
    let version = env!("CARGO_PKG_VERSION");
    lines.put("BEGIN", "VCALENDAR");
    lines.put("VERSION", "2.0");
    lines.put("PRODID", &format!("-//Wintercrib//Wintercrib {version}//EN"));
    lines.put("CALSCALE", "GREGORIAN");
    let stamped = stamp.strftime("%Y%m%dT%H%M%SZ").to_string();
    let sequence = (stamp.as_second() - SEQUENCE_FROM)
        .clamp(0, i64::from(i32::MAX))
        .to_string();
    for calendar in calendars {
        let Some(test) = project.tests.get(calendar.test) else {
            continue;
        };
        for item in &calendar.items {
            let uid = format!("{}.test-{}.{}@wintercrib", project.about.id, test.id, item.key);
            let what = item.what(&test.recipe, project.about.units);
            let text = format!(
                "{what}\nDay {} of test {}, {}.",
                item.day, test.name, project.about.name
            );
            lines.put("BEGIN", "VEVENT");
            lines.put("UID", &escaped(&uid));
            lines.put("DTSTAMP", &stamped);
            lines.put("SEQUENCE", &sequence);
            lines.put("DTSTART;VALUE=DATE", &day(item.on));
            // Without an end an event of a whole day lasts one day (RFC 5545, 3.6.1).
            if let Ok(next) = item.on.tomorrow() {
                lines.put("DTEND;VALUE=DATE", &day(next));
            }
            lines.put("SUMMARY", &escaped(&format!("{}: {}", test.name, item.title)));
            lines.put("DESCRIPTION", &escaped(&text));
            lines.put("TRANSP", "TRANSPARENT");
            lines.put("END", "VEVENT");
        }
    }
    lines.put("END", "VCALENDAR");
    Some(lines.text.into_bytes())
}

fn day(date: Date) -> String {
    date.strftime("%Y%m%d").to_string()
}

/// Content lines, folded.
#[derive(Default)]
struct Lines {
    text: String,
}

impl Lines {
    /// Adds a line, broken where it is too long: never inside of a letter, each further line begun by a space.
    fn put(&mut self, name: &str, value: &str) {
        let mut octets = 0;
        for letter in format!("{name}:{value}").chars() {
            if octets + letter.len_utf8() > LINE {
                self.text.push_str("\r\n ");
                octets = 1;
            }
            self.text.push(letter);
            octets += letter.len_utf8();
        }
        self.text.push_str("\r\n");
    }
}

/// Writes a text value (RFC 5545, 3.3.11). Other control characters may not stand in one and become spaces.
fn escaped(text: &str) -> String {
    let mut written = String::with_capacity(text.len());
    for letter in text.replace("\r\n", "\n").chars() {
        match letter {
            '\\' | ';' | ',' => written.extend(['\\', letter]),
            '\n' => written.push_str("\\n"),
            other if other.is_control() && other != '\t' => written.push(' '),
            other => written.push(other),
        }
    }
    written
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_is_escaped_as_the_standard_says() {
        // The example of RFC 5545, 3.3.11, and what it does not allow at all.
        let text = "Project XYZ Final Review\nConference Room - 3B\nCome Prepared.";
        assert_eq!(
            escaped(text),
            "Project XYZ Final Review\\nConference Room - 3B\\nCome Prepared."
        );
        assert_eq!(
            escaped("a,b;c\\d:e\"f\r\ng\u{7}\th"),
            "a\\,b\\;c\\\\d:e\"f\\ng \th"
        );
    }

    #[test]
    fn no_line_is_longer_than_75_octets_and_no_letter_is_cut() {
        for (letter, length) in [("a", 1), ("é", 2), ("€", 3), ("🌽", 4)] {
            for count in 0..200 {
                let mut lines = Lines::default();
                let value = letter.repeat(count);
                lines.put("SUMMARY", &value);
                for line in lines.text.split_terminator("\r\n") {
                    assert!(line.len() <= 75, "{line}");
                }
                let unfolded = lines.text.replace("\r\n ", "");
                assert_eq!(unfolded, format!("SUMMARY:{value}\r\n"));
                // It is folded only where it must be.
                let least = (8 + count * length).saturating_sub(1) / 75 + 1;
                assert!(lines.text.matches("\r\n").count() <= least + 1);
            }
        }
    }
}

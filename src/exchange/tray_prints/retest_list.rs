//! Which ears are tested again: where they lay, where they lie now, and why.

use super::super::print::{
    Cell as Field, Column, Flow, Fonts, POINTS_PER_MM, PrintSettings, Table, Weight, Width,
};
use super::{Pages, Printed, TrayPrint};
use crate::model::{Cell, Ear, EarId, Pass, Project, TestId, plural};
use std::collections::{BTreeMap, BTreeSet};

/// An ear that may be tested again, and why.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct RetestReason {
    /// The ear.
    pub ear: EarId,
    /// Why it is listed, in a sentence or two.
    pub reason: String,
}

/// One line of the list.
struct Line<'a> {
    ear: &'a Ear,
    old: Vec<&'a Cell>,
    new: Vec<&'a Cell>,
    reason: String,
}

pub(super) fn pages(printed: &Printed<'_>, fonts: &Fonts, reasons: &[RetestReason]) -> Pages {
    let settings = PrintSettings {
        margin: 10.0 * POINTS_PER_MM,
        ..printed.settings(TrayPrint::RetestList)
    };
    let mut flow = Flow::new(fonts, &settings);
    let laid_again = laid_again(printed);
    let is_made = !laid_again.is_empty();
    let lines = if is_made {
        laid_again
    } else {
        proposed(printed, reasons)
    };
    flow.text("Retest list", 22.0, Weight::Bold);
    flow.text(
        &format!("{}, season {}", printed.test.name, printed.year()),
        11.0,
        Weight::Regular,
    );
    let old_tests: BTreeSet<&str> = lines
        .iter()
        .flat_map(|line| &line.old)
        .filter_map(|cell| printed.project.test_of_tray(cell.tray))
        .map(|test| test.name.as_str())
        .collect();
    flow.text(
        &opening(printed, lines.len(), is_made, &old_tests),
        11.0,
        Weight::Regular,
    );
    flow.space(8.0);
    flow.running("Retest list, continued", &[]);
    if !lines.is_empty() {
        flow.table(&Table {
            columns: columns(),
            rows: lines
                .iter()
                .map(|line| fields(printed, line, old_tests.len() > 1))
                .collect(),
            least_height: 23.0,
            ..Table::default()
        });
    }
    (settings, flow.into_pages())
}

fn opening(printed: &Printed<'_>, ears: usize, is_made: bool, old_tests: &BTreeSet<&str>) -> String {
    let count = plural(ears, "ear");
    let test = &printed.test.name;
    let verb = if ears == 1 { "lies" } else { "lie" };
    let old: Vec<&str> = old_tests.iter().copied().collect();
    let old = old.join(", ");
    match (ears, is_made) {
        (0, _) => {
            format!(
                "No ear of {test} lay in an earlier test, and none of its season is proposed for a retest."
            )
        }
        (_, true) => format!(
            "{count} {verb} in {test} again, in the order of the new cells. The old cells are those of {old}."
        ),
        (1, false) => format!(
            "1 ear whose kernels cannot tell. No retest is designed yet: write the new cell by hand. The old cell is in {old}."
        ),
        (_, false) => format!(
            "{count} whose kernels cannot tell, the one that gains most first. No retest is designed yet: write the new cells by hand. The old cells are those of {old}."
        ),
    }
}

/// The ears of the test that lay in an earlier test of the season, in the order of their new cells.
fn laid_again<'a>(printed: &Printed<'a>) -> Vec<Line<'a>> {
    let mut lines: Vec<Line<'a>> = Vec::new();
    let mut known: BTreeMap<EarId, usize> = BTreeMap::new();
    let cells = printed
        .trays
        .iter()
        .flat_map(|tray| printed.project.cells_of(tray.id));
    for cell in cells {
        let Some(id) = cell.content.ear() else {
            continue;
        };
        if let Some(line) = known.get(&id) {
            lines[*line].new.push(cell);
            continue;
        }
        let old = cells_before(printed.project, id, printed.test.id);
        let Some(ear) = printed.ear(cell.content).filter(|_| !old.is_empty()) else {
            continue;
        };
        known.insert(id, lines.len());
        lines.push(Line {
            ear,
            reason: counted(printed.project, &old),
            old,
            new: vec![cell],
        });
    }
    lines
}

fn proposed<'a>(printed: &Printed<'a>, reasons: &[RetestReason]) -> Vec<Line<'a>> {
    let line = |one: &RetestReason| {
        let ear = printed.project.ears.get(one.ear)?;
        Some(Line {
            ear,
            old: printed.project.cells_of_ear(ear.id).collect(),
            new: Vec::new(),
            reason: one.reason.clone(),
        })
    };
    reasons.iter().filter_map(line).collect()
}

/// The cells of an ear in the tests of its season before this one.
fn cells_before(project: &Project, ear: EarId, test: TestId) -> Vec<&Cell> {
    let of = |cell: &Cell| project.test_of_tray(cell.tray).map(|test| test.id);
    project
        .cells_of_ear(ear)
        .filter(|cell| of(cell).is_some_and(|before| before < test))
        .collect()
}

/// What was counted in some cells in the end, as the reason for a retest that is there already.
fn counted(project: &Project, cells: &[&Cell]) -> String {
    let finals: Vec<_> = cells
        .iter()
        .filter_map(|cell| project.count_in_force(cell.id, Pass::Final))
        .collect();
    if finals.is_empty() {
        return "not counted before".to_owned();
    }
    let rule = project.about.germinated;
    let germinated: u32 = finals.iter().map(|count| count.tally.germinated(rule)).sum();
    let of: u32 = finals.iter().map(|count| count.tally.counted()).sum();
    format!("{germinated} of {of} germinated before")
}

fn columns() -> Vec<Column> {
    vec![
        Column::text("Done", Width::Fit),
        Column::number("Ear", Width::Fit).set_in(15.0, Weight::Bold),
        Column::text("Ear code", Width::Fit),
        Column::text("Mother row", Width::Points(48.0)),
        Column::text("Old cell", Width::Points(70.0)).set_in(12.0, Weight::Regular),
        Column::text("New cell", Width::Points(76.0)).set_in(12.0, Weight::Bold),
        Column::text("Reason", Width::Share(1.0)).set_in(9.0, Weight::Regular),
    ]
}

fn fields(printed: &Printed<'_>, line: &Line<'_>, names_tests: bool) -> Vec<Field> {
    let places = |cells: &[&Cell], names_tests: bool| {
        let places: Vec<String> = cells
            .iter()
            .map(|cell| place(printed.project, cell, names_tests))
            .collect();
        places.join("\n")
    };
    let new = if line.new.is_empty() {
        "__________".to_owned()
    } else {
        places(&line.new, false)
    };
    vec![
        Field::TickBox,
        line.ear.number.to_string().into(),
        line.ear.code.to_string().into(),
        printed.mother(line.ear).into(),
        places(&line.old, names_tests).into(),
        new.into(),
        line.reason.as_str().into(),
    ]
}

/// A cell with its tray, and its test where that must be said.
fn place(project: &Project, cell: &Cell, names_test: bool) -> String {
    let tray = project.trays.get(cell.tray).map_or(0, |tray| tray.number);
    let test = project.test_of_tray(cell.tray).filter(|_| names_test);
    let test = test.map_or_else(String::new, |test| format!("{}, ", test.name));
    format!("{test}tray {tray}, {}", cell.name())
}

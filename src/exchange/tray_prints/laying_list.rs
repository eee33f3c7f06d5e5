//! What to lay, cell by cell: where the packet is, a box to tick, and what to read back at the end of each row.

use super::super::print::{Cell as Field, Column, Flow, Fonts, FormItem, PrintFault, Table, Weight, Width};
use super::{Pages, Printed, TrayPrint, by_row};
use crate::model::{Cell, CellContent, Tray, plural, row_letters};

pub(super) fn pages(printed: &Printed<'_>, fonts: &Fonts) -> Result<Pages, PrintFault> {
    let settings = printed.settings(TrayPrint::LayingList);
    printed.tray_by_tray(fonts, settings, |flow, tray| lay(printed, flow, tray))
}

fn lay(printed: &Printed<'_>, flow: &mut Flow<'_>, tray: &Tray) {
    let name = printed.head(flow, tray);
    let how = "Lay cell by cell, from the top left to the right, row by row towards you. Compare the number on the packet, tick, go on. \
        At the end of each row write the number of the packet in your hand before you look: if it is another, the row is shifted.";
    flow.text(how, 9.0, Weight::Regular);
    flow.space(6.0);
    flow.running(&format!("{name}, continued"), &[]);
    let cells = printed.cells(tray);
    let mut table = Table {
        columns: columns(),
        least_height: 23.0,
        ..Table::default()
    };
    for row in by_row(&cells) {
        table.groups.push(row.len() + 1);
        table.rows.extend(row.iter().map(|cell| fields(printed, cell)));
        table.rows.push(vec![Field::Across(read_back(printed, row))]);
    }
    flow.table(&table);
    let laid = cells.iter().filter(|cell| cell.content.is_counted());
    let kernels: usize = laid.map(|cell| usize::from(printed.project.sown(cell))).sum();
    flow.space(8.0);
    flow.text(
        &format!("{name} takes {} in all.", plural(kernels, "kernel")),
        11.0,
        Weight::Bold,
    );
    flow.space(8.0);
    flow.form_line(&["Laid by", "date", "from", "to"].map(|what| FormItem::Blank(what.to_owned())));
}

fn columns() -> Vec<Column> {
    vec![
        Column::text("Laid", Width::Fit),
        Column::text("Cell", Width::Fit).set_in(15.0, Weight::Bold),
        Column::number("Ear", Width::Fit).set_in(17.0, Weight::Bold),
        Column::text("Ear code", Width::Fit).set_in(11.0, Weight::Regular),
        Column::text("Mother row", Width::Points(62.0)),
        Column::text("Packet", Width::Share(1.0)).set_in(12.0, Weight::Regular),
        Column::number("Kernels", Width::Fit).set_in(15.0, Weight::Bold),
    ]
}

fn fields(printed: &Printed<'_>, cell: &Cell) -> Vec<Field> {
    let kernels = printed.project.sown(cell).to_string();
    let tick = if printed.project.laid_on(cell).is_some() {
        Field::Ticked
    } else {
        Field::TickBox
    };
    let nothing = |what: &str| {
        let empty = || Field::from("");
        vec![
            "\u{2013}".into(),
            cell.name().into(),
            "empty".into(),
            empty(),
            empty(),
            what.into(),
            "0".into(),
        ]
    };
    match (cell.content, printed.ear(cell.content)) {
        (CellContent::Landmark, _) => nothing("landmark"),
        (CellContent::Spare, _) => nothing("spare"),
        (CellContent::Check(number), _) => vec![
            tick,
            cell.name().into(),
            format!("check {number}").into(),
            "".into(),
            "".into(),
            printed.check_lot().into(),
            kernels.into(),
        ],
        (CellContent::Ear(_), None) => nothing("the ear is no longer in the project"),
        (CellContent::Ear(id), Some(ear)) => vec![
            tick,
            cell.name().into(),
            ear.number.to_string().into(),
            ear.code.to_string().into(),
            printed.mother(ear).into(),
            printed.packets(id).into(),
            kernels.into(),
        ],
    }
}

/// What stands at the end of a row: the last packet's number to be written, and what it must be.
fn read_back(printed: &Printed<'_>, row: &[&Cell]) -> String {
    let Some(first) = row.first() else {
        return String::new();
    };
    let letters = row_letters(first.row);
    let last = row.iter().rev().find_map(|cell| match cell.content {
        CellContent::Ear(_) => printed
            .ear(cell.content)
            .map(|ear| (cell, format!("ear {}", ear.number))),
        CellContent::Check(number) => Some((cell, format!("check {number}"))),
        CellContent::Landmark | CellContent::Spare => None,
    });
    match last {
        Some((cell, what)) => {
            let place = if row.last().is_some_and(|end| end.id == cell.id) {
                "last cell"
            } else {
                "last filled cell"
            };
            format!(
                "Read back: in your hand is ________.  The {place} of row {letters}, {}, is {what}.",
                cell.name()
            )
        }
        None => format!("Read back: row {letters} stays empty."),
    }
}

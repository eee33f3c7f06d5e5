//! An empty form for the counts, in the order of the screen.

use super::super::print::{
    Cell as Field, Column, Flow, Fonts, FormItem, POINTS_PER_MM, PrintFault, PrintSettings, Table, Weight,
    Width,
};
use super::{Pages, Printed, TrayPrint, by_row};
use crate::model::{Cell, CellContent, Tray, row_letters};
use jiff::ToSpan as _;

/// Boxes of a line behind those of the categories: vigor, mould, note.
const OTHERS: usize = 3;

pub(super) fn pages(printed: &Printed<'_>, fonts: &Fonts) -> Result<Pages, PrintFault> {
    let settings = PrintSettings {
        margin: 10.0 * POINTS_PER_MM,
        ..printed.settings(TrayPrint::ScoreSheet)
    };
    printed.tray_by_tray(fonts, settings, |flow, tray| score(printed, flow, tray))
}

fn score(printed: &Printed<'_>, flow: &mut Flow<'_>, tray: &Tray) {
    let name = printed.head(flow, tray);
    let blanks = |whats: &[&str]| -> Vec<FormItem> {
        whats
            .iter()
            .map(|what| FormItem::Blank((*what).to_owned()))
            .collect()
    };
    flow.form_line(&passes(printed, tray));
    flow.form_line(&blanks(&["Scorer", "Date and time"]));
    flow.space(6.0);
    flow.running(
        &format!("{name}, continued"),
        &blanks(&["Pass", "Scorer", "Date and time"]),
    );
    let cells = printed.cells(tray);
    let mut table = Table {
        columns: columns(printed),
        is_form: true,
        least_height: 21.0,
        ..Table::default()
    };
    for row in by_row(&cells) {
        table.groups.push(row.len() + 1);
        table.rows.extend(row.iter().map(|cell| fields(printed, cell)));
        let letters = row.first().map_or_else(String::new, |cell| row_letters(cell.row));
        table.rows.push(total(printed, format!("Row {letters}"), row));
    }
    table.rows.push(total(printed, "Tray".to_owned(), &cells));
    flow.table(&table);
}

/// Boxes for the passes, with the days on which they are due.
fn passes(printed: &Printed<'_>, tray: &Tray) -> Vec<FormItem> {
    let laid = printed.project.tray_laid_on(tray.id);
    let recipe = &printed.test.recipe;
    let due = |day: u16| {
        let date = laid.and_then(|laid| laid.checked_add(i64::from(day).days()).ok());
        date.map_or_else(|| format!("day {day}"), |date| format!("day {day}, {date}"))
    };
    let early = recipe
        .early_day
        .map(|day| FormItem::Tick(format!("early ({})", due(day))));
    let mut items: Vec<FormItem> = early.into_iter().collect();
    items.push(FormItem::Tick(format!("final ({})", due(recipe.final_day))));
    items.push(FormItem::Blank("or on day".to_owned()));
    items
}

fn columns(printed: &Printed<'_>) -> Vec<Column> {
    let mut columns = vec![Column::text("Cell", Width::Fit).set_in(14.0, Weight::Bold)];
    if printed.order.with_ears {
        columns.push(Column::number("Ear", Width::Fit).set_in(14.0, Weight::Bold));
    }
    columns.push(Column::number("Laid", Width::Fit).set_in(11.0, Weight::Regular));
    let order = printed.project.about.scheme.order.iter();
    columns.extend(order.map(|category| Column::text(category.name(), Width::Points(47.0))));
    columns.push(Column::text("vigor 0\u{2013}9", Width::Points(36.0)));
    columns.push(Column::text("mould", Width::Points(38.0)));
    columns.push(Column::text("note", Width::Share(1.0)));
    columns
}

fn fields(printed: &Printed<'_>, cell: &Cell) -> Vec<Field> {
    let mut fields: Vec<Field> = vec![cell.name().into()];
    let with_ears = printed.order.with_ears;
    let is_counted = cell.content.is_counted();
    let boxes = printed.project.about.scheme.order.len() + OTHERS;
    if with_ears {
        let number = match cell.content {
            CellContent::Check(_) => "check".to_owned(),
            content => printed
                .ear(content)
                .map_or_else(String::new, |ear| ear.number.to_string()),
        };
        fields.push(number.into());
    }
    if is_counted {
        fields.push(printed.project.sown(cell).to_string().into());
        fields.extend(std::iter::repeat_n(Field::from(""), boxes));
    } else {
        // A dash in every box: nothing is forgotten here.
        fields.extend(std::iter::repeat_n(Field::from("\u{2013}"), boxes));
        let what = if cell.content == CellContent::Landmark {
            "landmark"
        } else {
            "spare"
        };
        fields.push(what.into());
    }
    fields
}

/// A line for the sums of some cells.
fn total(printed: &Printed<'_>, of: String, cells: &[&Cell]) -> Vec<Field> {
    let counted = cells.iter().filter(|cell| cell.content.is_counted());
    let laid: usize = counted.map(|cell| usize::from(printed.project.sown(cell))).sum();
    let mut fields: Vec<Field> = vec![of.into()];
    if printed.order.with_ears {
        fields.push("total".into());
    }
    fields.push(laid.to_string().into());
    fields.extend(std::iter::repeat_n(
        Field::from(""),
        printed.project.about.scheme.order.len(),
    ));
    fields.extend([Field::from("\u{2013}"), "".into(), "".into()]);
    fields
}

//! The days of a test, and noting what was done on them.

use crate::exchange::calendar_ics::calendar_ics;
use crate::insight::{CalendarItem, Chore, DayStanding, TestCalendar, days_of, weekday_and_date};
use crate::model::{Command, EventId, Place, Recipe, Test, TestId, TrayEvent, capital};
use crate::ui::context::{Action, PaneCtx, Tone};
use crate::ui::tokens::Tokens;
use egui::{
    Align, Button, Grid, Label, Response, RichText, Role, ScrollArea, TextWrapMode, Ui, WidgetInfo, vec2,
};
use jiff::Span;
use jiff::civil::Date;
use jiff::tz::TimeZone;
use std::sync::Arc;

/// From this width on the days stand in columns.
const ROOM_FOR_COLUMNS: f32 = 700.0;

/// Names the part in a switch, with how many things are due.
pub(super) fn title(ctx: &PaneCtx<'_>, test: Option<TestId>) -> String {
    let due = |test| {
        let calendar = ctx.insight.calendar(ctx.document, test);
        let items = calendar.items.iter();
        items
            .filter(|item| matches!(item.standing(ctx.today), DayStanding::Due(_)))
            .count()
    };
    match test.map_or(0, due) {
        0 => "Calendar".to_owned(),
        several => format!("Calendar ({several} due)"),
    }
}

/// Draws the days of a recorded test, or of a recipe that is being typed. `reveals` brings what is due into sight.
pub(super) fn calendar_ui(
    ui: &mut Ui,
    ctx: &mut PaneCtx<'_>,
    test: Option<TestId>,
    recipe: Option<&Recipe>,
    reveals: bool,
) {
    let project = ctx.document.project();
    let test = test.and_then(|test| project.tests.get(test));
    let calendar = test.map(|test| ctx.insight.calendar(ctx.document, test.id));
    let today = ctx.today;
    let days = test
        .zip(calendar.as_ref())
        .filter(|(_, calendar)| !calendar.items.is_empty());
    if let Some((test, calendar)) = days {
        above(ui, ctx, test, calendar);
    }
    ScrollArea::both()
        .id_salt("calendar of the test")
        .auto_shrink([false, false])
        .show(ui, |ui| {
            if let Some((test, calendar)) = days {
                days_ui(ui, ctx, test, calendar, reveals);
            } else if let Some(recipe) = recipe.or(test.map(|test| &test.recipe)) {
                planned_ui(ui, recipe, today);
            }
        });
}

/// Says what is due or comes next; several due things are told by the name of the part.
fn next(calendar: &TestCalendar, today: Date) -> Option<String> {
    let due = |item: &&CalendarItem| matches!(item.standing(today), DayStanding::Due(_));
    let coming = |item: &&CalendarItem| matches!(item.standing(today), DayStanding::Coming(_));
    let items = || calendar.items.iter();
    let next = match items().filter(due).count() {
        0 => items().find(coming)?,
        1 => items().find(due)?,
        _ => return None,
    };
    Some(format!("Next: {}, {}.", next.chore.name(), next.state(today)))
}

/// What stands above the days.
fn above(ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: &Test, calendar: &TestCalendar) {
    let t = Tokens::of(ui);
    if !calendar.unlaid.is_empty() {
        let text = "Some cells are not laid yet; their days are added once they are.";
        ui.label(RichText::new(text).color(t.quiet));
    }
    if let Some(next) = next(calendar, ctx.today) {
        ui.label(RichText::new(next).font(t.strong_font()));
    }
    ui.horizontal_wrapped(|ui| {
        let hint = "Writes the days of all tests of this season for the calendar of a phone or computer. Reading a newer file there moves the days and adds none twice.";
        if ui.button("Save for my calendar (.ics)").on_hover_text(hint).clicked() {
            save(ctx, test);
        }
        if ui.available_width() >= ROOM_FOR_COLUMNS / 2.0 {
            let text = "Days are counted from the evening of laying.";
            ui.label(RichText::new(text).font(t.small_font()).color(t.quiet));
        }
    });
}

fn days_ui(ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: &Test, calendar: &TestCalendar, reveals: bool) {
    let t = Tokens::of(ui);
    let open = |item: &CalendarItem| {
        matches!(
            item.standing(ctx.today),
            DayStanding::Due(_) | DayStanding::Coming(_)
        )
    };
    let first = calendar.items.iter().position(open).filter(|_| reveals);
    let mut one = |ui: &mut Ui, place: usize, item: &CalendarItem| {
        let title = item_ui(ui, ctx, test, item);
        if first == Some(place) {
            title.scroll_to_me(Some(Align::Center));
        }
    };
    if ui.available_width() < ROOM_FOR_COLUMNS {
        ui.spacing_mut().interact_size.y = t.type_size.body;
        ui.spacing_mut().item_spacing.y = t.space.tiny;
        for (place, item) in calendar.items.iter().enumerate() {
            ui.horizontal_wrapped(|ui| one(ui, place, item));
            ui.add_space(t.space.tiny);
        }
        return;
    }
    Grid::new("calendar of the test")
        .striped(true)
        .min_col_width(0.0)
        .min_row_height(ui.spacing().interact_size.y)
        .spacing(vec2(t.space.medium, t.space.tiny))
        .show(ui, |ui| {
            for (place, item) in calendar.items.iter().enumerate() {
                one(ui, place, item);
                ui.end_row();
            }
        });
}

/// Draws an item; returns its title.
fn item_ui(ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: &Test, item: &CalendarItem) -> Response {
    let t = Tokens::of(ui);
    let standing = item.standing(ctx.today);
    let state = item.state(ctx.today);
    let is_due = matches!(standing, DayStanding::Due(_));
    let (mark, colour) = match standing {
        DayStanding::Done => ("✓", t.ok),
        DayStanding::Passed => ("–", t.quiet),
        DayStanding::Due(_) => ("●", t.warn),
        DayStanding::Coming(_) => ("○", t.quiet),
    };
    let day = weekday_and_date(item.on);
    let said = format!("{day}, day {}: {}: {state}", item.day, item.title);
    let line = |text: RichText| Label::new(text).wrap_mode(TextWrapMode::Extend);
    ui.label(RichText::new(mark).color(colour));
    ui.add(line(RichText::new(day)));
    ui.add(line(RichText::new(format!("day {}", item.day)).color(t.quiet)));
    let font = if is_due { t.strong_font() } else { t.body_font() };
    let units = ctx.document.project().about.units;
    let title = ui
        .add(line(RichText::new(&item.title).font(font)))
        .on_hover_text(item.what(&test.recipe, units));
    title.widget_info(|| WidgetInfo::labeled(Role::Label, true, &said));
    ui.add(line(RichText::new(state).color(colour)));
    if is_due {
        do_ui(ui, ctx, test, item);
    }
    title
}

/// The button that does what is due, or notes that it was done.
fn do_ui(ui: &mut Ui, ctx: &mut PaneCtx<'_>, test: &Test, item: &CalendarItem) {
    let units = ctx.document.project().about.units;
    match item.chore.event(&test.recipe, units) {
        Some((kind, note)) => {
            let is_free = ctx.read_only.is_none();
            let button = ui.add_enabled(is_free, Button::new("Note as done"));
            let name = format!("Note as done: {}, {}", item.title, item.on);
            button.widget_info(|| WidgetInfo::labeled(Role::Button, is_free, &name));
            if button.on_hover_text("Undo takes the note back.").clicked() {
                ctx.run(Command::AddEvent(TrayEvent {
                    // The project gives it one of its own.
                    id: EventId(0),
                    test: test.id,
                    trays: item.trays.clone(),
                    at: ctx.now,
                    kind,
                    note,
                }));
            }
        }
        None if matches!(item.place, Place::Cell(_)) => {
            let button = ui.button("Count");
            let name = format!("Go to the {}, {}", item.chore.name(), item.on);
            button.widget_info(|| WidgetInfo::labeled(Role::Button, true, &name));
            if button.clicked() {
                ctx.act(Action::Go(item.place));
            }
        }
        None => {}
    }
}

/// The days of a test that is not laid: by their number, and as they would be if it was laid today.
fn planned_ui(ui: &mut Ui, recipe: &Recipe, today: Date) {
    let t = Tokens::of(ui);
    let text = "Days are counted from the evening of laying. If it was laid today:";
    ui.label(RichText::new(text).color(t.quiet));
    Grid::new("planned days of the test")
        .striped(true)
        .min_col_width(0.0)
        .spacing(vec2(t.space.medium, t.space.tiny))
        .show(ui, |ui| {
            for (chore, day) in days_of(recipe) {
                ui.label(RichText::new(format!("day {day}")).color(t.quiet));
                let on = today.checked_add(Span::new().days(i64::from(day)));
                ui.label(on.map(weekday_and_date).unwrap_or_default());
                ui.label(capital(Chore::name(chore)));
                ui.end_row();
            }
        });
}

fn save(ctx: &mut PaneCtx<'_>, test: &Test) {
    let project = ctx.document.snapshot();
    let calendars: Vec<Arc<TestCalendar>> = project
        .tests_of(test.season)
        .map(|test| ctx.insight.calendar(ctx.document, test.id))
        .collect();
    // A time that the clocks skip or have twice is near enough for a stamp.
    let Ok(now) = ctx.now.to_zoned_datetime(TimeZone::system()) else {
        let text = format!(
            "The computer's clock says {}, which no calendar takes; set it and save again.",
            ctx.now
        );
        ctx.notice(Tone::Error, text);
        return;
    };
    let year = project.seasons.get(test.season).map_or(0, |season| season.year);
    ctx.save_file(&format!("tests-{year}.ics"), move |_job| {
        let calendars: Vec<&TestCalendar> = calendars.iter().map(Arc::as_ref).collect();
        calendar_ics(&project, &calendars, now.timestamp()).ok_or_else(|| {
            "No test has a day yet, so the calendar would be empty. Nothing was written.".to_owned()
        })
    });
}

//! The harvest pane, driven by keys, clipboard and labels: what was there, what was typed, what is there after.

#![expect(clippy::unwrap_used, reason = "a helper fails its test by panicking")]

mod common;

use std::fmt::Write as _;

use egui::{Event, Key, Modifiers, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use jiff::civil::date;
use wintercrib::insight::Insight;
use wintercrib::model::*;
use wintercrib::ui::app::App;
use wintercrib::ui::context::{Action, FileBytes, PaneCtx, Ticket};
use wintercrib::ui::panes::harvest::Harvest as HarvestPane;
use wintercrib::ui::photos::PhotoShelf;

const SEASON: SeasonId = SeasonId(1);

fn stamp() -> Stamp {
    Stamp {
        at: date(2026, 10, 3).at(9, 0, 0, 0),
        by: "Grower A".to_owned(),
    }
}

fn run(document: &mut Document, command: &Command) {
    document.run(command, &stamp()).unwrap();
}

/// A project without a season.
fn bare() -> Document {
    Document::new(Project::new(About::new("Essel thaw", "test")))
}

/// A project with a season and a trait, but no ears.
fn empty() -> Document {
    let mut document = bare();
    let planted = Some(date(2026, 5, 14));
    run(&mut document, &Command::AddSeason { year: 2026, planted });
    let length = Trait {
        id: TraitId(0),
        name: "Ear length".to_owned(),
        unit: "cm".to_owned(),
        least: Some(5.0),
        most: Some(40.0),
        better: Better::Higher,
        decimals: 1,
        anchors: std::collections::BTreeMap::new(),
    };
    run(&mut document, &Command::AddTrait(length));
    document
}

/// A season with ears numbered from 1, six of a row, matured on different days.
fn with_ears(count: u32) -> Document {
    let mut document = empty();
    let drafts = (1..=count).map(|number| EarDraft {
        number: Some(number),
        row: Some(((number - 1) / 6 + 1).to_string()),
        matured: Some(date(2026, 8, 20).saturating_add(jiff::Span::new().days(i64::from(number * 7 % 23)))),
        kernels: Some(200 + number * 13 % 90),
        location: (number % 2 == 0).then(|| format!("box {}", number % 5)),
        values: [(TraitId(1), 15.0 + f64::from(number % 40) / 4.0)].into(),
        ..EarDraft::default()
    });
    let command = Command::AddEars {
        season: SEASON,
        drafts: drafts.collect(),
        existing: Existing::Refuse,
    };
    run(&mut document, &command);
    document
}

fn show_sized(document: Document, size: [f32; 2], theme: Theme, scale: f32) -> Harness<'static, App> {
    let app = App::in_memory(document, || date(2026, 10, 3).at(9, 0, 0, 0));
    let mut harness = common::harness(size, theme)
        .with_pixels_per_point(scale)
        .build_eframe(|_| app);
    harness.run();
    harness
}

fn show(document: Document) -> Harness<'static, App> {
    show_sized(document, [1280.0, 800.0], Theme::Light, 1.0)
}

fn key(harness: &mut Harness<'_, App>, key: Key) {
    keys(harness, Modifiers::NONE, key);
}

fn keys(harness: &mut Harness<'_, App>, modifiers: Modifiers, key: Key) {
    harness.key_press_modifiers(modifiers, key);
    harness.run();
}

fn text(harness: &mut Harness<'_, App>, text: &str) {
    harness.event(Event::Text(text.to_owned()));
    harness.run();
}

fn paste(harness: &mut Harness<'_, App>, text: &str) {
    harness.event(Event::Paste(text.to_owned()));
    harness.run();
}

fn project<'a>(harness: &'a Harness<'_, App>) -> &'a Project {
    harness.state().document().project()
}

fn ear<'a>(harness: &'a Harness<'_, App>, number: u32) -> &'a Ear {
    project(harness).ear_numbered(SEASON, number).unwrap()
}

fn count(harness: &Harness<'_, App>) -> usize {
    project(harness).ears_of(SEASON).count()
}

/// What a screen reader says of the grid's cursor.
fn cursor(harness: &Harness<'_, App>) -> String {
    harness.get_by_role_and_label(Role::Grid, "Ears").value().unwrap()
}

fn alert(harness: &Harness<'_, App>) -> String {
    let alerts: Vec<String> = harness
        .query_all_by_role(Role::Alert)
        .filter_map(|node| node.accesskit_node().label())
        .collect();
    alerts.join(" | ")
}

fn click(harness: &mut Harness<'_, App>, label: &str) {
    harness.get_by_role_and_label(Role::Button, label).click();
    harness.run();
}

#[test]
fn a_season_is_begun_and_24_ears_are_pasted_into_it() {
    let mut harness = show(bare());
    click(&mut harness, "Begin season 2026");
    let mut block = "ear\trow\tmatured\tkernels\n".to_owned();
    for number in 1..=24 {
        writeln!(
            block,
            "{number}\t{}\t2026-09-{number:02}\t{}",
            number % 5 + 1,
            250 + number
        )
        .unwrap();
    }
    paste(&mut harness, &block);
    assert_eq!(alert(&harness), "");
    assert_eq!(count(&harness), 24);
    assert_eq!(project(&harness).rows_of(SEASON).count(), 5);
    let third = ear(&harness, 3);
    assert_eq!(project(&harness).mother_label(third), "4");
    assert_eq!(third.matured, Some(date(2026, 9, 3)));
    assert_eq!(project(&harness).kernels_of(third.id), Some(253));
}

#[test]
fn a_block_without_a_header_goes_where_the_cursor_is_and_new_lines_are_new_ears() {
    let mut harness = show(with_ears(3));
    // From the third row on: ear 3 is changed, two ears are added.
    for _ in 0..2 {
        key(&mut harness, Key::ArrowDown);
    }
    for _ in 0..2 {
        key(&mut harness, Key::ArrowRight);
    }
    paste(&mut harness, "A\t2026-05-20\nB\t2026-05-21\nC\t2026-05-22\n");
    assert_eq!(alert(&harness), "");
    assert_eq!(count(&harness), 5);
    for (number, row, day) in [(3, "A", 20), (4, "B", 21), (5, "C", 22)] {
        let ear = ear(&harness, number);
        assert_eq!(project(&harness).mother_label(ear), row);
        assert_eq!(ear.planted, Some(date(2026, 5, day)));
    }
    assert_eq!(
        harness.state().document().undo_label(),
        Some("Add 2 ears and change 1")
    );
}

#[test]
fn a_block_with_one_bad_cell_is_refused_whole_and_the_cell_is_named() {
    let mut harness = show(with_ears(3));
    let before = project(&harness).clone();
    paste(&mut harness, "ear\tkernels\n1\t300\n2\tmany\n9\t300\n");
    assert_eq!(
        alert(&harness),
        "Row 2 (ear 2), column 'Kernels': 'many' is not a number. Write digits only, such as 12 or 12.5. Nothing was pasted."
    );
    assert_eq!(*project(&harness), before);
    // A fault that only the project sees names the row too.
    paste(
        &mut harness,
        "ear\tmatured\n1\t2026-09-01\n3\t2026-02-01\n8\t2026-09-01",
    );
    assert!(
        alert(&harness).starts_with("Row 3 (ear 3): It matured on 2026-02-01"),
        "{}",
        alert(&harness)
    );
    assert_eq!(*project(&harness), before);
    paste(&mut harness, "ear\tgirth\n1\t5\n");
    assert!(alert(&harness).contains("names 'girth'"), "{}", alert(&harness));
    assert_eq!(*project(&harness), before);
}

#[test]
fn typing_into_the_empty_row_adds_ears_one_below_the_other() {
    let mut harness = show(empty());
    for row in ["7", "7", "9"] {
        // To the column of the mother row of the empty row.
        assert!(cursor(&harness).ends_with("empty"), "{}", cursor(&harness));
        if row == "7" && count(&harness) == 0 {
            key(&mut harness, Key::ArrowRight);
            key(&mut harness, Key::ArrowRight);
        }
        text(&mut harness, row);
        key(&mut harness, Key::Enter);
    }
    assert_eq!(count(&harness), 3);
    assert_eq!(project(&harness).mother_label(ear(&harness, 3)), "9");
    // Tab stays in the row that has become an ear.
    text(&mut harness, "9");
    key(&mut harness, Key::Tab);
    text(&mut harness, "2026-05-30");
    key(&mut harness, Key::Tab);
    assert_eq!(count(&harness), 4);
    assert_eq!(ear(&harness, 4).planted, Some(date(2026, 5, 30)));
    assert_eq!(cursor(&harness), "row 4 of 5, Matured, empty");
}

#[test]
fn a_refused_cell_stays_open_with_its_text_and_a_sentence() {
    let mut harness = show(with_ears(3));
    text(&mut harness, "zero");
    key(&mut harness, Key::Enter);
    assert_eq!(
        alert(&harness),
        "'zero' is not a number for the ear number; type digits, such as 12 or 12.5."
    );
    let field = harness.get_by_role_and_label(Role::TextInput, "Ear number, row 1");
    assert_eq!(field.value().as_deref(), Some("zero"));
    // What only the project can refuse opens the cell again as well.
    keys(&mut harness, Modifiers::COMMAND, Key::A);
    text(&mut harness, "2");
    key(&mut harness, Key::Enter);
    assert!(
        alert(&harness).contains("has the ear number 2 twice"),
        "{}",
        alert(&harness)
    );
    let field = harness.get_by_role_and_label(Role::TextInput, "Ear number, row 1");
    assert_eq!(field.value().as_deref(), Some("2"));
    keys(&mut harness, Modifiers::COMMAND, Key::A);
    text(&mut harness, "20");
    key(&mut harness, Key::Enter);
    assert_eq!(alert(&harness), "");
    assert_eq!(ear(&harness, 20).id, EarId(1));
}

#[test]
fn fill_down_and_emptying_change_a_block_in_one_step() {
    let mut harness = show(with_ears(4));
    key(&mut harness, Key::ArrowRight);
    key(&mut harness, Key::ArrowRight);
    text(&mut harness, "West");
    key(&mut harness, Key::Enter);
    key(&mut harness, Key::ArrowUp);
    keys(&mut harness, Modifiers::SHIFT, Key::ArrowDown);
    keys(&mut harness, Modifiers::SHIFT, Key::ArrowDown);
    keys(&mut harness, Modifiers::COMMAND, Key::D);
    let label =
        |harness: &Harness<'_, App>, number| project(harness).mother_label(ear(harness, number)).to_owned();
    assert_eq!(label(&harness, 3), "West");
    assert_eq!(label(&harness, 4), "1");
    assert_eq!(
        harness.state().document().undo_label(),
        Some("Set mother row of 2 ears")
    );
    key(&mut harness, Key::Delete);
    for number in 1..=3 {
        assert_eq!(label(&harness, number), "");
    }
}

#[test]
fn sorted_and_filtered_rows_are_edited_where_they_are_seen() {
    let mut harness = show(with_ears(12));
    harness
        .get_by_role_and_label(Role::ColumnHeader, "Kernels")
        .click();
    harness.run();
    keys(&mut harness, Modifiers::COMMAND, Key::L);
    text(&mut harness, "box 2");
    key(&mut harness, Key::Enter);
    // Ears 2 and 12 are in box 2; 226 and 266 kernels.
    let kept: Vec<i64> = [2, 12]
        .map(|number| project(&harness).kernels_of(ear(&harness, number).id).unwrap())
        .into();
    assert!(kept[0] < kept[1], "{kept:?}");
    keys(&mut harness, Modifiers::COMMAND, Key::End);
    assert!(cursor(&harness).starts_with("row 3 of 3"), "{}", cursor(&harness));
    key(&mut harness, Key::ArrowUp);
    text(&mut harness, "from the west");
    key(&mut harness, Key::Enter);
    assert_eq!(ear(&harness, 12).note, "from the west");
    assert_eq!(ear(&harness, 2).note, "");
    assert_eq!(harness.state().chosen(), [ear(&harness, 12).id]);
}

#[test]
fn whole_rows_are_deleted_and_undo_brings_them_back() {
    let mut harness = show(with_ears(5));
    key(&mut harness, Key::ArrowDown);
    keys(&mut harness, Modifiers::SHIFT, Key::ArrowDown);
    keys(&mut harness, Modifiers::COMMAND, Key::Delete);
    assert_eq!(count(&harness), 3);
    assert!(project(&harness).ear_numbered(SEASON, 2).is_none());
    assert!(project(&harness).ear_numbered(SEASON, 3).is_none());
}

#[test]
fn ears_are_added_in_bulk_from_rows() {
    let mut harness = show(with_ears(5));
    click(&mut harness, "Add ears…");
    // The keyboard is in the first field.
    text(&mut harness, "22");
    key(&mut harness, Key::Tab);
    text(&mut harness, "14");
    assert!(
        harness
            .query_by_label("14 ears of row 22 will be added, numbered from 6 to 19.")
            .is_some()
    );
    key(&mut harness, Key::Enter);
    assert_eq!(count(&harness), 19);
    click(&mut harness, "Add ears…");
    harness
        .get_by_role_and_label(Role::RadioButton, "Several rows")
        .click();
    harness.run();
    let lines = "One line for each row, such as 'row 7: ears 1 to 14' or 'row 8: 12 ears'";
    harness
        .get_by_role_and_label(Role::MultilineTextInput, lines)
        .focus();
    harness.run();
    text(&mut harness, "row 23: ears 19 to 24\nrow 24: 3 ears");
    assert_eq!(
        alert(&harness),
        "This season already has ear 19, which row 23 would get. Begin at 20 or higher."
    );
    keys(&mut harness, Modifiers::COMMAND, Key::A);
    text(&mut harness, "row 23: ears 20 to 24\nrow 24: 3 ears");
    assert!(
        harness
            .query_by_label("8 ears of 2 rows will be added, numbered from 20 to 27.")
            .is_some()
    );
    click(&mut harness, "Add 8 ears");
    assert_eq!(count(&harness), 27);
    assert_eq!(project(&harness).mother_label(ear(&harness, 27)), "24");
}

#[test]
fn a_trait_is_added_by_keyboard_and_gets_a_column() {
    // Wide enough for all columns that every project has.
    let mut harness = show_sized(empty(), [1760.0, 800.0], Theme::Light, 1.0);
    click(&mut harness, "Traits…");
    key(&mut harness, Key::Enter);
    text(&mut harness, "Kernel rows");
    key(&mut harness, Key::Enter);
    assert!(project(&harness).trait_named("Kernel rows").is_some());
    key(&mut harness, Key::Escape);
    click(&mut harness, "Season and rows");
    assert!(
        harness
            .query_by_role_and_label(Role::ColumnHeader, "Kernel rows")
            .is_some()
    );
}

#[test]
fn the_season_and_its_rows_are_changed_beside_the_table() {
    let mut harness = show(with_ears(8));
    harness.get_by_role_and_label(Role::TextInput, "Planted").focus();
    harness.run();
    keys(&mut harness, Modifiers::COMMAND, Key::A);
    text(&mut harness, "2026-02-31");
    key(&mut harness, Key::Tab);
    assert!(
        alert(&harness).contains("'2026-02-31' is not a date"),
        "{}",
        alert(&harness)
    );
    harness.get_by_role_and_label(Role::TextInput, "Planted").focus();
    harness.run();
    keys(&mut harness, Modifiers::COMMAND, Key::A);
    text(&mut harness, "2026-05-02");
    key(&mut harness, Key::Tab);
    let season = project(&harness).seasons.get(SEASON).unwrap();
    assert_eq!(season.planted, Some(date(2026, 5, 2)));
    harness.get_by_role_and_label(Role::Grid, "Mother rows").focus();
    harness.run();
    key(&mut harness, Key::ArrowRight);
    key(&mut harness, Key::ArrowRight);
    text(&mut harness, "somewhere");
    key(&mut harness, Key::Enter);
    assert!(
        alert(&harness).contains("'somewhere' is no ear code"),
        "{}",
        alert(&harness)
    );
    keys(&mut harness, Modifiers::COMMAND, Key::A);
    text(&mut harness, "bulk of 2025");
    key(&mut harness, Key::Enter);
    let row = project(&harness).row_labelled(SEASON, "1").unwrap();
    assert_eq!(row.source, RowSource::Bulk("of 2025".to_owned()));
}

/// A window with the pane alone, into which files can be dropped.
struct Desk {
    document: Document,
    insight: Insight,
    pane: HarvestPane,
    season: Option<SeasonId>,
    chosen: Vec<EarId>,
    outcomes: Vec<(Ticket, Result<Committed, Problem>)>,
    dropped: Vec<FileBytes>,
    last_ticket: u64,
    said: Vec<String>,
    read_only: Option<&'static str>,
    cards: Vec<EarId>,
}

impl Desk {
    fn show(&mut self, ui: &mut egui::Ui) {
        let (outcomes, dropped) = (
            std::mem::take(&mut self.outcomes),
            std::mem::take(&mut self.dropped),
        );
        let mut actions = Vec::new();
        egui::CentralPanel::default().show(ui, |ui| {
            let mut ctx = PaneCtx {
                document: &self.document,
                insight: &self.insight,
                season: self.season,
                chosen: &self.chosen,
                today: date(2026, 10, 3),
                now: date(2026, 10, 3).at(9, 0, 0, 0),
                who: "",
                read_only: self.read_only,
                outcomes: &outcomes,
                files: &[],
                dropped: &dropped,
                label_sheets: &wintercrib::ui::label_sheets::LabelSheets::default(),
                photos: &mut PhotoShelf::default(),
                actions: &mut actions,
                last_ticket: &mut self.last_ticket,
            };
            self.pane.ui(ui, &mut ctx);
        });
        if !actions.is_empty() {
            ui.ctx().request_repaint();
        }
        for action in actions {
            match action {
                Action::Run { command, ticket } => {
                    let outcome = self.document.run(&command, &stamp());
                    match ticket {
                        Some(ticket) => self.outcomes.push((ticket, outcome)),
                        None => drop(outcome.unwrap()),
                    }
                }
                Action::Choose(ears) => self.chosen = ears,
                Action::Notice(_, text) => self.said.push(text),
                Action::OpenCard(ear) => self.cards.push(ear),
                Action::ShowSeason(season) => self.season = Some(season),
                other => panic!("the pane asked for {other:?}"),
            }
        }
    }

    fn count(&self) -> usize {
        self.document.project().ears_of(SEASON).count()
    }
}

fn desk(document: Document) -> Harness<'static, Desk> {
    desk_in(document, Theme::Light)
}

fn desk_in(document: Document, theme: Theme) -> Harness<'static, Desk> {
    let season = document.project().latest_season().map(|season| season.id);
    let desk = Desk {
        document,
        insight: Insight::default(),
        pane: HarvestPane::default(),
        season,
        chosen: Vec::new(),
        outcomes: Vec::new(),
        dropped: Vec::new(),
        last_ticket: 0,
        said: Vec::new(),
        read_only: None,
        cards: Vec::new(),
    };
    let mut harness =
        common::harness([1280.0, 800.0], theme).build_ui_state(|ui, desk: &mut Desk| desk.show(ui), desk);
    harness.run();
    harness
}

fn drop_file(harness: &mut Harness<'_, Desk>, name: &str, text: &str) {
    harness.state_mut().dropped = vec![FileBytes {
        name: name.to_owned(),
        bytes: text.as_bytes().into(),
    }];
    harness.run();
}

fn push(harness: &mut Harness<'_, Desk>, role: Role, label: &str) {
    harness.get_by_role_and_label(role, label).click();
    harness.run();
}

const FILE: &str = "Ear;Row;Matured;Kernels;Girth (mm);Box\n\
    1;1;3/9/2026;250;41,5;a\n\
    9;1;13/9/2026;260;42,5;a\n\
    10;2;31/9/2026;270;43,5;b\n\
    11;2;14/9/2026;some;44,5;b\n";

#[test]
fn a_file_is_looked_at_before_anything_is_taken() {
    let mut harness = desk(with_ears(3));
    drop_file(&mut harness, "autumn.csv", FILE);
    let lines: Vec<String> = harness
        .query_all_by_role(Role::Alert)
        .filter_map(|node| node.accesskit_node().label())
        .collect();
    assert_eq!(lines.len(), 3, "{lines:?}");
    assert!(
        lines[0].starts_with("Line 2, column 'Ear': this season already has ear 1."),
        "{lines:?}"
    );
    assert!(
        lines[1].starts_with("Line 4, column 'Matured': '31/9/2026' is not a date"),
        "{lines:?}"
    );
    assert!(
        lines[2].starts_with("Line 5, column 'Kernels': 'some' is not a number"),
        "{lines:?}"
    );
    assert_eq!(harness.state().count(), 3);
    push(&mut harness, Role::RadioButton, "Change them");
    // A column that the project does not know becomes a trait, when that is wanted.
    push(&mut harness, Role::ComboBox, "Girth (mm)");
    push(&mut harness, Role::Button, "Add as a new trait");
    assert!(
        harness
            .query_by_label_contains("1 ear new, 1 ear changed, 1 new trait, 2 lines with problems")
            .is_some()
    );
    assert!(harness.query_by_label("Take all 4 lines").is_some());
    common::shot(&mut harness, "harvest_import_light");
    assert_eq!(harness.state().document.project().traits.len(), 1);
    push(
        &mut harness,
        Role::Button,
        "Take the good 2 ears, leave out 2 lines",
    );
    assert_eq!(harness.state().count(), 4);
    let project = harness.state().document.project();
    let girth = project.trait_named("Girth").unwrap();
    assert_eq!((girth.unit.as_str(), girth.decimals), ("mm", 1));
    let ninth = project.ear_numbered(SEASON, 9).unwrap();
    assert_eq!(ninth.values.get(&girth.id), Some(&42.5));
    let first = project.ear_numbered(SEASON, 1).unwrap();
    assert_eq!(first.matured, Some(date(2026, 9, 3)));
    assert_eq!(harness.state().said, ["2 ears taken from autumn.csv."]);
}

#[test]
fn a_file_without_problems_is_taken_and_one_that_is_no_table_is_refused() {
    let mut harness = desk(empty());
    drop_file(&mut harness, "broken.csv", "a,\"b\n1,2");
    let said = harness.get_by_role(Role::Alert).accesskit_node().label().unwrap();
    assert!(
        said.starts_with("broken.csv: Line 1 begins a quoted cell"),
        "{said}"
    );
    drop_file(
        &mut harness,
        "good.csv",
        "ear number,mother row,packet place\n4,7,box 1\n5,7,box 1\n",
    );
    push(&mut harness, Role::Button, "Cancel");
    assert_eq!(harness.state().count(), 0);
    drop_file(
        &mut harness,
        "good.csv",
        "ear number,mother row,packet place\n4,7,box 1\n5,7,box 1\n",
    );
    push(&mut harness, Role::Button, "Take 2 ears");
    assert_eq!(harness.state().count(), 2);
}

#[test]
fn places_are_gone_to_and_chosen_ears_are_shown() {
    let mut harness = desk(with_ears(240));
    harness.state_mut().pane.go(Place::Ear(EarId(200)));
    harness.run();
    let spoken =
        |harness: &Harness<'_, Desk>, name| harness.get_by_role_and_label(Role::Grid, name).value().unwrap();
    assert_eq!(spoken(&harness, "Ears"), "row 200 of 241, Ear number, 200");
    harness.state_mut().chosen = vec![EarId(50), EarId(20)];
    harness.run();
    assert_eq!(spoken(&harness, "Ears"), "row 20 of 241, Ear number, 20");
    assert_eq!(harness.state().chosen, [EarId(50), EarId(20)]);
    let packet = harness
        .state()
        .document
        .project()
        .packets_of(EarId(77))
        .next()
        .unwrap()
        .id;
    harness.state_mut().pane.go(Place::Packet(packet));
    harness.run();
    assert!(
        spoken(&harness, "Ears").starts_with("row 77 of 241, Kernels"),
        "{}",
        spoken(&harness, "Ears")
    );
    harness.state_mut().pane.go(Place::Row(RowId(9)));
    harness.run();
    assert_eq!(spoken(&harness, "Mother rows"), "row 9 of 41, Row, 9");
    harness.state_mut().pane.go(Place::Ear(EarId(3)));
    harness.run();
    harness.key_press(Key::ArrowRight);
    harness.run();
    harness.key_press(Key::Enter);
    harness.run();
    assert_eq!(harness.state().cards, [EarId(3)]);
    harness.state_mut().pane.go(Place::Trait(TraitId(1)));
    harness.run();
    assert!(
        harness
            .query_by_role_and_label(Role::Dialog, "Change a trait")
            .is_some()
    );
    common::shot(&mut harness, "harvest_trait_light");
}

fn press(harness: &mut Harness<'_, Desk>, key: Key) {
    press_with(harness, Modifiers::NONE, key);
}

fn press_with(harness: &mut Harness<'_, Desk>, modifiers: Modifiers, key: Key) {
    harness.key_press_modifiers(modifiers, key);
    harness.run();
}

fn grid(harness: &Harness<'_, Desk>) -> String {
    harness.get_by_role_and_label(Role::Grid, "Ears").value().unwrap()
}

#[test]
fn deleted_ears_come_back_in_their_place_and_the_cursor_stays_with_its_ear() {
    let mut harness = desk(with_ears(6));
    press(&mut harness, Key::ArrowDown);
    press_with(&mut harness, Modifiers::COMMAND, Key::Delete);
    assert_eq!(grid(&harness), "row 2 of 6, Ear number, 3");
    harness.state_mut().document.undo(&stamp()).unwrap().unwrap();
    harness.run();
    assert_eq!(grid(&harness), "row 3 of 7, Ear number, 3");
    press(&mut harness, Key::ArrowUp);
    assert_eq!(grid(&harness), "row 2 of 7, Ear number, 2");
    assert_eq!(harness.state().chosen, [EarId(2)]);
}

#[test]
fn a_pasted_block_is_one_step_for_undo() {
    let mut harness = desk(with_ears(3));
    let before = harness.state().document.project().clone();
    harness.event(Event::Paste(
        "ear\tkernels\trow\n1\t300\t8\n7\t310\t8\n".to_owned(),
    ));
    harness.run();
    assert_eq!(harness.state().count(), 4);
    assert!(harness.state().document.project().validate().is_empty());
    harness.state_mut().document.undo(&stamp()).unwrap().unwrap();
    assert_eq!(*harness.state().document.project(), before);
}

#[test]
fn cells_are_copied_as_they_are_shown_and_pasting_them_back_changes_nothing() {
    let mut harness = desk(with_ears(3));
    press_with(&mut harness, Modifiers::COMMAND, Key::A);
    harness.event(Event::Copy);
    harness.step();
    let copied = harness
        .output()
        .platform_output
        .commands
        .iter()
        .find_map(|command| match command {
            egui::OutputCommand::CopyText(text) => Some(text.clone()),
            _ => None,
        });
    let copied = copied.unwrap();
    assert!(copied.starts_with("1\tET26-0001-5\t1\t2026-05-14\t"), "{copied}");
    let before = harness.state().document.project().clone();
    press_with(&mut harness, Modifiers::COMMAND, Key::Home);
    harness.event(Event::Paste(copied));
    harness.run();
    assert!(harness.query_by_role(Role::Alert).is_none());
    assert_eq!(*harness.state().document.project(), before);
}

#[test]
fn nothing_can_be_changed_where_the_project_is_read_only() {
    let mut document = desk(with_ears(3));
    document.state_mut().read_only = Some("another window has it open");
    document.run();
    assert_eq!(grid(&document), "row 1 of 3, Ear number, 1");
    press_with(&mut document, Modifiers::COMMAND, Key::Delete);
    document.event(Event::Paste("9".to_owned()));
    document.run();
    let said = document
        .get_by_role(Role::Alert)
        .accesskit_node()
        .label()
        .unwrap();
    assert_eq!(said, "Nothing can be changed: another window has it open.");
    assert_eq!(document.state().count(), 3);
    assert_eq!(document.state().document.undo_label(), Some("Add 3 ears"));
}

#[test]
fn a_limit_of_a_trait_that_is_no_number_is_said_and_nothing_is_added() {
    let mut harness = desk(empty());
    push(&mut harness, Role::Button, "Traits…");
    push(&mut harness, Role::Button, "Add a trait");
    for typed in ["Cob colour", "grade", "low"] {
        harness.event(Event::Text(typed.to_owned()));
        harness.run();
        press(&mut harness, Key::Tab);
    }
    let said = harness.get_by_role(Role::Alert).accesskit_node().label().unwrap();
    assert_eq!(
        said,
        "'low' is not a number for the least value; type digits, such as 12 or 12.5."
    );
    press(&mut harness, Key::Enter);
    assert_eq!(harness.state().document.project().traits.len(), 1);
    common::shot(&mut harness, "harvest_trait_refused");
}

#[test]
fn a_file_is_taken_by_keyboard_alone() {
    let mut harness = desk(empty());
    drop_file(
        &mut harness,
        "two.csv",
        "ear number;mother row;girth\n4;7;3\n5;8;4\n",
    );
    // The keyboard is on the first column; its list is opened, left, and the button is reached by Tab.
    for _ in 0..12 {
        let on_take = harness
            .get_by_role_and_label(Role::Button, "Take 2 ears")
            .is_focused();
        if on_take {
            break;
        }
        press(&mut harness, Key::Tab);
    }
    press(&mut harness, Key::Enter);
    assert_eq!(harness.state().count(), 2);
    // The keyboard is in the table again.
    press(&mut harness, Key::ArrowDown);
    assert_eq!(grid(&harness), "row 2 of 3, Ear number, 5");
}

/// A dropped file: its path and what is in it.
#[derive(Debug)]
struct OnDisk(&'static str, &'static str);

impl egui::DroppedFile for OnDisk {
    fn path(&self) -> &std::path::Path {
        std::path::Path::new(self.0)
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        Ok(self.1.as_bytes().to_vec())
    }
}

#[test]
fn a_file_dropped_on_the_window_is_imported() {
    let mut harness = show(empty());
    let file = OnDisk("/nowhere/two.csv", "ear number;mother row\n4;7\n5;8\n");
    harness.input_mut().dropped_files = vec![std::sync::Arc::new(file)];
    harness.run();
    click(&mut harness, "Take 2 ears");
    assert_eq!(count(&harness), 2);
}

#[test]
fn a_file_of_many_lines_is_looked_at() {
    let mut text = "ear number,mother row,matured,kernels\n".to_owned();
    for number in 1..=20_000 {
        writeln!(text, "{number},{},2026-09-01,200", number % 40).unwrap();
    }
    let mut harness = desk(empty());
    let begun = std::time::Instant::now();
    drop_file(&mut harness, "many.csv", &text);
    // A figure to read, not a limit: the machine is shared and the build is not optimised.
    eprintln!("20,000 lines looked at: {:?}", begun.elapsed());
    assert!(
        harness
            .query_by_role_and_label(Role::Button, "Take 20000 ears")
            .is_some()
    );
}

#[test]
fn a_row_is_gone_to_in_a_window_too_narrow_for_the_side() {
    let document = with_ears(60);
    let mut harness = show_sized(document, [853.0, 533.0], Theme::Light, 1.0);
    assert!(
        harness
            .query_by_role_and_label(Role::Grid, "Mother rows")
            .is_none()
    );
    click(&mut harness, "Season and rows");
    assert!(
        harness
            .query_by_role_and_label(Role::Grid, "Mother rows")
            .is_some()
    );
    common::shot(&mut harness, "harvest_narrow_side");
}

#[test]
fn ten_thousand_ears_pass() {
    let mut harness = desk(with_ears(10_000));
    harness.key_press_modifiers(Modifiers::COMMAND, Key::End);
    harness.run();
    let spoken = harness.get_by_role_and_label(Role::Grid, "Ears").value().unwrap();
    assert!(spoken.starts_with("row 10001 of 10001"), "{spoken}");
    let begun = std::time::Instant::now();
    for _ in 0..10 {
        harness.step();
    }
    // A figure to read, not a limit: the machine is shared and the build is not optimised.
    eprintln!("10 passes over 10,000 ears: {:?}", begun.elapsed());
}

#[test]
fn looks() {
    let mut harness = desk_in(with_ears(30), Theme::Dark);
    push(&mut harness, Role::Button, "Add ears…");
    common::shot(&mut harness, "harvest_bulk_dark");
    let mut harness = desk_in(with_ears(30), Theme::Dark);
    harness.event(Event::Paste("ear\tkernels\n1\t300\n2\tmany\n9\t300\n".to_owned()));
    harness.run();
    common::shot(&mut harness, "harvest_refused_dark");
    push(&mut harness, Role::Button, "Traits…");
    common::shot(&mut harness, "harvest_traits_dark");

    for (name, document) in [("none", bare()), ("empty", empty()), ("full", with_ears(240))] {
        for (theme, theme_name) in [(Theme::Light, "light"), (Theme::Dark, "dark")] {
            let mut harness = show_sized(document.clone(), [1280.0, 800.0], theme, 1.0);
            common::shot(&mut harness, &format!("harvest_{name}_{theme_name}"));
        }
    }
    let mut harness = show(Document::new(wintercrib::demo::make("essel-thaw").unwrap()));
    common::shot(&mut harness, "harvest_demo");
    let mut harness = show_sized(with_ears(240), [853.0, 533.0], Theme::Light, 1.5);
    common::shot(&mut harness, "harvest_full_scaled");
    let mut harness = show_sized(with_ears(240), [1920.0, 1080.0], Theme::Light, 1.0);
    common::shot(&mut harness, "harvest_full_large");
}

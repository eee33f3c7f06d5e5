//! The spreadsheet grid, driven by keys and mouse: what was there, what was typed, what is there after.

mod common;

use std::borrow::Cow;

use egui::{Event, Id, Key, Modifiers, Role, Theme, pos2};
use egui_kittest::Harness;
use egui_kittest::kittest::Queryable as _;
use wintercrib::ui::widgets::dialog::Dialog;
use wintercrib::ui::widgets::grid::{CellMark, Grid, GridColumn, GridEvent, GridSource, GridState};

/// A plain sheet: it does at once what the grid asks, and refuses words in the second column.
struct Sheet {
    columns: Vec<GridColumn>,
    cells: Vec<Vec<String>>,
    state: GridState,
    events: Vec<GridEvent>,
}

impl GridSource for Sheet {
    fn rows(&self) -> usize {
        self.cells.len()
    }
    fn columns(&self) -> &[GridColumn] {
        &self.columns
    }
    fn text(&self, row: usize, col: usize) -> Cow<'_, str> {
        Cow::Borrowed(&self.cells[row][col])
    }
    fn mark(&self, row: usize, col: usize) -> Option<CellMark> {
        (self.cells[row][col] == "999").then(|| CellMark {
            text: "999 is more than an ear holds.".to_owned(),
        })
    }
}

impl Sheet {
    fn new(cells: &[&[&str]]) -> Self {
        Self::of(
            cells
                .iter()
                .map(|row| row.iter().map(ToString::to_string).collect())
                .collect(),
        )
    }

    fn of(cells: Vec<Vec<String>>) -> Self {
        let columns = vec![
            GridColumn::new("ear").frozen(),
            GridColumn::new("kernels").hint("Kernels on the ear.").number(),
            GridColumn::new("note").width(160.0),
            GridColumn::new("sum").read_only().number(),
        ];
        Self {
            columns,
            cells,
            state: GridState::default(),
            events: Vec::new(),
        }
    }

    fn rows_as_text(&self) -> Vec<String> {
        self.cells.iter().map(|row| row.join("|")).collect()
    }

    fn apply(&mut self, event: &GridEvent) {
        match event {
            GridEvent::Edit { row, col: 1, text } if text.parse::<u32>().is_err() => {
                self.state
                    .refuse(*row, 1, format!("\"{text}\" is not a number of kernels."));
            }
            GridEvent::Edit { row, col, text } => self.cells[*row][*col].clone_from(text),
            GridEvent::Paste { row, col, cells } => {
                for (i, line) in cells.iter().enumerate() {
                    for (j, cell) in line.iter().enumerate() {
                        if let Some(target) = self
                            .cells
                            .get_mut(row + i)
                            .and_then(|cells| cells.get_mut(col + j))
                        {
                            target.clone_from(cell);
                        }
                    }
                }
            }
            GridEvent::FillDown { rows, col } => {
                let value = self.cells[rows.start][*col].clone();
                for row in rows.clone() {
                    self.cells[row][*col].clone_from(&value);
                }
            }
            GridEvent::Clear { rows, cols } => {
                for row in rows.clone() {
                    for col in cols.clone() {
                        self.cells[row][col].clear();
                    }
                }
            }
            GridEvent::DeleteRows { rows } => drop(self.cells.drain(rows.clone())),
            GridEvent::Sort { col, descending } => {
                self.cells.sort_by(|a, b| a[*col].cmp(&b[*col]));
                if *descending {
                    self.cells.reverse();
                }
            }
            GridEvent::Copy { .. } | GridEvent::Cursor { .. } => {}
        }
    }
}

fn show(ui: &mut egui::Ui, sheet: &mut Sheet) {
    egui::CentralPanel::default().show(ui, |ui| {
        let mut state = std::mem::take(&mut sheet.state);
        let events = Grid::new(Id::unique("sheet"), "Ears").show(ui, &mut state, sheet);
        sheet.state = state;
        for event in &events {
            sheet.apply(event);
        }
        sheet.events.extend(events);
    });
}

fn harness(sheet: Sheet) -> Harness<'static, Sheet> {
    let mut harness = common::harness([560.0, 300.0], Theme::Light).build_ui_state(show, sheet);
    harness.get_by_role_and_label(Role::Grid, "Ears").focus();
    harness.run();
    harness
}

/// Plays a line of keys: words in `<>` are keys (`<C-` is Ctrl, `<S-` Shift, `<A-` Alt), the rest is typed.
fn play<S>(harness: &mut Harness<'_, S>, line: &str) {
    let mut rest = line;
    while let Some(c) = rest.chars().next() {
        let event = if c == '<' {
            let end = rest.find('>').expect("a key ends with >");
            let event = key_event(&rest[1..end]);
            rest = &rest[end + 1..];
            event
        } else {
            rest = &rest[c.len_utf8()..];
            Event::Text(c.to_string())
        };
        harness.event(event);
        harness.run();
    }
}

fn key_event(name: &str) -> Event {
    match name {
        "copy" => return Event::Copy,
        "cut" => return Event::Cut,
        _ => {}
    }
    if let Some(text) = name.strip_prefix("paste ") {
        return Event::Paste(text.replace("\\t", "\t").replace("\\n", "\n"));
    }
    let mut modifiers = Modifiers::NONE;
    let mut name = name;
    while let Some((prefix, after)) = name.split_once('-') {
        modifiers |= match prefix {
            "C" => Modifiers::CTRL | Modifiers::COMMAND,
            "S" => Modifiers::SHIFT,
            "A" => Modifiers::ALT,
            other => panic!("unknown modifier {other}"),
        };
        name = after;
    }
    let key = Key::from_name(name).unwrap_or_else(|| panic!("unknown key {name}"));
    Event::Key {
        key,
        physical_key: None,
        pressed: true,
        repeat: false,
        modifiers,
    }
}

const START: &[&[&str]] = &[&["a", "1", "", "x"], &["b", "2", "", "y"], &["c", "3", "", "z"]];

#[test]
fn keys_do_what_a_spreadsheet_does() {
    let table: &[(&str, &[&str], (usize, usize))] = &[
        // typing replaces, Enter commits and goes down
        ("hen<Enter>", &["hen|1||x", "b|2||y", "c|3||z"], (1, 0)),
        (
            "<Right>12<Enter>34<Enter>56<Enter>",
            &["a|12||x", "b|34||y", "c|56||z"],
            (2, 1),
        ),
        ("<Down>q<S-Enter>", &["a|1||x", "q|2||y", "c|3||z"], (0, 0)),
        // Tab goes right, wraps, and Enter returns to the column where it began
        ("p<Tab>7<Tab>n<Enter>", &["p|7|n|x", "b|2||y", "c|3||z"], (1, 0)),
        ("<Tab><Tab><Tab><Tab>", &["a|1||x", "b|2||y", "c|3||z"], (1, 0)),
        ("<Tab><Tab><S-Tab>", &["a|1||x", "b|2||y", "c|3||z"], (0, 1)),
        // F2 edits the text itself, with the caret at the end; arrows then move in the text
        ("<F2>9<Enter>", &["a9|1||x", "b|2||y", "c|3||z"], (1, 0)),
        ("<F2>9<Left>8<Enter>", &["a89|1||x", "b|2||y", "c|3||z"], (1, 0)),
        // typed cells close by an arrow
        ("k<Right>5<Down>", &["k|5||x", "b|2||y", "c|3||z"], (1, 1)),
        // Escape cancels
        ("zz<Escape>", &["a|1||x", "b|2||y", "c|3||z"], (0, 0)),
        ("zz<Escape>y<Enter>", &["y|1||x", "b|2||y", "c|3||z"], (1, 0)),
        // filling down: a chosen block, or from the row above
        ("<S-Down><S-Down><C-D>", &["a|1||x", "a|2||y", "a|3||z"], (2, 0)),
        ("<Down><C-D>", &["a|1||x", "a|2||y", "c|3||z"], (1, 0)),
        ("<C-D>", &["a|1||x", "b|2||y", "c|3||z"], (0, 0)),
        ("<S-Right><S-Down><C-D>", &["a|1||x", "a|1||y", "c|3||z"], (1, 1)),
        // pasting a block, one cell into a block
        (
            "<Right><paste 7\\tu\\n8\\tv\\n>",
            &["a|7|u|x", "b|8|v|y", "c|3||z"],
            (0, 1),
        ),
        (
            "<S-Down><S-Down><paste w>",
            &["w|1||x", "w|2||y", "w|3||z"],
            (2, 0),
        ),
        // emptying and cutting
        ("<S-Right><S-Down><Delete>", &["|||x", "|||y", "c|3||z"], (1, 1)),
        ("<Down><cut>", &["a|1||x", "|2||y", "c|3||z"], (1, 0)),
        ("<C-A><Backspace>", &["|||", "|||", "|||"], (2, 3)),
        // whole rows
        ("<Down><C-Delete>", &["a|1||x", "c|3||z"], (1, 0)),
        // far moves
        ("<C-End>", &["a|1||x", "b|2||y", "c|3||z"], (2, 3)),
        ("<C-Down><End><Home>", &["a|1||x", "b|2||y", "c|3||z"], (2, 0)),
        ("<C-End><C-Home>", &["a|1||x", "b|2||y", "c|3||z"], (0, 0)),
        // a column that is only shown
        ("<End>5<Enter>", &["a|1||x", "b|2||y", "c|3||z"], (1, 3)),
        ("<A-Down>", &["c|3||z", "b|2||y", "a|1||x"], (0, 0)),
        ("<A-Down><A-Up>", &["a|1||x", "b|2||y", "c|3||z"], (0, 0)),
    ];
    for (keys, after, cursor) in table {
        let mut harness = harness(Sheet::new(START));
        play(&mut harness, keys);
        assert_eq!(harness.state().rows_as_text(), *after, "after {keys}");
        assert_eq!(harness.state().state.cursor(), *cursor, "cursor after {keys}");
        assert!(
            !harness.state().state.is_editing(),
            "nothing is left open after {keys}"
        );
        assert!(
            harness.get_by_role(Role::Grid).is_focused(),
            "the grid keeps the keyboard after {keys}"
        );
    }
}

#[test]
fn a_burst_of_keys_in_one_frame_loses_nothing() {
    // A scanner, or a slow frame: everything arrives at once.
    let mut harness = harness(Sheet::new(START));
    for part in [
        "p", "q", "<Tab>", "1", "2", "<Enter>", "r", "<Down>", "s", "t", "<Enter>",
    ] {
        let event = part.strip_prefix('<').map_or_else(
            || Event::Text(part.to_owned()),
            |key| key_event(key.trim_end_matches('>')),
        );
        harness.input_mut().events.push(event);
    }
    harness.run();
    assert_eq!(harness.state().rows_as_text(), ["pq|12||x", "r|2||y", "st|3||z"]);

    // The same while a cell is already open.
    let mut harness = self::harness(Sheet::new(START));
    play(&mut harness, "<F2>");
    for event in [
        Event::Text("1".into()),
        key_event("Enter"),
        Event::Text("2".into()),
        key_event("Enter"),
    ] {
        harness.input_mut().events.push(event);
    }
    harness.run();
    assert_eq!(harness.state().rows_as_text(), ["a1|1||x", "2|2||y", "c|3||z"]);
}

#[test]
fn one_key_a_frame_loses_nothing() {
    // A button after the grid would take the focus if egui moved it by the same Tab or arrow.
    let mut harness = common::harness([560.0, 300.0], Theme::Light).build_ui_state(
        |ui, sheet: &mut Sheet| {
            egui::Panel::bottom("foot").show(ui, |ui| ui.button("After"));
            show(ui, sheet);
        },
        Sheet::new(START),
    );
    harness.get_by_role(Role::Grid).focus();
    harness.run();
    for event in [
        "p", "<Tab>", "5", "<Down>", "6", "<Tab>", "q", "<Right>", "<F2>", "<Tab>", "<Up>", "<Tab>",
    ] {
        let event = event.strip_prefix('<').map_or_else(
            || Event::Text(event.to_owned()),
            |key| key_event(key.trim_end_matches('>')),
        );
        harness.input_mut().events.push(event);
        harness.step();
    }
    assert_eq!(harness.state().rows_as_text(), ["p|5||x", "b|6|q|y", "c|3||z"]);
    assert!(harness.get_by_role(Role::Grid).is_focused());
}

#[test]
fn typing_and_escape_in_one_frame_changes_nothing() {
    let mut harness = harness(Sheet::new(START));
    for event in [Event::Text("9".into()), key_event("Escape"), key_event("Down")] {
        harness.input_mut().events.push(event);
    }
    harness.run();
    assert_eq!(harness.state().rows_as_text(), ["a|1||x", "b|2||y", "c|3||z"]);
    assert_eq!(harness.state().state.cursor(), (1, 0));
    assert!(harness.get_by_role(Role::Grid).is_focused());
}

#[test]
fn keys_under_a_dialog_do_not_reach_the_grid_and_it_gets_them_back() {
    let mut harness = common::harness([560.0, 300.0], Theme::Light).build_ui_state(
        |ui, (sheet, asks): &mut (Sheet, bool)| {
            show(ui, sheet);
            if *asks {
                *asks = Dialog::new(Id::unique("ask"), "Sure?")
                    .risky()
                    .show(ui.ctx(), |_| {})
                    .is_none();
            }
        },
        (Sheet::new(START), false),
    );
    harness.get_by_role(Role::Grid).focus();
    harness.run();
    play(&mut harness, "<Right>");
    harness.state_mut().1 = true;
    harness.run();
    play(&mut harness, "5<Down><Delete><paste x><Escape>");
    assert_eq!(harness.state().0.rows_as_text(), ["a|1||x", "b|2||y", "c|3||z"]);
    assert!(!harness.state().1, "the dialog was answered");
    play(&mut harness, "6<Enter>");
    assert_eq!(harness.state().0.cells[0][1], "6");
}

#[test]
fn copying_puts_tab_separated_text_on_the_clipboard() {
    let mut harness = harness(Sheet::new(START));
    play(&mut harness, "<S-Right><S-Down>");
    harness.event(Event::Copy);
    harness.step();
    let commands = &harness.output().platform_output.commands;
    let copied = commands.iter().find_map(|command| match command {
        egui::OutputCommand::CopyText(text) => Some(text.clone()),
        _ => None,
    });
    assert_eq!(copied.as_deref(), Some("a\t1\nb\t2"));
}

#[test]
fn a_refused_text_stays_open_with_the_reason() {
    let mut harness = harness(Sheet::new(START));
    play(&mut harness, "<Right>abc<Enter>");
    assert_eq!(harness.state().cells[0][1], "1");
    assert!(harness.state().state.is_editing());
    assert_eq!(harness.state().state.cursor(), (0, 1));
    assert_eq!(
        harness.get_by_label("kernels, row 1").value().as_deref(),
        Some("abc")
    );
    harness.get_by_role_and_label(Role::Alert, "\"abc\" is not a number of kernels.");
    common::shot(&mut harness, "grid_refused");
    play(&mut harness, "<Backspace><Backspace><Backspace>44<Enter>");
    assert_eq!(harness.state().cells[0][1], "44");
    assert!(harness.query_by_role(Role::Alert).is_none());

    play(&mut harness, "x<Enter>");
    assert!(harness.state().state.is_editing());
    play(&mut harness, "<Escape>");
    assert_eq!(harness.state().cells[1][1], "2");
    assert!(harness.get_by_role(Role::Grid).is_focused());
}

#[test]
fn a_cell_that_is_only_shown_says_so() {
    let mut harness = harness(Sheet::new(START));
    play(&mut harness, "<End>5");
    harness.get_by_role_and_label(Role::Alert, "\"sum\" cannot be changed here.");
}

#[test]
fn the_mouse_chooses_edits_and_sorts() {
    let mut harness = harness(Sheet::new(START));
    let grid = harness.get_by_role(Role::Grid).rect();
    let header = harness.get_by_label("kernels").rect();
    let at = |row: f32| pos2(header.left() + 12.0, header.bottom() + 28.0 * row + 14.0);
    let click = |harness: &mut Harness<'_, Sheet>, pos| {
        harness.drag_at(pos);
        harness.run();
        harness.drop_at(pos);
        harness.run();
    };
    click(&mut harness, at(1.0));
    assert_eq!(harness.state().state.cursor(), (1, 1));

    harness.drag_at(at(0.0));
    harness.run();
    harness.hover_at(at(1.0));
    harness.run();
    harness.hover_at(at(2.0) + egui::vec2(header.width() + 10.0, 0.0));
    harness.run();
    harness.drop_at(at(2.0));
    harness.run();
    assert_eq!(harness.state().state.selection(), (0..3, 1..3));

    // The harness advances a quarter of a second each frame: send both clicks within one, to be a double click.
    for _ in 0..2 {
        for pressed in [true, false] {
            let button = egui::PointerButton::Primary;
            let event = Event::PointerButton {
                pos: at(2.0),
                button,
                pressed,
                modifiers: Modifiers::NONE,
            };
            harness.input_mut().events.push(event);
        }
    }
    harness.run();
    assert!(harness.state().state.is_editing(), "a double click edits");
    play(&mut harness, "7");
    // A click elsewhere closes the cell and keeps what was typed.
    click(&mut harness, at(0.0));
    assert_eq!(harness.state().cells[2][1], "37");

    harness.get_by_label("ear").click();
    harness.run();
    harness.get_by_label("ear").click();
    harness.run();
    let sorts: Vec<_> = harness
        .state()
        .events
        .iter()
        .filter(|e| matches!(e, GridEvent::Sort { .. }))
        .collect();
    assert_eq!(
        sorts,
        [
            &GridEvent::Sort {
                col: 0,
                descending: false
            },
            &GridEvent::Sort {
                col: 0,
                descending: true
            }
        ]
    );

    click(
        &mut harness,
        pos2(grid.left() + 5.0, header.bottom() + 28.0 + 5.0),
    );
    assert_eq!(
        harness.state().state.selection(),
        (1..2, 0..4),
        "a row's number chooses the row"
    );
}

fn many(rows: usize) -> Sheet {
    let row = |i: usize| {
        vec![
            format!("E{i:05}"),
            format!("{}", 200 + i % 150),
            String::new(),
            "0".to_owned(),
        ]
    };
    Sheet::of((0..rows).map(row).collect())
}

#[test]
fn ten_thousand_rows_scroll_and_the_keyboard_is_never_lost() {
    let mut harness = harness(many(10_000));
    play(&mut harness, "<C-End><Home>");
    assert_eq!(
        harness.get_by_role(Role::Grid).value().as_deref(),
        Some("row 10000 of 10000, ear, E09999")
    );
    play(&mut harness, "<PageUp><Up>");
    let (row, _) = harness.state().state.cursor();
    assert!(row < 9_995, "a page up moves by what is in sight, row is {row}");
    play(&mut harness, "<Right>777<Enter>");
    assert_eq!(harness.state().cells[row][1], "777");

    // Scroll the cursor far out of sight with the wheel, in the middle of an edit: the next key still arrives.
    play(&mut harness, "<C-Home><Right>55");
    harness.hover_at(pos2(200.0, 150.0));
    harness.run();
    for _ in 0..5 {
        harness.event(Event::MouseWheel {
            unit: egui::MouseWheelUnit::Point,
            delta: egui::vec2(0.0, -4000.0),
            phase: egui::TouchPhase::Move,
            source: egui::MouseWheelSource::Unknown,
            modifiers: Modifiers::NONE,
        });
        harness.run_steps(3);
    }
    play(&mut harness, "5<Enter>6<Enter>");
    assert_eq!(
        [&harness.state().cells[0][1], &harness.state().cells[1][1]],
        ["555", "6"]
    );
    assert!(harness.get_by_role(Role::Grid).is_focused());
}

#[test]
fn only_the_rows_in_sight_are_asked_for() {
    struct Counting(std::cell::Cell<usize>, Vec<GridColumn>);
    impl GridSource for Counting {
        fn rows(&self) -> usize {
            100_000
        }
        fn columns(&self) -> &[GridColumn] {
            &self.1
        }
        fn text(&self, row: usize, _: usize) -> Cow<'_, str> {
            self.0.set(self.0.get() + 1);
            Cow::Owned(row.to_string())
        }
    }
    let source = Counting(
        std::cell::Cell::new(0),
        vec![GridColumn::new("one"), GridColumn::new("two")],
    );
    let mut harness = common::harness([400.0, 400.0], Theme::Dark).build_ui_state(
        |ui, (source, state): &mut (Counting, GridState)| {
            Grid::new(Id::unique("many"), "Many").show(ui, state, source);
        },
        (source, GridState::default()),
    );
    harness.run();
    harness.state().0.0.set(0);
    harness.step();
    let asked = harness.state().0.0.get();
    assert!(
        (20..=40).contains(&asked),
        "{asked} texts were asked for; 13 rows of 2 are in sight"
    );
}

#[test]
fn a_screen_reader_hears_the_cell_and_its_warning() {
    let mut harness = harness(Sheet::new(&[&["a", "999", "", ""], &["b", "", "", ""]]));
    let value = |harness: &Harness<'_, Sheet>| harness.get_by_role(Role::Grid).value().unwrap();
    play(&mut harness, "<Right>");
    assert_eq!(
        value(&harness),
        "row 1 of 2, kernels, 999, warning: 999 is more than an ear holds."
    );
    play(&mut harness, "<Down><S-Right>");
    assert_eq!(
        value(&harness),
        "row 2 of 2, note, empty, chosen 1 rows by 2 columns"
    );
}

#[test]
fn the_grid_can_be_left_by_key() {
    let mut harness = common::harness([500.0, 300.0], Theme::Light).build_ui_state(
        |ui, sheet: &mut Sheet| {
            egui::Panel::top("head").show(ui, |ui| ui.button("Before"));
            egui::Panel::bottom("foot").show(ui, |ui| ui.button("After"));
            show(ui, sheet);
        },
        Sheet::new(START),
    );
    harness.get_by_role(Role::Grid).focus();
    harness.run();
    play(&mut harness, "<Tab><Tab>");
    assert!(harness.get_by_role(Role::Grid).is_focused());
    play(&mut harness, "<S-F6>");
    assert!(harness.get_by_label("After").is_focused());
    harness.get_by_role(Role::Grid).focus();
    harness.run();
    play(&mut harness, "<F6>");
    assert!(!harness.get_by_role(Role::Grid).is_focused());
}

#[test]
fn pictures_of_the_grid() {
    for (theme, name) in [(Theme::Light, "grid_light"), (Theme::Dark, "grid_dark")] {
        let mut sheet = many(240);
        sheet.cells[2][1] = "999".to_owned();
        sheet.cells[4][2] = "a note that is much too long for the width of its column".to_owned();
        sheet.state.set_sort(Some((0, false)));
        let mut harness = common::harness([560.0, 360.0], theme).build_ui_state(show, sheet);
        harness.get_by_role(Role::Grid).focus();
        harness.run();
        play(&mut harness, "<Down><Down><Down><S-Down><S-Down><S-Right>");
        common::shot(&mut harness, name);
        play(&mut harness, "<Home><Down><Right><F2>");
        common::shot(&mut harness, &format!("{name}_editing"));
    }
    // Too narrow: the frozen column stays, the others scroll under it.
    let mut harness = common::harness([260.0, 200.0], Theme::Light).build_ui_state(show, many(30));
    harness.get_by_role(Role::Grid).focus();
    harness.run();
    play(&mut harness, "<End><Down>");
    common::shot(&mut harness, "grid_narrow");
}

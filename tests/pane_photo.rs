//! Photographs of trays in the window, from the file to the length of a root, with drawn photographs whose truth is known.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod common;
mod photo_drawn;
mod tray_sample;

use common::says;
use egui::{Event, Key, Modifiers, Pos2, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use photo_drawn::{EASY, draw_with_blanks, jpeg, jpeg_with_exif, png, png_that_claims};
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::{Arc, LazyLock};
use std::time::{Duration, Instant};
use tray_sample::{harvest, now, stamp};
use wintercrib::model::{
    CellContent, Command, Document, Pass, Photo, Project, Recipe, SeasonId, TestDesign, TestId, TrayId,
    TrayPlan,
};
use wintercrib::photo::{CellGrid, Corners, Point, Straightened, length_mm};
use wintercrib::store::photos::folder_of;
use wintercrib::store::{digest_hex, project_file};
use wintercrib::ui::app::App;
use wintercrib::ui::context::Pane;
use wintercrib::ui::widgets::path_prompt::{PathAnswer, ScriptedPathPrompt};

const MM: f64 = 25.4;

/// The cells of the trays here: few, so that the pictures are quickly drawn.
const GRID: CellGrid = CellGrid {
    rows: 2,
    columns: 3,
    cell_width_mm: 2.0 * MM,
    cell_height_mm: 3.0 * MM,
    aisle_mm: 0.0,
};

/// Ten ears in three trays of 2 by 3 cells, each with a landmark, laid twelve days ago.
fn laid() -> Document {
    let mut document = harvest(10);
    let design = Command::DesignTest(TestDesign {
        season: SeasonId(1),
        replaces: None,
        name: "Test 1".to_owned(),
        plan: TrayPlan {
            width_mm: 6.0 * MM,
            height_mm: 6.0 * MM,
            checks: 0,
            landmarks: 1,
            ..TrayPlan::default()
        },
        recipe: Recipe::default(),
        check_lot: "Bulk 2025".to_owned(),
        seed: 7,
        ears: None,
    });
    document.run(&design, &stamp()).unwrap();
    let lay = Command::LayTest {
        trays: Vec::new(),
        test: TestId(1),
        on: "2026-11-19".parse().unwrap(),
    };
    document.run(&lay, &stamp()).unwrap();
    document
}

/// The landmarks of the first tray, by row and column.
fn landmarks(project: &Project) -> Vec<(u16, u16)> {
    let cells = project.cells_of(TrayId(1));
    let landmarks = cells.filter(|cell| cell.content == CellContent::Landmark);
    landmarks.map(|cell| (cell.row, cell.column)).collect()
}

struct Bench {
    folder: tempfile::TempDir,
    project: PathBuf,
    drawn: &'static photo_drawn::Drawn,
}

/// The photograph of the first tray, drawn once for all tests.
static DRAWN: LazyLock<photo_drawn::Drawn> = LazyLock::new(|| {
    let blank = landmarks(laid().project());
    draw_with_blanks(21, &EASY, GRID, 900, &blank)
});

impl Bench {
    /// A project with a file, and a drawn photograph of its first tray.
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let document = laid();
        let project = folder.path().join("crib.ron");
        project_file::create(&project, document.project().clone(), "test").unwrap();
        fs::create_dir(folder.path().join("camera")).unwrap();
        Self {
            drawn: &DRAWN,
            folder,
            project,
        }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Puts a file where photographs come from.
    fn put(&self, name: &str, bytes: &[u8]) -> PathBuf {
        let path = self.path("camera").join(name);
        fs::File::create(&path).unwrap().write_all(bytes).unwrap();
        path
    }

    /// The drawn photograph as the file of a camera.
    fn photo(&self) -> PathBuf {
        self.put("tray one.jpg", &jpeg_with_exif(&self.drawn.photo, 1))
    }

    fn window(&self, answers: Vec<PathAnswer>) -> Harness<'static, App> {
        self.window_of(answers, Theme::Light, [1280.0, 800.0])
    }

    fn window_of(&self, answers: Vec<PathAnswer>, theme: Theme, size: [f32; 2]) -> Harness<'static, App> {
        let path = self.project.clone();
        let mut window = common::harness(size, theme).build_eframe(move |_| {
            let empty = Document::new(Project::new(wintercrib::model::About::new("DEMO empty", "none")));
            let mut app = App::in_memory(empty, now).with_prompt(ScriptedPathPrompt::new(answers));
            assert!(app.open_path(&path), "{:?}", app.notices().shown());
            app.show(Pane::Scoring);
            app
        });
        settle(&mut window);
        window
    }

    /// A window in which the photograph was opened and its corners are set to the truth.
    fn straightened(&self, mut answers: Vec<PathAnswer>) -> Harness<'static, App> {
        answers.insert(0, PathAnswer::Several(vec![self.photo()]));
        let mut window = self.window(answers);
        keys(&mut window, "o");
        settle(&mut window);
        self.set_corners(&mut window);
        window
    }

    /// Sets the corners by dragging them, then by keys, and accepts them.
    fn set_corners(&self, window: &mut Harness<'static, App>) {
        keys(window, "c");
        settle(window);
        drag_corners(window, &self.drawn.corners);
        window.key_press(Key::Enter);
        settle(window);
    }
}

fn project<'a>(window: &'a Harness<'_, App>) -> &'a Project {
    window.state().document().project()
}

fn photos(window: &Harness<'_, App>) -> Vec<Photo> {
    project(window).photos.iter().cloned().collect()
}

/// Runs frames until nothing is done in the background any more, however slow the machine is.
fn settle(window: &mut Harness<'_, App>) {
    let start = Instant::now();
    let mut quiet = 0;
    while quiet < 4 {
        std::thread::sleep(Duration::from_millis(5));
        window.step();
        let is_busy = window.state().is_busy_with_photos() || window.state().is_busy();
        quiet = if is_busy { 0 } else { quiet + 1 };
        assert!(start.elapsed() < Duration::from_mins(5), "work never ended");
    }
}

/// Types signs as a keyboard does: a key and its text.
fn keys(window: &mut Harness<'_, App>, text: &str) {
    for sign in text.chars() {
        let key = Key::from_name(&sign.to_uppercase().to_string());
        let change = |pressed| {
            key.map(|key| Event::Key {
                key,
                physical_key: None,
                pressed,
                repeat: false,
                modifiers: Modifiers::NONE,
            })
        };
        let text = Some(Event::Text(sign.to_string()));
        let events = [change(true), text, change(false)];
        window.input_mut().events.extend(events.into_iter().flatten());
        window.step();
        window.step();
    }
}

fn tap(window: &mut Harness<'_, App>, key: Key, times: usize) {
    for _ in 0..times {
        window.key_press(key);
        window.step();
    }
    window.step();
}

fn tap_shift(window: &mut Harness<'_, App>, key: Key, times: usize) {
    for _ in 0..times {
        window.key_press_modifiers(Modifiers::SHIFT, key);
        window.step();
    }
    window.step();
}

const CORNERS: [&str; 4] = [
    "Top left corner",
    "Top right corner",
    "Bottom right corner",
    "Bottom left corner",
];

/// Where the editor says that a corner is, in pixels of the photograph; and on the screen.
fn corner(window: &Harness<'_, App>, name: &str) -> (Point, Pos2) {
    let node = window.get_by_label(name);
    let said = node.value().unwrap();
    let numbers: Vec<f64> = said
        .split([' ', ','])
        .filter_map(|word| word.parse().ok())
        .collect();
    ([numbers[0], numbers[1]], node.rect().center())
}

fn drag_corners(window: &mut Harness<'_, App>, wanted: &Corners) {
    let (first, second) = (corner(window, CORNERS[0]), corner(window, CORNERS[2]));
    let scale = f64::from(second.1.x - first.1.x) / (second.0[0] - first.0[0]);
    for (name, wanted) in CORNERS.into_iter().zip(wanted) {
        let (at, on_screen) = corner(window, name);
        let by = [0, 1].map(|axis| ((wanted[axis] - at[axis]) * scale) as f32);
        window.drag_at(on_screen);
        window.step();
        for part in 1..=4 {
            window.hover_at(on_screen + egui::vec2(by[0], by[1]) * (part as f32 / 4.0));
            window.step();
        }
        window.drop_at(on_screen + egui::vec2(by[0], by[1]));
        window.step();
        window.step();
    }
}

/// How far corners lie from the truth, in millimetres of the tray, at most.
fn error_mm(truth: &Corners, found: &Corners) -> f64 {
    let tray = Straightened::new(GRID, truth).unwrap();
    let errors = truth.iter().zip(found);
    errors
        .map(|(truth, found)| length_mm(&[tray.to_mm(*truth), tray.to_mm(*found)]))
        .fold(0.0, f64::max)
}

#[test]
fn a_photo_is_opened_straightened_measured_and_undone() {
    let bench = Bench::new();
    let original = bench.photo();
    let before = fs::read(&original).unwrap();
    let mut window = bench.window(vec![PathAnswer::Several(vec![original.clone()])]);
    assert!(says(&window, "No photo of this tray"));
    keys(&mut window, "o");
    settle(&mut window);
    let added = photos(&window);
    assert_eq!(added.len(), 1, "{:?}", window.state().notices().shown());
    let photo = &added[0];
    assert_eq!((photo.tray, photo.pass), (TrayId(1), Some(Pass::Final)));
    assert_eq!((photo.width, photo.height), bench.drawn.photo.dimensions());
    assert_eq!(photo.taken.unwrap().to_string(), "2026-01-24T08:15:09");
    assert_eq!(photo.digest, digest_hex(&before));
    let kept = folder_of(&bench.project).join(&photo.file);
    assert_eq!(fs::read(&kept).unwrap(), before, "kept as it came");
    assert_eq!(
        fs::read(&original).unwrap(),
        before,
        "and untouched where it lies"
    );
    assert!(says(&window, "Its corners are not set"));

    bench.set_corners(&mut window);
    let found = photos(&window)[0].corners.unwrap();
    let error = error_mm(&bench.drawn.corners, &found);
    assert!(error < 1.0, "{error} mm");
    let name = project(&window)
        .cells_of(TrayId(1))
        .find(|cell| cell.content.is_counted())
        .unwrap()
        .name();
    window.get_by_role_and_label(Role::Image, &format!("Photo of {name}"));

    // Measuring by keys: twenty millimetres to the right of the middle.
    keys(&mut window, "l");
    tap(&mut window, Key::Enter, 1);
    tap_shift(&mut window, Key::ArrowRight, 4);
    tap(&mut window, Key::Enter, 1);
    assert_eq!(line(&window, &name), "line of 0.79 in");
    keys(&mut window, "r");
    assert!(says(&window, "To be recorded: root 0.79 in."));
    // Digits go back to counting, and none is lost.
    keys(&mut window, "8*7");
    let cell = project(&window).counts.iter().next().unwrap().clone();
    assert_eq!(
        (cell.tally.strong, cell.tally.dead, cell.vigor),
        (8, 2, Some(7)),
        "the first digit left the picture"
    );
    assert!((cell.root_mm.unwrap() - 20.0).abs() < 1e-9, "{cell:?}");
    assert_eq!(cell.shoot_mm, None);

    // All of it is undone.
    for _ in 0..3 {
        window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        settle(&mut window);
    }
    assert!(photos(&window).is_empty());
    assert!(project(&window).counts.iter().next().is_none());
    assert!(says(&window, "No photo of this tray"));
    for _ in 0..3 {
        window.key_press_modifiers(Modifiers::COMMAND.plus(Modifiers::SHIFT), Key::Z);
        settle(&mut window);
    }
    assert_eq!(photos(&window)[0].corners, Some(found), "and done again");
    assert!(
        project(&window)
            .counts
            .iter()
            .any(|count| count.root_mm.is_some())
    );
}

/// What the picture of a cell says of the line on it.
fn line(window: &Harness<'_, App>, cell: &str) -> String {
    let name = format!("Photo of {cell}");
    let picture = window.get_by_role_and_label(Role::Image, &name);
    picture.value().unwrap()
}

/// Presses an item of the menu of the photograph.
fn menu(window: &mut Harness<'_, App>, item: &str) {
    window.get_by_role_and_label(Role::Button, "Photo").click();
    window.step();
    window.step();
    window.get_by_label(item).click();
    settle(window);
}

/// What the window says at its edge.
fn notices(window: &Harness<'_, App>) -> String {
    let shown = window.state().notices().shown();
    shown
        .iter()
        .map(|notice| notice.text.as_str())
        .collect::<Vec<_>>()
        .join(" | ")
}

#[test]
fn corners_are_set_by_keys_alone_and_a_turn_goes_round() {
    let bench = Bench::new();
    let mut window = bench.window(vec![PathAnswer::Several(vec![bench.photo()])]);
    keys(&mut window, "oc");
    settle(&mut window);
    keys(&mut window, "c");
    settle(&mut window);
    let longest = f64::from(bench.drawn.photo.width());
    let step = (longest / 2500.0).round().max(1.0);
    for (name, wanted) in CORNERS.into_iter().zip(&bench.drawn.corners) {
        assert!(window.get_by_label(name).is_focused(), "{name}");
        let (at, _) = corner(&window, name);
        for (axis, keys) in [[Key::ArrowLeft, Key::ArrowRight], [Key::ArrowUp, Key::ArrowDown]]
            .iter()
            .enumerate()
        {
            let by = wanted[axis] - at[axis];
            let key = keys[usize::from(by > 0.0)];
            let leaps = (by.abs() / (15.0 * step)).floor();
            tap_shift(&mut window, key, leaps as usize);
            tap(
                &mut window,
                key,
                ((by.abs() - leaps * 15.0 * step) / step).round() as usize,
            );
        }
        window.key_press(Key::Tab);
        window.step();
        window.step();
    }
    window.get_by_label(CORNERS[0]).focus();
    window.step();
    window.key_press(Key::Enter);
    settle(&mut window);
    let set = photos(&window)[0].corners.unwrap();
    let error = error_mm(&bench.drawn.corners, &set);
    assert!(error < 0.5, "{error} mm");

    // Turned twice by mistake: the landmarks tell, and two more turns mend it.
    keys(&mut window, "c");
    settle(&mut window);
    keys(&mut window, "tt");
    window.key_press(Key::Enter);
    settle(&mut window);
    let turned = photos(&window)[0].corners.unwrap();
    assert_eq!(turned, [set[2], set[3], set[0], set[1]]);
    assert!(says(&window, "as if it were turned"), "the landmark tells");
    keys(&mut window, "c");
    settle(&mut window);
    keys(&mut window, "tt");
    window.key_press(Key::Enter);
    settle(&mut window);
    assert_eq!(photos(&window)[0].corners, Some(set));
    assert!(!says(&window, "as if it were turned"));

    // What is not accepted is not kept.
    keys(&mut window, "c");
    settle(&mut window);
    tap_shift(&mut window, Key::ArrowDown, 3);
    window.key_press(Key::Escape);
    settle(&mut window);
    assert_eq!(photos(&window)[0].corners, Some(set));
    assert!(window.query_by_label(CORNERS[0]).is_none());
    // Crossed corners cannot be accepted, and it is said why.
    keys(&mut window, "c");
    settle(&mut window);
    tap_shift(&mut window, Key::ArrowRight, 200);
    assert!(says(&window, "corners cross or are mirrored"));
    window.key_press(Key::Enter);
    settle(&mut window);
    assert!(window.query_by_label(CORNERS[0]).is_some(), "it stays open");
    assert_eq!(photos(&window)[0].corners, Some(set));
}

#[test]
fn a_measured_root_is_as_long_as_it_was_drawn() {
    let bench = Bench::new();
    let mut window = bench.straightened(Vec::new());
    // Two places of the cell in hand, of known distance on the tray, clicked on the screen.
    let place = project(&window)
        .cells_of(TrayId(1))
        .find(|cell| cell.content.is_counted())
        .map(|cell| (cell.row, cell.column, cell.name()))
        .unwrap();
    let cell = GRID.cell(place.0, place.1);
    let shown = cell.grown(6.0);
    let name = format!("Photo of {}", place.2);
    let rect = window.get_by_role_and_label(Role::Image, &name).rect();
    let on_screen = |[x, y]: Point| {
        let across = (x - shown.left) / shown.width;
        let down = (y - shown.top) / shown.height;
        rect.min + rect.size() * egui::vec2(across as f32, down as f32)
    };
    let ends = [
        [cell.left + 10.0, cell.top + 10.0],
        [cell.left + 40.0, cell.top + 10.0],
        [cell.left + 40.0, cell.top + 50.0],
    ];
    for end in ends {
        window.hover_at(on_screen(end));
        window.drag_at(on_screen(end));
        window.step();
        window.drop_at(on_screen(end));
        window.step();
        window.step();
    }
    // 70 mm are 2.76 inches.
    assert_eq!(line(&window, &place.2), "line of 2.76 in");
    window.get_by_role_and_label(Role::Button, "Shoot (S)").click();
    window.step();
    window.step();
    assert!(says(&window, "To be recorded: shoot 2.76 in."));
    // A count that is recorded already gets the length as a correction, and undo takes it back.
    press_any(&mut window, "Forget (X)");
    window.step();
    assert!(!says(&window, "To be recorded"));
    keys(&mut window, "8*7");
    let counted = |window: &Harness<'_, App>| {
        let cell = project(window)
            .cells_of(TrayId(1))
            .find(|cell| cell.name() == place.2)
            .unwrap()
            .id;
        project(window).count_in_force(cell, Pass::Final).cloned()
    };
    let before = counted(&window).unwrap();
    assert_eq!((before.root_mm, before.shoot_mm), (None, None));
    let id = before.cell;
    let first = project(&window).cells.get(id).unwrap().clone();
    keys(&mut window, "g");
    window.step();
    window
        .get_by_role_and_label(Role::TextInput, "Go to")
        .type_text(&first.name());
    window.key_press(Key::Enter);
    settle(&mut window);
    keys(&mut window, "l");
    tap(&mut window, Key::Enter, 1);
    tap_shift(&mut window, Key::ArrowDown, 2);
    tap(&mut window, Key::Space, 1);
    keys(&mut window, "r");
    assert_eq!(
        counted(&window).unwrap().root_mm,
        None,
        "not before measuring is over"
    );
    window.key_press(Key::Escape);
    settle(&mut window);
    let after = counted(&window).unwrap();
    assert_eq!(after.root_mm, Some(10.0));
    assert_eq!(
        (after.tally, after.vigor, after.corrects),
        (before.tally, before.vigor, Some(before.id))
    );
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    settle(&mut window);
    assert_eq!(counted(&window).unwrap().id, before.id);
}

#[test]
fn the_first_reading_is_off_then_a_proposal_and_never_recorded_by_itself() {
    let bench = Bench::new();
    let mut window = bench.straightened(Vec::new());
    assert!(!says(&window, "First reading, to be checked"));
    keys(&mut window, "f");
    assert!(says(&window, "The first reading of photos is off."));
    assert!(window.query_by_label("0 of 10 kernels, 10 to go").is_some());
    menu(&mut window, "First reading of photos");
    assert!(says(&window, "First reading, to be checked"));
    assert!(
        says(
            &window,
            "16 of 100 for sprouted and in 53 of 100 for root and shoot"
        ),
        "its error stands beside it"
    );
    let cell = project(&window)
        .cells_of(TrayId(1))
        .find(|cell| cell.content.is_counted())
        .unwrap()
        .clone();
    let truth = bench
        .drawn
        .cells
        .iter()
        .find(|truth| (truth.row, truth.column) == (cell.row, cell.column));
    let truth = truth.unwrap().sprouted;
    let text = window
        .query_all_by_label_contains("First reading, to be checked")
        .next()
        .unwrap();
    let text = text.accesskit_node().label().or_else(|| text.value()).unwrap();
    let number = text.split(" F fills in ").nth(1).unwrap().trim_end_matches('.');
    let number: u16 = number.parse().unwrap();
    assert!(number.abs_diff(truth) <= 1, "{number} of {truth}");
    keys(&mut window, "f");
    settle(&mut window);
    let to_go = format!("{number} of 10 kernels");
    assert!(says(&window, &to_go), "it is filled in");
    assert!(says(&window, "As the photo proposes"));
    assert!(
        project(&window).counts.iter().next().is_none(),
        "and not recorded"
    );
    // Typed over freely: a digit begins anew.
    keys(&mut window, "6*5");
    let count = project(&window).counts.iter().next().unwrap().clone();
    assert_eq!(
        (count.tally.strong, count.tally.dead, count.vigor),
        (6, 4, Some(5))
    );
    // Confirmed by going on: the rest, and the vigor, are the scorer's.
    settle(&mut window);
    while says(&window, "Is it blank?") || says(&window, "Read back the last cell") {
        window.key_press(Key::Enter);
        settle(&mut window);
    }
    keys(&mut window, "f");
    assert!(says(&window, "As the photo proposes"));
    keys(&mut window, "*4");
    let counts: Vec<_> = project(&window).counts.iter().cloned().collect();
    assert_eq!(counts.len(), 2);
    assert_eq!(counts[1].tally.strong + counts[1].tally.dead, 10);
    assert_eq!(counts[1].vigor, Some(4));
}

#[test]
fn a_missing_photo_is_said_and_found_again_under_another_name() {
    let bench = Bench::new();
    let mut window = bench.straightened(Vec::new());
    let photo = photos(&window)[0].clone();
    window.key_press_modifiers(Modifiers::COMMAND, Key::S);
    settle(&mut window);
    drop(window);
    let kept = folder_of(&bench.project).join(&photo.file);
    fs::create_dir(bench.path("attic")).unwrap();
    fs::rename(&kept, bench.path("attic").join("renamed.jpg")).unwrap();
    // Another file has taken its name, so that the photo gets a new one.
    fs::File::create(&kept)
        .unwrap()
        .write_all(b"another file")
        .unwrap();
    let answer = PathAnswer::Chosen(bench.path("attic"));
    let mut window = bench.window(vec![answer]);
    assert!(says(&window, "is not the photo that was taken up"));
    common::shot(&mut window, "photo_missing");
    press_any(&mut window, "Find photos…");
    settle(&mut window);
    assert!(
        notices(&window).contains("The missing photo was found again."),
        "{}",
        notices(&window)
    );
    let found = photos(&window)[0].clone();
    assert_ne!(found.file, photo.file);
    assert_eq!(
        (found.digest, found.corners),
        (photo.digest.clone(), photo.corners)
    );
    assert!(!says(&window, "is not the photo that was taken up"));
    assert!(window.query_all_by_label_contains("Photo of").next().is_some());
    drop(window);
    // Gone altogether: a sentence with the name and the way out, and nothing is lost.
    fs::remove_dir_all(folder_of(&bench.project)).unwrap();
    let nowhere = bench.path("camera");
    fs::remove_file(nowhere.join("tray one.jpg")).unwrap();
    fs::remove_dir_all(bench.path("attic")).unwrap();
    let mut window = bench.window(vec![PathAnswer::Chosen(nowhere)]);
    assert!(says(&window, "is missing. Use 'Find photos'"));
    press_any(&mut window, "Find photos…");
    settle(&mut window);
    assert!(
        notices(&window).contains("0 of 1 missing photos found again"),
        "{}",
        notices(&window)
    );
    assert_eq!(photos(&window).len(), 1);
}

fn press_any(window: &mut Harness<'_, App>, label: &str) {
    window.get_by_role_and_label(Role::Button, label).click();
    window.step();
}

#[test]
fn save_as_takes_the_photos_along() {
    let bench = Bench::new();
    let copy = bench.path("elsewhere");
    fs::create_dir(&copy).unwrap();
    let copy = copy.join("copy.ron");
    let mut window = bench.straightened(vec![PathAnswer::Chosen(copy.clone())]);
    let photo = photos(&window)[0].clone();
    window.key_press_modifiers(Modifiers::COMMAND.plus(Modifiers::SHIFT), Key::S);
    settle(&mut window);
    let original = fs::read(folder_of(&bench.project).join(&photo.file)).unwrap();
    assert_eq!(fs::read(folder_of(&copy).join(&photo.file)).unwrap(), original);
    assert!(says(&window, "Photo of"), "the window goes on with them");
    drop(window);
    // What cannot be taken along is said.
    fs::remove_file(folder_of(&bench.project).join(&photo.file)).unwrap();
    let third = bench.path("third.ron");
    let mut window = bench.window(vec![PathAnswer::Chosen(third.clone())]);
    window.key_press_modifiers(Modifiers::COMMAND.plus(Modifiers::SHIFT), Key::S);
    settle(&mut window);
    assert!(
        notices(&window).contains("A photo was not copied to the new place."),
        "{}",
        notices(&window)
    );
    assert!(third.exists(), "the project is saved all the same");
}

#[test]
fn what_is_no_photo_or_a_bomb_is_refused_with_a_sentence() {
    let bench = Bench::new();
    let bomb = bench.put("bomb.png", &png_that_claims(60_000, 60_000));
    let heic = bench.put("phone.jpg", b"\0\0\0\x18ftypheic\0\0\0\0mif1heic");
    let text = bench.put("list.pdf", b"%PDF-1.7");
    let good = bench.put("good.png", &png(&bench.drawn.photo));
    let gone = bench.path("gone.jpg");
    let mut window = bench.window(Vec::new());
    for (path, words) in [
        (&bomb, "bomb.png claims 60000 by 60000 pixels"),
        (&heic, "phone.jpg is a HEIC photo"),
        (&text, "list.pdf is a PDF"),
        (&gone, "Could not read the photo"),
    ] {
        drop_files(&mut window, std::slice::from_ref(path));
        settle(&mut window);
        let said = notices(&window);
        assert!(
            said.contains(words) && said.contains("Nothing was added."),
            "{said}"
        );
    }
    assert!(photos(&window).is_empty());
    assert!(!folder_of(&bench.project).exists(), "nothing was left behind");
    // Several at once: what is good is taken, one after another, and the rest is named.
    drop_files(&mut window, &[bomb, good.clone(), good]);
    settle(&mut window);
    assert_eq!(photos(&window).len(), 1);
    assert!(
        notices(&window)
            .contains("good.png is in this project already: it is good.png, of tray 1, final count.")
    );
}

/// A file as it is dropped on the window.
#[derive(Debug)]
struct Dropped(PathBuf);

impl egui::DroppedFile for Dropped {
    fn path(&self) -> &Path {
        &self.0
    }

    fn bytes(&self) -> Result<Vec<u8>, String> {
        Err("a photo is read beside the window, not in it".to_owned())
    }
}

fn drop_files(window: &mut Harness<'_, App>, paths: &[PathBuf]) {
    let dropped = paths
        .iter()
        .map(|path| Arc::new(Dropped(path.clone())) as Arc<dyn egui::DroppedFile + Send + Sync>);
    window.input_mut().dropped_files = dropped.collect();
    window.step();
}

#[test]
fn a_photo_needs_a_project_with_a_file_and_one_that_may_be_changed() {
    let bench = Bench::new();
    let mut window = tray_sample::window(laid(), Pane::Scoring, Theme::Light, [1280.0, 800.0], 1.0);
    keys(&mut window, "o");
    assert!(says(
        &window,
        "This project has no file yet, and photos lie beside it."
    ));
    drop_files(&mut window, &[bench.photo()]);
    settle(&mut window);
    assert!(notices(&window).contains("This project has no file yet"));
    assert!(photos(&window).is_empty());

    let _first = bench.window(Vec::new());
    let mut second = bench.window(Vec::new());
    assert!(says(&second, "Open for reading only"));
    drop_files(&mut second, &[bench.photo()]);
    settle(&mut second);
    assert!(
        notices(&second).contains("No photo can be added here"),
        "{}",
        notices(&second)
    );
    assert!(!folder_of(&bench.project).exists());
}

#[test]
fn photos_go_to_the_tray_and_count_that_they_are_of() {
    let bench = Bench::new();
    let second = bench.put("second.jpg", &jpeg(&bench.drawn.photo, 60));
    let mut window = bench.window(Vec::new());
    drop_files(&mut window, &[bench.photo(), second]);
    settle(&mut window);
    assert_eq!(photos(&window).len(), 2);
    keys(&mut window, "c");
    settle(&mut window);
    // The newest by the camera's clock is shown; the other is the next without corners.
    assert!(window.query_by_label("tray one.jpg").is_some());
    press_any(&mut window, "Next of 1 without corners (N)");
    settle(&mut window);
    assert!(window.query_by_label("second.jpg").is_some());
    window
        .get_by_role_and_label(Role::ComboBox, "Tray of the photo")
        .click();
    window.step();
    window.step();
    window.get_by_label("tray 2").click();
    settle(&mut window);
    window
        .get_by_role_and_label(Role::ComboBox, "Count of the photo")
        .click();
    window.step();
    window.step();
    window.get_by_label("early count").click();
    settle(&mut window);
    let changed = photos(&window)[1].clone();
    assert_eq!((changed.tray, changed.pass), (TrayId(2), Some(Pass::Early)));
    for _ in 0..2 {
        window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
        settle(&mut window);
    }
    let undone = photos(&window)[1].clone();
    assert_eq!((undone.tray, undone.pass), (TrayId(1), Some(Pass::Final)));
    // Accepting the one leads to the other, then back to the tray.
    window.get_by_label(CORNERS[0]).focus();
    window.step();
    window.key_press(Key::Enter);
    settle(&mut window);
    assert!(
        window.query_by_label("tray one.jpg").is_some(),
        "the next without corners"
    );
    window.key_press(Key::Enter);
    settle(&mut window);
    assert!(window.query_by_label(CORNERS[0]).is_none());
    assert!(photos(&window).iter().all(|photo| photo.corners.is_some()));
    // P goes from photo to photo of the tray; removing one leaves its file.
    assert!(says(&window, "1 of 2"), "the one accepted last");
    keys(&mut window, "p");
    assert!(says(&window, "2 of 2"));
    let file = folder_of(&bench.project).join("second.jpg");
    menu(&mut window, "Remove this photo");
    assert_eq!(photos(&window).len(), 1);
    assert_eq!(photos(&window)[0].file, "tray one.jpg");
    assert!(file.exists());
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    settle(&mut window);
    assert_eq!(photos(&window).len(), 2);
}

#[test]
fn a_blind_scorer_sees_the_cell_and_neither_ear_nor_name_nor_earlier_count() {
    let bench = Bench::new();
    let photo = bench.put("ear 10 was 8 of 10.jpg", &jpeg_with_exif(&bench.drawn.photo, 1));
    let mut window = bench.window(vec![PathAnswer::Several(vec![photo])]);
    keys(&mut window, "o");
    settle(&mut window);
    bench.set_corners(&mut window);
    assert!(says(&window, "ear 10 was 8 of 10.jpg"));
    keys(&mut window, "9*7");
    window.get_by_label("Options").click();
    window.step();
    window.step();
    window.get_by_label("Blind").click();
    window.step();
    window.key_press(Key::Escape);
    settle(&mut window);
    assert!(says(&window, "Photo of"), "the picture stays");
    assert!(!says(&window, "8 of 10"), "the name of the file may tell");
    let project = project(&window);
    for ear in project.ears.iter() {
        assert!(!says(&window, &format!("Ear {}", ear.number)), "{}", ear.number);
        assert!(!says(&window, &ear.code.to_string()));
    }
}

#[test]
fn what_leaves_tells_nothing_and_the_original_stays() {
    let bench = Bench::new();
    let out = bench.path("for a friend.jpg");
    let mut window = bench.straightened(vec![PathAnswer::Chosen(out.clone())]);
    let photo = photos(&window)[0].clone();
    let kept = folder_of(&bench.project).join(&photo.file);
    let before = fs::read(&kept).unwrap();
    let holds = |bytes: &[u8], text: &[u8]| bytes.windows(text.len()).any(|part| part == text);
    assert!(holds(&before, b"PLACE-ON-EARTH") && holds(&before, b"Exif"));
    menu(&mut window, "Save a copy without its place…");
    settle(&mut window);
    let copy = fs::read(&out).unwrap();
    for told in [b"PLACE-ON-EARTH".as_slice(), b"Exif", b"2026:01:24"] {
        assert!(!holds(&copy, told));
    }
    let picture = wintercrib::photo::decode("copy", &copy, &wintercrib::photo::Limits::default()).unwrap();
    assert_eq!(picture.picture.dimensions(), bench.drawn.photo.dimensions());
    assert_eq!(picture.taken, None);
    assert_eq!(fs::read(&kept).unwrap(), before);
}

#[test]
fn the_ear_card_shows_the_cells_of_the_ear_and_pictures_are_let_go() {
    let bench = Bench::new();
    let mut window = bench.straightened(Vec::new());
    let textures = |window: &Harness<'_, App>| window.ctx.tex_manager().read().num_allocated();
    let cell = project(&window)
        .cells_of(TrayId(1))
        .find(|cell| cell.content.is_counted())
        .unwrap()
        .clone();
    let ear = project(&window)
        .ears
        .get(cell.content.ear().unwrap())
        .unwrap()
        .number;
    // All cells are gone through; few pictures are kept.
    let before = textures(&window);
    for key in [
        Key::ArrowRight,
        Key::ArrowRight,
        Key::ArrowDown,
        Key::ArrowLeft,
        Key::ArrowUp,
    ] {
        window.key_press(key);
        settle(&mut window);
        assert!(says(&window, "Photo of"));
    }
    assert!(
        textures(&window) <= before + 6,
        "{} {}",
        before,
        textures(&window)
    );
    // The card, in another pane, with the tray no longer in memory.
    window.state_mut().show(Pane::Seasons);
    settle(&mut window);
    window.key_press_modifiers(Modifiers::COMMAND, Key::F);
    window.step();
    window.step();
    let field = "Ear number or code, packet place, row, or cell such as 3 B4";
    window
        .get_by_role_and_label(Role::TextInput, field)
        .type_text(&format!("{ear}"));
    window.step();
    window.step();
    window.key_press(Key::Enter);
    settle(&mut window);
    window.key_press(Key::F4);
    settle(&mut window);
    if !says(&window, "Photos of its cells") {
        window.key_press(Key::F4);
        settle(&mut window);
    }
    assert!(says(&window, "Photos of its cells"));
    let caption = format!("Photo of Test 1: tray 1 {}, final count, 2026-01-24", cell.name());
    let picture = window.get_by_role_and_label(Role::Image, &caption);
    picture.scroll_to_me();
    settle(&mut window);
    assert!(
        window.query_by_role_and_label(Role::Image, &caption).is_some(),
        "shown, not being opened"
    );
    common::shot(&mut window, "photo_card");
}

#[test]
fn a_photo_that_is_taken_back_and_opened_again_lies_there_once() {
    let bench = Bench::new();
    let photo = bench.photo();
    let mut window = bench.window(Vec::new());
    drop_files(&mut window, std::slice::from_ref(&photo));
    settle(&mut window);
    window.key_press_modifiers(Modifiers::COMMAND, Key::Z);
    settle(&mut window);
    assert!(photos(&window).is_empty());
    drop_files(&mut window, &[photo]);
    settle(&mut window);
    assert_eq!(photos(&window).len(), 1);
    assert_eq!(fs::read_dir(folder_of(&bench.project)).unwrap().count(), 1);
}

#[test]
fn a_photo_dropped_where_no_tray_is_counted_is_said_and_not_taken() {
    let bench = Bench::new();
    let mut window = bench.window(Vec::new());
    // Another project is opened while photos are taken in: they are not noted in that one.
    let other = bench.path("other.ron");
    project_file::create(&other, laid().project().clone(), "test").unwrap();
    let second = bench.put("second.jpg", &jpeg(&bench.drawn.photo, 60));
    drop_files(&mut window, &[bench.photo(), second]);
    // One is on its way, the other waits.
    window.step();
    assert!(window.state_mut().open_path(&other));
    settle(&mut window);
    assert!(photos(&window).is_empty(), "{:?}", photos(&window));
    let said = notices(&window);
    for words in [
        "1 photo was not taken in: second.jpg.",
        "tray one.jpg was not taken in, as another project was opened.",
    ] {
        assert!(said.contains(words), "{said}");
    }
    // A season without a test has no tray.
    let mut window = tray_sample::window(harvest(3), Pane::Scoring, Theme::Light, [1280.0, 800.0], 1.0);
    drop_files(&mut window, &[bench.photo()]);
    settle(&mut window);
    let said = notices(&window);
    assert!(
        said.contains("There is no tray here that a photo could belong to."),
        "{said}"
    );
}

#[test]
fn photos_being_taken_in_hold_the_window_open_until_they_are_noted() {
    let bench = Bench::new();
    let second = bench.put("second.jpg", &jpeg(&bench.drawn.photo, 60));
    let mut window = bench.window(Vec::new());
    drop_files(&mut window, &[bench.photo(), second]);
    let close = egui::ViewportEvent::Close;
    let viewport = window
        .input_mut()
        .viewports
        .entry(egui::ViewportId::ROOT)
        .or_default();
    viewport.events.push(close);
    window.step();
    assert!(photos(&window).len() < 2, "the photos are still on their way");
    settle(&mut window);
    drop(window);
    let kept = project_file::open(&bench.project, "test").unwrap();
    assert_eq!(kept.document.project().photos.iter().count(), 2);
}

#[test]
fn looks() {
    let bench = Bench::new();
    for (theme, word) in [(Theme::Light, "light"), (Theme::Dark, "dark")] {
        for size in [[1280.0, 800.0], [900.0, 600.0]] {
            let name = |what: &str| format!("photo_{what}_{}_{word}", size[0]);
            let mut window = bench.window_of(vec![PathAnswer::Several(vec![bench.photo()])], theme, size);
            if photos(&window).is_empty() {
                common::shot(&mut window, &name("none"));
                keys(&mut window, "o");
                settle(&mut window);
                common::shot(&mut window, &name("added"));
                keys(&mut window, "c");
                settle(&mut window);
                common::shot(&mut window, &name("corners_first"));
                drag_corners(&mut window, &bench.drawn.corners);
                common::shot(&mut window, &name("corners"));
                window.key_press(Key::Enter);
                settle(&mut window);
            }
            settle(&mut window);
            keys(&mut window, "c");
            settle(&mut window);
            tap(&mut window, Key::Tab, 2);
            common::shot(&mut window, &name("again"));
            window.key_press(Key::Escape);
            settle(&mut window);
            keys(&mut window, "8*");
            common::shot(&mut window, &name("cell"));
            if size[0] > 1000.0 {
                if !says(&window, "First reading, to be checked") {
                    menu(&mut window, "First reading of photos");
                }
                common::shot(&mut window, &name("reading"));
            }
            keys(&mut window, "l");
            tap(&mut window, Key::Enter, 1);
            tap_shift(&mut window, Key::ArrowRight, 3);
            tap(&mut window, Key::Enter, 1);
            common::shot(&mut window, &name("line"));
            keys(&mut window, "r");
            window.key_press(Key::Escape);
            window.step();
            keys(&mut window, "z");
            settle(&mut window);
            common::shot(&mut window, &name("large"));
        }
    }
}

//! Photographs of trays in the window, from the file to the length of a root, with drawn photographs whose truth is known.
#![expect(clippy::unwrap_used, reason = "a test that cannot go on fails")]

mod common;
mod photo_drawn;
mod tray_sample;

use common::{press, says};
use egui::{Event, Key, Modifiers, Pos2, Role, Theme};
use egui_kittest::Harness;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use photo_drawn::{EASY, USUAL, draw_with_blanks, jpeg, jpeg_with_exif, png, png_that_claims};
use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};
use tray_sample::{harvest, now, stamp};
use wintercrib::model::{
    CellContent, Command, Document, Pass, Photo, PhotoId, Project, Recipe, SeasonId, Seen, Tally, TestDesign,
    TestId, TrayId, TrayPlan,
};
use wintercrib::photo::{CellGrid, Corners, Point, RgbImage, Straightened, length_mm};
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
    drawn: photo_drawn::Drawn,
}

impl Bench {
    /// A project with a file, and a drawn photograph of its first tray.
    fn new() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let document = laid();
        let project = folder.path().join("crib.ron");
        let blank = landmarks(document.project());
        project_file::create(&project, document.project().clone(), "test").unwrap();
        fs::create_dir(folder.path().join("camera")).unwrap();
        Self {
            drawn: draw_with_blanks(21, &EASY, GRID, 1200, &blank),
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
            keys(&mut window, "8*");
            common::shot(&mut window, &name("cell"));
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

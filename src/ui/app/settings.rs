//! What the program remembers of the grower's taste, apart from any project.

use crate::ui::label_sheets::LabelSheets;
use egui::{Context, ThemePreference};
use serde::{Deserialize, Serialize};
use std::path::{Path, PathBuf};

const KEY: &str = "wintercrib settings";
const MOST_RECENT: usize = 8;

/// Settings kept by the desktop, not by a project.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(default)]
pub struct Settings {
    /// Who is working.
    pub who: String,
    /// Light, dark, or as the desktop is.
    pub theme: ThemePreference,
    /// Enlargement of everything, 1 for the desktop's own size.
    pub zoom: f32,
    /// Whether photographs are read at first.
    pub reads_photos: bool,
    /// How labels were set up last.
    pub label_sheets: LabelSheets,
    /// Project files that were opened, the last one first.
    pub recent: Vec<PathBuf>,
}

impl Default for Settings {
    fn default() -> Self {
        Self {
            who: String::new(),
            theme: ThemePreference::System,
            zoom: 1.0,
            // Measured to be off too often to be proposed unasked: src/photo/reading.rs.
            reads_photos: false,
            label_sheets: LabelSheets::default(),
            recent: Vec::new(),
        }
    }
}

impl Settings {
    /// Reads the settings; the usual ones where there are none.
    pub fn load(storage: &dyn eframe::Storage) -> Self {
        eframe::get_value(storage, KEY).unwrap_or_default()
    }

    /// Writes the settings.
    pub fn save(&self, storage: &mut dyn eframe::Storage) {
        eframe::set_value(storage, KEY, self);
    }

    /// Shows the window as the settings say.
    pub fn apply(&self, ctx: &Context) {
        ctx.set_theme(self.theme);
        ctx.set_zoom_factor(self.zoom.clamp(0.5, 4.0));
    }

    /// Notes what the window shows now, so that it is kept.
    pub fn observe(&mut self, ctx: &Context) {
        self.zoom = ctx.zoom_factor();
        self.theme = ctx.options(|options| options.theme_preference);
    }

    /// Puts a file first among those opened lately.
    pub fn opened(&mut self, path: &Path) {
        self.recent.retain(|known| known != path);
        self.recent.insert(0, path.to_path_buf());
        self.recent.truncate(MOST_RECENT);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    #[derive(Default)]
    struct Shelf(BTreeMap<String, String>);

    impl eframe::Storage for Shelf {
        fn get_string(&self, key: &str) -> Option<String> {
            self.0.get(key).cloned()
        }

        fn set_string(&mut self, key: &str, value: String) {
            self.0.insert(key.to_owned(), value);
        }

        fn remove_string(&mut self, key: &str) {
            self.0.remove(key);
        }

        fn flush(&mut self) {}
    }

    #[test]
    fn photos_are_read_at_first_only_once_somebody_said_so_and_that_is_remembered() {
        let mut shelf = Shelf::default();
        assert!(!Settings::load(&shelf).reads_photos);
        // Settings of an older version, which knew nothing of it.
        shelf.0.insert(KEY.to_owned(), "(who: \"Grower A\")".to_owned());
        let mut settings = Settings::load(&shelf);
        assert_eq!(
            (settings.who.as_str(), settings.reads_photos),
            ("Grower A", false)
        );
        settings.reads_photos = true;
        settings.save(&mut shelf);
        assert!(Settings::load(&shelf).reads_photos);
    }

    #[test]
    fn a_sheet_of_labels_that_was_set_up_is_remembered_for_its_kind() {
        use crate::exchange::labels::{LabelOrder, LabelSheet};
        use crate::ui::label_sheets::{KeptSheet, LabelKind};
        let mut shelf = Shelf::default();
        let mut settings = Settings::load(&shelf);
        let sheet = LabelSheet {
            label_mm: (70.0, 27.0),
            gap_mm: (0.0, 0.0),
            edge_mm: (0.0, 0.1),
            ..LabelSheet::default()
        };
        let order = LabelOrder {
            sheet,
            start: 7,
            outlines: true,
            squares: false,
        };
        let impossible = LabelOrder {
            sheet: LabelSheet { columns: 0, ..sheet },
            ..order
        };
        assert_eq!(KeptSheet::of(&impossible), None);
        let kept = KeptSheet::of(&order).unwrap();
        settings.label_sheets.keep(LabelKind::Packets, kept);
        settings.save(&mut shelf);
        let again = Settings::load(&shelf).label_sheets;
        assert_eq!(again.of(LabelKind::Packets), Some(kept));
        assert_eq!(again.of(LabelKind::Stakes), None);
        // A sheet that was begun is not.
        let order = LabelOrder { start: 1, ..order };
        assert_eq!((kept.order(), kept.is_own()), (order, true));
    }
}

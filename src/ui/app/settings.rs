//! What the program remembers of the grower's taste, apart from any project.

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

//! The native window.

use super::app::{APP_ID, App};
use super::icon;
use std::path::{Path, PathBuf};
use thiserror::Error;

/// Why there is no window.
#[derive(Debug, Error)]
pub enum WindowFault {
    /// There is no display to open a window on.
    #[error("there is no display to open a window on")]
    NoDisplay,
    /// There is said to be a display, but it does not answer.
    #[error("the display does not answer")]
    Silent,
    /// The display has no OpenGL that can be drawn with.
    #[error("the display cannot be drawn on: it needs OpenGL 2.0 or newer")]
    NoOpenGl,
}

/// Opens the window on a project file, or on the demo when there is none, and returns when it is closed.
pub fn run(path: Option<PathBuf>) -> Result<(), WindowFault> {
    if !has_display() {
        return Err(WindowFault::NoDisplay);
    }
    let options = eframe::NativeOptions {
        // With both renderers compiled in, as in tests, the default would be the slower one.
        renderer: eframe::Renderer::Glow,
        viewport: egui::ViewportBuilder::default()
            .with_title("Wintercrib")
            .with_app_id(APP_ID)
            .with_inner_size([1280.0, 800.0])
            .with_min_inner_size([800.0, 560.0])
            .with_icon(icon::icon()),
        ..eframe::NativeOptions::default()
    };
    let creator: eframe::AppCreator<'_> = Box::new(move |creation| {
        let clock = || jiff::ZonedDateTime::now().datetime();
        Ok(Box::new(App::start(
            creation,
            path.as_deref().map(Path::new),
            clock,
        )))
    });
    eframe::run_native(APP_ID, options, creator).map_err(|error| {
        // The libraries' own words name files of their sources; they are for the log.
        tracing::info!("{error}");
        match error {
            eframe::Error::Winit(_) | eframe::Error::WinitEventLoop(_) => WindowFault::Silent,
            _ => WindowFault::NoOpenGl,
        }
    })
}

/// Says whether there is a display. Only free desktops can be without one.
fn has_display() -> bool {
    if cfg!(any(target_os = "windows", target_os = "macos")) {
        return true;
    }
    ["WAYLAND_DISPLAY", "WAYLAND_SOCKET", "DISPLAY"]
        .iter()
        .any(|name| std::env::var_os(name).is_some_and(|value| !value.is_empty()))
}

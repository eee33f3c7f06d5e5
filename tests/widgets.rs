//! The widgets that know no domain, driven by key and mouse, and looked at as pictures.

mod common;

use egui::Theme;

#[test]
fn the_theme_draws() {
    for (theme, name) in [(Theme::Light, "theme_light"), (Theme::Dark, "theme_dark")] {
        let mut harness = common::harness([400.0, 120.0], theme).build_ui(|ui| {
            ui.heading("Heading");
            ui.label("Text 0123456789 ✓ ⚠ →");
            ui.weak("Quiet text");
        });
        harness.run();
        common::shot(&mut harness, name);
    }
}

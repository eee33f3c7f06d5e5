//! What the window tests share: the one way to build a harness, and pictures to look at.

use std::path::PathBuf;

use egui::{Key, Modifiers, Role, Theme};
use egui_kittest::kittest::Queryable as _;
use egui_kittest::{Harness, HarnessBuilder};
use wintercrib::ui::{fonts, tokens};

/// The only way in which tests build a harness: our fonts and themes from the first pass, a size in points, one
/// theme, one pixel a point. Continue with `with_pixels_per_point`, `build_ui_state` or `build_eframe`.
pub fn harness<State>(size: [f32; 2], theme: Theme) -> HarnessBuilder<State> {
    Harness::builder()
        .with_size(size)
        .with_theme(theme)
        .with_render_cursor(false)
        .with_context_setup(|ctx| {
            fonts::install(ctx);
            tokens::apply(ctx);
        })
}

/// Renders what the harness shows and saves it as `target/looks/NAME.png`, for a person to look at.
///
/// Without a renderer it says so loudly and goes on; with `CI` set it panics, as a machine that tests the
/// project must have one (for example the software Vulkan driver of Mesa).
pub fn shot<State>(harness: &mut Harness<'_, State>, name: &str) {
    let image = match std::panic::catch_unwind(std::panic::AssertUnwindSafe(|| harness.render())) {
        Ok(Ok(image)) => image,
        Ok(Err(problem)) => return no_picture(name, &problem),
        Err(_) => return no_picture(name, "the renderer could not start"),
    };
    let (width, height) = image.dimensions();
    assert!(width > 0 && height > 0, "{name} is empty");
    let first = *image.get_pixel(0, 0);
    assert!(
        image.pixels().any(|pixel| *pixel != first),
        "{name} is one flat colour: nothing was drawn"
    );
    let folder = PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("target/looks");
    std::fs::create_dir_all(&folder).expect("target/looks can be made");
    image
        .save(folder.join(format!("{name}.png")))
        .expect("the picture can be saved");
}

fn no_picture(name: &str, problem: &str) {
    let text =
        format!("NOT TESTED HERE: no picture of {name}: {problem}. Install a Vulkan driver to test it.");
    assert!(std::env::var_os("CI").is_none(), "{text}");
    eprintln!("{text}");
}

/// Presses a button by its label.
pub fn press<State>(harness: &mut Harness<'_, State>, button: &str) {
    harness.get_by_role_and_label(Role::Button, button).click();
    harness.run();
}

/// Types a text in place of what stands in a field.
pub fn fill<State>(harness: &mut Harness<'_, State>, field: &str, text: &str) {
    harness.get_by_role_and_label(Role::TextInput, field).focus();
    harness.run();
    harness.key_press_modifiers(Modifiers::COMMAND, Key::A);
    harness.run();
    harness
        .get_by_role_and_label(Role::TextInput, field)
        .type_text(text);
    harness.run();
}

/// Says whether a label with this part is shown.
pub fn says<State>(harness: &Harness<'_, State>, part: &str) -> bool {
    harness.query_all_by_label_contains(part).next().is_some()
}

// Each test file uses a part of this module; naming the parts keeps the rest from being called dead code.
const _: () = {
    let _: fn([f32; 2], Theme) -> HarnessBuilder<()> = harness;
    let _: fn(&mut Harness<'_, ()>, &str) = shot;
    let _: fn(&mut Harness<'_, ()>, &str) = press;
    let _: fn(&mut Harness<'_, ()>, &str, &str) = fill;
    let _: fn(&Harness<'_, ()>, &str) -> bool = says;
};

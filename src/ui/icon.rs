//! The picture in the window's title and in the task bar.

const PNG: &[u8] = include_bytes!("../../assets/icon.png");

/// The icon: a tray of cells, with a sprout in one.
///
/// # Panics
/// Never: a test reads the built-in picture.
#[must_use]
pub fn icon() -> egui::IconData {
    let picture = image::load_from_memory_with_format(PNG, image::ImageFormat::Png)
        .expect("the built-in icon is a PNG: a test reads it")
        .into_rgba8();
    let (width, height) = picture.dimensions();
    egui::IconData {
        rgba: picture.into_raw(),
        width,
        height,
    }
}

#[cfg(test)]
mod tests {
    #[test]
    fn the_icon_is_a_picture() {
        let icon = super::icon();
        assert_eq!((icon.width, icon.height), (256, 256));
        assert_eq!(icon.rgba.len(), 256 * 256 * 4);
    }
}

//! The theme as data: colours, spacing and text sizes read from `assets/theme`, and their installation in egui.

use std::sync::LazyLock;

use egui::style::{ScrollAnimation, ScrollFadeStyle, ScrollStyle, WidgetVisuals};
use egui::{Color32, CornerRadius, FontFamily, FontId, Margin, Stroke, Style, TextStyle, Theme, vec2};
use serde::{Deserialize, Deserializer, de::Error as _};

use super::fonts;
use crate::insight::GROUP_COLOURS;

static LIGHT: LazyLock<Tokens> = LazyLock::new(|| built_in(include_str!("../../assets/theme/light.ron")));
static DARK: LazyLock<Tokens> = LazyLock::new(|| built_in(include_str!("../../assets/theme/dark.ron")));

/// Everything that one theme decides; lengths and text sizes are in points.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Tokens {
    /// Behind everything.
    #[serde(deserialize_with = "colour")]
    pub page: Color32,
    /// Side panels, bars, headers of tables.
    #[serde(deserialize_with = "colour")]
    pub panel: Color32,
    /// Cards, dialogs and fields, which lie on a page or a panel.
    #[serde(deserialize_with = "colour")]
    pub raised: Color32,
    /// Rules and frames.
    #[serde(deserialize_with = "colour")]
    pub line: Color32,
    /// Text.
    #[serde(deserialize_with = "colour")]
    pub text: Color32,
    /// Text of second rank: captions, hints, units.
    #[serde(deserialize_with = "colour")]
    pub quiet: Color32,
    /// The one accent: focus, the main button, links, what is being dragged.
    #[serde(deserialize_with = "colour")]
    pub accent: Color32,
    /// Text on the accent.
    #[serde(deserialize_with = "colour")]
    pub on_accent: Color32,
    /// Words that say all is well.
    #[serde(deserialize_with = "colour")]
    pub ok: Color32,
    /// Words that warn.
    #[serde(deserialize_with = "colour")]
    pub warn: Color32,
    /// Words about an error.
    #[serde(deserialize_with = "colour")]
    pub bad: Color32,
    /// Fill behind what is selected; text keeps its own colour on it.
    #[serde(deserialize_with = "colour")]
    pub selection: Color32,
    /// First of four kinds that a plot or a table tells apart; a shape or a word always goes with it.
    #[serde(deserialize_with = "colour")]
    pub mark_one: Color32,
    /// Second of the four kinds.
    #[serde(deserialize_with = "colour")]
    pub mark_two: Color32,
    /// Third of the four kinds.
    #[serde(deserialize_with = "colour")]
    pub mark_three: Color32,
    /// Fourth of the four kinds.
    #[serde(deserialize_with = "colour")]
    pub mark_four: Color32,
    /// Groups of ears that a plot tells apart besides the four kinds; a legend that names them always goes with it.
    #[serde(deserialize_with = "colours")]
    pub groups: [Color32; GROUP_COLOURS],
    /// A mark that belongs to no kind: axes of a plot, reference lines.
    #[serde(deserialize_with = "colour")]
    pub mark_neutral: Color32,
    /// Shadow under menus and dialogs; drawn translucent.
    #[serde(deserialize_with = "colour")]
    pub shadow: Color32,
    /// Gaps.
    pub space: Space,
    /// Corner radius of cards and controls.
    pub radius: u8,
    /// Text sizes.
    pub type_size: TypeSize,
    /// Least height of anything that is clicked.
    pub control_height: f32,
    /// Height of a row of a table.
    pub row_height: f32,
}

/// Gaps in points.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Space {
    /// Between a word and its sign.
    pub tiny: f32,
    /// Between controls that belong together.
    pub small: f32,
    /// Around the content of a card.
    pub medium: f32,
    /// Between sections.
    pub large: f32,
}

/// Text sizes in points.
#[derive(Clone, Copy, Debug, PartialEq, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TypeSize {
    /// Captions and hints.
    pub small: f32,
    /// Everything else.
    pub body: f32,
    /// Heading of a section.
    pub heading: f32,
    /// Title of a pane or a dialog.
    pub title: f32,
    /// A figure that is read from across the table.
    pub numeral: f32,
}

impl Tokens {
    /// The tokens of a theme.
    #[must_use]
    pub fn for_theme(theme: Theme) -> &'static Self {
        match theme {
            Theme::Light => &LIGHT,
            Theme::Dark => &DARK,
        }
    }

    /// The tokens of the theme in which `ui` draws.
    #[must_use]
    pub fn of(ui: &egui::Ui) -> &'static Self {
        Self::for_theme(ui.theme())
    }

    /// The colours of the four kinds, in order.
    #[must_use]
    pub fn marks(&self) -> [Color32; 4] {
        [self.mark_one, self.mark_two, self.mark_three, self.mark_four]
    }

    /// Font of a big numeral.
    #[must_use]
    pub fn numeral_font(&self) -> FontId {
        FontId::new(self.type_size.numeral, fonts::bold())
    }

    /// Font of a heading.
    #[must_use]
    pub fn heading_font(&self) -> FontId {
        FontId::new(self.type_size.heading, fonts::bold())
    }

    /// Font of a title.
    #[must_use]
    pub fn title_font(&self) -> FontId {
        FontId::new(self.type_size.title, fonts::bold())
    }

    /// Font of body text in bold.
    #[must_use]
    pub fn strong_font(&self) -> FontId {
        FontId::new(self.type_size.body, fonts::bold())
    }

    /// Font of body text.
    #[must_use]
    pub fn body_font(&self) -> FontId {
        FontId::proportional(self.type_size.body)
    }

    /// Font of captions and hints.
    #[must_use]
    pub fn small_font(&self) -> FontId {
        FontId::proportional(self.type_size.small)
    }
}

/// Installs both themes; egui then follows the grower's choice or the desktop's.
///
/// Call it once, before the first frame, after [`fonts::install`].
pub fn apply(ctx: &egui::Context) {
    for theme in [Theme::Light, Theme::Dark] {
        let tokens = Tokens::for_theme(theme);
        ctx.style_mut_of(theme, |style| restyle(style, tokens));
    }
}

fn restyle(style: &mut Style, t: &Tokens) {
    let size = t.type_size;
    style.text_styles = [
        (TextStyle::Small, FontId::proportional(size.small)),
        (TextStyle::Body, FontId::proportional(size.body)),
        (TextStyle::Button, FontId::proportional(size.body)),
        (TextStyle::Monospace, FontId::monospace(size.body)),
        (
            TextStyle::Heading,
            FontId::new(size.heading, FontFamily::Name(fonts::BOLD.into())),
        ),
    ]
    .into();

    style.spacing.item_spacing = vec2(t.space.small, t.space.small);
    style.spacing.button_padding = vec2(t.space.medium, t.space.tiny);
    style.spacing.interact_size = vec2(t.control_height * 1.5, t.control_height);
    style.spacing.icon_width = 20.0;
    style.spacing.icon_width_inner = 12.0;
    style.spacing.window_margin = Margin::same(t.space.large as i8);
    style.spacing.menu_margin = Margin::same(t.space.small as i8);
    style.spacing.combo_width = 120.0;
    style.spacing.tooltip_width = 420.0;
    style.spacing.scroll = ScrollStyle {
        bar_width: 10.0,
        handle_min_length: 32.0,
        foreground_color: true,
        fade: ScrollFadeStyle {
            strength: 0.0,
            ..ScrollFadeStyle::default()
        },
        ..ScrollStyle::solid()
    };
    // Text that is dragged over would swallow the click meant for the row or the card under it.
    style.interaction.selectable_labels = false;
    style.scroll_animation = ScrollAnimation::none();

    let visuals = &mut style.visuals;
    visuals.override_text_color = None;
    visuals.weak_text_color = Some(t.quiet);
    visuals.hyperlink_color = t.accent;
    visuals.panel_fill = t.page;
    visuals.window_fill = t.raised;
    visuals.window_stroke = Stroke::new(1.0, t.line);
    visuals.window_corner_radius = CornerRadius::same(t.radius * 2);
    visuals.menu_corner_radius = CornerRadius::same(t.radius);
    visuals.faint_bg_color = t.panel;
    visuals.extreme_bg_color = t.raised;
    visuals.text_edit_bg_color = Some(t.raised);
    visuals.code_bg_color = t.panel;
    visuals.warn_fg_color = t.warn;
    visuals.error_fg_color = t.bad;
    visuals.selection.bg_fill = t.selection;
    visuals.selection.stroke = Stroke::new(2.0, t.accent);
    visuals.text_cursor.stroke = Stroke::new(2.0, t.accent);
    visuals.window_shadow.color = t.shadow.gamma_multiply(0.35);
    visuals.popup_shadow.color = t.shadow.gamma_multiply(0.25);

    let corner_radius = CornerRadius::same(t.radius);
    let widget = |fill: Color32, edge: Stroke, ink: Color32| WidgetVisuals {
        bg_fill: fill,
        weak_bg_fill: fill,
        bg_stroke: edge,
        corner_radius,
        fg_stroke: Stroke::new(1.5, ink),
        expansion: 0.0,
    };
    let edge = Stroke::new(1.0, t.quiet);
    visuals.widgets.noninteractive = widget(t.panel, Stroke::new(1.0, t.line), t.text);
    visuals.widgets.inactive = widget(t.raised, edge, t.text);
    visuals.widgets.hovered = widget(t.selection, edge, t.text);
    // egui draws the focused widget with the active look: the ring of the keyboard's place.
    visuals.widgets.active = widget(t.raised, Stroke::new(2.5, t.accent), t.text);
    visuals.widgets.open = widget(t.selection, edge, t.text);
}

fn built_in(text: &str) -> Tokens {
    ron::from_str(text).expect("a built-in theme is valid: a test reads both")
}

fn colours<'de, D: Deserializer<'de>, const N: usize>(deserializer: D) -> Result<[Color32; N], D::Error> {
    #[derive(Deserialize)]
    #[serde(transparent)]
    struct One(#[serde(deserialize_with = "colour")] Color32);
    let all = Vec::<One>::deserialize(deserializer)?;
    let all: Vec<Color32> = all.into_iter().map(|one| one.0).collect();
    <[Color32; N]>::try_from(all)
        .map_err(|all| D::Error::invalid_length(all.len(), &"one colour for each group"))
}

fn colour<'de, D: Deserializer<'de>>(deserializer: D) -> Result<Color32, D::Error> {
    let text = String::deserialize(deserializer)?;
    let is_plain = text.len() == 7 && text.starts_with('#');
    Color32::from_hex(&text)
        .ok()
        .filter(|_| is_plain)
        .ok_or_else(|| D::Error::custom(format!("\"{text}\" is not a colour; write it as \"#RRGGBB\"")))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Relative luminance, WCAG 2.1 (W3C Recommendation, 2018), "relative luminance" in its glossary.
    fn luminance(colour: Color32) -> f64 {
        let channel = |value: u8| {
            let value = f64::from(value) / 255.0;
            if value <= 0.03928 {
                value / 12.92
            } else {
                ((value + 0.055) / 1.055).powf(2.4)
            }
        };
        0.2126 * channel(colour.r()) + 0.7152 * channel(colour.g()) + 0.0722 * channel(colour.b())
    }

    /// Contrast ratio, WCAG 2.1, "contrast ratio" in its glossary: from 1 to 21.
    fn contrast(a: Color32, b: Color32) -> f64 {
        let (a, b) = (luminance(a), luminance(b));
        (a.max(b) + 0.05) / (a.min(b) + 0.05)
    }

    #[test]
    fn contrast_of_known_pairs() {
        // Black on white is 21:1 by the definition. #767676 on white is widely quoted as 4.54:1 (from memory).
        let colour = |hex| Color32::from_hex(hex).unwrap();
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-9);
        assert!((contrast(colour("#767676"), Color32::WHITE) - 4.54).abs() < 0.005);
    }

    /// WCAG 2.1 success criteria 1.4.3 (text, 4.5:1) and 1.4.11 (graphical objects, 3:1).
    #[test]
    fn text_and_marks_stand_out_in_both_themes() {
        for theme in [Theme::Light, Theme::Dark] {
            let t = Tokens::for_theme(theme);
            let check = |name: &str, front: Color32, back: Color32, least: f64| {
                let ratio = contrast(front, back);
                assert!(
                    ratio >= least,
                    "{theme:?}: {name} has {ratio:.2}:1, needs {least}:1"
                );
            };
            for (ground, back) in [("page", t.page), ("panel", t.panel), ("raised", t.raised)] {
                for (name, front) in [
                    ("text", t.text),
                    ("quiet", t.quiet),
                    ("accent", t.accent),
                    ("ok", t.ok),
                    ("warn", t.warn),
                    ("bad", t.bad),
                ] {
                    check(&format!("{name} on {ground}"), front, back, 4.5);
                }
                for (i, mark) in t
                    .marks()
                    .into_iter()
                    .chain([t.mark_neutral])
                    .chain(t.groups)
                    .enumerate()
                {
                    check(&format!("mark {i} on {ground}"), mark, back, 3.0);
                }
            }
            for (name, front) in [
                ("text", t.text),
                ("quiet", t.quiet),
                ("accent", t.accent),
                ("warn", t.warn),
                ("bad", t.bad),
            ] {
                check(&format!("{name} on selection"), front, t.selection, 4.5);
            }
            check("text on accent", t.on_accent, t.accent, 4.5);
        }
    }

    #[test]
    fn sizes_suit_cold_hands_and_tired_eyes() {
        for theme in [Theme::Light, Theme::Dark] {
            let t = Tokens::for_theme(theme);
            assert!(t.type_size.body >= 14.0 && t.type_size.small >= 12.0);
            assert!(t.control_height >= 28.0 && t.row_height >= 24.0);
        }
    }

    #[test]
    fn a_misspelt_theme_is_refused_with_its_place() {
        let good = include_str!("../../assets/theme/light.ron");
        let unknown = ron::from_str::<Tokens>(&good.replace("page:", "pagee:"))
            .unwrap_err()
            .to_string();
        assert!(unknown.contains("pagee"), "{unknown}");
        let colour = ron::from_str::<Tokens>(&good.replace("#F6F0E4", "paper"))
            .unwrap_err()
            .to_string();
        assert!(colour.contains("\"paper\" is not a colour"), "{colour}");
    }
}

//! The keyboard on the plot: from mark to mark, choosing, moving the view.

use super::scatter::{PlotState, Scatter};
use crate::insight::place_of;
use egui::{EventFilter, FocusDirection, Key, Modifiers, Response, Ui};
use egui_plot::PlotTransform;

/// What a key asks for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Deed {
    /// Choose this ear alone.
    Choose(usize),
    /// Choose this ear with the others, or take it out of them.
    Toggle(usize),
    /// Open the card of this ear.
    Open(usize),
}

/// How much of the view a step moves it.
const PAN: f64 = 0.1;
/// How much larger everything is after a step nearer.
const ZOOM: f64 = 1.25;
/// How near to the edge of the view the keyboard may be, as a part of it.
const EDGE: f64 = 0.03;

const ARROWS: [(Key, [f64; 2]); 4] = [
    (Key::ArrowRight, [1.0, 0.0]),
    (Key::ArrowLeft, [-1.0, 0.0]),
    (Key::ArrowUp, [0.0, 1.0]),
    (Key::ArrowDown, [0.0, -1.0]),
];

/// Where a key goes.
#[derive(Debug, Clone, Copy)]
enum Way {
    /// To the next ear in this direction.
    Toward([f64; 2]),
    /// To the first ear across.
    First,
    /// To the last ear across.
    Last,
}

/// What a key does with the view.
#[derive(Debug, Clone, Copy)]
enum Look {
    /// It shows everything.
    All,
    /// It makes everything larger by this factor.
    Zoom(f64),
    /// It moves in this direction.
    Pan([f64; 2]),
}

/// What the keys ask for.
#[derive(Debug, Default)]
struct Pressed {
    way: Option<Way>,
    look: Option<Look>,
    chooses: bool,
    toggles: bool,
}

impl Pressed {
    fn take(input: &mut egui::InputState) -> Self {
        let mut pressed = Self::default();
        for (key, direction) in ARROWS {
            // Shift first: without it egui also takes the key with Shift.
            if input.consume_key(Modifiers::SHIFT, key) {
                pressed.look = Some(Look::Pan(direction));
            } else if input.consume_key(Modifiers::NONE, key) {
                pressed.way = Some(Way::Toward(direction));
            }
        }
        let mut key = |key| input.consume_key(Modifiers::NONE, key);
        for (name, look) in [
            (Key::Plus, Look::Zoom(ZOOM)),
            (Key::Equals, Look::Zoom(ZOOM)),
            (Key::Minus, Look::Zoom(1.0 / ZOOM)),
            (Key::Num0, Look::All),
        ] {
            if key(name) {
                pressed.look = Some(look);
            }
        }
        for (name, way) in [(Key::Home, Way::First), (Key::End, Way::Last)] {
            if key(name) {
                pressed.way = Some(way);
            }
        }
        pressed.chooses = key(Key::Enter);
        pressed.toggles = key(Key::Space);
        pressed
    }
}

impl Scatter<'_> {
    /// The place of the ear that the keyboard is on, else of the ear chosen last.
    pub(super) fn keyboard_place(&self, state: &PlotState) -> Option<usize> {
        let ear = state.at.or_else(|| self.chosen.last().copied())?;
        place_of(self.choice, ear)
    }

    /// Takes the keys while the plot has the keyboard, and tells what they ask for.
    pub(super) fn walk(
        &self,
        ui: &Ui,
        state: &mut PlotState,
        transform: &PlotTransform,
        keyboard: &Response,
    ) -> Option<Deed> {
        if !keyboard.has_focus() {
            return None;
        }
        let arrows = EventFilter {
            horizontal_arrows: true,
            vertical_arrows: true,
            ..EventFilter::default()
        };
        ui.memory_mut(|m| m.set_focus_lock_filter(keyboard.id, arrows));
        let pressed = ui.input_mut(Pressed::take);
        if pressed.way.is_some() || pressed.look.is_some() {
            // The filter does not hold yet in the first pass: egui must not move the focus by the same key.
            ui.memory_mut(|m| m.move_focus(FocusDirection::None));
        }
        if let Some(look) = pressed.look {
            self.move_view(ui, state, transform, look);
        }
        let from = self.keyboard_place(state);
        let across = |a: &usize, b: &usize| self.field.spots[*a][0].total_cmp(&self.field.spots[*b][0]);
        let shown = || (0..self.field.spots.len()).filter(|i| self.is_shown(*i));
        let to = match (pressed.way, from) {
            (None, _) => None,
            (Some(Way::First), _) => shown().min_by(across),
            (Some(Way::Last), _) => shown().max_by(across),
            (Some(Way::Toward(_)), None) => shown().next(),
            (Some(Way::Toward(direction)), Some(from)) => {
                let scale = transform.dpos_dvalue().map(f64::abs);
                self.field.toward(from, direction, scale, |i| self.is_shown(i))
            }
        };
        if let Some(to) = to {
            state.at = Some(self.choice.standings[to].ear);
            self.bring_into_view(ui, state, transform, to);
        }
        let here = to.or(from)?;
        let ear = self.choice.standings[here].ear;
        if pressed.chooses {
            let is_chosen = self.chosen == [ear];
            state.at = Some(ear);
            return Some(if is_chosen {
                Deed::Open(here)
            } else {
                Deed::Choose(here)
            });
        }
        pressed.toggles.then_some(Deed::Toggle(here))
    }

    fn move_view(&self, ui: &Ui, state: &mut PlotState, transform: &PlotTransform, look: Look) {
        let bounds = transform.bounds();
        let (min, max) = (bounds.min(), bounds.max());
        match look {
            Look::All => state.reset = true,
            Look::Zoom(zoom) => {
                // The ear that the keyboard is on stays where it is, else the middle.
                let at = self.keyboard_place(state).map(|i| self.field.spots[i]);
                let ends = [0, 1].map(|side| {
                    let middle = f64::midpoint(min[side], max[side]);
                    let still = at.map_or(middle, |at| at[side].clamp(min[side], max[side]));
                    [min[side], max[side]].map(|end| still + (end - still) / zoom)
                });
                state.go_to = Some([ends[0][0], ends[0][1], ends[1][0], ends[1][1]]);
            }
            Look::Pan(way) => {
                let by = [0, 1].map(|side| PAN * way[side] * (max[side] - min[side]));
                state.go_to = Some([min[0] + by[0], max[0] + by[0], min[1] + by[1], max[1] + by[1]]);
            }
        }
        ui.ctx().request_repaint();
    }

    /// Moves the view as little as brings the mark of an ear into it.
    fn bring_into_view(&self, ui: &Ui, state: &mut PlotState, transform: &PlotTransform, i: usize) {
        let bounds = transform.bounds();
        let (min, max) = (bounds.min(), bounds.max());
        let spot = self.field.spots[i];
        let by = [0, 1].map(|side| {
            let edge = EDGE * (max[side] - min[side]);
            (spot[side] - max[side] + edge).max(0.0) - (min[side] + edge - spot[side]).max(0.0)
        });
        let is_out = |side: usize| spot[side] < min[side] || spot[side] > max[side];
        if is_out(0) || is_out(1) {
            state.go_to = Some([min[0] + by[0], max[0] + by[0], min[1] + by[1], max[1] + by[1]]);
            ui.ctx().request_repaint();
        }
    }
}

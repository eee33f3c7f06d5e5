//! The keys of the pane, taken out of the input in the order in which they were pressed.

use egui::{Event, Key, Modifiers};

/// A key of the pane.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Pressed {
    /// A sign that was typed.
    Sign(char),
    /// Any other key, and whether Shift was held.
    Key(Key, bool),
}

/// Takes the pane's keys out of the input, in order. A held key counts once.
pub(super) fn take_keys(events: &mut Vec<Event>) -> Vec<Pressed> {
    let mut taken = Vec::new();
    let mut rest = Vec::new();
    // The sign of the last key: the text that follows it is the same press.
    let mut pressed: Option<(char, bool)> = None;
    for event in events.drain(..) {
        match event {
            Event::Key {
                key,
                pressed: true,
                repeat,
                modifiers,
                ..
            } if is_free(modifiers) => {
                if let Some(sign) = sign_of(key) {
                    pressed = Some((sign, repeat));
                    if !repeat {
                        taken.push(Pressed::Sign(sign));
                    }
                } else if is_ours(key) {
                    if !repeat || !matches!(key, Key::Enter | Key::Tab) {
                        taken.push(Pressed::Key(key, modifiers.shift));
                    }
                } else {
                    rest.push(event);
                }
            }
            Event::Text(text) => {
                for sign in text.chars() {
                    match pressed.take() {
                        // A shifted key gives another sign than its own: the text is right.
                        Some((before, false)) if before != sign.to_ascii_lowercase() => {
                            taken.pop();
                            taken.push(Pressed::Sign(sign));
                        }
                        Some(_) => {}
                        None => taken.push(Pressed::Sign(sign)),
                    }
                }
            }
            other => rest.push(other),
        }
    }
    *events = rest;
    taken
}

fn is_free(modifiers: Modifiers) -> bool {
    !modifiers.command && !modifiers.ctrl && !modifiers.alt
}

fn is_ours(key: Key) -> bool {
    matches!(
        key,
        Key::Enter
            | Key::Tab
            | Key::Backspace
            | Key::Delete
            | Key::ArrowLeft
            | Key::ArrowRight
            | Key::ArrowUp
            | Key::ArrowDown
            | Key::PageUp
            | Key::PageDown
            | Key::F6
    )
}

fn sign_of(key: Key) -> Option<char> {
    Some(match key {
        Key::Num0 => '0',
        Key::Num1 => '1',
        Key::Num2 => '2',
        Key::Num3 => '3',
        Key::Num4 => '4',
        Key::Num5 => '5',
        Key::Num6 => '6',
        Key::Num7 => '7',
        Key::Num8 => '8',
        Key::Num9 => '9',
        Key::Plus => '+',
        Key::Minus => '-',
        Key::Period => '.',
        Key::Comma => ',',
        Key::Slash => '/',
        Key::Space => ' ',
        Key::C => 'c',
        Key::F => 'f',
        Key::G => 'g',
        Key::K => 'k',
        Key::L => 'l',
        Key::M => 'm',
        Key::N => 'n',
        Key::O => 'o',
        Key::P => 'p',
        Key::R => 'r',
        Key::V => 'v',
        Key::W => 'w',
        Key::Z => 'z',
        _ => return None,
    })
}

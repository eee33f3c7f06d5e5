//! Everything that a menu offers or a key does in the whole window, in one list: menus, keys and the help page
//! are made from it.

use super::context::Pane;
use egui::{Context, Key, KeyboardShortcut, Modifiers};

/// Something that the grower can do in the whole window.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum UserAction {
    /// Begin a project.
    NewProject,
    /// Open a project file.
    OpenProject,
    /// Save the project file.
    Save,
    /// Save under another name and go on with that file.
    SaveAs,
    /// Take over what another copy of the project has: of a second scorer, of another computer.
    MergeCopy,
    /// Put the project of another grower beside this one.
    Neighbour,
    /// Write the whole project as a data package.
    SavePackage,
    /// Make a project of a data package.
    OpenPackage,
    /// Write the passport table.
    SavePassport,
    /// Put the project and its photos into one zip.
    SavePacked,
    /// Take a project and its photos out of such a zip.
    OpenPacked,
    /// Show the earlier saves that are kept.
    Saves,
    /// Show who did what when.
    Log,
    /// Say what the project is, and set units.
    ProjectFacts,
    /// Close the window.
    Quit,
    /// Take back the last step.
    Undo,
    /// Do again the step taken back last.
    Redo,
    /// Go to an ear, a packet, a cell or a row by number.
    Find,
    /// Show or hide what needs attention.
    ToDo,
    /// Show or hide the card of the chosen ear.
    EarCard,
    /// Show or hide the notices that went by.
    Notices,
    /// Close what lies beside the pane.
    CloseSide,
    /// Show a pane.
    Show(Pane),
    /// Show the help page with the keys and the cautions.
    Help,
}

impl UserAction {
    /// The actions of the menu 'Project'.
    pub const PROJECT: [Self; 14] = [
        Self::NewProject,
        Self::OpenProject,
        Self::Save,
        Self::SaveAs,
        Self::Saves,
        Self::SavePacked,
        Self::OpenPacked,
        Self::MergeCopy,
        Self::Neighbour,
        Self::SavePackage,
        Self::OpenPackage,
        Self::SavePassport,
        Self::ProjectFacts,
        Self::Quit,
    ];
    /// The actions of the menu 'Edit'.
    pub const EDIT: [Self; 3] = [Self::Undo, Self::Redo, Self::Find];
    /// The actions of the menu 'View', before the panes.
    pub const VIEW: [Self; 5] = [
        Self::ToDo,
        Self::EarCard,
        Self::Log,
        Self::Notices,
        Self::CloseSide,
    ];

    /// Gives all actions.
    pub fn all() -> impl Iterator<Item = Self> {
        Self::PROJECT
            .into_iter()
            .chain(Self::EDIT)
            .chain(Self::VIEW)
            .chain(Pane::ALL.into_iter().map(Self::Show))
            .chain([Self::Help])
    }

    /// Names the action as menus show it.
    pub fn name(self) -> &'static str {
        match self {
            Self::NewProject => "New project…",
            Self::OpenProject => "Open…",
            Self::Save => "Save",
            Self::SaveAs => "Save as…",
            Self::MergeCopy => "Merge another copy…",
            Self::Neighbour => "Compare with another project…",
            Self::SavePackage => "Save as a data package…",
            Self::OpenPackage => "Open a data package…",
            Self::SavePassport => "Save a passport table…",
            Self::SavePacked => "Save a packed copy as…",
            Self::OpenPacked => "Open a packed copy…",
            Self::Saves => "Earlier saves…",
            Self::Log => "Log: who did what when…",
            Self::ProjectFacts => "About this project…",
            Self::Quit => "Close the window",
            Self::Undo => "Undo",
            Self::Redo => "Redo",
            Self::Find => "Find…",
            Self::ToDo => "To do",
            Self::EarCard => "Ear card",
            Self::Notices => "Earlier notices",
            Self::CloseSide => "Close the side",
            Self::Show(pane) => pane.name(),
            Self::Help => "Help and cautions",
        }
    }

    /// Gives the keys that do it.
    pub fn shortcut(self) -> Option<KeyboardShortcut> {
        let ctrl = |key| Some(KeyboardShortcut::new(Modifiers::COMMAND, key));
        let ctrl_shift = |key| {
            Some(KeyboardShortcut::new(
                Modifiers::COMMAND.plus(Modifiers::SHIFT),
                key,
            ))
        };
        let plain = |key| Some(KeyboardShortcut::new(Modifiers::NONE, key));
        match self {
            Self::NewProject => ctrl(Key::N),
            Self::OpenProject => ctrl(Key::O),
            Self::Save => ctrl(Key::S),
            Self::SaveAs => ctrl_shift(Key::S),
            Self::MergeCopy
            | Self::Neighbour
            | Self::SavePackage
            | Self::OpenPackage
            | Self::SavePassport
            | Self::SavePacked
            | Self::OpenPacked
            | Self::Saves
            | Self::Log
            | Self::ProjectFacts
            | Self::Notices
            | Self::CloseSide => None,
            Self::Quit => ctrl(Key::Q),
            Self::Undo => ctrl(Key::Z),
            Self::Redo => ctrl_shift(Key::Z),
            Self::Find => ctrl(Key::F),
            Self::ToDo => plain(Key::F9),
            Self::EarCard => plain(Key::F4),
            Self::Show(Pane::Harvest) => ctrl(Key::Num1),
            Self::Show(Pane::Trays) => ctrl(Key::Num2),
            Self::Show(Pane::Scoring) => ctrl(Key::Num3),
            Self::Show(Pane::Selection) => ctrl(Key::Num4),
            Self::Show(Pane::Planting) => ctrl(Key::Num5),
            Self::Show(Pane::Seasons) => ctrl(Key::Num6),
            Self::Help => plain(Key::F1),
        }
    }

    /// Takes the keys pressed in this frame and gives the actions they ask for. Undo and redo stay with a text
    /// field while one has the keyboard.
    pub fn pressed(ctx: &Context) -> Vec<Self> {
        let typing = ctx.text_edit_focused();
        let mut found = Vec::new();
        // Keys with Shift come first: egui's match of plain Ctrl+Z also takes Ctrl+Shift+Z.
        let mut actions: Vec<Self> = Self::all().collect();
        actions.sort_by_key(|action| !action.shortcut().is_some_and(|keys| keys.modifiers.shift));
        for action in actions {
            let stays = typing && matches!(action, Self::Undo | Self::Redo);
            if let Some(keys) = action.shortcut()
                && !stays
                && ctx.input_mut(|input| input.consume_shortcut(&keys))
            {
                found.push(action);
            }
        }
        let redo_too = KeyboardShortcut::new(Modifiers::COMMAND, Key::Y);
        if !typing && ctx.input_mut(|input| input.consume_shortcut(&redo_too)) {
            found.push(Self::Redo);
        }
        found
    }
}

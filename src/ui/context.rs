//! What a pane may read, and how it asks for changes.

use crate::insight::Insight;
pub use crate::insight::Pane;
use crate::jobs::JobContext;
use crate::model::{Command, Committed, Document, EarId, Pass, Place, Problem, Repair, SeasonId, TrayId};
use crate::ui::label_sheets::{KeptSheet, LabelKind, LabelSheets};
use crate::ui::photos::PhotoShelf;
use jiff::civil::{Date, DateTime};
use std::fmt;
use std::path::PathBuf;
use std::sync::Arc;

/// Tells one request of a pane from all others, so that it recognises the answer in a later frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Ticket(pub u64);

/// How a notice is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tone {
    /// Something went as asked.
    Well,
    /// Something needs attention.
    Warning,
    /// Something was refused or failed.
    Error,
}

/// A file that the grower opened or dropped on the window.
#[derive(Debug, Clone, PartialEq)]
pub struct FileBytes {
    /// Its name without folders.
    pub name: String,
    /// What is in it.
    pub bytes: Arc<[u8]>,
}

/// The work that makes the content of a file. It runs beside the window, so it owns what it reads, such as
/// [`Document::snapshot`]; where it takes long it tells its progress and ends when it is cancelled. A refusal is a
/// sentence.
pub struct Making(Box<Make>);

type Make = dyn FnOnce(&JobContext) -> Result<Vec<u8>, String> + Send;

impl Making {
    /// Work that is to be done.
    pub fn new(make: impl FnOnce(&JobContext) -> Result<Vec<u8>, String> + Send + 'static) -> Self {
        Self(Box::new(make))
    }

    /// Does the work.
    pub fn run(self, job: &JobContext) -> Result<Vec<u8>, String> {
        (self.0)(job)
    }
}

impl fmt::Debug for Making {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Making")
    }
}

/// Something that a pane asks of the window.
#[derive(Debug)]
pub enum Action {
    /// Carry out a command. Without a ticket, a refusal is shown as a notice.
    Run {
        /// The command.
        command: Box<Command>,
        /// Whether the pane wants to see the outcome itself.
        ticket: Option<Ticket>,
    },
    /// End the step that takes keystrokes: the next command of the same kind is a step of its own for undo.
    CloseStep,
    /// Make these the chosen ears.
    Choose(Vec<EarId>),
    /// Open the ear card of an ear.
    OpenCard(EarId),
    /// Go to a place, in the pane that shows it.
    Go(Place),
    /// Show an ear in the pedigree over all seasons, in the pane Seasons.
    ShowPedigree(EarId),
    /// Show a pane.
    Show(Pane),
    /// Show another season.
    ShowSeason(SeasonId),
    /// Tell the grower something.
    Notice(Tone, String),
    /// Ask for a file to read; the answer comes through [`PaneCtx::opened`].
    OpenFile {
        /// What the dialog is headed.
        title: String,
        /// Endings of file names, without a dot.
        endings: Vec<&'static str>,
        /// The ticket of the answer.
        ticket: Ticket,
    },
    /// Ask where to write a file; then make and write it beside the window.
    SaveFile {
        /// The proposed name.
        name: String,
        /// What makes its content.
        making: Making,
    },
    /// Ask for photographs of a tray, and take them in.
    OpenPhotos {
        /// The tray that they are of.
        tray: TrayId,
        /// The count at which they were taken.
        pass: Option<Pass>,
    },
    /// Take in photographs of a tray.
    TakePhotos {
        /// The files.
        paths: Vec<PathBuf>,
        /// The tray that they are of.
        tray: TrayId,
        /// The count at which they were taken.
        pass: Option<Pass>,
    },
    /// Ask for a folder, and look in it for the photographs that are missing.
    FindPhotos,
    /// Give up taking in photographs, or looking for them.
    StopPhotos,
    /// Keep how labels of a kind were set up.
    KeepLabelSheet(LabelKind, KeptSheet),
    /// Have photographs read at first, or not.
    ReadPhotos(bool),
    /// Open the dialog that mends trays with a repair that was proposed, in the pane Scoring.
    ProposeRepair(Repair),
    /// Begin to freeze the planting list of the season: the window asks for the name and confirms.
    AskFreeze,
}

/// What a pane sees while it draws one frame. It reads the document and asks for changes; the window carries
/// them out after the frame.
pub struct PaneCtx<'a> {
    /// The project, with its history.
    pub document: &'a Document,
    /// Views derived from it.
    pub insight: &'a Insight,
    /// The season that is shown; none in a project without seasons.
    pub season: Option<SeasonId>,
    /// The chosen ears, the one chosen last at the end.
    pub chosen: &'a [EarId],
    /// Today, by the computer's clock.
    pub today: Date,
    /// The time, by the computer's clock.
    pub now: DateTime,
    /// Who is working; empty when nobody said.
    pub who: &'a str,
    /// Why nothing can be changed, if so.
    pub read_only: Option<&'a str>,
    /// Outcomes of commands that were run with a ticket in the last frame.
    pub outcomes: &'a [(Ticket, Result<Committed, Problem>)],
    /// Files that were asked for and have been opened.
    pub files: &'a [(Ticket, FileBytes)],
    /// Files dropped on the window in this frame.
    pub dropped: &'a [FileBytes],
    /// How labels were set up last.
    pub label_sheets: &'a LabelSheets,
    /// The photographs.
    pub photos: &'a mut PhotoShelf,
    /// Asked so far.
    pub actions: &'a mut Vec<Action>,
    /// The last ticket given out.
    pub last_ticket: &'a mut u64,
}

impl PaneCtx<'_> {
    /// Asks for a command. A refusal is shown as a notice.
    pub fn run(&mut self, command: Command) {
        self.actions.push(Action::Run {
            command: Box::new(command),
            ticket: None,
        });
    }

    /// Asks for a command whose outcome the pane wants to see through [`PaneCtx::outcome`] in the next frame.
    pub fn run_for(&mut self, command: Command) -> Ticket {
        let ticket = self.ticket();
        self.actions.push(Action::Run {
            command: Box::new(command),
            ticket: Some(ticket),
        });
        ticket
    }

    /// Gives the outcome of a command that was asked for in the last frame.
    pub fn outcome(&self, ticket: Ticket) -> Option<&Result<Committed, Problem>> {
        self.outcomes
            .iter()
            .find(|(known, _)| *known == ticket)
            .map(|(_, outcome)| outcome)
    }

    /// Makes these the chosen ears.
    pub fn choose(&mut self, ears: Vec<EarId>) {
        if self.chosen != ears.as_slice() {
            self.actions.push(Action::Choose(ears));
        }
    }

    /// Asks for anything else.
    pub fn act(&mut self, action: Action) {
        self.actions.push(action);
    }

    /// Tells the grower something.
    pub fn notice(&mut self, tone: Tone, text: impl Into<String>) {
        self.actions.push(Action::Notice(tone, text.into()));
    }

    /// Asks for a file to read; [`PaneCtx::opened`] gives it in a later frame.
    pub fn open_file(&mut self, title: &str, endings: &[&'static str]) -> Ticket {
        let ticket = self.ticket();
        self.actions.push(Action::OpenFile {
            title: title.to_owned(),
            endings: endings.to_vec(),
            ticket,
        });
        ticket
    }

    /// Gives a file that was asked for, in the one frame in which it has arrived.
    pub fn opened(&self, ticket: Ticket) -> Option<&FileBytes> {
        self.files
            .iter()
            .find(|(known, _)| *known == ticket)
            .map(|(_, file)| file)
    }

    /// Asks where to write a file, and has it made and written beside the window.
    pub fn save_file(
        &mut self,
        name: &str,
        make: impl FnOnce(&JobContext) -> Result<Vec<u8>, String> + Send + 'static,
    ) {
        self.actions.push(Action::SaveFile {
            name: name.to_owned(),
            making: Making::new(make),
        });
    }

    fn ticket(&mut self) -> Ticket {
        *self.last_ticket += 1;
        Ticket(*self.last_ticket)
    }
}

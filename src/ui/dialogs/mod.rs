//! Questions of the whole window. A dialog keeps what is being typed and says how it was answered.

mod changed;
mod close;
mod facts;
mod find;
mod freeze;
mod help;
mod log;
mod merge;
mod neighbour;
mod new_project;
mod saves;
mod stopped;
mod versions;

pub use changed::Changed;
pub use freeze::Freeze;
pub use help::CAUTIONS;
pub use saves::Saves;
pub use stopped::Stopped;
pub use versions::TwoVersions;

use crate::insight::Insight;
use crate::insight::audit::AuditLine;
use crate::model::{About, Command, Comparison, Document, Photo, Place, Project};
use crate::store::backups::Backup;
use close::Close;
use egui::Context;
use facts::Facts;
use find::Find;
use log::Log;
use merge::Merge;
pub use neighbour::Neighbour;
use new_project::NewProject;
use std::path::PathBuf;

/// The dialog that is open.
pub enum OpenDialog {
    /// What to begin with when nothing could be opened.
    Welcome,
    /// A project is begun.
    NewProject(NewProject),
    /// What the project is.
    Facts(Box<Facts>),
    /// Going to something by its number.
    Find(Find),
    /// A planting list is to be frozen.
    Freeze(Box<Freeze>),
    /// Counts of another copy are to be taken over.
    Merge(Box<Merge>),
    /// What another version has is to be taken over.
    Versions(Box<TwoVersions>),
    /// Another project stands beside this one.
    Neighbour(Box<Neighbour>),
    /// Who did what when.
    Log(Box<Log>),
    /// Earlier saves of a project file.
    Saves(Saves),
    /// The project file was changed by something else.
    Changed(Changed),
    /// A fault of the program stopped it the last time.
    Stopped(Stopped),
    /// Keys and cautions.
    Help,
    /// Closing with something not saved.
    Close(Close),
}

/// How a dialog was answered.
#[derive(Debug, Clone, PartialEq)]
pub enum Answer {
    /// Nothing is to be done.
    Nothing,
    /// Ask for the place of a new project.
    NewProject {
        /// What it is.
        about: About,
        /// The year of its first season.
        year: i16,
    },
    /// Begin the dialog for a new project.
    BeginProject,
    /// Ask for a project to open.
    OpenProject,
    /// Open a demo.
    OpenDemo(&'static str),
    /// Carry out a command, and remember who is working.
    Run {
        /// The command.
        command: Box<Command>,
        /// Who is working.
        who: String,
    },
    /// Go to a place.
    Go(Place),
    /// Ask for a file to save to.
    SaveAs,
    /// Ask where the copy of an earlier save goes.
    Restore(Box<Backup>),
    /// Show the earlier saves.
    ShowSaves,
    /// Take the last step back.
    TakeBack,
    /// Save this project beside the file that something else has changed, and compare the two.
    KeepBoth {
        /// The file that was changed.
        theirs: PathBuf,
        /// Where this project goes.
        ours: PathBuf,
    },
    /// Take over what another version of the project has, and compare the counts afterwards.
    TakeVersion {
        /// The command; none when there is nothing but counts.
        command: Option<Box<Command>>,
        /// The photographs that come with it.
        photos: Vec<Photo>,
        /// The file of the other version.
        theirs: PathBuf,
    },
    /// Close the window now.
    CloseNow,
}

impl OpenDialog {
    /// What to begin with when nothing could be opened.
    pub fn welcome() -> Self {
        Self::Welcome
    }

    /// A project is begun; the year is proposed for its first season.
    pub fn new_project(year: i16) -> Self {
        Self::NewProject(NewProject::new(year))
    }

    /// What the project is, and who is working.
    pub fn facts(about: &About, who: &str) -> Self {
        Self::Facts(Box::new(Facts::new(about, who)))
    }

    /// Going to something by its number.
    pub fn find() -> Self {
        Self::Find(Find::default())
    }

    /// A planting list is to be frozen.
    pub fn freeze(freeze: Freeze) -> Self {
        Self::Freeze(Box::new(freeze))
    }

    /// Counts of another copy, by the name of its file, are to be taken over.
    pub fn merge(name: String, comparison: Comparison, project: &Project, who: &str) -> Self {
        Self::Merge(Box::new(Merge::new(name, comparison, project, who)))
    }

    /// Who did what when, oldest first, and what should be known of it.
    pub fn log(lines: Vec<AuditLine>, notes: Vec<String>, project: &Project) -> Self {
        Self::Log(Box::new(Log::new(lines, notes, project)))
    }

    /// Keys and cautions.
    pub fn help() -> Self {
        Self::Help
    }

    /// The project file could not be saved while closing.
    pub fn close_anyway() -> Self {
        Self::Close(Close::NotSaved)
    }

    /// A project without a file is closed.
    pub fn close_without_file() -> Self {
        Self::Close(Close::NoFile)
    }

    /// Draws the dialog; gives its answer once.
    pub fn show(&mut self, ctx: &Context, document: &Document, insight: &Insight) -> Option<Answer> {
        match self {
            Self::Welcome => new_project::welcome(ctx),
            Self::NewProject(dialog) => dialog.show(ctx),
            Self::Facts(dialog) => dialog.show(ctx),
            Self::Find(dialog) => dialog.show(ctx, document, insight),
            Self::Freeze(dialog) => dialog.show(ctx, document.project()),
            Self::Merge(dialog) => dialog.show(ctx, document.project()),
            Self::Versions(dialog) => dialog.show(ctx),
            Self::Neighbour(dialog) => dialog.show(ctx, document.project()),
            Self::Log(dialog) => dialog.show(ctx, document.project()),
            Self::Saves(dialog) => dialog.show(ctx),
            Self::Changed(dialog) => dialog.show(ctx),
            Self::Stopped(dialog) => dialog.show(ctx),
            Self::Help => help::show(ctx),
            Self::Close(dialog) => dialog.show(ctx),
        }
    }
}

/// Draws a text field with its name before it; both as wide as the dialog.
fn text_field(ui: &mut egui::Ui, name: &str, text: &mut String, hint: &str) -> egui::Response {
    let label = ui.label(name);
    let field = egui::TextEdit::singleline(text)
        .hint_text(hint)
        .desired_width(f32::INFINITY);
    ui.add(field).labelled_by(label.id)
}

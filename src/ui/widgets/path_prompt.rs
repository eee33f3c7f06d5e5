//! Asking for a file: through the desktop's own window, or by a path typed in ours.

use std::future::Future;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError, sync_channel};
use std::task::{Context as TaskContext, Poll, Wake, Waker};
use std::time::{Duration, Instant};

use egui::{Context, Id, TextEdit};

use super::dialog::{Dialog, DialogAnswer};
use crate::ui::tokens::Tokens;

/// A desktop without a file window answers `None` within some milliseconds, as if the grower had cancelled; nobody
/// cancels as fast as this.
const TOO_FAST: Duration = Duration::from_millis(250);

/// What the file is wanted for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum PathPurpose {
    /// It exists and is read.
    Open,
    /// Several exist and are read.
    OpenSeveral,
    /// It is a folder, and what is in it is read.
    Folder,
    /// It is written, and may be new.
    Save,
}

/// A question for a file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct PathRequest {
    /// Title of the window: what is done, `Open a project`.
    pub title: String,
    /// What the file is wanted for.
    pub purpose: PathPurpose,
    /// What such files are called, `Project`.
    pub kind: String,
    /// Extensions without the dot; the first is added to a name that has none of them. Empty takes any file.
    pub extensions: Vec<String>,
    /// The folder or file to begin with.
    pub start: Option<PathBuf>,
}

/// The answer.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PathAnswer {
    /// This file. When saving, replacing an existing one was agreed to.
    Chosen(PathBuf),
    /// These files, to [`PathPurpose::OpenSeveral`].
    Several(Vec<PathBuf>),
    /// None.
    Cancelled,
}

/// Asks one question at a time.
pub trait PathPrompt {
    /// Begins to ask; a question that was open is dropped without an answer.
    fn ask(&mut self, ctx: &Context, request: PathRequest);
    /// Draws what is to be drawn and returns the answer once; call it in every frame.
    fn show(&mut self, ctx: &Context) -> Option<PathAnswer>;
    /// Whether a question is open.
    fn is_open(&self) -> bool;
}

/// Asks the desktop, and where the desktop has no file window, by a path typed in ours.
#[derive(Debug, Default)]
pub struct WindowPathPrompt {
    /// Always ask for a typed path.
    pub prefers_typing: bool,
    stage: Stage,
}

#[derive(Debug, Default)]
enum Stage {
    #[default]
    Closed,
    Desktop {
        request: PathRequest,
        reply: Receiver<(Option<PathAnswer>, Duration)>,
    },
    Typing(Typing),
}

/// The path being typed.
#[derive(Debug)]
struct Typing {
    request: PathRequest,
    text: String,
    problem: Option<String>,
    /// An existing file that would be replaced; a second Enter agrees.
    replaces: Option<PathBuf>,
    is_new: bool,
}

impl WindowPathPrompt {
    /// A prompt that always asks for a typed path.
    #[must_use]
    pub fn typing() -> Self {
        Self {
            prefers_typing: true,
            ..Self::default()
        }
    }
}

impl PathPrompt for WindowPathPrompt {
    fn ask(&mut self, ctx: &Context, request: PathRequest) {
        self.stage = if self.prefers_typing {
            Stage::Typing(Typing::new(request))
        } else {
            ask_desktop(ctx, request)
        };
    }

    fn show(&mut self, ctx: &Context) -> Option<PathAnswer> {
        let (stage, answer) = match std::mem::take(&mut self.stage) {
            Stage::Closed => (Stage::Closed, None),
            Stage::Desktop { request, reply } => wait(ctx, request, reply),
            Stage::Typing(mut typing) => match typing.show(ctx) {
                None => (Stage::Typing(typing), None),
                answer => (Stage::Closed, answer),
            },
        };
        self.stage = stage;
        answer
    }

    fn is_open(&self) -> bool {
        !matches!(self.stage, Stage::Closed)
    }
}

fn ask_desktop(ctx: &Context, request: PathRequest) -> Stage {
    let mut dialog = rfd::AsyncFileDialog::new().set_title(&request.title);
    if !request.extensions.is_empty() {
        dialog = dialog.add_filter(&request.kind, &request.extensions);
    }
    if let Some(start) = &request.start {
        let folder = if start.is_dir() {
            Some(start.as_path())
        } else {
            start.parent()
        };
        if let Some(folder) = folder.filter(|folder| folder.is_dir()) {
            dialog = dialog.set_directory(folder);
        }
        if let Some(name) = start.file_name().filter(|_| !start.is_dir()) {
            dialog = dialog.set_file_name(name.to_string_lossy());
        }
    }
    let (send, reply) = sync_channel(1);
    let purpose = request.purpose;
    let wake = ctx.clone();
    // Made here, on the window's thread, as some desktops demand; only the waiting is done elsewhere.
    let begun = Instant::now();
    let one = |file: rfd::FileHandle| PathAnswer::Chosen(file.path().to_owned());
    let several = |files: Vec<rfd::FileHandle>| {
        PathAnswer::Several(files.iter().map(|file| file.path().to_owned()).collect())
    };
    let choice: std::pin::Pin<Box<dyn Future<Output = Option<PathAnswer>> + Send>> = match purpose {
        PathPurpose::Open => {
            let choice = dialog.pick_file();
            Box::pin(async move { choice.await.map(one) })
        }
        PathPurpose::OpenSeveral => {
            let choice = dialog.pick_files();
            Box::pin(async move { choice.await.map(several) })
        }
        PathPurpose::Folder => {
            let choice = dialog.pick_folder();
            Box::pin(async move { choice.await.map(one) })
        }
        PathPurpose::Save => {
            let choice = dialog.save_file();
            Box::pin(async move { choice.await.map(one) })
        }
    };
    let work = move || {
        let answer = wait_for(choice);
        // No one waits any more once the grower has cancelled or typed a path: then the answer is dropped.
        if send.send((answer, begun.elapsed())).is_ok() {
            wake.request_repaint();
        }
    };
    match std::thread::Builder::new()
        .name("file window".to_owned())
        .spawn(work)
    {
        Ok(_) => Stage::Desktop { request, reply },
        Err(problem) => {
            tracing::warn!("the desktop's file window could not be asked: {problem}");
            Stage::Typing(Typing::new(request))
        }
    }
}

/// While the desktop's window is open ours waits, and offers a way on where the desktop never answers.
fn wait(
    ctx: &Context,
    request: PathRequest,
    reply: Receiver<(Option<PathAnswer>, Duration)>,
) -> (Stage, Option<PathAnswer>) {
    match reply.try_recv() {
        Ok((Some(answer), _)) => return (Stage::Closed, Some(answer)),
        Ok((None, after)) if after >= TOO_FAST => return (Stage::Closed, Some(PathAnswer::Cancelled)),
        Ok((None, _)) | Err(TryRecvError::Disconnected) => {
            ctx.request_repaint();
            return (Stage::Typing(Typing::new(request)), None);
        }
        Err(TryRecvError::Empty) => {}
    }
    let dialog = Dialog::new(Id::unique("file window"), &request.title)
        .confirm("Type the path instead")
        .risky();
    let answer = dialog.show(ctx, |ui| {
        ui.label("The desktop's file window is open. Choose there.");
    });
    match answer {
        None => (Stage::Desktop { request, reply }, None),
        Some(DialogAnswer::Confirm) => (Stage::Typing(Typing::new(request)), None),
        Some(DialogAnswer::Cancel) => (Stage::Closed, Some(PathAnswer::Cancelled)),
    }
}

impl Typing {
    fn new(request: PathRequest) -> Self {
        let start = request.start.clone().or_else(|| std::env::current_dir().ok());
        let mut text = start
            .as_deref()
            .map(|path| path.display().to_string())
            .unwrap_or_default();
        if start.is_some_and(|path| path.is_dir()) && !text.ends_with(std::path::MAIN_SEPARATOR) {
            text.push(std::path::MAIN_SEPARATOR);
        }
        Self {
            request,
            text,
            problem: None,
            replaces: None,
            is_new: true,
        }
    }

    fn show(&mut self, ctx: &Context) -> Option<PathAnswer> {
        let id = Id::unique("typed path");
        let word = match (self.request.purpose, &self.replaces) {
            (PathPurpose::Open | PathPurpose::OpenSeveral, _) => "Open",
            (PathPurpose::Folder, _) => "Look in it",
            (PathPurpose::Save, None) => "Save",
            (PathPurpose::Save, Some(_)) => "Replace it",
        };
        let title = self.request.title.clone();
        let answer = Dialog::new(id, &title)
            .confirm(word)
            .body_takes_focus()
            .show(ctx, |ui| self.body(ui, id));
        match answer? {
            DialogAnswer::Cancel => Some(PathAnswer::Cancelled),
            DialogAnswer::Confirm => self.confirm(ctx, id).map(PathAnswer::Chosen),
        }
    }

    fn body(&mut self, ui: &mut egui::Ui, id: Id) {
        let t = Tokens::of(ui);
        let name = match self.request.purpose {
            PathPurpose::Folder => "Path of the folder",
            _ => "Path of the file",
        };
        let label = ui.label(name);
        let field_id = id.with("field");
        let field = TextEdit::singleline(&mut self.text)
            .id(field_id)
            .desired_width(f32::INFINITY)
            .show(ui)
            .response
            .response
            .labelled_by(label.id);
        if std::mem::take(&mut self.is_new) {
            let mut state = TextEdit::load_state(ui.ctx(), field_id).unwrap_or_default();
            let end = egui::text::CCursor::new(self.text.chars().count());
            state
                .cursor
                .set_char_range(Some(egui::text::CCursorRange::one(end)));
            state.store(ui.ctx(), field_id);
            field.request_focus();
        }
        if field.changed() {
            self.replaces = None;
            self.problem = None;
        }
        if let Some(problem) = &self.problem {
            ui.label(egui::RichText::new(format!("⚠ {problem}")).color(t.bad));
        } else if !self.request.extensions.is_empty() {
            let endings: Vec<String> = self.request.extensions.iter().map(|e| format!(".{e}")).collect();
            let text = format!("{}: {}", self.request.kind, endings.join(", "));
            ui.label(egui::RichText::new(text).color(t.quiet));
        }
    }

    fn confirm(&mut self, ctx: &Context, id: Id) -> Option<PathBuf> {
        let problem = match check_path(&self.text, &self.request) {
            Ok(path) if self.request.purpose != PathPurpose::Save => return Some(path),
            Ok(path) if !path.exists() || self.replaces.as_ref() == Some(&path) => return Some(path),
            Ok(path) => {
                let said = format!("{} exists already. Confirm again to replace it.", path.display());
                self.replaces = Some(path);
                said
            }
            Err(problem) => problem,
        };
        self.problem = Some(problem);
        ctx.memory_mut(|m| m.request_focus(id.with("field")));
        None
    }
}

/// The file that a typed path names, or the sentence that says why it cannot be used.
///
/// `~/` is the home folder. When saving, a name without a fitting extension gets the first one.
pub fn check_path(text: &str, request: &PathRequest) -> Result<PathBuf, String> {
    let text = text.trim();
    let path = match (text.strip_prefix("~/"), std::env::home_dir()) {
        (Some(rest), Some(home)) => home.join(rest),
        _ => PathBuf::from(text),
    };
    if request.purpose == PathPurpose::Folder {
        return if path.is_dir() {
            Ok(path)
        } else {
            Err(format!(
                "There is no folder \"{}\"; check the spelling.",
                path.display()
            ))
        };
    }
    if text.is_empty() || path.file_name().is_none() || path.is_dir() {
        return Err(format!("\"{text}\" names no file; add the file's name."));
    }
    match request.purpose {
        PathPurpose::Open | PathPurpose::OpenSeveral if path.is_file() => Ok(path),
        PathPurpose::Open | PathPurpose::OpenSeveral | PathPurpose::Folder => Err(format!(
            "There is no file \"{}\"; check the spelling.",
            path.display()
        )),
        PathPurpose::Save => {
            let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty());
            if let Some(folder) = folder.filter(|folder| !folder.is_dir()) {
                let folder = folder.display();
                return Err(format!(
                    "There is no folder \"{folder}\"; make it first, or choose another."
                ));
            }
            Ok(with_extension(path, &request.extensions))
        }
    }
}

fn with_extension(path: PathBuf, extensions: &[String]) -> PathBuf {
    let has = |path: &Path| {
        let own = path.extension().map(|e| e.to_string_lossy().to_lowercase());
        extensions.iter().any(|e| own.as_deref() == Some(e.as_str()))
    };
    let Some(first) = extensions.first().filter(|_| !has(&path)) else {
        return path;
    };
    let mut name = path.into_os_string();
    name.push(".");
    name.push(first);
    PathBuf::from(name)
}

/// Answers from a prepared list, for tests and scripts; an exhausted list cancels.
#[derive(Debug, Default)]
pub struct ScriptedPathPrompt {
    answers: std::collections::VecDeque<PathAnswer>,
    asked: Vec<PathRequest>,
    is_open: bool,
}

impl ScriptedPathPrompt {
    /// A prompt that gives these answers, in order.
    pub fn new(answers: impl IntoIterator<Item = PathAnswer>) -> Self {
        Self {
            answers: answers.into_iter().collect(),
            ..Self::default()
        }
    }

    /// What was asked so far.
    #[must_use]
    pub fn asked(&self) -> &[PathRequest] {
        &self.asked
    }
}

impl PathPrompt for ScriptedPathPrompt {
    fn ask(&mut self, ctx: &Context, request: PathRequest) {
        self.asked.push(request);
        self.is_open = true;
        ctx.request_repaint();
    }

    fn show(&mut self, _ctx: &Context) -> Option<PathAnswer> {
        if !std::mem::take(&mut self.is_open) {
            return None;
        }
        Some(self.answers.pop_front().unwrap_or(PathAnswer::Cancelled))
    }

    fn is_open(&self) -> bool {
        self.is_open
    }
}

/// Wakes a thread that waits for a future.
struct Unpark(std::thread::Thread);

impl Wake for Unpark {
    fn wake(self: Arc<Self>) {
        self.0.unpark();
    }
}

/// Waits on this thread until the future is done.
fn wait_for<T>(mut future: std::pin::Pin<Box<dyn Future<Output = T> + Send>>) -> T {
    let waker = Waker::from(Arc::new(Unpark(std::thread::current())));
    let mut context = TaskContext::from_waker(&waker);
    loop {
        match future.as_mut().poll(&mut context) {
            Poll::Ready(value) => return value,
            Poll::Pending => std::thread::park(),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn request(purpose: PathPurpose) -> PathRequest {
        PathRequest {
            title: "Open a project".to_owned(),
            purpose,
            kind: "Project".to_owned(),
            extensions: vec!["ron".to_owned()],
            start: None,
        }
    }

    #[test]
    fn a_typed_folder_must_be_there() {
        let folder = tempfile::tempdir().unwrap();
        let request = request(PathPurpose::Folder);
        let text = folder.path().display().to_string();
        assert_eq!(check_path(&text, &request), Ok(folder.path().to_path_buf()));
        let fault = check_path(&format!("{text}/none"), &request).unwrap_err();
        assert!(fault.starts_with("There is no folder"), "{fault}");
        assert!(check_path("", &request).is_err());
    }

    #[test]
    fn a_typed_path_is_checked_before_it_is_used() {
        let folder = tempfile::tempdir().unwrap();
        let there = folder.path().join("ears.ron");
        std::fs::File::create(&there).unwrap();
        let path = |name: &str| folder.path().join(name).display().to_string();

        let open = request(PathPurpose::Open);
        assert_eq!(check_path(&path("ears.ron"), &open), Ok(there.clone()));
        let missing = check_path(&path("eras.ron"), &open).unwrap_err();
        assert!(
            missing.starts_with("There is no file") && missing.ends_with("check the spelling."),
            "{missing}"
        );
        assert!(check_path("", &open).unwrap_err().contains("names no file"));
        assert!(
            check_path(&folder.path().display().to_string(), &open)
                .unwrap_err()
                .contains("names no file")
        );

        let save = request(PathPurpose::Save);
        assert_eq!(check_path(&path("ears"), &save), Ok(there.clone()));
        assert_eq!(
            check_path(&path("EARS.RON"), &save),
            Ok(folder.path().join("EARS.RON"))
        );
        assert_eq!(
            check_path(&path("v1.2"), &save),
            Ok(folder.path().join("v1.2.ron"))
        );
        let nowhere = check_path(&path("none/ears.ron"), &save).unwrap_err();
        assert!(nowhere.starts_with("There is no folder"), "{nowhere}");
    }

    #[test]
    fn waiting_ends_when_another_thread_is_done() {
        let (send, receive) = sync_channel::<u8>(1);
        let worker = std::thread::Builder::new().name("late".to_owned());
        let late = worker.spawn(move || {
            std::thread::sleep(Duration::from_millis(20));
            send.send(7)
        });
        let mut turns = 0;
        let future = Box::pin(std::future::poll_fn(move |context| {
            if let Ok(value) = receive.try_recv() {
                return Poll::Ready((value, turns));
            }
            turns += 1;
            context.waker().wake_by_ref();
            Poll::Pending
        }));
        let (value, turns) = wait_for(future);
        assert_eq!(value, 7);
        assert!(turns > 0);
        late.unwrap().join().unwrap().unwrap();
    }
}

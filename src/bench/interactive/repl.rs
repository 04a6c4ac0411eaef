//! The course of a bench session: meets the board, then takes one line after another until it is left.
//!
//! Promises: whatever ends a statement, the session goes on and says what happened; nothing resumes by itself.
//! Must not be here: what a line does.

use crate::bench::attended::{Task, adopt_board, connect};
use crate::bench::interactive::commands::{self, PromptLine};
use crate::bench::interactive::draft::Draft;
use crate::bench::interactive::session::{InteractiveSession, SessionState};
use crate::bench::session::context::{SessionContext, capital};
use crate::interlock::Phase;
use crate::interlock::signals::Pack;
use crate::language::characters::named;
use crate::language::finding::SESSION;
use crate::measure::time::Time;
use crate::plan::problem::PlanError;
use crate::seam::fault::Fault;
use crate::seam::ui::{Tone, UiEvent};
use crate::seam::{Effect, LineAsked, LineRead, OpenError, PortInfo, PortName};
use std::fmt::Write;
use std::rc::Rc;

/// The longest name of a craft that stands on the prompt.
const CRAFT: usize = 24;

/// Begins a session on the board at the job's port, and takes lines until it is left.
///
/// # Errors
/// No board, or one that may not be worked on; told to end.
pub async fn begin(desk: Rc<InteractiveSession>) -> Result<(), Fault> {
    let bench = &desk.bench;
    bench.beside.replace(desk.job.beside.clone());
    bench.show(UiEvent::Cautions);
    let board = connect(bench, &desk.job.port).await?;
    let kind = if board.identity.kind.is_empty() { "craft" } else { board.identity.kind.as_str() };
    let title = desk.job.title.clone().unwrap_or_else(|| kind.to_owned());
    let mut job = desk.run_job(&title, Task::TakeBack(board.settings.clone()));
    job.sheets.clone_from(&desk.job.sheets);
    let knows = adopt_board(bench, &job, &board).await?;
    let snapshot = bench.store_snapshot(&job, &board.identity, board.settings.clone()).await?;
    bench.journal_begin(&job, &knows, "", &snapshot).await?;
    let snapshot = knows.record.folder.join(snapshot);
    let draft = Draft::new(&title, &knows.sheet);
    *desk.state.borrow_mut() = Some(SessionState {
        title,
        knows,
        draft,
        under_way: None,
        changes: Vec::new(),
        begun: board.settings.clone(),
        held: board.settings,
        snapshot,
        log: Vec::new(),
        written: 0,
    });
    desk.settled.set(true);
    bench.line(
        Tone::Plain,
        "One statement at a time; nothing is written or turned before it says so. `help` lists the words, `leave` ends.",
    );
    if matches!(desk.job.port, PortName::Virtual(_)) {
        bench.line(
            Tone::Plain,
            "At this prompt the virtual world is moved by a line such as `world flip B 2`; while a step waits, by Tab.",
        );
    }
    desk.prompt().await
}

/// Goes on after a script was ended by `fault`: a stop, a lost wire, the operator.
///
/// # Errors
/// The session has not begun, or it was told to end.
pub async fn go_on(desk: Rc<InteractiveSession>, fault: Fault) -> Result<(), Fault> {
    let bench = &desk.bench;
    let ends = bench.dialogue().told_to_end || bench.dialogue().terminal_gone;
    if desk.state.borrow().is_none() || ends {
        return desk.ends(fault).await;
    }
    desk.settled.set(false);
    desk.say(&fault);
    desk.say_what_broke_off().await;
    if bench.link_up() {
        desk.recover_or_say().await;
    } else {
        desk.look_for_it();
    }
    desk.say_broken_off();
    desk.prompt().await
}

/// What a fault says, a line each; a statement that has just been typed needs no place.
fn lines(fault: &Fault) -> Vec<String> {
    match fault {
        Fault::Unplanned(errors) if errors.iter().all(|error| error.at.file == SESSION) => {
            errors.iter().map(|PlanError { problem, .. }| format!("{problem}. {}", problem.hint())).collect()
        }
        _ => fault.to_string().lines().map(str::to_owned).collect(),
    }
}

/// What comes next at the prompt.
enum Next {
    Line(LineRead),
    Opened(Result<PortInfo, OpenError>),
    Pack(Pack),
    Said,
}

impl InteractiveSession {
    async fn prompt(&self) -> Result<(), Fault> {
        let mut pack = self.bench.pack();
        loop {
            // Whatever was planned is over.
            self.bench.dialogue().plan = None;
            match self.next(pack).await {
                Next::Said => self.bench.say_board_texts(),
                Next::Pack(now) => {
                    pack = now;
                    // What another craft's board measures is not said as this one's.
                    if self.bench.interlock().is_session_craft_there() {
                        self.say_pack(now);
                    }
                }
                Next::Opened(Ok(info)) => {
                    self.bench.line(Tone::Plain, format!("The port is back: {}.", info.name));
                    self.recover_or_say().await;
                }
                Next::Opened(Err(error)) => {
                    self.bench.line(Tone::Warning, capital(&format!("{error}; looking again.")));
                    self.bench.act(Effect::Reopen);
                }
                Next::Line(LineRead::Abandoned) => {}
                Next::Line(LineRead::End) => {
                    if self.may_leave().await {
                        return self.leave().await;
                    }
                }
                Next::Line(LineRead::Typed(line)) if line.trim() == "?" => {
                    self.bench.show(UiEvent::CautionsWhole(None));
                }
                Next::Line(LineRead::Typed(line)) => match commands::read(&line) {
                    Ok(PromptLine::Leave) => {
                        if self.may_leave().await {
                            return self.leave().await;
                        }
                    }
                    Ok(asked) => {
                        if let Err(fault) = self.obey(asked).await {
                            self.failed(&fault);
                        }
                        self.say_broken_off();
                        pack = self.bench.pack();
                    }
                    Err(wrong) => self.bench.line(Tone::Warning, capital(&format!("{wrong}; `help` shows how."))),
                },
            }
        }
    }

    /// Waits for a line, with an eye on what else happens.
    async fn next(&self, pack: Pack) -> Next {
        let bench = &self.bench;
        let prompt = self.prompt_words();
        let open = bench.dialogue().line_open;
        let opens = !open && bench.dialogue().line.is_none();
        if opens || (open && *self.prompted.borrow() != prompt) {
            bench.dialogue().line_open = true;
            self.prompted.borrow_mut().clone_from(&prompt);
            let typed = if opens { bench.dialogue().takes_ahead() } else { String::new() };
            bench.act(Effect::ReadLine(Box::new(LineAsked { prompt, typed, known: self.known() })));
        }
        let next = bench.until(Time::NEVER, |bench: &SessionContext| {
            if let Some(opened) = bench.replies().opened.take() {
                return Some(Next::Opened(opened));
            }
            if let Some(line) = bench.dialogue().line.take() {
                return Some(Next::Line(line));
            }
            if !bench.news().texts.is_empty() {
                return Some(Next::Said);
            }
            let now = bench.pack();
            (now != pack && bench.link_up()).then_some(Next::Pack(now))
        });
        next.await.unwrap_or(Next::Said)
    }

    async fn obey(&self, asked: PromptLine) -> Result<(), Fault> {
        match asked {
            PromptLine::Nothing | PromptLine::Leave => Ok(()),
            PromptLine::Watch => self.watch().await,
            PromptLine::Statement(text) => self.statement(&text).await,
            PromptLine::Look(subject) => {
                self.look(subject);
                Ok(())
            }
            PromptLine::DryRun(text) => self.dry_run(&text),
            PromptLine::Run(recipe) => self.run_recipe(recipe).await,
            PromptLine::GoOn => self.go_on_with_recipe().await,
            PromptLine::Undo => self.undo().await,
            PromptLine::Recipe => {
                self.show_recipe();
                Ok(())
            }
            PromptLine::Write(file) => self.write_recipe(file).await,
            PromptLine::Help(word) => {
                self.help(word.as_deref());
                Ok(())
            }
        }
    }

    /// A statement that failed: what it means for the rest.
    fn failed(&self, fault: &Fault) {
        self.say(fault);
        match fault {
            Fault::AnotherBoard { .. } | Fault::NotBack(_) | Fault::LinkLost | Fault::FoundArmed => {
                self.bench.interlock_mut().latch();
                self.settled.set(false);
                if !self.bench.link_up() {
                    self.look_for_it();
                }
            }
            // A recipe that could not be written is no record of the craft's.
            Fault::Record(_) if !self.bench.journal_failed.get() => {}
            Fault::Board { .. }
            | Fault::NotAsWritten { .. }
            | Fault::Record(_)
            | Fault::Open(_)
            | Fault::Silent { .. } => {
                self.settled.set(false);
            }
            // What is on the board is known as before; what ends the contact or is a stop ends the script, too.
            Fault::Declined { .. }
            | Fault::Refused { .. }
            | Fault::TimedOut { .. }
            | Fault::Hand(_)
            | Fault::StaleAnswer
            | Fault::Several { .. }
            | Fault::Untrusted { .. }
            | Fault::ContactOver(_)
            | Fault::Broken(_)
            | Fault::Unproved(_)
            | Fault::Contradicted(_)
            | Fault::Unexpected { .. }
            | Fault::NotFound(_)
            | Fault::Unplanned(_)
            | Fault::Plan(_)
            | Fault::System(_)
            | Fault::Interrupted
            | Fault::Stopped { .. } => {}
        }
    }

    pub(in crate::bench) fn say(&self, fault: &Fault) {
        for line in lines(fault) {
            self.bench.line(Tone::Warning, capital(&line));
        }
        if let Some(hint) = fault.hint() {
            self.bench.line(Tone::Plain, format!("{}.", capital(&hint)));
        }
    }

    fn say_pack(&self, pack: Pack) {
        match pack {
            Pack::In => self.bench.line(Tone::Measured, "The battery is in."),
            Pack::Out => self.bench.line(
                Tone::Measured,
                "The battery is out. Before motors can turn again, the propellers are asked for anew.",
            ),
            Pack::Unknown => {}
        }
    }

    /// The prompt: whose session this is, and what to mind.
    fn prompt_words(&self) -> String {
        let named = self.with(|state| {
            let name: String = state.title.chars().take(CRAFT).collect();
            (named(&name).into_owned(), state.knows.identity.is_virtual())
        });
        let (name, is_virtual) = named.unwrap_or_default();
        let mut words = if is_virtual { format!("{name} VIRTUAL") } else { name };
        let latched = self.bench.phase() != Phase::Still;
        if !self.bench.link_up() {
            words.push_str(", link lost");
        } else if latched {
            words.push_str(", writes nothing");
        }
        let unsaved = self.bench.ledger.borrow().open().count();
        if unsaved > 0 {
            // Writing into a string cannot fail.
            let _ = write!(words, ", {unsaved} not kept");
        }
        words.push_str("> ");
        words
    }
}

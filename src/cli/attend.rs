//! A job at a terminal, with a person at it who is asked before anything can turn.
//!
//! Must not be here: which job, and what it is given (each command's own).

use super::board::{self, Sitting};
use super::new_sheets;
use super::output::Output;
use super::peer::Peer;
use crate::bench::attended::{AskedJob, NamedCard, RunJob, RunOptions, Task, close, run};
use crate::bench::session::Script;
use crate::bench::session::context::SessionContext;
use crate::board::sheet::Sheet;
use crate::seam::PortName;
use crate::seam::exit::Exit;
use crate::world::terminal::Terminal;
use std::cell::Cell;
use std::path::PathBuf;
use std::rc::Rc;

/// Whether somebody could answer: without a terminal nothing is opened, and nothing is written that nobody sees.
///
/// # Errors
/// [`Exit::Stopped`], after that was told.
pub fn has_terminal(out: &mut Output) -> Result<(), Exit> {
    if Terminal::controlling().is_some() {
        return Ok(());
    }
    out.error(
        "this needs a terminal with a person at it, who is asked before anything can turn a motor; \
         no port was opened and nothing was sent",
        Some("start it in a terminal, in the foreground; what it would do is shown by `quadjig dry-run`"),
    );
    Err(Exit::Stopped)
}

/// A job that begins now.
pub fn job(
    (title, task): (String, Task),
    sheets: Vec<Sheet>,
    card: Option<NamedCard>,
    port: PortName,
    options: RunOptions,
) -> RunJob {
    let clock = board::clock();
    let (name, begun, closed) = (clock.started.to_string(), Cell::new(false), Cell::new(false));
    RunJob { title, task, sheets, card, port, clock, options, name, begun, closed }
}

/// Runs a job at a terminal to its end.
///
/// # Errors
/// There is no terminal, or a new sheet is not accepted: nothing was run.
pub fn attend(
    job: RunJob,
    crafts: PathBuf,
    radio_card: Option<PathBuf>,
    peer: Peer,
    out: &mut Output,
) -> Result<Exit, Exit> {
    attend_by(job, crafts, radio_card, peer, out, |bench, job| Box::pin(run(bench, job)))
}

/// The same by another script.
///
/// # Errors
/// As [`attend`].
pub fn attend_by(
    job: RunJob,
    crafts: PathBuf,
    radio_card: Option<PathBuf>,
    peer: Peer,
    out: &mut Output,
    script: impl FnOnce(Rc<SessionContext>, Rc<AskedJob>) -> Script,
) -> Result<Exit, Exit> {
    has_terminal(out)?;
    new_sheets::accepted(&job.sheets, &crafts, &job.port, &peer, out)?;
    let sitting = Sitting { crafts, radio_card, name: job.title.clone(), peer, history: None };
    let bench = Rc::new(SessionContext::default());
    let job = Rc::new(AskedJob::new(job));
    let script = script(Rc::clone(&bench), Rc::clone(&job));
    let closing = Rc::clone(&bench);
    let close = move |fault| -> Script { Box::pin(close(Rc::clone(&closing), job.job(), fault)) };
    let result = board::sit(sitting, &bench, script, |session| session.closing_or_going_on(close), out);
    Ok(result.map_or_else(|fault| fault.exit(), |()| Exit::Done))
}

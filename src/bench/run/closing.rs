//! After a run that ended before its end: writes down how, and says in what state things are.

use super::super::fault::Fault;
use super::super::handle::Bench;
use super::super::shown::Shown;
use super::job::RunJob;
use crate::record::JournalLine;
use std::rc::Rc;

/// Closes a run that ended with `fault`.
///
/// # Errors
/// The disk's reason.
pub async fn close(bench: Rc<Bench>, job: Rc<RunJob>, fault: Fault) -> Result<(), Fault> {
    if job.closed.get() {
        return Ok(());
    }
    let mut lines = vec![super::super::handle::capital(&fault.to_string())];
    // A run that could not even write its intents is left open in the journal, for the next start to see.
    if job.begun.get() && !bench.journal_failed.get() && leaves_nothing_open(&fault) {
        let at = job.clock.at(bench.now());
        bench.journal(JournalLine::End { at, outcome: format!("ended: {fault}") }).await?;
    }
    lines.push(what_now(&fault).to_owned());
    bench.show(Shown::Closing { finished: false, lines });
    Ok(())
}

/// Whether every write of the run is known to be old or new.
fn leaves_nothing_open(fault: &Fault) -> bool {
    !matches!(
        fault,
        Fault::LinkLost
            | Fault::NotBack(_)
            | Fault::AnotherBoard { .. }
            | Fault::Board { .. }
            | Fault::NotAsWritten { .. }
            | Fault::Stopped { .. }
    )
}

fn what_now(fault: &Fault) -> &'static str {
    match fault {
        Fault::Stopped { confirmed: true, .. } => {
            "Nothing goes on by itself. Take the battery out, then start again; what was written and not kept is gone after a restart."
        }
        Fault::Stopped { confirmed: false, .. } => {
            "The motors were not seen at rest. Switch off and pull the battery before anything else."
        }
        Fault::LinkLost | Fault::NotBack(_) | Fault::AnotherBoard { .. } => {
            "Take the battery out, check the cable and the port, then start again: the next run says what is old and what is new."
        }
        Fault::Declined { .. } | Fault::Refused { .. } | Fault::TimedOut { .. } => {
            "Take the battery out if it is in. What was written before is on the board until it restarts, and what was kept stays."
        }
        _ => "Take the battery out if it is in.",
    }
}

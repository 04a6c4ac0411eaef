//! After a run that ended before its end: writes down how, and says in what state things are.

use crate::bench::attended::execute::{end_without_board, go_on};
use crate::bench::attended::job::RunJob;
use crate::bench::session::context::SessionContext;
use crate::language::characters::shell_word;
use crate::record::JournalLine;
use crate::record::crafts::runs::BROKEN_OFF;
use crate::seam::fault::Fault;
use crate::seam::ui::UiEvent;
use std::rc::Rc;

/// Closes a run that ended with `fault`; where it was a hand that came too early, it goes on if that is what is wanted.
///
/// # Errors
/// What ended it after it had gone on.
pub async fn close(bench: Rc<SessionContext>, job: Rc<RunJob>, fault: Fault) -> Result<(), Fault> {
    if job.closed.get() {
        return Ok(());
    }
    if let Some(so_far) = bench.without_its_cable(&job).await {
        // It ends as one that came to its end: the board is gone as it was to be.
        bench.dialogue().goes_on = true;
        return end_without_board(&bench, &job, &so_far).await;
    }
    if let Some(so_far) = bench.goes_on_after(&fault).await {
        return go_on(&bench, &job, &so_far).await;
    }
    let mut lines = vec![crate::bench::session::context::capital(&fault.to_string())];
    lines.extend(fault.hint().map(|hint| format!("{}.", crate::bench::session::context::capital(&hint))));
    lines.extend(bench.shown_by_the_trial(&job));
    // While something may turn nothing is read for the sake of words.
    let turning = matches!(fault, Fault::Stopped { confirmed: false, .. });
    let broken_off = if turning { Vec::new() } else { bench.read_what_broke_off().await };
    // A run with a write that nobody knows the end of is left open in the journal, for the next start to see.
    if job.begun.get() && !bench.journal_failed.get() && !bench.ledger.borrow().is_unfinished() {
        let at = job.clock.at(bench.now());
        let logged = if turning { Ok(()) } else { bench.keep_log(&job).await };
        let outcome = format!("{BROKEN_OFF}{}", fault.of_this_craft());
        let noted = logged.and(bench.journal(JournalLine::End { at, outcome, snapshot: None }).await);
        // The person is told how it ended all the same.
        lines.extend(noted.err().map(|error| crate::bench::session::context::capital(&error.to_string())));
    }
    let now = if bench.went_dark() { DARK } else { what_now(&fault, job.begun.get()) };
    lines.push(now.to_owned());
    lines.extend(broken_off);
    lines.extend(bench.what_is_open());
    if let Some(snapshot) = bench.ledger.borrow().way_back() {
        let restore = shell_word(&snapshot);
        lines.push(format!("To bring back all that was there before this run: `quadjig restore {restore}`"));
    }
    bench.show(UiEvent::Closing { finished: false, lines });
    let heard = bench.link_up() && bench.look(|live| live.flag(bench.now())).is_some();
    if heard && !turning && bench.interlock().is_session_craft_there() {
        bench.put_streams_back().await;
    }
    Ok(())
}

/// What is left of a run whose board went dark as its battery was asked out after a stop.
const DARK: &str = "The board went dark with its battery, and what was said and measured of it is over: here nothing \
                    can go on. Leave the battery out, then start again: the next run plans from what is on the board.";

/// `begun`: something may have been written before.
fn what_now(fault: &Fault, begun: bool) -> &'static str {
    match fault {
        Fault::Open(_) | Fault::Silent { .. } | Fault::Several { .. } | Fault::Untrusted { .. } if !begun => {
            "No board was reached, and nothing was written."
        }
        Fault::Unplanned(_) | Fault::Plan(_) if !begun => "Nothing was written.",
        Fault::Stopped { confirmed: true, .. } => {
            "The motors were seen at rest, and nothing goes on by itself. Take the battery out, then start again: the next run plans from what is on the board."
        }
        Fault::Stopped { confirmed: false, .. } => {
            "The motors were not seen at rest. Switch off and pull the battery before anything else."
        }
        Fault::AnotherBoard { .. } => {
            "Nothing more is written. Take the battery out, see which board is plugged in, then start again."
        }
        Fault::LinkLost | Fault::NotBack(_) | Fault::Open(_) => {
            "Take the battery out, check the cable and the port, then start again: the next run says what is old and what is new."
        }
        Fault::Declined { .. }
        | Fault::Refused { .. }
        | Fault::TimedOut { .. }
        | Fault::Hand(_)
        | Fault::Interrupted => {
            "Take the battery out if it is in, then start again: the next run plans from what is on the board."
        }
        _ => "Take the battery out if it is in. Then start again: the next run plans from what is on the board.",
    }
}

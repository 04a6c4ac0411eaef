//! The panic hook: first every held stop leaves, then the terminal is put back, then it is said, and the program ends.
//!
//! Promises: whatever thread broke down, nothing goes on after it; nobody unwinds into a run that goes on without one of
//! its parts. Must not be here: anything that could wait for the thread that panicked.

#[cfg(unix)]
use super::raw_terminal;
use super::writer;
use crate::seam::ui::PULL_THE_BATTERY;
use std::io::Write;
use std::time::Duration;

/// How long held stops may take to leave.
const LONGEST: Duration = Duration::from_millis(100);

/// Puts the hook before the one that is there; once a process. `end` says what the end of the program has to say, and
/// with which code it ends.
pub fn install(end: impl Fn() -> u8 + Send + Sync + 'static) {
    let before = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        let turning = writer::fire_all(LONGEST);
        #[cfg(unix)]
        raw_terminal::leave_all();
        if turning {
            say(PULL_THE_BATTERY);
        }
        before(info);
        std::process::exit(i32::from(end()));
    }));
}

/// Nobody watches any more: the words go out before anything else is said.
fn say(words: &str) {
    // A closed standard error leaves nobody to tell.
    let _ = writeln!(std::io::stderr(), "\n{words}\n");
}

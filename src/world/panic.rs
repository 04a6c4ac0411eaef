//! The panic hook: first every held stop leaves, then the terminal is put back, then it is said.
//!
//! Must not be here: anything that could wait for the thread that panicked.

use super::{terminal, writer};
use crate::seam::ui::PULL_THE_BATTERY;
use std::io::Write;
use std::sync::Once;
use std::time::Duration;

/// How long held stops may take to leave.
const LONGEST: Duration = Duration::from_millis(100);

/// Puts the hook before the one that is there; once a process.
pub(super) fn install() {
    static INSTALLED: Once = Once::new();
    INSTALLED.call_once(|| {
        let before = std::panic::take_hook();
        std::panic::set_hook(Box::new(move |info| {
            let turning = writer::fire_all(LONGEST);
            terminal::leave_all();
            if turning {
                say(PULL_THE_BATTERY);
            }
            before(info);
        }));
    });
}

/// Nobody watches any more: the words go out before anything else is said.
fn say(words: &str) {
    // A closed standard error leaves nobody to tell.
    let _ = writeln!(std::io::stderr(), "\n{words}\n");
}

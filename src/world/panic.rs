//! The panic hook: first every held stop leaves, then the terminal is put back, then it is said.
//!
//! Must not be here: anything that could wait for the thread that panicked.

use super::{terminal, writer};
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
            writer::fire_all(LONGEST);
            terminal::leave_all();
            before(info);
        }));
    });
}

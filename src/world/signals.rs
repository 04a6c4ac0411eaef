//! Signals of the system, as events: none of them ends the program by itself.
//!
//! Promises: a second one does not kill either, so a stop always has its time to leave.
//! Must not be here: what a signal leads to.

use super::helper;
use super::mailbox::Mailbox;
use crate::seam::{Event, SystemSignal};
use signal_hook::consts::{SIGHUP, SIGINT, SIGQUIT, SIGTERM, SIGTSTP};
use signal_hook::iterator::{Handle, Signals};
use std::io;

/// Signals are caught while this lives.
#[derive(Debug)]
pub(super) struct Caught(Handle);

/// Starts catching.
pub(super) fn start(mailbox: &Mailbox) -> io::Result<Caught> {
    let mut signals = Signals::new([SIGINT, SIGTERM, SIGHUP, SIGQUIT, SIGTSTP])?;
    let handle = signals.handle();
    let (posted, told) = (mailbox.clone(), handle.clone());
    helper::start("signals", mailbox, move || {
        for signal in signals.forever() {
            let signal = match signal {
                SIGINT => SystemSignal::Interrupt,
                SIGHUP => SystemSignal::HangUp,
                SIGQUIT => SystemSignal::Quit,
                SIGTSTP => SystemSignal::TerminalStop,
                _ => SystemSignal::Terminate,
            };
            posted.post(Event::Signal(signal));
        }
        told.is_closed()
    })?;
    Ok(Caught(handle))
}

impl Drop for Caught {
    fn drop(&mut self) {
        self.0.close();
    }
}

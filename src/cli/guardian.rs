//! The hidden command that makes a process a guardian: only the program starts it, with a wire and a pipe of its own.
//!
//! Must not be here: when it fires.

use super::output::Output;
use crate::seam::exit::Exit;
use crate::world::guardian::run as pump;
use std::io::{IsTerminal, Write};

/// Sends the stop when the program that started it cannot.
#[derive(Debug, clap::Args)]
#[command(hide = true)]
pub struct Guardian {}

impl Guardian {
    /// Guards until its program lets go of the wire. Standard output is the wire: nothing else is written to it.
    pub fn run(self, out: &mut Output) -> Exit {
        let Self {} = self;
        if let Err(error) = pump(&say) {
            out.error(&format!("only a run starts a guardian: {error}"), None);
            return Exit::Usage;
        }
        Exit::Done
    }
}

/// Says it where a person may see it. A terminal that stands still must not keep the guardian: it is not waited for.
fn say() {
    if !std::io::stderr().is_terminal() {
        return;
    }
    // The program that died may have left the terminal without line ends of its own.
    let words = "\r\nQuadjig did not see the motors at rest. Its guardian sent the stop for some seconds, and \
                 sends it no more.\r\nSWITCH OFF. PULL THE BATTERY. Keep hands clear of the motors.\r\n";
    let saying = std::thread::Builder::new().spawn(move || {
        let _ = std::io::stderr().write_all(words.as_bytes());
    });
    // Long enough for a terminal that does not stand still.
    if saying.is_ok() {
        std::thread::sleep(std::time::Duration::from_millis(20));
    }
}

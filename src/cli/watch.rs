//! `quadjig watch`: the live page of a board. Sends only requests and heartbeats.

use super::board;
use super::input;
use super::loaded;
use super::options::{PortOptions, RadioOption, SheetOption};
use super::output::Output;
use super::peer::Peer;
use crate::bench::monitor::live_page::{Looking, leave, look};
use crate::bench::session::context::SessionContext;
use crate::seam::exit::Exit;
use crate::seam::fault::Fault;
use crate::seam::ui::Declined;
use crate::world::terminal::Terminal;
use std::io::IsTerminal;
use std::rc::Rc;

/// Show what a board says, live, on one page, until any key is pressed.
///
/// Channels, motors, attitude, battery, and whether it is armed; bands and corners where a board sheet is known, names
/// of switches with a radio card. It only looks, also at an armed craft: it writes nothing and stops nothing. With
/// `--plain`, or where standard output is no terminal, one fact a line, and a new block only when something changed.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig watch --port /dev/ttyACM0\n  quadjig watch --radio my-radio.toml\n  quadjig watch --port virtual --radio bench\n  quadjig --plain watch > seen.txt"
)]
pub struct Watch {
    #[command(flatten)]
    port: PortOptions,
    #[command(flatten)]
    sheet: SheetOption,
    #[command(flatten)]
    radio: RadioOption,
}

impl Watch {
    /// Shows the page, and says how it ended.
    pub fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        let (sheets, _) = loaded::sheets(&self.sheet, None, out)?;
        let (card, _) = loaded::card(&self.radio, &input::here(), out)?;
        let peer = Peer::of(&self.port, &sheets, out)?;
        let looking = Looking { card: card.map(|named| named.card), sheets, named: self.sheet.sheet.is_some() };
        let port = board::port(&self.port, out)?;
        let terminal = if std::io::stdout().is_terminal() { Terminal::controlling() } else { None };
        // Without a terminal that moves its cursor there is no page, only lines.
        out.plain |= terminal.is_none() || std::env::var_os("TERM").is_none_or(|term| term == "dumb");
        let bench = Rc::new(SessionContext::default());
        let shown = Rc::clone(&bench);
        let script = Box::pin(async move { look(&shown, &port, &looking).await });
        let closing = Rc::clone(&bench);
        let ended = board::page(peer, terminal, &bench, script, out, move |_| {
            Box::pin(async move {
                leave(&closing).await;
                Ok(())
            })
        });
        match ended {
            // Who closed the terminal or the pipe has seen enough.
            Ok(()) | Err(Fault::Declined { why: Declined::EndOfInput, .. }) => Ok(Exit::Done),
            Err(fault) => {
                let exit = board::ended(&fault, out);
                out.message("Nothing was written to the board.");
                Err(exit)
            }
        }
    }
}

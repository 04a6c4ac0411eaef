//! `quadjig virtual`: serves a virtual board on a pseudo-terminal or TCP until stopped.
//!
//! Must not be here: what the world does with a line, how the port is served.

use super::completions;
use super::documents;
use super::input;
use super::output::Output;
use crate::report::gate;
use crate::seam::exit::Exit;
use crate::virtual_board::{BoardKind, Encoding, Make, ProtocolConfig, Secret, WorldConfig};
use crate::world::serve::{Port, Said, Serving, serve};
use clap_complete::engine::ArgValueCompleter;
use std::path::PathBuf;
use std::sync::Arc;

/// Serves a virtual board on a pseudo-terminal or TCP, until stopped.
///
/// Lines on standard input, or on the control port, move its world: `flip B 2`, `radio off`, `battery in`,
/// `truth`; `help` lists them. It ends when standard input ends, or, with a control port, on Ctrl-C.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig virtual --link finch\n  quadjig virtual --link finch --control 0\n  quadjig virtual --board finch-c --link finch-c\n  quadjig virtual --sheet my-board.toml --link my-board\n  quadjig run recipes/arm-switch.jig --port finch"
)]
pub struct Virtual {
    /// Serve on this TCP port of 127.0.0.1 instead of a pseudo-terminal; 0 takes a free one.
    #[arg(long, value_name = "PORT", conflicts_with = "link", value_parser = local_port)]
    tcp: Option<u16>,
    /// Keep a link to the pseudo-terminal at this path; made anew after a restart of the board.
    #[arg(long, value_name = "PATH")]
    link: Option<PathBuf>,
    /// Take world lines on this TCP port of 127.0.0.1; 0 takes a free one.
    #[arg(long, value_name = "PORT", value_parser = local_port)]
    control: Option<u16>,
    /// Seed of everything that is left to chance; also the craft's number in the board's id.
    #[arg(long, value_name = "N", default_value_t = 1)]
    seed: u64,
    /// Take a craft of the spread fleet instead of the one on the bench.
    #[arg(long)]
    spread: bool,
    /// Which board.
    #[arg(long, value_enum, default_value_t = Board::Finch)]
    board: Board,
    /// The board that a sheet describes instead: its names, limits, bands and link, and what it does not tell.
    #[arg(long, value_name = "FILE|NAME", conflicts_with = "board", add = ArgValueCompleter::new(completions::sheets))]
    sheet: Option<String>,
    /// How whole numbers travel in its parameters, on MAVLink.
    #[arg(long, value_enum, default_value_t = Travel::Bytewise)]
    encoding: Travel,
    /// Send no faster than a serial line at this many bits a second.
    #[arg(long, value_name = "RATE", value_parser = clap::value_parser!(u32).range(1200..=10_000_000))]
    baud: Option<u32>,
    /// Sign with the key in this file, 64 hexadecimal digits, and take only what is signed with it; on MAVLink.
    #[arg(long, value_name = "FILE")]
    signing_key: Option<PathBuf>,
}

#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Board {
    /// Functions bound by three settings each.
    Finch,
    /// Functions bound by a table of rows.
    FinchR,
    /// As finch-r, on a console of text lines: `help` at its prompt lists them.
    FinchC,
    /// As finch, in packets with start bytes and a length.
    FinchP,
    /// As finch-r, in packets of stuffed bytes.
    FinchQ,
}

#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Travel {
    /// The number's own bytes.
    Bytewise,
    /// Converted to a float.
    Cast,
}

impl Virtual {
    /// Serves, and says how it ended.
    pub fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        let board = match self.board {
            Board::Finch => BoardKind::Finch,
            Board::FinchR => BoardKind::FinchR,
            Board::FinchC => BoardKind::FinchC,
            Board::FinchP => BoardKind::FinchP,
            Board::FinchQ => BoardKind::FinchQ,
        };
        let encoding = match self.encoding {
            Travel::Bytewise => Encoding::Bytewise,
            Travel::Cast => Encoding::Cast,
        };
        let make = match &self.sheet {
            Some(name) => described(name, out)?,
            None => board.make(),
        };
        let base = if self.spread {
            WorldConfig::spread_on(make.frame, self.seed)
        } else {
            WorldConfig { seed: self.seed, ..WorldConfig::default() }
        };
        let key = self.signing_key.as_deref().map(|file| super::peer::key(file, out)).transpose()?;
        let speech = ProtocolConfig { key: key.map(|key| Secret(key.bytes())), ..ProtocolConfig::default() };
        let name = gate::line(&make.name).to_string();
        let world = WorldConfig { board, encoding, speech, ..base }.made(make);
        out.report(&format!("VIRTUAL {name}, id {}: no craft is touched\n", world.board_id()));
        let port = match self.tcp {
            Some(port) => Port::Tcp { port },
            None => Port::Terminal { link: self.link },
        };
        let serving = Serving { world, port, control: self.control, baud: self.baud };
        match serve(serving, &mut |said| tell(out, &said)) {
            Ok(()) => Ok(Exit::Done),
            Err(error) => {
                out.message(&format!("error: {error}"));
                Err(Exit::Link)
            }
        }
    }
}

/// A port of this computer, as its number or as what is said once it is open.
fn local_port(text: &str) -> Result<u16, String> {
    let number = ["127.0.0.1:", "localhost:"].iter().find_map(|host| text.strip_prefix(host)).unwrap_or(text);
    number.parse().map_err(|_| {
        "write the number of a port of this computer, 0 to 65535, such as 14550; 0 takes a free one, which is then said"
            .to_owned()
    })
}

/// The board of a sheet; what is wrong with it is told.
fn described(name: &str, out: &mut Output) -> Result<Arc<Make>, Exit> {
    let sheet = documents::sheet(name, &input::here()).map_err(|error| {
        out.error(&error.to_string(), error.hint().as_deref());
        Exit::Document
    })?;
    super::peer::played(&sheet, out)
}

fn tell(out: &mut Output, said: &Said<'_>) {
    match said {
        Said::Port { name, link: None } => out.report(&format!("port {name}\n")),
        Said::Port { name, link: Some(link) } => {
            let link = link.display().to_string();
            out.report(&format!("port {name}, linked as {}\n", gate::line(&link)));
        }
        Said::Gone => out.report("port gone\n"),
        Said::Control(address) => out.report(&format!("control {address}\n")),
        Said::Answer(answer) => out.report(&format!("{}\n", gate::lines(answer))),
        Said::Refused(why) => out.message(&format!("error: {why}")),
    }
}

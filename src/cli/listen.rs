//! `quadjig listen`: what comes over a wire, and nothing is sent.
//!
//! Must not be here: how bytes are split and shown (see `report::listening`).

use super::board;
use super::loaded;
use super::options::{self, PortOptions, SheetOption};
use super::output::Output;
use crate::language::units::Quantity;
use crate::measure::time::Time;
use crate::report::listening::Listening;
use crate::report::screen::{Screen, Style};
use crate::seam::exit::Exit;
use crate::seam::{Effect, Event, PortName, World};
use crate::world::real::RealWorld;
use std::time::Duration;

/// Show what comes over a wire, with its times. Nothing is sent.
///
/// For whoever writes a board sheet from a board's published description. With a sheet of packets, what comes is split by its
/// framing, and each packet is named by the table that it stands in; without one, bytes are shown. Ends with Ctrl-C.
#[derive(Debug, clap::Args)]
#[command(
    after_help = "Examples:\n  quadjig listen /dev/ttyACM0\n  quadjig listen /dev/ttyACM0 --sheet my-board.toml --for 10s"
)]
pub struct Listen {
    /// Where to listen: a serial port, `tcp:HOST:PORT`, `udp:HOST:PORT`, or `virtual[:NAME]`.
    /// Left out: the only plausible serial port.
    #[arg(value_name = "PORT")]
    port: Option<options::Port>,
    #[command(flatten)]
    sheet: SheetOption,
    /// Show under each packet what each field of the sheet reads there, beside its bytes.
    #[arg(long, requires = "sheet")]
    fields: bool,
    /// End after this time, such as `10s`.
    #[arg(long = "for", value_name = "TIME", value_parser = duration)]
    lasts: Option<Duration>,
}

fn duration(text: &str) -> Result<Duration, String> {
    text.parse::<Quantity>().and_then(Quantity::duration).map_err(|error| error.to_string())
}

impl Listen {
    /// Listens, and says how it ended.
    pub fn run(self, out: &mut Output) -> Result<Exit, Exit> {
        // No sheet, no framing: those that come with the program are nobody's board yet.
        let sheets = if self.sheet.sheet.is_some() { loaded::sheets(&self.sheet, None, out)?.0 } else { Vec::new() };
        let packets = sheets.first().and_then(|sheet| sheet.packets());
        if let (Some(sheet), None) = (sheets.first(), packets) {
            out.message(&format!("{} is no board of packets: bytes are shown.", sheet.board));
        }
        let port = PortOptions { port: self.port, system_id: None, signing_key: None };
        let name = board::port(&port, out)?;
        let style = Style { colour: false, plain: true, ascii: out.ascii };
        let mut world = RealWorld::new(board::looking(None), Box::new(Screen::new(style))).map_err(|error| {
            out.error(&error.to_string(), None);
            Exit::Link
        })?;
        world.act(Effect::Open(name.clone()));
        let began = Self::opened(&mut world, &name, out)?;
        out.message(&format!("Listening to {name}; nothing is sent. Ctrl-C ends it."));
        let mut listening = Listening::new(began, packets, self.fields);
        let end = self.lasts.map_or(Time::NEVER, |lasts| began + lasts);
        let ended = loop {
            let (now, event) = world.next(end.min(listening.due()));
            match event {
                Event::Bytes(bytes) => out.report(&listening.take(now, &bytes)),
                Event::Lost => {
                    out.report(&listening.rest());
                    out.error(&format!("{name} is gone"), Some("plug it in again, and listen anew"));
                    break Exit::Link;
                }
                Event::Signal(_) => break Exit::Done,
                _ if now >= end => break Exit::Done,
                _ if now >= listening.due() => out.report(&listening.rest()),
                _ => {}
            }
        };
        out.report(&listening.rest());
        out.message(&format!("{}.", listening.summary()));
        if let Some(why) = listening.misfit() {
            out.message(&format!("{why}."));
        }
        world.act(Effect::Close);
        Ok(ended)
    }

    /// When the port was open.
    fn opened(world: &mut RealWorld, name: &PortName, out: &mut Output) -> Result<Time, Exit> {
        loop {
            match world.next(Time::NEVER) {
                (now, Event::Opened(Ok(_))) => return Ok(now),
                (_, Event::Opened(Err(error))) => {
                    out.error(&format!("{name} could not be listened to: {error}"), error.hint().as_deref());
                    return Err(Exit::Link);
                }
                (_, Event::Signal(_)) => return Err(Exit::Stopped),
                _ => {}
            }
        }
    }
}

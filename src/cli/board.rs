//! What commands on a board share: the port they use, the session they drive, how its end becomes an
//! exit code.

use super::options::{Port, PortOptions};
use super::output::Output;
use super::peer::Peer;
use crate::bench::attended::{Connected, WallClock, connect};
use crate::bench::session::context::SessionContext;
use crate::bench::session::event_loop::drive;
use crate::bench::session::{Inquiry, Script, Session};
use crate::board::sheet::{Settings, Sheet};
use crate::board::signals::Link;
use crate::board::value::SettingName;
use crate::language::units::Pulse;
use crate::plan::naming::Naming;
use crate::record::crafts::unsettled;
use crate::record::ledger::Ledger;
use crate::record::{CraftRecord, Snapshot, folder};
use crate::report::screen::{Screen, Style};
use crate::seam::PortName;
use crate::seam::exit::Exit;
use crate::seam::fault::Fault;
use crate::world::guardian::own_program;
use crate::world::ports;
use crate::world::real::{BAUD, RealWorld, Setup};
use crate::world::terminal::Terminal;
use std::cell::RefCell;
use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::rc::Rc;
use std::time::Duration;

/// Between two readings of all settings: what counts by itself has moved.
const BETWEEN: Duration = Duration::from_secs(1);

/// Where the board is: as named, else the only plausible serial port, which is then named.
///
/// # Errors
/// None or several plausible ports.
pub fn port(options: &PortOptions, out: &mut Output) -> Result<PortName, Exit> {
    match &options.port {
        Some(Port::Serial(path)) => Ok(PortName::Serial(path.clone())),
        Some(Port::Tcp { host, port }) if host.contains(':') => Ok(PortName::Tcp(format!("[{host}]:{port}"))),
        Some(Port::Tcp { host, port }) => Ok(PortName::Tcp(format!("{host}:{port}"))),
        Some(Port::Udp { host, port }) if host.contains(':') => Ok(PortName::Udp(format!("[{host}]:{port}"))),
        Some(Port::Udp { host, port }) => Ok(PortName::Udp(format!("{host}:{port}"))),
        Some(Port::Virtual(name)) => Ok(PortName::Virtual(name.clone())),
        None => match ports::only_plausible(ports::list()) {
            Ok(info) => {
                out.message(&format!("Using {}, the only plausible serial port.", info.name));
                Ok(PortName::Serial(PathBuf::from(info.name)))
            }
            Err(error) => {
                out.error(&error.to_string(), Some("name one with --port; `quadjig ports` lists what is plugged in"));
                Err(Exit::Link)
            }
        },
    }
}

/// What an attended session is made of.
#[derive(Debug, Default)]
pub struct Sitting {
    /// Where craft records are.
    pub crafts: PathBuf,
    /// The radio card's file.
    pub radio_card: Option<PathBuf>,
    /// Name of the recipe, for the craft's lock.
    pub name: String,
    /// Who is spoken to.
    pub peer: Peer,
    /// Where typed lines are kept from session to session.
    pub history: Option<PathBuf>,
}

/// Drives a script at a terminal to its end; `after` tells the session what follows a stop or a lost wire.
///
/// # Errors
/// What ended it before its end, other than the operator's leaving where it goes on.
pub fn sit(
    sitting: Sitting,
    bench: &Rc<SessionContext>,
    script: Script,
    after: impl FnOnce(Session) -> Session,
    out: &Output,
) -> Result<(), Fault> {
    let link = sitting.peer.clone().link();
    let mut world = world(sitting, Terminal::controlling(), Some(own_program()), out)?;
    drive(&mut after(Session::new(link, Rc::clone(bench), script, false)), &mut world)
}

/// Drives a script that asks at a terminal and only looks at the board.
///
/// # Errors
/// What ended it before its end.
pub fn look_at_terminal(
    sitting: Sitting,
    bench: &Rc<SessionContext>,
    script: Script,
    out: &mut Output,
) -> Result<(), Fault> {
    let link = sitting.peer.clone().link();
    let mut world = world(sitting, Terminal::controlling(), None, out)?;
    drive(&mut Session::new(link, Rc::clone(bench), script, true), &mut world)
}

/// Drives a script that only looks and shows a page, on this terminal, else on standard output.
///
/// # Errors
/// What ended it before its end.
pub fn page(
    peer: Peer,
    terminal: Option<Terminal>,
    bench: &Rc<SessionContext>,
    script: Script,
    out: &Output,
    closing: impl FnOnce(Fault) -> Script + 'static,
) -> Result<(), Fault> {
    let (played, link) = (peer.played(), peer.link());
    let style = Style { colour: out.colour, plain: out.plain, ascii: out.ascii };
    let mut world = started(looking(terminal), style)?.playing(played);
    let mut session = Session::new(link, Rc::clone(bench), script, true).closing_with(closing);
    drive(&mut session, &mut world)
}

/// What a world is made of in which nothing of a craft's record is read or written.
#[must_use]
pub fn looking(terminal: Option<Terminal>) -> Setup {
    Setup {
        crafts: PathBuf::from("."),
        radio_card: None,
        recipe: String::new(),
        baud: BAUD,
        history: None,
        terminal,
        to_output: true,
        guardian: None,
    }
}

fn world(
    sitting: Sitting,
    terminal: Option<Terminal>,
    guardian: Option<PathBuf>,
    out: &Output,
) -> Result<RealWorld, Fault> {
    // A terminal that cannot move its cursor has nothing redrawn either.
    let dumb = std::env::var_os("TERM").is_some_and(|term| term == "dumb");
    let style = Style { colour: out.message_colour, plain: out.plain || dumb, ascii: out.ascii };
    let Sitting { crafts, radio_card, name: recipe, history, peer } = sitting;
    let setup = Setup { crafts, radio_card, recipe, baud: BAUD, history, terminal, to_output: false, guardian };
    Ok(started(setup, style)?.playing(peer.played()))
}

fn started(setup: Setup, style: Style) -> Result<RealWorld, Fault> {
    RealWorld::new(setup, Box::new(Screen::new(style))).map_err(|error| Fault::System(error.to_string()))
}

/// A board that was looked at.
pub struct Looked {
    /// Who it is, and everything it holds.
    pub known: Connected,
    /// All settings as they were read last: a second time, where that was asked for.
    pub copy: Snapshot,
    /// Where each channel of the receiver stands, where that is heard.
    pub heard: BTreeMap<u32, Pulse>,
    /// The link, closed: for showing what it would send.
    pub link: Box<dyn Link>,
}

/// What is read besides who it is and all its settings.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Besides {
    /// Nothing.
    Nothing,
    /// All settings a second time, after a moment.
    Again,
    /// Where the channels of its receiver stand.
    Radio,
}

/// Reads who a board is and all its settings; sends only requests and heartbeats, and writes nothing.
///
/// # Errors
/// The exit code, after what is wrong was told.
pub fn look(
    options: &PortOptions,
    sheets: &[Sheet],
    crafts: &Path,
    besides: Besides,
    out: &mut Output,
) -> Result<Looked, Exit> {
    let peer = Peer::of(options, sheets, out)?;
    let port = port(options, out)?;
    let bench = Rc::new(SessionContext::default());
    let found = Rc::new(RefCell::new(None));
    let script = Box::pin(read(Rc::clone(&bench), port, clock(), besides, Rc::clone(&found)));
    let link = peer.clone().link();
    let mut session = Session::new(link, bench, script, true);
    let ended = world(Sitting { crafts: crafts.to_owned(), peer, ..Sitting::default() }, None, None, out)
        .and_then(|mut world| drive(&mut session, &mut world));
    if let Err(fault) = ended {
        let exit = self::ended(&fault, out);
        out.message("Nothing was written to the board.");
        return Err(exit);
    }
    let (known, copy, heard) = found.borrow_mut().take().ok_or(Exit::Bug)?;
    Ok(Looked { known, copy, heard, link: session.into_link() })
}

/// Says what earlier runs left on a craft that is not settled: of each setting by what it holds, where that was read
/// now, in the words of a sheet where one is known.
pub fn say_unsettled(record: &CraftRecord, now: Option<&Settings>, sheet: Option<&Sheet>, out: &mut Output) {
    let named = |name: &SettingName| {
        let naming = sheet.zip(now).map(|(sheet, now)| Naming { sheet, then: now, now });
        naming.map_or_else(|| name.to_string(), |naming| naming.both(name))
    };
    for line in unsettled::words(record, &Ledger::of(record), now, &named) {
        out.message(&format!("mind this: {line}"));
    }
}

/// The same of a craft by its board; one that has no record yet has nothing open.
pub fn say_unsettled_of(crafts: &Path, known: &Connected, out: &mut Output) {
    let Ok(folder) = folder::of_board(crafts, &known.identity) else { return };
    match CraftRecord::read(&folder) {
        Ok(record) => say_unsettled(&record, Some(&known.settings), None, out),
        Err(error) => out.message(&format!("mind this: {error}")),
    }
}

/// What a look leaves: who it is with all settings, a copy of all settings as they were read last, and the channels.
type Found = Rc<RefCell<Option<(Connected, Snapshot, BTreeMap<u32, Pulse>)>>>;

async fn read(
    bench: Rc<SessionContext>,
    port: PortName,
    clock: WallClock,
    besides: Besides,
    found: Found,
) -> Result<(), Fault> {
    let known = connect(&bench, &port).await?;
    match besides {
        Besides::Nothing => {}
        Besides::Again => {
            bench.sleep(BETWEEN).await;
            bench.request(Inquiry::List, "reading all settings once more").await?;
        }
        Besides::Radio => bench.listen_to_radio().await,
    }
    let settings = bench.look(|live| live.settings.clone());
    let copy = bench.copy_of(clock.at(bench.now()), &known.identity, settings);
    *found.borrow_mut() = Some((known, copy, bench.heard_channels()));
    // Nothing was changed; a console is left as it was found.
    bench.put_streams_back().await;
    bench.close();
    Ok(())
}

/// The exit code of a fault that ended a session at the prompt, after it was told.
#[must_use]
pub fn ended(fault: &Fault, out: &mut Output) -> Exit {
    out.error(&fault.to_string(), fault.hint().as_deref());
    fault.exit()
}

/// Dates from now on.
#[must_use]
pub fn clock() -> WallClock {
    WallClock { started: jiff::Timestamp::now() }
}

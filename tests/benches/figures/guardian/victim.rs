//! The process that is struck: a session in a confirmed start, in the real world, with a guardian.

use crate::rehearsal;
use crate::stop::{Ahead, craft};
use quadjig::bench::session::context::PORT;
use quadjig::measure::time::Time;
use quadjig::report::screen::{Screen, Style};
use quadjig::seam::{Effect, Event, PortName, World};
use quadjig::world::guardian::NAME;
use quadjig::world::real::{BAUD, RealWorld, Setup};
use rustix::process::Pid;
use std::io::Write;

/// The word that makes a process such a one.
pub const WORD: &str = "victim";
/// What it says once its port is open.
pub const OPEN: &str = "open\n";

/// Goes on until it is struck.
pub fn run(port: &str) -> ! {
    let (mut session, board) = craft::turning(&rehearsal::script());
    let setup = Setup {
        crafts: std::env::temp_dir(),
        radio_card: None,
        recipe: "figures".to_owned(),
        baud: BAUD,
        history: None,
        terminal: None,
        to_output: false,
        guardian: Some(env!("CARGO_BIN_EXE_quadjig").into()),
    };
    let mut world = RealWorld::new(setup, Box::new(Screen::new(Style::default()))).unwrap();
    let name = match port.strip_prefix("tcp:") {
        Some(address) => PortName::Tcp(address.to_owned()),
        None => PortName::Serial(port.into()),
    };
    world.act(Effect::Open(PORT, name));
    let (_, opened) = world.next(Time(u64::MAX));
    assert!(matches!(&opened, Event::Opened(PORT, Ok(info)) if info.guarded), "{opened:?}");
    print!("{OPEN}");
    std::io::stdout().flush().unwrap();
    std::io::stdin().read_line(&mut String::new()).unwrap();

    let real = world.next(Time(0)).0;
    let ahead = Ahead::of(board.now(), real);
    let mut next = Some((real, opened));
    loop {
        let (at, event) = next.take().unwrap_or_else(|| world.next(ahead.in_world(session.wake())));
        session.handle(ahead.in_core(at), event, &mut |effect| {
            world.act(match effect {
                Effect::Hold(port, bytes, until) => Effect::Hold(port, bytes, ahead.in_world(until)),
                other => other,
            });
        });
    }
}

/// The guardian that a process has started.
pub fn guardian_of(program: u32) -> Option<Pid> {
    let number = std::fs::read_dir("/proc").ok()?.flatten().find_map(|folder| {
        let number: i32 = folder.file_name().to_str()?.parse().ok()?;
        let status = std::fs::read_to_string(folder.path().join("status")).ok()?;
        let line = |name: &str| status.lines().find_map(|line| Some(line.strip_prefix(name)?.trim().to_owned()));
        (line("Name:")? == NAME && line("PPid:")? == program.to_string()).then_some(number)
    });
    Pid::from_raw(number?)
}

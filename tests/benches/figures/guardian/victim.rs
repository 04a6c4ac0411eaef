//! The process that is struck: a session in a confirmed start, in the real world, with a guardian.

use crate::rehearsal;
use crate::stop::wires::{Pty, forward};
use crate::stop::{Ahead, craft};
use quadjig::measure::time::Time;
use quadjig::report::screen::{Screen, Style};
use quadjig::seam::guardian::GuardianEvent;
use quadjig::seam::{Effect, Event, PortName, World};
use quadjig::world::guardian::NAME;
use quadjig::world::real::{BAUD, RealWorld, Setup};
use quadjig::world::terminal::Terminal;
use rustix::process::Pid;
use rustix::time::{ClockId, clock_gettime};
use std::io::Write;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::time::Duration;

/// The word that makes a process such a one.
pub const WORD: &str = "victim";
/// What it says once its port is open.
pub const OPEN: &str = "open\n";

/// What it says once its guardian has acknowledged that it holds.
pub const HELD: &str = "held\n";
/// The word for a link under a key.
pub const SIGNED: &str = "signed";
/// Orders on its standard input: to begin; to go on no more; to hear a key.
pub const GO: &str = "go";
/// See [`GO`].
pub const HANG: &str = "hang";
/// See [`GO`].
pub const KEY: &str = "key";
/// What a program ends with that broke down.
const BROKEN: u8 = 70;

/// Goes on until it is struck.
pub fn run(port: &str, signed: bool) -> ! {
    quadjig::world::panic::install(|| BROKEN);
    let hook = std::panic::take_hook();
    std::panic::set_hook(Box::new(move |info| {
        println!("{}", moment().as_nanos());
        hook(info);
    }));
    let craft::Turning { mut session, board, standing } = craft::turning(&rehearsal::script(), signed, true);
    let terminal = Pty::open();
    let mut key = terminal.same_end();
    // Somebody has to look at the screen, or it would stand still.
    forward(terminal.same_end(), |_, _| true);
    let setup = Setup {
        crafts: std::env::temp_dir(),
        radio_card: None,
        recipe: "figures".to_owned(),
        baud: BAUD,
        history: None,
        terminal: Some(Terminal::from_file(terminal.other_end()).unwrap()),
        to_output: false,
        guardian: Some(env!("CARGO_BIN_EXE_quadjig").into()),
    };
    let mut world = RealWorld::new(setup, Box::new(Screen::new(Style::default()))).unwrap();
    let name = match port.strip_prefix("tcp:") {
        Some(address) => PortName::Tcp(address.to_owned()),
        None => PortName::Serial(port.into()),
    };
    world.act(Effect::Open(name));
    let (_, opened) = world.next(Time(u64::MAX));
    assert!(matches!(&opened, Event::Opened(Ok(info)) if info.guarded), "{opened:?}");
    print!("{OPEN}");
    std::io::stdout().flush().unwrap();
    let order = std::io::stdin().lines().next().unwrap().unwrap();
    assert_eq!(order, GO);
    let hangs = Arc::new(AtomicBool::new(false));
    let told = hangs.clone();
    std::thread::spawn(move || {
        for order in std::io::stdin().lines().map_while(Result::ok) {
            match order.as_str() {
                HANG => told.store(true, Ordering::SeqCst),
                KEY => key.write_all(b" ").unwrap(),
                other => panic!("{other} is no order"),
            }
        }
    });

    let real = world.next(Time(0)).0;
    let ahead = Ahead::of(board.now(), real);
    let act = |world: &mut RealWorld, effect| {
        world.act(match effect {
            Effect::Hold(bytes, through) => {
                Effect::Hold(bytes, ahead.in_world(through.start)..ahead.in_world(through.end))
            }
            other => other,
        });
    };
    for effect in standing {
        act(&mut world, effect);
    }
    let mut held = false;
    loop {
        while hangs.load(Ordering::SeqCst) {
            std::thread::park();
        }
        let (at, event) = world.next(ahead.in_world(session.wake()));
        if !held && matches!(event, Event::Guardian(GuardianEvent::Held(_))) {
            held = true;
            print!("{HELD}");
            std::io::stdout().flush().unwrap();
        }
        session.handle(ahead.in_core(at), event, &mut |effect| act(&mut world, effect));
    }
}

/// On the clock that all processes share.
pub fn moment() -> Duration {
    let now = clock_gettime(ClockId::Monotonic);
    Duration::new(now.tv_sec.unsigned_abs(), u32::try_from(now.tv_nsec).unwrap())
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

//! The guardian as a process: the program's own binary, over a pseudo-terminal, TCP and UDP.
//!
//! The world that starts it lives in the test; what kills or stops a whole program is tried in `tests/cli/guardian`.

use super::super::kit::{Master, setup};
use quadjig::report::screen::{Screen, Style};
use quadjig::seam::guardian::{GuardianEvent, GuardianOrder, StopFrames, burst};
use quadjig::seam::{Effect, Event, OpenError, PortName, World};
use quadjig::world::real::{RealWorld, Setup};
use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream, UdpSocket};
use std::path::Path;
use std::time::{Duration, Instant};

const SOON: Duration = Duration::from_secs(5);
/// A busy machine may be late by so much, never early.
const LATE: Duration = Duration::from_millis(150);
const FIRST: [u8; 8] = *b"<A-STOP>";

fn world() -> RealWorld {
    let guardian = Some(env!("CARGO_BIN_EXE_quadjig").into());
    let setup = Setup { guardian, ..setup(Path::new("/nonexistent")) };
    RealWorld::new(setup, Box::new(Screen::new(Style::default()))).unwrap()
}

/// Waits for what the guardian says, whatever else happens.
fn says(world: &mut RealWorld, what: GuardianEvent) -> Instant {
    let until = Instant::now() + SOON;
    loop {
        let (now, event) = world.next(quadjig::measure::time::Time(0));
        if matches!(&event, Event::Guardian(said) if *said == what) {
            return Instant::now();
        }
        assert!(Instant::now() < until, "it never says {what:?}; last {event:?}");
        if matches!(event, Event::Tick) {
            let _ = now;
            std::thread::sleep(Duration::from_millis(1));
        }
    }
}

fn open(world: &mut RealWorld, name: PortName) {
    world.act(Effect::Open(name));
    opens(world);
}

fn opens(world: &mut RealWorld) {
    let until = Instant::now() + SOON;
    loop {
        if let Event::Opened(opened) = world.next(quadjig::measure::time::Time(0)).1 {
            assert!(opened.as_ref().is_ok_and(|info| info.guarded), "{opened:?}");
            return;
        }
        assert!(Instant::now() < until, "it is never open");
        std::thread::sleep(Duration::from_millis(1));
    }
}

fn guard(world: &mut RealWorld, order: GuardianOrder) {
    world.act(Effect::Guard(order));
}

fn hold(world: &mut RealWorld, lasts: Duration) -> Instant {
    guard(world, GuardianOrder::Prepare(StopFrames { stops: vec![FIRST.to_vec()], lasts }));
    let at = Instant::now();
    guard(world, GuardianOrder::Renew(1));
    says(world, GuardianEvent::Held(1));
    at
}

/// Fills a pseudo-terminal on its way to the board; with how many bytes.
fn fill(board: &Master) -> usize {
    let mut slave = board.slave();
    let flags = rustix::fs::fcntl_getfl(&slave).unwrap();
    rustix::fs::fcntl_setfl(&slave, flags | rustix::fs::OFlags::NONBLOCK).unwrap();
    let (mut queued, mut full) = (0, 0);
    // The kernel moves bytes on a little later, and then there is room once more.
    while full < 5 {
        match slave.write(&[b'.'; 512]) {
            Ok(count) => (queued, full) = (queued + count, 0),
            Err(_) => full += 1,
        }
        std::thread::sleep(Duration::from_micros(200));
    }
    queued
}

#[test]
fn over_a_pseudo_terminal_it_fires_throws_away_what_is_queued_and_ends_with_a_release() {
    let mut board = Master::new();
    let mut world = world();
    open(&mut world, PortName::Serial(board.path.clone()));
    let held = hold(&mut world, Duration::from_secs(10));
    // A wire that takes nothing more, full of what was to leave before.
    let queued = fill(&board);
    says(&mut world, GuardianEvent::Fired);
    let after = held.elapsed();
    assert!(after >= Duration::from_millis(195) && after < Duration::from_millis(200) + LATE, "{after:?}");
    let came = board.read_until(|bytes| bytes.windows(FIRST.len()).any(|stop| stop == FIRST));
    let before = came.windows(FIRST.len()).position(|stop| stop == FIRST).unwrap();
    assert!(before < queued / 2, "{before} of {queued} bytes left before the stop");
    // Renewals count for nothing now.
    for number in 2..8 {
        guard(&mut world, GuardianOrder::Renew(number));
        board.read_until(|bytes| bytes.starts_with(&FIRST));
    }
    guard(&mut world, GuardianOrder::Release);
    says(&mut world, GuardianEvent::Released);
    while !board.read_for(Duration::from_millis(20)).is_empty() {}
    assert!(board.read_for(Duration::from_millis(300)).is_empty());
    // It holds again, for what is new.
    hold(&mut world, Duration::from_secs(10));
    guard(&mut world, GuardianOrder::Release);
    says(&mut world, GuardianEvent::Released);
    assert!(board.read_for(Duration::from_millis(300)).is_empty());
}

/// Whenever an opening is no longer wanted, nothing of it stays: not its guardian, and not the wire that this one has.
#[test]
fn an_opening_that_is_no_longer_wanted_leaves_no_guardian() {
    let listener = TcpListener::bind(("127.0.0.1", 0)).unwrap();
    let name = PortName::Tcp(listener.local_addr().unwrap().to_string());
    let mut world = world();
    for later in [0, 1, 2, 4, 8, 16, 32] {
        world.act(Effect::Open(name.clone()));
        let (mut board, _) = listener.accept().unwrap();
        std::thread::sleep(Duration::from_millis(later));
        world.act(Effect::Close);
        board.set_read_timeout(Some(SOON)).unwrap();
        assert_eq!(board.read(&mut [0; 16]).unwrap(), 0, "closed after {later} ms");
    }
}

#[test]
fn a_program_that_lets_go_while_it_holds_leaves_the_stop_to_it() {
    let mut board = Master::new();
    let _keeps_the_port_open = board.slave();
    let mut world = world();
    open(&mut world, PortName::Serial(board.path.clone()));
    let held = hold(&mut world, Duration::from_millis(600));
    let heard = std::thread::spawn(move || {
        let mut came = board.read_until(|bytes| bytes.starts_with(&FIRST));
        let first = held.elapsed();
        while held.elapsed() < Duration::from_millis(900) {
            came.extend(board.read_for(Duration::from_millis(50)));
        }
        (first, came.len() / FIRST.len(), board.read_for(Duration::from_millis(300)))
    });
    drop(world);
    let (first, stops, late) = heard.join().unwrap();
    assert!(first < LATE, "at once, not after the hold: {first:?}");
    assert!(stops > burst(FIRST.len()) + 10, "{stops} stops");
    assert!(late.is_empty(), "for its time only: {late:?}");
}

/// Until it has left, the next program is told what has the port, even one that may open whatever it likes.
#[cfg(target_os = "linux")]
#[test]
fn meanwhile_the_next_run_is_told() {
    let board = Master::new();
    let _keeps_the_port_open = board.slave();
    let mut first = world();
    open(&mut first, PortName::Serial(board.path.clone()));
    hold(&mut first, Duration::from_millis(1500));
    drop(first);
    let mut next = world();
    let name = PortName::Serial(board.path.clone());
    next.act(Effect::Open(name.clone()));
    let until = Instant::now() + SOON;
    let refused = loop {
        if let Event::Opened(opened) = next.next(quadjig::measure::time::Time(0)).1 {
            break opened.unwrap_err();
        }
        assert!(Instant::now() < until);
        std::thread::sleep(Duration::from_millis(1));
    };
    let port = board.path.display().to_string();
    assert_eq!(refused, OpenError::StillStopping(port.clone()));
    assert_eq!(refused.to_string(), format!("an earlier run's guardian is still stopping the motors over {port}"));
    std::thread::sleep(Duration::from_millis(1500));
    open(&mut next, name);
}

/// A port that is gone takes its name along for as long as a program has it open, and the system gives the next one
/// another. Whoever has it is seen by what it has open: the next name itself may go to a test beside this one.
#[cfg(target_os = "linux")]
fn nobody_keeps(gone: &Path) {
    let kept = std::path::PathBuf::from(format!("{} (deleted)", gone.display()));
    let until = Instant::now() + SOON;
    let keeper = || {
        let processes = std::fs::read_dir("/proc").unwrap().flatten();
        let open = processes.filter_map(|process| std::fs::read_dir(process.path().join("fd")).ok());
        open.flatten().flatten().find(|fd| std::fs::read_link(fd.path()).is_ok_and(|to| to == kept))
    };
    while let Some(fd) = keeper() {
        assert!(Instant::now() < until, "{} has {} open", fd.path().display(), gone.display());
        std::thread::sleep(Duration::from_millis(10));
    }
}

#[test]
fn a_port_that_goes_is_let_go_and_found_again_with_a_guardian_of_its_own() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("board");
    let first = Master::new();
    std::os::unix::fs::symlink(&first.path, &link).unwrap();
    let mut world = world();
    open(&mut world, PortName::Serial(link.clone()));
    let old = first.path.clone();
    drop(first);
    // By itself, though it holds nothing and is told nothing.
    says(&mut world, GuardianEvent::Gone);
    std::fs::remove_file(&link).unwrap();
    #[cfg(target_os = "linux")]
    nobody_keeps(&old);
    let mut second = Master::new();
    std::os::unix::fs::symlink(&second.path, &link).unwrap();
    world.act(Effect::Reopen);
    opens(&mut world);
    hold(&mut world, Duration::from_secs(10));
    assert!(second.read_until(|bytes| !bytes.is_empty()).starts_with(&FIRST));
}

#[test]
fn over_tcp_it_fires_on_the_same_connection() {
    let server = TcpListener::bind("127.0.0.1:0").unwrap();
    let mut world = world();
    open(&mut world, PortName::Tcp(server.local_addr().unwrap().to_string()));
    let (mut board, _) = server.accept().unwrap();
    let read = |board: &mut TcpStream| {
        board.set_read_timeout(Some(SOON)).unwrap();
        let mut bytes = [0; FIRST.len()];
        board.read_exact(&mut bytes).unwrap();
        bytes
    };
    hold(&mut world, Duration::from_secs(10));
    assert_eq!(read(&mut board), FIRST);
    drop(world);
    // Alone it goes on, and the connection stays open meanwhile.
    for _ in 0..40 {
        assert_eq!(read(&mut board), FIRST);
    }
}

#[test]
fn over_udp_it_fires_at_whoever_spoke() {
    let board = UdpSocket::bind("127.0.0.1:0").unwrap();
    board.set_read_timeout(Some(SOON)).unwrap();
    let mut world = world();
    open(&mut world, PortName::Udp(board.local_addr().unwrap().to_string()));
    hold(&mut world, Duration::from_secs(10));
    let mut datagram = [0; 64];
    for _ in 0..20 {
        let count = board.recv(&mut datagram).unwrap();
        assert_eq!(datagram[..count], FIRST, "one stop a datagram");
    }
    // A board that is away for a moment is no end.
    let address = board.local_addr().unwrap();
    drop(board);
    std::thread::sleep(Duration::from_millis(100));
    let board = UdpSocket::bind(address).unwrap();
    board.set_read_timeout(Some(SOON)).unwrap();
    assert!(board.recv(&mut datagram).is_ok());
}

//! Wires over pseudo-terminals and TCP: bytes both ways, stops that overtake, loss and return.

use super::kit::{Master, next, now, opened, sent, world};
use quadjig::measure::time::Time;
use quadjig::seam::{Effect, Event, OpenError, PortInfo, PortName, World};
use quadjig::world::ports::{Listed, Lister};
use quadjig::world::real::RealWorld;
use std::io::{Read, Write};
use std::net::{TcpListener, UdpSocket};
use std::path::{Path, PathBuf};
use std::sync::{Arc, Mutex};
use std::time::Duration;

fn refusal(path: &Path) -> OpenError {
    let mut world = world();
    world.act(Effect::Open(PortName::Serial(path.to_owned())));
    match next(&mut world) {
        Event::Opened(Err(error)) => error,
        other => panic!("{other:?}"),
    }
}

#[test]
fn bytes_go_both_ways_unchanged() {
    let mut board = Master::new();
    let mut world = opened(&board.path);
    // Every byte, those that a terminal would take for its own among them.
    let all: Vec<u8> = (0..=255).collect();
    world.act(sent(all.clone()));
    assert_eq!(board.read_until(|bytes| bytes.len() >= 256), all);
    board.write(&all);
    let mut came = Vec::new();
    while came.len() < 256 {
        match next(&mut world) {
            Event::Bytes(bytes) => came.extend(bytes),
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(came, all);
}

#[test]
fn a_stop_overtakes_what_is_queued_and_leaves_no_half_frame() {
    let mut board = Master::new();
    let mut world = opened(&board.path);
    // More than the pseudo-terminal holds, so that the queue stands.
    for _ in 0..400 {
        world.act(sent([b'a'; 100].to_vec()));
    }
    std::thread::sleep(Duration::from_millis(100));
    world.act(Effect::Stop(b"STOP".to_vec()));
    world.act(sent(b"after".to_vec()));
    let came = board.read_until(|bytes| bytes.ends_with(b"after"));
    let queued = came.len() - b"STOPafter".len();
    assert!(queued < 30_000, "{queued} of 40000 queued bytes left before the stop");
    assert_eq!(&came[came.len() - 9..], b"STOPafter");
}

#[test]
fn a_board_that_goes_is_lost_once() {
    let board = Master::new();
    let mut world = opened(&board.path);
    drop(board);
    assert!(matches!(next(&mut world), Event::Lost));
    let now = world.next(quadjig::measure::time::Time(0)).0;
    world.act(sent(b"nobody".to_vec()));
    assert!(matches!(world.next(now + Duration::from_millis(300)).1, Event::Tick));
}

#[test]
fn a_closed_wire_is_not_lost_and_can_be_opened_again_at_once() {
    let board = Master::new();
    let mut world = opened(&board.path);
    world.act(Effect::Close);
    world.act(Effect::Open(PortName::Serial(board.path.clone())));
    let event = next(&mut world);
    assert!(matches!(event, Event::Opened(Ok(_) | Err(OpenError::Busy { .. }))));
    world.act(Effect::Reopen);
    assert!(matches!(next(&mut world), Event::Opened(Ok(_))));
}

/// Nobody reads at the other end: a pseudo-terminal then takes some kilobytes and no more.
#[test]
fn a_wire_that_takes_nothing_is_lost_whatever_waits_for_it() {
    for held in [false, true] {
        let board = Master::new();
        let mut world = opened(&board.path);
        if held {
            // All of it in one write, of which the system takes a part.
            world.act(Effect::Hold(b"STOP".to_vec(), Time::NEVER..Time::NEVER));
        }
        world.act(sent(vec![b'a'; 200_000]));
        assert!(matches!(next(&mut world), Event::Lost), "held: {held}");
    }
}

/// A frame whose time went by while the wire took nothing.
#[test]
fn what_is_late_never_leaves() {
    let mut board = Master::new();
    let mut world = opened(&board.path);
    world.act(sent(vec![b'a'; 200_000]));
    let by = now(&mut world) + Duration::from_millis(100);
    world.act(Effect::Send { bytes: b"late".to_vec(), by });
    std::thread::sleep(Duration::from_millis(300));
    world.act(sent(b"after"));
    let came = board.read_until(|bytes| bytes.ends_with(b"after"));
    assert!(came[..200_000].iter().all(|byte| *byte == b'a'), "what had begun is finished");
    assert_eq!(&came[200_000..], b"after");
}

/// Bytes that the system kept from before, such as a pack that has long been plugged in, are no sign of life; nothing
/// is sent before the core says so. The same where a path comes back.
#[test]
fn what_lay_there_before_is_not_read_and_nothing_is_written_at_opening() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("board");
    let lead = |board: &Master| {
        let _ = std::fs::remove_file(&link);
        std::os::unix::fs::symlink(&board.path, &link).unwrap();
    };
    // Held open without an echo, so that what is written there is kept for whoever comes.
    let with_old_bytes = || {
        let mut board = Master::new();
        let kept = board.slave();
        let mut mode = rustix::termios::tcgetattr(&kept).unwrap();
        mode.make_raw();
        rustix::termios::tcsetattr(&kept, rustix::termios::OptionalActions::Now, &mode).unwrap();
        board.write(b"old");
        (board, kept)
    };
    let silent_then_new = |world: &mut RealWorld, board: &mut Master| {
        assert!(board.read_for(Duration::from_millis(200)).is_empty(), "nothing is written");
        board.write(b"new");
        match next(world) {
            Event::Bytes(bytes) => assert_eq!(bytes, b"new"),
            other => panic!("{other:?}"),
        }
    };
    let (mut first, kept) = with_old_bytes();
    lead(&first);
    let mut world = opened(&link);
    silent_then_new(&mut world, &mut first);
    drop((first, kept));
    assert!(matches!(next(&mut world), Event::Lost));
    let (mut second, _kept) = with_old_bytes();
    lead(&second);
    world.act(Effect::Reopen);
    assert!(matches!(next(&mut world), Event::Opened(Ok(_))));
    silent_then_new(&mut world, &mut second);
}

/// A board that restarts comes back behind the same link as another device.
#[test]
fn what_comes_back_is_found_behind_the_same_link() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("board");
    let first = Master::new();
    std::os::unix::fs::symlink(&first.path, &link).unwrap();
    let mut world = opened(&link);
    drop(first);
    assert!(matches!(next(&mut world), Event::Lost));
    std::fs::remove_file(&link).unwrap();
    world.act(Effect::Reopen);
    let now = world.next(quadjig::measure::time::Time(0)).0;
    assert!(matches!(world.next(now + Duration::from_millis(300)).1, Event::Tick), "nothing is there yet");
    let mut second = Master::new();
    std::os::unix::fs::symlink(&second.path, &link).unwrap();
    assert!(matches!(next(&mut world), Event::Opened(Ok(_))));
    world.act(sent(b"again".to_vec()));
    assert_eq!(second.read_until(|bytes| bytes.len() >= 5), b"again");
}

#[test]
fn what_is_no_port_is_refused_by_what_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("file");
    std::fs::write(&file, "text").unwrap();
    let named = |path: &Path| path.display().to_string();
    let missing = folder.path().join("missing");
    assert_eq!(refusal(&missing), OpenError::Missing(named(&missing)));
    let null = PathBuf::from("/dev/null");
    for no_port in [file.as_path(), folder.path(), &null] {
        assert_eq!(refusal(no_port), OpenError::NotAPort(named(no_port)));
    }
}

#[test]
fn a_port_that_another_program_has_is_busy() {
    let board = Master::new();
    let port = board.path.display().to_string();
    // By ourselves: then it is another part of this program, and nobody else is named.
    let ours = serialport::new(&port, 115_200).open().unwrap();
    assert_eq!(refusal(&board.path), OpenError::Busy { port: port.clone(), by: None });
    drop(ours);
    if cfg!(not(target_os = "linux")) {
        return;
    }
    // By a process of its own, which locks it as the library does (flock(2)), and is told by name and number.
    let mut other = std::process::Command::new("flock")
        .args(["--exclusive", &port, "sh", "-c", "echo held; read end"])
        .stdin(std::process::Stdio::piped())
        .stdout(std::process::Stdio::piped())
        .spawn()
        .unwrap();
    let mut held = [0; 5];
    other.stdout.as_mut().unwrap().read_exact(&mut held).unwrap();
    let refused = refusal(&board.path);
    let by = format!("flock (process {})", other.id());
    other.kill().unwrap();
    other.wait().unwrap();
    assert_eq!(refused.to_string(), format!("{port} is in use by {by}"));
    assert_eq!(refused, OpenError::Busy { port, by: Some(by) });
}

#[test]
fn tcp_works_alike_and_says_when_nobody_answers() {
    let server = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = server.local_addr().unwrap().to_string();
    let mut world = world();
    world.act(Effect::Open(PortName::Tcp(address.clone())));
    let (mut board, _) = server.accept().unwrap();
    assert!(matches!(next(&mut world), Event::Opened(Ok(_))));
    world.act(sent(b"ping".to_vec()));
    let mut bytes = [0; 4];
    board.read_exact(&mut bytes).unwrap();
    board.write_all(b"pong").unwrap();
    assert!(matches!(next(&mut world), Event::Bytes(bytes) if bytes == b"pong"));
    drop((board, server));
    assert!(matches!(next(&mut world), Event::Lost));
    world.act(Effect::Open(PortName::Tcp(address.clone())));
    assert!(
        matches!(next(&mut world), Event::Opened(Err(OpenError::Refused(port))) if port == format!("tcp:{address}"))
    );
}

/// Over UDP: an address of ours that is free is listened on, and the first to speak is the board.
#[test]
fn udp_listens_and_the_first_to_speak_is_the_board() {
    let free = UdpSocket::bind("127.0.0.1:0").unwrap().local_addr().unwrap();
    let mut world = world();
    world.act(Effect::Open(PortName::Udp(free.to_string())));
    assert!(matches!(next(&mut world), Event::Opened(Ok(info)) if info.name == format!("udp:{free}")));
    let (board, stranger) = (udp(), udp());
    // What leaves before anybody spoke goes nowhere, and does not come later.
    world.act(sent(b"early".to_vec()));
    std::thread::sleep(Duration::from_millis(100));
    board.send_to(b"here", free).unwrap();
    assert!(matches!(next(&mut world), Event::Bytes(bytes) if bytes == b"here"));
    stranger.send_to(b"me too", free).unwrap();
    // One batch is one datagram, longer than a serial line is handed at once; an empty one is no end.
    let long: Vec<u8> = (0..=250).cycle().take(1500).collect();
    world.act(sent(long.clone()));
    let mut datagram = vec![0; 4096];
    let (count, from) = board.recv_from(&mut datagram).unwrap();
    assert_eq!((&datagram[..count], from), (long.as_slice(), free));
    board.send_to(b"", free).unwrap();
    board.send_to(&long, free).unwrap();
    let mut came = Vec::new();
    while came.len() < long.len() {
        match next(&mut world) {
            Event::Bytes(bytes) => came.extend(bytes),
            other => panic!("{other:?}"),
        }
    }
    assert_eq!(came, long, "the stranger's bytes are left out");
    let nothing = stranger.recv_from(&mut datagram);
    assert!(nothing.is_err(), "{nothing:?}");
    // Started anew, it speaks from another port of the same host, after a silence.
    std::thread::sleep(Duration::from_millis(2100));
    let again = udp();
    again.send_to(b"again", free).unwrap();
    assert!(matches!(next(&mut world), Event::AnotherPeer), "it may be another board");
    assert!(matches!(next(&mut world), Event::Bytes(bytes) if bytes == b"again"));
    world.act(Effect::Stop(b"STOP".to_vec()));
    let (count, _) = again.recv_from(&mut datagram).unwrap();
    assert_eq!(&datagram[..count], b"STOP");
}

/// An address at which somebody listens already is spoken to; a board that is away for a while does not end the wire.
#[test]
fn udp_speaks_to_a_board_that_listens() {
    let board = udp();
    let address = board.local_addr().unwrap();
    let mut world = world();
    world.act(Effect::Open(PortName::Udp(address.to_string())));
    assert!(matches!(next(&mut world), Event::Opened(Ok(_))));
    world.act(sent(b"ping".to_vec()));
    let mut datagram = [0; 16];
    let (count, us) = board.recv_from(&mut datagram).unwrap();
    assert_eq!(&datagram[..count], b"ping");
    board.send_to(b"pong", us).unwrap();
    assert!(matches!(next(&mut world), Event::Bytes(bytes) if bytes == b"pong"));
    drop(board);
    for _ in 0..3 {
        world.act(sent(b"lost".to_vec()));
        std::thread::sleep(Duration::from_millis(60));
    }
    let board = UdpSocket::bind(address).unwrap();
    board.set_read_timeout(Some(Duration::from_secs(2))).unwrap();
    world.act(sent(b"back".to_vec()));
    let (count, us) = board.recv_from(&mut datagram).unwrap();
    assert_eq!(&datagram[..count], b"back");
    board.send_to(b"here", us).unwrap();
    assert!(matches!(next(&mut world), Event::Bytes(bytes) if bytes == b"here"));
}

#[test]
fn udp_goes_to_no_many_hosts_at_once() {
    for many in ["255.255.255.255:14550", "224.0.0.1:14550"] {
        let mut world = world();
        world.act(Effect::Open(PortName::Udp(many.to_owned())));
        match next(&mut world) {
            Event::Opened(Err(error)) => assert!(error.to_string().contains("many hosts at once"), "{error}"),
            other => panic!("{other:?}"),
        }
    }
}

fn udp() -> UdpSocket {
    let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
    socket.set_read_timeout(Some(Duration::from_millis(500))).unwrap();
    socket
}

/// A list in which pseudo-terminals stand as USB ports of one kind, without a serial number.
fn lists(ports: &Arc<Mutex<Vec<PathBuf>>>) -> Lister {
    let ports = ports.clone();
    Arc::new(move || {
        let listed = |path: &PathBuf| Listed {
            info: PortInfo { name: path.display().to_string(), usb: Some((0x1209, 10)), ..PortInfo::default() },
            plausible: true,
            links: Vec::new(),
        };
        ports.lock().unwrap().iter().map(listed).collect()
    })
}

fn opened_at(world: &mut RealWorld) -> PathBuf {
    match next(world) {
        Event::Opened(Ok(info)) => info.name.into(),
        other => panic!("{other:?}"),
    }
}

/// Without a serial number a board may come back under another name, with others of its kind beside it.
#[test]
fn what_comes_back_under_another_name_is_looked_for_among_its_kind() {
    let (first, neighbour) = (Master::new(), Master::new());
    let listed = Arc::new(Mutex::new(vec![first.path.clone(), neighbour.path.clone()]));
    let mut world = world().listing(lists(&listed));
    world.act(Effect::Open(PortName::Serial(first.path.clone())));
    assert_eq!(opened_at(&mut world), first.path);
    drop(first);
    assert!(matches!(next(&mut world), Event::Lost));
    let bootloader = Master::new();
    *listed.lock().unwrap() = vec![neighbour.path.clone(), bootloader.path.clone()];
    world.act(Effect::Reopen);
    // The neighbour is another board: never again.
    let mut seen = vec![opened_at(&mut world)];
    world.act(Effect::NotThis { other: seen[0] == neighbour.path });
    seen.push(opened_at(&mut world));
    world.act(Effect::NotThis { other: seen[1] == neighbour.path });
    assert_eq!(opened_at(&mut world), bootloader.path, "only silent: tried again");
    // The bootloader leaves, and the board comes.
    drop(bootloader);
    assert!(matches!(next(&mut world), Event::Lost));
    let mut second = Master::new();
    *listed.lock().unwrap() = vec![neighbour.path.clone(), second.path.clone()];
    world.act(Effect::Reopen);
    assert_eq!(opened_at(&mut world), second.path);
    world.act(sent(b"again".to_vec()));
    assert_eq!(second.read_until(|bytes| bytes.len() >= 5), b"again");
}

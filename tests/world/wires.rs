//! Wires over pseudo-terminals and TCP: bytes both ways, stops that overtake, loss and return.

use super::kit::{Master, PORT, next, opened, world};
use quadjig::bench::seam::{Effect, Event, OpenError, PortName, World};
use std::io::{Read, Write};
use std::net::TcpListener;
use std::path::{Path, PathBuf};
use std::time::Duration;

fn refusal(path: &Path) -> OpenError {
    let mut world = world();
    world.act(Effect::Open(PORT, PortName::Serial(path.to_owned())));
    match next(&mut world) {
        Event::Opened(PORT, Err(error)) => error,
        other => panic!("{other:?}"),
    }
}

#[test]
fn bytes_go_both_ways_unchanged() {
    let mut board = Master::new();
    let mut world = opened(&board.path);
    // Every byte, those that a terminal would take for its own among them.
    let all: Vec<u8> = (0..=255).collect();
    world.act(Effect::Send(PORT, all.clone()));
    assert_eq!(board.read_until(|bytes| bytes.len() >= 256), all);
    board.write(&all);
    let mut came = Vec::new();
    while came.len() < 256 {
        match next(&mut world) {
            Event::Bytes(PORT, bytes) => came.extend(bytes),
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
        world.act(Effect::Send(PORT, [b'a'; 100].to_vec()));
    }
    std::thread::sleep(Duration::from_millis(100));
    world.act(Effect::Stop(PORT, b"STOP".to_vec()));
    world.act(Effect::Send(PORT, b"after".to_vec()));
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
    assert!(matches!(next(&mut world), Event::Lost(PORT)));
    let now = world.next(quadjig::measure::time::Time(0)).0;
    world.act(Effect::Send(PORT, b"nobody".to_vec()));
    assert!(matches!(world.next(now + Duration::from_millis(300)).1, Event::Tick));
}

#[test]
fn a_closed_wire_is_not_lost_and_can_be_opened_again_at_once() {
    let board = Master::new();
    let mut world = opened(&board.path);
    world.act(Effect::Close(PORT));
    world.act(Effect::Open(PORT, PortName::Serial(board.path.clone())));
    let event = next(&mut world);
    assert!(
        matches!(event, Event::Opened(PORT, Ok(_))) || matches!(event, Event::Opened(PORT, Err(OpenError::Busy(_))))
    );
    world.act(Effect::Reopen(PORT));
    assert!(matches!(next(&mut world), Event::Opened(PORT, Ok(_))));
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
    assert!(matches!(next(&mut world), Event::Lost(PORT)));
    std::fs::remove_file(&link).unwrap();
    world.act(Effect::Reopen(PORT));
    let now = world.next(quadjig::measure::time::Time(0)).0;
    assert!(matches!(world.next(now + Duration::from_millis(300)).1, Event::Tick), "nothing is there yet");
    let mut second = Master::new();
    std::os::unix::fs::symlink(&second.path, &link).unwrap();
    assert!(matches!(next(&mut world), Event::Opened(PORT, Ok(_))));
    world.act(Effect::Send(PORT, b"again".to_vec()));
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
    let _other = serialport::new(board.path.to_string_lossy(), 115_200).open().unwrap();
    assert_eq!(refusal(&board.path), OpenError::Busy(board.path.display().to_string()));
}

#[test]
fn tcp_works_alike_and_says_when_nobody_answers() {
    let server = TcpListener::bind("127.0.0.1:0").unwrap();
    let address = server.local_addr().unwrap().to_string();
    let mut world = world();
    world.act(Effect::Open(PORT, PortName::Tcp(address.clone())));
    let (mut board, _) = server.accept().unwrap();
    assert!(matches!(next(&mut world), Event::Opened(PORT, Ok(_))));
    world.act(Effect::Send(PORT, b"ping".to_vec()));
    let mut bytes = [0; 4];
    board.read_exact(&mut bytes).unwrap();
    board.write_all(b"pong").unwrap();
    assert!(matches!(next(&mut world), Event::Bytes(PORT, bytes) if bytes == b"pong"));
    drop((board, server));
    assert!(matches!(next(&mut world), Event::Lost(PORT)));
    world.act(Effect::Open(PORT, PortName::Tcp(address.clone())));
    assert!(
        matches!(next(&mut world), Event::Opened(PORT, Err(OpenError::Refused(port))) if port == format!("tcp:{address}"))
    );
}

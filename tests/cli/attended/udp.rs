//! A board over UDP, both ways round: it sends to the program, or it waits to be spoken to.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::seen::Seen;
use super::super::desk::{Attended, willing};
use super::{SMALL, run_arguments};
use std::io::{ErrorKind, Read, Write};
use std::net::{SocketAddr, TcpStream, UdpSocket};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

/// Carries between a board on TCP and datagrams, over every restart of the board.
struct Bridge {
    over: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Bridge {
    /// `program`: where the program listens; unknown where it speaks first.
    fn new(port: &str, socket: UdpSocket, mut program: Option<SocketAddr>) -> Self {
        let address = port.strip_prefix("tcp:").unwrap().to_owned();
        let over = Arc::new(AtomicBool::new(false));
        let ends = over.clone();
        socket.set_read_timeout(Some(Duration::from_millis(2))).unwrap();
        let thread = std::thread::spawn(move || {
            while !ends.load(Ordering::SeqCst) {
                match TcpStream::connect(&address) {
                    Ok(board) => carry(board, &socket, &mut program, &ends),
                    Err(_) => std::thread::sleep(Duration::from_millis(20)),
                }
            }
        });
        Self { over, thread: Some(thread) }
    }
}

/// Until the board's side ends.
fn carry(mut board: TcpStream, socket: &UdpSocket, program: &mut Option<SocketAddr>, ends: &AtomicBool) {
    board.set_read_timeout(Some(Duration::from_millis(2))).unwrap();
    let mut bytes = [0; 2048];
    while !ends.load(Ordering::SeqCst) {
        match board.read(&mut bytes) {
            Ok(0) => return,
            Ok(count) => {
                if let Some(program) = program {
                    // A program that is not there yet, or not any more, takes none.
                    let _ = socket.send_to(&bytes[..count], *program);
                }
            }
            Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => {}
            Err(_) => return,
        }
        if let Ok((count, sender)) = socket.recv_from(&mut bytes) {
            *program = Some(sender);
            if board.write_all(&bytes[..count]).is_err() {
                return;
            }
        }
    }
}

impl Drop for Bridge {
    fn drop(&mut self) {
        self.over.store(true, Ordering::SeqCst);
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

fn socket() -> (UdpSocket, SocketAddr) {
    let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
    let address = socket.local_addr().unwrap();
    (socket, address)
}

#[test]
fn a_run_where_the_board_sends_to_us() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", SMALL);
    let mut board = Board::on_tcp();
    let free = socket().1;
    let _bridge = Bridge::new(&board.port, socket().0, Some(free));
    let port = format!("udp:{free}");
    let ended = Attended::start(&sandbox, &mut board, &run_arguments("wren.jig", &port)).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    assert!(ended.screen.contains("7 settings were changed, read back, and kept over a restart."), "{}", ended.screen);
    assert!(ended.screen.contains(&format!("on {port}")), "{}", ended.screen);
}

#[test]
fn a_snapshot_where_the_board_waits_to_be_spoken_to() {
    let sandbox = Sandbox::new();
    let board = Board::on_tcp();
    let (socket, address) = socket();
    let _bridge = Bridge::new(&board.port, socket, None);
    let said = sandbox.run(&["snapshot", "--port", &format!("udp:{address}"), "--output", "copy.json"]);
    assert_eq!(said, "exit code: 0\n--- stdout\n80 settings copied into `copy.json`\n");
}

/// Whoever speaks from another address may be another craft: what was known of the one before has ended with it.
#[test]
fn a_run_whose_board_speaks_from_another_address_after_a_silence_ends() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", SMALL);
    let mut board = Board::on_tcp();
    let (wire, free) = (board.port.clone(), socket().1);
    let mut bridge = Some(Bridge::new(&wire, socket().0, Some(free)));
    let mut moved = false;
    let mut run = Attended::start(&sandbox, &mut board, &run_arguments("wren.jig", &format!("udp:{free}")));
    let ended = run.end(|seen| {
        if matches!(seen, Seen::Asked(_)) && !std::mem::replace(&mut moved, true) {
            drop(bridge.take());
            // As long as a board takes to start anew.
            std::thread::sleep(Duration::from_millis(2300));
            bridge = Some(Bridge::new(&wire, socket().0, Some(free)));
            return Vec::new();
        }
        willing(seen)
    });
    let flat = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("Another address speaks on this link, as another board would"), "{}", ended.screen);
    assert_eq!(ended.code, Some(5), "{}", ended.screen);
}

//! `quadjig virtual --board finch-c` as a person meets it: on a pseudo-terminal and on TCP, typed at.
//!
//! In real time.

use std::io::{BufRead, BufReader, Read, Write};
use std::net::TcpStream;
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

const PATIENCE: Duration = Duration::from_secs(10);

/// A running server; killed when dropped.
struct Served {
    child: Child,
    input: ChildStdin,
    said: Receiver<String>,
}

impl Served {
    fn start(arguments: &[&str]) -> Self {
        let mut child = Command::new(env!("CARGO_BIN_EXE_quadjig"))
            .args(["virtual", "--board", "finch-c"])
            .args(arguments)
            .env_clear()
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .spawn()
            .unwrap();
        let input = child.stdin.take().unwrap();
        let output = child.stdout.take().unwrap();
        let (send, said) = channel();
        std::thread::spawn(move || {
            for line in BufReader::new(output).lines().map_while(Result::ok) {
                if send.send(line).is_err() {
                    break;
                }
            }
        });
        let served = Self { child, input, said };
        assert_eq!(served.next(), "VIRTUAL Finch C, id 7669727400000001: no craft is touched");
        served
    }

    fn next(&self) -> String {
        self.said.recv_timeout(PATIENCE).expect("the server says something")
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Reads until the text ends so; fails when the wire ends or nothing comes any more.
fn until(wire: &mut impl Read, end: &str) -> String {
    let began = Instant::now();
    let mut text = String::new();
    let mut byte = [0];
    while !text.ends_with(end) {
        assert!(began.elapsed() < PATIENCE, "{text:?}");
        match wire.read(&mut byte) {
            Ok(1) => text.push(char::from(byte[0])),
            Ok(_) => panic!("the wire ended after {text:?}"),
            Err(error) => panic!("{error} after {text:?}"),
        }
    }
    text
}

/// Comes to an empty prompt, whatever was shown before.
fn settle(wire: &mut (impl Read + Write)) {
    wire.write_all(b"\x03armed\r").unwrap();
    until(wire, "\r\narmed: no\r\nfinch> ");
}

#[test]
fn a_pseudo_terminal_can_be_typed_at() {
    let mut served = Served::start(&[]);
    let port = served.next();
    let path = port.strip_prefix("port ").unwrap();
    // Opened as a plain terminal program does: with the settings that the port came with.
    let mut wire = std::fs::OpenOptions::new().read(true).write(true).open(path).unwrap();
    settle(&mut wire);
    wire.write_all(b"put 1111 into IDLE_US\r").unwrap();
    assert_eq!(until(&mut wire, "finch> "), "put 1111 into IDLE_US\r\n1111 for IDLE_US\r\nfinch> ");
    wire.write_all(b"list\r").unwrap();
    let page = until(&mut wire, "-- more: space --");
    assert_eq!(page.matches("\r\n").count(), 21);
    assert!(page.contains("\r\n1111 for IDLE_US\r\n"));
    writeln!(served.input, "say hello").unwrap();
    assert_eq!(served.next(), "the board says hello");
    assert_eq!(until(&mut wire, "--"), "\r\n* hello\r\n--");
    wire.write_all(b"\x03").unwrap();
    until(&mut wire, "finch> ");
    wire.write_all(b"again\r").unwrap();
    assert_eq!(until(&mut wire, "down\r\n"), "again\r\ngoing down\r\n");
    assert_eq!(served.next(), "port gone");
    assert!(served.next().starts_with("port "));
}

#[test]
fn a_paced_tcp_port_gives_the_same_answers() {
    let mut served = Served::start(&["--tcp", "0", "--baud", "9600"]);
    let port = served.next().strip_prefix("port tcp:").unwrap().to_owned();
    let mut wire = TcpStream::connect(&port).unwrap();
    wire.set_read_timeout(Some(PATIENCE)).unwrap();
    writeln!(served.input, "battery in").unwrap();
    assert_eq!(served.next(), "battery is in");
    // The port is open once an answer has come.
    settle(&mut wire);
    wire.write_all(b"spin 1 1150 100\n").unwrap();
    assert_eq!(until(&mut wire, "finch> "), "spin 1 1150 100\r\nspinning 1 at 1150 us for 100 ms\r\nfinch> ");
    wire.write_all(b"list\n").unwrap();
    let began = Instant::now();
    until(&mut wire, "-- more: space --");
    // Over 300 bytes at 960 a second.
    assert!(began.elapsed() > Duration::from_millis(200), "{:?}", began.elapsed());
}

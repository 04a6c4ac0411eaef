//! `quadjig virtual` driven as a process: over its pseudo-terminal, over TCP, by standard input and control port.
//!
//! The only tests of the virtual board that live in real time.

use mavlink::dialects::common::MavMessage;
use mavlink::{MavlinkReader, Message};
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{Mode, OFlags, open};
use std::fs::File;
use std::io::{self, BufRead, BufReader, Read, Write};
use std::net::{TcpListener, TcpStream};
use std::os::fd::AsFd;
use std::path::{Path, PathBuf};
use std::process::{Child, ChildStdin, Command, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::{Duration, Instant};

const PATIENCE: Duration = Duration::from_secs(10);

/// A running `quadjig virtual`; killed when dropped.
struct Served {
    child: Child,
    input: Option<ChildStdin>,
    said: Receiver<String>,
}

impl Served {
    fn start(arguments: &[&str]) -> Self {
        let mut child = quadjig(arguments).spawn().unwrap();
        let input = child.stdin.take();
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
        assert!(served.next().starts_with("VIRTUAL Finch"));
        served
    }

    fn next(&self) -> String {
        self.said.recv_timeout(PATIENCE).expect("the server says something")
    }

    fn line(&mut self, line: &str) {
        writeln!(self.input.as_mut().unwrap(), "{line}").unwrap();
    }

    fn end(mut self) -> Option<i32> {
        drop(self.input.take());
        self.ended()
    }

    fn ended(&mut self) -> Option<i32> {
        let deadline = Instant::now() + PATIENCE;
        while Instant::now() < deadline {
            if let Some(status) = self.child.try_wait().unwrap() {
                return status.code();
            }
            std::thread::sleep(Duration::from_millis(5));
        }
        panic!("the server does not end");
    }
}

impl Drop for Served {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

fn quadjig(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_quadjig"));
    command
        .arg("virtual")
        .args(arguments)
        .env_clear()
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped());
    command
}

/// A wire that gives up after a while.
struct Patient<T>(T);

impl<T: Read + AsFd> Read for Patient<T> {
    fn read(&mut self, into: &mut [u8]) -> io::Result<usize> {
        let wait = Timespec { tv_sec: 10, tv_nsec: 0 };
        let ready = poll(&mut [PollFd::new(&self.0, PollFlags::IN)], Some(&wait))?;
        if ready == 0 { Err(io::ErrorKind::TimedOut.into()) } else { self.0.read(into) }
    }
}

fn serial(path: &Path) -> Patient<File> {
    Patient(File::from(open(path, OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC, Mode::empty()).unwrap()))
}

/// Hears messages until one is of a name.
fn hear<T: Read + AsFd>(reader: &mut MavlinkReader<Patient<T>>, name: &str) -> MavMessage {
    loop {
        let (header, message) = reader.read_any_message::<MavMessage>().unwrap();
        assert_eq!((header.system_id, header.component_id), (1, 1));
        if message.message_name() == name {
            return message;
        }
    }
}

#[test]
fn a_pseudo_terminal_speaks_vanishes_and_comes_back() {
    let folder = tempfile::tempdir().unwrap();
    let link = folder.path().join("finch");
    let mut served = Served::start(&["--link", link.to_str().unwrap()]);
    let port = served.next();
    let path = port.strip_prefix("port ").and_then(|rest| rest.split(',').next()).map(PathBuf::from).unwrap();
    assert_eq!(port, format!("port {}, linked as {}", path.display(), link.display()));
    assert_eq!(std::fs::read_link(&link).unwrap(), path);

    let mut reader = MavlinkReader::new(serial(&link));
    hear(&mut reader, "HEARTBEAT");
    served.line("flip B 2");
    assert_eq!(served.next(), "switch B is at 2");
    let deadline = Instant::now() + PATIENCE;
    while !matches!(hear(&mut reader, "RC_CHANNELS"), MavMessage::RC_CHANNELS(told) if told.chan6_raw > 1900) {
        assert!(Instant::now() < deadline, "the switch reaches the wire");
    }

    served.line("restart");
    assert_eq!(served.next(), "the board restarts");
    assert_eq!(served.next(), "port gone");
    assert!(link.symlink_metadata().is_err(), "the link is gone with the port");
    let lost = loop {
        if let Err(error) = reader.read_any_message::<MavMessage>() {
            break error;
        }
    };
    assert!(!lost.to_string().contains("timed out"), "{lost}");
    assert!(served.next().starts_with("port "));
    let mut reader = MavlinkReader::new(serial(&link));
    hear(&mut reader, "HEARTBEAT");
    assert_eq!(served.end(), Some(0));
    assert!(link.symlink_metadata().is_err());
}

#[test]
fn a_program_that_opens_late_hears_nothing_old() {
    let served = Served::start(&["--seed", "7"]);
    let path = PathBuf::from(served.next().strip_prefix("port ").unwrap());
    std::thread::sleep(Duration::from_millis(900));
    let mut reader = MavlinkReader::new(serial(&path));
    let MavMessage::ATTITUDE(first) = hear(&mut reader, "ATTITUDE") else { unreachable!() };
    assert!(first.time_boot_ms >= 850, "{} ms", first.time_boot_ms);
}

#[test]
fn the_next_program_finds_the_port_as_new() {
    let served = Served::start(&[]);
    let path = PathBuf::from(served.next().strip_prefix("port ").unwrap());
    let first = serial(&path);
    rustix::termios::ioctl_tiocexcl(&first.0).unwrap();
    let mut settings = rustix::termios::tcgetattr(&first.0).unwrap();
    settings.local_modes |= rustix::termios::LocalModes::ECHO | rustix::termios::LocalModes::ICANON;
    rustix::termios::tcsetattr(&first.0, rustix::termios::OptionalActions::Now, &settings).unwrap();
    drop(first);
    std::thread::sleep(Duration::from_millis(150));
    let mut reader = MavlinkReader::new(serial(&path));
    let settings = rustix::termios::tcgetattr(&reader.get_ref().0).unwrap();
    assert!(!settings.local_modes.intersects(rustix::termios::LocalModes::ECHO));
    hear(&mut reader, "HEARTBEAT");
}

#[test]
fn tcp_and_control_port() {
    let mut served = Served::start(&["--tcp", "0", "--control", "0", "--baud", "115200"]);
    let control = served.next().strip_prefix("control ").unwrap().to_owned();
    let port = served.next().strip_prefix("port tcp:").unwrap().to_owned();
    drop(served.input.take());
    let mut reader = MavlinkReader::new(Patient(TcpStream::connect(&port).unwrap()));
    hear(&mut reader, "HEARTBEAT");

    let mut hand = BufReader::new(TcpStream::connect(&control).unwrap());
    hand.get_ref().set_read_timeout(Some(PATIENCE)).unwrap();
    let mut ask = |line: &str| {
        hand.get_mut().write_all(format!("{line}\n").as_bytes()).unwrap();
        let mut answer = String::new();
        hand.read_line(&mut answer).unwrap();
        answer
    };
    assert_eq!(ask("battery in"), "battery is in\n");
    assert_eq!(ask("flop"), "error: there is no `flop` here; did you mean `flip`?; `help` lists what can be said\n");
    let truth: serde_json::Value = serde_json::from_str(&ask("truth")).unwrap();
    assert_eq!(truth["battery"]["in"], true);
    assert_eq!(ask("restart"), "the board restarts\n");
    assert_eq!(served.next(), "port gone");
    assert_eq!(served.next(), format!("port tcp:{port}"), "the same port again");
    let mut reader = MavlinkReader::new(Patient(TcpStream::connect(&port).unwrap()));
    hear(&mut reader, "HEARTBEAT");

    let pid = rustix::process::Pid::from_child(&served.child);
    rustix::process::kill_process(pid, rustix::process::Signal::TERM).unwrap();
    assert_eq!(served.ended(), Some(0));
}

#[test]
fn says_clearly_what_cannot_be_had() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("notes.txt");
    std::fs::write(&file, "mine").unwrap();
    let missing = folder.path().join("no/such/folder");
    let taken = TcpListener::bind("127.0.0.1:0").unwrap();
    let number = taken.local_addr().unwrap().port().to_string();
    for (arguments, words) in [
        (["--link", file.to_str().unwrap()], "is there already and is not a left-over link"),
        (["--link", missing.to_str().unwrap()], "Its folder must be there and writable."),
        (["--tcp", &number], "Give another, or 0 for a free one."),
        (["--control", &number], "Give another, or 0 for a free one."),
    ] {
        let output = quadjig(&arguments).output().unwrap();
        assert_eq!(output.status.code(), Some(5), "{arguments:?}");
        let said = String::from_utf8(output.stderr).unwrap();
        assert!(said.starts_with("error: ") && said.contains(words), "{said}");
    }
    assert_eq!(std::fs::read_to_string(&file).unwrap(), "mine");
    // A link that a killed server left behind is replaced.
    let link = folder.path().join("finch");
    std::os::unix::fs::symlink("/dev/pts/no-such", &link).unwrap();
    let served = Served::start(&["--link", link.to_str().unwrap()]);
    assert!(served.next().starts_with("port "));
    assert_eq!(served.end(), Some(0));
    let both = quadjig(&["--tcp", "0", "--link", "x"]).output().unwrap();
    assert_eq!(both.status.code(), Some(2));
}

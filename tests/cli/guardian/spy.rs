//! A spy between the program and a board, over TCP or a pseudo-terminal: carries every byte, and keeps what the
//! program's side sends with the moment at which it came.
//!
//! Promises: what it keeps was on the wire; carrying on ends with the test.

use quadjig::board::mavlink::{FrameClass, classify, frames};
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::fs::{Mode, OFlags};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use std::fs::File;
use std::io::{Read, Write};
use std::net::{TcpListener, TcpStream};
use std::os::fd::{AsFd, OwnedFd};
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

/// What came, with its moment.
type Kept = Arc<Mutex<Vec<(Instant, Vec<u8>)>>>;

/// See the module.
pub struct Spy {
    /// What `--port` is to be.
    pub port: String,
    kept: Kept,
}

impl Spy {
    /// On TCP before a board on TCP.
    pub fn on_tcp(board: &str) -> Self {
        let listener = TcpListener::bind("127.0.0.1:0").unwrap();
        let port = format!("tcp:{}", listener.local_addr().unwrap());
        let (board, kept) = (board.to_owned(), Kept::default());
        let keep = kept.clone();
        std::thread::spawn(move || {
            for program in listener.incoming().map_while(Result::ok) {
                program.set_nodelay(true).unwrap();
                carry(program.into(), &board, &keep);
            }
        });
        Self { port, kept }
    }

    /// On a pseudo-terminal before a board on TCP.
    pub fn on_terminal(board: &str) -> Self {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let port = ptsname(&master, Vec::new()).unwrap().into_string().unwrap();
        let slave = rustix::fs::open(&*port, OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC, Mode::empty()).unwrap();
        let mut settings = tcgetattr(&slave).unwrap();
        settings.make_raw();
        tcsetattr(&slave, OptionalActions::Now, &settings).unwrap();
        let (board, kept) = (board.to_owned(), Kept::default());
        let keep = kept.clone();
        std::thread::spawn(move || {
            // The port stays there when nobody has it open.
            let _keeps = slave;
            carry(master, &board, &keep);
        });
        Self { port, kept }
    }

    /// Every frame that came since then, whole and with the moment of its end.
    pub fn frames_since(&self, from: Instant) -> Vec<(Instant, Vec<u8>)> {
        let kept = self.kept.lock().unwrap();
        let mut ends = Vec::new();
        let mut all = Vec::new();
        for (at, bytes) in kept.iter() {
            all.extend(bytes);
            ends.push((all.len(), *at));
        }
        let mut at = 0;
        let mut found = Vec::new();
        for frame in frames(&all) {
            let begin = at + all[at..].windows(frame.len()).position(|window| window == frame).unwrap();
            at = begin + frame.len();
            let moment = ends.iter().find(|(end, _)| *end >= at).unwrap().1;
            if moment >= from {
                found.push((moment, frame.to_vec()));
            }
        }
        found
    }

    /// When the first stop since then was whole.
    pub fn stop_since(&self, from: Instant) -> Option<Instant> {
        self.frames_since(from)
            .into_iter()
            .find(|(_, frame)| classify(frame) == Some(FrameClass::Stop))
            .map(|(at, _)| at)
    }

    /// How long after a moment the first stop came.
    pub fn first_stop(&self, from: Instant) -> Duration {
        let until = Instant::now() + Duration::from_secs(5);
        loop {
            if let Some(at) = self.stop_since(from) {
                return at - from;
            }
            assert!(Instant::now() < until, "no stop came");
            std::thread::sleep(Duration::from_millis(2));
        }
    }
}

/// Carries both ways until one of them ends.
fn carry(program: OwnedFd, board: &str, keep: &Kept) {
    let Ok(board) = TcpStream::connect(board.strip_prefix("tcp:").unwrap()) else { return };
    board.set_nodelay(true).unwrap();
    let (mut program, mut board) = (File::from(program), board);
    let mut bytes = [0; 4096];
    loop {
        let mut ready = [PollFd::new(&program, PollFlags::IN), PollFd::from_borrowed_fd(board.as_fd(), PollFlags::IN)];
        let wait = Timespec { tv_sec: 600, tv_nsec: 0 };
        if poll(&mut ready, Some(&wait)).unwrap() == 0 {
            return;
        }
        let (from_program, from_board) = (!ready[0].revents().is_empty(), !ready[1].revents().is_empty());
        if from_program {
            match program.read(&mut bytes) {
                Ok(count @ 1..) => {
                    keep.lock().unwrap().push((Instant::now(), bytes[..count].to_vec()));
                    if board.write_all(&bytes[..count]).is_err() {
                        return;
                    }
                }
                _ => return,
            }
        }
        if from_board {
            match board.read(&mut bytes) {
                // A program that is stopped reads nothing; what it does not take is lost, as on a serial port.
                Ok(count @ 1..) => give(&mut program, &bytes[..count]),
                _ => return,
            }
        }
    }
}

/// Writes what is taken at once.
fn give(program: &mut File, bytes: &[u8]) {
    let wait = Timespec { tv_sec: 0, tv_nsec: 0 };
    let mut ready = [PollFd::new(&*program, PollFlags::OUT)];
    if poll(&mut ready, Some(&wait)).unwrap_or(0) > 0 && ready[0].revents().contains(PollFlags::OUT) {
        let _ = program.write(bytes);
    }
}

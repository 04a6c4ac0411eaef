//! A hand between the program and a real virtual board: carries every frame, but alters some.
//!
//! The program's side is a pseudo-terminal behind a link, which goes when the board's port goes.

use super::super::desk::board::Board;
use super::port::{self, Port};
use mavlink::MavHeader;
use mavlink::dialects::common::MavMessage;
use std::io::{ErrorKind, Read, Write};
use std::net::TcpStream;
use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::Duration;

/// What becomes of a frame of the program's.
pub enum Passes {
    /// It goes on to the board.
    On,
    /// It goes on, and the program hears this besides.
    OnAnd(MavMessage),
    /// It does not; the program hears this instead.
    Answered(MavMessage),
    /// It does not, and the port is never seen again.
    Gone,
}

/// What the hand does.
pub trait Alter: Send + 'static {
    /// With what the program says.
    fn program_says(&mut self, _: &MavMessage) -> Passes {
        Passes::On
    }

    /// With what the board says, in its start of this number.
    fn board_says(&mut self, _: &mut MavMessage, _starts: u32) {}
}

/// See the module.
pub struct Between {
    /// What `--port` is to be.
    pub port: String,
    sent: Arc<Mutex<Vec<u8>>>,
    over: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
    _folder: tempfile::TempDir,
}

impl Between {
    /// Before this board, which is on TCP.
    pub fn new(board: &Board, mut alter: impl Alter) -> Self {
        let address = board.port.strip_prefix("tcp:").unwrap().to_owned();
        let folder = tempfile::tempdir().unwrap();
        let link = folder.path().join("finch");
        let port = link.display().to_string();
        let (sent, over) = (Arc::<Mutex<Vec<u8>>>::default(), Arc::new(AtomicBool::new(false)));
        let (kept, ends) = (sent.clone(), over.clone());
        let ready = Arc::new(AtomicBool::new(false));
        let told = ready.clone();
        let thread = std::thread::spawn(move || {
            let mut starts = 0;
            while !ends.load(Ordering::SeqCst) {
                // A board that restarts lets nobody in meanwhile.
                let Ok(board) = TcpStream::connect(&address) else {
                    std::thread::sleep(Duration::from_millis(20));
                    continue;
                };
                starts += 1;
                let mut carried = Carried { port: Port::new(), board, link: link.clone(), starts, sequence: 0 };
                carried.show();
                told.store(true, Ordering::SeqCst);
                let gone = carried.carry(&mut alter, &kept, &ends);
                carried.hide();
                if gone {
                    return;
                }
            }
        });
        while !ready.load(Ordering::SeqCst) {
            std::thread::sleep(Duration::from_millis(5));
        }
        Self { port, sent, over, thread: Some(thread), _folder: folder }
    }

    /// Every byte that the program sent.
    pub fn sent(&self) -> Vec<u8> {
        self.sent.lock().unwrap().clone()
    }
}

impl Drop for Between {
    fn drop(&mut self) {
        self.over.store(true, Ordering::SeqCst);
        if let Some(thread) = self.thread.take() {
            let ended = thread.join();
            assert!(std::thread::panicking() || ended.is_ok(), "the hand of the test itself failed");
        }
    }
}

/// One start of the board.
struct Carried {
    port: Port,
    board: TcpStream,
    link: PathBuf,
    starts: u32,
    /// Of the last frame to the program: a number that stands twice would show two senders.
    sequence: u8,
}

impl Carried {
    fn show(&self) {
        self.hide();
        std::os::unix::fs::symlink(&self.port.path, &self.link).unwrap();
    }

    fn hide(&self) {
        if Path::new(&self.link).is_symlink() {
            std::fs::remove_file(&self.link).unwrap();
        }
    }

    fn say(&mut self, header: MavHeader, message: &MavMessage) {
        self.sequence = self.sequence.wrapping_add(1);
        self.port.say(&port::frame(MavHeader { sequence: self.sequence, ..header }, message));
    }

    /// Carries until the board's port goes; whether it is gone for good.
    fn carry(&mut self, alter: &mut impl Alter, kept: &Mutex<Vec<u8>>, ends: &AtomicBool) -> bool {
        self.board.set_read_timeout(Some(Duration::from_millis(2))).unwrap();
        let (mut from_program, mut from_board) = (Vec::new(), Vec::new());
        while !ends.load(Ordering::SeqCst) {
            let came = self.port.work();
            kept.lock().unwrap().extend(&came);
            from_program.extend(came);
            for frame in port::take(&mut from_program) {
                let passes = alter.program_says(&port::message(&frame));
                if matches!(passes, Passes::Gone) {
                    return true;
                }
                if matches!(passes, Passes::On | Passes::OnAnd(_)) && self.board.write_all(&frame).is_err() {
                    return false;
                }
                if let Passes::OnAnd(answer) | Passes::Answered(answer) = passes {
                    self.say(MavHeader { system_id: 1, component_id: 1, sequence: 0 }, &answer);
                }
            }
            let mut bytes = [0; 4096];
            match self.board.read(&mut bytes) {
                Ok(0) => return false,
                Ok(count) => from_board.extend(&bytes[..count]),
                Err(error) if matches!(error.kind(), ErrorKind::WouldBlock | ErrorKind::TimedOut) => {}
                Err(_) => return false,
            }
            for frame in port::take(&mut from_board) {
                let (header, mut message) = port::header_and_message(&frame);
                alter.board_says(&mut message, self.starts);
                self.say(header, &message);
            }
        }
        false
    }
}

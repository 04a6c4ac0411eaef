//! Pseudo-terminals, held at the end that is not the tool's.

use crate::spread::Spread;
use rustix::fd::OwnedFd;
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{self, OptionalActions};
use std::fs::File;
use std::io::{ErrorKind, Read, Write};
use std::path::PathBuf;
use std::sync::mpsc::channel;
use std::time::{Duration, Instant};

/// One end of a pseudo-terminal, and the path of the other.
pub struct Pty {
    file: File,
    pub path: PathBuf,
}

impl Pty {
    pub fn open() -> Self {
        let fd: OwnedFd = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
        grantpt(&fd).unwrap();
        unlockpt(&fd).unwrap();
        let path = ptsname(&fd, Vec::new()).unwrap().into_string().unwrap().into();
        Self { file: File::from(fd), path }
    }

    /// This end of another wire, such as a connection.
    pub fn of(fd: OwnedFd) -> Self {
        Self { file: File::from(fd), path: PathBuf::new() }
    }

    /// The tool's end.
    pub fn other_end(&self) -> File {
        File::options().read(true).write(true).open(&self.path).unwrap()
    }

    /// This end, once more.
    pub fn same_end(&self) -> File {
        self.file.try_clone().unwrap()
    }
}

/// Hands on what is read, with the moment at which it was, until nobody wants it or nothing comes any more.
pub fn forward(mut from: File, mut to: impl FnMut(Instant, &[u8]) -> bool + Send + 'static) {
    std::thread::spawn(move || {
        let mut bytes = [0; 4096];
        loop {
            match from.read(&mut bytes) {
                Ok(count) if count > 0 && to(Instant::now(), &bytes[..count]) => {}
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                _ => return,
            }
        }
    });
}

/// What the system alone takes for one byte from a thread through a pseudo-terminal to another.
pub fn bare(count: usize) -> Spread {
    let pty = Pty::open();
    // Held open: without a reader's end the other is at its end.
    let mut tool = pty.other_end();
    let mut raw = termios::tcgetattr(&tool).unwrap();
    raw.make_raw();
    termios::tcsetattr(&tool, OptionalActions::Now, &raw).unwrap();
    let (read, moments) = channel();
    forward(pty.same_end(), move |at, _| read.send(at).is_ok());
    let one = |_| {
        std::thread::sleep(Duration::from_millis(3));
        let begun = Instant::now();
        tool.write_all(b" ").unwrap();
        moments.recv().unwrap() - begun
    };
    Spread::of((0..count).map(one).collect())
}

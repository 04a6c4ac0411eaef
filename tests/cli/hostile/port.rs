//! The board's end of a pseudo-terminal, and frames of the MAVLink standard as the message crate reads and writes them.
//!
//! Source of the frame's layout: MAVLink developer guide, `guide/serialization`: version 2 begins with 0xFD, then the
//! payload's length; 10 bytes of header, 2 of checksum, and 13 of signature where bit 0 of the third byte is set.

use mavlink::dialects::common::MavMessage;
use mavlink::{MavHeader, MavlinkReader};
use rustix::fs::{Mode, OFlags};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};
use std::fs::File;
use std::io::{ErrorKind, Read, Write};
use std::path::PathBuf;

/// Longest that waits to be taken by the program.
const AHEAD: usize = 1 << 16;

/// See the module. Never blocks.
pub struct Port {
    master: File,
    /// Kept open, so that the master reads no errors while the program is not there.
    _slave: File,
    pub path: PathBuf,
    out: Vec<u8>,
}

impl Port {
    pub fn new() -> Self {
        let master = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC).unwrap();
        grantpt(&master).unwrap();
        unlockpt(&master).unwrap();
        let path: PathBuf = ptsname(&master, Vec::new()).unwrap().into_string().unwrap().into();
        let slave = rustix::fs::open(&path, OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC, Mode::empty()).unwrap();
        let mut modes = tcgetattr(&slave).unwrap();
        modes.make_raw();
        tcsetattr(&slave, OptionalActions::Now, &modes).unwrap();
        let flags = rustix::fs::fcntl_getfl(&master).unwrap();
        rustix::fs::fcntl_setfl(&master, flags | OFlags::NONBLOCK).unwrap();
        Self { master: File::from(master), _slave: File::from(slave), path, out: Vec::new() }
    }

    /// Room for more bytes.
    pub fn room(&self) -> bool {
        self.out.len() < AHEAD
    }

    /// Bytes for the program.
    pub fn say(&mut self, bytes: &[u8]) {
        self.out.extend(bytes);
    }

    /// Sends what it can, and gives what came.
    pub fn work(&mut self) -> Vec<u8> {
        while !self.out.is_empty() {
            match self.master.write(&self.out) {
                Ok(count) => drop(self.out.drain(..count)),
                Err(error) if error.kind() == ErrorKind::WouldBlock => break,
                Err(error) => panic!("{error}"),
            }
        }
        let mut bytes = vec![0; 4096];
        match self.master.read(&mut bytes) {
            Ok(count) => bytes.truncate(count),
            Err(error) if error.kind() == ErrorKind::WouldBlock => bytes.clear(),
            Err(error) => panic!("{error}"),
        }
        bytes
    }
}

/// The whole frames of version 2 in these bytes, and what is left behind the last.
pub fn frames(bytes: &[u8]) -> (Vec<&[u8]>, &[u8]) {
    let (mut frames, mut rest) = (Vec::new(), bytes);
    while rest.len() >= 12 {
        assert_eq!(rest[0], 0xFD, "a frame begins here: {rest:?}");
        let length = 12 + usize::from(rest[1]) + if rest[2] & 1 == 1 { 13 } else { 0 };
        let Some((frame, after)) = rest.split_at_checked(length) else { break };
        frames.push(frame);
        rest = after;
    }
    (frames, rest)
}

/// Takes whole frames out of a buffer.
pub fn take(buffer: &mut Vec<u8>) -> Vec<Vec<u8>> {
    let (found, rest) = frames(buffer);
    let found: Vec<Vec<u8>> = found.into_iter().map(<[u8]>::to_vec).collect();
    *buffer = rest.to_vec();
    found
}

/// What a frame says.
pub fn message(frame: &[u8]) -> MavMessage {
    header_and_message(frame).1
}

/// Who says it, and what.
pub fn header_and_message(frame: &[u8]) -> (MavHeader, MavMessage) {
    MavlinkReader::new(frame).read_any_message::<MavMessage>().unwrap()
}

/// A frame.
pub fn frame(header: MavHeader, message: &MavMessage) -> Vec<u8> {
    let mut bytes = Vec::new();
    mavlink::write_v2_msg(&mut bytes, header, message).unwrap();
    bytes
}

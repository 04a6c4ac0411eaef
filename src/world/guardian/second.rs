//! A second description of an open wire, for its guardian.
//!
//! Promises: writing over it never waits, and what is set on it changes nothing for the program's own; a serial port
//! is opened a second time before it is locked for us alone, and is the same device. Must not be here: what is written.

use rustix::fs::{FileType, Mode, OFlags, fstat, stat};
use std::net::SocketAddr;
use std::os::fd::{AsFd, OwnedFd};
use std::path::Path;

/// Whom datagrams go to now, if anybody has spoken.
pub(super) type Peer = Box<dyn Fn() -> Option<SocketAddr> + Send>;

/// See the module.
pub struct GuardWire {
    pub(super) wire: OwnedFd,
    pub(super) peer: Option<Peer>,
}

impl GuardWire {
    /// Of a wire with one other end.
    pub fn new(wire: impl Into<OwnedFd>) -> Self {
        Self { wire: wire.into(), peer: None }
    }

    /// Of one whose bytes go to whoever this says.
    pub fn to(wire: impl Into<OwnedFd>, peer: impl Fn() -> Option<SocketAddr> + Send + 'static) -> Self {
        Self { wire: wire.into(), peer: Some(Box::new(peer)) }
    }
}

/// Opens a serial port a second time; `None` where that cannot be had, as of one that is in use.
pub fn open(path: &Path) -> Option<GuardWire> {
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::NONBLOCK | OFlags::CLOEXEC;
    // A fifo or a file would be opened as well; only a terminal's device is asked for.
    let found = stat(path).ok()?;
    (FileType::from_raw_mode(found.st_mode) == FileType::CharacterDevice)
        .then(|| rustix::fs::open(path, flags, Mode::empty()).ok())
        .flatten()
        .map(GuardWire::new)
}

/// Whether what stands at this path is still the device that was opened.
pub fn same(wire: &GuardWire, path: &Path) -> bool {
    let (Ok(ours), Ok(there)) = (fstat(wire.wire.as_fd()), stat(path)) else { return false };
    (ours.st_rdev, ours.st_ino, ours.st_dev) == (there.st_rdev, there.st_ino, there.st_dev)
}

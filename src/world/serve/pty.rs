//! A pseudo-terminal whose other side looks like a board's serial port, and the link to it.
//!
//! One handle of the other side stays open, so that its settings stay raw and the board's side never reads an
//! error while no program has the port open. Nothing is kept for a program that is not there: a board sends
//! into an open port only.

use super::ServeError;
use rustix::fs::{Mode, OFlags, fcntl_getfl, fcntl_setfl, open};
use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, QueueSelector, Termios, ioctl_tiocnxcl, tcflush, tcgetattr, tcsetattr};
use std::ffi::OsString;
use std::io;
use std::os::fd::OwnedFd;
use std::os::unix::ffi::OsStringExt;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};

/// An open pseudo-terminal.
pub struct Pty {
    pub board: OwnedFd,
    /// Keeps the other side's settings.
    program: OwnedFd,
    raw: Termios,
    pub path: PathBuf,
    visitors: Option<Visitors>,
}

impl Pty {
    /// Opens one, raw on the other side.
    pub fn open() -> Result<Self, ServeError> {
        Self::try_open().map_err(ServeError::Terminal)
    }

    fn try_open() -> io::Result<Self> {
        let board = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
        grantpt(&board)?;
        unlockpt(&board)?;
        let path = PathBuf::from(OsString::from_vec(ptsname(&board, Vec::new())?.into_bytes()));
        let program = open(&path, OFlags::RDWR | OFlags::NOCTTY | OFlags::CLOEXEC, Mode::empty())?;
        let mut settings = tcgetattr(&program)?;
        settings.make_raw();
        tcsetattr(&program, OptionalActions::Now, &settings)?;
        fcntl_setfl(&board, fcntl_getfl(&board)? | OFlags::NONBLOCK)?;
        let visitors = Visitors::watch(&path);
        Ok(Self { board, program, raw: settings, path, visitors })
    }

    /// Whether a program has the port open, as far as that can be known.
    pub fn is_open(&mut self) -> bool {
        let Some(visitors) = &mut self.visitors else { return true };
        let changed = visitors.changed();
        let here = visitors.here > 0;
        if changed && !here {
            self.be_as_new();
        }
        here
    }

    /// The last program has gone: the next one finds the port as a freshly plugged one, whatever that one had
    /// set or, being killed, left locked.
    fn be_as_new(&self) {
        // Should any of it fail, the next program finds a stranger port, and can still set it itself.
        let _ = ioctl_tiocnxcl(&self.program);
        let _ = tcsetattr(&self.program, OptionalActions::Now, &self.raw);
        self.forget();
    }

    /// Throws away what nobody has read.
    pub fn forget(&self) {
        // A queue that cannot be emptied only makes the next program read old bytes.
        let _ = tcflush(&self.program, QueueSelector::IFlush);
    }
}

/// Counts who opens and closes the port.
struct Visitors {
    #[cfg(target_os = "linux")]
    watch: OwnedFd,
    here: usize,
}

impl Visitors {
    #[cfg(target_os = "linux")]
    fn watch(path: &Path) -> Option<Self> {
        use rustix::fs::inotify::{CreateFlags, WatchFlags, add_watch, init};
        let watch = init(CreateFlags::CLOEXEC | CreateFlags::NONBLOCK).ok()?;
        add_watch(&watch, path, WatchFlags::OPEN | WatchFlags::CLOSE).ok()?;
        Some(Self { watch, here: 0 })
    }

    #[cfg(not(target_os = "linux"))]
    fn watch(_path: &Path) -> Option<Self> {
        None
    }

    /// Counts what has happened; whether anything has.
    #[cfg(target_os = "linux")]
    fn changed(&mut self) -> bool {
        use rustix::fs::inotify::{ReadFlags, Reader};
        let mut buffer = [std::mem::MaybeUninit::uninit(); 1024];
        let mut reader = Reader::new(&self.watch, &mut buffer);
        let mut changed = false;
        while let Ok(event) = reader.next() {
            changed = true;
            if event.events().contains(ReadFlags::OPEN) {
                self.here += 1;
            } else {
                self.here = self.here.saturating_sub(1);
            }
        }
        changed
    }

    #[cfg(not(target_os = "linux"))]
    fn changed(&mut self) -> bool {
        false
    }
}

/// A link to a port that comes and goes; removed when dropped.
pub struct PortLink(PathBuf);

impl PortLink {
    /// Makes the link. A left-over link to a port that is gone is replaced, nothing else is.
    pub fn make(path: &Path, to: &Path) -> Result<Self, ServeError> {
        if let Ok(there) = path.symlink_metadata() {
            if !there.is_symlink() || path.exists() {
                return Err(ServeError::LinkTaken { path: path.to_owned() });
            }
            std::fs::remove_file(path).map_err(|source| ServeError::Link { path: path.to_owned(), source })?;
        }
        symlink(to, path).map_err(|source| ServeError::Link { path: path.to_owned(), source })?;
        Ok(Self(path.to_owned()))
    }
}

impl Drop for PortLink {
    fn drop(&mut self) {
        // Somebody else may have removed it already.
        let _ = std::fs::remove_file(&self.0);
    }
}

//! Serial ports and pseudo-terminals: opening one for us alone.
//!
//! Promises: an explicit path is always tried, listed or not; every refusal says what to do on this
//! system; nothing is written at opening, and nothing that lay there before is read. Must not be here: which port
//! to choose.

use super::ends::Ends;
use super::guardian;
use super::ports::{self, Lister};
use super::system;
use super::writer::WireOut;
use crate::seam::{OpenError, PortInfo};
use nix::fcntl::{FcntlArg, OFlag, fcntl};
use serialport::{ClearBuffer, ErrorKind, SerialPort, TTYPort};
use std::io;
use std::os::fd::AsRawFd;
use std::path::Path;
use std::time::Duration;

/// How long a read waits before it looks whether the wire is to be closed.
const READ: Duration = Duration::from_millis(50);

/// Opens a port; what is known of it comes from the list.
pub(super) fn open(path: &Path, baud: u32, list: &Lister) -> Result<Ends, OpenError> {
    let name = path.display().to_string();
    match path.metadata() {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Err(OpenError::Missing(name)),
        Ok(found) if found.is_dir() || found.is_file() => return Err(OpenError::NotAPort(name)),
        _ => {}
    }
    let said = |error: &serialport::Error| sort(path, error);
    // For us alone and at its speed, before a byte is read or written.
    let output = serialport::new(path.to_string_lossy(), baud)
        .exclusive(true)
        .timeout(Duration::ZERO)
        .open_native()
        .map_err(|error| said(&error))?;
    // A terminal that may wait takes all of a write or keeps the writer for ever.
    fcntl(output.as_raw_fd(), FcntlArg::F_SETFL(OFlag::O_NONBLOCK))
        .map_err(|error| OpenError::Other { port: name.clone(), cause: error.desc().to_owned() })?;
    // What the system kept from before we came is no sign of life.
    output.clear(ClearBuffer::Input).map_err(|error| said(&error))?;
    let mut input = output.try_clone_native().map_err(|error| said(&error))?;
    input.set_timeout(READ).map_err(|error| said(&error))?;
    let info = PortInfo { name, ..ports::info_of(path, list()).unwrap_or_default() };
    Ok(Ends { input: Box::new(input), output: Box::new(Out(output)), info, guard: None })
}

struct Out(TTYPort);

impl WireOut for Out {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        io::Write::write(&mut self.0, bytes)
    }

    fn spare(&self) -> io::Result<Box<dyn WireOut>> {
        Ok(Box::new(Self(self.0.try_clone_native()?)))
    }

    fn pending(&mut self) -> usize {
        self.0.bytes_to_write().map_or(0, |bytes| bytes as usize)
    }
}

/// What a refusal means, and what to do.
fn sort(path: &Path, error: &serialport::Error) -> OpenError {
    let port = path.display().to_string();
    let here = system::here();
    match error.kind() {
        ErrorKind::NoDevice => match (here.holder)(path) {
            Some(by) if by.starts_with(guardian::NAME) => OpenError::StillStopping(port),
            by => OpenError::Busy { port, by },
        },
        ErrorKind::Io(io::ErrorKind::PermissionDenied) => OpenError::Denied { port, hint: (here.denied)(path) },
        // Its node was there when we looked.
        ErrorKind::Io(io::ErrorKind::NotFound) => OpenError::Vanished(port),
        // The library gives such errors no kind of their own, only the system's words.
        ErrorKind::Unknown if error.description == NOT_A_TERMINAL => OpenError::NotAPort(port),
        ErrorKind::Unknown if GONE.contains(&error.description.as_str()) => OpenError::Vanished(port),
        _ => OpenError::Other { port, cause: error.description.clone() },
    }
}

/// The words for ENOTTY, as the library takes them over from its own table.
const NOT_A_TERMINAL: &str = "Not a typewriter";
/// The words for ENODEV, ENXIO and EIO: what a device that is being taken off its cable says.
const GONE: [&str; 3] = ["No such device", "No such device or address", "I/O error"];

#[cfg(test)]
mod tests {
    use super::sort;
    use crate::seam::OpenError;
    use serialport::{Error, ErrorKind};
    use std::path::Path;

    #[test]
    fn the_systems_refusals_are_sorted() {
        let said = |kind, words: &str| sort(Path::new("/dev/ttyACM0"), &Error::new(kind, words));
        let port = || "/dev/ttyACM0".to_owned();
        assert_eq!(said(ErrorKind::NoDevice, ""), OpenError::Busy { port: port(), by: None });
        let denied = said(ErrorKind::Io(std::io::ErrorKind::PermissionDenied), "");
        assert!(matches!(denied, OpenError::Denied { .. }));
        assert_eq!(said(ErrorKind::Io(std::io::ErrorKind::NotFound), ""), OpenError::Vanished(port()));
        // The system's own words for these two are the library's as well; its words for EIO are shorter.
        for errno in [rustix::io::Errno::NODEV, rustix::io::Errno::NXIO] {
            let whole = std::io::Error::from(errno).to_string();
            let (words, _) = whole.split_once(" (os error").unwrap();
            assert_eq!(said(ErrorKind::Unknown, words), OpenError::Vanished(port()), "{words}");
        }
        let words = OpenError::Other { port: port(), cause: "words".to_owned() };
        assert_eq!(said(ErrorKind::Unknown, "words"), words);
    }
}

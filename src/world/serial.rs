//! Serial ports and pseudo-terminals: opening one for us alone.
//!
//! Promises: an explicit path is always tried, listed or not; every refusal says what to do on this
//! system. Must not be here: which port to choose.

use super::port::Ends;
use super::ports;
use super::writer::WireOut;
use crate::bench::seam::{OpenError, PortInfo};
use serialport::{ErrorKind, SerialPort};
use std::io;
use std::path::Path;
use std::time::Duration;

/// How long a read waits before it looks whether the wire is to be closed.
const READ: Duration = Duration::from_millis(50);
/// How long a write waits.
const WRITE: Duration = Duration::from_millis(20);

/// Opens a port.
pub(super) fn open(path: &Path, baud: u32) -> Result<Ends, OpenError> {
    let name = path.display().to_string();
    match path.metadata() {
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Err(OpenError::Missing(name)),
        Ok(found) if found.is_dir() || found.is_file() => return Err(OpenError::NotAPort(name)),
        _ => {}
    }
    let said = |error: &serialport::Error| sort(path, error);
    let mut output = serialport::new(path.to_string_lossy(), baud)
        .exclusive(true)
        .timeout(WRITE)
        .open()
        .map_err(|error| said(&error))?;
    let mut input = output.try_clone().map_err(|error| said(&error))?;
    input.set_timeout(READ).map_err(|error| said(&error))?;
    output.set_timeout(WRITE).map_err(|error| said(&error))?;
    let info = PortInfo { name, ..ports::info_of(path).unwrap_or_default() };
    Ok(Ends { input: Box::new(input), output: Box::new(Out(output)), info })
}

struct Out(Box<dyn SerialPort>);

impl WireOut for Out {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        io::Write::write(&mut self.0, bytes)
    }

    fn pending(&mut self) -> usize {
        self.0.bytes_to_write().map_or(0, |bytes| bytes as usize)
    }
}

/// What a refusal means, and what to do.
fn sort(path: &Path, error: &serialport::Error) -> OpenError {
    let port = path.display().to_string();
    match error.kind() {
        ErrorKind::NoDevice => OpenError::Busy(port),
        ErrorKind::Io(io::ErrorKind::PermissionDenied) => OpenError::Denied { port, hint: denied_hint(path) },
        ErrorKind::Io(io::ErrorKind::NotFound) => OpenError::Missing(port),
        // The library gives such errors no kind of their own, only the system's words.
        ErrorKind::Unknown if error.description == not_a_terminal() => OpenError::NotAPort(port),
        _ => OpenError::Other { port, cause: error.description.clone() },
    }
}

/// The words for ENOTTY, as the library takes them over from its own table.
fn not_a_terminal() -> &'static str {
    "Not a typewriter"
}

/// What to do about a denied port.
#[cfg(target_os = "linux")]
fn denied_hint(path: &Path) -> String {
    use std::os::unix::fs::MetadataExt;
    let Ok(found) = path.metadata() else {
        return "see who may use it with `ls -l`".to_owned();
    };
    let groups = std::fs::read_to_string("/etc/group").unwrap_or_default();
    hint(found.gid(), found.mode(), &groups)
}

/// See [`denied_hint`].
#[cfg(not(target_os = "linux"))]
fn denied_hint(_path: &Path) -> String {
    "see who may use it with `ls -l`, and use the port's `cu.` name where there is one".to_owned()
}

/// From the device file's group and mode, and the text of `/etc/group` (group(5)).
#[cfg(target_os = "linux")]
fn hint(gid: u32, mode: u32, groups: &str) -> String {
    let name = groups.lines().find_map(|line| {
        let mut fields = line.split(':');
        let name = fields.next()?;
        (fields.nth(1)?.parse() == Ok(gid)).then_some(name)
    });
    match name {
        Some(name) if mode & 0o060 == 0o060 && gid != 0 => format!(
            "it belongs to the group {name}: add yourself with `sudo usermod -aG {name} $USER`, then log out and in again"
        ),
        _ => "no group of yours may use it: give it one with a udev rule such as \
              SUBSYSTEM==\"tty\", SUBSYSTEMS==\"usb\", GROUP=\"dialout\", MODE=\"0660\", then plug it in again"
            .to_owned(),
    }
}

#[cfg(test)]
mod tests {
    use super::{hint, sort};
    use crate::bench::seam::OpenError;
    use serialport::{Error, ErrorKind};
    use std::path::Path;

    #[test]
    fn a_denied_port_names_the_group_that_owns_it() {
        let groups = "root:x:0:\ndialout:x:20:ann\n";
        assert!(hint(20, 0o020_660, groups).contains("sudo usermod -aG dialout $USER"));
        assert!(hint(0, 0o020_600, groups).contains("udev rule"));
        assert!(hint(20, 0o020_600, groups).contains("udev rule"));
        assert!(hint(77, 0o020_660, groups).contains("udev rule"));
    }

    #[test]
    fn the_systems_refusals_are_sorted() {
        let said = |kind| sort(Path::new("/dev/ttyACM0"), &Error::new(kind, "words"));
        let port = || "/dev/ttyACM0".to_owned();
        assert_eq!(said(ErrorKind::NoDevice), OpenError::Busy(port()));
        assert!(matches!(said(ErrorKind::Io(std::io::ErrorKind::PermissionDenied)), OpenError::Denied { .. }));
        assert_eq!(said(ErrorKind::Io(std::io::ErrorKind::NotFound)), OpenError::Missing(port()));
        assert_eq!(said(ErrorKind::Unknown), OpenError::Other { port: port(), cause: "words".to_owned() });
    }
}

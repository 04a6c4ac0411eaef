//! What differs from system to system about ports, behind one seam.
//!
//! Every system gives the same three answers: which ports there are, what to do about one that is denied, and who
//! has one open. Promises: nothing is opened here; a system that does not tell gives nothing, never a guess.
//! Must not be here: which port to choose.

use crate::language::characters::shell_word;
use crate::seam::PortInfo;
use std::path::Path;

mod library;
#[cfg(unix)]
mod linux;

#[cfg(unix)]
pub use linux::{denied_by, listed_under};

/// A port as the system lists it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// What is known of it.
    pub info: PortInfo,
    /// Whether a board may well be behind it: it is a USB device.
    pub plausible: bool,
    /// Names that stay with the device, whatever number it gets, where the system keeps such.
    pub links: Vec<String>,
}

/// The answers of one system.
#[derive(Debug, Clone, Copy)]
pub struct System {
    /// Every port that it lists.
    pub list: fn() -> Vec<Listed>,
    /// What to do about a port that may not be opened.
    pub denied: fn(&Path) -> String,
    /// Who has it open, in words, where that can be known.
    pub holder: fn(&Path) -> Option<String>,
}

/// Linux: from `/sys` and `/proc`.
#[cfg(unix)]
pub const LINUX: System = System { list: linux::list, denied: linux::denied, holder: linux::holder };

/// macOS.
pub const MACOS: System = System { list: library::without_waiting, denied: macos_denied, holder: nobody };

/// Windows.
pub const WINDOWS: System = System { list: library::list, denied: windows_denied, holder: nobody };

/// Any other.
pub const OTHER: System = System { list: library::list, denied: other_denied, holder: nobody };

/// The system that this program was built for.
#[must_use]
pub fn here() -> System {
    #[cfg(target_os = "linux")]
    return LINUX;
    #[cfg(target_os = "macos")]
    return MACOS;
    #[cfg(windows)]
    return WINDOWS;
    #[cfg(not(any(target_os = "linux", target_os = "macos", windows)))]
    return OTHER;
}

fn nobody(_: &Path) -> Option<String> {
    None
}

fn macos_denied(path: &Path) -> String {
    let shown = path.display().to_string();
    match shown.strip_prefix("/dev/tty.") {
        Some(rest) => format!("use the port's other name, /dev/cu.{rest}"),
        None => format!(
            "see who may use it with `ls -l {}`; a program that was allowed no devices is given them in the \
             system settings, under privacy and security",
            shell_word(path)
        ),
    }
}

fn windows_denied(path: &Path) -> String {
    format!(
        "end any other program that has {} open; if there is none, take the board off the cable and put it back, and \
         see in the device manager that the port works",
        path.display()
    )
}

fn other_denied(path: &Path) -> String {
    format!("see who may use it with `ls -l {}`", shell_word(path))
}

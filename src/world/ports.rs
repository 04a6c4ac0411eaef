//! Which ports there are, the only plausible one, and where one may have come back.
//!
//! Promises: nothing is opened here; with none or several plausible ports none is chosen.
//! Must not be here: ports that nobody lists, such as pseudo-terminals: their path is given.

use super::system;
use crate::seam::PortInfo;
use std::fmt;
use std::path::Path;
use std::sync::Arc;

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

/// Lists ports: the system's own list, or one that stands for it.
pub type Lister = Arc<dyn Fn() -> Vec<Listed> + Send + Sync>;

/// Why no port is chosen.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum NoChoice {
    /// Nothing is plugged in.
    #[error("no board is plugged in over USB; plug one in, or name its port with --port")]
    None,
    /// Several are.
    #[error("several ports could be the board's; name one with --port:{}", List(.0))]
    Several(Vec<PortInfo>),
}

struct List<'p>(&'p [PortInfo]);

impl fmt::Display for List<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|port| {
            write!(f, "\n  {}", port.name)?;
            let mut words: Vec<String> = [&port.maker, &port.product].into_iter().flatten().cloned().collect();
            words.extend(port.serial.iter().map(|serial| format!("serial number {serial}")));
            if words.is_empty() { Ok(()) } else { write!(f, "  ({})", words.join(", ")) }
        })
    }
}

/// Every port that the system lists, by name.
#[must_use]
pub fn list() -> Vec<Listed> {
    let mut ports = (system::here().list)();
    ports.sort_by(|a, b| a.info.name.cmp(&b.info.name));
    ports
}

/// The only plausible one of these.
///
/// # Errors
/// [`NoChoice`] where there is none, or more than one.
pub fn only_plausible(ports: Vec<Listed>) -> Result<PortInfo, NoChoice> {
    let mut plausible: Vec<PortInfo> = ports.into_iter().filter(|port| port.plausible).map(|port| port.info).collect();
    match plausible.len() {
        0 => Err(NoChoice::None),
        1 => Ok(plausible.swap_remove(0)),
        _ => Err(NoChoice::Several(plausible)),
    }
}

/// What a list says of the port behind a path, through links.
#[must_use]
pub fn info_of(path: &Path, ports: Vec<Listed>) -> Option<PortInfo> {
    let real = path.canonicalize().ok()?;
    ports.into_iter().map(|port| port.info).find(|info| Path::new(&info.name) == real)
}

/// A port that was opened and was not, or not yet, what is looked for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tried {
    /// The device's own name, links followed.
    pub name: String,
    /// Whether another board answered there: it is left alone as long as it stays plugged in.
    pub other: bool,
}

/// Where a device may be after it left, in the order in which to try: `path` is what it was opened by, `before` what
/// was known of it then.
///
/// With a USB serial number only the device that has it. Without one, first what stands behind the old path, then
/// every other port with the same USB numbers and no serial number; what was tried already comes last, and what is
/// another board's not at all. What is no USB device stays where it was.
#[must_use]
pub fn candidates(path: &str, before: &PortInfo, ports: &[Listed], tried: &[Tried]) -> Vec<String> {
    let infos = || ports.iter().map(|port| &port.info).filter(|now| now.usb == before.usb);
    if before.serial.is_some() {
        return infos().filter(|now| now.serial == before.serial).map(|now| now.name.clone()).collect();
    }
    if before.usb.is_none() {
        return vec![path.to_owned()];
    }
    let real = Path::new(path).canonicalize().map_or_else(|_| path.to_owned(), |real| real.display().to_string());
    // Another kind of device behind the old name is not it.
    let old = infos().any(|now| now.name == real).then(|| path.to_owned());
    let others = infos().filter(|now| now.serial.is_none() && now.name != real).map(|now| now.name.clone());
    let device = |name: &String| if name == path { real.clone() } else { name.clone() };
    let place = |name: &String| tried.iter().position(|tried| tried.name == device(name));
    let mut all: Vec<String> =
        old.into_iter().chain(others).filter(|name| place(name).is_none_or(|at| !tried[at].other)).collect();
    // Untried ones first; a stable order keeps the old path before the others.
    all.sort_by_key(|name| place(name).map_or(0, |at| at + 1));
    all
}

//! Which ports there are, and the only plausible one.
//!
//! Promises: nothing is opened here; with none or several plausible ports none is chosen.
//! Must not be here: ports that nobody lists, such as pseudo-terminals: their path is given.

use super::system;
pub use super::system::Listed;
use crate::seam::PortInfo;
use std::fmt;
use std::path::Path;
use std::sync::Arc;

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

//! Which ports there are, and the only plausible one.
//!
//! Promises: nothing is opened here; with none or several plausible ports none is chosen.
//! Must not be here: ports that nobody lists, such as pseudo-terminals: their path is given.

use crate::bench::seam::PortInfo;
use serialport::{SerialPortInfo, SerialPortType};
use std::fmt;
use std::path::Path;

/// A port as the system lists it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Listed {
    /// What is known of it.
    pub info: PortInfo,
    /// Whether a board may well be behind it: it is a USB device.
    pub plausible: bool,
}

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
            let words: Vec<&str> = [&port.maker, &port.product].into_iter().flatten().map(String::as_str).collect();
            if words.is_empty() { Ok(()) } else { write!(f, "  ({})", words.join(", ")) }
        })
    }
}

/// Every port that the system lists, by name.
#[must_use]
pub fn list() -> Vec<Listed> {
    // The library panics on a Linux without this folder, as in some containers.
    if cfg!(target_os = "linux") && !Path::new("/sys/class/tty").is_dir() {
        return Vec::new();
    }
    let mut ports: Vec<Listed> =
        serialport::available_ports().unwrap_or_default().into_iter().filter_map(listed).collect();
    ports.sort_by(|a, b| a.info.name.cmp(&b.info.name));
    ports
}

fn listed(port: SerialPortInfo) -> Option<Listed> {
    // Each port has two names there; this one waits for a carrier that no board gives.
    if cfg!(target_os = "macos") && port.port_name.starts_with("/dev/tty.") {
        return None;
    }
    let name = port.port_name;
    Some(match port.port_type {
        SerialPortType::UsbPort(usb) => Listed {
            info: PortInfo {
                name,
                product: usb.product,
                maker: usb.manufacturer,
                serial: usb.serial_number.filter(|serial| !serial.is_empty()),
                usb: Some((usb.vid, usb.pid)),
            },
            plausible: true,
        },
        _ => Listed { info: PortInfo { name, ..PortInfo::default() }, plausible: false },
    })
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

/// What the list says of the port behind a path, through links.
pub(super) fn info_of(path: &Path) -> Option<PortInfo> {
    let real = path.canonicalize().ok()?;
    list().into_iter().map(|port| port.info).find(|info| Path::new(&info.name) == real)
}

/// Where a device is now, by its USB numbers and serial number.
pub(super) fn find_again(before: &PortInfo) -> Option<PortInfo> {
    let serial = before.serial.as_ref()?;
    list().into_iter().map(|port| port.info).find(|now| now.serial.as_ref() == Some(serial) && now.usb == before.usb)
}

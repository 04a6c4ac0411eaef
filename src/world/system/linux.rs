//! Ports on Linux: listed from `/sys`, denied by the node's own group, held as `/proc` tells.
//!
//! Read by ourselves: the library panics where there is no `/sys/class/tty`, as in some containers, and a device that
//! vanishes while it lists makes its whole list fail. Promises: what is missing or unreadable is left out.
//! Sources: the kernel's Documentation/ABI/testing/sysfs-bus-usb (attributes of a USB device) and sysfs-tty (`type`,
//! 0 where no chip was found), `proc_pid_fd(5)`, `group(5)`.

use super::Listed;
use crate::language::characters::shell_word;
use crate::seam::PortInfo;
use std::fs;
use std::os::unix::fs::MetadataExt;
use std::path::{Path, PathBuf};

/// Climbed at most from a port to its USB device.
const DEPTH: usize = 12;
/// Longest name of a device that is taken over, in characters.
const LONGEST: usize = 126;

pub(super) fn list() -> Vec<Listed> {
    listed_under(Path::new("/"))
}

/// Every serial port of a system whose files lie under `root`, by name.
#[must_use]
pub fn listed_under(root: &Path) -> Vec<Listed> {
    let Ok(entries) = fs::read_dir(root.join("sys/class/tty")) else { return Vec::new() };
    let by_id = links(&root.join("dev/serial/by-id"));
    let mut ports: Vec<Listed> = entries.flatten().filter_map(|entry| listed(root, &entry.path(), &by_id)).collect();
    ports.sort_by(|a, b| a.info.name.cmp(&b.info.name));
    ports
}

fn listed(root: &Path, class: &Path, by_id: &[(PathBuf, PathBuf)]) -> Option<Listed> {
    let short = class.file_name()?.to_str()?;
    // Consoles and pseudo-terminals have no device; a place of the board's for which no chip was found is none.
    let device = class.join("device").canonicalize().ok()?;
    if attribute(class, "type").as_deref() == Some("0") {
        return None;
    }
    let node = root.join("dev").join(short);
    if !node.exists() {
        return None;
    }
    let real = node.canonicalize().ok()?;
    let links = by_id
        .iter()
        .filter(|(_, to)| *to == real)
        .filter_map(|(link, _)| Some(format!("/dev/serial/by-id/{}", link.file_name()?.to_str()?)))
        .collect();
    let usb = device.ancestors().take(DEPTH).find(|folder| folder.join("idVendor").exists());
    let name = format!("/dev/{short}");
    let Some(usb) = usb else {
        return Some(Listed { info: PortInfo { name, ..PortInfo::default() }, plausible: false, links });
    };
    let number = |which| u16::from_str_radix(&attribute(usb, which)?, 16).ok();
    let info = PortInfo {
        name,
        product: attribute(usb, "product"),
        maker: attribute(usb, "manufacturer"),
        serial: attribute(usb, "serial"),
        usb: number("idVendor").zip(number("idProduct")),
        ..PortInfo::default()
    };
    Some(Listed { info, plausible: true, links })
}

/// One attribute of a device, if it has it and something stands in it.
fn attribute(device: &Path, which: &str) -> Option<String> {
    let bytes = fs::read(device.join(which)).ok()?;
    let text: String = String::from_utf8_lossy(&bytes).trim().chars().take(LONGEST).collect();
    (!text.is_empty()).then_some(text)
}

/// The links in a folder, each with what it leads to.
fn links(folder: &Path) -> Vec<(PathBuf, PathBuf)> {
    let Ok(entries) = fs::read_dir(folder) else { return Vec::new() };
    let mut links: Vec<_> =
        entries.flatten().filter_map(|entry| Some((entry.path(), entry.path().canonicalize().ok()?))).collect();
    links.sort();
    links
}

pub(super) fn denied(path: &Path) -> String {
    let Ok(found) = path.metadata() else {
        return format!("see who may use it with `ls -l {}`", shell_word(path));
    };
    denied_by(found.gid(), found.mode(), &fs::read_to_string("/etc/group").unwrap_or_default())
}

/// What to do about a port whose node has this group and mode, from the text of `/etc/group`.
#[must_use]
pub fn denied_by(gid: u32, mode: u32, groups: &str) -> String {
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
              SUBSYSTEM==\"tty\", SUBSYSTEMS==\"usb\", GROUP=\"dialout\", MODE=\"0660\" in a file under \
              /etc/udev/rules.d, then plug it in again"
            .to_owned(),
    }
}

/// The first other process that has the port open, as far as we may look: those of other users are not shown to us.
pub(super) fn holder(path: &Path) -> Option<String> {
    let real = path.canonicalize().ok()?;
    let own = std::process::id();
    let processes = fs::read_dir("/proc").ok()?.flatten();
    let mut numbers: Vec<u32> = processes
        .filter_map(|entry| entry.file_name().to_str()?.parse().ok())
        .filter(|number| *number != own)
        .collect();
    numbers.sort_unstable();
    let holding = numbers.into_iter().filter_map(|number| {
        let open = fs::read_dir(format!("/proc/{number}/fd")).ok()?.flatten();
        let open: Vec<PathBuf> = open.filter_map(|entry| fs::read_link(entry.path()).ok()).collect();
        // Whoever has the other side of a pseudo-terminal serves it, and may keep this side open for that alone.
        let serves = open.iter().any(|to| to.ends_with("ptmx"));
        open.contains(&real).then_some((serves, number))
    });
    holding.min().map(|(_, number)| {
        let name = fs::read_to_string(format!("/proc/{number}/comm")).unwrap_or_default();
        format!("{} (process {number})", if name.trim().is_empty() { "a program" } else { name.trim() })
    })
}

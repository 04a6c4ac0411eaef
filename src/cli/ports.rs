//! `quadjig ports`: what is plugged in. Opens nothing.

use super::options::Reporting;
use super::output::{Format, Output};
use crate::report::gate;
use crate::seam::exit::Exit;
use crate::world::ports::{self, Listed};
use serde::Serialize;
use std::fmt::Write;

/// List the serial ports, and which could be a board's. Opens none of them.
///
/// Pseudo-terminals, TCP and UDP addresses are never listed; their name can be given to --port all the same.
#[derive(Debug, clap::Args)]
#[command(after_help = "Examples:\n  quadjig ports\n  quadjig ports --format json")]
pub struct Ports {
    #[command(flatten)]
    reporting: Reporting,
}

#[derive(Serialize)]
struct Report {
    schema: &'static str,
    ports: Vec<PortJson>,
}

#[derive(Serialize)]
struct PortJson {
    name: String,
    plausible: bool,
    product: Option<String>,
    maker: Option<String>,
    serial: Option<String>,
    usb: Option<UsbJson>,
    links: Vec<String>,
}

#[derive(Serialize)]
struct UsbJson {
    vendor: String,
    product: String,
}

impl Ports {
    /// Lists; having none is no failure.
    pub fn run(self, out: &mut Output) -> Exit {
        let ports = ports::list();
        match self.reporting.format {
            Format::Text => out.report(&text(&ports, out.plain)),
            Format::Json => {
                let ports = ports.into_iter().map(json).collect();
                out.json(&Report { schema: "quadjig.ports/1", ports });
            }
        }
        Exit::Done
    }
}

fn json(port: Listed) -> PortJson {
    let info = port.info;
    let usb = info
        .usb
        .map(|(vendor, product)| UsbJson { vendor: format!("{vendor:04x}"), product: format!("{product:04x}") });
    PortJson {
        name: info.name,
        plausible: port.plausible,
        product: info.product,
        maker: info.maker,
        serial: info.serial,
        usb,
        links: port.links,
    }
}

/// One port a line; what a device says of itself passes the gate.
fn text(ports: &[Listed], plain: bool) -> String {
    if ports.is_empty() {
        return "no serial ports\n".to_owned();
    }
    let width = ports.iter().map(|port| port.info.name.chars().count()).max().unwrap_or(0);
    let width = if plain { 0 } else { width };
    let mut text = String::new();
    for port in ports {
        let info = &port.info;
        let mut said = vec![if port.plausible { "could be a board" } else { "no USB device" }.to_owned()];
        said.extend([&info.maker, &info.product].into_iter().flatten().map(|text| gate::line(text).into_owned()));
        said.extend(info.serial.iter().map(|serial| format!("serial number {}", gate::line(serial))));
        said.extend(port.links.iter().map(|link| format!("also {}", gate::line(link))));
        let (name, mark) = (gate::line(&info.name), if plain { ": " } else { "  " });
        // Writing into a string cannot fail.
        let _ = writeln!(text, "{name:<width$}{mark}{}", said.join(", "));
    }
    text
}

#[cfg(test)]
mod tests {
    use super::{json, text};
    use crate::seam::PortInfo;
    use crate::world::ports::Listed;

    fn listed() -> Vec<Listed> {
        let built_in = PortInfo { name: "/dev/ttyS0".to_owned(), ..PortInfo::default() };
        let board = PortInfo {
            name: "/dev/ttyACM0".to_owned(),
            product: Some("Finch\u{1b}[2J".to_owned()),
            maker: None,
            serial: Some("A1".to_owned()),
            usb: Some((0x1209, 0xa)),
            ..PortInfo::default()
        };
        let links = vec!["/dev/serial/by-id/usb-Finch".to_owned()];
        vec![
            Listed { info: board, plausible: true, links },
            Listed { info: built_in, plausible: false, links: Vec::new() },
        ]
    }

    #[test]
    fn a_port_is_one_line() {
        let expected = "/dev/ttyACM0  could be a board, Finch\\u{1b}[2J, serial number A1, also /dev/serial/by-id/usb-Finch\n\
                        /dev/ttyS0    no USB device\n";
        assert_eq!(text(&listed(), false), expected);
        assert!(text(&listed(), true).ends_with("\n/dev/ttyS0: no USB device\n"));
        assert_eq!(text(&[], false), "no serial ports\n");
    }

    #[test]
    fn usb_numbers_have_four_digits() {
        let first = listed().remove(0);
        let usb = json(first).usb.unwrap();
        assert_eq!((usb.vendor.as_str(), usb.product.as_str()), ("1209", "000a"));
    }
}

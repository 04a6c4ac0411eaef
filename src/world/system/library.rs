//! Ports as the serial port library lists them, for systems whose lists we do not read ourselves.
//!
//! Must not be here: Linux, where the library panics without `/sys/class/tty`.

use super::Listed;
use crate::seam::PortInfo;
use serialport::{SerialPortInfo, SerialPortType};

/// Every port; none where the system gives no list.
pub(super) fn list() -> Vec<Listed> {
    if cfg!(target_os = "linux") {
        return Vec::new();
    }
    serialport::available_ports().unwrap_or_default().into_iter().map(listed).collect()
}

/// The same without the names that wait for a carrier that no board gives: each port has two names there.
pub(super) fn without_waiting() -> Vec<Listed> {
    let mut ports = list();
    ports.retain(|port| !port.info.name.starts_with("/dev/tty."));
    ports
}

fn listed(port: SerialPortInfo) -> Listed {
    let name = port.port_name;
    match port.port_type {
        SerialPortType::UsbPort(usb) => Listed {
            info: PortInfo {
                name,
                product: usb.product,
                maker: usb.manufacturer,
                serial: usb.serial_number.filter(|serial| !serial.is_empty()),
                usb: Some((usb.vid, usb.pid)),
                ..PortInfo::default()
            },
            plausible: true,
            links: Vec::new(),
        },
        _ => Listed { info: PortInfo { name, ..PortInfo::default() }, plausible: false, links: Vec::new() },
    }
}

#[cfg(test)]
mod tests {
    use super::listed;
    use serialport::{SerialPortInfo, SerialPortType, UsbPortInfo};

    #[test]
    fn only_usb_could_be_a_board_and_an_empty_serial_number_is_none() {
        let usb = UsbPortInfo {
            vid: 0x1209,
            pid: 10,
            serial_number: Some(String::new()),
            manufacturer: None,
            product: Some("Finch".to_owned()),
        };
        let port = |port_type| listed(SerialPortInfo { port_name: "COM3".to_owned(), port_type });
        let board = port(SerialPortType::UsbPort(usb));
        assert_eq!((board.plausible, board.info.usb, board.info.serial), (true, Some((0x1209, 10)), None));
        assert!(!port(SerialPortType::BluetoothPort).plausible);
    }
}

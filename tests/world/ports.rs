//! Ports as the system lists them; the only plausible one is chosen.

use quadjig::seam::PortInfo;
use quadjig::world::ports::{Listed, NoChoice, info_of, list, only_plausible};
use quadjig::world::system::{MACOS, OTHER, WINDOWS, denied_by, here, listed_under};
use std::fs;
use std::os::unix::fs::symlink;
use std::path::Path;

fn usb(name: &str, product: Option<&str>) -> Listed {
    let product = product.map(str::to_owned);
    let info = PortInfo { name: name.to_owned(), product, usb: Some((0x1209, 10)), ..PortInfo::default() };
    Listed { info, plausible: true, links: Vec::new() }
}

fn built_in() -> Listed {
    let mut port = usb("/dev/ttyS0", None);
    port.info.usb = None;
    Listed { plausible: false, ..port }
}

#[test]
fn one_is_taken_and_a_built_in_port_never_is() {
    let chosen = only_plausible(vec![built_in(), usb("/dev/ttyACM0", Some("Finch"))]).unwrap();
    assert_eq!(chosen.name, "/dev/ttyACM0");
    assert_eq!(only_plausible(vec![built_in()]), Err(NoChoice::None));
}

#[test]
fn several_are_listed() {
    let mut second = usb("/dev/ttyACM1", None);
    second.info.serial = Some("A1".to_owned());
    let ports = vec![usb("/dev/ttyACM0", Some("Finch")), built_in(), second];
    let error = only_plausible(ports).unwrap_err();
    insta::assert_snapshot!(error, @r"
    several ports could be the board's; name one with --port:
      /dev/ttyACM0  (Finch)
      /dev/ttyACM1  (serial number A1)
    ");
}

/// A device folder with these attributes, a port below it, and the port's place in the class.
fn device(root: &Path, port: &str, folder: &str, usb: &[(&str, &str)], class: &[(&str, &str)]) {
    let device = root.join("sys/devices").join(folder);
    let interface = device.join("1-1:1.0");
    let place = interface.join("tty").join(port);
    fs::create_dir_all(&place).unwrap();
    for (name, text) in usb {
        fs::write(device.join(name), format!("{text}\n")).unwrap();
    }
    for (name, text) in class {
        fs::write(place.join(name), format!("{text}\n")).unwrap();
    }
    symlink("../..", place.join("device")).unwrap();
    fs::create_dir_all(root.join("sys/class/tty")).unwrap();
    let to = format!("../../devices/{folder}/1-1:1.0/tty/{port}");
    symlink(to, root.join("sys/class/tty").join(port)).unwrap();
    fs::create_dir_all(root.join("dev")).unwrap();
    fs::write(root.join("dev").join(port), "").unwrap();
}

/// The tree as the kernel lays it out (Documentation/ABI/testing/sysfs-bus-usb, sysfs-tty).
#[test]
fn linux_tells_names_serial_numbers_and_lasting_links() {
    let folder = tempfile::tempdir().unwrap();
    let root = folder.path();
    assert_eq!(listed_under(root), [], "a system without /sys/class/tty, as some containers are");
    let finch = [
        ("idVendor", "1209"),
        ("idProduct", "000a"),
        ("product", "Finch"),
        ("manufacturer", "Bench"),
        ("serial", "A1"),
    ];
    device(root, "ttyACM0", "usb1/1-1", &finch, &[]);
    device(root, "ttyUSB0", "usb1/1-2", &[("idVendor", "1209"), ("idProduct", "000b"), ("serial", " ")], &[]);
    device(root, "ttyS0", "pnp0", &[], &[("type", "4")]);
    // A place without a chip, a port whose node is gone, and what is no device at all.
    device(root, "ttyS1", "platform", &[], &[("type", "0")]);
    device(root, "ttyACM7", "usb1/1-7", &finch, &[]);
    fs::remove_file(root.join("dev/ttyACM7")).unwrap();
    fs::create_dir_all(root.join("sys/devices/virtual/tty/tty1")).unwrap();
    symlink("../../devices/virtual/tty/tty1", root.join("sys/class/tty/tty1")).unwrap();
    symlink("../../devices/gone", root.join("sys/class/tty/ttyACM8")).unwrap();
    fs::create_dir_all(root.join("dev/serial/by-id")).unwrap();
    symlink("../../ttyACM0", root.join("dev/serial/by-id/usb-Bench_Finch_A1-if00")).unwrap();
    symlink("../../ttyACM9", root.join("dev/serial/by-id/usb-gone")).unwrap();

    let ports = listed_under(root);
    let names: Vec<(&str, bool)> = ports.iter().map(|port| (port.info.name.as_str(), port.plausible)).collect();
    assert_eq!(names, [("/dev/ttyACM0", true), ("/dev/ttyS0", false), ("/dev/ttyUSB0", true)]);
    let board = PortInfo {
        name: "/dev/ttyACM0".to_owned(),
        product: Some("Finch".to_owned()),
        maker: Some("Bench".to_owned()),
        serial: Some("A1".to_owned()),
        usb: Some((0x1209, 10)),
        ..PortInfo::default()
    };
    assert_eq!(ports[0].info, board);
    assert_eq!(ports[0].links, ["/dev/serial/by-id/usb-Bench_Finch_A1-if00"]);
    assert_eq!((ports[2].info.usb, &ports[2].info.serial), (Some((0x1209, 11)), &None), "blanks are no serial number");
}

#[test]
fn this_machine_can_be_asked() {
    for port in list() {
        assert!(Path::new(&port.info.name).exists(), "{port:?}");
    }
}

#[test]
fn a_denied_port_says_what_to_do_on_each_system() {
    let groups = "root:x:0:\ndialout:x:20:ann\n";
    assert!(denied_by(20, 0o020_660, groups).contains("sudo usermod -aG dialout $USER"));
    for (gid, mode) in [(0, 0o020_600), (20, 0o020_600), (77, 0o020_660)] {
        let words = denied_by(gid, mode, groups);
        assert!(words.contains("udev rule") && words.contains("/etc/udev/rules.d"), "{gid}: {words}");
    }
    let tty = Path::new("/dev/tty.usbmodem1");
    assert_eq!((MACOS.denied)(tty), "use the port's other name, /dev/cu.usbmodem1");
    assert!((MACOS.denied)(Path::new("/dev/cu.usbmodem1")).contains("ls -l /dev/cu.usbmodem1"));
    assert!((WINDOWS.denied)(Path::new("COM3")).contains("any other program that has COM3 open"));
    assert!((OTHER.denied)(Path::new("/dev/cuaU0")).contains("ls -l /dev/cuaU0"));
    for system in [MACOS, WINDOWS, OTHER] {
        assert_eq!((system.holder)(tty), None, "what a system does not tell is not guessed");
    }
}

#[test]
fn the_node_itself_says_which_group() {
    let folder = tempfile::tempdir().unwrap();
    let node = folder.path().join("node");
    fs::write(&node, "").unwrap();
    fs::set_permissions(&node, std::os::unix::fs::PermissionsExt::from_mode(0o600)).unwrap();
    assert!((here().denied)(&node).contains("udev rule"));
}

fn port(name: &str, serial: Option<&str>) -> Listed {
    let mut port = usb(name, None);
    port.info.serial = serial.map(str::to_owned);
    port
}

#[test]
fn a_link_is_followed_to_what_is_listed() {
    let folder = tempfile::tempdir().unwrap();
    let (node, link) = (folder.path().canonicalize().unwrap().join("ttyACM0"), folder.path().join("by-id"));
    fs::write(&node, "").unwrap();
    symlink("ttyACM0", &link).unwrap();
    let ports = || vec![built_in(), port(&node.display().to_string(), Some("A1"))];
    assert_eq!(info_of(&link, ports()).unwrap().serial.as_deref(), Some("A1"));
    assert_eq!(info_of(Path::new("/no/such"), ports()), None);
}

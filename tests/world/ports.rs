//! The only plausible port is chosen; none or several are an error that says so.

use quadjig::bench::seam::PortInfo;
use quadjig::world::ports::{Listed, NoChoice, only_plausible};

fn usb(name: &str, product: Option<&str>) -> Listed {
    let info = PortInfo { name: name.to_owned(), product: product.map(str::to_owned), ..PortInfo::default() };
    Listed { info, plausible: true }
}

fn built_in() -> Listed {
    Listed { plausible: false, ..usb("/dev/ttyS0", None) }
}

#[test]
fn one_is_taken_and_a_built_in_port_never_is() {
    let chosen = only_plausible(vec![built_in(), usb("/dev/ttyACM0", Some("Finch"))]).unwrap();
    assert_eq!(chosen.name, "/dev/ttyACM0");
    assert_eq!(only_plausible(vec![built_in()]), Err(NoChoice::None));
}

#[test]
fn several_are_listed() {
    let ports = vec![usb("/dev/ttyACM0", Some("Finch")), built_in(), usb("/dev/ttyACM1", None)];
    let error = only_plausible(ports).unwrap_err();
    insta::assert_snapshot!(error, @r"
    several ports could be the board's; name one with --port:
      /dev/ttyACM0  (Finch)
      /dev/ttyACM1
    ");
}

//! Port finding as a machine: where a board may have come back, in which order, and for how long it is looked for.

use quadjig::machines::port_search::{Doing, KnownPort, Place, PortsSeen, Search};
use quadjig::measure::time::Time;
use quadjig::seam::{OpenError, PortInfo};
use std::time::Duration;

const NOW: Time = Time(5_000_000);
const PATH: &str = "/dev/ttyACM0";

fn port(name: &str, serial: Option<&str>) -> PortInfo {
    PortInfo {
        name: name.to_owned(),
        serial: serial.map(str::to_owned),
        usb: Some((0x1209, 10)),
        ..PortInfo::default()
    }
}

fn busy() -> OpenError {
    OpenError::Busy { port: PATH.to_owned(), by: None }
}

fn known(info: &PortInfo) -> KnownPort {
    Search::first(NOW, PATH.to_owned(), &mut KnownPort::default()).found(info.clone())
}

/// What is tried in one round, each place refused.
fn round(search: &mut Search, now: Time, ports: &[PortInfo]) -> Vec<String> {
    assert!(matches!(search.next(now), Doing::Look(_)));
    search.looked(now, &PortsSeen { ports: ports.to_vec(), device: PATH.to_owned(), gone: Vec::new() });
    let mut tried = Vec::new();
    while let Doing::Open(place) = search.next(now) {
        tried.push(match place {
            Place::AsNamed => "as named".to_owned(),
            Place::Path(path) => path,
        });
        search.refused(now, busy());
    }
    tried
}

fn tried(known: &mut KnownPort, ports: &[PortInfo]) -> Vec<String> {
    round(&mut Search::again(NOW, PATH.to_owned(), known), NOW, ports)
}

#[test]
fn with_a_serial_number_only_that_device_is_it() {
    let before = port(PATH, Some("A1"));
    let ports = [port(PATH, Some("B2")), port("/dev/ttyACM1", Some("A1")), port("/dev/ttyACM2", None)];
    assert_eq!(tried(&mut known(&before), &ports), ["/dev/ttyACM1"]);
    assert_eq!(tried(&mut known(&before), &ports[..1]), Vec::<String>::new());
}

/// Its other port speaks as well, and not the same.
#[test]
fn of_two_ports_of_one_device_the_one_that_was_named_comes_first() {
    let before = port(PATH, Some("A1"));
    let ports = [port("/dev/ttyACM-1", Some("A1")), port(PATH, Some("A1"))];
    assert_eq!(tried(&mut known(&before), &ports), [PATH, "/dev/ttyACM-1"]);
}

#[test]
fn without_one_the_old_name_comes_first_and_what_is_another_boards_never() {
    let before = port(PATH, None);
    let mut other_kind = port("/dev/ttyUSB0", None);
    other_kind.usb = Some((0x1209, 11));
    let built_in = PortInfo { usb: None, ..port("/dev/ttyS0", None) };
    let ports = [
        port("/dev/ttyACM1", None),
        port(PATH, None),
        port("/dev/ttyACM2", Some("A1")),
        port("/dev/ttyACM3", None),
        other_kind,
        built_in,
    ];
    let after = |places: &[(&str, bool)]| {
        let mut known = known(&before);
        for (device, other) in places {
            known.not_this((*device).to_owned(), *other);
        }
        tried(&mut known, &ports)
    };
    assert_eq!(after(&[]), ["as named", "/dev/ttyACM1", "/dev/ttyACM3"]);
    // A silent one, perhaps a bootloader, is tried again after the others.
    assert_eq!(after(&[(PATH, false)]), ["/dev/ttyACM1", "/dev/ttyACM3", "as named"]);
    assert_eq!(after(&[(PATH, true), ("/dev/ttyACM1", false)]), ["/dev/ttyACM3", "/dev/ttyACM1"]);
    // The old name alone is no reason: another kind of device may have got it.
    assert_eq!(tried(&mut known(&before), &ports[4..]), Vec::<String>::new());
}

#[test]
fn what_is_no_usb_device_stays_where_it_was() {
    let before = PortInfo { name: "/tmp/finch".to_owned(), ..PortInfo::default() };
    assert_eq!(tried(&mut known(&before), &[port(PATH, None)]), ["as named"]);
    assert_eq!(tried(&mut KnownPort::default(), &[port(PATH, None)]), ["as named"], "never open, nothing known");
}

#[test]
fn another_boards_place_is_left_alone_only_while_it_stays_plugged_in() {
    let mut known = known(&port(PATH, None));
    known.not_this("/dev/ttyACM1".to_owned(), true);
    known.not_this("/dev/ttyACM3".to_owned(), false);
    known.forget_silent();
    let mut search = Search::again(NOW, PATH.to_owned(), &mut known);
    let ports = [port("/dev/ttyACM1", None), port("/dev/ttyACM3", None)];
    assert_eq!(search.next(NOW), Doing::Look(vec!["/dev/ttyACM1".to_owned()]));
    let seen = PortsSeen { ports: ports.to_vec(), device: PATH.to_owned(), gone: Vec::new() };
    search.looked(NOW, &seen);
    assert_eq!(search.next(NOW), Doing::Open(Place::Path("/dev/ttyACM3".to_owned())));
    search.refused(NOW, busy());
    let later = NOW + Duration::from_millis(100);
    assert_eq!(search.next(NOW), Doing::Wait(later));
    search.next(later);
    search.looked(later, &PortsSeen { gone: vec!["/dev/ttyACM1".to_owned()], ..seen });
    assert_eq!(search.next(later), Doing::Open(Place::Path("/dev/ttyACM1".to_owned())));
    // And that it went is not forgotten with this search.
    let mut known = search.found(port("/dev/ttyACM1", None));
    assert_eq!(Search::again(later, PATH.to_owned(), &mut known).next(later), Doing::Look(Vec::new()));
}

/// Runs a search that only meets this error, and says after how long it is given up.
fn patience(mut search: Search, error: &OpenError) -> Duration {
    let mut now = NOW;
    loop {
        match search.next(now) {
            Doing::Look(_) => search.looked(now, &PortsSeen { device: PATH.to_owned(), ..PortsSeen::default() }),
            Doing::Open(_) => search.refused(now, error.clone()),
            Doing::Wait(until) => now = until,
            Doing::GiveUp(said) => {
                assert_eq!(&said, error);
                return now.since(NOW);
            }
        }
        assert!(now.since(NOW) < Duration::from_secs(60));
    }
}

#[test]
fn only_our_own_earlier_use_is_waited_for_and_what_left_for_half_a_minute() {
    let (denied, first) =
        (OpenError::Denied { port: PATH.to_owned(), hint: String::new() }, |known: &mut KnownPort| {
            Search::first(NOW, PATH.to_owned(), known)
        });
    let mut port = KnownPort::default();
    assert_eq!(patience(first(&mut port), &busy()), Duration::ZERO, "somebody else has it");
    assert_eq!(patience(first(&mut port), &busy()), Duration::from_millis(600));
    assert_eq!(patience(first(&mut port), &denied), Duration::ZERO);
    let again = |known: &mut KnownPort| Search::again(NOW, PATH.to_owned(), known);
    assert_eq!(patience(again(&mut port), &denied), Duration::from_secs(30));
    let missing = OpenError::Missing(PATH.to_owned());
    let mut gone = known(&self::port(PATH, Some("A1")));
    assert_eq!(patience(again(&mut gone), &missing), Duration::from_secs(30));
}

//! The link and the virtual boards that speak in packets understand each other: quick, slow, paced, cut off, stopped.

use super::kit::{OnBoard, done, name, packets, settings, text, write};
use quadjig::board::packets::PacketSheet;
use quadjig::board::packets::framing::Packet;
use quadjig::board::signals::{Done, Link, LinkEvent, Request, Stream, Ticket};
use quadjig::board::value::Number;
use quadjig::virtual_board::{BoardKind, WireConfig, WorldConfig};
use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::time::Duration;

const KINDS: [BoardKind; 2] = [BoardKind::FinchP, BoardKind::FinchQ];

fn config(board: BoardKind, baud: Option<u32>) -> WorldConfig {
    let wire = WireConfig { baud, ..WireConfig::default() };
    WorldConfig { board, wire, seed: 42, ..WorldConfig::default() }
}

#[test]
fn identify_list_write_store_restart() {
    for (board, baud) in [(KINDS[0], None), (KINDS[1], None), (KINDS[0], Some(115_200)), (KINDS[1], Some(19_200))] {
        let mut bench = OnBoard::new(config(board, baud));
        let heard = bench.wait(1000);
        assert!(heard.iter().any(|heard| matches!(heard, LinkEvent::Alive { armed: false, .. })), "{heard:?}");
        let (done, heard) = bench.ask(Request::Identify, 1000);
        assert_eq!(done, Done::Ok);
        assert!(heard.iter().any(|heard| matches!(
            heard,
            LinkEvent::Identity(who) if who.id == "766972740000002a" && who.kind == board.name() && who.firmware == "2.4.1"
        )));

        let (done, heard) = bench.ask(Request::ListSettings, 4000);
        assert_eq!(done, Done::Ok, "{board:?}, {baud:?}");
        let truth = bench.world.truth();
        let listed = settings(&heard);
        let known = truth["settings"].as_object().unwrap();
        assert_eq!(listed.len(), known.len());
        for (setting, value) in &listed {
            let real = known[setting]["working"].as_f64().unwrap();
            assert!(value.same(Number::Real(real)), "{setting}: {value:?} {real}");
        }

        assert_eq!(bench.ask(write("IDLE_US", 1105), 1000).0, Done::Ok);
        let (done, _) = bench.ask(write("IDLE_US", 2000), 1000);
        assert_eq!(done, Done::Refused("the board answered no: IDLE_US refused: takes 1000 to 1250".to_owned()));
        assert_eq!(bench.ask(Request::WriteSetting(name("VOLT_RATIO"), Number::Real(11.25)), 1000).0, Done::Ok);
        assert_eq!(bench.ask(write("ACCEL_OFF_Z", -16_777_219), 1000).0, Done::Ok);
        assert_eq!(bench.ask(Request::Store, 1000).0, Done::Ok);
        assert_eq!(bench.ask(Request::Restart, 1000).0, Done::Ok);
        let heard = bench.wait(2500);
        assert!(heard.contains(&LinkEvent::Banner), "{heard:?}");
        let truth = bench.world.truth();
        for (setting, value) in [("IDLE_US", 1105.0), ("VOLT_RATIO", 11.25), ("ACCEL_OFF_Z", -16_777_219.0)] {
            let is = truth["settings"][setting]["working"].as_f64();
            assert_eq!(is, Some(value), "{board:?}: {setting} after the restart");
        }
    }
}

/// As often as was asked over a wire that is fast enough; as many as it carries over a slow one, the armed flag first.
#[test]
fn signals_come_as_often_as_the_wire_allows() {
    let rates = [
        (Stream::Alive, 10),
        (Stream::Channels, 50),
        (Stream::Outputs, 50),
        (Stream::Attitude, 20),
        (Stream::Power, 10),
        (Stream::Speeds, 20),
    ];
    for board in KINDS {
        for (baud, least) in [(None, 48), (Some(115_200), 48), (Some(9600), 5)] {
            let mut bench = OnBoard::new(config(board, baud));
            bench.world.line(bench.now, "battery in").unwrap();
            bench.wait(500);
            for (stream, rate) in rates {
                assert_eq!(bench.ask(Request::Stream(stream, Some(rate)), 500).0, Done::Ok);
            }
            let heard = bench.wait(2000);
            let count = |what: fn(&LinkEvent) -> bool| heard.iter().filter(|heard| what(heard)).count() / 2;
            assert!(count(|heard| matches!(heard, LinkEvent::Alive { .. })) >= 9, "{board:?} {baud:?}");
            let channels = count(|heard| matches!(heard, LinkEvent::Channels { count: 16, .. }));
            assert!((least..=52).contains(&channels), "{board:?} {baud:?}: {channels}");
            let seen = |what: fn(&LinkEvent) -> bool| assert!(count(what) >= 2, "{board:?} {baud:?}");
            seen(
                |heard| matches!(heard, LinkEvent::Outputs { pulses, .. } if pulses[..5] == [1000, 1000, 1000, 1000, 0]),
            );
            // It stands at 0.3 and −0.2 degrees.
            seen(
                |heard| matches!(heard, LinkEvent::Attitude { roll, pitch, .. } if (roll - 0.005).abs() < 0.004 && (pitch + 0.003).abs() < 0.004),
            );
            seen(|heard| matches!(heard, LinkEvent::Power { millivolts: Some(7000..8500), .. }));
            seen(|heard| matches!(heard, LinkEvent::Speeds { first: 0, count: 4, .. }));
        }
    }
}

/// One packet of each length that the link sends, whatever it is for: a write holds as many bytes as the answer that it
/// follows from.
fn sent(sheet: &PacketSheet) -> BTreeMap<usize, Vec<u8>> {
    let asks = sheet.exchanges.values().filter_map(|exchange| exchange.ask.as_ref());
    let asks = asks.chain(sheet.settings.iter().map(|packet| &packet.ask)).map(|ask| (ask.id, ask.payload.clone()));
    let writes = sheet.settings.iter().filter_map(|packet| Some((packet.write?, vec![1; packet.answer.length])));
    let packets = asks.chain(writes).map(|(id, payload)| sheet.framing.encode(&Packet { id, sequence: 1, payload }));
    packets.map(|bytes| (bytes.len(), bytes)).collect()
}

/// A motor that runs stops at once, whatever packet stands half sent, cut anywhere, and whatever waits for its answer.
#[test]
fn a_stop_works_at_any_moment() {
    for board in KINDS {
        let mut bench = OnBoard::new(config(board, Some(50_000)));
        bench.world.line(bench.now, "battery in").unwrap();
        bench.wait(3000);
        assert_eq!(bench.ask(Request::RunMotor { motor: 2, pulse: 1150, lease_ms: 3000 }, 300).0, Done::Ok);
        bench.wait(50);
        assert!(bench.world.outputs().iter().any(|pulse| *pulse > 1100), "{:?}", bench.world.outputs());
        let mut out = Vec::new();
        bench.link.send(bench.now, Ticket(900), Request::Identify, &mut out);
        let stop = bench.link.stop_bytes(false).unwrap();
        assert!(stop.len() <= 64, "{board:?}: {} bytes", stop.len());
        let all = sent(&packets(text(if board == BoardKind::FinchQ { "finch-q" } else { "finch-p" })));
        assert!(all.len() > 5 && all.keys().any(|length| *length > 40), "{board:?}: {:?}", all.keys());
        for (length, packet) in all {
            for cut in 0..length {
                let mut world = bench.world.clone();
                world.receive(bench.now, &packet[..cut]);
                world.receive(bench.now, &stop);
                world.advance(bench.now + Duration::from_millis(30));
                let outputs = world.outputs();
                assert!(outputs.iter().all(|pulse| *pulse <= 1000), "{board:?}, {cut} of {length}: {outputs:?}");
            }
        }
    }
}

/// Bytes cut off, by a fault or a plug, end in an answer or in words; never in a half-read value.
#[test]
fn what_is_cut_off_is_asked_again() {
    for board in KINDS {
        for cut in 0..40_usize {
            let mut bench = OnBoard::new(config(board, None));
            bench.wait(500);
            let (mut out, mut heard) = (Vec::new(), Vec::new());
            bench.link.send(bench.now, Ticket(900), Request::ListSettings, &mut out);
            bench.world.receive(bench.now, &out);
            let said = bench.world.take_output();
            bench.link.receive(bench.now, &said[..said.len() * cut / 40], &mut heard);
            heard.extend(bench.wait(3000));
            let truth = bench.world.truth();
            for (setting, value) in settings(&heard) {
                let real = truth["settings"][&setting]["working"].as_f64().unwrap_or_else(|| panic!("{setting}"));
                assert!(value.same(Number::Real(real)), "{cut}: {setting} {value}");
            }
            assert_eq!(done(&heard, 900), Some(Done::Ok), "{board:?} {cut}");
        }
    }
}

/// The sheet of a board with more settings: each packet of spare ones holds twelve numbers of 32 bits.
fn with_spare(stem: &str, spare: usize) -> String {
    let mut sheet = text(stem).to_owned();
    let base = if stem == "finch-q" { 0x0500 } else { 0 };
    for (place, group) in (1..=spare).collect::<Vec<_>>().chunks(12).enumerate() {
        let (ask, write) = (base + 0x26 + place, base + 0x46 + place);
        let (answer, written) = (ask + 0x80, write + 0x80);
        writeln!(
            sheet,
            "\n[packets.settings.spare-{place}]\nask = {ask}\nanswer = {answer}\nwrite = {write}\nwritten = {written}\n\
             [packets.settings.spare-{place}.fields]"
        )
        .unwrap();
        for (field, number) in group.iter().enumerate() {
            writeln!(sheet, "SPARE_{number} = {{ at = {}, type = \"i32\" }}", 4 * field).unwrap();
        }
    }
    sheet
}

/// Reading 200 settings takes at most 1.15 times what its own bytes need on the wire, both ways.
#[test]
fn reading_all_settings_takes_little_longer_than_its_bytes() {
    for (board, stem) in [(KINDS[0], "finch-p"), (KINDS[1], "finch-q")] {
        for baud in [9600, 57_600, 115_200, 460_800] {
            let wire = WireConfig { baud: Some(baud), settings: 200, ..WireConfig::default() };
            let config = WorldConfig { board, wire, seed: 42, ..WorldConfig::default() };
            let own = quadjig::virtual_board::World::new(config.clone()).truth()["settings"].as_object().unwrap().len();
            let spare = own - if board == BoardKind::FinchQ { 100 } else { 80 };
            let mut bench = OnBoard::with(config, packets(&with_spare(stem, spare)));
            bench.wait(1000);
            // Nothing else is asked for meanwhile.
            assert_eq!(bench.ask(Request::Stream(Stream::Alive, None), 100).0, Done::Ok);
            bench.wait(100);
            (bench.sent, bench.came) = (Vec::new(), 0);
            let began = bench.now;
            let (done, heard) = bench.ask(Request::ListSettings, 60_000);
            assert_eq!(done, Done::Ok);
            assert_eq!(settings(&heard).len(), 200, "{board:?}");
            let took = bench.now.since(began).as_secs_f64();
            let bytes = bench.sent.len() + bench.came;
            let wire = 10.0 * f64::from(u32::try_from(bytes).unwrap()) / f64::from(baud);
            assert!(took <= 1.15 * wire, "{board:?} at {baud}: {took} s, {wire} s on the wire");
        }
    }
}

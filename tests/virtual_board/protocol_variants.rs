//! Boards that speak MAVLink in their own ways, and the project's own link with them.

use super::with_link::{Bench, name};
use mavlink::dialects::common::{COMMAND_LONG_DATA, MavCmd, MavMessage};
use mavlink::{MAVLinkMessageRaw, MAVLinkV2MessageRaw, MavHeader, MavlinkReader};
use quadjig::board::mavlink::MavlinkLink;
use quadjig::board::mavlink::signing::{Key, Untrusted};
use quadjig::board::signals::{Done, Link, LinkEvent, Request, Stream, Ticket};
use quadjig::board::value::Number;
use quadjig::measure::time::Time;
use quadjig::virtual_board::{Encoding, Intervals, ProtocolConfig, Secret, Versions, WireConfig, World, WorldConfig};

/// Some timestamp of these years, in units of 10 µs.
const BEGAN: u64 = 37_000_000_000_000;

fn speaking(speech: ProtocolConfig) -> WorldConfig {
    WorldConfig { speech, ..WorldConfig::default() }
}

fn keyed(key: [u8; 32]) -> WorldConfig {
    speaking(ProtocolConfig { key: Some(Secret(key)), ..ProtocolConfig::default() })
}

/// Who it is, all settings, and one written: the work of every run.
fn works(bench: &mut Bench) {
    // Ours first: a board without a clock takes up our time.
    assert_eq!(bench.ask(Request::Heartbeat, 1500).0, Done::Ok);
    assert_eq!(bench.ask(Request::Identify, 500).0, Done::Ok);
    assert_eq!(bench.ask(Request::ListSettings, 3000).0, Done::Ok);
    assert!(bench.link.encoding_proved());
    assert_eq!(bench.ask(Request::WriteSetting(name("IDLE_US"), Number::Whole(1123)), 500).0, Done::Ok);
    assert_eq!(bench.world.truth()["settings"]["IDLE_US"]["working"], 1123);
}

fn texts(heard: &[LinkEvent]) -> Vec<&str> {
    heard
        .iter()
        .filter_map(|heard| if let LinkEvent::Text { text, .. } = heard { Some(text.as_str()) } else { None })
        .collect()
}

#[test]
fn a_board_of_every_version_is_worked_with() {
    for versions in [Versions::First, Versions::Switching, Versions::Second] {
        for encoding in [Encoding::Bytewise, Encoding::Cast] {
            let config = speaking(ProtocolConfig { versions, ..ProtocolConfig::default() });
            works(&mut Bench::new(WorldConfig { encoding, ..config }));
        }
    }
    // A stop reaches one that reads nothing but the first.
    let mut bench = Bench::new(speaking(ProtocolConfig { versions: Versions::First, ..ProtocolConfig::default() }));
    bench.wait(1500);
    bench.world.line(bench.now, "battery in").unwrap();
    assert_eq!(bench.ask(Request::RunMotor { motor: 2, pulse: 1150, lease_ms: 2000 }, 300).0, Done::Ok);
    assert_eq!(bench.world.outputs(), [1000, 1150, 1000, 1000]);
    let stop = bench.link.stop_bytes(false).unwrap();
    bench.world.receive(bench.now, &stop);
    assert_eq!(bench.world.outputs(), [1000; 4]);
}

/// Markers of the frames in some bytes: 0xFE the first version, 0xFD the second.
fn markers(bytes: &[u8]) -> Vec<u8> {
    quadjig::board::mavlink::frames(bytes).iter().map(|frame| frame[0]).collect()
}

#[test]
fn a_switching_board_goes_over_to_the_second_version_when_it_hears_it() {
    let mut world = World::new(speaking(ProtocolConfig { versions: Versions::Switching, ..ProtocolConfig::default() }));
    world.advance(Time(500_000));
    let before = markers(&world.take_output());
    assert!(!before.is_empty() && before.iter().all(|marker| *marker == 0xFE));
    let mut hello = Vec::new();
    MavlinkLink::new(None).send(Time(0), Ticket(1), Request::Heartbeat, &mut hello);
    world.receive(Time(500_000), &hello);
    world.advance(Time(1_500_000));
    let after = markers(&world.take_output());
    assert!(!after.is_empty() && after.iter().all(|marker| *marker == 0xFD));
}

#[test]
fn a_board_with_our_key_is_worked_with_signed() {
    let key = [7; 32];
    let mut bench = Bench::with(keyed(key), MavlinkLink::signed(None, Key::new(key), BEGAN));
    works(&mut bench);
    // Before it heard us its clock was years behind; nothing else was refused.
    let Untrusted { unsigned, foreign, .. } = bench.link.untrusted();
    assert_eq!((unsigned, foreign), (0, 0));
    // A stop that was held is taken after other frames.
    bench.world.line(bench.now, "battery in").unwrap();
    assert_eq!(bench.ask(Request::RunMotor { motor: 2, pulse: 1150, lease_ms: 3000 }, 100).0, Done::Ok);
    let held = bench.link.held_stop_bytes().unwrap();
    assert_eq!(bench.ask(Request::Heartbeat, 100).0, Done::Ok);
    assert_eq!(bench.world.outputs(), [1000, 1150, 1000, 1000]);
    bench.world.receive(bench.now, &held);
    assert_eq!(bench.world.outputs(), [1000; 4]);
    // Bytes that were heard before do nothing a second time.
    assert_eq!(bench.ask(Request::RunMotor { motor: 2, pulse: 1150, lease_ms: 3000 }, 100).0, Done::Ok);
    bench.world.receive(bench.now, &held);
    assert_eq!(bench.world.outputs(), [1000, 1150, 1000, 1000]);
}

#[test]
fn another_key_or_none_is_no_conversation() {
    let (ours, theirs) = ([7; 32], [8; 32]);
    let signed = || MavlinkLink::signed(None, Key::new(ours), BEGAN);
    let mut bench = Bench::with(keyed(theirs), signed());
    bench.wait(3000);
    assert_eq!(bench.link.bound(), None);
    assert!(bench.link.untrusted().foreign > 10);
    let mut bench = Bench::with(WorldConfig::default(), signed());
    bench.wait(3000);
    assert_eq!(bench.link.bound(), None);
    assert!(bench.link.untrusted().unsigned > 10);
    // Without a key it is heard, and answers nothing.
    let mut bench = Bench::new(keyed(theirs));
    let heard = bench.wait(1500);
    assert!(heard.contains(&LinkEvent::Signed));
    assert_eq!(bench.ask(Request::Identify, 6000).0, Done::Silent);
}

#[test]
fn the_boards_signatures_are_the_message_crates() {
    let key = [7; 32];
    let mut world = World::new(keyed(key));
    world.advance(Time(1_200_000));
    let bytes = world.take_output();
    let mut reader = MavlinkReader::new(&bytes[..]);
    let (mut count, mut last) = (0, 0);
    while let Ok(raw) = reader.read_any_raw_message::<MavMessage>() {
        let MAVLinkMessageRaw::V2(frame) = raw else { panic!("version 1") };
        let mut sum = [0; 6];
        frame.calculate_signature(&key, &mut sum);
        assert_eq!(sum, frame.signature_value());
        assert!(frame.signature_timestamp() > last);
        last = frame.signature_timestamp();
        count += 1;
    }
    assert!(count > 10, "{count}");
}

#[test]
fn errors_of_settings_come_in_words() {
    let mut bench = Bench::new(speaking(ProtocolConfig { errors: true, ..ProtocolConfig::default() }));
    works(&mut bench);
    let refused = |done: &Done| matches!(done, Done::Refused(_));
    let (done, _) = bench.ask(Request::ReadSetting(name("NOT_THERE")), 500);
    assert_eq!(done, Done::Refused("the board refused setting NOT_THERE: it does not exist".to_owned()));
    let (done, heard) = bench.ask(Request::WriteSetting(name("IDLE_US"), Number::Whole(1300)), 500);
    assert!(refused(&done) && format!("{done:?}").contains("out of its range"), "{done:?}");
    assert!(texts(&heard)[0].contains("IDLE_US refused: takes"), "the board's own words come beside it");
}

#[test]
fn long_work_is_waited_for_with_its_progress() {
    let mut bench = Bench::new(speaking(ProtocolConfig { store_takes: 5, ..ProtocolConfig::default() }));
    works(&mut bench);
    let (done, heard) = bench.ask(Request::Store, 6000);
    assert_eq!(done, Done::Ok);
    let said: Vec<Option<u8>> = heard
        .iter()
        .filter_map(|heard| if let LinkEvent::Progress { percent, .. } = heard { Some(*percent) } else { None })
        .collect();
    assert_eq!(said, [0, 20, 40, 60, 80].map(Some));
    assert_eq!(bench.world.truth()["settings"]["IDLE_US"]["stored"], 1123);
}

/// Another station's command for an interval (common.xml, `MAV_CMD_SET_MESSAGE_INTERVAL`).
fn by_another_hand(message: u16, microseconds: f32) -> Vec<u8> {
    let data = COMMAND_LONG_DATA {
        param1: message.into(),
        param2: microseconds,
        command: MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL,
        target_system: 1,
        target_component: 1,
        ..COMMAND_LONG_DATA::default()
    };
    let mut raw = MAVLinkV2MessageRaw::new();
    let header = MavHeader { system_id: 254, component_id: 26, sequence: 0 };
    raw.serialize_message(header, &MavMessage::COMMAND_LONG(data));
    raw.raw_bytes().to_vec()
}

#[test]
fn intervals_are_put_back_as_they_were_or_by_default() {
    // Attitude comes 5 times a second by itself; before us another hand made it 2.
    for (intervals, left) in [(Intervals::Requested, 2), (Intervals::Commanded, 2), (Intervals::Untold, 5)] {
        let mut bench = Bench::new(speaking(ProtocolConfig { intervals, ..ProtocolConfig::default() }));
        bench.wait(1500);
        let by_hand = by_another_hand(30, 500_000.0);
        bench.world.receive(bench.now, &by_hand);
        bench.wait(100);
        let count = |bench: &mut Bench| {
            bench.wait(3000).iter().filter(|heard| matches!(heard, LinkEvent::Attitude { .. })).count() / 3
        };
        assert_eq!(count(&mut bench), 2, "{intervals:?}");
        assert_eq!(bench.ask(Request::Stream(Stream::Attitude, Some(20)), 1000).0, Done::Ok);
        assert_eq!(count(&mut bench), 20, "{intervals:?}");
        assert_eq!(bench.ask(Request::Stream(Stream::Attitude, None), 1000).0, Done::Ok);
        assert_eq!(count(&mut bench), left, "{intervals:?}");
    }
}

#[test]
fn others_on_the_wire_are_told_and_not_spoken_to() {
    let others = vec![(2, 1), (1, 2)];
    let mut bench = Bench::new(speaking(ProtocolConfig { others, ..ProtocolConfig::default() }));
    let heard = bench.wait(3000);
    let bound = bench.link.bound().unwrap();
    let rivals: Vec<_> = heard.iter().filter(|heard| matches!(heard, LinkEvent::Rival { .. })).collect();
    assert_eq!(rivals.len(), 2, "{bound:?}");
    let mut bench = Bench::with(
        speaking(ProtocolConfig { others: vec![(2, 1)], ..ProtocolConfig::default() }),
        MavlinkLink::new(Some(1)),
    );
    works(&mut bench);
    assert_eq!(bench.link.bound(), Some((1, 1)));
}

#[test]
fn loss_is_counted_by_sender() {
    let wire = WireConfig { loss: 0.1, ..WireConfig::default() };
    let mut bench = Bench::new(WorldConfig {
        wire,
        ..speaking(ProtocolConfig { others: vec![(2, 1)], ..ProtocolConfig::default() })
    });
    bench.wait(60_000);
    let loss = bench.link.loss(1, 1);
    let all = loss.heard + loss.lost;
    // Some 17 messages a second; a tenth of them is lost, give or take.
    assert!(all > 900 && (all / 14..all / 7).contains(&loss.lost), "{loss:?}");
    assert_eq!(bench.link.frames(), Some((loss.heard, loss.lost)));
    let other = bench.link.loss(2, 1);
    assert!((58..=61).contains(&(other.heard + other.lost)), "{other:?}");
}

#[test]
fn what_is_lost_of_a_long_text_is_marked() {
    let wire = WireConfig { loss: 0.3, ..WireConfig::default() };
    let mut bench = Bench::new(WorldConfig { wire, ..WorldConfig::default() });
    bench.wait(3000);
    let chunks = ["a".repeat(50), "b".repeat(50), "c".repeat(30)];
    let (mut whole, mut gaps) = (0, 0);
    for _ in 0..40 {
        bench.world.line(bench.now, &format!("say {}", chunks.concat())).unwrap();
        for text in texts(&bench.wait(1500)) {
            // Each chunk is there or marked, in its place.
            let mut rest = text;
            for chunk in &chunks {
                rest = rest.strip_prefix(chunk.as_str()).or_else(|| rest.strip_prefix('…')).unwrap_or(rest);
            }
            assert_eq!(rest, "", "{text}");
            if text.contains('…') { gaps += 1 } else { whole += 1 }
        }
    }
    assert!(whole > 5 && gaps > 5, "{whole} whole, {gaps} with gaps");
}

#[test]
fn a_long_text_ends_even_where_its_last_chunk_is_full() {
    for length in [49, 50, 51, 100, 101, 150] {
        let mut bench = Bench::new(WorldConfig::default());
        bench.wait(500);
        let text = "x".repeat(length);
        bench.world.line(bench.now, &format!("say {text}")).unwrap();
        assert_eq!(texts(&bench.wait(100)), [text.as_str()], "{length}");
    }
}

//! The stop, and the gate that every frame passes.

use super::golden::GOLDEN;
use super::kit::{InteractiveSession, commands, frame, hex, message, name};
use crate::spy::is_forced_stop;
use mavlink::dialects::common::{COMMAND_LONG_DATA, HEARTBEAT_DATA, MavCmd, MavMessage, MavProtocolCapability};
use quadjig::board::mavlink::{FrameClass, classify, frames};
use quadjig::board::signals::{Link, Outgoing, Request, Stream};
use quadjig::board::value::Number;

const BYTEWISE: MavProtocolCapability = MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_BYTEWISE;

#[test]
fn a_stop_is_disarms_with_fresh_numbers() {
    let mut desk = InteractiveSession::bound();
    let mut numbers = Vec::new();
    for force in [false, false, true] {
        let bytes = desk.link.stop_bytes(force).unwrap();
        let split = frames(&bytes);
        assert_eq!(split.iter().map(|f| f.len()).sum::<usize>(), bytes.len());
        assert_eq!(split.len(), 2);
        for (n, frame) in split.into_iter().enumerate() {
            assert_eq!(classify(frame), Some(FrameClass::Stop));
            assert_eq!(is_forced_stop(frame), force && n == 1);
            let MavMessage::COMMAND_LONG(stop) = message(frame) else { panic!("not a command") };
            assert_eq!((stop.command, stop.param1), (MavCmd::MAV_CMD_COMPONENT_ARM_DISARM, 0.0));
            assert_eq!((stop.target_system, stop.target_component), (1, 1));
            numbers.push(frame[4]);
        }
    }
    assert!(numbers.windows(2).all(|pair| pair[1] == pair[0].wrapping_add(1)), "{numbers:?}");
}

#[test]
fn a_stop_overtakes_what_writes_stores_restarts_or_turns() {
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    desk.send(1, Request::WriteSetting(name("NUMBER"), Number::Whole(1)));
    desk.send(2, Request::WriteSetting(name("WIDE"), Number::Whole(2)));
    desk.send(3, Request::Store);
    desk.send(4, Request::Store);
    desk.send(5, Request::Restart);
    desk.send(6, Request::RunMotor { motor: 1, pulse: 1100, lease_ms: 500 });
    desk.send(7, Request::Stream(Stream::Outputs, Some(20)));
    desk.sent();
    assert!(desk.link.stop_bytes(false).is_some());
    desk.wait(20_000);
    assert!(desk.classes().iter().all(|class| *class == FrameClass::Looks), "something still left after the stop");
    for ticket in 1..=6 {
        assert_eq!(desk.refusal(ticket), "a stop overtook it");
    }
}

#[test]
fn what_the_link_sends_is_classified_as_what_it_does() {
    let table = [
        (Request::Heartbeat, FrameClass::Heartbeat),
        (Request::Identify, FrameClass::Looks),
        (Request::ListSettings, FrameClass::Looks),
        (Request::ReadSetting(name("NUMBER")), FrameClass::Looks),
        (Request::Stream(Stream::Power, Some(5)), FrameClass::Looks),
        (Request::WriteSetting(name("NUMBER"), Number::Whole(1)), FrameClass::Writes),
        (Request::Store, FrameClass::Stores),
        (Request::Restart, FrameClass::Restarts),
        (Request::RunMotor { motor: 1, pulse: 1100, lease_ms: 500 }, FrameClass::Motor),
        (Request::Disarm { force: false }, FrameClass::Stop),
        (Request::Disarm { force: true }, FrameClass::Stop),
    ];
    for (request, class) in table {
        let mut desk = InteractiveSession::writable(BYTEWISE, 7);
        desk.send(1, request.clone());
        assert_eq!(desk.classes(), [class], "{request:?}");
    }
}

fn command(command: MavCmd, numbers: [f32; 7], target: (u8, u8)) -> Vec<u8> {
    let [param1, param2, param3, param4, param5, param6, param7] = numbers;
    let data = COMMAND_LONG_DATA {
        param1,
        param2,
        param3,
        param4,
        param5,
        param6,
        param7,
        command,
        target_system: target.0,
        target_component: target.1,
        confirmation: 0,
    };
    frame((255, 25), 0, &MavMessage::COMMAND_LONG(data))
}

#[test]
fn the_gate_denies_what_it_does_not_know() {
    use MavCmd::{
        MAV_CMD_ACTUATOR_TEST, MAV_CMD_COMPONENT_ARM_DISARM as ARM, MAV_CMD_DO_MOTOR_TEST as MOTOR,
        MAV_CMD_NAV_TAKEOFF, MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN as RESTART, MAV_CMD_PREFLIGHT_STORAGE as STORE,
    };
    let with = |first: &[f32]| std::array::from_fn(|i| first.get(i).copied().unwrap_or(0.0));
    let denied = [
        ("a forced arming", command(ARM, with(&[1.0, 21196.0]), (1, 1))),
        ("neither arming nor disarming", command(ARM, with(&[0.5]), (1, 1))),
        ("a disarm to all systems", command(ARM, with(&[0.0]), (0, 1))),
        ("a disarm to all components", command(ARM, with(&[0.0]), (1, 0))),
        ("a motor run in per cent", command(MOTOR, with(&[1.0, 0.0, 10.0, 1.0, 1.0]), (1, 1))),
        ("a motor run without limit", command(MOTOR, with(&[1.0, 1.0, 1100.0, 0.0, 1.0]), (1, 1))),
        ("a motor run above the ceiling", command(MOTOR, with(&[1.0, 1.0, 1250.5, 1.0, 1.0]), (1, 1))),
        ("a motor run below rest", command(MOTOR, with(&[1.0, 1.0, 999.0, 1.0, 1.0]), (1, 1))),
        ("a motor run without end", command(MOTOR, with(&[1.0, 1.0, 1100.0, f32::INFINITY, 1.0]), (1, 1))),
        ("a motor run with too long a limit", command(MOTOR, with(&[1.0, 1.0, 1100.0, 6.0, 1.0]), (1, 1))),
        ("several motors", command(MOTOR, with(&[1.0, 1.0, 1100.0, 1.0, 2.0]), (1, 1))),
        ("a motor run that is not a number", command(MOTOR, with(&[1.0, 1.0, f32::NAN, 1.0, 1.0]), (1, 1))),
        ("an actuator test", command(MAV_CMD_ACTUATOR_TEST, with(&[0.0, 1.0]), (1, 1))),
        ("a take-off", command(MAV_CMD_NAV_TAKEOFF, with(&[]), (1, 1))),
        ("a reset of all settings", command(STORE, with(&[2.0]), (1, 1))),
        ("a shutdown", command(RESTART, with(&[2.0]), (1, 1))),
        ("the crate's default heartbeat, which is armed", {
            frame((255, 25), 0, &MavMessage::HEARTBEAT(HEARTBEAT_DATA::default()))
        }),
        ("the crate's default command", {
            frame((255, 25), 0, &MavMessage::COMMAND_LONG(COMMAND_LONG_DATA::default()))
        }),
        ("a list of all systems", hex(GOLDEN[2].1)),
        ("a board's message", hex(GOLDEN[6].1)),
        ("half a frame", hex(GOLDEN[7].1)[..20].to_vec()),
        ("nothing", Vec::new()),
    ];
    for (what, bytes) in denied {
        assert_eq!(classify(&bytes), None, "{what}");
    }
    // No request arms; such a frame is known for what it is, so that it can be refused as that.
    let arming = command(ARM, with(&[1.0]), (1, 1));
    assert_eq!(classify(&arming), Some(FrameClass::Motor));
    let made = InteractiveSession::bound().link.frames_made(&arming);
    assert_eq!(made, [(arming, Outgoing::Arm)]);
    // Two frames are not one, however harmless.
    let disarm = command(ARM, with(&[]), (1, 1));
    assert_eq!(classify(&disarm), Some(FrameClass::Stop));
    assert_eq!(classify(&[&disarm[..], &disarm[..]].concat()), None);
    assert_eq!(commands(&[message(&disarm)]), [(ARM, 0)]);
}

#[test]
fn a_reset_forgets_what_was_open_and_keeps_the_board() {
    let mut desk = InteractiveSession::writable(BYTEWISE, 7);
    desk.send(1, Request::WriteSetting(name("NUMBER"), Number::Whole(1)));
    desk.send(2, Request::ListSettings);
    desk.send(3, Request::Store);
    desk.sent();
    desk.link.reset();
    desk.wait(20_000);
    assert!(desk.out.is_empty() && desk.heard.is_empty());
    assert!(desk.link.stop_bytes(false).is_some());
}

//! What commands that only look put on the wire, judged byte by byte.
//!
//! Source of the numbers: MAVLink common.xml: `COMMAND_LONG` 76, `MAV_CMD_SET_MESSAGE_INTERVAL` 511.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::super::desk::relay::Relay;
use super::{SMALL, whole};
use mavlink::MavlinkReader;
use mavlink::dialects::common::{MavCmd, MavMessage};
use quadjig::board::mavlink::{FrameClass, classify, frames};
use std::collections::BTreeMap;

/// Every frame asks, changes an interval or is a sign of life, and every interval is put back.
fn only_looks(sent: &[u8]) -> usize {
    let frames = frames(sent);
    let bytes: usize = frames.iter().map(|frame| frame.len()).sum();
    assert_eq!(bytes, sent.len(), "whole frames and nothing else");
    let mut intervals = BTreeMap::new();
    for frame in &frames {
        let class = classify(frame);
        assert!(matches!(class, Some(FrameClass::Heartbeat | FrameClass::Looks)), "{class:?}: {frame:?}");
        let (_, message) = MavlinkReader::new(*frame).read_any_message::<MavMessage>().unwrap();
        if let MavMessage::COMMAND_LONG(command) = message
            && command.command == MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL
        {
            intervals.insert(command.param1.to_string(), command.param2);
        }
    }
    // Without an answer to what it was before, 0 asks for the default.
    assert!(intervals.values().all(|interval| *interval <= 0.0), "left changed: {intervals:?}");
    frames.len()
}

#[test]
fn a_dry_run_and_a_snapshot_only_look() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", &whole());
    let mut board = Board::on_tcp();
    let before = board.settings();
    let relay = Relay::before(&board);
    let dry = sandbox.run(&["dry-run", "wren.jig", "--port", &relay.port, "--records", "crafts"]);
    assert!(dry.starts_with("exit code: 0\n"), "{dry}");
    let first = only_looks(&relay.sent());
    assert!(first > 1, "{first} frames");
    let copied = sandbox.run(&["snapshot", "--port", &relay.port, "--records", "crafts"]);
    assert!(copied.starts_with("exit code: 0\n"), "{copied}");
    assert!(only_looks(&relay.sent()) > first);
    assert_eq!(board.settings(), before);
}

#[test]
fn a_check_and_a_refused_run_send_nothing() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", SMALL).write("bad.jig", &SMALL.replace("position 2", "position 3"));
    let board = Board::on_tcp();
    let relay = Relay::before(&board);
    assert!(sandbox.run(&["check", "wren.jig"]).starts_with("exit code: 0\n"));
    for refused in ["run", "dry-run"] {
        let said = sandbox.run(&[refused, "bad.jig", "--port", &relay.port, "--records", "crafts"]);
        assert!(said.starts_with("exit code: 1\n"), "{said}");
        assert!(said.contains("Nothing was opened and nothing was sent: the recipe has errors."), "{said}");
    }
    assert!(relay.sent().is_empty());
}

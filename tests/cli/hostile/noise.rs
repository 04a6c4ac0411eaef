//! Boards that never say a whole word: silent, babbling, half frames for ever, another speed.

use super::port;
use super::script::{Character, Scripted, alive};
use super::{changes, sandbox, says};
use mavlink::MavHeader;
use mavlink::dialects::common::MavMessage;
use std::time::Duration;

/// A sign of life is awaited for six seconds; the rest is the machine's.
const SOON: Duration = Duration::from_secs(14);

/// Says these bytes over and over, as fast as they are taken, and answers nothing.
struct Says(Vec<u8>);

impl Character for Says {
    fn unasked(&mut self, _: Duration) -> Vec<u8> {
        self.0.clone()
    }

    fn answer(&mut self, _: &MavMessage) -> Vec<MavMessage> {
        Vec::new()
    }
}

/// What every command says of such a board; only signs of life were sent to it.
fn meets(said: Vec<u8>, sentence: &str, hint: &str) {
    let board = Scripted::new(Says(said));
    let sandbox = sandbox();
    let expected =
        format!("exit code: 5\n--- stderr\nerror: {sentence}\n  do: {hint}\nNothing was written to the board.\n");
    assert_eq!(says(&sandbox, &["dry-run", "wren.jig"], &board.port, SOON), expected);
    let sent = board.sent();
    assert_eq!(changes(&sent), Vec::<String>::new());
    let (frames, _) = port::frames(&sent);
    assert!(frames.iter().all(|frame| matches!(port::message(frame), MavMessage::HEARTBEAT(_))), "{frames:?}");
}

const NOISE: &str = "PORT is open and something comes in, but no board answers on it";
const NOT_UNDERSTOOD: &str = "what comes in is not understood: check the speed of the port, and that the board speaks there \
                              what its sheet says, MAVLink where no sheet says otherwise; `quadjig listen` shows it, split \
                              by a sheet with --sheet, and `quadjig check-sheet --port` says which checksum fits packets \
                              whose own is not the sheet's";

#[test]
fn silent() {
    let hint = "check that it is the right port, that the board has power, and that it speaks there, at this speed, what its \
                sheet says, MAVLink where no sheet says otherwise";
    meets(Vec::new(), "PORT is open, but no board answers on it", hint);
}

/// Every byte and words, without a pause: among them 0xFD and 0xFE, with which frames begin.
#[test]
fn babbling() {
    let mut said: Vec<u8> = (0..=255).chain((0..=255).rev()).collect();
    said.extend(b"\r\nready> \x1b[2J\x07who?\r\n");
    meets(said, NOISE, NOT_UNDERSTOOD);
}

#[test]
fn half_frames_for_ever() {
    let whole = port::frame(MavHeader { system_id: 1, component_id: 1, sequence: 0 }, &alive());
    // The longest frame announced and broken off, and a true one cut before its end, in turn.
    let mut said = vec![0xFD, 255, 0, 0, 9, 1, 1, 0, 0, 0];
    said.extend(&whole[..whole.len() - 1]);
    meets(said, NOISE, NOT_UNDERSTOOD);
}

/// Signs of life sent at 57,600 baud and read at 115,200: each bit is read twice.
#[test]
fn another_speed() {
    let sent: Vec<u8> = (0..8)
        .flat_map(|sequence| port::frame(MavHeader { system_id: 1, component_id: 1, sequence }, &alive()))
        .collect();
    meets(read_twice_as_fast(&sent), NOISE, NOT_UNDERSTOOD);
}

/// One start bit, eight data bits with the lowest first, one stop bit; between bytes the line is high.
fn read_twice_as_fast(sent: &[u8]) -> Vec<u8> {
    let bits = sent.iter().flat_map(|byte| {
        let data = (0..8).map(move |bit| byte >> bit & 1 == 1);
        std::iter::once(false).chain(data).chain([true, true])
    });
    let line: Vec<bool> = bits.flat_map(|bit| [bit, bit]).collect();
    let (mut read, mut at) = (Vec::new(), 0);
    while at + 10 <= line.len() {
        if line[at] {
            at += 1;
            continue;
        }
        read.push((0..8).fold(0, |byte, bit| byte | u8::from(line[at + 1 + bit]) << bit));
        at += 10;
    }
    read
}

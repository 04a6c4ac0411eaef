//! Rates of streams, and putting them back.

use super::kit::{InteractiveSession, acknowledge};
use mavlink::dialects::common::{MavCmd, MavMessage, MavResult};
use quadjig::board::signals::{Done, Request, Stream};

const ASK: MavCmd = MavCmd::MAV_CMD_REQUEST_MESSAGE;
#[expect(deprecated, reason = "the older question")]
const GET: MavCmd = MavCmd::MAV_CMD_GET_MESSAGE_INTERVAL;
const SET: MavCmd = MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL;

/// Command and first two parameters of the commands that were sent.
fn sent(desk: &mut InteractiveSession) -> Vec<(MavCmd, f32, f32)> {
    let pair = |m: &MavMessage| match m {
        MavMessage::COMMAND_LONG(c) => (c.command, c.param1, c.param2),
        other => panic!("not a command: {other:?}"),
    };
    desk.sent().iter().map(pair).collect()
}

/// `MESSAGE_INTERVAL`: interval in µs, then the message's id (CM).
fn interval(desk: &mut InteractiveSession, message: u16, microseconds: i32) {
    answer(desk, ASK, message, microseconds);
}

fn answer(desk: &mut InteractiveSession, asked: MavCmd, message: u16, microseconds: i32) {
    let mut payload = microseconds.to_le_bytes().to_vec();
    payload.extend(message.to_le_bytes());
    desk.raw_board(244, &payload, 95);
    desk.board(&acknowledge(asked, MavResult::MAV_RESULT_ACCEPTED));
    desk.wait(1);
}

fn refuse(desk: &mut InteractiveSession, asked: MavCmd, result: MavResult) {
    desk.board(&acknowledge(asked, result));
    desk.wait(1);
}

fn accept(desk: &mut InteractiveSession) {
    desk.board(&acknowledge(SET, MavResult::MAV_RESULT_ACCEPTED));
    desk.wait(1);
}

#[test]
fn the_interval_from_before_is_put_back() {
    // −1 is a stream that was off; 0 is not available, for which the default is asked (CM).
    for (before, back) in [(40_000, 40_000.0), (-1, -1.0), (0, 0.0)] {
        let mut desk = InteractiveSession::bound();
        desk.send(1, Request::Stream(Stream::Outputs, Some(50)));
        assert_eq!(sent(&mut desk), [(ASK, 244.0, 36.0)]);
        interval(&mut desk, 36, before);
        assert_eq!(sent(&mut desk), [(SET, 36.0, 20_000.0)]);
        accept(&mut desk);
        assert_eq!(desk.done(1), Some(&Done::Ok));
        // A second change does not ask again, and does not forget.
        desk.send(2, Request::Stream(Stream::Outputs, Some(10)));
        assert_eq!(sent(&mut desk), [(SET, 36.0, 100_000.0)]);
        accept(&mut desk);
        desk.send(3, Request::Stream(Stream::Outputs, None));
        assert_eq!(sent(&mut desk), [(SET, 36.0, back)]);
        accept(&mut desk);
        assert_eq!(desk.done(3), Some(&Done::Ok));
        // Nothing is left to put back.
        desk.send(4, Request::Stream(Stream::Outputs, None));
        desk.wait(1);
        assert!(sent(&mut desk).is_empty());
        assert_eq!(desk.done(4), Some(&Done::Ok));
    }
}

#[test]
fn a_board_that_does_not_tell_gets_its_default_back() {
    let unsupported = MavResult::MAV_RESULT_UNSUPPORTED;
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::Stream(Stream::Channels, Some(20)));
    assert_eq!(sent(&mut desk), [(ASK, 244.0, 65.0)]);
    refuse(&mut desk, ASK, unsupported);
    assert_eq!(sent(&mut desk), [(GET, 65.0, 0.0)], "the older question (CM, superseded)");
    refuse(&mut desk, GET, unsupported);
    assert_eq!(sent(&mut desk), [(SET, 65.0, 50_000.0)]);
    accept(&mut desk);
    // It is not asked again for another stream.
    desk.send(2, Request::Stream(Stream::Outputs, Some(20)));
    assert_eq!(sent(&mut desk), [(SET, 36.0, 50_000.0)]);
    accept(&mut desk);
    for (ticket, stream, message) in [(3, Stream::Channels, 65.0), (4, Stream::Outputs, 36.0)] {
        desk.send(ticket, Request::Stream(stream, None));
        assert_eq!(sent(&mut desk), [(SET, message, 0.0)]);
        accept(&mut desk);
    }
}

#[test]
fn a_board_that_knows_the_older_question_alone_is_asked_by_it() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::Stream(Stream::Channels, Some(20)));
    desk.sent();
    refuse(&mut desk, ASK, MavResult::MAV_RESULT_UNSUPPORTED);
    assert_eq!(sent(&mut desk), [(GET, 65.0, 0.0)]);
    answer(&mut desk, GET, 65, 200_000);
    assert_eq!(sent(&mut desk), [(SET, 65.0, 50_000.0)]);
    accept(&mut desk);
    desk.send(2, Request::Stream(Stream::Outputs, Some(20)));
    assert_eq!(sent(&mut desk), [(GET, 36.0, 0.0)]);
    answer(&mut desk, GET, 36, -1);
    desk.sent();
    accept(&mut desk);
    for (ticket, stream, wanted) in [(3, Stream::Channels, (65.0, 200_000.0)), (4, Stream::Outputs, (36.0, -1.0))] {
        desk.send(ticket, Request::Stream(stream, None));
        assert_eq!(sent(&mut desk), [(SET, wanted.0, wanted.1)]);
        accept(&mut desk);
    }
}

#[test]
fn a_question_that_is_refused_for_one_stream_is_asked_for_the_next() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::Stream(Stream::Speeds, Some(20)));
    desk.sent();
    refuse(&mut desk, ASK, MavResult::MAV_RESULT_DENIED);
    assert_eq!(sent(&mut desk), [(GET, 291.0, 0.0)]);
    refuse(&mut desk, GET, MavResult::MAV_RESULT_DENIED);
    assert_eq!(sent(&mut desk), [(SET, 291.0, 50_000.0)]);
    accept(&mut desk);
    desk.send(2, Request::Stream(Stream::Outputs, Some(20)));
    assert_eq!(sent(&mut desk), [(ASK, 244.0, 36.0)]);
}

#[test]
fn a_board_that_is_silent_when_asked_is_not_asked_again() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::Stream(Stream::Channels, Some(20)));
    desk.wait(5_000);
    assert_eq!(sent(&mut desk).last(), Some(&(SET, 65.0, 50_000.0)));
    accept(&mut desk);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    desk.send(2, Request::Stream(Stream::Outputs, Some(20)));
    // The first change had been sent again meanwhile.
    desk.wait(600);
    assert_eq!(sent(&mut desk), [(SET, 36.0, 50_000.0)]);
}

#[test]
fn streams_are_asked_for_one_after_the_other() {
    // An acknowledgement names only the command, so two of one kind can't be told apart.
    let mut desk = InteractiveSession::bound();
    let all = [
        (Stream::Alive, 0),
        (Stream::Channels, 65),
        (Stream::Outputs, 36),
        (Stream::Attitude, 30),
        (Stream::Power, 1),
        (Stream::Speeds, 291),
    ];
    for (ticket, (stream, _)) in (1..).zip(all) {
        desk.send(ticket, Request::Stream(stream, Some(10)));
    }
    for (_, message) in all {
        let asked = sent(&mut desk);
        assert!(asked.contains(&(ASK, 244.0, f32::from(message))), "{asked:?}");
        interval(&mut desk, message, 1_000_000);
        accept(&mut desk);
    }
    assert!((1..=6).all(|ticket| desk.done(ticket) == Some(&Done::Ok)));
}

#[test]
fn a_rate_of_zero_is_refused() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::Stream(Stream::Alive, Some(0)));
    desk.wait(1);
    assert!(desk.refusal(1).contains("0 Hz"));
    assert!(desk.out.is_empty());
}

//! Commands, their acknowledgements and repeats.

use super::golden::GOLDEN;
use super::kit::{InteractiveSession, acknowledge, commands, frame, hex, raw_frame, version};
use mavlink::dialects::common::{MavCmd, MavMessage, MavProtocolCapability, MavResult};
use quadjig::board::mavlink::{FrameClass, decode};
use quadjig::board::signals::{Done, Link, LinkEvent, Request, Ticket};
use quadjig::measure::time::Time;

const ARM: MavCmd = MavCmd::MAV_CMD_COMPONENT_ARM_DISARM;
const STORE: MavCmd = MavCmd::MAV_CMD_PREFLIGHT_STORAGE;
const ASK: MavCmd = MavCmd::MAV_CMD_REQUEST_MESSAGE;
const RESTART: MavCmd = MavCmd::MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN;
const MOTOR: Request = Request::RunMotor { motor: 3, pulse: 1110, lease_ms: 500 };

#[test]
fn a_disarm_is_as_the_reference_library_makes_it() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::Disarm { force: false });
    let ours = decode(&desk.out).unwrap();
    let golden = hex(GOLDEN[7].1);
    let golden = decode(&golden).unwrap();
    assert_eq!((ours.id, &ours.payload), (golden.id, &golden.payload));
}

/// Parameters of the one command that was sent.
fn params(desk: &mut InteractiveSession) -> (MavCmd, [f32; 7]) {
    let sent = desk.sent();
    let [MavMessage::COMMAND_LONG(c)] = &sent[..] else { panic!("not one command: {sent:?}") };
    assert_eq!((c.target_system, c.target_component, c.confirmation), (1, 1, 0));
    (c.command, [c.param1, c.param2, c.param3, c.param4, c.param5, c.param6, c.param7])
}

#[test]
fn commands_carry_the_standards_parameters() {
    // CM, MAV_CMD.
    let table = [
        (Request::Disarm { force: false }, ARM, [0.0; 7]),
        (Request::Disarm { force: true }, ARM, [0.0, 21196.0, 0.0, 0.0, 0.0, 0.0, 0.0]),
        (Request::Store, STORE, [1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]),
        (Request::Restart, RESTART, [1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]),
        // The message HEARTBEAT has the number 0.
        (Request::ArmedFlag, ASK, [0.0; 7]),
        (MOTOR, MavCmd::MAV_CMD_DO_MOTOR_TEST, [3.0, 1.0, 1110.0, 0.5, 1.0, 0.0, 0.0]),
    ];
    for (request, command, wanted) in table {
        let mut desk = InteractiveSession::bound();
        desk.send(1, request);
        assert_eq!(params(&mut desk), (command, wanted));
    }
}

#[test]
fn what_turns_a_motor_is_never_sent_again() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, MOTOR);
    desk.wait(100_000);
    assert_eq!(desk.classes(), [FrameClass::Motor]);
    assert_eq!(desk.done(1), Some(&Done::Silent));
}

#[test]
fn what_turns_a_motor_never_waits_in_a_queue() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, MOTOR);
    desk.send(2, MOTOR);
    assert_eq!(desk.classes(), [FrameClass::Motor; 2]);
    // The board answers in order.
    desk.board(&acknowledge(MavCmd::MAV_CMD_DO_MOTOR_TEST, MavResult::MAV_RESULT_ACCEPTED));
    desk.board(&acknowledge(MavCmd::MAV_CMD_DO_MOTOR_TEST, MavResult::MAV_RESULT_DENIED));
    desk.wait(1);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    assert!(desk.refusal(2).contains("denied"));
    assert!(desk.out.is_empty());
}

/// The safety model's ceilings: no pulse over 1250 us, no single turning over 5 s.
#[test]
fn a_motor_run_outside_of_its_bounds_is_refused() {
    let mut desk = InteractiveSession::bound();
    let tries = [(0, 1100, 500), (17, 1100, 500), (1, 999, 500), (1, 1251, 500), (1, 1100, 0), (1, 1100, 5001)];
    for (ticket, (motor, pulse, lease_ms)) in (1..).zip(tries) {
        desk.send(ticket, Request::RunMotor { motor, pulse, lease_ms });
        desk.wait(1);
        assert!(desk.refusal(ticket).contains("from 1000 us to 1250 us"), "{}", desk.refusal(ticket));
    }
    assert!(desk.out.is_empty());
}

#[test]
fn harmless_ones_are_repeated_with_the_confirmation_raised() {
    // DG, services/command: confirmation counts the repeats from 0.
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::Store);
    desk.wait(20_000);
    assert_eq!(commands(&desk.sent()), [(STORE, 0), (STORE, 1), (STORE, 2)]);
    assert_eq!(desk.done(1), Some(&Done::Silent));
    desk.send(2, Request::Restart);
    desk.wait(20_000);
    assert_eq!(commands(&desk.sent()), [(RESTART, 0), (RESTART, 1), (RESTART, 2)]);
    assert_eq!(desk.done(2), Some(&Done::Silent));
    assert_eq!(desk.link.wake(), Time::NEVER);
}

/// Worth something now or never, and out of the way soon: what the board says of it late is not said of the next question.
#[test]
fn the_armed_flag_is_asked_for_once_and_makes_way() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::ArmedFlag);
    desk.send(2, Request::Identify);
    assert_eq!(commands(&desk.sent()), [(ASK, 0)]);
    desk.wait(310);
    assert_eq!(desk.done(1), Some(&Done::Silent));
    assert_eq!(commands(&desk.sent()), [(ASK, 0)]);
    desk.board(&acknowledge(ASK, MavResult::MAV_RESULT_DENIED));
    desk.wait(10);
    assert_eq!(desk.done(2), None);
    desk.board(&acknowledge(ASK, MavResult::MAV_RESULT_DENIED));
    desk.wait(10);
    assert!(desk.refusal(2).contains("denied"));
}

#[test]
fn every_result_is_told_in_words() {
    // CM, MAV_RESULT; 200 is in no dialect.
    let table = [
        (1, "temporarily rejected"),
        (2, "denied"),
        (3, "unsupported"),
        (4, "failed"),
        (6, "cancelled"),
        (7, "long form"),
        (8, "integer form"),
        (9, "frame of reference"),
        (10, "in control"),
        (200, "result 200"),
    ];
    for (result, words) in table {
        let mut desk = InteractiveSession::bound();
        desk.send(1, MOTOR);
        desk.bytes(&raw_frame((1, 1), 9, 77, &[209, 0, result], 143));
        desk.wait(1);
        assert!(desk.refusal(1).contains(words), "{}", desk.refusal(1));
    }
}

#[test]
fn in_progress_keeps_waiting_and_sends_nothing() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::Store);
    desk.sent();
    for _ in 0..5 {
        desk.board(&acknowledge(STORE, MavResult::MAV_RESULT_IN_PROGRESS));
        desk.wait(2_000);
    }
    assert_eq!(desk.done(1), None);
    desk.board(&acknowledge(STORE, MavResult::MAV_RESULT_ACCEPTED));
    desk.wait(1);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    assert!(desk.out.is_empty());
    // Not for ever.
    desk.send(2, Request::Store);
    for _ in 0..40 {
        desk.board(&acknowledge(STORE, MavResult::MAV_RESULT_IN_PROGRESS));
        desk.wait(2_000);
    }
    assert_eq!(desk.done(2), Some(&Done::Silent));
}

#[test]
fn progress_is_told_where_the_board_says_how_far_it_is() {
    // DG: COMMAND_ACK.progress is 0 to 100, 255 where not supplied. CM: the fourth byte.
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::Store);
    for (said, percent) in [(0, Some(0)), (40, Some(40)), (100, Some(100)), (255, None), (101, None)] {
        desk.heard.clear();
        desk.bytes(&raw_frame((1, 1), 9, 77, &[245, 0, 5, said], 143));
        assert_eq!(desk.heard, [LinkEvent::Spoke, LinkEvent::Progress { ticket: Ticket(1), percent }]);
    }
    assert_eq!(desk.done(1), None);
}

#[test]
fn an_acknowledgement_for_another_station_is_not_ours() {
    let mut desk = InteractiveSession::bound();
    desk.send(1, MOTOR);
    // Accepted, to 255/190.
    desk.heard.clear();
    desk.bytes(&raw_frame((1, 1), 9, 77, &[209, 0, 0, 0, 0, 0, 0, 0, 255, 190], 143));
    assert_eq!(desk.heard, [LinkEvent::Spoke]);
    desk.wait(1);
    assert_eq!(desk.done(1), None);
}

/// A stop is no request of the link's: what is answered to it tells that somebody is there.
#[test]
fn an_acknowledgement_that_nobody_asked_for_tells_that_somebody_spoke() {
    let mut desk = InteractiveSession::bound();
    desk.heard.clear();
    desk.board(&acknowledge(MavCmd::MAV_CMD_COMPONENT_ARM_DISARM, MavResult::MAV_RESULT_ACCEPTED));
    assert_eq!(desk.heard, [LinkEvent::Spoke]);
}

/// Two stores, the second asked for as the first's repeat was answered, 1.02 s after its first sending.
fn stored_at_the_second_try() -> InteractiveSession {
    let mut desk = InteractiveSession::bound();
    desk.send(1, Request::Store);
    desk.wait(1_020);
    assert_eq!(commands(&desk.sent()), [(STORE, 0), (STORE, 1)]);
    desk.board(&acknowledge(STORE, MavResult::MAV_RESULT_ACCEPTED));
    desk.wait(1);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    desk.send(2, Request::Store);
    desk
}

#[test]
fn a_late_acknowledgement_of_a_repeat_does_not_answer_the_next() {
    let mut desk = stored_at_the_second_try();
    assert_eq!(commands(&desk.sent()), [], "the repeat may still be answered");
    desk.board(&acknowledge(STORE, MavResult::MAV_RESULT_ACCEPTED));
    desk.wait(1);
    assert_eq!(commands(&desk.sent()), [(STORE, 0)]);
    assert_eq!(desk.done(2), None, "that was the answer to the repeat");
    desk.board(&acknowledge(STORE, MavResult::MAV_RESULT_DENIED));
    desk.wait(1);
    assert!(desk.refusal(2).contains("denied"));
}

/// RFC 6298, section 3, says of an answer to what was sent again that it can't be told to which sending it belongs. Counted
/// from the first it took 1.02 s, so the one to the repeat of 1 s is here by then, or lost.
#[test]
fn after_a_lost_acknowledgement_the_next_is_sent_once_and_has_its_own() {
    let mut desk = stored_at_the_second_try();
    desk.wait(1_040);
    assert_eq!(commands(&desk.sent()), [], "the repeat may still be answered");
    desk.wait(30);
    assert_eq!(commands(&desk.sent()), [(STORE, 0)]);
    desk.board(&acknowledge(STORE, MavResult::MAV_RESULT_ACCEPTED));
    desk.wait(10_000);
    assert_eq!(desk.done(2), Some(&Done::Ok));
    assert_eq!(commands(&desk.sent()), [], "sent again");
}

/// On a slow link it is asked who is there more often than answers come: without this the streams would never be asked for.
#[test]
fn whoever_asks_who_it_is_before_a_question_left_has_its_answer() {
    let mut desk = InteractiveSession::bound();
    for ticket in 1..=4 {
        desk.send(ticket, Request::Identify);
    }
    desk.send(5, Request::ArmedFlag);
    assert_eq!(params(&mut desk), (ASK, [148.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]));
    for (done, open) in [(1..=1, 2..=5), (1..=4, 5..=5)] {
        desk.board(&version(7, MavProtocolCapability::empty()));
        desk.board(&acknowledge(ASK, MavResult::MAV_RESULT_ACCEPTED));
        desk.wait(1);
        assert!(done.into_iter().all(|ticket| desk.done(ticket) == Some(&Done::Ok)));
        assert!(open.into_iter().all(|ticket| desk.done(ticket).is_none()));
        assert_eq!(commands(&desk.sent()), [(ASK, 0)]);
    }
}

/// What can't wait takes no answer that may be of one before, however slow the link: rather none at all.
#[test]
fn no_older_acknowledgement_is_taken_for_what_stops_or_turns() {
    // A disarm sent twice, answered once; its repeat's answer comes late, or twice as late as that of the first.
    for late in [20, 900] {
        let mut desk = InteractiveSession::bound();
        desk.send(1, Request::Disarm { force: false });
        desk.wait(400);
        desk.board(&acknowledge(ARM, MavResult::MAV_RESULT_ACCEPTED));
        desk.wait(1);
        assert_eq!(desk.done(1), Some(&Done::Ok));
        desk.sent();
        desk.send(2, Request::Disarm { force: false });
        assert_eq!(commands(&desk.sent()), [(ARM, 0)], "it never waits");
        desk.wait(late);
        desk.board(&acknowledge(ARM, MavResult::MAV_RESULT_ACCEPTED));
        desk.wait(1);
        assert_eq!(desk.done(2), None, "that was the answer to the first");
    }
    // One that went unanswered, and was answered after all once the next had left.
    let mut desk = InteractiveSession::bound();
    desk.send(1, MOTOR);
    desk.wait(1_010);
    assert_eq!(desk.done(1), Some(&Done::Silent));
    desk.send(2, MOTOR);
    desk.board(&acknowledge(MavCmd::MAV_CMD_DO_MOTOR_TEST, MavResult::MAV_RESULT_ACCEPTED));
    desk.wait(1);
    assert_eq!(desk.done(2), None, "that was the answer to the first");
}

/// The same frame twice, as a wire may bring it.
#[test]
fn a_doubled_acknowledgement_answers_one_command() {
    let mut desk = InteractiveSession::bound();
    let accepted = frame((1, 1), 9, &acknowledge(MavCmd::MAV_CMD_DO_MOTOR_TEST, MavResult::MAV_RESULT_ACCEPTED));
    desk.send(1, MOTOR);
    desk.bytes(&accepted);
    desk.wait(1);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    desk.send(2, MOTOR);
    desk.bytes(&accepted);
    desk.wait(1);
    assert_eq!(desk.done(2), None);
}

#[test]
fn our_heartbeat_is_a_ground_stations_and_not_armed() {
    let mut desk = InteractiveSession::new();
    desk.send(1, Request::Heartbeat);
    let frame = decode(&desk.out).unwrap();
    // minimal.xml: type 6 ground station, autopilot 8 invalid, base mode 0.
    assert_eq!(frame.payload[4..7], [6, 8, 0]);
    assert_eq!((frame.version, frame.system, frame.component), (2, 255, 25));
    desk.wait(1);
    assert_eq!(desk.done(1), Some(&Done::Ok));
    assert_eq!(desk.classes(), [FrameClass::Heartbeat]);
}

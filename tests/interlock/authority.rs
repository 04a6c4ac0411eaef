//! Who may be stopped: the one table, row for row, at its limits and past them.

use super::room::{ID, IDLING, RESTING, Room, Signals, UNPLUGGED, adapter, facts, heard, identity, own_usb, step};
use quadjig::board::sheet_file;
use quadjig::board::signals::{LinkEvent, Outgoing};
use quadjig::interlock::Authority::{Disarm, Forced, Nothing};
use quadjig::interlock::{Authority, Breaks, Order, Phase};
use quadjig::seam::PortInfo;
use quadjig::seam::ui::{Delivery, Motors, UiEvent};
use std::rc::Rc;
use std::time::Duration;

const OTHER: &str = "76697274000000ff";
const ZERO: &str = "0000000000000000";

fn turning_on(port: &PortInfo, id: &str) -> Room {
    let mut room = Room::at_rest(port, id, RESTING);
    room.starts(&step(Motors::All), Breaks::default());
    room.says(IDLING, 500).unwrap();
    room
}

/// A craft over whose contact an armed craft answers on the wire that came again.
fn back_armed(mut room: Room, after_ms: u64, id: &str) -> Room {
    room.interlock.lost();
    let _large_words = room.silent(after_ms);
    room.interlock.opened(&adapter());
    assert_eq!(room.interlock.authority(), Nothing, "nobody has answered on this opening");
    room.answers(id);
    let _stopping = room.hears(room.now + Duration::from_millis(20), &heard(IDLING));
    room
}

/// One row: what the craft is, and what may leave.
fn row(what: &str, room: &Room, may: Authority) {
    assert_eq!(room.interlock.authority(), may, "{what}");
}

#[test]
fn in_a_contact_that_stands() {
    let mut room = Room::open(&adapter());
    row("nobody has answered", &room, Nothing);
    room = Room::known(&adapter(), ID);
    row("never seen at rest", &room, Nothing);
    let _nothing_to_stop = room.says(IDLING, 3000);
    row("never seen at rest, and armed", &room, Nothing);
    let mut room = Room::known(&adapter(), ID);
    room.says(RESTING, 980).unwrap();
    row("at rest for less than a second", &room, Nothing);
    room.says(RESTING, 100).unwrap();
    row("seen at rest", &room, Disarm);
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    room.starts(&step(Motors::All), Breaks::default());
    row("start invited", &room, Forced);
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    assert!(room.says(IDLING, 40).is_err());
    row("a start seen to begin that nobody invited", &room, Forced);
    let mut room = turning_on(&adapter(), ID);
    let _stopped = room.says(RESTING, 3000);
    row("stopped and seen at rest", &room, Forced);
}

#[test]
fn after_a_contact_the_warrant_alone() {
    row("warrant", &back_armed(turning_on(&adapter(), ID), 1000, ID), Forced);
    row("warrant at its end", &back_armed(turning_on(&adapter(), ID), 29_900, ID), Forced);
    row("warrant expired", &back_armed(turning_on(&adapter(), ID), 30_000, ID), Nothing);
    row("another id", &back_armed(turning_on(&adapter(), ID), 1000, OTHER), Nothing);
    row("an id that is none", &back_armed(turning_on(&adapter(), ZERO), 1000, ZERO), Nothing);
    row("seen at rest, nothing started", &back_armed(Room::at_rest(&adapter(), ID, RESTING), 1000, ID), Nothing);
    // Stood at rest after the start: what happens from then on is no affair of that start.
    let mut room = turning_on(&adapter(), ID);
    room.says(RESTING, 3000).unwrap();
    room.interlock.start_ends().unwrap();
    room.says(RESTING, 40).unwrap();
    row("seen at rest since", &back_armed(room, 1000, ID), Nothing);
}

#[test]
fn an_id_that_is_none_may_be_stopped_in_its_contact_and_never_after_it() {
    row("seen at rest", &Room::at_rest(&adapter(), ZERO, RESTING), Disarm);
    row("start invited", &turning_on(&adapter(), ZERO), Forced);
}

#[test]
fn out_of_an_announced_restart_a_board_may_come_armed() {
    let restarted = |ms: u64, id: &str| {
        let mut room = Room::at_rest(&adapter(), ID, RESTING);
        room.restarts();
        room.interlock.lost();
        let _waiting = room.silent(ms);
        room.interlock.opened(&adapter());
        room.answers(id);
        room
    };
    row("back in time", &restarted(2000, ID), Disarm);
    row("back in the warrant's time", &restarted(59_900, ID), Disarm);
    row("back too late", &restarted(60_000, ID), Nothing);
    row("another comes", &restarted(2000, OTHER), Nothing);
    // Before it is known how often it says anything, half a second is a silence.
    let mut room = restarted(2000, ID);
    let _waiting = room.silent(600);
    assert_eq!(room.hears(room.now + Duration::from_millis(20), &heard(IDLING)), Ok(()));
    row("whoever is armed after a silence", &room, Nothing);
    room.answers(ID);
    assert!(room.says(IDLING, 40).is_err());
    let mut room = restarted(2000, ID);
    assert!(room.says(IDLING, 40).is_err());
    row("seen armed", &room, Forced);
    let mut room = Room::unplugged();
    room.interlock.invite_plug_in(&[]).unwrap();
    let again = UNPLUGGED;
    room.says(again, 100).unwrap();
    row("a plug-in invited", &back_armed(room, 1000, ID), Disarm);
}

/// How long the craft may be stopped into silence, once a start was invited.
fn into_silence(port: &PortInfo) -> u64 {
    let mut room = turning_on(port, ID);
    let from = room.now;
    while room.interlock.authority() > Nothing && room.now.since(from) < Duration::from_secs(60) {
        let _stopped = room.silent(20);
    }
    u64::try_from(room.now.since(from).as_millis()).unwrap()
}

#[test]
fn into_silence_for_as_long_as_the_wire_can_be_nobody_elses() {
    assert_eq!(into_silence(&adapter()), 3020);
    assert_eq!(into_silence(&own_usb()), 10_020);
    assert_eq!(into_silence(&PortInfo { name: "tcp:192.0.2.1:5760".to_owned(), ..PortInfo::default() }), 3020);
}

#[test]
fn what_speaks_after_a_silence_is_not_stopped_before_it_answered() {
    for (port, silence) in [(adapter(), 1500), (own_usb(), 6000)] {
        let mut room = Room::at_rest(&port, ID, RESTING);
        let _doubt = room.silent(silence);
        let quiet = room.interlock.authority();
        assert!(quiet > Nothing, "{silence} ms: into silence a stop goes on");
        let _frames = room.hears(room.now + Duration::from_millis(20), &heard(IDLING));
        row("frames of nobody knows whom", &room, Nothing);
        assert!(!room.interlock.orders().iter().any(|order| matches!(order, Order::Stop { .. })));
        room.answers(ID);
        row("the same has answered", &room, Disarm);
    }
}

#[test]
fn after_the_first_answer_of_another_craft_nothing_leaves() {
    for port in [adapter(), own_usb()] {
        let mut room = turning_on(&port, ID);
        room.interlock.asks(&Outgoing::Identify);
        room.interlock.hear(&LinkEvent::Identity(identity(OTHER)));
        row("another on the same wire", &room, Nothing);
        let _stopping = room.says(IDLING, 5000);
        row("it goes on", &room, Nothing);
    }
}

#[test]
fn a_command_that_only_looks_stops_nothing() {
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    room.interlock.only_looks();
    row("looking", &room, Nothing);
    room.interlock.stop("a test");
    assert!(room.interlock.orders().is_empty());
}

/// Outputs alone are missing while the craft goes on saying whether it is armed: it is still the same craft, and its stop
/// has to leave.
#[test]
fn a_stream_that_is_missing_takes_no_authority_from_a_craft_that_goes_on_speaking() {
    for port in [adapter(), own_usb()] {
        let mut room = turning_on(&port, ID);
        for _ in 0..20 {
            let [flag, channels, _outputs, attitude, power] = heard(IDLING);
            let now = room.now + Duration::from_millis(20);
            assert_eq!(room.hears(now, &[flag, channels, attitude, power]), Ok(()), "outputs may be so old");
            row("outputs missing", &room, Forced);
        }
    }
}

/// But a flag after a silence of the whole wire, on which streams come often, may be another's; so may what says nothing
/// but that somebody is there, as the answer to a stop does.
#[test]
fn a_flag_that_comes_alone_after_a_silence_of_all_streams_takes_it_until_it_is_known_whose_it_is() {
    let [flag, ..] = heard(IDLING);
    for said in [flag, LinkEvent::Spoke] {
        let mut room = turning_on(&adapter(), ID);
        room.silent(300).unwrap();
        let _said = room.hears(room.now + Duration::from_millis(20), &[said]);
        row("who said it", &room, Nothing);
        room.answers(ID);
        row("the same has answered", &room, Forced);
    }
}

/// Nobody knows yet how often this board tells anything.
#[test]
fn while_it_is_looked_who_is_there_half_a_second_is_a_silence() {
    for (silent, may) in [(300, Disarm), (600, Nothing)] {
        let mut room = Room::known(&adapter(), ID);
        let [flag, ..] = heard(RESTING);
        room.hears(room.now + Duration::from_millis(20), &[flag]).unwrap();
        let _as_it_is = room.silent(silent);
        let _at_rest = room.says(RESTING, 1200);
        row("who rests after it", &room, may);
        room.answers(ID);
        let _at_rest = room.says(RESTING, 1200);
        row("the same has answered", &room, Disarm);
    }
}

/// What is not known for a moment ends no stop, however old that is.
#[test]
fn a_long_stop_goes_on_over_a_moment_in_which_it_is_not_known_who_is_there() {
    let mut room = turning_on(&adapter(), ID);
    room.interlock.stop("a test");
    let _turning_still = room.says(IDLING, 31_000);
    let _waits = room.silent(300);
    let [flag, ..] = heard(IDLING);
    let _whose = room.hears(room.now + Duration::from_millis(20), &[flag]);
    row("whose flag it is", &room, Nothing);
    assert_eq!(room.interlock.phase(), Phase::Stopping);
    room.answers(ID);
    row("the same has answered", &room, Forced);
}

/// What proves nobody keeps nobody alive: after a silence no stop leaves any more, and in the end the contact is over.
#[test]
fn noise_on_a_dead_wire_is_nobody() {
    let mut room = turning_on(&adapter(), ID);
    room.interlock.stop("a test");
    let _stopped = room.silent(400);
    let _noise = room.hears(room.now + Duration::from_millis(20), &[LinkEvent::Unplaced]);
    row("before anybody else can have come", &room, Forced);
    for _ in 0..120 {
        let _waits = room.silent(80);
        let _noise = room.hears(room.now + Duration::from_millis(20), &[LinkEvent::Unplaced]);
        row("whoever it is", &room, Nothing);
    }
    room.answers(OTHER);
    row("another has answered", &room, Nothing);
}

/// On a slow link an answer comes together with what acknowledges it.
#[test]
fn what_comes_with_an_answer_comes_after_no_silence() {
    let mut room = Room::known(&adapter(), ID);
    room.says(RESTING, 1200).unwrap();
    room.interlock.asks(&Outgoing::Identify);
    let _waits = room.silent(700);
    room.interlock.hear(&LinkEvent::Identity(identity(ID)));
    room.interlock.hear(&LinkEvent::Spoke);
    row("acknowledged", &room, Disarm);
}

/// A stop in a restart reaches whoever comes back once it has answered as the same, and nobody else.
#[test]
fn a_stop_in_an_announced_restart_waits_for_the_same_craft() {
    /// Whether stop bytes leave at the next judgement.
    fn stops(room: &mut Room) -> bool {
        room.now = room.now + Duration::from_millis(20);
        room.interlock.wakes(room.now, room.now);
        room.interlock.judge();
        room.interlock.orders().iter().any(|order| matches!(order, Order::Stop { .. }))
    }
    for (id, reached) in [(ID, true), (OTHER, false)] {
        let mut room = Room::at_rest(&adapter(), ID, RESTING);
        room.restarts();
        room.interlock.lost();
        let _waiting = room.silent(500);
        room.interlock.stop("a test");
        let orders = room.interlock.orders();
        assert!(!orders.iter().any(|order| matches!(order, Order::Stop { .. })), "nobody is there");
        assert!(orders.iter().any(|order| matches!(order, Order::Reopen)), "it is looked for: {orders:?}");
        room.interlock.opened(&adapter());
        assert!(!stops(&mut room), "nobody has answered on this opening");
        room.answers(id);
        assert_eq!(stops(&mut room), reached, "{id}");
    }
}

/// Latched, a craft that was seen at rest is watched; another contact, even with the same one, begins without that.
#[test]
fn what_was_seen_at_rest_while_latched_ends_with_its_contact() {
    let mut room = Room::met();
    room.interlock.latch();
    room.says(RESTING, 1500).unwrap();
    let mut watched = Room::met();
    watched.interlock.latch();
    watched.says(RESTING, 1500).unwrap();
    assert!(watched.says(IDLING, 40).is_err(), "watched");
    room.replugged(&PortInfo::default(), ID);
    room.says(IDLING, 400).unwrap();
    assert_eq!(room.interlock.phase(), Phase::Latched, "a craft that was not seen at rest may be flying");
}

/// What the screen is told of a stop: that it leaves, or why not.
#[test]
fn what_is_told_of_a_stop_is_so() {
    fn told(mut room: Room) -> (Delivery, bool) {
        let _of_before = room.interlock.orders();
        room.interlock.stop("a key was pressed");
        let orders = room.interlock.orders();
        let told = orders.iter().find_map(|order| match order {
            Order::Say(UiEvent::StopBegins { delivery, .. }) => Some(*delivery),
            _ => None,
        });
        (told.unwrap(), orders.iter().any(|order| matches!(order, Order::Stop { .. })))
    }
    assert_eq!(told(turning_on(&adapter(), ID)), (Delivery::Sent, true));

    let mut silent = Room::at_rest(&adapter(), ID, RESTING);
    silent.now = silent.now + Duration::from_millis(3100);
    silent.interlock.wakes(silent.now, silent.now);
    assert_eq!(told(silent), (Delivery::Unreached, false));

    let mut leapt = Room::at_rest(&adapter(), ID, RESTING);
    leapt.interlock.hear(&LinkEvent::Leapt);
    assert_eq!(told(leapt), (Delivery::Unsure, false));

    // Nor while switches are worked, as long as nothing moves.
    let worked = |signals: Signals| {
        let mut room = Room::in_phase(Phase::SwitchesWorked);
        room.says(signals, 100).unwrap();
        room.interlock.hear(&LinkEvent::Leapt);
        room
    };
    assert_eq!(told(worked(UNPLUGGED)), (Delivery::Unsure, false));
    assert_eq!(told(worked(Signals { armed: true, ..UNPLUGGED })), (Delivery::Sent, true));

    // It came back armed in a session that was latched: it is known who it is, and it may be flying.
    let mut armed = Room::known(&adapter(), ID);
    armed.interlock.latch();
    let _latched = armed.says(IDLING, 500);
    assert_eq!(told(armed), (Delivery::NeverAtRest, false));

    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/recipes/boards/finch-c.toml");
    let mut text = std::fs::read_to_string(file).unwrap();
    for table in ["[console.stop]", "[console.run-motor]", "[motor-run]"] {
        let (before, rest) = text.split_once(table).unwrap();
        text = format!("{before}{}", &rest[rest.find("\n[").unwrap()..]);
    }
    let sheet = sheet_file::read("try.toml", &text).unwrap();
    let mut stopless = Room::at_rest(&adapter(), ID, RESTING);
    stopless.interlock.take_in(&identity(ID), &Rc::new(sheet), facts());
    stopless.says(RESTING, 1100).unwrap();
    assert_eq!(told(stopless).0, Delivery::NoStop);
}

/// A flag that comes once a second is waited for no longer than until it is asked for: what speaks after that may be another.
#[test]
fn between_two_beats_of_a_rare_flag_another_may_have_come() {
    for (silent, may) in [(1000, Disarm), (1700, Nothing)] {
        let mut room = Room::known(&adapter(), ID);
        let [flag, ..] = heard(RESTING);
        for _ in 0..6 {
            let _beat = room.hears(room.now + Duration::from_millis(20), std::slice::from_ref(&flag));
            let _between = room.silent(980);
        }
        room.answers(ID);
        let _beat = room.hears(room.now + Duration::from_millis(20), std::slice::from_ref(&flag));
        let _waits = room.silent(silent);
        let _at_rest = room.says(RESTING, 1200);
        row("who rests after it", &room, may);
    }
}

/// The hold is there for whoever may be stopped, and for nobody else.
#[test]
fn no_hold_is_armed_for_whom_nobody_has_met() {
    let holds = |room: &mut Room, heard: &[LinkEvent]| {
        (0..20).any(|_| {
            room.now = room.now + Duration::from_millis(20);
            room.interlock.wakes(room.now, room.now);
            for event in heard {
                room.interlock.hear(event);
            }
            room.interlock.judge();
            room.interlock.judge_hold();
            room.interlock.orders().into_iter().any(|order| matches!(order, Order::Hold))
        })
    };
    let mut room = turning_on(&adapter(), ID);
    assert!(holds(&mut room, &heard(IDLING)), "as it turns");
    room.interlock.stop("a test");
    room.replugged_unheard();
    assert_eq!(room.interlock.phase(), Phase::Stopping);
    assert!(!holds(&mut room, &[]), "on a wire on which nobody was heard");
}

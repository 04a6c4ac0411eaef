//! What leaves while a stop goes on, and when whose it is is asked again.

use super::room::{ID, IDLING, RESTING, Room, Signals, adapter, heard, step};
use quadjig::board::binding::BoundNow;
use quadjig::board::signals::LinkEvent;
use quadjig::interlock::{Authority, Breaks, Order, Phase};
use quadjig::language::units::Pulse;
use quadjig::measure::time::Time;
use quadjig::seam::ui::{Motors, UiEvent};
use std::time::Duration;

const TICK: Duration = Duration::from_millis(20);

/// Motors turn by the switch, and nothing has stopped them.
fn turning() -> Room {
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    room.starts(&step(Motors::All), Breaks::default());
    room.says(IDLING, 500).unwrap();
    room
}

/// What is ordered while this comes every 20 ms for so long, each with its time.
fn ordered(room: &mut Room, said: &[LinkEvent], for_ms: u64) -> Vec<(Time, Order)> {
    let mut all = Vec::new();
    for _ in 0..for_ms / 20 {
        room.now = room.now + TICK;
        room.interlock.wakes(room.now, room.now);
        for event in said {
            room.interlock.hear(event);
        }
        room.interlock.judge();
        all.extend(room.interlock.orders().into_iter().map(|order| (room.now, order)));
    }
    all
}

/// When the first plain stop was ordered, and how much later the first forced one.
fn forced_after(orders: &[(Time, Order)]) -> (Time, Duration) {
    let first = |forced: bool| {
        let is = |order: &Order| matches!(order, Order::Stop { force } if *force == forced);
        orders.iter().find(|(_, order)| is(order)).map(|(at, _)| *at).unwrap()
    };
    (first(false), first(true).since(first(false)))
}

/// Who it is was not known when the stop began, so that nothing left: a forced disarm is the second try all the same
/// (safety.md, stop: not before 300 ms).
#[test]
fn a_forced_disarm_is_no_first_try_however_old_the_stop_is() {
    let mut room = turning();
    room.interlock.stop("a test");
    let (_, after) = forced_after(&ordered(&mut room, &heard(IDLING), 600));
    assert!(after >= Duration::from_millis(280) && after <= Duration::from_millis(340), "{after:?}");

    // A computer that slept: whoever is on the wire now may be another.
    let mut unsure = turning();
    unsure.now = unsure.now + Duration::from_secs(3);
    let (now, due) = (unsure.now, unsure.now - Duration::from_secs(3) + TICK);
    unsure.interlock.wakes(now, due);
    unsure.interlock.judge();
    let waits = ordered(&mut unsure, &heard(IDLING), 1000);
    assert_eq!(unsure.interlock.phase(), Phase::Stopping);
    assert!(!waits.iter().any(|(_, order)| matches!(order, Order::Stop { .. })), "{waits:?}");
    unsure.answers(ID);
    let answered = unsure.now;
    let (began, after) = forced_after(&ordered(&mut unsure, &heard(IDLING), 1000));
    assert!(began.since(answered) <= Duration::from_millis(40), "{:?}", began.since(answered));
    assert!(after >= Duration::from_millis(300), "{after:?}");
}

/// Another may have come between the answer and the first message with a clock: the stop goes on, and whose it is is asked.
#[test]
fn a_craft_that_comes_back_in_a_stop_is_asked_again_once_it_has_a_clock() {
    for clock in [false, true] {
        let mut room = turning();
        room.interlock.stop("a test");
        room.replugged(&adapter(), ID);
        assert_eq!(room.interlock.phase(), Phase::Stopping);
        let _of_the_opening = ordered(&mut room, &heard(IDLING), 200);
        // A clock that is told once: one that stood would have to be answered for as well.
        let dated = clock.then_some(LinkEvent::Outputs { pulses: IDLING.outputs, board_time: Some(5000) });
        let mut orders = ordered(&mut room, dated.as_slice(), 20);
        orders.extend(ordered(&mut room, &heard(IDLING), 580));
        let asks = orders.iter().any(|(_, order)| matches!(order, Order::Identify));
        let stops = orders.iter().any(|(_, order)| matches!(order, Order::Stop { .. }));
        assert_eq!((asks, stops), (clock, true), "{orders:?}");
    }
}

/// A craft that came back from its restart and has answered: its numbers go on from there (interlock.md, law 4).
#[test]
fn numbers_that_leap_in_a_restart_have_to_be_answered_for() {
    for (leaps, stops) in [(false, true), (true, false)] {
        let mut room = Room::at_rest(&adapter(), ID, RESTING);
        room.restarts();
        room.interlock.lost();
        let _dark = room.silent(1000);
        room.interlock.opened(&adapter());
        room.answers(ID);
        if leaps {
            room.interlock.hear(&LinkEvent::Leapt);
        }
        let verdict = room.says(Signals { armed: true, ..RESTING }, 100);
        assert_eq!(verdict.is_err(), stops, "{verdict:?}");
    }
}

/// A flag of 1 Hz beside streams of 50 Hz: after 700 ms of silence it may be another, whatever comes first.
#[test]
fn a_silence_is_judged_by_what_came_before_it() {
    let tells = |room: &mut Room, says: Signals, flag: bool| {
        let all = heard(says);
        room.hears(room.now + TICK, if flag { &all } else { &all[1..] })
    };
    for first in 1..4 {
        let mut room = Room::at_rest(&adapter(), ID, RESTING);
        for n in 0..250 {
            assert_eq!(tells(&mut room, RESTING, n % 50 == 0), Ok(()));
        }
        assert_eq!(room.silent(700), Ok(()));
        let (now, said) = (room.now + TICK, heard(IDLING)[first].clone());
        let _stopped_or_not = room.hears(now, &[said]);
        assert_eq!(room.interlock.authority(), Authority::Nothing, "{first}");
    }
}

/// A batch that binds arm broke off: the board may have the band, and what stands was not read (safety.md, stop).
#[test]
fn a_switch_in_a_band_that_was_being_written_is_on() {
    let around = BoundNow { channel: 6, from: Pulse(900), to: Pulse(1100) };
    for (bands, confirmed) in [(Vec::new(), true), (vec![around], false)] {
        let mut room = Room::at_rest(&adapter(), ID, RESTING);
        room.interlock.writes_arm_bands(bands);
        room.interlock.stop("a test");
        let orders = ordered(&mut room, &heard(RESTING), 3000);
        let said = orders.iter().any(|(_, order)| matches!(order, Order::Say(UiEvent::StopConfirmed)));
        assert_eq!(said, confirmed, "{orders:?}");
    }
}

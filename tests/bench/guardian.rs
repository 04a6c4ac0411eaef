//! What the core makes of its guardian: what it acknowledged on this opening, and nothing else.

use quadjig::interlock::WireKind;
use quadjig::interlock::guardian::{ANSWERS_WITHIN, Guardian, PREPARED_FOR};
use quadjig::measure::time::Time;
use quadjig::seam::PortInfo;
use quadjig::seam::guardian::{GuardianEvent, GuardianOrder, StopFrames};
use std::time::Duration;

fn ms(after: u64) -> Time {
    Time(after * 1000)
}

const FIRES: Duration = Duration::from_secs(3);

fn outside() -> Guardian {
    Guardian::opened(true, FIRES)
}

/// Held and renewed once, at 0.
fn held() -> Guardian {
    let mut guardian = outside();
    assert!(guardian.renew(ms(0)).is_none(), "nothing is held that was not prepared");
    let lasts = guardian.wants_stops(ms(0)).unwrap();
    let order = guardian.prepare(ms(0), vec![b"STOP".to_vec()]);
    assert_eq!(order, GuardianOrder::Prepare(StopFrames { stops: vec![b"STOP".to_vec()], lasts }));
    assert_eq!(guardian.renew(ms(0)), Some(GuardianOrder::Renew(1)));
    guardian
}

#[test]
fn a_wire_inside_this_process_has_none_and_needs_none() {
    for mut guardian in [Guardian::default(), Guardian::opened(false, FIRES)] {
        assert!(guardian.may_invite() && guardian.at_rest());
        assert_eq!(guardian.wants_stops(ms(0)), None);
        assert_eq!((guardian.renew(ms(0)), guardian.release()), (None, None));
        // What an earlier wire's guardian still said is nobody's.
        for event in [GuardianEvent::Gone, GuardianEvent::Fired, GuardianEvent::Released, GuardianEvent::Held(1)] {
            guardian.hear(event);
        }
        assert!(guardian.may_invite() && !guardian.fired() && !guardian.gone() && !guardian.overdue(ms(60_000)));
    }
}

/// When it is found overdue, judged every 20 ms from one moment to another.
fn overdue(guardian: &mut Guardian, from: u64, to: u64) -> Option<u64> {
    (from..=to).step_by(20).find(|at| guardian.overdue(ms(*at)))
}

#[test]
fn a_renewal_that_is_not_acknowledged_in_time_stops() {
    assert_eq!(ANSWERS_WITHIN, Duration::from_millis(100));
    assert_eq!(overdue(&mut held(), 0, 400), Some(100));
    // Later ones do not hide it, nor does the answer to one before.
    let mut guardian = held();
    assert_eq!(overdue(&mut guardian, 0, 40), None);
    guardian.renew(ms(40));
    guardian.hear(GuardianEvent::Held(0));
    assert_eq!(overdue(&mut guardian, 60, 400), Some(100));
    guardian.hear(GuardianEvent::Held(1));
    assert_eq!(overdue(&mut guardian, 120, 400), None);
}

/// On a machine with more to do than it can, neither of the two may run for a while.
#[test]
fn time_in_which_this_process_did_not_run_is_not_counted() {
    let mut guardian = held();
    assert_eq!(overdue(&mut guardian, 0, 60), None);
    // Not judged for 90 ms: 70 of them are our own.
    assert!(!guardian.overdue(ms(150)));
    assert_eq!(overdue(&mut guardian, 160, 400), Some(180));
}

#[test]
fn fired_takes_nothing_but_a_release_and_no_change_leaves_before_that_is_acknowledged() {
    let mut guardian = held();
    guardian.hear(GuardianEvent::Fired);
    assert!(guardian.fired() && !guardian.may_invite() && !guardian.at_rest());
    assert_eq!((guardian.renew(ms(500)), guardian.wants_stops(ms(500))), (None, None));
    assert_eq!(guardian.release(), Some(GuardianOrder::Release));
    assert!(!guardian.at_rest());
    guardian.hear(GuardianEvent::Released);
    assert!(guardian.at_rest() && guardian.may_invite());
    // It kept nothing: stops are made anew before it holds again.
    assert!(guardian.renew(ms(600)).is_none());
    assert!(guardian.wants_stops(ms(600)).is_some());
}

/// The two cross on their way.
#[test]
fn one_that_fires_while_it_is_released_is_at_rest_after_it() {
    let mut guardian = held();
    guardian.release();
    guardian.hear(GuardianEvent::Fired);
    guardian.hear(GuardianEvent::Released);
    assert!(!guardian.fired() && guardian.at_rest());
}

#[test]
fn one_that_is_gone_invites_nothing_and_a_new_opening_begins_anew() {
    let mut guardian = held();
    guardian.hear(GuardianEvent::Gone);
    assert!(guardian.gone() && !guardian.may_invite());
    assert!(outside().may_invite());
}

#[test]
fn what_it_would_send_is_made_anew_before_it_is_old() {
    let guardian = held();
    assert_eq!(guardian.wants_stops(ms(29_999)), None);
    assert!(guardian.wants_stops(ms(0) + PREPARED_FOR).is_some());
}

/// Only on the board's own USB can no other craft answer.
#[test]
fn it_fires_for_as_long_as_no_other_craft_could_answer() {
    let usb = Some((0x1209, 10));
    let own = PortInfo { name: "/dev/ttyACM0".to_owned(), usb, ..PortInfo::default() };
    assert_eq!(WireKind::of(&own).stops_into_silence(), Duration::from_secs(10));
    for name in ["/dev/ttyUSB0", "/dev/pts/3", "tcp:bench:5760", "udp:127.0.0.1:14550"] {
        let other = PortInfo { name: name.to_owned(), usb, ..PortInfo::default() };
        assert_eq!(WireKind::of(&other).stops_into_silence(), Duration::from_secs(3), "{name}");
    }
    assert_eq!(WireKind::of(&PortInfo { usb: None, ..own }).stops_into_silence(), Duration::from_secs(3));
}

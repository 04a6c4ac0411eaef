//! A board that its battery alone feeds: what stands over a power cycle, and what does not.

use super::room::{ID, IDLING, RESTING, Room, Signals, UNPLUGGED, UNTOLD, adapter, heard, identity, own_usb};
use quadjig::board::signals::{LinkEvent, Outgoing};
use quadjig::interlock::signals::Pack;
use quadjig::interlock::{Authority, Phase};
use quadjig::plan::step::Guard;
use quadjig::seam::PortInfo;
use quadjig::seam::ui::About;
use std::time::Duration;

const OTHER: &str = "76697274000000ff";

/// Told of in advance, the battery goes out, and the wire with it.
fn dark() -> Room {
    let mut room = Room::met();
    room.interlock.power_cycle_begins().unwrap();
    room.interlock.lost();
    room
}

/// So many milliseconds later the battery is in, and whoever is on the wire gives this id.
fn lit(after_ms: u64, id: &str) -> Room {
    let mut room = dark();
    room.interlock.invite_dark_plug_in().unwrap();
    assert_eq!(room.silent(after_ms), Ok(()));
    room.interlock.opened(&own_usb());
    room.answers(id);
    room
}

#[test]
fn nothing_that_was_said_outlives_the_dark() {
    let mut before = Room::met();
    before.types(About::Antenna);
    before.interlock.power_cycle_begins().unwrap();
    assert!(before.interlock.props_off() && before.interlock.antenna_on(), "not dark yet");
    before.interlock.lost();
    assert_eq!(before.interlock.phase(), Phase::Restarting, "an announced loss is none");
    before.interlock.invite_dark_plug_in().unwrap();
    assert_eq!(before.silent(60_000), Ok(()));
    before.interlock.opened(&own_usb());
    before.answers(ID);
    assert!(before.interlock.is_session_craft_there());
    assert!(!before.interlock.props_off() && !before.interlock.antenna_on(), "asked anew");
}

/// The other way round: the same loss without an announcement, and a restart, which keeps what was said.
#[test]
fn a_restart_is_no_power_cycle() {
    let mut room = Room::met();
    room.interlock.lost();
    assert_eq!(room.interlock.phase(), Phase::NoContact);
    let mut room = Room::met();
    room.restarts();
    room.replugged(&own_usb(), ID);
    assert!(room.interlock.props_off() && !room.interlock.is_dark());
}

#[test]
fn only_a_dark_board_is_plugged_in_by_a_word() {
    let mut room = Room::met();
    assert!(room.interlock.invite_dark_plug_in().is_err(), "no power cycle");
    room.interlock.power_cycle_begins().unwrap();
    assert!(!room.interlock.is_dark() && room.interlock.invite_dark_plug_in().is_err(), "it is heard");
    // On an adapter the port stays, and the board is dark once it has been silent for long enough.
    assert_eq!(room.silent(2100), Ok(()));
    assert!(room.interlock.is_dark());
    assert!(room.interlock.invite_dark_plug_in().is_ok());
}

#[test]
fn another_craft_that_was_plugged_in_is_none_of_ours_and_gets_no_stop() {
    let room = lit(1000, OTHER);
    assert!(!room.interlock.is_session_craft_there());
    assert_eq!(room.interlock.authority(), Authority::Nothing);
    assert_eq!(lit(1000, ID).interlock.authority(), Authority::Disarm, "it may come armed out of it");
}

/// Silent behind an adapter for as long as a dark one, while USB fed it all the time: its clock runs on.
#[test]
fn a_board_that_was_only_silent_was_not_power_cycled() {
    for (clock, back) in [(53_000, false), (1_000, true)] {
        let mut room = Room::at_rest(&adapter(), ID, RESTING);
        let outputs = |board_time: u32| LinkEvent::Outputs { pulses: RESTING.outputs, board_time: Some(board_time) };
        for ms in (0..2000).step_by(20) {
            let told = [heard(RESTING).as_slice(), &[outputs(ms)]].concat();
            assert_eq!(room.hears(room.now + Duration::from_millis(20), &told), Ok(()));
        }
        room.answers(ID);
        room.says(RESTING, 20).unwrap();
        room.interlock.power_cycle_begins().unwrap();
        assert_eq!(room.silent(51_000), Ok(()));
        room.interlock.invite_dark_plug_in().unwrap();
        for ms in (0..1000).step_by(20) {
            room.answers(ID);
            let told = [heard(RESTING).as_slice(), &[outputs(clock + ms)]].concat();
            let _said = room.hears(room.now + Duration::from_millis(20), &told);
        }
        let stays = room.interlock.may_stay_in(&[Guard::ThrottleLow, Guard::Fresh]);
        assert_eq!(stays.is_ok(), back, "clock at {clock}: {stays:?}");
    }
}

/// A board that tells its pack shows it as well, before anything counts as plugged in.
#[test]
fn a_dark_board_that_came_back_without_its_battery_was_not_plugged_in() {
    for (signals, inside) in [(UNPLUGGED, false), (RESTING, true), (UNTOLD, true)] {
        let mut room = lit(50_000, ID);
        assert_eq!(room.says(signals, 400), Ok(()));
        assert_eq!(room.interlock.may_stay_in(&[Guard::ThrottleLow, Guard::Fresh]).is_ok(), inside);
    }
}

/// What was said of a dark craft is measured within 3 s of the first sign of it.
#[test]
fn what_was_said_in_the_dark_is_measured_in_time() {
    let guards = [Guard::PropsOff, Guard::Antenna, Guard::ThrottleLow, Guard::Fresh];
    let mut room = lit(50_000, ID);
    assert_eq!(room.interlock.measured_by(), Some(room.now + Duration::from_secs(3)));
    assert!(room.interlock.may_stay_in(&guards).is_err(), "nothing is measured yet");
    assert_eq!(room.says(RESTING, 400), Ok(()));
    assert_eq!(room.interlock.may_stay_in(&guards), Ok(()));
    for (what, signals) in [
        ("the switch is on", Signals { switch: 2000, ..RESTING }),
        ("the throttle is up", Signals { throttle: 1500, ..RESTING }),
    ] {
        let mut room = lit(50_000, ID);
        assert_eq!(room.says(signals, 400), Ok(()));
        assert!(room.interlock.may_stay_in(&guards).is_err(), "{what}");
    }
}

/// Behind an adapter it is asked all the while who it is: what was lost in the dark measures no link.
#[test]
fn a_question_that_was_lost_in_the_dark_measures_nothing() {
    let mut room = Room::met();
    room.interlock.power_cycle_begins().unwrap();
    assert_eq!(room.silent(2100), Ok(()));
    room.interlock.invite_dark_plug_in().unwrap();
    for _ in 0..4 {
        room.interlock.asks(&Outgoing::Identify);
        assert_eq!(room.silent(900), Ok(()));
    }
    assert_eq!(room.says(RESTING, 20), Ok(()));
    room.interlock.hear(&LinkEvent::Identity(identity(ID)));
    assert!(room.interlock.is_session_craft_there());
    assert_eq!(room.interlock.round_trip(), None);
    room.answers(ID);
    assert_eq!(room.interlock.round_trip(), Some(Duration::ZERO));
}

/// One that comes armed out of it is stopped, though it was never seen at rest on this opening.
#[test]
fn a_board_that_comes_armed_out_of_it_is_stopped() {
    let mut room = lit(70_000, ID);
    let stopped = room.says(Signals { armed: true, ..RESTING }, 400);
    assert!(stopped.is_err());
    assert_eq!(room.interlock.phase(), Phase::Stopping);
}

/// A board that goes on without its battery is no dark one, and goes on as it was.
#[test]
fn a_board_that_usb_feeds_goes_on() {
    let mut room = Room::at_rest(&adapter(), ID, RESTING);
    room.interlock.power_cycle_begins().unwrap();
    assert_eq!(room.says(Signals { millivolts: Some(0), centiamps: Some(0), ..RESTING }, 1500), Ok(()));
    assert!(!room.interlock.is_dark());
    room.interlock.restart_ends();
    assert_eq!(room.interlock.may_work(), Ok(()));
    assert_eq!(room.interlock.phase(), Phase::Still);
}

/// The arm switch goes on as the battery is to go in: told not to plug it in, a hand may do so all the same.
#[test]
fn a_battery_that_goes_into_an_armed_board_is_stopped_whoever_was_told_what() {
    // Its pack is measured: nothing turns before it is in.
    let mut room = Room::unplugged();
    room.interlock.invite_plug_in(&[]).unwrap();
    let armed = Signals { armed: true, switch: 2000, ..UNPLUGGED };
    room.says(armed, 500).unwrap();
    room.interlock.plug_in_ended(false);
    room.says(armed, 5000).unwrap();
    assert_eq!(room.interlock.phase(), Phase::Latched);
    assert!(room.says(IDLING, 40).unwrap_err().contains("the battery went in"));
    assert_eq!(room.interlock.phase(), Phase::Stopping);

    // It went in before the invitation was taken back.
    let mut room = Room::unplugged();
    room.interlock.invite_plug_in(&[]).unwrap();
    let _armed = room.says(IDLING, 40);
    room.interlock.plug_in_ended(false);
    assert_eq!(room.interlock.phase(), Phase::Stopping);

    // Nothing tells the pack: armed, it may be in.
    let mut room = Room::at_rest(&PortInfo::default(), ID, UNTOLD);
    room.types(About::BatteryOut);
    room.interlock.invite_plug_in(&[]).unwrap();
    let _armed = room.says(Signals { armed: true, switch: 2000, ..UNTOLD }, 500);
    room.interlock.plug_in_ended(false);
    assert_eq!(room.interlock.phase(), Phase::Stopping);
}

/// A sensor that was seen working is one after a restart, and after a power cycle only once it is seen again.
#[test]
fn what_is_known_of_a_sensor_outlives_a_restart_and_no_power_cycle() {
    let mut room = Room::met();
    room.restarts();
    room.replugged(&own_usb(), ID);
    room.says(UNPLUGGED, 1500).unwrap();
    assert_eq!(room.interlock.pack(), Pack::Out);
    let mut room = lit(1000, ID);
    room.says(UNPLUGGED, 1500).unwrap();
    assert_eq!(room.interlock.pack(), Pack::Unknown);
}

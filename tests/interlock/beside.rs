//! The guardian beside this process, who is asked under a stop, and what counts as heat.
//!
//! Must not be here: a stop that is left to the guardian (see `left`), and its states (see `tests/bench/guardian.rs`).

use super::room::{ID, IDLING, RESTING, Room, Signals, adapter, facts, heard, identity, step};
use quadjig::board::shipped;
use quadjig::board::signals::LinkEvent;
use quadjig::interlock::craft::Facts;
use quadjig::interlock::{Breaks, HeatNeeds, Order, Phase};
use quadjig::seam::PortInfo;
use quadjig::seam::guardian::GuardianEvent;
use quadjig::seam::ui::Motors;
use std::rc::Rc;
use std::time::Duration;

/// Motors turn by the switch, held by a guardian that has answered.
fn turning() -> Room {
    let mut room = Room::at_rest(&PortInfo { guarded: true, ..adapter() }, ID, RESTING);
    room.starts(&step(Motors::All), Breaks::default());
    let now = room.now;
    room.interlock.judge_hold();
    room.interlock.guardian().prepare(now, vec![b"STOP".to_vec()]);
    room.interlock.guardian().renew(now);
    room.interlock.guardian().hear(GuardianEvent::Held(1));
    room.says(IDLING, 500).unwrap();
    room
}

#[test]
fn what_the_guardian_did_or_did_not_stops() {
    for (event, why) in [
        (GuardianEvent::Fired, "this program stood still"),
        (GuardianEvent::Gone, "the guardian process of this program is gone"),
    ] {
        let mut room = turning();
        room.interlock.guardian().hear(event);
        assert_eq!(room.says(IDLING, 20), Err(why.to_owned()));
    }
    let mut room = turning();
    let now = room.now;
    room.interlock.guardian().renew(now);
    assert_eq!(room.says(IDLING, 80), Ok(()));
    let why = "the guardian process of this program did not answer";
    assert_eq!(room.says(IDLING, 40), Err(why.to_owned()));
    // At rest nothing is held, and nothing lost with it.
    let mut room = Room::at_rest(&PortInfo { guarded: true, ..adapter() }, ID, RESTING);
    room.interlock.guardian().hear(GuardianEvent::Gone);
    assert_eq!(room.says(RESTING, 100), Ok(()));
}

/// Under a stop whoever is on the wire is asked who it is; else the session asks by itself.
#[test]
fn nobody_is_asked_without_a_contact_but_under_a_stop() {
    for phase in [Phase::Stopping, Phase::Still] {
        let mut room = Room::in_phase(phase);
        room.interlock.lost();
        room.interlock.opened(&adapter());
        let _before = room.interlock.orders();
        room.interlock.judge();
        let asks = room.interlock.orders().iter().any(|order| matches!(order, Order::Identify));
        assert_eq!(asks, phase == Phase::Stopping);
    }
}

/// Outputs or speeds above rest are heat; an armed flag only where neither is told.
#[test]
fn what_counts_as_turning() {
    let armed = heard(Signals { armed: true, ..RESTING });
    let speeds = |rpm| LinkEvent::Speeds { first: 0, rpm: [rpm, 0, 0, 0], count: 4 };
    let [flag, _, outputs, ..] = armed.clone();
    let [_, _, raised, ..] = heard(IDLING);
    for (said, hot) in [
        (vec![flag.clone()], true),
        (vec![flag.clone(), outputs.clone()], false),
        (vec![flag.clone(), speeds(0)], false),
        (vec![flag.clone(), outputs.clone(), speeds(1)], true),
        (vec![flag, raised], true),
        (vec![heard(RESTING)[0].clone(), speeds(1)], true),
        (vec![heard(RESTING)[0].clone()], false),
    ] {
        let mut room = Room::known(&adapter(), ID);
        for _ in 0..100 {
            let _looks = room.hears(room.now + Duration::from_millis(20), &said);
        }
        // Over, and told to be so.
        let _looks =
            room.hears(room.now + Duration::from_millis(20), &[heard(RESTING).as_slice(), &[speeds(0)]].concat());
        let needs = if hot { HeatNeeds::Pause } else { HeatNeeds::Nothing };
        assert_eq!(room.interlock.heat(Duration::from_secs(9)), needs, "{said:?}");
    }
}

/// Speeds come four motors at a time: one that is told no more is neither at rest nor turning.
#[test]
fn each_motor_that_told_its_speed_has_to_go_on_telling_it() {
    let speeds = |first, rpm| LinkEvent::Speeds { first, rpm: [rpm, 0, 0, 0], count: 1 };
    for last in [0, 900] {
        let mut room = Room::at_rest(&adapter(), ID, RESTING);
        let sheet = Rc::new(shipped::sheet("finch").unwrap().unwrap());
        let corners = (1..=8).map(|corner| format!("corner {corner}")).collect();
        room.interlock.take_in(&identity(ID), &sheet, Facts { corners, ..facts() });
        let mut says = |parts: &[LinkEvent], for_ms: u64| {
            for _ in (0..for_ms).step_by(20) {
                let all: Vec<_> = heard(RESTING).into_iter().chain(parts.iter().cloned()).collect();
                let _looks = room.hears(room.now + Duration::from_millis(20), &all);
            }
            let told = room.interlock.signals().speeds.last().unwrap().value[4];
            (room.interlock.rests(), told)
        };
        let both = says(&[speeds(0, 0), speeds(4, last)], 2000);
        assert_eq!(both, (last == 0, Some(f64::from(last))));
        // Gone from here on: what it told last is its speed no more, and that it rests was not told either.
        let _within = says(&[speeds(0, 0)], 1200);
        for _ in 0..5 {
            assert_eq!(says(&[speeds(0, 0)], 1000), (false, None), "{last}");
        }
        assert_eq!(says(&[speeds(0, 0), speeds(4, 0)], 2000), (true, Some(0.0)), "told again");
    }
}

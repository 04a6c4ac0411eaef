//! The states and the only ways between them: the whole table, kept as a picture, and reached by what sessions do.

use super::room::{ID, IDLING, RESTING, Room, UNPLUGGED, heard, step};
use crate::docs::{files, text};
use quadjig::interlock::{Breaks, Happening, Order, Phase};
use quadjig::seam::PortInfo;
use quadjig::seam::ui::{About, Motors, UiEvent};
use std::collections::HashSet;
use std::fmt::Write as _;
use std::time::Duration;

/// A row for each event, a column for each state; a dot: refused.
fn table() -> String {
    let mut table = "| event ".to_owned();
    for phase in Phase::ALL {
        write!(table, "| {phase:?} ").unwrap();
    }
    table.push_str("|\n|---");
    table.push_str(&"|---".repeat(Phase::ALL.len()));
    table.push_str("|\n");
    for happening in Happening::ALL {
        write!(table, "| {happening:?} ").unwrap();
        for phase in Phase::ALL {
            match phase.after(happening) {
                None => table.push_str("| · "),
                Some(same) if same == phase => table.push_str("| = "),
                Some(next) => write!(table, "| {next:?} ").unwrap(),
            }
        }
        table.push_str("|\n");
    }
    table
}

#[test]
fn every_state_answers_to_every_event() {
    insta::assert_snapshot!(table());
}

#[test]
fn the_picture_in_the_safety_case_is_the_table() {
    let table = table();
    assert!(text("DEVELOPERS.md").contains(&table), "DEVELOPERS.md does not hold this table:\n{table}");
}

/// Whatever is under way: a stop is never refused, and nothing but its end, or a craft seen at rest again, leads out.
#[test]
fn a_stop_is_taken_everywhere_and_left_only_by_its_end() {
    for phase in Phase::ALL {
        assert_eq!(phase.after(Happening::Stop), Some(Phase::Stopping), "{phase:?}");
        for happening in Happening::ALL {
            let next = phase.after(happening);
            let into_start = matches!(next, Some(Phase::Invited | Phase::Turning));
            let from = matches!(phase, Phase::Still | Phase::Invited | Phase::Turning);
            assert!(!into_start || from, "{phase:?} by {happening:?} into a start");
            if matches!(phase, Phase::Stopping) {
                assert!(matches!(next, None | Some(Phase::Stopping | Phase::Latched)), "{happening:?}");
            }
            // What could turn is left by coming to rest or by a stop, whatever happens.
            if phase.any_key_stops() && phase != Phase::Stopping && happening == Happening::Over {
                assert_eq!(next, Some(Phase::Stopping), "{phase:?}");
            }
        }
    }
}

/// A walk through everything that a session does with a craft, with each phase that it was in, and each step between two.
struct Walk {
    room: Room,
    seen: HashSet<Phase>,
    steps: HashSet<(Phase, Phase)>,
}

impl Walk {
    fn step(&mut self, does: impl FnOnce(&mut Room)) -> &mut Self {
        let before = self.room.interlock.phase();
        does(&mut self.room);
        let after = self.room.interlock.phase();
        self.seen.insert(after);
        self.steps.insert((before, after));
        self
    }
}

#[test]
fn every_state_is_reached_and_every_step_stands_in_the_table() {
    let room = Room::open(&PortInfo::default());
    let mut walk = Walk { seen: [room.interlock.phase()].into(), room, steps: HashSet::new() };
    walk.step(|room| *room = Room::known(&PortInfo::default(), ID));
    walk.step(|room| room.says(RESTING, 2000).unwrap()).step(|room| room.interlock.may_work().unwrap());
    walk.step(Room::stores).step(|room| room.interlock.store_ended());
    walk.step(Room::restarts).step(|room| room.replugged(&PortInfo::default(), ID));
    walk.step(|room| room.interlock.encoding(true)).step(|room| room.says(RESTING, 3000).unwrap());
    walk.step(|room| room.interlock.may_work().unwrap());
    walk.step(|room| room.says(UNPLUGGED, 3000).unwrap());
    walk.step(|room| room.interlock.enter_switches(&[], None).unwrap());
    walk.step(|room| room.interlock.switches_rest().unwrap());
    // Plugged in again, as it was asked for, and started.
    walk.step(|room| room.says(UNPLUGGED, 3000).unwrap()).step(|room| room.types(About::Props));
    walk.step(|room| room.interlock.invite_plug_in(&[]).unwrap());
    walk.step(|room| room.says(RESTING, 3000).unwrap()).step(|room| room.interlock.plug_in_ended(true));
    walk.step(|room| room.answers(ID));
    walk.step(|room| room.starts(&step(Motors::All), Breaks::default()));
    walk.step(|room| room.says(IDLING, 500).unwrap()).step(|room| room.says(RESTING, 3000).unwrap());
    walk.step(|room| assert!(!room.interlock.start_ends().unwrap()));
    walk.step(|room| room.interlock.stop("a test"));
    walk.step(|room| assert_eq!(room.says(RESTING, 2000), Err("a test".to_owned())));
    walk.step(|room| room.says(UNPLUGGED, 3000).unwrap()).step(|room| room.interlock.may_work().unwrap());
    walk.step(|room| room.interlock.lost());
    for phase in Phase::ALL {
        assert!(walk.seen.contains(&phase), "{phase:?} was never reached");
    }
    for (before, after) in walk.steps {
        let by = Happening::ALL.into_iter().any(|happening| before.after(happening) == Some(after));
        assert!(by || before == after, "no event leads from {before:?} to {after:?}");
    }
}

/// An event that nothing makes happen is a row that only looks like safety.
#[test]
fn every_event_is_made_to_happen() {
    let sources: Vec<String> = files("src/interlock", ".rs")
        .iter()
        .filter(|path| !path.ends_with("phase.rs"))
        .map(|path| text(&path.to_string_lossy()))
        .collect();
    for happening in Happening::ALL {
        let call = format!("happens(Happening::{happening:?})");
        assert!(sources.iter().any(|source| source.contains(&call)), "nothing makes {happening:?} happen");
    }
}

/// What stops by any key is what wakes often enough to judge, and what holds stop bytes.
#[test]
fn whatever_any_key_stops_is_held_and_watched() {
    for phase in Phase::ALL {
        let mut room = Room::in_phase(phase);
        room.interlock.judge_hold();
        let held = room.interlock.orders().iter().any(|order| matches!(order, Order::Hold));
        assert_eq!(held, phase.any_key_stops(), "{phase:?}");
        let next = room.interlock.wake().since(room.now);
        assert!(next <= Duration::from_millis(if held { 20 } else { 100 }), "{phase:?}: {next:?}");
        // It stays so through everything that is at rest to hear.
        let signals = if phase == Phase::SwitchesWorked { UNPLUGGED } else { RESTING };
        assert_eq!(room.hears(room.now + Duration::from_millis(20), &heard(signals)), Ok(()), "{phase:?}");
    }
}

/// Latched, a craft is watched from when it was seen at rest in that state: what it did before was stopped already.
#[test]
fn a_craft_that_is_latched_is_watched_once_it_was_seen_at_rest_since() {
    let mut room = Room::met();
    room.interlock.latch();
    room.says(IDLING, 100).unwrap();
    room.says(RESTING, 2000).unwrap();
    assert!(room.says(IDLING, 100).is_err(), "a new start");
}

/// A wire that goes while motors could turn is a stop with the large words, and is looked for under every stop.
#[test]
fn a_wire_that_goes_under_a_start_or_a_stop_is_told_of_and_looked_for() {
    for phase in [Phase::Turning, Phase::Stopping] {
        let mut room = Room::in_phase(phase);
        let _before = room.interlock.orders();
        room.interlock.lost();
        assert_eq!(room.interlock.phase(), Phase::Stopping);
        let orders = room.interlock.orders();
        let told = |what: fn(&Order) -> bool| orders.iter().any(what);
        assert!(told(|order| matches!(order, Order::Say(UiEvent::PullTheBattery))), "{phase:?}: {orders:?}");
        assert!(told(|order| matches!(order, Order::Reopen)), "{phase:?}: {orders:?}");
        assert!(!told(|order| matches!(order, Order::Ends(_))), "{phase:?}: {orders:?}");
        let begins = told(|order| matches!(order, Order::StopBegan));
        assert_eq!(begins, phase == Phase::Turning, "{phase:?}: {orders:?}");
    }
}

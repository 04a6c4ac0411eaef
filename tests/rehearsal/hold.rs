//! The dead man's hold in the simulated world: the moments at which a real writer would send, to the microsecond.

use quadjig::measure::time::Time;
use quadjig::rehearsal::rehearse::willing;
use quadjig::rehearsal::simulated::{Disk, SimulatedWorld, TranscriptEvent};
use quadjig::seam::{Effect, Event, PortName, World};
use quadjig::virtual_board::{World as VirtualWorld, WorldConfig};
use std::time::Duration;

/// Lets time pass as a core would that only listens.
fn listen(world: &mut SimulatedWorld<'_>, wait: Duration) {
    let until = world.now() + wait;
    while world.now() < until {
        let _heard = world.next(until);
    }
}

#[test]
fn it_fires_when_it_is_due_and_every_20_ms_and_dies_with_its_wire() {
    let config = WorldConfig::default();
    let (mut operator, mut ignore) = (willing(&config), |_: Time, _: TranscriptEvent<'_>| {});
    let mut world = SimulatedWorld::new(VirtualWorld::new(config), &mut operator, Disk::default(), &mut ignore);
    world.spied = Some(Vec::new());
    world.act(Effect::Open(PortName::Virtual(None)));
    let began = world.now();
    world.act(Effect::Hold(b"HELD".to_vec(), began + Duration::from_millis(200)..Time::NEVER));
    listen(&mut world, Duration::from_millis(245));
    world.act(Effect::Release);
    listen(&mut world, Duration::from_millis(60));
    // What is late leaves nowhere, nor does anything over a wire that is not open.
    let late = world.now() - Duration::from_millis(1);
    world.act(Effect::Send { bytes: b"late".to_vec(), by: late });
    world.act(Effect::Hold(b"LAST".to_vec(), Time::NEVER..Time::NEVER));
    world.act(Effect::Close);
    world.act(Effect::Send { bytes: b"nobody".to_vec(), by: Time::NEVER });
    listen(&mut world, Duration::from_millis(500));
    assert!(!matches!(world.next(world.now()).1, Event::Bytes(..)), "a closed wire gives nothing");
    let sent: Vec<(u128, String)> = world
        .spied
        .take()
        .unwrap()
        .into_iter()
        .map(|(at, bytes)| (at.since(began).as_millis(), String::from_utf8(bytes).unwrap()))
        .collect();
    let expected = [(200, "HELD"), (220, "HELD"), (240, "HELD"), (305, "LAST")];
    assert_eq!(sent, expected.map(|(at, bytes)| (at, bytes.to_owned())));
}

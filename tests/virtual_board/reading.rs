//! One reading of all settings over a paced wire, on simulated time: the project's own link against the virtual board.
//!
//! Also used by the bench `settings`.

use quadjig::board::mavlink::MavlinkLink;
use quadjig::board::signals::{Done, Link, LinkEvent, Request, Ticket};
use quadjig::measure::time::Time;
use quadjig::virtual_board::{WireConfig, World, WorldConfig};
use std::collections::BTreeSet;
use std::time::Duration;

/// Bytes of one `PARAM_VALUE` in a frame of version 2: 10 before its payload, 25 of it, 2 behind (common.xml;
/// developer guide, `guide/serialization`).
const VALUE: u64 = 37;

/// What became of a reading.
#[derive(Debug, PartialEq)]
pub struct Reading {
    pub done: Option<Done>,
    pub took: Duration,
    /// Different settings that were told.
    pub told: usize,
    /// What was told of the way: settings so far, time since the beginning, time left.
    pub way: Vec<(u16, Duration, Option<Duration>)>,
}

/// A world on a wire of a pace that loses what it is told to lose.
pub fn config(baud: u32, settings: usize, loss: f64, seed: u64) -> WorldConfig {
    WorldConfig {
        seed,
        wire: WireConfig { baud: Some(baud), loss, settings, quiet: true, ..WireConfig::default() },
        ..WorldConfig::default()
    }
}

/// The time that the values alone take on the wire.
pub fn wire_time(baud: u32, settings: usize) -> Duration {
    Duration::from_nanos(settings as u64 * VALUE * 10 * 1_000_000_000 / u64::from(baud))
}

/// Reads once, from the first sign of life on.
pub fn read(config: WorldConfig) -> Reading {
    let (mut world, mut link, mut now) = (World::new(config), MavlinkLink::new(None), Time(0));
    let mut heard = Vec::new();
    while link.bound().is_none() {
        now = world.wake();
        world.advance(now);
        link.receive(now, &world.take_output(), &mut heard);
    }
    let (began, ticket) = (now, Ticket(1));
    let mut reading = Reading { done: None, took: Duration::ZERO, told: 0, way: Vec::new() };
    let (mut out, mut told) = (Vec::new(), BTreeSet::new());
    link.send(now, ticket, Request::ListSettings, &mut out);
    while reading.done.is_none() && now.since(began) < Duration::from_secs(200) {
        world.receive(now, &std::mem::take(&mut out));
        now = now.max(world.wake().min(link.wake()));
        world.advance(now);
        heard.clear();
        link.receive(now, &world.take_output(), &mut heard);
        if link.wake() <= now {
            link.work(now, &mut out, &mut heard);
        }
        for heard in heard.drain(..) {
            match heard {
                LinkEvent::Setting { name, .. } => _ = told.insert(name),
                LinkEvent::Listing { have, left, .. } => reading.way.push((have, now.since(began), left)),
                LinkEvent::Done { ticket: ended, result } if ended == ticket => reading.done = Some(result),
                _ => {}
            }
        }
    }
    (reading.took, reading.told) = (now.since(began), told.len());
    reading
}

//! The writer of a wire as a machine: what leaves, in which order, and by when.

use proptest::prelude::*;
use quadjig::machines::writer::{Doing, Writer};
use quadjig::measure::time::Time;
use std::time::Duration;

const CHUNK: usize = 64;
/// Set in each byte of a stop.
const STOP: u8 = 0x80;

fn ms(ms: u64) -> Time {
    Time(ms * 1000)
}

/// A wire that takes and drains as the test says, and the writer before it.
struct Wire {
    writer: Writer,
    now: Time,
    /// Bytes that the system holds.
    pending: usize,
    /// Takes so many bytes at most; drains so many each millisecond.
    takes: usize,
    drains: usize,
    /// Each write: when, and what of it was taken.
    writes: Vec<(Time, Vec<u8>)>,
    over: Option<Doing>,
}

impl Wire {
    fn new() -> Self {
        let writer = Writer::new(CHUNK);
        Self { writer, now: ms(5000), pending: 0, takes: 4096, drains: 11, writes: Vec::new(), over: None }
    }

    /// Lets so many milliseconds pass.
    fn pass(&mut self, millis: u64) -> &mut Self {
        for _ in 0..millis {
            self.pump();
            self.now = self.now + Duration::from_millis(1);
            self.pending = self.pending.saturating_sub(self.drains);
        }
        self.pump();
        self
    }

    fn pump(&mut self) {
        for _ in 0..10_000 {
            if self.over.is_some() {
                return;
            }
            match self.writer.next(self.now, self.pending) {
                Doing::Write(bytes) => {
                    let taken = bytes.len().min(self.takes.saturating_sub(self.pending));
                    self.writer.wrote(self.now, taken);
                    self.pending += taken;
                    if taken > 0 {
                        self.writes.push((self.now, bytes[..taken].to_vec()));
                    }
                }
                Doing::Wait(until) if until > self.now => return,
                Doing::Wait(until) => panic!("waits for {until:?}, which is past"),
                over => self.over = Some(over),
            }
        }
        panic!("no time passes");
    }

    fn all(&self) -> Vec<u8> {
        self.writes.concat_bytes()
    }

    fn times_of(&self, what: &[u8]) -> Vec<u64> {
        self.writes.iter().filter(|(_, bytes)| bytes == what).map(|(at, _)| at.0 / 1000).collect()
    }
}

trait Concat {
    fn concat_bytes(&self) -> Vec<u8>;
}

impl Concat for Vec<(Time, Vec<u8>)> {
    fn concat_bytes(&self) -> Vec<u8> {
        self.iter().flat_map(|(_, bytes)| bytes.clone()).collect()
    }
}

#[test]
fn what_has_not_begun_by_its_deadline_is_dropped_and_what_has_begun_is_finished() {
    let mut wire = Wire::new();
    wire.takes = 0;
    wire.writer.send(vec![b'a'; 100], ms(5100));
    wire.writer.send(vec![b'b'; 10], ms(5200));
    wire.writer.send(vec![b'c'; 10], Time::NEVER);
    // The program is halted for a second, and the wire is free again after it.
    wire.pump();
    wire.now = ms(6000);
    wire.takes = 4096;
    wire.pass(5);
    assert_eq!(wire.all(), [b'c'; 10]);
    // At its deadline it still leaves; begun, it is finished whatever the time.
    let mut wire = Wire::new();
    wire.takes = 30;
    wire.drains = 0;
    wire.writer.send(vec![b'a'; 100], wire.now);
    wire.pass(1);
    assert_eq!(wire.all(), [b'a'; 30]);
    (wire.takes, wire.drains) = (4096, 1);
    wire.pass(200);
    assert_eq!(wire.all(), [b'a'; 100]);
}

#[test]
fn the_queue_is_never_far_ahead_of_the_wire() {
    let mut wire = Wire::new();
    for _ in 0..100 {
        wire.writer.send(vec![b'a'; 100], Time::NEVER);
    }
    for _ in 0..50 {
        wire.pass(1);
        assert!(wire.pending <= 128 + CHUNK, "{}", wire.pending);
    }
    let left = wire.all().len();
    wire.writer.stop(b"STOP".to_vec());
    wire.writer.send(b"after".to_vec(), Time::NEVER);
    wire.pass(100);
    let all = wire.all();
    assert!(all.ends_with(b"STOPafter"));
    // What had begun is finished, and nothing else of the queue left.
    assert_eq!((all.len() - 9) % 100, 0);
    assert!(all.len() - 9 - left < 100, "{left} of {}", all.len());
}

#[test]
fn what_has_begun_is_finished_for_20_ms_only_and_a_stop_leaves_then() {
    let mut wire = Wire::new();
    wire.writer.send(vec![b'a'; 300], Time::NEVER);
    wire.takes = 64;
    wire.pass(2);
    (wire.takes, wire.drains) = (0, 0);
    wire.writer.stop(b"STOP".to_vec());
    let said = wire.now;
    wire.pass(30);
    wire.takes = 4096;
    wire.pass(5);
    let all = wire.all();
    assert!(all.ends_with(b"STOP") && all.len() < 304, "{all:?}");
    // One that is long is not finished at all.
    let mut wire = Wire::new();
    wire.writer.send(vec![b'a'; 2000], Time::NEVER);
    wire.pass(1);
    wire.writer.stop(b"STOP".to_vec());
    let stops = |wire: &Wire| wire.times_of(b"STOP");
    wire.pass(1);
    assert_eq!(stops(&wire), [5001], "{said:?}");
}

#[test]
fn a_hold_gives_its_bytes_every_20_ms_until_it_is_released() {
    let mut wire = Wire::new();
    wire.writer.hold(b"HELD".to_vec(), ms(5200)..Time::NEVER);
    wire.pass(100);
    wire.writer.hold(b"HELD".to_vec(), ms(5300)..Time::NEVER);
    wire.writer.send(b"lease".to_vec(), Time::NEVER);
    wire.pass(199);
    assert_eq!(wire.all(), b"lease");
    wire.pass(50);
    assert_eq!(wire.times_of(b"HELD"), [5300, 5320, 5340]);
    assert_eq!(wire.writer.fired(), 3);
    wire.writer.release();
    wire.pass(100);
    assert_eq!(wire.writer.fired(), 3);
}

/// By its end another craft may be on the wire; a program that slept until then sends nothing.
#[test]
fn a_hold_that_has_ended_gives_nothing() {
    let held_through = |until: u64| {
        let mut wire = Wire::new();
        wire.writer.hold(b"HELD".to_vec(), ms(5200)..ms(until));
        wire
    };
    let mut wire = held_through(5260);
    wire.pass(1000);
    assert_eq!(wire.times_of(b"HELD"), [5200, 5220, 5240]);
    let mut slept = held_through(8000);
    slept.now = ms(8000);
    slept.pass(100);
    assert_eq!(slept.writes, []);
}

/// Whoever was to be stopped may be gone: what waits for a wire that takes nothing leaves no more.
#[test]
fn with_the_hold_stops_end_that_have_not_begun() {
    let mut wire = Wire { takes: 0, ..Wire::new() };
    wire.writer.hold(b"HELD".to_vec(), ms(5000)..Time::NEVER);
    wire.pass(5);
    wire.writer.stop(b"STOP".to_vec());
    wire.writer.release();
    wire.takes = 4096;
    wire.pass(100);
    assert_eq!(wire.writes.iter().filter(|(_, bytes)| !bytes.is_empty()).count(), 0, "{:?}", wire.writes);
}

/// Whoever else writes into the wire while something is held never falls into the middle of a frame.
#[test]
fn while_something_is_held_each_frame_leaves_in_one_write() {
    let mut wire = Wire::new();
    wire.writer.send(vec![b'a'; 200], Time::NEVER);
    wire.pump();
    assert_eq!(wire.writes[0].1.len(), CHUNK);
    wire.writer.hold(b"HELD".to_vec(), Time::NEVER..Time::NEVER);
    wire.writer.send(vec![b'b'; 200], Time::NEVER);
    wire.pass(100);
    let writes: Vec<Vec<u8>> = wire.writes.iter().map(|(_, bytes)| bytes.clone()).collect();
    assert_eq!(writes.last(), Some(&vec![b'b'; 200]));
    wire.writer.release();
    wire.writer.send(vec![b'c'; 200], Time::NEVER);
    wire.pass(100);
    assert!(wire.writes.iter().all(|(_, bytes)| bytes[0] != b'c' || bytes.len() <= CHUNK));
}

#[test]
fn closing_sends_what_is_queued_or_where_something_is_held_that_alone() {
    let mut wire = Wire::new();
    wire.writer.send(vec![b'a'; 100], Time::NEVER);
    wire.writer.close(wire.now);
    wire.pass(100);
    assert_eq!((wire.all(), wire.over), (vec![b'a'; 100], Some(Doing::End)));
    let mut wire = Wire::new();
    wire.writer.send(vec![b'a'; 100], Time::NEVER);
    wire.writer.hold(b"HELD".to_vec(), Time::NEVER..Time::NEVER);
    wire.writer.close(wire.now);
    wire.pass(100);
    assert_eq!((wire.all(), wire.over), (b"HELD".to_vec(), Some(Doing::End)));
    // A wire that takes nothing keeps nobody for ever.
    let mut wire = Wire::new();
    wire.takes = 0;
    wire.writer.stop(b"STOP".to_vec());
    wire.writer.close(wire.now);
    wire.pass(299);
    assert_eq!(wire.over, None);
    wire.pass(2);
    assert_eq!(wire.over, Some(Doing::End));
}

/// When it is lost, in ms after it was given this; `None`: not in 10 s.
fn lost_after(mut wire: Wire, mut each_ms: impl FnMut(&mut Wire, u64)) -> Option<u64> {
    let began = wire.now;
    for at in 0..10_000 {
        each_ms(&mut wire, at);
        wire.pass(1);
        if wire.over == Some(Doing::Lost) {
            return Some(wire.now.since(began).as_millis().try_into().unwrap());
        }
    }
    None
}

#[test]
fn a_wire_that_takes_or_drains_nothing_is_lost_whatever_waits() {
    let stuck = |takes: usize| Wire { takes, drains: 0, ..Wire::new() };
    let queue = |wire: &mut Wire, _| wire.writer.send(vec![b'a'; 20], Time::NEVER);
    let stops = |wire: &mut Wire, at| {
        if at % 20 == 0 {
            wire.writer.stop(b"STOP".to_vec());
        }
    };
    let held = |wire: &mut Wire, at| {
        if at == 0 {
            wire.writer.hold(b"HELD".to_vec(), Time(0)..Time::NEVER);
        }
    };
    let beats = |wire: &mut Wire, at| {
        if at % 1000 == 0 {
            wire.writer.send(vec![b'a'; 20], Time::NEVER);
        }
    };
    // It takes nothing; it takes what the system keeps, and sends nothing of it.
    for takes in [0, 4096] {
        assert!(matches!(lost_after(stuck(takes), queue), Some(2000..2010)), "queue, {takes}");
        assert!(matches!(lost_after(stuck(takes), stops), Some(2000..2030)), "stops, {takes}");
        assert!(matches!(lost_after(stuck(takes), held), Some(2000..2030)), "held, {takes}");
        assert!(matches!(lost_after(stuck(takes), beats), Some(2000..3010)), "beats, {takes}");
    }
    // One that is only slow is not, nor one that had nothing to do for long.
    let slow = Wire { drains: 1, ..Wire::new() };
    assert_eq!(lost_after(slow, queue), None);
    let rare = |wire: &mut Wire, at| {
        if at % 4000 == 3999 {
            wire.writer.send(vec![b'a'; 20], Time::NEVER);
        }
    };
    assert_eq!(lost_after(Wire::new(), rare), None);
}

/// While this program was stopped its guardian wrote into the same wire: what of that waits to leave is not ours.
#[test]
fn bytes_of_the_guardian_lose_no_wire() {
    let mut writer = Writer::new(CHUNK);
    writer.hold(b"HELD".to_vec(), ms(5200)..Time::NEVER);
    writer.send(b"lease".to_vec(), Time::NEVER);
    assert!(matches!(writer.next(ms(5000), 0), Doing::Write(_)));
    writer.wrote(ms(5000), 5);
    assert!(matches!(writer.next(ms(5010), 0), Doing::Wait(_)));
    assert_eq!(writer.next(ms(8000), 40), Doing::Write(b"HELD".to_vec()));
}

/// The other threads of a program that broke down go on for a moment, and may say that all is well.
#[test]
fn once_fired_nothing_renews_or_ends_the_hold() {
    let mut wire = Wire::new();
    wire.writer.hold(vec![STOP | 1; 5], ms(5200)..Time::NEVER);
    assert!(wire.writer.fire());
    wire.writer.hold(vec![STOP | 2; 5], ms(5400)..Time::NEVER);
    wire.writer.release();
    wire.writer.send(vec![3; 5], Time::NEVER);
    wire.pass(1);
    assert_eq!(wire.writes, [(ms(5000), vec![STOP | 1; 5])]);
    wire.pass(300);
    assert!(wire.writes.len() > 3 && wire.writes.iter().all(|(_, bytes)| bytes[0] == STOP | 1), "{:?}", wire.writes);
}

#[test]
fn it_can_be_fired_at_once() {
    let mut wire = Wire::new();
    assert!(!wire.writer.fire());
    wire.writer.hold(b"HELD".to_vec(), Time::NEVER..Time::NEVER);
    assert!(wire.writer.fire());
    wire.pump();
    assert_eq!(wire.times_of(b"HELD"), [5000]);
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]
    /// Whatever the wire takes and when: nothing of the queue that was not begun leaves after a stop was said, stops
    /// leave whole and in order, and nothing leaves late.
    #[test]
    fn stops_overtake_and_deadlines_hold(
        steps in proptest::collection::vec((0u8..4, 1usize..200, 0u64..40, 0usize..300), 1..60),
    ) {
        let mut wire = Wire::new();
        let mut begun_by = Vec::new();
        for (number, (what, long, wait, takes)) in steps.into_iter().enumerate() {
            let mark = u8::try_from(number).unwrap();
            wire.takes = takes;
            match what {
                0 | 1 => {
                    let by = wire.now + Duration::from_millis(wait);
                    wire.writer.send(vec![mark; long], by);
                    begun_by.push((mark, by));
                }
                2 => {
                    let before = wire.writes.len();
                    let begun = wire.writes.last().map(|(_, bytes)| bytes[0]);
                    wire.writer.stop(vec![STOP | mark; 3]);
                    wire.pass(wait);
                    for (_, bytes) in &wire.writes[before..] {
                        prop_assert!(bytes[0] >= STOP || Some(bytes[0]) == begun, "{bytes:?} after the stop {mark}");
                    }
                }
                _ => {}
            }
            wire.pass(wait);
        }
        for (mark, by) in begun_by {
            let first = wire.writes.iter().find(|(_, bytes)| bytes[0] == mark);
            prop_assert!(first.is_none_or(|(at, _)| *at <= by), "{mark} began late");
        }
    }
}

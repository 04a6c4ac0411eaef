//! The threads around the mailbox and a wire's writer, in orders that a checker chooses: nothing that was said is slept
//! through, nothing that was overtaken leaves, and what is held leaves whoever hangs or breaks down.
//!
//! `QUADJIG_ORDERS=100000 cargo test` tries so many orders of each. Must not be here: what the machines decide.
#![allow(clippy::unwrap_used, missing_docs)]

use quadjig::measure::time::Time;
use quadjig::seam::{Event, Key, SystemSignal};
use shuttle::scheduler::{PctScheduler, RandomScheduler};
use shuttle::sync::atomic::{AtomicBool, Ordering};
use shuttle::sync::{Arc, Condvar, Mutex};
use shuttle::{Config, Runner, thread};
use std::io;
use std::time::Duration;
use threads::passing::{self, with_time};
use threads::world::clock::Clock;
use threads::world::mailbox::Mailbox;
use threads::world::writer::{WireOut, Writer};
use threads::world::{breaks_down, post_bytes};

/// A wait without an end.
const EVER: Duration = Duration::from_secs(3600);

/// Many orders by chance, and as many that hold one thread back for long.
fn in_any_order(body: impl Fn() + Send + Sync + Copy + 'static) {
    // What the world keeps for its whole process is that of one checked world at a time.
    static ALONE: std::sync::Mutex<()> = std::sync::Mutex::new(());
    let _alone = ALONE.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
    let orders = std::env::var("QUADJIG_ORDERS").map_or(2000, |said| said.parse().unwrap());
    let mut config = Config::new();
    config.stack_size = 1 << 20;
    Runner::new(RandomScheduler::new(orders), config.clone()).run(move || with_time(body));
    Runner::new(PctScheduler::new(3, orders), config).run(move || with_time(body));
}

/// What a wire was given, a part at a time.
#[derive(Debug, Clone, Default)]
struct Wire {
    got: Arc<Mutex<Vec<u8>>>,
    at_once: Option<usize>,
}

impl Wire {
    fn got(&self) -> Vec<u8> {
        self.got.lock().unwrap().clone()
    }
}

impl WireOut for Wire {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        let taken = bytes.len().min(self.at_once.unwrap_or(usize::MAX));
        self.got.lock().unwrap().extend(&bytes[..taken]);
        Ok(taken)
    }

    fn spare(&self) -> io::Result<Box<dyn WireOut>> {
        Ok(Box::new(self.clone()))
    }
}

fn writer(wire: &Wire) -> (Writer, Mailbox) {
    let clock = Clock::start();
    let mailbox = Mailbox::new(clock);
    (Writer::start(clock, &mailbox, Box::new(wire.clone()), || {}).unwrap(), mailbox)
}

fn bytes(of: u8) -> Event {
    Event::Bytes(vec![of])
}

/// Whoever posts while the core goes to sleep wakes it: else all sleep, and the checker says so.
#[test]
fn nothing_that_is_posted_is_slept_through() {
    in_any_order(|| {
        let mailbox = Mailbox::new(Clock::start());
        let (keys, wire) = (mailbox.clone(), mailbox.clone());
        let keys = thread::spawn(move || "abc".chars().for_each(|key| keys.post(Event::Key(Key::Char(key)))));
        let wire = thread::spawn(move || (0..3).for_each(|of| wire.post(bytes(of))));
        let (mut typed, mut read, mut last) = (String::new(), Vec::new(), Time(0));
        while typed.len() + read.len() < 6 {
            let (at, event) = mailbox.take(Time::NEVER);
            assert!(at >= last, "moments run backwards");
            last = at;
            match event {
                Event::Key(Key::Char(key)) => typed.push(key),
                Event::Bytes(of) => read.extend(of),
                other => panic!("{other:?}"),
            }
        }
        assert_eq!((typed.as_str(), &read[..]), ("abc", &[0, 1, 2][..]));
        keys.join().unwrap();
        wire.join().unwrap();
    });
}

/// A wire whose board never pauses waits for room, and goes on once there is some or it is closed; a signal passes it.
#[test]
fn a_full_mailbox_keeps_a_wire_waiting_and_no_signal() {
    in_any_order(|| {
        let mailbox = Mailbox::new(Clock::start());
        // As many as it takes of a wire.
        (0..256).for_each(|_| mailbox.post(bytes(0)));
        let closed = Arc::new(AtomicBool::new(false));
        let (wire, closes, core) = (mailbox.clone(), closed.clone(), mailbox.clone());
        let wire = thread::spawn(move || (1..3).for_each(|of| post_bytes(&wire, bytes(of), &closes)));
        let signals = thread::spawn(move || core.post(Event::Signal(SystemSignal::Terminate)));
        signals.join().unwrap();
        assert!(matches!(mailbox.take(Time::NEVER).1, Event::Signal(_)), "a signal waited behind bytes");
        let (_, first) = mailbox.take(Time::NEVER);
        assert!(matches!(first, Event::Bytes(of) if of == [0]));
        closed.store(true, Ordering::SeqCst);
        wire.join().unwrap();
        let mut left = Vec::new();
        while let (_, Event::Bytes(of)) = mailbox.take(Time(0)) {
            left.extend(of);
        }
        let (waited, whole) = (left.split_off(255), left);
        assert!(whole.iter().all(|of| *of == 0));
        assert!(waited.is_empty() || waited == [1] || waited == [1, 2] || waited == [2], "{waited:?}");
    });
}

/// Whatever was queued before a stop and has not begun leaves no more; the stop leaves whole, however little the wire takes.
#[test]
fn a_stop_overtakes_whatever_is_queued() {
    in_any_order(|| {
        let wire = Wire { at_once: Some(2), ..Wire::default() };
        let (writer, _mailbox) = writer(&wire);
        for frame in [b"aaa", b"bbb", b"ccc"] {
            writer.send(frame.to_vec(), Time::NEVER);
        }
        writer.stop(b"S!".to_vec());
        writer.send(b"ddd".to_vec(), Time::NEVER);
        writer.close();
        writer.wait_end(EVER);
        let got = String::from_utf8(wire.got()).unwrap();
        let (before, after) = got.split_once("S!").unwrap_or_else(|| panic!("the stop did not leave: {got}"));
        assert!("aaabbbccc".starts_with(before) && before.len() % 3 == 0, "{got}");
        assert_eq!(after, "ddd");
    });
}

/// A core that hangs: what it held leaves by itself, and not before its time. A release that was said ends it.
#[test]
fn what_is_held_leaves_once_its_core_hangs() {
    in_any_order(|| {
        let wire = Wire::default();
        let (writer, _mailbox) = writer(&wire);
        let until = passing::now() + Duration::from_millis(200);
        writer.hold(b"H".to_vec(), until..Time::NEVER);
        let renewed = until + Duration::from_millis(200);
        writer.hold(b"H".to_vec(), renewed..Time::NEVER);
        let core = thread::spawn(|| {
            while passing::now() < Time(500_000) {
                passing::sleep(Duration::from_millis(50))
            }
        });
        core.join().unwrap();
        while wire.got().is_empty() {
            thread::yield_now();
        }
        assert!(passing::now() >= until);
        writer.release();
        // What had begun to leave then may; nothing begins any more.
        let at_release = wire.got().len();
        passing::sleep(Duration::from_secs(1));
        writer.close();
        writer.wait_end(EVER);
        assert!(wire.got().len() <= at_release + 1, "it went on after its release");
    });
}

/// A part of the program breaks down: what is held leaves, by the writer or past it, whatever the core says beside it; and
/// nothing that it says later turns anything on.
#[test]
fn what_is_held_leaves_where_a_part_breaks_down() {
    in_any_order(|| {
        let wire = Wire::default();
        let (writer, _mailbox) = writer(&wire);
        writer.hold(b"H".to_vec(), Time::NEVER..Time::NEVER);
        let core = writer.clone();
        let core = thread::spawn(move || {
            core.send(b"a".to_vec(), Time::NEVER);
            core.hold(b"H".to_vec(), Time::NEVER..Time::NEVER);
            core.send(b"b".to_vec(), Time::NEVER);
        });
        let broken = thread::spawn(|| breaks_down(Duration::from_millis(50)));
        assert!(broken.join().unwrap(), "nothing was held");
        assert!(wire.got().contains(&b'H'), "nothing left");
        core.join().unwrap();
        writer.close();
        writer.wait_end(EVER);
    });
}

/// A writer that is stuck in a write of the system's is not waited for: another end of the wire carries what is held.
#[test]
fn what_is_held_leaves_past_a_writer_that_is_stuck() {
    struct Stuck(Wire, Arc<(Mutex<[bool; 2]>, Condvar)>);
    impl WireOut for Stuck {
        fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
            let (stuck, changed) = &*self.1;
            let mut now = stuck.lock().unwrap();
            now[0] = true;
            changed.notify_all();
            while !now[1] {
                now = changed.wait(now).unwrap();
            }
            Ok(bytes.len())
        }

        fn spare(&self) -> io::Result<Box<dyn WireOut>> {
            Ok(Box::new(self.0.clone()))
        }
    }
    in_any_order(|| {
        let clock = Clock::start();
        let (wire, stuck) = (Wire::default(), Arc::new((Mutex::new([false; 2]), Condvar::new())));
        let out = Box::new(Stuck(wire.clone(), stuck.clone()));
        let writer = Writer::start(clock, &Mailbox::new(clock), out, || {}).unwrap();
        writer.hold(b"H".to_vec(), Time::NEVER..Time::NEVER);
        writer.send(b"a".to_vec(), Time::NEVER);
        let (now, changed) = &*stuck;
        let mut is = now.lock().unwrap();
        while !is[0] {
            is = changed.wait(is).unwrap();
        }
        drop(is);
        assert!(breaks_down(Duration::from_millis(20)), "nothing was held");
        assert_eq!(wire.got(), b"HHH");
        now.lock().unwrap()[1] = true;
        changed.notify_all();
        writer.close();
        writer.wait_end(EVER);
    });
}

/// A wire that is lost ends its thread, and whoever waits for the end goes on.
#[test]
fn a_lost_wire_ends_its_writer() {
    struct Lost;
    impl WireOut for Lost {
        fn write(&mut self, _: &[u8]) -> io::Result<usize> {
            Err(io::ErrorKind::BrokenPipe.into())
        }

        fn spare(&self) -> io::Result<Box<dyn WireOut>> {
            Ok(Box::new(Self))
        }
    }
    in_any_order(|| {
        let clock = Clock::start();
        let mailbox = Mailbox::new(clock);
        let to = mailbox.clone();
        let lost = move || to.post(Event::Lost);
        let writer = Writer::start(clock, &mailbox, Box::new(Lost), lost).unwrap();
        writer.send(b"a".to_vec(), Time::NEVER);
        assert!(matches!(mailbox.take(Time::NEVER).1, Event::Lost));
        writer.close();
        writer.wait_end(EVER);
    });
}

//! The mailbox as a machine: what overtakes what, what is bounded, and which moment each event has.

use quadjig::machines::mailbox::Lanes;
use quadjig::measure::time::Time;
use quadjig::seam::{Event, Key, SystemSignal};

const SOON: Time = Time(1_000_000);

fn bytes() -> Event {
    Event::Bytes(vec![0])
}

fn all(lanes: &mut Lanes, now: Time) -> Vec<(u64, String)> {
    std::iter::from_fn(|| lanes.take(now, Time::NEVER)).map(|(at, event)| (at.0, format!("{event:?}"))).collect()
}

#[test]
fn a_person_overtakes_the_boards_and_moments_never_run_backwards() {
    let mut lanes = Lanes::default();
    lanes.post(Time(1), bytes());
    lanes.post(Time(2), Event::Key(Key::Enter));
    lanes.post(Time(3), Event::Signal(SystemSignal::Terminate));
    // A key has the moment at which it came, bytes that of their delivery.
    let first = lanes.take(Time(10), SOON).unwrap();
    assert!(matches!(first, (Time(2), Event::Key(Key::Enter))));
    assert!(matches!(lanes.take(Time(10), SOON), Some((Time(3), Event::Signal(_)))));
    assert!(matches!(lanes.take(Time(10), SOON), Some((Time(10), Event::Bytes(..)))));
    lanes.post(Time(9), Event::Key(Key::Enter));
    assert!(matches!(lanes.take(Time(11), SOON), Some((Time(10), Event::Key(_)))));
    assert!(lanes.take(Time(11), SOON).is_none());
    assert!(matches!(lanes.take(SOON, SOON), Some((SOON, Event::Tick))));
}

#[test]
fn bytes_wait_with_the_system_once_256_wait_here() {
    let mut lanes = Lanes::default();
    for _ in 0..256 {
        assert!(lanes.has_room());
        lanes.post(Time(1), bytes());
    }
    assert!(!lanes.has_room());
    // What is no bytes gets in all the same.
    lanes.post(Time(1), Event::Lost);
    lanes.take(Time(2), SOON);
    assert!(!lanes.has_room());
    lanes.take(Time(2), SOON);
    assert!(lanes.has_room());
}

#[test]
fn keys_that_nobody_takes_do_not_pile_up_but_a_ctrl_c_behind_them_comes() {
    let mut lanes = Lanes::default();
    for at in 0..100_000 {
        lanes.post(Time(at), Event::Key(Key::Char('a')));
        lanes.post(Time(at), Event::Paste);
    }
    lanes.post(Time(5), Event::Key(Key::Interrupt));
    lanes.post(Time(5), Event::Signal(SystemSignal::HangUp));
    let all = all(&mut lanes, SOON);
    assert!(all.len() < 1100, "{}", all.len());
    assert_eq!(all[all.len() - 2].1, "Key(Interrupt)");
    assert_eq!(all[all.len() - 1].1, "Signal(HangUp)");
}

#[test]
fn the_bytes_of_a_paste_are_told_once_until_they_were_taken() {
    let mut lanes = Lanes::default();
    for _ in 0..3 {
        lanes.post(Time(1), Event::Paste);
    }
    lanes.post(Time(1), Event::Key(Key::Interrupt));
    lanes.post(Time(1), Event::Paste);
    let events: Vec<String> = all(&mut lanes, Time(1)).into_iter().map(|(_, event)| event).collect();
    assert_eq!(events, ["Paste", "Key(Interrupt)", "Paste"]);
    lanes.post(Time(2), Event::Paste);
    assert_eq!(all(&mut lanes, Time(2)).len(), 1);
}

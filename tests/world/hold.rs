//! The dead man's hold: the writer sends the stop by itself when nobody renews it in time.

use super::kit::{Master, break_down, breaks_down, now, opened};
use quadjig::measure::time::Time;
use quadjig::seam::{Effect, World};
use std::time::{Duration, Instant};

const SILENT: Duration = Duration::from_millis(200);

fn hold(world: &mut quadjig::world::real::RealWorld) {
    let until = now(world) + SILENT;
    world.act(Effect::Hold(b"STOP".to_vec(), until..Time::NEVER));
}

#[test]
fn it_fires_after_200_ms_of_silence_and_goes_on_until_released() {
    let mut board = Master::new();
    let mut world = opened(&board.path);
    hold(&mut world);
    let began = Instant::now();
    let came = board.read_until(|bytes| !bytes.is_empty());
    let after = began.elapsed();
    assert!(after >= Duration::from_millis(190), "{after:?}");
    assert!(came.starts_with(b"STOP"));
    // Again every 20 ms; a busy machine may be late, never early.
    let more = board.read_until(|bytes| bytes.len() >= 5 * 4);
    let took = began.elapsed().saturating_sub(after);
    assert!(took >= Duration::from_millis(60), "{took:?}");
    assert_eq!(&more[..20], b"STOPSTOPSTOPSTOPSTOP");
    world.act(Effect::Release);
    while !board.read_for(Duration::from_millis(100)).is_empty() {}
    assert!(board.read_for(Duration::from_millis(200)).is_empty());
}

#[test]
fn it_does_not_fire_while_it_is_renewed_or_once_it_is_released() {
    let mut board = Master::new();
    let mut world = opened(&board.path);
    for _ in 0..12 {
        hold(&mut world);
        assert!(board.read_for(Duration::from_millis(40)).is_empty());
    }
    world.act(Effect::Release);
    assert!(board.read_for(Duration::from_millis(400)).is_empty());
}

#[test]
fn a_wire_that_is_closed_while_held_sends_the_stop_first() {
    let mut board = Master::new();
    let mut world = opened(&board.path);
    world.act(Effect::Hold(b"STOP".to_vec(), Time::NEVER..Time::NEVER));
    drop(world);
    assert!(board.read_until(|bytes| !bytes.is_empty()).starts_with(b"STOP"));
}

/// A panic anywhere in the program sends the held stops before a word is printed, more than once: one may be lost.
#[test]
fn a_panic_sends_the_held_stop() {
    breaks_down("world::hold::panics_while_held");
}

#[test]
#[ignore = "run by the test above, in a process of its own"]
fn panics_while_held() {
    let mut board = Master::new();
    let mut world = opened(&board.path);
    world.act(Effect::Hold(b"STOP".to_vec(), Time::NEVER..Time::NEVER));
    assert!(board.read_for(Duration::from_millis(100)).is_empty());
    break_down(move || board.read_for(Duration::from_millis(1)).starts_with(b"STOPSTOPSTOP"));
}

//! Writes that are under way together: only those whose order does not matter, over a wire that loses messages.

use super::stand::{ARM_ONLY, Log, Plot, Stand, Then};
use quadjig::board::mavlink::{FrameClass, MavlinkLink};
use quadjig::board::sheet::Settings;
use quadjig::board::signals::{Link, LinkEvent, Request, Ticket};
use quadjig::measure::time::Time;
use quadjig::record::Snapshot;
use quadjig::seam::{Event, Key};
use quadjig::virtual_board::{WireConfig, World, WorldConfig};
use std::collections::BTreeSet;

/// Settings of a band, or with a word: each of them keeps its place.
const PLACED: [&str; 6] = ["ARM_CHANNEL", "ARM_FROM", "ARM_TO", "BUZZ_CHANNEL", "IDLE_US", "THR_CHANNEL"];

fn config(seed: u64, loss: f64) -> WorldConfig {
    let wire = WireConfig { baud: Some(230_400), loss, settings: 120, quiet: true, ..WireConfig::default() };
    WorldConfig { seed, wire, ..WorldConfig::default() }
}

/// A copy of all settings as the board was made.
fn copy(config: WorldConfig) -> Snapshot {
    let wire = WireConfig { loss: 0.0, baud: None, ..config.wire };
    let (mut world, mut link) = (World::new(WorldConfig { wire, ..config }), MavlinkLink::new(None));
    let (mut heard, mut out, mut now) = (Vec::new(), Vec::new(), Time(0));
    for request in [None, Some(Request::Identify), Some(Request::ListSettings)] {
        if let Some(request) = request {
            link.send(now, Ticket(1), request, &mut out);
        }
        for _ in 0..2_000 {
            world.receive(now, &std::mem::take(&mut out));
            now = Time(now.0 + 1_000);
            world.advance(now);
            link.receive(now, &world.take_output(), &mut heard);
            link.work(now, &mut out, &mut heard);
        }
    }
    let (mut settings, mut identity) = (Settings::new(), None);
    for heard in heard {
        match heard {
            LinkEvent::Setting { name, value, .. } => _ = settings.insert(name, value),
            LinkEvent::Identity(board) => identity = Some(board),
            _ => {}
        }
    }
    assert_eq!(settings.len(), 120);
    Snapshot::new("2026-03-01T10:15:00Z".to_owned(), identity.unwrap(), settings)
}

/// The craft with a good part of its settings changed, and what it would be brought back to.
fn changed(seed: u64, loss: f64) -> Stand<'static> {
    let config = config(seed, loss);
    let mut stand = Stand::on(ARM_ONLY, config.clone());
    stand.copy = Some(copy(config));
    let board = &mut stand.board;
    for (setting, value) in [
        ("ARM_CHANNEL", 6),
        ("ARM_FROM", 1754),
        ("ARM_TO", 2146),
        ("BUZZ_CHANNEL", 7),
        ("IDLE_US", 1150),
        ("THR_CHANNEL", 4),
    ] {
        board.line(Time(0), &format!("set {setting} {value}")).unwrap();
    }
    for number in 1..=30 {
        board.line(Time(0), &format!("set SPARE_{number} {number}")).unwrap();
    }
    stand
}

#[test]
fn what_has_a_place_keeps_it_whatever_gets_lost() {
    let mut again = 0;
    for seed in 1..=12 {
        let played = changed(seed, if seed == 1 { 0.0 } else { 0.05 }).play();
        assert_eq!(played.result, Some(Ok(())), "seed {seed}: {}", played.log.tail());
        let settings = &played.board.truth()["settings"];
        assert_eq!((&settings["SPARE_7"]["stored"], &settings["ARM_CHANNEL"]["stored"]), (&0.into(), &5.into()));
        let names: Vec<String> = played.log.writes().into_iter().map(|(_, name, _)| name).collect();
        // The first thing to leave closes arm, the last one opens it.
        assert_eq!((names[0].as_str(), names.last().unwrap().as_str()), ("ARM_TO", "ARM_TO"), "{names:?}");
        // Repeats of one with a place stand together: nothing else left before it was answered.
        let mut runs: Vec<(&str, usize)> = Vec::new();
        for name in names.iter().map(String::as_str) {
            match runs.last_mut() {
                Some((last, times)) if *last == name => *times += 1,
                _ => runs.push((name, 1)),
            }
        }
        for placed in PLACED {
            let stays = runs.iter().filter(|(name, _)| *name == placed).count();
            let most = if ["ARM_TO", "ARM_FROM"].contains(&placed) { 2 } else { 1 };
            assert!(stays <= most, "seed {seed}: {placed} was left and taken up again\n{names:?}");
        }
        again += names.len() - names.iter().collect::<BTreeSet<_>>().len();
        // Arm is closed in truth before anything without a place leaves, and all that has none was answered before it
        // is opened: those are the free writes between the first and the last of the placed ones.
        let first = names.iter().position(|name| name.starts_with("SPARE")).unwrap();
        let last = names.iter().rposition(|name| name.starts_with("SPARE")).unwrap();
        assert!(names[..first].iter().any(|name| name == "ARM_FROM"));
        assert!(names[last..].iter().any(|name| name == "ARM_CHANNEL"));
    }
    assert!(again >= 60, "hardly anything was sent again: {again}");
}

#[test]
fn what_has_none_is_under_way_together() {
    let played = changed(1, 0.0).play();
    let writes = played.log.sent(FrameClass::Writes);
    let together = writes.windows(2).filter(|pair| pair[0].at == pair[1].at).count();
    assert!(together >= 7, "{together} of {} left at once", writes.len());
    // Reading back is under way together as well.
    let reads = played.log.sent(FrameClass::Looks);
    assert!(reads.windows(2).filter(|pair| pair[0].at == pair[1].at).count() >= 14);
}

#[test]
fn a_stop_ends_all_that_are_under_way() {
    let mut stand = changed(3, 0.0);
    let wrote = |log: &Log| log.writes().iter().filter(|(_, name, _)| name.starts_with("SPARE")).count() >= 8;
    let interrupt = Then::Event(Event::Key(Key::Interrupt));
    stand = stand.plot(Plot::when(move |_, log| wrote(log), 0, vec![interrupt]));
    let played = stand.play();
    assert_eq!(played.code(), 4, "{}", played.log.tail());
    let spare = played.log.writes().iter().filter(|(_, name, _)| name.starts_with("SPARE")).count();
    assert!(spare < 30, "{spare}");
    assert!(!played.log.writes().iter().skip(3).any(|(_, name, _)| name.starts_with("ARM")), "arm stays closed");
}

//! A wire that goes away: at rest, in a restart, and with another board at its end.

use super::stand::{CUT, Did, Log, Plot, START, Stand, Then};
use quadjig::board::mavlink::{FrameClass, decode, frames};
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, UiEvent};
use quadjig::virtual_board::{BoardKind, ProtocolConfig, Secret, World, WorldConfig};
use std::time::Duration;

fn restarting(log: &Log) -> bool {
    !log.sent(FrameClass::Restarts).is_empty()
}

fn props_asked(log: &Log) -> usize {
    log.questions().iter().filter(|question| question.about == About::Props).count()
}

#[test]
fn lost_at_rest_ends_the_run_and_nothing_more_is_sent() {
    // In a quiet moment with the battery in, and while a question stands.
    for question in [false, true] {
        let played = Stand::new(START)
            .plot(Plot::when(
                move |_, log| if question { !log.motor_questions().is_empty() } else { log.says("The battery is in") },
                150,
                vec![Then::Line("usb out")],
            ))
            .plot(Plot::when(
                |board, _| !board.link_present() && board.now().0 > 5_000_000,
                2000,
                vec![Then::Line("usb in")],
            ))
            .play();
        let log = &played.log;
        assert_eq!(played.fault(), &Fault::LinkLost, "{}", log.tail());
        assert_eq!(played.code(), 5);
        log.nothing_turned();
        let lost = log.event("Lost").event;
        assert!(!log.entries.iter().any(|e| e.event > lost && matches!(e.did, Did::Frame { .. })), "{}", log.tail());
        assert!(log.says("start again"), "{}", log.tail());
    }
}

#[test]
fn lost_during_a_write_leaves_the_run_open_for_the_next_start() {
    let played =
        Stand::new(START).plot(Plot::when(|_, log| !log.writes().is_empty(), 0, vec![Then::Line("usb out")])).play();
    assert_eq!(played.code(), 5, "{}", played.log.tail());
    let mut stand = Stand::new(START);
    stand.board = played.board;
    let now = stand.board.now();
    stand.board.line(now, "usb in").unwrap();
    stand.board.advance(now + Duration::from_secs(3));
    stand.disk = played.disk;
    let next = stand.play();
    assert!(next.log.says("was cut off before its end"), "{:#?}", next.log.lines());
    assert_eq!(next.result, Some(Ok(())), "{}", next.log.tail());
}

#[test]
fn a_planned_restart_is_no_lost_link() {
    for recipe in [START, CUT] {
        let played = Stand::new(recipe).play();
        assert_eq!(played.result, Some(Ok(())));
        assert!(restarting(&played.log));
        played.log.event("Lost");
        assert_eq!(props_asked(&played.log), 1);
    }
}

#[test]
fn a_board_that_does_not_come_back() {
    let config = WorldConfig { restart: Duration::from_secs(300), ..WorldConfig::default() };
    let played = Stand::on(START, config).play();
    assert_eq!(played.fault(), &Fault::NotBack(30), "{}", played.log.tail());
    assert_eq!(played.code(), 5);
    played.log.nothing_turned();
    let sent = played.log.sent(FrameClass::Restarts)[0].at;
    let ended = played.log.entries.last().unwrap().at.since(sent);
    assert!(ended <= Duration::from_secs(34), "{ended:?}");
}

#[test]
fn a_slow_board_is_waited_for() {
    let config = WorldConfig { restart: Duration::from_secs(20), ..WorldConfig::default() };
    let played = Stand::on(START, config).play();
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
}

#[test]
fn another_board_after_the_restart() {
    let other = WorldConfig { seed: 2, ..WorldConfig::default() };
    let (was, now) = (WorldConfig::default().board_id(), other.board_id());
    let played = Stand::new(START)
        .plot(Plot::when(
            |board, log| restarting(log) && !board.link_present(),
            300,
            vec![Then::Another(Box::new(World::new(other)))],
        ))
        .play();
    let log = &played.log;
    assert_eq!(played.fault(), &Fault::AnotherBoard { was: was.clone(), now: now.clone() }, "{}", log.tail());
    assert_eq!(played.code(), 5);
    let restart = log.sent(FrameClass::Restarts)[0].event;
    for class in [FrameClass::Writes, FrameClass::Stores, FrameClass::Restarts, FrameClass::Motor, FrameClass::Stop] {
        assert_eq!(log.sent_after(class, restart), 0, "{class:?} to another board");
    }
    log.nothing_turned();
}

#[test]
fn a_board_that_restarts_by_itself_is_a_lost_link() {
    let played = Stand::new(START)
        .plot(Plot::when(|_, log| log.says("The battery is in"), 300, vec![Then::Line("restart")]))
        .play();
    assert_eq!(played.fault(), &Fault::LinkLost, "{}", played.log.tail());
    played.log.nothing_turned();
}

/// Over every link, and behind an adapter, whose port stays there: only what the board says tells then.
#[test]
fn a_restart_that_nobody_asked_for_ends_a_run_on_every_board() {
    for board in BoardKind::ALL {
        for port in ["port goes", "port stays"] {
            let config = WorldConfig { board, ..WorldConfig::default() };
            let recipe = START.replace("board \"Finch\"", &format!("board \"{}\"", board.name()));
            let played = Stand::on(&recipe, config)
                .plot(Plot::when(
                    |_, log| log.says("The battery is in"),
                    300,
                    vec![Then::Line(port), Then::Line("restart")],
                ))
                .play();
            assert!(played.result.as_ref().is_some_and(Result::is_err), "{board:?}, {port}: {}", played.log.tail());
            played.log.nothing_turned();
        }
    }
}

#[test]
fn several_vehicles_are_refused_by_their_numbers_before_anything_is_written() {
    for (others, words) in [
        (vec![(3, 1), (2, 1)], "several vehicles answer on virtual: 1, 2 and 3"),
        (vec![(1, 2)], "several boards answer on virtual as vehicle 1: components 1 and 2"),
    ] {
        let speech = ProtocolConfig { others, ..ProtocolConfig::default() };
        let played = Stand::on(START, WorldConfig { speech, ..WorldConfig::default() }).play();
        assert_eq!(played.fault().to_string(), words, "{}", played.log.tail());
        assert_eq!(played.code(), 5);
        assert!(played.log.writes().is_empty());
        played.log.nothing_turned();
    }
}

#[test]
fn long_work_of_the_board_is_shown() {
    let speech = ProtocolConfig { store_takes: 4, ..ProtocolConfig::default() };
    let played = Stand::on(START, WorldConfig { speech, ..WorldConfig::default() }).play();
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    for far in ["0 % done", "25 % done", "50 % done", "75 % done"] {
        let shown = played.log.shown(|shown| matches!(shown, UiEvent::Passing(text) if text.contains(far)));
        assert!(shown.is_some(), "{far}: {}", played.log.tail());
    }
}

#[test]
fn our_sign_of_life_leaves_once_a_second() {
    // DG, services/heartbeat: 1 Hz.
    let played = Stand::new(START).play();
    let beats: Vec<_> = played.log.sent(FrameClass::Heartbeat).into_iter().map(|entry| entry.at).collect();
    let gaps: Vec<_> = beats.windows(2).map(|pair| pair[1].since(pair[0])).collect();
    assert!(gaps.iter().all(|gap| *gap >= Duration::from_secs(1)), "{gaps:?}");
    // Only while the board restarts it is longer.
    let longer = gaps.iter().filter(|gap| **gap > Duration::from_millis(1150)).count();
    assert!(beats.len() > 20 && longer <= 2, "{gaps:?}");
}

#[test]
fn streams_are_as_they_were_found_after_a_run() {
    let mut played = Stand::new(START).play();
    let board = &mut played.board;
    let now = board.now();
    let _ = board.take_output();
    board.advance(now + Duration::from_secs(4));
    let bytes = board.take_output();
    let of = |id| frames(&bytes).into_iter().filter(|frame| decode(frame).is_some_and(|frame| frame.id == id)).count();
    // Heartbeat, attitude, outputs, channels: what the board sends by itself, once and five times a second.
    for (id, count) in [(0, 4), (30, 20), (36, 20), (65, 20)] {
        assert!(of(id).abs_diff(count) <= 1, "message {id}: {}", of(id));
    }
}

#[test]
fn a_board_that_takes_only_signed_frames_is_named_as_that() {
    let speech = ProtocolConfig { key: Some(Secret([5; 32])), ..ProtocolConfig::default() };
    let played = Stand::on(START, WorldConfig { speech, ..WorldConfig::default() }).play();
    assert!(played.fault().to_string().contains("may take only signed ones"), "{}", played.log.tail());
    assert!(played.fault().hint().unwrap().contains("--signing-key"));
    assert!(played.log.writes().is_empty());
}

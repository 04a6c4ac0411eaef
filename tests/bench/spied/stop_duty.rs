//! In every state in which something started or worked could turn, everything that stops has stop bytes leave in the
//! same event, first of all, and again and again.

use super::{demands, did_not_leave_them_turning, stopped_at_once};
use crate::bench::stand::Hands;
use crate::spy::{Act, Class, Craft, Do, Played, Scene, View};
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::Gesture;
use quadjig::virtual_board::{BoardKind, Conduct, WorldConfig};
use std::time::Duration;

const START: &str = "keep\nrequire battery in\ntest idle in 2 starts\n";
const ONE: &str = "signal dshot300 at 4 kHz\nkeep\npower cycle\n";
const SWITCHES: &str = "require battery out\nkeep\ntest arm\n";

/// A young stop is repeated every 20 ms (`safety.md`, stop).
fn repeated(played: &Played, what: &str) {
    let log = &played.log;
    let first = log.sent.iter().find(|sent| sent.class.stops()).map(|sent| sent.at).unwrap();
    let young = log.sent_that(|s| s.class.stops() && s.at >= first && s.at.since(first) < Duration::from_millis(300));
    assert!(young.len() >= 14, "{what}: {} stops in 300 ms\n{}", young.len(), log.tail());
    let forced = log.sent_that(|s| s.class == Class::ForcedStop && s.at.since(first) < Duration::from_millis(300));
    assert!(forced.is_empty(), "{what}: forced too early: {forced:?}");
    let drives = log.sent_that(|s| s.at > first && matches!(s.class, Class::Run(_) | Class::Arm | Class::Write(..)));
    assert!(drives.is_empty(), "{what}: after the stop: {drives:?}");
}

fn late_hand(config: &WorldConfig) -> Hands<'static> {
    Hands::willing(config)
        .who_follows(|gesture| matches!(gesture, Gesture::SwitchTo { position: 2, .. }).then(Vec::new))
}

#[test]
fn while_a_start_is_invited() {
    for (what, demand) in demands() {
        let config = WorldConfig::default();
        let scene = Scene { hands: late_hand(&config), ..Scene::on_bound(&config, START) };
        let played = scene.act(Act::said("Start 1 of 2", 700, vec![Do::Event(demand())])).play();
        stopped_at_once(&played, what, &demand());
        repeated(&played, what);
    }
}

#[test]
fn while_motors_turn_by_the_switch() {
    for (what, demand) in demands() {
        let config = WorldConfig::default();
        let played = Scene::on_bound(&config, START).act(Act::turning(150, vec![Do::Event(demand())])).play();
        stopped_at_once(&played, what, &demand());
        repeated(&played, what);
        did_not_leave_them_turning(&played, what);
    }
}

#[test]
fn while_one_motor_runs_by_command() {
    for (what, demand) in demands() {
        let config = WorldConfig::default();
        let scene = Scene { limit: Duration::from_secs(600), ..Scene::on_bound(&config, ONE) };
        let played = scene.act(Act::turning(80, vec![Do::Event(demand())])).play();
        assert!(played.log.fastest(Craft::A) > 1000.0, "{}", played.log.tail());
        stopped_at_once(&played, what, &demand());
        repeated(&played, what);
    }
}

/// `test arm` with the battery out by word alone: the craft arms, and nothing tells that it can't turn.
#[test]
fn while_switches_are_worked_on_a_craft_with_arm_bound() {
    for sensor in [true, false] {
        for (what, demand) in demands() {
            let mut config = WorldConfig { speed_telemetry: false, ..WorldConfig::default() };
            config.conduct = Conduct { voltage_sensor: sensor, ..Conduct::default() };
            let scene = Scene { limit: Duration::from_secs(600), ..Scene::on_bound(&config, SWITCHES) };
            let armed = Act::when(|view| view.board.armed(), 150, vec![Do::Event(demand())]);
            let played = scene.act(armed).play();
            assert!(played.log.first_armed(Craft::A).is_some(), "{}", played.log.tail());
            stopped_at_once(&played, what, &demand());
        }
    }
}

#[test]
fn on_a_console_too() {
    for (what, demand) in demands() {
        let config = WorldConfig { board: BoardKind::FinchC, ..WorldConfig::default() };
        let played = Scene::on_bound(&config, START).act(Act::turning(150, vec![Do::Event(demand())])).play();
        assert!(played.log.fastest(Craft::A) > 1000.0, "{}", played.log.tail());
        stopped_at_once(&played, what, &demand());
        did_not_leave_them_turning(&played, what);
    }
}

#[test]
fn over_packets_too() {
    for board in [BoardKind::FinchP, BoardKind::FinchQ] {
        for (what, demand) in demands() {
            let config = WorldConfig { board, ..WorldConfig::default() };
            let played = Scene::on_bound(&config, START).act(Act::turning(150, vec![Do::Event(demand())])).play();
            assert!(played.log.fastest(Craft::A) > 1000.0, "{}", played.log.tail());
            stopped_at_once(&played, what, &demand());
            repeated(&played, what);
            did_not_leave_them_turning(&played, what);
            let scene = Scene { limit: Duration::from_secs(600), ..Scene::on_bound(&config, ONE) };
            let played = scene.act(Act::turning(80, vec![Do::Event(demand())])).play();
            stopped_at_once(&played, what, &demand());
            repeated(&played, what);
        }
    }
}

/// The first stops are lost on the wire, or not heard by the board: it goes on until the motors rest.
#[test]
fn a_stop_that_is_swallowed_is_sent_until_it_works() {
    for swallowed in [1, 5, 20] {
        let config =
            WorldConfig { conduct: Conduct { swallows: swallowed, ..Conduct::default() }, ..WorldConfig::default() };
        let key = demands()[0].1;
        let played = Scene::on_bound(&config, START).act(Act::turning(150, vec![Do::Event(key())])).play();
        let log = &played.log;
        let at = log.event("Key(Char(' '").unwrap();
        let driven = log.truth.iter().rfind(|truth| truth.highest > 1005).map(|truth| truth.at).unwrap();
        let bound = Duration::from_millis(20 * u64::from(swallowed) + 30);
        assert!(driven.since(at) <= bound, "{swallowed} swallowed: driven for {:?}\n{}", driven.since(at), log.tail());
    }
}

/// The program's core hangs while motors turn: the writer's hold stops within 250 ms, and the program that wakes does not
/// go on as if nothing had been.
#[test]
fn a_program_that_hangs_while_motors_turn_is_stopped_and_stays_so() {
    for hang in [400, 700, 1500] {
        let config = WorldConfig::default();
        let scene = Scene { limit: Duration::from_secs(300), ..Scene::on_bound(&config, START) };
        let played = scene.act(Act::turning(150, vec![Do::Freeze(hang)])).play();
        let from = played.log.when("the program is frozen").unwrap();
        played.log.stops_within(from, Duration::from_millis(250), &format!("a hang of {hang} ms"));
        assert!(played.result.is_err(), "hung for {hang} ms: it went on\n{}", played.log.tail());
        let later = played.log.invitations().into_iter().find(|(at, text)| *at > from && text.starts_with("Start "));
        assert_eq!(later, None, "hung for {hang} ms");
        repeated(&played, "a hang");
    }
}

/// The same while a start is invited, and the switch comes meanwhile.
#[test]
fn a_program_that_hangs_while_a_start_is_invited_is_stopped() {
    let config = WorldConfig::default();
    let scene = Scene { hands: late_hand(&config), limit: Duration::from_secs(300), ..Scene::on_bound(&config, START) };
    let played = scene.act(Act::said("Start 1 of 2", 500, vec![Do::Line("flip B 2"), Do::Freeze(900)])).play();
    let from = played.log.when("the program is frozen").unwrap();
    played.log.stops_within(from, Duration::from_millis(250), "a hang while invited");
    assert!(played.result.is_err(), "it went on\n{}", played.log.tail());
}

/// A board that restarts may come armed out of it: whoever demands a stop meanwhile has an ordinary disarm leave to the
/// same board, at once or once it has answered again (`interlock.md`, 2 and 3).
#[test]
fn while_a_board_restarts() {
    for after in [0, 400, 900] {
        for (what, demand) in demands().into_iter().filter(|(what, _)| !["a key", "a paste"].contains(what)) {
            let config = WorldConfig::default();
            let told = |view: &View<'_>| view.log.sent.iter().any(|sent| sent.class == Class::Restart);
            let played = Scene::on_bound(&config, "idle at 1111\nkeep\n")
                .act(Act::when(told, after, vec![Do::Event(demand())]))
                .play();
            let log = &played.log;
            let at = log.event(&format!("{:?}", demand())).unwrap();
            let stops = log.sent_that(|sent| sent.at >= at && sent.class.stops());
            assert!(!stops.is_empty(), "{what} after {after} ms: no stop left\n{}", log.tail());
            assert!(stops.iter().all(|sent| sent.class != Class::ForcedStop), "{what}: by force\n{}", log.tail());
            assert!(
                matches!(played.result, Err(Fault::Stopped { confirmed: true, .. })),
                "{what} after {after} ms: {:?}\n{}",
                played.result,
                log.tail()
            );
        }
    }
}

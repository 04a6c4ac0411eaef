//! Doors and ends of steps that a person can leave half done: a search given up, a restart that another craft answers, a
//! test that failed before a restart, a slow link, an attestation that ended.
//!
//! Each scene is judged by what left for whom and by what truly turned. Must not be here: what the program thinks of
//! itself.

use super::did_not_leave_them_turning;
use crate::bench::stand::Hands;
use crate::spy::{Act, Class, Craft, Do, Scene, View, bound};
use quadjig::measure::time::Time;
use quadjig::seam::ui::Gesture;
use quadjig::virtual_board::{Conduct, World, WorldConfig};
use std::time::Duration;

/// Switches worked, on a craft that has arm bound.
const FIND: &str = "recipe \"Wren 95, switches\"\nedition 1\ncraft quad x\nboard \"Finch\"\n\
                    require battery out\nfind switch B with 3 positions\n";

/// No sensor, no speeds, and the battery is in: what is typed is all that there is.
fn blind() -> WorldConfig {
    let conduct = Conduct { voltage_sensor: false, ..Conduct::default() };
    let mut config = WorldConfig { speed_telemetry: false, conduct, ..WorldConfig::default() };
    config.pack.plugged = true;
    config
}

fn finding<'a>(config: &WorldConfig) -> Scene<'a> {
    Scene { recipe: FIND.to_owned(), board: bound(config), ..Scene::new(config, "") }
}

/// The other craft: its propellers on, its battery in, armed by its own pilot. It was switched on later.
fn flying() -> World {
    let mut config = WorldConfig { seed: 0xB, ..WorldConfig::default() };
    config.pack.plugged = true;
    let mut board = bound(&config);
    for line in ["props on", "restart"] {
        board.line(Time(0), line).unwrap();
    }
    board.advance(Time(3_000_000));
    for line in ["set ARM_CHANNEL 6", "flip B 2"] {
        board.line(Time(3_000_000), line).unwrap();
    }
    board.advance(Time(3_100_000));
    assert!(board.armed());
    board
}

/// A search that is given up with the switch left on: nothing is left turning unstopped.
#[test]
fn a_search_that_was_given_up_leaves_nothing_turning() {
    let config = blind();
    let hands = Hands::willing(&config)
        .who_follows(|gesture| matches!(gesture, Gesture::WorkSwitch(_) | Gesture::HandsOff).then(Vec::new));
    let third = |view: &View<'_>| {
        view.log.invitations().iter().filter(|(_, text)| text.starts_with("Work switch B")).count() == 3
    };
    let scene = Scene { hands, after: Duration::from_secs(5), ..finding(&config) };
    let played = scene.act(Act::when(third, 20_000, vec![Do::Line("flip B 2")])).play();
    assert!(played.log.fastest(Craft::A) > 1000.0, "nothing turned: this shows nothing\n{}", played.log.tail());
    assert!(played.result.is_err(), "it was found\n{}", played.log.tail());
    did_not_leave_them_turning(&played, "a search given up");
}

/// A link slower than 250 ms allows no motor step, and a switch that may arm the craft is one.
#[test]
fn over_a_slow_link_no_switch_is_worked_that_may_arm() {
    let config = blind();
    let played = Scene { lag: Duration::from_millis(300), ..finding(&config) }.play();
    let worked = played.log.invitations().iter().any(|(_, text)| text.starts_with("Work switch B"));
    assert!(!worked, "{}", played.log.tail());
    assert!(played.flat().contains("This link is slow"), "{}", played.screen);
}

/// On a wire that stays, another craft answers right after the restart was announced. What carries no clock may come
/// first, so that by two messages that carry one the session knows.
#[test]
fn a_craft_that_comes_in_a_restart_is_neither_stopped_nor_restarted() {
    let sent = |view: &View<'_>| view.log.sent.iter().any(|sent| sent.class == Class::Restart);
    for after in [10, 60, 300] {
        let config = WorldConfig::default();
        let scene = Scene {
            other: Some(flying()),
            stays: true,
            limit: Duration::from_secs(240),
            ..Scene::on_bound(&config, "keep\n")
        };
        let mut scene = scene.act(Act::when(sent, after, vec![Do::Swap]));
        scene.recipe = scene.recipe.replace("idle at 1150", "idle at 1111");
        let played = scene.play();
        let first = played.log.first_of_b.unwrap_or_else(|| panic!("never heard\n{}", played.log.tail()));
        let acted = played.log.reached_b_that(|sent| sent.at >= first && sent.class.acts());
        assert!(acted.is_empty(), "{after} ms: {acted:?}\n{}", played.log.tail());
        assert!(played.result.is_err(), "{after} ms: it went on\n{}", played.log.tail());
    }
}

/// What is said of radio and craft before anything that turns.
const KNOWN: [(u64, &str); 6] = [
    (2000, "require props off"),
    (2000, "require antenna on"),
    (2000, "channels roll, pitch, throttle, yaw"),
    (2000, "switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged"),
    (2000, "bind arm to switch B position 2"),
    (2000, "idle at 1111"),
];

fn sit<'a>(config: &WorldConfig, more: &[(u64, &'static str)]) -> Scene<'a> {
    let lines = KNOWN.iter().chain(more).copied().collect();
    Scene { typed: Some(lines), limit: Duration::from_secs(600), ..Scene::on_bound(config, "") }
}

/// A craft whose arm switch was seen to fail is no other one after a restart.
#[test]
fn a_restart_makes_no_failed_test_of_the_arm_switch_good() {
    let config = WorldConfig::default();
    let played = sit(
        &config,
        &[
            (2000, "require battery in"),
            (2000, "test arm"),
            (4000, "require battery out"),
            (2000, "keep"),
            (2000, "require battery in"),
            (4000, "test idle in 2 starts"),
        ],
    )
    .act(Act::when(|view| view.board.armed(), 150, vec![Do::Line("set ARM_FROM 2106")]))
    .act(Act::said("the board is not armed", 300, vec![Do::Line("flip B 0")]))
    .act(Act::said("the board is not armed", 1500, vec![Do::Line("set ARM_FROM 1754")]))
    .play();
    assert!(played.flat().contains("position 2 the board is not armed"), "{}", played.screen);
    assert!(played.log.sent.iter().any(|sent| sent.class == Class::Restart), "{}", played.screen);
    let starts = played.log.invitations().iter().filter(|(_, text)| text.starts_with("Start ")).count();
    assert_eq!(starts, 0, "{}\n{}", played.log.tail(), played.screen);
}

/// The antenna that the plan prints beside the plug-in was said of a contact that has ended since.
#[test]
fn a_battery_goes_in_only_with_the_antenna_that_is_printed() {
    let config = WorldConfig::default();
    let played = sit(&config, &[(40_000, "require battery out"), (2000, "require battery in")])
        .act(Act::said("1111", 6000, vec![Do::Suspend(20)]))
        .play();
    let slept = played.log.when("sleeps").unwrap_or_else(|| panic!("{}", played.log.tail()));
    let invited = played.log.invitations().into_iter().find(|(at, text)| *at > slept && text.starts_with("Plug the"));
    let asked = played.log.questions().iter().filter(|(at, q)| *at > slept && q.title.contains("ntenna")).count();
    assert!(invited.is_none() || asked > 0, "{}\n{}", played.log.tail(), played.screen);
}

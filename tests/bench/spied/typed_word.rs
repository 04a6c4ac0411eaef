//! A word typed by mistake or by habit: it spares questions, and never takes the stop away.

use super::{demands, did_not_leave_them_turning, once_turning, stopped_at_once};
use crate::spy::{Class, Craft, Played, Scene, bound};
use quadjig::measure::time::Time;
use quadjig::virtual_board::{BoardKind, Conduct, WorldConfig};
use std::time::Duration;

/// Switches worked, on a craft that has arm bound.
const FIND: &str = "recipe \"Wren 95, switches\"\nedition 1\ncraft quad x\nboard \"Finch\"\n\
                    require battery out\nfind switch B with 3 positions\n";

/// A craft that has arm bound to the very switch that is searched, played with what is given.
fn finding<'a>(config: &WorldConfig) -> Scene<'a> {
    Scene { recipe: FIND.replace("Finch", config.board.name()), board: bound(config), ..Scene::new(config, "") }
}

/// No sensor: what the operator types is all that there is; and the battery is in.
fn blind(kind: BoardKind, speeds: bool) -> WorldConfig {
    let mut config = WorldConfig { board: kind, speed_telemetry: speeds, ..WorldConfig::default() };
    config.conduct = Conduct { voltage_sensor: false, ..Conduct::default() };
    config.pack.plugged = true;
    config
}

/// Motors that turn although the word "battery out" was typed.
#[track_caller]
fn turned(played: &Played) -> Time {
    let first = played.log.first_over(Craft::A, 1000.0);
    first.unwrap_or_else(|| panic!("nothing turned: the scene shows nothing\n{}", played.log.tail()))
}

#[test]
fn after_a_false_word_everything_that_stops_still_stops() {
    for (what, demand) in demands() {
        let played = finding(&blind(BoardKind::Finch, false)).act(once_turning(demand)).play();
        turned(&played);
        stopped_at_once(&played, what, &demand());
        did_not_leave_them_turning(&played, what);
    }
}

#[test]
fn after_a_false_word_a_key_stops_a_console_too() {
    let (what, demand) = demands()[0];
    let played = finding(&blind(BoardKind::FinchC, false)).act(once_turning(demand)).play();
    turned(&played);
    stopped_at_once(&played, what, &demand());
}

/// A motor that turns says that the battery is in, whatever was typed: over 300 rpm, told at 20 Hz.
#[test]
fn speeds_contradict_the_word_and_stop() {
    let played = finding(&blind(BoardKind::Finch, true)).play();
    turned(&played);
    let told = played.log.first_over(Craft::A, 300.0).unwrap();
    played.log.stops_within(told, Duration::from_millis(300), "speeds over 300 rpm");
    let writes = played.log.sent_that(|sent| sent.at > told && matches!(sent.class, Class::Write(..) | Class::Store));
    assert!(writes.is_empty(), "written after it: {writes:?}");
    assert!(played.result.is_err(), "{:?}", played.result);
}

/// The first arming ends by the hand, the second comes as the switch is worked a second time: one contradiction is
/// enough for the whole session.
#[test]
fn a_word_that_was_contradicted_once_is_void() {
    let played = finding(&blind(BoardKind::Finch, true)).play();
    let first = turned(&played);
    let again = played.log.truth.iter().find(|t| t.at > first + Duration::from_secs(3) && t.fastest > 2000.0);
    assert!(
        again.is_none() || played.log.stopped(),
        "motors turned again {} ms later, and nothing was said\n{}",
        again.map_or(0, |truth| truth.at.since(first).as_millis()),
        played.log.tail()
    );
}

/// Motors that USB feeds turn with the battery out, and the word for that is even true.
fn fed(speeds: bool) -> WorldConfig {
    let mut config = WorldConfig { speed_telemetry: speeds, ..WorldConfig::default() };
    config.conduct = Conduct { usb_feeds_motors: true, ..Conduct::default() };
    config
}

#[test]
fn switches_worked_on_a_craft_with_arm_bound_are_asked_for_as_what_they_are() {
    for speeds in [true, false] {
        let played = finding(&fed(speeds)).play();
        let first = turned(&played);
        let asked = played.log.motor_questions().first().map(|(at, _)| *at);
        assert!(
            asked.is_some_and(|at| at < first),
            "speeds {speeds}: motors turned at {:.0} rpm unasked\n{}",
            played.log.fastest(Craft::A),
            played.log.tail()
        );
    }
}

#[test]
fn what_usb_makes_turn_is_stopped_by_everything_that_stops() {
    for (what, demand) in demands() {
        let played = finding(&fed(false)).act(once_turning(demand)).play();
        turned(&played);
        stopped_at_once(&played, what, &demand());
        did_not_leave_them_turning(&played, what);
    }
}

#[test]
fn speeds_with_the_battery_out_stop_by_themselves() {
    let played = finding(&fed(true)).play();
    let first = turned(&played);
    played.log.stops_within(first, Duration::from_millis(300), "speeds with the battery out");
}

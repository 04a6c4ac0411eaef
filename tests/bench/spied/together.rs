//! Two crafts on one wire that speak with one id, as over a radio: whatever leaves reaches both, so nothing that acts does.

use crate::spy::{Act, Craft, Do, Played, Scene, Weather, bound};
use quadjig::measure::time::Time;
use quadjig::virtual_board::{World, WorldConfig};
use std::time::Duration;

const START: &str = "keep\nrequire battery in\ntest idle in 2 starts\n";
/// Two boards are told apart within so long.
const NOTICED: Duration = Duration::from_millis(1500);

/// The other craft: switched on with the first, so that their clocks are alike, or so much later.
fn other(later: u64) -> World {
    let mut board = bound(&WorldConfig { seed: 0xB, ..WorldConfig::default() });
    if later > 0 {
        board.line(Time(0), "restart").unwrap();
        board.advance(Time(later * 1000));
    }
    board
}

#[track_caller]
fn left_alone(played: &Played, what: &str) {
    let from = played.log.first_of_b.expect("it never spoke") + NOTICED;
    let acted = played.log.reached_b_that(|sent| sent.at > from && sent.class.acts());
    assert!(acted.is_empty(), "{what}: what acts reached both: {acted:?}\n{}", played.log.tail());
    assert!(played.log.fastest(Craft::B) < 300.0, "{what}");
    assert!(played.result.is_err(), "{what}: it went on\n{}", played.log.tail());
}

/// While a motor question stands nobody is asked who it is: the frames alone show it.
#[test]
fn a_second_craft_with_the_same_id_at_a_motor_question_starts_nothing() {
    for (later, doubled, loss) in [(0, 0.0, 0.0), (0, 0.05, 0.05), (1100, 0.0, 0.0), (2600, 0.05, 0.05)] {
        let what = format!("{later} ms later, {loss} lost");
        let config = WorldConfig::default();
        let weather = Weather { seed: 7, loss, doubled, ..Weather::default() };
        let scene = Scene { other: Some(other(later)), stays: true, weather, ..Scene::on_bound(&config, START) };
        let asked = Act::motor_question(0, 50, vec![Do::Join]);
        let played = scene.act(asked).play();
        left_alone(&played, &what);
        assert!(played.log.fastest(Craft::A) < 300.0, "{what}: it was started\n{}", played.log.tail());
        let fault = played.result.as_ref().unwrap_err().to_string();
        let told = ["two boards speak with one id", "another one is on the wire", "another board"];
        assert!(told.iter().any(|told| fault.contains(told)), "{what}: {fault}\n{}", played.log.tail());
    }
}

/// Clocks alike and no question asked: the numbers of the frames tell.
#[test]
fn boards_that_were_powered_together_are_told_apart_by_the_numbers_of_their_frames() {
    let config = WorldConfig::default();
    let paused = "keep\npause \"Look.\"\nrequire battery out\nidle at 1160\n";
    let scene = Scene { other: Some(other(0)), stays: true, ..Scene::on_bound(&config, paused) };
    let played = scene.act(Act::said("Go on?", 10, vec![Do::Join])).play();
    left_alone(&played, "at a pause");
}

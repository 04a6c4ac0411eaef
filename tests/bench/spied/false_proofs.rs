//! What a hand, a word, another craft's sensor or a stop would have proved falsely.
//!
//! Source: `safety.md`, watch guards and failsafe; `interlock.md`, 1 to 3.

use super::at_the_prompt::KNOWN;
use crate::bench::stand::Hands;
use crate::spy::{Act, Class, Craft, Do, Scene, bound};
use quadjig::rehearsal::operator::Deed as Hand;
use quadjig::seam::ui::Gesture;
use quadjig::virtual_board::{Conduct, Deed, GivenId, OnLoss, WorldConfig};
use std::time::Duration;

fn ms(ms: u64) -> Duration {
    Duration::from_millis(ms)
}

fn flips(times: &[(u64, &str)]) -> Vec<(Duration, Hand)> {
    times.iter().map(|(after, line)| (ms(*after), Hand::World((*line).to_owned()))).collect()
}

/// A board that acknowledges a disarm and ignores it, and a hand that is off by habit, or just after it: the radio, without
/// which nothing stops such a board, stays on.
#[test]
fn a_hand_is_no_proof_that_a_board_obeys_a_disarm() {
    for off in [1050, 1450] {
        let conduct = Conduct { disarms: Deed::Hollow, ..Conduct::default() };
        let mut config = WorldConfig { conduct, ..WorldConfig::default() };
        config.receiver.on_loss = OnLoss::Hold;
        let mut first = true;
        let hands = Hands::willing(&config).who_follows(move |gesture| match gesture {
            Gesture::SwitchTo { switch, position: 2 } if switch.0 == "B" && std::mem::take(&mut first) => {
                Some(flips(&[(350, "flip B 2"), (off, "flip B 0")]))
            }
            _ => None,
        });
        let lines = "failsafe cut motors after 500 ms\nkeep\nrequire battery in\ntest failsafe within 3 s\n";
        let played = Scene { hands, limit: Duration::from_secs(400), ..Scene::new(&config, lines) }.play();
        let said = played.flat();
        assert!(!said.contains("obeys a disarm") && !said.contains("switch the radio off"), "off at {off}: {said}");
        assert!(
            said.contains("was not seen on from before a disarm over the link until after it"),
            "off at {off}: {said}"
        );
    }
}

/// Nothing tells that the battery is in, and the stabiliser winds up: no output goes above the ceiling for long.
#[test]
fn a_word_that_the_battery_is_out_bounds_the_outputs_all_the_same() {
    let conduct = Conduct { voltage_sensor: false, ..Conduct::default() };
    let mut config = WorldConfig { speed_telemetry: false, conduct, ..WorldConfig::default() };
    config.pack.plugged = true;
    config.stabiliser.wind_up = [300.0, 0.0, 0.0];
    config.stabiliser.most = 900.0;
    let mut backs = 0;
    let hands = Hands::willing(&config).who_follows(move |gesture| match gesture {
        Gesture::SwitchTo { switch, position: 0 } if switch.0 == "B" => {
            backs += 1;
            (backs > 2).then(|| flips(&[(6000, "flip B 0")]))
        }
        _ => None,
    });
    let lines = "require battery out\ntest arm\n";
    let played = Scene { hands, limit: Duration::from_secs(400), ..Scene::on_bound(&config, lines) }.play();
    let highest = played.log.highest(Craft::A);
    assert!(played.log.stopped() && played.flat().contains("a motor output is at"), "{}", played.flat());
    assert!((1250..1300).contains(&highest), "{highest}: {}", played.flat());
}

/// Two boards without an id: one's sensor was seen working, the other's reads nothing, with its battery in.
#[test]
fn a_sensor_that_was_seen_working_is_not_another_crafts() {
    let conduct = Conduct { id: GivenId::Zero, ..Conduct::default() };
    let config = WorldConfig { conduct, speed_telemetry: false, ..WorldConfig::default() };
    let mut other = config.clone();
    other.seed = 2;
    other.pack.plugged = true;
    other.pack.true_ratio = 1.0e6;
    let lines = "require battery in\nrequire battery out\nkeep\ntest arm\n";
    let scene = Scene { other: Some(bound(&other)), limit: Duration::from_secs(400), ..Scene::new(&config, lines) };
    let restarts = Act::when(
        |view| !view.log.sent_that(|sent| matches!(sent.class, Class::Restart)).is_empty(),
        50,
        vec![Do::Replug(1500)],
    );
    let played = scene.act(restarts).play();
    let (fastest, said) = (played.log.fastest(Craft::B), played.flat());
    assert!(fastest < 300.0, "{fastest}: {said}");
    assert!(!said.contains("the same board is back"), "{said}");
}

/// A board that goes on for a minute after its switch: the watch stops the test of the cut before the test itself does, and
/// no more starts for that.
#[test]
fn a_test_that_a_stop_ended_was_not_passed() {
    let conduct = Conduct { cuts_after: Duration::from_secs(60), ..Conduct::default() };
    let config = WorldConfig { conduct, ..WorldConfig::default() };
    let more = [
        (2000, "test cut within 250 ms"),
        (9000, "require battery in"),
        (4000, "test idle in 2 starts"),
        (20_000, "look"),
    ];
    let typed = KNOWN.iter().chain(&more).copied().collect();
    let scene = Scene { typed: Some(typed), limit: Duration::from_secs(600), ..Scene::on_bound(&config, "") };
    let played = scene.play();
    let starts = played.log.invitations().iter().filter(|(_, text)| text.starts_with("Start ")).count();
    assert_eq!(starts, 0, "{}", played.flat());
    assert!(played.flat().contains("The last test of the cut was not passed"), "{}", played.flat());
}

//! A computer that sleeps: time goes on without it. An invitation, a word and a contact do not outlive an hour.

use crate::bench::stand::Hands;
use crate::spy::{Act, Class, Craft, Do, Played, Scene};
use quadjig::measure::time::Time;
use quadjig::rehearsal::operator::Deed;
use quadjig::seam::ui::{About, Gesture};
use quadjig::virtual_board::{Conduct, WorldConfig};
use std::time::Duration;

const HOUR: u64 = 3600;
const START: &str = "keep\nrequire battery in\ntest idle in 2 starts\n";

fn woke(played: &Played) -> Time {
    let slept =
        played.log.when("the computer sleeps").unwrap_or_else(|| panic!("it never slept\n{}", played.log.tail()));
    slept + Duration::from_secs(HOUR)
}

/// Starts invited after the wake without the propellers being asked for again.
fn invited_unasked(played: &Played) -> usize {
    let woke = woke(played);
    let asked = played.log.questions().into_iter().find(|(at, q)| *at >= woke && q.about == About::Props);
    let until = asked.map_or(Time::NEVER, |(at, _)| at);
    played
        .log
        .invitations()
        .into_iter()
        .filter(|(at, text)| *at >= woke && *at < until && text.starts_with("Start "))
        .count()
}

#[test]
fn an_invitation_does_not_outlive_an_hour_of_sleep() {
    let config = WorldConfig::default();
    let mut scene = Scene::on_bound(&config, START);
    // The hand comes to the switch 8 s after the invitation, as the computer has it: it slept meanwhile.
    scene.hands = Hands::willing(&config).who_follows(|gesture| {
        let late = matches!(gesture, Gesture::SwitchTo { position: 2, .. });
        let flip = Deed::World("flip B 2".to_owned());
        late.then(|| vec![(Duration::from_secs(HOUR + 8), flip)])
    });
    scene.limit = Duration::from_secs(HOUR + 400);
    let played = scene.act(Act::said("Start 1 of 2", 1000, vec![Do::Suspend(HOUR)])).play();
    let woke = woke(&played);
    assert_eq!(invited_unasked(&played), 0, "{}", played.log.tail());
    assert!(played.result.is_err(), "it went on after an hour\n{}", played.log.tail());
    let judged = played.screen.contains("start 1: front left turns");
    assert!(!judged, "a start an hour after its invitation was taken for it\n{}", played.log.tail());
    let drove =
        played.log.sent_that(|s| s.at >= woke && matches!(s.class, Class::Write(..) | Class::Run(_) | Class::Store));
    assert!(drove.is_empty(), "{drove:?}");
}

#[test]
fn what_was_said_of_propellers_does_not_outlive_an_hour_of_sleep() {
    for text in ["The battery is in", "Motors will turn"] {
        let config = WorldConfig::default();
        let mut scene = Scene::on_bound(&config, START);
        scene.limit = Duration::from_secs(HOUR + 400);
        let played = scene.act(Act::said(text, 300, vec![Do::Suspend(HOUR)])).play();
        assert_eq!(invited_unasked(&played), 0, "{text}: {}", played.log.tail());
        let turned = played.log.truth.iter().any(|t| t.craft == Craft::A && t.at >= woke(&played) && t.fastest > 300.0);
        let asked = played.log.props_asked();
        assert!(!turned || asked > 1, "{text}: motors turned, asked {asked} times\n{}", played.log.tail());
    }
}

/// Two searches in a row: the word for the battery serves for both, unless an hour lies between.
#[test]
fn the_word_for_the_battery_does_not_outlive_an_hour_of_sleep() {
    let recipe = "recipe \"Wren 95, switches\"\nedition 1\ncraft quad x\nboard \"Finch\"\n\
                  require battery out\nfind switch B with 3 positions\nfind switch C with 2 positions\n";
    for (sleeps, least) in [(false, 1), (true, 2)] {
        let config =
            WorldConfig { conduct: Conduct { voltage_sensor: false, ..Conduct::default() }, ..WorldConfig::default() };
        let mut scene = Scene { recipe: recipe.to_owned(), ..Scene::new(&config, "") };
        scene.limit = Duration::from_secs(HOUR + 400);
        if sleeps {
            scene = scene.act(Act::said("Switch B drives channel 6", 200, vec![Do::Suspend(HOUR)]));
        }
        let played = scene.play();
        let asked = played.log.questions().iter().filter(|(_, q)| q.about == About::BatteryOut).count();
        let worked = played.log.says("Switch C drives");
        assert!(!worked || asked >= least, "asked {asked} times\n{}", played.log.tail());
        assert!(sleeps || worked, "{}", played.log.tail());
    }
}

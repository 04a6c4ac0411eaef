//! Heat over a whole series of starts, by what the motors truly did.

use crate::spy::Scene;
use quadjig::measure::time::Time;
use quadjig::seam::ui::About;
use quadjig::virtual_board::WorldConfig;
use std::time::Duration;

/// `safety.md`, built-in ceilings: 10 s without a pause, 60 s in 5 min, then "too hot to hold?".
#[test]
fn a_long_series_pauses_and_is_asked_about_before_the_motors_have_turned_for_a_minute() {
    let config = WorldConfig::default();
    let lines = "require battery in\nrequire level within 2 deg\n\
                 idle start at 1125 step 25 until all spin, at most 1200, for 4 s, in 20 starts, then add 20\n";
    let mut scene = Scene::on_bound(&config, lines);
    scene.recipe = scene.recipe.replace("idle at 1150\n", "");
    scene.limit = Duration::from_secs(900);
    let played = scene.play();
    let log = &played.log;
    let asked: Vec<Time> =
        log.questions().iter().filter(|(_, question)| question.about == About::Heat).map(|(at, _)| *at).collect();
    assert!(!asked.is_empty(), "never asked\n{}", log.tail());
    // 5 ms a moment: since the last answer, and since the last pause of 2 s.
    let (mut all, mut at_once, mut still) = (Duration::ZERO, Duration::ZERO, Duration::ZERO);
    let (mut most, mut most_at_once, mut before) = (Duration::ZERO, Duration::ZERO, Time(0));
    for truth in &log.truth {
        let passed = truth.at.since(before);
        if asked.iter().any(|at| before < *at && *at <= truth.at) {
            all = Duration::ZERO;
        }
        before = truth.at;
        if truth.highest > 1005 {
            (all, at_once, still) = (all + passed, at_once + passed, Duration::ZERO);
        } else {
            still += passed;
            if still >= Duration::from_secs(2) {
                at_once = Duration::ZERO;
            }
        }
        (most, most_at_once) = (most.max(all), most_at_once.max(at_once));
    }
    // What is seen 50 times a second may be that much longer in truth.
    let seen = Duration::from_millis(500);
    assert!(most > Duration::from_secs(40), "{most:?}: this shows nothing\n{}", log.tail());
    assert!(most <= Duration::from_secs(60) + seen, "{most:?} without being felt\n{}", log.tail());
    assert!(most_at_once <= Duration::from_secs(10) + seen, "{most_at_once:?} without a pause\n{}", log.tail());
}

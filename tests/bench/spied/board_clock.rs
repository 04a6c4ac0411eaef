//! Boards whose clocks are not ours: a whole set-up ends well, and what they send does not grow old by itself.

use crate::bench::stand::{Hands, keys};
use crate::spy::{Act, Do, Scene};
use quadjig::seam::Key;
use quadjig::seam::ui::About;
use quadjig::virtual_board::{Conduct, WorldConfig};
use std::time::Duration;

const START: &str = "keep\nrequire battery in\ntest idle in 2 starts\n";

fn rated(clock_rate: f64) -> WorldConfig {
    WorldConfig { conduct: Conduct { clock_rate, ..Conduct::default() }, ..WorldConfig::default() }
}

/// The whole of the recipe for a first craft.
#[test]
fn a_first_craft_is_set_up_whatever_its_clock() {
    let text = std::fs::read_to_string(concat!(env!("CARGO_MANIFEST_DIR"), "/recipes/first-craft.jig")).unwrap();
    let mut told = Vec::new();
    for rate in [1.0, 0.9999, 1.0001, 0.98, 1.02] {
        let config = rated(rate);
        let played = Scene { recipe: text.clone(), ..Scene::new(&config, "") }.play();
        if played.result != Ok(()) || played.log.props_asked() > 3 {
            told.push(format!("a clock at {rate}: {:?}, after {:?}", played.result, played.ended));
        }
    }
    assert!(told.is_empty(), "{}", told.join("\n"));
}

/// Nine minutes at a question: 1,000 ppm are half a second by then, 2 % are 11 s.
#[test]
fn streams_do_not_grow_old_while_a_person_thinks() {
    for rate in [0.999, 1.001, 0.98, 1.02] {
        let config = rated(rate);
        let mut waited = false;
        let mut scene = Scene::on_bound(&config, START);
        scene.hands = Hands::willing(&config).who_answers(move |question| {
            let long = question.about == About::Props && !std::mem::replace(&mut waited, true);
            let word = "props off".chars().map(Key::Char).chain([Key::Enter]);
            long.then(|| keys(540_000, 70, word))
        });
        let played = scene.play();
        assert_eq!(played.result, Ok(()), "a clock at {rate}\n{}", played.log.tail());
        assert!(!played.log.stopped(), "a clock at {rate}: {:#?}", played.log.lines());
    }
}

/// What was buffered while we slept is older than what comes now, whatever rate the board's clock runs at: the
/// forgiveness for a slow clock is no forgiveness for a buffer.
#[test]
fn a_slow_clock_does_not_make_a_late_stream_fresh() {
    for rate in [1.0, 0.98] {
        let config = rated(rate);
        let mut scene = Scene::on_bound(&config, START);
        scene.limit = Duration::from_secs(400);
        let played = scene.act(Act::turning(300, vec![Do::Lag(1500)])).play();
        let from = played.log.when("a lag of").unwrap();
        played.log.stops_within(from, Duration::from_millis(900), &format!("a clock at {rate}"));
        assert!(played.result.is_err());
    }
}

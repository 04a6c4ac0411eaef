//! Benign noise: a link that loses and shakes a little, a flag once a second, a busy computer. It causes no stop and no
//! question that is asked again.
//!
//! A thousand runs: `QUADJIG_NOISE_RUNS=1000 cargo test --release --test all spied::noise`.

use crate::bench::stand::Hands;
use crate::spy::{Act, Do, Heard, Played, Scene, View, Weather};
use quadjig::measure::time::Time;
use quadjig::seam::ui::About;
use quadjig::virtual_board::{Conduct, WorldConfig};
use std::collections::BTreeMap;
use std::time::Duration;

const WHOLE: &str = "keep\ntest arm\nrequire battery in\ntest idle in 2 starts\ntest cut within 900 ms\n";
const START: &str = "keep\nrequire battery in\ntest idle in 2 starts\n";

fn slow_flag(seed: u64) -> WorldConfig {
    let conduct = Conduct { flag_every: Duration::from_secs(1), ..Conduct::default() };
    WorldConfig { conduct, seed, ..WorldConfig::default() }
}

/// Questions by kind, but for those before starts: a start that did not count is asked for again.
fn questions(played: &Played) -> BTreeMap<String, usize> {
    let mut all = BTreeMap::new();
    for (_, question) in played.log.questions() {
        if !matches!(question.about, About::Motor(_)) {
            *all.entry(question.title.clone()).or_default() += 1;
        }
    }
    all
}

/// Nothing is armed, nothing turns, and no start is invited: nothing is held for it.
fn still(view: &View<'_>) -> bool {
    !view.held && !view.board.armed() && view.fastest() < 1.0
}

/// A run with 1 % loss, 50 ms jitter, a flag once a second, and a program that hangs for 200 ms now and then while still.
fn run(seed: u64, noisy: bool) -> Played {
    let config = slow_flag(seed);
    let mut scene = Scene { hands: Hands::willing(&config), ..Scene::new(&config, WHOLE) };
    if noisy {
        scene.weather = Weather { seed, loss: 0.01, doubled: 0.0, jitter: Duration::from_millis(50) };
        for hang in 0..8 {
            let at = Time(3_000_000 + hang * 4_700_000 + seed % 97 * 31_000);
            scene = scene.act(Act::when(move |view| view.now >= at && still(view), 0, vec![Do::Freeze(200)]));
        }
    }
    scene.play()
}

#[test]
fn benign_noise_stops_nothing_and_asks_nothing_again() {
    let runs: u64 = std::env::var("QUADJIG_NOISE_RUNS").ok().and_then(|runs| runs.parse().ok()).unwrap_or(60);
    let calm = run(1, false);
    assert_eq!(calm.result, Ok(()), "without noise\n{}", calm.log.tail());
    let mut fell = Vec::new();
    for seed in 1..=runs {
        let played = run(seed, true);
        let stop = played.log.lines().into_iter().find(|line| line.starts_with("stop: "));
        let asked = questions(&played);
        if stop.is_some() || played.result.is_err() {
            fell.push(format!("{seed}: {:?} {}", played.result, stop.unwrap_or_default()));
        } else if asked != questions(&calm) {
            fell.push(format!("{seed}: asked {asked:?}"));
        }
    }
    let shown = fell.iter().take(12).cloned().collect::<Vec<_>>().join("\n");
    assert!(fell.is_empty(), "{} of {runs} runs fell to noise:\n{shown}", fell.len());
}

/// Frames that come twice, as over some radios, are neither a second start nor a reason to stop.
#[test]
fn frames_that_come_twice_change_nothing() {
    for seed in 1..=10 {
        let config = WorldConfig { seed, ..WorldConfig::default() };
        let weather = Weather { seed, loss: 0.0, doubled: 0.01, jitter: Duration::ZERO };
        let played = Scene { weather, ..Scene::new(&config, WHOLE) }.play();
        assert_eq!(played.result, Ok(()), "{seed}: {}", played.log.tail());
        assert!(!played.log.stopped());
        assert_eq!(played.log.props_asked(), 1);
    }
}

/// One sign of life of a board that gives one a second is lost, in every moment of a run in turn.
#[test]
fn one_lost_sign_of_life_ends_no_run() {
    let mut fell = Vec::new();
    for at in 0..40 {
        let config = slow_flag(3);
        let lost: fn(&Heard) -> bool = |heard| matches!(heard, Heard::Flag(_));
        let when = Time(2_000_000 + at * 900_000);
        let scene = Scene::on_bound(&config, START);
        let played = scene.act(Act::when(move |view| view.now >= when, 0, vec![Do::LoseHeard(1, lost)])).play();
        if played.result.is_err() || played.log.stopped() {
            fell.push(format!("lost at {} ms: {:?}", when.0 / 1000, played.result));
        }
    }
    assert!(fell.is_empty(), "{} of 40 runs:\n{}", fell.len(), fell.join("\n"));
}

/// A computer that is busy for 200 ms while nothing can turn, in every moment of a run in turn.
#[test]
fn a_busy_computer_ends_no_run_while_still() {
    let mut fell = Vec::new();
    for at in 0..40 {
        let config = WorldConfig::default();
        let when = Time(1_000_000 + at * 700_000);
        let scene = Scene::on_bound(&config, START);
        let hang = Act::when(move |view| view.now >= when && still(view), 0, vec![Do::Freeze(200)]);
        let played = scene.act(hang).play();
        if played.result.is_err() || played.log.stopped() || played.log.props_asked() != 1 {
            fell.push(format!("busy at {} ms: {:?}", when.0 / 1000, played.result));
        }
    }
    assert!(fell.is_empty(), "{} of 40 runs:\n{}", fell.len(), fell.join("\n"));
}

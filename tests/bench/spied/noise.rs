//! Benign noise: a link that loses and shakes a little, a flag once a second, a busy computer. It causes no stop and no
//! question that is asked again.
//!
//! A thousand runs: `QUADJIG_NOISE_RUNS=1000 cargo test --release --test all spied::noise`; `1001-3000` are those seeds,
//! `255,395` these two.

use crate::bench::stand::Hands;
use crate::spy::{Act, Class, Do, Heard, Played, Scene, View, Weather};
use quadjig::measure::time::Time;
use quadjig::virtual_board::{Conduct, WorldConfig};
use std::collections::BTreeMap;
use std::time::Duration;

const WHOLE: &str = "keep\ntest arm\nrequire battery in\ntest idle in 2 starts\ntest cut within 900 ms\n";
const START: &str = "keep\nrequire battery in\ntest idle in 2 starts\n";

fn slow_flag(seed: u64) -> WorldConfig {
    let conduct = Conduct { flag_every: Duration::from_secs(1), ..Conduct::default() };
    WorldConfig { conduct, seed, ..WorldConfig::default() }
}

/// Questions by kind.
fn questions(played: &Played) -> BTreeMap<String, usize> {
    let mut all = BTreeMap::new();
    for (_, question) in played.log.questions() {
        *all.entry(question.title.clone()).or_default() += 1;
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

/// Which runs, see above.
fn seeds() -> Vec<u64> {
    let said = std::env::var("QUADJIG_NOISE_RUNS").unwrap_or_else(|_| "60".to_owned());
    let number = |text: &str| text.trim().parse().unwrap_or_else(|_| panic!("QUADJIG_NOISE_RUNS: {said:?}"));
    match said.split_once('-') {
        Some((from, to)) => (number(from)..=number(to)).collect(),
        None if said.contains(',') => said.split_terminator(',').map(number).collect(),
        None => (1..=number(&said)).collect(),
    }
}

#[test]
fn benign_noise_stops_nothing_and_asks_nothing_again() {
    let (seeds, mut lost) = (seeds(), (0, 0));
    let calm = run(1, false);
    assert_eq!(calm.result, Ok(()), "without noise\n{}", calm.log.tail());
    let mut fell = Vec::new();
    for seed in seeds.iter().copied() {
        let played = run(seed, true);
        let stop = played.log.lines().into_iter().find(|line| line.starts_with("stop: "));
        let asked = questions(&played);
        lost.0 += played.log.to_board.lost;
        lost.1 += played.log.from_board.flags_lost;
        if stop.is_some() || played.result.is_err() {
            fell.push(format!("{seed}: {:?} {}", played.result, stop.unwrap_or_default()));
        } else if asked != questions(&calm) {
            fell.push(format!("{seed}: asked {asked:?}"));
        } else {
            noise_was_there(seed, &played);
        }
    }
    let shown = fell.iter().take(12).cloned().collect::<Vec<_>>().join("\n");
    // One in a hundred, of more than 40 signs of life and 50 frames to the board in each run.
    assert!(lost.0 >= seeds.len() / 4 && lost.1 >= seeds.len() / 4, "in {} runs: {lost:?} lost", seeds.len());
    assert!(fell.is_empty(), "{} of {} runs fell to noise:\n{shown}", fell.len(), seeds.len());
}

/// The noise that a run is said to have stood was truly made.
fn noise_was_there(seed: u64, played: &Played) {
    let (to, from, freezes) = (played.log.to_board, played.log.from_board, played.log.freezes());
    let seconds = played.ended.0 / 1_000_000;
    let told = format!("{seed}, {seconds} s: to the board {to:?}, from it {from:?}, {freezes} freezes");
    assert!(seconds >= 40 && to.frames >= 50 && from.frames >= 2000 && freezes >= 6, "{told}");
    assert!((from.frames / 200..=from.frames / 50).contains(&from.lost), "{told}");
    for longest in [to.longest, from.longest] {
        assert!((Duration::from_millis(45)..=Duration::from_millis(50)).contains(&longest), "{told}");
    }
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

/// Runs on a board that tells its flag once a second, in each of which something happens once, in every moment in turn:
/// in none of them anything stops or is asked again.
fn none_falls(first: Time, if_so: fn(&View<'_>) -> bool, what: impl Fn() -> Do) {
    let config = slow_flag(3);
    let calm = questions(&Scene::on_bound(&config, START).play());
    let mut fell = Vec::new();
    for at in 0..40 {
        let when = first + Duration::from_millis(at * 900);
        let act = Act::when(move |view| view.now >= when && if_so(view), 0, vec![what()]);
        let played = Scene::on_bound(&config, START).act(act).play();
        if played.result.is_err() || played.log.stopped() || questions(&played) != calm {
            fell.push(format!("at {} ms: {:?} {:?}", when.0 / 1000, played.result, questions(&played)));
        }
    }
    assert!(fell.is_empty(), "{} of 40 runs:\n{}", fell.len(), fell.join("\n"));
}

#[test]
fn one_lost_heartbeat_of_a_1_hz_board_ends_no_run() {
    none_falls(Time(2_000_000), |_| true, || Do::LoseHeard(1, |heard| matches!(heard, Heard::Flag(_))));
}

/// Three in a row, told or asked for: the board is asked once more before the last that came is too old.
#[test]
fn three_lost_heartbeats_of_a_1_hz_board_end_no_run() {
    none_falls(Time(2_000_000), |_| true, || Do::LoseHeard(3, |heard| matches!(heard, Heard::Flag(_))));
}

/// The answer to the last of three questions counts for no answer to the first: no link is slow for that, from the first
/// contact on.
#[test]
fn two_lost_questions_make_no_link_slow() {
    none_falls(Time(0), |_| true, || Do::Lose(2, |class| *class == Class::Identity));
}

/// A computer that is busy for 200 ms while nothing can turn.
#[test]
fn a_busy_computer_ends_no_run_while_still() {
    none_falls(Time(1_000_000), still, || Do::Freeze(200));
}

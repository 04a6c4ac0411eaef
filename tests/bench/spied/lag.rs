//! A link that delays everything alike, as a buffering bridge does: lag counts as age, and a slow link runs no motor.

use crate::spy::{Act, Class, Craft, Do, Played, Scene};
use quadjig::virtual_board::{BoardKind, WorldConfig};
use std::time::Duration;

const START: &str = "keep\nrequire battery in\ntest idle in 2 starts\n";
const ONE: &str = "signal dshot300 at 4 kHz\nkeep\npower cycle\n";
const SEARCH: &str = "require battery in\nrequire level within 2 deg\n\
                      idle start at 1075 step 25 until all spin, at most 1200, for 1 s, in 1 starts, then add 20\n";
/// No step exceeds this on the bench (`safety.md`, built-in ceilings), and 30 µs over its step are allowed.
const CEILING: u16 = 1250;

fn invited(played: &Played) -> usize {
    played.log.invitations().iter().filter(|(_, text)| text.starts_with("Start ")).count()
}

#[test]
fn a_link_slower_than_a_second_runs_no_motor_and_says_so() {
    // Each way; there and back again it is 1 to 2.5 s.
    for lag in [500, 800, 1250] {
        for lines in [START, ONE, SEARCH] {
            let config = WorldConfig::default();
            let mut scene = Scene::on_bound(&config, lines);
            if lines == SEARCH {
                scene.recipe = scene.recipe.replace("idle at 1150\n", "");
            }
            scene.lag = Duration::from_millis(lag);
            scene.limit = Duration::from_secs(600);
            let played = scene.play();
            let log = &played.log;
            assert!(
                log.fastest(Craft::A) < 1.0 && invited(&played) == 0,
                "{lag} ms each way: {} starts invited, motors at {:.0} rpm, {} us\n{}",
                invited(&played),
                log.fastest(Craft::A),
                log.highest(Craft::A),
                log.tail()
            );
            let runs = log.sent_that(|sent| matches!(sent.class, Class::Run(_)));
            assert!(runs.is_empty(), "{lag} ms each way: {runs:?}");
            let fault = format!("{:?} {}", played.result, played.flat()).to_lowercase();
            assert!(
                fault.contains("slow") || fault.contains("late"),
                "{lag} ms: it does not say why: {:?}",
                played.result
            );
        }
    }
}

/// A motor that is turned by the sticks' throttle, or by another hand, is seen late over such a link.
#[test]
fn over_a_slow_link_motors_never_turn_beyond_the_ceiling() {
    for lag in [300, 500, 1000] {
        let config = WorldConfig::default();
        let mut scene = Scene { lag: Duration::from_millis(lag), ..Scene::on_bound(&config, START) };
        scene.limit = Duration::from_secs(400);
        let played = scene.act(Act::turning(300, vec![Do::Line("stick throttle 1600")])).play();
        let over = played.log.truth.iter().filter(|t| t.highest > CEILING + 30).count() * 5;
        assert_eq!(
            over,
            0,
            "{lag} ms each way: {} us for {over} ms\n{}",
            played.log.highest(Craft::A),
            played.log.tail()
        );
    }
}

/// The bridge begins to buffer while they turn: nothing is heard for as long as it delays.
#[test]
fn a_lag_that_begins_while_motors_turn_stops_them() {
    for (lag, within) in [(800, 900), (1000, 900), (2500, 900)] {
        let config = WorldConfig::default();
        let scene = Scene { limit: Duration::from_secs(400), ..Scene::on_bound(&config, START) };
        let played = scene.act(Act::turning(300, vec![Do::Lag(lag)])).play();
        let from = played.log.when("a lag of").unwrap();
        played.log.stops_within(from, Duration::from_millis(within), &format!("a lag of {lag} ms"));
        assert!(played.result.is_err());
    }
}

/// A lag that was there all along is seen by the round trip alone; a console's answers tell it as well.
#[test]
fn a_slow_console_runs_no_motor() {
    let config = WorldConfig { board: BoardKind::FinchC, ..WorldConfig::default() };
    let mut scene = Scene { lag: Duration::from_millis(500), ..Scene::on_bound(&config, START) };
    scene.limit = Duration::from_secs(300);
    let played = scene.play();
    assert!(invited(&played) == 0 && played.log.fastest(Craft::A) < 1.0, "{}", played.log.tail());
}

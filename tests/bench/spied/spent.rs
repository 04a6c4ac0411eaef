//! What is spent, and what only looks like proof: a failed test, turning that adds up, an echo, an angle past a half
//! turn.

use crate::bench::stand::Hands;
use crate::spy::{Act, Class, Craft, Do, Heard, Played, Scene};
use quadjig::measure::time::Time;
use quadjig::rehearsal::operator::Deed as Hand;
use quadjig::seam::ui::Gesture;
use quadjig::virtual_board::{Conduct, Deed, WorldConfig};
use std::cell::Cell;
use std::time::Duration;

/// The arm switch proved with the battery in, and then more starts.
const ARM_THEN_IDLE: &str = "keep\nrequire battery in\ntest arm\ntest idle in 2 starts\n";

/// While position 2 is judged, the band is away for a moment: the test of the arm switch fails.
#[test]
fn after_a_failed_test_of_the_arm_switch_no_other_motor_step_follows() {
    let config = WorldConfig::default();
    let scene = Scene { limit: Duration::from_secs(600), ..Scene::on_bound(&config, ARM_THEN_IDLE) };
    let played = scene
        .act(Act::when(|view| view.board.armed(), 150, vec![Do::Line("set ARM_FROM 2106")]))
        .act(Act::when(|view| view.board.armed(), 6000, vec![Do::Line("set ARM_FROM 1754")]))
        .play();
    let asked: Vec<_> = played.log.motor_questions().into_iter().map(|(_, question)| question.title.clone()).collect();
    assert!(!asked.is_empty(), "{}", played.log.tail());
    assert!(
        played.result.is_err(),
        "the test of the arm switch did not fail: this shows nothing\n{}",
        played.log.tail()
    );
    assert_eq!(asked.len(), 1, "a motor step followed\n{}", played.log.tail());
}

/// The longest that a craft's motors turned without a pause of 2 s, by the truth.
fn without_a_pause(played: &Played) -> Duration {
    let (mut longest, mut turned, mut rested) = (0, 0, 0);
    for truth in played.log.truth.iter().filter(|truth| truth.craft == Craft::A) {
        if truth.highest > 1005 {
            (turned, rested) = (turned + 5, 0);
        } else {
            rested += 5;
            turned = if rested >= 2000 { 0 } else { turned };
        }
        longest = longest.max(turned);
    }
    Duration::from_millis(longest)
}

/// One start of `test arm` may arm several times; each of them is heat. 10 s without a pause is the ceiling
/// (`safety.md`), and one arming more may be under way when it is reached.
#[test]
fn a_start_that_arms_several_times_is_counted_whole() {
    let config = WorldConfig::default();
    let mut scene = Scene { limit: Duration::from_secs(600), ..Scene::on_bound(&config, ARM_THEN_IDLE) };
    let on = Cell::new(false);
    scene.hands = Hands::willing(&config).who_follows(|gesture| match gesture {
        Gesture::SwitchTo { position: 2, .. } => {
            on.set(true);
            None
        }
        Gesture::SwitchTo { position: 0, .. } if on.get() => {
            let flip = |at: u64, line: &str| (Duration::from_millis(at), Hand::World(line.to_owned()));
            // Off for 0.2 s and on again for 4.4 s, before it stays at 0: each arming by itself is short enough.
            let armings = (0..4).flat_map(|n| [flip(2600 + n * 4600, "flip B 0"), flip(2800 + n * 4600, "flip B 2")]);
            Some(armings.chain([flip(19_000, "flip B 0")]).collect())
        }
        _ => None,
    });
    let played = scene.play();
    let turned = without_a_pause(&played);
    assert!(turned > Duration::from_secs(4), "{turned:?}\n{}", played.log.tail());
    assert!(turned <= Duration::from_secs(12), "they turned for {turned:?} without a pause\n{}", played.log.tail());
}

/// A run that has one setting to write: the idle.
fn one_setting<'a>(config: &WorldConfig) -> Scene<'a> {
    let mut scene = Scene::on_bound(config, "require battery out\nkeep\n");
    scene.board.line(Time(0), "set IDLE_US 1050").unwrap();
    scene
}

/// Writes are acknowledged with the value that was asked for and never done; the first answer is late, so that the write
/// is repeated, and the answer to the repeat comes when the value is read back.
#[test]
fn a_late_echo_of_a_repeated_write_is_no_read_back() {
    for lag in [0, 60, 120, 240, 350, 500] {
        let config =
            WorldConfig { conduct: Conduct { writes: Deed::Hollow, ..Conduct::default() }, ..WorldConfig::default() };
        let mut scene = Scene { lag: Duration::from_millis(lag), ..one_setting(&config) };
        scene.limit = Duration::from_secs(300);
        let played = scene.play();
        let held = played.setting("IDLE_US", false);
        assert_eq!(held, 1050, "the board did take it: this shows nothing");
        let (screen, journal) = (played.flat(), played.journal());
        let told = screen.contains("(read back)") || journal.contains("\"read-back\"");
        assert!(!told, "lag {lag} ms: told as read back\n{}", played.log.tail());
        assert!(played.result.is_err(), "lag {lag} ms");
    }
}

/// The same where one answer alone is lost.
#[test]
fn an_echo_after_a_lost_answer_is_no_read_back() {
    for lost in [1, 2] {
        let config =
            WorldConfig { conduct: Conduct { writes: Deed::Hollow, ..Conduct::default() }, ..WorldConfig::default() };
        let mut scene = one_setting(&config);
        scene.limit = Duration::from_secs(300);
        let idle: fn(&Heard) -> bool = |heard| matches!(heard, Heard::Value(name, 1150) if name == "IDLE_US");
        let played = scene.act(Act::when(|_| true, 0, vec![Do::LoseHeard(lost, idle)])).play();
        assert!(!played.flat().contains("idle = 1150 us (read back)"), "lost {lost}: {}", played.log.tail());
        assert!(played.result.is_err(), "lost {lost}");
    }
}

/// On its back a craft's roll leaps between +180 and −180: the middle of that is no level.
#[test]
fn a_craft_on_its_back_is_not_level() {
    for roll in [179.9, 180.0, -179.95] {
        let mut config = WorldConfig { attitude: [roll, 0.0, 40.0], ..WorldConfig::default() };
        config.stabiliser.per_degree = 0.0;
        let mut scene = Scene::on_bound(
            &config,
            "require battery in\nrequire level within 2 deg\nidle start at 1075 step 25 until all spin, at most 1200\n",
        );
        scene.recipe = scene.recipe.replace("idle at 1150\n", "");
        scene.limit = Duration::from_secs(400);
        scene.hands =
            Hands::willing(&config).who_follows(|gesture| matches!(gesture, Gesture::Level { .. }).then(Vec::new));
        let played = scene.play();
        let level = played.log.lines().into_iter().find(|line| line.starts_with("Level"));
        assert_eq!(level, None, "roll {roll}");
        assert!(played.log.motor_questions().is_empty(), "roll {roll}: a start was asked for\n{}", played.log.tail());
    }
}

/// The confirmation of an invited start is spent with its invitation: a switch that comes a moment later is none.
#[test]
fn a_switch_after_its_invitation_is_stopped() {
    let config = WorldConfig::default();
    let mut scene = Scene {
        limit: Duration::from_secs(300),
        ..Scene::on_bound(&config, "keep\nrequire battery in\ntest idle in 2 starts\n")
    };
    scene.hands = Hands::willing(&config).who_follows(|gesture| {
        matches!(gesture, Gesture::SwitchTo { position: 2, .. })
            .then(|| vec![(Duration::from_millis(20_700), Hand::World("flip B 2".to_owned()))])
    });
    let played = scene.play();
    let armed = played.log.first_armed(Craft::A).unwrap_or_else(|| panic!("{}", played.log.tail()));
    played.log.stops_within(armed, Duration::from_millis(200), "a switch 0.7 s late");
    let more: Vec<Time> =
        played.log.sent_that(|s| s.at > armed && matches!(s.class, Class::Run(_))).iter().map(|s| s.at).collect();
    assert!(more.is_empty());
}

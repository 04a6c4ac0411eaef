//! Another craft at the end of the same wire: it may have its propellers on and be flying. It is asked who it is, and
//! nothing else ever reaches it.

use crate::spy::{Act, Class, Craft, Do, Played, Scene, bound};
use mavlink::dialects::common::{COMMAND_LONG_DATA, MavCmd, MavMessage};
use mavlink::{MavHeader, write_v2_msg};
use quadjig::measure::time::Time;
use quadjig::virtual_board::{BoardKind, Conduct, WorldConfig};
use std::time::Duration;

/// A clock that leapt shows after two messages: by then the session knows.
const NOTICED: Duration = Duration::from_millis(100);
/// Every scene here has ended long before.
const BOUND: Duration = Duration::from_secs(240);
/// Two starts by the switch.
const START: &str = "keep\nrequire battery in\ntest idle in 2 starts\n";
/// One motor at a time, by command.
const ONE: &str = "signal dshot300 at 4 kHz\nkeep\npower cycle\n";

/// The other craft: propellers on, battery in, arm bound; armed by its own pilot if so said. It was switched on later.
fn other(armed: bool) -> quadjig::virtual_board::World {
    let mut config = WorldConfig { seed: 0xB, ..WorldConfig::default() };
    config.pack.plugged = true;
    let mut board = bound(&config);
    for line in ["props on", "set IDLE_US 1099", "restart"] {
        board.line(Time(0), line).unwrap();
    }
    board.advance(Time(3_000_000));
    for line in ["set ARM_CHANNEL 6", "set IDLE_US 1099"] {
        board.line(Time(3_000_000), line).unwrap();
    }
    if armed {
        board.line(Time(3_000_000), "flip B 2").unwrap();
        board.advance(Time(3_100_000));
        assert!(board.armed());
    }
    board
}

/// What has a board send all that a session watches, as often as a session asks for it.
fn streams() -> Vec<u8> {
    // Messages of common.xml: HEARTBEAT, RC_CHANNELS, SERVO_OUTPUT_RAW, ATTITUDE, SYS_STATUS, ESC_STATUS; in hertz.
    let rates = [(0.0, 10.0), (65.0, 50.0), (36.0, 50.0), (30.0, 20.0), (1.0, 10.0), (291.0, 20.0)];
    let mut bytes = Vec::new();
    for (message, rate) in rates {
        let data = COMMAND_LONG_DATA {
            param1: message,
            param2: 1e6 / rate,
            command: MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL,
            target_system: 1,
            target_component: 1,
            ..COMMAND_LONG_DATA::default()
        };
        write_v2_msg(&mut bytes, MavHeader::default(), &MavMessage::COMMAND_LONG(data)).unwrap();
    }
    bytes
}

fn scene(lines: &str, armed: bool) -> Scene<'_> {
    let config = WorldConfig::default();
    Scene { other: Some(other(armed)), stays: true, limit: BOUND, ..Scene::on_bound(&config, lines) }
}

/// What left from a moment on and reached the other craft, of all that could change, start or stop it: how often.
fn acted_on(played: &Played, from: Time) -> Vec<String> {
    played.log.reached_b_that(|sent| sent.at > from && sent.class.acts())
}

/// Nothing that acts reached it once it was heard, and nothing of it stands in the craft's journal. A run that ended
/// before it was heard is as good.
#[track_caller]
fn left_alone(played: &Played) {
    let from = played.log.first_of_b.map_or(Time(0), |first| first + NOTICED);
    let acted = acted_on(played, from);
    assert!(acted.is_empty(), "what acts reached it: {acted:?}\n{}", played.log.tail());
    let id = WorldConfig { seed: 0xB, ..WorldConfig::default() }.board_id();
    let journal = played.journal();
    assert!(!journal.contains(&id) && !journal.contains("1099"), "the other's in this craft's journal:\n{journal}");
}

#[test]
fn at_a_motor_question_the_typed_word_runs_nothing_on_another_craft() {
    for lines in [START, ONE] {
        for silent in [0, 700, 2500] {
            let mut scene = scene(lines, false).act(Act::motor_question(0, 50, vec![Do::Silent(true)]));
            // It tells as much and as often as the first one: nothing else keeps its motors from being run.
            if let Some(other) = &mut scene.other {
                other.receive(Time(3_000_000), &streams());
                let _before = other.take_output();
            }
            scene = scene.act(Act::motor_question(0, 50 + silent, vec![Do::Swap, Do::Silent(false)]));
            let played = scene.play();
            left_alone(&played);
            let runs = played.log.sent_that(|sent| sent.to == Craft::B && matches!(sent.class, Class::Run(_)));
            assert!(runs.is_empty(), "silent for {silent} ms: {runs:?}");
            assert!(played.result.is_err(), "silent for {silent} ms: it went on\n{}", played.log.tail());
            assert!(silent > 0 || played.log.first_of_b.is_some(), "it was never heard: this shows nothing");
        }
    }
}

/// A silence longer than its flag may be late makes a craft doubtful: nothing blind leaves in it either.
#[test]
fn while_settings_are_written_none_reaches_another_craft() {
    for silent in [0, 700] {
        let config = WorldConfig::default();
        let mut scene = Scene { other: Some(other(false)), stays: true, ..Scene::new(&config, "keep\ntest arm\n") };
        scene.lag = Duration::from_millis(20);
        let wrote =
            |view: &crate::spy::View<'_>| view.log.sent.iter().any(|sent| matches!(sent.class, Class::Write(..)));
        let scene = scene.act(Act::when(wrote, 60, vec![Do::Silent(true)])).act(Act::when(
            wrote,
            60 + silent,
            vec![Do::Swap, Do::Silent(false)],
        ));
        let played = scene.play();
        left_alone(&played);
        if silent > 0 {
            let acted = acted_on(&played, Time(0));
            assert!(acted.is_empty(), "{acted:?}");
        }
    }
}

/// A craft that falls silent while its motors turn is stopped into the silence; one that is heard then, armed, may be
/// flying: from its first frame on no stop leaves, ordinary, forced, or by the writer's hold. Every silence here is longer
/// than a flag may be late, so the craft was in doubt before the other was heard.
#[test]
fn a_craft_heard_after_the_silence_is_never_disarmed() {
    for (silent, frozen) in [(650, 0), (900, 0), (2500, 0), (900, 700)] {
        let mut scene = scene(START, true).act(Act::turning(200, vec![Do::Silent(true)]));
        scene = scene.act(Act::turning(200 + silent, vec![Do::Swap, Do::Silent(false)]));
        if frozen > 0 {
            scene = scene.act(Act::turning(200 + silent + 30, vec![Do::Freeze(frozen)]));
        }
        let played = scene.play();
        let first = played.log.first_of_b.unwrap_or_else(|| panic!("{}", played.log.tail()));
        let stops = played.log.sent_that(|sent| sent.at > first && sent.to == Craft::B && sent.class.stops());
        let forced = stops.iter().filter(|sent| sent.class == Class::ForcedStop).count();
        let held = stops.iter().filter(|sent| sent.held).count();
        assert!(
            stops.is_empty(),
            "silent {silent} ms, frozen {frozen} ms: {} stops after its first frame, {forced} forced, {held} by the \
             hold, the last {} ms after it\n{}",
            stops.len(),
            stops.last().map_or(0, |sent| sent.at.since(first).as_millis()),
            played.log.tail()
        );
        // A stop that was sent into the silence before its first frame could be read may have reached it: that is what
        // is left of the risk, and the motor question says so.
        let before = played.log.sent_that(|sent| sent.at <= first && sent.to == Craft::B && sent.class.stops());
        let armed = played.log.truth.iter().rfind(|t| t.craft == Craft::B).is_some_and(|t| t.armed);
        assert!(armed || !before.is_empty(), "silent {silent} ms, frozen {frozen} ms: it was disarmed");
    }
}

/// A board that tells its flag once a second, and another whose clock is 1.2 s behind, heard after a silence that is longer
/// than that and shorter than such a flag may be late: its messages look like late ones of the first.
#[test]
fn a_slow_flag_makes_no_silence_shorter() {
    let conduct = Conduct { flag_every: Duration::from_secs(1), ..Conduct::default() };
    let config = WorldConfig { conduct, ..WorldConfig::default() };
    for silent in [700, 1300, 1480, 2000] {
        let scene = Scene { other: Some(other(true)), stays: true, limit: BOUND, ..Scene::on_bound(&config, START) };
        let played = scene
            .act(Act::turning(200, vec![Do::Silent(true)]))
            .act(Act::turning(200 + silent, vec![Do::Swap, Do::Silent(false)]))
            .play();
        let first = played.log.first_of_b.unwrap_or_else(|| panic!("{}", played.log.tail()));
        let stops = played.log.sent_that(|sent| sent.at > first && sent.to == Craft::B && sent.class.stops());
        assert!(stops.is_empty(), "silent {silent} ms: {} stops\n{}", stops.len(), played.log.tail());
    }
}

/// The cable is pulled in a stop and put into another craft: the port is new, and so is everybody at it.
#[test]
fn after_a_replug_in_a_stop_the_other_craft_is_asked_who_it_is_and_nothing_else() {
    for armed in [false, true] {
        for frozen in [0, 700] {
            let mut scene = scene(START, armed).act(Act::turning(200, vec![Do::Replug(400)]));
            scene.stays = false;
            if frozen > 0 {
                scene = scene.act(Act::turning(200 + 420, vec![Do::Freeze(frozen)]));
            }
            let played = scene.play();
            assert!(played.log.first_of_b.is_some(), "{}", played.log.tail());
            let reached = played.log.reached_b();
            assert!(reached.is_empty(), "armed {armed}, frozen {frozen} ms: {reached:?}\n{}", played.log.tail());
        }
    }
}

/// In quiet moments as well: while it waits for a hand, and while the battery is in and nothing is asked.
#[test]
fn a_quiet_change_of_craft_is_noticed_before_anything_leaves() {
    for (text, silent) in [("Plug the battery in", 700), ("The battery is in", 700), ("The battery is in", 11_000)] {
        let played = scene(START, true)
            .act(Act::said(text, 20, vec![Do::Silent(true)]))
            .act(Act::said(text, 20 + silent, vec![Do::Swap, Do::Silent(false)]))
            .play();
        let acted = acted_on(&played, Time(0));
        assert!(acted.is_empty(), "{text}, silent {silent} ms: {acted:?}\n{}", played.log.tail());
        assert!(played.result.is_err(), "{text}: it went on\n{}", played.log.tail());
    }
}

/// The same over a console, which has neither clock nor numbers: only an answer to `who` tells.
#[test]
fn at_a_motor_question_nothing_reaches_another_console() {
    let config = WorldConfig { board: BoardKind::FinchC, ..WorldConfig::default() };
    let later = WorldConfig { seed: 0xB, ..config.clone() };
    let scene = Scene { other: Some(bound(&later)), stays: true, limit: BOUND, ..Scene::on_bound(&config, START) };
    let played = scene
        .act(Act::motor_question(0, 50, vec![Do::Silent(true)]))
        .act(Act::motor_question(0, 1050, vec![Do::Swap, Do::Silent(false)]))
        .play();
    let acted = acted_on(&played, Time(0));
    assert!(acted.is_empty(), "{acted:?}\n{}", played.log.tail());
    assert!(played.result.is_err(), "it went on\n{}", played.log.tail());
}

//! What is written, when, and in which order: as frames on the wire and files on the disk.

use super::stand::{ARM_ONLY, Did, Entry, Hands, IDLE, Log, Plot, SIGNAL, START, Stand, Then};
use quadjig::board::mavlink::FrameClass;
use quadjig::rehearsal::operator::Deed;
use quadjig::seam::fault::Fault;
use quadjig::seam::ui::{About, Gesture};
use quadjig::virtual_board::{World, WorldConfig};
use std::collections::BTreeMap;
use std::time::Duration;

macro_rules! recipe {
    ($body:literal) => {
        concat!(
            "recipe \"Wren 95, stand\"\nedition 1\ncraft quad x turning inward\nboard \"Finch\"\n",
            "require props off\nrequire throttle low\nchannels roll, pitch, throttle, yaw\n",
            "switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged\n",
            "switch C on channel 7 rests at 1000, 2000 on link loss flagged\n",
            "switch D on channel 8 rests at 1000, 1500, 2000 on link loss flagged\n",
            $body
        )
    };
}

/// One write while the battery is in.
const LATE: &str = recipe!("bind arm to switch B position 2\nkeep\nrequire battery in\nidle at 1150\nkeep\n");
/// A write after a pause, battery out.
const PAUSED: &str = recipe!(
    "require battery out\nbind arm to switch B position 2\nkeep\npause \"Look.\"\nbind buzzer to switch C position 1\nkeep\n"
);

fn idle_writes(log: &Log) -> usize {
    log.writes().iter().filter(|(_, name, _)| name == "IDLE_US").count()
}

/// Between the plug-in and the write.
fn plugged<'a>(after: u64, lines: &[&'static str]) -> Plot<'a> {
    Plot::when(|_, log| log.says("The battery is in"), after, lines.iter().map(|line| Then::Line(line)).collect())
}

#[test]
fn with_the_battery_in_nothing_is_written_while_the_throttle_is_up() {
    let played = Stand::new(LATE).plot(plugged(100, &["stick throttle -50%"])).play();
    assert_eq!(played.code(), 4, "{}", played.log.tail());
    assert_eq!(idle_writes(&played.log), 0);
    assert!(played.fault().to_string().contains("throttle"), "{}", played.fault());

    let lowered = Stand::new(LATE)
        .plot(plugged(100, &["stick throttle -50%"]))
        .plot(plugged(8000, &["stick throttle -100%"]))
        .play();
    assert_eq!(lowered.result, Some(Ok(())), "{}", lowered.log.tail());
    assert_eq!(idle_writes(&lowered.log), 1);
    let write = lowered.log.writes().into_iter().find(|(_, name, _)| name == "IDLE_US").unwrap();
    let plug = lowered.log.shown(|s| format!("{s:?}").contains("The battery is in")).unwrap();
    assert!(write.0.since(plug.at) >= Duration::from_secs(8));
}

#[test]
fn with_the_battery_in_nothing_is_written_while_the_arm_switch_is_on() {
    // With the throttle up the board refuses to arm; then the switch stands on, disarmed.
    let played = Stand::new(LATE)
        .plot(plugged(100, &["stick throttle -50%"]))
        .plot(plugged(400, &["flip B 2"]))
        .plot(plugged(800, &["stick throttle -100%"]))
        .play();
    assert!(!played.log.truth.iter().any(|truth| truth.armed));
    assert_eq!(played.code(), 4, "{}", played.log.tail());
    assert_eq!(idle_writes(&played.log), 0);
    assert!(played.fault().to_string().contains("arm switch is on"), "{}", played.fault());
}

#[test]
fn an_arming_with_the_battery_in_ends_all_writing() {
    let played = Stand::new(LATE).plot(plugged(500, &["flip B 2"])).plot(plugged(1500, &["flip B 0"])).play();
    assert_eq!(played.code(), 4);
    assert_eq!(idle_writes(&played.log), 0);
    played.log.stop_is_as_promised();
}

#[test]
fn with_the_battery_out_an_armed_board_is_waited_for() {
    let during = |log: &Log| !log.questions().iter().all(|question| !matches!(question.about, About::Pause(_)));
    let flipped = |mut board: World, lines: &[&str]| {
        let now = board.now();
        for line in lines {
            drop(board.line(now, line).unwrap());
        }
        let mut stand = Stand::new(PAUSED)
            .plot(Plot::when(move |_, log| during(log), 100, vec![Then::Line("flip B 2")]))
            .plot(Plot::when(move |_, log| during(log), 6000, vec![Then::Line("flip B 0")]));
        stand.board = board;
        stand.play()
    };
    // Where only a word says that the battery is out, it is an unexpected start.
    let typed = flipped(World::new(WorldConfig::default()), &[]);
    assert!(typed.fault().to_string().contains("armed without being asked to"), "{}", typed.log.tail());
    let played = flipped(World::new(WorldConfig::default()), &["battery in"]);
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    assert!(played.log.truth.iter().any(|truth| truth.armed), "it never armed");
    for class in [FrameClass::Writes, FrameClass::Stores, FrameClass::Restarts] {
        for entry in played.log.sent(class) {
            let truth = played.log.truth.iter().rfind(|truth| truth.at <= entry.at).unwrap();
            assert!(!truth.armed, "{class:?} at {:?}", entry.at);
        }
    }
}

#[test]
fn arm_is_not_bound_while_its_switch_stands_inside_the_new_band() {
    let mut config = WorldConfig::default();
    config.radio.switches[0].position = 2;
    // The operator leaves the switch where it is.
    let mut stand = Stand::on(ARM_ONLY, config.clone());
    stand.hands = Hands::willing(&config).who_follows(|gesture| {
        matches!(gesture, Gesture::SwitchTo { .. } | Gesture::AllSwitches { .. }).then(Vec::new)
    });
    let played = stand.play();
    assert_eq!(played.code(), 4, "{}", played.log.tail());
    assert!(!played.log.writes().iter().any(|(_, name, _)| name.starts_with("ARM")), "{:?}", played.log.writes());
    assert!(played.log.says("Arm is not bound while switch B stands inside the new band"));

    // The operator moves it: bound then, and not before.
    let mut stand = Stand::on(ARM_ONLY, config.clone());
    let mut moved = false;
    stand.hands = Hands::willing(&config).who_follows(|gesture| {
        let first = matches!(gesture, Gesture::SwitchTo { position: 0, .. }) && !std::mem::replace(&mut moved, true);
        first.then(|| vec![(Duration::from_secs(9), Deed::World("flip B 0".to_owned()))])
    });
    let played = stand.play();
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    let asked = played.log.shown(|s| format!("{s:?}").contains("inside the new band")).unwrap().at;
    let bound = played.log.writes().into_iter().find(|(_, name, _)| name.starts_with("ARM")).unwrap().0;
    assert!(bound.since(asked) >= Duration::from_secs(9));
}

/// Rest pulses of the craft's radio by channel: sticks in the middle, throttle low, switches at their positions.
fn rests() -> BTreeMap<i64, Vec<f64>> {
    let config = WorldConfig::default();
    let mut rests: BTreeMap<i64, Vec<f64>> = BTreeMap::new();
    for channel in 1..=16 {
        rests.insert(channel, vec![1500.0]);
    }
    rests.insert(3, vec![988.0]);
    for switch in &config.radio.switches {
        rests.insert(i64::try_from(switch.channel).unwrap(), switch.rests.clone());
    }
    rests
}

#[test]
fn no_prefix_of_the_writes_puts_arm_over_a_resting_pulse() {
    const TARGETS: [(&str, i64, f64, &str); 5] = [
        ("B 2", 6, 2000.0, recipe!("bind arm to switch B position 2\nkeep\n")),
        ("B 1", 6, 1500.0, recipe!("bind arm to switch B position 1\nkeep\n")),
        ("C 1", 7, 2000.0, recipe!("bind arm to switch C position 1\nkeep\n")),
        ("D 1", 8, 1500.0, recipe!("bind arm to switch D position 1\nkeep\n")),
        ("D 2", 8, 2000.0, recipe!("bind arm to switch D position 2\nkeep\n")),
    ];
    let mut judged = 0;
    for (from, _, _, first) in TARGETS {
        for (to, channel, rest, second) in TARGETS.into_iter().filter(|(to, ..)| *to != from) {
            let before = Stand::new(first).play();
            let mut settings = arm_now(&before.board);
            let mut stand = Stand::new(second);
            stand.board = before.board;
            let played = stand.play();
            assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
            let writes = played.log.writes();
            for (_, name, value) in writes.iter().filter(|(_, name, _)| name.starts_with("ARM_")) {
                settings.insert(name.clone(), i64::from(*value));
                let (now, low, high) = (settings["ARM_CHANNEL"], settings["ARM_FROM"], settings["ARM_TO"]);
                for pulse in rests().get(&now).into_iter().flatten() {
                    #[expect(clippy::cast_precision_loss, reason = "pulse widths")]
                    let inside = *pulse >= low as f64 - 10.0 && *pulse <= high as f64 + 10.0;
                    let wanted = now == channel && (*pulse - rest).abs() < 2.0;
                    assert!(
                        !inside || wanted,
                        "{from} to {to}: {pulse} on channel {now} inside {low} to {high}\n{writes:?}"
                    );
                }
                judged += 1;
            }
            let end = arm_now(&played.board);
            assert_eq!(end["ARM_CHANNEL"], channel);
            #[expect(clippy::cast_precision_loss, reason = "pulse widths")]
            let bound = (end["ARM_FROM"] as f64) < rest && rest < end["ARM_TO"] as f64;
            assert!(bound, "{end:?}");
        }
    }
    assert!(judged >= 40, "{judged} writes");
}

fn arm_now(board: &quadjig::virtual_board::World) -> BTreeMap<String, i64> {
    let truth = board.truth();
    ["ARM_CHANNEL", "ARM_FROM", "ARM_TO"]
        .map(|name| (name.to_owned(), truth["settings"][name]["working"].as_i64().unwrap()))
        .into()
}

#[test]
fn values_of_a_search_are_not_stored() {
    let played = Stand::new(IDLE).play();
    assert_eq!(played.result, Some(Ok(())), "{}", played.log.tail());
    let values: Vec<i32> =
        played.log.writes().into_iter().filter(|(_, n, _)| n == "IDLE_US").map(|(.., v)| v).collect();
    assert!(values.len() >= 3, "{values:?}");
    let kept = values.last().copied().unwrap();
    let first = played.log.writes().into_iter().find(|(_, n, _)| n == "IDLE_US").unwrap().0;
    let last = played.log.writes().into_iter().rfind(|(_, n, _)| n == "IDLE_US").unwrap().0;
    let during = played.log.sent(FrameClass::Stores).into_iter().filter(|e| e.at >= first && e.at < last).count();
    assert_eq!(during, 0, "stored during the search");
    assert_eq!(played.board.truth()["settings"]["IDLE_US"]["stored"], kept);
}

#[test]
fn a_search_that_ends_early_leaves_the_old_value() {
    // The second question is declined.
    let mut asked = 0;
    let mut stand = Stand::new(IDLE);
    stand.hands = Hands::willing(&WorldConfig::default()).who_answers(|question| {
        let motor = super::stand::is_start(question);
        asked += u32::from(motor);
        (motor && asked == 2).then(|| super::stand::keys(900, 60, [quadjig::seam::Key::Escape]))
    });
    let old = stand.board.truth()["settings"]["IDLE_US"]["working"].clone();
    let played = stand.play();
    assert_eq!(played.code(), 4, "{}", played.log.tail());
    assert!(idle_writes(&played.log) >= 2);
    assert_eq!(played.board.truth()["settings"]["IDLE_US"]["working"], old);
    assert_eq!(played.board.truth()["settings"]["IDLE_US"]["stored"], old);
}

#[test]
fn a_disk_that_fails_ends_all_writing() {
    let stores = |log: &Log| log.entries.iter().filter(|e| matches!(e.did, Did::Store { .. })).count();
    let all = stores(&Stand::new(SIGNAL).play().log);
    assert!(all >= 8, "{all}");
    for fails_at in 0..all {
        let mut stand = Stand::new(SIGNAL);
        stand.disk_fails_at = Some(fails_at);
        stand.after = Duration::from_secs(3);
        let played = stand.play();
        let log = &played.log;
        let failed = log.entries.iter().find(|e| matches!(e.did, Did::Store { failed: true, .. })).unwrap();
        for class in [FrameClass::Writes, FrameClass::Stores, FrameClass::Restarts, FrameClass::Motor] {
            assert_eq!(
                log.sent_after(class, failed.event),
                0,
                "{class:?} after store {fails_at} failed\n{}",
                log.tail()
            );
        }
        assert_eq!(played.code(), 5, "store {fails_at}: {:?}\n{}", played.result, log.tail());
        assert!(matches!(played.fault(), Fault::Record(_)));
        assert!(log.truth.last().unwrap().fastest < 1.0);
    }
}

#[test]
fn the_intent_is_on_the_disk_before_the_write_leaves() {
    for recipe in [START, SIGNAL, IDLE, PAUSED] {
        let played = Stand::new(recipe).play();
        let entries = &played.log.entries;
        let mut seen = 0;
        for (place, entry) in entries.iter().enumerate() {
            let Did::Frame { class: Some(class), .. } = &entry.did else { continue };
            if !matches!(class, FrameClass::Writes | FrameClass::Stores) {
                continue;
            }
            seen += 1;
            let before = &entries[..place];
            let is_intent = |e: &Entry| matches!(&e.did, Did::Store { text, .. } if text.contains("\"intent\""));
            let intent = before.iter().rposition(is_intent).unwrap();
            let is_answer = |e: &Entry| matches!(&e.did, Did::Event(event) if event.starts_with("Stored("));
            assert!(before[intent..].iter().any(is_answer), "{:?} left before its intent was on the disk", entry.did);
            let outcome = before[intent..]
                .iter()
                .any(|e| matches!(&e.did, Did::Store { text, .. } if text.contains("\"outcome\"")));
            assert!(!outcome, "{:?} left after the outcome of its intent", entry.did);
        }
        assert!(seen >= 3);
        for (_, name, _) in played.log.writes() {
            let named = format!("\"{name}\"");
            assert!(
                entries.iter().any(|e| matches!(&e.did, Did::Store { text, .. } if text.contains(&named))),
                "{name}"
            );
        }
    }
}

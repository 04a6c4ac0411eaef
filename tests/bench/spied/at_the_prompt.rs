//! The same promises at the bench prompt, where a session goes on after everything.

use super::{demands, did_not_leave_them_turning, once_turning, stopped_at_once};
use crate::spy::{Act, Class, Craft, Do, Played, Scene, View, bound};
use quadjig::measure::time::Time;
use quadjig::seam::ui::About;
use quadjig::seam::{Event, LineRead};
use quadjig::virtual_board::{Conduct, Deed, WorldConfig};
use std::time::Duration;

/// What is said of radio and craft before anything that turns.
pub const KNOWN: [(u64, &str); 6] = [
    (2000, "require props off"),
    (2000, "require antenna on"),
    (2000, "channels roll, pitch, throttle, yaw"),
    (2000, "switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged"),
    (2000, "bind arm to switch B position 2"),
    (2000, "require battery in"),
];

/// A session of these lines on a craft that has arm bound.
fn sit<'a>(config: &WorldConfig, lines: &[(u64, &'static str)]) -> Scene<'a> {
    Scene { typed: Some(lines.to_vec()), limit: Duration::from_secs(600), ..Scene::on_bound(config, "") }
}

fn known(more: &[(u64, &'static str)]) -> Vec<(u64, &'static str)> {
    KNOWN.iter().chain(more).copied().collect()
}

/// No sensor, no speeds, the battery in: the typed word is all that there is.
fn blind() -> WorldConfig {
    let conduct = Conduct { voltage_sensor: false, ..Conduct::default() };
    let mut config = WorldConfig { speed_telemetry: false, conduct, ..WorldConfig::default() };
    config.pack.plugged = true;
    config
}

#[test]
fn switches_worked_under_a_false_word_are_stopped_by_everything_that_stops() {
    for (what, demand) in demands() {
        let played = sit(&blind(), &[(2000, "find switch B with 3 positions")]).act(once_turning(demand)).play();
        assert!(played.log.fastest(Craft::A) > 1000.0, "nothing turned: this shows nothing\n{}", played.log.tail());
        stopped_at_once(&played, what, &demand());
        did_not_leave_them_turning(&played, what);
    }
}

/// After an undone step: whoever leaves the prompt with the switch still on leaves nothing turning unstopped.
#[test]
fn leaving_does_not_leave_motors_turning() {
    let played = sit(&blind(), &[(2000, "find switch B with 3 positions"), (2500, "leave")])
        .act(Act::said("Switch B drives", 100, vec![Do::Line("flip B 2")]))
        .play();
    did_not_leave_them_turning(&played, "leave");
}

#[test]
fn after_a_failed_test_of_the_arm_switch_no_start_is_invited() {
    let config = WorldConfig::default();
    let lines = known(&[(2000, "test arm"), (4000, "test idle in 2 starts")]);
    let played = sit(&config, &lines)
        .act(Act::when(|view| view.board.armed(), 150, vec![Do::Line("set ARM_FROM 2106")]))
        .act(Act::said("the board is not armed", 300, vec![Do::Line("flip B 0")]))
        .act(Act::said("the board is not armed", 1500, vec![Do::Line("set ARM_FROM 1754")]))
        .play();
    assert!(played.flat().contains("position 2 the board is not armed"), "{}", played.screen);
    let armed = played.log.truth.iter().any(|t| t.armed && t.at > played.log.when("flip B 0").unwrap());
    assert!(!armed || played.log.motor_questions().len() > 1, "the world armed it by itself: this shows nothing");
    let starts = played.log.invitations().iter().filter(|(_, text)| text.starts_with("Start ")).count();
    assert_eq!(starts, 0, "{}", played.log.tail());
}

#[test]
fn what_was_said_of_propellers_does_not_outlive_an_hour_of_sleep() {
    let lines = known(&[(2000, "test idle in 2 starts"), (8000, "test idle in 2 starts")]);
    for sleeps in [false, true] {
        let mut scene = sit(&WorldConfig::default(), &lines);
        if sleeps {
            scene.limit = Duration::from_secs(3600 + 600);
            scene = scene.act(Act::said("2 of 2 starts", 3000, vec![Do::Suspend(3600)]));
        }
        let played = scene.play();
        let asked = played.log.questions().iter().filter(|(_, question)| question.about == About::Props).count();
        let starts = played.log.invitations().iter().filter(|(_, text)| text.starts_with("Start ")).count();
        assert!(sleeps || starts >= 4, "{}", played.log.tail());
        assert!(!sleeps || starts <= 2 || asked > 1, "{starts} starts, asked {asked} times\n{}", played.log.tail());
    }
}

/// Ctrl-C on the line, with everything at rest: a stop while the answer to "could anything turn" is yes, an ordinary
/// disarm (`interlock.md`, 2 and 3); else the line is thrown away, and nothing leaves.
#[test]
fn ctrl_c_on_the_line_at_rest_stops_where_a_motor_could_turn() {
    let interrupt = || Event::Line(LineRead::Abandoned);
    let sat = |ms: u64| move |view: &View<'_>| view.now > Time(ms * 1000);
    let out = known(&[(2000, "require battery out"), (60_000, "look")]);
    for (what, lines, stops) in [
        ("nobody knows where the battery is", vec![(30_000, "look")], true),
        ("the battery is in", known(&[(60_000, "look")]), true),
        ("it was measured out", out, false),
    ] {
        let mut config = WorldConfig::default();
        config.pack.plugged = stops && lines.len() == 1;
        let at = if lines.len() == 1 { 15_000 } else { 60_000 };
        let played = sit(&config, &lines).act(Act::when(sat(at), 0, vec![Do::Event(interrupt())])).play();
        let log = &played.log;
        assert!(log.event(&format!("{:?}", interrupt())).is_some(), "{what}: it never came\n{}", log.tail());
        assert_eq!(!log.sent_that(|sent| sent.class.stops()).is_empty(), stops, "{what}\n{}", log.tail());
        if stops {
            stopped_at_once(&played, what, &interrupt());
            assert!(log.sent_that(|sent| sent.class == Class::ForcedStop).is_empty(), "{what}: nothing was started");
            assert!(played.flat().contains("Ctrl-C was pressed"), "{what}\n{}", played.screen);
        }
    }
}

/// And none to a craft that was not seen at rest, or that is another than the one that was.
#[test]
fn ctrl_c_on_the_line_stops_no_other_craft() {
    let mut other = WorldConfig { seed: 0xB, ..WorldConfig::default() };
    other.pack.plugged = true;
    let mut scene = sit(&other, &[(40_000, "look"), (2000, "look")]);
    (scene.other, scene.stays) = (Some(bound(&WorldConfig { seed: 0xC, ..other.clone() })), true);
    let sat = |ms: u64| move |view: &View<'_>| view.now > Time(ms * 1000);
    let played = scene
        .act(Act::when(sat(8_000), 0, vec![Do::Silent(true)]))
        .act(Act::when(sat(11_000), 0, vec![Do::Swap, Do::Silent(false)]))
        .act(Act::when(sat(11_050), 0, vec![Do::Event(Event::Line(LineRead::Abandoned))]))
        .act(Act::when(sat(20_000), 0, vec![Do::Event(Event::Line(LineRead::Abandoned))]))
        .play();
    assert!(played.log.first_of_b.is_some());
    let stops = played.log.reached_b_that(|sent| sent.class.stops());
    assert!(stops.is_empty(), "{stops:?}\n{}", played.log.tail());
}

/// Another craft comes to the wire while the prompt is open; the next line is typed as if nothing had happened.
#[test]
fn a_line_typed_after_a_change_of_craft_writes_nothing_to_the_other() {
    for silent in [0, 700, 2500, 11_000] {
        let mut other = WorldConfig { seed: 0xB, ..WorldConfig::default() };
        other.pack.plugged = true;
        let mut board = bound(&other);
        for line in ["props on", "restart"] {
            board.line(Time(0), line).unwrap();
        }
        let mut scene = sit(&WorldConfig::default(), &[(14_000, "idle at 1111"), (2000, "keep")]);
        (scene.other, scene.stays) = (Some(board), true);
        let sat = |view: &View<'_>| view.now > Time(5_000_000);
        let played = scene
            .act(Act::when(sat, 0, vec![Do::Silent(true)]))
            .act(Act::when(sat, silent, vec![Do::Swap, Do::Silent(false)]))
            .play();
        assert!(played.log.first_of_b.is_some());
        let acted = played.log.reached_b_that(|sent| sent.class.acts());
        assert!(acted.is_empty(), "silent for {silent} ms: {acted:?}\n{}", played.log.tail());
    }
}

/// What the prompt says of `keep` and of `undo` on boards that acknowledge and do nothing.
#[test]
fn hollow_boards_are_not_said_to_keep_or_to_take_back() {
    let usual = Conduct::default();
    for (what, conduct) in [
        ("stores", Conduct { stores: Deed::Hollow, ..usual }),
        ("restarts", Conduct { restarts: Deed::Hollow, ..usual }),
        ("stores and restarts", Conduct { stores: Deed::Hollow, restarts: Deed::Hollow, ..usual }),
        ("writes", Conduct { writes: Deed::Hollow, ..usual }),
    ] {
        let config = WorldConfig { conduct, ..WorldConfig::default() };
        let played = sit(&config, &[(2000, "idle at 1111"), (2000, "keep"), (2000, "look")]).play();
        let stored = played.setting("IDLE_US", true) == 1111;
        let shown = stored && played.board.starts() > 1;
        let screen = played.flat();
        for words in ["still there", "Restarted", "kept over a restart"] {
            assert!(shown || !screen.contains(words), "{what}: `{words}`\n{}", played.screen);
        }
    }
}

/// Nothing is driven or written by a session that only looks, whatever stands at the other end.
#[test]
fn a_session_that_only_looks_sends_questions_alone() {
    let played: Played = sit(&WorldConfig::default(), &[(2000, "look")]).play();
    let more = played
        .log
        .sent_that(|sent| matches!(sent.class, Class::Write(..) | Class::Run(_) | Class::Store | Class::Restart));
    assert!(more.is_empty(), "{more:?}");
    let stops = played.log.sent_that(|sent| sent.class.stops());
    assert!(stops.is_empty(), "{stops:?}");
}

/// The cable goes to a craft that flies while the prompt is open.
#[test]
fn another_craft_at_the_cable_is_asked_who_it_is_and_nothing_else() {
    for armed in [false, true] {
        let mut other = WorldConfig { seed: 0xB, ..WorldConfig::default() };
        other.pack.plugged = true;
        let mut board = bound(&other);
        for line in if armed { ["props on", "flip B 2"] } else { ["props on", "flip B 0"] } {
            board.line(Time(0), line).unwrap();
        }
        let mut scene = sit(&WorldConfig::default(), &[(25_000, "look"), (2000, "idle at 1111")]);
        scene.other = Some(board);
        let sat = |view: &View<'_>| view.now > Time(5_000_000);
        let played = scene.act(Act::when(sat, 0, vec![Do::Replug(600)])).play();
        assert!(played.log.first_of_b.is_some(), "{}", played.log.tail());
        let reached = played.log.reached_b_that(|sent| sent.class != Class::Identity);
        assert!(reached.is_empty(), "armed {armed}: {reached:?}\n{}", played.log.tail());
    }
}

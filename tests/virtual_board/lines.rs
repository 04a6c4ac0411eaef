//! World lines: what they answer, and how they refuse.

use super::station::Station;
use quadjig::measure::time::Time;
use quadjig::virtual_board::{World, WorldConfig};

#[test]
fn answers_say_what_is_now() {
    let mut station = Station::new(WorldConfig::default());
    for (line, answer) in [
        ("flip b 2", "switch B is at 2"),
        ("radio off", "radio is off"),
        ("radio on", "radio is on"),
        ("battery in", "battery is in"),
        ("usb in", "usb is in"),
        ("tilt 4.5 -1", "the craft stands at roll 4.5 deg, pitch -1 deg"),
        ("turn 90", "the craft heads 90 deg"),
        ("props off", "propellers are off"),
        ("threshold right-rear 1150", "the rear right motor now needs about 1150 us to start"),
        ("threshold front left 1120", "the front left motor now needs about 1120 us to start"),
        ("set IDLE_US 1111", "IDLE_US is 1111"),
        ("  stick   throttle  1000us ", "stick throttle is at 1000 us"),
        ("wiggle yaw", "stick yaw moves right, left and back"),
        ("falsify dropped 10%", "of the speeds 10 % are dropped"),
        ("freeze rear left 9000", "while the rear left motor is driven its speed reads 9000 rpm"),
        ("windup 1 -2 0.5", "the stabiliser winds up by 1, -2 and 0.5 us a second"),
        ("charge 7.2", "the pack has 7.2 V without load"),
        ("restart", "the board restarts"),
    ] {
        assert_eq!(station.line(line), answer);
    }
    let sure = station.truth("/motors/2/highest_start").as_f64().unwrap();
    // Of 1150 and 1.885 times its spread, by the volts of the emptied pack.
    assert!((sure - (1000.0 + 161.3 * 7.9 / 7.2)).abs() < 1.0, "{sure}");
    assert_eq!(station.truth("/attitude/roll"), 4.5);
    let help = station.line("help");
    for verb in ["flip", "stick", "radio", "battery", "usb", "tilt", "props", "threshold", "set", "truth"] {
        assert!(help.contains(verb), "{verb}");
    }
}

#[test]
fn wrong_lines_say_what_would_be_right_and_change_nothing() {
    let mut world = World::new(WorldConfig::default());
    let before = world.truth();
    for (line, error) in [
        ("", "the line is empty; `help` lists what can be said"),
        ("flop B 2", "there is no `flop` here; did you mean `flip`?; `help` lists what can be said"),
        ("flip B", "say it as: flip SWITCH POSITION"),
        ("flip B 3", "switch B has positions 0 to 2, not `3`"),
        ("flip B -1", "switch B has positions 0 to 2, not `-1`"),
        ("flip X 1", "`X` is no switch; there are: B, C, D"),
        (
            "stick trottle 1000",
            "`trottle` is no stick; there are: roll, pitch, throttle, yaw; did you mean `throttle`?",
        ),
        ("stick throttle", "say it as: stick NAME VALUE"),
        ("stick throttle low", "`low` is not a number; say it as: stick NAME VALUE"),
        ("stick throttle 3000", "a stick's pulse goes from 800 to 2200, not 3000"),
        ("stick roll 120%", "a stick's share goes from -100 to 100, not 120"),
        ("radio maybe", "say it as: radio on|off"),
        ("battery on", "say it as: battery in|out"),
        ("falsify zeroes 1", "`zeroes` is no way to falsify; there are: dropped, zeros, lies; did you mean `zeros`?"),
        ("falsify lies 101", "a share of readings goes from 0 to 100, not 101"),
        ("freeze rear left fast", "`fast` is not a number; say it as: freeze CORNER RPM"),
        ("freeze 9000", "say it as: freeze CORNER RPM"),
        ("windup 1 2", "say it as: windup ROLL PITCH YAW"),
        ("charge 12", "a pack's voltage goes from 5 to 8.7, not 12"),
        ("tilt 1", "say it as: tilt ROLL PITCH"),
        ("tilt nan 0", "`nan` is not a number; say it as: tilt ROLL PITCH"),
        (
            "threshold rear rihgt 1150",
            "`rear rihgt` is no corner; there are: front left, front right, rear right, rear left; \
             did you mean `rear right`?",
        ),
        ("set IDEL_US 1100", "the board has no setting `IDEL_US`; did you mean `IDLE_US`?"),
        ("set IDLE_US 1300", "the board would not: IDLE_US refused: takes 1000 to 1250"),
        ("restart now", "say it as: restart"),
    ] {
        assert_eq!(world.line(Time(0), line).unwrap_err().to_string(), error, "{line}");
    }
    assert_eq!(world.truth(), before);
    world.line(Time(0), "usb out").unwrap();
    assert_eq!(
        world.line(Time(0), "restart").unwrap_err().to_string(),
        "the board has no power: plug in USB or the battery first"
    );
}

#[test]
fn the_truth_is_one_line_of_json() {
    let mut station = Station::new(WorldConfig::default());
    let text = station.line("truth");
    assert!(!text.contains('\n'));
    let truth: serde_json::Value = serde_json::from_str(&text).unwrap();
    assert_eq!(truth["schema"], "quadjig.truth/1");
    assert_eq!(truth["board"]["id"], "7669727400000001");
    assert_eq!(truth["outputs"], serde_json::json!([1000, 1000, 1000, 1000]));
    assert_eq!(truth["motors"][2]["corner"], "rear right");
    assert_eq!(truth["radio"]["switches"]["B"], serde_json::json!({ "channel": 6, "position": 0, "positions": 3 }));
    assert_eq!(truth["settings"]["ARM_CHANNEL"], serde_json::json!({ "working": 5, "stored": 5 }));
    assert_eq!(truth["battery"]["in"], false);
}

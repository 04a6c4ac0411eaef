//! Every statement form of edition 1, by the typed value that it stands for.

use super::{HEAD, read_text, recipe};
use quadjig::language::read_statement;
use quadjig::language::recipe::{
    Chemistry, Craft, Frame, Function, GivenValue, Idle, IdleSearch, OnLoss, Part, Require, Setting, StatementKind,
    Stick, Switch, Turning, Value, ZeroThrottle,
};
use quadjig::language::reference::parts;
use quadjig::language::sets::sets;
use quadjig::language::turning::{Does, Purpose, does, purpose};
use quadjig::language::units::{Angle, Frequency, Percent, Pulse, Quantity, Unit, Voltage};
use quadjig::measure::signal_timing::MotorSignal;
use std::time::Duration;

fn what(statement: &str) -> StatementKind {
    let mut recipe = recipe(statement);
    assert_eq!(recipe.statements.len(), 1, "{statement}");
    recipe.statements.remove(0).what
}

fn switch(name: &str) -> Switch {
    Switch(name.into())
}

fn function(name: &str) -> Function {
    Function(name.into())
}

fn word(name: &str) -> Setting {
    Setting::Word(name.into())
}

fn quantity(text: &str) -> Value {
    Value::Quantity(text.parse().unwrap())
}

#[test]
fn the_two_lines_that_must_parse_exactly_as_written() {
    assert_eq!(
        what("bind arm to switch B position 2"),
        StatementKind::Bind { function: function("arm"), switch: switch("B"), positions: vec![2] }
    );
    let search = IdleSearch {
        start: Pulse(1100),
        step: Pulse(25),
        by_hand: false,
        at_most: None,
        dwell: None,
        starts: None,
        then_add: None,
    };
    assert_eq!(what("idle start at 1100 step 25 until all spin"), StatementKind::IdleSearch(search));
}

#[test]
fn requirements() {
    let require = |text: &str| match what(text) {
        StatementKind::Require(require) => require,
        other => panic!("{other:?}"),
    };
    assert_eq!(require("require props off"), Require::PropsOff);
    assert_eq!(require("require antenna on"), Require::AntennaOn);
    assert_eq!(require("require battery out"), Require::Battery { inside: false });
    assert_eq!(require("require battery in"), Require::Battery { inside: true });
    assert_eq!(require("require battery at least 3.7 V per cell"), Require::BatteryAtLeast(Voltage(3700)));
    assert_eq!(require("require throttle low"), Require::ThrottleLow);
    assert_eq!(require("require disarmed"), Require::Disarmed);
    assert_eq!(require("require level within 2 deg"), Require::Level(Angle(2000)));
    assert_eq!(require("require switch B position 0"), Require::SwitchPosition { switch: switch("B"), position: 0 });
    assert_eq!(
        require(r#"require "say \"tight\" \\ # not a comment""#),
        Require::Attest(r#"say "tight" \ # not a comment"#.into())
    );
}

#[test]
fn expectations_and_settings() {
    assert_eq!(
        what("expect idle is 1120 us"),
        StatementKind::Expect { setting: word("idle"), value: quantity("1120 us") }
    );
    assert_eq!(
        what("expect zero-throttle is spin"),
        StatementKind::Expect { setting: word("zero-throttle"), value: Value::Word("spin".into()) }
    );
    assert_eq!(
        what("set loop-rate to 4 kHz"),
        StatementKind::Set { setting: word("loop-rate"), value: quantity("4 kHz") }
    );
    assert_eq!(
        what("set \"ROTOR_TRIM\" to -3"),
        StatementKind::Set { setting: Setting::Raw("ROTOR_TRIM".into()), value: Value::Number("-3".parse().unwrap()) }
    );
}

#[test]
fn the_radio() {
    assert_eq!(what("receiver crsf on port 2"), StatementKind::Receiver { protocol: "crsf".into(), port: 2 });
    assert_eq!(
        what("channels roll, pitch, throttle, yaw"),
        StatementKind::Channels([Stick::Roll, Stick::Pitch, Stick::Throttle, Stick::Yaw])
    );
    let declared = |on_loss| StatementKind::DeclareSwitch {
        switch: switch("B"),
        channel: 6,
        rests: vec![Pulse(1000), Pulse(1500), Pulse(2000)],
        momentary: false,
        on_loss,
    };
    assert_eq!(what("switch B on channel 6 rests at 1000, 1500, 2000"), declared(None));
    let loss = "switch B on channel 6 rests at 1000, 1500, 2000 on link loss";
    assert_eq!(what(&format!("{loss} 1000")), declared(Some(OnLoss::Rests(Pulse(1000)))));
    assert_eq!(what(&format!("{loss} hold")), declared(Some(OnLoss::Holds)));
    assert_eq!(what(&format!("{loss} flagged")), declared(Some(OnLoss::Flagged)));
    assert_eq!(
        what("switch B on link loss hold, rests at 1000, 1500, 2000, on channel 6"),
        declared(Some(OnLoss::Holds)),
        "clauses come in any order"
    );
    let springs = what("switch F momentary on channel 9 rests at 1000, 2000");
    assert!(matches!(springs, StatementKind::DeclareSwitch { momentary: true, channel: 9, .. }), "{springs:?}");
    let springs = what("find switch F with 2 positions, momentary anew");
    assert!(matches!(springs, StatementKind::FindSwitch { momentary: true, anew: true, .. }), "{springs:?}");
    let find =
        |positions, anew| StatementKind::FindSwitch { switch: switch("left-rear"), positions, momentary: false, anew };
    assert_eq!(what("find switch left-rear"), find(None, false));
    assert_eq!(what("find switch left-rear with 3 positions"), find(Some(3), false));
    assert_eq!(what("find switch left-rear anew, with 3 positions"), find(Some(3), true));
    assert_eq!(what("find sticks"), StatementKind::FindSticks { anew: false });
    assert_eq!(what("find link loss anew"), StatementKind::FindLinkLoss { anew: true });
    let sticks = |centre: (i32, i32), ends: (i32, i32, i32)| StatementKind::TestSticks {
        centre: (Pulse(centre.0), Pulse(centre.1)),
        ends: (Pulse(ends.0), Pulse(ends.1), Pulse(ends.2)),
    };
    assert_eq!(what("test sticks"), sticks((1500, 5), (1000, 2000, 15)));
    assert_eq!(
        what("test sticks ends 988 to 2012 within 20, centre 1502 within 4"),
        sticks((1502, 4), (988, 2012, 20))
    );
}

#[test]
fn functions_on_switches() {
    assert_eq!(
        what("bind self-level to switch D positions 1, 0"),
        StatementKind::Bind { function: function("self-level"), switch: switch("D"), positions: vec![0, 1] }
    );
    assert_eq!(
        what("bind buzzer to switch C position 1"),
        StatementKind::Bind { function: function("buzzer"), switch: switch("C"), positions: vec![1] }
    );
    assert_eq!(what("unbind lights"), StatementKind::Unbind(function("lights")));
}

#[test]
fn motors() {
    assert_eq!(what("at zero throttle spin"), StatementKind::AtZeroThrottle(ZeroThrottle::Spin));
    assert_eq!(what("at zero throttle rest"), StatementKind::AtZeroThrottle(ZeroThrottle::Rest));
    assert_eq!(what("idle at 1120"), StatementKind::IdleAt(Idle::Pulse(Pulse(1120))));
    assert_eq!(what("idle at 1.12 ms"), StatementKind::IdleAt(Idle::Pulse(Pulse(1120))));
    assert_eq!(what("idle at 5.5 %"), StatementKind::IdleAt(Idle::Percent(Percent(550))));
    let full = IdleSearch {
        start: Pulse(1080),
        step: Pulse(10),
        by_hand: false,
        at_most: Some(Pulse(1200)),
        dwell: Some(Duration::from_secs(2)),
        starts: Some(5),
        then_add: Some(Pulse(10)),
    };
    assert_eq!(
        what("idle start at 1080us step 10 until all spin, at most 1200, for 2 s, in 5 starts, then add 10"),
        StatementKind::IdleSearch(full.clone())
    );
    assert_eq!(
        what(
            "idle start at 1080µs then add 10μs in 5 starts, for 2s at most 1200 until all spin,\n\n # why\n  step 10"
        ),
        StatementKind::IdleSearch(full)
    );
    assert_eq!(what("test idle"), StatementKind::TestIdle { starts: None });
    assert_eq!(what("test idle in 5 starts"), StatementKind::TestIdle { starts: Some(5) });
    for (text, signal) in [
        ("pwm", MotorSignal::Pwm),
        ("oneshot125", MotorSignal::Oneshot125),
        ("dshot150", MotorSignal::Dshot150),
        ("dshot300", MotorSignal::Dshot300),
        ("dshot600", MotorSignal::Dshot600),
    ] {
        assert_eq!(what(&format!("signal {text}")), StatementKind::Signal { signal, rate: None });
    }
    assert_eq!(
        what("signal oneshot125 at 2 kHz"),
        StatementKind::Signal { signal: MotorSignal::Oneshot125, rate: Some(Frequency(2000)) }
    );
    assert_eq!(what("power cycle"), StatementKind::PowerCycle);
    assert_eq!(what("test motors"), StatementKind::TestMotors);
    assert_eq!(what("order motors"), StatementKind::OrderMotors);
}

#[test]
fn attitude_proof_battery_and_flow() {
    assert_eq!(what("board turned 90 deg"), StatementKind::BoardTurned(Angle(90_000)));
    assert_eq!(what("test attitude"), StatementKind::TestAttitude);
    assert_eq!(what("calibrate level"), StatementKind::CalibrateLevel);
    assert_eq!(what("failsafe cut motors after 500 ms"), StatementKind::Failsafe(Duration::from_millis(500)));
    assert_eq!(what("test arm"), StatementKind::TestArm);
    assert_eq!(what("test cut"), StatementKind::TestCut { within: Duration::from_millis(250) });
    assert_eq!(what("test cut within 100 ms"), StatementKind::TestCut { within: Duration::from_millis(100) });
    assert_eq!(what("test failsafe"), StatementKind::TestFailsafe { within: Duration::from_secs(3) });
    assert_eq!(what("test failsafe within 0.05 min"), StatementKind::TestFailsafe { within: Duration::from_secs(3) });
    assert_eq!(what("test buzzer"), StatementKind::TestBuzzer);
    let battery =
        |cells, chemistry| StatementKind::Battery { cells, chemistry, warn: Voltage(3600), land: Voltage(3400) };
    assert_eq!(what("battery 2 cells warn at 3.6 V per cell land at 3.4 V per cell"), battery(2, Chemistry::Lipo));
    assert_eq!(
        what("battery 1 cell, land at 3400mV\tper  cell, warn at 3.6V per cell, lihv"),
        battery(1, Chemistry::Lihv)
    );
    assert_eq!(what("calibrate battery"), StatementKind::CalibrateBattery);
    assert_eq!(what("keep"), StatementKind::Keep);
    assert_eq!(what("pause \"Fit the battery.\""), StatementKind::Pause("Fit the battery.".into()));
    assert_eq!(
        what("note \"Front is where the camera looks.\""),
        StatementKind::Note("Front is where the camera looks.".into())
    );
}

#[test]
fn the_header() {
    let text = "recipe \"Wren 95, bench set-up\"\r\nedition 1\r\ncraft quad x turning inward\r\nboard \"Finch\"\r\n\
                board \"Finch R\"\r\nrequire firmware \"2.4\"\r\nrequire firmware \"2.5.1\"\r\n\
                given idle-floor default 1100 us from 1050 us to 1150 us \"lowest idle to try\"\r\n\
                idle at idle-floor\r\n";
    let reading = read_text(text);
    assert!(reading.findings.is_empty(), "{}", super::told(&reading));
    let recipe = reading.recipe.unwrap();
    assert_eq!(recipe.title.value, "Wren 95, bench set-up");
    assert_eq!(recipe.craft.unwrap().value, Craft { frame: Frame::QuadX, turning: Some(Turning::Inward) });
    assert_eq!(recipe.boards.iter().map(|board| board.value.as_str()).collect::<Vec<_>>(), ["Finch", "Finch R"]);
    assert_eq!(recipe.firmware.iter().map(|f| f.value.0.as_str()).collect::<Vec<_>>(), ["2.4", "2.5.1"]);
    let given = &recipe.givens[0];
    let us = |number: &str| Quantity { number: number.parse().unwrap(), unit: Some(Unit::Us) };
    assert_eq!(given.name.value, "idle-floor");
    assert_eq!(given.value, Some(GivenValue::Quantity(us("1100"))));
    assert_eq!(given.range, Some((us("1050"), us("1150"))));
    assert_eq!(given.about.as_deref(), Some("lowest idle to try"));
    assert_eq!(given.uses.len(), 1);
    assert_eq!(recipe.statements[0].what, StatementKind::IdleAt(Idle::Pulse(Pulse(1100))));
    for (text, frame) in
        [("quad x", Frame::QuadX), ("quad plus", Frame::QuadPlus), ("hex x", Frame::HexX), ("octo x", Frame::OctoX)]
    {
        let reading = read_text(&HEAD.replace("quad x", &format!("{text} turning outward")));
        assert!(reading.findings.is_empty(), "{}", super::told(&reading));
        let craft = reading.recipe.unwrap().craft.unwrap().value;
        assert_eq!(craft, Craft { frame, turning: Some(Turning::Outward) });
    }
}

#[test]
fn parts_have_places() {
    let text = "idle start at 1100 step 25 until all spin, # a\n  at most 1200 us";
    let recipe = recipe(text);
    let statement = &recipe.statements[0];
    let shown = |span: &quadjig::language::span::Span| recipe.files[0].text[span.range.clone()].to_owned();
    assert_eq!(shown(&statement.span), text);
    assert_eq!(shown(statement.part(Part::Start)), "1100");
    assert_eq!(shown(statement.part(Part::Step)), "25");
    assert_eq!(shown(statement.part(Part::Limit)), "1200 us");
    assert_eq!(shown(statement.part(Part::Margin)), text, "what was not written is the whole statement");
    let place = recipe.place(statement.part(Part::Limit));
    assert_eq!((place.line, place.column, place.end_column), (6, 11, 18));
}

#[test]
fn one_statement_by_itself() {
    assert_eq!(read_statement("keep # now").unwrap().what, StatementKind::Keep);
    let codes = |text: &str| -> Vec<&str> { read_statement(text).unwrap_err().iter().map(|f| f.code).collect() };
    assert_eq!(codes(""), ["RS3"]);
    assert_eq!(codes("# nothing"), ["RS3"]);
    assert_eq!(codes("keep\nkeep"), ["RS2"]);
    assert_eq!(codes("edition 1"), ["RH3"]);
    assert_eq!(codes("idle at top"), ["RG3"]);
    assert_eq!(codes("idel at 1100"), ["RS1"]);
}

#[test]
fn what_a_search_leaves_out() {
    let search = |text: &str| match what(text) {
        StatementKind::IdleSearch(search) => search,
        other => panic!("{other:?}"),
    };
    let plain = search("idle start at 1000 step 25 until all spin");
    assert_eq!((plain.limit(), plain.margin(), plain.start_count()), (Pulse(1200), Pulse(25), 3));
    assert_eq!(plain.dwell_time(), Duration::from_secs(2));
    let values: Vec<i32> = plain.values(plain.limit()).map(|pulse| pulse.0).collect();
    assert_eq!(values, [1000, 1025, 1050, 1075, 1100, 1125, 1150, 1175]);
    let fine = search("idle start at 1100 step 10 until all spin at most 1141");
    assert_eq!(fine.margin(), Pulse(20), "the margin is no less than 20 us");
    assert_eq!(fine.values(fine.limit()).map(|pulse| pulse.0).collect::<Vec<_>>(), [1100, 1110, 1120]);
    let high = search("idle start at 1200 step 10 until all spin");
    assert_eq!(high.limit(), Pulse(1250), "capped by the built-in ceiling");
    assert_eq!(search("idle start at 1100 step 0 until all spin").values(Pulse(1250)).count(), 0);
}

/// A session that is written out as a recipe keeps what these set.
#[test]
fn what_gives_a_setting_a_value_is_there_to_be_kept() {
    let examples = parts().iter().flat_map(|part| &part.statements).flat_map(|statement| &statement.examples);
    let read = examples.filter_map(|example| Some(read_statement(example).ok()?.what));
    let set: Vec<StatementKind> = read.filter(|what| !sets(what).is_empty() || does(what) == Does::Writes).collect();
    assert!(set.len() > 12, "{set:?}");
    for what in set {
        assert_eq!(purpose(&what), Purpose::Sets, "{what:?}");
    }
}

//! Arming beside an open console, what is refused meanwhile, and that a console and MAVLink do the same to a board.

use super::station::Station;
use super::typist::{PROMPT, Typist};
use mavlink::dialects::common::{MavCmd, MavParamType};
use quadjig::measure::time::Time;
use quadjig::virtual_board::{BoardKind, ConsoleConfig, WireConfig, World, WorldConfig};
use std::time::Duration;

#[test]
fn nothing_is_changed_while_armed_and_rest_disarms() {
    let mut typist = Typist::plain();
    typist.bind_arm();
    typist.line("battery in");
    typist.line("flip B 2");
    assert_eq!(typist.wait(100), format!("\r\n* Armed\r\n{PROMPT}"));
    assert_eq!(typist.ask("armed"), "armed: yes");
    let before = typist.truth("/settings");
    for line in ["put 1100 into IDLE_US", "keep", "again", "spin 1 1100 500"] {
        assert_eq!(typist.ask(line), "no: not while armed", "{line}");
    }
    assert_eq!(typist.ask("show IDLE_US"), "1050 for IDLE_US");
    typist.wait(500);
    assert_eq!(typist.truth("/settings"), before);
    assert_eq!(typist.truth("/armed"), true);
    assert_eq!(typist.types("rest\r"), format!("rest\r\nresting\r\n{PROMPT}\r\n* Disarmed\r\n{PROMPT}"));
    assert_eq!(typist.ask("armed"), "armed: no");
    assert_eq!(typist.world.outputs(), [1000; 4]);
    typist.wait(1000);
    assert_eq!(typist.truth("/armed"), false, "the switch must leave first");
}

#[test]
fn a_motor_run_keeps_settings_and_restart_away_and_rest_ends_it() {
    let mut typist = Typist::plain();
    typist.line("battery in");
    typist.ask("spin 4 1200 3000");
    for line in ["put 1100 into IDLE_US", "keep", "again"] {
        assert_eq!(typist.ask(line), "no: not while a motor runs", "{line}");
    }
    assert_eq!(typist.world.outputs(), [1000, 1000, 1000, 1200]);
    assert_eq!(typist.ask("rest"), "resting");
    assert_eq!(typist.world.outputs(), [1000; 4]);
    // The board's own lease ends a run that nobody ends.
    typist.ask("spin 4 1200 3000");
    typist.wait(2999);
    assert_eq!(typist.world.outputs()[3], 1200);
    typist.wait(1);
    assert_eq!(typist.world.outputs(), [1000; 4]);
}

#[test]
fn an_open_console_can_keep_a_board_from_arming() {
    let blocking = ConsoleConfig { blocks_arming: true, ..ConsoleConfig::default() };
    let mut typist = Typist::new(blocking);
    typist.bind_arm();
    typist.line("flip B 2");
    assert_eq!(typist.wait(100), format!("\r\n* Arm refused: console is open\r\n{PROMPT}"));
    assert_eq!(typist.truth("/armed"), false);
    typist.line("flip B 0");
    typist.wait(100);
    assert_eq!(typist.types("leave\r"), "leave\r\ngone\r\n");
    typist.line("flip B 2");
    assert_eq!(typist.wait(100), "", "nobody is there to be told");
    assert_eq!(typist.truth("/armed"), true);
    assert_eq!(typist.types("armed\r"), "", "one end of line is not enough");
    assert_eq!(typist.types("x\r"), "");
    assert_eq!(typist.types("\r"), format!("\r\n{PROMPT}"));
    assert_eq!(typist.ask("armed"), "armed: yes");
    assert!(typist.types("rest\r").contains("resting"));

    // Without its cable there is no console that could be open.
    let mut typist = Typist::new(blocking);
    typist.bind_arm();
    typist.line("battery in");
    typist.line("usb out");
    typist.line("flip B 2");
    typist.wait(100);
    assert_eq!(typist.truth("/armed"), true);
}

/// A break, two ends of line and the verb: what stops a board whatever its console is doing.
#[test]
fn one_row_of_bytes_stops_in_every_state() {
    let slow = ConsoleConfig { answers_after: Duration::from_millis(500), ..ConsoleConfig::default() };
    for (console, before) in [
        (ConsoleConfig::default(), ""),
        (ConsoleConfig::default(), "put 1200 into IDL"),
        (ConsoleConfig::default(), "list\r"),
        (ConsoleConfig::default(), "leave\r"),
        (ConsoleConfig::default(), "leave\r\r"),
        (slow, "who\rwho\rlist\r"),
    ] {
        let mut typist = Typist::new(console);
        typist.bind_arm();
        typist.line("battery in");
        typist.line("flip B 2");
        typist.wait(100);
        typist.types(before);
        assert_eq!(typist.truth("/armed"), true);
        typist.types("\u{3}\r\rrest\r");
        assert_eq!(typist.truth("/armed"), false, "{before:?}");
        assert_eq!(typist.world.outputs(), [1000; 4]);
    }
}

/// A Finch R by MAVLink and a Finch C by its console, moved alike.
struct Pair {
    station: Station,
    typist: Typist,
}

impl Pair {
    fn new() -> Self {
        let station = Station::new(WorldConfig { board: BoardKind::FinchR, ..WorldConfig::default() });
        let mut pair = Self { station, typist: Typist::plain() };
        pair.station.wait(50);
        pair
    }

    fn wait(&mut self, milliseconds: u64) {
        self.station.wait(milliseconds);
        self.typist.wait(milliseconds);
    }

    fn line(&mut self, line: &str) {
        self.station.line(line);
        self.typist.line(line);
    }

    fn both(&mut self, command: MavCmd, parameters: &[f32], line: &str) {
        self.station.ask(command, parameters);
        self.typist.types(format!("{line}\r"));
    }

    fn set(&mut self, name: &str, value: u16) {
        self.station.set(name, f32::from_bits(u32::from(value)), MavParamType::MAV_PARAM_TYPE_UINT16);
        self.typist.types(format!("put {value} into {name}\r"));
    }

    fn alike(&self, when: &str) {
        assert_eq!(self.station.now, self.typist.now);
        let [one, other] = [&self.station.world, &self.typist.world].map(World::truth);
        // Speeds are looked at between events, which are not the same ones on the two wires.
        let motors =
            ["starts", "state", "pulse"].map(|what| (0..4).map(move |motor| format!("/motors/{motor}/{what}")));
        let paths = ["/settings", "/armed", "/functions", "/outputs", "/board/starts", "/board/link"];
        for path in paths.map(str::to_owned).into_iter().chain(motors.into_iter().flatten()) {
            assert!(one.pointer(&path).is_some(), "{path}");
            assert_eq!(one.pointer(&path), other.pointer(&path), "{when}: {path}");
        }
    }
}

#[test]
fn a_console_and_mavlink_do_the_same_to_a_board() {
    let mut pair = Pair::new();
    pair.alike("at the start");
    for (name, value) in [
        ("IDLE_US", 1111),
        ("IDLE_US", 1300),
        ("ROW1_FROM", 1803),
        ("ROW1_TO", 2146),
        ("LOOP_HZ", 3000),
        ("LOOP_HZ", 4000),
    ] {
        pair.set(name, value);
        pair.alike(name);
    }
    pair.both(MavCmd::MAV_CMD_PREFLIGHT_STORAGE, &[1.0], "keep");
    pair.set("IDLE_US", 1122);
    pair.alike("stored, and changed again");
    pair.both(MavCmd::MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN, &[1.0], "again");
    pair.alike("before it goes down");
    pair.wait(100);
    pair.alike("down");
    pair.wait(1400);
    pair.alike("up again");
    assert_eq!(pair.typist.truth("/settings/IDLE_US/working"), 1111);
    assert_eq!(pair.typist.truth("/board/starts"), 2);

    for line in ["set ROW1_CHANNEL 6", "set SPIN_AT_ZERO 1", "battery in", "stick throttle 1000"] {
        pair.line(line);
    }
    pair.wait(100);
    pair.both(MavCmd::MAV_CMD_DO_MOTOR_TEST, &[3.0, 1.0, 1150.0, 0.5], "spin 3 1150 500");
    pair.wait(300);
    pair.alike("one motor runs");
    assert_eq!(pair.typist.world.outputs(), [1000, 1000, 1150, 1000]);
    pair.wait(300);
    pair.alike("its time is over");
    pair.line("flip B 2");
    pair.wait(300);
    pair.alike("armed by the switch");
    assert_eq!(pair.typist.truth("/armed"), true);
    pair.both(MavCmd::MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN, &[1.0], "again");
    pair.both(MavCmd::MAV_CMD_PREFLIGHT_STORAGE, &[1.0], "keep");
    pair.wait(300);
    pair.alike("neither stores nor restarts while armed");
    pair.both(MavCmd::MAV_CMD_COMPONENT_ARM_DISARM, &[0.0], "rest");
    pair.wait(300);
    pair.alike("disarmed");
    assert_eq!(pair.typist.truth("/armed"), false);
}

#[test]
fn the_same_seed_and_the_same_typing_give_the_same_bytes() {
    let session = || {
        let wire = WireConfig { baud: Some(115_200), ..WireConfig::default() };
        let mut typist = Typist::with(WorldConfig { wire, ..WorldConfig::default() });
        let mut shown = String::new();
        for line in ["tilt\r", "pack\r", "list\r", "  ", "\u{3}", "channels\r"] {
            shown += &typist.types(line);
            shown += &typist.wait(70);
        }
        assert_eq!(typist.now, Time(470_000));
        shown
    };
    assert_eq!(session(), session());
}

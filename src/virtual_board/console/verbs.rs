//! The verbs of the console: what each does to the board, and its answer.
//!
//! What a motor run, a store or a restart is, stands elsewhere and is the same on every link.

use super::super::conduct::GivenId;
use super::super::kind::FIRMWARE_NAME;
use super::super::motor_test::{LONGEST, TestRefusal};
use super::super::numbers::to_i32;
use super::super::telemetry::half_turn;
use super::super::under_way::Owed;
use super::super::world::World;
use super::number;
use super::terminal::{Answer, Console};
use crate::measure::time::Time;

/// How each line is said, and what it is for.
const HELP: [(&str, &str); 16] = [
    ("show NAME", "the value of a setting"),
    ("put VALUE into NAME", "change a setting"),
    ("list", "all settings, a page at a time"),
    ("keep", "keep the settings over a restart"),
    ("again", "restart the board"),
    ("who", "id, kind and firmware"),
    ("armed", "whether it is armed"),
    ("channels", "what the receiver gives, us"),
    ("outputs", "what the motors are told, us"),
    ("tilt", "how it stands, degrees"),
    ("pack", "the battery"),
    ("speeds", "motor speeds, rpm"),
    ("spin MOTOR PULSE MS", "run one motor for a while"),
    ("rest", "stop such a run and disarm"),
    ("leave", "close the console; two ends of line open it"),
    ("help", "this list"),
];

impl World {
    /// Takes bytes that were typed at the console.
    pub(in super::super) fn type_in(&mut self, now: Time, bytes: &[u8]) {
        for byte in bytes {
            if let Some(console) = &mut self.console {
                console.hear(*byte);
            }
            self.work_console(now);
        }
    }

    /// Gives answers that are due, and does the lines that are complete.
    pub(in super::super) fn work_console(&mut self, now: Time) {
        while let Some(console) = &mut self.console {
            console.work(now);
            let Some(line) = console.next_line() else { break };
            let answer = self.do_line(now, &line);
            if let Some(console) = &mut self.console {
                console.answer(now, answer);
            }
            self.settle(now);
        }
        self.send_shown();
    }

    /// Puts on the wire what the console shows, byte by byte, as each can be late or lost by itself.
    pub(in super::super) fn send_shown(&mut self) {
        for byte in self.console.as_mut().map(Console::take).unwrap_or_default() {
            self.wire.pace.send(&[byte]);
        }
    }

    /// The port has appeared or vanished.
    pub(in super::super) fn console_port(&mut self) {
        let present = self.link_present();
        let banner = format!("{} {FIRMWARE_NAME}", self.config.board.name());
        if let Some(console) = &mut self.console {
            if present {
                console.open(&banner);
            } else {
                self.wire.pace.restart();
                console.shut();
            }
        }
    }

    fn do_line(&mut self, now: Time, line: &str) -> Answer {
        let words: Vec<&str> = line.split_ascii_whitespace().collect();
        match words[..] {
            ["show", name] => self.show(name),
            ["put", value, "into", name] => self.put(now, value, name),
            ["list"] => self.list(),
            ["keep"] => self.unless_busy(|world| {
                let said = world.does(now, world.config.conduct.stores, Owed::Store);
                Answer::line("kept").unless_silent(said)
            }),
            ["again"] => self.unless_busy(|world| {
                let how = world.config.conduct.restarts;
                let said = world.does(now, how, Owed::Restart);
                if world.restart_at < Time::NEVER {
                    // What it says to that comes first.
                    world.restart_at = world.restart_at + world.config.console.answers_after;
                    return Answer::Down("going down".to_owned()).unless_silent(said);
                }
                Answer::line("going down")
            }),
            ["who"] if self.config.conduct.id == GivenId::Refused => Answer::no("unknown word"),
            ["who"] if self.config.conduct.id == GivenId::Silent => Answer::Lines(Vec::new()),
            ["who"] => {
                let kind = self.config.board.name();
                Answer::line(format!("{}, {kind}, {FIRMWARE_NAME}", self.config.board_id()))
            }
            ["armed"] => Answer::line(format!("armed: {}", if self.board.armed() { "yes" } else { "no" })),
            ["channels"] => match self.board.pulses() {
                Some(pulses) => Answer::line(row("channels", pulses)),
                None => Answer::line("channels none"),
            },
            ["outputs"] => Answer::line(row("outputs", &self.outputs)),
            ["tilt"] => self.tilt_told(now),
            ["pack"] => self.pack_told(now),
            ["speeds"] => self.speeds_told(now),
            ["spin", motor, pulse, time] => self.spin(now, [motor, pulse, time]),
            ["rest"] if self.swallowed() => Answer::Lines(Vec::new()),
            ["rest"] => {
                let said = self.does(now, self.config.conduct.disarms, Owed::Disarm);
                Answer::line("resting").unless_silent(said)
            }
            ["leave"] => Answer::Left("gone".to_owned()),
            ["help"] => Answer::Lines(HELP.iter().map(|(form, what)| format!("{form:<20} {what}")).collect()),
            _ => {
                let form = HELP.iter().find(|(form, _)| form.split(' ').next() == words.first().copied());
                form.map_or_else(|| Answer::no("unknown word"), |(form, _)| Answer::no(format!("say {form}")))
            }
        }
    }

    fn show(&self, name: &str) -> Answer {
        match self.board.memory.find(name).and_then(|index| self.value_for(index)) {
            Some(line) => Answer::line(line),
            None => Answer::no(format!("nothing is called {name}")),
        }
    }

    fn value_for(&self, index: usize) -> Option<String> {
        self.line_for(index, self.board.memory.at(index)?.0)
    }

    fn line_for(&self, index: usize, value: f64) -> Option<String> {
        let definition = self.board.memory.definition(index)?;
        Some(format!("{} for {}", number::shown(value, definition.kind), definition.name))
    }

    fn put(&mut self, now: Time, value: &str, name: &str) -> Answer {
        self.unless_busy(|world| {
            let memory = &world.board.memory;
            let Some(index) = memory.find(name) else { return Answer::no(format!("nothing is called {name}")) };
            let Some(number) = number::typed(value) else { return Answer::no(format!("{value} is not a number")) };
            let Some(definition) = memory.definition(index) else { return Answer::no("nothing there") };
            match definition.take(number) {
                Err(refusal) => Answer::no(number::reason(&refusal, definition)),
                Ok(value) => {
                    let said = world.does(now, world.config.conduct.writes, Owed::Write(index, value));
                    Answer::Lines(world.line_for(index, value).into_iter().collect()).unless_silent(said)
                }
            }
        })
    }

    fn list(&self) -> Answer {
        let lines: Vec<String> = (0..self.board.memory.len()).filter_map(|index| self.value_for(index)).collect();
        let last = format!("{} settings", lines.len());
        Answer::Pages(lines, last)
    }

    /// What the board does only while nothing turns by its doing.
    fn unless_busy(&mut self, work: impl FnOnce(&mut Self) -> Answer) -> Answer {
        if self.board.armed() {
            Answer::no("not while armed")
        } else if self.board.test.is_some() {
            Answer::no("not while a motor runs")
        } else {
            work(self)
        }
    }

    fn tilt_told(&self, now: Time) -> Answer {
        let seen = self.seen().noisy(now, self.config.seed);
        // Rounded first, so that nothing comes out as -0.00.
        let [roll, pitch, yaw] =
            [seen.roll, seen.pitch, seen.heading].map(|angle| f64::from(to_i32(half_turn(angle) * 100.0)) / 100.0);
        Answer::line(format!("tilt roll {roll:.2} pitch {pitch:.2} yaw {yaw:.2}"))
    }

    fn pack_told(&self, now: Time) -> Answer {
        if !self.config.conduct.voltage_sensor {
            return Answer::no("no voltage sensor");
        }
        let volts = self.pack.shown(self.board.tuning.volt_ratio, now, self.config.seed);
        // So little is the sensor's own noise.
        let volts = if volts < 0.1 { 0.0 } else { volts };
        Answer::line(format!("pack {volts:.2} V {:.2} A", self.pack.amperes()))
    }

    fn speeds_told(&self, now: Time) -> Answer {
        if !self.sends_speeds() {
            return Answer::no("no speeds are sent");
        }
        let speeds: Vec<i32> = (0..4).map(|output| self.measured_speed(output, now)).collect();
        Answer::line(row("speeds", &speeds))
    }

    fn spin(&mut self, now: Time, words: [&str; 3]) -> Answer {
        let mut numbers = [0_u16; 3];
        for (place, word) in words.iter().enumerate() {
            match number::typed(word).and(word.parse().ok()) {
                Some(number) => numbers[place] = number,
                None => return Answer::no(format!("{word} is not a number")),
            }
        }
        let [motor, pulse, time] = numbers;
        let output = usize::from(motor).checked_sub(1);
        match self.begin_motor_test(now, output, f32::from(pulse), f32::from(time) / 1000.0) {
            Ok(said) => Answer::line(format!("spinning {motor} at {pulse} us for {time} ms")).unless_silent(said),
            Err(TestRefusal::Armed) => Answer::no("not while armed"),
            Err(TestRefusal::NoBattery) => Answer::no("battery is out"),
            Err(TestRefusal::NoSuchMotor) => Answer::no("motors are 1 to 4"),
            Err(TestRefusal::Pulse) => Answer::no("pulses are 1000 to 2000"),
            Err(TestRefusal::Time) => Answer::no(format!("times are 1 to {}", LONGEST * 1000.0)),
        }
    }
}

/// A word and numbers, with blanks between.
fn row(word: &str, numbers: &[impl ToString]) -> String {
    let numbers: Vec<String> = numbers.iter().map(ToString::to_string).collect();
    format!("{word} {}", numbers.join(" "))
}

//! The verbs of the console: what each does to the board, and its answer.
//!
//! What a motor run, a store or a restart is, stands elsewhere and is the same on every link.

use super::super::attitude::half_turn;
use super::super::conduct::GivenId;
use super::super::motor_test::TestRefusal;
use super::super::numbers::to_i32;
use super::super::under_way::Owed;
use super::super::world::World;
use super::dialect::{Exchange, Slot, Verb};
use super::number;
use super::terminal::{Console, LineAnswer};
use crate::measure::time::Time;

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
        if let Some(console) = &mut self.console {
            if present {
                console.open();
            } else {
                self.wire.pace.restart();
                console.shut();
            }
        }
    }

    fn do_line(&mut self, now: Time, line: &str) -> LineAnswer {
        let line = line.split_ascii_whitespace().collect::<Vec<_>>().join(" ");
        let Some(dialect) = self.console.as_ref().map(|console| std::sync::Arc::clone(&console.dialect)) else {
            return LineAnswer::Lines(Vec::new());
        };
        if dialect.leave.as_deref() == Some(&*line) {
            return LineAnswer::Left("gone".to_owned());
        }
        if line == "help" && !dialect.help.is_empty() {
            return LineAnswer::Lines(dialect.help.iter().map(|(form, what)| format!("{form:<20} {what}")).collect());
        }
        let known = dialect.exchanges.iter().find_map(|exchange| Some((exchange, exchange.asks.heard(&line)?)));
        if let Some((exchange, values)) = known {
            return self.do_verb(now, exchange, &values);
        }
        let word = |line: &str| line.split(' ').next().map(str::to_owned);
        let form = dialect.help.iter().find(|(form, _)| word(form) == word(&line));
        form.map_or_else(|| self.no("unknown word"), |(form, _)| self.no(format!("say {form}")))
    }

    fn do_verb(&mut self, now: Time, exchange: &Exchange, values: &[(Slot, String)]) -> LineAnswer {
        let value = |slot| values.iter().find(|(of, _)| *of == slot).map_or("", |(_, value)| value.as_str());
        let says = |values: &[(Slot, &str)]| LineAnswer::line(exchange.says.said(values));
        match exchange.verb {
            Verb::Read => match self.board.memory.find(value(Slot::Name)).and_then(|at| self.value_for(exchange, at)) {
                Some(line) => LineAnswer::line(line),
                None => self.no(format!("nothing is called {}", value(Slot::Name))),
            },
            Verb::Write => self.put(now, exchange, value(Slot::Value), value(Slot::Name)),
            Verb::List => self.list(exchange),
            Verb::Store => self.unless_busy(|world| {
                let said = world.does(now, world.config.conduct.stores, Owed::Store);
                says(&[]).unless_silent(said)
            }),
            Verb::Restart => self.unless_busy(|world| {
                let how = world.config.conduct.restarts;
                let said = world.does(now, how, Owed::Restart);
                if world.restart_at < Time::NEVER {
                    // What it says to that comes first.
                    world.restart_at = world.restart_at + world.config.console.answers_after;
                    return LineAnswer::Down(exchange.says.said(&[])).unless_silent(said);
                }
                says(&[])
            }),
            Verb::Identity => match self.config.conduct.id {
                GivenId::Refused => self.no("unknown word"),
                GivenId::Silent => LineAnswer::Lines(Vec::new()),
                GivenId::Own | GivenId::Zero => {
                    let form = self.console.as_ref().map(|console| console.dialect.id);
                    let id = form.map_or_else(String::new, |form| form.written(&self.config.board_id()));
                    let kind = self.board.make.name.as_str();
                    let firmware = self.config.firmware_name();
                    says(&[(Slot::Id, &id), (Slot::Kind, kind), (Slot::Firmware, &firmware)])
                }
            },
            Verb::Armed if self.board.armed() => says(&[]),
            Verb::Armed => otherwise(exchange),
            Verb::Channels => match self.board.pulses() {
                Some(pulses) => says(&[(Slot::Pulses, &row(pulses))]),
                None => otherwise(exchange),
            },
            Verb::Outputs => says(&[(Slot::Pulses, &row(self.outputs()))]),
            Verb::Attitude => self.tilt_told(now, exchange),
            Verb::Power => self.pack_told(now, exchange),
            Verb::Speeds => self.speeds_told(now, exchange),
            Verb::RunMotor => {
                self.spin(now, exchange, [Slot::Motor, Slot::Pulse, Slot::Milliseconds].map(|slot| (slot, value(slot))))
            }
            Verb::Stop if self.swallowed() => LineAnswer::Lines(Vec::new()),
            Verb::Stop => {
                let said = self.does(now, self.config.conduct.disarms, Owed::Disarm);
                says(&[]).unless_silent(said)
            }
        }
    }

    /// A no, with its reason.
    fn no(&self, why: impl std::fmt::Display) -> LineAnswer {
        let why = why.to_string();
        let said = |console: &Console| console.dialect.refusal.said(&[(Slot::Why, &why)]);
        LineAnswer::line(self.console.as_ref().map(said).unwrap_or_default())
    }

    fn value_for(&self, exchange: &Exchange, index: usize) -> Option<String> {
        self.line_for(exchange, index, self.board.memory.at(index)?.0)
    }

    fn line_for(&self, exchange: &Exchange, index: usize, value: f64) -> Option<String> {
        let definition = self.board.memory.definition(index)?;
        let value = number::shown(value, definition.kind);
        Some(exchange.says.said(&[(Slot::Name, &definition.name), (Slot::Value, &value)]))
    }

    fn put(&mut self, now: Time, exchange: &Exchange, value: &str, name: &str) -> LineAnswer {
        self.unless_busy(|world| {
            let memory = &world.board.memory;
            let Some(index) = memory.find(name) else { return world.no(format!("nothing is called {name}")) };
            let Some(number) = number::typed(value) else { return world.no(format!("{value} is not a number")) };
            let Some(definition) = memory.definition(index) else { return world.no("nothing there") };
            match definition.take(number) {
                Err(refusal) => world.no(number::reason(&refusal, definition)),
                Ok(value) => {
                    let said = world.does(now, world.config.conduct.writes, Owed::Write(index, value));
                    LineAnswer::Lines(world.line_for(exchange, index, value).into_iter().collect()).unless_silent(said)
                }
            }
        })
    }

    fn list(&self, exchange: &Exchange) -> LineAnswer {
        let all = 0..self.board.memory.len();
        let lines: Vec<String> = all.filter_map(|index| self.value_for(exchange, index)).collect();
        let count = lines.len().to_string();
        let last = exchange.other.as_ref().map(|total| total.said(&[(Slot::Count, &count)]));
        LineAnswer::Pages(lines, last.unwrap_or_default())
    }

    /// What the board does only while nothing turns by its doing.
    fn unless_busy(&mut self, work: impl FnOnce(&mut Self) -> LineAnswer) -> LineAnswer {
        match self.board.busy() {
            Some(why) => self.no(why),
            None => work(self),
        }
    }

    fn tilt_told(&self, now: Time, exchange: &Exchange) -> LineAnswer {
        let seen = self.seen().noisy(now, self.config.seed);
        let [roll, pitch, yaw] =
            [seen.roll, seen.pitch, seen.heading].map(|angle| pointed(half_turn(angle), exchange.decimals));
        LineAnswer::line(exchange.says.said(&[(Slot::Roll, &roll), (Slot::Pitch, &pitch), (Slot::Yaw, &yaw)]))
    }

    fn pack_told(&self, now: Time, exchange: &Exchange) -> LineAnswer {
        if !self.config.conduct.voltage_sensor {
            return self.no("no voltage sensor");
        }
        let volts = self.pack.shown(self.board.tuning.volt_ratio, now, self.config.seed);
        // So little is the sensor's own noise.
        let volts = if volts < 0.1 { 0.0 } else { volts };
        let [volts, amps] = [volts, self.pack.amperes()].map(|number| pointed(number, exchange.decimals));
        LineAnswer::line(exchange.says.said(&[(Slot::Volts, &volts), (Slot::Amps, &amps)]))
    }

    fn speeds_told(&self, now: Time, exchange: &Exchange) -> LineAnswer {
        if !self.sends_speeds() {
            return self.no("no speeds are sent");
        }
        let speeds: Vec<i32> = (0..self.motors.len()).map(|motor| self.measured_speed(motor, now)).collect();
        LineAnswer::line(exchange.says.said(&[(Slot::Speeds, &row(&speeds))]))
    }

    fn spin(&mut self, now: Time, exchange: &Exchange, words: [(Slot, &str); 3]) -> LineAnswer {
        let mut numbers = [0_u16; 3];
        for (place, (_, word)) in words.iter().enumerate() {
            match number::typed(word).and(word.parse().ok()) {
                Some(number) => numbers[place] = number,
                None => return self.no(format!("{word} is not a number")),
            }
        }
        let [motor, pulse, time] = numbers;
        let output = usize::from(motor).checked_sub(1);
        match self.begin_motor_test(now, output, f32::from(pulse), f32::from(time) / 1000.0) {
            Ok(said) => LineAnswer::line(exchange.says.said(&words)).unless_silent(said),
            Err(TestRefusal::Never) => self.no("no motor runs by command"),
            Err(TestRefusal::Armed) => self.no("not while armed"),
            Err(TestRefusal::NoBattery) => self.no("battery is out"),
            Err(TestRefusal::NoSuchMotor) => self.no(format!("motors are 1 to {}", self.motors.len())),
            Err(TestRefusal::Pulse) => self.no("pulses are 1000 to 2000"),
            Err(TestRefusal::Time) => {
                let longest = self.board.make.longest_run.unwrap_or_default() * 1000.0;
                self.no(format!("times are 1 to {longest}"))
            }
        }
    }
}

fn otherwise(exchange: &Exchange) -> LineAnswer {
    LineAnswer::Lines(exchange.other.iter().map(|other| other.said(&[])).collect())
}

/// A number with so many places behind its point, rounded first so that nothing comes out as -0.00.
fn pointed(number: f64, decimals: usize) -> String {
    let unit = 10_f64.powi(i32::try_from(decimals).unwrap_or(0));
    format!("{:.decimals$}", f64::from(to_i32(number * unit)) / unit)
}

/// Numbers with blanks between.
fn row(numbers: &[impl ToString]) -> String {
    numbers.iter().map(ToString::to_string).collect::<Vec<_>>().join(" ")
}

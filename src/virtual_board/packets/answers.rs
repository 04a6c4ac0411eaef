//! What each packet does to the board, and what it answers.
//!
//! What a motor run, a store or a restart is, stands elsewhere and is the same on every link. Must not be here: how a packet
//! is written.

use super::super::attitude::half_turn;
use super::super::conduct::GivenId;
use super::super::motor_test::TestRefusal;
use super::super::under_way::Owed;
use super::super::world::World;
use super::PacketFault;
use super::speech::{Came, PacketAnswer, PacketQuestion, Signal, SignalReading};
use crate::measure::time::Time;

fn no(why: &str) -> PacketAnswer {
    PacketAnswer::No(why.to_owned())
}

/// A deed that is not acknowledged is not.
fn done(acknowledged: bool) -> Option<PacketAnswer> {
    acknowledged.then_some(PacketAnswer::Done)
}

impl World {
    /// Takes bytes that came in for a board that speaks in packets.
    pub(in super::super) fn hear_packets(&mut self, now: Time, bytes: &[u8]) {
        if let Some(speech) = &mut self.packets {
            speech.hear(bytes);
        }
        while let Some(came) = self.packets.as_mut().and_then(|speech| speech.next()) {
            let Some(speech) = &self.packets else { return };
            let told = match speech.asked(&came, self.board.memory.definitions()) {
                Ok(asked) => {
                    let settings = matches!(asked, PacketQuestion::Read(_));
                    self.do_asked(now, asked).map(|told| (told, settings))
                }
                Err(why) => Some((PacketAnswer::No(why.to_owned()), false)),
            };
            self.settle(now);
            if let Some((told, settings)) = told {
                self.send_answer(&came, &told, settings);
            }
        }
    }

    fn send_answer(&mut self, came: &Came, told: &PacketAnswer, settings: bool) {
        let Some(speech) = &self.packets else { return };
        let Some((mut id, mut payload)) = speech.answer(came, told) else { return };
        let mut broken = false;
        if settings {
            match self.config.packet_fault {
                PacketFault::Sound | PacketFault::Neighbour => {}
                PacketFault::Counter => {
                    self.packets_told = self.packets_told.wrapping_add(1);
                    if let Some(last) = payload.last_mut() {
                        *last = self.packets_told;
                    }
                }
                PacketFault::Length => drop(payload.pop()),
                PacketFault::Sum => broken = true,
                PacketFault::Other => id = speech.other(),
                PacketFault::Endless => {
                    let bytes = speech.endless(id);
                    return self.wire.pace.send(&bytes);
                }
            }
        }
        let mut bytes = speech.made(id, came.number, &payload);
        if broken && let Some(byte) = bytes.iter_mut().rev().find(|byte| !matches!(byte, 0 | 0xC0 | 0xFF)) {
            *byte ^= 1;
        }
        self.wire.pace.send(&bytes);
    }

    /// Says a text unasked.
    pub(in super::super) fn packet_note(&mut self, text: &str) {
        self.send_unasked(self.packets.as_ref().and_then(|speech| speech.note(text)));
    }

    /// Has started: says so, and tells from now on what it tells by itself.
    pub(in super::super) fn start_packets(&mut self, now: Time) {
        let Some(speech) = &mut self.packets else { return };
        speech.clear();
        self.streams.only(&speech.unasked());
        let banner = speech.banner(&self.board.make.name);
        self.streams.start(now);
        self.send_unasked(banner);
    }

    /// Tells a signal that nobody asked for, and what stands in the same packet.
    pub(in super::super) fn packet_signal(&mut self, now: Time, signal: Signal) {
        if signal == Signal::Speeds && self.config.conduct.speeds.drops(self.config.seed, now) {
            return;
        }
        let beside = self.packets.as_ref().map(|speech| speech.beside(signal)).unwrap_or_default();
        let readings: Vec<_> = beside.into_iter().filter_map(|signal| self.reading(now, signal).ok()).collect();
        self.send_unasked(self.packets.as_ref().and_then(|speech| speech.by_itself(&readings)));
    }

    fn send_unasked(&mut self, said: Option<(u16, Vec<u8>)>) {
        if let (Some(speech), Some((id, payload))) = (&self.packets, said) {
            let bytes = speech.made(id, 0, &payload);
            self.wire.pace.send(&bytes);
        }
    }

    /// What the board says; `None`: nothing.
    fn do_asked(&mut self, now: Time, asked: PacketQuestion) -> Option<PacketAnswer> {
        match asked {
            PacketQuestion::Identity => self.packet_identity(),
            PacketQuestion::Store => {
                self.unless_turning(|world| done(world.does(now, world.config.conduct.stores, Owed::Store)))
            }
            PacketQuestion::Restart => {
                self.unless_turning(|world| done(world.does(now, world.config.conduct.restarts, Owed::Restart)))
            }
            PacketQuestion::Stop if self.swallowed() => None,
            PacketQuestion::Stop => done(self.does(now, self.config.conduct.disarms, Owed::Disarm)),
            PacketQuestion::Signals(signals) => {
                let read: Vec<_> = signals.into_iter().map(|signal| self.reading(now, signal)).collect();
                // One that tells several things leaves those empty that it has not.
                match (read.iter().all(Result::is_err), read.first()) {
                    (true, Some(Err(why))) => Some(no(why)),
                    _ => Some(PacketAnswer::Signals(read.into_iter().flatten().collect())),
                }
            }
            PacketQuestion::Run { motor, pulse, seconds } => self.packet_run(now, motor, pulse, seconds),
            PacketQuestion::Read(names) => {
                Some(PacketAnswer::Settings(names.into_iter().filter_map(|name| self.held(name)).collect()))
            }
            PacketQuestion::Write(values) => self.write_packet(now, values),
        }
    }

    fn held(&self, name: String) -> Option<(String, super::super::settings::SettingType, f64)> {
        let index = self.board.memory.find(&name)?;
        Some((name, self.board.memory.definition(index)?.kind, self.board.memory.at(index)?.0))
    }

    fn reading(&self, now: Time, signal: Signal) -> Result<SignalReading, &'static str> {
        Ok(match signal {
            Signal::Armed => SignalReading::Armed { armed: self.board.armed(), radio: self.board.pulses().is_some() },
            Signal::Channels => SignalReading::Channels(self.board.pulses().copied()),
            Signal::Outputs => SignalReading::Outputs(self.outputs().to_vec()),
            Signal::Attitude => {
                let seen = self.seen().noisy(now, self.config.seed);
                SignalReading::Attitude([seen.roll, seen.pitch, seen.heading].map(half_turn))
            }
            Signal::Power if !self.config.conduct.voltage_sensor => return Err("no voltage sensor"),
            Signal::Power => SignalReading::Power {
                volts: self.pack.shown(self.board.tuning.volt_ratio, now, self.config.seed),
                amperes: self.pack.amperes(),
            },
            Signal::Speeds if !self.sends_speeds() => return Err("no speeds are sent"),
            Signal::Speeds => {
                SignalReading::Speeds((0..self.motors.len()).map(|motor| self.measured_speed(motor, now)).collect())
            }
        })
    }

    fn packet_identity(&self) -> Option<PacketAnswer> {
        let id = match self.config.conduct.id {
            GivenId::Own => self.config.own_id(),
            GivenId::Zero => 0,
            GivenId::Refused => return Some(no("no id")),
            GivenId::Silent => return None,
        };
        Some(PacketAnswer::Identity { id, firmware: self.config.firmware, kind: self.board.make.name.clone() })
    }

    fn packet_run(&mut self, now: Time, motor: Option<usize>, pulse: f32, seconds: f32) -> Option<PacketAnswer> {
        Some(match self.begin_motor_test(now, motor, pulse, seconds) {
            Ok(said) => return done(said),
            Err(TestRefusal::Never) => no("no motor is run by command"),
            Err(TestRefusal::Armed) => no("not while armed"),
            Err(TestRefusal::NoBattery) => no("battery is out"),
            Err(TestRefusal::NoSuchMotor) => PacketAnswer::No(format!("motors are 0 to {}", self.motors.len() - 1)),
            Err(TestRefusal::Pulse) => no("pulses are 1000 to 2000"),
            Err(TestRefusal::Time) => no("times are 1 to 3000"),
        })
    }

    /// All of a packet is taken, or nothing of it.
    fn write_packet(&mut self, now: Time, values: Vec<(String, f64)>) -> Option<PacketAnswer> {
        self.unless_turning(|world| {
            let memory = &world.board.memory;
            let mut changes = Vec::new();
            let mut group = Vec::new();
            for (name, value) in values {
                let Some(index) = memory.find(&name) else { continue };
                group.push(index);
                let (Some(definition), Some((now, _))) = (memory.definition(index), memory.at(index)) else { continue };
                match definition.take(value) {
                    Err(refusal) => return Some(PacketAnswer::No(refusal.to_string())),
                    Ok(taken) if taken.total_cmp(&now).is_ne() => changes.push((index, taken)),
                    Ok(_) => {}
                }
            }
            if world.config.packet_fault == PacketFault::Neighbour
                && let Some((index, _)) = changes.first().copied()
            {
                let at = group.iter().position(|one| *one == index).unwrap_or(0);
                let beside = group.get(at + 1).or(group.get(at.wrapping_sub(1))).copied().unwrap_or(index);
                let other = memory.definition(beside).map(|definition| (definition.least, definition.most));
                let is = memory.at(beside).map_or(0.0, |(value, _)| value);
                changes.extend(other.map(|(least, most)| (beside, if is > least { least } else { most })));
            }
            let mut said = true;
            for (index, value) in changes {
                said = world.does(now, world.config.conduct.writes, Owed::Write(index, value));
            }
            done(said)
        })
    }

    /// What the board does only while nothing turns by its doing.
    fn unless_turning(&mut self, work: impl FnOnce(&mut Self) -> Option<PacketAnswer>) -> Option<PacketAnswer> {
        match self.board.busy() {
            Some(why) => Some(no(why)),
            None => work(self),
        }
    }
}

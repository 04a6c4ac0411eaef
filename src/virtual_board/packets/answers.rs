//! What each packet does to the board, and its answer. The ids are ours: an answer's is its question's with the highest bit
//! set.
//!
//! What a motor run, a store or a restart is, stands elsewhere and is the same on every link.

use super::super::attitude::half_turn;
use super::super::conduct::GivenId;
use super::super::motor_test::TestRefusal;
use super::super::numbers::{to_f32, to_i16, to_i32, to_u16};
use super::super::under_way::Owed;
use super::super::world::World;
use super::frame::Came;
use super::{PacketFault, layout};
use crate::measure::time::Time;

const IDENTITY: u8 = 0x01;
const STORE: u8 = 0x02;
const RESTART: u8 = 0x03;
const ARMED: u8 = 0x10;
const CHANNELS: u8 = 0x11;
const OUTPUTS: u8 = 0x12;
const ATTITUDE: u8 = 0x13;
const POWER: u8 = 0x14;
const SPEEDS: u8 = 0x15;
const RUN: u8 = 0x18;
const STOP: u8 = 0x19;
/// Settings are read by these and the place of their packet, and written by those.
const READ: u8 = 0x20;
const WRITE: u8 = 0x40;
const PACKETS: u8 = 0x20;
const ANSWER: u8 = 0x80;
const BANNER: u8 = 0xFD;
const NOTE: u8 = 0xFE;
const REFUSED: u8 = 0xFF;

/// What a board says to a question: an answer, no, or nothing.
enum Said {
    Answer(Vec<u8>),
    No(String),
    Nothing,
}

impl Said {
    fn no(why: &str) -> Self {
        Self::No(why.to_owned())
    }

    /// A deed that is not acknowledged is not.
    fn done(acknowledged: bool) -> Self {
        if acknowledged { Self::Answer(Vec::new()) } else { Self::Nothing }
    }
}

impl World {
    /// Takes bytes that came in for a board that speaks in packets.
    pub(in super::super) fn hear_packets(&mut self, now: Time, bytes: &[u8]) {
        if let Some(packets) = &mut self.packets {
            packets.hear(bytes);
        }
        while let Some(came) = self.packets.as_mut().and_then(super::Packets::next) {
            let said = self.answer_packet(now, &came);
            self.settle(now);
            self.send_answer(&came, said);
        }
    }

    fn send_answer(&mut self, came: &Came, said: Said) {
        let Some(packets) = &self.packets else { return };
        let mut id = came.id | ANSWER;
        let mut payload = match said {
            Said::Nothing => return,
            Said::Answer(payload) => payload,
            Said::No(why) => {
                id = REFUSED;
                let asked = packets.number(
                    (0x0500 | i64::from(came.id)) & if packets.stuffed { 0xFFFF } else { 0xFF },
                    if packets.stuffed { 2 } else { 1 },
                );
                [asked, why.into_bytes()].concat()
            }
        };
        let mut broken = false;
        if (READ..READ + PACKETS).contains(&came.id) && id != REFUSED {
            match self.config.packet_fault {
                PacketFault::Sound | PacketFault::Neighbour => {}
                PacketFault::Length => drop(payload.pop()),
                PacketFault::Sum => broken = true,
                PacketFault::Other => id = ATTITUDE | ANSWER,
                PacketFault::Endless => {
                    let bytes = packets.endless(id);
                    return self.wire.pace.send(&bytes);
                }
            }
        }
        let mut bytes = packets.made(id, came.number, &payload);
        if broken && let Some(byte) = bytes.iter_mut().rev().find(|byte| !matches!(byte, 0 | 0xFF)) {
            *byte ^= 1;
        }
        self.wire.pace.send(&bytes);
    }

    /// Says a text unasked.
    pub(in super::super) fn packet_note(&mut self, text: &str) {
        self.send_unasked(NOTE, text);
    }

    /// Says that it has started.
    pub(in super::super) fn packet_banner(&mut self) {
        let name = self.board.make.name.clone();
        self.send_unasked(BANNER, &name);
    }

    fn send_unasked(&mut self, id: u8, text: &str) {
        let cut: String = text.chars().take(120).collect();
        if let Some(packets) = &self.packets {
            let bytes = packets.made(id, 0, cut.as_bytes());
            self.wire.pace.send(&bytes);
        }
    }

    fn answer_packet(&mut self, now: Time, came: &Came) -> Said {
        let group = usize::from(came.id % PACKETS);
        match (came.id, &came.payload[..]) {
            (IDENTITY, []) => self.packet_identity(),
            (STORE, []) => {
                self.unless_turning(|world| Said::done(world.does(now, world.config.conduct.stores, Owed::Store)))
            }
            (RESTART, []) => {
                self.unless_turning(|world| Said::done(world.does(now, world.config.conduct.restarts, Owed::Restart)))
            }
            (ARMED, []) => {
                let armed = u8::from(self.board.armed());
                let radio = u8::from(self.board.pulses().is_some());
                // The highest bit is always set, so that a flag read as a whole byte is never right.
                Said::Answer(vec![armed | radio << 1 | 0x80])
            }
            (CHANNELS, []) => {
                let heard = self.board.pulses();
                let pulses = heard.copied().unwrap_or_default();
                self.row(u8::from(heard.is_some()), pulses.map(i64::from), 2)
            }
            (OUTPUTS, []) => Said::Answer(self.numbers(self.outputs().iter().copied().map(i64::from), 2)),
            (ATTITUDE, []) => self.packet_attitude(now),
            (POWER, []) => self.packet_power(now),
            (SPEEDS, []) if !self.sends_speeds() => Said::no("no speeds are sent"),
            (SPEEDS, []) => {
                let speeds = (0..self.motors.len()).map(|motor| i64::from(self.measured_speed(motor, now)));
                Said::Answer(self.numbers(speeds, 4))
            }
            (RUN, [motor, rest @ ..]) if rest.len() == 4 => self.packet_run(now, *motor, rest),
            (STOP, []) if self.swallowed() => Said::Nothing,
            (STOP, []) => Said::done(self.does(now, self.config.conduct.disarms, Owed::Disarm)),
            (id, []) if (READ..READ + PACKETS).contains(&id) => self.read_packet(group),
            (id, payload) if (WRITE..WRITE + PACKETS).contains(&id) => self.write_packet(now, group, payload),
            (IDENTITY..=SPEEDS | RUN | STOP, _) => Said::no("wrong length"),
            _ => Said::no("unknown packet"),
        }
    }

    fn numbers(&self, numbers: impl IntoIterator<Item = i64>, size: usize) -> Vec<u8> {
        let Some(packets) = &self.packets else { return Vec::new() };
        numbers.into_iter().flat_map(|number| packets.number(number, size)).collect()
    }

    fn row(&self, first: u8, numbers: impl IntoIterator<Item = i64>, size: usize) -> Said {
        Said::Answer([vec![first], self.numbers(numbers, size)].concat())
    }

    fn packet_identity(&self) -> Said {
        let id = match self.config.conduct.id {
            GivenId::Own => self.config.own_id(),
            GivenId::Zero => 0,
            GivenId::Refused => return Said::no("no id"),
            GivenId::Silent => return Said::Nothing,
        };
        let mut kind = self.board.make.name.as_bytes().to_vec();
        kind.resize(12, 0);
        // Firmware 2.4.1.
        Said::Answer([&id.to_be_bytes()[..], &[2, 4, 1], &kind].concat())
    }

    fn packet_attitude(&self, now: Time) -> Said {
        let seen = self.seen().noisy(now, self.config.seed);
        let angles = [seen.roll, seen.pitch, seen.heading].map(half_turn);
        Said::Answer(if self.packets.as_ref().is_some_and(|packets| packets.stuffed) {
            self.numbers(angles.map(|angle| i64::from(to_f32(angle).to_bits())), 4)
        } else {
            self.numbers(angles.map(|angle| i64::from(to_i32(angle * 100.0))), 2)
        })
    }

    fn packet_power(&self, now: Time) -> Said {
        if !self.config.conduct.voltage_sensor {
            return Said::no("no voltage sensor");
        }
        let volts = self.pack.shown(self.board.tuning.volt_ratio, now, self.config.seed);
        let told = [i64::from(to_u16(volts * 1000.0)), i64::from(to_i16(self.pack.amperes() * 100.0))];
        Said::Answer(self.numbers(told, 2))
    }

    /// Motor from 0, pulse and milliseconds.
    fn packet_run(&mut self, now: Time, motor: u8, rest: &[u8]) -> Said {
        let Some(packets) = &self.packets else { return Said::Nothing };
        let number = |bytes: &[u8]| u16::try_from(packets.whole(bytes)).map_or(0.0, f32::from);
        let (pulse, time) = (number(&rest[..2]), number(&rest[2..]));
        match self.begin_motor_test(now, Some(usize::from(motor)), pulse, time / 1000.0) {
            Ok(said) => Said::done(said),
            Err(TestRefusal::Never) => Said::no("no motor is run by command"),
            Err(TestRefusal::Armed) => Said::no("not while armed"),
            Err(TestRefusal::NoBattery) => Said::no("battery is out"),
            Err(TestRefusal::NoSuchMotor) => Said::No(format!("motors are 0 to {}", self.motors.len() - 1)),
            Err(TestRefusal::Pulse) => Said::no("pulses are 1000 to 2000"),
            Err(TestRefusal::Time) => Said::no("times are 1 to 3000"),
        }
    }

    fn read_packet(&self, group: usize) -> Said {
        let (memory, Some(packets)) = (&self.board.memory, &self.packets) else { return Said::Nothing };
        let groups = layout::groups(memory);
        match groups.into_iter().nth(group) {
            Some(range) => Said::Answer(layout::payload(memory, range, packets)),
            None => Said::no("no such settings"),
        }
    }

    /// All of a packet is taken, or nothing of it.
    fn write_packet(&mut self, now: Time, group: usize, payload: &[u8]) -> Said {
        self.unless_turning(|world| {
            let (memory, Some(packets)) = (&world.board.memory, &world.packets) else { return Said::Nothing };
            let groups = layout::groups(memory);
            let Some(range) = groups.into_iter().nth(group) else { return Said::no("no such settings") };
            let Some(values) = layout::values(memory, range.clone(), packets, payload) else {
                return Said::no("wrong length");
            };
            let mut changes = Vec::new();
            for (index, value) in values {
                let (Some(definition), Some((now, _))) = (memory.definition(index), memory.at(index)) else { continue };
                match definition.take(value) {
                    Err(refusal) => return Said::No(refusal.to_string()),
                    Ok(taken) if taken.total_cmp(&now).is_ne() => changes.push((index, taken)),
                    Ok(_) => {}
                }
            }
            if world.config.packet_fault == PacketFault::Neighbour
                && let Some((index, _)) = changes.first().copied()
            {
                let beside = if range.contains(&(index + 1)) { index + 1 } else { index - 1 };
                let other = memory.definition(beside).map(|definition| (definition.least, definition.most));
                let is = memory.at(beside).map_or(0.0, |(value, _)| value);
                changes.extend(other.map(|(least, most)| (beside, if is > least { least } else { most })));
            }
            let mut said = true;
            for (index, value) in changes {
                said = world.does(now, world.config.conduct.writes, Owed::Write(index, value));
            }
            Said::done(said)
        })
    }

    /// What the board does only while nothing turns by its doing.
    fn unless_turning(&mut self, work: impl FnOnce(&mut Self) -> Said) -> Said {
        if self.board.armed() {
            Said::no("not while armed")
        } else if self.board.test.is_some() {
            Said::no("not while a motor runs")
        } else {
            work(self)
        }
    }
}

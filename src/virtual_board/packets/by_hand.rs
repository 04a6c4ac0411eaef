//! The words of the Finch P and the Finch Q. The ids are ours: an answer's is its question's with the highest bit set.
//!
//! Must not be here: what is done of what was asked.

use super::super::numbers::{to_f32, to_i16, to_i32, to_u16};
use super::super::settings::Definition;
use super::frame::Packets;
use super::layout;
use super::speech::{Came, PacketAnswer, PacketQuestion, PacketSpeech, Signal, SignalReading};

const IDENTITY: u16 = 0x01;
const STORE: u16 = 0x02;
const RESTART: u16 = 0x03;
const ARMED: u16 = 0x10;
const CHANNELS: u16 = 0x11;
const OUTPUTS: u16 = 0x12;
const ATTITUDE: u16 = 0x13;
const POWER: u16 = 0x14;
const SPEEDS: u16 = 0x15;
const RUN: u16 = 0x18;
const STOP: u16 = 0x19;
/// Settings are read by these and the place of their packet, and written by those.
const READ: u16 = 0x20;
const WRITE: u16 = 0x40;
const PACKETS: u16 = 0x20;
const ANSWER: u16 = 0x80;
const BANNER: u16 = 0xFD;
const NOTE: u16 = 0xFE;
const REFUSED: u16 = 0xFF;
/// Longest text.
const TEXT: usize = 120;

impl Packets {
    fn numbers(&self, numbers: impl IntoIterator<Item = i64>, size: usize) -> Vec<u8> {
        numbers.into_iter().flat_map(|number| self.number(number, size)).collect()
    }

    fn reading(&self, reading: &SignalReading) -> Vec<u8> {
        match reading {
            // The highest bit is always set, so that a flag read as a whole byte is never right.
            SignalReading::Armed { armed, radio } => vec![u8::from(*armed) | u8::from(*radio) << 1 | 0x80],
            SignalReading::Channels(heard) => {
                let pulses = heard.unwrap_or_default();
                [vec![u8::from(heard.is_some())], self.numbers(pulses.map(i64::from), 2)].concat()
            }
            SignalReading::Outputs(pulses) => self.numbers(pulses.iter().copied().map(i64::from), 2),
            SignalReading::Attitude(angles) if self.stuffed => {
                self.numbers(angles.map(|angle| i64::from(to_f32(angle).to_bits())), 4)
            }
            SignalReading::Attitude(angles) => self.numbers(angles.map(|angle| i64::from(to_i32(angle * 100.0))), 2),
            SignalReading::Power { volts, amperes } => {
                self.numbers([i64::from(to_u16(volts * 1000.0)), i64::from(to_i16(amperes * 100.0))], 2)
            }
            SignalReading::Speeds(speeds) => self.numbers(speeds.iter().copied().map(i64::from), 4),
        }
    }
}

impl PacketSpeech for Packets {
    fn copy(&self) -> Box<dyn PacketSpeech> {
        Box::new(self.clone())
    }

    fn clear(&mut self) {
        self.forget();
    }

    fn hear(&mut self, bytes: &[u8]) {
        self.take(bytes);
    }

    fn next(&mut self) -> Option<Came> {
        self.find()
    }

    fn asked(&self, came: &Came, settings: &[Definition]) -> Result<PacketQuestion, &'static str> {
        let group = || {
            let range = layout::groups(settings).into_iter().nth(usize::from(came.id % PACKETS));
            range.and_then(|range| settings.get(range)).ok_or("no such settings")
        };
        let signal = |signal| Ok(PacketQuestion::Signals(vec![signal]));
        match (came.id, &came.payload[..]) {
            (IDENTITY, []) => Ok(PacketQuestion::Identity),
            (STORE, []) => Ok(PacketQuestion::Store),
            (RESTART, []) => Ok(PacketQuestion::Restart),
            (STOP, []) => Ok(PacketQuestion::Stop),
            (ARMED, []) => signal(Signal::Armed),
            (CHANNELS, []) => signal(Signal::Channels),
            (OUTPUTS, []) => signal(Signal::Outputs),
            (ATTITUDE, []) => signal(Signal::Attitude),
            (POWER, []) => signal(Signal::Power),
            (SPEEDS, []) => signal(Signal::Speeds),
            // Motor from 0, pulse and milliseconds.
            (RUN, [motor, rest @ ..]) if rest.len() == 4 => {
                let number = |bytes: &[u8]| u16::try_from(self.whole(bytes)).map_or(0.0, f32::from);
                let (pulse, seconds) = (number(&rest[..2]), number(&rest[2..]) / 1000.0);
                Ok(PacketQuestion::Run { motor: Some(usize::from(*motor)), pulse, seconds })
            }
            (id, []) if (READ..READ + PACKETS).contains(&id) => {
                Ok(PacketQuestion::Read(group()?.iter().map(|setting| setting.name.clone()).collect()))
            }
            (id, payload) if (WRITE..WRITE + PACKETS).contains(&id) => {
                layout::values(group()?, self, payload).map(PacketQuestion::Write).ok_or("wrong length")
            }
            (IDENTITY..=SPEEDS | RUN | STOP, _) => Err("wrong length"),
            _ => Err("unknown packet"),
        }
    }

    fn answer(&self, to: &Came, told: &PacketAnswer) -> Option<(u16, Vec<u8>)> {
        let payload = match told {
            PacketAnswer::Done => Vec::new(),
            PacketAnswer::Identity { id, firmware, kind } => {
                let mut kind = kind.as_bytes().to_vec();
                kind.resize(12, 0);
                [&id.to_be_bytes()[..], firmware, &kind].concat()
            }
            PacketAnswer::Signals(readings) => readings.iter().flat_map(|reading| self.reading(reading)).collect(),
            PacketAnswer::Settings(settings) => layout::payload(settings, self),
            PacketAnswer::No(why) => {
                let size = if self.stuffed { 2 } else { 1 };
                let asked = self.number(if self.stuffed { 0x0500 } else { 0 } | i64::from(to.id), size);
                return Some((REFUSED, [asked, why.clone().into_bytes()].concat()));
            }
        };
        Some((to.id | ANSWER, payload))
    }

    fn banner(&self, name: &str) -> Option<(u16, Vec<u8>)> {
        Some((BANNER, name.as_bytes().to_vec()))
    }

    fn note(&self, text: &str) -> Option<(u16, Vec<u8>)> {
        let cut: String = text.chars().take(TEXT).collect();
        Some((NOTE, cut.into_bytes()))
    }

    fn made(&self, id: u16, number: u16, payload: &[u8]) -> Vec<u8> {
        let [_, id] = id.to_be_bytes();
        let [_, number] = number.to_be_bytes();
        self.bytes(id, number, payload)
    }

    fn endless(&self, id: u16) -> Vec<u8> {
        let [_, id] = id.to_be_bytes();
        self.without_end(id)
    }

    fn other(&self) -> u16 {
        ATTITUDE | ANSWER
    }
}

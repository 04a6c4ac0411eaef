//! The packets of a board that a sheet describes, from its side: what it hears is what the program sends.
//!
//! Promises: each field holds what the sheet says stands there, and bytes that no field names are zero. The framing is the
//! program's own, turned round; what that is tested against are the boards made by hand. Must not be here: what is done of
//! what was asked (see `virtual_board::packets`).

use super::Unplayable;
use crate::board::console::Capability;
use crate::board::packets::PacketSheet;
use crate::board::packets::field::{Count, Field, FieldType};
use crate::board::packets::framing::{Delimiting, Framing, Packet};
use crate::board::packets::sheet::{Exchange, SettingsPacket, Shape};
use crate::board::packets::splitter::{Found, Splitter};
use crate::board::signals::Stream;
use crate::board::value::Number;
use crate::virtual_board::{
    Came, Definition, PacketAnswer, PacketQuestion, PacketSpeech, SettingType, Signal, SignalReading, Speech,
};
use std::collections::VecDeque;

/// Bytes of an id that has room for the mark of a virtual board.
const ID: usize = 8;
/// Channels and motors in a row that goes on to its packet's end.
const CHANNELS: usize = 16;
const MOTORS: usize = 8;

/// The speech of a sheet.
///
/// # Errors
/// An id that has no room for the mark of a virtual board.
pub fn speech(sheet: &PacketSheet) -> Result<Speech, Unplayable> {
    let id = sheet.exchange(Capability::Identity).and_then(|exchange| exchange.answer.as_ref()?.fields.get("id"));
    let room = id.map_or(0, |id| match (id.kind, id.count) {
        (FieldType::Hex, Count::Fixed(count)) => count,
        (FieldType::Text, Count::Fixed(count)) => count / 2,
        (FieldType::Hex | FieldType::Text, Count::Rest) => ID,
        (kind, _) => kind.size(),
    });
    if room < ID {
        return Err(Unplayable::Id(room));
    }
    Ok(Speech::new(Played {
        splitter: Splitter::new(sheet.framing.mirrored()),
        framing: sheet.framing.mirrored(),
        sheet: sheet.clone(),
        came: VecDeque::new(),
    }))
}

/// How a field of a sheet keeps its numbers, as a setting; `None`: it keeps none.
pub fn definition(name: &str, field: &Field) -> Option<Definition> {
    let (kind, least, most) = match field.kind {
        FieldType::U8 => (SettingType::U8, 0.0, f64::from(u8::MAX)),
        FieldType::U16 => (SettingType::U16, 0.0, f64::from(u16::MAX)),
        FieldType::U24 => (SettingType::U32, 0.0, 16_777_215.0),
        FieldType::U32 => (SettingType::U32, 0.0, f64::from(u32::MAX)),
        FieldType::I8 => (SettingType::I8, f64::from(i8::MIN), f64::from(i8::MAX)),
        FieldType::I16 => (SettingType::I16, f64::from(i16::MIN), f64::from(i16::MAX)),
        FieldType::I32 => (SettingType::I32, f64::from(i32::MIN), f64::from(i32::MAX)),
        FieldType::F32 => (SettingType::Real, -1e6, 1e6),
        FieldType::Text | FieldType::Hex => return None,
    };
    let (least, most) = match field.bits {
        Some((_, count)) => (0.0, f64::from(u32::try_from((1_u64 << count) - 1).unwrap_or(u32::MAX))),
        None => (least, most),
    };
    Some(Definition::new(name, kind, 0.0, least, most))
}

#[derive(Debug, Clone)]
struct Played {
    sheet: PacketSheet,
    /// As the board has it.
    framing: Framing,
    splitter: Splitter,
    came: VecDeque<Came>,
}

/// What a packet belongs to.
enum Of<'s> {
    Needs(Vec<Capability>),
    Read(&'s SettingsPacket),
    Write(&'s SettingsPacket),
}

fn signal(need: Capability) -> Option<Signal> {
    Some(match need.stream()? {
        Stream::Alive => Signal::Armed,
        Stream::Channels => Signal::Channels,
        Stream::Outputs => Signal::Outputs,
        Stream::Attitude => Signal::Attitude,
        Stream::Power => Signal::Power,
        Stream::Speeds => Signal::Speeds,
    })
}

fn need(reading: &SignalReading) -> Capability {
    match reading {
        SignalReading::Armed { .. } => Capability::Armed,
        SignalReading::Channels(_) => Capability::Channels,
        SignalReading::Outputs(_) => Capability::Outputs,
        SignalReading::Attitude(_) => Capability::Attitude,
        SignalReading::Power { .. } => Capability::Power,
        SignalReading::Speeds(_) => Capability::Speeds,
    }
}

impl Played {
    fn asks(&self, came: &Came) -> Option<Of<'_>> {
        let of = |(need, exchange): (&Capability, &Exchange)| {
            let ask = exchange.ask.as_ref().filter(|ask| ask.id == came.id)?;
            let fits = match need {
                Capability::RunMotor => ask.payload.len() == came.payload.len(),
                _ => ask.payload == came.payload,
            };
            fits.then_some(*need)
        };
        let needs: Vec<Capability> = self.sheet.exchanges.iter().filter_map(of).collect();
        if !needs.is_empty() {
            return Some(Of::Needs(needs));
        }
        let reads = |known: &&SettingsPacket| known.ask.id == came.id && known.ask.payload == came.payload;
        if let Some(known) = self.sheet.settings.iter().find(reads) {
            return Some(Of::Read(known));
        }
        let writes =
            |known: &&SettingsPacket| known.write == Some(came.id) && came.payload.starts_with(&known.answer.begins);
        self.sheet.settings.iter().find(writes).map(Of::Write)
    }

    /// A payload of an answer, with nothing in it yet but how it begins.
    fn payload(shape: &Shape) -> Vec<u8> {
        let mut payload = shape.begins.clone();
        payload.resize(shape.length.max(payload.len()), 0);
        payload
    }

    /// Puts a row of measures, in the smallest units, where a word has its field.
    fn put(&self, payload: &mut Vec<u8>, shape: &Shape, word: &str, measures: &[f64], of_all: usize) {
        let Some(field) = shape.fields.get(word) else { return };
        if field.count == Count::Rest {
            payload.resize(payload.len().max(field.at + of_all * field.every), 0);
        }
        for index in 0..field.count_in(payload.len()) {
            let measure = measures.get(index).copied().unwrap_or(0.0);
            let one = Field { at: field.at + index * field.every, count: Count::Fixed(1), ..field.clone() };
            let number = number(field.kind, measure / field.scale - field.plus);
            // What its field can't hold stays zero.
            let _ = one.put(payload, self.framing.order, number);
        }
    }

    fn text(payload: &mut Vec<u8>, shape: &Shape, word: &str, text: &[u8]) {
        let Some(field) = shape.fields.get(word) else { return };
        if field.count == Count::Rest {
            payload.resize(payload.len().max(field.at + text.len()), 0);
        }
        let room = field.count_in(payload.len());
        for (place, byte) in payload.iter_mut().skip(field.at).zip(text).take(room) {
            *place = *byte;
        }
    }

    fn reading(&self, payload: &mut Vec<u8>, shape: &Shape, reading: &SignalReading) {
        let one = |payload: &mut Vec<u8>, word: &str, measure: f64| self.put(payload, shape, word, &[measure], 1);
        match reading {
            SignalReading::Armed { armed, .. } => one(payload, "armed", f64::from(u8::from(*armed))),
            SignalReading::Channels(heard) => {
                one(payload, "signal", f64::from(u8::from(heard.is_some())));
                let pulses = heard.unwrap_or_default().map(f64::from);
                self.put(payload, shape, "pulses", &pulses, CHANNELS);
            }
            SignalReading::Outputs(outputs) => {
                let pulses: Vec<f64> = outputs.iter().copied().map(f64::from).collect();
                self.put(payload, shape, "pulses", &pulses, pulses.len());
            }
            SignalReading::Attitude(angles) => {
                for (word, angle) in ["roll", "pitch", "yaw"].into_iter().zip(angles) {
                    one(payload, word, *angle);
                }
            }
            SignalReading::Power { volts, amperes } => {
                one(payload, "volts", volts * 1000.0);
                one(payload, "amps", amperes * 1000.0);
            }
            SignalReading::Speeds(speeds) => {
                let speeds: Vec<f64> = speeds.iter().copied().map(f64::from).collect();
                self.put(payload, shape, "rpm", &speeds, speeds.len().min(MOTORS));
            }
        }
    }

    /// What the board tells by itself, each with the packet that it stands in.
    fn told_unasked(&self) -> impl Iterator<Item = (Signal, &Shape)> {
        let given = self.sheet.exchanges.iter().filter(|(_, exchange)| exchange.unasked);
        given.filter_map(|(need, exchange)| Some((signal(*need)?, exchange.answer.as_ref()?)))
    }

    /// One packet that tells all of these, as far as they stand in it.
    fn signals(&self, readings: &[SignalReading]) -> Option<(u16, Vec<u8>)> {
        let shapes =
            readings.iter().filter_map(|reading| Some((reading, self.sheet.exchange(need(reading))?.answer.as_ref()?)));
        let shapes: Vec<_> = shapes.collect();
        let (_, first) = shapes.first()?;
        let longest = shapes.iter().map(|(_, shape)| shape.length).max()?;
        let mut payload = Self::payload(first);
        payload.resize(payload.len().max(longest), 0);
        for (reading, shape) in &shapes {
            self.reading(&mut payload, shape, reading);
        }
        Some((first.id, payload))
    }

    fn identity(&self, shape: &Shape, id: u64, firmware: [u8; 3], kind: &str) -> Vec<u8> {
        let mut payload = Self::payload(shape);
        let digits = format!("{id:016x}");
        let text = shape.fields.get("id").is_some_and(|field| field.kind == FieldType::Text);
        if text {
            // Told in whole: what is shorter is another id.
            Self::text(&mut payload, shape, "id", format!("{digits:0<64}").as_bytes());
        } else {
            Self::text(&mut payload, shape, "id", &id.to_be_bytes());
        }
        let version = firmware.map(|part| part.to_string()).join(".");
        match shape.fields.get("firmware") {
            Some(field) if field.kind == FieldType::Text => {
                Self::text(&mut payload, shape, "firmware", version.as_bytes());
            }
            Some(_) => self.put(&mut payload, shape, "firmware", &firmware.map(f64::from), firmware.len()),
            None => {}
        }
        Self::text(&mut payload, shape, "kind", kind.as_bytes());
        payload
    }

    fn settings(&self, packet: &SettingsPacket, held: &[(String, SettingType, f64)]) -> Vec<u8> {
        let mut payload = Self::payload(&packet.answer);
        for (name, field) in &packet.fields {
            let Some((.., value)) = held.iter().find(|(known, ..)| known == name.as_str()) else { continue };
            let _ = field.put(&mut payload, self.framing.order, number(field.kind, *value));
        }
        payload
    }

    /// No: by the packet of refusals, else in the answer itself, else not at all.
    fn refusal(&self, to: &Came, why: &str) -> Option<(u16, Vec<u8>)> {
        let said = |shape: &Shape, payload: &mut Vec<u8>| Self::text(payload, shape, "why", why.as_bytes());
        if let Some(shape) = &self.sheet.refusal {
            let mut payload = Self::payload(shape);
            self.put(&mut payload, shape, "asked", &[f64::from(to.id)], 1);
            said(shape, &mut payload);
            return Some((shape.id, payload));
        }
        let Of::Needs(needs) = self.asks(to)? else { return None };
        let shape = self.sheet.exchange(*needs.first()?)?.answer.as_ref()?;
        shape.fields.get("refused")?;
        let mut payload = Self::payload(shape);
        self.put(&mut payload, shape, "refused", &[1.0], 1);
        said(shape, &mut payload);
        Some((shape.id, payload))
    }
}

/// A measure of a craft, or a whole number of its field's.
#[expect(clippy::cast_possible_truncation, reason = "as above")]
fn number(kind: FieldType, value: f64) -> Number {
    if kind == FieldType::F32 { Number::Real(value) } else { Number::Whole(value.round() as i64) }
}

impl PacketSpeech for Played {
    fn copy(&self) -> Box<dyn PacketSpeech> {
        Box::new(self.clone())
    }

    fn clear(&mut self) {
        self.splitter.clear();
        self.came.clear();
    }

    fn hear(&mut self, bytes: &[u8]) {
        let mut found = Vec::new();
        self.splitter.feed(bytes, &mut found);
        self.came.extend(found.into_iter().filter_map(|found| match found {
            Found::Packet(Packet { id, sequence, payload }, _) => Some(Came { id, number: sequence, payload }),
            Found::Fault(_) | Found::Skipped(_) => None,
        }));
    }

    fn next(&mut self) -> Option<Came> {
        self.came.pop_front()
    }

    fn asked(&self, came: &Came, _settings: &[Definition]) -> Result<PacketQuestion, &'static str> {
        let order = self.framing.order;
        let needs = match self.asks(came).ok_or("unknown packet")? {
            Of::Needs(needs) => needs,
            Of::Read(packet) => {
                return Ok(PacketQuestion::Read(
                    packet.fields.iter().map(|(name, _)| name.as_str().to_owned()).collect(),
                ));
            }
            Of::Write(packet) if packet.answer.fits(&came.payload) => {
                let values = packet.fields.iter().filter_map(|(name, field)| {
                    Some((name.as_str().to_owned(), field.number(&came.payload, order, 0)?.real()))
                });
                return Ok(PacketQuestion::Write(values.collect()));
            }
            Of::Write(_) => return Err("wrong length"),
        };
        let signals: Vec<Signal> = needs.iter().filter_map(|need| signal(*need)).collect();
        if !signals.is_empty() {
            return Ok(PacketQuestion::Signals(signals));
        }
        match needs.first() {
            Some(Capability::Identity) => Ok(PacketQuestion::Identity),
            Some(Capability::Store) => Ok(PacketQuestion::Store),
            Some(Capability::Restart) => Ok(PacketQuestion::Restart),
            Some(Capability::Stop) => Ok(PacketQuestion::Stop),
            Some(Capability::RunMotor) => {
                let put = self.sheet.exchange(Capability::RunMotor).map(|exchange| &exchange.put);
                let measure = |word: &str| put?.get(word)?.measured(&came.payload, order, 0);
                let motor = measure("motor").and_then(|motor| motor.round().to_string().parse::<usize>().ok());
                #[expect(clippy::cast_possible_truncation, reason = "judged by the board")]
                let number = |word: &str| measure(word).unwrap_or(0.0) as f32;
                // In us.
                let seconds = number("ms") / 1e6;
                Ok(PacketQuestion::Run {
                    motor: motor.and_then(|motor| motor.checked_sub(1)),
                    pulse: number("pulse"),
                    seconds,
                })
            }
            _ => Err("unknown packet"),
        }
    }

    fn answer(&self, to: &Came, told: &PacketAnswer) -> Option<(u16, Vec<u8>)> {
        if let PacketAnswer::No(why) = told {
            return self.refusal(to, why);
        }
        match (self.asks(to)?, told) {
            (Of::Read(packet), PacketAnswer::Settings(held)) => Some((packet.answer.id, self.settings(packet, held))),
            (Of::Write(packet), PacketAnswer::Done) => packet.written.as_ref().map(|shape| (shape.id, Vec::new())),
            (Of::Needs(_), PacketAnswer::Signals(readings)) => self.signals(readings),
            (Of::Needs(needs), told) => {
                let shape = self.sheet.exchange(*needs.first()?)?.answer.as_ref()?;
                let payload = match told {
                    PacketAnswer::Identity { id, firmware, kind } => self.identity(shape, *id, *firmware, kind),
                    _ => Self::payload(shape),
                };
                Some((shape.id, payload))
            }
            _ => None,
        }
    }

    fn unasked(&self) -> Vec<Signal> {
        self.told_unasked().map(|(signal, _)| signal).collect()
    }

    fn beside(&self, signal: Signal) -> Vec<Signal> {
        let packet = |shape: &Shape| (shape.id, shape.begins.clone());
        let its = self.told_unasked().find_map(|(other, shape)| (other == signal).then(|| packet(shape)));
        let same = self.told_unasked().filter(|(_, shape)| Some(packet(shape)) == its);
        same.map(|(other, _)| other).collect()
    }

    fn by_itself(&self, readings: &[SignalReading]) -> Option<(u16, Vec<u8>)> {
        self.signals(readings)
    }

    fn banner(&self, _name: &str) -> Option<(u16, Vec<u8>)> {
        self.sheet.banner.as_ref().map(|shape| (shape.id, Self::payload(shape)))
    }

    fn note(&self, text: &str) -> Option<(u16, Vec<u8>)> {
        let shape = self.sheet.note.as_ref()?;
        let mut payload = Self::payload(shape);
        let room = self.framing.most.saturating_sub(payload.len());
        Self::text(&mut payload, shape, "text", &text.as_bytes()[..text.len().min(room)]);
        Some((shape.id, payload))
    }

    fn made(&self, id: u16, number: u16, payload: &[u8]) -> Vec<u8> {
        self.framing.encode(&Packet { id, sequence: number, payload: payload.to_vec() })
    }

    fn endless(&self, id: u16) -> Vec<u8> {
        let whole = self.made(id, 0, &vec![0x55; self.framing.most]);
        match self.framing.way {
            Delimiting::Length { .. } => whole[..whole.len() / 2].to_vec(),
            Delimiting::Cobs | Delimiting::Slip => [&whole[..whole.len() - 1], &[0x55; 64]].concat(),
        }
    }

    fn other(&self) -> u16 {
        let answers = self.sheet.exchanges.values().filter_map(|exchange| exchange.answer.as_ref());
        answers.map(|shape| shape.id).next().unwrap_or_default()
    }
}

//! How a board that speaks in packets is understood, and what its words are as bytes.
//!
//! The Finch P and the Finch Q speak by hand (see `by_hand`), any other as somebody describes it. Must not be here: what is
//! done of what was asked.

use super::super::radio::CHANNELS;
use super::super::settings::{Definition, SettingType};
use std::fmt::Debug;
use std::panic::{RefUnwindSafe, UnwindSafe};
use std::sync::Arc;

/// A packet that came in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Came {
    /// What it is.
    pub id: u16,
    /// The number of the question, which its answer repeats; 0 where there is none.
    pub number: u16,
    /// What it says.
    pub payload: Vec<u8>,
}

/// What is told all along.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names are the trade's")]
pub enum Signal {
    Armed,
    Channels,
    Outputs,
    Attitude,
    Power,
    Speeds,
}

/// What a packet asks for.
#[derive(Debug, Clone, PartialEq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum PacketQuestion {
    Identity,
    Store,
    Restart,
    Stop,
    /// One answer tells all of these.
    Signals(Vec<Signal>),
    /// Motor from 0, µs, seconds.
    Run {
        motor: Option<usize>,
        pulse: f32,
        seconds: f32,
    },
    /// Settings by their names.
    Read(Vec<String>),
    Write(Vec<(String, f64)>),
}

/// One signal as the board has it.
#[derive(Debug, Clone, PartialEq)]
#[expect(missing_docs, reason = "the names are the trade's")]
pub enum SignalReading {
    /// And whether a radio is heard.
    Armed {
        armed: bool,
        radio: bool,
    },
    /// µs; `None`: no radio is heard.
    Channels(Option<[u16; CHANNELS]>),
    /// µs, by motor.
    Outputs(Vec<u16>),
    /// Roll, pitch and yaw, degrees.
    Attitude([f64; 3]),
    Power {
        volts: f64,
        amperes: f64,
    },
    /// Rpm, by motor.
    Speeds(Vec<i32>),
}

/// What the board answers.
#[derive(Debug, Clone, PartialEq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum PacketAnswer {
    Done,
    Identity {
        id: u64,
        firmware: [u8; 3],
        kind: String,
    },
    Signals(Vec<SignalReading>),
    /// In the order in which they were asked for.
    Settings(Vec<(String, SettingType, f64)>),
    /// Why not.
    No(String),
}

/// The board's end of its wire.
pub trait PacketSpeech: Debug + Send + Sync + UnwindSafe + RefUnwindSafe {
    /// Another one that goes on from where this one stands.
    fn copy(&self) -> Box<dyn PacketSpeech>;
    /// Forgets what was half received.
    fn clear(&mut self);
    /// Takes bytes that came in.
    fn hear(&mut self, bytes: &[u8]);
    /// The next packet, if one is complete.
    fn next(&mut self) -> Option<Came>;
    /// What a packet asks for.
    ///
    /// # Errors
    /// Why the board does not know it.
    fn asked(&self, came: &Came, settings: &[Definition]) -> Result<PacketQuestion, &'static str>;
    /// Id and payload of an answer; `None`: the board says nothing.
    fn answer(&self, to: &Came, told: &PacketAnswer) -> Option<(u16, Vec<u8>)>;
    /// What the board tells by itself, all along.
    fn unasked(&self) -> Vec<Signal> {
        Vec::new()
    }
    /// A signal that it tells by itself, and those that stand in the same packet.
    fn beside(&self, signal: Signal) -> Vec<Signal> {
        vec![signal]
    }
    /// Id and payload of a packet that tells these.
    fn by_itself(&self, _readings: &[SignalReading]) -> Option<(u16, Vec<u8>)> {
        None
    }
    /// Id and payload of what is said at the start.
    fn banner(&self, name: &str) -> Option<(u16, Vec<u8>)>;
    /// Id and payload of a text that nobody asked for.
    fn note(&self, text: &str) -> Option<(u16, Vec<u8>)>;
    /// The bytes of a packet.
    fn made(&self, id: u16, number: u16, payload: &[u8]) -> Vec<u8>;
    /// Bytes that begin as a packet does and come to no end.
    fn endless(&self, id: u16) -> Vec<u8>;
    /// The id of an answer to another question than one about settings.
    fn other(&self) -> u16;
}

impl Clone for Box<dyn PacketSpeech> {
    fn clone(&self) -> Self {
        self.copy()
    }
}

/// How a make speaks.
#[derive(Debug, Clone)]
pub struct Speech(Arc<dyn PacketSpeech>);

impl Speech {
    /// Of this speech, before anything was said.
    #[must_use]
    pub fn new(speech: impl PacketSpeech + 'static) -> Self {
        Self(Arc::new(speech))
    }

    /// At the beginning.
    #[must_use]
    pub fn begin(&self) -> Box<dyn PacketSpeech> {
        self.0.copy()
    }
}

/// One speech is another's equal where it is the same.
impl PartialEq for Speech {
    fn eq(&self, other: &Self) -> bool {
        Arc::ptr_eq(&self.0, &other.0)
    }
}

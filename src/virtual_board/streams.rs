//! Which messages the board sends by itself, how often, and when each is due.

use super::packets::Signal;
use super::wire::Wire;
use crate::measure::time::Time;
use mavlink::MessageData;
use mavlink::dialects::common::{
    ATTITUDE_DATA, BATTERY_STATUS_DATA, ESC_INFO_DATA, ESC_STATUS_DATA, HEARTBEAT_DATA, RC_CHANNELS_DATA,
    SERVO_OUTPUT_RAW_DATA, SYS_STATUS_DATA,
};
use std::time::Duration;

/// Messages that can be sent by themselves.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Telemetry {
    Heartbeat,
    Status,
    Channels,
    Outputs,
    Attitude,
    Battery,
    Speeds,
    ControllerInfo,
}

impl Telemetry {
    /// What of it goes in packets.
    pub fn signal(self) -> Option<Signal> {
        Some(match self {
            Self::Heartbeat => Signal::Armed,
            Self::Channels => Signal::Channels,
            Self::Outputs => Signal::Outputs,
            Self::Attitude => Signal::Attitude,
            Self::Battery => Signal::Power,
            Self::Speeds => Signal::Speeds,
            Self::Status | Self::ControllerInfo => return None,
        })
    }
}

/// Between two packets that nobody asks for, of one kind, µs: they can't be had more often (chosen).
const BY_ITSELF: u64 = 50_000;
const KINDS: usize = 8;

#[derive(Clone)]
struct Stream {
    telemetry: Telemetry,
    id: u32,
    /// Interval from the start on, µs.
    usual: u64,
    /// Shortest that is taken, µs.
    least: u64,
    /// Present interval, µs; 0: not sent.
    interval: u64,
    next: Time,
}

impl Stream {
    /// Its next turn: all count theirs from one beginning, so that what falls due together leaves together, as from
    /// the loop of a board.
    fn turn_after(&self, now: Time) -> Time {
        match now.0.checked_div(self.interval) {
            Some(turns) => Time((turns + 1) * self.interval),
            None => Time::NEVER,
        }
    }
}

/// What may be told later than it is dated.
#[derive(Clone)]
pub enum Dated {
    Heartbeat(HEARTBEAT_DATA),
    Channels(RC_CHANNELS_DATA),
    Outputs(SERVO_OUTPUT_RAW_DATA),
}

/// Messages that are told later than they are dated, in the order of their moments.
#[derive(Clone, Default)]
pub struct Late(Vec<(Time, Dated)>);

impl Late {
    /// Has a message told at a moment.
    pub fn tell(&mut self, at: Time, message: Dated) {
        let place = self.0.partition_point(|(other, _)| *other <= at);
        self.0.insert(place, (at, message));
    }

    /// When the next is due.
    pub fn wake(&self) -> Time {
        self.0.first().map_or(Time::NEVER, |(at, _)| *at)
    }

    /// Sends what is due.
    pub fn send(&mut self, now: Time, wire: &mut Wire) {
        let due = self.0.partition_point(|(at, _)| *at <= now);
        for (_, message) in self.0.drain(..due) {
            match message {
                Dated::Heartbeat(data) => wire.send(&data),
                Dated::Channels(data) => wire.send(&data),
                Dated::Outputs(data) => wire.send(&data),
            }
        }
    }
}

/// All streams of one board.
#[derive(Clone)]
pub struct Streams {
    all: [Stream; KINDS],
    /// The earliest turn of any.
    wake: Time,
}

impl Streams {
    /// `quiet`: all but the sign of life are off until they are asked for.
    pub fn new(quiet: bool, flag_every: Duration, speeds_every: Duration) -> Self {
        let stream = |telemetry, id, usual, least| {
            let usual = if quiet && telemetry != Telemetry::Heartbeat { 0 } else { usual };
            Stream { telemetry, id, usual, least, interval: usual, next: Time::NEVER }
        };
        let all = [
            stream(Telemetry::Heartbeat, HEARTBEAT_DATA::ID, 1_000_000, 50_000),
            stream(Telemetry::Status, SYS_STATUS_DATA::ID, 500_000, 10_000),
            stream(Telemetry::Channels, RC_CHANNELS_DATA::ID, 200_000, 10_000),
            stream(Telemetry::Outputs, SERVO_OUTPUT_RAW_DATA::ID, 200_000, 10_000),
            stream(Telemetry::Attitude, ATTITUDE_DATA::ID, 200_000, 10_000),
            stream(Telemetry::Battery, BATTERY_STATUS_DATA::ID, 1_000_000, 10_000),
            stream(Telemetry::Speeds, ESC_STATUS_DATA::ID, 200_000, 10_000),
            stream(Telemetry::ControllerInfo, ESC_INFO_DATA::ID, 1_000_000, 10_000),
        ];
        let mut streams = Self { all, wake: Time::NEVER };
        streams.no_shorter(Telemetry::Speeds, speeds_every);
        streams.flag_every(flag_every);
        streams
    }

    /// Of a board that speaks in packets: these go by themselves, and nothing else.
    pub fn only(&mut self, signals: &[Signal]) {
        for stream in &mut self.all {
            let goes = stream.telemetry.signal().is_some_and(|signal| signals.contains(&signal));
            stream.usual = if goes { BY_ITSELF.max(stream.least) } else { 0 };
        }
    }

    /// The shortest interval at which the sign of life, which carries the armed flag, is told from now on.
    pub fn flag_every(&mut self, least: Duration) {
        self.no_shorter(Telemetry::Heartbeat, least);
    }

    fn no_shorter(&mut self, telemetry: Telemetry, least: Duration) {
        let least = u64::try_from(least.as_micros()).unwrap_or(u64::MAX);
        for stream in self.all.iter_mut().filter(|stream| stream.telemetry == telemetry) {
            stream.least = least;
            // What is off stays off.
            for interval in [&mut stream.usual, &mut stream.interval].into_iter().filter(|interval| **interval > 0) {
                *interval = (*interval).max(least);
            }
        }
    }

    /// The board starts: everything as usual, the first heartbeat at once.
    pub fn start(&mut self, now: Time) {
        let mut first = now;
        for stream in &mut self.all {
            stream.interval = stream.usual;
            stream.next = if stream.interval == 0 { Time::NEVER } else { first };
            first = first + Duration::from_millis(7);
        }
        self.note_wake();
    }

    pub fn stop(&mut self) {
        for stream in &mut self.all {
            stream.next = Time::NEVER;
        }
        self.note_wake();
    }

    pub fn wake(&self) -> Time {
        self.wake
    }

    fn note_wake(&mut self) {
        self.wake = self.all.iter().map(|stream| stream.next).min().unwrap_or(Time::NEVER);
    }

    /// The messages that are due.
    pub fn due(&mut self, now: Time) -> [Option<Telemetry>; KINDS] {
        if now < self.wake {
            return [None; KINDS];
        }
        let due = self.all.each_mut().map(|stream| {
            let due = stream.next <= now;
            if due {
                stream.next = stream.next + Duration::from_micros(stream.interval);
            }
            due.then_some(stream.telemetry)
        });
        self.note_wake();
        due
    }

    /// The message with an id, if it is one that is sent by itself.
    pub fn find(&self, id: u32) -> Option<Telemetry> {
        self.all.iter().find(|stream| stream.id == id).map(|stream| stream.telemetry)
    }

    /// Sets an interval in µs as the standard's command 511 gives it: 0 as usual, negative off.
    /// Shorter ones than the board can give come to its shortest. Whether there is such a stream.
    pub fn set(&mut self, id: u32, interval: i64, now: Time) -> bool {
        let Some(stream) = self.all.iter_mut().find(|stream| stream.id == id) else { return false };
        stream.interval = match u64::try_from(interval) {
            Ok(0) => stream.usual,
            Ok(interval) => interval.max(stream.least),
            Err(_) => 0,
        };
        stream.next = stream.turn_after(now);
        self.note_wake();
        true
    }

    /// Present interval in µs: −1 off, 0 no such message.
    pub fn interval(&self, id: u32) -> i32 {
        match self.all.iter().find(|stream| stream.id == id) {
            None => 0,
            Some(stream) if stream.interval == 0 => -1,
            Some(stream) => i32::try_from(stream.interval).unwrap_or(i32::MAX),
        }
    }
}

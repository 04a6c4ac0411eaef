//! The MAVLink link: a codec of the open standard, dialect `common`, versions 1 and 2 in, version 2 out.
//!
//! Version 1 leaves only to a board that was heard in nothing else and does not say that it can more; never under a
//! key (developer guide, `guide/mavlink_version`). Bytes heard become signals, requests become bytes. Binds to one board and speaks to no other, never to all. Every
//! frame leaves through the [`gate`]. Knows no port, no clock, no operator, and judges no signal.

pub mod commands;
mod decode_frame;
pub mod encoding;
mod fields;
mod framing;
pub mod gaps;
pub mod gate;
mod identity;
pub mod late;
pub mod listing;
mod make;
pub mod param_type;
pub mod refusal;
mod round_trip;
mod route;
pub mod settings;
pub mod signing;
mod speakers;
mod streams;
pub mod text;
mod traffic;

pub use framing::{Frame, HALF_FRAME_WAIT, decode, frames};
pub use gate::{FrameClass, classify};
pub use traffic::{Loss, TELL_EVERY};

use super::motor_run::BoundedRun;
use super::signals::{Done, Identity, Link, LinkEvent, Outgoing, Request, Stream, Ticket};
use super::value::{Number, SettingName};
use crate::board::refusal::Common;
use crate::measure::time::Time;
use commands::{Command, Commands, End, Purpose};
use framing::Deframer;
use gate::Gate;
use listing::Listing;
use make::Target;
use mavlink::dialects::common::MavCmd;
use refusal::Refusal;
use settings::Settings;
use signing::{Key, Signing, Untrusted};
use std::collections::BTreeSet;
use streams::Streams;

/// Our system: the standard's number for ground stations.
pub const OWN_SYSTEM: u8 = 255;
/// Our component: `MAV_COMP_ID_USER1`, the first of the standard's user range (minimal.xml).
pub const OWN_COMPONENT: u8 = 25;

/// The link. One per wire.
#[derive(Debug, Default)]
pub struct MavlinkLink {
    /// Vehicle that the user chose.
    chosen: Option<u8>,
    bound: Option<Target>,
    deframer: Deframer,
    gate: Gate,
    traffic: traffic::Traffic,
    /// Of the bound board.
    speakers: speakers::Speakers,
    hearing: decode_frame::Hearing,
    text: text::Text,
    identity: Option<Identity>,
    proof: encoding::Proof,
    settings: Settings,
    listing: Option<Listing>,
    commands: Commands,
    streams: Streams,
    /// Settings of types that need 64 bits.
    wide: BTreeSet<SettingName>,
    version: route::Version,
    others: route::Others,
    /// Bytes of a hold without a key, with all that they are made of: whom they stop, and the version of the frames.
    held: Option<((Target, bool), Vec<u8>)>,
    ended: Vec<(Ticket, Done)>,
}

impl MavlinkLink {
    /// A link that binds to `vehicle`, or to the first that is heard.
    #[must_use]
    pub fn new(vehicle: Option<u8>) -> Self {
        Self { chosen: vehicle, ..Self::default() }
    }

    /// The same under a key: every frame is signed, and nothing else is taken. `began` is the timestamp of moment 0,
    /// see [`signing::timestamp`].
    #[must_use]
    pub fn signed(vehicle: Option<u8>, key: Key, began: u64) -> Self {
        let mut link = Self::new(vehicle);
        link.gate.signing = Some(Signing::new(key, began));
        link
    }

    /// Frames that were not taken under a key, by reason.
    #[must_use]
    pub fn untrusted(&self) -> Untrusted {
        self.gate.signing.as_ref().map_or_else(Untrusted::default, Signing::untrusted)
    }

    /// System and component of the bound board.
    #[must_use]
    pub fn bound(&self) -> Option<(u8, u8)> {
        self.bound.map(|to| (to.system, to.component))
    }

    /// Frames heard and lost of one system and component, since the link was made.
    #[must_use]
    pub fn loss(&self, system: u8, component: u8) -> Loss {
        self.traffic.loss((system, component))
    }

    fn command(&mut self, now: Time, ticket: Ticket, to: Target, command: Command, out: &mut Vec<u8>) {
        self.commands.ask(now, command, Purpose::Plain(ticket), &mut self.gate, to, out);
    }

    /// Sends a request to the bound board.
    fn request(
        &mut self,
        now: Time,
        ticket: Ticket,
        to: Target,
        request: Request,
        out: &mut Vec<u8>,
    ) -> Result<(), Refusal> {
        match request {
            Request::Heartbeat => self.heartbeat(ticket, out),
            Request::Identify => {
                let ask = Command::request(identity::AUTOPILOT_VERSION, 0);
                self.commands.ask(now, ask, Purpose::Identity(ticket), &mut self.gate, to, out);
            }
            Request::ListSettings => {
                if self.listing.is_some() {
                    return Err(Common::ListBusy.into());
                }
                self.listing = Some(Listing::begin(now, ticket, &mut self.gate, to, out));
            }
            Request::ReadSetting(name) => {
                self.settings.read(ticket, name);
                self.settings.work(now, &self.proof.proved(), &mut self.gate, to, out);
            }
            Request::WriteSetting(name, value) => self.write(now, ticket, to, (name, value), false, out)?,
            Request::WriteUnordered(name, value) => self.write(now, ticket, to, (name, value), true, out)?,
            Request::Store => self.command(now, ticket, to, Command::store(), out),
            Request::Restart => self.command(now, ticket, to, Command::restart(), out),
            Request::ArmedFlag => {
                self.command(now, ticket, to, Command::request_once(streams::message(Stream::Alive)), out);
            }
            Request::Stream(stream, hertz) => match self.streams.request(ticket, stream, hertz)? {
                Some((ask, purpose)) => self.commands.ask(now, ask, purpose, &mut self.gate, to, out),
                None => self.ended.push((ticket, Done::Ok)),
            },
            Request::Disarm { force } => self.command(now, ticket, to, Command::disarm(force), out),
            Request::RunMotor { motor, pulse, lease_ms } => {
                let run = Command::motor(BoundedRun::new(motor, pulse, lease_ms).map_err(Common::from)?);
                self.command(now, ticket, to, run, out);
            }
        }
        Ok(())
    }

    fn write(
        &mut self,
        now: Time,
        ticket: Ticket,
        to: Target,
        write: (SettingName, Number),
        free: bool,
        out: &mut Vec<u8>,
    ) -> Result<(), Refusal> {
        self.narrow(&write.0)?;
        let proved = self.proof.proved();
        self.settings.write(ticket, write, free, proved.clone());
        self.settings.work(now, &proved, &mut self.gate, to, out);
        Ok(())
    }

    fn heartbeat(&mut self, ticket: Ticket, out: &mut Vec<u8>) {
        let done =
            if self.gate.pass(&make::heartbeat(), out) { Done::Ok } else { Done::Refused(Refusal::Gate.to_string()) };
        self.ended.push((ticket, done));
    }

    /// Takes what commands have ended with to where it belongs.
    fn settle(&mut self, now: Time, to: Target, out: &mut Vec<u8>) {
        for (purpose, end) in self.commands.ended() {
            match purpose {
                Purpose::Plain(ticket) | Purpose::Identity(ticket) => {
                    if matches!(purpose, Purpose::Identity(_)) && end != End::Accepted && self.identity.is_none() {
                        self.proof.never_said();
                    }
                    let done = match end {
                        End::Accepted => Done::Ok,
                        End::Refused(refusal) => Done::Refused(refusal.to_string()),
                        End::Silent => Done::Silent,
                    };
                    self.ended.push((ticket, done));
                }
                Purpose::Interval { ticket, message, then, way } => {
                    let (ask, purpose) = self.streams.asked((ticket, message, then), way, &end);
                    self.commands.ask(now, ask, purpose, &mut self.gate, to, out);
                }
            }
        }
        self.ended.append(&mut self.settings.ended());
    }

    fn tell(&mut self, heard: &mut Vec<LinkEvent>) {
        heard.extend(self.ended.drain(..).map(|(ticket, result)| LinkEvent::Done { ticket, result }));
    }

    /// `held`: on this link number of its own, for bytes that leave later or never.
    fn stop_frames(&mut self, force: bool, held: Option<u8>) -> Option<Vec<u8>> {
        Some(stop_frames(&mut self.gate, self.bound?, force, held))
    }

    /// Refuses a setting whose type no message of this link carries.
    fn narrow(&self, name: &SettingName) -> Result<(), Refusal> {
        if self.wide.contains(name) { Err(Refusal::TooWide(name.clone())) } else { Ok(()) }
    }
}

/// The bytes of a stop out of a gate. `held`: see [`MavlinkLink::stop_frames`].
fn stop_frames(gate: &mut Gate, to: Target, force: bool, held: Option<u8>) -> Vec<u8> {
    let mut out = Vec::with_capacity(128);
    for force in [false, force] {
        let stop = Command::disarm(force);
        let message = make::command(to, stop.id, stop.params, 0);
        // The gate knows both as stops; were it ever not so, the other bytes still leave.
        let _ = gate.pass_on(held.unwrap_or(signing::LINK), &message, &mut out);
    }
    out
}

impl Link for MavlinkLink {
    fn receive(&mut self, now: Time, bytes: &[u8], heard: &mut Vec<LinkEvent>) {
        self.gate.at(now);
        let mut deframer = std::mem::take(&mut self.deframer);
        deframer.feed(now, bytes, |piece| self.piece(now, piece, heard));
        self.deframer = deframer;
        self.ended.append(&mut self.settings.ended());
        // A reading that is whole ends at once, not with the next work.
        if let Some(end) = self.listing.as_mut().and_then(Listing::ended) {
            self.listing = None;
            self.ended.push(end);
        }
        self.tell(heard);
    }

    fn send(&mut self, now: Time, ticket: Ticket, request: Request, out: &mut Vec<u8>) {
        self.gate.at(now);
        let sent = match (self.bound, request) {
            (Some(to), request) => self.request(now, ticket, to, request, out),
            (None, Request::Heartbeat) => {
                self.heartbeat(ticket, out);
                Ok(())
            }
            (None, _) => Err(Refusal::NoBoard),
        };
        if let Err(refusal) = sent {
            self.ended.push((ticket, Done::Refused(refusal.to_string())));
        }
    }

    fn wake(&self) -> Time {
        if !self.ended.is_empty() {
            return Time(0);
        }
        let listing = self.listing.as_ref().map_or(Time::NEVER, Listing::wake);
        self.commands.wake().min(self.settings.wake()).min(listing).min(self.text.wake())
    }

    fn work(&mut self, now: Time, out: &mut Vec<u8>, heard: &mut Vec<LinkEvent>) {
        self.gate.at(now);
        self.text.work(now, heard);
        if let Some(to) = self.bound {
            self.commands.work(now, &mut self.gate, to, out);
            self.settings.work(now, &self.proof.proved(), &mut self.gate, to, out);
            if let Some(end) = self.listing.as_mut().and_then(|l| l.work(now, &mut self.gate, to, out)) {
                self.listing = None;
                self.ended.push(end);
            }
            self.settle(now, to, out);
        }
        self.tell(heard);
    }

    /// Two frames: a disarm, and another or, if forced, the forced one. Nothing that could start a motor is in them.
    /// What was about to write, store, restart or turn a motor is given up.
    fn stop_bytes(&mut self, force: bool) -> Option<Vec<u8>> {
        self.bound?;
        self.commands.overtake();
        self.settings.overtake();
        self.stop_frames(force, None)
    }

    fn preview(&self, request: &Request) -> Result<Vec<u8>, String> {
        let Some(to) = self.bound else { return Err(Refusal::NoBoard.to_string()) };
        let command = |command: Command| make::command(to, command.id, command.params, 0);
        let message = match request {
            Request::WriteSetting(name, value) | Request::WriteUnordered(name, value) => {
                self.narrow(name).map_err(|refusal| refusal.to_string())?;
                let (kind, raw) =
                    self.settings.bits(name, *value, self.proof.proved()).map_err(|refusal| refusal.to_string())?;
                make::write(to, name, kind, raw)
            }
            Request::Store => command(Command::store()),
            Request::Restart => command(Command::restart()),
            _ => return Err("only what changes a board is shown beforehand".to_owned()),
        };
        let mut out = Vec::new();
        // A gate of its own: the numbers of the real one go on where they are, and a signature is of its moment.
        if self.gate.like().pass(&message, &mut out) { Ok(out) } else { Err("the outgoing gate refuses it".to_owned()) }
    }

    fn frames_made(&mut self, bytes: &[u8]) -> Vec<(Vec<u8>, Outgoing)> {
        frames(bytes).into_iter().map(|frame| (frame.to_vec(), gate::outgoing(frame, self.proof))).collect()
    }

    fn refuse(&mut self, frame: &Outgoing, why: &str) {
        let why = Refusal::from(Common::NotNow(why.to_owned()));
        match frame {
            Outgoing::Write { name, .. } => self.settings.refuse(name, &why),
            Outgoing::Store => self.commands.refuse(|id| id == MavCmd::MAV_CMD_PREFLIGHT_STORAGE, &why),
            Outgoing::Restart => self.commands.refuse(|id| id == MavCmd::MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN, &why),
            Outgoing::Motor { .. } => self.commands.refuse(|id| id == MavCmd::MAV_CMD_DO_MOTOR_TEST, &why),
            Outgoing::Arm | Outgoing::Disarm { .. } => {
                self.commands.refuse(|id| id == MavCmd::MAV_CMD_COMPONENT_ARM_DISARM, &why);
            }
            // Asking is never refused for good, and what is not known was never asked for.
            Outgoing::Heartbeat | Outgoing::Identify | Outgoing::Presence | Outgoing::Ask | Outgoing::Unknown => {}
        }
    }

    /// Without a key they are numbered by themselves, so that what never leaves leaves no gap, and are the same each time.
    fn held_stop_bytes(&mut self) -> Option<Vec<u8>> {
        if self.gate.signing.is_some() {
            return self.stop_frames(false, Some(signing::HELD_LINK));
        }
        let made_of = (self.bound?, self.gate.first_version());
        if self.held.as_ref().is_none_or(|(held, _)| *held != made_of) {
            self.held = Some((made_of, stop_frames(&mut self.gate.like(), made_of.0, false, None)));
        }
        self.held.as_ref().map(|(_, bytes)| bytes.clone())
    }

    fn guardian_stops(&mut self, count: usize) -> Option<Vec<Vec<u8>>> {
        let count = if self.gate.signing.is_some() { count } else { 1 };
        (0..count).map(|_| self.stop_frames(false, Some(signing::GUARDIAN_LINK))).collect()
    }

    fn reset(&mut self) {
        self.deframer.clear();
        self.traffic.line_gap();
        self.speakers = speakers::Speakers::default();
        self.hearing.gap();
        self.text.clear();
        self.settings.clear();
        self.listing = None;
        self.commands.clear();
        self.ended.clear();
    }

    fn frames(&self) -> Option<(u64, u64)> {
        let to = self.bound?;
        let Loss { heard, lost } = self.loss(to.system, to.component);
        Some((heard, lost))
    }

    fn encoding_proved(&self) -> bool {
        self.proof.proved().is_ok()
    }

    fn answered(&self) -> bool {
        self.bound.is_some()
    }
}

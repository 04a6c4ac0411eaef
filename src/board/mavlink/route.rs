//! Where each frame goes: binding, the bound board's messages, and everybody else's.
//!
//! Only an autopilot's heartbeat makes a vehicle. Signals are taken from the bound system and component alone. Under
//! a key, what is not signed with it goes nowhere.

use super::commands::Purpose;
use super::fields::Fields;
use super::framing::{Frame, Piece};
use super::listing::Item;
use super::make::Target;
use super::param_type::ParamType;
use super::refusal::{Refusal, SettingError};
use super::signing::{Seal, Untrusted};
use super::speakers::FrameNovelty;
use super::streams::MESSAGE_INTERVAL;
use super::traffic::{self, TELL_EVERY};
use super::{MavlinkLink, OWN_COMPONENT, OWN_SYSTEM, identity};
use crate::board::signals::LinkEvent;
use crate::board::value::NoValue;
use crate::measure::time::Time;
use std::collections::BTreeSet;

/// `MAV_AUTOPILOT_INVALID` (minimal.xml): no autopilot.
const NO_AUTOPILOT: u8 = 8;
/// `MAV_TYPE_GCS` (minimal.xml).
const GROUND_STATION: u8 = 6;
/// `MAV_MODE_FLAG_SAFETY_ARMED` (minimal.xml).
const ARMED: u8 = 128;

/// `COMMAND_ACK` (common.xml).
const COMMAND_ACK: u32 = 77;
/// `MAV_PROTOCOL_CAPABILITY_MAVLINK2` (standard.xml).
const SECOND_VERSION: u64 = 1 << 13;

/// Which version of frames a board takes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub(super) enum Version {
    /// Nothing shows that it takes the second.
    #[default]
    First,
    /// It sent a frame of it, or says that it takes it.
    Second,
}

/// Who else there is, and what was told of it.
#[derive(Debug, Default)]
pub(super) struct Others {
    rivals: BTreeSet<(u8, u8)>,
    signed_told: bool,
    untrusted_told: Option<Time>,
    two_told: Option<Time>,
}

impl MavlinkLink {
    pub(super) fn piece(&mut self, now: Time, piece: Piece, heard: &mut Vec<LinkEvent>) {
        match piece {
            Piece::Known(frame) => {
                if self.trusts(now, (frame.system, frame.component), frame.seal, heard) {
                    self.frame(now, &frame, heard);
                }
            }
            Piece::Foreign { system, component, sequence, seal } => {
                if self.trusts(now, (system, component), seal, heard) {
                    self.count(now, (system, component), sequence, heard);
                }
            }
        }
    }

    /// Whether a frame is taken; if not, it is told, once an interval.
    fn trusts(&mut self, now: Time, from: (u8, u8), seal: Option<Seal>, heard: &mut Vec<LinkEvent>) -> bool {
        let Some(signing) = &mut self.gate.signing else { return true };
        if signing.takes(now, from.0, from.1, seal) {
            return true;
        }
        if self.others.untrusted_told.is_none_or(|told| now.since(told) >= TELL_EVERY) {
            self.others.untrusted_told = Some(now);
            let Untrusted { unsigned, foreign, old } = signing.untrusted();
            heard.push(LinkEvent::Untrusted { unsigned, foreign, old });
        }
        false
    }

    /// Counts a frame, and tells a leap of the board's numbers; whether it leapt.
    fn count(&mut self, now: Time, sender: (u8, u8), sequence: u8, heard: &mut Vec<LinkEvent>) -> bool {
        let leapt = self.traffic.count(now, sender, sequence) && self.bound() == Some(sender);
        heard.extend(leapt.then_some(LinkEvent::Leapt));
        leapt
    }

    fn frame(&mut self, now: Time, frame: &Frame, heard: &mut Vec<LinkEvent>) {
        let sender = (frame.system, frame.component);
        let leapt = self.count(now, sender, frame.sequence, heard);
        let fields = Fields(frame.payload);
        if frame.id == 0 {
            self.bind(frame, fields, heard);
        }
        if self.bound() == Some(sender) {
            if frame.version == 2 {
                self.version = Version::Second;
            }
            self.gate.write_first_version(self.version == Version::First);
            if frame.signed() && self.gate.signing.is_none() && !std::mem::replace(&mut self.others.signed_told, true) {
                heard.push(LinkEvent::Signed);
            }
            let told = self.speakers.take(now, frame.sequence, frame.id, frame.payload);
            if told == FrameNovelty::Two && self.others.two_told.is_none_or(|told| now.since(told) >= TELL_EVERY) {
                self.others.two_told = Some(now);
                heard.push(LinkEvent::TwoSpeakers);
            }
            // A frame that comes twice proves nothing twice; and what leapt may be another's, so that it is as good as lost.
            if !leapt && told != FrameNovelty::Again {
                self.hear_bound_board(now, frame, fields, heard);
            }
            return;
        }
        let commands = traffic::commands(frame.id);
        let other = self.bound.is_some_and(|to| to.system != frame.system);
        if commands || other || frame.id == 0 && self.bound.is_none() {
            heard.extend(self.traffic.stranger(now, sender, commands));
        }
    }

    /// Binds to the sender of an autopilot's heartbeat, if there is none yet and the user chose no other. A second one
    /// is told where the user did not choose.
    fn bind(&mut self, frame: &Frame, fields: Fields, heard: &mut Vec<LinkEvent>) {
        let vehicle = fields.u8(5) != NO_AUTOPILOT && fields.u8(4) != GROUND_STATION;
        let addressable = frame.system != 0 && frame.system != OWN_SYSTEM && frame.component != 0;
        let wanted = self.chosen.is_none_or(|chosen| chosen == frame.system);
        if !(vehicle && addressable && wanted) {
            return;
        }
        let (system, component) = (frame.system, frame.component);
        let bound = *self.bound.get_or_insert(Target { system, component });
        let (sender, bound) = ((system, component), (bound.system, bound.component));
        if sender != bound && self.others.rivals.insert(sender) {
            heard.push(LinkEvent::Rival { sender, bound });
        }
    }

    fn hear_bound_board(&mut self, now: Time, frame: &Frame, fields: Fields, heard: &mut Vec<LinkEvent>) {
        let before = heard.len();
        match frame.id {
            0 => heard.push(LinkEvent::Alive { vehicle: frame.system, armed: fields.u8(6) & ARMED != 0 }),
            22 => self.setting(now, fields, heard),
            COMMAND_ACK if to_us(fields.u8(8), fields.u8(9)) => {
                heard.push(LinkEvent::Spoke);
                let percent = Some(fields.u8(3)).filter(|percent| *percent <= 100);
                let progress = self.commands.acknowledged(now, fields.u16(0), fields.u8(2));
                heard.extend(progress.map(|ticket| LinkEvent::Progress { ticket, percent }));
            }
            identity::AUTOPILOT_VERSION => self.identified(now, fields, heard),
            MESSAGE_INTERVAL => {
                let message = u32::from(fields.u16(4));
                let about = |p: Purpose| matches!(p, Purpose::Interval { message: m, .. } if m == message);
                if self.commands.pending(about) {
                    self.streams.remember(message, Some(fields.i32(0)));
                    self.commands.answered(now, about);
                }
            }
            253 => self.text.take(now, fields, heard),
            345 if to_us(fields.u8(2), fields.u8(3)) => self.setting_error(fields),
            id => heard.extend(self.hearing.signal(now, id, fields)),
        }
        // Whatever it is about, somebody speaks: after a silence that may be another.
        if heard.len() == before {
            heard.push(LinkEvent::Spoke);
        }
    }

    fn identified(&mut self, now: Time, fields: Fields, heard: &mut Vec<LinkEvent>) {
        let identity = identity::identity(fields);
        if self.identity.as_ref().is_some_and(|known| known.id != identity.id) {
            // Another board: nothing that was learned holds for it.
            self.proof = super::encoding::Proof::default();
            self.settings.forget();
            self.wide.clear();
        }
        let capabilities = identity::capabilities(fields);
        self.proof.capabilities(capabilities);
        if capabilities & SECOND_VERSION != 0 {
            self.version = Version::Second;
            self.gate.write_first_version(false);
        }
        self.identity = Some(identity.clone());
        heard.push(LinkEvent::Identity(identity));
        self.commands.answered(now, |purpose| matches!(purpose, Purpose::Identity(_)));
    }

    /// `PARAM_VALUE`.
    fn setting(&mut self, now: Time, fields: Fields, heard: &mut Vec<LinkEvent>) {
        let (raw, count, index) = (fields.u32(0), fields.u16(4), fields.u16(6));
        let name = fields.setting_name(8);
        let kind = ParamType::of(fields.u8(24));
        let wide = ParamType::is_wide(fields.u8(24));
        let mut told = false;
        if let (Some(name), Some(kind)) = (&name, kind) {
            self.proof.note(kind, raw);
            self.settings.learn(name, kind);
            if let Some(value) = self.proof.read(kind, raw) {
                told = true;
                heard.push(LinkEvent::Setting { name: name.clone(), value, index: (index < count).then_some(index) });
                self.settings.told(now, name, value);
            }
        }
        if let (Some(name), false) = (&name, told)
            && !kind.is_some_and(|kind| self.proof.open(kind))
        {
            heard.push(LinkEvent::NoValue { name: name.clone(), why: NoValue::NoNumber });
            let why = if wide { Refusal::TooWide(name.clone()) } else { Refusal::Unreadable(name.clone()) };
            if wide {
                self.wide.insert(name.clone());
            }
            self.settings.refused(name, &why);
        }
        if let Some(listing) = &mut self.listing {
            if name.is_none() && index < count {
                let shown = fields.bytes::<16>(8).escape_ascii().to_string();
                listing.end_with(&Refusal::BadName(shown.trim_end_matches("\\x00").to_owned()));
            }
            let value = name.as_ref().zip(kind).map(|(name, kind)| (name, kind, raw));
            listing.take(now, &Item { index, count, value, told }, self.proof, heard);
        }
    }

    /// `PARAM_ERROR`.
    fn setting_error(&mut self, fields: Fields) {
        let error = SettingError::of(fields.u8(20));
        let index = fields.i16(0);
        if index >= 0 {
            if let Some(listing) = &mut self.listing {
                listing.refused(index, &Refusal::List(error));
            }
        } else if let Some(name) = fields.setting_name(4) {
            self.settings.refused(&name, &Refusal::Setting { name: name.clone(), error });
        }
    }
}

/// Whether an answer is for us; 0 is for anyone.
fn to_us(system: u8, component: u8) -> bool {
    (system == 0 || system == OWN_SYSTEM) && (component == 0 || component == OWN_COMPONENT)
}

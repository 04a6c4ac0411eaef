//! The outgoing gate: every frame that leaves is classified here, and what is not known does not leave.
//!
//! Judges finished bytes, not intentions, so that a spy on the wire can judge by the same function. Never lets a
//! frame out to all systems or all components. Must not decide whether a class is allowed now: the bench does.

use super::encoding::Proof;
use super::fields::Fields;
use super::framing::{self, decode};
use super::param_type::ParamType;
use super::signing::{self, Signing};
use super::{OWN_COMPONENT, OWN_SYSTEM, identity};
use crate::board::motor_run;
use crate::board::signals::Outgoing;
use crate::measure::time::Time;
use mavlink::dialects::common::MavMessage;
use mavlink::{MavlinkVersion, Message};
use std::time::Duration;

/// `param2` of arm and disarm that means force (common.xml, `MAV_CMD_COMPONENT_ARM_DISARM`).
pub const FORCE: f32 = 21196.0;

/// The message that says who a board is, as the number that a request names it by.
#[expect(clippy::cast_precision_loss, reason = "message ids have 24 bits")]
const IDENTITY: f32 = identity::AUTOPILOT_VERSION as f32;

/// What a frame can do.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FrameClass {
    /// Our sign of life.
    Heartbeat,
    /// Asks, or changes how often the board tells.
    Looks,
    /// Changes a setting in memory.
    Writes,
    /// Stores settings.
    Stores,
    /// Restarts the board.
    Restarts,
    /// Arms, or runs a motor.
    Motor,
    /// Disarms.
    Stop,
}

/// The class of one whole frame; `None` for anything else, which must not leave.
#[must_use]
pub fn classify(frame: &[u8]) -> Option<FrameClass> {
    let frame = decode(frame)?;
    let fields = Fields(frame.payload);
    let addressed = |at: usize| fields.u8(at) != 0 && fields.u8(at + 1) != 0;
    match frame.id {
        // Type ground station, autopilot invalid, and no mode flag: armed least of all.
        0 => (fields.u8(4) == 6 && fields.u8(5) == 8 && fields.u8(6) == 0).then_some(FrameClass::Heartbeat),
        20 => addressed(2).then_some(FrameClass::Looks),
        21 => addressed(0).then_some(FrameClass::Looks),
        23 => addressed(4).then_some(FrameClass::Writes),
        76 if addressed(30) => command(fields),
        _ => None,
    }
}

#[expect(clippy::float_cmp, reason = "the numbers of a command are exact or they are other commands")]
fn command(fields: Fields) -> Option<FrameClass> {
    let mut p = [0.0; 7];
    for (i, p) in p.iter_mut().enumerate() {
        *p = fields.real(i * 4)?;
    }
    let rest_zero = |from: usize| p[from..].iter().all(|p| *p == 0.0);
    match fields.u16(28) {
        510 if rest_zero(1) => Some(FrameClass::Looks),
        511 | 512 if rest_zero(2) => Some(FrameClass::Looks),
        245 if p[0] == 1.0 && rest_zero(1) => Some(FrameClass::Stores),
        246 if p[0] == 1.0 && rest_zero(1) => Some(FrameClass::Restarts),
        400 if p[0] == 0.0 && (p[1] == 0.0 || p[1] == FORCE) && rest_zero(2) => Some(FrameClass::Stop),
        400 if p[0] == 1.0 && rest_zero(1) => Some(FrameClass::Motor),
        // One motor, a pulse width under the ceiling, and a limit that is a limit.
        209 if p[1] == 1.0 && motor_run::fits(p[0].into(), p[2].into(), p[3].into()) && p[4] == 1.0 && rest_zero(5) => {
            Some(FrameClass::Motor)
        }
        _ => None,
    }
}

/// What a finished frame does, told from its bytes alone. `proof` reads the value of a write.
pub(super) fn outgoing(frame: &[u8], proof: Proof) -> Outgoing {
    let (Some(class), Some(decoded)) = (classify(frame), decode(frame)) else { return Outgoing::Unknown };
    let fields = Fields(decoded.payload);
    let param = |at: usize| fields.real(at * 4).unwrap_or_default();
    match class {
        FrameClass::Heartbeat => Outgoing::Heartbeat,
        FrameClass::Looks if decoded.id == 76 && fields.u16(28) == 512 && param(0) == IDENTITY => Outgoing::Identify,
        FrameClass::Looks => Outgoing::Ask,
        FrameClass::Writes => {
            let Some(name) = fields.setting_name(6) else { return Outgoing::Unknown };
            let value = ParamType::of(fields.u8(22)).and_then(|kind| proof.read(kind, fields.u32(0)));
            Outgoing::Write { name, value }
        }
        FrameClass::Stores => Outgoing::Store,
        FrameClass::Restarts => Outgoing::Restart,
        FrameClass::Motor if fields.u16(28) == 400 => Outgoing::Arm,
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "bounded by the class")]
        FrameClass::Motor => Outgoing::Motor {
            motor: param(0) as u8,
            pulse: param(2) as u16,
            lease: Duration::from_millis((f64::from(param(3)) * 1000.0).round() as u64),
        },
        FrameClass::Stop => Outgoing::Disarm { force: param(1) == FORCE },
    }
}

/// The one way out, which numbers the frames and signs them.
#[derive(Debug, Default)]
pub(super) struct Gate {
    sequence: u8,
    /// Whether frames leave in version 1, for a board that speaks no other. Under a key they never do.
    first_version: bool,
    /// The present moment, as last said.
    now: Time,
    pub(super) signing: Option<Signing>,
}

impl Gate {
    /// A gate that writes like this one, with numbers of its own and nothing to sign with.
    pub(super) fn like(&self) -> Self {
        Self { first_version: self.first_version, ..Self::default() }
    }

    /// Says what time it is.
    pub(super) fn at(&mut self, now: Time) {
        self.now = self.now.max(now);
    }

    /// Chooses the version of the frames.
    pub(super) fn write_first_version(&mut self, first: bool) {
        self.first_version = first && self.signing.is_none();
    }

    /// Whether frames leave in version 1.
    pub(super) fn first_version(&self) -> bool {
        self.first_version
    }

    /// Makes a frame of a message and lets it out if its class is known; whether it was.
    #[must_use]
    pub(super) fn pass(&mut self, message: &MavMessage, out: &mut Vec<u8>) -> bool {
        self.pass_on(signing::LINK, message, out)
    }

    /// As [`Gate::pass`], on this link number.
    #[must_use]
    pub(super) fn pass_on(&mut self, link: u8, message: &MavMessage, out: &mut Vec<u8>) -> bool {
        let id = message.message_id();
        let Some(seed) = framing::seed(id) else { return false };
        let version = if self.first_version { MavlinkVersion::V1 } else { MavlinkVersion::V2 };
        let mut payload = [0; 255];
        let length = message.ser(version, &mut payload);
        let from = [self.sequence, OWN_SYSTEM, OWN_COMPONENT];
        let mut frame = framing::whole(version, from, (id, seed), &payload[..length]);
        if classify(&frame).is_none() {
            return false;
        }
        if let Some(signing) = &mut self.signing {
            signing.sign(self.now, link, seed, &mut frame);
        }
        self.sequence = self.sequence.wrapping_add(1);
        out.extend_from_slice(&frame);
        true
    }
}

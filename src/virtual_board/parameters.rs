//! The board's side of the MAVLink parameter protocol: list, read, set.
//!
//! A set is answered with the value that the board has afterwards, whether it took the new one or not; by a board that
//! tells errors, with the error where it did not take it.

use super::config::Encoding;
use super::numbers::{count_u16, to_f32, to_i32, to_u32};
use super::settings::{Refusal, SettingType};
use super::under_way::Owed;
use super::wire::Sender;
use super::world::World;
use crate::measure::time::Time;
use mavlink::dialects::common::{
    MavParamError, MavParamType, MavSeverity, PARAM_ERROR_DATA, PARAM_REQUEST_READ_DATA, PARAM_SET_DATA,
    PARAM_VALUE_DATA,
};
use mavlink::types::CharArray;
use std::time::Duration;

/// Time between two values of a list, where the wire has no rate of its own.
const PACE: Duration = Duration::from_micros(1500);

impl World {
    /// Sends the next value of a list that is on its way.
    pub(super) fn go_on_listing(&mut self, now: Time) {
        let Some(listing) = &mut self.listing else { return };
        let paced = self.wire.pace.is_paced();
        if paced {
            // What else is to be sent comes first.
            listing.at = listing.at.max(self.wire.pace.free());
        }
        if listing.at > now {
            return;
        }
        let index = listing.next;
        listing.next += 1;
        listing.at = if paced { now } else { now + PACE };
        if listing.next >= self.board.memory.len() {
            self.listing = None;
        }
        self.tell_setting(index);
        if let Some(listing) = self.listing.as_mut().filter(|_| paced) {
            listing.at = self.wire.pace.free();
        }
    }

    pub(super) fn read_setting(&mut self, from: Sender, request: &PARAM_REQUEST_READ_DATA) {
        let index = match usize::try_from(request.param_index) {
            Ok(index) => Some(index),
            Err(_) => request.param_id.to_str().ok().and_then(|name| self.board.memory.find(name)),
        };
        if let Some(index) = index.filter(|index| *index < self.board.memory.len()) {
            self.tell_setting(index);
        } else {
            let asked = (request.param_id, request.param_index);
            self.tell_error(from, asked, MavParamError::MAV_PARAM_ERROR_DOES_NOT_EXIST);
        }
    }

    /// Whether it was told: a board that tells no errors is silent.
    fn tell_error(&mut self, to: Sender, (param_id, param_index): (CharArray<16>, i16), error: MavParamError) -> bool {
        let tells = self.config.speech.errors;
        if tells {
            let (target_system, target_component) = (to.system, to.component);
            self.wire.send(&PARAM_ERROR_DATA { param_index, target_system, target_component, param_id, error });
        }
        tells
    }

    pub(super) fn set_setting(&mut self, now: Time, from: Sender, request: &PARAM_SET_DATA) {
        let asked = (request.param_id, -1);
        let Some(index) = request.param_id.to_str().ok().and_then(|name| self.board.memory.find(name)) else {
            self.tell_error(from, asked, MavParamError::MAV_PARAM_ERROR_DOES_NOT_EXIST);
            return;
        };
        let Some(definition) = self.board.memory.definition(index) else { return };
        let kind = definition.kind;
        let outcome = if request.param_type == wire_type(kind) {
            definition.take(decode(request.param_value, kind, self.config.encoding))
        } else {
            Err(Refusal::WrongKind(definition.name.clone()))
        };
        let refusal = match outcome {
            Ok(value) => {
                if self.does(now, self.config.conduct.writes, Owed::Write(index, value)) {
                    self.tell_value(index, value);
                }
                return;
            }
            Err(refusal) => refusal,
        };
        self.say(MavSeverity::MAV_SEVERITY_WARNING, &refusal.to_string());
        let error = match refusal {
            Refusal::WrongKind(_) => MavParamError::MAV_PARAM_ERROR_TYPE_MISMATCH,
            _ => MavParamError::MAV_PARAM_ERROR_VALUE_OUT_OF_RANGE,
        };
        if !self.tell_error(from, asked, error) {
            self.tell_setting(index);
        }
    }

    fn tell_setting(&mut self, index: usize) {
        if let Some((value, _)) = self.board.memory.at(index) {
            self.tell_value(index, value);
        }
    }

    fn tell_value(&mut self, index: usize, value: f64) {
        let memory = &self.board.memory;
        let Some(definition) = memory.definition(index) else { return };
        let data = PARAM_VALUE_DATA {
            param_value: encode(value, definition.kind, self.config.encoding),
            param_count: count_u16(memory.len()),
            param_index: count_u16(index),
            param_id: definition.name.as_str().into(),
            param_type: wire_type(definition.kind),
        };
        self.wire.send(&data);
    }
}

fn wire_type(kind: SettingType) -> MavParamType {
    match kind {
        SettingType::U8 => MavParamType::MAV_PARAM_TYPE_UINT8,
        SettingType::I8 => MavParamType::MAV_PARAM_TYPE_INT8,
        SettingType::U16 => MavParamType::MAV_PARAM_TYPE_UINT16,
        SettingType::I16 => MavParamType::MAV_PARAM_TYPE_INT16,
        SettingType::U32 => MavParamType::MAV_PARAM_TYPE_UINT32,
        SettingType::I32 => MavParamType::MAV_PARAM_TYPE_INT32,
        SettingType::Real => MavParamType::MAV_PARAM_TYPE_REAL32,
    }
}

/// A value as it travels in a parameter's float field.
fn encode(value: f64, kind: SettingType, encoding: Encoding) -> f32 {
    if kind == SettingType::Real || encoding == Encoding::Cast {
        return to_f32(value);
    }
    f32::from_bits(match kind {
        SettingType::U8 | SettingType::U16 | SettingType::U32 | SettingType::Real => to_u32(value),
        SettingType::I8 | SettingType::I16 | SettingType::I32 => to_i32(value).cast_unsigned(),
    })
}

/// A value out of a parameter's float field.
fn decode(field: f32, kind: SettingType, encoding: Encoding) -> f64 {
    if kind == SettingType::Real || encoding == Encoding::Cast {
        return f64::from(field);
    }
    let [b0, b1, b2, b3] = field.to_bits().to_le_bytes();
    match kind {
        SettingType::U8 => f64::from(b0),
        SettingType::I8 => f64::from(i8::from_le_bytes([b0])),
        SettingType::U16 => f64::from(u16::from_le_bytes([b0, b1])),
        SettingType::I16 => f64::from(i16::from_le_bytes([b0, b1])),
        SettingType::U32 | SettingType::Real => f64::from(u32::from_le_bytes([b0, b1, b2, b3])),
        SettingType::I32 => f64::from(i32::from_le_bytes([b0, b1, b2, b3])),
    }
}

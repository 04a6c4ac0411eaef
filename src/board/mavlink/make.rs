//! Messages that we send, each with every field written out.
//!
//! The message crate's defaults are traps (its default heartbeat is armed, its default command is a navigation
//! command), so nothing here is ever taken from a default.

use crate::board::value::SettingName;
use mavlink::dialects::common::{
    COMMAND_LONG_DATA, HEARTBEAT_DATA, MavAutopilot, MavCmd, MavMessage, MavModeFlag, MavParamType, MavState, MavType,
    PARAM_REQUEST_LIST_DATA, PARAM_REQUEST_READ_DATA, PARAM_SET_DATA,
};
use mavlink::types::CharArray;

use super::param_type::ParamType;

/// A vehicle's system and component; neither is 0.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Target {
    pub(super) system: u8,
    pub(super) component: u8,
}

/// A name in the 16 bytes of the wire: no closing NUL if it fills them.
fn name_bytes(name: &SettingName) -> CharArray<16> {
    CharArray::from(name.as_str())
}

/// Our sign of life: a ground station, no autopilot, no mode flag.
pub(super) fn heartbeat() -> MavMessage {
    MavMessage::HEARTBEAT(HEARTBEAT_DATA {
        custom_mode: 0,
        mavtype: MavType::MAV_TYPE_GCS,
        autopilot: MavAutopilot::MAV_AUTOPILOT_INVALID,
        base_mode: MavModeFlag::empty(),
        system_status: MavState::MAV_STATE_ACTIVE,
        mavlink_version: 3,
    })
}

/// Asks for all settings.
pub(super) fn list(target: Target) -> MavMessage {
    MavMessage::PARAM_REQUEST_LIST(PARAM_REQUEST_LIST_DATA {
        target_system: target.system,
        target_component: target.component,
    })
}

/// Asks for one setting by name.
pub(super) fn read(target: Target, name: &SettingName) -> MavMessage {
    MavMessage::PARAM_REQUEST_READ(PARAM_REQUEST_READ_DATA {
        param_index: -1,
        target_system: target.system,
        target_component: target.component,
        param_id: name_bytes(name),
    })
}

/// Asks for one setting by its place; places beyond 32767 can't be asked for.
pub(super) fn read_index(target: Target, index: u16) -> Option<MavMessage> {
    Some(MavMessage::PARAM_REQUEST_READ(PARAM_REQUEST_READ_DATA {
        param_index: i16::try_from(index).ok()?,
        target_system: target.system,
        target_component: target.component,
        param_id: CharArray::new([0; 16]),
    }))
}

/// Writes one setting; `raw` are the encoded 32 bits.
pub(super) fn write(target: Target, name: &SettingName, kind: ParamType, raw: u32) -> MavMessage {
    MavMessage::PARAM_SET(PARAM_SET_DATA {
        param_value: f32::from_bits(raw),
        target_system: target.system,
        target_component: target.component,
        param_id: name_bytes(name),
        param_type: match kind {
            ParamType::U8 => MavParamType::MAV_PARAM_TYPE_UINT8,
            ParamType::I8 => MavParamType::MAV_PARAM_TYPE_INT8,
            ParamType::U16 => MavParamType::MAV_PARAM_TYPE_UINT16,
            ParamType::I16 => MavParamType::MAV_PARAM_TYPE_INT16,
            ParamType::U32 => MavParamType::MAV_PARAM_TYPE_UINT32,
            ParamType::I32 => MavParamType::MAV_PARAM_TYPE_INT32,
            ParamType::Real => MavParamType::MAV_PARAM_TYPE_REAL32,
        },
    })
}

/// A command; `confirmation` counts its repeats.
pub(super) fn command(target: Target, command: MavCmd, numbers: [f32; 7], confirmation: u8) -> MavMessage {
    let [param1, param2, param3, param4, param5, param6, param7] = numbers;
    MavMessage::COMMAND_LONG(COMMAND_LONG_DATA {
        param1,
        param2,
        param3,
        param4,
        param5,
        param6,
        param7,
        command,
        target_system: target.system,
        target_component: target.component,
        confirmation,
    })
}

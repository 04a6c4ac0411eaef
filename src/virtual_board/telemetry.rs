//! What the board tells of itself: each message built from the state of a moment.
//!
//! Field meanings, units and "unknown" values are those of the MAVLink standard, `common.xml`.

use super::attitude::half_turn;
use super::battery::Pack;
use super::board::Board;
use super::conduct::GivenId;
use super::config::{Encoding, WorldConfig};
use super::frame::Frame;
use super::motor::Phase;
use super::numbers::{count_u8, low_u32, to_f32, to_i16, to_i32, to_u16};
use super::protocol_variants::Versions;
use super::rng::bell;
use super::streams::{Dated, Telemetry};
use super::world::World;
use crate::measure::time::Time;
use mavlink::dialects::common::{
    ATTITUDE_DATA, AUTOPILOT_VERSION_DATA, BATTERY_STATUS_DATA, ESC_INFO_DATA, ESC_STATUS_DATA, EscConnectionType,
    HEARTBEAT_DATA, MavAutopilot, MavBatteryFault, MavBatteryFunction, MavBatteryType, MavModeFlag,
    MavProtocolCapability, MavSeverity, MavState, MavSysStatusSensor, MavSysStatusSensorExtended, MavType,
    RC_CHANNELS_DATA, SERVO_OUTPUT_RAW_DATA, STATUSTEXT_DATA, SYS_STATUS_DATA,
};
use std::time::Duration;

/// An official release (`FIRMWARE_VERSION_TYPE_OFFICIAL`), in the last byte of a version.
const OFFICIAL: u8 = 255;
/// From the answer to a restart until the link goes (chosen).
pub const GOES_AFTER: Duration = Duration::from_millis(40);
/// A channel that is not there (`common.xml`, `RC_CHANNELS`).
const NO_CHANNEL: u16 = u16::MAX;
/// Bytes of text in one STATUSTEXT (`common.xml`).
const CHUNK: usize = 50;
/// Chances of the noise of speeds, of which 0.7 % is chosen for the virtual craft.
const SPEED_NOISE: u64 = 0x91;

impl World {
    /// Sends one message of a stream.
    pub(super) fn tell(&mut self, what: Telemetry, now: Time) {
        let Some(since) = self.board.up_since() else { return };
        if self.packets.is_some() {
            return what.signal().into_iter().for_each(|signal| self.packet_signal(now, signal));
        }
        let clock = self.board_clock(now, since);
        let clock_ms = low_u32(clock / 1000);
        match what {
            Telemetry::Heartbeat => {
                let data = Dated::Heartbeat(heartbeat(self.board.make.frame, self.board.armed()));
                self.late.tell(now + self.config.conduct.tells_late[2], data);
            }
            Telemetry::Status => self.wire.send(&status(&self.board, &self.pack, now, &self.config)),
            Telemetry::Channels => {
                let data = Dated::Channels(channels(&self.board, clock_ms));
                self.late.tell(now + self.config.conduct.tells_late[0], data);
            }
            Telemetry::Outputs => {
                let data = Dated::Outputs(outputs(self.outputs(), low_u32(clock)));
                self.late.tell(now + self.config.conduct.tells_late[1], data);
            }
            Telemetry::Attitude => {
                let seen = self.seen().noisy(now, self.config.seed);
                self.wire.send(&ATTITUDE_DATA {
                    time_boot_ms: clock_ms,
                    roll: to_f32(seen.roll.to_radians()),
                    pitch: to_f32(seen.pitch.to_radians()),
                    yaw: to_f32(half_turn(seen.heading).to_radians()),
                    ..ATTITUDE_DATA::default()
                });
            }
            Telemetry::Battery => self.wire.send(&battery(&self.board, &self.pack, now, &self.config)),
            Telemetry::Speeds if self.config.conduct.speeds.drops(self.config.seed, now) => {}
            Telemetry::Speeds if self.sends_speeds() => {
                // Four motors a message, `index` the first of them.
                for index in (0..count_u8(self.motors.len())).step_by(4) {
                    let mut data = ESC_STATUS_DATA { index, time_usec: clock, ..ESC_STATUS_DATA::default() };
                    for at in 0..4 {
                        let number = usize::from(index) + at;
                        let Some(place) = self.place_of_motor(number) else { continue };
                        data.rpm[at] = self.measured_speed(number, now);
                        data.voltage[at] = to_f32(self.motor_volts());
                        data.current[at] = to_f32(self.motors[place].current(now));
                    }
                    self.wire.send(&data);
                }
            }
            Telemetry::ControllerInfo if self.sends_speeds() => {
                let pulse = self.board.started.signal.is_pulse();
                let count = count_u8(self.motors.len());
                for index in (0..count).step_by(4) {
                    self.wire.send(&ESC_INFO_DATA {
                        index,
                        time_usec: clock,
                        count,
                        info: if self.motor_volts() > 0.0 { (1 << (count - index).min(4)) - 1 } else { 0 },
                        connection_type: if pulse {
                            EscConnectionType::ESC_CONNECTION_TYPE_PPM
                        } else {
                            EscConnectionType::ESC_CONNECTION_TYPE_DSHOT
                        },
                        temperature: [i16::MAX; 4],
                        ..ESC_INFO_DATA::default()
                    });
                }
            }
            Telemetry::Speeds | Telemetry::ControllerInfo => {}
        }
    }

    pub(super) fn sends_speeds(&self) -> bool {
        self.config.speed_telemetry && self.board.tuning.speed_telemetry
    }

    /// The speed of a motor by the board's number from 0, as its controller tells it, rpm; 0 where none is wired.
    pub(super) fn measured_speed(&self, number: usize, now: Time) -> i32 {
        let Some(place) = self.place_of_motor(number) else { return 0 };
        let (motor, seed) = (&self.motors[place], self.config.seed ^ number as u64);
        let rpm = motor.speed(now);
        // What stands still shows no noise.
        let read = if rpm == 0.0 { 0.0 } else { rpm * (1.0 + 0.007 * bell(seed, SPEED_NOISE, now.0)) };
        to_i32(self.config.conduct.speeds.read((place, motor.phase() != Phase::Still), read, seed, now))
    }

    /// Says who the board is.
    pub(super) fn tell_identity(&mut self) {
        let encoding = match self.config.encoding {
            Encoding::Bytewise => MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_BYTEWISE,
            Encoding::Cast => MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_C_CAST,
        };
        let second = match self.config.speech.versions {
            Versions::First => MavProtocolCapability::empty(),
            Versions::Switching | Versions::Second => MavProtocolCapability::MAV_PROTOCOL_CAPABILITY_MAVLINK2,
        };
        let [major, minor, patch] = self.config.firmware;
        self.wire.send(&AUTOPILOT_VERSION_DATA {
            capabilities: second | encoding,
            uid: if self.config.conduct.id == GivenId::Own { self.config.own_id() } else { 0 },
            flight_sw_version: u32::from_be_bytes([major, minor, patch, OFFICIAL]),
            flight_custom_version: {
                let mut custom = [0; 8];
                custom.iter_mut().zip(self.board.make.name.bytes()).for_each(|(place, byte)| *place = byte);
                custom
            },
            ..AUTOPILOT_VERSION_DATA::default()
        });
    }

    /// Sends a text, in chunks where it is long.
    pub(super) fn say(&mut self, severity: MavSeverity, text: &str) {
        if !self.link_present() {
            return;
        }
        if let Some(console) = &mut self.console {
            console.note(text);
            return;
        }
        if self.packets.is_some() {
            self.packet_note(text);
            return;
        }
        let bytes = text.as_bytes();
        let id = if bytes.len() > CHUNK { self.next_text_id() } else { 0 };
        // A NUL says that a chunk was the last: where none fits in any more, an empty one follows.
        let closing = (id != 0 && bytes.len().is_multiple_of(CHUNK)).then_some(&[][..]);
        for (chunk_seq, chunk) in (0_u8..).zip(bytes.chunks(CHUNK).chain(closing)) {
            let mut text = [0; CHUNK];
            text[..chunk.len()].copy_from_slice(chunk);
            self.wire.send(&STATUSTEXT_DATA { severity, text: text.into(), id, chunk_seq });
        }
    }
}

pub(super) fn heartbeat(frame: Frame, armed: bool) -> HEARTBEAT_DATA {
    let mut base_mode = MavModeFlag::MAV_MODE_FLAG_MANUAL_INPUT_ENABLED | MavModeFlag::MAV_MODE_FLAG_STABILIZE_ENABLED;
    base_mode.set(MavModeFlag::MAV_MODE_FLAG_SAFETY_ARMED, armed);
    HEARTBEAT_DATA {
        custom_mode: 0,
        mavtype: match frame {
            Frame::QuadX | Frame::QuadPlus => MavType::MAV_TYPE_QUADROTOR,
            Frame::HexX => MavType::MAV_TYPE_HEXAROTOR,
            Frame::OctoX => MavType::MAV_TYPE_OCTOROTOR,
        },
        autopilot: MavAutopilot::MAV_AUTOPILOT_GENERIC,
        base_mode,
        system_status: if armed { MavState::MAV_STATE_ACTIVE } else { MavState::MAV_STATE_STANDBY },
        mavlink_version: 3,
    }
}

fn status(board: &Board, pack: &Pack, now: Time, config: &WorldConfig) -> SYS_STATUS_DATA {
    let mut present = MavSysStatusSensor::MAV_SYS_STATUS_SENSOR_3D_GYRO
        | MavSysStatusSensor::MAV_SYS_STATUS_SENSOR_3D_ACCEL
        | MavSysStatusSensor::MAV_SYS_STATUS_SENSOR_MOTOR_OUTPUTS
        | MavSysStatusSensor::MAV_SYS_STATUS_SENSOR_RC_RECEIVER
        | MavSysStatusSensor::MAV_SYS_STATUS_SENSOR_BATTERY;
    present.set(MavSysStatusSensor::MAV_SYS_STATUS_SENSOR_BATTERY, config.conduct.voltage_sensor);
    let mut health = present;
    health.set(MavSysStatusSensor::MAV_SYS_STATUS_SENSOR_RC_RECEIVER, board.pulses().is_some());
    SYS_STATUS_DATA {
        onboard_control_sensors_present: present,
        onboard_control_sensors_enabled: present,
        onboard_control_sensors_health: health,
        load: 180,
        voltage_battery: millivolts(board, pack, now, config),
        current_battery: centiamps(pack, config),
        battery_remaining: -1,
        // The codec's defaults are the first flag of each set, not none.
        onboard_control_sensors_present_extended: MavSysStatusSensorExtended::empty(),
        onboard_control_sensors_enabled_extended: MavSysStatusSensorExtended::empty(),
        onboard_control_sensors_health_extended: MavSysStatusSensorExtended::empty(),
        ..SYS_STATUS_DATA::default()
    }
}

/// `UINT16_MAX` where there is no sensor (`SYS_STATUS`, `BATTERY_STATUS`).
fn millivolts(board: &Board, pack: &Pack, now: Time, config: &WorldConfig) -> u16 {
    if config.conduct.voltage_sensor {
        to_u16(pack.shown(board.tuning.volt_ratio, now, config.seed) * 1000.0)
    } else {
        u16::MAX
    }
}

/// −1 where there is no sensor.
fn centiamps(pack: &Pack, config: &WorldConfig) -> i16 {
    if config.conduct.voltage_sensor { to_i16(pack.amperes() * 100.0) } else { -1 }
}

fn battery(board: &Board, pack: &Pack, now: Time, config: &WorldConfig) -> BATTERY_STATUS_DATA {
    let mut voltages = [u16::MAX; 10];
    voltages[0] = millivolts(board, pack, now, config);
    BATTERY_STATUS_DATA {
        current_consumed: -1,
        energy_consumed: -1,
        temperature: i16::MAX,
        voltages,
        current_battery: centiamps(pack, config),
        battery_function: MavBatteryFunction::MAV_BATTERY_FUNCTION_ALL,
        mavtype: MavBatteryType::MAV_BATTERY_TYPE_LIPO,
        battery_remaining: -1,
        fault_bitmask: MavBatteryFault::empty(),
        ..BATTERY_STATUS_DATA::default()
    }
}

fn channels(board: &Board, clock_ms: u32) -> RC_CHANNELS_DATA {
    let mut raw = [NO_CHANNEL; 18];
    let heard = board.pulses();
    if let Some(pulses) = heard {
        raw[..pulses.len()].copy_from_slice(pulses);
    }
    RC_CHANNELS_DATA {
        time_boot_ms: clock_ms,
        chan1_raw: raw[0],
        chan2_raw: raw[1],
        chan3_raw: raw[2],
        chan4_raw: raw[3],
        chan5_raw: raw[4],
        chan6_raw: raw[5],
        chan7_raw: raw[6],
        chan8_raw: raw[7],
        chan9_raw: raw[8],
        chan10_raw: raw[9],
        chan11_raw: raw[10],
        chan12_raw: raw[11],
        chan13_raw: raw[12],
        chan14_raw: raw[13],
        chan15_raw: raw[14],
        chan16_raw: raw[15],
        chan17_raw: raw[16],
        chan18_raw: raw[17],
        chancount: heard.map_or(0, |_| 16),
        rssi: heard.map_or(0, |_| 220),
    }
}

fn outputs(pulses: &[u16], time_usec: u32) -> SERVO_OUTPUT_RAW_DATA {
    let pulse = |output: usize| pulses.get(output).copied().unwrap_or(0);
    SERVO_OUTPUT_RAW_DATA {
        time_usec,
        servo1_raw: pulse(0),
        servo2_raw: pulse(1),
        servo3_raw: pulse(2),
        servo4_raw: pulse(3),
        servo5_raw: pulse(4),
        servo6_raw: pulse(5),
        servo7_raw: pulse(6),
        servo8_raw: pulse(7),
        ..SERVO_OUTPUT_RAW_DATA::default()
    }
}

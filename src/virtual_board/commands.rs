//! The board's side of the MAVLink command protocol: arm, motor test, storage, restart, intervals, messages.

use super::conduct::GivenId;
use super::motor_test::TestRefusal;
use super::numbers::{count_u8, to_i32, to_u32};
use super::protocol_variants::Intervals;
use super::under_way::Owed;
use super::wire::{Incoming, Sender};
use super::world::World;
use crate::measure::time::Time;
use mavlink::MessageData;
use mavlink::dialects::common::{
    AUTOPILOT_VERSION_DATA, COMMAND_ACK_DATA, COMMAND_LONG_DATA, MESSAGE_INTERVAL_DATA, MavCmd, MavResult, MavSeverity,
};

/// Second parameter of arm/disarm that forces it (`common.xml`, command 400).
const FORCE: f32 = 21196.0;

impl World {
    pub(super) fn handle(&mut self, now: Time, from: Sender, incoming: Incoming) {
        match incoming {
            Incoming::Command(command) => self.command(now, from, &command),
            Incoming::UnknownCommand(number) => self.wire.refuse_unknown(number, from),
            Incoming::List => self.listing = Some(super::under_way::Listing::new(now)),
            Incoming::Read(request) => self.read_setting(from, &request),
            Incoming::Set(request) => self.set_setting(now, from, &request),
        }
    }

    fn command(&mut self, now: Time, from: Sender, command: &COMMAND_LONG_DATA) {
        let result = match command.command {
            MavCmd::MAV_CMD_COMPONENT_ARM_DISARM => self.arm_or_disarm(now, command),
            MavCmd::MAV_CMD_DO_MOTOR_TEST => self.test_motor(now, command),
            MavCmd::MAV_CMD_PREFLIGHT_STORAGE => self.storage(now, from, command),
            MavCmd::MAV_CMD_PREFLIGHT_REBOOT_SHUTDOWN => self.restart_by_command(now, command),
            MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL => Some(self.set_interval(now, command)),
            MavCmd::MAV_CMD_REQUEST_MESSAGE => {
                if asks_who(command) && self.config.conduct.id == GivenId::Silent {
                    return;
                }
                let known = self.knows_message(command);
                self.acknowledge(from, command.command, known);
                if known == MavResult::MAV_RESULT_ACCEPTED {
                    self.tell_message(now, command);
                }
                return;
            }
            #[expect(deprecated, reason = "boards that know no other way of telling an interval")]
            MavCmd::MAV_CMD_GET_MESSAGE_INTERVAL if self.config.speech.intervals == Intervals::Commanded => {
                self.acknowledge(from, command.command, MavResult::MAV_RESULT_ACCEPTED);
                self.tell_interval(command.param1);
                return;
            }
            _ => Some(MavResult::MAV_RESULT_UNSUPPORTED),
        };
        if let Some(result) = result {
            self.acknowledge(from, command.command, result);
        }
    }

    pub(super) fn acknowledge(&mut self, to: Sender, command: MavCmd, result: MavResult) {
        self.wire.send(&COMMAND_ACK_DATA {
            command,
            result,
            progress: 0,
            result_param2: 0,
            target_system: to.system,
            target_component: to.component,
        });
    }

    fn arm_or_disarm(&mut self, now: Time, command: &COMMAND_LONG_DATA) -> Option<MavResult> {
        if is(command.param1, 0.0) {
            if self.swallowed() {
                return None;
            }
            return self.does(now, self.config.conduct.disarms, Owed::Disarm).then_some(MavResult::MAV_RESULT_ACCEPTED);
        }
        Some(self.arm(now, command))
    }

    fn arm(&mut self, now: Time, command: &COMMAND_LONG_DATA) -> MavResult {
        if !is(command.param1, 1.0) {
            return MavResult::MAV_RESULT_DENIED;
        }
        let bound = self.board.tuning.bound(super::make::Function::Arm);
        let (bound, check) = if is(command.param2, FORCE) { (false, Ok(())) } else { (bound, self.board.check()) };
        match self.board.arming.command(now, bound, check) {
            Ok(note) => {
                self.board.notes.push(note);
                MavResult::MAV_RESULT_ACCEPTED
            }
            Err(note) => {
                self.board.notes.push(note);
                MavResult::MAV_RESULT_TEMPORARILY_REJECTED
            }
        }
    }

    /// The run ends by itself after its timeout; the same command again renews it, one for another motor
    /// ends it and begins anew.
    fn test_motor(&mut self, now: Time, command: &COMMAND_LONG_DATA) -> Option<MavResult> {
        let output = (1_u8..=count_u8(self.motors.len())).position(|motor| is(command.param1, f32::from(motor)));
        let several = !is(command.param5, 0.0) && !is(command.param5, 1.0);
        // Type 1: a pulse width (MOTOR_TEST_THROTTLE_PWM).
        if !is(command.param2, 1.0) || several {
            let why = "Motor test refused: one motor by pulse only";
            return Some(self.refuse(why, MavResult::MAV_RESULT_UNSUPPORTED));
        }
        let begun = self.begin_motor_test(now, output, command.param3, command.param4);
        let numbered;
        let (why, result) = match begun {
            Ok(said) => return said.then_some(MavResult::MAV_RESULT_ACCEPTED),
            Err(TestRefusal::Never) => ("this board runs none by command", MavResult::MAV_RESULT_UNSUPPORTED),
            Err(TestRefusal::Armed) => ("armed", MavResult::MAV_RESULT_TEMPORARILY_REJECTED),
            Err(TestRefusal::NoBattery) => ("battery is out", MavResult::MAV_RESULT_TEMPORARILY_REJECTED),
            Err(TestRefusal::NoSuchMotor) => {
                numbered = format!("motors are 1 to {}", self.motors.len());
                (numbered.as_str(), MavResult::MAV_RESULT_DENIED)
            }
            Err(TestRefusal::Pulse) => ("takes 1000 to 2000 us", MavResult::MAV_RESULT_DENIED),
            Err(TestRefusal::Time) => {
                let longest = self.board.make.longest_run.unwrap_or_default();
                let why = format!("Motor test refused: takes up to {longest} s");
                return Some(self.refuse(&why, MavResult::MAV_RESULT_DENIED));
            }
        };
        Some(self.refuse(&format!("Motor test refused: {why}"), result))
    }

    fn refuse(&mut self, why: &str, result: MavResult) -> MavResult {
        self.say(MavSeverity::MAV_SEVERITY_WARNING, why);
        result
    }

    /// Parameter 1: 0 reads what was stored, 1 stores, 2 puts the factory values in force.
    fn storage(&mut self, now: Time, from: Sender, command: &COMMAND_LONG_DATA) -> Option<MavResult> {
        if self.board.busy().is_some() {
            return Some(MavResult::MAV_RESULT_TEMPORARILY_REJECTED);
        }
        if is(command.param1, 0.0) {
            self.board.memory.recall();
        } else if is(command.param1, 1.0) {
            return self.begin_storing(now, from);
        } else if is(command.param1, 2.0) {
            self.board.memory.factory();
        } else {
            return Some(MavResult::MAV_RESULT_DENIED);
        }
        Some(MavResult::MAV_RESULT_ACCEPTED)
    }

    fn restart_by_command(&mut self, now: Time, command: &COMMAND_LONG_DATA) -> Option<MavResult> {
        if !is(command.param1, 1.0) {
            return Some(MavResult::MAV_RESULT_DENIED);
        }
        if self.board.busy().is_some() {
            return Some(MavResult::MAV_RESULT_TEMPORARILY_REJECTED);
        }
        self.does(now, self.config.conduct.restarts, Owed::Restart).then_some(MavResult::MAV_RESULT_ACCEPTED)
    }

    fn set_interval(&mut self, now: Time, command: &COMMAND_LONG_DATA) -> MavResult {
        let interval = i64::from(to_i32(f64::from(command.param2)));
        let known = message_id(command.param1).is_some_and(|id| self.streams.set(id, interval, now));
        if known { MavResult::MAV_RESULT_ACCEPTED } else { MavResult::MAV_RESULT_DENIED }
    }

    fn knows_message(&self, command: &COMMAND_LONG_DATA) -> MavResult {
        let known = match message_id(command.param1) {
            Some(AUTOPILOT_VERSION_DATA::ID) => self.config.conduct.id != GivenId::Refused,
            Some(MESSAGE_INTERVAL_DATA::ID) => self.config.speech.intervals == Intervals::Requested,
            Some(id) => self.streams.find(id).is_some(),
            None => false,
        };
        if known { MavResult::MAV_RESULT_ACCEPTED } else { MavResult::MAV_RESULT_DENIED }
    }

    fn tell_interval(&mut self, message: f32) {
        let id = message_id(message).unwrap_or(0);
        self.wire.send(&MESSAGE_INTERVAL_DATA {
            interval_us: self.streams.interval(id),
            message_id: u16::try_from(id).unwrap_or(u16::MAX),
        });
    }

    fn tell_message(&mut self, now: Time, command: &COMMAND_LONG_DATA) {
        match message_id(command.param1) {
            Some(AUTOPILOT_VERSION_DATA::ID) => self.tell_identity(),
            Some(MESSAGE_INTERVAL_DATA::ID) => self.tell_interval(command.param2),
            Some(id) => {
                if let Some(telemetry) = self.streams.find(id) {
                    self.tell(telemetry, now);
                }
            }
            None => {}
        }
    }
}

/// Whether a parameter is exactly a number; a NaN never is.
fn is(parameter: f32, number: f32) -> bool {
    (parameter - number).abs() < f32::EPSILON * number.abs().max(1.0)
}

fn asks_who(command: &COMMAND_LONG_DATA) -> bool {
    message_id(command.param1) == Some(AUTOPILOT_VERSION_DATA::ID)
}

fn message_id(parameter: f32) -> Option<u32> {
    (parameter >= 0.0 && parameter.fract() == 0.0).then(|| to_u32(f64::from(parameter)))
}

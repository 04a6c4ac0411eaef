//! What really is, as JSON: for tests, scripted operators and people who wonder.

use super::make::Function;
use super::motor::Phase;
use super::radio::STICKS;
use super::world::World;
use crate::measure::signal_timing::MotorSignal;
use serde_json::{Map, Value, json};

/// Version of the JSON.
const SCHEMA: &str = "quadjig.truth/1";

impl World {
    /// Everything that is so at the present moment, whether or not the board tells it. Pulses in µs, speeds in
    /// rpm, angles in degrees, volts and amperes.
    #[must_use]
    pub fn truth(&self) -> Value {
        json!({
            "schema": SCHEMA,
            "time_us": self.now.0,
            "seed": self.config.seed,
            "board": {
                "kind": self.board.make.name,
                "id": self.config.board_id(),
                "up": self.board.up_since().is_some(),
                "link": self.link_present(),
                "starts": self.starts(),
                "signal": self.board.started.signal.word(),
            },
            "armed": self.armed(),
            "motors_sound": self.motors_sound(),
            "functions": {
                "arm": self.board.is_on(Function::Arm),
                "buzzer": self.board.is_on(Function::Buzzer),
                "self-level": self.board.is_on(Function::SelfLevel),
                "lights": self.board.is_on(Function::Lights),
            },
            "outputs": self.outputs(),
            "speeds": self.speeds(),
            "motors": self.motors_truth(),
            "battery": {
                "in": self.pack.plugged,
                "volts": self.pack.volts(),
                "volts_without_load": self.pack.open_volts(),
                "amperes": self.pack.amperes(),
                "cells": self.pack.config.cells,
                "true_ratio": self.pack.config.true_ratio,
            },
            "usb": self.usb,
            "radio": { "on": self.radio.on, "sticks": self.sticks_truth(), "switches": self.switches_truth() },
            "receiver": { "heard": self.board.pulses().is_some(), "channels": self.board.pulses() },
            "speed_controllers": {
                "chosen": self.controllers.latched.map(MotorSignal::word),
                "accept": self.controllers.accepts.iter().map(|signal| signal.word()).collect::<Vec<_>>(),
                "telemetry": self.sends_speeds(),
            },
            "attitude": { "roll": self.attitude.roll, "pitch": self.attitude.pitch, "heading": self.attitude.heading },
            "props": self.props,
            "settings": self.settings_truth(),
        })
    }

    fn motors_truth(&self) -> Vec<Value> {
        let output_of = |at: usize| self.config.wiring.iter().position(|wired| *wired == at);
        let motor_of = |at: usize| (0..self.motors.len()).find(|motor| self.place_of_motor(*motor) == Some(at));
        let places = self.board.make.frame.places().iter().enumerate();
        places
            .zip(&self.motors)
            .map(|((at, place), motor)| {
                let (output, number) = (output_of(at), motor_of(at));
                json!({
                    "corner": place.corner,
                    "number": number.map(|number| number + 1),
                    "output": output.map(|output| output + 1),
                    "pulse": number.map(|number| self.outputs()[number]),
                    "start": motor.config.start,
                    "highest_start": motor.sure_start(self.pack.at_rest()),
                    "keep": motor.config.keep,
                    "starts": motor.starts(),
                    "speed": motor.speed(self.now),
                    "state": match motor.phase() {
                        Phase::Still => "still",
                        Phase::Hesitating { .. } => "hesitating",
                        Phase::Turning => "turning",
                    },
                    "clockwise": self.clockwise(at),
                })
            })
            .collect()
    }

    fn sticks_truth(&self) -> Map<String, Value> {
        STICKS
            .iter()
            .enumerate()
            .map(|(place, name)| ((*name).to_owned(), json!(self.radio.stick_pulse(place, self.now))))
            .collect()
    }

    fn switches_truth(&self) -> Map<String, Value> {
        self.radio
            .switches(self.now)
            .map(|switch| {
                let state = json!({
                    "channel": switch.channel, "position": switch.position, "positions": switch.positions,
                });
                (switch.name.to_owned(), state)
            })
            .collect()
    }

    fn settings_truth(&self) -> Map<String, Value> {
        self.board
            .memory
            .names()
            .enumerate()
            .filter_map(|(index, name)| {
                let (working, stored) = self.board.memory.at(index)?;
                Some((name.to_owned(), json!({ "working": number(working), "stored": number(stored) })))
            })
            .collect()
    }
}

/// Whole numbers without a decimal point.
fn number(value: f64) -> Value {
    if value.fract() == 0.0 && value.abs() < 9e15 { json!(super::numbers::whole(value)) } else { json!(value) }
}

//! Which motor hangs on which output, and which way round its wires are: as they were soldered, and as hands change it.
//!
//! Must not be here: what the board commands (see `board`), what a motor does with it (see `motor`).

use super::lines::{Said, WorldLineError, place_of, within};
use super::make::Function;
use super::numbers::{count_u16, to_u16};
use super::world::World;

impl World {
    /// The place that is driven as a motor of the board's numbering, from 0; `None`: no output is that motor's.
    pub(super) fn place_of_motor(&self, motor: usize) -> Option<usize> {
        let output = *self.board.started.order.get(motor)?;
        self.config.wiring.get(output).copied()
    }

    /// Whether the motor at a place turns clockwise, seen from above, as it is wired and reversed.
    pub(super) fn clockwise(&self, place: usize) -> bool {
        let output = self.config.wiring.iter().position(|wired| *wired == place);
        let reversed = output.is_some_and(|output| self.board.started.reversed[output]);
        self.motors[place].config.clockwise != reversed
    }

    /// Whether the motors sound: by the buzzer's switch, on a board that has them do it, while they are fed and it is
    /// disarmed.
    pub(super) fn motors_sound(&self) -> bool {
        let board = &self.board;
        board.make.motors_sound && board.is_on(Function::Buzzer) && !board.armed() && self.motor_volts() > 0.0
    }

    /// A world line: plugs a motor onto an output, and the one that was there onto this one's.
    pub(super) fn plug(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        let Some((output, corner)) = said.words.split_first().filter(|(_, corner)| !corner.is_empty()) else {
            return Err(said.wrong());
        };
        let most = f64::from(count_u16(self.motors.len()));
        let output = within("an output", said.number(output)?, 1.0, most)?;
        let frame = self.board.make.frame;
        let (output, place) = (usize::from(to_u16(output)) - 1, place_of(frame, &corner.join(" "))?);
        let wiring = &mut self.config.wiring;
        if let Some(before) = wiring.iter().position(|wired| *wired == place) {
            wiring.swap(before, output);
        }
        Ok(format!("output {} drives the {} motor", output + 1, frame.places()[place].corner))
    }

    /// A world line: swaps two of a motor's three wires.
    pub(super) fn swap_wires(&mut self, said: Said<'_>) -> Result<String, WorldLineError> {
        if said.words.is_empty() {
            return Err(said.wrong());
        }
        let frame = self.board.make.frame;
        let place = place_of(frame, &said.words.join(" "))?;
        let motor = &mut self.motors[place].config;
        motor.clockwise = !motor.clockwise;
        Ok(format!("two wires of the {} motor are swapped", frame.places()[place].corner))
    }
}

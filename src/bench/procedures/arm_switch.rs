//! The arm switch of a craft as its procedures take it, and the motor step that it starts.
//!
//! Must not be here: where it comes from (see `bench::attended::arm_switch`), a start itself (see `start`).

use crate::board::radio_card::SwitchEntry;
use crate::language::recipe::Switch;
use crate::language::units::Pulse;
use crate::seam::ui::{BoardChange, MotorStep, Motors, StartedBy};
use std::time::Duration;

/// The arm switch: where it arms, and the position that disarms.
#[derive(Debug, Clone, PartialEq)]
pub struct ArmSwitch {
    /// Its name.
    pub switch: Switch,
    /// What the card says of it.
    pub entry: SwitchEntry,
    /// Positions in which the board is to be armed.
    pub on: Vec<u32>,
}

impl ArmSwitch {
    /// The position used for starts: the armed one next to position 0.
    #[must_use]
    pub fn first_on(&self) -> u32 {
        self.on.first().copied().unwrap_or(1)
    }

    /// A motor step started by this switch.
    #[must_use]
    pub fn step(&self, purpose: &str, pulse: Pulse, longest: Duration, starts: u32, look_at: &str) -> MotorStep {
        MotorStep {
            purpose: purpose.to_owned(),
            pulse,
            longest,
            motors: Motors::All,
            on_usb: false,
            starts,
            by: StartedBy::Switch { switch: self.switch.clone(), on: self.first_on(), off: 0 },
            look_at: look_at.to_owned(),
            test: None,
            change: BoardChange::default(),
        }
    }
}

//! The speed controllers: they choose their signal when the battery goes in, and may not accept it.

use crate::measure::signal_timing::MotorSignal;

/// The four controllers, which are alike.
#[derive(Clone)]
pub struct Controllers {
    pub accepts: Vec<MotorSignal>,
    pub latched: Option<MotorSignal>,
    powered: bool,
}

impl Controllers {
    pub fn new(accepts: Vec<MotorSignal>, powered: bool) -> Self {
        Self { accepts, latched: None, powered }
    }

    /// They are fed, or not; while they are fed they stay with the signal that they chose.
    pub fn power(&mut self, on: bool) {
        if self.powered != on {
            self.powered = on;
            self.latched = None;
        }
    }

    /// Whether they act on a signal that they hear; the first after power-up is the one that they stay with.
    pub fn act_on(&mut self, signal: Option<MotorSignal>) -> bool {
        match signal {
            Some(signal) if self.powered => {
                *self.latched.get_or_insert(signal) == signal && self.accepts.contains(&signal)
            }
            _ => false,
        }
    }
}

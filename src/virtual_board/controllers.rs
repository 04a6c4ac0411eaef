//! The speed controllers: they choose their signal when the battery goes in, and may not accept it.

/// Signals to a speed controller, in the board's numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names are the signals' own")]
pub enum MotorSignal {
    Pwm,
    Oneshot125,
    Dshot150,
    Dshot300,
    Dshot600,
}

impl MotorSignal {
    /// All, in the order of the board's numbers.
    pub const ALL: [Self; 5] = [Self::Pwm, Self::Oneshot125, Self::Dshot150, Self::Dshot300, Self::Dshot600];

    /// The signal's name.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::Pwm => "pwm",
            Self::Oneshot125 => "oneshot125",
            Self::Dshot150 => "dshot150",
            Self::Dshot300 => "dshot300",
            Self::Dshot600 => "dshot600",
        }
    }

    /// Whether it is a pulse of a varying width.
    pub(super) const fn is_pulse(self) -> bool {
        matches!(self, Self::Pwm | Self::Oneshot125)
    }
}

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

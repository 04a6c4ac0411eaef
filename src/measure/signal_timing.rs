//! How long a frame of each motor signal takes, and which loop rates it fits.
//!
//! Promises: longest pulse plus gap, with the reply where speed comes back on the wire. Must not choose a signal.

use super::words::words;

words! {
    /// A motor signal.
    #[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, PartialOrd, Ord)]
    pub enum MotorSignal, word {
        /// A pulse of 1000–2000 µs.
        Pwm = "pwm",
        /// An eighth of that, 125–250 µs (librobotcontrol, `rc_servo_send_oneshot_pulse_normalized`).
        Oneshot125 = "oneshot125",
        /// Digital, 150 kbit/s (docs.rs dshot-frame 0.4.0).
        Dshot150 = "dshot150",
        /// Digital, 300 kbit/s: twice the rate of the first (*common practice*).
        Dshot300 = "dshot300",
        /// Digital, 600 kbit/s: four times that (*common practice*).
        Dshot600 = "dshot600",
    }
}

/// Bits of a digital frame (docs.rs dshot-frame 0.4.0): 11 of value, one of telemetry, 4 of checksum.
const FRAME_BITS: f64 = 16.0;
/// Bits of the reply that carries the speed, at [`REPLY_RATE`] of the frame's rate (*common practice*).
const REPLY_BITS: f64 = 21.0;
const REPLY_RATE: f64 = 5.0 / 4.0;
/// Time in which the wire turns round before a reply, µs (*common practice*).
const TURN_ROUND: f64 = 30.0;
/// Pause after a pulse, as a share of the longest: 40 µs and 5 µs, hence the usual 490 Hz of pulses (*common practice*).
const PULSE_GAP: f64 = 0.02;
/// Pause after a digital frame, bits (*common practice*).
const GAP_BITS: f64 = 2.0;

impl MotorSignal {
    /// The signal of a word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|signal| signal.word() == word)
    }

    /// Whether it is a pulse width, so that speed controllers need throttle end points.
    #[must_use]
    pub fn is_pulse(self) -> bool {
        self.kilobits().is_none()
    }

    /// Kilobits a second of a digital signal.
    #[must_use]
    pub fn kilobits(self) -> Option<f64> {
        match self {
            Self::Pwm | Self::Oneshot125 => None,
            Self::Dshot150 => Some(150.0),
            Self::Dshot300 => Some(300.0),
            Self::Dshot600 => Some(600.0),
        }
    }

    /// Pulse width on the wire in µs for a throttle pulse of 1000–2000 µs; `None` for a digital signal.
    #[must_use]
    pub fn wire_pulse(self, throttle: f64) -> Option<f64> {
        match self {
            Self::Pwm => Some(throttle),
            Self::Oneshot125 => Some(throttle / 8.0),
            Self::Dshot150 | Self::Dshot300 | Self::Dshot600 => None,
        }
    }

    /// The frame or longest pulse alone, µs.
    #[must_use]
    pub fn bare(self) -> f64 {
        match (self.kilobits(), self.wire_pulse(2000.0)) {
            (Some(kilobits), _) => FRAME_BITS * 1000.0 / kilobits,
            (None, Some(longest)) => longest,
            (None, None) => 0.0,
        }
    }

    /// Least time from one frame to the next, µs. `reply`: speed comes back on the same wire (digital signals only).
    ///
    /// With a reply the wait for it is the gap: dshot300 takes 53.3 + 30 + 21 bits at 375 kbit/s = 139.3 µs.
    #[must_use]
    pub fn frame_time(self, reply: bool) -> f64 {
        match self.kilobits() {
            None => self.bare() * (1.0 + PULSE_GAP),
            Some(kilobits) if reply => self.bare() + TURN_ROUND + REPLY_BITS * 1000.0 / (kilobits * REPLY_RATE),
            Some(kilobits) => self.bare() + GAP_BITS * 1000.0 / kilobits,
        }
    }

    /// Highest rate of frames, Hz.
    #[must_use]
    pub fn highest_rate(self, reply: bool) -> f64 {
        1e6 / self.frame_time(reply)
    }

    /// Whether a frame fits into every turn of a loop of this rate in Hz.
    #[must_use]
    pub fn carries(self, loop_hz: f64, reply: bool) -> bool {
        loop_hz > 0.0 && self.frame_time(reply) <= 1e6 / loop_hz
    }
}

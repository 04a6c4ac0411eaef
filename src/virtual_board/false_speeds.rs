//! Speeds that are not told as they are: messages that are lost, readings of zero, readings of anything, one that stands.
//!
//! Promises: without any of it every reading is the motor's own, but for its noise; the same moment gives the same reading.
//! How often real controllers do so nobody here has counted: every share is *chosen*.

use super::rng::uniform;
use crate::measure::time::Time;

const DROPS: u64 = 0x92;
const ZEROS: u64 = 0x93;
const LIES: u64 = 0x94;
const LIE: u64 = 0x95;

/// See the module.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct FalseSpeeds {
    /// Share of messages that never leave, where the board tells speeds by itself.
    pub dropped: f64,
    /// Share of readings that are zero.
    pub zeros: f64,
    /// Share of readings that are anything up to twice the truth.
    pub lies: f64,
    /// The place of a motor whose reading stands at so many rpm as long as it is driven.
    pub stands: Option<(usize, f64)>,
}

impl FalseSpeeds {
    /// Whether the message of a moment is lost.
    pub(super) fn drops(&self, seed: u64, now: Time) -> bool {
        self.dropped > 0.0 && uniform(seed, DROPS, now.0) < self.dropped
    }

    /// What is read of the motor at a place, rpm. `seed`: of this motor.
    pub(super) fn read(&self, (place, driven): (usize, bool), rpm: f64, seed: u64, now: Time) -> f64 {
        let happens = |share: f64, what| share > 0.0 && uniform(seed, what, now.0) < share;
        match self.stands {
            Some((at, stood)) if at == place && driven => stood,
            _ if happens(self.zeros, ZEROS) => 0.0,
            _ if happens(self.lies, LIES) => 2.0 * rpm * uniform(seed, LIE, now.0),
            _ => rpm,
        }
    }
}

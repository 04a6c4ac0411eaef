//! Speeds that are not told as they are: messages that are lost, readings of zero, readings of anything, one that stands.
//!
//! Promises: without any of it every reading is the motor's own, but for its noise; the same moment gives the same reading.
//! How often real controllers do so nobody here has counted: every share is *chosen*.

use super::lines::{WorldLineError, number, place_of, unknown_word, within};
use super::packets::Signal;
use super::rng::uniform;
use super::world::World;
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

impl World {
    /// A world line: a share of speeds that is false in one way.
    pub(super) fn falsify(&mut self, words: &[&str]) -> Result<String, WorldLineError> {
        const FORM: &str = "falsify dropped|zeros|lies SHARE";
        let [what, percent] = words else { return Err(WorldLineError::Form { form: FORM }) };
        let percent = number(percent.strip_suffix('%').unwrap_or(percent), FORM)?;
        let share = within("a share of readings", percent, 0.0, 100.0)? / 100.0;
        let told = self.console.is_none()
            && self.packets.as_ref().is_none_or(|speech| speech.unasked().contains(&Signal::Speeds));
        if *what == "dropped" && !told {
            return Err(WorldLineError::Asked);
        }
        let speeds = &mut self.config.conduct.speeds;
        match *what {
            "dropped" => speeds.dropped = share,
            "zeros" => speeds.zeros = share,
            "lies" => speeds.lies = share,
            word => return Err(unknown_word(word, "way to falsify", &["dropped", "zeros", "lies"])),
        }
        Ok(format!("of the speeds {percent} % are {what}"))
    }

    /// A world line: the reading of a motor stands while it is driven.
    pub(super) fn freeze(&mut self, words: &[&str]) -> Result<String, WorldLineError> {
        const FORM: &str = "freeze CORNER RPM";
        let Some((rpm, corner)) = words.split_last().filter(|(_, corner)| !corner.is_empty()) else {
            return Err(WorldLineError::Form { form: FORM });
        };
        let frame = self.board.make.frame;
        let place = place_of(frame, &corner.join(" "))?;
        let rpm = within("a speed", number(rpm, FORM)?, 0.0, 100_000.0)?;
        self.config.conduct.speeds.stands = Some((place, rpm));
        Ok(format!("while the {} motor is driven its speed reads {rpm} rpm", frame.places()[place].corner))
    }
}

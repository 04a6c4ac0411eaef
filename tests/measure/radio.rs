//! Synthetic radios: what a receiver would say while someone works a switch, with the truth beside it.

use super::dice::Dice;
use quadjig::measure::frame::{CHANNELS, ChannelFrame};
use quadjig::measure::time::Time;

/// Time between frames, ms.
pub const PERIOD_MS: i64 = 20;

/// The hands-off window before the switch is worked, ms.
pub const QUIET_MS: i64 = 2000;

/// What happens to one channel.
#[derive(Clone)]
pub enum Motion {
    /// Rests here.
    Still(i64),
    /// Rests at the pulse of the switch's position.
    Switch(Vec<i64>),
    /// Another switch: rests at the first pulse, and at the next from each of these times on (ms), over and over.
    Flipped { pulses: [i64; 2], at: Vec<i64> },
    /// A half sine of this height around the rest, from a time on for a time (ms).
    Bump { rest: i64, height: i64, from: i64, lasts: i64 },
    /// Rests here and adds a thousandth of what the switch adds to its lowest pulse, by position.
    Mix { rest: i64, pulses: Vec<i64>, weight: i64 },
}

/// One radio and how its switch is worked.
pub struct Radio {
    pub channels: Vec<Motion>,
    pub jitter: i64,
    pub missing: u64,
    /// Position and how long it stays there, ms.
    pub worked: Vec<(usize, i64)>,
}

impl Radio {
    /// Frames of the hands-off window (2 s) and of the time after it.
    pub fn frames(&self, dice: &mut Dice) -> (Vec<ChannelFrame>, Vec<ChannelFrame>) {
        let total: i64 = self.worked.iter().map(|w| w.1).sum();
        let (mut quiet, mut worked) = (Vec::new(), Vec::new());
        let mut at = 0;
        while at < QUIET_MS + total {
            if !dice.once_in(self.missing) {
                let since = at - QUIET_MS;
                let frame = self.frame(since, at, dice);
                if since < 0 { quiet.push(frame) } else { worked.push(frame) }
            }
            at += PERIOD_MS;
        }
        (quiet, worked)
    }

    fn frame(&self, since: i64, at: i64, dice: &mut Dice) -> ChannelFrame {
        let mut pulses = [None; CHANNELS];
        for (slot, motion) in pulses.iter_mut().zip(&self.channels) {
            let pulse = self.clean(motion, since) + dice.between(-self.jitter, self.jitter);
            *slot = Some(u16::try_from(pulse).unwrap());
        }
        ChannelFrame { at: Time(u64::try_from(at).unwrap() * 1000), pulses }
    }

    /// Where a channel truly stands at a time after the hands-off window, ms.
    pub fn clean(&self, motion: &Motion, since: i64) -> i64 {
        let position = self.position(since);
        match motion {
            Motion::Still(rest) => *rest,
            Motion::Switch(rests) => rests[position],
            Motion::Flipped { pulses, at } => pulses[at.iter().filter(|at| since >= **at).count() % 2],
            Motion::Bump { rest, height, from, lasts } => rest + bump(*height, since - from, *lasts),
            Motion::Mix { rest, pulses, weight } => {
                let lowest = *pulses.iter().min().unwrap();
                rest + (pulses[position] - lowest) * weight / 1000
            }
        }
    }

    /// The position of the switch at a time after the hands-off window, ms.
    pub fn position(&self, since: i64) -> usize {
        let mut left = since;
        for (position, lasts) in &self.worked {
            if left < *lasts {
                return *position;
            }
            left -= lasts;
        }
        self.worked.last().unwrap().0
    }
}

#[expect(clippy::cast_possible_truncation, clippy::cast_precision_loss, reason = "pulses and milliseconds are small")]
fn bump(height: i64, since: i64, lasts: i64) -> i64 {
    if since < 0 || since > lasts {
        return 0;
    }
    let phase = std::f64::consts::PI * since as f64 / lasts as f64;
    (height as f64 * phase.sin()).round() as i64
}

/// There and back again, twice, or round and round: at least two stays in every position.
pub fn well_worked(positions: usize, dice: &mut Dice) -> Vec<(usize, i64)> {
    let mut order = vec![0];
    for _ in 0..2 {
        order.extend(1..positions);
        if dice.once_in(2) {
            order.extend((1..positions.saturating_sub(1)).rev());
        }
        order.push(0);
    }
    order.iter().map(|p| (*p, dice.between(240, 700))).collect()
}

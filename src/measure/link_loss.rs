//! What channels and board do when the radio goes off, from two trials.
//!
//! Promises: hold and fixed value are only told apart where the two trials differ; what can't be told is said so.
//! Must not judge what that means for arming beyond [`BoardLearns`].

use super::frame::{CHANNELS, ChannelFrame};
use super::robust;
use thiserror::Error;

/// Two pulses within the larger of this and [`SAME_SIGMAS`] σ are the same, µs.
pub const SAME: f64 = 20.0;
/// See [`SAME`].
pub const SAME_SIGMAS: f64 = 6.0;
/// Fewest frames before the loss, and fewest while the radio is off.
pub const FEWEST_FRAMES: usize = 10;

/// What was heard at one moment of a trial.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct LossFrame {
    /// The channels as the board reports them.
    pub frame: ChannelFrame,
    /// How many channels the board says it receives; 0: none.
    pub count: u8,
    /// Whether the board says that it hears its receiver, where it says so.
    pub receiver: Option<bool>,
}

impl LossFrame {
    /// Whether the board knows here that the link is lost.
    #[must_use]
    pub fn flagged(&self) -> bool {
        self.count == 0 || self.receiver == Some(false)
    }
}

/// One trial: the radio on, then off.
#[derive(Debug, Clone, Copy)]
pub struct LossTrial<'a> {
    /// Radio on, nothing moved.
    pub on: &'a [LossFrame],
    /// Radio off, from the moment the operator says so until it is switched on again.
    pub off: &'a [LossFrame],
}

/// What one channel does on link loss.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ChannelOnLoss {
    /// It keeps the pulse it had.
    Holds,
    /// It goes to this pulse, µs.
    Fixed(f64),
    /// It stayed at this pulse, µs, but was there in both trials: holding and going there look the same.
    HoldsOrFixed(f64),
    /// It has no pulse any more: the board drops it.
    Silent,
    /// The two trials disagree: pulses in µs once the radio was off, `None` where there was none.
    Unclear {
        /// In the first trial.
        first: Option<f64>,
        /// In the second.
        second: Option<f64>,
    },
}

/// Whether the board learns of the loss.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BoardLearns {
    /// In both trials it said so and stayed with it.
    Yes,
    /// In neither: an error for arming, to be put right in the receiver.
    No,
    /// Once, or only for a while: not to be relied on.
    Sometimes,
}

/// What happens on link loss.
#[derive(Debug, Clone, PartialEq)]
pub struct OnLoss {
    /// By channel from 0; `None` for a channel that had no pulse with the radio on.
    pub channels: [Option<ChannelOnLoss>; CHANNELS],
    /// Whether the board learns of it.
    pub board: BoardLearns,
}

/// A trial can't be judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum LossError {
    /// Too few frames.
    #[error("trial {trial} has only {heard} messages with the radio {}, and {needed} are needed; wait a little longer", if *.on { "on" } else { "off" })]
    TooFew {
        /// Trial from 1.
        trial: usize,
        /// Whether with the radio on.
        on: bool,
        /// Messages heard.
        heard: usize,
        /// Messages needed.
        needed: usize,
    },
    /// The radio was off before the trial began.
    #[error("trial {trial} began without a receiver signal; switch the radio on, and off only when asked")]
    NoSignalBefore {
        /// Trial from 1.
        trial: usize,
    },
    /// Nothing happened.
    #[error(
        "in both trials no channel changed and the board said nothing, and the radio was not said to have been off; find it again, and switch the radio off when asked"
    )]
    NothingHappened,
}

/// Judges two trials: all switches at 0, then all at their last position.
///
/// `radio_was_off` is the operator's word that it really was; without it, trials in which nothing at all changed are no
/// result. While off, the second half of the time counts, so that a receiver may wait before it acts.
///
/// # Errors
/// Too few frames, no signal to begin with, or nothing that shows the radio off.
pub fn on_loss(trials: [LossTrial<'_>; 2], radio_was_off: bool) -> Result<OnLoss, LossError> {
    for (index, trial) in trials.iter().enumerate() {
        for (on, frames) in [(true, trial.on), (false, trial.off)] {
            if frames.len() < FEWEST_FRAMES {
                let heard = frames.len();
                return Err(LossError::TooFew { trial: index + 1, on, heard, needed: FEWEST_FRAMES });
            }
        }
        if trial.on.iter().filter(|f| f.flagged()).count() * 2 > trial.on.len() {
            return Err(LossError::NoSignalBefore { trial: index + 1 });
        }
    }
    let board = match trials.map(|trial| share_flagged(trial.off)) {
        [Flag::All, Flag::All] => BoardLearns::Yes,
        [Flag::None, Flag::None] => BoardLearns::No,
        _ => BoardLearns::Sometimes,
    };
    let mut channels = [None; CHANNELS];
    for (channel, slot) in (1..).zip(&mut channels) {
        *slot = channel_on_loss(&trials, channel);
    }
    let still = |c: &ChannelOnLoss| matches!(c, ChannelOnLoss::Holds | ChannelOnLoss::HoldsOrFixed(_));
    if board == BoardLearns::No && !radio_was_off && channels.iter().flatten().all(still) {
        return Err(LossError::NothingHappened);
    }
    Ok(OnLoss { channels, board })
}

enum Flag {
    All,
    Some,
    None,
}

fn share_flagged(off: &[LossFrame]) -> Flag {
    let late = &off[off.len() / 2..];
    if late.iter().all(LossFrame::flagged) {
        Flag::All
    } else if off.iter().any(LossFrame::flagged) {
        Flag::Some
    } else {
        Flag::None
    }
}

fn channel_on_loss(trials: &[LossTrial<'_>; 2], channel: u32) -> Option<ChannelOnLoss> {
    let pulses = |frames: &[LossFrame]| -> Vec<f64> {
        frames.iter().filter_map(|f| f.frame.pulse(channel)).map(f64::from).collect()
    };
    let on = [pulses(trials[0].on), pulses(trials[1].on)];
    let off = [0, 1].map(|t: usize| pulses(&trials[t].off[trials[t].off.len() / 2..]));
    let before = [robust::median(&on[0])?, robust::median(&on[1])?];
    let sigma = on.iter().filter_map(|p| robust::sigma(p)).fold(0.0, f64::max);
    let same = |a: f64, b: f64| (a - b).abs() <= f64::max(SAME, SAME_SIGMAS * sigma);
    let after = match [robust::median(&off[0]), robust::median(&off[1])] {
        [Some(first), Some(second)] => [first, second],
        [None, None] => return Some(ChannelOnLoss::Silent),
        [first, second] => return Some(ChannelOnLoss::Unclear { first, second }),
    };
    let stays = same(before[0], after[0]) && same(before[1], after[1]);
    let one_place = same(after[0], after[1]);
    Some(match (stays, one_place) {
        (true, true) => ChannelOnLoss::HoldsOrFixed(after[0]),
        (true, false) => ChannelOnLoss::Holds,
        (false, true) => ChannelOnLoss::Fixed(f64::midpoint(after[0], after[1])),
        (false, false) => ChannelOnLoss::Unclear { first: Some(after[0]), second: Some(after[1]) },
    })
}

//! Sticks: which channel one moves, how true its centre and ends are, and how the receiver's frames come.
//!
//! Promises: figures to dial into a radio, in µs and per cent. Must not know what a stick commands.

use super::frame::{CHANNELS, ChannelFrame, pulses_of};
use super::number;
use super::robust;
use thiserror::Error;

/// A normal gimbal comes back to its centre within this, µs (*common practice*).
pub const CENTRE_WITHIN: f64 = 5.0;
/// Ends lie within this of what was asked, µs.
pub const ENDS_WITHIN: f64 = 15.0;
/// A stick held over moves its channel at least so far, µs.
pub const HELD: f64 = 200.0;
/// Another channel that moves more than this with a stick is crossed with it, µs.
pub const CROSSED: f64 = 50.0;
/// Fewest frames of a hold.
pub const FEWEST_FRAMES: usize = 5;

/// A stick's channel, found.
#[derive(Debug, Clone, PartialEq)]
pub struct StickFound {
    /// Channel from 1.
    pub channel: u32,
    /// Whether the pulse fell when the stick went right or up.
    pub reversed: bool,
    /// Other channels from 1 that moved with it: mixed or crossed.
    pub crossed: Vec<u32>,
}

/// No stick can be told.
#[derive(Debug, Clone, PartialEq, Error)]
pub enum StickError {
    /// Too few frames.
    #[error("only {heard} receiver messages came and {needed} are needed; check that the radio is on")]
    TooFew {
        /// Messages heard.
        heard: usize,
        /// Messages needed.
        needed: usize,
    },
    /// Nothing moved far enough.
    #[error("no channel moved by {HELD:.0} µs; hold the stick fully over until told to let go")]
    NothingMoved,
    /// Several moved about as far.
    #[error("channels {channels:?} moved about as far as each other; move one stick alone, one way")]
    Several {
        /// The channels, from 1.
        channels: Vec<u32>,
    },
    /// The asked ends are not in order.
    #[error("the asked low end, centre and high end have to rise: {low}, {centre}, {high}")]
    Asked {
        /// Low end, µs.
        low: f64,
        /// Centre, µs.
        centre: f64,
        /// High end, µs.
        high: f64,
    },
}

/// Finds the channel of the stick that rests in `rest` and is held right or up in `held`.
///
/// # Errors
/// Too few frames, nothing moved, or a second channel moved at least half as far.
pub fn find_stick(rest: &[ChannelFrame], held: &[ChannelFrame]) -> Result<StickFound, StickError> {
    let heard = rest.len().min(held.len());
    if heard < FEWEST_FRAMES {
        return Err(StickError::TooFew { heard, needed: FEWEST_FRAMES });
    }
    let mut moved: Vec<(u32, f64)> = (1..)
        .take(CHANNELS)
        .filter_map(|c| Some((c, robust::median(&pulses_of(held, c))? - robust::median(&pulses_of(rest, c))?)))
        .filter(|(_, by)| by.abs() > CROSSED)
        .collect();
    moved.sort_by(|a, b| b.1.abs().total_cmp(&a.1.abs()));
    let Some((channel, by)) = moved.first().copied().filter(|(_, by)| by.abs() >= HELD) else {
        return Err(StickError::NothingMoved);
    };
    let rivals: Vec<u32> = moved.iter().filter(|(_, other)| other.abs() * 2.0 >= by.abs()).map(|m| m.0).collect();
    if rivals.len() > 1 {
        return Err(StickError::Several { channels: rivals });
    }
    let crossed = moved.iter().skip(1).map(|m| m.0).collect();
    Ok(StickFound { channel, reversed: by < 0.0, crossed })
}

/// Pulses in µs that a stick shall give.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked {
    /// At one end.
    pub low: f64,
    /// Let go.
    pub centre: f64,
    /// At the other end.
    pub high: f64,
}

/// How true a stick is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StickFigures {
    /// Pulses found, µs.
    pub found: Asked,
    /// Found less asked, µs.
    pub off: Asked,
    /// Whether the centre is within [`CENTRE_WITHIN`].
    pub centre_good: bool,
    /// Whether both ends are within [`ENDS_WITHIN`].
    pub ends_good: bool,
    /// What to add to the sub-trim, µs.
    pub sub_trim: f64,
    /// The same, per cent of the asked half travel.
    pub sub_trim_percent: f64,
    /// What to set the lower end point to, per cent of what it is now, once the centre is right.
    pub low_percent: f64,
    /// The same for the upper end point.
    pub high_percent: f64,
}

/// Figures of a stick from pulses in µs at its low end, let go, and at its high end.
///
/// # Errors
/// Too few pulses, or asked pulses that do not rise.
pub fn figures(low: &[f64], centre: &[f64], high: &[f64], asked: Asked) -> Result<StickFigures, StickError> {
    let heard = low.len().min(centre.len()).min(high.len());
    let too_few = StickError::TooFew { heard, needed: FEWEST_FRAMES };
    if heard < FEWEST_FRAMES {
        return Err(too_few);
    }
    if !(asked.low < asked.centre && asked.centre < asked.high) {
        return Err(StickError::Asked { low: asked.low, centre: asked.centre, high: asked.high });
    }
    let (Some(low), Some(centre), Some(high)) = (robust::median(low), robust::median(centre), robust::median(high))
    else {
        return Err(too_few);
    };
    if !(low < centre && centre < high) {
        return Err(StickError::NothingMoved);
    }
    let off = Asked { low: low - asked.low, centre: centre - asked.centre, high: high - asked.high };
    Ok(StickFigures {
        found: Asked { low, centre, high },
        off,
        centre_good: off.centre.abs() <= CENTRE_WITHIN,
        ends_good: off.low.abs().max(off.high.abs()) <= ENDS_WITHIN,
        sub_trim: -off.centre,
        sub_trim_percent: -off.centre / (asked.high - asked.low) * 200.0,
        low_percent: (asked.centre - asked.low) / (centre - low) * 100.0,
        high_percent: (asked.high - asked.centre) / (high - centre) * 100.0,
    })
}

/// How the receiver's messages come.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FrameRate {
    /// Messages a second, by the median time between two.
    pub hertz: f64,
    /// Share of messages that would have been due and did not come, 0…1.
    pub missing: f64,
}

/// Rate and missing share from the times of messages; `None` for fewer than [`FEWEST_FRAMES`].
#[must_use]
pub fn frame_rate(frames: &[ChannelFrame]) -> Option<FrameRate> {
    if frames.len() < FEWEST_FRAMES {
        return None;
    }
    let steps: Vec<f64> =
        frames.windows(2).map(|pair| number::micros(pair[1].at.0.saturating_sub(pair[0].at.0))).collect();
    let period = robust::median(&steps).filter(|p| *p > 0.0)?;
    let due: f64 = steps.iter().map(|step| (step / period).round().max(1.0)).sum();
    Some(FrameRate { hertz: 1e6 / period, missing: 1.0 - number::count(steps.len()) / due })
}

//! How true a stick is: its centre, its ends, and how its messages come.
//!
//! Promises: figures to dial into a radio, in µs and per cent. Must not know which channel is whose (see `sticks`).

use super::frame::ChannelFrame;
use super::number;
use super::robust;
use super::sticks::FEWEST_FRAMES;

/// Pulses in µs that a stick shall give, and how near.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StickTargets {
    /// At one end.
    pub low: f64,
    /// Let go.
    pub centre: f64,
    /// At the other end.
    pub high: f64,
    /// How near the centre.
    pub centre_within: f64,
    /// How near either end.
    pub ends_within: f64,
}

/// Pulses of one stick, µs; without a centre where it does not spring back to one.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Travel {
    /// Lower end.
    pub low: f64,
    /// Let go.
    pub centre: Option<f64>,
    /// Upper end.
    pub high: f64,
}

impl Travel {
    /// From the two ends, whichever is lower, and the centre.
    #[must_use]
    pub fn of(one: f64, other: f64, centre: Option<f64>) -> Self {
        Self { low: one.min(other), centre, high: one.max(other) }
    }
}

/// How far a stick is from what was asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct StickFigures {
    /// Found less asked, µs.
    pub off: Travel,
    /// Whether the centre is as near as asked.
    pub centre_good: bool,
    /// Whether the lower end is.
    pub low_good: bool,
    /// Whether the upper end is.
    pub high_good: bool,
    /// What to add to the sub-trim, µs and per cent of the asked half travel.
    pub sub_trim: (f64, f64),
    /// What to set the lower and the upper end point to, per cent of what they are now, once the centre is right.
    pub end_points: (f64, f64),
}

/// Figures of a stick; `None` where it has no travel on either side of its centre.
#[must_use]
pub fn figures(found: Travel, asked: StickTargets) -> Option<StickFigures> {
    let centre = found.centre.unwrap_or(asked.centre);
    if !(found.low < centre && centre < found.high) {
        return None;
    }
    let off = Travel {
        low: found.low - asked.low,
        centre: found.centre.map(|centre| centre - asked.centre),
        high: found.high - asked.high,
    };
    let trim = -off.centre.unwrap_or(0.0);
    Some(StickFigures {
        off,
        centre_good: trim.abs() <= asked.centre_within,
        low_good: off.low.abs() <= asked.ends_within,
        high_good: off.high.abs() <= asked.ends_within,
        sub_trim: (trim, trim / (asked.high - asked.low) * 200.0),
        end_points: (
            (asked.centre - asked.low) / (centre - found.low) * 100.0,
            (asked.high - asked.centre) / (found.high - centre) * 100.0,
        ),
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

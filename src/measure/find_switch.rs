//! Finds on which channel a switch is and where its positions rest, from what the receiver said.
//!
//! Promises: an answer only where the frames leave one; else a reason. Never a guess.
//! Must not ask anyone anything, and must not know what the switch is for.

mod disambiguate;
mod reason;
mod trace;

pub use reason::NotFound;

use super::frame::{CHANNELS, ChannelFrame};
use super::number;
use super::time::Time;
use disambiguate::Beside;
use trace::{Levels, Shape, Trace};

/// The hands-off window lasts at least this long, µs.
pub const QUIET_US: u64 = 1_500_000;
/// Fewest frames in either window.
pub const FEWEST_FRAMES: usize = 20;
/// Frames come at least this often, µs: a dwell of 150 ms then has three.
pub const LONGEST_PERIOD_US: u64 = 55_000;
/// A hole in the frames that could hide a position, µs; at least ten periods.
pub const LONGEST_GAP_US: u64 = 500_000;

/// What was heard while a switch was looked for.
#[derive(Debug, Clone, Copy, Default)]
pub struct SwitchSearch<'a> {
    /// Hands off, the switch at position 0; in rising time.
    pub quiet: &'a [ChannelFrame],
    /// The switch worked through all positions twice or more, from position 0 to position 0; in rising time.
    pub worked: &'a [ChannelFrame],
    /// Channels from 1 that are known to be something else, such as sticks.
    pub excluded: &'a [u32],
    /// How many positions the recipe says, if it does.
    pub expected: Option<usize>,
}

/// A switch, found.
#[derive(Debug, Clone, PartialEq)]
pub struct SwitchFound {
    /// Channel from 1.
    pub channel: u32,
    /// Rest pulse of each position in µs, position 0 first.
    pub rests: Vec<f64>,
    /// Robust standard deviation at the noisiest rest, µs.
    pub noise: f64,
    /// Whether position 0 has the highest pulse.
    pub reversed: bool,
    /// Channels from 1 that a mix drags along.
    pub also: Vec<u32>,
}

impl SwitchFound {
    /// The rests in whole µs, position 0 first.
    #[must_use]
    pub fn whole_rests(&self) -> Vec<i32> {
        self.rests.iter().map(|r| number::whole(*r)).collect()
    }
}

/// Looks for the one switch that was worked.
///
/// A channel moved if its range exceeds the larger of 100 µs and 8 σ; dwells of at least 150 ms are clustered; two
/// clusters are positions if more than the larger of 60 µs and 6 σ apart; each of 2 to 6 positions was seen twice.
///
/// # Errors
/// Whatever keeps the frames from leaving exactly one answer: see [`NotFound`].
pub fn find(search: &SwitchSearch<'_>) -> Result<SwitchFound, NotFound> {
    let period = check_frames(search)?;
    let quiet = ends(search.quiet);
    let channels = (1..).take(CHANNELS);
    let (excluded, looked_at): (Vec<u32>, Vec<u32>) = channels.partition(|c| search.excluded.contains(c));
    let traces: Vec<Trace> =
        looked_at.iter().filter_map(|channel| Trace::of(*channel, search.quiet, search.worked)).collect();
    if traces.is_empty() {
        let moved = excluded.iter().filter_map(|channel| Trace::of(*channel, search.quiet, search.worked));
        return Err(NotFound::NothingMoved { excluded_moved: moved.map(|t| t.channel).collect() });
    }
    let shapes: Vec<Shape> = traces.iter().map(|t| t.shape(quiet, period, search.expected)).collect();
    let widest = shapes
        .iter()
        .enumerate()
        .filter_map(|(index, shape)| if let Shape::Switch(levels) = shape { Some((index, levels)) } else { None })
        .max_by(|a, b| a.1.span().total_cmp(&b.1.span()));
    match widest {
        Some((index, levels)) => answer(index, levels, &traces, &shapes, (period, search.expected)),
        None => Err(fault(&traces, shapes)),
    }
}

/// Holds the candidate against every other channel that moved.
fn answer(
    index: usize,
    levels: &Levels,
    traces: &[Trace],
    shapes: &[Shape],
    (period, expected): (u64, Option<usize>),
) -> Result<SwitchFound, NotFound> {
    let own = &traces[index];
    let (mut also, mut rivals) = (Vec::new(), Vec::new());
    for (other, (trace, shape)) in traces.iter().zip(shapes).enumerate() {
        if other == index {
            continue;
        }
        let jumps = matches!(shape, Shape::Switch(_) | Shape::Faulty(_));
        // One that stood at another number of pulses than the recipe says of the switch is not it, however it was worked.
        let another = expected.is_some_and(|count| trace.rests_seen().is_some_and(|seen| seen != count));
        let rival = !another && disambiguate::may_be_a_switch(levels, trace, jumps);
        match disambiguate::beside(levels, trace, 2 * period) {
            Beside::Dragged => also.push(trace.channel),
            Beside::Twin if another => also.push(trace.channel),
            Beside::Twin => rivals.push(trace.channel),
            Beside::Apart if rival => rivals.push(trace.channel),
            Beside::Apart => {}
        }
    }
    if !rivals.is_empty() {
        rivals.push(own.channel);
        rivals.sort_unstable();
        return Err(NotFound::Several { channels: rivals });
    }
    if own.quiet_range > f64::max(60.0, 8.0 * own.sigma) {
        return Err(NotFound::NotQuiet { channel: own.channel, range: own.quiet_range });
    }
    let reversed = levels.start != 0;
    let mut rests = levels.rests.clone();
    if reversed {
        rests.reverse();
    }
    Ok(SwitchFound { channel: own.channel, rests, noise: levels.sigma, reversed, also })
}

/// The reason that helps most where no channel has all that makes a card.
fn fault(traces: &[Trace], shapes: Vec<Shape>) -> NotFound {
    let mut faults: Vec<(f64, u32, NotFound)> = Vec::new();
    let (mut moved_like_sticks, mut touched) = (Vec::new(), None);
    for (trace, shape) in traces.iter().zip(shapes) {
        match shape {
            Shape::Faulty(reason) => faults.push((trace.span(), trace.channel, reason)),
            Shape::Continuous => moved_like_sticks.push(trace.channel),
            Shape::Touched(pulse) => touched = Some(NotFound::PassedTooQuickly { channel: trace.channel, pulse }),
            Shape::Switch(_) => {}
        }
    }
    faults.sort_by(|a, b| b.0.total_cmp(&a.0));
    let rival = faults.first().zip(faults.get(1)).is_some_and(|(first, second)| second.0 > 0.6 * first.0);
    if rival {
        let mut channels: Vec<u32> = faults.iter().map(|f| f.1).collect();
        channels.sort_unstable();
        return NotFound::Several { channels };
    }
    if let Some((_, _, reason)) = faults.into_iter().next() {
        return reason;
    }
    match touched {
        Some(reason) if moved_like_sticks.is_empty() => reason,
        _ => NotFound::StickLike { channels: moved_like_sticks },
    }
}

/// Whether there is enough to look at; the usual time between frames in µs.
fn check_frames(search: &SwitchSearch<'_>) -> Result<u64, NotFound> {
    let heard = search.quiet.len().min(search.worked.len());
    if heard < FEWEST_FRAMES {
        return Err(NotFound::TooFewFrames { heard, needed: FEWEST_FRAMES });
    }
    let steps: Vec<u64> = search.worked.windows(2).map(|pair| pair[1].at.0.saturating_sub(pair[0].at.0)).collect();
    let mut sorted = steps.clone();
    sorted.sort_unstable();
    let period = sorted.get(sorted.len() / 2).copied().unwrap_or(u64::MAX);
    if period > LONGEST_PERIOD_US {
        let ms = |us: u64| number::micros(us) / 1000.0;
        return Err(NotFound::TooSlow { period_ms: ms(period), most_ms: ms(LONGEST_PERIOD_US) });
    }
    let (from, to) = ends(search.quiet);
    // The last frame stands for one period more, and one may be missing at either end.
    let lasted = to.0.saturating_sub(from.0).saturating_add(3 * period);
    if lasted < QUIET_US {
        return Err(NotFound::QuietTooShort { lasted_ms: lasted / 1000, needed_ms: QUIET_US / 1000 });
    }
    let gap = steps.iter().copied().max().unwrap_or(0);
    if gap > LONGEST_GAP_US.max(10 * period) {
        return Err(NotFound::Gap { gap_ms: gap / 1000 });
    }
    Ok(period)
}

fn ends(frames: &[ChannelFrame]) -> (Time, Time) {
    frames.first().zip(frames.last()).map_or((Time(0), Time(0)), |(first, last)| (first.at, last.at))
}

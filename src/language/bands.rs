//! The band of a switch position, from the rest pulses of all positions.
//!
//! Promises: the rule of the bench, before any board's granularity and limits round it.
//! Must not be here: noise that was measured.

use super::ceilings::BAND_REACH;
use super::units::Pulse;

/// Lower and upper end of one position's band: its rest pulse ± half the distance to the nearest
/// neighbour, at most [`BAND_REACH`]. `None` where there is no such position.
#[must_use]
pub fn band(rests: &[Pulse], position: u32) -> Option<(Pulse, Pulse)> {
    let index = usize::try_from(position).ok()?;
    let rest = rests.get(index)?.0;
    let others = rests.iter().enumerate().filter(|(at, _)| *at != index);
    let reach = others.map(|(_, other)| (other.0 - rest).abs() / 2).min().unwrap_or(BAND_REACH.0).min(BAND_REACH.0);
    Some((Pulse(rest - reach), Pulse(rest + reach)))
}

/// Whether a function that is on in these positions would be on at a pulse. Neighbouring
/// positions make one band, without a gap between them.
#[must_use]
pub fn covers(rests: &[Pulse], positions: &[u32], pulse: Pulse) -> bool {
    let ends = |position: u32| band(rests, position);
    let inside = |(low, high): (Pulse, Pulse)| low <= pulse && pulse <= high;
    let single = positions.iter().filter_map(|p| ends(*p)).any(inside);
    let joined = positions.windows(2).filter(|pair| pair[1] == pair[0] + 1).any(|pair| {
        let (Some(a), Some(b)) = (ends(pair[0]), ends(pair[1])) else { return false };
        inside((a.0.min(b.0), a.1.max(b.1)))
    });
    single || joined
}

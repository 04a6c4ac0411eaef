//! Sticks as they moved, each a trace on one scale.
//!
//! Promises: nothing stands only here; the sentences behind it say each figure, and stand alone in the linear style.

use super::line::Page;
use super::strip::drawn;
use crate::seam::ui::StickSeen;

/// Cells of a trace.
const CELLS: usize = 40;
/// What is drawn, µs: the widest that receivers give (*common practice*).
const LEAST: f64 = 900.0;
const MOST: f64 = 2100.0;

pub(super) fn traces(page: &mut Page, sticks: &[StickSeen]) {
    if page.style().plain || sticks.iter().all(|seen| seen.pulses.is_empty()) {
        return;
    }
    page.heading("Sticks as they moved");
    for seen in sticks {
        let least = seen.pulses.iter().copied().fold(f64::INFINITY, f64::min);
        let most = seen.pulses.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let trace = drawn(&thinned(&seen.pulses), whole(MOST));
        let range = if seen.pulses.is_empty() { "not heard".to_owned() } else { format!("{least:.0} to {most:.0} us") };
        page.row(format!("  {:<9} ch {:<3} {trace:<CELLS$}  {range}", seen.stick.word(), seen.channel));
    }
    page.gap();
}

/// As many heights as there are cells, or fewer.
fn thinned(pulses: &[f64]) -> Vec<u32> {
    let part = pulses.len().div_ceil(CELLS).max(1);
    // The one furthest from the middle of each part: a short touch of an end is not thinned away.
    let far = |part: &[f64]| {
        let middle = f64::midpoint(LEAST, MOST);
        part.iter().copied().max_by(|a, b| (a - middle).abs().total_cmp(&(b - middle).abs()))
    };
    pulses.chunks(part).filter_map(far).map(whole).collect()
}

#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped to some hundreds")]
fn whole(pulse: f64) -> u32 {
    (pulse.clamp(LEAST, MOST) - LEAST) as u32
}

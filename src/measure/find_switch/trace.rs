//! One channel over the time in which a switch was worked: its runs, dwells, levels and changes.
//!
//! Promises: describes what the channel did. Must not compare channels: that is `disambiguate`.

use super::reason::NotFound;
use crate::measure::clusters::{self, Clusters};
use crate::measure::frame::{self, ChannelFrame};
use crate::measure::number;
use crate::measure::robust;
use crate::measure::time::Time;

/// A run shorter than this is a passage, not a dwell.
const DWELL_US: u64 = 150_000;
/// Two rests are positions only if further apart than this and than [`APART_SIGMAS`].
const APART: f64 = 60.0;
const APART_SIGMAS: f64 = 6.0;
/// How far a pulse may stray from its run: half of [`APART`], and wide enough for strong noise.
const STRAY: f64 = 30.0;
const STRAY_SIGMAS: f64 = 5.0;
/// How far medians of dwells in one position may differ. A switch comes back to its rest; a hand does not.
const SAME: f64 = 10.0;
const SAME_SIGMAS: f64 = 3.0;
/// Two parts of a dwell that both last so long, and whose means are further apart than this and than what noise makes
/// of them, are two rests.
const PART_US: u64 = 100_000;
const PARTS_APART: f64 = 8.0;
const PARTS_SIGMAS: f64 = 5.0;
/// Most positions that a switch has.
const MOST_POSITIONS: usize = 6;
/// So many samples in a row away from every rest are a movement where they differ, and a passage where they agree.
const MOVEMENT_SAMPLES: usize = 3;

/// How far from its rest a channel at rest may be: a switch knows nothing between, a stick moves through it.
const AT_REST: f64 = 12.0;
const AT_REST_SIGMAS: f64 = 5.0;

/// A channel that moved.
pub(super) struct Trace {
    pub channel: u32,
    /// Robust standard deviation in the quiet window, µs.
    pub sigma: f64,
    /// Range in the quiet window, µs.
    pub quiet_range: f64,
    pub samples: Vec<Sample>,
    pub runs: Vec<Run>,
    rest: f64,
}

#[derive(Clone, Copy)]
pub(super) struct Sample {
    pub at: Time,
    pub pulse: f64,
}

/// Samples `first..=last` without a jump.
pub(super) struct Run {
    pub first: usize,
    pub last: usize,
    mean: f64,
}

/// What a channel did.
pub(super) enum Shape {
    /// It jumped between rests as a switch does.
    Switch(Levels),
    /// It jumped between rests, but something is wanting.
    Faulty(NotFound),
    /// It moved through many pulses, as a stick does.
    Continuous,
    /// It left its one rest for moments only, nearest to the pulse given.
    Touched(f64),
}

/// The rests of a channel and the order in which it was at them.
pub(super) struct Levels {
    /// Rising, in µs.
    pub rests: Vec<f64>,
    /// Index of position 0 in `rests`: its first or its last.
    pub start: usize,
    pub visits: Vec<Visit>,
    /// The largest robust standard deviation at any rest, µs.
    pub sigma: f64,
}

impl Levels {
    pub fn span(&self) -> f64 {
        self.rests.last().zip(self.rests.first()).map_or(0.0, |(high, low)| high - low)
    }
}

/// A stay at one level, from the first to the last sample.
#[derive(Clone, Copy)]
pub(super) struct Visit {
    pub level: usize,
    pub from: Time,
    pub to: Time,
}

impl Trace {
    /// The channel, if it moved by more than the larger of 100 µs and 8 σ.
    pub fn of(channel: u32, quiet: &[ChannelFrame], worked: &[ChannelFrame]) -> Option<Self> {
        let (low, high) = range(worked, channel)?;
        // Most channels never move: leave before the noise is worked out.
        let (quiet_low, quiet_high) = range(quiet, channel)?;
        if high.max(quiet_high) - low.min(quiet_low) <= 100 {
            return None;
        }
        let still = frame::pulses_of(quiet, channel);
        let (rest, sigma) = (robust::median(&still)?, robust::sigma(&still)?);
        if f64::from(high - low) <= f64::max(100.0, 8.0 * sigma) {
            return None;
        }
        let samples: Vec<Sample> =
            worked.iter().filter_map(|f| f.pulse(channel).map(|p| Sample { at: f.at, pulse: f64::from(p) })).collect();
        let runs = runs(&samples, f64::max(STRAY, STRAY_SIGMAS * sigma));
        Some(Self { channel, sigma, quiet_range: f64::from(quiet_high - quiet_low), samples, runs, rest })
    }

    /// Range of the pulses, µs.
    pub fn span(&self) -> f64 {
        robust::range(&self.samples.iter().map(|s| s.pulse).collect::<Vec<f64>>())
    }

    /// Judges the channel by itself. `period_us`: the usual time between frames.
    pub fn shape(&self, quiet: (Time, Time), period_us: u64, expected: Option<usize>) -> Shape {
        let dwells: Vec<&Run> = self.runs.iter().filter(|r| self.lasts(r, period_us) >= DWELL_US).collect();
        // The quiet window is the first dwell.
        let centres: Vec<f64> = std::iter::once(self.rest).chain(dwells.iter().map(|r| r.mean)).collect();
        let rests = match self.rests(&centres) {
            Ok(rests) => rests,
            // A slow hand makes dwells side by side, but never flat ones.
            Err(_) if dwells.iter().any(|run| self.drifts(run)) => return Shape::Continuous,
            Err(shape) => return shape,
        };
        let strays = self.strays(&rests);
        if strays.iter().any(|group| self.moves(group)) {
            return Shape::Continuous;
        }
        let first_stray = strays.first().and_then(|g| g.first()).copied();
        if let Some(apart) = dwells.iter().filter_map(|run| self.two_rests(run, period_us)).reduce(f64::min) {
            let needed = self.needed_apart();
            return Shape::Faulty(NotFound::TooClose { channel: self.channel, apart, needed });
        }
        if rests.len() < 2 {
            return Shape::Touched(first_stray.unwrap_or(self.rest));
        }
        // A single sample on the way is harmless only where the recipe has already said how many positions there are.
        let harmless = expected == Some(rests.len()) && strays.iter().all(|g| g.len() == 1);
        if let (Some(pulse), false) = (first_stray, harmless) {
            return Shape::Faulty(NotFound::PassedTooQuickly { channel: self.channel, pulse });
        }
        let mut visits = vec![Visit { level: nearest(&rests, self.rest), from: quiet.0, to: quiet.1 }];
        for run in dwells {
            let (from, to) = (self.samples[run.first].at, self.samples[run.last].at);
            let level = nearest(&rests, run.mean);
            match visits.last_mut() {
                Some(stay) if stay.level == level => stay.to = to,
                _ => visits.push(Visit { level, from, to }),
            }
        }
        let start = visits.first().map_or(0, |v| v.level);
        let levels = Levels { start, sigma: self.noise(&rests), rests, visits };
        self.complete(levels, expected)
    }

    /// The rests among the centres of the dwells: as few clusters as hold dwells that agree.
    fn rests(&self, centres: &[f64]) -> Result<Vec<f64>, Shape> {
        // Dwells all over the travel: a hand on a stick.
        let fitting = fewest(centres, f64::max(SAME, SAME_SIGMAS * self.sigma)).ok_or(Shape::Continuous)?;
        let needed = self.needed_apart();
        if let Some(apart) = fitting.closest().filter(|gap| *gap <= needed) {
            return Err(Shape::Faulty(NotFound::TooClose { channel: self.channel, apart, needed }));
        }
        if fitting.members.len() > MOST_POSITIONS {
            return Err(Shape::Faulty(NotFound::TooMany { channel: self.channel, count: fitting.members.len() }));
        }
        Ok(fitting.members.iter().filter_map(|m| robust::median(m)).collect())
    }

    /// At how many pulses it stood, the shortest stays counted as well; `None` where it can't be counted: a hand on a stick,
    /// or rests that may be one or two.
    pub fn rests_seen(&self) -> Option<usize> {
        let centres: Vec<f64> = std::iter::once(self.rest).chain(self.runs.iter().map(|run| run.mean)).collect();
        let counted = fewest(&centres, self.at_rest())?;
        let clear = counted.closest().is_none_or(|gap| gap > self.needed_apart());
        (clear && !self.runs.iter().any(|run| self.drifts(run))).then_some(counted.members.len())
    }

    fn needed_apart(&self) -> f64 {
        f64::max(APART, APART_SIGMAS * self.sigma)
    }

    /// How far two rests are apart that a dwell holds, since no jump between them is larger than its noise.
    fn two_rests(&self, run: &Run, period_us: u64) -> Option<f64> {
        let pulses: Vec<f64> = self.samples[run.first..=run.last].iter().map(|s| s.pulse).collect();
        let part = usize::try_from(PART_US / period_us.max(1)).unwrap_or(usize::MAX).max(MOVEMENT_SAMPLES);
        let total: f64 = pulses.iter().sum();
        let (mut before, mut found) = (0.0, None);
        for (index, pulse) in pulses.iter().enumerate() {
            before += pulse;
            let (first, second) = (index + 1, pulses.len() - index - 1);
            if first < part || second < part {
                continue;
            }
            let (first, second) = (number::count(first), number::count(second));
            let apart = (before / first - (total - before) / second).abs();
            let noise = PARTS_SIGMAS * self.sigma * (1.0 / first + 1.0 / second).sqrt();
            if apart > f64::max(PARTS_APART, noise) {
                found = Some(f64::max(apart, found.unwrap_or(0.0)));
            }
        }
        found
    }

    /// Whether all that makes a card was seen.
    fn complete(&self, levels: Levels, expected: Option<usize>) -> Shape {
        let channel = self.channel;
        let (rests, start) = (&levels.rests, levels.start);
        let (Some(low), Some(high)) = (rests.first().copied(), rests.last().copied()) else { return Shape::Continuous };
        if start != 0 && start + 1 != rests.len() {
            return Shape::Faulty(NotFound::StartedInTheMiddle { channel, start: rests[start], low, high });
        }
        let end = self.samples.last().map_or(self.rest, |s| s.pulse);
        if nearest(rests, end) != start || levels.visits.last().is_none_or(|v| v.level != start) {
            return Shape::Faulty(NotFound::EndedElsewhere { channel, start: rests[start], end });
        }
        let once: Vec<f64> = rests
            .iter()
            .enumerate()
            .filter(|(level, _)| levels.visits.iter().filter(|v| v.level == *level).count() < 2)
            .map(|(_, rest)| *rest)
            .collect();
        if !once.is_empty() {
            return Shape::Faulty(NotFound::SeenOnce { channel, rests: once });
        }
        if let Some(expected) = expected.filter(|n| *n != rests.len()) {
            let mut rests = rests.clone();
            if start != 0 {
                rests.reverse();
            }
            return Shape::Faulty(NotFound::CountDiffers { channel, rests, expected });
        }
        Shape::Switch(levels)
    }

    fn at_rest(&self) -> f64 {
        f64::max(AT_REST, AT_REST_SIGMAS * self.sigma)
    }

    /// Whether samples in a row are a movement and not short stays at a few pulses: most steps are larger than noise,
    /// or a run without a jump drifts.
    fn moves(&self, group: &[f64]) -> bool {
        let noise = self.at_rest();
        if group.len() < MOVEMENT_SAMPLES || robust::range(group) <= 2.0 * noise {
            return false;
        }
        let steps = group.windows(2).filter(|pair| (pair[1] - pair[0]).abs() > noise).count();
        let mut cut = group.chunk_by(|a, b| (b - a).abs() <= 2.0 * noise);
        2 * steps >= group.len() - 1 || cut.any(|run| robust::range(run) > 2.0 * noise)
    }

    /// A sample stands for the time to the next one, hence one period more than from first to last.
    fn lasts(&self, run: &Run, period_us: u64) -> u64 {
        self.samples[run.last].at.0.saturating_sub(self.samples[run.first].at.0).saturating_add(period_us)
    }

    /// Whether a run wanders further from its own mean than noise does.
    fn drifts(&self, run: &Run) -> bool {
        self.samples[run.first..=run.last].iter().any(|s| (s.pulse - run.mean).abs() > self.at_rest())
    }

    /// Groups of samples in a row that are away from every rest.
    fn strays(&self, rests: &[f64]) -> Vec<Vec<f64>> {
        let mut groups: Vec<Vec<f64>> = Vec::new();
        let mut open = false;
        for sample in &self.samples {
            let away = (sample.pulse - rests[nearest(rests, sample.pulse)]).abs() > self.at_rest();
            match groups.last_mut() {
                Some(group) if away && open => group.push(sample.pulse),
                _ if away => groups.push(vec![sample.pulse]),
                _ => {}
            }
            open = away;
        }
        groups
    }

    /// Noise at the noisiest rest; never less than in the quiet window.
    fn noise(&self, rests: &[f64]) -> f64 {
        let mut at_rest: Vec<Vec<f64>> = vec![Vec::new(); rests.len()];
        for sample in &self.samples {
            at_rest[nearest(rests, sample.pulse)].push(sample.pulse);
        }
        at_rest.iter().filter_map(|v| robust::sigma(v)).fold(self.sigma, f64::max)
    }
}

/// Index of the nearest rest. There is at least one.
pub(super) fn nearest(rests: &[f64], pulse: f64) -> usize {
    let off = |i: &usize| (rests[*i] - pulse).abs();
    (0..rests.len()).min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or(0)
}

/// As few clusters as hold none that is wider.
fn fewest(centres: &[f64], widest: f64) -> Option<Clusters> {
    let counts = 1..=centres.len().min(MOST_POSITIONS + 1);
    counts.filter_map(|k| clusters::divide(centres, k)).find(|found| found.widest() <= widest)
}

fn range(frames: &[ChannelFrame], channel: u32) -> Option<(u16, u16)> {
    let mut pulses = frames.iter().filter_map(|f| f.pulse(channel));
    let first = pulses.next()?;
    Some(pulses.fold((first, first), |(low, high), p| (low.min(p), high.max(p))))
}

/// Cuts samples where one is further than `stray` from the mean of the run before it.
fn runs(samples: &[Sample], stray: f64) -> Vec<Run> {
    let mut runs: Vec<Run> = Vec::new();
    let mut members = 0.0;
    for (index, sample) in samples.iter().enumerate() {
        match runs.last_mut() {
            Some(run) if (sample.pulse - run.mean).abs() <= stray => {
                members += 1.0;
                run.mean += (sample.pulse - run.mean) / members;
                run.last = index;
            }
            _ => {
                members = 1.0;
                runs.push(Run { first: index, last: index, mean: sample.pulse });
            }
        }
    }
    runs
}

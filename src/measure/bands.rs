//! The band of pulses in which a function bound to a switch position is on.
//!
//! Promises: no other position's rest and no pulse to be avoided comes inside, and every end is far enough from the
//! rest for its noise; else the figures why not. A band is on while `from <= pulse < to`. Must not know any board.

use super::number;
use super::rounding;
use thiserror::Error;

/// Farthest that an end lies from a rest, µs.
pub const WIDEST: f64 = 250.0;
/// Least margin between a rest and an end, µs; at least [`MARGIN_SIGMAS`] σ as well.
pub const MARGIN: f64 = 50.0;
/// See [`MARGIN`].
pub const MARGIN_SIGMAS: f64 = 6.0;

/// On while `from <= pulse < to`, in µs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Band {
    /// First pulse at which the function is on.
    pub from: i32,
    /// First pulse above at which it is off again.
    pub to: i32,
}

/// Where a board lets the ends of a band lie, µs: `least`, `least + granularity`, …, never above `most`.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct BandLimits {
    /// Lowest end.
    pub least: i32,
    /// Highest end.
    pub most: i32,
    /// Step between ends, at least 1.
    pub granularity: i32,
}

impl BandLimits {
    fn up(self, pulse: f64) -> i32 {
        self.on_grid((pulse - f64::from(self.least)) / f64::from(self.granularity), f64::ceil)
    }

    fn down(self, pulse: f64) -> i32 {
        self.on_grid((pulse - f64::from(self.least)) / f64::from(self.granularity), f64::floor)
    }

    fn on_grid(self, steps: f64, round: fn(f64) -> f64) -> i32 {
        self.least.saturating_add(number::whole(round(steps)).saturating_mul(self.granularity))
    }
}

/// What a band is computed from.
#[derive(Debug, Clone, Copy)]
pub struct BandQuestion<'a> {
    /// Rest pulse of every position in µs, position 0 first, rising or falling.
    pub rests: &'a [f64],
    /// Robust standard deviation of a rest pulse, µs.
    pub sigma: f64,
    /// Where ends may lie.
    pub limits: BandLimits,
    /// Pulses that must stay outside, such as the channel's value on link loss, µs.
    pub avoid: &'a [f64],
}

/// Which end of a band.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum End {
    /// The lower.
    From,
    /// The upper.
    To,
}

/// What lies so near that an end can't be further out.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Nearby {
    /// Another position's rest, µs.
    Rest(f64),
    /// The board's limit, µs.
    Limit(i32),
    /// A pulse to be avoided, µs.
    Avoided(f64),
    /// Nothing: noise asks for more than the widest band.
    Nothing,
}

/// A band can't be had.
#[derive(Debug, Clone, Copy, PartialEq, Error)]
pub enum BandError {
    /// No such position.
    #[error("position {position} is none of the switch's {positions} positions")]
    NoPosition {
        /// The position asked for.
        position: usize,
        /// How many there are.
        positions: usize,
    },
    /// A figure is not a number, or the limits leave nothing.
    #[error(
        "rest pulses and noise have to be numbers, and the limits of a band {least} to {most} µs in steps of at least 1"
    )]
    Nonsense {
        /// Lowest end.
        least: i32,
        /// Highest end.
        most: i32,
    },
    /// An end would lie too near to the rest.
    #[error(
        "position {position} rests at {rest:.0} µs with only {:.0} µs to the {} end of its band, and {:.0} µs are needed: {}",
        rounding::down(*.margin, 0),
        match .end { End::From => "lower", End::To => "upper" },
        rounding::up(*.needed, 0),
        hint(.because)
    )]
    Margin {
        /// The position.
        position: usize,
        /// Its rest, µs.
        rest: f64,
        /// Which end.
        end: End,
        /// Margin that could be had, µs; negative if the rest is outside.
        margin: f64,
        /// Margin that is needed, µs.
        needed: f64,
        /// What is in the way.
        because: Nearby,
    },
}

fn hint(because: &Nearby) -> String {
    match because {
        Nearby::Rest(rest) => {
            format!("another position rests at {rest:.0} µs; widen the travel of this channel in the radio")
        }
        Nearby::Limit(limit) => format!("the board's limit is {limit} µs; bring the end points of this channel in"),
        Nearby::Avoided(pulse) => {
            format!("the channel goes to {pulse:.0} µs on link loss; change that in the receiver")
        }
        Nearby::Nothing => "the rest pulse is too noisy; check the radio's link".to_owned(),
    }
}

/// The band of one position.
///
/// Its rest ± half the distance to the nearest neighbour, at most 250 µs, clipped to the limits, rounded inwards. A pulse
/// to be avoided keeps the end on its side at half the distance, as a neighbour would.
///
/// # Errors
/// No such position, figures that are not numbers, or a margin under the larger of 50 µs and 6 σ.
pub fn band_of(question: &BandQuestion<'_>, position: usize) -> Result<Band, BandError> {
    check(question, position)?;
    group_band(question, &[position])
}

/// The bands of several positions, rising in pulse: neighbouring positions become one band, unless a pulse to be
/// avoided lies between them.
///
/// # Errors
/// As [`band_of`].
pub fn bands_of(question: &BandQuestion<'_>, positions: &[usize]) -> Result<Vec<Band>, BandError> {
    for position in positions {
        check(question, *position)?;
    }
    let mut order: Vec<usize> = (0..question.rests.len()).collect();
    order.sort_by(|a, b| question.rests[*a].total_cmp(&question.rests[*b]));
    let mut groups: Vec<Vec<usize>> = Vec::new();
    let mut before: Option<usize> = None;
    for position in order {
        if !positions.contains(&position) {
            before = None;
            continue;
        }
        let rest = question.rests[position];
        let parted = |last: usize| question.avoid.iter().any(|a| (question.rests[last]..=rest).contains(a));
        match (groups.last_mut(), before) {
            (Some(group), Some(last)) if !parted(last) => group.push(position),
            _ => groups.push(vec![position]),
        }
        before = Some(position);
    }
    groups.iter().map(|group| group_band(question, group)).collect()
}

fn check(question: &BandQuestion<'_>, position: usize) -> Result<(), BandError> {
    let BandLimits { least, most, granularity } = question.limits;
    let positions = question.rests.len();
    if position >= positions {
        return Err(BandError::NoPosition { position, positions });
    }
    let mut figures = question.rests.iter().chain(question.avoid).chain(std::iter::once(&question.sigma));
    if least >= most || granularity < 1 || question.sigma < 0.0 || figures.any(|f| !f.is_finite()) {
        return Err(BandError::Nonsense { least, most });
    }
    Ok(())
}

/// The band around positions that are neighbours, lowest rest first; there is at least one.
fn group_band(question: &BandQuestion<'_>, group: &[usize]) -> Result<Band, BandError> {
    let (lowest, highest) = (group[0], group[group.len() - 1]);
    let (low, high) = (question.rests[lowest], question.rests[highest]);
    let needed = f64::max(MARGIN, MARGIN_SIGMAS * question.sigma);
    let limits = question.limits;

    let (reach, because) = reach(question, group, low, End::From);
    let wanted = low - reach;
    let clipped = wanted < f64::from(limits.least);
    let from = limits.up(wanted.max(f64::from(limits.least)));
    let margin = low - f64::from(from);
    if margin < needed {
        let because = if clipped { Nearby::Limit(limits.least) } else { because };
        return Err(BandError::Margin { position: lowest, rest: low, end: End::From, margin, needed, because });
    }

    let (reach, because) = self::reach(question, group, high, End::To);
    let wanted = high + reach;
    let clipped = wanted > f64::from(limits.most);
    let to = limits.down(wanted.min(f64::from(limits.most)));
    let margin = f64::from(to) - high;
    if margin < needed {
        let because = if clipped { Nearby::Limit(limits.most) } else { because };
        return Err(BandError::Margin { position: highest, rest: high, end: End::To, margin, needed, because });
    }
    Ok(Band { from, to })
}

/// How far an end may lie from the rest on its side, and what keeps it from lying further.
fn reach(question: &BandQuestion<'_>, group: &[usize], rest: f64, end: End) -> (f64, Nearby) {
    let mut best = (WIDEST, Nearby::Nothing);
    let mut narrow = |other: f64, because: Nearby| {
        let half = (other - rest).abs() / 2.0;
        if half < best.0 {
            best = (half, because);
        }
    };
    for (position, other) in question.rests.iter().enumerate() {
        if !group.contains(&position) {
            narrow(*other, Nearby::Rest(*other));
        }
    }
    for pulse in question.avoid {
        let on_this_side = match end {
            End::From => *pulse <= rest,
            End::To => *pulse >= rest,
        };
        if on_this_side {
            narrow(*pulse, Nearby::Avoided(*pulse));
        }
    }
    best
}

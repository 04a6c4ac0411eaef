//! Whether motors turned evenly over a dwell, from samples of their speeds.
//!
//! Promises: a motor without a signal, or with one that stands still, never counts as turning; a reading that no motor
//! can follow is none; every verdict comes with its figures. What hunts faster than half the rate of the samples they
//! can't show. Must not know how the motors were started.

use super::number;
use super::robust;
use std::time::Duration;

/// Lowest share of its own median to which a turning motor's speed may fall.
pub const LOWEST_SHARE: f64 = 0.30;
/// The coefficient of variation of a turning motor stays under this.
pub const MOST_VARIATION: f64 = 0.08;
/// Motors of one craft at one pulse agree within this factor.
pub const FELLOWS: f64 = 2.0;
/// A speed from here on is a movement, revolutions a minute: two turns a second; less is a reading's noise.
pub const MOVED_RPM: f64 = 120.0;
/// Fewest samples in a dwell that make a signal.
pub const FEWEST_SAMPLES: usize = 5;
/// A motor coasts no faster than with this, seconds (*common practice*): a reading further off the median than it comes
/// to from one sample to the next, whose neighbours both are nearer, is false.
pub const COASTS: f64 = 0.1;
/// Neighbours that are further away than this say nothing of the reading between them.
pub const FOLLOWS: Duration = Duration::from_millis(60);
/// One reading in so many may be false.
const FALSE_AT_MOST: usize = 20;
/// So many equal readings in a row, and half of all, are none: a speed that is measured is never quite the same.
const FROZEN: usize = 10;
/// Allowance on the speed that Kv, volts and duty allow. Measured Kv strays from the printed, and speed controllers
/// give a little more than the linear share at low throttle (*common practice*): what fails this is a false reading.
pub const SPEED_ALLOWANCE: f64 = 2.0;
/// Duty that speed controllers may add at low throttle (*common practice*); see [`SPEED_ALLOWANCE`].
pub const DUTY_OFFSET: f64 = 0.05;

/// Fastest believable speed in revolutions a minute: [`SPEED_ALLOWANCE`] × Kv × volts × duty, duty being the share
/// of the pulse between 1000 and 2000 µs plus [`DUTY_OFFSET`]; never more than Kv × volts with a tenth on top.
///
/// No-load speed ≈ Kv × volts of back-EMF: 920 rpm/V at 16.8 V give 15456 rpm.
#[must_use]
pub fn fastest(kv: f64, volts: f64, pulse: f64) -> f64 {
    let full = kv * volts;
    let duty = ((pulse - 1000.0) / 1000.0).clamp(0.0, 1.0) + DUTY_OFFSET;
    (SPEED_ALLOWANCE * full * duty).min(1.1 * full)
}

/// Speeds of one motor over a dwell.
#[derive(Debug, Clone, Copy, Default)]
pub struct MotorDwell<'a> {
    /// Samples in revolutions a minute, of either sign; empty where the motor has no signal.
    pub rpm: &'a [f64],
    /// Usual time between two samples.
    pub every: Duration,
    /// Fastest believable speed, where Kv and volts are known: see [`fastest`].
    pub fastest: Option<f64>,
}

/// How a motor behaved.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum MotorVerdict {
    /// Evenly, all through the dwell.
    Turns,
    /// It moved, but failed what turning asks for.
    Hesitates,
    /// It did not move.
    Still,
    /// Too few samples: nothing is known.
    NoSignal,
}

/// Figures of one motor's dwell.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Figures {
    /// Samples looked at.
    pub samples: usize,
    /// Median of the absolute speed, revolutions a minute.
    pub median_rpm: f64,
    /// Standard deviation ÷ mean of the absolute speed; 0 where it never moved.
    pub variation: f64,
    /// Lowest absolute speed ÷ median; 0 where the median is 0.
    pub lowest_share: f64,
}

impl Figures {
    /// Whether the speed stood by itself, whatever the other motors did.
    fn even(&self) -> bool {
        self.lowest_share >= LOWEST_SHARE && self.variation < MOST_VARIATION
    }
}

/// What keeps a motor that moved from counting as turning.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum TurningFault {
    /// It turned one way and the other.
    Reversed,
    /// Its reading stood at this, revolutions a minute, for half of the dwell.
    Frozen(f64),
    /// This share of its readings is false.
    False(f64),
    /// Its speed fell to this share of its median.
    Fell(f64),
    /// Its coefficient of variation.
    Uneven(f64),
    /// Faster than can be.
    TooFast {
        /// Highest speed seen, revolutions a minute.
        rpm: f64,
        /// Fastest believable.
        most: f64,
    },
    /// Another speed than the other motors that turned evenly.
    UnlikeFellows {
        /// Its median, revolutions a minute.
        rpm: f64,
        /// Median of the others' medians.
        fellows: f64,
    },
}

/// A motor, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// How it behaved.
    pub verdict: MotorVerdict,
    /// The figures; `None` without a signal.
    pub figures: Option<Figures>,
    /// What it failed, where it hesitates.
    pub faults: Vec<TurningFault>,
}

/// Judges all motors of one dwell together, in their order.
#[must_use]
pub fn judge(motors: &[MotorDwell<'_>]) -> Vec<Judged> {
    let dwells: Vec<Option<Measured>> = motors.iter().map(measure).collect();
    dwells
        .iter()
        .zip(motors)
        .enumerate()
        .map(|(index, (own, motor))| {
            let Some(own) = own else {
                return Judged { verdict: MotorVerdict::NoSignal, figures: None, faults: Vec::new() };
            };
            let figures = Some(own.figures);
            if own.highest < MOVED_RPM {
                return Judged { verdict: MotorVerdict::Still, figures, faults: Vec::new() };
            }
            let others: Vec<f64> = dwells
                .iter()
                .enumerate()
                .filter(|(other, _)| *other != index)
                // A motor that hesitates by its own figures is no measure for the others.
                .filter_map(|(_, d)| d.as_ref().filter(|d| d.figures.median_rpm >= MOVED_RPM && d.figures.even()))
                .map(|d| d.figures.median_rpm)
                .collect();
            let faults = faults(own, motor.fastest, robust::median(&others));
            let verdict = if faults.is_empty() { MotorVerdict::Turns } else { MotorVerdict::Hesitates };
            Judged { verdict, figures, faults }
        })
        .collect()
}

struct Measured {
    figures: Figures,
    highest: f64,
    /// What it fails by its readings alone.
    faults: Vec<TurningFault>,
}

fn measure(motor: &MotorDwell<'_>) -> Option<Measured> {
    let read: Vec<f64> = motor.rpm.iter().copied().filter(|rpm| rpm.is_finite()).collect();
    let all: Vec<f64> = read.iter().map(|rpm| rpm.abs()).collect();
    if all.len() < FEWEST_SAMPLES {
        return None;
    }
    let mut faults = Vec::new();
    let turning = |way: f64| read.iter().filter(|rpm| *rpm * way >= MOVED_RPM).count();
    // One of the other sign is a false reading.
    if turning(1.0).min(turning(-1.0)) > 1 {
        faults.push(TurningFault::Reversed);
    }
    let equal = all.chunk_by(|one, other| (one - other).abs() < f64::EPSILON).max_by_key(|run| run.len());
    if let Some(run) = equal.filter(|run| run.len() >= FROZEN && 2 * run.len() >= all.len() && run[0] >= MOVED_RPM) {
        faults.push(TurningFault::Frozen(run[0]));
    }
    let median_rpm = robust::median(&all)?;
    // Of a motor that hardly moves every movement stands out.
    let follows = median_rpm >= MOVED_RPM;
    let speeds = if follows { followed(&all, median_rpm, motor.every) } else { all.clone() };
    let false_ones = all.len() - speeds.len();
    if false_ones * FALSE_AT_MOST > all.len().max(FALSE_AT_MOST) {
        faults.push(TurningFault::False(number::count(false_ones) / number::count(all.len())));
    }
    let (mean, deviation) = robust::mean_and_deviation(&speeds)?;
    let lowest = speeds.iter().copied().fold(f64::INFINITY, f64::min);
    let share = |part: f64, whole: f64| if whole > 0.0 { part / whole } else { 0.0 };
    let figures = Figures {
        samples: speeds.len(),
        median_rpm,
        variation: share(deviation, mean),
        lowest_share: share(lowest, median_rpm),
    };
    Some(Measured { figures, highest: speeds.iter().copied().fold(0.0, f64::max), faults })
}

/// The readings that a motor can follow: without those that stand alone.
fn followed(all: &[f64], median: f64, every: Duration) -> Vec<f64> {
    let coasted = 1.0 - (-every.as_secs_f64() / COASTS).exp();
    let far = |rpm: &f64| (rpm - median).abs() > coasted.max(MOST_VARIATION) * median;
    let near = |place: Option<usize>| place.and_then(|place| all.get(place)).is_none_or(|rpm| !far(rpm));
    let lone = |(place, rpm): (usize, &f64)| {
        every <= FOLLOWS && far(rpm) && near(place.checked_sub(1)) && near(Some(place + 1))
    };
    all.iter().enumerate().filter(|reading| !lone((reading.0, reading.1))).map(|(_, rpm)| *rpm).collect()
}

fn faults(own: &Measured, fastest: Option<f64>, fellows: Option<f64>) -> Vec<TurningFault> {
    let Figures { median_rpm, variation, lowest_share, .. } = own.figures;
    let mut faults = own.faults.clone();
    if lowest_share < LOWEST_SHARE {
        faults.push(TurningFault::Fell(lowest_share));
    }
    if variation >= MOST_VARIATION {
        faults.push(TurningFault::Uneven(variation));
    }
    if let Some(most) = fastest.filter(|most| own.highest > *most) {
        faults.push(TurningFault::TooFast { rpm: own.highest, most });
    }
    if let Some(fellows) = fellows.filter(|f| median_rpm > FELLOWS * f || median_rpm * FELLOWS < *f) {
        faults.push(TurningFault::UnlikeFellows { rpm: median_rpm, fellows });
    }
    // What is wrong with the motor comes before what is wrong with its signal.
    faults.sort_by_key(|fault| matches!(fault, TurningFault::False(_)));
    faults
}

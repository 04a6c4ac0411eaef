//! A sample of times, and how it is spread.

use std::fmt;
use std::time::{Duration, Instant};

/// Times of one kind, in ascending order.
pub struct Spread(Vec<Duration>);

impl Spread {
    pub fn of(mut times: Vec<Duration>) -> Self {
        times.sort_unstable();
        Self(times)
    }

    /// Times something again and again.
    pub fn time<T>(runs: usize, mut run: impl FnMut() -> T) -> Self {
        let one = |_| {
            let begun = Instant::now();
            std::hint::black_box(run());
            begun.elapsed()
        };
        Self::of((0..runs).map(one).collect())
    }

    /// As [`Spread::time`], but of this thread's time on a core, where the system tells: other work on
    /// the machine disturbs it less.
    pub fn busy<T>(runs: usize, mut run: impl FnMut() -> T) -> Self {
        let begun = Instant::now();
        let one = |_| {
            let before = on_a_core(begun);
            std::hint::black_box(run());
            on_a_core(begun).saturating_sub(before)
        };
        Self::of((0..runs).map(one).collect())
    }

    /// The time that this share of all stays within (nearest rank).
    pub fn quantile(&self, share: f64) -> Duration {
        #[expect(
            clippy::cast_precision_loss,
            clippy::cast_possible_truncation,
            clippy::cast_sign_loss,
            reason = "counts of runs are small, shares lie between 0 and 1"
        )]
        let rank = (share * self.0.len() as f64).ceil() as usize;
        self.0[rank.clamp(1, self.0.len()) - 1]
    }

    pub fn median(&self) -> Duration {
        self.quantile(0.5)
    }

    pub fn least(&self) -> Duration {
        self.0[0]
    }
}

/// How long this thread has been on a core; where the system does not tell, the time since `begun`.
/// Source: Linux kernel documentation, `scheduler/sched-stats`.
fn on_a_core(begun: Instant) -> Duration {
    // The system brings its count up to date when it is asked to choose who runs next.
    std::thread::yield_now();
    let told = std::fs::read_to_string("/proc/thread-self/schedstat").ok();
    let nanoseconds = told.as_deref().and_then(|told| told.split(' ').next()?.parse().ok());
    nanoseconds.map_or_else(|| begun.elapsed(), Duration::from_nanos)
}

/// Median, and the tail where there are enough.
impl fmt::Display for Spread {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let at = |share| ms(self.quantile(share));
        if self.0.len() < 1000 {
            return write!(f, "median {}, least {} (n = {})", at(0.5), ms(self.least()), self.0.len());
        }
        let (p50, p99, p999) = (at(0.5), at(0.99), at(0.999));
        write!(f, "p50 {p50}, p99 {p99}, p99.9 {p999}, worst {} (n = {})", at(1.0), self.0.len())
    }
}

pub fn ms(time: Duration) -> String {
    format!("{:.3} ms", time.as_secs_f64() * 1e3)
}

/// A figure beside its goal.
pub fn beside(figure: Duration, goal: Duration) -> String {
    format!("{}, {:.2} of the goal of {}", ms(figure), figure.as_secs_f64() / goal.as_secs_f64(), ms(goal))
}

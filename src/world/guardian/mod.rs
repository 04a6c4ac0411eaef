//! The guardian: a child of the program that sends the stop when the program cannot.
//!
//! A process that hangs, is stopped or is killed stops nothing; its child, with a second description of the same wire and
//! the stop's bytes made beforehand, does. Here are the machine that decides, the pump that runs it in the child, and
//! the program's side. Must not be here: when it is renewed or released, which is the watch's judgement.

mod child;
pub mod machine;
mod orders;
mod pump;
mod second;

pub(super) use child::Child;
pub use child::own_program;
pub use pump::run;
pub(super) use second::{GuardWire, open, same};

use crate::measure::time::Time;
use rustix::time::{ClockId, clock_gettime};

/// The word of the command line that makes a process a guardian.
pub const WORD: &str = "guardian";
/// What the system calls such a process, in at most 15 characters (`prctl(2)`, `PR_SET_NAME`).
pub const NAME: &str = "quadjig-guard";

/// The system's clock that counts sleep where there is one: the same in the program and in its guardian.
fn boot() -> Time {
    #[cfg(target_os = "linux")]
    let now = clock_gettime(ClockId::Boottime);
    #[cfg(not(target_os = "linux"))]
    let now = clock_gettime(ClockId::Monotonic);
    let whole = u64::try_from(now.tv_sec).unwrap_or(0).saturating_mul(1_000_000);
    Time(whole.saturating_add(u64::try_from(now.tv_nsec / 1000).unwrap_or(0)))
}

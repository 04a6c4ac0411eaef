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

use super::clock;
use crate::measure::time::Time;

/// The word of the command line that makes a process a guardian.
pub const WORD: &str = "guardian";
/// What the system calls such a process, in at most 15 characters (`prctl(2)`, `PR_SET_NAME`).
pub const NAME: &str = "quadjig-guard";

/// The system's clock that counts sleep where there is one: the same in the program and in its guardian.
fn boot() -> Time {
    Time(0) + clock::reading()
}

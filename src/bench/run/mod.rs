//! The attended run as one linear course: connect, snapshot, plan, steps, closing.
//!
//! Must not be here: the procedures themselves, words for a screen beyond plain sentences.

mod arm;
mod closing;
mod connect;
mod execute;
mod job;
mod journal;
mod knowledge;
mod step;
mod switches;
mod writing;

pub use closing::close;
pub use connect::{Connected, connect};
pub use execute::run;
pub use job::{NamedCard, RunJob, Task, WallClock};
pub use knowledge::refusals;

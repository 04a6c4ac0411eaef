//! The attended run as one linear course: connect, snapshot, plan, steps, closing.
//!
//! Must not be here: the procedures themselves, words for a screen beyond plain sentences.

mod arm;
mod closing;
mod connect;
mod execute;
mod interrupted;
mod job;
mod journal;
mod knowledge;
mod meet;
mod step;
mod switches;
mod writing;

pub use closing::close;
pub use connect::{Connected, connect, nobody, several};
pub use execute::{run, steps};
pub use job::{NamedCard, RunJob, Task, WallClock};
pub use knowledge::{Knowledge, refusals, with_declared};
pub use meet::meet;

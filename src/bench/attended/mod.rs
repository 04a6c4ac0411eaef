//! The attended run as one linear course: connect, snapshot, plan, steps, closing.
//!
//! Must not be here: the procedures themselves, words for a screen beyond plain sentences.

mod adopt;
mod arm_switch;
mod calibrated;
mod closing;
mod connect;
mod execute;
mod interrupted;
mod job;
mod journal;
mod last_time;
mod motor_order;
mod provenance;
mod recover;
mod run_state;
mod series;
mod sheet_tried;
mod so_far;
mod standing;
mod step;
mod switches;
mod tried_again;
mod writing;

pub use adopt::{adopt_board, card_of};
pub use closing::close;
pub use connect::{Connected, connect, nobody, several};
pub use execute::{Follows, run, steps};
pub use job::{AskedJob, FirstCraft, InSeries, NamedCard, RunJob, RunOptions, SheetTried, Task, WallClock};
pub use recover::recover;
pub use run_state::{RunState, with_declared};
pub use series::next_craft;
pub use so_far::SoFar;
pub use writing::after_restart;

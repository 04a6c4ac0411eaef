//! Runs a plan: session, guards, clearance, watch, stop and procedures, without any input or output.
//!
//! Must not know how bytes or a terminal look.

mod back;
pub mod by_hand;
pub mod drive;
pub mod facts;
pub mod fault;
pub mod guards;
pub mod handle;
pub mod heat;
pub mod live;
pub mod mode;
pub mod page;
pub mod procedures;
pub mod prompt;
pub mod run;
pub mod seam;
pub mod session;
pub mod settings;
pub mod sheet_trial;
pub mod shown;
pub mod stop;
pub mod turn;
pub mod watch;
pub mod watch_page;
mod wire;

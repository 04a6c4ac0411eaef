//! Watches without working: the live page, and a sheet tried on a board. Nothing here writes or stops anything.

pub mod live_page;
pub mod page_build;
pub mod page_state;
pub mod sheet_trial;
mod staleness;

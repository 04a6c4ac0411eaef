//! Watches without working: the live page, a sheet tried on a board, and one that is new. Nothing here writes or stops anything.

pub mod contradictions;
pub mod live_page;
pub mod new_sheet;
pub mod page_build;
pub mod page_state;
pub mod sheet_trial;
mod staleness;

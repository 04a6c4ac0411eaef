//! Runs a plan: session, guards, clearance, watch, stop and procedures, without any input or output.
//!
//! Must not know how bytes or a terminal look.

pub mod seam;
pub mod shown;

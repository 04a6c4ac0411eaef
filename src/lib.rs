//! Quadjig sets up small multirotors: recipes compile to a guarded sequence of steps.
//!
//! Text goes down to a plan; a plan meets a board; what happened goes to the record. The folders
//! stand in the order in which they may import each other; see `DEVELOPERS.md` for the map.

pub mod bench;
pub mod board;
pub mod cli;
pub mod interlock;
pub mod language;
pub mod language_server;
pub mod machines;
pub mod measure;
pub mod plan;
pub mod record;
pub mod rehearsal;
pub mod report;
pub mod seam;
pub mod virtual_board;
pub mod world;

//! All tests in one binary: one folder a part of the house, one file a subject.
#![allow(clippy::unwrap_used, clippy::expect_used, missing_docs, reason = "a test that panics has found something")]
// As a fuzzer's program (see `fuzz/Cargo.toml`) it begins elsewhere, and most of what tests need is not used.
#![cfg_attr(fuzzing, no_main, allow(dead_code, unused_imports, unused_macros))]

mod bench;
mod board;
mod cli;
mod docs;
mod faults;
mod fuzz;
mod interlock;
mod language;
mod language_server;
mod machines;
mod measure;
mod model;
mod pace;
#[cfg(unix)]
mod peers;
mod plan;
#[cfg(unix)]
mod planted;
mod record;
mod rehearsal;
mod report;
mod spy;
mod virtual_board;
mod world;

//! Tests of `src/board/mavlink/`: the wire held against the MAVLink standard and its reference library.
//!
//! Sources, named beside the checks: CM is `message_definitions/v1.0/{common,standard,minimal}.xml` of the standard,
//! DG its developer guide, PY the reference library pymavlink 2.4.50, which made the golden frames from CM.

mod commands;
mod encoding;
mod golden;
mod golden_frames;
mod kit;
mod listing;
mod proof;
mod settings;
mod signals;
mod signing;
mod speakers;
mod stop;
mod strangers;
mod streams;
mod text;
mod versions;
mod wire;

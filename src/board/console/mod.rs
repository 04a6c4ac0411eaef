//! The console link: boards that answer typed lines of text, described wholly by a sheet.
//!
//! Bytes heard become lines and signals, requests become lines. One question is open at a time; what writes, stores,
//! restarts or turns a motor is never sent again. Knows no port, no clock, no operator, and judges no signal.

mod answer;
mod decode;
mod lines;
mod link;
mod question;
pub mod refusal;
pub mod sheet;
pub mod template;

pub use link::ConsoleLink;
pub use sheet::{Capability, ConsoleSheet, Exchange};
pub use template::{Pattern, Template};

//! The packet link: boards that answer small binary packets, described wholly by a sheet.
//!
//! Bytes heard become packets and signals, requests become packets. What writes, stores, restarts or turns a motor is on
//! its way alone and is never sent again. Knows no port, no clock, no operator, and judges no signal.

mod catalogue;
pub mod checksum;
mod decode;
pub mod field;
pub mod framing;
mod gate;
mod heard;
mod link;
pub mod misfit;
mod question;
pub mod reads;
pub mod refusal;
mod requests;
pub mod sheet;
pub mod slip;
pub mod splitter;

pub use link::PacketLink;
pub use sheet::PacketSheet;

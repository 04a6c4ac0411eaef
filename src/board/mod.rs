//! Boards: sheets, vocabulary, settings, live signals, and links as codecs.
//!
//! Must not know recipes' statements, operators or ports.

pub mod at_hand;
pub mod binding;
pub mod bound;
pub mod console;
pub mod convert;
pub mod craft_name;
pub mod document;
pub mod effect;
pub mod identity;
pub mod known;
pub mod leftovers;
pub mod link_detector;
pub mod mavlink;
pub mod motor_run;
mod outbox;
pub mod packets;
mod polled;
mod polls;
pub mod radio_card;
pub mod radio_card_file;
pub mod refusal;
pub mod sheet;
pub mod sheet_file;
pub mod shipped;
pub mod signals;
pub mod value;
pub mod vocabulary;

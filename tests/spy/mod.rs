//! A spy on the wire: stands between the real session and one or two virtual boards, and believes neither.
//!
//! It decodes every byte by code of its own, keeps what left, when and for whom, and what both crafts truly did. It
//! can make a craft fall silent, let another speak on the same open wire, delay, lose and double frames, and freeze or
//! suspend the program. Must not be here: what is right.

mod frames;
mod log;
mod play;
mod wire;

pub use frames::{Class, Heard, heard, line_classes, mavlink_classes};
pub use log::{Craft, Log, Sent};
pub use play::{Played, Scene, bound, recipe_with};
pub use wire::{Act, Do, View, Weather};

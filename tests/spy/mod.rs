//! A spy on the wire: stands between the real session and one or two virtual boards, and believes neither.
//!
//! It decodes every byte by code of its own, keeps what left, when and for whom, and what both crafts truly did. It
//! can make a craft fall silent, let another speak on the same open wire, delay, lose and double frames, and freeze or
//! suspend the program. Must not be here: what is right.

mod frames;
mod log;
mod packets;
mod play;
#[cfg(unix)]
mod proxy;
mod script;
mod wire;

pub use frames::{Class, Heard, is_forced_stop};
pub use log::{Craft, Seen};
pub use play::{Played, Scene, bound, finch_c_without_banner, recipe_with, without_banner};
#[cfg(unix)]
pub use proxy::{Kept, Proxy};
pub use script::{Act, Do, View, Weather};

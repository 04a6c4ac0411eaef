//! The interlock: why nothing turns by surprise.

pub mod craft;
pub mod guardian;
pub mod guards;
pub mod signals;
pub mod state;
pub mod stop;
pub mod watch;

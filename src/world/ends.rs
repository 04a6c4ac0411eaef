//! What an opened wire is made of, whatever kind it is.
//!
//! Must not be here: how any of them is opened.

use super::guardian::GuardWire;
use super::writer::WireOut;
use crate::seam::{OpenError, PortInfo};
use std::io::Read;
use std::sync::Arc;

/// An open wire's two ends.
pub(super) struct Ends {
    pub(super) input: Box<dyn Read + Send>,
    pub(super) output: Box<dyn WireOut>,
    pub(super) info: PortInfo,
    /// A second description of it, where the system can give one.
    pub(super) guard: Option<GuardWire>,
}

/// Makes the two ends of a wire that is no port of the system, such as the virtual board's.
pub(super) type Maker = Arc<dyn Fn() -> Result<Ends, OpenError> + Send + Sync>;

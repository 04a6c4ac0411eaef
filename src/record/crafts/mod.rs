//! Records as stories of crafts: what is listed, told and compared of them.
//!
//! Promises: reading changes nothing and takes no lock; one craft whose record can't be read hides no other. Must not be
//! here: how any of it is shown.

pub mod compare;
pub mod find;
pub mod glance;
pub mod label;
pub mod repair;
pub mod runs;
pub mod shown;
pub mod state;
pub mod unsettled;

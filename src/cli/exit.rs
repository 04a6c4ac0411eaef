//! The exit codes, under the name by which commands know them; their one table stands in `seam::exit`.

pub use crate::seam::exit::Exit;

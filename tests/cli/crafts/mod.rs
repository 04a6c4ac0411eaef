//! `quadjig craft` and the record behind it: what a run leaves, told, listed and compared over the real program.

mod compared;
mod damaged;
mod kept;
mod listed;

use super::Sandbox;
use super::attended::{SMALL, run_arguments};
use super::desk::board::Board;
use super::desk::{Attended, willing};

/// A craft on which [`SMALL`] was run to its end.
pub fn flown(sandbox: &Sandbox, board: &mut Board, more: &[&str]) {
    sandbox.write("wren.jig", SMALL);
    let port = board.port.clone();
    let arguments = [&run_arguments("wren.jig", &port)[..], more].concat();
    let ended = Attended::start(sandbox, board, &arguments).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
}

//! Ten boards that do not mean well, each met by the real program over a pseudo-terminal: a clear sentence in bounded
//! time, the right exit code, and nothing on the board's wire that was not asked for.
//!
//! Every byte that the program sends is kept and read with the message crate, not with our own codec.

pub mod between;
mod changes;
mod liars;
mod noise;
mod packets;
pub mod port;
mod script;

use super::Sandbox;
use super::attended::SMALL;
use mavlink::dialects::common::{MavCmd, MavMessage};
use std::time::{Duration, Instant};

/// A sandbox with the small recipe.
fn sandbox() -> Sandbox {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", SMALL);
    sandbox
}

/// What a command says of the board at a port, within this time; never with a raw control character.
fn says(sandbox: &Sandbox, arguments: &[&str], port: &str, within: Duration) -> String {
    let began = Instant::now();
    let said = sandbox.run(&[arguments, &["--port", port, "--records", "crafts"]].concat());
    assert!(began.elapsed() < within, "{:?}: {said}", began.elapsed());
    assert!(!said.chars().any(|c| c.is_control() && c != '\n'), "{said:?}");
    said.replace(port, "PORT")
}

/// What of these bytes is more than asking: everything but signs of life, requests to read, and intervals.
pub fn changes(sent: &[u8]) -> Vec<String> {
    let (frames, rest) = port::frames(sent);
    assert_eq!(rest.len(), 0, "whole frames and nothing else: {rest:?}");
    let more = |message: &MavMessage| match message {
        MavMessage::HEARTBEAT(_) | MavMessage::PARAM_REQUEST_LIST(_) | MavMessage::PARAM_REQUEST_READ(_) => None,
        MavMessage::COMMAND_LONG(command) => match command.command {
            MavCmd::MAV_CMD_REQUEST_MESSAGE | MavCmd::MAV_CMD_SET_MESSAGE_INTERVAL => None,
            other => Some(format!("{other:?}")),
        },
        MavMessage::PARAM_SET(write) => Some(format!("set {}", write.param_id.to_str().unwrap())),
        other => Some(format!("{other:?}")),
    };
    frames.iter().filter_map(|frame| more(&port::message(frame))).collect()
}

/// How a run ended, in one line: where lines break depends on the machine's paths.
fn ending(screen: &str) -> String {
    let from = screen.find("Not finished").unwrap_or(0);
    screen[from..].split_whitespace().collect::<Vec<_>>().join(" ")
}

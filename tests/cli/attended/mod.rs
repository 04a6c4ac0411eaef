//! The main job as a person meets it: a recipe run on a board, at a terminal, from end to end.

mod broken;
mod console;
mod cut_off;
mod declined;
mod fitted;
mod frames;
pub mod motors;
mod new_sheet;
mod no_terminal;
mod packets;
mod power_cycle;
mod refused;
mod restored;
mod spied;
mod sticks;
mod stopped;
mod udp;
mod whole;
mod wire;

use super::desk::board::Board;

/// Battery out only: declared radio, arm bound and proved.
pub const SMALL: &str = r#"
recipe "Wren 95, arm"
edition 1
craft quad x turning inward
board "Finch"
require props off
require battery out
require throttle low
channels roll, pitch, throttle, yaw
switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged
bind arm to switch B position 2
at zero throttle spin
battery 2 cells lipo warn at 3.6 V per cell land at 3.4 V per cell
keep
test arm
"#;

/// The whole job in short: also the idle searched, and the cut proved, with the battery in.
pub fn whole() -> String {
    format!(
        "{SMALL}
require battery in
idle start at 1150 step 20 until all spin, at most 1200, for 1 s, in 1 starts, then add 20
keep
test cut within 800 ms
"
    )
}

/// One motor step: on a board that is [`ready`], two questions lead to it.
pub const CUT: &str = r#"
recipe "Wren 95, cut"
edition 1
craft quad x turning inward
board "Finch"
require props off
channels roll, pitch, throttle, yaw
switch B on channel 6 rests at 1000, 1500, 2000 on link loss flagged
bind arm to switch B position 2
at zero throttle spin
require battery in
test cut within 800 ms
"#;

/// The arguments that run a recipe on this board.
pub fn run_arguments<'a>(recipe: &'a str, port: &'a str) -> [&'a str; 6] {
    ["run", recipe, "--port", port, "--records", "crafts"]
}

/// A board on which [`CUT`] has nothing to write, with the battery in.
pub fn ready() -> Board {
    let mut board = Board::new();
    for setting in ["ARM_CHANNEL 6", "ARM_FROM 1754", "ARM_TO 2146", "SPIN_AT_ZERO 1", "IDLE_US 1150"] {
        board.line(&format!("set {setting}"));
    }
    board.line("battery in");
    board
}

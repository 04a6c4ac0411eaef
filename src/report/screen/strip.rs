//! The strip: one row that says what the asked switch, stick, attitude or motor does now, and how long it may take.
//!
//! Promises: one row of the terminal's width, cut rather than wrapped; in the linear style words alone, which change only
//! with what they say. Must not be here: how often it is drawn.

use super::Style;
use super::line::{Ink, ink};
use crate::language::units::Pulse;
use crate::report::gate;
use crate::report::words::{columns, fit};
use crate::seam::strip::{Now, SHORT, Strip, TimeLeft};

/// Cells of a bar, of each trace, and whether a switch has its pulse, from where there is most room to where there is none.
const ROOM: [(usize, usize, bool); 7] =
    [(10, 8, true), (10, 4, true), (4, 4, true), (4, 3, true), (4, 0, true), (0, 0, true), (0, 0, false)];
/// Heights of a trace.
const HEIGHTS: [char; 8] = ['▁', '▂', '▃', '▄', '▅', '▆', '▇', '█'];

/// The row.
pub(super) fn row(style: Style, strip: &Strip, width: usize) -> String {
    if style.plain {
        return linear(strip);
    }
    let room = width.saturating_sub(1);
    let most = strip.now.iter().filter_map(fastest).max().unwrap_or(0);
    let laid = |(bar, trace, pulses): (usize, usize, bool)| {
        let said: Vec<String> = strip.now.iter().map(|now| words(now, trace, most, pulses)).collect();
        let time = strip.time.as_ref().map_or_else(String::new, |time| left(time, bar));
        (format!("  {}", said.join("  ")), time)
    };
    let fits = |(words, time): &(String, String)| columns(words) + columns(time) + 2 <= room;
    let (words, time) = ROOM.into_iter().map(laid).find(fits).unwrap_or_else(|| laid(ROOM[ROOM.len() - 1]));
    let words = fit(&words, room.saturating_sub(columns(&time) + 2));
    let gap = " ".repeat(room.saturating_sub(columns(&words) + columns(&time)));
    let armed = matches!(strip.now.first(), Some(Now::Armed(true)));
    let words = match words.trim_start().strip_prefix(ARMED).filter(|_| armed) {
        Some(rest) => format!("  {}{rest}", ink(style, Ink::Danger, ARMED)),
        None => words,
    };
    format!("{words}{gap}{time}").trim_end().to_owned()
}

/// Said of an armed craft.
const ARMED: &str = "ARMED";

/// What is seen, with a trace of so many cells where there is one, drawn to this scale; a switch with or without its pulse.
fn words(now: &Now, cells: usize, most: u32, pulses: bool) -> String {
    match now {
        Now::Switch { switch, pulse, position, asked } => {
            let name = gate::line(&switch.0);
            let Some(pulse) = pulse else { return format!("{name} is not heard") };
            let pulse = if pulses { format!(", {pulse}") } else { String::new() };
            match (position, asked) {
                (Some(is), Some(asked)) if is != asked => format!("{name} is at {is}, {asked} is asked{pulse}"),
                (Some(is), _) => format!("{name} is at {is}{pulse}"),
                (None, Some(asked)) => format!("{name} is between positions, {asked} is asked{pulse}"),
                (None, None) => format!("{name} is between positions{pulse}"),
            }
        }
        Now::Throttle { pulse: None, .. } => "throttle is not heard".to_owned(),
        Now::Throttle { pulse: Some(pulse), low } => {
            format!("throttle {} at {pulse}", if *low { "low" } else { "UP" })
        }
        Now::Moves { channel, pulse, between: (least, most) } => {
            format!("channel {channel} at {pulse} ({} to {})", least.0, most.0)
        }
        Now::Missing(what) => (*what).to_owned(),
        Now::Attitude(roll, pitch) => format!("roll {}, pitch {} deg", tenth(*roll), tenth(*pitch)),
        Now::Pack(None) => "pack not told".to_owned(),
        Now::Pack(Some(volts)) => format!("pack {}.{:02} V", volts / 100, volts % 100),
        Now::Radio(true) => "the radio is heard".to_owned(),
        Now::Radio(false) => "the radio is not heard".to_owned(),
        Now::Armed(true) => ARMED.to_owned(),
        Now::Armed(false) => "not armed".to_owned(),
        Now::Motor { corner, rpm, output, trace } => {
            let value = rpm.map_or_else(|| format!("{output} us"), |rpm| rpm.to_string());
            let trace = drawn(&trace[trace.len().saturating_sub(cells)..], most);
            let space = if trace.is_empty() { "" } else { " " };
            format!("{} {trace}{space}{value}", initials(corner))
        }
    }
}

fn fastest(now: &Now) -> Option<u32> {
    match now {
        Now::Motor { trace, .. } => trace.iter().copied().max(),
        _ => None,
    }
}

/// Speeds as heights, all motors on one scale.
pub(super) fn drawn(trace: &[u32], most: u32) -> String {
    let top = HEIGHTS.len() as u64 - 1;
    let height = |rpm: &u32| u64::from(*rpm) * top / u64::from(most.max(1));
    trace.iter().filter_map(|rpm| HEIGHTS.get(usize::try_from(height(rpm)).ok()?)).collect()
}

/// `front left` as `FL`.
pub(super) fn initials(corner: &str) -> String {
    let first = corner.split(' ').filter_map(|word| word.chars().next());
    gate::line(&first.flat_map(char::to_uppercase).collect::<String>()).into_owned()
}

fn tenth(tenths: i32) -> String {
    let sign = if tenths < 0 { "-" } else { "" };
    format!("{sign}{}.{}", tenths.abs() / 10, tenths.abs() % 10)
}

/// What is left of a time, and a bar that fills as it passes.
fn left(time: &TimeLeft, cells: usize) -> String {
    let TimeLeft { left, whole } = *time;
    let said = if whole <= SHORT {
        format!("{}.{} s", left.as_secs(), left.subsec_millis() / 100)
    } else {
        format!("{} s", left.as_secs())
    };
    if cells == 0 {
        return said;
    }
    let gone = whole.saturating_sub(left).as_millis() * cells as u128 / whole.as_millis().max(1);
    let gone = usize::try_from(gone).unwrap_or(cells).min(cells);
    let left = if cells == ROOM[0].0 { " left" } else { "" };
    format!("{said}{left} [{}{}]", "█".repeat(gone), "·".repeat(cells - gone))
}

/// In words that stay while only noise moves: no time, and values rounded.
fn linear(strip: &Strip) -> String {
    let coarse = |pulse: Pulse| Pulse((pulse.0 + 25) / 50 * 50);
    let said = strip.now.iter().map(|now| match now {
        Now::Switch { switch, pulse, position, asked } => {
            let (pulse, (position, asked)) = (pulse.map(coarse), (*position, *asked));
            words(&Now::Switch { switch: switch.clone(), pulse, position, asked }, 0, 0, true)
        }
        Now::Throttle { pulse, low } => words(&Now::Throttle { pulse: pulse.map(coarse), low: *low }, 0, 0, true),
        Now::Moves { channel, .. } => format!("channel {channel} moves"),
        Now::Attitude(roll, pitch) => {
            let whole = |tenths: i32| (tenths + 5).div_euclid(10);
            format!("roll {}, pitch {} deg", whole(*roll), whole(*pitch))
        }
        Now::Pack(volts) => words(&Now::Pack(volts.map(|volts| (volts + 5) / 10 * 10)), 0, 0, true),
        Now::Motor { corner, rpm: Some(rpm), .. } => format!("{} {} rpm", gate::line(corner), (rpm + 250) / 500 * 500),
        Now::Motor { corner, output, .. } => format!("{} {output} us", gate::line(corner)),
        now => words(now, 0, 0, true),
    });
    said.collect::<Vec<_>>().join(", ")
}

//! Figures: how long reading all settings over MAVLink takes, as a ratio to the time of the bytes alone.
//!
//! `cargo bench --bench settings` prints the ratios on simulated time and a few on a real path; `-- full` all of them,
//! `-- simulated` or `-- real` one kind, and numbers behind `real full` only the wires of that baud rate or so many settings. On the real path the virtual board stands at a pseudo-terminal, in a process
//! of its own, and this program and the reference library read it in turn. Nothing here passes or fails.

#![expect(clippy::print_stdout, reason = "figures are printed")]
#![expect(clippy::unwrap_used, clippy::expect_used, reason = "a bench that cannot run ends at once, saying where")]

#[cfg(unix)]
mod ours;
#[path = "../../virtual_board/reading.rs"]
mod reading;
#[cfg(unix)]
mod real;
#[cfg(unix)]
mod served;
mod simulated;

/// One wire.
#[derive(Debug, Clone, Copy)]
struct Case {
    baud: u32,
    settings: usize,
    /// Share of messages lost in each direction.
    loss: f64,
}

const LOSSES: [f64; 4] = [0.0, 0.01, 0.05, 0.2];
/// Seeds of each case.
const SEEDS: u64 = 20;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with("--")).collect();
    let named = |name: &str| words.iter().any(|word| word == name);
    #[cfg(unix)]
    match words.first().map(String::as_str) {
        Some(served::WORD) => return served::serve(&words[1..]),
        Some(ours::WORD) => return ours::read(&words[1..]),
        _ => {}
    }
    println!("{}", machine());
    if !named("real") {
        simulated::figures();
    }
    #[cfg(unix)]
    if !named("simulated") {
        let only: Vec<usize> = words.iter().filter_map(|word| word.parse().ok()).collect();
        real::figures(named("full"), &only);
    }
}

/// The one in the middle; the upper of two.
fn median(values: &mut [f64]) -> f64 {
    values.sort_by(f64::total_cmp);
    values[values.len() / 2]
}

/// What the figures belong to: cores, processor, system, and how busy the machine is with other things.
fn machine() -> String {
    let cores = std::thread::available_parallelism().map_or(0, usize::from);
    let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    let load = load.split(' ').take(3).collect::<Vec<_>>().join(" ");
    format!("{cores} cores, {}, {}; load {load}", std::env::consts::ARCH, std::env::consts::OS)
}

//! Figures: how long checking, listing crafts, rehearsing, stopping and a live page take on this machine.
//!
//! `cargo bench --bench figures` prints all of them; `-- check`, `-- crafts`, `-- rehearsal`, `-- stop`, `-- guardian`,
//! `-- server` or `-- watch` one, and `-- stop 300` with fewer runs. Nothing here passes or fails: figures belong to a machine.

#![expect(clippy::print_stdout, reason = "figures are printed")]
#![expect(clippy::unwrap_used, clippy::expect_used, reason = "a bench that cannot run ends at once, saying where")]

mod check;
mod crafts;
#[cfg(target_os = "linux")]
mod guardian;
mod rehearsal;
mod server;
mod spread;
#[cfg(unix)]
mod stop;
#[cfg(unix)]
mod watch;

fn main() {
    let words: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with("--")).collect();
    let named = |name: &str| words.iter().any(|word| word == name);
    #[cfg(unix)]
    if named(stop::SPIN) {
        stop::spin();
    }
    #[cfg(target_os = "linux")]
    if let Some(at) = words.iter().position(|word| word == guardian::victim::WORD) {
        guardian::victim::run(&words[at + 1], words[at + 2] == guardian::victim::SIGNED);
    }
    let count = words.iter().find_map(|word| word.parse().ok());
    let all = !words.iter().any(|word| word.parse::<usize>().is_err());
    println!("{}", machine());
    if all || named("check") {
        check::figures();
    }
    if all || named("crafts") {
        crafts::figures(count.unwrap_or(30));
    }
    if all || named("rehearsal") {
        rehearsal::figures(count.unwrap_or(200));
    }
    if all || named("server") {
        server::figures(count.unwrap_or(1_000));
    }
    #[cfg(unix)]
    if all || named("stop") {
        stop::figures(count.unwrap_or(3_000));
    }
    #[cfg(target_os = "linux")]
    if all || named("guardian") {
        guardian::figures(&words, count.unwrap_or(200));
    }
    #[cfg(unix)]
    if all || named("watch") {
        watch::figures(count.and_then(|count| u64::try_from(count).ok()).unwrap_or(10));
    }
}

/// What the figures belong to: cores, processor, system, and how busy the machine is with other things.
fn machine() -> String {
    let cores = std::thread::available_parallelism().map_or(0, usize::from);
    let load = std::fs::read_to_string("/proc/loadavg").unwrap_or_default();
    let load = load.split(' ').take(3).collect::<Vec<_>>().join(" ");
    format!("{cores} cores, {}, {}; load {load}", std::env::consts::ARCH, std::env::consts::OS)
}

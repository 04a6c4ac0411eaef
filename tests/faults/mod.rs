//! The proof under faults: a world that may fail in every way, from a seed, and a judge that shares no code with the
//! program.
//!
//! In the suite some hundreds of seeds. `QUADJIG_FAULTS=20000 cargo test --release --test all faults::many -- --nocapture`
//! plays so many on all cores and prints what befell them (`1001-3000` are those seeds); `QUADJIG_FAULTS_SEED=7` with
//! `faults::replay` tells one in full. Must not be here: what is right, what befalls.

mod dice;
pub mod disk;
mod driven;
mod exhausted;
mod fates;
mod fork;
mod frames;
mod hands;
mod judge;
mod many;
mod outside;
mod play;
#[cfg(unix)]
mod second;
mod settled;
mod trace;
mod typed;
mod wire;
mod world;

/// A world of which these bytes decide what befalls it; what it broke.
pub fn plays(bytes: &[u8]) -> Vec<String> {
    let played = play::play_with(dice::Dice::of_bytes(bytes), 1, false);
    played.broken.iter().map(|broken| format!("{}: {}", broken.property, broken.what)).collect()
}

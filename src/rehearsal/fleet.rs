//! One recipe over many virtual craft, whose motors, radios and packs are spread by a seed.
//!
//! Promises: the same seeds give the same craft and the same runs, in the order of the seeds, on any
//! number of threads. Must not be here: words.

use super::rehearse::{Rehearsed, Script, rehearse, willing};
use super::simulated::Disk;
use super::your_craft::like_yours;
use crate::measure::time::Time;
use crate::seam::fault::Fault;
use crate::seam::ui::IdleFound;
use crate::virtual_board::{Make, World, WorldConfig};
use serde_json::Value;
use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, Mutex};

/// How one craft of a fleet did.
#[derive(Debug, Clone)]
pub struct Craft {
    /// Its seed: the same craft again, any time.
    pub seed: u64,
    /// How its run ended.
    pub result: Result<(), Fault>,
    /// What it stores otherwise than before, by the board's own names.
    pub changed: BTreeMap<String, Value>,
    /// Questions asked.
    pub questions: u32,
    /// Restarts of the board.
    pub restarts: u32,
    /// Simulated time on the bench.
    pub took: Time,
    /// What its last idle search found.
    pub idle: Option<IdleFound>,
    /// The pulse that starts each motor 999 times in 1,000 with its pack, µs, by corner: the world's own truth.
    pub starts: BTreeMap<String, f64>,
}

impl Craft {
    /// The pulse that starts every motor so, µs.
    #[must_use]
    pub fn sure_start(&self) -> f64 {
        self.starts.values().copied().fold(0.0, f64::max)
    }

    /// What a rehearsal on the craft of a seed came to.
    #[must_use]
    pub fn of(seed: u64, rehearsed: Rehearsed) -> Self {
        let truth = rehearsed.board.truth();
        let motors = truth["motors"].as_array();
        let start = |motor: &Value| Some((motor["corner"].as_str()?.to_owned(), motor["highest_start"].as_f64()?));
        Self {
            seed,
            result: rehearsed.result,
            changed: rehearsed.changed,
            questions: rehearsed.questions,
            restarts: rehearsed.restarts,
            took: rehearsed.took,
            idle: rehearsed.idle,
            starts: motors.into_iter().flatten().filter_map(start).collect(),
        }
    }
}

/// The craft of a seed, with a board of this make.
#[must_use]
pub fn spread(make: &Arc<Make>, seed: u64) -> WorldConfig {
    WorldConfig::spread_on(make.frame, seed).made(Arc::clone(make))
}

/// Rehearses on `count` craft, from `seed` on, on `threads` threads at most; `progress` hears how many are done.
#[must_use]
pub fn fleet(
    script: &Script,
    make: &Arc<Make>,
    seed: u64,
    count: u32,
    threads: usize,
    progress: &(dyn Fn(usize) + Sync),
) -> Vec<Craft> {
    let seeds: Vec<u64> = (0..count).map(|place| seed.wrapping_add(u64::from(place))).collect();
    let next = AtomicUsize::new(0);
    let done: Mutex<Vec<(usize, Craft)>> = Mutex::new(Vec::with_capacity(seeds.len()));
    std::thread::scope(|scope| {
        for _ in 0..threads.clamp(1, seeds.len().max(1)) {
            scope.spawn(|| {
                while let Some((place, seed)) = take(&next, &seeds) {
                    let craft = one(script, like_yours(spread(make, seed), script).config);
                    // Held only to push: a panic of another thread cannot have left it half done.
                    let mut done = done.lock().unwrap_or_else(std::sync::PoisonError::into_inner);
                    done.push((place, craft));
                    progress(done.len());
                }
            });
        }
    });
    let mut done = done.into_inner().unwrap_or_else(std::sync::PoisonError::into_inner);
    done.sort_by_key(|(place, _)| *place);
    done.into_iter().map(|(_, craft)| craft).collect()
}

fn take(next: &AtomicUsize, seeds: &[u64]) -> Option<(usize, u64)> {
    let place = next.fetch_add(1, Ordering::Relaxed);
    seeds.get(place).map(|seed| (place, *seed))
}

fn one(script: &Script, config: WorldConfig) -> Craft {
    let (seed, mut operator) = (config.seed, willing(&config));
    Craft::of(seed, rehearse(script, World::new(config), &mut operator, Disk::default(), |_, _| {}))
}

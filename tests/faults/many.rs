//! Many seeds on all cores, one seed in full, and a failure made small.

use super::dice::{Decision, Kind, MORE, Part};
use super::judge::PREMISES;
use super::play::{Played, play};
use super::trace;
use std::collections::{BTreeMap, BTreeSet};
use std::fmt::Write as _;
use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};
use std::time::{Duration, Instant};

/// How long the suite goes on with seeds.
const SUITE: Duration = Duration::from_secs(12);
/// Seeds of the suite, half of them with all kinds of fault.
const SEEDS: u64 = 400;

/// What was there, over all seeds.
#[derive(Default)]
struct Tally {
    seeds: u64,
    well: u64,
    kinds: BTreeMap<&'static str, u64>,
    phases: BTreeMap<(&'static str, String), u64>,
    met: BTreeMap<&'static str, u64>,
    ended: BTreeMap<String, u64>,
    times: Vec<Duration>,
    failed: BTreeMap<u64, String>,
}

impl Tally {
    fn add(&mut self, seed: u64, played: &Played, took: Duration) {
        self.seeds += 1;
        self.well += u64::from(played.ended == "well");
        self.times.push(took);
        for (decision, phase) in &played.fired {
            *self.kinds.entry(decision.kind.name()).or_default() += 1;
            *self.phases.entry((decision.kind.name(), phase.clone())).or_default() += 1;
        }
        for (property, times) in &played.met {
            *self.met.entry(property).or_default() += times;
        }
        let ended: String = played.ended.chars().filter(|c| !c.is_ascii_digit()).take(60).collect();
        *self.ended.entry(format!("{}: {ended}", played.recipe.lines().last().unwrap_or_default())).or_default() += 1;
        if let Some(broken) = played.broken.first() {
            self.failed.insert(seed, format!("{} at {} ms: {}", broken.property, broken.at.0 / 1000, broken.what));
        }
    }

    fn table(&mut self) -> String {
        let mut text = String::new();
        self.times.sort();
        let at = |share: usize| self.times.get(self.times.len() * share / 100).copied().unwrap_or_default();
        let _ = writeln!(
            text,
            "{} seeds, {} of them ended well; a seed {:?} (median), {:?} (p90), {:?} (p99)",
            self.seeds,
            self.well,
            at(50),
            at(90),
            at(99)
        );
        let _ = writeln!(text, "\npremises met: {:?}\n", self.met);
        let states = [
            "NoContact",
            "Looking",
            "Still",
            "SwitchesWorked",
            "Storing",
            "Restarting",
            "Invited",
            "Turning",
            "Stopping",
            "Latched",
        ];
        let _ = writeln!(text, "| fault | times | {} |\n|---|---|{}", states.join(" | "), "---|".repeat(states.len()));
        for kind in Kind::ALL {
            let name = kind.name();
            let hits = states.map(|state| self.phases.get(&(name, state.to_owned())).copied().unwrap_or(0).to_string());
            let _ =
                writeln!(text, "| {name} | {} | {} |", self.kinds.get(name).copied().unwrap_or(0), hits.join(" | "));
        }
        text
    }
}

/// Plays seeds on all cores, until all are played, time is up or, where so said, one failed.
fn all(seeds: &[u64], until: Option<Instant>, first: bool) -> Tally {
    let threads = std::thread::available_parallelism().map_or(2, usize::from);
    let (next, tally) = (AtomicU64::new(0), Mutex::new(Tally::default()));
    std::thread::scope(|scope| {
        for _ in 0..threads {
            scope.spawn(|| {
                loop {
                    let at = usize::try_from(next.fetch_add(1, Ordering::Relaxed)).unwrap();
                    let Some(seed) =
                        seeds.get(at).copied().filter(|_| until.is_none_or(|until| Instant::now() < until))
                    else {
                        return;
                    };
                    let began = Instant::now();
                    let kept = trace::kept(seed, trace::ONE_IN);
                    let part = Part { tells: kept.is_some(), ..Part::default() };
                    let played = std::panic::catch_unwind(|| play(seed, part));
                    if let (Some(path), Ok(played)) = (kept, &played) {
                        std::fs::write(path, played.lines.join("\n") + "\n").unwrap();
                    }
                    let mut tally = tally.lock().unwrap();
                    if first && !tally.failed.is_empty() {
                        return;
                    }
                    match played {
                        Ok(played) => tally.add(seed, &played, began.elapsed()),
                        Err(_) => drop(tally.failed.insert(seed, "panic".to_owned())),
                    }
                }
            });
        }
    });
    tally.into_inner().unwrap()
}

/// Whether a seed with just these decisions breaks the property.
fn still(seed: u64, just: &BTreeSet<Decision>, property: &str) -> bool {
    let part = Part { just: Some(just.clone()), ..Part::default() };
    let played = std::panic::catch_unwind(|| play(seed, part));
    played.map_or(property == "panic", |played| played.broken.iter().any(|broken| broken.property == property))
}

/// The least that still breaks it: whole kinds are left out first, then single decisions.
fn shrunk(seed: u64, property: &str) -> BTreeSet<Decision> {
    let Ok(first) = std::panic::catch_unwind(|| play(seed, Part::default())) else { return BTreeSet::new() };
    let mut just: BTreeSet<Decision> = first.fired.iter().map(|(decision, _)| *decision).collect();
    let kinds: BTreeSet<Kind> = just.iter().map(|decision| decision.kind).collect();
    for kind in kinds {
        let less = just.iter().copied().filter(|decision| decision.kind != kind).collect();
        if still(seed, &less, property) {
            just = less;
        }
    }
    for decision in just.clone().into_iter().take(200) {
        let mut less = just.clone();
        less.remove(&decision);
        if still(seed, &less, property) {
            just = less;
        }
    }
    just
}

/// The line that plays it again.
fn again(seed: u64, just: &BTreeSet<Decision>) -> String {
    let just: Vec<String> = just.iter().map(ToString::to_string).collect();
    format!(
        "QUADJIG_FAULTS_SEED={seed} QUADJIG_FAULTS_JUST={} cargo test --release --test all faults::many::replay -- --nocapture",
        just.join(",")
    )
}

fn told(tally: &Tally) -> String {
    let mut text = format!("{} of {} seeds:\n", tally.failed.len(), tally.seeds);
    for (seed, what) in tally.failed.iter().take(8) {
        let property = what.split(' ').next().unwrap_or_default();
        let just = shrunk(*seed, property);
        let _ = writeln!(text, "{seed}: {what}\n    {}", again(*seed, &just));
    }
    for (seed, what) in tally.failed.iter().skip(8).take(60) {
        let _ = writeln!(text, "{seed}: {what}");
    }
    text
}

#[test]
fn nothing_is_broken_under_faults() {
    let seeds: Vec<u64> = (0..SEEDS / 2).flat_map(|seed| [1 + seed, MORE + seed]).collect();
    let tally = all(&seeds, Some(Instant::now() + SUITE), false);
    assert!(tally.failed.is_empty(), "{}", told(&tally));
    assert!(tally.seeds >= 8, "only {} seeds in {SUITE:?}", tally.seeds);
}

/// What seeds found in the program, with what each broke then. What the world does with a seed changes with the world: the
/// catalogue of planted defects shows that each still finds it.
const FOUND: [(u64, &str); 27] = [
    (293, "S15"),
    (2947, "S15"),
    (5014, "S5"),
    (7417, "S15"),
    (8166, "S11"),
    (11249, "S15"),
    (11427, "S15"),
    (12067, "L3"),
    (17937, "S15"),
    (27066, "nothing, as the program broke down"),
    (34334, "S15"),
    (43109, "S11"),
    (43170, "S15"),
    (110_727, "S15"),
    (133_477, "S11"),
    (179_968, "S15"),
    (182_371, "S15"),
    (414_556, "S14"),
    (420_199, "L2"),
    (430_720, "S15"),
    (1_500_027, "S11"),
    (1_506_179, "S11"),
    (1_518_253, "S15"),
    (1_554_061, "S15"),
    (1_632_635, "S11"),
    (1_691_327, "S15"),
    (1_730_656, "S4"),
];

#[test]
fn what_was_found_is_not_found_again() {
    for (seed, property) in FOUND {
        let broken = play(seed, Part::default()).broken;
        assert!(broken.is_empty(), "{seed}, which once broke {property}: {broken:?}");
    }
}

/// The same seed gives the same trace, to the byte.
#[test]
fn a_seed_gives_one_trace() {
    for seed in 1..=6 {
        assert_eq!(play(seed, Part::default()).trace, play(seed, Part::default()).trace, "{seed}");
    }
}

#[test]
#[expect(clippy::print_stdout, reason = "a table is what it is for")]
fn many() {
    let Ok(said) = std::env::var("QUADJIG_FAULTS") else { return };
    let number = |text: &str| text.trim().parse::<u64>().unwrap_or_else(|_| panic!("QUADJIG_FAULTS: {said:?}"));
    let seeds: Vec<u64> = match said.split_once('-') {
        Some((from, to)) => (number(from)..=number(to)).collect(),
        None if said.contains(',') => said.split_terminator(',').map(number).collect(),
        None => (1..=number(&said)).collect(),
    };
    if std::env::var_os("QUADJIG_FAULTS_FIRST").is_some() {
        let tally = all(&seeds, None, true);
        if let Some((seed, what)) = tally.failed.first_key_value() {
            println!("first: {} seeds; {seed}: {what}", tally.seeds);
        }
        return;
    }
    let began = Instant::now();
    let mut tally = all(&seeds, None, false);
    println!("{}in {:?}\n{:#?}", tally.table(), began.elapsed(), tally.ended);
    assert!(tally.failed.is_empty(), "{}", told(&tally));
    // What a property speaks of has to be there, or it says nothing.
    let never: Vec<_> = PREMISES.iter().filter(|premise| !tally.met.contains_key(**premise)).collect();
    assert!(never.is_empty() || seeds.len() < 10_000, "never met: {never:?}");
}

#[test]
#[expect(clippy::print_stdout, reason = "a seed in full is what it is for")]
fn replay() {
    let Ok(seed) = std::env::var("QUADJIG_FAULTS_SEED") else { return };
    let just = std::env::var("QUADJIG_FAULTS_JUST").ok();
    let just = just.map(|just| just.split_terminator(',').map(|text| text.parse().unwrap()).collect());
    let seed = seed.parse().unwrap();
    let played = play(seed, Part { just, tells: true });
    if let Some(path) = trace::kept(seed, 1) {
        std::fs::write(path, played.lines.join("\n") + "\n").unwrap();
    }
    for (at, what) in &played.told {
        println!("{:>9} ms  {what}", at.0 / 1000);
    }
    println!("{:?}\nended {} after {:?}; {:?}", played.fired, played.ended, played.took, played.met);
    assert!(played.broken.is_empty(), "{:#?}", played.broken);
}

//! A metamorphic law: a fault that is added to a world never adds to the time for which motors are driven, beyond the
//! bound of what then stops them.
//!
//! Each seed is played without any fault, with each kind of fault alone, and with all of its own. The suite plays two with
//! some, `QUADJIG_ADDED=200 cargo test --release --test all faults::driven -- --nocapture` so many seeds. Must not be here:
//! what befalls, what else is right.

use super::dice::{Dice, Kind, Moment, Part};
use super::play::{Played, RECIPES, Scene, play_scene};
use quadjig::virtual_board::BoardKind;
use std::collections::BTreeMap;
use std::time::Duration;

/// A guard that breaks by a signal that is late stops within its limit and 20 ms (interlock.md, law 2), and a stop takes a
/// frame of the board.
const STOPS: Duration = Duration::from_millis(2300 + 20 + 20);
/// With nobody asked: what is seen is stopped within 50 ms, and is seen by what is told fastest, or at the end of what
/// befell the wire.
const UNASKED: Duration = Duration::from_millis(500);
/// Where no stop gets to the craft, or it obeys none: words, and the hand that follows them at its ease.
const BY_HAND: Duration = Duration::from_secs(14);

/// What keeps every stop from the craft, or has it not obeyed.
const UNREACHED: [Kind; 10] = [
    Kind::Unplug,
    Kind::AnotherReplugged,
    Kind::SwappedQuietly,
    Kind::SwappedInSilence,
    Kind::Silence,
    Kind::Stall,
    Kind::Rearms,
    Kind::Hollow,
    Kind::Late,
    Kind::Leaves,
];
/// A hand may void a start, and then it is asked for anew; a motor that sticks takes a search further.
const STARTS_ANEW: [Kind; 10] = [
    Kind::MotorStuck,
    Kind::WrongWord,
    Kind::FalseWord,
    Kind::NoAnswer,
    Kind::EarlyHand,
    Kind::LateHand,
    Kind::Switch,
    Kind::Throttle,
    Kind::Battery,
    Kind::Radio,
];
/// How often at most each start is had again: two voids a value, and a value that was not reached without the fault.
const ANEW: usize = 4;

/// What the suite adds: what befalls motors that turn, and whoever would stop them.
const SUITE: [Kind; 12] = [
    Kind::LateHand,
    Kind::FalseWord,
    Kind::Switch,
    Kind::Throttle,
    Kind::Interrupt,
    Kind::Killed,
    Kind::Halted,
    Kind::Freeze,
    Kind::GuardianKilled,
    Kind::GuardianStopped,
    Kind::Unplug,
    Kind::Restart,
];

/// What a world with these faults adds beyond its bounds.
fn beyond(plain: &Played, played: &Played, kinds: &[Kind]) -> Option<String> {
    let any = |of: &[Kind]| kinds.iter().any(|kind| of.contains(kind));
    let most = plain.driven.len() * if any(&STARTS_ANEW) { ANEW } else { 1 };
    if played.driven.len() > most {
        return Some(format!("{} starts, {} without", played.driven.len(), plain.driven.len()));
    }
    // A computer that sleeps stops nothing, and nothing in it does; that is said (interlock.md 7).
    if any(&[Kind::Suspend]) {
        return None;
    }
    let unfaulted = plain.driven.iter().map(|(time, _)| *time).max().unwrap_or_default();
    let bound = if any(&UNREACHED) { BY_HAND } else { STOPS };
    let long = |(time, step): &&(Duration, Option<Duration>)| match step {
        Some(step) => *time > unfaulted.max(*step) + bound,
        None => *time > if any(&UNREACHED) { BY_HAND } else { UNASKED },
    };
    let (time, step) = played.driven.iter().find(long)?;
    Some(format!("a start of {time:?}, {unfaulted:?} without; the step that was confirmed may take {step:?}"))
}

#[test]
#[expect(clippy::print_stdout, reason = "what fell is what it tells")]
fn a_fault_that_is_added() {
    let said = std::env::var("QUADJIG_ADDED").ok();
    let seeds = said.as_ref().map_or(2, |said| said.parse().unwrap());
    let turning = |seed: &u64| Dice::new(*seed, Part::default()).eye() == Some(Moment::Turning);
    let (mut failed, mut fell) = (Vec::new(), BTreeMap::<&str, u64>::new());
    for seed in (1..).filter(turning).take(seeds) {
        let (recipe, is_bound) = RECIPES[3 + usize::try_from(seed % 4).unwrap()];
        let scene = Scene::new(recipe, is_bound, BoardKind::Finch);
        let with = |kinds: &[Kind]| {
            let mut dice = Dice::new(seed, Part::default());
            dice.only(kinds);
            play_scene(scene, dice, seed, false)
        };
        let plain = with(&[]);
        assert!(plain.ended == "well" && !plain.driven.is_empty(), "{seed}: {}", plain.ended);
        let own = Kind::ALL.iter().copied().filter(|kind| Dice::new(seed, Part::default()).has(*kind)).collect();
        let each = if said.is_some() { Kind::ALL } else { &SUITE };
        for kinds in each.iter().map(|kind| vec![*kind]).chain(said.iter().map(|_| Vec::clone(&own))) {
            let played = with(&kinds);
            for (decision, _) in &played.fired {
                *fell.entry(decision.kind.name()).or_default() += 1;
            }
            if let Some(what) = beyond(&plain, &played, &kinds) {
                let names: Vec<&str> = kinds.iter().map(|kind| kind.name()).collect();
                failed.push(format!(
                    "{seed}, {recipe:?}, {names:?}: {what}; {}; {:?} {:?}",
                    played.ended, plain.driven, played.driven
                ));
            }
        }
    }
    if said.is_some() {
        println!("{fell:?}");
    }
    assert!(failed.is_empty(), "{}", failed.join("\n"));
}

//! The interlock, the writer and the guardian explored: every state that a small abstract world can bring them to.
//!
//! `scene` is that world around the real machines, `act` what may be done in it, `judge` what must not be, `key` what tells
//! its states apart, `explore` the model checker's side. In the suite small bounds; `QUADJIG_MODEL=3 cargo test --release
//! --test all model::whole -- --nocapture` goes further. Must not be here: any rule of the interlock.

mod act;
mod craft;
mod explore;
mod judge;
mod key;
mod scene;

use act::Act;
use explore::{Found, Scope, Tally, explore};
use judge::Asked;
use scene::Begin;
use std::collections::BTreeSet;

/// What any scope may meet: keys, and everything that befalls.
const ALWAYS: [Act; 18] = [
    Act::Pass(1),
    Act::Pass(4),
    Act::Pass(13),
    Act::Key,
    Act::Interrupt,
    Act::Ask,
    Act::Work,
    Act::Swap,
    Act::Beside,
    Act::Alone,
    Act::Mute,
    Act::Sound,
    Act::Unplug,
    Act::Plug,
    Act::Halt(4),
    Act::Halt(25),
    Act::Hang(4),
    Act::Kill,
];

const BEFALLS: [Act; 2] = [Act::Restarts, Act::Arms];

/// What is explored, within so many moments, deeds at each, and faults.
fn scopes([moments, deeds, faults]: [u8; 3]) -> Vec<Scope> {
    let scope = |name, begin, own: &[Act]| Scope {
        name,
        begin,
        alike: false,
        acts: ALWAYS.iter().chain(&BEFALLS).chain(own).copied().collect(),
        moments,
        deeds,
        faults,
    };
    // Each with an answer to something else as well.
    let other = Act::Answer(Asked::Worked);
    let change = [
        Act::Again,
        Act::Answer(Asked::Other),
        Act::Answer(Asked::Change),
        Act::Change(true),
        Act::Change(false),
        Act::Idle,
        Act::Band,
        Act::ChangeStore,
    ];
    let stores = [Act::Store, Act::Stored, Act::Restart, Act::Expect, Act::Restarted];
    let run = [other, Act::Answer(Asked::Run), Act::Drive(Asked::Run), Act::Again, Act::Ended, Act::Throttle];
    let start = [Act::Again, other, Act::Answer(Asked::Start), Act::Drive(Asked::Start), Act::Switch, Act::Ended];
    let worked = [
        Act::Again,
        Act::Answer(Asked::Change),
        other,
        Act::Switches(true),
        Act::Switches(false),
        Act::Switch,
        Act::SwitchesRest,
    ];
    vec![
        scope("met", Begin::Open, &[Act::TakeIn, Act::Props, Act::Switch]),
        scope("met armed", Begin::OpenArmed, &[Act::TakeIn, Act::Switch]),
        scope("a motor by command", Begin::Ready, &run),
        scope("a start by the switch", Begin::Ready, &start),
        scope("a change", Begin::Ready, &change),
        scope("a change, unplugged", Begin::Unplugged, &[&change[4..], &stores[..]].concat()),
        scope("switches worked", Begin::Unplugged, &[&worked[..], &[Act::Battery]].concat()),
        scope("switches worked by a word", Begin::SaidOut, &worked),
        scope(
            "a restart",
            Begin::Unplugged,
            &[Act::Change(false), Act::Restart, Act::Expect, Act::Restarted, Act::Battery],
        ),
        scope(
            "stops",
            Begin::Ready,
            &[Act::Battery, Act::Throttle, Act::Switch, Act::SayOut, Act::LeaveStop, Act::Latch, Act::Closed],
        ),
    ]
}

fn told(scope: &Scope, found: &Found) -> String {
    let broken = found.broken.as_ref().map(|(what, way)| format!("\n    BROKEN {what:?} by {way:?}"));
    format!(
        "{:26} {:>9} states, {:>10} steps, depth {:>2}, {:?}{}\n",
        scope.name,
        found.states,
        found.steps,
        found.depth,
        found.took,
        broken.unwrap_or_default(),
    )
}

/// What came of several scopes.
#[derive(Default)]
struct All {
    told: String,
    broken: bool,
    states: usize,
    facts: BTreeSet<&'static str>,
    tally: Tally,
}

fn all(bounds: [u8; 3], only: &str) -> All {
    let threads = std::thread::available_parallelism().map_or(2, usize::from);
    let mut all = All::default();
    for scope in scopes(bounds).into_iter().filter(|scope| scope.name.contains(only)) {
        let found = explore(&scope, threads);
        all.told.push_str(&told(&scope, &found));
        all.broken |= found.broken.is_some();
        if all.broken {
            break;
        }
        all.states += found.states;
        all.facts.extend(found.facts);
        for (what, times) in found.tally {
            *all.tally.entry(what).or_default() += times;
        }
    }
    all
}

/// Every state of a small world: nothing is broken in any, each phase is reached, each guard holds somewhere and not
/// elsewhere, and each door passes and refuses.
#[test]
fn every_state_of_a_small_world() {
    let all = all([2, 1, 1], "");
    assert!(!all.broken, "{}", all.told);
    assert!(all.states > 5000, "{}", all.told);
    let never: Vec<_> = explore::FACTS.iter().map(|(name, _)| *name).filter(|name| !all.facts.contains(name)).collect();
    assert!(never.is_empty(), "never so: {never:?}\n{}", all.told);
    let doors =
        ["Change(false)", "Change(true)", "Drive(Run)", "Drive(Start)", "Switches(true)", "Switches(false)", "Work"];
    let both = doors.iter().flat_map(|door| ["done", "refused"].map(|went| format!("{door} {went}")));
    let left = ["stop", "forced", "held", "guardian", "confirmed", "Idle done", "Store done", "Restart done"];
    let never: Vec<_> = both.chain(left.map(str::to_owned)).filter(|what| !all.tally.contains_key(what)).collect();
    assert!(never.is_empty(), "never happened: {never:?}\n{:#?}", all.tally);
}

/// What the key leaves out makes no difference: whatever has one key goes on in one way.
#[test]
fn what_has_one_key_goes_on_alike() {
    for scope in scopes([3, 1, 1]) {
        match explore::are_alike(&scope, 60) {
            Ok(compared) => assert!(compared > 20, "{}: only {compared}", scope.name),
            Err((one, other, act)) => {
                let keys = [&one, &other].map(|way| explore::written(&scope, &[&way[..], &[act]].concat()));
                panic!("{}: {one:?} and {other:?} are parted by {act:?}:\n{}\n{}", scope.name, keys[0], keys[1]);
            }
        }
    }
}

/// The whole, or what of it has a word in its name: `QUADJIG_MODEL=3,2,2` or `QUADJIG_MODEL=stops:3,2,2`.
#[test]
#[expect(clippy::print_stdout, reason = "a table is what it is for")]
fn whole() {
    let Ok(said) = std::env::var("QUADJIG_MODEL") else { return };
    let (only, bounds) = said.split_once(':').unwrap_or(("", &said));
    let bounds: Vec<u8> = bounds.split(',').map(|bound| bound.parse().unwrap()).collect();
    let all = all(bounds.try_into().unwrap(), only);
    println!("{}{} states\n{:?}\n{:#?}", all.told, all.states, all.facts, all.tally);
    assert!(!all.broken, "{}", all.told);
}

//! What a frame can do, learnt by letting a copy of the craft that hears it play on, with the frame and without.
//!
//! Over switch positions and with the battery in, whatever the craft is like now; so no label of the program's is
//! believed. Remembered by frame and by what the craft is like. Must not be here: whether it may.

use super::frames::{Frame, Means};
use quadjig::measure::time::Time;
use quadjig::virtual_board::World as Craft;
use std::cell::RefCell;
use std::collections::HashMap;
use std::hash::{DefaultHasher, Hash, Hasher};
use std::time::Duration;

/// From a changed switch or battery until the frame.
const SETTLES: Duration = Duration::from_millis(240);
/// How often a copy is looked at.
const LOOK: Duration = Duration::from_millis(20);
/// Outputs up to this command no turning, µs.
pub const REST: u16 = 1005;

/// What a craft is like, as far as it matters for what a frame can do.
#[derive(Debug, Clone, Hash)]
pub struct Like {
    /// What it is made of.
    pub made: u64,
    /// Everything that moved its world and still counts, and everything that was written to it.
    pub moved: u64,
    pub armed: bool,
    pub raised: bool,
    /// Where its arm switch may be when the frame comes: each is tried.
    pub positions: Vec<usize>,
}

/// How a copy went: looks at which an output was raised, and the highest pulse.
type Went = (u32, u16);

thread_local! {
    static LEARNT: RefCell<HashMap<u64, Option<(bool, usize)>>> = RefCell::default();
    static WITHOUT: RefCell<HashMap<u64, Went>> = RefCell::default();
}

fn hash(of: impl Hash) -> u64 {
    let mut hasher = DefaultHasher::new();
    of.hash(&mut hasher);
    hasher.finish()
}

/// With which battery (in besides) and at which position of its switch the frame starts a motor, or drives one longer or
/// faster, on the craft that hears it; `None`: with none.
pub fn potent(craft: &Craft, like: &Like, frame: &Frame, bytes: &[u8]) -> Option<(bool, usize)> {
    let kind = match &frame.means {
        // Which setting or message is asked for is all the same.
        Means::Asks => (frame.id, hash(frame.payload.get(28..30))),
        _ => (frame.id, hash(&frame.payload)),
    };
    let known = hash((kind, like));
    if let Some(learnt) = LEARNT.with_borrow(|learnt| learnt.get(&known).copied())
        && learnt.is_none()
    {
        return learnt;
    }
    let long = Duration::from_millis(match frame.means {
        Means::Restart | Means::Store(_) => 2_200,
        _ => 1_000,
    });
    // One that is in already comes in no more.
    let batteries = if craft.pack_volts() > 1.0 { &[true][..] } else { &[false, true] };
    let tries = batteries.iter().flat_map(|battery| like.positions.iter().map(move |at| (*battery, *at)));
    let mut found = None;
    for (battery, position) in tries {
        let alike = hash((like.made, like.moved, like.armed, like.raised, battery, position, long));
        let without = WITHOUT
            .with_borrow_mut(|all| *all.entry(alike).or_insert_with(|| play(craft, battery, position, None, long)));
        let with = play(craft, battery, position, Some(bytes), long);
        if with.0 > without.0 + 3 || with.1 > without.1.max(REST) + 5 {
            // What was remembered may be of a craft that was a little different.
            let without = play(craft, battery, position, None, long);
            if with.0 > without.0 + 3 || with.1 > without.1.max(REST) + 5 {
                found = Some((battery, position));
                break;
            }
        }
    }
    LEARNT.with_borrow_mut(|learnt| learnt.insert(known, found));
    found
}

/// What was learnt of the crafts of one seed tells nothing of another's.
pub fn forget() {
    LEARNT.take();
    WITHOUT.take();
}

fn play(craft: &Craft, battery: bool, position: usize, frame: Option<&[u8]>, long: Duration) -> Went {
    let mut copy = craft.clone();
    let mut now = copy.now();
    if battery {
        let _in_already = copy.line(now, "battery in");
    }
    let _as_it_is = copy.line(now, &format!("flip B {position}"));
    now = now + SETTLES;
    copy.advance(now);
    if let Some(frame) = frame {
        copy.receive(now, frame);
    }
    let (end, mut went): (Time, Went) = (now + long, (0, 0));
    while now < end {
        now = now + LOOK;
        copy.advance(now);
        let highest = copy.outputs().iter().copied().max().unwrap_or(0);
        went.0 += u32::from(highest > REST);
        went.1 = went.1.max(highest);
    }
    went
}

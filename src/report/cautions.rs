//! The cautions shown at the start of every attended run, and in the README.
//!
//! Promises: full sentences in short lines, the same words everywhere. Must not be here: how they
//! are laid out.

/// What this program is, before anything else is said.
pub const FOREWORD: &str = "A motor that starts by surprise injures before anyone can react. This program lowers the risk \
     of a set-up. It is not a safety function, and it can't keep your own radio from arming the craft. \
     You, the maker's instructions and local rules come first.";

/// Before and during work at the bench, in the order in which they matter.
pub const BENCH: [&str; 10] = [
    "Take the propellers off.",
    "Fit the video antenna before any power goes on.",
    "Strap the craft down or weight it; never hold it while a motor can turn.",
    "Put it level, with nothing loose near the motors.",
    "Keep the battery lead within reach, and clear of the motors.",
    "Switch the radio on before the battery goes in: switches at 0, throttle low.",
    "See that no other craft listens to this radio.",
    "The battery goes in last and comes out first.",
    "The first time, plug in through a current limiter.",
    "A swollen or hot pack goes outside, at once.",
];

/// Once the propellers are back on.
pub const FLIGHT: [&str; 4] = [
    "Put the craft on the ground, outdoors, clear of people.",
    "Radio on, switches at 0; plug in, walk back at least three metres, then arm.",
    "Follow the aviation rules of the place.",
    "If anything here disagrees with the maker's instructions or local rules, those win.",
];

//! The cautions shown at the start of every attended run, and in the README.
//!
//! Promises: one line each that fits a small terminal, and whole sentences, the same words everywhere. Must not be here:
//! how they are laid out.

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

/// What this program is, in one line.
pub const IN_SHORT: &str = "no safety function; you come first";

/// What the key behind them shows.
pub const MORE: &str = "at any question: this in full, and the plan again";

/// Each in one line of 60 columns, with its number, in the order of the whole sentences.
pub const SHORT: [&str; BENCH.len() + FLIGHT.len()] = [
    "Propellers off.",
    "Video antenna on before any power.",
    "Craft strapped down; never held while a motor can turn.",
    "Level, with nothing loose near the motors.",
    "Battery lead within reach, and clear of the motors.",
    "Radio on before the battery: switches at 0, throttle low.",
    "No other craft on this radio.",
    "Battery last in, first out.",
    "The first time through a current limiter.",
    "A swollen or hot pack goes outside, at once.",
    "Propellers on: on the ground, outdoors, clear of people.",
    "Then radio on, switches at 0, plug in, back 3 m, arm.",
    "The aviation rules of the place.",
    "The maker's instructions and local rules win.",
];

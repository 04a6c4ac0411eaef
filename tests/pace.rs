//! Tests at a terminal or a wire come before those that only reckon: there a processor that is late is a fault, which stops.
//!
//! On Linux, where a thread has a priority of its own, which what it begins takes over; elsewhere it would be the whole program's.

use std::cell::Cell;

thread_local! {
    static DECIDED: Cell<bool> = const { Cell::new(false) };
}

/// This thread reckons only: it runs when nobody else wants to.
pub fn gives_way() {
    if cfg!(target_os = "linux") && !DECIDED.replace(true) {
        rustix::process::nice(10).unwrap();
    }
}

/// This thread begins what has to keep time. Where that takes a right that is not given, it is as all others are.
pub fn comes_first() {
    if cfg!(target_os = "linux") && !DECIDED.replace(true) {
        let _as_all_others = rustix::process::nice(-10);
    }
}

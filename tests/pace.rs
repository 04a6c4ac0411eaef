//! Tests that only reckon give way to those at a terminal or a wire, where a processor that is late is a fault.

use std::cell::Cell;

/// This thread, and what it begins, runs when nobody else wants to. Elsewhere than on Linux that would be the whole program.
pub fn gives_way() {
    thread_local! {
        static GAVE_WAY: Cell<bool> = const { Cell::new(false) };
    }
    if cfg!(target_os = "linux") && !GAVE_WAY.replace(true) {
        rustix::process::nice(10).unwrap();
    }
}

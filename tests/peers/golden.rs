//! The golden frames that are kept are what the reference library makes today.

use super::{python, run};
use std::time::Duration;

#[test]
fn the_golden_frames_are_the_references_own() {
    let Some(python) = python("peers::golden") else { return };
    let output = run(&python, "golden.py", &[], Duration::from_secs(60));
    let kept = include_str!("../board/mavlink/golden.jsonl");
    let made = String::from_utf8(output.stdout).unwrap();
    for (made, kept) in made.lines().zip(kept.lines()) {
        assert_eq!(made, kept);
    }
    assert_eq!(made.lines().count(), kept.lines().count());
}

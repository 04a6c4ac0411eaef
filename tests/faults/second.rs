//! Some seeds judged once more, by another hand: `second.py` reads their traces and shares nothing with the first judge.
//!
//! Must not be here: what is right.

use super::dice::Part;
use super::play::play;
use crate::docs::project;
use crate::peers::found;
use serde_json::Value;
use std::io::Write as _;
use std::process::Command;

/// Of the suite: short ones in which each of what it speaks of is there.
const SEEDS: [u64; 5] = [12, 41, 1200, 2500, 11427];

/// What the second judge says of some traces, and how often it met what it speaks of.
fn judged(traces: &[String]) -> Option<(String, Value)> {
    let python = found("faults::second", &["python3"])?;
    let mut file = tempfile::NamedTempFile::new().unwrap();
    file.write_all(traces.join("\n").as_bytes()).unwrap();
    let script = project().join("tests/faults/second.py");
    let told = Command::new(python).arg("-B").arg(script).arg(file.path()).output().unwrap();
    let said = String::from_utf8(told.stdout).unwrap();
    let last = said.lines().last().unwrap_or_else(|| panic!("{}", String::from_utf8_lossy(&told.stderr)));
    let met = serde_json::from_str(last).unwrap();
    Some((said, met))
}

#[test]
fn a_judge_by_another_hand_finds_nothing_either() {
    let lines = SEEDS.map(|seed| play(seed, Part { tells: true, ..Part::default() }).lines);
    let Some((said, met)) = judged(&lines.concat()) else { return };
    assert_eq!(met["broken"], 0, "{said}");
    for what in ["S1", "S1 words", "S2", "S8", "S11", "S15"] {
        assert!(met["met"][what].as_u64() > Some(0), "{what} was never met: {met}");
    }
}

//! What a run leaves in its craft's record, read without the program: plain JSON.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::flown;
use serde_json::Value;
use sha2::{Digest, Sha256};
use std::fmt::Write;
use std::fs;
use std::path::PathBuf;

/// The one craft's folder.
pub fn folder(sandbox: &Sandbox) -> PathBuf {
    let mut crafts = fs::read_dir(sandbox.path("crafts")).unwrap().map(|entry| entry.unwrap().path());
    let only = crafts.next().unwrap();
    assert_eq!(crafts.next(), None);
    only
}

pub fn lines(file: &std::path::Path) -> Vec<Value> {
    fs::read_to_string(file).unwrap().lines().map(|line| serde_json::from_str(line).unwrap()).collect()
}

#[test]
fn a_run_keeps_what_it_was_made_from_and_what_it_saw() {
    let sandbox = Sandbox::new();
    let mut board = Board::new();
    flown(&sandbox, &mut board, &["--operator", "Bench two"]);
    let craft = folder(&sandbox);
    let journal = lines(&craft.join("journal.jsonl"));
    let (begin, end) = (&journal[0], journal.last().unwrap());
    let provenance = &begin["provenance"];

    // Its inputs by their hashes, as any other program computes them (FIPS 180-4), and the hashes that `check` tells.
    let recipe = fs::read(sandbox.path("wren.jig")).unwrap();
    let sha = |bytes: &[u8]| {
        Sha256::digest(bytes).iter().fold(String::new(), |mut hex, byte| {
            write!(hex, "{byte:02x}").unwrap();
            hex
        })
    };
    assert_eq!(provenance["files"][0]["sha256"], sha(&recipe));
    assert_eq!(fs::read(craft.join("inputs").join(sha(&recipe))).unwrap(), recipe);
    let sheet = fs::read(concat!(env!("CARGO_MANIFEST_DIR"), "/recipes/boards/finch.toml")).unwrap();
    assert_eq!(provenance["sheet"]["sha256"], sha(&sheet));
    assert_eq!(fs::read(craft.join("inputs").join(sha(&sheet))).unwrap(), sheet);
    let told = sandbox.command(&["check", "wren.jig", "--format", "json"]).output().unwrap();
    let told: Value = serde_json::from_slice(&told.stdout).unwrap();
    assert_eq!(provenance["recipe_hash"], told["recipes"][0]["recipe_hash"]);
    assert_eq!(provenance["filled_hash"], told["recipes"][0]["filled"][0]["hash"]);
    assert_eq!(provenance["program"], env!("CARGO_PKG_VERSION"));
    assert_eq!(provenance["operator"], "Bench two");

    // The snapshot of the end is what the board has.
    let after: Value =
        serde_json::from_slice(&fs::read(craft.join(end["snapshot"].as_str().unwrap())).unwrap()).unwrap();
    let held = board.settings();
    let after = after["settings"].as_object().unwrap();
    assert_eq!(after.len(), held.as_object().unwrap().len());
    for (name, value) in after {
        let (told, is) = (value.as_f64().unwrap(), held[name]["working"].as_f64().unwrap());
        assert!((told - is).abs() < 1e-3, "{name}: {told} {is}");
    }

    // What was said and what was measured stand apart, each with its moment within the run.
    let log = lines(&craft.join(provenance["log"].as_str().unwrap()));
    let texts = |what: &str| {
        let of = log.iter().filter(|line| line["seen"]["what"] == what);
        of.map(|line| line["seen"]["text"].as_str().unwrap().to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(texts("attested"), ["Propellers off; no other craft on this radio.", "The battery is out."]);
    assert!(texts("measured").iter().any(|text| text == "Position 2: armed."), "{log:#?}");
    let moment = |value: &Value| value["at"].as_str().unwrap().parse::<jiff::Timestamp>().unwrap();
    assert!(log.is_sorted_by_key(moment));
    assert!(moment(log.last().unwrap()) <= moment(end));
    assert!(log.iter().any(|line| line["seen"]["what"] == "step"));
}

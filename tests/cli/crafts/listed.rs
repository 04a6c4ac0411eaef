//! Crafts listed, named, shown and reported; a repair, and what it voids.

use super::super::Sandbox;
use super::super::attended::{SMALL, run_arguments};
use super::super::desk::board::Board;
use super::super::desk::{Attended, willing};
use super::flown;
use super::kept::folder;
use serde_json::Value;

/// `craft …` on the sandbox's records.
pub fn craft(sandbox: &Sandbox, arguments: &[&str]) -> String {
    sandbox.run(&[&["craft"], arguments, &["--records", "crafts"]].concat())
}

/// The same as JSON, after the exit code that it ended with.
pub fn json(sandbox: &Sandbox, arguments: &[&str]) -> (i32, Value) {
    let all = [&["craft"], arguments, &["--records", "crafts", "--format", "json"]].concat();
    let output = sandbox.command(&all).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    (output.status.code().unwrap(), serde_json::from_slice(&output.stdout).unwrap_or_else(|_| panic!("{said}")))
}

fn names(craft: &Value, stand: bool) -> Vec<&str> {
    let tests = craft["tests"].as_array().unwrap().iter().filter(|test| test["stands"] == stand);
    tests.map(|test| test["test"].as_str().unwrap()).collect()
}

#[test]
fn a_craft_is_listed_named_repaired_and_told() {
    let sandbox = Sandbox::new();
    assert_eq!(craft(&sandbox, &["list"]), "exit code: 0\n--- stdout\nNo craft has a record yet.\n");
    let mut board = Board::new();
    flown(&sandbox, &mut board, &["--operator", "Bench two"]);
    let id = folder(&sandbox).file_name().unwrap().to_string_lossy().into_owned();

    let (code, listed) = json(&sandbox, &["list"]);
    assert_eq!((code, &listed["schema"]), (0, &"quadjig.craft-list/1".into()));
    let only = &listed["crafts"][0];
    assert_eq!((&only["id"], &only["open"], &only["is_virtual"]), (&id.clone().into(), &false.into(), &true.into()));
    assert_eq!((&only["last"]["outcome"], &only["last"]["recipe"]), (&"done".into(), &"Wren 95, arm".into()));
    assert_eq!((names(only, true), names(only, false)), (vec!["arm"], vec![]));

    let named = craft(&sandbox, &["name", &id, "Wren, red"]);
    assert_eq!(named, format!("exit code: 0\n--- stdout\n{id} is called Wren, red from now on.\n"));
    let listed = craft(&sandbox, &["list"]);
    assert!(listed.contains(&format!("Wren, red  {id}  VIRTUAL\n")), "{listed}");

    // A motor voids nothing of what was shown, a receiver the arm switch: the table of the design.
    let motor = craft(&sandbox, &["changed", "wren, red", "motor", "rear", "left"]);
    assert!(motor.contains("Nothing had been shown that depends on it."), "{motor}");
    let receiver = craft(&sandbox, &["changed", "Wren, red", "receiver"]);
    assert!(receiver.contains("No longer shown, to be tested again: arm."), "{receiver}");
    let (_, listed) = json(&sandbox, &["list"]);
    assert_eq!(names(&listed["crafts"][0], false), ["arm"]);
    let why = listed["crafts"][0]["tests"][0]["void"][0].as_str().unwrap();
    assert!(why.starts_with("the receiver was changed 20"), "{why}");
    let plain = sandbox.run(&["--plain", "craft", "list", "--records", "crafts"]);
    assert!(plain.contains("void: arm ") && plain.contains("outcome: done\n"), "{plain}");

    // The next run says so, shows it again, and then it stands.
    let port = board.port.clone();
    let ended = Attended::start(&sandbox, &mut board, &run_arguments("wren.jig", &port)).end(willing);
    assert_eq!(ended.code, Some(0), "{}", ended.screen);
    let screen: String = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(screen.contains("that counts no more: the receiver was changed"), "{}", ended.screen);
    let (_, shown) = json(&sandbox, &["show", "Wren, red"]);
    assert_eq!(names(&shown["craft"], true), ["arm"]);
    assert_eq!(shown["runs"].as_array().unwrap().len(), 2);
    assert_eq!(shown["repairs"].as_array().unwrap().len(), 2);
    let told = craft(&sandbox, &["show", "Wren, red"]);
    assert!(told.contains("the motor rear left\n"), "{told}");
    // No line is so long that a terminal breaks it within a word.
    assert!(told.lines().all(|line| line.chars().count() <= 80), "{told}");
    let flat = told.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(flat.contains("by Bench two done"), "{told}");

    // The first run wrote; the second found all in place.
    let (_, first) = json(&sandbox, &["report", "Wren, red", "--run", "1"]);
    let changed = first["changed"].as_array().unwrap();
    let arm = changed.iter().find(|one| one["setting"] == "ARM_CHANNEL").unwrap();
    assert_eq!(arm["after"], 6);
    assert_eq!(changed.len(), 7, "as many as the run says: {changed:?}");
    let (_, second) = json(&sandbox, &["report", "Wren, red"]);
    assert_eq!(second["changed"].as_array().unwrap().len(), 0);
    let text = craft(&sandbox, &["report", "Wren, red"]);
    assert!(text.contains("said      Propellers off; no other craft on this radio.\n"), "{text}");
    assert!(text.contains("measured  Position 2: armed.\n"), "{text}");
    assert_eq!(first["run"]["operator"], "Bench two");
    assert_eq!(second["run"]["operator"], Value::Null);
    assert_eq!(std::fs::read_to_string(sandbox.path("wren.jig")).unwrap(), SMALL, "nothing is written beside");
}

#[test]
fn what_is_no_craft_and_no_part_is_told() {
    let sandbox = Sandbox::new();
    let none = craft(&sandbox, &["show", "wren-9"]);
    assert!(none.starts_with("exit code: 2\n") && none.contains("no record of a craft called wren-9"), "{none}");
    sandbox.write("crafts/7669727400000001/craft.json", "{}");
    let part = craft(&sandbox, &["changed", "7669727400000001", "motor", "top"]);
    assert!(part.starts_with("exit code: 2\n") && part.contains("a corner is one of the craft's frame"), "{part}");
    for name in ["VIRTUAL 1", "7669727400000002", "-x", "a\tb"] {
        let refused = craft(&sandbox, &["name", "7669727400000001", "--", name]);
        assert!(refused.starts_with("exit code: 2\n"), "{name}: {refused}");
    }
}

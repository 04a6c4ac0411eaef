//! Settings compared: two crafts, and a board on the wire with its own record.

use super::super::Sandbox;
use super::super::desk::board::Board;
use super::kept::folder;
use super::listed::{craft, json};
use serde_json::{Value, json};
use std::fs;

/// A board whose settings are copied into its record.
fn copied(sandbox: &Sandbox, board: &Board) {
    let said = sandbox.run(&["snapshot", "--port", &board.port, "--records", "crafts"]);
    assert!(said.starts_with("exit code: 0\n"), "{said}");
}

#[test]
fn a_board_on_the_wire_is_compared_with_its_own_record() {
    let sandbox = Sandbox::new();
    let mut board = Board::new();
    copied(&sandbox, &board);
    let port = board.port.clone();
    let id = folder(&sandbox).file_name().unwrap().to_string_lossy().into_owned();
    let count = board.settings().as_object().unwrap().len();
    let (code, same) = json(&sandbox, &["compare", &id, "--port", &port]);
    assert_eq!((code, &same["same"], &same["differ"]), (0, &count.into(), &json!([])));

    // Any setting counts, whoever changed it.
    board.line("set WARN_CELL_MV 3400");
    let (code, differs) = json(&sandbox, &["compare", &id, "--port", &port]);
    assert_eq!(code, 3);
    let row = json!({"on_board": "WARN_CELL_MV", "setting": "battery-warn", "left": 3500, "right": 3400});
    assert_eq!(differs["differ"][0]["right"], row["right"]);
    assert_eq!(differs["differ"][0]["setting"], row["setting"]);
    assert_eq!(differs["differ"].as_array().unwrap().len(), 1);
    let text = craft(&sandbox, &["compare", &id, "--port", &port]);
    assert!(text.starts_with("exit code: 3\n") && text.contains("battery-warn (WARN_CELL_MV)"), "{text}");
    assert_eq!(text.matches("  VIRTUAL\n").count(), 2, "{text}");
    assert_eq!(board.settings()["WARN_CELL_MV"]["working"], 3400, "it only looks");
}

/// The copy in the one craft's folder, given to another craft after `edit`.
fn twin(sandbox: &Sandbox, of: &str, edit: impl FnOnce(&mut Value)) {
    let snapshots = sandbox.path("crafts").join(of).join("snapshots");
    let file = fs::read_dir(snapshots).unwrap().next().unwrap().unwrap().path();
    let mut copy: Value = serde_json::from_slice(&fs::read(&file).unwrap()).unwrap();
    copy["board"]["id"] = "76697274000000aa".into();
    edit(&mut copy);
    let name = format!("crafts/76697274000000aa/snapshots/{}", file.file_name().unwrap().to_string_lossy());
    sandbox.write(&name, &copy.to_string());
}

#[test]
fn two_crafts_are_compared_and_what_is_the_crafts_own_stands_apart() {
    let sandbox = Sandbox::new();
    let board = Board::new();
    copied(&sandbox, &board);
    let id = folder(&sandbox).file_name().unwrap().to_string_lossy().into_owned();
    // By the sheet the ratio of its voltage is a craft's own.
    let sheet = include_str!("../../../recipes/boards/finch.toml");
    assert!(sheet.contains("VOLT_RATIO"), "the name has changed");
    twin(&sandbox, &id, |copy| {
        copy["settings"]["IDLE_US"] = 1234.into();
        copy["settings"]["VOLT_RATIO"] = json!(12.5);
        copy["settings"].as_object_mut().unwrap().remove("CELLS");
    });
    let (code, found) = json(&sandbox, &["compare", &id, "76697274000000aa"]);
    assert_eq!(code, 3);
    let list = |list: &str| {
        let rows = found[list].as_array().unwrap().iter();
        rows.map(|row| row["on_board"].as_str().unwrap().to_owned()).collect::<Vec<_>>()
    };
    assert_eq!((list("differ"), list("own")), (vec!["IDLE_US".to_owned()], vec!["VOLT_RATIO".to_owned()]));
    assert_eq!(list("gone"), ["CELLS"]);

    // After another firmware, what no run ever wrote is told as a default that may have changed.
    twin(&sandbox, &id, |copy| {
        copy["board"]["firmware"] = "2.5.0".into();
        copy["settings"]["IDLE_US"] = 1234.into();
        copy["settings"]["LATER"] = 1.into();
    });
    let (code, found) = json(&sandbox, &["compare", &id, "76697274000000aa"]);
    assert_eq!(
        (code, &found["defaults"][0]["on_board"], &found["new"][0]["on_board"]),
        (3, &"IDLE_US".into(), &"LATER".into())
    );
    assert_eq!(found["differ"], json!([]));
}

/// A setting that moved over a run that did not write it counts by itself, and is no difference.
#[test]
fn what_changes_without_being_written_is_told_apart() {
    let sandbox = Sandbox::new();
    let copy = |id: &str, name: &str, starts: u32| {
        let text = json!({
            "schema": "quadjig.snapshot/1", "taken": "2026-03-01T10:15:00Z",
            "board": {"id": id, "firmware": "2.4.1", "kind": "Finch"}, "settings": {"STARTS": starts, "IDLE_US": 1150},
        });
        sandbox.write(&format!("crafts/{id}/snapshots/{name}"), &text.to_string());
    };
    let (one, two) = ("76697274000000aa", "76697274000000bb");
    copy(one, "a.json", 1);
    copy(one, "b.json", 3);
    copy(two, "20260301T101500Z.json", 9);
    let run = json!({
        "event": "begin", "schema": "quadjig.journal/1", "run": "r", "at": "2026-03-01T10:15:00Z", "recipe": "Wren 95",
        "fingerprint": "f", "snapshot": "snapshots/a.json", "board": {"id": one, "firmware": "2.4.1", "kind": "Finch"},
    });
    let end = json!({"event": "end", "at": "2026-03-01T10:20:00Z", "outcome": "done", "snapshot": "snapshots/b.json"});
    sandbox.write(&format!("crafts/{one}/journal.jsonl"), &format!("{run}\n{end}\n"));
    let (code, found) = json(&sandbox, &["compare", one, two]);
    assert_eq!((code, found["counters"][0]["on_board"].as_str()), (0, Some("STARTS")));
    // Written in that run, it is a setting like any other.
    let wrote = json!({"event": "intent", "at": "t", "step": 1, "writes": [{"name": "STARTS", "from": 1, "to": 3}]});
    sandbox.write(&format!("crafts/{one}/journal.jsonl"), &format!("{run}\n{wrote}\n{end}\n"));
    let (code, found) = json(&sandbox, &["compare", one, two]);
    assert_eq!((code, found["differ"][0]["on_board"].as_str()), (3, Some("STARTS")));
}

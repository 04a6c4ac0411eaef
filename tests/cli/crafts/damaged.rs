//! Records that were edited, copied, cut, or written by a newer version: a clear sentence, and nothing lost.

use super::super::Sandbox;
use super::super::attended::SMALL;
use super::super::desk::board::Board;
use super::super::desk::{Attended, willing};
use super::kept::lines;
use super::listed::{craft, json};
use std::fs;

const ID: &str = "76697274000000aa";

/// A line of a journal as the version before wrote it, without a checksum and without what is kept since.
fn begin(schema: &str, id: &str, at: &str) -> String {
    format!(r#"{{"event":"begin","schema":"{schema}","run":"r","at":"{at}","recipe":"Wren 95","fingerprint":"f","#)
        + &format!(r#""snapshot":"snapshots/a.json","board":{{"id":"{id}","firmware":"2.4.1","kind":"Finch"}}}}"#)
        + "\n"
}

const END: &str = "{\"event\":\"end\",\"at\":\"2026-03-01T10:20:00Z\",\"outcome\":\"done\"}\n";

/// A craft with one run of the version before.
fn old(sandbox: &Sandbox, folder: &str, id: &str) {
    let journal = begin("quadjig.journal/1", id, "2026-03-01T10:15:00Z") + END;
    sandbox.write(&format!("crafts/{folder}/journal.jsonl"), &journal);
    let copy = format!(
        r#"{{"schema":"quadjig.snapshot/1","taken":"2026-03-01T10:15:00Z","board":{{"id":"{id}","firmware":"2.4.1","kind":"Finch"}},"settings":{{"IDLE_US":1150}}}}"#
    );
    sandbox.write(&format!("crafts/{folder}/snapshots/a.json"), &copy);
}

#[test]
fn a_record_of_the_version_before_is_listed_and_told() {
    let sandbox = Sandbox::new();
    old(&sandbox, ID, ID);
    let (code, listed) = json(&sandbox, &["list"]);
    let only = &listed["crafts"][0];
    assert_eq!(
        (code, &only["last"]["outcome"], &only["last"]["recipe_hash"]),
        (0, &"done".into(), &serde_json::Value::Null)
    );
    assert_eq!(only["damage"], serde_json::json!([]));
    let told = craft(&sandbox, &["report", ID]);
    assert!(told.contains("not kept by the version that ran it"), "{told}");
}

#[test]
fn a_record_that_cannot_be_read_hides_no_other_and_is_left_alone() {
    let sandbox = Sandbox::new();
    old(&sandbox, ID, ID);
    let later = begin("quadjig.journal/9", "76697274000000bb", "2026-03-01T10:15:00Z");
    sandbox.write("crafts/76697274000000bb/journal.jsonl", &later);
    let listed = craft(&sandbox, &["list"]);
    assert!(listed.starts_with("exit code: 5\n"), "{listed}");
    assert!(listed.contains(&format!("{ID}  VIRTUAL\n")), "{listed}");
    assert!(listed.contains("journal.jsonl, line 1, is not a record this version can read"), "{listed}");
    for refused in
        [&["show", "76697274000000bb"][..], &["changed", "76697274000000bb", "board"], &["report", "76697274000000bb"]]
    {
        let said = craft(&sandbox, refused);
        assert!(said.starts_with("exit code: 5\n") && said.contains("do: use the version that wrote it"), "{said}");
    }
    assert_eq!(fs::read_to_string(sandbox.path("crafts/76697274000000bb/journal.jsonl")).unwrap(), later);
    assert!(!sandbox.path("crafts/76697274000000bb/repairs.jsonl").exists());
}

/// Whatever was in a line, of a run that ended well too: it is said wherever the run is told of.
#[test]
fn a_line_of_a_journal_that_was_changed_is_said() {
    let sandbox = Sandbox::new();
    old(&sandbox, ID, ID);
    let journal = sandbox.path("crafts").join(ID).join("journal.jsonl");
    let whole = fs::read_to_string(&journal).unwrap();
    // Two runs: the changed line is of the first, then of the second.
    for (text, listed) in [
        (whole.replace("\"event\":\"end\"", "\"event\":\"ended\"") + &whole, false),
        (whole.clone() + &whole.replace("\"event\":\"end\"", "\"event\":\"ended\""), true),
    ] {
        fs::write(&journal, &text).unwrap();
        let line = text.lines().position(|line| line.contains("ended")).unwrap() + 1;
        let words = format!("line {line} of journal.jsonl is damaged");
        assert_eq!(craft(&sandbox, &["list"]).contains(&words), listed, "{}", craft(&sandbox, &["list"]));
        assert_eq!(craft(&sandbox, &["show", ID]).matches(&words).count(), 1, "{}", craft(&sandbox, &["show", ID]));
        let run = if listed { "2" } else { "1" };
        let told = craft(&sandbox, &["report", ID, "--run", run]);
        assert!(told.contains("1 line of the run's journal damaged"), "{told}");
        assert_eq!(fs::read_to_string(&journal).unwrap(), text, "nothing is put right by itself");
    }
}

#[test]
fn what_was_edited_by_hand_is_said_and_what_is_whole_stays() {
    let sandbox = Sandbox::new();
    old(&sandbox, ID, ID);
    let said = craft(&sandbox, &["changed", ID, "motor", "front", "left"]);
    assert!(said.starts_with("exit code: 0\n"), "{said}");
    let said = craft(&sandbox, &["changed", ID, "receiver"]);
    assert!(said.starts_with("exit code: 0\n"), "{said}");
    let repairs = sandbox.path("crafts").join(ID).join("repairs.jsonl");
    assert_eq!(lines(&repairs).len(), 2);
    let edited = fs::read_to_string(&repairs).unwrap().replace("front left", "front right");
    fs::write(&repairs, &edited).unwrap();
    sandbox.write(&format!("crafts/{ID}/craft.json"), "wren");
    sandbox.write(&format!("crafts/{ID}/snapshots/a.json"), "{");
    let listed = craft(&sandbox, &["list"]);
    assert!(listed.starts_with("exit code: 0\n"), "{listed}");
    for words in [
        "line 1 of repairs.jsonl is damaged",
        "craft.json is damaged",
        "a.json is no snapshot that this version can read",
    ] {
        let flat = listed.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(flat.contains(words), "{words}: {listed}");
    }
    // A name given anew mends the file of names, and touches nothing else.
    let said = craft(&sandbox, &["name", ID, "wren"]);
    assert!(said.starts_with("exit code: 0\n"), "{said}");
    assert_eq!(fs::read_to_string(&repairs).unwrap(), edited);
}

#[test]
fn two_crafts_of_one_name_or_id_are_told_apart_or_refused() {
    let sandbox = Sandbox::new();
    old(&sandbox, ID, ID);
    // A record that was copied goes by no name of its own.
    old(&sandbox, "copy-of-wren", ID);
    let listed = craft(&sandbox, &["list"]);
    assert!(listed.contains(&format!("this is the record of {ID}, in a folder of another name")), "{listed}");
    assert!(craft(&sandbox, &["name", ID, "wren"]).starts_with("exit code: 0\n"));
    let taken = craft(&sandbox, &["name", "copy-of-wren", "Wren"]);
    assert!(taken.starts_with("exit code: 2\n") && taken.contains("another craft is called Wren already"), "{taken}");
    // Another machine gave the same name meanwhile.
    let label = fs::read(sandbox.path(&format!("crafts/{ID}/craft.json"))).unwrap();
    fs::write(sandbox.path("crafts/copy-of-wren/craft.json"), label).unwrap();
    let several = craft(&sandbox, &["show", "wren"]);
    assert!(several.starts_with("exit code: 2\n") && several.contains("2 crafts are called wren"), "{several}");
    assert!(craft(&sandbox, &["show", ID]).starts_with("exit code: 0\n"));
}

#[test]
fn a_run_under_way_is_not_disturbed_and_a_disk_that_takes_nothing_is_said() {
    let sandbox = Sandbox::new();
    old(&sandbox, ID, ID);
    let lock = fs::File::create(sandbox.path(&format!("crafts/{ID}/lock"))).unwrap();
    lock.lock().unwrap();
    let held = craft(&sandbox, &["changed", ID, "board"]);
    assert!(held.starts_with("exit code: 5\n") && held.contains("another run holds this craft"), "{held}");
    drop(lock);
    // A full disk: no file may grow.
    let folder = sandbox.path("crafts");
    let mut limited = std::process::Command::new("/bin/sh");
    sandbox.surround(&mut limited);
    let program = env!("CARGO_BIN_EXE_quadjig");
    limited.args(["-c", "trap '' XFSZ; ulimit -f 0; exec \"$0\" \"$@\"", program, "craft", "changed", ID, "board"]);
    let full = limited.arg("--records").arg(&folder).output().unwrap();
    let said = sandbox.shown(&full);
    assert!(said.starts_with("exit code: 5\n") && said.contains("the disk is full"), "{said}");
    let (_, shown) = json(&sandbox, &["show", ID]);
    assert_eq!(shown["repairs"], serde_json::json!([]), "nothing half written");
}

/// A disk that may only be read: the run says so before anything was written to the board.
#[test]
fn a_disk_that_may_only_be_read_is_said() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", SMALL);
    let mut board = Board::new();
    let (port, before) = (board.port.clone(), board.settings());
    // Linux lets nobody make a folder there, whoever they are.
    let arguments = ["run", "wren.jig", "--port", &port, "--records", "/sys/quadjig"];
    let ended = Attended::start(&sandbox, &mut board, &arguments).end(willing);
    assert_eq!(ended.code, Some(5), "{}", ended.screen);
    let screen: String = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(screen.contains("system does not let you write /sys/quadjig"), "{}", ended.screen);
    assert_eq!(board.settings(), before);
    let copied = sandbox.run(&["snapshot", "--port", &port, "--records", "/sys/quadjig"]);
    assert!(copied.starts_with("exit code: 5\n") && copied.contains("the system does not let you write"), "{copied}");
}

/// A run that was cut off has no end: what a later one showed is not its own.
#[test]
fn the_page_of_a_run_that_was_cut_off_has_nothing_that_a_later_run_showed() {
    let sandbox = Sandbox::new();
    let runs = ["2026-03-01T10:00:00Z", "2026-03-01T11:00:00Z"].map(|at| begin("quadjig.journal/1", ID, at));
    sandbox.write(&format!("crafts/{ID}/journal.jsonl"), &(runs.concat() + &END.replace("10:20", "11:20")));
    let shown = format!(
        r#"{{"schema":"quadjig.proof/1","at":"2026-03-01T11:10:00Z","subject":{{"what":"motors","corners":["front left"],"clockwise":[true]}},"board":{{"id":"{ID}","firmware":"2.4.1","kind":"Finch"}},"depends_on":{{}},"volts":null}}"#
    );
    sandbox.write(&format!("crafts/{ID}/measurements/proofs.jsonl"), &(shown + "\n"));
    let page = |run| craft(&sandbox, &["report", ID, "--run", run, "--format", "html"]);
    let unshown = "Not shown in this run.";
    assert!(!page("2").contains(unshown), "{}", page("2"));
    assert!(page("1").contains(unshown), "{}", page("1"));
}

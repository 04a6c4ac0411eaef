//! `quadjig diff` from outside: what counts as a difference, and as a version control calls it.

use super::Sandbox;
use std::process::Command;

const OLD: &str = "recipe \"Wren 95\"
edition 1
craft quad x
board \"Finch\"
given idle-floor default 1100 us from 1050 us to 1150 us

require props off
note \"Front is where the camera looks.\"
switch B on channel 6 rests at 1000, 1500, 2000
bind arm to switch B position 2
unbind lights
idle start at idle-floor step 25 until all spin
failsafe cut motors after 500 ms
keep
test idle
test arm
";

const NEW: &str = "# Another hand.
recipe \"Wren 95, second try\"
edition 1
craft quad x
board \"Finch\"
given idle-floor default 1120 us from 1050 us to 1150 us

require   props off
require level within 2 deg
note \"Front is where the arrow points.\"
switch B rests at 1000, 1500, 2000, on channel 6   # clauses turned round
bind arm to switch B positions 2
idle start at idle-floor, until all spin, step 0.025 ms, at most 1200
failsafe cut motors after 0.5 s
test arm
keep
test idle in 3 starts
pause \"Look at the idle.\"
";

#[test]
fn what_differs_in_meaning_is_told_by_subject() {
    let sandbox = Sandbox::new();
    sandbox.write("old.jig", OLD).write("new.jig", NEW);
    insta::assert_snapshot!("differs", sandbox.run(&["diff", "old.jig", "new.jig"]));
    let json = sandbox.command(&["diff", "--format", "json", "old.jig", "new.jig"]).output().unwrap();
    assert_eq!(json.status.code(), Some(3));
    let json: serde_json::Value = serde_json::from_slice(&json.stdout).unwrap();
    insta::assert_json_snapshot!("differs-json", json);
}

#[test]
fn what_means_the_same_does_not_differ() {
    let sandbox = Sandbox::new();
    let other = "\n# Title, comments, layout, units, order of clauses.\n".to_owned()
        + &OLD
            .replace("\"Wren 95\"", "\"Another\"")
            .replace("500 ms", "0.5 s")
            .replace("test idle", "test idle in 3 starts");
    sandbox.write("old.jig", OLD).write("new.jig", &other);
    assert_eq!(
        sandbox.run(&["diff", "old.jig", "new.jig"]),
        "exit code: 0\n--- stdout\nold: old.jig\nnew: new.jig\nThe two mean the same.\n"
    );
    sandbox.write("part.jig", OLD);
    let uses = "recipe \"Top\"\nedition 1\ncraft quad x\nboard \"Finch\"\nuse \"part.jig\"\n";
    let inline =
        OLD.replace("given idle-floor default 1100 us from 1050 us to 1150 us\n", "").replace("idle-floor", "1100");
    sandbox.write("old.jig", uses).write("new.jig", &inline);
    assert!(sandbox.run(&["diff", "old.jig", "new.jig"]).starts_with("exit code: 0\n"));
}

#[test]
fn what_cannot_be_compared_is_told() {
    let sandbox = Sandbox::new();
    sandbox.write("old.jig", OLD).write("bad.jig", "keep it\n");
    insta::assert_snapshot!("wrong", sandbox.run(&["diff", "old.jig", "bad.jig"]));
    insta::assert_snapshot!("one", sandbox.run(&["diff", "old.jig"]));
    insta::assert_snapshot!("help", sandbox.run(&["diff", "--help"]));
}

/// The arguments are those that `git help git` gives for `GIT_EXTERNAL_DIFF`: path, then file, hash and mode of the old
/// and of the new state; a state that is not there is `/dev/null`.
#[test]
fn a_version_control_can_call_it() {
    let sandbox = Sandbox::new();
    sandbox.write("craft/wren.jig", "not what is compared").write("craft/part.jig", OLD);
    let uses =
        |more: &str| format!("recipe \"Top\"\nedition 1\ncraft quad x\nboard \"Finch\"\nuse \"part.jig\"\n{more}");
    sandbox.write("blobs/a", &uses("")).write("blobs/b", &uses("keep\n"));
    let call =
        |old: &str, new: &str| sandbox.run(&["diff", "craft/wren.jig", old, "1a", "100644", new, "2b", "100644"]);
    let changed = call("blobs/a", "blobs/b");
    assert!(changed.starts_with("exit code: 0\n") && changed.contains("  added    keep\n"), "{changed}");
    let made = call("/dev/null", "blobs/a");
    assert!(made.starts_with("exit code: 0\n") && made.contains("  added    test arm\n"), "{made}");
    assert!(!made.contains("removed"), "{made}");
    sandbox.write("blobs/c", "keep it\n");
    let broken = call("blobs/a", "blobs/c");
    assert!(broken.starts_with("exit code: 0\n") && broken.contains("the new recipe has errors"), "{broken}");
}

/// The real caller, where it is installed.
#[test]
fn git_shows_it_in_its_own_diff() {
    let sandbox = Sandbox::new();
    let git = |arguments: &[&str]| {
        let mut command = Command::new("git");
        sandbox.surround(&mut command);
        command.env("PATH", std::env::var_os("PATH").unwrap_or_default());
        let driver = format!("diff.quadjig.command={} diff", env!("CARGO_BIN_EXE_quadjig"));
        command.args(["-c", "user.name=a", "-c", "user.email=a@example.org", "-c", &driver]).args(arguments);
        command.output().ok().map(|output| (output.status.success(), String::from_utf8(output.stdout).unwrap()))
    };
    if git(&["--version"]).is_none() {
        return;
    }
    sandbox.write(".gitattributes", "*.jig diff=quadjig\n").write("wren.jig", OLD);
    for arguments in [&["init", "-q"][..], &["add", "."], &["commit", "-qm", "old"]] {
        assert!(git(arguments).unwrap().0, "{arguments:?}");
    }
    sandbox.write("wren.jig", NEW);
    let (good, shown) = git(&["--no-pager", "diff"]).unwrap();
    assert!(good && shown.contains("guards:\n  added    require level within 2 deg\n"), "{shown}");
}

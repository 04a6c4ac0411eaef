//! Whatever is named as a recipe or document: a clear end in bounded time and with a bounded report.

use super::Sandbox;
use std::io::Write;
use std::process::Stdio;
use std::time::{Duration, Instant};

/// A debug build on a machine that does other work as well; a release build takes less than a second.
const SOON: Duration = Duration::from_secs(8);
/// Findings of one recipe, whatever stands in it.
const REPORT: usize = 4 << 20;

/// Runs a command to its end, which must come soon; exit code, standard output, standard error.
fn run(sandbox: &Sandbox, arguments: &[&str], input: &[u8]) -> (i32, String, String) {
    let begun = Instant::now();
    let mut command = sandbox.command(arguments);
    let mut child = command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut stdin = child.stdin.take().unwrap();
    let input = input.to_owned();
    // Whoever has read enough closes the pipe.
    let writer = std::thread::spawn(move || stdin.write_all(&input).is_ok());
    let ended = child.wait_with_output().unwrap();
    assert!(begun.elapsed() < SOON, "{arguments:?} took {:?}", begun.elapsed());
    assert!(ended.stdout.len() < REPORT, "{arguments:?} wrote {} bytes", ended.stdout.len());
    writer.join().unwrap();
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (ended.status.code().unwrap(), text(ended.stdout), text(ended.stderr))
}

const GOOD: &str = "recipe \"Wren 95\"\nedition 1\ncraft quad x\nboard \"Finch\"\n";

#[cfg(unix)]
#[test]
fn what_is_no_file_is_refused_without_being_opened() {
    let sandbox = Sandbox::new();
    std::fs::create_dir(sandbox.path("folder.jig")).unwrap();
    let made = std::process::Command::new("mkfifo").arg(sandbox.path("pipe.jig")).status().unwrap();
    assert!(made.success());
    for (name, what) in [("pipe.jig", "a pipe"), ("/dev/zero", "a device"), ("/dev/null", "a device")] {
        for command in [&["check"][..], &["format", "--check"], &["dry-run", "--port", "virtual"], &["rehearse"]] {
            let arguments = [command, &[name]].concat();
            let (code, out, err) = run(&sandbox, &arguments, b"");
            assert_eq!(code, 1, "{arguments:?}: {out}{err}");
            assert!((out.clone() + &err).contains(what), "{arguments:?}: {out}{err}");
        }
    }
    for (command, name, what) in [
        (&["format", "--check"][..], "folder.jig", "a folder"),
        (&["dry-run", "--port", "virtual"], "folder.jig", "a folder"),
        (&["dry-run", "recipe.jig", "--against"], "/dev/zero", "not a regular file"),
        (&["dry-run", "recipe.jig", "--against"], "pipe.jig", "not a regular file"),
        (&["restore", "--port", "virtual"], "pipe.jig", "not a regular file"),
        (&["check", "recipe.jig", "--sheet"], "/dev/zero", "not a regular file"),
        (&["check", "recipe.jig", "--radio"], "pipe.jig", "not a regular file"),
    ] {
        sandbox.write("recipe.jig", GOOD);
        let arguments = [command, &[name]].concat();
        let (code, out, err) = run(&sandbox, &arguments, b"");
        assert_eq!(code, 1, "{arguments:?}: {out}{err}");
        assert!((out.clone() + &err).contains(what), "{arguments:?}: {out}{err}");
    }
}

fn numbered(before: &str, behind: &str) -> String {
    (0..9000).fold(String::new(), |text, n| text + before + &n.to_string() + behind + "\n")
}

#[test]
fn however_long_and_bad_a_text_is_the_report_is_bounded() {
    let sandbox = Sandbox::new();
    let texts = [
        ("ten megabytes in a line", "x".repeat(10 << 20)),
        ("a line of one mebibyte", format!("{GOOD}{}\n", "x".repeat((1 << 20) - 100))),
        ("a line of bad escapes", format!("{GOOD}note \"{}\"\n", "\\q".repeat(500_000))),
        ("lines of bad escapes", format!("{GOOD}{}", format!("note \"{}\"\n", "\\q".repeat(2000)).repeat(250))),
        ("hidden characters", format!("{GOOD}{}", "\u{202e}".repeat(340_000))),
        ("lines of hidden characters", format!("{GOOD}{}", "# \u{202e}\n".repeat(170_000))),
        ("open strings", format!("{GOOD}{}", "note \"\n".repeat(140_000))),
        ("lines that are nothing", format!("{GOOD}{}", "zz\n".repeat(340_000))),
        ("commas", format!("{GOOD}{}", "keep,\n".repeat(170_000))),
        ("long words", format!("{GOOD}{}", format!("{}\n", "w".repeat(4000)).repeat(250))),
        ("contradictions", format!("{GOOD}{}", numbered("idle at ", ""))),
        ("clauses", format!("{GOOD}{}", format!("idle start at 1100{}\n", " step 1".repeat(560)).repeat(60))),
        (
            "rests",
            format!("{GOOD}{}", format!("switch B on channel 6 rests at 1000{}\n", ", 1000".repeat(650)).repeat(60)),
        ),
        ("stray commas", format!("{GOOD}{}", format!("{}keep\n", "test arm,\n".repeat(300)).repeat(80))),
        ("strings of bad escapes", format!("{GOOD}{}", format!("note {}\n", "\"\\q\"".repeat(1000)).repeat(250))),
        ("parameters", format!("{GOOD}{}", numbered("given a", " default 1"))),
        (
            "positions",
            format!("{GOOD}{}", format!("bind arm to switch B positions 0{}\n", ", 0".repeat(1300)).repeat(60)),
        ),
    ];
    let (code, ..) = run(&sandbox, &["check", "-"], texts[0].1.as_bytes());
    assert_eq!(code, 1, "a pipe is read no further than a file");
    for (what, text) in texts {
        sandbox.write("long.jig", &text);
        for arguments in
            [&["check", "long.jig"][..], &["check", "--format", "json", "long.jig"], &["format", "--check", "long.jig"]]
        {
            let (code, out, err) = run(&sandbox, arguments, b"");
            // What only the meaning shows is not for the layout to say.
            let tidy = arguments[0] == "format" && [0, 3].contains(&code);
            let told = ["RT", "RS", "CS", "CV1"].iter().any(|code| out.contains(code));
            assert!(tidy || (code == 1 && told), "{what}: {code} {out}{err}");
        }
    }
}

#[test]
fn a_pipe_is_read_as_a_recipe() {
    let sandbox = Sandbox::new();
    let untidy = GOOD.replace("quad x", "quad   x");
    let (code, out, _) = run(&sandbox, &["check", "-"], format!("{GOOD}keep it\n").as_bytes());
    assert_eq!(code, 1);
    assert!(out.contains("error[RS2]") && out.contains("standard input:5:6"), "{out}");
    sandbox.write("common/part.jig", GOOD);
    let (code, out, _) = run(&sandbox, &["check", "-"], format!("{GOOD}use \"common/part.jig\"\n").as_bytes());
    assert_eq!(code, 0, "it uses what lies in the current folder: {out}");
    let (code, out, _) = run(&sandbox, &["format", "-"], untidy.as_bytes());
    assert_eq!((code, out.as_str()), (0, GOOD));
    let (code, out, _) = run(&sandbox, &["format", "--check", "-"], untidy.as_bytes());
    assert_eq!((code, out.as_str()), (3, "would change: standard input\n"));
    let (code, out, _) = run(&sandbox, &["format", "--format", "json", "-"], untidy.as_bytes());
    let report: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!((code, &report["files"][0]["text"]), (0, &serde_json::json!(GOOD)));
    let (code, out, _) = run(&sandbox, &["format", "-"], b"keep it\n");
    assert_eq!(code, 1, "what is wrong is no recipe that somebody may pipe on: {out}");
    let (code, _, err) = run(&sandbox, &["check", "-", "-"], GOOD.as_bytes());
    assert_eq!(code, 2, "{err}");
}

/// Whoever asked for JSON gets JSON, whatever ends the command.
#[test]
fn json_comes_whenever_it_was_asked_for() {
    let sandbox = Sandbox::new();
    sandbox.write("good.jig", GOOD).write("bad.json", "{");
    for (arguments, code) in [
        (&["check", "--format", "json", "good.jig", "--sheet", "fincj"][..], 1),
        (&["check", "--format=json"], 2),
        (&["check", "--format", "json", "good.jig", "--colour"], 2),
        (&["dry-run", "good.jig", "--format", "json", "--against", "bad.json"], 1),
        (&["dry-run", "nowhere.jig", "--format", "json", "--port", "virtual"], 1),
        (&["dry-run", "good.jig", "--format", "json", "--port", "/dev/nowhere"], 5),
        (&["format", "--format", "json", "nowhere.jig"], 1),
        (&["rehearse", "nowhere.jig", "--format", "json"], 1),
        (&["check-sheet", "nowhere.toml", "--format", "json"], 1),
    ] {
        let (ended, out, err) = run(&sandbox, arguments, b"");
        assert_eq!(ended, code, "{arguments:?}: {out}{err}");
        let report: serde_json::Value =
            serde_json::from_str(&out).unwrap_or_else(|e| panic!("{arguments:?}: {e}: {out}{err}"));
        assert!(report["schema"].as_str().unwrap().starts_with("quadjig."), "{out}");
    }
    let (_, out, err) = run(&sandbox, &["check", "--format", "json", "good.jig", "--sheet", "fincj"], b"");
    let report: serde_json::Value = serde_json::from_str(&out).unwrap();
    assert_eq!(report["schema"], "quadjig.error/1");
    assert_eq!(report["exit"], 1);
    assert!(report["errors"][0]["message"].as_str().unwrap().contains("no board sheet `fincj`"), "{out}");
    assert_eq!(report["errors"][0]["hint"], "did you mean `finch`?");
    assert!(err.contains("fincj"), "people are told as well");
}

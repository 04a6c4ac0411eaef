//! `quadjig check` from outside.

use super::{Sandbox, shown};

const GOOD: &str = "recipe \"Wren 95, idle\"
edition 1
craft quad x
board \"Finch\"
given idle-floor default 1100 us from 1050 us to 1150 us

require props off
idle start at idle-floor step 25 until all spin
keep
test idle
";

const BAD: &str = "recipe \"Wren 95, arm switch\"
edition 1
craft quad x
board \"Finch\"

switch B on channel 6 rests at 1000, 1500, 2000 on link loss hold
bind arm to switch B positions 0, 3
bind buzer to switch C position 1
test motors
";

#[test]
fn a_good_recipe_is_done() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", GOOD);
    insta::assert_snapshot!(sandbox.run(&["check", "wren.jig", "--with", "idle-floor=1120us"]));
}

#[test]
fn findings_are_shown_with_their_lines_and_counted() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", BAD).write("good.jig", GOOD);
    insta::assert_snapshot!(sandbox.run(&["check", "wren.jig", "good.jig"]));
}

#[test]
fn plain_findings_have_one_fact_a_line() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", BAD);
    insta::assert_snapshot!(sandbox.run(&["--plain", "check", "wren.jig"]));
}

#[test]
fn json_has_the_same_findings_and_nothing_else_on_stdout() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", BAD);
    let output = sandbox.command(&["check", "--format", "json", "wren.jig"]).output().unwrap();
    assert_eq!(output.status.code(), Some(1));
    assert_eq!(output.stderr, b"");
    let report: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!(report["schema"], "quadjig.check/1");
    insta::assert_json_snapshot!(report);
}

/// Columns count characters, not bytes, from 1; the end is after the last character.
#[test]
fn json_columns_count_characters() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", "recipe \"µµµ\"\nedition 1\ncraft quad x\nboard \"Finch\"\nidle at 1300 µs # µ\n");
    let output = sandbox.command(&["check", "--format", "json", "wren.jig"]).output().unwrap();
    let report: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    let at = &report["findings"][0]["at"];
    let wanted = serde_json::json!({ "file": "wren.jig", "line": 5, "column": 9, "end_line": 5, "end_column": 16 });
    assert_eq!(*at, wanted);
}

#[test]
fn a_sheet_and_a_card_can_be_named_or_given_as_files() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", GOOD).write("own.toml", "edition = 1\nradio = \"Mine\"\nswitchs = 3\n");
    insta::assert_snapshot!("named", sandbox.run(&["check", "wren.jig", "--sheet", "finch", "--radio", "bench"]));
    insta::assert_snapshot!("other-board", sandbox.run(&["check", "wren.jig", "--sheet", "finch-r"]));
    insta::assert_snapshot!("unknown", sandbox.run(&["check", "wren.jig", "--sheet", "fincj", "--radio", "own.toml"]));
}

#[test]
fn what_cannot_be_read_is_told() {
    let sandbox = Sandbox::new();
    insta::assert_snapshot!("no-file", sandbox.run(&["check", "nowhere.jig"]));
    insta::assert_snapshot!("no-recipe", sandbox.run(&["check"]));
    insta::assert_snapshot!("bad-with", sandbox.run(&["check", "wren.jig", "--with", "idle-floor"]));
}

/// What a recipe hides is shown, and reaches neither terminal nor JSON as it is.
#[test]
fn hidden_characters_come_out_as_escapes() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", &format!("{GOOD}# \u{202e}\u{1b}[2J\u{200b}\n"));
    let text = sandbox.run(&["check", "wren.jig"]);
    assert!(text.contains("\\u{202e}") && text.contains("\\u{1b}") && text.contains("\\u{200b}"), "{text}");
    let json = sandbox.run(&["check", "--format", "json", "wren.jig"]);
    for shown in [text, json] {
        assert!(shown.chars().all(|c| c == '\n' || !quadjig::language::characters::is_hidden(c)), "{shown:?}");
    }
}

/// Colour only on a terminal: a pipe gets none even where the environment asks for it.
#[test]
fn a_pipe_gets_no_colour() {
    let sandbox = Sandbox::new();
    sandbox.write("wren.jig", BAD);
    let mut command = sandbox.command(&["check", "wren.jig"]);
    command.env_remove("NO_COLOR").env("TERM", "xterm-256color");
    let shown = shown(&command.output().unwrap(), &sandbox.path(""));
    assert!(!shown.contains('\u{1b}'), "{shown}");
}

/// Whoever closes the pipe has read enough: no message, and the command's own exit code.
#[test]
fn a_closed_pipe_is_quiet() {
    let sandbox = Sandbox::new();
    let many: String = "bind lights to switch S position 1\n".repeat(2000);
    sandbox.write("wren.jig", &format!("{GOOD}{many}"));
    let mut command = sandbox.command(&["check", "wren.jig"]);
    let mut child = command.stdout(std::process::Stdio::piped()).stderr(std::process::Stdio::piped()).spawn().unwrap();
    drop(child.stdout.take());
    let ended = child.wait_with_output().unwrap();
    assert_eq!((ended.status.code(), String::from_utf8(ended.stderr).unwrap().as_str()), (Some(1), ""));
}

#[test]
fn help_has_an_example() {
    let sandbox = Sandbox::new();
    insta::assert_snapshot!(sandbox.run(&["check", "--help"]));
}

/// What is said fits the terminal: lines end between words, and none is lost.
#[cfg(unix)]
#[test]
fn no_word_is_broken_at_the_end_of_a_terminals_line() {
    use pty_process::Size;
    use pty_process::blocking::{Command, open};
    use std::io::Read;
    let sandbox = Sandbox::new();
    sandbox.write("p.jig", &format!("{GOOD}require battery at least 7.2 V\nsignal dshot at 4 kHz\nreboot\n"));
    for arguments in [&["check", "p.jig"][..], &["explain", "plan-no-throttle"], &["explain"]] {
        let (mut terminal, slave) = open().unwrap();
        terminal.resize(Size::new(24, 60)).unwrap();
        let environment = sandbox.environment();
        let mut child = Command::new(env!("CARGO_BIN_EXE_quadjig"))
            .args(arguments)
            .env_clear()
            .envs(environment)
            .current_dir(sandbox.path(""))
            .spawn(slave)
            .unwrap();
        let mut bytes = Vec::new();
        // A terminal whose last writer is gone reads as an error.
        let _ = terminal.read_to_end(&mut bytes);
        child.wait().unwrap();
        let shown = String::from_utf8(bytes).unwrap().replace("\r\n", "\n");
        let long = |line: &&str| line.chars().count() > 60 && line.trim().contains(' ') && !line.contains('|');
        assert_eq!(shown.lines().find(long), None, "{shown}");
        let plain = String::from_utf8(sandbox.command(arguments).output().unwrap().stdout).unwrap();
        let words = |text: &str| text.split_whitespace().map(str::to_owned).collect::<Vec<_>>();
        assert_eq!(words(&shown), words(&plain));
        assert!(shown.lines().count() > plain.lines().count(), "{shown}");
    }
}

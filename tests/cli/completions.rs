//! Completion in a real bash, and manual pages: all of it from the one command line.

use super::Sandbox;
use quadjig::cli::command_line;
use std::process::Command;

/// What bash would insert or list for a command line that ends where Tab is pressed; nothing where there is no bash.
fn completed(sandbox: &Sandbox, line: &str) -> Option<Vec<String>> {
    let binary = std::path::Path::new(env!("CARGO_BIN_EXE_quadjig")).parent().unwrap();
    // The function that the script registers is called as bash calls it: with the command, the word, the word before.
    let script = r#"
        source <(quadjig completions bash)
        read -r -a COMP_WORDS <<< "$LINE"
        [[ $LINE == *' ' ]] && COMP_WORDS+=('')
        COMP_CWORD=$(( ${#COMP_WORDS[@]} - 1 )); COMP_LINE=$LINE; COMP_POINT=${#LINE}; COMP_TYPE=9
        function=$(complete -p quadjig | sed 's/.*-F \([^ ]*\) .*/\1/')
        $function quadjig "${COMP_WORDS[COMP_CWORD]}" "${COMP_WORDS[COMP_CWORD-1]}"
        printf '%s\n' "${COMPREPLY[@]}"
    "#;
    let mut bash = Command::new("bash");
    sandbox.surround(&mut bash);
    let path = format!("{}:/usr/local/bin:/usr/bin:/bin", binary.display());
    let output = bash.args(["--norc", "-c", script]).env("PATH", path).env("LINE", line).output().ok()?;
    let text = String::from_utf8(output.stdout).unwrap();
    assert!(output.status.success(), "{line}: {}", String::from_utf8_lossy(&output.stderr));
    Some(text.split(['\n', '\u{b}']).filter(|word| !word.is_empty()).map(str::to_owned).collect())
}

#[test]
fn bash_completes_what_the_command_line_has() {
    let sandbox = Sandbox::new();
    sandbox
        .write("wren.jig", "")
        .write("notes.txt", "")
        .write("radios/shelf.toml", "")
        .write("boards/siskin.toml", "")
        .write("data/quadjig/crafts/7669727400000001/snapshots/20260301T101500Z.json", "");
    let all = |line: &str| completed(&sandbox, line);
    let Some(commands) = all("quadjig ") else { return };
    for command in command_line().get_subcommands().filter(|command| !command.is_hide_set()) {
        assert!(commands.contains(&command.get_name().to_owned()), "{} in {commands:?}", command.get_name());
    }
    assert!(!commands.contains(&"guardian".to_owned()), "{commands:?}");
    let has = |line: &str, wanted: &[&str], not: &[&str]| {
        let found = all(line).unwrap();
        for word in wanted {
            assert!(found.iter().any(|is| is == word), "{word} for `{line}` in {found:?}");
        }
        for word in not {
            assert!(!found.iter().any(|is| is == word), "{word} for `{line}` in {found:?}");
        }
    };
    has("quadjig che", &["check", "check-sheet"], &["run"]);
    has("quadjig check --str", &["--strict"], &[]);
    has("quadjig check ", &["wren.jig"], &["notes.txt"]);
    has("quadjig check --sheet ", &["finch", "finch-c", "finch-r", "siskin"], &[]);
    has("quadjig check --radio ", &["bench", "shelf"], &[]);
    has("quadjig run wren.jig --port v", &["virtual"], &["tcp:"]);
    has("quadjig explain CF", &["CF1", "CF6"], &["RS1"]);
    let taken = sandbox.path("data/quadjig/crafts/7669727400000001/snapshots/20260301T101500Z.json");
    has("quadjig restore ", &[taken.to_str().unwrap()], &[]);
    has("quadjig check --format ", &["json", "sarif", "text"], &[]);
    has("quadjig help che", &["check"], &[]);
}

#[test]
fn every_shell_that_is_known_gets_a_script() {
    let sandbox = Sandbox::new();
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let output = sandbox.command(&["completions", shell]).output().unwrap();
        let script = String::from_utf8(output.stdout).unwrap();
        assert!(output.status.success() && script.contains("quadjig"), "{shell}: {script}");
    }
    assert_eq!(sandbox.command(&["completions", "cmd"]).output().unwrap().status.code(), Some(2));
}

#[test]
fn help_is_a_word_as_well() {
    let sandbox = Sandbox::new();
    for command in command_line().get_subcommands().filter(|command| !command.is_hide_set()) {
        let name = command.get_name();
        let by_word = sandbox.run(&["help", name]);
        assert_eq!(by_word, sandbox.run(&[name, "--help"]), "{name}");
        assert!(by_word.contains("Usage: quadjig"), "{by_word}");
    }
}

#[test]
fn there_is_a_manual_page_of_every_command() {
    let sandbox = Sandbox::new();
    let output = sandbox.command(&["manual", "--to", "man"]).output().unwrap();
    assert!(output.status.success(), "{}", sandbox.shown(&output));
    for command in command_line().get_subcommands().filter(|command| !command.is_hide_set()) {
        let name = command.get_name();
        let page = std::fs::read_to_string(sandbox.path(&format!("man/quadjig-{name}.1"))).unwrap();
        for part in [".TH QUADJIG-", ".SH NAME", ".SH SYNOPSIS", "Example"] {
            assert!(page.contains(part), "{name}: {part} in {page}");
        }
        for option in command.get_arguments().filter(|option| !option.is_hide_set()).filter_map(clap_long) {
            assert!(page.contains(&option.replace('-', "\\-")), "{name}: {option} in {page}");
        }
        assert!(!page.contains("guardian"), "{page}");
        let alone = sandbox.command(&["manual", name]).output().unwrap();
        assert_eq!(String::from_utf8(alone.stdout).unwrap(), page, "{name}");
    }
    assert!(std::fs::read_to_string(sandbox.path("man/quadjig.1")).unwrap().contains(".SH SUBCOMMANDS"));
    let wrong = sandbox.run(&["manual", "chekc"]);
    assert!(wrong.starts_with("exit code: 2\n") && wrong.contains("there is no command `chekc`"), "{wrong}");
}

fn clap_long(argument: &clap::Arg) -> Option<String> {
    argument.get_long().map(|long| format!("--{long}"))
}

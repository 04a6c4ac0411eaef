//! What is printed to be typed again, read back from a terminal's grid as a copy would be: rows that the terminal itself
//! broke are one, ends of lines stay.
//!
//! Promises: the commands are those of the sources; a POSIX shell says what their words are. Must not be here: what a
//! command does.

use crate::docs::stage::Terminal;
use crate::docs::{files, text};
use quadjig::language::characters::shell_word;
use quadjig::language::finding::Finding;
use quadjig::language::recipe::File;
use quadjig::language::span::{FileId, Span};
use quadjig::report::screen::{Screen, Style};
use quadjig::report::words::folded;
use quadjig::seam::ui::{About, Fact, Question, Reply, Tone, UiEvent};
use quadjig::world::screen::{Drawn, Screen as _};
use std::collections::{BTreeMap, BTreeSet};
use std::num::NonZero;
use std::path::Path;
use std::process::Command;

const WIDTHS: [u16; 3] = [40, 60, 80];
/// A file far down, in a folder of somebody's who likes blanks.
const FILE: &str =
    "/home/wren's bench/.local/share/quadjig/crafts/7669727400000001/snapshots/2026-11-29T19-04-31Z.json";

/// Sources as they are printed: without comments, strings that go on in the next line joined.
fn sources() -> Vec<(String, String)> {
    let code = |name: &str| {
        let whole = text(name);
        let lines = whole.split("#[cfg(test)]").next().unwrap_or_default();
        let lines = lines.lines().filter(|line| !line.trim_start().starts_with("//"));
        lines.fold(String::new(), |code, line| match code.strip_suffix('\\') {
            Some(before) => format!("{before}{}\n", line.trim_start()),
            None => format!("{code}{line}\n"),
        })
    };
    let names = files("src", ".rs").into_iter().map(|path| path.to_string_lossy().into_owned());
    names.map(|name| (name.clone(), code(&name).replace("\\\n", "\\"))).collect()
}

/// Every command between backticks, with `{}` where it has a file.
fn shapes() -> BTreeSet<String> {
    let mut shapes = BTreeSet::new();
    for (_, code) in sources() {
        for part in code.split('`').skip(1) {
            let begins = ["quadjig ", "ls -l ", "ssh-keygen -Y"].iter().any(|word| part.starts_with(word));
            if begins && !part.contains(['\n', '"']) {
                let mut shape = String::new();
                for (at, piece) in part.split('{').enumerate() {
                    let rest = if at == 0 { Some(piece) } else { piece.split_once('}').map(|(_, rest)| rest) };
                    shape.push_str(if at == 0 { "" } else { "{}" });
                    shape.push_str(rest.expect("a place that ends"));
                }
                shapes.insert(shape);
            }
        }
    }
    shapes
}

/// What a shell makes of it.
fn words(line: &str) -> Vec<String> {
    let script = format!("set -- {line}\nprintf '%s\\0' \"$@\"");
    let said = Command::new("/bin/sh").args(["-c", &script]).output().unwrap();
    assert!(said.status.success(), "{line}: {said:?}");
    let words = String::from_utf8(said.stdout).unwrap();
    words.trim_end_matches('\0').split('\0').map(str::to_owned).collect()
}

/// The lines that a copy of the whole screen gives.
fn copied(rows: &[String], width: u16) -> Vec<String> {
    let mut terminal = vt100::Parser::new(NonZero::new(200).unwrap(), NonZero::new(width).unwrap(), 0);
    for row in rows {
        terminal.process(format!("{row}\r\n").as_bytes());
    }
    terminal.screen().contents().lines().map(str::to_owned).collect()
}

/// The command in these lines: a line of its own, or what is between backticks in one.
fn found(lines: &[String], begins: &str) -> Option<String> {
    lines.iter().find_map(|line| {
        let bare = line.trim_start_matches([' ', '┃', '|']);
        let quoted = || line.split('`').skip(1).step_by(2).find(|part| part.starts_with(begins));
        if bare.starts_with(begins) { Some(bare) } else { quoted() }.map(str::to_owned)
    })
}

fn lines(drawn: Drawn) -> Vec<String> {
    match drawn {
        Drawn::Lines(lines) => lines,
        other => panic!("{other:?}"),
    }
}

/// The sentence in every place that prints one.
fn places(sentence: &str, width: u16) -> Vec<(&'static str, Vec<String>)> {
    let columns = usize::from(width);
    let screen = Screen::new(Style { colour: true, ..Style::default() });
    let linear = Screen::new(Style { plain: true, ..Style::default() });
    let line = UiEvent::Line(Tone::Warning, sentence.to_owned());
    let closing = UiEvent::Closing { finished: false, lines: vec![sentence.to_owned()] };
    let facts = UiEvent::Facts { title: "Here".to_owned(), facts: vec![Fact::new("to go on", sentence)] };
    let file = File { name: "wren-95.jig".to_owned(), text: "keep\n".into() };
    let finding = Finding::error("XX1", Span { file: FileId(0), range: 0..4 }, "it can't be so").hint(sentence);
    let findings = UiEvent::Findings(vec![file], vec![finding]);
    let question = Question {
        about: About::Choice,
        craft: "Wren 95".to_owned(),
        is_virtual: false,
        title: "What now?".to_owned(),
        lines: vec![sentence.to_owned()],
        before: None,
        reply: Reply::Choice(vec![('a', "again".to_owned())]),
    };
    let report = folded(&format!("error: it can't be so\n  do: {sentence}\n"), columns);
    vec![
        ("line", lines(screen.shown(&line, columns))),
        ("linear", lines(linear.shown(&line, columns))),
        ("closing", lines(screen.shown(&closing, columns))),
        ("facts", lines(screen.shown(&facts, columns))),
        ("findings", lines(screen.shown(&findings, columns))),
        ("question", screen.question(&question, columns)),
        ("report", report.lines().map(str::to_owned).collect()),
    ]
}

#[test]
fn every_printed_command_is_copied_whole() {
    let (shapes, mut told) = (shapes(), BTreeMap::new());
    assert!(shapes.len() >= 15 && shapes.contains("quadjig restore {}"), "{shapes:#?}");
    // A path by itself, too.
    for shape in shapes.iter().map(String::as_str).chain(["{}"]) {
        let command = shape.replace("{}", &shell_word(Path::new(FILE)));
        let words_of_it: Vec<String> = shape.split(' ').map(|word| word.replace("{}", FILE)).collect();
        let begins = &command[..command.len().min(12)];
        for before in 0..40 {
            // It meets the end of a row at every place.
            let sentence = format!("{} `{command}`, or not.", ["so"; 40][..before].join(" "));
            for width in WIDTHS {
                for (place, rows) in places(sentence.trim_start(), width) {
                    let copied = copied(&rows, width);
                    let found = found(&copied, begins);
                    let found = found.unwrap_or_else(|| panic!("{place} at {width}, {command}: {copied:#?}"));
                    let words = told.entry(found.clone()).or_insert_with(|| words(&found));
                    assert_eq!(*words, words_of_it, "{place} at {width}: {copied:#?}");
                }
            }
        }
    }
}

/// Without backticks it would be broken like any other words.
#[test]
fn every_command_that_is_printed_stands_between_backticks() {
    let commands: Vec<String> =
        quadjig::cli::command_line().get_subcommands().map(|one| format!("quadjig {}", one.get_name())).collect();
    for (name, code) in sources() {
        for line in code.lines().filter(|line| line.contains('"') && !line.contains("Examples:")) {
            let quoted = line.split('`').step_by(2);
            let bare = quoted.flat_map(|part| commands.iter().filter(|command| part.contains(command.as_str())));
            assert_eq!(bare.collect::<Vec<_>>(), Vec::<&String>::new(), "{name}: {line}");
        }
    }
}

/// Examples of help are commands too, and what lays help out breaks its lines as it likes.
#[test]
fn examples_of_help_are_copied_whole() {
    let (sources, sandbox) = (sources(), crate::cli::Sandbox::new());
    for command in [&["review", "sign", "--help"][..], &["rehearse", "--help"], &["diff", "--help"]] {
        let (lines, code) = Terminal::run(&sandbox, command).end();
        assert_eq!(code, 0, "{lines:#?}");
        let examples = lines.iter().skip_while(|line| *line != "Examples:").skip(1);
        let examples: Vec<&String> = examples.take_while(|line| line.starts_with("  ")).collect();
        assert!(examples.len() > 1, "{lines:#?}");
        for example in examples {
            let written = example.trim().replace('"', "\\\"");
            let whole = ["\\n", "\""].map(|end| format!("\\n  {written}{end}"));
            let is_whole = sources.iter().any(|(_, code)| whole.iter().any(|whole| code.contains(whole)));
            assert!(is_whole, "{example} is not as it was written");
        }
    }
}

//! Every fault that a console's table can have is told with its place, and all of them at once.

use quadjig::board::console::sheet::Capability;
use quadjig::board::document::DocumentError;
use quadjig::board::sheet::Sheet;
use quadjig::board::sheet_file;
use quadjig::board::shipped::SHEETS;
use quadjig::board::signals::Stream;
use std::fmt::Write as _;

fn finch_c() -> &'static str {
    SHEETS.iter().find(|sheet| sheet.stem == "finch-c").unwrap().text
}

fn read(text: &str) -> Result<Sheet, DocumentError> {
    sheet_file::read("try.toml", text)
}

/// The sheet with one passage replaced; the passage must stand there exactly once.
fn with(from: &str, to: &str) -> String {
    assert_eq!(finch_c().matches(from).count(), 1, "{from:?} stands once");
    finch_c().replace(from, to)
}

/// The sheet without one table of the console.
fn without(need: Capability) -> String {
    let from = finch_c().find(&format!("[console.{}]", need.key())).unwrap();
    let to = from + 1 + finch_c()[from + 1..].find("\n[").unwrap();
    format!("{}{}", &finch_c()[..from], &finch_c()[to..])
}

#[test]
fn faults_of_a_console() {
    let mut told = String::new();
    for (from, to) in [
        ("link = \"console\"", "link = \"consol\""),
        ("link = \"console\"", "link = \"mavlink\""),
        ("prompt = \"finch> \"", "promt = \"finch> \""),
        ("prompt = \"finch> \"", "prompt = \"finch\\u001b> \""),
        ("prompt = \"finch> \"", "prompt = \"  \""),
        ("echo = true ", "echo = \"yes\" "),
        ("line-end = \"\\r\" ", "line-end = \";\" "),
        ("break = \"\\u0003\"", "break = \"c\""),
        ("break = \"\\u0003\"", "break = \"\\r\""),
        ("break = \"\\u0003\"", "# "),
        ("more-answer = \" \"", "# \" \""),
        ("more = \"-- more: space --\"", "# "),
        ("arms-while-open = true", "# "),
        ("answer-within = \"500 ms\"", "answer-within = \"1 ms\""),
        ("answer-within = \"500 ms\"", "answer-within = 500"),
        ("banner = 'Finch C [0-9.]+'", "banner = 'Finch C [0-9.+'"),
        ("note = '\\* (?<text>.*)'", "note = '\\* .*'"),
        ("refusal = 'no: (?<why>.*)'", "refusal = 'no: (?<reason>.*)'"),
        ("leave = \"leave\"", "leave = \"leave\\r\""),
        ("[console.identity]", "[console.identty]"),
        ("send = \"who\"", "send = \"who {name}\""),
        ("send = \"show {name}\"", "send = \"show\""),
        ("send = \"show {name}\"", "send = \"show {nmae}\""),
        ("send = \"put {value} into {name}\"", "send = \"put {value} into {name} {name}\""),
        ("send = \"spin {motor} {pulse} {ms}\"", "send = \"spin {motor} {pulse}\""),
        ("send = \"keep\"", "send = \"keep\\nagain\""),
        ("answer = 'kept'", "answr = 'kept'"),
        ("answer = 'kept'", "answer = '(kept){9999}{9999}'"),
        ("answer = 'kept'", "answer = ''"),
        ("(?<disarmed>no)", "(no)"),
        ("total = '(?<count>[0-9]+) settings'", "total = '[0-9]+ settings'"),
        ("[console.speeds]", "[console.speds]"),
        ("[console.stop]", "[motors.stop]"),
        ("by = \"console\" ", "by = \"motor-test\" "),
        ("name = \"IDLE_US\"", "name = \"IDLE;US\""),
    ] {
        let error = read(&with(from, to)).expect_err(to);
        writeln!(told, "{from:?} -> {to:?}\n{error}\n").unwrap();
    }
    insta::assert_snapshot!(told);
}

#[test]
fn a_console_table_belongs_to_a_console_alone() {
    let mavlink = SHEETS.iter().find(|sheet| sheet.stem == "finch").unwrap().text;
    let error = read(&format!("{mavlink}\n[console]\nprompt = \"finch> \"\n")).unwrap_err();
    assert!(error.to_string().contains("`console` and `link = \"mavlink\"` cannot stand together"), "{error}");
    let error = read(&mavlink.replace("link = \"mavlink\"", "link = \"console\"")).unwrap_err();
    assert!(error.to_string().contains("the key `console` is missing"), "{error}");
}

/// Four needs make a board; every other may be left out, and is then a thing that the board does not give.
#[test]
fn what_a_sheet_leaves_out_its_board_does_not_give() {
    for need in Capability::ALL {
        let read = read(&without(need));
        match need {
            Capability::Identity | Capability::List | Capability::Read | Capability::Armed => {
                let error = read.unwrap_err().to_string();
                assert!(error.contains(&format!("the key `console.{}` is missing", need.key())), "{error}");
            }
            Capability::Speeds => assert!(read.unwrap_err().to_string().contains("motors.speed-telemetry")),
            Capability::RunMotor | Capability::Stop => {
                assert!(read.unwrap_err().to_string().contains("`motor-run` says"));
            }
            _ => {
                let sheet = read.unwrap();
                assert!(!sheet.provides(need));
                assert!(need.stream().is_none_or(|stream| !sheet.gives(stream)));
                assert!(sheet.gives(Stream::Alive));
            }
        }
    }
}

#[test]
fn the_names_that_may_stand_in_lines_are_those_of_the_sheet() {
    let sheet = read(finch_c()).unwrap();
    let names: Vec<_> = sheet.console().unwrap().names.iter().map(ToString::to_string).collect();
    for name in ["IDLE_US", "ROW8_TO", "LIGHT_LEVEL"] {
        assert!(names.iter().any(|known| known == name), "{name}");
    }
}

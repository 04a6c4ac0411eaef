//! `quadjig check-sheet` from outside, offline and on a board.

use super::Sandbox;
use super::desk::board::Board;
use super::desk::relay::Relay;
use super::desk::{Attended, willing};

fn finch_c() -> &'static str {
    quadjig::board::shipped::SHEETS.iter().find(|sheet| sheet.stem == "finch-c").unwrap().text
}

#[test]
fn a_good_sheet_and_what_it_leaves_out() {
    let sandbox = Sandbox::new();
    let from = finch_c().find("[console.attitude]").unwrap();
    let to = finch_c().find("[console.power]").unwrap();
    let less = format!("{}{}", &finch_c()[..from], &finch_c()[to..]).replace("[settings.level-roll]", "[raw.SPARE]");
    let less = less.replace("arms-while-open = true", "arms-while-open = false");
    let less =
        less.replace("[raw.SPARE]\nname = \"LEVEL_ROLL\"\nreal = true\nunit = \"deg\"", "[raw.SPARE]\nreal = true");
    sandbox.write("less.toml", &less);
    insta::assert_snapshot!("good", sandbox.run(&["check-sheet", "finch"]));
    insta::assert_snapshot!("less", sandbox.run(&["check-sheet", "less.toml"]));
    insta::assert_snapshot!("less-json", sandbox.run(&["check-sheet", "less.toml", "--format", "json"]));
}

#[test]
fn faults_are_told_with_their_places() {
    let sandbox = Sandbox::new();
    sandbox.write("bad.toml", &finch_c().replace("promt", "x").replace("prompt =", "promt =").replace("kv =", "vk ="));
    insta::assert_snapshot!("bad", sandbox.run(&["check-sheet", "bad.toml"]));
    insta::assert_snapshot!("bad-json", sandbox.run(&["check-sheet", "bad.toml", "--format", "json"]));
    insta::assert_snapshot!("none", sandbox.run(&["check-sheet", "none.toml"]));
    insta::assert_snapshot!("help", sandbox.run(&["check-sheet", "--help"]));
}

/// A page that nothing throws away swallows a stop: such a sheet is no sheet, wherever it is given.
#[test]
fn a_console_whose_pages_have_no_break_is_refused_before_anything_is_sent() {
    let sandbox = Sandbox::new();
    let rest: Vec<&str> = finch_c().lines().filter(|line| !line.starts_with("break = ")).collect();
    assert_eq!(rest.len() + 1, finch_c().lines().count());
    sandbox.write("pages.toml", &(rest.join("\n") + "\n"));
    sandbox.write("one.jig", "recipe \"Wren 95\"\nedition 1\ncraft quad x\nboard \"Finch C\"\nrequire disarmed\n");
    let mut board = Board::on_tcp_as("finch-c");
    let relay = Relay::before(&board);
    let (port, records) = (relay.port.as_str(), ["--records", "crafts"]);
    for arguments in [
        vec!["check-sheet", "pages.toml"],
        [&["dry-run", "one.jig", "--sheet", "pages.toml", "--port", port][..], &records].concat(),
        [&["run", "one.jig", "--sheet", "pages.toml", "--port", port][..], &records].concat(),
    ] {
        let said = sandbox.run(&arguments);
        assert!(said.starts_with("exit code: 1\n"), "{arguments:?}: {said}");
        assert!(said.contains("the key `console.break` is missing"), "{arguments:?}: {said}");
        let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(words.contains("an open page swallows every line, a stop too"), "{arguments:?}: {said}");
    }
    assert!(relay.sent().is_empty());
    assert_eq!(board.truth()["board"]["starts"], 1);
}

#[test]
fn without_a_terminal_no_board_is_tried() {
    let sandbox = Sandbox::new();
    let said = sandbox.run(&["check-sheet", "finch-c", "--port", "/dev/null"]);
    assert!(said.starts_with("exit code: 4\n"), "{said}");
    assert!(said.contains("no port was opened and nothing was sent"), "{said}");
}

/// Both links; nothing is changed by it, and a wrong pattern is shown as what it is.
#[test]
fn each_reading_is_tried_on_a_board_and_nothing_is_written() {
    let sandbox = Sandbox::new();
    sandbox.write("wrong.toml", &finch_c().replace("answer = 'tilt roll ", "answer = 'tilt: "));
    for (kind, sheet, code, words) in [
        ("finch", "finch", 0, "attitude: roll"),
        ("finch-c", "finch-c", 0, "motor outputs: 1000 1000 1000 1000 us"),
        ("finch-c", "finch-c", 0, "IDLE_US is 1050 idle 1050 us"),
        ("finch-c", "wrong.toml", 1, "attitude: NOT UNDERSTOOD: no answer that is understood by the sheet"),
    ] {
        let mut board = Board::with(&["--board", kind]);
        let (before, port) = (board.settings(), board.port.clone());
        let ended = Attended::start(&sandbox, &mut board, &["check-sheet", sheet, "--port", &port]).end(willing);
        assert_eq!(ended.code, Some(code), "{}", ended.screen);
        for words in [words, "settings on the board that the sheet does not name:", "nothing was written"] {
            let flat = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
            assert!(flat.contains(words), "{words}:\n{}", ended.screen);
        }
        assert_eq!(board.settings(), before);
        assert_eq!(board.truth()["board"]["starts"], 1);
    }
}

/// A board's packets that are not the sheet's are told with the checksum that would be; each answer's bytes, if asked for.
#[test]
fn what_of_a_packet_does_not_fit_is_said_with_what_would() {
    let sandbox = Sandbox::new();
    let shipped = quadjig::board::shipped::SHEETS.iter().find(|sheet| sheet.stem == "finch-p").unwrap().text;
    // Told by itself, as nobody answers a question with a wrong checksum.
    let asks = ["\nask = 0x10\nanswer", "\nask = 0x11\nanswer"];
    let tells = asks.iter().fold(shipped.to_owned(), |sheet, ask| {
        assert!(sheet.contains(ask), "{ask}");
        sheet.replace(ask, &ask.replace("ask = 0x1", "unasked = true # "))
    });
    let tells = tells.replace("board = \"Finch P\"", "board = \"Teller\"");
    sandbox.write("tells.toml", &tells).write("wrong.toml", &tells.replace("CRC-16/KERMIT", "CRC-16/XMODEM"));
    let sheet = sandbox.path("tells.toml").display().to_string();
    for (sheet_tried, code, words) in [
        (
            "tells.toml",
            0,
            "[packets.outputs] e8 03 e8 03 e8 03 e8 03 ........ pulses at 0 e8 03 e8 03 e8 03 e8 03 1000 1000 1000 1000 us",
        ),
        ("wrong.toml", 1, "NOT THE SHEET'S PACKETS: "),
        (
            "wrong.toml",
            1,
            "what fits all of them: checksum = \"CRC-16/KERMIT\", checksum-over = [\"length\", \"id\", \"payload\"]",
        ),
    ] {
        let mut board = Board::with(&["--sheet", &sheet]);
        let port = board.port.clone();
        let arguments = ["check-sheet", sheet_tried, "--port", &port, "--fields"];
        let ended = Attended::start(&sandbox, &mut board, &arguments).end(willing);
        let flat = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
        assert!(ended.code == Some(code) && flat.contains(words), "{words}:\n{}", ended.screen);
        // What was not read may be there all the same.
        assert!(!flat.contains("NOT ON THE BOARD"), "{}", ended.screen);
    }
}

/// A byte that counts is no setting, whatever name it has: a plan's fingerprint would change with each reading.
#[test]
fn a_byte_that_counts_by_itself_is_named() {
    for (fault, code, says) in [("sound", 0, false), ("counter", 1, true)] {
        let sandbox = Sandbox::new();
        let mut board = Board::with(&["--board", "finch-p"]);
        board.line(&format!("packets {fault}"));
        let port = board.port.clone();
        let ended = Attended::start(&sandbox, &mut board, &["check-sheet", "finch-p", "--port", &port]).end(willing);
        let flat = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
        let counts = "by the sheet it is a setting; by the board it was ";
        let said = flat.contains(counts) && flat.contains("when it was read again: it counts by itself");
        assert!(said == says && ended.code == Some(code), "{fault}:\n{}", ended.screen);
    }
}

/// What was left as the template has it is no board's, and a sheet with it is not without an error.
#[test]
fn what_was_left_of_a_template_is_an_error_with_its_place() {
    let sandbox = Sandbox::new();
    let file = concat!(env!("CARGO_MANIFEST_DIR"), "/recipes/boards/templates/console.toml");
    let template = std::fs::read_to_string(file).unwrap();
    sandbox.write("mine.toml", &template.replace("\"My board\"", "\"Heron\"").replace("\"MY_IDLE\"", "\"IDLE\""));
    let said = sandbox.run(&["check-sheet", "mine.toml"]);
    assert!(said.starts_with("exit code: 1\n"), "{said}");
    let line = 1 + template.lines().position(|line| line.starts_with("must-have")).unwrap();
    let place =
        format!("error: `MY_ARM_CHANNEL` is of the template, and no board's or craft's\n  at: mine.toml:{line}:");
    assert!(said.contains(&place), "{said}");
    assert!(said.contains("`my-get {name}`") && said.contains("`my> `") && !said.contains("`MY_IDLE`"), "{said}");
    assert!((1..=4).all(|motor| said.contains(&format!("error: `MY_CORNER_{motor}` is of"))), "{said}");
    // Each name at each of its places, and none of those in comments.
    let left = said.matches("is of the template").count();
    assert_eq!(left, said.matches("  do: write what your board has there").count());
    assert!(said.ends_with(&format!("1 sheet: {left} errors\n")), "{said}");
}

/// Lies that were planted into sheets of boards as they are, each found by what the board itself says.
#[test]
fn planted_lies_are_found_out_on_a_board() {
    let lies: &[(&str, &str, &str)] = &[
        ("most = 1250", "most = 1040", "CONTRADICTED: settings.idle: by the sheet it takes 1000 to 1040"),
        ("receiver = true", "receiver = false", "CONTRADICTED: usb.receiver: by the sheet USB feeds no receiver"),
        ("granularity = 8", "granularity = 100", "CONTRADICTED: binding.granularity"),
        ("speed-telemetry = true", "speed-telemetry = false", "CONTRADICTED: motors.speed-telemetry"),
        ("only = [1000, 2000, 4000, 8000]", "only = [1000, 4000]", "by the board LOOP_HZ is 2000"),
        ("[raw.LIGHT_LEVEL]", "[raw.LAMP_LEVEL]", "NOT ON THE BOARD, and in the sheet: LAMP_LEVEL"),
    ];
    let shipped = |stem: &str| quadjig::board::shipped::SHEETS.iter().find(|sheet| sheet.stem == stem).unwrap().text;
    // A name in packets is nobody's but the sheet's: there a layout can lie instead.
    let rpm = "fields.rpm = { at = 0, type = \"i32\", count = ";
    let (four, three) = (format!("{rpm}4 }}"), format!("{rpm}3 }}"));
    let layout = (&*four, &*three, "the board's answer has 16 bytes, and the layout in [packets.speeds] has 12");
    // A field whose place is wrong is seen beside its bytes, and so is the byte that it leaves.
    let place = ("LOOP_HZ = { at = 4, type = \"u16\" }", "LOOP_HZ = { at = 5, type = \"u8\" }", "in no field: byte 4");
    // Pulses one byte early.
    let signal = "fields.signal = { at = 0, type = \"u8\" }\n";
    let pulses = |at: u8| format!("fields.pulses = {{ at = {at}, type = \"u16\", count = 16 }}");
    let (late, early) = (format!("{signal}{}", pulses(1)), format!("length = 33\n{}", pulses(0)));
    let told =
        "CONTRADICTED: channels: by the sheet pulses in us, which go from 500 to 2500; by the board channel 1 is ";
    let early = (&*late, &*early, told);
    let of_packets = [&lies[1..3], &[place, layout, early]].concat();
    let one = |kind: &str, told: &str, lies: &[(&str, &str, &str)]| {
        let sandbox = Sandbox::new();
        let mut sheet = shipped(kind).to_owned();
        for (true_line, lie, _) in lies {
            assert!(sheet.contains(true_line), "{kind}: {true_line}");
            sheet = sheet.replacen(true_line, lie, 1);
        }
        sandbox.write("lies.toml", &sheet);
        let mut board = Board::with(&["--board", kind]);
        let (before, port) = (board.settings(), board.port.clone());
        let ended = Attended::start(&sandbox, &mut board, &["check-sheet", "lies.toml", "--port", &port]).end(willing);
        assert_eq!(ended.code, Some(1), "{}", ended.screen);
        let screen = ended.screen.split_whitespace().collect::<Vec<_>>().join(" ");
        for words in lies.iter().map(|(.., words)| *words).chain([told]) {
            assert!(screen.contains(words), "{kind}: {words}:\n{}", ended.screen);
        }
        assert_eq!(board.settings(), before);
    };
    std::thread::scope(|scope| {
        scope.spawn(|| one("finch", "IDLE_US is 1050", lies));
        scope.spawn(|| one("finch-c", "ROW1_FROM is 1698", lies));
        scope.spawn(|| one("finch-p", "IDLE_US at 0 1a 04 1050 idle 1050 us", &of_packets));
    });
}

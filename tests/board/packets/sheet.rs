//! Every fault that a table of packets can have is told with its place: layouts that cannot be are refused at the desk.

use super::kit::text;
use quadjig::board::sheet::Sheet;
use quadjig::board::sheet_file;
use std::fmt::Write as _;

fn read(text: &str) -> Result<Sheet, quadjig::board::document::DocumentError> {
    sheet_file::read("try.toml", text)
}

/// The sheet with one passage replaced; the passage must stand there exactly once.
fn with(stem: &str, from: &str, to: &str) -> String {
    assert_eq!(text(stem).matches(from).count(), 1, "{from:?} stands once");
    text(stem).replace(from, to)
}

#[test]
fn faults_of_packets() {
    let mut told = String::new();
    for (stem, from, to) in [
        ("finch-p", "link = \"packets\"", "link = \"packet\""),
        ("finch-p", "link = \"packets\"", "link = \"mavlink\""),
        ("finch-p", "answer-within = \"200 ms\"", "answer-within = \"1 ms\""),
        ("finch-p", "at-once = 1 ", "at-once = 90 "),
        ("finch-p", "way = \"length\"", "way = \"lenght\""),
        ("finch-p", "way = \"length\"", "way = \"cobs\""),
        ("finch-p", "start = [0x9D, 0x4B] ", "start = [] "),
        ("finch-p", "start = [0x9D, 0x4B] ", "# "),
        ("finch-p", "start = [0x9D, 0x4B] ", "start = [0x9D, 0x4BB] "),
        ("finch-p", "\"length u8\", \"id u8\", \"payload\"", "\"id u8\", \"payload\", \"length u8\""),
        ("finch-p", "\"length u8\", \"id u8\", \"payload\"", "\"length u8\", \"payload\""),
        ("finch-p", "\"length u8\", \"id u8\", \"payload\"", "\"length u8\", \"id u32\", \"payload\""),
        ("finch-p", "\"length u8\", \"id u8\", \"payload\"", "\"length u8\", \"id u8\", \"id u8\", \"payload\""),
        ("finch-p", "length-counts = [\"payload\"]", "length-counts = [\"id\"]"),
        ("finch-p", "length-counts = [\"payload\"]", "length-counts = [\"paylod\"]"),
        ("finch-p", "most = 128 ", "most = 300 "),
        ("finch-p", "most = 128 ", "most = 16 "),
        ("finch-p", "checksum = \"CRC-16/KERMIT\" ", "checksum = \"CRC-16/KERMT\" "),
        ("finch-p", "checksum = \"CRC-16/KERMIT\" ", "checksum = \"my own\" "),
        ("finch-p", "checksum = \"CRC-16/KERMIT\" ", "checksum = \"CRC-32\" "),
        ("finch-p", "checksum = \"CRC-16/KERMIT\" ", "# "),
        ("finch-p", ", \"checksum\"]", "]"),
        ("finch-p", "checksum-over = [\"length\", \"id\", \"payload\"]", "checksum-over = [\"checksum\", \"payload\"]"),
        ("finch-p", "[packets.identity]", "[packets.identty]"),
        ("finch-p", "ask = 0x01\n", "ask = 0x101\n"),
        ("finch-p", "ask = 0x10\n", "ask = 0x19\n"),
        ("finch-p", "answer = 0x90\n", "answer = 0xA0\n"),
        ("finch-p", "id = 0xFE\n", "id = 0xFF\n"),
        (
            "finch-p",
            "fields.armed = { at = 0, type = \"u8\", bit = 0 }",
            "fields.armed = { at = 0, type = \"u8\", bit = 8 }",
        ),
        (
            "finch-p",
            "fields.armed = { at = 0, type = \"u8\", bit = 0 }",
            "fields.armed = { at = 0, type = \"u8\", bits = 2 }",
        ),
        (
            "finch-p",
            "SPIN_AT_ZERO = { at = 2, type = \"u8\" }",
            "SPIN_AT_ZERO = { at = 2, type = \"u8\", unit = \"us\" }",
        ),
        ("finch-p", "fields.armed = { at = 0, type = \"u8\", bit = 0 }", "fields.armd = { at = 0, type = \"u8\" }"),
        ("finch-p", "fields.armed = { at = 0, type = \"u8\", bit = 0 }", "fields.armed = { at = 0, type = \"text\" }"),
        (
            "finch-p",
            "fields.armed = { at = 0, type = \"u8\", bit = 0 }",
            "length = 4\nfields.armed = { at = 4, type = \"u8\" }",
        ),
        (
            "finch-p",
            "fields.pitch = { at = 2, type = \"i16\", unit = \"0.01 deg\" }",
            "fields.pitch = { at = 1, type = \"i16\", unit = \"0.01 deg\" }",
        ),
        (
            "finch-p",
            "fields.pitch = { at = 2, type = \"i16\", unit = \"0.01 deg\" }",
            "fields.pitch = { at = 2, type = \"i17\", unit = \"0.01 deg\" }",
        ),
        (
            "finch-p",
            "fields.volts = { at = 0, type = \"u16\", unit = \"mV\" }",
            "fields.volts = { at = 0, type = \"u16\", unit = \"mA\" }",
        ),
        (
            "finch-p",
            "fields.volts = { at = 0, type = \"u16\", unit = \"mV\" }",
            "fields.volts = { at = 0, type = \"u16\", unit = \"0 V\" }",
        ),
        ("finch-p", "payload = [0, 0, 0, 0, 0]", "payload = [0, 0, 0]"),
        ("finch-p", "put.ms = ", "put.milliseconds = "),
        ("finch-p", "SPIN_AT_ZERO = { at = 2, type = \"u8\" }", "SPIN_AT_ZERO = { at = 1, type = \"u8\" }"),
        ("finch-p", "SPIN_AT_ZERO = { at = 2, type = \"u8\" }", "SPIN_AT_ZER = { at = 2, type = \"u8\" }"),
        ("finch-p", "CELLS = { at = 3, type = \"u8\" }", "IDLE_US = { at = 3, type = \"u8\" }"),
        ("finch-p", "write = 0x41\n", "write = 0x40\n"),
        ("finch-p", "[packets.stop]", "[packets.stp]"),
        ("finch-p", "by = \"packets\" ", "by = \"console\" "),
        ("finch-p", "answer = 0xA5\n", "answer = 0xA5\nlength = 53\n"),
        ("finch-q", "rows = { count = 8, size = 6 }", "rows = { count = 8, size = 5 }"),
        ("finch-q", "rows = { count = 8, size = 6 }", "rows = { count = 7, size = 6 }"),
        ("finch-q", "\"ROW{row}_TO\" = { at = 4, type = \"u16\" }", "\"ROW_TO\" = { at = 4, type = \"u16\" }"),
        ("finch-q", "parts = [\"id u16\"", "parts = [\"length u8\", \"id u16\""),
    ] {
        let error = read(&with(stem, from, to)).expect_err(to);
        writeln!(told, "{from:?} -> {to:?}\n{error}\n").unwrap();
    }
    insta::assert_snapshot!(told);
}

/// A table of packets belongs to a link of packets alone.
#[test]
fn a_packets_table_belongs_to_packets_alone() {
    let error = read(&format!("{}\n[packets]\nat-once = 1\n", text("finch"))).unwrap_err();
    assert!(error.to_string().contains("`packets` and `link = \"mavlink\"` cannot stand together"), "{error}");
    let error = read(&text("finch").replace("link = \"mavlink\"", "link = \"packets\"")).unwrap_err();
    assert!(error.to_string().contains("the key `packets` is missing"), "{error}");
}

/// Three needs make a board; every other may be left out, and is then a thing that the board does not give.
#[test]
fn what_a_sheet_leaves_out_its_board_does_not_give() {
    use quadjig::board::console::Capability;
    for need in Capability::ALL {
        if matches!(need, Capability::List | Capability::Read | Capability::Write) {
            continue;
        }
        let header = format!("[packets.{}]", need.key());
        let from = text("finch-p").find(&header).unwrap();
        let to = from + 1 + text("finch-p")[from + 1..].find("\n[").unwrap();
        let read = read(&format!("{}{}", &text("finch-p")[..from], &text("finch-p")[to..]));
        match need {
            Capability::Identity | Capability::Armed => {
                let error = read.unwrap_err().to_string();
                assert!(error.contains(&format!("the key `packets.{}` is missing", need.key())), "{error}");
            }
            Capability::Speeds => assert!(read.unwrap_err().to_string().contains("motors.speed-telemetry")),
            Capability::RunMotor | Capability::Stop => {
                assert!(read.unwrap_err().to_string().contains("`motor-run` says what the packets must give"));
            }
            _ => assert!(!read.unwrap().provides(need)),
        }
    }
}

/// A motor run that the stop does not end is none: said at the desk, and not at the first motor.
#[test]
fn a_motor_run_is_one_that_the_stop_ends() {
    let error = read(&with("finch-p", "stops-by = \"disarm\"", "stops-by = \"stop command\"")).unwrap_err().to_string();
    assert!(error.contains("motor-run.stops-by") && error.contains("disarm"), "{error}");
}

//! Messages of the language server protocol on a stream of bytes.
//!
//! Promises: whatever comes, reading goes on behind it; no header and no message takes more memory than its bound.
//! Source: Language Server Protocol 3.17, "Base Protocol". Must not be here: what a message says.

use serde_json::Value;
use std::io::{self, BufRead, Read, Write};

/// The longest message that is read. A text of 1 MiB takes at most six times as much in JSON.
pub const LONGEST: u64 = 16 << 20;
/// The longest line of a header.
const LONGEST_LINE: u64 = 8 << 10;
const LENGTH: &str = "Content-Length";

/// What came.
#[derive(Debug)]
pub enum Frame {
    /// The bytes of a message.
    Body(Vec<u8>),
    /// Something that is none, and why.
    Odd(&'static str),
    /// Nothing comes any more.
    End,
}

/// Reads the next message. Behind something that is none it goes on with the next header of a length.
///
/// # Errors
/// The system's.
pub fn read(input: &mut impl BufRead) -> io::Result<Frame> {
    let (mut length, mut odd) = (None, false);
    loop {
        let mut line = Vec::new();
        if input.by_ref().take(LONGEST_LINE).read_until(b'\n', &mut line)? == 0 {
            return Ok(Frame::End);
        }
        let line = String::from_utf8_lossy(&line);
        let line = line.trim_end_matches(['\r', '\n']);
        match (line.is_empty(), length) {
            (true, Some(length)) => return body(input, length),
            (true, None) if odd => return Ok(Frame::Odd("this is no header of a message")),
            (true, None) => {}
            (false, _) => match header(line) {
                Some(Ok(found)) => length = Some(found),
                Some(Err(_)) => (length, odd) = (None, true),
                None => odd |= !line.contains(": "),
            },
        }
    }
}

/// The length that a line tells; behind the rest of a message that told too short a length, it need not begin the line.
fn header(line: &str) -> Option<Result<u64, std::num::ParseIntError>> {
    let at = match line.get(..LENGTH.len()) {
        Some(start) if start.eq_ignore_ascii_case(LENGTH) => 0,
        _ => line.rfind(LENGTH)?,
    };
    let value = line[at + LENGTH.len()..].trim_start().strip_prefix(':')?;
    Some(value.trim().parse())
}

fn body(input: &mut impl BufRead, length: u64) -> io::Result<Frame> {
    let mut limited = input.take(length);
    if length > LONGEST {
        io::copy(&mut limited, &mut io::sink())?;
        return Ok(Frame::Odd("this message is longer than 16 MiB"));
    }
    let mut bytes = Vec::new();
    let read = limited.read_to_end(&mut bytes)?;
    Ok(if read as u64 == length { Frame::Body(bytes) } else { Frame::End })
}

/// Writes a message.
///
/// # Errors
/// The system's.
pub fn write(output: &mut impl Write, message: &Value) -> io::Result<()> {
    let text = message.to_string();
    write!(output, "{LENGTH}: {}\r\n\r\n{text}", text.len())?;
    output.flush()
}

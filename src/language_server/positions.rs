//! Places of a text as an editor counts them: lines from 0, and columns in units of an encoding.
//!
//! Promises: any position at all has a place, the nearest that there is; a place within a character is its start.
//! Source: Language Server Protocol 3.17, "Position" and "Client Capabilities". Must not be here: what stands there.

use lsp_types::{ClientCapabilities, Position, PositionEncodingKind, Range};
use std::ops::Range as Bytes;

/// What a column counts.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Encoding {
    /// Bytes.
    Utf8,
    /// Units of 16 bits: what every client knows.
    #[default]
    Utf16,
    /// Characters.
    Utf32,
}

impl Encoding {
    /// The cheapest that a client offers.
    pub fn chosen(client: &ClientCapabilities) -> Self {
        let offered = client.general.as_ref().and_then(|general| general.position_encodings.as_deref());
        let offers = |kind: &PositionEncodingKind| offered.is_some_and(|all| all.contains(kind));
        match () {
            () if offers(&PositionEncodingKind::UTF8) => Self::Utf8,
            () if offers(&PositionEncodingKind::UTF32) && !offers(&PositionEncodingKind::UTF16) => Self::Utf32,
            () => Self::Utf16,
        }
    }

    /// Its name in the protocol.
    pub fn kind(self) -> PositionEncodingKind {
        match self {
            Self::Utf8 => PositionEncodingKind::UTF8,
            Self::Utf16 => PositionEncodingKind::UTF16,
            Self::Utf32 => PositionEncodingKind::UTF32,
        }
    }

    fn units(self, c: char) -> usize {
        match self {
            Self::Utf8 => c.len_utf8(),
            Self::Utf16 => c.len_utf16(),
            Self::Utf32 => 1,
        }
    }
}

/// A text with the places where its lines begin. A line ends in LF, CR LF, or CR alone, as in the protocol.
#[derive(Debug, Clone, Copy)]
pub struct Lines<'t> {
    text: &'t str,
    starts: &'t [usize],
    encoding: Encoding,
}

/// Where the lines of a text begin.
pub fn starts(text: &str) -> Vec<usize> {
    let bytes = text.as_bytes();
    let ends = |(at, byte): (usize, &u8)| match byte {
        b'\n' => Some(at + 1),
        b'\r' if bytes.get(at + 1) != Some(&b'\n') => Some(at + 1),
        _ => None,
    };
    std::iter::once(0).chain(bytes.iter().enumerate().filter_map(ends)).collect()
}

impl<'t> Lines<'t> {
    /// A text with its [`starts`].
    pub fn new(text: &'t str, starts: &'t [usize], encoding: Encoding) -> Self {
        Self { text, starts, encoding }
    }

    /// A line's bytes without its end.
    fn line(&self, line: usize) -> Bytes<usize> {
        let start = self.starts[line];
        let end = self.starts.get(line + 1).copied().unwrap_or(self.text.len());
        start..start + self.text[start..end].trim_end_matches(['\r', '\n']).len()
    }

    /// The byte of a position.
    pub fn offset(&self, position: Position) -> usize {
        let line = usize::try_from(position.line).unwrap_or(usize::MAX);
        if line >= self.starts.len() {
            return self.text.len();
        }
        let range = self.line(line);
        let (wanted, mut column) = (usize::try_from(position.character).unwrap_or(usize::MAX), 0);
        for (at, c) in self.text[range.clone()].char_indices() {
            column += self.encoding.units(c);
            if column > wanted {
                return range.start + at;
            }
        }
        range.end
    }

    /// The bytes of a range; one that ends before it begins is turned round.
    pub fn bytes(&self, range: Range) -> Bytes<usize> {
        let (start, end) = (self.offset(range.start), self.offset(range.end));
        start.min(end)..start.max(end)
    }

    /// The position of a byte.
    pub fn position(&self, offset: usize) -> Position {
        let mut offset = offset.min(self.text.len());
        while !self.text.is_char_boundary(offset) {
            offset -= 1;
        }
        let line = self.starts.partition_point(|start| *start <= offset) - 1;
        let column: usize = self.text[self.starts[line]..offset].chars().map(|c| self.encoding.units(c)).sum();
        let short = |number: usize| u32::try_from(number).unwrap_or(u32::MAX);
        Position { line: short(line), character: short(column) }
    }

    /// The range of bytes.
    pub fn range(&self, bytes: &Bytes<usize>) -> Range {
        Range { start: self.position(bytes.start), end: self.position(bytes.end) }
    }
}

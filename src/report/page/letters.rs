//! Large letters and digits, drawn in half and whole blocks: to be read from where a craft is held.
//!
//! Must not be here: which words.

use super::canvas::{Canvas, Ink};

/// Rows of points of a letter.
const TALL: usize = 5;

/// A letter by its points, row by row; a bit set is a point, the highest bit of `width` on the left.
struct Letter {
    width: u32,
    rows: [u8; TALL],
}

fn letter(c: char) -> Letter {
    let (width, rows) = match c {
        'A' => (3, [0b010, 0b101, 0b111, 0b101, 0b101]),
        'D' => (3, [0b110, 0b101, 0b101, 0b101, 0b110]),
        'E' => (3, [0b111, 0b100, 0b110, 0b100, 0b111]),
        'H' => (3, [0b101, 0b101, 0b111, 0b101, 0b101]),
        'I' => (1, [0b1; TALL]),
        'K' => (3, [0b101, 0b101, 0b110, 0b101, 0b101]),
        'L' => (3, [0b100, 0b100, 0b100, 0b100, 0b111]),
        'M' => (5, [0b10001, 0b11011, 0b10101, 0b10001, 0b10001]),
        'N' => (4, [0b1001, 0b1101, 0b1011, 0b1001, 0b1001]),
        'O' | '0' => (3, [0b111, 0b101, 0b101, 0b101, 0b111]),
        'R' => (3, [0b110, 0b101, 0b110, 0b101, 0b101]),
        'S' | '5' => (3, [0b111, 0b100, 0b111, 0b001, 0b111]),
        'T' => (3, [0b111, 0b010, 0b010, 0b010, 0b010]),
        'U' => (3, [0b101, 0b101, 0b101, 0b101, 0b111]),
        'V' => (3, [0b101, 0b101, 0b101, 0b101, 0b010]),
        '1' => (3, [0b010, 0b110, 0b010, 0b010, 0b111]),
        '2' => (3, [0b111, 0b001, 0b111, 0b100, 0b111]),
        '3' => (3, [0b111, 0b001, 0b011, 0b001, 0b111]),
        '4' => (3, [0b101, 0b101, 0b111, 0b001, 0b001]),
        '6' => (3, [0b111, 0b100, 0b111, 0b101, 0b111]),
        '7' => (3, [0b111, 0b001, 0b001, 0b010, 0b010]),
        '8' => (3, [0b111, 0b101, 0b111, 0b101, 0b111]),
        '9' => (3, [0b111, 0b101, 0b111, 0b001, 0b111]),
        '.' => (1, [0, 0, 0, 0, 1]),
        '-' => (2, [0, 0, 0b11, 0, 0]),
        _ => (2, [0; TALL]),
    };
    Letter { width, rows }
}

/// The points of a word, row by row.
fn points(word: &str) -> [Vec<bool>; TALL] {
    let mut rows: [Vec<bool>; TALL] = Default::default();
    for (at, c) in word.chars().enumerate() {
        let Letter { width, rows: bits } = letter(c);
        for (row, bits) in rows.iter_mut().zip(bits) {
            if at > 0 {
                row.push(false);
            }
            row.extend((0..width).rev().map(|bit| bits >> bit & 1 == 1));
        }
    }
    rows
}

/// Rows and columns that a word takes.
pub(super) fn size(word: &str, large: bool) -> (u16, u16) {
    let columns = u16::try_from(points(word)[0].len()).unwrap_or(u16::MAX);
    if large { (5, columns.saturating_mul(2)) } else { (3, columns) }
}

/// Draws a word: three rows high in half blocks, or five rows high and twice as wide.
pub(super) fn word(canvas: &mut Canvas<'_>, x: u16, y: u16, word: &str, large: bool, ink: Ink) {
    let rows = points(word);
    let lines: Vec<String> = if large {
        rows.iter().map(|row| row.iter().map(|point| if *point { "██" } else { "  " }).collect()).collect()
    } else {
        // Half a row above stays free, so that an exchanged word has an edge on every side.
        let pair = |below: usize| {
            let above = below.checked_sub(1).map(|above| &rows[above]);
            let one = |at: usize| match (above.is_some_and(|above| above[at]), rows[below][at]) {
                (true, true) => '█',
                (true, false) => '▀',
                (false, true) => '▄',
                (false, false) => ' ',
            };
            (0..rows[below].len()).map(one).collect()
        };
        (0..TALL).step_by(2).map(pair).collect()
    };
    for (row, line) in (y..).zip(lines) {
        canvas.put(x, row, &line, ink);
    }
}

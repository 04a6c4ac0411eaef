//! Small helpers for text in columns: wrapping, times, numbers.
//!
//! Promises: no line grows over its width unless a single word is longer. Must not be here: what is said.

use rustyline::GraphemeClusterMode;
use std::time::Duration;

/// Breaks text into lines of at most `width` characters at its spaces. Never empty.
#[must_use]
pub fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut length = 0;
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let letters = columns(word);
        if length > 0 && length + 1 + letters > width {
            lines.push(std::mem::take(&mut line));
            length = 0;
        }
        if length > 0 {
            line.push(' ');
            length += 1;
        }
        line.push_str(word);
        length += letters;
    }
    lines.push(line);
    lines
}

/// Columns that a text takes: a wide letter takes two.
#[must_use]
pub fn columns(text: &str) -> usize {
    usize::from(GraphemeClusterMode::WcWidth.width(text))
}

/// As much of a text as so many columns hold.
#[must_use]
pub fn fit(text: &str, most: usize) -> String {
    let mut used = 0;
    let fits = |c: &char| {
        used += columns(c.encode_utf8(&mut [0; 4]));
        used <= most
    };
    text.chars().take_while(fits).collect()
}

/// A time for people: `300 ms`, `2.5 s`, `20 s`, `3 min`.
#[must_use]
pub fn time(time: Duration) -> String {
    let ms = time.as_millis();
    match ms {
        0..1000 => format!("{ms} ms"),
        1000..120_000 if ms.is_multiple_of(1000) => format!("{} s", ms / 1000),
        1000..120_000 => format!("{}.{} s", ms / 1000, ms % 1000 / 100),
        _ => format!("{} min", ms.div_ceil(60_000)),
    }
}

/// `1 start`, `3 starts`.
#[must_use]
pub fn counted(number: u64, one: &str) -> String {
    if number == 1 { format!("1 {one}") } else { format!("{number} {one}s") }
}

#[cfg(test)]
mod tests {
    use super::{time, wrap};
    use std::time::Duration;

    #[test]
    fn lines_keep_their_width_and_every_word() {
        assert_eq!(wrap("one two three", 7), ["one two", "three"]);
        assert_eq!(wrap("longer-than-that is kept", 6), ["longer-than-that", "is", "kept"]);
        assert_eq!(wrap("", 7), [""]);
    }

    #[test]
    fn times_are_said_shortly() {
        let said = [300, 1000, 2500, 20_000, 180_000].map(|ms| time(Duration::from_millis(ms)));
        assert_eq!(said, ["300 ms", "1 s", "2.5 s", "20 s", "3 min"]);
    }
}

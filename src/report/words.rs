//! Small helpers for text in columns: wrapping, times, numbers.
//!
//! Promises: no line grows over its width unless a single word is longer; what stands between backticks is one word, so
//! that what is to be typed again is copied whole. Must not be here: what is said.

use rustyline::GraphemeClusterMode;
use std::time::Duration;

/// What is printed to be typed again begins so, a path with blanks among it; the rest are statements and words.
const TYPED: [&str; 4] = ["quadjig ", "ls -l ", "ssh-keygen ", "'"];

/// Each text once, in the order in which they came.
pub(super) fn once<'t>(all: impl Iterator<Item = &'t str>) -> Vec<&'t str> {
    let mut once = Vec::new();
    for text in all {
        if !once.contains(&text) {
            once.push(text);
        }
    }
    once
}

/// A row in words, each blank between two; what stands between backticks is not taken apart, but where a row of so many
/// columns does not hold it and it could draw anything: it may be somebody's, and the terminal breaks it where it likes.
fn words(row: &str, width: usize) -> Vec<&str> {
    let harmless = |c: char| c == ' ' || c.is_ascii_graphic() || c.is_alphanumeric();
    let (mut words, mut from, mut at, mut apart) = (Vec::new(), 0, 0, 0);
    while let Some(found) = row[at..].find([' ', '`']) {
        let here = at + found;
        at = here + 1;
        if row[here..].starts_with('`') {
            let Some(inside) = row[at..].find('`').filter(|_| here >= apart).map(|end| &row[at..at + end]) else {
                continue;
            };
            let behind = at + inside.len() + 1;
            let whole = columns_shown(inside) + 2 <= width || inside.chars().all(harmless) && !inside.contains("  ");
            if whole { at = behind } else { apart = behind }
        } else {
            words.push(&row[from..here]);
            from = at;
        }
    }
    words.push(&row[from..]);
    words
}

/// What is to be typed again of a word that no row holds: it stands on a row of its own without backticks and without the
/// stop behind them, so that the row is what is pasted. The terminal breaks it softly.
fn alone(word: &str) -> Option<&str> {
    let (before, rest) = word.split_once('`')?;
    let (inside, after) = rest.rsplit_once('`')?;
    let bare = matches!(before, "" | "(") && after.chars().all(|c| ".,;:)".contains(c));
    (bare && TYPED.iter().any(|begins| inside.starts_with(begins))).then_some(inside)
}

/// Breaks text into lines of at most `width` characters at its spaces. Never empty.
#[must_use]
pub fn wrap(text: &str, width: usize) -> Vec<String> {
    let mut lines = Vec::new();
    let mut line = String::new();
    let mut length = 0;
    for word in words(text, width).into_iter().filter(|word| !word.is_empty()) {
        let letters = columns(word);
        if let Some(whole) = alone(word).filter(|_| letters > width) {
            // Beside a label it would not be alone.
            lines.extend((length > 0 || lines.is_empty()).then(|| std::mem::take(&mut line)));
            lines.push(whole.to_owned());
            length = 0;
            continue;
        }
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
    if length > 0 || lines.is_empty() {
        lines.push(line);
    }
    lines
}

/// A text for a terminal of so many columns: lines that are longer break at their blanks, and go on below their words.
/// The excerpts of findings stay as they are: marks stand below them.
#[must_use]
pub fn folded(text: &str, width: usize) -> String {
    let mut out = String::with_capacity(text.len());
    for line in text.split_inclusive('\n') {
        let (row, end) = line.strip_suffix('\n').map_or((line, ""), |row| (row, "\n"));
        if columns_shown(row) <= width || is_excerpt(row) {
            out.push_str(line);
            continue;
        }
        let (mut used, hang) = (0, hang(&plain(row)).min(width / 2));
        // Whether anything stands in the row, and whether all of it is to be pasted.
        let (mut begun, mut whole) = (false, false);
        for (at, word) in words(row, width - hang).into_iter().enumerate() {
            let letters = columns_shown(word);
            let own = alone(word).filter(|_| hang + letters > width);
            let full = used > hang && used + 1 + letters > width;
            if letters > 0 && begun && (full || whole || own.is_some()) {
                out.truncate(out.trim_end_matches(' ').len());
                out.push('\n');
                out.push_str(&" ".repeat(hang));
                used = hang;
            } else if at > 0 {
                out.push(' ');
                used += 1;
            }
            out.push_str(own.unwrap_or(word));
            whole = own.is_some();
            begun |= letters > 0;
            used += letters;
        }
        out.push_str(end);
    }
    out
}

/// Whether a row shows a line of a recipe, or marks below one: `14 | keep`.
fn is_excerpt(row: &str) -> bool {
    plain(row).trim_start().trim_start_matches(|c: char| c.is_ascii_digit()).trim_start().starts_with('|')
}

/// A row without its colour.
fn plain(row: &str) -> String {
    let mut escape = false;
    let shown = |c: &char| {
        let coloured = escape || *c == '\u{1b}';
        escape = coloured && *c != 'm';
        !coloured
    };
    row.chars().filter(shown).collect()
}

fn columns_shown(row: &str) -> usize {
    columns(&plain(row))
}

/// Where the words of a row begin: behind `= do:`, behind the last gap between columns, or a little below its start.
fn hang(row: &str) -> usize {
    let lead = row.len() - row.trim_start().len();
    if let Some((mark, _)) = row.split_once("do: ").filter(|(mark, _)| mark.trim_start().starts_with('=')) {
        return columns_shown(mark) + "do: ".len();
    }
    match row.trim_start().rfind("  ") {
        Some(gap) => columns_shown(&row[..lead + gap + 2]),
        None => lead + 2,
    }
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

/// A time that somebody has: `300 ms`, `2.5 s`, `20 s`, `3 min`.
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

/// A time that something takes at most.
#[must_use]
pub fn at_most(time: Duration) -> String {
    let tenths = time.as_millis().div_ceil(100);
    self::time(Duration::from_millis(u64::try_from(tenths).map_or(u64::MAX, |tenths| tenths.saturating_mul(100))))
}

#[cfg(test)]
mod tests {
    use super::{at_most, columns, folded, time, wrap};
    use std::time::Duration;

    #[test]
    fn lines_keep_their_width_and_every_word() {
        assert_eq!(wrap("one two three", 7), ["one two", "three"]);
        assert_eq!(wrap("longer-than-that is kept", 6), ["longer-than-that", "is", "kept"]);
        assert_eq!(wrap("", 7), [""]);
    }

    #[test]
    fn what_is_to_be_typed_again_is_never_broken() {
        assert_eq!(wrap("so `a b c`, or not", 11), ["so `a b c`,", "or not"]);
        assert_eq!(wrap("say `a b c`: or not", 11), ["say", "`a b c`: or", "not"]);
        assert_eq!(wrap("say (`ls -l a`). So", 8), ["say", "ls -l a", "So"]);
        assert_eq!(wrap("`'a bcd e'`.", 8), ["", "'a bcd e'"]);
        assert_eq!(wrap("say `a bcd e`. So", 8), ["say", "`a bcd e`.", "So"], "a statement stays what it is");
        assert_eq!(wrap("one ` alone", 5), ["one `", "alone"]);
        assert_eq!(
            folded("  = do: `ls -l d e`, or more of it\n", 16),
            "  = do:\n        ls -l d e\n        or more\n        of it\n"
        );
        assert_eq!(folded("  = do: so `a b c`, or\n", 17), "  = do: so\n        `a b c`,\n        or\n");
    }

    /// A text of somebody's that the terminal breaks could stand at its left edge as a question does.
    #[test]
    fn what_could_draw_is_broken_between_backticks_too() {
        for drawn in
            ["`quadjig aaa  ┏━━ Wren 95 ━━` b", "`quadjig aaa       STOP` b", "`a bcd ┏━━` b", "\"`ls -l aaa   b`\" b"]
        {
            assert!(wrap(drawn, 9).iter().all(|row| columns(row) <= 9), "{drawn}");
            assert!(folded(drawn, 9).lines().all(|row| columns(row) <= 9), "{drawn}");
        }
        assert_eq!(wrap("says \"`quadjig run it`\"", 12), ["says", "\"`quadjig run it`\""], "quoted, it stays quoted");
    }

    #[test]
    fn what_is_longer_than_the_terminal_breaks_between_words() {
        let text = "error[CM1]: this can turn a motor\n 8 | test arm, and so on\n  = do: write `keep` above it\n";
        let shown =
            "error[CM1]: this can\n  turn a motor\n 8 | test arm, and so on\n  = do: write `keep`\n        above it\n";
        assert_eq!(folded(text, 20), shown);
        assert_eq!(
            folded("  board  of a maker who has many\n", 20),
            "  board  of a maker\n         who has\n         many\n"
        );
        let colour = "\u{1b}[1mone\u{1b}[0m two three";
        assert_eq!(folded(colour, 13), colour, "colour takes no room");
        assert_eq!(folded("a fingerprint-of-many-letters stays\n", 12), "a fingerprint-of-many-letters\n  stays\n");
    }

    #[test]
    fn times_are_said_shortly() {
        let said = [300, 1000, 2500, 20_000, 180_000].map(|ms| time(Duration::from_millis(ms)));
        assert_eq!(said, ["300 ms", "1 s", "2.5 s", "20 s", "3 min"]);
        let round = |ms| (time(Duration::from_millis(ms)), at_most(Duration::from_millis(ms)));
        assert_eq!(round(2410), ("2.4 s".to_owned(), "2.5 s".to_owned()));
        assert_eq!(round(4960), ("4.9 s".to_owned(), "5 s".to_owned()));
    }
}

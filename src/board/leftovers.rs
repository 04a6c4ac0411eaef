//! What was left as it stood in a template: names and lines that are no board's.
//!
//! Promises: each with its place; comments are nobody's. Must not be here: what a sheet means.

/// Something of a template.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Leftover {
    /// As it stands there.
    pub text: String,
    /// Line and column, from 1, columns in characters.
    pub at: (usize, usize),
}

/// How texts of the templates begin: a setting's name, a board, a line to send, a prompt.
const MARKS: [&str; 4] = ["MY_", "My board", "my-", "my> "];

/// Everything in a sheet that still stands as in a template, in the order of its places.
#[must_use]
pub fn leftovers(text: &str) -> Vec<Leftover> {
    let mut found = Vec::new();
    for (number, line) in (1..).zip(text.lines()) {
        let kept = without_comment(line);
        // A table's name has no quotes: [raw.MY_LIGHTS].
        if let Some(header) = kept.trim().strip_prefix('[')
            && let Some(at) = header.find(MARKS[0])
        {
            let name: String = header[at..].chars().take_while(|c| c.is_ascii_alphanumeric() || *c == '_').collect();
            let column = kept.find(&name).map_or(1, |at| kept[..at].chars().count() + 1);
            found.push(Leftover { text: name, at: (number, column) });
            continue;
        }
        // Nor has a setting's name among the fields of a packet: MY_IDLE = { at = 0, type = "u16" }.
        if let Some((key, _)) = kept.split_once('=').filter(|(key, _)| key.trim_start().starts_with(MARKS[0])) {
            let column = key.chars().take_while(|c| c.is_whitespace()).count() + 1;
            found.push(Leftover { text: key.trim().to_owned(), at: (number, column) });
        }
        for (at, quoted) in quoted(kept) {
            if MARKS.iter().any(|mark| quoted.starts_with(mark)) {
                found.push(Leftover { text: quoted.to_owned(), at: (number, kept[..at].chars().count() + 1) });
            }
        }
    }
    found
}

/// The line up to a `#` that stands in no quotes.
fn without_comment(line: &str) -> &str {
    let mut open = None;
    for (at, c) in line.char_indices() {
        match (open, c) {
            (None, '#') => return &line[..at],
            (None, '"' | '\'') => open = Some(c),
            (Some(quote), c) if quote == c => open = None,
            _ => {}
        }
    }
    line
}

/// The texts in quotes, with the place of the first character behind each opening quote.
fn quoted(line: &str) -> Vec<(usize, &str)> {
    let (mut all, mut open) = (Vec::new(), None);
    for (at, c) in line.char_indices() {
        match open {
            None if matches!(c, '"' | '\'') => open = Some((c, at + 1)),
            Some((quote, from)) if quote == c => {
                all.push((from, &line[from..at]));
                open = None;
            }
            _ => {}
        }
    }
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_stands_in_a_comment_is_no_leftover() {
        let text = "board = \"My board\"  # not \"MY_X\"\n#= name = \"MY_Y\"\n[raw.MY_Z]\nname = \"TUMMY_A\"\nsend = 'my-get {name}'\n MY_B = { at = 0 }\n";
        let found: Vec<(String, (usize, usize))> = leftovers(text).into_iter().map(|one| (one.text, one.at)).collect();
        let told = [("My board", (1, 10)), ("MY_Z", (3, 6)), ("my-get {name}", (5, 9)), ("MY_B", (6, 2))];
        assert_eq!(found, told.map(|(text, at)| (text.to_owned(), at)));
    }
}

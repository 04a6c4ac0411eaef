//! Characters that could hide, move or restyle what stands around them, names that could pass for our own words, and words
//! that a shell could take for others.
//!
//! Promises: one table, for what is refused in a recipe (in its comments too), for what the output gate shows as an
//! escape, and for typed lines: what is shown must be what is meant. Must not be here: what is done about them.

use std::borrow::Cow;
use std::path::Path;

/// Whether a character could hide, move or restyle what stands around it; line ends are among them. A tab shows as
/// room, so who lays out a single line has to mind it as well.
///
/// Control characters (C0, DEL, C1), line and paragraph separators, the Unicode format characters (general category
/// Cf: bidirectional marks, embeddings, overrides and isolates, zero-width joiners, soft hyphen, tags, annotation
/// marks), and the other invisible ones (Hangul fillers, the combining grapheme joiner, variation selectors).
/// Source: Unicode 16 `UnicodeData.txt` (Cc, Cf, Zl, Zp) and `DerivedCoreProperties.txt`
/// (`Default_Ignorable_Code_Point`).
#[must_use]
pub fn is_hidden(c: char) -> bool {
    c.is_control() && c != '\t'
        || matches!(c,
            '\u{ad}' | '\u{34f}' | '\u{600}'..='\u{605}' | '\u{61c}' | '\u{6dd}' | '\u{70f}'
            | '\u{890}'..='\u{891}' | '\u{8e2}' | '\u{115f}'..='\u{1160}' | '\u{17b4}'..='\u{17b5}'
            | '\u{180b}'..='\u{180f}' | '\u{200b}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
            | '\u{2060}'..='\u{206f}' | '\u{3164}' | '\u{fe00}'..='\u{fe0f}' | '\u{feff}'
            | '\u{ffa0}' | '\u{fff0}'..='\u{fffb}' | '\u{110bd}' | '\u{110cd}'
            | '\u{13430}'..='\u{1343f}' | '\u{1bca0}'..='\u{1bca3}' | '\u{1d173}'..='\u{1d17a}'
            | '\u{e0000}'..='\u{e0fff}')
}

/// The hidden characters of a line of a recipe with their byte offsets. Quick for plain text.
pub fn hidden(line: &str) -> impl Iterator<Item = (usize, char)> + '_ {
    let plain = line.bytes().all(|byte| matches!(byte, b'\t' | b' '..=b'~'));
    let rest = if plain { "" } else { line };
    rest.char_indices().filter(|(_, character)| is_hidden(*character))
}

/// A sentence with a capital first letter; one that begins with the name of a file, a setting or a code keeps it as it is.
#[must_use]
pub fn capital(text: &str) -> String {
    let word = text.split(char::is_whitespace).next().unwrap_or_default().trim_end_matches([',', '.', ':', ';', '?']);
    let mut letters = text.chars();
    match letters.next() {
        Some(first) if word.chars().all(|c| c.is_alphabetic() || matches!(c, '-' | '\'' | '’')) => {
            first.to_uppercase().chain(letters).collect()
        }
        _ => text.to_owned(),
    }
}

/// A craft's name or a recipe's title, for a place where a mark of our own stands beside it.
///
/// As it is where it is plain ASCII without that mark in it; else between quotes, and there with all that is neither
/// letter nor digit nor ASCII as escapes: so no title can draw a frame, end its quotes, or pass for the mark of a
/// virtual board, by letters that look alike neither.
#[must_use]
pub fn named(name: &str) -> Cow<'_, str> {
    let plain = |c: char| c.is_ascii_alphanumeric() || matches!(c, ' ' | ',' | '.' | '-' | '_' | '/' | '(' | ')' | '#');
    if name.chars().all(plain) && !name.to_lowercase().contains("virtual") {
        return Cow::Borrowed(name);
    }
    let mut shown = String::from("\"");
    for c in name.chars() {
        if matches!(c, '"' | '\\') {
            shown.extend(['\\', c]);
        } else if c == ' ' || c.is_ascii_graphic() || c.is_alphanumeric() {
            shown.push(c);
        } else {
            shown.extend(c.escape_unicode());
        }
    }
    shown.push('"');
    Cow::Owned(shown)
}

/// A path as one word of a shell, as it stands in a command that is printed to be pasted: with quotes where it needs them.
/// Source of the quotes: POSIX.1-2017, Shell Command Language, 2.2.2.
#[must_use]
pub fn shell_word(path: &Path) -> Cow<'_, str> {
    let text = path.to_string_lossy();
    let plain = |c: char| c.is_ascii_alphanumeric() || "/._-+:,@%=".contains(c);
    // It would be taken for an option.
    let text = if text.starts_with('-') { format!("./{text}").into() } else { text };
    if !text.is_empty() && text.chars().all(plain) { text } else { format!("'{}'", text.replace('\'', "'\\''")).into() }
}

#[cfg(test)]
mod tests {
    use super::{capital, shell_word};
    use std::path::Path;

    #[test]
    fn a_path_is_one_word_of_a_shell() {
        for (path, word) in [
            ("before.json", "before.json"),
            ("/tmp/Wren 95/it's.jig", "'/tmp/Wren 95/it'\\''s.jig'"),
            ("-r.jig", "./-r.jig"),
            ("~me", "'~me'"),
            ("", "''"),
        ] {
            assert_eq!(shell_word(Path::new(path)), word);
        }
    }

    #[test]
    fn a_sentence_gets_a_capital_and_a_path_keeps_its_letters() {
        for (text, shown) in [
            ("no board answers", "No board answers"),
            ("kept: it is stored", "Kept: it is stored"),
            ("recipes/first-craft.jig:3:1: CS1", "recipes/first-craft.jig:3:1: CS1"),
            ("quadjig.toml marks the root", "quadjig.toml marks the root"),
            ("plan_text is none", "plan_text is none"),
            ("`keep` stores", "`keep` stores"),
            ("", ""),
        ] {
            assert_eq!(capital(text), shown);
        }
    }
}

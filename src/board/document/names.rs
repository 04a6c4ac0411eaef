//! Which texts may be names in a document.
//!
//! Names reach prompts and are matched exactly, so nothing that looks like another passes.

/// A word as the language writes it: `self-level`.
pub const WORD_RULE: &str = "a word is lower case letters a to z, digits and inner hyphens, at most 32";
/// A switch's name.
pub const SWITCH_RULE: &str = "a switch's name is letters a to z or A to Z, digits and inner hyphens, at most 32";
/// A board's or a corner's name.
pub const PLAIN_RULE: &str = "use 1 to 48 printable ASCII characters, no space at either end";
/// A radio's name.
pub const TITLE_RULE: &str =
    "use 1 to 64 letters, digits, spaces and ASCII signs, no space at either end and no control characters";

/// Whether the text is a word of the language's form.
pub fn is_word(text: &str) -> bool {
    is_switch(text) && !text.bytes().any(|b| b.is_ascii_uppercase())
}

/// Whether the text can be a switch's name: the form of a word, case kept.
pub fn is_switch(text: &str) -> bool {
    let inner = text.bytes().all(|b| b.is_ascii_alphanumeric() || b == b'-');
    (1..=32).contains(&text.len())
        && inner
        && text.starts_with(|c: char| c.is_ascii_alphabetic())
        && !text.ends_with('-')
        && !text.contains("--")
}

/// Whether the text can be a board's or a corner's name.
pub fn is_plain(text: &str) -> bool {
    (1..=48).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_graphic() || b == b' ') && text.trim() == text
}

/// Whether the text can be a radio's name: letters of any script, but no marks, controls or odd spaces.
pub fn is_title(text: &str) -> bool {
    let allowed = |c: char| c.is_alphanumeric() || c.is_ascii_graphic() || c == ' ';
    (1..=64).contains(&text.chars().count()) && text.chars().all(allowed) && text.trim() == text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_with_look_alikes_or_hidden_characters_are_refused() {
        for fit in ["B", "left-rear", "s2"] {
            assert!(is_switch(fit), "{fit}");
        }
        for unfit in ["", "-b", "b-", "a--b", "2b", "В", "b\u{200b}", "b\u{1b}[2J", "b c", &"x".repeat(33)] {
            assert!(!is_switch(unfit), "{unfit:?}");
        }
        assert!(is_title("Sender für Übungen 2"));
        for unfit in ["", " a", "a\u{202e}b", "a\u{200d}b", "a\tb", "a\u{a0}b", "a\u{301}"] {
            assert!(!is_title(unfit), "{unfit:?}");
        }
        assert!(is_plain("Finch R") && !is_plain("Finсh") && !is_plain("Finch ") && !is_word("Arm"));
    }
}

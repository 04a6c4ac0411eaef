//! Words from outside inside a line of Markdown.
//!
//! Promises: they have passed the gate and stay what they are, no mark of ours. Must not be here: what is told.

use crate::report::gate;

/// A word as it is written, such as a setting's name.
pub fn code(text: &str) -> String {
    format!("`{}`", gate::line(text).replace('`', "'"))
}

/// A title, such as a board's name.
pub fn strong(text: &str) -> String {
    format!("**{}**", plain(text))
}

/// Words of a person.
pub fn plain(text: &str) -> String {
    // ASCII punctuation can be escaped anywhere (CommonMark 0.31, 2.4), and nothing else is a mark.
    let mut shown = String::with_capacity(text.len());
    for c in gate::line(text).chars() {
        if "\\`*_[]<>#&!|~".contains(c) {
            shown.push('\\');
        }
        shown.push(c);
    }
    shown
}

//! Text as it may stand in a page and in a picture of it.

use crate::report::gate;

/// Text that stands in a page as it is: hidden characters as visible escapes, and nothing of it is markup.
#[must_use]
pub(super) fn escaped(text: &str) -> String {
    let shown = gate::line(text);
    let mut all = String::with_capacity(shown.len() + 8);
    for c in shown.chars() {
        match c {
            '&' => all.push_str("&amp;"),
            '<' => all.push_str("&lt;"),
            '>' => all.push_str("&gt;"),
            '"' => all.push_str("&quot;"),
            '\'' => all.push_str("&#39;"),
            other => all.push(other),
        }
    }
    all
}

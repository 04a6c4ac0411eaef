//! Strings of the language: what stands between the quotes.

/// The text of a string as written, quotes and all. Its escapes were judged when lines were split.
pub(crate) fn unquote(written: &str) -> String {
    let inner = written.strip_prefix('"').and_then(|rest| rest.strip_suffix('"')).unwrap_or(written);
    let mut out = String::with_capacity(inner.len());
    let mut chars = inner.chars();
    while let Some(c) = chars.next() {
        match c {
            '\\' => out.extend(chars.next()),
            c => out.push(c),
        }
    }
    out
}

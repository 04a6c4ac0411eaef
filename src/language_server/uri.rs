//! Paths as editors name them.
//!
//! Source: RFC 8089, "The file URI scheme", and RFC 3986 for what is written as `%` and two digits. Must not be here:
//! whether there is such a file.

use crate::report::sarif;
use std::path::{Path, PathBuf};

/// The path of a `file:` URI on this machine; `None` for any other.
pub fn path(uri: &str) -> Option<PathBuf> {
    let rest = uri.strip_prefix("file:")?;
    let rest = match rest.strip_prefix("//") {
        Some(named) => {
            let at = named.find('/')?;
            matches!(&named[..at], "" | "localhost").then(|| &named[at..])?
        }
        None => rest.starts_with('/').then_some(rest)?,
    };
    let rest = rest.split(['?', '#']).next().unwrap_or_default();
    let bytes = unescaped(rest)?;
    if bytes.contains(&0) {
        return None;
    }
    #[cfg(unix)]
    let path = Some(of_bytes(bytes));
    #[cfg(not(unix))]
    let path = of_bytes(bytes);
    path
}

#[cfg(unix)]
fn of_bytes(bytes: Vec<u8>) -> PathBuf {
    use std::os::unix::ffi::OsStringExt;
    PathBuf::from(std::ffi::OsString::from_vec(bytes))
}

/// `/C:/folder` is `C:/folder`.
#[cfg(not(unix))]
fn of_bytes(bytes: Vec<u8>) -> Option<PathBuf> {
    let text = String::from_utf8(bytes).ok()?;
    let drive = text.as_bytes().get(2) == Some(&b':');
    Some(PathBuf::from(if drive { &text[1..] } else { &text }))
}

fn unescaped(text: &str) -> Option<Vec<u8>> {
    let mut bytes = Vec::with_capacity(text.len());
    let mut rest = text.as_bytes();
    while let Some((first, behind)) = rest.split_first() {
        let (byte, behind) = if *first == b'%' {
            let digits = std::str::from_utf8(behind.get(..2)?).ok()?;
            (u8::from_str_radix(digits, 16).ok()?, &behind[2..])
        } else {
            (*first, behind)
        };
        bytes.push(byte);
        rest = behind;
    }
    Some(bytes)
}

/// The URI of a path.
pub fn of(path: &Path) -> String {
    let text = path.to_string_lossy().replace('\\', "/");
    format!("{}{}", if text.starts_with('/') { "file://" } else { "file:///" }, sarif::uri(&text))
}

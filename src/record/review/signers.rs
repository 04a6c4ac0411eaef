//! Whom the operator trusts to review: an allowed-signers file of their own, as `ssh-keygen -Y verify` reads one.
//!
//! Promises: a line that can't be read, or that asks for what is not understood here, trusts nobody. Source: OpenSSH's
//! ssh-keygen(1), ALLOWED SIGNERS. Must not be here: reading the file.

use super::signature::NAMESPACE;
use crate::record::folder::base;
use ssh_key::PublicKey;
use std::ffi::OsString;
use std::path::PathBuf;

/// Where the operator's own file lies.
pub fn file(var: impl Fn(&str) -> Option<OsString>) -> Option<PathBuf> {
    base(var, "XDG_CONFIG_HOME", ".config").map(|config| config.join("allowed_signers"))
}

/// Whether a key may sign reviews of this reviewer, at this moment.
#[must_use]
pub fn trusts(file: &str, reviewer: &str, key: &PublicKey, now: jiff::Timestamp) -> bool {
    file.lines().filter_map(read).any(|line| {
        line.key.key_data() == key.key_data() && matches(&line.principals, reviewer) && line.is_for_reviews(now)
    })
}

/// One line.
struct Signer {
    principals: String,
    options: Vec<(String, Option<String>)>,
    key: PublicKey,
}

impl Signer {
    fn is_for_reviews(&self, now: jiff::Timestamp) -> bool {
        self.options.iter().all(|(name, value)| match (name.to_ascii_lowercase().as_str(), value) {
            ("namespaces", Some(all)) => matches(all, NAMESPACE),
            ("valid-after", Some(from)) => moment(from).is_some_and(|from| from <= now),
            ("valid-before", Some(until)) => moment(until).is_some_and(|until| now < until),
            // An authority signs certificates, which are not read here; whatever else is asked for is not understood.
            _ => false,
        })
    }
}

fn read(line: &str) -> Option<Signer> {
    let line = line.trim();
    if line.is_empty() || line.starts_with('#') {
        return None;
    }
    let (principals, rest) = field(line)?;
    let key = |text: &str| PublicKey::from_openssh(text).ok();
    if let Some(key) = key(rest) {
        return Some(Signer { principals: unquoted(principals), options: Vec::new(), key });
    }
    let (options, rest) = field(rest)?;
    let options = split(options).into_iter().map(|option| match option.split_once('=') {
        Some((name, value)) => (name.to_owned(), Some(unquoted(value))),
        None => (option, None),
    });
    Some(Signer { principals: unquoted(principals), options: options.collect(), key: key(rest)? })
}

/// What stands before the first blank that is not within quotes, and the rest.
fn field(text: &str) -> Option<(&str, &str)> {
    let mut quoted = false;
    let end = text.char_indices().find(|(_, c)| {
        quoted ^= *c == '"';
        !quoted && matches!(c, ' ' | '\t')
    });
    let at = end?.0;
    Some((&text[..at], text[at..].trim_start()))
}

/// Parts between commas that are not within quotes.
fn split(text: &str) -> Vec<String> {
    let (mut parts, mut quoted) = (vec![String::new()], false);
    for c in text.chars() {
        quoted ^= c == '"';
        match (c, parts.last_mut()) {
            (',', _) if !quoted => parts.push(String::new()),
            (c, Some(part)) => part.push(c),
            _ => {}
        }
    }
    parts
}

fn unquoted(text: &str) -> String {
    text.trim_matches('"').to_owned()
}

/// Whether a list of patterns means a name; one with `!` before it takes it out.
fn matches(list: &str, name: &str) -> bool {
    let mut found = false;
    for pattern in list.split(',') {
        match pattern.strip_prefix('!') {
            Some(not) if fits(not.as_bytes(), name.as_bytes()) => return false,
            Some(_) => {}
            None => found |= fits(pattern.as_bytes(), name.as_bytes()),
        }
    }
    found
}

/// `*` stands for any number of characters, `?` for one.
fn fits(pattern: &[u8], name: &[u8]) -> bool {
    match (pattern.split_first(), name.split_first()) {
        (None, None) => true,
        (Some((b'*', rest)), _) => (0..=name.len()).any(|at| fits(rest, &name[at..])),
        (Some((b'?', rest)), Some((_, left))) => fits(rest, left),
        (Some((is, rest)), Some((at, left))) => is == at && fits(rest, left),
        _ => false,
    }
}

/// `YYYYMMDD[HHMM[SS]][Z]`; without `Z` in the machine's own time zone.
fn moment(text: &str) -> Option<jiff::Timestamp> {
    let digits = text.strip_suffix(['Z', 'z']);
    let zone = if digits.is_some() { jiff::tz::TimeZone::UTC } else { jiff::tz::TimeZone::system() };
    let digits = digits.unwrap_or(text);
    if !digits.bytes().all(|byte| byte.is_ascii_digit()) {
        return None;
    }
    let part = |from: usize, to: usize| digits.get(from..to).map_or(Some(0), |text| text.parse::<i8>().ok());
    let whole = matches!(digits.len(), 8 | 12 | 14);
    let date =
        jiff::civil::Date::new(digits.get(..4)?.parse().ok()?, part(4, 6)?, part(6, 8)?).ok().filter(|_| whole)?;
    let time = jiff::civil::Time::new(part(8, 10)?, part(10, 12)?, part(12, 14)?, 0).ok()?;
    zone.to_timestamp(date.to_datetime(time)).ok()
}

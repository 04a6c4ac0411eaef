//! Who a board is, from `AUTOPILOT_VERSION`.
//!
//! The message carries no name of the kind, so the custom version of the flight software stands for it where it is
//! printable. Source of the layout: standard.xml.

use super::fields::Fields;
use crate::board::signals::Identity;
use crate::language::canonical::hex;
use sha2::{Digest, Sha256};

/// `AUTOPILOT_VERSION`.
pub(super) const AUTOPILOT_VERSION: u32 = 148;

/// Capability bits.
pub(super) fn capabilities(fields: Fields) -> u64 {
    fields.u64(0)
}

/// The identity in the message.
pub(super) fn identity(fields: Fields) -> Identity {
    let [_, patch, minor, major] = fields.u32(16).to_le_bytes();
    Identity { id: id(fields), firmware: format!("{major}.{minor}.{patch}"), kind: kind(fields.bytes(36)), name: None }
}

/// The 64-bit id; where only the long one is given, the first 64 bits of its SHA-256.
fn id(fields: Fields) -> String {
    let short = fields.u64(8);
    let long: [u8; 18] = fields.bytes(60);
    if short != 0 || long.iter().all(|byte| *byte == 0) {
        return format!("{short:016x}");
    }
    hex(&Sha256::digest(long)[..8])
}

/// The text up to the first NUL, empty unless it is printable ASCII.
fn kind(custom: [u8; 8]) -> String {
    let end = custom.iter().position(|byte| *byte == 0).unwrap_or(custom.len());
    let text = &custom[..end];
    let padded = custom[end..].iter().all(|byte| *byte == 0);
    let printable = padded && text.iter().all(|byte| byte.is_ascii_graphic() || *byte == b' ');
    if printable { String::from_utf8_lossy(text).trim().to_owned() } else { String::new() }
}

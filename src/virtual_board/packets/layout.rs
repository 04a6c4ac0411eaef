//! Which settings stand together in a packet, and how each is written there.
//!
//! They follow each other in the order of the board's memory, without gaps. The sheets in `recipes/boards/` say the same
//! from outside; a test holds the two together.

use super::super::numbers::{to_f32, whole};
use super::super::settings::{Definition, SettingType};
use super::frame::Packets;
use std::ops::Range;

/// How many settings stand in the packets before those of the bands, and after them.
const BEFORE: [usize; 2] = [10, 10];
const AFTER: usize = 16;
/// The first of those after the bands.
const FIRST_AFTER: &str = "ROTOR_TRIM";
/// Of those that do nothing.
const SPARE: usize = 12;

/// Bytes of one.
fn size(kind: SettingType) -> usize {
    match kind {
        SettingType::U8 | SettingType::I8 => 1,
        SettingType::U16 | SettingType::I16 => 2,
        SettingType::U32 | SettingType::I32 | SettingType::Real => 4,
    }
}

/// The settings of each packet, by their places in the memory.
pub fn groups(settings: &[Definition]) -> Vec<Range<usize>> {
    let first_after = settings.iter().position(|setting| setting.name == FIRST_AFTER).unwrap_or(0);
    let bands = first_after.saturating_sub(BEFORE.iter().sum());
    let sizes = BEFORE.into_iter().chain([bands, AFTER, AFTER, AFTER]).chain(std::iter::repeat(SPARE));
    let mut from = 0;
    let mut all = Vec::new();
    for size in sizes {
        if from >= settings.len() {
            break;
        }
        let to = (from + size).min(settings.len());
        all.push(from..to);
        from = to;
    }
    all
}

/// The payload of a packet of settings.
pub fn payload(settings: &[(String, SettingType, f64)], packets: &Packets) -> Vec<u8> {
    let one = |(_, kind, value): &(String, SettingType, f64)| {
        let written = if *kind == SettingType::Real { i64::from(to_f32(*value).to_bits()) } else { whole(*value) };
        packets.number(written, size(*kind))
    };
    settings.iter().flat_map(one).collect()
}

/// The values in a payload by the names of their settings; `None`: it has another length.
pub fn values(group: &[Definition], packets: &Packets, payload: &[u8]) -> Option<Vec<(String, f64)>> {
    let mut rest = payload;
    let mut all = Vec::new();
    for Definition { name, kind, .. } in group {
        let (bytes, after) = rest.split_at_checked(size(*kind))?;
        rest = after;
        let bits = u32::try_from(packets.whole(bytes)).ok()?;
        let value = match kind {
            SettingType::Real => f64::from(f32::from_bits(bits)),
            SettingType::I8 => f64::from(u8::try_from(bits).ok()?.cast_signed()),
            SettingType::I16 => f64::from(u16::try_from(bits).ok()?.cast_signed()),
            SettingType::I32 => f64::from(bits.cast_signed()),
            SettingType::U8 | SettingType::U16 | SettingType::U32 => f64::from(bits),
        };
        all.push((name.clone(), value));
    }
    rest.is_empty().then_some(all)
}

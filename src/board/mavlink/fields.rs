//! Fields of a payload by their place on the wire.
//!
//! Reads by offset, so that an enum value or flag that the dialect does not know never costs the rest of the message.
//! What version 2 cut off at the end reads as zero. Offsets follow the standard's field order (largest type first,
//! then as declared, extensions last): MAVLink developer guide, `guide/serialization`.

use crate::board::value::SettingName;

/// A payload; little endian.
#[derive(Debug, Clone, Copy)]
pub(super) struct Fields<'a>(pub(super) &'a [u8]);

impl Fields<'_> {
    /// `N` bytes from `at` on.
    pub(super) fn bytes<const N: usize>(self, at: usize) -> [u8; N] {
        match self.0.get(at..).and_then(<[u8]>::first_chunk) {
            Some(bytes) => *bytes,
            None => std::array::from_fn(|i| self.0.get(at + i).copied().unwrap_or(0)),
        }
    }

    pub(super) fn u8(self, at: usize) -> u8 {
        self.bytes::<1>(at)[0]
    }

    pub(super) fn u16(self, at: usize) -> u16 {
        u16::from_le_bytes(self.bytes(at))
    }

    /// `N` numbers that stand one behind the other.
    pub(super) fn u16s<const N: usize>(self, at: usize) -> [u16; N] {
        let rest = self.0.get(at..).unwrap_or_default();
        let mut all = [[0; 2]; N];
        // One of which the upper byte was cut off has nothing there.
        all.as_flattened_mut().iter_mut().zip(rest).for_each(|(to, told)| *to = *told);
        all.map(u16::from_le_bytes)
    }

    pub(super) fn i16(self, at: usize) -> i16 {
        i16::from_le_bytes(self.bytes(at))
    }

    pub(super) fn u32(self, at: usize) -> u32 {
        u32::from_le_bytes(self.bytes(at))
    }

    pub(super) fn i32(self, at: usize) -> i32 {
        i32::from_le_bytes(self.bytes(at))
    }

    pub(super) fn u64(self, at: usize) -> u64 {
        u64::from_le_bytes(self.bytes(at))
    }

    /// A real, unless it is not finite.
    pub(super) fn real(self, at: usize) -> Option<f32> {
        Some(f32::from_le_bytes(self.bytes(at))).filter(|real| real.is_finite())
    }

    /// A setting's name from the 16 bytes at `at`.
    pub(super) fn setting_name(self, at: usize) -> Option<SettingName> {
        let bytes = self.bytes::<16>(at);
        let end = bytes.iter().position(|byte| *byte == 0).unwrap_or(bytes.len());
        SettingName::new(std::str::from_utf8(&bytes[..end]).ok()?)
    }
}

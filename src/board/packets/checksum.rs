//! Checksums of packets, by name: the published catalogue of CRCs, and the plain sums beside it.
//!
//! Promises: a name that is known gives the published value; its bytes are whole, in the order that the sheet says. Must
//! not be here: which parts of a packet are summed (see `framing`).

use super::catalogue::{PUBLISHED, Published};
use crate::measure::nearest::nearest;
use std::fmt;

/// A checksum.
#[derive(Clone, Copy)]
pub struct Checksum(Source);

#[derive(Clone, Copy)]
enum Source {
    Published(&'static Published),
    Plain(&'static Plain),
}

struct Plain {
    name: &'static str,
    bytes: usize,
    of: fn(&[u8]) -> u128,
}

/// Modulus of the sums of the 8-bit Fletcher checksum, in ones' complement (RFC 1146, 2.1).
const FLETCHER: u32 = 255;

const PLAIN: &[Plain] = &[
    Plain {
        name: "sum-8",
        bytes: 1,
        of: |bytes| u128::from(bytes.iter().fold(0_u8, |sum, byte| sum.wrapping_add(*byte))),
    },
    Plain {
        name: "sum-16",
        bytes: 2,
        of: |bytes| u128::from(bytes.iter().fold(0_u16, |sum, byte| sum.wrapping_add(u16::from(*byte)))),
    },
    Plain { name: "xor-8", bytes: 1, of: |bytes| u128::from(bytes.iter().fold(0_u8, |sum, byte| sum ^ byte)) },
    Plain { name: "fletcher-16", bytes: 2, of: fletcher },
];

fn fletcher(bytes: &[u8]) -> u128 {
    let (low, high) = bytes.iter().fold((0_u32, 0_u32), |(low, high), byte| {
        let low = (low + u32::from(*byte)) % FLETCHER;
        (low, (high + low) % FLETCHER)
    });
    u128::from(high << 8 | low)
}

impl Checksum {
    /// The checksum of a name.
    #[must_use]
    pub fn named(name: &str) -> Option<Self> {
        let plain = PLAIN.iter().find(|plain| plain.name == name).map(Source::Plain);
        plain.or_else(|| PUBLISHED.iter().find(|one| one.name == name).map(Source::Published)).map(Self)
    }

    /// The known name that is most like another.
    #[must_use]
    pub fn like(name: &str) -> Option<&'static str> {
        let known = PLAIN.iter().map(|plain| plain.name).chain(PUBLISHED.iter().map(|one| one.name));
        nearest(&name.to_ascii_uppercase(), known.clone()).or_else(|| nearest(&name.to_ascii_lowercase(), known))
    }

    /// The published names of the width that another begins with, such as `CRC-16` or `crc16/x`.
    #[must_use]
    pub fn begun(name: &str) -> Vec<&'static str> {
        let name = name.to_ascii_uppercase();
        let digits = name.trim_start_matches("CRC").trim_start_matches(['-', '_', ' ']);
        let width: String = digits.chars().take_while(char::is_ascii_digit).collect();
        let begun = format!("CRC-{width}/");
        PUBLISHED.iter().map(|one| one.name).filter(|known| known.starts_with(&begun)).collect()
    }

    /// All that take so many bytes.
    pub fn of_size(size: usize) -> impl Iterator<Item = Self> {
        let plain = PLAIN.iter().map(Source::Plain);
        plain.chain(PUBLISHED.iter().map(Source::Published)).map(Self).filter(move |one| one.size() == size)
    }

    /// The names of the plain sums.
    #[must_use]
    pub fn plain() -> Vec<&'static str> {
        PLAIN.iter().map(|plain| plain.name).collect()
    }

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self.0 {
            Source::Published(one) => one.name,
            Source::Plain(plain) => plain.name,
        }
    }

    /// How many bytes it takes in a packet.
    #[must_use]
    pub fn size(self) -> usize {
        match self.0 {
            Source::Published(one) => usize::from(one.width).div_ceil(8),
            Source::Plain(plain) => plain.bytes,
        }
    }

    /// Its value over some bytes.
    #[must_use]
    pub fn of(self, bytes: &[u8]) -> u128 {
        match self.0 {
            Source::Published(one) => (one.of)(bytes),
            Source::Plain(plain) => (plain.of)(bytes),
        }
    }
}

impl PartialEq for Checksum {
    fn eq(&self, other: &Self) -> bool {
        self.name() == other.name()
    }
}

impl fmt::Debug for Checksum {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Each against the check value that its catalogue publishes: of the nine bytes `123456789`.
    #[test]
    fn every_check_value_of_the_catalogue_holds() {
        assert!(PUBLISHED.len() > 100, "{}", PUBLISHED.len());
        assert!(PUBLISHED.iter().any(|one| one.name == "CRC-16/ISO-IEC-14443-3-A"));
        for one in PUBLISHED {
            let found = Checksum::named(one.name).unwrap();
            assert_eq!(found.of(b"123456789"), one.check, "{}", one.name);
            assert_eq!(found.size(), usize::from(one.width).div_ceil(8), "{}", one.name);
        }
        // A few written out, as the catalogue's page of each has them, so that names are not shuffled.
        for (name, check) in [
            ("CRC-8/SMBUS", 0xF4),
            ("CRC-16/KERMIT", 0x2189),
            ("CRC-16/XMODEM", 0x31C3),
            ("CRC-16/IBM-3740", 0x29B1),
            ("CRC-32/ISO-HDLC", 0xCBF4_3926),
            ("CRC-64/XZ", 0x995D_C9BB_DF19_39FA),
        ] {
            assert_eq!(Checksum::named(name).unwrap().of(b"123456789"), check, "{name}");
        }
    }

    /// Fletcher-16: well-known check values of `abcde`, `abcdef`, `abcdefgh` (RFC 1146, 8-bit sums modulo 255). Sum and
    /// exclusive or of the catalogue's own nine bytes: 49 + … + 57 = 477.
    #[test]
    fn plain_sums_hold() {
        let of = |name: &str, bytes: &[u8]| Checksum::named(name).unwrap().of(bytes);
        assert_eq!(of("fletcher-16", b"abcde"), 0xC8F0);
        assert_eq!(of("fletcher-16", b"abcdef"), 0x2057);
        assert_eq!(of("fletcher-16", b"abcdefgh"), 0x0627);
        assert_eq!(of("sum-8", b"123456789"), 477 % 256);
        assert_eq!(of("sum-16", b"123456789"), 477);
        assert_eq!(of("xor-8", b"123456789"), 0x31);
    }

    #[test]
    fn what_is_unknown_is_told_by_the_nearest() {
        assert_eq!(Checksum::named("crc-16/kermit"), None);
        assert_eq!(Checksum::like("crc-16/kermt"), Some("CRC-16/KERMIT"));
        assert_eq!(Checksum::like("Fletcher16"), Some("fletcher-16"));
        assert_eq!(Checksum::like("none of them at all"), None);
        assert!(Checksum::begun("crc-32").contains(&"CRC-32/ISO-HDLC"));
        for name in ["CRC-16/X25", "crc16", "CRC-16/1021", "CRC_16_CCITT"] {
            assert!(Checksum::begun(name).contains(&"CRC-16/IBM-SDLC"), "{name}");
        }
        assert_eq!(Checksum::begun("X-25"), Vec::<&str>::new());
        assert!(Checksum::begun("CRC-3").iter().all(|name| name.starts_with("CRC-3/")));
    }
}

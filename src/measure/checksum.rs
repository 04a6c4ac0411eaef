//! The checksum of MAVLink frames: CRC-16/MCRF4XX.
//!
//! Eight bytes at a time, as every frame on a busy wire is summed. Source: MAVLink developer guide,
//! `guide/serialization`; the `reveng` catalogue of parametrised CRC algorithms (width 16, polynomial
//! 0x1021 reflected, initial 0xFFFF). Must not be here: which bytes of a frame are summed.

/// The sum of nothing.
pub const START: u16 = 0xFFFF;

/// The polynomial, reflected.
const POLYNOMIAL: u16 = 0x8408;

/// `TABLES[n][b]`: what byte `b` adds when `n` more bytes follow it.
static TABLES: [[u16; 256]; 8] = tables();

const fn tables() -> [[u16; 256]; 8] {
    let mut tables = [[0; 256]; 8];
    let (mut index, mut byte) = (0, 0_u16);
    while index < 256 {
        let mut sum = byte;
        let mut bit = 0;
        while bit < 8 {
            sum = if sum & 1 == 0 { sum >> 1 } else { (sum >> 1) ^ POLYNOMIAL };
            bit += 1;
        }
        tables[0][index] = sum;
        index += 1;
        byte += 1;
    }
    let mut more = 1;
    while more < 8 {
        let mut index = 0;
        while index < 256 {
            let before: u16 = tables[more - 1][index];
            tables[more][index] = (before >> 8) ^ tables[0][(before & 0xFF) as usize];
            index += 1;
        }
        more += 1;
    }
    tables
}

/// The sum of what was summed before and these bytes behind it.
#[must_use]
pub fn add(mut sum: u16, bytes: &[u8]) -> u16 {
    let (whole, rest) = bytes.as_chunks::<8>();
    for &[a, b, c, d, e, f, g, h] in whole {
        let [low, high] = sum.to_le_bytes();
        let first = [a ^ low, b ^ high, c, d, e, f, g, h];
        sum = first.iter().zip(TABLES.iter().rev()).fold(0, |sum, (byte, table)| sum ^ table[usize::from(*byte)]);
    }
    for byte in rest {
        let [low, high] = sum.to_le_bytes();
        sum = u16::from(high) ^ TABLES[0][usize::from(low ^ byte)];
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::{START, add};

    /// The catalogue's check value of CRC-16/MCRF4XX.
    #[test]
    fn the_check_value_is_that_of_the_catalogue() {
        assert_eq!(add(START, b"123456789"), 0x6F91);
    }

    /// The `mavlink` crate sums the same, with its seed byte last.
    #[test]
    fn it_agrees_with_a_library_at_every_length() {
        let bytes: Vec<u8> = (0..=255).map(|n: u8| n.wrapping_mul(167) ^ 0x5A).collect();
        for end in 0..bytes.len() {
            let whole = mavlink::calculate_crc(&bytes[..end], 143);
            assert_eq!(add(add(START, &bytes[..end]), &[143]), whole, "{end} bytes");
            let (first, second) = bytes[..end].split_at(end / 3);
            assert_eq!(add(add(add(START, first), second), &[143]), whole, "{end} bytes in two");
        }
    }
}

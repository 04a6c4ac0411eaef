//! Byte stuffing after RFC 1055 (SLIP): END between packets, ESC before what would be taken for one.
//!
//! Must not be here: which bytes are a packet (see `splitter`).

/// RFC 1055: 192, ends a packet.
pub const END: u8 = 0xC0;
const ESC: u8 = 0xDB;
const ESC_END: u8 = 0xDC;
const ESC_ESC: u8 = 0xDD;

/// The bytes between two ENDs.
#[must_use]
pub fn stuff(bytes: &[u8]) -> Vec<u8> {
    let mut out = Vec::with_capacity(bytes.len() + 4);
    for byte in bytes {
        match *byte {
            END => out.extend([ESC, ESC_END]),
            ESC => out.extend([ESC, ESC_ESC]),
            other => out.push(other),
        }
    }
    out
}

/// What was stuffed; `None` where an ESC is followed by neither of its two: the RFC leaves that open, and a packet that
/// holds it is damaged.
#[must_use]
pub fn unstuff(bytes: &[u8]) -> Option<Vec<u8>> {
    let mut out = Vec::with_capacity(bytes.len());
    let mut rest = bytes.iter();
    while let Some(byte) = rest.next() {
        out.push(match *byte {
            END => return None,
            ESC => match rest.next() {
                Some(&ESC_END) => END,
                Some(&ESC_ESC) => ESC,
                _ => return None,
            },
            other => other,
        });
    }
    Some(out)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 1055, "PROTOCOL": END is octal 300, ESC octal 333; END is sent as ESC and octal 334, ESC as ESC and octal 335.
    #[test]
    fn the_bytes_of_the_rfc() {
        assert_eq!((END, ESC, ESC_END, ESC_ESC), (0o300, 0o333, 0o334, 0o335));
        assert_eq!(stuff(&[1, 0o300, 2, 0o333, 3]), [1, 0o333, 0o334, 2, 0o333, 0o335, 3]);
        assert_eq!(unstuff(&[1, 0o333, 0o334, 2, 0o333, 0o335, 3]).as_deref(), Some(&[1, 0o300, 2, 0o333, 3][..]));
        for damaged in [&[0o333][..], &[0o333, 1], &[1, 0o300]] {
            assert_eq!(unstuff(damaged), None, "{damaged:?}");
        }
    }
}

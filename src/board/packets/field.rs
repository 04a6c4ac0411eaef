//! A field of a payload: where it stands, how its number is written, and what one step of it is.
//!
//! Promises: nothing outside of the payload is read or written; a number that does not fit its field is not put there.
//! Must not be here: what a field means.

use super::super::value::Number;
use super::framing::ByteOrder;
use crate::language::canonical::hex;

/// How a field is written.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "each is the word of the sheet that it is named after")]
pub enum FieldType {
    U8,
    U16,
    U24,
    U32,
    I8,
    I16,
    I32,
    F32,
    /// Printable characters up to a zero or the end.
    Text,
    /// Bytes, shown as hexadecimal digits.
    Hex,
}

impl FieldType {
    /// All, each with its word.
    pub const ALL: [(&'static str, Self); 10] = [
        ("u8", Self::U8),
        ("u16", Self::U16),
        ("u24", Self::U24),
        ("u32", Self::U32),
        ("i8", Self::I8),
        ("i16", Self::I16),
        ("i32", Self::I32),
        ("f32", Self::F32),
        ("text", Self::Text),
        ("hex", Self::Hex),
    ];

    /// Bytes of one.
    #[must_use]
    pub const fn size(self) -> usize {
        match self {
            Self::U8 | Self::I8 | Self::Text | Self::Hex => 1,
            Self::U16 | Self::I16 => 2,
            Self::U24 => 3,
            Self::U32 | Self::I32 | Self::F32 => 4,
        }
    }

    /// Whether it is a whole number.
    #[must_use]
    pub const fn is_whole(self) -> bool {
        !matches!(self, Self::F32 | Self::Text | Self::Hex)
    }

    const fn is_signed(self) -> bool {
        matches!(self, Self::I8 | Self::I16 | Self::I32)
    }
}

/// How many there are of a field.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Count {
    /// So many.
    Fixed(usize),
    /// As many as the payload has room for.
    Rest,
}

/// A field.
#[derive(Debug, Clone, PartialEq)]
pub struct Field {
    /// Its first byte in the payload.
    pub at: usize,
    /// How it is written.
    pub kind: FieldType,
    /// The lowest of its bits and how many, where it is not the whole of its number.
    pub bits: Option<(u32, u32)>,
    /// How many there are.
    pub count: Count,
    /// From the first byte of one to that of the next.
    pub every: usize,
    /// Added to the board's number before it is scaled: motors counted from 0, pulses told above a base.
    pub plus: f64,
    /// One step, in the smallest unit of its family.
    pub scale: f64,
    /// The number that means that there is none.
    pub none: Option<i64>,
}

impl Field {
    /// How many of it a payload of some length holds.
    #[must_use]
    pub fn count_in(&self, length: usize) -> usize {
        match self.count {
            Count::Fixed(count) => count,
            Count::Rest => length.saturating_sub(self.at) / self.every.max(1),
        }
    }

    /// The first byte behind the last of it.
    #[must_use]
    pub fn end(&self) -> usize {
        match self.count {
            Count::Fixed(count) => self.at + count.saturating_sub(1) * self.every + self.kind.size(),
            Count::Rest => self.at,
        }
    }

    fn bytes<'p>(&self, payload: &'p [u8], index: usize) -> Option<&'p [u8]> {
        let at = self.at + index * self.every;
        payload.get(at..at + self.kind.size())
    }

    /// The number of one of it, as the board writes it; `None` where it is none, or no finite one.
    #[must_use]
    pub fn number(&self, payload: &[u8], order: ByteOrder, index: usize) -> Option<Number> {
        let bits = u32::try_from(order.number(self.bytes(payload, index)?)).ok()?;
        if self.kind == FieldType::F32 {
            let real = f64::from(f32::from_bits(bits));
            return real.is_finite().then_some(Number::Real(real));
        }
        if let Some((first, count)) = self.bits {
            return Some(Number::Whole((u64::from(bits) >> first & ((1 << count) - 1)).cast_signed()));
        }
        let whole = i64::from(bits);
        let width = 8 * self.kind.size();
        let negative = self.kind.is_signed() && whole >> (width - 1) == 1;
        Some(Number::Whole(if negative { whole - (1 << width) } else { whole }))
    }

    /// The same in the smallest unit of its family; `None` also where the board says that there is none.
    #[must_use]
    pub fn measured(&self, payload: &[u8], order: ByteOrder, index: usize) -> Option<f64> {
        let number = self.number(payload, order, index)?;
        let none = self.none.is_some_and(|none| Number::Whole(none).same(number));
        (!none).then(|| self.scaled(number))
    }

    /// All of it, in the smallest unit of its family.
    #[must_use]
    pub fn all(&self, payload: &[u8], order: ByteOrder) -> Option<Vec<f64>> {
        (0..self.count_in(payload.len())).map(|index| Some(self.scaled(self.number(payload, order, index)?))).collect()
    }

    fn scaled(&self, number: Number) -> f64 {
        (number.real() + self.plus) * self.scale
    }

    /// Puts a measure there that is given in the smallest unit of its family, cut to the field's step; whether it fits.
    #[must_use]
    pub fn put_measure(&self, payload: &mut [u8], order: ByteOrder, measure: f64) -> bool {
        let number = measure / self.scale - self.plus;
        if self.kind == FieldType::F32 {
            return self.put(payload, order, Number::Real(number));
        }
        // A step that is no power of two leaves its whole numbers a hair below themselves.
        let whole = (number + 1e-6).floor();
        #[expect(clippy::cast_possible_truncation, reason = "bounded here")]
        let fits = (whole.abs() < 9e15).then_some(Number::Whole(whole as i64));
        fits.is_some_and(|whole| self.put(payload, order, whole))
    }

    /// Whether one number means just this, so that nothing is cut off where it is put.
    #[must_use]
    pub fn holds_measure(&self, measure: f64) -> bool {
        let number = measure / self.scale - self.plus;
        self.kind == FieldType::F32 || (number - number.round()).abs() < 1e-6
    }

    /// What stands there as text, or as hexadecimal digits.
    #[must_use]
    pub fn text(&self, payload: &[u8]) -> Option<String> {
        let bytes = payload.get(self.at..self.at + self.count_in(payload.len()))?;
        if self.kind == FieldType::Hex {
            return Some(hex(bytes));
        }
        let end = bytes.iter().position(|byte| *byte == 0).unwrap_or(bytes.len());
        Some(String::from_utf8_lossy(&bytes[..end]).trim().to_owned())
    }

    /// Puts a number there, as the board writes it; whether it fits.
    #[must_use]
    pub fn put(&self, payload: &mut [u8], order: ByteOrder, number: Number) -> bool {
        let size = self.kind.size();
        let Some(place) = payload.get_mut(self.at..self.at + size) else { return false };
        let bits = match (self.kind, number) {
            (FieldType::F32, _) => {
                #[expect(clippy::cast_possible_truncation, reason = "the field holds a real of 32 bits")]
                let real = number.real() as f32;
                if !real.is_finite() {
                    return false;
                }
                real.to_bits()
            }
            (FieldType::Text | FieldType::Hex, _) | (_, Number::Real(_)) => return false,
            (kind, Number::Whole(whole)) => {
                let (width, signed) = match self.bits {
                    Some((_, count)) => (count, false),
                    None => (8 * u32::try_from(size).unwrap_or(4), kind.is_signed()),
                };
                let (least, most) =
                    if signed { (-(1_i64 << (width - 1)), (1 << (width - 1)) - 1) } else { (0, (1_i64 << width) - 1) };
                if !(least..=most).contains(&whole) {
                    return false;
                }
                #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "as it travels, and fits")]
                let bits = whole as u32;
                match self.bits {
                    Some((first, count)) => {
                        let mask = ((1_u64 << count) - 1) << first;
                        let kept = u64::try_from(order.number(place)).unwrap_or(0) & !mask;
                        u32::try_from(kept | u64::from(bits) << first).unwrap_or(0)
                    }
                    None => bits,
                }
            }
        };
        place.copy_from_slice(&order.bytes(bits.into(), size));
        true
    }

    /// The bits of a payload of some length that are this field's.
    #[must_use]
    pub fn mask(&self, length: usize, order: ByteOrder) -> Vec<u8> {
        let mut mask = vec![0; length];
        for index in 0..self.count_in(length) {
            let at = self.at + index * self.every;
            let Some(place) = mask.get_mut(at..at + self.kind.size()) else { break };
            let ones = match self.bits {
                Some((first, count)) => ((1_u128 << count) - 1) << first,
                None => u128::MAX,
            };
            place.copy_from_slice(&order.bytes(ones, self.kind.size()));
        }
        mask
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn field(at: usize, kind: FieldType, bits: Option<(u32, u32)>) -> Field {
        Field { at, kind, bits, count: Count::Fixed(1), every: kind.size(), plus: 0.0, scale: 1.0, none: None }
    }

    /// Two's complement and IEEE 754 single precision, as everywhere: 0xFF38 is −200, 0x41200000 is 10.0.
    #[test]
    fn numbers_of_every_type_in_either_order() {
        for (kind, big, number) in [
            (FieldType::U8, &[0xFE][..], Number::Whole(254)),
            (FieldType::I8, &[0xFE], Number::Whole(-2)),
            (FieldType::U16, &[0xFF, 0x38], Number::Whole(65_336)),
            (FieldType::I16, &[0xFF, 0x38], Number::Whole(-200)),
            (FieldType::U24, &[1, 0, 2], Number::Whole(65_538)),
            (FieldType::U32, &[0xFF, 0, 0, 0], Number::Whole(4_278_190_080)),
            (FieldType::I32, &[0xFF, 0xFF, 0xFF, 0x38], Number::Whole(-200)),
            (FieldType::F32, &[0x41, 0x20, 0, 0], Number::Real(10.0)),
        ] {
            let field = field(1, kind, None);
            for order in [ByteOrder::Big, ByteOrder::Little] {
                let mut bytes = big.to_vec();
                if order == ByteOrder::Little {
                    bytes.reverse();
                }
                let payload = [&[7], &bytes[..], &[7]].concat();
                assert_eq!(field.number(&payload, order, 0), Some(number), "{kind:?}");
                let mut made = vec![7; payload.len()];
                assert!(field.put(&mut made, order, number), "{kind:?}");
                assert_eq!(made, payload, "{kind:?}");
            }
        }
    }

    #[test]
    fn what_does_not_fit_is_not_put_and_bits_leave_their_neighbours() {
        let mut payload = vec![0xFF; 2];
        for (kind, number) in [
            (FieldType::U8, Number::Whole(256)),
            (FieldType::U8, Number::Whole(-1)),
            (FieldType::I8, Number::Whole(128)),
            (FieldType::U16, Number::Real(1.5)),
            (FieldType::U32, Number::Whole(0)),
            (FieldType::Text, Number::Whole(0)),
        ] {
            assert!(!field(0, kind, None).put(&mut payload, ByteOrder::Big, number), "{kind:?}");
        }
        assert!(!field(0, FieldType::U16, Some((4, 2))).put(&mut payload, ByteOrder::Big, Number::Whole(4)));
        assert_eq!(payload, [0xFF; 2]);
        assert!(field(0, FieldType::U16, Some((4, 2))).put(&mut payload, ByteOrder::Big, Number::Whole(1)));
        assert_eq!(payload, [0xFF, 0b1101_1111]);
        assert_eq!(field(0, FieldType::U16, Some((4, 2))).mask(2, ByteOrder::Little), [0b0011_0000, 0]);
    }
}

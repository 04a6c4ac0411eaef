//! Values of settings in the 32 bits of the wire: bytewise or as a C cast.
//!
//! Capability bits tell the encoding; a whole number other than zero proves it, because what is a small whole number
//! in one encoding is none in the other. Both must agree before anything is written; of a board that refuses to say
//! anything of itself its values alone have to show it, and none may show another. Nothing is rounded on the way.
//! Source: MAVLink developer guide, `services/parameter`, parameter encoding.

use super::param_type::{Encoding, ParamType};
use super::refusal::Refusal;
use crate::board::refusal::Common;
use crate::board::value::{Number, SettingName};

/// `MAV_PROTOCOL_CAPABILITY_PARAM_FLOAT`, the older name of the C cast (standard.xml).
const CAPABLE_FLOAT: u64 = 1 << 1;
/// `MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_BYTEWISE` (standard.xml).
const CAPABLE_BYTEWISE: u64 = 1 << 4;
/// `MAV_PROTOCOL_CAPABILITY_PARAM_ENCODE_C_CAST` (standard.xml).
const CAPABLE_CAST: u64 = 1 << 17;
/// Whole numbers up to here are exact in a 32-bit real. Bits of a 32-bit real other than zero, taken as a whole
/// number, lie beyond it on either side, so no value up to here looks sensible in both encodings.
const EXACT: i64 = 1 << 24;

/// The whole number in the bytes, if the bytes beyond its type are a plain extension of it.
fn bytewise(kind: ParamType, raw: u32) -> Option<i64> {
    let [first, second, ..] = raw.to_le_bytes();
    let low = u16::from_le_bytes([first, second]);
    let signed = i64::from(raw.cast_signed());
    match kind {
        ParamType::U8 => u8::try_from(raw).ok().map(i64::from),
        ParamType::U16 => u16::try_from(raw).ok().map(i64::from),
        ParamType::U32 => Some(raw.into()),
        ParamType::I32 => Some(signed),
        ParamType::I8 => {
            let value = i64::from(first.cast_signed());
            (raw == u32::from(first) || signed == value).then_some(value)
        }
        ParamType::I16 => {
            let value = i64::from(low.cast_signed());
            (raw == u32::from(low) || signed == value).then_some(value)
        }
        ParamType::Real => None,
    }
}

/// The whole number that the real stands for, if it is one and fits the type.
fn cast(kind: ParamType, raw: u32) -> Option<i64> {
    let (least, most) = kind.range()?;
    let real = f64::from(f32::from_bits(raw));
    #[expect(clippy::cast_possible_truncation, reason = "within ±2⁶² and without a fraction")]
    let whole = (real.is_finite() && real.fract() == 0.0 && real.abs() < 4.6e18).then_some(real as i64)?;
    (least..=most).contains(&whole).then_some(whole)
}

/// Which encoding a value speaks for, if for exactly one: zero, reals and large numbers speak for none.
#[must_use]
pub fn evidence(kind: ParamType, raw: u32) -> Option<Encoding> {
    let small = |value: Option<i64>| value.is_some_and(|v| v != 0 && v.abs() <= EXACT);
    match (small(bytewise(kind, raw)), small(cast(kind, raw))) {
        (true, false) => Some(Encoding::Bytewise),
        (false, true) => Some(Encoding::Cast),
        _ => None,
    }
}

/// The value in the 32 bits; `None` if it is not finite or does not fit its type.
#[must_use]
pub fn decode(kind: ParamType, raw: u32, encoding: Encoding) -> Option<Number> {
    if kind == ParamType::Real {
        let real = f32::from_bits(raw);
        return real.is_finite().then(|| Number::Real(real.into()));
    }
    match encoding {
        Encoding::Bytewise => bytewise(kind, raw),
        Encoding::Cast => cast(kind, raw),
    }
    .map(Number::Whole)
}

/// The 32 bits of a value.
///
/// # Errors
///
/// If the value does not fit the type, or could only be sent rounded.
pub fn encode(name: &SettingName, kind: ParamType, value: Number, encoding: Encoding) -> Result<u32, Refusal> {
    let Some((least, most)) = kind.range() else { return encode_real(name, value) };
    let whole = match value {
        Number::Whole(whole) => whole,
        Number::Real(real) if !real.is_finite() => return Err(Refusal::NotFinite(name.clone())),
        #[expect(
            clippy::cast_possible_truncation,
            reason = "has no fraction; out of range saturates and is refused below"
        )]
        Number::Real(real) if real.fract() == 0.0 => real as i64,
        Number::Real(_) => return Err(Common::NotWhole { name: name.clone(), value }.into()),
    };
    if !(least..=most).contains(&whole) {
        return Err(Refusal::OutOfRange { name: name.clone(), value, kind, least, most });
    }
    match encoding {
        Encoding::Bytewise => {
            // The bytes of the type itself, the rest zero, as in the standard's union.
            let width = match kind {
                ParamType::U8 | ParamType::I8 => 0xFF,
                ParamType::U16 | ParamType::I16 => 0xFFFF,
                ParamType::U32 | ParamType::I32 | ParamType::Real => 0xFFFF_FFFF,
            };
            #[expect(
                clippy::cast_possible_truncation,
                clippy::cast_sign_loss,
                reason = "the low bytes are what is sent"
            )]
            let raw = whole as u32;
            Ok(raw & width)
        }
        Encoding::Cast => exact(whole).map(f32::to_bits).ok_or_else(|| Refusal::NotExact { name: name.clone(), value }),
    }
}

fn encode_real(name: &SettingName, value: Number) -> Result<u32, Refusal> {
    match value {
        Number::Whole(whole) => {
            exact(whole).map(f32::to_bits).ok_or_else(|| Refusal::NotExact { name: name.clone(), value })
        }
        Number::Real(real) => {
            #[expect(
                clippy::cast_possible_truncation,
                reason = "the board holds 32-bit reals; the nearest one is meant"
            )]
            let real = real as f32;
            if real.is_finite() { Ok(real.to_bits()) } else { Err(Refusal::NotFinite(name.clone())) }
        }
    }
}

/// The 32-bit real that is exactly this whole number.
fn exact(whole: i64) -> Option<f32> {
    #[expect(clippy::cast_precision_loss, reason = "compared with the original right behind")]
    let real = whole as f32;
    #[expect(
        clippy::cast_possible_truncation,
        reason = "a whole number within ±2⁶³; the ends saturate and compare unequal"
    )]
    let back = f64::from(real) as i128;
    (back == i128::from(whole)).then_some(real)
}

/// What is known of a board's encoding: what it says and what its values show.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub(super) struct Proof {
    said: Option<Encoding>,
    /// It was asked, and does not say.
    refused: bool,
    bytewise: bool,
    cast: bool,
}

impl Proof {
    /// Takes the capability bits. If they changed, what was proved before no longer counts.
    pub(super) fn capabilities(&mut self, bits: u64) {
        let said = match (bits & CAPABLE_BYTEWISE != 0, bits & CAPABLE_CAST != 0) {
            (true, false) => Some(Encoding::Bytewise),
            (false, true) => Some(Encoding::Cast),
            (false, false) if bits & CAPABLE_FLOAT != 0 => Some(Encoding::Cast),
            _ => None,
        };
        if self.said.is_some() && self.said != said {
            *self = Self::default();
        }
        self.said = said;
    }

    /// The board was asked for its capability bits in vain.
    pub(super) fn never_said(&mut self) {
        self.refused = true;
    }

    /// Takes a value that the board sent.
    pub(super) fn note(&mut self, kind: ParamType, raw: u32) {
        match evidence(kind, raw) {
            Some(Encoding::Bytewise) => self.bytewise = true,
            Some(Encoding::Cast) => self.cast = true,
            None => {}
        }
    }

    /// The encoding to write with.
    ///
    /// # Errors
    ///
    /// Unless the capability bits were heard and values confirm them, or the board refuses to tell them and values show
    /// one encoding; and none contradicts.
    pub(super) fn proved(self) -> Result<Encoding, Refusal> {
        let shown = self.shown().filter(|_| self.refused);
        let said = self.said.or(shown).ok_or(Refusal::EncodingUnsaid)?;
        let (confirmed, contradicted) = match said {
            Encoding::Bytewise => (self.bytewise, self.cast),
            Encoding::Cast => (self.cast, self.bytewise),
        };
        if contradicted {
            Err(Refusal::EncodingContradicts { said })
        } else if confirmed {
            Ok(said)
        } else {
            Err(Refusal::EncodingUnproved)
        }
    }

    /// Reads a value as well as it can be known by now; `None`: not finite, no number of its type, or still open.
    pub(super) fn read(self, kind: ParamType, raw: u32) -> Option<Number> {
        if kind == ParamType::Real || raw == 0 {
            return decode(kind, raw, Encoding::Bytewise);
        }
        let by_bits = self.said.and_then(|said| decode(kind, raw, said));
        by_bits.or_else(|| decode(kind, raw, evidence(kind, raw)?)).or_else(|| decode(kind, raw, self.shown()?))
    }

    /// Whether a value that can't be read now may be readable once more is known.
    pub(super) fn open(self, kind: ParamType) -> bool {
        kind != ParamType::Real && self.said.is_none()
    }

    /// What the values alone show.
    fn shown(self) -> Option<Encoding> {
        match (self.bytewise, self.cast) {
            (true, false) => Some(Encoding::Bytewise),
            (false, true) => Some(Encoding::Cast),
            _ => None,
        }
    }
}

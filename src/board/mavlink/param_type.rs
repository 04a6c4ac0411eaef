//! Types of settings, and how a board puts them on the wire.
//!
//! Source: `MAV_PARAM_TYPE` and `MAV_PROTOCOL_CAPABILITY` (common.xml, standard.xml). Must not be here: values.

use std::fmt;

/// How a board puts a whole number into the real on the wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Encoding {
    /// The bytes of the number as they are.
    Bytewise,
    /// The number converted to a 32-bit real.
    Cast,
}

impl fmt::Display for Encoding {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Bytewise => "bytewise",
            Self::Cast => "as reals",
        })
    }
}

/// Type of a setting (`MAV_PARAM_TYPE`), of those that fit the wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "each is the type that it names")]
pub enum ParamType {
    U8,
    I8,
    U16,
    I16,
    U32,
    I32,
    Real,
}

impl fmt::Display for ParamType {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::U8 => "8 bits unsigned",
            Self::I8 => "8 bits signed",
            Self::U16 => "16 bits unsigned",
            Self::I16 => "16 bits signed",
            Self::U32 => "32 bits unsigned",
            Self::I32 => "32 bits signed",
            Self::Real => "32-bit real",
        })
    }
}

impl ParamType {
    /// From the number on the wire; 64-bit types do not fit into a `PARAM_VALUE` and give `None`.
    #[must_use]
    pub fn of(number: u8) -> Option<Self> {
        Some(match number {
            1 => Self::U8,
            2 => Self::I8,
            3 => Self::U16,
            4 => Self::I16,
            5 => Self::U32,
            6 => Self::I32,
            9 => Self::Real,
            _ => return None,
        })
    }

    /// Whether the number on the wire is one of the types with 64 bits (7, 8 and 10).
    #[must_use]
    pub fn is_wide(number: u8) -> bool {
        matches!(number, 7 | 8 | 10)
    }

    /// Least and most of a whole type; `None` for reals.
    pub(super) fn range(self) -> Option<(i64, i64)> {
        Some(match self {
            Self::U8 => (0, u8::MAX.into()),
            Self::I8 => (i8::MIN.into(), i8::MAX.into()),
            Self::U16 => (0, u16::MAX.into()),
            Self::I16 => (i16::MIN.into(), i16::MAX.into()),
            Self::U32 => (0, u32::MAX.into()),
            Self::I32 => (i32::MIN.into(), i32::MAX.into()),
            Self::Real => return None,
        })
    }
}

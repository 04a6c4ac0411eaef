//! The corners of a quad.
//!
//! Promises: one order of the motors' numbers. Must not be here: what a motor does.

/// Where a motor sits, seen from above; clockwise from front left, in the order of the numbers.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names say it")]
pub enum Corner {
    FrontLeft,
    FrontRight,
    RearRight,
    RearLeft,
}

impl Corner {
    /// All four, in the order of the motors' numbers.
    pub const ALL: [Self; 4] = [Self::FrontLeft, Self::FrontRight, Self::RearRight, Self::RearLeft];

    /// The name that people use.
    #[must_use]
    pub const fn name(self) -> &'static str {
        match self {
            Self::FrontLeft => "front left",
            Self::FrontRight => "front right",
            Self::RearRight => "rear right",
            Self::RearLeft => "rear left",
        }
    }

    /// Place in [`Corner::ALL`].
    #[must_use]
    pub const fn index(self) -> usize {
        match self {
            Self::FrontLeft => 0,
            Self::FrontRight => 1,
            Self::RearRight => 2,
            Self::RearLeft => 3,
        }
    }

    /// +1 on the right, −1 on the left.
    pub(super) const fn right(self) -> f64 {
        match self {
            Self::FrontRight | Self::RearRight => 1.0,
            Self::FrontLeft | Self::RearLeft => -1.0,
        }
    }

    /// +1 at the rear, −1 at the front.
    pub(super) const fn rear(self) -> f64 {
        match self {
            Self::RearRight | Self::RearLeft => 1.0,
            Self::FrontLeft | Self::FrontRight => -1.0,
        }
    }
}

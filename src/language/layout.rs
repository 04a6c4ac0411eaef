//! Where a frame's motors sit and which way each turns, seen from above: one table for sheets, plans and pictures.
//!
//! Promises: corners stand clockwise from front left, or from the front where a motor sits there, and neighbours turn
//! against each other. Must not be here: which output drives which corner (a sheet says so).

use super::recipe::{Frame, Turning};

/// A place of a motor.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Place {
    /// What people call it.
    pub corner: &'static str,
    /// Clockwise from the nose, tenths of a degree.
    pub bearing: u16,
}

const fn at(corner: &'static str, bearing: u16) -> Place {
    Place { corner, bearing }
}

const QUAD_X: [Place; 4] =
    [at("front left", 3150), at("front right", 450), at("rear right", 1350), at("rear left", 2250)];
const QUAD_PLUS: [Place; 4] = [at("front", 0), at("right", 900), at("rear", 1800), at("left", 2700)];
const HEX_X: [Place; 6] = [
    at("front left", 3300),
    at("front right", 300),
    at("right", 900),
    at("rear right", 1500),
    at("rear left", 2100),
    at("left", 2700),
];
const OCTO_X: [Place; 8] = [
    at("front left", 3375),
    at("front right", 225),
    at("right front", 675),
    at("right rear", 1125),
    at("rear right", 1575),
    at("rear left", 2025),
    at("left rear", 2475),
    at("left front", 2925),
];

impl Frame {
    /// All of them.
    pub const ALL: [Self; 4] = [Self::QuadX, Self::QuadPlus, Self::HexX, Self::OctoX];

    /// The frame that has just these corners, in whichever order.
    #[must_use]
    pub fn of(corners: &[&str]) -> Option<Self> {
        let has = |frame: &Self| corners.iter().all(|corner| frame.place(corner).is_some());
        Self::ALL.into_iter().find(|frame| frame.motors() == corners.len() && has(frame))
    }

    /// Which of its places has this name, from 0.
    #[must_use]
    pub fn place(self, corner: &str) -> Option<usize> {
        self.places().iter().position(|place| place.corner == corner)
    }

    /// Its places.
    #[must_use]
    pub fn places(self) -> &'static [Place] {
        match self {
            Self::QuadX => &QUAD_X,
            Self::QuadPlus => &QUAD_PLUS,
            Self::HexX => &HEX_X,
            Self::OctoX => &OCTO_X,
        }
    }
}

impl Turning {
    /// Whether the motor at a place of [`Frame::places`] turns clockwise: inward, the propeller at the front left (on a
    /// plus, the one at the front) does, so that its outer edge sweeps towards the nose.
    #[must_use]
    pub fn clockwise(self, place: usize) -> bool {
        place.is_multiple_of(2) == (self == Self::Inward)
    }
}

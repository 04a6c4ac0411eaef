//! Frames of virtual craft: where the motors of each sit, seen from above, in the order of the motors' numbers.
//!
//! The same as recipes have it, told apart from them as this world knows nothing of recipes; a test holds the two together.

/// The most motors of any frame.
pub const MOST: usize = 8;

/// A frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
#[expect(missing_docs, reason = "the names are the trade's")]
pub enum Frame {
    QuadX,
    QuadPlus,
    HexX,
    OctoX,
}

/// A place of a motor.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Place {
    /// The name that people use.
    pub corner: &'static str,
    /// Clockwise from the nose, degrees.
    pub bearing: f64,
}

const fn at(corner: &'static str, bearing: f64) -> Place {
    Place { corner, bearing }
}

const QUAD_X: [Place; 4] =
    [at("front left", 315.0), at("front right", 45.0), at("rear right", 135.0), at("rear left", 225.0)];
const QUAD_PLUS: [Place; 4] = [at("front", 0.0), at("right", 90.0), at("rear", 180.0), at("left", 270.0)];
const HEX_X: [Place; 6] = [
    at("front left", 330.0),
    at("front right", 30.0),
    at("right", 90.0),
    at("rear right", 150.0),
    at("rear left", 210.0),
    at("left", 270.0),
];
const OCTO_X: [Place; 8] = [
    at("front left", 337.5),
    at("front right", 22.5),
    at("right front", 67.5),
    at("right rear", 112.5),
    at("rear right", 157.5),
    at("rear left", 202.5),
    at("left rear", 247.5),
    at("left front", 292.5),
];

impl Frame {
    /// Its places.
    #[must_use]
    pub const fn places(self) -> &'static [Place] {
        match self {
            Self::QuadX => &QUAD_X,
            Self::QuadPlus => &QUAD_PLUS,
            Self::HexX => &HEX_X,
            Self::OctoX => &OCTO_X,
        }
    }

    /// How many motors.
    #[must_use]
    pub const fn motors(self) -> usize {
        self.places().len()
    }

    /// The frame that has just these corners, and which of its places each of them is.
    #[must_use]
    pub fn with(corners: &[&str]) -> Option<(Self, Vec<usize>)> {
        [Self::QuadX, Self::QuadPlus, Self::HexX, Self::OctoX].into_iter().find_map(|frame| {
            let places: Vec<usize> = corners.iter().map(|corner| frame.place(corner)).collect::<Option<_>>()?;
            let all = places.len() == frame.motors() && (0..frame.motors()).all(|place| places.contains(&place));
            all.then_some((frame, places))
        })
    }

    /// Which of its places has this name, from 0.
    pub(super) fn place(self, corner: &str) -> Option<usize> {
        self.places().iter().position(|place| place.corner == corner)
    }
}

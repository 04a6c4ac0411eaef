//! Where each of the board's motors has to sit and which way it has to turn: the frame, the sheet and the recipe as one.
//!
//! Promises: pure look-ups, the same for checks, plan and bench. Must not be here: what was found at a craft.

use super::guard::Guard;
use crate::board::sheet::Sheet;
use crate::board::value::SettingName;
use crate::language::layout::Place;
use crate::language::recipe::{Craft, Frame};
use crate::language::units::Pulse;
use crate::measure::motor_permutation::{Correctable, ReversalOf, Turn};
use crate::measure::motor_survey::lead;

/// Why the motors of a recipe's craft are not those of a sheet.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum LayoutError {
    /// A corner of the sheet that the frame does not have.
    #[error("{board} drives a motor at {corner}, and a {frame} has none there")]
    Corner {
        /// The sheet's board.
        board: String,
        /// The corner.
        corner: String,
        /// The frame in the recipe's words.
        frame: &'static str,
    },
    /// Neither says which way the motors turn.
    #[error("neither the recipe nor the sheet of {0} says which way the motors should turn")]
    NoTurning(String),
}

impl LayoutError {
    /// What to do about it.
    #[must_use]
    pub fn hint(&self) -> &'static str {
        match self {
            Self::Corner { .. } => "Check the `craft` line, and that the board is set up for this frame.",
            Self::NoTurning(_) => "Write it behind the frame, such as `craft quad x turning inward`.",
        }
    }
}

/// What is wanted of the motors.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MotorLayout {
    /// The frame's places.
    pub places: &'static [Place],
    /// By the board's number of the motor, from 0: its place, and which way it has to turn.
    pub wanted: Vec<Turn>,
}

impl MotorLayout {
    /// The motors as the sheet numbers them, on the recipe's frame.
    ///
    /// # Errors
    /// Frame or direction do not fit, or nobody says it.
    pub fn of(craft: Craft, sheet: &Sheet) -> Result<Self, LayoutError> {
        corners(craft.frame, sheet)?;
        // What a recipe says of its craft stands above what the sheet takes for usual.
        let turning = craft.turning.or(sheet.turning).ok_or_else(|| LayoutError::NoTurning(sheet.board.clone()))?;
        let places = sheet.corners.iter().filter_map(|corner| craft.frame.place(&corner.0));
        let wanted = places.map(|corner| Turn { corner, clockwise: turning.clockwise(corner) }).collect();
        Ok(Self { places: craft.frame.places(), wanted })
    }

    /// Found motors as they stand in a proof: their corners, and whether each turns clockwise.
    #[must_use]
    pub fn told(&self, found: &[Turn]) -> (Vec<String>, Vec<bool>) {
        found.iter().map(|turn| (self.corner(turn.corner).to_owned(), turn.clockwise)).unzip()
    }

    /// The corner of a place.
    #[must_use]
    pub fn corner(&self, place: usize) -> &'static str {
        self.places.get(place).map_or("unknown", |place| place.corner)
    }
}

/// Whether a frame has the corners of a sheet, as far as their names go.
///
/// # Errors
/// A corner that the frame does not have.
pub fn corners(frame: Frame, sheet: &Sheet) -> Result<(), LayoutError> {
    match sheet.corners.iter().find(|corner| frame.place(&corner.0).is_none()) {
        None => Ok(()),
        Some(corner) => {
            let (board, corner) = (sheet.board.clone(), corner.0.clone());
            Err(LayoutError::Corner { board, corner, frame: frame.words() })
        }
    }
}

/// What a board can put right of its motors by setting.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Puttable {
    /// The setting of each motor's output; empty: none.
    pub order: Vec<SettingName>,
    /// The settings of directions, and by what they are counted.
    pub reversal: Option<(ReversalOf, Vec<SettingName>)>,
}

impl Puttable {
    /// What a sheet gives.
    #[must_use]
    pub fn of(sheet: &Sheet) -> Self {
        let reversal = sheet.reversal.as_ref().map(|reversal| (reversal.of, reversal.names.clone()));
        Self { order: sheet.order.clone(), reversal }
    }

    /// As it counts for a correction.
    #[must_use]
    pub fn can(&self) -> Correctable {
        Correctable { order: !self.order.is_empty(), reversal: self.reversal.is_some() }
    }

    /// Every setting of it.
    pub fn names(&self) -> impl Iterator<Item = &SettingName> {
        self.order.iter().chain(self.reversal.iter().flat_map(|(_, names)| names))
    }
}

/// Motors run one by one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct MotorsPlan {
    /// What is wanted of them.
    pub layout: MotorLayout,
    /// At which pulse they are run.
    pub pulse: Pulse,
}

impl MotorsPlan {
    /// Questions, where every answer agrees: of each start its word, the corner, and the direction in two ways.
    #[must_use]
    pub fn questions(&self) -> usize {
        let motors = self.layout.wanted.len();
        let starts = (lead(0, motors) + lead(1, motors)) * motors;
        4 * starts
    }
}

/// Motors found, put right as far as the board can, and shown again.
#[derive(Debug, Clone, PartialEq)]
pub struct OrderPlan {
    /// What is wanted, and at which pulse they are run.
    pub motors: MotorsPlan,
    /// What can be put right by setting.
    pub puttable: Puttable,
    /// What has to hold as the battery goes in again.
    pub plug_in: Vec<Guard>,
}

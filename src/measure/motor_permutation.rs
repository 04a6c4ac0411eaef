//! From answers about single motors to their order and directions, and to the fewest changes that put them right.
//!
//! Promises: a corner named twice or never is asked again, never guessed. Must not know the words of a sheet.

use thiserror::Error;

/// What the operator saw when one motor ran.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Turn {
    /// Corner from 0, clockwise from front left, seen from above.
    pub corner: usize,
    /// Direction, seen from above.
    pub clockwise: bool,
}

/// Agreeing answers that settle a motor.
pub const AGREEING: usize = 2;

/// Some motors have to be run again.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum AskAgain {
    /// A corner that the craft doesn't have.
    #[error("output {} was said to be at corner {corner}, and the craft has {corners}", .output + 1)]
    NoCorner {
        /// Output from 0.
        output: usize,
        /// The corner named.
        corner: usize,
        /// How many there are.
        corners: usize,
    },
    /// Too few agreeing answers.
    #[error("the answers on {} don't agree yet; run them again", list(.outputs))]
    Unsettled {
        /// Outputs from 0.
        outputs: Vec<usize>,
    },
    /// Two outputs at one corner.
    #[error("{} were said to be at the same corner; run them again", list(.outputs))]
    SameCorner {
        /// Outputs from 0.
        outputs: Vec<usize>,
    },
}

fn list(outputs: &[usize]) -> String {
    let words: Vec<String> = outputs.iter().map(|o| format!("output {}", o + 1)).collect();
    words.join(", ")
}

/// Settles every output: its last [`AGREEING`] answers agree in corner and direction, and every corner is named once.
///
/// `answers` holds the answers by output, in the order in which they were given.
///
/// # Errors
/// Which outputs have to be run again, and why.
pub fn settle(answers: &[Vec<Turn>]) -> Result<Vec<Turn>, AskAgain> {
    let corners = answers.len();
    let mut settled = Vec::new();
    let mut open = Vec::new();
    for (output, given) in answers.iter().enumerate() {
        if let Some(turn) = given.iter().find(|turn| turn.corner >= corners) {
            return Err(AskAgain::NoCorner { output, corner: turn.corner, corners });
        }
        let latest = &given[given.len().saturating_sub(AGREEING)..];
        match latest.first() {
            Some(turn) if latest.len() == AGREEING && latest.iter().all(|t| t == turn) => settled.push(*turn),
            _ => open.push(output),
        }
    }
    if !open.is_empty() {
        return Err(AskAgain::Unsettled { outputs: open });
    }
    let twice: Vec<usize> = (0..corners)
        .filter(|output| settled.iter().filter(|turn| turn.corner == settled[*output].corner).count() > 1)
        .collect();
    if twice.is_empty() { Ok(settled) } else { Err(AskAgain::SameCorner { outputs: twice }) }
}

/// What a board can put right by settings.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Correctable {
    /// Which output serves which corner.
    pub order: bool,
    /// The direction of an output.
    pub reversal: bool,
}

/// The fewest changes from what is to what is wanted.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Correction {
    /// Pairs of outputs from 0 to exchange, in this order.
    pub exchange: Vec<(usize, usize)>,
    /// Whether the exchange can be made by setting; else the plugs of the motors have to be exchanged.
    pub exchange_by_setting: bool,
    /// Outputs from 0, as they are numbered before the exchange, to reverse by setting.
    pub reverse: Vec<usize>,
    /// Corners at which two of the motor's three wires have to be swapped.
    pub swap_wires: Vec<usize>,
}

impl Correction {
    /// Whether all is as wanted.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        self.exchange.is_empty() && self.reverse.is_empty() && self.swap_wires.is_empty()
    }
}

/// Computes the fewest changes: n less the number of cycles of the permutation in exchanges, and one a wrong direction.
///
/// `found` and `wanted` hold corner and direction by output. `None` unless both name the same corners, each once.
#[must_use]
pub fn correct(found: &[Turn], wanted: &[Turn], can: Correctable) -> Option<Correction> {
    let mut at: Vec<usize> = found.iter().map(|turn| turn.corner).collect();
    let mut corners = at.clone();
    let mut wanted_corners: Vec<usize> = wanted.iter().map(|turn| turn.corner).collect();
    corners.sort_unstable();
    wanted_corners.sort_unstable();
    if corners != wanted_corners || corners.windows(2).any(|pair| pair[0] == pair[1]) {
        return None;
    }
    let mut correction = Correction { exchange_by_setting: can.order, ..Correction::default() };
    for (output, turn) in found.iter().enumerate() {
        let right = wanted.iter().find(|w| w.corner == turn.corner)?;
        if right.clockwise == turn.clockwise {
            continue;
        }
        if can.reversal {
            correction.reverse.push(output);
        } else {
            correction.swap_wires.push(turn.corner);
        }
    }
    // Each exchange puts at least one output right, and the last of a cycle two: no shorter list exists.
    for output in 0..at.len() {
        if at[output] != wanted[output].corner {
            let other = at.iter().position(|corner| *corner == wanted[output].corner)?;
            at.swap(output, other);
            correction.exchange.push((output, other));
        }
    }
    Some(correction)
}

//! From the order and directions of motors to the fewest changes that put them right, and to what a board holds then.
//!
//! Must not know the words of a sheet, nor how the map was found (see `motor_survey`).

/// Where a motor sits and which way it turns.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Turn {
    /// Corner from 0.
    pub corner: usize,
    /// Direction, seen from above.
    pub clockwise: bool,
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
    /// How many motors there are.
    pub motors: usize,
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
    let motors = found.len();
    let mut correction = Correction { motors, exchange_by_setting: can.order, ..Correction::default() };
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

/// By what a board counts the direction of its motors.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ReversalOf {
    /// By the number of the motor: after an exchange it goes with the number.
    Motor,
    /// By the output that drives it: after an exchange it stays with the wires.
    Output,
}

/// What a board holds of its motors.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Held {
    /// The output of each motor, from 0.
    pub outputs: Vec<usize>,
    /// Whether each is reversed, by what the board counts it by.
    pub reversed: Vec<bool>,
}

/// What a board has to hold after a correction, where it can: outputs first, and reversals by the numbering that is in
/// force then.
#[must_use]
pub fn corrected(held: &Held, correction: &Correction, of: ReversalOf) -> Held {
    let mut outputs = held.outputs.clone();
    let mut turned: Vec<bool> = (0..outputs.len()).map(|motor| correction.reverse.contains(&motor)).collect();
    // By motor: how each is reversed where its wires are now.
    let by_motor = |outputs: &[usize], reversed: &[bool]| -> Vec<bool> {
        (0..outputs.len())
            .map(|motor| match of {
                ReversalOf::Motor => reversed.get(motor).copied().unwrap_or(false),
                ReversalOf::Output => reversed.get(outputs[motor]).copied().unwrap_or(false),
            })
            .collect()
    };
    let mut reversed = by_motor(&outputs, &held.reversed);
    for (one, other) in &correction.exchange {
        // By plugs the outputs stay, and the motors come to others.
        if correction.exchange_by_setting {
            outputs.swap(*one, *other);
        }
        turned.swap(*one, *other);
        reversed.swap(*one, *other);
    }
    for (motor, turned) in turned.iter().enumerate() {
        reversed[motor] ^= turned;
    }
    let reversed = match of {
        ReversalOf::Motor => reversed,
        ReversalOf::Output => {
            let mut by_output = held.reversed.clone();
            for (motor, output) in outputs.iter().enumerate() {
                if let Some(place) = by_output.get_mut(*output) {
                    *place = reversed[motor];
                }
            }
            by_output
        }
    };
    Held { outputs, reversed }
}

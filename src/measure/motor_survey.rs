//! Which motor turned, and which way: what is asked of whom, until the answers make one map, or never will.
//!
//! Promises: no map from answers that do not fit each other; the same motor is never run twice in a row while another is
//! open, so that an answer is looked at and not remembered; it ends. Must not know words, boards or clocks.

use super::motor_permutation::Turn;

/// Starts of one motor in one survey; where the answers do not agree by then, they never will.
pub const MOST_STARTS: u32 = 12;
/// Up to so many motors one answer less is enough: each motor more is one more that may be seen wrong.
const FEW: usize = 4;

/// By how many answers what settles a motor has to lead over all that speaks against it, in a showing from 0: all of it is
/// shown twice, each time from the beginning and in another order, before a map is believed. Four in all let 2 maps in
/// 100,000 pass where one answer of twenty is wrong and each mistake is made twice in a row, five one map of a hex where
/// whole starts are seen wrong (`tests/measure/motor_survey.rs`).
#[must_use]
pub fn lead(showing: usize, motors: usize) -> usize {
    match showing {
        0 => 2,
        _ if motors <= FEW => 3,
        _ => 4,
    }
}

/// Which way something moves, seen from above.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Towards {
    /// Towards the nose.
    Nose,
    /// To the right.
    Right,
    /// Towards the tail.
    Tail,
    /// To the left.
    Left,
}

/// The two ways that the outer edge of a motor can move: what of its way is easily told. The first is clockwise's.
/// `bearing`: the motor's, clockwise from the nose, in tenths of a degree.
#[must_use]
pub fn edges(bearing: u16) -> [Towards; 2] {
    // The outer edge of what turns clockwise moves a quarter turn further on than where it sits.
    match (bearing + 900) % 3600 {
        0..=450 | 3150.. => [Towards::Nose, Towards::Tail],
        451..1350 => [Towards::Right, Towards::Left],
        1350..=2250 => [Towards::Tail, Towards::Nose],
        _ => [Towards::Left, Towards::Right],
    }
}

/// What was said of one start.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MotorAnswer {
    /// Corner from 0.
    pub corner: usize,
    /// Whether it was said to turn clockwise.
    pub clockwise: bool,
    /// Which way its outer edge was said to move: the same in other words, so that a slip in one shows.
    pub edge: Towards,
}

/// Motors whose answers do not agree.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Unsettled {
    /// Motors from 0.
    pub motors: Vec<usize>,
}

/// See the module.
#[derive(Debug, Clone)]
pub struct Survey {
    bearings: Vec<u16>,
    answers: Vec<Vec<Turn>>,
    starts: Vec<u32>,
    last: Option<usize>,
    /// From 0.
    showing: usize,
}

impl Survey {
    /// A survey of as many motors as there are corners. `showing`: from 0; the second goes from the last motor to the first.
    #[must_use]
    pub fn new(bearings: &[u16], showing: usize) -> Self {
        let count = bearings.len();
        Self {
            bearings: bearings.to_vec(),
            answers: vec![Vec::new(); count],
            starts: vec![0; count],
            last: None,
            showing,
        }
    }

    /// The motor to run next, from 0; `None` once all are settled.
    ///
    /// # Errors
    /// One was run [`MOST_STARTS`] times, and its answers do not agree.
    pub fn next(&self) -> Result<Option<usize>, Unsettled> {
        let open: Vec<usize> = (0..self.answers.len()).filter(|motor| self.settled(*motor).is_none()).collect();
        let given_up: Vec<usize> = open.iter().copied().filter(|motor| self.starts[*motor] >= MOST_STARTS).collect();
        if !given_up.is_empty() {
            return Err(Unsettled { motors: given_up });
        }
        let another = |motor: &usize| open.len() == 1 || self.last != Some(*motor);
        let order = |motor: &usize| (self.starts[*motor], if self.showing == 0 { *motor } else { usize::MAX - motor });
        Ok(open.iter().copied().filter(another).min_by_key(order))
    }

    /// A motor was run. `said`: what was seen of it; `None`: nothing that could be told, so again. Whether it counts.
    pub fn ran(&mut self, motor: usize, said: Option<MotorAnswer>) -> bool {
        self.starts[motor] += 1;
        self.last = Some(motor);
        let Some(turn) = said.and_then(|said| self.turn(said)) else { return false };
        self.answers[motor].push(turn);
        // A corner can't be two motors': whoever said so is asked again about both.
        let Some(turn) = self.settled(motor) else { return true };
        let twice =
            |other: &usize| *other != motor && self.settled(*other).is_some_and(|one| one.corner == turn.corner);
        if let Some(other) = (0..self.answers.len()).find(twice) {
            self.answers[motor].clear();
            self.answers[other].clear();
        }
        true
    }

    /// Which way every motor turns, and where; `None` while any is open.
    #[must_use]
    pub fn map(&self) -> Option<Vec<Turn>> {
        (0..self.answers.len()).map(|motor| self.settled(motor)).collect()
    }

    /// Which round of both showings a motor's next start belongs to, and how many there are; `None`: it is a round more,
    /// as answers did not agree.
    #[must_use]
    pub fn round(&self, motor: usize) -> Option<(usize, usize)> {
        let motors = self.answers.len();
        let before = if self.showing == 0 { 0 } else { lead(0, motors) };
        let start = usize::try_from(self.starts[motor]).ok()? + 1;
        (start <= lead(self.showing, motors)).then_some((before + start, lead(0, motors) + lead(1, motors)))
    }

    /// How often a motor was run.
    #[must_use]
    pub fn starts(&self, motor: usize) -> u32 {
        self.starts[motor]
    }

    /// An answer whose parts fit each other.
    fn turn(&self, said: MotorAnswer) -> Option<Turn> {
        let [clockwise, against] = edges(*self.bearings.get(said.corner)?);
        let edge = if said.clockwise { clockwise } else { against };
        (edge == said.edge).then_some(Turn { corner: said.corner, clockwise: said.clockwise })
    }

    fn settled(&self, motor: usize) -> Option<Turn> {
        let given = &self.answers[motor];
        let said = |turn: &Turn| given.iter().filter(|other| *other == turn).count();
        let most = given.iter().max_by_key(|turn| said(turn))?;
        let leads = (2 * said(most)).saturating_sub(given.len());
        (leads >= lead(self.showing, self.answers.len())).then_some(*most)
    }
}

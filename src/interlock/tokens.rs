//! What lets a request leave: values that only a door of the interlock gives out.
//!
//! None can be made, copied or kept by anybody else; each is worth something only while the interlock that gave it still
//! says so. Must not be here: what is judged at a door (see `doors`).

use crate::board::value::{Number, SettingName};
use crate::measure::time::Time;
use crate::plan::step::Guard;
use crate::seam::fault::Fault;
use crate::seam::ui::{About, Answer, MotorStep, Question};
use std::rc::Rc;

/// A motor step that was confirmed by its typed word: made from the very question that was shown and its answer.
///
/// ```compile_fail
/// # fn made(step: quadjig::seam::ui::MotorStep, answered: quadjig::measure::time::Time) {
/// let forged = quadjig::interlock::Confirmed { step, answered, starts_left: 1, first: true };
/// # }
/// ```
/// ```compile_fail
/// fn twice(one: &quadjig::interlock::Confirmed) -> quadjig::interlock::Confirmed {
///     one.clone()
/// }
/// ```
#[derive(Debug)]
pub struct Confirmed {
    pub(super) step: MotorStep,
    pub(super) answered: Time,
    pub(super) starts_left: u32,
    pub(super) first: bool,
}

impl Confirmed {
    /// What the operator confirmed; `None` for a question that is no motor step, or an answer that is no yes.
    #[must_use]
    pub fn of(question: &Question, answer: &Answer) -> Option<Self> {
        match (&question.about, answer) {
            (About::Motor(step), Answer::Yes { at }) => {
                Some(Self { step: step.clone(), answered: *at, starts_left: step.starts, first: true })
            }
            _ => None,
        }
    }

    /// The step that was confirmed.
    #[must_use]
    pub fn step(&self) -> &MotorStep {
        &self.step
    }
}

/// Proof that the craft was seen at rest, and leave to make just the changes that were written down. Every write, store
/// and restart takes one.
///
/// ```compile_fail
/// let forge = |permit| quadjig::interlock::Stillness(permit);
/// ```
/// ```compile_fail
/// fn twice(one: &quadjig::interlock::Stillness) -> quadjig::interlock::Stillness {
///     one.clone()
/// }
/// ```
#[derive(Debug)]
pub struct Stillness(pub(super) Rc<Permit>);

impl Stillness {
    /// Whether it was given for this.
    pub(super) fn permits(&self, of: impl Fn(&Permit) -> bool) -> Result<(), Fault> {
        let refused = || Fault::refused("This step has no leave for that.", "Start again.");
        if of(&self.0) { Ok(()) } else { Err(refused()) }
    }
}

/// What a [`Stillness`] permits, kept by the interlock as long as the token lives.
#[derive(Debug)]
pub(super) struct Permit {
    /// The journalled intent: what may be written.
    pub intent: Vec<(SettingName, Number)>,
    /// Whether a store may leave.
    pub store: bool,
    /// Whether a restart may leave.
    pub restart: bool,
    /// The change can turn motors: when it was confirmed, unless it was because nothing could turn.
    pub confirmed: Option<Time>,
    /// The change can turn motors.
    pub turns_motors: bool,
}

/// Leave to turn motors, lent for one start.
///
/// ```compile_fail
/// # fn made(cleared: std::rc::Rc<quadjig::seam::ui::MotorStep>) {
/// let forged = quadjig::interlock::Clearance(cleared);
/// # }
/// ```
/// ```compile_fail
/// fn twice(lent: &quadjig::interlock::Clearance) -> quadjig::interlock::Clearance {
///     lent.clone()
/// }
/// ```
#[derive(Debug)]
pub struct Clearance(pub(super) Rc<MotorStep>);

impl Clearance {
    /// The confirmed step.
    #[must_use]
    pub fn step(&self) -> &MotorStep {
        &self.0
    }
}

/// A change of the board as it comes to its door.
#[derive(Debug, Clone, Default)]
pub struct ChangeStep<'p> {
    /// What the plan says must hold; each is judged.
    pub guards: &'p [Guard],
    /// What is written down to be written.
    pub intent: Vec<(SettingName, Number)>,
    /// Whether it stores.
    pub store: bool,
    /// Whether it restarts the board.
    pub restart: bool,
    /// Whether the plan says that it can turn motors.
    pub turns_motors: bool,
}
